//! Chain and show files: TOML that a person can write by hand, read with errors that name the place.

mod atomic;
mod automation;
mod beside;
pub(crate) mod chain;
mod hands;
pub mod keys;
mod made;
mod merge;
mod original;
mod part;
pub(crate) mod reading;
mod replacing;
mod sections;
pub(crate) mod show;
pub(crate) mod table;
mod taken;
mod value;
mod written;

use std::fs::{self, File};
use std::io::{self, Read as _};
use std::path::Path;

use thiserror::Error;

pub use atomic::{Growing, WriteError, check, keep, move_new, write, write_new, write_permitted};
pub use original::Original;
pub use reading::{footage_files, is_same};
pub use replacing::{FileKind, NotReplaced, Permit};
pub use written::{chain_text, show_text};

use crate::base::absent::{Absent, names_in};
use crate::base::inputs::note_read;
use crate::base::place::{Place, did_you_mean, listed};
use crate::base::plain;
use crate::base::plain::PlainError;
use crate::catalogue::Catalogue;
use crate::show::Show;
use crate::show::chain::Preset;
use table::{PLAIN_TEXT, Table, Text, shortened};

/// The `format` line of the chain files that are read and written.
pub const CHAIN_FORMAT: &str = "underover/chain/1";
/// The `format` line of the show files that are read and written.
pub const SHOW_FORMAT: &str = "underover/show/1";
/// The `format` line of the starter files that are read and written.
pub const STARTER_FORMAT: &str = "underover/starter/1";
/// Every `format` line.
const FORMATS: [&str; 3] = [CHAIN_FORMAT, SHOW_FORMAT, STARTER_FORMAT];
/// The `format` line of the lesson files that are read.
pub const LESSON_FORMAT: &str = "underover/lesson/1";
/// Largest file that is read, in bytes; a show takes a few thousand.
pub const LARGEST_FILE_BYTES: u64 = 4 << 20;

/// What a file turned out to hold.
#[derive(Debug, Clone, PartialEq)]
pub enum Document {
    /// A chain file.
    Chain(Preset),
    /// A show file, or a starter, which says so.
    Show(Show),
}

/// Why a chain or show file was not read.
#[derive(Debug, Error)]
pub enum FileError {
    /// Something in the text.
    #[error("{place}: {message}")]
    Content {
        /// Where.
        place: Place,
        /// What was found and what would be right.
        message: String,
    },
    /// No such file.
    #[error(transparent)]
    Absent(#[from] Absent),
    /// The path leads to a folder.
    #[error("`{path}` is a folder; name a chain or show file{hint}")]
    Folder {
        /// The path as given.
        path: String,
        /// " in it, such as ..." or nothing.
        hint: String,
    },
    /// Neither a file with a content nor a folder.
    #[error("`{path}`: {source}")]
    NotPlain {
        /// The path as given.
        path: String,
        /// What it is, and what to do.
        source: PlainError,
    },
    /// Far too large to be a chain or a show.
    #[error(
        "`{path}` is larger than {} MiB; a chain or show file is text of a few kilobytes",
        LARGEST_FILE_BYTES >> 20
    )]
    TooLarge {
        /// The path as given.
        path: String,
    },
    /// A pipe that gave nothing.
    #[error(
        "`{path}` is a pipe and gave nothing; a pipe can be read once only: save what it gives as a file, and name that"
    )]
    EmptyPipe {
        /// The path as given.
        path: String,
    },
    /// A change that cannot be made in the text without losing what a person wrote there.
    #[error("what changed cannot be written into the text as it is; write it under another name")]
    NotKept,
    /// The system refused.
    #[error("cannot read `{path}`: {source}; name a file that you may read")]
    Unreadable {
        /// The path as given.
        path: String,
        /// What the system said.
        source: io::Error,
    },
}

/// Reads a chain or show file; its `format` line says which it is.
///
/// Footage is named, not opened. Only a plain file is read, and nothing is waited for.
///
/// # Errors
/// [`FileError`] with the first thing that is wrong, its place, and what would be right.
pub fn read(path: &Path, catalogue: &Catalogue) -> Result<Document, FileError> {
    document(path, &bytes_of(path)?, catalogue)
}

/// As [`read`], for a path that a person has named: it may be a pipe into which another program writes.
///
/// # Errors
/// As [`read`].
pub fn read_named(path: &Path, catalogue: &Catalogue) -> Result<Document, FileError> {
    document(path, &bytes_of_named(path)?, catalogue)
}

fn document(path: &Path, bytes: &[u8], catalogue: &Catalogue) -> Result<Document, FileError> {
    let name = path.display().to_string();
    let text = text_of(&name, bytes)?;
    parse(text, &name, path.parent().unwrap_or(Path::new("")), catalogue)
}

/// As [`read_original`], of a file that a person named, which may be a pipe.
///
/// # Errors
/// As [`read_named`].
pub fn read_original_named(path: &Path, catalogue: &Catalogue) -> Result<Original, FileError> {
    let name = path.display().to_string();
    let bytes = bytes_of_named(path)?;
    let text = text_of(&name, &bytes)?;
    let folder = path.parent().unwrap_or(Path::new(""));
    Ok(Original::new(text, parse(text, &name, folder, catalogue)?, folder, catalogue).of_file(path))
}

/// The text of a chain or show file.
///
/// # Errors
/// [`FileError`] where it is not there, cannot be read, or is no text.
pub(crate) fn read_text(path: &Path) -> Result<String, FileError> {
    Ok(text_of(&path.display().to_string(), &bytes_of(path)?)?.to_owned())
}

/// Reads a chain or show file, and keeps its text, so that it can be written back as a person wrote it.
///
/// # Errors
/// As [`read`].
pub fn read_original(path: &Path, catalogue: &Catalogue) -> Result<Original, FileError> {
    let name = path.display().to_string();
    let bytes = bytes_of(path)?;
    let text = text_of(&name, &bytes)?;
    let folder = path.parent().unwrap_or(Path::new(""));
    Ok(Original::new(text, parse(text, &name, folder, catalogue)?, folder, catalogue).of_file(path))
}

/// Reads the text of a chain or show file; messages call it `name`, and paths of footage are relative to `folder`.
///
/// # Errors
/// [`FileError::Content`] with the first thing that is wrong, its place, and what would be right.
pub fn parse(text: &str, name: &str, folder: &Path, catalogue: &Catalogue) -> Result<Document, FileError> {
    let document = parsed(text, name, folder, catalogue)?;
    if let Document::Show(show) = &document {
        reading::note_named(show);
    }
    Ok(document)
}

fn parsed(text: &str, name: &str, folder: &Path, catalogue: &Catalogue) -> Result<Document, FileError> {
    // Some editors open a file with a byte order mark.
    let text = Text { file: name, text: text.strip_prefix('\u{feff}').unwrap_or(text) };
    let entries = text.root()?;
    if entries.is_empty() {
        let found = if text.text.trim().is_empty() { "is empty" } else { "holds nothing but comments" };
        return Err(text.refuse(0, format!("the file {found}; {}", opening())));
    }
    let file = Table::root(&text, "the file", &entries);
    let format = file.deciding("format", &format!("format = \"{CHAIN_FORMAT}\""))?;
    match format.as_text() {
        Some(CHAIN_FORMAT) => {
            chain::preset(&Table::root(&text, "a chain file", &entries), catalogue).map(Document::Chain)
        }
        Some(SHOW_FORMAT) => show::Reader { catalogue, folder }
            .show(&Table::root(&text, "a show file", &entries))
            .map(Document::Show),
        Some(STARTER_FORMAT) => show::Reader { catalogue, folder }
            .starter(&Table::root(&text, "a starter file", &entries))
            .map(Document::Show),
        Some(LESSON_FORMAT) => Err(format.refuse(format!(
            "this is a lesson, no chain or show; `underover lessons {name} --check` says whether it is right"
        ))),
        Some(newer) if is_newer(newer) => Err(format.refuse(format!(
            "`{}` was written by a newer version of Underover; this one reads {}",
            shortened(newer),
            listed(FORMATS)
        ))),
        other => Err(format.refuse(format!(
            "`format` is {}; it takes {} or `{STARTER_FORMAT}`{}",
            format.found(),
            [CHAIN_FORMAT, SHOW_FORMAT].map(|known| format!("`{known}`")).join(", "),
            did_you_mean(&shortened(other.unwrap_or_default()), FORMATS)
        ))),
    }
}

fn opening() -> String {
    format!("a chain opens with `format = \"{CHAIN_FORMAT}\"`, a show with `format = \"{SHOW_FORMAT}\"`")
}

/// Whether a format line is ours, of a version above 1.
fn is_newer(format: &str) -> bool {
    let version = FORMATS.into_iter().find_map(|known| format.strip_prefix(known.trim_end_matches('1')));
    version.is_some_and(|version| {
        !version.is_empty()
            && version.bytes().all(|b| b.is_ascii_digit())
            && !matches!(version.trim_start_matches('0'), "" | "1")
    })
}

pub(crate) fn bytes_of(path: &Path) -> Result<Vec<u8>, FileError> {
    note_read(path);
    let shown = || path.display().to_string();
    plain::read(path, LARGEST_FILE_BYTES).map_err(|error| match error {
        PlainError::TooLarge { .. } => FileError::TooLarge { path: shown() },
        PlainError::NotPlain { .. } if path.is_dir() => {
            FileError::Folder { path: shown(), hint: inside(path) }
        }
        source @ PlainError::NotPlain { .. } => FileError::NotPlain { path: shown(), source },
        PlainError::Refused(source) if path.exists() => FileError::Unreadable { path: shown(), source },
        PlainError::Refused(source) => absent(path, source),
    })
}

fn bytes_of_named(path: &Path) -> Result<Vec<u8>, FileError> {
    if !is_pipe(path) {
        return bytes_of(path);
    }
    let shown = || path.display().to_string();
    // A pipe tells no size, so that reading stops at the limit.
    let mut bytes = Vec::new();
    File::open(path)
        .and_then(|file| file.take(LARGEST_FILE_BYTES + 1).read_to_end(&mut bytes))
        .map_err(|source| FileError::Unreadable { path: shown(), source })?;
    if bytes.len() as u64 > LARGEST_FILE_BYTES {
        return Err(FileError::TooLarge { path: shown() });
    }
    if bytes.is_empty() {
        return Err(FileError::EmptyPipe { path: shown() });
    }
    Ok(bytes)
}

#[cfg(unix)]
fn is_pipe(path: &Path) -> bool {
    use std::os::unix::fs::FileTypeExt as _;
    fs::metadata(path).is_ok_and(|found| found.file_type().is_fifo())
}

#[cfg(not(unix))]
fn is_pipe(_: &Path) -> bool {
    false
}

/// " in it, such as ..." for a folder with such files, or nothing.
fn inside(folder: &Path) -> String {
    let name = names_in(folder).into_iter().find(|name| name.ends_with(".toml"));
    name.map_or(String::new(), |name| format!(" in it, such as `{}`", folder.join(name).display()))
}

/// The error for a path of which the system says that it leads nowhere.
fn absent(path: &Path, source: io::Error) -> FileError {
    match Absent::of(path) {
        Absent { obstacle: None, .. } if source.kind() != io::ErrorKind::NotFound => {
            FileError::Unreadable { path: path.display().to_string(), source }
        }
        absent => absent.into(),
    }
}

pub(crate) fn text_of<'b>(name: &str, bytes: &'b [u8]) -> Result<&'b str, FileError> {
    std::str::from_utf8(bytes).map_err(|error| {
        let readable = error.valid_up_to();
        let before = String::from_utf8_lossy(&bytes[..readable]);
        let text = Text { file: name, text: &before };
        text.refuse(readable, format!("the byte 0x{:02x} is no UTF-8; {PLAIN_TEXT}", bytes[readable]))
    })
}
