//! Whether a file is one that is read, whatever it is called.
//!
//! Whatever opens a file notes it ([`note_read`]), and so does whatever reads a file that names others: what a show shows
//! is read by it, whether its clip is showing or not.

use std::fs::{self, Metadata};
use std::path::{Path, PathBuf, absolute};

use crate::base::absent::folder_of;
use crate::base::inputs::note_read;
use crate::footage::Pattern;
use crate::show::Show;
use crate::show::clip::FootageName;

/// Notes the footage that a show names.
pub(crate) fn note_named(show: &Show) {
    footage_files(show).for_each(note_read);
}

/// The files that the footage of a show is in, each as often as it is named; sequences by their patterns.
pub fn footage_files(show: &Show) -> impl Iterator<Item = &Path> {
    let levels = show.bundles.iter().flat_map(|bundle| &bundle.levels);
    levels.flat_map(|level| &level.clips).filter_map(|clip| match &clip.footage {
        FootageName::File { path, .. } => Some(path.as_path()),
        FootageName::Generated(_) | FootageName::StandIn(..) => None,
    })
}

/// A file by what it is, whatever it is called.
pub(crate) struct Identity {
    /// Links followed; of a file that is not there yet, its folder's.
    path: PathBuf,
    found: Option<Metadata>,
}

impl Identity {
    pub(crate) fn of(path: &Path) -> Self {
        Self { found: fs::metadata(path).ok(), path: canonical(path) }
    }

    pub(crate) fn path(&self) -> &Path {
        &self.path
    }

    pub(crate) fn found(&self) -> Option<&Metadata> {
        self.found.as_ref()
    }

    /// Whether both are one file: by path, or as two names of one.
    pub(crate) fn is(&self, other: &Self) -> bool {
        let is_one = |(one, other): (&Metadata, &Metadata)| is_one_file(one, other);
        self.path == other.path || self.found().zip(other.found()).is_some_and(is_one)
    }

    /// Which of these files it is, and whether as a picture of a sequence.
    pub(crate) fn among<'a>(&self, read: &'a [PathBuf]) -> Option<(&'a Path, Part)> {
        read.iter().find_map(|read| {
            if self.is(&Self::of(read)) {
                return Some((read.as_path(), Part::Whole));
            }
            let sequence = Pattern::of(read).filter(|_| !read.exists())?;
            let folder = canonical(folder_of(read));
            let name = self.path.file_name().unwrap_or_default().to_string_lossy();
            if self.path.parent() == Some(&folder) && sequence.has(&name) {
                return Some((read.as_path(), Part::Picture));
            }
            // Under another path it can only be one of them if it has several.
            let found = self.found().filter(|found| has_several_names(found))?;
            let is_it =
                |number| fs::metadata(sequence.file(number)).is_ok_and(|other| is_one_file(found, &other));
            sequence.numbers().into_iter().any(is_it).then_some((read.as_path(), Part::Picture))
        })
    }
}

/// What of something that is read a file is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Part {
    Whole,
    /// One of the pictures of a sequence, or a name that the next of them would have.
    Picture,
}

#[cfg(unix)]
fn is_one_file(one: &Metadata, other: &Metadata) -> bool {
    use std::os::unix::fs::MetadataExt as _;
    // Devices are no files that could be lost.
    one.is_file() && (one.dev(), one.ino()) == (other.dev(), other.ino())
}

#[cfg(unix)]
fn has_several_names(found: &Metadata) -> bool {
    use std::os::unix::fs::MetadataExt as _;
    found.nlink() > 1
}

#[cfg(not(unix))]
fn has_several_names(_: &Metadata) -> bool {
    false
}

/// Where files have no numbers that can be asked for, paths alone tell.
#[cfg(not(unix))]
fn is_one_file(_: &Metadata, _: &Metadata) -> bool {
    false
}

fn canonical(path: &Path) -> PathBuf {
    fs::canonicalize(path).unwrap_or_else(|_| {
        let folder = fs::canonicalize(folder_of(path));
        match (folder, path.file_name()) {
            (Ok(folder), Some(name)) => folder.join(name),
            _ => absolute(path).unwrap_or_else(|_| path.to_owned()),
        }
    })
}

/// Whether two paths lead to one file; of files that are not there yet, whether they would.
pub fn is_same(one: &Path, other: &Path) -> bool {
    Identity::of(one).is(&Identity::of(other))
}
