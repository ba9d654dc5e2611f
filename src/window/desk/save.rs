//! What is written: the work, and all that is made of it.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use super::Desk;
use crate::beat::Moment;
use crate::files;
use crate::files::{FileKind, NotReplaced, Permit};
use crate::library::LibraryError;
use crate::show::Scope;
use crate::window::action::{Action, Dialog, Saving};
use crate::window::showing::Shown;
use crate::window::threads::export::{Export, Exported, file_name};

impl Desk {
    pub(super) fn save(&mut self) {
        match self.work.file().map(Path::to_owned) {
            Some(file) => self.write(Saving::Work, &file),
            None => self.view.dialog = Some(Dialog::Save(Saving::Work)),
        }
    }

    pub(super) fn save_then(&mut self, next: Box<Action>) {
        self.view.dialog = None;
        self.view.after_saving = Some(next);
        self.save();
    }

    /// Writes the work although its file has changed since it was read.
    pub(super) fn replace(&mut self, path: &Path) {
        self.view.dialog = None;
        let replaced = self.work.replace(path).map_err(|error| error.to_string());
        self.written(Saving::Work, path, replaced);
    }

    /// The files that the work is made from, beside its own: footage, and effects of the person's own.
    pub(super) fn made_from(&self) -> Vec<PathBuf> {
        let footage = files::footage_files(self.work.show()).map(Path::to_owned);
        let effects = self.catalogue.effects().iter().chain(self.catalogue.sources());
        footage.chain(effects.map(|effect| PathBuf::from(&effect.origin))).collect()
    }

    pub(super) fn write(&mut self, saving: Saving, path: &Path) {
        self.view.dialog = None;
        let mut made_from = self.made_from();
        // The work may take the place of its own file, which nothing else may.
        made_from.extend(self.work.file().filter(|_| saving != Saving::Work).map(Path::to_owned));
        // What else is there the person was asked about.
        let permit = Permit::new(FileKind::Document, true).reading(made_from.clone());
        let refused = |why: &NotReplaced| format!("{}: {why}", path.display());
        let written = match saving {
            Saving::Work if self.work.is_changed_on_disk(path) => {
                self.view.dialog = Some(Dialog::Changed(path.to_owned()));
                return;
            }
            Saving::Work => match permit.check_read(path) {
                Ok(()) => self.work.save_as(path).map_err(|error| error.to_string()),
                Err(why) => Err(refused(&why)),
            },
            Saving::Chain => {
                let folderless = self.work.as_preset(self.view.scope);
                if folderless.chain.is_empty() {
                    let why = LibraryError::Empty(self.work.show().address(self.view.scope)).to_string();
                    return self.report("Nothing was saved", &why);
                }
                let text = self.work.chain_text(self.view.scope, &folderless);
                files::write_permitted(path, text.as_bytes(), permit).map_err(|error| error.to_string())
            }
            Saving::Picture | Saving::Wall | Saving::BuildSheet | Saving::Report => {
                return self.export(saving, path, made_from);
            }
        };
        self.written(saving, path, written);
    }

    /// Says what became of something that was to be written.
    pub(super) fn written(&mut self, saving: Saving, path: &Path, written: Result<(), String>) {
        match written {
            Ok(()) => {
                self.view.typed.retain(|(known, _)| *known != Dialog::Save(saving));
                self.view.said = format!("Saved {} as {}.", saving.label(), path.display());
                if saving == Saving::Work {
                    self.recent.note(path);
                    self.kept = Some(Arc::clone(self.work.show()));
                    if let Some(recovery) = &self.recovery {
                        recovery.clear();
                    }
                    // They belong to the file by now.
                    self.keep_pins();
                    if let Some(next) = self.view.after_saving.take() {
                        self.act(*next);
                    }
                }
            }
            Err(error) => {
                let dialog = Dialog::Save(saving);
                self.keep_typed(dialog.clone(), path);
                self.report("Nothing was saved", &error);
                self.view.back_to = Some(dialog);
            }
        }
    }

    /// Begins to write what takes long, at the show's own frame.
    pub(super) fn export(&mut self, saving: Saving, path: &Path, made_from: Vec<PathBuf>) {
        let is_whole = matches!(saving, Saving::BuildSheet | Saving::Report);
        let sections = if is_whole { self.stands_in_order() } else { Vec::new() };
        let show = match saving {
            // What is told of sections is told of the show that has them.
            _ if !sections.is_empty() => Arc::clone(self.work.show()),
            Saving::Picture if self.view.shown == Shown::Output && self.lays_chains() => self.on_air().show,
            _ => self.seen_show(),
        };
        let moment = Moment { frame: show.frame, ..self.view.moment(&show, self.beats) };
        let (scope, order) = match (&self.view.shown, saving) {
            (_, Saving::Wall | Saving::BuildSheet | Saving::Report) => (self.view.scope, Vec::new()),
            (Shown::Order { scope, order }, _) => (*scope, order.clone()),
            _ => (Scope::Global, (0..show.global.len()).collect()),
        };
        let path = path.to_owned();
        let words = self.words(scope);
        let export = Export { saving, show, sections, scope, moment, order, words, made_from, path };
        if let Err(error) = export.check() {
            return self.report(&format!("{} was not written", file_name(&export.path)), &error.to_string());
        }
        self.view.said = format!("Exporting {} …", saving.label());
        self.exports.ask(export);
    }

    pub(super) fn take_exports(&mut self, ctx: &egui::Context) {
        let Some(Exported { saving, path, result }) =
            self.exports.go_on(self.pictures.gpu(), &self.catalogue, ctx)
        else {
            return;
        };
        match result {
            Ok(()) => {
                self.view.typed.retain(|(known, _)| *known != Dialog::Save(saving));
                self.view.said = format!("Saved {} as {}.", saving.label(), path.display());
            }
            Err(error) if error.is_given_up() => {
                self.view.said = format!("Given up: {} was not written.", file_name(&path));
            }
            Err(error) => {
                self.keep_typed(Dialog::Save(saving), &path);
                self.report(&format!("{} was not written", file_name(&path)), &error.to_string());
                self.view.back_to = Some(Dialog::Save(saving));
            }
        }
    }

    /// Whether an export is on its way.
    pub fn is_exporting(&self) -> bool {
        self.exports.on_the_way().is_some()
    }

    /// Saves the work under a name.
    pub fn save_as(&mut self, path: &Path) {
        self.act(Action::Write(Saving::Work, path.to_owned()));
    }
}
