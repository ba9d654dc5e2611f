//! How a level or a bundle is laid over what is below it.

use egui::Ui;

use super::fields::NumberField;
use super::held::held_by;
use super::values::slider;
use crate::edit::Edit;
use crate::show::{BlendMode, Mix, Scope, Target};
use crate::window::action::Action;
use crate::window::scene::Scene;

/// Draws the controls for it.
pub fn mix_controls(ui: &mut Ui, scene: &mut Scene<'_>, scope: Scope, mix: Mix) {
    ui.set_min_width(210.0);
    let mut opacity = mix.opacity;
    let mut is_over = false;
    ui.horizontal_wrapped(|ui| {
        is_over = ui.name_inputs("opacity", |ui| slider(ui, &mut opacity, [0.0, 1.0], false, 1.0));
        let field = NumberField::new("Opacity", "share", [0.0, 1.0]);
        is_over |= NumberField { decimals: 3, default: Some(1.0), ..field }.show(ui, &mut opacity).is_over;
        ui.label("opacity");
    });
    if opacity != mix.opacity {
        scene.act(Action::Edit(Edit::Mix { scope, mix: Mix { opacity, ..mix } }));
    }
    if is_over {
        scene.act(Action::EndRun);
    }
    ui.horizontal_wrapped(|ui| held_by(ui, scene, Target::Opacity(scope), "Opacity"));
    let combo = egui::ComboBox::from_label("blend").selected_text(mix.blend.name());
    combo.show_ui(ui, |ui| {
        for blend in BlendMode::ALL {
            if ui.selectable_label(mix.blend == blend, blend.name()).clicked() {
                scene.act(Action::Edit(Edit::Mix { scope, mix: Mix { blend, ..mix } }));
                scene.act(Action::EndRun);
            }
        }
    });
}
