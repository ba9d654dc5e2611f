//! Numbered pictures: each is whole or not there. A note beside them, `frame-####.png.unfinished`, says what
//! they are of; it goes when the last one is written, and until then the same render goes on where it stopped.

use std::collections::HashSet;
use std::fs;
use std::io::ErrorKind;
use std::path::{Path, PathBuf};

use serde::{Deserialize, Serialize};

use super::{MovingError, Outline};
use crate::base::content;
use crate::base::content::Content;
use crate::base::frame::Frame;
use crate::files;
use crate::files::{NotReplaced, Permit};
use crate::footage::Pattern;

/// The `format` of the note.
const FORMAT: &str = "underover/unfinished/1";
/// What is put behind the pattern's name for the note.
const NOTE_ENDING: &str = ".unfinished";
/// The number of the first frame's file.
pub(super) const FIRST: u64 = 1;

/// What the note holds.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
struct Note {
    format: String,
    /// For the person who finds it.
    about: String,
    frames: u64,
    rate: String,
    frame: String,
    /// What stands for everything that the frames depend on.
    subject: String,
}

/// Numbered pictures on their way.
pub struct Numbered {
    pattern: Pattern,
    note: PathBuf,
    /// Those that are there, whole.
    there: HashSet<u64>,
    /// Those that are there, damaged: they are made again.
    torn: HashSet<u64>,
    permit: Permit,
}

/// Of the files of `count` pictures the first, the last and each first one with more digits: a sequence that is read
/// and that any of them would fall into is met by one of these. Beside them every one that is there.
fn telling(pattern: &Pattern, count: u64) -> Vec<PathBuf> {
    let last = FIRST + count.saturating_sub(1);
    let more_digits =
        (1..).map_while(|digits| 10_u64.checked_pow(digits)).take_while(|&number| number <= last);
    let there = pattern.numbers().into_iter();
    [FIRST, last].into_iter().chain(more_digits).chain(there).map(|number| pattern.file(number)).collect()
}

impl Numbered {
    pub(super) fn begin(
        pattern: Pattern,
        path: &Path,
        outline: &Outline,
        permit: Permit,
    ) -> Result<Self, MovingError> {
        files::check(&pattern.file(FIRST))?;
        for file in telling(&pattern, outline.count) {
            let not_replaced = |why| files::WriteError::NotReplaced { path: file.display().to_string(), why };
            permit.check_read(&file).map_err(not_replaced)?;
        }
        let note_path = note_path(path);
        let note = Note::of(outline);
        let found = Note::read(&note_path);
        let (mut there, mut torn) = (HashSet::new(), HashSet::new());
        let numbers = pattern.numbers();
        if found.as_ref().is_some_and(|found| found.is_of(outline)) {
            let ours = numbers.into_iter().filter(|number| (FIRST..FIRST + outline.count).contains(number));
            (there, torn) = ours.partition(|number| is_whole(&pattern.file(*number), outline.frame));
        } else if permit.replaces() {
            // Those that are not written over would seem to belong to the new ones.
            for number in numbers {
                remove(&pattern.file(number))?;
            }
        } else if let Some(&first) = numbers.first() {
            return Err(MovingError::OthersThere {
                first: pattern.file(first).display().to_string(),
                why: match found {
                    Some(found) => found.difference_from(&note),
                    None => ", which is finished or was made elsewhere".to_owned(),
                },
            });
        }
        let text = serde_json::to_string_pretty(&note).map_err(|error| MovingError::Refused {
            path: note_path.display().to_string(),
            source: error.into(),
        })?;
        files::write(&note_path, (text + "\n").as_bytes())?;
        Ok(Self { pattern, note: note_path, there, torn, permit })
    }

    pub(super) fn has(&self, number: u64) -> bool {
        self.there.contains(&(FIRST + number))
    }

    pub(super) fn put(&self, number: u64, bytes: &[u8]) -> Result<(), MovingError> {
        let file = self.pattern.file(FIRST + number);
        let not_replaced = |why| files::WriteError::NotReplaced { path: file.display().to_string(), why };
        self.permit.check_read(&file).map_err(not_replaced)?;
        if self.torn.contains(&(FIRST + number)) {
            return Ok(files::write(&file, bytes)?);
        }
        // Somebody else's may have come to stand there since.
        match files::write_new(&file, bytes)? {
            true => Ok(()),
            false => Err(not_replaced(NotReplaced::There("a file")).into()),
        }
    }

    pub(super) fn finish(&self) -> Result<(), MovingError> {
        remove(&self.note)
    }
}

fn note_path(path: &Path) -> PathBuf {
    let mut name = path.as_os_str().to_owned();
    name.push(NOTE_ENDING);
    name.into()
}

fn remove(path: &Path) -> Result<(), MovingError> {
    match fs::remove_file(path) {
        Err(source) if source.kind() != ErrorKind::NotFound => {
            Err(MovingError::Refused { path: path.display().to_string(), source })
        }
        _ => Ok(()),
    }
}

/// Whether the file is a whole picture of this size, by decoding it: checksums tell what is damaged.
fn is_whole(path: &Path, frame: Frame) -> bool {
    image::open(path).is_ok_and(|picture| (picture.width(), picture.height()) == (frame.width, frame.height))
}

impl Note {
    fn of(outline: &Outline) -> Self {
        Self {
            format: FORMAT.to_owned(),
            about: "Some of these frames are missing. The same `underover render` makes them.".to_owned(),
            frames: outline.count,
            rate: outline.rate.to_string(),
            frame: outline.frame.to_string(),
            subject: Content::of(&outline.subject).to_string(),
        }
    }

    /// The note that lies there, if it is one.
    fn read(path: &Path) -> Option<Self> {
        serde_json::from_slice(&fs::read(path).ok()?).ok()
    }

    /// Whether it is what is written for this outline, in this version of the program or in one before.
    fn is_of(&self, outline: &Outline) -> bool {
        let new = Self::of(outline);
        content::stands_for(&self.subject, &outline.subject)
            && Self { subject: new.subject.clone(), ..self.clone() } == new
    }

    fn difference_from(&self, new: &Self) -> String {
        let what = [
            ("frame size", &self.frame, &new.frame),
            ("frame rate", &self.rate, &new.rate),
            ("number of frames", &self.frames.to_string(), &new.frames.to_string()),
        ];
        match what.into_iter().find(|(_, old, new)| old != new) {
            Some((what, old, new)) => format!(" (its {what} is {old}, not {new})"),
            None => " (the show, its footage or the settings have changed since)".to_owned(),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::beat::FrameRate;

    #[test]
    fn a_note_of_an_older_version_is_known_again_and_that_of_another_subject_is_not() {
        let frame = Frame { width: 64, height: 36 };
        let subject = "night ferry".to_owned();
        let outline =
            Outline { frame, rate: FrameRate::default(), count: 3, may_be_transparent: false, subject };
        let now = Note::of(&outline);
        // 64 bits of FNV-1a of "night ferry", worked out by a few lines of Python.
        let before = Note { subject: "12178ab1e13d50c1".to_owned(), ..now.clone() };
        assert!(now.is_of(&outline) && before.is_of(&outline));
        for other in [
            Outline { subject: "night ferries".to_owned(), ..outline.clone() },
            Outline { count: 4, ..outline.clone() },
        ] {
            assert!(!now.is_of(&other) && !before.is_of(&other));
        }
    }
}
