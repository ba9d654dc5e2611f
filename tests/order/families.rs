//! What matters: shares of facts and families of orders, against sums over every order, and on pictures.

use std::collections::{BTreeMap, HashMap};
use std::process::Command;

use palette::{FromColor, Lab, Srgb};
use proptest::prelude::*;
use underover::base::embedded::{CHAINS, SHOWS};
use underover::base::frame::{Frame, PixelMode};
use underover::base::picture::Picture;
use underover::explore::over_time::Stretch;
use underover::explore::{Exploration, Orders};
use underover::files::{Document, parse};
use underover::footage::Shelf;
use underover::gpu::{Budget, GalleryPoints, GpuError, Want, point_frame};
use underover::measure::Difference;
use underover::order::{
    Class, Classes, EXPLAINED_ENOUGH, Extent, Fact, Families, LEAST_SHARE, LookLimits, MOST_FAMILIES, Marks,
    Points, Share, Weights, marks,
};
use underover::output::hanging::{Hanging, MOST_SHOWN, Sizes, Wanted};
use underover::output::orders_wall::OrdersWall;
use underover::output::wall::Tile;
use underover::plan::Path;
use underover::show::chain::EffectUse;
use underover::show::clip::{Fit, FootageName};
use underover::show::running::OPEN_BEATS;
use underover::show::{Scope, Show};

use crate::common::Set::To;
use crate::common::{Alpha, CATALOGUE, moment, path, picture, scattered, used, with_renderer};

/// A picture of each class as a row of numbers, and the sums of them worked out as they are defined.
pub(crate) struct Rows(pub(crate) Vec<Vec<f64>>);

impl Rows {
    fn mean(&self, classes: &[usize], weight: impl Fn(usize) -> f64) -> Option<Vec<f64>> {
        let whole: f64 = classes.iter().map(|&class| weight(class)).sum();
        let sum = |at: usize| classes.iter().map(|&class| weight(class) * self.0[class][at]).sum::<f64>();
        (whole > 0.0).then(|| (0..self.0[0].len()).map(|at| sum(at) / whole).collect())
    }
}

fn squared(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).map(|(a, b)| (a - b).powi(2)).sum()
}

impl Points for Rows {
    type Error = ();

    fn between_means(&mut self, classes: &[usize], weights: &Weights) -> Result<Vec<f64>, ()> {
        let apart = |column: &Vec<u32>| {
            let holding = self.mean(classes, |class| f64::from(column[class]));
            let others = self.mean(classes, |class| f64::from(weights.whole[class] - column[class]));
            holding.zip(others).map_or(0.0, |(holding, others)| squared(&holding, &others))
        };
        Ok(weights.columns.iter().map(apart).collect())
    }

    fn distances(&mut self, families: &[&[usize]], weights: &Weights) -> Result<Vec<Vec<f64>>, ()> {
        let far = |family: &&[usize]| {
            let mean = self.mean(family, |class| f64::from(weights.whole[class])).unwrap();
            family.iter().map(|&class| squared(&self.0[class], &mean)).collect()
        };
        Ok(families.iter().map(far).collect())
    }
}

/// Every order of `n` effects.
pub(crate) fn all_orders(n: usize) -> Vec<Vec<usize>> {
    Classes::new((0..n).collect(), |_, _| false).all().into_iter().map(|class| class.order).collect()
}

pub(crate) fn holds(order: &[usize], fact: Fact) -> bool {
    let at = |effect: usize| order.iter().position(|&other| other == effect);
    at(fact.before) < at(fact.after)
}

/// The spread of a set of points, each as often as it stands there.
pub(crate) fn spread(points: &[&[f64]]) -> f64 {
    let Some(first) = points.first() else { return 0.0 };
    let mean: Vec<f64> = (0..first.len())
        .map(|at| points.iter().map(|point| point[at]).sum::<f64>() / points.len() as f64)
        .collect();
    points.iter().map(|point| squared(point, &mean)).sum()
}

/// Marks of so many effects: these.
pub(crate) fn marked(marks_of: &[u32]) -> Marks {
    let chain: Vec<EffectUse> = marks_of
        .iter()
        .map(|&mark| {
            let mut one = used("tint", &[]);
            one.mark = Some(mark);
            one
        })
        .collect();
    marks(&chain)
}

fn grown(classes: &Classes, list: &[Class], marks: &Marks, rows: &[Vec<f64>]) -> Families {
    let (_, tally) = classes.looked_at(&Extent::default());
    Families::grown(classes, list, &tally, marks, &mut Rows(rows.to_vec())).unwrap().unwrap()
}

/// A chain of effects of which some pairs commute, and a point of its own for each class.
#[derive(Debug, Clone)]
struct Planted {
    effects: usize,
    classes: Classes,
    list: Vec<Class>,
    rows: Vec<Vec<f64>>,
}

impl Planted {
    /// `commutes` has a bit for each pair; `row` gives a class's point by its order.
    fn new(effects: usize, commutes: u32, row: impl Fn(&[usize]) -> Vec<f64>) -> Self {
        let pair = |a: usize, b: usize| a * 8 + b;
        let bits: HashMap<usize, usize> = (0..effects)
            .flat_map(|a| (a + 1..effects).map(move |b| pair(a, b)))
            .enumerate()
            .map(|(nth, pair)| (pair, nth))
            .collect();
        let classes = Classes::new((0..effects).collect(), |a, b| commutes >> bits[&pair(a, b)] & 1 == 1);
        let list = classes.all();
        let rows = list.iter().map(|class| row(&class.order)).collect();
        Self { effects, classes, list, rows }
    }

    /// A point for every order: that of its class.
    fn of_orders(&self) -> Vec<(Vec<usize>, &[f64])> {
        let at: HashMap<&[usize], usize> =
            self.list.iter().enumerate().map(|(at, class)| (&class.order[..], at)).collect();
        let point = |order: Vec<usize>| {
            let class = at[&self.classes.normal_form(&order)[..]];
            (order, &self.rows[class][..])
        };
        all_orders(self.effects).into_iter().map(point).collect()
    }

    fn grown(&self) -> Families {
        let marks: Vec<u32> = (1..=self.effects as u32).collect();
        grown(&self.classes, &self.list, &marked(&marks), &self.rows)
    }
}

/// Points that hang on facts of their orders, more on some than on others, and on chance.
fn planted() -> impl Strategy<Value = Planted> {
    let parts = (2_usize..=5, any::<u32>(), any::<u32>(), prop::collection::vec(-9_i32..=9, 30));
    parts.prop_map(|(effects, commutes, also, heights)| {
        // Half of the pairs at most commute, mostly.
        Planted::new(effects, commutes & also, |order| {
            let mut row = vec![0.0; 3];
            let mut nth = 0;
            for before in 0..effects {
                for after in before + 1..effects {
                    let side = if holds(order, Fact { before, after }) { 1.0 } else { -1.0 };
                    row[nth % 3] += side * f64::from(heights[nth]);
                    row[(nth + 1) % 3] += f64::from(heights[10 + order[nth % effects]]) / 7.0;
                    nth += 1;
                }
            }
            row
        })
    })
}

/// Points of which most hangs on whether two facts agree, some on a third fact, and little on chance.
fn interacting() -> impl Strategy<Value = Planted> {
    let parts = (3_usize..=5, any::<u32>(), prop::collection::vec(0_usize..20, 3), -3_i32..=3, -9_i32..=9);
    parts.prop_map(|(effects, commutes, nth, decoy, chance)| {
        let pairs: Vec<Fact> = (0..effects).flat_map(|a| (a + 1..effects).map(move |b| fact(a, b))).collect();
        let of = |order: &[usize], nth: usize| holds(order, pairs[nth % pairs.len()]);
        // At most one pair commutes.
        Planted::new(effects, (commutes & 1) << (commutes >> 1 & 15), |order| {
            let agree = of(order, nth[0]) == of(order, nth[1]);
            let third = of(order, nth[2]);
            let place = order[effects - 1] as f64;
            vec![
                if agree { 5.0 } else { 0.0 },
                if third { f64::from(decoy) } else { 0.0 },
                f64::from(chance) / 20.0 * place,
            ]
        })
    })
}

/// What a fact makes of some orders.
fn halves(orders: &[(Vec<usize>, &[f64])], some: &[usize], fact: Fact) -> (Vec<usize>, Vec<usize>) {
    some.iter().partition(|&&at| holds(&orders[at].0, fact))
}

/// A share within this of a limit is on it.
const TIE: f64 = 1e-6;
const LEAST: f64 = LEAST_SHARE - TIE;

/// The tree of questions, grown by the sums over every order, as it is defined.
struct Model<'a> {
    orders: &'a [(Vec<usize>, &'a [f64])],
    asked: Vec<Fact>,
    sets: Vec<Vec<usize>>,
    total: f64,
}

impl<'a> Model<'a> {
    fn of(planted: &Planted, orders: &'a [(Vec<usize>, &'a [f64])]) -> Self {
        let pairs = (0..planted.effects).flat_map(|a| (a + 1..planted.effects).map(move |b| fact(a, b)));
        let asked = pairs.filter(|pair| !planted.classes.commute(pair.before, pair.after)).collect();
        let mut model = Self { orders, asked, sets: vec![(0..orders.len()).collect()], total: 0.0 };
        model.total = model.spread(&model.sets[0]);
        model
    }

    fn spread(&self, some: &[usize]) -> f64 {
        spread(&some.iter().map(|&at| self.orders[at].1).collect::<Vec<_>>())
    }

    fn gain(&self, some: &[usize], fact: Fact) -> f64 {
        let (under, over) = halves(self.orders, some, fact);
        (self.spread(some) - self.spread(&under) - self.spread(&over)) / self.total
    }

    /// The splits that come next: each a fact, the set that it splits, and whether it is asked for the next alone.
    fn step(&self) -> Option<Vec<(Fact, usize, bool)>> {
        let left = self.sets.iter().map(|set| self.spread(set)).sum::<f64>() / self.total;
        if 1.0 - left >= EXPLAINED_ENOUGH - TIE || self.sets.len() >= MOST_FAMILIES {
            return None;
        }
        let mut one: Option<(f64, Fact, usize)> = None;
        for &fact in &self.asked {
            for (at, set) in self.sets.iter().enumerate() {
                let gain = self.gain(set, fact);
                if gain > one.map_or(0.0, |(most, ..)| most + TIE) {
                    one = Some((gain, fact, at));
                }
            }
        }
        let most = one.map_or(0.0, |(gain, ..)| gain);
        if (most < LEAST || most < left / 10.0 - TIE) && self.sets.len() + 2 <= MOST_FAMILIES {
            let mut best = 2.0 * most.max(LEAST);
            let mut two = None;
            for &first in &self.asked {
                for (at, set) in self.sets.iter().enumerate() {
                    let (under, over) = halves(self.orders, set, first);
                    if self.gain(set, first) >= LEAST || under.is_empty() || over.is_empty() {
                        continue;
                    }
                    for &second in self.asked.iter().filter(|&&second| self.gain(set, second) < LEAST) {
                        for (side, half) in [&under, &over].into_iter().enumerate() {
                            let both = self.gain(set, first) + self.gain(half, second);
                            if both > best + TIE {
                                best = both;
                                two = Some(vec![(first, at, true), (second, at + side, false)]);
                            }
                        }
                    }
                }
            }
            if two.is_some() {
                return two;
            }
        }
        one.filter(|(gain, ..)| *gain >= LEAST).map(|(_, fact, at)| vec![(fact, at, false)])
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(200))]

    #[test]
    fn shares_are_those_of_a_sum_over_every_order(planted in planted()) {
        let families = planted.grown();
        let orders = planted.of_orders();
        let all: Vec<&[f64]> = orders.iter().map(|(_, point)| *point).collect();
        let total = spread(&all);
        // Of points that are all alike, 64 bits leave noise.
        prop_assume!(total > 1e-6);
        prop_assert!((families.spread * all.len() as f64 - total).abs() <= 1e-9 * (1.0 + total));
        prop_assert_eq!(families.facts.len(), planted.effects * (planted.effects - 1) / 2);
        for share in &families.facts {
            let (under, over): (Vec<_>, Vec<_>) = orders.iter().partition(|(order, _)| holds(order, share.fact));
            let [under, over] = [under, over].map(|side| side.iter().map(|(_, point)| *point).collect::<Vec<_>>());
            let wanted = 1.0 - (spread(&under) + spread(&over)) / total;
            prop_assert!((share.share - wanted).abs() <= 1e-9, "{share:?}, by every order {wanted}");
            prop_assert_eq!(share.commutes, planted.classes.commute(share.fact.before, share.fact.after));
        }
        for pair in families.facts.windows(2) {
            prop_assert!(pair[0].share >= pair[1].share - 1e-6, "{pair:?}");
        }
    }

    #[test]
    fn families_are_the_greedy_splits_of_every_order_and_pairs_that_show_only_together(
        planted in prop_oneof![planted(), interacting()],
    ) {
        let families = planted.grown();
        let orders = planted.of_orders();
        let all: Vec<usize> = (0..orders.len()).collect();
        let spread_of = |some: &[usize]| spread(&some.iter().map(|&at| orders[at].1).collect::<Vec<_>>());
        let total = spread_of(&all);
        prop_assume!(total > 1e-6);
        let split = |some: &[usize], fact: Fact| halves(&orders, some, fact);
        let mut model = Model::of(&planted, &orders);
        let mut asked = families.questions.iter();
        while let Some(step) = model.step() {
            for (fact, at, opens) in step {
                let question = asked.next().expect("a split was left");
                let (under, over) = split(&model.sets[at], fact);
                let inside = spread_of(&model.sets[at]);
                let gain = (inside - spread_of(&under) - spread_of(&over)) / total;
                prop_assert_eq!((question.fact, question.opens), (fact, opens));
                prop_assert!((question.share - gain).abs() <= 1e-9, "{question:?}, by every order {gain}");
                prop_assert!(opens || gain >= LEAST - 1e-9);
                let inside = if inside > 1e-9 { gain * total / inside } else { 0.0 };
                prop_assert!((question.inside - inside).abs() <= 1e-9, "{question:?}, by every order {inside}");
                model.sets.splice(at..=at, [under, over]);
                let sizes: Vec<u64> = model.sets.iter().map(|set| set.len() as u64).collect();
                prop_assert_eq!(&question.orders, &sizes);
                let within: f64 = model.sets.iter().map(|set| spread_of(set)).sum();
                prop_assert!((question.explained - (1.0 - within / total)).abs() <= 1e-9);
            }
        }
        prop_assert_eq!(asked.next(), None);
        let sets = &model.sets;
        prop_assert_eq!(families.list.len(), sets.len());
        for (family, set) in families.list.iter().zip(sets) {
            let mine: Vec<usize> =
                (0..orders.len()).filter(|&at| family.facts.iter().all(|&fact| holds(&orders[at].0, fact))).collect();
            prop_assert_eq!(&mine, set);
            prop_assert_eq!(family.orders, set.len() as u64);
            prop_assert!((family.left - spread_of(set) / total).abs() <= 1e-9, "{family:?}");
            let mean: Vec<f64> = (0..3)
                .map(|at| set.iter().map(|&order| orders[order].1[at]).sum::<f64>() / set.len() as f64)
                .collect();
            let nearest = family.classes.iter().map(|&class| squared(&planted.rows[class], &mean));
            let shown = squared(&planted.rows[family.shown], &mean);
            prop_assert!(shown <= nearest.fold(f64::INFINITY, f64::min) + 1e-6 * families.spread.max(1.0));
            for share in &family.inside {
                let (under, over) = split(set, share.fact);
                let left = spread_of(set);
                let wanted = if left > 1e-9 { 1.0 - (spread_of(&under) + spread_of(&over)) / left } else { 0.0 };
                prop_assert!(left <= 1e-9 || (share.share - wanted).abs() <= 1e-6, "{share:?}, {wanted}");
            }
        }
        let explained = families.questions.last().map_or(0.0, |last| last.explained);
        prop_assert!((families.explained - explained).abs() <= 1e-9);
    }

    #[test]
    fn nothing_depends_on_how_classes_and_effects_are_listed(
        planted in prop_oneof![planted(), interacting()],
        turn in 0_usize..120,
    ) {
        let families = planted.grown();
        // The classes in another order.
        let count = planted.list.len();
        let shuffled: Vec<usize> = (0..count).map(|at| (at * 7 + turn) % count).collect();
        if shuffled.iter().collect::<std::collections::BTreeSet<_>>().len() == count {
            let list: Vec<Class> = shuffled.iter().map(|&at| planted.list[at].clone()).collect();
            let rows: Vec<Vec<f64>> = shuffled.iter().map(|&at| planted.rows[at].clone()).collect();
            let marks: Vec<u32> = (1..=planted.effects as u32).collect();
            let again = grown(&planted.classes, &list, &marked(&marks), &rows);
            prop_assert_eq!(&again.facts, &families.facts);
            prop_assert_eq!(&again.questions, &families.questions);
            for (again, first) in again.list.iter().zip(&families.list) {
                prop_assert_eq!(shuffled[again.shown], first.shown);
            }
        }
        // The effects in another order, each with its mark.
        let orders = all_orders(planted.effects);
        let places = &orders[turn % orders.len()];
        let of: HashMap<Vec<usize>, &[f64]> = planted.of_orders().into_iter().collect();
        let turned = Classes::new((0..planted.effects).collect(), |a, b| planted.classes.commute(places[a], places[b]));
        let list = turned.all();
        let rows: Vec<Vec<f64>> = list
            .iter()
            .map(|class| of[&class.order.iter().map(|&at| places[at]).collect::<Vec<_>>()].to_vec())
            .collect();
        let marks: Vec<u32> = places.iter().map(|&place| place as u32 + 1).collect();
        let again = grown(&turned, &list, &marked(&marks), &rows);
        let named = |fact: Fact| Fact { before: places[fact.before], after: places[fact.after] };
        prop_assert_eq!(again.questions.len(), families.questions.len());
        for (again, first) in again.questions.iter().zip(&families.questions) {
            prop_assert_eq!(named(again.fact), first.fact);
            prop_assert_eq!(&again.orders, &first.orders);
            prop_assert!((again.share - first.share).abs() <= 1e-9);
        }
        for (again, first) in again.facts.iter().zip(&families.facts) {
            prop_assert!((again.share - first.share).abs() <= 2e-6);
        }
    }

    #[test]
    fn a_class_counts_its_orders_by_every_pair(planted in planted()) {
        let mut counted: BTreeMap<Vec<usize>, Vec<Vec<u64>>> = BTreeMap::new();
        for order in all_orders(planted.effects) {
            let n = planted.effects;
            let before = counted.entry(planted.classes.normal_form(&order)).or_insert_with(|| vec![vec![0; n]; n]);
            for (at, &one) in order.iter().enumerate() {
                order[at + 1..].iter().for_each(|&later| before[one][later] += 1);
            }
        }
        for class in &planted.list {
            prop_assert_eq!(&planted.classes.orders_before(class), &counted[&class.order]);
        }
    }
}

fn fact(before: usize, after: usize) -> Fact {
    Fact { before, after }
}

fn bit(order: &[usize], before: usize, after: usize) -> f64 {
    f64::from(u8::from(holds(order, fact(before, after))))
}

#[test]
fn ties_go_to_the_lower_marks() {
    let planted = Planted::new(4, 0, |order| vec![bit(order, 2, 3), bit(order, 0, 1)]);
    let families = planted.grown();
    assert_eq!([families.facts[0].fact, families.facts[1].fact], [fact(0, 1), fact(2, 3)]);
    let asked: Vec<_> = families.questions.iter().map(|question| question.fact).collect();
    assert_eq!(asked, [fact(0, 1), fact(2, 3), fact(2, 3)]);
    assert!((families.explained - 1.0).abs() < 1e-12);
}

#[test]
fn where_nothing_matters_nothing_is_asked_and_all_is_one_family() {
    for commutes in [0, 0b11_1111] {
        let families = Planted::new(4, commutes, |_| vec![3.5, -1.0]).grown();
        assert!(families.questions.is_empty() && families.facts.iter().all(|share| share.share == 0.0));
        assert_eq!((families.list.len(), families.list[0].orders), (1, 24));
        assert_eq!((families.explained, families.spread), (1.0, 0.0));
    }
}

#[test]
fn a_pair_that_matters_only_inside_a_family_is_found_there() {
    // The third and fourth effects matter only where the first is under the second; elsewhere all is as far away.
    let planted =
        Planted::new(4, 0, |order| vec![5.0 * bit(order, 0, 1), bit(order, 0, 1) * 4.0 * bit(order, 2, 3)]);
    let families = planted.grown();
    let [first, second] = &families.questions[..] else { panic!("{:?}", families.questions) };
    assert_eq!((first.fact, second.fact), (fact(0, 1), fact(2, 3)));
    assert_eq!(second.within, [fact(0, 1)]);
    assert!((second.inside - 1.0).abs() < 1e-12 && second.share < 0.25, "{second:?}");
    assert!(families.share_of(2, 3).unwrap() < second.share);
    assert!((families.explained - 1.0).abs() < 1e-12);
    let sizes: Vec<u64> = families.list.iter().map(|family| family.orders).collect();
    assert_eq!(sizes, [6, 6, 12]);
}

#[test]
fn two_facts_of_which_neither_shows_alone_are_found_together() {
    // Whether the second stands between the first and the third; and whether two facts of four effects agree.
    let between = Planted::new(3, 0, |order| vec![if order[1] == 1 { 4.0 } else { 0.0 }]);
    let agree = Planted::new(4, 0, |order| vec![(bit(order, 0, 1) - bit(order, 2, 3)).abs()]);
    for (planted, asked) in [(&between, [fact(0, 1), fact(1, 2)]), (&agree, [fact(0, 1), fact(2, 3)])] {
        let families = planted.grown();
        assert!(families.facts.iter().all(|share| share.share < 1e-12), "{:?}", families.facts);
        let found: Vec<_> =
            families.questions.iter().map(|question| (question.fact, question.opens)).collect();
        assert_eq!(found, [(asked[0], true), (asked[1], false), (asked[1], false)]);
        assert!(families.questions[0].share < 1e-12 && (families.explained - 1.0).abs() < 1e-12);
    }
    // Where a third fact shows a little alone, the two that show more together still come first.
    let beside =
        Planted::new(4, 0, |order| vec![5.0 * (bit(order, 0, 1) - bit(order, 2, 3)).abs(), bit(order, 0, 3)]);
    let families = beside.grown();
    assert!(families.questions[0].opens && families.explained > 0.9, "{:?}", families.questions);
    // Three of which no two show anything are beyond it, and the words claim no more than was looked for.
    let three = Planted::new(6, 0, |order| {
        vec![f64::from(u8::from(
            holds(order, fact(0, 1)) ^ holds(order, fact(2, 3)) ^ holds(order, fact(4, 5)),
        ))]
    });
    assert_eq!(three.grown().questions, []);
}

#[test]
fn what_decides_inside_a_family_is_said_and_that_it_does_so_only_there() {
    let mut explored = explored(&scattered(64, 36, Alpha::Full, 8), &chain_of_five(), 0.1);
    let families = explored.families.as_mut().unwrap();
    assert!(families.list.len() > 1);
    // Of the first family a twentieth of all is left, and two thirds of that hang on edges and fringes.
    families.list[0].left = 0.05;
    families.list[0].inside = vec![Share { fact: fact(1, 2), share: 2.0 / 3.0, error: 0.0, commutes: false }];
    let mut says = |alone: f64, wanted: &str| {
        let families = explored.families.as_mut().unwrap();
        families
            .facts
            .iter_mut()
            .filter(|share| share.fact == fact(1, 2))
            .for_each(|share| share.share = alone);
        assert!(
            explored.families_said().iter().any(|line| line.trim() == wanted),
            "{:?}",
            explored.families_said()
        );
    };
    let said = "left inside, 5 % of all: edge-find (2) and channel-offset (3) 67 %";
    says(0.3, said);
    says(0.01, &format!("{said} (only here)"));
}

fn chain_of_five() -> [EffectUse; 5] {
    [
        used("tint", &[("amount", To(0.7))]),
        used("edge-find", &[]),
        used("channel-offset", &[("distance", To(0.1))]),
        used("mirror", &[]),
        used("flash-gate", &[("strength", To(0.6))]),
    ]
}

fn explored(picture: &Picture, chain: &[EffectUse], beats: f64) -> Exploration {
    let path = path(picture, chain, moment(picture.frame, PixelMode::Encoded8Bit, beats));
    with_renderer(|renderer| {
        let orders = Orders::of(renderer, &path).unwrap();
        orders
            .explored(renderer, &path, Want::Figures, LookLimits::default(), Budget::default(), |_| {})
            .unwrap()
    })
}

/// A picture as a point, worked out in 64 bits: shrunk by area, over black, in CIELAB as `palette` has it.
fn point(picture: &Picture) -> Vec<f64> {
    let (from, to) = (picture.frame, point_frame(picture.frame));
    // The texels of one side that a texel of the smaller picture covers, and how much of each.
    let covered = |at: u32, from: u32, to: u32| -> Vec<(u32, f64)> {
        let (low, high) = (f64::from(at * from) / f64::from(to), f64::from((at + 1) * from) / f64::from(to));
        (0..from)
            .map(|x| (x, (high.min(f64::from(x + 1)) - low.max(f64::from(x))).max(0.0)))
            .filter(|(_, part)| *part > 0.0)
            .collect()
    };
    let mut point = Vec::new();
    for y in 0..to.height {
        let rows = covered(y, from.height, to.height);
        for x in 0..to.width {
            let mut sum = [0.0; 3];
            let mut whole = 0.0;
            for &(at_x, wide) in &covered(x, from.width, to.width) {
                for &(at_y, tall) in &rows {
                    let at = (at_y * from.width + at_x) as usize * 4;
                    let alpha = f64::from(picture.rgba[at + 3]) / 255.0;
                    whole += wide * tall;
                    for (sum, byte) in sum.iter_mut().zip(&picture.rgba[at..]) {
                        *sum += wide * tall * alpha * f64::from(*byte) / 255.0;
                    }
                }
            }
            let [r, g, b] = sum.map(|sum| sum / whole);
            let lab: Lab<_, f64> = Lab::from_color(Srgb::new(r, g, b));
            point.extend([lab.l, lab.a, lab.b]);
        }
    }
    point
}

/// Sums on the GPU are of coordinates to 1/256, in 32 bits, under a white that differs from `palette`'s in the last digits.
const BOUND: f64 = 2e-4;

/// That two say the same of the same orders, within the bound.
fn check(found: &Families, wanted: &Families) {
    let near = |a: f64, b: f64| (a - b).abs() <= BOUND;
    assert!(near(found.spread / wanted.spread, 1.0), "spread {} and {}", found.spread, wanted.spread);
    for share in &wanted.facts {
        let found = found.share_of(share.fact.before, share.fact.after).unwrap();
        assert!(near(found, share.share), "{share:?}: {found}");
    }
    assert_eq!(found.questions.len(), wanted.questions.len());
    for (found, wanted) in found.questions.iter().zip(&wanted.questions) {
        assert_eq!((found.fact, &found.within, &found.orders), (wanted.fact, &wanted.within, &wanted.orders));
        assert!(near(found.share, wanted.share) && near(found.explained, wanted.explained), "{found:?}");
        assert!(near(found.inside, wanted.inside), "{found:?}, {wanted:?}");
    }
    for (found, wanted) in found.list.iter().zip(&wanted.list) {
        assert_eq!(
            (&found.classes, found.orders, found.shown),
            (&wanted.classes, wanted.orders, wanted.shown)
        );
    }
}

#[test]
fn the_gpu_sums_what_the_pictures_read_back_sum_to() {
    let chain = chain_of_five();
    // As it is; smaller, by no whole number; and one row.
    for (width, height, alpha) in
        [(33, 17, Alpha::Mixed), (201, 101, Alpha::Full), (190, 90, Alpha::Mixed), (40, 1, Alpha::Full)]
    {
        let picture = scattered(width, height, alpha, 5);
        let explored = explored(&picture, &chain, 0.1);
        let path = path(&picture, &chain, moment(picture.frame, PixelMode::Encoded8Bit, 0.1));
        assert_eq!(explored.looked_at, picture.frame, "looks shrink nothing here");
        let classes = &explored.orders.classes;
        let pictures: Vec<Picture> = with_renderer(|renderer| {
            classes.iter().map(|class| renderer.picture(&path, &class.order).unwrap()).collect()
        });
        let rows: Vec<Vec<f64>> = pictures.iter().map(point).collect();
        let wanted = grown(&explored.orders.proofs.classes, classes, &explored.orders.marks, &rows);
        check(explored.families.as_ref().unwrap(), &wanted);
    }
}

/// The points of a gallery, of which the sides of facts are asked one by one.
struct OneByOne<'a>(GalleryPoints<'a>);

impl Points for OneByOne<'_> {
    type Error = GpuError;

    fn between_means(&mut self, classes: &[usize], weights: &Weights) -> Result<Vec<f64>, GpuError> {
        self.0.between_means(classes, weights)
    }

    fn distances(&mut self, families: &[&[usize]], weights: &Weights) -> Result<Vec<Vec<f64>>, GpuError> {
        self.0.distances(families, weights)
    }
}

#[test]
fn distances_from_both_sides_of_many_facts_are_those_that_are_asked_for_one_by_one() {
    let found = explored(&scattered(40, 30, Alpha::Full, 5), &chain_of_five(), 0.1);
    let list: Vec<usize> = (0..found.orders.classes.len()).collect();
    let whole: Vec<u32> = list.iter().map(|class| 1 + *class as u32 % 3).collect();
    // More columns than one pass sums, one of which holds for all.
    let column = |nth: usize| whole.iter().map(|whole| (*whole * nth as u32 / 7) % (whole + 1)).collect();
    let mut columns: Vec<Vec<u32>> = (0..70).map(column).collect();
    columns[3].clone_from(&whole);
    let weights = Weights { whole, columns };
    let some: Vec<usize> = list.iter().copied().step_by(4).collect();
    with_renderer(|renderer| {
        let galleries = || found.galleries.iter().map(|gallery| (gallery, 1)).collect();
        let together =
            GalleryPoints::of(renderer, galleries()).distances_from_sides(&some, &list, &weights).unwrap();
        let apart = OneByOne(GalleryPoints::of(renderer, galleries()));
        let one_by_one = { apart }.distances_from_sides(&some, &list, &weights).unwrap();
        for (nth, (together, one_by_one)) in together.iter().zip(&one_by_one).enumerate() {
            for (at, (a, b)) in together.iter().zip(one_by_one).enumerate() {
                for side in 0..2 {
                    let (a, b) = (a[side], b[side]);
                    assert!(
                        (a - b).abs() <= 1e-3 * (1.0 + b),
                        "column {nth}, class {at}, side {side}: {a}, {b}"
                    );
                }
            }
        }
        let gaps = GalleryPoints::of(renderer, galleries()).between_means(&list, &weights).unwrap();
        let few = Weights { columns: weights.columns[60..].to_vec(), whole: weights.whole.clone() };
        let alone = GalleryPoints::of(renderer, galleries()).between_means(&list, &few).unwrap();
        assert_eq!(gaps[60..], alone[..]);
    });
}

#[test]
fn over_a_stretch_every_moment_counts_once() {
    let frame = Frame { width: 24, height: 14 };
    let chain =
        [used("flash-gate", &[("strength", To(0.5))]), used("posterise", &[]), used("edge-find", &[])];
    let footage = FootageName::Generated("colour-bars".to_owned());
    let planned = |moment, past: bool| {
        let shelf = &mut Shelf::new(&CATALOGUE);
        if past {
            return Path::of_chain(&chain, &footage, Fit::Whole, moment, shelf);
        }
        Path::of_chain_alone(&chain, &footage, Fit::Whole, moment, shelf)
    };
    // The gate is open for a third of it.
    let start = moment(frame, PixelMode::Encoded8Bit, 0.25);
    let stretch = Stretch::planned(start, 0.75, None, planned).unwrap();
    let explored = with_renderer(|renderer| {
        let orders = stretch.orders(renderer, |_| {}).unwrap();
        stretch.explored(orders, renderer, 0, LookLimits::default(), Budget::default(), |_| {}).unwrap()
    });
    assert!(explored.galleries.len() < stretch.sampled.len(), "some moments show alike");
    let paths: Vec<Path> = stretch.moments().map(|&moment| planned(moment, true).unwrap()).collect();
    let row = |class: &Class| -> Vec<f64> {
        with_renderer(|renderer| {
            paths.iter().flat_map(|path| point(&renderer.picture(path, &class.order).unwrap())).collect()
        })
    };
    let rows: Vec<Vec<f64>> = explored.orders.classes.iter().map(row).collect();
    let orders = &explored.orders;
    check(
        explored.families.as_ref().unwrap(),
        &grown(&orders.proofs.classes, &orders.classes, &orders.marks, &rows),
    );
}

#[test]
fn on_even_footage_only_the_one_fact_matters_that_colours_it() {
    // Moves and edges find nothing to do on one colour that they would not do in any order.
    let even = picture(48, 27, [90, 120, 60, 255].repeat(48 * 27));
    let chain = [
        used("tint", &[("amount", To(0.8))]),
        used("channel-offset", &[("distance", To(0.1))]),
        used("flash-gate", &[("strength", To(0.7))]),
        used("mirror", &[]),
    ];
    let explored = explored(&even, &chain, 0.1);
    let families = explored.families.as_ref().unwrap();
    assert_eq!(families.facts[0].fact, fact(0, 2));
    assert!(families.facts[0].share > 0.95, "{:?}", families.facts);
    assert_eq!(families.list.iter().map(|family| family.orders).collect::<Vec<_>>(), [12, 12]);
    assert_eq!(explored.opening_said().unwrap(), "One question decides 100 % of what order does here.");
    assert_eq!(explored.questions_said(), ["100 %  tint (1) under or over flash-gate (3)?"]);
}

#[test]
fn where_order_changes_nothing_that_is_said_and_why() {
    let sea = scattered(32, 18, Alpha::Full, 2);
    let commuting = [used("mirror", &[]), used("tint", &[]), used("tint", &[("amount", To(0.0))])];
    let proved = explored(&sea, &commuting, 0.1);
    assert_eq!(proved.orders.classes.len(), 1);
    let said = proved.opening_said().unwrap();
    assert!(said.starts_with("Order changes nothing") && said.ends_with("That is proved."), "{said}");
    let black = picture(32, 18, [0, 0, 0, 255].repeat(32 * 18));
    let dark = explored(&black, &[used("tint", &[]), used("edge-find", &[])], 0.1);
    assert!(dark.orders.classes.len() > 1);
    assert_eq!(
        dark.opening_said().unwrap(),
        "Order changes nothing here: every order shows the same picture."
    );
    assert!(dark.questions_said().is_empty() && dark.families_said().is_empty());
    assert_eq!(explored(&black, &[used("tint", &[])], 0.1).opening_said(), None);
}

#[test]
fn the_wall_hangs_each_family_by_its_most_typical_order_and_every_look_that_it_has() {
    let sea = scattered(64, 36, Alpha::Full, 8);
    let chain = chain_of_five();
    let path = path(&sea, &chain, moment(sea.frame, PixelMode::Encoded8Bit, 0.1));
    let mut explored = explored(&sea, &chain, 0.1);
    let ranked: Vec<usize> = (0..explored.orders.classes.len()).rev().collect();
    let sizes = Sizes::of(&explored.orders, sea.frame, sea.frame, MOST_SHOWN);
    let hanging = |explored: &Exploration, most, every, ranked| {
        Hanging::of(explored, sizes, Wanted { most, every, ranked })
    };
    let hung = hanging(&explored, MOST_SHOWN, false, None);
    with_renderer(|renderer| hung.hang(&mut explored, renderer, &path, Budget::default()).unwrap());
    let wall = |explored: &Exploration, hanging: &Hanging| {
        let wall = OrdersWall {
            title: "Sea",
            source: "sea.png".into(),
            frame_note: None,
            path: &path,
            explored,
            parts: &[],
            hanging,
            own: "the file's own order",
            caution: None,
        };
        wall.composed(|_| Vec::new(), Vec::new()).unwrap()
    };
    let sheet = wall(&explored, &hung);
    let families = explored.families.as_ref().unwrap();
    assert_eq!(sheet.answer, explored.opening_said());
    assert_eq!(sheet.questions.len(), families.questions.len());
    assert_eq!(sheet.families.len(), families.list.len());
    let code = |class: usize| explored.orders.code(class);
    let mut tiles = &sheet.tiles[..];
    for (group, family) in sheet.families.iter().zip(&families.list) {
        let (mine, rest) = tiles.split_at(group.tiles);
        tiles = rest;
        assert_eq!(explored.plain(&group.heading), explored.plain(&explored.family_named(family)));
        assert_eq!(mine[0].code, code(family.shown));
        assert!(mine[1..].iter().all(|tile| tile.picture.width() < mine[0].picture.width()));
        // One of each look, with how many orders of the family look so: together all of them.
        let look = |tile: &Tile| {
            let class =
                *family.classes.iter().find(|&&class| code(class) == tile.code).expect("of this family");
            explored.looks.of[class]
        };
        let mut looks: Vec<usize> = mine.iter().map(look).collect();
        looks.sort_unstable();
        let mut wanted: Vec<usize> = family.classes.iter().map(|&class| explored.looks.of[class]).collect();
        wanted.sort_unstable();
        wanted.dedup();
        assert_eq!(looks, wanted);
        let counted = |tile: &Tile| -> u64 {
            let note = tile.note.as_ref().unwrap();
            let after = note.split_once(": ").unwrap().1;
            after.split(' ').next().unwrap().parse().unwrap()
        };
        assert_eq!(mine.iter().map(counted).sum::<u64>(), family.orders);
    }
    assert!(tiles.is_empty());
    // Every order where that is asked for and fits; otherwise as many as fit, every family first.
    let all = ranked.len();
    let shown = |most, every, ranked| hanging(&explored, most, every, ranked).shown();
    let sorted = |mut classes: Vec<usize>| {
        classes.sort_unstable();
        classes
    };
    assert_eq!(sorted(shown(all, true, None)), (0..all).collect::<Vec<_>>());
    let few = shown(families.list.len() + 1, true, None);
    assert_eq!(few.len(), families.list.len() + 1);
    assert!(families.list.iter().all(|family| few.contains(&family.shown)));
    assert_eq!(shown(1, true, None).len(), 1);
    // Towards a goal each family is shown by the order nearest to it, the best family first.
    let best = shown(all, true, Some(&ranked));
    assert_eq!((best[0], sorted(best).len()), (all - 1, all));
}

fn orders(words: &[&str]) -> String {
    let base = ["orders", "preset:night-ferry", "--scope", "bundle:picture", "--at", "0.1"];
    let ran = Command::new(env!("CARGO_BIN_EXE_underover"))
        .env("UNDEROVER_STATE", concat!(env!("CARGO_TARGET_TMPDIR"), "/state"))
        .args(base)
        .args(words)
        .output()
        .unwrap();
    assert!(ran.status.success(), "{}", String::from_utf8_lossy(&ran.stderr));
    String::from_utf8(ran.stdout).unwrap()
}

/// Footage and chains made so that it is known beforehand what matters.
#[test]
fn what_was_planted_is_found_by_the_program() {
    let folder = tempfile::tempdir().unwrap();
    let found = |name: &str, picture: &Picture, chain: &str| -> (serde_json::Value, String) {
        let [file, footage] =
            [format!("{name}.toml"), format!("{name}.png")].map(|name| folder.path().join(name));
        let head = format!("format = \"underover/chain/1\"\nname = \"{name}\"\n");
        std::fs::write(&file, head + chain).unwrap();
        let Frame { width, height } = picture.frame;
        image::RgbaImage::from_raw(width, height, picture.rgba.clone()).unwrap().save(&footage).unwrap();
        let frame = picture.frame.to_string();
        let words = ["--frame", &frame, "--at", "0.1", "--footage"];
        let run = |more: &[&str]| {
            let mut command = Command::new(env!("CARGO_BIN_EXE_underover"));
            command.env("UNDEROVER_STATE", concat!(env!("CARGO_TARGET_TMPDIR"), "/state"));
            let ran = command.arg("orders").arg(&file).args(words).arg(&footage).args(more).output().unwrap();
            assert!(ran.status.success(), "{}", String::from_utf8_lossy(&ran.stderr));
            String::from_utf8(ran.stdout).unwrap()
        };
        (serde_json::from_str(&run(&["--json", "-"])).unwrap(), run(&[]))
    };
    let effect = |lines: &str| format!("[[effect]]\nuse = {lines}\n");
    let chain = |effects: &[&str]| effects.iter().map(|lines| effect(lines)).collect::<String>();
    let figure = |value: &serde_json::Value| value.as_f64().unwrap();

    let even = picture(64, 36, [90, 120, 60, 255].repeat(64 * 36));
    let effects = [
        "\"tint\"\namount = 0.8",
        "\"channel-offset\"\ndistance = 0.1",
        "\"flash-gate\"\nstrength = 0.7",
        "\"mirror\"",
    ];
    let (one, said) = found("one", &even, &chain(&effects));
    let fact = &one["facts"][0];
    assert_eq!((&fact["under"], &fact["over"]), (&1.into(), &3.into()));
    assert!(figure(&fact["share"]) > 0.95 && figure(&one["explained"]) > 0.95, "{fact}");
    assert_eq!(one["families"].as_array().unwrap().len(), 2);
    assert!(said.contains("One question decides 100 % of what order does here."), "{said}");

    let sea = scattered(64, 36, Alpha::Full, 8);
    let effects = ["\"mirror\"", "\"tint\"", "\"mirror\"\nfold = \"top-over-bottom\""];
    let (none, said) = found("none", &sea, &chain(&effects));
    assert!(none["facts"].as_array().unwrap().iter().all(|fact| figure(&fact["share"]) == 0.0));
    assert!(
        none["questions"].as_array().unwrap().is_empty() && none["families"].as_array().unwrap().len() == 1
    );
    assert!(said.contains("Order changes nothing: every order gives the same picture"), "{said}");

    // Light and dark are turned round and back: that matters to what finds edges between the two, wherever either stands.
    let effects = ["\"invert\"", "\"edge-find\"\ngain = 2.0", "\"invert\"\namount = 0.9999", "\"mirror\""];
    let (two, said) = found("two", &sea, &chain(&effects));
    assert!(two["facts"].as_array().unwrap().iter().all(|fact| figure(&fact["share"]) < 0.02), "{two}");
    let asked = two["questions"].as_array().unwrap();
    assert!(asked[0]["opens"] == true && figure(&asked[1]["share"]) > 0.4, "{asked:?}");
    assert!(figure(&two["explained"]) > 0.95, "{asked:?}");
    let opening = said.lines().next().unwrap();
    assert!(opening.starts_with("Two questions together decide "), "{said}");
    assert!(opening.ends_with(" of what order does here, neither as much as 2 % alone."), "{said}");
    assert!(said.contains("It decides little by itself, and opens the next."), "{said}");
}

/// Computed by an independent model of the effects from its own pictures of 160x90: numbers of its 120 orders.
#[test]
fn the_demo_has_the_shares_and_families_that_an_independent_model_finds() {
    let json: serde_json::Value =
        serde_json::from_str(&orders(&["--frame", "160x90", "--json", "-"])).unwrap();
    let near = |found: &serde_json::Value, wanted: f64| (found.as_f64().unwrap() - wanted).abs() <= 0.001;
    let shares = [
        ((1, 2), 0.593),
        ((2, 3), 0.408),
        ((2, 4), 0.130),
        ((2, 5), 0.122),
        ((1, 4), 0.087),
        ((1, 5), 0.053),
        ((1, 3), 0.044),
        ((3, 4), 0.030),
        ((3, 5), 0.028),
        ((4, 5), 0.022),
    ];
    for (fact, ((under, over), share)) in json["facts"].as_array().unwrap().iter().zip(shares) {
        assert_eq!((&fact["under"], &fact["over"]), (&under.into(), &over.into()));
        assert!(near(&fact["share"], share), "{fact}, the model {share}");
    }
    let questions = json["questions"].as_array().unwrap();
    for (question, explained) in questions.iter().zip([0.593, 0.876, 0.917]) {
        assert!(near(&question["explained"], explained), "{question}, the model {explained}");
    }
    let mut sizes: Vec<u64> =
        questions[1]["orders"].as_array().unwrap().iter().map(|orders| orders.as_u64().unwrap()).collect();
    sizes.sort_unstable();
    assert_eq!((questions.len(), sizes), (3, vec![20, 40, 60]));
    assert!(near(&json["explained"], 0.917));
    let families = json["families"].as_array().unwrap();
    assert_eq!(families.iter().map(|family| family["orders"].as_u64().unwrap()).sum::<u64>(), 120);
    let listed = json["order"].as_array().unwrap();
    for family in families {
        let shown = listed.iter().find(|order| order["code"] == family["shown"]).unwrap();
        assert_eq!(shown["mean_de2000"], family["mean_de2000"]);
        for fact in family["facts"].as_array().unwrap() {
            let at =
                |mark: &serde_json::Value| shown["code"].as_str().unwrap().find(&mark.to_string()).unwrap();
            assert!(at(&fact["under"]) < at(&fact["over"]), "{family}");
        }
    }
}

#[test]
fn orders_opens_with_the_questions_and_the_families() {
    let said = orders(&["--frame", "160x90"]);
    let lines: Vec<&str> = said.lines().collect();
    assert_eq!(lines[0], "Two questions decide 88 % of what order does here, three 92 %.", "{said}");
    assert_eq!(lines[1], "   59 %  tint (1) under or over flash-gate (2)?", "{said}");
    let second =
        "   28 %  where tint (1) is under flash-gate (2): flash-gate (2) under or over edge-find (3)?";
    assert_eq!(lines[2], second, "{said}");
    assert!(lines[4].starts_with("120 orders, 54 that can differ, "), "{said}");
    assert!(said.contains("\n    flash-gate (2) over edge-find (3): 40 orders, such as "), "{said}");
    assert!(!said.contains("look 3"), "{said}");
    assert!(
        orders(&["--frame", "160x90", "--rules"]).contains("Which look you get (first match wins):\n"),
        "{said}"
    );
}

/// The show that the window opens with. That pictures of 240 pixels whose colours are a mean CIEDE2000 of 20 apart are never
/// taken for each other is our own bar: 1 is just visible.
#[test]
fn the_demo_opens_on_two_questions_and_on_families_as_unlike_as_can_be() {
    let folder = tempfile::tempdir().unwrap();
    let run = |words: &[&str]| {
        let ran = Command::new(env!("CARGO_BIN_EXE_underover"))
            .env("UNDEROVER_STATE", concat!(env!("CARGO_TARGET_TMPDIR"), "/state"))
            .args(words)
            .output()
            .unwrap();
        assert!(ran.status.success(), "{}", String::from_utf8_lossy(&ran.stderr));
        String::from_utf8(ran.stdout).unwrap()
    };
    let demo = ["preset:landfall", "--scope", "bundle:picture"];
    let found = run(&[&["orders"], &demo[..], &["--frame", "320x180", "--json", "-"]].concat());
    let found: serde_json::Value = serde_json::from_str(&found).unwrap();
    let two = found["questions"][1]["explained"].as_f64().unwrap();
    assert!(two >= 0.85, "two questions decide {two}");
    let families = found["families"].as_array().unwrap();
    assert!((3..=4).contains(&families.len()), "{} families", families.len());
    let shown = families.iter().map(|family| {
        let code = family["shown"].as_str().unwrap();
        let file = folder.path().join(format!("{code}.png"));
        let out = ["--order", code, "--frame", "240x135", "--out", file.to_str().unwrap()];
        run(&[&["render"], &demo[..], &out].concat());
        let read = image::open(&file).unwrap().into_rgba8();
        (code, picture(read.width(), read.height(), read.into_raw()))
    });
    let shown: Vec<(&str, Picture)> = shown.collect();
    for (at, (a, first)) in shown.iter().enumerate() {
        for (b, second) in &shown[at + 1..] {
            let mean = Difference::of(first, second).mean;
            assert!(mean >= 20.0, "{a} and {b} are {mean} apart");
        }
    }
    // Its exit code says that every limit is kept.
    for section in &demo_show().sections {
        let words = ["--section", &section.name, "--over", "4", "--frame", "64x36", "--no-suggestions"];
        run(&[&["flashes", "preset:landfall"], &words[..]].concat());
    }
}

/// What travels with the program under this name.
fn built_in(name: &str) -> Document {
    let (_, text) = SHOWS.iter().chain(CHAINS).find(|(known, _)| *known == name).unwrap();
    parse(text, name, std::path::Path::new(""), &CATALOGUE).unwrap()
}

fn demo_show() -> Show {
    match built_in("landfall") {
        Document::Show(show) => show,
        Document::Chain(_) => panic!("a chain"),
    }
}

/// That mean of 20 is the bar of the families above.
#[test]
fn the_demo_is_a_gig_whose_sections_are_the_same_effects_in_other_orders_and_other_pictures() {
    let show = demo_show();
    let named = |name: &str| match built_in(name.strip_prefix("preset:").unwrap()) {
        Document::Chain(preset) => Ok::<_, ()>(preset.chain),
        Document::Show(_) => panic!("{name} is a show"),
    };
    let stands: Vec<Show> = (0..show.sections.len()).map(|at| show.in_section(at, named).unwrap()).collect();
    assert_eq!((stands.len(), show.running(OPEN_BEATS).unwrap().beats()), (4, 112.0));
    assert!(show.unreached_sections().is_empty());
    let as_it_stands = Show { sections: Vec::new(), running_order: Vec::new(), ..show.clone() };
    assert_eq!(stands[0], as_it_stands, "the set opens on the show as it stands");
    let at = moment(Frame { width: 240, height: 135 }, PixelMode::Encoded8Bit, 0.1);
    let mut shelf = Shelf::new(&CATALOGUE);
    let pictures = stands.iter().map(|stands| {
        let path = Path::of_scope(stands, Scope::Global, at, &mut shelf).unwrap();
        with_renderer(|renderer| renderer.picture(&path, &[]).unwrap())
    });
    let pictures: Vec<Picture> = pictures.collect();
    let own = &show.bundles[0].chain;
    for (at, stood) in stands.iter().enumerate() {
        let (name, chain) = (&show.sections[at].name, &stood.bundles[0].chain);
        assert_eq!(chain.len(), own.len(), "{name}");
        let is_there = |place: usize| {
            let mark = marks(own).of(place);
            marks(chain).place(mark).is_some_and(|place_here| own[place].is_alike(&chain[place_here]))
        };
        assert!((0..own.len()).all(is_there), "{name} has the same effects with the same marks");
        for other in at + 1..stands.len() {
            let mean = Difference::of(&pictures[at], &pictures[other]).mean;
            assert!(mean >= 20.0, "{name} and {} are {mean} apart", show.sections[other].name);
        }
    }
}
