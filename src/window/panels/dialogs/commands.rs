//! Every command, chosen by its words.

use egui::{Align, Id, Key, Modifiers, RichText, ScrollArea, Sense, Ui, vec2};

use super::is_entered;
use crate::window::action::Action;
use crate::window::keys::{Entry, entries};
use crate::window::scene::Scene;
use crate::window::theme::{CORNER, palette};
use crate::window::widgets::text::TextField;
use crate::window::widgets::{announce, cut_text, draft, keep_draft, scrolled};

/// Height of an entry, in points.
const ENTRY: f32 = 24.0;

/// The place of the entry that Enter takes, among those that are shown.
#[derive(Clone, Copy, Default)]
struct Marked(usize);

/// Draws the dialog.
pub(super) fn show(ui: &mut Ui, scene: &mut Scene<'_>) {
    ui.set_min_width(520.0);
    let id = Id::unique("search commands");
    let mut search = draft(ui, id, String::new);
    // Asked first: a line of text would use the arrows for itself.
    let step = ui.input_mut(|input| {
        let mut count = |key| input.count_and_consume_key(Modifiers::NONE, key) as isize;
        count(Key::ArrowDown) - count(Key::ArrowUp) + 8 * (count(Key::PageDown) - count(Key::PageUp))
    });
    let field = TextField::new("Search commands", 500.0).hint("what to do").show(ui, &mut search);
    let is_taken = is_entered(ui, &field);
    let words: Vec<String> = search.to_lowercase().split_whitespace().map(str::to_owned).collect();
    let found: Vec<Entry> = entries().into_iter().filter(|entry| entry.has(&words)).collect();
    let marked = id.with("marked");
    let before: Marked = ui.data(|data| data.get_temp(marked)).unwrap_or_default();
    let at = if field.changed() { 0 } else { before.0 };
    let at = at.saturating_add_signed(step).min(found.len().saturating_sub(1));
    ui.data_mut(|data| data.insert_temp(marked, Marked(at)));
    keep_draft(ui, id, search);
    let mut taken = if is_taken { found.get(at) } else { None };
    ui.add_space(4.0);
    let height = (ui.ctx().content_rect().height() - 150.0).clamp(120.0, 420.0);
    scrolled(ui, ScrollArea::vertical().max_height(height).auto_shrink([false, true]), |ui| {
        ui.spacing_mut().item_spacing.y = 1.0;
        for (nth, entry) in found.iter().enumerate() {
            let cannot = entry.cannot(scene);
            let response = one(ui, entry, cannot, nth == at);
            if nth == at && (step != 0 || field.changed()) {
                response.scroll_to_me(Some(Align::Center));
            }
            if response.clicked() {
                taken = Some(entry);
            }
        }
        if found.is_empty() {
            ui.label("No command has these words.");
        }
    });
    ui.small("Up and down choose, Enter does it, Esc is the way out.");
    if let Some(entry) = taken {
        match entry.cannot(scene) {
            None => {
                scene.act(Action::Close);
                entry.carry_out(scene);
            }
            Some(why) => scene.act(Action::Say(format!("{}: {why}.", entry.says))),
        }
    }
}

/// One command: its words, why it cannot be done now, and its keys.
fn one(ui: &mut Ui, entry: &Entry, cannot: Option<&str>, is_marked: bool) -> egui::Response {
    let palette = palette(ui.ctx());
    let (rect, response) = ui.allocate_exact_size(vec2(ui.available_width(), ENTRY), Sense::click());
    let why = cannot.map_or_else(String::new, |why| format!(" ({why})"));
    announce(&response, &format!("{}, {}{why}", entry.says, entry.key), Some(is_marked));
    if is_marked || response.hovered() {
        let fill = if is_marked { palette.lifted } else { palette.raised };
        ui.painter().rect_filled(rect, f32::from(CORNER), fill);
    }
    if is_marked {
        let bar = rect.with_max_x(rect.left() + 3.0);
        ui.painter().rect_filled(bar, 1.5, palette.accent);
    }
    let colour = if cannot.is_some() { palette.quiet } else { palette.bright };
    let keys = cut_text(ui, &entry.key, 12.0, palette.quiet, 130.0);
    let right = rect.right() - 8.0 - keys.size().x;
    let middle = |galley: &egui::Galley| rect.center().y - galley.size().y / 2.0;
    ui.painter().galley(egui::pos2(right, middle(&keys)), std::sync::Arc::clone(&keys), palette.quiet);
    let left = rect.left() + 10.0;
    let says = cut_text(ui, &entry.says, 13.0, colour, right - left - 8.0);
    let end = left + says.size().x;
    ui.painter().galley(egui::pos2(left, middle(&says)), says, colour);
    if !why.is_empty() && right - end > 60.0 {
        let why = cut_text(ui, &why, 11.0, palette.quiet, right - end - 14.0);
        ui.painter().galley(egui::pos2(end + 2.0, middle(&why)), why, palette.quiet);
    }
    response.on_hover_text(RichText::new(format!("{}{why}", entry.group)))
}
