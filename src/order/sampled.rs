//! What orders drawn at random tell of all orders: shares, and their standard errors.
//!
//! Draws are independent, and each order is as likely as any other. Of n of them, n - k tell of the spread inside k
//! families, so that a share is 1 - (W / (n - k)) / (T / (n - 1)), for the spread W inside families and T of all draws: the
//! epsilon squared of Kelley (1935), also known as adjusted R squared (Ezekiel 1930). Without that even a fact of which
//! nothing hangs would seem to have 1 / (n - 1).
//!
//! Standard errors of these ratios are the jackknife's (Quenouille 1956; Tukey 1958; Efron and Tibshirani, An Introduction to
//! the Bootstrap, 1993, chapter 11): the share is worked out anew without each draw in turn. No sum is asked for again, since
//! a draw at the distance e from the mean of its n takes n / (n - 1) e^2 of their spread with it.

use super::points::{Points, Weights, part};

/// A split of a sample takes away so many times what a split anyhow does, in the mean: about three standard errors. (The
/// ratio is the pseudo-F of Anderson 2001.) Of the 36 pairs of nine effects some always seem to matter a little.
const BEYOND_CHANCE: f64 = 10.0;

/// For the standard error of a single pair's share so many draws are left out in turn: enough for an error, and what each takes
/// with it is not asked of the others.
const LEFT_OUT: usize = 200;

/// What is left inside the families of a sample as the tree grows.
#[derive(Debug)]
pub(super) struct Stages {
    draws: u64,
    /// For each class, how often it was drawn.
    drawn: Vec<u32>,
    /// Before any question, and after each.
    stages: Vec<Stage>,
}

/// What a question decides, and what all questions up to it explain: each with its standard error.
#[derive(Debug, Clone, Copy)]
pub(super) struct Told {
    pub(super) decides: (f64, f64),
    pub(super) explained: (f64, f64),
}

/// The spread inside families, and what of it goes with one draw of each class.
#[derive(Debug, Clone)]
struct Stage {
    sum: f64,
    goes: Vec<f64>,
}

impl Stages {
    /// Begins with all draws as one family, of which `far` gives the squared distance from their mean.
    pub(super) fn begun(weights: &Weights, classes: &[usize], far: &[f64]) -> Self {
        let mut stage = Stage { sum: 0.0, goes: vec![0.0; weights.whole.len()] };
        stage.add(classes, far, &weights.whole);
        Self { draws: weights.orders(classes), drawn: weights.whole.clone(), stages: vec![stage] }
    }

    /// Takes in that a family is split in these two; gives what each of them spreads.
    pub(super) fn split<P: Points>(
        &mut self,
        points: &mut P,
        weights: &Weights,
        parts: [&[usize]; 2],
    ) -> Result<[f64; 2], P::Error> {
        let far = points.distances(&parts, weights)?;
        let mut next = self.last().clone();
        next.take_out(&parts.concat(), &weights.whole);
        let mut spreads = [0.0; 2];
        for (spread, (part, far)) in spreads.iter_mut().zip(parts.iter().zip(&far)) {
            next.add(part, far, &weights.whole);
            *spread = weights.spread(part, far);
        }
        self.stages.push(next);
        Ok(spreads)
    }

    /// The share of each pair by itself, of which a split would take away its gain, and its standard error.
    pub(super) fn shares<P: Points>(
        &self,
        points: &mut P,
        weights: &Weights,
        classes: &[usize],
        gains: &[f64],
    ) -> Result<Vec<(f64, f64)>, P::Error> {
        let all = &self.stages[0];
        if all.sum <= 0.0 {
            return Ok(vec![(0.0, 0.0); gains.len()]);
        }
        let few = classes.len().min(LEFT_OUT);
        let some: Vec<usize> = (0..few).map(|nth| classes[nth * classes.len() / few.max(1)]).collect();
        let far = points.distances_from_sides(&some, classes, weights)?;
        let share = |((column, gain), far): ((&Vec<u32>, &f64), &Vec<[f64; 2]>)| {
            let holding: u64 = classes.iter().map(|&class| u64::from(column[class])).sum();
            let sides = [holding, self.draws - holding];
            if sides.contains(&0) {
                return (0.0, 0.0);
            }
            let left = all.sum - gain;
            let mut without = Vec::with_capacity(some.len());
            for (&class, far) in some.iter().zip(far) {
                let weights = [column[class], weights.whole[class] - column[class]];
                for side in (0..2).filter(|&side| weights[side] > 0) {
                    let rest = (left - goes(far[side], sides[side] as f64)).max(0.0);
                    let share = explained(rest, all.sum - all.goes[class], self.draws - 1, 2);
                    without.push((weights[side], share));
                }
            }
            (explained(left, all.sum, self.draws, 2).max(0.0), jackknife(&without, self.draws))
        };
        Ok(weights.columns.iter().zip(gains).zip(&far).map(share).collect())
    }

    /// For each question what it decides of all orders, and what all up to it explain.
    pub(super) fn told(&self) -> Vec<Told> {
        let (mut before, mut last) = (vec![0.0; self.drawn.len()], 0.0);
        let all = &self.stages[0];
        let error = |values: &[f64]| {
            let values: Vec<_> = self.drawn.iter().copied().zip(values.iter().copied()).collect();
            jackknife(&values, self.draws)
        };
        let mut told = Vec::new();
        for (stage, families) in self.stages[1..].iter().zip(2..) {
            let without = |class: usize| {
                let (left, all) = (stage.sum - stage.goes[class], all.sum - all.goes[class]);
                explained(left, all, self.draws - 1, families)
            };
            let without: Vec<f64> = (0..self.drawn.len()).map(without).collect();
            let decides: Vec<f64> =
                without.iter().zip(&before).map(|(after, before)| after - before).collect();
            let now = explained(stage.sum, all.sum, self.draws, families);
            told.push(Told { decides: (now - last, error(&decides)), explained: (now, error(&without)) });
            (before, last) = (without, now);
        }
        told
    }

    /// How many times as much is left inside the families of all orders as inside those of the draws.
    pub(super) fn left_scale(&self) -> f64 {
        scale(self.draws, self.stages.len() as u64)
    }

    fn last(&self) -> &Stage {
        &self.stages[self.stages.len() - 1]
    }
}

impl Stage {
    /// Takes in a family, of whose classes `far` gives the squared distances from its mean.
    fn add(&mut self, classes: &[usize], far: &[f64], weight: &[u32]) {
        let draws: f64 = classes.iter().map(|&class| f64::from(weight[class])).sum();
        for (&class, far) in classes.iter().zip(far) {
            self.sum += f64::from(weight[class]) * far;
            self.goes[class] = goes(*far, draws);
        }
    }

    /// Leaves out a family of just these classes.
    fn take_out(&mut self, classes: &[usize], weight: &[u32]) {
        let draws: f64 = classes.iter().map(|&class| f64::from(weight[class])).sum();
        for &class in classes {
            self.sum -= f64::from(weight[class]) * self.goes[class] * (draws - 1.0) / draws.max(1.0);
            self.goes[class] = 0.0;
        }
    }
}

/// What so many families explain of all orders, by the spread left inside those of the draws and that of all draws.
fn explained(left: f64, all: f64, draws: u64, families: u64) -> f64 {
    if all > 0.0 { 1.0 - scale(draws, families) * left / all } else { 0.0 }
}

fn scale(draws: u64, families: u64) -> f64 {
    draws.saturating_sub(1) as f64 / draws.saturating_sub(families).max(1) as f64
}

/// What goes of the spread of so many draws with one that is so far from their mean: one by itself spreads over nothing.
fn goes(far: f64, draws: f64) -> f64 {
    if draws > 1.0 { draws / (draws - 1.0) * far } else { 0.0 }
}

/// The standard error of what so many draws tell, by what it is without one of them: of each of some, so many times.
fn jackknife(without: &[(u32, f64)], draws: u64) -> f64 {
    let some: f64 = without.iter().map(|&(times, _)| f64::from(times)).sum();
    if some < 2.0 {
        return 0.0;
    }
    let mean = without.iter().map(|&(times, value)| f64::from(times) * value).sum::<f64>() / some;
    let squares: f64 = without.iter().map(|&(times, value)| f64::from(times) * (value - mean).powi(2)).sum();
    ((draws as f64 - 1.0) / some * squares).sqrt()
}

/// Whether a split of a family of draws takes away more than it would of orders that spread anyhow.
pub(super) fn is_beyond_chance(gain: f64, spread: f64, draws: u64) -> bool {
    draws > 2 && gain >= BEYOND_CHANCE * (spread - gain).max(0.0) / (draws - 2) as f64
}

/// A pair's share of all orders of a family, by what a split by it takes away of the draws; none where chance may have made it.
pub(super) fn share_inside(gain: f64, spread: f64, draws: u64) -> f64 {
    if !is_beyond_chance(gain, spread, draws) {
        return 0.0;
    }
    (1.0 - scale(draws, 2) * (1.0 - part(gain, spread))).max(0.0)
}
