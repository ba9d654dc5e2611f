//! What the window knows of the library, looked through on a thread of its own, and what is done with it there.

use std::collections::VecDeque;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::{Duration, Instant};

use egui::Context;

use super::packs::Packs;
use super::threads::documents::Documents;
use super::threads::starters::{KeptStarter, Starter, keep_starter};
use super::threads::thumbnails::Thumbnails;
use super::threads::worker::{Errand, News, Task, Worker};
use crate::catalogue::Catalogue;
use crate::edit::{Bring, Edit, Form, Put, SectionEdit, Way, Work};
use crate::files;
use crate::files::Document;
use crate::library::{
    Copied, Entry, Kind, LIBRARY, Library, LibraryError, Removed, Usage, content_of_chain, copies_in,
    handle_of, sections_naming,
};
use crate::show::chain::Preset;
use crate::show::{Scope, Show};

/// While it is shown, the library is looked through again after this long: other programs may have changed it.
const LOOK_AGAIN: Duration = Duration::from_secs(2);

/// Which of its lists the panel shows.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum List {
    #[default]
    Chains,
    Starters,
    /// Another show, to bring parts of it into this one.
    OtherShow,
    /// What was removed.
    Removed,
}

/// Where another show is looked for.
#[derive(Debug, Clone, PartialEq)]
pub enum ShowFrom {
    File(PathBuf),
    /// A show of the program.
    Preset(String),
    /// A starter of the library.
    Starter(String),
}

impl List {
    /// What its entries are.
    pub fn kind(self) -> Option<Kind> {
        match self {
            Self::Chains => Some(Kind::Chain),
            Self::Starters => Some(Kind::Starter),
            Self::OtherShow | Self::Removed => None,
        }
    }
}

/// What is done with the library.
#[derive(Debug, Clone, PartialEq)]
pub enum LibraryAct {
    /// Shows another of its lists.
    List(List),
    /// Chooses an entry, or none.
    Choose(Option<(Kind, String)>),
    /// Puts a copy of a chain onto a scope.
    Put {
        /// The chain's handle.
        handle: String,
        scope: Scope,
        /// Where it goes.
        way: Way,
        /// Whether the controls come along that it was kept with.
        with_controls: bool,
    },
    /// Keeps the chain of a scope under a name.
    Keep(Scope, String),
    /// Keeps the show as a starter under a name.
    KeepStarter(String),
    /// Gives an entry another name.
    Rename(Kind, String, String),
    /// Keeps a copy of an entry.
    Duplicate(Kind, String),
    /// Moves an entry to the bin.
    Remove(Kind, String),
    /// Moves what was removed, by its number, back.
    Restore(u64),
    /// Begins a show from a starter.
    Begin(String),
    /// Looks into another show.
    Look(ShowFrom),
    /// Chooses a part of it, or none.
    Part(Option<Scope>),
    /// Brings a part of it into the show.
    Bring(Box<Bring>),
    /// Asks the system for the folder in which the footage of its clips lies.
    ChooseFolder,
    /// Brings its clips into the show, as they are chosen.
    BringClips,
}

/// What comes of it.
pub enum Outcome {
    /// Nothing but what the panel shows.
    Shown,
    /// Words for the bottom line.
    Done(String),
    /// A change of the work, and words for the bottom line once it is done, if any.
    Edit(Edit, String),
    /// Other work.
    Begin(Box<Work>),
    /// It was not done, and why.
    Refused(String),
}

/// A show, the entries that it was compared with, and what came of it.
type Compared = (Arc<Show>, Arc<Vec<Entry>>, Arc<Vec<Copied>>);
/// Shows, each with its file.
type Shows = Vec<(PathBuf, Show)>;
/// What the library is looked through with: effects, and the shows opened lately.
type Look = (Catalogue, Vec<PathBuf>);
/// What a look at the library brings back.
type Looked = (Vec<Entry>, Vec<Removed>, Shows);

/// Looks through the library, and through shows for what they took from it.
fn looked_through(library: &mut Library, (catalogue, recent): &Look) -> Looked {
    library.scan(catalogue);
    // What cannot be read takes nothing from anywhere; opening it says why.
    let show = |file: &PathBuf| match files::read(file, catalogue) {
        Ok(Document::Show(show)) => Some((file.clone(), show)),
        _ => None,
    };
    (library.entries().to_vec(), library.removed(), recent.iter().filter_map(show).collect())
}

/// The library, as far as the window knows it.
pub struct Shelves {
    folders: [Option<PathBuf>; 2],
    looking: Option<Errand>,
    looker: Option<Worker<Look, Looked>>,
    looked: Option<Instant>,
    /// Why it could not be looked through.
    pub problem: Option<String>,
    /// Whether it was ever looked through: what was found stays shown while it is looked through again.
    is_known: bool,
    entries: Arc<Vec<Entry>>,
    removed: Arc<Vec<Removed>>,
    /// The shows opened lately, as their files are.
    shows: Shows,
    /// Which of them hold a copy of the entry that this was asked of last.
    usages: Option<(Entry, Arc<Vec<Usage>>)>,
    copies: Option<Compared>,
    /// Starters that wait to be kept, and the errand that keeps one.
    to_keep: VecDeque<Starter>,
    keeping: Option<Errand>,
    keeper: Option<Worker<Starter, KeptStarter>>,
    /// Small pictures.
    pub thumbnails: Thumbnails,
    /// Those of files that may become footage.
    pub stills: Thumbnails,
    /// What its entries hold.
    pub documents: Documents,
    /// What is searched for.
    pub search: String,
    /// What is listed.
    pub list: List,
    /// The entry chosen.
    pub chosen: Option<(Kind, String)>,
    /// The name under which something is kept, while it is written.
    pub name: Option<String>,
    /// The new name of the entry chosen, while it is written.
    pub new_name: Option<String>,
    /// The other show that is looked into.
    pub other: Option<Arc<Show>>,
    /// The part of it that is chosen.
    pub part: Option<Scope>,
    /// The file of another show, while it is written.
    pub other_file: String,
    /// The file of the one that is looked into, if it has one, and which shows opened lately have clips of it.
    other_path: Option<PathBuf>,
    pack_usages: Option<(Arc<Show>, Arc<Vec<Usage>>)>,
    /// Its clips, which are brought together.
    pub packs: Packs,
}

impl Shelves {
    /// The library in the folder `data`; what is known of it is remembered in the folder `state`.
    pub fn in_folders(data: Option<PathBuf>, state: Option<PathBuf>) -> Self {
        Self {
            looking: None,
            looker: None,
            looked: None,
            problem: None,
            is_known: false,
            entries: Arc::default(),
            removed: Arc::default(),
            shows: Vec::new(),
            usages: None,
            copies: None,
            to_keep: VecDeque::new(),
            keeping: None,
            keeper: None,
            thumbnails: Thumbnails::in_folders(data.clone(), state.clone()),
            stills: Thumbnails::default(),
            documents: Documents::in_folder(data.clone()),
            folders: [data, state],
            search: String::new(),
            list: List::default(),
            chosen: None,
            name: None,
            new_name: None,
            other: None,
            part: None,
            other_file: String::new(),
            other_path: None,
            pack_usages: None,
            packs: Packs::default(),
        }
    }

    /// Every entry that is known.
    pub fn entries(&self) -> &Arc<Vec<Entry>> {
        &self.entries
    }

    /// What was removed, the latest first.
    pub fn removed(&self) -> &Arc<Vec<Removed>> {
        &self.removed
    }

    /// Whether something is on its way that the panel lacks: the first look, or one after a change, or thumbnails.
    pub fn is_busy(&self) -> bool {
        (self.looking.is_some() && self.looked.is_none())
            || self.thumbnails.on_the_way() > 0
            || self.stills.on_the_way() > 0
            || self.is_keeping()
            || self.packs.is_looking()
    }

    /// Whether a starter is on its way into the library.
    pub fn is_keeping(&self) -> bool {
        self.keeping.is_some() || !self.to_keep.is_empty()
    }

    /// Has the next starter kept that waits; gives what became of the last.
    pub fn keep_starters(&mut self, ctx: &Context) -> Option<Outcome> {
        let mut outcome = None;
        while let Some((number, said)) = self.keeper.as_mut().and_then(Worker::hear) {
            if self.keeping.take_if(|errand| errand.is(number)).is_none() {
                continue;
            }
            self.looked = None;
            outcome = match said {
                News::Part(kept) | News::Finished(kept) => Some(match kept {
                    Ok((file, notes)) => match (notes.as_slice(), self.kept(Kind::Starter, &file)) {
                        ([], kept) => kept,
                        (notes, _) => Outcome::Done(format!("Kept, but look again: {}", notes.join("; "))),
                    },
                    Err(error) => Outcome::Refused(error.to_string()),
                }),
                News::GaveWay => None,
                News::Failed(why) => Some(Outcome::Refused(format!("The starter was not kept: {why}"))),
            };
        }
        if self.keeping.is_none() {
            self.keeping = self.to_keep.pop_front().map(|starter| {
                let ctx = ctx.clone();
                let wake = move || ctx.request_repaint();
                let work = |(): &mut (), starter, task: &Task<'_, KeptStarter>| keep_starter(starter, task);
                let keeper = || Worker::new("starters", wake, || Ok(()), work);
                self.keeper.get_or_insert_with(keeper).ask(starter)
            });
        }
        outcome
    }

    /// Has the footage looked for of clips that are to be brought; gives what became of the last.
    pub fn bring_clips(&mut self, work: &Work, ctx: &Context) -> Option<Outcome> {
        Some(match self.packs.take_in(work.show(), ctx)? {
            Ok(brought) if brought.is_new => Outcome::Edit(brought.edit, brought.said),
            Ok(brought) => Outcome::Done(brought.said),
            Err(why) => Outcome::Refused(why),
        })
    }

    /// Whether nothing is known yet.
    pub fn is_unknown(&self) -> bool {
        !self.is_known
    }

    /// Takes in what was found and made since.
    pub fn take_in(&mut self, ctx: &Context) {
        self.thumbnails.take_in(ctx);
        self.stills.take_in(ctx);
        self.documents.take_in();
        while let Some((number, said)) = self.looker.as_mut().and_then(Worker::hear) {
            if self.looking.take_if(|errand| errand.is(number)).is_none() {
                continue;
            }
            (self.looked, self.is_known, self.problem) = (Some(Instant::now()), true, None);
            match said {
                News::Part((entries, removed, shows)) | News::Finished((entries, removed, shows)) => {
                    (self.shows, self.usages, self.pack_usages) = (shows, None, None);
                    if *self.entries != entries {
                        self.entries = Arc::new(entries);
                    }
                    if *self.removed != removed {
                        self.removed = Arc::new(removed);
                    }
                }
                News::Failed(why) => self.problem = Some(why),
                News::GaveWay => {}
            }
        }
    }

    /// Has the library looked through where that was long ago: for as long as it is shown.
    /// Shows opened lately are looked through too, for what they took from it.
    pub fn keep_up(&mut self, catalogue: &Catalogue, recent: &[PathBuf], ctx: &Context) {
        match self.looked.map(|looked| LOOK_AGAIN.checked_sub(looked.elapsed())) {
            Some(Some(left)) => ctx.request_repaint_after(left),
            _ => self.look(catalogue, recent, ctx),
        }
    }

    fn look(&mut self, catalogue: &Catalogue, recent: &[PathBuf], ctx: &Context) {
        if self.looking.is_some() {
            return;
        }
        let looker = self.looker.get_or_insert_with(|| {
            let [data, state] = self.folders.clone();
            let ctx = ctx.clone();
            let begin = move || Ok(Library::new(data.as_deref(), state.as_deref()));
            let wake = move || ctx.request_repaint();
            Worker::new("library", wake, begin, |library, look, _| Ok(looked_through(library, &look)))
        });
        self.looking = Some(looker.ask((catalogue.clone(), recent.to_vec())));
    }

    /// The library, not looked through yet.
    pub fn fresh(&self) -> Library {
        let [data, state] = &self.folders;
        Library::new(data.as_deref(), state.as_deref())
    }

    /// What a show took from the library, and how it stands.
    pub fn copies(&mut self, show: &Arc<Show>) -> Arc<Vec<Copied>> {
        if let Some((of, entries, copies)) = &self.copies
            && Arc::ptr_eq(of, show)
            && Arc::ptr_eq(entries, &self.entries)
        {
            return Arc::clone(copies);
        }
        let copies = Arc::new(copies_in(show, &self.entries));
        self.copies = Some((Arc::clone(show), Arc::clone(&self.entries), Arc::clone(&copies)));
        copies
    }

    /// The shows opened lately that hold a copy of an entry.
    pub fn used_in(&mut self, entry: &Entry) -> Arc<Vec<Usage>> {
        if let Some((_, usages)) = self.usages.as_ref().filter(|(of, _)| of == entry) {
            return Arc::clone(usages);
        }
        let of_show = |(file, show): &(PathBuf, Show)| Usage::of(file, show, entry, &self.entries);
        let usages: Arc<Vec<Usage>> = Arc::new(self.shows.iter().filter_map(of_show).collect());
        self.usages = Some((entry.clone(), Arc::clone(&usages)));
        usages
    }

    /// The shows opened lately that have clips of another.
    pub fn used_in_pack(&mut self, pack: &Arc<Show>) -> Arc<Vec<Usage>> {
        if let Some((_, usages)) = self.pack_usages.as_ref().filter(|(of, _)| Arc::ptr_eq(of, pack)) {
            return Arc::clone(usages);
        }
        let others = self.shows.iter().filter(|(file, _)| Some(file) != self.other_path.as_ref());
        let usages: Vec<Usage> = others.filter_map(|(file, show)| Usage::of_pack(file, show, pack)).collect();
        let usages = Arc::new(usages);
        self.pack_usages = Some((Arc::clone(pack), Arc::clone(&usages)));
        usages
    }

    /// The entry with this handle; a person's own goes first.
    pub fn entry(&self, kind: Kind, handle: &str) -> Option<&Entry> {
        self.entries.iter().find(|entry| entry.kind == kind && entry.handle == handle)
    }

    /// Does something with the library; it is looked through again afterwards.
    pub fn act(&mut self, act: LibraryAct, work: &Work, catalogue: &Catalogue) -> Outcome {
        match act {
            LibraryAct::List(list) => {
                self.list = list;
                (self.name, self.new_name) = (None, None);
                return Outcome::Shown;
            }
            LibraryAct::Choose(chosen) => {
                (self.chosen, self.new_name) = (chosen, None);
                return Outcome::Shown;
            }
            LibraryAct::Look(source) => {
                return match self.look_into(&source, catalogue) {
                    Ok(show) => {
                        (self.other, self.part) = (Some(Arc::new(show)), None);
                        self.packs.forget();
                        self.other_path = match source {
                            ShowFrom::File(file) => Some(file),
                            ShowFrom::Preset(_) | ShowFrom::Starter(_) => None,
                        };
                        Outcome::Shown
                    }
                    Err(why) => Outcome::Refused(why),
                };
            }
            LibraryAct::Part(part) => {
                self.part = part;
                return Outcome::Shown;
            }
            LibraryAct::ChooseFolder => return Outcome::Shown,
            LibraryAct::BringClips => {
                let Some(other) = self.other.clone() else { return Outcome::Shown };
                return match self.packs.ask(&other) {
                    Ok(()) => Outcome::Shown,
                    Err(why) => Outcome::Refused(why),
                };
            }
            LibraryAct::Bring(bring) => {
                return match bring.done(work.show()) {
                    Ok((_, notes)) => Outcome::Edit(Edit::Bring(bring), notes.join("; ")),
                    Err(error) => Outcome::Refused(error.to_string()),
                };
            }
            _ => {}
        }
        let outcome =
            self.done(act, work, catalogue).unwrap_or_else(|error| Outcome::Refused(error.to_string()));
        self.looked = None;
        outcome
    }

    fn done(&mut self, act: LibraryAct, work: &Work, catalogue: &Catalogue) -> Result<Outcome, LibraryError> {
        let library = self.fresh();
        let entry = |kind: Kind, handle: &str| {
            let gone = || LibraryError::Gone(handle.to_owned());
            self.entry(kind, handle).cloned().ok_or_else(gone)
        };
        Ok(match act {
            LibraryAct::List(_)
            | LibraryAct::Choose(_)
            | LibraryAct::Look(_)
            | LibraryAct::Part(_)
            | LibraryAct::Bring(_)
            | LibraryAct::ChooseFolder
            | LibraryAct::BringClips => Outcome::Shown,
            LibraryAct::Put { handle, scope, way, with_controls } => {
                let entry = entry(Kind::Chain, &handle)?;
                let Document::Chain(preset) = library.document(&entry, catalogue)? else {
                    return Err(LibraryError::Gone(handle));
                };
                let taken = Some((format!("{LIBRARY}{handle}"), content_of_chain(&preset.chain)));
                let controls = with_controls.then_some(preset.controls);
                let put = Put { scope, chain: preset.chain, name: preset.name, taken, way, controls };
                let notes = put.done(work.show()).map(|(_, notes)| notes).unwrap_or_default();
                Outcome::Edit(Edit::Put(Box::new(put)), notes.join("; "))
            }
            LibraryAct::Keep(scope, name) => {
                let chain = work.show().chain(scope).clone();
                if chain.is_empty() {
                    return Err(LibraryError::Empty(name));
                }
                let file = library.keep_text(Kind::Chain, &name, |name| {
                    let (name, about, tags) = (name.to_owned(), String::new(), Vec::new());
                    let controls = work.as_preset(scope).controls;
                    work.chain_text(scope, &Preset { name, about, tags, chain: chain.clone(), controls })
                })?;
                self.kept(Kind::Chain, &file)
            }
            LibraryAct::KeepStarter(name) => {
                let said = format!("Keeping {name} as a starter: its footage is looked at …");
                self.to_keep.push_back(Starter {
                    work: work.clone(),
                    name,
                    library,
                    catalogue: catalogue.clone(),
                });
                Outcome::Done(said)
            }
            LibraryAct::Rename(kind, handle, name) => {
                let entry = entry(kind, &handle)?;
                let file = library.rename(&entry, &name)?;
                let named = self.named_by_sections(&entry, work);
                let now = format!("{LIBRARY}{}", handle_of(&file));
                let kept = self.kept(kind, &file);
                match (kept, named) {
                    (Outcome::Done(said), (own, others)) if !own.is_empty() || !others.is_empty() => {
                        let follow = if own.is_empty() {
                            ""
                        } else {
                            " The sections of this show that lay it follow."
                        };
                        let said = format!("{said}{follow}{others}");
                        let all =
                            own.into_iter().map(|(section, scope)| (section, scope, now.clone())).collect();
                        Outcome::Edit(Edit::Section(SectionEdit::Chains(all)), said)
                    }
                    (kept, _) => kept,
                }
            }
            LibraryAct::Duplicate(kind, handle) => {
                let file = library.duplicate(&entry(kind, &handle)?, None, catalogue)?;
                self.kept(kind, &file)
            }
            LibraryAct::Remove(kind, handle) => {
                let entry = entry(kind, &handle)?;
                library.remove(&entry)?;
                self.chosen = None;
                let (own, others) = self.named_by_sections(&entry, work);
                let own = match own.is_empty() {
                    true => "",
                    false => " Sections of this show lay it: their scopes keep their own chains until then.",
                };
                Outcome::Done(format!(
                    "Removed {handle}: it lies under Removed, and can be restored.{own}{others}"
                ))
            }
            LibraryAct::Restore(number) => {
                let file = library.restore(&library.find_removed(&number.to_string())?)?;
                Outcome::Done(format!("Restored as {}.", handle_of(&file)))
            }
            LibraryAct::Begin(handle) => {
                let entry = entry(Kind::Starter, &handle)?;
                Outcome::Begin(Box::new(Work::on(library.original(&entry, catalogue)?, None)))
            }
        })
    }

    /// The sections of the work that lay a chain by its name, and in words the shows opened lately whose sections do.
    fn named_by_sections(&self, entry: &Entry, work: &Work) -> (Vec<(usize, Scope)>, String) {
        if entry.kind != Kind::Chain {
            return (Vec::new(), String::new());
        }
        let others = self.shows.iter().filter(|(file, _)| Some(file.as_path()) != work.file());
        let others = others.filter(|(_, show)| !sections_naming(show, entry).is_empty());
        let others: Vec<String> = others
            .map(|(file, _)| file.file_name().unwrap_or_default().to_string_lossy().into_owned())
            .collect();
        let told = match others.is_empty() {
            true => String::new(),
            false => {
                format!(" Sections of {} lay it by its old name, and were not changed.", others.join(", "))
            }
        };
        (sections_naming(work.show(), entry), told)
    }

    /// Another show, or in words why it cannot be looked into.
    fn look_into(&self, source: &ShowFrom, catalogue: &Catalogue) -> Result<Show, String> {
        let work = match source {
            ShowFrom::File(file) => Work::open(file, catalogue).map_err(|error| error.to_string())?,
            ShowFrom::Preset(name) => Work::preset(name, catalogue)
                .map_err(|error| error.to_string())?
                .ok_or_else(|| format!("There is no show named {name} in the program."))?,
            ShowFrom::Starter(handle) => {
                let gone = || LibraryError::Gone(handle.clone()).to_string();
                let entry = self.entry(Kind::Starter, handle).cloned().ok_or_else(gone)?;
                let document = self.fresh().document(&entry, catalogue).map_err(|error| error.to_string())?;
                Work::new(document, None)
            }
        };
        match work.form() {
            Form::Show => Ok(Show::clone(work.show())),
            Form::Chain => Err(format!(
                "{} is a chain, and parts are brought from a show; a chain is put onto a scope from the list of chains.",
                work.show().name
            )),
        }
    }

    /// Chooses what was just kept, and says so.
    fn kept(&mut self, kind: Kind, file: &Path) -> Outcome {
        let handle = handle_of(file);
        self.chosen = Some((kind, handle.clone()));
        (self.name, self.new_name) = (None, None);
        Outcome::Done(format!("Kept in your library as {handle}."))
    }
}
