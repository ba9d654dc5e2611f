//! The catalogue: every effect and every generated source, as its own shader file declares it.
//!
//! One WGSL file is one effect. Its header (the `//!` lines at the top, in
//! TOML) names its settings and its reach; its code must have the one function
//! that this reach asks for, so that a header cannot claim what the code does
//! not keep: a function that is never told the position cannot use it.

mod header;
pub(crate) mod layout;
mod memory;
mod setting;
mod shader;

use std::fs;
use std::path::Path;
use std::sync::Arc;

use thiserror::Error;

pub use header::{Channels, Position, Reach};
pub use layout::Layout;
pub use memory::{FADED_EACH_FRAME, Memory, frames_until_faded};
pub use setting::{Derived, DerivedKind, DerivedValue, Idle, Input, Kind, Setting, Value, ValueError};
pub use shader::{
    Workgroup, assembled, index_map_shader, past_shader, plain_pass, plain_shader, run_shader, run_uniform,
};

use crate::embedded;
use crate::place::{Place, did_you_mean, listed};

/// One effect or generated source: its declaration, its code, and where its settings lie in the uniform.
#[derive(Debug)]
pub struct Effect {
    /// The file's stem: what chains, commands and people call it.
    pub name: String,
    /// One line for a person who has never seen it.
    pub summary: String,
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
}

impl Effect {
    /// The setting with this name.
    pub fn setting(&self, name: &str) -> Option<&Setting> {
        self.settings.iter().find(|setting| setting.name == name)
    }

    /// Whether it looks back at what it gave before.
    pub fn remembers(&self) -> bool {
        self.memory.is_some()
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
    /// The file is no text.
    #[error("{place}: this is not UTF-8 text; save the file as UTF-8")]
    NotText {
        /// Where the first byte stands that is none.
        place: Place,
    },
    /// Two files declare one name.
    #[error("{origin}: an effect named `{name}` is already there ({other}); rename the file")]
    Twice {
        /// The name.
        name: String,
        /// The later file.
        origin: String,
        /// The earlier file.
        other: String,
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
}

impl Catalogue {
    /// The shaders inside the program. A file of ours that does not read is a
    /// defect that the tests catch; here it is an error like any other.
    pub fn built_in() -> Result<Self, CatalogueError> {
        let mut catalogue = Self { effects: Vec::new(), sources: Vec::new() };
        for (folder, files) in
            [("shaders/effects", embedded::EFFECTS), ("shaders/footage", embedded::FOOTAGE)]
        {
            for (name, source) in files {
                catalogue.add(Effect::read(name, &format!("{folder}/{name}.wgsl"), source)?)?;
            }
        }
        Ok(catalogue)
    }

    /// Adds every `.wgsl` file of `folder`; on an error nothing is added.
    pub fn add_folder(&mut self, folder: &Path) -> Result<(), CatalogueError> {
        let unreadable =
            |path: &Path, source| CatalogueError::Unreadable { path: path.display().to_string(), source };
        let entries = fs::read_dir(folder).map_err(|e| unreadable(folder, e))?;
        let mut paths: Vec<_> = entries
            .filter_map(|entry| entry.ok().map(|e| e.path()))
            .filter(|path| path.extension().is_some_and(|ending| ending == "wgsl"))
            .collect();
        paths.sort();
        let mut grown = self.clone();
        for path in paths {
            let (name, origin) =
                (path.file_stem().unwrap_or_default().to_string_lossy(), path.display().to_string());
            let bytes = fs::read(&path).map_err(|e| unreadable(&path, e))?;
            let source = text_of(bytes, &origin)?;
            grown.add(Effect::read(&name, &origin, &source)?)?;
        }
        *self = grown;
        Ok(())
    }

    fn add(&mut self, effect: Effect) -> Result<(), CatalogueError> {
        let list = if effect.reach == Reach::Source { &mut self.sources } else { &mut self.effects };
        match list.binary_search_by(|known| known.name.cmp(&effect.name)) {
            Ok(place) => Err(CatalogueError::Twice {
                name: effect.name,
                origin: effect.origin,
                other: list[place].origin.clone(),
            }),
            Err(place) => {
                list.insert(place, Arc::new(effect));
                Ok(())
            }
        }
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
        find(&self.effects, "effect", name)
    }

    /// The generated source with this name, or an error that gives the nearest one.
    pub fn source(&self, name: &str) -> Result<&Arc<Effect>, CatalogueError> {
        find(&self.sources, "generated source", name)
    }
}

fn text_of(bytes: Vec<u8>, origin: &str) -> Result<String, CatalogueError> {
    String::from_utf8(bytes).map_err(|error| {
        let good = error.utf8_error().valid_up_to();
        let before = String::from_utf8_lossy(&error.as_bytes()[..good]);
        CatalogueError::NotText { place: Place::of_offset(origin, &before, good) }
    })
}

fn find<'a>(
    list: &'a [Arc<Effect>],
    what: &'static str,
    name: &str,
) -> Result<&'a Arc<Effect>, CatalogueError> {
    let names = || list.iter().map(|known| known.name.as_str());
    list.iter().find(|known| known.name == name).ok_or_else(|| CatalogueError::Unknown {
        what,
        name: name.to_owned(),
        hint: did_you_mean(name, names()),
        known: listed(names()),
    })
}
