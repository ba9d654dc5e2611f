//! Two pictures compared, whichever they are; pins under their names; and what a pixel holds.

use crate::driving::*;
use egui::{Event, Key, Modifiers, PointerButton, Pos2, pos2, vec2};
use egui_kittest::kittest::Queryable as _;
use underover::beat::{Beats, Moment};
use underover::edit::{Edit, Pin, Work};
use underover::footage::Shelf;
use underover::gpu::{Gpu, Renderer};
use underover::measure::Difference;
use underover::plan;
use underover::show::{Scope, Show};
use underover::window::{
    Action, Comparing, Desk, Folders, FoundRow, Pair, Pictures, Prover, Shown, Side, Tab, WallBy,
};

fn press_with(window: &mut Window, held: Modifiers, at: Pos2) {
    window.hover_at(at);
    window.step();
    for pressed in [true, false] {
        let button = PointerButton::Primary;
        window.event_modifiers(Event::PointerButton { pos: at, button, pressed, modifiers: held }, held);
        window.step();
    }
    window.run();
}

fn pair(window: &Window) -> Pair {
    match &window.state().view().shown {
        Shown::Pair(pair) => pair.clone(),
        other => panic!("no pair is shown: {other:?}"),
    }
}

/// The output at the beat that the window shows, as the program's other commands render it.
fn rendered(show: &Show, beats: f64) -> underover::base::picture::Picture {
    let moment =
        Moment::at_beats(show.frame, show.pixels, show.tempo_bpm, show.rate, &Beats::of_decimal(beats));
    let mut shelf = Shelf::new(&catalogue());
    let path = plan::Path::of_scope(show, Scope::Global, moment, &mut shelf).unwrap();
    let order: Vec<usize> = (0..show.global.len()).collect();
    Renderer::new(Gpu::open(None).unwrap()).picture(&path, &order).unwrap()
}

fn steps(window: &Window) -> usize {
    window.state().work().history().done().len()
}

/// The show with a chain in place of the picture's.
fn with_chain(show: &Show, chain: Vec<underover::show::chain::EffectUse>) -> Show {
    let edit = Edit::Chain { scope: PICTURE, chain, name: "tried".to_owned() };
    edit.applied(show).unwrap().0
}

#[test]
fn any_two_tiles_and_pins_are_compared() {
    let mut window = window(desk(work("night-ferry"), None));
    window.state_mut().act(Action::WallBy(WallBy::Orders));
    until(&mut window, "every order is on the wall", |desk| desk.on_wall().len() > 20);
    let orders: Vec<Vec<usize>> = window.state().on_wall().into_iter().map(|one| one.order).collect();
    let side = |order: &[usize]| Side::Order { scope: PICTURE, order: order.to_vec() };
    let code = |order: &[usize]| -> String { order.iter().map(|place| (place + 1).to_string()).collect() };
    let tile = |window: &Window, order: &[usize]| {
        let label = label_with(window, &format!("Order {}: ", code(order))).expect("it is on the wall");
        window.get_by_label(&label).rect().center()
    };
    // One tile in the large picture, another pressed with Shift.
    let at = tile(&window, &orders[1]);
    press_with(&mut window, Modifiers::NONE, at);
    let at = tile(&window, &orders[2]);
    press_with(&mut window, Modifiers::SHIFT, at);
    assert_eq!(
        pair(&window),
        Pair { left: side(&orders[1]), right: side(&orders[2]), way: Comparing::Beside }
    );
    assert!(window.query_by_label("Adopt the left one").is_some(), "{:?}", labels(&window));
    // A third takes the place of the one on the right.
    let at = tile(&window, &orders[3]);
    press_with(&mut window, Modifiers::SHIFT, at);
    assert_eq!(pair(&window).right, side(&orders[3]));
    // Pinned with other settings, a chain is compared with a tile: by its button, and by a key.
    let mut chain = show(&window).chain(PICTURE).clone();
    chain.reverse();
    chain.truncate(3);
    let pin = Pin { name: "Two lamps".to_owned(), ..Pin::new(PICTURE, chain.clone()) };
    window.state_mut().act(Action::Pin(pin));
    window.state_mut().act(Action::Tab(Tab::Pins));
    window.run();
    press(&mut window, "Compare");
    let Side::Kept { row, name } = pair(&window).right else { panic!("{:?}", pair(&window)) };
    assert_eq!((row.effects.len(), name.as_str()), (3, "Two lamps"));
    assert_eq!(pair(&window).left, side(&orders[1]));
    key(&mut window, Modifiers::NONE, Key::Escape);
    key(&mut window, Modifiers::SHIFT, Key::X);
    assert!(pair(&window).left.is_current());
    assert!(matches!(pair(&window).right, Side::Kept { .. }));
    // It stays what it is while the chain changes under it, and is adopted in one step.
    window.state_mut().act(Action::Edit(Edit::Order { scope: PICTURE, order: vec![1, 0, 2, 3, 4] }));
    window.run();
    assert!(pair(&window).left.row(&show(&window)).effects.len() == 5);
    let before = steps(&window);
    press(&mut window, "Adopt the other one");
    assert_eq!((names(&window, PICTURE).len(), steps(&window)), (3, before + 1));
    assert_eq!(window.state().view().shown, Shown::Output);
}

#[test]
fn how_far_two_pictures_are_apart_is_said_as_the_command_measures_it() {
    let mut window = window_of(desk_with_pictures(small_demo("96x54")), vec2(1280.0, 800.0));
    let show = show(&window);
    let chain = show.chain(PICTURE).clone();
    let kept = chain[..2].to_vec();
    let pair = Pair {
        left: Side::Order { scope: PICTURE, order: vec![4, 3, 2, 1, 0] },
        right: Side::Kept { row: FoundRow::on(PICTURE, kept.clone()), name: "Pinned".to_owned() },
        way: Comparing::Beside,
    };
    let beats = window.state().view().beats;
    window.state_mut().act(Action::Show(Shown::Pair(pair)));
    let said = |window: &Window| label_with(window, "mean CIEDE2000; 1 is just visible");
    for _ in 0..4000 {
        window.step();
        if said(&window).is_some() {
            break;
        }
        std::thread::sleep(std::time::Duration::from_millis(5));
    }
    let reversed = chain.iter().rev().cloned().collect();
    let a = rendered(&with_chain(&show, reversed), beats);
    let b = rendered(&with_chain(&show, kept), beats);
    // Counted on the processor, by the formula that the 34 pairs of Sharma, Wu and Dalal check.
    let mean = Difference::of(&a, &b).mean;
    assert!(mean > 1.0, "{mean}");
    let said = said(&window).expect("it is measured");
    assert!(said.contains(&format!("differ visibly: {mean:.1} on average")), "{said} {mean}");
    // A picture and itself.
    let own = Side::Order { scope: PICTURE, order: vec![0, 1, 2, 3, 4] };
    let row = FoundRow::on(PICTURE, chain);
    let same = Side::Kept { row, name: "The same".to_owned() };
    window.state_mut().act(Action::Show(Shown::Pair(Pair { left: own, right: same, way: Comparing::Wipe })));
    for _ in 0..4000 {
        window.step();
        if label_with(&window, "the same picture, to the byte").is_some() {
            return;
        }
        std::thread::sleep(std::time::Duration::from_millis(5));
    }
    panic!("{:?}", labels(&window));
}

#[test]
fn both_pictures_of_a_pair_are_looked_at_alike_closer_and_moved() {
    let mut window = window(desk(work("night-ferry"), None));
    let [own, other] = [vec![0, 1, 2, 3, 4], vec![4, 3, 2, 1, 0]];
    let pair = Pair::of(PICTURE, own, other, Comparing::Beside);
    window.state_mut().act(Action::Show(Shown::Pair(pair.clone())));
    window.run();
    let at = middle(&window, "The picture on the left");
    window.hover_at(at);
    window.step();
    window.event(Event::Zoom(8.0));
    window.run();
    let zoom = window.state().view().zoom.expect("closer");
    let left = window.get_by_label("The picture on the left").rect();
    let right = window.get_by_label("The picture on the right").rect();
    assert!((left.size() - right.size()).length() < 1.0, "{left} {right}");
    let before = window.state().view().centre;
    let from = middle(&window, "The picture on the right");
    drag(&mut window, from, from + vec2(-30.0, 0.0));
    let after = window.state().view().centre;
    assert!(after.x > before.x && (after.y - before.y).abs() < 1e-3, "{before:?} {after:?}");
    assert_eq!(window.state().view().zoom, Some(zoom));
    // In a wipe a drag moves the picture, and the line by itself.
    window.state_mut().act(Action::Show(Shown::Pair(Pair { way: Comparing::Wipe, ..pair })));
    window.run();
    let line = "The line between the two orders: drag it, or Shift and an arrow";
    let at = middle(&window, line);
    drag(&mut window, at, at + vec2(-60.0, 0.0));
    assert!(window.state().view().wipe < 0.45, "{}", window.state().view().wipe);
    let wipe = window.state().view().wipe;
    let from = middle(&window, "The picture") + vec2(120.0, 0.0);
    drag(&mut window, from, from + vec2(40.0, 0.0));
    assert_eq!(window.state().view().wipe, wipe);
    assert!(window.state().view().centre.x < after.x);
}

fn state_desk(state: &std::path::Path, file: Option<&std::path::Path>) -> Desk {
    let catalogue = catalogue();
    let work = match file {
        Some(file) => Work::open(file, &catalogue).unwrap(),
        None => work("night-ferry"),
    };
    let folders = Folders { state: Some(state.to_owned()), ..Folders::default() };
    Desk::new(work, catalogue.clone(), Pictures::none(&catalogue), Prover::new(None, || ()), folders)
}

/// Presses the button under a pin: others have the same word.
fn rename(window: &mut Window) {
    let right = window.state().regions().iter().find(|(name, _)| *name == "beside").unwrap().1.left();
    let buttons = window.get_all_by_label("Rename");
    buttons.into_iter().find(|button| button.rect().left() > right).expect("under the pin").click();
    window.run();
}

#[test]
fn a_pin_goes_by_what_it_shows_until_it_is_renamed_and_keeps_its_name_through_a_restart() {
    let state = tempfile::tempdir().unwrap();
    let mut first = window(state_desk(state.path(), None));
    let mut chain = show(&first).chain(PICTURE).clone();
    chain.swap(0, 1);
    first.state_mut().act(Action::Pin(Pin::new(PICTURE, chain)));
    first.state_mut().act(Action::Tab(Tab::Pins));
    first.run();
    assert!(label_with(&first, "Pin 1, Order 12345: ").is_some(), "{:?}", labels(&first));
    rename(&mut first);
    key(&mut first, Modifiers::COMMAND, Key::A);
    write(&mut first, "Lamps before the gate");
    key(&mut first, Modifiers::NONE, Key::Enter);
    assert_eq!(first.state().view().pins[0].name, "Lamps before the gate");
    assert!(label_with(&first, "Pin 1, Lamps before the gate: ").is_some(), "{:?}", labels(&first));
    // Given up with Escape it stays as it was.
    rename(&mut first);
    key(&mut first, Modifiers::COMMAND, Key::A);
    write(&mut first, "Something else");
    key(&mut first, Modifiers::NONE, Key::Escape);
    assert_eq!(first.state().view().pins[0].name, "Lamps before the gate");
    // A name that no control has room for is refused in words.
    first.state_mut().act(Action::NamePin(0, "n".repeat(81)));
    assert!(first.state().view().said.starts_with("Not renamed: "), "{}", first.state().view().said);
    let file = state.path().join("ferry.toml");
    first.state_mut().act(Action::Write(underover::window::Saving::Work, file.clone()));
    first.run();
    drop(first);
    let next = window(state_desk(state.path(), Some(&file)));
    assert_eq!(next.state().view().pins[0].name, "Lamps before the gate");
    // An empty name gives back what it shows.
    let mut next = next;
    next.state_mut().act(Action::NamePin(0, String::new()));
    assert_eq!(next.state().view().pins[0].called(), "Order 12345");
}

#[test]
fn the_pixel_under_the_pointer_has_its_values_in_the_line_under_the_picture_and_nothing_moves() {
    let mut window = window_of(desk_with_pictures(small_demo("96x54")), vec2(1280.0, 800.0));
    until(&mut window, "every picture is made", |desk| desk.pictures().missing() == 0);
    window.run_steps(2);
    let beats = window.state().view().beats;
    let picture = rendered(&show(&window), beats);
    assert!(label_with(&window, "96x54: the wheel goes closer").is_some(), "{:?}", labels(&window));
    let flashes = label_with(&window, "Flashes. ").unwrap();
    let strip = |window: &Window| {
        let label = label_with(window, "Flashes. ").unwrap();
        window.get_by_label(&label).rect()
    };
    let before = strip(&window);
    window.state_mut().act(Action::Look { zoom: 24.0, centre: pos2(0.5, 0.5) });
    window.run_steps(2);
    // The middle of the room is the corner of four pixels; this is the one down and to the right.
    let at = middle(&window, "The picture") + vec2(6.0, 6.0);
    window.hover_at(at);
    let [x, y] = [48, 27];
    let place = ((y * 96 + x) * 4) as usize;
    let [red, green, blue, alpha] = picture.rgba[place..place + 4].try_into().unwrap();
    let wanted = format!("x {x}  y {y}   red {red}  green {green}  blue {blue}  alpha {alpha}");
    for _ in 0..4000 {
        window.step();
        if label_with(&window, &wanted).is_some() {
            break;
        }
        std::thread::sleep(std::time::Duration::from_millis(5));
    }
    assert!(label_with(&window, &wanted).is_some(), "{wanted}: {:?}", label_with(&window, "x 48"));
    assert_eq!(strip(&window), before, "{flashes}");
    // Of both where two are compared.
    let [own, other] = [vec![0, 1, 2, 3, 4], vec![4, 3, 2, 1, 0]];
    window.state_mut().act(Action::Show(Shown::Pair(Pair::of(PICTURE, own, other, Comparing::Wipe))));
    let chain = show(&window).chain(PICTURE).iter().rev().cloned().collect();
    let second = rendered(&with_chain(&show(&window), chain), beats);
    let of = |picture: &underover::base::picture::Picture, [x, y]: [usize; 2]| -> [u8; 4] {
        let at = (y * 96 + x) * 4;
        picture.rgba[at..at + 4].try_into().unwrap()
    };
    for _ in 0..4000 {
        window.step();
        let said = label_with(&window, "right: red");
        if said.is_some_and(|said| !said.contains('\u{2026}')) {
            break;
        }
        std::thread::sleep(std::time::Duration::from_millis(5));
    }
    let said = label_with(&window, "right: red").expect("both are told");
    let figures: Vec<usize> =
        said.split(|c: char| !c.is_ascii_digit()).filter_map(|part| part.parse().ok()).collect();
    let place = [figures[0], figures[1]];
    let told = |at: usize| -> Vec<usize> { figures[at..at + 4].to_vec() };
    let bytes = |picture: &underover::base::picture::Picture| of(picture, place).map(usize::from).to_vec();
    assert_eq!((told(2), told(6)), (bytes(&picture), bytes(&second)), "{said}");
}
