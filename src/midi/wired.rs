//! Ports of devices, through the system's MIDI.

use std::sync::mpsc::{Receiver, channel};

use midir::{Ignore, MidiInput, MidiInputConnection};
use thiserror::Error;

use super::Port;
use crate::base::place::{did_you_mean, listed};

const PROGRAM: &str = "Underover";

/// Why a device's port was not opened.
#[derive(Debug, Error)]
pub enum PortError {
    /// The system has no MIDI, or refuses it.
    #[error("the system gives no access to MIDI: {0}; on Linux load the module snd-seq")]
    System(#[from] midir::InitError),
    /// No port with that name.
    #[error("there is no MIDI port `{name}`{hint} (there are {known})")]
    Unknown {
        /// The name asked for.
        name: String,
        /// "; did you mean ...?" or nothing.
        hint: String,
        /// The names there are.
        known: String,
    },
    /// The port cannot be listened to.
    #[error("the MIDI port `{name}` does not open: {why}; close the program that uses it")]
    Busy {
        name: String,
        /// What the system said.
        why: String,
    },
}

/// A device's port, open.
pub struct WiredPort {
    received: Receiver<Vec<u8>>,
    // Kept, as the port closes with it.
    _connection: MidiInputConnection<()>,
}

/// The names of the ports that devices have.
///
/// # Errors
/// [`PortError::System`] where the system has no MIDI.
pub fn names() -> Result<Vec<String>, PortError> {
    let input = MidiInput::new(PROGRAM)?;
    Ok(input.ports().iter().filter_map(|port| input.port_name(port).ok()).collect())
}

/// Opens the port with this name.
///
/// # Errors
/// [`PortError`] where there is none, or it does not open.
pub fn open(name: &str) -> Result<WiredPort, PortError> {
    let mut input = MidiInput::new(PROGRAM)?;
    input.ignore(Ignore::All);
    let ports = input.ports();
    let Some(port) = ports.iter().find(|port| input.port_name(port).is_ok_and(|known| known == name)) else {
        let known = names()?;
        let known = || known.iter().map(String::as_str);
        return Err(PortError::Unknown {
            name: name.to_owned(),
            hint: did_you_mean(name, known()),
            known: listed(known()),
        });
    };
    let (send, received) = channel();
    let hear = move |_: u64, bytes: &[u8], (): &mut ()| {
        // Nobody listens any more: the port is about to close.
        send.send(bytes.to_vec()).ok();
    };
    input
        .connect(port, "controls", hear, ())
        .map(|connection| WiredPort { received, _connection: connection })
        .map_err(|error| PortError::Busy { name: name.to_owned(), why: error.to_string() })
}

impl Port for WiredPort {
    fn take(&mut self) -> Vec<u8> {
        self.received.try_iter().flatten().collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_port_that_is_not_there_is_told_with_those_that_are() {
        let Err(error) = open("a device that nobody makes") else {
            panic!("it opened");
        };
        let error = error.to_string();
        assert!(error.contains("a device that nobody makes") || error.contains("snd-seq"), "{error}");
    }
}
