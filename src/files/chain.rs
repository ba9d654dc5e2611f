//! Reading chain files, and the chains inside show files.

use super::FileError;
use super::automation::automation;
use super::hands::controls_of_chain;
use super::keys::{CHAIN, EFFECT};
use super::table::{Entry, Table};
use super::value::value;
use crate::catalogue::{Catalogue, Kind};
use crate::order::{LARGEST_MARK, MOST_EFFECTS, rest_marks};
use crate::show::chain::{Chain, EffectUse, Preset};

/// The content of a chain file.
pub(crate) fn preset(file: &Table, catalogue: &Catalogue) -> Result<Preset, FileError> {
    file.only_of(&CHAIN)?;
    let (chain, controls) = controls_of_chain(file, chain(file, catalogue)?)?;
    Ok(Preset {
        name: file.name()?.title()?,
        about: file.optional("about", Entry::text)?.unwrap_or_default(),
        tags: file.optional("tags", Entry::titles)?.unwrap_or_default(),
        chain,
        controls,
    })
}

/// The effects of a table; none where it has no `effect`.
pub(crate) fn chain(table: &Table, catalogue: &Catalogue) -> Result<Chain, FileError> {
    let Some(effects) = table.entry("effect") else {
        return Ok(Chain::new());
    };
    let effects = effects.tables("an effect")?;
    if let Some(extra) = effects.get(MOST_EFFECTS) {
        return Err(extra.refuse(format!(
            "this is effect {} of its chain; a chain takes at most {MOST_EFFECTS}",
            MOST_EFFECTS + 1
        )));
    }
    let mut chain = Chain::with_capacity(effects.len());
    for effect in &effects {
        chain.push(effect_use(effect.clone(), catalogue)?);
    }
    tell_marks_apart(&effects, &chain)?;
    rest_marks(&mut chain);
    Ok(chain)
}

/// Refuses a mark that two effects have, at the last place where one is written.
fn tell_marks_apart(effects: &[Table], chain: &[EffectUse]) -> Result<(), FileError> {
    let mark = |at: usize| chain[at].mark.unwrap_or(at as u32 + 1);
    for at in 0..chain.len() {
        let Some(other) = (0..at).find(|&other| mark(other) == mark(at)) else { continue };
        let (entry, rest) = match (effects[at].entry("mark"), effects[other].entry("mark")) {
            (Some(entry), _) => (entry, other),
            (None, Some(entry)) => (entry, at),
            (None, None) => continue,
        };
        let free = (1..).find(|&free| (0..chain.len()).all(|at| mark(at) != free)).unwrap_or(LARGEST_MARK);
        let place = if chain[rest].mark.is_some() { "" } else { ", its place" };
        return Err(entry.refuse(format!(
            "`mark` is {}, and so is that of effect {}, `{}`{place}; each effect of a chain has its own, such as {free}",
            mark(at),
            rest + 1,
            chain[rest].effect.name
        )));
    }
    Ok(())
}

fn effect_use(mut table: Table, catalogue: &Catalogue) -> Result<EffectUse, FileError> {
    let named = table.deciding("use", "use = \"tint\"")?;
    let name = named.text()?;
    let effect = catalogue.effect(&name).map_err(|error| named.refuse(error))?;
    let settings: Vec<&str> = effect.settings.iter().map(|setting| setting.name.as_str()).collect();
    table.what = format!("an effect of `{}`", effect.name);
    table.only_or(&EFFECT.names().collect::<Vec<_>>(), &settings)?;

    let mut used = EffectUse::new(effect.clone());
    for entry in table.entries() {
        if entry.key == "on" {
            used.on = entry.truth()?;
        } else if entry.key == "name" {
            used.name = Some(entry.title()?);
        } else if entry.key == "mark" {
            used.mark = Some(entry.whole(1, LARGEST_MARK)?);
        } else if let Some(place) = settings.iter().position(|&setting| setting == entry.key) {
            set(&mut used, place, &entry)?;
        }
    }
    Ok(used)
}

fn set(used: &mut EffectUse, place: usize, entry: &Entry) -> Result<(), FileError> {
    let kind = used.effect.settings[place].kind.clone();
    if entry.is_table() && !matches!(kind, Kind::Choice(_)) {
        let automation = automation(entry, &kind)?;
        return used
            .automate(place, automation)
            .map_err(|error| entry.refuse(format!("`{}` {error}", entry.key)));
    }
    used.fix(place, value(entry, &kind)?);
    Ok(())
}
