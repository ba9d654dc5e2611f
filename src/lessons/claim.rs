//! What a lesson claims of its pictures.

use crate::show::Scope;

/// One thing that is decided by rendering.
#[derive(Debug, Clone, PartialEq)]
pub struct Claim {
    /// What choices call it.
    pub name: String,
    /// What is claimed.
    pub kind: ClaimKind,
    /// Whether the lesson says that it holds; a wrong choice rests on a claim that does not.
    pub holds: bool,
    /// Where it stands in its file, for messages.
    pub place: String,
}

/// What can be claimed; pictures are named by their places in the lesson.
#[derive(Debug, Clone, PartialEq)]
pub enum ClaimKind {
    /// Two pictures are the same to the byte.
    Same {
        /// The two.
        of: [usize; 2],
        /// Only there.
        inside: Option<Inside>,
    },
    /// Two pictures differ by at least so much.
    Differs {
        /// The two.
        of: [usize; 2],
        /// The least mean difference, in CIEDE2000.
        least: f64,
        /// Only there.
        inside: Option<Inside>,
    },
    /// Two effects of the chain that a picture is about are proved to change places without changing a byte.
    Always {
        /// The picture.
        of: usize,
        /// The places of both in that chain.
        effects: [usize; 2],
    },
    /// Two pictures differ by at least so much in `encoded-8bit`, and not by one byte in `linear-float`.
    Only8Bit {
        /// The two.
        of: [usize; 2],
        /// The least mean difference in `encoded-8bit`, in CIEDE2000.
        least: f64,
    },
    /// What a picture is the output of keeps every limit of the flash counter.
    Passes {
        /// The picture.
        of: usize,
        /// Beats looked at, from the start.
        over_beats: f64,
    },
}

/// A part of the frame.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Inside {
    /// Where this scope's own picture, as it leaves its chain, is opaque.
    Scope(Scope),
    /// Left, top, width and height, as shares of the frame.
    Rectangle([f64; 4]),
}

impl ClaimKind {
    /// The words used in files.
    pub const NAMES: [&'static str; 5] = ["same", "differs", "always", "only-8bit", "passes"];
}
