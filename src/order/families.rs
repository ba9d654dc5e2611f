//! What matters: how much of all that order does hangs on which fact, and the few facts that make families.
//!
//! Pictures are points; each class weighs as many orders as it stands for. The spread of a set is the weighted sum
//! of squared distances from its mean. A split of a set takes away the spread between its two means, so that the
//! means of each side are all that has to be known, and no picture is looked at here.

use super::classes::{Class, Classes, Explored};
use super::code::Marks;
use super::rules::Fact;

/// The pictures of a chain's classes as points, of which only sums are asked.
///
/// Two ways lead to the spread between means: the products of every picture with every other, or the means themselves.
/// The products of n pictures take n^2 / 2 passes over a picture and n^2 places: 54 classes would do, 14,400 would take
/// a hundred million passes and 400 MB. The means take n passes for each of the 28 facts at most that eight effects have,
/// and the passes of all facts read a picture once; each split then asks only for the family that it split, again
/// n passes at most. So means it is, whatever n.
pub trait Points {
    /// Why a sum cannot be had.
    type Error;

    /// Of some classes, for each column of the weights: the squared distance between their mean weighted by the column,
    /// and their mean weighted by what it leaves of the whole weight; 0 where either is empty.
    ///
    /// # Errors
    /// Where the sums cannot be had.
    fn between_means(&mut self, classes: &[usize], weights: &Weights) -> Result<Vec<f64>, Self::Error>;

    /// For each family the squared distance of each of its classes from the family's mean.
    ///
    /// # Errors
    /// Where the sums cannot be had.
    fn distances(&mut self, families: &[&[usize]], weights: &Weights) -> Result<Vec<Vec<f64>>, Self::Error>;
}

/// What classes weigh.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Weights {
    /// For each class, the orders that it stands for.
    pub whole: Vec<u32>,
    /// For each fact, and each class, those of them for which it holds.
    pub columns: Vec<Vec<u32>>,
}

/// How much of what order does hangs on one pair.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Share {
    /// The pair, the effect of the lower mark before the other.
    pub fact: Fact,
    /// The spread between the mean of the orders for which the fact holds and the mean of the others, of the spread of
    /// all: 0 to 1. Shares of several facts overlap, so that they need not add up to 1.
    pub share: f64,
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
    /// What it takes away of the spread of the family that it splits: 0 to 1.
    pub inside: f64,
    /// What all questions up to this one explain together.
    pub explained: f64,
    /// The orders in each family as they are after it.
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
    /// How many orders.
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
    /// Its spread is no larger than this.
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
    fn step<P: Points>(&mut self, points: &mut P) -> Result<bool, P::Error> {
        let best = self.best_split();
        let gain = best.map_or(0.0, |best| best.gain);
        let least = self.least();
        let left = (1.0 - self.explained) * self.all;
        if (gain < least || gain < FAINT * left - TIE * self.all)
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
                if gain > best.map_or(0.0, |best| best.gain + TIE * self.all) {
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

    /// Those of some classes for which a pair's fact holds, and the others.
    fn parted(&self, classes: &[usize], pair: usize) -> (Vec<usize>, Vec<usize>) {
        classes.iter().partition(|&&class| self.weights.columns[pair][class] > 0)
    }

    fn split<P: Points>(&mut self, points: &mut P, split: Split, opens: bool) -> Result<(), P::Error> {
        let Split { at, pair, gain } = split;
        let family = self.families.remove(at);
        let (under, over) = self.parted(&family.classes, pair);
        for (side, classes, fact) in [(0, under, self.pairs[pair]), (1, over, self.pairs[pair].turned())] {
            let facts = family.facts.iter().copied().chain([fact]).collect();
            let gains = self.weights.gains(points, &classes)?;
            let most_left = family.most_left - gain;
            self.families.insert(at + side, Growing { facts, classes, gains, most_left });
        }
        self.explained += part(gain, self.all);
        self.questions.push(Question {
            fact: self.pairs[pair],
            within: family.facts,
            share: part(gain, self.all),
            inside: 0.0,
            explained: self.explained,
            orders: self.families.iter().map(|family| self.weights.orders(&family.classes)).collect(),
            opens,
        });
        Ok(())
    }
}

impl Families {
    /// The families of these classes; none where the chain is not explored in full, as what is left out would weigh.
    ///
    /// Nothing depends on the order in which classes or effects are listed: both are taken by their marks.
    ///
    /// # Errors
    /// Those of the points.
    pub fn grown<P: Points>(
        classes: &Classes,
        list: &[Class],
        marks: &Marks,
        points: &mut P,
    ) -> Result<Option<Self>, P::Error> {
        if classes.explored() != Explored::InFull || list.is_empty() {
            return Ok(None);
        }
        let pairs = pairs_by_mark(classes.effects(), marks);
        let mut by_code: Vec<usize> = (0..list.len()).collect();
        by_code.sort_by_cached_key(|&class| code_of(&list[class], marks));
        let weights = Weights::of(classes, list, &pairs);

        // One picture spreads over nothing, and nobody need be asked.
        let far = if list.len() > 1 { points.distances(&[&by_code], &weights)? } else { vec![vec![0.0]] };
        let all = weights.spread(&by_code, far.first().map_or(&[], Vec::as_slice));
        let orders = weights.orders(&by_code);
        let gains = if all > 0.0 { weights.gains(points, &by_code)? } else { vec![0.0; pairs.len()] };
        let share = |(fact, gain): (&Fact, &f64)| Share {
            fact: *fact,
            share: part(*gain, all),
            commutes: classes.commute(fact.before, fact.after),
        };
        let shares = |gains: &[f64]| {
            let mut shares: Vec<Share> = pairs.iter().zip(gains).map(share).collect();
            shares.sort_by_key(|share| std::cmp::Reverse((share.share / TIE).round() as i64));
            shares
        };
        let facts = shares(&gains);

        let mut grows = Grows {
            pairs: &pairs,
            asked: pairs.iter().map(|pair| !classes.commute(pair.before, pair.after)).collect(),
            weights: &weights,
            all,
            families: vec![Growing { facts: Vec::new(), classes: by_code, gains, most_left: all }],
            questions: Vec::new(),
            explained: 0.0,
        };
        while grows.explained < EXPLAINED_ENOUGH - TIE
            && grows.families.len() < MOST_FAMILIES
            && grows.step(points)?
        {}
        let Grows { families: growing, mut questions, explained, .. } = grows;

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
        let list = growing
            .into_iter()
            .zip(far.iter().zip(left))
            .map(|(family, (far, left))| {
                let mut inside = shares(&family.gains);
                inside.iter_mut().for_each(|share| share.share = part(share.share * all, left));
                Family {
                    orders: weights.orders(&family.classes),
                    left: part(left, all),
                    shown: nearest(&family.classes, far, all / orders.max(1) as f64),
                    facts: family.facts,
                    classes: family.classes,
                    inside,
                }
            })
            .collect();
        let explained = if all > 0.0 { explained.min(1.0) } else { 1.0 };
        Ok(Some(Self { facts, questions, list, explained, spread: part(all, orders as f64) }))
    }

    /// The share of a pair, whichever way round.
    pub fn share_of(&self, a: usize, b: usize) -> Option<f64> {
        let is = |fact: Fact| [(a, b), (b, a)].contains(&(fact.before, fact.after));
        self.facts.iter().find(|share| is(share.fact)).map(|share| share.share)
    }
}

impl Weights {
    fn of(classes: &Classes, list: &[Class], facts: &[Fact]) -> Self {
        let mut whole = Vec::with_capacity(list.len());
        let mut columns = vec![Vec::with_capacity(list.len()); facts.len()];
        for class in list {
            // Chains explored in full have at most 8! orders.
            let narrow = |orders: u64| u32::try_from(orders).unwrap_or(u32::MAX);
            whole.push(narrow(classes.orders_in(class)));
            let before = classes.orders_before(class);
            for (column, fact) in columns.iter_mut().zip(facts) {
                column.push(narrow(before[fact.before][fact.after]));
            }
        }
        Self { whole, columns }
    }

    fn orders(&self, classes: &[usize]) -> u64 {
        classes.iter().map(|&class| u64::from(self.whole[class])).sum()
    }

    /// The spread of some classes, of which `far` gives the squared distance from their mean.
    pub(super) fn spread(&self, classes: &[usize], far: &[f64]) -> f64 {
        classes.iter().zip(far).map(|(&class, far)| f64::from(self.whole[class]) * far).sum()
    }

    /// For each fact, the spread that splitting some classes by it takes away.
    fn gains<P: Points>(&self, points: &mut P, classes: &[usize]) -> Result<Vec<f64>, P::Error> {
        Ok(self.gains_of(classes, &points.between_means(classes, self)?))
    }

    /// The same, where it is known how far the means are apart.
    pub(super) fn gains_of(&self, classes: &[usize], apart: &[f64]) -> Vec<f64> {
        let whole = self.orders(classes) as f64;
        let gain = |(column, apart): (&Vec<u32>, &f64)| {
            let holding = classes.iter().map(|&class| u64::from(column[class])).sum::<u64>() as f64;
            holding * (whole - holding) / whole.max(1.0) * apart
        };
        self.columns.iter().zip(apart).map(gain).collect()
    }
}

/// A share of a whole; none of nothing.
fn part(of: f64, whole: f64) -> f64 {
    if whole > 0.0 { of / whole } else { 0.0 }
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
