//! Entries of a text changed to say what a document says now.

use std::collections::HashMap;

use toml_edit::{Array, ArrayOfTables, Decor, InlineTable, Item, Key, Table, TableLike, Value};

use super::leads::{Slots, prefix_of, standing};
use super::tables::{
    EFFECT, PLACE, at_path, is_list, length, list_of, meaning, meaning_of_value, path_of, tables_in,
};

pub(super) struct Merge<'a> {
    pub(super) text: &'a Table,
    pub(super) old: &'a Table,
    pub(super) from: HashMap<String, String>,
    /// Where in the text a table of a list comes: at the slot of an old one, and how far behind it.
    pub(super) anchors: HashMap<String, (isize, isize)>,
    /// In which order lists stand that the text lacks.
    pub(super) ranks: HashMap<String, usize>,
    pub(super) slots: Slots,
}

type Entries = Vec<(Key, Item)>;

impl<'a> Merge<'a> {
    /// The entries of a table as they are to be, from those in the text; `from` is the path of the table in the text.
    pub(super) fn entries(
        &mut self,
        text: &dyn TableLike,
        old: Option<&dyn TableLike>,
        complete: &dyn TableLike,
        plain: &dyn TableLike,
        path: &str,
        from: Option<&str>,
    ) -> Option<Entries> {
        let mut entries = entries_of(text);
        // What is said no more.
        let is_gone = |key: &str| !complete.contains_key(key) && old.is_some_and(|old| old.contains_key(key));
        let mut carried = String::new();
        entries.retain_mut(|(key, _)| {
            if is_gone(key.get()) {
                carried += standing(&prefix_of(key.leaf_decor()));
                return false;
            }
            if !carried.is_empty() {
                let prefix = std::mem::take(&mut carried) + &prefix_of(key.leaf_decor());
                key.leaf_decor_mut().set_prefix(prefix);
            }
            true
        });
        for (rank, (key, now)) in complete.iter().enumerate() {
            let here = path_of(path, key, None);
            self.ranks.insert(here.clone(), rank);
            let was = old.and_then(|old| old.get(key));
            let usual = plain.get(key);
            let at = entries.iter().position(|(known, _)| known.get() == key);
            if is_list(now) || was.is_some_and(is_list) {
                let there = from.map(|from| path_of(from, key, None));
                let list =
                    self.list(at.map(|at| &entries[at].1), was, now, usual?, &here, there.as_deref())?;
                match (at, list) {
                    (Some(at), Some(list)) => entries[at].1 = list,
                    (Some(at), None) => drop(entries.remove(at)),
                    (None, Some(list)) => add(&mut entries, plain, key, list),
                    (None, None) => {}
                }
                continue;
            }
            if let (Item::Table(now), Some(Item::Table(usual))) = (now, usual) {
                let empty = Table::new();
                let mut table = at.map(|at| entries[at].1.clone());
                let text = table.as_ref().map_or(Some(&empty as &dyn TableLike), Item::as_table_like)?;
                let was = was.and_then(Item::as_table_like);
                let there = from.filter(|_| at.is_some()).map(|from| path_of(from, key, None));
                let inner = self.entries(text, was, now, usual, &here, there.as_deref())?;
                match (&mut table, at) {
                    (Some(table), Some(at)) => {
                        put_entries(table, inner)?;
                        entries[at].1 = table.clone();
                    }
                    _ => {
                        let mut table = Table::new();
                        table.set_implicit(true);
                        set_entries(&mut table, inner);
                        add(&mut entries, plain, key, Item::Table(table));
                    }
                }
                continue;
            }
            let is_same = was.is_some_and(|was| meaning(was) == meaning(now));
            match at {
                Some(at) => {
                    let (known, item) = &mut entries[at];
                    let over = over(item);
                    // A grip that names its effect by its place names another one once that has moved.
                    let place = complete.get(PLACE).filter(|_| key == EFFECT && item.is_integer());
                    match place {
                        Some(place) if meaning(place) != meaning(item) => set(item, place)?,
                        Some(_) => {}
                        None if is_same => {}
                        None => self.change(item, was, now, usual, &here)?,
                    }
                    if let (Some(over), true) = (over, item.is_value()) {
                        *known.leaf_decor_mut() = Decor::new(over, " ");
                    }
                }
                None if is_same => {}
                None => {
                    if let Some(usual) = usual {
                        add(&mut entries, plain, key, usual.clone());
                    }
                }
            }
        }
        Some(entries)
    }

    /// Sets one value, or what differs inside it.
    fn change(
        &mut self,
        item: &mut Item,
        was: Option<&Item>,
        now: &Item,
        usual: Option<&Item>,
        path: &str,
    ) -> Option<()> {
        let tables = (
            item.as_table_like(),
            was.and_then(Item::as_table_like),
            now.as_table_like(),
            usual.and_then(Item::as_table_like),
        );
        if let (Some(text), Some(was), Some(now), Some(usual)) = tables {
            let entries = self.entries(text, Some(was), now, usual, path, None)?;
            return put_entries(item, entries);
        }
        set(item, usual.unwrap_or(now))
    }

    /// A list of tables as it is to be; nothing where it is empty.
    fn list(
        &mut self,
        text: Option<&Item>,
        was: Option<&Item>,
        now: &Item,
        usual: &Item,
        path: &str,
        from: Option<&str>,
    ) -> Option<Option<Item>> {
        let complete = tables_in(Some(now));
        let plain = tables_in(Some(usual));
        if text.map_or(0, length) != tables_in(was).len() || complete.len() != plain.len() {
            return None;
        }
        if complete.is_empty() {
            return Some(None);
        }
        let inline = text.and_then(Item::as_array);
        let mut tables = Vec::new();
        for (at, (complete, plain)) in complete.into_iter().zip(plain).enumerate() {
            let here = format!("{path}:{at}");
            let there = self.from.get(&here).cloned();
            let is_of_list = there.as_deref().is_some_and(|there| Some(list_of(there)) == from);
            let old: Option<&'a Table> = match &there {
                Some(there) => Some(at_path(self.old, there, None)?.0?),
                None => None,
            };
            let found = match &there {
                Some(there) => Some(at_path(self.text, there, Some(self.old))?),
                None => None,
            };
            let table = match found {
                Some((Some(table), _)) => {
                    let mut table = table.clone();
                    let entries = self.entries(
                        &table.clone(),
                        old.map(|old| old as &dyn TableLike),
                        complete,
                        plain,
                        &here,
                        there.as_deref(),
                    )?;
                    set_entries(&mut table, entries);
                    Item::Table(table)
                }
                Some((None, Some(inline))) => {
                    let mut value = Item::Value(Value::InlineTable(inline.clone()));
                    let old = old.map(|old| old as &dyn TableLike);
                    let entries = self.entries(inline, old, complete, plain, &here, there.as_deref())?;
                    put_entries(&mut value, entries)?;
                    value
                }
                _ => {
                    let mut table = Table::new();
                    let entries = self.entries(&Table::new(), None, complete, plain, &here, None)?;
                    set_entries(&mut table, entries);
                    Item::Table(table)
                }
            };
            tables.push((here, is_of_list, table));
        }
        if let Some(inline) = inline {
            return inline_list(inline, tables.into_iter().map(|(.., table)| table)).map(Some);
        }
        self.place(text, &tables);
        let mut list = ArrayOfTables::new();
        for (.., table) in tables {
            list.push(match table {
                Item::Table(table) => table,
                other => other.into_table().ok()?,
            });
        }
        Some(Some(Item::ArrayOfTables(list)))
    }

    /// Gives each table of a list its slot: those that were there share the slots that they had, in their new order;
    /// one that is new stands behind the one before it.
    fn place(&mut self, text: Option<&Item>, tables: &[(String, bool, Item)]) {
        let position = |item: &Item| item.as_table().and_then(Table::position);
        let mut slots: Vec<isize> = tables
            .iter()
            .filter(|(_, is_of_list, _)| *is_of_list)
            .filter_map(|(.., item)| position(item))
            .collect();
        slots.sort_unstable();
        let first =
            slots.first().copied().or_else(|| tables_in(text).first().and_then(|table| table.position()));
        let mut slots = slots.into_iter();
        let new = tables.iter().take_while(|(_, is_of_list, _)| !is_of_list).count() as isize;
        let mut last = first.map(|first| (first, -new - 1));
        for (path, is_of_list, item) in tables {
            if let (true, Some(own), Some(slot)) =
                (*is_of_list, position(item), slots.as_slice().first().copied())
            {
                slots.next();
                self.slots.insert(own, Some(slot));
                last = Some((slot, 0));
            } else {
                self.slots.extend(position(item).map(|own| (own, None)));
                last = last.map(|(slot, behind)| (slot, behind + 1));
            }
            if let Some(last) = last {
                self.anchors.insert(path.clone(), last);
            }
        }
    }
}

fn entries_of(table: &dyn TableLike) -> Entries {
    let keys: Vec<String> = table.iter().map(|(key, _)| key.to_owned()).collect();
    keys.iter()
        .filter_map(|key| table.get_key_value(key))
        .map(|(key, item)| (key.clone(), item.clone()))
        .collect()
}

pub(super) fn set_entries(table: &mut Table, entries: Entries) {
    table.clear();
    for (key, item) in entries {
        table.insert_formatted(&key, item);
    }
}

/// Puts entries into a table, however it is written.
fn put_entries(item: &mut Item, entries: Entries) -> Option<()> {
    if let Some(table) = item.as_table_mut() {
        set_entries(table, entries);
        return Some(());
    }
    let table = item.as_inline_table_mut()?;
    let keys = |table: &InlineTable| -> Vec<String> { table.iter().map(|(key, _)| key.to_owned()).collect() };
    let before = keys(table);
    let is_one_line = !table.to_string().contains('\n');
    table.clear();
    for (key, item) in entries {
        let value = item.into_value().ok()?;
        table.insert_formatted(&key, value);
    }
    // The space before the closing brace stands behind the last value.
    if is_one_line && keys(table) != before {
        table.fmt();
    }
    Some(())
}

/// Adds an entry where a new file has it: behind the nearest of those before it.
fn add(entries: &mut Entries, plain: &dyn TableLike, key: &str, item: Item) {
    let before: Vec<&str> = plain.iter().map(|(known, _)| known).take_while(|known| *known != key).collect();
    let behind = before.iter().rev().find_map(|before| {
        entries.iter().position(|(known, item)| known.get() == *before && item.is_value())
    });
    let at = behind.map_or(0, |behind| behind + 1);
    let mut new = Key::new(key);
    let neighbour = entries.get(behind.unwrap_or(0)).filter(|(_, item)| item.is_value());
    if let Some((neighbour, _)) = neighbour {
        let prefix = prefix_of(neighbour.leaf_decor());
        let indent = prefix.rsplit('\n').next().unwrap_or_default();
        if indent.trim().is_empty() && !indent.is_empty() {
            new.leaf_decor_mut().set_prefix(indent);
        }
    }
    let mut item = item;
    if let Some(value) = item.as_value_mut() {
        value.decor_mut().clear();
    }
    if let (Item::Table(_) | Item::ArrayOfTables(_), true) = (&item, behind.is_none()) {
        return entries.push((new, item));
    }
    entries.insert(at, (new, item));
}

/// What stands over a table with a header or dotted keys of its own, which are no line of the table around it.
fn over(item: &Item) -> Option<String> {
    let table = item.as_table()?;
    let first = table.iter().next().and_then(|(key, _)| table.key(key));
    Some(match first {
        Some(first) if table.is_dotted() => prefix_of(first.leaf_decor()),
        _ => prefix_of(table.decor()),
    })
}

/// Sets a value and leaves what stands around it.
fn set(item: &mut Item, now: &Item) -> Option<()> {
    if let (Some(list), Some(new)) = (item.as_array_mut(), now.as_array()) {
        set_list(list, new);
        return Some(());
    }
    let mut new = now.clone().into_value().ok()?;
    match item.as_value() {
        Some(old) => *new.decor_mut() = old.decor().clone(),
        None => new.decor_mut().clear(),
    }
    *item = Item::Value(new);
    Some(())
}

/// Sets the values of a list; those that stay keep what stands around them.
fn set_list(list: &mut Array, new: &Array) {
    let old: Vec<Value> = list.iter().cloned().collect();
    let mut is_taken = vec![false; old.len()];
    let plain =
        old.first().map(|first| first.decor().clone()).filter(|decor| !prefix_of(decor).contains('#'));
    list.clear();
    for (at, value) in new.iter().enumerate() {
        let same = (0..old.len())
            .find(|&from| !is_taken[from] && meaning_of_value(&old[from]) == meaning_of_value(value));
        let mut value = value.clone();
        match same {
            Some(from) => {
                is_taken[from] = true;
                value = old[from].clone();
            }
            None if old.len() == new.len() => *value.decor_mut() = old[at].decor().clone(),
            None => match (&plain, at) {
                (Some(plain), _) if prefix_of(plain).contains('\n') => *value.decor_mut() = plain.clone(),
                _ => value.decor_mut().clear(),
            },
        }
        list.push_formatted(value);
    }
}

fn inline_list(text: &Array, tables: impl Iterator<Item = Item>) -> Option<Item> {
    let mut list = text.clone();
    let indent = text.get(0).map(|first| prefix_of(first.decor()));
    let indent =
        indent.map(|prefix| prefix.rsplit_once('\n').map_or(String::new(), |(_, last)| format!("\n{last}")));
    list.clear();
    for table in tables {
        let is_new = table.is_table();
        let mut value = table.into_value().ok()?;
        if let (true, Some(indent)) = (is_new, &indent) {
            value.decor_mut().set_prefix(indent.as_str());
        }
        list.push_formatted(value);
    }
    Some(Item::Value(Value::Array(list)))
}
