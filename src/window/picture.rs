//! The large picture: the output, the picture after an effect, another order, or two orders compared.

use egui::{Align2, Rect, ScrollArea, Sense, Stroke, Ui, Vec2, pos2, vec2};

use super::desk::Scene;
use super::pictures::{Placed, Stage, Urgency};
use super::theme::palette;
use super::view::{Action, Comparing, Pair, Pin, Shown};
use super::widgets::{
    announce, chips, cut_text, fitted, font, paint_focus, paint_picture, sign_button, texels,
};
use super::{flash, swaps};
use crate::caution;
use crate::chain::{labels, said};
use crate::edit::Edit;
use crate::frame::Frame;
use crate::show::Scope;

/// Half a second a picture: one change a second, far below the three flashes that WCAG 2.2 allows.
const BLINK_SECONDS: f64 = 0.5;

/// Draws the picture, what it is, and the beat.
pub fn show(ui: &mut Ui, scene: &mut Scene<'_>) {
    title(ui, scene);
    let caution = caution::of_show(scene.show()).map(|text| caution_text(ui, text));
    let below = 36.0 + flash::HEIGHT + 6.0 + caution.as_ref().map_or(0.0, |text| text.size().y + 14.0);
    let frame = scene.show().frame;
    let most = (ui.available_height() - below).max(60.0);
    // As high as the width asks for, so that what belongs to the picture stands right under it.
    let ideal = ui.available_width() * frame.height as f32 / frame.width as f32;
    let is_pair = matches!(scene.view.shown, Shown::Pair(_));
    let free = scene.view.zoom.is_some() || is_pair || most - ideal < swaps::LEAST;
    let room = vec2(ui.available_width(), if free { most } else { ideal });
    let room = Rect::from_min_size(ui.cursor().min, room);
    ui.scope_builder(egui::UiBuilder::new().max_rect(room), |ui| canvas(ui, scene));
    ui.advance_cursor_after_rect(room);
    beat(ui, scene);
    if let Some(text) = caution {
        caution_strip(ui, text);
    }
    flash::strip(ui, scene);
    if !free {
        ui.add_space(8.0);
        swaps::below(ui, scene);
    }
}

/// What the picture is, in words, and what can be done with it.
fn title(ui: &mut Ui, scene: &mut Scene<'_>) {
    let has_buttons = matches!(scene.view.shown, Shown::Order { .. } | Shown::Pair(_));
    // In a small window buttons take a second line, not room from the panel beside it.
    let wraps = has_buttons && scene.view.drag.is_none();
    let layout = egui::Layout::left_to_right(egui::Align::Center).with_main_wrap(wraps);
    let room = vec2(ui.available_width(), 24.0);
    ui.allocate_ui_with_layout(room, layout, |ui| {
        ui.set_min_height(24.0);
        if let Some((from, into)) = scene.view.drag {
            let names = scene.names_if_moved(from, into);
            ui.strong("If dropped here:");
            ui.add(egui::Label::new(names).truncate());
            return;
        }
        match scene.view.shown.clone() {
            Shown::Output => {
                ui.strong("Output");
                let text = egui::RichText::new(said_chain(scene, scene.view.scope)).weak();
                ui.add(egui::Label::new(text).truncate());
            }
            Shown::After(spot) => {
                let label = labels(scene.show().chain(spot.scope)).swap_remove(spot.at);
                ui.strong(format!("After {label}"));
                ui.weak(scene.show().address(spot.scope));
                if ui.button("Back to the output").clicked() {
                    scene.act(Action::Show(Shown::Output));
                }
            }
            Shown::Order { scope, order } => order_title(ui, scene, scope, &order),
            Shown::Pair(pair) => pair_title(ui, scene, &pair),
        }
    });
}

fn said_chain(scene: &Scene<'_>, scope: Scope) -> String {
    let chain = scene.show().chain(scope);
    let labels = labels(chain);
    let on = labels.iter().zip(chain).filter(|(_, used)| used.on).map(|(label, _)| label.as_str());
    format!("{}: {}", scene.show().address(scope), said(on))
}

fn order_title(ui: &mut Ui, scene: &mut Scene<'_>, scope: Scope, order: &[usize]) {
    let own: Vec<usize> = (0..order.len()).collect();
    let is_own = order == own;
    if is_own {
        ui.strong("The present order");
    } else {
        let adopt =
            egui::Button::new(egui::RichText::new("Adopt this order").color(palette(ui.ctx()).on_accent))
                .fill(palette(ui.ctx()).accent);
        if ui.add(adopt).on_hover_text("Enter").clicked() {
            scene.act(Action::Edit(Edit::Order { scope, order: order.to_vec() }));
            scene.act(Action::Show(Shown::Output));
        }
    }
    let from = ui.cursor().min + vec2(0.0, 3.0);
    let width = chips(ui, from, 16.0, order);
    ui.add_space(width + 2.0);
    if !is_own {
        if ui.button("Compare").on_hover_text("With the present order (C)").clicked() {
            let pair = Pair { scope, left: own, right: order.to_vec(), way: Comparing::Beside };
            scene.act(Action::Show(Shown::Pair(pair)));
        }
        if ui.button("Pin").on_hover_text("Keep it in view (P)").clicked() {
            let chain = order.iter().map(|&place| scene.show().chain(scope)[place].clone()).collect();
            scene.act(Action::Pin(Pin { scope, chain }));
        }
    }
    if ui.button("Back").on_hover_text("To the output (Esc)").clicked() {
        scene.act(Action::Show(Shown::Output));
    }
}

fn pair_title(ui: &mut Ui, scene: &mut Scene<'_>, pair: &Pair) {
    for way in Comparing::ALL {
        if ui.selectable_label(pair.way == way, way.label()).clicked() {
            scene.act(Action::Show(Shown::Pair(Pair { way, ..pair.clone() })));
        }
    }
    let own: Vec<usize> = (0..pair.left.len()).collect();
    if pair.right != own && ui.button("Adopt the other one").clicked() {
        scene.act(Action::Edit(Edit::Order { scope: pair.scope, order: pair.right.clone() }));
        scene.act(Action::Show(Shown::Output));
    }
    if ui.button("Back").on_hover_text("To the output (Esc)").clicked() {
        scene.act(Action::Show(Shown::Output));
    }
}

fn canvas(ui: &mut Ui, scene: &mut Scene<'_>) {
    let frame = scene.show().frame;
    let room = ui.available_rect_before_wrap();
    ui.painter().rect_filled(room, 3.0, palette(ui.ctx()).ground);
    if let Shown::Pair(pair) = scene.view.shown.clone()
        && scene.view.drag.is_none()
    {
        return pair_canvas(ui, scene, &pair, room, frame);
    }
    let Some(zoom) = scene.view.zoom else {
        let rect = fitted(room.shrink(1.0), frame);
        let response = ui.interact(rect, ui.scope_id().with("picture"), Sense::hover());
        announce(&response, "The picture", None);
        large(ui, scene, rect, "large", &stage_shown(scene));
        problem(ui, scene, room);
        return;
    };
    // One texel of the frame takes `zoom` pixels of the screen.
    let size = vec2(frame.width as f32, frame.height as f32) * zoom / ui.pixels_per_point();
    ScrollArea::both().id_salt("zoomed").auto_shrink([false; 2]).show(ui, |ui| {
        let (rect, _) = ui.allocate_exact_size(size.max(Vec2::ZERO), Sense::hover());
        large(ui, scene, rect, "large", &stage_shown(scene));
    });
}

fn problem(ui: &Ui, scene: &Scene<'_>, room: Rect) {
    let loading = scene.pictures.is_loading().then(|| {
        let (b, l, c) = scene.view.clip;
        format!("Loading footage: {} \u{2026}", scene.show().bundles[b].levels[l].clips[c].footage)
    });
    let Some(text) = scene.pictures.problem().map(str::to_owned).or(loading) else { return };
    let palette = palette(ui.ctx());
    let galley = ui.painter().layout(text, font(13.0), palette.bright, room.width() * 0.8);
    let rect = Rect::from_center_size(room.center(), galley.size() + vec2(28.0, 20.0));
    ui.painter().rect_filled(rect, 6.0, palette.panel);
    ui.painter().galley(rect.min + vec2(14.0, 10.0), galley, palette.bright);
}

/// Whose path leads to the picture, and which picture of it.
fn stage_shown(scene: &Scene<'_>) -> (Scope, Stage) {
    if scene.view.drag.is_some() {
        return (Scope::Global, output_of(scene.seen.global.len()));
    }
    match &scene.view.shown {
        Shown::Output | Shown::Pair(_) => (Scope::Global, output_of(scene.seen.global.len())),
        Shown::After(spot) => (spot.scope, Stage::After((0..=spot.at).collect())),
        Shown::Order { scope, order } => (*scope, Stage::Output(order.clone())),
    }
}

fn output_of(effects: usize) -> Stage {
    Stage::Output((0..effects).collect())
}

/// Paints one large picture.
fn large(
    ui: &Ui,
    scene: &mut Scene<'_>,
    rect: Rect,
    place: &str,
    (scope, stage): &(Scope, Stage),
) -> Option<Placed> {
    let placed = made(ui, scene, rect, place, (*scope, stage));
    paint_picture(ui, rect, placed);
    placed
}

fn made(
    ui: &Ui,
    scene: &mut Scene<'_>,
    rect: Rect,
    place: &str,
    (scope, stage): (Scope, &Stage),
) -> Option<Placed> {
    let moment = scene.moment;
    // While a card is dragged, the show as it would be.
    let show = scene.seen.clone();
    let wanted = scene.pictures.wanted(&show, scope, moment, stage)?;
    let single = scene.view.zoom.is_some();
    let frame = moment.frame;
    let size = if single { frame } else { texels(ui, rect.size(), frame) };
    // A picture that is nearly as large as its frame is shown whole, so that the place's size does not matter.
    let size = if size.texels() * 2 > frame.texels() { frame } else { size };
    scene.pictures.place(ui.scope_id().with(place), &wanted, size, single, Urgency::Large)
}

fn pair_canvas(ui: &mut Ui, scene: &mut Scene<'_>, pair: &Pair, room: Rect, frame: Frame) {
    let left = (pair.scope, Stage::Output(pair.left.clone()));
    let right = (pair.scope, Stage::Output(pair.right.clone()));
    match pair.way {
        Comparing::Beside => {
            // Side by side, or one under the other, whichever shows them larger.
            let (across, down) =
                (room.split_left_right_at_fraction(0.5), room.split_top_bottom_at_fraction(0.5));
            let width = |half: Rect| fitted(half.with_max_y(half.max.y - 24.0), frame).width();
            let (a, b) = if width(across.0) >= width(down.0) { across } else { down };
            for (half, place, stage, order) in
                [(a, "left", &left, &pair.left), (b, "right", &right, &pair.right)]
            {
                let rect = fitted(half.shrink(3.0).with_max_y(half.max.y - 24.0), frame);
                large(ui, scene, rect, place, stage);
                caption(ui, scene, pair.scope, order, rect);
            }
        }
        Comparing::Wipe => {
            let rect = fitted(room.shrink2(vec2(1.0, 22.0)), frame);
            let id = ui.scope_id().with("wipe");
            let share = scene.view.wipe;
            let response = ui.interact(rect, id, Sense::click_and_drag());
            announce(&response, "The line between the two orders: drag it, or Shift and an arrow", None);
            if let Some(at) = response.interact_pointer_pos() {
                scene.act(Action::Wipe((at.x - rect.left()) / rect.width()));
            }
            paint_focus(ui, &response, rect);
            let (a, b) = (
                made(ui, scene, rect, "left", (left.0, &left.1)),
                made(ui, scene, rect, "right", (right.0, &right.1)),
            );
            let x = rect.left() + rect.width() * share;
            for (part, placed) in [(rect.with_max_x(x), a), (rect.with_min_x(x), b)] {
                if let Some(placed) = placed {
                    let share_of = |x: f32| (x - rect.left()) / rect.width();
                    let uv = Rect::from_min_max(
                        pos2(share_of(part.left()), 0.0),
                        pos2(share_of(part.right()), 1.0),
                    );
                    ui.painter().image(placed.texture, part, uv, egui::Color32::WHITE);
                }
            }
            ui.painter().vline(x, rect.y_range(), Stroke::new(2.0, palette(ui.ctx()).bright));
            caption(ui, scene, pair.scope, &pair.left, rect.with_max_x(rect.center().x));
            caption(ui, scene, pair.scope, &pair.right, rect.with_min_x(rect.center().x));
        }
        Comparing::Blink => {
            let rect = fitted(room.shrink2(vec2(1.0, 22.0)), frame);
            let runs = scene.view.blinking;
            let time = ui.input(|input| input.time);
            let is_right = runs && (time / BLINK_SECONDS) as u64 % 2 == 1;
            let (placed_left, placed_right) = (
                made(ui, scene, rect, "left", (left.0, &left.1)),
                made(ui, scene, rect, "right", (right.0, &right.1)),
            );
            paint_picture(ui, rect, if is_right { placed_right } else { placed_left });
            caption(ui, scene, pair.scope, if is_right { &pair.right } else { &pair.left }, rect);
            let at = Rect::from_min_size(rect.left_bottom() + vec2(6.0, -30.0), vec2(120.0, 24.0));
            let text = if runs { "Hold" } else { "Start blinking" };
            if ui.put(at, egui::Button::new(text)).clicked() {
                scene.act(Action::Blink(!runs));
            }
            if runs {
                let rest = BLINK_SECONDS - time % BLINK_SECONDS;
                ui.ctx().request_repaint_after(std::time::Duration::from_secs_f64(rest));
            }
        }
        Comparing::Difference => {
            let rect = fitted(room.shrink2(vec2(1.0, 22.0)), frame);
            let stage = Stage::Difference(pair.left.clone(), pair.right.clone());
            large(ui, scene, rect, "difference", &(pair.scope, stage));
            let at = pos2(rect.center().x, rect.bottom() + 12.0);
            let text = "how far the two are apart, four times as bright; black is no difference";
            ui.painter().text(at, Align2::CENTER_CENTER, text, font(12.0), palette(ui.ctx()).plain);
        }
    }
}

/// Chips and words under a picture.
fn caption(ui: &Ui, scene: &Scene<'_>, scope: Scope, order: &[usize], rect: Rect) {
    let labels = labels(scene.show().chain(scope));
    let from = rect.left_bottom() + vec2(2.0, 5.0);
    let width = chips(ui, from, 14.0, order);
    let text = said(order.iter().map(|&place| labels[place].as_str()));
    let at = from + vec2(width + 4.0, 7.0);
    let colour = palette(ui.ctx()).plain;
    let text = cut_text(ui, &text, 11.5, colour, rect.right() - 8.0 - at.x);
    ui.painter().galley(at - vec2(0.0, text.size().y / 2.0), text, colour);
}

/// Play or hold, where the beat stands, and how large the picture is.
fn beat(ui: &mut Ui, scene: &mut Scene<'_>) {
    ui.horizontal(|ui| {
        ui.set_min_height(26.0);
        let playing = scene.view.playing;
        let play = if playing { "Hold" } else { "Play" };
        if ui.button(play).on_hover_text("Space").clicked() {
            scene.act(Action::Play(!playing));
        }
        if sign_button(ui, "0", "To beat 0", "To the first beat (Home)").clicked() {
            scene.act(Action::Beats(0.0));
        }
        if sign_button(ui, "−¼", "A quarter beat back", "A quarter beat back (,)").clicked() {
            scene.act(Action::Beats(scene.view.beats - 0.25));
        }
        if sign_button(ui, "+¼", "A quarter beat on", "A quarter beat on (.)").clicked() {
            scene.act(Action::Beats(scene.view.beats + 0.25));
        }
        let mut beats = scene.view.beats;
        let prefix = if ui.available_width() > 190.0 { "beat " } else { "" };
        let drag = egui::DragValue::new(&mut beats).speed(0.01).fixed_decimals(2).prefix(prefix);
        let response = ui.add(drag).accessible_name("Beat");
        if response.changed() {
            scene.act(Action::Beats(beats));
        }
        response.on_hover_text("Where the beat stands");
        // In a small window the number alone tells it.
        if ui.available_width() > 230.0 {
            bar_of_four(ui, scene.view.beats);
        }
        ui.with_layout(egui::Layout::right_to_left(egui::Align::Center), |ui| {
            for (text, zoom, hint) in [
                ("4:1", Some(4.0), "Four pixels a texel"),
                ("1:1", Some(1.0), "One pixel a texel"),
                ("fit", None, "The whole picture"),
            ] {
                if ui.selectable_label(scene.view.zoom == zoom, text).on_hover_text(hint).clicked() {
                    scene.act(Action::Zoom(zoom));
                }
            }
        });
    });
}

/// Four fields, of which the present beat's is filled as far as it has come.
fn bar_of_four(ui: &mut Ui, beats: f64) {
    let palette = palette(ui.ctx());
    let (rect, _) = ui.allocate_exact_size(vec2(92.0, 12.0), Sense::hover());
    let within = beats.rem_euclid(4.0) as f32;
    for field in 0..4 {
        let left = rect.left() + field as f32 * 23.0;
        let area = Rect::from_min_size(pos2(left, rect.top()), vec2(20.0, rect.height()));
        ui.painter().rect_filled(area, 2.0, palette.lifted);
        let filled = (within - field as f32).clamp(0.0, 1.0);
        let part = Rect::from_min_size(area.min, vec2(area.width() * filled, area.height()));
        ui.painter().rect_filled(part, 2.0, palette.plain);
    }
}

fn caution_text(ui: &Ui, text: &str) -> std::sync::Arc<egui::Galley> {
    ui.painter().layout(text.to_owned(), font(11.0), palette(ui.ctx()).plain, ui.available_width() - 42.0)
}

fn caution_strip(ui: &mut Ui, text: std::sync::Arc<egui::Galley>) {
    let palette = palette(ui.ctx());
    let (rect, response) =
        ui.allocate_exact_size(vec2(ui.available_width(), text.size().y + 8.0), Sense::hover());
    ui.painter().rect_filled(rect, 4.0, palette.raised);
    let sign = Rect::from_min_size(rect.min, vec2(26.0, rect.height()));
    ui.painter().rect_filled(sign, 4.0, palette.caution);
    ui.painter().text(sign.center(), Align2::CENTER_CENTER, "!", font(18.0), egui::Color32::BLACK);
    let at = pos2(sign.right() + 8.0, rect.center().y - text.size().y / 2.0);
    ui.painter().galley(at, text, palette.plain);
    response.widget_info(|| egui::WidgetInfo::labeled(egui::Role::Label, true, caution::CAUTION));
}
