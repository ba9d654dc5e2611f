//! Steps gathered into passes, where a texel goes through several before it is stored; and how much of each picture is
//! read at all, as the half that a mirror hides need not be made.

use super::{Slot, Step};
use crate::base::frame::Frame;
use crate::catalogue::{Channels, Reach, Standing};
use crate::show::chain::EffectCall;

/// A rectangle of texels: the first column and row, and those behind the last ones.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Area {
    pub left: u32,
    pub top: u32,
    pub right: u32,
    pub bottom: u32,
}

impl Area {
    /// All of a frame.
    pub fn whole(frame: Frame) -> Self {
        Self { left: 0, top: 0, right: frame.width, bottom: frame.height }
    }

    /// Its size.
    pub fn frame(self) -> Frame {
        Frame { width: self.right - self.left, height: self.bottom - self.top }
    }

    fn texels(self) -> u64 {
        self.frame().texels()
    }

    /// The smallest that holds both.
    #[must_use]
    pub fn joined(self, other: Self) -> Self {
        Self {
            left: self.left.min(other.left),
            top: self.top.min(other.top),
            right: self.right.max(other.right),
            bottom: self.bottom.max(other.bottom),
        }
    }

    /// With all texels of a frame that are at most so far away, each way.
    fn grown(self, by: u32, frame: Frame) -> Self {
        Self {
            left: self.left.saturating_sub(by),
            top: self.top.saturating_sub(by),
            right: self.right.saturating_add(by).min(frame.width),
            bottom: self.bottom.saturating_add(by).min(frame.height),
        }
    }
}

/// What is read of the picture of each step for those of `keep` to be whole; none of what nothing reads. `taken_from`
/// says what a move takes its texels from that fills an area.
///
/// # Errors
/// What `taken_from` fails with.
pub fn areas<E>(
    steps: &[Step],
    keep: &[Slot],
    frame: Frame,
    mut taken_from: impl FnMut(&EffectCall, Area) -> Result<Area, E>,
) -> Result<Vec<Option<Area>>, E> {
    let whole = Area::whole(frame);
    let mut areas = vec![None; steps.len()];
    for (at, step) in steps.iter().enumerate().rev() {
        if keep.contains(&at) || step.past().is_some() {
            areas[at] = Some(whole);
        }
        let Some(area) = areas[at] else { continue };
        let read = match step {
            // What an effect keeps for the next frame is kept whole.
            Step::Apply { call, .. } if call.past.is_some() || !call.effect.is_trusted() => whole,
            Step::Apply { call, .. } => match call.effect.reach {
                Reach::Texel => area,
                Reach::Move => taken_from(call, area)?,
                Reach::Neighbourhood { radius } => area.grown(radius, frame),
                Reach::PastFrames | Reach::Source => whole,
            },
            Step::TakeIn { .. } | Step::Generate { .. } | Step::Fill { .. } | Step::Lay { .. } => area,
        };
        for from in step.reads() {
            let known: &mut Option<Area> = &mut areas[from];
            *known = Some(known.map_or(read, |known| known.joined(read)));
        }
    }
    Ok(areas)
}

/// Whether the picture of each step is sure to have full alpha everywhere.
pub fn opaque(steps: &[Step]) -> Vec<bool> {
    let mut opaque: Vec<bool> = Vec::with_capacity(steps.len());
    for step in steps {
        opaque.push(match step {
            Step::TakeIn { picture, .. } => picture.opaque,
            Step::Generate { call, .. } => call.effect.opaque && call.effect.is_trusted(),
            Step::Fill { alpha, .. } => *alpha == 1.0,
            // What an effect remembers may have had holes.
            Step::Apply { call, from, .. } => {
                call.past.is_none() && opaque[*from] && call.effect.is_trusted()
            }
            Step::Lay { backdrop, source, mix, .. } => {
                opaque[*backdrop] || opaque[*source] && mix.opacity == 1.0
            }
        });
    }
    opaque
}

/// Steps that one pass carries out, in turn; the picture of the last is stored.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Pass {
    /// One or more.
    pub steps: Vec<Slot>,
    /// The stored pictures that it reads, each once.
    pub pictures: Vec<Slot>,
}

impl Pass {
    /// The step whose picture it stores.
    pub fn makes(&self) -> Slot {
        self.steps.last().copied().unwrap_or_default()
    }
}

/// A pass while more may still be put behind it.
struct Open {
    pass: Pass,
    /// What a texel of it takes.
    takes: u64,
}

/// What it takes to read a texel of a stored picture: what all else is measured by.
const READ: u64 = 1;
/// What it takes to store one, and to read it again as bytes: on a software adapter, which stores texel by texel.
const STORED: u64 = 4;
/// Steps of one pass at most, so that its program is soon compiled.
const MOST_STEPS: usize = 12;
/// Pictures that one pass reads at most; WebGPU lets it read 16.
const MOST_PICTURES: usize = 8;

/// Whether a step can share its pass with others. A generated source is a long program of its own, and is compiled once.
fn may_share(step: &Step) -> bool {
    match step {
        Step::Apply { call, .. } => call.past.is_none(),
        Step::Lay { .. } => true,
        Step::TakeIn { .. } | Step::Generate { .. } | Step::Fill { .. } => false,
    }
}

/// How often a step reads each picture for one texel, and what it does with that.
fn takes(step: &Step) -> (u64, u64) {
    let Step::Apply { call, .. } = step else { return (1, 3) };
    let does = if call.effect.standing == Standing::Shipped { 2 } else { 20 };
    match call.effect.reach {
        Reach::Move if call.effect.channels == Channels::Together => (1, 0),
        Reach::Move => (3, 0),
        Reach::Neighbourhood { radius } => (u64::from(2 * radius + 1).pow(2), does),
        Reach::Texel | Reach::PastFrames | Reach::Source => (1, does),
    }
}

/// The passes that carry out the steps in `wanted`, in turn: a step whose picture only one other reads joins that one's
/// pass where it is cheaper to do it for each texel that is read than to store it. Those in `stored` get a pass of
/// their own.
pub fn passes(steps: &[Step], wanted: &[bool], stored: &[bool], areas: &[Option<Area>]) -> Vec<Pass> {
    let mut readers = vec![0; steps.len()];
    for step in steps.iter().enumerate().filter(|&(at, _)| wanted[at]).map(|(_, step)| step) {
        step.reads().into_iter().for_each(|from| readers[from] += 1);
    }
    let texels = |at: Slot| areas[at].map_or(0, Area::texels);
    let mut passes = Vec::new();
    let mut open: Vec<Option<Open>> = steps.iter().map(|_| None).collect();
    for (at, step) in steps.iter().enumerate().filter(|&(at, _)| wanted[at]) {
        let (reads, does) = takes(step);
        let mut whole = Open { pass: Pass { steps: Vec::new(), pictures: Vec::new() }, takes: does };
        for from in step.reads() {
            let joins = |under: &Open| {
                let here = reads * texels(at);
                let fits = whole.pass.steps.len() + under.pass.steps.len() < MOST_STEPS
                    && whole.pass.pictures.len() + under.pass.pictures.len() < MOST_PICTURES;
                fits && may_share(step)
                    && here * under.takes <= texels(from) * (under.takes + STORED) + here * READ
            };
            let pictures = match open[from].take() {
                Some(under) if joins(&under) => {
                    whole.takes += reads * under.takes;
                    whole.pass.steps.extend(under.pass.steps);
                    under.pass.pictures
                }
                under => {
                    passes.extend(under.map(|under| under.pass));
                    whole.takes += reads * READ;
                    vec![from]
                }
            };
            for picture in pictures {
                if !whole.pass.pictures.contains(&picture) {
                    whole.pass.pictures.push(picture);
                }
            }
        }
        whole.pass.steps.push(at);
        if stored[at] || readers[at] != 1 || !may_share(step) {
            passes.push(whole.pass);
        } else {
            open[at] = Some(whole);
        }
    }
    passes
}
