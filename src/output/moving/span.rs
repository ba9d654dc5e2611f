//! From which beat on, and how many frames.

use std::str::FromStr;

use thiserror::Error;

use crate::beat::{Beats, FrameRate};

/// Most frames of one moving picture: a day at 60 frames a second, twice.
const MOST_FRAMES: u64 = 10_368_000;
/// How far from the start a beat may lie.
const MOST_BEATS: f64 = 1e9;

/// From one beat to another, as a person writes it: `0..16`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Span {
    from: f64,
    to: f64,
}

/// Why a span was refused.
#[derive(Debug, Error, PartialEq)]
pub enum SpanError {
    /// Not two numbers around two dots.
    #[error("`{0}` is no span of beats; write the first beat and the beat at which it ends, such as 0..16")]
    Unreadable(String),
    /// It ends where it begins, or before.
    #[error("{0} holds no time; the second beat has to come after the first, as in 0..16")]
    Empty(String),
    /// More frames than are written at once.
    #[error("{0} frames are more than one moving picture takes, {MOST_FRAMES}; render it in parts")]
    TooLong(u64),
}

impl FromStr for Span {
    type Err = SpanError;

    fn from_str(text: &str) -> Result<Self, SpanError> {
        // A third dot may belong to the range or to the number: `0...5` could end at 5 or at 0.5.
        if text.contains("...") {
            return Err(SpanError::Unreadable(text.to_owned()));
        }
        let beat = |text: &str| text.trim().parse::<f64>().ok().filter(|beat| beat.abs() <= MOST_BEATS);
        let ends = text.split_once("..").and_then(|(from, to)| Some((beat(from)?, beat(to)?)));
        let (from, to) = ends.ok_or_else(|| SpanError::Unreadable(text.to_owned()))?;
        if to <= from {
            return Err(SpanError::Empty(text.to_owned()));
        }
        Ok(Self { from, to })
    }
}

impl Span {
    /// Its first beat.
    pub fn from(&self) -> Beats {
        Beats::of_decimal(self.from)
    }

    /// How many frames begin in it, the first at its first beat.
    ///
    /// # Errors
    /// [`SpanError::TooLong`].
    pub fn count(&self, rate: FrameRate, tempo_bpm: f64) -> Result<u64, SpanError> {
        let length = Beats::of_decimal(self.to).minus(&self.from());
        let mut count = length.frame(rate, tempo_bpm);
        // The frame that begins at the end is not in it.
        while Beats::of_frame(count, rate, tempo_bpm) < length {
            count += 1;
        }
        check_count(count)
    }
}

/// A number of frames that can be written.
pub fn check_count(count: u64) -> Result<u64, SpanError> {
    if count > MOST_FRAMES { Err(SpanError::TooLong(count)) } else { Ok(count) }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn frames(span: &str, rate: &str, tempo_bpm: f64) -> u64 {
        span.parse::<Span>().unwrap().count(rate.parse().unwrap(), tempo_bpm).unwrap()
    }

    #[test]
    fn a_span_holds_the_frames_that_begin_in_it() {
        // 16 beats at 120 BPM are 8 s.
        assert_eq!(frames("0..16", "60", 120.0), 480);
        assert_eq!(frames("-4..12", "60", 120.0), 480);
        // 1 beat at 174 BPM is 10/29 s: at 60 frames a second 20.69 frames, of which 21 begin in it.
        assert_eq!(frames("0..1", "60", 174.0), 21);
        // 29 beats are 10 s: exactly 300 frames of 30 a second, and 299.7 of 29.97.
        assert_eq!(frames("3..32", "30", 174.0), 300);
        assert_eq!(frames("3..32", "29.97", 174.0), 300);
        assert_eq!(frames("0.1..0.2", "60", 120.0), 3);
    }

    #[test]
    fn a_wrong_span_says_what_would_be_right() {
        for wrong in [
            "", "4", "..4", "4..", "4..4", "8..2", "a..b", "0..inf", "0-4", "0...5", "0....5", "0..=5",
            "0..nan", "0:4",
        ] {
            let error = wrong.parse::<Span>().unwrap_err().to_string();
            assert!(error.contains("0..16"), "{error}");
        }
        let long = "0..1000000000".parse::<Span>().unwrap();
        assert!(long.count(FrameRate::default(), 1.0).unwrap_err().to_string().contains("in parts"));
    }
}
