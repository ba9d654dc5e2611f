//! The library: chains and starters that a person keeps from show to show, beside those inside the program.
//!
//! Each is a file of its own in a folder of the person's, so that it can be copied, sent and put under version
//! control. What is removed goes to `bin/`. Several programs may use one library at once: a name is taken by one of
//! them, and no file is ever written over by another's.

mod aside;
mod colours;
mod files_of;
mod index;
mod relink;
mod search;
mod starter;
mod summary;
mod thumbnail;
mod under;
mod usage;

use std::io;
use std::path::{Path, PathBuf};

use thiserror::Error;

pub use aside::Removed;
pub use colours::{COLOUR_WORDS, colour_word};
pub use relink::relinked;
pub use search::{SearchError, Wish};
pub use starter::{begun, starter_of};
pub use summary::{Summary, content_of_chain};
pub use thumbnail::{THUMBNAIL, keep_thumbnail, kept_thumbnail, thumbnail, thumbnail_key, thumbnail_of_file};
pub use usage::{Copied, State, Usage, copies_in, sections_naming, shows_under};

use crate::base::embedded;
use crate::base::inputs::note_read;
use crate::base::place::{did_you_mean, listed};
use crate::base::words::words;
use crate::catalogue::Catalogue;
use crate::files;
use crate::files::{Document, FileError, Original, WriteError};
use crate::show::Show;
use crate::show::chain::Preset;
use crate::show::name::{NameFault, check_name};
use index::Index;

/// What a chain of the library is named after where a file is asked for: `library:NAME`.
pub const LIBRARY: &str = "library:";
/// The ending of every file of the library.
const ENDING: &str = "toml";

words! {
    /// What the library holds.
    #[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
    pub enum Kind {
        /// A chain.
        Chain = "chain",
        /// A starter: a show without footage, to begin the next one from.
        Starter = "starter",
    }
}

impl Kind {
    /// The folder that they are in, inside the person's.
    fn folder(self) -> &'static str {
        match self {
            Self::Chain => "chains",
            Self::Starter => "starters",
        }
    }

    /// Whether a file of this kind may hold this.
    fn check(self, document: &Document, file: &str) -> Result<(), String> {
        match (self, document) {
            (Self::Chain, Document::Chain(_)) => Ok(()),
            (Self::Starter, Document::Show(show)) if show.is_starter => Ok(()),
            (Self::Chain, Document::Show(_)) => {
                Err(format!("{file}: this is a show, and chains lie here; move it to your shows"))
            }
            (Self::Starter, _) => Err(format!(
                "{file}: this is no starter, and starters lie here; `underover starters keep` makes one of a show"
            )),
        }
    }

    fn shipped(self) -> &'static [(&'static str, &'static str)] {
        match self {
            Self::Chain => embedded::CHAINS,
            Self::Starter => embedded::STARTERS,
        }
    }
}

/// Where an entry is from.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Origin {
    /// The person's own, in this file.
    Own(PathBuf),
    /// It travels inside the program, and cannot be changed.
    Shipped,
}

/// One chain or starter of the library.
#[derive(Debug, Clone, PartialEq)]
pub struct Entry {
    /// What it is.
    pub kind: Kind,
    /// What it is asked for by: the name of its file, without the ending.
    pub handle: String,
    /// Where it is from.
    pub origin: Origin,
    /// What is in it, or why it cannot be read.
    pub facts: Result<Summary, String>,
}

impl Entry {
    /// What the person calls it; a broken one goes by its file.
    pub fn name(&self) -> &str {
        self.facts.as_ref().map_or(&self.handle, |facts| &facts.name)
    }

    /// What names it where a chain is asked for: `library:NAME`, or `preset:NAME` of one inside the program.
    pub fn named(&self) -> String {
        match &self.origin {
            Origin::Own(_) => format!("{LIBRARY}{}", self.handle),
            Origin::Shipped => format!("preset:{}", self.handle),
        }
    }

    /// Its file, if it is the person's own.
    pub fn file(&self) -> Option<&Path> {
        match &self.origin {
            Origin::Own(path) => Some(path),
            Origin::Shipped => None,
        }
    }
}

/// Why the library did not do as it was asked.
#[derive(Debug, Error)]
pub enum LibraryError {
    /// The system names no folder for what a person keeps.
    #[error("there is no folder for a library; name one in {}", crate::base::folders::DATA_VARIABLE)]
    NoFolder,
    /// No such entry.
    #[error("the library has no {kind} named `{name}`{hint} (it has {known})", kind = .kind.name())]
    Unknown {
        /// What was looked for.
        kind: Kind,
        /// The name asked for.
        name: String,
        /// "; did you mean ...?" or nothing.
        hint: String,
        /// What there is.
        known: String,
    },
    /// A name that several have.
    #[error("`{name}` is the name of {handles}; ask for one of these")]
    Ambiguous {
        /// The name asked for.
        name: String,
        /// What tells them apart.
        handles: String,
    },
    /// It is inside the program.
    #[error("`{0}` is part of the program and cannot be changed; duplicate it, and change the copy")]
    Shipped(String),
    /// A text that can be no name.
    #[error("that name {0}")]
    NoName(#[from] NameFault),
    /// A name of which there are too many.
    #[error("there is no number left for `{0}`; choose another name")]
    Name(String),
    /// There is nothing to keep.
    #[error("`{0}` has no effect yet, so that there is no chain to keep; add one, or choose another scope")]
    Empty(String),
    /// Another program took the file away.
    #[error("`{0}` is no longer in the library; list it again")]
    Gone(String),
    /// What was removed is not there.
    #[error("nothing removed is named `{name}`{hint} (removed: {known})")]
    NotRemoved {
        /// The name asked for.
        name: String,
        /// "; did you mean ...?" or nothing.
        hint: String,
        /// What there is.
        known: String,
    },
    /// It cannot be read.
    #[error(transparent)]
    File(#[from] FileError),
    /// It cannot be written.
    #[error(transparent)]
    Write(#[from] WriteError),
    /// The system refused.
    #[error("cannot {what} `{path}`: {source}")]
    Refused {
        /// What was tried.
        what: &'static str,
        /// On what.
        path: String,
        /// What the system said.
        source: io::Error,
    },
}

/// The chains and starters of a person, and those inside the program.
#[derive(Debug)]
pub struct Library {
    folder: Option<PathBuf>,
    index: Index,
    entries: Vec<Entry>,
    read: usize,
}

impl Library {
    /// The library in the folder `data`; what it has read it notes in the folder `state`. Nothing is looked at yet.
    pub fn new(data: Option<&Path>, state: Option<&Path>) -> Self {
        Self {
            folder: data.map(Path::to_owned),
            index: Index::in_folder(state),
            entries: Vec::new(),
            read: 0,
        }
    }

    /// The library in the system's folders for this person.
    pub fn of_person() -> Self {
        let [data, state] = [crate::base::folders::data_folder(), crate::base::folders::state_folder()];
        Self::new(data.as_deref(), state.as_deref())
    }

    /// Looks at the folders; of the files, only those that have changed are read.
    pub fn scan(&mut self, catalogue: &Catalogue) {
        self.index.begin(catalogue);
        self.entries.clear();
        for kind in Kind::ALL {
            let own = self.folder.as_ref().map(|folder| files_of::files_in(&folder.join(kind.folder())));
            for path in own.unwrap_or_default() {
                note_read(&path);
                let facts = self.index.facts(&path, kind, catalogue);
                let handle = handle_of(&path);
                self.entries.push(Entry { kind, handle, origin: Origin::Own(path), facts });
            }
            for (handle, text) in kind.shipped() {
                let facts = self.index.shipped(kind, handle, text, catalogue);
                let (handle, origin) = ((*handle).to_owned(), Origin::Shipped);
                self.entries.push(Entry { kind, handle, origin, facts });
            }
        }
        self.read = self.index.end();
    }

    /// Files that the last scan had to read.
    pub fn read_last(&self) -> usize {
        self.read
    }

    /// What there is: chains, then starters, the person's own first, in alphabetical order of their files.
    pub fn entries(&self) -> &[Entry] {
        &self.entries
    }

    /// The entries that a search is after.
    pub fn found<'a>(&'a self, wish: &'a Wish) -> impl Iterator<Item = &'a Entry> {
        self.entries.iter().filter(|entry| wish.meets(entry))
    }

    /// The entry with this handle or name; a person's own goes before one inside the program.
    ///
    /// # Errors
    /// [`LibraryError::Unknown`] with the nearest name, or [`LibraryError::Ambiguous`].
    pub fn find(&self, kind: Kind, name: &str) -> Result<&Entry, LibraryError> {
        let of_kind = || self.entries.iter().filter(|entry| entry.kind == kind);
        if let Some(entry) = of_kind().find(|entry| entry.handle == name) {
            return Ok(entry);
        }
        let called: Vec<&Entry> = of_kind().filter(|entry| entry.name() == name).collect();
        match called.as_slice() {
            [one] => Ok(one),
            [] => Err(LibraryError::Unknown {
                kind,
                name: name.to_owned(),
                hint: did_you_mean(name, of_kind().flat_map(|entry| [entry.handle.as_str(), entry.name()])),
                known: a_few(of_kind().map(|entry| entry.handle.as_str())),
            }),
            several => Err(LibraryError::Ambiguous {
                name: name.to_owned(),
                handles: listed(several.iter().map(|entry| entry.handle.as_str())),
            }),
        }
    }

    /// What an entry holds.
    ///
    /// # Errors
    /// [`FileError`] as its file has it.
    pub fn document(&self, entry: &Entry, catalogue: &Catalogue) -> Result<Document, FileError> {
        Ok(self.original(entry, catalogue)?.document().clone())
    }

    /// What an entry holds, with its text, so that a copy keeps its comments.
    ///
    /// # Errors
    /// [`FileError`] as its file has it.
    pub fn original(&self, entry: &Entry, catalogue: &Catalogue) -> Result<Original, FileError> {
        match &entry.origin {
            Origin::Own(path) => files::read_original(path, catalogue),
            Origin::Shipped => {
                let shipped = entry.kind.shipped().iter().find(|(handle, _)| *handle == entry.handle);
                let text = shipped.map_or("", |(_, text)| text);
                let name = format!("{LIBRARY}{}", entry.handle);
                let document = files::parse(text, &name, Path::new(""), catalogue)?;
                Ok(Original::new(text, document, Path::new(""), catalogue))
            }
        }
    }

    /// Keeps a chain under its own name; where that is taken, a number is put behind it. Gives the file.
    ///
    /// # Errors
    /// [`LibraryError`]; nothing has changed.
    pub fn keep(&self, preset: &Preset) -> Result<PathBuf, LibraryError> {
        if preset.chain.is_empty() {
            return Err(LibraryError::Empty(preset.name.clone()));
        }
        self.keep_text(Kind::Chain, &preset.name, |name| {
            files::chain_text(&Preset { name: name.to_owned(), ..preset.clone() })
        })
    }

    /// Keeps a starter, like [`Self::keep`]; the show is made one first.
    ///
    /// # Errors
    /// [`LibraryError`]; nothing has changed.
    pub fn keep_starter(&self, starter: &Show) -> Result<PathBuf, LibraryError> {
        self.keep_text(Kind::Starter, &starter.name, |name| {
            files::show_text(&Show { name: name.to_owned(), ..starter.clone() }, Path::new(""))
        })
    }

    /// Keeps what has the text that `text` gives for its name, like [`Self::keep`].
    ///
    /// # Errors
    /// [`LibraryError`]; nothing has changed.
    pub fn keep_text(
        &self,
        kind: Kind,
        name: &str,
        text: impl Fn(&str) -> String,
    ) -> Result<PathBuf, LibraryError> {
        check_name(name)?;
        let folder = self.folder_of(kind)?;
        for number in 1.. {
            let name = files_of::numbered(name, number);
            let path = folder.join(format!("{}.{ENDING}", files_of::handle(&name)));
            if !path.exists() && files::write_new(&path, text(&name).as_bytes())? {
                return Ok(path);
            }
        }
        Err(LibraryError::Name(name.to_owned()))
    }

    /// Gives an entry another name, and its file with it; what else stands in the file stays as it is. Gives the file.
    ///
    /// # Errors
    /// [`LibraryError`]; it keeps its old name.
    pub fn rename(&self, entry: &Entry, name: &str) -> Result<PathBuf, LibraryError> {
        let Some(old) = entry.file() else { return Err(LibraryError::Shipped(entry.handle.clone())) };
        check_name(name)?;
        let folder = self.folder_of(entry.kind)?;
        let handle = files_of::handle(name);
        let mut called = name.to_owned();
        let mut path = old.to_owned();
        if handle != entry.handle {
            for number in 1.. {
                called = files_of::numbered(name, number);
                path = folder.join(format!("{}.{ENDING}", files_of::handle(&called)));
                if files::move_new(old, &path).map_err(|source| gone("rename", entry, source))? {
                    break;
                }
            }
        }
        // Ended here, the file is whole under its new handle, with its old name inside.
        files_of::call(&path, &called)?;
        Ok(path)
    }

    /// Keeps a copy of an entry under another name, or under its own with a number. Gives the file.
    ///
    /// # Errors
    /// [`LibraryError`]; nothing has changed.
    pub fn duplicate(
        &self,
        entry: &Entry,
        name: Option<&str>,
        catalogue: &Catalogue,
    ) -> Result<PathBuf, LibraryError> {
        let name = name.unwrap_or(entry.name()).to_owned();
        let original = self.original(entry, catalogue)?;
        self.keep_text(entry.kind, &name, |name| {
            let name = name.to_owned();
            original.or_plain(&match original.document().clone() {
                Document::Chain(preset) => Document::Chain(Preset { name, ..preset }),
                Document::Show(show) => Document::Show(Show { name, is_starter: true, ..show }),
            })
        })
    }

    /// Moves an entry's file to the bin, from which it can be restored.
    ///
    /// # Errors
    /// [`LibraryError`]; it is where it was.
    pub fn remove(&self, entry: &Entry) -> Result<Removed, LibraryError> {
        let Some(path) = entry.file() else { return Err(LibraryError::Shipped(entry.handle.clone())) };
        let folder = self.folder.as_ref().ok_or(LibraryError::NoFolder)?;
        aside::put(folder, entry.kind, &entry.handle, path).map_err(|source| gone("remove", entry, source))
    }

    /// What has been removed, the latest first.
    pub fn removed(&self) -> Vec<Removed> {
        self.folder.as_deref().map(aside::list).unwrap_or_default()
    }

    /// What was removed under this handle or number; of several of one handle, the latest.
    ///
    /// # Errors
    /// [`LibraryError::NotRemoved`] with the nearest name.
    pub fn find_removed(&self, name: &str) -> Result<Removed, LibraryError> {
        let removed = self.removed();
        let by_number =
            name.parse().ok().and_then(|number: u64| removed.iter().find(|one| one.number == number));
        let found = by_number.or_else(|| removed.iter().find(|one| one.handle == name));
        found.cloned().ok_or_else(|| {
            let handles = || removed.iter().map(|one| one.handle.as_str());
            LibraryError::NotRemoved {
                name: name.to_owned(),
                hint: did_you_mean(name, handles()),
                known: a_few(handles()),
            }
        })
    }

    /// Moves what was removed back into the library; where its name is taken by now, with a number. Gives the file.
    ///
    /// # Errors
    /// [`LibraryError`]; it stays in the bin.
    pub fn restore(&self, removed: &Removed) -> Result<PathBuf, LibraryError> {
        let folder = self.folder_of(removed.kind)?;
        for number in 1.. {
            let handle = files_of::handle(&files_of::numbered(&removed.handle, number));
            let path = folder.join(format!("{handle}.{ENDING}"));
            let moved = files::move_new(&removed.file, &path).map_err(|source| LibraryError::Refused {
                what: "restore",
                path: removed.file.display().to_string(),
                source,
            })?;
            if moved {
                aside::close(&removed.file);
                return Ok(path);
            }
        }
        Err(LibraryError::Gone(removed.handle.clone()))
    }

    /// The folder for entries of a kind, made where it is not there.
    fn folder_of(&self, kind: Kind) -> Result<PathBuf, LibraryError> {
        let folder = self.folder.as_ref().ok_or(LibraryError::NoFolder)?.join(kind.folder());
        std::fs::create_dir_all(&folder).map_err(|source| LibraryError::Refused {
            what: "make the folder",
            path: folder.display().to_string(),
            source,
        })?;
        Ok(folder)
    }
}

/// The name of a file without its ending.
pub fn handle_of(path: &Path) -> String {
    path.file_stem().unwrap_or_default().to_string_lossy().into_owned()
}

fn gone(what: &'static str, entry: &Entry, source: io::Error) -> LibraryError {
    match source.kind() {
        io::ErrorKind::NotFound => LibraryError::Gone(entry.handle.clone()),
        _ => {
            let path = entry.file().unwrap_or(Path::new(&entry.handle)).display().to_string();
            LibraryError::Refused { what, path, source }
        }
    }
}

/// Names for a message: a large library is not listed whole.
fn a_few<'a>(names: impl Iterator<Item = &'a str>) -> String {
    const MOST: usize = 24;
    let names: Vec<&str> = names.collect();
    match names.len().checked_sub(MOST) {
        Some(more) if more > 0 => {
            let some: Vec<String> = names[..MOST].iter().map(|name| format!("`{name}`")).collect();
            format!("{} and {more} more", some.join(", "))
        }
        _ => listed(names),
    }
}
