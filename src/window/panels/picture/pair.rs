//! Two pictures compared: closer and further, they are looked at alike.

use egui::{Align2, Color32, Pos2, Rect, Sense, Stroke, Ui, UiBuilder, pos2, vec2};

use super::closer::{Look, look_closer};
use super::{Heading, Part, look, made, pixel_under};
use crate::base::frame::Frame;
use crate::window::action::Action;
use crate::window::pictures::Placed;
use crate::window::scene::Scene;
use crate::window::showing::{Comparing, Pair, Row};
use crate::window::theme::palette;
use crate::window::widgets::{WHOLE, announce, chips, cut_text, fitted, font, paint_focus, paint_picture};

/// Half a second a picture: one change a second, far below the three flashes that WCAG 2.2 allows.
const BLINK_SECONDS: f64 = 0.5;
/// How far from the line of a wipe it can be taken hold of, in points.
const HOLD: f32 = 8.0;

/// The rooms of two pictures: side by side, or one under the other, whichever shows them larger.
pub(super) fn halves(room: Rect, frame: Frame) -> (Rect, Rect) {
    let (across, down) = (room.split_left_right_at_fraction(0.5), room.split_top_bottom_at_fraction(0.5));
    let place = |half: Rect, by: f32| half.shrink(by).with_max_y(half.max.y - 24.0);
    let width = |half: Rect| fitted(place(half, 0.0), frame).width();
    let (a, b) = if width(across.0) >= width(down.0) { across } else { down };
    (place(a, 3.0), place(b, 3.0))
}

/// A picture that is drawn: where it stands, how much of that its room shows, and it.
struct Drawn {
    rect: Rect,
    seen: Rect,
    placed: Option<Placed>,
}

/// Draws the two; gives the pixel that is pointed at, which is one of both.
pub(super) fn pair_canvas(
    ui: &mut Ui,
    scene: &mut Scene<'_>,
    (pair, heading): (&Pair, &Heading),
    parts: &[Part],
    waits: bool,
) -> Option<[u32; 2]> {
    let frame = scene.show().frame;
    let look = look(ui, scene);
    let drawn: Vec<Drawn> = parts
        .iter()
        .map(|part| {
            let rect = Look::place(look, part.room, frame);
            let placed = made(ui, scene, (heading, waits), part, rect);
            Drawn { rect, seen: rect.intersect(part.room), placed }
        })
        .collect();
    let rows = &heading.rows;
    match (pair.way, &drawn[..]) {
        (Comparing::Beside, _) => {
            let names = ["The picture on the left", "The picture on the right"];
            let mut pointed = None;
            for ((part, one), name) in parts.iter().zip(&drawn).zip(names) {
                let at = look_closer(ui, scene, (name, part.room, one.rect));
                pointed = pointed.or(at.map(|at| at - one.rect.min));
            }
            let mut pixel = None;
            for (one, row) in drawn.iter().zip(rows) {
                let mut inside = ui.new_child(UiBuilder::new().max_rect(one.seen));
                inside.shrink_clip_rect(one.seen);
                paint_picture(&inside, one.rect, one.placed);
                // The same pixel of both.
                let at = pointed.map(|at| one.rect.min + at);
                pixel = pixel_under(&inside, scene, at, one.rect).or(pixel);
                caption(ui, row, one.seen);
            }
            pixel
        }
        (Comparing::Wipe, [a, b]) => {
            let at = wipe(ui, scene, (parts[0].room, a), [a.placed, b.placed]);
            if let [left, right] = &rows[..] {
                caption(ui, left, a.seen.with_max_x(a.seen.center().x));
                caption(ui, right, a.seen.with_min_x(a.seen.center().x));
            }
            pixel_under(ui, scene, at, a.rect)
        }
        (Comparing::Blink, [a, b]) => {
            let at = look_closer(ui, scene, ("The picture", parts[0].room, a.rect));
            let is_right = blinks(ui, scene);
            paint_clipped(ui, a, if is_right { b.placed } else { a.placed });
            if let Some(row) = rows.get(usize::from(is_right)) {
                caption(ui, row, a.seen);
            }
            blink_button(ui, scene, a.seen);
            pixel_under(ui, scene, at, a.rect)
        }
        (_, drawn) => {
            let one = drawn.first()?;
            let at = look_closer(ui, scene, ("The picture", parts[0].room, one.rect));
            paint_clipped(ui, one, one.placed);
            let below = pos2(one.seen.center().x, one.seen.bottom() + 12.0);
            let text = "how far the two are apart, four times as bright; black is no difference";
            ui.painter().text(below, Align2::CENTER_CENTER, text, font(12.0), palette(ui.ctx()).plain);
            pixel_under(ui, scene, at, one.rect)
        }
    }
}

fn paint_clipped(ui: &mut Ui, one: &Drawn, placed: Option<Placed>) {
    let mut inside = ui.new_child(UiBuilder::new().max_rect(one.seen));
    inside.shrink_clip_rect(one.seen);
    paint_picture(&inside, one.rect, placed);
}

/// One over the other, parted by a line that the person moves; gives where the pointer is.
fn wipe(
    ui: &Ui,
    scene: &mut Scene<'_>,
    (room, one): (Rect, &Drawn),
    placed: [Option<Placed>; 2],
) -> Option<Pos2> {
    let seen = one.seen;
    let at = look_closer(ui, scene, ("The picture", room, one.rect));
    let x = seen.left() + seen.width() * scene.view.wipe;
    // Closer, a drag beside the line moves the pictures under it.
    let held = match scene.view.zoom {
        None => seen,
        Some(_) => Rect::from_x_y_ranges(x - HOLD..=x + HOLD, seen.y_range()).intersect(seen),
    };
    let response = ui.interact(held, ui.scope_id().with("wipe"), Sense::click_and_drag());
    announce(&response, "The line between the two orders: drag it, or Shift and an arrow", None);
    if let Some(at) = response.interact_pointer_pos() {
        scene.act(Action::Wipe((at.x - seen.left()) / seen.width()));
    }
    for (part, placed) in [(seen.with_max_x(x), placed[0]), (seen.with_min_x(x), placed[1])] {
        if let Some(placed) = placed {
            let painter = ui.painter().with_clip_rect(part.intersect(ui.clip_rect()));
            painter.image(placed.texture, one.rect, WHOLE, Color32::WHITE);
        }
    }
    ui.painter().vline(x, seen.y_range(), Stroke::new(2.0, palette(ui.ctx()).bright));
    paint_focus(ui, &response, held);
    at
}

/// Whether the second of the two is shown now.
fn blinks(ui: &Ui, scene: &Scene<'_>) -> bool {
    let time = ui.input(|input| input.time);
    if scene.view.blinking {
        let rest = BLINK_SECONDS - time % BLINK_SECONDS;
        ui.ctx().request_repaint_after(std::time::Duration::from_secs_f64(rest));
    }
    scene.view.blinking && (time / BLINK_SECONDS) as u64 % 2 == 1
}

fn blink_button(ui: &mut Ui, scene: &mut Scene<'_>, seen: Rect) {
    let runs = scene.view.blinking;
    let at = Rect::from_min_size(seen.left_bottom() + vec2(6.0, -30.0), vec2(64.0, 24.0));
    let text = if runs { "Pause" } else { "Blink" };
    if ui.put(at, egui::Button::new(text)).clicked() {
        scene.act(Action::Blink(!runs));
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
