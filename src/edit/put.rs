//! A chain from elsewhere put onto a scope: in place of what is there, under it, or over it.

use super::controls;
use super::error::EditError;
use super::spot::{chain_of_mut, on_chains};
use crate::base::words::words;
use crate::order::{MOST_EFFECTS, free_mark, rest_marks, write_marks};
use crate::show::chain::Chain;
use crate::show::control::Control;
use crate::show::{Scope, Show, Taken};

words! {
    /// Where a chain goes that is put onto a scope.
    #[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
    pub enum Way {
        /// In place of the effects that are there.
        #[default]
        Replace = "replace",
        /// Under them: applied before.
        Under = "under",
        /// Over them: applied after.
        Over = "over",
    }
}

/// A chain that is put onto a scope: a copy, with a note of where it is from.
#[derive(Debug, Clone, PartialEq)]
pub struct Put {
    pub scope: Scope,
    pub chain: Chain,
    /// What it is called, for the name of the step.
    pub name: String,
    /// What it was taken from, such as `library:harbour-lamps`, and what stands for it, if that is noted.
    pub taken: Option<(String, String)>,
    /// Where it goes.
    pub way: Way,
    /// The controls that come along with what they hold of it; without them they let go of it.
    pub controls: Option<Vec<Control>>,
}

impl Put {
    /// What the step is called; `address` is that of the scope.
    pub(super) fn step(&self, address: &str) -> String {
        match self.way {
            Way::Replace => format!("Put {} on {address}", self.name),
            way => format!("Put {} {} the effects on {address}", self.name, way.name()),
        }
    }

    /// The show with the chain in place, and in words what had to be changed of its controls on the way.
    ///
    /// # Errors
    /// [`EditError`] where it has no room, or its scope is gone; nothing is put.
    pub fn done(&self, show: &Show) -> Result<(Show, Vec<String>), EditError> {
        let (mut show, mut notes) = (show.clone(), Vec::new());
        on_chains(&mut show, |chain| write_marks(chain));
        self.apply(&mut show, &mut notes)?;
        on_chains(&mut show, |chain| rest_marks(chain));
        Ok((show, notes))
    }

    pub(super) fn apply(&self, show: &mut Show, notes: &mut Vec<String>) -> Result<(), EditError> {
        let there = chain_of_mut(show, self.scope)?;
        let mut chain = if self.way == Way::Replace { Chain::new() } else { there.clone() };
        write_marks(&mut chain);
        let over = chain.len();
        chain.extend(self.chain.iter().cloned());
        match self.way {
            Way::Replace => write_marks(&mut chain),
            Way::Under | Way::Over => {
                // Beside others they are new.
                chain[over..].iter_mut().for_each(|used| used.mark = None);
                for at in over..chain.len() {
                    chain[at].mark = free_mark(&chain);
                }
            }
        }
        if self.way == Way::Under {
            chain.rotate_left(over);
        }
        if chain.len() > MOST_EFFECTS {
            return Err(EditError::NoRoom { there: there.len(), more: self.chain.len() });
        }
        *there = chain;
        let from = if self.way == Way::Over { over } else { 0 };
        let new = (self.scope, from, from + self.chain.len());
        match &self.controls {
            Some(controls) => controls::fit(show, controls, &[new], Vec::new(), notes),
            None => {
                let put = &mut show.chain_mut(self.scope)[new.1..new.2];
                put.iter_mut().for_each(|used| used.keep_grips(|_| false));
            }
        }
        if self.way == Way::Replace {
            forget_chains(show, self.scope);
        }
        if let Some((preset, content)) = &self.taken {
            let (preset, content) = (preset.clone(), content.clone());
            note_taken(show, Taken { scope: self.scope, preset, clip: None, content });
        }
        Ok(())
    }
}

/// Notes where a chain was taken from, in the order in which a file lists its scopes.
pub(super) fn note_taken(show: &mut Show, taken: Taken) {
    show.taken.retain(|known| *known != taken);
    show.taken.push(taken);
    sort_taken(show);
}

/// Forgets which chains were taken onto a scope; where a clip is from stays.
pub(super) fn forget_chains(show: &mut Show, scope: Scope) {
    show.taken.retain(|taken| taken.scope != scope || taken.clip.is_some());
}

/// Puts the notes into the order in which a file lists their scopes.
fn sort_taken(show: &mut Show) {
    show.taken.sort_by_key(|taken| match taken.scope {
        Scope::Bundle(b) => (b, 0, 0),
        Scope::Level(b, l) => (b, l + 1, 0),
        Scope::Clip(b, l, c) => (b, l + 1, c + 1),
        Scope::Global => (usize::MAX, 0, 0),
    });
}

/// Lets all that speaks of scopes follow them to where they are now: notes of what was taken, sections, and controls. What has no
/// place any more is let go.
pub(super) fn follow(show: &mut Show, now: impl Fn(Scope) -> Option<Scope>) {
    show.sections.iter_mut().for_each(|section| section.follow(&now));
    show.follow_held(&now);
    show.taken.retain_mut(|taken| match now(taken.scope) {
        Some(scope) => {
            taken.scope = scope;
            true
        }
        None => false,
    });
    sort_taken(show);
}
