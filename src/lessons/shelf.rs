//! The lessons that there are: those of the program, and those that lie in the person's folder.

use std::fs;
use std::path::Path;

use super::{Lesson, file};
use crate::base::{embedded, folders};
use crate::catalogue::Catalogue;
use crate::files::FileError;

/// The folder for lessons inside the person's data folder.
pub const FOLDER: &str = "lessons";

/// One lesson file, read or refused.
#[derive(Debug)]
pub struct Found {
    /// The file's name without its ending.
    pub name: String,
    /// Whether it travels inside the program.
    pub is_built_in: bool,
    /// The lesson, or why it is none.
    pub lesson: Result<Lesson, FileError>,
}

/// Every lesson file found, those of the program first.
#[derive(Debug, Default)]
pub struct Lessons {
    /// In the order in which they are offered.
    pub found: Vec<Found>,
}

impl Lessons {
    /// The program's own lessons, and those of the person's data folder; a wrong one hides no other.
    pub fn read(catalogue: &Catalogue) -> Self {
        Self::with_folder(catalogue, folders::data_folder().map(|folder| folder.join(FOLDER)).as_deref())
    }

    /// The program's own lessons, and those of a folder, in the order of their names.
    pub fn with_folder(catalogue: &Catalogue, folder: Option<&Path>) -> Self {
        let mut found: Vec<Found> = embedded::LESSONS
            .iter()
            .map(|(name, text)| Found {
                name: (*name).to_owned(),
                is_built_in: true,
                lesson: file::parse_lesson(text, &format!("lesson:{name}"), Path::new(""), catalogue),
            })
            .collect();
        let entries = folder.and_then(|folder| fs::read_dir(folder).ok()).into_iter().flatten();
        let mut paths: Vec<_> = entries
            .filter_map(|entry| entry.ok().map(|entry| entry.path()))
            .filter(|path| path.extension().is_some_and(|ending| ending == "toml"))
            .collect();
        paths.sort();
        found.extend(paths.into_iter().map(|path| Found {
            name: path.file_stem().unwrap_or_default().to_string_lossy().into_owned(),
            is_built_in: false,
            lesson: file::read_lesson(&path, catalogue),
        }));
        Self { found }
    }

    /// Those that were read.
    pub fn right(&self) -> impl Iterator<Item = &Lesson> {
        self.found.iter().filter_map(|found| found.lesson.as_ref().ok())
    }

    /// Why others were not.
    pub fn wrong(&self) -> impl Iterator<Item = &FileError> {
        self.found.iter().filter_map(|found| found.lesson.as_ref().err())
    }
}
