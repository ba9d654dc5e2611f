//! Telling how far long work has come.

use std::io::{IsTerminal as _, Write as _, stderr};
use std::time::{Duration, Instant};

use super::note;

/// Says on standard error how far long work has come: on a terminal in one
/// line that is written over, elsewhere now and then a line.
pub(super) struct Progress {
    total: usize,
    /// What was there before: it took no time.
    skipped: usize,
    started: Instant,
    told: Option<Instant>,
    on_terminal: bool,
}

/// Work that is done sooner says nothing of its progress.
const PATIENCE: Duration = Duration::from_millis(700);

impl Progress {
    pub(super) fn of(total: usize) -> Self {
        Self { total, skipped: 0, started: Instant::now(), told: None, on_terminal: stderr().is_terminal() }
    }

    /// Counts a picture that was there before.
    pub(super) fn skip(&mut self) {
        self.skipped += 1;
    }

    pub(super) fn tell(&mut self, done: usize) {
        let pause = Duration::from_millis(if self.on_terminal { 100 } else { 10_000 });
        let due = self.told.map_or(self.started + PATIENCE.max(pause), |told| told + pause);
        if done >= self.total || Instant::now() < due {
            return;
        }
        let mut line = format!("{} % of {} pictures", done * 100 / self.total.max(1), self.total);
        let made = done.saturating_sub(self.skipped);
        if made > 0 {
            let left = self.started.elapsed().mul_f64((self.total - done) as f64 / made as f64);
            line += &format!(", {} left", said(left));
        }
        if self.on_terminal {
            // Blanks wipe what a longer line left.
            let _ = write!(stderr(), "\r{line:<60}");
        } else {
            note(&line);
        }
        self.told = Some(Instant::now());
    }

    /// Says how long it took, if anything was said before.
    pub(super) fn finished(mut self) {
        if self.told.take().is_some() {
            let start = if self.on_terminal { "\r" } else { "" };
            note(&format!("{start}{} pictures in {:.1} s", self.total, self.started.elapsed().as_secs_f64()));
        }
    }
}

/// A stretch of time as a person says it: "40 s", "3 min 20 s", "2 h 5 min".
fn said(time: Duration) -> String {
    let secs = time.as_secs_f64().ceil() as u64;
    match (secs / 3600, secs / 60 % 60, secs % 60) {
        (0, 0, secs) => format!("{secs} s"),
        (0, min, secs) => format!("{min} min {secs} s"),
        (hours, min, _) => format!("{hours} h {min} min"),
    }
}

impl Drop for Progress {
    fn drop(&mut self) {
        // The work broke off: what is said next gets a line of its own.
        if self.told.is_some() && self.on_terminal {
            note("");
        }
    }
}
