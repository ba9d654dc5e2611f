//! The keys: every operation has one.

use std::sync::Arc;

use egui::{Context, Key, KeyboardShortcut, Modifiers, ScrollArea, Ui};

use super::action::{Action, Comparing, Dialog, Pair, Pin, Saving, Shown, Tab, WallBy};
use super::panels::hands;
use super::panels::lessons::LessonAct;
use super::preferences::TEXT_STEP;
use super::scene::Scene;
use crate::edit::{ClipEdit, Edit, Named, Spot};
use crate::order::in_order;
use crate::show::{ClipPlace, Scope};

/// The keys and what they do, for the sheet.
pub const KEYS: &[(&str, &[(&str, &str)])] = &[
    (
        "The path",
        &[
            ("← →", "the effect before or after, through every scope"),
            ("Alt ← →", "move the effect under or over, also into the next scope"),
            ("↑ ↓", "the scope before or after on the path"),
            ("Page ↑ ↓", "the path of the next or previous clip"),
            ("A", "add an effect over the selected one"),
            ("Ctrl D", "duplicate it"),
            ("Delete", "remove it"),
            ("O", "switch it on or off"),
            ("R", "its settings back to their defaults"),
            ("V", "the picture after it; again: the output"),
            ("F2", "call the selected effect or scope something else"),
            ("Shift F2", "rename the scope"),
            ("T", "other footage for the clip"),
            ("S", "show the clip of this path on its level"),
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
            ("H", "what flashes, and what would flash less"),
            ("G", "the orders of the look in the large picture; again: all looks"),
            ("F", "only orders in which an effect is first, last or before another"),
            ("Shift F", "every order again"),
            ("W", "the wall at the output, or leaving the chain"),
            ("1 2 3 4 5", "wall of orders, swap table, pins, hands, lessons"),
            ("N, Shift N", "among the lessons: the next, the previous"),
            ("Shift P", "adopt the newest pin"),
            ("U", "let go of the newest pin"),
            ("Esc", "back to the output"),
        ],
    ),
    (
        "Two orders compared",
        &[
            ("M", "both, wipe, blink, difference"),
            ("B", "blink, or hold"),
            ("Shift ← →", "move the line of the wipe"),
            ("Enter", "adopt the other one"),
        ],
    ),
    (
        "The picture and the beat",
        &[
            ("Z", "fit, one pixel a texel, four pixels a texel"),
            ("D", "render full, half, quarter"),
            ("Space", "play or hold"),
            ("Shift , .", "a frame back or on"),
            ("K", "tap the tempo"),
            ("Y", "loop of 4, 8, 16 beats, or none"),
            (", .", "a quarter beat back or on"),
            ("Home", "to beat 0"),
            ("Ctrl ↑ ↓", "one BPM faster or slower"),
        ],
    ),
    (
        "Files and steps",
        &[
            ("Ctrl O", "open"),
            ("Ctrl S", "save"),
            ("Ctrl Shift S", "save as"),
            ("Ctrl E", "export the picture"),
            ("Ctrl Shift E", "export the wall"),
            ("Ctrl Backspace", "give up the export that is on its way"),
            ("Ctrl K", "keep the chain as a preset"),
            ("Ctrl F2", "rename the show"),
            ("Ctrl Z", "undo"),
            ("Ctrl Shift Z, Ctrl Y", "redo"),
            ("Ctrl H", "the steps taken"),
            ("Ctrl Q", "quit"),
        ],
    ),
    (
        "The window",
        &[
            ("Ctrl + − 0", "larger, smaller, usual text"),
            ("F9", "dark, light, as the system"),
            ("F10", "the menus"),
            ("Tab", "to the next control; Space or Enter presses it"),
            ("F1 or ?", "this sheet"),
            ("Enter, Esc", "in a sheet: its main button, the way out"),
        ],
    ),
];

/// Draws the sheet of keys.
pub fn sheet(ui: &mut Ui) {
    ui.set_min_width(500.0);
    let most = (ui.ctx().content_rect().height() - 150.0).max(160.0);
    ScrollArea::vertical().max_height(most).show(ui, |ui| {
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
    hands::keys(ctx, scene);
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
    for (modifiers, key, action) in [
        (shifted, Key::S, Action::Ask(Dialog::Save(Saving::Work))),
        (shifted, Key::E, Action::Ask(Dialog::Save(Saving::Wall))),
        (command, Key::E, Action::Ask(Dialog::Save(Saving::Picture))),
        (command, Key::K, Action::Ask(Dialog::Save(Saving::Chain))),
        (command, Key::F2, Action::Ask(Dialog::Rename(Named::Show))),
        (command, Key::H, Action::Ask(Dialog::Steps)),
        (command, Key::Backspace, Action::GiveUpExport),
        (command, Key::S, Action::Save),
        (command, Key::O, Action::Ask(Dialog::Open)),
        (command, Key::Q, Action::Quit),
        (Modifiers::NONE, Key::F1, Action::Ask(Dialog::Keys)),
        (Modifiers::NONE, Key::F9, Action::Theme(scene.view.preferences.theme.next())),
    ] {
        // In a line of text Ctrl Backspace takes a word away.
        let is_text = key == Key::Backspace && ctx.text_edit_focused();
        if !is_text && pressed(modifiers, key) {
            scene.act(action);
        }
    }
    text_size(ctx, scene);
    // A sheet takes Enter and Escape for itself.
    if scene.view.dialog.is_some() {
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
        if pressed(Modifiers::NONE, Key::R) {
            scene.act(Action::Edit(Edit::Reset(spot)));
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
    let scope = scene.view.scope;
    if pressed(Modifiers::SHIFT, Key::F2) && scope != Scope::Global {
        scene.act(Action::Ask(Dialog::Rename(Named::Scope(scope))));
    }
    if pressed(Modifiers::NONE, Key::F2) {
        match scene.view.spot() {
            Some(spot) => scene.act(Action::Ask(Dialog::Rename(Named::Effect(spot)))),
            None if scope != Scope::Global => scene.act(Action::Ask(Dialog::Rename(Named::Scope(scope)))),
            None => scene.act(Action::Say("The global scope keeps its name.".to_owned())),
        }
    }
    let clip = scene.view.clip;
    if pressed(Modifiers::NONE, Key::T) {
        scene.act(Action::Ask(Dialog::Footage(clip)));
    }
    if pressed(Modifiers::NONE, Key::S) {
        scene.act(Action::Edit(Edit::Clip(clip, ClipEdit::Show)));
    }
    for (key, way) in [(Key::PageUp, 1), (Key::PageDown, -1)] {
        if pressed(Modifiers::NONE, key) {
            clip_by(scene, way);
        }
    }
    for (key, step) in [(Key::ArrowUp, 1.0), (Key::ArrowDown, -1.0)] {
        if pressed(command, key) {
            scene.act(Action::Edit(Edit::Tempo((scene.show().tempo_bpm + step).clamp(1.0, 999.0))));
        }
    }
    if scene.view.tab == Tab::Lessons {
        for (modifiers, by) in [(Modifiers::SHIFT, -1), (Modifiers::NONE, 1)] {
            if pressed(modifiers, Key::N) {
                scene.act(Action::Lesson(LessonAct::Turn(by)));
            }
        }
    }
    pair(ctx, scene);
    if pressed(Modifiers::SHIFT, Key::P)
        && let Some(pin) = scene.view.pins.last()
    {
        let name = "pinned".to_owned();
        scene.act(Action::Edit(Edit::Chain { scope: pin.scope, chain: pin.chain.clone(), name }));
    }
    if pressed(Modifiers::NONE, Key::U) && !scene.view.pins.is_empty() {
        scene.act(Action::Unpin(scene.view.pins.len() - 1));
    }
    if pressed(Modifiers::NONE, Key::W) {
        scene.act(Action::WallOfOutput(!scene.view.wall_of_output));
    }
    if pressed(Modifiers::SHIFT, Key::F) {
        (0..scene.view.conditions.len()).for_each(|_| scene.act(Action::Release(0)));
    }
    if pressed(Modifiers::NONE, Key::Z) {
        let zoom = match scene.view.zoom {
            None => Some(1.0),
            Some(zoom) if zoom < 2.0 => Some(4.0),
            Some(_) => None,
        };
        scene.act(Action::Zoom(zoom));
    }
    if pressed(Modifiers::NONE, Key::D) {
        scene.act(Action::Detail(if scene.view.detail >= 4 { 1 } else { scene.view.detail * 2 }));
    }
    if ctx.input(|input| {
        input.events.iter().any(|event| matches!(event, egui::Event::Text(text) if text == "?"))
    }) {
        scene.act(Action::Ask(Dialog::Keys));
    }
    if pressed(Modifiers::NONE, Key::H) {
        scene.act(Action::Ask(Dialog::Flashes));
    }
    for (key, step) in [(Key::Comma, -1), (Key::Period, 1)] {
        if pressed(Modifiers::SHIFT, key) {
            scene.act(Action::StepFrames(step));
        }
    }
    if pressed(Modifiers::NONE, Key::K) {
        scene.act(Action::Tap);
    }
    if pressed(Modifiers::NONE, Key::Y) {
        let next = match scene.view.looped {
            None => Some(4),
            Some(4) => Some(8),
            Some(8) => Some(16),
            Some(_) => None,
        };
        scene.act(Action::Loop(next));
    }
    if pressed(Modifiers::NONE, Key::Home) {
        scene.act(Action::Beats(0.0));
    }
    for (key, step) in [(Key::Comma, -0.25), (Key::Period, 0.25)] {
        if pressed(Modifiers::NONE, key) {
            scene.act(Action::Beats(scene.view.beats + step));
        }
    }
    for (key, tab) in [
        (Key::Num1, Tab::Orders),
        (Key::Num2, Tab::Swaps),
        (Key::Num3, Tab::Pins),
        (Key::Num4, Tab::Hands),
        (Key::Num5, Tab::Lessons),
        (Key::Num6, Tab::Library),
    ] {
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

fn text_size(ctx: &Context, scene: &mut Scene<'_>) {
    let pressed =
        |key| ctx.input_mut(|input| input.consume_shortcut(&KeyboardShortcut::new(Modifiers::COMMAND, key)));
    let percent = scene.view.preferences.text_percent;
    if pressed(Key::Plus) || pressed(Key::Equals) {
        scene.act(Action::TextSize(percent + TEXT_STEP));
    } else if pressed(Key::Minus) {
        scene.act(Action::TextSize(percent - TEXT_STEP));
    } else if pressed(Key::Num0) {
        scene.act(Action::TextSize(100));
    }
}

/// Keys for two orders compared.
fn pair(ctx: &Context, scene: &mut Scene<'_>) {
    let Shown::Pair(pair) = scene.view.shown.clone() else { return };
    let pressed = |modifiers, key| {
        ctx.input_mut(|input| input.consume_shortcut(&KeyboardShortcut::new(modifiers, key)))
    };
    for (key, step) in [(Key::ArrowLeft, -0.05), (Key::ArrowRight, 0.05)] {
        if pressed(Modifiers::SHIFT, key) {
            scene.act(Action::Wipe(scene.view.wipe + step));
        }
    }
    if pressed(Modifiers::NONE, Key::M) {
        let at = Comparing::ALL.iter().position(|way| *way == pair.way).unwrap_or(0);
        let way = Comparing::ALL[(at + 1) % Comparing::ALL.len()];
        scene.act(Action::Show(Shown::Pair(Pair { way, ..pair })));
    } else if pressed(Modifiers::NONE, Key::B) {
        scene.act(Action::Show(Shown::Pair(Pair { way: Comparing::Blink, ..pair })));
        scene.act(Action::Blink(!scene.view.blinking));
    } else if ctx.memory(|memory| memory.focused().is_none()) && pressed(Modifiers::NONE, Key::Enter) {
        scene.act(Action::Adopt(scene.row(pair.scope, &pair.right)));
    }
}

/// To the path of another clip, through all of them from the bottom up.
fn clip_by(scene: &mut Scene<'_>, way: isize) {
    let clips: Vec<ClipPlace> = scene
        .show()
        .scopes()
        .into_iter()
        .filter_map(|scope| match scope {
            Scope::Clip(bundle, level, clip) => Some(ClipPlace { bundle, level, clip }),
            _ => None,
        })
        .collect();
    let now = clips.iter().position(|clip| *clip == scene.view.clip).unwrap_or(0) as isize;
    if let Some(&place) = usize::try_from(now + way).ok().and_then(|next| clips.get(next)) {
        scene.act(Action::Path(place));
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
        let look = on_wall.iter().find(|one| shown.as_ref() == Some(&one.order) && one.look.is_some());
        match (&scene.view.wall_by, look) {
            (WallBy::Look(_), _) => scene.act(Action::WallBy(WallBy::Looks)),
            (_, Some(one)) => scene.act(Action::WallBy(WallBy::Look(one.order.clone()))),
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
        scene.act(Action::Adopt(scene.row(scope, &order)));
    } else if pressed(Key::C) {
        let pair = Pair { scope, left: (0..order.len()).collect(), right: order, way: Comparing::Beside };
        scene.act(Action::Show(Shown::Pair(pair)));
    } else if pressed(Key::P) {
        let chain = in_order(scene.show().chain(scope), &order);
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
