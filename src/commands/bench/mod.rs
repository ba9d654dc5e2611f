//! `underover bench`: how long the main job takes on the chosen adapter.

mod eight;
mod planted;
mod scale;
mod whole;

use std::path::PathBuf;
use std::time::{Duration, Instant};

use clap::Args;
use serde::Serialize;

use crate::base::frame::Frame;
use crate::base::words::words;
use crate::catalogue::{Catalogue, Ending};
use crate::commands::note;
use crate::commands::output::{Output, Replace, check_outputs, figures_output, is_standard_output, say};
use crate::commands::subject::{Subject, SubjectOptions, opened};
use crate::edit::{Edit, Work};
use crate::explore;
use crate::explore::Orders;
use crate::explore::pieces::{Frames, PieceByPiece};
use crate::gpu::{Asked, Budget, Gpu, GpuError, Renderer, Want};
use crate::order::{Classes, Extent, LookLimits, Premises, Proofs, Tree};
use crate::plan::Path;
use crate::plan::sharing::Sharing;
use crate::show::clip::{Fit, FootageName};
use crate::window::{Action, Offscreen, WallBy};
use whole::Whole;

/// The options of `bench`.
#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  underover bench
  underover bench --row find
  underover bench --scale
  underover bench --adapter gl --json times.json")]
pub(super) struct Bench {
    /// Runs of each row that count; their median is given
    #[arg(long, value_name = "N", default_value_t = 11, value_parser = clap::value_parser!(u32).range(9..=1001))]
    runs: u32,
    /// Part of the name of the GPU adapter to use (`underover adapters` lists them)
    #[arg(long, value_name = "NAME-PART", env = crate::gpu::ADAPTER_VARIABLE)]
    adapter: Option<String>,
    /// Memory for pictures on the GPU, in MiB
    #[arg(long, value_name = "MIB", default_value_t = 4096)]
    memory: u64,
    /// Run each effect in a pass of its own, and store every picture
    #[arg(long = "no-fuse", action = clap::ArgAction::SetFalse)]
    fuse: bool,
    /// Time this alone; several times for several. Whole commands and the large window are timed only where they are named
    #[arg(long, value_name = "NAME")]
    row: Vec<Part>,
    /// List what is timed
    #[arg(long, conflicts_with_all = ["row", "json"])]
    list: bool,
    /// How the time grows with effects, picture size, pieces of footage and frames, and with which power of the work
    #[arg(long, conflicts_with_all = ["row", "list", "runs", "fuse"])]
    scale: bool,
    /// The figures to write (`-` is standard output)
    #[arg(long, value_name = "FILE")]
    json: Option<PathBuf>,
    #[command(flatten)]
    replace: Replace,
}

words! {
    /// What is timed.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    enum Part {
        /// Orders of five effects at 320x180.
        Small = "orders-320x180",
        /// The same at 1920x1080.
        Large = "orders-1920x1080",
        /// Each effect over twelve pictures of 1920x1080, stored and fingerprinted in passing.
        Passes = "passes",
        /// How far two pictures of 1920x1080 are apart.
        Pair = "pair",
        /// Twelve pieces of footage, together and one by one.
        Pieces = "pieces",
        /// Eight effects from the start of a renderer: to the first families, and to all.
        Eight = "eight",
        /// The window from its start to its output, and to the families of the demo's orders.
        Start = "start",
        /// The window filling, then playing.
        Window = "window",
        /// The same at the size of a large screen, of a show that is as large.
        LargeWindow = "window-3840x2160",
        /// The window answering keys.
        Answering = "answering",
        /// Orders and settings found from a picture that they made.
        Find = "find",
        /// A still picture of a show, as a whole command.
        Still = "still",
        /// A wall of its orders, as a whole command.
        Wall = "wall",
        /// Its orders over four beats, as a whole command.
        OverFour = "over-4",
        /// A report of it, as a whole command.
        Report = "report",
        /// A check of it, as a whole command.
        Check = "check",
        /// A sheet of it, as a whole command.
        Sheet = "sheet",
        /// Its flashes over 29 beats, as a whole command.
        Flashes = "flashes",
        /// 60 frames of it, as a whole command.
        SmallFilm = "film-720p",
        /// 332 frames of it, as a whole command.
        LargeFilm = "film-1080p",
    }
}

impl Part {
    /// The whole command that it is, if it is one.
    fn whole(self) -> Option<&'static Whole> {
        whole::ALL.iter().find(|whole| whole.name == self.name())
    }

    fn is_timed_unasked(self) -> bool {
        self != Self::LargeWindow && self.whole().is_none()
    }
}

#[derive(Serialize)]
struct Report {
    adapter: String,
    runs: u32,
    rows: Vec<Row>,
}

/// One thing timed, in milliseconds.
#[derive(Serialize)]
struct Row {
    what: String,
    frame: String,
    orders: usize,
    /// Pictures rendered, each distinct partial chain once.
    passes: usize,
    wall_ms: f64,
    wall_least_ms: f64,
    #[serde(skip_serializing_if = "Option::is_none")]
    wall_most_ms: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    gpu_ms: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    planted: Option<planted::Planted>,
    /// Of a whole command, the parts that took longest, in its own words.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    parts: Vec<String>,
}

/// Runs before those that count.
const WARM_UP: u32 = 3;
/// Keys of which it is timed how soon the window answers them.
const ANSWERS: u32 = 40;
/// Pieces of footage that are explored together, and how often that counts.
const PIECES: usize = 12;
const PIECES_RUNS: u32 = 3;
/// How often the window is started.
const STARTS: usize = 3;
/// A large screen.
const LARGE: Frame = Frame { width: 3840, height: 2160 };
/// Frames of a window being filled that are timed at most.
const MOST_FILLING: usize = 20_000;

impl Bench {
    pub(super) fn run(&self) -> anyhow::Result<()> {
        check_outputs(&figures_output(self.json.as_deref(), self.replace))?;
        if self.list {
            return say(&Part::ALL.map(|part| format!("{part}\n", part = part.name())).concat());
        }
        if self.scale {
            return self.run_scale();
        }
        let is_asked = |part: &Part| match self.row.is_empty() {
            true => part.is_timed_unasked(),
            false => self.row.contains(part),
        };
        let adapter = opened(self.adapter.as_deref())?.adapter().to_string();
        let mut rows = Vec::new();
        for part in Part::ALL.into_iter().filter(is_asked) {
            let found = match part {
                Part::Small => self.orders_rows(Frame { width: 320, height: 180 })?,
                Part::Large => self.orders_rows(Frame { width: 1920, height: 1080 })?,
                Part::Passes => self.passes_rows()?,
                Part::Pair => vec![self.pair_row()?],
                Part::Pieces => self.pieces_rows()?.into(),
                Part::Eight => eight::rows(self.adapter.as_deref(), Budget { mib: self.memory })?.into(),
                Part::Start => self.start_rows()?.into(),
                // High enough for every order of the demo's chain to be in view.
                Part::Window => self.window_rows(Frame { width: 2560, height: 3200 }, None)?.into(),
                Part::LargeWindow => self.window_rows(LARGE, Some(LARGE))?.into(),
                Part::Answering => vec![self.answering_row()?],
                Part::Find => vec![planted::row(self.adapter.clone(), Budget { mib: self.memory })?],
                part => part.whole().map_or(Ok(Vec::new()), |whole| whole.rows(self.adapter.as_deref()))?,
            };
            if !self.json.as_deref().is_some_and(is_standard_output) {
                found.iter().try_for_each(|row| say(&row.line()))?;
            }
            rows.extend(found);
        }
        if let Some(json) = &self.json {
            Output::figures(json, self.replace).write_json(&Report { adapter, runs: self.runs, rows })?;
        }
        Ok(())
    }

    fn run_scale(&self) -> anyhow::Result<()> {
        let growths = scale::growths(self.adapter.as_deref(), Budget { mib: self.memory })?;
        if !self.json.as_deref().is_some_and(is_standard_output) {
            growths.iter().try_for_each(|growth| say(&growth.to_string()))?;
        }
        match &self.json {
            Some(json) => Output::figures(json, self.replace).write_json(&growths),
            None => Ok(()),
        }
    }

    /// The adapter, on which everything is worked out anew.
    fn gpu(&self) -> anyhow::Result<Gpu> {
        Ok(opened(self.adapter.as_deref())?.keeping(None))
    }

    fn subject(&self, frame: Frame) -> anyhow::Result<Subject> {
        let options = SubjectOptions::built_in("all-hands").anew().on(self.adapter.clone()).at(0.1, frame);
        let mut subject = options.open(frame)?;
        if !subject.renderer.start_clock() {
            let adapter = subject.renderer.gpu().adapter();
            note(&format!("note: {adapter} has no timestamps, so GPU times are left out"));
        }
        Ok(subject)
    }

    /// The orders of one chain, explored again and again.
    fn orders_rows(&self, frame: Frame) -> anyhow::Result<Vec<Row>> {
        let mut subject = self.subject(frame)?;
        subject.renderer.share(if self.fuse { Sharing::Always } else { Sharing::Never });
        let maps = subject.renderer.index_maps(&subject.path.chain, &subject.path.moment)?;
        let premises = Premises {
            chain: &subject.path.chain,
            moment: &subject.path.moment,
            opaque: subject.path.opaque,
            maps: &maps,
        };
        let effects = subject.path.chain.len();
        let none = Classes::new((0..effects).collect(), |_, _| false).all();
        let one = vec![none[0].clone()];
        let proved = Proofs::of(&premises).classes.all();
        [("one order", one), ("wall, orders that can differ", proved), ("wall, every order", none)]
            .into_iter()
            .map(|(what, classes)| self.row(&mut subject, what, &Tree::of(&classes, |_| false)))
            .collect()
    }

    /// What one pass takes, effect by effect.
    fn passes_rows(&self) -> anyhow::Result<Vec<Row>> {
        let frame = Frame { width: 1920, height: 1080 };
        let mut subject = self.subject(frame)?;
        let mut rows = Vec::new();
        for (ending, told) in [(Ending::Stored, "stored"), (Ending::Fingerprinted, "fingerprinted")] {
            for place in 0..subject.path.chain.len() {
                let path = &subject.path;
                let what = format!("{}, {told}", path.chain[place].effect.name);
                rows.push(self.timed(&mut subject.renderer, &what, frame, [0, 12], |renderer| {
                    renderer.pass(path, place, ending, 12)
                })?);
            }
        }
        Ok(rows)
    }

    /// How far two pictures are apart.
    fn pair_row(&self) -> anyhow::Result<Row> {
        let frame = Frame { width: 1920, height: 1080 };
        let mut subject = self.subject(frame)?;
        let own: Vec<usize> = (0..subject.path.chain.len()).collect();
        let reversed: Vec<usize> = own.iter().rev().copied().collect();
        let a = subject.renderer.picture(&subject.path, &own)?;
        let b = subject.renderer.picture(&subject.path, &reversed)?;
        subject.renderer.read_clock()?;
        self.timed(&mut subject.renderer, "CIEDE2000 of a pair", frame, [2, 0], |renderer| {
            renderer.difference(&a, &b).map(|_| ())
        })
    }

    /// Orders of one chain on several pieces of footage, explored together and one by one: together they are to take
    /// little more.
    fn pieces_rows(&self) -> anyhow::Result<[Row; 2]> {
        let frame = Frame { width: 320, height: 180 };
        let options = SubjectOptions::built_in("all-hands").anew().on(self.adapter.clone()).at(0.1, frame);
        let mut subject = options.open(frame)?;
        let (limits, budget) = (LookLimits::default(), Budget { mib: self.memory });
        let sources: Vec<String> =
            subject.catalogue.sources().iter().map(|source| source.name.clone()).collect();
        let mut frames = Vec::with_capacity(PIECES);
        for source in sources.iter().cycle().take(PIECES) {
            let footage = FootageName::Generated(source.clone());
            let Subject { path, shelf, .. } = &mut subject;
            let path = Path::of_chain(&path.chain, &footage, Fit::Whole, path.moment, shelf)?;
            frames.push(Frames::Moment(Box::new(path)));
        }
        let renderer = &mut subject.renderer;
        let mut walls = [Vec::new(), Vec::new()];
        let mut orders = 0;
        for run in 0..=PIECES_RUNS {
            let started = Instant::now();
            let mut together =
                PieceByPiece::begun(renderer, &frames[0], PIECES, &Extent::default(), limits, budget)?;
            for (frames, source) in frames.iter().zip(sources.iter().cycle()) {
                together.add(renderer, source.clone(), frames, |_| {})?;
            }
            orders = together.gathered(renderer, |_| {})?.orders.classes.len() * PIECES;
            let is_together = started.elapsed().as_secs_f64() * 1e3;
            let started = Instant::now();
            for frames in &frames {
                let Frames::Moment(path) = frames else { continue };
                let orders = Orders::of(renderer, path)?;
                orders.explored(renderer, path, Want::Figures, limits, budget, |_| {})?;
                explore::parts(renderer, path, limits)?;
            }
            let one_by_one = started.elapsed().as_secs_f64() * 1e3;
            // The first run compiles.
            if run > 0 {
                walls[0].push(is_together);
                walls[1].push(one_by_one);
            }
        }
        let row = |what: &str, walls| {
            Row::of(format!("{PIECES} pieces of footage, {what}"), frame, [orders, 0], walls)
        };
        let [together, one_by_one] = walls;
        Ok([row("together", together), row("one by one", one_by_one)])
    }

    /// How soon the window answers keys from its first moment on, while its wall fills: each key moves an
    /// effect or takes that back, so that every picture on the wall is to be made anew.
    fn answering_row(&self) -> anyhow::Result<Row> {
        let catalogue = Catalogue::built_in()?;
        let work = demo(&catalogue)?;
        // The window's usual size.
        let frame = Frame { width: 1280, height: 800 };
        let mut window = Offscreen::new(self.gpu()?, work, catalogue, frame)?;
        window.frame(Vec::new());
        window.finish()?;
        let key = |key, modifiers| egui::Event::Key {
            key,
            physical_key: None,
            pressed: true,
            repeat: false,
            modifiers,
        };
        let inputs = (0..ANSWERS).map(|nth| {
            let event = match nth % 2 {
                0 => key(egui::Key::ArrowRight, egui::Modifiers::ALT),
                _ => key(egui::Key::Z, egui::Modifiers::COMMAND),
            };
            // At moments that no rhythm of the window's own can fall in with.
            (Duration::from_millis(300 + u64::from(nth) * 310 + u64::from(nth * nth * 7 % 97)), vec![event])
        });
        let waits = window.answers(inputs.collect());
        let waits: Vec<f64> = waits.iter().map(|wait| wait.as_secs_f64() * 1e3).collect();
        let orders = window.desk().known().map_or(0, |known| known.classes.len());
        Ok(Row::of("window answering a key".to_owned(), frame, [orders, 0], waits))
    }

    /// How long the window takes from its start, the adapter opened anew, to its output and to the families of the
    /// orders of the show that it opens with.
    fn start_rows(&self) -> anyhow::Result<[Row; 2]> {
        let frame = Frame { width: 1280, height: 800 };
        let mut walls = [Vec::new(), Vec::new()];
        for _ in 0..STARTS {
            let began = Instant::now();
            let catalogue = Catalogue::built_in()?;
            let work = Work::preset("landfall", &catalogue)?.ok_or_else(|| anyhow::anyhow!("no demo"))?;
            let mut window = Offscreen::new(self.gpu()?, work, catalogue, frame)?;
            let opened = began.elapsed();
            let Some(took) = window.opens(Duration::from_secs(120)) else {
                return Err(anyhow::anyhow!("the window did not show families within two minutes"));
            };
            for (walls, took) in walls.iter_mut().zip(took) {
                walls.push((opened + took).as_secs_f64() * 1e3);
            }
        }
        let [output, families] = walls;
        let row =
            |what: &str, walls| Row::of(format!("window from its start to {what}"), frame, [0, 0], walls);
        Ok([row("its output", output), row("the families of the orders", families)])
    }

    /// Frames of the window while its pictures are made, and played with its wall in view: what the
    /// person waits for.
    fn window_rows(&self, frame: Frame, of_show: Option<Frame>) -> anyhow::Result<[Row; 2]> {
        let catalogue = Catalogue::built_in()?;
        let mut work = demo(&catalogue)?;
        if let Some(size) = of_show {
            work.apply(&Edit::Frame(size))?;
        }
        let gpu = self.gpu()?;
        let mut window = Offscreen::new(gpu, work, catalogue, frame)?;
        let mut filling = Vec::new();
        while filling.len() < MOST_FILLING {
            let started = Instant::now();
            let next = window.frame(Vec::new());
            filling.push(started.elapsed().as_secs_f64() * 1e3);
            if !next.is_making && !window.desk().is_asking() {
                break;
            }
            // As the window does: the GPU is left to work, and asked again soon.
            std::thread::sleep(Duration::from_millis(3));
        }
        // The first frame compiles what paints; it is the window's start, not an answer to input.
        let filling = filling.split_off(1);
        if !window.settle(Duration::from_secs(300))? {
            return Err(anyhow::anyhow!("the window did not come to rest within five minutes"));
        }
        let orders = window.desk().known().map_or(0, |known| known.classes.len());
        window.desk().act(Action::WallBy(WallBy::Orders));
        window.settle(Duration::from_secs(300))?;
        window.desk().act(Action::Play(true));
        let made = window.desk().pictures().rendered();
        let (mut walls, mut whole) = (Vec::new(), 0);
        let frames = (WARM_UP + self.runs) as usize * 8;
        for _ in 0..frames {
            let started = Instant::now();
            window.frame(Vec::new());
            window.finish()?;
            walls.push(started.elapsed().as_secs_f64() * 1e3);
            whole += usize::from(window.desk().pictures().missing() == 0);
        }
        let passes = (window.desk().pictures().rendered() - made) as usize / frames;
        let filled = format!("window filling, {} frames", filling.len());
        let filled = Row::of(filled, frame, [orders, 0], filling);
        let played = format!("window playing, {whole} of {frames} frames whole");
        let played = Row::of(played, frame, [orders, passes], walls);
        Ok([filled, played])
    }

    fn row(&self, subject: &mut Subject, what: &str, tree: &Tree) -> anyhow::Result<Row> {
        let (path, budget) = (&subject.path, Budget { mib: self.memory });
        let counts = [tree.leaves.len(), tree.passes()];
        self.timed(&mut subject.renderer, what, path.moment.frame, counts, |renderer| {
            renderer.explore(path, tree, &Asked { budget, ..Asked::default() }, |_| {}).map(|_| ())
        })
    }

    /// Times work, after the runs that warm up; `counts` are orders and passes.
    fn timed(
        &self,
        renderer: &mut Renderer,
        what: &str,
        frame: Frame,
        counts: [usize; 2],
        mut work: impl FnMut(&mut Renderer) -> Result<(), GpuError>,
    ) -> anyhow::Result<Row> {
        let (mut walls, mut gpus) = (Vec::new(), Vec::new());
        for run in 0..WARM_UP + self.runs {
            let started = Instant::now();
            work(renderer)?;
            let wall = started.elapsed().as_secs_f64() * 1e3;
            let gpu = renderer.read_clock()?;
            if run >= WARM_UP {
                walls.push(wall);
                gpus.extend(gpu.map(|time| time.as_secs_f64() * 1e3));
            }
        }
        gpus.sort_by(f64::total_cmp);
        let row = Row::of(what.to_owned(), frame, counts, walls);
        Ok(Row { wall_most_ms: None, gpu_ms: gpus.get(gpus.len() / 2).copied(), ..row })
    }
}

/// The show that the window opens with.
fn demo(catalogue: &Catalogue) -> anyhow::Result<Work> {
    Work::preset("night-ferry", catalogue)?
        .ok_or_else(|| anyhow::anyhow!("the demo show is missing from this program"))
}

impl Row {
    /// What was timed, the median of some times first; `counts` are orders and passes.
    fn of(what: String, frame: Frame, [orders, passes]: [usize; 2], mut walls: Vec<f64>) -> Self {
        walls.sort_by(f64::total_cmp);
        Self {
            what,
            frame: frame.to_string(),
            orders,
            passes,
            wall_ms: walls.get(walls.len() / 2).copied().unwrap_or_default(),
            wall_least_ms: walls.first().copied().unwrap_or_default(),
            wall_most_ms: walls.last().copied(),
            gpu_ms: None,
            planted: None,
            parts: Vec::new(),
        }
    }

    fn line(&self) -> String {
        if let Some(planted) = &self.planted {
            return format!(
                "{:>9}  {}: {planted}, wall {:9.3} ms  at most {:9.3} ms\n",
                self.frame,
                self.what,
                self.wall_ms,
                self.wall_most_ms.unwrap_or(self.wall_ms)
            );
        }
        if !self.parts.is_empty() {
            let frames = if self.passes > 0 { format!(" {} frames,", self.passes) } else { String::new() };
            let parts: Vec<String> = self.parts.iter().map(|part| part.replacen("  ", " ", 1)).collect();
            return format!(
                "{:>9}  {:<24}{frames} whole {:9.1} ms  at most {:9.1} ms: {}\n",
                self.frame,
                self.what,
                self.wall_ms,
                self.wall_most_ms.unwrap_or(self.wall_ms),
                parts.join(", ")
            );
        }
        let gpu = self.gpu_ms.map_or_else(String::new, |ms| format!("  gpu {ms:9.3} ms"));
        let most = self.wall_most_ms.map_or_else(String::new, |ms| format!("  at most {ms:9.3} ms"));
        format!(
            "{:>9}  {:<30} {:>4} orders {:>4} passes  wall {:9.3} ms{most}{gpu}\n",
            self.frame, self.what, self.orders, self.passes, self.wall_ms
        )
    }
}
