//! The wall of orders on several pieces of footage: where each pair matters, then a row an order, a column a piece.

use image::RgbaImage;

use super::orders_wall::{beat_said, effect_keys, image_of};
use super::wall::{Column, HeatRow, PiecesGrid, Row, Section, Striped, TileGrid, WallError};
use crate::base::coding::ColourCode;
use crate::base::picture::Picture;
use crate::explore::Exploration;
use crate::explore::pieces::OnPieces;
use crate::explore::wish::{By, Wish};
use crate::order::{Fact, Family, orders_said};
use crate::plan::Path;

/// Pairs that the heat picture shows at most.
const MOST_PAIRS: usize = 10;

/// Orders that were explored on several pieces, as a wall shows them.
#[derive(Debug)]
pub struct PiecesWall<'a> {
    /// The name of the chain or show.
    pub title: &'a str,
    /// What is under the chain.
    pub source: Striped,
    /// What is to be said where the frame is not the show's own.
    pub frame_note: Option<&'a str>,
    /// The path of the first piece.
    pub path: &'a Path,
    pub explored: &'a Exploration,
    /// For each piece, whether it is a stand-in, and the colour that a person gave it.
    pub stand_ins: &'a [bool],
    pub colours: &'a [Option<ColourCode>],
    pub grid: TileGrid,
    /// What its rows are.
    pub rows: &'a Rows,
    /// For each piece, the pictures of [`Rows::classes`].
    pub pictures: &'a [Vec<Picture>],
    /// What else has to be known.
    pub notes: Vec<String>,
    /// A warning that must be read.
    pub caution: Option<&'a str>,
}

/// The orders that are best for a wish.
#[derive(Debug)]
pub struct Best {
    pub heading: String,
    pub note: String,
    /// Each class, and what it is best by.
    pub classes: Vec<(usize, String)>,
}

impl Best {
    /// Those of a wish on so many pieces.
    pub fn of(wish: &Wish, explored: &Exploration, pieces: usize) -> Self {
        let [mean, worst] = [By::Mean, By::Worst].map(|by| wish.best(by));
        let at_worst = format!("on {} at worst", wish.worst_ground(worst));
        let classes = match mean == worst {
            true => vec![(mean, format!("best by the mean and by the worst piece, {at_worst}"))],
            false => vec![
                (mean, "best by the mean".to_owned()),
                (worst, format!("best by the worst piece, {at_worst}")),
            ],
        };
        let several = (pieces > 1).then(|| wish.disagreement_said(|class| explored.orders.code(class)));
        let figure = format!("Under each picture: {}.", wish.goal.figure());
        let note = several.into_iter().chain([figure]).collect::<Vec<_>>().join(" ");
        Self { heading: format!("Best for {}", wish.goal.name()), note, classes }
    }
}

/// Which orders have a row, under which heading.
#[derive(Debug, Default)]
pub struct Rows {
    best: Option<Best>,
    /// The class that each family is shown by.
    families: Vec<usize>,
    /// The looks that have a row each.
    looks: Vec<usize>,
}

impl Rows {
    /// The rows of an exploration, at most so many: those that are best, families, then looks.
    pub fn of(explored: &Exploration, best: Option<Best>, most: usize) -> Self {
        let families = explored.families.iter().flat_map(|families| &families.list);
        let families: Vec<usize> = families.map(|family| family.shown).collect();
        let taken = best.as_ref().map_or(0, |best| best.classes.len()) + families.len();
        // One family is every order: its row would only say again what looks do.
        let families = if families.len() > 1 { families } else { Vec::new() };
        let room = most.saturating_sub(taken).max(1);
        Self { best, families, looks: explored.looks.representatives.iter().copied().take(room).collect() }
    }

    /// The class of each row.
    pub fn classes(&self) -> Vec<usize> {
        let best = self.best.iter().flat_map(|best| &best.classes).map(|&(class, _)| class);
        best.chain(self.families.iter().copied()).chain(self.looks.iter().copied()).collect()
    }
}

impl PiecesWall<'_> {
    /// The sheet; `said_of` gives what is said of a class on a piece, under its picture.
    ///
    /// # Errors
    /// [`WallError`] where a picture has too few bytes or cannot be made smaller.
    pub fn composed(
        &self,
        said_of: impl Fn(usize, usize) -> Option<String>,
    ) -> Result<PiecesGrid, WallError> {
        let explored = self.explored;
        let orders = &explored.orders;
        let Some(on) = &explored.pieces else { return Err(WallError::NoTiles) };
        let mut at = 0;
        let mut row = |class: usize, lines: Vec<String>| -> Result<Row, WallError> {
            let picture = |piece: usize| -> Result<(RgbaImage, Option<String>), WallError> {
                let picture = self.pictures.get(piece).and_then(|pictures| pictures.get(at));
                let picture = picture.ok_or(WallError::EmptyPicture { tile: Some(at + 1) })?;
                Ok((self.grid.tile(&image_of(picture)?)?, said_of(class, piece)))
            };
            let pictures = (0..on.list.len()).map(picture).collect::<Result<_, _>>()?;
            at += 1;
            let mut lines = lines;
            if class == 0 {
                lines.push("the file's own order".to_owned());
            }
            Ok(Row { code: orders.code(class), order: orders.classes[class].order.clone(), lines, pictures })
        };
        let mut sections = Vec::new();
        if let Some(Best { heading, note, classes }) = &self.rows.best {
            let rows = classes.iter().map(|(class, said)| row(*class, vec![said.clone()]));
            let rows = rows.collect::<Result<_, _>>()?;
            sections.push(Section { heading: heading.clone(), note: note.clone(), rows });
        }
        if !self.rows.families.is_empty() {
            let list = explored.families.iter().flat_map(|families| &families.list);
            let rows = list.map(|family| row(family.shown, self.family_said(family)));
            sections.push(Section {
                heading: format!("{} families of orders", self.rows.families.len()),
                note: "Each row shows the order most like all of its family. Under: applied before."
                    .to_owned(),
                rows: rows.collect::<Result<_, _>>()?,
            });
        }
        let looks = explored.looks.representatives.len();
        let rows = self.rows.looks.iter().map(|&class| {
            let look = explored.looks.of[class];
            let orders = explored.looks.orders_of(look);
            let differ = if orders == 1 { "" } else { " that can differ" };
            let of = orders_said(orders as u128) + differ;
            row(class, vec![format!("look {}, {of}", look + 1), self.order_said(class)])
        });
        let rows: Vec<Row> = rows.collect::<Result<_, _>>()?;
        let heading = match (looks, rows.len()) {
            (1, _) => "One look".to_owned(),
            (looks, shown) if shown < looks => format!("{shown} of {looks} looks, the least alike first"),
            _ => format!("{looks} looks, the least alike first"),
        };
        let note = "Orders are one look where nobody could tell them apart on any piece.".to_owned();
        sections.push(Section { heading, note, rows });

        let columns = on.list.iter().enumerate().map(|(at, piece)| {
            let stand_in = self.stand_ins.get(at).copied().unwrap_or(false).then(|| "stand-in".to_owned());
            let beat = piece.over.as_ref().and_then(|over| over.most_telling());
            let beat = beat.map(|(moment, _)| format!("beat {}", beat_said(moment.beats)));
            let same = piece.same_as.map(|first| format!("same as {}", on.list[first].name));
            let note: Vec<String> = stand_in.into_iter().chain(same).chain(beat).collect();
            let colour = self.colours.get(at).copied().flatten();
            Column { name: piece.name.clone(), colour, note: note.join(", ") }
        });
        let (heat, left) = self.heat(on);
        let more = match left {
            0 => String::new(),
            1 => " One more pair matters less.".to_owned(),
            left => format!(" {left} more pairs matter less."),
        };
        let moment = &self.path.moment;
        let from = if explored.over.is_some() { "from " } else { "" };
        let at = format!(", {from}beat {}, {}, {}", moment.beats, moment.frame, moment.pixels.name());
        let mut facts: Vec<Striped> =
            explored.questions_said().iter().map(|line| line.trim().into()).collect();
        facts.extend([explored.summary().into(), self.source.clone().then(at)]);
        facts.extend(self.frame_note.map(Striped::from));
        facts.extend(explored.orders.sampled_said().map(Striped::from));
        facts.extend(explored.of_pieces_said().into_iter().map(Striped::from));
        if self.stand_ins.contains(&true) {
            facts.push("What is said of a stand-in is said of its card.".into());
        }
        if explored.over.is_some() {
            facts.push("Each picture is of the beat under its piece's name, where the orders differ most of those looked at.".into());
        }
        facts.extend(self.notes.iter().cloned().map(Striped::from));
        Ok(PiecesGrid {
            title: self.title.to_owned(),
            answer: explored.opening_said().into_iter().collect(),
            facts,
            effects: effect_keys(self.path, orders),
            caution: self.caution.map(str::to_owned),
            columns: columns.collect(),
            heat_heading: "Where it matters which of two comes first".to_owned(),
            heat_note: format!(
                "How much of what order does on each piece hangs on which of the two is under the other; from 2 % on it counts. Shares overlap.{more}"
            ),
            heat,
            sections,
        })
    }

    /// The pairs that matter on any piece, the one that decides most of all first, and how many are left out.
    fn heat(&self, on: &OnPieces) -> (Vec<HeatRow>, usize) {
        let Some(families) = &self.explored.families else { return (Vec::new(), 0) };
        let told = families.facts.iter().enumerate().filter(|(_, share)| !share.commutes);
        let rows = told.filter_map(|(at, share)| {
            let place = on.where_said(at)?;
            let Fact { before, after } = share.fact;
            let shares = (0..on.list.len()).map(|piece| on.share(at, piece)).collect();
            let said = match on.list.len() {
                1 => String::new(),
                _ => format!("{:.0} % of all, {place}", share.share * 100.0),
            };
            Some(HeatRow { pair: [before, after], said, shares })
        });
        let mut rows: Vec<HeatRow> = rows.collect();
        let left = rows.len().saturating_sub(MOST_PAIRS);
        rows.truncate(MOST_PAIRS);
        (rows, left)
    }

    /// What holds in a family, and how many orders it has.
    fn family_said(&self, family: &Family) -> Vec<String> {
        let labels = &self.explored.orders.labels;
        let fact = |fact: &Fact| format!("{} under {}", labels[fact.before], labels[fact.after]);
        let facts: Vec<String> = family.facts.iter().map(fact).collect();
        let orders = orders_said(family.orders.into());
        vec![facts.join(", "), orders]
    }

    fn order_said(&self, class: usize) -> String {
        let orders = &self.explored.orders;
        let words: Vec<&str> =
            orders.classes[class].order.iter().map(|&place| orders.labels[place].as_str()).collect();
        words.join(", then\u{a0}")
    }
}
