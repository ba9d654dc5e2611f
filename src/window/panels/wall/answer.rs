//! What matters, over the wall: the answer in a sentence, and the questions that decide.

use egui::{Align, Align2, Button, Id, Layout, Rect, Role, Sense, Ui, UiBuilder, WidgetInfo, pos2, vec2};

use super::which;
use crate::base::shown::shown;
use crate::explore::matters::{FactWords, percent_within, remark};
use crate::order::{Families, Question};
use crate::window::action::Action;
use crate::window::scene::Scene;
use crate::window::showing::WallBy;
use crate::window::theme::palette;
use crate::window::threads::prover::Known;
use crate::window::widgets::facts::{paint_words, words_width};
use crate::window::widgets::{cut_text, font, progress};

/// Size of the answer's letters, and of what stands in its place; the least height of both.
const ANSWER: f32 = 15.0;
const FINDING: f32 = 13.0;
const LEAST: f32 = 20.0;
/// Height of a question's line, and the room for its share in words and as a bar.
const LINE: f32 = 19.0;
const SHARE: f32 = 56.0;
const BAR: f32 = 50.0;
/// In less room the words take that of the bar.
const WIDE: f32 = 440.0;

/// Draws the answer, and over families the questions. Their room stays while they are found anew.
pub fn show(ui: &mut Ui, scene: &mut Scene<'_>, laid: &Known, words: FactWords<'_>) {
    let before = laid.looks.as_ref().and_then(|gathered| gathered.matters.as_ref());
    if before.is_none() && scene.gathering.is_none() && !scene.wall_waits {
        return;
    }
    let is_now = scene.matters(laid).is_some();
    let colour = palette(ui.ctx());
    let width = ui.available_width();
    let opening = before.map(|matters| matters.opening.as_str()).unwrap_or_default();
    let galley = ui.painter().layout(opening.to_owned(), font(ANSWER), colour.bright, width);
    let id = Id::unique(("height of the answer", which(scene)));
    let held = ui.data(|data| data.get_temp::<f32>(id)).filter(|_| scene.wall_is_held);
    let height = held.unwrap_or(galley.size().y).max(LEAST);
    ui.data_mut(|data| data.insert_temp(id, height));
    let (rect, response) = ui.allocate_exact_size(vec2(width, height), Sense::hover());
    if scene.wall_waits {
        let hint = "The wall stays as it is while you point at it or have an order open";
        let mut place =
            ui.new_child(UiBuilder::new().max_rect(rect).layout(Layout::left_to_right(Align::Center)));
        if place.add(Button::new(waiting_said(scene)).small()).on_hover_text(hint).clicked() {
            scene.act(Action::LayWall);
        }
    } else {
        let is_whole = galley.size().y <= height + 0.5;
        let (said, galley) = match (is_now, is_whole) {
            (true, true) => (opening.to_owned(), galley),
            (true, false) => (opening.to_owned(), cut_text(ui, opening, ANSWER, colour.bright, width)),
            (false, _) => {
                let said = finding(scene);
                (said.clone(), cut_text(ui, &said, FINDING, colour.quiet, width - 90.0))
            }
        };
        let right = rect.left() + galley.size().x + 10.0;
        ui.painter().galley(rect.min, galley, colour.bright);
        response.widget_info(|| WidgetInfo::labeled(Role::Label, true, &said));
        // A first answer stands while all orders are looked at.
        let is_first = laid.looks.as_ref().is_some_and(|gathered| gathered.is_first);
        if let Some((done, of)) =
            scene.gathering.filter(|_| !is_now || is_first && right + BAR <= rect.right())
        {
            let at = Rect::from_min_size(pos2(right, rect.top() + 7.0), vec2(70.0, 5.0));
            progress(&mut ui.new_child(UiBuilder::new().max_rect(at)), done as f32 / of.max(1) as f32);
        }
        response.on_hover_text(said);
    }
    let families = before.and_then(|matters| matters.families.as_ref());
    // Of several pieces each pair is shown with what it has on each of them.
    let is_of_one = laid.on_pieces.as_ref().is_none_or(|on| on.pieces.len() == 1);
    if let Some(families) = families.filter(|_| scene.view.wall_by == WallBy::Families && is_of_one) {
        ui.scope(|ui| {
            ui.spacing_mut().item_spacing.y = 0.0;
            families.questions.iter().for_each(|question| asked(ui, (families, question), words, is_now));
        });
    }
}

/// "Show the 4 families found".
fn waiting_said(scene: &Scene<'_>) -> String {
    let found = scene.known_of_wall().and_then(|known| Some((known.looks.as_ref()?, known.families())));
    match (found, &scene.view.wall_by) {
        (Some((_, Some(families))), WallBy::Families) => {
            format!("Show the {} families found", families.list.len())
        }
        (Some((gathered, _)), WallBy::Looks | WallBy::Families)
            if gathered.is_of_now && gathered.looks.len() > 1 =>
        {
            format!("Show the {} looks found", gathered.looks.len())
        }
        _ => "Show what was found".to_owned(),
    }
}

/// What stands in place of what is found anew.
pub fn finding(scene: &Scene<'_>) -> String {
    let text = match (scene.view.playing, scene.unknown.is_some(), scene.gathering.is_some()) {
        (true, ..) => "What matters is found once you pause",
        (_, true, _) => "What matters is not known now",
        (.., true) => "Telling looks apart, and what matters \u{2026}",
        _ => "Finding what matters now \u{2026}",
    };
    text.to_owned()
}

/// A question, with its share as a number and as a bar.
fn asked(ui: &mut Ui, (families, question): (&Families, &Question), words: FactWords<'_>, is_now: bool) {
    let colour = palette(ui.ctx());
    let (rect, response) = ui.allocate_exact_size(vec2(ui.available_width(), LINE), Sense::hover());
    let middle = rect.center().y;
    let share = if is_now { percent_within(question.share, question.error) } else { "\u{2026}".to_owned() };
    let right = rect.left() + SHARE;
    ui.painter().text(pos2(right - 8.0, middle), Align2::RIGHT_CENTER, &share, font(12.5), colour.bright);
    let mut left = right;
    if rect.width() > WIDE {
        let bar = Rect::from_min_size(pos2(right, middle - 3.0), vec2(BAR, 6.0));
        ui.painter().rect_filled(bar, 3.0, colour.lifted);
        if is_now {
            let filled = bar.with_max_x(bar.left() + BAR * question.share.clamp(0.0, 1.0) as f32);
            ui.painter().rect_filled(filled, 3.0, colour.accent);
        }
        left = bar.right() + 8.0;
    }
    let asked = words.question(question);
    paint_words(ui, pos2(left, middle), rect.right() - left, colour.plain, words, &asked);
    left += words_width(ui, words, &asked) + 4.0;
    let remark = remark(families, question);
    if let Some(remark) = remark {
        let galley = cut_text(ui, remark, 11.0, colour.quiet, rect.right() - left);
        ui.painter().galley(pos2(left, middle - galley.size().y / 2.0), galley, colour.quiet);
    }
    let remark = remark.map_or_else(String::new, |remark| format!(" {remark}"));
    let asked = shown(&format!("{}{remark}", words.plain(&asked))).into_owned();
    let said = if is_now { format!("{share} of what order does: {asked}") } else { asked };
    response.widget_info(|| WidgetInfo::labeled(Role::Label, true, &said));
    response.on_hover_text(said);
}
