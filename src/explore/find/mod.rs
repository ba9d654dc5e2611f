//! Finding: of all orders, switches, settings and scopes that may be tried, those whose pictures come nearest to a wish.
//!
//! A stream of candidates, each a function of the seed and its number alone, is rendered small; of each kind (which
//! effects, in which order, on which scope) the best is kept. Around the best of the best kinds climbers look for
//! better numbers and colours, first small, then larger, at last at the frame itself, where all that is told is
//! measured.

mod climber;
mod identity;
mod judge;
mod kept;
mod legs;
mod measured;
mod party;
mod seat;
pub mod sizes;
mod slope;
mod space;

pub use judge::Judge;
pub use kept::{Kept, Standing};
pub use measured::Found;
pub use seat::{Seat, scopes};
pub use space::{Candidate, Range, Space, Varied, decides_frames, may_be_tried};

use kept::CandidateKind;

use super::{Goal, proved};
use crate::base::content::Content;
use crate::base::frame::Frame;
use crate::base::picture::Picture;
use crate::gpu::{GpuError, RenderError, Renderer};
use crate::order::Classes;
use crate::plan::Path;
use crate::show::chain::Chain;

/// What is looked for, and over what.
#[derive(Debug)]
pub struct Quest {
    pub space: Space,
    pub goal: Goal,
    pub seed: u64,
    /// The sizes at which candidates are tried, the frame itself last.
    levels: Vec<Level>,
    /// The picture to come near at the first of them once more, in squares of some texels.
    coarse: Option<Picture>,
    /// Which effects commute, at settings that are nothing special: kinds are told by it, and nothing is proved.
    commuting: Classes,
}

/// How finely the picture to come near is looked at.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Grain {
    Fine,
    Coarse,
}

/// Texels of the first size in a texel of the coarse one, along each side.
const COARSE: u32 = 4;

/// One size at which candidates are tried.
#[derive(Debug)]
struct Level {
    /// For each scope, the path of the chain there. Its own chain is what stands on the scope under the one tried.
    paths: Vec<Path>,
    /// The picture to come near.
    like: Option<Picture>,
}

/// Where in its ranges a candidate is nothing special: not at an end, and not where what it does turns round.
const NOTHING_SPECIAL: f64 = 0.37;

impl Quest {
    /// Plans it: `frames` are the sizes at which candidates are tried, the frame itself last; `plan` gives the path of a
    /// scope at a size, whose own chain is what stands there under the one that is tried.
    ///
    /// # Errors
    /// [`RenderError`] where footage cannot be shown or the GPU fails.
    pub fn planned(
        renderer: &mut Renderer,
        (space, goal, seed): (Space, Goal, u64),
        like: Option<&Picture>,
        frames: &[Frame],
        mut plan: impl FnMut(usize, Frame) -> Result<Path, RenderError>,
    ) -> Result<Self, RenderError> {
        let Some((&frame, smaller)) = frames.split_last() else {
            return Err(GpuError::Defect("nothing says at which size candidates are tried").into());
        };
        let whole: Vec<Path> = (0..space.scopes).map(|scope| plan(scope, frame)).collect::<Result<_, _>>()?;
        let mut levels = Vec::with_capacity(frames.len());
        for &size in smaller {
            let mut paths = Vec::with_capacity(whole.len());
            for (scope, whole) in whole.iter().enumerate() {
                paths.push(renderer.shrunk_path(whole, &plan(scope, size)?)?);
            }
            let like = like.map(|like| renderer.shrunk(like, size)).transpose()?;
            levels.push(Level { paths, like });
        }
        let coarse = |like: &Picture| {
            let Frame { width, height } = frames[0];
            let size = Frame { width: width.div_ceil(COARSE), height: height.div_ceil(COARSE) };
            renderer.shrunk(like, size)
        };
        let coarse = like.map(coarse).transpose()?;
        let ordinary = Candidate {
            point: vec![NOTHING_SPECIAL; space.dimensions()],
            on: vec![true; space.chain().len()],
            ..space.candidate(seed, 0, &whole[space.home].moment)
        };
        let path = Path { chain: space.settled(&ordinary), ..whole[space.home].clone() };
        let commuting = proved(Some(renderer), &[&path])?.classes;
        levels.push(Level { paths: whole, like: like.cloned() });
        Ok(Self { space, goal, seed, levels, coarse, commuting })
    }

    /// The size at which the stream is tried.
    pub fn tried_at(&self) -> Frame {
        self.levels[0].paths[0].moment.frame
    }

    /// What stands for everything under and beside the chain that decides how candidates come out, and for the picture
    /// to come near, both as the stream sees them.
    pub fn tried_over(&self) -> [Content; 2] {
        let Level { paths, like } = &self.levels[0];
        let all = identity::of_frames(paths);
        [Content::of(all), like.as_ref().map_or_else(Content::default, |like| Content::of(&like.rgba))]
    }

    /// Candidate `number` of the stream.
    pub fn candidate(&self, number: u64) -> Candidate {
        self.space.candidate(self.seed, number, &self.levels[0].paths[0].moment)
    }

    /// What tells a candidate from those that differ in numbers and colours alone.
    fn kind_of(&self, candidate: &Candidate) -> CandidateKind {
        let on = |place: &usize| candidate.on[*place];
        let order = self.commuting.normal_form(&candidate.order);
        let order = order.into_iter().filter(on).map(|place| place as u16);
        let choices = candidate.choices.iter().map(|&choice| choice as u16);
        [candidate.scope as u16].into_iter().chain(choices).chain(order).collect()
    }

    /// Keeps a candidate of the stream, if it is the best of its kind.
    pub fn keep(&self, kept: &mut Kept, standing: Standing) {
        kept.add(self.kind_of(&self.candidate(standing.number)), standing);
    }

    /// The picture to come near, as it is looked at texel by texel.
    fn wished_at(&self, grain: Grain) -> Option<&Picture> {
        match grain {
            Grain::Fine => self.levels[0].like.as_ref(),
            Grain::Coarse => self.coarse.as_ref(),
        }
    }

    /// What a goal's figure counts as: the less, the better.
    fn score(&self, figure: f64) -> f64 {
        if self.goal.is_least() { figure } else { -figure }
    }

    /// The goal's figure that a score stands for.
    pub fn figure(&self, score: f64) -> f64 {
        // What turns a figure round turns it back.
        self.score(score)
    }

    /// A candidate over what stands on its scope.
    fn chain_on(&self, path: &Path, candidate: &Candidate) -> Chain {
        path.chain.iter().cloned().chain(self.space.arranged(candidate)).collect()
    }
}
