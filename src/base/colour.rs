//! Colours as people write them, and the sRGB transfer function.

use std::fmt;
use std::str::FromStr;

/// An sRGB colour of 8 bits a channel, written `#rrggbb`.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Colour(pub [u8; 3]);

impl Colour {
    /// The encoded channels as shares, 0..1.
    pub fn encoded(self) -> [f64; 3] {
        self.0.map(|byte| f64::from(byte) / 255.0)
    }

    /// The channels as linear light, 0..1.
    pub fn linear(self) -> [f64; 3] {
        self.encoded().map(linear_from_srgb)
    }
}

impl fmt::Display for Colour {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let [r, g, b] = self.0;
        write!(f, "#{r:02x}{g:02x}{b:02x}")
    }
}

impl FromStr for Colour {
    type Err = ();

    fn from_str(text: &str) -> Result<Self, ()> {
        let digits = text.strip_prefix('#').ok_or(())?;
        if digits.len() != 6 || !digits.bytes().all(|b| b.is_ascii_hexdigit()) {
            return Err(());
        }
        let value = u32::from_str_radix(digits, 16).map_err(|_| ())?;
        let [_, r, g, b] = value.to_be_bytes();
        Ok(Self([r, g, b]))
    }
}

/// Linear light, 0..1, of an sRGB-encoded share, 0..1 (IEC 61966-2-1).
pub fn linear_from_srgb(encoded: f64) -> f64 {
    if encoded <= 0.04045 { encoded / 12.92 } else { ((encoded + 0.055) / 1.055).powf(2.4) }
}

/// sRGB-encoded share, 0..1, of linear light, 0..1 (IEC 61966-2-1).
pub fn srgb_from_linear(linear: f64) -> f64 {
    if linear <= 0.0031308 { linear * 12.92 } else { 1.055 * linear.powf(1.0 / 2.4) - 0.055 }
}
