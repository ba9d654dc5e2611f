//! What was found, measured at the frame itself.

use std::slice;

use super::{Candidate, Level, Quest};
use crate::base::picture::Picture;
use crate::explore::{Goal, look_frame, proved};
use crate::gpu::{Against, Budget, GpuError, Ground, Renderer};
use crate::measure::Difference;
use crate::order::LookLimits;
use crate::plan::{Path, keeps_alpha};
use crate::show::chain::Chain;

/// The most of those that climbed that are looked at for being unlike each other.
const MOST_PROMISING: usize = 128;

/// One answer, measured at the frame itself.
#[derive(Debug)]
pub struct Found {
    /// The scope that the chain sits on, by its number.
    pub scope: usize,
    /// The chain with its switches and settings, its effects where they stand in the file.
    pub chain: Chain,
    /// Its order: the smallest of its class.
    pub order: Vec<usize>,
    /// The goal's figure.
    pub figure: f64,
    /// The difference that it is the mean of, where it is one.
    pub difference: Option<Difference>,
    pub picture: Picture,
}

impl Quest {
    /// Which of candidates, the most promising first, are worth a look at the frame itself: such as look unlike each other
    /// where they were tried first.
    fn worth_a_look(
        &self,
        renderer: &mut Renderer,
        candidates: &[Candidate],
        most: usize,
        limits: LookLimits,
        budget: Budget,
    ) -> Result<Vec<Candidate>, GpuError> {
        let mut open = candidates[..candidates.len().min(MOST_PROMISING)].to_vec();
        let mut worth = Vec::new();
        while worth.len() < most && !open.is_empty() {
            let next = open.remove(0);
            let picture = self.judge(renderer, budget)?.pictures(slice::from_ref(&next), self.tried_at())?;
            worth.push(next);
            let Some(picture) = picture.first() else { continue };
            let apart =
                self.judge_against(0, Some(Against::Picture(picture)), renderer, budget)?.apart(&open)?;
            let mut apart = apart.into_iter();
            open.retain(|_| apart.next().is_none_or(|mean| mean >= limits.mean));
        }
        Ok(worth)
    }

    /// Renders candidates at the frame itself; gives the best of them that look unlike each other, the best first.
    ///
    /// # Errors
    /// [`GpuError`] where the GPU fails.
    pub fn found(
        &self,
        renderer: &mut Renderer,
        candidates: &[Candidate],
        most: usize,
        limits: LookLimits,
        budget: Budget,
    ) -> Result<Vec<Found>, GpuError> {
        let Some(Level { paths, like }) = self.levels.last() else { return Ok(Vec::new()) };
        // Some that look unlike each other when small are one look at the frame itself.
        let candidates = &self.worth_a_look(renderer, candidates, most.div_ceil(2) * 3, limits, budget)?;
        let grounds: Vec<Ground> =
            paths.iter().map(|path| renderer.ground(path, None)).collect::<Result<_, _>>()?;
        // Of a goal that is a difference from no effect at all, the picture of each scope without.
        let mut bare: Vec<Option<Picture>> = vec![None; paths.len()];
        let mut all = Vec::with_capacity(candidates.len());
        for candidate in candidates {
            let path = &paths[candidate.scope];
            let chain = self.chain_on(path, candidate);
            let pictures = renderer.candidate_pictures(
                &grounds[candidate.scope],
                slice::from_ref(&chain),
                path.moment.frame,
            )?;
            let Some(picture) = pictures.into_iter().next() else { continue };
            let difference = match (self.goal, like) {
                (Goal::Like, Some(like)) => Some(renderer.difference(like, &picture)?),
                (goal, _) if goal.is_difference() => {
                    let bare = match &mut bare[candidate.scope] {
                        Some(bare) => bare,
                        none => none.insert(renderer.picture(path, &[])?),
                    };
                    Some(renderer.difference(bare, &picture)?)
                }
                _ => None,
            };
            let figure =
                difference.map_or_else(|| self.goal.trait_of(&picture), |difference| difference.mean);
            all.push((candidate, figure, difference, picture));
        }
        all.sort_by(|a, b| self.score(a.1).total_cmp(&self.score(b.1)));
        let frame = look_frame(paths[0].moment.frame, most, budget);
        let mut shown: Vec<Picture> = Vec::new();
        let mut found = Vec::new();
        for (candidate, figure, difference, picture) in all {
            if found.len() == most {
                break;
            }
            let small = renderer.shrunk(&picture, frame)?;
            let mut is_new = true;
            for other in &shown {
                is_new &= !limits.alike(&renderer.difference(other, &small)?);
            }
            if !is_new {
                continue;
            }
            shown.push(small);
            let chain = self.space.settled(candidate);
            let under = &paths[candidate.scope];
            let opaque = under.opaque && keeps_alpha(&under.chain);
            let path = Path { chain: chain.clone(), opaque, ..under.clone() };
            let order = proved(Some(renderer), &[&path])?.classes.normal_form(&candidate.order);
            found.push(Found { scope: candidate.scope, chain, order, figure, difference, picture });
        }
        Ok(found)
    }
}
