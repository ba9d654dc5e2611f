//! Why footage cannot be shown.

use std::io;
use std::path::{Path, PathBuf};

use thiserror::Error;

use super::picture_file::{MAX_JPEG_BYTES, MAX_SIDE};
use crate::catalogue::CatalogueError;
use crate::frame::Frame;
use crate::place::did_you_mean;

/// Why footage cannot be shown; every message names the file and what would help.
#[derive(Debug, Error)]
pub enum FootageError {
    /// No generated source has this name.
    #[error(transparent)]
    Source(#[from] CatalogueError),
    /// A folder on the way to the file is not there.
    #[error(
        "{}: there is no folder {}{hint}; a relative path starts from the folder of the show file, or from where the command runs",
        path.display(), folder.display()
    )]
    MissingFolder {
        /// The file asked for.
        path: PathBuf,
        /// The first folder of its path that is not there.
        folder: PathBuf,
        /// "; did you mean ...?" or nothing.
        hint: String,
    },
    /// The folder is there, the file is not.
    #[error("there is no file {}{hint}; name a picture, or a numbered sequence such as sea-####.png", path.display())]
    MissingFile {
        /// The file asked for.
        path: PathBuf,
        /// "; did you mean ...?" or nothing.
        hint: String,
    },
    /// A folder where a file should be.
    #[error(
        "{} is a folder; name a picture in it, or a numbered sequence such as {}",
        path.display(), path.join("sea-####.png").display()
    )]
    Folder {
        /// The folder.
        path: PathBuf,
    },
    /// The system would not give the file.
    #[error("cannot read {}: {source}; check that the file may be read", path.display())]
    Unreadable {
        /// The file.
        path: PathBuf,
        /// What the system said.
        source: io::Error,
    },
    /// The content is of another kind.
    #[error("{} is {found}; pictures are read as PNG, JPEG, WebP or GIF: save it as one of these", path.display())]
    NotAPicture {
        /// The file.
        path: PathBuf,
        /// What it is, as the end of "it is ...".
        found: String,
    },
    /// The content opens as a picture and then breaks off or contradicts itself.
    #[error("{} is damaged or cut short ({why}); copy or export it again", path.display())]
    Damaged {
        /// The file.
        path: PathBuf,
        /// What the decoder said.
        why: String,
    },
    /// More texels than are worth decoding; refused from the header alone.
    #[error(
        "{} is {width}x{height} texels; pictures are read up to {MAX_SIDE}x{MAX_SIDE}: make it smaller first",
        path.display()
    )]
    TooLarge {
        /// The file.
        path: PathBuf,
        /// Texels across, as the header says.
        width: u32,
        /// Texels down, as the header says.
        height: u32,
    },
    /// More bytes than a picture needs; refused before it is read.
    #[error(
        "{} takes {} MiB; a JPEG is read up to {} MiB: save it smaller first",
        path.display(), bytes >> 20, MAX_JPEG_BYTES >> 20
    )]
    TooManyBytes {
        /// The file.
        path: PathBuf,
        /// Its size.
        bytes: u64,
    },
    /// No file has a name that the sequence asks for.
    #[error("no file is named like {}{hint}; each # stands for a digit, as in sea-0001.png for sea-####.png", pattern.display())]
    EmptySequence {
        /// The sequence asked for.
        pattern: PathBuf,
        /// "; did you mean ...?" or nothing.
        hint: String,
    },
    /// A number between the first and the last has no file.
    #[error(
        "{} has a gap: it runs from {first} to {last}, but there is no {missing}; add that file or number the frames anew",
        pattern.display()
    )]
    Gap {
        /// The sequence asked for.
        pattern: PathBuf,
        /// Name of the first missing file.
        missing: String,
        /// First number found.
        first: u64,
        /// Last number found.
        last: u64,
    },
    /// The picture could not be brought to the frame's size.
    #[error("{} cannot be fitted into a frame of {frame}: {why}; choose another frame size or fit", path.display())]
    Unfitted {
        /// The file.
        path: PathBuf,
        /// The frame.
        frame: Frame,
        /// What the resizer said.
        why: String,
    },
}

impl FootageError {
    /// What the system's refusal to give `path` comes down to.
    pub(super) fn of_opening(path: &Path, source: io::Error) -> Self {
        match source.kind() {
            io::ErrorKind::NotFound | io::ErrorKind::NotADirectory => absent(path),
            _ => Self::Unreadable { path: path.to_owned(), source },
        }
    }
}

/// A missing file, or the first missing folder on the way to it.
pub(super) fn absent(path: &Path) -> FootageError {
    let mut missing = path;
    loop {
        let folder = folder_of(missing);
        if folder.is_dir() || folder == missing {
            let hint = did_you_mean(&name_of(missing), names_in(folder).iter().map(String::as_str));
            return if missing == path {
                FootageError::MissingFile { path: path.to_owned(), hint }
            } else {
                FootageError::MissingFolder { path: path.to_owned(), folder: missing.to_owned(), hint }
            };
        }
        missing = folder;
    }
}

/// The folder that holds `path`; a bare name is in the folder where the program runs.
pub(super) fn folder_of(path: &Path) -> &Path {
    match path.parent() {
        Some(folder) if !folder.as_os_str().is_empty() => folder,
        _ => Path::new("."),
    }
}

/// The last part of `path`, for people and for comparing.
pub(super) fn name_of(path: &Path) -> String {
    path.file_name().unwrap_or_default().to_string_lossy().into_owned()
}

/// Names of what is in `folder`, sorted; none where it cannot be listed.
pub(super) fn names_in(folder: &Path) -> Vec<String> {
    let Ok(entries) = folder.read_dir() else { return Vec::new() };
    let mut names: Vec<String> =
        entries.filter_map(|entry| Some(entry.ok()?.file_name().to_string_lossy().into_owned())).collect();
    names.sort();
    names
}
