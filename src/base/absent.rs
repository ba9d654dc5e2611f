//! Why a path leads to no file: the folder that holds it, and what on the way to it is missing.

use std::path::{Path, PathBuf};
use std::{fs, io};

use super::place::{did_you_mean, shortened};

/// What keeps a path from leading to a file; hints are "; did you mean ...?", or nothing.
pub(crate) enum Absent {
    /// The folder is there, the file is not.
    File { hint: String },
    /// The first folder on the way that is not there.
    Folder { folder: PathBuf, hint: String },
    /// A file stands where a folder would have to.
    FileOnTheWay(PathBuf),
}

impl Absent {
    /// Of a path of which the system says that it leads nowhere.
    pub(crate) fn of(path: &Path) -> Self {
        match first_obstacle(folder_of(path)) {
            Some(Obstacle::Missing(folder)) => Self::Folder { hint: near(&folder), folder },
            Some(Obstacle::File(file)) => Self::FileOnTheWay(file),
            None => Self::File { hint: near(path) },
        }
    }
}

/// "; did you mean ...?" with the nearest name in the same folder.
fn near(path: &Path) -> String {
    did_you_mean(&shortened(&name_of(path)), names_in(folder_of(path)).iter().map(String::as_str))
}

/// The last part of `path`, for people and for comparing.
pub(crate) fn name_of(path: &Path) -> String {
    path.file_name().unwrap_or_default().to_string_lossy().into_owned()
}

/// Names of what is in `folder`, sorted; none where it cannot be listed.
pub(crate) fn names_in(folder: &Path) -> Vec<String> {
    let entries = fs::read_dir(folder).into_iter().flatten();
    let mut names: Vec<String> =
        entries.filter_map(|entry| Some(entry.ok()?.file_name().to_string_lossy().into_owned())).collect();
    names.sort();
    names
}

/// The folder that a file is in, `.` where the path names none.
pub(crate) fn folder_of(path: &Path) -> &Path {
    path.parent().filter(|parent| !parent.as_os_str().is_empty()).unwrap_or(Path::new("."))
}

/// What keeps a path from being a folder.
pub(crate) enum Obstacle {
    /// The first folder on the way that is not there.
    Missing(PathBuf),
    /// A file where a folder would have to be.
    File(PathBuf),
}

/// The first thing on the way to `folder` that is no folder.
pub(crate) fn first_obstacle(folder: &Path) -> Option<Obstacle> {
    let mut outermost_first: Vec<&Path> = folder.ancestors().collect();
    outermost_first.reverse();
    outermost_first.into_iter().filter(|step| !step.as_os_str().is_empty()).find_map(
        |step| match fs::metadata(step) {
            Ok(found) if found.is_dir() => None,
            Ok(_) => Some(Obstacle::File(step.to_owned())),
            Err(error) if error.kind() == io::ErrorKind::NotFound => Some(Obstacle::Missing(step.to_owned())),
            Err(_) => None,
        },
    )
}
