//! MIDI in: bytes to messages, messages to what a control is bound to, and ports that bring bytes.

mod binding;
mod learner;
mod parser;
mod port;
#[cfg(feature = "midi")]
mod wired;

pub use binding::{Binding, Halves, Heard};
pub use learner::Learner;
pub use parser::{Message, Parser, Voice};
pub use port::{Port, Scripted};
#[cfg(feature = "midi")]
pub use wired::{PortError, WiredPort, names, open};

/// Whether this build reaches MIDI devices.
///
/// # Errors
/// How to get a build that does.
pub fn available() -> Result<(), &'static str> {
    if cfg!(feature = "midi") {
        Ok(())
    } else {
        Err(
            "This build reaches no MIDI devices. `cargo install --path . --features midi` builds one that does; \
             on Linux it needs the headers of ALSA (Debian and Ubuntu: libasound2-dev).",
        )
    }
}
