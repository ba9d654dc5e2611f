//! The strip of sections: the set as it comes, each section with its picture; under the picture the settings of one.

mod chains;
mod settings;

use std::sync::Arc;

use egui::{
    Align2, Button, CursorIcon, Id, Key, LayerId, Order, Rect, Response, ScrollArea, Sense, Stroke,
    StrokeKind, Ui, pos2, vec2,
};

use crate::beat::Moment;
use crate::edit::{Edit, SectionEdit};
use crate::show::{Scope, Show};
use crate::window::action::Action;
use crate::window::keys::Command;
use crate::window::pictures::Urgency;
use crate::window::scene::Scene;
use crate::window::sections::{InSection, SectionAct, before, entries, lasts};
use crate::window::theme::{CORNER, palette};
use crate::window::widgets::parts::{STRIPE, colour_menu, stripe};
use crate::window::widgets::reach::{Entries, part};
use crate::window::widgets::rename::rename_field;
use crate::window::widgets::{
    WHOLE, announce, cut_text, font, name, paint_focus, paint_picture, scrolled, texels,
};
pub use settings::show as settings;

/// Heights of the strip, in points: in windows that are high, and in low ones.
pub const HEIGHTS: [f32; 2] = [66.0, 48.0];
/// Widths of a card, and of what stands in front of the cards.
const CARD: f32 = 178.0;
const HEAD: f32 = 92.0;
/// Room between two cards, and before those that the running order never comes to.
const GAP: f32 = 6.0;
const BESIDE: f32 = 18.0;
/// The height of a card from which on its note has a line.
const NOTED: f32 = 52.0;

/// Draws the strip.
pub fn show(ui: &mut Ui, scene: &mut Scene<'_>) {
    part(ui, scene, "The sections", strip);
}

fn strip(ui: &mut Ui, scene: &mut Scene<'_>) {
    ui.horizontal_centered(|ui| {
        ui.spacing_mut().item_spacing.x = GAP;
        head(ui, scene);
        let area = ScrollArea::horizontal().id_salt("sections").auto_shrink([false; 2]);
        scrolled(ui, area, |ui| {
            ui.horizontal_centered(|ui| cards(ui, scene));
        });
    });
}

/// What can be done with all of them.
fn head(ui: &mut Ui, scene: &mut Scene<'_>) {
    let (rect, _) = ui.allocate_exact_size(vec2(HEAD, ui.available_height()), Sense::hover());
    let down = egui::Layout::top_down(egui::Align::Min);
    let mut inside = ui.new_child(egui::UiBuilder::new().max_rect(rect).layout(down));
    inside.spacing_mut().item_spacing = vec2(4.0, 2.0);
    inside.spacing_mut().button_padding.y = 0.0;
    inside.spacing_mut().interact_size.y = 18.0;
    inside.horizontal(|ui| {
        let is_here = scene.view.section.is_none();
        let whole = ui.selectable_label(is_here, "As it stands");
        let key = Command::WholeShow.key();
        if whole.on_hover_text(format!("The show in no section ({key})")).clicked() {
            scene.act(Action::Section(SectionAct::Go(None)));
        }
    });
    inside.horizontal(|ui| {
        let add = ui.button("+");
        announce(&add, "Add a section", None);
        let hint = format!("A section that holds what shows now ({})", Command::AddSection.key());
        if add.on_hover_text(hint).clicked() {
            scene.act(Action::Section(SectionAct::Add));
        }
        let play = ui.button("Rehearse");
        let hint = format!("Play the running order from here ({})", Command::Rehearse.key());
        if play.on_hover_text(hint).clicked() {
            scene.act(Action::Section(SectionAct::Rehearse(true)));
        }
    });
}

/// A card, and where it was drawn.
type Drawn = (InSection, Rect);

fn cards(ui: &mut Ui, scene: &mut Scene<'_>) {
    let show = Arc::clone(scene.work.show());
    let mut keyboard = Entries::of(ui, "sections");
    let mut drawn: Vec<Drawn> = Vec::new();
    for (nth, at) in entries(&show).into_iter().enumerate() {
        let is_first_beside = at.entry.is_none() && nth > 0 && nth == show.running_order.len();
        if is_first_beside {
            let (rect, response) =
                ui.allocate_exact_size(vec2(BESIDE, ui.available_height()), Sense::hover());
            let line = Stroke::new(1.0, palette(ui.ctx()).quiet);
            ui.painter().vline(rect.center().x, rect.y_range().shrink(4.0), line);
            response.on_hover_text("The running order never comes to these: drag one in front of this line");
        }
        let rect = card(ui, scene, (nth, at), &mut keyboard);
        drawn.push((at, rect));
    }
    keyboard.end(ui);
    carry(ui, scene, &drawn);
}

/// What a card says of its section: to those who listen, and to those who point at it.
fn said(scene: &Scene<'_>, show: &Show, at: InSection) -> [String; 2] {
    let section = &show.sections[at.section];
    let place = match at.entry {
        Some(_) => "",
        None if show.running_order.is_empty() => "",
        None => ", not in the running order",
    };
    let own = name(&section.name);
    let heard = format!("Section {own}, {}{place}", section.time_said());
    let mut lines = vec![heard.clone()];
    if !section.note.is_empty() {
        lines.push(name(&section.note));
    }
    let (against, told) = told(scene, show, at);
    lines.push(match told.len() {
        0 => format!("Shows what {against} shows."),
        _ => format!("Against {against}: {}", told.join(", ")),
    });
    lines.extend(scene.sections.troubles.get(at.section).cloned().flatten());
    [heard, lines.join("\n")]
}

/// Against what a section is told, and what stands otherwise in it.
fn told(scene: &Scene<'_>, show: &Show, at: InSection) -> (String, Vec<String>) {
    let stands = &scene.sections.stands;
    let before = before(show, at);
    let (against, was) = match before.and_then(|at| Some((at, stands.get(at.section)?))) {
        Some((at, was)) => (name(&show.sections[at.section].name), was),
        None => ("the show as it stands".to_owned(), scene.work.show()),
    };
    let told = stands.get(at.section).map(|now| now.told_against(was)).unwrap_or_default();
    (against, told.iter().map(|line| name(line)).collect())
}

fn card(ui: &mut Ui, scene: &mut Scene<'_>, (nth, at): (usize, InSection), keyboard: &mut Entries) -> Rect {
    let show = Arc::clone(scene.work.show());
    let section = &show.sections[at.section];
    let size = vec2(CARD, ui.available_height());
    let (rect, _) = ui.allocate_exact_size(size, Sense::hover());
    let id = Id::unique(("card of a section", nth));
    let response = ui.interact(rect, id, keyboard.sense(nth, Sense::click_and_drag()));
    let is_here = scene.view.section == Some(at);
    let [heard, hint] = said(scene, &show, at);
    announce(&response, &heard, Some(is_here));
    keyboard.drawn(ui, nth, &response);
    in_view(ui, is_here, &response);
    if response.clicked() {
        scene.act(Action::Section(SectionAct::Go(Some(at))));
        scene.act(Action::Section(SectionAct::Settings(true)));
        response.request_focus();
    }
    if response.double_clicked() {
        scene.act(Action::Section(SectionAct::RenameHere(Some(at))));
    }
    if response.drag_started_by(egui::PointerButton::Primary) {
        ui.data_mut(|data| data.insert_temp(Id::unique(CARRIED), at));
    }
    response.context_menu(|ui| menu(ui, scene, at));
    if !ui.is_rect_visible(rect) {
        return rect;
    }
    let colours = palette(ui.ctx());
    let fill = match (is_here, response.hovered()) {
        (true, _) => colours.lifted,
        (false, true) => colours.raised,
        (false, false) => colours.ground,
    };
    ui.painter().rect_filled(rect, f32::from(CORNER), fill);
    stripe(ui.painter(), rect.shrink2(vec2(0.0, 2.0)), section.colour);
    let frame = show.frame;
    let high = rect.height() - 6.0;
    let wide = (high * frame.width as f32 / frame.height as f32).min(rect.width() * 0.46);
    let high = high.min(wide * frame.height as f32 / frame.width as f32);
    let left = rect.left() + STRIPE + 3.0;
    let middle = rect.center().y;
    let place = Rect::from_min_size(pos2(left, middle - high / 2.0), vec2(wide, high));
    picture(ui, scene, at, place);
    let text = Rect::from_min_max(pos2(place.right() + 6.0, rect.top()), rect.max - vec2(3.0, 0.0));
    let top = Rect::from_x_y_ranges(text.x_range(), rect.top() + 3.0..=rect.top() + 19.0);
    if scene.view.renaming_section == Some(at) {
        rename(ui, scene, at, (top, &response));
    } else {
        let colour = if is_here { colours.bright } else { colours.plain };
        let galley = cut_text(ui, &name(&section.name), 12.5, colour, text.width());
        ui.painter().galley(top.left_top(), galley, colour);
    }
    let time = format!("{}{}", lasts(section), comes(section.fade));
    let galley = cut_text(ui, &time, 11.0, colours.quiet, text.width());
    ui.painter().galley(pos2(text.left(), rect.top() + 20.0), galley, colours.quiet);
    if rect.height() >= NOTED && !section.note.is_empty() {
        let galley = cut_text(ui, &name(&section.note), 11.0, colours.quiet, text.width());
        ui.painter().galley(pos2(text.left(), rect.top() + 35.0), galley, colours.quiet);
    }
    if scene.sections.troubles.get(at.section).is_some_and(Option::is_some) {
        let at = place.right_top() + vec2(-4.0, 2.0);
        ui.painter().text(at, Align2::RIGHT_TOP, "!", font(13.0), colours.caution);
    }
    if is_here {
        let rim = Stroke::new(1.5, colours.accent);
        ui.painter().rect_stroke(rect, f32::from(CORNER), rim, StrokeKind::Inside);
    }
    chains::take_carried(ui, scene, at.section, rect);
    paint_focus(ui, &response, rect.shrink(1.5));
    if !response.dragged() {
        response
            .on_hover_text(format!("{hint}\nDrag it to another place; twice: rename; right button: more."));
    }
    rect
}

/// How a section comes, behind how long it lasts.
fn comes(fade: f64) -> String {
    if fade > 0.0 { format!(", in {fade}") } else { String::new() }
}

/// The section that is looked at is in view once it becomes so.
fn in_view(ui: &Ui, is_here: bool, card: &Response) {
    let id = Id::unique("section in view");
    let seen = ui.data(|data| data.get_temp::<Id>(id));
    if is_here && seen != Some(card.id) {
        ui.data_mut(|data| data.insert_temp(id, card.id));
        card.scroll_to_me(None);
    }
}

/// The picture of the show in a section.
fn picture(ui: &Ui, scene: &mut Scene<'_>, at: InSection, rect: Rect) {
    // While time goes on, these rest: the path and the output move.
    let id = Id::unique("moment of the sections");
    let known = ui.data(|data| data.get_temp::<Moment>(id)).filter(|_| scene.view.playing);
    let moment = known.filter(|known| known.frame == scene.moment.frame).unwrap_or(scene.moment);
    ui.data_mut(|data| data.insert_temp(id, moment));
    let Some(stand) = scene.sections.stands.get(at.section).cloned() else { return };
    let size = texels(ui, rect.size(), moment.frame);
    let wanted = scene.pictures.output(&stand, None, moment);
    let place = Id::unique(("picture of a section", at.section));
    let placed = wanted.and_then(|wanted| scene.pictures.place(place, &wanted, size, false, Urgency::Wall));
    ui.painter().rect_filled(rect, 2.0, palette(ui.ctx()).ground);
    match placed {
        Some(placed) => {
            ui.painter().image(placed.texture, rect, WHOLE, egui::Color32::WHITE);
        }
        None => paint_picture(ui, rect, None),
    }
    let rim = Stroke::new(1.0, palette(ui.ctx()).line);
    ui.painter().rect_stroke(rect, 2.0, rim, StrokeKind::Outside);
}

fn rename(ui: &mut Ui, scene: &mut Scene<'_>, at: InSection, (place, card): (Rect, &Response)) {
    let own = scene.work.show().sections[at.section].name.clone();
    if let Some(named) = rename_field(ui, card.id, &own, place) {
        scene.act(Action::Section(SectionAct::RenameHere(None)));
        card.request_focus();
        if let Some(name) = named {
            edit(scene, SectionEdit::Rename { section: at.section, name });
        }
    }
}

fn edit(scene: &mut Scene<'_>, edit: SectionEdit) {
    scene.act(Action::Edit(Edit::Section(edit)));
}

/// The running order without one of its entries.
fn without(order: &[usize], entry: usize) -> Vec<usize> {
    let mut order = order.to_vec();
    if entry < order.len() {
        order.remove(entry);
    }
    order
}

/// All that can be done with a section, under its name.
fn menu(ui: &mut Ui, scene: &mut Scene<'_>, at: InSection) {
    let show = Arc::clone(scene.work.show());
    let Some(section) = show.sections.get(at.section) else { return ui.close() };
    ui.set_min_width(210.0);
    ui.strong(format!("Section {}", name(&section.name)));
    ui.separator();
    let entry = |ui: &mut Ui, scene: &mut Scene<'_>, text: &str, acts: Vec<Action>| {
        if ui.add(Button::new(text)).clicked() {
            acts.into_iter().for_each(|act| scene.act(act));
            ui.close();
        }
    };
    let of = |edit: SectionEdit| vec![Action::Edit(Edit::Section(edit))];
    let go = Action::Section(SectionAct::Go(Some(at)));
    let rehearse = vec![go.clone(), Action::Section(SectionAct::Rehearse(true))];
    if at.entry.is_some() {
        entry(ui, scene, "Rehearse from here", rehearse);
    }
    entry(ui, scene, "Rename", vec![Action::Section(SectionAct::RenameHere(Some(at)))]);
    let settings = vec![go, Action::Section(SectionAct::Settings(true))];
    entry(ui, scene, "Length, fade, note, what shows \u{2026}", settings);
    let scope = scene.view.scope;
    ui.menu_button(format!("Lay a chain on {}", scene.address(scope)), |ui| {
        chains::menu(ui, scene, at.section, scope);
    });
    ui.menu_button("Give it a colour", |ui| {
        if let Some(colour) = colour_menu(ui, section.colour) {
            edit(scene, SectionEdit::Colour { section: at.section, colour });
        }
    });
    ui.separator();
    entry(ui, scene, "Duplicate", of(SectionEdit::Duplicate(at.section)));
    let order = &show.running_order;
    match at.entry {
        Some(place) => {
            let mut again = order.clone();
            again.insert(place + 1, at.section);
            entry(ui, scene, "Let it come once more", of(SectionEdit::Order(again)));
            for (text, to) in [("Earlier", place.checked_sub(1)), ("Later", Some(place + 1))] {
                if let Some(to) = to.filter(|to| *to < order.len()) {
                    let mut moved = order.clone();
                    moved.swap(place, to);
                    entry(ui, scene, text, of(SectionEdit::Order(moved)));
                }
            }
            let out = of(SectionEdit::Order(without(order, place)));
            entry(ui, scene, "Out of the running order", out);
        }
        None => {
            let mut into = order.clone();
            into.push(at.section);
            entry(ui, scene, "Into the running order", of(SectionEdit::Order(into)));
            if order.is_empty() {
                let all = (0..show.sections.len()).collect();
                entry(ui, scene, "All into the running order", of(SectionEdit::Order(all)));
            }
        }
    }
    ui.separator();
    entry(ui, scene, "Remove the section", of(SectionEdit::Remove(at.section)));
}

/// What is carried along the strip.
const CARRIED: &str = "carried section";

/// What comes of a card dropped into a gap before the card `into`, or behind the last.
fn change_of(show: &Show, what: InSection, all: &[InSection], into: usize) -> Option<SectionEdit> {
    let order = &show.running_order;
    if order.is_empty() {
        let is_same = into == what.section || into == what.section + 1;
        return (!is_same).then_some(SectionEdit::Move { from: what.section, into });
    }
    // Behind the last of the running order is where it ends, and what stands beside it begins.
    let is_beside = into > order.len();
    let order = match (what.entry, is_beside) {
        (Some(entry), true) => without(order, entry),
        (None, true) => {
            let to = all.get(into).map_or(show.sections.len(), |at| at.section);
            let is_same = to == what.section || to == what.section + 1;
            return (!is_same).then_some(SectionEdit::Move { from: what.section, into: to });
        }
        (entry, false) => {
            let mut order = order.clone();
            order.insert(into, what.section);
            match entry {
                Some(entry) => without(&order, entry + usize::from(entry >= into)),
                None => order,
            }
        }
    };
    (order != show.running_order).then_some(SectionEdit::Order(order))
}

/// Follows what is dragged, and drops it.
fn carry(ui: &mut Ui, scene: &mut Scene<'_>, drawn: &[Drawn]) {
    let id = Id::unique(CARRIED);
    let Some(what) = ui.data(|data| data.get_temp::<InSection>(id)) else { return };
    let show = Arc::clone(scene.work.show());
    let [is_down, is_dropped] = ui.input(|input| [input.pointer.any_down(), input.pointer.any_released()]);
    let is_given_up = ui.input_mut(|input| input.consume_key(egui::Modifiers::NONE, Key::Escape));
    let room = ui.clip_rect();
    let pointer = ui.input(|input| input.pointer.latest_pos());
    let near = pointer.filter(|at| room.expand(30.0).contains(*at));
    let into = near.map(|at| drawn.iter().filter(|(_, rect)| rect.center().x < at.x).count());
    if is_given_up || is_dropped || !is_down || what.section >= show.sections.len() {
        ui.data_mut(|data| data.remove::<InSection>(id));
        let all: Vec<InSection> = drawn.iter().map(|(at, _)| *at).collect();
        let dropped = into.filter(|_| is_dropped && !is_given_up);
        if let Some(change) = dropped.and_then(|into| change_of(&show, what, &all, into)) {
            edit(scene, change);
        }
        return;
    }
    let palette = palette(ui.ctx());
    if let Some(into) = into {
        let x = match drawn.get(into) {
            Some((_, rect)) => rect.left() - GAP / 2.0,
            None => drawn.last().map_or(room.left(), |(_, rect)| rect.right() + GAP / 2.0),
        };
        ui.painter().vline(x, room.y_range(), Stroke::new(3.0, palette.accent));
    }
    if let Some(at) = pointer {
        // Near an end the strip goes on.
        let pull = (room.left() + 30.0 - at.x).max(0.0) - (at.x - room.right() + 30.0).max(0.0);
        if pull != 0.0 {
            ui.scroll_with_delta(vec2(pull.clamp(-12.0, 12.0), 0.0));
            ui.ctx().request_repaint();
        }
        let painter = ui.ctx().layer_painter(LayerId::new(Order::Tooltip, id));
        let own = name(&show.sections[what.section].name);
        let galley = painter.layout_no_wrap(own, font(13.0), palette.bright);
        let rect = Rect::from_min_size(at + vec2(12.0, -30.0), galley.size() + vec2(16.0, 10.0));
        painter.rect(rect, 5.0, palette.raised, Stroke::new(1.0, palette.accent), StrokeKind::Inside);
        painter.galley(rect.min + vec2(8.0, 5.0), galley, palette.bright);
    }
    ui.ctx().set_cursor_icon(CursorIcon::Grabbing);
}

/// Whether the show has sections to stand in a strip.
pub fn has_strip(scene: &Scene<'_>) -> bool {
    scene.work.takes_effects_on(Scope::Global) && !scene.show().sections.is_empty()
}
