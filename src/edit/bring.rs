//! Bundles, levels, clips and chains of another show brought into this one.

use super::brought::{brought, clips_in};
use super::controls;
use super::error::EditError;
use super::names::unique;
use super::put::{Put, Way, note_taken};
use super::spot::{address_of, carried, has, lies_in, on_chains};
use crate::order::{rest_marks, write_marks};
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
                let chain = self.from.chain(self.what).clone();
                let controls = Some(self.from.controls.clone());
                let put = Put { scope, chain, name: String::new(), taken: None, way, controls };
                put.apply(&mut show, &mut notes)?;
                for taken in self.from.taken.iter().filter(|taken| taken.scope == self.what) {
                    note_taken(&mut show, Taken { scope, ..taken.clone() });
                }
            }
            None => {
                let new = self.add(&mut show, &mut notes)?;
                let inside: Vec<Scope> = show.scopes().into_iter().filter(|&one| lies_in(one, new)).collect();
                let chains: Vec<(Scope, usize, usize)> =
                    inside.into_iter().map(|scope| (scope, 0, show.chain(scope).len())).collect();
                let held = self.from.held_at(|scope| lies_in(scope, self.what).then(|| carried(scope, new)));
                controls::fit(&mut show, &self.from.controls, &chains, held, &mut notes);
                for taken in self.from.taken.iter().filter(|taken| lies_in(taken.scope, self.what)) {
                    note_taken(&mut show, Taken { scope: carried(taken.scope, new), ..taken.clone() });
                }
                for clip in clips_in(&self.from, self.what) {
                    note_taken(&mut show, brought(&self.from, clip, carried(clip.into(), new)));
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
}
