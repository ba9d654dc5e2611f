//! What moves with the beat and what hands hold, driven in the window; there is no display.

#[path = "common/driving.rs"]
mod driving;

use std::sync::Arc;

use driving::{desk, key, press, show, window, work};
use egui::{Key, Modifiers};
use underover::automation::{Automation, Wave};
use underover::catalogue::Value;
use underover::midi::{Binding, Scripted};
use underover::show::Scope;
use underover::window::{Action, HandAct, Tab};

const PICTURE: Scope = Scope::Bundle(0);

/// The tint's amount: the second setting of the first effect.
const AMOUNT: usize = 1;

#[test]
fn a_setting_is_given_a_shape_under_its_own_control_and_undone() {
    let mut window = window(desk(work("night-ferry"), None));
    press(&mut window, "Amount: how it moves with the beat");
    press(&mut window, "sine");
    let automation = show(&window).chain(PICTURE)[0].automation(AMOUNT).cloned();
    match automation {
        // From the value that stood there to the far end of the range, over four beats.
        Some(Automation::Wave { wave: Wave::Sine, pace, low, high }) => {
            assert_eq!((pace.period_beats, pace.phase), (4.0, 0.0));
            assert_eq!((low, high), (Value::Number(0.9), Value::Number(0.0)));
        }
        other => panic!("{other:?}"),
    }
    press(&mut window, "Amount: how it moves with the beat");
    press(&mut window, "envelope");
    assert!(matches!(
        show(&window).chain(PICTURE)[0].automation(AMOUNT),
        Some(Automation::Envelope { low: Value::Number(low), .. }) if *low == 0.9
    ));
    press(&mut window, "Amount: how it moves with the beat");
    press(&mut window, "stands still");
    assert!(show(&window).chain(PICTURE)[0].automation(AMOUNT).is_none());
    key(&mut window, Modifiers::COMMAND, Key::Z);
    assert!(show(&window).chain(PICTURE)[0].automation(AMOUNT).is_some());
}

#[test]
fn a_control_is_added_given_hold_of_a_setting_played_and_let_go() {
    let mut window = window(desk(work("night-ferry"), None));
    key(&mut window, Modifiers::NONE, Key::Num4);
    assert_eq!(window.state().view().tab, Tab::Hands);
    press(&mut window, "Add a control");
    assert_eq!(show(&window).controls.len(), 1);
    press(&mut window, "Amount: held by");
    press(&mut window, "control 1");
    let grip = show(&window).chain(PICTURE)[0].grip(AMOUNT).cloned().expect("a grip");
    assert_eq!((grip.low, grip.high), (Value::Number(0.0), Value::Number(1.0)));

    // Played, it moves what is seen and leaves the work as it is.
    let work = Arc::clone(window.state().work().show());
    window.state_mut().act(Action::Hand(HandAct::Turn(0, 0.25)));
    window.run();
    let seen = window.state_mut().hands().applied(&work);
    assert_eq!(seen.chain(PICTURE)[0].value("amount"), Some(&Value::Number(0.25)));
    assert!(Arc::ptr_eq(window.state().work().show(), &work));
    press(&mut window, "Let all go");
    assert!(Arc::ptr_eq(&window.state_mut().hands().applied(&work), &work));
}

#[test]
fn a_device_is_learned_by_touching_it_and_picks_up_where_the_control_stands() {
    let mut window = window(desk(work("night-ferry"), None));
    key(&mut window, Modifiers::NONE, Key::Num4);
    press(&mut window, "Add a control");
    // MIDI 1.0: control change on channel 3, controller 21.
    let mut port = Scripted::default();
    port.send(&[0xb2, 21, 10, 0xb2, 21, 90]);
    window.state_mut().act(Action::Hand(HandAct::Learn(0)));
    window.state_mut().hands().use_port("a device", Box::new(port));
    for _ in 0..4 {
        window.step();
    }
    let bound = show(&window).controls[0].midi;
    assert_eq!(bound, Some(Binding::Controller { channel: 3, number: 21, is_14_bit: false }));
}
