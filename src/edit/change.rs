//! Changes to a show, each a value.

use std::collections::HashSet;

use super::about::About;
use super::bring::Bring;
use super::clip::ClipEdit;
use super::error::{EditError, check_range};
use super::history::RunKey;
use super::names::unique;
use super::pack::Pack;
use super::put::{Put, forget_chains};
use super::sections::{SectionEdit, follow_effects};
use super::several::{Carry, Paste, Several};
use super::spot::{
    Spot, address_of, chain_of, chain_of_mut, has, insert, level_of, on_chains, reset, take, used_at,
    used_at_mut,
};
use super::structure::{StructureEdit, take_out};
use super::time::TimeEdit;
use crate::base::frame::Frame;
use crate::base::place::listed;
use crate::base::shown::shown;
use crate::beat::TEMPO_BPM;
use crate::catalogue::Value;
use crate::order::{MOST_EFFECTS, in_order, rest_marks, write_marks};
use crate::show::chain::{Chain, EffectUse, labels};
use crate::show::name::{check_name, check_scope_name};
use crate::show::{Bundle, Clip, ClipPlace, Level, Mix, Scope, Show};

/// Something with a name that a person may change.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Named {
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
    /// Does one thing to several effects of a chain.
    Several(Several),
    /// Moves effects of a chain to a gap, or puts copies of them there.
    Carry(Carry),
    /// Puts effects that were copied into a gap.
    Paste(Box<Paste>),
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
        value: Value,
    },
    /// Brings every setting of an effect back to its default.
    Reset(Spot),
    /// Puts a chain into another order: its current places, first applied first.
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
        chain: Chain,
        /// What it is called, for the name of the step.
        name: String,
    },
    /// Takes a chain away from where it stands, and puts it, as it is by now, over what stands on a scope.
    Settle {
        from: Scope,
        onto: Scope,
        chain: Chain,
        /// What it is called, for the name of the step.
        name: String,
    },
    /// Puts a chain from elsewhere onto a scope.
    Put(Box<Put>),
    /// Brings a part of another show in.
    Bring(Box<Bring>),
    /// Brings the clips of another show in.
    Pack(Box<Pack>),
    /// Gives something another name.
    Rename {
        /// What.
        what: Named,
        name: String,
    },
    /// Changes how a bundle or a level is laid over what is below it.
    Mix {
        /// The bundle or the level.
        scope: Scope,
        /// How.
        mix: Mix,
    },
    /// Changes what a clip shows, or how.
    Clip(ClipPlace, ClipEdit),
    /// Adds a clip to a level, and shows it.
    AddClip {
        bundle: usize,
        level: usize,
        /// The clip; its name is made unique.
        clip: Box<Clip>,
    },
    /// Adds a level on top of a bundle, with one clip.
    AddLevel {
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
    /// Changes how bundles, levels and clips stand to each other, and how they are told apart.
    Structure(StructureEdit),
    /// Sets the tempo, in beats per minute.
    Tempo(f64),
    /// Sets the size of the output.
    Frame(Frame),
    /// Changes what the show says of itself, and what all of it is rendered by.
    About(Box<About>),
    /// Changes what moves with the beat, and what hands hold.
    Time(TimeEdit),
    /// Changes sections, and the running order.
    Section(SectionEdit),
}

impl Edit {
    /// Footage added on top of something: a clip to a level, a level to a bundle, a bundle to the show.
    pub fn adding(into: Scope, clip: Clip) -> Self {
        let clip = Box::new(clip);
        match into {
            Scope::Global => Self::AddBundle { clip },
            Scope::Bundle(bundle) => Self::AddLevel { bundle, clip },
            Scope::Level(bundle, level) | Scope::Clip(bundle, level, _) => {
                Self::AddClip { bundle, level, clip }
            }
        }
    }

    /// What is new or was moved, by where it stands in the show after the change.
    pub fn lands(&self, after: &Show) -> Option<Scope> {
        let last = |into: Scope| {
            Some(match into {
                Scope::Global => Scope::Bundle(after.bundles.len().checked_sub(1)?),
                Scope::Bundle(b) => Scope::Level(b, after.bundles.get(b)?.levels.len().checked_sub(1)?),
                Scope::Level(b, l) => {
                    let level = after.bundles.get(b)?.levels.get(l)?;
                    Scope::Clip(b, l, level.clips.len().checked_sub(1)?)
                }
                Scope::Clip(..) => return None,
            })
        };
        match self {
            Self::AddClip { bundle, level, .. } => last(Scope::Level(*bundle, *level)),
            Self::AddLevel { bundle, .. } => last(Scope::Bundle(*bundle)),
            Self::AddBundle { .. } => last(Scope::Global),
            Self::Bring(bring) => match bring.onto {
                Some((scope, _)) => Some(scope),
                None => last(bring.into.unwrap_or(Scope::Global)),
            },
            Self::Structure(edit) => edit.lands(),
            _ => None,
        }
    }

    /// The show after the change, and the step's name for the list of steps.
    ///
    /// # Errors
    /// [`EditError`] where the change does not fit the show.
    pub fn applied(&self, show: &Show) -> Result<(Show, String), EditError> {
        // It is only ever shown, so that it is kept as it is shown.
        let name = shown(&self.name(show)?).into_owned();
        let mut show = show.clone();
        on_chains(&mut show, |chain| write_marks(chain));
        let marked = show.sections.iter().any(|section| !section.effects.is_empty()).then(|| show.clone());
        self.apply(&mut show)?;
        if let Some(before) = marked {
            follow_effects(&before, &mut show);
        }
        on_chains(&mut show, |chain| rest_marks(chain));
        Ok((show, name))
    }

    /// Changes that follow each other under one key are one step: a slider being dragged.
    pub(super) fn run_key(&self) -> Option<RunKey> {
        match self {
            Self::Set { spot, setting, .. } => Some(RunKey::Set(*spot, *setting)),
            Self::Mix { scope, .. } => Some(RunKey::Mix(*scope)),
            Self::Tempo(_) => Some(RunKey::Tempo),
            Self::Clip(place, edit) => edit.run_key(*place),
            Self::Time(edit) => edit.run_key(),
            Self::Section(edit) => edit.run_key(),
            _ => None,
        }
    }

    /// What the step is called: "Move tint", "edge-find: Gain 2".
    fn name(&self, show: &Show) -> Result<String, EditError> {
        let label = |spot: &Spot| -> Result<String, EditError> {
            let chain = chain_of(show, spot.scope)?;
            labels(chain).into_iter().nth(spot.at).ok_or(EditError::Gone)
        };
        let scope_name = |scope: Scope| address_of(show, scope);
        Ok(match self {
            Self::Add { used, into } => format!("Add {} on {}", used.effect.name, scope_name(into.scope)?),
            Self::Remove(spot) => format!("Remove {}", label(spot)?),
            Self::Duplicate(spot) => format!("Duplicate {}", label(spot)?),
            Self::Move { from, into } if from.scope == into.scope => format!("Move {}", label(from)?),
            Self::Move { from, into } => format!("Move {} to {}", label(from)?, scope_name(into.scope)?),
            Self::Several(several) => several.step(show)?,
            Self::Carry(carry) => carry.step(show)?,
            Self::Paste(paste) => paste.step(&scope_name(paste.into.scope)?),
            Self::Switch { spot, on } => {
                format!("Switch {} {}", label(spot)?, if *on { "on" } else { "off" })
            }
            Self::Set { spot, setting, value } => {
                let used = used_at(show, *spot)?;
                let setting = used.effect.settings.get(*setting).ok_or(EditError::Gone)?;
                format!("{}: {} {}", label(spot)?, setting.label, setting.kind.said(value))
            }
            Self::Reset(spot) => format!("Reset {}", label(spot)?),
            Self::Order { scope, .. } => format!("Adopt an order on {}", scope_name(*scope)?),
            Self::Chain { scope, name, .. } => format!("Take the chain {name} on {}", scope_name(*scope)?),
            Self::Settle { onto, name, .. } => format!("Put the chain {name} on {}", scope_name(*onto)?),
            Self::Put(put) => put.step(&scope_name(put.scope)?),
            Self::Bring(bring) => bring.step()?,
            Self::Pack(pack) => pack.step()?,
            Self::Rename { what: Named::Effect(spot), name } if name.trim().is_empty() => {
                format!("Call {} by its own name", label(spot)?)
            }
            Self::Rename { what: Named::Effect(spot), name } => format!("Call {} {name}", label(spot)?),
            Self::Rename { name, .. } => format!("Rename to {name}"),
            Self::Clip(place, edit) => edit.name(show, *place)?,
            Self::Mix { scope, .. } => format!("Lay {}", scope_name(*scope)?),
            Self::AddClip { clip, .. } => format!("Add the clip {}", clip.name),
            Self::AddLevel { clip, .. } => format!("Add the level {}", clip.name),
            Self::AddBundle { clip } => format!("Add the bundle {}", clip.name),
            Self::Drop(scope) => format!("Remove {}", scope_name(*scope)?),
            Self::Structure(edit) => edit.name(show)?,
            Self::Tempo(bpm) => format!("Tempo {bpm} BPM"),
            Self::Frame(frame) => format!("Frame {frame}"),
            Self::About(about) => about.step(show),
            Self::Time(edit) => edit.name(show)?,
            Self::Section(edit) => edit.name(show)?,
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
            Self::Several(several) => several.apply(show),
            Self::Carry(carry) => carry.apply(show),
            Self::Paste(paste) => paste.apply(show),
            Self::Switch { spot, on } => {
                used_at_mut(show, *spot)?.on = *on;
                Ok(())
            }
            Self::Set { spot, setting, value } => set(used_at_mut(show, *spot)?, *setting, value),
            Self::Reset(spot) => {
                reset(used_at_mut(show, *spot)?);
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
                forget_chains(show, *scope);
                Ok(())
            }
            Self::Chain { .. } => Err(EditError::Full),
            Self::Settle { from, onto, chain, .. } => {
                chain_of_mut(show, *from)?.clear();
                forget_chains(show, *from);
                let into = Spot { scope: *onto, at: chain_of(show, *onto)?.len() };
                Paste { into, chain: chain.clone() }.apply(show)
            }
            Self::Put(put) => put.apply(show, &mut Vec::new()),
            Self::Bring(bring) => {
                *show = bring.done(show)?.0;
                Ok(())
            }
            Self::Pack(pack) => {
                *show = pack.done(show)?.show;
                Ok(())
            }
            Self::Rename { what: Named::Effect(spot), name } => call(show, *spot, name),
            Self::Rename { what, name } => rename(show, *what, name),
            Self::Clip(place, edit) => edit.apply(show, *place),
            Self::Mix { scope, mix } => {
                check_range("the opacity", mix.opacity, [0.0, 1.0])?;
                *mix_of(show, *scope)? = *mix;
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
                bundle.levels.push(Level::of(&name, (**clip).clone()));
                Ok(())
            }
            Self::AddBundle { clip } => {
                let name = unique(&clip.name, show.bundles.iter().map(|bundle| bundle.name.as_str()));
                let levels = vec![Level::of(&name, (**clip).clone())];
                show.bundles.push(Bundle::of(&name, levels));
                Ok(())
            }
            Self::Drop(scope) => take_out(show, *scope),
            Self::Structure(edit) => edit.apply(show),
            Self::Tempo(bpm) => {
                check_range("the tempo", *bpm, TEMPO_BPM)?;
                show.tempo_bpm = *bpm;
                Ok(())
            }
            Self::Frame(frame) => {
                show.frame = *frame;
                Ok(())
            }
            Self::About(about) => about.apply(show),
            Self::Time(edit) => edit.apply(show),
            Self::Section(edit) => edit.apply(show),
        }
    }
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

fn mix_of(show: &mut Show, scope: Scope) -> Result<&mut Mix, EditError> {
    match scope {
        Scope::Bundle(b) => show.bundles.get_mut(b).map(|bundle| &mut bundle.mix).ok_or(EditError::Gone),
        Scope::Level(b, l) => level_of(show, b, l).map(|level| &mut level.mix),
        Scope::Global | Scope::Clip(..) => Err(EditError::Gone),
    }
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
    let Named::Scope(scope) = what else {
        check_name(name)?;
        name.clone_into(&mut show.name);
        return Ok(());
    };
    check_scope_name(name)?;
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
