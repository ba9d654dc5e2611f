//! `underover orders`: every order of a chain that can differ.

use std::collections::HashMap;
use std::path::{Path, PathBuf};

use clap::Args;
use image::RgbaImage;
use serde::Serialize;

use super::WrongWords;
use super::output::{check_folder, check_picture_name, say, write_json, write_picture};
use super::subject::{Progress, Subject, SubjectOptions};
use crate::chain::{Preset, labels, said};
use crate::files::{self, Document};
use crate::footage::Picture;
use crate::frame::Frame;
use crate::gpu::{Budget, Fingerprint, Finished, Want};
use crate::order::{Class, Explored, Facts, LONGEST_IN_FULL, Proofs, Tree};
use crate::wall::{EffectKey, Tile, TileGrid, Wall, tile_size};

/// The options of `orders`.
#[derive(Debug, Args)]
#[command(
    after_help = "Example: underover orders preset:all-hands --footage photo.jpg --frame 640x360 --at 0.1 --out wall.png --json wall.json"
)]
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
    #[arg(long, value_name = "N", default_value_t = 240, value_parser = clap::value_parser!(u32).range(1..=2000))]
    most: u32,
    /// Keep order number K as a chain file (with --as)
    #[arg(long, value_name = "K", requires = "keep_as")]
    keep: Option<usize>,
    /// The chain file to write for --keep
    #[arg(long = "as", id = "keep_as", value_name = "F.toml", requires = "keep")]
    keep_as: Option<PathBuf>,
    /// Memory for pictures on the GPU, in MiB
    #[arg(long, value_name = "MIB", default_value_t = Budget::default().mib)]
    memory: u64,
}

/// What `--json` gives.
#[derive(Serialize)]
struct Figures<'a> {
    name: &'a str,
    #[serde(skip_serializing_if = "Option::is_none")]
    scope: Option<&'a str>,
    footage: &'a str,
    frame: String,
    pixels: &'static str,
    at_beats: f64,
    adapter: String,
    /// `in full`, or `single moves` past the longest chain that is explored in full.
    explored: &'static str,
    orders_total: serde_json::Value,
    classes: usize,
    distinct: usize,
    effects: Vec<EffectFigures>,
    order: Vec<OrderFigures>,
}

#[derive(Serialize)]
struct EffectFigures {
    place: usize,
    effect: String,
    #[serde(skip_serializing_if = "Option::is_none")]
    idle_because: Option<String>,
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
}

/// A chain's orders, explored.
struct Exploration {
    proofs: Proofs,
    classes: Vec<Class>,
    finished: Vec<Finished>,
    /// For each class, the first class with the same picture.
    first_alike: Vec<usize>,
    labels: Vec<String>,
}

impl Orders {
    pub(super) fn demo(subject: SubjectOptions, out: PathBuf, json: PathBuf) -> Self {
        Self {
            subject,
            out: Some(out),
            json: Some(json),
            most: 240,
            keep: None,
            keep_as: None,
            memory: Budget::default().mib,
        }
    }

    pub(super) fn run(&self) -> anyhow::Result<()> {
        if let Some(out) = &self.out {
            check_picture_name(out)?;
        }
        for other in self.json.iter().chain(&self.keep_as).filter(|path| *path != Path::new("-")) {
            check_folder(other)?;
        }
        let mut subject = self.subject.open(Frame { width: 640, height: 360 })?;
        let (explored, grid) = self.explore(&mut subject)?;
        if let Some(kept) = self.keep
            && !(1..=explored.classes.len()).contains(&kept)
        {
            return Err(WrongWords(format!(
                "--keep {kept}: there are orders 1 to {}",
                explored.classes.len()
            ))
            .into());
        }
        let summary = explored.summary();
        if self.json.as_deref() != Some(Path::new("-")) {
            say(&format!("{summary}\n"))?;
            if self.out.is_none() && self.json.is_none() {
                say(&explored.listing())?;
            }
        }
        if let Some(out) = &self.out {
            let wall = self.wall(&subject, &explored, &grid, &summary)?;
            write_picture(out, &wall.drawn()?)?;
            eprintln!("wrote {} ({} pictures)", out.display(), wall.tiles.len());
        }
        if let Some(json) = &self.json {
            write_json(json, &figures(&subject, &explored))?;
            if json != Path::new("-") {
                eprintln!("wrote {} ({} orders)", json.display(), explored.classes.len());
            }
        }
        if let (Some(kept), Some(path)) = (self.keep, &self.keep_as) {
            let preset = kept_chain(&subject, &explored, kept);
            files::write(path, files::chain_text(&preset).as_bytes())?;
            eprintln!("wrote {} (order {kept}: {})", path.display(), explored.said(kept - 1));
        }
        if let Some(caution) = subject.caution {
            eprintln!("{caution}");
        }
        Ok(())
    }

    fn explore(&self, subject: &mut Subject) -> anyhow::Result<(Exploration, TileGrid)> {
        let (path, renderer) = (&subject.path, &mut subject.renderer);
        let maps = renderer.index_maps(&path.chain, &path.moment)?;
        let facts = Facts { chain: &path.chain, moment: &path.moment, opaque: path.opaque, maps: &maps };
        let proofs = Proofs::of(&facts);
        let classes = proofs.classes.all();
        let tree = Tree::of(&classes, |effect| proofs.idle[effect].is_some());
        let shown = classes.len().min(self.most as usize);
        let grid = tile_size(path.moment.frame, shown);
        // A tile larger than the frame is magnified from the frame itself.
        let frame = path.moment.frame;
        let size = Frame { width: grid.width.min(frame.width), height: grid.height.min(frame.height) };
        let want = if self.out.is_some() { Want::Tiles { size, most: shown } } else { Want::Figures };
        let mut progress = Progress::of(classes.len());
        let finished =
            renderer.explore(path, &tree, want, Budget { mib: self.memory }, |done| progress.tell(done))?;
        drop(progress);
        let mut first: HashMap<Fingerprint, usize> = HashMap::new();
        let first_alike =
            finished.iter().enumerate().map(|(at, f)| *first.entry(f.fingerprint).or_insert(at)).collect();
        let labels = labels(&path.chain);
        Ok((Exploration { proofs, classes, finished, first_alike, labels }, grid))
    }

    fn wall(
        &self,
        subject: &Subject,
        explored: &Exploration,
        grid: &TileGrid,
        summary: &str,
    ) -> anyhow::Result<Wall> {
        let moment = &subject.path.moment;
        let shown = explored.classes.len().min(self.most as usize);
        let mut tiles = Vec::with_capacity(shown);
        for at in 0..shown {
            let Some(picture) = &explored.finished[at].picture else { continue };
            let alike = explored.first_alike[at];
            let note = match (at, alike) {
                (0, _) => Some("the file's own order".to_owned()),
                (_, alike) if alike != at => Some(format!("same picture here as {}", alike + 1)),
                _ => None,
            };
            let order = explored.classes[at].order.clone();
            tiles.push(Tile { picture: grid.tile(&image_of(picture)?)?, order, number: at + 1, note });
        }
        let effects = subject.path.chain.iter().enumerate().map(|(at, used)| EffectKey {
            label: explored.labels[at].clone(),
            settings: used.written_changes().join(", "),
            idle: explored.proofs.idle[at].clone(),
        });
        let mut notes = Vec::new();
        if shown < explored.classes.len() {
            notes.push(format!("{shown} of {} orders shown; --most shows more.", explored.classes.len()));
        }
        if explored.proofs.classes.explored() == Explored::SingleMoves {
            notes.push(single_moves_note(explored.labels.len()));
        }
        Ok(Wall {
            title: subject.name.clone(),
            facts: vec![
                summary.to_owned(),
                format!(
                    "{}, beat {}, {}, {}",
                    subject.footage,
                    moment.beats,
                    moment.frame,
                    moment.pixels.name()
                ),
            ],
            effects: effects.collect(),
            tiles,
            notes,
            caution: subject.caution.map(str::to_owned),
        })
    }
}

impl Exploration {
    fn distinct(&self) -> usize {
        self.first_alike.iter().enumerate().filter(|(at, first)| at == *first).count()
    }

    /// "120 orders, 54 that can differ, 52 that differ here".
    fn summary(&self) -> String {
        let total = match self.proofs.classes.orders_total() {
            Some(total) => grouped(total),
            None => "more than 10^38".to_owned(),
        };
        let can = grouped(self.classes.len() as u128);
        let here = grouped(self.distinct() as u128);
        let plural = if total == "1" { "" } else { "s" };
        match self.proofs.classes.explored() {
            Explored::InFull => {
                format!("{total} order{plural}, {can} that can differ, {here} that differ here")
            }
            Explored::SingleMoves => format!(
                "{total} orders; of those one move away from the file's own, {can} can differ, {here} differ here"
            ),
        }
    }

    fn said(&self, class: usize) -> String {
        said(self.classes[class].order.iter().map(|&place| self.labels[place].as_str()))
    }

    /// One line an order, where neither a wall nor figures were asked for.
    fn listing(&self) -> String {
        let mut text = String::new();
        for (at, finished) in self.finished.iter().enumerate() {
            let alike = self.first_alike[at];
            let note = if alike == at { String::new() } else { format!("  (same picture as {})", alike + 1) };
            let short = &finished.fingerprint.to_string()[..8];
            text += &format!("{:>5}  {short}  {}{note}\n", at + 1, self.said(at));
        }
        if self.proofs.classes.explored() == Explored::SingleMoves {
            text += &format!("{}\n", single_moves_note(self.labels.len()));
        }
        text
    }
}

fn single_moves_note(effects: usize) -> String {
    format!(
        "All orders are explored up to {LONGEST_IN_FULL} effects; this chain has {effects}, so its own order and every single move are shown."
    )
}

fn figures<'a>(subject: &'a Subject, explored: &Exploration) -> Figures<'a> {
    let moment = &subject.path.moment;
    let classes = &explored.proofs.classes;
    let in_full = classes.explored() == Explored::InFull;
    let total = classes.orders_total();
    Figures {
        name: &subject.name,
        scope: subject.scope.as_deref(),
        footage: &subject.footage,
        frame: moment.frame.to_string(),
        pixels: moment.pixels.name(),
        at_beats: moment.beats,
        adapter: subject.renderer.gpu().adapter().to_string(),
        explored: if in_full { "in full" } else { "single moves" },
        orders_total: match total.map(u64::try_from) {
            Some(Ok(total)) => total.into(),
            // Past 64 bits a JSON number would lose digits.
            Some(Err(_)) => total.map_or_else(String::new, |t| t.to_string()).into(),
            None => serde_json::Value::Null,
        },
        classes: explored.classes.len(),
        distinct: explored.distinct(),
        effects: (0..explored.labels.len())
            .map(|at| EffectFigures {
                place: at + 1,
                effect: explored.labels[at].clone(),
                idle_because: explored.proofs.idle[at].clone(),
            })
            .collect(),
        order: explored
            .classes
            .iter()
            .zip(&explored.finished)
            .enumerate()
            .map(|(at, (class, finished))| OrderFigures {
                number: at + 1,
                order: class.order.iter().map(|&place| explored.labels[place].clone()).collect(),
                places: class.order.iter().map(|place| place + 1).collect(),
                orders: in_full.then(|| classes.orders_in(class)),
                picture: finished.fingerprint.to_string(),
                same_as: explored.first_alike[at] + 1,
            })
            .collect(),
    }
}

/// The chain in the order kept, as a preset of its own.
fn kept_chain(subject: &Subject, explored: &Exploration, kept: usize) -> Preset {
    let order = &explored.classes[kept - 1].order;
    let chain = order.iter().map(|&place| subject.path.chain[place].clone()).collect();
    let (tags, from) = match &subject.document {
        Document::Chain(preset) => (preset.tags.clone(), subject.name.clone()),
        Document::Show(show) => {
            (show.tags.clone(), format!("{}, {}", subject.name, subject.scope.as_deref().unwrap_or("")))
        }
    };
    Preset {
        name: short(&format!("{} {kept}", subject.name)),
        about: format!("Order {kept} of {from}: {}.", explored.said(kept - 1)),
        tags,
        chain,
    }
}

/// A name of at most the 80 characters that files take, its end kept.
fn short(name: &str) -> String {
    let extra = name.chars().count().saturating_sub(80);
    name.chars().skip(extra).collect()
}

fn image_of(picture: &Picture) -> anyhow::Result<RgbaImage> {
    let Frame { width, height } = picture.frame;
    RgbaImage::from_raw(width, height, picture.rgba.clone())
        .ok_or_else(|| anyhow::anyhow!("the GPU gave back too few bytes for {width}x{height}"))
}

/// A number with a comma at every thousand.
fn grouped(number: u128) -> String {
    let digits = number.to_string();
    let mut text = String::with_capacity(digits.len() * 4 / 3);
    for (at, digit) in digits.chars().enumerate() {
        if at > 0 && (digits.len() - at).is_multiple_of(3) {
            text.push(',');
        }
        text.push(digit);
    }
    text
}
