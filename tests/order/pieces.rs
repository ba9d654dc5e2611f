//! Orders compared on several pieces of footage: shares side by side and piece by piece, proofs, looks, words.

use proptest::prelude::*;
use underover::order::{Class, Classes, Extent, Families, Marks, Pieces, Points, Weights, marks};
use underover::show::chain::EffectUse;

use crate::common::used;

/// The points of one piece: for each class a row of numbers.
struct Rows<'a>(&'a [Vec<f64>]);

fn squared(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).map(|(a, b)| (a - b).powi(2)).sum()
}

fn mean(rows: &[Vec<f64>], weigh: impl Fn(usize) -> f64, classes: &[usize]) -> Option<Vec<f64>> {
    let whole: f64 = classes.iter().map(|&class| weigh(class)).sum();
    let sum = |at: usize| classes.iter().map(|&class| weigh(class) * rows[class][at]).sum::<f64>();
    (whole > 0.0).then(|| (0..rows[0].len()).map(|at| sum(at) / whole).collect())
}

impl Points for Rows<'_> {
    type Error = ();

    fn between_means(&mut self, classes: &[usize], weights: &Weights) -> Result<Vec<f64>, ()> {
        let apart = |column: &Vec<u32>| {
            let holding = mean(self.0, |class| f64::from(column[class]), classes);
            let others = mean(self.0, |class| f64::from(weights.whole[class] - column[class]), classes);
            holding.zip(others).map_or(0.0, |(holding, others)| squared(&holding, &others))
        };
        Ok(weights.columns.iter().map(apart).collect())
    }

    fn distances(&mut self, families: &[&[usize]], weights: &Weights) -> Result<Vec<Vec<f64>>, ()> {
        let far = |family: &&[usize]| {
            let mean = mean(self.0, |class| f64::from(weights.whole[class]), family).unwrap();
            family.iter().map(|&class| squared(&self.0[class], &mean)).collect()
        };
        Ok(families.iter().map(far).collect())
    }
}

struct Planted(Vec<Vec<Vec<f64>>>);

impl Pieces for Planted {
    type Error = ();

    fn count(&self) -> usize {
        self.0.len()
    }

    fn points(&mut self, piece: usize) -> impl Points<Error = ()> {
        Rows(&self.0[piece])
    }
}

fn unnamed(effects: usize) -> Marks {
    marks(&(0..effects).map(|_| used("tint", &[])).collect::<Vec<EffectUse>>())
}

fn spread(rows: &[&[f64]]) -> f64 {
    let mean: Vec<f64> = (0..rows.first().map_or(0, |row| row.len()))
        .map(|at| rows.iter().map(|row| row[at]).sum::<f64>() / rows.len() as f64)
        .collect();
    rows.iter().map(|row| squared(row, &mean)).sum()
}

/// Every order of so many effects, by Heap's method of exchanges (1963).
fn all_orders(effects: usize) -> Vec<Vec<usize>> {
    fn heap(k: usize, order: &mut Vec<usize>, found: &mut Vec<Vec<usize>>) {
        if k <= 1 {
            return found.push(order.clone());
        }
        for at in 0..k {
            heap(k - 1, order, found);
            if at + 1 < k {
                order.swap(if k.is_multiple_of(2) { at } else { 0 }, k - 1);
            }
        }
    }
    let mut found = Vec::new();
    heap(effects, &mut (0..effects).collect(), &mut found);
    found
}

/// Effects of which some pairs commute, and points of every class on each piece.
type Case = (Classes, Vec<Class>, Vec<Vec<Vec<f64>>>);

fn case() -> impl Strategy<Value = Case> {
    let parts = (2_usize..=5, 1_usize..=4, any::<u32>(), any::<u32>(), prop::collection::vec(-9_i32..=9, 64));
    parts.prop_map(|(effects, pieces, commutes, also, heights)| {
        let classes =
            Classes::new((0..effects).collect(), |a, b| commutes & also & 1 << (a * effects + b) != 0);
        let list = classes.all();
        let row = |piece: usize, order: &[usize]| -> Vec<f64> {
            let height = |at: usize| f64::from(heights[(at + piece * 17) % heights.len()]);
            let mut row = vec![0.0; 3];
            for (at, &effect) in order.iter().enumerate() {
                row[at % 3] += height(effect * 5 + at);
                row[(effect + piece) % 3] += height(40 + effect) * at as f64;
            }
            row
        };
        let rows = (0..pieces).map(|piece| list.iter().map(|class| row(piece, &class.order)).collect());
        let rows = rows.collect();
        (classes, list, rows)
    })
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(200))]

    #[test]
    fn shares_of_each_piece_are_those_of_a_sum_over_every_order_on_it_alone((classes, list, pieces) in case()) {
        let effects = classes.effects();
        let marks = unnamed(effects);
        let (all, each) =
            Families::grown_on(&classes, &list, &classes.looked_at(&Extent::default()).1, &marks, &mut Planted(pieces.clone())).unwrap().unwrap();
        prop_assert_eq!(each.len(), pieces.len());
        let orders: Vec<(Vec<usize>, usize)> = all_orders(effects)
            .into_iter()
            .map(|order| {
                let form = classes.normal_form(&order);
                let class = list.iter().position(|class| class.order == form).unwrap();
                (order, class)
            })
            .collect();
        for (rows, shares) in pieces.iter().zip(&each) {
            let every: Vec<&[f64]> = orders.iter().map(|&(_, class)| &rows[class][..]).collect();
            let total = spread(&every);
            prop_assert!((shares.spread * orders.len() as f64 - total).abs() <= 1e-6 * (1.0 + total));
            prop_assert_eq!(shares.facts.len(), all.facts.len());
            for (share, known) in shares.facts.iter().zip(&all.facts) {
                let holds = |order: &[usize]| {
                    let at = |effect: usize| order.iter().position(|&other| other == effect);
                    at(known.fact.before) < at(known.fact.after)
                };
                let side = |wanted: bool| -> f64 {
                    let of = orders.iter().filter(|(order, _)| holds(order) == wanted);
                    spread(&of.map(|&(_, class)| &rows[class][..]).collect::<Vec<_>>())
                };
                let wanted = if total > 1e-6 { 1.0 - (side(true) + side(false)) / total } else { continue };
                prop_assert!((share - wanted).abs() <= 1e-6, "{:?}: {share}, by every order {wanted}", known.fact);
            }
        }
    }

    #[test]
    fn pieces_side_by_side_are_one_longer_row((classes, list, pieces) in case()) {
        let marks = unnamed(classes.effects());
        let (all, _) =
            Families::grown_on(&classes, &list, &classes.looked_at(&Extent::default()).1, &marks, &mut Planted(pieces.clone())).unwrap().unwrap();
        let joined: Vec<Vec<f64>> =
            (0..list.len()).map(|class| pieces.iter().flat_map(|rows| rows[class].clone()).collect()).collect();
        let one = Families::grown(&classes, &list, &classes.looked_at(&Extent::default()).1, &marks, &mut Rows(&joined)).unwrap().unwrap();
        prop_assert!((all.spread - one.spread).abs() <= 1e-6 * (1.0 + one.spread));
        prop_assert_eq!(
            all.questions.iter().map(|question| question.fact).collect::<Vec<_>>(),
            one.questions.iter().map(|question| question.fact).collect::<Vec<_>>()
        );
        for (all, one) in all.facts.iter().zip(&one.facts) {
            prop_assert_eq!(all.fact, one.fact);
            prop_assert!((all.share - one.share).abs() <= 1e-9);
        }
    }
}
