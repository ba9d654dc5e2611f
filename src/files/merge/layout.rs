//! The tables of a changed text in their order.

use std::collections::HashMap;

use toml_edit::{Item, Table};

use super::leads::{Leads, Slots, prefix_of, slot_of};
use super::tables::path_of;

/// Puts the tables of the changed text into their order.
pub(super) struct Layout {
    pub(super) anchors: HashMap<String, (isize, isize)>,
    pub(super) ranks: HashMap<String, usize>,
    pub(super) slots: Slots,
    pub(super) leads: Leads,
    pub(super) next: isize,
    pub(super) tail: String,
}

impl Layout {
    pub(super) fn table(&mut self, table: &mut Table, path: &str) {
        // Blocks that have a place in the text, by that; each other one behind what a new file has before it.
        let mut anchored: Vec<((isize, isize), String, Option<usize>)> = Vec::new();
        let mut free: Vec<(usize, String, Option<usize>)> = Vec::new();
        for (key, item) in table.iter() {
            let here = path_of(path, key, None);
            let rank = self.ranks.get(&here).copied().unwrap_or(usize::MAX);
            match item {
                Item::Table(inner) => match first_position(inner) {
                    Some(position) => anchored.push(((position, 0), key.to_owned(), None)),
                    None => free.push((rank, key.to_owned(), None)),
                },
                Item::ArrayOfTables(list) => {
                    for at in 0..list.len() {
                        match self.anchors.get(&format!("{here}:{at}")) {
                            Some(anchor) => anchored.push((*anchor, key.to_owned(), Some(at))),
                            None => free.push((rank, key.to_owned(), Some(at))),
                        }
                    }
                }
                _ => {}
            }
        }
        anchored.sort();
        let mut blocks: Vec<(usize, String, Option<usize>)> = anchored
            .into_iter()
            .map(|(_, key, at)| {
                let rank = self.ranks.get(&path_of(path, &key, None)).copied().unwrap_or(usize::MAX);
                (rank, key, at)
            })
            .collect();
        free.sort();
        for block in free {
            let at = blocks.iter().rposition(|known| known.0 <= block.0).map_or(0, |at| at + 1);
            blocks.insert(at, block);
        }
        for (_, key, at) in blocks {
            let here = path_of(path, &key, at);
            let Some(item) = table.get_mut(&key) else { continue };
            let inner = match (item, at) {
                (Item::ArrayOfTables(list), Some(at)) => list.get_mut(at),
                (Item::Table(inner), _) => Some(inner),
                _ => None,
            };
            let Some(inner) = inner else { continue };
            if at.is_some() || !(inner.is_implicit() || inner.is_dotted()) {
                self.header(inner);
            }
            self.table(inner, &here);
        }
    }

    /// Gives a table its place and what stands before it.
    fn header(&mut self, table: &mut Table) {
        self.next += 1;
        let old = table.position();
        let slot = old.and_then(|old| slot_of(old, &self.slots));
        let attached = prefix_of(table.decor());
        let between = slot.and_then(|slot| self.leads.standing.remove(&slot));
        let between =
            between.unwrap_or_else(|| if self.leads.is_parted { "\n".to_owned() } else { String::new() });
        let rest = slot.map(|slot| self.leads.rest(slot)).unwrap_or_default();
        let between = match rest.ends_with("\n\n") {
            true => format!("{rest}{}", between.strip_prefix('\n').unwrap_or(&between)),
            false => rest + &between,
        };
        table.decor_mut().set_prefix(format!("{}{between}{attached}", self.tail));
        table.set_position(Some(self.next));
        self.tail = old.and_then(|old| self.leads.tails.remove(&old)).unwrap_or_default();
    }
}

/// Where the first header inside a table, or its own, stands in the text.
fn first_position(table: &Table) -> Option<isize> {
    let inside = table.iter().filter_map(|(_, item)| match item {
        Item::Table(table) => first_position(table),
        Item::ArrayOfTables(list) => list.iter().filter_map(first_position).min(),
        _ => None,
    });
    let own = table.position().filter(|_| !table.is_implicit() && !table.is_dotted());
    inside.chain(own).min()
}
