//! Values of settings: typed, chosen, brought back, and seen while something moves them.

use crate::driving::{PICTURE, Window, desk, key, press, show, window, work, write};
use egui::accesskit::Role;
use egui::{Event, Key, Modifiers, PointerButton, Pos2, vec2};
use egui_kittest::kittest::{NodeT as _, Queryable as _};
use underover::catalogue::Value;
use underover::window::{Action, HandAct, Tab};

fn value(window: &Window, at: usize, name: &str) -> Value {
    show(window).chain(PICTURE)[at].value(name).cloned().unwrap()
}

fn says(window: &Window, words: &str) -> bool {
    window.query_all_by_label_contains(words).next().is_some()
}

/// Two presses in short order: each goes down and up in one pass.
fn twice(window: &mut Window, at: Pos2) {
    window.hover_at(at);
    window.step();
    for _ in 0..2 {
        for pressed in [true, false] {
            let (button, modifiers) = (PointerButton::Primary, Modifiers::NONE);
            window.input_mut().events.push(Event::PointerButton { pos: at, button, pressed, modifiers });
        }
        window.step();
    }
    window.run();
}

/// What has this name and this role, in the middle.
fn place(window: &Window, label: &str, role: Role) -> Pos2 {
    let found = window.get_all_by_label(label).find(|node| node.accesskit_node().role() == role);
    found.unwrap_or_else(|| panic!("no {role:?} {label}")).rect().center()
}

/// Types into the last field of a name, in place of what stands there, and ends with Enter.
fn enter(window: &mut Window, label: &str, text: &str) {
    window.get_all_by_label(label).last().unwrap().focus();
    window.run();
    key(window, Modifiers::COMMAND, Key::A);
    write(window, text);
    key(window, Modifiers::NONE, Key::Enter);
}

/// The text in the field of a name.
fn text(window: &Window, label: &str) -> String {
    let node = window.get_all_by_label(label).last().unwrap();
    node.accesskit_node().value().unwrap_or_default()
}

#[test]
fn two_presses_bring_a_value_back_in_one_step_wherever_it_is_pressed() {
    use Role::{Label, Slider, SpinButton};
    let mut window = window(desk(work("night-ferry"), None));
    press(&mut window, "Effect 3 edge-find");
    assert_eq!(value(&window, 2, "gain"), Value::Number(5.0));
    for role in [Slider, SpinButton, Label] {
        let before = show(&window);
        let steps = window.state().work().history().done().len();
        let at = place(&window, "Gain", role);
        // Not where the slider stands already.
        twice(&mut window, if role == Slider { at + vec2(30.0, 0.0) } else { at });
        assert_eq!(value(&window, 2, "gain"), Value::Number(1.0), "{role:?}");
        assert_eq!(window.state().work().history().done().len(), steps + 1, "{role:?}");
        assert!(window.ctx.memory(|memory| memory.focused()).is_none(), "{role:?}: nothing is being typed");
        key(&mut window, Modifiers::COMMAND, Key::Z);
        assert_eq!(show(&window), before, "{role:?}: one step back gives the value before the presses");
    }
    // One press is a press: it moves the slider, and is a step of its own.
    let at = place(&window, "Gain", Slider) - vec2(20.0, 0.0);
    for pressed in [true, false] {
        let (button, modifiers) = (PointerButton::Primary, Modifiers::NONE);
        window.event(Event::PointerButton { pos: at, button, pressed, modifiers });
        window.step();
    }
    window.run_steps(4);
    assert_ne!(value(&window, 2, "gain"), Value::Number(5.0));
    let steps = window.state().work().history().done().len();
    enter(&mut window, "Gain", "2");
    assert_eq!(window.state().work().history().done().len(), steps + 1);
}

#[test]
fn fractions_shares_and_names_of_colours_are_typed() {
    let mut window = window(desk(work("night-ferry"), None));
    enter(&mut window, "Amount", "1/4");
    assert_eq!(value(&window, 0, "amount"), Value::Number(0.25));
    enter(&mut window, "Amount", "50%");
    assert_eq!(value(&window, 0, "amount"), Value::Number(0.5));
    // CSS Color Module Level 4, section 6.1; Okabe and Ito 2008.
    for (typed, colour) in
        [("teal", "#008080"), ("sky blue", "#56b4e9"), ("okabe blue", "#0072b2"), ("#f00", "#ff0000")]
    {
        enter(&mut window, "Colour as #rrggbb", typed);
        assert_eq!(value(&window, 0, "colour").to_string(), colour, "{typed}");
    }
    let steps = window.state().work().history().done().len();
    assert_eq!(steps, 6, "each is a step");
    for (label, typed, why) in [
        ("Amount", "3/2", "`3/2`: it takes a number from 0 % to 100 %"),
        ("Amount", "1/0", "nothing is divided by 0"),
        ("Colour as #rrggbb", "tealish", "`tealish`: it takes # and six digits, such as #ff8c33, or a name"),
    ] {
        let before = show(&window);
        enter(&mut window, label, typed);
        assert!(says(&window, why), "{typed}");
        assert_eq!(show(&window), before, "{typed}: the old value stays");
        assert_eq!(text(&window, label), typed, "the typed text stays to be put right");
        key(&mut window, Modifiers::NONE, Key::Escape);
        assert!(!says(&window, why), "{typed}");
    }
}

#[test]
fn a_colour_is_chosen_by_pointer_and_arrows_and_no_sign_of_the_toolkit_is_seen() {
    let mut window = window(desk(work("night-ferry"), None));
    press(&mut window, "Colour: choose");
    for leftover in ["U8", "F32", "Float", "\u{1f4cb}"] {
        assert!(!says(&window, leftover), "{leftover}");
    }
    press(&mut window, "bluish green (Okabe-Ito)");
    assert_eq!(value(&window, 0, "colour").to_string(), "#009e73");
    // The whole hue, as light as it gets, is in the corner of the field.
    let rect = window.get_by_label("Colour: shade").rect();
    for pressed in [true, false] {
        let (button, modifiers) = (PointerButton::Primary, Modifiers::NONE);
        let pos = rect.right_top() + vec2(-0.5, 0.5);
        window.event(Event::PointerButton { pos, button, pressed, modifiers });
        window.step();
    }
    window.run();
    let Value::Colour(colour) = value(&window, 0, "colour") else { panic!() };
    assert!(colour.0[0] < 3 && colour.0[1] > 252, "{colour}");
    window.get_by_label("Colour: hue").focus();
    window.run();
    let before = value(&window, 0, "colour");
    key(&mut window, Modifiers::NONE, Key::ArrowRight);
    assert_ne!(value(&window, 0, "colour"), before);
    enter(&mut window, "Colour: typed", "vermillion");
    assert_eq!(value(&window, 0, "colour").to_string(), "#d55e00");
}

#[test]
fn a_value_that_moves_is_seen_in_its_field_and_a_control_that_is_touched_wins() {
    let mut window = window(desk(work("night-ferry"), None));
    press(&mut window, "Amount: motion with the beat");
    press(&mut window, "sine");
    // The sine of `night-ferry` from its value to the far end: its ends are half a period apart.
    let mut seen = Vec::new();
    for beats in [0.0, 1.0, 2.0, 3.0] {
        window.state_mut().act(Action::Beats(beats));
        window.run();
        let chain = show(&window).chain(PICTURE).clone();
        let kind = &chain[0].effect.settings[1].kind;
        let now = chain[0].automation(1).unwrap().at(kind, beats).as_number().unwrap();
        assert_eq!(text(&window, "Amount: moves"), format!("{:.1} %", now * 100.0), "at beat {beats}");
        seen.push(text(&window, "Amount: moves"));
    }
    seen.dedup();
    assert!(seen.len() > 1, "{seen:?}");
    assert!(says(&window, " sine "));

    // A control takes hold of it, untouched at first: the beat goes on moving it.
    window.state_mut().act(Action::Tab(Tab::Hands));
    window.run();
    press(&mut window, "Add a control");
    press(&mut window, "Amount: control");
    press(&mut window, "control 1");
    assert!(!says(&window, "wins over"));
    window.state_mut().act(Action::Hand(HandAct::Turn(0, 0.5)));
    window.run();
    assert!(says(&window, "wins over") && says(&window, " control 1 "));
    assert_eq!(text(&window, "Amount: played"), "50.0 %", "the middle of its range, whatever the beat");
    assert!(window.query_by_label("Amount: no more motion").is_none());
    press(&mut window, "Amount: release all");
    assert!(!says(&window, "wins over") && says(&window, " sine "));
}
