//! What is done to several effects of a chain at once: one step each.

use super::error::EditError;
use super::spot::{Spot, address_of, chain_of, chain_of_mut, insert, reset, take};
use crate::order::MOST_EFFECTS;
use crate::show::chain::{Chain, EffectUse, labels, one_after_another};
use crate::show::{Scope, Show};

/// What is done to each of them.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Deed {
    Remove,
    /// As [`Self::Remove`], after they were copied.
    Cut,
    /// Puts a copy of each over the uppermost of them, in their order.
    Duplicate,
    Switch(bool),
    Reset,
}

/// One thing done to several effects of a chain.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Several {
    pub scope: Scope,
    /// Their places, each once, rising.
    pub places: Vec<usize>,
    pub deed: Deed,
}

impl Several {
    /// What the step is called.
    pub(super) fn step(&self, show: &Show) -> Result<String, EditError> {
        let what = said(show, self.scope, &self.places)?;
        Ok(match self.deed {
            Deed::Remove => format!("Remove {what}"),
            Deed::Cut => format!("Cut {what}"),
            Deed::Duplicate => format!("Duplicate {what}"),
            Deed::Switch(on) => format!("Switch {what} {}", if on { "on" } else { "off" }),
            Deed::Reset => format!("Reset {what}"),
        })
    }

    pub(super) fn apply(&self, show: &mut Show) -> Result<(), EditError> {
        checked(show, self.scope, &self.places)?;
        let Self { scope, places, deed } = self;
        match deed {
            Deed::Remove | Deed::Cut => places.iter().rev().try_for_each(|&at| {
                take(show, Spot { scope: *scope, at })?;
                Ok(())
            }),
            Deed::Duplicate => {
                let into = Spot { scope: *scope, at: places.last().map_or(0, |last| last + 1) };
                Carry { scope: *scope, places: places.clone(), into, copies: true }.apply(show)
            }
            Deed::Switch(on) => on_each(show, *scope, places, |used| used.on = *on),
            Deed::Reset => on_each(show, *scope, places, reset),
        }
    }
}

/// Effects of a chain that go to a gap together, in their order.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Carry {
    pub scope: Scope,
    /// Their places, each once, rising.
    pub places: Vec<usize>,
    /// The gap, counted before they are taken out; perhaps on another scope.
    pub into: Spot,
    /// Whether copies go there, and they stay.
    pub copies: bool,
}

impl Carry {
    /// What the step is called.
    pub(super) fn step(&self, show: &Show) -> Result<String, EditError> {
        let what = said(show, self.scope, &self.places)?;
        let verb = if self.copies { "Duplicate" } else { "Move" };
        let to = if self.into.scope == self.scope {
            String::new()
        } else {
            format!(" to {}", address_of(show, self.into.scope)?)
        };
        Ok(format!("{verb} {what}{to}"))
    }

    /// The place in its chain that the first of them has afterwards.
    pub fn lands(&self) -> usize {
        let leave = !self.copies && self.into.scope == self.scope;
        let under = self.places.iter().filter(|&&at| leave && at < self.into.at).count();
        self.into.at - under.min(self.into.at)
    }

    pub(super) fn apply(&self, show: &mut Show) -> Result<(), EditError> {
        checked(show, self.scope, &self.places)?;
        if self.into.at > chain_of(show, self.into.scope)?.len() {
            return Err(EditError::Gone);
        }
        let lands = self.lands();
        let chain = chain_of_mut(show, self.scope)?;
        let mut carried: Chain = self.places.iter().map(|&at| chain[at].clone()).collect();
        if self.copies {
            // Beside those that they are copies of they are new.
            carried.iter_mut().for_each(|used| used.mark = None);
        } else {
            self.places.iter().rev().for_each(|&at| drop(chain.remove(at)));
        }
        put(chain_of_mut(show, self.into.scope)?, lands, carried)
    }
}

/// Effects that were copied, perhaps in another show, and go into a gap.
#[derive(Debug, Clone, PartialEq)]
pub struct Paste {
    /// The gap.
    pub into: Spot,
    /// In the order applied, each with its mark; one whose mark is taken gets the lowest that is free.
    pub chain: Chain,
}

impl Paste {
    /// What the step is called; `address` is that of the scope.
    pub(super) fn step(&self, address: &str) -> String {
        format!("Paste {} on {address}", few(&labels(&self.chain)))
    }

    pub(super) fn apply(&self, show: &mut Show) -> Result<(), EditError> {
        let mut chain = self.chain.clone();
        let is_known = |name: &str| show.controls.iter().any(|control| control.name == name);
        // A show without a control has nothing that plays what it held.
        chain.iter_mut().for_each(|used| used.keep_grips(is_known));
        put(chain_of_mut(show, self.into.scope)?, self.into.at, chain)
    }
}

/// Puts effects into a gap, all or none.
fn put(there: &mut Chain, at: usize, chain: Chain) -> Result<(), EditError> {
    if there.len() + chain.len() > MOST_EFFECTS {
        return Err(EditError::NoRoom { there: there.len(), more: chain.len() });
    }
    for (nth, used) in chain.into_iter().enumerate() {
        insert(there, at + nth, used)?;
    }
    Ok(())
}

fn on_each(
    show: &mut Show,
    scope: Scope,
    places: &[usize],
    mut change: impl FnMut(&mut EffectUse),
) -> Result<(), EditError> {
    let chain = chain_of_mut(show, scope)?;
    places.iter().for_each(|&at| change(&mut chain[at]));
    Ok(())
}

/// Whether these are places of the chain, each once, rising.
fn checked(show: &Show, scope: Scope, places: &[usize]) -> Result<(), EditError> {
    let effects = chain_of(show, scope)?.len();
    let is_right = places.is_sorted_by(|a, b| a < b) && places.iter().all(|&at| at < effects);
    if is_right && !places.is_empty() { Ok(()) } else { Err(EditError::Gone) }
}

/// These effects by their names.
fn said(show: &Show, scope: Scope, places: &[usize]) -> Result<String, EditError> {
    checked(show, scope, places)?;
    let labels = labels(chain_of(show, scope)?);
    Ok(few(&places.iter().map(|&at| labels[at].clone()).collect::<Vec<_>>()))
}

/// A few names one after another, more as their number.
fn few(names: &[String]) -> String {
    match names.len() {
        0..=3 => one_after_another(names.iter().map(String::as_str)),
        more => format!("{more} effects"),
    }
}
