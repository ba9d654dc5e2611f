//! Bundles, levels and clips as several panels show them: their names, their colours, what can be done with them.

use egui::text::{LayoutJob, TextFormat};
use egui::{Color32, Id, Painter, Rect, RichText, Sense, Stroke, StrokeKind, TextStyle, Ui, Vec2, vec2};

use super::rows::next_gap;
use super::short::short_text;
use super::text::TextField;
use super::{announce, name};
use crate::base::coding::{ColourCode, OkabeIto};
use crate::edit::{ClipEdit, Edit, StructureEdit};
use crate::show::{Clip, ClipPlace, Scope, Show};
use crate::window::action::{Action, Dialog};
use crate::window::keys::Command;
use crate::window::scene::Scene;
use crate::window::theme::{ink, palette};

/// Width of a stripe of colour, in points.
pub const STRIPE: f32 = 4.0;

/// "Level", and what it is called.
pub fn called(show: &Show, scope: Scope) -> (&'static str, &str) {
    match scope {
        Scope::Global => ("Global", "everything"),
        Scope::Bundle(b) => ("Bundle", &show.bundles[b].name),
        Scope::Level(b, l) => ("Level", &show.bundles[b].levels[l].name),
        Scope::Clip(b, l, c) => ("Clip", &show.bundles[b].levels[l].clips[c].name),
    }
}

/// Paints the stripe of what has a colour, at the left of a place where its name stands.
pub fn stripe(painter: &Painter, rect: Rect, colour: Option<ColourCode>) {
    let Some(colour) = colour else { return };
    let stripe = Rect::from_min_size(rect.min, vec2(STRIPE, rect.height()));
    painter.rect(stripe, 1.0, ink(colour.colour()), Stroke::new(0.5, Color32::GRAY), StrokeKind::Inside);
}

/// The stripe of what has a colour, before its name; nothing where it has none.
pub fn stripe_before(ui: &mut Ui, colour: Option<ColourCode>, height: f32) {
    if colour.is_some() {
        let (place, _) = ui.allocate_exact_size(vec2(STRIPE, height), Sense::hover());
        stripe(ui.painter(), place, colour);
    }
}

/// A name behind the stripe of its colour: where the two have no room in a line, they go to the next together.
pub fn striped_name(ui: &mut Ui, colour: Option<ColourCode>, name: &str, style: TextStyle, ink: Color32) {
    let font = style.resolve(ui.style());
    let lead = if colour.is_some() { STRIPE + 4.0 } else { 0.0 };
    let short = short_text(ui, name, &font, ui.max_rect().width() - lead - 2.0);
    let mut job = LayoutJob::default();
    job.append(&short, lead, TextFormat::simple(font, ink));
    let response = ui.add(egui::Label::new(job).extend());
    response.widget_info(|| egui::WidgetInfo::labeled(egui::Role::Label, true, name));
    stripe(ui.painter(), response.rect, colour);
    if short != name {
        response.on_hover_text(name);
    }
}

/// A choice of a menu or a list that names something, behind the stripe of its colour.
pub fn striped(
    ui: &mut Ui,
    colour: Option<ColourCode>,
    add: impl FnOnce(&mut Ui) -> egui::Response,
) -> egui::Response {
    if colour.is_none() {
        return add(ui);
    }
    ui.horizontal(|ui| {
        stripe_before(ui, colour, 14.0);
        add(ui)
    })
    .inner
}

/// Colours to choose from; gives the new one, or none, where one was chosen.
pub fn colour_menu(ui: &mut Ui, now: Option<ColourCode>) -> Option<Option<ColourCode>> {
    let mut chosen = None;
    ui.set_min_width(150.0);
    if ui.selectable_label(now.is_none(), "no colour").clicked() {
        chosen = Some(None);
    }
    for named in OkabeIto::ALL {
        let code = ColourCode::Named(named);
        ui.horizontal(|ui| {
            let (rect, _) = ui.allocate_exact_size(Vec2::splat(14.0), Sense::hover());
            let rim = Stroke::new(1.0, palette(ui.ctx()).quiet);
            ui.painter().rect(rect, 2.0, ink(named.colour()), rim, StrokeKind::Inside);
            if ui.selectable_label(now == Some(code), named.name()).clicked() {
                chosen = Some(Some(code));
            }
        });
    }
    let id = ui.scope_id().with("free colour");
    let first = || match now {
        Some(free @ ColourCode::Free(_)) => free.to_string(),
        _ => "#".to_owned(),
    };
    let mut text = ui.data_mut(|data| data.get_temp_mut_or_insert_with(id, first).clone());
    ui.horizontal(|ui| {
        let entry =
            TextField::new("Another colour, as #rrggbb", 80.0).id(id.with("field")).show(ui, &mut text);
        let is_entered = entry.lost_focus() && ui.input(|input| input.key_pressed(egui::Key::Enter));
        let written = text.trim().parse::<ColourCode>();
        let is_pressed = ui.add_enabled(written.is_ok(), egui::Button::new("Take")).clicked();
        if let (true, Ok(code)) = (is_entered || is_pressed, written) {
            chosen = Some(Some(code));
        }
    });
    ui.data_mut(|data| data.insert_temp(id, text));
    if chosen.is_some() {
        ui.data_mut(|data| data.remove::<String>(id));
        ui.close();
    }
    chosen
}

fn entry(ui: &mut Ui, scene: &mut Scene<'_>, text: &str, key: Option<Command>, action: Action) {
    let key = key.map(Command::key).unwrap_or_default();
    let button = egui::Button::new(text).right_text(RichText::new(key).weak());
    if ui.add(button).accessible_name(text).clicked() {
        scene.act(action);
        ui.close();
    }
}

fn structure(edit: StructureEdit) -> Action {
    Action::Edit(Edit::Structure(edit))
}

/// All that can be done with a bundle, a level or a clip, under its name.
pub fn menu(ui: &mut Ui, scene: &mut Scene<'_>, scope: Scope) {
    let show = scene.stand.clone();
    if !show.scopes().contains(&scope) {
        return ui.close();
    }
    let (kind, own) = called(&show, scope);
    ui.set_min_width(210.0);
    striped(ui, show.colour(scope), |ui| ui.strong(format!("{kind} {}", name(own))));
    ui.separator();
    if scope == Scope::Global {
        return add_menu(ui, scene, scope, "Add a bundle");
    }
    entry(ui, scene, "Rename", Some(Command::RenameRow), Action::RenameHere(Some(scope)));
    let hidden = show.is_hidden(scope);
    let text = if hidden { "Hide no longer" } else { "Hide" };
    let hide = StructureEdit::Hide { what: scope, hidden: !hidden };
    entry(ui, scene, text, Some(Command::HideRow), structure(hide));
    match scene.view.alone {
        Some(alone) if alone == scope => {
            entry(ui, scene, "Show everything", Some(Command::ShowAlone), Action::Alone(None));
        }
        _ => entry(ui, scene, "Show alone", Some(Command::ShowAlone), Action::Alone(Some(scope))),
    }
    if let Scope::Clip(bundle, level, clip) = scope {
        let place = ClipPlace { bundle, level, clip };
        if !show.shows(scope) {
            let edit = Action::Edit(Edit::Clip(place, ClipEdit::Show));
            entry(ui, scene, "Show this clip", Some(Command::ShowClip), edit);
        }
        let ask = Action::Ask(Dialog::Footage(place));
        entry(ui, scene, "Other footage \u{2026}", Some(Command::Footage), ask);
    }
    ui.menu_button("Give it a colour", |ui| {
        if let Some(colour) = colour_menu(ui, show.colour(scope)) {
            scene.act(structure(StructureEdit::Colour { what: scope, colour }));
        }
    });
    ui.separator();
    match scope {
        Scope::Bundle(_) => add_menu(ui, scene, scope, "Add a level"),
        Scope::Level(..) => add_menu(ui, scene, scope, "Add a clip"),
        _ => {}
    }
    entry(ui, scene, "Duplicate", Some(Command::DuplicateRow), structure(StructureEdit::Duplicate(scope)));
    let words =
        if matches!(scope, Scope::Clip(..)) { ["Earlier", "Later"] } else { ["Move up", "Move down"] };
    for (text, is_up) in words.into_iter().zip([true, false]) {
        if let Some(into) = next_gap(&show, scope, is_up) {
            entry(ui, scene, text, None, structure(StructureEdit::Move { what: scope, into }));
        }
    }
    if let Scope::Bundle(b) = scope
        && show.bundles[b].levels.len() > 1
    {
        entry(ui, scene, "Levels in other orders \u{2026}", None, Action::Ask(Dialog::LevelOrders(b)));
    }
    ui.separator();
    entry(ui, scene, "Remove", Some(Command::RemoveRow), Action::Edit(Edit::Drop(scope)));
}

/// What can be added on top of something: from a file, or made by the program.
pub fn add_menu(ui: &mut Ui, scene: &mut Scene<'_>, into: Scope, text: &str) {
    ui.menu_button(text, |ui| {
        ui.set_min_width(190.0);
        entry(ui, scene, "From a file \u{2026}", None, Action::ChooseFiles(into));
        entry(ui, scene, "From a list of files here \u{2026}", None, Action::Ask(Dialog::AddFile(into)));
        ui.separator();
        ui.weak("Made by the program");
        for source in scene.catalogue.sources().to_vec() {
            if ui.button(&source.name).on_hover_text(&source.summary).clicked() {
                scene.act(Action::Edit(Edit::adding(into, Clip::generated(&source.name))));
                ui.close();
            }
        }
    });
}

/// A small sign that is pressed, painted by `paint`; its place and what it takes, whether it is on, and what it is, for those who listen.
pub fn sign(
    ui: &Ui,
    (rect, id, sense): (Rect, Id, Sense),
    (said, hint): (&str, &str),
    is_on: bool,
    paint: impl FnOnce(&Painter, Rect, Color32),
) -> bool {
    let response = ui.interact(rect, id, sense);
    announce(&response, said, Some(is_on));
    let palette = palette(ui.ctx());
    let colour = match (is_on, response.hovered() || response.has_focus()) {
        (true, _) => palette.accent,
        (false, true) => palette.bright,
        (false, false) => palette.quiet,
    };
    paint(ui.painter(), rect.shrink(2.0), colour);
    super::paint_focus(ui, &response, rect);
    let is_pressed = response.clicked();
    response.on_hover_text(hint);
    is_pressed
}

/// An eye, open or crossed out.
pub fn paint_eye(painter: &Painter, rect: Rect, colour: Color32, is_open: bool) {
    let (middle, reach) = (rect.center(), vec2(rect.width() / 2.0, rect.height() / 3.4));
    let stroke = Stroke::new(1.3, colour);
    let lid = |way: f32| -> Vec<egui::Pos2> {
        (0..=8)
            .map(|step| {
                let x = step as f32 / 4.0 - 1.0;
                middle + vec2(x * reach.x, way * (1.0 - x * x) * reach.y)
            })
            .collect()
    };
    painter.line(lid(1.0), stroke);
    painter.line(lid(-1.0), stroke);
    painter.circle_filled(middle, rect.height() / 7.0, colour);
    if !is_open {
        painter.line_segment([rect.left_bottom(), rect.right_top()], Stroke::new(1.6, colour));
    }
}

/// One sheet of several: the others are only outlined.
pub fn paint_alone(painter: &Painter, rect: Rect, colour: Color32) {
    let size = vec2(rect.width() * 0.62, rect.height() * 0.5);
    let back = Rect::from_min_size(rect.min + vec2(rect.width() * 0.38, 1.0), size);
    let front = Rect::from_min_size(rect.min + vec2(0.0, rect.height() * 0.42), size);
    painter.rect_stroke(back, 1.0, Stroke::new(1.0, colour.gamma_multiply(0.6)), StrokeKind::Inside);
    painter.rect_filled(front, 1.0, colour);
}
