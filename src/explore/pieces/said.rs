//! What is known of several pieces of footage, in words.

use std::fmt;

use super::{Exploration, OnPieces, Piece, Proved};
use crate::base::place::listed;
use crate::explore::matters::percent;
use crate::order::{LEAST_SHARE, Share};

/// Pieces that a sentence names one by one.
const NAMED: usize = 3;

/// "these 9 pieces".
impl fmt::Display for OnPieces {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.list.len() {
            1 => f.write_str("this piece"),
            count => write!(f, "these {count} pieces"),
        }
    }
}

impl OnPieces {
    /// Where a pair matters: "on all 9 pieces", "only on quay.mp4", "on all but quay.mp4"; nothing where it matters on
    /// none.
    pub fn where_said(&self, fact: usize) -> Option<String> {
        let (on, all) = (self.matters_on(fact), self.list.len());
        let names = |pieces: &[usize]| listed(pieces.iter().map(|&piece| self.list[piece].name.as_str()));
        let off: Vec<usize> = (0..all).filter(|piece| !on.contains(piece)).collect();
        Some(match (on.len(), off.len()) {
            (0, _) => return None,
            (1, 0) => format!("on {}", names(&on)),
            (2, 0) => "on both pieces".to_owned(),
            (_, 0) => format!("on all {all} pieces"),
            (1, _) => format!("only on {}", names(&on)),
            (few, many) if few <= NAMED && few <= many => format!("only on {}", names(&on)),
            (_, few) if few <= NAMED => format!("on all but {}", names(&off)),
            (some, _) => format!("on {some} of {all} pieces"),
        })
    }

    /// What a pair has on the pieces on which it matters: "41 to 72 %".
    pub fn shares_said(&self, fact: usize) -> Option<String> {
        let shares: Vec<f64> =
            self.matters_on(fact).into_iter().filter_map(|piece| self.share(fact, piece)).collect();
        let least = shares.iter().copied().reduce(f64::min)?;
        let most = shares.iter().copied().reduce(f64::max)?;
        let (least, most) = (percent(least), percent(most));
        Some(if least == most { most } else { format!("{} to {most}", least.trim_end_matches(" %")) })
    }
}

impl Exploration {
    /// Where each pair matters, the one that decides most first; nothing where there is one picture of footage only.
    pub fn pieces_said(&self) -> Vec<String> {
        let (Some(pieces), Some(families)) = (&self.pieces, &self.families) else { return Vec::new() };
        let line = |(at, share): (usize, &Share)| {
            let (before, after) = (self.marked(share.fact.before), self.marked(share.fact.after));
            let (place, shares) = (pieces.where_said(at)?, pieces.shares_said(at)?);
            let told = match pieces.list.len() {
                1 => shares,
                _ => format!("{} of all, {place}: {shares} there", percent(share.share)),
            };
            Some(format!("{before} and {after}: {told}"))
        };
        let mine = families.facts.iter().enumerate().filter(|(_, share)| !share.commutes);
        mine.filter_map(line).collect()
    }

    /// What has to be known of single pieces: on which order does nothing, and which are alike.
    pub fn of_pieces_said(&self) -> Vec<String> {
        let Some(pieces) = &self.pieces else { return Vec::new() };
        let list = &pieces.list;
        let mut lines = Vec::new();
        for (at, piece) in list.iter().enumerate() {
            if piece.distinct() == 1 && self.orders.classes.len() > 1 {
                lines.push(format!("On {} {} gives the same picture.", piece.name, self.every_order()));
            } else if pieces.is_unseen(at) && self.orders.classes.len() > 1 {
                lines.push(format!(
                    "Nobody would see what order does on {}: all pictures are one look.",
                    piece.name
                ));
            }
            if let Some(first) = piece.same_as {
                let first = &list[first].name;
                let name = &piece.name;
                lines.push(format!(
                    "{name} gives the same pictures as {first} in every order; both are counted."
                ));
            }
        }
        lines
    }

    /// What else is known of them: which effects are not seen on some, and what is proved on some only.
    pub fn further_said(&self) -> Vec<String> {
        let Some(pieces) = &self.pieces else { return Vec::new() };
        let list = &pieces.list;
        let mut lines = Vec::new();
        for (effect, name) in self.orders.labels.iter().enumerate() {
            // Where order does nothing at all that has been said.
            let is_unseen = |piece: &&Piece| piece.parts[effect].unseen.is_some() && piece.distinct() > 1;
            let on: Vec<&str> = list.iter().filter(is_unseen).map(|piece| &piece.name[..]).collect();
            if !on.is_empty() && on.len() < list.len() {
                lines.push(format!("{name} changes nothing that one sees on {}.", listed(on)));
            }
        }
        lines.extend(self.proved_said(pieces));
        lines
    }

    /// Which proofs hold for every footage, and which on some pieces only.
    fn proved_said(&self, pieces: &OnPieces) -> Vec<String> {
        let effects = self.orders.labels.len();
        let pairs = (0..effects).flat_map(|a| (a + 1..effects).map(move |b| (a, b)));
        let (mut whatever, mut lines) = (0, Vec::new());
        for (a, b) in pairs {
            let (proved, because) = pieces.proved(a, b);
            let on = match proved {
                Proved::Whatever => {
                    whatever += 1;
                    continue;
                }
                Proved::Nowhere => continue,
                Proved::EveryPiece => format!("on {pieces}, not on every footage"),
                Proved::Only(on) if on.len() <= NAMED => {
                    let names = on.iter().map(|&piece| pieces.list[piece].name.as_str());
                    format!("only on {}", listed(names))
                }
                Proved::Only(on) => {
                    let off = (0..pieces.list.len()).filter(|piece| !on.contains(piece));
                    let names: Vec<&str> = off.map(|piece| pieces.list[piece].name.as_str()).collect();
                    match names.len() {
                        few if few <= NAMED => format!("on all but {}", listed(names)),
                        _ => format!("on {} of {} pieces", on.len(), pieces.list.len()),
                    }
                }
            };
            let (a, b) = (self.marked(a), self.marked(b));
            lines.push(format!(
                "Proved {on}: {a} and {b} change nothing by changing places: {}",
                because.unwrap_or_default()
            ));
        }
        if whatever > 0 && !lines.is_empty() {
            let pairs = if whatever == 1 {
                "1 other pair is".to_owned()
            } else {
                format!("{whatever} other pairs are")
            };
            lines.push(format!("{pairs} proved to commute whatever the footage."));
        }
        lines
    }

    /// What "matters" means on a piece.
    pub fn mattering_said(&self) -> String {
        let sampled = self.orders.tally.sample().map_or("", |_| "sampled; ");
        format!(
            "Where each pair matters, each by itself ({sampled}{} of what order does there, or more; shares overlap)",
            percent(LEAST_SHARE)
        )
    }
}
