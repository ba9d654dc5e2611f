//! How far an effect's declaration may be relied on, and what stands for its text.

use std::fmt;
use std::sync::Arc;

/// How far what an effect declares may be relied on.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Standing {
    /// It came with the program, whose tests confirm it.
    Shipped,
    /// Nothing is known yet: proofs must not rely on it.
    Untried,
    /// Every claim that rendering can refute was put to the test and held.
    Confirmed,
    /// A claim does not hold: file, line, what was claimed and what was seen. Proofs must not rely on any.
    Refuted(Arc<[String]>),
}

/// 64 bits that stand for a file's text (FNV-1a).
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Content(u64);

impl Content {
    /// Of a text.
    pub fn of(text: &str) -> Self {
        Self(crate::base::fnv::fnv_1a(text.as_bytes()))
    }
}

impl fmt::Display for Content {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{:016x}", self.0)
    }
}
