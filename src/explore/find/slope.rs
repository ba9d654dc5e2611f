//! Steps down a slope: where every texel of a picture should go is known, and what each number and colour does to it is
//! seen by moving it a little (Gauss and Newton; Levenberg 1944 and Marquardt 1963 for the damping).
//!
//! Two numbers that make good what the other spoils are a valley, long, flat and bent. Numbers are therefore moved together,
//! along ways of which each changes the picture by as much and none does what another does; along the longest, steps follow
//! the bend, as Transtrum and Sethna have it ("Improvements to the Levenberg-Marquardt algorithm", 2012, from memory).

use crate::base::picture::Picture;

/// How much of a step's own stiffness is added: little for long steps, which lead along valleys in which one number makes
/// good what another spoils, much for careful ones.
const DAMPINGS: [f64; 5] = [1e-6, 1e-4, 1e-3, 2e-2, 0.4];
/// So many of these steps, the long ones, are tried at twice their length too: what grain hides makes them too short.
const LENGTHENED: usize = 3;
/// How far along the longest way steps lead, in its lengths.
const ALONG: [f64; 5] = [-1.0, -0.5, 0.5, 1.0, 1.5];

/// What one step asks for at most.
const LONGEST: f64 = 0.5;
/// How much longer one way gets than those that it is put together from.
const MOST_GROWTH: f64 = 3.0;

/// A move to both sides: pictures of its two ends, and how far it is from end to end, number by number.
pub(super) struct Seen<'a> {
    pub(super) ends: [&'a Picture; 2],
    pub(super) way: Vec<f64>,
    /// Whether one stands in the middle of it, and not at the end of a range.
    pub(super) is_even: bool,
}

/// A picture's channels over black.
fn lit(picture: &Picture) -> Vec<f32> {
    let over_black = |texel: &[u8]| {
        let alpha = f32::from(texel[3]) / 255.0;
        [0, 1, 2].map(|channel| f32::from(texel[channel]) * alpha)
    };
    picture.rgba.chunks_exact(4).flat_map(over_black).collect()
}

/// How far two pictures of one frame are apart, as steps have it: the sum over all texels and channels of the squares.
pub(super) fn apart(a: &Picture, b: &Picture) -> f64 {
    lit(a).iter().zip(lit(b)).map(|(a, b)| f64::from((a - b) * (a - b))).sum()
}

/// How a picture changes along some ways, and how it should.
pub(super) struct Slope {
    ways: Vec<Vec<f64>>,
    /// What the changes along each two ways have in common.
    matrix: Vec<f64>,
    /// What each has in common with the change that is wanted.
    goal: Vec<f64>,
    /// The longest way, and what its bend has in common with each change.
    bent: Option<(usize, Vec<f64>)>,
    /// Channels of all texels.
    channels: f64,
}

impl Slope {
    pub(super) fn seen(from: &Picture, towards: &Picture, seen: Vec<Seen<'_>>) -> Self {
        let n = seen.len();
        let here = lit(from);
        let wanted: Vec<f32> = lit(towards).iter().zip(&here).map(|(a, b)| a - b).collect();
        let ends: Vec<[Vec<f32>; 2]> = seen.iter().map(|seen| seen.ends.map(lit)).collect();
        let change = |[start, end]: &[Vec<f32>; 2]| end.iter().zip(start).map(|(a, b)| a - b).collect();
        let changes: Vec<Vec<f32>> = ends.iter().map(change).collect();
        let dot = |a: &[f32], b: &[f32]| -> f64 { a.iter().zip(b).map(|(a, b)| f64::from(a * b)).sum() };
        let mut matrix = vec![0.0; n * n];
        for row in 0..n {
            for column in 0..=row {
                let entry = dot(&changes[row], &changes[column]);
                (matrix[row * n + column], matrix[column * n + row]) = (entry, entry);
            }
        }
        let goal = changes.iter().map(|change| dot(change, &wanted)).collect();
        let length = |at: usize| seen[at].way.iter().map(|way| way * way).sum::<f64>();
        // What changes nothing at all is no valley.
        let even = (0..n).filter(|&at| seen[at].is_even && matrix[at * n + at] > 0.0);
        let bent = even.max_by(|&a, &b| length(a).total_cmp(&length(b))).map(|longest| {
            let [start, end] = &ends[longest];
            let sides = start.iter().zip(end).zip(&here);
            let bend: Vec<f32> = sides.map(|((start, end), here)| start + end - 2.0 * here).collect();
            (longest, changes.iter().map(|change| dot(change, &bend)).collect())
        });
        let ways = seen.into_iter().map(|seen| seen.way).collect();
        Self { ways, matrix, goal, bent, channels: here.len() as f64 }
    }

    /// Steps worth trying, one number a dimension.
    pub(super) fn steps(&self) -> Vec<Vec<f64>> {
        let n = self.goal.len();
        let stiffest = (0..n).map(|at| self.matrix[at * n + at]).fold(0.0, f64::max);
        if stiffest <= 0.0 {
            return Vec::new();
        }
        // What nothing depends on stays where it is.
        let hair = 1e-7 * stiffest;
        let damped = |damping: &f64| {
            let mut damped = self.matrix.clone();
            (0..n).for_each(|at| damped[at * n + at] += damping * self.matrix[at * n + at] + hair);
            solved(damped, self.goal.clone())
        };
        let mut shares: Vec<Vec<f64>> = DAMPINGS.iter().map(damped).collect();
        for nth in 0..LENGTHENED {
            shares.push(shares[nth].iter().map(|share| 2.0 * share).collect());
        }
        if let Some((longest, bend)) = &self.bent {
            shares.extend(ALONG.iter().map(|&length| self.along_the_bend(*longest, bend, length, hair)));
        }
        let bounded = |shares: &Vec<f64>| {
            let step = self.put_together(shares).into_iter();
            step.map(|step| step.clamp(-LONGEST, LONGEST)).collect()
        };
        shares.iter().map(bounded).collect()
    }

    /// So many lengths of the longest way; the others make good what that changes, its bend included.
    fn along_the_bend(&self, longest: usize, bend: &[f64], length: f64, hair: f64) -> Vec<f64> {
        let n = self.goal.len();
        let mut matrix = self.matrix.clone();
        // From the middle to an end is half a way, and what bends goes by the square.
        let mut goal: Vec<f64> = (0..n)
            .map(|row| {
                self.goal[row] - length * self.matrix[row * n + longest] - 2.0 * length * length * bend[row]
            })
            .collect();
        for at in 0..n {
            matrix[at * n + at] *= 1.001;
            matrix[at * n + at] += hair;
            (matrix[at * n + longest], matrix[longest * n + at]) = (0.0, 0.0);
        }
        (matrix[longest * n + longest], goal[longest]) = (1.0, length);
        solved(matrix, goal)
    }

    fn put_together(&self, shares: &[f64]) -> Vec<f64> {
        let mut step = vec![0.0; self.ways.first().map_or(0, Vec::len)];
        for (way, share) in self.ways.iter().zip(shares) {
            step.iter_mut().zip(way).for_each(|(step, way)| *step += share * way);
        }
        step
    }

    /// Ways to look along next: each changes every channel by about so much, and none does what another does.
    pub(super) fn ways(&self, change: f64) -> Vec<Vec<f64>> {
        let n = self.goal.len();
        let (stiffness, turned) = axes(self.matrix.clone(), n);
        let way = |axis: usize| {
            let own = (stiffness[axis].max(0.0) / self.channels).sqrt();
            let times = (change / own.max(1e-9)).min(MOST_GROWTH);
            let shares: Vec<f64> = (0..n).map(|row| turned[row * n + axis] * times).collect();
            self.put_together(&shares)
        };
        (0..n).map(way).collect()
    }
}

/// The eigenvalues of a symmetric matrix, and its eigenvectors as columns, by rotations (Jacobi 1846).
fn axes(mut matrix: Vec<f64>, n: usize) -> (Vec<f64>, Vec<f64>) {
    /// Far more than are needed for as many numbers as chains have (six or seven, from memory).
    const SWEEPS: usize = 12;
    let mut turned = vec![0.0; n * n];
    (0..n).for_each(|at| turned[at * n + at] = 1.0);
    let pairs = || (0..n).flat_map(|a| (a + 1..n).map(move |b| (a, b)));
    for (a, b) in (0..SWEEPS).flat_map(|_| pairs()) {
        let shared = matrix[a * n + b];
        if shared.abs() < f64::MIN_POSITIVE {
            continue;
        }
        let half = (matrix[b * n + b] - matrix[a * n + a]) / (2.0 * shared);
        let tangent = half.signum() / (half.abs() + (half * half + 1.0).sqrt());
        let cosine = 1.0 / (tangent * tangent + 1.0).sqrt();
        let sine = tangent * cosine;
        let turn = |values: &mut [f64], one: usize, other: usize| {
            let (first, second) = (values[one], values[other]);
            values[one] = cosine * first - sine * second;
            values[other] = sine * first + cosine * second;
        };
        for at in 0..n {
            turn(&mut matrix, at * n + a, at * n + b);
        }
        for at in 0..n {
            turn(&mut matrix, a * n + at, b * n + at);
            turn(&mut turned, at * n + a, at * n + b);
        }
    }
    ((0..n).map(|at| matrix[at * n + at]).collect(), turned)
}

/// The solution of linear equations with a matrix that is symmetric and positive, row by row.
fn solved(mut matrix: Vec<f64>, mut goal: Vec<f64>) -> Vec<f64> {
    let n = goal.len();
    for pivot in 0..n {
        for row in pivot + 1..n {
            let times = matrix[row * n + pivot] / matrix[pivot * n + pivot];
            for column in pivot..n {
                matrix[row * n + column] -= times * matrix[pivot * n + column];
            }
            goal[row] -= times * goal[pivot];
        }
    }
    for row in (0..n).rev() {
        let known: f64 = (row + 1..n).map(|column| matrix[row * n + column] * goal[column]).sum();
        goal[row] = (goal[row] - known) / matrix[row * n + row];
    }
    goal
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::frame::Frame;

    fn picture(shade: impl Fn(f64) -> [f64; 3]) -> Picture {
        let frame = Frame { width: 64, height: 1 };
        let texel = |at: u32| {
            let [r, g, b] = shade(f64::from(at) / 64.0).map(|value| value.round().clamp(0.0, 255.0) as u8);
            [r, g, b, 255]
        };
        Picture { frame, rgba: (0..64).flat_map(texel).collect(), opaque: true }
    }

    /// The slope seen from a point by these ways.
    fn slope(at: impl Fn(&[f64]) -> Picture, here: &[f64], wanted: &Picture, ways: &[Vec<f64>]) -> Slope {
        let ends: Vec<[Picture; 2]> = ways
            .iter()
            .map(|way| {
                [-0.5, 0.5].map(|side| {
                    at(&here.iter().zip(way).map(|(here, way)| here + side * way).collect::<Vec<f64>>())
                })
            })
            .collect();
        let seen = ends.iter().zip(ways);
        let seen =
            seen.map(|([start, end], way)| Seen { ends: [start, end], way: way.clone(), is_even: true });
        Slope::seen(&at(here), wanted, seen.collect())
    }

    #[test]
    fn a_step_goes_where_the_picture_is_wanted() {
        // Two numbers that act together: how steep a ramp is, and how light. A third does nothing.
        let at = |point: &[f64]| {
            let (steep, light) = (point[0], point[1]);
            picture(|x| [200.0 * steep * x, 100.0 * light, 100.0 * light + 90.0 * x * steep])
        };
        let one = |at: usize| (0..3).map(|other| if other == at { 0.1 } else { 0.0 }).collect();
        let ways: Vec<Vec<f64>> = (0..3).map(one).collect();
        let steps = slope(at, &[0.4, 0.5, 0.5], &at(&[0.7, 0.8, 0.5]), &ways).steps();
        assert!((steps[0][0] - 0.3).abs() < 0.02 && (steps[0][1] - 0.3).abs() < 0.02, "{:?}", steps[0]);
        // The careful one is shorter.
        let careful = steps[4][0];
        assert!(careful < 0.29 && careful > 0.1, "{careful}");
        assert!(steps.iter().all(|step| step[2].abs() < 1e-9), "{steps:?}");
    }

    #[test]
    fn ways_next_looked_along_change_as_much_and_nothing_that_another_does_and_a_bend_is_followed() {
        // How light it is depends on the product of two numbers, which is a bent valley; a hair on their ratio.
        let at = |point: &[f64]| {
            picture(|x| {
                [250.0 * point[0] * point[1] * (0.5 + x / 2.0), 100.0 + 12.0 * point[0] * x, 60.0 * x]
            })
        };
        let (here, wanted) = ([0.9, 0.4], at(&[0.6, 0.6]));
        let ways = slope(at, &here, &wanted, &[vec![0.06, 0.0], vec![0.0, 0.06]]).ways(2.0);
        let slope = slope(at, &here, &wanted, &ways);
        let [a, across, _, b] = slope.matrix[..] else { panic!("two ways") };
        assert!(across.abs() < 0.1 * a.min(b), "{:?}", slope.matrix);
        // The longer way is along the valley, where one number makes good what the other spoils.
        let length = |way: &Vec<f64>| way.iter().map(|way| way * way).sum::<f64>();
        let longest = ways.iter().max_by(|a, b| length(a).total_cmp(&length(b))).unwrap();
        assert!(longest[0] * longest[1] < 0.0, "{ways:?}");
        // Along the bend the product stays what it should be; straight on it would not.
        let end = |step: &[f64]| (here[0] + step[0], here[1] + step[1]);
        let bent = slope.steps().split_off(DAMPINGS.len() + LENGTHENED);
        let (mut furthest, mut worst) = (0.0_f64, 0.0_f64);
        for (x, y) in bent.iter().map(|step| end(step)) {
            furthest = furthest.max((x - here[0]).abs());
            worst = worst.max((x * y - 0.36).abs());
        }
        assert!(furthest > 0.1 && worst < 0.01, "{furthest} {worst} {bent:?}");
    }

    #[test]
    fn axes_are_those_of_a_matrix_whose_eigenvalues_are_known() {
        // The second difference of n points: 2 - 2 cos(k pi / (n + 1)) for k from 1 to n (textbooks, from memory).
        let n = 6;
        let entry = |row: usize, column: usize| match row.abs_diff(column) {
            0 => 2.0,
            1 => -1.0,
            _ => 0.0,
        };
        let matrix: Vec<f64> = (0..n * n).map(|at| entry(at / n, at % n)).collect();
        let (values, vectors) = axes(matrix.clone(), n);
        let mut sorted = values.clone();
        sorted.sort_by(f64::total_cmp);
        for (k, value) in (1..).zip(&sorted) {
            let known = 2.0 - 2.0 * (f64::from(k) * std::f64::consts::PI / 7.0).cos();
            assert!((value - known).abs() < 1e-12, "{value} {known}");
        }
        for (axis, value) in values.iter().enumerate() {
            for row in 0..n {
                let turned: f64 = (0..n).map(|at| matrix[row * n + at] * vectors[at * n + axis]).sum();
                assert!((turned - value * vectors[row * n + axis]).abs() < 1e-12);
            }
        }
    }
}
