//! How a clip plays its footage: which moment of the footage falls on which moment of the show.

use super::timing::{GRACE_SECS, Timing};
use crate::frame::Moment;

/// How a clip plays footage that moves; stills take no notice.
///
/// What shows is worked out from the moment alone, so that scrubbing and playing agree.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Play {
    /// How fast it runs.
    pub pace: Pace,
    /// Where in the footage its section begins, in seconds of the footage, 0 or more.
    pub in_secs: f64,
    /// Where the section ends, after `in_secs`; without it, or past the end, the footage's own end.
    pub out_secs: Option<f64>,
    /// What follows the end of the section.
    pub at_end: AtEnd,
}

impl Play {
    /// Slowest and fastest, as a factor of the footage's own time.
    pub const SPEED: [f64; 2] = [0.0, 100.0];
    /// Shortest and longest loop, in beats.
    pub const LOOP_BEATS: [f64; 2] = [0.01, 10_000.0];
    /// First and last place in footage, in seconds: a day.
    pub const SECS: [f64; 2] = [0.0, 86_400.0];
}

impl Default for Play {
    fn default() -> Self {
        Self { pace: Pace::default(), in_secs: 0.0, out_secs: None, at_end: AtEnd::default() }
    }
}

/// How fast footage runs.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Pace {
    /// Its own time, times a factor from 0 (it stands still) up.
    Speed(f64),
    /// Whatever repeats (of `back-and-forth` both ways) lasts so many beats, more than 0.
    LoopBeats(f64),
}

impl Default for Pace {
    fn default() -> Self {
        Self::Speed(1.0)
    }
}

/// What follows the end of a clip's section.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum AtEnd {
    /// It begins again.
    #[default]
    Loop,
    /// The last frame stays; before the start, the first.
    Hold,
    /// Nothing, as before the start.
    Once,
    /// It runs back to its beginning, and forth again; the frame at a turn shows twice as long.
    BackAndForth,
}

impl AtEnd {
    /// Every way, the default first.
    pub const ALL: [Self; 4] = [Self::Loop, Self::Hold, Self::Once, Self::BackAndForth];

    /// The word used in files.
    pub fn name(self) -> &'static str {
        match self {
            Self::Loop => "loop",
            Self::Hold => "hold",
            Self::Once => "once",
            Self::BackAndForth => "back-and-forth",
        }
    }
}

/// What shows of footage at a moment.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Due {
    /// The frame with this number, from 0.
    Frame(u64),
    /// Nothing: the clip plays once, and not now.
    Nothing,
    /// The section begins at or past the end of the footage, which lasts so many seconds.
    PastEnd(f64),
    /// How long the footage is must be known first, and is not.
    Unmeasured,
}

impl Play {
    /// What shows at `moment`.
    pub(super) fn due(&self, timing: &Timing, moment: &Moment) -> Due {
        if timing.is_still() {
            return Due::Frame(0);
        }
        let start = self.in_secs;
        let end = match (timing.length_secs(), self.out_secs) {
            (Some(length), _) if start >= length => return Due::PastEnd(length),
            (Some(length), Some(out)) => out.min(length),
            (Some(length), None) => length,
            (None, Some(out)) => out,
            (None, None) => f64::INFINITY,
        };
        let at_end = match self.at_end {
            // What cannot be wound back stays at its end.
            AtEnd::Loop | AtEnd::BackAndForth if !timing.winds_back() => AtEnd::Hold,
            at_end => at_end,
        };
        let section = end - start;
        let both_ways = if at_end == AtEnd::BackAndForth { 2.0 * section } else { section };
        let run = GRACE_SECS
            + match self.pace {
                Pace::Speed(speed) => moment.seconds() * speed,
                Pace::LoopBeats(_) if both_ways.is_infinite() => return Due::Unmeasured,
                Pace::LoopBeats(beats) => moment.beats / beats * both_ways,
            };
        let inside = (0.0..section).contains(&run);
        let place = match at_end {
            AtEnd::Once if !inside => return Due::Nothing,
            AtEnd::Hold if run < 0.0 => start + GRACE_SECS,
            // The end itself belongs to what would follow.
            AtEnd::Hold if !inside => end - GRACE_SECS,
            AtEnd::Once | AtEnd::Hold => start + run,
            AtEnd::Loop => start + run.rem_euclid(section),
            AtEnd::BackAndForth => match run.rem_euclid(both_ways) {
                forth if forth < section => start + forth,
                back => end - (back - section),
            },
        };
        Due::Frame(timing.frame_at(place))
    }
}
