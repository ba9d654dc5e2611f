//! The line under the picture: the caution that is owed, and what of the output flashes, counted while the window
//! rests. Where a limit is passed it grows.

use egui::{Align2, Color32, Rect, Response, Sense, Stroke, Ui, pos2, vec2};

use crate::measure::MOST_CHANGES;
use crate::readiness::caution;
use crate::readiness::flashing::Flashing;
use crate::window::action::{Action, Dialog};
use crate::window::keys::Command;
use crate::window::scene::Scene;
use crate::window::theme::{Palette, palette};
use crate::window::widgets::flashes::{TOO_MANY, flashes_said};
use crate::window::widgets::{announce, cut_text, font, paint_focus};

/// How high the line is, in points: usually, and where a limit is passed.
const HEIGHT: [f32; 2] = [26.0, 52.0];
/// Flashes a second that the strip is high enough for.
const MOST_DRAWN: f32 = 6.0;
/// How much of the line the caution takes: more where its words need it.
const CAUTION_SHARES: [f32; 2] = [0.4, 0.55];
/// Width of a sign at the left end of a part, and the room beside the words after it.
const SIGN: f32 = 26.0;
const BESIDE: f32 = 18.0;
/// The caution in the words that a line has room for; all of it is told to those who point at it, and on its dialog.
const CAUTION_LINE: &str = "Flashing light: can cause seizures";

/// Whether more flashes than a limit allows.
pub fn is_passed(scene: &Scene<'_>) -> bool {
    scene.flashes.found.as_deref().is_some_and(|found| !found.passes())
}

/// How high the line is now.
pub fn height(scene: &Scene<'_>) -> f32 {
    HEIGHT[usize::from(is_passed(scene))]
}

/// Draws the line.
pub fn line(ui: &mut Ui, scene: &mut Scene<'_>) {
    let (rect, _) = ui.allocate_exact_size(vec2(ui.available_width(), height(scene)), Sense::hover());
    let caution = caution::of_show(scene.show()).or_else(|| caution::of_show(&scene.seen));
    let parts = match caution {
        Some(_) => {
            let words =
                ui.painter().layout_no_wrap(CAUTION_LINE.to_owned(), font(11.5), Color32::PLACEHOLDER);
            let wanted = (words.size().x + SIGN + BESIDE + 2.0) / rect.width().max(1.0);
            rect.split_left_right_at_fraction(wanted.clamp(CAUTION_SHARES[0], CAUTION_SHARES[1]))
        }
        None => (rect.with_max_x(rect.left()), rect),
    };
    if let Some(text) = caution {
        caution_part(ui, scene, parts.0.with_max_x(parts.0.right() - 6.0), text);
    }
    strip(ui, scene, parts.1);
}

/// The caution: in short, and whole for those who point at it, who listen, and behind it.
fn caution_part(ui: &mut Ui, scene: &mut Scene<'_>, rect: Rect, text: &str) {
    let palette = palette(ui.ctx());
    let response = ui.interact(rect, ui.scope_id().with("caution"), Sense::click());
    announce(&response, text, None);
    ground(ui, rect, &response);
    let sign = sign(ui, rect, "!", [palette.caution, Color32::BLACK]);
    let room = rect.right() - sign.right() - 12.0;
    let galley = match is_passed(scene) {
        true => ui.painter().layout(text.to_owned(), font(10.0), palette.plain, room),
        false => cut_text(ui, CAUTION_LINE, 11.5, palette.plain, room),
    };
    let at = pos2(sign.right() + 6.0, rect.center().y - galley.size().y / 2.0);
    ui.painter().with_clip_rect(rect).galley(at, galley, palette.plain);
    finish(ui, scene, response, rect, text);
}

fn ground(ui: &Ui, rect: Rect, response: &Response) {
    let palette = palette(ui.ctx());
    ui.painter().rect_filled(rect, 4.0, if response.hovered() { palette.lifted } else { palette.raised });
}

/// A sign at the left end of a part.
fn sign(ui: &Ui, rect: Rect, text: &str, [fill, colour]: [Color32; 2]) -> Rect {
    let sign = rect.with_max_x(rect.left() + SIGN);
    ui.painter().rect_filled(sign, 4.0, fill);
    let size = if text == "!" { 18.0 } else { 12.0 };
    ui.painter().text(sign.center(), Align2::CENTER_CENTER, text, font(size), colour);
    sign
}

/// What a part says in full, and its dialog behind it.
fn finish(ui: &Ui, scene: &mut Scene<'_>, response: Response, rect: Rect, text: &str) {
    paint_focus(ui, &response, rect);
    let hint = format!(
        "{text}\nPress for what is counted, and what would flash less (key: {})",
        Command::Flashes.key()
    );
    if response.on_hover_text(hint).clicked() {
        let again = scene.flashes.problem.is_some();
        scene.act(if again { Action::TryAgain } else { Action::Ask(Dialog::Flashes) });
    }
}

/// Flashes in the second that ends at each moment, against the limit of three.
fn strip(ui: &mut Ui, scene: &mut Scene<'_>, rect: Rect) {
    let palette = palette(ui.ctx());
    let response = ui.interact(rect, ui.scope_id().with("flashes"), Sense::click());
    let painter = ui.painter().with_clip_rect(rect);
    let flashes = scene.flashes.clone();
    let text = flashes_said(&flashes);
    announce(&response, &format!("Flashes. {text}"), None);
    ground(ui, rect, &response);
    let found = flashes.found.as_deref();
    let left = if found.is_some_and(|found| !found.passes()) {
        sign(ui, rect, "!", [TOO_MANY, Color32::WHITE]).right()
    } else if found.is_some_and(|found| found.is_whole) {
        sign(ui, rect, "ok", [palette.raised, palette.plain]).right()
    } else {
        rect.left()
    };
    let graph = Rect::from_min_max(
        pos2(rect.left() + rect.width() * 0.66, rect.top() + 3.0),
        rect.right_bottom() - vec2(8.0, 3.0),
    );
    // What the line has room for; all of it is told to those who point at it.
    let is_passed = is_passed(scene);
    let (size, colour) = if is_passed { (12.5, palette.bright) } else { (11.0, palette.plain) };
    let room = graph.left() - left - 14.0;
    let mut job = egui::text::LayoutJob::simple(text.clone(), font(size), colour, room);
    job.wrap.max_rows = if is_passed { 3 } else { 1 };
    job.wrap.break_anywhere = false;
    let words = painter.layout_job(job);
    painter.galley(pos2(left + 6.0, rect.center().y - words.size().y / 2.0), words, colour);
    if let Some(found) = found {
        graph_of(&painter, graph, found, scene, &palette);
    }
    if let Some((_, done, total)) = flashes.progress {
        let share = done as f32 / total.max(1) as f32;
        let line = Rect::from_center_size(graph.center_top(), vec2(graph.width(), 4.0));
        painter.rect_filled(line, 2.0, palette.lifted);
        painter.rect_filled(line.with_max_x(line.left() + line.width() * share), 2.0, palette.quiet);
    }
    finish(ui, scene, response, rect, &text);
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
