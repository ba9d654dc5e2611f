//! Pictures as points, of which only sums are asked, and what each weighs.

use super::classes::{Class, Classes};
use super::rules::Fact;
use super::tally::Tally;

/// The pictures of a chain's classes as points, of which only sums are asked.
///
/// Two ways lead to the spread between means: the products of every picture with every other, or the means themselves.
/// The products of n pictures take n^2 / 2 passes over a picture and n^2 places: 54 classes would do, 14,400 would take
/// a hundred million passes and 400 MB. The means take n passes for each of the 28 facts at most that eight effects have,
/// and the passes of all facts read a picture once; each split then asks only for the family that it split, again
/// n passes at most. So means it is, whatever n.
pub trait Points {
    /// Why a sum cannot be had.
    type Error;

    /// Of some classes, for each column of the weights: the squared distance between their mean weighted by the column,
    /// and their mean weighted by what it leaves of the whole weight; 0 where either is empty.
    ///
    /// # Errors
    /// Where the sums cannot be had.
    fn between_means(&mut self, classes: &[usize], weights: &Weights) -> Result<Vec<f64>, Self::Error>;

    /// For each family the squared distance of each of its classes from the family's mean.
    ///
    /// # Errors
    /// Where the sums cannot be had.
    fn distances(&mut self, families: &[&[usize]], weights: &Weights) -> Result<Vec<Vec<f64>>, Self::Error>;

    /// For each column of the weights and each of `some` of the classes: its squared distance from the mean of all `classes`
    /// weighted by the column, and from that weighted by what the column leaves; of one that weighs nothing, any figure.
    ///
    /// # Errors
    /// Where the sums cannot be had.
    fn distances_from_sides(
        &mut self,
        some: &[usize],
        classes: &[usize],
        weights: &Weights,
    ) -> Result<Vec<Vec<[f64; 2]>>, Self::Error> {
        let side = |points: &mut Self, side: Vec<u32>| {
            let members: Vec<usize> = classes.iter().copied().filter(|&class| side[class] > 0).collect();
            if members.is_empty() {
                return Ok(vec![0.0; some.len()]);
            }
            let far = points.distances(&[&members], &Weights { whole: side, columns: Vec::new() })?;
            let of = |class: &usize| members.iter().position(|member| member == class).map(|at| far[0][at]);
            Ok(some.iter().map(|class| of(class).unwrap_or(0.0)).collect::<Vec<f64>>())
        };
        let column = |column: &Vec<u32>| {
            let left = weights.whole.iter().zip(column).map(|(whole, column)| whole - column).collect();
            let (holding, others) = (side(self, column.clone())?, side(self, left)?);
            Ok(holding.into_iter().zip(others).map(<[f64; 2]>::from).collect())
        };
        weights.columns.iter().map(column).collect()
    }
}

/// What classes weigh.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Weights {
    /// For each class, the orders that it stands for.
    pub whole: Vec<u32>,
    /// For each fact, and each class, those of them for which it holds.
    pub columns: Vec<Vec<u32>>,
}

impl Weights {
    pub(super) fn of(classes: &Classes, list: &[Class], tally: &Tally, facts: &[Fact]) -> Self {
        let mut whole = Vec::with_capacity(list.len());
        let mut columns = vec![Vec::with_capacity(list.len()); facts.len()];
        for class in 0..list.len() {
            // Chains explored in full have at most 8! orders.
            let narrow = |orders: u64| u32::try_from(orders).unwrap_or(u32::MAX);
            whole.push(narrow(tally.orders_in(classes, list, class)));
            let before = tally.orders_before(classes, list, class);
            for (column, fact) in columns.iter_mut().zip(facts) {
                column.push(narrow(before[fact.before][fact.after]));
            }
        }
        Self { whole, columns }
    }

    pub(super) fn orders(&self, classes: &[usize]) -> u64 {
        classes.iter().map(|&class| u64::from(self.whole[class])).sum()
    }

    /// The spread of some classes, of which `far` gives the squared distance from their mean.
    pub(super) fn spread(&self, classes: &[usize], far: &[f64]) -> f64 {
        classes.iter().zip(far).map(|(&class, far)| f64::from(self.whole[class]) * far).sum()
    }

    /// For each fact, the spread that splitting some classes by it takes away.
    pub(super) fn gains<P: Points>(&self, points: &mut P, classes: &[usize]) -> Result<Vec<f64>, P::Error> {
        Ok(self.gains_of(classes, &points.between_means(classes, self)?))
    }

    /// The same, where it is known how far the means are apart.
    pub(super) fn gains_of(&self, classes: &[usize], apart: &[f64]) -> Vec<f64> {
        let whole = self.orders(classes) as f64;
        let gain = |(column, apart): (&Vec<u32>, &f64)| {
            let holding = classes.iter().map(|&class| u64::from(column[class])).sum::<u64>() as f64;
            holding * (whole - holding) / whole.max(1.0) * apart
        };
        self.columns.iter().zip(apart).map(gain).collect()
    }
}

/// A share of a whole; none of nothing.
pub(super) fn part(of: f64, whole: f64) -> f64 {
    if whole > 0.0 { of / whole } else { 0.0 }
}
