//! What is carried to the path and to the picture: a chain of the library, and an order or a pin.

use egui::{Align2, Context, DragAndDrop, Id, LayerId, Order, Rect, Stroke, StrokeKind, Ui, Vec2, vec2};

use super::{font, name};
use crate::edit::{Edit, Put, Way};
use crate::library::{Entry, Kind};
use crate::show::Scope;
use crate::window::action::Action;
use crate::window::scene::Scene;
use crate::window::shelves::LibraryAct;
use crate::window::showing::{Preview, Tried};
use crate::window::theme::{CORNER, paint_chip, palette};
use crate::window::threads::documents::Held;

/// A chain that is carried from the library to the path.
#[derive(Debug, Clone)]
pub struct Carried {
    pub handle: String,
    pub name: String,
}

/// Puts a chain of the library onto a scope.
pub fn put(scene: &mut Scene<'_>, handle: &str, scope: Scope, way: Way, with_controls: bool) {
    scene.act(Action::Library(LibraryAct::Put { handle: handle.to_owned(), scope, way, with_controls }));
}

/// An order of the wall, or a pin, that is carried to the path or to the picture.
#[derive(Debug, Clone)]
pub struct CarriedOrder {
    /// What it is, beside the pointer.
    pub name: String,
    /// What would be once it is adopted.
    pub preview: Preview,
    pub adopt: Action,
}

/// What an entry of the library would make: a chain on a scope, a starter a show of its own. Nothing until it is read.
pub fn preview_of(
    ctx: &Context,
    scene: &mut Scene<'_>,
    entry: &Entry,
    scope: Scope,
    way: Way,
) -> Option<Preview> {
    let called = name(entry.name());
    match scene.shelves.documents.of(entry, scene.catalogue, ctx)? {
        Held::Chain(preset) => {
            if !scene.work.takes_effects_on(scope) {
                return None;
            }
            let address = scene.address(scope);
            let said = match way {
                _ if scene.show().chain(scope).is_empty() => format!("{called} on {address}"),
                Way::Replace => format!("{called} in place of the effects on {address}"),
                way => format!("{called} {} the effects on {address}", way.name()),
            };
            let (chain, name) = (preset.chain.clone(), preset.name.clone());
            let put = Put { scope, chain, name, taken: None, way, controls: None };
            Some(Preview { tried: Tried::Edit(Edit::Put(Box::new(put))), said })
        }
        Held::Show(show) => {
            Some(Preview { tried: Tried::Show(show), said: format!("a show begun from {called}") })
        }
    }
}

/// Over the path, or over the picture: takes an order or a pin that is carried there.
pub fn adopt_place(ui: &Ui, scene: &mut Scene<'_>, rect: Rect) {
    let Some(carried) = DragAndDrop::payload::<CarriedOrder>(ui.ctx()) else { return };
    let is_over = ui.ctx().pointer_interact_pos().is_some_and(|at| rect.contains(at));
    let colour = palette(ui.ctx()).accent;
    let stroke = Stroke::new(if is_over { 3.0 } else { 1.0 }, colour);
    ui.painter().rect_stroke(rect.shrink(1.0), f32::from(CORNER), stroke, StrokeKind::Inside);
    if !is_over {
        return;
    }
    if ui.input(|input| input.pointer.any_released()) {
        let _ = DragAndDrop::take_payload::<CarriedOrder>(ui.ctx());
        scene.act(carried.adopt.clone());
    } else {
        scene.carry_over(carried.preview.clone());
    }
}

/// The name of what is carried, beside the pointer.
pub fn carried(ui: &Ui, name: &str) {
    let Some(at) = ui.ctx().pointer_interact_pos() else { return };
    let palette = palette(ui.ctx());
    let painter = ui.ctx().layer_painter(LayerId::new(Order::Tooltip, Id::unique("carried chain")));
    let galley = painter.layout_no_wrap(self::name(name), font(13.0), palette.bright);
    let rect = Rect::from_min_size(at + vec2(12.0, 8.0), galley.size() + vec2(12.0, 8.0));
    painter.rect(
        rect,
        f32::from(CORNER),
        palette.raised,
        Stroke::new(1.0, palette.accent),
        StrokeKind::Inside,
    );
    painter.galley(rect.min + vec2(6.0, 4.0), galley, palette.bright);
}

/// An effect that is carried, beside the pointer, with its mark.
pub fn carried_effect(ui: &Ui, label: String, mark: u32) {
    let Some(at) = ui.input(|input| input.pointer.latest_pos()) else { return };
    let palette = palette(ui.ctx());
    let painter = ui.ctx().layer_painter(LayerId::new(Order::Tooltip, Id::unique("carried")));
    let galley = painter.layout_no_wrap(label, font(13.0), palette.bright);
    let rect = Rect::from_min_size(at + vec2(12.0, 10.0), galley.size() + vec2(34.0, 10.0));
    let rim = Stroke::new(1.0, palette.accent);
    painter.rect(rect, f32::from(CORNER), palette.raised, rim, StrokeKind::Inside);
    paint_chip(&painter, Rect::from_min_size(rect.min + vec2(6.0, 5.0), Vec2::splat(15.0)), mark);
    painter.galley(rect.min + vec2(26.0, 5.0), galley, palette.bright);
}

/// Over a scope of the path: where a chain that is carried there would go. Drawn by the path.
pub fn drop_places(ui: &Ui, scene: &mut Scene<'_>, scope: Scope, rect: Rect) {
    let Some(carried) = DragAndDrop::payload::<Carried>(ui.ctx()) else { return };
    let palette = palette(ui.ctx());
    let pointer = ui.ctx().pointer_interact_pos();
    let is_empty = scene.show().chain(scope).is_empty();
    let ways: &[(Way, &str)] = if is_empty {
        &[(Way::Replace, "put here")]
    } else {
        &[(Way::Under, "under"), (Way::Replace, "replace"), (Way::Over, "over")]
    };
    // With ways side by side each needs room for its word; in a narrow section they lie one above the other.
    let is_wide = rect.width() >= 60.0 * ways.len() as f32;
    for (at, (way, word)) in ways.iter().enumerate() {
        let part = |low: f32, high: f32| {
            let share = (high - low) / ways.len() as f32;
            egui::Rangef::new(low + share * at as f32, low + share * (at + 1) as f32)
        };
        let zone = if is_wide {
            Rect::from_x_y_ranges(part(rect.left(), rect.right()), rect.y_range())
        } else {
            Rect::from_x_y_ranges(rect.x_range(), part(rect.top(), rect.bottom()))
        }
        .shrink(2.0);
        let is_over = pointer.is_some_and(|at| zone.contains(at));
        let (fill, text) = if is_over {
            (palette.accent, palette.on_accent)
        } else {
            (palette.raised.gamma_multiply(0.86), palette.plain)
        };
        ui.painter().rect(zone, f32::from(CORNER), fill, Stroke::new(1.0, palette.line), StrokeKind::Inside);
        ui.painter().text(zone.center(), Align2::CENTER_CENTER, *word, font(13.0), text);
        if is_over
            && let Some(entry) = scene.shelves.entry(Kind::Chain, &carried.handle).cloned()
            && let Some(preview) = preview_of(ui.ctx(), scene, &entry, scope, *way)
        {
            scene.carry_over(preview);
        }
        if is_over && ui.input(|input| input.pointer.any_released()) {
            put(scene, &carried.handle, scope, *way, true);
            scene.act(Action::Scope(scope));
            scene.act(Action::Say(format!("{} is on {}.", carried.name, scene.address(scope))));
        }
    }
}
