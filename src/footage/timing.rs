//! When each frame of footage shows, in seconds of the footage.

use std::path::Path;
use std::time::Duration;

use super::error::FootageError;
use super::picture_file::{PictureFile, damaged, no_frame};

/// How long a frame shows whose file says "no time at all": common practice, no source.
const DEFAULT_DELAY: Duration = Duration::from_millis(100);

/// A moment meant to be the start of a frame may come out a rounding step early.
pub(super) const GRACE_SECS: f64 = 1e-6;

/// When each frame shows.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Timing {
    /// One picture, always.
    Still,
    /// Frames of equal length.
    Steady {
        /// Frames a second, more than 0.
        rate: f64,
        /// How many there are, at least one; of a pipe, known at its end.
        count: Option<u64>,
        /// Whether it can be read again from its start.
        winds_back: bool,
    },
    /// Frames of any length: seconds from the start to the end of each; at least one.
    Ends(Vec<f64>),
}

impl Timing {
    /// Runs through all frames of an animation once and keeps their delays only.
    pub fn of_animation(path: &Path, file: PictureFile) -> Result<Self, FootageError> {
        let mut end = Duration::ZERO;
        let mut ends_secs = Vec::new();
        for frame in file.frames()? {
            let delay = Duration::from(frame.map_err(|e| damaged(path, e))?.delay());
            end += if delay.is_zero() { DEFAULT_DELAY } else { delay };
            ends_secs.push(end.as_secs_f64());
        }
        match ends_secs.len() {
            0 => Err(no_frame(path)),
            1 => Ok(Self::Still),
            _ => Ok(Self::Ends(ends_secs)),
        }
    }

    /// Frames at so many a second.
    pub fn steady(rate: f64, count: u64) -> Self {
        Self::Steady { rate, count: Some(count), winds_back: true }
    }

    pub fn is_still(&self) -> bool {
        matches!(self, Self::Still)
    }

    pub fn winds_back(&self) -> bool {
        !matches!(self, Self::Steady { winds_back: false, .. })
    }

    /// How many frames there are, as far as is known.
    pub fn count(&self) -> Option<u64> {
        match self {
            Self::Still => Some(1),
            Self::Steady { count, .. } => *count,
            Self::Ends(ends) => Some(ends.len() as u64),
        }
    }

    /// How long the footage lasts, as far as is known.
    pub fn length_secs(&self) -> Option<f64> {
        match self {
            Self::Still => None,
            Self::Steady { rate, count, .. } => count.map(|count| count as f64 / rate),
            Self::Ends(ends) => ends.last().copied(),
        }
    }

    /// The frame that shows at a place of the footage, from 0; at the ends the first or the last.
    pub fn frame_at(&self, place_secs: f64) -> u64 {
        let number = match self {
            Self::Still => 0,
            // A float past the largest number gives the largest, and one below 0 gives 0.
            Self::Steady { rate, .. } => (place_secs * rate).floor() as u64,
            Self::Ends(ends) => ends.partition_point(|&end| end <= place_secs) as u64,
        };
        self.count().map_or(number, |count| number.min(count.saturating_sub(1)))
    }

    /// The same footage, found to end after `count` frames, at least one.
    pub fn cut(&mut self, count: u64) {
        match self {
            Self::Still => {}
            Self::Steady { count: known, .. } => *known = Some(known.map_or(count, |known| known.min(count))),
            Self::Ends(ends) => ends.truncate(count as usize),
        }
    }
}
