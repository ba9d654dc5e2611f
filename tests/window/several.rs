//! Several effects at once: selected, copied, cut, pasted, duplicated by dragging; each one step.

use crate::driving::*;
use egui::{Event, Key, Modifiers, OutputCommand, Pos2};
use egui_kittest::kittest::Queryable as _;
use underover::edit::Spot;
use underover::order::{MOST_EFFECTS, marks};
use underover::show::chain::EffectUse;
use underover::show::{Scope, Show, Target};
use underover::window::Action;

const GLOBAL: Scope = Scope::Global;

fn steps(window: &Window) -> usize {
    window.state().work().history().done().len()
}

/// The row of a chain's marks.
fn code(show: &Show, scope: Scope) -> String {
    let chain = show.chain(scope);
    marks(chain).code(&(0..chain.len()).collect::<Vec<_>>())
}

/// Presses a card with something held.
fn press_with(window: &mut Window, held: Modifiers, label: &str) {
    let at = middle(window, label);
    window.hover_at(at);
    window.step();
    for pressed in [true, false] {
        let button = egui::PointerButton::Primary;
        window.event_modifiers(Event::PointerButton { pos: at, button, pressed, modifiers: held }, held);
        window.step();
    }
    window.run();
}

/// What the clipboard was given in this pass, after an event.
fn copied_by(window: &mut Window, event: Event) -> Option<String> {
    window.event(event);
    window.step();
    let commands = &window.output().platform_output.commands;
    let copied = commands.iter().find_map(|command| match command {
        OutputCommand::CopyText(text) => Some(text.clone()),
        _ => None,
    });
    window.run();
    copied
}

fn places(window: &Window) -> Vec<usize> {
    window.state().view().places()
}

#[test]
fn effects_are_selected_together_by_ctrl_and_shift_and_by_keys() {
    let mut window = window(desk(work("night-ferry"), None));
    press(&mut window, "Effect 2 flash-gate");
    press_with(&mut window, Modifiers::COMMAND, "Effect 4 channel-offset");
    assert_eq!(places(&window), [1, 3]);
    press_with(&mut window, Modifiers::COMMAND, "Effect 2 flash-gate");
    assert_eq!(places(&window), [3], "pressed again it is left out");
    press_with(&mut window, Modifiers::SHIFT, "Effect 2 flash-gate");
    assert_eq!(places(&window), [1, 2, 3]);
    key(&mut window, Modifiers::COMMAND | Modifiers::SHIFT, Key::ArrowLeft);
    assert_eq!(places(&window), [0, 1, 2, 3]);
    key(&mut window, Modifiers::NONE, Key::Escape);
    assert_eq!(places(&window), [3], "Escape leaves the one chosen first");
    key(&mut window, Modifiers::COMMAND, Key::A);
    assert_eq!(places(&window), [0, 1, 2, 3, 4]);
    press(&mut window, "Effect 3 edge-find");
    assert_eq!(places(&window), [2]);
    assert_eq!(steps(&window), 0, "selecting is no step");
}

#[test]
fn what_is_done_to_several_effects_is_one_step() {
    let mut window = window(desk(work("night-ferry"), None));
    let before = show(&window);
    let choose = |window: &mut Window| {
        press(window, "Effect 2 flash-gate");
        press_with(window, Modifiers::SHIFT, "Effect 4 channel-offset");
    };
    for (held, pressed, expected) in [
        (Modifiers::NONE, Key::Delete, "15"),
        (Modifiers::COMMAND, Key::D, "12346785"),
        (Modifiers::NONE, Key::O, "12345"),
        (Modifiers::NONE, Key::R, "12345"),
    ] {
        choose(&mut window);
        let done = steps(&window);
        key(&mut window, held, pressed);
        let now = show(&window);
        assert_ne!(now, before, "{pressed:?}");
        assert_eq!(code(&now, PICTURE), expected, "{pressed:?}");
        assert_eq!(steps(&window), done + 1, "{pressed:?}");
        key(&mut window, Modifiers::COMMAND, Key::Z);
        assert_eq!(show(&window), before, "{pressed:?}: one step back gives all of it back");
    }
    // What was duplicated is selected, to go on with.
    choose(&mut window);
    key(&mut window, Modifiers::COMMAND, Key::D);
    assert_eq!(places(&window), [4, 5, 6]);
}

#[test]
fn effects_go_through_the_clipboard_as_a_chain_between_scopes_and_shows() {
    let mut window = window(desk(work("night-ferry"), None));
    let before = show(&window);
    press(&mut window, "Effect 3 edge-find");
    press_with(&mut window, Modifiers::COMMAND, "Effect 5 mirror");
    let text = copied_by(&mut window, Event::Copy).expect("a text for the clipboard");
    // It is a chain file, which an independent reader of TOML reads, too.
    let table: toml::Table = text.parse().unwrap();
    assert_eq!(table["format"].as_str(), Some("underover/chain/1"));
    let uses: Vec<_> =
        table["effect"].as_array().unwrap().iter().map(|one| one["use"].as_str().unwrap()).collect();
    assert_eq!(uses, ["edge-find", "mirror"]);
    assert_eq!(show(&window), before, "copying changes nothing");

    // Onto another scope: marks are kept, as none is taken there.
    window.state_mut().act(Action::Scope(GLOBAL));
    window.run();
    window.event(Event::Paste(text.clone()));
    window.run();
    let now = show(&window);
    assert_eq!(names(&window, GLOBAL)[1..], ["edge-find", "mirror"]);
    assert_eq!(code(&now, GLOBAL), "135");
    assert_eq!(steps(&window), 1);
    let settings = |used: &EffectUse| used.values().cloned().collect::<Vec<_>>();
    assert_eq!(settings(&now.global[1]), settings(&before.chain(PICTURE)[2]), "with its settings");
    // Once more: both marks are taken, so that each gets the lowest that is free.
    window.event(Event::Paste(text.clone()));
    window.run();
    assert_eq!(code(&show(&window), GLOBAL), "13524");
    assert_eq!(places(&window), [3, 4], "what was pasted is selected");

    // Into another show.
    let mut other = crate::driving::window(desk(work("harbour-lamps"), None));
    let there = show(&other);
    let scope = other.state().view().scope;
    other.event(Event::Paste(text));
    other.run();
    let now = show(&other);
    assert_eq!(now.chain(scope).len(), there.chain(scope).len() + 2);
    let mut known: Vec<u32> = (0..now.chain(scope).len()).map(|at| marks(now.chain(scope)).of(at)).collect();
    known.sort_unstable();
    known.dedup();
    assert_eq!(known.len(), now.chain(scope).len(), "no two marks are alike");
    key(&mut other, Modifiers::COMMAND, Key::Z);
    assert_eq!(show(&other), there);
}

#[test]
fn what_is_cut_and_pasted_keeps_its_mark_and_what_plays_it() {
    let mut window = window(desk(work("night-crossing"), None));
    let before = show(&window);
    let held = before.grips(&before.controls[0].name).next().map(|(target, _)| target);
    let Some(Target::Setting { scope, at, place }) = held else { panic!("a control that holds a setting") };
    let used = before.chain(scope)[at].clone();
    window.state_mut().act(Action::Select(Spot { scope, at }));
    window.run();
    let text = copied_by(&mut window, Event::Cut).expect("a text for the clipboard");
    assert_eq!(show(&window).chain(scope).len(), before.chain(scope).len() - 1);
    assert_eq!(steps(&window), 1);
    window.state_mut().act(Action::Scope(scope));
    window.run();
    window.event(Event::Paste(text));
    window.run();
    let now = show(&window);
    let pasted = now.chain(scope).last().unwrap();
    assert_eq!(pasted.grip(place), used.grip(place));
    let mark = marks(before.chain(scope)).of(at);
    assert_eq!(marks(now.chain(scope)).of(now.chain(scope).len() - 1), mark);
    for _ in 0..2 {
        key(&mut window, Modifiers::COMMAND, Key::Z);
    }
    assert_eq!(show(&window), before);
}

#[test]
fn what_is_no_chain_is_not_pasted_and_says_why() {
    let mut window = window(desk(work("night-ferry"), None));
    let before = show(&window);
    let ferry = std::fs::read_to_string("presets/shows/night-ferry.toml").unwrap();
    for (text, why) in [
        (
            "Sailing at nine, weather permitting".to_owned(),
            "`Sailing at nine, weather permitting` is no chain of effects",
        ),
        (String::new(), "is no chain of effects"),
        ("format = \"underover/chain/1\"\nname = \"empty\"\n".to_owned(), "has no effects"),
        (ferry, "a whole show"),
    ] {
        window.event(Event::Paste(text));
        window.run();
        assert!(window.state().view().said.contains(why), "{why}: {}", window.state().view().said);
        assert_eq!(show(&window), before);
    }
    // A chain with a fault says where.
    let wrong = "format = \"underover/chain/1\"\nname = \"lamps\"\n\n[[effect]]\nuse = \"tnit\"\n";
    window.event(Event::Paste(wrong.to_owned()));
    window.run();
    assert!(
        label_with(&window, "the clipboard:5:7").is_some_and(|text| text.contains("did you mean `tint`"))
    );
    key(&mut window, Modifiers::NONE, Key::Escape);
    // Too many for one chain: all or none.
    let full: String = (0..MOST_EFFECTS).map(|_| "[[effect]]\nuse = \"tint\"\n").collect();
    window.event(Event::Paste(format!("format = \"underover/chain/1\"\nname = \"full\"\n{full}")));
    window.run();
    assert!(window.state().view().said.contains("at most"), "{}", window.state().view().said);
    assert_eq!((show(&window), steps(&window)), (before, 0));
}

#[test]
fn text_that_is_being_typed_keeps_the_clipboard_for_itself() {
    let mut window = window(desk(work("night-ferry"), None));
    let before = show(&window);
    key(&mut window, Modifiers::NONE, Key::F3);
    window.event(Event::Paste("undo".to_owned()));
    window.run();
    assert!(window.query_by_label_contains("Undo, Ctrl Z").is_some(), "it went into the search");
    assert_eq!(copied_by(&mut window, Event::Copy), None);
    assert_eq!(show(&window), before);
}

/// Drags a card to a point with something held.
fn drag_with(window: &mut Window, held: Modifiers, from: Pos2, to: Pos2) {
    carry(window, from, to);
    window.event(Event::ModifiersChanged(held));
    window.run_steps(2);
    window.drop_at(to);
    window.event(Event::ModifiersChanged(Modifiers::NONE));
    window.run();
}

#[test]
fn a_drag_with_ctrl_duplicates_and_one_of_several_moves_all() {
    let mut window = window(desk(work("night-ferry"), None));
    let before = show(&window);
    let gap = |window: &Window| middle(window, "Add an effect over mirror");
    let (from, to) = (middle(&window, "Effect 2 flash-gate"), gap(&window));
    drag_with(&mut window, Modifiers::COMMAND, from, to);
    assert_eq!(code(&show(&window), PICTURE), "123456");
    assert_eq!(names(&window, PICTURE).last().map(String::as_str), Some("flash-gate"));
    assert_eq!(steps(&window), 1);
    key(&mut window, Modifiers::COMMAND, Key::Z);
    assert_eq!(show(&window), before);

    press(&mut window, "Effect 2 flash-gate");
    press_with(&mut window, Modifiers::COMMAND, "Effect 4 channel-offset");
    let (from, to) = (middle(&window, "Effect 4 channel-offset"), gap(&window));
    drag(&mut window, from, to);
    assert_eq!(code(&show(&window), PICTURE), "13524");
    assert_eq!((places(&window), steps(&window)), (vec![3, 4], 1));
    key(&mut window, Modifiers::COMMAND, Key::Z);
    assert_eq!(show(&window), before);
}
