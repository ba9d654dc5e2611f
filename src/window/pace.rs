//! When the window is painted, and when it has pictures made instead: the same with and without a display.

use std::time::{Duration, Instant};

use super::desk::{Desk, Next};

/// How often the GPU is asked whether a slice is done.
const POLL: Duration = Duration::from_millis(2);
/// The longest that a window which has pictures made goes unpainted.
pub const LONGEST_UNPAINTED: Duration = Duration::from_millis(400);
/// How often it is looked whether changes are to be kept aside.
const KEEPING: Duration = Duration::from_millis(500);

/// What the window does next, unless something happens first.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Turn {
    /// It is painted now.
    Paint,
    /// It waits, but no longer than this.
    Until(Instant),
    /// It waits until something happens.
    Rest,
}

/// Decides between painting, making and waiting: nothing is painted without a reason.
#[derive(Debug)]
pub struct Pace {
    next: Next,
    /// When the interface wants its next pass, if it does.
    next_pass: Option<Instant>,
    /// When painting ended last, and how long it took.
    painted: (Instant, Duration),
}

impl Default for Pace {
    fn default() -> Self {
        Self { next: Next::default(), next_pass: None, painted: (Instant::now(), Duration::ZERO) }
    }
}

impl Pace {
    /// A pass that began then has been painted; the interface wants the next after `delay`, if it wants one.
    pub fn painted(&mut self, began: Instant, next: Next, delay: Option<Duration>) {
        let now = Instant::now();
        self.painted = (now, now - began);
        self.next = next;
        self.next_pass = delay.and_then(|delay| now.checked_add(delay));
    }

    /// Whether the person is done.
    pub fn is_over(&self) -> bool {
        self.next.is_over
    }

    /// Has a slice of pictures made where there is time for it, and says what is next.
    pub fn turn(&mut self, desk: &mut Desk) -> Turn {
        let now = Instant::now();
        if self.next.is_making || self.next.is_playing {
            // Where painting is slow, several slices are made for one painting.
            let (ended, took) = self.painted;
            let is_due = now >= ended + (took * 2).clamp(POLL, LONGEST_UNPAINTED);
            if desk.pictures().is_busy() || (desk.make_more() > 0 && !is_due) {
                return Turn::Until(now + POLL);
            }
            return Turn::Paint;
        }
        let keeping = self.next.is_keeping.then(|| now + KEEPING);
        match (self.next_pass, keeping) {
            (Some(pass), _) if pass <= now => {
                self.next_pass = None;
                Turn::Paint
            }
            (Some(pass), Some(keeping)) => Turn::Until(pass.min(keeping)),
            (Some(time), None) | (None, Some(time)) => Turn::Until(time),
            (None, None) => Turn::Rest,
        }
    }

    /// The time that was waited for has come.
    pub fn time_has_come(&mut self, desk: &mut Desk) {
        if self.next.is_keeping {
            desk.keep_aside();
            self.next.is_keeping = desk.is_keeping();
        }
    }
}
