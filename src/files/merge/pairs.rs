//! What became of what: tables of the new document, and the old ones that they were.

use std::collections::{HashMap, HashSet};

use toml_edit::{Item, Table};

use super::tables::{EFFECT, meaning, meaning_of_table, path_of, tables_in};

/// The key of an effect's mark.
const MARK: &str = "mark";
/// Most pairs of elements that are compared one by one.
const MOST_PAIRS: usize = 250_000;
/// Tables that have so much in common, in thousandths, are one thing changed: in one list, and in two.
const ALIKE: [usize; 2] = [150, 500];

/// A table without a counterpart: its kind, its path, itself.
type Single<'a> = (&'a str, String, &'a Table);

/// Tables of the new document, by their paths, with the paths of the old ones that they were.
#[derive(Default)]
pub(super) struct Pairs<'a> {
    pub(super) from: HashMap<String, String>,
    pub(super) gone: Vec<Single<'a>>,
    pub(super) come: Vec<Single<'a>>,
}

impl<'a> Pairs<'a> {
    pub(super) fn children(&mut self, old: &'a Table, new: &'a Table, old_path: &str, new_path: &str) {
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
    pub(super) fn moved(&mut self) {
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
    let meanings =
        |tables: &[&Table]| -> Vec<String> { tables.iter().map(|table| meaning_but_mark(table)).collect() };
    let (before, after) = (meanings(old), meanings(new));
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
fn meaning_but_mark(table: &Table) -> String {
    let mut table = table.clone();
    table.remove(MARK);
    meaning_of_table(&table)
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
            same += if before.map(meaning) == after.map(meaning) { 1000 } else { 0 };
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
