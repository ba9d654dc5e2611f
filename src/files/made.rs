//! Which files Underover made: each is noted in the state folder when it takes its name, so that it may be made again, and a
//! file of the same name that somebody else made, or has changed since, is left alone.

use std::path::Path;

use super::reading::Identity;
use crate::base::cache::Cache;
use crate::base::stamp::Stamp;

/// The folder of notes in the state folder.
const FOLDER: &str = "made";
/// Room for 4,096 notes; whatever was made before is asked about.
const MOST_BYTES: u64 = 16 << 20;

/// Notes that the file there is one that was made just now.
pub(super) fn note(path: &Path) {
    if let (Some(cache), Some(stamp)) = (Cache::named(FOLDER, MOST_BYTES), Stamp::of(path))
        && let Ok(note) = serde_json::to_vec(&stamp)
    {
        cache.put(&key(&Identity::of(path)), &note);
    }
}

/// Whether a file was made by this program, and nobody has written to it since.
pub(super) fn is_made(file: &Identity) -> bool {
    let noted = || {
        let note = Cache::named(FOLDER, MOST_BYTES)?.get(&key(file))?;
        Some(Stamp::of(file.path())?.is_as_written(&serde_json::from_slice(&note).ok()?))
    };
    noted().unwrap_or(false)
}

fn key(file: &Identity) -> String {
    // Paths that are no text differ in their bytes all the same.
    format!("{:?}", file.path())
}
