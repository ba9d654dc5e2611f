//! What to render, as data: no GPU here.
//!
//! From a scope to the output the picture flows along one path: what arrives
//! under the scope's chain, the chain, and what still happens on the way to
//! the output. Only the chain depends on the order, so everything else is
//! planned once, whatever the number of orders.

use std::sync::Arc;

use crate::chain::{EffectCall, EffectUse};
use crate::footage::{Fit, FootageError, Picture, Shelf, Shown};
use crate::frame::Moment;
use crate::show::{Bundle, FootageName, Level, Mix, Scope, Show};

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
        let mut planner = Planner::new(moment, shelf);
        let input = planner.footage(footage, fit)?;
        Ok(planner.path(input, chain, Vec::new()))
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
        Planner::new(moment, shelf).scope(show, scope)
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
    }

    /// Everything from footage to output for one order (places in the chain): the
    /// steps, and the slot of the output.
    pub fn in_order(&self, order: &[usize]) -> (Vec<Step>, Slot) {
        let mut steps = self.before.clone();
        let mut next = steps.len();
        let mut picture = self.input;
        let uses = order.iter().map(|&place| &self.chain[place]);
        let chain = uses
            .filter(|used| used.idle_because(&self.moment).is_none())
            .map(|used| After::Apply(used.call(&self.moment)));
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

struct Planner<'a> {
    moment: Moment,
    shelf: &'a mut Shelf,
    steps: Vec<Step>,
    /// For each slot, whether it has full alpha everywhere.
    opaque: Vec<bool>,
}

/// What is under a chain, and what still happens to it.
struct Arrival {
    input: Slot,
    after: Vec<After>,
}

impl<'a> Planner<'a> {
    fn new(moment: Moment, shelf: &'a mut Shelf) -> Self {
        Self { moment, shelf, steps: Vec::new(), opaque: Vec::new() }
    }

    fn path(self, input: Slot, chain: &[EffectUse], after: Vec<After>) -> Path {
        Path {
            moment: self.moment,
            opaque: self.opaque[input],
            before: self.steps,
            input,
            chain: chain.to_vec(),
            after,
        }
    }

    fn slot(&mut self, opaque: bool) -> Slot {
        self.opaque.push(opaque);
        self.opaque.len() - 1
    }

    fn footage(&mut self, footage: &FootageName, fit: Fit) -> Result<Slot, FootageError> {
        Ok(match self.shelf.shown(footage, fit, &self.moment)? {
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

    fn apply(&mut self, chain: &[EffectUse], from: Slot) -> Slot {
        let mut picture = from;
        for used in chain {
            if used.idle_because(&self.moment).is_some() {
                continue;
            }
            // Every effect keeps full alpha full (a test renders each to see).
            let into = self.slot(self.opaque[picture]);
            self.steps.push(Step::Apply { call: used.call(&self.moment), from: picture, into });
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

    fn clip(&mut self, level: &Level) -> Result<Slot, FootageError> {
        let clip = &level.clips[level.showing];
        let footage = self.footage(&clip.footage, clip.fit)?;
        Ok(self.apply(&clip.chain, footage))
    }

    fn level(&mut self, level: &Level) -> Result<Slot, FootageError> {
        let clip = self.clip(level)?;
        Ok(self.apply(&level.chain, clip))
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

    fn bundle_input(&mut self, bundle: &Bundle) -> Result<Slot, FootageError> {
        let mut levels = Vec::with_capacity(bundle.levels.len());
        for level in &bundle.levels {
            levels.push((self.level(level)?, level.mix));
        }
        Ok(self.stack(&levels).unwrap_or_else(|| self.fill(0.0)))
    }

    fn bundle(&mut self, bundle: &Bundle) -> Result<Slot, FootageError> {
        let input = self.bundle_input(bundle)?;
        Ok(self.apply(&bundle.chain, input))
    }

    /// The output is never transparent: a stage without light is black.
    fn over_black(&mut self, picture: Slot) -> Slot {
        if self.opaque[picture] {
            return picture;
        }
        let black = self.fill(1.0);
        self.lay(black, picture, Mix::default())
    }

    fn scope(mut self, show: &Show, scope: Scope) -> Result<Path, FootageError> {
        let arrival = match scope {
            Scope::Global => {
                let mut bundles = Vec::with_capacity(show.bundles.len());
                for bundle in &show.bundles {
                    bundles.push((self.bundle(bundle)?, bundle.mix));
                }
                let all = self.stack(&bundles).unwrap_or_else(|| self.fill(0.0));
                Arrival { input: self.over_black(all), after: Vec::new() }
            }
            Scope::Bundle(b) => {
                let input = self.bundle_input(&show.bundles[b])?;
                Arrival { input, after: self.after_bundle(show, b, self.opaque[input])? }
            }
            Scope::Level(b, l) => {
                let input = self.clip(&show.bundles[b].levels[l])?;
                Arrival { input, after: self.after_level(show, b, l, self.opaque[input])? }
            }
            Scope::Clip(b, l, c) => {
                let clip = &show.bundles[b].levels[l].clips[c];
                let input = self.footage(&clip.footage, clip.fit)?;
                let mut after = self.calls(&show.bundles[b].levels[l].chain);
                after.extend(self.after_level(show, b, l, self.opaque[input])?);
                Arrival { input, after }
            }
        };
        Ok(self.path(arrival.input, show.chain(scope), arrival.after))
    }

    fn calls(&self, chain: &[EffectUse]) -> Vec<After> {
        chain
            .iter()
            .filter(|used| used.idle_because(&self.moment).is_none())
            .map(|used| After::Apply(used.call(&self.moment)))
            .collect()
    }

    /// From a level's finished picture to the output; `opaque` says whether that picture has full alpha.
    fn after_level(
        &mut self,
        show: &Show,
        b: usize,
        l: usize,
        opaque: bool,
    ) -> Result<Vec<After>, FootageError> {
        let bundle = &show.bundles[b];
        let below = bundle.levels[..l].iter().map(|level| Ok((self.level(level)?, level.mix)));
        let below = below.collect::<Result<Vec<_>, FootageError>>()?;
        let above = bundle.levels[l + 1..].iter().map(|level| Ok((self.level(level)?, level.mix)));
        let above = above.collect::<Result<Vec<_>, FootageError>>()?;
        let (mut after, opaque) = self.through_stack(&below, bundle.levels[l].mix, &above, opaque);
        after.extend(self.calls(&bundle.chain));
        after.extend(self.after_bundle(show, b, opaque)?);
        Ok(after)
    }

    /// From a bundle's finished picture to the output.
    fn after_bundle(&mut self, show: &Show, b: usize, opaque: bool) -> Result<Vec<After>, FootageError> {
        let below = show.bundles[..b].iter().map(|bundle| Ok((self.bundle(bundle)?, bundle.mix)));
        let below = below.collect::<Result<Vec<_>, FootageError>>()?;
        let above = show.bundles[b + 1..].iter().map(|bundle| Ok((self.bundle(bundle)?, bundle.mix)));
        let above = above.collect::<Result<Vec<_>, FootageError>>()?;
        let (mut after, opaque) = self.through_stack(&below, show.bundles[b].mix, &above, opaque);
        if !opaque {
            let backdrop = self.fill(1.0);
            after.push(After::LayOver { backdrop, mix: Mix::default() });
        }
        after.extend(self.calls(&show.global));
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
