//! `underover orders`: every order of a chain that can differ.

use std::path::{Path, PathBuf};

use clap::Args;
use clap::builder::PossibleValuesParser;
use serde::Serialize;

use super::WrongWords;
use super::figures::{DifferenceFigures, LookOptions, SubjectFigures, rounded};
use super::note;
use super::output::{Output, Replace, check_outputs, check_places, image_of, is_standard_output, say, whole};
use super::progress::Progress;
use super::subject::{Subject, SubjectOptions, order_named};
use super::wish::{Goal, Wish};
use crate::beat::FrameRate;
use crate::chain::{Chain, Preset, labels, said};
use crate::doing::doing;
use crate::edit::Edit;
use crate::exploration::{self, Exploration, Part};
use crate::files::{self, Document};
use crate::flashing::{self, Watch};
use crate::footage::Picture;
use crate::frame::Frame;
use crate::gpu::{Budget, Want};
use crate::library::LibraryError;
use crate::measure::{FlashReport, Limit, Viewing};
use crate::order::{Explored, marks};
use crate::over_time::{Stretch, strip_frame};
use crate::wall::{EffectKey, Tile, TileGrid, Wall, tile_size};

/// Pictures on a wall where nothing is said.
const MOST_SHOWN: usize = 240;
/// The most pictures on any wall.
const MOST_TILES: usize = 2000;
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
    #[arg(long, value_name = "GOAL", value_parser = PossibleValuesParser::new(Goal::ALL.map(Goal::name)))]
    want: Option<String>,
    /// The picture to come near, for --want like
    #[arg(long, value_name = "F", required_if_eq("want", "like"))]
    like: Option<PathBuf>,
    /// Compare the orders over this many beats from --at on, not at one moment
    #[arg(long, value_name = "BEATS", value_parser = stretch, conflicts_with_all = ["want", "like"])]
    over: Option<f64>,
    /// Frames a second whose pictures --over compares; without it every frame, at most 96 in all. Proofs rest on all
    #[arg(long, value_name = "FPS", requires = "over", value_parser = |text: &str| text.parse::<FrameRate>())]
    rate: Option<FrameRate>,
    /// Count the flashes of every order, too: over --over, or 8 beats from --at on
    #[arg(long)]
    flashes: bool,
    #[command(flatten)]
    looks: LookOptions,
    #[command(flatten)]
    replace: Replace,
}

/// Over how many beats --flashes counts, where --over says nothing.
const FLASHES_OVER_BEATS: f64 = 8.0;

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
            replace: Replace::default(),
        }
    }

    pub(super) fn run(&self) -> anyhow::Result<()> {
        let outputs = self.outputs();
        check_places(&outputs)?;
        if self.like.is_some() && self.want.as_deref() != Some(Goal::Like.name()) {
            return Err(WrongWords("--like goes with --want like".to_owned()).into());
        }
        let mut subject = self.subject.open(Frame { width: 640, height: 360 })?;
        if self.keep_as.is_some() && subject.path.chain.is_empty() {
            let nothing = LibraryError::Empty(subject.name.clone());
            return Err(WrongWords(format!("--as: {nothing}")).into());
        }
        let like = self.like.as_deref().map(|path| subject.shown(path)).transpose()?;
        check_outputs(&outputs)?;
        self.keep(&subject)?;
        if self.only_keeps() {
            return Ok(());
        }
        let mut found = self.explore(&mut subject, like.as_ref())?;
        if self.flashes {
            found.flashes = self.flashes_of(&mut subject, &found.explored)?;
        }
        let explored = &found.explored;
        if !self.json.as_deref().is_some_and(is_standard_output) {
            say(&format!("{}\n", explored.summary()))?;
            if self.out.is_none() && self.json.is_none() {
                say(&found.listing())?;
            }
            say(&found.explanation())?;
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
        if let Some(caution) = subject.caution {
            note(caution);
        }
        Ok(())
    }

    /// Whether nothing is asked for beside an order to keep, so that none has to be rendered.
    fn only_keeps(&self) -> bool {
        let shows = self.out.is_some() || self.json.is_some() || self.want.is_some() || self.over.is_some();
        self.keep.is_some() && !shows && !self.flashes
    }

    /// Writes the order that is to be kept as a chain of its own.
    fn keep(&self, subject: &Subject) -> anyhow::Result<()> {
        let (Some(kept), Some(path)) = (&self.keep, &self.keep_as) else { return Ok(()) };
        let chain = &subject.path.chain;
        let order = order_named("--keep", kept, chain)?;
        let labels = labels(chain);
        let code = marks(chain).code(&order);
        let said = said(order.iter().map(|&place| labels[place].as_str()));
        let chain = order.iter().map(|&place| chain[place].clone()).collect();
        let preset = kept_chain(subject, &code, &said, chain);
        self.kept_output(path).write(files::chain_text(&preset).as_bytes())?;
        note(&format!("wrote {} ({code}: {said})", path.display()));
        Ok(())
    }

    /// How one of these orders is kept, as a line to read or to copy.
    fn keeping_said(&self, subject: &Subject, found: &Found) -> Option<String> {
        let other = found.shown.iter().copied().find(|&class| class != 0)?;
        let words = self.subject.words(subject.scope.as_deref());
        let code = found.explored.orders.code(other);
        Some(format!("Keep one by its code: underover orders {words} --keep {code} --as NAME.toml"))
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
        let goal = self.want.as_deref().and_then(Goal::named);
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
            None => exploration::Orders::of(renderer, path)?,
        };
        let most = orders.classes.len();
        let frame = path.moment.frame;
        let whole = match &stretch {
            Some(stretch) => strip_frame(frame, stretch.sampled.len()),
            None => frame,
        };
        let tiles_of = |grid: TileGrid| {
            // A tile larger than the frame is magnified from the frame itself.
            let size = Frame { width: grid.width.min(frame.width), height: grid.height.min(frame.height) };
            Want::Tiles { size, most: usize::MAX }
        };
        // Where not every order fits, which ones are shown is known only once their looks are.
        let shows_all = self.out.is_some() && most <= self.most;
        let mut grid = tile_size(whole, most);
        let want = if shows_all { tiles_of(grid) } else { Want::Figures };
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
                (explored, exploration::parts(renderer, path, limits)?)
            }
        };
        let _ranking = goal.map(|_| doing("ranking the orders"));
        let wish = match goal {
            Some(goal) => Some(Wish::of(goal, renderer, path, &explored, like, budget)?),
            None => None,
        };
        let shown = shown(&explored, wish.as_ref(), self.most);
        if self.out.is_some() && !shows_all {
            grid = tile_size(whole, shown.len());
            let pictures = match &stretch {
                Some(_) => explored.strips(renderer, &shown)?,
                None => explored.pictures(renderer, path, tiles_of(grid), &shown, budget)?,
            };
            for (&class, picture) in shown.iter().zip(pictures) {
                explored.finished[class].picture = picture;
            }
        }
        progress.finished();
        Ok(Found { explored, parts, wish, shown, grid, flashes: Vec::new() })
    }

    /// Counts what every class flashes; equal pictures at one moment may still flash apart.
    fn flashes_of(&self, subject: &mut Subject, explored: &Exploration) -> anyhow::Result<Vec<FlashReport>> {
        let (show, scope) = subject.whole();
        let watch = Watch {
            from_beats: subject.path.moment.beats,
            over_beats: self.over.unwrap_or(FLASHES_OVER_BEATS),
            rate: show.rate,
            viewing: Viewing::default(),
        };
        let classes = &explored.orders.classes;
        let frames = watch.frames(show.tempo_bpm);
        let mut progress = Progress::named("counting flashes", "frames", classes.len() * frames);
        let mut found = Vec::with_capacity(classes.len());
        for (at, class) in classes.iter().enumerate() {
            let (changed, _) = Edit::Order { scope, order: class.order.clone() }.applied(&show)?;
            let tell = |done| {
                progress.tell(at * frames + done);
                true
            };
            found.push(flashing::counted(&mut subject.renderer, &mut subject.shelf, &changed, &watch, tell)?);
        }
        progress.finished();
        Ok(found)
    }

    /// Which orders the wall leaves out, where not every one fits.
    fn left_out_said(&self, found: &Found) -> Option<String> {
        let (classes, shown) = (found.explored.orders.classes.len(), found.shown.len());
        if shown == classes {
            return None;
        }
        let looks = &found.explored.looks;
        let known = looks.representatives.len();
        let which = match known {
            _ if shown < known => format!("{shown} of {known} looks, one picture each"),
            1 => "The one look".to_owned(),
            _ => format!("One picture for each of the {known} looks"),
        };
        let rest = match () {
            () if shown < known => format!("the orders of the other {} looks are left out", known - shown),
            () if looks.complete => "every order left out looks like one of these".to_owned(),
            () => "there are more looks than are told apart: orders left out look most like one of these"
                .to_owned(),
        };
        let more = match () {
            () if classes <= MOST_TILES => format!(" --most {classes} shows every order."),
            () if shown < known => format!(" --most {known} shows every look."),
            () => String::new(),
        };
        Some(format!("{which}, of {classes} orders that can differ; {rest}.{more}"))
    }

    fn wall(&self, subject: &Subject, found: &Found) -> anyhow::Result<Wall> {
        let (moment, explored) = (&subject.path.moment, &found.explored);
        let classes = explored.orders.classes.len();
        let many_looks = explored.looks.representatives.len() > 1;
        let mut tiles = Vec::new();
        let is_all = found.shown.len() == classes;
        for &at in &found.shown {
            let Some(picture) = &explored.finished[at].picture else { continue };
            let alike = explored.first_alike[at];
            let mut notes = Vec::new();
            notes.extend(found.wish.as_ref().map(|wish| wish.said(at)));
            if at == 0 {
                notes.push("the file's own order".to_owned());
            }
            if is_all && alike != at {
                let same = match &explored.over {
                    Some(over) if over.is_sampled() => "same pictures",
                    Some(_) => "same picture at every frame",
                    None => "same picture here",
                };
                notes.push(format!("{same} as {}", explored.orders.code(alike)));
            } else if many_looks {
                let look = explored.looks.of[at];
                let of = match explored.looks.orders_of(look) {
                    _ if is_all => String::new(),
                    1 => " (1 order)".to_owned(),
                    orders => format!(" ({orders} orders)"),
                };
                notes.push(format!("look {}{of}", look + 1));
            }
            notes.extend(found.flashes.get(at).map(flash_note));
            if let Some(over) = explored.over.as_ref().filter(|_| alike == at && at > 0) {
                let (moment, worst) = over.worst(at);
                notes.push(format!(
                    "at beat {}, where it differs most, it {}",
                    beat_said(moment.beats),
                    worst.said_in_short()
                ));
            }
            let note = (!notes.is_empty()).then(|| notes.join(", "));
            let order = explored.orders.classes[at].order.clone();
            let code = explored.orders.code(at);
            tiles.push(Tile { picture: found.grid.tile(&image_of(picture)?)?, order, code, note });
        }
        let effects = subject.path.chain.iter().enumerate().map(|(at, used)| EffectKey {
            label: explored.orders.labels[at].clone(),
            mark: explored.orders.marks.of(at),
            settings: used.written_changes().join(", "),
            idle: explored.orders.proofs.idle[at].clone(),
        });
        let mut notes = Vec::new();
        notes.extend(self.left_out_said(found));
        notes.extend(explored.limit_said());
        if many_looks {
            notes.push(format!("{}: {}.", explored.deciding_said(), found.deciding().join("; ")));
        }
        if classes > 1 {
            notes.push(explored.looks_said());
        }
        notes.extend(found.parts.iter().filter_map(|part| part.unseen.clone()));
        let from = if explored.over.is_some() { "from " } else { "" };
        let place = format!(
            "{}, {from}beat {}, {}, {}",
            subject.footage,
            moment.beats,
            moment.frame,
            moment.pixels.name()
        );
        if let Some(over) = &explored.over {
            let beats: Vec<String> = over.strip.iter().map(|&at| beat_said(over.moments[at].beats)).collect();
            notes.push(format!(
                "Each strip shows one order at the beats {}, from left to right.",
                beats.join(", ")
            ));
        }
        notes.extend(self.keeping_said(subject, found));
        Ok(Wall {
            title: subject.name.clone(),
            facts: [explored.summary(), place].into_iter().chain(subject.frame_note.clone()).collect(),
            effects: effects.collect(),
            tiles,
            notes,
            caution: subject.caution.map(str::to_owned),
        })
    }
}

/// A beat to the hundredth, as far as one reads it.
fn beat_said(beats: f64) -> String {
    let text = format!("{beats:.2}");
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

/// The most facts that a wall's header names.
const FACTS_NAMED: usize = 6;

/// The classes as they are listed: the nearest to the goal first, or as they were found.
fn in_turn(explored: &Exploration, wish: Option<&Wish>) -> Vec<usize> {
    wish.map_or_else(|| (0..explored.orders.classes.len()).collect(), |wish| wish.order.clone())
}

/// The classes that a wall of at most so many pictures shows: all, or the first of each look, in turn.
fn shown(explored: &Exploration, wish: Option<&Wish>, most: usize) -> Vec<usize> {
    let in_turn = in_turn(explored, wish);
    if in_turn.len() <= most {
        return in_turn;
    }
    if wish.is_none() {
        return explored.looks.representatives.iter().copied().take(most).collect();
    }
    let mut seen = vec![false; explored.looks.representatives.len()];
    let is_first = |class: &usize| !std::mem::replace(&mut seen[explored.looks.of[*class]], true);
    in_turn.into_iter().filter(is_first).take(most).collect()
}

impl Found {
    /// The facts that decide, both ways round: "tint before or after edge-find".
    fn deciding(&self) -> Vec<String> {
        let facts = self.explored.rules.facts();
        let labels = &self.explored.orders.labels;
        let said = |fact: &crate::order::Fact| {
            format!("{} before or after {}", labels[fact.before], labels[fact.after])
        };
        let mut lines: Vec<String> = facts.iter().take(FACTS_NAMED).map(said).collect();
        if facts.len() > FACTS_NAMED {
            lines.push(format!("and {} more", facts.len() - FACTS_NAMED));
        }
        lines
    }

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
                    worst.said_in_short()
                ));
            }
            notes.extend(self.wish.iter().map(|wish| wish.said(at)));
            let (code, said) = (explored.orders.code(at), explored.orders.said(at));
            text += &format!("  {code}  {said}  ({})\n", notes.join(", "));
        }
        text
    }

    /// What decides, and which effects are not seen.
    fn explanation(&self) -> String {
        let explored = &self.explored;
        let mut text = String::new();
        if let Some(limit) = explored.limit_said() {
            text += &format!("{limit}\n");
        }
        if explored.looks.representatives.len() > 1 {
            text += &format!("{}, the first that holds:\n", explored.deciding_said());
            for line in explored.rules_said() {
                text += &format!("  {line}\n");
            }
        }
        if explored.orders.classes.len() > 1 {
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
        looked_at: explored.looked_at.to_string(),
        look: explored.looks.representatives.iter().enumerate().map(look).collect(),
        rules: explored.rules.list.iter().map(rule).collect(),
        rule_misses: explored.rules.misses,
        want: found.wish.as_ref().map(|wish| wish.goal.name()),
        effects: found.parts.iter().enumerate().map(effect).collect(),
        order: in_turn(explored, found.wish.as_ref()).into_iter().map(order).collect(),
    }
}

/// "2 flashes a second", "4.5 red flashes a second: too many".
fn flash_note(report: &FlashReport) -> String {
    let worst = report.worst();
    let red = if matches!(worst.limit, Limit::Red | Limit::ScreenRed) { "red " } else { "" };
    let verdict = if report.passes() { "" } else { ": too many" };
    format!("{} {red}flashes a second{verdict}", worst.flashes())
}

/// The chain in the order kept, as a preset of its own.
fn kept_chain(subject: &Subject, code: &str, said: &str, chain: Chain) -> Preset {
    let (tags, from) = match &subject.document {
        Document::Chain(preset) => (preset.tags.clone(), subject.name.clone()),
        Document::Show(show) => {
            (show.tags.clone(), format!("{}, {}", subject.name, subject.scope.as_deref().unwrap_or("")))
        }
    };
    Preset {
        name: short(&format!("{} {code}", subject.name)),
        about: format!("Order {code} of {from}: {said}."),
        tags,
        chain,
    }
}

/// A name of at most the 80 characters that files take, its end kept.
fn short(name: &str) -> String {
    let extra = name.chars().count().saturating_sub(80);
    name.chars().skip(extra).collect()
}
