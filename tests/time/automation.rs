//! Settings that move with the beat: closed forms, files, and everything that reads a setting at a moment.

use crate::shared::{CATALOGUE, near};
use std::path::Path;

use proptest::collection::vec;
use proptest::prelude::*;
use underover::base::frame::{Frame, PixelMode};
use underover::beat::Moment;
use underover::catalogue::{Kind, Value};
use underover::files::{Document, chain_text, parse};
use underover::show::automation::{Automation, Envelope, Fired, Pace, Wave};
use underover::show::chain::{EffectUse, Preset};

const NUMBER: Kind = Kind::Number { range: [0.0, 8.0], unit: String::new() };

fn chain(text: &str) -> Result<Preset, String> {
    let text = format!("format = \"underover/chain/1\"\nname = \"test\"\n[[effect]]\n{text}");
    match parse(&text, "test.toml", Path::new(""), &CATALOGUE) {
        Ok(Document::Chain(preset)) => Ok(preset),
        Ok(Document::Show(_)) => unreachable!(),
        Err(error) => Err(error.to_string()),
    }
}

/// The automation of the only setting of an edge-find that is written as `gain = ...`.
fn gain(table: &str) -> impl Fn(f64) -> f64 + use<> {
    let preset = chain(&format!("use = \"edge-find\"\ngain = {table}")).unwrap_or_else(|e| panic!("{e}"));
    move |beats| {
        let value = preset.chain[0].value_at("gain", &at(beats)).unwrap();
        value.as_number().unwrap()
    }
}

fn at(beats: f64) -> Moment {
    Moment::at(Frame { width: 16, height: 9 }, PixelMode::default(), 174.0, beats)
}

#[test]
fn a_sine_starts_low_and_is_highest_in_the_middle_of_its_period() {
    let sine = gain("{ shape = \"sine\", period = 4.0, low = 0.5, high = 2.5 }");
    // (1 - cos(2 pi x)) / 2 at the eighths of a turn: 0, (2 - sqrt 2)/4, 1/2, ..., by arithmetic.
    let eighth = (2.0 - 2.0_f64.sqrt()) / 4.0;
    for (beats, share) in [(0.0, 0.0), (0.5, eighth), (1.0, 0.5), (2.0, 1.0), (3.0, 0.5), (4.0, 0.0)] {
        near(sine(beats), 0.5 + 2.0 * share);
        near(sine(beats + 4.0 * 62_640.0), 0.5 + 2.0 * share);
    }
}

#[test]
fn a_triangle_goes_straight_up_and_straight_down() {
    let triangle = gain("{ shape = \"triangle\", period = 8, low = 0, high = 4 }");
    for (beats, value) in [(0.0, 0.0), (1.0, 1.0), (4.0, 4.0), (5.0, 3.0), (7.5, 0.5), (8.0, 0.0)] {
        near(triangle(beats), value);
    }
}

#[test]
fn a_ramp_goes_up_or_down_and_back_at_once() {
    let up = gain("{ shape = \"ramp\", period = 2.0, phase = 0.25, low = 0.0, high = 8.0 }");
    let down = gain("{ shape = \"ramp\", period = 2.0, phase = 0.25, low = 8.0, high = 0.0 }");
    for (beats, value) in [(0.0, 2.0), (1.0, 6.0), (1.499, 7.996), (1.5, 0.0), (2.0, 2.0)] {
        assert!((up(beats) - value).abs() < 1e-8, "{beats}");
        assert!((down(beats) - (8.0 - value)).abs() < 1e-8, "{beats}");
    }
}

#[test]
fn a_square_is_high_on_the_beat_and_low_after_half_its_period() {
    let square = gain("{ shape = \"square\", period = 1.0, low = 1.0, high = 3.0 }");
    for (beats, value) in [(0.0, 3.0), (0.499, 3.0), (0.5, 1.0), (0.999, 1.0), (7.0, 3.0)] {
        assert_eq!(square(beats), value, "{beats}");
    }
}

#[test]
fn steps_take_each_of_their_values_for_an_equal_share_even_where_floats_fall_short() {
    let steps = gain("{ shape = \"steps\", period = 0.3, values = [1.0, 2.0, 4.0] }");
    for n in 0..3000_u32 {
        // As a clock gives it, a tenth of a beat is no number of 64 bits; each step still begins on it.
        assert_eq!(steps(f64::from(n) / 10.0), [1.0, 2.0, 4.0][n as usize % 3], "step {n}");
    }
}

#[test]
fn a_random_hold_is_the_same_on_every_machine() {
    let random = gain("{ shape = \"random\", period = 1.0, seed = 7, low = 0.0, high = 1.0 }");
    // The hash as its documentation words it, written out in 128-bit integers.
    let expected = |period: u128| {
        let cut = |n: u128| n & u128::from(u64::MAX);
        let mut mixed = cut(period * 0x9e37_79b9_7f4a_7c15 + 7 * 0xd134_2543_de82_ef95);
        for _ in 0..3 {
            mixed = cut((mixed ^ (mixed >> 29)) * 0xaf25_1af3_b0f0_25b5);
        }
        mixed ^= mixed >> 32;
        (mixed >> 11) as f64 / 9_007_199_254_740_992.0
    };
    for period in 0..100_u32 {
        assert_eq!(random(f64::from(period) + 0.3), expected(period.into()), "period {period}");
        assert_eq!(random(f64::from(period) + 0.3), random(f64::from(period)), "held");
    }
}

#[test]
fn random_holds_are_spread_evenly_and_do_not_follow_each_other() {
    let random = |seed| {
        let pace = Pace { period_beats: 1.0, phase: 0.0 };
        let (low, high) = (Value::Number(0.0), Value::Number(1.0));
        let random = Automation::Random { pace, seed, low, high };
        move |n: u32| random.at(&NUMBER, f64::from(n)).as_number().unwrap()
    };
    for seed in [0, 1, 2, 1_000_000] {
        let shares: Vec<f64> = (0..10_000).map(random(seed)).collect();
        let mut tenths = [0_u32; 10];
        shares.iter().for_each(|share| tenths[(share * 10.0) as usize] += 1);
        // Binomial: 1000 to a tenth, standard deviation 30; six of them.
        assert!(tenths.iter().all(|&count| count.abs_diff(1000) < 180), "{tenths:?}");
        let lag = |by: usize| {
            let pairs = shares.windows(by + 1).map(|w| (w[0] - 0.5) * (w[by] - 0.5) * 12.0);
            pairs.sum::<f64>() / shares.len() as f64
        };
        assert!([1, 2, 3, 4, 8, 16].into_iter().all(|by| lag(by).abs() < 0.06));
        let other: Vec<f64> = (0..10_000).map(random(seed + 1)).collect();
        let pairs = shares.iter().zip(&other).map(|(a, b)| (a - 0.5) * (b - 0.5) * 12.0);
        assert!((pairs.sum::<f64>() / 10_000.0).abs() < 0.06, "seeds {seed} and {}", seed + 1);
    }
}

#[test]
fn an_envelope_rises_holds_and_falls_on_every_fourth_beat() {
    let envelope = gain(
        "{ shape = \"envelope\", attack = 0.5, hold = 0.25, decay = 1.0, every = 4.0, offset = 1.0, low = 0.0, high = 8.0 }",
    );
    for (beats, share) in [
        (0.0, 0.0),
        (1.0, 0.0),
        (1.25, 0.5),
        (1.5, 1.0),
        (1.75, 1.0),
        (2.0, 0.75),
        (2.75, 0.0),
        (4.9, 0.0),
        (5.25, 0.5),
    ] {
        near(envelope(beats), 8.0 * share);
    }
    let at_once = gain("{ shape = \"envelope\", decay = 2.0, at = [1.0, 2.0], low = 0.0, high = 1.0 }");
    for (beats, value) in [(0.999, 0.0), (1.0, 1.0), (1.5, 0.75), (2.0, 1.0), (3.0, 0.5), (5.0, 0.0)] {
        near(at_once(beats), value);
    }
    let by_hand = gain("{ shape = \"envelope\", decay = 2.0, control = \"Kick\", low = 0.5, high = 1.0 }");
    near(by_hand(3.0), 0.5);
}

#[test]
fn every_kind_of_setting_stays_within_its_ends() {
    let colour = |text: &str| Value::Colour(text.parse().unwrap());
    let pace = Pace { period_beats: 2.0, phase: 0.0 };
    let wave = |low, high| Automation::Wave { wave: Wave::Ramp, pace, low, high };
    // On encoded values: the middle of 0xff and 0x00 is 127.5, which rounds away from 0; 0x8c and 0x72: 127.
    let mixed = wave(colour("#ff8c33"), colour("#0072b2")).at(&Kind::Colour, 1.0);
    assert_eq!(mixed, colour("#807f73"));
    let whole = Kind::Whole { range: [0, 9], unit: String::new() };
    let counts = wave(Value::Whole(1), Value::Whole(4));
    let found: Vec<Value> = [0.0, 0.32, 0.34, 1.0, 1.9].map(|beats| counts.at(&whole, beats)).to_vec();
    assert_eq!(found, [1, 1, 2, 3, 4].map(Value::Whole));
}

#[test]
fn what_reads_a_setting_reads_it_at_the_moment() {
    let preset = chain(
        "use = \"tint\"\ncolour = { shape = \"square\", period = 2, low = \"#0072b2\", high = \"#ff8c33\" }\namount = { shape = \"ramp\", period = 4.0, low = 0.0, high = 1.0 }",
    )
    .unwrap();
    let used = &preset.chain[0];
    assert!(used.idle_because(&at(0.0)).is_some(), "nothing is mixed in at 0");
    assert_eq!(used.idle_because(&at(1.0)), None);
    let fixed = |colour: &str, amount| {
        let mut fixed = EffectUse::new(used.effect.clone());
        fixed.set_word(0, colour).unwrap();
        fixed.set_number(1, amount).unwrap();
        fixed
    };
    for (beats, colour, amount) in [(0.5, "#ff8c33", 0.125), (1.0, "#0072b2", 0.25), (3.0, "#0072b2", 0.75)] {
        assert_eq!(used.call(&at(beats)), fixed(colour, amount).call(&at(beats)), "beat {beats}");
    }
    assert_eq!(
        used.written_changes(),
        ["colour square #0072b2 to #ff8c33 over 2 beats", "amount ramp 0 to 1 over 4 beats"]
    );
    assert_eq!(used.values().nth(1), Some(&Value::Number(0.0)), "the value at rest is that at beat 0");
}

#[test]
fn a_derived_number_follows_an_automated_setting() {
    let gate = chain(
        "use = \"flash-gate\"\nopen = { shape = \"steps\", period = 2.0, values = [0.0, 1.0] }\nrate = 1.0",
    )
    .unwrap();
    let is_idle = |beats| gate.chain[0].idle_because(&at(beats)).is_some();
    assert_eq!([0.25, 0.75, 1.25, 1.75].map(is_idle), [true, true, false, false]);
}

#[test]
fn a_fixed_value_ends_the_automation() {
    let mut preset =
        chain("use = \"edge-find\"\ngain = { shape = \"sine\", period = 1, low = 1, high = 2 }").unwrap();
    assert!(preset.chain[0].automation(0).is_some());
    preset.chain[0].set_number(0, 3.0).unwrap();
    assert_eq!(preset.chain[0].automation(0), None);
    assert_eq!(preset.chain[0].value_at("gain", &at(0.5)), Some(Value::Number(3.0)));
}

#[test]
fn a_wrong_automation_is_refused_at_its_place() {
    let refused = |text: &str, message: &str| {
        let error = chain(text).unwrap_err();
        assert_eq!(error, format!("test.toml:{message}"), "{text}");
    };
    let gain = |table: &str| format!("use = \"edge-find\"\ngain = {table}");
    refused(&gain("{ period = 4.0 }"), "5:8: the automation of `gain` needs `shape`; add `shape = \"sine\"`");
    refused(
        &gain("{ shape = \"sinus\", period = 4.0 }"),
        "5:18: `shape` is \"sinus\"; it takes one of `sine`, `triangle`, `ramp`, `square`, `steps`, `random` and `envelope`; did you mean `sine`?",
    );
    refused(
        &gain("{ shape = \"sine\", period = 0, low = 0, high = 1 }"),
        "5:35: `period` is 0; it takes a number from 0.015625 to 4096",
    );
    refused(
        &gain("{ shape = \"sine\", period = 1, low = 0, high = 9 }"),
        "5:54: `high` is 9; it takes a number from 0 to 8 (times)",
    );
    refused(
        &gain("{ shape = \"sine\", period = 1, low = 0 }"),
        "5:8: the automation of `gain` needs `high`; add `high = 8.0`",
    );
    refused(
        &gain("{ shape = \"sine\", period = 1, low = 0, high = 1, attack = 2 }"),
        "5:57: unknown key `attack` in the automation of `gain` (it takes `shape`, `period`, `phase`, `low` and `high`)",
    );
    refused(
        &gain("{ shape = \"steps\", period = 1, values = [1.0] }"),
        "5:48: `values` lists 1; it takes 2 to 64, such as [0.0, 8.0]",
    );
    refused(
        &gain("{ shape = \"steps\", period = 1, values = [1.0, \"two\"] }"),
        "5:54: `values` is \"two\"; it takes a number from 0 to 8 (times)",
    );
    refused(
        &gain("{ shape = \"envelope\", decay = 1.0, low = 0, high = 1 }"),
        "5:8: the automation of `gain` needs what fires it; add `every = 4.0`, `at = [0.0, 3.5]` or `control = \"...\"`",
    );
    refused(
        &gain("{ shape = \"envelope\", decay = 1.0, every = 1, at = [0], low = 0, high = 1 }"),
        "5:59: an envelope is fired by one of `every`, `at` and `control`; keep one",
    );
    refused(
        &gain("{ shape = \"envelope\", every = 1, low = 0, high = 1 }"),
        "5:8: `gain` has an envelope of no length; give it an attack, a hold or a decay",
    );
    refused(
        "use = \"tint\"\ncolour = { shape = \"sine\", period = 1, low = 0, high = \"#fff\" }",
        "5:46: `low` is 0; it takes a colour such as \"#ff8c33\"",
    );
    let error = chain("use = \"mirror\"\nfold = { shape = \"sine\" }").unwrap_err();
    assert!(error.contains("5:8: `fold` is a table; it takes one of"), "{error}");
}

fn fired() -> impl Strategy<Value = Fired> {
    prop_oneof![
        (0.02..=16.0_f64, 0.0..16.0_f64).prop_map(|(beats, offset)| Fired::Every { beats, offset }),
        vec(0.0..1e6_f64, 1..5).prop_map(Fired::At),
        "[A-Za-z '\"#]{0,8}[a-z]".prop_map(Fired::By),
    ]
}

fn envelope() -> impl Strategy<Value = Envelope> {
    let part = || prop_oneof![Just(0.0), 0.0..8.0_f64];
    (part(), part(), 0.01..8.0_f64, fired()).prop_map(|(attack_beats, hold_beats, decay_beats, fired)| {
        Envelope { attack_beats, hold_beats, decay_beats, fired }
    })
}

fn automation(end: impl Strategy<Value = Value> + Clone + 'static) -> impl Strategy<Value = Automation> {
    let pace = (0.02..=4096.0_f64, prop_oneof![Just(0.0), 0.0..=1.0_f64])
        .prop_map(|(period_beats, phase)| Pace { period_beats, phase });
    let ends = (end.clone(), end.clone());
    prop_oneof![
        (0..4_usize, pace.clone(), ends.clone()).prop_map(|(wave, pace, (low, high))| Automation::Wave {
            wave: Wave::ALL[wave],
            pace,
            low,
            high
        }),
        (pace.clone(), vec(end, 2..6)).prop_map(|(pace, values)| Automation::Steps { pace, values }),
        (pace, any::<u32>(), ends.clone()).prop_map(|(pace, seed, (low, high))| Automation::Random {
            pace,
            seed,
            low,
            high
        }),
        (envelope(), ends).prop_map(|(envelope, (low, high))| Automation::Envelope { envelope, low, high }),
    ]
}

proptest! {
    #[test]
    fn a_chain_with_automations_is_written_and_read_back_equal(
        gain in automation((0.0..=8.0_f64).prop_map(Value::Number)),
        colour in automation(any::<[u8; 3]>().prop_map(|c| Value::Colour(underover::base::colour::Colour(c)))),
    ) {
        let mut chain = ["edge-find", "tint"].map(|name| EffectUse::new(CATALOGUE.effect(name).unwrap().clone()));
        chain[0].automate(0, gain).unwrap();
        chain[1].automate(0, colour).unwrap();
        let preset = Preset {
            name: "moving".to_owned(), about: String::new(), tags: Vec::new(), chain: chain.to_vec(), controls: Vec::new(),
        };
        let text = chain_text(&preset);
        let again = parse(&text, "again.toml", Path::new(""), &CATALOGUE);
        prop_assert_eq!(again.unwrap_or_else(|e| panic!("{e}\n{text}")), Document::Chain(preset), "{}", text);
    }

    #[test]
    fn an_envelope_is_as_high_as_the_highest_of_all_that_were_begun(
        envelope in envelope(), every in 0.1..4.0_f64, beats in 20.0..40.0_f64
    ) {
        let total = envelope.attack_beats + envelope.hold_beats + envelope.decay_beats;
        let repeats = (total / every).ceil() as u32 + 1;
        let last = (beats / every).floor();
        let begun = (0..repeats).map(|n| (last - f64::from(n)) * every).collect();
        let listed = Envelope { fired: Fired::At(begun), ..envelope.clone() };
        let repeated = Envelope { fired: Fired::Every { beats: every, offset: 0.0 }, ..envelope };
        prop_assert!((listed.at(beats) - repeated.at(beats)).abs() < 1e-6);
    }
}
