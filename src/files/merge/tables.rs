//! Tables of a text: their paths, what they say however they are laid out, and where they are.

use toml_edit::{Array, InlineTable, Item, Table, TableLike, Value};

/// What a rendering of a grip has beside the effect's label: its place, by which a text may name it.
pub(in crate::files) const PLACE: &str = "place";
/// The key of an effect's name in a grip.
pub(super) const EFFECT: &str = "effect";

pub(super) fn path_of(parent: &str, key: &str, at: Option<usize>) -> String {
    match at {
        Some(at) => format!("{parent}/{key}:{at}"),
        None => format!("{parent}/{key}"),
    }
}

/// The list that an element is in: its path without its place.
pub(super) fn list_of(path: &str) -> &str {
    path.rsplit_once(':').map_or(path, |(list, _)| list)
}

pub(super) fn tables_in(item: Option<&Item>) -> Vec<&Table> {
    item.and_then(Item::as_array_of_tables).map(|list| list.iter().collect()).unwrap_or_default()
}

/// What an item says, however it is laid out.
pub(super) fn meaning(item: &Item) -> String {
    match item {
        Item::None => String::new(),
        Item::Value(value) => meaning_of_value(value),
        Item::Table(table) => meaning_of_table(table),
        Item::ArrayOfTables(list) => list.iter().map(|table| meaning_of_table(table)).collect(),
    }
}

pub(super) fn meaning_of_table(table: &dyn TableLike) -> String {
    let mut parts: Vec<String> =
        table.iter().map(|(key, item)| format!("{key:?}={};", meaning(item))).collect();
    parts.sort_unstable();
    format!("{{{}}}", parts.concat())
}

pub(super) fn meaning_of_value(value: &Value) -> String {
    match value {
        Value::Array(list) => {
            format!("[{}]", list.iter().map(|one| meaning_of_value(one) + ",").collect::<String>())
        }
        Value::InlineTable(table) => meaning_of_table(table),
        Value::String(text) => format!("{:?}", text.value()),
        // Whole numbers may be written without their point.
        Value::Integer(number) => format!("{:?}", *number.value() as f64),
        Value::Float(number) => format!("{:?}", number.value()),
        Value::Boolean(truth) => truth.value().to_string(),
        Value::Datetime(date) => date.value().to_string(),
    }
}

pub(super) fn is_list(item: &Item) -> bool {
    item.is_array_of_tables()
}

/// How many tables a list holds, however it is written.
pub(super) fn length(item: &Item) -> usize {
    item.as_array().map_or_else(|| tables_in(Some(item)).len(), Array::len)
}

/// The table at a path, under a header or within a line; grips are found by what they hold of which effect, as a
/// text may list them in another order than `old`.
pub(super) fn at_path<'t>(
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
                    let same = |key: &str| one.get(key).map(meaning) == wanted.get(key).map(meaning);
                    let effect = one.get(EFFECT).map(meaning);
                    let is_effect = [EFFECT, PLACE].iter().any(|key| effect == wanted.get(key).map(meaning));
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
