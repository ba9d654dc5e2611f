//! `underover hands`: which control does what.

use std::path::PathBuf;

use clap::Args;

use super::documents::{Documents, read_here};
use super::output::{Output, Replace, check_outputs, check_places, figures_output, is_standard_output, say};
use super::{WrongWords, note};
use crate::files::Document;
use crate::hands::{Map, MapControl, svg};
use crate::show::control::Hand;

/// The options of `hands`.
#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  underover hands preset:night-crossing
  underover hands friday.toml --out map.svg

A hand plays one control at a time and has a beat to get to the next: where the cues of two \
controls of one hand lie less than a beat apart, the map says so, with the beat's length at the show's tempo.")]
pub(super) struct Hands {
    /// A show file, or `preset:NAME`
    #[arg(value_parser = read_here)]
    file: String,
    /// The map as a sheet to print
    #[arg(long, value_name = "MAP.svg")]
    out: Option<PathBuf>,
    /// The figures to write (`-` is standard output)
    #[arg(long, value_name = "FILE")]
    json: Option<PathBuf>,
    /// A folder of .wgsl files: effects of your own
    #[arg(long, value_name = "FOLDER")]
    effects: Option<PathBuf>,
    #[command(flatten)]
    replace: Replace,
}

impl Hands {
    pub(super) fn run(&self) -> anyhow::Result<()> {
        let sheet = self.out.iter().map(|path| Output::made("--out", path, "svg", self.replace));
        let outputs: Vec<Output> = sheet.chain(figures_output(self.json.as_deref(), self.replace)).collect();
        check_places(&outputs)?;
        let show = match Documents::tried(self.effects.as_deref(), None)?.read(&self.file)? {
            Document::Show(show) => show,
            Document::Chain(_) => {
                return Err(WrongWords(format!(
                    "{} is a chain, and only a show has controls; name a show",
                    self.file
                ))
                .into());
            }
        };
        check_outputs(&outputs)?;
        let map = Map::of(&show);
        if let Some(out) = &self.out {
            Output::made("--out", out, "svg", self.replace).write(svg(&map).as_bytes())?;
            note(&format!("wrote {}", out.display()));
        }
        if let Some(json) = &self.json {
            Output::figures(json, self.replace).write_json(&map)?;
            if is_standard_output(json) {
                return Ok(());
            }
            note(&format!("wrote {}", json.display()));
        }
        say(&in_words(&map))
    }
}

fn in_words(map: &Map) -> String {
    let mut text = format!(
        "{}: {} BPM, one beat {:.1} ms, {} frames per second\n",
        map.show, map.tempo_bpm, map.beat_ms, map.rate
    );
    if map.control.is_empty() {
        text += "It has no controls; each is written under a line [[control]].\n";
    }
    for hand in Hand::ALL {
        let played: Vec<&MapControl> = map.control.iter().filter(|c| c.hand == hand.name()).collect();
        if !played.is_empty() {
            text += &format!("\n{} hand\n", if hand == Hand::Left { "Left" } else { "Right" });
        }
        for control in played {
            let key = control.key.as_ref().map(|key| format!("key {key}"));
            let played: Vec<String> = [key, control.midi.clone()].into_iter().flatten().collect();
            let colour = control.colour.map_or_else(String::new, |colour| format!(", {colour}"));
            text += &format!("  {} ({}{colour})  {}\n", control.name, control.kind, played.join(", "));
            if let Some(cue) = &control.cue {
                text += &format!("      {cue}\n");
            }
            for moved in &control.moves {
                text += &format!(
                    "      {} {} on {}: {} to {}, {}\n",
                    moved.address.effect,
                    moved.address.setting,
                    moved.address.scope,
                    moved.low,
                    moved.high,
                    moved.curve
                );
            }
            for fired in &control.fires {
                text += &format!(
                    "      {} {} on {}: fires its envelope\n",
                    fired.effect, fired.setting, fired.scope
                );
            }
        }
    }
    if !map.warning.is_empty() {
        text.push('\n');
    }
    for warning in &map.warning {
        text += &format!("look again: {warning}\n");
    }
    text
}
