//! The table of commands, walked: every key works, every command is on the sheet of keys, and none shares a key.

use crate::driving::*;
use egui::{Id, Key, Modifiers, Pos2, Rect, vec2};
use egui_kittest::kittest::Queryable as _;
use underover::edit::{Edit, Pin, SectionEdit, Spot};
use underover::order::Condition;
use underover::show::{ClipPlace, Section, Show};
use underover::window::{
    Action, Basis, COMMANDS, Clip, Command, Comparing, FoundRow, LessonAct, Needs, Pair, Reach, Row,
    SectionAct, Shown, Stroke, Tab, ThemeChoice,
};

/// All that a key can change.
type Seen = (String, Show, Option<Id>, Option<usize>);

fn seen(window: &Window) -> Seen {
    let desk = window.state();
    let focused = window.ctx.memory(|memory| memory.focused());
    (format!("{:?}", desk.view()), show(window), focused, desk.lessons().open)
}

/// A desk on which every command has something to do, once what it needs is there.
fn made_ready(window: &mut Window, needs: Needs, tab: Tab, percent: u32) {
    let spot = Spot { scope: PICTURE, at: 2 };
    let desk = window.state_mut();
    desk.act(Action::Close);
    desk.act(Action::Section(SectionAct::Rehearse(false)));
    desk.act(Action::Section(SectionAct::RenameHere(None)));
    desk.act(Action::GoTo(1));
    if matches!(needs, Needs::Sections | Needs::Rehearsal) {
        for _ in 0..9 {
            desk.act(Action::Edit(Edit::Section(SectionEdit::Add(Box::new(Section::of("quay"))))));
        }
        desk.act(Action::Edit(Edit::Section(SectionEdit::Order((0..9).collect()))));
        // The second of two states begins elsewhere.
        desk.act(Action::Section(SectionAct::Nth(if tab == Tab::Orders { 2 } else { 5 })));
    }
    desk.act(Action::Path(ClipPlace { bundle: 0, level: 1, clip: 1 }));
    desk.act(Action::Select(spot));
    while desk.view().pins.len() > 1 {
        desk.act(Action::Unpin(0));
    }
    if desk.view().pins.is_empty() {
        let chain = desk.work().show().chain(PICTURE).iter().rev().cloned().collect();
        desk.act(Action::Pin(Pin::new(PICTURE, chain)));
    }
    if desk.view().conditions.is_empty() {
        desk.act(Action::Require(Condition::First(0)));
    }
    let (left, right) = (vec![0, 1, 2, 3, 4], vec![0, 2, 1, 3, 4]);
    let shown = match needs {
        Needs::Order => Shown::Order { scope: PICTURE, order: right },
        Needs::Answer => {
            let Row { scope, effects } = Row::of(desk.work().show().chain(PICTURE), PICTURE, &right);
            Shown::Found(FoundRow { of: scope, scope, effects })
        }
        Needs::Pair => Shown::Pair(Pair::of(PICTURE, left, right, Comparing::Beside)),
        _ => Shown::After(spot),
    };
    for action in [
        Action::Show(shown),
        Action::Tab(if needs == Needs::Lessons { Tab::Lessons } else { tab }),
        Action::Lesson(LessonAct::Open(2)),
        Action::Judge(Basis::default()),
        Action::TextSize(percent),
        Action::Theme(ThemeChoice::Dark),
        Action::Play(false),
        Action::Loop(None),
        Action::Beats(1.0),
        Action::Wipe(0.5),
        Action::Fill(false),
        Action::Second(needs == Needs::Second),
        Action::Say(String::new()),
    ] {
        desk.act(action);
    }
    if needs == Needs::Rehearsal {
        desk.act(Action::Section(SectionAct::Rehearse(true)));
        desk.act(Action::Play(false));
    }
    window.state_mut().act(Action::ShowStructure(true));
    window.state_mut().act(Action::RenameHere(None));
    if needs == Needs::Row {
        window.state_mut().act(Action::Scope(PICTURE));
        window.run_steps(2);
        window.get_by_label("Bundle picture").focus();
        window.run_steps(2);
    } else if let Some(focused) = window.ctx.memory(|memory| memory.focused()) {
        window.ctx.memory_mut(|memory| memory.surrender_focus(focused));
    }
    window.run_steps(2);
    until(window, "the orders are known", |desk| desk.on_wall().len() > 1 && !desk.is_asking());
    window.run_steps(2);
}

/// Whether something comes of a key.
fn works(window: &mut Window, stroke: Stroke) -> bool {
    let before = seen(window);
    window.step();
    assert_eq!(seen(window), before, "before {stroke} is pressed");
    match stroke {
        Stroke::Key(held, key) => window.key_press_modifiers(held, key),
        Stroke::Sign(sign) => window.event(egui::Event::Text(sign.to_owned())),
        Stroke::Clip(Clip::Copy) => window.event(egui::Event::Copy),
        Stroke::Clip(Clip::Cut) => window.event(egui::Event::Cut),
        Stroke::Clip(Clip::Paste) => window.event(egui::Event::Paste("ship's log".to_owned())),
    }
    window.run_steps(2);
    seen(window) != before
}

#[test]
fn every_key_works() {
    let mut window = window(desk(work("night-ferry"), None));
    window.state_mut().act(Action::Edit(Edit::Tempo(120.0)));
    let mut pressed = 0;
    for row in COMMANDS.iter().flat_map(|(_, rows)| *rows).filter(|row| row.reach != Reach::Itself) {
        for binding in row.keys {
            // What is so already cannot be brought about: from one of two states each key leads elsewhere.
            let works = [(Tab::Orders, 100), (Tab::Pins, 110)].into_iter().any(|(tab, percent)| {
                made_ready(&mut window, row.needs, tab, percent);
                works(&mut window, binding.stroke)
            });
            assert!(works, "{} does nothing: {}", binding.stroke, row.says);
            pressed += 1;
        }
    }
    assert!(pressed > 70, "{pressed} keys");
}

#[test]
fn keys_that_come_in_one_pass_are_each_taken_and_of_a_held_one_no_more_than_is_seen() {
    let mut window = window(desk(work("night-ferry"), None));
    window.state_mut().act(Action::Select(Spot { scope: PICTURE, at: 0 }));
    window.run();
    let press = |key, modifiers, pressed| egui::Event::Key {
        key,
        physical_key: None,
        pressed,
        repeat: false,
        modifiers,
    };
    let before = names(&window, PICTURE);
    // As they come where a pass takes long: an effect moved twice, and once more by another key in between.
    let strokes = [
        (Key::ArrowRight, Modifiers::ALT),
        (Key::ArrowRight, Modifiers::ALT),
        (Key::D, Modifiers::NONE),
        (Key::ArrowRight, Modifiers::ALT),
    ];
    for (key, modifiers) in strokes {
        window.input_mut().events.extend([press(key, modifiers, true), press(key, modifiers, false)]);
    }
    let detail = window.state().view().detail;
    window.run_steps(6);
    let moved: Vec<&str> = [1, 2, 3, 0, 4].map(|at: usize| before[at].as_str()).to_vec();
    assert_eq!(names(&window, PICTURE), moved);
    assert_ne!(window.state().view().detail, detail);
    // Of a key that is held down the rest is left: nothing goes on once it is let go.
    let steps = window.state().work().history().done().len();
    for _ in 0..9 {
        window.input_mut().events.push(press(Key::ArrowLeft, Modifiers::ALT, true));
    }
    window.input_mut().events.push(press(Key::ArrowLeft, Modifiers::ALT, false));
    window.run_steps(12);
    assert_eq!(names(&window, PICTURE), [1, 2, 0, 3, 4].map(|at: usize| before[at].clone()));
    assert_eq!(window.state().work().history().done().len(), steps + 1);
}

#[test]
fn every_command_is_on_the_sheet_of_keys_at_once_in_the_smallest_window() {
    for size in [vec2(1024.0, 640.0), vec2(1280.0, 800.0), vec2(2560.0, 1440.0)] {
        let mut window = window_of(desk(work("night-ferry"), None), size);
        key(&mut window, Modifiers::NONE, Key::F1);
        let mut places: Vec<Rect> = Vec::new();
        for row in COMMANDS.iter().flat_map(|(_, rows)| *rows) {
            let keys = row.keys();
            assert!(!keys.is_empty());
            let within = Rect::from_min_size(Pos2::ZERO, size).shrink(8.0);
            let found = window
                .get_all_by_label(row.says)
                .map(|node| node.rect())
                .find(|rect| within.contains_rect(*rect));
            let place = found.unwrap_or_else(|| panic!("{keys}: {} is out of sight at {size}", row.says));
            assert!(window.query_all_by_label(&keys).next().is_some(), "{keys}: {}", row.says);
            let over = places.iter().find(|known| known.shrink(1.0).intersects(place.shrink(1.0)));
            assert_eq!(over, None, "{} lies over another line at {size}", row.says);
            places.push(place);
        }
    }
}

#[test]
fn the_sheet_of_keys_is_searched() {
    let mut window = window_of(desk(work("night-ferry"), None), vec2(1024.0, 640.0));
    key(&mut window, Modifiers::NONE, Key::F1);
    write(&mut window, "tempo");
    let is_there = |window: &Window, text: &str| window.query_by_label(text).is_some();
    assert!(is_there(&window, "tap the tempo") && !is_there(&window, "save"));
    write(&mut window, " nothing of the kind");
    assert!(is_there(&window, "No command has these words."));
    key(&mut window, Modifiers::NONE, Key::Escape);
    assert_eq!(window.state().view().dialog, None, "Escape is the way out, also from the search");
}

#[test]
fn every_command_is_done_by_its_words() {
    let mut window = window(desk(work("night-ferry"), None));
    let before = show(&window);
    key(&mut window, Modifiers::NONE, Key::F3);
    write(&mut window, "duplicate");
    assert!(window.query_by_label("Duplicate the selected effects, Ctrl D").is_some());
    key(&mut window, Modifiers::NONE, Key::Enter);
    assert_eq!(window.state().view().dialog, None);
    assert_eq!(show(&window).chain(PICTURE).len(), before.chain(PICTURE).len() + 1);
    // Arrows choose among what is found; keys that do different things stand apart.
    key(&mut window, Modifiers::NONE, Key::F3);
    write(&mut window, "bpm");
    key(&mut window, Modifiers::NONE, Key::ArrowDown);
    key(&mut window, Modifiers::NONE, Key::Enter);
    assert_eq!(show(&window).tempo_bpm, before.tempo_bpm - 1.0);
    // A press does as Enter does.
    key(&mut window, Modifiers::NONE, Key::F3);
    write(&mut window, "the effects' steps");
    key(&mut window, Modifiers::COMMAND, Key::A);
    write(&mut window, "undo");
    press(&mut window, "Undo, Ctrl Z");
    assert_eq!(show(&window).tempo_bpm, before.tempo_bpm);
    key(&mut window, Modifiers::COMMAND, Key::Z);
    assert_eq!(show(&window), before);
}

#[test]
fn what_cannot_be_done_now_says_why_among_the_commands_and_is_not_done() {
    let mut window = window(desk(work("night-ferry"), None));
    window.state_mut().act(Action::Scope(PICTURE));
    window.run();
    let before = show(&window);
    for (typed, label, why) in [
        (
            "remove selected",
            "Remove the selected effects, Delete (choose an effect on the path first)",
            "choose an effect",
        ),
        ("undo", "Undo, Ctrl Z (nothing to undo)", "nothing to undo"),
        (
            "every order again",
            "Every order again, Shift F (every order is shown already)",
            "is shown already",
        ),
    ] {
        key(&mut window, Modifiers::NONE, Key::F3);
        write(&mut window, typed);
        assert!(window.query_by_label(label).is_some(), "{:?}", label_with(&window, typed));
        key(&mut window, Modifiers::NONE, Key::Enter);
        assert!(window.state().view().said.contains(why), "{}", window.state().view().said);
        assert_eq!(show(&window), before);
        key(&mut window, Modifiers::NONE, Key::Escape);
        assert_eq!(window.state().view().dialog, None);
    }
}

#[test]
fn no_key_has_two_meanings_at_once() {
    let mut known: Vec<(Stroke, Reach, Needs)> = Vec::new();
    for row in COMMANDS.iter().flat_map(|(_, rows)| *rows) {
        for binding in row.keys {
            for &(_, reach, needs) in known.iter().filter(|(stroke, ..)| *stroke == binding.stroke) {
                // An order is in the large picture, a pair, or what was found; and dialogs are over the desk.
                let is_one = |needs| matches!(needs, Needs::Order | Needs::Pair | Needs::Answer);
                let is_apart = needs != row.needs && is_one(needs) && is_one(row.needs);
                let is_over = [reach, row.reach].contains(&Reach::Itself)
                    && [reach, row.reach].iter().any(|reach| matches!(reach, Reach::Desk | Reach::Free));
                // A row of the structure that has the keyboard is asked first.
                let is_of_row = [needs, row.needs].contains(&Needs::Row);
                // While the running order plays, the keys of the desk rest.
                let is_played = needs != row.needs && [needs, row.needs].contains(&Needs::Rehearsal);
                assert!(
                    is_apart || is_over || is_of_row || is_played,
                    "{} stands twice, also for {}",
                    binding.stroke,
                    row.says
                );
            }
            known.push((binding.stroke, row.reach, row.needs));
        }
    }
    assert!(known.len() > 70);
}

#[test]
fn keys_are_named_as_they_are_written_on_them() {
    // The words of the keyboard, from memory; arrows and signs as they stand on its caps.
    for (command, keys) in [
        (Command::Undo, "Ctrl Z"),
        (Command::Redo, "Ctrl Shift Z, Ctrl Y"),
        (Command::MoveEffect, "Alt ← →"),
        (Command::StepClip, "Page ↑ Page ↓"),
        (Command::StepFrame, "Shift , ."),
        (Command::LargerText, "Ctrl +"),
        (Command::Tabs, "1 2 3 4 5 6 7"),
        (Command::KeysBySign, "?"),
    ] {
        let row = COMMANDS.iter().flat_map(|(_, rows)| *rows).find(|row| row.command == command).unwrap();
        assert_eq!(row.keys(), keys);
    }
    assert_eq!(Command::Redo.key(), "Ctrl Shift Z");
}

#[test]
fn every_tab_has_its_key_and_its_name_on_the_sheet_of_keys() {
    let row = COMMANDS.iter().flat_map(|(_, rows)| *rows).find(|row| row.command == Command::Tabs).unwrap();
    assert_eq!(row.says, Tab::ALL.map(Tab::name).join(", "));
    let mut window = window_of(desk(work("night-ferry"), None), vec2(1280.0, 800.0));
    for (tab, binding) in Tab::ALL.into_iter().zip(row.keys) {
        let Stroke::Key(Modifiers::NONE, pressed) = binding.stroke else { panic!("{}", binding.stroke) };
        key(&mut window, Modifiers::NONE, pressed);
        assert_eq!(window.state().view().tab, tab);
    }
    assert_eq!(row.keys.len(), Tab::ALL.len());
}
