//! What a control moves, with its range and curve, and what else it could.

use egui::{RichText, TextStyle, Ui};

use crate::catalogue::Kind;
use crate::show::control::{Control, ControlKind, Curve, Grip};
use crate::show::{Scope, Show, Target};
use crate::window::action::Action;
use crate::window::scene::Scene;
use crate::window::theme::palette;
use crate::window::widgets::held::{first_grip, hold, let_go};
use crate::window::widgets::parts::striped_name;
use crate::window::widgets::values::value_control;
use crate::window::widgets::{labels, name, sign_button, whole};

/// Draws all that it moves, a line each, and a menu of what else it could.
pub(super) fn holds(ui: &mut Ui, scene: &mut Scene<'_>, show: &Show, control: &Control) {
    for (target, grip) in show.grips(&control.name) {
        let Some(kind) = show.target_kind(target) else { continue };
        ui.push_id(target, |ui| {
            ui.horizontal_wrapped(|ui| {
                let joint = match target {
                    Target::Setting { .. } | Target::Switch { .. } => "on",
                    Target::Opacity(_) | Target::Showing(_) => "of",
                    Target::Section => "",
                };
                ui.small(format!("{} {joint}", short(show, target)).trim_end());
                if let Some(scope) = target.scope() {
                    let ink = palette(ui.ctx()).plain;
                    striped_name(ui, show.colour(scope), &scene.address(scope), TextStyle::Small, ink);
                }
                grip_controls(ui, scene, target, &kind, (control, grip));
            });
        });
    }
    ui.menu_button("It moves \u{2026}", |ui| menu(ui, scene, show, control))
        .response
        .on_hover_text("Choose what else this control moves");
}

/// Something that is moved, without its scope: "tint · Amount", "opacity".
fn short(show: &Show, target: Target) -> String {
    match target {
        Target::Setting { scope, at, place } => {
            let chain = show.chain(scope);
            format!("{} \u{b7} {}", labels(chain)[at], chain[at].effect.settings[place].label)
        }
        Target::Switch { scope, at } => format!("{} \u{b7} on or off", labels(show.chain(scope))[at]),
        target => show.target_said(target),
    }
}

/// What is chosen of a thing that moves.
fn label(show: &Show, target: Target) -> String {
    match target {
        Target::Setting { scope, at, place } => show.chain(scope)[at].effect.settings[place].label.clone(),
        target => show.target_said(target),
    }
}

/// Everything that a control can move, by scope; what it moves by now is marked and let go by a press.
fn menu(ui: &mut Ui, scene: &mut Scene<'_>, show: &Show, control: &Control) {
    let targets = show.targets();
    let entry = |ui: &mut Ui, scene: &mut Scene<'_>, target: Target| {
        let is_held = show.grips_on(target).into_iter().any(|grip| grip.control == control.name);
        if ui.selectable_label(is_held, short(show, target)).clicked() {
            if is_held {
                scene.act(let_go(target, &control.name));
            } else if let Some(grip) = first_grip(show, control, target) {
                scene.act(hold(target, grip));
            }
            ui.close();
        }
    };
    entry(ui, scene, Target::Section);
    for scope in show.scopes() {
        let own: Vec<Target> =
            targets.iter().copied().filter(|target| target.scope() == Some(scope)).collect();
        // A level of one clip has none to choose from.
        let is_chosen = |target: &Target| match *target {
            Target::Showing([b, l]) => show.bundles[b].levels[l].clips.len() > 1,
            _ => true,
        };
        let own: Vec<Target> = own.into_iter().filter(is_chosen).collect();
        if own.is_empty() || matches!(scope, Scope::Clip(..)) && show.chain(scope).is_empty() {
            continue;
        }
        ui.menu_button(scene.address(scope), |ui| own.iter().for_each(|&target| entry(ui, scene, target)));
    }
}

fn grip_controls(
    ui: &mut Ui,
    scene: &mut Scene<'_>,
    target: Target,
    kind: &Kind,
    (control, grip): (&Control, &Grip),
) {
    let label = label(scene.show(), target);
    let called = name(&control.name);
    let mut now = grip.clone();
    let mut is_over = false;
    // A button gives one word, and goes through none.
    let is_word = matches!(kind, Kind::Choice(_))
        && (control.kind != ControlKind::Continuous || target == Target::Section);
    if is_word {
        ui.push_id("to", |ui| {
            is_over |= value_control(ui, kind, &format!("{label}, {called}"), &mut now.high);
        });
        now.low = now.high.clone();
    } else {
        for (text, value) in [("from", &mut now.low), ("to", &mut now.high)] {
            whole(ui, RichText::new(text).small());
            ui.push_id(text, |ui| {
                is_over |= value_control(ui, kind, &format!("{label} {text}, {called}"), value);
            });
        }
        let text = format!("curve: {}", now.curve.name());
        let choice = egui::ComboBox::from_id_salt("curve").selected_text(text).width(116.0);
        let shown = choice.show_ui(ui, |ui| {
            for curve in Curve::ALL {
                is_over |= ui.selectable_value(&mut now.curve, curve, curve.name()).clicked();
            }
        });
        let _ = shown.response.accessible_name(format!("{label}: curve, {called}"));
    }
    let said = format!("{label}: release it");
    if sign_button(ui, "\u{d7}", &said, "Release it").clicked() {
        scene.act(let_go(target, &grip.control));
    } else if now != *grip {
        scene.act(hold(target, now));
    }
    if is_over {
        scene.act(Action::EndRun);
    }
}
