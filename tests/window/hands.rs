//! Controls in the window: given a key by pressing it, seen while they are played.

use crate::driving::*;
use egui::{Key, Modifiers};
use egui_kittest::kittest::Queryable as _;
use underover::show::control::{Control, ControlKind};
use underover::window::{Action, HandAct, Tab};

fn says(window: &Window, words: &str) -> bool {
    window.query_all_by_label_contains(words).next().is_some()
}

fn controls(window: &Window) -> Vec<Control> {
    show(window).controls
}

/// The hands of the night crossing, with two controls that keys can play.
fn hands() -> Window {
    let mut window = window(desk(work("night-crossing"), None));
    window.state_mut().act(Action::Tab(Tab::Hands));
    window.run();
    assert!(controls(&window).iter().filter(|one| one.kind != ControlKind::Continuous).count() > 1);
    window
}

#[test]
fn a_control_learns_its_key_by_its_being_pressed() {
    let mut window = hands();
    let before = show(&window);
    let at = before.controls.iter().position(|one| one.kind != ControlKind::Continuous).unwrap();
    let other = before.controls.iter().enumerate().position(|(nth, one)| nth != at && one.key.is_some());
    let name = before.controls[at].name.clone();
    press(&mut window, &format!("{name}: learn a key"));
    assert!(says(&window, &format!("{name}: waits for a key")));
    // A key that can be none says so, and it goes on waiting; a command on that key is not done.
    key(&mut window, Modifiers::NONE, Key::Delete);
    assert!(window.state().view().said.contains("Delete plays no control"), "{}", window.state().view().said);
    if let Some(taken) = other.and_then(|other| before.controls[other].key) {
        key(&mut window, Modifiers::NONE, Key::from_name(&taken.to_string()).unwrap());
        assert!(window.state().view().said.contains("already"), "{}", window.state().view().said);
    }
    assert_eq!(show(&window), before);
    key(&mut window, Modifiers::NONE, Key::W);
    assert_eq!(controls(&window)[at].key.map(|key| key.to_string()).as_deref(), Some("W"));
    assert!(!says(&window, "waits for a key"));
    assert_eq!(window.state().work().history().done().len(), 1);
    assert!(!window.state().view().wall_of_output, "the key's own command was not done");
    // And now it plays.
    window.key_down(Key::W);
    window.run();
    assert!(window.state_mut().hands().seen(&before).positions[at].is_some());
    window.key_up(Key::W);
    window.run();
    key(&mut window, Modifiers::COMMAND, Key::Z);
    assert_eq!(show(&window), before);
    // Escape gives it up, and the key is taken away by a press.
    press(&mut window, &format!("{name}: learn a key"));
    key(&mut window, Modifiers::NONE, Key::Escape);
    assert!(!says(&window, "waits for a key"));
    if before.controls[at].key.is_some() {
        press(&mut window, &format!("{name}: no key"));
        assert_eq!(controls(&window)[at].key, None);
    }
}

#[test]
fn a_control_that_is_played_says_where_it_stands_and_its_ranges_have_names() {
    let mut window = hands();
    let all = controls(&window);
    let at = all.iter().position(|one| one.kind == ControlKind::Continuous).unwrap();
    assert!(says(&window, "not touched"));
    window.state_mut().act(Action::Hand(HandAct::Turn(at, 0.25)));
    window.run();
    assert!(says(&window, "at 25 %"));
    for word in ["from", "to"] {
        assert!(window.query_all_by_label(word).next().is_some(), "{word}");
    }
    assert!(says(&window, ": curve, "), "{:?}", labels(&window));
}

#[cfg(not(feature = "midi"))]
#[test]
fn a_build_without_midi_says_so_and_where_help_is_and_gives_no_command_of_a_compiler() {
    let window = hands();
    assert!(says(&window, "This build has no MIDI") && says(&window, "--help"));
    for word in ["cargo", "feature", "libasound"] {
        assert!(!says(&window, word), "{word}");
    }
}
