//! What entries of the library hold, read by a thread of its own and kept while it is the same.

use std::collections::HashMap;
use std::path::PathBuf;
use std::sync::Arc;

use egui::Context;

use super::worker::{Errand, News, Unfinished, Worker};
use crate::catalogue::Catalogue;
use crate::files::Document;
use crate::library::{Entry, Library};
use crate::show::Show;
use crate::show::chain::Preset;

/// Entries that are kept.
const MOST: usize = 256;

/// What an entry holds.
#[derive(Debug, Clone)]
pub enum Held {
    Chain(Arc<Preset>),
    Show(Arc<Show>),
}

/// What was read of the library.
#[derive(Default)]
pub struct Documents {
    /// The person's folder.
    data: Option<PathBuf>,
    worker: Option<Worker<(Entry, Catalogue), Document>>,
    open: HashMap<String, Errand>,
    /// By what tells an entry from every other; nothing where it cannot be read.
    read: HashMap<String, Option<Held>>,
}

impl Documents {
    /// Nothing yet; `data` is the person's folder.
    pub fn in_folder(data: Option<PathBuf>) -> Self {
        Self { data, ..Self::default() }
    }

    /// Forgets them all: effects have changed.
    pub fn forget(&mut self) {
        self.open.drain().for_each(|(_, errand)| errand.give_up());
        self.read.clear();
    }

    /// What an entry holds; asked for where that is not known, and nothing until then, or where it cannot be read.
    pub fn of(&mut self, entry: &Entry, catalogue: &Catalogue, ctx: &Context) -> Option<Held> {
        let facts = entry.facts.as_ref().ok()?;
        let key = format!("{} {} {:?} {}", entry.kind.name(), entry.handle, entry.origin, facts.content);
        if let Some(read) = self.read.get(&key) {
            return read.clone();
        }
        if !self.open.contains_key(&key) {
            let data = self.data.clone();
            let ctx = ctx.clone();
            let worker = self.worker.get_or_insert_with(|| {
                let begin = move || Ok(Library::new(data.as_deref(), None));
                let wake = move || ctx.request_repaint();
                Worker::new("documents", wake, begin, |library, (entry, catalogue), _| {
                    library
                        .document(&entry, &catalogue)
                        .map_err(|error| Unfinished::Failed(error.to_string()))
                })
            });
            self.open.insert(key, worker.ask((entry.clone(), catalogue.clone())));
        }
        None
    }

    /// Takes in what has been read since.
    pub fn take_in(&mut self) {
        while let Some((number, said)) = self.worker.as_mut().and_then(Worker::hear) {
            let key = self.open.iter().find(|(_, errand)| errand.is(number)).map(|(key, _)| key.clone());
            let Some(key) = key else { continue };
            let held = match said {
                News::Part(_) => continue,
                News::Finished(Document::Chain(preset)) => Some(Held::Chain(Arc::new(preset))),
                News::Finished(Document::Show(show)) => Some(Held::Show(Arc::new(show))),
                // Whoever takes it is told why.
                News::Failed(_) | News::GaveWay => None,
            };
            self.open.remove(&key);
            if self.read.len() >= MOST {
                self.read.clear();
            }
            self.read.insert(key, held);
        }
    }
}
