//! Changes to a show, each a value.

use std::collections::HashSet;

use thiserror::Error;

use super::bring::Bring;
use super::put::{Put, forget_scope};
use super::time::TimeEdit;
use crate::base::frame::Frame;
use crate::base::place::listed;
use crate::base::shown::shown;
use crate::beat::TEMPO_BPM;
use crate::catalogue::{Value, ValueError};
use crate::order::{MOST_EFFECTS, free_mark, in_order, rest_marks, write_marks};
use crate::show::automation::AutomationError;
use crate::show::chain::{Chain, EffectUse, labels};
use crate::show::clip::{Fit, FootageName, Play};
use crate::show::{Bundle, Clip, LONGEST_NAME, Level, Mix, Scope, Show};

/// An effect in a show: a scope, and a place in its chain.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Spot {
    /// The scope.
    pub scope: Scope,
    /// The place in its chain, from 0; as a gap, the place before which it lies.
    pub at: usize,
}

/// Something with a name that a person may change.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Named {
    /// The show.
    Show,
    /// A bundle, a level or a clip; never [`Scope::Global`].
    Scope(Scope),
    /// An effect in a chain; an empty name gives its own back.
    Effect(Spot),
}

/// One change to a show.
#[derive(Debug, Clone, PartialEq)]
pub enum Edit {
    /// Puts an effect into the gap at a spot.
    Add {
        /// The gap.
        into: Spot,
        /// The effect.
        used: Box<EffectUse>,
    },
    /// Takes an effect out.
    Remove(Spot),
    /// Puts a copy of an effect directly over it.
    Duplicate(Spot),
    /// Moves an effect to a gap, counted before it is taken out; perhaps on another scope.
    Move {
        /// The effect.
        from: Spot,
        /// The gap.
        into: Spot,
    },
    /// Switches an effect on or off.
    Switch {
        /// The effect.
        spot: Spot,
        /// The new state.
        on: bool,
    },
    /// Gives a setting a value.
    Set {
        /// The effect.
        spot: Spot,
        /// The setting's place in the effect's declaration.
        setting: usize,
        /// Its value.
        value: Value,
    },
    /// Brings every setting of an effect back to its default.
    Reset(Spot),
    /// Puts a chain into another order: its present places, first applied first.
    Order {
        /// Whose chain.
        scope: Scope,
        /// Every place once.
        order: Vec<usize>,
    },
    /// Replaces a whole chain.
    Chain {
        /// Whose chain.
        scope: Scope,
        /// The chain.
        chain: Chain,
        /// What it is called, for the name of the step.
        name: String,
    },
    /// Puts a chain from elsewhere onto a scope.
    Put(Box<Put>),
    /// Brings a part of another show in.
    Bring(Box<Bring>),
    /// Gives something another name.
    Rename {
        /// What.
        what: Named,
        /// The name.
        name: String,
    },
    /// Changes how a bundle or a level is laid over what is below it.
    Mix {
        /// The bundle or the level.
        scope: Scope,
        /// How.
        mix: Mix,
    },
    /// Gives a clip other footage.
    Footage {
        /// The bundle.
        bundle: usize,
        /// The level.
        level: usize,
        /// The clip.
        clip: usize,
        /// The footage.
        footage: FootageName,
    },
    /// Places a clip's footage another way in the frame.
    Fit {
        /// The bundle.
        bundle: usize,
        /// The level.
        level: usize,
        /// The clip.
        clip: usize,
        /// How.
        fit: Fit,
    },
    /// Chooses the clip that shows on its level.
    Showing {
        /// The bundle.
        bundle: usize,
        /// The level.
        level: usize,
        /// The clip.
        clip: usize,
    },
    /// Adds a clip to a level, and shows it.
    AddClip {
        /// The bundle.
        bundle: usize,
        /// The level.
        level: usize,
        /// The clip; its name is made unique.
        clip: Box<Clip>,
    },
    /// Adds a level on top of a bundle, with one clip.
    AddLevel {
        /// The bundle.
        bundle: usize,
        /// The clip; the level takes its name.
        clip: Box<Clip>,
    },
    /// Adds a bundle on top of all, with one level of one clip.
    AddBundle {
        /// The clip; bundle and level take its name.
        clip: Box<Clip>,
    },
    /// Takes a bundle, a level or a clip out; the last of its kind stays.
    Drop(Scope),
    /// Sets the tempo, in beats per minute.
    Tempo(f64),
    /// Sets the size of the output.
    Frame(Frame),
    /// Changes what moves with the beat, and what hands hold.
    Time(TimeEdit),
}

/// Why a change was refused; the show is as it was.
#[derive(Debug, Error, PartialEq)]
pub enum EditError {
    /// No such scope or place any more.
    #[error("that place is no longer in the show; choose it again")]
    Gone,
    /// A chain is full.
    #[error("this chain has {MOST_EFFECTS} effects, the most that a chain takes; remove one first")]
    Full,
    /// A chain that is put onto another is too long for what is there.
    #[error(
        "the chain there has {there} effects and this one {more}; a chain takes at most {MOST_EFFECTS} together"
    )]
    NoRoom {
        /// Effects there.
        there: usize,
        /// Effects to come.
        more: usize,
    },
    /// Something of another show that fits nowhere here.
    #[error(
        "{what} has no place there; a level goes into a bundle, a clip into a level, and a bundle over the others"
    )]
    NoPlace {
        /// Its address in its own show.
        what: String,
    },
    /// An order that does not name every effect once.
    #[error("that order does not name each of the {effects} effects once; choose it again")]
    NoOrder {
        /// Effects in the chain.
        effects: usize,
    },
    /// A value that the setting does not take.
    #[error("`{setting}` {why}")]
    Value {
        /// The setting.
        setting: String,
        /// What was found and what is allowed.
        why: ValueError,
    },
    /// A name that a file cannot hold.
    #[error("{0}")]
    Name(String),
    /// A number out of range.
    #[error("{what} is {found}; it takes a number from {low} to {high}")]
    Range {
        /// What it is.
        what: &'static str,
        /// What was asked for.
        found: f64,
        /// The least.
        low: f64,
        /// The most.
        high: f64,
    },
    /// An automation or a grip that the setting does not take.
    #[error("`{setting}` {why}")]
    Automation {
        /// The setting.
        setting: String,
        /// What is wrong, and what is allowed.
        why: AutomationError,
    },
    /// The last one of its kind.
    #[error("this is the only {0} there; add another before you remove it")]
    Last(&'static str),
}

impl Edit {
    /// The show after the change, and the step's name for the list of steps.
    ///
    /// # Errors
    /// [`EditError`] where the change does not fit the show.
    pub fn applied(&self, show: &Show) -> Result<(Show, String), EditError> {
        // It is only ever shown, so that it is kept as it is shown.
        let name = shown(&self.name(show)?).into_owned();
        let mut show = show.clone();
        on_chains(&mut show, |chain| write_marks(chain));
        self.apply(&mut show)?;
        on_chains(&mut show, |chain| rest_marks(chain));
        Ok((show, name))
    }

    /// Changes that follow each other under one key are one step: a slider being dragged.
    pub(super) fn run_key(&self) -> Option<String> {
        match self {
            Self::Set { spot, setting, .. } => Some(format!("set {spot:?} {setting}")),
            Self::Mix { scope, .. } => Some(format!("mix {scope:?}")),
            Self::Tempo(_) => Some("tempo".to_owned()),
            Self::Time(edit) => edit.run_key(),
            _ => None,
        }
    }

    /// What the step is called: "Move tint", "edge-find: Gain 2".
    fn name(&self, show: &Show) -> Result<String, EditError> {
        let label = |spot: &Spot| -> Result<String, EditError> {
            let chain = chain_of(show, spot.scope)?;
            labels(chain).into_iter().nth(spot.at).ok_or(EditError::Gone)
        };
        let scope_name = |scope: Scope| -> Result<String, EditError> {
            chain_of(show, scope)?;
            Ok(show.address(scope))
        };
        Ok(match self {
            Self::Add { used, into } => format!("Add {} on {}", used.effect.name, scope_name(into.scope)?),
            Self::Remove(spot) => format!("Remove {}", label(spot)?),
            Self::Duplicate(spot) => format!("Duplicate {}", label(spot)?),
            Self::Move { from, into } if from.scope == into.scope => format!("Move {}", label(from)?),
            Self::Move { from, into } => format!("Move {} to {}", label(from)?, scope_name(into.scope)?),
            Self::Switch { spot, on } => {
                format!("Switch {} {}", label(spot)?, if *on { "on" } else { "off" })
            }
            Self::Set { spot, setting, value } => {
                let used = used_at(show, *spot)?;
                let setting = used.effect.settings.get(*setting).ok_or(EditError::Gone)?;
                let value = setting.kind.written(value);
                format!("{}: {} {}", label(spot)?, setting.label, value.trim_matches('"'))
            }
            Self::Reset(spot) => format!("Reset {}", label(spot)?),
            Self::Order { scope, .. } => format!("Adopt an order on {}", scope_name(*scope)?),
            Self::Chain { scope, name, .. } => format!("Take the chain {name} on {}", scope_name(*scope)?),
            Self::Put(put) => put.step(&scope_name(put.scope)?),
            Self::Bring(bring) => bring.step(),
            Self::Rename { what: Named::Effect(spot), name } if name.trim().is_empty() => {
                format!("Call {} by its own name", label(spot)?)
            }
            Self::Rename { what: Named::Effect(spot), name } => format!("Call {} {name}", label(spot)?),
            Self::Rename { name, .. } => format!("Rename to {name}"),
            Self::Footage { bundle, level, clip, footage } => {
                format!("Footage {footage} for {}", scope_name(Scope::Clip(*bundle, *level, *clip))?)
            }
            Self::Fit { bundle, level, clip, fit } => {
                format!("Place {}: {}", scope_name(Scope::Clip(*bundle, *level, *clip))?, fit.name())
            }
            Self::Mix { scope, .. } => format!("Lay {}", scope_name(*scope)?),
            Self::Showing { bundle, level, clip } => {
                let scope = Scope::Clip(*bundle, *level, *clip);
                format!("Show {}", scope_name(scope)?)
            }
            Self::AddClip { clip, .. } => format!("Add the clip {}", clip.name),
            Self::AddLevel { clip, .. } => format!("Add the level {}", clip.name),
            Self::AddBundle { clip } => format!("Add the bundle {}", clip.name),
            Self::Drop(scope) => format!("Remove {}", scope_name(*scope)?),
            Self::Tempo(bpm) => format!("Tempo {bpm} BPM"),
            Self::Frame(frame) => format!("Frame {frame}"),
            Self::Time(edit) => edit.name(show)?,
        })
    }

    fn apply(&self, show: &mut Show) -> Result<(), EditError> {
        match self {
            Self::Add { into, used } => {
                let mut used = (**used).clone();
                used.mark = None;
                insert(chain_of_mut(show, into.scope)?, into.at, used)
            }
            Self::Remove(spot) => take(show, *spot).map(drop),
            Self::Duplicate(spot) => {
                let mut copy = used_at(show, *spot)?.clone();
                copy.mark = None;
                insert(chain_of_mut(show, spot.scope)?, spot.at + 1, copy)
            }
            Self::Move { from, into } => {
                let used = take(show, *from)?;
                // Taken out from under the gap, it lets the gap sink by one.
                let sinks = from.scope == into.scope && from.at < into.at;
                insert(chain_of_mut(show, into.scope)?, into.at - usize::from(sinks), used)
            }
            Self::Switch { spot, on } => {
                used_at_mut(show, *spot)?.on = *on;
                Ok(())
            }
            Self::Set { spot, setting, value } => set(used_at_mut(show, *spot)?, *setting, value),
            Self::Reset(spot) => {
                let used = used_at_mut(show, *spot)?;
                let mut fresh = EffectUse::new(used.effect.clone());
                (fresh.on, fresh.name, fresh.mark) = (used.on, used.name.take(), used.mark);
                *used = fresh;
                Ok(())
            }
            Self::Order { scope, order } => {
                let chain = chain_of_mut(show, *scope)?;
                let places: HashSet<usize> = order.iter().copied().collect();
                if order.len() != chain.len() || places != (0..chain.len()).collect() {
                    return Err(EditError::NoOrder { effects: chain.len() });
                }
                *chain = in_order(chain, order);
                write_marks(chain);
                Ok(())
            }
            Self::Chain { scope, chain, .. } if chain.len() <= MOST_EFFECTS => {
                let there = chain_of_mut(show, *scope)?;
                chain.clone_into(there);
                write_marks(there);
                show.taken.retain(|taken| taken.scope != *scope);
                Ok(())
            }
            Self::Chain { .. } => Err(EditError::Full),
            Self::Put(put) => put.apply(show),
            Self::Bring(bring) => {
                *show = bring.done(show)?.0;
                Ok(())
            }
            Self::Rename { what: Named::Effect(spot), name } => call(show, *spot, name),
            Self::Rename { what, name } => rename(show, *what, name),
            Self::Footage { bundle, level, clip, footage } => {
                let clip = clip_of(show, *bundle, *level, *clip)?;
                clip.footage = footage.clone();
                // What is not played from a file takes no word of how it is played.
                if !matches!(footage, FootageName::File { .. }) {
                    clip.play = Play::default();
                }
                Ok(())
            }
            Self::Fit { bundle, level, clip, fit } => {
                clip_of(show, *bundle, *level, *clip)?.fit = *fit;
                Ok(())
            }
            Self::Mix { scope, mix } => {
                check_range("the opacity", mix.opacity, [0.0, 1.0])?;
                *mix_of(show, *scope)? = *mix;
                Ok(())
            }
            Self::Showing { bundle, level, clip } => {
                let level = level_of(show, *bundle, *level)?;
                if *clip >= level.clips.len() {
                    return Err(EditError::Gone);
                }
                level.showing = *clip;
                Ok(())
            }
            Self::AddClip { bundle, level, clip } => {
                let level = level_of(show, *bundle, *level)?;
                let name = unique(&clip.name, level.clips.iter().map(|clip| clip.name.as_str()));
                level.clips.push(Clip { name, ..(**clip).clone() });
                level.showing = level.clips.len() - 1;
                Ok(())
            }
            Self::AddLevel { bundle, clip } => {
                let bundle = show.bundles.get_mut(*bundle).ok_or(EditError::Gone)?;
                let name = unique(&clip.name, bundle.levels.iter().map(|level| level.name.as_str()));
                bundle.levels.push(level_with(&name, clip));
                Ok(())
            }
            Self::AddBundle { clip } => {
                let name = unique(&clip.name, show.bundles.iter().map(|bundle| bundle.name.as_str()));
                let levels = vec![level_with(&name, clip)];
                show.bundles.push(Bundle { name, mix: Mix::default(), chain: Chain::new(), levels });
                Ok(())
            }
            Self::Drop(scope) => drop_scope(show, *scope),
            Self::Tempo(bpm) => {
                check_range("the tempo", *bpm, TEMPO_BPM)?;
                show.tempo_bpm = *bpm;
                Ok(())
            }
            Self::Frame(frame) => {
                show.frame = *frame;
                Ok(())
            }
            Self::Time(edit) => edit.apply(show),
        }
    }
}

fn level_with(name: &str, clip: &Clip) -> Level {
    Level {
        name: name.to_owned(),
        mix: Mix::default(),
        chain: Chain::new(),
        clips: vec![clip.clone()],
        showing: 0,
    }
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

fn chain_of(show: &Show, scope: Scope) -> Result<&Chain, EditError> {
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

fn level_of(show: &mut Show, bundle: usize, level: usize) -> Result<&mut Level, EditError> {
    let bundle = show.bundles.get_mut(bundle).ok_or(EditError::Gone)?;
    bundle.levels.get_mut(level).ok_or(EditError::Gone)
}

pub(super) fn clip_of(
    show: &mut Show,
    bundle: usize,
    level: usize,
    clip: usize,
) -> Result<&mut Clip, EditError> {
    level_of(show, bundle, level)?.clips.get_mut(clip).ok_or(EditError::Gone)
}

/// Does something to the chain of every scope.
pub(super) fn on_chains(show: &mut Show, mut change: impl FnMut(&mut Chain)) {
    show.scopes().into_iter().for_each(|scope| change(show.chain_mut(scope)));
}

/// Puts an effect into a gap; it keeps its mark where no other has that, and gets the lowest that is free otherwise.
fn insert(chain: &mut Chain, at: usize, mut used: EffectUse) -> Result<(), EditError> {
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

fn take(show: &mut Show, spot: Spot) -> Result<EffectUse, EditError> {
    used_at(show, spot)?;
    Ok(show.chain_mut(spot.scope).remove(spot.at))
}

fn set(used: &mut EffectUse, setting: usize, value: &Value) -> Result<(), EditError> {
    let declared = used.effect.settings.get(setting).ok_or(EditError::Gone)?.clone();
    let done = match value {
        Value::Number(number) => used.set_number(setting, *number),
        Value::Whole(number) => used.set_number(setting, *number as f64),
        Value::Colour(colour) => used.set_word(setting, &colour.to_string()),
        Value::Choice(place) => {
            let words = match &declared.kind {
                crate::catalogue::Kind::Choice(words) => words.get(*place),
                _ => None,
            };
            used.set_word(setting, words.ok_or(EditError::Gone)?)
        }
    };
    done.map_err(|why| EditError::Value { setting: declared.label, why })
}

pub(super) fn check_range(what: &'static str, found: f64, [low, high]: [f64; 2]) -> Result<(), EditError> {
    if (low..=high).contains(&found) { Ok(()) } else { Err(EditError::Range { what, found, low, high }) }
}

fn mix_of(show: &mut Show, scope: Scope) -> Result<&mut Mix, EditError> {
    match scope {
        Scope::Bundle(b) => show.bundles.get_mut(b).map(|bundle| &mut bundle.mix).ok_or(EditError::Gone),
        Scope::Level(b, l) => level_of(show, b, l).map(|level| &mut level.mix),
        Scope::Global | Scope::Clip(..) => Err(EditError::Gone),
    }
}

fn check_name(name: &str) -> Result<(), EditError> {
    usable_name(name).map_err(EditError::Name)
}

/// Refuses, in words, a name that no chain or show file could hold.
pub(crate) fn usable_name(name: &str) -> Result<(), String> {
    let length = name.chars().count();
    if name.trim().is_empty() {
        return Err("a name needs at least one letter".to_owned());
    }
    if length > LONGEST_NAME {
        return Err(format!("that name has {length} characters; a name takes at most {LONGEST_NAME}"));
    }
    if name.contains(char::is_control) {
        return Err("that name holds a line end or tab; a name takes plain text".to_owned());
    }
    Ok(())
}

/// Calls an effect something else; nothing, or its own name, gives its own name back.
fn call(show: &mut Show, spot: Spot, name: &str) -> Result<(), EditError> {
    let used = used_at(show, spot)?;
    if name.trim().is_empty() || name == used.effect.name {
        used_at_mut(show, spot)?.name = None;
        return Ok(());
    }
    check_name(name)?;
    let known = labels(show.chain(spot.scope));
    if known.iter().enumerate().any(|(at, label)| at != spot.at && label == name) {
        let taken = listed(known.iter().map(String::as_str));
        return Err(EditError::Name(format!("`{name}` is taken; the effects here are {taken}")));
    }
    used_at_mut(show, spot)?.name = Some(name.to_owned());
    Ok(())
}

fn rename(show: &mut Show, what: Named, name: &str) -> Result<(), EditError> {
    let refuse = |why: String| Err(EditError::Name(why));
    check_name(name)?;
    let Named::Scope(scope) = what else {
        name.clone_into(&mut show.name);
        return Ok(());
    };
    if let Some(c) = name.chars().find(|c| matches!(c, '/' | ':')) {
        return refuse(format!("that name holds `{c}`, which parts the names of a scope; choose another"));
    }
    if !has(show, scope) {
        return Err(EditError::Gone);
    }
    let (own, names): (usize, Vec<&mut String>) = match scope {
        Scope::Global => return refuse("the global scope keeps its name".to_owned()),
        Scope::Bundle(b) => (b, show.bundles.iter_mut().map(|bundle| &mut bundle.name).collect()),
        Scope::Level(b, l) => (l, show.bundles[b].levels.iter_mut().map(|level| &mut level.name).collect()),
        Scope::Clip(b, l, c) => {
            (c, show.bundles[b].levels[l].clips.iter_mut().map(|clip| &mut clip.name).collect())
        }
    };
    if names.iter().enumerate().any(|(at, known)| at != own && known.as_str() == name) {
        let taken = listed(names.iter().map(|name| name.as_str()));
        return refuse(format!("`{name}` is taken; the names here are {taken}"));
    }
    for (at, known) in names.into_iter().enumerate() {
        if at == own {
            name.clone_into(known);
        }
    }
    Ok(())
}

fn drop_scope(show: &mut Show, scope: Scope) -> Result<(), EditError> {
    if !has(show, scope) {
        return Err(EditError::Gone);
    }
    match scope {
        Scope::Global => return Err(EditError::Gone),
        Scope::Bundle(_) if show.bundles.len() == 1 => return Err(EditError::Last("bundle")),
        Scope::Bundle(b) => drop(show.bundles.remove(b)),
        Scope::Level(b, _) if show.bundles[b].levels.len() == 1 => return Err(EditError::Last("level")),
        Scope::Level(b, l) => drop(show.bundles[b].levels.remove(l)),
        Scope::Clip(b, l, c) => {
            let level = &mut show.bundles[b].levels[l];
            if level.clips.len() == 1 {
                return Err(EditError::Last("clip"));
            }
            level.clips.remove(c);
            // The clip that shows stays the same one, unless it is the one that goes.
            if level.showing > c || level.showing == level.clips.len() {
                level.showing -= 1;
            }
        }
    }
    forget_scope(show, scope);
    Ok(())
}

/// The name, made one that a scope may have and that none of `taken` is.
pub(super) fn unique<'a>(name: &str, taken: impl Iterator<Item = &'a str> + Clone) -> String {
    let plain: String = name
        .chars()
        .map(|c| if c.is_control() || matches!(c, '/' | ':') { ' ' } else { c })
        .take(LONGEST_NAME - 4)
        .collect();
    let plain = if plain.trim().is_empty() { "clip".to_owned() } else { plain };
    let is_taken = |name: &str| taken.clone().any(|known| known == name);
    if !is_taken(&plain) {
        return plain;
    }
    (2..).map(|n| format!("{plain} {n}")).find(|name| !is_taken(name)).unwrap_or(plain)
}
