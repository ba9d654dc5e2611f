//! Bundles, levels, clips and chains of another show brought into this one.

use super::error::EditError;
use super::names::unique;
use super::put::{Put, Way, note_taken};
use super::spot::{address_of, carried, has, lies_in, on_chains};
use crate::order::{rest_marks, write_marks};
use crate::show::automation::{Automation, Fired};
use crate::show::chain::EffectUse;
use crate::show::control::{Control, check};
use crate::show::{Scope, Show, Taken};

/// What is brought from another show, and where it goes.
#[derive(Debug, Clone, PartialEq)]
pub struct Bring {
    /// The show that it comes from; it stays as it is.
    pub from: Show,
    /// What of it: a bundle, a level, a clip, or the chain of any scope where `onto` says so.
    pub what: Scope,
    /// Where it goes: a level into a bundle, a clip into a level; a bundle lies over all the others.
    pub into: Option<Scope>,
    /// The scope that a chain is put onto, and how; without it the whole of `what` is brought.
    pub onto: Option<(Scope, Way)>,
}

impl Bring {
    pub(super) fn step(&self) -> Result<String, EditError> {
        let address = address_of(&self.from, self.what)?;
        Ok(match self.onto {
            Some(_) => format!("Bring the chain of {address} from {}", self.from.name),
            None => format!("Bring {address} from {}", self.from.name),
        })
    }

    /// The show with what is brought, and in words what had to be changed on the way.
    ///
    /// # Errors
    /// [`EditError`] where it does not fit; nothing is brought.
    pub fn done(&self, show: &Show) -> Result<(Show, Vec<String>), EditError> {
        let mut show = show.clone();
        on_chains(&mut show, |chain| write_marks(chain));
        let mut notes = Vec::new();
        if !has(&self.from, self.what) {
            return Err(EditError::Gone);
        }
        match self.onto {
            Some((scope, way)) => {
                let (there, chain) = (show.clone(), self.from.chain(self.what).clone());
                let more = chain.len();
                let put = Put { scope, chain, name: String::new(), taken: None, way };
                put.apply(&mut show)?;
                let at = if way == Way::Over { there.chain(scope).len() } else { 0 };
                self.fit_controls(&mut show, &[(scope, at, at + more)], &mut notes);
                for taken in self.from.taken.iter().filter(|taken| taken.scope == self.what) {
                    note_taken(&mut show, Taken { scope, ..taken.clone() });
                }
            }
            None => {
                let new = self.add(&mut show, &mut notes)?;
                let inside: Vec<Scope> = show.scopes().into_iter().filter(|&one| lies_in(one, new)).collect();
                let chains: Vec<(Scope, usize, usize)> =
                    inside.into_iter().map(|scope| (scope, 0, show.chain(scope).len())).collect();
                self.fit_controls(&mut show, &chains, &mut notes);
                for taken in self.from.taken.iter().filter(|taken| lies_in(taken.scope, self.what)) {
                    note_taken(&mut show, Taken { scope: carried(taken.scope, new), ..taken.clone() });
                }
            }
        }
        if (self.from.tempo_bpm - show.tempo_bpm).abs() > 1e-9 {
            let beats = "what moves with the beat follows this one";
            notes.push(format!(
                "it was made at {} BPM, this show runs at {}: {beats}",
                self.from.tempo_bpm, show.tempo_bpm
            ));
        }
        on_chains(&mut show, |chain| rest_marks(chain));
        Ok((show, notes))
    }

    /// Adds the whole of what is brought on top; gives where it is now.
    fn add(&self, show: &mut Show, notes: &mut Vec<String>) -> Result<Scope, EditError> {
        let mut named = |what: &str, name: &mut String, taken: &mut dyn Iterator<Item = String>| {
            let taken: Vec<String> = taken.collect();
            let new = unique(name, taken.iter().map(String::as_str));
            if new != *name {
                notes
                    .push(format!("a {what} named `{name}` is already there: the new one is called `{new}`"));
                *name = new;
            }
        };
        match (self.what, self.into) {
            (Scope::Bundle(b), None) => {
                let mut bundle = self.from.bundles[b].clone();
                named("bundle", &mut bundle.name, &mut show.bundles.iter().map(|one| one.name.clone()));
                show.bundles.push(bundle);
                Ok(Scope::Bundle(show.bundles.len() - 1))
            }
            (Scope::Level(b, l), Some(Scope::Bundle(into))) => {
                let mut level = self.from.bundles[b].levels[l].clone();
                let levels = &mut show.bundles.get_mut(into).ok_or(EditError::Gone)?.levels;
                named("level", &mut level.name, &mut levels.iter().map(|one| one.name.clone()));
                levels.push(level);
                Ok(Scope::Level(into, levels.len() - 1))
            }
            (Scope::Clip(b, l, c), Some(Scope::Level(into, level))) => {
                let mut clip = self.from.bundles[b].levels[l].clips[c].clone();
                let bundle = show.bundles.get_mut(into).ok_or(EditError::Gone)?;
                let clips = &mut bundle.levels.get_mut(level).ok_or(EditError::Gone)?.clips;
                named("clip", &mut clip.name, &mut clips.iter().map(|one| one.name.clone()));
                clips.push(clip);
                Ok(Scope::Clip(into, level, clips.len() - 1))
            }
            _ => Err(EditError::NoPlace { what: self.from.address(self.what) }),
        }
    }

    /// Brings the controls that the new effects are held by; a hold that finds none is let go.
    fn fit_controls(&self, show: &mut Show, chains: &[(Scope, usize, usize)], notes: &mut Vec<String>) {
        let mut needed: Vec<String> = Vec::new();
        for &(scope, from, to) in chains {
            for used in &show.chain(scope)[from..to] {
                for name in controls_of(used) {
                    if !needed.contains(&name) {
                        needed.push(name);
                    }
                }
            }
        }
        for name in needed {
            if show.controls.iter().any(|known| known.name == name) {
                notes.push(format!(
                    "the control `{name}` is already there: it now moves what was brought, too"
                ));
                continue;
            }
            let Some(control) = self.from.controls.iter().find(|known| known.name == name) else { continue };
            if add_control(show, control, notes) {
                continue;
            }
            notes.push(format!("there is no room for the control `{name}`: its settings are let go"));
            for &(scope, from, to) in chains {
                show.chain_mut(scope)[from..to].iter_mut().for_each(|used| let_go(used, &name));
            }
        }
    }
}

/// Adds a control, without its key or its MIDI binding where another has it; whether there was room.
fn add_control(show: &mut Show, control: &Control, notes: &mut Vec<String>) -> bool {
    let mut control = control.clone();
    let name = control.name.clone();
    loop {
        let mut controls = show.controls.clone();
        controls.push(control.clone());
        match check(&controls) {
            Ok(()) => {
                show.controls = controls;
                return true;
            }
            Err(error) if error.key == "key" && control.key.is_some() => {
                notes.push(format!("{error}: the control `{name}` comes without its key"));
                control.key = None;
            }
            Err(error) if error.key == "midi" && control.midi.is_some() => {
                notes.push(format!("{error}: the control `{name}` comes without its MIDI binding"));
                control.midi = None;
            }
            Err(_) => return false,
        }
    }
}

/// The controls that hold a setting of an effect, or fire one of its envelopes.
fn controls_of(used: &EffectUse) -> Vec<String> {
    (0..used.effect.settings.len())
        .flat_map(|place| {
            let held = used.grip(place).map(|grip| grip.control.clone());
            let fired = match used.automation(place) {
                Some(Automation::Envelope { envelope, .. }) => match &envelope.fired {
                    Fired::By(control) => Some(control.clone()),
                    _ => None,
                },
                _ => None,
            };
            held.into_iter().chain(fired)
        })
        .collect()
}

fn let_go(used: &mut EffectUse, control: &str) {
    for place in 0..used.effect.settings.len() {
        if used.grip(place).is_some_and(|grip| grip.control == control) {
            // Letting go is never refused.
            let _ = used.hold(place, None);
        }
    }
}
