//! What lies in a folder and those inside it.

use std::fs;
use std::path::{Path, PathBuf};

/// How deep folders are looked through.
const DEEPEST: usize = 6;
/// Most files that are looked at in one go.
const MOST_FILES: usize = 20_000;

/// Every file under a folder that is wanted, in alphabetical order; a file is given back as it is.
pub(super) fn files_under(path: &Path, is_wanted: impl Fn(&Path) -> bool) -> Vec<PathBuf> {
    if !path.is_dir() {
        return vec![path.to_owned()];
    }
    let mut found = Vec::new();
    gather(path, DEEPEST, &is_wanted, &mut found);
    found
}

fn gather(path: &Path, deeper: usize, is_wanted: &dyn Fn(&Path) -> bool, found: &mut Vec<PathBuf>) {
    let mut inside: Vec<PathBuf> = fs::read_dir(path)
        .into_iter()
        .flatten()
        .flatten()
        // A link to a folder could lead round in a circle.
        .filter(|entry| !entry.file_name().to_string_lossy().starts_with('.'))
        .filter(|entry| entry.file_type().is_ok_and(|kind| !kind.is_symlink()) || entry.path().is_file())
        .map(|entry| entry.path())
        .collect();
    inside.sort();
    for path in inside {
        if found.len() >= MOST_FILES {
            return;
        }
        if path.is_dir() {
            if deeper > 0 {
                gather(&path, deeper - 1, is_wanted, found);
            }
        } else if is_wanted(&path) {
            found.push(path);
        }
    }
}
