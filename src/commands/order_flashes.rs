//! What every order of a chain flashes.

use super::progress::Progress;
use super::subject::Subject;
use crate::edit::Edit;
use crate::explore::Exploration;
use crate::measure::{FlashReport, Limit};
use crate::readiness::flashing;
use crate::readiness::flashing::Watch;

/// Counts what every class flashes; equal pictures at one moment may still flash apart.
pub(super) fn flashes_of_orders(
    subject: &mut Subject,
    explored: &Exploration,
    over_beats: Option<f64>,
) -> anyhow::Result<Vec<FlashReport>> {
    let (show, scope) = subject.whole();
    let mut watch = Watch { from_beats: subject.path.moment.beats, ..Watch::of(&show) };
    watch.over_beats = over_beats.unwrap_or(watch.over_beats);
    let classes = &explored.orders.classes;
    let frames = watch.frames(show.tempo_bpm);
    let mut progress = Progress::named("counting flashes", "frames", classes.len() * frames);
    let mut found = Vec::with_capacity(classes.len());
    for (at, class) in classes.iter().enumerate() {
        let (changed, _) = Edit::Order { scope, order: class.order.clone() }.applied(&show)?;
        let tell = |now: flashing::SoFar| {
            progress.tell(at * frames + now.frames);
            true
        };
        found.push(flashing::counted(&mut subject.renderer, &mut subject.shelf, &changed, &watch, tell)?);
    }
    progress.finished();
    Ok(found)
}

/// "1 flash a second", "4.5 red flashes a second: too many".
pub(super) fn flash_note(report: &FlashReport) -> String {
    let worst = report.worst();
    let is_red = matches!(worst.limit, Limit::Red | Limit::ScreenRed);
    let counted = if is_red { worst.counted() } else { worst.counted_as_flashes() };
    let verdict = if report.passes() { "" } else { ": too many" };
    format!("{counted} a second{verdict}")
}
