//! The bar at the top: what is being worked on, the menus, and the last steps; and the line at the bottom.

use egui::{Button, Ui};

use crate::base::embedded;
use crate::base::shown::shown_error;
use crate::edit::{Form, Named};
use crate::show::Scope;
use crate::window::action::{Action, Dialog, Saving};
use crate::window::keys::{Command, key_of};
use crate::window::preferences::{Preferences, TEXT_PERCENT, TEXT_STEP, ThemeChoice};
use crate::window::scene::Scene;
use crate::window::shelves::{LibraryAct, List};
use crate::window::showing::Tab;
use crate::window::theme::palette;
use crate::window::threads::export::OnTheWay;
use crate::window::widgets::fields::NumberField;
use crate::window::widgets::parts::striped_name;
use crate::window::widgets::reach::part;
use crate::window::widgets::short::short_text;
use crate::window::widgets::{name, path, progress, sign_button, transport};

/// Width of what undoes and redoes, in points.
const STEPS: f32 = 112.0;
/// The least and the greatest width of the show's name.
const NAME: [f32; 2] = [60.0, 230.0];

/// Draws the bar at the top.
pub fn top(ui: &mut Ui, scene: &mut Scene<'_>) {
    part(ui, scene, "The bar", bar);
}

fn bar(ui: &mut Ui, scene: &mut Scene<'_>) {
    ui.horizontal_centered(|ui| {
        file_menu(ui, scene);
        edit_menu(ui, scene);
        view_menu(ui, scene);
        beat_menu(ui, scene);
        if ui
            .button("Keys")
            .on_hover_text(format!("{} or {}", Command::Keys.key(), Command::KeysBySign.key()))
            .clicked()
        {
            scene.act(Action::Ask(Dialog::Keys));
        }
        // Nothing is moved by how long a name is.
        let room = ui.available_width() - STEPS;
        let is_narrow = room - NAME[0] < transport::WIDTHS[0];
        let width = (room - transport::WIDTHS[usize::from(is_narrow)]).clamp(NAME[0], NAME[1]);
        let layout = egui::Layout::left_to_right(egui::Align::Center);
        ui.allocate_ui_with_layout(egui::vec2(width, ui.available_height()), layout, |ui| {
            ui.set_min_width(width);
            title(ui, scene);
        });
        ui.separator();
        transport::controls(ui, scene, is_narrow);
        ui.with_layout(egui::Layout::right_to_left(egui::Align::Center), |ui| steps(ui, scene));
    });
}

/// The name of what is worked on.
fn title(ui: &mut Ui, scene: &mut Scene<'_>) {
    let changed = if scene.work.is_changed() { " •" } else { "" };
    let own = name(&scene.show().name);
    let title = format!("{own}{changed}");
    let kind = if scene.work.form() == Form::Show { "show" } else { "chain" };
    let file = match scene.work.file() {
        Some(file) => path(file),
        None => "not in a file yet".to_owned(),
    };
    let font = egui::TextStyle::Button.resolve(ui.style());
    let mark = ui.painter().layout_no_wrap(changed.to_owned(), font.clone(), palette(ui.ctx()).plain);
    let room = ui.available_width() - mark.size().x - 4.0;
    let short = short_text(ui, &own, &font, room);
    let button =
        Button::new(egui::RichText::new(format!("{short}{changed}")).strong()).frame(false).truncate();
    if ui.add(button).accessible_name(&title).on_hover_text(format!("{title}, a {kind}, {file}")).clicked() {
        scene.act(Action::Ask(Dialog::Rename(Named::Show)));
    }
}

/// The last step and the next one, from the right.
fn steps(ui: &mut Ui, scene: &mut Scene<'_>) {
    let history = scene.work.history();
    let (done, undone) = (history.done().last(), history.undone().last());
    let redo_hint =
        undone.map_or_else(|| "Nothing to redo".to_owned(), |step| format!("Redo: {}", step.name));
    if ui.add_enabled(undone.is_some(), Button::new("Redo")).on_hover_text(redo_hint).clicked() {
        scene.act(Action::Redo);
    }
    let undo_hint = done.map_or_else(|| "Nothing to undo".to_owned(), |step| format!("Undo: {}", step.name));
    if ui.add_enabled(done.is_some(), Button::new("Undo")).on_hover_text(undo_hint).clicked() {
        scene.act(Action::Undo);
    }
    if let Some(step) = done
        && ui.available_width() > 40.0
    {
        ui.add(egui::Label::new(egui::RichText::new(&step.name).weak()).truncate());
    }
}

/// The one quiet line for who opens the window for the first time.
fn invitation(ui: &mut Ui, scene: &mut Scene<'_>) {
    let words = egui::RichText::new("New to the order of effects? A few short lessons").small();
    if ui.add(Button::new(words).small()).on_hover_text(key_of(Tab::Lessons)).clicked() {
        scene.act(Action::Tab(Tab::Lessons));
    }
}

/// An entry of a menu: a command with its key.
fn entry(ui: &mut Ui, scene: &mut Scene<'_>, text: &str, command: Command) {
    if ui.add(Button::new(text).shortcut_text(command.key())).clicked() {
        command.carry_out(scene);
        ui.close();
    }
}

fn file_menu(ui: &mut Ui, scene: &mut Scene<'_>) {
    let menu = ui.menu_button("File", |ui| {
        ui.set_min_width(240.0);
        entry(ui, scene, "Open …", Command::Open);
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
        if scene.work.form() == Form::Show && ui.button("Bring clips of another show \u{2026}").clicked() {
            scene.act(Action::Tab(Tab::Library));
            scene.act(Action::Library(LibraryAct::List(List::OtherShow)));
            ui.close();
        }
        ui.separator();
        entry(ui, scene, "Save", Command::Save);
        entry(ui, scene, "Save as …", Command::SaveAs);
        ui.separator();
        entry(ui, scene, "Export the picture …", Command::ExportPicture);
        entry(ui, scene, "Export the wall …", Command::ExportWall);
        for (text, saving) in
            [("Export the build sheet …", Saving::BuildSheet), ("Export the report …", Saving::Report)]
        {
            if ui.button(text).clicked() {
                scene.act(Action::Ask(Dialog::Save(saving)));
                ui.close();
            }
        }
        entry(ui, scene, "Save the chain to a file …", Command::KeepChain);
        ui.separator();
        entry(ui, scene, "Quit", Command::Quit);
    });
    if scene.wants_menus {
        menu.response.request_focus();
    }
}

fn edit_menu(ui: &mut Ui, scene: &mut Scene<'_>) {
    ui.menu_button("Edit", |ui| {
        ui.set_min_width(220.0);
        entry(ui, scene, "Undo", Command::Undo);
        entry(ui, scene, "Redo", Command::Redo);
        entry(ui, scene, "Steps …", Command::Steps);
        entry(ui, scene, "Every command …", Command::Commands);
        ui.separator();
        entry(ui, scene, "Add an effect …", Command::Add);
        entry(ui, scene, "Paste", Command::Paste);
        if scene.view.spot().is_some() {
            entry(ui, scene, "Copy", Command::Copy);
            entry(ui, scene, "Cut", Command::Cut);
            entry(ui, scene, "Select every effect of the scope", Command::SelectAll);
            entry(ui, scene, "Duplicate", Command::Duplicate);
            entry(ui, scene, "Remove", Command::Remove);
            entry(ui, scene, "Reset its settings", Command::Reset);
            entry(ui, scene, "Call it something else …", Command::Rename);
        }
        ui.separator();
        entry(ui, scene, "About the show …", Command::RenameShow);
        let scope = scene.view.scope;
        if scope != Scope::Global {
            entry(ui, scene, &format!("Rename {} …", scene.address(scope)), Command::RenameScope);
        }
    });
}

/// Where the beat goes, in steps.
fn beat_menu(ui: &mut Ui, scene: &mut Scene<'_>) {
    ui.menu_button("Beat", |ui| {
        ui.set_min_width(200.0);
        entry(ui, scene, "To beat 0", Command::Start);
        for (text, command, nth) in [
            ("A quarter beat back", Command::StepBeat, 0),
            ("A quarter beat on", Command::StepBeat, 1),
            ("A frame back", Command::StepFrame, 0),
            ("A frame on", Command::StepFrame, 1),
            ("One BPM faster", Command::Tempo, 0),
            ("One BPM slower", Command::Tempo, 1),
        ] {
            // The menu stays, as one step is seldom enough.
            if ui.add(Button::new(text).shortcut_text(command.nth_key(nth))).clicked() {
                command.carry_out_nth(nth, scene);
            }
        }
    });
}

fn view_menu(ui: &mut Ui, scene: &mut Scene<'_>) {
    ui.menu_button("View", |ui| {
        ui.set_min_width(220.0);
        let Preferences { theme, text_percent, .. } = scene.view.preferences;
        let mut shows = !scene.view.preferences.hides_structure;
        let structure = ui.checkbox(&mut shows, "Structure").on_hover_text(Command::Structure.key());
        if structure.changed() {
            scene.act(Action::ShowStructure(shows));
        }
        ui.separator();
        ui.weak(format!("Theme ({})", Command::Theme.key()));
        for choice in ThemeChoice::ALL {
            if ui.radio(theme == choice, choice.label()).clicked() {
                scene.act(Action::Theme(choice));
            }
        }
        ui.separator();
        let mut percent = text_percent;
        ui.horizontal(|ui| {
            ui.label("Text");
            if sign_button(ui, "−", "Smaller text", &Command::SmallerText.key()).clicked() {
                percent = percent.saturating_sub(TEXT_STEP);
            }
            let [low, high] = TEXT_PERCENT;
            let range = [f64::from(low), f64::from(high)];
            let field = NumberField::new("Size of text in per cent", "%", range);
            let mut typed = f64::from(percent);
            NumberField { is_whole: true, speed: 0.5, ..field }.show(ui, &mut typed);
            percent = typed as u32;
            if sign_button(ui, "+", "Larger text", &Command::LargerText.key()).clicked() {
                percent += TEXT_STEP;
            }
            if ui.button("Usual").on_hover_text(Command::UsualText.key()).clicked() {
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
        entry(ui, scene, "The picture alone", Command::Fill);
        let second = if scene.view.second { "Close the second window" } else { "Output in a second window" };
        entry(ui, scene, second, Command::Second);
        if scene.view.second {
            entry(
                ui,
                scene,
                if scene.view.black { "Its output again" } else { "Black there" },
                Command::Black,
            );
        }
        ui.separator();
        entry(ui, scene, "Families, looks, every order", Command::WallBy);
        entry(ui, scene, "Steps …", Command::Steps);
    });
}

/// How far an export has come, and the way to give it up.
fn export(ui: &mut Ui, scene: &mut Scene<'_>, export: &OnTheWay) {
    ui.small(format!("Exporting {}", export.saving.label()));
    progress(ui, export.share);
    if export.waiting > 0 {
        ui.small(format!("{} more after it", export.waiting));
    }
    if ui
        .small_button("Give up")
        .on_hover_text(format!("Nothing is written ({})", Command::GiveUpExport.key()))
        .clicked()
    {
        scene.act(Action::GiveUpExport);
    }
}

/// Draws the line at the bottom: what was said last, and what the pictures are made on.
pub fn bottom(ui: &mut Ui, scene: &mut Scene<'_>) {
    part(ui, scene, "What was said last", said);
}

fn said(ui: &mut Ui, scene: &mut Scene<'_>) {
    // What stands at the right is short: what is said has the room that is left.
    ui.with_layout(egui::Layout::right_to_left(egui::Align::Center), |ui| {
        let frame = scene.moment.frame;
        let of = scene.show().frame;
        let size =
            if frame == of { frame.to_string() } else { format!("preview at {frame}, the show is {of}") };
        ui.small(size);
        hidden(ui, scene);
        if let Some(gpu) = scene.pictures.gpu() {
            let adapter = gpu.adapter().to_string();
            let most = ui.available_width() * 0.3;
            let short =
                short_text(ui, &adapter, &egui::TextStyle::Small.resolve(ui.style()), most).into_owned();
            ui.small(short).on_hover_text(adapter);
        }
        ui.with_layout(egui::Layout::left_to_right(egui::Align::Center), |ui| last_said(ui, scene));
    });
}

/// What was said last; while nothing was, what can be done.
fn last_said(ui: &mut Ui, scene: &mut Scene<'_>) {
    if let Some(on_the_way) = scene.export.clone() {
        return export(ui, scene, &on_the_way);
    }
    if scene.view.said.is_empty() && scene.lessons.invites && scene.view.tab != Tab::Lessons {
        return invitation(ui, scene);
    }
    let text = match scene.view.said.is_empty() {
        true => "Drag a card to another gap, or press a picture on the wall: every order is shown before you take it.".to_owned(),
        false => shown_error(&scene.view.said),
    };
    ui.add(egui::Label::new(egui::RichText::new(&text).small()).truncate()).on_hover_text(text);
}

/// How much of the show is hidden, so that nobody plays it without knowing; pressed, the first of it is selected.
fn hidden(ui: &mut Ui, scene: &mut Scene<'_>) {
    let hidden = scene.show().hidden();
    let Some(&first) = hidden.first() else { return };
    let text = match hidden.len() {
        1 => "1 part hidden".to_owned(),
        many => format!("{many} parts hidden"),
    };
    let button = ui.add(Button::new(egui::RichText::new(text).small()).small()).on_hover_ui(|ui| {
        ui.label("The audience sees nothing of");
        for &scope in &hidden {
            let ink = ui.visuals().text_color();
            striped_name(ui, scene.show().colour(scope), &scene.address(scope), egui::TextStyle::Body, ink);
        }
    });
    if button.clicked() {
        scene.act(Action::ShowStructure(true));
        scene.act(Action::Scope(first));
    }
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
