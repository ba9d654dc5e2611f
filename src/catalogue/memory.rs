//! How long an effect remembers.

use crate::base::frame::PixelMode;

/// What bounds how long an effect of [`Reach::PastFrames`](super::Reach::PastFrames) remembers. The
/// program keeps to it, not the effect: what it hands over of the effect's last output is dimmed, or
/// left out.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Memory {
    /// The last output fades: it is multiplied by the derived value named
    /// ([`DerivedKind::Fade`](super::DerivedKind::Fade)), and [`FADED_EACH_FRAME`] is taken off, so
    /// that after finitely many frames nothing is left. The effect may not brighten it again.
    Fades(String),
    /// Where the derived value named is 1 ([`DerivedKind::Due`](super::DerivedKind::Due)), the picture
    /// itself stands in for the last output, so that nothing older is left.
    Renewed(String),
    /// The last output stays as it is, whatever the effect says, until the derived value named is 1
    /// ([`DerivedKind::Due`](super::DerivedKind::Due)).
    Held(String),
}

impl Memory {
    /// The derived value that decides.
    pub fn member(&self) -> &str {
        match self {
            Self::Fades(name) | Self::Renewed(name) | Self::Held(name) => name,
        }
    }
}

/// What a last output loses each frame, of full light: a little more than half a byte, so that
/// rounding cannot bring it back. `shaders/shared/faded.wgsl` says the same.
pub const FADED_EACH_FRAME: f64 = (0.5 + 1.0 / 8192.0) / 255.0;

/// What the shaders' rounding adds to half a byte.
const HAIR: f64 = 1.0 / 16384.0;

/// What is left of full light over this many frames is nothing: what faded at `keep` a frame has then
/// forgotten every picture before them.
///
/// A last output fades by a function that never turns two values round, so that nothing outlasts full
/// light; it falls at every frame, by a whole step of what holds it, so that the count is finite.
pub fn frames_until_faded(keep: f64, pixels: PixelMode) -> u64 {
    let mut light = 1.0;
    let mut frames = 0;
    while light > 0.0 {
        // Above what any adapter gives, whether or not it rounds between product and difference.
        let faded = light * keep - FADED_EACH_FRAME + f64::from(f32::EPSILON);
        light = match pixels {
            PixelMode::Encoded8Bit => (faded.max(0.0) * 255.0 + 0.5 + HAIR).floor() / 255.0,
            PixelMode::LinearFloat => half_rounded(faded.max(0.0)),
        };
        frames += 1;
    }
    frames
}

/// The nearest value that a 16-bit float holds, of a value from 0 to 1, halves up (IEEE 754 binary16:
/// 11 digits, and steps of 2^-24 below 2^-14).
fn half_rounded(value: f64) -> f64 {
    let mut step = 2.0_f64.powi(-24);
    while value >= step * 2048.0 {
        step *= 2.0;
    }
    (value / step + 0.5).floor() * step
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn whatever_the_factor_a_fade_ends() {
        for pixels in PixelMode::ALL {
            for keep in [0.0, 0.25, 0.5, 0.9, 0.99, 4095.0 / 4096.0, 1.0] {
                let frames = frames_until_faded(keep, pixels);
                // A step a frame at the least: 255 bytes, or 512 times what is taken off.
                assert!((1..=512).contains(&frames), "{frames} frames at {keep} in {}", pixels.name());
            }
        }
        assert_eq!(frames_until_faded(0.0, PixelMode::Encoded8Bit), 1);
        assert_eq!(frames_until_faded(1.0, PixelMode::Encoded8Bit), 255);
    }

    #[test]
    fn halves_are_rounded_as_a_16_bit_float_holds_them() {
        assert_eq!(half_rounded(1.0), 1.0);
        assert_eq!(half_rounded(0.5 + 1.0 / 4096.0), 0.5 + 1.0 / 2048.0);
        assert_eq!(half_rounded(2.0_f64.powi(-25)), 2.0_f64.powi(-24));
        assert_eq!(half_rounded(2.0_f64.powi(-26)), 0.0);
    }
}
