//! The steps of a plan as dispatches: what lies before the chain, and what lies behind it.

use std::collections::VecDeque;
use std::rc::Rc;

use super::GpuError;
use super::due::Due;
use super::jobs::{Filling, Laid, Mixing};
use super::made::Unchanged;
use super::past::Past;
use super::pipelines::{BYTES, Program, held_format};
use super::recording::{Dispatch, Recording};
use super::renderer::Renderer;
use super::texture_array::TextureArray;
use crate::base::frame::Frame;
use crate::order::Job;
use crate::plan::{After, Path, Slot, Step};

/// The pictures made by steps, by slot; those let go are gone.
#[derive(Debug)]
pub(super) struct Slots(Vec<Option<Rc<TextureArray>>>);

impl Slots {
    pub(super) fn of(steps: usize) -> Self {
        Self(vec![None; steps])
    }

    pub(super) fn get(&self, slot: Slot) -> Option<&Rc<TextureArray>> {
        self.0.get(slot).and_then(Option::as_ref)
    }

    pub(super) fn put(&mut self, slot: Slot, array: Option<Rc<TextureArray>>) {
        if let Some(place) = self.0.get_mut(slot) {
            *place = array;
        }
    }

    pub(super) fn kept(&self, slot: Slot) -> Result<Rc<TextureArray>, GpuError> {
        self.get(slot).map(Rc::clone).ok_or(GpuError::Defect("a picture of the plan is missing"))
    }

    pub(super) fn remove(&mut self, slot: Slot) -> Option<Rc<TextureArray>> {
        self.0.get_mut(slot).and_then(Option::take)
    }
}

impl Renderer {
    /// Records what leads up to a path's chain.
    pub(super) fn record_before(
        &mut self,
        recording: &mut Recording,
        path: &Path,
        past: Option<&mut Past>,
    ) -> Result<Slots, GpuError> {
        let keep = path.slots_kept();
        let due = Due { steps: &path.before, needed: None, moment: &path.moment, keep: &keep };
        self.record_steps(recording, due, past)
    }

    /// Records steps. Effects that remember read and renew what `past` keeps for them; without it they begin at this
    /// frame.
    pub(super) fn record_steps(
        &mut self,
        recording: &mut Recording,
        due: Due<'_>,
        mut past: Option<&mut Past>,
    ) -> Result<Slots, GpuError> {
        let Due { steps, needed, moment, keep } = due;
        if self.weaves(moment)
            && let Some(past) = past.as_deref_mut().filter(|past| past.unchanged.is_some())
            && let Some(slots) = self.record_woven(recording, due, past)?
        {
            return Ok(slots);
        }
        let mut slots = Slots::of(steps.len());
        // Taken out for as long as the past is lent on.
        let mut unchanged = past.as_mut().and_then(|past| past.unchanged.take());
        let made = unchanged.as_ref().map(|_| Unchanged::made(steps, moment, None));
        let made_of = |at: Slot| made.as_ref().and_then(|made| made[at]);
        // Of frames that are not shown only what is remembered is rendered.
        let wanted = match (&unchanged, &made, needed) {
            (Some(unchanged), Some(made), None) => Some(unchanged.lacking(steps, made, keep)),
            _ => needed.map(<[bool]>::to_vec),
        };
        let is_needed = |at: Slot| wanted.as_ref().is_none_or(|wanted| wanted[at]);
        for (at, _) in steps.iter().enumerate().filter(|&(at, _)| is_needed(at)) {
            slots.0[at] = made_of(at).zip(unchanged.as_mut()).and_then(|(made, known)| known.take(made));
        }
        let is_there: Vec<bool> = slots.0.iter().map(Option::is_some).collect();
        let last_use = |slot: Slot| steps.iter().rposition(|step| step.reads().contains(&slot)).unwrap_or(0);
        // The processor writes before any dispatch runs, so it gets its arrays before any is recorded:
        // later, it could be given one that a dispatch has let go of and still writes.
        let mut uploads = VecDeque::new();
        for (at, step) in steps.iter().enumerate() {
            if let (Step::TakeIn { picture, .. }, true) = (step, is_needed(at) && !is_there[at]) {
                uploads.push_back(match &mut past {
                    Some(past) => self.uploaded_once(recording, picture, past)?,
                    None => self.uploaded(recording, picture)?,
                });
            }
        }
        for (at, step) in steps.iter().enumerate().filter(|&(at, _)| is_needed(at) && !is_there[at]) {
            let result = self.array(moment.frame, 1, held_format(moment.pixels));
            let mut read = match step {
                Step::TakeIn { .. } => uploads.pop_front().into_iter().collect(),
                Step::Generate { .. } | Step::Fill { .. } => Vec::new(),
                Step::Apply { from, .. } => vec![slots.kept(*from)?],
                Step::Lay { backdrop, source, .. } => vec![slots.kept(*backdrop)?, slots.kept(*source)?],
            };
            if let (Some(past), Some(id)) = (&mut past, step.past()) {
                read.extend(past.replaced(id, &result));
            }
            self.record_step(recording, step, read, &result)?;
            // A whole frame of a large picture would keep a window waiting.
            if self.brief_texels.is_some_and(|most| moment.frame.texels() >= most) {
                self.send(recording)?;
                self.wait()?;
            }
            if let Some((made, known)) = made_of(at).zip(unchanged.as_mut()) {
                known.put(made, step, &result);
            }
            slots.0[at] = Some(result);
            for slot in 0..at {
                if !keep.contains(&slot) && last_use(slot) <= at {
                    slots.0[slot] = None;
                }
            }
        }
        if let Some(past) = past {
            past.unchanged = unchanged;
        }
        Ok(slots)
    }

    /// Records one step, which reads the pictures of `read`: behind its own, the last output of an effect
    /// that remembers, if there is one.
    pub(super) fn record_step(
        &mut self,
        recording: &mut Recording,
        step: &Step,
        read: Vec<Rc<TextureArray>>,
        result: &Rc<TextureArray>,
    ) -> Result<(), GpuError> {
        match step {
            Step::TakeIn { picture, .. } => {
                let read = if read.is_empty() { vec![self.uploaded(recording, picture)?] } else { read };
                self.record(recording, Dispatch::into_array(Program::TakeIn, read, result));
            }
            Step::Generate { call, .. } => {
                let unused = self.unused();
                let program = Program::Effect(&call.effect);
                let dispatch = Dispatch::into_array(program, vec![unused], result);
                self.record(recording, dispatch.with(&call.uniform));
            }
            Step::Fill { alpha, .. } => {
                let settings = Filling { alpha: *alpha, ..Filling::default() };
                let unused = self.unused();
                let dispatch = Dispatch::into_array(Program::Fill, vec![unused], result);
                self.record(recording, dispatch.with_settings(&settings));
            }
            Step::Apply { call, .. } => {
                let program = Program::of_effect(&call.effect, read.len() == 2);
                let dispatch = Dispatch::into_array(program, read, result);
                self.record(recording, dispatch.with(&call.uniform));
            }
            Step::Lay { mix, .. } => {
                let dispatch = Dispatch::into_array(Program::Lay, read, result);
                self.record(recording, dispatch.with_settings(&Mixing::from(*mix)));
            }
        }
        Ok(())
    }

    /// From the last effect of each leaf, which stand in these layers of `last`, to the output.
    pub(super) fn record_after(
        &mut self,
        recording: &mut Recording,
        path: &Path,
        fixed: &Slots,
        last: Rc<TextureArray>,
        layers: &[u32],
        mut past: Option<&mut Past>,
    ) -> Result<Rc<TextureArray>, GpuError> {
        if let Some(woven) = self.record_after_woven(recording, path, fixed, &last, layers)? {
            return Ok(woven);
        }
        let moment = &path.moment;
        let top = layers.iter().max().map_or(1, |&layer| layer + 1);
        let mut now = last;
        for after in &path.after {
            let into = self.array(moment.frame, top, held_format(moment.pixels));
            match after {
                After::Apply(call) => {
                    let jobs: Vec<Job> =
                        layers.iter().map(|&layer| Job { from_layer: layer, into_layer: layer }).collect();
                    let last = match (&mut past, call.past) {
                        (Some(past), Some(id)) => past.replaced(id, &into),
                        _ => None,
                    };
                    let program = Program::of_effect(&call.effect, last.is_some());
                    let read = [now].into_iter().chain(last).collect();
                    let dispatch = Dispatch::into_array(program, read, &into);
                    self.record(recording, dispatch.with(&call.uniform).for_jobs(&jobs));
                }
                After::LayOver { backdrop, mix } => {
                    let laid = |&layer: &u32| Laid { backdrop: 0, source: layer, into: layer, unused: 0 };
                    let jobs: Vec<Laid> = layers.iter().map(laid).collect();
                    let read = vec![fixed.kept(*backdrop)?, now];
                    let dispatch = Dispatch::into_array(Program::Lay, read, &into);
                    self.record(recording, dispatch.with_settings(&Mixing::from(*mix)).for_jobs(&jobs));
                }
                After::LayUnder { source, mix } => {
                    let laid = |&layer: &u32| Laid { backdrop: layer, source: 0, into: layer, unused: 0 };
                    let jobs: Vec<Laid> = layers.iter().map(laid).collect();
                    let read = vec![now, fixed.kept(*source)?];
                    let dispatch = Dispatch::into_array(Program::Lay, read, &into);
                    self.record(recording, dispatch.with_settings(&Mixing::from(*mix)).for_jobs(&jobs));
                }
            }
            now = into;
        }
        Ok(now)
    }

    /// A picture for programs that read none.
    pub(super) fn unused(&mut self) -> Rc<TextureArray> {
        self.array(Frame { width: 1, height: 1 }, 1, BYTES)
    }
}
