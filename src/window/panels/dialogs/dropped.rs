//! What is done with files that were dropped over the orders, or chosen: each is seen before it goes anywhere.

use std::path::PathBuf;

use egui::{Label, ScrollArea, Ui};

use super::files::adding_said;
use super::main_button;
use crate::explore::Goal;
use crate::show::Scope;
use crate::window::action::Action;
use crate::window::scene::Scene;
use crate::window::seeking::{FindAct, Seeking};
use crate::window::showing::Tab;
use crate::window::widgets::parts::striped;
use crate::window::widgets::stills::{STILL, still};
use crate::window::widgets::{path as shown_path, scrolled};

/// The files, each with its picture.
fn listed(ui: &mut Ui, scene: &mut Scene<'_>, paths: &[PathBuf]) {
    let most = (ui.ctx().content_rect().height() - 320.0).clamp(80.0, 260.0);
    scrolled(ui, ScrollArea::vertical().max_height(most), |ui| {
        for path in paths {
            ui.horizontal(|ui| {
                if !path.is_dir() {
                    still(ui, scene, path, STILL);
                }
                ui.add(Label::new(shown_path(path)).truncate());
            });
        }
    });
    ui.add_space(6.0);
}

/// Whether files that were chosen are added on top of something.
pub(super) fn added(ui: &mut Ui, scene: &mut Scene<'_>, into: Scope, paths: &[PathBuf]) {
    if !scene.show().scopes().contains(&into) {
        return scene.act(Action::Close);
    }
    let title = match paths.len() {
        1 => adding_said(scene, into, "this file", ""),
        count => adding_said(scene, into, &format!("these {count} files"), "s"),
    };
    striped(ui, scene.show().colour(into), |ui| ui.heading(title));
    listed(ui, scene, paths);
    ui.horizontal(|ui| {
        if main_button(ui, "Add") {
            scene.act(Action::Close);
            paths.iter().for_each(|path| scene.act(Action::AddFile(into, path.clone())));
        }
        if ui.button("Cancel").clicked() {
            scene.act(Action::Close);
        }
    });
}

pub(super) fn show(ui: &mut Ui, scene: &mut Scene<'_>, paths: &[PathBuf]) {
    ui.heading(match paths.len() {
        1 => "What is this for?".to_owned(),
        count => format!("What are these {count} for?"),
    });
    listed(ui, scene, paths);
    let written = || paths.iter().map(|path| path.display().to_string());
    let choice = |ui: &mut Ui, text: &str, hint: &str| {
        let is_pressed = ui.button(text).clicked();
        explained(ui, hint);
        is_pressed
    };
    let is_judged = main_button(ui, "Judge the orders on it");
    explained(ui, "Each order is shown on it, beside what was named before; the show stays as it is.");
    if is_judged {
        scene.act(Action::Close);
        scene.act(Action::Judge(scene.view.basis.with(written())));
        scene.act(Action::Tab(Tab::Orders));
    }
    let is_folder = |path: &PathBuf| path.is_dir();
    if let [one] = paths
        && !is_folder(one)
        && choice(
            ui,
            "Find what comes near it",
            "Orders and settings are tried that make the output look like it.",
        )
    {
        let like = one.display().to_string();
        let seeking = Seeking { goal: Goal::Like, like, ..scene.view.seeking.clone() };
        scene.act(Action::Close);
        scene.act(Action::Find(FindAct::Change(seeking)));
        scene.act(Action::Tab(Tab::Find));
    }
    if !paths.iter().any(is_folder)
        && choice(ui, "Add it as a clip", "It becomes footage of the level on the path; Undo takes it back.")
    {
        scene.act(Action::Close);
        scene.act(Action::TakeFiles(paths.to_vec()));
    }
    if ui.button("Cancel").clicked() {
        scene.act(Action::Close);
    }
}

fn explained(ui: &mut Ui, hint: &str) {
    ui.small(hint);
    ui.add_space(4.0);
}
