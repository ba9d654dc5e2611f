//! Numbered sequences: `sea-####.png` stands for `sea-0001.png`, `sea-0002.png` and so on.

use std::path::{Path, PathBuf};

use super::error::FootageError;
use crate::base::absent::{folder_of, name_of, names_in};

/// Pictures a second: common practice, no source.
pub const SEQUENCE_RATE: f64 = 25.0;

/// A sequence's name, taken apart at its last run of `#`.
#[derive(Debug, Clone)]
pub struct Pattern {
    path: PathBuf,
    before: String,
    /// Digits at least, padded with zeros.
    digits: usize,
    after: String,
}

impl Pattern {
    /// The pattern that a path's last part is, if it has a `#`.
    pub fn of(path: &Path) -> Option<Self> {
        let name = name_of(path);
        let end = name.rfind('#')? + 1;
        let start = name[..end].trim_end_matches('#').len();
        let path = path.to_owned();
        Some(Self {
            path,
            before: name[..start].to_owned(),
            digits: end - start,
            after: name[end..].to_owned(),
        })
    }

    pub fn file(&self, number: u64) -> PathBuf {
        folder_of(&self.path).join(self.name(number))
    }

    /// Whether a file of this name, in the pattern's folder, is one of the sequence, or would be.
    pub fn has(&self, name: &str) -> bool {
        self.number(name).is_some()
    }

    /// The numbers that files in the pattern's folder have, in order.
    pub fn numbers(&self) -> Vec<u64> {
        self.numbers_among(&names_in(folder_of(&self.path)))
    }

    fn numbers_among(&self, names: &[String]) -> Vec<u64> {
        let mut numbers: Vec<u64> = names.iter().filter_map(|name| self.number(name)).collect();
        numbers.sort_unstable();
        numbers
    }

    fn name(&self, number: u64) -> String {
        format!("{}{number:0digits$}{}", self.before, self.after, digits = self.digits)
    }

    /// The digits of a name of this form, however many.
    fn digits_in<'a>(&self, name: &'a str) -> Option<&'a str> {
        let digits = name.strip_prefix(&self.before)?.strip_suffix(&self.after)?;
        (!digits.is_empty() && digits.bytes().all(|b| b.is_ascii_digit())).then_some(digits)
    }

    /// The number of the file with this name, if it is one of the sequence.
    fn number(&self, name: &str) -> Option<u64> {
        let number = self.digits_in(name)?.parse().ok()?;
        (self.name(number) == name).then_some(number)
    }

    /// What may have been meant, where no file fits.
    fn hint(&self, names: &[String]) -> String {
        let Some((name, digits)) = names.iter().find_map(|name| Some((name, self.digits_in(name)?))) else {
            return String::new();
        };
        let meant = format!("{}{}{}", self.before, "#".repeat(digits.len()), self.after);
        format!(": {name} is there; did you mean `{meant}`?")
    }
}

/// A numbered sequence without a gap: one number after the other.
#[derive(Debug, Clone)]
pub(super) struct Sequence {
    pattern: Pattern,
    first: u64,
    count: u64,
}

impl Sequence {
    /// Whether `path` names a sequence; a file that is there under that very name is no sequence.
    pub fn is_named_by(path: &Path) -> bool {
        name_of(path).contains('#') && !path.exists()
    }

    /// Finds the first and the last number of the sequence that `path` names.
    ///
    /// # Errors
    /// A missing folder, no file of that name, or a gap, by its first missing file.
    pub fn read(path: &Path) -> Result<Self, FootageError> {
        let Some(pattern) = Pattern::of(path).filter(|_| folder_of(path).is_dir()) else {
            return Err(FootageError::absent(path));
        };
        let names = names_in(folder_of(path));
        let numbers = pattern.numbers_among(&names);
        let (Some(&first), Some(&last)) = (numbers.first(), numbers.last()) else {
            let hint = pattern.hint(&names);
            return Err(FootageError::EmptySequence { pattern: pattern.path, hint });
        };
        if let Some(missing) = (first..=last).zip(&numbers).find(|(due, found)| due != *found) {
            let missing = pattern.name(missing.0);
            return Err(FootageError::Gap { pattern: pattern.path, missing, first, last });
        }
        Ok(Self { pattern, first, count: numbers.len() as u64 })
    }

    /// How many pictures it has, at least one.
    pub fn count(&self) -> u64 {
        self.count
    }

    /// The file of picture `frame`, counted from 0.
    pub fn file(&self, frame: u64) -> PathBuf {
        self.pattern.file(self.first + frame)
    }
}
