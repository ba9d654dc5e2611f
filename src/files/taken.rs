//! Where the chains and the clips of a show file were taken from.

use super::FileError;
use super::keys::NOTE;
use super::table::{Entry, Table};
use crate::base::content;
use crate::show::{Scope, Show, Taken};

/// The key of the notes; the program writes them, so that messages do not offer it.
pub(super) const TAKEN: &str = "taken";
/// Reads what was taken onto each scope of a show file whose scopes are read already, in the order in which a file
/// is written.
pub(super) fn taken(file: &Table, show: &mut Show) -> Result<(), FileError> {
    let mut all = Vec::new();
    for (b, bundle) in tables(file, "bundle")?.iter().enumerate() {
        on(bundle, Scope::Bundle(b), &mut all)?;
        for (l, level) in tables(bundle, "level")?.iter().enumerate() {
            on(level, Scope::Level(b, l), &mut all)?;
            for (c, clip) in tables(level, "clip")?.iter().enumerate() {
                on(clip, Scope::Clip(b, l, c), &mut all)?;
            }
        }
    }
    if let Some(global) = file.entry("global").filter(Entry::is_table) {
        on(&global.table("the global scope", "a table")?, Scope::Global, &mut all)?;
    }
    show.taken = all;
    Ok(())
}

/// The tables of a list; none where there is no such list.
pub(super) fn tables<'a, 't>(table: &Table<'a, 't>, key: &str) -> Result<Vec<Table<'a, 't>>, FileError> {
    table.entry(key).map_or(Ok(Vec::new()), |entry| entry.tables(&format!("a {key}")))
}

fn on(table: &Table, scope: Scope, all: &mut Vec<Taken>) -> Result<(), FileError> {
    let Some(entry) = table.entry(TAKEN) else { return Ok(()) };
    for table in entry.tables("a note of what was taken")? {
        table.only_of(&NOTE)?;
        let preset = table.required("preset", "preset = \"library:harbour-lamps\"")?.title()?;
        let entry = table.required("content", "content = \"0123456789abcdef0123456789abcdef\"")?;
        let content = entry.text()?;
        if !content::is_written(&content) {
            return Err(entry.refuse(format!(
                "`content` is {}; it takes 32 digits of 0 to 9 and a to f, as the program writes them (16 in older files)",
                entry.found()
            )));
        }
        let clip = table.optional("clip", Entry::text)?;
        all.push(Taken { scope, preset, clip, content });
    }
    Ok(())
}
