//! Automation: settings that move with the beat.
//!
//! Every shape is a closed form of the beat, so that a frame looks the same however it is come to:
//! played, stepped to, or rendered alone on another machine.

mod envelope;

pub use envelope::{Envelope, Fired};

use thiserror::Error;

use crate::base::colour::Colour;
use crate::base::random::share;
use crate::base::words::words;
use crate::catalogue::{Kind, Value};

/// Shortest and longest period, in beats.
pub const PERIOD_BEATS: [f64; 2] = [1.0 / 64.0, 4096.0];
/// Least and most phase, in periods.
pub const PHASE: [f64; 2] = [0.0, 1.0];
/// Shortest and longest part of an envelope, in beats.
pub const PART_BEATS: [f64; 2] = [0.0, 4096.0];
/// Earliest and latest beat at which an envelope is fired.
pub const FIRED_BEATS: [f64; 2] = [0.0, 1e9];
/// Most values of steps, and most beats at which an envelope is fired.
pub const MOST_LISTED: usize = 64;

/// How near to its end a period counts as over, in periods: beats that were rounded to 64 bits
/// must not leave the old step on for one more frame.
const HAIR: f64 = 1e-9;

/// How a setting moves with the beat.
#[derive(Debug, Clone, PartialEq)]
pub enum Automation {
    /// A repeating shape between two values.
    Wave {
        /// The shape.
        wave: Wave,
        /// How fast, and from where.
        pace: Pace,
        /// The value at 0.
        low: Value,
        /// The value at 1.
        high: Value,
    },
    /// One value after the other, each for an equal share of the period.
    Steps {
        /// How fast, and from where.
        pace: Pace,
        /// The values, at least two.
        values: Vec<Value>,
    },
    /// Another value between two in every period, held until the next.
    Random {
        /// How fast, and from where.
        pace: Pace,
        /// Which of the random sequences.
        seed: u32,
        /// The value at 0.
        low: Value,
        /// The value at 1.
        high: Value,
    },
    /// Up, held, down again, whenever it is fired.
    Envelope {
        /// Its parts, and what fires it.
        envelope: Envelope,
        /// The value at rest.
        low: Value,
        /// The value while it is held.
        high: Value,
    },
}

words! {
    /// The repeating shapes, each from 0 to 1 over a period `x` in 0..1.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    pub enum Wave {
        /// `(1 - cos(2 pi x)) / 2`: 0 at the beginning, 1 in the middle.
        Sine = "sine",
        /// `1 - |2 x - 1|`: straight up and straight down.
        Triangle = "triangle",
        /// `x`: straight up, then at once back.
        Ramp = "ramp",
        /// 1 in the first half, 0 in the second: on, on the beat.
        Square = "square",
    }
}

/// Period and phase.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Pace {
    /// Beats of one period.
    pub period_beats: f64,
    /// How far into its period it is at beat 0, in periods, 0..1.
    pub phase: f64,
}

/// Why an automation was refused; reads as the end of "`gain` ...".
#[derive(Debug, Error, PartialEq)]
pub enum AutomationError {
    /// A setting of words.
    #[error("chooses among words, which nothing lies between; only numbers and colours can be automated")]
    Choice,
    /// A value that the setting does not take.
    #[error("cannot move to {found}; it takes {allowed}")]
    Value {
        /// The value.
        found: String,
        /// What is allowed.
        allowed: String,
    },
    /// A number out of range.
    #[error("has {what} of {found}; it takes a number from {low} to {high}")]
    Range {
        /// What it is, with its article.
        what: &'static str,
        /// What was asked for.
        found: f64,
        /// The least.
        low: f64,
        /// The most.
        high: f64,
    },
    /// Too few or too many of something.
    #[error("has {found} {what}; it takes {least} to {MOST_LISTED}")]
    Count {
        /// What they are.
        what: &'static str,
        /// How many.
        found: usize,
        /// The fewest.
        least: usize,
    },
    /// An envelope without any length.
    #[error("has an envelope of no length; give it an attack, a hold or a decay")]
    Empty,
}

impl Wave {
    /// Its height, 0..1, at `x` of its period, 0..1.
    pub fn at(self, x: f64) -> f64 {
        match self {
            Self::Sine => (1.0 - (std::f64::consts::TAU * x).cos()) / 2.0,
            Self::Triangle => 1.0 - (2.0 * x - 1.0).abs(),
            Self::Ramp => x,
            Self::Square => f64::from(u8::from(x < 0.5)),
        }
    }
}

impl Pace {
    /// Which period a beat lies in, counted from beat 0 and phase 0, and how far into it, 0..1.
    pub fn at(self, beats: f64) -> (i64, f64) {
        let turns = beats / self.period_beats + self.phase;
        let near = turns.round();
        if (turns - near).abs() < HAIR {
            (near as i64, 0.0)
        } else {
            (turns.floor() as i64, turns - turns.floor())
        }
    }

    fn check(self) -> Result<(), AutomationError> {
        check_range("a period", self.period_beats, PERIOD_BEATS)?;
        check_range("a phase", self.phase, PHASE)
    }
}

impl Automation {
    /// Every shape's word in files.
    pub const SHAPES: [&'static str; 7] =
        ["sine", "triangle", "ramp", "square", "steps", "random", "envelope"];

    /// The shape's word in files.
    pub fn shape(&self) -> &'static str {
        match self {
            Self::Wave { wave, .. } => wave.name(),
            Self::Steps { .. } => "steps",
            Self::Random { .. } => "random",
            Self::Envelope { .. } => "envelope",
        }
    }

    /// The value at a beat, for a setting of this kind.
    pub fn at(&self, kind: &Kind, beats: f64) -> Value {
        match self {
            Self::Wave { wave, pace, low, high } => between(kind, low, high, wave.at(pace.at(beats).1)),
            Self::Steps { pace, values } => {
                // The hair again, as a step ends where a period does.
                let place = (pace.at(beats).1 * values.len() as f64 + HAIR) as usize;
                values[place.min(values.len() - 1)].clone()
            }
            Self::Random { pace, seed, low, high } => {
                between(kind, low, high, share(u64::from(*seed), pace.at(beats).0.cast_unsigned()))
            }
            Self::Envelope { envelope, low, high } => between(kind, low, high, envelope.at(beats)),
        }
    }

    /// The values that it is given to move between or to step through.
    pub fn ends(&self) -> Vec<&Value> {
        match self {
            Self::Wave { low, high, .. }
            | Self::Random { low, high, .. }
            | Self::Envelope { low, high, .. } => {
                vec![low, high]
            }
            Self::Steps { values, .. } => values.iter().collect(),
        }
    }

    /// Whether a setting of this kind can move so.
    ///
    /// # Errors
    /// [`AutomationError`] with what is allowed.
    pub fn check(&self, kind: &Kind) -> Result<(), AutomationError> {
        if matches!(kind, Kind::Choice(_)) {
            return Err(AutomationError::Choice);
        }
        self.values().try_for_each(|value| check_value(kind, value))?;
        match self {
            Self::Wave { pace, .. } | Self::Random { pace, .. } => pace.check(),
            Self::Steps { pace, values } => {
                check_count("values", values.len(), 2)?;
                pace.check()
            }
            Self::Envelope { envelope, .. } => envelope.check(),
        }
    }

    /// The values that it moves between.
    pub fn values(&self) -> impl Iterator<Item = &Value> {
        match self {
            Self::Steps { values, .. } => values.iter().chain(None),
            Self::Wave { low, high, .. }
            | Self::Random { low, high, .. }
            | Self::Envelope { low, high, .. } => std::slice::from_ref(low).iter().chain(Some(high)),
        }
    }

    /// The control that fires it, if one does.
    pub fn fired_by(&self) -> Option<&str> {
        match self {
            Self::Envelope { envelope: Envelope { fired: Fired::By(control), .. }, .. } => Some(control),
            _ => None,
        }
    }

    /// Whether it may go from one end to the other at once, or in less than a beat.
    pub fn jumps(&self) -> bool {
        match self {
            Self::Wave { wave: Wave::Sine | Wave::Triangle, pace, .. } => pace.period_beats < 2.0,
            _ => true,
        }
    }

    /// As a person would say it of a setting of this kind: "sine 0.5 to 2 over 4 beats".
    pub fn in_words(&self, word: impl Fn(&Value) -> String) -> String {
        let over = |pace: &Pace| match pace.period_beats {
            1.0 => "over 1 beat".to_owned(),
            beats => format!("over {beats} beats"),
        };
        let shape = self.shape();
        match self {
            Self::Wave { pace, low, high, .. } | Self::Random { pace, low, high, .. } => {
                format!("{shape} {} to {} {}", word(low), word(high), over(pace))
            }
            Self::Steps { pace, values } => {
                let values: Vec<String> = values.iter().map(&word).collect();
                format!("{shape} {} {}", values.join(" "), over(pace))
            }
            Self::Envelope { envelope, low, high } => {
                format!("{shape} {} to {} {}", word(low), word(high), envelope.fired)
            }
        }
    }
}

/// The value `share` of the way from `low` to `high`. Numbers go straight, whole numbers to the nearest,
/// colours channel by channel on their encoded values, to the nearest byte.
pub fn between(kind: &Kind, low: &Value, high: &Value, share: f64) -> Value {
    match (kind, low, high) {
        (Kind::Colour, Value::Colour(low), Value::Colour(high)) => {
            let channel = |at: usize| straight(low.0[at].into(), high.0[at].into(), share).round() as u8;
            Value::Colour(Colour([0, 1, 2].map(channel)))
        }
        (Kind::Number { .. }, Value::Number(low), Value::Number(high)) => {
            Value::Number(straight(*low, *high, share))
        }
        (Kind::Whole { .. }, Value::Whole(low), Value::Whole(high)) => {
            Value::Whole(straight(*low as f64, *high as f64, share).round() as i64)
        }
        _ => low.clone(),
    }
}

/// Both ends exactly, and never past them.
fn straight(low: f64, high: f64, share: f64) -> f64 {
    if share >= 1.0 { high } else { (low + (high - low) * share).clamp(low.min(high), low.max(high)) }
}

/// Whether a setting of this kind takes this value.
pub(crate) fn check_value(kind: &Kind, value: &Value) -> Result<(), AutomationError> {
    let fits = match (kind, value) {
        (Kind::Number { range: [low, high], .. }, Value::Number(number)) => (*low..=*high).contains(number),
        (Kind::Whole { range: [low, high], .. }, Value::Whole(number)) => (*low..=*high).contains(number),
        (Kind::Colour, Value::Colour(_)) => true,
        (Kind::Choice(words), Value::Choice(place)) => *place < words.len(),
        _ => false,
    };
    if fits {
        return Ok(());
    }
    Err(AutomationError::Value { found: value.to_string(), allowed: kind.allowed() })
}

fn check_range(what: &'static str, found: f64, [low, high]: [f64; 2]) -> Result<(), AutomationError> {
    if (low..=high).contains(&found) {
        Ok(())
    } else {
        Err(AutomationError::Range { what, found, low, high })
    }
}

fn check_count(what: &'static str, found: usize, least: usize) -> Result<(), AutomationError> {
    if (least..=MOST_LISTED).contains(&found) {
        Ok(())
    } else {
        Err(AutomationError::Count { what, found, least })
    }
}
