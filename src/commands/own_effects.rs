//! `underover effects new` and `underover effects check`: effects of a person's own.

use std::fs;
use std::path::PathBuf;
use std::sync::Arc;

use clap::Args;

use super::output::{is_standard_output, say};
use super::{WrongWords, note};
use crate::catalogue::{Catalogue, Effect, effects_folder, read_file};
use crate::files;
use crate::gpu::ADAPTER_VARIABLE;
use crate::trial::{Outcome, SLOW_MS, Trials};

/// What a new effect begins with.
const START: &str = include_str!("start.wgsl");

/// The options of `effects new`.
#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  underover effects new night-glow                    in your effects folder
  underover effects new night-glow --folder effects   in another")]
pub(super) struct New {
    /// What it is called: small letters, digits and dashes
    name: String,
    /// Another folder than your own for effects
    #[arg(long, value_name = "FOLDER")]
    folder: Option<PathBuf>,
}

impl New {
    pub(super) fn run(&self) -> anyhow::Result<()> {
        if self.folder.as_deref().is_some_and(is_standard_output) {
            let message = "--folder -: an effect is a file of its own; name a folder";
            return Err(WrongWords(message.to_owned()).into());
        }
        let own = self.folder.clone().or_else(effects_folder);
        let Some(folder) = own else {
            anyhow::bail!("this system names no folder for your effects; give one with --folder");
        };
        let file = folder.join(format!("{}.wgsl", self.name));
        let effect = Effect::read(&self.name, &file.display().to_string(), START)?;
        let there =
            || anyhow::anyhow!("{} exists already; choose another name, or edit that file", file.display());
        if fs::symlink_metadata(&file).is_ok() {
            return Err(there());
        }
        Catalogue::built_in()?.add(effect)?;
        fs::create_dir_all(&folder)
            .map_err(|error| anyhow::anyhow!("the folder {} cannot be made: {error}", folder.display()))?;
        if !files::write_new(&file, START.as_bytes())? {
            return Err(there());
        }
        let (written, folder) = (file.display(), folder.display());
        let use_it = if self.folder.is_some() {
            format!("give --effects {folder} to use it")
        } else {
            "every command and the window find it there".to_owned()
        };
        say(&format!(
            "wrote {written}; {use_it}\nNext: edit it, and run `underover effects check {written}`\n"
        ))
    }
}

/// The options of `effects check`.
#[derive(Debug, Args)]
#[command(after_help = "\
Each file is read, its loops and arrays are looked through, and it is tried in a process of its own:
test pictures show whether it does what its header declares, and a picture of 1280x720 what it costs.

Examples:
  underover effects check glow.wgsl")]
pub(super) struct CheckEffects {
    /// Effect files (.wgsl)
    #[arg(required = true, value_name = "FILE")]
    files: Vec<PathBuf>,
    /// Part of the name of the GPU adapter to use (`underover adapters` lists them)
    #[arg(long, value_name = "NAME-PART", env = ADAPTER_VARIABLE)]
    adapter: Option<String>,
}

impl CheckEffects {
    pub(super) fn run(&self) -> anyhow::Result<()> {
        let mut wrong: Vec<String> = Vec::new();
        for file in &self.files {
            match self.checked(file) {
                Ok(text) => say(&text)?,
                Err(error) => wrong.push(error.to_string()),
            }
        }
        if wrong.is_empty() { Ok(()) } else { Err(anyhow::anyhow!(wrong.join("\nerror: "))) }
    }

    fn checked(&self, file: &std::path::Path) -> anyhow::Result<String> {
        if !file.is_file() {
            anyhow::bail!("there is no file {}; name a .wgsl file", file.display());
        }
        let effect = Arc::new(read_file(file)?);
        Catalogue::built_in()?.add(Arc::clone(&effect))?;
        let trials = Trials::here(self.adapter.clone());
        let mut begins = |effect: &Effect| note(&format!("trying the effect {} …", effect.name));
        let outcome = trials.outcomes(std::slice::from_ref(&effect), &mut begins).pop();
        let tried = match outcome {
            Some(Outcome::Tried(tried)) => tried,
            Some(Outcome::Stopped(reason)) => anyhow::bail!("{reason}"),
            Some(Outcome::Untried(reason)) => {
                anyhow::bail!("{}: reads right, but was not tried: {reason}", file.display())
            }
            None => anyhow::bail!("{}: was not tried", file.display()),
        };
        if !tried.refuted.is_empty() {
            anyhow::bail!("{}", tried.refuted.join("\nerror: "));
        }
        let [usual, highest] = tried.cost_ms;
        let slow = if usual.max(highest) > SLOW_MS {
            "\n  That is slow: the window waits that long for each picture. Let it look at fewer pixels, or lower the ranges of its settings."
        } else {
            ""
        };
        Ok(format!(
            "{}: right\n  confirmed by {} pictures on {}: {}\n  a picture of 1280x720 takes {usual:.0} ms at the defaults, {highest:.0} ms at the highest settings{slow}\n",
            file.display(),
            tried.pictures,
            tried.adapter,
            tried.confirmed.join(", "),
        ))
    }
}
