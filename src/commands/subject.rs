//! What a command works on: a chain or a show, on footage, at a moment, on a GPU.

use std::convert::Infallible;
use std::path::{Path, PathBuf};

use clap::Args;

use super::library::{scanned, worded};
use super::output::whole;
use super::{WrongWords, note};
use crate::base::doing::doing;
use crate::base::embedded;
use crate::base::frame::{Frame, PixelMode};
use crate::base::inputs::note_read;
use crate::base::picture::Picture;
use crate::base::place::{did_you_mean, listed, shortened};
use crate::beat::{Beats, FrameRate, Moment};
use crate::catalogue::{Catalogue, Effect};
use crate::edit::Work;
use crate::files::{Document, FileError, Original};
use crate::footage::{FootageError, Shelf, Shown};
use crate::gpu::{ADAPTER_VARIABLE, Gpu, GpuError, Renderer};
use crate::library::{Kind, LIBRARY};
use crate::order::{Marks, marks};
use crate::output::orders_wall::quoted;
use crate::plan::memory::Needed;
use crate::plan::{Path as PicturePath, memory};
use crate::readiness::caution;
use crate::show::chain::{EffectUse, labels};
use crate::show::clip::{Fit, FootageName, Play};
use crate::show::{Scope, ScopeError, Show};
use crate::trial::Trials;
use crate::{files, footage, plan};

/// What a preset's name opens with.
const PRESET: &str = "preset:";
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
    footage: Option<String>,
    /// How footage of another size is placed: fill, fit, stretch or centre
    #[arg(long, value_enum)]
    fit: Option<Fit>,
    /// Size of the picture, width x height in texels
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
    /// A folder of .wgsl files: effects of your own
    #[arg(long, value_name = "FOLDER")]
    effects: Option<PathBuf>,
    /// Memory that pictures may take, in MiB: orders share 1024 where nothing is said, and no rendering takes more than 4096
    #[arg(long, value_name = "MIB", value_parser = |text: &str| whole(text, 1, MOST_MIB))]
    pub(super) memory: Option<u64>,
    /// Part of the name of the GPU adapter to use (`underover adapters` lists them)
    #[arg(long, value_name = "NAME-PART", env = ADAPTER_VARIABLE)]
    adapter: Option<String>,
}

/// What a command line names to be read: if it is a file, it is noted before an output is looked at.
#[expect(clippy::unnecessary_wraps, reason = "clap asks for a result")]
pub(super) fn read_here(text: &str) -> Result<String, Infallible> {
    note_read(Path::new(text));
    Ok(text.to_owned())
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

/// What the path is planned from, beside the document.
enum Source {
    Footage(FootageName, Fit),
    Scope(Scope),
}

/// A chain on its way to the output, with everything that is known of it.
pub(super) struct Subject {
    /// The file's own name for it.
    pub(super) name: String,
    pub(super) document: Document,
    /// The text that it was read from.
    original: Original,
    source: Source,
    /// The scope's address, for a show.
    pub(super) scope: Option<String>,
    /// What is under the chain, in words.
    pub(super) footage: String,
    pub(super) path: PicturePath,
    /// What is to be said where the frame is not the show's own.
    pub(super) frame_note: Option<String>,
    /// What is to be said where nobody named the scope.
    scope_note: Option<String>,
    warm_up: Option<f64>,
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
            footage: None,
            fit: None,
            frame: None,
            at: 0.0,
            pixels: None,
            warm_up: None,
            scope: None,
            effects: None,
            memory: None,
            adapter: std::env::var(ADAPTER_VARIABLE).ok().filter(|name| !name.is_empty()),
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
        let effects = self.effects.iter().map(|folder| folder.to_string_lossy().into_owned());
        words.extend(effects.flat_map(|folder| ["--effects".to_owned(), folder]));
        quoted(words.iter().map(String::as_str))
    }

    /// The frame that the command line names, or this one.
    pub(super) fn frame_or(&self, frame: Frame) -> Frame {
        self.frame.unwrap_or(frame)
    }

    /// Whether the command line names a scope.
    pub(super) fn names_scope(&self) -> bool {
        self.scope.is_some()
    }

    /// Opens a show at its output; a chain is refused with `why` a show is needed.
    pub(super) fn open_show(&self, why: &str) -> anyhow::Result<(Show, Subject)> {
        let (original, catalogue) = self.read()?;
        let Document::Show(show) = original.document() else {
            return Err(WrongWords(format!("{} is a chain, and {why}", self.file)).into());
        };
        let (show, options) = (show.clone(), self.clone().in_scope("global"));
        let subject = options.of_document(original, catalogue, show.frame)?;
        Ok((show, subject))
    }

    /// Opens a show or a chain as a show, for what concerns the whole output; a chain lies on a clip.
    pub(super) fn open_whole(&self, chain_frame: Frame) -> anyhow::Result<(Show, Subject)> {
        if self.scope.is_some() {
            return Err(WrongWords(
                "--scope: this looks at the whole output, to which every scope belongs; leave it out"
                    .to_owned(),
            )
            .into());
        }
        let (original, catalogue) = self.read()?;
        let options = match original.document() {
            Document::Show(_) => self.clone().in_scope("global"),
            Document::Chain(_) => self.clone(),
        };
        let subject = options.of_document(original, catalogue, chain_frame)?;
        Ok((subject.whole().0, subject))
    }

    /// Reads the file, finds the scope, plans its path and opens the GPU;
    /// `chain_frame` is the size where a chain is given none.
    pub(super) fn open(&self, chain_frame: Frame) -> anyhow::Result<Subject> {
        let (original, catalogue) = self.read()?;
        self.of_document(original, catalogue, chain_frame)
    }

    /// The document, read once: it may be a pipe.
    fn read(&self) -> anyhow::Result<(Original, Catalogue)> {
        let catalogue = catalogue(self.effects.as_deref(), self.adapter.as_deref())?;
        Ok((read_original(&self.file, &catalogue)?, catalogue))
    }

    fn of_document(
        &self,
        original: Original,
        catalogue: Catalogue,
        chain_frame: Frame,
    ) -> anyhow::Result<Subject> {
        let document = original.document().clone();
        let mut shelf = Shelf::new(&catalogue);
        let renderer = Renderer::new(opened(self.adapter.as_deref())?);
        let pixels = self.pixels;
        let fit = self.fit;
        let beats = Beats::of_decimal(self.at);
        let moment =
            |frame, pixels, tempo_bpm, rate| Moment::at_beats(frame, pixels, tempo_bpm, rate, &beats);
        match document {
            Document::Chain(preset) => {
                if self.scope.is_some() {
                    return Err(WrongWords(format!(
                        "--scope: {} is a chain, and only a show has scopes; leave it out",
                        self.file
                    ))
                    .into());
                }
                let frame = self.frame.unwrap_or(chain_frame);
                renderer.gpu().check_frame(frame)?;
                let written = self.footage.as_deref().unwrap_or(DEFAULT_FOOTAGE);
                let footage = FootageName::parsed(written, Path::new(""));
                let moment =
                    moment(frame, pixels.unwrap_or_default(), DEFAULT_TEMPO_BPM, FrameRate::default());
                let fit = fit.unwrap_or_default();
                let needed = Needed::of_chain(&preset.chain, &footage, frame, moment.pixels);
                self.check_memory(needed)?;
                let _doing = doing("reading footage");
                let path = PicturePath::of_chain(&preset.chain, &footage, fit, moment, &mut shelf)
                    .map_err(|error| footage_refused(error, written, &catalogue))?;
                Ok(Subject {
                    name: preset.name.clone(),
                    source: Source::Footage(footage.clone(), fit),
                    scope: None,
                    footage: footage.to_string(),
                    path: self.looking_back(path),
                    scope_note: None,
                    frame_note: None,
                    needed,
                    allowed_mib: self.allowed_mib(),
                    renderer,
                    caution: caution::of_chain(&preset.chain),
                    read: self.files_read([&footage]),
                    warm_up: self.warm_up,
                    shelf,
                    catalogue,
                    document: Document::Chain(preset),
                    original,
                })
            }
            Document::Show(mut show) => {
                let given = [("--footage", self.footage.is_some()), ("--fit", self.fit.is_some())];
                if let Some((option, _)) = given.into_iter().find(|&(_, given)| given) {
                    return Err(WrongWords(format!(
                        "{option}: {} is a show and names its own footage; change it in the file, or leave the option out",
                        self.file
                    ))
                    .into());
                }
                let scope = self.scope_of(&mut show)?;
                let frame = self.frame.unwrap_or(show.frame);
                renderer.gpu().check_frame(frame)?;
                let moment = moment(frame, pixels.unwrap_or(show.pixels), show.tempo_bpm, show.rate);
                let needed = Needed::of_show(&show, frame, moment.pixels);
                self.check_memory(needed)?;
                let reading = doing("reading footage");
                let path = PicturePath::of_scope(&show, scope, moment, &mut shelf)?;
                drop(reading);
                let frame_note = frame.instead_of(show.frame);
                let scope_note = self.scope.is_none().then(|| {
                    let address = show.address(scope);
                    format!("scope: {address} (the one with the most effects; --scope chooses)")
                });
                Ok(Subject {
                    name: show.name.clone(),
                    source: Source::Scope(scope),
                    scope: Some(show.address(scope)),
                    footage: show.address(scope),
                    path: self.looking_back(path),
                    scope_note,
                    frame_note,
                    needed,
                    allowed_mib: self.allowed_mib(),
                    warm_up: self.warm_up,
                    renderer,
                    caution: caution::of_show(&show),
                    read: self.files_read(footage_of(&show)),
                    shelf,
                    catalogue,
                    document: Document::Show(show),
                    original,
                })
            }
        }
    }

    fn allowed_mib(&self) -> u64 {
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

    /// The scope named, or the busiest; a clip that is hidden is brought to show.
    fn scope_of(&self, show: &mut Show) -> anyhow::Result<Scope> {
        let scope = match &self.scope {
            Some(address) => {
                show.scope_named(address).map_err(|error| scope_refused("--scope", &error, show))?
            }
            None => show.busiest_scope(),
        };
        if let Scope::Clip(b, l, c) = scope
            && !plan::is_showing(show, scope)
        {
            let level = &mut show.bundles[b].levels[l];
            note(&format!(
                "note: in this show `{}` hides `{}`, which is shown here instead",
                level.clips[level.showing].name, level.clips[c].name
            ));
            level.showing = c;
        }
        Ok(scope)
    }

    /// The chain or show file and the footage; presets and generated footage are no files.
    fn files_read<'a>(&self, footage: impl IntoIterator<Item = &'a FootageName>) -> Vec<PathBuf> {
        let own = (!self.file.starts_with(PRESET)).then(|| PathBuf::from(&self.file));
        let footage = footage.into_iter().filter_map(|name| match name {
            FootageName::File { path, .. } => Some(path.clone()),
            FootageName::Generated(_) | FootageName::StandIn(..) => None,
        });
        own.into_iter().chain(footage).collect()
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

    /// All of it as a show at its own frame, and the scope of the chain in it; a lone chain lies on a clip.
    pub(super) fn whole(&self) -> (Show, Scope) {
        let moment = self.path.moment;
        let work = Work::new(self.document.clone(), None);
        let mut show = Show::clone(work.show());
        let scope = match &self.source {
            Source::Scope(scope) => *scope,
            Source::Footage(footage, fit) => {
                let clip = &mut show.bundles[0].levels[0].clips[0];
                (clip.footage, clip.fit) = (footage.clone(), *fit);
                work.first_scope()
            }
        };
        (show.frame, show.pixels, show.tempo_bpm) = (moment.frame, moment.pixels, moment.tempo_bpm);
        (show, scope)
    }

    /// The chain's own text, with the comments of its effects.
    pub(super) fn text_of_chain(&self) -> Option<Original> {
        match &self.source {
            Source::Scope(scope) => self.original.of_scope(*scope),
            Source::Footage(..) => Some(self.original.clone()),
        }
    }

    /// The path at another moment: with the frames that lead up to it, or without.
    pub(super) fn path_at(&mut self, moment: Moment, with_past: bool) -> Result<PicturePath, FootageError> {
        let shelf = &mut self.shelf;
        let path = match (&self.document, &self.source) {
            (Document::Chain(preset), Source::Footage(footage, fit)) if with_past => {
                PicturePath::of_chain(&preset.chain, footage, *fit, moment, shelf)?
            }
            (Document::Chain(preset), Source::Footage(footage, fit)) => {
                PicturePath::of_chain_alone(&preset.chain, footage, *fit, moment, shelf)?
            }
            (Document::Show(show), Source::Scope(scope)) if with_past => {
                PicturePath::of_scope(show, *scope, moment, shelf)?
            }
            (Document::Show(show), Source::Scope(scope)) => {
                PicturePath::of_scope_alone(show, *scope, moment, shelf)?
            }
            // A subject is opened from the one with the one.
            _ => self.path.clone(),
        };
        Ok(match self.warm_up {
            Some(beats) => path.looking_back(beats),
            None => path,
        })
    }

    /// Whether any picture of it may be transparent anywhere, as far as is known before it is rendered. A show lies
    /// over black before its global chain.
    pub(super) fn may_be_transparent(&self) -> Result<bool, FootageError> {
        Ok(match (&self.document, &self.source) {
            (Document::Show(show), _) => !plan::keeps_alpha(show.chain(Scope::Global)),
            (Document::Chain(preset), Source::Footage(footage, _)) => {
                !self.path.opaque
                    || !plan::keeps_alpha(&preset.chain)
                    || self.shelf.may_be_transparent(footage)?
            }
            (Document::Chain(_), Source::Scope(_)) => true,
        })
    }

    /// Everything that the pictures depend on, as text: the document, and footage by path, size and age.
    pub(super) fn identity(&self) -> String {
        let mut text = match (&self.document, &self.source) {
            (Document::Chain(preset), Source::Footage(footage, fit)) => {
                format!("{}\n{footage} {}\n", files::chain_text(preset), fit.name())
            }
            (Document::Chain(preset), Source::Scope(_)) => files::chain_text(preset),
            (Document::Show(show), _) => files::show_text(show, Path::new("")),
        };
        let moment = &self.path.moment;
        let scope = self.scope.as_deref().unwrap_or("");
        text += &format!("{} {} {scope} {:?}\n", moment.frame, moment.pixels.name(), self.warm_up);
        for path in &self.read {
            text += &format!("{} {}\n", path.display(), footage::age_of(path));
        }
        for effect in self.catalogue.effects().iter().chain(self.catalogue.sources()) {
            text += &effect.source;
        }
        text
    }

    /// A picture file fitted to the frame, as footage is.
    pub(super) fn shown(&mut self, path: &Path) -> anyhow::Result<Picture> {
        let footage = FootageName::parsed(&path.to_string_lossy(), Path::new(""));
        match self.shelf.shown(&footage, Fit::Fill, &Play::default(), &self.path.moment)? {
            Shown::Pixels(picture) => Ok(Picture::clone(&picture)),
            Shown::Generated { .. } | Shown::Nothing => Ok(self.renderer.picture(
                &PicturePath::of_chain(&[], &footage, Fit::Fill, self.path.moment, &mut self.shelf)?,
                &[],
            )?),
        }
    }
}

fn footage_of(show: &Show) -> impl Iterator<Item = &FootageName> {
    let levels = show.bundles.iter().flat_map(|bundle| &bundle.levels);
    levels.flat_map(|level| &level.clips).map(|clip| &clip.footage)
}

/// A scope that the show does not have, with those that it has.
pub(super) fn scope_refused(option: &str, error: &ScopeError, show: &Show) -> WrongWords {
    let ScopeError::Form(written) = error else {
        return WrongWords(format!("{option}: {error}"));
    };
    let addresses: Vec<String> = show.scopes().into_iter().map(|scope| show.address(scope)).collect();
    // A name alone is a near miss of the address that ends in it.
    let named = addresses.iter().find(|address| address.rsplit([':', '/']).next() == Some(written.as_str()));
    let hint = match named {
        Some(address) => format!("; did you mean `{address}`?"),
        None => did_you_mean(written, addresses.iter().map(String::as_str)),
    };
    let known = listed(addresses.iter().map(String::as_str));
    WrongWords(format!("{option}: `{written}` is no scope of this show{hint} (it has {known})"))
}

/// Footage that the command line names and that is not there.
fn footage_refused(error: FootageError, written: &str, catalogue: &Catalogue) -> anyhow::Error {
    match error {
        FootageError::Source(error) => WrongWords(format!("--footage: {error}")).into(),
        FootageError::MissingFile { .. } if catalogue.source(written).is_ok() => {
            WrongWords(format!("--footage: there is no file {written}; did you mean `generated:{written}`?"))
                .into()
        }
        error => error.into(),
    }
}

/// Opens the GPU adapter named, or the best.
pub(super) fn opened(adapter: Option<&str>) -> anyhow::Result<Gpu> {
    let _doing = doing("opening the GPU");
    Gpu::open(adapter).map_err(|error| match error {
        GpuError::NoSuchAdapter { .. } => WrongWords(error.to_string()).into(),
        error => error.into(),
    })
}

/// The built-in effects, and those of a person's own: of their effects folder, and of a folder named. What is
/// wrong with any is told; each is tried before it is used for the first time.
pub(super) fn catalogue(own: Option<&Path>, adapter: Option<&str>) -> anyhow::Result<Catalogue> {
    let mut catalogue = untried_catalogue(own)?;
    let tell_trial = |effect: &Effect| note(&format!("trying the effect {} …", effect.name));
    let told = Trials::here(adapter.map(str::to_owned)).settle(&mut catalogue, tell_trial);
    for line in catalogue.problems().iter().map(|problem| &problem.reason).chain(&told) {
        note(&format!("note: {line}"));
    }
    Ok(catalogue)
}

/// The same, where nothing is rendered: what is wrong with a file is not told yet.
pub(super) fn untried_catalogue(own: Option<&Path>) -> anyhow::Result<Catalogue> {
    let mut catalogue = Catalogue::built_in()?;
    catalogue.add_own(own)?;
    Ok(catalogue)
}

/// Reads a file, a preset that travels inside the program, or a chain of the library.
pub(super) fn read(file: &str, catalogue: &Catalogue) -> anyhow::Result<Document> {
    Ok(read_original(file, catalogue)?.document().clone())
}

/// As [`read`], with the text, for what is written back.
pub(super) fn read_original(file: &str, catalogue: &Catalogue) -> anyhow::Result<Original> {
    if let Some(name) = file.strip_prefix(LIBRARY) {
        let library = scanned(catalogue);
        let entry = library.find(Kind::Chain, name).map_err(worded)?;
        return Ok(library.original(entry, catalogue)?);
    }
    let known = || embedded::CHAINS.iter().chain(embedded::SHOWS).copied();
    let Some(name) = file.strip_prefix(PRESET) else {
        return files::read_original_named(Path::new(file), catalogue).map_err(|error| match error {
            FileError::Missing { .. } if known().any(|(name, _)| name == file) => {
                WrongWords(format!("there is no file `{file}`; did you mean `{PRESET}{file}`?")).into()
            }
            error => error.into(),
        });
    };
    let names = || known().map(|(name, _)| name);
    let Some((_, text)) = known().find(|(known, _)| *known == name) else {
        return Err(WrongWords(format!(
            "there is no preset named `{name}`{} (known: {})",
            did_you_mean(name, names()),
            listed(names())
        ))
        .into());
    };
    let document = files::parse(text, file, Path::new(""), catalogue)?;
    Ok(Original::new(text, document, Path::new(""), catalogue))
}

/// Reads an order of a chain, each effect once: its code (21534), or marks or names set apart by commas.
pub(super) fn order_named(
    option: &str,
    written: &str,
    chain: &[EffectUse],
) -> Result<Vec<usize>, WrongWords> {
    let (labels, marks) = (labels(chain), marks(chain));
    let wrong = |message: String| WrongWords(format!("{option} {}: {message}", shortened(written)));
    let words = || written.split(',').map(str::trim).filter(|word| !word.is_empty());
    let is_code = |word: &str| word.bytes().all(|byte| byte.is_ascii_digit() || byte == b'.');
    if !written.contains(',') && is_code(written.trim()) && !labels.iter().any(|label| label == written) {
        return marks.order(written).map_err(|error| wrong(error.to_string()));
    }
    let mut order = Vec::with_capacity(chain.len());
    for word in words() {
        let by_mark = || word.parse().ok().and_then(|mark| marks.place(mark));
        let by_name = labels.iter().position(|label| label == word).or_else(|| only_named(word, chain));
        let Some(place) = by_name.or_else(by_mark) else {
            let what = not_in_chain(word, chain, &labels, &marks);
            return Err(wrong(if written.contains(',') {
                what
            } else {
                format!("{what}; {}", marks.wanted())
            }));
        };
        if order.contains(&place) {
            return Err(wrong(format!("`{}` is named twice; each effect is applied once", labels[place])));
        }
        order.push(place);
    }
    let missing: Vec<&str> =
        (0..chain.len()).filter(|place| !order.contains(place)).map(|place| labels[place].as_str()).collect();
    if missing.is_empty() {
        return Ok(order);
    }
    let verb = if missing.len() == 1 { "is" } else { "are" };
    Err(wrong(format!("{} {verb} missing; an order names every effect once", listed(missing))))
}

/// The one effect whose own name this is, whatever the person calls it.
fn only_named(word: &str, chain: &[EffectUse]) -> Option<usize> {
    let mut named = (0..chain.len()).filter(|&at| chain[at].effect.name == word);
    named.next().filter(|_| named.next().is_none())
}

/// Why a word names no effect of the chain.
fn not_in_chain(word: &str, chain: &[EffectUse], labels: &[String], marks: &Marks) -> String {
    let mark = |at: usize| marks.of(at).to_string();
    let twins: Vec<String> = (0..chain.len()).filter(|&at| chain[at].effect.name == word).map(mark).collect();
    if !twins.is_empty() {
        return format!("`{word}` has the marks {}; name it by its mark", twins.join(" and "));
    }
    let word = shortened(word);
    if chain.is_empty() {
        return format!("there is no `{word}`: the chain has no effect; leave it out");
    }
    let known: Vec<String> = (0..chain.len()).map(|at| format!("{} {}", mark(at), labels[at])).collect();
    format!(
        "the chain has no effect `{word}`{} (it has {})",
        did_you_mean(&word, labels.iter().map(String::as_str)),
        known.join(", ")
    )
}
