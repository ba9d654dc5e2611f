//! Orders and their classes: how many there are, which order belongs to which, and that the pictures agree.

#[allow(dead_code, reason = "each test file uses its own part of it")]
use std::collections::{BTreeMap, BTreeSet, HashMap};
use std::time::{Duration, Instant};

use crate::common::Set::To;
use crate::common::{Alpha, moment, path, scattered, used, with_renderer};
use underover::base::frame::{Frame, PixelMode};
use underover::base::picture::Picture;
use underover::explore::Orders;
use underover::gpu::{ADAPTER_VARIABLE, Asked, Budget, Fingerprint, Finished, Gpu, Renderer, Want};
use underover::order::{Class, Classes, Explored, Extent, Premises, Proofs, Sample, Tree};
use underover::plan::Path;
use underover::show::chain::EffectUse;

#[test]
fn a_bound_leaves_out_just_what_is_not_nearer_and_changes_no_figure() {
    // Larger than what is counted at once, odd, one row alone, and one that is counted at once.
    for (width, height) in [(201, 101), (16_384, 1), (2, 8_193), (64, 36)] {
        let chain = [
            used("tint", &[("amount", To(0.7))]),
            used("edge-find", &[]),
            used("channel-offset", &[("distance", To(0.1))]),
            used("posterise", &[]),
        ];
        let frame = Frame { width, height };
        let picture = scattered(width, height, Alpha::Full, 3);
        let path = path(&picture, &chain, moment(frame, PixelMode::Encoded8Bit, 0.0));
        with_renderer(|renderer| {
            let orders = Orders::of(renderer, &path).unwrap();
            let asked = Asked { gallery: Some(frame), ..Asked::default() };
            let (_, gallery) = renderer.explore(&path, &orders.tree(), &asked, |_| {}).unwrap();
            let gallery = gallery.unwrap();
            let others: Vec<usize> = (1..orders.classes.len()).collect();
            let whole: Vec<f64> =
                renderer.apart(&gallery, 0, &others).unwrap().iter().map(|apart| apart.mean).collect();
            let mut bounded =
                |bound: f64| renderer.means_apart(&gallery, 0, &others, &vec![bound; others.len()]).unwrap();
            let mut means = whole.clone();
            means.sort_by(f64::total_cmp);
            assert!(means[0] < means[means.len() - 1], "{frame}: {means:?}");
            for bound in [0.0, means[0], means[means.len() / 2], 1000.0, f64::INFINITY] {
                let nearer: Vec<_> =
                    whole.iter().map(|&mean| Some(mean).filter(|&mean| mean < bound)).collect();
                assert_eq!(bounded(bound), nearer, "{frame}, {bound}");
            }
        });
    }
}

#[test]
fn pictures_are_at_least_as_far_apart_as_their_light_alone_shows() {
    // Odd, one row alone, one column alone; what is see-through too.
    let mut tightest: f64 = 0.0;
    for (width, height, alpha) in [
        (201, 101, Alpha::Full),
        (201, 101, Alpha::Mixed),
        (1_001, 1, Alpha::Full),
        (3, 333, Alpha::Mixed),
        (64, 36, Alpha::Full),
    ] {
        let chain = [
            used("tint", &[("amount", To(0.7))]),
            used("edge-find", &[]),
            used("channel-offset", &[("distance", To(0.1))]),
            used("posterise", &[]),
        ];
        let frame = Frame { width, height };
        let picture = scattered(width, height, alpha, 5);
        let path = path(&picture, &chain, moment(frame, PixelMode::Encoded8Bit, 0.0));
        with_renderer(|renderer| {
            let orders = Orders::of(renderer, &path).unwrap();
            let asked = Asked { gallery: Some(frame), ..Asked::default() };
            let (_, gallery) = renderer.explore(&path, &orders.tree(), &asked, |_| {}).unwrap();
            let gallery = gallery.unwrap();
            let all: Vec<usize> = (0..orders.classes.len()).collect();
            for reference in 0..all.len() {
                let apart = renderer.apart(&gallery, reference, &all).unwrap();
                let least = renderer.at_least_apart(&gallery, reference, &all).unwrap();
                for (apart, least) in apart.iter().map(|apart| apart.mean).zip(least) {
                    assert!(least <= apart, "{frame}, from {reference}: {least} and {apart}");
                    tightest = tightest.max(least / apart.max(1e-9));
                }
            }
        });
    }
    assert!(tightest > 0.5, "a bound so low would show nothing: {tightest}");
}

/// The pairs that do not commute.
type Edges = Vec<(usize, usize)>;

/// Every pair of `n`, the smaller first.
fn pairs_of(n: usize) -> Edges {
    (0..n).flat_map(|a| (a + 1..n).map(move |b| (a, b))).collect()
}

/// Every graph on 1 to 5 labelled vertices: 1 + 2 + 8 + 64 + 1,024.
fn small_graphs() -> Vec<(usize, Edges)> {
    let graphs = |n: usize| {
        let pairs = pairs_of(n);
        (0..1_u32 << pairs.len()).map(move |chosen| {
            let edges = pairs.iter().enumerate().filter(|(at, _)| chosen >> at & 1 == 1);
            (n, edges.map(|(_, &pair)| pair).collect())
        })
    };
    (1..=5).flat_map(graphs).collect()
}

/// Classes of `n` different effects of which exactly the pairs in `edges` do not commute.
fn classes_of(n: usize, edges: &[(usize, usize)]) -> Classes {
    Classes::new((0..n).collect(), |a, b| !edges.contains(&(a, b)))
}

/// Every order of 0..n.
fn orders_of(n: usize) -> Vec<Vec<usize>> {
    (0..n).fold(vec![Vec::new()], |orders, new| {
        let put = |order: &Vec<usize>, at: usize| {
            let mut order = order.clone();
            order.insert(at, new);
            order
        };
        orders.iter().flat_map(|order| (0..=order.len()).map(move |at| put(order, at))).collect()
    })
}

/// Orientations of the edges without a directed cycle, by trying each one.
fn acyclic_orientations(n: usize, edges: &[(usize, usize)]) -> usize {
    let is_acyclic = |turned: u32| {
        let mut left: BTreeSet<usize> = (0..n).collect();
        // Vertices that nothing left points at go first; a cycle never runs out.
        while let Some(free) = left.iter().copied().find(|&vertex| {
            edges.iter().enumerate().all(|(at, &(a, b))| {
                let (from, to) = if turned >> at & 1 == 1 { (b, a) } else { (a, b) };
                to != vertex || !left.contains(&from)
            })
        }) {
            left.remove(&free);
        }
        left.is_empty()
    };
    (0..1_u32 << edges.len()).filter(|&turned| is_acyclic(turned)).count()
}

#[test]
fn there_are_as_many_classes_as_acyclic_orientations_of_every_small_graph() {
    let graphs = small_graphs();
    assert_eq!(graphs.len(), 1_099);
    for (n, edges) in graphs {
        // Stanley 1973, Acyclic orientations of graphs, for the graph of pairs that do not commute
        // (Cartier and Foata 1969).
        assert_eq!(classes_of(n, &edges).all().len(), acyclic_orientations(n, &edges), "{n}: {edges:?}");
    }
}

#[test]
fn there_are_as_many_classes_as_the_chromatic_polynomial_says() {
    let path = |n: usize| (1..n).map(|b| (b - 1, b)).collect::<Edges>();
    let star = |n: usize| (1..n).map(|b| (0, b)).collect::<Edges>();
    let cycle = |n: usize| path(n).into_iter().chain([(0, n - 1)]).collect::<Edges>();
    let whole = pairs_of;
    let apart = |a: usize, b: usize| -> Edges {
        pairs_of(a + b).into_iter().filter(|&(x, y)| (x < a) == (y < a)).collect()
    };
    let across = |a: usize, b: usize| -> Edges {
        pairs_of(a + b).into_iter().filter(|&(x, y)| (x < a) != (y < a)).collect()
    };
    let less = |n: usize| pairs_of(n).into_iter().skip(1).collect::<Edges>();
    let paw = vec![(0, 1), (0, 2), (1, 2), (2, 3)];
    let prism = vec![(0, 1), (0, 2), (1, 2), (3, 4), (3, 5), (4, 5), (0, 3), (1, 4), (2, 5)];
    // |P(-1)| of the chromatic polynomial P: a tree (1+1)^(n-1), a cycle 2^n - 2, a whole graph n!,
    // parts multiply. The last ones were counted by brute force in a program of its own.
    let mut table: Vec<(String, usize, Edges, usize)> = Vec::new();
    for n in 1..=7 {
        table.push((format!("no edges on {n}"), n, Vec::new(), 1));
        table.push((format!("path of {n}"), n, path(n), 1 << (n - 1)));
        table.push((format!("star of {n}"), n, star(n), 1 << (n - 1)));
    }
    for (n, count) in [(3, 6), (4, 14), (5, 30), (6, 62), (7, 126)] {
        table.push((format!("cycle of {n}"), n, cycle(n), count));
    }
    for (n, count) in [(2, 2), (3, 6), (4, 24), (5, 120), (6, 720), (7, 5_040)] {
        table.push((format!("K{n}"), n, whole(n), count));
    }
    for (a, b, count) in [(2, 2, 4), (3, 2, 12), (3, 3, 36), (4, 2, 48), (4, 3, 144)] {
        table.push((format!("K{a} beside K{b}"), a + b, apart(a, b), count));
    }
    table.push(("K4 less an edge".to_owned(), 4, less(4), 18));
    table.push(("paw".to_owned(), 4, paw, 12));
    table.push(("K5 less an edge".to_owned(), 5, less(5), 96));
    table.push(("K2,3".to_owned(), 5, across(2, 3), 46));
    table.push(("K3,3".to_owned(), 6, across(3, 3), 230));
    table.push(("prism".to_owned(), 6, prism, 204));
    for (name, n, edges, count) in table {
        assert_eq!(classes_of(n, &edges).all().len(), count, "{name}");
    }
}

/// The orders that swaps of neighbouring commuting effects reach from `start`, itself among them.
fn reached(start: &[usize], edges: &[(usize, usize)]) -> BTreeSet<Vec<usize>> {
    let mut found = BTreeSet::from([start.to_vec()]);
    let mut open = vec![start.to_vec()];
    while let Some(order) = open.pop() {
        for at in 1..order.len() {
            let pair = (order[at - 1].min(order[at]), order[at - 1].max(order[at]));
            if !edges.contains(&pair) {
                let mut swapped = order.clone();
                swapped.swap(at - 1, at);
                if found.insert(swapped.clone()) {
                    open.push(swapped);
                }
            }
        }
    }
    found
}

#[test]
fn every_order_is_in_the_one_class_that_swaps_of_commuting_neighbours_lead_to() {
    for (n, edges) in small_graphs() {
        let classes = classes_of(n, &edges);
        let all = classes.all();
        let forms: BTreeSet<&[usize]> = all.iter().map(|class| &class.order[..]).collect();
        assert_eq!(forms.len(), all.len(), "{edges:?}: a class stands twice");
        let mut left: BTreeSet<Vec<usize>> = orders_of(n).into_iter().collect();
        assert_eq!(classes.orders_total(), Some(left.len() as u128));
        for class in &all {
            let members = reached(&class.order, &edges);
            assert_eq!(members.first(), Some(&class.order), "{edges:?}: not the smallest of its class");
            assert_eq!(classes.orders_in(class), members.len() as u64, "{edges:?} {:?}", class.order);
            for member in &members {
                assert!(left.remove(member), "{edges:?}: {member:?} is in two classes");
                assert_eq!(classes.normal_form(member), class.order, "{edges:?}: {member:?}");
            }
        }
        assert!(left.is_empty(), "{edges:?}: in no class: {left:?}");
    }
}

#[test]
fn every_beginning_of_a_normal_form_is_one() {
    for (n, edges) in small_graphs() {
        let classes = classes_of(n, &edges);
        for class in classes.all() {
            for length in 0..n {
                let beginning = &class.order[..length];
                assert_eq!(classes.normal_form(beginning), beginning, "{edges:?} {:?}", class.order);
            }
        }
    }
}

#[test]
fn eight_effects_without_proofs_have_40320_classes_in_no_time() {
    let started = Instant::now();
    let classes = Classes::new((0..8).collect(), |_, _| false);
    let all = classes.all();
    let listed = started.elapsed();
    let tree = Tree::of(&all, |_| false);
    let taken = started.elapsed();
    eprintln!("40,320 classes in {listed:?}, their tree {:?} more", taken - listed);
    assert_eq!(classes.looked_at(&Extent::default()).1.explored(), Explored::InFull);
    assert_eq!((all.len(), classes.orders_total()), (40_320, Some(40_320)));
    // 8 + 8*7 + 8*7*6 + ... + 8! partial chains.
    assert_eq!(tree.passes(), 109_600);
    assert!(taken < Duration::from_secs(1), "{taken:?}");
}

/// A picture without rest: a slope of colours, bars and blocks with hard edges, and noise over all.
/// Always the same (a linear congruential generator, constants of Numerical Recipes).
fn busy_picture(frame: Frame) -> Picture {
    let mut state = 174_u32;
    let mut noise = move || {
        state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        state >> 26
    };
    let mut rgba = Vec::with_capacity(frame.texels() as usize * 4);
    for y in 0..frame.height {
        for x in 0..frame.width {
            let slope = [x * 180 / frame.width, y * 180 / frame.height, (x + y) % 181];
            let bar = if x / 7 % 3 == 0 { 40 } else { 0 };
            let block = if (x / 19 + y / 13) % 2 == 0 { [0, 60, 90] } else { [70, 0, 20] };
            for channel in 0..3 {
                rgba.push((slope[channel] / 2 + bar + block[channel] + noise()).min(255) as u8);
            }
            rgba.push(255);
        }
    }
    Picture { frame, rgba, opaque: true }
}

/// `chain` over `picture`, nothing after it.
fn path_over(picture: &Picture, chain: &[EffectUse], beats: f64) -> Path {
    path(picture, chain, moment(picture.frame, PixelMode::Encoded8Bit, beats))
}

fn first_five(flash_strength: f64) -> Vec<EffectUse> {
    vec![
        used("tint", &[]),
        used("flash-gate", &[("strength", To(flash_strength))]),
        used("edge-find", &[]),
        used("channel-offset", &[]),
        used("mirror", &[]),
    ]
}

const BUSY: Frame = Frame { width: 160, height: 90 };
const GATE_OPEN: f64 = 0.1;
const GATE_SHUT: f64 = 0.7;

/// A renderer on the adapter found by default or named in the environment.
fn renderer() -> Renderer {
    let named = std::env::var(ADAPTER_VARIABLE).ok();
    Renderer::new(Gpu::open(named.as_deref()).unwrap_or_else(|e| panic!("{e}")))
}

fn proofs_of(renderer: &mut Renderer, path: &Path) -> Proofs {
    let maps = renderer.index_maps(&path.chain, &path.moment).unwrap();
    Proofs::of(&Premises { chain: &path.chain, moment: &path.moment, opaque: path.opaque, maps: &maps })
}

/// Every class of a path with what came of it.
fn explored(
    renderer: &mut Renderer,
    path: &Path,
    proofs: &Proofs,
    want: Want,
    mib: u64,
) -> Vec<(Class, Finished)> {
    let (all, _) = proofs.classes.looked_at(&Extent::default());
    let tree = Tree::of(&all, |effect| proofs.idle[effect].is_some());
    let asked = Asked { want, budget: Budget { mib }, ..Asked::default() };
    let (finished, _) = renderer.explore(path, &tree, &asked, |_| {}).unwrap();
    assert_eq!(finished.len(), all.len());
    all.into_iter().zip(finished).collect()
}

const ALL_TILES: Want = Want::Tiles { size: BUSY, most: usize::MAX };

/// Classes, distinct fingerprints, and the distinct pictures of all orders rendered one by one, each
/// of which must be its class's.
fn counted(flash_strength: f64, beats: f64) -> [usize; 3] {
    let mut renderer = renderer();
    let path = path_over(&busy_picture(BUSY), &first_five(flash_strength), beats);
    let proofs = proofs_of(&mut renderer, &path);
    let classes = explored(&mut renderer, &path, &proofs, ALL_TILES, 64);
    let by_form: HashMap<&[usize], &Finished> =
        classes.iter().map(|(class, finished)| (&class.order[..], finished)).collect();
    // Equal fingerprints have to mean equal pictures, and the other way round.
    let mut pictures: BTreeMap<Fingerprint, BTreeSet<Vec<u8>>> = BTreeMap::new();
    for order in orders_of(path.chain.len()) {
        let alone = renderer.picture(&path, &order).unwrap();
        let of_class = by_form[&proofs.classes.normal_form(&order)[..]];
        assert!(of_class.picture.as_ref() == Some(&alone), "{order:?} is not the picture of its class");
        pictures.entry(of_class.fingerprint).or_default().insert(alone.rgba);
    }
    assert!(pictures.values().all(|same| same.len() == 1), "a fingerprint stands for two pictures");
    let distinct: BTreeSet<&Vec<u8>> = pictures.values().flatten().collect();
    [classes.len(), pictures.len(), distinct.len()]
}

// The three counts below: an independent numpy model of the five effects gave the same on a made
// picture and on three photographs.

#[test]
fn the_first_five_effects_have_54_classes_and_54_pictures_while_the_gate_is_open() {
    assert_eq!(counted(0.35, GATE_OPEN), [54, 54, 54]);
}

#[test]
fn the_first_five_effects_have_18_classes_and_18_pictures_while_the_gate_is_shut() {
    assert_eq!(counted(0.35, GATE_SHUT), [18, 18, 18]);
}

#[test]
fn a_flash_of_full_strength_leaves_3_pictures() {
    assert_eq!(counted(1.0, GATE_OPEN), [54, 3, 3]);
}

#[test]
fn the_proofs_give_the_classes_that_acyclic_orientations_count() {
    let mut renderer = renderer();
    let path = path_over(&busy_picture(BUSY), &first_five(0.35), GATE_OPEN);
    let proofs = proofs_of(&mut renderer, &path);
    let edges: Edges = pairs_of(5).into_iter().filter(|&(a, b)| !proofs.classes.commute(a, b)).collect();
    // Tint with flash-gate, edge-find and channel-offset; edge-find with flash-gate and both moves;
    // the two moves: by hand from the effects' definitions.
    assert_eq!(edges, [(0, 1), (0, 2), (0, 3), (1, 2), (2, 3), (2, 4), (3, 4)]);
    assert_eq!(acyclic_orientations(5, &edges), 54);
}

#[test]
fn the_memory_budget_never_changes_a_picture() {
    let mut renderer = renderer();
    let path = path_over(&busy_picture(BUSY), &first_five(0.35), GATE_OPEN);
    let proofs = proofs_of(&mut renderer, &path);
    // A layer takes 57,600 bytes: 1 MiB holds 18 of them, 3 MiB 54, 64 MiB every partial chain.
    let size = Frame { width: 53, height: 31 };
    let tiny = explored(&mut renderer, &path, &proofs, Want::Tiles { size, most: usize::MAX }, 1);
    for mib in [3, 64] {
        let more = explored(&mut renderer, &path, &proofs, Want::Tiles { size, most: usize::MAX }, mib);
        for ((class, small), (_, large)) in tiny.iter().zip(&more) {
            assert_eq!(small.fingerprint, large.fingerprint, "{:?} within {mib} MiB", class.order);
            assert!(small.picture.is_some() && small.picture == large.picture, "{:?}", class.order);
        }
    }
}

#[test]
fn a_budget_of_nothing_says_how_much_is_needed() {
    let mut renderer = renderer();
    let path = path_over(&busy_picture(BUSY), &first_five(0.35), GATE_OPEN);
    let proofs = proofs_of(&mut renderer, &path);
    let tree = Tree::of(&proofs.classes.all(), |_| false);
    let asked = Asked { budget: Budget { mib: 0 }, ..Asked::default() };
    let error = renderer.explore(&path, &tree, &asked, |_| {}).unwrap_err();
    let said = error.to_string();
    assert!(said.contains("at least 1 MiB") && said.contains("160x90"), "{said}");
}

/// shaders/shared/fingerprint.wgsl over bytes, word by word.
fn fingerprint_of(picture: &Picture) -> Fingerprint {
    let stirred = |value: u32| {
        // The finaliser of MurmurHash3 (Austin Appleby, public domain), 32 bits.
        let mut h = value;
        h = (h ^ (h >> 16)).wrapping_mul(0x85eb_ca6b);
        h = (h ^ (h >> 13)).wrapping_mul(0xc2b2_ae35);
        h ^ (h >> 16)
    };
    let mut sums = [0_u32; 4];
    for (texel, place) in picture.rgba.chunks_exact(4).zip(0_u32..) {
        let word = u32::from_le_bytes([texel[0], texel[1], texel[2], texel[3]]);
        let a = stirred(word ^ stirred(place.wrapping_add(0x9e37_79b9)));
        let b = stirred(word.wrapping_add(stirred(place ^ 0x7f4a_7c15)));
        let parts = [a, b, a.wrapping_mul(b | 1), (a ^ 0x2545_f491).wrapping_mul((b << 1) | 1)];
        for (sum, part) in sums.iter_mut().zip(parts) {
            *sum = sum.wrapping_add(part);
        }
    }
    Fingerprint(sums)
}

#[test]
fn a_fingerprint_is_that_of_the_bytes_that_are_written() {
    let mut renderer = renderer();
    // Widths and heights around the workgroup's 64 columns and the band's 32 rows.
    for (width, height) in [(1, 1), (63, 32), (64, 33), (65, 31), (160, 90)] {
        let opaque = busy_picture(Frame { width, height });
        let mut glass = opaque.clone();
        for (texel, at) in glass.rgba.chunks_exact_mut(4).zip(0_u32..) {
            texel[3] = (at * 37 % 256) as u8;
        }
        glass.opaque = false;
        for picture in [opaque, glass] {
            let path = path_over(&picture, &first_five(0.35), GATE_OPEN);
            let proofs = proofs_of(&mut renderer, &path);
            for (class, finished) in explored(&mut renderer, &path, &proofs, Want::Figures, 64) {
                let picture = renderer.picture(&path, &class.order).unwrap();
                assert_eq!(
                    finished.fingerprint,
                    fingerprint_of(&picture),
                    "{width}x{height}, opaque: {}, {:?}",
                    path.opaque,
                    class.order
                );
            }
        }
    }
}

/// Eight different effects: the five, and three of them again at other settings.
fn eight() -> Vec<EffectUse> {
    let mut chain = first_five(0.35);
    chain.push(used("tint", &[("amount", To(0.25))]));
    chain.push(used("edge-find", &[("gain", To(2.0)), ("amount", To(0.5))]));
    chain.push(used("channel-offset", &[("distance", To(0.05)), ("angle", To(90.0))]));
    chain
}

#[test]
fn eight_effects_are_explored_within_a_small_budget() {
    let mut renderer = renderer();
    let frame = Frame { width: 64, height: 36 };
    let path = path_over(&busy_picture(frame), &eight(), GATE_OPEN);
    let proofs = proofs_of(&mut renderer, &path);
    let started = Instant::now();
    // A layer takes 9,216 bytes: 455 of them, for thousands of partial chains.
    let classes = explored(&mut renderer, &path, &proofs, Want::Figures, 4);
    let edges: Edges = pairs_of(8).into_iter().filter(|&(a, b)| !proofs.classes.commute(a, b)).collect();
    assert_eq!(classes.iter().map(|(class, _)| proofs.classes.orders_in(class)).sum::<u64>(), 40_320);
    let distinct: BTreeSet<Fingerprint> = classes.iter().map(|(_, finished)| finished.fingerprint).collect();
    eprintln!(
        "{} classes ({} pairs do not commute), {} different pictures, in {:?}",
        classes.len(),
        edges.len(),
        distinct.len(),
        started.elapsed()
    );
    assert!(distinct.len() > 1_000, "only {} different pictures", distinct.len());
    for (class, finished) in classes.iter().step_by(classes.len() / 20) {
        let picture = renderer.picture(&path, &class.order).unwrap();
        assert_eq!(finished.fingerprint, fingerprint_of(&picture), "{:?}", class.order);
    }
}

#[test]
fn twelve_effects_are_sampled_and_every_class_has_the_picture_of_its_order() {
    let mut renderer = renderer();
    let mut chain = eight();
    chain.push(used("tint", &[("amount", To(0.5))]));
    chain.push(used("flash-gate", &[("strength", To(0.2))]));
    chain.push(used("edge-find", &[("amount", To(0.3))]));
    chain.push(used("channel-offset", &[("distance", To(-0.1))]));
    let path = path_over(&busy_picture(Frame { width: 64, height: 36 }), &chain, GATE_OPEN);
    let proofs = proofs_of(&mut renderer, &path);
    let (list, tally) = proofs.classes.looked_at(&Extent::default());
    assert_eq!(tally.explored(), Explored::Sampled(Sample { orders: 1000, seed: 0 }));
    // 12!
    assert_eq!((tally.orders_total(), proofs.classes.orders_total()), (Some(479_001_600), Some(479_001_600)));
    let own: Vec<usize> = (0..12).collect();
    assert_eq!(list[0].order, own);
    let drawn: u64 = (0..list.len()).map(|class| tally.orders_in(&proofs.classes, &list, class)).sum();
    assert_eq!(drawn, 1000);
    let extent = Extent { sample: Some(Sample { orders: 40, seed: 3 }), ..Extent::default() };
    let (list, _) = proofs.classes.looked_at(&extent);
    let tree = Tree::of(&list, |effect| proofs.idle[effect].is_some());
    let asked = Asked { budget: Budget { mib: 16 }, ..Asked::default() };
    let (finished, _) = renderer.explore(&path, &tree, &asked, |_| {}).unwrap();
    for (class, finished) in list.iter().zip(&finished) {
        let picture = renderer.picture(&path, &class.order).unwrap();
        assert_eq!(finished.fingerprint, fingerprint_of(&picture), "{:?}", class.order);
    }
}
