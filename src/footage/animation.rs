//! When each frame of an animated picture shows.

use std::path::Path;
use std::time::Duration;

use super::error::FootageError;
use super::picture_file::{PictureFile, damaged, no_frame};

/// How long a frame shows whose file says "no time at all": common practice, no source.
const DEFAULT_DELAY: Duration = Duration::from_millis(100);

/// A moment meant to be the start of a frame may come out a rounding step early.
pub(super) const GRACE_SECS: f64 = 1e-6;

/// The frames of an animation by the time at which each one ends.
#[derive(Debug)]
pub(super) struct Timetable {
    /// Seconds from the start to the end of each frame; at least one.
    ends_secs: Vec<f64>,
}

impl Timetable {
    /// Runs through all frames once and keeps their delays only.
    pub fn read(path: &Path, file: PictureFile) -> Result<Self, FootageError> {
        let mut end = Duration::ZERO;
        let mut ends_secs = Vec::new();
        for frame in file.frames()? {
            let delay = Duration::from(frame.map_err(|e| damaged(path, e))?.delay());
            end += if delay.is_zero() { DEFAULT_DELAY } else { delay };
            ends_secs.push(end.as_secs_f64());
        }
        if ends_secs.is_empty() { Err(no_frame(path)) } else { Ok(Self { ends_secs }) }
    }

    /// Which frame shows, from 0; after the last the first comes again.
    pub fn frame_at(&self, seconds: f64) -> usize {
        let last = self.ends_secs.len() - 1;
        let in_loop = (seconds + GRACE_SECS).rem_euclid(self.ends_secs[last]);
        self.ends_secs.partition_point(|&end| end <= in_loop).min(last)
    }
}
