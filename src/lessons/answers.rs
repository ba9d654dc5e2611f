//! Which lessons a person has answered, and how: kept in the state folder, on the person's machine, and nowhere else.

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};

use crate::base::plain;
use crate::files;
use crate::files::WriteError;

/// The file inside the state folder.
const FILE: &str = "lessons.txt";
/// Most lessons that are remembered.
const MOST: usize = 1000;

/// The choices made, by the names of lessons.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Answers {
    chosen: BTreeMap<String, usize>,
    file: Option<PathBuf>,
}

impl Answers {
    /// The choices that the file in `folder` holds; none where there is no file. Lines that do not read are left out.
    pub fn read(folder: Option<&Path>) -> Self {
        let file = folder.map(|folder| folder.join(FILE));
        let text = file
            .as_ref()
            .and_then(|file| plain::read_text(file, plain::MOST_OWN_BYTES).ok())
            .unwrap_or_default();
        let chosen = text.lines().filter_map(|line| {
            let (choice, name) = line.split_once(' ')?;
            let choice = choice.parse::<usize>().ok()?.checked_sub(1)?;
            Some((name.to_owned(), choice))
        });
        Self { chosen: chosen.take(MOST).collect(), file }
    }

    /// Where they are kept, if anywhere.
    pub fn file(&self) -> Option<&Path> {
        self.file.as_deref()
    }

    /// Whether no lesson has been answered.
    pub fn is_empty(&self) -> bool {
        self.chosen.is_empty()
    }

    /// The choice made in a lesson, by its place.
    pub fn chosen(&self, lesson: &str) -> Option<usize> {
        self.chosen.get(lesson).copied()
    }

    /// Notes a choice, and keeps it.
    ///
    /// # Errors
    /// [`WriteError`]; the choice is known all the same, until the program ends.
    pub fn choose(&mut self, lesson: &str, choice: usize) -> Result<(), WriteError> {
        self.chosen.insert(lesson.to_owned(), choice);
        self.keep()
    }

    /// Forgets the choice made in one lesson.
    ///
    /// # Errors
    /// As [`choose`](Self::choose).
    pub fn forget(&mut self, lesson: &str) -> Result<(), WriteError> {
        self.chosen.remove(lesson);
        self.keep()
    }

    /// Forgets every choice.
    ///
    /// # Errors
    /// As [`choose`](Self::choose).
    pub fn forget_all(&mut self) -> Result<(), WriteError> {
        self.chosen.clear();
        self.keep()
    }

    fn keep(&self) -> Result<(), WriteError> {
        let Some(file) = &self.file else { return Ok(()) };
        // Where the folder cannot be made, the writing says so.
        let _ = fs::create_dir_all(file.parent().unwrap_or(Path::new("")));
        let one_line = |name: &&String| !name.contains(['\n', '\r']);
        let names = self.chosen.keys().filter(one_line);
        let text: String = names.map(|name| format!("{} {name}\n", self.chosen[name] + 1)).collect();
        files::keep(file, text.as_bytes())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn choices_read_as_they_were_made_and_can_be_forgotten() {
        let folder = tempfile::tempdir().unwrap();
        let state = folder.path().join("state");
        let mut answers = Answers::read(Some(&state));
        assert!(answers.is_empty());
        answers.choose("01-colour and flash", 2).unwrap();
        answers.choose("02-edges", 0).unwrap();
        let mut again = Answers::read(Some(&state));
        assert_eq!(again, answers);
        assert_eq!((again.chosen("01-colour and flash"), again.chosen("02-edges")), (Some(2), Some(0)));
        again.forget("02-edges").unwrap();
        assert_eq!(Answers::read(Some(&state)).chosen("02-edges"), None);
        again.forget_all().unwrap();
        assert!(Answers::read(Some(&state)).is_empty());
    }

    #[test]
    fn lines_that_do_not_read_are_left_out() {
        let folder = tempfile::tempdir().unwrap();
        fs::write(folder.path().join(FILE), "0 none\nx y\n\n3 right\n").unwrap();
        let answers = Answers::read(Some(folder.path()));
        assert_eq!((answers.chosen("right"), answers.chosen("none")), (Some(2), None));
    }
}
