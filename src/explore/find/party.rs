//! A party of climbers on its way from the best of the stream to what is nearest to the wish.

use std::cmp::Ordering;
use std::collections::{HashMap, HashSet};

use super::climber::Climber;
use super::kept::CandidateKind;
use super::legs::{LEGS, LEGS_TO_A_PICTURE};
use super::slope::{self, Seen, Slope};
use super::space::folded;
use super::{Candidate, Grain, Judge, Kept, Quest, Standing};
use crate::base::random::Draws;
use crate::explore::Goal;
use crate::gpu::{Budget, GpuError, Renderer};

/// The best of a party, whose settings the others try.
const MOST_LEADERS: usize = 6;

/// How far from where it stands each number is tried, to both sides: all along its range, and near.
const FAR: [f64; 6] = [1.0 / 96.0, 1.0 / 48.0, 1.0 / 24.0, 1.0 / 12.0, 1.0 / 6.0, 1.0 / 3.0];
const NEAR: [f64; 6] = [0.0006, 0.0015, 0.004, 0.01, 0.02, 0.04];

/// How far a number is moved to see what it does, from end to end: at first and now and then, so that no number is
/// forgotten, then along ways that change each channel by about so much; and where texels show it.
const FIRST_WAY: f64 = 0.03;
const AGAIN: usize = 3;
const CHANGE: f64 = 2.5;
const LONGEST_WAY: f64 = 0.3;
const FINE_WAY: f64 = 0.008;

/// A little further from the picture is where texels' own distances lead too, as grain hides what is near; such a step
/// counts for one that leads nowhere. By the score it may be more, but at the frame itself.
const UPHILL: f64 = 1.02;
const LENIENT: f64 = 1.1;

/// Steps that bring less than this share nearer lead nowhere; after so many there is no use in more.
const WORTH: f64 = 0.01;
const MOST_IDLE: usize = 2;

/// Members of a party that began somewhere else than in the stream are numbered from here on.
const FURTHER_FROM: u64 = 1 << 42;

/// How far climbers look around at first, and when they come to another size.
const FIRST_REACH: f64 = 0.12;
const NEXT_REACH: f64 = 0.01;

/// Where there is nothing to climb, so many are tried at the frame itself.
const FINALISTS: usize = 16;

/// Climbers draw behind all numbers of the stream, each at a place of its own.
const CLIMBERS_DRAW_FROM: u64 = 1 << 63;
const CLIMBER_DRAWS_BITS: u32 = 20;

/// One who climbs, with the best that it has found.
struct Climbing {
    climber: Climber,
    best: Candidate,
    kind: CandidateKind,
    score: f64,
    /// Of the candidate that it began at.
    number: u64,
    /// Where the slope has led: by the texels' own distances, so that it may be ahead of the best.
    here: Vec<f64>,
    /// And where it had led before.
    was: Vec<f64>,
    /// Along which ways it looks next.
    ways: Vec<Vec<f64>>,
    /// How often it has looked.
    looked: usize,
    /// Steps down the slope that led nowhere, one after the other.
    idle: usize,
}

/// Those who climb, the best first; several of a kind have begun at places apart.
struct Party<'a> {
    quest: &'a Quest,
    members: Vec<Climbing>,
    /// Members that did not begin in the stream.
    further: u64,
}

impl Quest {
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
        let mut party = Party::of(self, kept);
        let mut left_behind = Vec::new();
        let (last, mut stands_at) = (self.levels.len() - 1, 0);
        let climbs = self.space.dimensions() > 0;
        let mut is_stopped = !goes_on(0);
        let legs = if self.goal == Goal::Like { &LEGS_TO_A_PICTURE[..] } else { &LEGS[..] };
        for leg in legs {
            let level = last.saturating_sub(leg.before_last);
            let kinds = if climbs { leg.kinds } else { FINALISTS << leg.before_last };
            let mut judge = self.judge_at(level, renderer, budget)?;
            if level != stands_at {
                left_behind.splice(0..0, party.cut(kinds, 1));
                is_stopped = !goes_on(party.come_to(&mut judge)?);
                stands_at = level;
            }
            if !is_stopped {
                is_stopped = !goes_on(party.exchange(&mut judge, kinds)?);
            }
            // What is left behind may still be told, as it looks unlike the others.
            left_behind.splice(0..0, party.cut(kinds, 1));
            let places = if leg.before_last == LEGS[0].before_last { &FAR } else { &NEAR };
            if !is_stopped && climbs {
                is_stopped = !goes_on(party.scan(&mut judge, places, (leg.scanned, leg.of_each))?);
            }
            party.members.iter_mut().for_each(|climbing| climbing.idle = 0);
            let slopes = leg.coarse + leg.fine;
            for step in 0..if climbs { slopes + leg.generations } else { 0 } {
                if is_stopped {
                    break;
                }
                let mut tried = match step {
                    step if step < leg.coarse => party.step_down(&mut judge, Grain::Coarse)?,
                    step if step < slopes => party.step_down(&mut judge, Grain::Fine)?,
                    _ => party.next_generation(&mut judge)?,
                };
                if step + 1 == slopes {
                    let may_be = if leg.before_last == 0 { 1.0 } else { LENIENT };
                    tried += party.look_round(&mut judge, may_be)?;
                }
                is_stopped = !goes_on(tried);
            }
            party.cut(kinds, 1);
            if is_stopped {
                break;
            }
        }
        Ok(party.members.into_iter().chain(left_behind).map(|climbing| climbing.best).collect())
    }
}

impl<'a> Party<'a> {
    fn of(quest: &'a Quest, kept: &Kept) -> Self {
        let at = |standing: &Standing| Climbing::at(quest, quest.candidate(standing.number), *standing);
        Self { quest, members: kept.ranked().iter().map(at).collect(), further: 0 }
    }

    /// One more, that did not begin in the stream.
    fn join(&mut self, candidate: Candidate, score: f64) {
        self.further += 1;
        let standing = Standing { score, number: FURTHER_FROM + self.further };
        self.members.push(Climbing::at(self.quest, candidate, standing));
    }

    /// Puts the best first.
    fn rank(&mut self) {
        self.members.sort_by(Climbing::order);
    }

    /// Keeps the best kinds, and the best of each; gives the best of each of the other kinds.
    fn cut(&mut self, kinds: usize, of_each: usize) -> Vec<Climbing> {
        self.rank();
        let mut counts: HashMap<CandidateKind, usize> = HashMap::new();
        let mut left_behind = Vec::new();
        for climbing in std::mem::take(&mut self.members) {
            let (nth, known) = (counts.len(), counts.get(&climbing.kind).copied());
            match known {
                None if nth < kinds => {}
                None => {
                    counts.insert(climbing.kind.clone(), usize::MAX);
                    left_behind.push(climbing);
                    continue;
                }
                Some(count) if count < of_each => {}
                Some(_) => continue,
            }
            *counts.entry(climbing.kind.clone()).or_default() += 1;
            self.members.push(climbing);
        }
        left_behind
    }

    /// Comes to another size, where everyone is judged anew. Gives how many were tried.
    fn come_to(&mut self, judge: &mut Judge<'_>) -> Result<usize, GpuError> {
        let here: Vec<Candidate> = self.members.iter().map(|climbing| climbing.best.clone()).collect();
        for (climbing, score) in self.members.iter_mut().zip(judge.scores(&here)?) {
            climbing.score = score;
            climbing.stand_at_best();
            climbing.climber.look_up(NEXT_REACH);
        }
        self.rank();
        Ok(here.len())
    }

    /// Has everyone try the settings of the leaders, which are often good in other orders too; and the leaders' settings
    /// in all that is one change away from them. Gives how many were tried.
    fn exchange(&mut self, judge: &mut Judge<'_>, kinds: usize) -> Result<usize, GpuError> {
        let leaders: Vec<Candidate> = self
            .members
            .iter()
            .take(MOST_LEADERS.min(kinds.div_ceil(2)))
            .map(|climbing| climbing.best.clone())
            .collect();
        let mut asked = Vec::new();
        let mut whose = Vec::new();
        let mut known: HashSet<CandidateKind> = HashSet::new();
        for (at, climbing) in self.members.iter().enumerate() {
            known.insert(climbing.kind.clone());
            let others =
                leaders.iter().enumerate().filter(|&(nth, _)| nth != at && self.quest.space.dimensions() > 0);
            for (_, leader) in others {
                asked.push(Candidate { point: leader.point.clone(), ..climbing.best.clone() });
                whose.push(Some(at));
            }
        }
        for leader in &leaders {
            for candidate in self.quest.space.one_change_away(leader) {
                if known.insert(self.quest.kind_of(&candidate)) {
                    asked.push(candidate);
                    whose.push(None);
                }
            }
        }
        let scores = judge.scores(&asked)?;
        let tried = asked.len();
        for ((candidate, at), score) in asked.into_iter().zip(whose).zip(scores) {
            match at.and_then(|at: usize| self.members.get_mut(at)) {
                Some(climbing) => climbing.take(candidate, score),
                None => self.join(candidate, score),
            }
        }
        self.rank();
        Ok(tried)
    }

    /// Has the best of a party, the best first, try each number all along its range: slopes and steps lead to the
    /// bottom of the valley that one is in, and there are others, from which others of its kind go on. Gives how many
    /// were tried.
    fn scan(
        &mut self,
        judge: &mut Judge<'_>,
        places: &[f64],
        (scanned, of_each): (usize, usize),
    ) -> Result<usize, GpuError> {
        let least = self.quest.space.least_moves();
        let mut asked = Vec::new();
        // Whose, and which number.
        let mut whose: Vec<(usize, usize)> = Vec::new();
        for (at, climbing) in self.members.iter().enumerate().take(scanned) {
            for (dimension, least) in least.iter().enumerate() {
                for far in places.iter().flat_map(|far| [far.max(*least), -far.max(*least)]) {
                    let mut point = climbing.best.point.clone();
                    point[dimension] += far;
                    asked.push(Candidate { point: folded(&point), ..climbing.best.clone() });
                    whose.push((at, dimension));
                }
            }
        }
        let scores = judge.scores(&asked)?;
        let tried = asked.len();
        // The best along each number.
        let mut best: Vec<(usize, usize, f64)> = Vec::new();
        for (nth, (&at, &score)) in whose.iter().zip(&scores).enumerate() {
            match best.last_mut() {
                Some((_, known, least)) if whose[*known] == at => {
                    if score < *least {
                        (*known, *least) = (nth, score);
                    }
                }
                _ => best.push((at.0, nth, score)),
            }
        }
        for own in best.chunk_by(|a, b| a.0 == b.0) {
            let mut own = own.to_vec();
            own.sort_by(|a, b| a.2.total_cmp(&b.2));
            for (rank, &(at, nth, score)) in own.iter().enumerate() {
                if rank + 1 < of_each {
                    self.join(asked[nth].clone(), score);
                } else {
                    self.members[at].take(asked[nth].clone(), score);
                }
            }
        }
        self.rank();
        Ok(tried)
    }

    /// Has everyone see what each number does, and go where that leads nearer to the picture wished. Gives how many were
    /// tried.
    fn step_down(&mut self, judge: &mut Judge<'_>, grain: Grain) -> Result<usize, GpuError> {
        let Some(like) = self.quest.wished_at(grain) else { return Ok(0) };
        let least = self.quest.space.least_moves();
        let fine = each_alone(least.len(), FINE_WAY);
        let party: Vec<usize> =
            (0..self.members.len()).filter(|&at| self.members[at].idle < MOST_IDLE).collect();
        // Each where it stands, then moved to both sides along one way after the other.
        let mut asked = Vec::new();
        let mut moves: Vec<Vec<Move>> = Vec::with_capacity(party.len());
        for &at in &party {
            let climbing = &self.members[at];
            let ways = if grain == Grain::Coarse { &climbing.ways } else { &fine };
            let own: Vec<Move> = ways.iter().map(|way| Move::along(way, &climbing.here, &least)).collect();
            asked.push(climbing.at_point(climbing.here.clone()));
            asked.extend(own.iter().flat_map(|own| &own.ends).map(|end| climbing.at_point(end.clone())));
            moves.push(own);
        }
        let pictures = judge.pictures(&asked, like.frame)?;
        let mut tried = asked.len();
        asked.clear();
        let mut whose = Vec::new();
        // How far each is from the picture wished, and where it goes.
        let mut apart: Vec<(f64, Option<usize>)> = Vec::with_capacity(party.len());
        let mut pictures = pictures.iter();
        for (&at, moves) in party.iter().zip(moves) {
            let Some(here) = pictures.next() else { break };
            let see = |own: Move| -> Option<Seen<'_>> {
                let ends = [pictures.next()?, pictures.next()?];
                Some(Seen { ends, way: own.way(), is_even: own.is_even })
            };
            let slope = Slope::seen(here, like, moves.into_iter().map_while(see).collect());
            apart.push((slope::apart(here, like), None));
            let climbing = &mut self.members[at];
            if grain == Grain::Coarse {
                climbing.looked += 1;
                climbing.ways = match climbing.looked % AGAIN {
                    0 => each_alone(least.len(), FIRST_WAY),
                    _ => slope.ways(CHANGE),
                };
            }
            let mut steps = slope.steps();
            let Climbing { here, was, .. } = &*climbing;
            // On in the direction of the step before.
            if here != was {
                steps.push(here.iter().zip(was).map(|(here, was)| 2.0 * (here - was)).collect());
            }
            for step in steps {
                let point = here.iter().zip(step).map(|(share, step)| (share + step).clamp(0.0, 1.0));
                asked.push(climbing.at_point(point.collect()));
                whose.push(apart.len() - 1);
            }
        }
        let before: Vec<f64> = apart.iter().map(|(apart, _)| *apart).collect();
        tried += asked.len();
        for ((nth, picture), at) in judge.pictures(&asked, like.frame)?.iter().enumerate().zip(whose) {
            let there = slope::apart(picture, like);
            let (known, led) = &mut apart[at];
            if there < *known * if led.is_none() { UPHILL } else { 1.0 } {
                (*known, *led) = (there, Some(nth));
            }
        }
        for ((at, before), (there, led)) in party.into_iter().zip(before).zip(apart) {
            let climbing = &mut self.members[at];
            if let Some(led) = led {
                climbing.was = std::mem::replace(&mut climbing.here, asked[led].point.clone());
            }
            climbing.idle = if there < before * (1.0 - WORTH) { 0 } else { climbing.idle + 1 };
        }
        Ok(tried)
    }

    /// Has everyone judged where the slope has led, which may be so many times as bad as the best. Gives how many were tried.
    fn look_round(&mut self, judge: &mut Judge<'_>, may_be: f64) -> Result<usize, GpuError> {
        let ahead = |at: &usize| self.members[*at].here != self.members[*at].best.point;
        let party: Vec<usize> = (0..self.members.len()).filter(ahead).collect();
        let at = |climbing: &Climbing| climbing.at_point(climbing.here.clone());
        let asked: Vec<Candidate> = party.iter().map(|&nth| at(&self.members[nth])).collect();
        let scores = judge.scores(&asked)?;
        let tried = asked.len();
        for ((at, candidate), score) in party.into_iter().zip(asked).zip(scores) {
            let climbing = &mut self.members[at];
            if score < climbing.score * may_be {
                climbing.climber.move_to(&candidate.point);
                (climbing.score, climbing.best) = (score, candidate);
            }
        }
        self.rank();
        Ok(tried)
    }

    /// One generation of all climbers that have not come to an end, rendered together; gives how many were tried.
    fn next_generation(&mut self, judge: &mut Judge<'_>) -> Result<usize, GpuError> {
        let mut asked = Vec::new();
        let mut whose = Vec::new();
        for (at, climbing) in self.members.iter_mut().enumerate() {
            if climbing.climber.is_done() {
                continue;
            }
            for point in climbing.climber.ask() {
                asked.push(Candidate { point: folded(&point), ..climbing.best.clone() });
                whose.push(at);
            }
        }
        let scores = judge.scores(&asked)?;
        for (at, climbing) in self.members.iter_mut().enumerate() {
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
}

impl Climbing {
    fn at(quest: &Quest, best: Candidate, Standing { score, number }: Standing) -> Self {
        let draws = Draws::from(quest.seed, CLIMBERS_DRAW_FROM | number << CLIMBER_DRAWS_BITS);
        let climber = Climber::at(&best.point, FIRST_REACH, draws);
        let (kind, here) = (quest.kind_of(&best), best.point.clone());
        let ways = each_alone(here.len(), FIRST_WAY);
        Self { climber, best, kind, score, number, was: here.clone(), here, ways, looked: 0, idle: 0 }
    }

    /// One of its kind.
    fn at_point(&self, point: Vec<f64>) -> Candidate {
        Candidate { point, ..self.best.clone() }
    }

    /// Goes on from the best.
    fn stand_at_best(&mut self) {
        self.climber.move_to(&self.best.point);
        self.here.clone_from(&self.best.point);
        self.was.clone_from(&self.here);
        self.idle = 0;
    }

    /// Goes on from another candidate of its kind, if that is better.
    fn take(&mut self, candidate: Candidate, score: f64) {
        if score < self.score {
            (self.score, self.best) = (score, candidate);
            self.stand_at_best();
        }
    }

    fn order(&self, other: &Self) -> Ordering {
        self.score.total_cmp(&other.score).then(self.number.cmp(&other.number))
    }
}

/// A move to both sides of a point, within all ranges.
struct Move {
    ends: [Vec<f64>; 2],
    is_even: bool,
}

impl Move {
    /// Along a way, at least so far that the value of one number is another.
    fn along(way: &[f64], here: &[f64], least: &[f64]) -> Self {
        let moves = way.iter().zip(least).map(|(way, least)| way.abs() / least).fold(0.0, f64::max);
        let times = if moves < 1.0 { 1.0 / moves.max(1e-9) } else { 1.0 };
        let longest = way.iter().map(|way| way.abs()).fold(0.0, f64::max).max(1e-9);
        let times = times.min(LONGEST_WAY / longest);
        let side = |side: f64| {
            let to = here.iter().zip(way).map(|(here, way)| here + side * times * way);
            to.collect::<Vec<f64>>()
        };
        let is_even = [-0.5, 0.5].iter().all(|&at| side(at).iter().all(|share| (0.0..=1.0).contains(share)));
        let within = |at: f64| side(at).into_iter().map(|share| share.clamp(0.0, 1.0)).collect();
        Self { ends: [within(-0.5), within(0.5)], is_even }
    }

    /// From end to end.
    fn way(&self) -> Vec<f64> {
        let [start, end] = &self.ends;
        end.iter().zip(start).map(|(end, start)| end - start).collect()
    }
}

/// A way for each number alone, so long.
fn each_alone(numbers: usize, long: f64) -> Vec<Vec<f64>> {
    let way = |at: usize| (0..numbers).map(|other| if other == at { long } else { 0.0 }).collect();
    (0..numbers).map(way).collect()
}
