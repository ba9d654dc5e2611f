//! The files that this program reads: whatever opens a file of a person's notes it here.

use std::collections::HashSet;
use std::ffi::OsString;
use std::path::{Path, PathBuf, absolute};
use std::sync::{LazyLock, Mutex, PoisonError};

/// Every file read so far, as a full path; a numbered sequence by its pattern.
static READ: LazyLock<Mutex<HashSet<OsString>>> = LazyLock::new(Mutex::default);

/// Standard input, as a path, and as the file that a shell may have been told to read.
const STANDARD_INPUT: [&str; 2] = ["-", "/dev/stdin"];

/// Notes that a file is read; `sea-####.png` stands for all of its pictures.
pub fn note_read(path: &Path) {
    let path = if path == Path::new(STANDARD_INPUT[0]) { Path::new(STANDARD_INPUT[1]) } else { path };
    let path = absolute(path).unwrap_or_else(|_| path.to_owned());
    // A set is whole whoever was ended while it was held.
    READ.lock().unwrap_or_else(PoisonError::into_inner).insert(path.into_os_string());
}

/// Every file read so far.
pub fn read_so_far() -> Vec<PathBuf> {
    let read = READ.lock().unwrap_or_else(PoisonError::into_inner);
    let mut read: Vec<PathBuf> = read.iter().map(PathBuf::from).collect();
    read.sort_unstable();
    read
}
