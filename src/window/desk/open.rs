//! Work is taken up and left; footage is dropped.

use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::Duration;

use egui::{Id, Rect, Ui};

use super::seen::Seen;
use super::{Desk, SOFTWARE_TEXELS};
use crate::base::folders::typed;
use crate::edit::{ClipEdit, Edit, Work};
use crate::footage::Shelf;
use crate::show::clip::{FootageName, Play};
use crate::show::{Clip, ClipPlace, Scope};
use crate::window::action::{Action, Dialog};
use crate::window::pictures::Pictures;
use crate::window::showing::Tab;
use crate::window::threads::file_dialog::Purpose;
use crate::window::view::View;

/// Where the system shows no dialog for folders, or one is open.
const NO_DIALOG: &str = "The system shows no other dialog now: type the folder into its line.";

/// How often footage that is being opened is looked at.
pub(super) const LOOKS_AT_ARRIVALS: Duration = Duration::from_millis(100);

/// Where it is kept where the tabs beside the picture stand.
pub(super) const BESIDE: &str = "beside the picture";

/// Whether a file is a show or a chain.
fn is_document(path: &Path) -> bool {
    path.extension().is_some_and(|ending| ending == "toml")
}

/// The view of work just opened; a software adapter is given fewer texels.
pub(super) fn first_view(work: &Work, pictures: &Pictures) -> View {
    let show = work.show();
    let mut view = View::of(show, work.first_scope());
    if pictures.gpu().is_some_and(crate::gpu::Gpu::is_software) {
        while view.detail < 4 && show.frame.texels() / u64::from(view.detail * view.detail) > SOFTWARE_TEXELS
        {
            view.detail *= 2;
        }
    }
    view
}

impl Desk {
    /// Opens a file, or says why not where it was asked for.
    pub(super) fn open(&mut self, path: &Path) {
        let is_typed = self.view.dialog.take() == Some(Dialog::Open);
        match Work::open(path, &self.catalogue) {
            Ok(work) => {
                self.recent.note(path);
                self.take_up(work);
            }
            Err(error) => {
                self.report("This file was not opened", &error.to_string());
                if is_typed {
                    self.keep_typed(Dialog::Open, path);
                    self.view.back_to = Some(Dialog::Open);
                }
            }
        }
    }

    /// Keeps a path that was typed for the dialog that it was typed into.
    pub(super) fn keep_typed(&mut self, dialog: Dialog, path: &Path) {
        self.view.typed.retain(|(known, _)| *known != dialog);
        self.view.typed.push((dialog, path.to_owned()));
    }

    pub(super) fn open_preset(&mut self, name: &str) {
        match Work::preset(name, &self.catalogue) {
            Ok(Some(work)) => self.take_up(work),
            Ok(None) => self.view.said = format!("There is no preset named {name}."),
            Err(error) => self.report("This preset was not opened", &error.to_string()),
        }
    }

    /// Puts other work on the desk.
    pub(super) fn take_up(&mut self, work: Work) {
        let View { preferences, tab, second, black, .. } = self.view;
        self.view = View { preferences, tab, second, black, ..first_view(&work, &self.pictures) };
        self.take_pins(&work);
        self.beats = self.view.beats;
        self.seen = Seen::default();
        self.sections = Default::default();
        self.kept = (!work.is_changed()).then(|| Arc::clone(work.show()));
        self.changed_at = None;
        self.work = work;
        self.pictures.forget_footage(&self.catalogue);
        if let (Some(recovery), false) = (&self.recovery, self.work.is_changed()) {
            recovery.clear();
        }
    }

    pub(super) fn quit(&mut self) {
        if let Some(recovery) = &self.recovery {
            recovery.clear();
        }
        self.is_over = true;
    }

    /// Asks to close the window.
    pub fn ask_to_quit(&mut self) {
        self.act(Action::Quit);
    }

    /// Takes what was dropped onto the window: shows and chains are opened, pictures become clips; over the orders it is
    /// asked what they are for.
    pub(super) fn take_drops(&mut self, ui: &Ui) {
        let dropped = ui.input(|input| input.raw.dropped_files.clone());
        let (documents, footage): (Vec<PathBuf>, Vec<PathBuf>) =
            dropped.iter().map(|file| file.path().to_owned()).partition(|path| is_document(path));
        if !footage.is_empty() && self.asks_what_for(ui) {
            self.view.dialog = Some(Dialog::Dropped(footage));
        } else {
            footage.into_iter().for_each(|path| self.take_file(path));
        }
        documents.into_iter().for_each(|path| self.take_file(path));
    }

    /// Whether what is dropped now may be meant for the orders: some systems do not say where it is dropped.
    fn asks_what_for(&self, ui: &Ui) -> bool {
        let place = ui.data(|data| data.get_temp::<Rect>(Id::unique(BESIDE)));
        let pointer = ui.input(|input| input.pointer.latest_pos());
        let may_be_over = place.zip(pointer).is_none_or(|(place, pointer)| place.contains(pointer));
        matches!(self.view.tab, Tab::Orders | Tab::Find) && self.view.dialog.is_none() && may_be_over
    }

    /// Takes one file: a show or chain is opened, a picture becomes a clip of the path's level.
    pub fn take_file(&mut self, path: PathBuf) {
        if is_document(&path) {
            return self.act(Action::Open(path));
        }
        let footage = FootageName::File { written: path.display().to_string(), path: path.clone() };
        if let Some(Dialog::Footage(place)) = self.view.dialog {
            return self.take_footage(place, footage);
        }
        let ClipPlace { bundle, level, .. } = self.view.clip;
        self.add_file(Scope::Level(bundle, level), path);
    }

    /// Adds a file as footage on top of something, and selects it.
    pub(super) fn add_file(&mut self, into: Scope, path: PathBuf) {
        let dialog = Dialog::AddFile(into);
        let is_asked = self.view.dialog.as_ref() == Some(&dialog);
        let footage = FootageName::File { written: path.display().to_string(), path: path.clone() };
        if !self.is_taken(&footage, &Play::default()) {
            if is_asked {
                self.keep_typed(dialog.clone(), &path);
                self.view.back_to = Some(dialog);
            }
            return;
        }
        self.view.typed.retain(|(known, _)| *known != dialog);
        if is_asked {
            self.view.dialog = None;
        }
        let name = path.file_stem().unwrap_or_default().to_string_lossy().into_owned();
        self.edit(&Edit::adding(into, Clip::of(&name, footage)));
    }

    /// Asks the system for files; where it has none to show, one of the window does.
    pub(super) fn choose_files(&mut self, into: Scope) {
        let folder = self.work.file().and_then(Path::parent).map(Path::to_owned);
        if !self.file_dialog.ask(Purpose::Footage(into), folder) {
            self.view.dialog = Some(Dialog::AddFile(into));
        }
    }

    /// Asks the system for the folder in which the footage of another show's clips lies.
    pub(super) fn choose_folder(&mut self) {
        let written = typed(self.shelves.packs.folder.trim());
        let folder = Some(written).filter(|folder| folder.is_dir());
        let folder = folder.or_else(|| self.work.file().and_then(Path::parent).map(Path::to_owned));
        if !self.file_dialog.ask(Purpose::FolderOfClips, folder) {
            self.view.said = NO_DIALOG.to_owned();
        }
    }

    /// Adds what was chosen in the system's dialog.
    pub(super) fn take_chosen(&mut self, ctx: &egui::Context) {
        if self.file_dialog.is_open() {
            ctx.request_repaint_after(LOOKS_AT_ARRIVALS);
        }
        let Some((purpose, files)) = self.file_dialog.take() else { return };
        let into = match purpose {
            Purpose::Footage(into) => into,
            Purpose::FolderOfClips => {
                match files {
                    None => self.view.said = NO_DIALOG.to_owned(),
                    Some(files) => {
                        if let Some(folder) = files.first() {
                            self.shelves.packs.folder = folder.display().to_string();
                        }
                    }
                }
                return;
            }
        };
        if !self.work.show().scopes().contains(&into) {
            self.view.said = "Not added: that place is no longer in the show.".to_owned();
            return;
        }
        match files {
            None => self.view.dialog = Some(Dialog::AddFile(into)),
            Some(files) if files.is_empty() => self.view.said = "No file was chosen.".to_owned(),
            Some(files) => self.view.dialog = Some(Dialog::AddFiles(into, files)),
        }
    }

    /// Gives a clip other footage.
    pub(super) fn take_footage(&mut self, place: ClipPlace, footage: FootageName) {
        let dialog = Dialog::Footage(place);
        let is_asked = self.view.dialog.as_ref() == Some(&dialog);
        let play = self.work.show().clip(place).map_or_else(Play::default, |clip| clip.play);
        if !self.is_taken(&footage, &play) {
            if is_asked {
                if let FootageName::File { path, .. } = &footage {
                    self.keep_typed(dialog.clone(), path);
                }
                self.view.back_to = Some(dialog);
            }
            return;
        }
        self.view.typed.retain(|(known, _)| *known != dialog);
        if is_asked {
            self.view.dialog = None;
        }
        self.edit(&Edit::Clip(place, ClipEdit::Footage(footage)));
    }

    /// Whether footage can be taken, as far as a glance tells, and in words why not; a film is on its way from here on:
    /// its decoder opens it, and the window waits for none.
    pub(super) fn is_taken(&mut self, footage: &FootageName, play: &Play) -> bool {
        if let Err(error) = Shelf::new(&self.catalogue).glance(footage) {
            self.report("This file was not taken as footage", &error.to_string());
            return false;
        }
        self.arriving.push((footage.clone(), *play));
        true
    }

    /// Says of footage taken lately what is wrong with it, once that is known.
    pub(super) fn see_arrivals(&mut self, ctx: &egui::Context) {
        let mut refused = Vec::new();
        let pictures = &mut self.pictures;
        self.arriving.retain(|(footage, play)| match pictures.opened(footage, play) {
            None => true,
            Some(Ok(())) => false,
            Some(Err(error)) => {
                refused.push(error.to_string());
                false
            }
        });
        if !self.arriving.is_empty() {
            ctx.request_repaint_after(LOOKS_AT_ARRIVALS);
        }
        if !refused.is_empty() {
            let text = refused.join("\n") + "\n\nIts clip shows nothing; Undo takes it back.";
            self.report("This file cannot be shown as footage", &text);
        }
    }
}
