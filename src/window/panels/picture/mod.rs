//! The large picture: the output, the picture after an effect, another order, or two orders compared.

mod closer;
mod line;
mod pair;
mod title;

use egui::{Id, Pos2, Rect, Ui, Vec2, vec2};

use crate::base::coding::ColourCode;
use crate::base::frame::Frame;
use crate::base::shown::shown_error;
use crate::gpu::Wanted;
use crate::show::Scope;
use crate::show::chain::one_after_another;
use crate::window::pictures::{Placed, Stage, Urgency};
use crate::window::scene::Scene;
use crate::window::showing::{Comparing, Row, Shown, Side};
use crate::window::theme::palette;
use crate::window::widgets::carried::adopt_place;
use crate::window::widgets::{font, labels, name, paint_picture, texels};
use closer::{Look, look_closer, outline, pixel_at};
use line::LINE;
use pair::{halves, pair_canvas};
use title::title;

/// What the large picture is, in words and as what can be done with it: painted together with the picture that it
/// is about, however long that takes to make.
#[derive(Debug, Clone, PartialEq)]
struct Heading {
    shown: Shown,
    /// While something is tried, what is and how it would be.
    tried: Option<[String; 2]>,
    /// The chain in words, or the name of an effect and of its scope.
    words: [String; 2],
    /// The colour of the scope.
    colour: Option<ColourCode>,
    /// The orders shown, by their effects and in words.
    rows: Vec<(Row, String)>,
}

impl Heading {
    /// The heading of what is asked for now.
    fn of(scene: &Scene<'_>) -> Self {
        let shown = scene.view.shown.clone();
        let row = |scope: Scope, order: &[usize]| {
            let labels = labels(scene.show().chain(scope));
            (scene.row(scope, order), one_after_another(order.iter().map(|&place| labels[place].as_str())))
        };
        let (words, rows) = match &shown {
            Shown::Output => {
                let chain = scene.said_chain(scene.view.scope);
                let said =
                    scene.section_said().map_or(chain.clone(), |section| format!("{section}: {chain}"));
                ([said, String::new()], Vec::new())
            }
            Shown::Found(row) => {
                let labels = labels(&row.effects);
                let on = labels
                    .iter()
                    .zip(&row.effects)
                    .filter(|(_, used)| used.on)
                    .map(|(label, _)| label.as_str());
                ([one_after_another(on), scene.address(row.scope)], Vec::new())
            }
            Shown::After(spot) => {
                let label = labels(scene.show().chain(spot.scope)).swap_remove(spot.at);
                ([format!("After {label}"), scene.address(spot.scope)], Vec::new())
            }
            Shown::Order { scope, order } => (Default::default(), vec![row(*scope, order)]),
            Shown::Pair(pair) => {
                (Default::default(), pair.sides().map(|side| side_said(scene, side)).to_vec())
            }
        };
        let scope = match &shown {
            Shown::Output => scene.view.alone.unwrap_or(scene.view.scope),
            Shown::After(spot) => spot.scope,
            Shown::Order { scope, .. } => *scope,
            Shown::Found(row) => row.scope,
            Shown::Pair(pair) => pair.left.scope(),
        };
        let tried = scene.tried_said();
        Self { shown, tried, words, colour: scene.show().colour(scope), rows }
    }

    /// The pictures that belong to it, in a room of this size.
    fn parts(&self, room: Rect, frame: Frame, effects: usize) -> Vec<Part> {
        let part = |place, room, what| Part { place, room, what };
        let mut whats = self.whats(effects);
        let (Shown::Pair(pair), None) = (&self.shown, &self.tried) else {
            return whats.into_iter().map(|what| part("large", room, what)).collect();
        };
        let under = room.shrink2(vec2(1.0, 22.0));
        let (left, right) = match pair.way {
            Comparing::Beside => halves(room, frame),
            Comparing::Wipe | Comparing::Blink => (under, under),
            Comparing::Difference => return vec![part("difference", under, What::Apart(whats))],
        };
        let Some((right_one, left_one)) = whats.pop().zip(whats.pop()) else { return Vec::new() };
        vec![part("left", left, left_one), part("right", right, right_one)]
    }

    /// What it shows: one picture, or two that are compared.
    fn whats(&self, effects: usize) -> Vec<What> {
        let output = || What::Seen(Scope::Global, Stage::Output((0..effects).collect()));
        match &self.shown {
            _ if self.tried.is_some() => vec![output()],
            Shown::Output | Shown::Found(_) => vec![output()],
            Shown::After(spot) => vec![What::Seen(spot.scope, Stage::After((0..=spot.at).collect()))],
            Shown::Order { scope, order } => vec![What::Seen(*scope, Stage::Output(order.clone()))],
            Shown::Pair(pair) => {
                let side = |(nth, side): (usize, &Side)| match side {
                    Side::Order { scope, order } => What::Seen(*scope, Stage::Output(order.clone())),
                    Side::Kept { .. } => What::Kept(nth),
                };
                pair.sides().into_iter().enumerate().map(side).collect()
            }
        }
    }
}

/// A picture of the canvas: the room that it has, and what it is.
struct Part {
    place: &'static str,
    room: Rect,
    what: What,
}

/// What a picture is of.
#[derive(Debug, Clone)]
enum What {
    /// The show that is seen.
    Seen(Scope, Stage),
    /// One of two that are compared, which is kept apart from the work.
    Kept(usize),
    /// How far two are apart.
    Apart(Vec<What>),
}

/// The heading to draw: that of what is asked for once its pictures are there, until then that of what is painted.
fn heading(ui: &Ui, scene: &mut Scene<'_>) -> (Heading, bool) {
    let now = Heading::of(scene);
    let id = Id::unique("heading of the large picture");
    let before = ui.data(|data| data.get_temp::<Heading>(id)).filter(|before| *before != now);
    let room = ui.data(|data| data.get_temp::<Rect>(Id::unique(ROOM)));
    let is_back = keep_rest(ui, scene, &now, room);
    let waits = before.is_some() && !is_back && room.is_some_and(|room| !is_ready(ui, scene, &now, room));
    let heading = before.filter(|_| waits).unwrap_or(now);
    ui.data_mut(|data| data.insert_temp(id, heading.clone()));
    (heading, waits)
}

/// Keeps the pictures of what is shown at rest while something is tried, so that they are back at once when it is
/// over; gives whether it is over, and they are what is asked for.
fn keep_rest(ui: &Ui, scene: &mut Scene<'_>, now: &Heading, room: Option<Rect>) -> bool {
    let id = Id::unique("heading of the large picture at rest");
    let rest = ui.data(|data| data.get_temp::<Heading>(id));
    let tries = Id::unique("the large picture tries something");
    let tried = ui.data(|data| data.get_temp::<bool>(tries)).unwrap_or_default();
    ui.data_mut(|data| data.insert_temp(tries, now.tried.is_some()));
    if now.tried.is_none() {
        ui.data_mut(|data| data.insert_temp(id, now.clone()));
        return tried && rest.as_ref() == Some(now);
    }
    if let Some((rest, room)) = rest.zip(room) {
        for part in rest.parts(room, scene.show().frame, 0) {
            let _ = scene.pictures.last(place_of(&rest, &part), false);
        }
    }
    false
}

/// Where the room of the canvas in the last pass is remembered.
const ROOM: &str = "room of the large picture";

/// Asks for the pictures of a heading; whether all are there.
fn is_ready(ui: &Ui, scene: &mut Scene<'_>, heading: &Heading, room: Rect) -> bool {
    let frame = scene.show().frame;
    let look = look(ui, scene);
    let mut is_ready = true;
    for part in heading.parts(room, frame, scene.seen.global.len()) {
        let rect = Look::place(look, part.room, frame);
        let Some((wanted, size)) = wanted(ui, scene, rect, &part.what) else { continue };
        is_ready &= scene.pictures.is_made(&wanted, size);
        scene.pictures.ask(&wanted, size, Urgency::Large);
    }
    is_ready
}

/// How the picture is looked at, where one pixel of the frame takes so many of the screen.
fn look(ui: &Ui, scene: &Scene<'_>) -> Option<Look> {
    let frame = scene.show().frame;
    let zoom = scene.view.zoom?;
    let size = vec2(frame.width as f32, frame.height as f32) * zoom / ui.pixels_per_point();
    Some(Look { size: size.max(Vec2::ZERO), centre: scene.view.centre })
}

/// Draws the picture, what it is, and the beat, above what takes so much of the height; gives whether `more` is left
/// below that, as the picture is no higher than its width asks for.
pub fn show(ui: &mut Ui, scene: &mut Scene<'_>, taken: f32, more: f32) -> bool {
    let (heading, waits) = heading(ui, scene);
    ui.horizontal_top(|ui| title(ui, scene, &heading));
    let below = 6.0 + LINE + taken;
    let frame = scene.show().frame;
    let most = (ui.available_height() - below).max(60.0);
    // As high as the width asks for, so that what belongs to the picture stands right under it.
    let ideal = ui.available_width() * frame.height as f32 / frame.width as f32;
    let is_pair = matches!(heading.shown, Shown::Pair(_));
    let free = scene.view.zoom.is_some() || is_pair || most - ideal < more;
    let room = vec2(ui.available_width(), if free { most } else { ideal });
    let room = Rect::from_min_size(ui.cursor().min, room);
    let pointed = in_room(ui, scene, room, (&heading, waits));
    let said = line::said(scene, &heading, pointed, ui.ctx());
    line::show(ui, &said);
    !free
}

/// Draws the picture over all of the room but what is taken below.
pub fn alone(ui: &mut Ui, scene: &mut Scene<'_>, below: f32) {
    let (heading, waits) = heading(ui, scene);
    let room = ui.available_rect_before_wrap();
    let room = room.with_max_y(room.bottom() - below);
    let pointed = in_room(ui, scene, room, (&heading, waits));
    if pointed.is_some() && scene.view.zoom.is_some() {
        let said = line::said(scene, &heading, pointed, ui.ctx());
        line::over(ui, room, &said);
    }
}

/// Draws the canvas in its room; gives the pixel that is pointed at.
fn in_room(
    ui: &mut Ui,
    scene: &mut Scene<'_>,
    room: Rect,
    (heading, waits): (&Heading, bool),
) -> Option<[u32; 2]> {
    ui.data_mut(|data| data.insert_temp(Id::unique(ROOM), room));
    let builder = egui::UiBuilder::new().max_rect(room);
    let pointed = ui.scope_builder(builder, |ui| canvas(ui, scene, heading, waits)).inner;
    ui.advance_cursor_after_rect(room);
    pointed
}

/// Draws the pictures; gives the pixel that is pointed at.
fn canvas(ui: &mut Ui, scene: &mut Scene<'_>, heading: &Heading, waits: bool) -> Option<[u32; 2]> {
    let room = ui.available_rect_before_wrap();
    ui.painter().rect_filled(room, 3.0, palette(ui.ctx()).ground);
    ui.shrink_clip_rect(room);
    let parts = heading.parts(room, scene.show().frame, scene.seen.global.len());
    let pointed = match (&heading.shown, &heading.tried) {
        (Shown::Pair(pair), None) => pair_canvas(ui, scene, (pair, heading), &parts, waits),
        _ => parts.first().and_then(|part| {
            let rect = Look::place(look(ui, scene), room, scene.show().frame);
            let at = look_closer(ui, scene, ("The picture", room, rect));
            let placed = made(ui, scene, (heading, waits), part, rect);
            paint_picture(ui, rect, placed);
            pixel_under(ui, scene, at, rect)
        }),
    };
    problem(ui, scene, room);
    adopt_place(ui, scene, room);
    pointed
}

/// The pixel of what is rendered under a point of a picture, outlined where it is large enough.
fn pixel_under(ui: &Ui, scene: &Scene<'_>, at: Option<Pos2>, rect: Rect) -> Option<[u32; 2]> {
    let frame = scene.large.frame;
    let pixel = pixel_at(rect, frame, at?)?;
    outline(ui, rect, frame, pixel);
    Some(pixel)
}

fn problem(ui: &Ui, scene: &Scene<'_>, room: Rect) {
    let loading = scene.pictures.is_loading().then(|| {
        let clip = scene.show().clip(scene.view.clip);
        let footage = clip.map_or_else(String::new, |clip| clip.footage.to_string());
        format!("Loading footage: {} \u{2026}", name(&footage))
    });
    let Some(text) = scene.pictures.problem().map(shown_error).or(loading) else { return };
    let palette = palette(ui.ctx());
    let galley = ui.painter().layout(text, font(13.0), palette.bright, room.width() * 0.8);
    let rect = Rect::from_center_size(room.center(), galley.size() + vec2(28.0, 20.0));
    ui.painter().rect_filled(rect, 6.0, palette.panel);
    ui.painter().galley(rect.min + vec2(14.0, 10.0), galley, palette.bright);
}

/// Where pictures of the canvas are known to stand: those of another heading never stand in for them.
fn place_of(heading: &Heading, part: &Part) -> Id {
    let rows: Vec<&str> = heading.rows.iter().map(|(_, text)| text.as_str()).collect();
    Id::unique(("canvas", part.place, &heading.tried, &heading.words, rows))
}

/// A picture of the canvas.
fn wanted_of(scene: &mut Scene<'_>, what: &What) -> Option<Wanted> {
    let moment = scene.large;
    match what {
        What::Seen(scope, stage) => {
            // While something is tried, the show as it would be.
            let show = scene.seen.clone();
            scene.pictures.wanted(&show, *scope, moment, stage)
        }
        What::Kept(nth) => {
            let show = scene.sides[*nth].clone()?;
            let stage = Stage::Output((0..show.global.len()).collect());
            scene.pictures.wanted(&show, Scope::Global, moment, &stage)
        }
        What::Apart(two) => {
            let [a, b] = &two[..] else { return None };
            let (a, b) = (wanted_of(scene, a)?, wanted_of(scene, b)?);
            scene.pictures.apart(&a, &b)
        }
    }
}

/// A picture, and the size at which it is made for a place.
fn wanted(ui: &Ui, scene: &mut Scene<'_>, rect: Rect, what: &What) -> Option<(Wanted, Frame)> {
    let wanted = wanted_of(scene, what)?;
    let frame = scene.large.frame;
    let size = if scene.view.zoom.is_some() { frame } else { texels(ui, rect.size(), frame) };
    // A picture that is nearly as large as its frame is shown whole, so that the place's size does not matter.
    Some((wanted, if size.texels() * 2 > frame.texels() { frame } else { size }))
}

/// The picture of a part, or the last that stood there; where another heading waits for its pictures, only that.
fn made(
    ui: &Ui,
    scene: &mut Scene<'_>,
    (heading, waits): (&Heading, bool),
    part: &Part,
    rect: Rect,
) -> Option<Placed> {
    let single = scene.view.zoom.is_some_and(|zoom| zoom >= 1.0);
    let place = place_of(heading, part);
    if waits {
        return scene.pictures.last(place, single);
    }
    let (wanted, size) = wanted(ui, scene, rect, &part.what)?;
    scene.pictures.place(place, &wanted, size, single, Urgency::Large)
}

/// One of two that are compared: its effects, and in words.
fn side_said(scene: &Scene<'_>, side: &Side) -> (Row, String) {
    let row = side.row(scene.show());
    let order = one_after_another(labels(&row.effects).iter().map(String::as_str));
    match side {
        Side::Order { .. } => (row, order),
        Side::Kept { name, .. } => (row, format!("{}: {order}", self::name(name))),
    }
}
