//! Chains: effects in the order in which they are applied, each with its settings.

use std::sync::Arc;

use super::automation::{Automation, AutomationError, Fired};
use super::control::{Control, Grip};
use crate::base::frame::PixelMode;
use crate::beat::Moment;
use crate::catalogue::{
    DerivedKind, Effect, Idle, Input, Kind, Memory, Value, ValueError, frames_until_faded,
};

/// One effect in a chain, with a value for each of its settings.
#[derive(Debug, Clone)]
pub struct EffectUse {
    pub effect: Arc<Effect>,
    /// Whether it is switched on; off, it stays in its place and does nothing.
    pub on: bool,
    /// What the person calls it, where the effect's own name does not say enough.
    pub name: Option<String>,
    /// Its mark, where that is not its place in the chain; [`crate::order::marks`] gives every effect's.
    pub mark: Option<u32>,
    /// One for each of `effect.settings`, in that order.
    held: Vec<Held>,
    /// The control that switches it on and off.
    switch: Option<Box<Grip>>,
    /// What settings were set to that the effect's file had before it was changed; they may come back.
    aside: Vec<(String, Held)>,
}

/// What one setting is set to.
#[derive(Debug, Clone, PartialEq)]
struct Held {
    /// Its value; where it is automated, the value at beat 0.
    value: Value,
    /// How it moves with the beat.
    automation: Option<Box<Automation>>,
    /// The control that moves it.
    grip: Option<Box<Grip>>,
}

impl Held {
    fn at(&self, kind: &Kind, moment: &Moment) -> Value {
        match &self.automation {
            Some(automation) => automation.at(kind, moment.beats),
            None => self.value.clone(),
        }
    }
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
    /// The controls that hold something of them, or fire it: they come along when the chain is put.
    pub controls: Vec<Control>,
}

impl PartialEq for EffectUse {
    /// Same effect by name and file, same settings, same switch, called the same, and the same word on its mark.
    fn eq(&self, other: &Self) -> bool {
        self.is_alike(other) && self.mark == other.mark
    }
}

impl EffectUse {
    /// The effect at its defaults, switched on.
    pub fn new(effect: Arc<Effect>) -> Self {
        let held = |value: &Value| Held { value: value.clone(), automation: None, grip: None };
        let held = effect.settings.iter().map(|setting| held(&setting.default)).collect();
        Self { effect, on: true, name: None, mark: None, held, switch: None, aside: Vec::new() }
    }

    /// The same use of the effect as its file reads now: settings go by their names, and what they are set to
    /// stays as far as it is allowed; what happened to any other is added to `told`.
    pub fn rebound(&self, effect: &Arc<Effect>, told: &mut Vec<String>) -> Self {
        let mut new =
            Self { on: self.on, name: self.name.clone(), mark: self.mark, ..Self::new(Arc::clone(effect)) };
        new.switch.clone_from(&self.switch);
        let known =
            self.effect.settings.iter().map(|setting| setting.name.clone()).zip(self.held.iter().cloned());
        let mut before: Vec<(String, Held)> = known.chain(self.aside.iter().cloned()).collect();
        for (setting, held) in effect.settings.iter().zip(&mut new.held) {
            let Some(at) = before.iter().position(|(name, _)| *name == setting.name) else { continue };
            let (_, old) = before.remove(at);
            let was = self.effect.setting(&setting.name).map(|setting| &setting.kind);
            match setting.kind.nearest(&old.value, was) {
                Some(value) => {
                    if value != old.value && matches!(value, Value::Number(_) | Value::Whole(_)) {
                        told.push(format!(
                            "{}: `{}` went from {} to {}, as its range changed",
                            effect.name, setting.name, old.value, value
                        ));
                    }
                    held.value = value;
                }
                None => told.push(format!(
                    "{}: `{}` is of another kind now, and is at its default",
                    effect.name, setting.name
                )),
            }
            let moves = old.automation.as_deref().is_some_and(|moves| moves.check(&setting.kind).is_ok());
            let is_held = old.grip.as_deref().is_some_and(|grip| grip.check(&setting.kind).is_ok());
            if !moves && old.automation.is_some() || !is_held && old.grip.is_some() {
                told.push(format!("{}: `{}` no longer moves as it did", effect.name, setting.name));
            }
            held.automation = old.automation.filter(|_| moves);
            held.grip = old.grip.filter(|_| is_held);
        }
        for (name, _) in &before {
            if self.effect.setting(name).is_some() {
                told.push(format!(
                    "{}: `{name}` is gone; its value is kept aside until it comes back",
                    effect.name
                ));
            }
        }
        new.aside = before;
        new
    }

    /// Whether it does just what the other does, whatever both are called.
    pub fn is_twin(&self, other: &Self) -> bool {
        self.effect.is_same(&other.effect)
            && self.on == other.on
            && self.held == other.held
            && self.switch == other.switch
    }

    /// Whether it does just what the other does and is called the same, wherever both stand.
    pub fn is_alike(&self, other: &Self) -> bool {
        self.is_twin(other) && self.name == other.name
    }

    /// What the person calls it, otherwise the effect's own name.
    pub fn called(&self) -> &str {
        self.name.as_deref().unwrap_or(&self.effect.name)
    }

    /// The settings' values, in the order of the effect's declaration; of an automated one the value at beat 0.
    pub fn values(&self) -> impl ExactSizeIterator<Item = &Value> {
        self.held.iter().map(|held| &held.value)
    }

    /// The settings' values at `moment`, in the order of the effect's declaration.
    pub fn values_at(&self, moment: &Moment) -> Vec<Value> {
        let settings = self.effect.settings.iter().zip(&self.held);
        settings.map(|(setting, held)| held.at(&setting.kind, moment)).collect()
    }

    /// The value of the setting named, if the effect has it; of an automated one the value at beat 0.
    pub fn value(&self, name: &str) -> Option<&Value> {
        Some(&self.held[self.place(name)?].value)
    }

    /// The value of the setting named at `moment`, if the effect has it.
    pub fn value_at(&self, name: &str, moment: &Moment) -> Option<Value> {
        let place = self.place(name)?;
        Some(self.held[place].at(&self.effect.settings[place].kind, moment))
    }

    /// How the setting at `place` moves with the beat, if it does.
    pub fn automation(&self, place: usize) -> Option<&Automation> {
        self.held.get(place)?.automation.as_deref()
    }

    /// What a control holds of the setting at `place`, if one does.
    pub fn grip(&self, place: usize) -> Option<&Grip> {
        self.held.get(place)?.grip.as_deref()
    }

    /// What a control holds of whether it is on, if one does.
    pub fn switch_grip(&self) -> Option<&Grip> {
        self.switch.as_deref()
    }

    /// Gives a control hold of whether it is on, or takes the hold away.
    pub(crate) fn hold_switch(&mut self, grip: Option<Grip>) {
        self.switch = grip.map(Box::new);
    }

    /// All that controls hold of it.
    pub fn grips(&self) -> impl Iterator<Item = &Grip> {
        self.switch.iter().chain(self.held.iter().filter_map(|held| held.grip.as_ref())).map(Box::as_ref)
    }

    /// The controls that hold something of it, or fire one of its envelopes, each as often as it does.
    pub fn controls(&self) -> impl Iterator<Item = &str> {
        let held = self.grips().map(|grip| grip.control.as_str());
        held.chain((0..self.held.len()).filter_map(|place| self.automation(place)?.fired_by()))
    }

    /// Whether a control fires one of its envelopes.
    pub fn fires(&self, control: &str) -> bool {
        (0..self.held.len())
            .any(|place| self.automation(place).and_then(Automation::fired_by) == Some(control))
    }

    /// Lets every control go of it but those named.
    pub fn keep_grips(&mut self, is_kept: impl Fn(&str) -> bool) {
        let grips = [&mut self.switch].into_iter().chain(self.held.iter_mut().map(|held| &mut held.grip));
        for grip in grips {
            if grip.as_ref().is_some_and(|grip| !is_kept(&grip.control)) {
                *grip = None;
            }
        }
    }

    /// Lets what controls hold of it, and fire, follow these to their new names; to none, it is let go and stays at
    /// rest.
    pub(crate) fn follow_controls(&mut self, now: impl Fn(&str) -> Option<String>) {
        let grips = [&mut self.switch].into_iter().chain(self.held.iter_mut().map(|held| &mut held.grip));
        for grip in grips {
            if let Some(held) = grip {
                match now(&held.control) {
                    Some(control) => held.control = control,
                    None => *grip = None,
                }
            }
        }
        for held in &mut self.held {
            let Some(Automation::Envelope { envelope, .. }) = held.automation.as_deref_mut() else {
                continue;
            };
            let Fired::By(control) = &mut envelope.fired else { continue };
            match now(control) {
                Some(called) => *control = called,
                None => held.automation = None,
            }
        }
    }

    fn place(&self, name: &str) -> Option<usize> {
        self.effect.settings.iter().position(|setting| setting.name == name)
    }

    /// Sets one setting from a number, checked against its range.
    ///
    /// # Errors
    /// [`ValueError`] if the number is no value of that setting.
    ///
    /// # Panics
    /// If `place` is no place in `effect.settings`.
    pub fn set_number(&mut self, place: usize, number: f64) -> Result<(), ValueError> {
        self.fix(place, self.effect.settings[place].kind.number(number)?);
        Ok(())
    }

    /// Sets one setting from a word (a colour or a choice), like [`Self::set_number`].
    ///
    /// # Errors
    /// [`ValueError`] if the word is no value of that setting.
    pub fn set_word(&mut self, place: usize, word: &str) -> Result<(), ValueError> {
        self.fix(place, self.effect.settings[place].kind.word(word)?);
        Ok(())
    }

    /// Sets one setting to a value that it takes; it no longer moves with the beat.
    pub(crate) fn fix(&mut self, place: usize, value: Value) {
        self.held[place].value = value;
        self.held[place].automation = None;
    }

    /// Lets one setting move with the beat.
    ///
    /// # Errors
    /// [`AutomationError`] if the setting cannot move so.
    ///
    /// # Panics
    /// If `place` is no place in `effect.settings`.
    pub fn automate(&mut self, place: usize, automation: Automation) -> Result<(), AutomationError> {
        let kind = &self.effect.settings[place].kind;
        automation.check(kind)?;
        self.held[place].value = automation.at(kind, 0.0);
        self.held[place].automation = Some(Box::new(automation));
        Ok(())
    }

    /// Ends the movement of one setting, which keeps its value at beat 0.
    ///
    /// # Panics
    /// If `place` is no place in `effect.settings`.
    pub fn stand(&mut self, place: usize) {
        self.held[place].automation = None;
    }

    /// Gives a control hold of one setting, or takes the hold away.
    ///
    /// # Errors
    /// [`AutomationError`] if the setting cannot be moved between these values.
    ///
    /// # Panics
    /// If `place` is no place in `effect.settings`.
    pub fn hold(&mut self, place: usize, grip: Option<Grip>) -> Result<(), AutomationError> {
        if let Some(grip) = &grip {
            grip.check(&self.effect.settings[place].kind)?;
        }
        self.held[place].grip = grip.map(Box::new);
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
        if !self.effect.is_trusted() {
            return None;
        }
        let holds = |idle: &&Idle| self.member(&idle.member, moment) == Some(idle.is);
        self.effect.idle.iter().find(holds).map(|idle| idle.because.clone())
    }

    /// Whether it does not do the same at every beat though its settings stand: a gate opens and shuts, a phase turns.
    pub fn turns_with_the_beat(&self) -> bool {
        self.on && self.effect.derived.iter().any(|derived| derived.kind.turns_with_the_beat())
    }

    /// Whether it changes nothing at `moment` for a reason that holds at every beat while its settings stand.
    pub fn is_idle_for_good(&self, moment: &Moment) -> bool {
        let turns = |name: &str| {
            let derived = self.effect.derived.iter().find(|derived| derived.name == name);
            derived.is_some_and(|derived| derived.kind.turns_with_the_beat())
        };
        let holds = |idle: &Idle| !turns(&idle.member) && self.member(&idle.member, moment) == Some(idle.is);
        !self.on || self.effect.is_trusted() && self.effect.idle.iter().any(holds)
    }

    /// The effect's declared idle states that it is in at `moment`, by their places, confirmed or not.
    pub(crate) fn idle_states(&self, moment: &Moment) -> Vec<usize> {
        let holds = |&nth: &usize| {
            let idle = &self.effect.idle[nth];
            self.member(&idle.member, moment) == Some(idle.is)
        };
        (0..self.effect.idle.len()).filter(holds).collect()
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
            // The last frame of a fade is the one of which nothing is left. Where the fade moves with
            // the beat, the slowest of all that are looked back at counts.
            Memory::Fades(keep) => {
                let (mut frames, mut slowest) = (0, 0.0_f64);
                let mut looked_at = 0;
                while looked_at <= frames {
                    let Some(moment) = moment.before(looked_at) else { break };
                    slowest = slowest.max(self.member(keep, &moment).unwrap_or(0.0));
                    frames = frames_until_faded(slowest, moment.pixels) - 1;
                    looked_at = if self.is_automated() { looked_at + 1 } else { frames + 1 };
                }
                frames
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
        let Some(memory) = self.effect.memory.as_ref().filter(|_| self.on) else { return 0 };
        let derived = self.effect.derived.iter().find(|derived| derived.name == memory.member());
        let most = |input: &Input| match input {
            Input::Setting(name) => self.most(name),
            Input::Constant(constant) => *constant,
        };
        match derived.map(|derived| &derived.kind) {
            Some(kind @ DerivedKind::Fade { .. }) => {
                let keep = kind.at(moment, most).as_number().unwrap_or(0.0);
                frames_until_faded(keep, moment.pixels) - 1
            }
            // Between two frames at which something is due lie at most a period and the frame that it
            // begins in.
            Some(DerivedKind::Due { every }) => {
                let frames = (most(every) / moment.beats_a_frame()).ceil().max(0.0);
                (frames as u64).min(MOST_FRAMES_HELD)
            }
            _ => 0,
        }
    }

    /// The largest number that a setting may have at any moment: its own, unless it moves with the beat.
    fn most(&self, name: &str) -> f64 {
        let Some(place) = self.place(name) else { return 0.0 };
        match self.effect.settings[place].kind {
            Kind::Number { range: [_, most], .. } if self.held[place].automation.is_some() => most,
            Kind::Whole { range: [_, most], .. } if self.held[place].automation.is_some() => most as f64,
            _ => self.held[place].value.as_number().unwrap_or(0.0),
        }
    }

    /// Whether a setting moves with the beat.
    pub fn is_automated(&self) -> bool {
        self.held.iter().any(|held| held.automation.is_some())
    }

    /// The settings that differ from their defaults, as a person would say them: `gain 1.5`, `gain sine 0.5 to 2 over 4 beats`.
    pub fn written_changes(&self) -> Vec<String> {
        self.effect
            .settings
            .iter()
            .zip(&self.held)
            .filter(|(setting, held)| held.automation.is_some() || setting.default != held.value)
            .map(|(setting, held)| {
                let word = |value: &Value| setting.kind.written(value).trim_matches('"').to_owned();
                let said = held.automation.as_ref().map(|automation| automation.in_words(word));
                format!("{} {}", setting.name, said.unwrap_or_else(|| word(&held.value)))
            })
            .collect()
    }

    fn number(&self, input: &Input, moment: &Moment) -> f64 {
        match input {
            Input::Constant(constant) => *constant,
            Input::Setting(name) => {
                self.value_at(name, moment).and_then(|value| value.as_number()).unwrap_or(0.0)
            }
        }
    }

    fn member(&self, name: &str, moment: &Moment) -> Option<f64> {
        if let Some(value) = self.value_at(name, moment) {
            return value.as_number();
        }
        let derived = self.effect.derived.iter().find(|d| d.name == name)?;
        derived.kind.at(moment, |input| self.number(input, moment)).as_number()
    }

    fn uniform(&self, moment: &Moment) -> Vec<u8> {
        let mut bytes = vec![0; self.effect.layout.size as usize];
        for (name, offset, _) in &self.effect.layout.members {
            let member = if let Some(value) = self.value_at(name, moment) {
                value.uniform(moment.pixels).1
            } else if let Some(derived) = self.effect.derived.iter().find(|d| &d.name == name) {
                derived.kind.at(moment, |input| self.number(input, moment)).bytes()
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
        self.effect.is_same(&other.effect) && self.uniform == other.uniform && self.past == other.past
    }
}

/// "edge-find, then tint": a chain as one reads it aloud.
pub fn one_after_another<'a>(names: impl IntoIterator<Item = &'a str>) -> String {
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
