//! The structure: bundles, levels and clips as a column, what lies over the rest on top.

use std::sync::Arc;

use egui::{
    Align2, CursorIcon, EventFilter, Id, Key, LayerId, Order, Rect, Response, RichText, ScrollArea, Sense,
    Stroke, StrokeKind, Ui, Vec2, pos2, vec2,
};

use crate::beat::Moment;
use crate::edit::{ClipEdit, Edit, Named, StructureEdit};
use crate::show::{ClipPlace, Mix, Scope, Show};
use crate::window::action::Action;
use crate::window::keys::Command;
use crate::window::pictures::{Stage, Urgency};
use crate::window::scene::Scene;
use crate::window::sections::SectionAct;
use crate::window::theme::{CORNER, palette};
use crate::window::widgets::mix::mix_controls;
use crate::window::widgets::parts::{STRIPE, add_menu, called, menu, paint_alone, paint_eye, sign, stripe};
use crate::window::widgets::reach::stop;
use crate::window::widgets::rename::rename_field;
use crate::window::widgets::rows::{row_id, rows};
use crate::window::widgets::short::short_text;
use crate::window::widgets::{
    WHOLE, announce, cut_text, font, name, paint_focus, paint_picture, sign_button, texels,
};

/// Heights of rows, in points: of a bundle and a level, and of a clip.
const ROW: f32 = 38.0;
const CLIP: f32 = 22.0;
/// How far a row stands in, for each thing that it lies in.
const INSET: f32 = 6.0;
/// Side of a sign.
const SIGN: f32 = 17.0;
/// What share of the column a level's picture takes, and its limits in points.
const PICTURE: f32 = 0.27;
const PICTURES: [f32; 2] = [30.0, 84.0];
/// How near to the ends of the column what is dragged lets it scroll, in points.
const SCROLLS: f32 = 26.0;

/// Draws the column.
pub fn show(ui: &mut Ui, scene: &mut Scene<'_>) {
    if !scene.work.takes_effects_on(Scope::Global) {
        ui.weak(
            "A chain alone: its footage is only looked at. In a show, bundles, levels and clips stand here.",
        );
        return;
    }
    heading(ui, scene);
    let drawn = ScrollArea::vertical().id_salt("structure").auto_shrink([false; 2]).show(ui, |ui| {
        ui.spacing_mut().item_spacing.y = 2.0;
        let mut drawn: Vec<(Scope, Rect)> = Vec::new();
        let rows = rows(scene.work.show());
        // The rows are one stop of Tab, with what belongs to the row: arrows go from one to the next.
        let stop_at = rows.iter().copied().find(|&scope| scope == scene.view.scope).or(rows.first().copied());
        for scope in rows {
            let rect = row(ui, scene, scope, stop_at == Some(scope));
            drawn.push((scope, rect));
        }
        let gaps = gaps(scene.work.show(), &drawn);
        carry(ui, scene, &gaps);
    });
    let _ = drawn;
}

fn heading(ui: &mut Ui, scene: &mut Scene<'_>) {
    ui.horizontal(|ui| {
        ui.strong("Structure");
        ui.with_layout(egui::Layout::right_to_left(egui::Align::Center), |ui| {
            let hint = format!("Close the structure ({})", Command::Structure.key());
            if sign_button(ui, "\u{d7}", "Close the structure", &hint).clicked() {
                scene.act(Action::ShowStructure(false));
            }
            let response = ui.button("+").on_hover_text("Add a clip, a level or a bundle");
            announce(&response, "Add to the structure", None);
            egui::Popup::menu(&response).show(|ui| {
                let [_, level, bundle, global] = scene.view.path();
                ui.strong("Add to the structure");
                ui.separator();
                add_menu(ui, scene, level, "A clip on this level");
                add_menu(ui, scene, bundle, "A level in this bundle");
                add_menu(ui, scene, global, "A bundle");
                ui.separator();
                let section = egui::Button::new("A section of the set")
                    .right_text(RichText::new(Command::AddSection.key()).weak());
                let hint = "What shows now, under a name: the set as breaks, build-ups and drops";
                if ui.add(section).accessible_name("A section of the set").on_hover_text(hint).clicked() {
                    scene.act(Action::Section(SectionAct::Add));
                    ui.close();
                }
            });
        });
    });
    if let Some(alone) = scene.view.alone {
        let palette = palette(ui.ctx());
        let (_, own) = called(scene.work.show(), alone);
        let text = format!("{} is shown alone", name(own));
        ui.add(egui::Label::new(RichText::new(text).color(palette.accent)).truncate());
        let back = sign_button(ui, "Show everything", "Show everything again", &Command::ShowAlone.key());
        if back.clicked() {
            scene.act(Action::Alone(None));
        }
    }
}

/// What a row says of its state, beside its name.
fn state(show: &Show, scope: Scope) -> &'static str {
    if show.is_hidden(scope) {
        ", hidden"
    } else if show.lies_hidden(scope) {
        ", in what is hidden"
    } else if !show.shows(scope) {
        ", waits for its turn"
    } else {
        ""
    }
}

fn row(ui: &mut Ui, scene: &mut Scene<'_>, scope: Scope, is_stop: bool) -> Rect {
    let show = Arc::clone(&scene.stand);
    let is_clip = matches!(scope, Scope::Clip(..));
    let size = vec2(ui.available_width(), if is_clip { CLIP } else { ROW });
    let (rect, _) = ui.allocate_exact_size(size, Sense::hover());
    let response = ui.interact(rect, row_id(scope), stop(Sense::click_and_drag(), is_stop));
    let (kind, own) = called(&show, scope);
    let own = name(own);
    let is_selected = scene.view.scope == scope && scene.view.selected.is_none();
    announce(&response, &format!("{kind} {own}{}", state(&show, scope)), Some(is_selected));
    keyboard(ui, scene, scope, &response);
    if !ui.is_rect_visible(rect) {
        return rect;
    }
    paint_row(ui, scene, (scope, &show), rect, (&response, is_stop));
    if response.clicked() {
        scene.act(Action::Scope(scope));
        response.request_focus();
    }
    if response.double_clicked() {
        scene.act(Action::RenameHere(Some(scope)));
    }
    if response.drag_started_by(egui::PointerButton::Primary) {
        scene.act(Action::DragPart(Some((scope, scope))));
    }
    response.context_menu(|ui| menu(ui, scene, scope));
    if !response.dragged() {
        let how = "Drag it to another place; twice: rename; right button: more.";
        response.on_hover_text(format!("{kind} {own}{}\n{how}", state(&show, scope)));
    }
    rect
}

/// The row that has the keyboard keeps the arrows, and is in view.
fn keyboard(ui: &Ui, scene: &mut Scene<'_>, scope: Scope, response: &Response) {
    if scene.wanted_row == Some(scope) {
        response.request_focus();
        response.scroll_to_me(None);
    }
    if response.has_focus() {
        let filter = EventFilter { vertical_arrows: true, horizontal_arrows: true, ..EventFilter::default() };
        ui.memory_mut(|memory| memory.set_focus_lock_filter(response.id, filter));
    }
    if response.gained_focus() {
        response.scroll_to_me(None);
    }
}

fn paint_row(
    ui: &mut Ui,
    scene: &mut Scene<'_>,
    (scope, show): (Scope, &Show),
    rect: Rect,
    (row, is_stop): (&Response, bool),
) {
    let pressed_by = stop(Sense::click(), is_stop);
    let palette = palette(ui.ctx());
    let is_selected = scene.view.scope == scope;
    let is_on_path = scene.view.path().contains(&scope);
    let is_carried = scene.view.part.is_some_and(|(what, _)| what == scope);
    let fill = match (is_selected, row.hovered()) {
        (true, _) => palette.lifted,
        (false, true) => palette.raised,
        (false, false) => palette.panel,
    };
    let depth = match scope {
        Scope::Global | Scope::Bundle(_) => 0.0,
        Scope::Level(..) => INSET,
        Scope::Clip(..) => 2.0 * INSET,
    };
    let rect = rect.with_min_x(rect.left() + depth);
    ui.painter().rect_filled(rect, f32::from(CORNER), fill);
    stripe(ui.painter(), rect.shrink2(vec2(0.0, 2.0)), show.colour(scope));
    let (_, own) = called(show, scope);
    let own = name(own);
    let is_seen = show.shows(scope) && !is_carried;
    let colour = match (is_seen, is_selected || is_on_path) {
        (false, _) => palette.quiet,
        (true, true) => palette.bright,
        (true, false) => palette.plain,
    };
    let mut left = rect.left() + STRIPE + 3.0;
    let mut right = rect.right() - 2.0;
    let frame = show.frame;
    let wide = (rect.width() * PICTURE).clamp(PICTURES[0], PICTURES[1]);
    let middle = rect.center().y;
    match scope {
        Scope::Bundle(_) | Scope::Level(..) => {
            let high = (wide * frame.height as f32 / frame.width as f32).min(rect.height() - 4.0);
            let place = Rect::from_min_size(pos2(left, middle - high / 2.0), vec2(wide, high));
            picture(ui, scene, scope, place, is_seen);
            left += wide + 5.0;
        }
        Scope::Clip(bundle, level, clip) => {
            let turn = Rect::from_center_size(pos2(left + 5.0, middle), Vec2::splat(12.0));
            let is_turn = show.bundles[bundle].levels[level].showing == clip;
            let said = (format!("Show the clip {own}"), "The clip that its level shows");
            let id = row.id.with("turn");
            let pressed =
                sign(ui, (turn, id, pressed_by), (&said.0, said.1), is_turn, |painter, rect, colour| {
                    painter.circle_stroke(rect.center(), 4.0, Stroke::new(1.2, colour));
                    if is_turn {
                        painter.circle_filled(rect.center(), 2.2, colour);
                    }
                });
            if pressed && !is_turn {
                scene.act(Action::Edit(Edit::Clip(ClipPlace { bundle, level, clip }, ClipEdit::Show)));
            }
            left += 14.0;
            let high = rect.height() - 5.0;
            let wide = (high * frame.width as f32 / frame.height as f32).min(30.0);
            let place = Rect::from_min_size(pos2(left, rect.top() + 2.5), vec2(wide, high));
            picture(ui, scene, scope, place, is_seen);
            left += wide + 4.0;
        }
        _ => {}
    }
    let lines = match scope {
        Scope::Clip(..) => [middle, middle],
        _ => [rect.top() + 11.0, rect.top() + 27.0],
    };
    let place =
        |right: f32| Rect::from_min_size(pos2(right - SIGN, lines[1] - SIGN / 2.0), Vec2::splat(SIGN));
    eye(ui, scene, scope, (&own, show.is_hidden(scope)), (place(right), pressed_by));
    right -= SIGN + 1.0;
    let mix = match scope {
        Scope::Bundle(b) => Some(show.bundles[b].mix),
        Scope::Level(b, l) => Some(show.bundles[b].levels[l].mix),
        _ => None,
    };
    if let Some(mix) = mix {
        alone(ui, scene, scope, &own, (place(right), pressed_by));
        right -= SIGN + 1.0;
        let place = Rect::from_x_y_ranges(left..=right, lines[1] - 7.0..=lines[1] + 8.0);
        mixing(ui, scene, (scope, mix), &own, (place, is_stop));
        right = rect.right() - 3.0;
    }
    let place = Rect::from_x_y_ranges(left..=right.max(left + 8.0), lines[0] - 8.0..=lines[0] + 8.0);
    if scene.view.renaming == Some(scope) {
        return rename(ui, scene, scope, place, row);
    }
    let text = short_text(ui, &own, &font(12.5), place.width());
    ui.painter().text(place.left_center(), Align2::LEFT_CENTER, text, font(12.5), colour);
    paint_focus(ui, row, rect.shrink(1.5));
}

/// The picture of a bundle, a level or a clip alone, after its own chain.
fn picture(ui: &Ui, scene: &mut Scene<'_>, scope: Scope, rect: Rect, is_seen: bool) {
    let show = Arc::clone(&scene.stand);
    // While time goes on, these rest: the path and the output move.
    let id = Id::unique("moment of the structure");
    let known = ui.data(|data| data.get_temp::<Moment>(id)).filter(|_| scene.view.playing);
    let moment = known.unwrap_or(scene.moment);
    ui.data_mut(|data| data.insert_temp(id, moment));
    let stage = Stage::After((0..show.chain(scope).len()).collect());
    let size = texels(ui, rect.size(), moment.frame);
    let place = Id::unique(("picture of the structure", show.address(scope)));
    let wanted = scene.pictures.wanted(&show, scope, moment, &stage);
    let placed = wanted.and_then(|wanted| scene.pictures.place(place, &wanted, size, false, Urgency::Wall));
    let palette = palette(ui.ctx());
    ui.painter().rect_filled(rect, 2.0, palette.ground);
    match placed {
        Some(placed) => {
            // What does not show is dimmer; that it does not, its eye and its words say too.
            let tint = if is_seen { egui::Color32::WHITE } else { egui::Color32::from_gray(110) };
            ui.painter().image(placed.texture, rect, WHOLE, tint);
        }
        None => paint_picture(ui, rect, None),
    }
    ui.painter().rect_stroke(rect, 2.0, Stroke::new(1.0, palette.line), StrokeKind::Outside);
}

fn eye(
    ui: &Ui,
    scene: &mut Scene<'_>,
    scope: Scope,
    (own, hidden): (&str, bool),
    (rect, sense): (Rect, Sense),
) {
    let said = if hidden { format!("{own} is hidden") } else { format!("Hide {own}") };
    let hint = if hidden { "Hidden: press to show it again" } else { "Hide it" };
    let place = (rect, row_id(scope).with("eye"), sense);
    if sign(ui, place, (&said, hint), hidden, |painter, rect, colour| {
        paint_eye(painter, rect, colour, !hidden);
    }) {
        scene.act(Action::Edit(Edit::Structure(StructureEdit::Hide { what: scope, hidden: !hidden })));
    }
}

fn alone(ui: &Ui, scene: &mut Scene<'_>, scope: Scope, own: &str, (rect, sense): (Rect, Sense)) {
    let is_alone = scene.view.alone == Some(scope);
    let said = if is_alone { format!("{own}: shown alone") } else { format!("Show {own} alone") };
    let hint = "Show it alone: a way of looking, which is not kept";
    let place = (rect, row_id(scope).with("alone"), sense);
    if sign(ui, place, (&said, hint), is_alone, paint_alone) {
        scene.act(Action::Alone((!is_alone).then_some(scope)));
    }
}

/// Blend mode and opacity: pressed, they are changed; dragged along, the opacity is.
fn mixing(
    ui: &mut Ui,
    scene: &mut Scene<'_>,
    (scope, mix): (Scope, Mix),
    own: &str,
    (place, is_stop): (Rect, bool),
) {
    let palette = palette(ui.ctx());
    let response = ui.interact(place, row_id(scope).with("mix"), stop(Sense::click_and_drag(), is_stop));
    let opacity = format!("{:.0} %", mix.opacity * 100.0);
    let blend = mix.blend.name();
    announce(&response, &format!("{own}: {blend}, opacity {opacity}"), None);
    let bar = Rect::from_min_size(pos2(place.left(), place.bottom() - 2.0), vec2(place.width(), 2.5));
    ui.painter().rect_filled(bar, 1.0, palette.line);
    let colour = if response.hovered() || response.dragged() { palette.accent } else { palette.quiet };
    let full = Rect::from_min_size(bar.min, vec2(bar.width() * mix.opacity as f32, bar.height()));
    ui.painter().rect_filled(full, 1.0, colour);
    let text = if mix.blend == Mix::default().blend { opacity } else { format!("{opacity} {blend}") };
    let colour = if response.hovered() { palette.bright } else { palette.quiet };
    let text = cut_text(ui, &text, 11.0, colour, place.width());
    let at = place.left_center() - vec2(0.0, 2.0 + text.size().y / 2.0);
    ui.painter().galley(at, text, colour);
    if let Some(at) = response.interact_pointer_pos().filter(|_| response.dragged()) {
        let share = f64::from((at.x - place.left()) / place.width().max(1.0)).clamp(0.0, 1.0);
        let mix = Mix { opacity: (share * 100.0).round() / 100.0, ..mix };
        scene.act(Action::Edit(Edit::Mix { scope, mix }));
    }
    if response.drag_stopped() {
        scene.act(Action::EndRun);
    }
    paint_focus(ui, &response, place);
    egui::Popup::menu(&response).show(|ui| {
        ui.strong(own);
        mix_controls(ui, scene, scope, mix);
    });
    response.on_hover_text("Opacity and blend mode: press to change them, drag along to change the opacity");
}

fn rename(ui: &mut Ui, scene: &mut Scene<'_>, scope: Scope, place: Rect, row: &Response) {
    let (_, own) = called(scene.work.show(), scope);
    let own = own.to_owned();
    if let Some(named) = rename_field(ui, row.id, &own, place) {
        scene.act(Action::RenameHere(None));
        row.request_focus();
        if let Some(name) = named {
            scene.act(Action::Edit(Edit::Rename { what: Named::Scope(scope), name }));
        }
    }
}

/// Where what is dragged can go: the gap, and the line that it stands for.
fn gaps(show: &Show, drawn: &[(Scope, Rect)]) -> Vec<(Scope, f32)> {
    let block = |of: Scope| {
        let inside = |scope: Scope| match (of, scope) {
            (Scope::Bundle(b), Scope::Bundle(x) | Scope::Level(x, _) | Scope::Clip(x, ..)) => b == x,
            (Scope::Level(b, l), Scope::Level(x, y) | Scope::Clip(x, y, _)) => (b, l) == (x, y),
            (of, scope) => of == scope,
        };
        let rects = drawn.iter().filter(|(scope, _)| inside(*scope)).map(|(_, rect)| *rect);
        rects.reduce(Rect::union)
    };
    let mut gaps = Vec::new();
    for (scope, _) in drawn {
        let Some(rect) = block(*scope) else { continue };
        let (over, lowest) = match *scope {
            Scope::Global => continue,
            Scope::Bundle(b) => (Scope::Bundle(b + 1), (b == 0).then_some(Scope::Bundle(0))),
            Scope::Level(b, l) => (Scope::Level(b, l + 1), (l == 0).then_some(Scope::Level(b, 0))),
            Scope::Clip(b, l, c) => {
                let count = show.bundles[b].levels[l].clips.len();
                (Scope::Clip(b, l, c), (c + 1 == count).then_some(Scope::Clip(b, l, count)))
            }
        };
        gaps.push((over, rect.top() - 1.0));
        gaps.extend(lowest.map(|gap| (gap, rect.bottom() + 1.0)));
    }
    gaps
}

/// Follows what is dragged, and drops it.
fn carry(ui: &mut Ui, scene: &mut Scene<'_>, gaps: &[(Scope, f32)]) {
    let Some((what, target)) = scene.view.part else { return };
    let is_alike = |gap: Scope| std::mem::discriminant(&gap) == std::mem::discriminant(&what);
    let pointer = ui.input(|input| input.pointer.latest_pos());
    let [is_down, is_dropped] = ui.input(|input| [input.pointer.any_down(), input.pointer.any_released()]);
    let is_given_up = ui.input(|input| input.key_pressed(Key::Escape));
    let room = ui.clip_rect();
    let near = pointer.filter(|at| room.expand(30.0).contains(*at)).and_then(|at| {
        let apart = |gap: &&(Scope, f32)| (gap.1 - at.y).abs();
        let fitting = gaps.iter().filter(|(gap, _)| is_alike(*gap));
        fitting.min_by(|a, b| apart(a).total_cmp(&apart(b)))
    });
    let now = near.map_or(what, |(gap, _)| *gap);
    if is_given_up || is_dropped || !is_down {
        scene.act(Action::DragPart(None));
        if is_dropped && !is_given_up && now != what {
            scene.act(Action::Edit(Edit::Structure(StructureEdit::Move { what, into: now })));
        }
        return;
    }
    if now != target {
        scene.act(Action::DragPart(Some((what, now))));
    }
    let palette = palette(ui.ctx());
    if let Some((_, y)) = near {
        let line = [pos2(room.left(), *y), pos2(room.right(), *y)];
        ui.painter().line_segment(line, Stroke::new(3.0, palette.accent));
    }
    if let Some(at) = pointer {
        // Near an end the column goes on.
        let pull = (room.top() + SCROLLS - at.y).max(0.0) - (at.y - room.bottom() + SCROLLS).max(0.0);
        if pull != 0.0 {
            ui.scroll_with_delta(vec2(0.0, pull.clamp(-12.0, 12.0)));
            ui.ctx().request_repaint();
        }
        let painter = ui.ctx().layer_painter(LayerId::new(Order::Tooltip, Id::unique("carried part")));
        let (_, own) = called(scene.work.show(), what);
        let galley = painter.layout_no_wrap(name(own), font(13.0), palette.bright);
        let rect = Rect::from_min_size(at + vec2(12.0, 10.0), galley.size() + vec2(16.0, 10.0));
        painter.rect(rect, 5.0, palette.raised, Stroke::new(1.0, palette.accent), StrokeKind::Inside);
        painter.galley(rect.min + vec2(8.0, 5.0), galley, palette.bright);
    }
    ui.ctx().set_cursor_icon(CursorIcon::Grabbing);
}
