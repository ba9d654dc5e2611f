//! What the sections of a show mean for the night: what nobody comes to, what never shows, what flashes where.

use super::cost::Cost;
use super::flashing::{self, Doing, Watch};
use super::seen::is_gripped;
use super::{Counts, Point, Weight, cost, flashes, right};
use crate::footage::Shelf;
use crate::gpu::Renderer;
use crate::plan::Running;
use crate::show::running::Standing;
use crate::show::{Scope, Show};

/// What is found of a show's sections. `stands` are sections with the show as it stands in each; `running` the running
/// order, where there is one. `tell` is told how far the counting of flashes has come.
pub fn of_sections(
    renderer: &mut Renderer,
    shelf: &mut Shelf,
    show: &Show,
    stands: &[(usize, Show)],
    running: Option<&Running>,
    counts: &mut Counts,
    mut tell: impl FnMut(&Doing<'_>),
) -> Vec<Point> {
    if show.sections.is_empty() {
        return Vec::new();
    }
    let mut points = reach(show);
    if points.is_empty() {
        points.push(right("sections", "Every section is come to, and every clip shows in one."));
    }
    let mut costs: Vec<(usize, Cost)> = Vec::new();
    for (nth, (section, stands)) in stands.iter().enumerate() {
        let name = &show.sections[*section].name;
        let of_all = format!("section {} of {}, {name}", nth + 1, show.sections.len());
        let place = Some(format!("section {name}"));
        let failed = |about: &'static str, error: &dyn std::fmt::Display| {
            let found = format!("It was not looked at: {error}");
            Point::new(Weight::Fails, about, place.clone(), found, "Mend that and check again.")
        };
        let counted = counts.flashes(renderer, shelf, stands, &Watch::of(stands), |doing| {
            tell(&Doing { what: &format!("{of_all}: {}", doing.what), ..*doing });
        });
        match counted {
            Ok(found) => points.extend(
                flashes(&found, stands).into_iter().map(|point| Point { place: place.clone(), ..point }),
            ),
            Err(error) => points.push(failed("flashes", &error)),
        }
        match counts.cost(renderer, shelf, stands) {
            Ok(measured) => {
                if measured.share() > super::TIGHT {
                    points.push(Point { place: place.clone(), ..cost(&measured) });
                }
                costs.push((*section, measured));
            }
            Err(error) => points.push(failed("cost", &error)),
        }
    }
    if let Some(running) = running {
        points.extend(of_fades(show, running, &costs));
        points.extend(along(renderer, shelf, show, running, tell));
    }
    points
}

/// Sections that nobody comes to, clips that never show, and clips that a section shows where nobody sees them.
fn reach(show: &Show) -> Vec<Point> {
    let mut points = Vec::new();
    for section in show.unreached_sections() {
        points.push(Point::new(
            Weight::LookAgain,
            "sections",
            Some(format!("section {}", show.sections[section].name)),
            "The running order never comes to it, and no control calls it.".to_owned(),
            "Put it into the running order (`underover edit running-order`), let a control call it, or remove it.",
        ));
    }
    let reached = |section: &usize| show.running_order.is_empty() || show.running_order.contains(section);
    let sections: Vec<usize> = (0..show.sections.len()).filter(reached).collect();
    for (b, bundle) in show.bundles.iter().enumerate() {
        for (l, level) in bundle.levels.iter().enumerate() {
            let shows_own = |section: &usize| !show.sections[*section].shows.contains_key(&[b, l]);
            // Without a running order the show is met as it stands, too.
            let stays = show.running_order.is_empty() || sections.iter().any(shows_own);
            for c in 0..level.clips.len() {
                let is_shown = |section: &usize| show.sections[*section].shows.get(&[b, l]) == Some(&Some(c));
                let own = stays && level.showing == c;
                if !own && !sections.iter().any(is_shown) && !is_gripped(show, [b, l], c) {
                    points.push(Point::new(
                        Weight::LookAgain,
                        "sections",
                        Some(show.address(Scope::Clip(b, l, c))),
                        "No section and no control shows this clip.".to_owned(),
                        "Let a section or a control show it, or remove it; one that is brought in by hand may stay.",
                    ));
                }
            }
            if bundle.hidden
                && sections
                    .iter()
                    .any(|section| matches!(show.sections[*section].shows.get(&[b, l]), Some(Some(_))))
            {
                points.push(Point::new(
                    Weight::LookAgain,
                    "sections",
                    Some(show.address(Scope::Level(b, l))),
                    format!("A section shows a clip here, and bundle:{} is hidden.", bundle.name),
                    "Hide it no longer, and let the sections say which of its levels show nothing.",
                ));
            }
        }
    }
    points
}

/// Fades that may take longer to render than a frame lasts, as both sides of them are rendered.
fn of_fades(show: &Show, running: &Running, costs: &[(usize, Cost)]) -> Vec<Point> {
    let cost_of = |section: usize| costs.iter().find(|(known, _)| *known == section).map(|(_, cost)| cost);
    let mut points: Vec<Point> = Vec::new();
    for pair in running.order().legs.windows(2).filter(|pair| pair[1].fade > 0.0) {
        let (Some(from), Some(to)) = (cost_of(pair[0].section), cost_of(pair[1].section)) else { continue };
        let together = from.median_ms + to.median_ms;
        let name = |leg: usize| &show.sections[pair[leg].section].name;
        let place = Some(format!("section {}", name(1)));
        if together > to.budget_ms && !points.iter().any(|point| point.place == place) {
            points.push(Point::new(
                Weight::LookAgain,
                "cost",
                place,
                format!(
                    "While it takes over from {}, both are rendered: about {together:.1} ms a frame, where the rate gives {:.1} ms.",
                    name(0),
                    to.budget_ms
                ),
                "Cut (`fade = 0.0`), play a smaller frame or a lower rate.",
            ));
        }
    }
    points
}

/// What the running order flashes as a whole.
fn along(
    renderer: &mut Renderer,
    shelf: &mut Shelf,
    show: &Show,
    running: &Running,
    mut tell: impl FnMut(&Doing<'_>),
) -> Option<Point> {
    let watch = Watch { over_beats: running.order().beats(), ..Watch::of(show) };
    let total = watch.frames(show.tempo_bpm);
    let what = "counting flashes of the running order";
    let counted = flashing::counted_along(renderer, shelf, running, &watch, |so_far| {
        tell(&Doing { what, unit: "frames", done: so_far.frames, total });
        true
    });
    let (watch, report) = match counted {
        Ok(counted) => counted?,
        Err(error) => {
            let found = format!("The running order was not looked at: {error}");
            return Some(Point::new(Weight::Fails, "flashes", None, found, "Mend that and check again."));
        }
    };
    let worst = report.worst();
    let said = format!(
        "{} in the worst second of beats 0 to {} with all cuts and fades, where {} allows 3; no certified test",
        worst.flashes(),
        watch.over_beats,
        worst.limit.source()
    );
    if report.passes() {
        return Some(right("flashes", &format!("Along the running order: {said}.")));
    }
    let by = watch.beats_at(worst.frame, show.tempo_bpm);
    let name = |leg: usize| &show.sections[running.order().legs[leg].section].name;
    let place = match running.order().at(by) {
        Standing::Alone(leg) => format!("section {}", name(leg)),
        Standing::Coming(leg, _) => format!("section {} as it takes over from {}", name(leg), name(leg - 1)),
    };
    Some(Point::new(
        Weight::Fails,
        "flashes",
        Some(place),
        format!("Too many {} along the running order: {said}; by beat {by:.2}.", worst.limit.label()),
        "Fade where it cuts, or count that section alone (`underover flashes --section`).",
    ))
}
