//! Which shows hold a copy of a chain, or clips of another show.

use std::fmt;
use std::path::{Path, PathBuf};

use super::summary::is_content_of;
use super::under::files_under;
use super::{Entry, Kind, Origin, content_of_chain};
use crate::edit::{clip_address, content_of_clip};
use crate::show::clip::FootageName;
use crate::show::{Clip, ClipPlace, Scope, Section, Show, Taken};

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

/// A show that holds copies of an entry, or clips of another show.
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
        .filter(|taken| taken.clip.is_none())
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

/// The sections of a show that lay a chain of the library on a scope, by that entry's name: the section's place, and the
/// scope.
pub fn sections_naming(show: &Show, entry: &Entry) -> Vec<(usize, Scope)> {
    let is_it = |chain: &str| match chain.split_once(':') {
        Some(("library", name)) => name == entry.handle || name == entry.name(),
        Some(("preset", name)) => entry.origin == Origin::Shipped && name == entry.handle,
        _ => false,
    };
    let of = |(at, section): (usize, &Section)| -> Vec<(usize, Scope)> {
        let chains = section.chains.iter().filter(|(_, chain)| is_it(chain));
        chains.map(|(&scope, _)| (at, scope)).collect()
    };
    show.sections.iter().enumerate().flat_map(of).collect()
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
            let place = format!("section {}, {}", show.sections[section].name, show.address(scope));
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
        Self::found(file, show, places)
    }

    fn found(file: &Path, show: &Show, places: Vec<(String, String)>) -> Option<Self> {
        (!places.is_empty()).then(|| Self { file: file.to_owned(), show: show.name.clone(), places })
    }

    /// The show's clips of another show: those that it says were brought from there, and those that are the same without
    /// saying so.
    pub fn of_pack(file: &Path, show: &Show, pack: &Show) -> Option<Self> {
        let theirs: Vec<(String, &Clip, String)> = clips(pack)
            .map(|(place, clip)| (clip_address(pack, place), clip, content_of_clip(clip)))
            .collect();
        let mut places: Vec<(String, String)> = Vec::new();
        for (place, clip) in clips(show) {
            let content = content_of_clip(clip);
            let notes = || show.taken.iter().filter(move |taken| taken.scope == Scope::from(place));
            let of_pack = |taken: &&Taken| {
                // A show that is called something else by now still has the clip.
                let has = |(address, _, content): &(String, _, String)| {
                    taken.clip.as_deref() == Some(address) && taken.content == *content
                };
                taken.clip.is_some() && (taken.preset == pack.name || theirs.iter().any(has))
            };
            let said = match notes().find(of_pack) {
                Some(taken) => {
                    let address = taken.clip.as_deref().unwrap_or_default();
                    let there = theirs.iter().find(|(known, ..)| known == address);
                    let state = match there {
                        None => "that show no longer has it",
                        Some((.., now)) if *now == taken.content => "as that show has it",
                        Some(_) => "that show has another one by now",
                    };
                    let waits = matches!(clip.footage, FootageName::StandIn(..))
                        && there.is_none_or(|(_, own, _)| own.footage != clip.footage);
                    let here = match (waits, content == taken.content) {
                        (true, _) => ", a stand-in shows",
                        (false, true) => "",
                        (false, false) => ", changed here since",
                    };
                    let is_renamed = clip_address(show, place) != address;
                    let of = if is_renamed { format!("{address}: ") } else { String::new() };
                    format!("{of}{state}{here}")
                }
                // Footage of the program stands in many shows that know nothing of each other.
                None if matches!(clip.footage, FootageName::File { .. })
                    && theirs.iter().any(|(.., theirs)| *theirs == content) =>
                {
                    "the same, without a note of it".to_owned()
                }
                None => continue,
            };
            places.push((show.address(place.into()), said));
        }
        Self::found(file, show, places)
    }
}

/// Every clip of a show, with its place.
fn clips(show: &Show) -> impl Iterator<Item = (ClipPlace, &Clip)> {
    show.bundles.iter().enumerate().flat_map(|(bundle, of)| {
        of.levels.iter().enumerate().flat_map(move |(level, of)| {
            let place = move |clip| ClipPlace { bundle, level, clip };
            of.clips.iter().enumerate().map(move |(clip, of)| (place(clip), of))
        })
    })
}

/// Every `.toml` file under a folder, in alphabetical order; a file is given back as it is.
pub fn shows_under(path: &Path) -> Vec<PathBuf> {
    files_under(path, |file| file.extension().is_some_and(|ending| ending == "toml"))
}
