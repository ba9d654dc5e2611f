//! Flashes counted on sequences built for each clause of the definitions, on both sides of each bound.
//!
//! WCAG 2.2: "general flash and red flash thresholds" (glossary) and Understanding 2.3.1; clauses are
//! quoted by their figures. ITU-R BT.1702: figures partly from memory.

use underover::base::frame::Frame;
use underover::base::picture::Picture;
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

/// Flashes ten times a second in a rectangle of a picture.
fn rectangle(frame: Frame, [left, top]: [u32; 2], [width, height]: [u32; 2]) -> FlashReport {
    let inside = move |x: u32, y: u32| (left..left + width).contains(&x) && (top..top + height).contains(&y);
    let one = move |on: bool| picture(frame, move |x, y| grey(if on && inside(x, y) { 255 } else { 0 }));
    counted((0..24).map(|at| one(at / 3 % 2 == 1)))
}

#[test]
fn a_quarter_of_the_ten_degree_field_may_flash_and_a_row_more_may_not() {
    // WCAG 2.2, Understanding 2.3.1: 341 x 256 texels at 1024 x 768 are the 10 degree field; a quarter of
    // it is 21,824 texels. On 300 rows the field is 133 x 100, a quarter of it 133 x 25.
    assert_eq!(341 * 256 / 4, 21_824);
    let rows = Frame { width: 400, height: 300 };
    assert_eq!(general(&rectangle(rows, [78, 58], [133, 25])), 0);
    let more = rectangle(rows, [78, 58], [133, 26]);
    assert_eq!(general(&more), 7);
    let place = more.findings[0].place.expect("a place");
    assert_eq!((place.left, place.top), (78.0 / 400.0, 58.0 / 300.0));
    assert_eq!((place.width, place.height), (133.0 / 400.0, 26.0 / 300.0));
    // The screen as a whole: 3,458 of 120,000 are far less than its quarter (ITU-R BT.1702).
    assert_eq!(screen(&more), 0);
}

#[test]
fn an_area_on_a_larger_picture_counts_to_within_the_squares_at_its_border() {
    // 1024 x 768 is counted on 400 x 300 squares, of 2.56 texels; one that is covered in part counts whole.
    let large = Frame { width: 1024, height: 768 };
    let less = rectangle(large, [200, 150], [170, 118]);
    assert_eq!((general(&less), less.squares.to_string()), (0, "400x300".into()));
    assert_eq!(general(&rectangle(large, [200, 150], [177, 124])), 7);
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

/// Every texel of 1280x720, over two seconds of 25 frames; 6.25 times a second lit, two frames on and two off.
fn in_turn_at_720(lit: impl Fn(bool, u32, u32) -> bool) -> FlashReport {
    in_turn_on(Frame { width: 1280, height: 720 }, lit)
}

/// The same of another frame.
fn in_turn_on(frame: Frame, lit: impl Fn(bool, u32, u32) -> bool) -> FlashReport {
    let [on, off] = [true, false].map(|on| picture(frame, |x, y| grey(if lit(on, x, y) { 255 } else { 0 })));
    let mut counter = FlashCounter::new(frame, 25, Viewing::default());
    for at in 0..50 {
        counter.take(if at / 2 % 2 == 0 { &on } else { &off });
    }
    counter.report()
}

#[test]
fn a_fine_pattern_that_is_not_balanced_counts_by_its_mean_light() {
    // Every third column: a third of the light, though its mean byte, 85, has 0.091 of it (IEC 61966-2-1).
    let columns = in_turn_at_720(|on, x, _| on && x % 3 == 0);
    assert_eq!(
        (columns.frame.to_string(), columns.squares.to_string()),
        ("1280x720".into(), "533x300".into())
    );
    assert!(general(&columns) >= 12 && !columns.passes(), "{}", general(&columns));
    let rows = in_turn_at_720(|on, _, y| on && y % 3 == 0);
    assert!(general(&rows) >= 12 && !rows.passes());
    // A checkerboard of single texels that is lit and dark by turns as a whole: half of the light.
    assert!(general(&in_turn_at_720(|on, x, y| on && (x + y) % 2 == 0)) >= 12);
}

#[test]
fn a_balanced_checkerboard_of_half_a_tenth_of_a_degree_does_not_count_and_larger_ones_do() {
    // WCAG 2.2, general flash and red flash thresholds: a fine, balanced pattern with squares under 0.1 degree
    // is exempt. 0.1 degree is 2.4 texels of 720 rows; one texel is 0.042 degree.
    let frame = Frame { width: 128, height: 720 };
    let board =
        |squares: u32| in_turn_on(frame, move |on, x, y| (x / squares + y / squares).is_multiple_of(2) == on);
    assert_eq!(board(1).worst().changes, 0);
    // Squares of three texels are 0.125 degree.
    assert!(!board(3).passes());
    assert!(!board(40).passes());
    // Hardly finer than 0.1 degree the stricter reading is taken: a square of 2.4 texels holds more of one colour
    // than of the other, and one that holds both evenly would pass 0.125 degree too.
    assert!(board(2).worst().changes > 0);
    // Not balanced, by its mean, whatever the size: a quarter of the light, on and off.
    let quarter = |squares: u32| {
        in_turn_on(frame, move |on, x, y| {
            on && (x / squares).is_multiple_of(2) && (y / squares).is_multiple_of(2)
        })
    };
    assert!([1, 2, 3, 40].into_iter().all(|squares| !quarter(squares).passes()));
}

#[test]
fn balanced_squares_far_below_a_tenth_of_a_degree_count_nowhere() {
    // 4K: 0.1 degree is 7.2 texels, two are 0.028 degree (WCAG 2.2, as above). From every place on the squares.
    let frame = Frame { width: 64, height: 2160 };
    for [right, down] in [[0, 0], [1, 0], [0, 1], [1, 1]] {
        let [on, off] = [0, 1].map(|turn| {
            picture(frame, move |x, y| {
                grey(if ((x + right) / 2 + (y + down) / 2 + turn) % 2 == 0 { 255 } else { 0 })
            })
        });
        let report = counted((0..120).map(|at| if at / 4 % 2 == 0 { on.clone() } else { off.clone() }));
        assert_eq!(report.worst().changes, 0, "from {right}, {down}, on {}", report.squares);
    }
}

#[test]
fn pictures_are_counted_by_squares_of_a_tenth_of_a_degree_or_less() {
    let squares = |width, height, viewing: Viewing| viewing.squares(Frame { width, height }).to_string();
    let near = Viewing::default();
    // 10 degrees are a third of the height, so 0.1 degree is a three-hundredth (WCAG 2.2, Understanding 2.3.1).
    for (width, height) in [(640, 360), (1280, 720), (1920, 1080), (3840, 2160)] {
        assert_eq!(squares(width, height, near), "533x300");
    }
    // What is smaller is counted as it is.
    assert_eq!(squares(533, 300, near), "533x300");
    assert_eq!(squares(160, 90, near), "160x90");
    // From nearer by 0.1 degree is a smaller share: 2 tan(5 degrees) / 100 of a height at a distance of one.
    assert_eq!(squares(1280, 720, near.from_distance(1.0)), "1017x572");
    assert_eq!(squares(1280, 720, near.from_distance(8.0)), "533x300");
}

#[test]
fn stripes_just_as_wide_as_a_square_count_wherever_they_lie() {
    // Of 600 rows 0.1 degree is two texels: stripes of two rows that begin on an odd one would lie on squares of
    // two rows by halves, and every square would keep its mean.
    let frame = Frame { width: 32, height: 600 };
    for from in 0..4 {
        let [on, off] = [0, 2].map(|turn| {
            picture(frame, move |_, y| grey(if (y + from + turn) / 2 % 2 == 0 { 255 } else { 0 }))
        });
        let report = counted((0..120).map(|at| if at / 4 % 2 == 0 { on.clone() } else { off.clone() }));
        assert!(!report.passes(), "from {from}, on {}: {}", report.squares, general(&report));
    }
}

/// Counts a sequence at 60 frames a second as a loop.
fn looped(colours: &[(Rgb, usize)]) -> FlashReport {
    let mut counter = FlashCounter::new(FRAME, 60, Viewing::default());
    for &(colour, frames) in colours {
        for _ in 0..frames {
            counter.take(&picture(FRAME, |_, _| colour));
        }
    }
    counter.close_loop();
    counter.report()
}

#[test]
fn a_loop_is_counted_round_its_seam() {
    // Three flashes in the first half second, three in the last, two seconds of dark between them.
    let flash = [(grey(255), 5), (grey(0), 5)];
    let mut once: Vec<(Rgb, usize)> = flash.repeat(3);
    once.push((grey(0), 120));
    once.extend(
        flash
            .map(|(colour, frames)| (if colour == grey(255) { grey(0) } else { grey(255) }, frames))
            .repeat(3),
    );
    let [straight, round] = [whole(&once), looped(&once)];
    let twice = whole(&once.repeat(2));
    assert_eq!((straight.passes(), twice.passes(), round.passes()), (true, false, false));
    assert_eq!(general(&round), general(&twice));
    assert_eq!((round.frames, round.per_frame.len(), round.is_loop), (180, 180, true));
    // The worst second ends behind the seam: it is told as a frame of the loop.
    assert!(round.findings[0].frame < 60, "{}", round.findings[0].frame);
    assert!(round.findings[0].failing.iter().all(|range| *range.end() < 180));
    // What has no flash in it has none round its seam; a cut at the seam is one change.
    assert_eq!(general(&looped(&[(grey(0), 90)])), 0);
    let cut = [(grey(0), 45), (grey(255), 45)];
    assert_eq!((general(&whole(&cut)), general(&looped(&cut))), (1, 2));
}

#[test]
fn a_loop_shorter_than_a_second_comes_round_more_than_once_in_it() {
    // Ten frames on and ten off: three flashes a second however long it is looped.
    let slow = looped(&[(grey(255), 10), (grey(0), 10)]);
    assert_eq!((general(&slow), slow.passes(), slow.frames), (6, true, 20));
    let fast = looped(&[(grey(255), 7), (grey(0), 7)]);
    assert!(!fast.passes(), "{}", general(&fast));
}

use std::process::Command;
use std::sync::Arc;

use underover::beat::FrameRate;
use underover::catalogue::Catalogue;
use underover::edit::{Edit, Work};
use underover::footage::Shelf;
use underover::gpu::{Gpu, Renderer};
use underover::readiness::flashing;
use underover::readiness::flashing::Watch;
use underover::show::chain::EffectUse;
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
    let mut told = Vec::new();
    let found = flashing::looked_over(&mut renderer, &mut shelf, &show, &watch(), |doing| {
        told.push((doing.done, doing.total));
        true
    });
    let found = found.expect("a GPU");
    let report = &found.own;
    assert_eq!((report.frames, report.second), (120, 60));
    assert_eq!((general(report), report.passes(), found.is_whole), (12, false, true));
    // Without the gate the generated footage does not flash.
    assert_eq!(found.alone.as_ref().map(FlashReport::passes), Some(true));
    assert!(!found.is_footage());
    assert_eq!(told.iter().map(|(done, _)| *done).collect::<Vec<_>>(), (1..=240).collect::<Vec<_>>());
    assert_eq!(told.last(), Some(&(240, 240)));

    let suggested = flashing::suggestions(&mut renderer, &mut shelf, &show, &found, |_| true).expect("a GPU");
    assert!(
        suggested.iter().any(|one| one.kind == "slower") && suggested.iter().any(|one| one.kind == "weaker")
    );
    // Three flashes in two beats are three a second: the least change that passes.
    assert!(suggested.iter().any(|one| one.text.ends_with("Rate 1.5 instead of 3")), "{suggested:?}");
    for suggestion in &suggested {
        let (changed, _) = suggestion.edit.applied(&show).expect("a change");
        let report =
            flashing::counted(&mut renderer, &mut shelf, &changed, &watch(), |_| true).expect("a GPU");
        assert!(report.passes(), "{}: {}", suggestion.text, report.worst().flashes());
        assert_eq!(report, suggestion.report);
    }

    // Counting ends where it is told to, and what was counted by then is no whole.
    let short = flashing::looked_over(&mut renderer, &mut shelf, &show, &watch(), |doing| doing.done < 7);
    let short = short.expect("a GPU");
    assert_eq!((short.own.frames, short.is_whole), (7, false));
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
fn what_is_said_on_the_way_is_never_more_than_what_is_found_and_says_too_many_before_the_end() {
    let catalogue = Catalogue::built_in().expect("the effects");
    let mut renderer = Renderer::new(Gpu::open(None).expect("an adapter"));
    let mut shelf = Shelf::new(&catalogue);
    // 120 BPM: six a second.
    for (rate, strength) in [(3.0, 1.0), (1.0, 1.0), (3.0, 0.0)] {
        let show = show_of(&catalogue, &[("flash-gate", &[("rate", rate), ("strength", strength)], &[])]);
        let mut told = Vec::new();
        let report = flashing::counted(&mut renderer, &mut shelf, &show, &watch(), |now| {
            told.push(now);
            true
        })
        .expect("a GPU");
        assert!(told.is_sorted_by_key(|now| now.changes));
        assert!(told.iter().all(|now| now.changes <= report.worst().changes));
        let frames: Vec<usize> = told.iter().map(|now| now.frames).collect();
        assert_eq!(frames, (1..=report.frames).collect::<Vec<_>>());
        let is_too_many =
            |now: &flashing::SoFar| now.at_least().is_some_and(|words| words.contains("too many"));
        assert_eq!(told.iter().any(is_too_many), rate == 3.0 && strength == 1.0, "{rate}, {strength}");
        assert_eq!(told.last().is_some_and(|now| now.at_least().is_none()), strength == 0.0);
    }
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
    let output = Command::new(env!("CARGO_BIN_EXE_underover"))
        .env("UNDEROVER_STATE", concat!(env!("CARGO_TARGET_TMPDIR"), "/state"))
        .args(words)
        .output()
        .expect("the program");
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

/// A show file of one clip, with more at its end, and beside it a film of 25 frames a second.
fn show_file(frame: [u32; 2], footage: &str, more: &str) -> tempfile::TempDir {
    let folder = tempfile::tempdir().expect("a folder");
    let text = format!(
        "format = \"underover/show/1\"\nname = \"Quay\"\nframe = {{ width = {}, height = {} }}\n\
         tempo_bpm = 120.0\nrate = 25\n\n[[bundle]]\nname = \"picture\"\n[[bundle.level]]\nname = \"view\"\n\
         [[bundle.level.clip]]\nname = \"clip\"\nfootage = \"{footage}\"\n\n{more}",
        frame[0], frame[1]
    );
    std::fs::write(folder.path().join("quay.toml"), text).expect("a file");
    folder
}

/// A film of four grey frames over and over, 6.25 times a second where the first two and the last two are alike.
fn film(folder: &tempfile::TempDir, [width, height]: [u32; 2], texel: impl Fn(u32, u32, u32) -> u8) {
    let mut film = format!("YUV4MPEG2 W{width} H{height} F25:1 Cmono XCOLORRANGE=FULL\n").into_bytes();
    for frame in 0..4 {
        film.extend(b"FRAME\n");
        film.extend(
            (0..height).flat_map(|y| (0..width).map(move |x| (x, y))).map(|(x, y)| texel(frame, x, y)),
        );
    }
    std::fs::write(folder.path().join("film.y4m"), film).expect("a film");
}

/// What `flashes` gives for the show in a folder: its words, its figures, its error and its exit code.
fn flashes(folder: &tempfile::TempDir, more: &[&str]) -> (String, serde_json::Value, String, Option<i32>) {
    let path = |name: &str| folder.path().join(name).to_string_lossy().into_owned();
    let (file, json) = (path("quay.toml"), path("found.json"));
    let (said, error, code) = underover(&[&["flashes", &file, "--json", &json], more].concat());
    let figures = std::fs::read(&json).map(|bytes| serde_json::from_slice(&bytes).expect("JSON"));
    (said, figures.unwrap_or_default(), error, code)
}

fn gate(settings: &str) -> String {
    format!("[[global.effect]]\nuse = \"flash-gate\"\n{settings}\n")
}

fn control(name: &str, kind: &str, setting: &str, [low, high]: [f64; 2]) -> String {
    format!(
        "[[control]]\nname = \"{name}\"\nhand = \"left\"\nkind = \"{kind}\"\n[[control.grip]]\nscope = \"global\"\n\
         effect = \"flash-gate\"\nsetting = \"{setting}\"\nlow = {low:.2}\nhigh = {high:.2}\n"
    )
}

#[test]
fn a_show_is_rendered_at_its_own_frame_and_a_limit_that_is_passed_is_exit_code_1() {
    let size = [1280, 720];
    let folder = show_file(size, "film.y4m", "");
    film(&folder, size, |frame, x, _| if frame < 2 && x % 3 == 0 { 255 } else { 0 });
    let (said, figures, error, code) = flashes(&folder, &["--over", "2"]);
    assert_eq!(code, Some(1), "{said}{error}");
    assert!(error.contains("too many general flashes") && error.contains("WCAG 2.2"), "{error}");
    assert!(said.contains("rendered at 1280x720, counted on 533x300 squares"), "{said}");
    assert_eq!(
        (&figures["passes"], &figures["rendered_at"], &figures["looked_at"]),
        (&false.into(), &"1280x720".into(), &"533x300".into())
    );
    // The footage alone flashes, and nothing else is blamed or changed.
    assert_eq!(figures["footage_alone"]["passes"], false);
    assert!(said.contains("The footage alone: 6"), "{said}");
    // A smaller frame is another picture, and that is said.
    let (said, figures, ..) = flashes(&folder, &["--over", "2", "--frame", "64x36"]);
    assert!(said.contains("not at the show's own 1280x720"), "{said}");
    assert_eq!(figures["own_frame"], "1280x720");
    // A balanced checkerboard finer than 0.1 degree is exempt (WCAG 2.2).
    film(&folder, size, |frame, x, y| if (frame < 2) == ((x + y) % 2 == 0) { 255 } else { 0 });
    let (said, figures, _, code) = flashes(&folder, &["--over", "2"]);
    assert_eq!((code, &figures["passes"]), (Some(0), &true.into()), "{said}");
}

#[test]
fn blur_does_what_it_does_on_stage_and_changes_no_verdict_by_the_size_that_is_looked_at() {
    let size = [1280, 720];
    // Bars of 40 texels in turn: a blur of at most a few texels leaves them as they are.
    let blur = "[[global.effect]]\nuse = \"blur\"\n";
    for more in ["", blur] {
        let folder = show_file(size, "film.y4m", more);
        film(&folder, size, |frame, x, _| if (frame < 2) == (x / 40 % 2 == 0) { 255 } else { 0 });
        let (said, figures, _, code) = flashes(&folder, &["--over", "2"]);
        assert_eq!((code, &figures["passes"]), (Some(1), &false.into()), "{more}: {said}");
    }
}

#[test]
fn an_effect_without_strength_is_not_blamed_for_footage_that_flashes() {
    let size = [32, 18];
    let folder = show_file(size, "film.y4m", &gate("strength = 0.0\nrate = 8.0"));
    film(&folder, size, |frame, _, _| if frame < 2 { 255 } else { 0 });
    let (said, figures, _, code) = flashes(&folder, &[]);
    assert_eq!(code, Some(1));
    assert_eq!(figures["can_flash"], serde_json::json!([]), "{said}");
    assert_eq!(figures["suggestions"], serde_json::json!([]), "{said}");
    assert!(said.contains("The footage alone: 6") && !said.contains("What can flash here"), "{said}");
    assert!(!said.contains("Rate"), "{said}");
}

#[test]
fn suggestions_can_be_played_and_read() {
    let folder = show_file([32, 18], "generated:waves", &gate("rate = 8.0\nstrength = 0.9"));
    let (said, figures, _, code) = flashes(&folder, &[]);
    assert_eq!(code, Some(1), "{said}");
    assert!(figures["footage_alone"]["passes"] == true && said.contains("The footage alone: "), "{said}");
    let suggested = figures["suggestions"].as_array().expect("suggestions");
    let slower = suggested.iter().find(|one| one["kind"] == "slower").expect("a slower one");
    // 120 BPM: three a second are one and a half a beat.
    let change = slower["change"].as_str().expect("words");
    assert!(change.ends_with("Rate 1.5 instead of 8"), "{change}");
    let weaker = suggested.iter().find(|one| one["kind"] == "weaker").expect("a weaker one");
    let change = weaker["change"].as_str().expect("words");
    let value = change.split("Strength ").nth(1).and_then(|rest| rest.split(' ').next()).expect("a value");
    assert!(value.len() <= 4, "{change}");
}

#[test]
fn what_is_slower_stays_at_once_in_eight_beats_or_faster() {
    // A film that flashes three times a second under a gate: no rate of the gate helps, and none is made up.
    let folder = show_file([32, 18], "generated:waves", &gate("rate = 0.1\nopen = 0.5"));
    let (said, figures, _, code) = flashes(&folder, &[]);
    assert_eq!((code, &figures["passes"]), (Some(0), &true.into()), "{said}");
    let catalogue = Catalogue::built_in().expect("the effects");
    let mut renderer = Renderer::new(Gpu::open(None).expect("an adapter"));
    let mut shelf = Shelf::new(&catalogue);
    for rate in [8.0, 3.0, 2.0] {
        let show = show_of(&catalogue, &[("flash-gate", &[("rate", rate)], &[])]);
        let found =
            flashing::looked_over(&mut renderer, &mut shelf, &show, &watch(), |_| true).expect("a GPU");
        let suggested =
            flashing::suggestions(&mut renderer, &mut shelf, &show, &found, |_| true).expect("a GPU");
        for one in suggested.iter().filter(|one| one.kind == "slower") {
            let (changed, _) = one.edit.applied(&show).expect("a change");
            let slower =
                changed.chain(Scope::Clip(0, 0, 0))[0].value("rate").and_then(|value| value.as_number());
            assert!(slower.is_some_and(|slower| (0.125..rate).contains(&slower)), "{}", one.text);
        }
    }
}

#[test]
fn a_strobe_that_a_control_plays_is_counted_and_named() {
    let more = gate("rate = 4.0\nstrength = 0.0") + &control("Strobe", "momentary", "strength", [0.0, 1.0]);
    let folder = show_file([32, 18], "generated:waves", &more);
    let (said, figures, error, code) = flashes(&folder, &[]);
    assert_eq!(code, Some(1), "{said}");
    assert_eq!((&figures["passes"], &figures["passes_untouched"]), (&false.into(), &true.into()));
    let held = &figures["controls"][0];
    assert_eq!((&held["played"], &held["passes"]), (&"\"Strobe\" held down".into(), &false.into()), "{said}");
    // Four a beat at 120 BPM are eight a second.
    assert_eq!(held["flashes_in_worst_second"], 8.0);
    assert!(error.contains("with \"Strobe\" held down"), "{error}");
    assert_eq!(figures["can_flash"], serde_json::json!(["flash-gate on global"]));
    // Everything that is suggested passes with the control played.
    let suggested = figures["suggestions"].as_array().expect("suggestions");
    assert!(
        suggested.iter().any(|one| one["change"].as_str().is_some_and(|text| text.contains("by \"Strobe\""))),
        "{said}"
    );
    // The check before a show says the same.
    let file = folder.path().join("quay.toml").to_string_lossy().into_owned();
    let (checked, _, code) = underover(&["check", "--show", &file]);
    assert_eq!(code, Some(1));
    assert!(checked.contains("Too many general flashes with \"Strobe\" held down"), "{checked}");
}

#[test]
fn a_control_that_is_pressed_again_and_again_is_a_strobe_too() {
    // The gate stands open: what flashes is the hand.
    let more = gate("rate = 0.0\nstrength = 0.0") + &control("Blinder", "momentary", "strength", [0.0, 1.0]);
    let folder = show_file([32, 18], "generated:waves", &more);
    let (said, figures, _, code) = flashes(&folder, &["--no-suggestions"]);
    assert_eq!(code, Some(1), "{said}");
    let controls = figures["controls"].as_array().expect("controls");
    let verdicts: Vec<_> =
        controls.iter().map(|one| (one["played"].as_str(), one["passes"].as_bool())).collect();
    assert_eq!(
        verdicts,
        [
            (Some("\"Blinder\" held down"), Some(true)),
            (Some("\"Blinder\" pressed 8 times a second"), Some(false))
        ]
    );
    // Twice as many changes as presses.
    assert_eq!(controls[1]["flashes_in_worst_second"], 8.0);
}

#[test]
fn what_a_hand_makes_flash_is_named_and_gets_changes_that_pass() {
    // Nothing here flashes by itself: a tint that is pressed again and again, one of another colour then, and one
    // that a press fires.
    let pressed = |effect: &str, setting: &str, ends: &str| {
        format!(
            "[[global.effect]]\nuse = \"tint\"\n{effect}\n[[control]]\nname = \"Flood\"\nhand = \"left\"\n\
             kind = \"momentary\"\n[[control.grip]]\nscope = \"global\"\neffect = \"tint\"\n\
             setting = \"{setting}\"\n{ends}\n"
        )
    };
    let fired = "[[global.effect]]\nuse = \"tint\"\ncolour = \"#ffffff\"\namount = { shape = \"envelope\", \
        attack = 0.05, hold = 0.05, decay = 0.05, control = \"Flood\", low = 0.0, high = 1.0 }\n\
        [[control]]\nname = \"Flood\"\nhand = \"left\"\nkind = \"momentary\"\n";
    let shows = [
        (
            pressed("colour = \"#ffffff\"\namount = 0.0", "amount", "low = 0.0\nhigh = 1.0"),
            "tint on global: Amount at most ",
        ),
        (
            pressed("colour = \"#000000\"\namount = 1.0", "colour", "low = \"#000000\"\nhigh = \"#ffffff\""),
            "tint on global: Colour from #000000 to ",
        ),
        (fired.to_owned(), "tint on global: Amount as far as "),
    ];
    for (more, wanted) in shows {
        let folder = show_file([32, 18], "generated:colour-bars", &more);
        let (said, figures, error, code) = flashes(&folder, &["--over", "4"]);
        assert_eq!((code, &figures["passes_untouched"]), (Some(1), &true.into()), "{said}{error}");
        assert!(error.contains("with \"Flood\" pressed 8 times a second"), "{error}");
        assert_eq!(figures["can_flash"], serde_json::json!(["tint on global"]), "{said}");
        let suggested = figures["suggestions"].as_array().expect("suggestions");
        let weaker = suggested.iter().find(|one| one["kind"] == "weaker").expect("a weaker one");
        let change = weaker["change"].as_str().expect("words");
        assert!(change.starts_with(wanted) && change.contains("by \"Flood\""), "{change}");
    }
    // With controls that pass, nothing is blamed.
    let slight = pressed("amount = 0.0", "amount", "low = 0.0\nhigh = 0.01");
    let (said, figures, ..) =
        flashes(&show_file([32, 18], "generated:colour-bars", &slight), &["--over", "4"]);
    assert_eq!((&figures["passes"], &figures["can_flash"]), (&true.into(), &serde_json::json!([])), "{said}");
}

#[test]
fn a_hand_on_an_opacity_or_on_which_clip_shows_is_named_and_gets_changes_that_pass() {
    let control = |grip: &str| {
        format!(
            "[[bundle.level.clip]]\nname = \"other\"\nfootage = \"stand-in:dark\"\n[[control]]\nname = \"Blinder\"\nhand = \"left\"\nkind = \"momentary\"\n[[control.grip]]\nscope = \"level:picture/view\"\n{grip}\n"
        )
    };
    let cases = [
        (
            "setting = \"opacity\"\nlow = 1.0\nhigh = 0.0",
            "opacity of level:picture/view",
            "weaker",
            " by \"Blinder\" instead of 1 to 0",
        ),
        (
            "setting = \"showing\"\nhigh = \"other\"",
            "the clip that shows of level:picture/view",
            "without hands",
            "no longer moved by \"Blinder\"",
        ),
    ];
    for (grip, part, kind, change) in cases {
        let folder = show_file([32, 18], "generated:colour-bars", &control(grip));
        let (said, figures, error, code) = flashes(&folder, &["--over", "4"]);
        assert_eq!((code, &figures["passes_untouched"]), (Some(1), &true.into()), "{said}{error}");
        assert_eq!(figures["can_flash"], serde_json::json!([part]), "{said}");
        let suggested = figures["suggestions"].as_array().expect("suggestions");
        let one = suggested.iter().find(|one| one["kind"] == kind).unwrap_or_else(|| panic!("{said}"));
        let text = one["change"].as_str().expect("words");
        assert!(text.starts_with(part) && text.contains(change), "{text}");
    }
}

#[test]
fn a_fast_movement_is_named_and_not_taken_for_the_footage() {
    // A sine does not jump, and flashes all the same: four periods a beat at 120 BPM are eight a second.
    let more = "[[global.effect]]\nuse = \"tint\"\ncolour = \"#ffffff\"\n\
        amount = { shape = \"sine\", period = 0.25, low = 0.0, high = 1.0 }\n";
    let folder = show_file([32, 18], "generated:colour-bars", more);
    let (said, figures, _, code) = flashes(&folder, &["--over", "4"]);
    assert_eq!((code, &figures["footage_alone"]["passes"]), (Some(1), &true.into()), "{said}");
    assert_eq!(figures["can_flash"], serde_json::json!(["tint on global"]), "{said}");
    let suggested = figures["suggestions"].as_array().expect("suggestions");
    let weaker = suggested.iter().find(|one| one["kind"] == "weaker").expect("a weaker one");
    assert!(weaker["change"].as_str().is_some_and(|text| text.contains("Amount as far as ")), "{said}");
}

#[test]
fn one_flash_is_said_in_the_singular() {
    let once = in_turn(grey(0), grey(255), 2);
    assert_eq!(once.worst().counted(), "1 general flash");
    assert_eq!(once.worst().counted_as_flashes(), "1 flash");
    let more = in_turn(grey(0), grey(255), 5);
    assert_eq!(more.worst().counted(), "2.5 general flashes");
    assert_eq!(more.worst().counted_as_flashes(), "2.5 flashes");
    // One a second in a report: 120 BPM, half a flash a beat (arithmetic).
    let folder = show_file([32, 18], "generated:waves", &gate("rate = 0.5"));
    let path = |name: &str| folder.path().join(name).to_string_lossy().into_owned();
    let (_, error, code) = underover(&["report", &path("quay.toml"), "--out", &path("quay.html")]);
    assert_eq!(code, Some(0), "{error}");
    let html = std::fs::read_to_string(path("quay.html")).expect("a page");
    assert!(html.contains("1 flash in the worst second"), "{}", html.matches("in the worst second").count());
}

#[test]
fn a_control_is_played_along_its_cues() {
    let cue = |beats: &str| format!("cue = {{ at = [{beats}] }}\n[[control.grip]]");
    let with = |beats: &str| {
        let more = gate("rate = 0.0\nstrength = 0.0") + &control("Horn", "latching", "strength", [0.0, 1.0]);
        show_file([32, 18], "generated:waves", &more.replace("[[control.grip]]", &cue(beats)))
    };
    let cued = |beats: &str| {
        let (_, figures, ..) = flashes(&with(beats), &["--no-suggestions", "--over", "8"]);
        let controls = figures["controls"].as_array().cloned().unwrap_or_default();
        controls.iter().find(|one| one["played"] == "\"Horn\" played at its cues").cloned()
    };
    // On and off by turns, a quarter of a beat apart: eight changes in a second at 120 BPM.
    let fast = cued("0.25, 0.5, 0.75, 1.0, 1.25, 1.5, 1.75, 2.0").expect("a cue");
    assert_eq!((&fast["passes"], &fast["flashes_in_worst_second"]), (&false.into(), &4.0.into()));
    let slow = cued("1.0, 2.0, 3.0, 4.0").expect("a cue");
    assert_eq!(slow["passes"], true);
    // Cues past the stretch are not said to be played.
    assert_eq!(cued("64.0"), None);
}

#[test]
fn two_controls_that_flash_only_together_are_counted_together() {
    let more = gate("rate = 0.25\nstrength = 0.0")
        + &control("Level", "continuous", "strength", [0.0, 1.0])
        + &control("Speed", "continuous", "rate", [8.0, 0.25]);
    let folder = show_file([32, 18], "generated:waves", &more);
    let (said, figures, error, code) = flashes(&folder, &["--no-suggestions"]);
    assert_eq!(code, Some(1), "{said}");
    let held: Vec<_> = played_too_much(&figures).into_iter().filter(|one| !one.contains("thrown")).collect();
    assert_eq!(held, ["\"Level\" at its high end and \"Speed\" at its low end at once"], "{said}");
    assert!(error.contains("with \"Level\" and \"Speed\""), "{error}");
}

/// The ways of playing that are past a limit, in words.
fn played_too_much(figures: &serde_json::Value) -> Vec<String> {
    let controls = figures["controls"].as_array().expect("controls").iter();
    let failing = controls.filter(|one| one["passes"] == false);
    failing.map(|one| one["played"].as_str().unwrap_or_default().to_owned()).collect()
}

#[test]
fn a_fader_that_is_thrown_to_and_fro_is_a_strobe_too() {
    // The gate stands open, and either end of the fader stands still: what flashes is the hand.
    let more = gate("rate = 0.0\nstrength = 0.0") + &control("Level", "continuous", "strength", [0.0, 1.0]);
    let folder = show_file([32, 18], "generated:waves", &more);
    let (said, figures, error, code) = flashes(&folder, &[]);
    assert_eq!(code, Some(1), "{said}");
    assert_eq!(played_too_much(&figures), ["\"Level\" thrown to and fro 6 times a second"], "{said}");
    assert!(error.contains("with \"Level\" thrown to and fro"), "{error}");
    // Twelve changes a second, one more where the second holds an end at both of its own.
    let controls = figures["controls"].as_array().expect("controls");
    let thrown = controls.iter().find(|one| one["passes"] == false).expect("one");
    assert!([6.0, 6.5].iter().any(|count| thrown["flashes_in_worst_second"] == *count), "{thrown}");
    // What would pass is said, and names the fader.
    let suggested = figures["suggestions"].as_array().expect("suggestions");
    assert!(
        suggested.iter().any(|one| one["change"].as_str().is_some_and(|text| text.contains("by \"Level\""))),
        "{said}"
    );
}

#[test]
fn a_fader_flashes_by_what_lies_between_its_ends_too() {
    // Once round the circle of colours: both ends show the same, and a saturated red lies between.
    let more = "[[global.effect]]\nuse = \"tint\"\ncolour = \"#0000ff\"\namount = 1.0\n\
        [[global.effect]]\nuse = \"hue-turn\"\nangle = 0.0\n\
        [[control]]\nname = \"Wheel\"\nhand = \"left\"\nkind = \"continuous\"\n[[control.grip]]\n\
        scope = \"global\"\neffect = \"hue-turn\"\nsetting = \"angle\"\nlow = 0.0\nhigh = 360.0\n";
    let folder = show_file([32, 18], "generated:colour-bars", more);
    let (said, figures, ..) = flashes(&folder, &["--no-suggestions", "--over", "4", "--rate", "60"]);
    assert_eq!(figures["passes_untouched"], true, "{said}");
    assert_eq!(played_too_much(&figures), ["\"Wheel\" thrown to and fro 6 times a second"], "{said}");
}

#[test]
fn faders_are_thrown_together_only_where_each_can_change_the_picture() {
    let tint = "[[global.effect]]\nuse = \"tint\"\ncolour = \"#ffffff\"\namount = 0.0\n";
    let tinted = control("Wash", "continuous", "amount", [0.0, 0.2]).replace("flash-gate", "tint");
    let idle = control("Nothing", "continuous", "strength", [0.0, 0.0]);
    let named = |more: &str| {
        let folder = show_file([32, 18], "generated:colour-bars", more);
        let (_, figures, ..) = flashes(&folder, &["--no-suggestions", "--over", "1"]);
        let controls = figures["controls"].as_array().cloned().unwrap_or_default();
        let said = controls.iter().filter_map(|one| one["played"].as_str());
        said.filter(|said| said.contains("thrown")).map(str::to_owned).collect::<Vec<_>>()
    };
    let open = gate("rate = 0.0\nstrength = 0.0") + tint;
    let alone = "\"Wash\" thrown to and fro 6 times a second";
    assert_eq!(named(&(open.clone() + &tinted + &idle)), [alone]);
    let level = control("Level", "continuous", "strength", [0.0, 0.2]);
    assert_eq!(
        named(&(open + &tinted + &level)),
        [
            alone,
            "\"Level\" thrown to and fro 6 times a second",
            "\"Wash\" and \"Level\" thrown to and fro together 6 times a second"
        ]
    );
}

#[test]
fn a_way_of_playing_counts_alike_whether_others_are_counted_beside_it() {
    // Trails remember the frames before, each way its own.
    let effects = gate("rate = 2.0\nstrength = 0.3")
        + "[[global.effect]]\nuse = \"trails\"\ndecay = 0.9\n[[global.effect]]\nuse = \"tint\"\namount = 0.1\n";
    let level = control("Level", "continuous", "strength", [0.1, 0.9]);
    let horn = control("Horn", "momentary", "rate", [1.0, 4.0]);
    let wash = control("Wash", "latching", "amount", [0.0, 0.8]).replace("flash-gate", "tint");
    let counted = |controls: &[&String]| {
        let more = controls.iter().fold(effects.clone(), |all, one| all + one);
        let folder = show_file([32, 18], "generated:waves", &more);
        let (said, figures, ..) = flashes(&folder, &["--no-suggestions", "--over", "8"]);
        assert!(!figures["controls"].as_array().expect("controls").is_empty(), "{said}");
        figures
    };
    let all = counted(&[&level, &horn, &wash]);
    for alone in [&level, &horn, &wash].map(|one| counted(&[one])) {
        assert_eq!(alone["limits"], all["limits"]);
        for one in alone["controls"].as_array().expect("controls") {
            assert!(all["controls"].as_array().expect("controls").contains(one), "{one}");
        }
    }
}

#[test]
fn the_rate_and_the_stretch_are_those_of_the_show_everywhere() {
    let folder = show_file([32, 18], "generated:waves", &gate("rate = 8.0"));
    let (said, figures, _, _) = flashes(&folder, &["--no-suggestions"]);
    assert_eq!((&figures["rate"], &figures["over_beats"]), (&"25".into(), &16.0.into()), "{said}");
    let counted = figures["limits"][0]["flashes_in_worst_second"].to_string();
    let counted = counted.trim_end_matches(".0");
    let path = |name: &str| folder.path().join(name).to_string_lossy().into_owned();
    let (checked, ..) = underover(&["check", "--show", &path("quay.toml")]);
    assert!(
        checked.contains(&format!("{counted} in the worst second of beats 0 to 16")),
        "{counted}: {checked}"
    );
    let (_, error, code) = underover(&["report", &path("quay.toml"), "--out", &path("quay.html")]);
    assert_eq!(code, Some(0), "{error}");
    let html = std::fs::read_to_string(path("quay.html")).expect("a page");
    assert!(html.contains(&format!("{counted} in the worst second of beats 0 to 16")), "{counted}");
}
