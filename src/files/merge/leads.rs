//! What stands between tables: comments and blank lines around the headers of a text.

use std::collections::{HashMap, HashSet};

use toml_edit::{Decor, Item, RawString, Table};

/// The slots of old tables, by the place in the text where each stood; nothing where one came from another list.
pub(super) type Slots = HashMap<isize, Option<isize>>;

pub(super) fn prefix_of(decor: &Decor) -> String {
    decor.prefix().and_then(RawString::as_str).unwrap_or_default().to_owned()
}

/// The part of what stands before a line that is parted from it by a blank line.
pub(super) fn standing(before: &str) -> &str {
    let mut end = 0;
    let mut at = 0;
    for line in before.split_inclusive('\n') {
        at += line.len();
        if line.trim().is_empty() && line.ends_with('\n') {
            end = at;
        }
    }
    &before[..end]
}

/// The lines before the first blank one, where there is one.
fn tail(before: &str) -> &str {
    let mut at = 0;
    for line in before.split_inclusive('\n') {
        if line.trim().is_empty() && line.ends_with('\n') {
            return &before[..at];
        }
        at += line.len();
    }
    ""
}

/// Comments and blank lines around the headers of a text.
pub(super) struct Leads {
    /// What belongs to a table's own lines, behind them; by the table's place in the text.
    pub(super) tails: HashMap<isize, String>,
    /// What stands in a slot, whichever table follows.
    pub(super) standing: HashMap<isize, String>,
    pub(super) root_tail: String,
    pub(super) trailing: String,
    /// What stood in slots that are no more.
    pub(super) given_up: Vec<(isize, String)>,
    /// Whether tables are parted by blank lines.
    pub(super) is_parted: bool,
}

impl Leads {
    /// Takes what stands before each header apart; the table keeps what stands directly over it.
    pub(super) fn of(root: &mut Table, trailing: &str) -> Self {
        let mut headers: Vec<(isize, String)> = Vec::new();
        on_headers(root, &mut |table| {
            if let Some(position) = table.position() {
                let before = prefix_of(table.decor());
                let attached = before[standing(&before).len()..].to_owned();
                table.decor_mut().set_prefix(attached);
                headers.push((position, before));
            }
        });
        headers.sort_unstable();
        let mut leads = Self {
            tails: HashMap::new(),
            standing: HashMap::new(),
            root_tail: String::new(),
            trailing: trailing[tail(trailing).len()..].to_owned(),
            given_up: Vec::new(),
            is_parted: headers.is_empty(),
        };
        let mut above: Option<isize> = None;
        let last = (isize::MAX, trailing.to_owned());
        for (position, before) in headers.iter().chain([&last]) {
            let own = tail(before).to_owned();
            if *position != isize::MAX {
                let between = standing(before)[own.len()..].to_owned();
                leads.is_parted |= !between.is_empty();
                leads.standing.insert(*position, between);
            }
            match above {
                Some(above) => drop(leads.tails.insert(above, own)),
                None => leads.root_tail = own,
            }
            above = Some(*position);
        }
        leads
    }

    /// Gives up every slot in which nothing stands any more; comments that stood in it by themselves stay.
    pub(super) fn give_up(&mut self, root: &mut Table, slots: &Slots) {
        let mut used = HashSet::new();
        on_headers(root, &mut |table| used.extend(table.position().and_then(|own| slot_of(own, slots))));
        let left = self.standing.extract_if(|slot, _| !used.contains(slot));
        self.given_up = left.filter(|(_, text)| !text.trim().is_empty()).collect();
        self.given_up.sort_unstable();
    }

    /// What stood by itself before `position` and has not been written yet.
    pub(super) fn rest(&mut self, position: isize) -> String {
        let (before, after): (Vec<_>, Vec<_>) =
            std::mem::take(&mut self.given_up).into_iter().partition(|(at, _)| *at < position);
        self.given_up = after;
        before.into_iter().map(|(_, text)| text).collect()
    }
}

pub(super) fn slot_of(own: isize, slots: &Slots) -> Option<isize> {
    slots.get(&own).copied().unwrap_or(Some(own))
}

/// Visits every table that may have a header.
pub(super) fn on_headers(table: &mut Table, visit: &mut impl FnMut(&mut Table)) {
    for (_, item) in table.iter_mut() {
        match item {
            Item::Table(table) => {
                if !table.is_dotted() && !table.is_implicit() {
                    visit(table);
                }
                on_headers(table, visit);
            }
            Item::ArrayOfTables(list) => {
                for table in list.iter_mut() {
                    visit(table);
                    on_headers(table, visit);
                }
            }
            _ => {}
        }
    }
}
