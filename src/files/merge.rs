//! A document written into the text that it was read from: what differs is changed, all else stays as a person wrote
//! it, comments, blank lines and the order of keys with it.
//!
//! Three renderings say what differs: the document as it was read and as it is now, both complete, every default
//! written out, and as it is now in plain, as a new file would have it. A key that says the same in both complete
//! renderings is left alone however it is written; one that differs is set; one that the text lacks is added where the
//! plain rendering has it.

use std::collections::{HashMap, HashSet};

use toml_edit::{
    Array, ArrayOfTables, Decor, DocumentMut, InlineTable, Item, Key, RawString, Table, TableLike, Value,
};

use crate::show::Scope;

/// What a rendering of a grip has beside the effect's label: its place, by which a text may name it.
pub(super) const PLACE: &str = "place";
/// The key of an effect's name in a grip.
const EFFECT: &str = "effect";
/// The key of an effect's mark.
const MARK: &str = "mark";
/// Most pairs of elements that are compared one by one.
const MOST_PAIRS: usize = 250_000;
/// Tables that have so much in common, in thousandths, are one thing changed: in one list, and in two.
const ALIKE: [usize; 2] = [150, 500];

/// A document rendered as TOML.
pub(super) struct Rendered {
    /// With every default.
    pub complete: String,
    /// As a new file has it.
    pub plain: String,
}

/// The `text` of `old`, changed to say `new`; `None` where the one does not lie on the other.
pub(super) fn merged(text: &str, old: &Rendered, new: &Rendered) -> Option<String> {
    let mut document: DocumentMut = text.parse().ok()?;
    let parsed = |text: &str| text.parse::<DocumentMut>().ok().map(DocumentMut::into_table);
    let (old_complete, old_plain) = (parsed(&old.complete)?, parsed(&old.plain)?);
    let (complete, plain) = (parsed(&new.complete)?, parsed(&new.plain)?);

    let mut pairs = Pairs::default();
    pairs.children(&old_plain, &plain, "", "");
    pairs.moved();
    let trailing = document.trailing().as_str().unwrap_or_default().to_owned();
    let mut leads = Leads::of(document.as_table_mut(), &trailing);
    let mut merge = Merge {
        text: document.as_table(),
        old: &old_complete,
        from: pairs.from,
        anchors: HashMap::new(),
        ranks: HashMap::new(),
        slots: HashMap::new(),
    };
    let mut root = merge.text.clone();
    let entries = merge.entries(&root, Some(&old_complete), &complete, &plain, "", Some(""))?;
    set_entries(&mut root, entries);
    let Merge { anchors, ranks, slots, .. } = merge;
    leads.give_up(&mut root, &slots);
    let mut layout = Layout { anchors, ranks, slots, leads, next: 0, tail: String::new() };
    layout.tail = layout.leads.root_tail.clone();
    layout.table(&mut root, "");
    let trailing = format!("{}{}", layout.tail, layout.leads.rest(isize::MAX) + &layout.leads.trailing);
    let mut document = DocumentMut::from(root);
    document.set_trailing(trailing);
    Some(document.to_string())
}

/// The chain of a scope of a show's `text`, with the comments of its effects, behind the `head` of a chain file.
pub(super) fn chain_in(text: &str, scope: Scope, head: &str) -> Option<String> {
    let text = text.strip_prefix('\u{feff}').unwrap_or(text).replace("\r\n", "\n");
    let mut document: DocumentMut = text.parse().ok()?;
    let trailing = document.trailing().as_str().unwrap_or_default().to_owned();
    let leads = Leads::of(document.as_table_mut(), &trailing);
    let path = match scope {
        Scope::Global => "/global".to_owned(),
        Scope::Bundle(b) => format!("/bundle:{b}"),
        Scope::Level(b, l) => format!("/bundle:{b}/level:{l}"),
        Scope::Clip(b, l, c) => format!("/bundle:{b}/level:{l}/clip:{c}"),
    };
    let effects = match at_path(document.as_table(), &path, None) {
        Some((Some(table), _)) => table.get(EFFECT).cloned(),
        Some((_, Some(table))) => table.get_key_value(EFFECT).map(|(_, item)| item.clone()),
        _ => None,
    };
    let mut chain: DocumentMut = head.parse().ok()?;
    if let Some(effects) = effects {
        chain.insert(EFFECT, effects);
    }
    let mut tail = String::new();
    on_headers(chain.as_table_mut(), &mut |table| {
        let attached = prefix_of(table.decor());
        table.decor_mut().set_prefix(format!("{tail}\n{attached}"));
        let own = table.position().and_then(|own| leads.tails.get(&own));
        tail = own.cloned().unwrap_or_default();
    });
    chain.set_trailing(tail);
    Some(chain.to_string())
}

fn path_of(parent: &str, key: &str, at: Option<usize>) -> String {
    match at {
        Some(at) => format!("{parent}/{key}:{at}"),
        None => format!("{parent}/{key}"),
    }
}

/// The list that an element is in: its path without its place.
fn list_of(path: &str) -> &str {
    path.rsplit_once(':').map_or(path, |(list, _)| list)
}

// What became of what.

/// A table without a counterpart: its kind, its path, itself.
type Single<'a> = (&'a str, String, &'a Table);

/// Tables of the new document, by their paths, with the paths of the old ones that they were.
#[derive(Default)]
struct Pairs<'a> {
    from: HashMap<String, String>,
    gone: Vec<Single<'a>>,
    come: Vec<Single<'a>>,
}

impl<'a> Pairs<'a> {
    fn children(&mut self, old: &'a Table, new: &'a Table, old_path: &str, new_path: &str) {
        let keys = new.iter().map(|(key, _)| key).chain(old.iter().map(|(key, _)| key));
        let mut done = HashSet::new();
        for key in keys.filter(|key| done.insert(*key)) {
            let (before, after) = (old.get(key), new.get(key));
            let table = |item: Option<&'a Item>| item.and_then(Item::as_table);
            match (table(before), table(after)) {
                (Some(before), Some(after)) => {
                    self.children(
                        before,
                        after,
                        &path_of(old_path, key, None),
                        &path_of(new_path, key, None),
                    );
                }
                (Some(before), None) => inside(before, &path_of(old_path, key, None), &mut self.gone),
                (None, Some(after)) => inside(after, &path_of(new_path, key, None), &mut self.come),
                (None, None) => self.list(key, tables_in(before), tables_in(after), [old_path, new_path]),
            }
        }
    }

    fn list(&mut self, kind: &'a str, old: Vec<&'a Table>, new: Vec<&'a Table>, paths: [&str; 2]) {
        let of = counterparts(kind, &old, &new, true);
        for (at, (&table, of)) in new.iter().zip(&of).enumerate() {
            let path = path_of(paths[1], kind, Some(at));
            match of {
                Some(from) => self.pair(old[*from], table, path_of(paths[0], kind, Some(*from)), path),
                None => {
                    inside(table, &path, &mut self.come);
                    self.come.push((kind, path, table));
                }
            }
        }
        for (at, &table) in old.iter().enumerate().filter(|(at, _)| !of.contains(&Some(*at))) {
            let path = path_of(paths[0], kind, Some(at));
            inside(table, &path, &mut self.gone);
            self.gone.push((kind, path, table));
        }
    }

    fn pair(&mut self, old: &'a Table, new: &'a Table, old_path: String, new_path: String) {
        self.children(old, new, &old_path, &new_path);
        self.from.insert(new_path, old_path);
    }

    /// Pairs what went from one scope to another: first what holds other tables, the outermost first.
    fn moved(&mut self) {
        let mut kinds: Vec<(bool, usize, &str)> = Vec::new();
        for (kind, path, table) in &self.come {
            let is_plain = !table.iter().any(|(_, item)| item.is_array_of_tables());
            let rank = (is_plain, path.matches('/').count(), *kind);
            match kinds.iter_mut().find(|(.., known)| known == kind) {
                Some(known) => *known = rank.min(*known),
                None => kinds.push(rank),
            }
        }
        kinds.sort_unstable();
        for (.., kind) in kinds {
            let of_kind = |all: &[Single<'a>]| -> Vec<Single<'a>> {
                let mut singles: Vec<Single<'a>> =
                    all.iter().filter(|(known, ..)| *known == kind).cloned().collect();
                singles.sort_by(|a, b| a.1.cmp(&b.1));
                singles
            };
            let (gone, come) = (of_kind(&self.gone), of_kind(&self.come));
            let tables =
                |all: &[Single<'a>]| -> Vec<&'a Table> { all.iter().map(|(.., table)| *table).collect() };
            let found = counterparts(kind, &tables(&gone), &tables(&come), false);
            for (from, (_, new_path, new)) in found.into_iter().zip(&come) {
                let Some((_, old_path, old)) = from.map(|from| &gone[from]) else { continue };
                let is_other = |path: &str, paired: &str| {
                    !path.strip_prefix(paired).is_some_and(|rest| rest.is_empty() || rest.starts_with('/'))
                };
                // An effect of a level that went has stayed behind, or gone elsewhere by itself.
                let is_free =
                    |path: &str, from: &HashMap<String, String>| !from.values().any(|known| known == path);
                if !self.come.iter().any(|(_, path, _)| path == new_path) || !is_free(old_path, &self.from) {
                    continue;
                }
                self.gone.retain(|(_, path, _)| is_other(path, old_path));
                self.come.retain(|(_, path, _)| is_other(path, new_path));
                self.pair(old, new, old_path.clone(), new_path.clone());
            }
        }
    }
}

fn tables_in(item: Option<&Item>) -> Vec<&Table> {
    item.and_then(Item::as_array_of_tables).map(|list| list.iter().collect()).unwrap_or_default()
}

/// Adds every table of a list in `table`, at any depth.
fn inside<'a>(table: &'a Table, path: &str, all: &mut Vec<Single<'a>>) {
    for (key, item) in table {
        if let Some(one) = item.as_table() {
            inside(one, &path_of(path, key, None), all);
        }
        for (at, one) in tables_in(Some(item)).into_iter().enumerate() {
            let path = path_of(path, key, Some(at));
            inside(one, &path, all);
            all.push((key, path, one));
        }
    }
}

/// For each new table the old one that it was, by its place in `old`.
fn counterparts(kind: &str, old: &[&Table], new: &[&Table], in_one_list: bool) -> Vec<Option<usize>> {
    let said =
        |tables: &[&Table]| -> Vec<String> { tables.iter().map(|table| said_but_mark(table)).collect() };
    let (before, after) = (said(old), said(new));
    let mut of: Vec<Option<usize>> = vec![None; new.len()];
    let mut is_taken = vec![false; old.len()];
    // An effect is known by its mark.
    if kind == EFFECT && in_one_list {
        let mark = |tables: &[&Table], at: usize| {
            tables[at].get(MARK).and_then(Item::as_integer).unwrap_or(at as i64 + 1)
        };
        for at in 0..new.len() {
            let is_it = |from: &usize| mark(old, *from) == mark(new, at) && can_be(kind, old[*from], new[at]);
            if let Some(from) = (0..old.len()).find(|from| !is_taken[*from] && is_it(from)) {
                (of[at], is_taken[from]) = (Some(from), true);
            }
        }
    }
    // What is the same stays with its place, or with its order.
    for at in 0..new.len().min(old.len()) {
        if before[at] == after[at] && in_one_list && of[at].is_none() && !is_taken[at] {
            (of[at], is_taken[at]) = (Some(at), true);
        }
    }
    let names = |tables: &[&Table], key: &str| -> Vec<Option<String>> {
        tables.iter().map(|table| table.get(key).and_then(Item::as_str).map(str::to_owned)).collect()
    };
    let keys = [
        (before.iter().cloned().map(Some).collect(), after.iter().cloned().map(Some).collect()),
        (names(old, "name"), names(new, "name")),
    ];
    for (which, (before, after)) in keys.iter().enumerate() {
        let mut free: HashMap<&str, Vec<usize>> = HashMap::new();
        for (at, key) in before.iter().enumerate().rev().filter(|(at, _)| !is_taken[*at]) {
            if let Some(key) = key {
                free.entry(key).or_default().push(at);
            }
        }
        for (at, key) in after.iter().enumerate() {
            let Some(places) = key.as_deref().filter(|_| of[at].is_none()).and_then(|key| free.get_mut(key))
            else {
                continue;
            };
            let fits = |from: usize| which == 0 || can_be(kind, old[from], new[at]);
            if let Some(from) = places.last().copied().filter(|from| fits(*from)) {
                places.pop();
                (of[at], is_taken[from]) = (Some(from), true);
            }
        }
    }
    let left: Vec<usize> = (0..old.len()).filter(|at| !is_taken[*at]).collect();
    let open: Vec<usize> = (0..new.len()).filter(|at| of[*at].is_none()).collect();
    if left.len() * open.len() > MOST_PAIRS {
        return of;
    }
    let mut scored: Vec<(usize, usize, usize, usize)> = Vec::new();
    for &from in &left {
        for &at in open.iter().filter(|at| can_be(kind, old[from], new[**at])) {
            let alike = alike(old[from], new[at]);
            // In one chain an effect of one kind is the same one set otherwise.
            if alike >= ALIKE[usize::from(!in_one_list)]
                || (in_one_list && matches!(kind, EFFECT | "grip" | "taken"))
            {
                scored.push((1000 - alike, from.abs_diff(at), at, from));
            }
        }
    }
    scored.sort_unstable();
    for (.., at, from) in scored {
        if of[at].is_none() && !is_taken[from] {
            (of[at], is_taken[from]) = (Some(from), true);
        }
    }
    of
}

/// Whether one may have become the other.
fn can_be(kind: &str, old: &Table, new: &Table) -> bool {
    let same = |key| old.get(key).and_then(Item::as_str) == new.get(key).and_then(Item::as_str);
    match kind {
        EFFECT => same("use"),
        "grip" => same("setting"),
        "taken" => same("preset"),
        _ => true,
    }
}

/// What a table says beside its mark, which is another on another scope.
fn said_but_mark(table: &Table) -> String {
    let mut table = table.clone();
    table.remove(MARK);
    said_by(&table)
}

/// How much of two tables is the same, whatever they are called, in thousandths.
fn alike(old: &Table, new: &Table) -> usize {
    let mut parts = 0;
    let mut same = 0;
    let keys = new.iter().map(|(key, _)| key).chain(old.iter().map(|(key, _)| key));
    let mut done = HashSet::from(["name", MARK]);
    for key in keys.filter(|key| done.insert(*key)) {
        let (before, after) = (old.get(key), new.get(key));
        let (lists, others) = (tables_in(before), tables_in(after));
        if lists.is_empty() && others.is_empty() {
            parts += 1;
            same += if before.map(said) == after.map(said) { 1000 } else { 0 };
        } else {
            parts += lists.len().max(others.len());
            same += others
                .iter()
                .map(|one| lists.iter().map(|other| alike(other, one)).max().unwrap_or(0))
                .sum::<usize>();
        }
    }
    same.checked_div(parts).unwrap_or(1000)
}

/// What an item says, however it is laid out.
fn said(item: &Item) -> String {
    match item {
        Item::None => String::new(),
        Item::Value(value) => said_by_value(value),
        Item::Table(table) => said_by(table),
        Item::ArrayOfTables(list) => list.iter().map(|table| said_by(table)).collect(),
    }
}

fn said_by(table: &dyn TableLike) -> String {
    let mut parts: Vec<String> = table.iter().map(|(key, item)| format!("{key:?}={};", said(item))).collect();
    parts.sort_unstable();
    format!("{{{}}}", parts.concat())
}

fn said_by_value(value: &Value) -> String {
    match value {
        Value::Array(list) => {
            format!("[{}]", list.iter().map(|one| said_by_value(one) + ",").collect::<String>())
        }
        Value::InlineTable(table) => said_by(table),
        Value::String(text) => format!("{:?}", text.value()),
        // Whole numbers may be written without their point.
        Value::Integer(number) => format!("{:?}", *number.value() as f64),
        Value::Float(number) => format!("{:?}", number.value()),
        Value::Boolean(truth) => truth.value().to_string(),
        Value::Datetime(date) => date.value().to_string(),
    }
}

// Changing the text.

struct Merge<'a> {
    text: &'a Table,
    old: &'a Table,
    from: HashMap<String, String>,
    /// Where in the text a table of a list comes: at the slot of an old one, and how far behind it.
    anchors: HashMap<String, (isize, isize)>,
    /// In which order lists stand that the text lacks.
    ranks: HashMap<String, usize>,
    /// The slots of old tables, by the place in the text where each stood; nothing where one came from another list.
    slots: Slots,
}

type Slots = HashMap<isize, Option<isize>>;

type Entries = Vec<(Key, Item)>;

impl<'a> Merge<'a> {
    /// The entries of a table as they are to be, from those in the text; `from` is the path of the table in the text.
    fn entries(
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
            let is_same = was.is_some_and(|was| said(was) == said(now));
            match at {
                Some(at) => {
                    let (known, item) = &mut entries[at];
                    let over = over(item);
                    // A grip that names its effect by its place names another one once that has moved.
                    let place = complete.get(PLACE).filter(|_| key == EFFECT && item.is_integer());
                    match place {
                        Some(place) if said(place) != said(item) => set(item, place)?,
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

fn set_entries(table: &mut Table, entries: Entries) {
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
        let same =
            (0..old.len()).find(|&from| !is_taken[from] && said_by_value(&old[from]) == said_by_value(value));
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

fn is_list(item: &Item) -> bool {
    item.is_array_of_tables()
}

/// How many tables a list holds, however it is written.
fn length(item: &Item) -> usize {
    item.as_array().map_or_else(|| tables_in(Some(item)).len(), Array::len)
}

/// The table at a path, under a header or within a line; grips are found by what they hold of which effect, as a
/// text may list them in another order than `old`.
fn at_path<'t>(
    root: &'t Table,
    path: &str,
    old: Option<&Table>,
) -> Option<(Option<&'t Table>, Option<&'t InlineTable>)> {
    let mut here: (Option<&'t Table>, Option<&'t InlineTable>) = (Some(root), None);
    let mut so_far = String::new();
    for step in path.split('/').filter(|step| !step.is_empty()) {
        let (key, at) =
            step.split_once(':').map_or((step, None), |(key, at)| (key, at.parse::<usize>().ok()));
        let item = match here {
            (Some(table), _) => table.get(key)?,
            (_, Some(table)) => table.get_key_value(key)?.1,
            _ => return None,
        };
        so_far = format!("{so_far}/{step}");
        let Some(mut at) = at else {
            here = (item.as_table(), item.as_inline_table());
            continue;
        };
        if let (Some(old), "grip") = (old, key) {
            let wanted = at_path(old, &so_far, None)?.0?;
            at = (0..length(item)).find(|&at| {
                element(item, at).is_some_and(|one| {
                    let same = |key: &str| one.get(key).map(said) == wanted.get(key).map(said);
                    let effect = one.get(EFFECT).map(said);
                    let is_effect = [EFFECT, PLACE].iter().any(|key| effect == wanted.get(key).map(said));
                    same("scope") && same("setting") && is_effect
                })
            })?;
        }
        here = match item {
            Item::ArrayOfTables(list) => (list.get(at), None),
            Item::Value(Value::Array(list)) => (None, list.get(at)?.as_inline_table()),
            _ => return None,
        };
    }
    Some(here)
}

fn element(item: &Item, at: usize) -> Option<&dyn TableLike> {
    match item {
        Item::ArrayOfTables(list) => list.get(at).map(|table| table as &dyn TableLike),
        Item::Value(Value::Array(list)) => {
            list.get(at)?.as_inline_table().map(|table| table as &dyn TableLike)
        }
        _ => None,
    }
}

// What stands between tables.

fn prefix_of(decor: &Decor) -> String {
    decor.prefix().and_then(RawString::as_str).unwrap_or_default().to_owned()
}

/// The part of what stands before a line that is parted from it by a blank line.
fn standing(before: &str) -> &str {
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
struct Leads {
    /// What belongs to a table's own lines, behind them; by the table's place in the text.
    tails: HashMap<isize, String>,
    /// What stands in a slot, whichever table follows.
    standing: HashMap<isize, String>,
    root_tail: String,
    trailing: String,
    /// What stood in slots that are no more.
    given_up: Vec<(isize, String)>,
    /// Whether tables are parted by blank lines.
    is_parted: bool,
}

impl Leads {
    /// Takes what stands before each header apart; the table keeps what stands directly over it.
    fn of(root: &mut Table, trailing: &str) -> Self {
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
    fn give_up(&mut self, root: &mut Table, slots: &Slots) {
        let mut used = HashSet::new();
        on_headers(root, &mut |table| used.extend(table.position().and_then(|own| slot_of(own, slots))));
        let left = self.standing.extract_if(|slot, _| !used.contains(slot));
        self.given_up = left.filter(|(_, text)| !text.trim().is_empty()).collect();
        self.given_up.sort_unstable();
    }

    /// What stood by itself before `position` and has not been written yet.
    fn rest(&mut self, position: isize) -> String {
        let (before, after): (Vec<_>, Vec<_>) =
            std::mem::take(&mut self.given_up).into_iter().partition(|(at, _)| *at < position);
        self.given_up = after;
        before.into_iter().map(|(_, text)| text).collect()
    }
}

fn slot_of(own: isize, slots: &Slots) -> Option<isize> {
    slots.get(&own).copied().unwrap_or(Some(own))
}

/// Visits every table that may have a header.
fn on_headers(table: &mut Table, visit: &mut impl FnMut(&mut Table)) {
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

/// Puts the tables of the changed text into their order.
struct Layout {
    anchors: HashMap<String, (isize, isize)>,
    ranks: HashMap<String, usize>,
    slots: Slots,
    leads: Leads,
    next: isize,
    tail: String,
}

impl Layout {
    fn table(&mut self, table: &mut Table, path: &str) {
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
