//! `underover swaps`: the swap table of a chain.

use std::path::PathBuf;

use clap::Args;
use serde::Serialize;

use super::figures::{DifferenceFigures, SubjectFigures};
use super::output::{Output, Replace, check_outputs, check_places, figures_output, is_standard_output, say};
use super::subject::{Subject, SubjectOptions};
use crate::base::frame::Frame;
use crate::explore;
use crate::explore::swaps;
use crate::explore::swaps::{Answer, Swap};
use crate::order::LookLimits;
use crate::show::chain::labels;

/// The options of `swaps`.
#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  underover swaps preset:all-hands --footage photo.jpg --at 0.1
  underover swaps preset:night-ferry --scope bundle:picture --json swaps.json")]
pub(super) struct Swaps {
    #[command(flatten)]
    subject: SubjectOptions,
    /// The figures to write (`-` is standard output)
    #[arg(long, value_name = "FILE")]
    json: Option<PathBuf>,
    #[command(flatten)]
    replace: Replace,
}

#[derive(Serialize)]
struct Table<'a> {
    #[serde(flatten)]
    of: SubjectFigures<'a>,
    effects: &'a [String],
    /// Why nothing is seen of an effect where it stands, for those of which nothing is.
    unseen: &'a [String],
    pair: Vec<PairFigures>,
}

#[derive(Serialize)]
struct PairFigures {
    lower: usize,
    upper: usize,
    effects: [String; 2],
    /// `always`, `here` or `differs`.
    answer: &'static str,
    #[serde(flatten)]
    difference: Option<DifferenceFigures>,
    because: String,
}

impl Swaps {
    pub(super) fn run(&self) -> anyhow::Result<()> {
        let outputs = figures_output(self.json.as_deref(), self.replace);
        check_places(&outputs)?;
        let mut subject = self.subject.open(Frame { width: 640, height: 360 })?;
        check_outputs(&outputs)?;
        subject.keeps(3)?;
        let labels = labels(&subject.path.chain);
        let entries = swaps::answered(&mut subject.renderer, &subject.path)?;
        let parts = explore::parts(&mut subject.renderer, &subject.path, LookLimits::default())?;
        let unseen: Vec<String> = parts.into_iter().filter_map(|part| part.unseen).collect();
        if !self.json.as_deref().is_some_and(is_standard_output) {
            say(&text(&subject, &labels, &unseen, &entries))?;
        }
        if let Some(json) = &self.json {
            Output::figures(json, self.replace).write_json(&table(&subject, &labels, &unseen, &entries))?;
        }
        subject.closing_notes();
        Ok(())
    }
}

fn text(subject: &Subject, labels: &[String], unseen: &[String], entries: &[Swap]) -> String {
    let moment = &subject.path.moment;
    let mut text = format!(
        "{}, {}, beat {}, {}: each pair side by side, the one way and the other\n",
        subject.name, subject.footage, moment.beats, moment.frame
    );
    if entries.is_empty() {
        text += "A chain of one effect has no pairs.\n";
    }
    for unseen in unseen {
        text += &format!("{unseen}\n");
    }
    let name = |entry: &Swap| format!("{} / {}", labels[entry.pair.lower], labels[entry.pair.upper]);
    let mut heading = "";
    for entry in swaps::most_different_first(entries) {
        if entry.answer.heading() != heading {
            heading = entry.answer.heading();
            text += &format!("\n{heading}\n");
        }
        text += &format!("  {}\n", name(entry));
        if let Answer::Differs(difference) = &entry.answer {
            text += &format!("      {difference}\n");
        }
        text += &format!("      {}\n", entry.because);
    }
    text
}

fn table<'a>(
    subject: &'a Subject,
    labels: &'a [String],
    unseen: &'a [String],
    entries: &[Swap],
) -> Table<'a> {
    Table {
        of: subject.into(),
        effects: labels,
        unseen,
        pair: entries
            .iter()
            .map(|entry| PairFigures {
                lower: entry.pair.lower + 1,
                upper: entry.pair.upper + 1,
                effects: [entry.pair.lower, entry.pair.upper].map(|place| labels[place].clone()),
                answer: entry.answer.word(),
                difference: match &entry.answer {
                    Answer::Differs(difference) => Some(difference.into()),
                    Answer::Here | Answer::Always => None,
                },
                because: entry.because.clone(),
            })
            .collect(),
    }
}
