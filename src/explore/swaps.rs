//! The swap table: for each pair of effects, whether changing places changes the picture, and why.

use crate::base::doing::doing_counted;
use crate::explore;
use crate::gpu::{GpuError, Renderer};
use crate::measure::Difference;
use crate::order::{Pair, Proofs, Verdict, pairs};
use crate::plan::Path;

/// Pairs whose pictures are held at once.
const PAIRS_AT_ONCE: usize = 10;

/// What is being done meanwhile.
const COMPARING: &str = "comparing pairs";

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
    answered_knowing(renderer, path, &proofs)
}

/// The same where it is known what is proved of the path.
///
/// # Errors
/// As [`answered`].
pub fn answered_knowing(
    renderer: &mut Renderer,
    path: &Path,
    proofs: &Proofs,
) -> Result<Vec<Swap>, GpuError> {
    let pairs = pairs(path.chain.len());
    let is_open = |pair: &Pair| matches!(proofs.verdict(pair.lower, pair.upper), Verdict::Open(_));
    let mut open = Vec::new();
    for some in pairs.iter().filter(|pair| is_open(pair)).collect::<Vec<_>>().chunks(PAIRS_AT_ONCE) {
        let orders: Vec<Vec<usize>> =
            some.iter().flat_map(|pair| [pair.as_is.clone(), pair.swapped.clone()]).collect();
        let mut pictures = Vec::with_capacity(orders.len());
        renderer.pictures(path, &orders, COMPARING, |_, picture| pictures.push(picture))?;
        let comparing = doing_counted(COMPARING, "pairs", pairs.len());
        for both in pictures.chunks_exact(2) {
            comparing.done(open.len());
            open.push(match both[0].rgba == both[1].rgba {
                true => Answer::Here,
                false => Answer::Differs(renderer.difference(&both[0], &both[1])?),
            });
        }
    }
    let mut open = open.into_iter();
    let answer = |pair: Pair| {
        let (answer, because) = match proofs.verdict(pair.lower, pair.upper) {
            Verdict::Always(because) => (Answer::Always, because.clone()),
            Verdict::Open(because) => {
                (open.next().ok_or(GpuError::Defect("a pair was not compared"))?, because.clone())
            }
        };
        Ok(Swap { pair, answer, because })
    };
    pairs.into_iter().map(answer).collect()
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
