//! Orders compared on several pieces of footage: all of them side by side, and each by itself.

mod said;

use std::collections::HashMap;
use std::ops::Range;

use super::over_time::{Over, Stretch, over_moments};
use super::{ChainAt, Exploration, Orders, Part, Rendered, look_frame_of, parts, proved_at};
use crate::base::frame::Frame;
use crate::base::picture::Picture;
use crate::gpu::{Budget, Fingerprint, Finished, Gallery, GpuError, Renderer, Want};
use crate::measure::Difference;
use crate::order::{Class, Extent, LEAST_SHARE, LookLimits, PieceShares, Proofs, Verdict};
use crate::plan::Path;
use crate::show::chain::EffectUse;

/// The frames of a piece that are compared: one moment, or a stretch of beats.
#[derive(Debug)]
pub enum Frames {
    Moment(Box<Path>),
    Stretch(Stretch),
}

/// Pieces under one chain as they are rendered, one after the other: of one that is done only its pictures at the size
/// at which looks are told apart are kept, and figures.
#[derive(Debug)]
pub struct PieceByPiece {
    /// What is proved of the chain whatever the footage, and the orders that can differ then.
    whatever: Orders,
    /// The effects, and which of their orders are looked at.
    chain: Vec<EffectUse>,
    extent: Extent,
    looked_at: Frame,
    limits: LookLimits,
    budget: Budget,
    done: Vec<Done>,
}

#[derive(Debug)]
struct Done {
    name: String,
    rendered: Rendered,
    parts: Vec<Part>,
}

/// What is known of pieces of footage on which orders were compared.
#[derive(Debug)]
pub struct OnPieces {
    pub list: Vec<Piece>,
    /// What is proved of the chain whatever the footage.
    whatever: Proofs,
    /// Within what two pictures were one look.
    limits: LookLimits,
}

/// One piece of footage.
#[derive(Debug)]
pub struct Piece {
    pub name: String,
    /// What is proved on this piece.
    pub proofs: Proofs,
    /// How many orders can differ on this piece.
    pub classes: usize,
    /// For each class of all pieces, the class of this one that holds its orders.
    pub class_of: Vec<usize>,
    /// For each class of all pieces, its fingerprint and its difference from the chain's own order on this piece.
    pub finished: Vec<Finished>,
    /// What each effect does where it stands.
    pub parts: Vec<Part>,
    /// What is known beside, where orders were compared over a stretch of beats.
    pub over: Option<Over>,
    /// What matters on this piece alone; nothing where the chain is not explored in full.
    pub shares: Option<PieceShares>,
    /// The first piece that gives the same pictures in every order, if one came before.
    pub same_as: Option<usize>,
    /// Which of the exploration's galleries hold its pictures.
    pub galleries: Range<usize>,
}

impl Frames {
    fn first(&self) -> &Path {
        match self {
            Self::Moment(path) => path,
            Self::Stretch(stretch) => &stretch.frames[0],
        }
    }

    /// Moments that are compared.
    fn moments(&self) -> usize {
        match self {
            Self::Moment(_) => 1,
            Self::Stretch(stretch) => stretch.sampled.len(),
        }
    }

    /// The orders that can differ on some footage or other.
    fn orders_whatever(&self, renderer: &mut Renderer, extent: &Extent) -> Result<Orders, GpuError> {
        match self {
            Self::Moment(path) => {
                let frames = path.frames().map(|path| ChainAt { opaque: false, ..ChainAt::of(path) });
                let proofs = proved_at(Some(renderer), frames, |_| {})?;
                Ok(Orders::proved(proofs, &path.chain, extent))
            }
            Self::Stretch(stretch) => stretch.orders_where(renderer, extent, |_| false, |_| {}),
        }
    }
}

impl PieceByPiece {
    /// Begins with so many pieces to come, of which this is the first.
    ///
    /// # Errors
    /// [`GpuError`] where the frame is too large or the GPU fails.
    pub fn begun(
        renderer: &mut Renderer,
        first: &Frames,
        pieces: usize,
        extent: &Extent,
        limits: LookLimits,
        budget: Budget,
    ) -> Result<Self, GpuError> {
        let whatever = first.orders_whatever(renderer, extent)?;
        // What stands side by side, the pictures of all pieces and moments, is of one size.
        let pictures = whatever.classes.len() * first.moments();
        let looked_at = look_frame_of(first.first().moment.frame, pictures, pieces, budget);
        let (chain, extent) = (first.first().chain.clone(), extent.clone());
        Ok(Self { whatever, chain, extent, looked_at, limits, budget, done: Vec::new() })
    }

    /// The most orders that can differ on a piece.
    pub fn most_orders(&self) -> usize {
        self.whatever.classes.len()
    }

    /// Renders and measures the next piece, and gives what was rendered. `tell` is told how far that has come, in
    /// [orders](Self::most_orders) at most.
    ///
    /// # Errors
    /// As [`Renderer::explore`].
    pub fn add(
        &mut self,
        renderer: &mut Renderer,
        name: String,
        frames: &Frames,
        tell: impl FnMut(usize),
    ) -> Result<&Rendered, GpuError> {
        let (looked_at, limits, budget) = (self.looked_at, self.limits, self.budget);
        let (rendered, parts) = match frames {
            Frames::Moment(path) => {
                let orders = Orders::within(renderer, path, &self.extent)?;
                let rendered = orders.rendered_for(renderer, path, looked_at, Want::Figures, budget, tell)?;
                (rendered, parts(renderer, path, limits)?)
            }
            Frames::Stretch(stretch) => {
                let orders = stretch.orders_within(renderer, &self.extent, |_| {})?;
                let rendered = stretch.rendered(orders, renderer, looked_at, 0, budget, tell)?;
                let parts = stretch.parts(rendered.orders(), renderer, limits, budget)?;
                (rendered, parts)
            }
        };
        self.done.push(Done { name, rendered, parts });
        let last = self.done.last().map(|done| &done.rendered);
        last.ok_or(GpuError::Defect("the piece just rendered is missing"))
    }

    /// Gathers the orders of all pieces: two are the same where they are on every piece, and look alike where they do
    /// on every piece. `tell` is told how many of the classes are gathered.
    ///
    /// # Errors
    /// [`GpuError`] where the GPU fails, or where no piece was added.
    pub fn gathered(self, renderer: &mut Renderer, tell: impl FnMut(usize)) -> Result<Exploration, GpuError> {
        let Self { whatever, chain, extent, limits, looked_at, done, .. } = self;
        let proofs: Vec<&Proofs> = done.iter().map(|done| &done.rendered.orders.proofs).collect();
        let (Some(proofs), Some(first)) = (Proofs::on_all(&proofs), done.first()) else {
            return Err(GpuError::Defect("no piece of footage was rendered"));
        };
        let rendered_at = first.rendered.rendered_at;
        let orders = Orders::proved(proofs, &chain, &extent);

        let (mut galleries, mut moments, mut list) = (Vec::new(), Vec::new(), Vec::<Piece>::new());
        for Done { name, rendered, parts } in done {
            let own = rendered.orders;
            let normal_form = |class: &Class| own.proofs.classes.normal_form(&class.order);
            let known: HashMap<Vec<usize>, usize> =
                own.classes.iter().enumerate().map(|(at, class)| (normal_form(class), at)).collect();
            let class_of: Option<Vec<usize>> =
                orders.classes.iter().map(|class| known.get(&normal_form(class)).copied()).collect();
            let class_of = class_of
                .ok_or(GpuError::Defect("an order that differs on all pieces is missing on one of them"))?;
            let from = galleries.len();
            galleries.extend(rendered.galleries.into_iter().map(|gallery| gallery.shared(&class_of)));
            moments.extend(rendered.moments);
            let finished: Vec<Finished> =
                class_of.iter().map(|&class| rendered.finished[class].clone()).collect();
            let is_same = |known: &Piece| {
                known.finished.iter().zip(&finished).all(|(a, b)| a.fingerprint == b.fingerprint)
            };
            list.push(Piece {
                name,
                same_as: list.iter().position(is_same),
                classes: own.classes.len(),
                proofs: own.proofs,
                over: rendered.over.map(|over| over.shared(&class_of)),
                class_of,
                finished,
                parts,
                shares: None,
                galleries: from..galleries.len(),
            });
        }
        let finished = |class: usize| Finished {
            fingerprint: Fingerprint::of_all(list.iter().map(|piece| piece.finished[class].fingerprint)),
            difference: Some(over_moments(list.iter().map(|piece| piece.difference(class)))),
            picture: None,
        };
        let rendered = Rendered {
            finished: (0..orders.classes.len()).map(finished).collect(),
            orders,
            galleries,
            moments,
            rendered_at,
            looked_at,
            over: Over::of_all(&list.iter().filter_map(|piece| piece.over.as_ref()).collect::<Vec<_>>()),
            pieces: Some(OnPieces { list, whatever: whatever.proofs, limits }),
        };
        rendered.gathered(renderer, limits, tell)
    }
}

impl Piece {
    /// How far a class's picture is from that of the chain's own order on this piece.
    pub fn difference(&self, class: usize) -> Difference {
        self.finished[class].difference.unwrap_or_default()
    }

    /// How many pictures differ on this piece.
    pub fn distinct(&self) -> usize {
        let mut seen: Vec<Fingerprint> = self.finished.iter().map(|finished| finished.fingerprint).collect();
        seen.sort_unstable();
        seen.dedup();
        seen.len()
    }
}

/// On which pieces of footage two effects are proved to commute.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Proved {
    /// On all footage there is.
    Whatever,
    /// On every one of the pieces, for what these have in common.
    EveryPiece,
    /// On these pieces alone.
    Only(Vec<usize>),
    Nowhere,
}

impl OnPieces {
    /// On which pieces two effects are proved to commute, and the reason there.
    pub fn proved(&self, a: usize, b: usize) -> (Proved, Option<&str>) {
        if let Some(because) = reason(&self.whatever, a, b) {
            return (Proved::Whatever, Some(because));
        }
        let reasons: Vec<Option<&str>> = self.list.iter().map(|piece| reason(&piece.proofs, a, b)).collect();
        let on: Vec<usize> = (0..reasons.len()).filter(|&piece| reasons[piece].is_some()).collect();
        let because = on.first().and_then(|&piece| reasons[piece]);
        let proved = match on.len() {
            0 => Proved::Nowhere,
            all if all == self.list.len() => Proved::EveryPiece,
            _ => Proved::Only(on),
        };
        (proved, because)
    }

    /// What each effect does where it stands, over all pieces: unseen is what is unseen on every one.
    pub fn parts(&self, orders: &Orders) -> Vec<Part> {
        let part = |effect: usize| {
            let parts = || self.list.iter().map(|piece| &piece.parts[effect]);
            let name = &orders.labels[effect];
            let first = parts().next().and_then(|part| part.unseen.clone());
            let unseen = match first {
                None => None,
                Some(said) if parts().all(|part| part.unseen.as_ref() == Some(&said)) => Some(said),
                Some(_) if parts().any(|part| part.unseen.is_none()) => None,
                Some(_) => Some(format!("{name} changes nothing that one sees on {self}.")),
            };
            Part { difference: over_moments(parts().map(|part| part.difference)), unseen }
        };
        (0..orders.labels.len()).map(part).collect()
    }

    /// The pictures of some classes on a piece, at the size at which looks are told apart: at its one moment, or at the
    /// most telling one of a stretch.
    ///
    /// # Errors
    /// [`GpuError`] where the GPU fails.
    pub fn hung(
        &self,
        renderer: &mut Renderer,
        galleries: &[Gallery],
        piece: usize,
        classes: &[usize],
    ) -> Result<Vec<Picture>, GpuError> {
        let piece = &self.list[piece];
        let at = piece.over.as_ref().and_then(Over::most_telling).map_or(0, |(_, hung)| hung);
        let gallery = galleries.get(piece.galleries.start + at);
        renderer.hung(gallery.ok_or(GpuError::Defect("a piece has no pictures"))?, classes.iter().copied())
    }

    /// Whether nobody would see what order does on a piece: every picture there looks like that of the chain's own order.
    pub fn is_unseen(&self, piece: usize) -> bool {
        let piece = &self.list[piece];
        (0..piece.finished.len()).all(|class| self.limits.alike(&piece.difference(class)))
    }

    /// What a pair has of what order does on a piece; `fact` is its place in the facts of the families. Nothing where
    /// nobody would see it.
    pub fn share(&self, fact: usize, piece: usize) -> Option<f64> {
        let shares = self.list[piece].shares.as_ref().filter(|_| !self.is_unseen(piece))?;
        shares.facts.get(fact).copied()
    }

    /// The pieces on which a pair matters: it has [`LEAST_SHARE`] there, or more.
    pub fn matters_on(&self, fact: usize) -> Vec<usize> {
        let matters = |piece: &usize| self.share(fact, *piece).is_some_and(|share| share >= LEAST_SHARE);
        (0..self.list.len()).filter(matters).collect()
    }
}

/// Why two effects are proved to commute, if they are.
fn reason(proofs: &Proofs, a: usize, b: usize) -> Option<&str> {
    match proofs.verdict(a, b) {
        Verdict::Always(because) => Some(because),
        Verdict::Open(_) => None,
    }
}
