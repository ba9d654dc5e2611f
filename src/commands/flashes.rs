//! `underover flashes`: flashing that can harm, counted over a loop.

use std::path::PathBuf;

use clap::Args;

use super::flash_figures::{Along, Counted, can_flash, figures, other_frame, worst_of};
use super::output::{Output, Replace, check_outputs, check_places, figures_output, is_standard_output, say};
use super::running::OpenSections;
use super::subject::{Subject, SubjectOptions};
use crate::base::doing;
use crate::base::frame::Frame;
use crate::beat::FrameRate;
use crate::measure::{Finding, FlashReport, MOST_CHANGES};
use crate::plan::Running;
use crate::readiness::flashing::{Doing, Played, Watch};
use crate::readiness::{caution, flashing, plays_alike};
use crate::show::Show;

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

Of a show with sections, each of them is counted from --at on, the show as it stands in it, and then the running order \
once from its first beat to its last, with its cuts and fades and the controls untouched; --section counts one alone.

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
    #[command(flatten)]
    open: OpenSections,
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

impl Flashes {
    pub(super) fn run(&self) -> anyhow::Result<()> {
        let outputs = figures_output(self.json.as_deref(), self.replace);
        check_places(&outputs)?;
        let documents = self.subject.documents()?;
        let (show, mut subject) = self.subject.open_whole(&documents, FLASHES_CHAIN_FRAME)?;
        let stands = documents.stands(&show)?;
        let running = self.open.running(&show, &documents)?;
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
        let shows = [(None, show.clone())];
        let shows = shows.into_iter().chain(stands.into_iter().map(|stand| (Some(stand.name), stand.show)));
        let mut all = Vec::new();
        for (section, show) in shows {
            // What plays alike flashes alike, and the same changes help.
            let known = all.iter().find(|known: &&Counted| plays_alike(&known.show, &show));
            if let Some(known) = known {
                let (found, suggestions) = (known.found.clone(), known.suggestions.clone());
                all.push(Counted { section, show, found, suggestions });
                continue;
            }
            let mut tell = |doing: &Doing<'_>| telling.tell_in(section.as_deref(), doing);
            let found = flashing::looked_over(renderer, shelf, &show, &watch, &mut tell)?;
            let suggestions = if self.no_suggestions {
                Vec::new()
            } else {
                flashing::suggestions(renderer, shelf, &show, &found, tell)?
            };
            all.push(Counted { section, show, found, suggestions });
        }
        drop(telling);
        let along =
            running.map(|running| self.along(&mut subject, show, running, &watch)).transpose()?.flatten();
        if !self.json.as_deref().is_some_and(is_standard_output) {
            for counted in &all {
                say(&(flashing_said(&subject, counted, self.no_suggestions) + "\n"))?;
            }
            say(&along.as_ref().map_or_else(String::new, along_said))?;
            say(&format!("{}\n", caution::NO_CERTIFICATE))?;
        }
        if let Some(json) = &self.json {
            Output::figures(json, self.replace).write_json(&figures(&subject, &all, along.as_ref()))?;
        }
        worst_of(&subject, &all, along.as_ref()).map_or(Ok(()), |said| Err(anyhow::anyhow!(said)))
    }

    /// Counts the running order as a whole.
    fn along(
        &self,
        subject: &mut Subject,
        show: Show,
        running: Running,
        watch: &Watch,
    ) -> anyhow::Result<Option<Along>> {
        let frames = Watch { from_beats: 0.0, over_beats: running.order().beats(), ..*watch };
        let what = doing::doing_counted(
            "counting flashes of the running order",
            "frames",
            frames.frames(show.tempo_bpm),
        );
        let (renderer, shelf) = (&mut subject.renderer, &mut subject.shelf);
        let counted = flashing::counted_along(renderer, shelf, &running, watch, |so_far| {
            what.done(so_far.frames);
            true
        })?;
        Ok(counted.map(|(watch, report)| Along { show, running, watch, report }))
    }
}

/// Says what is being counted and how far that has come.
#[derive(Default)]
pub(super) struct Telling {
    at: Option<(String, doing::Doing)>,
}

impl Telling {
    /// The same of a section.
    pub(super) fn tell_in(&mut self, section: Option<&str>, now: &Doing<'_>) -> bool {
        match section {
            Some(section) => self.tell(&Doing { what: &format!("{section}: {}", now.what), ..*now }),
            None => self.tell(now),
        }
    }

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

/// The running order in words.
fn along_said(along: &Along) -> String {
    let Along { show, watch, report, .. } = along;
    let mut text = format!(
        "{}: along the running order, beats 0 to {} once with its cuts and fades, {} frames, controls untouched\n",
        show.name,
        rounded(watch.over_beats),
        report.frames
    );
    for finding in &report.findings {
        text += &line(finding, show, watch, report, |beats| format!(", {}", along.place(beats)));
    }
    text + "\n"
}

fn flashing_said(subject: &Subject, counted: &Counted, without_suggestions: bool) -> String {
    let Counted { show, found, suggestions, section } = counted;
    let name = if section.is_some() { &show.name } else { &subject.name };
    let (watch, own) = (&found.watch, &found.own);
    let tempo = show.tempo_bpm;
    let last = watch.from_beats + watch.over_beats;
    let mut text = format!(
        "{}: beats {} to {} at {tempo} BPM as a loop, {} frames at {} a second, rendered at {}, counted on {} squares from {:.1} picture heights away\n",
        name,
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
        text += &line(finding, show, watch, own, |_| String::new());
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
    text
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
fn line(
    finding: &Finding,
    show: &Show,
    watch: &Watch,
    report: &FlashReport,
    place: impl Fn(f64) -> String,
) -> String {
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
        let at = watch.beats_at(finding.frame, show.tempo_bpm);
        text += &format!(", by beat {}{}", rounded(at), place(at));
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
