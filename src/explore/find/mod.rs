//! Finding: of all orders, switches, settings and scopes that may be tried, those whose pictures come nearest to a wish.
//!
//! A stream of candidates, each a function of the seed and its number alone, is rendered small; of each kind (which
//! effects, in which order, on which scope) the best is kept. Around the best of the best kinds climbers look for
//! better numbers and colours, first small, then larger, at last at the frame itself, where all that is told is
//! measured.

mod climber;
mod identity;
mod kept;
mod legs;
pub mod sizes;
mod slope;
mod space;

pub use kept::{Kept, Standing};
pub use space::{Candidate, Range, Space, Varied, decides_frames, may_be_tried};

use std::cmp::Ordering;
use std::collections::HashSet;
use std::slice;

use climber::Climber;
use kept::CandidateKind;
use legs::{LEGS, LEGS_TO_A_PICTURE};
use slope::Probe;
use space::folded;

use super::{Goal, look_frame, proved};
use crate::base::content::Content;
use crate::base::frame::Frame;
use crate::base::picture::Picture;
use crate::base::random::Draws;
use crate::gpu::{Against, Budget, GpuError, Ground, RenderError, Renderer};
use crate::measure::Difference;
use crate::order::{Classes, LookLimits};
use crate::plan::{Path, keeps_alpha};
use crate::show::chain::Chain;

/// What is looked for, and over what.
#[derive(Debug)]
pub struct Quest {
    pub space: Space,
    pub goal: Goal,
    pub seed: u64,
    /// The sizes at which candidates are tried, the frame itself last.
    levels: Vec<Level>,
    /// Which effects commute, at settings that are nothing special: kinds are told by it, and nothing is proved.
    commuting: Classes,
}

/// One size at which candidates are tried.
#[derive(Debug)]
struct Level {
    /// For each scope, the path of the chain there. Its own chain is what stands on the scope under the one tried.
    paths: Vec<Path>,
    /// The picture to come near.
    like: Option<Picture>,
}

/// Tries candidates at one size on one GPU.
#[derive(Debug)]
pub struct Judge<'a> {
    quest: &'a Quest,
    renderer: &'a mut Renderer,
    grounds: Vec<Ground>,
    budget: Budget,
}

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

/// How far a number is moved to see what it does, at each level, the frame itself first.
const PROBES: [f64; 3] = [0.01, 0.02, 0.04];

/// The best of a party, whose settings the others try.
const MOST_LEADERS: usize = 6;

/// Members of a party that try each number all along its range, and at how many places.
const SCANNED: usize = 24;
const SCAN_PLACES: usize = 8;

/// Kinds that were not in the stream are numbered from here on.
const FURTHER_KINDS_FROM: u64 = 1 << 42;

/// How far climbers look around at first, and when they come to another size.
const FIRST_REACH: f64 = 0.12;
const NEXT_REACH: f64 = 0.01;

/// Candidates that are rendered at the frame itself in the end.
const FINALISTS: usize = 16;

/// Climbers draw behind all numbers of the stream, each at a place of its own.
const CLIMBERS_DRAW_FROM: u64 = 1 << 63;
const CLIMBER_DRAWS_BITS: u32 = 20;

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
        let ordinary = Candidate {
            point: vec![NOTHING_SPECIAL; space.dimensions()],
            on: vec![true; space.chain().len()],
            ..space.candidate(seed, 0, &whole[space.home].moment)
        };
        let path = Path { chain: space.settled(&ordinary), ..whole[space.home].clone() };
        let commuting = proved(Some(renderer), &[&path])?.classes;
        levels.push(Level { paths: whole, like: like.cloned() });
        Ok(Self { space, goal, seed, levels, commuting })
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

    /// What tries candidates of the stream on a renderer.
    ///
    /// # Errors
    /// [`GpuError`] where the GPU fails.
    pub fn judge<'a>(&'a self, renderer: &'a mut Renderer, budget: Budget) -> Result<Judge<'a>, GpuError> {
        self.judge_at(0, renderer, budget)
    }

    fn judge_at<'a>(
        &'a self,
        level: usize,
        renderer: &'a mut Renderer,
        budget: Budget,
    ) -> Result<Judge<'a>, GpuError> {
        let Level { paths, like } = &self.levels[level];
        let against = match (self.goal, like) {
            (Goal::Like, Some(like)) => Some(Against::Picture(like)),
            (goal, _) if goal.is_difference() => Some(Against::Order(&[])),
            _ => None,
        };
        let grounds = paths.iter().map(|path| renderer.ground(path, against)).collect::<Result<_, _>>()?;
        Ok(Judge { quest: self, renderer, grounds, budget })
    }

    /// What a goal's figure counts as: the less, the better.
    fn score(&self, figure: f64) -> f64 {
        if self.goal.is_least() { figure } else { -figure }
    }

    /// Climbs from the best of the stream; gives the candidates that are worth a look at the frame itself, the most
    /// promising first. `goes_on` is told how many more were tried, and says whether to go on.
    ///
    /// # Errors
    /// [`GpuError`] where the GPU fails.
    pub fn climbed(
        &self,
        renderer: &mut Renderer,
        kept: &Kept,
        budget: Budget,
        goes_on: &mut dyn FnMut(usize) -> bool,
    ) -> Result<Vec<Candidate>, GpuError> {
        let mut party: Vec<Climbing> =
            kept.ranked().iter().map(|standing| Climbing::from(self, *standing)).collect();
        let mut left_behind = Vec::new();
        let (last, mut stands_at) = (self.levels.len() - 1, 0);
        let climbs = self.space.dimensions() > 0;
        let (mut is_stopped, mut further) = (!goes_on(0), 0);
        let legs = if self.goal == Goal::Like { &LEGS_TO_A_PICTURE } else { &LEGS };
        for leg in legs {
            let level = last.saturating_sub(leg.before_last);
            let climbers = if climbs { leg.climbers } else { FINALISTS << leg.before_last };
            let mut judge = self.judge_at(level, renderer, budget)?;
            if level != stands_at {
                left_behind.splice(0..0, party.split_off(climbers.min(party.len())));
                let here: Vec<Candidate> = party.iter().map(|climbing| climbing.best.clone()).collect();
                for (climbing, score) in party.iter_mut().zip(judge.scores(&here)?) {
                    climbing.score = score;
                    climbing.climber.look_up(NEXT_REACH);
                }
                stands_at = level;
                party.sort_by(Climbing::order);
                is_stopped = !goes_on(here.len());
            }
            if !is_stopped {
                is_stopped = !goes_on(self.exchange(&mut judge, &mut party, climbers, &mut further)?);
            }
            if !is_stopped && leg.before_last == LEGS[0].before_last {
                is_stopped = !goes_on(self.scan(&mut judge, &mut party)?);
            }
            // What is left behind may still be told, as it looks unlike the others.
            left_behind.splice(0..0, party.split_off(climbers.min(party.len())));
            for step in 0..if climbs { leg.slopes + leg.generations } else { 0 } {
                if is_stopped {
                    break;
                }
                let tried = if step < leg.slopes {
                    self.step_down(&mut judge, &mut party, PROBES[last - level])?
                } else {
                    self.next_generation(&mut judge, &mut party)?
                };
                is_stopped = !goes_on(tried);
                if tried == 0 {
                    break;
                }
            }
            party.sort_by(Climbing::order);
            if is_stopped {
                break;
            }
        }
        party.extend(left_behind);
        Ok(party.into_iter().take(FINALISTS).map(|climbing| climbing.best).collect())
    }

    /// Has everyone in a party, the best first, try the settings of its leaders, which are often good in other orders
    /// too; and the leaders' settings in all that is one change away from them. Gives how many were tried.
    fn exchange(
        &self,
        judge: &mut Judge<'_>,
        party: &mut Vec<Climbing>,
        climbers: usize,
        further: &mut u64,
    ) -> Result<usize, GpuError> {
        let leaders: Vec<Candidate> = party
            .iter()
            .take(MOST_LEADERS.min(climbers.div_ceil(2)))
            .map(|climbing| climbing.best.clone())
            .collect();
        let mut asked = Vec::new();
        let mut whose = Vec::new();
        let mut kinds: HashSet<CandidateKind> = HashSet::new();
        for (at, climbing) in party.iter().enumerate() {
            kinds.insert(self.kind_of(&climbing.best));
            let others =
                leaders.iter().enumerate().filter(|&(nth, _)| nth != at && self.space.dimensions() > 0);
            for (_, leader) in others {
                asked.push(Candidate { point: leader.point.clone(), ..climbing.best.clone() });
                whose.push(Some(at));
            }
        }
        for leader in &leaders {
            for candidate in self.space.one_change_away(leader) {
                if kinds.insert(self.kind_of(&candidate)) {
                    asked.push(candidate);
                    whose.push(None);
                }
            }
        }
        let scores = judge.scores(&asked)?;
        let tried = asked.len();
        for ((candidate, at), score) in asked.into_iter().zip(whose).zip(scores) {
            match at.and_then(|at: usize| party.get_mut(at)) {
                Some(climbing) => climbing.take(candidate, score),
                None => {
                    *further += 1;
                    let standing = Standing { score, number: FURTHER_KINDS_FROM + *further };
                    party.push(Climbing::at(self, candidate, standing));
                }
            }
        }
        party.sort_by(Climbing::order);
        Ok(tried)
    }

    /// Has the best of a party, the best first, try each number all along its range: slopes and steps lead to the
    /// bottom of the valley that one is in, and there are others. Gives how many were tried.
    fn scan(&self, judge: &mut Judge<'_>, party: &mut [Climbing]) -> Result<usize, GpuError> {
        let mut asked = Vec::new();
        let mut whose = Vec::new();
        for (at, climbing) in party.iter().enumerate().take(SCANNED) {
            for dimension in 0..self.space.dimensions() {
                for place in 0..SCAN_PLACES {
                    let mut point = climbing.best.point.clone();
                    point[dimension] = (place as f64 + 0.5) / SCAN_PLACES as f64;
                    asked.push(Candidate { point, ..climbing.best.clone() });
                    whose.push(at);
                }
            }
        }
        let scores = judge.scores(&asked)?;
        let tried = asked.len();
        for ((candidate, at), score) in asked.into_iter().zip(whose).zip(scores) {
            party[at].take(candidate, score);
        }
        party.sort_by(Climbing::order);
        Ok(tried)
    }

    /// Has everyone in a party see what each number does, and go where that leads nearer to the picture wished. Gives
    /// how many were tried.
    fn step_down(
        &self,
        judge: &mut Judge<'_>,
        party: &mut [Climbing],
        probe: f64,
    ) -> Result<usize, GpuError> {
        let Some(like) = &self.levels[0].like else { return Ok(0) };
        let n = self.space.dimensions();
        // Each where it stands, then with one number moved after the other.
        let mut asked = Vec::with_capacity(party.len() * (n + 1));
        let mut moves = Vec::with_capacity(asked.capacity());
        for climbing in party.iter() {
            asked.push(climbing.best.clone());
            for (at, least) in self.space.least_moves().into_iter().enumerate() {
                let share = climbing.best.point[at];
                let moved = probe.max(least);
                let moved = if share + moved <= 1.0 { moved } else { -moved };
                let mut point = climbing.best.point.clone();
                point[at] = (share + moved).clamp(0.0, 1.0);
                moves.push(if point[at] == share { moved } else { point[at] - share });
                asked.push(Candidate { point, ..climbing.best.clone() });
            }
        }
        let pictures = judge.pictures(&asked, like.frame)?;
        let mut tried = asked.len();
        asked.clear();
        let mut whose = Vec::new();
        for (at, (pictures, moves)) in pictures.chunks(n + 1).zip(moves.chunks(n)).enumerate() {
            let probes: Vec<Probe<'_>> =
                pictures[1..].iter().zip(moves).map(|(picture, &moved)| Probe { picture, moved }).collect();
            let best = &party[at].best;
            for step in slope::steps(&pictures[0], like, &probes) {
                let point = best.point.iter().zip(step).map(|(share, step)| (share + step).clamp(0.0, 1.0));
                asked.push(Candidate { point: point.collect(), ..best.clone() });
                whose.push(at);
            }
        }
        let scores = judge.scores(&asked)?;
        tried += asked.len();
        for ((candidate, at), score) in asked.into_iter().zip(whose).zip(scores) {
            party[at].take(candidate, score);
        }
        Ok(tried)
    }

    /// One generation of all climbers that have not come to an end, rendered together; gives how many were tried.
    fn next_generation(&self, judge: &mut Judge<'_>, party: &mut [Climbing]) -> Result<usize, GpuError> {
        let mut asked = Vec::new();
        let mut whose = Vec::new();
        for (at, climbing) in party.iter_mut().enumerate() {
            if climbing.climber.is_done() {
                continue;
            }
            for point in climbing.climber.ask() {
                asked.push(Candidate { point: folded(&point), ..climbing.best.clone() });
                whose.push(at);
            }
        }
        let scores = judge.scores(&asked)?;
        for (at, climbing) in party.iter_mut().enumerate() {
            let own: Vec<usize> = (0..asked.len()).filter(|&nth| whose[nth] == at).collect();
            if own.is_empty() {
                continue;
            }
            climbing.climber.tell(&own.iter().map(|&nth| scores[nth]).collect::<Vec<_>>());
            for nth in own {
                if scores[nth] < climbing.score {
                    climbing.score = scores[nth];
                    climbing.best = asked[nth].clone();
                }
            }
        }
        Ok(asked.len())
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
        let grounds: Vec<Ground> =
            paths.iter().map(|path| renderer.ground(path, None)).collect::<Result<_, _>>()?;
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
                    let bare = renderer.picture(path, &[])?;
                    Some(renderer.difference(&bare, &picture)?)
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

    /// A candidate over what stands on its scope.
    fn chain_on(&self, path: &Path, candidate: &Candidate) -> Chain {
        path.chain.iter().cloned().chain(self.space.arranged(candidate)).collect()
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
    fn scores(&mut self, candidates: &[Candidate]) -> Result<Vec<f64>, GpuError> {
        let quest = self.quest;
        self.in_parts(candidates, |renderer, ground, chains| {
            let figures = if quest.goal.is_difference() {
                renderer.candidates_apart(ground, chains)?
            } else {
                let pictures = renderer.candidate_pictures(ground, chains, ground.path().moment.frame)?;
                pictures.iter().map(|picture| quest.goal.trait_of(picture)).collect()
            };
            Ok(figures.into_iter().map(|figure| quest.score(figure)).collect())
        })
    }

    /// Candidates' pictures, brought to a frame that is at most as large.
    fn pictures(&mut self, candidates: &[Candidate], frame: Frame) -> Result<Vec<Picture>, GpuError> {
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

/// A climber with the best that it has found.
struct Climbing {
    climber: Climber,
    best: Candidate,
    score: f64,
    /// Of the candidate that it began at.
    number: u64,
}

impl Climbing {
    /// At a candidate of the stream.
    fn from(quest: &Quest, standing: Standing) -> Self {
        Self::at(quest, quest.candidate(standing.number), standing)
    }

    fn at(quest: &Quest, best: Candidate, Standing { score, number }: Standing) -> Self {
        let draws = Draws::from(quest.seed, CLIMBERS_DRAW_FROM | number << CLIMBER_DRAWS_BITS);
        Self { climber: Climber::at(&best.point, FIRST_REACH, draws), best, score, number }
    }

    /// Goes on from another candidate of its kind, if that is better.
    fn take(&mut self, candidate: Candidate, score: f64) {
        if score < self.score {
            self.climber.move_to(&candidate.point);
            (self.score, self.best) = (score, candidate);
        }
    }

    fn order(&self, other: &Self) -> Ordering {
        self.score.total_cmp(&other.score).then(self.number.cmp(&other.number))
    }
}
