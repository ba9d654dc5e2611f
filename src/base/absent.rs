//! Why a path leads to no file: the folder that holds it, and what on the way to it is missing.

use std::path::{Path, PathBuf};
use std::{fs, io};

use thiserror::Error;

use super::place::{did_you_mean, shortened};

/// A path that leads to no file, and why.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
#[error("there is no file `{}`{}{hint}", .path.display(), because(.obstacle.as_ref()))]
pub struct Absent {
    /// The path as given.
    pub path: PathBuf,
    /// What on the way to it is no folder; where there is nothing of the kind, only the file is missing.
    pub obstacle: Option<Obstacle>,
    /// "; did you mean ...?", or nothing.
    hint: String,
}

impl Absent {
    /// Of a path of which the system says that it leads nowhere.
    pub(crate) fn of(path: &Path) -> Self {
        let obstacle = first_obstacle(folder_of(path));
        let hint = match &obstacle {
            Some(Obstacle::Missing(folder)) => near(folder),
            Some(Obstacle::File(_)) => String::new(),
            None => near(path),
        };
        Self { path: path.to_owned(), obstacle, hint }
    }
}

fn because(obstacle: Option<&Obstacle>) -> String {
    obstacle.map(|obstacle| format!(", because {obstacle}")).unwrap_or_default()
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
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum Obstacle {
    /// The first folder on the way that is not there.
    #[error("there is no folder `{}`", .0.display())]
    Missing(PathBuf),
    /// A file where a folder would have to be.
    #[error("`{}` is a file, not a folder", .0.display())]
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
