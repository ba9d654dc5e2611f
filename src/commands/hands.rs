//! `underover hands`: which control does what.

use std::path::PathBuf;

use clap::Args;

use super::documents::{Documents, read_here};
use super::output::{Output, Replace, check_outputs, check_places, figures_output, is_standard_output, say};
use super::{WrongWords, note};
use crate::base::place::capital;
use crate::files::Document;
use crate::hands::{Map, MapControl, svg};
use crate::show::control::{Hand, REACH_MS};

/// The options of `hands`.
#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  underover hands preset:night-crossing
  underover hands friday.toml --out map.svg

A hand plays one control at a time, and takes the show's `reach_ms` to get to the next (250 ms where the show says \
nothing; common practice, no source): where it has less from the end of one cue to the beginning of another, the map \
says so. What lies next to each other (`at = [column, row]` of a control) one hand plays at once. A control for `either` \
hand is played by one that is free. Cues are looked at along the running order, where there is one, otherwise over 256 beats.")]
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
    /// Whether one hand can play all of it, too
    #[arg(long)]
    one_handed: bool,
    /// How long a hand takes from one control to another, in milliseconds, in place of what the show says
    #[arg(long, value_name = "MS", value_parser = reach)]
    reach: Option<f64>,
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
        let mut show = match Documents::tried(self.effects.as_deref(), None)?.read(&self.file)? {
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
        show.reach_ms = self.reach.unwrap_or(show.reach_ms);
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
        say(&in_words(&map))?;
        if self.one_handed { say(&one_handed(&map)) } else { Ok(()) }
    }
}

fn reach(text: &str) -> Result<f64, String> {
    let [low, high] = REACH_MS;
    let reach = text.parse::<f64>().ok().filter(|reach| (low..=high).contains(reach));
    reach.ok_or_else(|| format!("a number of milliseconds from {low} to {high} is wanted, such as 250"))
}

/// What one hand alone cannot do.
fn one_handed(map: &Map) -> String {
    if map.one_handed.is_empty() {
        return "\nWith one hand alone: every cue can be played.\n".to_owned();
    }
    let lines: String = map.one_handed.iter().map(|said| format!("  {said}\n")).collect();
    format!("\nWith one hand alone:\n{lines}")
}

fn in_words(map: &Map) -> String {
    let mut text = format!(
        "{}: {} BPM, one beat {:.1} ms, {} frames per second, {} ms from one control to another\n",
        map.show, map.tempo_bpm, map.beat_ms, map.rate, map.reach_ms
    );
    if map.control.is_empty() {
        text += "It has no controls; each is written under a line [[control]].\n";
    }
    for hand in Hand::ALL {
        let played: Vec<&MapControl> = map.control.iter().filter(|c| c.hand == hand.name()).collect();
        if !played.is_empty() {
            text += &format!("\n{} hand\n", capital(hand.name()));
        }
        for control in played {
            let key = control.key.as_ref().map(|key| format!("key {key}"));
            let at = control.at.map(|[column, row]| format!("column {column}, row {row}"));
            let played: Vec<String> = [key, control.midi.clone(), at].into_iter().flatten().collect();
            let colour = control.colour.map_or_else(String::new, |colour| format!(", {colour}"));
            text += &format!("  {} ({}{colour})  {}\n", control.name, control.kind, played.join(", "));
            if let Some(cue) = &control.cue {
                text += &format!("      {cue}\n");
            }
            for moved in &control.moves {
                text += &format!("      {}: {}\n", moved.address.said(), moved.range_said());
            }
            for fired in &control.fires {
                text += &format!("      {}: fires its envelope\n", fired.said());
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
