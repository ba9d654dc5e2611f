//! Which part of a stream is tried, for how long, and what came of it.

use std::fmt;
use std::str::FromStr;
use std::time::Duration;

use crate::base::clock::Since;
use crate::explore::find::Kept;
use crate::output::moving::Interruption;

/// The most candidates that a stream has.
pub(super) const MOST_TRIES: u64 = 1 << 40;
/// The most shares that a stream is cut into.
const MOST_PARTS: u64 = 1 << 20;
/// Of the time that is given, what the stream takes; the rest is for the best of it.
pub(super) const STREAMS_SHARE: f64 = 0.4;
/// Share `part`, from 1 on, of `parts`.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct PartOf {
    pub(super) part: u64,
    pub(super) parts: u64,
}

impl Default for PartOf {
    fn default() -> Self {
        Self { part: 1, parts: 1 }
    }
}

impl fmt::Display for PartOf {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}/{}", self.part, self.parts)
    }
}

impl FromStr for PartOf {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        let numbers = text.split_once('/').and_then(|(part, parts)| {
            Some((part.trim().parse::<u64>().ok()?, parts.trim().parse::<u64>().ok()?))
        });
        match numbers {
            Some((part, parts)) if (1..=MOST_PARTS).contains(&parts) && (1..=parts).contains(&part) => {
                Ok(Self { part, parts })
            }
            _ => Err(format!(
                "a share such as 3/8 is wanted, the third of eight: from 1/N to N/N, N at most {MOST_PARTS}"
            )),
        }
    }
}

/// Which candidates of a stream are tried: a share of the first so many.
#[derive(Debug, Clone, Copy)]
pub(super) struct Share {
    pub(super) of: PartOf,
    pub(super) tries: u64,
}

impl Share {
    /// How many they are.
    pub(super) fn count(self) -> u64 {
        (self.tries + self.of.parts - self.of.part) / self.of.parts
    }

    /// The number of one of them in the stream.
    pub(super) fn number(self, nth: u64) -> u64 {
        self.of.part - 1 + self.of.parts * nth
    }
}

/// What came of a stream.
pub(super) struct Streamed {
    pub(super) kept: Kept,
    pub(super) tries: u64,
    /// As many were asked for; nothing where a time was.
    pub(super) wanted: Option<u64>,
}

/// How long to go on.
pub(super) struct Patience<'a> {
    pub(super) interruption: &'a Interruption,
    pub(super) began: Since,
    pub(super) lasts: Option<Duration>,
}

impl Patience<'_> {
    pub(super) fn lasts(&self, share: f64) -> bool {
        let is_over = |lasts: Duration| self.began.elapsed() >= lasts.mul_f64(share);
        !self.interruption.came() && !self.lasts.is_some_and(is_over)
    }
}
