//! Candidates tried: rendered many at once at one size, and scored.

use super::{Candidate, Kept, Quest, Standing};
use crate::base::frame::Frame;
use crate::base::picture::Picture;
use crate::explore::Goal;
use crate::gpu::{Against, Budget, GpuError, Ground, Renderer};
use crate::show::chain::Chain;

/// Tries candidates at one size on one GPU.
#[derive(Debug)]
pub struct Judge<'a> {
    quest: &'a Quest,
    renderer: &'a mut Renderer,
    grounds: Vec<Ground>,
    budget: Budget,
}

impl Quest {
    /// What tries candidates of the stream on a renderer.
    ///
    /// # Errors
    /// [`GpuError`] where the GPU fails.
    pub fn judge<'a>(&'a self, renderer: &'a mut Renderer, budget: Budget) -> Result<Judge<'a>, GpuError> {
        self.judge_at(0, renderer, budget)
    }

    pub(super) fn judge_at<'a>(
        &'a self,
        level: usize,
        renderer: &'a mut Renderer,
        budget: Budget,
    ) -> Result<Judge<'a>, GpuError> {
        let like = &self.levels[level].like;
        let against = match (self.goal, like) {
            (Goal::Like, Some(like)) => Some(Against::Picture(like)),
            (goal, _) if goal.is_difference() => Some(Against::Order(&[])),
            _ => None,
        };
        self.judge_against(level, against, renderer, budget)
    }

    /// What tells how far candidates are from this.
    pub(super) fn judge_against<'a>(
        &'a self,
        level: usize,
        against: Option<Against<'_>>,
        renderer: &'a mut Renderer,
        budget: Budget,
    ) -> Result<Judge<'a>, GpuError> {
        let paths = &self.levels[level].paths;
        let grounds = paths.iter().map(|path| renderer.ground(path, against)).collect::<Result<_, _>>()?;
        Ok(Judge { quest: self, renderer, grounds, budget })
    }
}

impl Judge<'_> {
    /// How many candidates are best tried at once.
    pub fn at_once(&self) -> usize {
        let effects = |ground: &Ground| ground.path().chain.len() + self.quest.space.chain().len();
        let most = self
            .grounds
            .iter()
            .map(|ground| self.renderer.candidates_at_once(ground, effects(ground), self.budget));
        most.min().unwrap_or(1)
    }

    /// Tries candidates of the stream, and keeps the best of each kind.
    ///
    /// # Errors
    /// [`GpuError`] where the GPU fails.
    pub fn try_out(
        &mut self,
        numbers: impl IntoIterator<Item = u64>,
        kept: &mut Kept,
    ) -> Result<(), GpuError> {
        let numbers: Vec<u64> = numbers.into_iter().collect();
        let candidates: Vec<Candidate> = numbers.iter().map(|&number| self.quest.candidate(number)).collect();
        let scores = self.scores(&candidates)?;
        for ((candidate, number), score) in candidates.iter().zip(numbers).zip(scores) {
            kept.add(self.quest.kind_of(candidate), Standing { score, number });
        }
        Ok(())
    }

    /// Candidates' scores: the less, the better.
    pub(super) fn scores(&mut self, candidates: &[Candidate]) -> Result<Vec<f64>, GpuError> {
        let quest = self.quest;
        self.in_parts(candidates, |renderer, ground, chains| {
            let figures = match quest.goal.is_difference() {
                true => renderer.candidates_apart(ground, chains)?,
                false => renderer.candidates_traits(ground, chains, quest.goal.wanted())?,
            };
            Ok(figures.into_iter().map(|figure| quest.score(figure)).collect())
        })
    }

    /// How far candidates are from what they are judged against: means.
    pub(super) fn apart(&mut self, candidates: &[Candidate]) -> Result<Vec<f64>, GpuError> {
        self.in_parts(candidates, |renderer, ground, chains| renderer.candidates_apart(ground, chains))
    }

    /// Candidates' pictures, brought to a frame that is at most as large.
    pub(super) fn pictures(
        &mut self,
        candidates: &[Candidate],
        frame: Frame,
    ) -> Result<Vec<Picture>, GpuError> {
        self.in_parts(candidates, |renderer, ground, chains| {
            renderer.candidate_pictures(ground, chains, frame)
        })
    }

    /// Has candidates rendered, those of each scope together, as many as are best made at once.
    fn in_parts<T>(
        &mut self,
        candidates: &[Candidate],
        mut rendered: impl FnMut(&mut Renderer, &Ground, &[Chain]) -> Result<Vec<T>, GpuError>,
    ) -> Result<Vec<T>, GpuError> {
        let (at_once, quest) = (self.at_once(), self.quest);
        let mut found: Vec<(usize, T)> = Vec::with_capacity(candidates.len());
        for (scope, ground) in self.grounds.iter().enumerate() {
            let here: Vec<usize> =
                (0..candidates.len()).filter(|&at| candidates[at].scope == scope).collect();
            for part in here.chunks(at_once) {
                let chains: Vec<Chain> =
                    part.iter().map(|&at| quest.chain_on(ground.path(), &candidates[at])).collect();
                found.extend(part.iter().copied().zip(rendered(self.renderer, ground, &chains)?));
            }
        }
        found.sort_by_key(|&(at, _)| at);
        Ok(found.into_iter().map(|(_, found)| found).collect())
    }
}
