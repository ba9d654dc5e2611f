//! What the name of anything in a chain or show may be.

use thiserror::Error;

/// Longest name of anything in a chain or show, and longest label of a stand-in, in characters: each has to fit on a
/// control.
pub(crate) const LONGEST_NAME: usize = 80;

/// What keeps a text from being a name, as the end of a sentence that begins with the name.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Error)]
pub enum NameFault {
    #[error("is empty; give it at least one letter")]
    Empty,
    /// It has this many characters.
    #[error("has {0} characters; it takes at most {LONGEST_NAME}")]
    Long(usize),
    #[error("holds a line end or tab; it takes plain text")]
    Control,
    /// It holds a character that parts addresses.
    #[error(
        "holds `{0}`, which parts the names of a scope such as level:picture/sea; choose another character"
    )]
    Parts(char),
}

/// Whether a text can be a name: one line with something in it that fits on a control.
///
/// # Errors
/// [`NameFault`], but never [`NameFault::Parts`].
pub fn check_name(name: &str) -> Result<(), NameFault> {
    let length = name.chars().count();
    if name.trim().is_empty() {
        Err(NameFault::Empty)
    } else if length > LONGEST_NAME {
        Err(NameFault::Long(length))
    } else if name.contains(char::is_control) {
        Err(NameFault::Control)
    } else {
        Ok(())
    }
}

/// Whether a text can be the name of a bundle, a level or a clip, which is part of addresses.
///
/// # Errors
/// [`NameFault`].
pub fn check_scope_name(name: &str) -> Result<(), NameFault> {
    check_name(name)?;
    name.chars().find(|c| matches!(c, '/' | ':')).map_or(Ok(()), |c| Err(NameFault::Parts(c)))
}
