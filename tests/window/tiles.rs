//! Tiles: how large they are, what they show in the large picture before they are pressed, and that they can be carried
//! there.

use std::fs;
use std::time::{Duration, Instant};

use crate::driving::*;
use egui::{Event, Key, Modifiers, Pos2, Rect, pos2, vec2};
use egui_kittest::kittest::{NodeT as _, Queryable as _};
use image::RgbaImage;
use underover::base::frame::Frame;
use underover::edit::Edit;
use underover::gpu::Gpu;
use underover::order::marks;
use underover::show::Scope;
use underover::window::{Action, Desk, Folders, Offscreen, Pictures, Prover, Row, Shown, Tab, Tried, WallBy};

/// Longer than the pointer has to rest on a thing until it is tried.
const RESTS: usize = 4;

/// The tiles of the wall, by the ends of what they are to those who listen.
fn tiles(window: &Window) -> Vec<(String, Rect)> {
    let of_wall = |label: &String| label.starts_with("Order ") && label.contains(": ");
    let labels = labels(window).into_iter().filter(of_wall);
    let mut tiles: Vec<(String, Rect)> =
        labels.map(|label| (label.clone(), window.get_by_label(&label).rect())).collect();
    // As one reads them.
    tiles.sort_by(|(_, a), (_, b)| (a.top(), a.left()).partial_cmp(&(b.top(), b.left())).unwrap());
    tiles
}

fn wall_of_orders(mut window: Window) -> Window {
    window.state_mut().act(Action::WallBy(WallBy::Orders));
    until(&mut window, "every order is on the wall", |desk| desk.on_wall().len() > 20);
    window.run();
    window
}

/// A tile of another order than the current one.
fn other_tile(window: &Window) -> (String, Pos2) {
    let (label, rect) =
        tiles(window).into_iter().find(|(label, _)| !label.contains("current")).expect("another order");
    (label, rect.center())
}

/// Points at a place until what stands there is tried.
fn rest_at(window: &mut Window, at: Pos2) {
    window.hover_at(at);
    window.run_steps(RESTS);
}

fn tried(window: &Window) -> Option<Tried> {
    window.state().view().preview.as_ref().map(|preview| preview.tried.clone())
}

fn steps(window: &Window) -> usize {
    window.state().work().history().done().len()
}

#[test]
fn the_size_of_tiles_is_the_persons_and_is_remembered() {
    let config = tempfile::tempdir().unwrap();
    let desk = || {
        let catalogue = catalogue();
        let folders = Folders { config: Some(config.path().to_owned()), ..Folders::default() };
        Desk::new(
            work("night-ferry"),
            catalogue.clone(),
            Pictures::none(&catalogue),
            Prover::new(None, || ()),
            folders,
        )
    };
    let mut first = wall_of_orders(window(desk()));
    let usual = tiles(&first)[0].1.width();
    let slider = first.get_by_label("Size of the tiles").rect();
    let at = slider.right_center() - vec2(1.0, 0.0);
    first.drag_at(at);
    first.step();
    first.drop_at(at);
    first.run();
    let percent = first.state().view().preferences.tile_percent;
    assert!(percent > 250, "{percent}");
    let large = tiles(&first)[0].1.width();
    assert!(large > 1.9 * usual, "{usual} {large}");
    let file = fs::read_to_string(config.path().join("preferences.toml")).unwrap();
    assert!(file.contains(&format!("tile_percent = {percent}")), "{file}");
    // So it is at the next start, and Ctrl and the wheel make tiles smaller again.
    let mut next = wall_of_orders(window(desk()));
    assert_eq!(next.state().view().preferences.tile_percent, percent);
    assert_eq!(tiles(&next)[0].1.width(), large);
    next.hover_at(tiles(&next)[0].1.center());
    next.step();
    for _ in 0..6 {
        next.event(Event::Zoom(0.7));
        next.step();
    }
    next.run_steps(3);
    assert_eq!(next.state().view().preferences.tile_percent, 50);
    assert!(tiles(&next)[0].1.width() < usual);
    let file = fs::read_to_string(config.path().join("preferences.toml")).unwrap();
    assert!(file.contains("tile_percent = 50"), "{file}");
    // Keys go from size to size, and back to the usual one.
    next.remove_cursor();
    for (pressed, percent) in [(Key::Plus, 65), (Key::Equals, 80), (Key::Minus, 65), (Key::Num0, 100)] {
        key(&mut next, Modifiers::NONE, pressed);
        assert_eq!(next.state().view().preferences.tile_percent, percent, "{pressed:?}");
    }
    assert_eq!(tiles(&next)[0].1.width(), usual);
    let file = fs::read_to_string(config.path().join("preferences.toml")).unwrap();
    assert!(!file.contains("tile_percent"), "{file}");
    // Elsewhere the wheel does what it does there.
    next.hover_at(pos2(400.0, 80.0));
    next.step();
    next.event(Event::Zoom(2.0));
    next.run_steps(3);
    assert_eq!(next.state().view().preferences.tile_percent, 100);
}

#[test]
fn what_is_said_of_a_tile_covers_nothing_of_the_picture_beside_it() {
    let mut window = wall_of_orders(window(desk(work("night-ferry"), None)));
    let picture = window.state().regions().iter().find(|(name, _)| *name == "picture").unwrap().1;
    let others = |window: &Window| -> Vec<(String, Rect)> {
        tiles(window).into_iter().filter(|(label, _)| !label.contains("current")).collect()
    };
    // The first of a row and the last, whose text has no room beside it.
    let row = others(&window);
    let top = row[0].1.top();
    let last = row.iter().rposition(|(_, rect)| rect.top() == top).unwrap();
    for (label, rect) in [&row[0], &row[last]] {
        rest_at(&mut window, rect.center());
        let code = label.trim_start_matches("Order ").split(':').next().unwrap();
        let said: Vec<Rect> = window
            .get_all_by_label_contains(&format!("{code}: "))
            .filter(|node| node.accesskit_node().role() == egui::accesskit::Role::Label)
            .map(|node| node.rect())
            .filter(|rect| rect.height() > 14.0 && !picture.contains_rect(*rect))
            .collect();
        assert!(!said.is_empty(), "nothing is said of {label}: {:?}", labels(&window));
        assert!(said.iter().all(|rect| rect.left() >= picture.right()), "{label}: {said:?} over {picture}");
        window.remove_cursor();
        window.run_steps(2);
    }
}

#[test]
fn a_tile_is_tried_once_the_pointer_rests_on_it_and_until_it_leaves() {
    let mut window = wall_of_orders(window(desk(work("night-ferry"), None)));
    let (label, at) = other_tile(&window);
    window.hover_at(at);
    window.step();
    assert_eq!(tried(&window), None, "the pointer may be on its way elsewhere");
    window.run_steps(RESTS);
    let Some(Tried::Edit(Edit::Order { scope, order })) = tried(&window) else {
        panic!("{:?}", tried(&window))
    };
    assert_eq!(scope, PICTURE);
    let code = label.trim_start_matches("Order ").split(':').next().unwrap();
    assert_eq!(order.iter().map(|place| (place + 1).to_string()).collect::<String>(), code);
    // One line says what it is.
    assert!(window.query_by_label("Preview:").is_some(), "{:?}", labels(&window));
    assert!(label_with(&window, &format!("{code}: ")).is_some());
    assert_eq!((steps(&window), window.state().view().shown.clone()), (0, Shown::Output));
    // It is gone with the pointer.
    window.hover_at(pos2(20.0, 790.0));
    window.step();
    assert_eq!(tried(&window), None);
    window.step();
    assert!(window.query_by_label("Preview:").is_none());
    // Pressed, it is in the large picture itself; and the one that is there is not tried beside itself.
    window.get_by_label(&label).click();
    window.run_steps(RESTS);
    assert!(matches!(&window.state().view().shown, Shown::Order { .. }));
    assert_eq!(tried(&window), None);
    // What a key makes of it next is not covered either, as long as the pointer stays.
    key(&mut window, Modifiers::NONE, Key::X);
    window.run_steps(RESTS);
    assert!(matches!(&window.state().view().shown, Shown::Pair(_)));
    assert_eq!(tried(&window), None);
}

#[test]
fn what_has_the_keyboard_is_tried_like_what_has_the_pointer() {
    let mut window = wall_of_orders(window(desk(work("night-ferry"), None)));
    let (label, _) = other_tile(&window);
    window.get_by_label(&label).focus();
    window.run_steps(RESTS + 1);
    assert!(matches!(tried(&window), Some(Tried::Edit(Edit::Order { .. }))), "{:?}", tried(&window));
}

#[test]
fn an_effect_to_add_is_tried_under_the_pointer_and_under_the_keys_beside_the_picture() {
    let mut window = window(desk(work("night-ferry"), None));
    key(&mut window, Modifiers::NONE, Key::A);
    window.run_steps(RESTS);
    assert_eq!(tried(&window), None, "nothing is chosen yet");
    let regions = window.state().regions().to_vec();
    let picture = regions.iter().find(|(name, _)| *name == "picture").unwrap().1;
    for part in ["Search effects", "Add mirror"] {
        let rect = window.get_by_label(part).rect();
        assert!(!rect.intersects(picture), "{part} at {rect} lies over the picture {picture}");
    }
    let added = |window: &Window| match tried(window) {
        Some(Tried::Edit(Edit::Add { used, into })) => Some((used.effect.name.clone(), into.scope)),
        _ => None,
    };
    let at = middle(&window, "Add mirror");
    rest_at(&mut window, at);
    assert_eq!(added(&window), Some(("mirror".to_owned(), PICTURE)));
    assert!(label_with(&window, "mirror, over tint").is_some(), "{:?}", labels(&window));
    window.hover_at(pos2(20.0, 790.0));
    window.step();
    assert_eq!(tried(&window), None);
    // By words, and by arrows.
    write(&mut window, "negative");
    window.run_steps(RESTS);
    assert_eq!(added(&window).map(|(name, _)| name), Some("invert".to_owned()));
    key(&mut window, Modifiers::NONE, Key::Escape);
    window.run_steps(2);
    assert_eq!((tried(&window), steps(&window)), (None, 0));
    key(&mut window, Modifiers::NONE, Key::A);
    key(&mut window, Modifiers::NONE, Key::ArrowDown);
    key(&mut window, Modifiers::NONE, Key::ArrowDown);
    window.run_steps(RESTS);
    let (second, _) = added(&window).expect("the arrows chose one");
    key(&mut window, Modifiers::NONE, Key::Enter);
    assert_eq!(names(&window, PICTURE)[1], second, "what was tried is what was added");
    assert_eq!(steps(&window), 1);
}

#[test]
fn a_card_of_the_library_is_tried_before_it_is_put_anywhere() {
    let data = tempfile::tempdir().unwrap();
    fs::create_dir_all(data.path().join("chains")).unwrap();
    let text = "format = \"underover/chain/1\"\nname = \"Harbour lines\"\n[[effect]]\nuse = \"edge-find\"\n";
    fs::write(data.path().join("chains/harbour-lines.toml"), text).unwrap();
    let catalogue = catalogue();
    let folders = Folders { data: Some(data.path().to_owned()), ..Folders::default() };
    let desk = Desk::new(
        work("harbour-lamps"),
        catalogue.clone(),
        Pictures::none(&catalogue),
        Prover::new(None, || ()),
        folders,
    );
    let mut window = window_of(desk, vec2(1440.0, 900.0));
    key(&mut window, Modifiers::NONE, Key::Num6);
    until(&mut window, "the library is known", |desk| !desk.shelves().is_unknown());
    window.run();
    let card = "Chain Harbour lines, yours: edge-find";
    let at = middle(&window, card);
    window.hover_at(at);
    until(&mut window, "it is read and tried", |desk| desk.view().preview.is_some());
    let Some(Tried::Edit(edit)) = tried(&window) else { panic!("{:?}", tried(&window)) };
    let (after, _) = edit.applied(&show(&window)).unwrap();
    let names: Vec<&str> = after.chain(PICTURE).iter().map(|used| used.effect.name.as_str()).collect();
    assert_eq!(names, ["edge-find"]);
    assert!(label_with(&window, "Harbour lines in place of the effects on bundle:harbour").is_some());
    // The way in which it is put, too.
    press(&mut window, card);
    let at = middle(&window, "Put Harbour lines over the effects on bundle:harbour");
    rest_at(&mut window, at);
    assert!(label_with(&window, "Harbour lines over the effects on bundle:harbour").is_some());
    let Some(Tried::Edit(edit)) = tried(&window) else { panic!("{:?}", tried(&window)) };
    assert_eq!(edit.applied(&show(&window)).unwrap().0.chain(PICTURE).len(), 3);
    // While it is carried over the path, where it would be put.
    let (from, to) = (middle(&window, card), middle(&window, "Scope global everything, 0 effects"));
    carry(&mut window, from, to);
    window.step();
    let Some(Tried::Edit(edit)) = tried(&window) else { panic!("{:?}", tried(&window)) };
    assert_eq!(edit.applied(&show(&window)).unwrap().0.global.len(), 1);
    window.drop_at(pos2(20.0, 880.0));
    window.run();
    assert_eq!((tried(&window), steps(&window)), (None, 0));
    // A starter is tried as the show that would begin from it.
    let starters = label_with(&window, "Starters ").expect("the list of starters");
    press(&mut window, &starters);
    let starter = label_with(&window, "Starter ").expect("a starter");
    let at = middle(&window, &starter);
    window.hover_at(at);
    until(&mut window, "it is read and tried", |desk| desk.view().preview.is_some());
    assert!(matches!(tried(&window), Some(Tried::Show(_))));
}

#[test]
fn nothing_that_is_pointed_at_takes_the_picture_from_what_is_dragged() {
    let mut window = wall_of_orders(window(desk(work("night-ferry"), None)));
    let (_, tile) = other_tile(&window);
    let from = middle(&window, "Effect 2 flash-gate");
    carry(&mut window, from, tile);
    window.run_steps(RESTS);
    assert!(window.state().view().drag.is_some());
    assert_eq!(tried(&window), None);
    assert!(window.query_by_label("If dropped here:").is_some());
    window.drop_at(tile);
    window.run();
}

#[test]
fn a_tile_is_carried_onto_the_picture_or_the_path_and_adopted_in_one_step() {
    for onto in ["The picture", "Scope bundle picture, 5 effects"] {
        let mut window = wall_of_orders(window(desk(work("night-ferry"), None)));
        let (label, from) = other_tile(&window);
        let code = label.trim_start_matches("Order ").split(':').next().unwrap().to_owned();
        let to = middle(&window, onto);
        // Given up with Escape, or let go elsewhere, nothing is done.
        carry(&mut window, from, to);
        window.step();
        assert!(matches!(tried(&window), Some(Tried::Edit(Edit::Order { .. }))), "{onto}");
        key(&mut window, Modifiers::NONE, Key::Escape);
        window.drop_at(to);
        window.run();
        assert_eq!(steps(&window), 0, "given up over {onto}");
        drag(&mut window, from, pos2(640.0, 790.0));
        assert_eq!(steps(&window), 0, "let go elsewhere");
        drag(&mut window, from, to);
        assert_eq!(steps(&window), 1, "onto {onto}");
        let adopted = show(&window).chain(PICTURE).clone();
        assert_eq!(marks(&adopted).code(&[0, 1, 2, 3, 4]), code);
        assert_eq!(tried(&window), None);
        key(&mut window, Modifiers::COMMAND, Key::Z);
        assert_eq!(names(&window, PICTURE)[0], "tint");
    }
}

#[test]
fn what_may_flash_stands_still_while_it_is_only_pointed_at() {
    let mut window = wall_of_orders(window(desk(work("night-ferry"), None)));
    let (_, at) = other_tile(&window);
    window.hover_at(at);
    window.step();
    window.state_mut().act(Action::Play(true));
    window.run_steps(RESTS + 2);
    assert!(tried(&window).is_some());
    assert!(label_with(&window, "(still: it may flash)").is_some(), "{:?}", labels(&window));
    let before = window.state().view().beats;
    window.run_steps(2);
    assert!(window.state().view().beats > before, "the show goes on meanwhile");
}

/// The large picture as it is painted.
fn large(window: &mut Offscreen) -> RgbaImage {
    assert!(window.settle(Duration::from_secs(180)).unwrap(), "it never came to rest");
    let picture = window.desk().regions().iter().find(|(name, _)| *name == "picture").unwrap().1;
    let whole = window.picture().unwrap();
    // Without the title, the line of caution under it, and what is told beside the pointer.
    let [x, y] = [picture.left() + 12.0, picture.top() + 34.0].map(|at| at as u32);
    let [width, height] = [picture.width() * 0.6, picture.height() - 90.0].map(|at| at as u32);
    image::imageops::crop_imm(&whole, x, y, width, height).to_image()
}

#[test]
fn the_picture_of_what_is_tried_is_the_one_that_adopting_it_gives_and_the_one_before_is_back_at_once() {
    let catalogue = catalogue();
    let size = Frame { width: 1280, height: 800 };
    let mut window = Offscreen::new(Gpu::open(None).unwrap(), small_demo("160x90"), catalogue, size).unwrap();
    window.desk().act(Action::WallBy(WallBy::Orders));
    let before = large(&mut window);
    let order = window.desk().on_wall()[1].order.clone();
    let beside = window.desk().regions().iter().find(|(name, _)| *name == "beside").unwrap().1;
    // Across the wall until that tile is tried.
    let is_it = |window: &mut Offscreen| matches!(&window.desk().view().preview, Some(preview) if matches!(&preview.tried, Tried::Edit(Edit::Order { order: of, .. }) if *of == order));
    let began = Instant::now();
    let mut at = beside.left_top() + vec2(60.0, 150.0);
    while !is_it(&mut window) {
        assert!(began.elapsed() < Duration::from_secs(180), "it was never tried");
        at.x += 70.0;
        if at.x > beside.right() - 30.0 {
            at = pos2(beside.left() + 60.0, at.y + 60.0);
        }
        window.step(0.1, vec![Event::PointerMoved(at)]);
        for _ in 0..6 {
            window.step(0.1, Vec::new());
        }
    }
    let tried = large(&mut window);
    assert!(tried != before, "another order is another picture");
    window.step(0.1, vec![Event::PointerMoved(pos2(20.0, 790.0))]);
    window.step(0.1, Vec::new());
    window.finish().unwrap();
    let picture = window.desk().regions().iter().find(|(name, _)| *name == "picture").unwrap().1;
    let whole = window.picture().unwrap();
    let [x, y] = [picture.left() + 12.0, picture.top() + 34.0].map(|at| at as u32);
    let back = image::imageops::crop_imm(&whole, x, y, before.width(), before.height()).to_image();
    assert!(back == before, "the picture before is back in the next pass");
    let chain = window.desk().work().show().chain(Scope::Bundle(0)).clone();
    window.desk().act(Action::Adopt(Row::of(&chain, Scope::Bundle(0), &order)));
    let adopted = large(&mut window);
    assert!(adopted == tried, "what was tried is what it gives");
    assert_eq!(window.desk().view().tab, Tab::Orders);
}
