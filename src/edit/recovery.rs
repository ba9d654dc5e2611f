//! Work kept aside while it is edited, and found again after a crash.
//!
//! Each running program keeps one text in the state folder, beside a file that
//! it holds locked. The system opens a lock when its program ends, however it
//! ends; a text whose lock is open and which was not cleared away is work lost.

use std::fs::{self, File, OpenOptions};
use std::io;
use std::path::{Path, PathBuf};

use thiserror::Error;

use super::{Pins, Work};
use crate::catalogue::Catalogue;
use crate::files;
use crate::files::{FileError, Original, WriteError};

/// What opens the line that names the file which the work belongs to.
const BELONGS_TO: &str = "# Kept aside by Underover; belongs to: ";
/// What opens the line with what stands for what that file held.
const FILE_HELD: &str = "# its file held: ";
/// What opens the line with the pins.
const PINS: &str = "# pins: ";

/// Programs that keep work aside at the same time.
const MOST_PROGRAMS: usize = 256;

/// Why work could not be kept aside or found again.
#[derive(Debug, Error)]
pub enum RecoveryError {
    /// The state folder cannot be used.
    #[error("work cannot be kept aside in `{folder}`: {source}; it is safe only where you save it")]
    Folder {
        folder: String,
        /// What the system said.
        source: io::Error,
    },
    /// The text was not written.
    #[error(transparent)]
    Write(#[from] WriteError),
    /// A text kept aside does not read.
    #[error(transparent)]
    Read(#[from] FileError),
}

/// Where this program keeps its work aside.
#[derive(Debug)]
pub struct Recovery {
    text: PathBuf,
    lock: PathBuf,
    /// Held for as long as the program runs.
    held: File,
}

/// Work found again.
#[derive(Debug)]
pub struct Recovered {
    /// The work, changed against its file.
    pub work: Work,
    /// The orders that were pinned.
    pub pins: Pins,
    text: PathBuf,
}

impl Recovery {
    /// Takes a place of its own in `folder`, which is made if need be.
    ///
    /// # Errors
    /// [`RecoveryError::Folder`] where the folder cannot be used.
    pub fn begin(folder: &Path) -> Result<Self, RecoveryError> {
        let refuse = |source| RecoveryError::Folder { folder: folder.display().to_string(), source };
        fs::create_dir_all(folder).map_err(refuse)?;
        for number in 1..=MOST_PROGRAMS {
            let lock = folder.join(format!("work-{number}.lock"));
            let text = folder.join(format!("work-{number}.toml"));
            // A text that is there waits to be found again; a pipe would be waited for.
            if text.exists() || lock.exists() && !lock.is_file() {
                continue;
            }
            let held =
                OpenOptions::new().create(true).truncate(false).write(true).open(&lock).map_err(refuse)?;
            if held.try_lock().is_ok() {
                return Ok(Self { text, lock, held });
            }
        }
        Err(refuse(io::Error::other("every place is taken")))
    }

    /// Keeps the work aside, in place of what was kept before.
    ///
    /// # Errors
    /// [`RecoveryError::Write`]; what was kept before is still there.
    pub fn keep(&self, work: &Work) -> Result<(), RecoveryError> {
        self.keep_with(work, &Pins::default())
    }

    /// As [`Self::keep`], with the orders that are pinned.
    ///
    /// # Errors
    /// As [`Self::keep`].
    pub fn keep_with(&self, work: &Work, pins: &Pins) -> Result<(), RecoveryError> {
        let belongs_to = work
            .file()
            .map(|file| std::path::absolute(file).unwrap_or_else(|_| file.to_owned()).display().to_string());
        // Paths of footage stay as they are in the file, if there is one.
        let folder = work.file().unwrap_or(&self.text).parent().unwrap_or(Path::new(""));
        let mut head = format!("{BELONGS_TO}{}\n", belongs_to.unwrap_or_default());
        if let Some(held) = work.on_disk() {
            head += &format!("{FILE_HELD}{held}\n");
        }
        if !pins.is_empty() {
            head += &format!("{PINS}{}\n", serde_json::Value::from(pins.text(work.show())));
        }
        Ok(files::keep(&self.text, (head + &work.text(folder)).as_bytes())?)
    }

    /// Clears away what was kept: the work is saved, or given up by the person.
    pub fn clear(&self) {
        // What is not there needs no clearing.
        let _ = fs::remove_file(&self.text);
    }

    /// The work of programs that ended without clearing it away, oldest first, and the errors of texts that do not read.
    pub fn found(folder: &Path, catalogue: &Catalogue) -> Vec<Result<Recovered, RecoveryError>> {
        let entries = fs::read_dir(folder).into_iter().flatten();
        let mut texts: Vec<PathBuf> = entries
            .filter_map(|entry| entry.ok().map(|entry| entry.path()))
            .filter(|path| path.extension().is_some_and(|ending| ending == "toml"))
            .filter(|path| path.file_name().is_some_and(|name| name.to_string_lossy().starts_with("work-")))
            .filter(|path| is_left_behind(&path.with_extension("lock")))
            .collect();
        texts.sort_by_key(|path| fs::metadata(path).and_then(|found| found.modified()).ok());
        texts.into_iter().map(|text| recovered(text, catalogue)).collect()
    }
}

impl Drop for Recovery {
    fn drop(&mut self) {
        // Without it the next program makes it again; with it nothing breaks.
        let _ = self.held.unlock();
        if !self.text.exists() {
            let _ = fs::remove_file(&self.lock);
        }
    }
}

impl Recovered {
    /// Clears the text away: it was taken up, or given up by the person.
    pub fn clear(&self) {
        // What is not there needs no clearing.
        let _ = fs::remove_file(&self.text);
        let _ = fs::remove_file(self.text.with_extension("lock"));
    }
}

/// Whether no running program holds the lock.
fn is_left_behind(lock: &Path) -> bool {
    // Opening a pipe would wait.
    match lock.is_file().then(|| File::open(lock)) {
        Some(Ok(file)) => file.try_lock().is_ok(),
        _ => true,
    }
}

fn recovered(text: PathBuf, catalogue: &Catalogue) -> Result<Recovered, RecoveryError> {
    let written = files::read_text(&text)?;
    let mut body = written.as_str();
    let mut head = |opening: &str| {
        let (line, rest) = body.split_once('\n').unwrap_or((body, ""));
        let found = line.strip_prefix(opening)?.to_owned();
        body = rest;
        Some(found)
    };
    let file = head(BELONGS_TO).filter(|path| !path.is_empty()).map(PathBuf::from);
    let held = head(FILE_HELD);
    let pins = head(PINS).and_then(|pins| serde_json::from_str::<String>(&pins).ok());
    let folder = file.as_deref().unwrap_or(&text).parent().unwrap_or(Path::new(""));
    let document = files::parse(&written, &text.display().to_string(), folder, catalogue)?;
    let original = Original::new(body, document, folder, catalogue);
    let work = Work::found_again(original, file, held);
    let pins = pins.map(|pins| Pins::read(&pins, work.show(), catalogue)).unwrap_or_default();
    Ok(Recovered { work, pins, text })
}
