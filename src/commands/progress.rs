//! Telling how far long work has come.

use std::io::{IsTerminal as _, Write as _, stderr};
use std::time::{Duration, Instant};

use super::note;

/// Says on standard error how far long work has come: on a terminal in one
/// line that is written over, elsewhere now and then a line.
pub(super) struct Progress {
    total: usize,
    started: Instant,
    told: Option<Instant>,
    on_terminal: bool,
}

/// Work that is done sooner says nothing of its progress.
const PATIENCE: Duration = Duration::from_millis(700);

impl Progress {
    pub(super) fn of(total: usize) -> Self {
        Self { total, started: Instant::now(), told: None, on_terminal: stderr().is_terminal() }
    }

    pub(super) fn tell(&mut self, done: usize) {
        let pause = Duration::from_millis(if self.on_terminal { 100 } else { 10_000 });
        let due = self.told.map_or(self.started + PATIENCE.max(pause), |told| told + pause);
        if done >= self.total || Instant::now() < due {
            return;
        }
        let line = format!("{} % of {} pictures", done * 100 / self.total.max(1), self.total);
        if self.on_terminal {
            let _ = write!(stderr(), "\r{line}");
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

impl Drop for Progress {
    fn drop(&mut self) {
        // The work broke off: what is said next gets a line of its own.
        if self.told.is_some() && self.on_terminal {
            note("");
        }
    }
}
