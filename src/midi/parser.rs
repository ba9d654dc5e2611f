//! MIDI 1.0 bytes to channel voice messages.

/// A channel voice message.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Message {
    /// 1 to 16, as devices show it; the status byte holds one less.
    pub channel: u8,
    /// What is said.
    pub voice: Voice,
}

/// What a channel voice message says; data bytes are 0 to 127.
///
/// Source: MIDI 1.0 Detailed Specification, table I (status bytes 0x80 to 0xEF); from memory.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Voice {
    /// 0x8n, and 0x9n with velocity 0.
    NoteOff {
        /// Its number.
        note: u8,
        /// How fast the key came up.
        velocity: u8,
    },
    /// 0x9n.
    NoteOn {
        /// Its number.
        note: u8,
        /// How fast the key went down, 1 to 127.
        velocity: u8,
    },
    /// 0xAn.
    KeyPressure {
        /// Its number.
        note: u8,
        /// How hard.
        pressure: u8,
    },
    /// 0xBn.
    Controller {
        /// Its number; 120 to 127 are channel mode messages.
        number: u8,
        value: u8,
    },
    /// 0xCn.
    Program(u8),
    /// 0xDn.
    ChannelPressure(u8),
    /// 0xEn: 0 to 16383, at rest 8192; the lower seven bits come first.
    Bend(u16),
}

/// Takes bytes one by one and says when a message is whole.
///
/// A status byte holds for the messages that follow (running status), until a system common or exclusive
/// message; real-time bytes (0xF8 to 0xFF) may come anywhere and change nothing; all of these are let pass.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Parser {
    status: Option<u8>,
    first: Option<u8>,
}

impl Parser {
    /// Takes the next byte; the message that it makes whole, if it does.
    pub fn push(&mut self, byte: u8) -> Option<Message> {
        match byte {
            0xf8..=0xff => None,
            // System exclusive and common: what follows until the next status byte is theirs.
            0xf0..=0xf7 => {
                *self = Self::default();
                None
            }
            0x80..=0xef => {
                *self = Self { status: Some(byte), first: None };
                None
            }
            data => self.data(data),
        }
    }

    fn data(&mut self, data: u8) -> Option<Message> {
        let status = self.status?;
        let voice = match (status & 0xf0, self.first) {
            (0xc0, _) => Voice::Program(data),
            (0xd0, _) => Voice::ChannelPressure(data),
            (_, None) => {
                self.first = Some(data);
                return None;
            }
            (0x80, Some(note)) => Voice::NoteOff { note, velocity: data },
            (0x90, Some(note)) if data == 0 => Voice::NoteOff { note, velocity: 64 },
            (0x90, Some(note)) => Voice::NoteOn { note, velocity: data },
            (0xa0, Some(note)) => Voice::KeyPressure { note, pressure: data },
            (0xb0, Some(number)) => Voice::Controller { number, value: data },
            (_, Some(lower)) => Voice::Bend(u16::from(data) << 7 | u16::from(lower)),
        };
        self.first = None;
        Some(Message { channel: (status & 0x0f) + 1, voice })
    }
}
