//! The keys: every operation has one.

use std::sync::Arc;

use egui::{Context, Key, KeyboardShortcut, Modifiers, ScrollArea, Ui};

use super::desk::Scene;
use super::view::{Action, Comparing, Dialog, Pair, Pin, Saving, Shown, Tab, WallBy};
use crate::edit::{Edit, Named, Spot};
use crate::show::Scope;

/// The keys and what they do, for the sheet.
pub const KEYS: &[(&str, &[(&str, &str)])] = &[
    (
        "The path",
        &[
            ("← →", "the effect before or after, through every scope"),
            ("Alt ← →", "move the effect under or over, also into the next scope"),
            ("A", "add an effect over the selected one"),
            ("Ctrl D", "duplicate it"),
            ("Delete", "remove it"),
            ("O", "switch it on or off"),
            ("V", "the picture after it; again: the output"),
            ("↑ ↓", "the scope before or after on the path"),
            ("F2", "rename the scope"),
        ],
    ),
    (
        "Orders",
        &[
            ("] [", "the next or previous order in the large picture"),
            ("Enter", "adopt the order in the large picture"),
            ("C", "compare it with the present one"),
            ("P", "pin it"),
            ("L", "looks, or every order"),
            ("G", "the orders of the look in the large picture; again: all looks"),
            ("F", "only orders in which an effect is first, last or before another"),
            ("1 2 3", "wall of orders, swap table, pins"),
            ("Esc", "back to the output"),
        ],
    ),
    ("The beat", &[("Space", "play or hold"), (", .", "a quarter beat back or on"), ("Home", "to beat 0")]),
    (
        "Files and steps",
        &[
            ("Ctrl O", "open"),
            ("Ctrl S", "save"),
            ("Ctrl Shift S", "save as"),
            ("Ctrl Z", "undo"),
            ("Ctrl Shift Z, Ctrl Y", "redo"),
            ("Ctrl + − 0", "larger, smaller, usual text"),
            ("Tab", "to the next control; Space or Enter presses it"),
            ("F1 or ?", "this sheet"),
            ("Ctrl Q", "quit"),
        ],
    ),
];

/// Draws the sheet of keys.
pub fn sheet(ui: &mut Ui) {
    ui.set_min_width(460.0);
    ScrollArea::vertical().max_height(520.0).show(ui, |ui| {
        for (group, keys) in KEYS {
            ui.strong(*group);
            egui::Grid::new(group).num_columns(2).spacing([18.0, 3.0]).show(ui, |ui| {
                for (key, what) in *keys {
                    ui.monospace(*key);
                    ui.label(*what);
                    ui.end_row();
                }
            });
            ui.add_space(8.0);
        }
    });
}

/// Turns the keys pressed in this pass into actions.
pub fn act(ctx: &Context, scene: &mut Scene<'_>) {
    let pressed = |modifiers, key| {
        ctx.input_mut(|input| input.consume_shortcut(&KeyboardShortcut::new(modifiers, key)))
    };
    let command = Modifiers::COMMAND;
    let shifted = Modifiers::COMMAND | Modifiers::SHIFT;
    // The longer shortcuts first: the shorter ones would match them too.
    if pressed(shifted, Key::Z) || pressed(command, Key::Y) {
        scene.act(Action::Redo);
    }
    if pressed(command, Key::Z) {
        scene.act(Action::Undo);
    }
    if pressed(shifted, Key::S) {
        scene.act(Action::Ask(Dialog::Save(Saving::Work)));
    }
    if pressed(command, Key::S) {
        scene.act(Action::Save);
    }
    if pressed(command, Key::O) {
        scene.act(Action::Ask(Dialog::Open));
    }
    if pressed(command, Key::Q) {
        scene.act(Action::Quit);
    }
    if pressed(Modifiers::NONE, Key::F1) {
        scene.act(Action::Ask(Dialog::Keys));
    }
    if scene.view.dialog.is_some() {
        if pressed(Modifiers::NONE, Key::Escape) {
            scene.act(Action::Close);
        }
        return;
    }
    if ctx.text_edit_focused() || scene.view.drag.is_some() || egui::Popup::is_any_open(ctx) {
        return;
    }
    if let Some(spot) = scene.view.spot() {
        if pressed(command, Key::D) {
            scene.act(Action::Edit(Edit::Duplicate(spot)));
            scene.act(Action::Select(Spot { at: spot.at + 1, ..spot }));
        }
        for (key, way) in [(Key::ArrowLeft, -1), (Key::ArrowRight, 1)] {
            if pressed(Modifiers::ALT, key) {
                move_by(scene, spot, way);
            }
        }
        if pressed(Modifiers::NONE, Key::Delete) {
            scene.act(Action::Edit(Edit::Remove(spot)));
        }
        if pressed(Modifiers::NONE, Key::O) {
            let on = scene.show().chain(spot.scope)[spot.at].on;
            scene.act(Action::Edit(Edit::Switch { spot, on: !on }));
        }
        if pressed(Modifiers::NONE, Key::V) {
            let after = Shown::After(spot);
            let is_shown = scene.view.shown == after;
            scene.act(Action::Show(if is_shown { Shown::Output } else { after }));
        }
    }
    if pressed(Modifiers::NONE, Key::A) {
        let spot = scene.spot_to_add();
        scene.act(Action::Ask(Dialog::Add(spot)));
    }
    if pressed(Modifiers::NONE, Key::F2) && scene.view.scope != Scope::Global {
        scene.act(Action::Ask(Dialog::Rename(Named::Scope(scene.view.scope))));
    }
    if ctx.input(|input| {
        input.events.iter().any(|event| matches!(event, egui::Event::Text(text) if text == "?"))
    }) {
        scene.act(Action::Ask(Dialog::Keys));
    }
    if pressed(Modifiers::NONE, Key::Home) {
        scene.act(Action::Beats(0.0));
    }
    for (key, step) in [(Key::Comma, -0.25), (Key::Period, 0.25)] {
        if pressed(Modifiers::NONE, key) {
            scene.act(Action::Beats(scene.view.beats + step));
        }
    }
    for (key, tab) in [(Key::Num1, Tab::Orders), (Key::Num2, Tab::Swaps), (Key::Num3, Tab::Pins)] {
        if pressed(Modifiers::NONE, key) {
            scene.act(Action::Tab(tab));
        }
    }
    if pressed(Modifiers::NONE, Key::Escape) {
        scene.act(Action::Show(Shown::Output));
    }
    orders(ctx, scene);
    // What has the keyboard takes arrows, Space and Enter for itself.
    if ctx.memory(|memory| memory.focused().is_some()) {
        return;
    }
    if pressed(Modifiers::NONE, Key::Space) {
        scene.act(Action::Play(!scene.view.playing));
    }
    for (key, way) in [(Key::ArrowLeft, -1), (Key::ArrowRight, 1)] {
        if pressed(Modifiers::NONE, key) {
            select_by(scene, way);
        }
    }
    for (key, way) in [(Key::ArrowUp, -1), (Key::ArrowDown, 1)] {
        if pressed(Modifiers::NONE, key) {
            let path = scene.view.path();
            let at = path.iter().position(|scope| *scope == scene.view.scope).unwrap_or(0) as isize;
            if let Some(scope) = path.get((at + way) as usize) {
                scene.act(Action::Scope(*scope));
            }
        }
    }
}

/// Keys that go through the orders of the wall.
fn orders(ctx: &Context, scene: &mut Scene<'_>) {
    let pressed =
        |key| ctx.input_mut(|input| input.consume_shortcut(&KeyboardShortcut::new(Modifiers::NONE, key)));
    let scope = scene.view.scope;
    let by_look = scene.view.wall_by == WallBy::Looks;
    let on_wall = Arc::clone(&scene.candidates);
    let shown = match &scene.view.shown {
        Shown::Order { scope: s, order } if *s == scope => Some(order.clone()),
        _ => None,
    };
    let at = on_wall.iter().position(|one| shown.as_ref() == Some(&one.order)).unwrap_or(0);
    let count = on_wall.len().max(1);
    let next = match (pressed(Key::CloseBracket), pressed(Key::OpenBracket)) {
        (true, _) => Some((at + 1) % count),
        (_, true) => Some((at + count - 1) % count),
        _ => None,
    };
    if pressed(Key::L) {
        scene.act(Action::WallBy(if by_look { WallBy::Orders } else { WallBy::Looks }));
    }
    if pressed(Key::G) {
        let look =
            on_wall.iter().find(|one| shown.as_ref() == Some(&one.order)).and_then(|one| one.look.as_ref());
        match (scene.view.wall_by, look) {
            (WallBy::Look(_), _) => scene.act(Action::WallBy(WallBy::Looks)),
            (_, Some((look, _))) => scene.act(Action::WallBy(WallBy::Look(look.number))),
            _ => scene.act(Action::Say("Choose a look on the wall first.".to_owned())),
        }
    }
    if pressed(Key::F) && scene.show().chain(scope).len() > 1 {
        scene.act(Action::Ask(Dialog::Condition));
    }
    if let Some(one) = next.and_then(|next| on_wall.get(next)) {
        let order = one.order.clone();
        scene.act(Action::Show(Shown::Order { scope, order }));
        return;
    }
    let Some(order) = shown else { return };
    let is_free = ctx.memory(|memory| memory.focused().is_none());
    if is_free && pressed(Key::Enter) {
        scene.act(Action::Edit(Edit::Order { scope, order }));
        scene.act(Action::Show(Shown::Output));
    } else if pressed(Key::C) {
        let pair = Pair { scope, left: (0..order.len()).collect(), right: order, way: Comparing::Beside };
        scene.act(Action::Show(Shown::Pair(pair)));
    } else if pressed(Key::P) {
        let chain = order.iter().map(|&place| scene.show().chain(scope)[place].clone()).collect();
        scene.act(Action::Pin(Pin { scope, chain }));
    }
}

/// The effects of the path, in the direction in which the picture flows.
fn spots(scene: &Scene<'_>) -> Vec<Spot> {
    let path = scene.view.path().into_iter().filter(|&scope| scene.work.takes_effects_on(scope));
    path.flat_map(|scope| (0..scene.show().chain(scope).len()).map(move |at| Spot { scope, at })).collect()
}

fn select_by(scene: &mut Scene<'_>, way: isize) {
    let spots = spots(scene);
    let now = scene.view.spot().and_then(|spot| spots.iter().position(|known| *known == spot));
    let next = match now {
        Some(now) => (now as isize + way).clamp(0, spots.len() as isize - 1) as usize,
        None => 0,
    };
    if let Some(spot) = spots.get(next) {
        scene.act(Action::Select(*spot));
    }
}

/// Moves an effect by one place, or over the border into the next scope.
fn move_by(scene: &mut Scene<'_>, from: Spot, way: isize) {
    let path = scene.view.path();
    let effects = scene.show().chain(from.scope).len();
    let at = path.iter().position(|scope| *scope == from.scope).unwrap_or(0);
    let (into, lands) = if way < 0 && from.at > 0 {
        let spot = Spot { at: from.at - 1, ..from };
        (spot, spot)
    } else if way > 0 && from.at + 1 < effects {
        (Spot { at: from.at + 2, ..from }, Spot { at: from.at + 1, ..from })
    } else {
        let next = at.checked_add_signed(way).and_then(|next| path.get(next));
        let Some(&scope) = next.filter(|&&scope| scene.work.takes_effects_on(scope)) else { return };
        let end = if way < 0 { scene.show().chain(scope).len() } else { 0 };
        (Spot { scope, at: end }, Spot { scope, at: end })
    };
    scene.act(Action::Edit(Edit::Move { from, into }));
    scene.act(Action::Select(lands));
}
