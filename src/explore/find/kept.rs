//! The best candidates so far: one of each kind, so that what is kept stays of many kinds.

use std::cmp::Ordering;
use std::collections::HashMap;

/// What candidates that differ in numbers and colours alone have in common: where they sit, which effects are on and
/// in which order, what is chosen.
pub(super) type CandidateKind = Vec<u16>;

/// The best candidate of each of the best kinds. Put together from parts in whatever order, it is what it would be of
/// the whole: nothing that belongs to the best of all can be missing among the best of its part.
#[derive(Debug, Clone, Default)]
pub struct Kept {
    best: HashMap<CandidateKind, Standing>,
}

/// How a candidate stands: the less its score, the better; the lower number goes first among equals.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Standing {
    pub score: f64,
    /// Its number in the stream.
    pub number: u64,
}

impl Standing {
    pub(super) fn order(&self, other: &Self) -> Ordering {
        self.score.total_cmp(&other.score).then(self.number.cmp(&other.number))
    }
}

/// Kinds that are kept.
pub(super) const MOST_KINDS: usize = 256;

impl Kept {
    pub(super) fn add(&mut self, kind: CandidateKind, standing: Standing) {
        let known = self.best.entry(kind).or_insert(standing);
        if standing.order(known) == Ordering::Less {
            *known = standing;
        }
        if self.best.len() >= 8 * MOST_KINDS {
            self.prune();
        }
    }

    /// Takes in what was kept of another part.
    pub fn join(&mut self, other: Self) {
        other.best.into_iter().for_each(|(kind, standing)| self.add(kind, standing));
        self.prune();
    }

    fn prune(&mut self) {
        let mut standings: Vec<Standing> = self.best.values().copied().collect();
        standings.sort_by(Standing::order);
        if let Some(last) = standings.get(MOST_KINDS - 1) {
            self.best.retain(|_, standing| standing.order(last) != Ordering::Greater);
        }
    }

    /// The best of each kind, the best first.
    pub fn ranked(&self) -> Vec<Standing> {
        let mut standings: Vec<Standing> = self.best.values().copied().collect();
        standings.sort_by(Standing::order);
        standings.truncate(MOST_KINDS);
        standings
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::random::Draws;

    #[test]
    fn parts_joined_in_any_order_are_the_whole() {
        let mut draws = Draws::from(3, 0);
        let all: Vec<(CandidateKind, Standing)> = (0..20_000)
            .map(|number| {
                let kind = vec![draws.below(3000) as u16];
                // Few different scores, so that many are equal.
                (kind, Standing { score: draws.below(400) as f64, number })
            })
            .collect();
        let of = |which: &dyn Fn(u64) -> bool| {
            let mut kept = Kept::default();
            let some = all.iter().filter(|(_, standing)| which(standing.number));
            some.for_each(|(kind, standing)| kept.add(kind.clone(), *standing));
            kept
        };
        let whole = of(&|_| true).ranked();
        assert_eq!(whole.len(), MOST_KINDS);
        // What is asked for, worked out without pruning.
        let mut best: HashMap<&CandidateKind, Standing> = HashMap::new();
        for (kind, standing) in &all {
            let known = best.entry(kind).or_insert(*standing);
            if standing.order(known) == Ordering::Less {
                *known = *standing;
            }
        }
        let mut ranked: Vec<Standing> = best.into_values().collect();
        ranked.sort_by(Standing::order);
        assert_eq!(whole, ranked[..MOST_KINDS]);
        for order in [[0, 1, 2, 3], [3, 1, 0, 2]] {
            let mut joined = Kept::default();
            order.iter().for_each(|part| joined.join(of(&|number| number % 4 == *part)));
            assert_eq!(joined.ranked(), whole);
        }
    }
}
