//! The bar at the top: the show's name, and playing.

use crate::driving::*;
use egui::{Key, Modifiers, Rect, vec2};
use egui_kittest::kittest::Queryable as _;
use underover::edit::{Edit, Named, StructureEdit};
use underover::show::Scope;
use underover::window::Action;

const CONTROLS: [&str; 12] = [
    "File",
    "Edit",
    "View",
    "Beat",
    "Keys",
    "Play",
    "beat 1 of 4",
    "Tempo in BPM",
    "Tap",
    "Loop, now off",
    "Undo",
    "Redo",
];

#[test]
fn the_bar_holds_playing_and_nothing_in_it_moves_with_the_length_of_a_name() {
    for size in [vec2(1024.0, 640.0), vec2(1280.0, 800.0)] {
        let mut window = window_of(desk(work("night-ferry"), None), size);
        let places =
            |window: &Window| CONTROLS.map(|label| window.get_all_by_label(label).next().unwrap().rect());
        let before = places(&window);
        for (at, rect) in before.iter().enumerate() {
            assert!(
                Rect::from_min_size(egui::Pos2::ZERO, size).contains_rect(*rect),
                "{} at {size}",
                CONTROLS[at]
            );
            assert!(rect.bottom() <= 40.0, "{} stands in the bar", CONTROLS[at]);
            let over = before[..at].iter().position(|other| other.shrink(0.5).intersects(rect.shrink(0.5)));
            assert_eq!(over.map(|other| CONTROLS[other]), None, "{} lies over it at {size}", CONTROLS[at]);
        }
        let name = "The last night ferry of the season from the outer islands to the old harbour".to_owned();
        window.state_mut().act(Action::Edit(Edit::Rename { what: Named::Show, name }));
        window.run();
        assert_eq!(places(&window), before, "at {size}");
    }
}

#[test]
fn the_beat_is_seen_as_a_dot_and_a_number_and_played_tapped_and_looped_from_the_bar() {
    let mut window = window(desk(work("night-ferry"), None));
    // Beats of a bar of four, from 0 on (arithmetic); before the start the bar goes on backwards.
    for (beats, dot) in [(0.0, 1), (1.0, 2), (3.75, 4), (4.0, 1), (-1.0, 4)] {
        window.state_mut().act(Action::Beats(beats));
        window.run();
        let said = format!("beat {dot} of 4");
        assert!(window.query_by_label(&said).is_some(), "{said} at {beats}");
    }
    window.get_by_label("Play").click();
    window.step();
    window.step();
    assert!(window.state().view().playing);
    press(&mut window, "Pause");
    assert!(!window.state().view().playing);
    press(&mut window, "Loop, now off");
    press(&mut window, "Loop: 8");
    assert_eq!(window.state().view().looped, Some(8));
    window.get_all_by_label("Tempo in BPM").last().unwrap().focus();
    window.run();
    key(&mut window, Modifiers::COMMAND, Key::A);
    write(&mut window, "120");
    key(&mut window, Modifiers::NONE, Key::Enter);
    assert_eq!(show(&window).tempo_bpm, 120.0);
}

#[test]
fn what_is_hidden_is_told_at_the_bottom_and_pressed_is_selected_in_the_structure() {
    let mut window = window(desk(work("night-ferry"), None));
    assert_eq!(label_with(&window, "hidden"), None);
    for what in [Scope::Bundle(1), Scope::Level(0, 0)] {
        let hide = StructureEdit::Hide { what, hidden: true };
        window.state_mut().act(Action::Edit(Edit::Structure(hide)));
    }
    window.state_mut().act(Action::ShowStructure(false));
    window.run();
    press(&mut window, "2 parts hidden");
    assert!(show(&window).is_hidden(window.state().view().scope));
    assert!(!window.state().view().preferences.hides_structure);
}
