//! The text that a document was read from, so that what is written back stays as a person wrote it.

use std::fs;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use super::merge::{Rendered, merged};
use super::written::{chain_page, show_page};
use super::{Document, FileError, parse};
use crate::catalogue::{Catalogue, Effect};
use crate::show::Scope;
use crate::show::chain::Preset;

/// The text of a file as it was read, and what it said.
#[derive(Debug, Clone)]
pub struct Original {
    text: Arc<str>,
    document: Document,
    folder: PathBuf,
    /// The file that it was read from.
    file: Option<PathBuf>,
    catalogue: Catalogue,
}

impl Original {
    /// The `text` that `document` was read from, with paths relative to `folder`.
    pub fn new(text: &str, document: Document, folder: &Path, catalogue: &Catalogue) -> Self {
        Self {
            text: text.into(),
            document,
            folder: folder.to_owned(),
            file: None,
            catalogue: catalogue.clone(),
        }
    }

    /// The same, read from this file.
    pub(super) fn of_file(self, path: &Path) -> Self {
        Self { file: Some(path.to_owned()), ..self }
    }

    /// Whether it was read from this file, by whatever path.
    pub fn is_of(&self, path: &Path) -> bool {
        let same =
            |file: &Path| matches!((file.canonicalize(), path.canonicalize()), (Ok(a), Ok(b)) if a == b);
        self.file.as_deref().is_some_and(same)
    }

    /// What the text said as it was read.
    pub fn document(&self) -> &Document {
        &self.document
    }

    /// The text as it was read.
    pub fn text(&self) -> &str {
        &self.text
    }

    /// Whether the file holds another text by now; one that is not there, or cannot be read, holds none to lose.
    pub fn is_changed_in(&self, file: &Path) -> bool {
        fs::read(file).is_ok_and(|bytes| bytes != self.text.as_bytes())
    }

    /// The text of a file in `folder` that holds `document`: this one, with what differs changed.
    ///
    /// # Errors
    /// [`FileError::NotKept`] where the change cannot be made in the text.
    pub fn with(&self, document: &Document, folder: &Path) -> Result<String, FileError> {
        let old = rendered(&self.document, &self.folder);
        let new = rendered(document, folder);
        if old.complete == new.complete {
            return Ok(self.text.to_string());
        }
        let (mark, text) = match self.text.strip_prefix('\u{feff}') {
            Some(text) => ("\u{feff}", text),
            None => ("", &*self.text),
        };
        let with_ends = |ends: &str| {
            let text = merged(&text.replace("\r\n", "\n"), &old, &new)?;
            Some(format!("{mark}{}", text.replace('\n', ends)))
        };
        let catalogue = self.catalogue_for(document);
        let reads_alike = |text: &String| {
            let read = |text: &str| parse(text, "the changed text", folder, &catalogue).ok();
            read(text).is_some_and(|said| Some(said) == read(&new.plain))
        };
        let ends: &[&str] = if text.contains("\r\n") { &["\r\n", "\n"] } else { &["\n"] };
        ends.iter().filter_map(|ends| with_ends(ends)).find(reads_alike).ok_or(FileError::NotKept)
    }

    /// The text of a file of the library that holds `document`: with the comments of this one, where it can take what
    /// changed. Paths are as they would be in no folder.
    pub fn or_plain(&self, document: &Document) -> String {
        let plain = || rendered(document, Path::new("")).plain;
        self.with(document, Path::new("")).unwrap_or_else(|_| plain())
    }

    /// The chain of a scope as a chain file would have it, with the comments of its effects; a chain's own is its
    /// whole file.
    pub fn of_scope(&self, scope: Scope) -> Option<Self> {
        let Document::Show(show) = &self.document else { return Some(self.clone()) };
        if !show.scopes().contains(&scope) {
            return None;
        }
        let preset = Preset {
            name: show.name.clone(),
            about: String::new(),
            tags: Vec::new(),
            chain: show.chain(scope).clone(),
            controls: Vec::new(),
        };
        let head = chain_page(&Preset { chain: Vec::new(), ..preset.clone() }, false);
        let text = super::merge::chain_in(&self.text, scope, &head)?;
        Some(Self { text: text.into(), document: Document::Chain(preset), ..self.clone() })
    }

    /// Every effect that reading what was written asks for, as the document has it.
    fn catalogue_for(&self, document: &Document) -> Catalogue {
        let mut catalogue = self.catalogue.clone();
        let chains: Vec<&Vec<_>> = match document {
            Document::Chain(preset) => vec![&preset.chain],
            Document::Show(show) => show.scopes().into_iter().map(|scope| show.chain(scope)).collect(),
        };
        for used in chains.into_iter().flatten() {
            let is_same = |known: &Arc<Effect>| known.is_same(&used.effect);
            if !catalogue.effect(&used.effect.name).is_ok_and(is_same) {
                catalogue.put(Arc::clone(&used.effect));
            }
        }
        catalogue
    }
}

fn rendered(document: &Document, folder: &Path) -> Rendered {
    let page = |is_complete| match document {
        Document::Chain(preset) => chain_page(preset, is_complete),
        Document::Show(show) => show_page(show, folder, is_complete),
    };
    Rendered { complete: page(true), plain: page(false) }
}
