//! A climber: looks around a point, goes where it is better, and learns which way and how far to look.
//!
//! The matrix adaptation evolution strategy (Beyer and Sendhoff, "Simplify your covariance matrix adaptation evolution
//! strategy", 2017, from memory): CMA-ES without a matrix that has to be taken apart. Points are asked for and told
//! back a generation at a time, so that the points of many climbers are rendered together.

use crate::base::random::Draws;

#[derive(Debug, Clone)]
pub(super) struct Climber {
    mean: Vec<f64>,
    /// How far it looks.
    reach: f64,
    /// In which directions: rows of a square matrix.
    directions: Vec<f64>,
    /// Where it has been going lately.
    path: Vec<f64>,
    draws: Draws,
    /// The steps of the points that were asked for last: as drawn, and as turned by the directions.
    asked: Vec<[Vec<f64>; 2]>,
}

impl Climber {
    /// At a point, looking so far around, with random numbers from these draws.
    pub(super) fn at(point: &[f64], reach: f64, draws: Draws) -> Self {
        let n = point.len();
        let mut directions = vec![0.0; n * n];
        (0..n).for_each(|at| directions[at * n + at] = 1.0);
        Self { mean: point.to_vec(), reach, directions, path: vec![0.0; n], draws, asked: Vec::new() }
    }

    /// Goes on from another point.
    pub(super) fn move_to(&mut self, point: &[f64]) {
        self.mean = point.to_vec();
        self.path.fill(0.0);
    }

    /// Looks at least so far.
    pub(super) fn look_up(&mut self, reach: f64) {
        self.reach = self.reach.max(reach);
    }

    /// Whether what it looks at is no longer told apart.
    pub(super) fn is_done(&self) -> bool {
        self.reach < 2e-5
    }

    /// Points in one generation, of so many dimensions.
    pub(super) fn points(dimensions: usize) -> usize {
        4 + (3.0 * (dimensions.max(1) as f64).ln()) as usize
    }

    /// The next generation's points; they may lie beyond 0 to 1.
    pub(super) fn ask(&mut self) -> Vec<Vec<f64>> {
        let n = self.mean.len();
        self.asked = (0..Self::points(n))
            .map(|_| {
                let drawn: Vec<f64> = (0..n).map(|_| self.draws.normal()).collect();
                let row = |row: usize| -> f64 {
                    let row = &self.directions[row * n..][..n];
                    row.iter().zip(&drawn).map(|(direction, step)| direction * step).sum()
                };
                let turned = (0..n).map(row).collect();
                [drawn, turned]
            })
            .collect();
        let point = |[_, turned]: &[Vec<f64>; 2]| {
            self.mean.iter().zip(turned).map(|(mean, step)| mean + self.reach * step).collect()
        };
        self.asked.iter().map(point).collect()
    }

    /// The scores of the points that were asked for: the less, the better.
    pub(super) fn tell(&mut self, scores: &[f64]) {
        let n = self.mean.len();
        let dimensions = n as f64;
        let mut ranked: Vec<usize> = (0..self.asked.len().min(scores.len())).collect();
        ranked.sort_by(|&a, &b| scores[a].total_cmp(&scores[b]).then(a.cmp(&b)));
        let parents = ranked.len() / 2;
        if parents == 0 || n == 0 {
            return;
        }
        ranked.truncate(parents);
        let weight = |rank: usize| (parents as f64 + 0.5).ln() - (rank as f64 + 1.0).ln();
        let total: f64 = (0..parents).map(weight).sum();
        let weights: Vec<f64> = (0..parents).map(|rank| weight(rank) / total).collect();
        let effective = 1.0 / weights.iter().map(|weight| weight * weight).sum::<f64>();
        // Rates as the authors have them.
        let fading = (effective + 2.0) / (dimensions + effective + 5.0);
        let along = 2.0 / ((dimensions + 1.3).powi(2) + effective);
        let around = (2.0 * (effective - 2.0 + 1.0 / effective) / ((dimensions + 2.0).powi(2) + effective))
            .min(1.0 - along);
        let damping = 1.0 + fading + 2.0 * (((effective - 1.0) / (dimensions + 1.0)).sqrt() - 1.0).max(0.0);
        let mixed = |which: usize, at: usize| -> f64 {
            ranked.iter().zip(&weights).map(|(&point, weight)| weight * self.asked[point][which][at]).sum()
        };
        let drawn: Vec<f64> = (0..n).map(|at| mixed(0, at)).collect();
        let turned: Vec<f64> = (0..n).map(|at| mixed(1, at)).collect();
        for (mean, step) in self.mean.iter_mut().zip(&turned) {
            *mean += self.reach * step;
        }
        let growth = (effective * fading * (2.0 - fading)).sqrt();
        for (path, step) in self.path.iter_mut().zip(&drawn) {
            *path = (1.0 - fading) * *path + growth * step;
        }
        // The directions times (1 + along / 2 (path path' - 1) + around / 2 (steps steps' - 1)).
        let mut change = vec![0.0; n * n];
        for row in 0..n {
            for column in 0..n {
                let one = if row == column { 1.0 } else { 0.0 };
                let steps: f64 = ranked
                    .iter()
                    .zip(&weights)
                    .map(|(&point, weight)| {
                        let drawn = &self.asked[point][0];
                        weight * drawn[row] * drawn[column]
                    })
                    .sum();
                change[row * n + column] = one
                    + along / 2.0 * (self.path[row] * self.path[column] - one)
                    + around / 2.0 * (steps - one);
            }
        }
        let before = std::mem::take(&mut self.directions);
        let entry = |at: usize| -> f64 {
            let (row, column) = (at / n, at % n);
            (0..n).map(|inner| before[row * n + inner] * change[inner * n + column]).sum()
        };
        self.directions = (0..n * n).map(entry).collect();
        let length: f64 = self.path.iter().map(|step| step * step).sum();
        self.reach *= (fading / (2.0 * damping) * (length / dimensions - 1.0)).exp();
        // No range is longer than 1.
        self.reach = self.reach.min(0.5);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The best that a climber finds of a function in so many generations.
    fn climbed(dimensions: usize, generations: usize, score: impl Fn(&[f64]) -> f64) -> f64 {
        let mut climber = Climber::at(&vec![0.3; dimensions], 0.2, Draws::from(5, 0));
        let mut best = f64::INFINITY;
        for _ in 0..generations {
            let scores: Vec<f64> = climber.ask().iter().map(|point| score(point)).collect();
            best = scores.iter().copied().fold(best, f64::min);
            climber.tell(&scores);
        }
        best
    }

    #[test]
    fn a_climber_comes_to_the_bottom_of_round_long_and_bent_valleys() {
        // The test functions of Hansen and Ostermeier (2001), moved into 0 to 1: sphere, ellipsoid, Rosenbrock.
        let sphere = |point: &[f64]| point.iter().map(|x| (x - 0.7).powi(2)).sum();
        assert!(climbed(6, 120, sphere) < 1e-8);
        let ellipsoid = |point: &[f64]| {
            let at = |(at, x): (usize, &f64)| 1e4_f64.powf(at as f64 / 5.0) * (x - 0.7).powi(2);
            point.iter().enumerate().map(at).sum()
        };
        assert!(climbed(6, 250, ellipsoid) < 1e-6);
        let rosenbrock = |point: &[f64]| {
            let x: Vec<f64> = point.iter().map(|x| 2.0 * x).collect();
            x.windows(2)
                .map(|pair| 100.0 * (pair[1] - pair[0].powi(2)).powi(2) + (1.0 - pair[0]).powi(2))
                .sum()
        };
        assert!(climbed(4, 400, rosenbrock) < 1e-4);
    }
}
