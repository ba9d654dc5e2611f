//! What was read before: facts of files that have not changed since, kept in one file of the state folder.
//!
//! It only saves time. Where it is missing, broken, or of another version of the program or of its effects, everything is
//! read again.

use std::collections::HashMap;
use std::fs;
use std::path::{Path, PathBuf};
use std::time::SystemTime;

use serde::{Deserialize, Serialize};

use super::Kind;
use super::summary::Summary;
use crate::base::content::Content;
use crate::base::plain;
use crate::base::stamp::Stamp;
use crate::catalogue::Catalogue;
use crate::files;

const FORMAT: &str = "underover/library-index/1";
const FILE: &str = "library-index.json";
/// Largest index that is read: that of a library of some hundred thousand files.
const MOST_BYTES: u64 = 256 << 20;
/// One file, as it was read.
#[derive(Debug, Clone, Serialize, Deserialize)]
struct Known {
    stamp: Stamp,
    facts: Result<Summary, String>,
}

/// The file in the state folder.
#[derive(Debug, Serialize, Deserialize)]
struct Written {
    format: String,
    /// Version of the program, and its effects.
    of: String,
    known: HashMap<String, Known>,
}

/// What was read before.
#[derive(Debug)]
pub(super) struct Index {
    file: Option<PathBuf>,
    of: String,
    known: HashMap<String, Known>,
    /// What this scan has found.
    seen: HashMap<String, Known>,
    /// Entries inside the program, which never change while it runs.
    shipped: HashMap<(Kind, &'static str), Result<Summary, String>>,
    read: usize,
}

impl Index {
    pub fn in_folder(state: Option<&Path>) -> Self {
        Self {
            file: state.map(|folder| folder.join(FILE)),
            of: String::new(),
            known: HashMap::new(),
            seen: HashMap::new(),
            shipped: HashMap::new(),
            read: 0,
        }
    }

    /// Begins a scan. With other effects than before, files may read otherwise.
    pub fn begin(&mut self, catalogue: &Catalogue) {
        let effects = catalogue.effects().iter().map(|effect| effect.content.to_string());
        let of = format!("{} {}", env!("CARGO_PKG_VERSION"), Content::of(effects.collect::<String>()));
        if of != self.of {
            self.of = of;
            self.shipped.clear();
            self.known = self.file.as_deref().and_then(|file| written(file, &self.of)).unwrap_or_default();
        }
        self.seen = HashMap::with_capacity(self.known.len());
        self.read = 0;
    }

    /// What a file holds: known if it has not changed, else read.
    pub fn facts(&mut self, path: &Path, kind: Kind, catalogue: &Catalogue) -> Result<Summary, String> {
        // Looked at before it is read: a change in between is found the next time.
        let (now, stamp) = (SystemTime::now(), Stamp::of(path));
        let key = path.to_str().map(str::to_owned);
        if let (Some(key), Some(stamp)) = (&key, &stamp)
            && let Some(known) = self.known.remove(key).filter(|known| known.stamp == *stamp)
        {
            let facts = known.facts.clone();
            self.seen.insert(key.clone(), known);
            return facts;
        }
        self.read += 1;
        let facts = files::read(path, catalogue).map_err(|error| error.to_string()).and_then(|document| {
            kind.check(&document, &path.display().to_string())?;
            Ok(Summary::of(&document))
        });
        if let (Some(key), Some(stamp)) = (key, stamp.filter(|stamp| stamp.is_settled(now))) {
            self.seen.insert(key, Known { stamp, facts: facts.clone() });
        }
        facts
    }

    /// What an entry inside the program holds.
    pub fn shipped(
        &mut self,
        kind: Kind,
        handle: &'static str,
        text: &str,
        catalogue: &Catalogue,
    ) -> Result<Summary, String> {
        let read = || {
            files::parse(text, handle, Path::new(""), catalogue)
                .map(|document| Summary::of(&document))
                .map_err(|error| error.to_string())
        };
        self.shipped.entry((kind, handle)).or_insert_with(read).clone()
    }

    /// Ends a scan: gives how many files were read, and writes down what is new.
    pub fn end(&mut self) -> usize {
        // What is left of the old has not been seen again.
        let has_changed = self.read > 0 || !self.known.is_empty();
        self.known = std::mem::take(&mut self.seen);
        if let (Some(file), true) = (&self.file, has_changed) {
            let written =
                Written { format: FORMAT.to_owned(), of: self.of.clone(), known: self.known.clone() };
            if let Ok(text) = serde_json::to_vec(&written) {
                // An index that cannot be written costs time, nothing more.
                let _ = fs::create_dir_all(file.parent().unwrap_or(Path::new("")));
                let _ = files::keep(file, &text);
            }
        }
        self.read
    }
}

/// The index in a file, if it is one of this program with these effects.
fn written(file: &Path, of: &str) -> Option<HashMap<String, Known>> {
    let written: Written = serde_json::from_slice(&plain::read(file, MOST_BYTES).ok()?).ok()?;
    let is_ours = written.format == FORMAT && written.of == of;
    let with_words = |known: Known| Known { facts: known.facts.map(Summary::with_words), ..known };
    is_ours.then(|| written.known.into_iter().map(|(path, known)| (path, with_words(known))).collect())
}
