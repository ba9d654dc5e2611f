//! The machine's clock, for rooms that could also run where there is none: what they know of it is how long ago
//! something began, and how to wait a moment.

use std::thread;
use std::time::{Duration, Instant};

/// A moment that has been.
#[derive(Debug, Clone, Copy)]
pub struct Since(Instant);

impl Since {
    /// The current one.
    pub fn now() -> Self {
        Self(Instant::now())
    }

    /// How long ago it was.
    pub fn elapsed(self) -> Duration {
        self.0.elapsed()
    }
}

/// Lets other threads go on for so long.
pub fn pause(lasts: Duration) {
    thread::sleep(lasts);
}
