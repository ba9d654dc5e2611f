//! `underover check`: validates files, and the footage that they name.

use std::fmt;
use std::path::PathBuf;

use clap::Args;
use serde::Serialize;
use thiserror::Error;

use super::WrongWords;
use super::documents::{Documents, read_here};
use super::flashes::Telling;
use super::output::{
    Output, Replace, check_outputs, check_places, figures_output, is_standard_output, say, whole,
};
use super::running::OpenSections;
use super::subject::{MOST_MIB, opened};
use crate::base::frame::Frame;
use crate::beat::Moment;
use crate::files::Document;
use crate::footage::Shelf;
use crate::gpu::{ADAPTER_VARIABLE, Renderer};
use crate::hands::missing_controls;
use crate::library::{Copied, Library, copies_in};
use crate::plan::memory::{Needed, USUAL_MIB};
use crate::readiness;
use crate::readiness::flashing::Doing;
use crate::readiness::{Counts, Point, Weight};
use crate::show::Show;

/// The options of `check`.
#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  underover check friday.toml
  underover check chains/*.toml shows/*.toml
  underover check --show friday.toml

Of each piece of footage the picture at beat 0 is read in full. --show looks at one show before it is \
played: footage, what is hidden, effects that change nothing, what touches the signs, the two hands, controls that hardly \
show, clips that nothing shows, flashes, and the time a frame takes on this adapter; flashes and time of every section \
too, the running order as a whole, and sections that nobody comes to.

Exit code: 0 nothing would fail the show, 1 something would, or a file is wrong, 2 the command line was wrong.")]
pub(super) struct Check {
    /// Chain and show files
    #[arg(required = true, value_name = "FILE", value_parser = read_here)]
    files: Vec<String>,
    /// A folder of .wgsl files: effects of your own
    #[arg(long, value_name = "FOLDER")]
    effects: Option<PathBuf>,
    /// Checks one show before it is played, and says what to do, the worst first
    #[arg(long)]
    show: bool,
    /// Part of the name of the GPU adapter that plays the show, for --show (`underover adapters` lists them)
    #[arg(long, value_name = "NAME-PART", env = ADAPTER_VARIABLE)]
    adapter: Option<String>,
    /// Memory that --show may take, in MiB
    #[arg(long, value_name = "MIB", default_value_t = USUAL_MIB, value_parser = |text: &str| whole(text, 1, MOST_MIB))]
    memory: u64,
    #[command(flatten)]
    open: OpenSections,
    /// What --show found, as figures (`-` is standard output)
    #[arg(long, value_name = "FILE", requires = "show")]
    json: Option<PathBuf>,
    #[command(flatten)]
    replace: Replace,
}

/// At most this large a frame is footage brought to, to see whether it can be shown.
const LOOKED_AT: Frame = Frame { width: 1280, height: 720 };

/// What `--show --json` gives.
#[derive(Serialize)]
struct Figures<'a> {
    show: &'a str,
    adapter: &'a str,
    frame: String,
    rate: String,
    /// Whether nothing would fail the show.
    ready: bool,
    finding: &'a [Point],
}

/// What is wrong with several files: one error a line, each opened like the first.
#[derive(Debug, Error)]
struct WrongFiles(Vec<anyhow::Error>);

impl fmt::Display for WrongFiles {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let lines: Vec<String> = self.0.iter().map(ToString::to_string).collect();
        f.write_str(&lines.join("\nerror: "))
    }
}

impl Check {
    pub(super) fn run(&self) -> anyhow::Result<()> {
        if self.show {
            return self.before_a_show();
        }
        self.open.unused()?;
        let documents = Documents::tried(self.effects.as_deref(), None)?;
        let mut shelf = Shelf::new(&documents.catalogue);
        let mut wrong = Vec::new();
        for file in &self.files {
            match checked(file, &documents, &mut shelf) {
                Ok((what, show)) => {
                    say(&format!("{file}: right ({what})\n"))?;
                    for warning in show.as_ref().map(missing_controls).unwrap_or_default() {
                        say(&format!("  look again: {warning}\n"))?;
                    }
                    if let Some(show) =
                        show.filter(|show| show.taken.iter().any(|taken| taken.clip.is_none()))
                    {
                        say(&copies(&show, documents.library()))?;
                    }
                }
                Err(error) => wrong.push(error),
            }
        }
        match wrong.len() {
            0 => Ok(()),
            1 => Err(wrong.remove(0)),
            _ => Err(WrongFiles(wrong).into()),
        }
    }

    fn before_a_show(&self) -> anyhow::Result<()> {
        let [file] = &self.files[..] else {
            return Err(
                WrongWords(format!("--show checks one show; {} files are named", self.files.len())).into()
            );
        };
        let outputs = figures_output(self.json.as_deref(), self.replace);
        check_places(&outputs)?;
        let documents = Documents::tried(self.effects.as_deref(), self.adapter.as_deref())?;
        let Document::Show(show) = documents.read(file)? else {
            return Err(WrongWords(format!("--show: {file} is a chain; name a show")).into());
        };
        let stands: Vec<(usize, Show)> =
            documents.stands(&show)?.into_iter().map(|stand| (stand.section, stand.show)).collect();
        let running = self.open.running(&show, &documents)?;
        check_outputs(&outputs)?;
        for show in [&show].into_iter().chain(stands.iter().map(|(_, show)| show)) {
            Needed::of_show(show, show.frame, show.pixels).within(self.memory)?;
        }
        let mut renderer = Renderer::new(opened(self.adapter.as_deref())?);
        let adapter = renderer.gpu().adapter().to_string();
        let mut telling = Telling::default();
        let shelf = &mut Shelf::new(&documents.catalogue);
        let counts = &mut Counts::default();
        let mut points = readiness::of(&mut renderer, shelf, &show, counts, |doing| {
            telling.tell(doing);
        });
        let tell = |doing: &Doing<'_>| {
            telling.tell(doing);
        };
        let shows: Vec<&Show> = [&show].into_iter().chain(stands.iter().map(|(_, show)| show)).collect();
        // What cannot be shown has been told, and nothing else can be said of it.
        if !points.iter().any(|point| point.about == "footage" && point.weight == Weight::Fails) {
            points.extend(readiness::of_sections(
                &mut renderer,
                shelf,
                &show,
                &stands,
                running.as_ref(),
                counts,
                tell,
            ));
            points.extend(readiness::of_controls(&mut renderer, shelf, &shows)?);
        }
        let points = readiness::sorted(points);
        drop(telling);
        let bad = points.iter().filter(|point| point.weight == Weight::Fails).count();
        if !self.json.as_deref().is_some_and(is_standard_output) {
            say(&format!("{}, {} at {} frames a second, on {adapter}\n", show.name, show.frame, show.rate))?;
            say(&readiness::points_said(&points))?;
        }
        if let Some(json) = &self.json {
            let figures = Figures {
                show: &show.name,
                adapter: &adapter,
                frame: show.frame.to_string(),
                rate: show.rate.to_string(),
                ready: bad == 0,
                finding: &points,
            };
            Output::figures(json, self.replace).write_json(&figures)?;
        }
        match bad {
            0 => Ok(()),
            1 => Err(anyhow::anyhow!("{file}: 1 point would fail the show")),
            _ => Err(anyhow::anyhow!("{file}: {bad} points would fail the show")),
        }
    }
}

/// What a file that is right holds, in words.
fn checked(file: &str, documents: &Documents, shelf: &mut Shelf) -> anyhow::Result<(String, Option<Show>)> {
    match documents.read(file)? {
        Document::Chain(preset) => {
            Ok((format!("chain `{}`, {}", preset.name, counted(preset.chain.len(), "effect")), None))
        }
        Document::Show(show) => {
            check_footage(file, &show, shelf)?;
            for section in &show.sections {
                for (scope, name) in &section.chains {
                    documents.chain(name).map_err(|error| {
                        let scope = show.address(*scope);
                        anyhow::anyhow!("{file}: section {}, {scope}: {error}", section.name)
                    })?;
                }
            }
            let levels = show.bundles.iter().map(|bundle| bundle.levels.len()).sum();
            let what = format!(
                "{} `{}`, {}, {}",
                if show.is_starter { "starter" } else { "show" },
                show.name,
                counted(show.bundles.len(), "bundle"),
                counted(levels, "level")
            );
            Ok((what, Some(show)))
        }
    }
}

/// How the chains that a show took stand to where they are from.
fn copies(show: &Show, library: &Library) -> String {
    let line = |copied: &Copied| {
        let changed = if copied.is_changed { "; changed here since it was taken" } else { "" };
        format!("    {} took `{}`: {}{changed}\n", show.address(copied.scope), copied.handle, copied.state)
    };
    copies_in(show, library.entries()).iter().map(line).collect()
}

fn check_footage(file: &str, show: &Show, shelf: &mut Shelf) -> anyhow::Result<()> {
    // Footage is read in full whatever the frame, and a small one takes little memory.
    let frame = show.frame.within(LOOKED_AT);
    let start = Moment::of_frame(frame, show.pixels, show.tempo_bpm, show.rate, 0);
    for bundle in &show.bundles {
        for level in &bundle.levels {
            for clip in &level.clips {
                shelf.shown(&clip.footage, clip.fit, &clip.play, &start).map_err(|error| {
                    anyhow::anyhow!("{file}: clip:{}/{}/{}: {error}", bundle.name, level.name, clip.name)
                })?;
            }
        }
    }
    Ok(())
}

fn counted(number: usize, what: &str) -> String {
    format!("{number} {what}{}", if number == 1 { "" } else { "s" })
}
