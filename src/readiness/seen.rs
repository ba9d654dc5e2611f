//! Whether what hands play is seen: the output with each control at both its ends.

use super::{Point, Weight, right};
use crate::base::doing::doing_counted;
use crate::beat::{Beats, Moment};
use crate::footage::Shelf;
use crate::gpu::{RenderError, Renderer};
use crate::hands::Hands;
use crate::measure::HARDLY;
use crate::plan::Path;
use crate::show::control::{Control, ControlKind};
use crate::show::{Scope, Show, Target};

/// Beats at which the output is looked at, and how long before a control that fires an envelope is played.
const BEATS: [f64; 6] = [0.125, 1.25, 2.5, 3.75, 8.25, 16.625];
const FIRED_BEFORE: [f64; 4] = [0.0, 0.125, 0.5, 1.0];

/// Controls that hardly show: between both ends the output differs, at the beats looked at, by a mean CIEDE2000 below
/// [`HARDLY`]. `shows` are the show and, where it has sections, how it stands in each.
///
/// # Errors
/// [`RenderError`] where footage or the GPU fails.
pub fn of_controls(
    renderer: &mut Renderer,
    shelf: &mut Shelf,
    shows: &[&Show],
) -> Result<Vec<Point>, RenderError> {
    let Some(show) = shows.first() else { return Ok(Vec::new()) };
    // What moves nothing is told by the map, and a section that is called is another picture altogether.
    let moves = |control: &&Control| {
        let fires = show
            .scopes()
            .into_iter()
            .any(|scope| show.chain(scope).iter().any(|used| used.controls().any(|by| by == control.name)));
        fires || show.grips(&control.name).any(|(target, _)| target != Target::Section)
    };
    let controls: Vec<&Control> = show.controls.iter().filter(moves).collect();
    let looking = doing_counted("looking at controls", "controls", controls.len());
    let mut points = Vec::new();
    for (nth, control) in controls.iter().enumerate() {
        looking.done(nth);
        let most = most_apart(renderer, shelf, shows, control)?;
        if most >= HARDLY {
            continue;
        }
        let ends = match control.kind {
            ControlKind::Continuous => "at both its ends",
            ControlKind::Momentary | ControlKind::Latching => "pressed and let go",
        };
        let everywhere = if shows.len() > 1 { ", in every section" } else { "" };
        points.push(Point::new(
            Weight::LookAgain,
            "hands",
            None,
            format!(
                "\"{}\" hardly shows: {ends} the output differs by a mean CIEDE2000 of {most:.2} at most, where {HARDLY} begins to be seen (at {} beats{everywhere}).",
                control.name,
                BEATS.len()
            ),
            "Let it move more, or something that shows by then, or take it out.",
        ));
    }
    if points.is_empty() && !controls.is_empty() {
        points.push(right("hands", "Every control is seen when it is played."));
    }
    Ok(points)
}

/// How far the output with a control at both its ends is apart at the most; once it is seen, no further is looked.
fn most_apart(
    renderer: &mut Renderer,
    shelf: &mut Shelf,
    shows: &[&Show],
    control: &Control,
) -> Result<f64, RenderError> {
    let mut most = 0.0_f64;
    for show in shows {
        let fires = show
            .scopes()
            .into_iter()
            .any(|scope| show.chain(scope).iter().any(|used| used.fires(&control.name)));
        let before: &[f64] = if fires { &FIRED_BEFORE } else { &FIRED_BEFORE[..1] };
        for beats in BEATS {
            for before in before {
                let played = |position: f64| {
                    let mut hands = Hands::default();
                    match control.kind {
                        ControlKind::Continuous => hands.turn(show, control, position, beats - before),
                        _ if position > 0.5 => hands.press(show, control, 1.0, beats - before),
                        _ => {}
                    }
                    hands.applied(show)
                };
                let shows = [0.0, 1.0].map(played);
                if shows[0] == shows[1] {
                    continue;
                }
                let moment = Moment::at_beats(
                    show.frame,
                    show.pixels,
                    show.tempo_bpm,
                    show.rate,
                    &Beats::of_decimal(beats),
                );
                let mut pictures = Vec::new();
                for show in &shows {
                    let path = Path::of_scope(show, Scope::Global, moment, shelf)?;
                    let order: Vec<usize> = (0..path.chain.len()).collect();
                    pictures.push(renderer.picture(&path, &order)?);
                }
                most = most.max(renderer.difference(&pictures[0], &pictures[1])?.mean);
                if most >= HARDLY {
                    return Ok(most);
                }
            }
        }
    }
    Ok(most)
}

/// Clips that neither stand, nor are shown by a section or by a control.
pub(super) fn unused(show: &Show) -> Vec<Point> {
    let mut points = Vec::new();
    for scope in show.scopes() {
        let Scope::Level(b, l) = scope else { continue };
        let level = &show.bundles[b].levels[l];
        let is_used = |&clip: &usize| {
            level.showing == clip
                || show.sections.iter().any(|one| one.shows.get(&[b, l]) == Some(&Some(clip)))
        };
        let idle = (0..level.clips.len()).filter(|clip| !is_used(clip) && !is_gripped(show, [b, l], *clip));
        let idle: Vec<&str> = idle.map(|clip| level.clips[clip].name.as_str()).collect();
        if !idle.is_empty() {
            points.push(Point::new(
                Weight::LookAgain,
                "clips",
                Some(show.address(scope)),
                format!("Nothing shows {}: no section and no control.", idle.join(", ")),
                "Let a control or a section show it, or remove it; what you bring in by hand may stay.",
            ));
        }
    }
    if points.is_empty() {
        points.push(right("clips", "Every clip stands, or is shown by a section or a control."));
    }
    points
}

/// Whether a control shows this clip of a level, at an end or on the way.
pub(super) fn is_gripped(show: &Show, level: [usize; 2], clip: usize) -> bool {
    show.grips_on(Target::Showing(level)).into_iter().any(|grip| {
        let ends = [&grip.low, &grip.high].map(|end| end.as_number().unwrap_or(-1.0));
        (ends[0].min(ends[1])..=ends[0].max(ends[1])).contains(&(clip as f64))
    })
}
