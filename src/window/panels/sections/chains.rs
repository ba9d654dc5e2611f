//! Chains of the library that a section lays on scopes, in place of their own.

use std::sync::Arc;

use egui::{DragAndDrop, Rect, ScrollArea, Stroke, StrokeKind, Ui};

use super::edit;
use crate::edit::{SectionEdit, Way};
use crate::library::{Entry, Kind};
use crate::show::{Scope, Show};
use crate::window::scene::Scene;
use crate::window::theme::{CORNER, palette};
use crate::window::widgets::carried::{Carried, preview_of};
use crate::window::widgets::{name, scrolled};

/// How high a list of chains is at most, in points.
const LIST: f32 = 260.0;

/// The scopes that a section may lay chains on from a menu: the one selected, then all that are no clips, those on top
/// first.
pub(super) fn scopes(show: &Show, selected: Scope) -> Vec<Scope> {
    let mut all: Vec<Scope> =
        show.scopes().into_iter().filter(|scope| !matches!(scope, Scope::Clip(..))).collect();
    all.reverse();
    all.retain(|scope| *scope != selected);
    [selected].into_iter().chain(all).collect()
}

/// Every chain, to be laid on a scope in a section, and the way back; what is pointed at shows in the large picture.
pub(super) fn menu(ui: &mut Ui, scene: &mut Scene<'_>, section: usize, scope: Scope) {
    scene.shelves.keep_up(scene.catalogue, scene.recent, ui.ctx());
    let show = Arc::clone(scene.work.show());
    let Some(now) = show.sections.get(section).map(|of| of.chains.get(&scope)) else { return ui.close() };
    ui.set_min_width(190.0);
    if now.is_some() && ui.button("Its own effects again").clicked() {
        edit(scene, SectionEdit::Chain { section, scope, chain: None });
        ui.close();
    }
    if scene.shelves.is_unknown() {
        ui.weak("Looking through the library \u{2026}");
        return;
    }
    let entries = Arc::clone(scene.shelves.entries());
    let chains: Vec<&Entry> =
        entries.iter().filter(|entry| entry.kind == Kind::Chain && entry.facts.is_ok()).collect();
    scrolled(ui, ScrollArea::vertical().id_salt("chains to lay").max_height(LIST), |ui| {
        for entry in chains {
            let chain = entry.named();
            let called = name(entry.name());
            let response = ui.selectable_label(now == Some(&chain), &called);
            scene.point(&response, |scene| preview_of(ui.ctx(), scene, entry, scope, Way::Replace));
            if response.clicked() {
                edit(scene, SectionEdit::Chain { section, scope, chain: Some(chain) });
                ui.close();
            }
        }
    });
}

/// Over the card of a section: lays a chain there that is carried from the library, on the scope that is selected.
pub(super) fn take_carried(ui: &Ui, scene: &mut Scene<'_>, section: usize, rect: Rect) {
    let Some(carried) = DragAndDrop::payload::<Carried>(ui.ctx()) else { return };
    let is_over = ui.ctx().pointer_interact_pos().is_some_and(|at| rect.contains(at));
    if !is_over {
        return;
    }
    let stroke = Stroke::new(3.0, palette(ui.ctx()).accent);
    ui.painter().rect_stroke(rect.shrink(1.0), f32::from(CORNER), stroke, StrokeKind::Inside);
    let Some(entry) = scene.shelves.entry(Kind::Chain, &carried.handle).cloned() else { return };
    let scope = scene.view.scope;
    if ui.input(|input| input.pointer.any_released()) {
        edit(scene, SectionEdit::Chain { section, scope, chain: Some(entry.named()) });
    } else if let Some(preview) = preview_of(ui.ctx(), scene, &entry, scope, Way::Replace) {
        scene.carry_over(preview);
    }
}
