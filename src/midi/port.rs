//! Where MIDI bytes come from.

/// Something that MIDI bytes come from.
pub trait Port {
    /// The bytes that came since the last time, in their order; never waits.
    fn take(&mut self) -> Vec<u8>;
}

/// A port that says what it was told to say: for tests, and where there is no device.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Scripted {
    bytes: Vec<u8>,
}

impl Scripted {
    /// Lets these bytes arrive.
    pub fn send(&mut self, bytes: &[u8]) {
        self.bytes.extend_from_slice(bytes);
    }
}

impl Port for Scripted {
    fn take(&mut self) -> Vec<u8> {
        std::mem::take(&mut self.bytes)
    }
}
