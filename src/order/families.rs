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

/// Spreads no further apart than this, of the spread of all, count as one: sums on a GPU end in noise.
const TIE: f64 = 1e-6;

/// A family while the tree grows.
struct Growing {
    facts: Vec<Fact>,
    classes: Vec<usize>,
    /// For each pair, the spread that a split by it would take away.
    gains: Vec<f64>,
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

        let mut growing = vec![Growing { facts: Vec::new(), classes: by_code, gains }];
        let mut questions: Vec<Question> = Vec::new();
        let mut explained = 0.0;
        while explained < EXPLAINED_ENOUGH && growing.len() < MOST_FAMILIES {
            let asked = |pair: &usize| !classes.commute(pairs[*pair].before, pairs[*pair].after);
            let Some((at, pair, gain)) = best_split(&growing, pairs.len(), asked, all) else { break };
            if gain < LEAST_SHARE * all {
                break;
            }
            let family = growing.remove(at);
            let (under, over): (Vec<usize>, Vec<usize>) =
                family.classes.iter().partition(|&&class| weights.columns[pair][class] > 0);
            for (side, classes, fact) in [(0, under, pairs[pair]), (1, over, pairs[pair].turned())] {
                let facts = family.facts.iter().copied().chain([fact]).collect();
                let gains = weights.gains(points, &classes)?;
                growing.insert(at + side, Growing { facts, classes, gains });
            }
            explained += part(gain, all);
            questions.push(Question {
                fact: pairs[pair],
                within: family.facts,
                share: part(gain, all),
                inside: 0.0,
                explained,
                orders: growing.iter().map(|family| weights.orders(&family.classes)).collect(),
            });
        }

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

/// The family and pair whose split takes away most; of several the lowest pair, then the first family.
fn best_split(
    growing: &[Growing],
    pairs: usize,
    asked: impl Fn(&usize) -> bool,
    all: f64,
) -> Option<(usize, usize, f64)> {
    let mut best: Option<(usize, usize, f64)> = None;
    for pair in (0..pairs).filter(asked) {
        for (at, family) in growing.iter().enumerate() {
            let gain = family.gains[pair];
            if gain > best.map_or(0.0, |(_, _, most)| most + TIE * all) {
                best = Some((at, pair, gain));
            }
        }
    }
    best
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
