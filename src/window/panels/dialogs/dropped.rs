//! What is done with files that were dropped over the orders.

use std::path::PathBuf;

use egui::Ui;

use super::main_button;
use crate::explore::Goal;
use crate::window::action::Action;
use crate::window::scene::Scene;
use crate::window::seeking::{FindAct, Seeking};
use crate::window::showing::Tab;
use crate::window::widgets::path as shown_path;

/// Files that are named one by one.
const NAMED: usize = 6;

pub(super) fn show(ui: &mut Ui, scene: &mut Scene<'_>, paths: &[PathBuf]) {
    ui.heading(match paths.len() {
        1 => "What is this for?".to_owned(),
        count => format!("What are these {count} for?"),
    });
    for path in paths.iter().take(NAMED) {
        ui.label(shown_path(path));
    }
    if paths.len() > NAMED {
        ui.weak(format!("and {} more", paths.len() - NAMED));
    }
    ui.add_space(6.0);
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
