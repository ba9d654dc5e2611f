//! The clips of another show, brought all at once or those of one of its sections, with their footage found in a folder.

use std::sync::Arc;

use egui::{Button, ComboBox, Frame as Margins, RichText, Ui};

use super::used::used_in;
use crate::edit::Form;
use crate::show::Show;
use crate::window::action::Action;
use crate::window::scene::Scene;
use crate::window::shelves::LibraryAct;
use crate::window::theme::{CORNER, palette};
use crate::window::widgets::name;
use crate::window::widgets::text::TextField;

/// Room for the button beside the folder.
const BUTTON: f32 = 84.0;

/// Draws what brings them, and which shows have some of them.
pub(super) fn show(ui: &mut Ui, scene: &mut Scene<'_>, other: &Arc<Show>) {
    let usages = scene.shelves.used_in_pack(other);
    used_in(ui, &usages);
    if scene.work.form() != Form::Show {
        return;
    }
    let fill = palette(ui.ctx()).panel;
    Margins::new().fill(fill).corner_radius(f32::from(CORNER)).inner_margin(8.0).show(ui, |ui| {
        ui.take_available_width();
        ui.horizontal(|ui| {
            ui.label("Its clips");
            which(ui, scene, other);
        });
        ui.horizontal(|ui| {
            ui.label("footage in");
            let width = (ui.available_width() - BUTTON).clamp(60.0, 260.0);
            let field = TextField::new("Folder of their footage", width).hint("where it was");
            field.show(ui, &mut scene.shelves.packs.folder);
            let choose = ui.button("Choose \u{2026}").accessible_name("Choose the folder of their footage");
            if choose.on_hover_text("Folders inside it are looked through, too").clicked() {
                scene.act(Action::Library(LibraryAct::ChooseFolder));
            }
        });
        ui.horizontal_wrapped(|ui| {
            let is_free = !scene.shelves.packs.is_looking();
            let said = format!("Bring these clips of {}", name(&other.name));
            if ui.add_enabled(is_free, Button::new("Bring the clips")).accessible_name(said).clicked() {
                scene.act(Action::Library(LibraryAct::BringClips));
            }
            let hint = if is_free {
                "Each comes to the level that is called alike; a stand-in shows for what is missing."
            } else {
                "Their footage is looked for \u{2026}"
            };
            ui.label(RichText::new(hint).small().weak());
        });
    });
}

/// All of them, or those of a section.
fn which(ui: &mut Ui, scene: &mut Scene<'_>, other: &Show) {
    let counted = |count: usize| if count == 1 { "1 clip".to_owned() } else { format!("{count} clips") };
    let all: usize =
        other.bundles.iter().flat_map(|bundle| &bundle.levels).map(|level| level.clips.len()).sum();
    let all = format!("all of them: {}", counted(all));
    if other.sections.is_empty() {
        ui.label(all);
        return;
    }
    let of = |at: usize| {
        let section = &other.sections[at];
        let count = section.shows.values().filter(|clip| clip.is_some()).count();
        format!("those of {}, and the section: {}", name(&section.name), counted(count))
    };
    let chosen = scene.shelves.packs.section.filter(|at| *at < other.sections.len());
    let now = chosen.map_or_else(|| all.clone(), of);
    let choice = ComboBox::from_id_salt("which clips").selected_text(now).truncate();
    let width = (ui.available_width() - 4.0).clamp(80.0, 330.0);
    let shown = choice.width(width).show_ui(ui, |ui| {
        let every = (0..other.sections.len()).map(Some);
        for section in [None].into_iter().chain(every) {
            let text = section.map_or_else(|| all.clone(), of);
            if ui.selectable_label(section == chosen, text).clicked() {
                scene.shelves.packs.section = section;
            }
        }
    });
    let _ = shown.response.accessible_name("Which of its clips");
}
