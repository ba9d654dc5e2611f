//! The bar at the top: what is being worked on, the menus, and the last steps; and the line at the bottom.

use egui::{Button, Ui};

use super::lessons;
use crate::base::embedded;
use crate::base::shown::shown_error;
use crate::edit::{Form, Named};
use crate::show::Scope;
use crate::window::action::{Action, Dialog, Saving, WallBy};
use crate::window::preferences::{Preferences, TEXT_PERCENT, TEXT_STEP, ThemeChoice};
use crate::window::scene::Scene;
use crate::window::theme::palette;
use crate::window::threads::export::OnTheWay;
use crate::window::widgets::fields::NumberField;
use crate::window::widgets::{name, path, progress, sign_button};

/// Draws the bar at the top.
pub fn top(ui: &mut Ui, scene: &mut Scene<'_>) {
    ui.horizontal_centered(|ui| {
        file_menu(ui, scene);
        edit_menu(ui, scene);
        view_menu(ui, scene);
        if ui.button("Keys").on_hover_text("F1 or ?").clicked() {
            scene.act(Action::Ask(Dialog::Keys));
        }
        lessons::invitation(ui, scene);
        ui.separator();
        let changed = if scene.work.is_changed() { " •" } else { "" };
        let title = format!("{}{changed}", name(&scene.show().name));
        let hint = match scene.work.file() {
            Some(file) => path(file),
            None => "not in a file yet".to_owned(),
        };
        let kind = if scene.work.form() == Form::Show { "show" } else { "chain" };
        if ui.add(Button::new(egui::RichText::new(title).strong()).frame(false)).on_hover_text(hint).clicked()
        {
            scene.act(Action::Ask(Dialog::Rename(Named::Show)));
        }
        ui.weak(kind);
        ui.with_layout(egui::Layout::right_to_left(egui::Align::Center), |ui| {
            let history = scene.work.history();
            let (done, undone) = (history.done().last(), history.undone().last());
            let redo_hint =
                undone.map_or_else(|| "Nothing to redo".to_owned(), |step| format!("Redo: {}", step.name));
            if ui.add_enabled(undone.is_some(), Button::new("Redo")).on_hover_text(redo_hint).clicked() {
                scene.act(Action::Redo);
            }
            let undo_hint =
                done.map_or_else(|| "Nothing to undo".to_owned(), |step| format!("Undo: {}", step.name));
            if ui.add_enabled(done.is_some(), Button::new("Undo")).on_hover_text(undo_hint).clicked() {
                scene.act(Action::Undo);
            }
            if let Some(step) = done {
                ui.weak(&step.name);
            }
        });
    });
}

/// Entries of a menu: text, key, action.
fn entries(ui: &mut Ui, scene: &mut Scene<'_>, entries: &[(&str, &str, Action)]) {
    for (text, key, action) in entries {
        let button = Button::new(*text);
        let button = if key.is_empty() { button } else { button.shortcut_text(*key) };
        if ui.add(button).clicked() {
            scene.act(action.clone());
            ui.close();
        }
    }
}

fn file_menu(ui: &mut Ui, scene: &mut Scene<'_>) {
    let menu = ui.menu_button("File", |ui| {
        ui.set_min_width(240.0);
        entries(ui, scene, &[("Open …", "Ctrl O", Action::Ask(Dialog::Open))]);
        let recent = scene.recent.to_vec();
        ui.add_enabled_ui(!recent.is_empty(), |ui| {
            ui.menu_button("Open recent", |ui| {
                for file in recent {
                    let text = name(&file.file_name().unwrap_or_default().to_string_lossy());
                    if ui.button(text).on_hover_text(path(&file)).clicked() {
                        scene.act(Action::Open(file));
                        ui.close();
                    }
                }
            });
        });
        ui.menu_button("Open a preset", |ui| {
            for (what, presets) in [("shows", embedded::SHOWS), ("chains", embedded::CHAINS)] {
                ui.weak(what);
                for (name, _) in presets {
                    if ui.button(*name).clicked() {
                        scene.act(Action::OpenPreset((*name).to_owned()));
                        ui.close();
                    }
                }
            }
        });
        let scope = scene.view.scope;
        ui.menu_button(format!("Take a chain onto {}", scene.address(scope)), |ui| {
            for (name, _) in embedded::CHAINS {
                if ui.button(*name).clicked() {
                    scene.act(Action::TakeChain(scope, (*name).to_owned()));
                    ui.close();
                }
            }
        });
        ui.separator();
        entries(
            ui,
            scene,
            &[
                ("Save", "Ctrl S", Action::Save),
                ("Save as …", "Ctrl Shift S", Action::Ask(Dialog::Save(Saving::Work))),
            ],
        );
        ui.separator();
        entries(
            ui,
            scene,
            &[
                ("Export the picture …", "Ctrl E", Action::Ask(Dialog::Save(Saving::Picture))),
                ("Export the wall …", "Ctrl Shift E", Action::Ask(Dialog::Save(Saving::Wall))),
                ("Export the build sheet …", "", Action::Ask(Dialog::Save(Saving::Sheet))),
                ("Export the report …", "", Action::Ask(Dialog::Save(Saving::Report))),
                ("Keep the chain as a preset …", "Ctrl K", Action::Ask(Dialog::Save(Saving::Chain))),
            ],
        );
        ui.separator();
        entries(ui, scene, &[("Quit", "Ctrl Q", Action::Quit)]);
    });
    if ui.input_mut(|input| input.consume_key(egui::Modifiers::NONE, egui::Key::F10)) {
        menu.response.request_focus();
    }
}

fn edit_menu(ui: &mut Ui, scene: &mut Scene<'_>) {
    ui.menu_button("Edit", |ui| {
        ui.set_min_width(220.0);
        entries(
            ui,
            scene,
            &[
                ("Undo", "Ctrl Z", Action::Undo),
                ("Redo", "Ctrl Shift Z", Action::Redo),
                ("Steps …", "Ctrl H", Action::Ask(Dialog::Steps)),
            ],
        );
        ui.separator();
        let spot = scene.spot_to_add();
        entries(ui, scene, &[("Add an effect …", "A", Action::Ask(Dialog::Add(spot)))]);
        if let Some(spot) = scene.view.spot() {
            use crate::edit::Edit;
            entries(
                ui,
                scene,
                &[
                    ("Duplicate", "Ctrl D", Action::Edit(Edit::Duplicate(spot))),
                    ("Remove", "Delete", Action::Edit(Edit::Remove(spot))),
                    ("Reset its settings", "R", Action::Edit(Edit::Reset(spot))),
                    ("Call it something else …", "F2", Action::Ask(Dialog::Rename(Named::Effect(spot)))),
                ],
            );
        }
        ui.separator();
        entries(ui, scene, &[("Rename the show …", "Ctrl F2", Action::Ask(Dialog::Rename(Named::Show)))]);
        let scope = scene.view.scope;
        if scope != Scope::Global {
            let text = format!("Rename {} …", scene.address(scope));
            entries(ui, scene, &[(&text, "Shift F2", Action::Ask(Dialog::Rename(Named::Scope(scope))))]);
        }
    });
}

fn view_menu(ui: &mut Ui, scene: &mut Scene<'_>) {
    ui.menu_button("View", |ui| {
        ui.set_min_width(220.0);
        let Preferences { theme, text_percent, .. } = scene.view.preferences;
        ui.weak("Theme (F9)");
        for choice in ThemeChoice::ALL {
            if ui.radio(theme == choice, choice.label()).clicked() {
                scene.act(Action::Theme(choice));
            }
        }
        ui.separator();
        let mut percent = text_percent;
        ui.horizontal(|ui| {
            ui.label("Text");
            if sign_button(ui, "−", "Smaller text", "Ctrl −").clicked() {
                percent = percent.saturating_sub(TEXT_STEP);
            }
            let [low, high] = TEXT_PERCENT;
            let range = [f64::from(low), f64::from(high)];
            let field = NumberField::new("Size of text in per cent", "%", range);
            let mut typed = f64::from(percent);
            NumberField { is_whole: true, speed: 0.5, ..field }.show(ui, &mut typed);
            percent = typed as u32;
            if sign_button(ui, "+", "Larger text", "Ctrl +").clicked() {
                percent += TEXT_STEP;
            }
            if ui.button("Usual").on_hover_text("Ctrl 0").clicked() {
                percent = 100;
            }
        });
        if percent != text_percent {
            scene.act(Action::TextSize(percent));
        }
        let reached = ui.ctx().zoom_factor() * 100.0;
        if (text_percent as f32) > reached + 1.0 {
            ui.small(format!("{reached:.0} % is all that this window has room for: make it larger."));
        }
        ui.separator();
        entries(
            ui,
            scene,
            &[
                ("Looks, or every order", "L", Action::WallBy(other_wall(scene))),
                ("Steps …", "Ctrl H", Action::Ask(Dialog::Steps)),
            ],
        );
    });
}

fn other_wall(scene: &Scene<'_>) -> WallBy {
    if scene.view.wall_by == WallBy::Looks { WallBy::Orders } else { WallBy::Looks }
}

/// How far an export has come, and the way to give it up.
fn export(ui: &mut Ui, scene: &mut Scene<'_>, export: &OnTheWay) {
    ui.small(format!("Exporting {}", export.saving.label()));
    progress(ui, export.share);
    if export.waiting > 0 {
        ui.small(format!("{} more after it", export.waiting));
    }
    if ui.small_button("Give up").on_hover_text("Nothing is written (Ctrl Backspace)").clicked() {
        scene.act(Action::GiveUpExport);
    }
}

/// Draws the line at the bottom: what was said last, and what the pictures are made on.
pub fn bottom(ui: &mut Ui, scene: &mut Scene<'_>) {
    ui.horizontal_centered(|ui| {
        if let Some(on_the_way) = scene.export.clone() {
            export(ui, scene, &on_the_way);
        } else if scene.view.said.is_empty() {
            ui.small("Drag a card to another gap, or press a picture on the wall: every order is shown before you take it.");
        } else {
            ui.small(shown_error(&scene.view.said));
        }
        ui.with_layout(egui::Layout::right_to_left(egui::Align::Center), |ui| {
            let frame = scene.moment.frame;
            let of = scene.show().frame;
            let size =
                if frame == of { frame.to_string() } else { format!("rendered at {frame}, the show is {of}") };
            ui.small(size);
            if let Some(gpu) = scene.pictures.gpu() {
                ui.small(gpu.adapter().to_string());
            }
        });
    });
}

/// Draws what is wrong with effects of the person's own: a line each, the first few.
pub fn effect_troubles(ui: &mut Ui, scene: &Scene<'_>) {
    const MOST: usize = 3;
    let caution = palette(ui.ctx()).caution;
    let all = scene.effect_troubles;
    for trouble in all.iter().take(MOST) {
        ui.horizontal_wrapped(|ui| {
            ui.colored_label(caution, "Effect file:");
            ui.label(shown_error(trouble));
        });
    }
    if all.len() > MOST {
        ui.weak(format!("and {} more; `underover effects` tells all", all.len() - MOST));
    }
}
