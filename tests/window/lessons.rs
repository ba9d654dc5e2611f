//! Lessons in the window, taken as a person takes them; there is no display.

use std::fs;
use std::path::Path;

use crate::driving::*;
use egui::{Key, Modifiers, vec2};
use egui_kittest::kittest::Queryable as _;
use underover::edit::{Edit, Named};
use underover::lessons::Lesson;
use underover::window::{Desk, Dialog, Folders, Pictures, Prover, Tab};

fn desk_in(state: Option<&Path>, data: Option<&Path>) -> Desk {
    let catalogue = catalogue();
    let pictures = Pictures::none(&catalogue);
    let folders = Folders { state: state.map(Path::to_owned), config: None, data: data.map(Path::to_owned) };
    Desk::new(work("night-ferry"), catalogue, pictures, Prover::new(None, || ()), folders)
}

/// A window high enough that a whole lesson shows.
fn high(desk: Desk) -> Window {
    window_of(desk, vec2(1400.0, 2600.0))
}

fn open(window: &Window) -> std::sync::Arc<Lesson> {
    window.state().lessons().lesson().expect("a lesson is open").clone()
}

#[test]
fn a_newcomer_is_shown_the_way_to_the_lessons_by_one_line_until_they_have_been_there() {
    let state = tempfile::tempdir().unwrap();
    let line = "New to the order of effects? A few short lessons";
    let mut window = high(desk_in(Some(state.path()), None));
    assert!(window.state().view().dialog.is_none(), "nothing is pushed in front of the window");
    press(&mut window, line);
    assert_eq!(window.state().view().tab, Tab::Lessons);
    key(&mut window, Modifiers::NONE, Key::Num1);
    assert!(window.query_by_label(line).is_none());
    // Who has answered a lesson is no newcomer any more.
    key(&mut window, Modifiers::NONE, Key::Num5);
    press(&mut window, "Lesson 1: Colour over a flash, or under it");
    let says = open(&window).choices[0].says.clone();
    press(&mut window, &says);
    drop(window);
    let again = high(desk_in(Some(state.path()), None));
    assert!(again.query_by_label(line).is_none());
}

#[test]
fn a_lesson_asks_first_and_shows_its_answer_after_a_guess() {
    let state = tempfile::tempdir().unwrap();
    let mut window = high(desk_in(Some(state.path()), None));
    key(&mut window, Modifiers::NONE, Key::Num5);
    press(&mut window, "Lesson 1: Colour over a flash, or under it");
    let lesson = open(&window);
    assert!(window.query_by_label(&lesson.remember).is_none(), "the answer shows before a guess");
    assert!(window.query_by_label("Open this show").is_none());
    let guess = (lesson.answer() + 1) % lesson.choices.len();
    press(&mut window, &lesson.choices[guess].says);
    assert!(window.query_by_label(&lesson.remember).is_some());
    assert!(window.query_by_label_contains("so it is").is_some());
    assert!(window.query_by_label_contains("your guess").is_some());
    let kept = fs::read_to_string(state.path().join("lessons.txt")).unwrap();
    assert_eq!(kept, format!("{} {}\n", guess + 1, lesson.name));
    press(&mut window, "Ask me again");
    assert!(window.query_by_label(&lesson.remember).is_none());
    assert_eq!(fs::read_to_string(state.path().join("lessons.txt")).unwrap(), "");
}

#[test]
fn keys_lead_from_lesson_to_lesson_and_stop_at_both_ends() {
    let mut window = high(desk_in(None, None));
    key(&mut window, Modifiers::NONE, Key::N);
    assert_eq!(window.state().lessons().open, None, "elsewhere the key does nothing");
    key(&mut window, Modifiers::NONE, Key::Num5);
    key(&mut window, Modifiers::NONE, Key::N);
    assert_eq!(window.state().lessons().open, Some(0));
    key(&mut window, Modifiers::SHIFT, Key::N);
    assert_eq!(window.state().lessons().open, Some(0));
    let count = window.state().lessons().offered.len();
    for _ in 0..count + 3 {
        key(&mut window, Modifiers::NONE, Key::N);
    }
    assert_eq!(window.state().lessons().open, Some(count - 1));
    press(&mut window, "Previous lesson");
    assert_eq!(window.state().lessons().open, Some(count - 2));
    press(&mut window, "All lessons");
    assert_eq!(window.state().lessons().open, None);
}

#[test]
fn the_show_of_a_lesson_opens_on_its_effects_and_asks_before_changes_are_lost() {
    let mut window = high(desk_in(None, None));
    let before = show(&window).name;
    let rename = Edit::Rename { what: Named::Show, name: "Last crossing".to_owned() };
    window.state_mut().act(underover::window::Action::Edit(rename));
    key(&mut window, Modifiers::NONE, Key::Num5);
    press(&mut window, "Lesson 2: Edges before or after the colours part");
    let lesson = open(&window);
    press(&mut window, &lesson.choices[0].says);
    press(&mut window, "Open this show");
    assert!(matches!(window.state().view().dialog, Some(Dialog::Losing(_))));
    assert_eq!(show(&window).name, "Last crossing");
    key(&mut window, Modifiers::NONE, Key::Escape);
    key(&mut window, Modifiers::COMMAND, Key::Z);
    assert_eq!(show(&window).name, before);
    press(&mut window, "Open this show");
    let tried = &lesson.pictures[lesson.next.picture];
    assert_eq!(show(&window), *tried.show);
    let view = window.state().view();
    assert_eq!((view.scope, view.selected, view.tab), (tried.scope, Some(0), Tab::Lessons));
    assert!(!view.playing && window.state().work().file().is_none());
    assert!(!window.state().work().is_changed());
}

#[test]
fn a_wrong_lesson_of_ones_own_is_named_with_its_place_and_hides_no_other() {
    let data = tempfile::tempdir().unwrap();
    let folder = data.path().join("lessons");
    fs::create_dir(&folder).unwrap();
    fs::write(folder.join("a-wrong.toml"), "format = \"underover/lesson/1\"\ntitel = \"x\"\n").unwrap();
    let right = fs::read_to_string("presets/lessons/03-mirror-and-slide.toml").unwrap();
    fs::write(folder.join("b-right.toml"), right.replace("A mirror and a slide", "Our own mirror")).unwrap();
    let mut window = high(desk_in(None, Some(data.path())));
    key(&mut window, Modifiers::NONE, Key::Num5);
    assert!(window.query_by_label_contains("a-wrong.toml:2:1: unknown key `titel`").is_some());
    assert!(window.query_by_label_contains("Our own mirror").is_some());
    assert!(window.query_by_label_contains("Colour over a flash").is_some());
}

#[test]
fn every_control_of_the_lessons_has_a_name() {
    let state = tempfile::tempdir().unwrap();
    let mut window = high(desk_in(Some(state.path()), None));
    key(&mut window, Modifiers::NONE, Key::Num5);
    assert_eq!(nameless(&window), [""; 0]);
    for at in 0..window.state().lessons().offered.len() {
        key(&mut window, Modifiers::NONE, Key::N);
        assert_eq!(nameless(&window), [""; 0], "lesson {at}");
        let says = open(&window).choices[0].says.clone();
        press(&mut window, &says);
        assert_eq!(nameless(&window), [""; 0], "the answer of lesson {at}");
    }
}

#[test]
fn pictures_of_a_lesson_are_made_on_the_way_that_all_pictures_take() {
    let mut window = window_of(desk_with_pictures(small_demo("64x36")), vec2(1400.0, 2600.0));
    until(&mut window, "the first pictures are there", |desk| desk.pictures().missing() == 0);
    let before = window.state_mut().pictures().rendered();
    key(&mut window, Modifiers::NONE, Key::Num5);
    key(&mut window, Modifiers::NONE, Key::N);
    window.step();
    until(&mut window, "the lesson's pictures are there", |desk| desk.pictures().missing() == 0);
    assert!(window.state_mut().pictures().rendered() > before);
    assert!(window.state_mut().pictures().problem().is_none());
}
