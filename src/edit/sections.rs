//! Changes to the sections of a show and to their order.

use std::collections::{BTreeMap, BTreeSet};

use super::error::{EditError, check_range};
use super::follow::followed;
use super::history::{OfSection, RunKey};
use super::names::numbered;
use super::spot::{address_of, has};
use crate::base::coding::ColourCode;
use crate::base::place::listed;
use crate::show::chain::EffectUse;
use crate::show::name::check_name;
use crate::show::section::{FADE_BEATS, SECTION_BEATS, effect_label};
use crate::show::{Scope, Section, Show, marks};

/// One change to the sections of a show. A section is spoken of by its place in [`Show::sections`].
#[derive(Debug, Clone, PartialEq)]
pub enum SectionEdit {
    /// Adds a section behind all others; its name is made unique.
    Add(Box<Section>),
    /// Puts a copy of a section behind it.
    Duplicate(usize),
    /// Takes a section out, and out of the running order.
    Remove(usize),
    /// Moves a section to a gap of the list, counted before it is taken out; the running order stays what it is.
    Move { from: usize, into: usize },
    /// Gives a section another name; the running order follows.
    Rename { section: usize, name: String },
    /// Gives a section a colour to tell it by, or none.
    Colour { section: usize, colour: Option<ColourCode> },
    /// Says what to keep in mind.
    Note { section: usize, note: String },
    /// Says how long a section lasts; without beats until the next is called.
    Beats { section: usize, beats: Option<f64> },
    /// Says in how many beats a section takes over from the one before.
    Fade { section: usize, beats: f64 },
    /// Says what a level shows in a section.
    Shows { section: usize, level: [usize; 2], shows: Shows },
    /// Says how much of a bundle or a level shows in a section; without a figure, as the show has it.
    Opacity { section: usize, scope: Scope, opacity: Option<f64> },
    /// Lays a chain on a scope in a section, in place of its own; without one, its own.
    Chain { section: usize, scope: Scope, chain: Option<String> },
    /// Lays chains in several sections at once: the section, the scope, the chain.
    Chains(Vec<(usize, Scope, String)>),
    /// Says whether effects of a scope are on in a section, by their marks; without that, as the show has them.
    Effects { section: usize, scope: Scope, marks: Vec<u32>, on: Option<bool> },
    /// Says where controls stand in a section, 0 to 1; without a figure wherever they are.
    Controls { section: usize, positions: Vec<(String, Option<f64>)> },
    /// Sets the running order: places of sections.
    Order(Vec<usize>),
}

/// What a level shows in a section.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Shows {
    /// What the show has it show.
    AsItStands,
    /// No clip.
    Nothing,
    /// A clip, by its place on the level.
    Clip(usize),
}

impl SectionEdit {
    /// Changes that follow each other under one key are one step.
    pub(super) fn run_key(&self) -> Option<RunKey> {
        let (section, what) = match *self {
            Self::Rename { section, .. } => (section, OfSection::Name),
            Self::Note { section, .. } => (section, OfSection::Note),
            Self::Beats { section, beats: Some(_) } => (section, OfSection::Beats),
            Self::Fade { section, .. } => (section, OfSection::Fade),
            Self::Opacity { section, scope, opacity: Some(_) } => (section, OfSection::Opacity(scope)),
            _ => return None,
        };
        Some(RunKey::Section(section, what))
    }

    /// What the step is called.
    pub(super) fn name(&self, show: &Show) -> Result<String, EditError> {
        let named = |section: &usize| show.sections.get(*section).map(|of| &of.name).ok_or(EditError::Gone);
        Ok(match self {
            Self::Add(section) => format!("Add the section {}", section.name),
            Self::Duplicate(section) => format!("Duplicate the section {}", named(section)?),
            Self::Remove(section) => format!("Remove the section {}", named(section)?),
            Self::Move { from, .. } => format!("Move the section {}", named(from)?),
            Self::Rename { section, name } => format!("Rename the section {} to {name}", named(section)?),
            Self::Colour { section, colour: Some(colour) } => format!("Colour {} {colour}", named(section)?),
            Self::Colour { section, colour: None } => format!("No colour for {}", named(section)?),
            Self::Note { section, .. } => format!("Note on {}", named(section)?),
            Self::Beats { section, beats: Some(beats) } => format!("{} lasts {beats} beats", named(section)?),
            Self::Beats { section, beats: None } => format!("{} lasts until the next", named(section)?),
            Self::Fade { section, beats } => format!("{} comes in {beats} beats", named(section)?),
            Self::Shows { section, level: [b, l], shows } => {
                let (section, level) = (named(section)?, address_of(show, Scope::Level(*b, *l))?);
                match shows {
                    Shows::AsItStands => format!("{section}: {level} as it stands"),
                    Shows::Nothing => format!("{section}: nothing on {level}"),
                    Shows::Clip(clip) => {
                        let clip = show.bundles[*b].levels[*l].clips.get(*clip).ok_or(EditError::Gone)?;
                        format!("{section}: {} on {level}", clip.name)
                    }
                }
            }
            Self::Opacity { section, scope, opacity } => {
                let (section, address) = (named(section)?, address_of(show, *scope)?);
                match opacity {
                    Some(opacity) => format!("{section}: {address} at {opacity}"),
                    None => format!("{section}: {address} as it stands"),
                }
            }
            Self::Chain { section, scope, chain } => {
                let (section, address) = (named(section)?, address_of(show, *scope)?);
                match chain {
                    Some(chain) => format!("{section}: {chain} on {address}"),
                    None => format!("{section}: {address} keeps its own chain"),
                }
            }
            Self::Chains(all) => {
                let mut chains: Vec<&str> = all.iter().map(|(.., chain)| chain.as_str()).collect();
                chains.dedup();
                format!("Sections lay {}", chains.join(", "))
            }
            Self::Effects { section, scope, marks, on } => {
                let (section, address) = (named(section)?, address_of(show, *scope)?);
                let labels: Vec<String> =
                    marks.iter().filter_map(|&mark| effect_label(show, *scope, mark)).collect();
                let state = on.map_or("as the show has it", |on| if on { "on" } else { "off" });
                format!("{section}: {} {state} on {address}", listed(labels.iter().map(String::as_str)))
            }
            Self::Controls { section, positions } => {
                let names = listed(positions.iter().map(|(name, _)| name.as_str()));
                match positions.iter().any(|(_, position)| position.is_some()) {
                    true => format!("{}: where {names} stands", named(section)?),
                    false => format!("{}: {names} wherever it is", named(section)?),
                }
            }
            Self::Order(_) => "Running order".to_owned(),
        })
    }

    pub(super) fn apply(&self, show: &mut Show) -> Result<(), EditError> {
        let names = |show: &Show| -> Vec<String> {
            show.sections.iter().map(|section| section.name.clone()).collect()
        };
        match self {
            Self::Add(section) => {
                let mut section = (**section).clone();
                check_name(&section.name)?;
                check(&section, show)?;
                let names = names(show);
                section.name = numbered(&section.name, names.iter().map(String::as_str));
                show.sections.push(section);
            }
            Self::Duplicate(at) => {
                let mut copy = of(show, *at)?.clone();
                let names = names(show);
                copy.name = numbered(&copy.name, names.iter().map(String::as_str));
                insert(show, *at + 1, copy);
            }
            Self::Remove(at) => {
                of(show, *at)?;
                show.sections.remove(*at);
                show.running_order.retain(|section| section != at);
                show.follow_called(|section| (section != *at).then_some(section));
                follow(show, |section| section - usize::from(section > *at));
            }
            Self::Move { from, into } => {
                of(show, *from)?;
                if *into > show.sections.len() {
                    return Err(EditError::Gone);
                }
                let to = into - usize::from(from < into);
                let section = show.sections.remove(*from);
                show.sections.insert(to, section);
                follow(show, |section| match section {
                    section if section == *from => to,
                    section => {
                        let left = section - usize::from(section > *from);
                        left + usize::from(left >= to)
                    }
                });
            }
            Self::Rename { section, name } => {
                of(show, *section)?;
                check_name(name)?;
                if show.section_named(name).is_some_and(|known| known != *section) {
                    let names = names(show);
                    let taken = listed(names.iter().map(String::as_str));
                    return Err(EditError::Name(format!("`{name}` is taken; the sections are {taken}")));
                }
                name.clone_into(&mut show.sections[*section].name);
            }
            Self::Order(order) => {
                if order.iter().any(|&section| section >= show.sections.len()) {
                    return Err(EditError::Gone);
                }
                show.running_order.clone_from(order);
            }
            Self::Colour { section, colour } => change(show, *section, |of| of.colour = *colour)?,
            Self::Note { section, note } => change(show, *section, |of| note.clone_into(&mut of.note))?,
            Self::Beats { section, beats } => change(show, *section, |of| of.beats = *beats)?,
            Self::Fade { section, beats } => change(show, *section, |of| of.fade = *beats)?,
            Self::Shows { section, level, shows } => change(show, *section, |of| {
                match shows {
                    Shows::AsItStands => of.shows.remove(level),
                    Shows::Nothing => of.shows.insert(*level, None),
                    Shows::Clip(clip) => of.shows.insert(*level, Some(*clip)),
                };
            })?,
            Self::Opacity { section, scope, opacity } => change(show, *section, |of| {
                match opacity {
                    Some(opacity) => of.opacity.insert(*scope, *opacity),
                    None => of.opacity.remove(scope),
                };
            })?,
            Self::Chain { section, scope, chain } => change(show, *section, |of| {
                match chain {
                    Some(chain) => of.chains.insert(*scope, chain.clone()),
                    None => of.chains.remove(scope),
                };
            })?,
            Self::Chains(all) => {
                for (section, scope, chain) in all {
                    change(show, *section, |of| drop(of.chains.insert(*scope, chain.clone())))?;
                }
            }
            Self::Effects { section, scope, marks, on } => change(show, *section, |of| {
                for &mark in marks {
                    match on {
                        Some(on) => of.effects.insert((*scope, mark), *on),
                        None => of.effects.remove(&(*scope, mark)),
                    };
                }
            })?,
            Self::Controls { section, positions } => change(show, *section, |of| {
                for (name, position) in positions {
                    match position {
                        Some(position) => of.controls.insert(name.clone(), *position),
                        None => of.controls.remove(name),
                    };
                }
            })?,
        }
        Ok(())
    }
}

fn of(show: &Show, section: usize) -> Result<&Section, EditError> {
    show.sections.get(section).ok_or(EditError::Gone)
}

/// Changes a section, where what comes of it can be one of this show.
fn change(show: &mut Show, section: usize, change: impl FnOnce(&mut Section)) -> Result<(), EditError> {
    let mut changed = of(show, section)?.clone();
    change(&mut changed);
    check(&changed, show)?;
    show.sections[section] = changed;
    Ok(())
}

/// Refuses what a show file could not hold.
fn check(section: &Section, show: &Show) -> Result<(), EditError> {
    check_range("the fade", section.fade, FADE_BEATS)?;
    if let Some(beats) = section.beats {
        check_range("the length", beats, SECTION_BEATS)?;
        if section.fade > beats {
            return Err(EditError::LongFade { fade: section.fade, beats });
        }
    }
    for (&[b, l], &clip) in &section.shows {
        let scope = clip.map_or(Scope::Level(b, l), |clip| Scope::Clip(b, l, clip));
        if !has(show, scope) {
            return Err(EditError::Gone);
        }
    }
    for (&scope, &opacity) in &section.opacity {
        check_range("the opacity", opacity, [0.0, 1.0])?;
        if !has(show, scope) || matches!(scope, Scope::Global | Scope::Clip(..)) {
            return Err(EditError::Gone);
        }
    }
    for (&scope, chain) in &section.chains {
        let name = chain.strip_prefix("library:").or_else(|| chain.strip_prefix("preset:"));
        if name.is_none_or(|name| name.trim().is_empty() || name.contains(char::is_control)) {
            return Err(EditError::NoChain(chain.clone()));
        }
        if !has(show, scope) {
            return Err(EditError::Gone);
        }
    }
    for &(scope, mark) in section.effects.keys() {
        if !has(show, scope) || marks::place(show.chain(scope), mark).is_none() {
            return Err(EditError::Gone);
        }
    }
    for (name, &position) in &section.controls {
        check_range("the control", position, [0.0, 1.0])?;
        if !show.controls.iter().any(|control| control.name == *name) {
            return Err(EditError::Gone);
        }
    }
    Ok(())
}

/// Lets what sections say of effects follow these to other scopes; what is said of one that is gone is let go. Marks are
/// written on all effects.
pub(super) fn follow_effects(before: &Show, show: &mut Show) {
    let said: BTreeSet<(Scope, u32)> =
        show.sections.iter().flat_map(|section| section.effects.keys().copied()).collect();
    let now: BTreeMap<(Scope, u32), (Scope, u32)> =
        said.into_iter().filter_map(|of| Some((of, effect_now(before, show, of)?))).collect();
    for section in &mut show.sections {
        let effects = std::mem::take(&mut section.effects);
        section.effects = effects.into_iter().filter_map(|(of, on)| Some((*now.get(&of)?, on))).collect();
    }
}

/// Where an effect is that is spoken of by its scope, as it is now, and by its mark.
fn effect_now(before: &Show, show: &Show, (scope, mark): (Scope, u32)) -> Option<(Scope, u32)> {
    let at = |show: &Show, scope: Scope, mark: u32| -> Option<EffectUse> {
        let chain = has(show, scope).then(|| show.chain(scope))?;
        marks::place(chain, mark).map(|at| chain[at].clone())
    };
    let was = followed(show, before, scope).and_then(|scope| at(before, scope, mark));
    let here = at(show, scope, mark);
    let Some(was) = was else { return here.map(|_| (scope, mark)) };
    if here.is_some_and(|here| here.effect.name == was.effect.name) {
        return Some((scope, mark));
    }
    // It went to another scope: to where nothing was that is like it.
    show.scopes().into_iter().filter(|to| *to != scope).find_map(|to| {
        let found = show.chain(to).iter().zip(marks::of(show.chain(to))).find(|(used, mark)| {
            let stood = followed(show, before, to).and_then(|scope| at(before, scope, *mark));
            used.is_alike(&was) && !stood.is_some_and(|stood| stood.is_alike(&was))
        });
        found.map(|(_, mark)| (to, mark))
    })
}

fn insert(show: &mut Show, at: usize, section: Section) {
    show.sections.insert(at, section);
    follow(show, |section| section + usize::from(section >= at));
}

/// Lets the running order, and the controls that call sections, follow these to where they are now.
fn follow(show: &mut Show, now: impl Fn(usize) -> usize) {
    show.running_order.iter_mut().for_each(|section| *section = now(*section));
    show.follow_called(|section| Some(now(section)));
}
