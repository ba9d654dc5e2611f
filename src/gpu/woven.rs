//! Frames that are rendered one by one on a software adapter: several steps in one pass, and of each picture only what
//! is read.

use std::rc::Rc;

use bytemuck::{Pod, Zeroable};

use super::GpuError;
use super::due::Due;
use super::jobs::Mixing;
use super::made::{MadeBy, Unchanged};
use super::past::Past;
use super::pipelines::{Program, held_format};
use super::recording::{Dispatch, Recording};
use super::renderer::Renderer;
use super::steps::Slots;
use super::texture_array::TextureArray;
use crate::base::frame::{Frame, PixelMode};
use crate::beat::Moment;
use crate::catalogue::{Thread, Woven, WovenStep, run_uniform};
use crate::order::IndexMap;
use crate::plan::passes::{Area, Pass, areas, opaque, passes};
use crate::plan::{Path, Slot, Step};
use crate::show::chain::EffectCall;

/// Texels that a pass makes, as `woven.wgsl` is told.
#[derive(Debug, Clone, Copy, Pod, Zeroable)]
#[repr(C)]
struct Covered {
    first: [i32; 2],
    end: [i32; 2],
    /// That is made, and read of pictures that have one for each.
    layer: i32,
    unused: i32,
}

impl From<Area> for Covered {
    fn from(area: Area) -> Self {
        let first = [area.left as i32, area.top as i32];
        Self { first, end: [area.right as i32, area.bottom as i32], layer: 0, unused: 0 }
    }
}

impl Renderer {
    /// Weaves frames of at least this many texels that are rendered one by one, where they are held in 8 bits:
    /// 0 for all, `u64::MAX` for none. The bytes stay the same.
    pub fn weave_from(&mut self, texels: u64) {
        self.weave_from_texels = texels;
    }

    pub(super) fn weaves(&self, moment: &Moment) -> bool {
        moment.pixels == PixelMode::Encoded8Bit && moment.frame.texels() >= self.weave_from_texels
    }

    /// Records steps as [`record_steps`](Self::record_steps) does, in fewer passes; none where the effects do not bear
    /// that.
    pub(super) fn record_woven(
        &mut self,
        recording: &mut Recording,
        due: Due<'_>,
        past: &mut Past,
    ) -> Result<Option<Slots>, GpuError> {
        let mut unchanged = past.unchanged.take().unwrap_or_default();
        let slots = self.record_woven_of(recording, due, past, &mut unchanged);
        past.unchanged = Some(unchanged);
        slots
    }

    fn record_woven_of(
        &mut self,
        recording: &mut Recording,
        due: Due<'_>,
        past: &mut Past,
        unchanged: &mut Unchanged,
    ) -> Result<Option<Slots>, GpuError> {
        let Due { steps, needed, moment, keep } = due;
        let areas =
            areas(steps, keep, moment.frame, |call, area| self.taken_from(call, area, moment, unchanged))?;
        let made = Unchanged::made(steps, moment, Some(&areas));
        // Of frames that are not shown only what is remembered is rendered.
        let wanted = match needed {
            Some(needed) => needed.to_vec(),
            None => unchanged.lacking(steps, &made, keep),
        };
        let mut slots = Slots::of(steps.len());
        let mut is_still = vec![false; steps.len()];
        for at in (0..steps.len()).filter(|&at| wanted[at]) {
            let Some(made) = made[at] else { continue };
            slots.put(at, unchanged.take(made));
            is_still[at] = unchanged.was_made(made);
        }
        let is_due: Vec<bool> = (0..steps.len()).map(|at| wanted[at] && slots.get(at).is_none()).collect();
        // What does not move is stored where something that moves is made of it.
        let mut stored: Vec<bool> = (0..steps.len()).map(|at| keep.contains(&at)).collect();
        let moving = steps.iter().enumerate().filter(|&(at, _)| is_due[at] && !is_still[at]);
        for (_, step) in moving {
            step.reads().into_iter().for_each(|from| stored[from] |= is_still[from]);
        }
        let passes = passes(steps, &is_due, &stored, &areas);
        let opaque = opaque(steps);
        let woven: Vec<Option<Woven>> =
            passes.iter().map(|pass| woven_of(steps, pass, &opaque, |_| false)).collect();
        for woven in woven.iter().flatten() {
            if !self.pipelines.is_right(&self.gpu, Program::Woven(woven), moment.pixels) {
                return Ok(None);
            }
        }
        // The processor writes before any dispatch runs, so it gets its arrays before any is recorded.
        let mut uploads = Vec::new();
        for (at, step) in steps.iter().enumerate().filter(|&(at, _)| is_due[at]) {
            if let Step::TakeIn { picture, .. } = step {
                uploads.push((at, self.uploaded_once(recording, picture, past)?));
            }
        }
        for (nth, pass) in passes.iter().enumerate() {
            let at = pass.makes();
            let result = self.array(moment.frame, 1, held_format(moment.pixels));
            let mut read =
                pass.pictures.iter().map(|&from| slots.kept(from)).collect::<Result<Vec<_>, _>>()?;
            match (&woven[nth], areas[at]) {
                (Some(woven), Some(area)) => {
                    read.truncate(woven.pictures.len());
                    let (uniform, covered) = (uniform_of(steps, pass), [Covered::from(area)]);
                    let dispatch = Dispatch::into_part(Program::Woven(woven), read, &result, area.frame());
                    self.record(recording, dispatch.with(&uniform).for_jobs(&covered));
                }
                _ => {
                    read.extend(
                        uploads.iter().find(|(upload, _)| *upload == at).map(|(_, array)| Rc::clone(array)),
                    );
                    if let Some(id) = steps[at].past() {
                        read.extend(past.replaced(id, &result));
                    }
                    self.record_step(recording, &steps[at], read, &result)?;
                }
            }
            if self.brief_texels.is_some_and(|most| moment.frame.texels() >= most) {
                self.send(recording)?;
                self.wait()?;
            }
            if let Some(made) = made[at] {
                unchanged.put(made, &steps[at], &result);
            }
            slots.put(at, Some(result));
            for slot in 0..at {
                let is_read = passes[nth + 1..].iter().any(|pass| pass.pictures.contains(&slot));
                if !is_read && !keep.contains(&slot) {
                    slots.put(slot, None);
                }
            }
        }
        (0..steps.len())
            .filter(|&at| wanted[at])
            .filter_map(|at| made[at])
            .for_each(|made| unchanged.note(made));
        Ok(Some(slots))
    }

    /// Records what follows the chain for finished orders, which stand in these layers of `last`, in fewer passes than it
    /// has steps; none where it does not bear that.
    pub(super) fn record_after_woven(
        &mut self,
        recording: &mut Recording,
        path: &Path,
        fixed: &Slots,
        last: &Rc<TextureArray>,
        layers: &[u32],
    ) -> Result<Option<Rc<TextureArray>>, GpuError> {
        let moment = &path.moment;
        if path.after.len() < 2 || path.after_remembers() || !self.weaves(moment) {
            return Ok(None);
        }
        let (steps, chain, output) = path.after_chain();
        let frame = Area::whole(moment.frame);
        let areas: Vec<Option<Area>> =
            areas(&steps, &[output], moment.frame, |_, _| Ok::<_, GpuError>(frame))?;
        let is_due: Vec<bool> = (0..steps.len()).map(|at| at > chain).collect();
        let stored: Vec<bool> = (0..steps.len()).map(|at| at == output).collect();
        let (passes, opaque) = (passes(&steps, &is_due, &stored, &areas), opaque(&steps));
        let woven: Option<Vec<Woven>> =
            passes.iter().map(|pass| woven_of(&steps, pass, &opaque, |at| at >= chain)).collect();
        let Some(woven) = woven else { return Ok(None) };
        for woven in &woven {
            if !self.pipelines.is_right(&self.gpu, Program::Woven(woven), moment.pixels) {
                return Ok(None);
            }
        }
        let top = layers.iter().max().map_or(1, |&layer| layer + 1);
        let mut made: Vec<(Slot, Rc<TextureArray>)> = vec![(chain, Rc::clone(last))];
        for (pass, woven) in passes.iter().zip(&woven) {
            let (at, area) = (pass.makes(), areas[pass.makes()].unwrap_or(frame));
            let read = |from: &Slot| match made.iter().find(|(slot, _)| slot == from) {
                Some((_, array)) => Ok(Rc::clone(array)),
                None => fixed.kept(*from),
            };
            let read = pass.pictures.iter().map(read).collect::<Result<Vec<_>, _>>()?;
            let result = self.array(moment.frame, top, held_format(moment.pixels));
            let covered = |&layer: &u32| Covered { layer: layer as i32, ..Covered::from(area) };
            let covered: Vec<Covered> = layers.iter().map(covered).collect();
            let uniform = uniform_of(&steps, pass);
            let dispatch = Dispatch::into_part(Program::Woven(woven), read, &result, area.frame());
            self.record(recording, dispatch.with(&uniform).for_jobs(&covered));
            made.push((at, result));
        }
        Ok(made.pop().map(|(_, output)| output))
    }

    /// What a move takes its texels from that fills an area: of one that stands still, worked out once; all of the
    /// frame where that is not known.
    fn taken_from(
        &mut self,
        call: &EffectCall,
        area: Area,
        moment: &Moment,
        unchanged: &mut Unchanged,
    ) -> Result<Area, GpuError> {
        let whole = Area::whole(moment.frame);
        let how = (&call.effect.name, call.effect.content, &call.uniform, moment.frame);
        let known = MadeBy::of(("taken from", how, area));
        if let Some(area) = unchanged.area_known(known) {
            return Ok(area);
        }
        // One that moves would have to be looked at in every frame.
        let seen = MadeBy::of(("moved", how));
        unchanged.note(seen);
        if !unchanged.was_made(seen) {
            return Ok(whole);
        }
        let taken = match self.index_map(call, moment) {
            Ok(map) => taken_from(&map, area),
            Err(GpuError::OutOfMemory(_)) => whole,
            Err(error) => return Err(error),
        };
        unchanged.know_area(known, taken);
        Ok(taken)
    }
}

/// The settings of a pass's steps, one after another.
fn uniform_of(steps: &[Step], pass: &Pass) -> Vec<u8> {
    let uniforms = pass.steps.iter().map(|&at| match &steps[at] {
        Step::Apply { call, .. } | Step::Generate { call, .. } => call.uniform.clone(),
        Step::Lay { mix, .. } => Mixing::from(*mix).opacity().to_le_bytes().to_vec(),
        Step::TakeIn { .. } | Step::Fill { .. } => Vec::new(),
    });
    let uniforms: Vec<Vec<u8>> = uniforms.collect();
    run_uniform(uniforms.iter().map(Vec::as_slice))
}

/// The area that a map takes the texels of another from.
fn taken_from(map: &IndexMap, area: Area) -> Area {
    let Frame { width, .. } = map.frame;
    let mut taken: Option<Area> = None;
    for channel in &map.channels {
        for row in channel.chunks_exact(width as usize).take(area.bottom as usize).skip(area.top as usize) {
            for &packed in &row[area.left as usize..area.right as usize] {
                let (x, y) = (packed & 0xffff, packed >> 16);
                let one = Area { left: x, top: y, right: x + 1, bottom: y + 1 };
                taken = Some(taken.map_or(one, |taken| taken.joined(one)));
            }
        }
    }
    taken.unwrap_or(Area::whole(map.frame))
}

/// A pass as its program is put together; none of one that has a program of its own.
fn woven_of(
    steps: &[Step],
    pass: &Pass,
    opaque: &[bool],
    is_layered: impl Fn(Slot) -> bool,
) -> Option<Woven> {
    let thread = |from: &Slot| {
        let inside = pass.steps.iter().position(|at| at == from).map(Thread::Step);
        inside.or_else(|| pass.pictures.iter().position(|at| at == from).map(Thread::Picture))
    };
    let woven = |at: Slot| match &steps[at] {
        Step::Apply { call, from, .. } if call.past.is_none() => {
            Some(WovenStep::Effect(call.effect.clone(), Some(thread(from)?)))
        }
        Step::Generate { call, .. } => Some(WovenStep::Effect(call.effect.clone(), None)),
        Step::Lay { backdrop, source, mix, .. } => Some(WovenStep::Lay {
            mode: Mixing::from(*mix).mode(),
            backdrop: thread(backdrop)?,
            source: thread(source)?,
        }),
        Step::TakeIn { .. } | Step::Fill { .. } | Step::Apply { .. } => None,
    };
    let steps = pass.steps.iter().map(|&at| Some((woven(at)?, opaque[at]))).collect::<Option<_>>()?;
    let pictures = pass.pictures.iter().map(|&at| opaque[at]).collect();
    Some(Woven { steps, pictures, layered: pass.pictures.iter().map(|&at| is_layered(at)).collect() })
}
