//! From a show or a chain to the steps that render it.

use std::sync::Arc;

use super::{After, Path, Slot, Step, called, keeps_alpha};
use crate::beat::Moment;
use crate::footage::{FootageError, Shelf, Shown};
use crate::show::chain::{EffectCall, EffectUse, PastId};
use crate::show::clip::{Fit, FootageName, Play};
use crate::show::{Clip, Mix, Scope, Show};

/// The effects on a path that remember.
#[derive(Debug, Default)]
pub(super) struct Remembering {
    /// Those of other chains than the path's own.
    pub(super) elsewhere: Vec<(PastId, EffectUse)>,
}

impl Remembering {
    /// How far back anything has to be rendered for the path's output, whatever the order of its chain.
    pub(super) fn frames_before(&self, path: &Path) -> u64 {
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
    pub(super) fn takes_in(&self, chain: &[EffectUse], moment: &Moment) -> bool {
        chain.iter().chain(self.elsewhere.iter().map(|(_, used)| used)).any(|used| used.takes_in(moment))
    }
}

pub(super) struct Planner<'a> {
    pub(super) remembering: Remembering,
    moment: Moment,
    shelf: &'a mut Shelf,
    /// Chains of another show on the same path are numbered from here on, so that each keeps its own past.
    chains_from: usize,
    pub(super) steps: Vec<Step>,
    /// For each slot, whether it has full alpha everywhere.
    pub(super) opaque: Vec<bool>,
}

/// Frames that a path which is carried on looks back further: as many may be left out in playing.
pub(super) const SPARE_FRAMES: u64 = 8;

/// Frames in a row whose carried paths begin at the same one.
pub(super) const SHARED_FRAMES: u64 = 32;

/// What is under a chain, and what still happens to it.
pub(super) struct Arrival {
    input: Slot,
    after: Vec<After>,
}

impl<'a> Planner<'a> {
    pub(super) fn new(moment: Moment, shelf: &'a mut Shelf) -> Self {
        Self {
            remembering: Remembering::default(),
            moment,
            shelf,
            chains_from: 0,
            steps: Vec::new(),
            opaque: Vec::new(),
        }
    }

    pub(super) fn path(self, input: Slot, chain: &[EffectUse], after: Vec<After>) -> (Path, Remembering) {
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
    pub(super) fn calls(&mut self, show: &Show, scope: Scope) -> Vec<EffectCall> {
        let number = show.scopes().iter().position(|&known| known == scope);
        let number = number.map(|number| number + self.chains_from);
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

    pub(super) fn footage(&mut self, clip: &Clip) -> Result<Slot, FootageError> {
        self.shown(&clip.footage, clip.fit, &clip.play)
    }

    pub(super) fn shown(
        &mut self,
        footage: &FootageName,
        fit: Fit,
        play: &Play,
    ) -> Result<Slot, FootageError> {
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
        if clip.hidden {
            return Ok(self.fill(0.0));
        }
        let footage = self.footage(clip)?;
        Ok(self.apply(show, Scope::Clip(b, l, level.showing), footage))
    }

    fn level(&mut self, show: &Show, b: usize, l: usize) -> Result<Slot, FootageError> {
        let clip = self.clip(show, b, l)?;
        Ok(self.apply(show, Scope::Level(b, l), clip))
    }

    /// Some levels of a bundle, those that are not hidden, and how each lies over those below.
    fn levels(
        &mut self,
        show: &Show,
        b: usize,
        which: std::ops::Range<usize>,
    ) -> Result<Vec<(Slot, Mix)>, FootageError> {
        let levels = &show.bundles[b].levels;
        let which = which.filter(|&l| !levels[l].hidden);
        which.map(|l| Ok((self.level(show, b, l)?, levels[l].mix))).collect()
    }

    /// Some bundles of the show, likewise.
    fn bundles(
        &mut self,
        show: &Show,
        which: std::ops::Range<usize>,
    ) -> Result<Vec<(Slot, Mix)>, FootageError> {
        let which = which.filter(|&b| !show.bundles[b].hidden);
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

    /// What is under the global chain.
    fn under_all(&mut self, show: &Show) -> Result<Slot, FootageError> {
        let bundles = self.bundles(show, 0..show.bundles.len())?;
        let all = self.stack(&bundles).unwrap_or_else(|| self.fill(0.0));
        Ok(self.over_black(all))
    }

    /// The outputs of shows, each with its share of the picture, and another's laid over them.
    pub(super) fn fade(
        mut self,
        from: &[(&Show, f64)],
        to: &Show,
        share: f64,
    ) -> Result<(Path, Remembering), FootageError> {
        let laid = |opacity: f64| Mix { opacity, ..Mix::default() };
        self.chains_from = to.scopes().len();
        let mut backdrop = None;
        let mut below = 0.0;
        for (show, of) in from {
            let under = self.under_all(show)?;
            let output = self.apply(show, Scope::Global, under);
            self.chains_from += show.scopes().len();
            // Laid over so much, it is that share of both.
            below += of;
            backdrop = Some(match backdrop {
                None => output,
                Some(under) => self.lay(under, output, laid(of / below)),
            });
        }
        self.chains_from = 0;
        let (mut path, remembering) = self.scope(to, Scope::Global)?;
        path.after.extend(backdrop.map(|backdrop| After::LayOver { backdrop, mix: laid(share) }));
        Ok((path, remembering))
    }

    pub(super) fn scope(mut self, show: &Show, scope: Scope) -> Result<(Path, Remembering), FootageError> {
        let arrival = match scope {
            Scope::Global => Arrival { input: self.under_all(show)?, after: Vec::new() },
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
