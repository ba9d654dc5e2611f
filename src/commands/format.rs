//! `underover format`: what files hold, key by key.

use std::path::PathBuf;

use clap::Args;
use serde_json::{Map, Value as Json, json};

use super::documents::Documents;
use super::output::{Output, Replace, check_outputs, check_places, figures_output, is_standard_output, say};
use crate::base::words::words;
use crate::files::keys::{Absent, CHAIN, Group, SHOW, STARTER, schema};
use crate::lessons::LESSON;
use crate::window::PREFERENCES;

words! {
    /// A kind of file.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    enum Kind {
        /// A show.
        Show = "show",
        /// A chain.
        Chain = "chain",
        /// A starter.
        Starter = "starter",
        /// A lesson.
        Lesson = "lesson",
        /// The window's preferences.
        Preferences = "preferences",
    }
}

impl Kind {
    fn keys(self) -> &'static Group {
        match self {
            Self::Show => &SHOW,
            Self::Chain => &CHAIN,
            Self::Starter => &STARTER,
            Self::Lesson => &LESSON,
            Self::Preferences => &PREFERENCES,
        }
    }
}

/// The options of `format`.
#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  underover format show
  underover format chain --json chain-keys.json
  underover format show --schema --json show.schema.json

An editor that knows TOML by schemas (such as those with a language server for TOML) checks and completes a file that opens \
with the line

  #:schema ./show.schema.json

The presets of the program open so, with the schemas beside them in presets/schemas.")]
pub(super) struct Format {
    /// Which kind of file
    kind: Kind,
    /// A JSON Schema (draft 2020-12) in place of the list, with the effects of this machine
    #[arg(long)]
    schema: bool,
    /// A folder of .wgsl files: effects of your own, for the schema
    #[arg(long, value_name = "FOLDER")]
    effects: Option<PathBuf>,
    /// The keys, or the schema, as JSON (`-` is standard output)
    #[arg(long, value_name = "FILE")]
    json: Option<PathBuf>,
    #[command(flatten)]
    replace: Replace,
}

impl Format {
    pub(super) fn run(&self) -> anyhow::Result<()> {
        let outputs = figures_output(self.json.as_deref(), self.replace);
        check_places(&outputs)?;
        check_outputs(&outputs)?;
        let root = self.kind.keys();
        let figures = match self.schema {
            true => schema(root, &Documents::untried(self.effects.as_deref())?.catalogue),
            false => figures(root),
        };
        match &self.json {
            Some(json) => {
                Output::figures(json, self.replace).write_json(&figures)?;
                if is_standard_output(json) || self.schema {
                    return Ok(());
                }
                say(&text(root))
            }
            None if self.schema => say(&(serde_json::to_string_pretty(&figures)? + "\n")),
            None => say(&text(root)),
        }
    }
}

/// What holds where a key is left out.
fn absent(absent: Absent) -> String {
    match absent {
        Absent::Refused => "needed".to_owned(),
        Absent::Is(value) => format!("left out: {value}"),
        Absent::Means(means) => format!("left out: {means}"),
        Absent::Depends(needed) => needed.to_owned(),
    }
}

fn text(root: &'static Group) -> String {
    let mut text = String::new();
    for group in root.all(false) {
        let name = group.name;
        text += &match std::ptr::eq(group, root) {
            true => format!("A {name} file. {}\n", group.about),
            false => format!("\n{name}: {}\n", group.about),
        };
        let keys = || group.keys.iter().filter(|key| !key.is_own);
        let widest = keys().map(|key| key.name.len()).max().unwrap_or(0);
        for key in keys() {
            let (name, said, absent) = (key.name, key.takes.said(), absent(key.absent));
            text += &format!("  {name:widest$}  {}\n", key.about);
            text += &format!("  {:widest$}  {said}; {absent}\n", "");
        }
        for rivals in group.rivals {
            let last = rivals.len() - 1;
            text += &format!("  One of {} and {} at most.\n", rivals[..last].join(", "), rivals[last]);
        }
    }
    text
}

fn figures(root: &'static Group) -> Json {
    let mut tables = Map::new();
    for group in root.all(false) {
        let key = |key: &crate::files::keys::Key| {
            let default = match key.absent {
                Absent::Is(value) => Some(value),
                _ => None,
            };
            json!({
                "key": key.name,
                "about": key.about,
                "takes": key.takes.said(),
                "needed": key.absent == Absent::Refused,
                "default": default,
                "left_out": absent(key.absent),
            })
        };
        let keys: Vec<Json> = group.keys.iter().filter(|key| !key.is_own).map(key).collect();
        tables.insert(
            group.name.to_owned(),
            json!({ "about": group.about, "keys": keys, "one_of": group.rivals }),
        );
    }
    json!({ "file": root.name, "tables": tables })
}
