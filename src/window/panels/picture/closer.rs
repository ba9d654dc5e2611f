//! Going closer to the large picture: where it stands once it is larger than its room, and what a pixel of it holds.

use std::sync::Arc;

use egui::{CursorIcon, Pos2, Rect, Sense, Stroke, StrokeKind, Ui, Vec2, vec2};

use crate::base::frame::Frame;
use crate::base::picture::Picture;
use crate::window::action::Action;
use crate::window::scene::Scene;
use crate::window::theme::palette;
use crate::window::widgets::{announce, fitted};

/// The largest that a pixel of the picture is shown, in pixels of the screen.
const MOST_ZOOM: f32 = 64.0;
/// How far the wheel turns until the picture is twice as large, in points.
const WHEEL_POINTS: f32 = 160.0;
/// From here on the pixel under the pointer is outlined: smaller ones the outline would hide.
const OUTLINED: f32 = 4.0;

/// How the pictures of the canvas are looked at: the size of the whole picture, and which point of it is in the middle.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Look {
    pub size: Vec2,
    pub centre: Pos2,
}

impl Look {
    /// Where a picture stands in its room: whole, or as it is looked at.
    pub fn place(look: Option<Self>, room: Rect, frame: Frame) -> Rect {
        match look {
            None => fitted(room, frame),
            Some(Self { size, centre }) => standing(room, size, centre),
        }
    }
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
/// window, and gives the room back. Gives where the pointer is on it.
pub(super) fn look_closer(
    ui: &Ui,
    scene: &mut Scene<'_>,
    (name, room, rect): (&str, Rect, Rect),
) -> Option<Pos2> {
    // It has keys of its own: another stop on the way of Tab would be in the way.
    let id = ui.scope_id().with(name);
    let response = ui.interact(rect.intersect(room), id, Sense::CLICK | Sense::DRAG);
    announce(&response, name, None);
    if response.double_clicked() {
        scene.act(Action::Fill(!scene.view.fills));
    }
    let frame = scene.show().frame;
    let pixel = |size: f32| size * ui.pixels_per_point() / frame.width as f32;
    let zoom = [pixel(rect.width()), pixel(fitted(room, frame).width())];
    let factor = ui.input(|input| input.zoom_delta() * (input.smooth_scroll_delta().y / WHEEL_POINTS).exp2());
    // The line of a wipe may lie over it.
    let is_over = ui.rect_contains_pointer(rect.intersect(room));
    let pointer = ui.input(|input| input.pointer.hover_pos()).filter(|_| is_over);
    if let Some(pointer) = pointer.filter(|_| factor != 1.0) {
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
        let closely = zoom >= OUTLINED && !response.dragged();
        let cursor = if closely { CursorIcon::Crosshair } else { CursorIcon::AllScroll };
        let _ = response.on_hover_cursor(cursor);
    }
    pointer
}

/// The pixel under a point of a picture that stands at `rect`, by its column and its row.
pub(super) fn pixel_at(rect: Rect, frame: Frame, at: Pos2) -> Option<[u32; 2]> {
    let share = (at - rect.min) / rect.size();
    let place = |share: f32, side: u32| {
        let at = (share * side as f32).floor();
        (at >= 0.0 && at < side as f32).then_some(at as u32)
    };
    Some([place(share.x, frame.width)?, place(share.y, frame.height)?])
}

/// A line around a pixel.
pub(super) fn outline(ui: &Ui, rect: Rect, frame: Frame, [x, y]: [u32; 2]) {
    let side = rect.size() / vec2(frame.width as f32, frame.height as f32);
    if side.x * ui.pixels_per_point() < OUTLINED {
        return;
    }
    let pixel = Rect::from_min_size(rect.min + side * vec2(x as f32, y as f32), side);
    // Dark and light, so that it shows on both.
    let palette = palette(ui.ctx());
    for (by, colour) in [(1.0, palette.ground), (0.0, palette.bright)] {
        ui.painter().rect_stroke(pixel.expand(by), 0.0, Stroke::new(1.0, colour), StrokeKind::Outside);
    }
}

/// "red 12 green 34 blue 56 alpha 255": what a pixel holds, encoded, from 0 to 255.
pub(super) fn values_said(picture: &Arc<Picture>, [x, y]: [u32; 2]) -> Option<String> {
    let at = (y as usize * picture.frame.width as usize + x as usize) * 4;
    let [red, green, blue, alpha] = picture.rgba.get(at..at + 4)?.try_into().ok()?;
    Some(format!("red {red}  green {green}  blue {blue}  alpha {alpha}"))
}

#[cfg(test)]
mod tests {
    use egui::pos2;

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

    #[test]
    fn a_point_of_the_picture_is_on_the_pixel_that_is_drawn_there() {
        let frame = Frame { width: 4, height: 2 };
        let rect = Rect::from_min_size(pos2(10.0, 20.0), vec2(400.0, 200.0));
        for (at, pixel) in [
            (pos2(10.0, 20.0), Some([0, 0])),
            (pos2(109.9, 119.9), Some([0, 0])),
            (pos2(110.0, 120.0), Some([1, 1])),
            (pos2(409.9, 219.9), Some([3, 1])),
            (pos2(410.0, 219.0), None),
            (pos2(9.9, 20.0), None),
        ] {
            assert_eq!(pixel_at(rect, frame, at), pixel, "{at:?}");
        }
        let rgba: Vec<u8> = (0..32).collect();
        let picture = Arc::new(Picture { frame, rgba, opaque: false });
        let said = values_said(&picture, [1, 1]).unwrap();
        assert_eq!(said, "red 20  green 21  blue 22  alpha 23");
        assert_eq!(values_said(&picture, [0, 2]), None);
    }
}
