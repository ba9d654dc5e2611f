//! Which shows hold a copy of a chain.

use std::fmt;
use std::fs;
use std::path::{Path, PathBuf};

use super::summary::is_content_of;
use super::{Entry, Kind, content_of_chain};
use crate::show::{Scope, Section, Show, Taken};

/// How deep folders are looked through for shows.
const DEEPEST: usize = 6;
/// Most files that are looked at in one go.
const MOST_FILES: usize = 20_000;

/// How a copy stands to what it was taken from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum State {
    /// It is what the library has.
    Same,
    /// The library has another one by now.
    NewerThere,
    /// The library no longer has one of this name.
    Gone,
}

/// As the end of a sentence.
impl fmt::Display for State {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Same => "as the library has it",
            Self::NewerThere => "the library has a newer one",
            Self::Gone => "the library no longer has it",
        })
    }
}

/// A copy that a show holds.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Copied {
    /// Where.
    pub scope: Scope,
    /// What it was taken from, without `library:`.
    pub handle: String,
    /// How the library stands to what was taken.
    pub state: State,
    /// Whether the scope's effects have been changed since they were taken.
    pub is_changed: bool,
}

/// A show that holds copies of an entry.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Usage {
    pub file: PathBuf,
    /// The show's name.
    pub show: String,
    /// The address of each scope, and in words how the copy there stands.
    pub places: Vec<(String, String)>,
}

/// What a show says that it took from the library, and how it stands now.
pub fn copies_in(show: &Show, library: &[Entry]) -> Vec<Copied> {
    let state = |taken: &Taken, handle: &str| {
        let chains = || library.iter().filter(|entry| entry.kind == Kind::Chain);
        let is_same =
            |entry: &Entry| entry.facts.as_ref().is_ok_and(|facts| facts.is_content(&taken.content));
        match chains().find(|entry| entry.handle == handle).map(|entry| &entry.facts) {
            // It may only be called something else by now.
            None if chains().any(is_same) => State::Same,
            None => State::Gone,
            Some(Ok(facts)) if facts.is_content(&taken.content) => State::Same,
            Some(_) => State::NewerThere,
        }
    };
    show.taken
        .iter()
        .map(|taken| {
            let handle =
                taken.preset.split_once(':').map_or(taken.preset.as_str(), |(_, name)| name).to_owned();
            Copied {
                scope: taken.scope,
                state: state(taken, &handle),
                is_changed: !holds(show, taken.scope, &taken.content),
                handle,
            }
        })
        .collect()
}

/// Whether a run of effects on the scope is what this stands for.
fn holds(show: &Show, scope: Scope, content: &str) -> bool {
    let chain = show.chain(scope);
    (0..=chain.len()).any(|from| (from..=chain.len()).any(|to| is_content_of(&chain[from..to], content)))
}

/// The sections of a show that lay a chain of the library on a scope, by that entry's name: section, and scope.
pub fn sections_naming(show: &Show, entry: &Entry) -> Vec<(String, Scope)> {
    let is_it = |chain: &str| {
        chain.strip_prefix("library:").is_some_and(|name| name == entry.handle || name == entry.name())
    };
    let of = |section: &Section| -> Vec<(String, Scope)> {
        let chains = section.chains.iter().filter(|(_, chain)| is_it(chain));
        chains.map(|(&scope, _)| (section.name.clone(), scope)).collect()
    };
    show.sections.iter().flat_map(of).collect()
}

impl Usage {
    /// The show's copies of an entry: those that it says it took, and chains that are the same without saying so.
    pub fn of(file: &Path, show: &Show, entry: &Entry, library: &[Entry]) -> Option<Self> {
        let mut places: Vec<(String, String)> = Vec::new();
        for copied in copies_in(show, library).into_iter().filter(|copied| copied.handle == entry.handle) {
            let changed = if copied.is_changed { ", changed here since" } else { "" };
            places.push((show.address(copied.scope), format!("{}{changed}", copied.state)));
        }
        for (section, scope) in sections_naming(show, entry) {
            let place = format!("section {section}, {}", show.address(scope));
            places.push((place, "laid there by its name: it changes as the library's does".to_owned()));
        }
        if let Ok(facts) = &entry.facts {
            for scope in show.scopes() {
                let address = show.address(scope);
                let is_said = places.iter().any(|(known, _)| *known == address);
                if !is_said
                    && !show.chain(scope).is_empty()
                    && content_of_chain(show.chain(scope)) == facts.content
                {
                    places.push((address, "the same, without a note of it".to_owned()));
                }
            }
        }
        (!places.is_empty()).then(|| Self { file: file.to_owned(), show: show.name.clone(), places })
    }
}

/// Every `.toml` file under a folder, in alphabetical order; a file is given back as it is.
pub fn shows_under(path: &Path) -> Vec<PathBuf> {
    let mut found = Vec::new();
    gather(path, DEEPEST, &mut found);
    found
}

fn gather(path: &Path, deeper: usize, found: &mut Vec<PathBuf>) {
    if !path.is_dir() {
        found.push(path.to_owned());
        return;
    }
    let mut inside: Vec<PathBuf> = fs::read_dir(path)
        .into_iter()
        .flatten()
        .flatten()
        // A link to a folder could lead round in a circle.
        .filter(|entry| !entry.file_name().to_string_lossy().starts_with('.'))
        .filter(|entry| entry.file_type().is_ok_and(|kind| !kind.is_symlink()) || entry.path().is_file())
        .map(|entry| entry.path())
        .collect();
    inside.sort();
    for path in inside {
        if found.len() >= MOST_FILES {
            return;
        }
        if path.is_dir() {
            if deeper > 0 {
                gather(&path, deeper - 1, found);
            }
        } else if path.extension().is_some_and(|ending| ending == "toml") {
            found.push(path);
        }
    }
}
