//! Files that are being written (`.underover-....part`), and those that were left by programs that no longer run.
//!
//! Whoever writes one holds it locked, and the system opens the lock when its program ends, however it ends.

use std::collections::HashSet;
use std::fs::{self, File};
use std::io;
use std::path::{Path, PathBuf};
use std::sync::{Mutex, PoisonError};

use tempfile::NamedTempFile;

const PREFIX: &str = ".underover-";
const SUFFIX: &str = ".part";
/// Times that a file is begun anew because another program took it for litter before it was locked.
const TRIES: usize = 16;

/// Begins a file in `folder` that is gone when it is dropped.
pub(super) fn begun_in(folder: &Path) -> io::Result<NamedTempFile> {
    let mut builder = tempfile::Builder::new();
    builder.prefix(PREFIX).suffix(SUFFIX);
    // A temporary file is private by default; what replaces it is an ordinary file, less the umask.
    #[cfg(unix)]
    builder.permissions(std::os::unix::fs::PermissionsExt::from_mode(0o666));
    let mut begun = builder.tempfile_in(folder)?;
    for _ in 0..TRIES {
        if is_held(&begun) {
            break;
        }
        begun = builder.tempfile_in(folder)?;
    }
    Ok(begun)
}

/// Locks a file that was just made; false where it was swept before. Where the system has no locks, nothing is swept.
#[cfg(unix)]
fn is_held(begun: &NamedTempFile) -> bool {
    use std::fs::TryLockError;
    use std::os::unix::fs::MetadataExt as _;
    match begun.as_file().try_lock() {
        Err(TryLockError::WouldBlock) => return false,
        Err(TryLockError::Error(_)) | Ok(()) => {}
    }
    let number = |found: io::Result<fs::Metadata>| found.map(|found| (found.dev(), found.ino())).ok();
    number(begun.as_file().metadata()) == number(fs::metadata(begun.path()))
}

/// Elsewhere a lock would keep out the program that a film is written through.
#[cfg(not(unix))]
fn is_held(_: &NamedTempFile) -> bool {
    true
}

/// Clears away what programs that no longer run left half written in a folder; once for each folder.
pub(super) fn sweep(folder: &Path) {
    static SWEPT: Mutex<Option<HashSet<PathBuf>>> = Mutex::new(None);
    let is_new = |swept: &mut HashSet<PathBuf>| swept.insert(folder.to_owned());
    if cfg!(unix)
        && is_new(SWEPT.lock().unwrap_or_else(PoisonError::into_inner).get_or_insert_with(HashSet::new))
    {
        for entry in fs::read_dir(folder).into_iter().flatten().flatten() {
            let name = entry.file_name();
            let name = name.to_string_lossy();
            let is_plain = entry.file_type().is_ok_and(|kind| kind.is_file());
            if is_plain && name.starts_with(PREFIX) && name.ends_with(SUFFIX) {
                clear_away(&entry.path());
            }
        }
    }
}

/// Removes a file that nobody holds; it is held meanwhile, so that nobody takes it up. What stays does no harm.
fn clear_away(path: &Path) {
    if let Ok(file) = File::open(path)
        && file.try_lock().is_ok()
    {
        let _ = fs::remove_file(path);
    }
}
