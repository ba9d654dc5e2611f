//! The keyboard reaches everything in few presses, and those who listen to the window are told what everything is.

use std::collections::BTreeSet;

use crate::dialogs;
use crate::driving::*;
use egui::accesskit::{Action as Act, Role};
use egui::{Key, Modifiers};
use egui_kittest::Node;
use egui_kittest::kittest::{NodeT as _, Queryable as _};
use underover::edit::Spot;
use underover::window::{Action, Tab};

/// Presses of Tab that lead from the head of a part to what lies furthest in it.
const MOST: usize = 12;

/// What is told of a node: its role and its name.
fn told(node: &Node<'_>) -> String {
    let inner = node.accesskit_node();
    format!("{:?} {}", inner.role(), inner.label().or_else(|| inner.value()).unwrap_or_default())
}

/// Every node of the tree.
fn nodes(window: &Window) -> Vec<Node<'_>> {
    let mut found = Vec::new();
    let mut open = vec![window.root()];
    while let Some(node) = open.pop() {
        open.extend(node.children());
        found.push(node);
    }
    found
}

/// Everything that the keyboard can be in.
fn stops(window: &Window) -> BTreeSet<String> {
    let is_stop = |node: &&Node<'_>| {
        let inner = node.accesskit_node();
        inner.data().supports_action(Act::Focus)
            && !inner.is_disabled()
            && !matches!(inner.role(), Role::Window | Role::ScrollBar)
    };
    nodes(window).iter().filter(is_stop).map(told).collect()
}

/// What has the keyboard.
fn focused(window: &Window) -> Option<String> {
    let id = window.ctx.memory(|memory| memory.focused())?;
    let rect = window.ctx.read_response(id)?.rect;
    let is_it = |node: &&Node<'_>| node.accesskit_node().is_focused();
    let node = nodes(window).into_iter().find(|node| is_it(&node));
    Some(node.map_or_else(|| format!("nothing known at {rect}"), |node| told(&node)))
}

fn tab(window: &mut Window, held: Modifiers, pressed: Key) {
    window.key_press_modifiers(held, pressed);
    window.run_steps(2);
}

/// All that is reached from the heads of parts, each by at most so many presses of Tab there and back.
fn reached(window: &mut Window) -> (BTreeSet<String>, usize) {
    if let Some(id) = window.ctx.memory(|memory| memory.focused()) {
        window.ctx.memory_mut(|memory| memory.surrender_focus(id));
    }
    let mut reached = BTreeSet::new();
    let mut heads = Vec::new();
    loop {
        tab(window, Modifiers::NONE, Key::F6);
        let id = window.ctx.memory(|memory| memory.focused()).expect("a part has the keyboard");
        if heads.contains(&id) {
            break;
        }
        heads.push(id);
        for held in [Modifiers::NONE, Modifiers::SHIFT] {
            window.ctx.memory_mut(|memory| memory.request_focus(id));
            window.run_steps(2);
            reached.extend(focused(window));
            for _ in 0..MOST {
                tab(window, held, Key::Tab);
                reached.extend(focused(window));
            }
        }
        window.ctx.memory_mut(|memory| memory.request_focus(id));
        window.run_steps(2);
    }
    (reached, heads.len())
}

#[test]
fn every_control_is_within_twelve_presses_of_tab_of_a_part_of_the_window() {
    let mut window = window(desk(work("night-crossing"), None));
    for tab in Tab::ALL {
        window.state_mut().act(Action::Tab(tab));
        window.state_mut().act(Action::Select(Spot { scope: PICTURE, at: 1 }));
        window.run_steps(3);
        // What is on its way brings names and counts along.
        until(&mut window, "nothing is on its way", |desk| !desk.is_asking());
        window.run_steps(3);
        let stops = stops(&window);
        let (reached, heads) = reached(&mut window);
        let missed: Vec<&String> = stops.difference(&reached).collect();
        assert!(missed.is_empty(), "{tab:?}, {heads} parts: {missed:#?}");
        assert!(stops.len() > 30, "{tab:?}: {}", stops.len());
    }
}

#[test]
fn f6_goes_round_the_parts_and_shift_f6_back() {
    let mut window = window(desk(work("night-ferry"), None));
    let mut there = Vec::new();
    for _ in 0..4 {
        tab(&mut window, Modifiers::NONE, Key::F6);
        there.push(focused(&window).unwrap());
    }
    assert!(there[0].contains("The bar") && there[1].contains("The path"), "{there:?}");
    for before in there.iter().rev().skip(1) {
        tab(&mut window, Modifiers::SHIFT, Key::F6);
        assert_eq!(focused(&window).as_ref(), Some(before));
    }
    // At the head of a part keys do what they do on the desk.
    tab(&mut window, Modifiers::NONE, Key::F6);
    let selected = window.state().view().selected;
    key(&mut window, Modifiers::NONE, Key::ArrowRight);
    assert_ne!(window.state().view().selected, selected);
}

#[test]
fn arrows_go_through_a_list_that_is_one_stop_of_tab() {
    let mut window = window(desk(work("night-ferry"), None));
    window.state_mut().act(Action::Tab(Tab::Swaps));
    window.run();
    let pairs: Vec<String> =
        stops(&window).into_iter().filter(|told| told.contains("tint and flash-gate")).collect();
    assert_eq!(pairs.len(), 1, "{pairs:?}");
    let first = window.get_all_by_label_contains("tint and flash-gate").next().unwrap();
    first.focus();
    window.run();
    let before = focused(&window).unwrap();
    key(&mut window, Modifiers::NONE, Key::ArrowDown);
    let after = focused(&window).unwrap();
    assert_ne!(before, after);
    key(&mut window, Modifiers::NONE, Key::ArrowUp);
    assert_eq!(focused(&window).unwrap(), before);
}

/// What is wrong with the tree for those who listen.
fn faults(window: &Window) -> Vec<String> {
    let mut faults = nameless(window);
    for node in nodes(window) {
        let inner = node.accesskit_node();
        let acts = inner.data().supports_action(Act::Click);
        if acts && matches!(inner.role(), Role::Unknown | Role::GenericContainer) {
            faults.push(format!("no role: {} at {:?}", told(&node), node.rect()));
        }
        let label = inner.label().unwrap_or_default();
        if acts && label.chars().all(|c| !c.is_alphanumeric()) && !label.is_empty() {
            faults.push(format!("only signs: {}", told(&node)));
        }
    }
    faults
}

#[test]
fn everything_in_every_panel_and_dialog_has_a_role_and_a_name() {
    let mut window = window(desk(work("night-crossing"), None));
    let check = |window: &Window, what: String| {
        let faults = faults(window);
        assert!(faults.is_empty(), "{what}: {faults:#?}");
    };
    let crossing = show(&window);
    for tab in Tab::ALL {
        window.state_mut().act(Action::Tab(tab));
        window.run_steps(3);
        check(&window, format!("{tab:?}"));
    }
    for scope in crossing.scopes() {
        window.state_mut().act(Action::Scope(scope));
        window.run_steps(2);
        check(&window, crossing.address(scope));
        for at in 0..crossing.chain(scope).len() {
            window.state_mut().act(Action::Select(Spot { scope, at }));
            window.run_steps(2);
            check(&window, format!("effect {at} on {}", crossing.address(scope)));
        }
    }
    window.state_mut().act(Action::Select(Spot { scope: PICTURE, at: 0 }));
    window.run_steps(2);
    for dialog in dialogs::every() {
        window.state_mut().act(Action::Ask(dialog.clone()));
        window.run_steps(3);
        check(&window, format!("{dialog:?}"));
        window.state_mut().act(Action::Close);
        window.run_steps(2);
    }
}
