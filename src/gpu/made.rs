//! How a picture was made, as a number: equal for pictures made alike.

use std::collections::{HashMap, HashSet};
use std::hash::Hash;
use std::rc::Rc;
use std::sync::Arc;

use super::texture_array::TextureArray;
use crate::base::content::Content;
use crate::base::picture::Picture;
use crate::beat::Moment;
use crate::plan::passes::Area;
use crate::plan::{Slot, Step};

/// Bytes of pictures of the frame before that are kept at most.
const KEPT_BYTES: u64 = 256 << 20;
/// Areas that are kept at most.
const KEPT_AREAS: usize = 256;

/// What stands for how a picture was made.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub(super) struct MadeBy(Content);

impl MadeBy {
    pub(super) fn of(how: impl Hash) -> Self {
        Self(Content::of_values(how))
    }
}

/// The pictures of the frame before that may be those of this one too: what does not move is made once.
#[derive(Debug, Default)]
pub(super) struct Unchanged {
    before: HashMap<MadeBy, StillPicture>,
    now: HashMap<MadeBy, StillPicture>,
    /// What was made in the frame before, and in this one, whether or not its picture was stored.
    made_before: HashSet<MadeBy>,
    made_now: HashSet<MadeBy>,
    /// What moves take their texels from.
    taken_from: HashMap<MadeBy, Area>,
    bytes: u64,
}

#[derive(Debug, Clone)]
struct StillPicture {
    array: Rc<TextureArray>,
    /// Footage is known by its place in memory, which it holds for as long as it is known.
    _footage: Option<Arc<Picture>>,
}

impl Unchanged {
    /// What each step makes, where only `areas` are made of those; nothing for what depends on frames before, and for
    /// all that is made of it.
    pub(super) fn made(
        steps: &[Step],
        moment: &Moment,
        areas: Option<&[Option<Area>]>,
    ) -> Vec<Option<MadeBy>> {
        let mut made: Vec<Option<MadeBy>> = Vec::with_capacity(steps.len());
        for (at, step) in steps.iter().enumerate() {
            let area = areas.and_then(|areas| areas[at]);
            let own = match step {
                _ if step.past().is_some() => None,
                Step::TakeIn { picture, .. } => Some(MadeBy::of(("take in", Arc::as_ptr(picture) as usize))),
                Step::Generate { call, .. } => {
                    Some(MadeBy::of(("generate", &call.effect.name, call.effect.content, &call.uniform)))
                }
                Step::Fill { alpha, .. } => Some(MadeBy::of(("fill", alpha.to_bits()))),
                Step::Apply { call, from, .. } => made[*from]
                    .map(|from| MadeBy::of((&call.effect.name, call.effect.content, &call.uniform, from))),
                Step::Lay { backdrop, source, mix, .. } => {
                    made[*backdrop].zip(made[*source]).map(|(backdrop, source)| {
                        MadeBy::of((mix.blend, mix.opacity.to_bits(), backdrop, source))
                    })
                }
            };
            made.push(own.map(|own| MadeBy::of((own, moment.frame, moment.pixels, area))));
        }
        made
    }

    /// The steps that are still to be rendered for the pictures of `keep`, and for all that remembers.
    pub(super) fn lacking(&self, steps: &[Step], made: &[Option<MadeBy>], keep: &[Slot]) -> Vec<bool> {
        let is_there = |at: Slot| made[at].is_some_and(|made| self.before.contains_key(&made));
        let mut wanted: Vec<bool> =
            (0..steps.len()).map(|at| keep.contains(&at) || steps[at].past().is_some()).collect();
        for at in (0..steps.len()).rev() {
            if wanted[at] && !is_there(at) {
                for from in steps[at].reads() {
                    wanted[from] = true;
                }
            }
        }
        wanted
    }

    /// The picture of the frame before that is made like this.
    pub(super) fn take(&mut self, made: MadeBy) -> Option<Rc<TextureArray>> {
        let kept = self.before.get(&made)?.clone();
        let array = Rc::clone(&kept.array);
        self.keep(made, kept);
        Some(array)
    }

    /// Keeps a picture for the next frame.
    pub(super) fn put(&mut self, made: MadeBy, step: &Step, array: &Rc<TextureArray>) {
        let footage = match step {
            Step::TakeIn { picture, .. } => Some(Arc::clone(picture)),
            _ => None,
        };
        self.keep(made, StillPicture { array: Rc::clone(array), _footage: footage });
    }

    /// Notes that something was made in this frame.
    pub(super) fn note(&mut self, made: MadeBy) {
        self.made_now.insert(made);
    }

    /// Whether the same was made in the frame before.
    pub(super) fn was_made(&self, made: MadeBy) -> bool {
        self.made_before.contains(&made)
    }

    /// What a move takes its texels from, where that was worked out.
    pub(super) fn area_known(&self, of: MadeBy) -> Option<Area> {
        self.taken_from.get(&of).copied()
    }

    /// Keeps what a move takes its texels from.
    pub(super) fn know_area(&mut self, of: MadeBy, area: Area) {
        if self.taken_from.len() >= KEPT_AREAS {
            self.taken_from.clear();
        }
        self.taken_from.insert(of, area);
    }

    fn keep(&mut self, made: MadeBy, kept: StillPicture) {
        let bytes = kept.array.bytes();
        if self.bytes + bytes <= KEPT_BYTES && self.now.insert(made, kept).is_none() {
            self.bytes += bytes;
        }
    }

    /// Begins the next frame.
    pub(super) fn next_frame(&mut self) {
        self.before = std::mem::take(&mut self.now);
        self.made_before = std::mem::take(&mut self.made_now);
        self.bytes = 0;
    }
}
