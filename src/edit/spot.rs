//! Places in a show that a change speaks of: an address may be stale, so that each is looked for.

use super::error::EditError;
use crate::order::{MOST_EFFECTS, free_mark};
use crate::show::chain::{Chain, EffectUse};
use crate::show::{Clip, ClipPlace, Level, Scope, Show};

/// An effect in a show: a scope, and a place in its chain.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Spot {
    pub scope: Scope,
    /// The place in its chain, from 0; as a gap, the place before which it lies.
    pub at: usize,
}

/// Whether the show has this scope.
pub(super) fn has(show: &Show, scope: Scope) -> bool {
    let level = |b: usize, l: usize| show.bundles.get(b).and_then(|bundle| bundle.levels.get(l));
    match scope {
        Scope::Global => true,
        Scope::Bundle(b) => b < show.bundles.len(),
        Scope::Level(b, l) => level(b, l).is_some(),
        Scope::Clip(b, l, c) => level(b, l).is_some_and(|level| c < level.clips.len()),
    }
}

pub(super) fn chain_of(show: &Show, scope: Scope) -> Result<&Chain, EditError> {
    if has(show, scope) { Ok(show.chain(scope)) } else { Err(EditError::Gone) }
}

pub(super) fn chain_of_mut(show: &mut Show, scope: Scope) -> Result<&mut Chain, EditError> {
    if has(show, scope) { Ok(show.chain_mut(scope)) } else { Err(EditError::Gone) }
}

pub(super) fn used_at(show: &Show, spot: Spot) -> Result<&EffectUse, EditError> {
    chain_of(show, spot.scope)?.get(spot.at).ok_or(EditError::Gone)
}

pub(super) fn used_at_mut(show: &mut Show, spot: Spot) -> Result<&mut EffectUse, EditError> {
    chain_of_mut(show, spot.scope)?.get_mut(spot.at).ok_or(EditError::Gone)
}

pub(super) fn level_of(show: &mut Show, bundle: usize, level: usize) -> Result<&mut Level, EditError> {
    let bundle = show.bundles.get_mut(bundle).ok_or(EditError::Gone)?;
    bundle.levels.get_mut(level).ok_or(EditError::Gone)
}

pub(super) fn clip_of(show: &mut Show, place: ClipPlace) -> Result<&mut Clip, EditError> {
    level_of(show, place.bundle, place.level)?.clips.get_mut(place.clip).ok_or(EditError::Gone)
}

/// The address of a scope, which the show must have.
pub(super) fn address_of(show: &Show, scope: impl Into<Scope>) -> Result<String, EditError> {
    let scope = scope.into();
    if has(show, scope) { Ok(show.address(scope)) } else { Err(EditError::Gone) }
}

/// Whether a scope is another or lies inside it.
pub(super) fn lies_in(scope: Scope, outer: Scope) -> bool {
    match (outer, scope) {
        (Scope::Bundle(a), Scope::Bundle(b) | Scope::Level(b, _) | Scope::Clip(b, ..)) => a == b,
        (Scope::Level(a, l), Scope::Level(b, m) | Scope::Clip(b, m, _)) => (a, l) == (b, m),
        (outer, scope) => outer == scope,
    }
}

/// A scope that lies in something, by where that is now.
pub(super) fn carried(scope: Scope, new: Scope) -> Scope {
    match (new, scope) {
        (Scope::Bundle(b), Scope::Level(_, l)) => Scope::Level(b, l),
        (Scope::Bundle(b), Scope::Clip(_, l, c)) => Scope::Clip(b, l, c),
        (Scope::Level(b, l), Scope::Clip(_, _, c)) => Scope::Clip(b, l, c),
        (new, _) => new,
    }
}

/// Where a scope is once another is taken out; nowhere if it lies in that.
pub(super) fn less(scope: Scope, gone: Scope) -> Option<Scope> {
    (!lies_in(scope, gone)).then(|| counted(scope, gone, |at, gone| at - usize::from(at > gone)))
}

/// Where a scope is once there is another at a place.
pub(super) fn beside_new(scope: Scope, new: Scope) -> Scope {
    counted(scope, new, |at, new| at + usize::from(at >= new))
}

/// A scope with the place counted anew that tells what another is one of; `count` is given it and that one's own.
fn counted(scope: Scope, one: Scope, count: impl Fn(usize, usize) -> usize) -> Scope {
    match (one, scope) {
        (Scope::Bundle(one), Scope::Bundle(b)) => Scope::Bundle(count(b, one)),
        (Scope::Bundle(one), Scope::Level(b, l)) => Scope::Level(count(b, one), l),
        (Scope::Bundle(one), Scope::Clip(b, l, c)) => Scope::Clip(count(b, one), l, c),
        (Scope::Level(bundle, one), Scope::Level(b, l)) if b == bundle => Scope::Level(b, count(l, one)),
        (Scope::Level(bundle, one), Scope::Clip(b, l, c)) if b == bundle => Scope::Clip(b, count(l, one), c),
        (Scope::Clip(bundle, level, one), Scope::Clip(b, l, c)) if (b, l) == (bundle, level) => {
            Scope::Clip(b, l, count(c, one))
        }
        (_, scope) => scope,
    }
}

/// Does something to the chain of every scope.
pub(super) fn on_chains(show: &mut Show, mut change: impl FnMut(&mut Chain)) {
    show.scopes().into_iter().for_each(|scope| change(show.chain_mut(scope)));
}

/// Puts an effect into a gap; it keeps its mark where no other has that, and gets the lowest that is free otherwise.
pub(super) fn insert(chain: &mut Chain, at: usize, mut used: EffectUse) -> Result<(), EditError> {
    if chain.len() >= MOST_EFFECTS {
        return Err(EditError::Full);
    }
    if at > chain.len() {
        return Err(EditError::Gone);
    }
    if used.mark.is_none() || chain.iter().any(|other| other.mark == used.mark) {
        used.mark = free_mark(chain);
    }
    chain.insert(at, used);
    Ok(())
}

pub(super) fn take(show: &mut Show, spot: Spot) -> Result<EffectUse, EditError> {
    used_at(show, spot)?;
    Ok(show.chain_mut(spot.scope).remove(spot.at))
}

/// Brings every setting back to its default; name, mark, and whether it is on stay.
pub(super) fn reset(used: &mut EffectUse) {
    let mut fresh = EffectUse::new(used.effect.clone());
    (fresh.on, fresh.name, fresh.mark) = (used.on, used.name.take(), used.mark);
    fresh.hold_switch(used.switch_grip().cloned());
    *used = fresh;
}
