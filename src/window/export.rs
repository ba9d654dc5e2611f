//! Pictures, walls, sheets and reports written to files by a thread of their own: the window goes on meanwhile.

use std::collections::VecDeque;
use std::io::Cursor;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};

use image::{ImageFormat, RgbaImage};
use thiserror::Error;

use super::prover::{Gathered, Known};
use super::view::Saving;
use super::wall::facts_said;
use super::worker::{Errand, Said, Worker};
use crate::build_sheet::{BuildSheet, SheetError};
use crate::catalogue::Catalogue;
use crate::caution;
use crate::chain::labels;
use crate::files::{self, Made, Permit, WriteError};
use crate::footage::{FootageError, Picture, Shelf};
use crate::frame::{Frame, Moment};
use crate::gpu::{Budget, Gpu, GpuError, Renderer, Want};
use crate::measure::figure_said;
use crate::order::{Class, Facts, Proofs, Tree, marks};
use crate::plan;
use crate::report::{self, Report, ReportError};
use crate::show::{Scope, Show};
use crate::wall::{EffectKey, Tile, Wall, WallError, tile_size};

/// The frame of pictures on a sheet or a page, at most.
const PAGE: Frame = Frame { width: 640, height: 360 };
/// Over how many beats a report counts flashes.
const FLASHES_OVER_BEATS: f64 = 8.0;
/// The most pictures of an exported wall.
const MOST: usize = 240;

/// Why nothing was exported.
#[derive(Debug, Error)]
pub enum ExportError {
    /// No GPU.
    #[error("there is no GPU to render on")]
    NoGpu,
    /// The footage cannot be shown.
    #[error(transparent)]
    Footage(#[from] FootageError),
    /// The GPU failed, or the person gave it up.
    #[error(transparent)]
    Gpu(#[from] GpuError),
    /// The wall cannot be drawn.
    #[error(transparent)]
    Wall(#[from] WallError),
    /// The picture has no PNG.
    #[error("the picture could not be made into a PNG: {0}")]
    Png(#[from] image::ImageError),
    /// It is to be written as something that it cannot be.
    #[error("{}: this is written as {}; name it {}", .0.display(), listed_endings(.1), .0.with_extension(.1[0]).display())]
    Ending(PathBuf, &'static [&'static str]),
    /// There is no build sheet.
    #[error(transparent)]
    Sheet(#[from] SheetError),
    /// There is no report.
    #[error(transparent)]
    Report(#[from] ReportError),
    /// The file was not written.
    #[error(transparent)]
    Write(#[from] WriteError),
    /// The thread could not be started, or its work broke off.
    #[error("the export ended before it was done: {0}; try it again")]
    Ended(String),
}

impl ExportError {
    /// Whether the person gave it up.
    pub fn is_given_up(&self) -> bool {
        matches!(
            self,
            Self::Gpu(GpuError::Stopped)
                | Self::Sheet(SheetError::Gpu(GpuError::Stopped))
                | Self::Report(ReportError::Gpu(GpuError::Stopped))
        )
    }
}

/// What is exported, of a scope of a show at a moment.
#[derive(Debug, Clone)]
pub struct Export {
    /// What is written.
    pub saving: Saving,
    /// The show.
    pub show: Arc<Show>,
    /// Whose chain.
    pub scope: Scope,
    /// When, and at what size.
    pub moment: Moment,
    /// The order of the chain, for a picture.
    pub order: Vec<usize>,
    /// The files that the show is made from: none is replaced.
    pub made_from: Vec<PathBuf>,
    /// What is known of the chain's orders, for a wall.
    pub known: Option<Arc<Known>>,
    /// The file.
    pub path: PathBuf,
}

impl Export {
    /// The ending of its file, which is one that it can be written as.
    fn ending(&self) -> Result<&'static str, ExportError> {
        let endings: &[&str] = match self.saving {
            Saving::Sheet => &["svg", "png", "txt"],
            Saving::Report => &["html"],
            Saving::Wall | Saving::Picture => &["png"],
            Saving::Work | Saving::Chain => &["toml"],
        };
        let found = self.path.extension().unwrap_or_default();
        let known = endings.iter().find(|ending| found.eq_ignore_ascii_case(ending));
        known.copied().ok_or_else(|| ExportError::Ending(self.path.clone(), endings))
    }

    /// What it may replace: what the person was asked about, but nothing that the show is made from.
    fn permit(&self) -> Result<Permit, ExportError> {
        Ok(Permit::new(Made::Again(self.ending()?), true).reading(self.made_from.clone()))
    }

    /// Whether it can be written there, as things are now.
    ///
    /// # Errors
    /// [`ExportError::Ending`] and [`ExportError::Write`].
    pub fn check(&self) -> Result<(), ExportError> {
        let taken = |why| WriteError::Taken { path: self.path.display().to_string(), why };
        self.permit()?.check(&self.path).map_err(taken)?;
        Ok(files::check(&self.path)?)
    }
}

/// An export that has ended.
#[derive(Debug)]
pub struct Exported {
    /// What it was.
    pub saving: Saving,
    /// The file.
    pub path: PathBuf,
    /// How it ended; on an error no file was written.
    pub result: Result<(), ExportError>,
}

/// The export on its way.
struct Running {
    saving: Saving,
    path: PathBuf,
    errand: Errand,
    /// From 0 to 1.
    share: f32,
}

/// What is said on the way to the end: the share that is done.
enum Word {
    Share(f32),
    Written(Result<(), ExportError>),
}

/// Exports, one after the other.
#[derive(Default)]
pub struct Exports {
    waiting: VecDeque<Export>,
    worker: Option<Worker<Job, Word>>,
    running: Option<Running>,
}

struct Job {
    export: Box<Export>,
    catalogue: Catalogue,
}

/// An export on its way, for the bottom line.
#[derive(Debug, Clone, PartialEq)]
pub struct OnTheWay {
    /// What is exported.
    pub saving: Saving,
    /// How far it has come, 0 to 1.
    pub share: f32,
    /// How many more wait for it.
    pub waiting: usize,
}

impl Exports {
    /// Puts an export behind those that are on their way.
    pub fn ask(&mut self, export: Export) {
        self.waiting.push_back(export);
    }

    /// Gives up the export that is on its way.
    pub fn give_up(&mut self) {
        if let Some(running) = &self.running {
            running.errand.give_up();
        }
    }

    /// The export on its way.
    pub fn on_the_way(&self) -> Option<OnTheWay> {
        let Running { saving, share, .. } = self.running.as_ref()?;
        Some(OnTheWay { saving: *saving, share: *share, waiting: self.waiting.len() })
    }

    /// Takes what has ended, and begins the next.
    pub fn go_on(
        &mut self,
        gpu: Option<&Gpu>,
        catalogue: &Catalogue,
        ctx: &egui::Context,
    ) -> Option<Exported> {
        let mut ended = None;
        while let Some((number, said)) = self.worker.as_mut().and_then(Worker::hear) {
            let Some(running) = self.running.take_if(|running| running.errand.is(number)) else { continue };
            let result = match said {
                Said::Part(Word::Share(share)) => {
                    self.running = Some(Running { share, ..running });
                    continue;
                }
                Said::Part(Word::Written(result)) | Said::Finished(Word::Written(result)) => result,
                Said::Finished(Word::Share(_)) => Ok(()),
                Said::GaveWay => Err(GpuError::Stopped.into()),
                Said::Failed(why) => Err(ExportError::Ended(why)),
            };
            ended = Some(Exported { saving: running.saving, path: running.path, result });
        }
        if self.running.is_none()
            && let Some(export) = self.waiting.pop_front()
        {
            let (saving, path) = (export.saving, export.path.clone());
            let worker = self.worker.get_or_insert_with(|| worker(gpu.map(Gpu::sibling), ctx.clone()));
            let errand = worker.ask(Job { export: Box::new(export), catalogue: catalogue.clone() });
            self.running = Some(Running { saving, path, errand, share: 0.0 });
        } else if ended.is_some() {
            // What it rendered with takes memory that others can use.
            self.worker = None;
        }
        ended
    }
}

fn worker(gpu: Option<Gpu>, ctx: egui::Context) -> Worker<Job, Word> {
    let begin = move || {
        let renderer = gpu.as_ref().map(|gpu| {
            let mut renderer = Renderer::new(gpu.sibling());
            renderer.give_way();
            renderer
        });
        Ok(renderer)
    };
    let wake = move || ctx.request_repaint();
    Worker::new("export", wake, begin, |renderer: &mut Option<Renderer>, job: Job, task| {
        let Some(renderer) = renderer else { return Ok(Word::Written(Err(ExportError::NoGpu))) };
        let stop = task.stop();
        renderer.stop_when(Arc::clone(&stop));
        let done = |share: f32| task.tell_progress(Word::Share(share));
        Ok(Word::Written(written(&job.export, renderer, &job.catalogue, &stop, done)))
    })
}

fn written(
    export: &Export,
    renderer: &mut Renderer,
    catalogue: &Catalogue,
    stop: &Arc<AtomicBool>,
    done: impl Fn(f32),
) -> Result<(), ExportError> {
    let Export { show, scope, moment, .. } = export;
    let mut shelf = Shelf::new(catalogue);
    let is_stopped = Arc::clone(stop);
    shelf.give_up_when(move || is_stopped.load(Ordering::Relaxed));
    let bytes = match export.saving {
        Saving::Sheet => {
            let moment = Moment { frame: moment.frame.within(PAGE), ..*moment };
            BuildSheet::of_show(renderer, &mut shelf, show, moment)?.written(export.ending()?)?
        }
        Saving::Report => {
            let moment = Moment { frame: moment.frame.within(PAGE), ..*moment };
            let report =
                Report::of_show(renderer, &mut shelf, show, *scope, moment, FLASHES_OVER_BEATS, done)?;
            report::page(&report)?.html().into_bytes()
        }
        Saving::Wall => {
            let planned = plan::Path::of_scope(show, *scope, *moment, &mut shelf)?;
            png(&wall(export, &planned, renderer, done)?)?
        }
        Saving::Picture | Saving::Work | Saving::Chain => {
            let planned = plan::Path::of_scope(show, *scope, *moment, &mut shelf)?;
            png(&image_of(&renderer.picture(&planned, &export.order)?)?)?
        }
    };
    if stop.load(Ordering::Relaxed) {
        return Err(GpuError::Stopped.into());
    }
    Ok(files::write_permitted(&export.path, &bytes, export.permit()?)?)
}

fn listed_endings(endings: &[&str]) -> String {
    let endings: Vec<String> = endings.iter().map(|ending| format!(".{ending}")).collect();
    match endings.split_last() {
        Some((last, [])) => last.clone(),
        Some((last, others)) => format!("{} or {last}", others.join(", ")),
        None => String::new(),
    }
}

fn png(picture: &RgbaImage) -> Result<Vec<u8>, ExportError> {
    let mut bytes = Vec::new();
    picture.write_to(&mut Cursor::new(&mut bytes), ImageFormat::Png)?;
    Ok(bytes)
}

/// The wall of a scope's chain, by looks where they are known.
fn wall(
    export: &Export,
    planned: &plan::Path,
    renderer: &mut Renderer,
    done: impl Fn(f32),
) -> Result<RgbaImage, ExportError> {
    let Export { show, scope, moment, .. } = export;
    let known = export.known.as_ref().filter(|known| known.is_like(planned));
    let (proofs, classes) = match known {
        Some(known) => (known.proofs.clone(), known.classes.clone()),
        None => {
            let maps = renderer.index_maps(&planned.chain, moment)?;
            let facts = Facts { chain: &planned.chain, moment, opaque: planned.opaque, maps: &maps };
            let proofs = Proofs::of(&facts);
            let classes = proofs.classes.all();
            (proofs, classes)
        }
    };
    let (names, marks) = (labels(&planned.chain), marks(&planned.chain));
    let looks = known.and_then(|known| known.looks.as_deref()).filter(|looks| looks.is_of_now);
    let mut shown = match looks {
        Some(looks) => by_look(looks),
        None => (0..classes.len()).collect(),
    };
    shown.truncate(MOST);
    let grid = tile_size(moment.frame, shown.len());
    let frame = moment.frame;
    let size = Frame { width: grid.width.min(frame.width), height: grid.height.min(frame.height) };
    let want = Want::Tiles { size, most: shown.len() };
    let orders: Vec<Class> = shown.iter().map(|&class| classes[class].clone()).collect();
    let tree = Tree::of(&orders, |effect| proofs.idle[effect].is_some());
    let progress = |count: usize| done(count as f32 / orders.len().max(1) as f32);
    let finished = renderer.explore(planned, &tree, want, Budget::default(), progress)?;
    let mut tiles = Vec::with_capacity(shown.len());
    for (&class, finished) in shown.iter().zip(&finished) {
        let Some(picture) = &finished.picture else { continue };
        let picture = grid.tile(&image_of(picture)?)?;
        let mut notes = Vec::new();
        if class == 0 {
            notes.push("the present order".to_owned());
        }
        notes.extend(looks.and_then(|looks| look_note(looks, class, &names)));
        let note = (!notes.is_empty()).then(|| notes.join("; "));
        tiles.push(Tile {
            picture,
            order: classes[class].order.clone(),
            code: marks.code(&classes[class].order),
            note,
        });
    }
    let effects = planned.chain.iter().enumerate().map(|(at, used)| EffectKey {
        label: names[at].clone(),
        mark: marks.of(at),
        settings: used.written_changes().join(", "),
        idle: proofs.idle[at].clone(),
    });
    let mut facts = vec![format!("{}, beat {:.2}, {frame}", show.address(*scope), moment.beats)];
    if let Some(looks) = looks {
        let more = if looks.is_complete { "" } else { "more than " };
        let count = looks.looks.len();
        let plural = if count == 1 { "" } else { "s" };
        facts.push(format!(
            "{} orders that can differ, {more}{count} look{plural}, told apart on {}; the most different from the present order first",
            classes.len(),
            looks.looked_at
        ));
    }
    let sheet = Wall {
        title: show.name.clone(),
        facts,
        effects: effects.collect(),
        notes: if shown.len() < classes.len() {
            vec![left_out_said(shown.len(), classes.len(), looks)]
        } else {
            Vec::new()
        },
        tiles,
        caution: caution::of_show(show).map(str::to_owned),
    };
    Ok(sheet.drawn()?)
}

/// Which orders a wall leaves out, where not every one fits.
fn left_out_said(shown: usize, classes: usize, looks: Option<&Gathered>) -> String {
    match looks {
        None => format!("{shown} of {classes} orders that can differ; looks are not told apart yet."),
        Some(looks) if looks.is_complete => format!(
            "One picture for each of the {shown} looks, of {classes} orders that can differ; every order left out looks like one of these."
        ),
        Some(_) => format!(
            "One picture for each of {shown} looks, of {classes} orders that can differ; there are more looks than are told apart."
        ),
    }
}

/// The classes look by look, the one that stands for it first; where not all fit, only those.
fn by_look(looks: &Gathered) -> Vec<usize> {
    if looks.of.len() > MOST {
        return looks.looks.iter().map(|look| look.class).collect();
    }
    let others = |number: usize, class: usize| {
        (0..looks.of.len()).filter(move |&other| looks.of[other] == number && other != class)
    };
    let whole = |look: &super::prover::Look| {
        std::iter::once(look.class).chain(others(look.number, look.class)).collect::<Vec<_>>()
    };
    looks.looks.iter().flat_map(whole).collect()
}

/// "look 2 of 3 orders: tint before edge-find", under the picture that stands for it; "look 2" under others.
fn look_note(looks: &Gathered, class: usize, names: &[String]) -> Option<String> {
    let place = looks.looks.iter().position(|look| look.number == looks.of[class])?;
    let look = &looks.looks[place];
    if look.class != class {
        return Some(format!("look {}", place + 1));
    }
    let facts = facts_said(&look.facts, names);
    let decides = if facts.is_empty() { String::new() } else { format!(": {facts}") };
    let orders = if look.classes == 1 { "1 order".to_owned() } else { format!("{} orders", look.classes) };
    let far = match look.mean {
        Some(mean) if place != 0 => format!(", mean CIEDE2000 {}", figure_said(mean, 1)),
        _ => String::new(),
    };
    Some(format!("look {}, {orders}{far}{decides}", place + 1))
}

fn image_of(picture: &Picture) -> Result<RgbaImage, ExportError> {
    let Frame { width, height } = picture.frame;
    RgbaImage::from_raw(width, height, picture.rgba.clone())
        .ok_or_else(|| GpuError::Refused(format!("too few bytes came back for {width}x{height}")).into())
}

/// A file's name without its folder, for the bottom line.
pub fn file_name(path: &Path) -> String {
    path.file_name().unwrap_or(path.as_os_str()).to_string_lossy().into_owned()
}
