//! Pictures, walls, sheets and reports written to files by a thread of their own: the window goes on meanwhile.

use std::collections::VecDeque;
use std::io::Cursor;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};

use image::{ImageFormat, RgbaImage};
use thiserror::Error;

use super::worker::{Errand, News, Worker};
use crate::base::frame::Frame;
use crate::base::picture::Picture;
use crate::beat::Moment;
use crate::catalogue::Catalogue;
use crate::explore::Orders;
use crate::files::{FileKind, Permit, WriteError};
use crate::footage::{FootageError, Shelf};
use crate::gpu::{Budget, Gpu, GpuError, RenderError, Renderer};
use crate::order::LookLimits;
use crate::output::build_sheet::{BuildSheet, SheetError};
use crate::output::hanging::{Hanging, MOST_SHOWN, Sizes, Wanted};
use crate::output::orders_wall::{OrdersWall, keeping_said, left_out_said};
use crate::output::page::PAGE_BYTES;
use crate::output::report;
use crate::output::report::{Counting, Report, ReportError, SectionPart};
use crate::output::sections::sections as section_lines;
use crate::output::wall::{Striped, WallError};
use crate::readiness::flashing::{Doing, Watch};
use crate::readiness::{Counts, caution};
use crate::show::running::OPEN_BEATS;
use crate::show::{Scope, Show};
use crate::window::action::Saving;
use crate::{explore, files, plan};

/// Why nothing was exported.
#[derive(Debug, Error)]
pub enum ExportError {
    #[error("there is no GPU to render on")]
    NoGpu,
    /// Something could not be rendered, or the person gave it up.
    #[error(transparent)]
    Render(#[from] RenderError),
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
    BuildSheet(#[from] SheetError),
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

impl From<FootageError> for ExportError {
    fn from(error: FootageError) -> Self {
        Self::Render(error.into())
    }
}

impl From<GpuError> for ExportError {
    fn from(error: GpuError) -> Self {
        Self::Render(error.into())
    }
}

impl ExportError {
    /// Whether the person gave it up.
    pub fn is_given_up(&self) -> bool {
        let (Self::Render(error)
        | Self::BuildSheet(SheetError::Render(error))
        | Self::Report(ReportError::Render(error))) = self
        else {
            return false;
        };
        matches!(error, RenderError::Gpu(GpuError::Stopped))
    }
}

/// What is exported, of a scope of a show at a moment.
#[derive(Debug, Clone)]
pub struct Export {
    /// What is written.
    pub saving: Saving,
    pub show: Arc<Show>,
    /// For a sheet or a report of the whole: its sections in their order, each with the show as it stands there.
    pub sections: Vec<(usize, Arc<Show>)>,
    /// Whose chain.
    pub scope: Scope,
    /// When, and at what size.
    pub moment: Moment,
    /// The order of the chain, for a picture.
    pub order: Vec<usize>,
    /// The words of a command line that name the chain, where a file holds it as it is.
    pub words: Option<String>,
    /// The files that the show is made from: none is replaced.
    pub made_from: Vec<PathBuf>,
    /// The file.
    pub path: PathBuf,
}

impl Export {
    /// The ending of its file, which is one that it can be written as.
    fn ending(&self) -> Result<&'static str, ExportError> {
        let endings: &[&str] = match self.saving {
            Saving::BuildSheet => &["svg", "html", "png", "txt"],
            Saving::Report => &["html"],
            Saving::Wall | Saving::Picture => &["png"],
            Saving::Work | Saving::Chain => &["toml"],
        };
        let found = self.path.extension().unwrap_or_default();
        let known = endings.iter().find(|ending| found.eq_ignore_ascii_case(ending));
        known.copied().ok_or_else(|| ExportError::Ending(self.path.clone(), endings))
    }

    /// What it may replace: what the person was asked about, but nothing that the show is made from.
    fn permit(&self) -> Permit {
        Permit::new(FileKind::Again, true).reading(self.made_from.clone())
    }

    /// Whether it can be written there, as things are now.
    ///
    /// # Errors
    /// [`ExportError::Ending`] and [`ExportError::Write`].
    pub fn check(&self) -> Result<(), ExportError> {
        let not_replaced = |why| WriteError::NotReplaced { path: self.path.display().to_string(), why };
        self.ending()?;
        self.permit().check(&self.path).map_err(not_replaced)?;
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
                News::Part(Word::Share(share)) => {
                    self.running = Some(Running { share, ..running });
                    continue;
                }
                News::Part(Word::Written(result)) | News::Finished(Word::Written(result)) => result,
                News::Finished(Word::Share(_)) => Ok(()),
                News::GaveWay => Err(GpuError::Stopped.into()),
                News::Failed(why) => Err(ExportError::Ended(why)),
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
    let begin = move || Ok(gpu.as_ref().map(|gpu| Renderer::giving_way(gpu.sibling())));
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
    let Export { show, sections, scope, moment, .. } = export;
    let mut shelf = Shelf::new(catalogue);
    let is_stopped = Arc::clone(stop);
    shelf.give_up_when(move || is_stopped.load(Ordering::Relaxed));
    let bytes = match export.saving {
        Saving::BuildSheet => {
            let name = |section: usize| show.sections[section].name.clone();
            let changes = |(section, _): &&(usize, Arc<Show>)| !show.sections[*section].changes_nothing();
            let stands = sections.iter().filter(changes);
            let stands: Vec<(String, Show)> =
                stands.map(|(at, stands)| (name(*at), (**stands).clone())).collect();
            BuildSheet::of_show(renderer, &mut shelf, show, &stands, *moment)?.written(export.ending()?)?
        }
        Saving::Report => {
            let parts = (sections.len() + 1) as f32;
            let tell = |share: f32| done(share / parts);
            let mut counts = Counts::default();
            let mut report = Report::of_show(renderer, &mut shelf, show, *scope, *moment, &mut counts, tell)?;
            let lines = section_lines(show, show.running(OPEN_BEATS).as_ref());
            let counting = Counting { watch: Watch::of(show), frame: show.frame };
            for (nth, (at, stands)) in sections.iter().enumerate() {
                let told = |doing: &Doing<'_>| {
                    let share = doing.done as f32 / doing.total.max(1) as f32;
                    done((nth as f32 + 1.0 + share) / parts);
                };
                let of = (lines[*at].clone(), &**stands);
                let part =
                    SectionPart::of(renderer, &mut shelf, of, *moment, (&counting, &mut counts), told)?;
                report.sections.push(part);
            }
            report::html(&report, PAGE_BYTES)?.html.into_bytes()
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
    Ok(files::write_permitted(&export.path, &bytes, export.permit())?)
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

/// The wall of a scope's chain, explored anew as the command explores it: what the window knows may be of
/// another moment.
fn wall(
    export: &Export,
    planned: &plan::Path,
    renderer: &mut Renderer,
    done: impl Fn(f32),
) -> Result<RgbaImage, ExportError> {
    let (frame, limits, budget) = (export.moment.frame, LookLimits::default(), Budget::default());
    let orders = Orders::of(renderer, planned)?;
    let classes = orders.classes.len();
    let sizes = Sizes::of(&orders, frame, frame, MOST_SHOWN);
    let want = sizes.in_passing(classes, MOST_SHOWN);
    // What is left to be rendered behind the orders themselves is little beside them.
    let tell = |count: usize| done(count as f32 / (2 * classes).max(1) as f32);
    let rendered = orders.rendered(renderer, planned, want, budget, tell)?;
    let mut explored = rendered.gathered(renderer, limits, |count| tell(classes + count))?;
    let parts = explore::parts(renderer, planned, limits)?;
    let wanted = Wanted { most: MOST_SHOWN, every: false, ranked: None };
    let hanging = Hanging::of(&explored, sizes, wanted);
    hanging.hang(&mut explored, renderer, planned, budget)?;
    let shown = hanging.shown();
    let notes = left_out_said(&explored, &shown).into_iter();
    let notes = notes.chain(keeping_said(&explored, &shown, export.words.as_deref()));
    let wall = OrdersWall {
        title: &export.show.name,
        source: Striped::of(export.show.colour(export.scope), export.show.address(export.scope)),
        frame_note: frame.instead_of(export.show.frame).as_deref(),
        path: planned,
        explored: &explored,
        parts: &parts,
        hanging: &hanging,
        own: "the current order",
        caution: caution::of_show(&export.show),
    }
    .composed(|_| Vec::new(), notes.collect())?;
    Ok(wall.drawn()?)
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
