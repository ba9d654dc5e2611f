//! Why a change is refused.

use thiserror::Error;

use crate::catalogue::ValueError;
use crate::order::MOST_EFFECTS;
use crate::show::automation::AutomationError;
use crate::show::name::NameFault;

/// Why a change was refused; the show is as it was.
#[derive(Debug, Error, PartialEq)]
pub enum EditError {
    /// No such scope or place any more.
    #[error("that place is no longer in the show; choose it again")]
    Gone,
    /// A chain is full.
    #[error("this chain has {MOST_EFFECTS} effects, the most that a chain takes; remove one first")]
    Full,
    /// A chain that is put onto another is too long for what is there.
    #[error(
        "the chain there has {there} effects and this one {more}; a chain takes at most {MOST_EFFECTS} together"
    )]
    NoRoom {
        /// Effects there.
        there: usize,
        /// Effects to come.
        more: usize,
    },
    /// Something of another show that fits nowhere here.
    #[error(
        "{what} has no place there; a level goes into a bundle, a clip into a level, and a bundle over the others"
    )]
    NoPlace {
        /// Its address in its own show.
        what: String,
    },
    /// An order that does not name every effect once.
    #[error("that order does not name each of the {effects} effects once; choose it again")]
    NoOrder {
        /// Effects in the chain.
        effects: usize,
    },
    /// A value that the setting does not take.
    #[error("`{setting}` {why}")]
    Value {
        setting: String,
        /// What was found and what is allowed.
        why: ValueError,
    },
    /// A text that can be no name.
    #[error("that name {0}")]
    NoName(#[from] NameFault),
    /// A name that something else has, or that cannot be given.
    #[error("{0}")]
    Name(String),
    /// A number out of range.
    #[error("{what} is {found}; it takes a number from {low} to {high}")]
    Range {
        /// What it is.
        what: &'static str,
        /// What was asked for.
        found: f64,
        /// The least.
        low: f64,
        /// The most.
        high: f64,
    },
    /// An automation or a grip that the setting does not take.
    #[error("`{setting}` {why}")]
    Automation {
        setting: String,
        /// What is wrong, and what is allowed.
        why: AutomationError,
    },
    /// What goes into a place of another kind.
    #[error(
        "a bundle goes among bundles, a level into a bundle, a clip onto a level; choose a place of that kind"
    )]
    NotThere,
    /// What it is in would be left empty.
    #[error("{left} would be left without a {kind}; add another there first, or move the whole of it")]
    Emptied {
        /// The address of what it is in.
        left: String,
        /// "level" or "clip".
        kind: &'static str,
    },
    /// An order of levels that does not name each once.
    #[error("that order does not name each of the {levels} levels once; choose it again")]
    NoOrderOfLevels {
        /// Levels in the bundle.
        levels: usize,
    },
    /// A section that would take longer to come than it lasts.
    #[error(
        "the section takes {fade} beats to come and lasts {beats}; it comes in at most the beats that it lasts"
    )]
    LongFade { fade: f64, beats: f64 },
    /// The name of a chain that is none.
    #[error("`{0}` names no chain; a section takes `library:NAME` or `preset:NAME`")]
    NoChain(String),
    /// The last one of its kind.
    #[error("this is the only {0} there; add another before you remove it")]
    Last(&'static str),
}

pub(super) fn check_range(what: &'static str, found: f64, [low, high]: [f64; 2]) -> Result<(), EditError> {
    if (low..=high).contains(&found) { Ok(()) } else { Err(EditError::Range { what, found, low, high }) }
}
