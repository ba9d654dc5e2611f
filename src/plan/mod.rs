//! What to render, as data: no GPU here.
//!
//! From a scope to the output the picture flows along one path: what arrives
//! under the scope's chain, the chain, and what still happens on the way to
//! the output. Only the chain depends on the order, so everything else is
//! planned once, whatever the number of orders.

pub mod memory;
pub mod passes;
mod planner;
mod running;
pub mod sharing;

pub use running::Running;

use std::sync::Arc;

use planner::{Planner, Remembering, SHARED_FRAMES, SPARE_FRAMES};

use crate::base::picture::Picture;
use crate::beat::Moment;
use crate::footage::{FootageError, Shelf};
use crate::show::chain::{EffectCall, EffectUse, PastId};
use crate::show::clip::{Fit, FootageName, Play};
use crate::show::{Mix, Scope, Show};

/// A picture of the plan, by number; each is made by one step.
pub type Slot = usize;

/// One step: makes one picture.
#[derive(Debug, Clone, PartialEq)]
pub enum Step {
    /// Takes in a decoded picture.
    TakeIn {
        picture: Arc<Picture>,
        /// The slot made.
        into: Slot,
    },
    /// Draws a generated source.
    Generate {
        /// The source.
        call: EffectCall,
        /// The slot made.
        into: Slot,
    },
    /// One texel value everywhere, premultiplied.
    Fill {
        /// 0 for transparent, 1 for opaque black.
        alpha: f32,
        /// The slot made.
        into: Slot,
    },
    /// Applies an effect.
    Apply {
        call: EffectCall,
        /// The picture under it.
        from: Slot,
        /// The slot made.
        into: Slot,
    },
    /// Lays one picture over another.
    Lay {
        /// The lower picture.
        backdrop: Slot,
        /// The upper picture.
        source: Slot,
        /// How.
        mix: Mix,
        /// The slot made.
        into: Slot,
    },
}

impl Step {
    /// The pictures that it reads.
    pub fn reads(&self) -> Vec<Slot> {
        match self {
            Self::TakeIn { .. } | Self::Generate { .. } | Self::Fill { .. } => Vec::new(),
            Self::Apply { from, .. } => vec![*from],
            Self::Lay { backdrop, source, .. } => vec![*backdrop, *source],
        }
    }

    /// Where the effect that it applies keeps its last output, if it remembers.
    pub fn past(&self) -> Option<PastId> {
        match self {
            Self::Apply { call, .. } => call.past,
            _ => None,
        }
    }

    /// Whether both make the same picture of the same ones; footage is told apart by its picture's place in memory.
    fn does_the_same(&self, other: &Self) -> bool {
        match (self, other) {
            (Self::TakeIn { picture: a, into: x }, Self::TakeIn { picture: b, into: y }) => {
                Arc::ptr_eq(a, b) && x == y
            }
            (Self::TakeIn { .. }, _) | (_, Self::TakeIn { .. }) => false,
            (a, b) => a == b,
        }
    }
}

/// Which of these steps have to be rendered for what is remembered at their moment.
pub fn remembered(steps: &[Step]) -> Vec<bool> {
    let mut needed: Vec<bool> = steps.iter().map(|step| step.past().is_some()).collect();
    for (at, step) in steps.iter().enumerate().rev() {
        if needed[at] {
            step.reads().into_iter().for_each(|from| needed[from] = true);
        }
    }
    needed
}

/// A step behind the chain: it takes the picture that depends on the order and passes it on.
#[derive(Debug, Clone, PartialEq)]
pub enum After {
    /// Applies an effect.
    Apply(EffectCall),
    /// Lays it over a picture that is the same for all orders.
    LayOver {
        /// The lower picture.
        backdrop: Slot,
        /// How.
        mix: Mix,
    },
    /// Lays a picture that is the same for all orders over it.
    LayUnder {
        /// The upper picture.
        source: Slot,
        /// How.
        mix: Mix,
    },
}

impl After {
    /// Whether it is an effect that remembers.
    pub fn remembers(&self) -> bool {
        matches!(self, Self::Apply(call) if call.past.is_some())
    }
}

/// The path of one chain: what comes before it, the chain, what follows.
#[derive(Debug, Clone)]
pub struct Path {
    /// When and at what size.
    pub moment: Moment,
    /// Makes everything that is the same for all orders.
    pub before: Vec<Step>,
    /// The picture under the chain.
    pub input: Slot,
    /// Whether that picture has full alpha everywhere.
    pub opaque: bool,
    /// The chain whose orders are explored.
    pub chain: Vec<EffectUse>,
    /// From the chain to the output.
    pub after: Vec<After>,
    /// The frames that lead up to this one, the first first, where an effect on the path remembers them;
    /// none of them has a past of its own. Frames at which nothing is remembered anew are left out.
    pub past: Arc<[Path]>,
}

impl Path {
    /// The path of a lone chain over footage.
    ///
    /// # Errors
    /// [`FootageError`] if the footage cannot be shown.
    pub fn of_chain(
        chain: &[EffectUse],
        footage: &FootageName,
        fit: Fit,
        moment: Moment,
        shelf: &mut Shelf,
    ) -> Result<Self, FootageError> {
        Self::with_past(
            moment,
            |frames| frames,
            |moment| {
                let mut planner = Planner::new(moment, shelf);
                let input = planner.shown(footage, fit, &Play::default())?;
                Ok(planner.path(input, chain, Vec::new()))
            },
        )
    }

    /// The path of the chain on one scope of a show, through to the show's output.
    ///
    /// A scope that does not show is planned as if it did: ask first with [`Show::shows`].
    ///
    /// # Errors
    /// [`FootageError`] if a clip's footage cannot be shown.
    pub fn of_scope(
        show: &Show,
        scope: Scope,
        moment: Moment,
        shelf: &mut Shelf,
    ) -> Result<Self, FootageError> {
        Self::with_past(moment, |frames| frames, |moment| Planner::new(moment, shelf).scope(show, scope))
    }

    /// Like [`of_scope`](Self::of_scope), looking back somewhat further, to a frame that the paths of
    /// neighbouring frames begin at too: what one has rendered, the next one goes on from.
    ///
    /// # Errors
    /// As `of_scope`.
    pub fn of_scope_carried(
        show: &Show,
        scope: Scope,
        moment: Moment,
        shelf: &mut Shelf,
    ) -> Result<Self, FootageError> {
        Self::with_past(moment, shared(&moment), |moment| Planner::new(moment, shelf).scope(show, scope))
    }

    /// Like [`of_chain`](Self::of_chain), without the frames that lead up to it.
    ///
    /// # Errors
    /// As `of_chain`.
    pub fn of_chain_alone(
        chain: &[EffectUse],
        footage: &FootageName,
        fit: Fit,
        moment: Moment,
        shelf: &mut Shelf,
    ) -> Result<Self, FootageError> {
        let mut planner = Planner::new(moment, shelf);
        let input = planner.shown(footage, fit, &Play::default())?;
        Ok(planner.path(input, chain, Vec::new()).0)
    }

    /// Like [`of_scope`](Self::of_scope), without the frames that lead up to it.
    ///
    /// # Errors
    /// As `of_scope`.
    pub fn of_scope_alone(
        show: &Show,
        scope: Scope,
        moment: Moment,
        shelf: &mut Shelf,
    ) -> Result<Self, FootageError> {
        Planner::new(moment, shelf).scope(show, scope).map(|(path, _)| path)
    }

    /// The output of a show while another takes over from it: the coming one laid over it at `share` of the way, 0 to
    /// 1, at a moment. It may take over from several, each with its share of what is seen.
    ///
    /// # Errors
    /// As `of_scope`.
    pub fn of_fade(
        from: &[(&Show, f64)],
        to: &Show,
        share: impl Fn(&Moment) -> f64,
        moment: Moment,
        with_past: bool,
        shelf: &mut Shelf,
    ) -> Result<Self, FootageError> {
        let mut planned = |moment| Planner::new(moment, shelf).fade(from, to, share(&moment));
        if with_past { Self::with_past(moment, |frames| frames, planned) } else { Ok(planned(moment)?.0) }
    }

    /// Like [`of_fade`](Self::of_fade) with the frames that lead up to it, beginning where neighbouring frames do.
    ///
    /// # Errors
    /// As `of_scope`.
    pub fn of_fade_carried(
        from: &[(&Show, f64)],
        to: &Show,
        share: impl Fn(&Moment) -> f64,
        moment: Moment,
        shelf: &mut Shelf,
    ) -> Result<Self, FootageError> {
        let planned = |moment| Planner::new(moment, shelf).fade(from, to, share(&moment));
        Self::with_past(moment, shared(&moment), planned)
    }

    /// Whether an effect on the path remembers.
    pub fn remembers(&self) -> bool {
        self.before.iter().any(|step| step.past().is_some())
            || self.chain.iter().any(EffectUse::remembers)
            || self.after_remembers()
    }

    /// Whether this path shows what `other` shows, whatever the order: both are made the same way.
    pub fn shows_as(&self, other: &Self) -> bool {
        let calls = |path: &Self| -> Vec<EffectCall> {
            path.chain.iter().map(|used| used.call(&path.moment)).collect()
        };
        let chain = self.chain.len() == other.chain.len() && calls(self) == calls(other);
        chain && self.input == other.input && self.before == other.before && self.after == other.after
    }

    /// The path at a moment, and those that lead up to it.
    fn with_past(
        moment: Moment,
        further: impl Fn(u64) -> u64,
        mut planned: impl FnMut(Moment) -> Result<(Self, Remembering), FootageError>,
    ) -> Result<Self, FootageError> {
        let (mut path, remembering) = planned(moment)?;
        let frames = match remembering.frames_before(&path) {
            0 => return Ok(path),
            frames => further(frames),
        };
        let past = (1..=frames).rev().filter_map(|back| moment.before(back));
        path.past = past
            .filter(|moment| remembering.takes_in(&path.chain, moment))
            .map(|moment| planned(moment).map(|(path, _)| path))
            .collect::<Result<_, _>>()?;
        Ok(path)
    }

    /// The pictures that are laid together with the one that depends on the order, and the one under the chain.
    pub fn slots_kept(&self) -> Vec<Slot> {
        let laid = self.after.iter().filter_map(|after| match after {
            After::LayOver { backdrop: slot, .. } | After::LayUnder { source: slot, .. } => Some(*slot),
            After::Apply(_) => None,
        });
        [self.input].into_iter().chain(laid).collect()
    }

    /// What follows the chain as steps behind those before it: where the chain's own picture stands, by a step that stands
    /// in for the chain, and where the output does.
    pub fn after_chain(&self) -> (Vec<Step>, Slot, Slot) {
        let mut steps = self.before.clone();
        let chain = steps.len();
        let alpha = if self.opaque && keeps_alpha(&self.chain) { 1.0 } else { 0.0 };
        steps.push(Step::Fill { alpha, into: chain });
        let output = laid_behind(&mut steps, chain, self.after.iter().cloned());
        (steps, chain, output)
    }

    /// Whether the output has full alpha everywhere, whatever the order; false where that is not sure.
    pub(crate) fn ends_opaque(&self) -> bool {
        self.after.is_empty() && self.opaque && keeps_alpha(&self.chain)
    }

    /// The same, with what stands behind the chain looked at: a show's output lies over opaque black.
    pub fn covers_all(&self) -> bool {
        let order: Vec<usize> = (0..self.chain.len()).collect();
        let (steps, output) = self.in_order(&order);
        passes::opaque(&steps).get(output).copied().unwrap_or(false)
    }

    /// Whether an effect behind the chain remembers.
    pub fn after_remembers(&self) -> bool {
        self.after.iter().any(After::remembers)
    }

    /// Every frame that has to be rendered for this one, itself last.
    pub fn frames(&self) -> impl DoubleEndedIterator<Item = &Self> {
        self.past.iter().chain([self])
    }

    /// How many frames before its own the path looks back at.
    pub fn warm_up_frames(&self) -> u64 {
        self.past.first().map_or(0, |first| self.moment.number - first.moment.number)
    }

    /// The same path, looking back at most this many beats: where that cuts its past short, effects
    /// begin to remember there.
    #[must_use]
    pub fn looking_back(mut self, beats: f64) -> Self {
        let first = self.moment.beats - beats;
        self.past = self.past.iter().filter(|path| path.moment.beats >= first).cloned().collect();
        self
    }

    /// The path with its chain in this order, which may be a part of it.
    #[must_use]
    pub fn reordered(&self, order: &[usize]) -> Self {
        let chain = |path: &Self| order.iter().map(|&place| path.chain[place].clone()).collect();
        let past = self.past.iter().map(|path| Self { chain: chain(path), ..path.clone() }).collect();
        Self { chain: chain(self), past, ..self.clone() }
    }

    /// Why an effect of the chain changes no picture of this frame and of those that lead up to it, if
    /// its settings alone say so.
    pub fn idle_because(&self, place: usize) -> Option<String> {
        let mut because = None;
        for path in self.frames() {
            because = Some(path.chain[place].idle_because(&path.moment)?);
        }
        because
    }

    /// Whether both give the same pictures: the same chain over the same footage at the same moment, and
    /// the same on the way to the output.
    pub fn gives_the_same(&self, other: &Self) -> bool {
        let steps =
            |a: &[Step], b: &[Step]| a.len() == b.len() && a.iter().zip(b).all(|(a, b)| a.does_the_same(b));
        std::ptr::eq(self, other)
            || self.moment == other.moment
                && self.input == other.input
                && self.opaque == other.opaque
                && self.chain == other.chain
                && self.after == other.after
                && steps(&self.before, &other.before)
                && self.past.len() == other.past.len()
                && self.past.iter().zip(other.past.iter()).all(|(a, b)| a.gives_the_same(b))
    }

    /// Everything from footage to output for one order (places in the chain): the
    /// steps, and the slot of the output.
    pub fn in_order(&self, order: &[usize]) -> (Vec<Step>, Slot) {
        let mut steps = self.before.clone();
        let uses = order.iter().filter_map(|&place| called(&self.chain[place], &self.moment, None, place));
        let chain = uses.map(After::Apply);
        let output = laid_behind(&mut steps, self.input, chain.chain(self.after.iter().cloned()));
        (steps, output)
    }
}

/// Puts steps behind others, the first on the picture in a slot; gives the slot of the last.
fn laid_behind(steps: &mut Vec<Step>, picture: Slot, after: impl Iterator<Item = After>) -> Slot {
    let mut picture = picture;
    for after in after {
        let into = steps.len();
        steps.push(match after {
            After::Apply(call) => Step::Apply { call, from: picture, into },
            After::LayOver { backdrop, mix } => Step::Lay { backdrop, source: picture, mix, into },
            After::LayUnder { source, mix } => Step::Lay { backdrop: picture, source, mix, into },
        });
        picture = into;
    }
    picture
}

/// The effect ready to render, unless it changes nothing. One that remembers is rendered even where it
/// is idle, since it goes on remembering.
pub(crate) fn called(
    used: &EffectUse,
    moment: &Moment,
    chain: Option<usize>,
    place: usize,
) -> Option<EffectCall> {
    if used.remembers() {
        return Some(EffectCall { past: Some(PastId { chain, place }), ..used.call(moment) });
    }
    used.idle_because(moment).is_none().then(|| used.call(moment))
}

/// Whether full alpha is sure to stay full: of an effect of one's own, once rendering has confirmed it.
pub(crate) fn keeps_alpha(chain: &[EffectUse]) -> bool {
    chain.iter().all(|used| used.effect.is_trusted())
}

/// How far back a picture that remembers so many frames looks, so that it begins where those of neighbouring frames do.
fn shared(moment: &Moment) -> impl Fn(u64) -> u64 + use<> {
    let number = moment.number;
    move |frames| number - number.saturating_sub(frames + SPARE_FRAMES) / SHARED_FRAMES * SHARED_FRAMES
}
