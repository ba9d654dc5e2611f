//! Orders kept in view, and kept with the show that they belong to.

use std::fs;
use std::path::{Path, PathBuf};

use serde::{Deserialize, Serialize};

use super::Work;
use crate::base::content::{Content, written_before};
use crate::catalogue::Catalogue;
use crate::files;
use crate::files::{Document, WriteError};
use crate::order::marks;
use crate::show::chain::{EffectUse, Preset};
use crate::show::name::check_name;
use crate::show::{Scope, Show};

/// The folder of the state folder that holds them, a file for each show.
const FOLDER: &str = "pins";

/// An order kept in view, with its settings as they were.
#[derive(Debug, Clone, PartialEq)]
pub struct Pin {
    /// Whose chain.
    pub scope: Scope,
    /// The chain in that order.
    pub chain: Vec<EffectUse>,
    /// What the person calls it; nothing as long as it goes by what it shows.
    pub name: String,
}

impl Pin {
    /// A pin without a name of its own.
    pub fn new(scope: Scope, chain: Vec<EffectUse>) -> Self {
        Self { scope, chain, name: String::new() }
    }

    /// What it is called: by its name, otherwise by its order's code.
    pub fn called(&self) -> String {
        if self.name.is_empty() {
            let every: Vec<usize> = (0..self.chain.len()).collect();
            format!("Order {}", marks(&self.chain).code(&every))
        } else {
            self.name.clone()
        }
    }
}

/// The pins of one show.
#[derive(Debug, Clone, Default)]
pub struct Pins {
    /// Those that fit the show.
    pub pins: Vec<Pin>,
    /// Those that do not: their scope or an effect is gone, and may come back.
    waiting: Vec<Written>,
}

/// A pin as a file holds it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
struct Written {
    /// The scope's address, which stays while others come and go.
    scope: String,
    #[serde(default, skip_serializing_if = "String::is_empty")]
    name: String,
    /// A show with the chain on its output, so that everything is written that a chain holds.
    show: String,
}

#[derive(Debug, Default, Serialize, Deserialize)]
struct All {
    /// What they belong to, for whoever looks into the folder.
    #[serde(default)]
    of: String,
    #[serde(default)]
    pin: Vec<Written>,
}

impl Pins {
    /// Whether there are none.
    pub fn is_empty(&self) -> bool {
        self.pins.is_empty() && self.waiting.is_empty()
    }

    /// How many wait for their scope, or for an effect, to come back.
    pub fn waiting(&self) -> usize {
        self.waiting.len()
    }

    /// The pins that a text holds, for `show`.
    pub fn read(text: &str, show: &Show, catalogue: &Catalogue) -> Self {
        let all: All = toml::from_str(text).unwrap_or_default();
        let mut pins = Self::default();
        for written in all.pin {
            let document = files::parse(&written.show, "a pin", Path::new(""), catalogue);
            match (show.scope_named(&written.scope), document) {
                (Ok(scope), Ok(Document::Show(pinned))) => {
                    let name = if check_name(&written.name).is_ok() { written.name } else { String::new() };
                    pins.pins.push(Pin { scope, chain: pinned.global, name });
                }
                _ => pins.waiting.push(written),
            }
        }
        pins
    }

    /// As a text, for the show that they were read for, as it is now.
    pub fn text(&self, show: &Show) -> String {
        self.text_of(show, "")
    }

    fn text_of(&self, show: &Show, of: &str) -> String {
        let scopes = show.scopes();
        let fitting = self.pins.iter().filter(|pin| scopes.contains(&pin.scope));
        let written = fitting.map(|pin| Written {
            scope: show.address(pin.scope),
            name: pin.name.clone(),
            show: files::show_text(&carrying(&pin.chain, show), Path::new("")),
        });
        let all = All { of: of.to_owned(), pin: written.chain(self.waiting.iter().cloned()).collect() };
        // Texts alone always become TOML.
        toml::to_string(&all).unwrap_or_default()
    }

    /// The pins kept with a work in the state folder; none where there are none.
    pub fn kept(state: &Path, work: &Work, catalogue: &Catalogue) -> Self {
        let mut texts = files_in(state, work).into_iter().filter_map(|file| fs::read_to_string(file).ok());
        Self::read(&texts.next().unwrap_or_default(), work.show(), catalogue)
    }

    /// Keeps the pins with a work in the state folder.
    ///
    /// # Errors
    /// [`WriteError`]; what was kept before is still there.
    pub fn keep(&self, state: &Path, work: &Work) -> Result<(), WriteError> {
        let [file, before] = files_in(state, work);
        // What is not there needs no clearing.
        if self.is_empty() {
            let _ = fs::remove_file(file);
        } else {
            // Where it cannot be made, writing says why.
            let _ = fs::create_dir_all(state.join(FOLDER));
            files::write(&file, self.text_of(work.show(), &belongs_to(work)).as_bytes())?;
        }
        let _ = fs::remove_file(before);
        Ok(())
    }
}

/// What pins belong to: the work's file, or its name while it has none.
fn belongs_to(work: &Work) -> String {
    match work.file() {
        Some(file) => {
            let file = file.canonicalize().or_else(|_| std::path::absolute(file));
            file.map(|file| file.display().to_string()).unwrap_or_default()
        }
        None => format!("no file: {}", work.show().name),
    }
}

/// The file of a work's pins, and the one in which versions before kept them.
fn files_in(state: &Path, work: &Work) -> [PathBuf; 2] {
    let of = belongs_to(work);
    let file = |name: String| state.join(FOLDER).join(format!("{name}.toml"));
    [file(Content::of(&of).to_string()), file(written_before(&of))]
}

/// A show without footage of its own that carries a chain, with the controls that hold its settings.
fn carrying(chain: &[EffectUse], show: &Show) -> Show {
    let nothing = Preset {
        name: "pinned".to_owned(),
        about: String::new(),
        tags: Vec::new(),
        chain: Vec::new(),
        controls: Vec::new(),
    };
    let carrier = Work::new(Document::Chain(nothing), None);
    Show { global: chain.to_vec(), controls: show.controls.clone(), ..Show::clone(carrier.show()) }
}
