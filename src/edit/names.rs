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
    let is_taken = |name: &str| taken.clone().any(|known| known == name);
    if !is_taken(&plain) {
        return plain;
    }
    (2..).map(|n| format!("{plain} {n}")).find(|name| !is_taken(name)).unwrap_or(plain)
}
