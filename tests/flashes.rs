//! Flashes counted on sequences built for each clause of the definitions, on both sides of each bound.
//!
//! WCAG 2.2: "general flash and red flash thresholds" (glossary) and Understanding 2.3.1; clauses are
//! quoted by their figures. ITU-R BT.1702: figures partly from memory.

use underover::footage::Picture;
use underover::frame::Frame;
use underover::measure::{FlashCounter, FlashReport, Limit, Viewing};

const FRAME: Frame = Frame { width: 64, height: 48 };

type Rgb = [u8; 3];

fn grey(code: u8) -> Rgb {
    [code; 3]
}

/// A picture whose texels are chosen one by one.
fn picture(frame: Frame, texel: impl Fn(u32, u32) -> Rgb) -> Picture {
    let mut rgba = Vec::with_capacity(frame.texels() as usize * 4);
    for y in 0..frame.height {
        for x in 0..frame.width {
            let [r, g, b] = texel(x, y);
            rgba.extend([r, g, b, 255]);
        }
    }
    Picture { frame, rgba, opaque: true }
}

/// Counts a sequence at 60 frames a second.
fn counted(frames: impl IntoIterator<Item = Picture>) -> FlashReport {
    let mut frames = frames.into_iter().peekable();
    let frame = frames.peek().expect("a frame").frame;
    let mut counter = FlashCounter::new(frame, 60, Viewing::default());
    for picture in frames {
        counter.take(&picture);
    }
    counter.report()
}

/// The whole picture, one colour at a time, each for so many frames.
fn whole(colours: &[(Rgb, usize)]) -> FlashReport {
    let frames = colours.iter().flat_map(|&(colour, frames)| std::iter::repeat_n(colour, frames));
    counted(frames.map(|colour| picture(FRAME, |_, _| colour)))
}

/// Two colours in turn over two seconds, `changes` times in each second.
fn in_turn(a: Rgb, b: Rgb, changes: usize) -> FlashReport {
    let colour = |frame: usize| if (frame * changes / 60).is_multiple_of(2) { a } else { b };
    counted((0..120).map(|frame| picture(FRAME, |_, _| colour(frame))))
}

fn changes(report: &FlashReport, limit: Limit) -> u32 {
    report.findings.iter().find(|finding| finding.limit == limit).expect("every limit").changes
}

fn general(report: &FlashReport) -> u32 {
    changes(report, Limit::General)
}

fn red(report: &FlashReport) -> u32 {
    changes(report, Limit::Red)
}

fn screen(report: &FlashReport) -> u32 {
    changes(report, Limit::ScreenGeneral)
}

#[test]
fn a_still_picture_and_a_single_cut_do_not_flash() {
    // WCAG 2.2: a flash is a PAIR of opposing changes.
    let still = whole(&[(grey(90), 90)]);
    assert_eq!((general(&still), red(&still), still.passes()), (0, 0, true));
    let cut = whole(&[(grey(0), 60), (grey(255), 60)]);
    assert_eq!((general(&cut), cut.worst().flashes()), (1, 0.5));
}

#[test]
fn three_flashes_in_a_second_pass_and_half_a_flash_more_does_not() {
    // WCAG 2.2: "no more than three general flashes ... within any one-second period".
    let three = in_turn(grey(0), grey(255), 6);
    assert_eq!((general(&three), three.passes()), (6, true));
    let more = in_turn(grey(0), grey(255), 7);
    assert_eq!((general(&more), more.passes()), (7, false));
    // Ten a second: twenty changes.
    assert_eq!(general(&in_turn(grey(0), grey(255), 20)), 20);
}

#[test]
fn the_second_may_begin_at_any_frame() {
    // Four changes at the end of one second by the clock and four at the beginning of the next.
    let mut colours = vec![(grey(0), 50)];
    colours.extend((0..8).map(|at| (grey(if at % 2 == 0 { 255 } else { 0 }), 4)));
    let report = whole(&colours);
    assert_eq!((general(&report), report.passes()), (8, false));
    // The same eight, spread so that no second holds more than six.
    let spread: Vec<_> = (0..9).map(|at| (grey(if at % 2 == 0 { 0 } else { 255 }), 10)).collect();
    assert_eq!((general(&whole(&spread)), whole(&spread).passes()), (6, true));
}

#[test]
fn a_tenth_of_the_luminance_counts_and_less_does_not() {
    // WCAG 2.2: "10% or more of the maximum relative luminance". Relative luminance first reaches 0.1 at
    // grey code 90 (IEC 61966-2-1, worked out with a reference package).
    assert_eq!(general(&in_turn(grey(0), grey(90), 8)), 8);
    assert_eq!(general(&in_turn(grey(0), grey(89), 8)), 0);
    // Weights of the channels (ITU-R BT.709): green 0.7152, red 0.2126, blue only 0.0722.
    assert_eq!(general(&in_turn(grey(0), [0, 255, 0], 8)), 8);
    assert_eq!(general(&in_turn(grey(0), [0, 0, 255], 8)), 0);
}

#[test]
fn changes_between_bright_states_count_only_where_the_darker_is_below_eight_tenths() {
    // WCAG 2.2: "where the relative luminance of the darker image is below 0.80"; 232 is the first grey
    // code at or above it.
    assert_eq!(general(&in_turn(grey(231), grey(255), 8)), 8);
    assert_eq!(general(&in_turn(grey(232), grey(255), 8)), 0);
}

#[test]
fn a_slow_swell_counts_once_however_many_frames_it_takes() {
    // WCAG 2.2: a change runs between neighbouring peaks and valleys.
    let ramp = (0..60).map(|frame: i32| grey((255 - (frame - 30).abs() * 8) as u8));
    let report = counted(ramp.map(|colour| picture(FRAME, |_, _| colour)));
    assert_eq!(general(&report), 2);
    // Small ripples on the way neither add changes nor hide the one they ride on.
    let rippled = (0..60).map(|frame: i32| grey((frame * 4 + if frame % 2 == 0 { 8 } else { 0 }) as u8));
    let report = counted(rippled.map(|colour| picture(FRAME, |_, _| colour)));
    assert_eq!(general(&report), 1);
}

#[test]
fn saturated_red_flashes_where_luminance_alone_does_not() {
    // WCAG 2.2: "either or both states involved in each transition, R/(R+G+B) is greater than or equal to
    // 0.8, and the difference between states is more than 0.2 (unitless) in the CIE 1976 UCS".
    let dark_red: Rgb = [100, 0, 0];
    let report = in_turn(dark_red, grey(30), 8);
    assert_eq!((general(&report), red(&report), report.passes()), (0, 8, false));
    assert_eq!(red(&in_turn(dark_red, grey(30), 6)), 6);
    assert!(in_turn(dark_red, grey(30), 6).passes());
    // To blue and to green it is further still (u'v' 0.457 and 0.328, worked out with a reference package).
    assert_eq!(red(&in_turn([255, 0, 0], [0, 0, 255], 8)), 8);
    assert_eq!(red(&in_turn([255, 0, 0], [0, 255, 0], 8)), 8);
    // Colours without red make no red flash.
    assert_eq!(red(&in_turn([0, 0, 255], [0, 255, 0], 8)), 0);
}

#[test]
fn red_has_to_be_saturated_and_far_enough_from_the_other_state() {
    // Against white: (255,64,64) lies 0.20151 away at a red share of 0.9070; (255,105,105) 0.13881 at
    // 0.7797 (worked out with a reference package).
    let white = grey(255);
    assert_eq!(red(&in_turn([255, 64, 64], white, 8)), 8);
    // (255,65,65) 0.20007 and (255,66,66) 0.19861 by the same sums.
    assert_eq!(red(&in_turn([255, 65, 65], white, 8)), 8);
    assert_eq!(red(&in_turn([255, 66, 66], white, 8)), 0, "0.2 is not exceeded");
    assert_eq!(red(&in_turn([255, 105, 105], white, 8)), 0);
    // Far apart, but the red share of (255,150,0) is 0.761: orange is no saturated red.
    assert_eq!(red(&in_turn([255, 150, 0], [0, 0, 255], 8)), 0);
    // (255,134,0): 0.8094.
    assert_eq!(red(&in_turn([255, 134, 0], [0, 0, 255], 8)), 8);
}

#[test]
fn red_against_black_counts_though_black_has_no_chromaticity() {
    // Our own rule, the stricter one: black stands at the white point.
    assert_eq!(red(&in_turn([255, 0, 0], [0, 0, 0], 8)), 8);
}

#[test]
fn a_swell_into_red_counts_once_each_way() {
    let share = |frame: i32| (frame - 30).abs() as f64 / 30.0;
    let mixed = |frame: i32| [200, (200.0 * share(frame)) as u8, (200.0 * share(frame)) as u8];
    let report = counted((0..61).map(|frame| picture(FRAME, |_, _| mixed(frame))));
    assert_eq!(red(&report), 2);
}

/// Flashes ten times a second in a rectangle of a picture of 1024x768, at a quarter of its size.
fn rectangle(width: u32, height: u32) -> FlashReport {
    let frame = Frame { width: 1024, height: 768 };
    let inside = move |x: u32, y: u32| (200..200 + width).contains(&x) && (150..150 + height).contains(&y);
    let one = move |on: bool| picture(frame, move |x, y| grey(if on && inside(x, y) { 255 } else { 0 }));
    counted((0..24).map(|at| one(at / 3 % 2 == 1)))
}

#[test]
fn a_quarter_of_the_ten_degree_field_may_flash_and_a_texel_more_may_not() {
    // WCAG 2.2, Understanding 2.3.1: 341 x 256 texels at 1024 x 768 are the 10 degree field; a quarter of
    // it is 21,824 texels.
    assert_eq!(341 * 256 / 4, 21_824);
    let quarter = rectangle(176, 124);
    assert_eq!((176 * 124, general(&quarter)), (21_824, 0));
    let more = rectangle(177, 124);
    assert_eq!(general(&more), 7);
    let place = more.findings[0].place.expect("a place");
    assert_eq!((place.left, place.top), (200.0 / 1024.0, 150.0 / 768.0));
    assert_eq!((place.width, place.height), (177.0 / 1024.0, 124.0 / 768.0));
    // The screen as a whole: 21,948 texels are far less than its quarter (ITU-R BT.1702).
    assert_eq!(screen(&more), 0);
}

#[test]
fn the_field_lies_wherever_most_of_it_flashes() {
    // The same area in thin strips across the whole picture: no field holds a quarter of it.
    let frame = Frame { width: 128, height: 96 };
    let strips = |on: bool| picture(frame, |_, y| grey(if on && y % 5 == 0 { 255 } else { 0 }));
    let report = counted((0..60).map(|at| strips(at / 3 % 2 == 1)));
    assert_eq!(general(&report), 0);
    let broad = |on: bool| picture(frame, |_, y| grey(if on && y % 3 == 0 { 255 } else { 0 }));
    let report = counted((0..60).map(|at| broad(at / 3 % 2 == 1)));
    assert_eq!(general(&report), 19);
}

#[test]
fn a_wider_field_allows_a_larger_area() {
    let near = Viewing::default().from_distance(1.0);
    let far = Viewing::default().from_distance(4.0);
    assert!(near.field_height < far.field_height);
    // 2 tan(5 degrees) = 0.17498 picture heights at a distance of one.
    assert!((near.field_height - 0.174_977).abs() < 1e-6);
    assert!((far.distance() - 4.0).abs() < 1e-12);
    let flashing = |viewing| {
        let mut counter = FlashCounter::new(FRAME, 60, viewing);
        for at in 0..60 {
            let on = at / 3 % 2 == 1;
            counter.take(&picture(FRAME, |x, y| grey(if on && x < 12 && y < 12 { 255 } else { 0 })));
        }
        general(&counter.report())
    };
    assert_eq!((flashing(near), flashing(far)), (19, 0));
}

#[test]
fn the_screen_rule_counts_cd_per_square_metre_and_contrast_above_160() {
    // ITU-R BT.1702 (partly from memory), white at 200 cd/m2: 20 cd/m2 are grey code 90 from black.
    assert_eq!(screen(&in_turn(grey(0), grey(90), 8)), 8);
    assert_eq!(screen(&in_turn(grey(0), grey(89), 8)), 0);
    // Above 160 cd/m2 a Michelson contrast of 1/17: 0.8069 (code 232) against 1 has 0.107, which WCAG lets
    // pass; 0.8963 (code 243) has 0.0547, less than 0.0588.
    let bright = in_turn(grey(232), grey(255), 8);
    assert_eq!((general(&bright), screen(&bright)), (0, 8));
    assert_eq!(screen(&in_turn(grey(243), grey(255), 8)), 0);
    // A quarter of the screen may flash (more than a quarter fails).
    let columns = |most: u32| {
        let one = move |on: bool| picture(FRAME, |x, _| grey(if on && x < most { 255 } else { 0 }));
        screen(&counted((0..60).map(|at| one(at / 3 % 2 == 1))))
    };
    assert_eq!((columns(16), columns(17)), (0, 19));
}

#[test]
fn what_fails_is_told_frame_by_frame() {
    // A calm second, eight changes in 32 frames, two calm seconds.
    let mut colours = vec![(grey(0), 60)];
    colours.extend((0..8).map(|at| (grey(if at % 2 == 0 { 255 } else { 0 }), 4)));
    colours.push((grey(0), 120));
    let report = whole(&colours);
    let finding = &report.findings[0];
    // The seventh change is at frame 60 + 6 * 4; the second change leaves the window 60 frames after 64.
    assert_eq!(finding.failing, [84..=123]);
    assert_eq!((finding.changes, finding.frame, finding.area_share), (8, 88, 1.0));
    assert_eq!(report.per_frame.len(), report.frames);
    assert_eq!((report.per_frame[59][0], report.per_frame[60][0], report.per_frame[211][0]), (0, 1, 0));
}

#[test]
fn a_picture_of_another_size_is_left_out() {
    let mut counter = FlashCounter::new(FRAME, 60, Viewing::default());
    counter.take(&picture(FRAME, |_, _| grey(0)));
    counter.take(&picture(Frame { width: 2, height: 2 }, |_, _| grey(255)));
    assert_eq!(counter.report().frames, 1);
}

use std::process::Command;
use std::sync::Arc;

use underover::beat::FrameRate;
use underover::catalogue::Catalogue;
use underover::chain::EffectUse;
use underover::edit::{Edit, Work};
use underover::flashing::{self, Watch};
use underover::footage::Shelf;
use underover::gpu::{Gpu, Renderer};
use underover::show::{Scope, Show};

/// An effect by name, with settings that are numbers and settings that are words.
type Written<'a> = (&'a str, &'a [(&'a str, f64)], &'a [(&'a str, &'a str)]);

/// A show of one generated clip at 120 BPM, small enough to be counted at its own size.
fn show_of(catalogue: &Catalogue, effects: &[Written<'_>]) -> Show {
    let work = Work::preset("wheelhouse", catalogue).expect("a chain").expect("a preset");
    let mut show = Show::clone(work.show());
    show.frame = Frame { width: 64, height: 36 };
    show.tempo_bpm = 120.0;
    *show.chain_mut(Scope::Clip(0, 0, 0)) = effects
        .iter()
        .map(|(name, numbers, words)| {
            let mut used = EffectUse::new(Arc::clone(catalogue.effect(name).expect("an effect")));
            let place = |used: &EffectUse, name: &str| {
                used.effect.settings.iter().position(|setting| setting.name == name).expect("a setting")
            };
            for (setting, number) in *numbers {
                let at = place(&used, setting);
                used.set_number(at, *number).expect("a number");
            }
            for (setting, word) in *words {
                let at = place(&used, setting);
                used.set_word(at, word).expect("a word");
            }
            used
        })
        .collect();
    show
}

fn watch() -> Watch {
    Watch { from_beats: 0.0, over_beats: 4.0, rate: FrameRate::default(), viewing: Viewing::default() }
}

#[test]
fn a_flash_of_known_rate_is_counted_as_often_as_it_flashes_and_every_suggestion_passes() {
    let catalogue = Catalogue::built_in().expect("the effects");
    let mut renderer = Renderer::new(Gpu::open(None).expect("an adapter"));
    let mut shelf = Shelf::new(&catalogue);
    // 120 BPM are two beats a second: three flashes a beat are six a second (arithmetic), twelve changes.
    let show = show_of(&catalogue, &[("flash-gate", &[("rate", 3.0), ("strength", 1.0)], &[])]);
    let report = flashing::counted(&mut renderer, &mut shelf, &show, &watch(), |_| true).expect("a GPU");
    assert_eq!((report.frames, report.second), (120, 60));
    assert_eq!((general(&report), report.passes()), (12, false));

    let found = flashing::suggestions(&mut renderer, &mut shelf, &show, &watch(), |_| true).expect("a GPU");
    assert!(found.iter().any(|one| one.kind == "slower") && found.iter().any(|one| one.kind == "weaker"));
    for suggestion in &found {
        let (changed, _) = suggestion.edit.applied(&show).expect("a change");
        let report =
            flashing::counted(&mut renderer, &mut shelf, &changed, &watch(), |_| true).expect("a GPU");
        assert!(report.passes(), "{}: {}", suggestion.text, report.worst().flashes());
        assert_eq!(report, suggestion.report);
    }

    // Counting ends where it is told to: a second renderer may have made some of the frames told of.
    let short = flashing::counted(&mut renderer, &mut shelf, &show, &watch(), |done| done < 7);
    assert!((1..=7).contains(&short.expect("a GPU").frames));
}

#[test]
fn two_renderers_count_together_what_one_counts() {
    let catalogue = Catalogue::built_in().expect("the effects");
    let mut show = show_of(
        &catalogue,
        &[
            ("flash-gate", &[("rate", 1.7), ("strength", 1.0)], &[]),
            ("trails", &[("decay", 0.2)], &[]),
            ("hold", &[], &[]),
        ],
    );
    show.frame = Frame { width: 32, height: 18 };
    // More frames than are shared out at a time, and an odd number of them.
    let watch = Watch { over_beats: 45.0, ..watch() };
    let mut shelf = Shelf::new(&catalogue);
    let mut alone = Renderer::new(Gpu::open(None).expect("an adapter"));
    // A renderer that gives way to a window takes no second one.
    alone.give_way();
    let mut told = Vec::new();
    let by_one = flashing::counted(&mut alone, &mut shelf, &show, &watch, |made| {
        told.push(made);
        true
    });
    let by_one = by_one.expect("a GPU");
    assert_eq!((by_one.frames, told), (1350, (1..=1350).collect::<Vec<_>>()));
    let mut renderer = Renderer::new(Gpu::open(None).expect("an adapter"));
    let mut told = Vec::new();
    let by_two = flashing::counted(&mut renderer, &mut shelf, &show, &watch, |made| {
        told.push(made);
        true
    });
    assert_eq!(by_two.expect("a GPU"), by_one);
    assert!(by_one.worst().changes > 0);
    assert!(told.iter().all(|made| (1..=1350).contains(made)) && told.last() == Some(&1350));
}

#[test]
fn a_flash_that_is_slow_enough_passes_and_one_beat_more_does_not() {
    let catalogue = Catalogue::built_in().expect("the effects");
    let mut renderer = Renderer::new(Gpu::open(None).expect("an adapter"));
    let mut shelf = Shelf::new(&catalogue);
    let mut counted = |rate: f64| {
        let show = show_of(&catalogue, &[("flash-gate", &[("rate", rate)], &[])]);
        flashing::counted(&mut renderer, &mut shelf, &show, &watch(), |_| true).expect("a GPU")
    };
    // Three a second are the most that WCAG 2.2 lets pass.
    assert_eq!((general(&counted(1.5)), counted(1.5).passes()), (6, true));
    assert_eq!((general(&counted(2.0)), counted(2.0).passes()), (8, false));
}

#[test]
fn the_order_decides_whether_a_flash_is_red() {
    let catalogue = Catalogue::built_in().expect("the effects");
    let mut renderer = Renderer::new(Gpu::open(None).expect("an adapter"));
    let mut shelf = Shelf::new(&catalogue);
    let show = show_of(
        &catalogue,
        &[
            ("tint", &[("amount", 1.0)], &[("colour", "#ff0000")]),
            ("flash-gate", &[("rate", 3.0)], &[("colour", "#ffffff")]),
        ],
    );
    let over = Edit::Order { scope: Scope::Clip(0, 0, 0), order: vec![1, 0] };
    let (over, _) = over.applied(&show).expect("an order");
    let mut counted =
        |show: &Show| flashing::counted(&mut renderer, &mut shelf, show, &watch(), |_| true).expect("a GPU");
    // White over a red picture goes from a saturated red to white and back; a white flash that is tinted
    // red afterwards stays red throughout, and only its luminance changes.
    let (flash_over, tint_over) = (counted(&show), counted(&over));
    assert_eq!(red(&flash_over), 12);
    assert!(red(&tint_over) < red(&flash_over), "{}", red(&tint_over));
    assert_eq!((general(&flash_over), general(&tint_over)), (12, 12));
}

fn underover(words: &[&str]) -> (String, String, Option<i32>) {
    let output = Command::new(env!("CARGO_BIN_EXE_underover")).args(words).output().expect("the program");
    let text = |bytes: &[u8]| String::from_utf8_lossy(bytes).into_owned();
    (text(&output.stdout), text(&output.stderr), output.status.code())
}

#[test]
fn the_command_counts_says_what_it_is_not_and_writes_figures() {
    let words = ["flashes", "preset:night-ferry", "--over", "1", "--frame", "64x36"];
    let (said, _, code) = underover(&words);
    assert_eq!(code, Some(0), "{said}");
    for wanted in
        ["WCAG 2.2", "ITU-R BT.1702", "general flashes", "red flashes", "no certified test", "at 174 BPM"]
    {
        assert!(said.contains(wanted), "{wanted}: {said}");
    }
    let (json, _, _) = underover(&[&words[..], &["--json", "-"]].concat());
    let figures: serde_json::Value = serde_json::from_str(&json).expect("JSON");
    // 174 BPM: a beat of 344.83 ms has 21 frames at 60 a second (arithmetic).
    assert_eq!(figures["frames"], 21);
    assert_eq!(figures["limits"].as_array().map(Vec::len), Some(4));
    assert_eq!(figures["passes"], true);

    for (wrong, wanted) in [
        (&["--over", "0"][..], "0.01 to 4096"),
        (&["--distance", "x"], "picture heights"),
        (&["--white", "0"], "cd/m2"),
        (&["--rate", "0"], "1 to 240"),
        (&["--scope", "global"], "leave it out"),
    ] {
        let (_, error, code) = underover(&[&words[..2], wrong].concat());
        assert_eq!(code, Some(2), "{wrong:?}: {error}");
        assert!(error.contains(wanted), "{wrong:?}: {error}");
    }
}

#[test]
fn the_wall_of_orders_says_what_each_flashes() {
    let words = ["orders", "preset:lamp-lines", "--frame", "32x18", "--flashes", "--json", "-"];
    let (json, error, code) = underover(&words);
    assert_eq!(code, Some(0), "{error}");
    let figures: serde_json::Value = serde_json::from_str(&json).expect("JSON");
    let orders = figures["order"].as_array().expect("orders");
    assert!(orders.iter().all(|order| order["flashes_pass"] == true), "{json}");
}
