//! Chains: effects in the order in which they are applied, each with its settings.

use std::sync::Arc;

use crate::catalogue::{Effect, Idle, Input, Kind, Memory, Value, ValueError, frames_until_faded};
use crate::frame::{Moment, PixelMode};

/// One effect in a chain, with a value for each of its settings.
#[derive(Debug, Clone)]
pub struct EffectUse {
    /// The effect.
    pub effect: Arc<Effect>,
    /// Whether it is switched on; off, it stays in its place and does nothing.
    pub on: bool,
    /// One value for each of `effect.settings`, in that order.
    values: Vec<Value>,
}

/// Frames that an effect holds its picture at most.
pub const MOST_FRAMES_HELD: u64 = 36_000;

/// Effects in the order applied: the first is under all others.
pub type Chain = Vec<EffectUse>;

/// A named chain with words to find it by: the content of a chain file.
#[derive(Debug, Clone, PartialEq)]
pub struct Preset {
    /// What the person calls it.
    pub name: String,
    /// A sentence or two on what it is for.
    pub about: String,
    /// Words to find it by.
    pub tags: Vec<String>,
    /// The effects.
    pub chain: Chain,
}

impl PartialEq for EffectUse {
    /// Same effect by name, same settings, same switch.
    fn eq(&self, other: &Self) -> bool {
        self.effect.name == other.effect.name && self.on == other.on && self.values == other.values
    }
}

impl EffectUse {
    /// The effect at its defaults, switched on.
    pub fn new(effect: Arc<Effect>) -> Self {
        let values = effect.settings.iter().map(|setting| setting.default.clone()).collect();
        Self { effect, on: true, values }
    }

    /// The settings' values, in the order of the effect's declaration.
    pub fn values(&self) -> &[Value] {
        &self.values
    }

    /// The value of the setting named, if the effect has it.
    pub fn value(&self, name: &str) -> Option<&Value> {
        let place = self.effect.settings.iter().position(|setting| setting.name == name)?;
        Some(&self.values[place])
    }

    /// Sets one setting from a number, checked against its range.
    ///
    /// # Errors
    /// [`ValueError`] if the number is no value of that setting.
    ///
    /// # Panics
    /// If `place` is no place in `effect.settings`.
    pub fn set_number(&mut self, place: usize, number: f64) -> Result<(), ValueError> {
        self.values[place] = self.effect.settings[place].kind.number(number)?;
        Ok(())
    }

    /// Sets one setting from a word (a colour or a choice), like [`Self::set_number`].
    ///
    /// # Errors
    /// [`ValueError`] if the word is no value of that setting.
    pub fn set_word(&mut self, place: usize, word: &str) -> Result<(), ValueError> {
        self.values[place] = self.effect.settings[place].kind.word(word)?;
        Ok(())
    }

    /// The effect ready to render at `moment`.
    pub fn call(&self, moment: &Moment) -> EffectCall {
        EffectCall { effect: Arc::clone(&self.effect), uniform: self.uniform(moment), past: None }
    }

    /// Why the effect changes no picture at `moment`, if its settings alone say so.
    pub fn idle_because(&self, moment: &Moment) -> Option<String> {
        if !self.on {
            return Some("it is switched off".to_owned());
        }
        let holds = |idle: &&Idle| self.member(&idle.member, moment) == Some(idle.is);
        self.effect.idle.iter().find(holds).map(|idle| idle.because.clone())
    }

    /// Whether it remembers at all, and is on.
    pub fn remembers(&self) -> bool {
        self.on && self.effect.memory.is_some()
    }

    /// Whether what it keeps may change at `moment`.
    pub fn takes_in(&self, moment: &Moment) -> bool {
        match self.effect.memory.as_ref().filter(|_| self.on) {
            None => false,
            Some(Memory::Fades(_) | Memory::Renewed(_)) => true,
            Some(Memory::Held(is_due)) => self.member(is_due, moment) == Some(1.0),
        }
    }

    /// How many frames before `moment` it looks back at: 0 where it remembers nothing, or is off.
    pub fn frames_remembered(&self, moment: &Moment) -> u64 {
        let Some(memory) = self.effect.memory.as_ref().filter(|_| self.on) else { return 0 };
        match memory {
            // The last frame of a fade is the one of which nothing is left.
            Memory::Fades(keep) => {
                let keep = self.member(keep, moment).unwrap_or(0.0);
                frames_until_faded(keep, moment.pixels) - 1
            }
            Memory::Renewed(is_due) | Memory::Held(is_due) => {
                let is_due = |moment: Moment| self.member(is_due, &moment) == Some(1.0);
                let held = (0..MOST_FRAMES_HELD).find(|&back| moment.before(back).is_none_or(is_due));
                held.unwrap_or(MOST_FRAMES_HELD)
            }
        }
    }

    /// The most frames that it looks back at from any moment of the tempo and rate of this one.
    pub fn most_frames_remembered(&self, moment: &Moment) -> u64 {
        // Between two frames at which something is due lie at most a period and the frame that it begins in.
        match self.effect.derived_input(self.effect.memory.as_ref().map(Memory::member)) {
            Some(every) if self.on => {
                let frames = self.number(every) / moment.beats_a_frame();
                (frames.ceil().max(0.0) as u64).min(MOST_FRAMES_HELD)
            }
            _ => self.frames_remembered(moment),
        }
    }

    /// The settings that differ from their defaults, as a person would write them: `gain 1.5`.
    pub fn written_changes(&self) -> Vec<String> {
        self.effect
            .settings
            .iter()
            .zip(&self.values)
            .filter(|(setting, value)| setting.default != **value)
            .map(|(setting, value)| {
                format!("{} {}", setting.name, setting.kind.written(value).trim_matches('"'))
            })
            .collect()
    }

    fn number(&self, input: &Input) -> f64 {
        match input {
            Input::Constant(constant) => *constant,
            Input::Setting(name) => self.value(name).and_then(Value::as_number).unwrap_or(0.0),
        }
    }

    fn member(&self, name: &str, moment: &Moment) -> Option<f64> {
        if let Some(value) = self.value(name) {
            return value.as_number();
        }
        let derived = self.effect.derived.iter().find(|d| d.name == name)?;
        derived.kind.at(moment, |input| self.number(input)).as_number()
    }

    fn uniform(&self, moment: &Moment) -> Vec<u8> {
        let mut bytes = vec![0; self.effect.layout.size as usize];
        for (name, offset, _) in &self.effect.layout.members {
            let member = if let Some(value) = self.value(name) {
                value.uniform(moment.pixels).1
            } else if let Some(derived) = self.effect.derived.iter().find(|d| &d.name == name) {
                derived.kind.at(moment, |input| self.number(input)).bytes()
            } else {
                continue;
            };
            let offset = *offset as usize;
            bytes[offset..offset + member.len()].copy_from_slice(&member);
        }
        bytes
    }
}

/// An effect with the bytes that its shader reads: what a plan holds of it.
#[derive(Debug, Clone)]
pub struct EffectCall {
    /// The effect.
    pub effect: Arc<Effect>,
    /// The uniform, `effect.layout.size` bytes.
    pub uniform: Vec<u8>,
    /// Where its last output is kept from frame to frame, if it remembers.
    pub past: Option<PastId>,
}

/// Tells the effects on one path that remember apart: each keeps its own last output.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct PastId {
    /// Whose chain it is in: a place in the show's list of scopes; none for the chain whose orders are
    /// explored.
    pub chain: Option<usize>,
    /// Its place there.
    pub place: usize,
}

impl EffectCall {
    /// Whether what it gives depends on its last output, and if so on how many frames before its own
    /// altogether, as far as its settings at this moment say: without end, where they say that something
    /// older may be left.
    pub fn remembered(&self, pixels: PixelMode) -> Option<u64> {
        self.past?;
        let memory = self.effect.memory.as_ref()?;
        let member = self.effect.layout.members.iter().find(|(name, ..)| name == memory.member());
        let at = member.map_or(0, |(_, offset, _)| *offset as usize);
        let word = self.uniform.get(at..at + 4).map_or([0; 4], |word| [word[0], word[1], word[2], word[3]]);
        Some(match memory {
            Memory::Fades(_) => frames_until_faded(f64::from(f32::from_le_bytes(word)), pixels) - 1,
            Memory::Renewed(_) | Memory::Held(_) if u32::from_le_bytes(word) == 1 => 0,
            Memory::Renewed(_) | Memory::Held(_) => u64::MAX,
        })
    }
}

impl EffectCall {
    /// Whether it gives its last output, whatever the picture.
    pub fn is_held(&self) -> bool {
        matches!(self.effect.memory, Some(Memory::Held(_))) && self.remembered(PixelMode::default()) > Some(0)
    }
}

impl PartialEq for EffectCall {
    fn eq(&self, other: &Self) -> bool {
        self.effect.name == other.effect.name && self.uniform == other.uniform && self.past == other.past
    }
}

/// "edge-find, then tint": a chain as one reads it aloud.
pub fn said<'a>(names: impl IntoIterator<Item = &'a str>) -> String {
    let names: Vec<&str> = names.into_iter().collect();
    if names.is_empty() { "no effect".to_owned() } else { names.join(", then ") }
}

/// The chain's effects by name; where a name stands more than once, with its place among its twins: `tint 2`.
pub fn labels(chain: &[EffectUse]) -> Vec<String> {
    let name = |at: usize| chain[at].effect.name.as_str();
    (0..chain.len())
        .map(|at| {
            let same: Vec<usize> = (0..chain.len()).filter(|&other| name(other) == name(at)).collect();
            match same.iter().position(|&other| other == at) {
                Some(nth) if same.len() > 1 => format!("{} {}", name(at), nth + 1),
                _ => name(at).to_owned(),
            }
        })
        .collect()
}

/// What a number setting is measured in, for people.
pub fn unit_of(kind: &Kind) -> &str {
    match kind {
        Kind::Number { unit, .. } | Kind::Whole { unit, .. } => unit,
        Kind::Colour => "sRGB",
        Kind::Choice(_) => "",
    }
}
