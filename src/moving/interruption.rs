//! Being asked to stop.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};

/// Whether the person (Ctrl-C) or the system asked the program to stop: work on a file then ends between two
/// frames and tidies up. A second time the program ends at once.
#[derive(Debug, Default)]
pub struct Interruption(Arc<AtomicBool>);

impl Interruption {
    /// Listens from now on. Where the system does not let it, the program ends at once, as before.
    pub fn awaited() -> Self {
        let asked = Self::default();
        #[cfg(unix)]
        for signal in [signal_hook::consts::SIGINT, signal_hook::consts::SIGTERM] {
            let end_at_once =
                signal_hook::flag::register_conditional_shutdown(signal, 1, Arc::clone(&asked.0));
            let _ = end_at_once.and_then(|_| signal_hook::flag::register(signal, Arc::clone(&asked.0)));
        }
        asked
    }

    /// Whether it was asked.
    pub fn came(&self) -> bool {
        self.0.load(Ordering::Relaxed)
    }
}
