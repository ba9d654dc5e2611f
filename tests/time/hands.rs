//! Hands on: controls in files, what they make of a show, MIDI, and the map.

use crate::shared::{CATALOGUE, Person, near};
use std::path::Path;

use proptest::collection::vec;
use proptest::prelude::*;
use underover::beat::Moment;
use underover::catalogue::Value;
use underover::edit::{Edit, Spot, TimeEdit};
use underover::files::{Document, parse, show_text};
use underover::hands::{Hands, Listener, Map, svg};
use underover::midi::{Binding, Learner, Message, Parser, Scripted, Voice};
use underover::show::automation::{Automation, Fired};
use underover::show::control::{Control, ControlKind, Curve, Grip, Hand, check};
use underover::show::cue::Cue;
use underover::show::{Scope, Show, Target};

const QUAY: &str = "format = \"underover/show/1\"
name = \"Quay\"
tempo_bpm = 174.0
[[bundle]]
name = \"picture\"
[[bundle.effect]]
use = \"edge-find\"
gain = 3.0
[[bundle.effect]]
use = \"tint\"
amount = { shape = \"sine\", period = 4.0, low = 0.2, high = 0.8 }
[[bundle.effect]]
use = \"tint\"
amount = { shape = \"envelope\", attack = 1.0, decay = 1.0, control = \"Kick\", low = 0.0, high = 1.0 }
[[bundle.level]]
name = \"sea\"
[[bundle.level.clip]]
name = \"waves\"
footage = \"generated:waves\"
";

const FADER: &str = "[[control]]
name = \"Lines\"
hand = \"left\"
kind = \"continuous\"
midi = { channel = 1, controller = 7 }
[[control.grip]]
scope = \"bundle:picture\"
effect = \"edge-find\"
setting = \"gain\"
low = 0.0
high = 4.0
";

const KICK: &str = "[[control]]
name = \"Kick\"
hand = \"right\"
kind = \"momentary\"
key = \"K\"
midi = { channel = 10, note = 36 }
[[control.grip]]
scope = \"bundle:picture\"
effect = \"tint 1\"
setting = \"amount\"
low = 0.0
high = 1.0
curve = \"ease-in\"
";

/// What `Lines` moves.
const GAIN: Target = Target::Setting { scope: Scope::Bundle(0), at: 0, place: 0 };

fn read(text: &str) -> Result<Show, String> {
    match parse(text, "quay.toml", Path::new(""), &CATALOGUE) {
        Ok(Document::Show(show)) => Ok(show),
        Ok(Document::Chain(_)) => unreachable!(),
        Err(error) => Err(error.to_string()),
    }
}

fn quay() -> Show {
    read(&format!("{QUAY}{FADER}{KICK}")).unwrap_or_else(|e| panic!("{e}"))
}

fn at(show: &Show, beats: f64) -> Moment {
    Moment::at(show.frame, show.pixels, show.tempo_bpm, beats)
}

/// The value of a setting of the picture bundle's chain.
fn value(show: &Show, effect: usize, setting: &str, beats: f64) -> f64 {
    let chain = show.chain(Scope::Bundle(0));
    chain[effect].value_at(setting, &at(show, beats)).unwrap().as_number().unwrap()
}

#[test]
fn hands_that_touch_nothing_change_nothing() {
    let show = quay();
    assert_eq!(Hands::default().applied(&show), show);
    assert_eq!(value(&show, 0, "gain", 0.0), 3.0);
    near(value(&show, 1, "amount", 2.0), 0.8);
}

#[test]
fn a_momentary_control_moves_an_automated_setting_while_it_is_pressed() {
    let show = quay();
    let kick = &show.controls[1];
    let mut hands = Hands::default();
    hands.press(&show, kick, 0.5, 2.0);
    near(value(&hands.applied(&show), 1, "amount", 2.0), 0.25);
    hands.release(kick);
    near(value(&hands.applied(&show), 1, "amount", 2.0), 0.8);
}

#[test]
fn a_control_fires_the_envelopes_that_wait_for_it() {
    let show = quay();
    let mut hands = Hands::default();
    assert_eq!(value(&hands.applied(&show), 2, "amount", 10.5), 0.0);
    hands.press(&show, &show.controls[1], 1.0, 10.0);
    hands.release(&show.controls[1]);
    for (beats, height) in [(9.5, 0.0), (10.0, 0.0), (10.5, 0.5), (11.0, 1.0), (11.75, 0.25), (12.0, 0.0)] {
        near(value(&hands.applied(&show), 2, "amount", beats), height);
    }
    // Begun again on its way down: it stays on the higher of the two.
    hands.press(&show, &show.controls[1], 1.0, 11.25);
    near(value(&hands.applied(&show), 2, "amount", 11.25), 0.75);
    near(value(&hands.applied(&show), 2, "amount", 11.75), 0.5);
}

#[test]
fn a_latching_control_is_on_until_it_is_pressed_again() {
    let mut show = quay();
    show.controls[1].kind = ControlKind::Latching;
    let kick = &show.controls[1];
    let mut hands = Hands::default();
    hands.press(&show, kick, 1.0, 0.0);
    hands.release(kick);
    assert_eq!(value(&hands.applied(&show), 1, "amount", 0.0), 1.0);
    hands.press(&show, kick, 1.0, 4.0);
    hands.release(kick);
    near(value(&hands.applied(&show), 1, "amount", 0.0), 0.2);
}

#[test]
fn a_continuous_control_goes_over_its_range_by_its_curve() {
    // t, t^2, 1 - (1 - t)^2, 3 t^2 - 2 t^3, at quarters: arithmetic.
    for (curve, quarters) in [
        (Curve::Linear, [0.0, 0.25, 0.5, 0.75, 1.0]),
        (Curve::EaseIn, [0.0, 0.0625, 0.25, 0.5625, 1.0]),
        (Curve::EaseOut, [0.0, 0.4375, 0.75, 0.9375, 1.0]),
        (Curve::SCurve, [0.0, 0.15625, 0.5, 0.84375, 1.0]),
    ] {
        let mut show = quay();
        let grip = show.grips_on(GAIN)[0].clone();
        show.hold(GAIN, Grip { curve, ..grip }).unwrap();
        for (n, share) in (0..).zip(quarters) {
            let mut hands = Hands::default();
            hands.turn(&show, &show.controls[0], f64::from(n) / 4.0, 0.0);
            near(value(&hands.applied(&show), 0, "gain", 0.0), 4.0 * share);
        }
        for n in 0..=1000 {
            let t = f64::from(n) / 1000.0;
            assert!((curve.inverse(curve.at(t)) - t).abs() < 1e-7, "{} at {t}", curve.name());
        }
    }
}

#[test]
fn a_device_takes_a_control_over_where_it_passes_the_stored_value() {
    let show = quay();
    let lines = &show.controls[0];
    let mut hands = Hands::default();
    // The gain of 3 of 4 is three quarters up; the fader of the device lies at the bottom.
    for position in [0.0, 0.3, 0.6] {
        hands.turn_on_device(&show, lines, position, 0.0);
        assert_eq!(hands.position("Lines"), None, "{position}");
        assert_eq!(hands.applied(&show), show, "nothing jumps");
        near(hands.awaited(&show, lines).unwrap(), 0.75);
    }
    hands.turn_on_device(&show, lines, 0.8, 0.0);
    assert_eq!(hands.position("Lines"), Some(0.8), "it was passed between two messages");
    hands.turn_on_device(&show, lines, 0.1, 0.0);
    assert_eq!((hands.position("Lines"), hands.awaited(&show, lines)), (Some(0.1), None));
    // Moved on the screen, it waits again, from either side.
    hands.turn(&show, lines, 0.5, 0.0);
    hands.turn_on_device(&show, lines, 0.2, 0.0);
    assert_eq!(hands.position("Lines"), Some(0.5));
    hands.turn_on_device(&show, lines, 0.495, 0.0);
    assert_eq!(hands.position("Lines"), Some(0.495), "near enough: one step of seven bits");
}

/// The messages of bytes.
fn heard(bytes: &[u8]) -> Vec<(u8, Voice)> {
    let mut parser = Parser::default();
    bytes.iter().filter_map(|&byte| parser.push(byte)).map(|m| (m.channel, m.voice)).collect()
}

#[test]
fn bytes_are_the_messages_of_the_midi_tables() {
    // MIDI 1.0 Detailed Specification, summary of status bytes (from memory).
    let expected = [
        (1, Voice::NoteOff { note: 60, velocity: 1 }),
        (16, Voice::NoteOn { note: 127, velocity: 127 }),
        (2, Voice::NoteOff { note: 36, velocity: 64 }),
        (3, Voice::KeyPressure { note: 1, pressure: 2 }),
        (4, Voice::Controller { number: 7, value: 100 }),
        (5, Voice::Program(9)),
        (6, Voice::ChannelPressure(8)),
        (7, Voice::Bend(8192)),
        (7, Voice::Bend(16_383)),
        (7, Voice::Bend(1)),
    ];
    let bytes = [
        0x80, 60, 1, 0x9f, 127, 127, 0x91, 36, 0, 0xa2, 1, 2, 0xb3, 7, 100, 0xc4, 9, 0xd5, 8, 0xe6, 0, 0x40,
        0x7f, 0x7f, 1, 0,
    ];
    assert_eq!(heard(&bytes), expected);
}

#[test]
fn running_status_lasts_through_real_time_bytes_and_ends_with_system_ones() {
    let on = |note| (1, Voice::NoteOn { note, velocity: 9 });
    assert_eq!(heard(&[0x90, 1, 9, 2, 0xf8, 9, 0xfe, 3, 9]), [on(1), on(2), on(3)]);
    // System exclusive: its data belong to nobody, and what follows it has no status.
    assert_eq!(heard(&[0x90, 1, 9, 0xf0, 2, 9, 0xf8, 2, 0xf7, 2, 9, 0x90, 3, 9]), [on(1), on(3)]);
    assert_eq!(heard(&[0x90, 1, 9, 0xf2, 2, 9, 2, 9]), [on(1)]);
    assert_eq!(heard(&[5, 6, 0x90, 1, 0x90, 2, 9]), [on(2)], "a message cut off is not made up");
}

#[test]
fn a_device_plays_the_controls_of_a_show() {
    let show = quay();
    let (mut port, mut hands, mut listener) = (Scripted::default(), Hands::default(), Listener::default());
    let mut play = |port: &mut Scripted, beats| {
        assert_eq!(listener.listen(port, &show, &mut hands, beats), None);
        hands.clone()
    };
    port.send(&[0x99, 36]);
    assert_eq!(play(&mut port, 4.0), Hands::default(), "half a message does nothing");
    port.send(&[127, 0x99, 37, 127, 0x90, 36, 127]);
    assert_eq!(value(&play(&mut port, 5.0).applied(&show), 1, "amount", 5.0), 1.0);
    near(value(&play(&mut port, 5.0).applied(&show), 2, "amount", 5.5), 0.5);
    port.send(&[0x99, 36, 0]);
    near(value(&play(&mut port, 6.0).applied(&show), 1, "amount", 6.0), 0.8);
    port.send(&[0xb0, 7, 127, 7, 0, 8, 127]);
    assert_eq!(
        value(&play(&mut port, 6.0).applied(&show), 0, "gain", 6.0),
        0.0,
        "past three quarters, then down"
    );
}

#[test]
fn a_pair_of_controllers_is_one_number_of_14_bits() {
    let mut show = quay();
    show.controls[0].midi = Some(Binding::Controller { channel: 1, number: 7, is_14_bit: true });
    let (mut port, mut hands, mut listener) = (Scripted::default(), Hands::default(), Listener::default());
    port.send(&[0xb0, 7, 127, 39, 127, 7, 0x40, 39, 0x21]);
    listener.listen(&mut port, &show, &mut hands, 0.0);
    assert_eq!(hands.position("Lines"), Some(f64::from(0x40 << 7 | 0x21) / 16_383.0));
    port.send(&[0xb0, 7, 0x41]);
    listener.listen(&mut port, &show, &mut hands, 0.0);
    assert_eq!(hands.position("Lines"), Some(f64::from(0x41 << 7) / 16_383.0), "an upper half alone");
}

#[test]
fn a_button_that_sends_a_controller_is_pressed_from_64_on() {
    let mut show = quay();
    show.controls[1].midi = Some(Binding::Controller { channel: 1, number: 64, is_14_bit: false });
    show.controls[1].kind = ControlKind::Latching;
    let (mut port, mut hands, mut listener) = (Scripted::default(), Hands::default(), Listener::default());
    for (sent, is_on) in [(63, false), (64, true), (127, true), (0, true), (127, false), (0, false)] {
        port.send(&[0xb0, 64, sent]);
        listener.listen(&mut port, &show, &mut hands, 0.0);
        assert_eq!(hands.position("Kick").is_some(), is_on, "{sent}");
    }
}

#[test]
fn a_binding_is_learned_by_touching() {
    let learned = |bytes: &[u8]| {
        let (mut parser, mut learner) = (Parser::default(), Learner::default());
        bytes.iter().filter_map(|&byte| parser.push(byte)).find_map(|message: Message| learner.hear(message))
    };
    assert_eq!(learned(&[0x99, 36, 5]), Some(Binding::Note { channel: 10, note: 36 }));
    assert_eq!(
        learned(&[0x89, 36, 5, 0xd0, 7, 0xc0, 1]),
        None,
        "coming up, pressing and programs are no touch"
    );
    let controller = |number, is_14_bit| Some(Binding::Controller { channel: 1, number, is_14_bit });
    assert_eq!(learned(&[0xb0, 7, 1]), None, "not yet known: a lower half may follow");
    assert_eq!(learned(&[0xb0, 7, 1, 39, 2]), controller(7, true));
    assert_eq!(learned(&[0xb0, 7, 1, 7, 2]), controller(7, false));
    assert_eq!(learned(&[0xb0, 74, 1]), controller(74, false));
    assert_eq!(learned(&[0xb0, 123, 0]), None, "a channel mode message");
    assert_eq!(learned(&[0xe0, 5, 0x40]), None, "a trembling wheel");
    assert_eq!(learned(&[0xe0, 0, 0x50]), Some(Binding::Bend { channel: 1 }));

    let (mut port, mut hands, mut listener) = (Scripted::default(), Hands::default(), Listener::default());
    listener.learn();
    port.send(&[0x99, 36, 100]);
    let found = listener.listen(&mut port, &quay(), &mut hands, 0.0);
    assert_eq!(found, Some(Binding::Note { channel: 10, note: 36 }));
    assert_eq!(hands, Hands::default(), "what is touched while learning plays nothing");
    assert!(!listener.is_learning());
}

#[test]
fn a_wrong_control_is_refused_at_its_place() {
    let refused = |old: &str, new: &str, message: &str| {
        let text = format!("{QUAY}{FADER}{KICK}");
        assert!(text.contains(old), "{old}");
        let error = read(&text.replacen(old, new, 1)).unwrap_err();
        assert!(error.starts_with(&format!("quay.toml:{message}")), "{new}:\n{error}");
    };
    refused(
        "hand = \"left\"",
        "hand = \"lft\"",
        "22:8: `hand` is \"lft\"; it takes one of `left`, `right` and `either`; did you mean `left`?",
    );
    refused("kind = \"momentary\"", "", "31:1: a control needs `kind`; add `kind = \"momentary\"`");
    refused("\"Kick\"\nhand", "\"Lines\"\nhand", "32:8: a control named \"Lines\" is already there");
    refused("key = \"K\"", "key = \"Enter\"", "35:7: `key` is \"Enter\"; it takes one of \"A\" to \"Z\"");
    refused(
        "kind = \"continuous\"",
        "kind = \"continuous\"\nkey = \"Q\"",
        "24:7: the key `Q` is only up or down",
    );
    refused("controller = 7 }", "note = 7 }", "24:8: a note is only on or off");
    refused("controller = 7 }", "controller = 7, bits = 8 }", "24:46: `bits` is 8; it takes 7 or 14");
    refused(
        "controller = 7 }",
        "controller = 32, bits = 14 }",
        "24:36: `controller` is 32; it takes a whole number from 0 to 31",
    );
    refused("controller = 7 }", "controller = 7, note = 3 }", "24:46: a control is bound to one thing");
    refused(
        "channel = 10, note = 36",
        "channel = 1, controller = 7",
        "36:8: controller 7 on channel 1 already plays \"Lines\"",
    );
    refused("channel = 1, controller = 7 }", "channel = 17, controller = 7 }", "24:20: `channel` is 17");
    refused(
        "scope = \"bundle:picture\"",
        "scope = \"bundle:pictures\"",
        "26:9: the show has no bundle named `pictures` there; did you mean `picture`?",
    );
    refused(
        "effect = \"edge-find\"",
        "effect = \"egde-find\"",
        "27:10: the chain there has no effect `egde-find`; did you mean `edge-find`?",
    );
    refused(
        "effect = \"tint 1\"",
        "effect = \"tint\"",
        "39:10: the chain there has no effect `tint`; did you mean `tint 1`?",
    );
    refused(
        "effect = \"tint 1\"",
        "effect = 4",
        "39:10: `effect` is 4; the chain there has 3, counted from 1",
    );
    refused(
        "setting = \"gain\"",
        "setting = \"gian\"",
        "28:11: `edge-find` has no setting `gian`; did you mean `gain`?",
    );
    refused("high = 4.0\n", "high = 9.0\n", "30:8: `high` is 9.0; it takes a number from 0 to 8");
    refused("curve = \"ease-in\"", "curve = \"ease\"", "43:9: `curve` is \"ease\"; it takes one of");
    refused(
        "effect = \"tint 1\"\nsetting = \"amount\"",
        "effect = 1\nsetting = \"gain\"",
        "40:11: `gain` of `edge-find` is already held by \"Lines\"",
    );
    let nine: String = (0..9)
        .map(|n| format!("[[control]]\nname = \"{n}\"\nhand = \"left\"\nkind = \"latching\"\n"))
        .collect();
    let error = read(&format!("{QUAY}{nine}")).unwrap_err();
    assert!(error.contains("this is control 9; a show takes at most 8"), "{error}");
}

#[test]
fn a_show_with_controls_is_written_and_read_back_equal() {
    let mut show = quay();
    show.controls[0].midi = Some(Binding::Controller { channel: 16, number: 31, is_14_bit: true });
    show.controls[1].midi = Some(Binding::Bend { channel: 3 });
    show.controls[1].at = Some([2, 7]);
    show.controls[1].hand = Hand::Either;
    show.reach_ms = 180.5;
    show.controls[1].cue = Some(Cue { at: vec![0.0, 0.5], every: Some(4.0), length: Some(0.25) });
    let text = show_text(&show, Path::new(""));
    assert_eq!(read(&text).unwrap_or_else(|e| panic!("{e}\n{text}")), show, "{text}");
}

fn spot(at: usize) -> Spot {
    Spot { scope: Scope::Bundle(0), at }
}

#[test]
fn what_controls_hold_goes_with_the_effects_that_are_moved() {
    let show = quay();
    let (moved, _) = Edit::Move { from: spot(0), into: spot(3) }.applied(&show).unwrap();
    let grips: Vec<_> = moved.grips("Lines").map(|(target, _)| target).collect();
    assert_eq!(grips, [Target::Setting { scope: Scope::Bundle(0), at: 2, place: 0 }]);
    let text = show_text(&moved, Path::new(""));
    assert_eq!(read(&text).unwrap(), moved);
    let (without, _) = Edit::Remove(spot(0)).applied(&show).unwrap();
    assert_eq!(without.grips("Lines").count(), 0);
    assert_eq!(read(&show_text(&without, Path::new(""))).unwrap(), without);
}

#[test]
fn controls_that_are_renamed_keep_what_they_hold_and_those_removed_let_it_go() {
    let show = quay();
    let mut renamed = show.controls.clone();
    renamed[1].name = "Boot".to_owned();
    let (renamed, _) = Edit::Time(TimeEdit::Controls(renamed)).applied(&show).unwrap();
    assert_eq!(renamed.grips("Boot").count(), 1);
    let fired = |show: &Show| match show.chain(Scope::Bundle(0))[2].automation(1) {
        Some(Automation::Envelope { envelope, .. }) => Some(envelope.fired.clone()),
        _ => None,
    };
    assert_eq!(fired(&renamed), Some(Fired::By("Boot".to_owned())));
    let left = vec![show.controls[0].clone()];
    let (removed, _) = Edit::Time(TimeEdit::Controls(left)).applied(&show).unwrap();
    assert_eq!((removed.grips("Kick").count(), fired(&removed)), (0, None));
    assert_eq!(read(&show_text(&removed, Path::new(""))).unwrap(), removed);
    let twice = vec![show.controls[0].clone(), show.controls[0].clone()];
    let error = Edit::Time(TimeEdit::Controls(twice)).applied(&show).unwrap_err().to_string();
    assert!(error.contains("already there"), "{error}");
}

#[test]
fn an_automation_is_an_edit_that_can_be_refused() {
    let show = quay();
    let sine = show.chain(Scope::Bundle(0))[1].automation(1).cloned().unwrap();
    let automate = |setting, automation: Option<Automation>| {
        Edit::Time(TimeEdit::Automate { spot: spot(0), setting, automation: automation.map(Box::new) })
    };
    let (moving, name) = automate(0, Some(sine.clone())).applied(&show).unwrap();
    assert_eq!(name, "edge-find: Gain sine");
    near(value(&moving, 0, "gain", 2.0), 0.8);
    let (still, _) = automate(0, None).applied(&moving).unwrap();
    near(value(&still, 0, "gain", 2.0), 0.2);
    assert!(automate(7, Some(sine)).applied(&show).is_err());
    let colour = show.chain(Scope::Bundle(0))[1].value("colour").cloned().unwrap();
    let Some(Automation::Wave { wave, pace, .. }) = moving.chain(Scope::Bundle(0))[0].automation(0).cloned()
    else {
        panic!("it is a sine");
    };
    let wrong = Automation::Wave { wave, pace, low: colour.clone(), high: colour };
    let error = automate(0, Some(wrong)).applied(&show).unwrap_err().to_string();
    assert!(error.contains("it takes a number from 0 to 8"), "{error}");
}

fn control(name: &str, hand: Hand, at: &[f64]) -> Control {
    let cue = Some(Cue { at: at.to_vec(), every: Some(16.0), length: None });
    Control { cue, ..Control::of(name, hand, ControlKind::Momentary) }
}

#[test]
fn one_hand_that_has_less_from_one_control_to_another_than_it_takes_is_told() {
    let mut show = quay();
    show.controls = vec![
        control("One", Hand::Left, &[0.0, 15.5]),
        control("Two", Hand::Left, &[4.0, 8.0]),
        control("Three", Hand::Right, &[0.0, 4.5]),
    ];
    let hands = |show: &Show| -> Vec<String> {
        let is_of_hands =
            |said: &String| said.starts_with("the left hand") || said.starts_with("the right hand");
        Map::of(show).warning.into_iter().filter(is_of_hands).collect()
    };
    assert!(hands(&show).is_empty(), "four beats, and another hand, are room enough");
    // 60/174 s = 344.8 ms a beat, so that 250 ms are 0.725 beats (arithmetic).
    show.controls[1].cue.as_mut().unwrap().at = vec![0.75];
    assert!(hands(&show).is_empty(), "a quarter of a second is room enough");
    show.controls[1].cue.as_mut().unwrap().at = vec![0.25];
    // It comes at 0, and at 15.5 before 16.25 is 0.75 apart: 16 times within 256 beats.
    assert_eq!(
        hands(&show),
        [
            "the left hand has 86 ms (0.25 beats) from \"One\" to \"Two\" at beat 0.25, and takes 250 ms; 16 times in 256 beats"
        ]
    );
    show.reach_ms = 300.0;
    assert!(hands(&show)[0].contains("takes 300 ms; 31 times"), "16 and 15 more: {:?}", hands(&show));
    // Next to each other one hand plays both.
    (show.controls[0].at, show.controls[1].at) = (Some([3, 1]), Some([4, 2]));
    assert!(hands(&show).is_empty());
    show.controls[1].at = Some([5, 1]);
    assert_eq!(hands(&show).len(), 1, "one lies between");
    // Whichever hand is free plays it: the right one has four beats.
    show.controls[2].cue.as_mut().unwrap().at = vec![4.0];
    show.controls[1].hand = Hand::Either;
    assert!(hands(&show).is_empty());
    // The right hand holds its own meanwhile.
    *show.controls[2].cue.as_mut().unwrap() = Cue { at: vec![0.0], every: Some(16.0), length: Some(8.0) };
    let said = hands(&show);
    // Both are busy, so that some do: the fewest.
    assert!(said.iter().any(|said| said.contains("the left hand has 86 ms")), "{said:?}");
    show.controls[1].hand = Hand::Right;
    assert_eq!(
        hands(&show)[0],
        "the right hand still holds \"Three\" from beat 0 to 8 when \"Two\" comes at beat 0.25; 16 times in 256 beats"
    );
    let alone = Map::of(&show).one_handed;
    assert!(
        alone.iter().any(|said| said.starts_with("one hand plays \"One\" and \"Three\" at once at beat 0")),
        "{alone:?}"
    );
}

#[test]
fn the_map_is_written_as_text_sheet_and_figures() {
    let person = Person::new();
    let run = |words: &[&str]| person.run(words);
    std::fs::write(person.home().join("quay.toml"), format!("{QUAY}{FADER}{KICK}")).unwrap();
    let (code, out, err) = run(&["hands", "quay.toml", "--out", "map.svg", "--json", "map.json"]);
    assert_eq!(code, 0, "{err}");
    for part in [
        "Quay: 174 BPM, one beat 344.8 ms, 60 frames per second, 250 ms from one control to another",
        "Left hand\n  Lines (continuous)  controller 7 on channel 1\n      edge-find gain on bundle:picture: x 0 to x 4, linear",
        "Right hand\n  Kick (momentary)  key K, note 36 on channel 10\n      tint 1 amount on bundle:picture: 0 % to 100 %, ease-in\n      tint 2 amount on bundle:picture: fires its envelope",
    ] {
        assert!(out.contains(part), "no {part:?} in\n{out}");
    }
    let sheet = std::fs::read_to_string(person.path("map.svg")).unwrap();
    assert!(sheet.starts_with("<svg ") && sheet.contains(">Kick</text>"), "{sheet}");
    let figures = std::fs::read_to_string(person.path("map.json")).unwrap();
    let figures: serde_json::Value = serde_json::from_str(&figures).unwrap();
    assert_eq!(figures["control"][0]["moves"][0]["setting"], "gain");
    assert_eq!(figures["control"][1]["fires"][0]["effect"], "tint 2");

    let (code, out, err) = run(&["hands", "preset:all-hands"]);
    assert_eq!((code, out.as_str()), (2, ""));
    assert!(err.contains("is a chain, and only a show has controls"), "{err}");
    let (code, _, err) = run(&["hands", "quay.toml", "--out", "map.png"]);
    assert_eq!(code, 2);
    assert!(err.contains("map.svg"), "{err}");
    let (_, help, _) = run(&["--help"]);
    let midi = if cfg!(feature = "midi") { "This build plays" } else { "--features midi" };
    assert!(help.contains(midi), "{help}");
}

#[test]
fn a_sheet_is_well_formed_whatever_things_are_called() {
    let mut show = quay();
    show.name = "<Quay> & \"co\" & a name that goes on and on past the edge of every sheet".to_owned();
    show.controls[0].name = "&".repeat(80);
    let sheet = svg(&Map::of(&show));
    let bare = sheet.replace("&amp;", "").replace("&lt;", "").replace("&gt;", "").replace("&quot;", "");
    assert!(!bare.contains('&'), "{bare}");
    assert_eq!(sheet.matches('<').count(), sheet.matches('>').count());
}

fn any_control() -> impl Strategy<Value = Control> {
    let binding = prop_oneof![
        Just(None),
        (1..=16_u8, 0..=31_u8, any::<bool>()).prop_map(|(channel, number, is_14_bit)| Some(
            Binding::Controller { channel, number, is_14_bit }
        )),
        (1..=16_u8).prop_map(|channel| Some(Binding::Bend { channel })),
        (1..=16_u8, 0..=127_u8).prop_map(|(channel, note)| Some(Binding::Note { channel, note })),
    ];
    let cue = prop_oneof![
        Just(None),
        (
            vec(0.0..1e6_f64, 1..4),
            proptest::option::of(0.02..4096.0_f64),
            proptest::option::of(0.02..4096.0_f64)
        )
            .prop_map(|(at, every, length)| Some(Cue { at, every, length })),
    ];
    let colour = prop_oneof![Just(None), Just("sky-blue".parse().ok()), Just("#0a0b0c".parse().ok())];
    let key = proptest::option::of("[A-Z0-9]");
    ("[a-zA-Z '\"#&<]{0,12}[a-z]", 0..3_usize, 0..3_usize, key, binding, cue, colour).prop_map(
        |(name, hand, kind, key, midi, cue, colour)| Control {
            name,
            hand: Hand::ALL[hand],
            kind: ControlKind::ALL[kind],
            key: key.map(|key| key.parse().unwrap()),
            midi,
            cue,
            colour,
            at: None,
        },
    )
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(48))]

    #[test]
    fn any_controls_that_go_together_are_written_and_read_back_equal(
        controls in vec(any_control(), 1..6), low in 0.0..=8.0_f64, high in 0.0..=8.0_f64, curve in 0..4_usize
    ) {
        prop_assume!(check(&controls).is_ok());
        let mut show = read(QUAY).unwrap();
        let grip = Grip {
            control: controls[0].name.clone(),
            low: Value::Number(low),
            high: Value::Number(high),
            curve: Curve::ALL[curve],
        };
        show.hold(GAIN, grip).unwrap();
        show.controls = controls;
        let text = show_text(&show, Path::new(""));
        prop_assert_eq!(read(&text).unwrap_or_else(|e| panic!("{e}\n{text}")), show, "{}", text);
    }

    #[test]
    fn no_bytes_upset_the_parser(bytes in vec(any::<u8>(), 0..200)) {
        for (channel, voice) in heard(&bytes) {
            prop_assert!((1..=16).contains(&channel));
            if let Voice::NoteOn { velocity, .. } = voice {
                prop_assert!((1..=127).contains(&velocity));
            }
        }
    }
}
