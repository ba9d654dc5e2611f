//! The levels of a bundle in other orders, side by side: one is adopted with one press.

use std::sync::Arc;

use egui::{Id, RichText, ScrollArea, Sense, Stroke, StrokeKind, Ui, vec2};

use super::close_button;
use crate::edit::{Edit, StructureEdit, level_orders};
use crate::show::{Scope, Show};
use crate::window::action::Action;
use crate::window::pictures::{Stage, Urgency};
use crate::window::scene::Scene;
use crate::window::theme::palette;
use crate::window::widgets::parts::striped;
use crate::window::widgets::{announce, name, paint_focus, paint_picture, scrolled, texels};

/// Width of a picture, in points, and the space between two.
const WIDTH: f32 = 168.0;
const SPACE: f32 = 8.0;

/// The orders, and the shows that they make: kept for as long as the show is the same.
#[derive(Clone)]
struct Tried {
    of: Arc<Show>,
    orders: Arc<Vec<(Vec<usize>, Arc<Show>)>>,
}

pub(super) fn show(ui: &mut Ui, scene: &mut Scene<'_>, bundle: usize) {
    let of = Arc::clone(scene.work.show());
    let Some(own) = of.bundles.get(bundle) else { return scene.act(Action::Close) };
    let columns = ((ui.available_width() + SPACE) / (WIDTH + SPACE)).floor().max(1.0) as usize;
    let title = format!("The levels of {} in other orders", name(&own.name));
    striped(ui, own.colour, |ui| ui.heading(title));
    ui.weak("From the bottom to the top. Press one to adopt it; Undo takes it back.");
    let id = Id::unique(("levels in other orders", bundle));
    let known = ui.data(|data| data.get_temp::<Tried>(id)).filter(|known| Arc::ptr_eq(&known.of, &of));
    let tried = known.unwrap_or_else(|| {
        let orders = level_orders(&of, bundle).into_iter().filter_map(|order| {
            let edit = Edit::Structure(StructureEdit::Levels { bundle, order: order.clone() });
            Some((order, Arc::new(edit.applied(&of).ok()?.0)))
        });
        Tried { orders: Arc::new(orders.collect()), of: Arc::clone(&of) }
    });
    ui.data_mut(|data| data.insert_temp(id, tried.clone()));
    let most = (ui.ctx().content_rect().height() - 200.0).max(160.0);
    scrolled(ui, ScrollArea::vertical().max_height(most), |ui| {
        for row in tried.orders.chunks(columns) {
            ui.horizontal_top(|ui| {
                ui.spacing_mut().item_spacing.x = SPACE;
                for (order, show) in row {
                    tile(ui, scene, (bundle, order), show);
                }
            });
        }
    });
    close_button(ui, scene);
}

fn tile(ui: &mut Ui, scene: &mut Scene<'_>, (bundle, order): (usize, &[usize]), show: &Arc<Show>) {
    let levels = show.bundles[bundle].levels.iter().filter(|level| !level.hidden);
    let names: Vec<String> = levels.map(|level| name(&level.name)).collect();
    let said = names.join(", ");
    let is_now = order.is_sorted();
    ui.vertical(|ui| {
        ui.set_width(WIDTH);
        let frame = show.frame;
        let size = vec2(WIDTH, (WIDTH * frame.height as f32 / frame.width as f32).min(180.0));
        let (rect, response) = ui.allocate_exact_size(size, Sense::click());
        let now = if is_now { ", as it is now" } else { "" };
        announce(&response, &format!("Levels {said}{now}"), Some(is_now));
        let moment = scene.moment;
        let stage = Stage::Output((0..show.global.len()).collect());
        let wanted = scene.pictures.wanted(show, Scope::Global, moment, &stage);
        let texels = texels(ui, size, moment.frame);
        let place = Id::unique(("order of levels", bundle, &said));
        let placed =
            wanted.and_then(|wanted| scene.pictures.place(place, &wanted, texels, false, Urgency::Wall));
        paint_picture(ui, rect, placed);
        let palette = palette(ui.ctx());
        let colour = if is_now || response.hovered() { palette.accent } else { palette.line };
        ui.painter().rect_stroke(rect, 2.0, Stroke::new(1.5, colour), StrokeKind::Outside);
        paint_focus(ui, &response, rect);
        let text = if is_now { format!("{said} (current)") } else { said };
        ui.add(egui::Label::new(RichText::new(text).small()).wrap());
        if response.clicked() {
            scene.act(Action::Close);
            let order = order.to_vec();
            scene.act(Action::Edit(Edit::Structure(StructureEdit::Levels { bundle, order })));
        }
    });
}
