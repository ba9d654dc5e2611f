//! Proofs of commutation, from what effects declare and from their settings: for every picture, to the byte.

use std::sync::Arc;

use super::Classes;
use crate::catalogue::{Channels, Position, Reach};
use crate::chain::EffectUse;
use crate::frame::{Frame, Moment};

/// Where a move takes each channel of each texel from, on one frame size.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct IndexMap {
    /// The frame size.
    pub frame: Frame,
    /// For red, green and blue, row by row: x in the low 16 bits, y in the high ones.
    pub channels: [Vec<u32>; 3],
}

impl IndexMap {
    fn index(&self, packed: u32) -> usize {
        (packed >> 16) as usize * self.frame.width as usize + (packed & 0xffff) as usize
    }

    /// Whether all channels are taken from the same texel everywhere.
    pub fn is_alike(&self) -> bool {
        self.channels[0] == self.channels[1] && self.channels[1] == self.channels[2]
    }

    /// Whether every texel stays where it is.
    pub fn is_identity(&self) -> bool {
        self.channels.iter().all(|map| map.iter().enumerate().all(|(at, &from)| self.index(from) == at))
    }

    /// Whether doing `self` on channel `a` and `other` on channel `b` gives the same map in both orders.
    fn agrees(&self, a: usize, other: &Self, b: usize) -> bool {
        let (first, second) = (&self.channels[a], &other.channels[b]);
        // After the move m, a texel shows what m takes it from: doing `self` and
        // then `other` looks up `other` first.
        (0..first.len()).all(|at| first[self.index(second[at])] == second[self.index(first[at])])
    }
}

/// What is known about a pair of effects.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Verdict {
    /// Changing places never changes the picture; the reason is a sentence.
    Always(String),
    /// Not proved: it may matter; the reason is a sentence.
    Open(String),
}

/// What the proofs may rely on.
#[derive(Debug)]
pub struct Facts<'a> {
    /// The chain.
    pub chain: &'a [EffectUse],
    /// When and at what size it runs.
    pub moment: &'a Moment,
    /// Whether the picture under the chain has full alpha everywhere.
    pub opaque: bool,
    /// For each effect that is a move, its index map at this size.
    pub maps: &'a [Option<Arc<IndexMap>>],
}

/// What is proved about a chain.
#[derive(Debug, Clone)]
pub struct Proofs {
    /// For each effect, why it changes nothing, where that is proved.
    pub idle: Vec<Option<String>>,
    verdicts: Vec<Verdict>,
    /// The classes that follow.
    pub classes: Classes,
}

impl Proofs {
    /// Proves what can be proved of every pair of a chain.
    pub fn of(facts: &Facts<'_>) -> Self {
        let n = facts.chain.len();
        let idle: Vec<_> = (0..n).map(|at| facts.idle(at)).collect();
        let mut verdicts = Vec::with_capacity(n * n);
        for a in 0..n {
            for b in 0..n {
                verdicts.push(facts.verdict(a, b, &idle));
            }
        }
        let letter =
            (0..n).map(|at| (0..at).find(|&e| facts.chain[e].is_twin(&facts.chain[at])).unwrap_or(at));
        let classes =
            Classes::new(letter.collect(), |a, b| matches!(verdicts[a * n + b], Verdict::Always(_)));
        Self { idle, verdicts, classes }
    }

    /// What is known about the effects at two places.
    pub fn verdict(&self, a: usize, b: usize) -> &Verdict {
        &self.verdicts[a * self.idle.len() + b]
    }
}

impl Facts<'_> {
    fn name(&self, at: usize) -> &str {
        &self.chain[at].effect.name
    }

    fn idle(&self, at: usize) -> Option<String> {
        self.chain[at].idle_because(self.moment).or_else(|| {
            let map = self.maps[at].as_ref()?;
            map.is_identity().then(|| "it moves no texel at this frame size".to_owned())
        })
    }

    fn verdict(&self, a: usize, b: usize, idle: &[Option<String>]) -> Verdict {
        let (name_a, name_b) = (self.name(a), self.name(b));
        for (at, name) in [(a, name_a), (b, name_b)] {
            if let Some(because) = &idle[at] {
                return Verdict::Always(format!("{name} changes nothing here: {because}."));
            }
        }
        if self.chain[a] == self.chain[b] {
            return Verdict::Always(format!("both are {name_a} with the same settings."));
        }
        let [first, second] = [a, b].map(|at| &self.chain[at].effect);
        match (first.reach, second.reach) {
            (Reach::Texel, Reach::Move) => self.texel_and_move(a, b),
            (Reach::Move, Reach::Texel) => self.texel_and_move(b, a),
            (Reach::Move, Reach::Move) => self.two_moves(a, b),
            _ => self.open(a, b),
        }
    }

    fn texel_and_move(&self, texel: usize, moving: usize) -> Verdict {
        let (effect, Some(map)) = (&self.chain[texel].effect, &self.maps[moving]) else {
            return self.open(texel, moving);
        };
        let (colours, moves) = (self.name(texel), self.name(moving));
        if effect.position == Position::Matters {
            return self.open(texel, moving);
        }
        if map.is_alike() {
            return Verdict::Always(format!(
                "{colours} treats every texel alike wherever it is, and {moves} only moves whole texels."
            ));
        }
        if effect.channels == Channels::Apart && self.opaque {
            return Verdict::Always(format!(
                "{colours} makes each channel from that channel alone, and {moves} only moves channels."
            ));
        }
        if effect.channels == Channels::Apart {
            return Verdict::Open(format!(
                "{moves} moves each channel its own way over a picture with alpha, and {colours} acts on colours without their alpha."
            ));
        }
        Verdict::Open(format!(
            "{colours} {}, so it matters whether {moves} has pulled them apart yet.",
            effect.does
        ))
    }

    fn two_moves(&self, a: usize, b: usize) -> Verdict {
        let (Some(first), Some(second)) = (&self.maps[a], &self.maps[b]) else {
            return self.open(a, b);
        };
        // With alpha, a result takes the largest alpha of all that was moved into
        // it, so that every pair of channels has to agree.
        let equal =
            (0..3).all(|c| (0..3).filter(|&d| c == d || !self.opaque).all(|d| first.agrees(c, second, d)));
        if equal {
            return Verdict::Always(format!(
                "doing {} and {} in either order takes every texel from the same place.",
                self.name(a),
                self.name(b)
            ));
        }
        self.open(a, b)
    }

    fn open(&self, a: usize, b: usize) -> Verdict {
        let [first, second] = [a, b].map(|at| &self.chain[at].effect);
        Verdict::Open(format!(
            "{} {}, {} {}: each sees what the other has left.",
            first.name, first.does, second.name, second.does
        ))
    }
}
