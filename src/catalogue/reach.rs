//! What the result of an effect depends on, as its header says.

use serde::Deserialize;

/// Which texels one result depends on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Reach {
    /// The same texel.
    Texel,
    /// One texel elsewhere for each channel: an index map, no arithmetic on colours.
    Move,
    /// Texels at most this far away, each way.
    Neighbourhood {
        /// In texels, 1 or more.
        radius: u32,
    },
    /// The same texel, of the picture before it and of what it gave itself one frame ago.
    PastFrames,
    /// None: a generated source.
    Source,
}

/// Whether a channel's result depends on that channel alone.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Channels {
    /// Each channel is made from itself (a texel effect), or goes its own way (a move).
    Apart,
    /// A texel effect makes channels from each other.
    Mixed,
    /// A move takes all channels alike.
    Together,
}

/// Whether the result depends on where the texel is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Position {
    /// It does not.
    Ignored,
    /// It does.
    Matters,
}
