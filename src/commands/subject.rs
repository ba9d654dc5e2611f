//! What a command works on: a chain or a show, on footage, at a moment, on a GPU.

use std::path::{Path, PathBuf};

use clap::Args;

use super::documents::{Documents, PRESET, read_here, scope_refused};
use super::edited::section_named;
use super::opened::Opened;
use super::output::whole;
use super::{WrongWords, note};
use crate::base::absent::Absent;
use crate::base::cache::Caches;
use crate::base::doing::doing;
use crate::base::frame::{Frame, PixelMode};
use crate::base::picture::Picture;
use crate::beat::{Beats, FrameRate, Moment};
use crate::catalogue::Catalogue;
use crate::edit::Work;
use crate::explore::find::sizes::shown_alone;
use crate::files::{Document, Original};
use crate::footage::{FootageError, Shelf};
use crate::gpu::{ADAPTER_VARIABLE, Gpu, GpuError, Renderer};
use crate::library::LIBRARY;
use crate::output::orders_wall::quoted;
use crate::output::wall::Striped;
use crate::plan::memory::Needed;
use crate::plan::{Path as PicturePath, Running, memory};
use crate::show::chain::Preset;
use crate::show::clip::{Fit, FootageName};
use crate::show::{Scope, Show};

/// The footage of a chain when none is named.
const DEFAULT_FOOTAGE: &str = "generated:harbour";
/// The tempo of a chain, which has none of its own.
const DEFAULT_TEMPO_BPM: f64 = 120.0;
/// How far from the start a moment may lie, in beats.
const MOST_BEATS: f64 = 1e9;
/// A tebibyte: more than any machine lends for pictures.
pub(super) const MOST_MIB: u64 = 1 << 20;

/// The options that every rendering command takes.
#[derive(Debug, Clone, Args)]
pub(super) struct SubjectOptions {
    /// A chain or show file, `preset:NAME` or `library:NAME`
    #[arg(value_parser = read_here)]
    file: String,
    /// Footage under a chain: a picture or film, a numbered sequence (sea-####.png), generated:NAME, or - for Y4M on standard input
    #[arg(long, value_name = "F", value_parser = read_here)]
    footage: Vec<String>,
    /// What becomes of footage of another size: it covers the whole frame, is contained in it, stretched to it, or centred in it
    #[arg(long, value_enum)]
    fit: Option<Fit>,
    /// Size of the picture, width x height in pixels
    #[arg(long, value_name = "WxH")]
    frame: Option<Frame>,
    /// Where the beat stands, such as 0.1; below 0 is before the start
    #[arg(long, value_name = "BEATS", default_value = "0", value_parser = beats, allow_negative_numbers = true)]
    at: f64,
    /// How pictures are held between effects: encoded-8bit or linear-float
    #[arg(long, value_name = "MODE")]
    pixels: Option<PixelMode>,
    /// Beats that effects which remember look back at most; without it, as far as they remember
    #[arg(long, value_name = "BEATS", value_parser = beats_back)]
    warm_up: Option<f64>,
    /// The scope of a show: global, bundle:NAME, level:BUNDLE/LEVEL or clip:BUNDLE/LEVEL/CLIP
    #[arg(long, value_name = "S")]
    scope: Option<String>,
    /// A section of a show: the show as it stands there
    #[arg(long, value_name = "NAME")]
    section: Option<String>,
    /// A folder of .wgsl files: effects of your own
    #[arg(long, value_name = "FOLDER")]
    effects: Option<PathBuf>,
    /// Memory that pictures may take, in MiB: orders share 1024 where nothing is said, and no rendering takes more than 4096
    #[arg(long, value_name = "MIB", value_parser = |text: &str| whole(text, 1, MOST_MIB))]
    pub(super) memory: Option<u64>,
    /// Part of the name of the GPU adapter to use (`underover adapters` lists them)
    #[arg(long, value_name = "NAME-PART", env = ADAPTER_VARIABLE)]
    adapter: Option<String>,
    #[arg(skip)]
    works_anew: bool,
}

/// Whether a word names a chain or a show, and no footage.
fn is_document(word: &str) -> bool {
    let ending = Path::new(word).extension();
    word.starts_with(PRESET) || word.starts_with(LIBRARY) || ending.is_some_and(|ending| ending == "toml")
}

fn beats(text: &str) -> Result<f64, String> {
    match text.parse::<f64>() {
        // A day at 999 BPM is 1.4 million beats; far past that a phase would lose its digits.
        Ok(beats) if beats.abs() <= MOST_BEATS => Ok(beats),
        _ => Err(format!("a number of beats from -{MOST_BEATS} to {MOST_BEATS} is wanted, such as 0.1")),
    }
}

fn beats_back(text: &str) -> Result<f64, String> {
    match beats(text) {
        Ok(beats) if beats >= 0.0 => Ok(beats),
        _ => Err(format!("a number of beats from 0 to {MOST_BEATS} is wanted, such as 4")),
    }
}

/// A chain on its way to the output, with everything that is known of it.
pub(super) struct Subject {
    /// The file's own name for it.
    pub(super) name: String,
    pub(super) opened: Opened,
    /// The text that it was read from.
    original: Original,
    /// The section in which the show is looked at.
    pub(super) section: Option<String>,
    /// The running order, where the whole of it is looked at and not the show as it stands.
    pub(super) running: Option<Running>,
    /// What is under the chain, in words: a show's scope by its address.
    pub(super) footage: String,
    pub(super) path: PicturePath,
    /// What is to be said where the frame is not the show's own.
    pub(super) frame_note: Option<String>,
    /// What is to be said where nobody named the scope.
    scope_note: Option<String>,
    pub(super) warm_up: Option<f64>,
    /// What one picture of it takes in memory, and what may be taken.
    needed: Needed,
    allowed_mib: u64,
    pub(super) renderer: Renderer,
    /// Where its footage comes from, and more could.
    pub(super) shelf: Shelf,
    pub(super) catalogue: Catalogue,
    pub(super) caution: Option<&'static str>,
    /// The files that it comes from: no output may replace them.
    pub(super) read: Vec<PathBuf>,
}

impl SubjectOptions {
    pub(super) fn built_in(preset: &str) -> Self {
        Self {
            file: format!("{PRESET}{preset}"),
            footage: Vec::new(),
            fit: None,
            frame: None,
            at: 0.0,
            pixels: None,
            warm_up: None,
            scope: None,
            section: None,
            effects: None,
            memory: None,
            adapter: std::env::var(ADAPTER_VARIABLE).ok().filter(|name| !name.is_empty()),
            works_anew: false,
        }
    }

    pub(super) fn on(self, adapter: Option<String>) -> Self {
        Self { adapter, ..self }
    }

    pub(super) fn in_scope(self, address: &str) -> Self {
        Self { scope: Some(address.to_owned()), ..self }
    }

    pub(super) fn at(self, beats: f64, frame: Frame) -> Self {
        Self { at: beats, frame: Some(frame), ..self }
    }

    /// The same options for another file, at a frame.
    pub(super) fn of(&self, file: &str, frame: Frame) -> Self {
        Self { file: file.to_owned(), frame: Some(frame), ..self.clone() }
    }

    /// The file, the scope where it is in a show, and the folder of effects, as a command line names them.
    pub(super) fn words(&self, scope: Option<&str>) -> String {
        let mut words = vec![self.file.clone()];
        words.extend(scope.into_iter().flat_map(|scope| ["--scope".to_owned(), scope.to_owned()]));
        words.extend(self.section.iter().flat_map(|name| ["--section".to_owned(), name.clone()]));
        let effects = self.effects.iter().map(|folder| folder.to_string_lossy().into_owned());
        words.extend(effects.flat_map(|folder| ["--effects".to_owned(), folder]));
        quoted(words.iter().map(String::as_str))
    }

    /// The same, where nothing is looked up that was worked out before: for whoever times it.
    pub(super) fn anew(self) -> Self {
        Self { works_anew: true, ..self }
    }

    /// The frame that the command line names, or this one.
    pub(super) fn frame_or(&self, frame: Frame) -> Frame {
        self.frame.unwrap_or(frame)
    }

    /// The file that the command line names.
    pub(super) fn file(&self) -> &str {
        &self.file
    }

    /// The footage that the command line names.
    pub(super) fn footage_named(&self) -> &[String] {
        &self.footage
    }

    /// The same options where the file may stand behind several pieces of footage, as if it were one of them.
    pub(super) fn file_first(&self) -> Result<Self, WrongWords> {
        if !self.file.is_empty() {
            return Ok(self.clone());
        }
        let (file, footage) = match self.footage.split_last() {
            Some((last, rest)) if is_document(last) => (last, rest),
            _ => {
                return Err(WrongWords(
                    "name a chain or show file, or a preset: underover orders FILE --footage a.jpg b.jpg"
                        .to_owned(),
                ));
            }
        };
        Ok(Self { file: file.clone(), footage: footage.to_vec(), ..self.clone() })
    }

    /// The same options on one piece of footage.
    pub(super) fn on_footage(&self, written: &str) -> Self {
        Self { footage: vec![written.to_owned()], ..self.clone() }
    }

    /// Whether the command line names a scope.
    pub(super) fn names_scope(&self) -> bool {
        self.scope.is_some()
    }

    /// The section that the command line names.
    pub(super) fn section(&self) -> Option<&str> {
        self.section.as_deref()
    }

    /// The same options for a section.
    pub(super) fn in_section_named(&self, name: &str) -> Self {
        Self { section: Some(name.to_owned()), ..self.clone() }
    }

    /// Opens a show at its output; a chain is refused with `why` a show is needed.
    pub(super) fn open_show(&self, why: &str) -> anyhow::Result<(Show, Subject)> {
        let documents = self.documents()?;
        let (show, original) = documents.show(&self.file, why)?;
        let options = self.clone().in_scope("global");
        let subject = options.of_document(original, &documents, show.frame)?;
        // As it stands in the section named.
        let Opened::Show { show, .. } = &subject.opened else { return Ok((show, subject)) };
        Ok((show.clone(), subject))
    }

    /// Opens a show or a chain as a show, for what concerns the whole output; a chain lies on a clip.
    pub(super) fn open_whole(
        &self,
        documents: &Documents,
        chain_frame: Frame,
    ) -> anyhow::Result<(Show, Subject)> {
        if self.scope.is_some() {
            return Err(WrongWords(
                "--scope: this looks at the whole output, to which every scope belongs; leave it out"
                    .to_owned(),
            )
            .into());
        }
        let original = documents.original(&self.file)?;
        let options = match original.document() {
            Document::Show(_) => self.clone().in_scope("global"),
            Document::Chain(_) => self.clone(),
        };
        let subject = options.of_document(original, documents, chain_frame)?;
        Ok((subject.whole().0, subject))
    }

    /// Reads the file, finds the scope, plans its path and opens the GPU;
    /// `chain_frame` is the size where a chain is given none.
    pub(super) fn open(&self, chain_frame: Frame) -> anyhow::Result<Subject> {
        self.open_by(&self.documents()?, chain_frame)
    }

    /// The same, where documents have been read before.
    pub(super) fn open_by(&self, documents: &Documents, chain_frame: Frame) -> anyhow::Result<Subject> {
        // The document is read once: it may be a pipe.
        self.of_document(documents.original(&self.file)?, documents, chain_frame)
    }

    /// What its documents are read by.
    pub(super) fn documents(&self) -> anyhow::Result<Documents> {
        Documents::tried(self.effects.as_deref(), self.adapter.as_deref())
    }

    pub(super) fn of_document(
        &self,
        original: Original,
        documents: &Documents,
        chain_frame: Frame,
    ) -> anyhow::Result<Subject> {
        let catalogue = &documents.catalogue;
        let gpu = opened(self.adapter.as_deref())?;
        let renderer = Renderer::new(if self.works_anew { gpu.keeping(None) } else { gpu });
        let opened = match original.document().clone() {
            Document::Chain(preset) => self.of_chain(preset)?,
            Document::Show(show) => self.of_show(self.in_section(show, documents)?)?,
        };
        let (frame, pixels, tempo_bpm, rate) = match &opened {
            Opened::Chain { .. } => {
                (chain_frame, PixelMode::default(), DEFAULT_TEMPO_BPM, FrameRate::default())
            }
            Opened::Show { show, .. } => (show.frame, show.pixels, show.tempo_bpm, show.rate),
        };
        let frame = self.frame_or(frame);
        renderer.gpu().check_frame(frame)?;
        let beats = Beats::of_decimal(self.at);
        let moment = Moment::at_beats(frame, self.pixels.unwrap_or(pixels), tempo_bpm, rate, &beats);
        let needed = opened.needed(&moment);
        self.check_memory(needed)?;
        let mut shelf = Shelf::new(catalogue);
        let reading = doing("reading footage");
        let path = opened.path(moment, &mut shelf).map_err(|error| match opened {
            Opened::Chain { .. } => self.footage_refused(error, catalogue),
            Opened::Show { .. } => error.into(),
        })?;
        drop(reading);
        let (frame_note, scope_note) = match &opened {
            Opened::Chain { .. } => (None, None),
            Opened::Show { show, scope } => {
                let address = show.address(*scope);
                let said = format!("scope: {address} (the one with the most effects; --scope chooses)");
                (frame.instead_of(show.frame), self.scope.is_none().then_some(said))
            }
        };
        // Presets and generated footage are no files.
        let own = (!self.file.starts_with(PRESET)).then(|| PathBuf::from(&self.file));
        Ok(Subject {
            name: opened.name().to_owned(),
            section: self.section.clone(),
            running: None,
            footage: opened.footage(),
            path: self.looking_back(path),
            frame_note,
            scope_note,
            warm_up: self.warm_up,
            needed,
            allowed_mib: self.allowed_mib(),
            renderer,
            caution: opened.caution(),
            read: own.into_iter().chain(opened.footage_files()).collect(),
            shelf,
            catalogue: catalogue.clone(),
            opened,
            original,
        })
    }

    /// The show as it stands in the section named, or as its file has it.
    fn in_section(&self, show: Show, documents: &Documents) -> anyhow::Result<Show> {
        let Some(name) = &self.section else { return Ok(show) };
        documents.in_section(&show, section_named("--section", name, &show)?)
    }

    fn of_chain(&self, preset: Preset) -> Result<Opened, WrongWords> {
        if let Some(name) = &self.section {
            return Err(WrongWords(format!(
                "--section {name}: {} is a chain, and only a show has sections; leave it out",
                self.file
            )));
        }
        if self.scope.is_some() {
            return Err(WrongWords(format!(
                "--scope: {} is a chain, and only a show has scopes; leave it out",
                self.file
            )));
        }
        if self.footage.len() > 1 {
            return Err(WrongWords(
                "--footage: this looks at one piece of footage, so name one; `underover orders` compares orders on several"
                    .to_owned(),
            ));
        }
        let footage = FootageName::parsed(self.footage_written(), Path::new(""));
        Ok(Opened::Chain { preset, footage, fit: self.fit.unwrap_or_default() })
    }

    fn of_show(&self, mut show: Show) -> Result<Opened, WrongWords> {
        let given = [("--footage", !self.footage.is_empty()), ("--fit", self.fit.is_some())];
        if let Some((option, _)) = given.into_iter().find(|&(_, given)| given) {
            return Err(WrongWords(format!(
                "{option}: {} is a show and names its own footage; change it in the file, or leave the option out (`underover orders --clips` looks at its clips in turn)",
                self.file
            )));
        }
        let scope = self.scope_of(&mut show)?;
        Ok(Opened::Show { show, scope })
    }

    fn footage_written(&self) -> &str {
        self.footage.first().map_or(DEFAULT_FOOTAGE, String::as_str)
    }

    /// Footage of a chain that cannot be shown, which the command line may name wrongly.
    fn footage_refused(&self, error: FootageError, catalogue: &Catalogue) -> anyhow::Error {
        let written = self.footage_written();
        match error {
            FootageError::Source(error) => WrongWords(format!("--footage: {error}")).into(),
            FootageError::Absent { absent: Absent { obstacle: None, .. } }
                if catalogue.source(written).is_ok() =>
            {
                WrongWords(format!(
                    "--footage: there is no file {written}; did you mean `generated:{written}`?"
                ))
                .into()
            }
            error => error.into(),
        }
    }

    pub(super) fn allowed_mib(&self) -> u64 {
        self.memory.unwrap_or(memory::USUAL_MIB)
    }

    /// Refuses what takes too much memory, before any of it is taken; says so where it is much.
    fn check_memory(&self, needed: Needed) -> anyhow::Result<()> {
        needed.within(self.allowed_mib())?;
        if let Some(much) = needed.much() {
            note(&format!("note: rendering at this size takes about {much} of memory"));
        }
        Ok(())
    }

    /// The path, its past cut short where `--warm-up` says so, which is said plainly.
    fn looking_back(&self, path: PicturePath) -> PicturePath {
        let Some(beats) = self.warm_up else { return path };
        let whole = path.warm_up_frames();
        let path = path.looking_back(beats);
        if path.warm_up_frames() < whole {
            note(&format!(
                "note: --warm-up {beats} begins {} frames before this moment; the effects remember {whole}, so this is not the picture of a show that has been playing",
                path.warm_up_frames()
            ));
        }
        path
    }

    /// The scope named, or the busiest; what does not show is brought to.
    fn scope_of(&self, show: &mut Show) -> Result<Scope, WrongWords> {
        let scope = match &self.scope {
            Some(address) => {
                show.scope_named(address).map_err(|error| scope_refused("--scope", &error, show))?
            }
            None => show.busiest_scope(),
        };
        if let Scope::Clip(b, l, c) = scope {
            let level = &show.bundles[b].levels[l];
            if level.showing != c {
                note(&format!(
                    "note: in this show the level shows `{}`; `{}` is shown here instead",
                    level.clips[level.showing].name, level.clips[c].name
                ));
            }
        }
        if show.lies_hidden(scope) {
            note(&format!("note: {} is hidden in this show, and is shown here", show.address(scope)));
        }
        show.bring_out(scope);
        Ok(scope)
    }
}

impl Subject {
    /// Says behind the work what all its pictures ask a person to keep in mind: a frame that is not the show's own,
    /// and flashing. An error stands alone.
    pub(super) fn closing_notes(&self) {
        self.scope_notes();
        if let Some(said) = &self.frame_note {
            note(&format!("note: {said}"));
        }
        if let Some(caution) = self.caution {
            note(caution);
        }
    }

    /// Says which scope was taken where nobody named one, behind the work: an error stands alone.
    pub(super) fn scope_notes(&self) {
        if let Some(said) = &self.scope_note {
            note(said);
        }
    }

    /// Refuses, before it begins, work that keeps so many finished pictures where that takes too much memory.
    pub(super) fn keeps(&self, pictures: usize) -> anyhow::Result<()> {
        Ok(self.needed.keeping(pictures).within(self.allowed_mib)?)
    }

    /// The scope's address, for a show.
    pub(super) fn scope(&self) -> Option<&str> {
        match self.opened {
            Opened::Chain { .. } => None,
            Opened::Show { .. } => Some(&self.footage),
        }
    }

    /// What is under the chain, as a wall names it.
    pub(super) fn source(&self) -> Striped {
        Striped::of(self.opened.colour(), &self.footage)
    }

    /// All of it as a show at its own frame, and the scope of the chain in it; a lone chain lies on a clip.
    pub(super) fn whole(&self) -> (Show, Scope) {
        self.whole_of(&self.opened)
    }

    /// The same of another piece of footage.
    pub(super) fn whole_of(&self, opened: &Opened) -> (Show, Scope) {
        let moment = self.path.moment;
        let (mut show, scope) = match opened {
            Opened::Show { show, scope } => (show.clone(), *scope),
            Opened::Chain { preset, footage, fit } => {
                let work = Work::new(Document::Chain(preset.clone()), None);
                let mut show = Show::clone(work.show());
                let clip = &mut show.bundles[0].levels[0].clips[0];
                (clip.footage, clip.fit) = (footage.clone(), *fit);
                (show, work.first_scope())
            }
        };
        (show.frame, show.pixels, show.tempo_bpm) = (moment.frame, moment.pixels, moment.tempo_bpm);
        (show, scope)
    }

    /// The text that it was read from.
    pub(super) fn original(&self) -> &Original {
        &self.original
    }

    /// The chain's own text, with the comments of its effects.
    pub(super) fn text_of_chain(&self) -> Option<Original> {
        match &self.opened {
            Opened::Show { scope, .. } => self.original.of_scope(*scope),
            Opened::Chain { .. } => Some(self.original.clone()),
        }
    }

    /// The path at another moment: with the frames that lead up to it, or without.
    pub(super) fn path_at(&mut self, moment: Moment, with_past: bool) -> Result<PicturePath, FootageError> {
        match &self.running {
            Some(running) => {
                let path = running.path(moment, with_past, &mut self.shelf)?;
                Ok(match self.warm_up {
                    Some(beats) => path.looking_back(beats),
                    None => path,
                })
            }
            None => planned(&self.opened, &mut self.shelf, self.warm_up, moment, with_past),
        }
    }

    /// The same where something else was opened in its place.
    pub(super) fn path_of(
        &self,
        opened: &Opened,
        shelf: &mut Shelf,
        moment: Moment,
        with_past: bool,
    ) -> Result<PicturePath, FootageError> {
        planned(opened, shelf, self.warm_up, moment, with_past)
    }

    /// A picture file fitted to the frame, as footage is.
    pub(super) fn shown(&mut self, path: &Path) -> anyhow::Result<Picture> {
        let footage = FootageName::parsed(&path.to_string_lossy(), Path::new(""));
        let moment = self.path.moment;
        Ok(shown_alone(&mut self.renderer, &mut self.shelf, &footage, moment)?)
    }
}

pub(super) fn planned(
    opened: &Opened,
    shelf: &mut Shelf,
    warm_up: Option<f64>,
    moment: Moment,
    with_past: bool,
) -> Result<PicturePath, FootageError> {
    let path = if with_past { opened.path(moment, shelf) } else { opened.path_alone(moment, shelf) }?;
    Ok(match warm_up {
        Some(beats) => path.looking_back(beats),
        None => path,
    })
}

/// Opens the GPU adapter named, or the best.
pub(super) fn opened(adapter: Option<&str>) -> anyhow::Result<Gpu> {
    let _doing = doing("opening the GPU");
    let opened = Gpu::open(adapter).map_err(|error| match error {
        GpuError::NoSuchAdapter { .. } => WrongWords(error.to_string()).into(),
        error => anyhow::Error::from(error),
    })?;
    Ok(opened.keeping(Caches::of_person()).left_to_the_system())
}
