//! What the window says of orders while answers are on their way, when there are none, and when they come; there is no
//! display.

use std::time::{Duration, Instant};

use crate::driving::*;
use egui::accesskit::Role;
use egui::{Key, Modifiers, pos2, vec2};
use egui_kittest::kittest::Queryable as _;
use underover::base::frame::Frame;
use underover::beat::{Beats, Moment};
use underover::edit::{Edit, Spot};
use underover::explore::Orders;
use underover::footage::Shelf;
use underover::gpu::{Budget, Gpu, Renderer, Want};
use underover::order::LookLimits;
use underover::plan;
use underover::show::Scope;
use underover::window::{Action, Desk, Folders, Pictures, Prover, Row, Shown, Tab, WallBy};

/// Every order on the wall, in the order in which they stand there.
fn wall(window: &Window) -> Vec<Vec<usize>> {
    window.state().on_wall().into_iter().map(|one| one.order).collect()
}

/// Whether looks were told apart of the chain as it is.
fn has_looks(desk: &mut Desk) -> bool {
    desk.known().is_some_and(|known| known.looks.as_ref().is_some_and(|looks| looks.is_of_now))
}

/// A window on the demo in a small frame, its orders known, its looks not yet: they wait for a pause.
fn window_before_looks() -> Window {
    let mut window = window_of(desk_with_pictures(small_demo("96x54")), vec2(1280.0, 800.0));
    window.state_mut().act(Action::WallBy(WallBy::Looks));
    // In the middle of the wall.
    window.hover_at(pos2(1050.0, 500.0));
    let began = Instant::now();
    while window.state().on_wall().is_empty() {
        assert!(began.elapsed() < Duration::from_secs(180), "the orders were never known");
        window.step();
    }
    assert!(!has_looks(window.state_mut()), "looks were told apart before anybody could look");
    window.step();
    window
}

#[test]
fn looks_that_come_while_the_pointer_is_on_the_wall_wait_until_it_leaves() {
    let mut window = window_before_looks();
    let before = wall(&window);
    assert_eq!(before.len(), 54);
    until(&mut window, "looks are told apart", has_looks);
    window.run_steps(3);
    assert_eq!(wall(&window), before, "the wall moved under the pointer");
    let looks = window.state().known().unwrap().looks.as_ref().unwrap().looks.len();
    assert!(label_with(&window, &format!("Show the {looks} looks found")).is_some(), "{:?}", labels(&window));
    window.hover_at(pos2(20.0, 790.0));
    window.run_steps(3);
    assert_eq!(wall(&window).len(), looks);
    assert!(label_with(&window, "looks found").is_none());
}

#[test]
fn an_order_that_is_open_holds_the_wall_and_what_is_adopted_is_what_was_pressed() {
    let mut window = window_before_looks();
    window.hover_at(pos2(20.0, 790.0));
    let before = wall(&window);
    // The third on the wall: once looks are known, another order stands there.
    let pressed = before[2].clone();
    let names_of = |order: &[usize], window: &Window| -> Vec<String> {
        order.iter().map(|&place| names(window, PICTURE)[place].clone()).collect()
    };
    let row = names_of(&pressed, &window);
    let label = format!(": {}", row.iter().map(String::as_str).collect::<Vec<_>>().join(", then "));
    let label = label_with(&window, &label).expect("the order is on the wall");
    window.get_by_label(&label).click();
    window.run_steps(2);
    assert!(matches!(&window.state().view().shown, Shown::Order { order, .. } if *order == pressed));
    until(&mut window, "looks are told apart", has_looks);
    window.run_steps(3);
    assert_eq!(wall(&window), before, "the wall moved while an order was open");
    // What was found is shown when one asks for it; the order stays open.
    let shows = label_with(&window, "looks found").expect("a way to what was found");
    press(&mut window, &shows);
    assert!(wall(&window).len() < 54 && wall(&window)[2] != pressed);
    assert!(matches!(&window.state().view().shown, Shown::Order { order, .. } if *order == pressed));
    press(&mut window, "Adopt this order");
    assert_eq!(names(&window, PICTURE), row);
}

#[test]
fn an_order_means_the_same_effects_though_the_chain_has_changed_since_it_was_read() {
    let mut window = window(desk(work("night-ferry"), None));
    let chain = show(&window).chain(PICTURE).clone();
    // Mirror first, then the rest: read before the tint was moved to the end.
    let row = Row::of(&chain, PICTURE, &[4, 0, 1, 2, 3]);
    let [from, into] = [0, 5].map(|at| Spot { scope: PICTURE, at });
    window.state_mut().act(Action::Edit(Edit::Move { from, into }));
    window.state_mut().act(Action::Adopt(row.clone()));
    assert_eq!(names(&window, PICTURE), ["mirror", "tint", "flash-gate", "edge-find", "channel-offset"]);
    // Of another set of effects nothing is made.
    window.state_mut().act(Action::Edit(Edit::Remove(Spot { scope: PICTURE, at: 1 })));
    let before = names(&window, PICTURE);
    window.state_mut().act(Action::Adopt(row));
    assert_eq!(names(&window, PICTURE), before);
    assert!(window.state().view().said.starts_with("Not adopted"), "{}", window.state().view().said);
    // Two effects of one name are told apart by their settings.
    let twice = [chain[0].clone(), chain[1].clone(), EffectWith::strength(&chain[1], 0.25)];
    let row = Row::of(&twice, Scope::Global, &[2, 0, 1]);
    let swapped = [twice[2].clone(), twice[1].clone(), twice[0].clone()];
    assert_eq!(row.in_chain(&swapped), Some(vec![0, 2, 1]));
    assert_eq!(row.in_chain(&twice[..2]), None);
}

/// The effect with another strength.
struct EffectWith;

impl EffectWith {
    fn strength(
        used: &underover::show::chain::EffectUse,
        strength: f64,
    ) -> underover::show::chain::EffectUse {
        let mut used = used.clone();
        let at = used.effect.settings.iter().position(|setting| setting.name == "strength").unwrap();
        used.set_number(at, strength).unwrap();
        used
    }
}

#[test]
fn an_open_order_stays_that_order_when_a_step_is_taken_back_under_it() {
    let mut window = window(desk(work("night-ferry"), None));
    key(&mut window, Modifiers::ALT, Key::ArrowRight);
    assert_eq!(names(&window, PICTURE)[..2], ["flash-gate", "tint"]);
    let order = vec![4, 3, 2, 1, 0];
    let row: Vec<String> =
        order.iter().map(|&place: &usize| names(&window, PICTURE)[place].clone()).collect();
    window.state_mut().act(Action::Show(Shown::Order { scope: PICTURE, order }));
    window.run();
    key(&mut window, Modifiers::COMMAND, Key::Z);
    assert_eq!(names(&window, PICTURE)[..2], ["tint", "flash-gate"]);
    key(&mut window, Modifiers::NONE, Key::Enter);
    assert_eq!(names(&window, PICTURE), row);
}

#[test]
fn a_look_that_is_open_is_known_by_an_order_of_it_not_by_its_number() {
    let mut window = window(desk_with_pictures(small_demo("96x54")));
    until(&mut window, "looks are told apart", has_looks);
    let second = wall(&window)[1].clone();
    window.state_mut().act(Action::WallBy(WallBy::Look { order: second.clone(), in_family: false }));
    window.run();
    let of_it = wall(&window);
    let known = window.state().known().unwrap().clone();
    assert!(of_it.contains(&second));
    assert!(of_it.iter().all(|order| known.look_of(order) == known.look_of(&second)));
}

#[test]
fn the_window_and_a_command_tell_the_same_looks_apart_where_a_smaller_frame_shows_others() {
    let mut window = window(desk_with_pictures(work("harbour-lamps")));
    // What the audience sees, as a command looks at it.
    window.state_mut().act(Action::WallOfOutput(true));
    let (show, scope) = (show(&window), window.state().view().scope);
    until(&mut window, "looks are told apart", |desk| {
        let looks = desk.known().and_then(|known| known.looks.as_ref());
        looks.is_some_and(|looks| looks.is_of_now && looks.of_output)
    });
    let looks = window.state().known().unwrap().looks.clone().unwrap();
    let mut renderer = Renderer::new(Gpu::open(None).unwrap());
    let mut shelf = Shelf::new(&catalogue());
    let mut at = |frame| {
        let beats = Beats::of_decimal(window.state().view().beats);
        let moment = Moment::at_beats(frame, show.pixels, show.tempo_bpm, show.rate, &beats);
        let path = plan::Path::of_scope(&show, scope, moment, &mut shelf).unwrap();
        let orders = Orders::of(&mut renderer, &path).unwrap();
        let (limits, budget) = (LookLimits::default(), Budget::default());
        orders.explored(&mut renderer, &path, Want::Figures, limits, budget, |_| {}).unwrap()
    };
    let wanted = at(show.frame);
    let means = |class: usize| wanted.finished[class].difference.map(|difference| difference.mean);
    assert_eq!(looks.of, wanted.looks.of);
    assert_eq!((looks.rendered_at, looks.looked_at), (show.frame, wanted.looked_at));
    assert!(looks.means.iter().zip(0..).all(|(&mean, class)| mean == means(class)));
    // Where every picture is rendered small, edges are coarser.
    let small = at(Frame { width: 320, height: 180 });
    assert_ne!(small.looks.of, wanted.looks.of, "this show says nothing of the frame");
}

#[test]
fn how_far_looks_have_come_does_not_stand_at_its_end_while_they_are_compared() {
    // 54 orders, whose pictures are rendered soon in so small a frame.
    let mut window = window_of(desk_with_pictures(small_demo("96x54")), vec2(1280.0, 800.0));
    let mut told = Vec::new();
    let began = Instant::now();
    while !has_looks(window.state_mut()) {
        assert!(began.elapsed() < Duration::from_secs(180), "looks were never told apart");
        told.extend(window.state().gathering().filter(|&(_, of)| of > 0));
        window.step();
    }
    assert!(told.is_sorted() && told.iter().all(|&(_, of)| of == 2 * 54), "{told:?}");
}

/// A desk without pictures whose prover begins so.
fn desk_with(begin: impl FnMut() -> Result<Option<Gpu>, String> + Send + 'static) -> Desk {
    let catalogue = catalogue();
    let pictures = Pictures::none(&catalogue);
    let prover = Prover::beginning(begin, || ());
    Desk::new(work("night-ferry"), catalogue, pictures, prover, Folders::default())
}

#[test]
fn where_orders_could_not_be_looked_at_the_wall_says_why_and_trying_again_helps() {
    let mut tries = 0;
    let desk = desk_with(move || {
        tries += 1;
        match tries {
            1 => panic!("the driver fell over"),
            2 => Err("no device is to be had".to_owned()),
            _ => Ok(None),
        }
    });
    let mut window = window_of(desk, vec2(1280.0, 800.0));
    for why in ["the work broke off: the driver fell over", "no device is to be had"] {
        until(&mut window, why, |desk| desk.orders_problem().is_some());
        let said = format!("The orders were not looked at: {why}.");
        assert!(window.query_by_label(&said).is_some(), "{:?}", labels(&window));
        assert!(label_with(&window, "Looking at the orders").is_none());
        assert!(!window.state().is_asking(), "nothing is on its way any more");
        // In the swap table too.
        key(&mut window, Modifiers::NONE, Key::Num2);
        assert!(window.query_by_label(&said).is_some());
        key(&mut window, Modifiers::NONE, Key::Num1);
        press(&mut window, "Try again");
    }
    until(&mut window, "the orders are known", |desk| desk.known().is_some());
    assert_eq!(window.state().orders_problem(), None);
    assert_eq!(wall(&window).len(), window.state().known().unwrap().classes.len());
}

#[test]
fn another_state_of_the_chain_is_looked_at_anew_after_a_failure() {
    let mut tries = 0;
    let desk = desk_with(move || {
        tries += 1;
        if tries == 1 { Err("no device is to be had".to_owned()) } else { Ok(None) }
    });
    let mut window = window_of(desk, vec2(1280.0, 800.0));
    until(&mut window, "it is told", |desk| desk.orders_problem().is_some());
    key(&mut window, Modifiers::NONE, Key::O);
    until(&mut window, "the orders are known", |desk| desk.known().is_some());
    assert_eq!(window.state().orders_problem(), None);
}

#[test]
fn what_is_taken_back_is_on_the_wall_at_once_with_its_looks_and_pairs() {
    let mut window = window(desk_with_pictures(small_demo("96x54")));
    let is_whole = |desk: &mut Desk| has_looks(desk) && desk.known().unwrap().pairs_left().0 == 0;
    until(&mut window, "looks are known", has_looks);
    // Pairs are looked at where they are in view.
    window.state_mut().act(Action::Tab(Tab::Swaps));
    until(&mut window, "looks and pairs are known", is_whole);
    window.state_mut().act(Action::Tab(Tab::Orders));
    window.run_steps(2);
    let before = wall(&window);
    let revision = window.state().known().unwrap().revision;
    key(&mut window, Modifiers::NONE, Key::O);
    until(&mut window, "the orders without it are known", move |desk| {
        desk.known().unwrap().revision != revision && has_looks(desk)
    });
    window.run_steps(2);
    assert_ne!(wall(&window), before);
    // Not a moment is waited for.
    window.key_press_modifiers(Modifiers::COMMAND, Key::Z);
    window.step();
    window.step();
    window.step();
    assert_eq!(wall(&window), before);
    assert!(is_whole(window.state_mut()));
    assert!(label_with(&window, "Looking at the orders").is_none());
}

#[test]
fn how_far_an_order_is_from_the_current_one_is_never_told_of_another_current_one() {
    let mut window = window(desk_with_pictures(small_demo("96x54")));
    until(&mut window, "looks are told apart", has_looks);
    window.run_steps(2);
    assert!(label_with(&window, "by a mean CIEDE2000 of").is_some(), "figures are told while they hold");
    let other = wall(&window)[1].clone();
    let row = Row::of(show(&window).chain(PICTURE), PICTURE, &other);
    window.state_mut().act(Action::Adopt(row));
    let adopted = show(&window).chain(PICTURE).clone();
    let began = Instant::now();
    let mut passes = 0;
    loop {
        window.step();
        let is_known = window.state().known().is_some_and(|known| known.path.chain == adopted);
        if is_known && has_looks(window.state_mut()) {
            break;
        }
        let told = labels(&window).into_iter().find(|label| label.contains("by a mean CIEDE2000 of"));
        assert_eq!(told, None, "measured against the order before");
        assert!(began.elapsed() < Duration::from_secs(180));
        passes += 1;
    }
    assert!(passes > 2, "the looks came too soon to see anything");
    window.run_steps(2);
    assert!(label_with(&window, "by a mean CIEDE2000 of").is_some());
}

#[test]
fn a_reason_that_held_a_moment_ago_is_not_told_of_the_chain_as_it_is() {
    let mut window = window(desk(work("night-ferry"), None));
    key(&mut window, Modifiers::NONE, Key::O);
    until(&mut window, "the orders without it are known", |desk| {
        desk.known().is_some_and(|known| known.path.chain.iter().any(|used| !used.on))
    });
    window.run_steps(2);
    let reason = "it is switched off";
    assert!(label_with(&window, reason).is_some(), "{:?}", labels(&window));
    // Another setting, so that what is asked about next is known of no earlier state.
    let spot = Spot { scope: PICTURE, at: 0 };
    window.state_mut().act(Action::Edit(Edit::Switch { spot, on: true }));
    window.state_mut().act(Action::Beats(0.3));
    for _ in 0..40 {
        window.step();
        assert_eq!(label_with(&window, reason), None);
    }
}

#[test]
fn the_heading_of_the_large_picture_changes_with_the_picture() {
    let mut window = window(desk_with_pictures(small_demo("320x180")));
    until(&mut window, "every picture is made", |desk| desk.pictures().missing() == 0);
    window.run_steps(2);
    // An order that no picture was made of at this size.
    let order = vec![3, 1, 4, 0, 2];
    window.state_mut().act(Action::Show(Shown::Order { scope: PICTURE, order }));
    // A button carries the word too; the heading is a label.
    let heading = |window: &Window| {
        window.query_all_by_role(Role::Label).any(|node| node.value() == Some("Output".to_owned()))
    };
    window.step();
    assert!(heading(&window), "the picture is still that of the output");
    assert!(window.query_by_label("Adopt this order").is_none());
    until(&mut window, "the order is painted", |desk| desk.pictures().missing() == 0);
    window.run_steps(2);
    assert!(!heading(&window));
    assert!(window.query_by_label("Adopt this order").is_some());
}
