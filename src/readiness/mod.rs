//! Whether a show is ready to be played: what would fail it, what is worth a look, and what to do.

pub mod caution;
pub mod cost;
mod counts;
pub mod flashing;
mod sections;
mod seen;

pub use counts::{Counts, plays_alike};
pub use sections::of_sections;
pub use seen::of_controls;

use serde::Serialize;

use crate::base::doing::doing_counted;
use crate::base::place::capital;
use crate::beat::Moment;
use crate::footage::{Shelf, Shown};
use crate::gpu::Renderer;
use crate::hands::Map;
use crate::measure::FlashReport;
use crate::show::chain::labels;
use crate::show::clip::FootageName;
use crate::show::{Scope, Show};
use cost::Cost;
use flashing::{Doing, Flashing, Watch};

/// Names of bundles that hold signs, whatever their footage.
const SIGNS: [&str; 4] = ["signs", "sign", "logos", "logo"];
/// Which bundles are taken to hold signs, as the person is told.
const SIGNS_RULE: &str =
    "a bundle counts as signs where it is named signs or logos, or where all its showing footage has alpha";
/// Beats over which an effect must be idle to be told, and how finely they are looked at.
const IDLE_OVER_BEATS: u32 = 64;
const IDLE_STEPS_A_BEAT: u32 = 16;
/// Above this share of a frame's time a slow moment may drop a frame (common practice, no source).
const TIGHT: f64 = 0.7;

/// How much a point matters, the worst first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Weight {
    /// The show would fail.
    Fails,
    /// Worth a look before the show.
    LookAgain,
    /// As it should be.
    Right,
}

/// One thing found.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Point {
    /// How much it matters.
    pub weight: Weight,
    /// What was looked at: `footage`, `hidden`, `idle`, `signs`, `clips`, `hands`, `flashes`, `cost`, `sections`.
    pub about: &'static str,
    /// Where: a scope's address, a section, or nothing for the whole show.
    pub place: Option<String>,
    /// What was found: a sentence.
    pub found: String,
    /// What to do; nothing where it is right.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub todo: Option<String>,
}

impl Point {
    fn new(weight: Weight, about: &'static str, place: Option<String>, found: String, todo: &str) -> Self {
        let todo = (!todo.is_empty()).then(|| todo.to_owned());
        Self { weight, about, place, found, todo }
    }
}

/// Everything that is found of a show, the worst first. `tell` is told how far the counting of flashes has come,
/// which takes longest.
pub fn of(
    renderer: &mut Renderer,
    shelf: &mut Shelf,
    show: &Show,
    counts: &mut Counts,
    tell: impl FnMut(&Doing<'_>),
) -> Vec<Point> {
    let (mut points, has_alpha) = footage(shelf, show);
    let is_playable = points.is_empty();
    if is_playable {
        points.push(right("footage", "Every clip's footage is there and was read at beat 0."));
    }
    points.extend(hidden(show));
    points.extend(idle(show));
    points.extend(signs(show, &has_alpha));
    points.extend(hands(show));
    if show.sections.is_empty() {
        points.extend(seen::unused(show));
    }
    if is_playable {
        let watch = Watch::of(show);
        match counts.flashes(renderer, shelf, show, &watch, tell) {
            Ok(found) => points.extend(flashes(&found, show)),
            Err(error) => points.push(Point::new(
                Weight::Fails,
                "flashes",
                None,
                format!("Flashes were not counted: {error}"),
                "Mend that and check again.",
            )),
        }
        points.push(match counts.cost(renderer, shelf, show) {
            Ok(measured) => cost(&measured),
            Err(error) => Point::new(
                Weight::Fails,
                "cost",
                None,
                format!("The show was not played: {error}"),
                "Mend that and check again.",
            ),
        });
    }
    sorted(points)
}

/// Points of several kinds, the worst first.
#[must_use]
pub fn sorted(mut points: Vec<Point>) -> Vec<Point> {
    points.sort_by_key(|point| point.weight);
    points
}

/// The points in words, the worst first.
pub fn points_said(points: &[Point]) -> String {
    let mut text = String::new();
    let mut weight = None;
    for point in points {
        if weight != Some(point.weight) {
            weight = Some(point.weight);
            text += match point.weight {
                Weight::Fails => "\nWould fail the show\n",
                Weight::LookAgain => "\nLook again\n",
                Weight::Right => "\nFine\n",
            };
        }
        let sign = match point.weight {
            Weight::Fails => "!",
            Weight::LookAgain => "?",
            Weight::Right => "\u{2713}",
        };
        let place = point.place.as_ref().map(|place| format!("{place}: ")).unwrap_or_default();
        text += &format!("  {sign} {:<8} {place}{}\n", point.about, point.found);
        if let Some(todo) = &point.todo {
            text += &format!("             do: {todo}\n");
        }
    }
    text
}

fn right(about: &'static str, found: &str) -> Point {
    Point::new(Weight::Right, about, None, found.to_owned(), "")
}

/// Footage that cannot be shown, and for each bundle whether all that shows in it has alpha.
fn footage(shelf: &mut Shelf, show: &Show) -> (Vec<Point>, Vec<bool>) {
    let start = Moment::of_frame(show.frame, show.pixels, show.tempo_bpm, show.rate, 0);
    let clips = show.bundles.iter().flat_map(|bundle| &bundle.levels).map(|level| level.clips.len()).sum();
    let reading = doing_counted("reading footage", "clips", clips);
    let mut read = 0;
    let mut points = Vec::new();
    let mut has_alpha = Vec::new();
    for (b, bundle) in show.bundles.iter().enumerate() {
        let mut is_cut_out = true;
        for (l, level) in bundle.levels.iter().enumerate() {
            for (c, clip) in level.clips.iter().enumerate() {
                reading.done(read);
                read += 1;
                let shown = shelf.shown(&clip.footage, clip.fit, &clip.play, &start);
                let is_opaque = match &shown {
                    Ok(Shown::Pixels(picture)) => picture.opaque,
                    Ok(Shown::Generated { opaque, .. }) => *opaque,
                    Ok(Shown::Nothing) | Err(_) => true,
                };
                is_cut_out &= c != level.showing || !is_opaque;
                let shows = show.shows(Scope::Clip(b, l, c));
                let place = || Some(show.address(Scope::Clip(b, l, c)));
                if matches!(clip.footage, FootageName::StandIn(..)) {
                    let found = format!("{} still stands in for footage.", clip.footage);
                    let todo = "Give the clip its footage, or remove the clip.";
                    points.push(Point::new(Weight::Fails, "footage", place(), found, todo));
                }
                let Err(error) = shown else { continue };
                let todo = if shows {
                    "Put the file back where the show looks for it, or name another."
                } else {
                    "It does not show now, but fails as soon as it does: put the file back, or remove the clip."
                };
                points.push(Point::new(Weight::Fails, "footage", place(), capital(&error.to_string()), todo));
            }
        }
        has_alpha.push(is_cut_out);
    }
    (points, has_alpha)
}

/// What nobody will see, as it is hidden.
fn hidden(show: &Show) -> Vec<Point> {
    let point = |scope| {
        Point::new(
            Weight::LookAgain,
            "hidden",
            Some(show.address(scope)),
            "It is hidden: the audience sees nothing of it.".to_owned(),
            "Show it (its eye in the window's structure, or `underover edit set`), or remove it.",
        )
    };
    let points: Vec<Point> = show.hidden().into_iter().map(point).collect();
    if points.is_empty() { vec![right("hidden", "Nothing is hidden.")] } else { points }
}

/// Effects that change nothing at their settings, at every moment looked at.
fn idle(show: &Show) -> Vec<Point> {
    let moment = |step: u32| {
        let beats = f64::from(step) / f64::from(IDLE_STEPS_A_BEAT);
        Moment::at(show.frame, show.pixels, show.tempo_bpm, beats)
    };
    let moments: Vec<Moment> = (0..IDLE_OVER_BEATS * IDLE_STEPS_A_BEAT).map(moment).collect();
    let mut points = Vec::new();
    for scope in show.scopes() {
        let chain = show.chain(scope);
        let names = labels(chain);
        for (used, name) in chain.iter().zip(&names) {
            // What a control moves is idle only until it is played.
            if used.controls().next().is_some() {
                continue;
            }
            let Some(because) = moments.first().and_then(|moment| used.idle_because(moment)) else {
                continue;
            };
            if !moments.iter().all(|moment| used.idle_because(moment).is_some()) {
                continue;
            }
            points.push(Point::new(
                Weight::LookAgain,
                "idle",
                Some(show.address(scope)),
                format!("{name} changes nothing: {because}."),
                "Set it so that it is seen, or remove it.",
            ));
        }
    }
    if points.is_empty() {
        points.push(right("idle", "Every effect can change the picture."));
    }
    points
}

/// Effects that reach a bundle of signs.
fn signs(show: &Show, has_alpha: &[bool]) -> Vec<Point> {
    let are_signs = |b: &usize| {
        let name = show.bundles[*b].name.to_lowercase();
        SIGNS.contains(&name.as_str()) || has_alpha.get(*b).copied().unwrap_or(false)
    };
    let bundles: Vec<usize> = (0..show.bundles.len()).filter(are_signs).collect();
    let mut points = Vec::new();
    for &b in &bundles {
        let inside = |scope: &Scope| match scope {
            Scope::Global => true,
            Scope::Bundle(at) | Scope::Level(at, _) | Scope::Clip(at, _, _) => *at == b,
        };
        for scope in show.scopes().into_iter().filter(inside) {
            let chain = show.chain(scope);
            let names = labels(chain);
            let on: Vec<&str> =
                chain.iter().zip(&names).filter(|(used, _)| used.on).map(|(_, name)| name.as_str()).collect();
            if on.is_empty() {
                continue;
            }
            let todo = if scope == Scope::Global {
                "Move them to the bundles below, so that the signs stay clean, or leave them on purpose."
            } else {
                "Remove them, or leave them on purpose."
            };
            points.push(Point::new(
                Weight::LookAgain,
                "signs",
                Some(show.address(scope)),
                format!(
                    "{} {} the signs on bundle:{} ({SIGNS_RULE}).",
                    on.join(", "),
                    if on.len() == 1 { "touches" } else { "touch" },
                    show.bundles[b].name
                ),
                todo,
            ));
        }
    }
    if points.is_empty() {
        let found = if bundles.is_empty() {
            format!("No bundle holds signs: {SIGNS_RULE}.")
        } else {
            "No effect touches the signs.".to_owned()
        };
        points.push(right("signs", &found));
    }
    points
}

/// What two hands cannot do, and settings that wait for a control which is not there.
fn hands(show: &Show) -> Vec<Point> {
    let warnings = Map::of(show).warning;
    if warnings.is_empty() {
        let found = match show.controls.len() {
            0 => "No controls to play.".to_owned(),
            1 => "1 control, within reach of two hands.".to_owned(),
            many => format!("{many} controls, within reach of two hands."),
        };
        return vec![right("hands", &found)];
    }
    let point = |warning: &String| {
        Point::new(
            Weight::LookAgain,
            "hands",
            None,
            format!("{}.", capital(warning).trim_end_matches('.')),
            "Change the control, its hand, its cue or its place (`underover hands` shows them all; `underover edit control`).",
        )
    };
    warnings.iter().map(point).collect()
}

/// What flashes mean for the show: a point for all of it where it is well, otherwise one for each way of playing
/// it that is past a limit.
fn flashes(found: &Flashing, show: &Show) -> Vec<Point> {
    let watch = &found.watch;
    let counted = |report: &FlashReport| {
        let worst = report.worst();
        format!(
            "{} in the worst second of beats 0 to {}, where {} allows 3; no certified test",
            worst.flashes(),
            watch.over_beats,
            worst.limit.source()
        )
    };
    let (_, worst) = found.worst();
    if found.passes() {
        let hands = match found.played.len() {
            0 => "",
            _ => ", with every control played at its worst, too",
        };
        return vec![right("flashes", &format!("Flashes{hands}: {}.", counted(worst)))];
    }
    let mut points = Vec::new();
    let own = (!found.own.passes()).then_some((None, &found.own));
    for (played, report) in
        own.into_iter().chain(found.failing().map(|(played, report)| (Some(played), report)))
    {
        let by = watch.beats_at(report.worst().frame, show.tempo_bpm);
        let with = played.map(|played| format!(" with {played}")).unwrap_or_default();
        let mut words =
            format!("Too many {}{with}: {}; by beat {by:.2}.", report.worst().limit.label(), counted(report));
        let mut todo = "`underover flashes` finds changes that pass; warn the audience in any case.";
        if let (None, Some(alone)) = (played, &found.alone) {
            words += &format!(" The footage alone: {}.", alone.worst().counted_as_flashes());
            if found.is_footage() {
                todo = "The footage flashes by itself: take other footage, play it slower, or lay something darker over it; warn the audience in any case.";
            }
        } else if played.is_some() {
            todo = "Bring down what that control holds, or its end; `underover flashes` finds changes that pass.";
        }
        points.push(Point::new(Weight::Fails, "flashes", None, words, todo));
    }
    points
}

/// What the measured cost means for the show.
fn cost(cost: &Cost) -> Point {
    let found = format!("{cost}, on {}.", cost.adapter);
    match cost.share() {
        share if share > 1.0 => Point::new(
            Weight::Fails,
            "cost",
            None,
            found,
            "Play a smaller frame or a lower rate, remove effects, or use a faster adapter (--adapter).",
        ),
        share if share > TIGHT => Point::new(
            Weight::LookAgain,
            "cost",
            None,
            found,
            "Leave room: a slow moment drops a frame. A smaller frame or fewer effects help.",
        ),
        _ => right("cost", &found),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::frame::Frame;

    fn cost_of(median_ms: f64) -> Point {
        cost(&Cost {
            frame: Frame { width: 16, height: 9 },
            frames: 25,
            median_ms,
            most_ms: median_ms,
            budget_ms: 16.0,
            adapter: "some".to_owned(),
        })
    }

    #[test]
    fn a_frame_that_takes_longer_than_its_time_fails_the_show() {
        assert_eq!(cost_of(16.1).weight, Weight::Fails);
        assert_eq!(cost_of(15.0).weight, Weight::LookAgain);
        assert_eq!(cost_of(5.0).weight, Weight::Right);
    }

    #[test]
    fn the_worst_is_said_first_and_says_what_to_do() {
        let mut points = vec![right("idle", "fine."), cost_of(20.0), cost_of(14.0)];
        points.sort_by_key(|point| point.weight);
        let text = points_said(&points);
        let at = |word: &str| text.find(word).unwrap();
        assert!(at("Would fail the show") < at("Look again") && at("Look again") < at("Fine"));
        assert!(text.contains("do: Play a smaller frame"));
    }
}
