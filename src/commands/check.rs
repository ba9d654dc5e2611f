//! `underover check`: validates files, and the footage that they name.

use std::path::PathBuf;

use clap::Args;

use super::subject::{catalogue, read};
use crate::files::Document;
use crate::footage::Shelf;
use crate::show::Show;

/// The options of `check`.
#[derive(Debug, Args)]
#[command(after_help = "Example: underover check presets/chains/*.toml shows/friday.toml")]
pub(super) struct Check {
    /// Chain and show files
    #[arg(required = true, value_name = "FILE")]
    files: Vec<String>,
    /// A folder of .wgsl files: effects of your own
    #[arg(long, value_name = "FOLDER")]
    effects: Option<PathBuf>,
}

impl Check {
    pub(super) fn run(&self) -> anyhow::Result<()> {
        let catalogue = catalogue(self.effects.as_deref())?;
        let mut shelf = Shelf::new(&catalogue);
        let mut wrong = 0;
        for file in &self.files {
            let checked = read(file, &catalogue).and_then(|document| {
                if let Document::Show(show) = &document {
                    check_footage(show, &mut shelf)?;
                }
                Ok(document)
            });
            match checked {
                Ok(Document::Chain(preset)) => {
                    println!(
                        "{file}: fine (chain `{}`, {})",
                        preset.name,
                        counted(preset.chain.len(), "effect")
                    );
                }
                Ok(Document::Show(show)) => println!(
                    "{file}: fine (show `{}`, {}, {})",
                    show.name,
                    counted(show.bundles.len(), "bundle"),
                    counted(show.bundles.iter().map(|b| b.levels.len()).sum(), "level")
                ),
                Err(error) => {
                    eprintln!("error: {error:#}");
                    wrong += 1;
                }
            }
        }
        match wrong {
            0 => Ok(()),
            _ if self.files.len() == 1 => anyhow::bail!("the file is not fine; its error stands above"),
            _ => {
                anyhow::bail!("{wrong} of {} files are not fine; their errors stand above", self.files.len())
            }
        }
    }
}

fn check_footage(show: &Show, shelf: &mut Shelf) -> anyhow::Result<()> {
    for bundle in &show.bundles {
        for level in &bundle.levels {
            for clip in &level.clips {
                shelf.check(&clip.footage).map_err(|error| {
                    anyhow::anyhow!("clip:{}/{}/{}: {error}", bundle.name, level.name, clip.name)
                })?;
            }
        }
    }
    Ok(())
}

fn counted(number: usize, what: &str) -> String {
    format!("{number} {what}{}", if number == 1 { "" } else { "s" })
}
