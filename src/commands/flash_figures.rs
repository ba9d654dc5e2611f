//! What was counted of flashes, as JSON gives it, and the worst of it.

use serde::Serialize;

use super::figures::SubjectFigures;
use super::opened::Opened;
use super::running::{self, LegFigures};
use super::subject::Subject;
use crate::base::frame::Frame;
use crate::measure::{Finding, FlashReport};
use crate::plan::Running;
use crate::readiness::flashing::{Flashing, Suggestion, Watch};
use crate::show::Show;
use crate::show::running::Standing;

#[derive(Serialize)]
pub(super) struct Report<'a> {
    #[serde(flatten)]
    subject: SubjectFigures<'a>,
    /// The frame that was rendered, and the show's own, where it has one.
    rendered_at: String,
    #[serde(skip_serializing_if = "Option::is_none")]
    own_frame: Option<String>,
    /// The squares that were counted.
    looked_at: String,
    from_beats: f64,
    over_beats: f64,
    frames: usize,
    rate: String,
    /// The show's own rate, where another was asked for.
    #[serde(skip_serializing_if = "Option::is_none")]
    own_rate: Option<String>,
    distance_heights: f64,
    white_cd_m2: f64,
    #[serde(flatten)]
    of_show: Counts<'a>,
    /// The same of the show as it stands in each section.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    sections: Vec<SectionCounts<'a>>,
    /// The running order from its first beat to its last, untouched.
    #[serde(skip_serializing_if = "Option::is_none")]
    running_order: Option<AlongFigures>,
}

#[derive(Serialize)]
struct SectionCounts<'a> {
    section: &'a str,
    #[serde(flatten)]
    of_show: Counts<'a>,
}

#[derive(Serialize)]
struct AlongFigures {
    over_beats: f64,
    frames: usize,
    passes: bool,
    limits: Vec<LimitFigures>,
    /// What stands where.
    order: Vec<LegFigures>,
}

/// What was counted of one show.
#[derive(Serialize)]
struct Counts<'a> {
    /// Whether every limit is kept: as it stands, and however its controls were played.
    passes: bool,
    /// Whether it is as it stands.
    passes_untouched: bool,
    limits: Vec<LimitFigures>,
    controls: Vec<PlayedFigures>,
    /// Where it is past a limit as it stands: with everything switched off that can flash.
    #[serde(skip_serializing_if = "Option::is_none")]
    footage_alone: Option<AloneFigures>,
    /// What takes part in it.
    can_flash: Vec<String>,
    suggestions: Vec<SuggestionFigures<'a>>,
}

#[derive(Serialize)]
struct LimitFigures {
    source: &'static str,
    counts: &'static str,
    area: &'static str,
    passes: bool,
    flashes_in_worst_second: f64,
    /// The end of the first such second.
    at_beats: f64,
    area_share: f64,
    /// Left, top, width and height of what flashes there, in shares of the picture.
    place: Option<[f64; 4]>,
    /// The section in which it ends.
    #[serde(skip_serializing_if = "Option::is_none")]
    section: Option<String>,
    /// Where the second that ends there holds more than three flashes, in beats: first and last.
    failing_beats: Vec<[f64; 2]>,
}

#[derive(Serialize)]
struct PlayedFigures {
    controls: Vec<String>,
    played: String,
    passes: bool,
    flashes_in_worst_second: f64,
    source: &'static str,
    counts: &'static str,
    at_beats: f64,
}

#[derive(Serialize)]
struct AloneFigures {
    passes: bool,
    flashes_in_worst_second: f64,
}

#[derive(Serialize)]
struct SuggestionFigures<'a> {
    kind: &'static str,
    change: &'a str,
    flashes_in_worst_second: f64,
}

/// A show that was counted: as it stands, or in a section.
pub(super) struct Counted {
    pub(super) section: Option<String>,
    pub(super) show: Show,
    pub(super) found: Flashing,
    pub(super) suggestions: Vec<Suggestion>,
}

/// A running order that was counted.
pub(super) struct Along {
    pub(super) show: Show,
    pub(super) running: Running,
    pub(super) watch: Watch,
    pub(super) report: FlashReport,
}

impl Along {
    /// What plays at a beat, in words.
    pub(super) fn place(&self, beats: f64) -> String {
        let order = self.running.order();
        let name = |leg: usize| self.show.sections[order.legs[leg].section].name.as_str();
        match order.at(beats) {
            Standing::Alone(leg) => format!("in {}", name(leg)),
            Standing::Coming(leg, _) => format!("as {} takes over from {}", name(leg), name(leg - 1)),
        }
    }
}

/// The show's own frame, where the one that was looked at is another.
pub(super) fn other_frame(subject: &Subject, report: &FlashReport) -> Option<Frame> {
    match &subject.opened {
        Opened::Show { show, .. } => Some(show.frame).filter(|&frame| frame != report.frame),
        Opened::Chain { .. } => None,
    }
}

/// What takes part in the flashes, as it stands or under hands, as a person names it.
pub(super) fn can_flash(show: &Show, found: &Flashing) -> Vec<String> {
    found.taking_part(show).into_iter().map(|part| part.said(show)).collect()
}

/// The worst of all that was counted, where it is past a limit.
pub(super) fn worst_of(subject: &Subject, all: &[Counted], along: Option<&Along>) -> Option<String> {
    let mut worst: Option<(u32, String)> = None;
    let mut take = |finding: &Finding, at: &str| {
        let said = format!(
            "{}{at}: {} in one second, where {} allows 3",
            subject.name,
            finding.flashes(),
            finding.limit.source()
        );
        if worst.as_ref().is_none_or(|(most, _)| finding.changes > *most) {
            worst = Some((finding.changes, said));
        }
    };
    for Counted { section, found, .. } in all.iter().filter(|counted| !counted.found.passes()) {
        let (played, report) = found.worst();
        let place = section.as_ref().map(|section| format!(", in {section}")).unwrap_or_default();
        let with = played.map(|played| format!(" with {played}")).unwrap_or_default();
        take(report.worst(), &format!("{place}: too many {}{with}", report.worst().limit.label()));
    }
    if let Some(along) = along.filter(|along| !along.report.passes()) {
        let finding = along.report.worst();
        let place = along.place(along.watch.beats_at(finding.frame, along.show.tempo_bpm));
        take(finding, &format!(", along the running order, {place}: too many {}", finding.limit.label()));
    }
    worst.map(|(_, said)| said)
}

fn shortened(share: f64) -> f64 {
    (share * 1e4).round() / 1e4
}

fn beats_at(watch: &Watch, show: &Show, frame: usize) -> f64 {
    (watch.beats_at(frame, show.tempo_bpm) * 1e6).round() / 1e6
}

fn limits(
    report: &FlashReport,
    show: &Show,
    watch: &Watch,
    section: impl Fn(f64) -> Option<String>,
) -> Vec<LimitFigures> {
    let beats = |frame: usize| beats_at(watch, show, frame);
    let share = shortened;
    let limits = report.findings.iter().map(|finding| LimitFigures {
        section: section(beats(finding.frame)),
        source: finding.limit.source(),
        counts: finding.limit.label(),
        area: finding.limit.area(),
        passes: finding.passes(),
        flashes_in_worst_second: finding.flashes(),
        at_beats: beats(finding.frame),
        area_share: share(finding.area_share),
        place: finding.place.map(|at| [at.left, at.top, at.width, at.height].map(share)),
        failing_beats: finding
            .failing
            .iter()
            .map(|range| [beats(*range.start()), beats(*range.end())])
            .collect(),
    });
    limits.collect()
}

fn counts<'a>(show: &Show, found: &Flashing, suggestions: &'a [Suggestion]) -> Counts<'a> {
    let (watch, own) = (&found.watch, &found.own);
    let controls = found.played.iter().map(|(played, report)| {
        let worst = report.worst();
        PlayedFigures {
            controls: played.controls().into_iter().map(str::to_owned).collect(),
            played: played.to_string(),
            passes: report.passes(),
            flashes_in_worst_second: worst.flashes(),
            source: worst.limit.source(),
            counts: worst.limit.label(),
            at_beats: beats_at(watch, show, worst.frame),
        }
    });
    let suggestions = suggestions.iter().map(|suggestion| SuggestionFigures {
        kind: suggestion.kind,
        change: &suggestion.text,
        flashes_in_worst_second: suggestion.report.worst().flashes(),
    });
    Counts {
        passes: found.passes(),
        passes_untouched: own.passes(),
        limits: limits(own, show, watch, |_| None),
        controls: controls.collect(),
        footage_alone: found.alone.as_ref().map(|alone| AloneFigures {
            passes: alone.passes(),
            flashes_in_worst_second: alone.worst().flashes(),
        }),
        can_flash: can_flash(show, found),
        suggestions: suggestions.collect(),
    }
}

pub(super) fn figures<'a>(subject: &'a Subject, all: &'a [Counted], along: Option<&Along>) -> Report<'a> {
    let Counted { show, found, suggestions, .. } = &all[0];
    let (watch, own) = (&found.watch, &found.own);
    let share = shortened;
    let passes = worst_of(subject, all, along).is_none();
    let of = |counted: &'a Counted| {
        let of_show = counts(&counted.show, &counted.found, &counted.suggestions);
        Some(SectionCounts { section: counted.section.as_deref()?, of_show })
    };
    Report {
        of_show: Counts { passes, ..counts(show, found, suggestions) },
        sections: all.iter().filter_map(of).collect(),
        running_order: along.map(|along| AlongFigures {
            over_beats: along.watch.over_beats,
            frames: along.report.frames,
            passes: along.report.passes(),
            limits: limits(&along.report, &along.show, &along.watch, |beats| {
                let leg = along.running.order().legs[along.running.order().at(beats).leg()];
                Some(along.show.sections[leg.section].name.clone())
            }),
            order: running::figures(&along.show, &along.running),
        }),
        subject: SubjectFigures::from(subject),
        rendered_at: own.frame.to_string(),
        own_frame: other_frame(subject, own).map(|frame| frame.to_string()),
        looked_at: own.squares.to_string(),
        from_beats: watch.from_beats,
        over_beats: watch.over_beats,
        frames: own.frames,
        rate: watch.rate.to_string(),
        own_rate: (watch.rate != show.rate).then(|| show.rate.to_string()),
        distance_heights: share(watch.viewing.distance()),
        white_cd_m2: watch.viewing.peak_cd_m2,
    }
}
