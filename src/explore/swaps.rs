//! The swap table: for each pair of effects, whether changing places changes the picture, and why.

use crate::base::doing::doing_counted;
use crate::explore;
use crate::gpu::{GpuError, Renderer};
use crate::measure::Difference;
use crate::order::{Pair, Verdict, pairs};
use crate::plan::Path;

/// What one pair's answer is.
#[derive(Debug, Clone, PartialEq)]
pub enum Answer {
    /// Proved: the same bytes on every picture.
    Always,
    /// Not proved, but the same bytes on this footage at this moment.
    Here,
    /// Different by this much.
    Differs(Difference),
}

/// One pair of effects, and whether they may change places.
#[derive(Debug, Clone)]
pub struct Swap {
    /// The two, and the orders that were compared.
    pub pair: Pair,
    /// Whether the picture stays.
    pub answer: Answer,
    /// Why: a sentence.
    pub because: String,
}

impl Answer {
    /// `always`, `here` or `differs`.
    pub fn word(&self) -> &'static str {
        match self {
            Self::Always => "always",
            Self::Here => "here",
            Self::Differs(_) => "differs",
        }
    }

    /// What the word stands for.
    pub fn heading(&self) -> &'static str {
        match self {
            Self::Differs(_) => "differs: changing places changes the picture",
            Self::Here => {
                "here: changing places gives the same bytes on this footage at this moment; not proved"
            }
            Self::Always => "always: changing places never changes the picture; proved",
        }
    }

    fn rank(&self) -> (u8, f64) {
        match self {
            Self::Differs(difference) => (0, -difference.mean),
            Self::Here => (1, 0.0),
            Self::Always => (2, 0.0),
        }
    }
}

/// The swap table of a path's chain, by lower and then by upper effect.
///
/// # Errors
/// [`GpuError`] where the GPU fails.
pub fn answered(renderer: &mut Renderer, path: &Path) -> Result<Vec<Swap>, GpuError> {
    let frames: Vec<&Path> = path.frames().collect();
    let proofs = explore::proved(Some(renderer), &frames)?;
    let mut swaps = Vec::new();
    let pairs = pairs(path.chain.len());
    let comparing = doing_counted("comparing pairs", "pairs", pairs.len());
    for pair in pairs {
        comparing.done(swaps.len());
        let (answer, because) = match proofs.verdict(pair.lower, pair.upper) {
            Verdict::Always(because) => (Answer::Always, because.clone()),
            Verdict::Open(because) => {
                let as_is = renderer.picture(path, &pair.as_is)?;
                let swapped = renderer.picture(path, &pair.swapped)?;
                let answer = if as_is.rgba == swapped.rgba {
                    Answer::Here
                } else {
                    Answer::Differs(renderer.difference(&as_is, &swapped)?)
                };
                (answer, because.clone())
            }
        };
        swaps.push(Swap { pair, answer, because });
    }
    Ok(swaps)
}

/// The most different first, then the same here, then the proved.
pub fn most_different_first(swaps: &[Swap]) -> Vec<&Swap> {
    let mut sorted: Vec<&Swap> = swaps.iter().collect();
    sorted.sort_by(|a, b| {
        let (a, b) = (a.answer.rank(), b.answer.rank());
        a.0.cmp(&b.0).then(a.1.total_cmp(&b.1))
    });
    sorted
}
