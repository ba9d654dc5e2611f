//! Dialogs over the window that want an answer, one function each.

mod about;
mod commands;
mod dropped;
mod effects;
mod files;
mod flashes;
mod keys;
mod levels;

use std::path::Path;

use egui::{Button, Context, Event, Id, Key, Modal, Response, RichText, ScrollArea, Ui};

use crate::edit::{Edit, Named};
use crate::order::{Condition, orders_said};
use crate::show::{Scope, Show};
use crate::window::action::{Action, Dialog, Saving};
use crate::window::scene::Scene;
use crate::window::showing::WallBy;
use crate::window::theme::palette;
use crate::window::widgets::parts::striped;
use crate::window::widgets::text::TextField;
use crate::window::widgets::{draft, drop_drafts, keep_draft, labels, name, path as shown_path, scrolled};

/// Draws the dialog that is open, if any.
pub fn show(ctx: &Context, scene: &mut Scene<'_>) {
    let id = Id::unique("dialog shown");
    let Some(dialog) = scene.view.dialog.clone() else {
        ctx.data_mut(|data| data.remove::<Opened>(id));
        return;
    };
    let nth = match ctx.data(|data| data.get_temp::<Opened>(id)) {
        Some(before) if before.dialog == dialog => before.nth,
        before => {
            drop_drafts(ctx);
            before.map_or(0, |before| before.nth + 1)
        }
    };
    ctx.data_mut(|data| data.insert_temp(id, Opened { dialog: dialog.clone(), nth }));
    // What has the keyboard before Enter takes it away.
    let focus = Focus {
        on: ctx.memory(|memory| memory.focused()),
        is_text: ctx.text_edit_focused(),
        is_listing: egui::Popup::is_any_open(ctx),
    };
    ctx.data_mut(|data| data.insert_temp(Id::unique("focus before"), focus));
    // Each is a thing of its own: a press that comes before it was drawn belongs to the one whose place it takes.
    let id = Id::unique(("dialog", nth));
    let modal = match &dialog {
        // What is chosen there shows in the large picture, which it leaves free.
        Dialog::Add(_) => effects::beside(ctx, scene, id),
        _ => Modal::new(id),
    };
    let modal = modal.show(ctx, |ui| {
        let most = match &dialog {
            Dialog::Keys => ui.ctx().content_rect().width() - 40.0,
            Dialog::Add(_) => effects::room(ctx, scene).width(),
            _ => 560.0,
        };
        ui.set_max_width(most);
        match &dialog {
            Dialog::Open => files::open(ui, scene),
            Dialog::Save(saving) => files::save(ui, scene, *saving),
            Dialog::Losing(next) => losing(ui, scene, next),
            Dialog::Report { title, text } => report(ui, scene, title, text),
            Dialog::Add(spot) => effects::add(ui, scene, *spot),
            Dialog::Rename(what) => rename(ui, scene, *what),
            Dialog::Footage(place) => files::footage(ui, scene, *place),
            Dialog::Dropped(paths) => dropped::show(ui, scene, paths),
            Dialog::AddFile(into) => files::add(ui, scene, *into),
            Dialog::AddFiles(into, files) => dropped::added(ui, scene, *into, files),
            Dialog::LevelOrders(bundle) => levels::show(ui, scene, *bundle),
            Dialog::Condition => condition(ui, scene),
            Dialog::Changed(path) => changed(ui, scene, path),
            Dialog::Recover => recover(ui, scene),
            Dialog::Flashes => flashes::show(ui, scene),
            Dialog::Keys => keys::show(ui, scene),
            Dialog::Commands => commands::show(ui, scene),
            Dialog::Steps => steps(ui, scene),
        }
    });
    if modal.should_close() {
        scene.act(Action::Close);
    }
}

/// The dialog that was drawn last: another one begins with texts of its own.
#[derive(Clone)]
struct Opened {
    dialog: Dialog,
    /// Of the dialogs that took each other's place.
    nth: usize,
}

/// What had the keyboard as a pass of a dialog began.
#[derive(Clone, Copy, Default)]
struct Focus {
    on: Option<Id>,
    is_text: bool,
    /// Whether a list was open.
    is_listing: bool,
}

/// The main way on: in the accent, so that there is one of it. Enter takes it, from wherever nothing else does.
fn main_button(ui: &mut Ui, text: &str) -> bool {
    let response = main_response(ui, text);
    response.clicked() || (response.enabled() && is_enter_free(ui))
}

fn main_response(ui: &mut Ui, text: &str) -> Response {
    let palette = palette(ui.ctx());
    ui.add(Button::new(RichText::new(text).color(palette.on_accent)).fill(palette.accent))
}

/// Whether Enter was pressed, and not on a button of the dialog, which takes it for itself.
fn is_enter_free(ui: &Ui) -> bool {
    let is_pressed = ui.input(|input| {
        let is_enter =
            |event: &Event| matches!(event, Event::Key { key: Key::Enter, pressed: true, repeat: false, .. });
        input.events.iter().any(is_enter)
    });
    let focus = ui.data(|data| data.get_temp::<Focus>(Id::unique("focus before"))).unwrap_or_default();
    let is_here = |id: Id| ui.ctx().read_response(id).is_some_and(|one| one.layer_id == ui.layer_id());
    is_pressed && !focus.is_listing && (focus.is_text || !focus.on.is_some_and(is_here))
}

/// Closes a dialog that only shows something.
pub fn close_button(ui: &mut Ui, scene: &mut Scene<'_>) {
    ui.add_space(6.0);
    if main_button(ui, "Close") {
        scene.act(Action::Close);
    }
}

/// Another program has written the work's file.
fn changed(ui: &mut Ui, scene: &mut Scene<'_>, path: &Path) {
    ui.heading("The file has been changed by another program");
    ui.label(format!("{} is no longer what was read here. Nothing has been saved yet.", shown_path(path)));
    ui.add_space(6.0);
    ui.horizontal_wrapped(|ui| {
        if main_button(ui, "Save under another name …") {
            scene.act(Action::Ask(Dialog::Save(Saving::Work)));
        }
        if ui.button("Replace it").on_hover_text("What the other program wrote is lost").clicked() {
            scene.act(Action::Replace(path.to_owned()));
        }
        if ui.button("Cancel").clicked() {
            scene.act(Action::Close);
        }
    });
}

fn report(ui: &mut Ui, scene: &mut Scene<'_>, title: &str, text: &str) {
    ui.heading(title);
    ui.add_space(4.0);
    scrolled(ui, ScrollArea::vertical().max_height(300.0), |ui| {
        ui.add(egui::Label::new(RichText::new(text).monospace()).wrap().selectable(true));
    });
    ui.add_space(4.0);
    ui.weak("Your work is as it was.");
    if main_button(ui, "Close") {
        scene.act(Action::Close);
    }
}

fn losing(ui: &mut Ui, scene: &mut Scene<'_>, next: &Action) {
    let name = name(&scene.show().name);
    ui.heading(format!("{name} has unsaved changes"));
    ui.add_space(6.0);
    ui.horizontal(|ui| {
        let text = if scene.work.file().is_some() { "Save" } else { "Save as …" };
        if main_button(ui, text) {
            scene.act(Action::SaveThen(Box::new(next.clone())));
        }
        if ui.button("Discard").clicked() {
            scene.act(Action::Lose(Box::new(next.clone())));
        }
        if ui.button("Cancel").clicked() {
            scene.act(Action::Close);
        }
    });
}

fn recover(ui: &mut Ui, scene: &mut Scene<'_>) {
    ui.heading("Unsaved work recovered");
    ui.label(scene.recovered.clone().unwrap_or_default());
    ui.weak("The program ended without closing it. It is kept until you open it or delete it.");
    ui.add_space(6.0);
    ui.horizontal(|ui| {
        if main_button(ui, "Open it") {
            scene.act(Action::Recover(true));
        }
        if ui.button("Delete it").clicked() {
            scene.act(Action::Recover(false));
        }
        if ui.button("Not now").on_hover_text("Asked again at the next start (Esc)").clicked() {
            scene.act(Action::Close);
        }
    });
}

fn rename(ui: &mut Ui, scene: &mut Scene<'_>, what: Named) {
    let show = scene.work.show().clone();
    let (title, now) = match what {
        // That is one line of what stands about it.
        Named::Show => return about::show(ui, scene),
        Named::Scope(scope) => (format!("Rename {}", scene.address(scope)), name_of(&show, scope)),
        Named::Effect(spot) => {
            let Some(used) = show.chain(spot.scope).get(spot.at) else { return scene.act(Action::Close) };
            (format!("Call {} something else", name(used.called())), used.called().to_owned())
        }
    };
    let id = Id::unique(("rename", &title));
    let mut text = draft(ui, id, || now);
    let colour = if let Named::Scope(scope) = what { show.colour(scope) } else { None };
    striped(ui, colour, |ui| ui.heading(title));
    let entry = TextField::new("Name", 320.0).show(ui, &mut text);
    let is_entered = is_entered(ui, &entry);
    keep_draft(ui, id, text.clone());
    if let Named::Effect(_) = what {
        ui.small("It stands on its card, on the wall and in rules. Empty gives its own name back.");
    }
    ui.horizontal(|ui| {
        if main_button(ui, "Rename") || is_entered {
            scene.act(Action::Close);
            scene.act(Action::Edit(Edit::Rename { what, name: text.trim().to_owned() }));
        }
        if ui.button("Cancel").clicked() {
            scene.act(Action::Close);
        }
    });
}

/// "Only orders with tint before edge-find".
fn condition(ui: &mut Ui, scene: &mut Scene<'_>) {
    let names = labels(scene.show().chain(scene.view.scope));
    let id = Id::unique("condition");
    // The effect, the place where it is wanted, and the effect that it is wanted before.
    let mut chosen: [usize; 3] = ui.data(|data| data.get_temp(id)).unwrap_or([0, 0, 1]);
    let last = names.len().saturating_sub(1);
    chosen = [chosen[0].min(last), chosen[1].min(2), chosen[2].min(last)];
    ui.heading("Only orders with");
    ui.add_space(4.0);
    ui.horizontal(|ui| {
        let pick = |ui: &mut Ui, name: &str, at: &mut usize, choices: &[&str]| {
            let choice =
                egui::ComboBox::from_id_salt(name).selected_text(choices[*at]).width(150.0).truncate();
            let shown = choice.show_ui(ui, |ui| {
                for (place, text) in choices.iter().enumerate() {
                    ui.selectable_value(at, place, *text);
                }
            });
            let _ = shown.response.accessible_name(name);
        };
        let effects: Vec<&str> = names.iter().map(String::as_str).collect();
        pick(ui, "Effect", &mut chosen[0], &effects);
        pick(ui, "Where", &mut chosen[1], &["before", "first", "last"]);
        if chosen[1] == 0 {
            pick(ui, "Other effect", &mut chosen[2], &effects);
        }
    });
    ui.data_mut(|data| data.insert_temp(id, chosen));
    let [effect, place, other] = chosen;
    let wanted = match place {
        0 if effect == other => None,
        0 => Some(Condition::Before { under: effect, over: other }),
        1 => Some(Condition::First(effect)),
        _ => Some(Condition::Last(effect)),
    };
    if wanted.is_none() {
        ui.weak("Choose two different effects.");
    } else if let Some(known) = &scene.known {
        let all = scene.view.conditions.iter().copied().chain(wanted).collect::<Vec<_>>();
        let left = known.candidates(&WallBy::Orders, &all).len();
        let all = orders_said(known.classes.len() as u128);
        ui.weak(format!("{left} of {all} that can differ are like that."));
    }
    ui.add_space(6.0);
    ui.horizontal(|ui| {
        let pressed = ui.add_enabled_ui(wanted.is_some(), |ui| main_button(ui, "Show them")).inner;
        if let (true, Some(wanted)) = (pressed, wanted) {
            scene.act(Action::Close);
            scene.act(Action::Require(wanted));
        }
        if ui.button("Cancel").clicked() {
            scene.act(Action::Close);
        }
    });
}

fn name_of(show: &Show, scope: Scope) -> String {
    match scope {
        Scope::Global => String::new(),
        Scope::Bundle(b) => show.bundles[b].name.clone(),
        Scope::Level(b, l) => show.bundles[b].levels[l].name.clone(),
        Scope::Clip(b, l, c) => show.bundles[b].levels[l].clips[c].name.clone(),
    }
}

fn steps(ui: &mut Ui, scene: &mut Scene<'_>) {
    ui.heading("Steps");
    ui.weak("Press one to go there; nothing is lost until you change something.");
    let history = scene.work.history().clone();
    let behind = history.done().len();
    let names: Vec<String> = std::iter::once("As it was opened".to_owned())
        .chain(history.done().iter().map(|step| step.name.clone()))
        .chain(history.undone().iter().rev().map(|step| step.name.clone()))
        .collect();
    scrolled(ui, ScrollArea::vertical().max_height(380.0).stick_to_bottom(true), |ui| {
        for (at, name) in names.iter().enumerate() {
            if ui.selectable_label(at == behind, format!("{at}  {name}")).clicked() {
                scene.act(Action::GoTo(at));
            }
        }
    });
    close_button(ui, scene);
}

/// Whether Enter was pressed in a line of text; it has the keyboard for as long as nothing else has.
fn is_entered(ui: &Ui, entry: &Response) -> bool {
    // Asked first: Enter takes the keyboard away from the line.
    let is_entered = entry.lost_focus() && ui.input(|input| input.key_pressed(Key::Enter));
    if ui.memory(|memory| memory.focused().is_none()) {
        entry.request_focus();
    }
    is_entered
}
