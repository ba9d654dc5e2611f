//! The sections of a show in lines, for sheets and pages.

use crate::show::{RunningOrder, Section, Show};

/// A section of the set, to be set by hand.
#[derive(Debug, Clone, PartialEq)]
pub struct SectionLines {
    /// Its name, with when it comes and how long it lasts.
    pub heading: String,
    /// What it changes of the show as it stands, and its note.
    pub lines: Vec<String>,
}

/// The sections of a show, those of the running order by their first beats.
pub fn sections(show: &Show, running: Option<&RunningOrder>) -> Vec<SectionLines> {
    let lines = |(at, section): (usize, &Section)| {
        let legs = running.iter().flat_map(|running| &running.legs).filter(|leg| leg.section == at);
        let from: Vec<String> = legs.map(|leg| leg.from.to_string()).collect();
        let comes = if from.is_empty() { String::new() } else { format!(", at beat {}", from.join(", ")) };
        let mut lines = section.changes_said(show);
        if lines.is_empty() {
            lines.push("as the show stands".to_owned());
        }
        if !section.note.is_empty() {
            lines.push(section.note.clone());
        }
        SectionLines { heading: format!("{}: {}{comes}", section.name, section.time_said()), lines }
    };
    show.sections.iter().enumerate().map(lines).collect()
}
