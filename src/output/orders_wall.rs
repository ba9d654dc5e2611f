//! The wall of an exploration, for the command and for the window alike.

use std::borrow::Cow;

use image::RgbaImage;

use super::wall::{EffectKey, Tile, TileGrid, Wall, WallError, tile_size};
use crate::base::frame::Frame;
use crate::base::picture::Picture;
use crate::explore::{Exploration, Part};
use crate::gpu::Want;
use crate::order::Fact;
use crate::plan::Path;

/// Orders that were explored, as a wall shows them.
#[derive(Debug)]
pub struct OrdersWall<'a> {
    /// The name of the chain or show.
    pub title: &'a str,
    /// What is under the chain: footage, or the scope of a show.
    pub source: &'a str,
    /// What is to be said where the frame is not the show's own.
    pub frame_note: Option<&'a str>,
    /// The path that was explored.
    pub path: &'a Path,
    /// What was found.
    pub explored: &'a Exploration,
    /// What each effect does where it stands.
    pub parts: &'a [Part],
    /// The classes that have a picture, in the order in which they are shown.
    pub shown: &'a [usize],
    /// Where the pictures stand.
    pub grid: TileGrid,
    /// What the chain's own order is called.
    pub own: &'a str,
    /// A warning that must be read.
    pub caution: Option<&'a str>,
}

/// The size of this many tiles of pictures of `whole`, and what has to be rendered of pictures of `frame` for them.
pub fn tiles_wanted(frame: Frame, whole: Frame, tiles: usize) -> (TileGrid, Want) {
    let grid = tile_size(whole, tiles);
    // A tile larger than the frame is magnified from the frame itself.
    let size = Frame { width: grid.width.min(frame.width), height: grid.height.min(frame.height) };
    (grid, Want::Tiles { size, most: usize::MAX })
}

/// Of the classes as they come, those that a wall of `most` pictures shows: all where they fit, otherwise the
/// first of each look; where they do not come by rank, the one that stands for it.
pub fn fitting(explored: &Exploration, in_turn: Vec<usize>, is_ranked: bool, most: usize) -> Vec<usize> {
    if in_turn.len() <= most {
        return in_turn;
    }
    if !is_ranked {
        return explored.looks.representatives.iter().copied().take(most).collect();
    }
    let mut seen = vec![false; explored.looks.representatives.len()];
    let is_first = |class: &usize| !std::mem::replace(&mut seen[explored.looks.of[*class]], true);
    in_turn.into_iter().filter(is_first).take(most).collect()
}

/// Which orders a wall of `shown` pictures leaves out, if any.
pub fn left_out_said(explored: &Exploration, shown: usize) -> Option<String> {
    let classes = explored.orders.classes.len();
    if shown == classes {
        return None;
    }
    let looks = &explored.looks;
    let known = looks.representatives.len();
    let which = match known {
        _ if shown < known => format!("{shown} of {known} looks, one picture each"),
        1 => "The one look".to_owned(),
        _ => format!("One picture for each of the {known} looks"),
    };
    let rest = match () {
        () if shown < known => format!("the orders of the other {} looks are left out", known - shown),
        () if looks.complete => "every order left out looks like one of these".to_owned(),
        () => {
            "there are more looks than are told apart: orders left out look most like one of these".to_owned()
        }
    };
    Some(format!("{which}, of {classes} orders that can differ; {rest}."))
}

/// The words of a command line, each as a shell reads it back.
pub fn quoted<'a>(words: impl IntoIterator<Item = &'a str>) -> String {
    // Only a word with a zero byte cannot be quoted, and no file is called so.
    let quoted = |word: &'a str| shlex::try_quote(word).unwrap_or(Cow::Borrowed(word));
    words.into_iter().map(quoted).collect::<Vec<_>>().join(" ")
}

/// How one of the orders that are shown is kept, as a line to read or to copy: `words` name the file and the scope;
/// nothing where no file holds the chain as it is.
pub fn keeping_said(explored: &Exploration, shown: &[usize], words: Option<&str>) -> Option<String> {
    let other = shown.iter().copied().find(|&class| class != 0)?;
    Some(match words {
        Some(words) => format!(
            "Keep one by its code: underover orders {words} --keep {} --as NAME.toml",
            explored.orders.code(other)
        ),
        None => "Keep one by its code: save this first; then the wall says the command.".to_owned(),
    })
}

/// A beat to the hundredth, as far as one reads it.
pub fn beat_said(beats: f64) -> String {
    let text = format!("{beats:.2}");
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

/// The most facts that a wall's header names.
const FACTS_NAMED: usize = 6;

/// The facts that decide, both ways round: "tint before or after edge-find".
fn deciding(explored: &Exploration) -> Vec<String> {
    let (facts, labels) = (explored.rules.facts(), &explored.orders.labels);
    let said = |fact: &Fact| format!("{} before or after {}", labels[fact.before], labels[fact.after]);
    let mut lines: Vec<String> = facts.iter().take(FACTS_NAMED).map(said).collect();
    if facts.len() > FACTS_NAMED {
        lines.push(format!("and {} more", facts.len() - FACTS_NAMED));
    }
    lines
}

impl OrdersWall<'_> {
    /// The wall; `said_of` gives what else is said of a class, `notes` what else has to be known.
    ///
    /// # Errors
    /// [`WallError`] where a picture has too few bytes or cannot be made smaller.
    pub fn composed(
        &self,
        said_of: impl Fn(usize) -> Vec<String>,
        notes: Vec<String>,
    ) -> Result<Wall, WallError> {
        let explored = self.explored;
        let classes = explored.orders.classes.len();
        let mut tiles = Vec::with_capacity(self.shown.len());
        for &class in self.shown {
            let Some(picture) = &explored.finished[class].picture else { continue };
            let mut said = said_of(class);
            said.extend(self.said_of(class));
            tiles.push(Tile {
                picture: self.grid.tile(&image_of(picture)?)?,
                order: explored.orders.classes[class].order.clone(),
                code: explored.orders.code(class),
                note: (!said.is_empty()).then(|| said.join(", ")),
            });
        }
        let effects = self.path.chain.iter().enumerate().map(|(at, used)| EffectKey {
            label: explored.orders.labels[at].clone(),
            mark: explored.orders.marks.of(at),
            settings: used.written_changes().join(", "),
            idle: explored.orders.proofs.idle[at].clone(),
        });
        let mut all_notes = Vec::new();
        all_notes.extend(explored.limit_said());
        if explored.looks.representatives.len() > 1 {
            all_notes.push(format!("{}: {}.", explored.deciding_said(), deciding(explored).join("; ")));
        }
        if classes > 1 {
            all_notes.push(explored.looks_said());
        }
        all_notes.extend(self.parts.iter().filter_map(|part| part.unseen.clone()));
        if let Some(over) = &explored.over {
            let beats: Vec<String> = over.strip.iter().map(|&at| beat_said(over.moments[at].beats)).collect();
            let beats = beats.join(", ");
            all_notes.push(format!("Each strip shows one order at the beats {beats}, from left to right."));
        }
        all_notes.extend(notes);
        let from = if explored.over.is_some() { "from " } else { "" };
        let moment = &self.path.moment;
        let place = format!(
            "{}, {from}beat {}, {}, {}",
            self.source,
            moment.beats,
            moment.frame,
            moment.pixels.name()
        );
        let facts = [explored.summary(), place].into_iter().chain(self.frame_note.map(str::to_owned));
        Ok(Wall {
            title: self.title.to_owned(),
            facts: facts.collect(),
            effects: effects.collect(),
            tiles,
            notes: all_notes,
            caution: self.caution.map(str::to_owned),
        })
    }

    /// What is known of a class, for under its picture.
    fn said_of(&self, class: usize) -> Vec<String> {
        let explored = self.explored;
        let is_all = self.shown.len() == explored.orders.classes.len();
        let alike = explored.first_alike[class];
        let mut said = Vec::new();
        if class == 0 {
            said.push(self.own.to_owned());
        }
        if is_all && alike != class {
            let same = match &explored.over {
                Some(over) if over.is_sampled() => "same pictures",
                Some(_) => "same picture at every frame",
                None => "same picture here",
            };
            said.push(format!("{same} as {}", explored.orders.code(alike)));
        } else if explored.looks.representatives.len() > 1 {
            let look = explored.looks.of[class];
            let of = match explored.looks.orders_of(look) {
                _ if is_all => String::new(),
                1 => " (1 order)".to_owned(),
                orders => format!(" ({orders} orders)"),
            };
            said.push(format!("look {}{of}", look + 1));
        }
        if let Some(over) = explored.over.as_ref().filter(|_| alike == class && class > 0) {
            let (moment, worst) = over.worst(class);
            said.push(format!(
                "at beat {}, where it differs most, it {}",
                beat_said(moment.beats),
                worst.in_short()
            ));
        }
        said
    }
}

pub(super) fn image_of(picture: &Picture) -> Result<RgbaImage, WallError> {
    let Frame { width, height } = picture.frame;
    RgbaImage::from_raw(width, height, picture.rgba.clone()).ok_or(WallError::EmptyPicture { tile: None })
}
