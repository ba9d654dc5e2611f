//! The wall judged on several pieces of footage: chosen, told, left, and adopted from.

use std::path::Path;
use std::process::Command;

use crate::driving::*;
use egui::{Key, Modifiers};
use egui_kittest::kittest::Queryable as _;
use serde_json::Value;
use underover::window::{Action, Basis, Desk, On, OnPieces, Shown, WallBy};

/// A window on the demo at 96x54, looking at the output as a command does.
fn window_at_output() -> Window {
    let mut window = window(desk_with_pictures(small_demo("96x54")));
    window.state_mut().act(Action::WallOfOutput(true));
    window
}

fn on_pieces(desk: &Desk) -> Option<OnPieces> {
    desk.laid()?.on_pieces.as_deref().cloned()
}

/// Waits until the orders are judged on what was chosen.
fn judged(window: &mut Window) -> OnPieces {
    until(window, "the orders are judged", |desk| on_pieces(desk).is_some() && !desk.is_asking());
    window.run_steps(2);
    on_pieces(window.state()).unwrap()
}

fn names_of(on: &OnPieces) -> Vec<&str> {
    on.pieces.iter().map(|piece| piece.name.as_str()).collect()
}

/// What the command finds of the same, as JSON and as text.
fn command(words: &[&str]) -> (Value, String) {
    let folder = tempfile::tempdir().unwrap();
    let json = folder.path().join("found.json");
    let base = [
        "orders",
        "preset:night-ferry",
        "--frame",
        "96x54",
        "--at",
        "0.1",
        "--scope",
        "bundle:picture",
        "--json",
    ];
    let mut command = Command::new(env!("CARGO_BIN_EXE_underover"));
    let ran = command
        .env("UNDEROVER_STATE", concat!(env!("CARGO_TARGET_TMPDIR"), "/state"))
        .args(base)
        .arg(&json)
        .args(words)
        .output()
        .unwrap();
    assert!(ran.status.success(), "{}", String::from_utf8_lossy(&ran.stderr));
    let read = serde_json::from_slice(&std::fs::read(&json).unwrap()).unwrap();
    (read, String::from_utf8(ran.stdout).unwrap())
}

#[test]
fn every_clip_of_the_scope_is_judged_and_what_matters_on_each_is_what_the_command_finds() {
    let mut window = window_at_output();
    press(&mut window, "every clip");
    let on = judged(&mut window);
    let (found, text) = command(&["--clips"]);
    let pieces = found["pieces"].as_array().unwrap();
    let names: Vec<&str> = pieces.iter().map(|piece| piece["name"].as_str().unwrap()).collect();
    assert_eq!(names_of(&on), names, "the same pieces in the same turn");
    assert!(names.len() > 2);
    assert!(!on.pairs.is_empty() && on.left_out.is_empty());
    let marks = underover::order::marks(show(&window).chain(PICTURE));
    // The first of them are drawn.
    for pair in on.pairs.iter().take(4) {
        let (under, over) = (marks.of(pair.fact.before), marks.of(pair.fact.after));
        for (piece, share) in pieces.iter().zip(&pair.shares) {
            let facts = piece["facts"].as_array().unwrap();
            let is_it = |fact: &&Value| fact["under"] == under && fact["over"] == over;
            let expected = facts.iter().find(is_it).unwrap()["share"].as_f64().unwrap();
            match share {
                // The command rounds.
                Some(share) => assert!((share - expected).abs() < 1e-3, "{pair:?}, {piece}"),
                None => assert_eq!(piece["is_unseen"], true),
            }
        }
        let label =
            label_with(&window, &format!("matters {}", pair.place)).expect("a line of the heat picture");
        assert!(text.contains(&format!("{}: {} there", pair.place, pair.span)), "{label} is not in\n{text}");
    }
    let laid = window.state().laid().unwrap();
    assert_eq!(laid.classes.len(), found["classes"].as_u64().unwrap() as usize);
    let opening = &laid.looks.as_ref().unwrap().matters.as_ref().unwrap().opening;
    assert!(text.contains(opening.as_str()), "{opening}\n{text}");
    assert!(window.query_by_label(opening).is_some());
    assert!(nameless(&window).is_empty(), "{:?}", nameless(&window));
}

#[test]
fn the_order_that_holds_best_everywhere_is_told_in_the_words_of_the_command() {
    let mut window = window_at_output();
    let wish = Some(underover::explore::Goal::Brightest);
    window.state_mut().act(Action::Judge(Basis { on: On::Clips, wish, ..Basis::default() }));
    let on = judged(&mut window);
    let (found, _) = command(&["--clips", "--want", "brightest"]);
    let best = on.best.expect("a best order");
    let marks = underover::order::marks(show(&window).chain(PICTURE));
    assert_eq!(found["best_by_mean"], marks.code(&best.orders[0]));
    let disagrees = found["disagrees_most"].as_str();
    let said =
        disagrees.map_or("is best on each of them.".to_owned(), |name| format!("{name} disagrees most: "));
    assert!(best.answer[1].contains(&said), "{best:?}");
    for line in &best.answer {
        assert!(window.query_by_label(line).is_some(), "{line} is not in {:?}", labels(&window));
    }
    // The best comes first where every order is shown, and is adopted from the button beside the answer by the keyboard.
    window.state_mut().act(Action::WallBy(WallBy::Orders));
    window.run_steps(3);
    assert_eq!(window.state().on_wall()[0].order, best.orders[0]);
    let before = show(&window);
    press(&mut window, &format!("Show {}", marks.code(&best.orders[0])));
    assert!(matches!(&window.state().view().shown, Shown::Order { order, .. } if *order == best.orders[0]));
    key(&mut window, Modifiers::NONE, Key::Enter);
    assert_ne!(show(&window), before, "it is adopted");
    key(&mut window, Modifiers::COMMAND, Key::Z);
    assert_eq!(show(&window), before, "one step takes it back");
    // What was known of it is there again at once.
    window.run_steps(2);
    assert_eq!(on_pieces(window.state()).map(|on| on.pieces.len()), Some(on.pieces.len()));
}

fn harbour_picture(path: &Path, shade: u8) {
    image::RgbImage::from_fn(64, 36, |x, y| {
        image::Rgb([shade.wrapping_add((x * 3) as u8), (y * 7) as u8, ((x ^ y) * 4) as u8])
    })
    .save(path)
    .unwrap();
}

#[test]
fn a_piece_that_cannot_be_shown_is_left_out_by_name_and_the_others_go_on() {
    let folder = tempfile::tempdir().unwrap();
    let clips = folder.path().join("clips");
    std::fs::create_dir(&clips).unwrap();
    for (name, shade) in [("ferry.png", 10), ("quay.png", 120)] {
        harbour_picture(&clips.join(name), shade);
    }
    std::fs::write(clips.join("torn.png"), b"no picture").unwrap();
    let mut window = window_at_output();
    press(&mut window, "other footage");
    assert!(label_with(&window, "Drop pictures, films or folders").is_some());
    for named in [
        clips.display().to_string(),
        folder.path().join("*.mp4").display().to_string(),
        "lost.png".to_owned(),
    ] {
        window.get_by_label("Footage to judge on").focus();
        window.run_steps(2);
        write(&mut window, &named);
        key(&mut window, Modifiers::NONE, Key::Enter);
    }
    let basis = window.state().view().basis.clone();
    assert_eq!(basis.named.len(), 3, "{basis:?}");
    let on = judged(&mut window);
    assert_eq!(names_of(&on), ["ferry.png", "quay.png"]);
    assert_eq!(on.left_out.len(), 3, "{:?}", on.left_out);
    for part in ["torn.png", "*.mp4", "lost.png"] {
        assert!(on.left_out.iter().any(|said| said.contains(part)), "{part}: {:?}", on.left_out);
        let is_told =
            labels(&window).iter().any(|label| label.starts_with("Left out: ") && label.contains(part));
        assert!(is_told, "{:?}", labels(&window));
    }
    assert!(nameless(&window).is_empty(), "{:?}", nameless(&window));
    // Once it is mended, it is taken.
    harbour_picture(&clips.join("torn.png"), 200);
    window.state_mut().act(Action::TryAgain);
    until(&mut window, "the mended piece is taken", |desk| {
        on_pieces(desk).is_some_and(|on| on.pieces.len() == 3)
    });
    // One that is left out by a press is no longer judged on.
    press(&mut window, "Leave out: lost.png");
    until(&mut window, "it is left out", |desk| on_pieces(desk).is_some_and(|on| on.left_out.len() == 1));
}

#[test]
fn nothing_that_can_be_shown_is_said_with_the_reason() {
    let mut window = window_at_output();
    let basis = Basis::default().with(["nowhere.png".to_owned()]);
    window.state_mut().act(Action::Judge(basis));
    until(&mut window, "it is said", |desk| !desk.is_asking());
    window.run_steps(3);
    let said =
        label_with(&window, "The orders were not judged: no piece of footage can be shown: nowhere.png");
    assert!(said.is_some(), "{:?}", labels(&window));
}

#[test]
fn judging_is_stopped_and_taken_up_again_and_the_key_goes_round() {
    let mut window = window_at_output();
    key(&mut window, Modifiers::NONE, Key::G);
    assert_eq!(window.state().view().basis.on, On::Clips);
    until(&mut window, "it can be stopped", |desk| desk.gathering().is_none());
    if window.query_by_label("Stop").is_some() {
        window.get_by_label("Stop").click();
        window.run_steps(3);
        assert!(window.state().view().basis.is_stopped);
        assert!(window.query_by_label("Stopped.").is_some(), "{:?}", labels(&window));
        window.get_by_label("Judge").click();
        window.run_steps(2);
    }
    judged(&mut window);
    key(&mut window, Modifiers::NONE, Key::G);
    assert_eq!(window.state().view().basis.on, On::Named);
    key(&mut window, Modifiers::NONE, Key::G);
    assert!(window.state().view().basis.is_plain());
    until(&mut window, "the wall is of this clip", |desk| {
        desk.laid().is_some_and(|laid| laid.on_pieces.is_none())
    });
}

#[test]
fn one_clip_is_judged_over_several_beats() {
    let mut window = window_at_output();
    window.state_mut().act(Action::Judge(Basis { over: Some(1.0), ..Basis::default() }));
    let on = judged(&mut window);
    assert_eq!(names_of(&on), ["harbour"]);
    let (found, text) = command(&["--over", "1"]);
    let laid = window.state().laid().unwrap();
    assert_eq!(laid.classes.len(), found["classes"].as_u64().unwrap() as usize);
    let opening = &laid.looks.as_ref().unwrap().matters.as_ref().unwrap().opening;
    // The command looks at one piece in larger pictures, so that shares differ a little.
    assert!(
        text.contains("over 1 beat") && opening.contains(" of what order does on this piece"),
        "{opening}\n{text}"
    );
}
