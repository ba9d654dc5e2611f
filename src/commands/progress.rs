//! What stands on standard error: notes, and how far long work has come.

use std::io::{IsTerminal as _, Write as _, stderr};
use std::sync::mpsc::{self, RecvTimeoutError, Sender};
use std::sync::{Arc, Mutex, PoisonError};
use std::thread::{self, JoinHandle};
use std::time::{Duration, Instant};

use crate::base::doing::{Board, Doing, Stretch, doing_between, doing_counted};
use crate::base::shown::shown_error;

/// Has standard error taken for a terminal, for tests.
const TERMINAL_VARIABLE: &str = "UNDEROVER_TERMINAL";
/// Has what a command spent its time on said where it ends, for whoever makes it faster.
pub(super) const TIMES_VARIABLE: &str = "UNDEROVER_TIMES";
/// Work that is done sooner says nothing of its progress.
const PATIENCE: Duration = Duration::from_millis(700);
/// How often a line on a terminal is written over.
const ON_TERMINAL: Duration = Duration::from_millis(200);
/// How often a line is written elsewhere.
const ELSEWHERE: Duration = Duration::from_secs(10);
/// Columns of a line that is written over; one that wraps could not be.
const COLUMNS: usize = 78;

/// Columns that the line on the terminal takes now, while it is to be written over.
static STANDS: Mutex<usize> = Mutex::new(0);

/// Tells what this thread is at while it lives: on a terminal in one line that is written over, elsewhere now and
/// then a line. What no stretch names is called "working".
pub(super) struct Teller {
    ends: Option<Sender<()>>,
    thread: Option<JoinHandle<()>>,
    times: Option<Arc<Board>>,
    _outermost: Doing,
}

impl Teller {
    pub(super) fn begin() -> Self {
        let board = Board::of_this_thread();
        let outermost = doing_between("working");
        let times = std::env::var_os(TIMES_VARIABLE).map(|_| Arc::clone(&board));
        let (ends, ended) = mpsc::channel();
        let is_terminal = stderr().is_terminal() || std::env::var_os(TERMINAL_VARIABLE).is_some();
        let tell = move || {
            let (pause, mut last) = (if is_terminal { ON_TERMINAL } else { ELSEWHERE }, String::new());
            let mut due = Instant::now() + PATIENCE.max(pause);
            while let Err(RecvTimeoutError::Timeout) =
                ended.recv_timeout(due.saturating_duration_since(Instant::now()))
            {
                due = Instant::now() + pause;
                let Some(stretch) = board.innermost(true) else { continue };
                let line = line(&stretch);
                if is_terminal {
                    write_over(&line);
                } else if line != last {
                    note(&line);
                }
                last = line;
            }
            wipe();
        };
        let thread = thread::Builder::new().name("progress".to_owned()).spawn(tell).ok();
        Self { ends: Some(ends), thread, times, _outermost: outermost }
    }
}

impl Drop for Teller {
    fn drop(&mut self) {
        // The line is gone before anything else is said.
        self.ends.take();
        if let Some(thread) = self.thread.take() {
            let _ = thread.join();
        }
        for (what, time) in self.times.iter().flat_map(|board| board.spent()) {
            note(&format!("{:8.3} s  {what}", time.as_secs_f64()));
        }
    }
}

/// Counted work of a command, told by its [`Teller`].
pub(super) struct Progress(Doing);

impl Progress {
    /// So many pictures are rendered.
    pub(super) fn of(total: usize) -> Self {
        Self::named("rendering", "pictures", total)
    }

    pub(super) fn named(what: &str, unit: &'static str, total: usize) -> Self {
        Self(doing_counted(what, unit, total))
    }

    /// Counts one that was there before.
    pub(super) fn skip(&mut self) {
        self.0.skip();
    }

    pub(super) fn tell(&mut self, done: usize) {
        self.0.done(done);
    }

    /// Says how long it took, if anything was said before.
    pub(super) fn finished(self) {
        if let Some(Stretch { count: Some(count), began, told: true, .. }) = self.0.stands() {
            drop(self);
            note(&format!("{} {} in {:.1} s", count.total, count.unit, began.elapsed().as_secs_f64()));
        }
    }
}

/// "comparing looks: 40 % of 54 pictures, 12 s left".
fn line(stretch: &Stretch) -> String {
    let so_far = stretch.began.elapsed();
    let time = match stretch.left() {
        Some(left) => format!(", {} left", time_said(left)),
        None if so_far < Duration::from_secs(1) => " …".to_owned(),
        None => format!(", {} so far", time_said(so_far)),
    };
    match stretch.count {
        Some(count) => {
            let percent = count.done * 100 / count.total.max(1);
            format!("{}: {percent} % of {} {}{time}", stretch.what, count.total, count.unit)
        }
        None => format!("{}{time}", stretch.what),
    }
}

fn write_over(line: &str) {
    let mut stands = STANDS.lock().unwrap_or_else(PoisonError::into_inner);
    let line: String = line.chars().take(COLUMNS).collect();
    let columns = line.chars().count();
    // Blanks wipe what a longer line left.
    let _ = write!(stderr(), "\r{line}{}", " ".repeat(stands.saturating_sub(columns)));
    *stands = columns;
}

/// Takes away a line that would be written over, before anything else is said.
pub(super) fn wipe() {
    let mut stands = STANDS.lock().unwrap_or_else(PoisonError::into_inner);
    if *stands > 0 {
        let _ = write!(stderr(), "\r{}\r", " ".repeat(*stands));
        *stands = 0;
    }
}

/// Writes a line to standard error, as it is shown. Where nobody can read it, the work goes on.
pub fn note(line: &str) {
    wipe();
    let _ = writeln!(stderr(), "{}", shown_error(line));
}

/// A stretch of time as a person says it: "40 s", "3 min 20 s", "2 h 5 min".
fn time_said(time: Duration) -> String {
    let secs = time.as_secs_f64().ceil() as u64;
    match (secs / 3600, secs / 60 % 60, secs % 60) {
        (0, 0, secs) => format!("{secs} s"),
        (0, min, secs) => format!("{min} min {secs} s"),
        (hours, min, _) => format!("{hours} h {min} min"),
    }
}
