//! `underover completions`: what a shell needs to complete the program's words.

use std::io;

use clap::{Args, CommandFactory as _};
use clap_complete::Shell;

use super::CommandLine;
use super::output::say_as_it_is;

/// The options of `completions`.
#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  underover completions bash > underover.bash   to be read by bash: source underover.bash
  underover completions fish > underover.fish   for ~/.config/fish/completions")]
pub(super) struct Completions {
    /// The shell to write for
    shell: Shell,
}

impl Completions {
    pub(super) fn run(&self) -> anyhow::Result<()> {
        let mut script = Vec::new();
        clap_complete::generate(self.shell, &mut CommandLine::command(), "underover", &mut script);
        say_as_it_is(&String::from_utf8(script).map_err(io::Error::other)?)
    }
}
