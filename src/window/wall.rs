//! The wall: every order of the selected chain that can differ, each as a picture.

use egui::{Align2, Rect, ScrollArea, Sense, Stroke, StrokeKind, Ui, pos2, vec2};

use super::desk::Scene;
use super::pictures::{Stage, Urgency};
use super::theme::{CORNER, palette};
use super::view::{Action, Comparing, Pair, Pin, Shown};
use super::widgets::{announce, chips, font, paint_focus, paint_picture, texels};
use crate::chain::{labels, said};
use crate::edit::Edit;
use crate::order::Explored;

/// The least width of a tile, in points.
const TILE: f32 = 150.0;
/// Height of the chips under a tile's picture, and of a line of words under them.
const LINES: [f32; 2] = [27.0, 13.0];
const SPACE: f32 = 10.0;

/// Draws the wall.
pub fn show(ui: &mut Ui, scene: &mut Scene<'_>) {
    let scope = scene.view.scope;
    let chain = scene.show().chain(scope).clone();
    let names = labels(&chain);
    let Some(known) = scene.known.cloned() else {
        ui.weak(scene.unknown_because());
        return;
    };
    heading(ui, scene, &known, &names);
    if chain.len() < 2 {
        ui.add_space(8.0);
        ui.label("With one effect there is one order. Add another in a gap of the path above: press A.");
        return;
    }
    let columns = ((ui.available_width() + SPACE) / (TILE + SPACE)).floor().max(1.0) as usize;
    let width = (ui.available_width() - 10.0 + SPACE) / columns as f32 - SPACE;
    let frame = scene.show().frame;
    let height = (width * frame.height as f32 / frame.width as f32).min(width * 1.5);
    let rows = known.classes.len().div_ceil(columns);
    // All orders have the same words; few of them break into a line more than the first ones.
    let most = known
        .sequence
        .iter()
        .take(12)
        .map(|&at| words(ui, &known.classes[at].order, &names, width).rows.len());
    let size = vec2(width, height);
    let lines = LINES[0] + LINES[1] * most.max().unwrap_or(1) as f32;
    let area = ScrollArea::vertical().id_salt("wall").auto_shrink([false; 2]);
    ui.spacing_mut().item_spacing.y = SPACE;
    area.show_rows(ui, height + lines, rows, |ui, range| {
        for row in range {
            ui.horizontal_top(|ui| {
                ui.spacing_mut().item_spacing.x = SPACE;
                let first = row * columns;
                for &at in &known.sequence[first..known.classes.len().min(first + columns)] {
                    tile(ui, scene, at, &known.classes[at].order, &names, (size, lines));
                }
            });
        }
    });
}

/// "120 orders, 54 of them can differ", and how far their pictures have come.
fn heading(ui: &mut Ui, scene: &mut Scene<'_>, known: &super::prover::Known, names: &[String]) {
    let classes = known.classes.len();
    ui.horizontal(|ui| {
        ui.set_min_height(20.0);
        let total = known.proofs.classes.orders_total();
        let text = match (known.proofs.classes.explored(), total) {
            (Explored::InFull, Some(total)) => {
                let plural = if total == 1 { "" } else { "s" };
                format!("{total} order{plural}, {classes} can differ")
            }
            _ => format!("the present order and {} single moves of the {} effects", classes - 1, names.len()),
        };
        ui.strong(text);
        if scene.view.scope != crate::show::Scope::Global {
            for (output, text, hint) in [
                (
                    false,
                    "leaving the chain",
                    "The picture as it leaves this chain, before others are laid over it",
                ),
                (true, "at the output", "The picture that the audience sees"),
            ] {
                let chosen = scene.view.wall_of_output == output;
                if ui.selectable_label(chosen, text).on_hover_text(hint).clicked() {
                    scene.act(Action::WallOfOutput(output));
                }
            }
        }
        let missing = scene.pictures.missing();
        if missing > 0 {
            let (rect, _) = ui.allocate_exact_size(vec2(70.0, 5.0), Sense::hover());
            let palette = palette(ui.ctx());
            ui.painter().rect_filled(rect, 2.5, palette.lifted);
            let share = 1.0 - missing as f32 / scene.asked.max(missing) as f32;
            ui.painter().rect_filled(rect.with_max_x(rect.left() + rect.width() * share), 2.5, palette.quiet);
            ui.weak(format!("{missing} on the way"));
        }
    });
    let idle: Vec<String> = (0..names.len())
        .filter_map(|at| {
            known.proofs.idle[at].as_ref().map(|why| format!("{} changes nothing now: {why}", names[at]))
        })
        .collect();
    if !idle.is_empty() {
        ui.small(format!("{}.", idle.join("; ")));
    }
}

fn tile(
    ui: &mut Ui,
    scene: &mut Scene<'_>,
    at: usize,
    order: &[usize],
    names: &[String],
    (size, lines): (egui::Vec2, f32),
) {
    let palette = palette(ui.ctx());
    let scope = scene.view.scope;
    let (rect, response) = ui.allocate_exact_size(size + vec2(0.0, lines), Sense::click());
    let said = said(order.iter().map(|&place| names[place].as_str()));
    let is_own = at == 0;
    let own = if is_own { ", the present order" } else { "" };
    let is_shown =
        matches!(&scene.view.shown, Shown::Order { scope: s, order: o } if *s == scope && o == order);
    announce(&response, &format!("Order {}: {said}{own}", at + 1), Some(is_shown));

    let picture = Rect::from_min_size(rect.min, size);
    let moment = scene.moment;
    let show = scene.seen_at_rest.clone();
    let stage = if scene.view.wall_of_output { Stage::Output } else { Stage::After };
    let wanted = scene.pictures.wanted(&show, scope, moment, &stage(order.to_vec()));
    let place = ui.scope_id().with(("tile", at));
    let texels = texels(ui, picture.size(), moment.frame);
    let placed = wanted.and_then(|wanted| scene.pictures.place(place, &wanted, texels, false, Urgency::Wall));
    paint_picture(ui, picture, placed);
    let rim = if is_shown {
        palette.accent
    } else if response.hovered() {
        palette.quiet
    } else {
        palette.line
    };
    let stroke = Stroke::new(if is_shown { 2.0 } else { 1.0 }, rim);
    ui.painter().rect_stroke(picture, 2.0, stroke, StrokeKind::Outside);

    let line = picture.left_bottom() + vec2(0.0, 6.0);
    let number = format!("{}", at + 1);
    ui.painter().text(line + vec2(0.0, 7.0), Align2::LEFT_CENTER, number, font(11.0), palette.quiet);
    chips(ui, line + vec2(20.0, 0.0), 14.0, order);
    let galley = words(ui, order, names, size.x);
    let painter = ui.painter().with_clip_rect(rect.intersect(ui.clip_rect()));
    painter.galley(line + vec2(0.0, 18.0), galley, palette.plain);
    paint_focus(ui, &response, picture);

    if is_own {
        tag(ui, picture, "present");
    } else if response.contains_pointer() || response.has_focus() || is_shown {
        let place = Rect::from_min_size(picture.right_top() + vec2(-58.0, 4.0), vec2(54.0, 20.0));
        let button = ui.interact(place, ui.scope_id().with(("adopt", at)), Sense::click());
        announce(&button, &format!("Adopt order {}", at + 1), None);
        ui.painter().rect_filled(place, f32::from(CORNER), palette.accent);
        ui.painter().text(place.center(), Align2::CENTER_CENTER, "Adopt", font(12.0), palette.on_accent);
        paint_focus(ui, &button, place);
        if button.clicked() {
            adopt(scene, order);
            return;
        }
    }
    if response.double_clicked() && !is_own {
        adopt(scene, order);
    } else if response.clicked() {
        let shown = if is_shown { Shown::Output } else { Shown::Order { scope, order: order.to_vec() } };
        scene.act(Action::Show(shown));
    }
    response.context_menu(|ui| {
        ui.weak(format!("Order {}", at + 1));
        if ui.button("Adopt").clicked() {
            adopt(scene, order);
            ui.close();
        }
        if ui.button("Compare with the present order").clicked() {
            let left = (0..order.len()).collect();
            let pair = Pair { scope, left, right: order.to_vec(), way: Comparing::Beside };
            scene.act(Action::Show(Shown::Pair(pair)));
            ui.close();
        }
        if ui.button("Pin").clicked() {
            let chain = order.iter().map(|&place| scene.show().chain(scope)[place].clone()).collect();
            scene.act(Action::Pin(Pin { scope, chain }));
            ui.close();
        }
    });
}

/// An order in words, broken into lines.
fn words(ui: &Ui, order: &[usize], names: &[String], width: f32) -> std::sync::Arc<egui::Galley> {
    let said = said(order.iter().map(|&place| names[place].as_str()));
    ui.painter().layout(said, font(10.5), palette(ui.ctx()).plain, width)
}

fn adopt(scene: &mut Scene<'_>, order: &[usize]) {
    scene.act(Action::Edit(Edit::Order { scope: scene.view.scope, order: order.to_vec() }));
    scene.act(Action::Show(Shown::Output));
}

/// A word in the corner of a picture.
fn tag(ui: &Ui, picture: Rect, text: &str) {
    let palette = palette(ui.ctx());
    let galley = ui.painter().layout_no_wrap(text.to_owned(), font(11.0), palette.bright);
    let size = galley.size() + vec2(10.0, 4.0);
    let rect = Rect::from_min_size(pos2(picture.right() - size.x - 4.0, picture.top() + 4.0), size);
    ui.painter().rect_filled(rect, f32::from(CORNER), palette.panel);
    ui.painter().galley(rect.min + vec2(5.0, 2.0), galley, palette.bright);
}

/// Draws the orders kept in view.
pub fn pins(ui: &mut Ui, scene: &mut Scene<'_>) {
    if scene.view.pins.is_empty() {
        ui.weak("No order is pinned. Choose one on the wall and press P: it stays here, with its settings, whatever you change.");
        return;
    }
    ScrollArea::vertical().id_salt("pins").auto_shrink([false; 2]).show(ui, |ui| {
        for (at, pin) in scene.view.pins.clone().into_iter().enumerate() {
            let width = (ui.available_width() - 12.0).min(360.0);
            let frame = scene.show().frame;
            let size = vec2(width, width * frame.height as f32 / frame.width as f32);
            let (rect, _) = ui.allocate_exact_size(size, Sense::hover());
            let pinned = scene.pinned(at);
            let placed = pinned.and_then(|show| {
                let moment = scene.moment;
                let stage = Stage::Output((0..show.global.len()).collect());
                let wanted = scene.pictures.wanted(&show, crate::show::Scope::Global, moment, &stage)?;
                let texels = texels(ui, size, moment.frame);
                scene.pictures.place(ui.scope_id().with(("pin", at)), &wanted, texels, false, Urgency::Wall)
            });
            paint_picture(ui, rect, placed);
            ui.label(said(labels(&pin.chain).iter().map(String::as_str)));
            ui.horizontal(|ui| {
                let take =
                    Edit::Chain { scope: pin.scope, chain: pin.chain.clone(), name: "pinned".to_owned() };
                if ui.button("Adopt").clicked() {
                    scene.act(Action::Edit(take));
                }
                if ui.button("Let go").clicked() {
                    scene.act(Action::Unpin(at));
                }
            });
            ui.add_space(8.0);
        }
    });
}
