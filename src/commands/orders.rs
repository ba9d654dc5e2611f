//! `underover orders`: every order of a chain that can differ.

use std::path::{Path, PathBuf};

use clap::Args;

use super::extent::{ExtentOptions, first_said, going_on, is_stopped};
use super::families::opening;
use super::figures::LookOptions;
use super::found::{Found, of_moments};
use super::keep_one::KeepOne;
use super::kept_order::{keep, keep_into};
use super::order_figures::figures;
use super::order_flashes::{Counted, FlashesOfOrders};
use super::order_walls::drawn_on_pieces;
use super::output::{Output, Replace, check_outputs, check_places, is_standard_output, say, whole};
use super::pieces::{Asked, FoundOnPieces, PieceList, look_at_all, named};
use super::progress::Progress;
use super::report::{PageSize, recorded};
use super::subject::{Subject, SubjectOptions};
use super::{WrongWords, note};
use crate::base::doing::doing;
use crate::base::frame::Frame;
use crate::base::picture::Picture;
use crate::beat::FrameRate;
use crate::explore;
use crate::explore::Goal;
use crate::explore::judging::Judging;
use crate::explore::over_time::{Stretch, strip_frame};
use crate::explore::pieces::Frames;
use crate::explore::wish::{By, Wish};
use crate::explore::{Exploration, Rendered};
use crate::gpu::{Budget, Want};
use crate::library::LibraryError;
use crate::order::{Extent, orders_said};
use crate::output::hanging::{Hanging, MOST_SHOWN, Sizes, Wanted};
use crate::output::moving::Interruption;
use crate::output::orders_wall::{OrdersWall, keeping_said, left_out_said};
use crate::output::report::{Chapter, html_of_orders};
use crate::output::wall::Wall;

/// The most pictures on any wall.
const MOST_TILES: usize = 2000;
/// Orders that are listed unasked.
const MOST_LISTED: usize = 24;
/// What `--footage` takes here.
const SEVERAL: &str = "Footage under a chain: a picture or film, a numbered sequence (sea-####.png), generated:NAME, or - for Y4M on standard input; several, folders and patterns ('clips/*.mp4') are compared side by side";
/// The longest stretch of beats that orders are compared over.
const MOST_BEATS_OVER: f64 = 64.0;

/// The options of `orders`.
#[derive(Debug, Args)]
#[command(mut_arg("footage", |footage| footage.num_args(1..).help(SEVERAL)))]
// The file may stand behind several pieces, which then seem to name it too.
#[command(mut_arg("file", |file| file.required(false).default_value("").hide_default_value(true)))]
#[command(after_help = "\
Examples:
  underover orders preset:lamp-lines                   lists the orders that can differ
  underover orders preset:all-hands --footage photo.jpg --at 0.1 --out wall.png
  underover orders preset:all-hands --keep 21534 --as mine.toml
  underover orders preset:all-hands --footage photo.jpg --at 0.1 --want most-edges --out wall.png
  underover orders show.toml --scope bundle:picture --out wall.png --json wall.json
  underover orders preset:all-hands --at 0.1 --page all-hands.html
  underover orders preset:lamp-lines --over 2 --rate 6 --out over-two-beats.png
  underover orders preset:all-hands --footage photo.jpg generated:waves --out pieces.png
  underover orders show.toml --sample 2000             from orders drawn at random
  underover orders preset:all-hands --pin 1            every order of the others
  underover orders show.toml --keep 21 --into show.toml
  underover orders night.toml --sections               one chain for every section
  underover orders show.toml --clips --want brightest --by worst")]
pub(super) struct Orders {
    #[command(flatten)]
    subject: SubjectOptions,
    /// Compare the orders on each clip of the scope in turn: brought to show on its level, or standing in for a clip's footage
    #[arg(long)]
    clips: bool,
    /// Compare the orders in each section of the show in turn; where sections name chains of their own for the scope, say
    /// which one chain serves all
    #[arg(long, conflicts_with_all = ["clips", "section"])]
    sections: bool,
    #[command(flatten)]
    extent: ExtentOptions,
    /// The wall to write: a PNG with the families of orders, each with one picture for each look that it has
    #[arg(long, value_name = "WALL.png")]
    out: Option<PathBuf>,
    /// The figures to write (`-` is standard output)
    #[arg(long, value_name = "FILE")]
    json: Option<PathBuf>,
    /// The page to write: one HTML file in which a browser runs the chain, to try orders by hand
    #[arg(long, value_name = "PAGE.html")]
    page: Option<PathBuf>,
    #[command(flatten)]
    page_size: PageSize,
    /// The most pictures that the wall shows; where every order fits, it shows every order, otherwise one picture for
    /// each look
    #[arg(long, value_name = "N", value_parser = |text: &str| whole(text, 1, MOST_TILES))]
    most: Option<usize>,
    /// Save the order of this code, any order of the chain, shown or not: as a chain file (--as), or in its show (--into)
    #[arg(long, value_name = "CODE", requires = "kept")]
    keep: Option<String>,
    /// The chain file to write for --keep
    #[arg(long = "as", id = "keep_as", value_name = "F.toml", requires = "keep", group = "kept")]
    keep_as: Option<PathBuf>,
    /// The show file to write for --keep, with the order put back on its scope: the show itself, or a new file
    #[arg(long, value_name = "SHOW.toml", requires = "keep", group = "kept")]
    into: Option<PathBuf>,
    /// Rank the orders by a goal, the nearest to it first
    #[arg(long, value_name = "GOAL")]
    want: Option<Goal>,
    /// The picture to come near, for --want like
    #[arg(long, value_name = "F", required_if_eq("want", "like"))]
    like: Option<PathBuf>,
    /// Whether --want ranks by the mean of several pieces or moments, or by the worst of them
    #[arg(long, value_name = "WHICH", requires = "want", default_value = By::default().name())]
    by: By,
    /// Compare the orders over this many beats from --at on, not at one moment
    #[arg(long, value_name = "BEATS", value_parser = stretch)]
    over: Option<f64>,
    /// Frames a second whose pictures --over compares; without it every frame, at most 96 in all. Proofs rest on all
    #[arg(long, value_name = "FPS", requires = "over", value_parser = |text: &str| text.parse::<FrameRate>())]
    rate: Option<FrameRate>,
    /// Count the flashes of every order, too, on every piece, controls untouched: over --over, or 16 beats from --at on
    #[arg(long)]
    flashes: bool,
    #[command(flatten)]
    looks: LookOptions,
    /// Say too which look every order has, and the rules that tell looks apart
    #[arg(long)]
    rules: bool,
    #[command(flatten)]
    replace: Replace,
}

fn stretch(text: &str) -> Result<f64, String> {
    match text.parse::<f64>() {
        Ok(beats) if beats > 0.0 && beats <= MOST_BEATS_OVER => Ok(beats),
        _ => Err(format!("a number of beats above 0 and at most {MOST_BEATS_OVER} is wanted, such as 4")),
    }
}

impl Orders {
    pub(super) fn demo(subject: SubjectOptions, out: PathBuf, json: PathBuf) -> Self {
        Self {
            subject,
            clips: false,
            sections: false,
            extent: ExtentOptions::default(),
            by: By::default(),
            out: Some(out),
            json: Some(json),
            page: None,
            page_size: PageSize::default(),
            most: None,
            keep: None,
            keep_as: None,
            into: None,
            flashes: false,
            want: None,
            like: None,
            over: None,
            rate: None,
            looks: LookOptions::default(),
            rules: false,
            replace: Replace::default(),
        }
    }

    pub(super) fn run(&self) -> anyhow::Result<()> {
        let outputs = self.outputs();
        check_places(&outputs)?;
        if self.like.is_some() && self.want != Some(Goal::Like) {
            return Err(WrongWords("--like goes with --want like".to_owned()).into());
        }
        let (mut subject, pieces) = self.opened()?;
        if (self.keep_as.is_some() || self.into.is_some()) && subject.path.chain.is_empty() {
            let nothing = LibraryError::Empty(subject.name.clone());
            return Err(WrongWords(format!("--keep: {nothing}")).into());
        }
        let like = self.like.as_deref().map(|path| subject.shown(path)).transpose()?;
        check_outputs(&outputs)?;
        if let (Some(written), Some(path)) = (&self.keep, &self.keep_as) {
            keep(&subject, written, &self.kept_output(path))?;
        }
        if let (Some(written), Some(path)) = (&self.keep, &self.into) {
            keep_into(&subject, written, &self.put_back_output(path))?;
        }
        if self.only_keeps() {
            subject.scope_notes();
            return Ok(());
        }
        let extent = self.extent.of(&subject.path.chain)?;
        let mut found = match pieces {
            Some(pieces) => self.explore_pieces(&mut subject, pieces, &extent, like.as_ref())?,
            None => self.explore(&mut subject, &extent, like.as_ref())?,
        };
        self.extent.tell(&found.explored.orders.tally);
        if let Some(pieces) = found.pieces.as_ref().filter(|_| self.sections) {
            found.keep_one = KeepOne::of(&mut subject, &found.explored, pieces.sections(), self.by)?;
        }
        if self.flashes {
            let grounds = match &found.pieces {
                Some(pieces) => pieces.counted(&subject),
                None => vec![Counted::alone(&subject)],
            };
            found.flashes = FlashesOfOrders::counted(&mut subject, &found.explored, &grounds, self.over)?;
        }
        let explored = &found.explored;
        if !self.json.as_deref().is_some_and(is_standard_output) {
            say(&opening(explored))?;
            say(&found.answer())?;
            if self.out.is_none() && self.json.is_none() && self.page.is_none() {
                say(&self.listing(&found))?;
            }
            say(&found.explanation(self.rules))?;
            if self.out.is_some() && found.pieces.is_none() {
                say(&self.left_out_said(&found).map_or_else(String::new, |line| line + "\n"))?;
            }
            say(&self.keeping_said(&subject, &found).map_or_else(String::new, |line| line + "\n"))?;
        }
        if let Some(out) = &self.out {
            let (drawn, pictures) = match &found.pieces {
                Some(pieces) => {
                    let (most, budget) = (self.most.unwrap_or(MOST_SHOWN), self.budget());
                    let flashes_read = "Flashes under a picture are those of its worst second.".to_owned();
                    let kept = self.keeping_said(&subject, &found).into_iter();
                    let notes = kept.chain(self.flashes.then_some(flashes_read)).collect();
                    drawn_on_pieces(&mut subject, &found, pieces, most, budget, notes)?
                }
                None => {
                    let _drawing = doing("drawing the wall");
                    let wall = self.wall(&subject, &found)?;
                    (wall.drawn()?, wall.tiles.len())
                }
            };
            self.wall_output(out).write_picture(&drawn)?;
            note(&format!("wrote {} ({pictures} pictures)", out.display()));
        }
        if let Some(json) = &self.json {
            Output::figures(json, self.replace).write_json(&figures(&subject, &found))?;
            if !is_standard_output(json) {
                note(&format!(
                    "wrote {} ({})",
                    json.display(),
                    orders_said(explored.orders.classes.len() as u128)
                ));
            }
        }
        let interrupted = found.interrupted;
        if let Some(page) = &self.page {
            self.write_page(&mut subject, found, page)?;
        }
        subject.closing_notes();
        match interrupted {
            true => Err(anyhow::anyhow!(
                "interrupted before all of it was looked at; what is told is what the first sample tells"
            )),
            false => Ok(()),
        }
    }

    /// The page in which a browser runs the chain.
    fn write_page(&self, subject: &mut Subject, found: Found, page: &Path) -> anyhow::Result<()> {
        let path = subject.path.clone();
        let place = subject.footage.clone();
        let Found { explored, parts, .. } = found;
        // Over a stretch what an effect does is told of all of it, and the page is of its first moment.
        let parts = match explored.over {
            None => parts,
            Some(_) => explore::parts(&mut subject.renderer, &path, explored.limits)?,
        };
        let chapter = Chapter::of_explored(&mut subject.renderer, &path, place, explored, parts)?;
        let live = recorded(subject, &chapter, self.page_size)?;
        let _writing = doing("writing the page");
        let adapter = subject.renderer.gpu().adapter().to_string();
        let most = self.page_size.bytes();
        let html = html_of_orders(&chapter, &live, subject.caution, &adapter, most)?;
        self.page_size.write(&self.page_output(page), &html)
    }

    /// What is looked at, and the pieces of footage where these are several.
    fn opened(&self) -> anyhow::Result<(Subject, Option<PieceList>)> {
        let chain_frame = Frame { width: 640, height: 360 };
        let words = self.subject.file_first()?;
        let named = named(words.footage_named())?;
        let documents = words.documents()?;
        let mut subject = match &named {
            Some(pieces) => {
                look_at_all(pieces, &documents.catalogue)?;
                words.on_footage(&pieces.written[0]).open_by(&documents, chain_frame)?
            }
            None => words.open_by(&documents, chain_frame)?,
        };
        let pieces = match &named {
            _ if self.clips => Some(PieceList::of_clips(&subject)?),
            _ if self.sections => Some(PieceList::of_sections(&subject, &documents)?),
            Some(pieces) => Some(PieceList::of_footage(&subject, pieces)?),
            None => None,
        };
        if let Some(pieces) = &pieces {
            if self.page.is_some() {
                return Err(WrongWords(
                    "--page: a page runs a chain over one piece of footage; leave it out, or name one piece"
                        .to_owned(),
                )
                .into());
            }
            if subject.scope().is_none() {
                subject.footage = pieces.names_said();
            }
        }
        Ok((subject, pieces))
    }

    /// The orders, one a line, where they are few or asked for; else what shows them.
    fn listing(&self, found: &Found) -> String {
        let orders = found.explored.orders.classes.len();
        if orders <= MOST_LISTED || self.rules || self.want.is_some() || self.flashes {
            return found.listing();
        }
        format!(
            "--out WALL.png shows the families with their looks, --rules lists the {}.\n",
            orders_said(orders as u128)
        )
    }

    /// Whether nothing is asked for beside an order to keep, so that none has to be rendered.
    fn only_keeps(&self) -> bool {
        let written = self.out.is_some() || self.json.is_some() || self.page.is_some();
        let shows = written || self.want.is_some() || self.over.is_some();
        self.keep.is_some() && !shows && !self.flashes
    }

    /// How one of these orders is kept, as a line to read or to copy.
    fn keeping_said(&self, subject: &Subject, found: &Found) -> Option<String> {
        let words = self.subject.file_first().ok()?.words(subject.scope());
        keeping_said(&found.explored, &found.hanging.shown(), Some(&words))
    }

    fn outputs(&self) -> Vec<Output<'_>> {
        let out = self.out.iter().map(|path| self.wall_output(path));
        let json = self.json.iter().map(|path| Output::figures(path, self.replace));
        let keep_as = self.keep_as.iter().map(|path| self.kept_output(path));
        let into = self.into.iter().map(|path| self.put_back_output(path));
        let page = self.page.iter().map(|path| self.page_output(path));
        out.chain(json).chain(page).chain(keep_as).chain(into).collect()
    }

    fn page_output<'a>(&self, path: &'a Path) -> Output<'a> {
        Output::made("--page", path, "html", self.replace)
    }

    /// The show that an order is put back into: it may take the place of the one that was read.
    fn put_back_output<'a>(&self, path: &'a Path) -> Output<'a> {
        let file = self.subject.file_first().map(|words| PathBuf::from(words.file())).unwrap_or_default();
        Output::document("--into", path, self.replace).editing(&file)
    }

    fn wall_output<'a>(&self, path: &'a Path) -> Output<'a> {
        Output::made("--out", path, "png", self.replace)
    }

    fn kept_output<'a>(&self, path: &'a Path) -> Output<'a> {
        Output::document("--as", path, self.replace)
    }

    fn budget(&self) -> Budget {
        Budget { mib: self.subject.memory.unwrap_or(Budget::default().mib) }
    }

    fn asked<'a>(&self, extent: &'a Extent, like: Option<&'a Picture>) -> Asked<'a> {
        Asked {
            over: self.over.map(|beats| (beats, self.rate.map(FrameRate::per_second))),
            of_orders: Judging {
                extent,
                limits: self.looks.limits(),
                budget: self.budget(),
                wish: self.want.map(|goal| (goal, self.by)),
                like,
            },
        }
    }

    fn explore_pieces(
        &self,
        subject: &mut Subject,
        pieces: PieceList,
        extent: &Extent,
        like: Option<&Picture>,
    ) -> anyhow::Result<Found> {
        let one = explore::Orders::within(&mut subject.renderer, &subject.path, extent)?;
        let texels = subject.path.moment.frame.texels();
        let first = match one.first_sample(&subject.renderer, texels * pieces.len() as u64) {
            Some(extent) => {
                let found = pieces.explored(subject, &self.asked(&extent, like))?;
                let interruption = Interruption::awaited();
                let tally = &found.explored.orders.tally;
                let said = found.explored.opening_said().unwrap_or_default();
                note(&first_said(tally, (said, found.explored.questions_said()), going_on(&one)));
                subject.renderer.stop_when(interruption.flag());
                Some(found)
            }
            None => None,
        };
        let found = pieces.explored(subject, &self.asked(extent, like));
        subject.renderer.stop_no_more();
        let (found, interrupted) = match (found, first) {
            (Err(error), Some(first)) if is_stopped(&error) => (first, true),
            (found, _) => (found?, false),
        };
        let FoundOnPieces { explored, parts, wish } = found;
        let frame = subject.path.moment.frame;
        let sizes = Sizes::of(&explored.orders, frame, frame, MOST_SHOWN);
        let ranked = wish.as_ref().map(|wish| &wish.order[..]);
        let hanging = Hanging::of(&explored, sizes, Wanted { most: MOST_SHOWN, every: false, ranked });
        let flashes = FlashesOfOrders::default();
        Ok(Found {
            explored,
            parts,
            wish,
            hanging,
            flashes,
            pieces: Some(pieces),
            keep_one: None,
            interrupted,
        })
    }

    fn explore(
        &self,
        subject: &mut Subject,
        extent: &Extent,
        like: Option<&Picture>,
    ) -> anyhow::Result<Found> {
        let frames = match self.over {
            Some(beats) => {
                let (start, a_second) = (subject.path.moment, self.rate.map(FrameRate::per_second));
                let planned = |moment, past| subject.path_at(moment, past);
                Frames::Stretch(Stretch::planned(start, beats, a_second, planned)?)
            }
            None => Frames::Moment(Box::new(subject.path.clone())),
        };
        let renderer = &mut subject.renderer;
        let orders = match &frames {
            Frames::Stretch(stretch) => {
                let mut progress =
                    Progress::named("proving which orders cannot differ", "frames", stretch.proof_frames());
                stretch.orders_within(renderer, extent, |frames| progress.tell(frames))?
            }
            Frames::Moment(path) => explore::Orders::within(renderer, path, extent)?,
        };
        let moments = match &frames {
            Frames::Stretch(stretch) => stretch.sampled.len() as u64,
            Frames::Moment(_) => 1,
        };
        let texels = subject.path.moment.frame.texels();
        let first = match orders.first_sample(&subject.renderer, texels * moments) {
            Some(extent) => {
                let sample = explore::Orders::proved(orders.proofs.clone(), &subject.path.chain, &extent);
                let _first = doing("looking at a first sample");
                let rendered = self.rendered(subject, &frames, sample, Want::Figures, |_| {})?;
                let families = rendered.families(&mut subject.renderer)?;
                // Until there is something to keep to, Ctrl-C ends the program.
                let interruption = Interruption::awaited();
                let said = families.map(|families| rendered.families_said(&families)).unwrap_or_default();
                note(&first_said(&rendered.orders().tally, said, going_on(&orders)));
                subject.renderer.stop_when(interruption.flag());
                Some(rendered)
            }
            None => None,
        };

        let most = orders.classes.len();
        let frame = subject.path.moment.frame;
        let whole = match &frames {
            Frames::Stretch(stretch) => strip_frame(frame, stretch.sampled.len()),
            Frames::Moment(_) => frame,
        };
        let most_shown = self.most.unwrap_or(MOST_SHOWN);
        let sizes = Sizes::of(&orders, frame, whole, most_shown);
        // What is shown large, and of which look, is known only once there are families and looks.
        let want = match (&self.out, &self.page) {
            (Some(_), _) => sizes.in_passing(most, most_shown),
            (None, Some(_)) => Chapter::wants(&subject.path),
            (None, None) => Want::Figures,
        };
        let mut progress = Progress::of(most);
        let found = self
            .rendered(subject, &frames, orders, want, |done| progress.tell(done))
            .and_then(|rendered| self.gathered(subject, &frames, rendered, like));
        subject.renderer.stop_no_more();
        let (found, interrupted) = match (found, first) {
            (Err(error), Some(first)) if is_stopped(&error) => {
                (self.gathered(subject, &frames, first, like)?, true)
            }
            (found, _) => (found?, false),
        };
        let (mut explored, wish) = found;
        let (path, renderer) = (&subject.path, &mut subject.renderer);
        let (limits, budget) = (self.looks.limits(), self.budget());
        let parts = match &frames {
            Frames::Stretch(stretch) => {
                let _leaving = doing("leaving out each effect in turn");
                stretch.parts(&explored.orders, renderer, limits, budget)?
            }
            Frames::Moment(path) => explore::parts(renderer, path, limits)?,
        };
        let wanted = Wanted {
            most: most_shown,
            // Every order flashes in its own way, alike as they may look.
            every: self.most.is_some() || self.flashes,
            ranked: wish.as_ref().map(|wish| &wish.order[..]),
        };
        let hanging = Hanging::of(&explored, sizes, wanted);
        if self.out.is_some() {
            hanging.hang(&mut explored, renderer, path, budget)?;
        }
        if !interrupted {
            progress.finished();
        }
        let flashes = FlashesOfOrders::default();
        Ok(Found { explored, parts, wish, hanging, flashes, pieces: None, keep_one: None, interrupted })
    }

    fn rendered(
        &self,
        subject: &mut Subject,
        frames: &Frames,
        orders: explore::Orders,
        want: Want,
        tell: impl FnMut(usize),
    ) -> anyhow::Result<Rendered> {
        let (renderer, budget) = (&mut subject.renderer, self.budget());
        Ok(match frames {
            Frames::Stretch(stretch) => {
                let looked_at = stretch.look_frame(&orders, budget);
                stretch.rendered(orders, renderer, looked_at, 0, budget, tell)?
            }
            Frames::Moment(path) => orders.rendered(renderer, path, want, budget, tell)?,
        })
    }

    fn gathered(
        &self,
        subject: &mut Subject,
        frames: &Frames,
        rendered: Rendered,
        like: Option<&Picture>,
    ) -> anyhow::Result<(Exploration, Option<Wish>)> {
        let renderer = &mut subject.renderer;
        let wish = match self.want {
            Some(goal) => {
                let _ranking = doing("ranking the orders");
                let figures = goal.figures(renderer, frames, &rendered, like, self.budget())?;
                Some(Wish::ranked(goal, self.by, of_moments(frames, figures)))
            }
            None => None,
        };
        Ok((rendered.gathered(renderer, self.looks.limits(), |_| {})?, wish))
    }

    /// Which orders the wall leaves out, if any, and what shows them.
    fn left_out_said(&self, found: &Found) -> Option<String> {
        let (classes, shown) = (found.explored.orders.classes.len(), found.hanging.shown());
        let said = left_out_said(&found.explored, &shown)?;
        let (known, shown) = (found.explored.looks.representatives.len(), shown.len());
        let more = match () {
            () if classes <= MOST_TILES => format!(" --most {classes} shows every order."),
            () if shown < known => format!(" --most {known} shows every look."),
            () => String::new(),
        };
        Some(format!("{said}{more}"))
    }

    fn wall(&self, subject: &Subject, found: &Found) -> anyhow::Result<Wall> {
        let wall = OrdersWall {
            title: &subject.name,
            source: subject.source(),
            frame_note: subject.frame_note.as_deref(),
            path: &subject.path,
            explored: &found.explored,
            parts: &found.parts,
            hanging: &found.hanging,
            own: "the file's own order",
            caution: subject.caution,
        };
        let said_of = |class: usize| {
            let wish = found.wish.iter().map(|wish| wish.rank_said(class));
            wish.chain(found.flashes.said(class)).collect()
        };
        let notes = self.left_out_said(found).into_iter().chain(self.keeping_said(subject, found));
        Ok(wall.composed(said_of, notes.collect())?)
    }
}
