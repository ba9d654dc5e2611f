//! Names that a chain or show file can hold.

use crate::show::name::LONGEST_NAME;

/// The name, made one that a scope may have and that none of `taken` is.
pub(super) fn unique<'a>(name: &str, taken: impl Iterator<Item = &'a str> + Clone) -> String {
    let plain: String = name
        .chars()
        .map(|c| if c.is_control() || matches!(c, '/' | ':') { ' ' } else { c })
        .take(LONGEST_NAME - 4)
        .collect();
    let plain = if plain.trim().is_empty() { "clip".to_owned() } else { plain };
    numbered(&plain, taken)
}

/// The name, with a number behind it where it is one of `taken`.
pub(super) fn numbered<'a>(name: &str, taken: impl Iterator<Item = &'a str> + Clone) -> String {
    let is_taken = |name: &str| taken.clone().any(|known| known == name);
    if !is_taken(name) {
        return name.to_owned();
    }
    let short: String = name.chars().take(LONGEST_NAME - 4).collect();
    (2..).map(|n| format!("{short} {n}")).find(|name| !is_taken(name)).unwrap_or(short)
}
