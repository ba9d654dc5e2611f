//! What `underover orders` found, and how it is told in text.

use super::keep_one::KeepOne;
use super::order_flashes::FlashesOfOrders;
use super::pieces::PieceList;
use crate::explore::pieces::Frames;
use crate::explore::wish::{Ground, Wish};
use crate::explore::{Exploration, Part};
use crate::output::hanging::Hanging;
use crate::output::orders_wall::beat_said;

/// What is known of the chain, for the outputs.
pub(super) struct Found {
    pub(super) explored: Exploration,
    pub(super) parts: Vec<Part>,
    pub(super) wish: Option<Wish>,
    /// What the wall shows.
    pub(super) hanging: Hanging,
    /// What each class flashes, where it was counted.
    pub(super) flashes: FlashesOfOrders,
    /// The pieces of footage, where several were asked for.
    pub(super) pieces: Option<PieceList>,
    /// Which one chain serves all sections, where these name chains of their own.
    pub(super) keep_one: Option<KeepOne>,
    /// Whether the person asked to stop, so that it is of a first sample.
    pub(super) interrupted: bool,
}

/// The classes as they are listed: the nearest to the goal first, or as they were found.
pub(super) fn in_turn(explored: &Exploration, wish: Option<&Wish>) -> Vec<usize> {
    wish.map_or_else(|| (0..explored.orders.classes.len()).collect(), |wish| wish.order.clone())
}

impl Found {
    /// Which order holds best everywhere, where orders are judged on several pieces or moments.
    pub(super) fn answer(&self) -> String {
        let kept = self.keep_one.as_ref().map_or("", KeepOne::said);
        let Some(wish) = self.wish.as_ref().filter(|wish| wish.is_of_several()) else {
            return kept.to_owned();
        };
        let lines = match &self.pieces {
            Some(pieces) => wish
                .answer_said(|class| self.explored.orders.code(class), &format!("{} pieces", pieces.len())),
            None => wish.best_said(|class| self.explored.orders.code(class), "moments"),
        };
        lines.iter().map(|line| format!("{line}\n")).chain([kept.to_owned()]).collect()
    }

    /// One line an order, where neither a wall nor figures were asked for.
    pub(super) fn listing(&self) -> String {
        let explored = &self.explored;
        let mut text = String::new();
        for at in in_turn(explored, self.wish.as_ref()) {
            let alike = explored.first_alike[at];
            let mut notes = vec![format!("look {}", explored.looks.of[at] + 1)];
            notes.extend(self.flashes.said(at));
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
    pub(super) fn explanation(&self, rules: bool) -> String {
        let explored = &self.explored;
        let mut text = String::new();
        if let Some(limit) = explored.orders.sampled_said() {
            text += &format!("{limit}\n");
        }
        for line in explored.of_pieces_said().into_iter().chain(explored.further_said()) {
            text += &format!("{line}\n");
        }
        if let Some(flashes) = self.flashes.of_pieces_said() {
            text += &format!("{flashes}\n");
        }
        if rules && explored.looks.representatives.len() > 1 {
            text += &format!("{}:\n", explored.deciding_said());
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

/// Each moment as what orders are judged on.
pub(super) fn of_moments(frames: &Frames, figures: Vec<Vec<f64>>) -> Vec<Ground> {
    let beats: Vec<f64> = match frames {
        Frames::Moment(path) => vec![path.moment.beats],
        Frames::Stretch(stretch) => stretch.moments().map(|moment| moment.beats).collect(),
    };
    let ground = |(beats, values)| Ground { name: format!("beat {}", beat_said(beats)), values };
    beats.into_iter().zip(figures).map(ground).collect()
}
