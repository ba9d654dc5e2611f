//! Learning by touching.

use super::{Binding, Message, Voice};

/// Below this number a controller may have a lower half, 32 above.
const PAIRED: u8 = 32;
/// Controllers from here on are channel mode messages, which no hand sends.
const MODE: u8 = 120;
/// How far a bend has to be from rest to count as touched, of 8192: wheels tremble.
const TOUCHED: u16 = 512;
const REST: u16 = 8192;

/// Finds out what was touched, and whether it sends 7 or 14 bits.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Learner {
    /// A controller that may have a lower half, heard once: channel and number.
    upper: Option<(u8, u8)>,
}

impl Learner {
    /// Takes in a message; what was touched, once it is known.
    ///
    /// A note or a bend is known at once. A controller below 32 is known by its second message:
    /// its lower half, 32 above, makes it one of 14 bits, anything else one of 7.
    pub fn hear(&mut self, message: Message) -> Option<Binding> {
        let channel = message.channel;
        match message.voice {
            Voice::NoteOn { note, .. } => Some(Binding::Note { channel, note }),
            Voice::Bend(value) if value.abs_diff(REST) >= TOUCHED => Some(Binding::Bend { channel }),
            Voice::Controller { number, .. } if number < MODE => match self.upper {
                Some((c, upper)) if c == channel && number == upper + PAIRED => {
                    Some(Binding::Controller { channel, number: upper, is_14_bit: true })
                }
                Some((c, upper)) if c == channel && number == upper => {
                    Some(Binding::Controller { channel, number, is_14_bit: false })
                }
                _ if number < PAIRED => {
                    self.upper = Some((channel, number));
                    None
                }
                _ => Some(Binding::Controller { channel, number, is_14_bit: false }),
            },
            _ => None,
        }
    }
}
