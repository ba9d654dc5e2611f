//! The pure parts of an exploration: classes, tree, schedule and rules.

#![expect(missing_docs, reason = "the function that criterion makes has none")]

use std::hint::black_box;

use criterion::{Criterion, criterion_group, criterion_main};
use underover::order::{Class, Classes, Rules, Schedule, Tree};

/// Eight effects of which each commutes with its like in turn: a chain with many proofs.
fn many_proofs() -> Classes {
    Classes::new((0..8).collect(), |a, b| (a + b) % 3 == 0)
}

fn no_proofs() -> Classes {
    Classes::new((0..8).collect(), |_, _| false)
}

fn pairs(classes: &Classes) -> Vec<(usize, usize)> {
    let all = (0..8).flat_map(|a| (a + 1..8).map(move |b| (a, b)));
    all.filter(|&(a, b)| !classes.commute(a, b)).collect()
}

/// Looks that three pairs of neighbours decide, as a chain's do.
fn looks(classes: &[Class]) -> Vec<usize> {
    let place = |order: &[usize], effect| order.iter().position(|&other| other == effect);
    let bit = |order: &[usize], a, b| usize::from(place(order, a) < place(order, b));
    classes.iter().map(|c| bit(&c.order, 0, 1) + 2 * bit(&c.order, 2, 5) + 4 * bit(&c.order, 1, 7)).collect()
}

fn orders(bench: &mut Criterion) {
    for (name, classes) in [("no proofs", no_proofs()), ("many proofs", many_proofs())] {
        let all = classes.all();
        let tree = Tree::of(&all, |_| false);
        let orders: Vec<&[usize]> = all.iter().map(|class| &class.order[..]).collect();
        let (looks, pairs) = (looks(&all), pairs(&classes));
        let mut group = bench.benchmark_group(format!("8 effects, {name}, {} classes", all.len()));
        group.sample_size(10);
        group.bench_function("classes", |b| b.iter(|| black_box(&classes).all()));
        group.bench_function("tree", |b| b.iter(|| Tree::of(black_box(&all), |_| false)));
        group.bench_function("schedule", |b| b.iter(|| Schedule::of(black_box(&tree), 512)));
        group.bench_function("rules", |b| b.iter(|| Rules::of(black_box(&orders), &looks, &pairs)));
        group.finish();
    }
}

criterion_group!(benches, orders);
criterion_main!(benches);
