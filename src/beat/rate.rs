//! Frame rates as exact fractions.

use std::fmt;
use std::str::FromStr;

use num_integer::Integer as _;
use thiserror::Error;

/// Fewest and most frames per second.
const RATES: [u32; 2] = [1, 240];
/// Largest denominator that is read.
const MOST_PARTS: u32 = 1_000_000;
/// Whole rates of which the broadcast rate `n * 1000/1001` goes by its rounded decimal: 29.97 for 30.
const BROADCAST: [u32; 6] = [24, 30, 48, 60, 120, 240];

/// Frames per second, as a fraction in lowest terms.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct FrameRate {
    frames: u32,
    seconds: u32,
}

/// Why a frame rate was refused.
#[derive(Debug, Error, PartialEq, Eq)]
pub enum RateError {
    /// No number and no fraction.
    #[error(
        "`{0}` is no frame rate; write frames per second, such as 60, 29.97 or 30000/1001, with at most six decimals"
    )]
    Unreadable(String),
    /// A rate outside the range.
    #[error("a frame rate of {0} is out of range; it takes 1 to 240 frames per second")]
    Range(String),
}

impl Default for FrameRate {
    /// 60 frames per second.
    fn default() -> Self {
        Self { frames: 60, seconds: 1 }
    }
}

impl FrameRate {
    /// `frames / seconds`, from 1 to 240.
    ///
    /// # Errors
    /// [`RateError::Range`] outside that range, or where `seconds` is 0 or above a million.
    pub fn new(frames: u32, seconds: u32) -> Result<Self, RateError> {
        let [least, most] = RATES.map(u64::from);
        let (f, s) = (u64::from(frames), u64::from(seconds));
        if seconds == 0 || f < least * s || f > most * s {
            return Err(RateError::Range(format!("{frames}/{seconds}")));
        }
        let shared = frames.gcd(&seconds);
        let rate = Self { frames: frames / shared, seconds: seconds / shared };
        if rate.seconds > MOST_PARTS {
            return Err(RateError::Range(format!("{frames}/{seconds}")));
        }
        Ok(rate)
    }

    /// Numerator and denominator.
    pub fn fraction(self) -> [u32; 2] {
        [self.frames, self.seconds]
    }

    /// Frames per second, rounded to 64 bits.
    pub fn per_second(self) -> f64 {
        f64::from(self.frames) / f64::from(self.seconds)
    }

    /// The broadcast rate next below a whole one.
    fn broadcast(whole: u32) -> Self {
        let (frames, seconds) = (whole * 1000, 1001);
        let shared = frames.gcd(&seconds);
        Self { frames: frames / shared, seconds: seconds / shared }
    }

    /// The rate as an exact decimal, where it has one of at most six places.
    fn exact_decimal(self) -> Option<String> {
        let millionths = u64::from(self.frames) * u64::from(MOST_PARTS);
        let seconds = u64::from(self.seconds);
        (millionths % seconds == 0).then(|| {
            let written = format!("{:.6}", (millionths / seconds) as f64 / f64::from(MOST_PARTS));
            written.trim_end_matches('0').trim_end_matches('.').to_owned()
        })
    }
}

impl fmt::Display for FrameRate {
    /// The shortest form that reads back as the same rate: `60`, `12.5`, `29.97`, `17/3`.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if let Some(exact) = self.exact_decimal() {
            return f.write_str(&exact);
        }
        for places in [2, 3] {
            let rounded = format!("{:.places$}", self.per_second());
            if rounded.parse() == Ok(*self) {
                return f.write_str(&rounded);
            }
        }
        write!(f, "{}/{}", self.frames, self.seconds)
    }
}

impl FromStr for FrameRate {
    type Err = RateError;

    fn from_str(text: &str) -> Result<Self, RateError> {
        let unreadable = || RateError::Unreadable(text.to_owned());
        let digits = |s: &str| -> Result<u32, RateError> {
            if s.is_empty() || s.len() > 9 || !s.bytes().all(|b| b.is_ascii_digit()) {
                return Err(unreadable());
            }
            s.parse().map_err(|_| unreadable())
        };
        let out_of_range = |_| RateError::Range(text.to_owned());
        if let Some((frames, seconds)) = text.split_once('/') {
            return Self::new(digits(frames.trim())?, digits(seconds.trim())?).map_err(out_of_range);
        }
        let text = text.trim();
        let Some((whole, places)) = text.split_once('.') else {
            return Self::new(digits(text)?, 1).map_err(out_of_range);
        };
        let (whole_rate, parts) = (digits(whole)?, digits(places)?);
        let named = |n: &&u32| {
            let rate = Self::broadcast(**n).per_second();
            (2..=3).contains(&places.len()) && format!("{rate:.*}", places.len()) == text
        };
        if let Some(&n) = BROADCAST.iter().find(named) {
            return Ok(Self::broadcast(n));
        }
        let scale = 10_u32.pow(u32::try_from(places.len()).unwrap_or(9));
        if scale > MOST_PARTS {
            return Err(unreadable());
        }
        let frames = whole_rate.checked_mul(scale).and_then(|frames| frames.checked_add(parts));
        Self::new(frames.ok_or_else(|| RateError::Range(text.to_owned()))?, scale).map_err(out_of_range)
    }
}
