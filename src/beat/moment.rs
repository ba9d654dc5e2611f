//! One instant of one rendering.

use super::{Beats, FrameRate};
use crate::base::frame::{Frame, PixelMode};

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
