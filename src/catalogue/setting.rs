//! Settings: what a person may set, what the program derives from it, and when an effect is idle.

use std::f64::consts::TAU;
use std::fmt;

use thiserror::Error;

use crate::base::colour::Colour;
use crate::base::frame::PixelMode;
use crate::base::place::{did_you_mean, listed};
use crate::beat::Moment;

/// One setting of an effect.
#[derive(Debug, Clone, PartialEq)]
pub struct Setting {
    /// The key in files.
    pub name: String,
    /// The word on a control.
    pub label: String,
    /// One line of help.
    pub help: String,
    /// Its type, with what it may hold.
    pub kind: Kind,
    /// The value where a file says nothing.
    pub default: Value,
}

/// The type of a setting and the values that it may hold.
#[derive(Debug, Clone, PartialEq)]
pub enum Kind {
    /// A number in a closed range.
    Number {
        /// Smallest and largest value.
        range: [f64; 2],
        /// What it counts, such as "degrees".
        unit: String,
    },
    /// A whole number in a closed range.
    Whole {
        /// Smallest and largest value.
        range: [i64; 2],
        /// What it counts.
        unit: String,
    },
    /// An sRGB colour.
    Colour,
    /// One of a few words.
    Choice(Vec<String>),
}

/// The value of a setting.
#[derive(Debug, Clone, PartialEq)]
pub enum Value {
    /// For [`Kind::Number`].
    Number(f64),
    /// For [`Kind::Whole`].
    Whole(i64),
    /// For [`Kind::Colour`].
    Colour(Colour),
    /// For [`Kind::Choice`]: the place in its list.
    Choice(usize),
}

/// Why a value was refused; reads as the end of "`gain` ...".
#[derive(Debug, Error, PartialEq)]
pub enum ValueError {
    /// A value of another type, or one outside its range or list.
    #[error("is {found}; it takes {allowed}{hint}")]
    Refused {
        /// What was found, as written.
        found: String,
        /// What is allowed.
        allowed: String,
        /// "; did you mean ...?" or nothing.
        hint: String,
    },
}

impl Kind {
    /// What is allowed, as a noun: "a number from 0 to 8 (times)".
    pub fn allowed(&self) -> String {
        match self {
            Self::Number { range: [low, high], unit } => format!("a number from {low} to {high} ({unit})"),
            Self::Whole { range: [low, high], unit } => {
                format!("a whole number from {low} to {high} ({unit})")
            }
            Self::Colour => "a colour such as \"#ff8c33\"".to_owned(),
            Self::Choice(words) => format!("one of {}", listed(words.iter().map(String::as_str))),
        }
    }

    /// The value that a number from a file means here.
    pub fn number(&self, number: f64) -> Result<Value, ValueError> {
        let value = match self {
            Self::Number { range: [low, high], .. } if (*low..=*high).contains(&number) => {
                Some(Value::Number(number))
            }
            Self::Whole { range: [low, high], .. }
                if number.fract() == 0.0 && (*low as f64..=*high as f64).contains(&number) =>
            {
                Some(Value::Whole(number as i64))
            }
            _ => None,
        };
        value.ok_or_else(|| self.refused(number.to_string(), String::new()))
    }

    /// The value that a word from a file means here.
    pub fn word(&self, word: &str) -> Result<Value, ValueError> {
        let hint = match self {
            Self::Colour => match word.parse() {
                Ok(colour) => return Ok(Value::Colour(colour)),
                Err(()) => String::new(),
            },
            Self::Choice(words) => match words.iter().position(|known| known == word) {
                Some(place) => return Ok(Value::Choice(place)),
                None => did_you_mean(word, words.iter().map(String::as_str)),
            },
            Self::Number { .. } | Self::Whole { .. } => String::new(),
        };
        Err(self.refused(format!("\"{word}\""), hint))
    }

    /// The value of this kind nearest to one of a kind that was declared before; `None` where none is near.
    pub(crate) fn nearest(&self, value: &Value, was: Option<&Self>) -> Option<Value> {
        match (self, value) {
            (Self::Number { range: [low, high], .. }, value) => {
                let number = match value {
                    Value::Number(number) => *number,
                    Value::Whole(number) => *number as f64,
                    _ => return None,
                };
                Some(Value::Number(number.clamp(*low, *high)))
            }
            (Self::Whole { range: [low, high], .. }, Value::Whole(number)) => {
                Some(Value::Whole((*number).clamp(*low, *high)))
            }
            (Self::Whole { range: [low, high], .. }, Value::Number(number)) => {
                Some(Value::Whole((number.round() as i64).clamp(*low, *high)))
            }
            (Self::Colour, Value::Colour(_)) => Some(value.clone()),
            (Self::Choice(words), Value::Choice(place)) => {
                let word = match was {
                    Some(Self::Choice(before)) => before.get(*place)?,
                    _ => words.get(*place)?,
                };
                words.iter().position(|known| known == word).map(Value::Choice)
            }
            _ => None,
        }
    }

    /// The error for something that is neither a number nor a word.
    pub fn refused(&self, found: String, hint: String) -> ValueError {
        ValueError::Refused { found, allowed: self.allowed(), hint }
    }

    /// The value as it is read on screens and sheets: "90 %", "x 3", "45 degrees", "#ff8c33", "left-over-right".
    pub fn said(&self, value: &Value) -> String {
        match (self, value) {
            (Self::Number { unit, .. }, Value::Number(number)) => number_said(*number, unit, SAID_DECIMALS),
            (Self::Whole { unit, .. }, Value::Whole(number)) => number_said(*number as f64, unit, 0),
            (kind, value) => kind.written(value).trim_matches('"').to_owned(),
        }
    }

    /// The value as a person would write it in a file.
    pub fn written(&self, value: &Value) -> String {
        match (self, value) {
            (Self::Choice(words), Value::Choice(place)) if *place < words.len() => {
                format!("\"{}\"", words[*place])
            }
            (_, Value::Colour(colour)) => format!("\"{colour}\""),
            (_, value) => value.to_string(),
        }
    }
}

/// Digits behind the point with which a value is told at most: as many as the finest of suggestions has.
const SAID_DECIMALS: usize = 6;

/// A number with its unit as people read it, with so many digits behind the point at most: a share as per cent, a factor
/// behind its sign.
pub fn number_said(number: f64, unit: &str, decimals: usize) -> String {
    with_unit(number, unit, decimals, shortest)
}

/// The same with all its digits, so that it is as wide however it runs on.
pub fn number_said_in_full(number: f64, unit: &str, decimals: usize) -> String {
    with_unit(number, unit, decimals, |number, decimals| format!("{number:.decimals$}"))
}

fn with_unit(number: f64, unit: &str, decimals: usize, digits: impl Fn(f64, usize) -> String) -> String {
    match unit.strip_prefix("share") {
        Some(of) => format!("{} %{of}", digits(number * 100.0, decimals.saturating_sub(2))),
        None if unit == "times" => format!("x {}", digits(number, decimals)),
        None if unit.is_empty() => digits(number, decimals),
        None => format!("{} {unit}", digits(number, decimals)),
    }
}

/// A number with as few digits as say it, and so many behind the point at most.
pub fn shortest(number: f64, decimals: usize) -> String {
    let text = format!("{number:.decimals$}");
    let text = if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.') } else { &text };
    if text == "-0" { "0".to_owned() } else { text.to_owned() }
}

impl fmt::Display for Value {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Number(number) => write!(f, "{number}"),
            Self::Whole(number) => write!(f, "{number}"),
            Self::Colour(colour) => write!(f, "{colour}"),
            Self::Choice(place) => write!(f, "choice {place}"),
        }
    }
}

impl Value {
    /// The value as one number, where it is one.
    pub fn as_number(&self) -> Option<f64> {
        match self {
            Self::Number(number) => Some(*number),
            Self::Whole(number) => Some(*number as f64),
            Self::Choice(place) => Some(*place as f64),
            Self::Colour(_) => None,
        }
    }

    /// The bytes that a uniform takes, and the WGSL type that reads them.
    pub fn uniform(&self, pixels: PixelMode) -> (&'static str, Vec<u8>) {
        match self {
            Self::Number(number) => ("f32", (*number as f32).to_le_bytes().to_vec()),
            Self::Whole(number) => ("i32", (*number as i32).to_le_bytes().to_vec()),
            Self::Choice(place) => ("u32", (*place as u32).to_le_bytes().to_vec()),
            Self::Colour(colour) => {
                let channels = match pixels {
                    PixelMode::Encoded8Bit => colour.encoded(),
                    PixelMode::LinearFloat => colour.linear(),
                };
                ("vec3<f32>", channels.iter().flat_map(|c| (*c as f32).to_le_bytes()).collect())
            }
        }
    }
}

/// A value that the program works out in 64 bits, so that a shader never sees
/// a beat count that has outgrown its floats or an angle that an adapter rounds its own way.
#[derive(Debug, Clone, PartialEq)]
pub struct Derived {
    /// The member of `struct Settings`.
    pub name: String,
    /// How it is worked out, and from what.
    pub kind: DerivedKind,
}

/// A number that a derived value is made of: a setting, or a constant of the file.
#[derive(Debug, Clone, PartialEq)]
pub enum Input {
    /// The setting with this name.
    Setting(String),
    Constant(f64),
}

impl DerivedKind {
    /// Whether it is another at another beat while what it is made of stands.
    pub fn turns_with_the_beat(&self) -> bool {
        match self {
            Self::Gate { .. } | Self::Turn { .. } | Self::Due { .. } => true,
            Self::Texels { .. } | Self::Direction { .. } | Self::Fade { .. } => false,
        }
    }
}

/// The ways to derive a value.
#[derive(Debug, Clone, PartialEq)]
pub enum DerivedKind {
    /// `u32`: 1 while `fract(beats * rate + phase) < open`, else 0.
    Gate {
        /// Periods per beat.
        rate: Input,
        /// Periods at beat 0.
        phase: Input,
        /// Share of the period.
        open: Input,
    },
    /// `f32` in 0..1: `fract(beats * rate + phase)`.
    Turn {
        /// Periods per beat.
        rate: Input,
        /// Periods at beat 0.
        phase: Input,
    },
    /// `vec2i` in texels: `round(distance * width * (cos, sin) of angle)`, halves away from zero.
    Texels {
        /// Share of the frame's width.
        distance: Input,
        /// Degrees.
        angle: Input,
    },
    /// `vec2f`: `(cos, sin)` of an angle. A shader's own sine may be wrong by
    /// 1/2048 (Vulkan specification, precision of GLSL.std.450 instructions).
    Direction {
        /// Degrees.
        angle: Input,
    },
    /// `f32` in 0..1: what one frame leaves of what fades to a share over a beat,
    /// `left_a_beat ^ (beats a frame)`, rounded to 1/4096 (`faded.wgsl` says why).
    Fade {
        /// Share that is left after a beat.
        left_a_beat: Input,
    },
    /// `u32`: 1 at the first frame of all and at the first at or after each multiple of `every` beats,
    /// else 0; always 1 where `every` is 0.
    Due {
        /// Beats.
        every: Input,
    },
}

impl DerivedKind {
    /// The numbers that it is made of.
    pub fn inputs(&self) -> Vec<&Input> {
        match self {
            Self::Gate { rate, phase, open } => vec![rate, phase, open],
            Self::Turn { rate, phase } => vec![rate, phase],
            Self::Texels { distance, angle } => vec![distance, angle],
            Self::Direction { angle } => vec![angle],
            Self::Fade { left_a_beat } => vec![left_a_beat],
            Self::Due { every } => vec![every],
        }
    }

    /// The WGSL type of the member.
    pub fn uniform_type(&self) -> &'static str {
        match self {
            Self::Gate { .. } | Self::Due { .. } => "u32",
            Self::Turn { .. } | Self::Fade { .. } => "f32",
            Self::Texels { .. } => "vec2<i32>",
            Self::Direction { .. } => "vec2<f32>",
        }
    }

    /// Works it out at `moment`; `number` gives an input's value.
    pub fn at(&self, moment: &Moment, number: impl Fn(&Input) -> f64) -> DerivedValue {
        let turn = |rate, phase| turn_of(moment.beats, number(rate), number(phase));
        match self {
            Self::Gate { rate, phase, open } => DerivedValue::Gate(turn(rate, phase) < number(open)),
            Self::Turn { rate, phase } => DerivedValue::Turn(turn(rate, phase)),
            Self::Texels { distance, angle } => {
                let texels = number(distance) * f64::from(moment.frame.width);
                let (sin, cos) = exact_sin_cos(number(angle));
                DerivedValue::Texels([(texels * cos).round() as i32, (texels * sin).round() as i32])
            }
            Self::Direction { angle } => {
                let (sin, cos) = exact_sin_cos(number(angle));
                DerivedValue::Direction([cos, sin])
            }
            Self::Fade { left_a_beat } => {
                let left = number(left_a_beat).clamp(0.0, 1.0).powf(moment.beats_a_frame());
                DerivedValue::Fade((left * FADE_STEPS).round() / FADE_STEPS)
            }
            Self::Due { every } => {
                let every = number(every);
                // A beat that is a multiple may be a hair less, divided.
                let period = |moment: &Moment| (moment.beats / every + 1e-9).floor();
                let is_first = |before: Moment| period(&before) != period(moment);
                DerivedValue::Gate(every <= 0.0 || moment.before(1).is_none_or(is_first))
            }
        }
    }
}

/// Steps in which a fade is held.
const FADE_STEPS: f64 = 4096.0;

/// A derived value, ready for a uniform.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum DerivedValue {
    /// Whether the gate is open, or something due.
    Gate(bool),
    /// Where in its period a turn stands, 0..1.
    Turn(f64),
    /// Whole texels, across and down.
    Texels([i32; 2]),
    /// Cosine and sine.
    Direction([f64; 2]),
    /// What one frame leaves, 0..1.
    Fade(f64),
}

impl DerivedValue {
    /// The bytes that a uniform takes.
    pub fn bytes(self) -> Vec<u8> {
        match self {
            Self::Gate(open) => u32::from(open).to_le_bytes().to_vec(),
            // Largest float below 1, so that rounding never turns the end of a period into 1.
            Self::Turn(turn) => (turn as f32).min(1.0 - f32::EPSILON / 2.0).to_le_bytes().to_vec(),
            Self::Fade(left) => (left as f32).to_le_bytes().to_vec(),
            Self::Texels(offset) => offset.iter().flat_map(|t| t.to_le_bytes()).collect(),
            Self::Direction(ends) => ends.iter().flat_map(|end| (*end as f32).to_le_bytes()).collect(),
        }
    }

    /// The value as one number, where it is one.
    pub fn as_number(self) -> Option<f64> {
        match self {
            Self::Gate(open) => Some(f64::from(u8::from(open))),
            Self::Turn(number) | Self::Fade(number) => Some(number),
            Self::Texels(_) | Self::Direction(_) => None,
        }
    }
}

/// `fract(beats * rate + phase)` in 0..1, without losing digits to whole turns first.
fn turn_of(beats: f64, rate: f64, phase: f64) -> f64 {
    let turn = (beats * rate + phase).rem_euclid(1.0);
    if turn < 1.0 { turn } else { 0.0 }
}

/// Sine and cosine of an angle in degrees, exact at the quarter turns.
fn exact_sin_cos(degrees: f64) -> (f64, f64) {
    match degrees.rem_euclid(360.0) {
        0.0 => (0.0, 1.0),
        90.0 => (1.0, 0.0),
        180.0 => (0.0, -1.0),
        270.0 => (-1.0, 0.0),
        other => (other / 360.0 * TAU).sin_cos(),
    }
}

/// One condition under which an effect changes nothing, whatever the picture.
#[derive(Debug, Clone, PartialEq)]
pub struct Idle {
    /// The setting or derived value that decides.
    pub member: String,
    /// The value at which it does.
    pub is: f64,
    /// Why, as a clause: "no colour is mixed in".
    pub because: String,
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_gate_opens_on_time_after_a_day_of_playing() {
        // 174 BPM for 24 hours is 250,560 beats: a float would be good to 1/64 beat there.
        let day = 174.0 * 60.0 * 24.0;
        for (beats, open) in
            [(day, true), (day + 0.499_999, true), (day + 0.5, false), (day + 0.999_999, false)]
        {
            assert_eq!(turn_of(beats, 1.0, 0.0) < 0.5, open, "beat {beats}");
        }
    }

    #[test]
    fn numbers_are_shown_without_idle_digits() {
        for (number, text) in
            [(0.5, "0.5"), (2.0, "2"), (-0.00001, "0"), (0.33333333, "0.3333"), (120.0, "120")]
        {
            assert_eq!(shortest(number, 4), text);
        }
    }

    #[test]
    fn a_number_is_read_with_its_unit() {
        for (number, unit, text) in [
            (0.9, "share", "90 %"),
            (1.0, "share", "100 %"),
            (0.57, "share", "57 %"),
            (-0.0125, "share of width", "-1.25 % of width"),
            (3.0, "times", "x 3"),
            (45.0, "degrees", "45 degrees"),
            (2.0, "", "2"),
        ] {
            assert_eq!(number_said(number, unit, 4), text);
        }
    }

    #[test]
    fn quarter_turns_are_exact() {
        assert_eq!(exact_sin_cos(-90.0), (-1.0, 0.0));
        assert_eq!(exact_sin_cos(360.0), (0.0, 1.0));
    }
}
