//! Dialogs that ask for a file: to open, to save to, to show as footage.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use egui::{Id, ScrollArea, Ui};

use super::{is_enter_free, is_entered, main_button, main_response};
use crate::base::folders::typed;
use crate::edit::{ClipEdit, Edit, Form};
use crate::footage::{FILM_ENDINGS, PICTURE_ENDINGS};
use crate::show::clip::FootageName;
use crate::show::{ClipPlace, Scope};
use crate::window::action::{Action, Dialog, Saving};
use crate::window::scene::Scene;
use crate::window::widgets::parts::striped;
use crate::window::widgets::stills::{STILL, still};
use crate::window::widgets::text::TextField;
use crate::window::widgets::{draft, keep_draft, name, path as shown_path, scrolled};

/// Which footage a clip shows: a generated source, or a file.
pub(super) fn footage(ui: &mut Ui, scene: &mut Scene<'_>, place: ClipPlace) {
    let show = scene.work.show().clone();
    let Some(now) = show.clip(place) else {
        return scene.act(Action::Close);
    };
    let title = format!("Footage of {}", scene.address(place.into()));
    striped(ui, show.colour(place.into()), |ui| ui.heading(title));
    ui.weak(format!("Now: {}", name(&now.footage.to_string())));
    ui.add_space(4.0);
    ui.strong("Made by the program");
    ui.horizontal_wrapped(|ui| {
        for source in scene.catalogue.sources().to_vec() {
            let footage = FootageName::Generated(source.name.clone());
            let is_now = footage == now.footage;
            if ui.selectable_label(is_now, &source.name).on_hover_text(&source.summary).clicked() {
                scene.act(Action::Edit(Edit::Clip(place, ClipEdit::Footage(footage))));
            }
        }
    });
    ui.add_space(6.0);
    ui.strong("A file");
    let id = "footage";
    let before = typed_before(scene, &Dialog::Footage(place)).unwrap_or_default();
    let chosen = file_entry(ui, id, scene, &[&PICTURE_ENDINGS[..], &FILM_ENDINGS].concat(), || before);
    let text = draft(ui, Id::unique(id), String::new);
    ui.small("A file dropped onto the window now is taken too. A numbered sequence is written with # for each digit, such as frames/sea-####.png.");
    ui.horizontal(|ui| {
        let path = typed(&text);
        let is_ready = path.file_name().is_some() && !path.is_dir();
        let pressed = ui.add_enabled_ui(is_ready, |ui| main_button(ui, "Use this file")).inner;
        if is_ready && (pressed || chosen) {
            let footage = FootageName::File { written: path.display().to_string(), path };
            scene.act(Action::Edit(Edit::Clip(place, ClipEdit::Footage(footage))));
        }
        if ui.button("Cancel").clicked() {
            scene.act(Action::Close);
        }
    });
}

/// "Add a file as a clip on level:picture/sea".
pub(super) fn adding_said(scene: &Scene<'_>, into: Scope, what: &str, plural: &str) -> String {
    let one = if plural.is_empty() { "a " } else { "" };
    match into {
        Scope::Global => format!("Add {what} as {one}bundle{plural} over the others"),
        Scope::Bundle(_) => format!("Add {what} as {one}level{plural} on top of {}", scene.address(into)),
        _ => format!("Add {what} as {one}clip{plural} on {}", scene.address(into)),
    }
}

/// Which file is added on top of something.
pub(super) fn add(ui: &mut Ui, scene: &mut Scene<'_>, into: Scope) {
    if !scene.show().scopes().contains(&into) {
        return scene.act(Action::Close);
    }
    let title = adding_said(scene, into, "a file", "");
    striped(ui, scene.show().colour(into), |ui| ui.heading(title));
    let id = "add a file";
    let before = typed_before(scene, &Dialog::AddFile(into)).unwrap_or_default();
    let chosen = file_entry(ui, id, scene, &[&PICTURE_ENDINGS[..], &FILM_ENDINGS].concat(), || before);
    let path = typed(&draft(ui, Id::unique(id), String::new));
    ui.horizontal(|ui| {
        let is_ready = path.file_name().is_some() && !path.is_dir();
        let pressed = ui.add_enabled_ui(is_ready, |ui| main_button(ui, "Add")).inner;
        if is_ready && (pressed || chosen) {
            scene.act(Action::AddFile(into, path));
        }
        if ui.button("Cancel").clicked() {
            scene.act(Action::Close);
        }
    });
}

pub(super) fn open(ui: &mut Ui, scene: &mut Scene<'_>) {
    ui.heading("Open a show or a chain");
    let before = typed_before(scene, &Dialog::Open);
    let chosen = file_entry(ui, "open a file", scene, &["toml"], || before.unwrap_or_default());
    let text = draft(ui, Id::unique("open a file"), String::new);
    ui.horizontal(|ui| {
        let is_ready = !text.trim().is_empty();
        let pressed = ui.add_enabled_ui(is_ready, |ui| main_button(ui, "Open")).inner;
        if pressed || chosen {
            scene.act(Action::Open(typed(&text)));
        }
        if ui.button("Cancel").clicked() {
            scene.act(Action::Close);
        }
    });
    ui.small("A file or picture dropped onto the window works too.");
}

pub(super) fn save(ui: &mut Ui, scene: &mut Scene<'_>, saving: Saving) {
    ui.heading(format!("Save {}", saving.label()));
    let id = format!("save {}", saving.label());
    let suggested = suggestion(scene, saving);
    let chosen = file_entry(ui, &id, scene, &[saving.ending()], || suggested);
    let text = draft(ui, Id::unique(&id), String::new);
    let path = with_ending(&typed(&text), saving.ending());
    let is_there = path.is_file() && Some(path.as_path()) != scene.work.file();
    if is_there {
        ui.label(format!("{} is there already and would be replaced.", shown_path(&path)));
    }
    if saving == Saving::Work && scene.work.form() == Form::Chain {
        ui.small("It stays a chain file: its footage is only looked at.");
    }
    ui.horizontal(|ui| {
        let word = if is_there { "Replace" } else { "Save" };
        let is_ready = path.file_stem().is_some();
        let button = ui.add_enabled_ui(is_ready, |ui| main_response(ui, word)).inner;
        let is_entered = chosen || is_enter_free(ui);
        // A file that is there is not replaced by the Enter that ends its name, but by the next one.
        if is_ready && is_there && is_entered {
            button.request_focus();
        }
        if is_ready && (button.clicked() || (is_entered && !is_there)) {
            scene.act(Action::Write(saving, path));
        }
        if ui.button("Cancel").clicked() {
            scene.act(Action::Close);
        }
    });
}

fn suggestion(scene: &Scene<'_>, saving: Saving) -> String {
    if let Some(typed) = typed_before(scene, &Dialog::Save(saving)) {
        return typed;
    }
    if let (Saving::Work, Some(file)) = (saving, scene.work.file()) {
        return file.display().to_string();
    }
    let plain = |c: char| if c.is_alphanumeric() { c.to_ascii_lowercase() } else { '-' };
    let name: String = scene.show().name.chars().map(plain).collect();
    let kind = match saving {
        Saving::Work => "",
        Saving::Picture => "-picture",
        Saving::Wall => "-wall",
        Saving::Chain => "-chain",
        Saving::BuildSheet => "-sheet",
        Saving::Report => "-report",
    };
    let folder = scene.work.file().and_then(Path::parent).map(Path::to_owned);
    let folder = folder.or_else(|| std::env::current_dir().ok()).unwrap_or_default();
    folder.join(format!("{name}{kind}.{}", saving.ending())).display().to_string()
}

/// A path that was typed into a dialog and led to nothing.
fn typed_before(scene: &Scene<'_>, dialog: &Dialog) -> Option<String> {
    let found = scene.view.typed.iter().find(|(known, _)| known == dialog);
    found.map(|(_, path)| path.display().to_string())
}

fn with_ending(path: &Path, ending: &str) -> PathBuf {
    if path.extension().is_some() || path.file_name().is_none() {
        path.to_owned()
    } else {
        path.with_extension(ending)
    }
}

/// A path that is typed, with what its folder holds beneath it; true once a file was chosen.
fn file_entry(
    ui: &mut Ui,
    id: &str,
    scene: &mut Scene<'_>,
    endings: &[&str],
    suggested: impl FnOnce() -> String,
) -> bool {
    let id = Id::unique(id);
    let here = scene.work.file().and_then(Path::parent).map(Path::to_owned);
    let here = here.or_else(|| std::env::current_dir().ok()).unwrap_or_default();
    let mut text = draft(ui, id, || {
        let suggested = suggested();
        if suggested.is_empty() {
            format!("{}{}", here.display(), std::path::MAIN_SEPARATOR)
        } else {
            suggested
        }
    });
    let entry = TextField::new("Path of the file", 520.0).hint("path of a file").show(ui, &mut text);
    let is_entered = is_entered(ui, &entry);
    let mut chosen = is_entered && !text.trim().is_empty();
    let (folder, part) = folder_and_part(&text);
    let is_seen = endings.iter().any(|ending| PICTURE_ENDINGS.contains(ending));
    ui.add_space(2.0);
    // In a low window the ways out of the dialog keep their room.
    let most = (ui.ctx().content_rect().height() - 320.0).clamp(80.0, 240.0);
    let list = ScrollArea::vertical().max_height(most).min_scrolled_height(most.min(140.0));
    scrolled(ui, list.auto_shrink([false; 2]), |ui| {
        if let Some(above) = folder.parent().filter(|above| *above != folder)
            && ui.selectable_label(false, "..").accessible_name("The folder above").clicked()
        {
            text = with_separator(above);
        }
        for (file, is_folder) in listed(ui, &folder, &part, endings).iter() {
            let (file, is_folder) = (file.as_str(), *is_folder);
            let sign = if is_folder { std::path::MAIN_SEPARATOR_STR } else { "" };
            let path = folder.join(file);
            let response = ui
                .horizontal(|ui| {
                    if is_seen && !is_folder {
                        still(ui, scene, &path, STILL);
                    }
                    ui.selectable_label(false, format!("{}{sign}", name(file)))
                })
                .inner;
            if response.clicked() {
                text = if is_folder { with_separator(&path) } else { path.display().to_string() };
                // One press fills in the name, two take it.
                entry.request_focus();
            }
            chosen |= response.double_clicked() && !is_folder;
        }
    });
    keep_draft(ui, id, text);
    chosen
}

fn with_separator(folder: &Path) -> String {
    let text = folder.display().to_string();
    if text.ends_with(std::path::is_separator) {
        text
    } else {
        format!("{text}{}", std::path::MAIN_SEPARATOR)
    }
}

/// The folder of a path that is being typed, and the part of a name after it.
fn folder_and_part(text: &str) -> (PathBuf, String) {
    let path = typed(text);
    if text.ends_with(std::path::is_separator) || path.is_dir() {
        return (path, String::new());
    }
    let part = path.file_name().unwrap_or_default().to_string_lossy().into_owned();
    let folder = path.parent().unwrap_or(Path::new("")).to_owned();
    // A name typed in full lists its whole folder, so that its neighbours can be chosen.
    (folder, if path.is_file() { String::new() } else { part })
}

/// What a folder held when it was looked at last.
#[derive(Clone)]
struct Listed {
    of: (PathBuf, String),
    /// In seconds.
    at: f64,
    files: Arc<Vec<(String, bool)>>,
}

/// The list of a folder, looked at anew after a second: it may be long, and on another machine.
fn listed(ui: &Ui, folder: &Path, part: &str, endings: &[&str]) -> Arc<Vec<(String, bool)>> {
    let id = Id::unique(("what a folder holds", endings.len()));
    let (now, of) = (ui.input(|input| input.time), (folder.to_owned(), part.to_owned()));
    let known = ui.data(|data| data.get_temp::<Listed>(id));
    if let Some(known) = known.filter(|known| known.of == of && now - known.at < 1.0) {
        return known.files;
    }
    let files = Arc::new(listing(folder, part, endings));
    ui.data_mut(|data| data.insert_temp(id, Listed { of, at: now, files: Arc::clone(&files) }));
    files
}

/// Folders first, then files with one of the endings; those that hold `part` in their names.
fn listing(folder: &Path, part: &str, endings: &[&str]) -> Vec<(String, bool)> {
    let folder = if folder.as_os_str().is_empty() { Path::new(".") } else { folder };
    let part = part.to_lowercase();
    let mut found: Vec<(String, bool)> = std::fs::read_dir(folder)
        .into_iter()
        .flatten()
        .filter_map(Result::ok)
        .filter_map(|entry| {
            let name = entry.file_name().into_string().ok()?;
            let is_folder = entry.path().is_dir();
            let is_fitting = is_folder || endings.iter().any(|ending| name.ends_with(&format!(".{ending}")));
            let is_shown = !name.starts_with('.') && is_fitting && name.to_lowercase().contains(&part);
            is_shown.then_some((name, is_folder))
        })
        .collect();
    found.sort_by_key(|(name, is_folder)| (!is_folder, name.to_lowercase()));
    found.truncate(400);
    found
}
