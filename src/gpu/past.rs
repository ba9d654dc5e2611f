//! What effects that remember keep from frame to frame, and the frames that lead up to a picture.

use std::collections::HashMap;
use std::rc::Rc;
use std::sync::Arc;

use super::GpuError;
use super::due::Due;
use super::explore::{Asked, Budget, Found, Leaf, Outcome};
use super::lent::Returned;
use super::made::Unchanged;
use super::pipelines::{BYTES, Form, Program, held_format};
use super::readback::Underway;
use super::recording::{Dispatch, Recording};
use super::renderer::{Renderer, texels_per_submission};
use super::texture_array::TextureArray;
use crate::base::doing::doing_counted;
use crate::base::frame::PixelMode;
use crate::base::picture::Picture;
use crate::order::{Round, Schedule, Tree};
use crate::plan::memory::fitting;
use crate::plan::passes::opaque;
use crate::plan::{Path, remembered};
use crate::show::chain::{EffectCall, EffectUse, PastId};

/// The last outputs of the effects that remember, and the footage of the frames before.
#[derive(Debug, Default)]
pub(super) struct Past {
    last: HashMap<PastId, Rc<TextureArray>>,
    /// Footage often stays the same from frame to frame: it is uploaded once.
    footage: Vec<(Arc<Picture>, Rc<TextureArray>, u64)>,
    frames: u64,
    /// Pictures that stay the same from frame to frame, where frames are rendered one by one.
    pub(super) unchanged: Option<Unchanged>,
}

/// Footage not shown for this many frames is let go.
const FOOTAGE_WAITS: u64 = 4;

impl Past {
    /// Keeps an effect's output, and gives the one that it kept before.
    pub(super) fn replaced(&mut self, id: PastId, output: &Rc<TextureArray>) -> Option<Rc<TextureArray>> {
        self.last.insert(id, Rc::clone(output))
    }

    /// Begins the next frame.
    pub(super) fn next_frame(&mut self) {
        self.frames += 1;
        if let Some(unchanged) = &mut self.unchanged {
            unchanged.next_frame();
        }
        let frames = self.frames;
        self.footage.retain(|(.., last_use)| last_use + FOOTAGE_WAITS > frames);
    }
}

/// Pictures that follow each other, one order of a chain at each: what is remembered is carried on.
#[derive(Debug)]
pub struct Player {
    past: Past,
    has_begun: bool,
}

impl Default for Player {
    fn default() -> Self {
        let past = Past { unchanged: Some(Unchanged::default()), ..Past::default() };
        Self { past, has_begun: false }
    }
}

/// What does not move from one frame to the next, for players whose frames are played by turns.
#[derive(Debug, Default)]
pub struct Unmoved(Option<Unchanged>);

impl Player {
    /// Trades what it knows not to have moved for what another player left: frames of one moment that are much
    /// alike are then made of the same pictures. Traded back, it is there for the next player.
    pub fn trade(&mut self, unmoved: &mut Unmoved) {
        std::mem::swap(&mut self.past.unchanged, &mut unmoved.0);
        self.past.unchanged.get_or_insert_default();
    }

    /// Whether a frame was played: only the first needs the frames that lead up to it.
    pub fn has_begun(&self) -> bool {
        self.has_begun
    }
}

impl Renderer {
    /// Renders the next frame: of the first, with the frames that lead up to it; each further one is to
    /// follow the one before.
    ///
    /// # Errors
    /// [`GpuError`] where the frame is too large or the GPU fails.
    pub fn play_on(
        &mut self,
        player: &mut Player,
        path: &Path,
        order: &[usize],
    ) -> Result<Picture, GpuError> {
        let mut pictures = self.play_several_on(player, std::slice::from_ref(path), order)?;
        pictures.pop().ok_or(GpuError::Defect("no picture came of the frame"))
    }

    /// Renders several next frames, which costs less than one by one where frames are small.
    ///
    /// # Errors
    /// As [`play_on`](Self::play_on).
    pub fn play_several_on(
        &mut self,
        player: &mut Player,
        paths: &[Path],
        order: &[usize],
    ) -> Result<Vec<Picture>, GpuError> {
        let underway = self.begin_several(player, paths, order)?;
        Ok(self.finish(underway)?.into_iter().map(Returned::picture).collect())
    }

    /// The same, without waiting for the pictures: what is begun next is rendered while these are
    /// [finished](Self::finish), in turn.
    ///
    /// # Errors
    /// As [`play_on`](Self::play_on).
    pub fn begin_several(
        &mut self,
        player: &mut Player,
        paths: &[Path],
        order: &[usize],
    ) -> Result<Underway, GpuError> {
        let Some((first, further)) = paths.split_first() else {
            return self.begin_reading(Recording::new(PixelMode::Encoded8Bit), Vec::new());
        };
        self.gpu.check_frame(first.moment.frame)?;
        let mut frames: Vec<&Path> = if player.has_begun { vec![first] } else { first.frames().collect() };
        let led_up = frames.len() - 1;
        frames.extend(further);
        let sampled: Vec<usize> = (led_up..frames.len()).collect();
        let (arrays, recording) = self.recorded_on(&mut player.past, &frames, order, &sampled)?;
        player.has_begun = true;
        self.begin_reading(recording, arrays)
    }

    /// Renders one order of a path frame by frame; gives the finished pictures of the frames in `sampled`.
    pub(super) fn played(
        &mut self,
        frames: &[&Path],
        order: &[usize],
        sampled: &[usize],
    ) -> Result<Vec<Rc<TextureArray>>, GpuError> {
        let (arrays, mut recording) = self.recorded(frames, order, sampled)?;
        self.send(&mut recording)?;
        Ok(arrays)
    }

    /// The same, with what is still to be sent.
    pub(super) fn recorded(
        &mut self,
        frames: &[&Path],
        order: &[usize],
        sampled: &[usize],
    ) -> Result<(Vec<Rc<TextureArray>>, Recording), GpuError> {
        self.recorded_on(&mut Past::default(), frames, order, sampled)
    }

    /// The same, where frames before may have left something.
    fn recorded_on(
        &mut self,
        past: &mut Past,
        frames: &[&Path],
        order: &[usize],
        sampled: &[usize],
    ) -> Result<(Vec<Rc<TextureArray>>, Recording), GpuError> {
        let pixels = frames.first().map_or(PixelMode::Encoded8Bit, |path| path.moment.pixels);
        let mut recording = Recording::new(pixels);
        let most = texels_per_submission(self.gpu.adapter());
        let mut waiting = 0;
        let mut given_out = Vec::with_capacity(sampled.len());
        let playing = (frames.len() > 1)
            .then(|| doing_counted("playing what effects remember", "frames", frames.len()));
        for (at, path) in frames.iter().enumerate() {
            playing.iter().for_each(|playing| playing.done(at));
            let (steps, output) = path.in_order(order);
            let is_sampled = sampled.contains(&at);
            let needed = (!is_sampled).then(|| remembered(&steps));
            let passes = needed.as_ref().map_or(steps.len(), |needed| needed.iter().filter(|&&n| n).count());
            let moment = &path.moment;
            let due = Due { steps: &steps, needed: needed.as_deref(), moment, keep: &[output] };
            let mut slots = self.record_steps(&mut recording, due, Some(&mut *past))?;
            past.next_frame();
            if is_sampled {
                let finished = slots.remove(output).ok_or(GpuError::Defect("a frame was not rendered"))?;
                drop(slots);
                // Bytes that cover all behind them leave the program as they are.
                given_out.push(if moment.pixels == PixelMode::Encoded8Bit && opaque(&steps)[output] {
                    finished
                } else {
                    let bytes = self.array(moment.frame, 1, BYTES);
                    self.record_given_out(&mut recording, finished, &bytes);
                    bytes
                });
            }
            waiting += passes as u64 * moment.frame.texels();
            if waiting > most && at + 1 < frames.len() {
                self.send(&mut recording)?;
                self.wait()?;
                waiting = 0;
            }
        }
        Ok((given_out, recording))
    }

    /// A tree at frames that follow each other, of which those in the second list are measured.
    ///
    /// Every partial chain keeps what its own effects remember, on the GPU, from the first frame to the
    /// last. Where that takes more than the budget, parts of the tree are played one after another; the
    /// pictures do not depend on the split.
    pub(super) fn explore_in_turn(
        &mut self,
        (frames, sampled): (&[&Path], &[usize]),
        tree: &Tree,
        asked: &Asked<'_>,
        found: &mut [Found],
        mut progress: impl FnMut(usize),
    ) -> Result<(), GpuError> {
        let first = frames[0];
        let mut done = 0;
        for part in self.parts(first, tree, asked.budget)? {
            let part_tree = tree.part(&part);
            let schedule = Schedule::of(&part_tree, tree.leaves.len().max(part_tree.nodes.len()));
            let mut playing = TreePlayed::of(self, first, &schedule);
            let mut outcomes: Vec<Outcome> = Vec::with_capacity(sampled.len());
            for (at, path) in frames.iter().enumerate() {
                let sample = sampled.iter().position(|&known| known == at);
                let finished = self.play(&mut playing, path, &schedule, sample.is_some())?;
                if let Some(sample) = sample {
                    let found = &mut found[sample];
                    let outcome = self.outcome(found, part.len());
                    playing.leaves.clear();
                    let form = Form::finished(path);
                    for (now, leaves) in finished {
                        let first = playing.leaves.len();
                        let leaf = |(at, (layer, leaf))| Leaf { layer, class: part[leaf], entry: first + at };
                        let leaves: Vec<Leaf> = leaves.into_iter().enumerate().map(leaf).collect();
                        self.record_measures(&mut playing.recording, &now, &leaves, &outcome, form);
                        self.take_tiles(&mut playing.recording, &now, &leaves, (asked.want, form), found)?;
                        playing.leaves.extend(leaves);
                    }
                    outcomes.push(outcome);
                }
                if playing.waiting > texels_per_submission(self.gpu.adapter()) {
                    self.is_stopped()?;
                    self.send(&mut playing.recording)?;
                    self.wait()?;
                    playing.waiting = 0;
                    progress(done + part.len() * (at + 1) / (frames.len() + 1));
                }
            }
            for (found, outcome) in found.iter_mut().zip(outcomes) {
                let (recording, leaves) = (&mut playing.recording, playing.leaves.len());
                let counted = self.read_figures(recording, &outcome, leaves, first.moment.frame)?;
                found.take(outcome, playing.leaves.iter().map(|leaf| leaf.class).zip(counted));
            }
            done += part.len();
            progress(done);
        }
        Ok(())
    }

    /// One frame of a part of a tree: from the footage to the finished pictures, which are given where
    /// the frame is sampled; of another frame only what is remembered is rendered. Chains of different
    /// lengths, as where an effect is left out, end at different depths.
    fn play(
        &mut self,
        playing: &mut TreePlayed,
        path: &Path,
        schedule: &Schedule,
        is_sampled: bool,
    ) -> Result<Vec<Ended>, GpuError> {
        let moment = &path.moment;
        let after_remembers = path.after_remembers();
        let chain_remembers = path.chain.iter().any(EffectUse::remembers);
        let needed = (!is_sampled && !chain_remembers && !after_remembers).then(|| remembered(&path.before));
        let TreePlayed { recording, past, .. } = playing;
        let keep = path.slots_kept();
        let due = Due { steps: &path.before, needed: needed.as_deref(), moment, keep: &keep };
        let fixed = self.record_steps(recording, due, Some(past))?;
        past.next_frame();
        if needed.is_some() {
            return Ok(Vec::new());
        }
        let rounds = if is_sampled || after_remembers { &schedule.rounds } else { &playing.remembering };
        let calls: Vec<EffectCall> = path.chain.iter().map(|used| used.call(moment)).collect();
        let even = playing.frames % 2;
        let input = fixed.kept(path.input)?;
        let array = |depth: usize, even: usize| match depth.checked_sub(1) {
            None => &input,
            Some(depth) => &playing.depths[depth][even % playing.depths[depth].len()],
        };
        let mut finished = Vec::new();
        for round in rounds {
            match round {
                Round::Apply { depth, run, jobs } => {
                    let into = array(depth + 1, even);
                    let call = &calls[run[0]];
                    let has_last = playing.frames > 0 && path.chain[run[0]].remembers();
                    let program = Program::of_effect(&call.effect, has_last);
                    let mut read = vec![Rc::clone(array(*depth, even))];
                    if has_last {
                        read.push(Rc::clone(array(depth + 1, even + 1)));
                    }
                    playing.waiting += jobs.len() as u64 * moment.frame.texels();
                    let dispatch = Dispatch::into_array(program, read, into);
                    self.record(&mut playing.recording, dispatch.with(&call.uniform).for_jobs(jobs));
                }
                Round::Finish { depth, leaves, .. } => {
                    let layers: Vec<u32> = leaves.iter().map(|&(layer, _)| layer).collect();
                    let last = Rc::clone(array(*depth, even));
                    let past = Some(&mut playing.behind[*depth]);
                    let now = self.record_after(&mut playing.recording, path, &fixed, last, &layers, past)?;
                    playing.waiting += (layers.len() * path.after.len()) as u64 * moment.frame.texels();
                    if is_sampled {
                        finished.push((now, leaves.clone()));
                    }
                }
            }
        }
        playing.frames += 1;
        Ok(finished)
    }

    /// The classes of a tree, cut so that the pictures of each part stay within the budget.
    fn parts(&self, path: &Path, tree: &Tree, budget: Budget) -> Result<Vec<Vec<usize>>, GpuError> {
        let layer_bytes = path.moment.frame.texels() * path.moment.pixels.bytes_per_texel();
        let most_layers = (budget.mib << 20) / layer_bytes;
        let most_wide = self.gpu.limits.max_texture_array_layers as usize - 2;
        let mut parts = Vec::new();
        let mut open: Vec<Vec<usize>> = vec![(0..tree.leaves.len()).collect()];
        while let Some(part) = open.pop() {
            let (layers, widest) = layers_of(path, &tree.part(&part));
            if layers <= most_layers && widest <= most_wide {
                parts.push(part);
            } else if part.len() > 1 {
                let (first, second) = part.split_at(part.len() / 2);
                open.extend([second.to_vec(), first.to_vec()]);
            } else {
                return Err(GpuError::BudgetTooSmall {
                    frame: path.moment.frame,
                    needed_mib: (layers * layer_bytes).div_ceil(1 << 20),
                    budget_mib: budget.mib,
                    fits: fitting(path.moment.frame, layers * layer_bytes, budget.mib << 20),
                });
            }
        }
        Ok(parts)
    }

    /// A picture's bytes on the GPU: those of an earlier frame, where they are still there.
    pub(super) fn uploaded_once(
        &mut self,
        recording: &mut Recording,
        picture: &Arc<Picture>,
        past: &mut Past,
    ) -> Result<Rc<TextureArray>, GpuError> {
        let frames = past.frames;
        if let Some((_, array, last_use)) =
            past.footage.iter_mut().find(|(known, ..)| Arc::ptr_eq(known, picture))
        {
            *last_use = frames;
            return Ok(Rc::clone(array));
        }
        // The processor writes before any dispatch of a recording runs, and so not into an array that one
        // of them has let go of: what is recorded goes first.
        self.send(recording)?;
        let array = self.uploaded(recording, picture)?;
        past.footage.push((Arc::clone(picture), Rc::clone(&array), frames));
        Ok(array)
    }
}

/// Finished pictures, and the layer and the class of each.
type Ended = (Rc<TextureArray>, Vec<(u32, usize)>);

/// A part of a tree while it is played.
struct TreePlayed {
    recording: Recording,
    past: Past,
    /// For each depth, what the effects behind the chain remember of the chains that end there.
    behind: Vec<Past>,
    /// For each depth from 1 on, the array of its pictures; two in turn where some are remembered.
    depths: Vec<Vec<Rc<TextureArray>>>,
    /// The rounds that make what is remembered.
    remembering: Vec<Round>,
    leaves: Vec<Leaf>,
    frames: usize,
    /// Texels that wait to be sent.
    waiting: u64,
}

impl TreePlayed {
    fn of(renderer: &mut Renderer, path: &Path, schedule: &Schedule) -> Self {
        let moment = &path.moment;
        let remembers = |place: usize| path.chain[place].remembers();
        let mut depths = Vec::with_capacity(schedule.layers.len());
        for (depth, &layers) in schedule.layers.iter().enumerate() {
            let count = 1 + usize::from(schedule.has(depth, remembers));
            let array = |_| renderer.array(moment.frame, layers as u32, held_format(moment.pixels));
            depths.push((0..count).map(array).collect());
        }
        Self {
            recording: Recording::new(moment.pixels),
            past: Past::default(),
            behind: (0..=depths.len()).map(|_| Past::default()).collect(),
            depths,
            remembering: schedule.remembering(remembers),
            leaves: Vec::new(),
            frames: 0,
            waiting: 0,
        }
    }
}

/// Layers that playing a tree takes, all together and in the widest array.
fn layers_of(path: &Path, tree: &Tree) -> (u64, usize) {
    let schedule = Schedule::of(tree, tree.nodes.len());
    let remembers = |place: usize| path.chain[place].remembers();
    // GL cannot have an array of one layer, nor of six.
    let own = |layers: usize| layers as u64 + 1;
    let mut layers = 0;
    for (depth, &width) in schedule.layers.iter().enumerate() {
        layers += own(width) * (1 + u64::from(schedule.has(depth, remembers)));
    }
    let widest = schedule.layers.iter().copied().max().unwrap_or(1);
    // Behind the chain two arrays take turns, and each effect there that remembers keeps one more.
    let kept = path.after.iter().filter(|after| after.remembers()).count() as u64;
    if !path.after.is_empty() {
        let ends = schedule.rounds.iter().filter_map(|round| match round {
            Round::Finish { depth, .. } => Some(depth.checked_sub(1).map_or(1, |last| schedule.layers[last])),
            Round::Apply { .. } => None,
        });
        layers += ends.map(|width| own(width) * (2 + kept)).sum::<u64>();
    }
    (layers, widest)
}
