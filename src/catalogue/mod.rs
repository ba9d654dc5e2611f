//! The catalogue: every effect and every generated source, as its own shader file declares it.
//!
//! One WGSL file is one effect. Its header (the `//!` lines at the top, in
//! TOML) names its settings and its reach; its code must have the one function
//! that this reach asks for, so that a header cannot claim what the code does
//! not keep: a function that is never told the position cannot use it.

mod bounds;
mod header;
pub(crate) mod layout;
mod lexical;
mod memory;
mod reach;
mod runs;
mod search;
mod setting;
mod shader;
mod standing;
mod woven;

use std::path::{Path, PathBuf};
use std::sync::Arc;

use thiserror::Error;

pub use bounds::{MOST_ARRAY_BYTES, MOST_TURNS};
pub use layout::Layout;
pub use lexical::{MOST_FILE_BYTES, MOST_IN_A_ROW, MOST_IN_TURN, MOST_NESTED, MOST_WRITTEN_OUT};
pub use memory::{FADED_EACH_FRAME, Memory, frames_until_faded};
pub use reach::{Channels, Position, Reach};
pub use runs::{Ending, Runs, fingerprint_shader, runs_shader};
pub use search::{found, meant};
pub use setting::{
    Derived, DerivedKind, DerivedValue, Idle, Input, Kind, Setting, Value, ValueError, number_said,
    number_said_in_full, shortest,
};
pub use shader::{
    Workgroup, assembled, index_map_shader, job_with_settings, past_shader, plain_pass, plain_shader,
    run_uniform, shader_of_each,
};
pub use standing::Standing;
pub use woven::{Thread, Woven, WovenStep, woven_shader};

use crate::base::at_once::at_once;
pub use crate::base::content::Content;
use crate::base::inputs::note_read;
use crate::base::place::{Place, listed, shortened};
use crate::base::plain::PlainError;
use crate::base::{embedded, folders, plain};

/// One effect or generated source: its declaration, its code, and where its settings lie in the uniform.
#[derive(Debug, Clone)]
pub struct Effect {
    /// The file's stem: what chains, commands and people call it.
    pub name: String,
    /// One line for a person who has never seen it.
    pub summary: String,
    /// What else people call it, in plain words: it is found by them.
    pub also: Vec<String>,
    /// What it does to the picture, as the end of "it ...": sentences about order are made of it.
    pub does: String,
    /// Which texels one result depends on.
    pub reach: Reach,
    /// Whether a channel's result depends on that channel alone.
    pub channels: Channels,
    /// Whether the result depends on where the texel is.
    pub position: Position,
    /// Whether it can flash, so that a caution is owed.
    pub flashes: bool,
    /// Whether a generated source covers the whole frame (always true of an effect).
    pub opaque: bool,
    /// What a person sets, in the order of the file.
    pub settings: Vec<Setting>,
    /// What the program works out in 64 bits and hands to the shader.
    pub derived: Vec<Derived>,
    /// When it changes nothing.
    pub idle: Vec<Idle>,
    /// How long it remembers, for [`Reach::PastFrames`].
    pub memory: Option<Memory>,
    /// The file's text, header included.
    pub source: String,
    /// Where the file is, for messages.
    pub origin: String,
    /// Where each member of `struct Settings` lies.
    pub layout: Layout,
    /// What stands for the file's text: two effects of one name may differ in it.
    pub content: Content,
    /// How far its declaration may be relied on.
    pub standing: Standing,
}

impl Effect {
    pub fn setting(&self, name: &str) -> Option<&Setting> {
        self.settings.iter().find(|setting| setting.name == name)
    }

    /// Whether it looks back at what it gave before.
    pub fn remembers(&self) -> bool {
        self.memory.is_some()
    }

    /// Whether proofs may rely on what it declares.
    pub fn is_trusted(&self) -> bool {
        matches!(self.standing, Standing::Shipped | Standing::Confirmed)
    }

    /// Whether both are the same file with the same standing, so that they do the same.
    pub fn is_same(&self, other: &Self) -> bool {
        self.name == other.name && self.content == other.content && self.standing == other.standing
    }

    /// Reads one shader file: `name` is its stem, `origin` its path for messages.
    pub fn read(name: &str, origin: &str, source: &str) -> Result<Self, CatalogueError> {
        header::read(name, origin, source)
    }
}

/// Why a shader file is not part of the catalogue.
#[derive(Debug, Error)]
pub enum CatalogueError {
    /// The header is not TOML, or not a declaration.
    #[error("{place}: {message}")]
    Header {
        /// Where.
        place: Place,
        /// What was found and what would be right.
        message: String,
    },
    /// The code does not fit its header, or is not WGSL.
    #[error("{place}: {message}")]
    Code {
        /// Where.
        place: Place,
        /// What was found and what would be right.
        message: String,
    },
    /// The file or folder could not be read.
    #[error("cannot read {path}: {source}; name a folder of .wgsl files")]
    Unreadable {
        /// The path as given.
        path: String,
        /// What the system said.
        source: std::io::Error,
    },
    /// The file is no plain file, or too large for an effect.
    #[error("{path}:1:1: {source}")]
    NotPlain {
        /// The path as given.
        path: String,
        /// What it is, and what to do.
        source: PlainError,
    },
    /// The file is no text.
    #[error("{place}: this is not UTF-8 text; save the file as UTF-8")]
    NotText {
        /// Where the first byte stands that is none.
        place: Place,
    },
    /// Two files declare one name.
    #[error("{origin}:1:1: an effect named `{name}` is already there ({other}); rename the file")]
    Twice {
        name: String,
        /// The later file.
        origin: String,
        /// The earlier file.
        other: String,
    },
    /// There is a file of this name, but it is not usable.
    #[error("the effect `{name}` cannot be used: {reason}")]
    Broken {
        name: String,
        /// Where, and why.
        reason: String,
    },
    /// No such name.
    #[error("there is no {what} named `{name}`{hint} (known: {known})")]
    Unknown {
        /// "effect" or "generated source".
        what: &'static str,
        /// The name asked for.
        name: String,
        /// "; did you mean ...?" or nothing.
        hint: String,
        /// Every name there is.
        known: String,
    },
}

/// Every effect and generated source known, each list in alphabetical order.
#[derive(Debug, Clone)]
pub struct Catalogue {
    effects: Vec<Arc<Effect>>,
    sources: Vec<Arc<Effect>>,
    problems: Vec<Problem>,
}

/// A file of a person's own that is not part of the catalogue, or not as it was last written.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Problem {
    /// The file's stem.
    pub name: String,
    /// The file.
    pub origin: String,
    /// Where, and why, in words.
    pub reason: String,
}

impl Catalogue {
    /// The shaders inside the program. A file of ours that does not read is a
    /// defect that the tests catch; here it is an error like any other.
    pub fn built_in() -> Result<Self, CatalogueError> {
        let mut catalogue = Self { effects: Vec::new(), sources: Vec::new(), problems: Vec::new() };
        let folders = [("shaders/effects", embedded::EFFECTS), ("shaders/footage", embedded::FOOTAGE)];
        let files: Vec<(&str, &str, &str)> = folders
            .into_iter()
            .flat_map(|(folder, files)| files.iter().map(move |&(name, source)| (folder, name, source)))
            .collect();
        // Every command waits for them.
        let read = |&(folder, name, source): &(&str, &str, &str)| {
            Effect::read(name, &format!("{folder}/{name}.wgsl"), source)
        };
        for effect in at_once(&files, read) {
            catalogue.add(Effect { standing: Standing::Shipped, ..effect? })?;
        }
        Ok(catalogue)
    }

    /// Adds every `.wgsl` file of `folder`. A file that is not right hides no other: it becomes one of the
    /// [problems](Self::problems), and says what is wrong with it to whoever asks for the effect.
    ///
    /// # Errors
    /// [`CatalogueError::Unreadable`] where there is no such folder.
    pub fn add_folder(&mut self, folder: &Path) -> Result<(), CatalogueError> {
        for path in own_files(folder)? {
            self.add_file(&path);
        }
        Ok(())
    }

    /// Adds the effects of a person's own: those of their effects folder, which may be missing, and those of a
    /// folder named, which may not.
    ///
    /// # Errors
    /// As [`add_folder`](Self::add_folder), for the folder named.
    pub fn add_own(&mut self, named: Option<&Path>) -> Result<(), CatalogueError> {
        let folder = effects_folder();
        if let Some(folder) = folder.as_deref().filter(|folder| folder.is_dir()) {
            self.add_folder(folder)?;
        }
        match named {
            Some(named) if Some(named) != folder.as_deref() => self.add_folder(named),
            _ => Ok(()),
        }
    }

    /// Adds one file, or what is wrong with it.
    pub fn add_file(&mut self, path: &Path) {
        if let Err(error) = read_file(path).and_then(|effect| self.add(effect)) {
            self.note_problem(path, error.to_string());
        }
    }

    /// Notes what is wrong with a file.
    pub fn note_problem(&mut self, path: &Path, reason: String) {
        let name = path.file_stem().unwrap_or_default().to_string_lossy().into_owned();
        self.problems.push(Problem { name, origin: path.display().to_string(), reason });
    }

    /// What is wrong with files of a person's own.
    pub fn problems(&self) -> &[Problem] {
        &self.problems
    }

    /// The effects and sources that did not come with the program.
    pub fn own(&self) -> impl Iterator<Item = &Arc<Effect>> {
        let all = self.effects.iter().chain(&self.sources);
        all.filter(|effect| effect.standing != Standing::Shipped)
    }

    /// Settles how far each effect of a person's own may be relied on; one for which the answer is an error is
    /// taken out and becomes a problem.
    pub fn settle(&mut self, mut standing: impl FnMut(&Effect) -> Result<Standing, String>) {
        for list in [&mut self.effects, &mut self.sources] {
            list.retain_mut(|effect| {
                if effect.standing == Standing::Shipped {
                    return true;
                }
                match standing(effect) {
                    Ok(standing) => {
                        *effect = Arc::new(Effect { standing, ..Effect::clone(effect) });
                        true
                    }
                    Err(reason) => {
                        let (name, origin) = (effect.name.clone(), effect.origin.clone());
                        self.problems.push(Problem { name, origin, reason });
                        false
                    }
                }
            });
        }
    }

    /// Adds an effect that was read already.
    ///
    /// # Errors
    /// [`CatalogueError::Twice`] where its name is taken.
    pub fn add(&mut self, effect: impl Into<Arc<Effect>>) -> Result<(), CatalogueError> {
        let effect = effect.into();
        let list = if effect.reach == Reach::Source { &mut self.sources } else { &mut self.effects };
        match list.binary_search_by(|known| known.name.cmp(&effect.name)) {
            Ok(place) => Err(CatalogueError::Twice {
                name: effect.name.clone(),
                origin: effect.origin.clone(),
                other: list[place].origin.clone(),
            }),
            Err(place) => {
                list.insert(place, effect);
                Ok(())
            }
        }
    }

    /// Puts an effect in place of the one of its name, if there is one.
    pub(crate) fn put(&mut self, effect: Arc<Effect>) {
        for list in [&mut self.effects, &mut self.sources] {
            list.retain(|known| known.name != effect.name);
        }
        // Its name is free by now.
        let _ = self.add(effect);
    }

    /// The effects, by name.
    pub fn effects(&self) -> &[Arc<Effect>] {
        &self.effects
    }

    /// The generated sources, by name.
    pub fn sources(&self) -> &[Arc<Effect>] {
        &self.sources
    }

    /// The effect with this name, or an error that gives the nearest one.
    pub fn effect(&self, name: &str) -> Result<&Arc<Effect>, CatalogueError> {
        self.find(&self.effects, "effect", name)
    }

    /// The generated source with this name, or an error that gives the nearest one.
    pub fn source(&self, name: &str) -> Result<&Arc<Effect>, CatalogueError> {
        self.find(&self.sources, "generated source", name)
    }

    fn find<'a>(
        &self,
        list: &'a [Arc<Effect>],
        what: &'static str,
        name: &str,
    ) -> Result<&'a Arc<Effect>, CatalogueError> {
        let names = || list.iter().map(|known| known.name.as_str());
        if let Some(known) = list.iter().find(|known| known.name == name) {
            return Ok(known);
        }
        if let Some(problem) = self.problems.iter().find(|problem| problem.name == name) {
            return Err(CatalogueError::Broken { name: name.to_owned(), reason: problem.reason.clone() });
        }
        let name = shortened(name);
        Err(CatalogueError::Unknown { what, hint: self.hint(list, &name), name, known: listed(names()) })
    }
}

/// Where a person's own effects are always found; `None` where the system names no such folder.
pub fn effects_folder() -> Option<PathBuf> {
    Some(folders::data_folder()?.join("effects"))
}

/// The `.wgsl` files of a folder, by name.
///
/// # Errors
/// [`CatalogueError::Unreadable`] where there is no such folder.
pub fn own_files(folder: &Path) -> Result<Vec<PathBuf>, CatalogueError> {
    plain::ending_in(folder, "wgsl").map_err(|e| unreadable(folder, e))
}

/// Reads the effect or source of one file.
///
/// # Errors
/// [`CatalogueError`]: what is wrong with it, and where.
pub fn read_file(path: &Path) -> Result<Effect, CatalogueError> {
    let (name, origin) = (path.file_stem().unwrap_or_default().to_string_lossy(), path.display().to_string());
    note_read(path);
    let bytes = plain::read(path, MOST_FILE_BYTES).map_err(|error| match error {
        PlainError::Refused(error) => unreadable(path, error),
        PlainError::TooLarge { .. } => lexical::too_large(&origin),
        source => CatalogueError::NotPlain { path: origin.clone(), source },
    })?;
    let source = text_of(bytes, &origin)?;
    Effect::read(&name, &origin, &source)
}

fn unreadable(path: &Path, source: std::io::Error) -> CatalogueError {
    CatalogueError::Unreadable { path: path.display().to_string(), source }
}

fn text_of(bytes: Vec<u8>, origin: &str) -> Result<String, CatalogueError> {
    String::from_utf8(bytes).map_err(|error| {
        let good = error.utf8_error().valid_up_to();
        let before = String::from_utf8_lossy(&error.as_bytes()[..good]);
        CatalogueError::NotText { place: Place::of_offset(origin, &before, good) }
    })
}
