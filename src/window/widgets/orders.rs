//! What stands where nothing is known of a chain's orders yet.

use egui::Ui;

use super::progress;
use crate::base::shown::shown_error;
use crate::window::action::Action;
use crate::window::keys::Command;
use crate::window::scene::Scene;

/// What has no answer, and the way to try it again.
pub fn trouble(ui: &mut Ui, scene: &mut Scene<'_>) {
    let Some(text) = scene.unknown.clone() else { return };
    ui.horizontal_wrapped(|ui| {
        ui.label(format!("{}.", shown_error(&text)));
        if ui.button("Try again").clicked() {
            scene.act(Action::TryAgain);
        }
    });
}

/// That the orders are being looked at, and how far that has come.
pub fn looking(ui: &mut Ui, scene: &Scene<'_>) {
    ui.horizontal(|ui| {
        ui.weak("Looking at the orders …");
        if let Some((done, of)) = scene.proving.filter(|(_, of)| *of > 0) {
            progress(ui, done as f32 / of as f32);
        }
    });
}

/// A scope without effects has no orders.
pub fn nothing_yet(ui: &mut Ui, scene: &Scene<'_>) {
    let scope = scene.view.scope;
    ui.label(match scene.work.takes_effects_on(scope) {
        true => format!("No effects here yet. Add one in the path above: press {}.", Command::Add.key()),
        false => "No effects here: a chain file has room for one chain, that of its clip.".to_owned(),
    });
}
