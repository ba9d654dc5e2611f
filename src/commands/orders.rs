//! `underover orders`: every order of a chain that can differ.

use std::path::{Path, PathBuf};

use clap::Args;
use serde::Serialize;

use super::families::{FamiliesFigures, opening};
use super::figures::{DifferenceFigures, LookOptions, SubjectFigures, rounded};
use super::kept_order::keep;
use super::order_flashes::{flash_note, flashes_of_orders};
use super::output::{Output, Replace, check_outputs, check_places, is_standard_output, say, whole};
use super::progress::Progress;
use super::subject::{Subject, SubjectOptions};
use super::wish::{Goal, Wish};
use super::{WrongWords, note};
use crate::base::doing::doing;
use crate::base::frame::Frame;
use crate::base::picture::Picture;
use crate::beat::FrameRate;
use crate::explore;
use crate::explore::over_time::{Stretch, strip_frame};
use crate::explore::{Exploration, Part};
use crate::gpu::{Budget, Want};
use crate::library::LibraryError;
use crate::measure::FlashReport;
use crate::order::Explored;
use crate::output::orders_wall::{OrdersWall, beat_said, fitting, keeping_said, left_out_said, tiles_wanted};
use crate::output::wall::{TileGrid, Wall};

/// Pictures on a wall where nothing is said.
const MOST_SHOWN: usize = 240;
/// The most pictures on any wall.
const MOST_TILES: usize = 2000;
/// Orders that are listed unasked.
const MOST_LISTED: usize = 24;
/// The longest stretch of beats that orders are compared over.
const MOST_BEATS_OVER: f64 = 64.0;

/// The options of `orders`.
#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  underover orders preset:lamp-lines                   lists the orders that can differ
  underover orders preset:all-hands --footage photo.jpg --at 0.1 --out wall.png
  underover orders preset:all-hands --keep 21534 --as mine.toml
  underover orders preset:all-hands --footage photo.jpg --at 0.1 --want most-edges --out wall.png
  underover orders show.toml --scope bundle:picture --out wall.png --json wall.json
  underover orders preset:lamp-lines --over 2 --rate 6 --out over-two-beats.png")]
pub(super) struct Orders {
    #[command(flatten)]
    subject: SubjectOptions,
    /// The wall to write: a PNG with one picture for each order that can differ
    #[arg(long, value_name = "WALL.png")]
    out: Option<PathBuf>,
    /// The figures to write (`-` is standard output)
    #[arg(long, value_name = "FILE")]
    json: Option<PathBuf>,
    /// The most pictures that the wall shows; where not every order fits, one picture for each look
    #[arg(long, value_name = "N", default_value_t = MOST_SHOWN, value_parser = |text: &str| whole(text, 1, MOST_TILES))]
    most: usize,
    /// Keep the order of this code as a chain file (with --as): any order of the chain, shown or not
    #[arg(long, value_name = "CODE", requires = "keep_as")]
    keep: Option<String>,
    /// The chain file to write for --keep
    #[arg(long = "as", id = "keep_as", value_name = "F.toml", requires = "keep")]
    keep_as: Option<PathBuf>,
    /// Rank the orders by a goal, the nearest to it first
    #[arg(long, value_name = "GOAL")]
    want: Option<Goal>,
    /// The picture to come near, for --want like
    #[arg(long, value_name = "F", required_if_eq("want", "like"))]
    like: Option<PathBuf>,
    /// Compare the orders over this many beats from --at on, not at one moment
    #[arg(long, value_name = "BEATS", value_parser = stretch, conflicts_with_all = ["want", "like"])]
    over: Option<f64>,
    /// Frames a second whose pictures --over compares; without it every frame, at most 96 in all. Proofs rest on all
    #[arg(long, value_name = "FPS", requires = "over", value_parser = |text: &str| text.parse::<FrameRate>())]
    rate: Option<FrameRate>,
    /// Count the flashes of every order, too, controls untouched: over --over, or 16 beats from --at on
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

/// What `--json` gives.
#[derive(Serialize)]
struct Figures<'a> {
    #[serde(flatten)]
    of: SubjectFigures<'a>,
    /// `in full`, or `single moves` past the longest chain that is explored in full.
    explored: &'static str,
    #[serde(flatten)]
    over: Option<OverFigures>,
    orders_total: serde_json::Value,
    /// The code of the file's own order, against which the others are measured.
    own_order: String,
    classes: usize,
    distinct: usize,
    looks: usize,
    /// Whether every order is within the limits of its look.
    looks_complete: bool,
    #[serde(flatten)]
    families: Option<FamiliesFigures>,
    /// The size at which looks are told apart.
    looked_at: String,
    look: Vec<LookFigures>,
    rules: Vec<RuleFigures>,
    /// Orders to which the rules give another look than their own.
    rule_misses: usize,
    #[serde(skip_serializing_if = "Option::is_none")]
    want: Option<&'a str>,
    effects: Vec<EffectFigures>,
    order: Vec<OrderFigures>,
}

/// What was compared where it is not one moment.
#[derive(Serialize)]
struct OverFigures {
    over_beats: f64,
    /// Frames whose pictures were compared.
    frames: usize,
    /// Frames of the stretch: the settings of every one bear out `classes` and `idle_because`.
    frames_total: u64,
    /// Whether pictures, and with them all else, are of some frames only.
    pictures_sampled: bool,
    /// The moments that the wall shows side by side.
    strip_beats: Vec<f64>,
}

/// Where an order is furthest from the file's own.
#[derive(Serialize)]
struct WorstFigures {
    worst_beat: f64,
    worst_mean_de2000: f64,
    worst_p95_de2000: f64,
    worst_changed_share: f64,
}

#[derive(Serialize)]
struct LookFigures {
    look: usize,
    name: String,
    /// The order that stands for it.
    code: String,
    orders: usize,
}

#[derive(Serialize)]
struct RuleFigures {
    /// All of these hold; the first rule that holds counts.
    when: Vec<String>,
    look: usize,
    /// The order that stands for the look.
    code: String,
    orders: usize,
}

#[derive(Serialize)]
struct EffectFigures {
    place: usize,
    /// What stands for it in order codes.
    mark: u32,
    effect: String,
    #[serde(skip_serializing_if = "Option::is_none")]
    idle_because: Option<String>,
    /// Why nothing of it is seen where it stands in the file's own order.
    #[serde(skip_serializing_if = "Option::is_none")]
    unseen_because: Option<String>,
    /// Against the file's own order without it.
    #[serde(flatten)]
    difference: DifferenceFigures,
}

#[derive(Serialize)]
struct OrderFigures {
    code: String,
    order: Vec<String>,
    places: Vec<usize>,
    /// Orders proved to give this picture; absent where the chain is not explored in full.
    #[serde(skip_serializing_if = "Option::is_none")]
    orders: Option<u64>,
    picture: String,
    /// The code of the first order with the same picture here; its own, where it is the first.
    same_as: String,
    look: usize,
    /// Against the file's own order.
    #[serde(flatten)]
    difference: Option<DifferenceFigures>,
    #[serde(flatten)]
    worst: Option<WorstFigures>,
    /// How near it comes to the goal: 1 is nearest.
    #[serde(skip_serializing_if = "Option::is_none")]
    rank: Option<usize>,
    #[serde(skip_serializing_if = "Option::is_none")]
    wanted: Option<f64>,
    #[serde(flatten)]
    flashes: Option<FlashFigures>,
}

/// What an order's output flashes (`underover flashes` says more).
#[derive(Serialize)]
struct FlashFigures {
    flashes_pass: bool,
    general_flashes_in_worst_second: f64,
    red_flashes_in_worst_second: f64,
}

/// What is known of the chain, for the outputs.
struct Found {
    explored: Exploration,
    parts: Vec<Part>,
    wish: Option<Wish>,
    /// The classes that the wall shows, in its order.
    shown: Vec<usize>,
    grid: TileGrid,
    /// What each class flashes, where it was counted.
    flashes: Vec<FlashReport>,
}

impl Orders {
    pub(super) fn demo(subject: SubjectOptions, out: PathBuf, json: PathBuf) -> Self {
        Self {
            subject,
            out: Some(out),
            json: Some(json),
            most: MOST_SHOWN,
            keep: None,
            keep_as: None,
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
        let mut subject = self.subject.open(Frame { width: 640, height: 360 })?;
        if self.keep_as.is_some() && subject.path.chain.is_empty() {
            let nothing = LibraryError::Empty(subject.name.clone());
            return Err(WrongWords(format!("--as: {nothing}")).into());
        }
        let like = self.like.as_deref().map(|path| subject.shown(path)).transpose()?;
        check_outputs(&outputs)?;
        if let (Some(written), Some(path)) = (&self.keep, &self.keep_as) {
            keep(&subject, written, &self.kept_output(path))?;
        }
        if self.only_keeps() {
            subject.scope_notes();
            return Ok(());
        }
        let mut found = self.explore(&mut subject, like.as_ref())?;
        if self.flashes {
            found.flashes = flashes_of_orders(&mut subject, &found.explored, self.over)?;
        }
        let explored = &found.explored;
        if !self.json.as_deref().is_some_and(is_standard_output) {
            say(&format!("{}\n{}", explored.summary(), opening(explored)))?;
            if self.out.is_none() && self.json.is_none() {
                say(&self.listing(&found))?;
            }
            say(&found.explanation(self.rules))?;
            if self.out.is_some() {
                say(&self.left_out_said(&found).map_or_else(String::new, |line| line + "\n"))?;
            }
            say(&self.keeping_said(&subject, &found).map_or_else(String::new, |line| line + "\n"))?;
        }
        if let Some(out) = &self.out {
            let drawing = doing("drawing the wall");
            let wall = self.wall(&subject, &found)?;
            let drawn = wall.drawn()?;
            drop(drawing);
            self.wall_output(out).write_picture(&drawn)?;
            note(&format!("wrote {} ({} pictures)", out.display(), wall.tiles.len()));
        }
        if let Some(json) = &self.json {
            Output::figures(json, self.replace).write_json(&figures(&subject, &found))?;
            if !is_standard_output(json) {
                note(&format!("wrote {} ({} orders)", json.display(), explored.orders.classes.len()));
            }
        }
        subject.closing_notes();
        Ok(())
    }

    /// The orders, one a line, where they are few or asked for; else what shows them.
    fn listing(&self, found: &Found) -> String {
        let orders = found.explored.orders.classes.len();
        if orders <= MOST_LISTED || self.rules || self.want.is_some() || self.flashes {
            return found.listing();
        }
        format!("--out WALL.png shows all {orders} pictures, --rules lists the orders with their looks.\n")
    }

    /// Whether nothing is asked for beside an order to keep, so that none has to be rendered.
    fn only_keeps(&self) -> bool {
        let shows = self.out.is_some() || self.json.is_some() || self.want.is_some() || self.over.is_some();
        self.keep.is_some() && !shows && !self.flashes
    }

    /// How one of these orders is kept, as a line to read or to copy.
    fn keeping_said(&self, subject: &Subject, found: &Found) -> Option<String> {
        let words = self.subject.words(subject.scope());
        keeping_said(&found.explored, &found.shown, Some(&words))
    }

    fn outputs(&self) -> Vec<Output<'_>> {
        let out = self.out.iter().map(|path| self.wall_output(path));
        let json = self.json.iter().map(|path| Output::figures(path, self.replace));
        let keep_as = self.keep_as.iter().map(|path| self.kept_output(path));
        out.chain(json).chain(keep_as).collect()
    }

    fn wall_output<'a>(&self, path: &'a Path) -> Output<'a> {
        Output::made("--out", path, "png", self.replace)
    }

    fn kept_output<'a>(&self, path: &'a Path) -> Output<'a> {
        Output::document("--as", path, self.replace)
    }

    fn explore(&self, subject: &mut Subject, like: Option<&Picture>) -> anyhow::Result<Found> {
        let goal = self.want;
        let stretch = match self.over {
            Some(beats) => {
                let (start, a_second) = (subject.path.moment, self.rate.map(FrameRate::per_second));
                Some(Stretch::planned(start, beats, a_second, |moment, past| subject.path_at(moment, past))?)
            }
            None => None,
        };
        let (path, renderer) = (&subject.path, &mut subject.renderer);
        let orders = match &stretch {
            Some(stretch) => {
                let mut progress =
                    Progress::named("proving which orders cannot differ", "frames", stretch.proof_frames());
                stretch.orders(renderer, |frames| progress.tell(frames))?
            }
            None => explore::Orders::of(renderer, path)?,
        };
        let most = orders.classes.len();
        let frame = path.moment.frame;
        let whole = match &stretch {
            Some(stretch) => strip_frame(frame, stretch.sampled.len()),
            None => frame,
        };
        // Where not every order fits, which ones are shown is known only once their looks are.
        let shows_all = self.out.is_some() && most <= self.most;
        let (mut grid, tiles) = tiles_wanted(frame, whole, most);
        let want = if shows_all { tiles } else { Want::Figures };
        let mut progress = Progress::of(most);
        let (limits, budget) =
            (self.looks.limits(), Budget { mib: self.subject.memory.unwrap_or(Budget::default().mib) });
        let (mut explored, parts) = match &stretch {
            Some(stretch) => {
                let strips = if shows_all { most } else { 0 };
                let tell = |done| progress.tell(done);
                let explored = stretch.explored(orders, renderer, strips, limits, budget, tell)?;
                let _leaving = doing("leaving out each effect in turn");
                let parts = stretch.parts(&explored.orders, renderer, limits, budget)?;
                (explored, parts)
            }
            None => {
                let tell = |done| progress.tell(done);
                let explored = orders.explored(renderer, path, want, limits, budget, tell)?;
                (explored, explore::parts(renderer, path, limits)?)
            }
        };
        let _ranking = goal.map(|_| doing("ranking the orders"));
        let wish = match goal {
            Some(goal) => Some(Wish::of(goal, renderer, path, &explored, like, budget)?),
            None => None,
        };
        let shown = fitting(&explored, in_turn(&explored, wish.as_ref()), wish.is_some(), self.most);
        if self.out.is_some() && !shows_all {
            let tiles;
            (grid, tiles) = tiles_wanted(frame, whole, shown.len());
            let pictures = match &stretch {
                Some(_) => explored.strips(renderer, &shown)?,
                None => explored.pictures(renderer, path, tiles, &shown, budget)?,
            };
            for (&class, picture) in shown.iter().zip(pictures) {
                explored.finished[class].picture = picture;
            }
        }
        progress.finished();
        Ok(Found { explored, parts, wish, shown, grid, flashes: Vec::new() })
    }

    /// Which orders the wall leaves out, if any, and what shows them.
    fn left_out_said(&self, found: &Found) -> Option<String> {
        let (classes, shown) = (found.explored.orders.classes.len(), found.shown.len());
        let said = left_out_said(&found.explored, shown)?;
        let known = found.explored.looks.representatives.len();
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
            source: &subject.footage,
            frame_note: subject.frame_note.as_deref(),
            path: &subject.path,
            explored: &found.explored,
            parts: &found.parts,
            shown: &found.shown,
            grid: found.grid,
            own: "the file's own order",
            caution: subject.caution,
        };
        let said_of = |class: usize| {
            let wish = found.wish.iter().map(|wish| wish.rank_said(class));
            wish.chain(found.flashes.get(class).map(flash_note)).collect()
        };
        let notes = self.left_out_said(found).into_iter().chain(self.keeping_said(subject, found));
        Ok(wall.composed(said_of, notes.collect())?)
    }
}

/// The classes as they are listed: the nearest to the goal first, or as they were found.
fn in_turn(explored: &Exploration, wish: Option<&Wish>) -> Vec<usize> {
    wish.map_or_else(|| (0..explored.orders.classes.len()).collect(), |wish| wish.order.clone())
}

impl Found {
    /// One line an order, where neither a wall nor figures were asked for.
    fn listing(&self) -> String {
        let explored = &self.explored;
        let mut text = String::new();
        for at in in_turn(explored, self.wish.as_ref()) {
            let alike = explored.first_alike[at];
            let mut notes = vec![format!("look {}", explored.looks.of[at] + 1)];
            notes.extend(self.flashes.get(at).map(flash_note));
            if alike != at {
                notes.push(format!("same picture as {}", explored.orders.code(alike)));
            }
            if let Some(over) = explored.over.as_ref().filter(|_| at > 0 && alike == at) {
                let (moment, worst) = over.worst(at);
                notes.push(format!(
                    "at beat {}, where it differs most, it {}",
                    beat_said(moment.beats),
                    worst.in_short()
                ));
            }
            notes.extend(self.wish.iter().map(|wish| wish.rank_said(at)));
            let (code, said) = (explored.orders.code(at), explored.orders.order_said(at));
            text += &format!("  {code}  {said}  ({})\n", notes.join(", "));
        }
        text
    }

    /// What decides looks, where it is asked for, and which effects are not seen.
    fn explanation(&self, rules: bool) -> String {
        let explored = &self.explored;
        let mut text = String::new();
        if let Some(limit) = explored.limit_said() {
            text += &format!("{limit}\n");
        }
        if rules && explored.looks.representatives.len() > 1 {
            text += &format!("{}, the first that holds:\n", explored.deciding_said());
            for line in explored.rules_said() {
                text += &format!("  {line}\n");
            }
        }
        if rules && explored.orders.classes.len() > 1 {
            text += &format!("{}\n", explored.looks_said());
        }
        for unseen in self.parts.iter().filter_map(|part| part.unseen.as_deref()) {
            text += &format!("{unseen}\n");
        }
        text
    }
}

fn figures<'a>(subject: &'a Subject, found: &'a Found) -> Figures<'a> {
    let explored = &found.explored;
    let orders = &explored.orders;
    let classes = &orders.proofs.classes;
    let in_full = classes.explored() == Explored::InFull;
    let total = classes.orders_total();
    let look = |(look, &representative): (usize, &usize)| LookFigures {
        look: look + 1,
        name: explored.look_name(look),
        code: orders.code(representative),
        orders: explored.looks.orders_of(look),
    };
    let rule = |rule: &crate::order::Rule| RuleFigures {
        when: rule.when.iter().map(|&fact| orders.fact_said(fact)).collect(),
        look: rule.look + 1,
        code: orders.code(explored.looks.representatives[rule.look]),
        orders: rule.classes,
    };
    let effect = |(at, part): (usize, &Part)| EffectFigures {
        place: at + 1,
        mark: orders.marks.of(at),
        effect: orders.labels[at].clone(),
        idle_because: orders.proofs.idle[at].clone(),
        unseen_because: part.unseen.clone(),
        difference: (&part.difference).into(),
    };
    let order = |at: usize| OrderFigures {
        code: orders.code(at),
        order: orders.classes[at].order.iter().map(|&place| orders.labels[place].clone()).collect(),
        places: orders.classes[at].order.iter().map(|place| place + 1).collect(),
        orders: in_full.then(|| classes.orders_in(&orders.classes[at])),
        picture: explored.finished[at].fingerprint.to_string(),
        same_as: orders.code(explored.first_alike[at]),
        look: explored.looks.of[at] + 1,
        difference: explored.finished[at].difference.as_ref().map(Into::into),
        worst: explored.over.as_ref().map(|over| {
            let (moment, worst) = over.worst(at);
            WorstFigures {
                worst_beat: rounded(moment.beats),
                worst_mean_de2000: rounded(worst.mean),
                worst_p95_de2000: rounded(worst.p95),
                worst_changed_share: rounded(worst.changed_share),
            }
        }),
        rank: found.wish.as_ref().map(|wish| wish.rank(at)),
        wanted: found.wish.as_ref().map(|wish| wish.values[at]),
        flashes: found.flashes.get(at).map(|report| FlashFigures {
            flashes_pass: report.passes(),
            general_flashes_in_worst_second: report.findings[0].flashes(),
            red_flashes_in_worst_second: report.findings[1].flashes(),
        }),
    };
    Figures {
        of: subject.into(),
        explored: if in_full { "in full" } else { "single moves" },
        over: explored.over.as_ref().map(|over| OverFigures {
            over_beats: over.beats,
            frames: over.moments.len(),
            frames_total: over.frames_total,
            pictures_sampled: over.is_sampled(),
            strip_beats: over.strip.iter().map(|&at| rounded(over.moments[at].beats)).collect(),
        }),
        orders_total: match total.map(u64::try_from) {
            Some(Ok(total)) => total.into(),
            // Past 64 bits a JSON number would lose digits.
            Some(Err(_)) => total.map_or_else(String::new, |t| t.to_string()).into(),
            None => serde_json::Value::Null,
        },
        own_order: orders.marks.own(),
        classes: orders.classes.len(),
        distinct: explored.distinct(),
        looks: explored.looks.representatives.len(),
        looks_complete: explored.looks.complete,
        families: FamiliesFigures::of(explored),
        looked_at: explored.looked_at.to_string(),
        look: explored.looks.representatives.iter().enumerate().map(look).collect(),
        rules: explored.rules.list.iter().map(rule).collect(),
        rule_misses: explored.rules.misses,
        want: found.wish.as_ref().map(|wish| wish.goal.name()),
        effects: found.parts.iter().enumerate().map(effect).collect(),
        order: in_turn(explored, found.wish.as_ref()).into_iter().map(order).collect(),
    }
}
