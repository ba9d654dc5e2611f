//! The beat clock: frame rates, exact beats, playing, tapping.

use std::time::Duration;

use proptest::prelude::*;
use underover::base::frame::{Frame, PixelMode};
use underover::beat::{Beats, FrameRate, Moment, Tap, Transport};

const FRAME: Frame = Frame { width: 16, height: 9 };

fn rate(text: &str) -> FrameRate {
    text.parse().unwrap_or_else(|e| panic!("{e}"))
}

#[test]
fn a_beat_at_174_bpm_lasts_344_83_milliseconds() {
    // 60 s / 174 = 0.344827... s (arithmetic): at 240 frames per second, beat 1 begins within frame 82.
    let frames_a_beat = 60.0 / 174.0 * 240.0;
    assert_eq!(Beats::whole(1).frame(rate("240"), 174.0), frames_a_beat as u64);
    let moment = Moment::at(FRAME, PixelMode::default(), 174.0, 1.0);
    assert!((moment.seconds() * 1000.0 - 344.83).abs() < 0.005, "{}", moment.seconds());
}

#[test]
fn after_a_day_at_59_94_and_174_bpm_the_beat_is_the_one_of_whole_number_arithmetic() {
    // 24 h at 60000/1001 hold 86,400 * 60000/1001 frames; frame n is at n * 1001/60000 s * 174/60 beats
    // = n * 1001 * 174 / 3,600,000 beats: whole numbers alone.
    let rate = rate("60000/1001");
    let day = 86_400_u128 * 60_000 / 1001;
    for n in [0, 1, 59, 60, day / 2, day - 1, day, day + 1] {
        let (top, bottom) = (n * 1001 * 174, 3_600_000_u128);
        let (whole, rest) = (top / bottom, top % bottom);
        let beats = Beats::of_frame(n as u64, rate, 174.0);
        let expected = whole as f64 + rest as f64 / bottom as f64;
        assert_eq!(beats.to_f64(), expected, "frame {n}");
        assert_eq!(beats.floor(), Beats::whole(whole as i64), "frame {n}");
        assert_eq!(beats.frame(rate, 174.0), n as u64);
        let moment = Moment::of_frame(FRAME, PixelMode::default(), 174.0, rate, n as u64);
        assert_eq!((moment.beats, moment.number), (expected, n as u64));
    }
}

#[test]
fn playing_a_day_in_uneven_strides_ends_on_the_frame_that_the_time_says() {
    let rate = rate("60000/1001");
    let mut transport = Transport::new(rate, 174.0);
    assert_eq!(transport.advance(Duration::from_secs(9)), 0, "time passes, but it is stopped");
    transport.play();
    let (mut passed, mut frames) = (Duration::ZERO, 0_u64);
    let strides = [16_666_667_u64, 1, 33_333_331, 7_777_777_777, 999_999_999_999].map(Duration::from_nanos);
    while passed < Duration::from_secs(86_400) {
        for stride in strides {
            passed += stride;
            frames += transport.advance(stride);
        }
    }
    let expected = passed.as_nanos() * 60_000 / (1001 * 1_000_000_000);
    assert_eq!(u128::from(frames), expected);
    assert_eq!(transport.beats(), Beats::of_frame(frames, rate, 174.0));
}

#[test]
fn a_tempo_with_decimals_is_taken_as_it_is_written() {
    // 127.35 BPM for 60 * 100 frames at 60 per second: 100 s * 127.35 / 60 = 212.25 beats, exactly.
    assert_eq!(Beats::of_frame(6000, rate("60"), 127.35).to_f64(), 212.25);
    assert_eq!(Beats::of_frame(6000, rate("60"), 127.35).minus(&Beats::of_decimal(212.25)), Beats::zero());
}

#[test]
fn stepping_stops_and_goes_one_frame_at_a_time_and_not_before_the_start() {
    let mut transport = Transport::new(rate("25"), 120.0);
    transport.play();
    transport.advance(Duration::from_secs(2));
    transport.step(1);
    assert!(!transport.is_playing());
    // 51 frames at 25 per second and 120 BPM: 51/25 * 2 beats = 4.08.
    assert_eq!(transport.beats(), Beats::of_decimal(4.08));
    transport.step(-2);
    assert_eq!(transport.moment(FRAME, PixelMode::default()).number, 49);
    transport.step(-1000);
    assert_eq!(transport.beats(), Beats::zero());
    transport.go_to(Beats::whole(4));
    transport.step(-25);
    assert_eq!(transport.beats(), Beats::whole(2), "one second is two beats, across the place it went to");
}

#[test]
fn a_loop_of_four_beats_comes_round_without_drift() {
    // At 174 BPM four beats are 82.7... frames: the loop does not end on a frame.
    let rate = rate("60");
    let mut transport = Transport::new(rate, 174.0);
    transport.go_to(Beats::of_decimal(9.5));
    transport.set_loop(Some(4));
    transport.play();
    for frame in 1..=100_000_u64 {
        transport.advance(Duration::from_secs(frame) / 60 - Duration::from_secs(frame - 1) / 60);
    }
    // Round nine to thirteen: 0.5 beats in, and 100,000 or 99,999 frames of 174/3600 beats (the last stride
    // is cut to whole nanoseconds).
    let at = |frames: u128| {
        let parts = (1800 + frames * 174) % (4 * 3600);
        9.0 + parts as f64 / 3600.0
    };
    assert!([at(100_000), at(99_999)].contains(&transport.beats().to_f64()), "{:?}", transport.beats());
    let beats = transport.beats();
    transport.set_loop(None);
    assert_eq!(transport.beats(), beats, "letting the loop go does not jump");
}

#[test]
fn a_change_of_tempo_or_rate_does_not_move_the_beat() {
    let mut transport = Transport::new(rate("29.97"), 174.0);
    transport.play();
    transport.advance(Duration::from_millis(123_456));
    let before = transport.beats().to_f64();
    transport.set_tempo(127.35);
    transport.set_rate(rate("24"));
    assert!((transport.beats().to_f64() - before).abs() <= 1.1e-9);
    assert_eq!(transport.advance(Duration::from_secs(1)), 24, "it plays on at the new rate");
    assert!((transport.beats().to_f64() - before - 127.35 / 60.0).abs() < 2e-9);
}

#[test]
fn broadcast_rates_are_read_by_their_rounded_decimals() {
    // SMPTE ST 2086 and ITU-R BT.709 name these rates as n * 1000/1001 (from memory).
    for (written, fraction) in [
        ("23.976", [24_000, 1001]),
        ("23.98", [24_000, 1001]),
        ("29.97", [30_000, 1001]),
        ("30000/1001", [30_000, 1001]),
        ("59.94", [60_000, 1001]),
        ("60000/1001", [60_000, 1001]),
        ("24", [24, 1]),
        ("25.00", [25, 1]),
        ("50", [50, 1]),
        ("12.5", [25, 2]),
        ("120/2", [60, 1]),
        ("29.971", [29_971, 1000]),
    ] {
        assert_eq!(rate(written).fraction(), fraction, "{written}");
    }
    for (written, printed) in
        [("60", "60"), ("30000/1001", "29.97"), ("24000/1001", "23.98"), ("34/6", "17/3")]
    {
        assert_eq!(rate(written).to_string(), printed);
    }
}

#[test]
fn a_wrong_rate_says_what_would_be_right() {
    for wrong in ["", "fast", "30/", "/1", "1e2", "-30", "30.0000001", "30 000", "0x1e"] {
        let error = wrong.parse::<FrameRate>().unwrap_err().to_string();
        assert!(error.contains("30000/1001") && error.contains(wrong), "{error}");
    }
    for wrong in ["0", "0.5", "241", "1/0", "999999999", "999999999/1000000.0".trim_end_matches(".0")] {
        let error = wrong.parse::<FrameRate>().unwrap_err().to_string();
        assert!(error.contains("1 to 240"), "{error}");
    }
}

#[test]
fn taps_make_a_tempo_and_a_pause_starts_afresh() {
    let mut tap = Tap::default();
    assert_eq!(tap.tap(Duration::from_millis(5000)), None);
    // Beats of 344.83 ms, each tapped up to 20 ms early or late (no source: a person's spread).
    let jitter = [0, 18, -20, 7, -3, 15, -12, 4, 0];
    let mut tempo = None;
    for (n, off) in (1..).zip(jitter) {
        tempo = tap.tap(Duration::from_micros((5_000_000 + n * 344_828 + off * 1000) as u64));
    }
    assert!((tempo.unwrap() - 174.0).abs() < 2.0, "{tempo:?}");
    // One missed beat does not halve the tempo.
    let last = 5_000_000 + 9 * 344_828;
    let tempo = tap.tap(Duration::from_micros(last + 2 * 344_828)).unwrap();
    assert!((tempo - 174.0).abs() < 2.0, "{tempo}");
    assert_eq!(tap.tap(Duration::from_secs(60)), None, "a pause above two seconds");
    assert_eq!(tap.tap(Duration::from_millis(60_500)), Some(120.0));
    assert_eq!(tap.tap(Duration::from_millis(60_510)), Some(120.0), "a bounce of 10 ms counts for nothing");
    assert_eq!(tap.tap(Duration::from_millis(61_000)), Some(120.0));
}

#[test]
fn the_moment_before_is_the_frame_before_and_none_is_before_the_start() {
    let moment = Moment::of_frame(FRAME, PixelMode::default(), 174.0, rate("59.94"), 1000);
    let before = moment.before(3).unwrap();
    assert_eq!(before, Moment::of_frame(FRAME, PixelMode::default(), 174.0, rate("59.94"), 997));
    assert_eq!(moment.before(1001), None);
    // At 120 BPM and 60 frames per second a frame is 1/30 beat: beat 0.1 is frame 3.
    let between = Moment::at(FRAME, PixelMode::default(), 120.0, 0.11);
    assert_eq!(between.number, 3);
    let before = between.before(2).unwrap();
    assert_eq!(before.number, 1);
    assert!((before.beats - (0.11 - 2.0 / 30.0)).abs() < 1e-15, "{}", before.beats);
}

proptest! {
    #[test]
    fn any_rate_prints_a_form_that_reads_back(seconds in 1..=1_000_000_u32, share in 0.0..1.0_f64) {
        let frames = seconds + (share * 239.0 * f64::from(seconds)) as u32;
        let rate = FrameRate::new(frames, seconds).unwrap();
        prop_assert_eq!(rate.to_string().parse(), Ok(rate));
    }

    #[test]
    fn a_frame_is_found_again_from_its_rounded_beat(
        number in 0..20_000_000_u64, tempo in 1.0..=999.0_f64, seconds in 1..2000_u32, whole in 1..=239_u32
    ) {
        let rate = FrameRate::new(whole * seconds + seconds / 3, seconds).unwrap();
        let moment = Moment::of_frame(FRAME, PixelMode::default(), tempo, rate, number);
        let again = Moment::at_beats(FRAME, PixelMode::default(), tempo, rate, &Beats::of_decimal(moment.beats));
        prop_assert_eq!(again.number, number);
    }
}
