//! The one line under the picture: what a pixel holds, how far two pictures are apart, or how large the picture is.

use std::sync::Arc;

use egui::{Align2, Context, Rect, Role, Sense, Ui, WidgetInfo, vec2};

use super::closer::values_said;
use super::{Heading, wanted_of};
use crate::base::picture::Picture;
use crate::base::shown::shown_error;
use crate::measure::{Difference, figure_said};
use crate::window::scene::Scene;
use crate::window::showing::Shown;
use crate::window::theme::{CORNER, palette};
use crate::window::widgets::{cut_text, font};

/// Height of the line, in points: it is there whatever stands in it, so that nothing is moved by it.
pub(super) const LINE: f32 = 18.0;
/// From here on a pixel of the picture has a pixel of the screen, and can be pointed at.
const CLOSE: f32 = 1.0;

/// What stands in the line.
pub(super) fn said(
    scene: &mut Scene<'_>,
    heading: &Heading,
    pointed: Option<[u32; 2]>,
    ctx: &Context,
) -> String {
    let is_close = scene.view.zoom.is_some_and(|zoom| zoom >= CLOSE);
    let is_pair = matches!((&heading.shown, &heading.tried), (Shown::Pair(_), None));
    if let Some(pixel) = pointed.filter(|_| is_close) {
        return pixel_said(scene, heading, pixel);
    }
    if is_pair { apart_said(scene, heading, ctx) } else { size_said(scene) }
}

/// The pictures that are shown, pixel by pixel, once they have come back from the GPU.
fn pictures(scene: &mut Scene<'_>, heading: &Heading) -> Vec<Option<Arc<Picture>>> {
    let frame = scene.large.frame;
    let whats = heading.whats(scene.seen.global.len());
    let of = |what| {
        let wanted = wanted_of(scene, what)?;
        scene.pictures.bytes(&wanted, frame)
    };
    whats.iter().map(of).collect()
}

/// "x 312  y 80   red 12  green 34  blue 56  alpha 255".
fn pixel_said(scene: &mut Scene<'_>, heading: &Heading, [x, y]: [u32; 2]) -> String {
    let place = format!("x {x}  y {y}");
    // Every moment is another picture.
    if scene.view.playing && !scene.holds_preview {
        return format!("{place}   values are told while the beat is paused");
    }
    let values: Vec<Option<String>> = pictures(scene, heading)
        .into_iter()
        .map(|picture| picture.and_then(|picture| values_said(&picture, [x, y])))
        .collect();
    let on_its_way = || "\u{2026}".to_owned();
    let mut values = values.into_iter().map(|said| said.unwrap_or_else(on_its_way));
    match (values.next(), values.next()) {
        (Some(left), Some(right)) => format!("{place}   left: {left}   right: {right}"),
        (Some(one), None) => format!("{place}   {one}{}", of_preview(scene)),
        _ => place,
    }
}

/// How far two pictures are apart, in plain words.
fn apart_said(scene: &mut Scene<'_>, heading: &Heading, ctx: &Context) -> String {
    if scene.view.playing {
        return "How far the two are apart is measured while the beat is paused.".to_owned();
    }
    let mut pictures = pictures(scene, heading).into_iter();
    let (Some(Some(a)), Some(Some(b))) = (pictures.next(), pictures.next()) else {
        return "Measuring how far the two are apart \u{2026}".to_owned();
    };
    if a.rgba == b.rgba {
        return format!("The two are the same picture, to the byte{}.", of_preview(scene));
    }
    match scene.apart(&[a, b], ctx) {
        None => "Measuring how far the two are apart \u{2026}".to_owned(),
        Some(Ok(difference)) => format!("{}{}.", difference_said(&difference), of_preview(scene)),
        Some(Err(why)) => format!("How far the two are apart was not measured: {}", shown_error(&why)),
    }
}

/// "The two differ by 12.3 on average (mean CIEDE2000; 1 is just visible)".
fn difference_said(difference: &Difference) -> String {
    let mean = figure_said(difference.mean, 1);
    let words = if difference.hardly_shows() {
        "The difference of the two hardly shows"
    } else if difference.mean < 1.0 {
        "The two differ by less than shows side by side"
    } else {
        "The two differ visibly"
    };
    format!("{words}: {mean} on average (mean CIEDE2000; 1 is just visible)")
}

/// Of which picture it is told, where that is not the show's own size.
fn of_preview(scene: &Scene<'_>) -> String {
    if scene.large.frame == scene.show().frame {
        String::new()
    } else {
        format!(" (preview of {})", scene.large.frame)
    }
}

/// How large the picture is.
fn size_said(scene: &Scene<'_>) -> String {
    let frame = scene.show().frame;
    let hint = match scene.view.zoom {
        None => "the wheel goes closer",
        Some(zoom) if zoom < CLOSE => "closer, pixels have their values here",
        Some(_) => "point at a pixel for its values",
    };
    format!("{frame}{}: {hint}", of_preview(scene))
}

/// Draws the line.
pub(super) fn show(ui: &mut Ui, said: &str) {
    let (rect, response) = ui.allocate_exact_size(vec2(ui.available_width(), LINE), Sense::hover());
    response.widget_info(|| WidgetInfo::labeled(Role::Label, true, said));
    let colour = palette(ui.ctx()).plain;
    let text = cut_text(ui, said, 11.5, colour, rect.width() - 4.0);
    let at = rect.left_center() + vec2(2.0, -text.size().y / 2.0);
    ui.painter().galley(at, text, colour);
}

/// Draws it over the bottom of a picture that fills the window.
pub(super) fn over(ui: &Ui, room: Rect, said: &str) {
    let palette = palette(ui.ctx());
    let galley = ui.painter().layout_no_wrap(said.to_owned(), font(12.0), palette.bright);
    let size = galley.size() + vec2(16.0, 8.0);
    let rect = Align2::LEFT_BOTTOM.align_size_within_rect(size, room.shrink(8.0));
    ui.painter().rect_filled(rect, f32::from(CORNER), palette.panel);
    ui.painter().galley(rect.min + vec2(8.0, 4.0), galley, palette.bright);
}
