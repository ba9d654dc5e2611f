//! `underover manual`: the program's manual pages.

use std::fs;
use std::path::PathBuf;

use anyhow::Context as _;
use clap::{Args, CommandFactory as _};
use clap_mangen::Man;

use super::output::say;
use super::{CommandLine, note};
use crate::files;

/// The options of `manual`.
#[derive(Debug, Args)]
#[command(after_help = "\
Without --out the first page alone goes to standard output.

Examples:
  underover manual > underover.1   to be read with: man ./underover.1
  underover manual --out man1      every page, for ~/.local/share/man")]
pub(super) struct Manual {
    /// The folder for underover.1 and a page for each command; it is made where it is missing
    #[arg(long, value_name = "FOLDER")]
    out: Option<PathBuf>,
}

impl Manual {
    pub(super) fn run(&self) -> anyhow::Result<()> {
        let program = CommandLine::command().disable_help_subcommand(true);
        let Some(folder) = &self.out else {
            return say(&String::from_utf8(page(program)?)?);
        };
        fs::create_dir_all(folder).with_context(|| {
            format!("--out {}: the folder cannot be made; name one that you may write", folder.display())
        })?;
        let mut program = program;
        // Pages of commands are named and headed with the program's name before their own.
        program.build();
        let commands: Vec<clap::Command> =
            program.get_subcommands().filter(|command| !command.is_hide_set()).cloned().collect();
        let count = commands.len() + 1;
        for command in [program].into_iter().chain(commands) {
            let name = Man::new(command.clone()).get_filename();
            files::write(&folder.join(name), &page(command)?)?;
        }
        note(&format!("wrote {count} pages into {}", folder.display()));
        Ok(())
    }
}

fn page(command: clap::Command) -> anyhow::Result<Vec<u8>> {
    let mut page = Vec::new();
    Man::new(command).render(&mut page)?;
    Ok(page)
}
