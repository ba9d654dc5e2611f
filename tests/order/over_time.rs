//! Orders compared over a stretch of beats.

#[allow(dead_code, reason = "each test file uses its own part of it")]
use std::process::Command;

use crate::common::Set::To;
use crate::common::{CATALOGUE, moment, used, with_renderer};
use proptest::prelude::*;
use underover::base::frame::{Frame, PixelMode};
use underover::base::picture::Picture;
use underover::beat::Moment;
use underover::explore::over_time::{MOST_MOMENTS, STRIP_MOMENTS, Stretch, strip_frame};
use underover::explore::{Exploration, Orders};
use underover::footage::{FootageError, Shelf};
use underover::gpu::Budget;
use underover::measure::Difference;
use underover::order::LookLimits;
use underover::plan::Path;
use underover::show::chain::EffectUse;
use underover::show::clip::{Fit, FootageName};

const FRAME: Frame = Frame { width: 24, height: 14 };

fn path(chain: &[EffectUse], moment: Moment, with_past: bool) -> Result<Path, FootageError> {
    let footage = FootageName::Generated("harbour".to_owned());
    let shelf = &mut Shelf::new(&CATALOGUE);
    if with_past {
        return Path::of_chain(chain, &footage, Fit::Whole, moment, shelf);
    }
    Path::of_chain_alone(chain, &footage, Fit::Whole, moment, shelf)
}

fn stretch(chain: &[EffectUse], start: f64, beats: f64, a_second: Option<f64>) -> Stretch {
    let start = moment(FRAME, PixelMode::Encoded8Bit, start);
    Stretch::planned(start, beats, a_second, |moment, past| path(chain, moment, past)).unwrap()
}

fn explored(stretch: &Stretch) -> Exploration {
    with_renderer(|renderer| {
        let orders = stretch.orders(renderer, |_| {}).unwrap();
        stretch.explored(orders, renderer, 1000, LookLimits::default(), Budget::default(), |_| {}).unwrap()
    })
}

#[test]
fn every_frame_is_compared_up_to_a_limit_and_evenly_past_it() {
    let chain = [used("tint", &[])];
    // At 120 BPM and 60 frames a second a beat is 30 frames.
    let numbers = |beats, a_second| -> Vec<u64> {
        stretch(&chain, 2.0, beats, a_second).moments().map(|moment| moment.number).collect()
    };
    assert_eq!(numbers(1.0, None), (60..90).collect::<Vec<_>>());
    assert_eq!(numbers(0.001, None), [60]);
    let many = numbers(16.0, None);
    assert_eq!(many.len() as u64, MOST_MOMENTS);
    assert!(many.windows(2).all(|pair| pair[1] - pair[0] == 5), "480 frames, 96 of them: {many:?}");
    assert_eq!(numbers(1.0, Some(10.0)), [60, 66, 72, 78, 84]);
    assert_eq!(numbers(1.0, Some(240.0)).len(), 30);
}

#[test]
fn orders_that_are_the_same_at_one_moment_may_differ_over_time() {
    // At beat 0.5 the gate is shut: nothing there depends on its place.
    let chain = [used("flash-gate", &[("strength", To(0.5))]), used("posterise", &[])];
    let at_once = with_renderer(|renderer| {
        Orders::of(renderer, &path(&chain, moment(FRAME, PixelMode::Encoded8Bit, 0.5), true).unwrap())
    });
    assert_eq!(at_once.unwrap().classes.len(), 1);
    let over = explored(&stretch(&chain, 0.5, 1.0, None));
    assert_eq!((over.orders.classes.len(), over.distinct()), (2, 2));
    let (worst, difference) = over.over.as_ref().unwrap().worst(1);
    // Open from beat 1 to beat 1.5.
    assert!((1.0..1.5).contains(&worst.beats) && difference.mean > 0.0, "{worst:?}");
    assert!(over.orders.proofs.idle.iter().all(Option::is_none));
}

/// What is said over time against each order rendered alone at each moment, and of each effect against the
/// chain without it.
fn check(chain: &[EffectUse], start: f64, beats: f64) -> Exploration {
    let stretch = stretch(chain, start, beats, None);
    let explored = explored(&stretch);
    let over = explored.over.as_ref().unwrap();
    let own: Vec<usize> = (0..chain.len()).collect();
    let frames: Vec<Path> = stretch.moments().map(|&moment| path(chain, moment, true).unwrap()).collect();
    let alone = |order: &[usize]| -> Vec<Picture> {
        with_renderer(|renderer| frames.iter().map(|path| renderer.picture(path, order).unwrap()).collect())
    };
    let reference = alone(&own);
    let limits = LookLimits::default();
    let parts =
        with_renderer(|renderer| stretch.parts(&explored.orders, renderer, limits, Budget::default()));
    for (effect, part) in parts.unwrap().iter().enumerate() {
        let without: Vec<usize> = own.iter().copied().filter(|&other| other != effect).collect();
        let pictures = alone(&without);
        let means: Vec<f64> = with_renderer(|renderer| {
            let pairs = reference.iter().zip(&pictures);
            pairs.map(|(reference, picture)| renderer.difference(picture, reference).unwrap().mean).collect()
        });
        let mean = means.iter().sum::<f64>() / means.len() as f64;
        assert!((part.difference.mean - mean).abs() < 1e-9, "effect {effect}: {part:?} and {mean}");
    }
    let pictures: Vec<Vec<Picture>> =
        explored.orders.classes.iter().map(|class| alone(&class.order)).collect();
    for (class, pictures_of) in pictures.iter().enumerate() {
        for (other, pictures_of_other) in pictures.iter().enumerate().take(class) {
            let same = pictures_of.iter().zip(pictures_of_other).all(|(a, b)| a.rgba == b.rgba);
            let said = explored.first_alike[class] == explored.first_alike[other];
            assert_eq!(same, said, "classes {other} and {class}");
        }
        let measured: Vec<Difference> = with_renderer(|renderer| {
            let pairs = reference.iter().zip(pictures_of);
            pairs.map(|(reference, picture)| renderer.difference(picture, reference).unwrap()).collect()
        });
        let mean = measured.iter().map(|d| d.mean).sum::<f64>() / measured.len() as f64;
        let p95 = measured.iter().map(|d| d.p95).fold(0.0, f64::max);
        let found = explored.finished[class].difference.unwrap();
        assert!((found.mean - mean).abs() < 1e-9, "class {class}: {} and {mean}", found.mean);
        assert!((found.p95 - p95).abs() < 1e-9, "class {class}: {} and {p95}", found.p95);
        let (worst, difference) = over.worst(class);
        let most = measured.iter().map(|d| d.mean).fold(0.0, f64::max);
        assert!((difference.mean - most).abs() < 1e-9, "class {class} at {worst:?}");
        // The strip shows the class itself, moment by moment, where looks are told apart at full size.
        assert_eq!(explored.looked_at, FRAME);
        let strip = explored.finished[class].picture.as_ref().unwrap();
        assert_eq!(strip.frame, strip_frame(FRAME, stretch.sampled.len()));
        for (place, &at) in over.strip.iter().enumerate() {
            let left = place * (FRAME.width as usize + 2);
            for y in 0..FRAME.height as usize {
                let from = (y * strip.frame.width as usize + left) * 4;
                let row = FRAME.width as usize * 4;
                assert!(strip.rgba[from..from + row] == pictures_of[at].rgba[y * row..(y + 1) * row]);
            }
        }
    }
    explored
}

#[test]
fn what_is_said_over_time_is_what_each_order_gives_at_each_moment() {
    let chain = [
        used("flash-gate", &[("rate", To(2.0)), ("strength", To(0.6))]),
        used("posterise", &[]),
        used("mirror", &[]),
        used("edge-find", &[]),
    ];
    let explored = check(&chain, 3.0, 0.5);
    assert_eq!(explored.over.unwrap().strip.len(), STRIP_MOMENTS);
}

#[test]
fn effects_that_remember_are_played_through_the_stretch() {
    let chain = [
        used("trails", &[("decay", To(0.02))]),
        used("flash-gate", &[("rate", To(4.0)), ("strength", To(0.7))]),
        used("hold", &[("every", To(0.25))]),
    ];
    let explored = check(&chain, 4.0, 0.3);
    assert!(explored.distinct() > 2, "{} differ", explored.distinct());
}

/// Effects of every reach, idle ones and such as move with the beat among them.
fn any_effect() -> impl Strategy<Value = EffectUse> {
    let uses = vec![
        used("trails", &[("decay", To(0.02))]),
        used("trails", &[("decay", To(0.0))]),
        used("hold", &[("every", To(0.1))]),
        used("hold", &[("every", To(0.0))]),
        used("posterise", &[]),
        used("invert", &[("amount", To(0.0))]),
        used("channel-offset", &[("distance", To(0.1))]),
        used("channel-offset", &[("distance", To(0.0))]),
        used("mirror", &[]),
        used("edge-find", &[]),
        used("flash-gate", &[("rate", To(6.0)), ("strength", To(0.6))]),
        used("flash-gate", &[("open", To(0.0))]),
    ];
    (prop::sample::select(uses), prop::bool::weighted(0.75)).prop_map(|(mut used, on)| {
        used.on = on;
        used
    })
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 20, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn whatever_remembers_is_idle_or_is_off_what_is_said_over_time_is_what_each_order_gives(
        chain in prop::collection::vec(any_effect(), 2..4),
        remembers in prop::sample::select(vec![("trails", "decay", 0.05), ("hold", "every", 0.15)]),
        place in 0..4_usize,
        start in 2..5_u32,
    ) {
        let mut chain = chain;
        let (name, setting, value) = remembers;
        chain.insert(place.min(chain.len()), used(name, &[(setting, To(value))]));
        check(&chain, f64::from(start) + 0.3, 0.15);
    }
}

#[test]
fn what_can_differ_rests_on_every_frame_of_the_stretch_not_on_those_whose_pictures_are_taken() {
    // Four pictures of 60 frames, at the frames 30, 45, 60 and 75 from beat 1 on: the gate is open for two
    // frames after each of the beats 1.2, 1.7, 2.2 and 2.7, and at none of the four.
    let gate = used(
        "flash-gate",
        &[("rate", To(2.0)), ("open", To(0.14)), ("phase", To(0.6)), ("strength", To(0.7))],
    );
    for remembers in [false, true] {
        let mut chain = vec![gate.clone(), used("posterise", &[])];
        if remembers {
            // Its trails are gone after a few frames.
            chain.push(used("trails", &[("decay", To(1e-9))]));
        }
        let few = stretch(&chain, 1.0, 2.0, Some(4.0));
        assert_eq!(few.sampled.len(), 4);
        assert!(few.moments().all(|moment| chain[0].idle_because(moment).is_some()));
        let explored = explored(&few);
        let all = with_renderer(|renderer| stretch(&chain, 1.0, 2.0, None).orders(renderer, |_| {})).unwrap();
        assert_eq!(explored.orders.classes.len(), all.classes.len());
        assert!(all.classes.len() > 1 && explored.orders.proofs.idle[0].is_none());
        assert!(explored.distinct() < explored.orders.classes.len(), "{}", explored.summary());
        let over = explored.over.as_ref().unwrap();
        assert!(over.is_sampled());
        assert_eq!(over.to_string(), "over 2 beats (proved from all 60 frames; pictures of 4 of them)");
        assert!(explored.summary().contains("that differ in those pictures"), "{}", explored.summary());
        let limits = LookLimits::default();
        let parts =
            with_renderer(|renderer| few.parts(&explored.orders, renderer, limits, Budget::default()))
                .unwrap();
        if !remembers {
            let unseen = parts[0].unseen.as_deref();
            assert_eq!(unseen, Some("flash-gate changes nothing in the pictures of 4 of 60 frames."));
        }
    }
}

#[test]
fn a_frame_without_full_alpha_between_those_looked_at_counts_too() {
    let chain = [used("channel-offset", &[("distance", To(0.2))]), used("invert", &[])];
    let planned = |moment: Moment, alpha: bool| {
        let alpha = if alpha { crate::common::Alpha::Mixed } else { crate::common::Alpha::Full };
        crate::common::path(&crate::common::scattered(24, 14, alpha, 3), &chain, moment)
    };
    let start = moment(FRAME, PixelMode::Encoded8Bit, 0.0);
    for (frame, classes) in [(None, 1), (Some(7), 2), (Some(29), 2)] {
        let plan = |moment: Moment, _: bool| -> Result<Path, FootageError> {
            Ok(planned(moment, frame == Some(moment.number)))
        };
        let few = Stretch::planned(start, 1.0, Some(4.0), plan).unwrap();
        assert_eq!(few.sampled.len(), 2);
        let orders = with_renderer(|renderer| few.orders(renderer, |_| {})).unwrap();
        assert_eq!(orders.classes.len(), classes, "frame {frame:?}");
    }
}

#[test]
fn moments_that_show_the_same_count_each() {
    // A picture that does not move, under a gate that is open half the time.
    let chain = [used("flash-gate", &[("strength", To(0.5))]), used("posterise", &[])];
    let still = |moment: Moment, _: bool| -> Result<Path, FootageError> {
        Ok(crate::common::path(
            &crate::common::scattered(24, 14, crate::common::Alpha::Full, 3),
            &chain,
            moment,
        ))
    };
    let start = moment(FRAME, PixelMode::Encoded8Bit, 0.0);
    let explored = explored(&Stretch::planned(start, 1.0, None, still).unwrap());
    let over = explored.over.as_ref().unwrap();
    assert_eq!(over.moments.len(), 30);
    let apart: Vec<f64> = over.differences.iter().map(|of| of[1].mean).collect();
    assert!(apart[..15].iter().all(|&mean| mean == apart[0] && mean > 0.0), "{apart:?}");
    assert!(apart[15..].iter().all(|&mean| mean == 0.0), "{apart:?}");
    let mean = explored.finished[1].difference.unwrap().mean;
    assert!((mean - apart[0] / 2.0).abs() < 1e-9);
    // Two different moments, so two galleries.
    assert_eq!(explored.galleries.len(), 2);
}

/// The program's exit code, standard output and standard error.
fn run(args: &[&str]) -> (i32, String, String) {
    let ran = Command::new(env!("CARGO_BIN_EXE_underover"))
        .env("UNDEROVER_STATE", concat!(env!("CARGO_TARGET_TMPDIR"), "/state"))
        .args(args)
        .output()
        .unwrap();
    let text = |bytes: Vec<u8>| String::from_utf8(bytes).unwrap();
    (ran.status.code().unwrap(), text(ran.stdout), text(ran.stderr))
}

const CHAIN: &str = "format = \"underover/chain/1\"
name = \"Lamp trails\"

[[effect]]
use = \"trails\"
decay = 0.02

[[effect]]
use = \"flash-gate\"
strength = 0.7
";

#[test]
fn the_command_says_what_it_compared_and_how_far_it_looked_back() {
    let folder = tempfile::tempdir().unwrap();
    let file = |name: &str| folder.path().join(name).to_str().unwrap().to_owned();
    std::fs::write(file("trails.toml"), CHAIN).unwrap();
    let chain = file("trails.toml");
    let base = ["orders", &chain, "--frame", "32x18", "--at", "4"];
    let args = [&base[..], &["--over", "0.5", "--rate", "12", "--json", "-"]].concat();
    let (code, json, said) = run(&args);
    assert_eq!(code, 0, "{said}");
    let json: serde_json::Value = serde_json::from_str(&json).unwrap();
    assert_eq!((json["over_beats"].as_f64(), json["frames"].as_u64()), (Some(0.5), Some(3)));
    assert_eq!((&json["frames_total"], &json["pictures_sampled"]), (&15.into(), &true.into()));
    assert!(json["warm_up_frames"].as_u64().unwrap() > 10);
    assert_eq!(json["classes"], 2);
    let other = &json["order"][1];
    let beat = other["worst_beat"].as_f64().unwrap();
    assert!((4.0..4.5).contains(&beat));
    assert!(other["worst_mean_de2000"].as_f64().unwrap() >= other["mean_de2000"].as_f64().unwrap());

    let wall = file("wall.png");
    let (code, said, noted) = run(&[&base[..], &["--over", "0.5", "--out", &wall]].concat());
    assert_eq!(code, 0, "{noted}");
    assert!(said.contains("over 0.5 beats (all 15 frames)"), "{said}");
    // Four moments in a row, each 16:9.
    assert!(image::open(&wall).unwrap().width() > 1000);

    let (code, _, noted) = run(&[&base[..], &["--warm-up", "0.1", "--json", "-"]].concat());
    assert_eq!(code, 0);
    assert!(noted.contains("--warm-up 0.1 begins 3 frames before"), "{noted}");

    for wrong in [["--rate", "12"], ["--over", "0"], ["--over", "1000"], ["--warm-up", "-1"]] {
        let (code, _, said) = run(&[&base[..], &wrong].concat());
        assert_eq!(code, 2, "{wrong:?}: {said}");
    }
    let wish = ["--over", "0.2", "--want", "brightest"];
    let (code, said, noted) = run(&[&base[..], &wish].concat());
    assert_eq!(code, 0, "{noted}");
    assert!(said.contains("Best for brightest on all moments: ") && said.contains("on beat "), "{said}");
    assert_eq!(run(&[&base[..], &["--over", "0.2", "--by", "worst"]].concat()).0, 2);
}

#[test]
fn a_frame_that_is_not_the_shows_own_is_said_in_text_and_figures_and_so_is_how_looks_were_told_apart() {
    let base = ["orders", "preset:night-ferry", "--scope", "bundle:picture", "--at", "0.1"];
    let (code, said, noted) = run(&[&base[..], &["--frame", "64x36", "--rules"]].concat());
    assert_eq!(code, 0, "{noted}");
    let coarser = "at 64x36, not the show's 1280x720: edges and blur are coarser than on stage";
    assert!(noted.contains(&format!("note: {coarser}")), "{noted}");
    let looks = "Two orders are one look below a mean of 1 and a 95th percentile of 2.3 (CIEDE2000), on pictures of 64x36.";
    assert!(said.contains(looks), "{said}");
    let (_, json, _) = run(&[&base[..], &["--frame", "64x36", "--json", "-"]].concat());
    let json: serde_json::Value = serde_json::from_str(&json).unwrap();
    assert_eq!(json["frame_note"], coarser);
    // A show is looked at on its own frame where nothing else is asked for; a chain has none of its own.
    let (code, json, noted) =
        run(&["swaps", "preset:night-ferry", "--scope", "level:picture/windows", "--json", "-"]);
    assert_eq!(code, 0, "{noted}");
    let json: serde_json::Value = serde_json::from_str(&json).unwrap();
    assert_eq!((&json["frame"], &json["frame_note"]), (&"1280x720".into(), &serde_json::Value::Null));
    let (code, _, noted) = run(&["orders", "preset:lamp-lines", "--frame", "64x36"]);
    assert!(code == 0 && !noted.contains("not the show's"), "{noted}");
}
