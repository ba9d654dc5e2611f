//! Chains: effects in the order in which they are applied, each with its settings.

use std::sync::Arc;

use crate::catalogue::{Effect, Idle, Input, Kind, Value, ValueError};
use crate::frame::Moment;

/// One effect in a chain, with a value for each of its settings.
#[derive(Debug, Clone)]
pub struct EffectUse {
    /// The effect.
    pub effect: Arc<Effect>,
    /// Whether it is switched on; off, it stays in its place and does nothing.
    pub on: bool,
    /// What the person calls it, where the effect's own name does not say enough.
    pub name: Option<String>,
    /// One value for each of `effect.settings`, in that order.
    values: Vec<Value>,
}

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
    /// Same effect by name, same settings, same switch, and called the same.
    fn eq(&self, other: &Self) -> bool {
        self.is_twin(other) && self.name == other.name
    }
}

impl EffectUse {
    /// The effect at its defaults, switched on.
    pub fn new(effect: Arc<Effect>) -> Self {
        let values = effect.settings.iter().map(|setting| setting.default.clone()).collect();
        Self { effect, on: true, name: None, values }
    }

    /// Whether it does just what the other does, whatever both are called.
    pub fn is_twin(&self, other: &Self) -> bool {
        self.effect.name == other.effect.name && self.on == other.on && self.values == other.values
    }

    /// What the person calls it, otherwise the effect's own name.
    pub fn called(&self) -> &str {
        self.name.as_deref().unwrap_or(&self.effect.name)
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
        EffectCall { effect: Arc::clone(&self.effect), uniform: self.uniform(moment) }
    }

    /// Why the effect changes no picture at `moment`, if its settings alone say so.
    pub fn idle_because(&self, moment: &Moment) -> Option<String> {
        if !self.on {
            return Some("it is switched off".to_owned());
        }
        let holds = |idle: &&Idle| self.member(&idle.member, moment) == Some(idle.is);
        self.effect.idle.iter().find(holds).map(|idle| idle.because.clone())
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
}

impl PartialEq for EffectCall {
    fn eq(&self, other: &Self) -> bool {
        self.effect.name == other.effect.name && self.uniform == other.uniform
    }
}

/// "edge-find, then tint": a chain as one reads it aloud.
pub fn said<'a>(names: impl IntoIterator<Item = &'a str>) -> String {
    let names: Vec<&str> = names.into_iter().collect();
    if names.is_empty() { "no effect".to_owned() } else { names.join(", then ") }
}

/// The chain's effects as they are called; where a name stands more than once, with its place among its
/// twins: `tint 2`. No two are alike.
pub fn labels(chain: &[EffectUse]) -> Vec<String> {
    let name = |at: usize| chain[at].called();
    let mut labels: Vec<String> = (0..chain.len())
        .map(|at| {
            let same: Vec<usize> = (0..chain.len()).filter(|&other| name(other) == name(at)).collect();
            match same.iter().position(|&other| other == at) {
                Some(nth) if same.len() > 1 => format!("{} {}", name(at), nth + 1),
                _ => name(at).to_owned(),
            }
        })
        .collect();
    // Someone may have called another effect `tint 2`: the number goes on until it is free.
    for at in 0..labels.len() {
        if labels[..at].contains(&labels[at]) {
            let free = (2..).map(|number| format!("{} {number}", name(at)));
            if let Some(free) = free.into_iter().find(|free| !labels.contains(free)) {
                labels[at] = free;
            }
        }
    }
    labels
}

/// What a number setting is measured in, for people.
pub fn unit_of(kind: &Kind) -> &str {
    match kind {
        Kind::Number { unit, .. } | Kind::Whole { unit, .. } => unit,
        Kind::Colour => "sRGB",
        Kind::Choice(_) => "",
    }
}
