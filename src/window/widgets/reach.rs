//! The keyboard's ways through the window: from part to part with one key, and through a list as one stop.

use egui::{
    Event, EventFilter, Id, Key, Modifiers, Rect, Response, Sense, Stroke, StrokeKind, Ui, WidgetInfo, pos2,
};

use super::paint_focus;
use crate::window::scene::{Part, Scene};
use crate::window::theme::{CORNER, palette};

/// Draws a part of the window, with the place at its head that [`Key::F6`] reaches.
pub fn part<R>(
    ui: &mut Ui,
    scene: &mut Scene<'_>,
    name: &str,
    draw: impl FnOnce(&mut Ui, &mut Scene<'_>) -> R,
) -> R {
    let id = Id::unique(("part", name));
    let min = ui.cursor().min.max(ui.max_rect().min);
    let head = Rect::from_min_max(min, pos2(ui.max_rect().right().max(min.x + 4.0), min.y + 4.0));
    let response = ui.interact(head, id, Sense::FOCUSABLE);
    let is_enabled = ui.is_enabled();
    response.widget_info(|| WidgetInfo::labeled(egui::Role::Group, is_enabled, name));
    if response.gained_focus() {
        response.scroll_to_me(None);
    }
    if response.has_focus() {
        // Arrows mean here what they mean while nothing has the keyboard.
        let arrows = EventFilter { horizontal_arrows: true, vertical_arrows: true, ..EventFilter::default() };
        ui.memory_mut(|memory| memory.set_focus_lock_filter(id, arrows));
    }
    let nth = scene.parts.len();
    scene.parts.push(Part { id, rect: head });
    let drawn = ui.scope(|ui| draw(ui, scene));
    let rect = drawn.response.rect;
    scene.parts[nth].rect = rect;
    paint_focus(ui, &response, rect.intersect(ui.clip_rect()).shrink(2.0));
    drawn.inner
}

/// To the next part, or the one before: from the part that holds what has the keyboard.
pub fn go(ctx: &egui::Context, parts: &[Part], way: isize) {
    let focused = ctx.memory(|memory| memory.focused());
    let at = focused.and_then(|id| {
        let middle = ctx.read_response(id).map(|response| response.rect.center());
        let known = parts.iter().position(|part| part.id == id);
        // The innermost, which comes after the one around it.
        known.or_else(|| parts.iter().rposition(|part| middle.is_some_and(|at| part.rect.contains(at))))
    });
    let count = parts.len() as isize;
    if count == 0 {
        return;
    }
    let next = match (at, way) {
        (Some(at), way) => (at as isize + way).rem_euclid(count),
        (None, 1..) => 0,
        (None, _) => count - 1,
    };
    let id = parts[next as usize].id;
    ctx.memory_mut(|memory| memory.request_focus(id));
    ctx.request_repaint();
}

/// What is pressed, and reached by Tab only where it is a stop.
pub fn stop(sense: Sense, is_stop: bool) -> Sense {
    if is_stop { sense | Sense::FOCUSABLE } else { sense - Sense::FOCUSABLE }
}

/// Whether this is the head of a part, which uses no key for itself.
pub fn is_head(ctx: &egui::Context, id: Id) -> bool {
    ctx.data(|data| data.get_temp::<Heads>(Id::unique(HEADS))).is_some_and(|heads| heads.0.contains(&id))
}

/// Where the heads of the last pass are kept.
const HEADS: &str = "heads of parts";

#[derive(Clone, Default)]
struct Heads(Vec<Id>);

/// A line around whatever has the keyboard, on top of it: to be drawn once everything is.
pub fn ring(ctx: &egui::Context, parts: &[Part]) {
    let heads = Heads(parts.iter().map(|part| part.id).collect());
    ctx.data_mut(|data| data.insert_temp(Id::unique(HEADS), heads));
    let focused = ctx.memory(|memory| memory.focused()).filter(|id| !is_head(ctx, *id));
    let Some(response) = focused.and_then(|id| ctx.read_response(id)) else { return };
    let rect = response.rect.intersect(response.interact_rect.expand(2.0));
    let stroke = Stroke::new(1.5, palette(ctx).bright);
    let painter = ctx.layer_painter(response.layer_id);
    painter.rect_stroke(rect.expand(1.5), f32::from(CORNER), stroke, StrokeKind::Outside);
}

/// Entries that are one stop of Tab: arrows go from one to the next.
pub struct Entries {
    id: Id,
    kept: Kept,
    /// The first and the last that were drawn in this pass.
    drawn: Option<(usize, usize)>,
    /// Whether the one that Tab reaches was.
    is_there: bool,
    /// Where an arrow leads, from the next pass on.
    to: Option<usize>,
}

/// What is kept of them from pass to pass.
#[derive(Clone, Copy, Default)]
struct Kept {
    /// The entry that Tab reaches.
    at: usize,
    /// The first and the last that were drawn.
    drawn: (usize, usize),
    /// Whether that entry is to have the keyboard.
    wants: bool,
}

impl Entries {
    /// The entries of a list that has this name.
    pub fn of(ui: &Ui, name: impl std::hash::Hash + std::fmt::Debug) -> Self {
        let id = Id::unique(("entries", name));
        let kept = ui.data(|data| data.get_temp(id)).unwrap_or_default();
        Self { id, kept, drawn: None, is_there: false, to: None }
    }

    /// Whether this is the entry that Tab reaches.
    pub fn is_current(&self, nth: usize) -> bool {
        nth == self.kept.at
    }

    /// What an entry takes: Tab reaches one of them only.
    pub fn sense(&self, nth: usize, sense: Sense) -> Sense {
        stop(sense, self.is_current(nth))
    }

    /// To be told of each entry, as it was drawn.
    pub fn drawn(&mut self, ui: &Ui, nth: usize, response: &Response) {
        self.drawn = Some((self.drawn.map_or(nth, |(first, _)| first), nth));
        if response.clicked() {
            (self.kept.at, self.is_there) = (nth, true);
            return;
        }
        if nth != self.kept.at {
            // Who listens to the window goes to any of them at once.
            let focus = egui::accesskit::Action::Focus;
            if ui.input(|input| input.has_accesskit_action_request(response.id, focus)) {
                self.to = Some(nth);
                ui.ctx().request_repaint();
            }
            return;
        }
        self.is_there = true;
        if std::mem::take(&mut self.kept.wants) {
            response.request_focus();
            response.scroll_to_me(None);
        }
        if !response.has_focus() {
            return;
        }
        let arrows = EventFilter { horizontal_arrows: true, vertical_arrows: true, ..EventFilter::default() };
        ui.memory_mut(|memory| memory.set_focus_lock_filter(response.id, arrows));
        let pressed = |event: &Event| match event {
            Event::Key { key, pressed: true, modifiers: Modifiers::NONE, .. } => match key {
                Key::ArrowRight | Key::ArrowDown => 1,
                Key::ArrowLeft | Key::ArrowUp => -1,
                _ => 0,
            },
            _ => 0,
        };
        let step = ui.input(|input| input.events.iter().map(pressed).find(|step| *step != 0)).unwrap_or(0);
        let (first, last) = self.kept.drawn;
        let to = nth.saturating_add_signed(step).clamp(first.min(nth), last.max(nth));
        if to != nth {
            self.to = Some(to);
            ui.ctx().request_repaint();
        }
    }

    /// To be called once all are drawn.
    pub fn end(mut self, ui: &Ui) {
        let Some(drawn) = self.drawn else { return };
        self.kept.drawn = drawn;
        if !self.is_there {
            // What was scrolled out of sight is reached no more; the first in sight is.
            self.kept.at = drawn.0;
        }
        if let Some(to) = self.to {
            (self.kept.at, self.kept.wants) = (to, true);
        }
        let (id, kept) = (self.id, self.kept);
        ui.data_mut(|data| data.insert_temp(id, kept));
    }
}
