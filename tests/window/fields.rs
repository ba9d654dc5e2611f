//! What is typed, pressed and answered in the window: fields that read strictly, settings that move, dialogs and pins.

use std::fs;

use crate::driving::{PICTURE, Window, desk, key, names, press, show, window, window_of, work, write};
use egui::{Event, Key, Modifiers, PointerButton, Pos2, vec2};
use egui_kittest::kittest::{NodeT as _, Queryable as _};
use underover::catalogue::Value;
use underover::edit::{Edit, Named, Recovery, Spot, Work};
use underover::show::{ClipPlace, Scope};
use underover::window::{Action, Dialog, Pin, Saving};

const GAIN: usize = 0;
const AMOUNT: usize = 1;

fn value(window: &Window, at: usize, name: &str) -> Value {
    show(window).chain(PICTURE)[at].value(name).cloned().unwrap()
}

/// Where the slider of a setting is.
fn slider(window: &Window, label: &str) -> Pos2 {
    let is_slider = |role| role == egui::accesskit::Role::Slider;
    let found = window.get_all_by_label(label).find(|node| is_slider(node.accesskit_node().role()));
    found.unwrap_or_else(|| panic!("no slider {label}")).rect().center()
}

fn pointer(window: &mut Window, at: Pos2, button: PointerButton, pressed: bool) {
    window.event(Event::PointerButton { pos: at, button, pressed, modifiers: Modifiers::NONE });
    window.step();
}

/// Types into the last field of a name, in place of what stands there, and ends with Enter.
fn enter(window: &mut Window, label: &str, text: &str) {
    let fields: Vec<_> = window.get_all_by_label(label).collect();
    fields.last().unwrap().focus();
    drop(fields);
    window.run();
    key(window, Modifiers::COMMAND, Key::A);
    write(window, text);
    key(window, Modifiers::NONE, Key::Enter);
}

/// Whether a text that stands in the window holds these words.
fn says(window: &Window, words: &str) -> bool {
    window.query_all_by_label_contains(words).next().is_some()
}

#[test]
fn a_press_on_a_setting_that_moves_leaves_its_movement_alone() {
    let mut window = window(desk(work("night-ferry"), None));
    press(&mut window, "Amount: motion with the beat");
    press(&mut window, "sine");
    let before = show(&window);
    assert!(before.chain(PICTURE)[0].automation(AMOUNT).is_some());
    assert!(says(&window, "It moves with the beat"), "it says why its slider takes no press");
    for label in ["Amount: more", "Amount: less", "Reset Amount"] {
        assert!(window.query_by_label(label).is_none(), "{label}");
    }
    let at = slider(&window, "Amount: moves") - vec2(20.0, 0.0);
    for button in [PointerButton::Primary, PointerButton::Secondary] {
        pointer(&mut window, at, button, true);
        pointer(&mut window, at + vec2(30.0, 0.0), button, false);
    }
    window.run();
    assert_eq!(show(&window), before);
    // The way to end it keeps the value that is seen.
    window.state_mut().act(Action::Beats(1.0));
    window.run();
    let seen = before.chain(PICTURE)[0]
        .automation(AMOUNT)
        .unwrap()
        .at(&before.chain(PICTURE)[0].effect.settings[AMOUNT].kind, 1.0);
    press(&mut window, "Amount: no more motion");
    assert!(show(&window).chain(PICTURE)[0].automation(AMOUNT).is_none());
    assert_eq!(value(&window, 0, "amount"), seen);
    key(&mut window, Modifiers::COMMAND, Key::Z);
    assert_eq!(show(&window), before);
}

#[test]
fn a_colour_that_moves_is_shown_and_not_set() {
    let mut window = window(desk(work("night-ferry"), None));
    press(&mut window, "Colour: motion with the beat");
    press(&mut window, "sine");
    assert!(show(&window).chain(PICTURE)[0].automation(0).is_some());
    assert!(window.query_by_label("Colour as #rrggbb").is_none());
    assert!(window.query_by_label("Colour: no more motion").is_some());
}

#[test]
fn other_buttons_of_the_pointer_change_nothing() {
    let mut window = window(desk(work("night-ferry"), None));
    press(&mut window, "Effect 3 edge-find");
    let before = show(&window);
    let at = slider(&window, "Gain");
    let number = window.get_all_by_label("Gain").last().unwrap().rect().center();
    for button in [PointerButton::Secondary, PointerButton::Middle] {
        for at in [at, number] {
            window.hover_at(at);
            window.step();
            pointer(&mut window, at, button, true);
            for step in 1..5 {
                window.hover_at(at + vec2(6.0 * step as f32, 0.0));
                window.step();
            }
            pointer(&mut window, at + vec2(24.0, 0.0), button, false);
            window.run();
            assert_eq!(show(&window), before, "{button:?}");
        }
    }
    // The first one does.
    pointer(&mut window, at + vec2(10.0, 0.0), PointerButton::Primary, true);
    pointer(&mut window, at + vec2(10.0, 0.0), PointerButton::Primary, false);
    window.run();
    assert_ne!(show(&window), before);
}

#[test]
fn numbers_are_read_strictly_and_what_is_refused_stays_in_its_field() {
    let mut window = window(desk(work("night-ferry"), None));
    press(&mut window, "Effect 3 edge-find");
    enter(&mut window, "Amount", "50%");
    assert_eq!(value(&window, 2, "amount"), Value::Number(0.5));
    enter(&mut window, "Amount", "0.25 share");
    assert_eq!(value(&window, 2, "amount"), Value::Number(0.25));
    for (typed, why) in
        [("1.5", "did you mean 1.5%?"), ("half", "a number from 0 % to 100 %"), ("0,5", "the point is")]
    {
        enter(&mut window, "Amount", typed);
        assert_eq!(value(&window, 2, "amount"), Value::Number(0.25), "{typed}");
        assert!(says(&window, why), "{typed}: says why");
        let field = window.get_all_by_label("Amount").last().unwrap();
        assert_eq!(field.accesskit_node().value().as_deref(), Some(typed), "the typed text stays");
    }
    // Put right, it is taken.
    enter(&mut window, "Amount", "0.5");
    assert_eq!(value(&window, 2, "amount"), Value::Number(0.5));
    assert!(!says(&window, "Esc gives the old value back"));
    // Given up, the old value stands there again.
    enter(&mut window, "Gain", "9");
    assert!(says(&window, "from 0 to 8 (times)"));
    key(&mut window, Modifiers::NONE, Key::Escape);
    assert!(!says(&window, "Esc gives the old value back"));
    assert_eq!(value(&window, 2, "gain"), Value::Number(5.0));
    assert_eq!(window.state().work().history().done().len(), 3, "what was refused is no step");
    assert_eq!(show(&window).chain(PICTURE)[2].effect.settings[GAIN].name, "gain");
}

#[test]
fn a_wrong_colour_is_refused_in_words_and_stays_in_its_field() {
    let mut window = window(desk(work("night-ferry"), None));
    let before = value(&window, 0, "colour");
    enter(&mut window, "Colour as #rrggbb", "#12345");
    assert_eq!(value(&window, 0, "colour"), before);
    assert!(says(&window, "`#12345`: it takes # and six digits"));
    enter(&mut window, "Colour as #rrggbb", "#123456");
    assert_eq!(value(&window, 0, "colour").to_string(), "#123456");
    assert!(!says(&window, "six digits"));
}

#[test]
fn enter_alone_saves_unsaved_changes_and_goes_on_to_what_was_asked() {
    let folder = tempfile::tempdir().unwrap();
    let other = folder.path().join("other.toml");
    work("harbour-lamps").save_as(&other).unwrap();
    let mut window = window(desk(work("night-ferry"), None));
    let dialog = |window: &Window| window.state().view().dialog.clone();
    // Unsaved changes: the work has no file yet, so that Enter asks for a name, and goes on once it is saved.
    key(&mut window, Modifiers::NONE, Key::O);
    window.state_mut().act(Action::Open(other.clone()));
    window.run();
    assert!(matches!(dialog(&window), Some(Dialog::Losing(_))));
    key(&mut window, Modifiers::NONE, Key::Escape);
    assert_eq!(dialog(&window), None);
    assert_eq!(show(&window).name, "Night ferry");
    window.state_mut().act(Action::Open(other.clone()));
    window.run();
    key(&mut window, Modifiers::NONE, Key::Enter);
    assert_eq!(dialog(&window), Some(Dialog::Save(Saving::Work)));
    key(&mut window, Modifiers::COMMAND, Key::A);
    write(&mut window, &folder.path().join("mine.toml").display().to_string());
    key(&mut window, Modifiers::NONE, Key::Enter);
    assert!(folder.path().join("mine.toml").is_file());
    assert_eq!(show(&window).name, "Harbour lamps");
}

#[test]
fn a_file_that_is_there_is_replaced_by_the_second_enter_alone() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("there.toml");
    fs::write(&path, "mine").unwrap();
    let mut window = window(desk(work("night-ferry"), None));
    window.state_mut().act(Action::Ask(Dialog::Save(Saving::Chain)));
    window.run();
    key(&mut window, Modifiers::COMMAND, Key::A);
    write(&mut window, &path.display().to_string());
    key(&mut window, Modifiers::NONE, Key::Enter);
    assert_eq!(fs::read_to_string(&path).unwrap(), "mine");
    assert!(says(&window, "would be replaced"));
    key(&mut window, Modifiers::NONE, Key::Enter);
    assert!(fs::read_to_string(&path).unwrap().starts_with("format"));
}

#[test]
fn a_save_that_fails_goes_back_to_its_sheet_with_the_path_that_was_typed() {
    let folder = tempfile::tempdir().unwrap();
    let wrong = folder.path().join("no/such/mine.toml").display().to_string();
    let mut window = window(desk(work("night-ferry"), None));
    key(&mut window, Modifiers::COMMAND, Key::S);
    key(&mut window, Modifiers::COMMAND, Key::A);
    write(&mut window, &wrong);
    key(&mut window, Modifiers::NONE, Key::Enter);
    assert!(matches!(window.state().view().dialog, Some(Dialog::Report { .. })));
    key(&mut window, Modifiers::NONE, Key::Enter);
    assert_eq!(window.state().view().dialog, Some(Dialog::Save(Saving::Work)));
    let typed = |window: &Window| {
        let field = window.get_by_label("Path of the file");
        field.accesskit_node().value().unwrap_or_default()
    };
    assert_eq!(typed(&window), wrong);
    // Left and opened again, it is still there; saved elsewhere, it is not.
    key(&mut window, Modifiers::NONE, Key::Escape);
    key(&mut window, Modifiers::COMMAND, Key::S);
    assert_eq!(typed(&window), wrong);
    let right = folder.path().join("mine.toml");
    key(&mut window, Modifiers::COMMAND, Key::A);
    write(&mut window, &right.display().to_string());
    key(&mut window, Modifiers::NONE, Key::Enter);
    assert!(right.is_file());
    window.state_mut().act(Action::Ask(Dialog::Save(Saving::Work)));
    window.run();
    assert_eq!(typed(&window), right.display().to_string());
}

#[test]
fn a_file_that_does_not_open_says_so_before_anything_is_asked_of_the_work() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("broken.toml");
    fs::write(&path, "format = \"underover/show/1\"\n").unwrap();
    let mut window = window(desk(work("night-ferry"), None));
    key(&mut window, Modifiers::NONE, Key::O);
    assert!(window.state().work().is_changed());
    key(&mut window, Modifiers::COMMAND, Key::O);
    key(&mut window, Modifiers::COMMAND, Key::A);
    write(&mut window, &path.display().to_string());
    key(&mut window, Modifiers::NONE, Key::Enter);
    assert!(matches!(window.state().view().dialog, Some(Dialog::Report { .. })));
    key(&mut window, Modifiers::NONE, Key::Escape);
    assert_eq!(window.state().view().dialog, Some(Dialog::Open), "the path can be put right");
    key(&mut window, Modifiers::NONE, Key::Escape);
    assert_eq!(window.state().view().dialog, None);
}

#[test]
fn a_scope_without_effects_says_that_it_has_none_yet() {
    let mut window = window(desk(work("night-ferry"), None));
    press(&mut window, "Scope level crossing, 0 effects");
    for tab in [Key::Num1, Key::Num2] {
        key(&mut window, Modifiers::NONE, tab);
        assert!(says(&window, "No effects here yet"), "{tab:?}");
        assert!(!says(&window, "Looking at the orders"), "{tab:?}");
    }
}

#[test]
fn a_file_that_another_program_changed_is_not_written_over_unasked() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("mine.toml");
    work("night-ferry").save_as(&path).unwrap();
    let mut window = window(desk(Work::open(&path, &crate::driving::catalogue()).unwrap(), None));
    key(&mut window, Modifiers::NONE, Key::O);
    let theirs = format!("{}# theirs\n", fs::read_to_string(&path).unwrap());
    fs::write(&path, &theirs).unwrap();
    key(&mut window, Modifiers::COMMAND, Key::S);
    assert_eq!(window.state().view().dialog, Some(Dialog::Changed(path.clone())));
    key(&mut window, Modifiers::NONE, Key::Escape);
    assert_eq!(fs::read_to_string(&path).unwrap(), theirs);
    key(&mut window, Modifiers::COMMAND, Key::S);
    press(&mut window, "Replace it");
    assert_ne!(fs::read_to_string(&path).unwrap(), theirs);
    assert!(!window.state().work().is_changed());
}

fn pin_reversed(window: &mut Window) {
    let chain = show(window).chain(PICTURE).iter().rev().cloned().collect();
    window.state_mut().act(Action::Pin(Pin::new(PICTURE, chain)));
    window.run();
}

#[test]
fn pins_stay_with_their_show_through_saving_and_restarts() {
    let folder = tempfile::tempdir().unwrap();
    let state = folder.path().join("state");
    let [first, second] = ["a.toml", "b.toml"].map(|name| folder.path().join(name));
    // A show with controls, so that a pinned chain holds grips and a movement.
    let mut crossing = window(desk(work("night-crossing"), Some(&state)));
    pin_reversed(&mut crossing);
    let pins = crossing.state().view().pins.clone();
    crossing.state_mut().save_as(&first);
    crossing.run();
    assert_eq!(crossing.state().view().pins, pins, "saving keeps them");
    drop(crossing);
    let catalogue = crate::driving::catalogue();
    let open = |path: &std::path::Path| {
        window_of(desk(Work::open(path, &catalogue).unwrap(), Some(&state)), vec2(1280.0, 800.0))
    };
    let mut again = open(&first);
    assert_eq!(again.state().view().pins, pins, "grips, movements and names included");
    // They follow their scope when another bundle goes, and another file has its own.
    work("night-ferry").save_as(&second).unwrap();
    again.state_mut().take_file(second.clone());
    again.run();
    assert!(again.state().view().pins.is_empty());
    pin_reversed(&mut again);
    pin_reversed(&mut again);
    again.state_mut().take_file(first.clone());
    again.run();
    assert_eq!(again.state().view().pins, pins);
    again.state_mut().act(Action::Unpin(0));
    again.run();
    drop(again);
    assert!(open(&first).state().view().pins.is_empty());
    assert_eq!(open(&second).state().view().pins.len(), 2);
}

#[test]
fn pins_that_an_older_version_kept_are_found_and_move_to_where_they_are_kept_now() {
    let folder = tempfile::tempdir().unwrap();
    let (state, path) = (folder.path().join("state"), folder.path().join("a.toml"));
    work("night-ferry").save_as(&path).unwrap();
    let catalogue = crate::driving::catalogue();
    let open = || window_of(desk(Work::open(&path, &catalogue).unwrap(), Some(&state)), vec2(1280.0, 800.0));
    pin_reversed(&mut open());
    let kept = || -> Vec<_> {
        fs::read_dir(state.join("pins")).unwrap().map(|entry| entry.unwrap().path()).collect()
    };
    let [now] = &kept()[..] else { panic!("one file") };
    // FNV-1a in 64 bits, as its authors publish it (from memory): what the file was named by.
    let named = path.canonicalize().unwrap().display().to_string();
    let before = named.bytes().fold(0xcbf2_9ce4_8422_2325_u64, |hash, byte| {
        (hash ^ u64::from(byte)).wrapping_mul(0x0000_0100_0000_01b3)
    });
    fs::rename(now, state.join("pins").join(format!("{before:016x}.toml"))).unwrap();
    let mut window = open();
    assert_eq!(window.state().view().pins.len(), 1);
    pin_reversed(&mut window);
    drop(window);
    assert_eq!(kept(), std::slice::from_ref(now), "one file, with the name of now");
    assert_eq!(open().state().view().pins.len(), 2);
}

#[test]
fn pins_are_found_again_with_work_that_was_lost() {
    let state = tempfile::tempdir().unwrap();
    let mut lost = window(desk(work("night-ferry"), Some(state.path())));
    key(&mut lost, Modifiers::NONE, Key::O);
    pin_reversed(&mut lost);
    let pins = lost.state().view().pins.clone();
    std::thread::sleep(std::time::Duration::from_millis(1600));
    lost.run();
    lost.state_mut().keep_aside();
    // It ends without clearing anything away, and what the state folder kept by show is gone too.
    drop(lost);
    fs::remove_dir_all(state.path().join("pins")).unwrap();
    assert_eq!(Recovery::found(state.path(), &crate::driving::catalogue()).len(), 1);
    let mut next = window_of(desk(work("night-ferry"), Some(state.path())), vec2(1280.0, 800.0));
    key(&mut next, Modifiers::NONE, Key::Enter);
    assert_eq!(next.state().view().pins, pins);
}

#[test]
fn a_pin_whose_effect_is_gone_waits_and_is_not_lost() {
    let state = tempfile::tempdir().unwrap();
    let mut first = window(desk(work("night-ferry"), Some(state.path())));
    pin_reversed(&mut first);
    drop(first);
    let file = fs::read_dir(state.path().join("pins")).unwrap().next().unwrap().unwrap().path();
    let text = fs::read_to_string(&file).unwrap();
    fs::write(&file, text.replace("mirror", "no-such-effect")).unwrap();
    let mut second = window(desk(work("night-ferry"), Some(state.path())));
    assert!(second.state().view().pins.is_empty());
    assert!(second.state().view().said.contains("wait"), "{}", second.state().view().said);
    pin_reversed(&mut second);
    drop(second);
    let now = fs::read_to_string(&file).unwrap();
    assert_eq!(now.matches("[[pin]]").count(), 2);
    assert!(now.contains("no-such-effect"));
}

#[test]
fn a_pinned_scope_is_found_by_its_address() {
    let state = tempfile::tempdir().unwrap();
    let path = state.path().join("mine.toml");
    let mut ferry = work("night-ferry");
    ferry
        .apply(&Edit::Move {
            from: Spot { scope: PICTURE, at: 4 },
            into: Spot { scope: Scope::Bundle(1), at: 0 },
        })
        .unwrap();
    ferry.save_as(&path).unwrap();
    let open = || window(desk(Work::open(&path, &crate::driving::catalogue()).unwrap(), Some(state.path())));
    let mut first = open();
    let chain = show(&first).chain(Scope::Bundle(1)).clone();
    first.state_mut().act(Action::Pin(Pin::new(Scope::Bundle(1), chain.clone())));
    first.run();
    drop(first);
    // Another bundle is put under it by hand.
    let text = fs::read_to_string(&path).unwrap();
    let new = "[[bundle]]\nname = \"under\"\n[[bundle.level]]\nname = \"l\"\n[[bundle.level.clip]]\nname = \"c\"\nfootage = \"generated:waves\"\n\n";
    let at = text.find("[[bundle]]").unwrap();
    fs::write(&path, format!("{}{new}{}", &text[..at], &text[at..])).unwrap();
    let again = open();
    assert_eq!(again.state().view().pins, [Pin::new(Scope::Bundle(2), chain)]);
    assert_eq!(names(&again, Scope::Bundle(2)), ["mirror"]);
}

#[test]
fn a_beat_and_a_size_of_text_are_read_strictly_and_refused_in_words_beside_their_fields() {
    let mut window = window(desk(work("night-ferry"), None));
    let before = window.state().view().beats;
    for (typed, why) in
        [("two", "it takes a number"), ("1,5", "the point is `.`"), ("9000000", "from -1000000 to 1000000")]
    {
        enter(&mut window, "Beat", typed);
        assert_eq!(window.state().view().beats, before, "{typed}");
        assert!(says(&window, why), "{typed}: says why");
        let field = window.get_all_by_label("Beat").last().unwrap().accesskit_node().value();
        assert_eq!(field.as_deref(), Some(typed), "the typed text stays");
    }
    enter(&mut window, "Beat", "2.125");
    assert_eq!(window.state().view().beats, 2.125);
    assert!(!says(&window, "Esc gives the old value back"));
    press(&mut window, "View");
    for (typed, why) in
        [("300", "from 80 to 200 (%)"), ("large", "a whole number"), ("99.5", "a whole number")]
    {
        enter(&mut window, "Size of text in per cent", typed);
        assert_eq!(window.state().view().preferences.text_percent, 100, "{typed}");
        assert!(says(&window, why), "{typed}: says why");
    }
    enter(&mut window, "Size of text in per cent", "130 %");
    assert_eq!(window.state().view().preferences.text_percent, 130);
    // A press at the end of what text takes says that it is the end.
    for _ in 0..8 {
        key(&mut window, Modifiers::COMMAND, Key::Plus);
    }
    assert_eq!(window.state().view().preferences.text_percent, 200);
    assert!(window.state().view().said.contains("80 % to 200 %"), "{}", window.state().view().said);
}

#[test]
fn what_was_refused_of_a_beat_stays_while_the_beat_runs_on() {
    let mut window = window(desk(work("night-ferry"), None));
    enter(&mut window, "Beat", "soon");
    window.state_mut().act(Action::Play(true));
    window.run_steps(4);
    assert!(says(&window, "it takes a number"));
}

#[test]
fn footage_that_is_refused_comes_back_to_its_sheet_with_the_path_that_was_typed() {
    let folder = tempfile::tempdir().unwrap();
    let wrong = folder.path().join("tide.png");
    fs::write(&wrong, "no picture").unwrap();
    let mut window = window(desk(work("night-ferry"), None));
    let before = show(&window);
    let sheet = Dialog::Footage(ClipPlace::default());
    window.state_mut().act(Action::Ask(sheet.clone()));
    window.run();
    let typed = wrong.display().to_string();
    enter(&mut window, "Path of the file", &typed);
    assert!(matches!(&window.state().view().dialog, Some(Dialog::Report { .. })));
    press(&mut window, "Close");
    assert_eq!(window.state().view().dialog, Some(sheet.clone()));
    let field = window.get_by_label("Path of the file").accesskit_node().value();
    assert_eq!(field.as_deref(), Some(typed.as_str()));
    assert_eq!(show(&window), before);
    // Put right, it is taken, and the next sheet begins afresh.
    image::RgbaImage::new(4, 4).save(&wrong).unwrap();
    press(&mut window, "Use this file");
    assert_eq!(window.state().view().dialog, None);
    assert_ne!(show(&window), before);
    window.state_mut().act(Action::Ask(sheet));
    window.run();
    let field = window.get_by_label("Path of the file").accesskit_node().value();
    assert_ne!(field.as_deref(), Some(typed.as_str()));
}

#[test]
fn a_press_before_a_sheet_is_drawn_does_not_close_it() {
    let mut window = window(desk(work("night-ferry"), None));
    let sheet = Dialog::Open;
    for at in [egui::pos2(6.0, 6.0), egui::pos2(640.0, 120.0), egui::pos2(640.0, 640.0)] {
        window.state_mut().act(Action::Ask(Dialog::Keys));
        window.run();
        window.state_mut().act(Action::Ask(sheet.clone()));
        // Down and up before the sheet was drawn; and down before, up after.
        window.drag_at(at);
        window.drop_at(at);
        window.run();
        assert_eq!(window.state().view().dialog, Some(sheet.clone()), "{at}");
    }
    // A press beside it closes it, as ever.
    window.drag_at(egui::pos2(6.0, 6.0));
    window.step();
    window.drop_at(egui::pos2(6.0, 6.0));
    window.run();
    assert_eq!(window.state().view().dialog, None);
}

/// The pictures that the window paints: of which texture, and where.
fn pictures(window: &Window) -> Vec<(egui::TextureId, Pos2)> {
    fn found(shape: &egui::Shape, all: &mut Vec<(egui::TextureId, Pos2)>) {
        match shape {
            egui::Shape::Vec(shapes) => shapes.iter().for_each(|shape| found(shape, all)),
            egui::Shape::Mesh(mesh) if matches!(mesh.texture_id, egui::TextureId::User(_)) => {
                all.push((mesh.texture_id, mesh.calc_bounds().min));
            }
            egui::Shape::Rect(rect) if matches!(rect.fill_texture_id(), egui::TextureId::User(_)) => {
                all.push((rect.fill_texture_id(), rect.rect.min));
            }
            _ => {}
        }
    }
    let mut all = Vec::new();
    window.output().shapes.iter().for_each(|clipped| found(&clipped.shape, &mut all));
    all
}

#[test]
fn a_pin_that_is_let_go_takes_its_picture_along() {
    let mut window = window_of(
        crate::driving::desk_with_pictures(crate::driving::small_demo("96x54")),
        vec2(1280.0, 900.0),
    );
    let chain = show(&window).chain(PICTURE).clone();
    let reversed = chain.iter().rev().cloned().collect();
    for chain in [chain, reversed] {
        window.state_mut().act(Action::Pin(Pin::new(PICTURE, chain)));
    }
    key(&mut window, Modifiers::NONE, Key::Num3);
    crate::driving::until(&mut window, "the pins have pictures", |desk| desk.pictures().missing() == 0);
    window.run_steps(3);
    let at = |window: &Window, nth: usize| {
        let top = window.get_all_by_label("Unpin").nth(nth).unwrap().rect().left();
        let low = window.get_all_by_label("Unpin").nth(nth).unwrap().rect().top();
        let over = pictures(window).into_iter().filter(|(_, at)| at.y < low && at.x > top - 230.0);
        over.max_by(|(_, a), (_, b)| a.y.total_cmp(&b.y)).map(|(texture, _)| texture)
    };
    let (first, second) = (at(&window, 0).unwrap(), at(&window, 1).unwrap());
    assert_ne!(first, second);
    window.get_all_by_label("Unpin").next().unwrap().click();
    for _ in 0..4 {
        window.step();
        if window.state().view().pins.len() == 1 && window.get_all_by_label("Unpin").count() == 1 {
            assert_ne!(at(&window, 0), Some(first), "the picture of the pin that was taken off");
        }
    }
    assert_eq!(at(&window, 0), Some(second));
}

/// Types into the field of a name, in place of what stands there.
fn fill(window: &mut Window, label: &str, text: &str) {
    window.get_all_by_label(label).last().unwrap().focus();
    window.run();
    key(window, Modifiers::COMMAND, Key::A);
    write(window, text);
}

#[test]
fn what_a_show_says_of_itself_is_changed_in_one_dialog_and_taken_back_in_one_step() {
    let mut window = window(desk(work("landfall"), None));
    let before = show(&window);
    let sheet = Dialog::Rename(Named::Show);
    window.state_mut().act(Action::Ask(sheet.clone()));
    window.run();
    for (label, text) in [
        ("Name", "Crossing"),
        ("About", "First\n\nSecond"),
        ("Tags", "night, , two ferries "),
        ("Venue", "Harbour hall"),
        ("Size", "640 x 360"),
        ("Frames a second", "30000/1001"),
    ] {
        fill(&mut window, label, text);
    }
    // In the lines of the text Enter begins another one; anywhere else it is the way on.
    window.get_all_by_label("About").last().unwrap().focus();
    window.run();
    key(&mut window, Modifiers::NONE, Key::Enter);
    assert_eq!(window.state().view().dialog, Some(sheet.clone()), "it stays open");
    fill(&mut window, "About", "First\n\nSecond");
    fill(&mut window, "Frames a second", "often");
    assert!(says(&window, "the rate: `often`"), "what is wrong is said");
    key(&mut window, Modifiers::NONE, Key::Enter);
    assert_eq!(window.state().view().dialog, Some(sheet.clone()), "and nothing is changed by it");
    assert_eq!(show(&window), before);
    fill(&mut window, "Frames a second", "30000/1001");
    key(&mut window, Modifiers::NONE, Key::Enter);
    assert_eq!(window.state().view().dialog, None);
    let after = show(&window);
    assert_eq!((&after.name[..], &after.about[..]), ("Crossing", "First\n\nSecond"));
    assert_eq!(
        (&after.tags[..], &after.venue[..]),
        (&["night".to_owned(), "two ferries".to_owned()][..], "Harbour hall")
    );
    assert_eq!((after.frame.to_string(), after.rate), ("640x360".to_owned(), "30000/1001".parse().unwrap()));
    assert_eq!(after.bundles, before.bundles, "and nothing else");
    let text = underover::files::show_text(&after, std::path::Path::new(""));
    assert!(text.contains("venue = \"Harbour hall\"\n"), "{text}");
    window.state_mut().act(Action::Undo);
    window.run();
    assert_eq!(show(&window), before, "one step");
    // Nothing changed is no step.
    let steps = window.state().work().history().done().len();
    window.state_mut().act(Action::Ask(sheet));
    window.run();
    key(&mut window, Modifiers::NONE, Key::Enter);
    assert_eq!(window.state().work().history().done().len(), steps);
}
