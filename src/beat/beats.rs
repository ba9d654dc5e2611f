//! Beats as exact fractions.

use num_bigint::BigInt;
use num_rational::BigRational;
use num_traits::{Signed as _, ToPrimitive as _, Zero as _};

use super::FrameRate;

/// Slowest and fastest tempo, in beats per minute.
pub const TEMPO_BPM: [f64; 2] = [1.0, 999.0];
const SECONDS_A_MINUTE: u32 = 60;
/// How near a frame number has to come to the next whole one to count as it: beats that were
/// rounded to 64 bits on the way may lie a hair before the frame that they were made from.
const FRAME_HAIR: (u32, u32) = (1, 1_000_000);

/// A count of beats since the start, as an exact fraction.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Beats(BigRational);

impl Beats {
    /// The start.
    pub fn zero() -> Self {
        Self(BigRational::zero())
    }

    /// A whole number of beats.
    pub fn whole(beats: i64) -> Self {
        Self(BigRational::from_integer(beats.into()))
    }

    /// A fraction of whole numbers; `parts` may not be zero.
    #[cfg(test)]
    fn fraction(beats: i64, parts: i64) -> Self {
        Self(BigRational::new(beats.into(), parts.into()))
    }

    /// The decimal that a person would write for this number: 0.1 means one tenth here, not the
    /// binary fraction next to it. Zero where it is not finite.
    pub fn of_decimal(number: f64) -> Self {
        Self(decimal(number))
    }

    /// Where frame `number` begins: `number / rate * tempo / 60`, with the tempo as the decimal that it is written as.
    pub fn of_frame(number: u64, rate: FrameRate, tempo_bpm: f64) -> Self {
        Self(BigRational::from_integer(number.into()) * beats_per_frame(rate, tempo_bpm))
    }

    /// The frame that is on at this beat; none before the start counts, so that it is 0 there.
    pub fn frame(&self, rate: FrameRate, tempo_bpm: f64) -> u64 {
        let per_frame = beats_per_frame(rate, tempo_bpm);
        if !per_frame.is_positive() {
            return 0;
        }
        let hair = BigRational::new(FRAME_HAIR.0.into(), FRAME_HAIR.1.into());
        (&self.0 / per_frame + hair).floor().to_integer().to_u64().unwrap_or(0)
    }

    /// The beat, or the whole one before it.
    pub fn floor(&self) -> Self {
        Self(self.0.floor())
    }

    /// Both together.
    pub fn plus(&self, other: &Self) -> Self {
        Self(&self.0 + &other.0)
    }

    /// This less the other.
    pub fn minus(&self, other: &Self) -> Self {
        Self(&self.0 - &other.0)
    }

    /// What is left of it after whole turns of `length`, from 0 to below `length`; itself where `length` is not above 0.
    pub fn turned(&self, length: &Self) -> Self {
        if !length.0.is_positive() {
            return self.clone();
        }
        Self(&self.0 - (&self.0 / &length.0).floor() * &length.0)
    }

    /// To the nearest billionth: a short fraction to go on from.
    pub(super) fn shortened(&self) -> Self {
        let parts = BigInt::from(1_000_000_000);
        Self(BigRational::new((&self.0 * &parts).round().to_integer(), parts))
    }

    /// The nearest number of 64 bits.
    pub fn to_f64(&self) -> f64 {
        // Whole beats and the rest apart: each is rounded once, and the sum once.
        let whole = self.0.floor();
        let rest = &self.0 - &whole;
        whole.to_f64().unwrap_or(0.0) + rest.to_f64().unwrap_or(0.0)
    }
}

/// Beats that pass in one frame.
fn beats_per_frame(rate: FrameRate, tempo_bpm: f64) -> BigRational {
    let [frames, seconds] = rate.fraction().map(BigInt::from);
    decimal(tempo_bpm) * BigRational::new(seconds, frames * SECONDS_A_MINUTE)
}

/// The shortest decimal that reads back as `number`, as a fraction.
fn decimal(number: f64) -> BigRational {
    if !number.is_finite() {
        return BigRational::zero();
    }
    // `{}` never writes an exponent, and writes the fewest digits that read back.
    let written = number.to_string();
    let (whole, parts) = written.split_once('.').unwrap_or((&written, ""));
    let digits: BigInt = format!("{whole}{parts}").parse().unwrap_or_default();
    BigRational::new(digits, BigInt::from(10).pow(parts.len().try_into().unwrap_or(u32::MAX)))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_decimal_is_the_fraction_that_it_is_written_as() {
        assert_eq!(Beats::of_decimal(127.35), Beats::fraction(12_735, 100));
        assert_eq!(Beats::of_decimal(-0.1), Beats::fraction(-1, 10));
        assert_eq!(Beats::of_decimal(f64::NAN), Beats::zero());
    }

    #[test]
    fn turning_keeps_what_is_past_whole_lengths_and_never_goes_below_zero() {
        let three = Beats::whole(3);
        assert_eq!(Beats::fraction(15, 2).turned(&three), Beats::fraction(3, 2));
        assert_eq!(Beats::fraction(-1, 2).turned(&three), Beats::fraction(5, 2));
        assert_eq!(Beats::whole(6).turned(&three), Beats::zero());
    }
}
