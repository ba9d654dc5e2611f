//! How cost grows with the work: with effects, the size of the picture, pieces of footage and frames.

use std::fmt;
use std::sync::Arc;
use std::time::Instant;

use serde::Serialize;

use super::eight::CHAIN;
use crate::base::frame::Frame;
use crate::beat::Moment;
use crate::commands::subject::{Subject, SubjectOptions};
use crate::explore;
use crate::explore::Orders;
use crate::explore::pieces::{Frames, PieceByPiece};
use crate::gpu::{Budget, Player, Want};
use crate::order::{Extent, LookLimits};
use crate::plan::Path;
use crate::show::chain::EffectUse;
use crate::show::clip::{Fit, FootageName};

/// Runs of each amount of work, of which the quickest counts; the first of all compiles and does not count.
const RUNS: usize = 3;

/// How the time that something takes grows.
#[derive(Debug, Serialize)]
pub(super) struct Growth {
    /// With what.
    with: &'static str,
    /// What the work is counted in.
    unit: &'static str,
    points: Vec<Point>,
    /// The power of the work that the time grows with: 1 where it grows as the work does.
    exponent: f64,
}

/// One amount of work.
#[derive(Debug, Serialize)]
struct Point {
    what: String,
    work: f64,
    ms: f64,
}

impl Growth {
    fn of(with: &'static str, unit: &'static str, points: Vec<Point>) -> Self {
        let logs: Vec<[f64; 2]> = points.iter().map(|point| [point.work.ln(), point.ms.ln()]).collect();
        Self { with, unit, points, exponent: slope(&logs) }
    }
}

/// The slope of the straight line that is nearest in the sense of least squares.
fn slope(points: &[[f64; 2]]) -> f64 {
    let mean = |axis: usize| points.iter().map(|point| point[axis]).sum::<f64>() / points.len().max(1) as f64;
    let [x, y] = [mean(0), mean(1)];
    let over = points.iter().map(|point| (point[0] - x) * (point[1] - y)).sum::<f64>();
    let under = points.iter().map(|point| (point[0] - x).powi(2)).sum::<f64>();
    if under > 0.0 { over / under } else { f64::NAN }
}

impl fmt::Display for Growth {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        writeln!(
            f,
            "with {}: time grows as {} to the power of {:.2}; 1 is as the work grows",
            self.with, self.unit, self.exponent
        )?;
        let first = self.points.first();
        for point in &self.points {
            let [work, time] = first.map_or([1.0; 2], |first| [point.work / first.work, point.ms / first.ms]);
            let what = &point.what;
            writeln!(
                f,
                "  {what:<58} {:10.3} ms  {work:8.2} times the work in {time:8.2} of the time",
                point.ms
            )?;
        }
        Ok(())
    }
}

/// The least of some runs, in milliseconds.
fn timed(mut work: impl FnMut() -> anyhow::Result<()>) -> anyhow::Result<f64> {
    work()?;
    let mut least = f64::INFINITY;
    for _ in 0..RUNS {
        let started = Instant::now();
        work()?;
        least = least.min(started.elapsed().as_secs_f64() * 1e3);
    }
    Ok(least)
}

/// All four.
pub(super) fn growths(adapter: Option<&str>, budget: Budget) -> anyhow::Result<[Growth; 4]> {
    let on = |frame| {
        SubjectOptions::built_in("all-hands").anew().on(adapter.map(str::to_owned)).at(0.1, frame).open(frame)
    };
    let mut subject = on(Frame { width: 160, height: 90 })?;
    let is_software = subject.renderer.gpu().is_software();
    Ok([
        with_effects(&mut subject, if is_software { 7 } else { 8 }, budget)?,
        with_size(on, if is_software { 1080 } else { 2160 }, budget)?,
        with_pieces(&mut on(Frame { width: 320, height: 180 })?, budget)?,
        with_frames(&mut on(Frame { width: 320, height: 180 })?)?,
    ])
}

/// A chain of that many effects is explored whole: n! orders, of which each class that can differ is rendered (Stanley 1973
/// counts them), each partial chain once; of orders without any proof there are e times n!.
fn with_effects(subject: &mut Subject, most: usize, budget: Budget) -> anyhow::Result<Growth> {
    let limits = LookLimits::default();
    let mut points = Vec::new();
    for effects in 3..=most {
        let chain = CHAIN[..effects].iter();
        let chain = chain.map(|name| Ok(EffectUse::new(Arc::clone(subject.catalogue.effect(name)?))));
        let chain = chain.collect::<anyhow::Result<Vec<EffectUse>>>()?;
        let footage = FootageName::Generated("harbour".to_owned());
        let path = Path::of_chain(&chain, &footage, Fit::Whole, subject.path.moment, &mut subject.shelf)?;
        let renderer = &mut subject.renderer;
        let orders = Orders::of(renderer, &path)?;
        let [classes, passes] = [orders.classes.len(), orders.tree().passes()];
        let ms = timed(|| {
            let orders = Orders::of(renderer, &path)?;
            orders.explored(renderer, &path, Want::Figures, limits, budget, |_| {})?;
            explore::parts(renderer, &path, limits)?;
            Ok(())
        })?;
        let all: usize = (1..=effects).product();
        let what = format!("{effects} effects: {all} orders, {classes} can differ, {passes} partial chains");
        points.push(Point { what, work: passes as f64, ms });
    }
    Ok(Growth::of("effects", "partial chains", points))
}

fn with_size(
    on: impl Fn(Frame) -> anyhow::Result<Subject>,
    most: u32,
    budget: Budget,
) -> anyhow::Result<Growth> {
    let mut points = Vec::new();
    for height in [180, 360, 720, 1080, 2160].into_iter().filter(|&height| height <= most) {
        let frame = Frame { width: height * 16 / 9, height };
        let mut subject = on(frame)?;
        let Subject { renderer, path, .. } = &mut subject;
        let limits = LookLimits::default();
        let ms = timed(|| {
            let orders = Orders::of(renderer, path)?;
            orders.explored(renderer, path, Want::Figures, limits, budget, |_| {})?;
            Ok(())
        })?;
        points.push(Point { what: format!("five effects at {frame}"), work: frame.texels() as f64, ms });
    }
    Ok(Growth::of("the size of the picture", "texels", points))
}

fn with_pieces(subject: &mut Subject, budget: Budget) -> anyhow::Result<Growth> {
    let limits = LookLimits::default();
    let sources: Vec<String> = subject.catalogue.sources().iter().map(|source| source.name.clone()).collect();
    let mut points = Vec::new();
    for pieces in [1, 2, 4, 8] {
        let Subject { path, shelf, renderer, .. } = &mut *subject;
        let mut frames = Vec::with_capacity(pieces);
        for source in sources.iter().cycle().take(pieces) {
            let footage = FootageName::Generated(source.clone());
            let path = Path::of_chain(&path.chain, &footage, Fit::Whole, path.moment, shelf)?;
            frames.push(Frames::Moment(Box::new(path)));
        }
        let ms = timed(|| {
            let mut together =
                PieceByPiece::begun(renderer, &frames[0], pieces, &Extent::default(), limits, budget)?;
            for (frames, source) in frames.iter().zip(sources.iter().cycle()) {
                together.add(renderer, source.clone(), frames, |_| {})?;
            }
            together.gathered(renderer, |_| {})?;
            Ok(())
        })?;
        points.push(Point { what: format!("{pieces} pieces of footage"), work: pieces as f64, ms });
    }
    Ok(Growth::of("pieces of footage", "pieces", points))
}

fn with_frames(subject: &mut Subject) -> anyhow::Result<Growth> {
    let Subject { path, shelf, renderer, .. } = subject;
    let footage = FootageName::Generated("harbour".to_owned());
    let order: Vec<usize> = (0..path.chain.len()).collect();
    let mut points = Vec::new();
    for frames in [15_u64, 30, 60, 120] {
        let ms = timed(|| {
            let mut player = Player::default();
            for number in 0..frames {
                let moment: Moment = path.moment.after(number);
                let next = Path::of_chain(&path.chain, &footage, Fit::Whole, moment, shelf)?;
                let underway = renderer.begin_several(&mut player, &[next], &order)?;
                renderer.finish(underway)?;
            }
            Ok(())
        })?;
        points.push(Point { what: format!("{frames} frames, one by one"), work: frames as f64, ms });
    }
    Ok(Growth::of("frames", "frames", points))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_exponent_of_a_power_is_found_however_much_one_unit_of_it_costs() {
        for power in [0.5, 1.0, 2.0] {
            let point = |work: f64| Point { what: String::new(), work, ms: 3.7 * work.powf(power) };
            let growth = Growth::of("effects", "passes", [3.0, 10.0, 50.0, 400.0].map(point).into());
            assert!((growth.exponent - power).abs() < 1e-9, "{growth}");
        }
    }
}
