//! The wall of an exploration, for the command and for the window alike.

use std::borrow::Cow;

use image::RgbaImage;

use super::hanging::Hanging;
use super::wall::{Asked, EffectKey, Group, Striped, Tile, Wall, WallError, Word};
use crate::base::frame::Frame;
use crate::base::picture::Picture;
use crate::base::place::capital;
use crate::explore::matters::percent_within;
use crate::explore::{Exploration, Orders, Part};
use crate::order::{Fact, Family, orders_said};
use crate::plan::Path;
use crate::show::chain::EffectUse;

/// Orders that were explored, as a wall shows them.
#[derive(Debug)]
pub struct OrdersWall<'a> {
    /// The name of the chain or show.
    pub title: &'a str,
    /// What is under the chain: footage, or the scope of a show.
    pub source: Striped,
    /// What is to be said where the frame is not the show's own.
    pub frame_note: Option<&'a str>,
    /// The path that was explored.
    pub path: &'a Path,
    /// What was found.
    pub explored: &'a Exploration,
    /// What each effect does where it stands.
    pub parts: &'a [Part],
    /// Which classes are shown, and how.
    pub hanging: &'a Hanging,
    /// What the chain's own order is called.
    pub own: &'a str,
    /// A warning that must be read.
    pub caution: Option<&'a str>,
}

/// Which orders a wall that shows these leaves out, if any.
pub fn left_out_said(explored: &Exploration, shown: &[usize]) -> Option<String> {
    let classes = explored.orders.classes.len();
    if shown.len() == classes {
        return None;
    }
    let looks = &explored.looks;
    let known = looks.representatives.len();
    let mut seen = vec![false; known];
    shown.iter().for_each(|&class| seen[looks.of[class]] = true);
    let left_out = seen.iter().filter(|seen| !**seen).count();
    let which = match known {
        1 => "The one look".to_owned(),
        _ if left_out > 0 => format!("{} of {known} looks, one picture each", known - left_out),
        _ if shown.len() > known => format!("One picture for each look of each family, {known} looks in all"),
        _ => format!("One picture for each of the {known} looks"),
    };
    let rest = match () {
        () if left_out > 0 => format!("the orders of the other {left_out} looks are left out"),
        () if looks.complete => "every order left out looks like one of these".to_owned(),
        () => {
            "there are more looks than are told apart: orders left out look most like one of these".to_owned()
        }
    };
    Some(format!("{which}, of {} that can differ; {rest}.", orders_said(classes as u128)))
}

/// The words of a command line, each as a shell reads it back.
pub fn quoted<'a>(words: impl IntoIterator<Item = &'a str>) -> String {
    // Only a word with a zero byte cannot be quoted, and no file is called so.
    let quoted = |word: &'a str| shlex::try_quote(word).unwrap_or(Cow::Borrowed(word));
    words.into_iter().map(quoted).collect::<Vec<_>>().join(" ")
}

/// How one of the orders that are shown is saved, as a line to read or to copy: `words` name the file and the scope;
/// nothing where no file holds the chain as it is.
pub fn keeping_said(explored: &Exploration, shown: &[usize], words: Option<&str>) -> Option<String> {
    let other = shown.iter().copied().find(|&class| class != 0)?;
    Some(match words {
        Some(words) => format!(
            "Save one as a chain file by its code: underover orders {words} --keep {} --as NAME.toml",
            explored.orders.code(other)
        ),
        None => "To save one as a chain file by its code, save this first; then the wall says the command."
            .to_owned(),
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
        let (mut tiles, mut families) = (Vec::new(), Vec::new());
        for hung in &self.hanging.groups {
            let from = tiles.len();
            let family = hung.family.and_then(|family| explored.families.as_ref()?.list.get(family));
            for (nth, &class) in hung.classes.iter().enumerate() {
                let Some(picture) = &explored.finished[class].picture else { continue };
                let mut said = said_of(class);
                said.extend(self.said_of(class, family, nth == 0 && hung.classes.len() > 1));
                tiles.push(Tile {
                    picture: self.hanging.grid(hung, nth).tile(&image_of(picture)?)?,
                    order: explored.orders.classes[class].order.clone(),
                    code: explored.orders.code(class),
                    note: (!said.is_empty()).then(|| said.join(", ")),
                });
            }
            if let Some(family) = family.filter(|_| tiles.len() > from) {
                families.push(self.group(family, tiles.len() - from));
            }
        }
        let effects = effect_keys(self.path, &explored.orders);
        let mut all_notes = Vec::new();
        all_notes.extend(explored.orders.sampled_said());
        if families.is_empty() && explored.looks.representatives.len() > 1 {
            all_notes.push(format!("{}: {}.", explored.deciding_said(), deciding(explored).join("; ")));
        }
        all_notes.extend(explored.shares_said());
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
        let at = format!(", {from}beat {}, {}, {}", moment.beats, moment.frame, moment.pixels.name());
        let facts = [explored.summary().into(), self.source.clone().then(at)];
        let facts = facts.into_iter().chain(self.frame_note.map(Striped::from));
        let questions = explored.told_families().map_or(&[][..], |families| &families.questions);
        let asked = questions.iter().map(|question| Asked {
            share: question.share,
            said: percent_within(question.share, question.error),
            question: explored.question_said(question),
            remark: explored.remark_said(question).map(str::to_owned),
        });
        Ok(Wall {
            title: self.title.to_owned(),
            answer: explored.opening_said(),
            questions: asked.collect(),
            facts: facts.collect(),
            effects,
            tiles,
            families,
            notes: all_notes,
            caution: self.caution.map(str::to_owned),
        })
    }

    /// What stands over a family of so many tiles.
    fn group(&self, family: &Family, tiles: usize) -> Group {
        let explored = self.explored;
        let mut heading = explored.family_named(family);
        if heading.is_empty() {
            heading.push(Word::Text("Every order"));
        }
        let count = explored.family_counted(family, self.own);
        let inside = explored.inside_said(family).map(|said| format!("{}.", capital(&said)));
        Group { heading, lines: [count].into_iter().chain(inside).collect(), tiles }
    }

    /// What is known of a class, for under its picture; `stands_for_all` says whether others of its family follow.
    fn said_of(&self, class: usize, family: Option<&Family>, stands_for_all: bool) -> Vec<String> {
        let explored = self.explored;
        let is_every = self.hanging.shows_every;
        let alike = explored.first_alike[class];
        let drawn = if explored.orders.tally.sample().is_some() { " drawn" } else { "" };
        let mut said = Vec::new();
        if class == 0 {
            said.push(self.own.to_owned());
        }
        if let Some(family) = family.filter(|family| stands_for_all && class == family.shown) {
            said.push(format!("most like all {}{drawn}", family.orders));
        }
        let look = explored.looks.of[class];
        let is_told = explored.looks.representatives.len() > 1;
        if is_every && alike != class {
            let same = match &explored.over {
                Some(over) if over.is_sampled() => "same pictures",
                Some(_) => "same picture at every frame",
                None => "same picture here",
            };
            said.push(format!("{same} as {}", explored.orders.code(alike)));
        } else if is_told && is_every {
            said.push(format!("look {}", look + 1));
        } else if is_told {
            let of = |class: usize| explored.orders.orders_in(class);
            let count = |classes: &mut dyn Iterator<Item = usize>| -> u64 {
                classes.filter(|&class| explored.looks.of[class] == look).map(of).sum()
            };
            let all = count(&mut (0..explored.orders.classes.len()));
            let mine = family.map_or(all, |family| count(&mut family.classes.iter().copied()));
            said.push(match (mine, all) {
                (mine, all) if mine == all => {
                    format!("look {}: {}{drawn}", look + 1, orders_said(all.into()))
                }
                (mine, all) => format!("look {}: {mine} of its {}{drawn}", look + 1, orders_said(all.into())),
            });
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

/// The effects of a chain, as the key of a sheet shows them.
pub(super) fn effect_keys(path: &Path, orders: &Orders) -> Vec<EffectKey> {
    let key = |(at, used): (usize, &EffectUse)| EffectKey {
        label: orders.labels[at].clone(),
        mark: orders.marks.of(at),
        settings: used.written_changes().join(", "),
        idle: orders.proofs.idle[at].clone(),
    };
    path.chain.iter().enumerate().map(key).collect()
}

pub(super) fn image_of(picture: &Picture) -> Result<RgbaImage, WallError> {
    let Frame { width, height } = picture.frame;
    RgbaImage::from_raw(width, height, picture.rgba.clone()).ok_or(WallError::EmptyPicture { tile: None })
}
