//! Candidates that are rendered together, each with settings and an order of its own, are what each is alone.

use std::sync::Arc;

use crate::common::Set::{To, Word};
use crate::common::{Alpha, difference, moment, path, scattered, used, with_renderer};
use underover::base::frame::{Frame, PixelMode};
use underover::base::picture::Picture;
use underover::gpu::{Against, Budget};
use underover::measure::{Difference, Trait, Traits};
use underover::plan::{After, Path};
use underover::show::chain::{Chain, EffectUse};
use underover::show::{BlendMode, Mix};

const TRAITS: [Trait; 3] = [Trait::Brightness, Trait::Edges, Trait::Colour];

fn off(mut used: EffectUse) -> EffectUse {
    used.on = false;
    used
}

/// Chains that share no length, order or setting: one of no effect, some with effects that are off or idle.
fn chains() -> Vec<Chain> {
    let tint = |amount| used("tint", &[("amount", To(amount)), ("colour", Word("#0072b2"))]);
    let edges = |gain| used("edge-find", &[("gain", To(gain))]);
    let apart = |distance| used("channel-offset", &[("distance", To(distance))]);
    let folded = |fold| used("mirror", &[("fold", Word(fold))]);
    let off = off(used("invert", &[]));
    vec![
        vec![tint(0.3), edges(2.0), apart(0.2)],
        vec![],
        vec![apart(-0.1), tint(0.9)],
        vec![off.clone(), edges(0.5), folded("bottom-over-top"), tint(1.0)],
        vec![tint(0.0), folded("right-over-left")],
        vec![off],
        vec![edges(1.0), edges(3.0), folded("left-over-right"), apart(0.05), tint(0.5)],
        vec![used("posterise", &[("steps", To(3.0))]), used("blur", &[("radius", To(2.0))])],
        vec![used("blur", &[("radius", To(1.0))]), used("hue-turn", &[("angle", To(77.0))])],
    ]
}

fn alone(path: &Path, chain: &Chain) -> Picture {
    let frames = |path: &Path| Path { chain: chain.clone(), ..path.clone() };
    let past: Vec<Path> = path.past.iter().map(frames).collect();
    let path = Path { past: past.into(), ..frames(path) };
    let order: Vec<usize> = (0..chain.len()).filter(|&at| chain[at].on).collect();
    with_renderer(|renderer| renderer.picture(&path, &order)).unwrap_or_else(|e| panic!("{e}"))
}

#[track_caller]
fn each_is_what_it_is_alone(path: &Path, chains: &[Chain]) {
    let wished = scattered(path.moment.frame.width, path.moment.frame.height, Alpha::Full, 9);
    let (together, apart, traits) = with_renderer(|renderer| {
        let ground = renderer.ground(path, Some(Against::Picture(&wished))).unwrap();
        assert!(renderer.candidates_at_once(&ground, 5, Budget::default()) >= 1);
        let frame = path.moment.frame;
        let together = renderer.candidate_pictures(&ground, chains, frame).unwrap();
        let traits = TRAITS.map(|wanted| renderer.candidates_traits(&ground, chains, wanted).unwrap());
        (together, renderer.candidates_apart(&ground, chains).unwrap(), traits)
    });
    for (at, chain) in chains.iter().enumerate() {
        let alone = alone(path, chain);
        assert_eq!(difference(&together[at], &alone), None, "candidate {at}");
        let mean = Difference::of(&alone, &wished).mean;
        // The GPU's colour difference is within 1e-3 of that in 64 bits.
        assert!((apart[at] - mean).abs() < 2e-3, "candidate {at}: {} and {mean}", apart[at]);
        // Traits in 64 bits: of chroma, which reaches past 100, within 0.01; of the others, which end at 1, within 1e-4.
        let known = Traits::of(&alone);
        for ((wanted, found), within) in TRAITS.into_iter().zip(&traits).zip([1e-4, 1e-4, 1e-2]) {
            let (found, known) = (found[at], known.get(wanted));
            assert!((found - known).abs() < within, "candidate {at}: {wanted:?} is {found} and {known}");
        }
    }
}

#[test]
fn candidates_of_other_orders_lengths_and_settings_are_each_what_it_is_alone() {
    for (width, height) in [(12, 8), (33, 17), (7, 5)] {
        for pixels in PixelMode::ALL {
            for alpha in Alpha::ALL {
                let picture = scattered(width, height, alpha, 3);
                let moment = moment(Frame { width, height }, pixels, 0.1);
                each_is_what_it_is_alone(&path(&picture, &[], moment), &chains());
            }
        }
    }
}

#[test]
fn what_lies_beside_the_chain_on_the_way_to_the_output_comes_to_every_candidate() {
    let frame = Frame { width: 12, height: 8 };
    let moment = moment(frame, PixelMode::Encoded8Bit, 0.1);
    let mut path = path(&scattered(12, 8, Alpha::Mixed, 1), &[], moment);
    let beside = scattered(12, 8, Alpha::Mixed, 2);
    path.before.push(underover::plan::Step::TakeIn { picture: Arc::new(beside), into: 1 });
    let mix = Mix { blend: BlendMode::Screen, opacity: 0.6 };
    path.after = vec![
        After::LayOver { backdrop: 1, mix },
        After::Apply(used("invert", &[("amount", To(0.8))]).call(&moment)),
        After::LayUnder { source: 1, mix },
    ];
    each_is_what_it_is_alone(&path, &chains());
}

#[test]
fn candidates_remember_what_each_showed_before() {
    let frame = Frame { width: 12, height: 8 };
    let last = moment(frame, PixelMode::Encoded8Bit, 4.0);
    let at =
        |nth: u32| path(&scattered(12, 8, Alpha::Full, nth), &[], last.before(u64::from(4 - nth)).unwrap());
    let past: Vec<Path> = (0..4).map(at).collect();
    let path = Path { past: past.into(), ..at(4) };
    let trails = |decay| used("trails", &[("decay", To(decay))]);
    let tint = used("tint", &[("amount", To(0.7))]);
    let offset = used("channel-offset", &[("distance", To(0.2))]);
    let off = off(trails(0.9));
    let chains: Vec<Chain> = vec![
        vec![trails(0.9), tint.clone(), offset.clone()],
        vec![tint.clone(), offset.clone(), trails(0.5)],
        vec![offset.clone(), off, tint.clone()],
        vec![trails(0.2), trails(0.8)],
        vec![],
    ];
    each_is_what_it_is_alone(&path, &chains);
}

#[test]
fn what_lies_under_a_chain_is_brought_to_a_smaller_frame_by_area() {
    let (large, small) = (Frame { width: 12, height: 8 }, Frame { width: 6, height: 4 });
    let at = |frame| moment(frame, PixelMode::Encoded8Bit, 0.1);
    let picture = scattered(12, 8, Alpha::Full, 5);
    let whole = path(&picture, &[], at(large));
    let own = path(&scattered(6, 4, Alpha::Full, 6), &[], at(small));
    let shrunk = with_renderer(|renderer| {
        let path = renderer.shrunk_path(&whole, &own).unwrap();
        renderer.picture(&path, &[]).unwrap()
    });
    for (at, texel) in shrunk.rgba.chunks_exact(4).enumerate() {
        let (x, y) = (at % 6 * 2, at / 6 * 2);
        for (channel, &byte) in texel[..3].iter().enumerate() {
            let of = |x: usize, y: usize| f64::from(picture.rgba[(y * 12 + x) * 4 + channel]);
            let mean = (of(x, y) + of(x + 1, y) + of(x, y + 1) + of(x + 1, y + 1)) / 4.0;
            assert!((f64::from(byte) - mean).abs() <= 0.51, "texel {at}");
        }
    }
}
