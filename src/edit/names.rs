//! Names that a chain or show file can hold.

use super::error::EditError;
use crate::show::LONGEST_NAME;

pub(super) fn check_name(name: &str) -> Result<(), EditError> {
    usable_name(name).map_err(EditError::Name)
}

/// Refuses, in words, a name that no chain or show file could hold.
pub(crate) fn usable_name(name: &str) -> Result<(), String> {
    let length = name.chars().count();
    if name.trim().is_empty() {
        return Err("a name needs at least one letter".to_owned());
    }
    if length > LONGEST_NAME {
        return Err(format!("that name has {length} characters; a name takes at most {LONGEST_NAME}"));
    }
    if name.contains(char::is_control) {
        return Err("that name holds a line end or tab; a name takes plain text".to_owned());
    }
    Ok(())
}

/// The name, made one that a scope may have and that none of `taken` is.
pub(super) fn unique<'a>(name: &str, taken: impl Iterator<Item = &'a str> + Clone) -> String {
    let plain: String = name
        .chars()
        .map(|c| if c.is_control() || matches!(c, '/' | ':') { ' ' } else { c })
        .take(LONGEST_NAME - 4)
        .collect();
    let plain = if plain.trim().is_empty() { "clip".to_owned() } else { plain };
    let is_taken = |name: &str| taken.clone().any(|known| known == name);
    if !is_taken(&plain) {
        return plain;
    }
    (2..).map(|n| format!("{plain} {n}")).find(|name| !is_taken(name)).unwrap_or(plain)
}
