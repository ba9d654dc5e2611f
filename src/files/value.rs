//! The value of a setting, as files write it.

use super::FileError;
use super::table::Entry;
use crate::base::place::{did_you_mean, shortened};
use crate::catalogue::{Kind, Value};

/// The value of a setting of this kind.
pub(super) fn value(entry: &Entry, kind: &Kind) -> Result<Value, FileError> {
    let value = match (entry.as_number(), entry.as_text()) {
        (Some(number), _) => kind.number(number).ok(),
        (_, Some(word)) => kind.word(word).ok(),
        _ => None,
    };
    if let Some(value) = value {
        return Ok(value);
    }
    let hint = match (kind, entry.as_text()) {
        (Kind::Choice(words), Some(word)) => did_you_mean(&shortened(word), words.iter().map(String::as_str)),
        _ => String::new(),
    };
    Err(entry.refuse(format!("`{}` {}", entry.key, kind.refused(entry.found(), hint))))
}
