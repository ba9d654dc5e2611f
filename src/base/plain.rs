//! Reading files that lie in a folder: plain ones only, and of each at most so many bytes.
//!
//! Anything may lie in a person's folders. A named pipe is waited for without end and a device may never come to
//! its end, so that neither is opened for long, let alone read.

use std::fs::{self, File, FileType, OpenOptions};
use std::io::{self, Read as _};
use std::path::{Path, PathBuf};

use thiserror::Error;

/// Most bytes of a file in which the program itself remembers something: lists, answers, preferences, an index.
pub const MOST_OWN_BYTES: u64 = 16 << 20;

/// Why a file was not read. The sentences begin with the file.
#[derive(Debug, Error)]
pub enum PlainError {
    /// It is there, but no file that has a content.
    #[error("this is {what}, no plain file; put a plain file in its place, or take it away")]
    NotPlain {
        /// What it is, such as "a named pipe".
        what: &'static str,
    },
    /// It goes on after as many bytes as were to be read.
    #[error("this file is larger than {most} bytes")]
    TooLarge {
        /// As many as were to be read.
        most: u64,
    },
    /// The system refused.
    #[error("{0}")]
    Refused(#[from] io::Error),
}

/// The bytes of a plain file, or of the plain file that a link leads to; never more than `most`, and never waits.
///
/// # Errors
/// [`PlainError`]: it is no plain file, is larger, or cannot be read.
pub fn read(path: &Path, most: u64) -> Result<Vec<u8>, PlainError> {
    // Opening some devices does something already, so that it is looked at first; what stands there by then may
    // be another, so that it is looked at again.
    plain(fs::metadata(path)?.file_type())?;
    let file = opened(path)?;
    plain(file.metadata()?.file_type())?;
    let mut bytes = Vec::new();
    // A file may grow while it is read, and some tell no size.
    file.take(most + 1).read_to_end(&mut bytes)?;
    if bytes.len() as u64 > most { Err(PlainError::TooLarge { most }) } else { Ok(bytes) }
}

/// As [`read`], for text in which what is no UTF-8 is a fault like another.
///
/// # Errors
/// As [`read`].
pub fn read_text(path: &Path, most: u64) -> Result<String, PlainError> {
    String::from_utf8(read(path, most)?).map_err(|error| io::Error::other(error.utf8_error()).into())
}

/// What is in a folder under a name of this ending, sorted.
///
/// # Errors
/// What the system says where the folder cannot be listed.
pub fn ending_in(folder: &Path, ending: &str) -> io::Result<Vec<PathBuf>> {
    let mut paths: Vec<PathBuf> = fs::read_dir(folder)?
        .filter_map(|entry| entry.ok().map(|entry| entry.path()))
        .filter(|path| path.extension().is_some_and(|found| found == ending))
        .collect();
    paths.sort();
    Ok(paths)
}

#[cfg(unix)]
fn opened(path: &Path) -> io::Result<File> {
    use rustix::fs::OFlags;
    use std::os::unix::fs::OpenOptionsExt as _;
    let flags = OFlags::NONBLOCK | OFlags::NOCTTY;
    OpenOptions::new().read(true).custom_flags(flags.bits() as i32).open(path)
}

#[cfg(not(unix))]
fn opened(path: &Path) -> io::Result<File> {
    OpenOptions::new().read(true).open(path)
}

fn plain(found: FileType) -> Result<(), PlainError> {
    if found.is_file() { Ok(()) } else { Err(PlainError::NotPlain { what: kind(found) }) }
}

fn kind(found: FileType) -> &'static str {
    #[cfg(unix)]
    {
        use std::os::unix::fs::FileTypeExt as _;
        if found.is_fifo() {
            return "a named pipe";
        }
        if found.is_socket() {
            return "a socket";
        }
        if found.is_char_device() || found.is_block_device() {
            return "a device";
        }
    }
    if found.is_dir() { "a folder" } else { "something else" }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn as_many_bytes_as_are_allowed_are_read_and_not_one_more() {
        let folder = tempfile::tempdir().unwrap();
        let file = folder.path().join("a.toml");
        fs::write(&file, b"12345").unwrap();
        assert_eq!(read(&file, 5).unwrap(), b"12345");
        assert!(matches!(read(&file, 4), Err(PlainError::TooLarge { most: 4 })));
        assert!(matches!(read(folder.path(), 4), Err(PlainError::NotPlain { what: "a folder" })));
        assert!(matches!(read(&folder.path().join("b"), 4), Err(PlainError::Refused(_))));
    }

    #[cfg(unix)]
    #[test]
    fn a_link_is_followed_to_a_plain_file_and_no_further() {
        use std::os::unix::fs::symlink;
        let folder = tempfile::tempdir().unwrap();
        let at = |name: &str| folder.path().join(name);
        fs::write(at("a"), b"1").unwrap();
        symlink(at("a"), at("to-a")).unwrap();
        symlink("/dev/zero", at("to-zero")).unwrap();
        symlink(at("to-itself"), at("to-itself")).unwrap();
        assert_eq!(read(&at("to-a"), 4).unwrap(), b"1");
        assert!(matches!(read(&at("to-zero"), 4), Err(PlainError::NotPlain { what: "a device" })));
        assert!(matches!(read(&at("to-itself"), 4), Err(PlainError::Refused(_))));
        let _listening = std::os::unix::net::UnixListener::bind(at("socket")).unwrap();
        assert!(matches!(read(&at("socket"), 4), Err(PlainError::NotPlain { what: "a socket" })));
    }
}
