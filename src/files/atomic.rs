//! Writing a file whole or not at all: presets, shows, pictures and figures.

use std::fs::{self, File};
use std::io::{self, Write};
use std::path::{Path, PathBuf};

use thiserror::Error;

use super::part;
use super::replacing::{NotReplaced, Permit};
use crate::base::absent::{Obstacle, first_obstacle, folder_of};

/// Why a file was not written; what stood there before is untouched.
#[derive(Debug, Error)]
pub enum WriteError {
    /// The path ends in no name.
    #[error("`{path}` names no file; add a name, such as `wall.png`")]
    NoName {
        /// The path as given.
        path: String,
    },
    /// A folder has the name.
    #[error("cannot write `{path}`: a folder is there; name a file in it, or choose another name")]
    FolderInTheWay {
        /// The path as given.
        path: String,
    },
    /// There is no folder to write into.
    #[error("cannot write `{path}`: {obstacle}; {}", match .obstacle {
        Obstacle::Missing(_) => "make it first, or choose another",
        Obstacle::File(_) => "choose another folder",
    })]
    NoFolder {
        /// The path as given.
        path: String,
        /// What is in its place.
        obstacle: Obstacle,
    },
    /// The file that would be replaced is marked read-only.
    #[error("cannot write `{path}`: the file there is read-only; choose another name, or make it writable")]
    ReadOnly {
        /// The path as given.
        path: String,
    },
    /// It would take the place of a file that stays.
    #[error("cannot write `{path}`: {why}")]
    NotReplaced {
        /// The path as given.
        path: String,
        /// What is there.
        why: NotReplaced,
    },
    /// The system refused.
    #[error("cannot write `{path}`: {source}; choose a folder with room that you may write in")]
    Refused {
        /// The path as given.
        path: String,
        /// What the system said.
        source: io::Error,
    },
}

/// Writes `bytes` to `path`: a reader sees the old file or the whole new one, never a part.
///
/// A file that is replaced hands its permissions on; a link stays a link to
/// what it pointed at. Devices and pipes are written to as they are.
///
/// # Errors
/// [`WriteError`], with the old file as it was and nothing left beside it.
pub fn write(path: &Path, bytes: &[u8]) -> Result<(), WriteError> {
    replace(path, |file| file.write_all(bytes))
}

/// Writes what the program itself keeps in a person's folders: as [`write`], but a pipe or a device in its place is
/// not written to, which could wait without end.
///
/// # Errors
/// As [`write`].
pub fn keep(path: &Path, bytes: &[u8]) -> Result<(), WriteError> {
    match fs::metadata(path) {
        Ok(found) if !found.is_file() => {
            Err(refused(path)(io::Error::other("something that is no plain file has its place")))
        }
        _ => write(path, bytes),
    }
}

/// Writes `bytes` to `path` as [`write`] does, where that is permitted.
///
/// # Errors
/// As [`write`], and [`WriteError::NotReplaced`].
pub fn write_permitted(path: &Path, bytes: &[u8], permit: Permit) -> Result<(), WriteError> {
    let mut growing = Growing::permitted(path, permit)?;
    growing.file().write_all(bytes).map_err(refused(path))?;
    growing.finish()
}

/// Writes `bytes` to a file that is not there yet; `false` where one is, which is left as it is.
///
/// Of several programs that want one name at once, one gets it.
///
/// # Errors
/// As [`write`].
pub fn write_new(path: &Path, bytes: &[u8]) -> Result<bool, WriteError> {
    let mut growing = Growing::create(path)?;
    growing.file().write_all(bytes).map_err(refused(path))?;
    growing.finish_new()
}

/// Gives a file another name in the same folder tree; `false` where something has that name already, and nothing is
/// done.
///
/// # Errors
/// What the system says; the file is where it was.
pub fn move_new(from: &Path, to: &Path) -> io::Result<bool> {
    // The one call that moves a file and replaces none; a temporary path deletes its file unless it is told to keep it.
    let moved = tempfile::TempPath::try_from_path(from)?.persist_noclobber(to);
    let done = match moved {
        Ok(()) => Ok(true),
        Err(refused) => {
            let why = refused.error;
            refused.path.keep().map_err(|error| error.error)?;
            if why.kind() == io::ErrorKind::AlreadyExists { Ok(false) } else { Err(why) }
        }
    };
    sync_folder(folder_of(to));
    sync_folder(folder_of(from));
    done
}

/// Tells before long work whether [`write`] could write to `path`; nothing is written.
///
/// # Errors
/// As [`write`], save what only shows in writing, such as a full disk.
pub fn check(path: &Path) -> Result<(), WriteError> {
    match Destination::of(path)? {
        Destination::Device => Ok(()),
        Destination::File { target, .. } => {
            part::begun_in(folder_of(&target)).map(drop).map_err(refused(path))
        }
    }
}

fn replace(path: &Path, fill: impl FnOnce(&mut File) -> io::Result<()>) -> Result<(), WriteError> {
    let mut growing = Growing::create(path)?;
    fill(growing.file()).map_err(refused(path))?;
    growing.finish()
}

/// A file that is written bit by bit under a name of its own (`.underover-...part`), and takes its real
/// name when it is whole; dropped before, it is gone.
#[derive(Debug)]
pub struct Growing {
    path: PathBuf,
    file: Growth,
    /// What it may replace, where that is not everything.
    permit: Option<Permit>,
}

#[derive(Debug)]
enum Growth {
    /// A device or a pipe, written to as it is.
    Device(File),
    File {
        temporary: tempfile::NamedTempFile,
        target: PathBuf,
        /// What the file there now may be done with, and by whom.
        old: Option<fs::Permissions>,
    },
}

impl Growing {
    /// Begins a file that will be called `path`.
    ///
    /// # Errors
    /// As [`check`].
    pub fn create(path: &Path) -> Result<Self, WriteError> {
        Self::begun(path, None)
    }

    /// Begins a file that will be called `path` if that is permitted: now, and again when it takes its name.
    ///
    /// # Errors
    /// As [`check`], and [`WriteError::NotReplaced`].
    pub fn permitted(path: &Path, permit: Permit) -> Result<Self, WriteError> {
        Self::begun(path, Some(permit))
    }

    fn begun(path: &Path, permit: Option<Permit>) -> Result<Self, WriteError> {
        let file = match Destination::of(path)? {
            // Renaming over /dev/null would put a plain file in its place.
            Destination::Device => {
                Growth::Device(File::options().write(true).open(path).map_err(refused(path))?)
            }
            Destination::File { target, old } => {
                permit.as_ref().map_or(Ok(()), |permit| permit.check(path)).map_err(not_replaced(path))?;
                part::sweep(folder_of(&target));
                let temporary = part::begun_in(folder_of(&target)).map_err(refused(path))?;
                Growth::File { temporary, target, old: old.map(|old| old.permissions()) }
            }
        };
        Ok(Self { path: path.to_owned(), file, permit })
    }

    /// The file, to write to.
    pub fn file(&mut self) -> &mut File {
        match &mut self.file {
            Growth::Device(file) => file,
            Growth::File { temporary, .. } => temporary.as_file_mut(),
        }
    }

    /// What the file will be called.
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// What the file is called until it is whole, for another program that writes it.
    pub fn working_path(&self) -> &Path {
        match &self.file {
            Growth::Device(_) => &self.path,
            Growth::File { temporary, .. } => temporary.path(),
        }
    }

    /// Gives the file its name; what stood there before is replaced.
    ///
    /// # Errors
    /// [`WriteError::Refused`], with the old file as it was; [`WriteError::NotReplaced`].
    pub fn finish(self) -> Result<(), WriteError> {
        if let (Some(permit), Growth::File { .. }) = (&self.permit, &self.file) {
            permit.check(&self.path).map_err(not_replaced(&self.path))?;
            if permit.is_of_new_file(&self.path) {
                let path = self.path.clone();
                let is_written = self.finish_new()?;
                return if is_written {
                    Ok(())
                } else {
                    Err(not_replaced(&path)(NotReplaced::There("a file")))
                };
            }
        }
        let refused = refused(&self.path);
        let Growth::File { temporary, target, old } = self.file else { return Ok(()) };
        if let Some(old) = old {
            temporary.as_file().set_permissions(old).map_err(refused)?;
        }
        temporary.as_file().sync_all().map_err(refused)?;
        temporary.persist(&target).map_err(|error| refused(error.error))?;
        sync_folder(folder_of(&target));
        if let Some(permit) = &self.permit {
            permit.note(&target);
        }
        Ok(())
    }

    /// Gives the file its name if nothing has it yet; otherwise it is gone, and this gives `false`.
    ///
    /// # Errors
    /// [`WriteError::Refused`].
    pub fn finish_new(self) -> Result<bool, WriteError> {
        let refused = refused(&self.path);
        let Growth::File { temporary, target, .. } = self.file else { return Ok(true) };
        temporary.as_file().sync_all().map_err(refused)?;
        match temporary.persist_noclobber(&target) {
            Ok(_) => {
                sync_folder(folder_of(&target));
                Ok(true)
            }
            Err(error) if error.error.kind() == io::ErrorKind::AlreadyExists => Ok(false),
            Err(error) => Err(refused(error.error)),
        }
    }
}

fn not_replaced(path: &Path) -> impl Fn(NotReplaced) -> WriteError {
    move |why| WriteError::NotReplaced { path: path.display().to_string(), why }
}

fn refused(path: &Path) -> impl Fn(io::Error) -> WriteError + Copy {
    move |source| WriteError::Refused { path: path.display().to_string(), source }
}

/// What a path to be written leads to.
enum Destination {
    /// A device or a pipe.
    Device,
    /// A file in a folder that is there, links followed.
    File {
        target: PathBuf,
        /// What is there now.
        old: Option<fs::Metadata>,
    },
}

impl Destination {
    fn of(path: &Path) -> Result<Self, WriteError> {
        let shown = || path.display().to_string();
        if path.file_name().is_none() && !path.is_dir() {
            return Err(WriteError::NoName { path: shown() });
        }
        let old = fs::metadata(path).ok();
        if old.as_ref().is_some_and(fs::Metadata::is_dir) || shown().ends_with(std::path::is_separator) {
            return Err(WriteError::FolderInTheWay { path: shown() });
        }
        if old.as_ref().is_some_and(|old| old.permissions().readonly()) {
            return Err(WriteError::ReadOnly { path: shown() });
        }
        if old.as_ref().is_some_and(|old| !old.is_file()) {
            return Ok(Self::Device);
        }
        let target =
            if old.is_some() { fs::canonicalize(path).map_err(refused(path))? } else { path.to_owned() };
        match first_obstacle(folder_of(&target)) {
            Some(obstacle) => Err(WriteError::NoFolder { path: shown(), obstacle }),
            None => Ok(Self::File { target, old }),
        }
    }
}

/// Makes the rename itself last through a power cut, where the system can.
fn sync_folder(folder: &Path) {
    #[cfg(unix)]
    if let Ok(opened) = File::open(folder) {
        // The file is whole either way, so that a system which cannot do this is no failure.
        let _ = opened.sync_all();
    }
    #[cfg(not(unix))]
    let _ = folder;
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_write_that_fails_half_way_leaves_the_old_file_and_nothing_else() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("wall.png");
        write(&path, b"old").unwrap();
        let error = replace(&path, |file| {
            file.write_all(b"half of the new")?;
            Err(io::Error::other("no space left on device"))
        })
        .unwrap_err()
        .to_string();
        assert_eq!(
            error,
            format!(
                "cannot write `{}`: no space left on device; choose a folder with room that you may write in",
                path.display()
            )
        );
        assert_eq!(fs::read(&path).unwrap(), b"old");
        assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 1);
    }
}
