//! What is known of single pieces of footage on which orders were judged together.

use std::sync::Arc;

use crate::order::Fact;
use crate::show::Show;

/// What is known of pieces on which orders were judged together.
#[derive(Debug, Clone, PartialEq)]
pub struct OnPieces {
    pub pieces: Vec<PieceSeen>,
    /// What each pair has of what order does, the pair that decides most first; those that matter on some piece.
    pub pairs: Vec<PairOnPieces>,
    /// Pieces that cannot be shown, and why, in sentences.
    pub left_out: Vec<String>,
    /// What else has to be known: sentences.
    pub remarks: Vec<String>,
    /// The orders that are best for the wish, where there is one.
    pub best: Option<BestOrders>,
}

/// A piece, as it can be shown.
#[derive(Debug, Clone, PartialEq)]
pub struct PieceSeen {
    pub name: String,
    /// The show with this piece in its place.
    pub show: Arc<Show>,
    /// The beat at which its pictures are most unlike.
    pub beats: f64,
}

/// What a pair of effects has of what order does.
#[derive(Debug, Clone, PartialEq)]
pub struct PairOnPieces {
    pub fact: Fact,
    /// Of all pieces together.
    pub share: f64,
    /// On each piece; nothing where nobody sees what order does.
    pub shares: Vec<Option<f64>>,
    /// "on all 9 pieces", "only on quay.mp4".
    pub place: String,
    /// "41 to 72 %".
    pub span: String,
}

/// The orders that are best for a wish.
#[derive(Debug, Clone, PartialEq)]
pub struct BestOrders {
    /// Which they are, and which piece disagrees most: a line each.
    pub answer: Vec<String>,
    /// What each piece would gain from an order of its own: lines.
    pub gains: Vec<String>,
    /// Their places, each once: by the mean, and by the worst piece.
    pub orders: Vec<Vec<usize>>,
}
