//! `underover effects`: the catalogue.

use std::path::PathBuf;
use std::sync::Arc;

use clap::{Args, Subcommand};
use serde_json::{Value as Json, json};

use super::documents::Documents;
use super::output::{Output, Replace, check_outputs, check_places, figures_output, is_standard_output, say};
use super::own_effects::{CheckEffects, New};
use super::{WrongWords, note};
use crate::base::place::listed;
use crate::catalogue::{Catalogue, Channels, Effect, Kind, Position, Reach, found, meant};
use crate::readiness::caution::CAUTION;
use crate::show::chain::unit_of;

/// The options of `effects`.
#[derive(Debug, Args)]
#[command(
    args_conflicts_with_subcommands = true,
    after_help = "\
Examples:
  underover effects                    lists all
  underover effects edge-find          one with its settings
  underover effects strobe             those found by what they do: strobe, pixels, mirror tiles
  underover effects new night-glow     begins one of your own
  underover effects check glow.wgsl    says whether one of your own is right"
)]
pub(super) struct Effects {
    #[command(subcommand)]
    own: Option<Own>,
    /// One effect or generated source, in full; or words for what it does
    #[arg(value_name = "NAME")]
    words: Vec<String>,
    /// A folder of .wgsl files: effects of your own
    #[arg(long, value_name = "FOLDER")]
    effects: Option<PathBuf>,
    /// The catalogue as figures (`-` is standard output)
    #[arg(long, value_name = "FILE")]
    json: Option<PathBuf>,
    #[command(flatten)]
    replace: Replace,
}

#[derive(Debug, Subcommand)]
enum Own {
    /// Begins an effect of your own: a file with comments that works as it is
    New(New),
    /// Says whether effect files are right: reading, limits, what their headers declare, what they cost
    Check(CheckEffects),
}

impl Effects {
    pub(super) fn run(&self) -> anyhow::Result<()> {
        match &self.own {
            Some(Own::New(new)) => return new.run(),
            Some(Own::Check(check)) => return check.run(),
            None => {}
        }
        let outputs = figures_output(self.json.as_deref(), self.replace);
        check_places(&outputs)?;
        let catalogue = Documents::untried(self.effects.as_deref())?.catalogue;
        check_outputs(&outputs)?;
        for problem in catalogue.problems() {
            note(&format!("note: {}", problem.reason));
        }
        let all = || catalogue.effects().iter().chain(catalogue.sources());
        let name = (!self.words.is_empty()).then(|| self.words.join(" "));
        let chosen: Vec<&Effect> = match &name {
            None => all().map(AsRef::as_ref).collect(),
            Some(name) => {
                let bare = name.strip_prefix("generated:").unwrap_or(name);
                let broken = catalogue.problems().iter().find(|problem| problem.name == bare);
                if let Some(problem) = broken.filter(|_| all().all(|effect| effect.name != bare)) {
                    anyhow::bail!("the effect `{bare}` cannot be used: {}", problem.reason);
                }
                self.named(&catalogue, bare)?
            }
        };
        if let Some(json) = &self.json {
            let figures: Vec<Json> = chosen.iter().map(|effect| figures(effect)).collect();
            Output::figures(json, self.replace).write_json(&figures)?;
            if is_standard_output(json) {
                return Ok(());
            }
            note(&format!("wrote {}", json.display()));
        }
        if let [one] = chosen[..] {
            return say(&in_full(one));
        }
        if let Some(words) = name {
            let lines: String = chosen.iter().map(|effect| line(effect)).collect();
            return say(&format!(
                "Found by `{words}`, the nearest first (`underover effects NAME` for one in full):\n{lines}"
            ));
        }
        let list =
            |effects: &[Arc<Effect>]| -> String { effects.iter().map(|effect| line(effect)).collect() };
        say(&format!(
            "Effects (`underover effects NAME` for one in full):\n{}\nGenerated footage (--footage generated:NAME):\n{}",
            list(catalogue.effects()),
            list(catalogue.sources())
        ))
    }
}

impl Effects {
    /// The effect or footage of this name, or those that answer to the words.
    fn named<'a>(&self, catalogue: &'a Catalogue, words: &str) -> Result<Vec<&'a Effect>, WrongWords> {
        let lists = [catalogue.effects(), catalogue.sources()];
        let all = || lists.into_iter().flatten();
        if let Some(one) = all().find(|effect| effect.name == words) {
            return Ok(vec![one]);
        }
        let found: Vec<&Effect> =
            lists.into_iter().flat_map(|list| found(list, words)).map(AsRef::as_ref).collect();
        if !found.is_empty() {
            return Ok(found);
        }
        let near = lists.into_iter().find_map(|list| meant(list, words));
        Err(WrongWords(format!(
            "no effect and no generated footage is called `{words}`, or does that{} (known: {})",
            near.map_or_else(String::new, |near| format!("; did you mean `{near}`?")),
            listed(all().map(|effect| effect.name.as_str()))
        )))
    }
}

fn line(effect: &Effect) -> String {
    format!("  {:<16} {}\n", effect.name, effect.summary)
}

fn reach_words(effect: &Effect) -> String {
    let reach = match effect.reach {
        Reach::Texel => "looks at one pixel".to_owned(),
        Reach::Move => "moves pixels, unchanged".to_owned(),
        Reach::Neighbourhood { radius } => format!("looks at pixels up to {radius} away"),
        Reach::PastFrames => "looks at one pixel, and at what it gave there before".to_owned(),
        Reach::Source => "generated footage".to_owned(),
    };
    let channels = match effect.channels {
        Channels::Apart => "each channel by itself",
        Channels::Mixed => "channels mixed",
        Channels::Together => "all channels alike",
    };
    let position = match effect.position {
        Position::Ignored => "the same everywhere in the frame",
        Position::Matters => "depends on the place in the frame",
    };
    if effect.reach == Reach::Source { reach } else { format!("{reach}; {channels}; {position}") }
}

fn in_full(effect: &Effect) -> String {
    let mut text = format!("{}: {}\n  {}\n", effect.name, effect.summary, reach_words(effect));
    if !effect.also.is_empty() {
        text += &format!("  found as well by: {}\n", effect.also.join(", "));
    }
    for setting in &effect.settings {
        let space = match setting.kind {
            Kind::Colour => format!(" ({})", unit_of(&setting.kind)),
            _ => String::new(),
        };
        text += &format!(
            "\n  {:<10} {}\n             {}{space}, default {}\n",
            setting.name,
            setting.help,
            setting.kind.allowed(),
            setting.kind.written(&setting.default)
        );
    }
    for idle in &effect.idle {
        // What the program works out for itself has a name that only the shader knows.
        let when = match effect.setting(&idle.member) {
            Some(setting) => format!("when {} is {}", setting.name, idle.is),
            None => "while this holds".to_owned(),
        };
        text += &format!("\n  It changes nothing {when}: {}.\n", idle.because);
    }
    if effect.flashes {
        text += &format!("\n  {CAUTION}\n");
    }
    text
}

fn figures(effect: &Effect) -> Json {
    let settings: Vec<Json> = effect
        .settings
        .iter()
        .map(|setting| {
            let (kind, range) = match &setting.kind {
                Kind::Number { range, .. } => ("number", json!(range)),
                Kind::Whole { range, .. } => ("whole", json!(range)),
                Kind::Colour => ("colour", Json::Null),
                Kind::Choice(choices) => ("choice", json!(choices)),
            };
            json!({
                "name": setting.name, "label": setting.label, "help": setting.help, "kind": kind,
                "allowed": range, "unit": unit_of(&setting.kind),
                "default": setting.kind.written(&setting.default).trim_matches('"'),
            })
        })
        .collect();
    json!({
        "name": effect.name, "summary": effect.summary, "also": effect.also, "reach": reach_words(effect),
        "flashes": effect.flashes, "settings": settings,
    })
}
