//! The small pictures of the path: what a scope gives after some of its effects, moving while it is pointed at.

use std::time::Duration;

use egui::{Id, Rect, Response, Ui, Vec2, pos2};

use super::{paint_picture, texels};
use crate::readiness::caution;
use crate::show::Scope;
use crate::window::pictures::{Stage, Urgency};
use crate::window::scene::Scene;

/// How many pictures a second one shows at most while it is pointed at.
const MOVES_A_SECOND: f64 = 12.5;

/// The picture that moves.
#[derive(Clone, Copy)]
struct Moving {
    /// Where it stands.
    place: Id,
    /// Since when it is pointed at, in seconds.
    since: f64,
    /// How far its picture has come, in seconds.
    secs: f64,
}

/// Paints what a scope gives after some of its effects, as large as fills the place, the sides cut off. While its card
/// is pointed at, it moves on from where the beat stands.
pub fn paint_stage(
    ui: &Ui,
    scene: &mut Scene<'_>,
    (place, card): (Id, &Response),
    rect: Rect,
    (scope, stage): (Scope, &Stage),
) {
    let id = Id::unique("moves under the pointer");
    let known = ui.data(|data| data.get_temp::<Moving>(id)).filter(|moving| moving.place == place);
    let now = ui.input(|input| input.time);
    let moving = may_move(scene, card).then(|| known.unwrap_or(Moving { place, since: now, secs: 0.0 }));
    let show = scene.seen_at_rest.clone();
    let moment = moving.map_or(scene.moment, |moving| {
        scene.view.moment(&show, scene.view.beats + moving.secs * show.tempo_bpm / 60.0)
    });
    // As large as fills the card, the sides cut off.
    let aspect = moment.frame.width as f32 / moment.frame.height as f32;
    let whole = Vec2::new(rect.width().max(rect.height() * aspect), rect.height().max(rect.width() / aspect));
    let size = texels(ui, whole, moment.frame);
    let wanted = scene.pictures.wanted(&show, scope, moment, stage);
    // It goes on once its picture is there, and has been shown.
    let is_made = wanted.as_ref().is_none_or(|wanted| scene.pictures.is_made(wanted, size));
    match moving {
        Some(moving) => {
            let gone_on = ((now - moving.since) * MOVES_A_SECOND).floor() / MOVES_A_SECOND;
            let secs = if is_made { gone_on.max(moving.secs) } else { moving.secs };
            ui.data_mut(|data| data.insert_temp(id, Moving { secs, ..moving }));
            ui.ctx().request_repaint_after(Duration::from_secs_f64(1.0 / MOVES_A_SECOND));
        }
        None if known.is_some() => ui.data_mut(|data| data.remove::<Moving>(id)),
        None => {}
    }
    let placed = wanted.and_then(|wanted| scene.pictures.place(place, &wanted, size, false, Urgency::Path));
    let Some(placed) = placed else { return paint_picture(ui, rect, None) };
    let uv = Rect::from_center_size(pos2(0.5, 0.5), rect.size() / whole);
    ui.painter().image(placed.texture, rect, uv, egui::Color32::WHITE);
}

/// Whether a card's picture moves: it is pointed at, time stands still, nothing is dragged. What may flash stands still
/// until it is played.
fn may_move(scene: &Scene<'_>, card: &Response) -> bool {
    let is_free = !scene.view.playing && scene.view.dragged().is_none();
    let is_calm = || {
        let is_counted = scene.flashes.found.as_deref().is_some_and(|found| !found.passes());
        !is_counted && caution::of_show(&scene.seen_at_rest).is_none()
    };
    card.hovered() && is_free && is_calm()
}
