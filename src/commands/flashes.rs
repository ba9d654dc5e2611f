//! `underover flashes`: flashing that can harm, counted over a loop.

use std::path::PathBuf;

use clap::Args;
use serde::Serialize;

use super::figures::SubjectFigures;
use super::opened::Opened;
use super::output::{Output, Replace, check_outputs, check_places, figures_output, is_standard_output, say};
use super::subject::{Subject, SubjectOptions};
use crate::base::doing;
use crate::base::frame::Frame;
use crate::beat::FrameRate;
use crate::measure::{Finding, FlashReport, MOST_CHANGES};
use crate::readiness::flashing::{Doing, Flashing, Played, Suggestion, Watch};
use crate::readiness::{caution, flashing};
use crate::show::Show;
use crate::show::chain::labels;

/// The frame of a chain, which has none of its own, where none is named.
pub(super) const FLASHES_CHAIN_FRAME: Frame = Frame { width: 1280, height: 720 };

/// The options of `flashes`.
#[derive(Debug, Args)]
#[command(after_help = "\
A change of relative luminance by a tenth or more is half a flash where the darker state is below 0.80, \
and so is a change to or from a saturated red. More than three flashes in any one second over more than \
a quarter of a 10 degree field are too many (WCAG 2.2); over more than a quarter of the screen, by ITU-R \
BT.1702. Half a flash counts.

Every frame is rendered at the show's own size and counted by the mean light of squares of 0.1 degree or less, \
so that only what WCAG 2.2 exempts, a balanced pattern finer than that, is not seen; noise, and a checkerboard \
that is hardly finer, may be counted all the same. The stretch is counted as a loop: its first second follows \
once more behind its last frame.

Controls are played, too: each at its ends and at its cues, momentary and latching ones pressed 8 times a second, \
continuous ones thrown to and fro between their ends 6 times a second, one by one and together, and those that \
move what flashes all at their worst ends at once. So fast a hand is, from memory and without a source. Where a limit is passed, the footage is \
counted alone, with everything switched off that can flash, or where there is nothing such, that moves.

Exit code: 0 within every limit, 1 a limit is passed or the work failed, 2 the command line was wrong.

Examples:
  underover flashes preset:night-ferry
  underover flashes preset:all-hands --over 8 --rate 30 --json flashes.json
  underover flashes show.toml --distance 4")]
pub(super) struct Flashes {
    #[command(flatten)]
    subject: SubjectOptions,
    /// How many beats are looked at, from --at on
    #[arg(long, value_name = "BEATS", default_value_t = flashing::OVER_BEATS, value_parser = over)]
    over: f64,
    /// Frames a second, such as 60 or 30000/1001; without it those of the show
    #[arg(long, value_name = "FPS")]
    rate: Option<FrameRate>,
    /// How far away the picture is looked at, in picture heights; without it, 10 degrees are a third of
    /// the height (WCAG's 1024x768 screen)
    #[arg(long, value_name = "HEIGHTS", value_parser = distance)]
    distance: Option<f64>,
    /// Luminance of white in cd/m2, for ITU-R BT.1702
    #[arg(long, value_name = "CD/M2", default_value = "200", value_parser = peak)]
    white: f64,
    /// Do not look for changes that pass
    #[arg(long)]
    no_suggestions: bool,
    /// The figures to write (`-` is standard output)
    #[arg(long, value_name = "FILE")]
    json: Option<PathBuf>,
    #[command(flatten)]
    replace: Replace,
}

fn over(text: &str) -> Result<f64, String> {
    within(text, [0.01, 4096.0], "a number of beats from 0.01 to 4096 is wanted, such as 16")
}

fn distance(text: &str) -> Result<f64, String> {
    within(text, [0.25, 100.0], "a distance of 0.25 to 100 picture heights is wanted, such as 3")
}

fn peak(text: &str) -> Result<f64, String> {
    within(text, [1.0, 100_000.0], "a luminance of 1 to 100000 cd/m2 is wanted, such as 200")
}

fn within(text: &str, [low, high]: [f64; 2], wanted: &str) -> Result<f64, String> {
    match text.parse::<f64>() {
        Ok(number) if (low..=high).contains(&number) => Ok(number),
        _ => Err(wanted.to_owned()),
    }
}

#[derive(Serialize)]
struct Report<'a> {
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

impl Flashes {
    pub(super) fn run(&self) -> anyhow::Result<()> {
        let outputs = figures_output(self.json.as_deref(), self.replace);
        check_places(&outputs)?;
        let (show, mut subject) = self.subject.open_whole(FLASHES_CHAIN_FRAME)?;
        check_outputs(&outputs)?;
        let mut watch =
            Watch { from_beats: subject.path.moment.beats, over_beats: self.over, ..Watch::of(&show) };
        watch.rate = self.rate.unwrap_or(watch.rate);
        watch.viewing.peak_cd_m2 = self.white;
        if let Some(heights) = self.distance {
            watch.viewing = watch.viewing.from_distance(heights);
        }
        let mut telling = Telling::default();
        let (renderer, shelf) = (&mut subject.renderer, &mut subject.shelf);
        let found = flashing::looked_over(renderer, shelf, &show, &watch, |doing| telling.tell(doing))?;
        let suggestions = if self.no_suggestions {
            Vec::new()
        } else {
            flashing::suggestions(renderer, shelf, &show, &found, |doing| telling.tell(doing))?
        };
        drop(telling);
        if !self.json.as_deref().is_some_and(is_standard_output) {
            say(&flashing_said(&subject, &show, &found, &suggestions, self.no_suggestions))?;
        }
        if let Some(json) = &self.json {
            Output::figures(json, self.replace).write_json(&figures(
                &subject,
                &show,
                &found,
                &suggestions,
            ))?;
        }
        if found.passes() {
            return Ok(());
        }
        let (played, report) = found.worst();
        let worst = report.worst();
        let with = played.map(|played| format!(" with {played}")).unwrap_or_default();
        anyhow::bail!(
            "{}: too many {}{with}: {} in one second, where {} allows 3",
            subject.name,
            worst.limit.label(),
            worst.flashes(),
            worst.limit.source()
        )
    }
}

/// Says what is being counted and how far that has come.
#[derive(Default)]
pub(super) struct Telling {
    at: Option<(String, doing::Doing)>,
}

impl Telling {
    pub(super) fn tell(&mut self, now: &Doing<'_>) -> bool {
        if self.at.as_ref().is_none_or(|(what, _)| what != now.what) {
            // One ends before the next begins.
            self.at = None;
            self.at = Some((now.what.to_owned(), doing::doing_counted(now.what, now.unit, now.total)));
        }
        if let Some((_, at)) = &self.at {
            at.done(now.done);
        }
        true
    }
}

/// The show's own frame, where the one that was looked at is another.
fn other_frame(subject: &Subject, report: &FlashReport) -> Option<Frame> {
    match &subject.opened {
        Opened::Show { show, .. } => Some(show.frame).filter(|&frame| frame != report.frame),
        Opened::Chain { .. } => None,
    }
}

fn flashing_said(
    subject: &Subject,
    show: &Show,
    found: &Flashing,
    suggestions: &[Suggestion],
    without_suggestions: bool,
) -> String {
    let (watch, own) = (&found.watch, &found.own);
    let tempo = show.tempo_bpm;
    let last = watch.from_beats + watch.over_beats;
    let mut text = format!(
        "{}: beats {} to {} at {tempo} BPM as a loop, {} frames at {} a second, rendered at {}, counted on {} squares from {:.1} picture heights away\n",
        subject.name,
        rounded(watch.from_beats),
        rounded(last),
        own.frames,
        watch.rate,
        own.frame,
        own.squares,
        watch.viewing.distance()
    );
    if let Some(frame) = other_frame(subject, own) {
        text += &format!(
            "  at {}, not at the show's own {frame}: edges and blur are others there, and so may the flashes be\n",
            own.frame
        );
    }
    if watch.rate != show.rate {
        text += &format!(
            "  at {} frames a second, not at the show's own {}: what flashes between two frames is not seen\n",
            watch.rate, show.rate
        );
    }
    for finding in &own.findings {
        text += &line(finding, show, watch, own);
    }
    if !found.played.is_empty() {
        text += "\nThe same with controls played, the worst second of each:\n";
        for (played, report) in &found.played {
            text += &played_line(played, report, show, watch);
        }
    }
    let flashing = can_flash(show, found);
    if !flashing.is_empty() {
        text += &format!("\nWhat can flash here: {}.\n", flashing.join(", "));
    }
    if let Some(alone) = &found.alone {
        let worst = alone.worst();
        text += &format!("\nThe footage alone: {} in the worst second", flashes(worst.flashes()));
        text += if found.is_footage() {
            ": too many without anything that flashes. Take other footage, play it slower, or lay something darker over it.\n"
        } else {
            ".\n"
        };
    }
    if !found.passes() && !found.is_footage() && !without_suggestions {
        if suggestions.is_empty() {
            text += "\nNo single change of those tried passes: make the flashes slower and weaker at once, or hold them.\n";
        } else {
            let controls = if found.failing().next().is_some() {
                ", with the controls played that were too many"
            } else {
                ""
            };
            text += &format!("\nWhat passes, each rendered and counted{controls}:\n");
            for suggestion in suggestions {
                text += &format!(
                    "  {:<15} {} ({} in the worst second)\n",
                    suggestion.kind,
                    suggestion.text,
                    flashes(suggestion.report.worst().flashes())
                );
            }
        }
    }
    text + "\n" + caution::NO_CERTIFICATE + "\n"
}

/// What takes part in the flashes, as it stands or under hands, as a person names it.
fn can_flash(show: &Show, found: &Flashing) -> Vec<String> {
    let name = |spot: &crate::edit::Spot| {
        format!("{} on {}", labels(show.chain(spot.scope))[spot.at], show.address(spot.scope))
    };
    found.taking_part(show).iter().map(name).collect()
}

/// "within    "Strobe" held down: 2.5 general flashes, by beat 1.2".
fn played_line(played: &Played, report: &FlashReport, show: &Show, watch: &Watch) -> String {
    let worst = report.worst();
    let verdict = if report.passes() { "within" } else { "TOO MANY" };
    let mut text = format!("  {verdict:<9} {}: {}", played, worst.counted());
    if worst.changes > 0 {
        text += &format!(", by beat {}", rounded(watch.beats_at(worst.frame, show.tempo_bpm)));
    }
    text + "\n"
}

/// "PASSES  WCAG 2.2       general flashes  2.5 in the worst second ...".
fn line(finding: &Finding, show: &Show, watch: &Watch, report: &FlashReport) -> String {
    let verdict = if finding.passes() { "within" } else { "TOO MANY" };
    let limit = finding.limit;
    let mut text = format!(
        "  {verdict:<9} {:<14} {:<16} {:>4} in the worst second over more than {}",
        limit.source(),
        limit.label(),
        flashes(finding.flashes()),
        limit.area()
    );
    if finding.changes > 0 {
        let at = rounded(watch.beats_at(finding.frame, show.tempo_bpm));
        text += &format!(", by beat {at}");
    }
    if let (Some(place), true) = (finding.place, finding.changes > MOST_CHANGES) {
        let percent = |share: f64| (share * 100.0).round();
        text += &format!(
            ";\n            {} % to {} % across and {} % to {} % down the picture, in {} of {} frames",
            percent(place.left),
            percent(place.left + place.width),
            percent(place.top),
            percent(place.top + place.height),
            finding.failing.iter().map(|range| range.end() - range.start() + 1).sum::<usize>(),
            report.frames
        );
    }
    text + "\n"
}

/// "3", "3.5".
fn flashes(count: f64) -> String {
    format!("{count}")
}

fn rounded(beats: f64) -> f64 {
    (beats * 100.0).round() / 100.0
}

fn figures<'a>(
    subject: &'a Subject,
    show: &Show,
    found: &Flashing,
    suggestions: &'a [Suggestion],
) -> Report<'a> {
    let (watch, own) = (&found.watch, &found.own);
    let beats = |frame: usize| (watch.beats_at(frame, show.tempo_bpm) * 1e6).round() / 1e6;
    let share = |share: f64| (share * 1e4).round() / 1e4;
    let limits = own.findings.iter().map(|finding| LimitFigures {
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
    let controls = found.played.iter().map(|(played, report)| {
        let worst = report.worst();
        PlayedFigures {
            controls: played.controls().into_iter().map(str::to_owned).collect(),
            played: played.to_string(),
            passes: report.passes(),
            flashes_in_worst_second: worst.flashes(),
            source: worst.limit.source(),
            counts: worst.limit.label(),
            at_beats: beats(worst.frame),
        }
    });
    let suggestions = suggestions.iter().map(|suggestion| SuggestionFigures {
        kind: suggestion.kind,
        change: &suggestion.text,
        flashes_in_worst_second: suggestion.report.worst().flashes(),
    });
    Report {
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
        passes: found.passes(),
        passes_untouched: own.passes(),
        limits: limits.collect(),
        controls: controls.collect(),
        footage_alone: found.alone.as_ref().map(|alone| AloneFigures {
            passes: alone.passes(),
            flashes_in_worst_second: alone.worst().flashes(),
        }),
        can_flash: can_flash(show, found),
        suggestions: suggestions.collect(),
    }
}
