//! Orders pinned, and orders drawn at random: against every order, one by one.

use std::collections::{BTreeMap, BTreeSet};

use proptest::prelude::*;
use underover::order::{Class, Classes, Condition, Explored, Extent, Fact, Families, Sample, Tally};

use crate::families::{Rows, all_orders, holds, marked, spread};

/// Effects of which some are alike and some pairs commute.
fn chain(effects: usize, letters: &[usize], commutes: u32) -> Classes {
    let letter: Vec<usize> =
        (0..effects).map(|at| (0..at).find(|&before| letters[before] == letters[at]).unwrap_or(at)).collect();
    Classes::new(letter, |a, b| commutes.checked_shr((a * effects + b) as u32).unwrap_or(0) & 1 == 1)
}

/// Every order in which what is pinned keeps its place, as a row of letters: twins are one letter.
fn rows_of_letters(effects: usize, letters: &[usize], pinned: &[usize]) -> BTreeMap<Vec<usize>, Vec<usize>> {
    let keeps = |order: &Vec<usize>| pinned.iter().all(|&place| order[place] == place);
    let row = |order: Vec<usize>| (order.iter().map(|&place| letters[place]).collect::<Vec<_>>(), order);
    let mut rows: BTreeMap<Vec<usize>, Vec<usize>> = BTreeMap::new();
    for (letters, order) in all_orders(effects).into_iter().filter(keeps).map(row) {
        rows.entry(letters).and_modify(|least| *least = order.clone().min(least.clone())).or_insert(order);
    }
    rows
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(300))]

    #[test]
    fn what_is_pinned_keeps_its_place_and_every_order_of_the_rest_is_counted_once(
        effects in 2_usize..=6,
        letters in prop::collection::vec(0_usize..6, 6),
        commutes in any::<u32>(),
        also in any::<u32>(),
        pins in any::<u8>(),
    ) {
        let classes = chain(effects, &letters, commutes & also);
        let pinned: Vec<usize> = (0..effects).filter(|&place| pins >> place & 1 == 1).collect();
        let extent = Extent { pinned: pinned.clone(), ..Extent::default() };
        let (list, tally) = classes.looked_at(&extent);
        prop_assert_eq!(tally.explored(), Explored::InFull);
        let own: Vec<usize> = (0..effects).collect();
        prop_assert_eq!(classes.normal_form(&list[0].order), classes.normal_form(&own));

        let rows = rows_of_letters(effects, &letters, &pinned);
        prop_assert_eq!(tally.orders_total(), Some(rows.len() as u128));
        // Orders are of one class where they have one normal form.
        let mut by_form: BTreeMap<Vec<usize>, Vec<Vec<usize>>> = BTreeMap::new();
        for order in rows.into_values() {
            by_form.entry(classes.normal_form(&order)).or_default().push(order);
        }
        prop_assert_eq!(list.len(), by_form.len());
        let conditions = [Condition::Last(effects - 1), Condition::Before { under: 0, over: 1 }];
        for (at, class) in list.iter().enumerate() {
            let members = &by_form[&classes.normal_form(&class.order)];
            prop_assert!(pinned.iter().all(|&place| class.order[place] == place), "{:?}", class);
            prop_assert_eq!(tally.orders_in(&classes, &list, at), members.len() as u64);
            if !pinned.is_empty() {
                prop_assert_eq!(&class.order, members.iter().min().unwrap());
            }
            // Which of two twins an order names first is settled; the others are counted pair by pair.
            let has_twins = (0..effects).any(|at| letters[..at].contains(&letters[at]));
            if has_twins {
                continue;
            }
            let meets = |order: &&Vec<usize>| conditions.iter().all(|condition| condition.holds(order));
            let met = members.iter().filter(meets).count() as u64;
            prop_assert_eq!(tally.orders_with(&classes, &list, at, &conditions), met);
            let before = tally.orders_before(&classes, &list, at);
            for (a, before) in before.iter().enumerate() {
                for b in (0..effects).filter(|&b| b != a) {
                    let count = members.iter().filter(|order| holds(order, Fact { before: a, after: b })).count();
                    prop_assert_eq!(before[b], count as u64, "{} before {}", a, b);
                }
            }
        }
    }
}

/// A sample of a chain of nine effects or fewer, of which some commute.
fn sampled(classes: &Classes, pinned: &[usize], orders: usize, seed: u64) -> (Vec<Class>, Tally) {
    let sample = Some(Sample { orders, seed });
    let extent = Extent { pinned: pinned.to_vec(), sample, ..Extent::default() };
    let (list, tally) = classes.looked_at(&extent);
    assert_eq!(tally.explored(), Explored::Sampled(Sample { orders, seed }));
    (list, tally)
}

/// Pearson's chi-squared.
fn chi_squared(counts: impl IntoIterator<Item = (u64, f64)>) -> f64 {
    counts.into_iter().map(|(found, wanted)| (found as f64 - wanted).powi(2) / wanted).sum()
}

#[test]
fn orders_are_drawn_evenly_and_not_their_classes() {
    // Of seven effects two pairs do not commute, 0 with 1 and 1 with 2: four classes, of a sixth, a third, a third and a
    // sixth of all orders.
    let classes = Classes::new((0..7).collect(), |a, b| !matches!((a, b), (0, 1) | (1, 2)));
    let (list, tally) = sampled(&classes, &[], 3000, 5);
    assert_eq!(list.len(), 4);
    let drawn: Vec<u64> = (0..4).map(|class| tally.orders_in(&classes, &list, class)).collect();
    let all: Vec<u64> = list.iter().map(|class| classes.orders_in(class)).collect();
    assert_eq!(all.iter().sum::<u64>(), 5040);
    let by_orders = chi_squared((0..4).map(|at| (drawn[at], 3000.0 * all[at] as f64 / 5040.0)));
    let by_classes = chi_squared(drawn.iter().map(|&drawn| (drawn, 750.0)));
    // Above 16.27 once in a thousand, with 3 degrees of freedom (tables, from memory).
    assert!(by_orders < 16.27, "{drawn:?}: {by_orders}");
    assert!(by_classes > 100.0, "{drawn:?}: {by_classes}");
}

#[test]
fn every_effect_is_drawn_evenly_into_first_and_last_place() {
    let classes = Classes::new((0..7).collect(), |_, _| false);
    let (list, tally) = sampled(&classes, &[], 4200, 11);
    let mut cells = Vec::new();
    for first in 0..7 {
        for last in (0..7).filter(|&last| last != first) {
            let both = [Condition::First(first), Condition::Last(last)];
            let count = |class| tally.orders_with(&classes, &list, class, &both);
            cells.push(((0..list.len()).map(count).sum(), 100.0));
        }
    }
    // Above 74.7 once in a thousand, with 41 degrees of freedom (tables, from memory).
    let apart = chi_squared(cells.clone());
    assert!(apart < 74.7, "{cells:?}: {apart}");
}

#[test]
fn around_pinned_effects_the_others_are_drawn_evenly() {
    // Four of seven effects vary, in 24 orders: so few are drawn by many seeds.
    let classes = Classes::new((0..7).collect(), |_, _| false);
    let pinned = [1, 3, 6];
    let mut cells: BTreeMap<Vec<usize>, u64> = BTreeMap::new();
    for seed in 0..120 {
        let (list, tally) = sampled(&classes, &pinned, 20, seed);
        for (at, class) in list.iter().enumerate() {
            assert!(pinned.iter().all(|&place| class.order[place] == place));
            *cells.entry(class.order.clone()).or_default() += tally.orders_in(&classes, &list, at);
        }
    }
    assert_eq!(cells.len(), 24);
    // Above 49.73 once in a thousand, with 23 degrees of freedom (tables, from memory).
    let apart = chi_squared(cells.values().map(|&count| (count, 100.0)));
    assert!(apart < 49.73, "{cells:?}: {apart}");
}

#[test]
fn twins_are_drawn_as_one_letter() {
    // Three of seven are alike: 7! / 3! rows of letters.
    let letters = [0, 1, 0, 3, 4, 0, 6];
    let classes = chain(7, &letters, 0);
    let (list, tally) = sampled(&classes, &[], 800, 2);
    assert_eq!(tally.orders_total(), Some(840));
    for class in &list {
        let twins: Vec<usize> = class.order.iter().copied().filter(|&place| letters[place] == 0).collect();
        assert!(twins.is_sorted(), "{class:?}");
    }
    // The first place holds one of the twins in three of seven orders: 342.9 of 800, give or take 14.
    let first = |class| tally.orders_with(&classes, &list, class, &[Condition::First(0)]);
    let found: u64 = (0..list.len()).map(first).sum();
    assert!((300..386).contains(&found), "{found}");
}

#[test]
fn a_small_sample_is_the_beginning_of_a_larger_one_and_another_seed_draws_others() {
    let classes = Classes::new((0..9).collect(), |a, b| (a + b).is_multiple_of(3));
    let drawn = |orders, seed| -> BTreeMap<Vec<usize>, u64> {
        let (list, tally) = sampled(&classes, &[], orders, seed);
        let count =
            |(at, class): (usize, &Class)| (class.order.clone(), tally.orders_in(&classes, &list, at));
        list.iter().enumerate().map(count).collect()
    };
    let (small, large, other) = (drawn(50, 7), drawn(400, 7), drawn(50, 8));
    assert!(small.iter().all(|(order, count)| large[order] >= *count));
    assert_ne!(small, other);
    assert_eq!(small, drawn(50, 7));
}

#[test]
fn the_same_orders_are_drawn_whichever_is_the_chains_own() {
    let commute = |a: u32, b: u32| (a + b).is_multiple_of(4);
    let drawn = |marks_of: &[u32]| -> BTreeSet<Vec<Vec<u32>>> {
        let marks = marked(marks_of);
        let classes = Classes::new((0..9).collect(), |a, b| commute(marks_of[a], marks_of[b]));
        let sample = Some(Sample { orders: 60, seed: 4 });
        let extent = Extent { sample, ..Extent::default() }.by_mark(&marks);
        let (list, tally) = classes.looked_at(&extent);
        let is_drawn = |at: &usize| tally.orders_in(&classes, &list, *at) > 0;
        // A class is known by which effects that do not commute with one come before it.
        let key = |at: usize| {
            let order: Vec<u32> = list[at].order.iter().map(|&place| marks_of[place]).collect();
            let before = |mark: u32| {
                let earlier = order.iter().copied().take_while(|&other| other != mark);
                let mut earlier: Vec<u32> = earlier.filter(|&other| !commute(other, mark)).collect();
                earlier.sort_unstable();
                earlier
            };
            (1..=9).map(before).collect()
        };
        (0..list.len()).filter(is_drawn).map(key).collect()
    };
    assert_eq!(drawn(&[1, 2, 3, 4, 5, 6, 7, 8, 9]), drawn(&[9, 4, 2, 1, 8, 3, 7, 5, 6]));
}

#[test]
fn where_there_are_no_more_orders_than_should_be_drawn_every_one_is_looked_at() {
    let classes = Classes::new((0..4).collect(), |_, _| false);
    let extent = |orders| Extent { sample: Some(Sample { orders, seed: 0 }), ..Extent::default() };
    assert_eq!(classes.looked_at(&extent(24)).1.explored(), Explored::InFull);
    assert_eq!(classes.looked_at(&extent(24)).0.len(), 24);
    assert!(matches!(classes.looked_at(&extent(23)).1.explored(), Explored::Sampled(_)));
    // Nine vary: always a sample; eight of nine: every order.
    let nine = Classes::new((0..9).collect(), |_, _| false);
    assert!(matches!(nine.looked_at(&Extent::default()).1.explored(), Explored::Sampled(_)));
    let (list, tally) = nine.looked_at(&Extent { pinned: vec![4], ..Extent::default() });
    assert_eq!(
        (list.len(), tally.explored(), tally.orders_total()),
        (40_320, Explored::InFull, Some(40_320))
    );
}

/// Points of a chain of six effects: one fact matters much, one a little inside one side of it, places a little everywhere,
/// and effect 5 not at all.
fn point(order: &[usize]) -> Vec<f64> {
    let at = |effect: usize| order.iter().position(|&other| other == effect).unwrap();
    let bit = |a, b| f64::from(u8::from(at(a) < at(b)));
    let place = |effect: usize| {
        order.iter().filter(|&&other| other != 5).position(|&other| other == effect).unwrap() as f64
    };
    vec![
        10.0 * bit(0, 1),
        5.0 * bit(0, 1) * bit(2, 3),
        1.5 * bit(1, 4) + 0.4 * place(2),
        0.7 * place(3) * bit(4, 2),
    ]
}

fn grown(classes: &Classes, (list, tally): &(Vec<Class>, Tally)) -> Families {
    let rows = list.iter().map(|class| point(&class.order)).collect();
    let marks = marked(&(1..=classes.effects() as u32).collect::<Vec<_>>());
    Families::grown(classes, list, tally, &marks, &mut Rows(rows)).unwrap().unwrap()
}

/// What families of these facts explain of all orders, by every order.
fn explained_by_every_order(orders: &[(Vec<usize>, Vec<f64>)], families: &[Vec<Fact>]) -> f64 {
    let inside = |facts: &Vec<Fact>| {
        let of = |(order, _): &&(Vec<usize>, Vec<f64>)| facts.iter().all(|&fact| holds(order, fact));
        spread(&orders.iter().filter(of).map(|(_, point)| &point[..]).collect::<Vec<_>>())
    };
    let all = spread(&orders.iter().map(|(_, point)| &point[..]).collect::<Vec<_>>());
    1.0 - families.iter().map(inside).sum::<f64>() / all
}

/// How far estimates are off in the mean, in its own standard errors, and of how many the truth lies within one and within
/// two of their standard errors.
fn judged(estimates: &[(f64, f64, f64)]) -> (f64, f64, f64) {
    let count = estimates.len() as f64;
    let off: Vec<f64> = estimates.iter().map(|(found, _, truth)| found - truth).collect();
    let mean = off.iter().sum::<f64>() / count;
    let deviation = (off.iter().map(|off| (off - mean).powi(2)).sum::<f64>() / (count - 1.0)).sqrt();
    let within = |errors: f64| {
        let is = |&&(found, error, truth): &&(f64, f64, f64)| (found - truth).abs() <= errors * error;
        estimates.iter().filter(is).count() as f64 / count
    };
    (mean / (deviation / count.sqrt()), within(1.0), within(2.0))
}

/// An estimate without bias is within 3.5 standard errors of its mean but once in two thousand; of normal estimates 68 and
/// 95 of a hundred are within one and two standard errors (the textbook's figures; Efron and Tibshirani 1993, chapter 12).
/// Ratios of a hundred draws are not quite normal.
#[test]
fn shares_of_a_sample_are_not_off_and_their_standard_errors_cover_the_truth() {
    let classes = Classes::new((0..6).collect(), |a, b| b == 5 && a < 3);
    let orders: Vec<(Vec<usize>, Vec<f64>)> =
        all_orders(6).into_iter().map(|order| (order.clone(), point(&classes.normal_form(&order)))).collect();
    let exact = grown(&classes, &classes.looked_at(&Extent::default()));
    let (seeds, draws) = (400, 100);
    let mut of_facts: BTreeMap<Fact, Vec<(f64, f64, f64)>> = BTreeMap::new();
    let (mut of_all, mut of_questions) = (Vec::new(), Vec::new());
    for seed in 0..seeds {
        let found = grown(&classes, &sampled(&classes, &[], draws, seed));
        for share in &found.facts {
            let truth = exact.share_of(share.fact.before, share.fact.after).unwrap();
            of_facts.entry(share.fact).or_default().push((share.share, share.error, truth));
        }
        let facts: Vec<Vec<Fact>> = found.list.iter().map(|family| family.facts.clone()).collect();
        of_all.push((found.explained, found.explained_error, explained_by_every_order(&orders, &facts)));
        let first = &found.questions[0];
        let truth = exact.share_of(first.fact.before, first.fact.after).unwrap();
        of_questions.push((first.share, first.error, truth));
        let left: f64 = found.list.iter().map(|family| family.left).sum();
        assert!((left + found.explained - 1.0).abs() < 1e-9, "{left} and {}", found.explained);
        let drawn: u64 = found.list.iter().map(|family| family.orders).sum();
        assert_eq!(drawn, draws as u64);
    }
    let mut large = 0;
    for (fact, estimates) in &of_facts {
        let truth = estimates[0].2;
        if truth > 0.04 {
            large += 1;
            let (off, one, two) = judged(estimates);
            assert!(off.abs() < 3.5, "{fact:?} {truth}: {off}");
            assert!((0.58..0.78).contains(&one) && two > 0.89, "{fact:?} {truth}: {one} {two}");
        } else if truth < 1e-9 {
            // Nothing hangs on it: what chance makes of it stays below what a hundred draws can tell.
            let mean = estimates.iter().map(|(found, ..)| found).sum::<f64>() / estimates.len() as f64;
            assert!(mean < 1.0 / draws as f64, "{fact:?}: {mean}");
        }
    }
    assert!(large >= 2, "{:?}", exact.facts);
    let (off, one, two) = judged(&of_questions);
    assert!(
        off.abs() < 3.5 && (0.58..0.78).contains(&one) && two > 0.89,
        "first question: {off} {one} {two}"
    );
    // A tree is chosen by the draws that judge it, so that it seems a little better than it is.
    let (_, one, two) = judged(&of_all);
    assert!(one > 0.5 && two > 0.85, "all: {one} {two}");
    let off = of_all.iter().map(|(found, _, truth)| found - truth).sum::<f64>() / f64::from(seeds as u32);
    assert!((0.0..0.01).contains(&off.max(0.0)), "all: {off}");
}

#[test]
fn chance_asks_nothing() {
    // Points that have nothing to do with any fact: a hash of the whole order.
    let classes = Classes::new((0..9).collect(), |_, _| false);
    let marks = marked(&(1..=9).collect::<Vec<_>>());
    let mut asked = 0;
    for seed in 0..20 {
        let (list, tally) = sampled(&classes, &[], 200, seed);
        let row = |class: &Class| {
            let mixed = class.order.iter().fold(17_u64, |mixed, &place| {
                (mixed ^ place as u64).wrapping_mul(0x9e37_79b9_7f4a_7c15).rotate_left(23)
            });
            (0..3).map(|at| (mixed >> (at * 16) & 0xffff) as f64).collect()
        };
        let rows = list.iter().map(row).collect();
        asked += Families::grown(&classes, &list, &tally, &marks, &mut Rows(rows))
            .unwrap()
            .unwrap()
            .questions
            .len();
    }
    assert!(asked <= 1, "{asked} questions of 20 samples in which nothing matters");
}

#[test]
fn the_chains_own_order_weighs_nothing_where_it_is_not_drawn_and_has_its_family() {
    let classes = Classes::new((0..9).collect(), |_, _| false);
    let looked_at = sampled(&classes, &[], 100, 1);
    let (list, tally) = &looked_at;
    assert_eq!((list[0].order.is_sorted(), tally.orders_in(&classes, list, 0)), (true, 0));
    let found = grown(&classes, &looked_at);
    let of: Vec<&Vec<Fact>> =
        found.list.iter().filter(|family| family.classes.contains(&0)).map(|family| &family.facts).collect();
    assert_eq!(of.len(), 1);
    assert!(of[0].iter().all(|fact| fact.before < fact.after));
    let members: BTreeSet<usize> =
        found.list.iter().flat_map(|family| family.classes.iter().copied()).collect();
    assert_eq!(members.len(), list.len());
}
