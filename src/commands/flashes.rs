//! `underover flashes`: flashing that can harm, counted over a loop.

use std::path::PathBuf;

use clap::Args;
use serde::Serialize;

use super::figures::SubjectFigures;
use super::output::{Output, Replace, check_outputs, check_places, figures_output, is_standard_output, say};
use super::progress::Progress;
use super::subject::{Subject, SubjectOptions};
use crate::beat::FrameRate;
use crate::caution;
use crate::chain::labels;
use crate::doing::doing;
use crate::flashing::{self, Suggestion, Watch};
use crate::frame::Frame;
use crate::measure::{Finding, FlashReport, MOST_CHANGES, Viewing};
use crate::show::Show;

/// The options of `flashes`.
#[derive(Debug, Args)]
#[command(after_help = "\
A change of relative luminance by a tenth or more is half a flash where the darker state is below 0.80, \
and so is a change to or from a saturated red. More than three flashes in any one second over more than \
a quarter of a 10 degree field are too many (WCAG 2.2); over more than a quarter of the screen, by ITU-R \
BT.1702. Half a flash counts.

Examples:
  underover flashes preset:night-ferry
  underover flashes preset:all-hands --over 32 --rate 30 --json flashes.json
  underover flashes show.toml --distance 4")]
pub(super) struct Flashes {
    #[command(flatten)]
    subject: SubjectOptions,
    /// How many beats are looked at, from --at on
    #[arg(long, value_name = "BEATS", default_value = "16", value_parser = over)]
    over: f64,
    /// Frames a second, such as 60 or 30000/1001
    #[arg(long, value_name = "FPS", default_value_t)]
    rate: FrameRate,
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
    looked_at: String,
    from_beats: f64,
    over_beats: f64,
    frames: usize,
    rate: String,
    distance_heights: f64,
    white_cd_m2: f64,
    passes: bool,
    limits: Vec<LimitFigures>,
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
struct SuggestionFigures<'a> {
    kind: &'static str,
    change: &'a str,
    flashes_in_worst_second: f64,
}

impl Flashes {
    pub(super) fn run(&self) -> anyhow::Result<()> {
        let outputs = figures_output(self.json.as_deref(), self.replace);
        check_places(&outputs)?;
        let (show, mut subject) = self.subject.open_whole(Frame { width: 1280, height: 720 })?;
        check_outputs(&outputs)?;
        let mut viewing = Viewing { peak_cd_m2: self.white, ..Viewing::default() };
        if let Some(heights) = self.distance {
            viewing = viewing.from_distance(heights);
        }
        let watch =
            Watch { from_beats: subject.path.moment.beats, over_beats: self.over, rate: self.rate, viewing };
        let mut progress = Progress::named("counting flashes", "frames", watch.frames(show.tempo_bpm));
        let report = flashing::counted(&mut subject.renderer, &mut subject.shelf, &show, &watch, |done| {
            progress.tell(done);
            true
        })?;
        progress.finished();
        let suggestions = if report.passes() || self.no_suggestions {
            Vec::new()
        } else {
            let tried = doing("trying changes");
            let trying = |text: &str| {
                tried.now(format!("trying {text}"));
                true
            };
            flashing::suggestions(&mut subject.renderer, &mut subject.shelf, &show, &watch, trying)?
        };
        if !self.json.as_deref().is_some_and(is_standard_output) {
            say(&said(&subject, &show, &watch, &report, &suggestions, self.no_suggestions))?;
        }
        if let Some(json) = &self.json {
            let figures = figures(&subject, &show, &watch, &report, &suggestions);
            Output::figures(json, self.replace).write_json(&figures)?;
        }
        Ok(())
    }
}

fn said(
    subject: &Subject,
    show: &Show,
    watch: &Watch,
    report: &FlashReport,
    suggestions: &[Suggestion],
    without_suggestions: bool,
) -> String {
    let tempo = show.tempo_bpm;
    let last = watch.from_beats + watch.over_beats;
    let mut text = format!(
        "{}: beats {} to {} at {tempo} BPM, {} frames at {} a second, looked at {} from {:.1} picture heights away\n",
        subject.name,
        rounded(watch.from_beats),
        rounded(last),
        report.frames,
        watch.rate,
        report.frame,
        watch.viewing.distance()
    );
    for finding in &report.findings {
        text += &line(finding, show, watch, report);
    }
    let flashing = flashing::flashing(show);
    if !flashing.is_empty() {
        let names = flashing.iter().map(|spot| {
            format!("{} on {}", labels(show.chain(spot.scope))[spot.at], show.address(spot.scope))
        });
        text += &format!("\nWhat can flash here: {}.\n", names.collect::<Vec<_>>().join(", "));
    }
    if !report.passes() && !without_suggestions {
        if suggestions.is_empty() {
            text += "\nNo single change of those tried passes: make the flashes slower and weaker at once, or hold them.\n";
        } else {
            text += "\nWhat passes, each rendered and counted:\n";
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
    watch: &Watch,
    report: &FlashReport,
    suggestions: &'a [Suggestion],
) -> Report<'a> {
    let beats = |frame: usize| (watch.beats_at(frame, show.tempo_bpm) * 1e6).round() / 1e6;
    let share = |share: f64| (share * 1e4).round() / 1e4;
    let limits = report.findings.iter().map(|finding| LimitFigures {
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
    let suggestions = suggestions.iter().map(|suggestion| SuggestionFigures {
        kind: suggestion.kind,
        change: &suggestion.text,
        flashes_in_worst_second: suggestion.report.worst().flashes(),
    });
    Report {
        subject: SubjectFigures::from(subject),
        looked_at: report.frame.to_string(),
        from_beats: watch.from_beats,
        over_beats: watch.over_beats,
        frames: report.frames,
        rate: watch.rate.to_string(),
        distance_heights: share(watch.viewing.distance()),
        white_cd_m2: watch.viewing.peak_cd_m2,
        passes: report.passes(),
        limits: limits.collect(),
        suggestions: suggestions.collect(),
    }
}
