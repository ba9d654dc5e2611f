//! Orders judged on several pieces of footage, and ranked by a wish.

use super::pieces::{Frames, Piece, PieceByPiece};
use super::wish::{By, Ground, Wish, mean_of};
use super::{Exploration, Goal};
use crate::base::picture::Picture;
use crate::gpu::{Budget, GpuError, Renderer};
use crate::order::{Extent, LookLimits};

/// What is asked of the orders of a chain on several pieces.
#[derive(Debug)]
pub struct Judging<'a> {
    /// Which orders are looked at.
    pub extent: &'a Extent,
    pub limits: LookLimits,
    pub budget: Budget,
    pub wish: Option<(Goal, By)>,
    /// The picture to come near, where that is the goal.
    pub like: Option<&'a Picture>,
}

/// What was found on them.
#[derive(Debug)]
pub struct Judged {
    pub explored: Exploration,
    pub wish: Option<Wish>,
}

impl Judging<'_> {
    /// Renders and measures piece by piece, and gathers; nothing where no piece can be shown. `frames` gives those of a
    /// piece, or nothing where it is to be left out; `tell` is told how much is done, and of how much.
    ///
    /// # Errors
    /// What `frames` gives, and [`GpuError`] as [`Renderer::explore`].
    pub fn judged<E: From<GpuError>>(
        &self,
        renderer: &mut Renderer,
        names: &[String],
        mut frames: impl FnMut(usize) -> Result<Option<Frames>, E>,
        mut tell: impl FnMut(usize, usize),
    ) -> Result<Option<Judged>, E> {
        let &Self { extent, limits, budget, wish, like } = self;
        let mut begun: Option<PieceByPiece> = None;
        let mut figures = Vec::new();
        for (at, name) in names.iter().enumerate() {
            let Some(frames) = frames(at)? else { continue };
            let by_piece = match &mut begun {
                Some(by_piece) => by_piece,
                None => {
                    let pieces = names.len();
                    begun.insert(PieceByPiece::begun(renderer, &frames, pieces, extent, limits, budget)?)
                }
            };
            let most = by_piece.most_orders();
            let mut tell = |done: usize| tell(at * most + done.min(most), names.len() * most);
            tell(0);
            let rendered = by_piece.add(renderer, name.clone(), &frames, tell)?;
            if let Some((goal, _)) = wish {
                figures.push(mean_of(&goal.figures(renderer, &frames, rendered, like, budget)?));
            }
        }
        let Some(by_piece) = begun else { return Ok(None) };
        let explored = by_piece.gathered(renderer, |_| {})?;
        let pieces = explored.pieces.iter().flat_map(|pieces| &pieces.list);
        let wish = wish.map(|(goal, by)| {
            let ground = |(piece, figures): (&Piece, Vec<f64>)| Ground {
                name: piece.name.clone(),
                values: piece.class_of.iter().map(|&class| figures[class]).collect(),
            };
            Wish::ranked(goal, by, pieces.zip(figures).map(ground).collect())
        });
        Ok(Some(Judged { explored, wish }))
    }
}
