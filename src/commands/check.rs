//! `underover check`: validates files, and the footage that they name.

use std::fmt;
use std::path::PathBuf;

use clap::Args;
use thiserror::Error;

use super::library::scanned;
use super::output::say;
use super::subject::{catalogue, read};
use crate::catalogue::Catalogue;
use crate::files::Document;
use crate::footage::Shelf;
use crate::frame::Moment;
use crate::library::{Copied, Library, copies_in};
use crate::show::Show;

/// The options of `check`.
#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  underover check friday.toml
  underover check chains/*.toml shows/*.toml

Of each piece of footage the picture at beat 0 is read in full.")]
pub(super) struct Check {
    /// Chain and show files
    #[arg(required = true, value_name = "FILE")]
    files: Vec<String>,
    /// A folder of .wgsl files: effects of your own
    #[arg(long, value_name = "FOLDER")]
    effects: Option<PathBuf>,
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
        let catalogue = catalogue(self.effects.as_deref(), None)?;
        let mut shelf = Shelf::new(&catalogue);
        let mut library = None;
        let mut wrong = Vec::new();
        for file in &self.files {
            match checked(file, &catalogue, &mut shelf) {
                Ok((what, show)) => {
                    say(&format!("{file}: right ({what})\n"))?;
                    if let Some(show) = show.filter(|show| !show.taken.is_empty()) {
                        let library = library.get_or_insert_with(|| scanned(&catalogue));
                        say(&copies(&show, library))?;
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
}

/// What a file that is right holds, in words.
fn checked(file: &str, catalogue: &Catalogue, shelf: &mut Shelf) -> anyhow::Result<(String, Option<Show>)> {
    match read(file, catalogue)? {
        Document::Chain(preset) => {
            Ok((format!("chain `{}`, {}", preset.name, counted(preset.chain.len(), "effect")), None))
        }
        Document::Show(show) => {
            check_footage(file, &show, shelf)?;
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
        format!(
            "    {} took `{}`: {}{changed}\n",
            show.address(copied.scope),
            copied.handle,
            copied.state.said()
        )
    };
    copies_in(show, library.entries()).iter().map(line).collect()
}

fn check_footage(file: &str, show: &Show, shelf: &mut Shelf) -> anyhow::Result<()> {
    let start = Moment::of_frame(show.frame, show.pixels, show.tempo_bpm, show.rate, 0);
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
