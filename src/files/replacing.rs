//! What an output may take the place of: never of a file that is read, nor unasked of one that Underover keeps or did not make.

use std::fs::{File, Metadata};
use std::io::Read as _;
use std::path::{Path, PathBuf, absolute};

use thiserror::Error;

use super::reading::{Identity, Part};
use super::{LARGEST_FILE_BYTES, made};
use crate::base::folders;
use crate::base::inputs::read_so_far;

/// What a file is written as.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum FileKind {
    /// What is made anew whenever it is asked for: a picture, a page, a film, figures. It replaces unasked what Underover
    /// made, as long as nobody has written to that since.
    Again,
    /// A chain or a show, which replaces nothing unasked.
    Document,
}

/// What a file may replace when it is written.
#[derive(Debug, Clone)]
pub struct Permit {
    kind: FileKind,
    /// Whether the person said that what is there may go.
    replaces: bool,
    /// The document that it is the new text of.
    edits: Option<PathBuf>,
    /// The files that are read, where they are not all that this program has read.
    read: Option<Vec<PathBuf>>,
}

/// Why a file may not be written where it was to be.
#[derive(Debug, Error, Clone, PartialEq, Eq)]
pub enum NotReplaced {
    #[error("that file is read here and would be lost; choose another name")]
    Read,
    /// It is read under another name.
    #[error("that is the same file as {}, which is read here and would be lost; choose another name", .0.display())]
    ReadAs(PathBuf),
    /// It is a picture of a sequence that is read, or would become one.
    #[error("that is a picture of {}, which is read here and would be another; choose another name", .0.display())]
    Sequence(PathBuf),
    /// It is there, and is nothing that this would be made of again.
    #[error("{0} is already there and is left as it is; choose another name, or add --replace")]
    There(&'static str),
}

impl Permit {
    /// For a file of this kind that the run writes.
    pub fn new(kind: FileKind, replaces: bool) -> Self {
        Self { kind, replaces, edits: None, read: None }
    }

    /// For the new text of the document in `file`.
    #[must_use]
    pub fn editing(self, file: &Path) -> Self {
        Self { edits: Some(file.to_owned()), ..self }
    }

    /// Where many things are read in turn: only these files count as read.
    #[must_use]
    pub fn reading(self, files: Vec<PathBuf>) -> Self {
        Self { read: Some(files), ..self }
    }

    /// Whether a file may be written there, as things are now.
    ///
    /// # Errors
    /// [`NotReplaced`].
    pub fn check(&self, path: &Path) -> Result<(), NotReplaced> {
        self.check_read(path)?;
        let target = Identity::of(path);
        let is_there = target.found().is_some_and(Metadata::is_file);
        if !is_there || self.replaces || self.is_edited(&target) {
            return Ok(());
        }
        self.what_stays(&target).map_or(Ok(()), |what| Err(NotReplaced::There(what)))
    }

    /// Whether a file is none that is read.
    ///
    /// # Errors
    /// [`NotReplaced`].
    pub fn check_read(&self, path: &Path) -> Result<(), NotReplaced> {
        let target = Identity::of(path);
        // A device or a pipe loses nothing.
        if target.found().is_some_and(|found| !found.is_file()) || self.is_edited(&target) {
            return Ok(());
        }
        let read = self.read.clone().unwrap_or_else(read_so_far);
        match target.among(&read) {
            Some((read, Part::Picture)) => Err(NotReplaced::Sequence(read.to_owned())),
            Some((read, Part::Whole)) if Some(read) == absolute(path).ok().as_deref() => {
                Err(NotReplaced::Read)
            }
            Some((read, Part::Whole)) => Err(NotReplaced::ReadAs(read.to_owned())),
            None => Ok(()),
        }
    }

    /// Whether the person said that what is there may go.
    pub fn replaces(&self) -> bool {
        self.replaces
    }

    /// Whether nothing may be there when the file takes its name.
    pub(super) fn is_of_new_file(&self, path: &Path) -> bool {
        self.kind == FileKind::Document && !self.replaces && !self.is_edited(&Identity::of(path))
    }

    /// Whether it is the document whose new text is written: by its path, for another name of it would part from it.
    fn is_edited(&self, target: &Identity) -> bool {
        self.edits.as_ref().is_some_and(|edits| Identity::of(edits).path() == target.path())
    }

    /// What is there and stays, if it does.
    fn what_stays(&self, target: &Identity) -> Option<&'static str> {
        let mut start = Vec::new();
        // What cannot be read cannot be known, and stays.
        let read =
            File::open(target.path()).and_then(|file| file.take(LARGEST_FILE_BYTES).read_to_end(&mut start));
        if read.is_err() {
            return Some("a file that cannot be read");
        }
        if let Some(what) = kept(target.path(), &start) {
            return Some(what);
        }
        match self.kind {
            // An empty file loses nothing.
            FileKind::Again if start.is_empty() || made::is_made(target) => None,
            FileKind::Again => Some("a file that Underover does not know as made by itself"),
            FileKind::Document => Some("a file"),
        }
    }

    /// Notes what was written, where it may be made again unasked.
    pub(super) fn note(&self, path: &Path) {
        if self.kind == FileKind::Again {
            made::note(path);
        }
    }
}

fn has_ending(path: &Path, ending: &str) -> bool {
    path.extension().is_some_and(|found| found.eq_ignore_ascii_case(ending))
}

/// What Underover keeps in a file, known by what is in it or by where it lies.
fn kept(path: &Path, start: &[u8]) -> Option<&'static str> {
    let text = String::from_utf8_lossy(start);
    let text = text.trim_start_matches('\u{feff}');
    if let Some(format) = format_of(text) {
        return Some(match format.split('/').next() {
            Some("chain") => "a chain",
            Some("show") => "a show",
            Some("starter") => "a starter",
            Some("lesson") => "a lesson",
            _ => "a file that Underover keeps",
        });
    }
    let is_declared = text.trim_start().starts_with("//!") && text.contains("reach");
    if has_ending(path, "wgsl") || is_declared {
        return Some("an effect");
    }
    folders::keeps(path).then_some("a file of Underover's own folders")
}

/// What stands behind `underover/` in the line that says what a file is, however broken the rest is.
fn format_of(text: &str) -> Option<String> {
    const OURS: &str = "underover/";
    // Written out in an unusual way it is still what a reader would find.
    if text.contains("format")
        && let Ok(table) = text.parse::<toml::Table>()
        && let Some(format) = table.get("format").and_then(toml::Value::as_str)
    {
        return format.strip_prefix(OURS).map(str::to_owned);
    }
    text.lines().find_map(|line| {
        let line = line.trim_start().trim_start_matches(['{', '"', '\'']).strip_prefix("format")?;
        let value = line.trim_start_matches(['"', '\'']).trim_start().strip_prefix(['=', ':'])?;
        let value = value.trim_start().trim_start_matches(['"', '\'']).strip_prefix(OURS)?;
        Some(value.split(['"', '\'']).next().unwrap_or_default().to_owned())
    })
}
