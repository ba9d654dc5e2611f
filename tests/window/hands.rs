//! Controls in the window: given a key by pressing it, seen while they are played.

use std::sync::Arc;

use crate::driving::*;
use egui::{Key, Modifiers};
use egui_kittest::kittest::Queryable as _;
use underover::catalogue::Value;
use underover::edit::{Edit, TimeEdit};
use underover::show::Target;
use underover::show::control::{Control, ControlKind, Grip};
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

#[test]
fn cues_are_recorded_by_playing_along_and_kept_in_one_step_once_they_were_seen() {
    let mut window = hands();
    let before = show(&window);
    let at = before.controls.iter().position(|one| one.kind == ControlKind::Momentary).unwrap();
    let name = before.controls[at].name.clone();
    assert!(says(&window, "Record cues"));
    window.state_mut().act(Action::Hand(HandAct::Record(true)));
    assert!(window.state().view().playing, "it is played along to");
    window.state_mut().act(Action::Play(false));
    window.run();
    assert!(says(&window, "nothing played yet"));
    for beat in [3.9, 12.1] {
        window.state_mut().act(Action::Beats(beat));
        window.run();
        window.state_mut().act(Action::Hand(HandAct::Press(at)));
        window.run();
        window.state_mut().act(Action::Hand(HandAct::Release(at)));
        window.run();
    }
    assert!(says(&window, &format!("{name}: played 2 times, at beats 4 12")), "{:?}", labels(&window));
    press(&mut window, "Stop recording");
    assert_eq!(show(&window), before, "nothing is kept unseen");
    window.state_mut().act(Action::Hand(HandAct::Round(underover::hands::Division::Half)));
    window.run();
    assert!(says(&window, "at beats 4 12"));
    press(&mut window, "Keep as the cues");
    let cue = controls(&window)[at].cue.clone().unwrap();
    assert_eq!((cue.at, cue.every), (vec![4.0, 12.0], None));
    assert_eq!(window.state().work().history().done().len(), 1);
    key(&mut window, Modifiers::COMMAND, Key::Z);
    assert_eq!(show(&window), before);
}

#[test]
fn a_control_is_given_an_opacity_a_switch_and_a_clip_from_its_menu_and_plays_them() {
    let mut window = hands();
    let all = controls(&window);
    let at = all.iter().position(|one| one.kind == ControlKind::Momentary).unwrap();
    let name = all[at].name.clone();
    let level = underover::show::Scope::Level(0, 0);
    for target in [Target::Opacity(level), Target::Switch { scope: underover::show::Scope::Global, at: 0 }] {
        let low = if matches!(target, Target::Opacity(_)) { Value::Number(1.0) } else { Value::Choice(0) };
        let high = if matches!(target, Target::Opacity(_)) { Value::Number(0.0) } else { low.clone() };
        let grip = Grip { control: name.clone(), low, high, curve: Default::default() };
        let hold = TimeEdit::Hold { target, grip: Box::new(grip) };
        window.state_mut().act(Action::Edit(Edit::Time(hold)));
        window.run();
    }
    assert!(says(&window, "opacity of") && says(&window, "on or off on"), "{:?}", labels(&window));
    let work = Arc::clone(window.state().work().show());
    window.state_mut().act(Action::Hand(HandAct::Press(at)));
    window.run();
    let seen = window.state_mut().hands().applied(&work);
    assert_eq!((seen.bundles[0].levels[0].mix.opacity, seen.global[0].on), (0.0, false));
    window.state_mut().act(Action::Hand(HandAct::Release(at)));
    window.run();
    let seen = window.state_mut().hands().applied(&work);
    assert_eq!(seen.bundles, work.bundles);
}

#[test]
fn where_controls_lie_is_drawn_as_a_grid_and_one_is_dragged_to_another_place() {
    let mut window = hands();
    let mut all = controls(&window);
    all.iter_mut().for_each(|control| control.at = None);
    (all[0].at, all[1].at) = (Some([1, 1]), Some([2, 1]));
    window.state_mut().act(Action::Edit(Edit::Time(TimeEdit::Controls(all.clone()))));
    window.run();
    let [first, second] = [0, 1].map(|at: usize| all[at].name.clone());
    assert!(says(&window, &format!("{first} lies at column 1, row 1: {} hand", all[0].hand.name())));
    assert!(says(&window, "A line joins what lies next to each other"), "{:?}", labels(&window));
    let place = |window: &Window, name: &str| {
        let label = label_with(window, &format!("{name} lies at column")).unwrap();
        window.get_by_label(&label).rect()
    };
    let (from, next) = (place(&window, &first).center(), place(&window, &second));
    // One row further down, where nothing lies.
    let step = next.center() - from;
    drag(&mut window, from, next.center() + egui::vec2(0.0, next.height() + 10.0));
    assert_eq!(controls(&window)[0].at, Some([2, 2]), "{:?}", labels(&window));
    // Onto another one, both change places.
    let [from, onto] = [&first, &second].map(|name| place(&window, name).center());
    drag(&mut window, from, onto);
    assert_eq!([0, 1].map(|at: usize| controls(&window)[at].at), [Some([2, 1]), Some([2, 2])]);
    assert!(step.x > 0.0);
    for _ in 0..2 {
        key(&mut window, Modifiers::COMMAND, Key::Z);
    }
    assert_eq!(controls(&window), all);
    assert_eq!(nameless(&window), Vec::<String>::new());
}
