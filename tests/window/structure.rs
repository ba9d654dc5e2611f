//! The structure beside the picture: bundles, levels and clips, driven as a person drives them; there is no display.

use std::fs;

use crate::driving::*;
use egui::{Key, Modifiers, PointerButton, Pos2, Rect, vec2};
use egui_kittest::kittest::Queryable as _;
use underover::edit::{Edit, Named, Pin, Spot, StructureEdit, Work, level_orders};
use underover::files::Document;
use underover::show::clip::FootageName;
use underover::show::{Bundle, Clip, Level, Scope, Show};
use underover::window::{Action, Dialog, Shown, Tab, ThemeChoice};

fn opened() -> Window {
    window(desk(work("night-ferry"), None))
}

fn rect(window: &Window, label: &str) -> Rect {
    window.get_by_label(label).rect()
}

fn levels(window: &Window, bundle: usize) -> Vec<String> {
    show(window).bundles[bundle].levels.iter().map(|level| level.name.clone()).collect()
}

fn undo(window: &mut Window) {
    key(window, Modifiers::COMMAND, Key::Z);
}

fn right_press(window: &mut Window, label: &str) {
    let at = middle(window, label);
    window.hover_at(at);
    window.step();
    for pressed in [true, false] {
        let button = PointerButton::Secondary;
        window.event(egui::Event::PointerButton { pos: at, button, pressed, modifiers: Modifiers::NONE });
        window.step();
    }
    window.run();
}

/// The place of a row at which it is taken hold of: its name, clear of its signs.
fn grip(window: &Window, label: &str) -> Pos2 {
    let rect = rect(window, label);
    rect.left_top() + vec2(rect.width() * 0.7, 9.0)
}

#[test]
fn what_lies_over_the_rest_stands_on_top() {
    let window = opened();
    let tops =
        ["Bundle signs", "Level mark", "Bundle picture", "Level rigging", "Level windows", "Level crossing"]
            .map(|label| rect(&window, label).top());
    assert!(tops.is_sorted(), "{tops:?}");
    let label = "Clip waves, waits for its turn";
    assert!(rect(&window, label).top() > rect(&window, "Level crossing").top());
    assert_eq!(nameless(&window), Vec::<String>::new());
}

#[test]
fn a_level_is_dragged_under_another_and_what_would_be_is_said_before_it_is_dropped() {
    let mut window = opened();
    assert_eq!(levels(&window, 0), ["crossing", "windows", "rigging"]);
    let (from, to) =
        (grip(&window, "Level rigging"), rect(&window, "Clip harbour").left_bottom() + vec2(60.0, 1.0));
    carry(&mut window, from, to);
    assert!(window.query_by_label("If dropped here:").is_some());
    assert!(window.query_by_label("Move level:picture/rigging").is_some());
    assert_eq!(levels(&window, 0), ["crossing", "windows", "rigging"], "nothing is changed yet");
    window.drop_at(to);
    window.run();
    assert_eq!(levels(&window, 0), ["rigging", "crossing", "windows"]);
    assert_eq!(window.state().view().scope, Scope::Level(0, 0), "what was moved is selected");
    undo(&mut window);
    assert_eq!(levels(&window, 0), ["crossing", "windows", "rigging"]);
    assert_eq!(window.state().view().scope, Scope::Level(0, 2), "the selection goes back with it");
    // Given up, it changes nothing.
    let from = grip(&window, "Level rigging");
    carry(&mut window, from, to);
    key(&mut window, Modifiers::NONE, Key::Escape);
    window.drop_at(to);
    window.run();
    assert!(window.state().work().history().done().is_empty());
    assert_eq!(window.state().view().part, None);
}

#[test]
fn levels_go_to_another_bundle_clips_to_another_level_and_bundles_over_another() {
    let mut window = opened();
    let to = rect(&window, "Level mark").left_top() + vec2(60.0, 0.0);
    let from = grip(&window, "Level windows");
    drag(&mut window, from, to);
    assert_eq!(levels(&window, 1), ["mark", "windows"]);
    assert_eq!(levels(&window, 0), ["crossing", "rigging"]);
    undo(&mut window);
    let from = grip(&window, "Bundle picture");
    let to = rect(&window, "Bundle signs").left_top() + vec2(60.0, 1.0);
    drag(&mut window, from, to);
    assert_eq!(show(&window).bundles[1].name, "picture");
    undo(&mut window);
    let from = grip(&window, "Clip waves, waits for its turn");
    let to = rect(&window, "Clip ferry windows").left_top() + vec2(60.0, 1.0);
    drag(&mut window, from, to);
    assert_eq!(show(&window).bundles[0].levels[1].clips[0].name, "waves");
    undo(&mut window);
    // The only level of a bundle stays, and the window says why.
    let from = grip(&window, "Level mark");
    let to = rect(&window, "Level crossing").left_top() + vec2(60.0, 1.0);
    drag(&mut window, from, to);
    assert!(window.state().work().history().done().is_empty());
    assert!(
        window.state().view().said.contains("bundle:signs would be left without a level"),
        "{}",
        window.state().view().said
    );
}

#[test]
fn an_eye_hides_and_shows_again() {
    let mut window = opened();
    press(&mut window, "Hide windows");
    assert!(show(&window).is_hidden(Scope::Level(0, 1)));
    assert!(window.query_by_label("Level windows, hidden").is_some());
    assert!(window.query_by_label("Clip ferry windows, in what is hidden").is_some());
    press(&mut window, "windows is hidden");
    assert!(!show(&window).is_hidden(Scope::Level(0, 1)));
    undo(&mut window);
    assert!(show(&window).is_hidden(Scope::Level(0, 1)));
}

#[test]
fn something_is_shown_alone_as_a_way_of_looking_which_is_said_and_kept_nowhere() {
    let mut window = opened();
    press(&mut window, "Show windows alone");
    assert_eq!(window.state().view().alone, Some(Scope::Level(0, 1)));
    assert!(window.query_by_label("windows is shown alone").is_some());
    assert!(window.query_by_label("level:picture/windows alone").is_some(), "over the picture, too");
    assert!(!window.state().work().is_changed());
    // It stays with its level wherever that goes.
    let edit = StructureEdit::Move { what: Scope::Level(0, 1), into: Scope::Level(0, 0) };
    window.state_mut().act(Action::Edit(Edit::Structure(edit)));
    window.run();
    assert_eq!(window.state().view().alone, Some(Scope::Level(0, 0)));
    assert!(show(&window).bundles.iter().all(|bundle| !bundle.hidden));
    window.state_mut().act(Action::Scope(Scope::Level(0, 0)));
    window.run();
    key(&mut window, Modifiers::SHIFT, Key::S);
    assert_eq!(window.state().view().alone, None);
}

#[test]
fn the_keyboard_moves_through_the_column_and_moves_what_is_in_hand() {
    let mut window = opened();
    key(&mut window, Modifiers::NONE, Key::Q);
    assert_eq!(window.state().view().scope, PICTURE);
    assert_eq!(window.state().view().selected, None);
    key(&mut window, Modifiers::NONE, Key::ArrowDown);
    key(&mut window, Modifiers::NONE, Key::ArrowDown);
    assert_eq!(window.state().view().scope, Scope::Clip(0, 2, 0));
    key(&mut window, Modifiers::NONE, Key::ArrowUp);
    assert_eq!(window.state().view().scope, Scope::Level(0, 2));
    key(&mut window, Modifiers::ALT, Key::ArrowDown);
    assert_eq!(levels(&window, 0), ["crossing", "rigging", "windows"]);
    key(&mut window, Modifiers::ALT, Key::ArrowDown);
    assert_eq!(levels(&window, 0), ["rigging", "crossing", "windows"], "it stays in hand");
    key(&mut window, Modifiers::ALT, Key::ArrowDown);
    assert!(window.state().view().said.contains("end"), "{}", window.state().view().said);
    for _ in 0..3 {
        key(&mut window, Modifiers::ALT, Key::ArrowUp);
    }
    assert_eq!(levels(&window, 1), ["rigging", "mark"], "over the border into the next bundle");
    assert_eq!(window.state().view().scope, Scope::Level(1, 0));
    key(&mut window, Modifiers::NONE, Key::O);
    assert!(show(&window).is_hidden(Scope::Level(1, 0)));
    key(&mut window, Modifiers::COMMAND, Key::D);
    assert_eq!(levels(&window, 1), ["rigging", "rigging 2", "mark"]);
    assert_eq!(window.state().view().scope, Scope::Level(1, 1), "what is new is selected");
    key(&mut window, Modifiers::NONE, Key::Q);
    key(&mut window, Modifiers::NONE, Key::Delete);
    assert_eq!(levels(&window, 1), ["rigging", "mark"]);
}

#[test]
fn a_row_is_renamed_where_it_stands() {
    let mut window = opened();
    press(&mut window, "Level windows");
    key(&mut window, Modifiers::NONE, Key::Enter);
    assert_eq!(window.state().view().renaming, Some(Scope::Level(0, 1)));
    window.run();
    key(&mut window, Modifiers::COMMAND, Key::A);
    write(&mut window, "portholes");
    key(&mut window, Modifiers::NONE, Key::Enter);
    assert_eq!(levels(&window, 0)[1], "portholes");
    assert_eq!(window.state().view().renaming, None);
    // The row has the keyboard again.
    key(&mut window, Modifiers::NONE, Key::Enter);
    window.run();
    key(&mut window, Modifiers::COMMAND, Key::A);
    write(&mut window, "nothing");
    key(&mut window, Modifiers::NONE, Key::Escape);
    assert_eq!(levels(&window, 0)[1], "portholes", "given up");
    key(&mut window, Modifiers::NONE, Key::Enter);
    window.run();
    key(&mut window, Modifiers::COMMAND, Key::A);
    write(&mut window, "rigging");
    key(&mut window, Modifiers::NONE, Key::Enter);
    assert!(window.state().view().said.contains("taken"), "{}", window.state().view().said);
}

#[test]
fn opacity_is_dragged_on_the_row_as_one_step_and_the_blend_mode_chosen_there() {
    let mut window = opened();
    let at = rect(&window, "rigging: soft-light, opacity 30 %");
    drag(
        &mut window,
        at.left_center() + vec2(at.width() * 0.3, 0.0),
        at.left_center() + vec2(at.width() * 0.75, 0.0),
    );
    let opacity = show(&window).bundles[0].levels[2].mix.opacity;
    assert!((opacity - 0.75).abs() < 0.03, "{opacity}");
    assert_eq!(window.state().work().history().done().len(), 1);
    undo(&mut window);
    press(&mut window, "rigging: soft-light, opacity 30 %");
    assert!(window.query_all_by_label("opacity").next().is_some());
}

#[test]
fn a_menu_on_the_right_button_is_titled_with_the_thing() {
    let mut window = opened();
    let has = |window: &Window, labels: &[&str]| {
        for label in labels {
            assert!(window.query_all_by_label(label).next().is_some(), "{label}");
        }
    };
    right_press(&mut window, "Bundle picture");
    has(
        &window,
        &[
            "Bundle picture",
            "Rename",
            "Hide",
            "Show alone",
            "Give it a colour",
            "Levels in other orders \u{2026}",
            "Remove",
        ],
    );
    press(&mut window, "Duplicate");
    assert_eq!(show(&window).bundles.len(), 3);
    undo(&mut window);
    right_press(&mut window, "Clip waves, waits for its turn");
    press(&mut window, "Show this clip");
    assert_eq!(show(&window).bundles[0].levels[0].showing, 0);
    window.state_mut().act(Action::Scope(PICTURE));
    window.run();
    right_press(&mut window, "Scope bundle picture, 5 effects");
    has(&window, &["Bundle picture", "Show alone"]);
    key(&mut window, Modifiers::NONE, Key::Escape);
    right_press(&mut window, "Effect 2 flash-gate");
    has(&window, &["Effect 2 flash-gate", "Switch off"]);
}

#[test]
fn a_colour_is_chosen_from_the_menu_and_stands_in_the_file() {
    let mut window = opened();
    right_press(&mut window, "Level windows");
    press(&mut window, "Give it a colour");
    press(&mut window, "sky-blue");
    assert_eq!(show(&window).colour(Scope::Level(0, 1)).unwrap().to_string(), "sky-blue");
    assert!(window.state().work().text(std::path::Path::new("")).contains("colour = \"sky-blue\""));
    window.state_mut().act(Action::Tab(Tab::Hands));
    window.run();
    press(&mut window, "Add a control");
    press(&mut window, "Colour of control 1");
    press(&mut window, "vermilion");
    assert_eq!(show(&window).controls[0].colour.unwrap().to_string(), "vermilion");
}

#[test]
fn what_is_added_is_selected() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("quay.png");
    image::RgbaImage::from_pixel(6, 4, image::Rgba([200, 40, 90, 255])).save(&path).unwrap();
    let mut window = opened();
    press(&mut window, "Add to the structure");
    press(&mut window, "A level in this bundle");
    press(&mut window, "lamp");
    assert_eq!(levels(&window, 0).last().unwrap(), "lamp");
    assert_eq!(window.state().view().scope, Scope::Level(0, 3));
    for (into, lands) in [
        (Scope::Level(0, 3), Scope::Clip(0, 3, 1)),
        (Scope::Bundle(1), Scope::Level(1, 1)),
        (Scope::Global, Scope::Bundle(2)),
    ] {
        window.state_mut().act(Action::Ask(Dialog::AddFile(into)));
        window.run();
        window.state_mut().act(Action::AddFile(into, path.clone()));
        window.run();
        assert_eq!(window.state().view().scope, lands);
        assert_eq!(window.state().view().dialog, None);
        let place = window.state().view().clip;
        assert!(
            matches!(&show(&window).clip(place).unwrap().footage, FootageName::File { path: found, .. } if *found == path)
        );
    }
    // Files that were chosen elsewhere are seen before they are added, all of them by one Enter.
    let film = folder.path().join("crossing.gif");
    image::RgbaImage::from_pixel(8, 6, image::Rgba([20, 140, 90, 255])).save(&film).unwrap();
    let before = show(&window).bundles[0].levels[0].clips.len();
    let files = vec![path.clone(), film, folder.path().join("gone.png")];
    window.state_mut().act(Action::Ask(Dialog::AddFiles(Scope::Level(0, 0), files.clone())));
    window.step();
    until(&mut window, "their pictures are there", |desk| desk.shelves().stills.on_the_way() == 0);
    assert!(window.state_mut().shelves().stills.problem().is_some(), "one of them is gone");
    assert!(label_with(&window, "crossing.gif").is_some());
    window.state_mut().act(Action::Ask(Dialog::AddFiles(Scope::Level(0, 0), files[..2].to_vec())));
    window.run();
    key(&mut window, Modifiers::NONE, Key::Enter);
    assert_eq!(show(&window).bundles[0].levels[0].clips.len(), before + 2);
    assert_eq!(window.state().view().scope, Scope::Clip(0, 0, before + 1));
    // Of a folder that is left again no more pictures are made.
    let large = folder.path().join("large.png");
    image::RgbaImage::from_fn(1600, 1200, |x, y| image::Rgba([(x * y % 251) as u8, x as u8, y as u8, 255]))
        .save(&large)
        .unwrap();
    let many: Vec<_> = (0..12).map(|nth| folder.path().join(format!("large-{nth}.png"))).collect();
    many.iter().for_each(|file| fs::copy(&large, file).map(|_| ()).unwrap());
    window.state_mut().act(Action::Ask(Dialog::AddFiles(Scope::Global, many)));
    window.run_steps(2);
    window.state_mut().act(Action::Close);
    window.run_steps(3);
    assert_eq!(window.state_mut().shelves().stills.on_the_way(), 0);
    // What is no footage is refused, and its path stands in the sheet again.
    let wrong = folder.path().join("notes.txt");
    fs::write(&wrong, "no picture").unwrap();
    let before = show(&window);
    window.state_mut().act(Action::Ask(Dialog::AddFile(Scope::Global)));
    window.run();
    window.state_mut().act(Action::AddFile(Scope::Global, wrong));
    window.run();
    assert!(
        matches!(&window.state().view().dialog, Some(Dialog::Report { text, .. }) if text.contains("notes.txt"))
    );
    press(&mut window, "Close");
    assert_eq!(window.state().view().dialog, Some(Dialog::AddFile(Scope::Global)));
    assert!(label_with(&window, "notes.txt").is_some());
    assert_eq!(show(&window), before);
}

#[test]
fn an_order_of_levels_is_adopted_from_pictures_of_all_of_them() {
    let mut window = opened();
    right_press(&mut window, "Bundle picture");
    press(&mut window, "Levels in other orders \u{2026}");
    let orders = level_orders(&show(&window), 0);
    assert_eq!(orders.len(), 6, "three levels stand in six orders");
    let said = |order: &[usize]| {
        let names: Vec<String> = order.iter().map(|&at| levels(&window, 0)[at].clone()).collect();
        let now = if order.is_sorted() { ", as it is now" } else { "" };
        format!("Levels {}{now}", names.join(", "))
    };
    for order in &orders {
        assert!(window.query_by_label(&said(order)).is_some(), "{}", said(order));
    }
    press(&mut window, "Levels windows, rigging, crossing");
    assert_eq!(levels(&window, 0), ["windows", "rigging", "crossing"]);
    undo(&mut window);
    assert_eq!(levels(&window, 0), ["crossing", "windows", "rigging"]);
}

#[test]
fn what_is_selected_pinned_and_looked_at_goes_along_with_its_level() {
    let mut window = opened();
    let level = Scope::Level(0, 1);
    let chain = show(&window).chain(level).clone();
    assert!(!chain.is_empty());
    let spot = Spot { scope: level, at: 0 };
    let desk = window.state_mut();
    desk.act(Action::Select(spot));
    desk.act(Action::Show(Shown::After(spot)));
    desk.act(Action::Pin(Pin::new(level, chain)));
    let edit = StructureEdit::Move { what: Scope::Level(0, 0), into: Scope::Level(0, 3) };
    desk.act(Action::Edit(Edit::Structure(edit)));
    let now = Scope::Level(0, 0);
    assert_eq!(window.state().view().pins[0].scope, now);
    assert_eq!(window.state().view().shown, Shown::After(Spot { scope: now, at: 0 }));
    window.state_mut().act(Action::Undo);
    window.run();
    assert_eq!(window.state().view().pins[0].scope, level);
    let rename = Edit::Rename { what: Named::Scope(level), name: "portholes".to_owned() };
    window.state_mut().act(Action::Edit(rename));
    window.run();
    assert_eq!(window.state().view().pins[0].scope, level);
}

#[test]
fn the_column_is_closed_and_opened_again() {
    let mut window = opened();
    let before = rect(&window, "The picture");
    press(&mut window, "Close the structure");
    assert!(window.query_by_label("Level windows").is_none());
    assert!(rect(&window, "The picture").width() > before.width(), "the picture has its room");
    key(&mut window, Modifiers::NONE, Key::Q);
    assert!(window.query_by_label("Level windows").is_some());
    key(&mut window, Modifiers::SHIFT, Key::Q);
    assert!(window.query_by_label("Level windows").is_none());
}

/// A show of many levels with the longest names.
pub(crate) fn crowded() -> Work {
    let name = |n: usize| {
        format!("{n:02} {} end", "the lamps along the northern quay ".repeat(3))
            .chars()
            .take(76)
            .collect::<String>()
            + &format!(" {n:02}")
    };
    let level = |n: usize| {
        let clip = Clip { hidden: n.is_multiple_of(7), ..Clip::generated("lamp") };
        Level { colour: "orange".parse().ok(), hidden: n.is_multiple_of(5), ..Level::of(&name(n), clip) }
    };
    let bundles = (0..2).map(|b| Bundle::of(&name(90 + b), (0..20).map(level).collect())).collect();
    let show = Show { bundles, ..(**work("night-ferry").show()).clone() };
    Work::new(Document::Show(show), None)
}

#[test]
fn forty_levels_with_the_longest_names_stay_inside_the_column() {
    for (width, height, percent) in [(1280.0, 800.0, 100), (1024.0, 640.0, 100), (1280.0, 800.0, 160)] {
        let mut window = window_of(desk(crowded(), None), vec2(width, height));
        window.state_mut().act(Action::TextSize(percent));
        window.state_mut().act(Action::Theme(ThemeChoice::Light));
        window.run();
        let room = rect(&window, "Structure");
        let rows: Vec<Rect> = labels(&window)
            .into_iter()
            .filter(|label| label.starts_with("Level ") || label.starts_with("Bundle "))
            .filter_map(|label| window.query_all_by_label(&label).next().map(|node| node.rect()))
            .collect();
        assert!(rows.len() >= 40, "{}", rows.len());
        let widest = rows.iter().map(|row| row.width()).fold(0.0, f32::max);
        assert!(rows.iter().all(|row| row.left() >= room.left() - 1.0 && row.width() <= widest + 0.5));
        let picture = rect(&window, "The picture");
        assert!(rows.iter().all(|row| row.right() <= picture.left()), "{width}x{height} {percent} %");
        // A row is as high whatever it is called.
        assert!(rows.iter().all(|row| (row.height() - rows[0].height()).abs() < 0.5));
    }
}
