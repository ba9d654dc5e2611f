//! The bin: what was removed, each file in a folder of its own, so that nothing there can be written over.

use std::fs;
use std::io;
use std::path::{Path, PathBuf};
use std::time::SystemTime;

use super::{ENDING, Kind, handle_of};

/// Inside the person's folder.
const BIN: &str = "bin";

/// Something that was removed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Removed {
    /// Higher for what was removed later.
    pub number: u64,
    /// What it is.
    pub kind: Kind,
    /// What it was asked for by.
    pub handle: String,
    /// Where it is now.
    pub file: PathBuf,
    /// When its folder was made, where the system tells.
    pub removed: Option<SystemTime>,
}

/// Moves a file there.
pub(super) fn put(data: &Path, kind: Kind, handle: &str, file: &Path) -> io::Result<Removed> {
    let bin = data.join(BIN);
    fs::create_dir_all(&bin)?;
    let mut number = list(data).first().map_or(1, |last| last.number + 1);
    let place = loop {
        let place = bin.join(format!("{number:04}-{}", kind.name()));
        // Whoever makes the folder is the only one to move a file into it.
        match fs::create_dir(&place) {
            Ok(()) => break place,
            Err(error) if error.kind() == io::ErrorKind::AlreadyExists => number += 1,
            Err(error) => return Err(error),
        }
    };
    let to = place.join(format!("{handle}.{ENDING}"));
    if let Err(error) = fs::rename(file, &to) {
        close(&to);
        return Err(error);
    }
    Ok(Removed { number, kind, handle: handle.to_owned(), file: to, removed: Some(SystemTime::now()) })
}

/// What is there, the latest first.
pub(super) fn list(data: &Path) -> Vec<Removed> {
    let mut removed: Vec<Removed> = fs::read_dir(data.join(BIN))
        .into_iter()
        .flatten()
        .flatten()
        .filter_map(|place| found(&place.path()))
        .collect();
    removed.sort_by_key(|one| std::cmp::Reverse(one.number));
    removed
}

fn found(place: &Path) -> Option<Removed> {
    let name = place.file_name()?.to_str()?;
    let (number, kind) = name.split_once('-')?;
    let kind = Kind::named(kind)?;
    let file = super::files_of::files_in(place).into_iter().next()?;
    let removed = fs::metadata(place).and_then(|found| found.modified()).ok();
    Some(Removed { number: number.parse().ok()?, kind, handle: handle_of(&file), file, removed })
}

/// Takes away the folder that a file was moved out of, if nothing else is in it.
pub(super) fn close(file: &Path) {
    if let Some(place) = file.parent() {
        // An empty folder that stays does no harm.
        let _ = fs::remove_dir(place);
    }
}
