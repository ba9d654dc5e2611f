//! What controls move: one kind of thing, be it a setting, a switch, an opacity, a clip or the section.

use super::automation::AutomationError;
use super::chain::{Chain, labels};
use super::control::{Control, Grip, USUAL_REACH_MS};
use super::{Scope, Show};
use crate::base::frame::{Frame, PixelMode};
use crate::beat::FrameRate;
use crate::catalogue::{Kind, Value};

/// Something that a control moves.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Target {
    /// A setting of an effect: the effect by its place in the chain, the setting by its place in the declaration.
    Setting { scope: Scope, at: usize, place: usize },
    /// Whether an effect is on.
    Switch { scope: Scope, at: usize },
    /// The opacity of a bundle or a level.
    Opacity(Scope),
    /// Which clip of a level shows: the places of its bundle and itself.
    Showing([usize; 2]),
    /// Which section plays.
    Section,
}

/// Which section a control calls.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum SectionCall {
    /// The one after the section that plays.
    Next,
    /// The one before it.
    Previous,
    /// This one, by its place.
    Section(usize),
}

/// The words for a section that is called by where it stands to the one that plays.
const BY_TURN: [&str; 2] = ["next", "previous"];
/// What a section's name may open with, so that one may be called `next`.
const BY_NAME: &str = "section:";
/// What is gripped of things that are no effect, as their own keys in files are called.
const OPACITY: &str = "opacity";
const SHOWING: &str = "showing";
const SECTION: &str = "section";
/// And of an effect beside its settings.
const ON: &str = "on";
/// What an effect is, by its switch.
const SWITCHED: [&str; 2] = ["off", "on"];

impl SectionCall {
    /// What a value of [`Target::Section`] calls.
    pub fn of(value: &Value) -> Option<Self> {
        match value {
            Value::Choice(0) => Some(Self::Next),
            Value::Choice(1) => Some(Self::Previous),
            Value::Choice(place) => Some(Self::Section(place - BY_TURN.len())),
            _ => None,
        }
    }

    /// The value that calls it.
    pub fn value(self) -> Value {
        Value::Choice(match self {
            Self::Next => 0,
            Self::Previous => 1,
            Self::Section(place) => place + BY_TURN.len(),
        })
    }

    /// The place that is called, of so many that stand in a row, where the one at `now` plays; the ends stay.
    pub fn place(self, now: usize, count: usize) -> usize {
        let last = count.saturating_sub(1);
        match self {
            Self::Next => (now + 1).min(last),
            Self::Previous => now.saturating_sub(1),
            Self::Section(place) => place.min(last),
        }
    }
}

impl Target {
    /// Whether several controls may hold it: each gives a value of its own, and the one that was played last wins.
    pub fn is_shared(self) -> bool {
        matches!(self, Self::Showing(_) | Self::Section)
    }

    /// The scope that it is of.
    pub fn scope(self) -> Option<Scope> {
        match self {
            Self::Setting { scope, .. } | Self::Switch { scope, .. } | Self::Opacity(scope) => Some(scope),
            Self::Showing([b, l]) => Some(Scope::Level(b, l)),
            Self::Section => None,
        }
    }

    /// The effect that it is of, by its place in the scope's chain.
    pub fn effect(self) -> Option<usize> {
        match self {
            Self::Setting { at, .. } | Self::Switch { at, .. } => Some(at),
            _ => None,
        }
    }

    /// What a file calls that which moves: a setting by its name, all else by the key that it has there.
    pub fn key(self, show: &Show) -> &str {
        match self {
            Self::Setting { scope, at, place } => &show.chain(scope)[at].effect.settings[place].name,
            Self::Switch { .. } => ON,
            Self::Opacity(_) => OPACITY,
            Self::Showing(_) => SHOWING,
            Self::Section => SECTION,
        }
    }

    /// That which an effect of a show, or a scope, or the show has under this key.
    pub fn named(show: &Show, scope: Option<Scope>, effect: Option<usize>, key: &str) -> Option<Self> {
        match (scope, effect) {
            (Some(scope), Some(at)) if key == ON => Some(Self::Switch { scope, at }),
            (Some(scope), Some(at)) => {
                let settings = &show.chain(scope).get(at)?.effect.settings;
                let place = settings.iter().position(|setting| setting.name == key)?;
                Some(Self::Setting { scope, at, place })
            }
            (Some(scope @ (Scope::Bundle(_) | Scope::Level(..))), None) if key == OPACITY => {
                Some(Self::Opacity(scope))
            }
            (Some(Scope::Level(b, l)), None) if key == SHOWING => Some(Self::Showing([b, l])),
            (None, None) if key == SECTION => Some(Self::Section),
            _ => None,
        }
    }

    /// The keys that can be gripped of a scope itself, of an effect on it, or of the show.
    pub fn keys(show: &Show, scope: Option<Scope>, effect: Option<usize>) -> Vec<&str> {
        match (scope, effect) {
            (Some(scope), Some(at)) => {
                let settings = show.chain(scope).get(at).map(|used| &used.effect.settings[..]);
                let names = settings.unwrap_or_default().iter().map(|setting| setting.name.as_str());
                names.chain([ON]).collect()
            }
            (Some(Scope::Bundle(_)), None) => vec![OPACITY],
            (Some(Scope::Level(..)), None) => vec![OPACITY, SHOWING],
            (Some(_), None) => Vec::new(),
            (None, _) => vec![SECTION],
        }
    }
}

impl Show {
    /// A stand for a chain that is in no show: it lies on everything, and nothing else is there.
    pub(crate) fn around(chain: Chain, controls: Vec<Control>) -> Self {
        Self {
            name: String::new(),
            about: String::new(),
            tags: Vec::new(),
            venue: String::new(),
            frame: Frame { width: 1, height: 1 },
            tempo_bpm: 120.0,
            rate: FrameRate::default(),
            pixels: PixelMode::default(),
            bundles: Vec::new(),
            global: chain,
            controls,
            held: Vec::new(),
            reach_ms: USUAL_REACH_MS,
            sections: Vec::new(),
            running_order: Vec::new(),
            taken: Vec::new(),
            is_starter: false,
        }
    }

    /// The controls that hold something of a scope's chain, or fire it, without their cues, which are those of this show:
    /// what goes along with the chain.
    pub fn controls_of(&self, scope: Scope) -> Vec<Control> {
        let plays = |control: &&Control| {
            self.chain(scope).iter().any(|used| used.controls().any(|by| by == control.name))
        };
        let without_cue = |control: &Control| Control { cue: None, ..control.clone() };
        self.controls.iter().filter(plays).map(without_cue).collect()
    }

    /// What kind of value something that is moved has; none where the show has no such thing.
    pub fn target_kind(&self, target: Target) -> Option<Kind> {
        Some(match target {
            Target::Setting { scope, at, place } => {
                self.chain(scope).get(at)?.effect.settings.get(place)?.kind.clone()
            }
            Target::Switch { .. } => Kind::Choice(SWITCHED.map(str::to_owned).to_vec()),
            Target::Opacity(_) => Kind::Number { range: [0.0, 1.0], unit: "share".to_owned() },
            Target::Showing([b, l]) => {
                let clips = &self.bundles.get(b)?.levels.get(l)?.clips;
                Kind::Choice(clips.iter().map(|clip| clip.name.clone()).collect())
            }
            Target::Section => {
                let called = self.sections.iter().map(|section| match section.name.as_str() {
                    name if BY_TURN.contains(&name) || name.starts_with(BY_NAME) => {
                        format!("{BY_NAME}{name}")
                    }
                    name => name.to_owned(),
                });
                Kind::Choice(BY_TURN.map(str::to_owned).into_iter().chain(called).collect())
            }
        })
    }

    /// The value that the show has there; none of the section, which it does not say.
    pub fn target_value(&self, target: Target) -> Option<Value> {
        Some(match target {
            Target::Setting { scope, at, place } => self.chain(scope).get(at)?.values().nth(place)?.clone(),
            Target::Switch { scope, at } => Value::Choice(usize::from(self.chain(scope).get(at)?.on)),
            Target::Opacity(Scope::Bundle(b)) => Value::Number(self.bundles.get(b)?.mix.opacity),
            Target::Opacity(Scope::Level(b, l)) => {
                Value::Number(self.bundles.get(b)?.levels.get(l)?.mix.opacity)
            }
            Target::Showing([b, l]) => Value::Choice(self.bundles.get(b)?.levels.get(l)?.showing),
            Target::Opacity(_) | Target::Section => return None,
        })
    }

    /// Gives something that is moved a value of its kind. A level that is to show a clip is hidden no longer, and nor is
    /// the clip.
    pub(crate) fn put_target(&mut self, target: Target, value: &Value) {
        match (target, value) {
            (Target::Setting { scope, at, place }, value) => {
                self.chain_mut(scope)[at].fix(place, value.clone());
            }
            (Target::Switch { scope, at }, Value::Choice(on)) => self.chain_mut(scope)[at].on = *on == 1,
            (Target::Opacity(Scope::Bundle(b)), &Value::Number(opacity)) => {
                self.bundles[b].mix.opacity = opacity;
            }
            (Target::Opacity(Scope::Level(b, l)), &Value::Number(opacity)) => {
                self.bundles[b].levels[l].mix.opacity = opacity;
            }
            (Target::Showing([b, l]), &Value::Choice(clip)) => {
                let level = &mut self.bundles[b].levels[l];
                level.hidden = false;
                (level.showing, level.clips[clip].hidden) = (clip, false);
            }
            _ => {}
        }
    }

    /// Everything of the show that a control can move, in the order in which the picture flows: of each scope its
    /// effects, then what it has itself.
    pub fn targets(&self) -> Vec<Target> {
        let mut all = Vec::new();
        for scope in self.scopes() {
            for (at, used) in self.chain(scope).iter().enumerate() {
                all.push(Target::Switch { scope, at });
                let settings = 0..used.effect.settings.len();
                all.extend(settings.map(|place| Target::Setting { scope, at, place }));
            }
            if matches!(scope, Scope::Bundle(_) | Scope::Level(..)) {
                all.push(Target::Opacity(scope));
            }
            if let Scope::Level(b, l) = scope {
                all.push(Target::Showing([b, l]));
            }
        }
        all.push(Target::Section);
        all
    }

    /// What controls hold of something: of an effect and an opacity one at most.
    pub fn grips_on(&self, target: Target) -> Vec<&Grip> {
        match target {
            Target::Setting { scope, at, place } => {
                self.chain(scope).get(at).and_then(|used| used.grip(place)).into_iter().collect()
            }
            Target::Switch { scope, at } => {
                self.chain(scope).get(at).and_then(|used| used.switch_grip()).into_iter().collect()
            }
            _ => self.held.iter().filter(|(held, _)| *held == target).map(|(_, grip)| grip).collect(),
        }
    }

    /// Everything that controls hold, in the order of [`Self::targets`].
    pub fn all_grips(&self) -> Vec<(Target, &Grip)> {
        let grips = |target| self.grips_on(target).into_iter().map(move |grip| (target, grip));
        self.targets().into_iter().flat_map(grips).collect()
    }

    /// What the control named holds.
    pub fn grips<'a>(&'a self, control: &'a str) -> impl Iterator<Item = (Target, &'a Grip)> {
        self.all_grips().into_iter().filter(move |(_, grip)| grip.control == control)
    }

    /// Gives a control hold of something; of what only one control holds, in place of the one that held it.
    ///
    /// # Errors
    /// [`AutomationError`] if it cannot be moved between these values.
    ///
    /// # Panics
    /// If the show has no such thing.
    pub fn hold(&mut self, target: Target, grip: Grip) -> Result<(), AutomationError> {
        let kind = self.target_kind(target).expect("something of the show");
        grip.check(&kind)?;
        match target {
            Target::Setting { scope, at, place } => self.chain_mut(scope)[at].hold(place, Some(grip))?,
            Target::Switch { scope, at } => self.chain_mut(scope)[at].hold_switch(Some(grip)),
            _ => {
                self.held.retain(|(held, other)| {
                    *held != target || target.is_shared() && other.control != grip.control
                });
                self.held.push((target, grip));
                self.sort_held();
            }
        }
        Ok(())
    }

    /// Has a control let go of something.
    pub fn let_go(&mut self, target: Target, control: &str) {
        let is_it = |grip: &Grip| grip.control == control;
        match target {
            Target::Setting { scope, at, .. } | Target::Switch { scope, at }
                if !self.grips_on(target).into_iter().any(is_it) || self.chain(scope).get(at).is_none() => {}
            // Letting go is never refused.
            Target::Setting { scope, at, place } => drop(self.chain_mut(scope)[at].hold(place, None)),
            Target::Switch { scope, at } => self.chain_mut(scope)[at].hold_switch(None),
            _ => self.held.retain(|(held, grip)| *held != target || !is_it(grip)),
        }
    }

    /// Puts what is held of things that are no effect into the order in which a file would be read.
    pub(crate) fn sort_held(&mut self) {
        self.held.sort_by(|(a, one), (b, other)| (a, &one.control).cmp(&(b, &other.control)));
    }

    /// Lets what is held of things that are no effect follow these to where they are now; of what is gone it is let go.
    pub(crate) fn follow_held(&mut self, now: impl Fn(Scope) -> Option<Scope>) {
        let held = std::mem::take(&mut self.held);
        self.held = held.into_iter().filter_map(|(target, grip)| held_now(target, grip, &now)).collect();
        self.sort_held();
    }

    /// What is held of things that are no effect, of those that have a copy, as it is held of that; `copy` gives where
    /// something stands in it.
    pub(crate) fn held_at(&self, copy: impl Fn(Scope) -> Option<Scope>) -> Vec<(Target, Grip)> {
        let held = self.held.iter().filter(|(target, _)| target.scope().is_some());
        held.filter_map(|(target, grip)| held_now(*target, grip.clone(), &copy)).collect()
    }

    /// Lets the controls that call sections follow these to where they are now.
    pub(crate) fn follow_called(&mut self, now: impl Fn(usize) -> Option<usize>) {
        let end = |value: &Value| match SectionCall::of(value) {
            Some(SectionCall::Section(place)) => now(place).map(|place| SectionCall::Section(place).value()),
            _ => Some(value.clone()),
        };
        self.held.retain_mut(|(target, grip)| {
            if *target != Target::Section {
                return true;
            }
            let (Some(low), Some(high)) = (end(&grip.low), end(&grip.high)) else { return false };
            (grip.low, grip.high) = (low, high);
            true
        });
    }

    /// Something that is moved as people read it: "edge-find gain", "edge-find on or off", "opacity", "the clip that
    /// shows", "the section".
    pub fn target_said(&self, target: Target) -> String {
        match target {
            Target::Setting { scope, at, .. } => {
                format!("{} {}", labels(self.chain(scope))[at], target.key(self))
            }
            Target::Switch { scope, at } => format!("{} on or off", labels(self.chain(scope))[at]),
            Target::Opacity(_) => OPACITY.to_owned(),
            Target::Showing(_) => "the clip that shows".to_owned(),
            Target::Section => "the section".to_owned(),
        }
    }
}

/// What is held of something that is no effect, by where that is now.
fn held_now(target: Target, grip: Grip, now: impl Fn(Scope) -> Option<Scope>) -> Option<(Target, Grip)> {
    match target {
        Target::Opacity(scope) => Some((Target::Opacity(now(scope)?), grip)),
        Target::Showing([b, l]) => {
            let Scope::Level(to_b, to_l) = now(Scope::Level(b, l))? else { return None };
            let clip = |value: &Value| match value {
                &Value::Choice(clip) => match now(Scope::Clip(b, l, clip))? {
                    Scope::Clip(in_b, in_l, clip) if [in_b, in_l] == [to_b, to_l] => {
                        Some(Value::Choice(clip))
                    }
                    _ => None,
                },
                _ => None,
            };
            let (low, high) = (clip(&grip.low)?, clip(&grip.high)?);
            Some((Target::Showing([to_b, to_l]), Grip { low, high, ..grip }))
        }
        target => Some((target, grip)),
    }
}
