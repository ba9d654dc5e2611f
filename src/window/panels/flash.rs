//! The strip under the picture: what of the output flashes, counted while the window rests.

use egui::{Align2, Color32, Rect, Sense, Stroke, Ui, pos2, vec2};

use crate::measure::MOST_CHANGES;
use crate::readiness::flashing::Flashing;
use crate::window::action::{Action, Dialog};
use crate::window::keys::Command;
use crate::window::scene::Scene;
use crate::window::theme::{Palette, palette};
use crate::window::widgets::flashes::{TOO_MANY, flashes_said};
use crate::window::widgets::{announce, font, paint_focus};

/// How high the strip is, in points.
pub const HEIGHT: f32 = 34.0;
/// Flashes a second that the strip is high enough for.
const MOST_DRAWN: f32 = 6.0;

/// Draws the strip: flashes in the second that ends at each moment, against the limit of three.
pub fn strip(ui: &mut Ui, scene: &mut Scene<'_>) {
    let palette = palette(ui.ctx());
    let (rect, response) = ui.allocate_exact_size(vec2(ui.available_width(), HEIGHT), Sense::click());
    let painter = ui.painter().with_clip_rect(rect);
    painter.rect_filled(rect, 4.0, palette.raised);
    let flashes = scene.flashes.clone();
    let text = flashes_said(&flashes);
    announce(&response, &format!("Flashes. {text}"), None);
    let sign = Rect::from_min_size(rect.min, vec2(26.0, rect.height()));
    let found = flashes.found.as_deref();
    if found.is_some_and(|found| !found.passes()) {
        painter.rect_filled(sign, 4.0, TOO_MANY);
        painter.text(sign.center(), Align2::CENTER_CENTER, "!", font(18.0), Color32::WHITE);
    } else if found.is_some_and(|found| found.is_whole) {
        painter.text(sign.center(), Align2::CENTER_CENTER, "ok", font(12.0), palette.plain);
    }
    let graph = Rect::from_min_max(
        pos2(rect.left() + rect.width() * 0.56, rect.top() + 4.0),
        rect.right_bottom() - vec2(8.0, 4.0),
    );
    // Two lines are what the strip has room for; all of it is told to those who point at it.
    let mut job = egui::text::LayoutJob::simple(
        text.clone(),
        font(11.0),
        palette.plain,
        graph.left() - sign.right() - 16.0,
    );
    job.wrap.max_rows = 2;
    let words = painter.layout_job(job);
    painter.galley(pos2(sign.right() + 6.0, rect.center().y - words.size().y / 2.0), words, palette.plain);
    if let Some(found) = found {
        graph_of(&painter, graph, found, scene, &palette);
    }
    if let Some((_, done, total)) = flashes.progress {
        let share = done as f32 / total.max(1) as f32;
        let line = Rect::from_center_size(graph.center_top(), vec2(graph.width(), 4.0));
        painter.rect_filled(line, 2.0, palette.lifted);
        painter.rect_filled(line.with_max_x(line.left() + line.width() * share), 2.0, palette.quiet);
    }
    paint_focus(ui, &response, rect);
    if response
        .on_hover_text(format!(
            "{text}\nPress for what is counted, and what would flash less (key: {})",
            Command::Flashes.key()
        ))
        .clicked()
    {
        let again = flashes.problem.is_some();
        scene.act(if again { Action::TryAgain } else { Action::Ask(Dialog::Flashes) });
    }
}

fn graph_of(painter: &egui::Painter, graph: Rect, found: &Flashing, scene: &Scene<'_>, palette: &Palette) {
    // What is drawn is what the words are about: as it stands, or with the control that is worst.
    let (_, report) = found.worst();
    let count = report.per_frame.len().max(1) as f32;
    let height = |changes: u8| (f32::from(changes) / 2.0).min(MOST_DRAWN) / MOST_DRAWN * graph.height();
    for (at, changes) in report.per_frame.iter().enumerate() {
        let most = changes.iter().copied().max().unwrap_or(0);
        if most == 0 {
            continue;
        }
        let left = graph.left() + graph.width() * at as f32 / count;
        let right = graph.left() + graph.width() * (at + 1) as f32 / count;
        let bar = Rect::from_min_max(pos2(left, graph.bottom() - height(most)), pos2(right, graph.bottom()));
        let too_many = u32::from(most) > MOST_CHANGES;
        painter.rect_filled(bar, 0.0, if too_many { TOO_MANY } else { palette.quiet });
    }
    // The limit: bars that reach over it are too many, whatever their colour.
    let limit = graph.bottom() - height(MOST_CHANGES as u8);
    painter.hline(graph.x_range(), limit, Stroke::new(1.0, palette.bright));
    painter.text(
        pos2(graph.right(), limit - 1.0),
        Align2::RIGHT_BOTTOM,
        "3 a second",
        font(9.0),
        palette.plain,
    );
    let now = scene.view.beats / found.watch.over_beats;
    if (0.0..1.0).contains(&now) {
        let x = graph.left() + graph.width() * now as f32;
        painter.vline(x, graph.y_range(), Stroke::new(1.0, palette.accent));
    }
}
