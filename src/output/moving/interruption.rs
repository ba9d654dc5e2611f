//! Being asked to stop.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};

/// Whether the person (Ctrl-C, or a terminal that is closed) or the system asked the program to stop: work on a file
/// then ends between two frames and tidies up. A second time the program ends at once.
#[derive(Debug, Default)]
pub struct Interruption(Arc<AtomicBool>);

impl Interruption {
    /// Listens from now on. Where the system does not let it, the program ends at once, as before.
    pub fn awaited() -> Self {
        let asked = Self::default();
        // What is being written is tidied up between two frames, by whoever asks.
        crate::base::ffmpeg::leave_signals_alone();
        #[cfg(unix)]
        for signal in asking() {
            let end_at_once =
                signal_hook::flag::register_conditional_shutdown(signal, 1, Arc::clone(&asked.0));
            let _ = end_at_once.and_then(|_| signal_hook::flag::register(signal, Arc::clone(&asked.0)));
        }
        asked
    }

    /// What turns true where it is asked.
    pub fn flag(&self) -> Arc<AtomicBool> {
        Arc::clone(&self.0)
    }

    /// Whether it was asked.
    pub fn came(&self) -> bool {
        self.0.load(Ordering::Relaxed)
    }
}

/// The signals that ask.
#[cfg(unix)]
fn asking() -> impl Iterator<Item = i32> {
    use signal_hook::consts::{SIGHUP, SIGINT, SIGTERM};
    let hang_up = (!outlives_its_terminal(SIGHUP)).then_some(SIGHUP);
    [SIGINT, SIGTERM].into_iter().chain(hang_up)
}

/// Whether the program was told to go on when its terminal is closed (`nohup`): the signal is ignored, and stays so.
#[cfg(target_os = "linux")]
fn outlives_its_terminal(hang_up: i32) -> bool {
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    let ignored = status.lines().find_map(|line| line.strip_prefix("SigIgn:"));
    // proc(5): a mask in hexadecimal, its lowest bit for signal 1.
    let mask = ignored.and_then(|mask| u64::from_str_radix(mask.trim(), 16).ok()).unwrap_or(0);
    mask & (1 << (hang_up - 1)) != 0
}

/// Elsewhere that cannot be asked: `nohup` takes standard output off the terminal.
#[cfg(all(unix, not(target_os = "linux")))]
fn outlives_its_terminal(_: i32) -> bool {
    use std::io::IsTerminal as _;
    !std::io::stdout().is_terminal()
}
