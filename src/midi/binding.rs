//! What a control is bound to.

use std::collections::HashMap;
use std::fmt;

use super::{Message, Voice};

/// Below this number, controllers have their lower seven bits in the controller 32 above.
const PAIRED: u8 = 32;
const LARGEST_7_BITS: f64 = 127.0;
const LARGEST_14_BITS: f64 = 16_383.0;

/// What plays a control through MIDI.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Binding {
    /// A note; its velocity is how far the control goes.
    Note {
        /// 1 to 16.
        channel: u8,
        /// 0 to 127.
        note: u8,
    },
    Controller {
        /// 1 to 16.
        channel: u8,
        /// 0 to 119; of 14 bits 0 to 31.
        number: u8,
        /// Whether its lower seven bits come from the controller 32 above.
        is_14_bit: bool,
    },
    /// The pitch bend, of 14 bits.
    Bend {
        /// 1 to 16.
        channel: u8,
    },
}

/// What a message does to what it is bound to.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Heard {
    /// Pressed, with a strength of 0..1.
    Press(f64),
    /// Let up.
    Release,
    /// Moved to 0..1.
    Turn(f64),
}

/// The upper halves of controllers of 14 bits, as they were heard last.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Halves {
    upper: HashMap<(u8, u8), u8>,
}

impl Halves {
    /// Takes note of a message.
    pub fn hear(&mut self, message: Message) {
        if let Voice::Controller { number, value } = message.voice
            && number < PAIRED
        {
            self.upper.insert((message.channel, number), value);
        }
    }
}

impl Binding {
    /// What a message does to this binding; `halves` has heard it already.
    ///
    /// An upper half sets the lower one to 0, a lower one goes with the upper one heard last
    /// (MIDI 1.0 Detailed Specification, controllers 0 to 63; from memory).
    pub fn heard(self, message: Message, halves: &Halves) -> Option<Heard> {
        let turn_14 = |value: u16| Heard::Turn(f64::from(value) / LARGEST_14_BITS);
        match (self, message.voice) {
            (Self::Note { channel, note }, voice) if channel == message.channel => match voice {
                Voice::NoteOn { note: n, velocity } if n == note => {
                    Some(Heard::Press(f64::from(velocity) / LARGEST_7_BITS))
                }
                Voice::NoteOff { note: n, .. } if n == note => Some(Heard::Release),
                _ => None,
            },
            (Self::Controller { channel, number, is_14_bit }, Voice::Controller { number: n, value })
                if channel == message.channel =>
            {
                match is_14_bit {
                    false if n == number => Some(Heard::Turn(f64::from(value) / LARGEST_7_BITS)),
                    true if n == number => Some(turn_14(u16::from(value) << 7)),
                    true if n == number + PAIRED => {
                        let upper = *halves.upper.get(&(channel, number))?;
                        Some(turn_14(u16::from(upper) << 7 | u16::from(value)))
                    }
                    _ => None,
                }
            }
            (Self::Bend { channel }, Voice::Bend(value)) if channel == message.channel => {
                Some(turn_14(value))
            }
            _ => None,
        }
    }

    /// Whether one message may play both.
    pub fn meets(self, other: Self) -> bool {
        match (self, other) {
            (
                Self::Controller { channel, number, is_14_bit },
                Self::Controller { channel: c, number: n, is_14_bit: wide },
            ) => {
                channel == c
                    && (number == n || is_14_bit && number + PAIRED == n || wide && n + PAIRED == number)
            }
            (one, other) => one == other,
        }
    }
}

impl fmt::Display for Binding {
    /// "note 36 on channel 10", "controller 7 (14 bits) on channel 1", "the bend on channel 1".
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Note { channel, note } => write!(f, "note {note} on channel {channel}"),
            Self::Controller { channel, number, is_14_bit } => {
                let bits = if *is_14_bit { " (14 bits)" } else { "" };
                write!(f, "controller {number}{bits} on channel {channel}")
            }
            Self::Bend { channel } => write!(f, "the bend on channel {channel}"),
        }
    }
}
