//! Small pictures of what is in files.

use std::path::Path;

use egui::{Align2, Color32, Rect, Sense, Ui, Vec2, vec2};

use super::{WHOLE, font};
use crate::window::scene::Scene;
use crate::window::theme::palette;
use crate::window::threads::thumbnails::Thumbnail;

/// The size of one in a list.
pub const STILL: Vec2 = vec2(64.0, 36.0);

/// What a file of footage shows at its beginning, at the next place in a list.
pub fn still(ui: &mut Ui, scene: &mut Scene<'_>, file: &Path, size: Vec2) {
    let (rect, _) = ui.allocate_exact_size(size, Sense::hover());
    if ui.is_rect_visible(rect) {
        let made = scene.shelves.stills.of_file(file, scene.catalogue, scene.pictures.gpu(), ui.ctx());
        paint_thumbnail(ui, rect, made);
    }
}

/// A thumbnail, or what stands in its place.
pub fn paint_thumbnail(ui: &Ui, rect: Rect, thumbnail: Thumbnail) {
    let palette = palette(ui.ctx());
    let sign = match thumbnail {
        Thumbnail::Made(texture) => {
            ui.painter().rect_filled(rect, 2.0, Color32::BLACK);
            ui.painter().image(texture, rect, WHOLE, Color32::WHITE);
            return;
        }
        Thumbnail::OnTheWay => "\u{2026}",
        Thumbnail::Failed => "!",
    };
    ui.painter().rect_filled(rect, 2.0, palette.ground);
    ui.painter().text(rect.center(), Align2::CENTER_CENTER, sign, font(rect.height() * 0.4), palette.quiet);
}
