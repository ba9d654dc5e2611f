//! The large picture: the output, the picture after an effect, another order, or two orders compared.

use egui::{Align2, Id, Pos2, Rect, Sense, Stroke, Ui, Vec2, pos2, vec2};

use crate::base::frame::Frame;
use crate::base::shown::shown_error;
use crate::gpu::Wanted;
use crate::order::{in_order, marks};
use crate::show::Scope;
use crate::show::chain::one_after_another;
use crate::window::action::{Action, Pin};
use crate::window::keys::Command;
use crate::window::pictures::{Placed, Stage, Urgency};
use crate::window::scene::Scene;
use crate::window::seeking::FindAct;
use crate::window::showing::{Comparing, FoundRow, Pair, Row, Shown};
use crate::window::theme::palette;
use crate::window::widgets::short::short_label;
use crate::window::widgets::{
    announce, chips, cut_text, fitted, font, labels, name, paint_focus, paint_picture, texels,
};

/// Height of the line over the picture, and the width that is kept in it for how large the picture is.
const TITLE: f32 = 24.0;
const ZOOMS: f32 = 180.0;
/// Half a second a picture: one change a second, far below the three flashes that WCAG 2.2 allows.
const BLINK_SECONDS: f64 = 0.5;

/// The largest that a pixel of the picture is shown, in pixels of the screen.
const MOST_ZOOM: f32 = 64.0;
/// How far the wheel turns until the picture is twice as large, in points.
const WHEEL_POINTS: f32 = 160.0;

/// What the large picture is, in words and as what can be done with it: painted together with the picture that it
/// is about, however long that takes to make.
#[derive(Debug, Clone, PartialEq)]
struct Heading {
    shown: Shown,
    /// While a card is carried, the chain as it would be.
    dropped: Option<String>,
    /// The chain in words, or the name of an effect and of its scope.
    words: [String; 2],
    /// The orders shown, by their effects and in words.
    rows: Vec<(Row, String)>,
}

impl Heading {
    /// The heading of what is asked for now.
    fn of(scene: &Scene<'_>) -> Self {
        let shown = scene.view.shown.clone();
        let row = |scope: Scope, order: &[usize]| {
            let labels = labels(scene.show().chain(scope));
            (scene.row(scope, order), one_after_another(order.iter().map(|&place| labels[place].as_str())))
        };
        let (words, rows) = match &shown {
            Shown::Output => ([scene.said_chain(scene.view.scope), String::new()], Vec::new()),
            Shown::Found(row) => {
                let labels = labels(&row.effects);
                let on = labels
                    .iter()
                    .zip(&row.effects)
                    .filter(|(_, used)| used.on)
                    .map(|(label, _)| label.as_str());
                ([one_after_another(on), scene.address(row.scope)], Vec::new())
            }
            Shown::After(spot) => {
                let label = labels(scene.show().chain(spot.scope)).swap_remove(spot.at);
                ([format!("After {label}"), scene.address(spot.scope)], Vec::new())
            }
            Shown::Order { scope, order } => (Default::default(), vec![row(*scope, order)]),
            Shown::Pair(pair) => {
                (Default::default(), vec![row(pair.scope, &pair.left), row(pair.scope, &pair.right)])
            }
        };
        let dropped = scene.if_dropped();
        Self { shown, dropped, words, rows }
    }

    /// The pictures that belong to it, in a room of this size.
    fn parts(&self, room: Rect, frame: Frame, zoomed: Option<Vec2>, effects: usize) -> Vec<Part> {
        let part = |place, rect, scope, stage| Part { place, rect, scope, stage };
        let output = || Stage::Output((0..effects).collect());
        let whole = fitted(room, frame);
        let whole = zoomed.map_or(whole, |size| Rect::from_min_size(room.min, size));
        match &self.shown {
            _ if self.dropped.is_some() => vec![part("large", whole, Scope::Global, output())],
            Shown::Output | Shown::Found(_) => vec![part("large", whole, Scope::Global, output())],
            Shown::After(spot) => {
                vec![part("large", whole, spot.scope, Stage::After((0..=spot.at).collect()))]
            }
            Shown::Order { scope, order } => vec![part("large", whole, *scope, Stage::Output(order.clone()))],
            Shown::Pair(pair) => {
                let under = fitted(room.shrink2(vec2(1.0, 22.0)), frame);
                let (left, right) = match pair.way {
                    Comparing::Beside => halves(room, frame),
                    Comparing::Wipe | Comparing::Blink => (under, under),
                    Comparing::Difference => {
                        let stage = Stage::Difference(pair.left.clone(), pair.right.clone());
                        return vec![part("difference", under, pair.scope, stage)];
                    }
                };
                vec![
                    part("left", left, pair.scope, Stage::Output(pair.left.clone())),
                    part("right", right, pair.scope, Stage::Output(pair.right.clone())),
                ]
            }
        }
    }
}

/// A picture of the canvas: where it stands, and what it is.
struct Part {
    place: &'static str,
    rect: Rect,
    scope: Scope,
    stage: Stage,
}

/// The places of two pictures: side by side, or one under the other, whichever shows them larger.
fn halves(room: Rect, frame: Frame) -> (Rect, Rect) {
    let (across, down) = (room.split_left_right_at_fraction(0.5), room.split_top_bottom_at_fraction(0.5));
    let place = |half: Rect, by: f32| fitted(half.shrink(by).with_max_y(half.max.y - 24.0), frame);
    let is_across = place(across.0, 0.0).width() >= place(down.0, 0.0).width();
    let (a, b) = if is_across { across } else { down };
    (place(a, 3.0), place(b, 3.0))
}

/// The heading to draw: that of what is asked for once its pictures are there, until then that of what is painted.
fn heading(ui: &Ui, scene: &mut Scene<'_>) -> (Heading, bool) {
    let now = Heading::of(scene);
    let id = Id::unique("heading of the large picture");
    let before = ui.data(|data| data.get_temp::<Heading>(id)).filter(|before| *before != now);
    let room = ui.data(|data| data.get_temp::<Rect>(Id::unique(ROOM)));
    let waits = before.is_some() && room.is_some_and(|room| !is_ready(ui, scene, &now, room));
    let heading = before.filter(|_| waits).unwrap_or(now);
    ui.data_mut(|data| data.insert_temp(id, heading.clone()));
    (heading, waits)
}

/// Where the room of the canvas in the last pass is remembered.
const ROOM: &str = "room of the large picture";

/// Asks for the pictures of a heading; whether all are there.
fn is_ready(ui: &Ui, scene: &mut Scene<'_>, heading: &Heading, room: Rect) -> bool {
    let parts = heading.parts(room, scene.show().frame, zoomed(ui, scene), scene.seen.global.len());
    let mut is_ready = true;
    for part in parts {
        let Some((wanted, size)) = wanted(ui, scene, part.rect, (part.scope, &part.stage)) else { continue };
        is_ready &= scene.pictures.is_made(&wanted, size);
        scene.pictures.ask(&wanted, size, Urgency::Large);
    }
    is_ready
}

/// The size of the whole picture, where one texel of the frame takes so many pixels of the screen.
fn zoomed(ui: &Ui, scene: &Scene<'_>) -> Option<Vec2> {
    let frame = scene.show().frame;
    let zoom = scene
        .view
        .zoom
        .filter(|_| scene.view.dragged().is_some() || !matches!(scene.view.shown, Shown::Pair(_)))?;
    Some((vec2(frame.width as f32, frame.height as f32) * zoom / ui.pixels_per_point()).max(Vec2::ZERO))
}

/// Draws the picture, what it is, and the beat, above what takes so much of the height; gives whether `more` is left
/// below that, as the picture is no higher than its width asks for.
pub fn show(ui: &mut Ui, scene: &mut Scene<'_>, taken: f32, more: f32) -> bool {
    let (heading, waits) = heading(ui, scene);
    ui.horizontal_top(|ui| {
        title(ui, scene, &heading);
        zooms(ui, scene);
    });
    let below = 6.0 + taken;
    let frame = scene.show().frame;
    let most = (ui.available_height() - below).max(60.0);
    // As high as the width asks for, so that what belongs to the picture stands right under it.
    let ideal = ui.available_width() * frame.height as f32 / frame.width as f32;
    let is_pair = matches!(heading.shown, Shown::Pair(_));
    let free = scene.view.zoom.is_some() || is_pair || most - ideal < more;
    let room = vec2(ui.available_width(), if free { most } else { ideal });
    let room = Rect::from_min_size(ui.cursor().min, room);
    ui.data_mut(|data| data.insert_temp(Id::unique(ROOM), room));
    ui.scope_builder(egui::UiBuilder::new().max_rect(room), |ui| canvas(ui, scene, &heading, waits));
    ui.advance_cursor_after_rect(room);
    !free
}

/// Draws the picture over all of the room but what is taken below.
pub fn alone(ui: &mut Ui, scene: &mut Scene<'_>, below: f32) {
    let (heading, waits) = heading(ui, scene);
    let room = ui.available_rect_before_wrap();
    let room = room.with_max_y(room.bottom() - below);
    ui.data_mut(|data| data.insert_temp(Id::unique(ROOM), room));
    ui.scope_builder(egui::UiBuilder::new().max_rect(room), |ui| canvas(ui, scene, &heading, waits));
    ui.advance_cursor_after_rect(room);
}

/// What the picture is, in words, and what can be done with it.
fn title(ui: &mut Ui, scene: &mut Scene<'_>, heading: &Heading) {
    let has_buttons = matches!(heading.shown, Shown::Order { .. } | Shown::Pair(_));
    // In a small window buttons take a second line, not room from the panel beside it.
    let wraps = has_buttons && heading.dropped.is_none();
    let layout = egui::Layout::left_to_right(egui::Align::Center).with_main_wrap(wraps);
    let room = vec2(ui.available_width() - ZOOMS, TITLE);
    ui.allocate_ui_with_layout(room, layout, |ui| {
        ui.set_min_height(TITLE);
        if let Some(names) = &heading.dropped {
            ui.strong("If dropped here:");
            short_label(ui, names, egui::TextStyle::Body, palette(ui.ctx()).plain);
            return;
        }
        match &heading.shown {
            Shown::Output => {
                ui.strong("Output");
                let (mut said, mut colour) = (heading.words[0].clone(), palette(ui.ctx()).quiet);
                if let Some(alone) = scene.view.alone {
                    if ui.button("Show everything").on_hover_text(Command::ShowAlone.key()).clicked() {
                        scene.act(Action::Alone(None));
                    }
                    (said, colour) = (scene.address(alone) + " alone", palette(ui.ctx()).bright);
                }
                short_label(ui, &said, egui::TextStyle::Body, colour);
            }
            Shown::After(_) => {
                if ui.button("Back to the output").clicked() {
                    scene.act(Action::Show(Shown::Output));
                }
                let [after, scope] = &heading.words;
                let colours = palette(ui.ctx());
                let half = ui.available_width() / 2.0;
                ui.scope(|ui| {
                    ui.set_max_width(half);
                    short_label(ui, after, egui::TextStyle::Body, colours.bright);
                });
                short_label(ui, scope, egui::TextStyle::Body, colours.quiet);
            }
            Shown::Found(row) => found_title(ui, scene, row, &heading.words[0]),
            Shown::Order { scope, order } => {
                if let [(row, _)] = &heading.rows[..] {
                    order_title(ui, scene, (*scope, order), row);
                }
            }
            Shown::Pair(pair) => {
                if let [_, (row, _)] = &heading.rows[..] {
                    pair_title(ui, scene, pair, row);
                }
            }
        }
    });
}

/// What was found, and what can be done with it.
fn found_title(ui: &mut Ui, scene: &mut Scene<'_>, row: &FoundRow, said: &str) {
    ui.strong("Found");
    let colour = palette(ui.ctx());
    let text = egui::RichText::new("Adopt").color(colour.on_accent);
    let adopt = ui.add(egui::Button::new(text).fill(colour.accent));
    if adopt.on_hover_text(Command::AdoptFound.key()).clicked() {
        scene.act(Action::Find(FindAct::Adopt(row.clone())));
    }
    if ui.button("Back").on_hover_text(format!("To the output ({})", Command::Back.key())).clicked() {
        scene.act(Action::Show(Shown::Output));
    }
    ui.add(egui::Label::new(egui::RichText::new(said).weak()).truncate());
}

fn order_title(ui: &mut Ui, scene: &mut Scene<'_>, (scope, order): (Scope, &[usize]), row: &Row) {
    let is_own = order.is_sorted();
    let code = marks(scene.show().chain(scope)).code(order);
    if is_own {
        ui.strong(format!("The current order, {code}"));
    } else {
        ui.strong(code);
        let adopt =
            egui::Button::new(egui::RichText::new("Adopt this order").color(palette(ui.ctx()).on_accent))
                .fill(palette(ui.ctx()).accent);
        if ui.add(adopt).on_hover_text(Command::Adopt.key()).clicked() {
            scene.act(Action::Adopt(row.clone()));
        }
    }
    let from = ui.cursor().min + vec2(0.0, 3.0);
    let width = chips(ui, from, 16.0, row.marks());
    ui.add_space(width + 2.0);
    if !is_own {
        if ui
            .button("Compare")
            .on_hover_text(format!("With the current order ({})", Command::Compare.key()))
            .clicked()
            && let Some(right) = row.in_chain(scene.show().chain(scope))
        {
            let left = (0..right.len()).collect();
            let pair = Pair { scope, left, right, way: Comparing::Beside };
            scene.act(Action::Show(Shown::Pair(pair)));
        }
        if ui.button("Pin").on_hover_text(format!("It stays in view ({})", Command::Pin.key())).clicked() {
            let every: Vec<usize> = (0..row.effects.len()).collect();
            scene.act(Action::Pin(Pin { scope, chain: in_order(&row.effects, &every) }));
        }
    }
    if ui.button("Back").on_hover_text(format!("To the output ({})", Command::Back.key())).clicked() {
        scene.act(Action::Show(Shown::Output));
    }
}

fn pair_title(ui: &mut Ui, scene: &mut Scene<'_>, pair: &Pair, row: &Row) {
    for way in Comparing::ALL {
        if ui.selectable_label(pair.way == way, way.name()).clicked()
            && let Shown::Pair(pair) = &scene.view.shown
        {
            scene.act(Action::Show(Shown::Pair(Pair { way, ..pair.clone() })));
        }
    }
    if !pair.right.is_sorted() && ui.button("Adopt the other one").clicked() {
        scene.act(Action::Adopt(row.clone()));
    }
    if ui.button("Back").on_hover_text(format!("To the output ({})", Command::Back.key())).clicked() {
        scene.act(Action::Show(Shown::Output));
    }
}

fn canvas(ui: &mut Ui, scene: &mut Scene<'_>, heading: &Heading, waits: bool) {
    let frame = scene.show().frame;
    let room = ui.available_rect_before_wrap();
    ui.painter().rect_filled(room, 3.0, palette(ui.ctx()).ground);
    if let (Shown::Pair(pair), None) = (&heading.shown, &heading.dropped) {
        return pair_canvas(ui, scene, (pair, heading), room, waits);
    }
    ui.shrink_clip_rect(room);
    let rect = match zoomed(ui, scene) {
        None => fitted(room, frame),
        Some(size) => standing(room, size, scene.view.centre),
    };
    look_closer(ui, scene, room, rect);
    large(ui, scene, (heading, waits), room, rect);
    problem(ui, scene, room);
}

/// Where a picture of this size stands, so that this point of it is in the middle of the room, or as near to that
/// as keeps the room full.
fn standing(room: Rect, size: Vec2, centre: Pos2) -> Rect {
    let side = |room: f32, size: f32, centre: f32| {
        let half = room / size / 2.0;
        if half >= 0.5 { 0.5 } else { centre.clamp(half, 1.0 - half) }
    };
    let centre = vec2(side(room.width(), size.x, centre.x), side(room.height(), size.y, centre.y));
    Rect::from_min_size(room.center() - centre * size, size)
}

/// The view of a picture, standing at `rect`, once it is `factor` times as large and the point under the pointer has
/// stayed where it is: the size of a pixel and the point in the middle; nothing where it is whole again.
fn zoomed_at(room: Rect, rect: Rect, pointer: Pos2, zoom: [f32; 2], factor: f32) -> Option<(f32, Pos2)> {
    let [now, whole] = zoom;
    let next = (now * factor).min(MOST_ZOOM);
    if next <= whole * 1.001 {
        return None;
    }
    let size = rect.size() * (next / now);
    let under = (pointer - rect.min) / rect.size();
    let min = pointer - under * size;
    Some((next, ((room.center() - min) / size).to_pos2()))
}

/// The wheel makes the picture larger and smaller where the pointer is, a drag moves it; twice pressed it fills the
/// window, and gives the room back.
fn look_closer(ui: &Ui, scene: &mut Scene<'_>, room: Rect, rect: Rect) {
    // It has keys of its own: another stop on the way of Tab would be in the way.
    let response =
        ui.interact(rect.intersect(room), ui.scope_id().with("picture"), Sense::CLICK | Sense::DRAG);
    announce(&response, "The picture", None);
    if response.double_clicked() {
        scene.act(Action::Fill(!scene.view.fills));
    }
    let frame = scene.show().frame;
    let pixel = |size: f32| size * ui.pixels_per_point() / frame.width as f32;
    let zoom = [pixel(rect.width()), pixel(fitted(room, frame).width())];
    let factor = ui.input(|input| input.zoom_delta() * (input.smooth_scroll_delta().y / WHEEL_POINTS).exp2());
    if let Some(pointer) = response.hover_pos().filter(|_| factor != 1.0) {
        scene.act(match zoomed_at(room, rect, pointer, zoom, factor) {
            Some((zoom, centre)) => Action::Look { zoom, centre },
            None => Action::Zoom(None),
        });
    }
    if let Some(zoom) = scene.view.zoom {
        if response.dragged() && response.drag_delta() != Vec2::ZERO {
            let centre = ((room.center() - rect.min - response.drag_delta()) / rect.size()).to_pos2();
            scene.act(Action::Look { zoom, centre });
        }
        let _ = response.on_hover_cursor(egui::CursorIcon::AllScroll);
    }
}

/// Paints the one picture of a heading.
fn large(ui: &Ui, scene: &mut Scene<'_>, (heading, waits): (&Heading, bool), room: Rect, rect: Rect) {
    let parts = heading.parts(room, scene.show().frame, zoomed(ui, scene), scene.seen.global.len());
    let placed = parts.first().and_then(|part| made(ui, scene, (heading, waits), part, rect));
    paint_picture(ui, rect, placed);
}

fn problem(ui: &Ui, scene: &Scene<'_>, room: Rect) {
    let loading = scene.pictures.is_loading().then(|| {
        let clip = scene.show().clip(scene.view.clip);
        let footage = clip.map_or_else(String::new, |clip| clip.footage.to_string());
        format!("Loading footage: {} \u{2026}", name(&footage))
    });
    let Some(text) = scene.pictures.problem().map(shown_error).or(loading) else { return };
    let palette = palette(ui.ctx());
    let galley = ui.painter().layout(text, font(13.0), palette.bright, room.width() * 0.8);
    let rect = Rect::from_center_size(room.center(), galley.size() + vec2(28.0, 20.0));
    ui.painter().rect_filled(rect, 6.0, palette.panel);
    ui.painter().galley(rect.min + vec2(14.0, 10.0), galley, palette.bright);
}

/// Where pictures of the canvas are known to stand: those of another heading never stand in for them.
fn place_of(heading: &Heading, part: &Part) -> Id {
    let rows: Vec<&str> = heading.rows.iter().map(|(_, text)| text.as_str()).collect();
    Id::unique(("canvas", part.place, &heading.dropped, &heading.words, rows))
}

/// A picture, and the size at which it is made for a place.
fn wanted(
    ui: &Ui,
    scene: &mut Scene<'_>,
    rect: Rect,
    (scope, stage): (Scope, &Stage),
) -> Option<(Wanted, Frame)> {
    let moment = scene.moment;
    // While a card is dragged, the show as it would be.
    let show = scene.seen.clone();
    let wanted = scene.pictures.wanted(&show, scope, moment, stage)?;
    let frame = moment.frame;
    let size = if scene.view.zoom.is_some() { frame } else { texels(ui, rect.size(), frame) };
    // A picture that is nearly as large as its frame is shown whole, so that the place's size does not matter.
    Some((wanted, if size.texels() * 2 > frame.texels() { frame } else { size }))
}

/// The picture of a part, or the last that stood there; where another heading waits for its pictures, only that.
fn made(
    ui: &Ui,
    scene: &mut Scene<'_>,
    (heading, waits): (&Heading, bool),
    part: &Part,
    rect: Rect,
) -> Option<Placed> {
    let single = scene.view.zoom.is_some_and(|zoom| zoom >= 1.0);
    let place = place_of(heading, part);
    if waits {
        return scene.pictures.last(place, single);
    }
    let (wanted, size) = wanted(ui, scene, rect, (part.scope, &part.stage))?;
    scene.pictures.place(place, &wanted, size, single, Urgency::Large)
}

fn pair_canvas(
    ui: &mut Ui,
    scene: &mut Scene<'_>,
    (pair, heading): (&Pair, &Heading),
    room: Rect,
    waits: bool,
) {
    let frame = scene.show().frame;
    let parts = heading.parts(room, frame, None, scene.seen.global.len());
    let rect = fitted(room.shrink2(vec2(1.0, 22.0)), frame);
    let placed: Vec<(Rect, Option<Placed>)> =
        parts.iter().map(|part| (part.rect, made(ui, scene, (heading, waits), part, part.rect))).collect();
    let rows = &heading.rows;
    match (pair.way, &placed[..]) {
        (Comparing::Beside, _) => {
            for ((rect, placed), row) in placed.iter().zip(rows) {
                paint_picture(ui, *rect, *placed);
                caption(ui, row, *rect);
            }
        }
        (Comparing::Wipe, [(_, a), (_, b)]) => {
            let id = ui.scope_id().with("wipe");
            let share = scene.view.wipe;
            let response = ui.interact(rect, id, Sense::click_and_drag());
            announce(&response, "The line between the two orders: drag it, or Shift and an arrow", None);
            if let Some(at) = response.interact_pointer_pos() {
                scene.act(Action::Wipe((at.x - rect.left()) / rect.width()));
            }
            paint_focus(ui, &response, rect);
            let x = rect.left() + rect.width() * share;
            for (part, placed) in [(rect.with_max_x(x), a), (rect.with_min_x(x), b)] {
                if let Some(placed) = placed {
                    let share_of = |x: f32| (x - rect.left()) / rect.width();
                    let uv = Rect::from_min_max(
                        pos2(share_of(part.left()), 0.0),
                        pos2(share_of(part.right()), 1.0),
                    );
                    ui.painter().image(placed.texture, part, uv, egui::Color32::WHITE);
                }
            }
            ui.painter().vline(x, rect.y_range(), Stroke::new(2.0, palette(ui.ctx()).bright));
            if let [left, right] = &rows[..] {
                caption(ui, left, rect.with_max_x(rect.center().x));
                caption(ui, right, rect.with_min_x(rect.center().x));
            }
        }
        (Comparing::Blink, [(_, a), (_, b)]) => {
            let runs = scene.view.blinking;
            let time = ui.input(|input| input.time);
            let is_right = runs && (time / BLINK_SECONDS) as u64 % 2 == 1;
            paint_picture(ui, rect, if is_right { *b } else { *a });
            if let Some(row) = rows.get(usize::from(is_right)) {
                caption(ui, row, rect);
            }
            let at = Rect::from_min_size(rect.left_bottom() + vec2(6.0, -30.0), vec2(120.0, 24.0));
            let text = if runs { "Pause" } else { "Start blinking" };
            if ui.put(at, egui::Button::new(text)).clicked() {
                scene.act(Action::Blink(!runs));
            }
            if runs {
                let rest = BLINK_SECONDS - time % BLINK_SECONDS;
                ui.ctx().request_repaint_after(std::time::Duration::from_secs_f64(rest));
            }
        }
        (_, placed) => {
            paint_picture(ui, rect, placed.first().and_then(|(_, placed)| *placed));
            let at = pos2(rect.center().x, rect.bottom() + 12.0);
            let text = "how far the two are apart, four times as bright; black is no difference";
            ui.painter().text(at, Align2::CENTER_CENTER, text, font(12.0), palette(ui.ctx()).plain);
        }
    }
}

/// Chips and words under a picture.
fn caption(ui: &Ui, (row, text): &(Row, String), rect: Rect) {
    let from = rect.left_bottom() + vec2(2.0, 5.0);
    let width = chips(ui, from, 14.0, row.marks());
    let at = from + vec2(width + 4.0, 7.0);
    let colour = palette(ui.ctx()).plain;
    let text = cut_text(ui, text, 11.5, colour, rect.right() - 8.0 - at.x);
    ui.painter().galley(at - vec2(0.0, text.size().y / 2.0), text, colour);
}

/// How large the picture is shown, from the right.
fn zooms(ui: &mut Ui, scene: &mut Scene<'_>) {
    // No higher than the row, or the picture would be left what is below the middle of its room.
    let row = vec2(ui.available_width(), TITLE);
    ui.allocate_ui_with_layout(row, egui::Layout::right_to_left(egui::Align::Center), |ui| {
        for (text, zoom, hint) in [
            ("x4", Some(4.0), "Each pixel of the picture four by four"),
            ("x1", Some(1.0), "Each pixel of the picture as one of the screen"),
            ("whole", None, "The whole picture"),
        ] {
            let hint = format!("{hint} ({})", Command::Zoom.key());
            if ui.selectable_label(scene.view.zoom == zoom, text).on_hover_text(hint).clicked() {
                scene.act(Action::Zoom(zoom));
            }
        }
        if let Some(zoom) = scene.view.zoom.filter(|zoom| ![1.0, 4.0].contains(zoom)) {
            ui.weak(format!("x{zoom:.1}"));
        }
    });
}

#[cfg(test)]
mod tests {
    use super::*;

    const ROOM: Rect = Rect { min: pos2(100.0, 50.0), max: pos2(740.0, 410.0) };

    #[test]
    fn the_wheel_keeps_what_is_under_the_pointer_where_it_is() {
        let mut rect = fitted(ROOM, Frame { width: 1280, height: 720 });
        let whole = rect.width() / 1280.0;
        let pointer = pos2(612.0, 300.0);
        let point = (pointer - rect.min) / rect.size();
        let mut zoom = whole;
        for factor in [1.5, 2.0, 1.2, 0.7] {
            let (next, centre) = zoomed_at(ROOM, rect, pointer, [zoom, whole], factor).unwrap();
            assert!((next / zoom - factor).abs() < 1e-4);
            rect = standing(ROOM, rect.size() * (next / zoom), centre);
            zoom = next;
            let now = (pointer - rect.min) / rect.size();
            assert!((now - point).length() < 1e-3, "{now:?} {point:?}");
        }
        // Back to the whole picture, never smaller; and never larger than pixels can be told.
        assert_eq!(zoomed_at(ROOM, rect, pointer, [zoom, whole], 0.01), None);
        assert_eq!(zoomed_at(ROOM, rect, pointer, [zoom, whole], 1e6).unwrap().0, MOST_ZOOM);
    }

    #[test]
    fn a_picture_that_is_larger_than_its_room_always_fills_it() {
        let size = vec2(2560.0, 1440.0);
        for centre in [pos2(-3.0, 0.0), pos2(0.0, 0.0), pos2(0.5, 0.5), pos2(1.0, 7.0)] {
            let rect = standing(ROOM, size, centre);
            assert!(rect.contains_rect(ROOM), "{centre:?} {rect:?}");
        }
        // One that is lower than its room stands in the middle of it.
        let rect = standing(ROOM, vec2(1280.0, 200.0), pos2(0.0, 0.0));
        assert_eq!((rect.min.x, rect.center().y), (ROOM.min.x, ROOM.center().y));
    }
}
