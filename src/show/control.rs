//! Controls: who plays them, with what, and how they move the settings that they hold.

use std::fmt;
use std::str::FromStr;

use super::automation::{AutomationError, between, check_value};
use super::cue::Cue;
use crate::base::coding::ColourCode;
use crate::base::words::words;
use crate::catalogue::{Kind, Value};
use crate::midi::Binding;

/// Most controls of a show: as many as two hands find in the dark.
pub const MOST_CONTROLS: usize = 8;

/// Something that a hand plays.
#[derive(Debug, Clone, PartialEq)]
pub struct Control {
    /// Unique in the show.
    pub name: String,
    /// The hand that plays it.
    pub hand: Hand,
    /// How it answers.
    pub kind: ControlKind,
    /// The key of the keyboard that plays it.
    pub key: Option<Key>,
    /// What plays it through MIDI.
    pub midi: Option<Binding>,
    /// When it is meant to be played.
    pub cue: Option<Cue>,
    /// What a person tells it by.
    pub colour: Option<ColourCode>,
    /// Where it lies on the device: column from the left, row from the far side, both from 1.
    pub at: Option<[u32; 2]>,
}

/// Columns and rows that are counted on a device.
pub const MOST_PLACES: u32 = 32;
/// How long a hand takes from one control to another, in milliseconds, where a show says nothing (common practice, no
/// source).
pub const USUAL_REACH_MS: f64 = 250.0;
/// The shortest and the longest that it may say.
pub const REACH_MS: [f64; 2] = [0.0, 10_000.0];

impl Control {
    /// One that moves nothing yet.
    pub fn of(name: &str, hand: Hand, kind: ControlKind) -> Self {
        Self { name: name.to_owned(), hand, kind, key: None, midi: None, cue: None, colour: None, at: None }
    }

    /// Whether it lies next to another, so that one hand plays both: side by side, one above the other, or across a
    /// corner. Nobody knows where one of them says nothing.
    pub fn lies_next_to(&self, other: &Self) -> Option<bool> {
        let ([column, row], [c, r]) = (self.at?, other.at?);
        Some(column.abs_diff(c) <= 1 && row.abs_diff(r) <= 1)
    }
}

words! {
    /// The hand that plays a control.
    #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
    pub enum Hand {
        /// The left one.
        Left = "left",
        /// The right one.
        Right = "right",
        /// Whichever is free.
        Either = "either",
    }
}

words! {
    /// How a control answers.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    pub enum ControlKind {
        /// On while it is pressed; let go, its settings are as the show sets them.
        Momentary = "momentary",
        /// Pressed once it is on, pressed again it lets its settings go.
        Latching = "latching",
        /// Stands anywhere from 0 to 1, and stays there.
        Continuous = "continuous",
    }
}

/// A key of the keyboard: one of A to Z and 0 to 9.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Key(char);

impl fmt::Display for Key {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}", self.0)
    }
}

impl FromStr for Key {
    type Err = ();

    fn from_str(text: &str) -> Result<Self, ()> {
        let mut characters = text.chars();
        match (characters.next(), characters.next()) {
            (Some(c), None) if c.is_ascii_alphanumeric() => Ok(Self(c.to_ascii_uppercase())),
            _ => Err(()),
        }
    }
}

/// What a control holds of a thing that it moves: the range over which it moves it, and how.
#[derive(Debug, Clone, PartialEq)]
pub struct Grip {
    /// The control's name.
    pub control: String,
    /// The thing's value where the control stands at 0; words that a button gives have only the other end.
    pub low: Value,
    /// The thing's value where the control stands at 1.
    pub high: Value,
    /// How the way between is shared out.
    pub curve: Curve,
}

impl Grip {
    /// The thing's value where the control stands at `position`, 0..1. Of words each of those from one end to the other
    /// has an equal share of the way.
    pub fn at(&self, kind: &Kind, position: f64) -> Value {
        let share = self.curve.at(position.clamp(0.0, 1.0));
        match (&self.low, &self.high) {
            (&Value::Choice(low), &Value::Choice(high)) => {
                let words = low.abs_diff(high);
                let nth = ((share * (words + 1) as f64) as usize).min(words);
                Value::Choice(if low < high { low + nth } else { low - nth })
            }
            (low, high) => between(kind, low, high, share),
        }
    }

    /// From where to where the control stands, 0..1, if the thing has this value; the nearest end where it lies outside.
    /// None where the value does not tell: of a colour, or where both ends are the same.
    pub fn positions(&self, value: &Value) -> Option<[f64; 2]> {
        let [low, high, value_at] = [&self.low, &self.high, value].map(Value::as_number);
        let share = (value_at? - low?) / (high? - low?);
        if !share.is_finite() {
            return None;
        }
        let share = share.clamp(0.0, 1.0);
        let ends = match value {
            Value::Choice(_) => {
                let words = (high? - low?).abs() + 1.0;
                let nth = (share * (words - 1.0)).round();
                [nth / words, (nth + 1.0) / words]
            }
            _ => [share; 2],
        };
        Some(ends.map(|end| self.curve.inverse(end)))
    }

    /// Whether a thing of this kind can be moved so.
    ///
    /// # Errors
    /// [`AutomationError`] with what is allowed.
    pub fn check(&self, kind: &Kind) -> Result<(), AutomationError> {
        check_value(kind, &self.low)?;
        check_value(kind, &self.high)
    }
}

words! {
    /// How the way from 0 to 1 is shared out over a control's own way.
    #[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
    pub enum Curve {
        /// `t`.
        #[default]
        Linear = "linear",
        /// `t^2`: slow at first.
        EaseIn = "ease-in",
        /// `1 - (1 - t)^2`: slow at the end.
        EaseOut = "ease-out",
        /// `t^2 (3 - 2 t)`: slow at both ends.
        SCurve = "s-curve",
    }
}

impl Curve {
    /// The share of the way at `t`, both 0..1.
    pub fn at(self, t: f64) -> f64 {
        match self {
            Self::Linear => t,
            Self::EaseIn => t * t,
            Self::EaseOut => 1.0 - (1.0 - t) * (1.0 - t),
            Self::SCurve => t * t * (3.0 - 2.0 * t),
        }
    }

    /// The `t` at which the share of the way is `share`, both 0..1.
    pub fn inverse(self, share: f64) -> f64 {
        match self {
            Self::Linear => share,
            Self::EaseIn => share.sqrt(),
            Self::EaseOut => 1.0 - (1.0 - share).sqrt(),
            // The root in 0..1 of a cubic with three real roots, by the cosine of a third of an angle.
            Self::SCurve => (0.5 - ((1.0 - 2.0 * share).asin() / 3.0).sin()).clamp(0.0, 1.0),
        }
    }
}

/// Why a list of controls was refused.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ControlError {
    /// The control, by its place.
    pub control: usize,
    /// The key of its file entry that is at fault.
    pub key: &'static str,
    /// What is wrong, and what would be right.
    pub message: String,
}

impl fmt::Display for ControlError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.message)
    }
}

impl std::error::Error for ControlError {}

/// Whether these controls can be those of one show.
///
/// # Errors
/// [`ControlError`] where there are too many, or two share a name, a key or a MIDI binding, or a
/// continuous control is bound to something that is only on or off.
pub fn check(controls: &[Control]) -> Result<(), ControlError> {
    for (at, control) in controls.iter().enumerate() {
        let wrong = |key, message| Err(ControlError { control: at, key, message });
        if at >= MOST_CONTROLS {
            let message = format!("this is control {}; a show takes at most {MOST_CONTROLS}", at + 1);
            return wrong("name", message);
        }
        let continuous = control.kind == ControlKind::Continuous;
        if let (true, Some(key)) = (continuous, control.key) {
            return wrong(
                "key",
                format!(
                    "the key `{key}` is only up or down, and a continuous control stands anywhere; bind it through `midi`, or make it momentary or latching"
                ),
            );
        }
        if let (true, Some(Binding::Note { .. })) = (continuous, control.midi) {
            return wrong(
                "midi",
                "a note is only on or off, and a continuous control stands anywhere; bind it to a `controller` or to the `bend`".to_owned(),
            );
        }
        for other in &controls[..at] {
            if other.name == control.name {
                return wrong(
                    "name",
                    format!("a control named \"{}\" is already there; give each its own name", control.name),
                );
            }
            if let (Some(key), true) = (control.key, control.key == other.key) {
                return wrong("key", format!("the key `{key}` already plays \"{}\"", other.name));
            }
            if let (Some(midi), Some(theirs)) = (control.midi, other.midi)
                && midi.meets(theirs)
            {
                return wrong("midi", format!("{midi} already plays \"{}\"", other.name));
            }
            if let (Some([column, row]), true) = (control.at, control.at == other.at) {
                let there = format!("column {column}, row {row} is where \"{}\" lies", other.name);
                return wrong("at", format!("{there}; give each its own place"));
            }
        }
    }
    Ok(())
}
