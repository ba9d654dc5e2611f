//! What is said of something that is pointed at while the picture beside it shows what it would make.

use egui::{Rect, RectAlign, Response, Tooltip, WidgetText};

use crate::window::scene::Scene;

/// Room between the text and the edges of its column.
const MARGIN: f32 = 16.0;

/// Says it within the column of the tabs, so that nothing of the picture is covered.
pub fn hint_beside(scene: &Scene<'_>, response: &Response, text: impl Into<WidgetText>) {
    let mut tooltip = Tooltip::for_enabled(response);
    if let Some((_, column)) = scene.regions.iter().find(|(name, _)| *name == "beside") {
        let across = column.x_range().shrink(MARGIN);
        let line = Rect::from_x_y_ranges(across, response.rect.intersect(*column).y_range());
        tooltip.popup = tooltip
            .popup
            .anchor(line)
            .align(RectAlign::BOTTOM_START)
            .align_alternatives(&[RectAlign::TOP_START])
            .width(across.span());
    }
    tooltip.show(|ui| ui.label(text));
}
