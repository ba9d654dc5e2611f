//! The path: from the footage through every chain to the output, in the direction in which the picture flows.

use egui::{Align2, CursorIcon, Id, Pos2, Rect, ScrollArea, Sense, Stroke, StrokeKind, Ui, Vec2, pos2, vec2};

use crate::edit::{ClipEdit, Edit, Named, Spot};
use crate::order::marks;
use crate::show::chain::one_after_another;
use crate::show::{ClipPlace, Scope};
use crate::window::action::{Action, Dialog};
use crate::window::keys::Command;
use crate::window::pictures::Stage;
use crate::window::scene::Scene;
use crate::window::showing::Shown;
use crate::window::theme::{CORNER, Palette, paint_chip, palette};
use crate::window::widgets::carried::{adopt_place, carried_effect, drop_places};
use crate::window::widgets::mix::mix_controls;
use crate::window::widgets::parts::{add_menu, menu, stripe, striped};
use crate::window::widgets::reach::{part, stop};
use crate::window::widgets::stage::paint_stage;
use crate::window::widgets::{announce, cut_text, font, labels, name, paint_focus};

/// The least and the greatest width of a card's picture, in points; between them the path fits its room.
const CARD: [f32; 2] = [72.0, 122.0];
/// Height of the pictures.
const PICTURE: f32 = 64.0;
/// Height of the line under it.
const LINE: f32 = 22.0;
/// Height of a section's heading.
const HEADING: f32 = 22.0;
/// Width of a gap.
const GAP: f32 = 15.0;
/// Width of a joint, and of an arrow between two parts.
const JOINT: f32 = 96.0;
const ARROW: f32 = 14.0;
/// The least width of a section without effects.
const EMPTY: f32 = 62.0;
/// And the greatest, whatever its name is.
const WIDEST_EMPTY: f32 = 170.0;

/// A gap as it was drawn.
struct Gap {
    spot: Spot,
    rect: Rect,
}

/// Draws the path.
pub fn show(ui: &mut Ui, scene: &mut Scene<'_>) {
    part(ui, scene, "The path", path);
}

fn path(ui: &mut Ui, scene: &mut Scene<'_>) {
    let mut gaps = Vec::new();
    let room = ui.available_rect_before_wrap();
    let card = card_width(ui, scene);
    ScrollArea::horizontal().id_salt("path").auto_shrink([false, true]).show(ui, |ui| {
        ui.horizontal_top(|ui| {
            ui.spacing_mut().item_spacing.x = 0.0;
            // Room for the outline of the first card.
            ui.add_space(2.0);
            footage(ui, scene, card);
            let path = scene.view.path();
            for scope in path {
                section(ui, scene, scope, card, &mut gaps);
                arrow(ui);
                if let Scope::Level(..) | Scope::Bundle(_) = scope {
                    joint(ui, scene, scope);
                }
            }
            output(ui, scene, card);
        });
    });
    carry(ui, scene, room, &gaps);
    adopt_place(ui, scene, room);
}

/// The width of a card with which the whole path fits its room, within limits.
fn card_width(ui: &Ui, scene: &Scene<'_>) -> f32 {
    let path = scene.view.path();
    let chains = || path.iter().map(|&scope| scene.stand.chain(scope).len());
    let cards = chains().sum::<usize>() + 2;
    let empty: f32 = path
        .iter()
        .filter(|&&scope| scene.stand.chain(scope).is_empty())
        .map(|&scope| {
            let (kind, name) = heading(scene, scope);
            empty_width(ui, (written_kind(scene, scope, kind), &name))
        })
        .sum();
    let gaps: usize = chains().filter(|&effects| effects > 0).map(|effects| effects + 1).sum();
    let fixed = empty + gaps as f32 * GAP + 2.0 * JOINT + 7.0 * ARROW + 4.0;
    ((ui.available_width() - fixed - 6.0) / cards as f32).clamp(CARD[0], CARD[1])
}

fn empty_width(ui: &Ui, (kind, name): (&str, &str)) -> f32 {
    let wide = |text: &str, size| {
        ui.painter().layout_no_wrap(text.to_owned(), font(size), palette(ui.ctx()).plain).size().x
    };
    (wide(kind, 11.0) + wide(name, 12.5) + 17.0).clamp(EMPTY, WIDEST_EMPTY)
}

fn heading(scene: &Scene<'_>, scope: Scope) -> (&'static str, String) {
    let show = scene.show();
    match scope {
        Scope::Global => ("global", "everything".to_owned()),
        Scope::Bundle(b) => ("bundle", name(&show.bundles[b].name)),
        Scope::Level(b, l) => ("level", name(&show.bundles[b].levels[l].name)),
        Scope::Clip(b, l, c) => ("clip", name(&show.bundles[b].levels[l].clips[c].name)),
    }
}

/// What stands before its name: its kind, or that it is hidden.
fn written_kind(scene: &Scene<'_>, scope: Scope, kind: &'static str) -> &'static str {
    if scene.stand.lies_hidden(scope) { "hidden" } else { kind }
}

/// A small picture with a name under it, which can be pressed.
fn card(
    ui: &mut Ui,
    scene: &mut Scene<'_>,
    (scope, stage): (Scope, &Stage),
    (caption, name): (&str, &str),
    width: f32,
    is_shown: bool,
) -> egui::Response {
    let palette = palette(ui.ctx());
    let (rect, response) = ui.allocate_exact_size(vec2(width, HEADING + PICTURE + LINE), Sense::click());
    announce(&response, name, Some(is_shown));
    let picture = Rect::from_min_size(rect.min + vec2(0.0, HEADING), vec2(width, PICTURE));
    // Known by what stands under it, so that no other picture ever stands over these words.
    paint_stage(ui, scene, (response.id.with(name), &response), picture, (scope, stage));
    let colour = if is_shown { palette.accent } else { palette.line };
    outline(ui, picture, colour, is_shown);
    let words = cut_text(ui, caption, 12.0, palette.plain, width);
    let at = pos2(picture.center().x, picture.bottom() + LINE / 2.0) - words.size() / 2.0;
    ui.painter().galley(at, words, palette.plain);
    paint_focus(ui, &response, picture);
    response
}

fn outline(ui: &Ui, rect: Rect, colour: egui::Color32, is_strong: bool) {
    let stroke = Stroke::new(if is_strong { 2.0 } else { 1.0 }, colour);
    ui.painter().rect_stroke(rect, 2.0, stroke, StrokeKind::Outside);
}

/// The clip that the path begins with, and the way to every other one.
fn footage(ui: &mut Ui, scene: &mut Scene<'_>, width: f32) {
    let scope = Scope::from(scene.view.clip);
    let show = scene.work.show().clone();
    let Some(clip) = show.clip(scene.view.clip) else { return };
    let written = name(&clip.footage.to_string());
    let said = format!("Footage {written}: choose a clip");
    let caption = written.strip_prefix("generated:").unwrap_or(&written);
    let stage = (scope, &Stage::After(Vec::new()));
    let response = card(ui, scene, stage, (caption, &said), width, false);
    let top = Rect::from_min_size(response.rect.min, vec2(width, HEADING));
    let is_on_its_way = scene.pictures.opened(&clip.footage, &clip.play).is_none();
    let text = if is_on_its_way { "on its way" } else { "footage" };
    ui.painter().text(top.left_center(), Align2::LEFT_CENTER, text, font(12.0), palette(ui.ctx()).quiet);
    egui::Popup::menu(&response).show(|ui| clips_menu(ui, scene));
    arrow(ui);
}

fn clips_menu(ui: &mut Ui, scene: &mut Scene<'_>) {
    let show = scene.work.show().clone();
    ui.set_min_width(230.0);
    ScrollArea::vertical().max_height(420.0).show(ui, |ui| {
        for (b, bundle) in show.bundles.iter().enumerate().rev() {
            striped(ui, bundle.colour, |ui| ui.weak(format!("bundle {}", name(&bundle.name))));
            for (l, level) in bundle.levels.iter().enumerate().rev() {
                for (c, clip) in level.clips.iter().enumerate() {
                    let is_showing = level.showing == c;
                    let text = format!("{} / {}", name(&level.name), name(&clip.name));
                    let text = if is_showing { text } else { format!("{text}  (waits)") };
                    let place = ClipPlace { bundle: b, level: l, clip: c };
                    let chosen = scene.view.clip == place;
                    let colour = show.colour(place.into());
                    if striped(ui, colour, |ui| ui.selectable_label(chosen, text)).clicked() {
                        scene.act(Action::Path(place));
                        ui.close();
                    }
                }
            }
        }
    });
    ui.separator();
    let place @ ClipPlace { bundle: b, level: l, clip: c } = scene.view.clip;
    let level = &show.bundles[b].levels[l];
    if ui.button("Other footage \u{2026}").on_hover_text(Command::Footage.key()).clicked() {
        scene.act(Action::Ask(Dialog::Footage(place)));
        ui.close();
    }
    if level.showing != c && ui.button("Show this clip").on_hover_text(Command::ShowClip.key()).clicked() {
        scene.act(Action::Edit(Edit::Clip(place, ClipEdit::Show)));
        ui.close();
    }
    if !scene.work.takes_effects_on(Scope::Global) {
        ui.weak("A chain alone: footage is only looked at.");
        return;
    }
    let [_, level, bundle, global] = place.path();
    add_menu(ui, scene, level, "Add a clip on this level");
    add_menu(ui, scene, bundle, "Add a level in this bundle");
    add_menu(ui, scene, global, "Add a bundle");
    ui.menu_button("Remove", |ui| {
        let [clip, level, bundle, _] = place.path();
        for scope in [clip, level, bundle] {
            if striped(ui, show.colour(scope), |ui| ui.button(scene.address(scope))).clicked() {
                scene.act(Action::Edit(Edit::Drop(scope)));
                ui.close();
            }
        }
    });
}

/// The scope's name and its chain.
fn section(ui: &mut Ui, scene: &mut Scene<'_>, scope: Scope, card_width: f32, gaps: &mut Vec<Gap>) {
    if !scene.work.takes_effects_on(scope) {
        return;
    }
    let palette = palette(ui.ctx());
    let chain = scene.stand.chain(scope).clone();
    let (kind, name) = heading(scene, scope);
    let gap = GAP;
    let effects = chain.len();
    let width = if effects == 0 {
        empty_width(ui, (written_kind(scene, scope, kind), &name))
    } else {
        effects as f32 * (card_width + gap) + gap
    };
    let size = vec2(width, HEADING + PICTURE + LINE);
    let (rect, _) = ui.allocate_exact_size(size, Sense::hover());
    let is_chosen = scene.view.scope == scope;
    let fill = if is_chosen { palette.raised } else { palette.panel };
    ui.painter().rect_filled(rect, f32::from(CORNER), fill);
    stripe(
        ui.painter(),
        rect.with_max_y(rect.top() + HEADING).shrink2(vec2(1.0, 3.0)),
        scene.show().colour(scope),
    );
    if is_chosen {
        ui.painter().hline(rect.x_range(), rect.top() + 0.5, Stroke::new(2.0, palette.accent));
    }
    let head = Rect::from_min_size(rect.min, vec2(rect.width(), HEADING));
    section_heading(ui, scene, scope, head, (kind, &name), is_chosen, effects);
    let labels = labels(&chain);
    let mut x = rect.left();
    for at in 0..=effects {
        let place = Rect::from_min_size(pos2(x, rect.top() + HEADING), vec2(gap, PICTURE));
        let place = if effects == 0 { Rect::from_x_y_ranges(rect.x_range(), place.y_range()) } else { place };
        gaps.push(Gap { spot: Spot { scope, at }, rect: place });
        add_gap(ui, scene, Spot { scope, at }, place, &labels);
        x += gap;
        if at < effects {
            let card = Rect::from_min_size(pos2(x, rect.top() + HEADING), vec2(card_width, PICTURE + LINE));
            effect_card(ui, scene, Spot { scope, at }, card, &labels[at]);
            x += card_width;
        }
    }
    drop_places(ui, scene, scope, rect);
}

fn section_heading(
    ui: &mut Ui,
    scene: &mut Scene<'_>,
    scope: Scope,
    rect: Rect,
    (kind, name): (&'static str, &str),
    is_chosen: bool,
    effects: usize,
) {
    let palette = palette(ui.ctx());
    let id = ui.scope_id().with(("section", scene.show().address(scope)));
    let response = ui.interact(rect, id, Sense::click());
    let plural = if effects == 1 { "" } else { "s" };
    let hidden = if scene.stand.lies_hidden(scope) { ", hidden" } else { "" };
    announce(&response, &format!("Scope {kind} {name}, {effects} effect{plural}{hidden}"), Some(is_chosen));
    let kind = written_kind(scene, scope, kind);
    let colour = if is_chosen || response.hovered() { palette.bright } else { palette.plain };
    let at = rect.left_center() + vec2(8.0, 0.0);
    let painter = ui.painter().with_clip_rect(rect.intersect(ui.clip_rect()));
    let written = painter.text(at, Align2::LEFT_CENTER, kind, font(11.0), palette.quiet);
    if scope != Scope::Global {
        let left = written.right_center() + vec2(5.0, 0.0);
        let name = cut_text(ui, name, 12.5, colour, rect.right() - left.x - 2.0);
        painter.galley(left - vec2(0.0, name.size().y / 2.0), name, colour);
    }
    paint_focus(ui, &response, rect);
    if response.clicked() {
        scene.act(Action::Scope(scope));
    }
    if response.double_clicked() && scope != Scope::Global {
        scene.act(Action::Ask(Dialog::Rename(Named::Scope(scope))));
    }
    response.context_menu(|ui| menu(ui, scene, scope));
    let hint = "Its chain on the wall, its settings under the picture. Twice: another name.";
    response.on_hover_text(format!("{kind} {name}\n{hint}"));
}

/// One effect: the picture after it, its mark and its name.
fn effect_card(ui: &mut Ui, scene: &mut Scene<'_>, spot: Spot, rect: Rect, label: &str) {
    let palette = palette(ui.ctx());
    let id = ui.scope_id().with(("card", scene.show().address(spot.scope), spot.at));
    let used = scene.stand.chain(spot.scope)[spot.at].clone();
    let mark = marks(scene.stand.chain(spot.scope)).of(spot.at);
    // Arrows go along the path: Tab reaches the selected card only, with what belongs to it.
    let is_stop = scene.view.spot() == Some(spot);
    let response = ui.interact(rect, id, stop(Sense::click_and_drag(), is_stop));
    let is_selected = scene.view.is_selected(spot);
    let state = if used.on { "" } else { ", switched off" };
    announce(&response, &format!("Effect {mark} {label}{state}"), Some(is_selected));
    let picture = Rect::from_min_size(rect.min, vec2(rect.width(), PICTURE));
    let order: Vec<usize> = (0..=spot.at).collect();
    let under =
        one_after_another(labels(&scene.stand.chain(spot.scope)[..=spot.at]).iter().map(String::as_str));
    let place = Id::unique(("picture after", scene.show().address(spot.scope), under));
    paint_stage(ui, scene, (place, &response), picture, (spot.scope, &Stage::After(order)));
    let is_dragged = !scene.view.drags_copies
        && scene
            .view
            .drag
            .is_some_and(|(from, _)| from == spot || (scene.view.is_selected(from) && is_selected));
    let is_on = scene.is_on(spot);
    if !is_on || is_dragged {
        ui.painter().rect_filled(picture, 2.0, palette.panel.gamma_multiply(0.72));
    }
    let said = match (used.on, is_on) {
        (true, true) => "",
        (false, false) => "off",
        (_, true) => "played on",
        (_, false) => "played off",
    };
    ui.painter().text(picture.center(), Align2::CENTER_CENTER, said, font(14.0), palette.bright);
    let is_shown = scene.view.shown == Shown::After(spot);
    outline(
        ui,
        picture,
        if is_selected || is_shown { palette.accent } else { palette.line },
        is_selected || is_shown,
    );
    let chip = Rect::from_min_size(pos2(rect.left(), picture.bottom() + 4.0), Vec2::splat(15.0));
    paint_chip(ui.painter(), chip, mark);
    let colour = if is_selected { palette.bright } else { palette.plain };
    let at = chip.right_center() + vec2(5.0, 0.0);
    let name = cut_text(ui, label, 12.0, colour, rect.right() + GAP - 3.0 - at.x);
    ui.painter().galley(at - vec2(0.0, name.size().y / 2.0), name, colour);
    paint_focus(ui, &response, picture);
    switch(ui, scene, spot, picture, used.on, label);
    if response.drag_started() {
        scene.act(Action::Drag(Some((spot, spot))));
    }
    let held = ui.input(|input| input.modifiers);
    if response.clicked() && held.command {
        scene.act(Action::SelectToo(spot));
    } else if response.clicked() && held.shift {
        scene.act(Action::SelectTo(spot));
    } else if response.clicked() {
        scene.act(Action::Select(spot));
        let shown = if is_selected && !is_shown { Shown::After(spot) } else { Shown::Output };
        scene.act(Action::Show(shown));
    }
    effect_menu(scene, &response, spot, used.on);
    if !response.dragged() {
        response.on_hover_cursor(CursorIcon::Grab).on_hover_text(format!(
            "{label}\n{}: {}\nDrag it to another gap, with Ctrl a copy of it. Once more: the picture after it. Ctrl or Shift: several.",
            used.effect.name, used.effect.summary
        ));
    }
}

fn switch(ui: &Ui, scene: &mut Scene<'_>, spot: Spot, picture: Rect, on: bool, label: &str) {
    let palette = palette(ui.ctx());
    let size = vec2(24.0, 13.0);
    let rect = Rect::from_min_size(picture.right_top() + vec2(-size.x - 4.0, 4.0), size);
    let id = ui.scope_id().with(("switch", scene.show().address(spot.scope), spot.at));
    let response = ui.interact(rect, id, stop(Sense::click(), scene.view.spot() == Some(spot)));
    announce(&response, &format!("{label} is {}", if on { "on" } else { "off" }), Some(on));
    let fill = if on { palette.accent } else { palette.line };
    ui.painter().rect_filled(rect, 7.5, fill);
    let x = if on { rect.right() - 7.5 } else { rect.left() + 7.5 };
    ui.painter().circle_filled(
        pos2(x, rect.center().y),
        5.5,
        if on { palette.on_accent } else { palette.plain },
    );
    paint_focus(ui, &response, rect);
    if response.clicked() {
        scene.act(Action::Edit(Edit::Switch { spot, on: !on }));
    }
}

fn effect_menu(scene: &mut Scene<'_>, response: &egui::Response, spot: Spot, on: bool) {
    let chain = scene.stand.chain(spot.scope);
    let title = format!("Effect {} {}", marks(chain).of(spot.at), labels(chain).swap_remove(spot.at));
    response.context_menu(|ui| {
        ui.strong(title);
        let entries = [
            ("Duplicate", Action::Edit(Edit::Duplicate(spot))),
            ("Call it something else \u{2026}", Action::Ask(Dialog::Rename(Named::Effect(spot)))),
            (if on { "Switch off" } else { "Switch on" }, Action::Edit(Edit::Switch { spot, on: !on })),
            ("Reset settings", Action::Edit(Edit::Reset(spot))),
            ("Picture after it", Action::Show(Shown::After(spot))),
            ("Remove", Action::Edit(Edit::Remove(spot))),
        ];
        for (text, action) in entries {
            if ui.button(text).clicked() {
                scene.act(action);
                ui.close();
            }
        }
    });
}

/// The gap between two cards: adds an effect there, or, while a card is dragged, says what would be.
fn add_gap(ui: &Ui, scene: &mut Scene<'_>, spot: Spot, rect: Rect, labels: &[String]) {
    let palette = palette(ui.ctx());
    if let Some((from, target)) = scene.view.drag {
        gap_mark(ui, scene, (from, spot), rect, target == spot, palette);
        return;
    }
    let id = ui.scope_id().with(("gap", scene.show().address(spot.scope), spot.at));
    let response = ui.interact(rect, id, stop(Sense::click(), scene.spot_to_add() == spot));
    let between = match (spot.at.checked_sub(1).map(|before| &labels[before]), labels.get(spot.at)) {
        (Some(under), Some(over)) => format!("Add an effect over {under} and under {over}"),
        (Some(under), None) => format!("Add an effect over {under}"),
        (None, Some(over)) => format!("Add an effect under {over}"),
        (None, None) => "Add the first effect".to_owned(),
    };
    announce(&response, &between, None);
    let is_empty = labels.is_empty();
    let colour = if response.hovered() || response.has_focus() { palette.bright } else { palette.quiet };
    let middle = rect.center();
    let arm = 4.0;
    if is_empty || response.hovered() || response.has_focus() {
        let stroke = Stroke::new(1.5, colour);
        ui.painter().line_segment([middle - vec2(arm, 0.0), middle + vec2(arm, 0.0)], stroke);
        ui.painter().line_segment([middle - vec2(0.0, arm), middle + vec2(0.0, arm)], stroke);
    } else if spot.at > 0 && spot.at < labels.len() {
        chevron(ui, middle, palette.quiet);
    }
    paint_focus(ui, &response, rect);
    if response.clicked() {
        scene.act(Action::Ask(Dialog::Add(spot)));
    }
    response.on_hover_text(between);
}

fn gap_mark(
    ui: &Ui,
    scene: &Scene<'_>,
    (from, spot): (Spot, Spot),
    rect: Rect,
    is_target: bool,
    palette: Palette,
) {
    let copies = scene.view.drags_copies;
    let same = scene.is_same_if_moved(from, spot);
    let is_own = !copies && from.scope == spot.scope && (spot.at == from.at || spot.at == from.at + 1);
    let colour = if is_target { palette.accent } else { palette.line };
    let bar = Rect::from_center_size(rect.center(), vec2(if is_target { 4.0 } else { 2.0 }, rect.height()));
    ui.painter().rect_filled(bar, 2.0, colour);
    if is_own {
        return;
    }
    // Round and "=" for the same picture, square and "≠" for another: two shapes, two signs.
    let mark = Rect::from_center_size(rect.center(), Vec2::splat(20.0));
    let (sign, round) = if copies {
        ("+", 3.0)
    } else if same {
        ("=", 10.0)
    } else {
        ("≠", 3.0)
    };
    let (fill, text) =
        if is_target { (palette.accent, palette.on_accent) } else { (palette.raised, palette.plain) };
    ui.painter().rect(mark, round, fill, Stroke::new(1.0, colour), StrokeKind::Inside);
    ui.painter().text(mark.center(), Align2::CENTER_CENTER, sign, font(14.0), text);
    if is_target && same {
        let at = rect.center_bottom() + vec2(0.0, LINE / 2.0);
        ui.painter().text(at, Align2::CENTER_CENTER, "same picture", font(11.0), palette.bright);
    }
}

fn chevron(ui: &Ui, middle: Pos2, colour: egui::Color32) {
    let stroke = Stroke::new(1.5, colour);
    ui.painter().line_segment([middle + vec2(-2.5, -4.0), middle + vec2(2.0, 0.0)], stroke);
    ui.painter().line_segment([middle + vec2(2.0, 0.0), middle + vec2(-2.5, 4.0)], stroke);
}

fn arrow(ui: &mut Ui) {
    let (rect, _) = ui.allocate_exact_size(vec2(ARROW, HEADING + PICTURE), Sense::hover());
    let middle = pos2(rect.center().x, rect.top() + HEADING + PICTURE / 2.0);
    chevron(ui, middle, palette(ui.ctx()).quiet);
}

/// Where the path joins others: what it is laid over, and how.
fn joint(ui: &mut Ui, scene: &mut Scene<'_>, scope: Scope) {
    let show = scene.work.show().clone();
    if !scene.work.takes_effects_on(Scope::Global) {
        return;
    }
    let (mix, below, above) = match scope {
        Scope::Level(b, l) => {
            let levels = &show.bundles[b].levels;
            (levels[l].mix, l.checked_sub(1).map(|below| name(&levels[below].name)), levels.len() - l - 1)
        }
        Scope::Bundle(b) => {
            let below = b.checked_sub(1).map(|below| name(&show.bundles[below].name));
            (show.bundles[b].mix, below, show.bundles.len() - b - 1)
        }
        Scope::Global | Scope::Clip(..) => return,
    };
    let palette = palette(ui.ctx());
    let (rect, response) = ui.allocate_exact_size(vec2(JOINT, HEADING + PICTURE + LINE), Sense::click());
    let over = below.map_or_else(|| "at the bottom".to_owned(), |name| format!("over {name}"));
    let how = format!("{} {:.0} %", mix.blend.name(), mix.opacity * 100.0);
    let more = match above {
        0 => String::new(),
        1 => ", 1 more over it".to_owned(),
        above => format!(", {above} more over it"),
    };
    announce(&response, &format!("{} lies {over}: {how}{more}", scene.address(scope)), None);
    let area = Rect::from_min_size(rect.min + vec2(0.0, HEADING), vec2(rect.width(), PICTURE));
    // All that is laid together here, as it goes on along the path.
    let onward = match scope {
        Scope::Level(b, _) => Scope::Bundle(b),
        _ => Scope::Global,
    };
    paint_stage(ui, scene, (response.id, &response), area, (onward, &Stage::After(Vec::new())));
    outline(ui, area, if response.hovered() { palette.quiet } else { palette.line }, false);
    let colour = if response.hovered() { palette.bright } else { palette.plain };
    // Two sheets, one laid over the other.
    let sign = Rect::from_min_size(rect.min + vec2(0.0, 6.0), vec2(14.0, 11.0));
    for (shift, fill, line) in
        [(vec2(0.0, 3.0), palette.raised, palette.quiet), (vec2(4.0, 0.0), palette.lifted, colour)]
    {
        let one = Rect::from_min_size(sign.min + shift, vec2(10.0, 8.0));
        ui.painter().rect(one, 1.5, fill, Stroke::new(1.0, line), StrokeKind::Inside);
    }
    let head = rect.with_max_y(area.top());
    let line = |at: Pos2, align, text: &str, colour| {
        ui.painter_at(rect.intersect(ui.clip_rect())).text(at, align, text, font(11.0), colour);
    };
    let lies = cut_text(ui, &over, 11.0, palette.quiet, head.width() - 21.0);
    ui.painter().galley(head.left_center() + vec2(19.0, -lies.size().y / 2.0), lies, palette.quiet);
    line(pos2(area.center().x, area.bottom() + LINE / 2.0), Align2::CENTER_CENTER, &how, colour);
    paint_focus(ui, &response, area);
    egui::Popup::menu(&response).show(|ui| mix_controls(ui, scene, scope, mix));
    response.on_hover_text(format!("{} lies {over}{more}: press to change how", scene.address(scope)));
    arrow(ui);
}

fn output(ui: &mut Ui, scene: &mut Scene<'_>, width: f32) {
    let own: Vec<usize> = (0..scene.show().global.len()).collect();
    let is_shown = scene.view.shown == Shown::Output;
    let response =
        card(ui, scene, (Scope::Global, &Stage::Output(own)), ("output", "Output"), width, is_shown);
    if response.clicked() {
        scene.act(Action::Show(Shown::Output));
    }
}

/// Follows a card being dragged, and drops it.
fn carry(ui: &Ui, scene: &mut Scene<'_>, room: Rect, gaps: &[Gap]) {
    let Some((from, target)) = scene.view.drag else { return };
    let pointer = ui.input(|input| input.pointer.latest_pos());
    let is_released = ui.input(|input| input.pointer.any_released() || !input.pointer.any_down());
    let is_dropped = ui.input(|input| input.pointer.any_released());
    let is_given_up = ui.input(|input| input.key_pressed(egui::Key::Escape));
    let over = pointer.filter(|at| room.expand(24.0).contains(*at)).and_then(|at| {
        let apart = |gap: &&Gap| (gap.rect.center().x - at.x).abs();
        gaps.iter().min_by(|a, b| apart(a).total_cmp(&apart(b)))
    });
    let now = over.map_or(from, |gap| gap.spot);
    let copies = scene.view.drags_copies;
    if is_given_up || is_released {
        if is_dropped && !is_given_up && (now != from || (copies && over.is_some())) {
            scene.act(Action::Edit(scene.view.carried(from, now)));
        }
        scene.act(Action::Drag(None));
        return;
    }
    let wants_copies = ui.input(|input| input.modifiers.command || input.modifiers.alt);
    if wants_copies != copies {
        scene.act(Action::DragCopies(wants_copies));
    }
    if now != target {
        scene.act(Action::Drag(Some((from, now))));
    }
    let chain = scene.stand.chain(from.scope);
    let (label, mark) = (labels(chain).swap_remove(from.at), marks(chain).of(from.at));
    let more = if scene.view.is_selected(from) { scene.view.also.len() } else { 0 };
    let label = if more > 0 { format!("{label} and {more} more") } else { label };
    carried_effect(ui, if copies { format!("{label}: a copy") } else { label }, mark);
    ui.ctx().set_cursor_icon(CursorIcon::Grabbing);
}
