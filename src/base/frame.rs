//! Frame size and pixel mode: what every picture of one rendering shares.

use std::cmp::Ordering;
use std::fmt;
use std::str::FromStr;

use serde::{Deserialize, Serialize};
use thiserror::Error;

use super::words::words;

/// Most texels of a side that a show has.
pub const LARGEST_SIDE: u32 = 16_384;

/// A picture size in whole texels, at least 1 x 1.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub struct Frame {
    /// Texels across, 1 or more.
    pub width: u32,
    /// Texels down, 1 or more.
    pub height: u32,
}

/// Why a frame size was refused.
#[derive(Debug, Error, PartialEq, Eq)]
pub enum FrameError {
    /// Not two whole numbers around an `x`.
    #[error("`{0}` is no frame size; write width x height in pixels, such as 1280x720")]
    Unreadable(String),
    /// A side of no texels.
    #[error("a frame of {width}x{height} holds no picture; both sides need at least 1 pixel")]
    Empty {
        /// Texels across.
        width: u32,
        /// Texels down.
        height: u32,
    },
}

impl Frame {
    /// A frame of the given size, or [`FrameError::Empty`].
    pub fn new(width: u32, height: u32) -> Result<Self, FrameError> {
        if width == 0 || height == 0 {
            return Err(FrameError::Empty { width, height });
        }
        Ok(Self { width, height })
    }

    /// The largest frame of the same shape that fits into another, at most as large as it is.
    #[must_use]
    pub fn within(self, most: Self) -> Self {
        let shrink = (f64::from(most.width) / f64::from(self.width))
            .min(f64::from(most.height) / f64::from(self.height))
            .min(1.0);
        let side = |side: u32| ((f64::from(side) * shrink).round() as u32).max(1);
        Self { width: side(self.width), height: side(self.height) }
    }

    /// What has to be said of pictures of this frame where a show has another: what reaches over pixels,
    /// such as edges and blur, does not scale with the frame.
    pub fn instead_of(self, own: Self) -> Option<String> {
        let grain = match self.texels().cmp(&own.texels()) {
            Ordering::Less => "coarser",
            Ordering::Greater => "finer",
            Ordering::Equal => "other",
        };
        (self != own)
            .then(|| format!("at {self}, not the show's {own}: edges and blur are {grain} than on stage"))
    }

    /// Texels in the frame.
    pub fn texels(self) -> u64 {
        u64::from(self.width) * u64::from(self.height)
    }
}

impl fmt::Display for Frame {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}x{}", self.width, self.height)
    }
}

impl FromStr for Frame {
    type Err = FrameError;

    fn from_str(text: &str) -> Result<Self, FrameError> {
        let unreadable = || FrameError::Unreadable(text.to_owned());
        let (width, height) = text.split_once(['x', 'X', '\u{d7}']).ok_or_else(unreadable)?;
        let side = |s: &str| s.trim().parse().map_err(|_| unreadable());
        Self::new(side(width)?, side(height)?)
    }
}

words! {
    /// How pictures are held between two effects.
    #[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
    pub enum PixelMode {
        /// sRGB-encoded values in 8 bits, clamped and rounded after every effect:
        /// what a live rig does (common practice, no source).
        #[default]
        Encoded8Bit = "encoded-8bit",
        /// Linear light in 16-bit floats, unclamped; encoded and rounded once, at the output.
        LinearFloat = "linear-float",
    }
}

impl PixelMode {
    /// Bytes that one texel takes between two effects.
    pub fn bytes_per_texel(self) -> u64 {
        match self {
            Self::Encoded8Bit => 4,
            Self::LinearFloat => 8,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_frame_size_reads_and_prints_alike() {
        let frame: Frame = "1280x720".parse().unwrap();
        assert_eq!((frame.width, frame.height), (1280, 720));
        assert_eq!(frame.to_string(), "1280x720");
    }

    #[test]
    fn a_frame_that_is_not_the_shows_own_says_what_it_does_to_pictures() {
        let own = Frame { width: 1920, height: 1080 };
        let said = |width, height| Frame { width, height }.instead_of(own);
        assert_eq!(said(1920, 1080), None);
        assert_eq!(
            said(640, 360).as_deref(),
            Some("at 640x360, not the show's 1920x1080: edges and blur are coarser than on stage")
        );
        assert!(said(3840, 2160).is_some_and(|said| said.ends_with("finer than on stage")));
    }

    #[test]
    fn a_wrong_frame_size_says_what_would_be_right() {
        for wrong in ["", "1280", "x", "12x", "-1x5", "1e3x2", "99999999999x1"] {
            let error = wrong.parse::<Frame>().unwrap_err().to_string();
            assert!(error.contains("1280x720"), "{error}");
        }
        assert!("0x9".parse::<Frame>().unwrap_err().to_string().contains("at least 1"));
    }
}
