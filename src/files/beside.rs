//! Paths as a file names them that lies in another folder.

use std::fs;
use std::path::{Component, Path, PathBuf, absolute};

/// `path` as a file in `folder` names it: relative to it, with what leads up to a folder that both are in; where
/// they share none, in full.
///
/// A step up from a link leads to where the link points, as it does for the system.
pub(super) fn from_folder(path: &Path, folder: &Path) -> PathBuf {
    let folder = if folder.as_os_str().is_empty() { Path::new(".") } else { folder };
    let path = straight(path);
    let Ok(folder) = fs::canonicalize(folder).or_else(|_| absolute(folder).map(|folder| straight(&folder)))
    else {
        return path;
    };
    // The person's own links are kept, unless they lead a long way round.
    let followed = path.parent().zip(path.file_name()).and_then(|(parent, name)| {
        fs::canonicalize(parent).ok().map(|parent| steps(&parent.join(name), &folder))
    });
    let plain = steps(&path, &folder);
    match followed {
        Some(followed) if followed.components().count() < plain.components().count() => followed,
        _ => plain,
    }
}

/// The steps from a folder to a path; the path itself where they share nothing.
fn steps(path: &Path, folder: &Path) -> PathBuf {
    let shared: PathBuf =
        path.components().zip(folder.components()).take_while(|(a, b)| a == b).map(|(a, _)| a).collect();
    if !shared.components().any(|step| matches!(step, Component::Normal(_))) {
        return path.to_owned();
    }
    let up = folder.components().skip(shared.components().count()).map(|_| Component::ParentDir);
    let down = path.components().skip(shared.components().count());
    up.chain(down).collect()
}

/// A full path without `.` and `..`.
fn straight(path: &Path) -> PathBuf {
    let mut straight = PathBuf::new();
    for step in absolute(path).unwrap_or_else(|_| path.to_owned()).components() {
        match step {
            Component::ParentDir => {
                if fs::symlink_metadata(&straight).is_ok_and(|found| found.is_symlink())
                    && let Ok(followed) = fs::canonicalize(&straight)
                {
                    straight = followed;
                }
                straight.pop();
            }
            step => straight.push(step),
        }
    }
    straight
}
