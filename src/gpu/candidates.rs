//! Candidates: many chains over one path, each with an order and settings of its own, in the same dispatches.
//!
//! A candidate has a layer to itself. At each depth one dispatch renders all candidates that take the same effect
//! next, whose settings stand behind their jobs; two arrays take turns, as no candidate shares what another makes.

use std::collections::BTreeMap;
use std::ptr;
use std::rc::Rc;
use std::sync::Arc;

use super::GpuError;
use super::difference::{SUMS_WORDS, same_frame, sum_of};
use super::explore::{Against, Budget};
use super::jobs::{Compared, Fingerprinted, Rows};
use super::past::Past;
use super::pipelines::{BYTES, Form, Program, held_format};
use super::recording::{Dispatch, Recording};
use super::renderer::{Renderer, texels_per_submission};
use super::steps::Slots;
use super::texture_array::TextureArray;
use crate::base::frame::{Frame, PixelMode};
use crate::base::picture::Picture;
use crate::catalogue::{Effect, job_with_settings};
use crate::measure::{STEPS, Trait};
use crate::order::Job;
use crate::plan::{After, Path, Slot, Step};
use crate::show::chain::{Chain, EffectUse};

/// What is the same for all candidates of one path.
#[derive(Debug)]
pub struct Ground {
    path: Path,
    /// What lies before the chain and beside it, where no frames lead up to this one.
    fixed: Option<Slots>,
    /// What pictures are compared with.
    reference: Option<Rc<TextureArray>>,
}

impl Ground {
    /// The path of the candidates; its own chain is none of them.
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// Whether frames lead up to the one that is looked at.
    fn plays(&self) -> bool {
        !self.path.past.is_empty()
    }
}

/// Finished pictures in one array: each with its layer and the number of its candidate.
type Ended = (Rc<TextureArray>, Vec<(u32, usize)>);

impl Renderer {
    /// Makes what all candidates of a path have in common; `against` is what they will be compared with.
    ///
    /// # Errors
    /// [`GpuError`] where the frame is too large or the GPU fails; a reference of another size is refused.
    pub fn ground(&mut self, path: &Path, against: Option<Against<'_>>) -> Result<Ground, GpuError> {
        let moment = &path.moment;
        self.gpu.check_frame(moment.frame)?;
        let reference = match against {
            Some(Against::Order(order)) => Some(self.given_out(path, order)?),
            Some(Against::Picture(picture)) => {
                same_frame(picture.frame, moment.frame)?;
                Some(self.taken_in(picture)?)
            }
            None => None,
        };
        let mut ground = Ground { path: path.clone(), fixed: None, reference };
        if !ground.plays() {
            let mut recording = Recording::new(moment.pixels);
            ground.fixed = Some(self.record_before(&mut recording, path, None)?);
            self.send(&mut recording)?;
        }
        Ok(ground)
    }

    /// How many candidates of so many effects are best made at once, within a budget of memory.
    pub fn candidates_at_once(&self, ground: &Ground, effects: usize, budget: Budget) -> usize {
        let path = &ground.path;
        let (texels, after) = (path.moment.frame.texels(), path.after.len());
        let passes = (effects + after + 1) as u64;
        let brisk = self.brief_texels.unwrap_or(texels_per_submission(self.gpu.adapter())) / texels / passes;
        let turns = if ground.plays() { 2 * effects } else { 2 };
        // Behind the chain two arrays take turns, and one more waits; one holds what is read back.
        let arrays = turns + if after == 0 { 1 } else { 4 };
        let layer = texels * path.moment.pixels.bytes_per_texel();
        let affordable = (budget.mib << 20) / layer / arrays as u64;
        let most = u64::from(self.gpu.limits.max_texture_array_layers - 2);
        brisk.min(affordable).clamp(1, most) as usize
    }

    /// How far the candidates' pictures are from the ground's reference: means, in CIEDE2000.
    ///
    /// # Errors
    /// [`GpuError`] where the GPU fails, or the ground has nothing to compare with.
    pub fn candidates_apart(&mut self, ground: &Ground, chains: &[Chain]) -> Result<Vec<f64>, GpuError> {
        self.is_stopped()?;
        let Some(reference) = &ground.reference else {
            return Err(GpuError::Defect("candidates have nothing to be compared with"));
        };
        let mut recording = Recording::new(ground.path.moment.pixels);
        let figures = self.figures((chains.len() * SUMS_WORDS) as u64 * 4);
        for (array, ended) in self.record_candidates(&mut recording, ground, chains)? {
            let job = |&(layer, candidate): &(u32, usize)| Compared {
                layer,
                reference: 0,
                entry: candidate as u32,
                unused: 0,
            };
            let jobs: Vec<Compared> = ended.iter().map(job).collect();
            let frame = array.frame;
            let read = vec![array, Rc::clone(reference)];
            let program = Program::DifferenceSums(Form::Held);
            let dispatch = Dispatch::into_figures(program, read, &figures, frame);
            self.record(&mut recording, dispatch.with_settings(&Rows::ALL).for_jobs(&jobs));
        }
        self.send(&mut recording)?;
        let words = self.read_words(&figures, chains.len() * SUMS_WORDS)?;
        let texels = ground.path.moment.frame.texels() as f64;
        let mean = |entry: &[u32]| sum_of(entry) as f64 / f64::from(STEPS) / texels;
        Ok(words.chunks_exact(SUMS_WORDS).map(mean).collect())
    }

    /// A trait of the candidates' pictures, as [`Traits`](crate::measure::Traits) has it, to about 1e-3 of it.
    ///
    /// # Errors
    /// [`GpuError`] where the GPU fails.
    pub fn candidates_traits(
        &mut self,
        ground: &Ground,
        chains: &[Chain],
        wanted: Trait,
    ) -> Result<Vec<f64>, GpuError> {
        self.is_stopped()?;
        let mut recording = Recording::new(ground.path.moment.pixels);
        let sums = self.figures(chains.len() as u64 * 8);
        for (array, ended) in self.record_candidates(&mut recording, ground, chains)? {
            let job = |&(layer, candidate): &(u32, usize)| Fingerprinted { layer, entry: candidate as u32 };
            let jobs: Vec<Fingerprinted> = ended.iter().map(job).collect();
            let frame = array.frame;
            let dispatch = Dispatch::into_figures(Program::Traits(wanted), vec![array], &sums, frame);
            self.record(&mut recording, dispatch.for_jobs(&jobs));
        }
        self.send(&mut recording)?;
        let words = self.read_words(&sums, chains.len() * 2)?;
        let texels = ground.path.moment.frame.texels() as f64;
        let mean = |sum: &[u32]| {
            (u64::from(sum[1]) << 32 | u64::from(sum[0])) as f64 / f64::from(wanted.steps()) / texels
        };
        Ok(words.chunks_exact(2).map(mean).collect())
    }

    /// The candidates' pictures, brought by area to a frame that is at most as large.
    ///
    /// # Errors
    /// [`GpuError`] where the GPU fails.
    pub fn candidate_pictures(
        &mut self,
        ground: &Ground,
        chains: &[Chain],
        frame: Frame,
    ) -> Result<Vec<Picture>, GpuError> {
        self.is_stopped()?;
        let mut recording = Recording::new(ground.path.moment.pixels);
        let bytes = self.array(frame, chains.len() as u32, BYTES);
        for (array, ended) in self.record_candidates(&mut recording, ground, chains)? {
            let job =
                |&(from_layer, candidate): &(u32, usize)| Job { from_layer, into_layer: candidate as u32 };
            let jobs: Vec<Job> = ended.iter().map(job).collect();
            self.record_shrink(&mut recording, &array, &bytes, &jobs, Form::Held);
        }
        self.send(&mut recording)?;
        self.read_back(&bytes, chains.len() as u32)
    }

    /// Every candidate from what is under it to the output, through the frames that lead up to it.
    fn record_candidates(
        &mut self,
        recording: &mut Recording,
        ground: &Ground,
        chains: &[Chain],
    ) -> Result<Vec<Ended>, GpuError> {
        let path = &ground.path;
        let (moment, plays) = (&path.moment, ground.plays());
        // What is remembered may be another at each frame; all else that changes nothing now is left out.
        let is_rendered = |used: &&EffectUse| match used.on && (plays || used.remembers()) {
            true => true,
            false => used.idle_because(moment).is_none(),
        };
        let steps: Vec<Vec<&EffectUse>> =
            chains.iter().map(|chain| chain.iter().filter(is_rendered).collect()).collect();
        let depths = steps.iter().map(Vec::len).max().unwrap_or(0);
        let chain_remembers = steps.iter().flatten().any(|used| used.remembers());
        let turns = if plays { 2 * depths } else { 2.min(depths) };
        let format = held_format(moment.pixels);
        let arrays: Vec<Rc<TextureArray>> =
            (0..turns).map(|_| self.array(moment.frame, chains.len() as u32, format)).collect();
        // The array of a depth from 1 on; of one that plays, each depth has two that take turns from frame to frame.
        let array = |depth: usize, frame: usize| {
            Rc::clone(&arrays[if plays { (depth - 1) * 2 + frame % 2 } else { (depth - 1) % 2 }])
        };
        let mut past = Past::default();
        let mut behind: BTreeMap<usize, Past> = BTreeMap::new();
        let frames: Vec<&Path> = path.frames().collect();
        // Frames whose candidates were rendered, and texels that wait to be sent.
        let (mut rendered, mut waiting) = (0, 0);
        for (at, path) in frames.iter().enumerate() {
            let is_last = at + 1 == frames.len();
            let own;
            let fixed = match &ground.fixed {
                Some(fixed) => fixed,
                None => {
                    own = self.record_before(recording, path, Some(&mut past))?;
                    past.next_frame();
                    &own
                }
            };
            let needs_after = is_last || path.after_remembers();
            if !needs_after && !chain_remembers {
                continue;
            }
            for depth in 1..=depths {
                let read = if depth == 1 { fixed.kept(path.input)? } else { array(depth - 1, rendered) };
                for step in taken_next(&steps, depth - 1, &path.moment) {
                    let has_last = rendered > 0 && step.remembers;
                    let (program, last) = if has_last {
                        (Program::PastOfEach(step.effect), Some(array(depth, rendered + 1)))
                    } else {
                        (Program::OfEach(step.effect), None)
                    };
                    let read = [Rc::clone(&read)].into_iter().chain(last).collect();
                    let dispatch = Dispatch::into_array(program, read, &array(depth, rendered));
                    self.record(recording, dispatch.for_jobs_with_settings(&step.jobs, step.count));
                    waiting += step.count as u64 * moment.frame.texels();
                }
            }
            if needs_after {
                let mut finished = Vec::new();
                for (depth, ended) in ends(&steps, plays) {
                    let last = if depth == 0 { fixed.kept(path.input)? } else { array(depth, rendered) };
                    let mut layers: Vec<u32> = ended.iter().map(|&(layer, _)| layer).collect();
                    layers.dedup();
                    waiting += (layers.len() * path.after.len()) as u64 * moment.frame.texels();
                    let past = plays.then(|| behind.entry(depth).or_default());
                    let now = self.record_after(recording, path, fixed, last, &layers, past)?;
                    finished.push((now, ended));
                }
                if is_last {
                    return Ok(finished);
                }
            }
            rendered += 1;
            if waiting > texels_per_submission(self.gpu.adapter()) {
                self.is_stopped()?;
                self.send(recording)?;
                self.wait()?;
                waiting = 0;
            }
        }
        Err(GpuError::Defect("the last frame is missing"))
    }

    /// A picture brought to a smaller frame by area, as pictures of a gallery are.
    ///
    /// # Errors
    /// [`GpuError`] where the GPU fails.
    pub fn shrunk(&mut self, picture: &Picture, frame: Frame) -> Result<Picture, GpuError> {
        let mut recording = Recording::new(PixelMode::Encoded8Bit);
        let from = self.uploaded(&mut recording, picture)?;
        let into = self.array(frame, 1, BYTES);
        let jobs = [Job { from_layer: 0, into_layer: 0 }];
        self.record_shrink(&mut recording, &from, &into, &jobs, Form::Held);
        self.send(&mut recording)?;
        let mut pictures = self.read_back(&into, 1)?;
        pictures.pop().ok_or(GpuError::Defect("no picture came back"))
    }

    /// The path `small` over what lies under and beside the chain of `whole`, the same path at a larger frame, brought
    /// to the smaller one by area: what reaches over texels there reaches as far as on `whole`. Where frames lead up
    /// to it, `small` as it is.
    ///
    /// # Errors
    /// [`GpuError`] where the GPU fails.
    pub fn shrunk_path(&mut self, whole: &Path, small: &Path) -> Result<Path, GpuError> {
        let (kept, own) = (whole.slots_kept(), small.slots_kept());
        if !whole.past.is_empty() || kept.len() != own.len() {
            return Ok(small.clone());
        }
        self.gpu.check_frame(whole.moment.frame)?;
        let mut recording = Recording::new(whole.moment.pixels);
        let fixed = self.record_before(&mut recording, whole, None)?;
        let into = self.array(small.moment.frame, kept.len() as u32, BYTES);
        for (&slot, into_layer) in kept.iter().zip(0..) {
            let jobs = [Job { from_layer: 0, into_layer }];
            self.record_shrink(&mut recording, &fixed.kept(slot)?, &into, &jobs, Form::Held);
        }
        self.send(&mut recording)?;
        let pictures = self.read_back(&into, kept.len() as u32)?;
        let take_in = |(picture, into): (Picture, Slot)| Step::TakeIn { picture: Arc::new(picture), into };
        // Every kept picture is a slot of its own, in the order of `slots_kept`: the input first.
        let mut beside = 1..;
        let after = small.after.iter().map(|after| match after {
            After::Apply(call) => After::Apply(call.clone()),
            After::LayOver { mix, .. } => After::LayOver { backdrop: beside.next().unwrap_or(0), mix: *mix },
            After::LayUnder { mix, .. } => After::LayUnder { source: beside.next().unwrap_or(0), mix: *mix },
        });
        let after = after.collect();
        let before = pictures.into_iter().zip(0..).map(take_in).collect();
        Ok(Path { before, input: 0, after, ..small.clone() })
    }
}

/// All candidates that take the same effect next.
struct Taken<'a> {
    effect: &'a Arc<Effect>,
    remembers: bool,
    jobs: Vec<u8>,
    count: usize,
}

/// What is taken at a depth, from 0 on: from the one layer under all of them, or each from its own.
fn taken_next<'a>(
    steps: &[Vec<&'a EffectUse>],
    depth: usize,
    moment: &crate::beat::Moment,
) -> Vec<Taken<'a>> {
    let mut taken: Vec<Taken<'a>> = Vec::new();
    for (candidate, steps) in steps.iter().enumerate() {
        let Some(used) = steps.get(depth) else { continue };
        let is_it = |taken: &Taken<'_>| ptr::eq(&raw const **taken.effect, &raw const *used.effect);
        let at = taken.iter().position(is_it).unwrap_or_else(|| {
            let (effect, remembers) = (&used.effect, used.remembers());
            taken.push(Taken { effect, remembers, jobs: Vec::new(), count: 0 });
            taken.len() - 1
        });
        let layer = candidate as u32;
        let from = if depth == 0 { 0 } else { layer };
        job_with_settings(&mut taken[at].jobs, from, layer, &used.call(moment).uniform);
        taken[at].count += 1;
    }
    taken
}

/// Where candidates end: for each array by its depth (0 is what is under them all), the layers and candidates there.
fn ends(steps: &[Vec<&EffectUse>], plays: bool) -> BTreeMap<usize, Vec<(u32, usize)>> {
    let mut ended: BTreeMap<usize, Vec<(u32, usize)>> = BTreeMap::new();
    for (candidate, steps) in steps.iter().enumerate() {
        let (depth, layer) = match steps.len() {
            0 => (0, 0),
            // Where two arrays take turns, every even depth ends in one of them.
            depth if !plays => (2 - depth % 2, candidate as u32),
            depth => (depth, candidate as u32),
        };
        ended.entry(depth).or_default().push((layer, candidate));
    }
    ended
}
