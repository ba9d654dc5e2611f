//! What matters: how much of all that order does hangs on which fact, and the few facts that make families.
//!
//! Pictures are points; each class weighs as many orders as it stands for. The spread of a set is the weighted sum
//! of squared distances from its mean. A split of a set takes away the spread between its two means, so that the
//! means of each side are all that has to be known, and no picture is looked at here.

use super::classes::{Class, Classes};
use super::code::Marks;
use super::points::{Points, Weights, part};
use super::rules::Fact;
use super::sampled;
use super::tally::Tally;

/// How much of what order does hangs on one pair.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Share {
    /// The pair, the effect of the lower mark before the other.
    pub fact: Fact,
    /// The spread between the mean of the orders for which the fact holds and the mean of the others, of the spread of
    /// all: 0 to 1. Shares of several facts overlap, so that they need not add up to 1.
    pub share: f64,
    /// Its standard error, where orders were drawn at random and it is one of all of them; otherwise 0.
    pub error: f64,
    /// Whether the two are proved to commute: its share is then that of other facts which go along with it.
    pub commutes: bool,
}

/// A split of a family in two.
#[derive(Debug, Clone, PartialEq)]
pub struct Question {
    /// What is asked, the effect of the lower mark before the other.
    pub fact: Fact,
    /// Where it is asked: the facts of the family that it splits, none for all orders.
    pub within: Vec<Fact>,
    /// What the answer takes away of the spread of all orders: 0 to 1. These do add up.
    pub share: f64,
    /// The standard error of that, where orders were drawn at random; otherwise 0.
    pub error: f64,
    /// What it takes away of the spread of the family that it splits: 0 to 1.
    pub inside: f64,
    /// What all questions up to this one explain together.
    pub explained: f64,
    /// The standard error of that.
    pub explained_error: f64,
    /// The orders in each family as they are after it: of those drawn, where orders were drawn.
    pub orders: Vec<u64>,
    /// Whether it decides next to nothing itself, and is asked for the sake of the next, which it opens.
    pub opens: bool,
}

/// Orders that share a few facts.
#[derive(Debug, Clone, PartialEq)]
pub struct Family {
    /// What holds for all of them, and for no other order.
    pub facts: Vec<Fact>,
    /// Their classes, by code.
    pub classes: Vec<usize>,
    /// How many orders: of those drawn, where orders were drawn.
    pub orders: u64,
    /// The class nearest their mean.
    pub shown: usize,
    /// What is left undecided inside it, of the spread of all orders: 0 to 1.
    pub left: f64,
    /// The share of each pair in the spread inside this family, the largest first.
    pub inside: Vec<Share>,
}

/// The families of a chain's orders, and what matters for all of them.
#[derive(Debug, Clone, PartialEq)]
pub struct Families {
    /// Every pair of effects, the largest share first.
    pub facts: Vec<Share>,
    /// The splits, in the order in which they were found best.
    pub questions: Vec<Question>,
    /// The families as the tree of questions has them, under before over.
    pub list: Vec<Family>,
    /// What the questions explain: 1 less the spread that is left inside families, of the spread of all. 1 where there
    /// is no spread.
    pub explained: f64,
    /// The standard error of that, where orders were drawn at random; otherwise 0.
    pub explained_error: f64,
    /// The spread of all orders, divided by how many they are: the mean squared distance from the mean.
    pub spread: f64,
}

/// Families are split until this share is explained.
pub const EXPLAINED_ENOUGH: f64 = 0.9;
/// There are at most this many.
pub const MOST_FAMILIES: usize = 6;
/// A split takes away at least this share.
pub const LEAST_SHARE: f64 = 0.02;

/// Where the best split takes away less of what is left than this, two are looked for of which neither shows alone.
const FAINT: f64 = 0.1;

/// Spreads no further apart than this, of the spread of all, count as one: sums on a GPU end in noise.
const TIE: f64 = 1e-6;

/// A family while the tree grows.
struct Growing {
    facts: Vec<Fact>,
    classes: Vec<usize>,
    /// For each pair, the spread that a split by it would take away.
    gains: Vec<f64>,
    /// Its spread is no larger than this; of a sample it is this.
    most_left: f64,
}

/// The tree of questions while it grows.
struct Grows<'a> {
    pairs: &'a [Fact],
    /// For each pair, whether it may be asked: what is proved to commute never is.
    asked: Vec<bool>,
    weights: &'a Weights,
    /// The spread of all orders.
    all: f64,
    families: Vec<Growing>,
    questions: Vec<Question>,
    explained: f64,
    /// What is left inside families after each question, where orders were drawn: it tells how far chance goes.
    stages: Option<sampled::Stages>,
}

/// A split of the family at a place by a pair.
#[derive(Debug, Clone, Copy)]
struct Split {
    at: usize,
    pair: usize,
    gain: f64,
}

impl Grows<'_> {
    /// Grows by the split that takes away most, or by two of which the first shows nothing alone and opens the second;
    /// says whether there was any worth it.
    ///
    /// Two effects may matter only together: an effect that turns a picture over, and another that turns it back, matter
    /// to what stands between them and to nothing else. Then the means on both sides of each fact are alike, and only one
    /// step further is anything seen. What two such take away counts as theirs in equal parts beside the best single one.
    /// In a sample they are not looked for: of so many pairs of pairs chance makes some.
    fn step<P: Points>(&mut self, points: &mut P) -> Result<bool, P::Error> {
        let best = self.best_split();
        let gain = best.map_or(0.0, |best| best.gain);
        let least = self.least();
        let left = (1.0 - self.explained) * self.all;
        if (gain < least || gain < FAINT * left - TIE * self.all)
            && self.stages.is_none()
            && self.families.len() + 2 <= MOST_FAMILIES
            && let Some((opening, opened)) = self.best_two(points, least.max(gain))?
        {
            self.split(points, opening, true)?;
            self.split(points, opened, false)?;
            return Ok(true);
        }
        match best {
            Some(best) if gain >= least => self.split(points, best, false).map(|()| true),
            _ => Ok(false),
        }
    }

    /// What a split takes away at least. A share on the limit is not settled by the last digit of a sum.
    fn least(&self) -> f64 {
        (LEAST_SHARE - TIE) * self.all
    }

    /// The split that takes away most; of several that of the lowest pair, then of the first family.
    fn best_split(&self) -> Option<Split> {
        let mut best: Option<Split> = None;
        for pair in (0..self.pairs.len()).filter(|&pair| self.asked[pair]) {
            for (at, family) in self.families.iter().enumerate() {
                let gain = family.gains[pair];
                if gain > best.map_or(0.0, |best| best.gain + TIE * self.all)
                    && self.is_beyond_chance(family, gain)
                {
                    best = Some(Split { at, pair, gain });
                }
            }
        }
        best
    }

    /// Two splits, the second inside what the first makes, that together take away more than twice `least`, both by pairs
    /// too faint to be asked alone: the most; of several the lowest first pair, the first family, the lowest second pair,
    /// under before over.
    fn best_two<P: Points>(&self, points: &mut P, least: f64) -> Result<Option<(Split, Split)>, P::Error> {
        let mut best: Option<(Split, Split)> = None;
        let mut most = 2.0 * least;
        for first in 0..self.pairs.len() {
            for (at, family) in self.families.iter().enumerate() {
                let faint = |pair: usize| self.asked[pair] && family.gains[pair] < self.least();
                if !faint(first) || family.most_left < most {
                    continue;
                }
                let (under, over) = self.parted(&family.classes, first);
                if under.is_empty() || over.is_empty() {
                    continue;
                }
                let gains = [self.weights.gains(points, &under)?, self.weights.gains(points, &over)?];
                for second in (0..self.pairs.len()).filter(|&second| faint(second)) {
                    for (side, gains) in gains.iter().enumerate() {
                        let both = family.gains[first] + gains[second];
                        if both > most + TIE * self.all {
                            most = both;
                            let opening = Split { at, pair: first, gain: family.gains[first] };
                            best =
                                Some((opening, Split { at: at + side, pair: second, gain: gains[second] }));
                        }
                    }
                }
            }
        }
        Ok(best)
    }

    /// Whether a split of a family takes away more than it would of orders that spread anyhow.
    fn is_beyond_chance(&self, family: &Growing, gain: f64) -> bool {
        let orders = self.weights.orders(&family.classes);
        self.stages.is_none() || sampled::is_beyond_chance(gain, family.most_left, orders)
    }

    /// Those of some classes for which a pair's fact holds, and the others.
    fn parted(&self, classes: &[usize], pair: usize) -> (Vec<usize>, Vec<usize>) {
        classes.iter().partition(|&&class| self.weights.columns[pair][class] > 0)
    }

    fn split<P: Points>(&mut self, points: &mut P, split: Split, opens: bool) -> Result<(), P::Error> {
        let Split { at, pair, gain } = split;
        let family = self.families.remove(at);
        let (under, over) = self.parted(&family.classes, pair);
        let mut most_left = [family.most_left - gain; 2];
        if let Some(stages) = &mut self.stages {
            most_left = stages.split(points, self.weights, [&under, &over])?;
        }
        for (side, classes, fact) in [(0, under, self.pairs[pair]), (1, over, self.pairs[pair].turned())] {
            let facts = family.facts.iter().copied().chain([fact]).collect();
            let gains = self.weights.gains(points, &classes)?;
            let most_left = most_left[side];
            self.families.insert(at + side, Growing { facts, classes, gains, most_left });
        }
        self.explained += part(gain, self.all);
        self.questions.push(Question {
            fact: self.pairs[pair],
            within: family.facts,
            share: part(gain, self.all),
            error: 0.0,
            inside: 0.0,
            explained: self.explained,
            explained_error: 0.0,
            orders: self.families.iter().map(|family| self.weights.orders(&family.classes)).collect(),
            opens,
        });
        Ok(())
    }
}

impl Families {
    /// The families of these classes, each weighing as much as `tally` says; none where there are no classes.
    ///
    /// Where orders were drawn at random, shares are what they are of all orders as far as the drawn ones tell, with their
    /// standard errors (see `order/sampled.rs`), and nothing is asked that chance may have made.
    ///
    /// Nothing depends on the order in which classes or effects are listed: both are taken by their marks.
    ///
    /// # Errors
    /// Those of the points.
    pub fn grown<P: Points>(
        classes: &Classes,
        list: &[Class],
        tally: &Tally,
        marks: &Marks,
        points: &mut P,
    ) -> Result<Option<Self>, P::Error> {
        if list.is_empty() {
            return Ok(None);
        }
        let pairs = pairs_by_mark(classes.effects(), marks);
        let mut by_code: Vec<usize> = (0..list.len()).collect();
        by_code.sort_by_cached_key(|&class| code_of(&list[class], marks));
        let weights = Weights::of(classes, list, tally, &pairs);
        // What was not drawn weighs nothing: it joins its family in the end.
        let (mut by_code, aside): (Vec<usize>, Vec<usize>) =
            by_code.into_iter().partition(|&class| weights.whole[class] > 0);
        if by_code.is_empty() {
            by_code.clone_from(&aside);
        }

        // One picture spreads over nothing, and nobody need be asked.
        let far = if by_code.len() > 1 { points.distances(&[&by_code], &weights)? } else { vec![vec![0.0]] };
        let all = weights.spread(&by_code, far.first().map_or(&[], Vec::as_slice));
        let orders = weights.orders(&by_code);
        let gains = if all > 0.0 { weights.gains(points, &by_code)? } else { vec![0.0; pairs.len()] };
        let share = |(fact, (share, error)): (&Fact, (f64, f64))| Share {
            fact: *fact,
            share,
            error,
            commutes: classes.commute(fact.before, fact.after),
        };
        let shares = |of_pairs: Vec<(f64, f64)>| {
            let mut shares: Vec<Share> = pairs.iter().zip(of_pairs).map(share).collect();
            shares.sort_by_key(|share| std::cmp::Reverse((share.share / TIE).round() as i64));
            shares
        };
        let begun = |_| sampled::Stages::begun(&weights, &by_code, far.first().map_or(&[], Vec::as_slice));
        let stages = tally.sample().map(begun);
        let facts = match &stages {
            Some(stages) => shares(stages.shares(points, &weights, &by_code, &gains)?),
            None => shares(gains.iter().map(|gain| (part(*gain, all), 0.0)).collect()),
        };

        let mut grows = Grows {
            pairs: &pairs,
            asked: pairs.iter().map(|pair| !classes.commute(pair.before, pair.after)).collect(),
            weights: &weights,
            all,
            families: vec![Growing { facts: Vec::new(), classes: by_code, gains, most_left: all }],
            questions: Vec::new(),
            explained: 0.0,
            stages,
        };
        while grows.explained < EXPLAINED_ENOUGH - TIE
            && grows.families.len() < MOST_FAMILIES
            && grows.step(points)?
        {}
        let Grows { families: growing, mut questions, mut explained, stages, .. } = grows;

        let members: Vec<&[usize]> = growing.iter().map(|family| &family.classes[..]).collect();
        let far = if questions.is_empty() { far } else { points.distances(&members, &weights)? };
        let left: Vec<f64> =
            growing.iter().zip(&far).map(|(family, far)| weights.spread(&family.classes, far)).collect();
        // What a family spread before it was split is what its parts spread and what the split took away.
        let holds = |facts: &[Fact], within: &[Fact]| facts.starts_with(within);
        for at in 0..questions.len() {
            let within = questions[at].within.clone();
            let inside: f64 = growing
                .iter()
                .zip(&left)
                .filter(|(family, _)| holds(&family.facts, &within))
                .map(|(_, left)| left)
                .sum();
            let splits: f64 = questions
                .iter()
                .filter(|question| holds(&question.within, &within))
                .map(|question| question.share * all)
                .sum();
            questions[at].inside = part(questions[at].share * all, inside + splits);
        }
        let mut explained_error = 0.0;
        // What is left of a sample is a little less than what is left of all, the more families there are.
        let mut scale = 1.0;
        if let Some(stages) = &stages {
            for (question, told) in questions.iter_mut().zip(stages.told()) {
                (question.share, question.error) = told.decides;
                (question.explained, question.explained_error) = told.explained;
                (explained, explained_error) = told.explained;
            }
            scale = stages.left_scale();
        }
        let list = growing
            .into_iter()
            .zip(far.iter().zip(left))
            .map(|(family, (far, left))| {
                let orders_in = weights.orders(&family.classes);
                let inside = |&gain: &f64| match &stages {
                    Some(_) => (sampled::share_inside(gain, left, orders_in), 0.0),
                    None => (part(gain, left), 0.0),
                };
                let inside = shares(family.gains.iter().map(inside).collect());
                let is_of_it =
                    |&class: &usize| family.facts.iter().all(|fact| fact.holds(&list[class].order));
                let mut classes = family.classes;
                let shown = nearest(&classes, far, all / orders.max(1) as f64);
                classes.extend(aside.iter().copied().filter(is_of_it));
                Family {
                    orders: orders_in,
                    left: scale * part(left, all),
                    shown,
                    facts: family.facts,
                    classes,
                    inside,
                }
            })
            .collect();
        let explained = if all > 0.0 { explained.clamp(0.0, 1.0) } else { 1.0 };
        Ok(Some(Self {
            facts,
            questions,
            list,
            explained,
            explained_error,
            spread: part(all, orders as f64),
        }))
    }

    /// The share of a pair, whichever way round.
    pub fn share_of(&self, a: usize, b: usize) -> Option<f64> {
        let is = |fact: Fact| [(a, b), (b, a)].contains(&(fact.before, fact.after));
        self.facts.iter().find(|share| is(share.fact)).map(|share| share.share)
    }

    /// How much of what order does hangs on a pair, by itself or in the questions about it; nothing where it is proved
    /// not to matter.
    pub fn hangs_on(&self, a: usize, b: usize) -> Option<f64> {
        let of_pair = |fact: Fact| [(a, b), (b, a)].contains(&(fact.before, fact.after));
        let asked = self.questions.iter().enumerate().filter(|(_, question)| of_pair(question.fact));
        let asked: f64 = asked
            .map(|(nth, question)| {
                // Two that show only together count in equal parts.
                let before = nth.checked_sub(1).map(|before| &self.questions[before]);
                let other = match before.filter(|before| before.opens) {
                    Some(before) => Some(before),
                    None => self.questions.get(nth + 1).filter(|_| question.opens),
                };
                other.map_or(question.share, |other| (question.share + other.share) / 2.0)
            })
            .sum();
        let alone = self.facts.iter().find(|share| of_pair(share.fact) && !share.commutes)?;
        Some(alone.share.max(asked))
    }
}

/// Every pair of effects, the lower mark before the other, the lowest first.
pub(super) fn pairs_by_mark(effects: usize, marks: &Marks) -> Vec<Fact> {
    let mut places: Vec<usize> = (0..effects).collect();
    places.sort_by_key(|&place| marks.of(place));
    let mut pairs = Vec::with_capacity(effects * effects.saturating_sub(1) / 2);
    for (at, &before) in places.iter().enumerate() {
        pairs.extend(places[at + 1..].iter().map(|&after| Fact { before, after }));
    }
    pairs
}

/// A class's code as a row of numbers.
fn code_of(class: &Class, marks: &Marks) -> Vec<u32> {
    class.order.iter().map(|&place| marks.of(place)).collect()
}

/// The class nearest the mean of its family: of several, the first.
fn nearest(classes: &[usize], far: &[f64], unit: f64) -> usize {
    let mut best: Option<(usize, f64)> = None;
    for (&class, &far) in classes.iter().zip(far) {
        if best.is_none_or(|(_, least)| far < least - TIE * unit) {
            best = Some((class, far));
        }
    }
    best.map_or(0, |(class, _)| class)
}
