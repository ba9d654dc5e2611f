//! An order on several pieces of footage: a strip of small pictures, one a piece, always in the same turn.

use egui::{Id, Rect, Ui, Vec2, vec2};

use crate::beat::{Beats, Moment};
use crate::window::pictures::{Stage, Urgency};
use crate::window::scene::Scene;
use crate::window::theme::palette;
use crate::window::threads::prover::{OnPieces, PieceSeen};
use crate::window::widgets::{cut_text, paint_picture, texels};

/// The least width of a picture, and the most.
const PICTURE: [f32; 2] = [84.0, 150.0];
const GAP: f32 = 4.0;
/// Height of a piece's name under its picture.
const NAME: f32 = 15.0;

/// How the pictures of a strip stand.
#[derive(Debug, Clone, Copy)]
pub struct Strip {
    /// In a line; what is more stands in further lines.
    a_line: usize,
    lines: usize,
    /// Of a picture.
    size: Vec2,
}

impl Strip {
    /// In a room of this width; pictures are as large as `percent` of the usual.
    pub fn of(width: f32, aspect: f32, pieces: usize, percent: u32) -> Self {
        let [least, most] = PICTURE.map(|side| (side * percent as f32 / 100.0).min(width));
        let fit = ((width + GAP) / (least + GAP)).floor().max(1.0) as usize;
        let lines = pieces.div_ceil(fit).max(1);
        let a_line = pieces.div_ceil(lines).max(1);
        let width = ((width + GAP) / a_line as f32 - GAP).min(most);
        Self { a_line, lines, size: vec2(width, (width / aspect).min(width * 1.5)) }
    }

    pub fn height(self) -> f32 {
        self.lines as f32 * (self.size.y + NAME)
    }

    /// Paints the pictures of an order, each with its piece's name.
    pub fn paint(self, ui: &Ui, scene: &mut Scene<'_>, on: &OnPieces, rect: Rect, order: &[usize], id: Id) {
        let colour = palette(ui.ctx()).quiet;
        for (nth, piece) in on.pieces.iter().enumerate() {
            let (column, line) = ((nth % self.a_line) as f32, (nth / self.a_line) as f32);
            let corner = rect.min + vec2(column * (self.size.x + GAP), line * (self.size.y + NAME));
            let picture = Rect::from_min_size(corner, self.size);
            paint_piece(ui, scene, piece, picture, order, id.with(nth));
            let name = numbered(nth, piece);
            let galley = cut_text(ui, &name, 10.0, colour, self.size.x);
            ui.painter().galley(picture.left_bottom() + vec2(1.0, 1.0), galley, colour);
        }
    }
}

/// "2 quay.mp4": a piece by its number, as the heat picture has it, and its name.
pub fn numbered(nth: usize, piece: &PieceSeen) -> String {
    format!("{} {}", nth + 1, piece.name)
}

/// The picture of an order on a piece.
pub fn paint_piece(
    ui: &Ui,
    scene: &mut Scene<'_>,
    piece: &PieceSeen,
    picture: Rect,
    order: &[usize],
    id: Id,
) {
    let now = scene.moment;
    let beats = Beats::of_decimal(piece.beats);
    let moment = Moment::at_beats(now.frame, now.pixels, now.tempo_bpm, now.rate, &beats);
    let is_output = scene.view.wall_of_output;
    let stage = if is_output { Stage::Output(order.to_vec()) } else { Stage::After(order.to_vec()) };
    let wanted = scene.pictures.wanted(&piece.show, scene.view.scope, moment, &stage);
    let texels = texels(ui, picture.size(), moment.frame);
    let place = id.with(("piece", is_output));
    let placed = wanted.and_then(|wanted| scene.pictures.place(place, &wanted, texels, false, Urgency::Wall));
    paint_picture(ui, picture, placed);
}
