//! What moves with the beat and what hands hold, driven in the window; there is no display.

use std::path::Path;
use std::sync::Arc;

use crate::driving::{Window, desk, key, press, show, window, work, write};
use egui::{Key, Modifiers};
use egui_kittest::kittest::Queryable as _;
use underover::catalogue::Value;
use underover::edit::{ClipEdit, Edit};
use underover::files;
use underover::files::Document;
use underover::midi::{Binding, Scripted};
use underover::show::automation::{Automation, Fired, Wave};
use underover::show::clip::{AtEnd, FootageName, Pace, Play};
use underover::show::{ClipPlace, Scope};
use underover::window::{Action, HandAct, Tab};

const PICTURE: Scope = Scope::Bundle(0);

/// The tint's amount: the second setting of the first effect.
const AMOUNT: usize = 1;

#[test]
fn a_setting_is_given_a_shape_under_its_own_control_and_undone() {
    let mut window = window(desk(work("night-ferry"), None));
    press(&mut window, "Amount: motion with the beat");
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
    press(&mut window, "Amount: motion with the beat");
    press(&mut window, "envelope");
    assert!(matches!(
        show(&window).chain(PICTURE)[0].automation(AMOUNT),
        Some(Automation::Envelope { low: Value::Number(low), .. }) if *low == 0.9
    ));
    press(&mut window, "Amount: motion with the beat");
    press(&mut window, "none");
    assert!(show(&window).chain(PICTURE)[0].automation(AMOUNT).is_none());
    key(&mut window, Modifiers::COMMAND, Key::Z);
    assert!(show(&window).chain(PICTURE)[0].automation(AMOUNT).is_some());
}

#[test]
fn the_beats_that_fire_an_envelope_are_typed_and_what_is_no_list_changes_nothing() {
    let mut window = window(desk(work("night-ferry"), None));
    press(&mut window, "Amount: motion with the beat");
    press(&mut window, "envelope");
    press(&mut window, "Amount: what fires the envelope");
    press(&mut window, "at listed beats");
    let fired = |window: &Window| match show(window).chain(PICTURE)[0].automation(AMOUNT) {
        Some(Automation::Envelope { envelope, .. }) => envelope.fired.clone(),
        other => panic!("{other:?}"),
    };
    assert_eq!(fired(&window), Fired::At(vec![0.0]));
    window.get_by_label("Amount: beats, parted by spaces").click();
    window.run();
    for (typed, then) in
        [("0 3.5, 6", vec![0.0, 3.5, 6.0]), ("0 3.5 soon", vec![0.0, 3.5, 6.0]), ("2", vec![2.0])]
    {
        window.key_press_modifiers(Modifiers::COMMAND, Key::A);
        write(&mut window, typed);
        assert_eq!(fired(&window), Fired::At(then), "{typed}");
    }
}

#[test]
fn a_control_is_added_given_hold_of_a_setting_played_and_let_go() {
    let mut window = window(desk(work("night-ferry"), None));
    key(&mut window, Modifiers::NONE, Key::Num4);
    assert_eq!(window.state().view().tab, Tab::Hands);
    press(&mut window, "Add a control");
    assert_eq!(show(&window).controls.len(), 1);
    press(&mut window, "Amount: control");
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
    press(&mut window, "Release all");
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

#[test]
fn a_clip_from_a_file_is_tied_to_the_beat_cut_and_held_at_its_end() {
    let mut window = window(desk(work("night-ferry"), None));
    let clip = Scope::Clip(0, 0, 0);
    let play = |window: &Window| show(window).bundles[0].levels[0].clips[0].play;
    window.state_mut().act(Action::Scope(clip));
    window.run();
    let folder = tempfile::tempdir().unwrap();
    let sea = folder.path().join("sea.gif");
    let frame = |value| image::Frame::new(image::RgbaImage::from_pixel(4, 3, image::Rgba([value; 4])));
    let file = std::fs::File::create(&sea).unwrap();
    image::codecs::gif::GifEncoder::new(file).encode_frames([frame(20), frame(250)]).unwrap();
    let footage = FootageName::File { written: "sea.gif".to_owned(), path: sea };
    window.state_mut().act(Action::Edit(Edit::Clip(ClipPlace::default(), ClipEdit::Footage(footage))));
    window.run();

    press(&mut window, "Runs by the beat");
    assert_eq!(play(&window).pace, Pace::LoopBeats(4.0));
    press(&mut window, "To an out point");
    press(&mut window, "At the end: hold");
    window.get_by_label("In point").click();
    window.run();
    window.key_press_modifiers(Modifiers::COMMAND, Key::A);
    write(&mut window, "1.5");
    key(&mut window, Modifiers::NONE, Key::Enter);
    let cut = Play { pace: Pace::LoopBeats(4.0), in_secs: 1.5, out_secs: Some(4.0), at_end: AtEnd::Hold };
    assert_eq!(play(&window), cut);

    // What was chosen is written, read again, and undone.
    let text = files::show_text(&show(&window), Path::new(""));
    let Ok(Document::Show(read)) =
        files::parse(&text, "show.toml", Path::new(""), &crate::driving::catalogue())
    else {
        panic!("{text}");
    };
    assert_eq!(read.bundles[0].levels[0].clips[0].play, cut);
    // Back on generated footage nothing of it is left, so that the file can be read.
    let footage = FootageName::Generated("waves".to_owned());
    window.state_mut().act(Action::Edit(Edit::Clip(ClipPlace::default(), ClipEdit::Footage(footage))));
    window.run();
    assert_eq!(play(&window), Play::default());
    key(&mut window, Modifiers::COMMAND, Key::Z);
    key(&mut window, Modifiers::COMMAND, Key::Z);
    assert_eq!(play(&window).at_end, AtEnd::Loop);
}
