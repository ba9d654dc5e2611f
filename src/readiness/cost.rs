//! What one frame of a show costs on an adapter, against the time that its rate gives it.

use std::fmt;
use std::time::Instant;

use crate::base::doing::doing_counted;
use crate::base::frame::Frame;
use crate::beat::Moment;
use crate::footage::Shelf;
use crate::gpu::{Player, RenderError, Renderer};
use crate::plan::Path;
use crate::show::{Scope, Show};

/// Frames that are not counted: shaders are made and footage is opened in them.
const WARM_UP_FRAMES: u64 = 4;
/// Frames that count.
const FRAMES: u64 = 25;

/// How long frames of a show took, one after another, footage and reading back included.
#[derive(Debug, Clone, PartialEq)]
pub struct Cost {
    /// Their size.
    pub frame: Frame,
    /// Frames counted.
    pub frames: usize,
    /// The middle one, in milliseconds.
    pub median_ms: f64,
    /// The slowest, in milliseconds.
    pub most_ms: f64,
    /// The time that the show's rate gives a frame, in milliseconds.
    pub budget_ms: f64,
    /// On what it was measured.
    pub adapter: String,
}

impl Cost {
    /// Plays a show from beat 0 at its own size and rate.
    ///
    /// # Errors
    /// [`RenderError`] where footage or the GPU fails.
    pub fn of(renderer: &mut Renderer, shelf: &mut Shelf, show: &Show) -> Result<Self, RenderError> {
        let order: Vec<usize> = (0..show.global.len()).collect();
        let mut player = Player::default();
        let mut times = Vec::new();
        let timing = doing_counted("timing frames", "frames", (WARM_UP_FRAMES + FRAMES) as usize);
        for number in 0..WARM_UP_FRAMES + FRAMES {
            timing.done(number as usize);
            let moment = Moment::of_frame(show.frame, show.pixels, show.tempo_bpm, show.rate, number);
            let started = Instant::now();
            let path = Path::of_scope_alone(show, Scope::Global, moment, shelf)?;
            renderer.play_on(&mut player, &path, &order)?;
            if number >= WARM_UP_FRAMES {
                times.push(started.elapsed().as_secs_f64() * 1e3);
            }
        }
        times.sort_by(f64::total_cmp);
        Ok(Self {
            frame: show.frame,
            frames: times.len(),
            median_ms: times[times.len() / 2],
            most_ms: times.last().copied().unwrap_or_default(),
            budget_ms: 1e3 / show.rate.per_second(),
            adapter: renderer.gpu().adapter().to_string(),
        })
    }

    /// How much of a frame's time the middle frame takes: above 1 is too slow.
    pub fn share(&self) -> f64 {
        self.median_ms / self.budget_ms
    }
}

/// "8.1 ms a frame (the slowest of 25: 9.0 ms), where the rate gives 16.7 ms".
impl fmt::Display for Cost {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Self { median_ms, frames, most_ms, budget_ms, .. } = self;
        write!(
            f,
            "{median_ms:.1} ms a frame (the slowest of {frames}: {most_ms:.1} ms), where the rate gives {budget_ms:.1} ms"
        )
    }
}
