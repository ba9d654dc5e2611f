//! What to render, as data: no GPU here.
//!
//! From a scope to the output the picture flows along one path: what arrives
//! under the scope's chain, the chain, and what still happens on the way to
//! the output. Only the chain depends on the order, so everything else is
//! planned once, whatever the number of orders.

pub mod memory;

use std::sync::Arc;

use crate::base::picture::Picture;
use crate::beat::Moment;
use crate::footage::{FootageError, Shelf, Shown};
use crate::show::chain::{EffectCall, EffectUse, PastId};
use crate::show::clip::{Fit, FootageName, Play};
use crate::show::{Clip, Mix, Scope, Show};

/// A picture of the plan, by number; each is made by one step.
pub type Slot = usize;

/// One step: makes one picture.
#[derive(Debug, Clone, PartialEq)]
pub enum Step {
    /// Takes in a decoded picture.
    TakeIn {
        /// The picture.
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
        /// The effect.
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
    fn is_alike(&self, other: &Self) -> bool {
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
    /// A clip that is not showing is planned as if it were: ask first with [`is_showing`].
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
        let further = |frames: u64| {
            let first = moment.number.saturating_sub(frames + SPARE_FRAMES);
            moment.number - first / SHARED_FRAMES * SHARED_FRAMES
        };
        Self::with_past(moment, further, |moment| Planner::new(moment, shelf).scope(show, scope))
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
    pub fn is_alike(&self, other: &Self) -> bool {
        let steps =
            |a: &[Step], b: &[Step]| a.len() == b.len() && a.iter().zip(b).all(|(a, b)| a.is_alike(b));
        std::ptr::eq(self, other)
            || self.moment == other.moment
                && self.input == other.input
                && self.opaque == other.opaque
                && self.chain == other.chain
                && self.after == other.after
                && steps(&self.before, &other.before)
                && self.past.len() == other.past.len()
                && self.past.iter().zip(other.past.iter()).all(|(a, b)| a.is_alike(b))
    }

    /// Everything from footage to output for one order (places in the chain): the
    /// steps, and the slot of the output.
    pub fn in_order(&self, order: &[usize]) -> (Vec<Step>, Slot) {
        let mut steps = self.before.clone();
        let mut next = steps.len();
        let mut picture = self.input;
        let uses = order.iter().filter_map(|&place| called(&self.chain[place], &self.moment, None, place));
        let chain = uses.map(After::Apply);
        for after in chain.chain(self.after.iter().cloned()) {
            let into = next;
            steps.push(match after {
                After::Apply(call) => Step::Apply { call, from: picture, into },
                After::LayOver { backdrop, mix } => Step::Lay { backdrop, source: picture, mix, into },
                After::LayUnder { source, mix } => Step::Lay { backdrop: picture, source, mix, into },
            });
            (picture, next) = (into, next + 1);
        }
        (steps, picture)
    }
}

/// Whether the scope's pictures reach the output: false for a clip that another clip of its level hides.
pub fn is_showing(show: &Show, scope: Scope) -> bool {
    match scope {
        Scope::Clip(b, l, c) => show.bundles[b].levels[l].showing == c,
        _ => true,
    }
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

/// The effects on a path that remember.
#[derive(Debug, Default)]
struct Remembering {
    /// Those of other chains than the path's own.
    elsewhere: Vec<(PastId, EffectUse)>,
}

impl Remembering {
    /// How far back anything has to be rendered for the path's output, whatever the order of its chain.
    fn frames_before(&self, path: &Path) -> u64 {
        let before = |used: &EffectUse, frames: u64| {
            // Constant settings look back furthest from the earliest frame.
            let first = if used.is_automated() { 0 } else { frames };
            let back = (first..=frames).filter_map(|frames| {
                let moment = path.moment.before(frames)?;
                Some(frames + used.frames_remembered(&moment))
            });
            back.max().unwrap_or(frames)
        };
        let elsewhere = |call: &EffectCall, frames: u64| {
            let used = self.elsewhere.iter().find(|(id, _)| Some(*id) == call.past);
            used.map_or(frames, |(_, used)| before(used, frames))
        };
        let mut frames = 0;
        let mut needed = vec![0; path.before.len()];
        for after in path.after.iter().rev() {
            match after {
                After::Apply(call) => frames = elsewhere(call, frames),
                After::LayOver { backdrop: slot, .. } | After::LayUnder { source: slot, .. } => {
                    needed[*slot] = frames.max(needed[*slot]);
                }
            }
        }
        let chain: Vec<&EffectUse> = path.chain.iter().filter(|used| used.remembers()).collect();
        frames = match chain[..] {
            [only] => before(only, frames),
            // In another order each may have to look back from elsewhere.
            _ => frames + chain.iter().map(|used| used.most_frames_remembered(&path.moment)).sum::<u64>(),
        };
        needed[path.input] = frames.max(needed[path.input]);
        for (at, step) in path.before.iter().enumerate().rev() {
            let frames = match step {
                Step::Apply { call, .. } => elsewhere(call, needed[at]),
                _ => needed[at],
            };
            for from in step.reads() {
                needed[from] = frames.max(needed[from]);
            }
        }
        // A step needs its inputs at least as far back as itself, so the farthest is among the first.
        needed.into_iter().max().unwrap_or(0)
    }

    /// Whether anything is remembered anew at a moment.
    fn takes_in(&self, chain: &[EffectUse], moment: &Moment) -> bool {
        chain.iter().chain(self.elsewhere.iter().map(|(_, used)| used)).any(|used| used.takes_in(moment))
    }
}

struct Planner<'a> {
    remembering: Remembering,
    moment: Moment,
    shelf: &'a mut Shelf,
    steps: Vec<Step>,
    /// For each slot, whether it has full alpha everywhere.
    opaque: Vec<bool>,
}

/// Frames that a path which is carried on looks back further: as many may be left out in playing.
const SPARE_FRAMES: u64 = 8;
/// Frames in a row whose carried paths begin at the same one.
const SHARED_FRAMES: u64 = 32;

/// Whether full alpha is sure to stay full: of an effect of one's own, once rendering has confirmed it.
pub(crate) fn keeps_alpha(chain: &[EffectUse]) -> bool {
    chain.iter().all(|used| used.effect.is_trusted())
}

/// What is under a chain, and what still happens to it.
struct Arrival {
    input: Slot,
    after: Vec<After>,
}

impl<'a> Planner<'a> {
    fn new(moment: Moment, shelf: &'a mut Shelf) -> Self {
        Self { remembering: Remembering::default(), moment, shelf, steps: Vec::new(), opaque: Vec::new() }
    }

    fn path(self, input: Slot, chain: &[EffectUse], after: Vec<After>) -> (Path, Remembering) {
        let path = Path {
            moment: self.moment,
            opaque: self.opaque[input],
            before: self.steps,
            input,
            chain: chain.to_vec(),
            after,
            past: Arc::default(),
        };
        (path, self.remembering)
    }

    /// The calls of a scope's chain.
    fn calls(&mut self, show: &Show, scope: Scope) -> Vec<EffectCall> {
        let number = show.scopes().iter().position(|&known| known == scope);
        let mut calls = Vec::new();
        for (place, used) in show.chain(scope).iter().enumerate() {
            let Some(call) = called(used, &self.moment, number, place) else { continue };
            if let Some(id) = call.past {
                self.remembering.elsewhere.push((id, used.clone()));
            }
            calls.push(call);
        }
        calls
    }

    fn slot(&mut self, opaque: bool) -> Slot {
        self.opaque.push(opaque);
        self.opaque.len() - 1
    }

    fn footage(&mut self, clip: &Clip) -> Result<Slot, FootageError> {
        self.shown(&clip.footage, clip.fit, &clip.play)
    }

    fn shown(&mut self, footage: &FootageName, fit: Fit, play: &Play) -> Result<Slot, FootageError> {
        Ok(match self.shelf.shown(footage, fit, play, &self.moment)? {
            Shown::Nothing => self.fill(0.0),
            Shown::Pixels(picture) => {
                let into = self.slot(picture.opaque);
                self.steps.push(Step::TakeIn { picture, into });
                into
            }
            Shown::Generated { call, opaque } => {
                let into = self.slot(opaque);
                self.steps.push(Step::Generate { call, into });
                into
            }
        })
    }

    fn fill(&mut self, alpha: f32) -> Slot {
        let into = self.slot(alpha == 1.0);
        self.steps.push(Step::Fill { alpha, into });
        into
    }

    fn apply(&mut self, show: &Show, scope: Scope, from: Slot) -> Slot {
        let mut picture = from;
        for call in self.calls(show, scope) {
            // Every effect keeps full alpha full, once rendering has confirmed it.
            let into = self.slot(self.opaque[picture] && call.effect.is_trusted());
            self.steps.push(Step::Apply { call, from: picture, into });
            picture = into;
        }
        picture
    }

    fn lay(&mut self, backdrop: Slot, source: Slot, mix: Mix) -> Slot {
        let covers = self.opaque[source] && mix.opacity == 1.0;
        let into = self.slot(self.opaque[backdrop] || covers);
        self.steps.push(Step::Lay { backdrop, source, mix, into });
        into
    }

    fn clip(&mut self, show: &Show, b: usize, l: usize) -> Result<Slot, FootageError> {
        let level = &show.bundles[b].levels[l];
        let clip = &level.clips[level.showing];
        let footage = self.footage(clip)?;
        Ok(self.apply(show, Scope::Clip(b, l, level.showing), footage))
    }

    fn level(&mut self, show: &Show, b: usize, l: usize) -> Result<Slot, FootageError> {
        let clip = self.clip(show, b, l)?;
        Ok(self.apply(show, Scope::Level(b, l), clip))
    }

    /// Some levels of a bundle, and how each lies over those below.
    fn levels(
        &mut self,
        show: &Show,
        b: usize,
        which: std::ops::Range<usize>,
    ) -> Result<Vec<(Slot, Mix)>, FootageError> {
        which.map(|l| Ok((self.level(show, b, l)?, show.bundles[b].levels[l].mix))).collect()
    }

    /// Some bundles of the show, likewise.
    fn bundles(
        &mut self,
        show: &Show,
        which: std::ops::Range<usize>,
    ) -> Result<Vec<(Slot, Mix)>, FootageError> {
        which.map(|b| Ok((self.bundle(show, b)?, show.bundles[b].mix))).collect()
    }

    /// Pictures laid up from nothing, or `None` where there are none.
    fn stack(&mut self, pictures: &[(Slot, Mix)]) -> Option<Slot> {
        let (&(first, mix), rest) = pictures.split_first()?;
        let mut below = first;
        // Over nothing, every blend mode shows the source alone (W3C Compositing
        // and Blending 1, section 10.1: with no backdrop Cr = Cs).
        if mix.opacity < 1.0 {
            let nothing = self.fill(0.0);
            below = self.lay(nothing, first, mix);
        }
        for &(picture, mix) in rest {
            below = self.lay(below, picture, mix);
        }
        Some(below)
    }

    fn bundle_input(&mut self, show: &Show, b: usize) -> Result<Slot, FootageError> {
        let levels = self.levels(show, b, 0..show.bundles[b].levels.len())?;
        Ok(self.stack(&levels).unwrap_or_else(|| self.fill(0.0)))
    }

    fn bundle(&mut self, show: &Show, b: usize) -> Result<Slot, FootageError> {
        let input = self.bundle_input(show, b)?;
        Ok(self.apply(show, Scope::Bundle(b), input))
    }

    /// The output is never transparent: a stage without light is black.
    fn over_black(&mut self, picture: Slot) -> Slot {
        if self.opaque[picture] {
            return picture;
        }
        let black = self.fill(1.0);
        self.lay(black, picture, Mix::default())
    }

    fn scope(mut self, show: &Show, scope: Scope) -> Result<(Path, Remembering), FootageError> {
        let arrival = match scope {
            Scope::Global => {
                let bundles = self.bundles(show, 0..show.bundles.len())?;
                let all = self.stack(&bundles).unwrap_or_else(|| self.fill(0.0));
                Arrival { input: self.over_black(all), after: Vec::new() }
            }
            Scope::Bundle(b) => {
                let input = self.bundle_input(show, b)?;
                let opaque = self.opaque[input] && keeps_alpha(show.chain(scope));
                Arrival { input, after: self.after_bundle(show, b, opaque)? }
            }
            Scope::Level(b, l) => {
                let input = self.clip(show, b, l)?;
                let opaque = self.opaque[input] && keeps_alpha(show.chain(scope));
                Arrival { input, after: self.after_level(show, b, l, opaque)? }
            }
            Scope::Clip(b, l, c) => {
                let clip = &show.bundles[b].levels[l].clips[c];
                let input = self.footage(clip)?;
                let mut after = self.applied(show, Scope::Level(b, l));
                let keep =
                    [scope, Scope::Level(b, l)].into_iter().all(|scope| keeps_alpha(show.chain(scope)));
                after.extend(self.after_level(show, b, l, self.opaque[input] && keep)?);
                Arrival { input, after }
            }
        };
        Ok(self.path(arrival.input, show.chain(scope), arrival.after))
    }

    fn applied(&mut self, show: &Show, scope: Scope) -> Vec<After> {
        self.calls(show, scope).into_iter().map(After::Apply).collect()
    }

    /// From a level's finished picture to the output; `opaque` says whether that picture has full alpha.
    fn after_level(
        &mut self,
        show: &Show,
        b: usize,
        l: usize,
        opaque: bool,
    ) -> Result<Vec<After>, FootageError> {
        let levels = &show.bundles[b].levels;
        let below = self.levels(show, b, 0..l)?;
        let above = self.levels(show, b, l + 1..levels.len())?;
        let (mut after, opaque) = self.through_stack(&below, levels[l].mix, &above, opaque);
        after.extend(self.applied(show, Scope::Bundle(b)));
        let opaque = opaque && keeps_alpha(show.chain(Scope::Bundle(b)));
        after.extend(self.after_bundle(show, b, opaque)?);
        Ok(after)
    }

    /// From a bundle's finished picture to the output.
    fn after_bundle(&mut self, show: &Show, b: usize, opaque: bool) -> Result<Vec<After>, FootageError> {
        let below = self.bundles(show, 0..b)?;
        let above = self.bundles(show, b + 1..show.bundles.len())?;
        let (mut after, opaque) = self.through_stack(&below, show.bundles[b].mix, &above, opaque);
        if !opaque {
            let backdrop = self.fill(1.0);
            after.push(After::LayOver { backdrop, mix: Mix::default() });
        }
        after.extend(self.applied(show, Scope::Global));
        Ok(after)
    }

    /// Lays the picture that depends on the order between what is below and above
    /// it in a stack; gives the steps, and whether the result has full alpha.
    fn through_stack(
        &mut self,
        below: &[(Slot, Mix)],
        mix: Mix,
        above: &[(Slot, Mix)],
        opaque: bool,
    ) -> (Vec<After>, bool) {
        let covers = opaque && mix.opacity == 1.0;
        let (mut after, mut opaque) = match self.stack(below) {
            None if mix.opacity == 1.0 => (Vec::new(), opaque),
            None => (vec![After::LayOver { backdrop: self.fill(0.0), mix }], false),
            Some(backdrop) => (vec![After::LayOver { backdrop, mix }], covers || self.opaque[backdrop]),
        };
        for &(source, mix) in above {
            after.push(After::LayUnder { source, mix });
            opaque |= self.opaque[source] && mix.opacity == 1.0;
        }
        (after, opaque)
    }
}
