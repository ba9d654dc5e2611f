//! A chain that is carried from the library to the path.

use egui::{Align2, DragAndDrop, Id, LayerId, Order, Rect, Stroke, StrokeKind, Ui, Vec2, vec2};

use super::{font, name};
use crate::edit::Way;
use crate::show::Scope;
use crate::window::action::Action;
use crate::window::scene::Scene;
use crate::window::shelves::LibraryAct;
use crate::window::theme::{CORNER, paint_chip, palette};

/// A chain that is carried from the library to the path.
#[derive(Debug, Clone)]
pub struct Carried {
    pub handle: String,
    pub name: String,
}

/// Puts a chain of the library onto a scope.
pub fn put(scene: &mut Scene<'_>, handle: &str, scope: Scope, way: Way) {
    scene.act(Action::Library(LibraryAct::Put { handle: handle.to_owned(), scope, way }));
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
        if is_over && ui.input(|input| input.pointer.any_released()) {
            put(scene, &carried.handle, scope, *way);
            scene.act(Action::Scope(scope));
            scene.act(Action::Say(format!("{} is on {}.", carried.name, scene.address(scope))));
        }
    }
}
