//! How far an effect's declaration may be relied on.

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
