//! Which effect goes into a gap: each shows in the large picture what it would make, before it is taken.

use std::sync::Arc;

use egui::{
    Align, Align2, Area, Color32, Context, Id, Key, Modal, Modifiers, Rect, Response, ScrollArea, Sense, Ui,
    vec2,
};

use super::is_entered;
use crate::catalogue::{Effect, found, meant};
use crate::edit::{Edit, Spot};
use crate::show::Show;
use crate::show::chain::EffectUse;
use crate::window::action::Action;
use crate::window::scene::{Scene, shown_of};
use crate::window::showing::{Preview, Tried};
use crate::window::theme::{CORNER, palette};
use crate::window::widgets::hint::hint_beside;
use crate::window::widgets::parts::striped;
use crate::window::widgets::text::TextField;
use crate::window::widgets::{announce, cut_text, draft, keep_draft, labels, paint_focus, scrolled};

/// Height of an effect in the list, in points.
const EFFECT: f32 = 40.0;
/// Room between the sheet and what is around it.
const MARGIN: f32 = 12.0;
/// The least room that the list takes.
const LEAST: [f32; 2] = [240.0, 100.0];

/// The place of the effect that the keys have chosen, among those that are shown.
#[derive(Clone, Copy, Default)]
struct Marked(Option<usize>);

/// Where the sheet stands: over the tabs.
pub(super) fn room(ctx: &Context, scene: &Scene<'_>) -> Rect {
    let beside = scene.regions.iter().find(|(name, _)| *name == "beside").map(|(_, rect)| *rect);
    let window = ctx.content_rect();
    let room = beside.unwrap_or_else(|| window.with_min_x(window.right() - 420.0));
    room.shrink(MARGIN)
}

/// A sheet over the tabs that lets the rest be seen as it is.
pub(super) fn beside(ctx: &Context, scene: &Scene<'_>, id: Id) -> Modal {
    let (room, window) = (room(ctx, scene), ctx.content_rect());
    let offset = vec2(room.right() - window.right(), room.top() - window.top());
    let area = Modal::default_area(id).anchor(Align2::RIGHT_TOP, offset);
    Modal::new(id).area(quiet(area)).backdrop_color(Color32::TRANSPARENT)
}

/// It is there at once: what fades in beside a picture takes the eye from it.
fn quiet(area: Area) -> Area {
    area.fade_in(false)
}

/// Draws the sheet.
pub(super) fn add(ui: &mut Ui, scene: &mut Scene<'_>, spot: Spot) {
    let room = room(ui.ctx(), scene);
    let width = room.width().max(LEAST[0]) - 24.0;
    ui.set_width(width);
    let id = Id::unique("add an effect");
    let mut search = draft(ui, id, String::new);
    let title = egui::RichText::new(place_of(scene.show(), spot)).heading();
    striped(ui, scene.show().colour(spot.scope), |ui| ui.add(egui::Label::new(title).truncate()));
    // Asked first: a line of text would use the arrows for itself.
    let step = ui.input_mut(|input| {
        let mut count = |key| input.count_and_consume_key(Modifiers::NONE, key) as isize;
        count(Key::ArrowDown) - count(Key::ArrowUp) + 6 * (count(Key::PageDown) - count(Key::PageUp))
    });
    let entry = TextField::new("Search effects", width - 8.0).hint("search").show(ui, &mut search);
    let is_taken = is_entered(ui, &entry);
    let found: Vec<Arc<Effect>> = found(scene.catalogue.effects(), &search).into_iter().cloned().collect();
    let marked = marked(ui, id.with("marked"), (entry.changed(), &search), step, found.len());
    keep_draft(ui, id, search.clone());
    let mut chosen = if is_taken { found.get(marked.unwrap_or(0)).cloned() } else { None };
    ui.add_space(4.0);
    let height = (room.bottom() - ui.cursor().top() - 44.0).max(LEAST[1]);
    scrolled(ui, ScrollArea::vertical().max_height(height).auto_shrink([false, true]), |ui| {
        ui.spacing_mut().item_spacing.y = 2.0;
        for (nth, effect) in found.iter().enumerate() {
            // Enter takes the first, which is tried only once somebody has come to it.
            let response = one(ui, effect, marked.unwrap_or(0) == nth);
            hint_beside(scene, &response, &effect.summary);
            let is_chosen = marked == Some(nth);
            if is_chosen && (step != 0 || entry.changed()) {
                response.scroll_to_me(Some(Align::Center));
            }
            point(scene, (&response, &entry, is_chosen), spot, effect);
            if response.clicked() {
                chosen = Some(Arc::clone(effect));
            }
        }
        if found.is_empty() {
            let near = meant(scene.catalogue.effects(), search.trim());
            let hint = near.map_or_else(String::new, |near| format!(" Did you mean {near}?"));
            ui.label(format!("No effect is called that or does that.{hint}"));
        }
    });
    ui.small("Up and down choose, Enter adds it, Esc is the way out.");
    if let Some(effect) = chosen {
        scene.act(Action::Edit(Edit::Add { into: spot, used: Box::new(EffectUse::new(effect)) }));
        scene.act(Action::Select(spot));
        scene.act(Action::Close);
    }
}

/// The effect that Enter takes: the first that was found, or the one that the arrows have come to.
fn marked(ui: &Ui, id: Id, (is_new, search): (bool, &str), step: isize, found: usize) -> Option<usize> {
    let Marked(before) = ui.data(|data| data.get_temp(id)).unwrap_or_default();
    let first = (!search.trim().is_empty()).then_some(0);
    let at = if is_new { first } else { before };
    let last = found.checked_sub(1);
    let at = match (at, step) {
        (None, 1..) => Some(step as usize - 1),
        (at, step) => at.map(|at| at.saturating_add_signed(step)),
    };
    let at = at.zip(last).map(|(at, last)| at.min(last));
    ui.data_mut(|data| data.insert_temp(id, Marked(at)));
    at
}

/// Has tried what is pointed at, or what the keys have come to.
fn point(
    scene: &mut Scene<'_>,
    (row, entry, is_chosen): (&Response, &Response, bool),
    spot: Spot,
    effect: &Arc<Effect>,
) {
    let preview = |scene: &mut Scene<'_>| {
        let used = Box::new(EffectUse::new(Arc::clone(effect)));
        let edit = Edit::Add { into: spot, used };
        Some(Preview {
            tried: Tried::Edit(edit),
            said: format!("{}, {}", effect.name, lower_first(&place_of(scene.show(), spot))),
        })
    };
    scene.point(row, preview);
    if is_chosen && entry.has_focus() {
        scene.choose(row.id, preview);
    }
}

/// One effect: its name, and what it does.
fn one(ui: &mut Ui, effect: &Effect, is_marked: bool) -> Response {
    let palette = palette(ui.ctx());
    let (rect, response) = ui.allocate_exact_size(vec2(ui.available_width(), EFFECT), Sense::click());
    announce(&response, &format!("Add {}", effect.name), Some(is_marked));
    let fill = match (is_marked || response.has_focus(), response.hovered()) {
        (true, _) => palette.lifted,
        (false, true) => palette.raised,
        (false, false) => palette.panel,
    };
    ui.painter().rect_filled(rect, f32::from(CORNER), fill);
    if is_marked {
        ui.painter().rect_filled(rect.with_max_x(rect.left() + 3.0), 1.5, palette.accent);
    }
    let room = rect.width() - 18.0;
    let name = cut_text(ui, &effect.name, 14.0, palette.bright, room);
    ui.painter().galley(rect.min + vec2(10.0, 3.0), name, palette.bright);
    let summary = cut_text(ui, &effect.summary, 12.0, palette.quiet, room);
    ui.painter().galley(rect.min + vec2(10.0, 21.0), summary, palette.quiet);
    paint_focus(ui, &response, rect.shrink(1.0));
    response
}

fn lower_first(text: &str) -> String {
    let mut signs = text.chars();
    signs.next().map_or_else(String::new, |first| first.to_lowercase().chain(signs).collect())
}

/// "Over tint, under mirror, on bundle:picture".
fn place_of(show: &Show, spot: Spot) -> String {
    let names = labels(show.chain(spot.scope));
    let over = spot.at.checked_sub(1).and_then(|at| names.get(at));
    let place = match (over, names.get(spot.at)) {
        (Some(over), Some(under)) => format!("Over {over}, under {under}"),
        (Some(over), None) => format!("Over {over}"),
        (None, Some(under)) => format!("Under {under}"),
        (None, None) => "The first effect".to_owned(),
    };
    format!("{place}, on {}", shown_of(show, spot.scope))
}
