//! Steps down a slope: where every texel of a picture should go is known, and each number's and colour's share in that
//! is seen by moving it a little (Gauss and Newton; Levenberg 1944 and Marquardt 1963 for the damping).

use crate::base::picture::Picture;

/// How much of a step's own stiffness is added: little for long steps, which lead along valleys in which one number makes
/// good what another spoils, much for careful ones.
const DAMPINGS: [f64; 5] = [1e-6, 1e-4, 1e-3, 2e-2, 0.4];

/// What one step asks for at most.
const LONGEST: f64 = 0.5;

/// A picture with one number moved, and how far that was.
pub(super) struct Probe<'a> {
    pub(super) picture: &'a Picture,
    pub(super) moved: f64,
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

/// Steps worth trying, one number a dimension, from a picture towards another.
pub(super) fn steps(from: &Picture, towards: &Picture, probes: &[Probe<'_>]) -> Vec<Vec<f64>> {
    let n = probes.len();
    let here = lit(from);
    let apart = |other: &[f32]| -> Vec<f32> { other.iter().zip(&here).map(|(a, b)| a - b).collect() };
    let wanted = apart(&lit(towards));
    let moved: Vec<Vec<f32>> = probes.iter().map(|probe| apart(&lit(probe.picture))).collect();
    let dot = |a: &[f32], b: &[f32]| -> f64 { a.iter().zip(b).map(|(a, b)| f64::from(a * b)).sum() };
    let mut matrix = vec![0.0; n * n];
    let mut goal = vec![0.0; n];
    for row in 0..n {
        goal[row] = dot(&moved[row], &wanted) / probes[row].moved;
        for column in 0..=row {
            let entry = dot(&moved[row], &moved[column]) / probes[row].moved / probes[column].moved;
            (matrix[row * n + column], matrix[column * n + row]) = (entry, entry);
        }
    }
    let most = (0..n).map(|at| matrix[at * n + at]).fold(0.0, f64::max);
    if most <= 0.0 {
        return Vec::new();
    }
    let mut steps: Vec<Vec<f64>> = DAMPINGS
        .iter()
        .map(|damping| {
            let mut damped = matrix.clone();
            // What nothing depends on stays where it is.
            (0..n).for_each(|at| damped[at * n + at] += damping * matrix[at * n + at] + 1e-7 * most);
            solved(damped, goal.clone())
        })
        .collect();
    for step in steps.iter_mut().flatten() {
        *step = step.clamp(-LONGEST, LONGEST);
    }
    steps
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
        let frame = Frame { width: 16, height: 1 };
        let texel = |at: u32| {
            let [r, g, b] = shade(f64::from(at) / 16.0).map(|value| value.round().clamp(0.0, 255.0) as u8);
            [r, g, b, 255]
        };
        Picture { frame, rgba: (0..16).flat_map(texel).collect(), opaque: true }
    }

    #[test]
    fn a_step_goes_where_the_picture_is_wanted() {
        // Two numbers that act together: how steep a ramp is, and how light.
        let at = |steep: f64, light: f64| {
            picture(|x| [200.0 * steep * x, 100.0 * light, 100.0 * light + 90.0 * x * steep])
        };
        let (here, wanted) = (at(0.4, 0.5), at(0.7, 0.8));
        let (steeper, lighter) = (at(0.45, 0.5), at(0.4, 0.55));
        let probes = [Probe { picture: &steeper, moved: 0.05 }, Probe { picture: &lighter, moved: 0.05 }];
        let steps = steps(&here, &wanted, &probes);
        assert!((steps[0][0] - 0.3).abs() < 0.02 && (steps[0][1] - 0.3).abs() < 0.02, "{:?}", steps[0]);
        // The careful one is shorter.
        let careful = steps[4][0];
        assert!(careful < 0.29 && careful > 0.1, "{careful}");
        // A number that moves nothing stays.
        let probes = [Probe { picture: &steeper, moved: 0.05 }, Probe { picture: &here, moved: 0.05 }];
        assert!(super::steps(&here, &wanted, &probes)[0][1].abs() < 1e-9);
    }
}
