//! The wall of orders on several pieces.

use image::RgbaImage;

use super::found::Found;
use super::pieces::PieceList;
use super::subject::Subject;
use crate::gpu::Budget;
use crate::output::pieces_wall::{Best, PiecesWall, Rows};
use crate::output::wall::{most_rows, piece_grid};

/// The wall of several pieces of footage, and how many pictures it has.
pub(super) fn drawn_on_pieces(
    subject: &mut Subject,
    found: &Found,
    pieces: &PieceList,
    most: usize,
    budget: Budget,
    notes: Vec<String>,
) -> anyhow::Result<(RgbaImage, usize)> {
    let explored = &found.explored;
    let grid = piece_grid(subject.path.moment.frame, pieces.len());
    let best = found.wish.as_ref().map(|wish| Best::of(wish, explored, pieces.len()));
    let most = (most / pieces.len()).min(most_rows(grid));
    let rows = Rows::of(explored, best, most);
    let classes = rows.classes();
    let pictures = pieces.pictures(subject, explored, grid, &classes, budget)?;
    let count = match pieces.len() {
        1 => "1 piece of footage".to_owned(),
        count => format!("{count} pieces of footage"),
    };
    let wall = PiecesWall {
        title: &subject.name,
        source: if subject.scope().is_some() { subject.source() } else { count.into() },
        frame_note: subject.frame_note.as_deref(),
        path: &subject.path,
        explored,
        stand_ins: &pieces.stand_ins(),
        colours: &pieces.colours(),
        grid,
        rows: &rows,
        pictures: &pictures,
        notes,
        caution: subject.caution,
    };
    let said_of = |class: usize, piece: usize| {
        let wish = found.wish.iter().map(|wish| format!("{:.3}", wish.figure_on(piece, class)));
        let said: Vec<String> = wish.chain(found.flashes.said_on(class, piece)).collect();
        (!said.is_empty()).then(|| said.join(", "))
    };
    let sheet = wall.composed(said_of)?;
    Ok((sheet.drawn()?, classes.len() * pieces.len()))
}
