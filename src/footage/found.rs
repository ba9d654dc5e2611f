//! Pieces of footage as a person names many at once: files, folders, patterns of a shell.

use std::fs;
use std::path::{Path, PathBuf};

use thiserror::Error;

use super::FILM_ENDINGS;
use super::sequence::Pattern;
use crate::base::absent::{folder_of, name_of, names_in};
use crate::show::clip::{FootageName, STANDARD_INPUT};

/// Endings of pictures that footage is made of, beside those of films.
pub const PICTURE_ENDINGS: [&str; 7] = ["png", "apng", "jpg", "jpeg", "webp", "gif", "y4m"];

/// The most pieces that are looked at together.
pub const MOST_PIECES: usize = 64;

/// Pictures of one name that are numbered without a gap, from which on they may be meant as one film.
const LOOKS_LIKE_A_SEQUENCE: usize = 8;

/// Why what was named is no piece of footage, or none that can be looked at beside others.
#[derive(Debug, Error, PartialEq, Eq)]
pub enum PiecesError {
    #[error(
        "{} holds no footage{}; footage is known there by its ending, such as .png, .jpg or .mp4",
        folder.display(), if *has_folders { " itself, only folders: name those" } else { "" }
    )]
    EmptyFolder { folder: PathBuf, has_folders: bool },
    #[error("{}: this folder cannot be read: {why}", folder.display())]
    Unreadable { folder: PathBuf, why: String },
    #[error(
        "no file is named like {pattern}; in a pattern * stands for any letters, ? for one, [ab] for one of these"
    )]
    NoMatch { pattern: String },
    #[error(
        "{pattern} is no pattern: {why}; in a pattern * stands for any letters, ? for one, [ab] for one of these"
    )]
    Pattern { pattern: String, why: String },
    #[error("{count} pieces of footage; at most {MOST_PIECES} are looked at together, so name fewer{hint}")]
    TooMany { count: usize, hint: String },
    #[error(
        "`-`: standard input is read once, so it cannot be looked at beside other pieces; name a file instead"
    )]
    Pipe,
}

/// Pieces of footage that were found where a person named them.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Pieces {
    /// Each as a person would name it alone.
    pub written: Vec<String>,
    /// What else has to be known of how they were found: sentences.
    pub told: Vec<String>,
}

impl Pieces {
    /// The footage that these words name, as it comes: a folder stands for the footage in it by name, a pattern for what
    /// is named like it. Nothing where they name one piece, and it alone.
    ///
    /// # Errors
    /// [`PiecesError`] for a folder or pattern without footage, and for more than [`MOST_PIECES`]; whether a piece can
    /// be shown is not looked at.
    pub fn named(words: &[String]) -> Result<Option<Self>, PiecesError> {
        let is_many = |word: &String| Path::new(word).is_dir() || is_pattern(word);
        if words.len() < 2 && !words.iter().any(is_many) {
            return Ok(None);
        }
        let mut pieces = Self::default();
        for word in words {
            if is_pattern(word) {
                for path in matches(word)? {
                    pieces.add(&path.to_string_lossy())?;
                }
            } else {
                pieces.add(word)?;
            }
        }
        if pieces.written.len() > MOST_PIECES {
            let hint = sequence_among(&pieces.written).map_or_else(String::new, |(pattern, _)| {
                format!("; a numbered sequence is one piece: {pattern}")
            });
            return Err(PiecesError::TooMany { count: pieces.written.len(), hint });
        }
        if pieces.written.len() > 1 && pieces.written.iter().any(|written| written == STANDARD_INPUT) {
            return Err(PiecesError::Pipe);
        }
        if let Some((pattern, count)) = sequence_among(&pieces.written) {
            pieces.told.push(format!(
                "{count} of the pieces are numbered pictures, each counted by itself; if they are one film, name it {pattern}"
            ));
        }
        Ok(Some(pieces))
    }

    fn add(&mut self, word: &str) -> Result<(), PiecesError> {
        let folder = Path::new(word);
        if !folder.is_dir() {
            self.written.push(word.to_owned());
            return Ok(());
        }
        fs::read_dir(folder)
            .map_err(|error| PiecesError::Unreadable { folder: folder.to_owned(), why: error.to_string() })?;
        let names: Vec<String> = names_in(folder).into_iter().filter(|name| !name.starts_with('.')).collect();
        let (folders, files): (Vec<&String>, Vec<&String>) =
            names.iter().partition(|name| folder.join(name).is_dir());
        let (footage, other): (Vec<&String>, Vec<&String>) =
            files.into_iter().partition(|name| has_ending_of_footage(name));
        if footage.is_empty() {
            let has_folders = !folders.is_empty();
            return Err(PiecesError::EmptyFolder { folder: folder.to_owned(), has_folders });
        }
        self.written.extend(footage.iter().map(|name| folder.join(name).to_string_lossy().into_owned()));
        let what = match (other.len(), folders.len()) {
            (0, 0) => return Ok(()),
            (1, 0) => "1 file that is no footage by its ending".to_owned(),
            (files, 0) => format!("{files} files that are no footage by their ending"),
            (0, 1) => "1 folder".to_owned(),
            (0, folders) => format!("{folders} folders"),
            (files, folders) => format!("{files} other files and {folders} folders"),
        };
        self.told.push(format!("{} holds {what} beside its footage, left out here", folder.display()));
        Ok(())
    }
}

/// Whether a word is a pattern of a shell, and no file.
fn is_pattern(word: &str) -> bool {
    let is_file = || matches!(FootageName::parsed(word, Path::new("")), FootageName::File { .. });
    word.contains(['*', '?', '[']) && is_file() && !Path::new(word).exists()
}

fn matches(pattern: &str) -> Result<Vec<PathBuf>, PiecesError> {
    let found = glob::glob(pattern)
        .map_err(|error| PiecesError::Pattern { pattern: pattern.to_owned(), why: error.msg.to_owned() })?;
    let found: Vec<PathBuf> = found.filter_map(Result::ok).collect();
    if found.is_empty() {
        return Err(PiecesError::NoMatch { pattern: pattern.to_owned() });
    }
    Ok(found)
}

fn has_ending_of_footage(name: &str) -> bool {
    let ending = Path::new(name).extension().map(|ending| ending.to_string_lossy().to_lowercase());
    ending.is_some_and(|ending| PICTURE_ENDINGS.contains(&&*ending) || FILM_ENDINGS.contains(&&*ending))
}

/// Numbered pictures without a gap among the pieces: how they are named as one, and how many they are.
fn sequence_among(written: &[String]) -> Option<(String, usize)> {
    let pattern = |written: &String| {
        let path = Path::new(written);
        let name = name_of(path);
        let end = name.rfind(|c: char| c.is_ascii_digit())? + 1;
        let start = name[..end].trim_end_matches(|c: char| c.is_ascii_digit()).len();
        let hashed = format!("{}{}{}", &name[..start], "#".repeat(end - start), &name[end..]);
        let folder = folder_of(path);
        let path = if folder == Path::new(".") { PathBuf::from(hashed) } else { folder.join(hashed) };
        Pattern::of(&path)?.has(&name).then_some(path)
    };
    let patterns: Vec<Option<PathBuf>> = written.iter().map(pattern).collect();
    let count = |path: &PathBuf| patterns.iter().flatten().filter(|other| *other == path).count();
    let longest = patterns.iter().flatten().max_by_key(|path| count(path))?;
    let many = count(longest);
    let numbers = Pattern::of(longest)?.numbers();
    let is_whole =
        numbers.last().zip(numbers.first()).is_some_and(|(last, first)| last - first + 1 == many as u64);
    (many >= LOOKS_LIKE_A_SEQUENCE && is_whole).then(|| (longest.display().to_string(), many))
}

/// What to call each of some pieces, the shortest that tells them apart: the file's name, with the folder's before it
/// where two are called alike, with a number behind it where that does not help.
pub fn piece_names(written: &[FootageName]) -> Vec<String> {
    let short = |footage: &FootageName| match footage {
        FootageName::File { path, .. } => name_of(path),
        FootageName::Generated(name) => name.clone(),
        FootageName::StandIn(_, label) => label.clone(),
    };
    let longer = |footage: &FootageName| match footage {
        FootageName::File { path, .. } => {
            let folder = path.parent().map(name_of).filter(|folder| !folder.is_empty());
            folder.map_or_else(|| name_of(path), |folder| format!("{folder}/{}", name_of(path)))
        }
        other => other.to_string(),
    };
    let mut names: Vec<String> = written.iter().map(short).collect();
    let is_alike = |names: &[String], at: usize| names.iter().filter(|name| **name == names[at]).count() > 1;
    let alike: Vec<usize> = (0..names.len()).filter(|&at| is_alike(&names, at)).collect();
    for at in alike {
        names[at] = longer(&written[at]);
    }
    let known = names.clone();
    for at in 0..names.len() {
        let before = known[..at].iter().filter(|name| **name == known[at]).count();
        if before > 0 {
            names[at] = format!("{} ({})", known[at], before + 1);
        }
    }
    names
}
