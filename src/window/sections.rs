//! The sections of the set in the window: which is looked at, what each shows, what can be done with them.

use std::sync::Arc;

use crate::show::running::OPEN_BEATS;
use crate::show::{RunningOrder, Section, Show};

/// A section as it stands in the strip: where it comes in the running order, or beside it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct InSection {
    /// Its place among the show's sections.
    pub section: usize,
    /// Which entry of the running order.
    pub entry: Option<usize>,
}

/// What is done with sections in the window, beside changes of the work.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum SectionAct {
    /// Looks at the show in a section, or as it stands.
    Go(Option<InSection>),
    /// Looks at the next section of the strip, or the one before.
    Step(isize),
    /// Looks at a section by its place in the strip.
    Nth(usize),
    /// Shows the settings of the section in place of those of what is selected, or those again.
    Settings(bool),
    /// Renames a section where it stands, or no longer.
    RenameHere(Option<InSection>),
    /// Adds a section that holds what shows now.
    Add,
    /// Plays the running order from the section that is looked at, or ends that.
    Rehearse(bool),
    /// While the running order is played: calls the next section, or the one before.
    Call(isize),
}

/// The shows that the sections make of the work.
#[derive(Debug, Clone, Default)]
pub struct SectionsSeen {
    /// The show in each of its sections, with the chains that these lay.
    pub stands: Vec<Arc<Show>>,
    /// What keeps a section from standing as its file says: a chain that is not there.
    pub troubles: Vec<Option<String>>,
    /// While the running order is played: where it stands.
    pub played: Option<Played>,
}

/// The running order as it is played.
#[derive(Debug, Clone, PartialEq)]
pub struct Played {
    /// The section that plays, or comes.
    pub now: InSection,
    /// Beats until the next begins to come, or the set is over; nothing while the section is open.
    pub left: Option<f64>,
    /// Beats since it began to come, and the share of its way that it has come.
    pub lasted: f64,
    pub share: f64,
    /// The section that comes next.
    pub next: Option<InSection>,
    /// Beats since the set began, and that it lasts in all, open sections at their usual length.
    pub set: [f64; 2],
    /// Whether the set is over.
    pub is_over: bool,
}

/// The sections as they stand in the strip: the running order, then those that it never comes to.
pub fn entries(show: &Show) -> Vec<InSection> {
    let order = show.running_order.iter().enumerate();
    let order = order.map(|(entry, &section)| InSection { section, entry: Some(entry) });
    let is_beside = |section: &usize| !show.running_order.contains(section);
    let beside = (0..show.sections.len()).filter(is_beside);
    order.chain(beside.map(|section| InSection { section, entry: None })).collect()
}

/// The section against whose state one is told: the one before it in the running order.
pub fn before(show: &Show, of: InSection) -> Option<InSection> {
    let entry = of.entry?.checked_sub(1)?;
    Some(InSection { section: *show.running_order.get(entry)?, entry: Some(entry) })
}

/// The running order with open sections at their usual length.
pub fn usual(show: &Show) -> Option<RunningOrder> {
    show.running(OPEN_BEATS)
}

/// How long a section lasts, in a word or two.
pub fn lasts(section: &Section) -> String {
    match section.beats {
        Some(1.0) => "1 beat".to_owned(),
        Some(beats) => format!("{beats} beats"),
        None => "open".to_owned(),
    }
}

impl InSection {
    /// The same section, wherever it is after a change of the show.
    pub fn followed(self, before: &Show, now: &Show) -> Option<Self> {
        let name = &before.sections.get(self.section)?.name;
        let is_as_many = before.sections.len() == now.sections.len();
        let section = now.section_named(name).or(is_as_many.then_some(self.section))?;
        let is_it = |entry: &usize| now.running_order.get(*entry) == Some(&section);
        let nearest = || {
            let far = |entry: &usize| self.entry.map_or(*entry, |own| entry.abs_diff(own));
            (0..now.running_order.len()).filter(is_it).min_by_key(far)
        };
        Some(Self { section, entry: self.entry.filter(is_it).or_else(nearest) })
    }
}
