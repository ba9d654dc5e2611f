//! The show that a command changes, and what of it the command line names.

use std::path::PathBuf;

use clap::Args;

use super::WrongWords;
use super::documents::{read_here, scope_refused};
use super::output::Replace;
use crate::base::coding::ColourCode;
use crate::base::place::{did_you_mean, listed, shortened};
use crate::show::{Level, Scope, Show};

/// The show, and where it goes.
#[derive(Debug, Args)]
pub(super) struct OfShow {
    /// A show file, or `preset:NAME`
    #[arg(value_parser = read_here)]
    pub(super) show: String,
    /// The show file to write: the same one, or a new one
    #[arg(long, value_name = "NEW.toml")]
    pub(super) out: PathBuf,
    #[command(flatten)]
    pub(super) replace: Replace,
}

pub(super) fn scope_named(option: &str, written: &str, show: &Show) -> Result<Scope, WrongWords> {
    show.scope_named(written).map_err(|error| scope_refused(option, &error, show))
}

/// A bundle, a level or a clip.
pub(super) fn part(option: &str, written: &str, show: &Show) -> Result<Scope, WrongWords> {
    match scope_named(option, written, show)? {
        Scope::Global => {
            Err(WrongWords(format!("{option} global: it takes a bundle, a level or a clip of the show")))
        }
        scope => Ok(scope),
    }
}

/// A section, by its name.
pub(super) fn section_named(option: &str, name: &str, show: &Show) -> Result<usize, WrongWords> {
    show.section_named(name).ok_or_else(|| {
        let known = || show.sections.iter().map(|section| section.name.as_str());
        let name = shortened(name);
        WrongWords(match show.sections.len() {
            0 => format!(
                "{option} {name}: the show has no sections; `underover edit section add` adds one, and `underover format show` has their keys"
            ),
            _ => format!(
                "{option} {name}: there is no section of that name{} (the show has {})",
                did_you_mean(&name, known()),
                listed(known())
            ),
        })
    })
}

/// What `--colour` says: a colour to tell something by, or none.
pub(super) fn colour_named(written: &str) -> Result<Option<ColourCode>, WrongWords> {
    if written == "none" {
        return Ok(None);
    }
    written.parse().map(Some).map_err(|()| {
        let allowed = ColourCode::allowed();
        WrongWords(format!("--colour {written}: it takes {allowed}, or `none`"))
    })
}

/// A clip of a level, by its name; `said` is how the command line has it, `also` what else it could say.
pub(super) fn clip_named(said: &str, name: &str, level: &Level, also: &str) -> Result<usize, WrongWords> {
    let clips = || level.clips.iter().map(|clip| clip.name.as_str());
    clips().position(|clip| clip == name).ok_or_else(|| {
        WrongWords(format!(
            "{said}: the level has no clip of that name{} (it has {}{also})",
            did_you_mean(name, clips()),
            listed(clips())
        ))
    })
}
