//! Frame size, pixel mode and moment: what every picture of one rendering shares.

use std::cmp::Ordering;
use std::fmt;
use std::str::FromStr;

use thiserror::Error;

use crate::beat::{Beats, FrameRate};

/// A picture size in whole texels, at least 1 x 1.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
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
    #[error("`{0}` is no frame size; write width x height in texels, such as 1280x720")]
    Unreadable(String),
    /// A side of no texels.
    #[error("a frame of {width}x{height} holds no picture; both sides need at least 1 texel")]
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

/// How pictures are held between two effects.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum PixelMode {
    /// sRGB-encoded values in 8 bits, clamped and rounded after every effect:
    /// what a live rig does (common practice, no source).
    #[default]
    Encoded8Bit,
    /// Linear light in 16-bit floats, unclamped; encoded and rounded once, at the output.
    LinearFloat,
}

impl PixelMode {
    /// Both modes, the default first.
    pub const ALL: [Self; 2] = [Self::Encoded8Bit, Self::LinearFloat];

    /// The word used in files and on the command line.
    pub fn name(self) -> &'static str {
        match self {
            Self::Encoded8Bit => "encoded-8bit",
            Self::LinearFloat => "linear-float",
        }
    }

    /// The mode with this name.
    pub fn named(name: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|mode| mode.name() == name)
    }

    /// Bytes that one texel takes between two effects.
    pub fn bytes_per_texel(self) -> u64 {
        match self {
            Self::Encoded8Bit => 4,
            Self::LinearFloat => 8,
        }
    }
}

/// One instant of one rendering: the size, the pixel mode, and where the beat stands.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Moment {
    /// Size of every picture on the path.
    pub frame: Frame,
    /// How pictures are held between effects.
    pub pixels: PixelMode,
    /// Beats since the start, the exact count rounded once: shaders only ever see a phase made from it.
    pub beats: f64,
    /// Beats per minute: what ties footage that runs in seconds to the beat.
    pub tempo_bpm: f64,
    /// Frames per second.
    pub rate: FrameRate,
    /// The frame that is on, counted from 0 at the start.
    pub number: u64,
}

impl Moment {
    /// The moment at which frame `number` begins.
    pub fn of_frame(frame: Frame, pixels: PixelMode, tempo_bpm: f64, rate: FrameRate, number: u64) -> Self {
        let beats = Beats::of_frame(number, rate, tempo_bpm).to_f64();
        Self { frame, pixels, beats, tempo_bpm, rate, number }
    }

    /// The moment at a beat, which may lie between the beginnings of two frames.
    pub fn at_beats(frame: Frame, pixels: PixelMode, tempo_bpm: f64, rate: FrameRate, beats: &Beats) -> Self {
        let number = beats.frame(rate, tempo_bpm);
        Self { frame, pixels, beats: beats.to_f64(), tempo_bpm, rate, number }
    }

    /// The moment at a beat written as a decimal, at the default frame rate.
    pub fn at(frame: Frame, pixels: PixelMode, tempo_bpm: f64, beats: f64) -> Self {
        Self::at_beats(frame, pixels, tempo_bpm, FrameRate::default(), &Beats::of_decimal(beats))
    }

    /// The moment `frames` frames before this one; none before the start.
    pub fn before(&self, frames: u64) -> Option<Self> {
        self.number.checked_sub(frames).map(|number| self.in_frame(number))
    }

    /// The moment `frames` frames after this one.
    #[must_use]
    pub fn after(&self, frames: u64) -> Self {
        self.in_frame(self.number.saturating_add(frames))
    }

    fn in_frame(&self, number: u64) -> Self {
        let begins = |number| Beats::of_frame(number, self.rate, self.tempo_bpm);
        // As far into its own frame as this one is: not at all on the frame's beginning.
        let own = begins(self.number);
        let into = if own.to_f64() == self.beats {
            Beats::zero()
        } else {
            Beats::of_decimal(self.beats).minus(&own)
        };
        Self { number, beats: begins(number).plus(&into).to_f64(), ..*self }
    }

    /// Seconds since the start.
    pub fn seconds(&self) -> f64 {
        self.beats * 60.0 / self.tempo_bpm
    }

    /// Beats from one frame to the next.
    pub fn beats_a_frame(&self) -> f64 {
        self.tempo_bpm / 60.0 / self.rate.per_second()
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
