//! `underover manual`: the program's manual pages.

use std::fs;
use std::path::PathBuf;

use anyhow::Context as _;
use clap::{Args, CommandFactory as _};
use clap_mangen::Man;

use super::output::{Output, Replace, check_outputs, is_standard_output, say_as_it_is};
use super::{CommandLine, WrongWords, note};

/// The section of the manual that commands are in, which their pages end in.
const SECTION: &str = "1";

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
    #[command(flatten)]
    replace: Replace,
}

impl Manual {
    pub(super) fn run(&self) -> anyhow::Result<()> {
        let program = CommandLine::command().disable_help_subcommand(true);
        let Some(folder) = &self.out else {
            return say_as_it_is(&String::from_utf8(page(program)?)?);
        };
        if is_standard_output(folder) {
            let message = "--out -: several pages go into a folder; name a folder, or leave --out out for the first page";
            return Err(WrongWords(message.to_owned()).into());
        }
        fs::create_dir_all(folder).with_context(|| {
            format!("--out {}: the folder cannot be made; name one that you may write", folder.display())
        })?;
        let mut program = program;
        // Pages of commands are named and headed with the program's name before their own.
        program.build();
        let commands: Vec<clap::Command> =
            program.get_subcommands().filter(|command| !command.is_hide_set()).cloned().collect();
        let count = commands.len() + 1;
        let pages: Vec<(PathBuf, clap::Command)> = [program]
            .into_iter()
            .chain(commands)
            .map(|command| (folder.join(Man::new(command.clone()).get_filename()), command))
            .collect();
        let output = |path| Output::made("--out", path, SECTION, self.replace);
        check_outputs(&pages.iter().map(|(path, _)| output(path)).collect::<Vec<_>>())?;
        for (path, command) in &pages {
            output(path).write(&page(command.clone())?)?;
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
