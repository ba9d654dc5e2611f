//! The running order of a show, opened to be rendered or looked at as a whole.

use std::str::FromStr;

use clap::Args;
use serde::Serialize;

use super::documents::Documents;
use super::subject::{Subject, SubjectOptions};
use super::{WrongWords, note};
use crate::base::place::listed;
use crate::files::Original;
use crate::plan::Running;
use crate::plan::memory::Needed;
use crate::readiness::caution;
use crate::show::Show;
use crate::show::running::OPEN_BEATS;
use crate::show::section::SECTION_BEATS;

/// How long what has no length lasts.
#[derive(Debug, Clone, Copy, Default, Args)]
pub(super) struct OpenSections {
    /// Beats that a section without a length lasts in the running order
    /// [default: 32]
    #[arg(long, value_name = "BEATS", value_parser = open_beats)]
    open_beats: Option<f64>,
}

fn open_beats(text: &str) -> Result<f64, String> {
    let [low, high] = SECTION_BEATS;
    match f64::from_str(text) {
        Ok(beats) if (low..=high).contains(&beats) => Ok(beats),
        _ => Err(format!("a number of beats from {low} to {high} is wanted, such as 32")),
    }
}

/// One section of the running order, as JSON gives it.
#[derive(Debug, Serialize)]
pub(super) struct LegFigures {
    section: String,
    from_beats: f64,
    to_beats: f64,
    fade_beats: f64,
    /// Whether its length was not in the show.
    is_open: bool,
}

impl OpenSections {
    /// Refuses the option where no running order is looked at.
    pub(super) fn unused(self) -> Result<(), WrongWords> {
        self.open_beats.map_or(Ok(()), |beats| {
            Err(WrongWords(format!(
                "--open-beats {beats}: it says how long sections last in the running order, which is not looked at here; leave it out"
            )))
        })
    }

    /// The running order of a show, with the show as it stands in each of its sections; none where it has none.
    pub(super) fn running(self, show: &Show, documents: &Documents) -> anyhow::Result<Option<Running>> {
        let beats = self.open_beats.unwrap_or(OPEN_BEATS);
        let Some(order) = show.running(beats) else { return Ok(None) };
        let mut open: Vec<&str> = Vec::new();
        for leg in order.legs.iter().filter(|leg| leg.is_open) {
            let name = show.sections[leg.section].name.as_str();
            if !open.contains(&name) {
                open.push(name);
            }
        }
        if !open.is_empty() {
            let have = if open.len() == 1 { "has" } else { "have" };
            note(&format!(
                "note: {} {have} no length; {beats} beats are taken (--open-beats says how many)",
                listed(open)
            ));
        }
        Running::of(order, |section| documents.in_section(show, section)).map(Some)
    }

    /// Opens the running order of the show that the options name.
    pub(super) fn open(self, options: &SubjectOptions) -> anyhow::Result<(Subject, Vec<LegFigures>)> {
        if options.names_scope() {
            return Err(WrongWords(
                "--scope: the running order is that of the whole output, to which every scope belongs; leave it out"
                    .to_owned(),
            )
            .into());
        }
        if let Some(name) = options.section() {
            return Err(WrongWords(format!(
                "--section {name}: the running order goes through all its sections; take one of the two"
            ))
            .into());
        }
        let documents = options.documents()?;
        let (show, original) = documents.show(options.file(), "only a show has a running order")?;
        let Some(running) = self.running(&show, &documents)? else {
            return Err(WrongWords(no_order(options.file(), &show)).into());
        };
        Ok((opened(options, &documents, original, &show, running.clone())?, figures(&show, &running)))
    }
}

fn no_order(file: &str, show: &Show) -> String {
    let names: Vec<&str> = show.sections.iter().map(|section| section.name.as_str()).collect();
    match names.len() {
        0 => format!(
            "--running-order: {file} has no sections; `underover edit section add` adds one, and `underover format show` has their keys"
        ),
        _ => format!(
            "--running-order: {file} says in no order how its sections come; `underover edit running-order {file} ...` does (it has {})",
            listed(names)
        ),
    }
}

fn opened(
    options: &SubjectOptions,
    documents: &Documents,
    original: Original,
    show: &Show,
    running: Running,
) -> anyhow::Result<Subject> {
    let frame = options.frame_or(show.frame);
    let needed = |show: &Show| Needed::of_show(show, frame, show.pixels);
    for pair in running.stands().windows(2) {
        needed(&pair[0]).and(needed(&pair[1])).within(options.allowed_mib())?;
    }
    let first = running.order().legs.first().map_or("", |leg| show.sections[leg.section].name.as_str());
    let options = options.in_section_named(first).in_scope("global");
    let mut subject = options.of_document(original, documents, show.frame)?;
    subject.name.clone_from(&show.name);
    subject.section = None;
    subject.footage = format!("the running order of {}", show.name);
    subject.caution = running.stands().iter().find_map(caution::of_show);
    subject.running = Some(running);
    subject.path = subject.path_at(subject.path.moment, true)?;
    Ok(subject)
}

/// The legs of a running order.
pub(super) fn figures(show: &Show, running: &Running) -> Vec<LegFigures> {
    let figures = |leg: &crate::show::running::Leg| LegFigures {
        section: show.sections[leg.section].name.clone(),
        from_beats: leg.from,
        to_beats: leg.to,
        fade_beats: leg.fade,
        is_open: leg.is_open,
    };
    running.order().legs.iter().map(figures).collect()
}
