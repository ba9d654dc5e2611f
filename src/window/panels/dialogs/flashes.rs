//! The dialog of flashes: every limit, what would pass, and what this is not.

use egui::Ui;

use super::close_button;
use crate::base::shown::{shown, shown_error};
use crate::readiness::caution;
use crate::window::action::Action;
use crate::window::scene::Scene;
use crate::window::threads::flash::Flashes;
use crate::window::widgets::flashes::flashes_said;

/// Draws the dialog.
pub(super) fn show(ui: &mut Ui, scene: &mut Scene<'_>) {
    ui.heading("Flashes");
    if let Some(text) = caution::of_show(scene.show()) {
        ui.label(text);
        ui.add_space(4.0);
    }
    ui.label(flashes_said(scene.flashes));
    ui.add_space(4.0);
    let flashes = scene.flashes.clone();
    if let Some(found) = &flashes.found {
        let report = &found.own;
        egui::Grid::new("limits").num_columns(4).spacing([14.0, 4.0]).show(ui, |ui| {
            for finding in &report.findings {
                ui.strong(if finding.passes() { "ok" } else { "! too many" });
                ui.label(finding.limit.source());
                ui.label(finding.limit.label());
                ui.weak(format!(
                    "{} in one second over more than {}",
                    finding.flashes(),
                    finding.limit.area()
                ));
                ui.end_row();
            }
        });
        for (played, report) in found.failing() {
            let worst = report.worst();
            ui.label(format!(
                "! too many with {}: {} in one second by {}",
                shown(&played.to_string()),
                worst.counted(),
                worst.limit.source()
            ));
        }
        if !found.played.is_empty() {
            let count = found.played.len();
            ui.small(format!("The table is of the show as it stands; {count} ways of playing its controls were counted, too."));
        }
        ui.small(format!(
            "Rendered at {}, counted on {} squares over {} frames, round the seam of a loop.",
            report.frame, report.squares, report.frames
        ));
        ui.add_space(6.0);
        if found.is_footage() {
            ui.label("The footage alone is past a limit: take other footage, play it slower, or lay something darker over it.");
        } else if !found.passes() && found.is_whole {
            suggestions(ui, scene, &flashes);
        }
    }
    if flashes.problem.is_some() {
        try_again(ui, scene);
        ui.add_space(6.0);
    }
    let uncounted = flashes.orders.values().find_map(|counted| counted.as_ref().err());
    if let Some(why) = uncounted {
        ui.label(format!("Some orders were not counted: {}", shown_error(why)));
        try_again(ui, scene);
    }
    if scene.view.flashes_of_orders {
        ui.weak("Every order on the wall carries its flashes in the worst second.");
    } else if ui
        .button("Count every order on the wall, too")
        .on_hover_text("An order can flash more than another: a tint over a flash can make it red")
        .clicked()
    {
        scene.act(Action::FlashesOfOrders);
    }
    ui.add_space(6.0);
    ui.small(caution::NO_CERTIFICATE);
    close_button(ui, scene);
}

fn try_again(ui: &mut Ui, scene: &mut Scene<'_>) {
    if ui.button("Try again").clicked() {
        scene.act(Action::TryAgain);
    }
}

fn suggestions(ui: &mut Ui, scene: &mut Scene<'_>, flashes: &Flashes) {
    match &flashes.suggestions {
        None => {
            scene.wants_suggestions = true;
            ui.weak("Looking for changes that pass \u{2026}");
        }
        Some(Err(why)) => {
            ui.label(format!("Changes that pass were not found: {}", shown_error(why)));
            try_again(ui, scene);
        }
        Some(Ok(found)) if found.is_empty() => {
            ui.label("No single change of those tried passes: make the flashes slower and weaker at once, or hold them.");
        }
        Some(Ok(found)) => {
            ui.strong("What passes, rendered and counted, with the controls played that were too many:");
            for suggestion in found {
                let text = format!("{}: {}", suggestion.kind, suggestion.text);
                if ui.button(shown(&text)).on_hover_text("Take this change; it can be undone").clicked() {
                    scene.act(Action::Edit(suggestion.edit.clone()));
                    scene.act(Action::Close);
                }
            }
        }
    }
}
