//! What the large picture is, in words, and what can be done with it.

use egui::{Ui, vec2};

use super::Heading;
use crate::order::{in_order, marks};
use crate::show::Scope;
use crate::window::action::{Action, Pin};
use crate::window::keys::Command;
use crate::window::scene::Scene;
use crate::window::seeking::FindAct;
use crate::window::showing::{Comparing, FoundRow, Pair, Row, Shown, Side};
use crate::window::theme::palette;
use crate::window::widgets::chips;
use crate::window::widgets::parts::stripe_before;
use crate::window::widgets::short::short_label;

/// Height of the line over the picture, and the width that is kept in it for how large the picture is.
const TITLE: f32 = 24.0;
const ZOOMS: f32 = 180.0;
/// The width of a short line.
const SHORT: f32 = 440.0;
/// Height of a stripe in it.
const STRIPE: f32 = 14.0;

/// What the picture is, in words, and what can be done with it.
pub(super) fn title(ui: &mut Ui, scene: &mut Scene<'_>, heading: &Heading) {
    let has_buttons = matches!(heading.shown, Shown::Order { .. } | Shown::Pair(_));
    // In a small window buttons take a second line, not room from the panel beside it.
    let wraps = has_buttons && heading.tried.is_none();
    let layout = egui::Layout::left_to_right(egui::Align::Center).with_main_wrap(wraps);
    // Where the line is short they come before how large the picture is, which has a key and the wheel.
    let has_zooms = !wraps || ui.available_width() > SHORT;
    let room = vec2(ui.available_width() - if has_zooms { ZOOMS } else { 0.0 }, TITLE);
    ui.allocate_ui_with_layout(room, layout, |ui| {
        ui.set_min_height(TITLE);
        if let Some([tried, said]) = &heading.tried {
            ui.strong(tried);
            short_label(ui, said, egui::TextStyle::Body, palette(ui.ctx()).plain);
            return;
        }
        match &heading.shown {
            Shown::Output => {
                ui.strong("Output");
                let (mut said, mut colour) = (heading.words[0].clone(), palette(ui.ctx()).quiet);
                if let Some(alone) = scene.view.alone {
                    if ui.button("Show everything").on_hover_text(Command::ShowAlone.key()).clicked() {
                        scene.act(Action::Alone(None));
                    }
                    (said, colour) = (scene.address(alone) + " alone", palette(ui.ctx()).bright);
                }
                stripe_before(ui, heading.colour, STRIPE);
                short_label(ui, &said, egui::TextStyle::Body, colour);
            }
            Shown::After(_) => {
                if ui.button("Back to the output").clicked() {
                    scene.act(Action::Show(Shown::Output));
                }
                let [after, scope] = &heading.words;
                let colours = palette(ui.ctx());
                let half = ui.available_width() / 2.0;
                ui.scope(|ui| {
                    ui.set_max_width(half);
                    short_label(ui, after, egui::TextStyle::Body, colours.bright);
                });
                stripe_before(ui, heading.colour, STRIPE);
                short_label(ui, scope, egui::TextStyle::Body, colours.quiet);
            }
            Shown::Found(row) => found_title(ui, scene, row, &heading.words[0]),
            Shown::Order { scope, order } => {
                if let [(row, _)] = &heading.rows[..] {
                    order_title(ui, scene, (*scope, order), row);
                }
            }
            Shown::Pair(pair) => pair_title(ui, scene, pair),
        }
    });
    if has_zooms {
        zooms(ui, scene);
    }
}

/// What was found, and what can be done with it.
fn found_title(ui: &mut Ui, scene: &mut Scene<'_>, row: &FoundRow, said: &str) {
    ui.strong("Found");
    let colour = palette(ui.ctx());
    let text = egui::RichText::new("Adopt").color(colour.on_accent);
    let adopt = ui.add(egui::Button::new(text).fill(colour.accent));
    if adopt.on_hover_text(Command::AdoptFound.key()).clicked() {
        scene.act(Action::Find(FindAct::Adopt(row.clone())));
    }
    if ui.button("Back").on_hover_text(format!("To the output ({})", Command::Back.key())).clicked() {
        scene.act(Action::Show(Shown::Output));
    }
    ui.add(egui::Label::new(egui::RichText::new(said).weak()).truncate());
}

fn order_title(ui: &mut Ui, scene: &mut Scene<'_>, (scope, order): (Scope, &[usize]), row: &Row) {
    let is_own = order.is_sorted();
    let code = marks(scene.show().chain(scope)).code(order);
    if is_own {
        ui.strong(format!("The current order, {code}"));
    } else {
        ui.strong(code);
        let adopt =
            egui::Button::new(egui::RichText::new("Adopt this order").color(palette(ui.ctx()).on_accent))
                .fill(palette(ui.ctx()).accent);
        if ui.add(adopt).on_hover_text(Command::Adopt.key()).clicked() {
            scene.act(Action::Adopt(row.clone()));
        }
    }
    let from = ui.cursor().min + vec2(0.0, 3.0);
    let width = chips(ui, from, 16.0, row.marks());
    ui.add_space(width + 2.0);
    if !is_own {
        if ui
            .button("Compare")
            .on_hover_text(format!("With the current order ({})", Command::Compare.key()))
            .clicked()
            && let Some(right) = row.in_chain(scene.show().chain(scope))
        {
            let left = (0..right.len()).collect();
            let pair = Pair::of(scope, left, right, Comparing::Beside);
            scene.act(Action::Show(Shown::Pair(pair)));
        }
        if ui.button("Pin").on_hover_text(format!("It stays in view ({})", Command::Pin.key())).clicked() {
            let every: Vec<usize> = (0..row.effects.len()).collect();
            scene.act(Action::Pin(Pin::new(scope, in_order(&row.effects, &every))));
        }
    }
    if ui.button("Back").on_hover_text(format!("To the output ({})", Command::Back.key())).clicked() {
        scene.act(Action::Show(Shown::Output));
    }
}

fn pair_title(ui: &mut Ui, scene: &mut Scene<'_>, pair: &Pair) {
    for way in Comparing::ALL {
        if ui.selectable_label(pair.way == way, way.name()).clicked()
            && let Shown::Pair(pair) = &scene.view.shown
        {
            scene.act(Action::Show(Shown::Pair(Pair { way, ..pair.clone() })));
        }
    }
    let adopts: &[(&Side, &str)] = match (pair.left.is_current(), pair.right.is_current()) {
        (true, true) => &[],
        (true, false) => &[(&pair.right, "Adopt the other one")],
        (false, true) => &[(&pair.left, "Adopt the left one")],
        (false, false) => &[(&pair.left, "Adopt the left one"), (&pair.right, "Adopt the right one")],
    };
    for (side, text) in adopts {
        if ui.button(*text).clicked() {
            scene.act(scene.adopts(side));
            scene.act(Action::Show(Shown::Output));
        }
    }
    if ui.button("Back").on_hover_text(format!("To the output ({})", Command::Back.key())).clicked() {
        scene.act(Action::Show(Shown::Output));
    }
}

/// How large the picture is shown, from the right.
fn zooms(ui: &mut Ui, scene: &mut Scene<'_>) {
    // No higher than the row, or the picture would be left what is below the middle of its room.
    let row = vec2(ui.available_width(), TITLE);
    ui.allocate_ui_with_layout(row, egui::Layout::right_to_left(egui::Align::Center), |ui| {
        for (text, zoom, hint) in [
            ("x4", Some(4.0), "Each pixel of the picture four by four"),
            ("x1", Some(1.0), "Each pixel of the picture as one of the screen"),
            ("whole", None, "The whole picture"),
        ] {
            let hint = format!("{hint} ({})", Command::Zoom.key());
            if ui.selectable_label(scene.view.zoom == zoom, text).on_hover_text(hint).clicked() {
                scene.act(Action::Zoom(zoom));
            }
        }
        if let Some(zoom) = scene.view.zoom.filter(|zoom| ![1.0, 4.0].contains(zoom)) {
            ui.weak(format!("x{zoom:.1}"));
        }
    });
}
