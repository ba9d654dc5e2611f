//! Looks: pictures that a viewer cannot tell apart, gathered.

use std::collections::HashSet;

use crate::measure::Difference;

/// Below what difference two pictures count as one look: below both.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LookLimits {
    /// Mean CIEDE2000. A difference of 1 is the size that the unit is meant to make just visible
    /// (common practice, no source).
    pub mean: f64,
    /// 95th percentile of CIEDE2000. 2.3 is the just noticeable difference that Mahy, Van Eycken and
    /// Oosterlinck (1994) give for CIELAB, from memory; CIEDE2000 units are not quite the same.
    pub p95: f64,
}

impl Default for LookLimits {
    fn default() -> Self {
        Self { mean: 1.0, p95: 2.3 }
    }
}

impl LookLimits {
    /// Whether pictures this far apart count as one look.
    pub fn alike(self, difference: &Difference) -> bool {
        difference.mean < self.mean && difference.p95 < self.p95
    }
}

/// The most looks that are told apart; what is left over joins the nearest, and [`Looks::complete`] says so.
pub const MOST_LOOKS: usize = 64;

/// What measures classes against one of them.
pub trait Apart {
    /// Why it failed.
    type Error;

    /// How far each of `others` is from the reference, in mean CIEDE2000; it may give nothing for one whose mean is at
    /// least its bound.
    ///
    /// # Errors
    /// Where it fails.
    fn means(
        &mut self,
        reference: usize,
        others: &[usize],
        bounds: &[f64],
    ) -> Result<Vec<Option<f64>>, Self::Error>;

    /// The whole difference, of what is near by its mean.
    ///
    /// # Errors
    /// Where it fails.
    fn differences(&mut self, reference: usize, others: &[usize]) -> Result<Vec<Difference>, Self::Error>;
}

/// Classes gathered into looks.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Looks {
    /// For each look, the class that stands for it. The first is the first class's own look; each
    /// further one was, when it was found, the picture furthest from all before it.
    pub representatives: Vec<usize>,
    /// For each class, its look.
    pub of: Vec<usize>,
    /// Whether every picture is within the limits of its look's representative.
    pub complete: bool,
}

impl Looks {
    /// How many classes have this look.
    pub fn orders_of(&self, look: usize) -> usize {
        self.of.iter().filter(|&&of| of == look).count()
    }

    /// Gathers classes into looks. `keys` are equal for equal pictures; `apart` measures them. `tell` is told how far it
    /// has come, in classes; they are all done with the last.
    ///
    /// Apart from the first class, whose look comes first, nothing depends on the order in which the
    /// classes are listed: ties are settled by key.
    ///
    /// # Errors
    /// Those of `apart`.
    pub fn gathered<K: Ord, A: Apart>(
        keys: &[K],
        limits: LookLimits,
        mut apart: A,
        mut tell: impl FnMut(usize),
    ) -> Result<Self, A::Error> {
        // Equal pictures are measured once.
        let mut by_key: Vec<usize> = (0..keys.len()).collect();
        by_key.sort_by(|&a, &b| keys[a].cmp(&keys[b]).then(a.cmp(&b)));
        let mut stands_for: Vec<usize> = (0..keys.len()).collect();
        for pair in by_key.windows(2) {
            if keys[pair[0]] == keys[pair[1]] {
                stands_for[pair[1]] = stands_for[pair[0]];
            }
        }
        let Some(&first) = stands_for.first() else {
            return Ok(Self { representatives: Vec::new(), of: Vec::new(), complete: true });
        };
        let mut open: Vec<usize> =
            by_key.into_iter().filter(|&class| stands_for[class] == class && class != first).collect();
        let others = open.len();
        // Distance to the nearest representative so far, and which that is.
        let mut nearest = vec![(f64::INFINITY, 0); keys.len()];
        let mut look = vec![0; keys.len()];
        let mut representatives = vec![first];
        let mut complete = true;
        loop {
            let newest = representatives.len() - 1;
            // As far as one that is nearer already, and out of the limits, it is no matter how much further.
            let bounds: Vec<f64> = open.iter().map(|&class| nearest[class].0.max(limits.mean)).collect();
            let reference = representatives[newest];
            let means = apart.means(reference, &open, &bounds)?;
            let mut near = Vec::new();
            for (&class, mean) in open.iter().zip(means) {
                let Some(mean) = mean else { continue };
                if mean < nearest[class].0 {
                    nearest[class] = (mean, newest);
                }
                if mean < limits.mean {
                    near.push(class);
                }
            }
            let differences = apart.differences(reference, &near)?;
            let alike: HashSet<usize> = near
                .into_iter()
                .zip(&differences)
                .filter_map(|(class, difference)| limits.alike(difference).then_some(class))
                .collect();
            open.retain(|class| !alike.contains(class));
            for class in alike {
                look[class] = newest;
            }
            // It ends where every class has its look, or where there are as many looks as there may be.
            let (with_look, looks) = (others - open.len(), representatives.len());
            tell((keys.len() * with_look / others.max(1)).max(keys.len() * looks / (MOST_LOOKS + 1)));
            // `open` is sorted by key, so that of equals the first in that order is taken.
            let mut furthest: Option<usize> = None;
            for (at, &class) in open.iter().enumerate() {
                if furthest.is_none_or(|most| nearest[class].0 > nearest[open[most]].0) {
                    furthest = Some(at);
                }
            }
            let Some(furthest) = furthest else { break };
            if representatives.len() == MOST_LOOKS {
                complete = false;
                for &class in &open {
                    look[class] = nearest[class].1;
                }
                break;
            }
            let class = open.remove(furthest);
            look[class] = representatives.len();
            representatives.push(class);
        }
        tell(keys.len());
        let of = stands_for.iter().map(|&class| look[class]).collect();
        Ok(Self { representatives, of, complete })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Pictures as points on a line: their distance is their difference.
    struct OnALine<'a, T> {
        points: &'a [i32],
        tells: T,
    }

    impl<T: Fn(f64, f64) -> bool> Apart for OnALine<'_, T> {
        type Error = ();

        fn means(
            &mut self,
            reference: usize,
            others: &[usize],
            bounds: &[f64],
        ) -> Result<Vec<Option<f64>>, ()> {
            let means = self.differences(reference, others)?.into_iter().map(|difference| difference.mean);
            Ok(means.zip(bounds).map(|(mean, &bound)| (self.tells)(mean, bound).then_some(mean)).collect())
        }

        fn differences(&mut self, reference: usize, others: &[usize]) -> Result<Vec<Difference>, ()> {
            let apart = |&other: &usize| {
                let mean = f64::from((self.points[other] - self.points[reference]).abs()) / 10.0;
                Difference { mean, p95: mean, max: mean, changed_share: 1.0 }
            };
            Ok(others.iter().map(apart).collect())
        }
    }

    fn gathered(points: &[i32]) -> Looks {
        gathered_where(points, |_, _| true)
    }

    /// The same where a difference is only told if `tells` it, of its mean and the bound.
    fn gathered_where(points: &[i32], tells: impl Fn(f64, f64) -> bool) -> Looks {
        let apart = OnALine { points, tells };
        let mut told = Vec::new();
        let looks = Looks::gathered(points, LookLimits::default(), apart, |done| told.push(done)).unwrap();
        assert!(told.is_sorted() && told.last().is_none_or(|&last| last == points.len()), "{told:?}");
        looks
    }

    #[test]
    fn what_is_out_of_its_bound_need_not_be_told() {
        // Points all over a line, by a generator of the kind of Lehmer's.
        let mut seed: i64 = 7;
        let mut points = |count: usize, width: i64| -> Vec<i32> {
            (0..count)
                .map(|_| {
                    seed = seed * 48_271 % 2_147_483_647;
                    (seed % width) as i32
                })
                .collect()
        };
        for (count, width) in [(1, 5), (12, 60), (80, 900), (300, 900), (200, 40_000)] {
            let points = points(count, width);
            assert_eq!(gathered_where(&points, |mean, bound| mean < bound), gathered(&points), "{points:?}");
        }
    }

    #[test]
    fn near_pictures_are_one_look_and_the_furthest_comes_next() {
        let looks = gathered(&[0, 5, 100, 9, 40, 40, 104]);
        assert_eq!(looks.representatives, [0, 6, 4]);
        assert_eq!(looks.of, [0, 0, 1, 0, 2, 2, 1]);
        assert!(looks.complete);
    }

    #[test]
    fn the_order_of_listing_does_not_matter() {
        let points = [0, 7, 12, 18, 33, 12, 90, 95, 101, 55, 61, 7];
        let wanted: Vec<(i32, i32)> = {
            let looks = gathered(&points);
            let of = |at: usize| points[looks.representatives[looks.of[at]]];
            let mut pairs: Vec<_> = (0..points.len()).map(|at| (points[at], of(at))).collect();
            pairs.sort_unstable();
            pairs
        };
        // Every rotation of what follows the first, and each reversed.
        for turn in 0..points.len() - 1 {
            for reverse in [false, true] {
                let mut listed = points;
                listed[1..].rotate_left(turn);
                if reverse {
                    listed[1..].reverse();
                }
                let looks = gathered(&listed);
                let of = |at: usize| listed[looks.representatives[looks.of[at]]];
                let mut pairs: Vec<_> = (0..listed.len()).map(|at| (listed[at], of(at))).collect();
                pairs.sort_unstable();
                assert_eq!(pairs, wanted, "turned by {turn}, reversed {reverse}");
            }
        }
    }

    #[test]
    fn past_the_most_looks_the_rest_joins_the_nearest_and_it_says_so() {
        let points: Vec<i32> = (0..100).map(|at| at * 50).collect();
        let looks = gathered(&points);
        assert_eq!((looks.representatives.len(), looks.complete), (MOST_LOOKS, false));
        assert!(looks.of.iter().all(|&look| look < MOST_LOOKS));
        assert!(gathered(&[]).complete);
    }
}
