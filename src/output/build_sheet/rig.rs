//! What a rig is set up from before any effect: bundles, levels and clips as they lie, sections, and what hands play.

use image::RgbaImage;

use crate::base::coding::ColourCode;
use crate::hands::{Address, Map, MapControl};
use crate::output::sections::SectionLines;
use crate::show::clip::{AtEnd, Fit, Pace, Play};
use crate::show::{Clip, Mix, Scope, Show};

/// One thing to set up, in words.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Part {
    /// What it is, with what is set of it.
    pub heading: String,
    pub lines: Vec<String>,
    /// The colour by which the person tells it.
    pub colour: Option<ColourCode>,
    /// What it looks like.
    pub picture: Option<RgbaImage>,
}

impl Part {
    /// A section of the set.
    pub(super) fn of_section(section: SectionLines, show: &Show, at: usize) -> Self {
        let SectionLines { heading, lines } = section;
        Self { heading, lines, colour: show.sections[at].colour, picture: None }
    }
}

/// Every bundle and level with its clips, from the top down, as they lie over each other.
pub(super) fn levels(show: &Show) -> Vec<Part> {
    let mut parts = Vec::new();
    for (b, bundle) in show.bundles.iter().enumerate().rev() {
        parts.push(Part {
            heading: show.address(Scope::Bundle(b)),
            lines: vec![laid(bundle.mix, bundle.hidden)],
            colour: bundle.colour,
            picture: None,
        });
        for (l, level) in bundle.levels.iter().enumerate().rev() {
            let clips = level.clips.iter().enumerate().map(|(at, clip)| {
                let shows = if at == level.showing && !level.hidden { "shows " } else { "" };
                format!("{shows}{}", clip_said(clip))
            });
            parts.push(Part {
                heading: show.address(Scope::Level(b, l)),
                lines: std::iter::once(laid(level.mix, level.hidden)).chain(clips).collect(),
                colour: level.colour,
                picture: None,
            });
        }
    }
    parts
}

/// "screen, opacity 40 %".
fn laid(mix: Mix, hidden: bool) -> String {
    let per_cent = (mix.opacity * 1000.0).round() / 10.0;
    let hidden = if hidden { ", hidden" } else { "" };
    format!("{}, opacity {per_cent} %{hidden}", mix.blend.name())
}

/// "waves: generated:waves, contained".
fn clip_said(clip: &Clip) -> String {
    let mut said = format!("{}: {}", clip.name, clip.footage);
    if clip.fit != Fit::default() {
        said += &format!(", {}", clip.fit.name());
    }
    said += &played_said(&clip.play);
    if clip.hidden {
        said += ", hidden";
    }
    said
}

/// ", in 8 beats, from 2 s to 6 s, then hold": only what is not as the footage comes.
fn played_said(play: &Play) -> String {
    let mut said = match play.pace {
        Pace::Speed(1.0) => String::new(),
        Pace::Speed(speed) => format!(", {speed} times as fast"),
        Pace::LoopBeats(beats) => format!(", in {beats} beats"),
    };
    match (play.in_secs, play.out_secs) {
        (0.0, None) => {}
        (from, None) => said += &format!(", from {from} s"),
        (from, Some(to)) => said += &format!(", from {from} s to {to} s"),
    }
    if play.at_end != AtEnd::default() {
        said += &format!(", then {}", play.at_end.name());
    }
    said
}

/// What hands play.
pub(super) fn controls(show: &Show) -> Vec<Part> {
    Map::of(show).control.into_iter().map(control).collect()
}

/// "bundle:picture tint: amount", "level:picture/sea: opacity", "section".
fn of(address: &Address) -> String {
    let whose: Vec<&str> =
        [&address.scope, &address.effect].into_iter().flatten().map(String::as_str).collect();
    match whose.is_empty() {
        true => address.setting.clone(),
        false => format!("{}: {}", whose.join(" "), address.setting),
    }
}

fn control(control: MapControl) -> Part {
    let MapControl { name, colour, hand, kind, key, midi, cue, moves, fires, .. } = control;
    let key = key.map(|key| format!("key {key}"));
    let played: Vec<String> = key.into_iter().chain(midi).chain(cue).collect();
    let moved = moves.iter().map(|moved| format!("{} {}", of(&moved.address), moved.range_said()));
    let fired = fires.iter().map(|fired| format!("fires {}", of(fired)));
    let lines = (!played.is_empty()).then(|| played.join("; ")).into_iter().chain(moved).chain(fired);
    Part { heading: format!("{name}: {kind}, {hand} hand"), lines: lines.collect(), colour, picture: None }
}
