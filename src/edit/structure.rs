//! Changes to how bundles, levels and clips stand to each other, and to how they are told apart.

use std::collections::HashSet;

use super::error::EditError;
use super::names::unique;
use super::put::follow;
use super::spot::{address_of, beside_new, carried, has, less, lies_in};
use crate::base::coding::ColourCode;
use crate::order::{Classes, pairs};
use crate::show::{Bundle, Clip, Level, Scope, Show};

/// One change to the structure of a show.
#[derive(Debug, Clone, PartialEq)]
pub enum StructureEdit {
    /// Moves a bundle, a level or a clip into a gap of its own kind; what lies on it or inside it goes along.
    Move {
        what: Scope,
        /// The gap, counted before it is taken out: the place before which it lies, from the bottom up; a level may go
        /// to another bundle, a clip to another level. Where its name is taken there, it gets a number.
        into: Scope,
    },
    /// Puts the levels of a bundle into another order: their present places, the lowest first.
    Levels {
        bundle: usize,
        /// Every place once.
        order: Vec<usize>,
    },
    /// Puts a copy of a bundle, a level or a clip directly over it.
    Duplicate(Scope),
    /// Keeps a bundle, a level or a clip out of the picture, or no longer.
    Hide { what: Scope, hidden: bool },
    /// Gives a bundle, a level or a clip a colour to tell it by, or none.
    Colour { what: Scope, colour: Option<ColourCode> },
}

impl StructureEdit {
    /// Where what is moved, or what is new, stands afterwards.
    pub fn lands(&self) -> Option<Scope> {
        match *self {
            Self::Move { what, into } => landing(what, into),
            Self::Duplicate(what) => over(what),
            _ => None,
        }
    }

    /// What the step is called.
    pub(super) fn name(&self, show: &Show) -> Result<String, EditError> {
        Ok(match self {
            Self::Move { what, into } => {
                let address = address_of(show, *what)?;
                match (home(*what), home(*into)) {
                    (from, to) if from == to => format!("Move {address}"),
                    (_, to) => format!("Move {address} to {}", address_of(show, to)?),
                }
            }
            Self::Levels { bundle, .. } => {
                format!("Order the levels of {}", address_of(show, Scope::Bundle(*bundle))?)
            }
            Self::Duplicate(what) => format!("Duplicate {}", address_of(show, *what)?),
            Self::Hide { what, hidden } => {
                format!("{} {}", if *hidden { "Hide" } else { "Show" }, address_of(show, *what)?)
            }
            Self::Colour { what, colour: Some(colour) } => {
                format!("Colour {} {colour}", address_of(show, *what)?)
            }
            Self::Colour { what, colour: None } => format!("No colour for {}", address_of(show, *what)?),
        })
    }

    pub(super) fn apply(&self, show: &mut Show) -> Result<(), EditError> {
        match self {
            Self::Move { what, into } => move_to(show, *what, *into),
            Self::Levels { bundle, order } => {
                let levels = &mut show.bundles.get_mut(*bundle).ok_or(EditError::Gone)?.levels;
                let places: HashSet<usize> = order.iter().copied().collect();
                if order.len() != levels.len() || places != (0..levels.len()).collect() {
                    return Err(EditError::NoOrderOfLevels { levels: levels.len() });
                }
                *levels = order.iter().map(|&level| levels[level].clone()).collect();
                follow(show, |scope| match scope {
                    Scope::Level(b, l) | Scope::Clip(b, l, _) if b == *bundle => {
                        let now = order.iter().position(|&was| was == l)?;
                        Some(carried(scope, Scope::Level(b, now)))
                    }
                    scope => Some(scope),
                });
                Ok(())
            }
            Self::Duplicate(what) => duplicate(show, *what),
            Self::Hide { what, hidden } => {
                *mark_of(show, *what)?.0 = *hidden;
                Ok(())
            }
            Self::Colour { what, colour } => {
                *mark_of(show, *what)?.1 = *colour;
                Ok(())
            }
        }
    }
}

/// Levels up to this many are tried in every order; more by every exchange of two.
const LEVELS_IN_FULL: usize = 4;

/// The orders of a bundle's levels that are worth a look, the current one first: places, the lowest level first. Where a
/// hidden level stands makes no difference, so that it stays in its place.
pub fn level_orders(show: &Show, bundle: usize) -> Vec<Vec<usize>> {
    let Some(bundle) = show.bundles.get(bundle) else { return Vec::new() };
    let levels = &bundle.levels;
    let seen: Vec<usize> = (0..levels.len()).filter(|&level| !levels[level].hidden).collect();
    let orders: Vec<Vec<usize>> = if seen.len() <= LEVELS_IN_FULL {
        let classes = Classes::new((0..seen.len()).collect(), |_, _| false);
        classes.all().into_iter().map(|class| class.order).collect()
    } else {
        let own: Vec<usize> = (0..seen.len()).collect();
        let exchanged = pairs(seen.len()).into_iter().map(|pair| {
            let mut order = own.clone();
            order.swap(pair.lower, pair.upper);
            order
        });
        std::iter::once(own.clone()).chain(exchanged).collect()
    };
    let whole = |of_seen: Vec<usize>| {
        let mut order: Vec<usize> = (0..levels.len()).collect();
        seen.iter().zip(&of_seen).for_each(|(&place, &from)| order[place] = seen[from]);
        order
    };
    orders.into_iter().map(whole).collect()
}

/// A bundle, a level or a clip that is in no show.
enum Part {
    Bundle(Bundle),
    Level(Level),
    /// With whether its level showed it.
    Clip(Clip, bool),
}

/// What something is one of: the show, a bundle or a level.
fn home(scope: Scope) -> Scope {
    match scope {
        Scope::Global | Scope::Bundle(_) => Scope::Global,
        Scope::Level(b, _) => Scope::Bundle(b),
        Scope::Clip(b, l, _) => Scope::Level(b, l),
    }
}

/// The place over something.
fn over(scope: Scope) -> Option<Scope> {
    Some(match scope {
        Scope::Global => return None,
        Scope::Bundle(b) => Scope::Bundle(b + 1),
        Scope::Level(b, l) => Scope::Level(b, l + 1),
        Scope::Clip(b, l, c) => Scope::Clip(b, l, c + 1),
    })
}

/// Where something stands that was moved into a gap; nothing where the gap is of another kind.
fn landing(what: Scope, into: Scope) -> Option<Scope> {
    Some(match (what, into) {
        (Scope::Bundle(from), Scope::Bundle(to)) => Scope::Bundle(to - usize::from(from < to)),
        (Scope::Level(b, from), Scope::Level(to_b, to)) => {
            Scope::Level(to_b, to - usize::from(b == to_b && from < to))
        }
        (Scope::Clip(b, l, from), Scope::Clip(to_b, to_l, to)) => {
            Scope::Clip(to_b, to_l, to - usize::from((b, l) == (to_b, to_l) && from < to))
        }
        _ => return None,
    })
}

/// How many there are where something is.
fn count(show: &Show, scope: Scope) -> Result<usize, EditError> {
    let bundle = |b: usize| show.bundles.get(b).ok_or(EditError::Gone);
    Ok(match scope {
        Scope::Global => return Err(EditError::Gone),
        Scope::Bundle(_) => show.bundles.len(),
        Scope::Level(b, _) => bundle(b)?.levels.len(),
        Scope::Clip(b, l, _) => bundle(b)?.levels.get(l).ok_or(EditError::Gone)?.clips.len(),
    })
}

fn move_to(show: &mut Show, what: Scope, into: Scope) -> Result<(), EditError> {
    if !has(show, what) {
        return Err(EditError::Gone);
    }
    let lands = landing(what, into).ok_or(EditError::NotThere)?;
    let (Scope::Bundle(gap) | Scope::Level(_, gap) | Scope::Clip(_, _, gap)) = into else {
        return Err(EditError::NotThere);
    };
    if gap > count(show, into)? {
        return Err(EditError::Gone);
    }
    let is_elsewhere = home(what) != home(into);
    if is_elsewhere && count(show, what)? == 1 {
        let kind = if matches!(what, Scope::Level(..)) { "level" } else { "clip" };
        return Err(EditError::Emptied { left: address_of(show, home(what))?, kind });
    }
    // Levels and clips stay in bundles and on levels that stay where they are, so that the place to land at holds.
    let part = lifted(show, what);
    put_in(show, lands, part);
    follow(show, |scope| {
        let is_along = lies_in(scope, what);
        let rest = || less(scope, what).map(|scope| beside_new(scope, lands));
        if is_along { Some(carried(scope, lands)) } else { rest() }
    });
    Ok(())
}

fn duplicate(show: &mut Show, what: Scope) -> Result<(), EditError> {
    if !has(show, what) {
        return Err(EditError::Gone);
    }
    let new = over(what).ok_or(EditError::Gone)?;
    let part = match what {
        Scope::Global => return Err(EditError::Gone),
        Scope::Bundle(b) => Part::Bundle(show.bundles[b].clone()),
        Scope::Level(b, l) => Part::Level(show.bundles[b].levels[l].clone()),
        Scope::Clip(b, l, c) => Part::Clip(show.bundles[b].levels[l].clips[c].clone(), false),
    };
    let mut notes: Vec<_> = show.taken.iter().filter(|taken| lies_in(taken.scope, what)).cloned().collect();
    notes.iter_mut().for_each(|taken| taken.scope = carried(taken.scope, new));
    put_in(show, new, part);
    follow(show, |scope| Some(beside_new(scope, new)));
    show.taken.extend(notes);
    follow(show, Some);
    let copy = |scope| lies_in(scope, what).then(|| carried(scope, new));
    if !matches!(what, Scope::Clip(..)) {
        show.sections.iter_mut().for_each(|section| section.say_of_copy(copy));
        show.held.extend(show.held_at(copy));
        show.sort_held();
    }
    Ok(())
}

/// Takes something out that is there.
fn lifted(show: &mut Show, what: Scope) -> Part {
    match what {
        Scope::Global | Scope::Bundle(_) => {
            let at = if let Scope::Bundle(at) = what { at } else { 0 };
            Part::Bundle(show.bundles.remove(at))
        }
        Scope::Level(b, l) => Part::Level(show.bundles[b].levels.remove(l)),
        Scope::Clip(b, l, c) => {
            let level = &mut show.bundles[b].levels[l];
            let showed = level.showing == c;
            let clip = level.clips.remove(c);
            // The clip that shows stays the same one, unless it is the one that goes.
            if level.showing > c || level.showing == level.clips.len() {
                level.showing = level.showing.saturating_sub(1);
            }
            Part::Clip(clip, showed)
        }
    }
}

/// Puts something in at a place that there is room for; where its name is taken there, it gets a number.
fn put_in(show: &mut Show, at: Scope, part: Part) {
    match (at, part) {
        (Scope::Bundle(b), Part::Bundle(mut bundle)) => {
            bundle.name = unique(&bundle.name, show.bundles.iter().map(|one| one.name.as_str()));
            show.bundles.insert(b, bundle);
        }
        (Scope::Level(b, l), Part::Level(mut level)) => {
            let levels = &mut show.bundles[b].levels;
            level.name = unique(&level.name, levels.iter().map(|one| one.name.as_str()));
            levels.insert(l, level);
        }
        (Scope::Clip(b, l, c), Part::Clip(mut clip, shows)) => {
            let level = &mut show.bundles[b].levels[l];
            clip.name = unique(&clip.name, level.clips.iter().map(|one| one.name.as_str()));
            level.clips.insert(c, clip);
            if shows {
                level.showing = c;
            } else if level.showing >= c && level.clips.len() > 1 {
                level.showing += 1;
            }
        }
        _ => {}
    }
}

/// Takes a bundle, a level or a clip out; the last of its kind stays.
pub(super) fn take_out(show: &mut Show, scope: Scope) -> Result<(), EditError> {
    if !has(show, scope) || scope == Scope::Global {
        return Err(EditError::Gone);
    }
    if count(show, scope)? == 1 {
        return Err(EditError::Last(match scope {
            Scope::Level(..) => "level",
            Scope::Clip(..) => "clip",
            _ => "bundle",
        }));
    }
    lifted(show, scope);
    follow(show, |taken| less(taken, scope));
    Ok(())
}

/// What says whether something is hidden, and what it is told by.
fn mark_of(show: &mut Show, scope: Scope) -> Result<(&mut bool, &mut Option<ColourCode>), EditError> {
    if !has(show, scope) {
        return Err(EditError::Gone);
    }
    Ok(match scope {
        Scope::Global => return Err(EditError::Gone),
        Scope::Bundle(b) => {
            let bundle = &mut show.bundles[b];
            (&mut bundle.hidden, &mut bundle.colour)
        }
        Scope::Level(b, l) => {
            let level = &mut show.bundles[b].levels[l];
            (&mut level.hidden, &mut level.colour)
        }
        Scope::Clip(b, l, c) => {
            let clip = &mut show.bundles[b].levels[l].clips[c];
            (&mut clip.hidden, &mut clip.colour)
        }
    })
}
