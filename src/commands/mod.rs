//! The commands, one file each.

mod adapters;
mod bench;
mod check;
mod compare;
mod completions;
mod demo;
mod documents;
mod edit;
mod edit_controls;
mod edit_sections;
mod edited;
mod effects;
mod extent;
mod families;
mod figures;
mod find;
mod flash_figures;
mod flashes;
mod format;
mod found;
mod hands;
mod identity;
mod keep_one;
mod kept_order;
mod lessons;
mod library;
mod manual;
mod named_order;
mod opened;
mod order_figures;
mod order_flashes;
mod order_walls;
mod orders;
mod output;
mod own_effects;
mod pieces;
mod places;
mod progress;
mod render;
mod report;
mod running;
mod sheet;
mod starters;
mod subject;
mod swaps;
mod trial;
mod usages;

use std::ffi::OsString;
use std::path::PathBuf;

use clap::{CommandFactory as _, Parser, Subcommand};
use thiserror::Error;

use progress::Teller;
pub use progress::note;

use crate::base::place::{did_you_mean, listed};
use crate::midi;

/// The command line was understood but asks for something that does not exist: exit code 2.
#[derive(Debug, Error)]
#[error("{0}")]
pub struct WrongWords(pub String);

/// What `--help` closes with.
const HELP: &str = "\
Files are chains or shows (TOML). `preset:NAME` names one that travels inside the program, `library:NAME` a chain of your library, \
`generated:NAME` a generated piece of footage; `underover effects` lists the effects and the \
generated footage.

Examples:
  underover orders preset:all-hands --footage photo.jpg --out wall.png
  underover render preset:night-ferry --at 0.1 --out ferry.png
  underover check show.toml

Exit code: 0 done, 1 the work failed, 2 the command line was wrong.";

/// Everything that the program understands.
#[derive(Debug, Parser)]
#[command(
    name = "underover",
    version,
    about = "Audition the order of picture effects before a show",
    long_about = "Renders every order of a chain of effects that can differ, proves which cannot, and keeps the good ones.\n\nWithout a command it opens the window on a demo show, or on the file named. Where there is no display it writes the demo instead: every order of the busiest chain of a show, as a wall of pictures.",
    override_usage = "underover [--effects FOLDER] [FILE]\n       underover <COMMAND>",
    after_help = format!("{HELP}\n\n{}", midi::available().map_or(midi::BUILD, |()| "This build plays controls from MIDI devices."))
)]
pub struct CommandLine {
    /// A folder of .wgsl files for the window: effects of your own, beside those of your effects folder
    #[arg(long, value_name = "FOLDER")]
    effects: Option<PathBuf>,
    #[command(subcommand)]
    command: Option<Command>,
}

#[derive(Debug, Subcommand)]
enum Command {
    /// One picture, or a moving one, of a show or of a chain on footage
    Render(render::Render),
    /// Every order that can differ: a wall of pictures and its figures
    Orders(orders::Orders),
    /// Of all orders and settings, those whose pictures come nearest to a wish
    Find(Box<find::Find>),
    /// The swap table: which effects may change places, and why
    Swaps(swaps::Swaps),
    /// One effect on every scope of a show, or a bundle's levels in other orders
    Places(places::Places),
    /// Bundles, levels and clips of a show: moved, hidden, renamed, coloured, added, removed
    Edit(edit::EditCommand),
    /// Two chains, shows or orders beside each other, with their difference
    Compare(compare::Compare),
    /// Flashing that can harm, counted over a loop, and changes that pass
    Flashes(flashes::Flashes),
    /// One page to read or print: the looks, what decides them, swaps, stages, flashes, cost
    Report(report::Report),
    /// One sheet to rebuild a chain or a show's effects by hand on any rig
    Sheet(sheet::Sheet),
    /// The effects and the generated footage, from their shaders' own declarations
    Effects(effects::Effects),
    /// What chain, show, starter and lesson files hold: every key, or a schema for editors
    Format(format::Format),
    /// Which control does what, for which hand, key and MIDI: a map to print
    Hands(hands::Hands),
    /// Chains kept from show to show: listed, found, kept, put onto shows
    Library(library::LibraryCommand),
    /// Shows without footage to begin the next one from, and parts taken from shows
    Starters(starters::Starters),
    /// Short lessons on the order of effects: predict, then look
    Lessons(lessons::LessonsCommand),
    /// Validates chain and show files, and the footage that they name
    Check(check::Check),
    /// The GPU adapters seen, and the one chosen
    Adapters(adapters::Adapters),
    /// Times the main job on the chosen adapter
    Bench(bench::Bench),
    /// A shell's completions of the program's words
    Completions(completions::Completions),
    /// The manual pages
    Manual(manual::Manual),
    /// Tries the effects that stand on standard input, for this program itself
    #[command(hide = true)]
    TrialEffects(trial::TrialEffects),
    /// A show or chain file to open in the window.
    #[command(external_subcommand)]
    Open(Vec<OsString>),
}

impl CommandLine {
    /// Runs the command.
    ///
    /// # Errors
    /// One error, worded for the person; [`WrongWords`] where the command line is at fault.
    pub fn run(&self) -> anyhow::Result<()> {
        let is_told = !matches!(self.command, None | Some(Command::Open(_) | Command::TrialEffects(_)));
        let _teller = is_told.then(Teller::begin);
        match &self.command {
            None => demo::run(None, self.effects.as_deref()),
            Some(Command::Open(words)) => demo::run(Some(&file_of(words)?), self.effects.as_deref()),
            Some(Command::Render(command)) => command.run(),
            Some(Command::Orders(command)) => command.run(),
            Some(Command::Find(command)) => command.run(),
            Some(Command::Swaps(command)) => command.run(),
            Some(Command::Places(command)) => command.run(),
            Some(Command::Edit(command)) => command.run(),
            Some(Command::Compare(command)) => command.run(),
            Some(Command::Flashes(command)) => command.run(),
            Some(Command::Report(command)) => command.run(),
            Some(Command::Sheet(command)) => command.run(),
            Some(Command::Effects(command)) => command.run(),
            Some(Command::Format(command)) => command.run(),
            Some(Command::Hands(command)) => command.run(),
            Some(Command::Library(command)) => command.run(),
            Some(Command::Starters(command)) => command.run(),
            Some(Command::Lessons(command)) => command.run(),
            Some(Command::Check(command)) => command.run(),
            Some(Command::Adapters(command)) => command.run(),
            Some(Command::Bench(command)) => command.run(),
            Some(Command::Completions(command)) => command.run(),
            Some(Command::Manual(command)) => command.run(),
            Some(Command::TrialEffects(command)) => command.run(),
        }
    }
}

/// The file that a word which is no command names; a mistyped command is told from it.
fn file_of(words: &[OsString]) -> Result<PathBuf, WrongWords> {
    let Some((file, more)) = words.split_first() else {
        return Err(WrongWords("name a show or chain file to open".to_owned()));
    };
    let path = PathBuf::from(file);
    if more.is_empty() && (path.extension().is_some() || path.exists()) {
        return Ok(path);
    }
    let program = CommandLine::command();
    let names: Vec<&str> =
        program.get_subcommands().filter(|c| !c.is_hide_set()).map(clap::Command::get_name).collect();
    let written = file.to_string_lossy();
    Err(WrongWords(format!(
        "there is no command `{written}`{} (the commands are {}; a show or chain file alone opens in the window)",
        did_you_mean(&written, names.iter().copied()),
        listed(names.iter().copied())
    )))
}
