//! `underover orders`: every order of a chain that can differ.

use std::path::PathBuf;

use clap::Args;
use clap::builder::PossibleValuesParser;
use serde::Serialize;

use super::WrongWords;
use super::figures::{DifferenceFigures, LookOptions, SubjectFigures, rounded};
use super::note;
use super::output::{
    Output, check_apart, check_outputs, image_of, is_standard_output, say, whole, write_json, write_picture,
};
use super::progress::Progress;
use super::subject::{Subject, SubjectOptions};
use super::wish::{Goal, Wish};
use crate::beat::FrameRate;
use crate::chain::Preset;
use crate::edit::Edit;
use crate::exploration::{self, Exploration, Part};
use crate::files::{self, Document};
use crate::flashing::{self, Watch};
use crate::frame::Frame;
use crate::gpu::{Budget, Want};
use crate::measure::{FlashReport, Limit, Viewing};
use crate::order::Explored;
use crate::over_time::{Stretch, strip_frame};
use crate::wall::{EffectKey, Tile, TileGrid, Wall, tile_size};

/// Pictures on a wall where nothing is said.
const MOST_SHOWN: usize = 240;
/// Orders of the longest chain that is explored in full: 8 effects.
const MOST_KEPT: usize = 40_320;
/// The longest stretch of beats that orders are compared over.
const MOST_BEATS_OVER: f64 = 64.0;
/// A tebibyte: more than any machine lends for pictures.
const MOST_MIB: u64 = 1 << 20;

/// The options of `orders`.
#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  underover orders preset:lamp-lines                   lists the orders that can differ
  underover orders preset:all-hands --footage photo.jpg --at 0.1 --out wall.png
  underover orders preset:all-hands --footage photo.jpg --at 0.1 --keep 7 --as mine.toml
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
    /// The most pictures that the wall shows
    #[arg(long, value_name = "N", default_value_t = MOST_SHOWN, value_parser = |text: &str| whole(text, 1_usize, 2000))]
    most: usize,
    /// Keep the order of this number on the wall or list as a chain file (with --as)
    #[arg(long, value_name = "K", requires = "keep_as", value_parser = |text: &str| whole(text, 1, MOST_KEPT))]
    keep: Option<usize>,
    /// The chain file to write for --keep
    #[arg(long = "as", id = "keep_as", value_name = "F.toml", requires = "keep")]
    keep_as: Option<PathBuf>,
    /// Memory for pictures on the GPU, in MiB
    #[arg(long, value_name = "MIB", default_value_t = Budget::default().mib, value_parser = |text: &str| whole(text, 1, MOST_MIB))]
    memory: u64,
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
    /// The number of the order that stands for it.
    order: usize,
    orders: usize,
}

#[derive(Serialize)]
struct RuleFigures {
    /// All of these hold; the first rule that holds counts.
    when: Vec<String>,
    look: usize,
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
    number: usize,
    order: Vec<String>,
    places: Vec<usize>,
    /// Orders proved to give this picture; absent where the chain is not explored in full.
    #[serde(skip_serializing_if = "Option::is_none")]
    orders: Option<u64>,
    picture: String,
    /// The number of the first order with the same picture here; its own, where it is the first.
    same_as: usize,
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
            memory: Budget::default().mib,
            flashes: false,
            want: None,
            like: None,
            over: None,
            rate: None,
            looks: LookOptions::default(),
        }
    }

    pub(super) fn run(&self) -> anyhow::Result<()> {
        let outputs = self.outputs();
        check_outputs(&outputs)?;
        let mut subject = self.subject.open(Frame { width: 640, height: 360 })?;
        check_apart(&outputs, &subject.read)?;
        let mut found = self.explore(&mut subject)?;
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
        }
        if let Some(out) = &self.out {
            let wall = self.wall(&subject, &found)?;
            write_picture(out, &wall.drawn()?)?;
            note(&format!("wrote {} ({} pictures)", out.display(), wall.tiles.len()));
        }
        if let Some(json) = &self.json {
            write_json(json, &figures(&subject, &found))?;
            if !is_standard_output(json) {
                note(&format!("wrote {} ({} orders)", json.display(), explored.orders.classes.len()));
            }
        }
        if let (Some(kept), Some(path)) = (self.keep, &self.keep_as) {
            let preset = kept_chain(&subject, explored, kept);
            files::write(path, files::chain_text(&preset).as_bytes())?;
            note(&format!("wrote {} (order {kept}: {})", path.display(), explored.orders.said(kept - 1)));
        }
        if let Some(caution) = subject.caution {
            note(caution);
        }
        Ok(())
    }

    fn outputs(&self) -> Vec<Output<'_>> {
        let output = |option, path, ending| Output { option, path, ending };
        let out = self.out.iter().map(|path| output("--out", path, Some("png")));
        let json = self.json.iter().map(|path| output("--json", path, None));
        let keep_as = self.keep_as.iter().map(|path| output("--as", path, Some("toml")));
        out.chain(json).chain(keep_as).collect()
    }

    fn explore(&self, subject: &mut Subject) -> anyhow::Result<Found> {
        let goal = self.want.as_deref().and_then(Goal::named);
        if self.like.is_some() && goal != Some(Goal::Like) {
            return Err(WrongWords("--like goes with --want like".to_owned()).into());
        }
        let like = match &self.like {
            Some(path) => Some(subject.shown(path)?),
            None => None,
        };
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
                let mut progress = Progress::of(stretch.proof_frames());
                stretch.orders(renderer, |frames| progress.tell(frames))?
            }
            None => exploration::Orders::of(renderer, path)?,
        };
        let most = orders.classes.len();
        if let Some(kept) = self.keep.filter(|kept| !(1..=most).contains(kept)) {
            return Err(WrongWords(match most {
                1 => format!("--keep {kept}: only one order can differ, number 1"),
                most => format!("--keep {kept}: the orders that can differ have the numbers 1 to {most}"),
            })
            .into());
        }
        // A wish may bring any order to the front, so that a tile of each is needed.
        let shown = if goal.is_some() { most } else { most.min(self.most) };
        let whole = match &stretch {
            Some(stretch) => strip_frame(path.moment.frame, stretch.sampled.len()),
            None => path.moment.frame,
        };
        let grid = tile_size(whole, most.min(self.most));
        // A tile larger than the frame is magnified from the frame itself.
        let frame = path.moment.frame;
        let size = Frame { width: grid.width.min(frame.width), height: grid.height.min(frame.height) };
        let want = if self.out.is_some() { Want::Tiles { size, most: shown } } else { Want::Figures };
        let mut progress = Progress::of(most);
        let (limits, budget) = (self.looks.limits(), Budget { mib: self.memory });
        if let Some(stretch) = &stretch {
            let strips = if self.out.is_some() { shown } else { 0 };
            let explored =
                stretch.explored(orders, renderer, strips, limits, budget, |done| progress.tell(done))?;
            let parts = stretch.parts(&explored.orders, renderer, limits, budget)?;
            progress.finished();
            return Ok(Found { explored, parts, wish: None, grid, flashes: Vec::new() });
        }
        let explored = orders.explored(renderer, path, want, limits, budget, |done| progress.tell(done))?;
        let parts = exploration::parts(renderer, path, limits)?;
        let wish = match goal {
            Some(goal) => Some(Wish::of(goal, renderer, path, &explored, like.as_ref(), budget)?),
            None => None,
        };
        progress.finished();
        Ok(Found { explored, parts, wish, grid, flashes: Vec::new() })
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
        let mut progress = Progress::of(classes.len() * frames);
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

    fn wall(&self, subject: &Subject, found: &Found) -> anyhow::Result<Wall> {
        let (moment, explored) = (&subject.path.moment, &found.explored);
        let classes = explored.orders.classes.len();
        let many_looks = explored.looks.representatives.len() > 1;
        let mut tiles = Vec::new();
        for at in found.in_turn().take(self.most) {
            let Some(picture) = &explored.finished[at].picture else { continue };
            let alike = explored.first_alike[at];
            let mut notes = Vec::new();
            if let Some(wish) = &found.wish {
                notes.push(wish.said(at));
            }
            if at == 0 {
                notes.push("the file's own order".to_owned());
            }
            if alike != at {
                let same = match &explored.over {
                    Some(over) if over.is_sampled() => "same pictures",
                    Some(_) => "same picture at every frame",
                    None => "same picture here",
                };
                notes.push(format!("{same} as {}", alike + 1));
            } else if many_looks {
                notes.push(format!("look {}", explored.looks.of[at] + 1));
            }
            notes.extend(found.flashes.get(at).map(flash_note));
            if let Some(over) = explored.over.as_ref().filter(|_| alike == at && at > 0) {
                let (moment, worst) = over.worst(at);
                notes.push(format!(
                    "differs most at beat {}, mean {:.1}",
                    beat_said(moment.beats),
                    worst.mean
                ));
            }
            let note = (!notes.is_empty()).then(|| notes.join(", "));
            let order = explored.orders.classes[at].order.clone();
            tiles.push(Tile { picture: found.grid.tile(&image_of(picture)?)?, order, number: at + 1, note });
        }
        let effects = subject.path.chain.iter().enumerate().map(|(at, used)| EffectKey {
            label: explored.orders.labels[at].clone(),
            settings: used.written_changes().join(", "),
            idle: explored.orders.proofs.idle[at].clone(),
        });
        let mut notes = Vec::new();
        if tiles.len() < classes {
            notes.push(format!("{} of {classes} orders shown; --most shows more.", tiles.len()));
        }
        notes.extend(explored.limit_said());
        if many_looks {
            notes.push(format!("{}: {}.", explored.deciding_said(), found.deciding().join("; ")));
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
        Ok(Wall {
            title: subject.name.clone(),
            facts: vec![explored.summary(), place],
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

impl Found {
    /// The classes as they are shown: by number, or the nearest to the goal first.
    fn in_turn(&self) -> impl Iterator<Item = usize> {
        let order = match &self.wish {
            Some(wish) => wish.order.clone(),
            None => (0..self.explored.orders.classes.len()).collect(),
        };
        order.into_iter()
    }

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
        for at in self.in_turn() {
            let alike = explored.first_alike[at];
            let mut notes = vec![format!("look {}", explored.looks.of[at] + 1)];
            notes.extend(self.flashes.get(at).map(flash_note));
            if alike != at {
                notes.push(format!("same picture as {}", alike + 1));
            }
            if let Some(over) = explored.over.as_ref().filter(|_| at > 0 && alike == at) {
                let (moment, worst) = over.worst(at);
                notes.push(format!(
                    "differs most at beat {}, mean {:.1}",
                    beat_said(moment.beats),
                    worst.mean
                ));
            }
            notes.extend(self.wish.iter().map(|wish| wish.said(at)));
            text += &format!("{:>5}  {}  ({})\n", at + 1, explored.orders.said(at), notes.join(", "));
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
        order: representative + 1,
        orders: explored.looks.of.iter().filter(|&&of| of == look).count(),
    };
    let rule = |rule: &crate::order::Rule| RuleFigures {
        when: rule.when.iter().map(|&fact| orders.fact_said(fact)).collect(),
        look: rule.look + 1,
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
        number: at + 1,
        order: orders.classes[at].order.iter().map(|&place| orders.labels[place].clone()).collect(),
        places: orders.classes[at].order.iter().map(|place| place + 1).collect(),
        orders: in_full.then(|| classes.orders_in(&orders.classes[at])),
        picture: explored.finished[at].fingerprint.to_string(),
        same_as: explored.first_alike[at] + 1,
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
        order: (0..orders.classes.len()).map(order).collect(),
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
fn kept_chain(subject: &Subject, explored: &Exploration, kept: usize) -> Preset {
    let order = &explored.orders.classes[kept - 1].order;
    let chain = order.iter().map(|&place| subject.path.chain[place].clone()).collect();
    let (tags, from) = match &subject.document {
        Document::Chain(preset) => (preset.tags.clone(), subject.name.clone()),
        Document::Show(show) => {
            (show.tags.clone(), format!("{}, {}", subject.name, subject.scope.as_deref().unwrap_or("")))
        }
    };
    Preset {
        name: short(&format!("{} {kept}", subject.name)),
        about: format!("Order {kept} of {from}: {}.", explored.orders.said(kept - 1)),
        tags,
        chain,
    }
}

/// A name of at most the 80 characters that files take, its end kept.
fn short(name: &str) -> String {
    let extra = name.chars().count().saturating_sub(80);
    name.chars().skip(extra).collect()
}
