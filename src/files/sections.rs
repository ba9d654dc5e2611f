//! Sections and the running order in show files.

use std::fmt::Display;

use toml::Value as Toml;
use toml_edit::{InlineTable, Value};

use super::FileError;
use super::keys::SECTION;
use super::table::{Entry, Table, shortened};
use crate::base::place::{did_you_mean, listed};
use crate::show::chain::labels;
use crate::show::section::{FADE_BEATS, SECTION_BEATS, effect_label};
use crate::show::{Scope, Section, Show, marks};

/// What a level shows that shows no clip.
const NONE: &str = "none";
/// What a clip's name may open with, so that one may be called `none`.
const CLIP: &str = "clip:";
/// What the name of a chain opens with.
const CHAINS: [&str; 2] = ["library:", "preset:"];
/// Effects that would be right.
const EFFECTS: &str = "{ \"bundle:picture\" = { mirror = false } }";
/// A running order that would be right.
const ORDER: &str = "[\"casting off\", \"open water\"]";

/// Reads the sections of a show file whose scopes are read already, and their order.
pub(super) fn sections(file: &Table, show: &mut Show) -> Result<(), FileError> {
    if let Some(entry) = file.entry("section") {
        for table in entry.tables("a section")? {
            let section = section(&table, show)?;
            if show.section_named(&section.name).is_some() {
                let name = table.name()?;
                return Err(name.refuse(format!(
                    "a section named {} is already there; give each its own name",
                    name.found()
                )));
            }
            show.sections.push(section);
        }
    }
    let Some(entry) = file.entry("running_order") else { return Ok(()) };
    let names = entry.list(0, usize::MAX, ORDER)?;
    show.running_order = names.iter().map(|name| place(name, show)).collect::<Result<_, _>>()?;
    Ok(())
}

/// Reads where controls stand in the sections, once both are read: a control may call a section.
pub(super) fn standing(file: &Table, show: &mut Show) -> Result<(), FileError> {
    let Some(entry) = file.entry("section") else { return Ok(()) };
    for (nth, table) in entry.tables("a section")?.into_iter().enumerate() {
        let mut stand = std::mem::take(&mut show.sections[nth].controls);
        for entry in named(&table, "controls", "{ glow = 0.7 }")? {
            let known = || show.controls.iter().map(|control| control.name.as_str());
            if !known().any(|name| name == entry.key) {
                let name = shortened(entry.key);
                return Err(entry.refuse_key(match show.controls.len() {
                    0 => format!("there is no control `{name}`; the show has no controls"),
                    _ => format!(
                        "there is no control `{name}`{} (the show has {})",
                        did_you_mean(&name, known()),
                        listed(known())
                    ),
                }));
            }
            stand.insert(entry.key.to_owned(), entry.number(0.0, 1.0)?);
        }
        show.sections[nth].controls = stand;
    }
    Ok(())
}

/// The section that an entry of the running order names.
fn place(entry: &Entry, show: &Show) -> Result<usize, FileError> {
    let name = entry.title()?;
    show.section_named(&name).ok_or_else(|| {
        let known = || show.sections.iter().map(|section| section.name.as_str());
        let name = shortened(&name);
        entry.refuse(match show.sections.len() {
            0 => format!("there is no section named `{name}`; the show has no sections, each under a line `[[section]]`"),
            _ => format!(
                "there is no section named `{name}`{} (the show has {})",
                did_you_mean(&name, known()),
                listed(known())
            ),
        })
    })
}

fn section(table: &Table, show: &Show) -> Result<Section, FileError> {
    table.only_of(&SECTION)?;
    let mut section = Section::of(&table.name()?.title()?);
    let number = |entry: &Entry, [low, high]: [f64; 2]| entry.number(low, high);
    section.beats = table.optional("beats", |beats| number(beats, SECTION_BEATS))?;
    section.colour = table.optional("colour", Entry::colour_code)?;
    section.note = table.optional("note", Entry::text)?.unwrap_or_default();
    if let Some(entry) = table.entry("fade") {
        section.fade = number(&entry, FADE_BEATS)?;
        if let Some(beats) = section.beats.filter(|&beats| section.fade > beats) {
            return Err(entry.refuse(format!(
                "`fade` is {:?}, and the section lasts {beats:?} beats; it takes at most those, as the next takes over then",
                section.fade
            )));
        }
    }
    for entry in named(table, "shows", "{ \"picture/sea\" = \"waves\", \"signs/mark\" = \"none\" }")? {
        let [b, l] = level(&entry, show)?;
        let clips = || show.bundles[b].levels[l].clips.iter().map(|clip| clip.name.as_str());
        let written = entry.text()?;
        let clip = match written.as_str() {
            NONE => None,
            name => {
                let name = name.strip_prefix(CLIP).unwrap_or(name);
                let found = clips().position(|clip| clip == name);
                Some(found.ok_or_else(|| {
                    let name = shortened(name);
                    entry.refuse(format!(
                        "the level has no clip named `{name}`{} (it has {}; \"{NONE}\" shows nothing)",
                        did_you_mean(&name, clips().chain([NONE])),
                        listed(clips())
                    ))
                })?)
            }
        };
        section.shows.insert([b, l], clip);
    }
    for entry in named(table, "opacity", "{ \"picture/sea\" = 0.4 }")? {
        let scope = match entry.key.contains('/') {
            true => level(&entry, show).map(|[b, l]| Scope::Level(b, l))?,
            false => scope(&entry, &format!("bundle:{}", entry.key), show)?,
        };
        section.opacity.insert(scope, entry.number(0.0, 1.0)?);
    }
    for entry in named(table, "chains", "{ \"bundle:picture\" = \"library:amber\" }")? {
        let scope = scope(&entry, entry.key, show)?;
        let name = entry.text()?;
        let is_chain =
            CHAINS.iter().any(|opens| name.strip_prefix(opens).is_some_and(|name| !name.trim().is_empty()));
        if !is_chain || name.contains(char::is_control) {
            return Err(entry.refuse(format!(
                "a section's chain is {}; it takes \"library:NAME\" or \"preset:NAME\"",
                entry.found()
            )));
        }
        section.chains.insert(scope, name);
    }
    for entry in named(table, "effects", EFFECTS)? {
        let scope = scope(&entry, entry.key, show)?;
        let chain = show.chain(scope);
        let (labels, marks) = (labels(chain), marks::of(chain));
        let switches = entry.table("effects of a scope", "a table such as { mirror = false }")?;
        for switch in switches.entries() {
            let Some(at) = labels.iter().position(|label| label == switch.key) else {
                let (name, known) = (shortened(switch.key), || labels.iter().map(String::as_str));
                return Err(switch.refuse_key(match labels.len() {
                    0 => format!("the chain on {} has no effects", entry.key),
                    _ => format!(
                        "the chain on {} has no effect `{name}`{} (it has {})",
                        entry.key,
                        did_you_mean(&name, known()),
                        listed(known())
                    ),
                }));
            };
            section.effects.insert((scope, marks[at]), switch.truth()?);
        }
    }
    Ok(section)
}

/// The entries of a table of names; none where it is left out.
fn named<'a, 't>(table: &Table<'a, 't>, key: &str, example: &str) -> Result<Vec<Entry<'a, 't>>, FileError> {
    let Some(entry) = table.entry(key) else { return Ok(Vec::new()) };
    Ok(entry
        .table(&format!("the section's `{key}`"), &format!("a table such as {example}"))?
        .entries()
        .collect())
}

/// The level that a key names as BUNDLE/LEVEL.
fn level(entry: &Entry, show: &Show) -> Result<[usize; 2], FileError> {
    match scope(entry, &format!("level:{}", entry.key), show)? {
        Scope::Level(b, l) => Ok([b, l]),
        _ => Err(entry.refuse_key("it takes a level, written BUNDLE/LEVEL")),
    }
}

/// The scope of an address that a key is made of.
fn scope(entry: &Entry, address: &str, show: &Show) -> Result<Scope, FileError> {
    let refuse = |error: &dyn Display| entry.refuse_key(format!("`{}`: {error}", shortened(entry.key)));
    match show.scope_named(address) {
        Ok(scope) => Ok(scope),
        Err(crate::show::ScopeError::Form(_)) if address.starts_with("level:") => {
            let levels = show.scopes().into_iter().filter(|scope| matches!(scope, Scope::Level(..)));
            let levels: Vec<String> = levels.map(|scope| name_of(show, scope)).collect();
            let known = || levels.iter().map(String::as_str);
            // A name alone is a near miss of the one that ends in it.
            let ends = known().find(|level| level.split_once('/').is_some_and(|(_, name)| name == entry.key));
            let hint = match ends {
                Some(level) => format!("; did you mean `{level}`?"),
                None => did_you_mean(&shortened(entry.key), known()),
            };
            Err(refuse(&format!("a level is written BUNDLE/LEVEL{hint} (the show has {})", listed(known()))))
        }
        Err(error) => Err(refuse(&error)),
    }
}

/// A bundle or a level as sections name it.
fn name_of(show: &Show, scope: Scope) -> String {
    let address = show.address(scope);
    address.split_once(':').map_or(address.clone(), |(_, name)| name.to_owned())
}

/// The text of a show's sections; where `is_complete`, with what is at its default.
pub(super) fn written(show: &Show, is_complete: bool) -> String {
    show.sections.iter().map(|section| written_section(show, section, is_complete)).collect()
}

fn written_section(show: &Show, section: &Section, is_complete: bool) -> String {
    let word = |text: &str| Toml::from(text).to_string();
    let mut text = format!("\n[[section]]\nname = {}\n", word(&section.name));
    if let Some(beats) = section.beats {
        text += &format!("beats = {beats:?}\n");
    }
    if let Some(colour) = section.colour {
        text += &format!("colour = \"{colour}\"\n");
    }
    if is_complete || !section.note.is_empty() {
        text += &format!("note = {}\n", word(&section.note));
    }
    if is_complete || section.fade != 0.0 {
        text += &format!("fade = {:?}\n", section.fade);
    }
    let clip_of = |[b, l]: [usize; 2], clip: Option<usize>| match clip {
        None => NONE.to_owned(),
        Some(clip) => match show.bundles[b].levels[l].clips[clip].name.as_str() {
            NONE => format!("{CLIP}{NONE}"),
            name => name.to_owned(),
        },
    };
    let shows = section
        .shows
        .iter()
        .map(|(&[b, l], &clip)| (name_of(show, Scope::Level(b, l)), Value::from(clip_of([b, l], clip))));
    let opacity =
        section.opacity.iter().map(|(&scope, &opacity)| (name_of(show, scope), Value::from(opacity)));
    let chains =
        section.chains.iter().map(|(&scope, chain)| (show.address(scope), Value::from(chain.as_str())));
    let mut effects: Vec<(String, InlineTable)> = Vec::new();
    for (&(scope, mark), &on) in &section.effects {
        let Some(label) = effect_label(show, scope, mark) else { continue };
        let address = show.address(scope);
        match effects.last_mut().filter(|(known, _)| *known == address) {
            Some((_, switches)) => {
                switches.insert(label, Value::from(on));
            }
            None => effects.push((address, InlineTable::from_iter([(label, Value::from(on))]))),
        }
    }
    let effects = effects.into_iter().map(|(address, switches)| (address, Value::InlineTable(switches)));
    let controls = section.controls.iter().map(|(name, &position)| (name.clone(), Value::from(position)));
    text + &table("shows", shows)
        + &table("opacity", opacity)
        + &table("chains", chains)
        + &table("effects", effects)
        + &table("controls", controls)
}

/// A line with a table of names; nothing where it is empty.
fn table(key: &str, entries: impl Iterator<Item = (String, Value)>) -> String {
    let mut table = InlineTable::new();
    for (name, value) in entries {
        table.insert(name, value);
    }
    if table.is_empty() { String::new() } else { format!("{key} = {table}\n") }
}
