//! The window, driven as a person drives it; there is no display.

use std::fs;
use std::path::Path;

use crate::driving::*;
use egui::{Key, Modifiers, vec2};
use egui_kittest::kittest::Queryable as _;
use underover::catalogue::Value;
use underover::edit::{Edit, Recovery, Spot};
use underover::order::Condition;
use underover::show::Scope;
use underover::window::{Action, Comparing, Dialog, PairMark, Shown, Tab, WallBy};

#[test]
fn a_card_dragged_to_another_gap_changes_the_order_and_undo_brings_it_back() {
    let mut window = window(desk(work("night-ferry"), None));
    let from = middle(&window, "Effect 2 flash-gate");
    let to = middle(&window, "Add an effect over mirror");
    drag(&mut window, from, to);
    assert_eq!(names(&window, PICTURE), ["tint", "edge-find", "channel-offset", "mirror", "flash-gate"]);
    assert_eq!(window.state().view().spot(), Some(Spot { scope: PICTURE, at: 4 }));
    press(&mut window, "Undo");
    assert_eq!(names(&window, PICTURE), ["tint", "flash-gate", "edge-find", "channel-offset", "mirror"]);
    assert!(!window.state().work().is_changed());
    press(&mut window, "Redo");
    assert_eq!(names(&window, PICTURE)[4], "flash-gate");
}

#[test]
fn a_card_dragged_to_another_scope_goes_there() {
    let mut window = window(desk(work("night-ferry"), None));
    let (from, to) = (middle(&window, "Effect 5 mirror"), middle(&window, "Add an effect over tint"));
    // The global chain holds one tint; the gap over it is its last.
    drag(&mut window, from, to);
    assert_eq!(names(&window, Scope::Global), ["tint", "mirror"]);
    assert_eq!(names(&window, PICTURE).len(), 4);
}

#[test]
fn a_drag_given_up_changes_nothing() {
    let mut window = window(desk(work("night-ferry"), None));
    let (from, to) = (middle(&window, "Effect 2 flash-gate"), middle(&window, "Add an effect over mirror"));
    carry(&mut window, from, to);
    // While it is carried, the window says what would be.
    assert!(window.query_by_label("If dropped here:").is_some());
    key(&mut window, Modifiers::NONE, Key::Escape);
    window.drop_at(to);
    window.run();
    assert!(window.state().work().history().done().is_empty());
}

#[test]
fn an_order_of_the_wall_is_adopted_with_one_press() {
    let mut window = window(desk(work("lamp-lines"), None));
    let scope = window.state().work().first_scope();
    assert_eq!(names(&window, scope), ["edge-find", "tint"]);
    press(&mut window, "Order 21: tint, then edge-find");
    assert!(matches!(&window.state().view().shown, Shown::Order { order, .. } if *order == [1, 0]));
    assert_eq!(names(&window, scope), ["edge-find", "tint"], "looking at an order adopts nothing");
    press(&mut window, "Adopt order 21");
    assert_eq!(names(&window, scope), ["tint", "edge-find"]);
    assert_eq!(window.state().view().shown, Shown::Output);
    until(&mut window, "the orders are known", |desk| desk.known().is_some());
    window.run();
    // The marks went along: the order has the name by which it was taken, and the other the one that it had.
    for label in [
        "Effect 2 tint",
        "Order 21: tint, then edge-find, the current order",
        "Order 12: edge-find, then tint",
    ] {
        assert!(window.query_by_label(label).is_some(), "{label}");
    }
    key(&mut window, Modifiers::COMMAND, Key::Z);
    assert_eq!(names(&window, scope), ["edge-find", "tint"]);
}

#[test]
fn a_value_is_typed() {
    let mut window = window(desk(work("night-ferry"), None));
    press(&mut window, "Effect 3 edge-find");
    let gain = |window: &Window| show(window).chain(PICTURE)[2].value("gain").cloned();
    assert_eq!(gain(&window), Some(Value::Number(5.0)));
    press(&mut window, "Gain: more");
    let Some(Value::Number(more)) = gain(&window) else { panic!("gain is a number") };
    assert!(more > 5.0);
    let values: Vec<_> = window.get_all_by_label("Gain").collect();
    let value = values.last().unwrap();
    value.focus();
    drop(values);
    window.run();
    key(&mut window, Modifiers::COMMAND, Key::A);
    window.event(egui::Event::Text("3.5".to_owned()));
    window.run();
    key(&mut window, Modifiers::NONE, Key::Enter);
    assert_eq!(gain(&window), Some(Value::Number(3.5)));
    press(&mut window, "Reset Gain");
    let default = show(&window).chain(PICTURE)[2].effect.setting("gain").unwrap().default.clone();
    assert_eq!(gain(&window), Some(default));
}

#[test]
fn an_effect_is_added_by_searching_for_it() {
    let mut window = window(desk(work("lamp-lines"), None));
    let scope = window.state().work().first_scope();
    key(&mut window, Modifiers::NONE, Key::A);
    window.event(egui::Event::Text("mir".to_owned()));
    window.run();
    assert!(window.query_by_label("Add tint").is_none());
    press(&mut window, "Add mirror");
    assert_eq!(names(&window, scope), ["edge-find", "mirror", "tint"]);
    assert_eq!(window.state().view().spot(), Some(Spot { scope, at: 1 }));
}

#[test]
fn keys_do_what_the_pointer_does() {
    let mut window = window(desk(work("night-ferry"), None));
    let none = Modifiers::NONE;
    key(&mut window, none, Key::ArrowRight);
    assert_eq!(window.state().view().selected, Some(1));
    key(&mut window, Modifiers::ALT, Key::ArrowRight);
    assert_eq!(names(&window, PICTURE)[1..3], ["edge-find", "flash-gate"]);
    assert_eq!(window.state().view().selected, Some(2));
    // What is taken back takes the selection along, so that the next key means the same effect.
    key(&mut window, Modifiers::COMMAND, Key::Z);
    assert_eq!(window.state().view().spot(), Some(Spot { scope: PICTURE, at: 1 }));
    key(&mut window, Modifiers::COMMAND | Modifiers::SHIFT, Key::Z);
    assert_eq!(window.state().view().selected, Some(2));
    key(&mut window, none, Key::O);
    assert!(!show(&window).chain(PICTURE)[2].on);
    key(&mut window, Modifiers::COMMAND, Key::D);
    assert_eq!(names(&window, PICTURE).len(), 6);
    key(&mut window, none, Key::Delete);
    assert_eq!(names(&window, PICTURE).len(), 5);
    for _ in 0..4 {
        key(&mut window, Modifiers::ALT, Key::ArrowRight);
    }
    assert_eq!(names(&window, PICTURE).len(), 4, "at the end of its scope an effect goes on into the next");
    assert_eq!(names(&window, Scope::Global).len(), 2);
    key(&mut window, none, Key::CloseBracket);
    key(&mut window, none, Key::F1);
    assert_eq!(window.state().view().dialog, Some(Dialog::Keys));
    key(&mut window, none, Key::Escape);
    assert_eq!(window.state().view().dialog, None);
    key(&mut window, none, Key::Space);
    assert!(window.state().view().playing);
}

#[test]
fn flashing_is_held_still_until_the_person_plays_it_and_the_caution_stands_by() {
    let mut window = window(desk(work("night-ferry"), None));
    let before = window.state().view().beats;
    window.run_steps(10);
    assert_eq!(window.state().view().beats, before);
    assert!(window.query_by_label(underover::readiness::caution::CAUTION).is_some());
    window.get_by_label("Play").click();
    window.run_steps(10);
    assert!(window.state().view().beats > before);
}

#[test]
fn a_broken_file_opens_a_report_and_leaves_the_work_alone() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("broken.toml");
    fs::write(&path, "format = \"underover/show/1\"\nname = \"x\"\nframe = 3\n").unwrap();
    let mut window = window(desk(work("night-ferry"), None));
    let before = show(&window);
    window.state_mut().take_file(path.clone());
    window.run();
    let Some(Dialog::Report { text, .. }) = window.state().view().dialog.clone() else {
        panic!("no report: {:?}", window.state().view().dialog)
    };
    assert!(text.contains("broken.toml:3:"), "{text}");
    assert!(window.query_by_label(&text).is_some(), "the report stands in the window");
    assert_eq!(show(&window), before);
    press(&mut window, "Close");
    assert_eq!(window.state().view().dialog, None);
}

#[test]
fn changes_are_not_lost_unasked() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("other.toml");
    work("harbour-lamps").save_as(&path).unwrap();
    let mut window = window(desk(work("night-ferry"), None));
    key(&mut window, Modifiers::NONE, Key::O);
    let changed = show(&window);
    window.state_mut().take_file(path.clone());
    window.run();
    assert!(matches!(window.state().view().dialog, Some(Dialog::Losing(_))));
    press(&mut window, "Cancel");
    assert_eq!(show(&window), changed);
    window.state_mut().take_file(path);
    window.run();
    press(&mut window, "Discard");
    assert_eq!(show(&window).name, "Harbour lamps");
}

#[test]
fn work_lost_in_a_crash_is_taken_up_again() {
    let state = tempfile::tempdir().unwrap();
    {
        let recovery = Recovery::begin(state.path()).unwrap();
        let mut lost = work("night-ferry");
        lost.apply(&Edit::Order { scope: PICTURE, order: vec![4, 3, 2, 1, 0] }).unwrap();
        recovery.keep(&lost).unwrap();
    }
    let mut window = window(desk(work("night-ferry"), Some(state.path())));
    assert_eq!(window.state().view().dialog, Some(Dialog::Recover));
    press(&mut window, "Open it");
    assert_eq!(names(&window, PICTURE)[0], "mirror");
    assert!(window.state().work().is_changed());
    // What was taken up is kept by this window from now on, and by it alone.
    let texts = fs::read_dir(state.path()).unwrap().filter_map(Result::ok);
    let texts = texts.filter(|entry| entry.path().extension().is_some_and(|ending| ending == "toml"));
    assert_eq!(texts.count(), 1);
}

#[test]
fn changes_are_kept_aside_once_the_person_pauses_and_cleared_when_saved() {
    let state = tempfile::tempdir().unwrap();
    let mut window = window(desk(work("night-ferry"), Some(state.path())));
    key(&mut window, Modifiers::NONE, Key::O);
    let text = |state: &Path| fs::read_to_string(state.join("work-1.toml")).ok();
    let folder = state.path().to_owned();
    until(&mut window, "the change is kept aside", move |_| text(&folder).is_some());
    assert!(text(state.path()).unwrap().contains("on = false"));
    window.state_mut().save_as(&state.path().join("mine.toml"));
    window.run();
    assert!(text(state.path()).is_none());
    assert!(state.path().join("mine.toml").exists());
}

#[test]
fn everything_that_can_be_pressed_or_typed_into_has_a_name() {
    let mut window = window(desk(work("night-ferry"), None));
    let none = Modifiers::NONE;
    let shifted = Modifiers::COMMAND | Modifiers::SHIFT;
    let check = |window: &Window, what: &str| {
        let nameless = nameless(window);
        assert!(nameless.is_empty(), "{what}: {}", nameless.join(", "));
    };
    check(&window, "as it opens");
    for tab in [Key::Num2, Key::Num3, Key::Num1] {
        key(&mut window, none, tab);
        check(&window, tab.name());
    }
    // The settings of every kind of scope, and of an effect with choices; it opens on one with a colour.
    for label in ["Scope clip harbour, 0 effects", "Scope level crossing, 0 effects", "Effect 5 mirror"] {
        press(&mut window, label);
        check(&window, label);
    }
    for (modifiers, pressed) in [
        (none, Key::A),
        (none, Key::F1),
        (none, Key::F),
        (none, Key::T),
        (none, Key::F2),
        (Modifiers::COMMAND, Key::F2),
        (Modifiers::COMMAND, Key::O),
        (Modifiers::COMMAND, Key::H),
        (Modifiers::COMMAND, Key::E),
        (Modifiers::COMMAND, Key::K),
        (shifted, Key::S),
        (shifted, Key::E),
    ] {
        key(&mut window, modifiers, pressed);
        assert!(window.state().view().dialog.is_some(), "{pressed:?} opens a sheet");
        check(&window, pressed.name());
        key(&mut window, none, Key::Escape);
        assert!(window.state().view().dialog.is_none(), "Escape closes what {pressed:?} opened");
    }
    for menu in ["File", "Edit", "View"] {
        press(&mut window, menu);
        check(&window, menu);
        key(&mut window, none, Key::Escape);
    }
}

#[test]
fn the_window_is_used_with_the_keyboard_alone() {
    let mut window = window(desk(work("lamp-lines"), None));
    let scope = window.state().work().first_scope();
    // Tab comes to every control in turn, and what has the keyboard is known.
    let mut met = std::collections::HashSet::new();
    for _ in 0..60 {
        key(&mut window, Modifiers::NONE, Key::Tab);
        let focused = window.ctx.memory(|memory| memory.focused());
        met.extend(focused);
    }
    assert!(met.len() > 25, "Tab reached only {} controls", met.len());
    // Enter presses what has the keyboard.
    window.get_by_label("Order 21: tint, then edge-find").focus();
    window.run();
    key(&mut window, Modifiers::NONE, Key::Enter);
    assert!(matches!(&window.state().view().shown, Shown::Order { order, .. } if *order == [1, 0]));
    window.get_by_label("Adopt order 21").focus();
    window.run();
    key(&mut window, Modifiers::NONE, Key::Enter);
    assert_eq!(names(&window, scope), ["tint", "edge-find"]);
}

#[test]
fn two_orders_are_compared_in_every_way() {
    let mut window = window(desk(work("lamp-lines"), None));
    press(&mut window, "Order 21: tint, then edge-find");
    key(&mut window, Modifiers::NONE, Key::X);
    let way = |window: &Window| match &window.state().view().shown {
        Shown::Pair(pair) => pair.way,
        other => panic!("no pair is shown: {other:?}"),
    };
    assert_eq!(way(&window), Comparing::Beside);
    press(&mut window, "wipe");
    assert_eq!(way(&window), Comparing::Wipe);
    let line = window.get_by_label("The line between the two orders: drag it, or Shift and an arrow").rect();
    drag(&mut window, line.center(), line.lerp_inside(vec2(0.25, 0.5)));
    assert!((window.state().view().wipe - 0.25).abs() < 0.02, "{}", window.state().view().wipe);
    key(&mut window, Modifiers::SHIFT, Key::ArrowRight);
    assert!((window.state().view().wipe - 0.3).abs() < 0.02);
    key(&mut window, Modifiers::NONE, Key::B);
    assert_eq!((way(&window), window.state().view().blinking), (Comparing::Blink, true));
    press(&mut window, "Pause");
    assert!(!window.state().view().blinking);
    key(&mut window, Modifiers::NONE, Key::M);
    assert_eq!(way(&window), Comparing::Difference);
    press(&mut window, "x1");
    assert_eq!(window.state().view().zoom, Some(1.0));
    key(&mut window, Modifiers::NONE, Key::I);
    assert_eq!(window.state().view().zoom, Some(4.0));
    press(&mut window, "whole");
    assert_eq!(window.state().view().zoom, None);
    press(&mut window, "Adopt the other one");
    let scope = window.state().work().first_scope();
    assert_eq!(names(&window, scope), ["tint", "edge-find"]);
}

#[test]
fn an_order_is_pinned_adopted_from_the_pins_and_let_go() {
    let mut window = window(desk(work("lamp-lines"), None));
    let scope = window.state().work().first_scope();
    press(&mut window, "Order 21: tint, then edge-find");
    key(&mut window, Modifiers::NONE, Key::J);
    key(&mut window, Modifiers::NONE, Key::Num3);
    assert_eq!(window.state().view().pins.len(), 1);
    press(&mut window, "Adopt");
    assert_eq!(names(&window, scope), ["tint", "edge-find"]);
    key(&mut window, Modifiers::SHIFT, Key::J);
    assert!(window.state().view().pins.is_empty());
}

#[test]
fn only_orders_are_left_that_one_asks_for() {
    let mut window = window(desk(work("night-ferry"), None));
    let all = window.state().known().unwrap().classes.len();
    key(&mut window, Modifiers::NONE, Key::F);
    press(&mut window, "Show them");
    // As the sheet opens: the first effect before the second.
    let asked = window.state().view().conditions.clone();
    assert_eq!(asked, [Condition::Before { under: 0, over: 1 }]);
    let left = window.state().known().unwrap().candidates(&WallBy::Orders, &asked).len();
    assert!(left > 0 && left < all, "{left} of {all}");
    // It follows its effects when they move.
    key(&mut window, Modifiers::ALT, Key::ArrowRight);
    assert_eq!(window.state().view().conditions, [Condition::Before { under: 1, over: 0 }]);
    press(&mut window, "Release: tint before flash-gate");
    assert!(window.state().view().conditions.is_empty());
}

#[test]
fn the_window_fits_every_size_it_may_have() {
    for size in [vec2(1024.0, 640.0), vec2(1280.0, 800.0), vec2(3840.0, 2160.0)] {
        let mut window = window_of(desk(work("night-ferry"), None), size);
        window.run();
        // What stands beside the picture begins where the picture ends.
        let (fit, tab) = (window.get_by_label("x4").rect(), window.get_by_label("Orders").rect());
        assert!(fit.max.x < tab.min.x, "{fit:?} lies over {tab:?} in {size}");
        // The path scrolls sideways where it is longer than the window, settings scroll down; all else fits.
        for label in ["Play", "Orders", "Undo", "Colour"] {
            for node in window.get_all_by_label(label) {
                let rect = node.rect();
                assert!(
                    rect.max.x <= size.x + 1.0 && rect.max.y <= size.y + 1.0,
                    "{label} at {rect:?} in {size}"
                );
            }
        }
    }
}

#[test]
fn the_wall_fills_and_nothing_is_read_back_on_the_way_to_the_screen() {
    let mut window = window(desk_with_pictures(small_demo("160x90")));
    assert_eq!(window.state().known().unwrap().classes.len(), 54);
    until(&mut window, "every picture is made", |desk| desk.pictures().missing() == 0);
    assert!(window.state_mut().pictures().rendered() > 20);
    assert_eq!(window.state_mut().pictures().gpu().unwrap().readbacks(), 0);
    // At rest nothing more is rendered.
    let before = window.state_mut().pictures().rendered();
    window.run_steps(5);
    assert_eq!(window.state_mut().pictures().rendered(), before);
    // The swap table fills on its own thread.
    window.state_mut().act(Action::Tab(Tab::Swaps));
    until(&mut window, "every pair is looked at", |desk| {
        assert_eq!(desk.orders_problem(), None);
        let known = desk.known().unwrap();
        (0..5).all(|b| (0..b).all(|a| known.pair(a, b) != PairMark::Unknown))
    });
    let known = window.state().known().unwrap();
    assert_eq!(known.pair(0, 4), PairMark::Always, "a tint and a mirror");
    assert!(matches!(known.pair(0, 1), PairMark::Differs(far) if far.mean > 1.0), "a tint and a flash");
    assert_eq!(window.state_mut().pictures().gpu().unwrap().readbacks(), 0);
}

#[test]
fn the_beat_is_stepped_by_frames_tapped_and_looped() {
    let mut window = window(desk(work("night-ferry"), None));
    key(&mut window, Modifiers::NONE, Key::Home);
    // 174 BPM at 60 frames a second: a frame is 174/3600 of a beat (arithmetic).
    key(&mut window, Modifiers::SHIFT, Key::Period);
    assert_eq!(window.state().view().beats, 174.0 / 3600.0);
    key(&mut window, Modifiers::SHIFT, Key::Period);
    key(&mut window, Modifiers::SHIFT, Key::Comma);
    assert_eq!(window.state().view().beats, 174.0 / 3600.0);
    key(&mut window, Modifiers::SHIFT, Key::Comma);
    key(&mut window, Modifiers::SHIFT, Key::Comma);
    assert_eq!(window.state().view().beats, 0.0, "nothing lies before the start");

    // A loop of four beats: 4.5 beats on is half a beat in.
    press(&mut window, "Loop, now off");
    press(&mut window, "Loop: 4");
    assert_eq!(window.state().view().looped, Some(4));
    window.state_mut().act(Action::Beats(4.5));
    window.run();
    assert_eq!(window.state().view().beats, 0.5);
    press(&mut window, "Loop, now 4");
    press(&mut window, "Loop: off");
    window.state_mut().act(Action::Beats(4.5));
    window.run();
    assert_eq!(window.state().view().beats, 4.5);

    // Two taps make a tempo; it is one step that can be undone.
    let before = show(&window).tempo_bpm;
    for _ in 0..3 {
        press(&mut window, "Tap");
    }
    let tapped = show(&window).tempo_bpm;
    assert!(tapped != before && (30.0..=999.0).contains(&tapped), "{tapped}");
    key(&mut window, Modifiers::COMMAND, Key::Z);
    assert_eq!(show(&window).tempo_bpm, before);
}
