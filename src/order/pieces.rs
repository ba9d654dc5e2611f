//! What matters on each of several pieces of footage, and on all of them side by side.

use super::classes::{Class, Classes};
use super::code::Marks;
use super::families::{Families, pairs_by_mark};
use super::points::{Points, Weights};
use super::rules::Fact;
use super::sampled;
use super::tally::Tally;

/// Several pieces of footage: on each, the same classes are points of its own.
pub trait Pieces {
    /// Why a sum cannot be had.
    type Error;

    /// How many.
    fn count(&self) -> usize;

    /// The points on one of them.
    fn points(&mut self, piece: usize) -> impl Points<Error = Self::Error>;

    /// [`Points::between_means`] on each of them.
    ///
    /// # Errors
    /// Where the sums cannot be had.
    fn between_means_on_each(
        &mut self,
        classes: &[usize],
        weights: &Weights,
    ) -> Result<Vec<Vec<f64>>, Self::Error> {
        (0..self.count()).map(|piece| self.points(piece).between_means(classes, weights)).collect()
    }

    /// [`Points::distances`] on each of them.
    ///
    /// # Errors
    /// Where the sums cannot be had.
    fn distances_on_each(
        &mut self,
        families: &[&[usize]],
        weights: &Weights,
    ) -> Result<Vec<Vec<Vec<f64>>>, Self::Error> {
        (0..self.count()).map(|piece| self.points(piece).distances(families, weights)).collect()
    }
}

/// How much hangs on each pair on one piece of footage.
#[derive(Debug, Clone, PartialEq)]
pub struct PieceShares {
    /// For each of [`Families::facts`], in their order: its share of what order does on this piece, 0 to 1.
    pub facts: Vec<f64>,
    /// The spread of all orders on this piece, divided by how many they are.
    pub spread: f64,
}

impl Families {
    /// As [`Families::grown`], of all pieces side by side, and what each pair has on each piece alone.
    ///
    /// Squared distances add up over what lies side by side, so that the pieces' own figures are parts of the sums
    /// that are asked for anyway.
    ///
    /// # Errors
    /// Those of the points.
    pub fn grown_on<P: Pieces>(
        classes: &Classes,
        list: &[Class],
        tally: &Tally,
        marks: &Marks,
        pieces: &mut P,
    ) -> Result<Option<(Self, Vec<PieceShares>)>, P::Error> {
        let mut points = SideBySide { gains: Vec::new(), spreads: Vec::new(), pieces };
        let Some(families) = Self::grown(classes, list, tally, marks, &mut points)? else { return Ok(None) };
        let SideBySide { gains, spreads, pieces } = points;
        let pairs = pairs_by_mark(classes.effects(), marks);
        let orders: u64 = (0..list.len()).map(|class| tally.orders_in(classes, list, class)).sum();
        let of_piece = |piece: usize| {
            let spread = spreads.get(piece).copied().unwrap_or(0.0);
            let share = |fact: Fact| {
                let pair = pairs.iter().position(|pair| *pair == fact)?;
                let gain = *gains.get(piece)?.get(pair)?;
                let share = |_| match tally.sample() {
                    Some(_) => sampled::share_inside(gain, spread, orders),
                    None => gain / spread,
                };
                (spread > 0.0).then_some(()).map(share)
            };
            PieceShares {
                facts: families.facts.iter().map(|known| share(known.fact).unwrap_or(0.0)).collect(),
                spread: spread / orders.max(1) as f64,
            }
        };
        let of_pieces = (0..pieces.count()).map(of_piece).collect();
        Ok(Some((families, of_pieces)))
    }
}

/// All pieces as one row of points, with what each piece had in the first answers: those about all orders.
struct SideBySide<'a, P> {
    pieces: &'a mut P,
    /// For each piece and pair, what splitting all orders takes away.
    gains: Vec<Vec<f64>>,
    /// For each piece, the spread of all orders.
    spreads: Vec<f64>,
}

impl<P: Pieces> Points for SideBySide<'_, P> {
    type Error = P::Error;

    fn between_means(&mut self, classes: &[usize], weights: &Weights) -> Result<Vec<f64>, P::Error> {
        let is_first = self.gains.is_empty();
        let mut all = vec![0.0; weights.columns.len()];
        for apart in self.pieces.between_means_on_each(classes, weights)? {
            all.iter_mut().zip(&apart).for_each(|(all, apart)| *all += apart);
            if is_first {
                self.gains.push(weights.gains_of(classes, &apart));
            }
        }
        Ok(all)
    }

    fn distances(&mut self, families: &[&[usize]], weights: &Weights) -> Result<Vec<Vec<f64>>, P::Error> {
        let is_first = self.spreads.is_empty();
        let mut all: Vec<Vec<f64>> = families.iter().map(|family| vec![0.0; family.len()]).collect();
        for far in self.pieces.distances_on_each(families, weights)? {
            if is_first {
                let spread = |(family, far): (&&[usize], &Vec<f64>)| weights.spread(family, far);
                self.spreads.push(families.iter().zip(&far).map(spread).sum());
            }
            for (all, far) in all.iter_mut().flatten().zip(far.iter().flatten()) {
                *all += far;
            }
        }
        Ok(all)
    }

    fn distances_from_sides(
        &mut self,
        some: &[usize],
        classes: &[usize],
        weights: &Weights,
    ) -> Result<Vec<Vec<[f64; 2]>>, P::Error> {
        let mut all = vec![vec![[0.0; 2]; some.len()]; weights.columns.len()];
        for piece in 0..self.pieces.count() {
            let far = self.pieces.points(piece).distances_from_sides(some, classes, weights)?;
            for (all, far) in all.iter_mut().flatten().flatten().zip(far.iter().flatten().flatten()) {
                *all += far;
            }
        }
        Ok(all)
    }
}
