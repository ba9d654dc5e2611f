//! The work: the show being edited, where it is kept, and its steps.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use thiserror::Error;

use super::{Edit, EditError, History};
use crate::base::content::Content;
use crate::base::frame::{Frame, PixelMode};
use crate::base::{content, embedded};
use crate::beat::FrameRate;
use crate::catalogue::Catalogue;
use crate::files;
use crate::files::{Document, FileError, Original, WriteError};
use crate::show::chain::{Chain, Preset};
use crate::show::control::USUAL_REACH_MS;
use crate::show::{Bundle, Clip, Level, Scope, Show};

/// The footage under a chain that is opened alone.
const CHAIN_FOOTAGE: &str = "harbour";
/// The tempo of a chain, which has none of its own, in beats per minute.
const CHAIN_TEMPO_BPM: f64 = 120.0;
/// The size at which a chain is looked at.
const CHAIN_FRAME: Frame = Frame { width: 1280, height: 720 };
/// The scope on which a chain that is opened alone lies.
const CHAIN_SCOPE: Scope = Scope::Clip(0, 0, 0);

/// What kind of file the work is kept in.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Form {
    /// A show file.
    Show,
    /// A chain file: the show is a stand for its chain, one clip.
    Chain,
}

/// Why the work was not kept.
#[derive(Debug, Error)]
pub enum WorkError {
    /// It has no file yet.
    #[error("this work has no file yet; choose a name to save it under")]
    NoFile,
    /// The file was not written.
    #[error(transparent)]
    Write(#[from] WriteError),
    /// Another program has written the file since.
    #[error(
        "`{0}` has been changed by another program since it was read here; save under another name, or open it again"
    )]
    Changed(String),
    /// The text of the file cannot take what changed.
    #[error("`{path}` was not written: {source}")]
    Text {
        /// The file.
        path: String,
        /// Why.
        source: FileError,
    },
}

/// A show being edited, the file that it is kept in, and the steps taken.
#[derive(Debug, Clone)]
pub struct Work {
    form: Form,
    show: Arc<Show>,
    saved: Option<Arc<Show>>,
    file: Option<PathBuf>,
    /// The text that it was read from: what is saved keeps its comments, however often.
    original: Option<Original>,
    /// What stands for what the file held when it was last read or written here.
    on_disk: Option<String>,
    history: History,
}

impl Work {
    /// Work on what a file holds; a chain is laid on a clip of its own. A starter begins a show without a file, so that
    /// saving it does not write over the starter.
    pub fn new(document: Document, file: Option<PathBuf>) -> Self {
        let mut file = file;
        let (form, show) = match document {
            Document::Show(starter) if starter.is_starter => {
                file = None;
                (Form::Show, Show { is_starter: false, ..starter })
            }
            Document::Show(show) => (Form::Show, show),
            Document::Chain(preset) => (Form::Chain, stand_for(preset)),
        };
        let show = Arc::new(show);
        Self {
            form,
            saved: Some(Arc::clone(&show)),
            show,
            file,
            original: None,
            on_disk: None,
            history: History::default(),
        }
    }

    /// Work on what a text says, which keeps its comments wherever it is saved.
    pub fn on(original: Original, file: Option<PathBuf>) -> Self {
        let work = Self::new(original.document().clone(), file);
        let on_disk = work.file.is_some().then(|| Content::of(original.text()).to_string());
        Self { original: Some(original), on_disk, ..work }
    }

    /// Opens a file.
    ///
    /// # Errors
    /// [`FileError`], worded for the person.
    pub fn open(path: &Path, catalogue: &Catalogue) -> Result<Self, FileError> {
        Ok(Self::on(files::read_original(path, catalogue)?, Some(path.to_owned())))
    }

    /// Work on a chain or show that travels inside the program; `None` where none has that name.
    ///
    /// # Errors
    /// [`FileError`] where the preset was built wrongly.
    pub fn preset(name: &str, catalogue: &Catalogue) -> Result<Option<Self>, FileError> {
        let known = embedded::SHOWS.iter().chain(embedded::CHAINS).find(|(known, _)| *known == name);
        let Some((_, text)) = known else { return Ok(None) };
        let origin = format!("preset:{name}");
        let document = files::parse(text, &origin, Path::new(""), catalogue)?;
        Ok(Some(Self::on(Original::new(text, document, Path::new(""), catalogue), None)))
    }

    pub fn show(&self) -> &Arc<Show> {
        &self.show
    }

    /// What kind of file it is kept in.
    pub fn form(&self) -> Form {
        self.form
    }

    /// The file that it is kept in, if any.
    pub fn file(&self) -> Option<&Path> {
        self.file.as_deref()
    }

    /// The steps taken.
    pub fn history(&self) -> &History {
        &self.history
    }

    /// Whether there is something that the file does not hold.
    pub fn is_changed(&self) -> bool {
        let Some(saved) = &self.saved else { return true };
        if Arc::ptr_eq(saved, &self.show) {
            return false;
        }
        match self.form {
            Form::Show => **saved != *self.show,
            // The footage under a chain is only looked at.
            Form::Chain => preset_of(saved, CHAIN_SCOPE) != preset_of(&self.show, CHAIN_SCOPE),
        }
    }

    /// Takes effects as the catalogue has them now, in every step too; gives what became of settings. This is no
    /// step: what changed is the effect's file.
    pub fn rebind(&mut self, catalogue: &Catalogue) -> Vec<String> {
        let mut told = Vec::new();
        let rebound = |show: &Arc<Show>, told: &mut Vec<String>| {
            show.rebound(catalogue, told).map_or_else(|| Arc::clone(show), Arc::new)
        };
        let new = rebound(&self.show, &mut told);
        let mut known = vec![(Arc::clone(&self.show), Arc::clone(&new))];
        self.show = new;
        let mut now = |show: &Arc<Show>| {
            if let Some((_, new)) = known.iter().find(|(old, _)| Arc::ptr_eq(old, show)) {
                return Arc::clone(new);
            }
            // What is told of the show itself is told once, not for every step.
            let new = rebound(show, &mut Vec::new());
            known.push((Arc::clone(show), Arc::clone(&new)));
            new
        };
        self.saved = self.saved.as_ref().map(&mut now);
        self.history.rebind(&mut now);
        told
    }

    /// The scope to begin with: a chain's own, a show's busiest.
    pub fn first_scope(&self) -> Scope {
        match self.form {
            Form::Chain => CHAIN_SCOPE,
            Form::Show => self.show.busiest_scope(),
        }
    }

    /// Whether the file has room for effects on this scope: a chain file has one scope.
    pub fn takes_effects_on(&self, scope: Scope) -> bool {
        self.form == Form::Show || scope == CHAIN_SCOPE
    }

    /// Makes a change; it becomes a step that can be undone, unless it changes nothing.
    ///
    /// # Errors
    /// [`EditError`] where the change does not fit; the work is as it was.
    pub fn apply(&mut self, edit: &Edit) -> Result<(), EditError> {
        let (show, name) = edit.applied(&self.show)?;
        if show == *self.show {
            return Ok(());
        }
        self.history.note(name, &self.show, edit.run_key());
        self.show = Arc::new(show);
        Ok(())
    }

    /// Ends a run of changes that are one step: a slider was let go.
    pub fn end_run(&mut self) {
        self.history.end_run();
    }

    /// Takes the last step back; false where there is none.
    pub fn undo(&mut self) -> bool {
        self.history.undo(&self.show).map(|show| self.show = show).is_some()
    }

    /// Takes the step undone last again; false where there is none.
    pub fn redo(&mut self) -> bool {
        self.history.redo(&self.show).map(|show| self.show = show).is_some()
    }

    /// Undoes or redoes until `steps` steps are behind.
    pub fn go_to(&mut self, steps: usize) {
        while self.history.done().len() > steps && self.undo() {}
        while self.history.done().len() < steps && self.redo() {}
    }

    /// The text of a file in `folder` that holds the work: with the comments of the one that was read, where that can
    /// take what changed.
    pub fn text(&self, folder: &Path) -> String {
        self.kept_text(folder).unwrap_or_else(|_| match self.form {
            Form::Show => files::show_text(&self.show, folder),
            Form::Chain => files::chain_text(&self.as_preset(CHAIN_SCOPE)),
        })
    }

    /// As [`Self::text`], or [`FileError::NotKept`] where that would lose what a person wrote.
    fn kept_text(&self, folder: &Path) -> Result<String, FileError> {
        match (&self.original, self.document()) {
            (Some(original), document) => original.with(&document, folder),
            (None, Document::Show(show)) => Ok(files::show_text(&show, folder)),
            (None, Document::Chain(preset)) => Ok(files::chain_text(&preset)),
        }
    }

    fn document(&self) -> Document {
        match self.form {
            Form::Show => Document::Show(Show::clone(&self.show)),
            Form::Chain => Document::Chain(self.as_preset(CHAIN_SCOPE)),
        }
    }

    /// The text of a file in no folder that holds a show made of this one, such as a starter.
    pub fn text_as(&self, show: &Show) -> String {
        match &self.original {
            Some(original) => original.or_plain(&Document::Show(show.clone())),
            None => files::show_text(show, Path::new("")),
        }
    }

    /// The text of a chain file that holds `preset`, made of the chain of a scope; its effects keep their comments
    /// where the text that was read can take what changed.
    pub fn chain_text(&self, scope: Scope, preset: &Preset) -> String {
        let scope = if self.form == Form::Chain { CHAIN_SCOPE } else { scope };
        let original = self.original.as_ref().and_then(|original| original.of_scope(scope));
        let text = original.and_then(|own| own.with(&Document::Chain(preset.clone()), Path::new("")).ok());
        text.unwrap_or_else(|| files::chain_text(preset))
    }

    /// A scope's chain as a preset of its own.
    pub fn as_preset(&self, scope: Scope) -> Preset {
        let preset = preset_of(&self.show, scope);
        match self.form {
            Form::Chain => preset,
            Form::Show => Preset { controls: self.show.controls_of(scope), ..preset },
        }
    }

    /// Writes the work to its file.
    ///
    /// # Errors
    /// [`WorkError`]; the file is as it was.
    pub fn save(&mut self) -> Result<(), WorkError> {
        let path = self.file.clone().ok_or(WorkError::NoFile)?;
        self.save_as(&path)
    }

    /// Writes the work to another file, which keeps it from now on.
    ///
    /// # Errors
    /// [`WorkError`]; nothing has changed.
    pub fn save_as(&mut self, path: &Path) -> Result<(), WorkError> {
        if self.is_changed_on_disk(path) {
            return Err(WorkError::Changed(path.display().to_string()));
        }
        self.replace(path)
    }

    /// What the file held when it was last read or written here, as what stands for it.
    pub(super) fn on_disk(&self) -> Option<&str> {
        self.on_disk.as_deref()
    }

    /// Whether another program has written the work's file since it was last read or written here.
    pub fn is_changed_on_disk(&self, path: &Path) -> bool {
        let (Some(on_disk), Some(file)) = (&self.on_disk, &self.file) else { return false };
        is_one_file(file, path)
            && std::fs::read(path).is_ok_and(|bytes| !content::stands_for(on_disk, &bytes))
    }

    /// Like [`Self::save_as`], whatever another program has written there meanwhile.
    ///
    /// # Errors
    /// [`WorkError`]; nothing has changed.
    pub fn replace(&mut self, path: &Path) -> Result<(), WorkError> {
        let folder = path.parent().unwrap_or(Path::new(""));
        let text = match self.kept_text(folder) {
            Err(source) if self.file.as_deref().is_some_and(|file| is_one_file(file, path)) => {
                return Err(WorkError::Text { path: path.display().to_string(), source });
            }
            // Under another name nothing is lost.
            _ => self.text(folder),
        };
        files::write(path, text.as_bytes())?;
        self.on_disk = Some(Content::of(&text).to_string());
        self.file = Some(path.to_owned());
        self.saved = Some(Arc::clone(&self.show));
        self.history.end_run();
        Ok(())
    }

    /// Work that was found again after a crash: its file, if it had one, does not hold it. `on_disk` is what that
    /// held when it was last read or written.
    pub(super) fn found_again(original: Original, file: Option<PathBuf>, on_disk: Option<String>) -> Self {
        Self { saved: None, on_disk, ..Self::on(original, file) }
    }
}

/// Whether two paths lead to one file.
fn is_one_file(a: &Path, b: &Path) -> bool {
    a == b || matches!((a.canonicalize(), b.canonicalize()), (Ok(a), Ok(b)) if a == b)
}

fn preset_of(show: &Show, scope: Scope) -> Preset {
    Preset {
        name: show.name.clone(),
        about: show.about.clone(),
        tags: show.tags.clone(),
        chain: show.chain(scope).clone(),
        controls: show.controls.clone(),
    }
}

/// A show of one clip that carries the chain.
fn stand_for(preset: Preset) -> Show {
    let clip = Clip { chain: preset.chain, ..Clip::generated(CHAIN_FOOTAGE) };
    let bundle = Bundle::of("chain", vec![Level::of("footage", clip)]);
    Show {
        name: preset.name,
        about: preset.about,
        tags: preset.tags,
        venue: String::new(),
        frame: CHAIN_FRAME,
        tempo_bpm: CHAIN_TEMPO_BPM,
        rate: FrameRate::default(),
        pixels: PixelMode::default(),
        bundles: vec![bundle],
        global: Chain::new(),
        controls: preset.controls,
        held: Vec::new(),
        reach_ms: USUAL_REACH_MS,
        sections: Vec::new(),
        running_order: Vec::new(),
        taken: Vec::new(),
        is_starter: false,
    }
}
