//! Facts as they are shown: effects by their chips and names, in one line.

use egui::{Align2, Color32, Pos2, Rect, Ui, Vec2, vec2};

use super::{cut_text, font};
use crate::explore::matters::{FactWords, Word};
use crate::window::theme::paint_chip;

/// A part of a line.
enum Piece<'a> {
    /// An effect's chip.
    Chip(u32),
    /// An effect's name, cut off where there is too little room.
    Name(&'a str),
    /// Words that are never cut.
    Words(&'static str),
    /// What stands close behind the piece before.
    Sign(&'static str),
}

/// Size of letters and of chips, and the gap after each piece.
const SIZE: f32 = 12.0;
const CHIP: f32 = 14.0;
const GAP: f32 = 4.0;

/// Paints words from the middle of the left side on, each effect by its chip and name. What comes before a colon says
/// where: there the chips are enough, as the names stand in other lines.
pub fn paint_words(ui: &Ui, at: Pos2, width: f32, colour: Color32, words: FactWords<'_>, said: &[Word]) {
    paint(ui, at, width, colour, &pieces(words, said));
}

/// The width that words take where names are whole.
pub fn words_width(ui: &Ui, words: FactWords<'_>, said: &[Word]) -> f32 {
    widths(ui, &pieces(words, said)).iter().sum()
}

fn pieces<'a>(words: FactWords<'a>, said: &[Word]) -> Vec<Piece<'a>> {
    let colon = said.iter().position(|word| *word == Word::Text(": ")).unwrap_or(0);
    let mut pieces = Vec::with_capacity(said.len() * 2);
    for (nth, word) in said.iter().enumerate() {
        match *word {
            Word::Text(text) if text.starts_with([':', ',', '?']) => {
                pieces.push(Piece::Sign(text.trim_end()));
            }
            Word::Text(text) => pieces.push(Piece::Words(text.trim())),
            Word::Effect(place) => {
                pieces.push(Piece::Chip(words.marks.of(place)));
                if nth >= colon {
                    pieces.push(Piece::Name(&words.labels[place]));
                }
            }
        }
    }
    pieces
}

/// What each piece takes with the gap after it, names whole.
fn widths(ui: &Ui, pieces: &[Piece<'_>]) -> Vec<f32> {
    let text = |text: &str| ui.painter().layout_no_wrap(text.to_owned(), font(SIZE), Color32::WHITE).size().x;
    let mut widths: Vec<f32> = Vec::with_capacity(pieces.len());
    for piece in pieces {
        if let (Piece::Sign(_), Some(before)) = (piece, widths.last_mut()) {
            *before -= GAP;
        }
        widths.push(
            GAP + match piece {
                Piece::Chip(_) => CHIP,
                Piece::Name(words) => text(words),
                Piece::Words(words) | Piece::Sign(words) => text(words),
            },
        );
    }
    widths
}

fn paint(ui: &Ui, at: Pos2, width: f32, colour: Color32, pieces: &[Piece<'_>]) {
    let mut widths = widths(ui, pieces);
    let is_name = |nth: &usize| matches!(pieces[*nth], Piece::Name(_));
    // What is short is whole; the rest shares the room that is left.
    let mut names: Vec<usize> = (0..pieces.len()).filter(is_name).collect();
    names.sort_by(|a, b| widths[*a].total_cmp(&widths[*b]));
    let fixed: f32 = (0..pieces.len()).filter(|nth| !is_name(nth)).map(|nth| widths[nth]).sum();
    let mut room = (width - fixed).max(0.0);
    for (nth, &name) in names.iter().enumerate() {
        widths[name] = widths[name].min(room / (names.len() - nth) as f32);
        room -= widths[name];
    }
    let mut left = at;
    for (nth, (piece, &width)) in pieces.iter().zip(&widths).enumerate() {
        match piece {
            Piece::Chip(mark) => {
                let corner = left - vec2(0.0, CHIP / 2.0);
                paint_chip(ui.painter(), Rect::from_min_size(corner, Vec2::splat(CHIP)), *mark);
            }
            Piece::Name(text) => {
                // No gap stands before a sign. A hair more than what is whole takes, so that nothing is cut by rounding.
                let gap = if matches!(pieces.get(nth + 1), Some(Piece::Sign(_))) { 0.0 } else { GAP };
                let galley = cut_text(ui, text, SIZE, colour, width - gap + 0.5);
                ui.painter().galley(left - vec2(0.0, galley.size().y / 2.0), galley, colour);
            }
            Piece::Words(text) | Piece::Sign(text) => {
                ui.painter().text(left, Align2::LEFT_CENTER, text, font(SIZE), colour);
            }
        }
        left.x += width;
    }
}
