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

/// How to get a build that plays from MIDI devices, for the help of the command line.
pub const BUILD: &str = "This build has no MIDI. `cargo install --path . --features midi` builds one that has; \
     on Linux it needs the headers of ALSA (Debian and Ubuntu: libasound2-dev).";

/// Whether this build reaches MIDI devices.
///
/// # Errors
/// That it does not, and where it stands how to get one that does.
pub fn available() -> Result<(), &'static str> {
    if cfg!(feature = "midi") {
        Ok(())
    } else {
        Err("This build has no MIDI; `underover --help` says where one that has is from.")
    }
}
