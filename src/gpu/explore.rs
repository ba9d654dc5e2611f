//! Exploring at one moment: every distinct partial chain once, and what is wanted of each finished picture.

use std::fmt;
use std::rc::Rc;

use serde::{Deserialize, Serialize};

use super::GpuError;
use super::difference::{ENTRY_BYTES, ENTRY_WORDS, Gallery, counted_of, same_frame};
use super::jobs::{Compared, Fingerprinted};
use super::pipelines::{BYTES, Form, Program, held_format};
use super::readback::WordsUnderway;
use super::recording::{Dispatch, Recording};
use super::renderer::{Renderer, texels_per_submission};
use super::sharing::{Into, Programs, are_beside};
use super::texture_array::TextureArray;
use crate::base::doing::doing_counted;
use crate::base::frame::Frame;
use crate::base::picture::Picture;
use crate::beat::Moment;
use crate::measure::Difference;
use crate::order::{Class, Job, Round, Schedule, Tree};
use crate::plan::memory::{fitting, last_weight, least_of_orders};
use crate::plan::{Path, Step};
use crate::show::chain::EffectCall;

/// Memory that pictures of one exploration may take on the GPU.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Budget {
    pub mib: u64,
}

impl Default for Budget {
    fn default() -> Self {
        Self { mib: 1024 }
    }
}

/// 128 bits that stand for a finished picture's bytes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
pub struct Fingerprint(pub [u32; 4]);

impl Fingerprint {
    /// What stands for several pictures in turn; for one picture, its own.
    pub fn of_all(pictures: impl IntoIterator<Item = Self>) -> Self {
        // An odd factor loses nothing of what it multiplies; its digits are those of the golden ratio.
        const FACTOR: u128 = 0x9e37_79b9_7f4a_7c15_f39c_c060_5ced_c835;
        let one =
            |Self([a, b, c, d]): Self| [a, b, c, d].iter().fold(0, |all, &word| all << 32 | u128::from(word));
        let all =
            pictures.into_iter().fold(0_u128, |all, next| all.wrapping_mul(FACTOR).wrapping_add(one(next)));
        Self([96, 64, 32, 0].map(|shift| (all >> shift) as u32))
    }
}

impl fmt::Display for Fingerprint {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.iter().try_for_each(|word| write!(f, "{word:08x}"))
    }
}

/// What a caller has to see to.
pub(super) const NO_FRAME: GpuError = GpuError::Defect("there is no frame to explore");

/// Bytes of whole pictures that are read back together.
const TOGETHER_BYTES: u64 = 128 << 20;

/// What is wanted of each finished picture, beside its fingerprint.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Want {
    /// Nothing more.
    #[default]
    Figures,
    /// The first `most` pictures, at this size (at most the frame's).
    Tiles {
        /// Size of a tile.
        size: Frame,
        /// How many classes get one.
        most: usize,
    },
}

/// One finished picture.
#[derive(Debug, Clone)]
pub struct Finished {
    /// What stands for its bytes.
    pub fingerprint: Fingerprint,
    /// How far it is from the reference, where one was given.
    pub difference: Option<Difference>,
    /// The picture itself where it was wanted, sRGB-encoded with straight alpha.
    pub picture: Option<Picture>,
}

/// What an exploration is asked for, beside a fingerprint of each finished picture.
#[derive(Debug, Clone, Copy, Default)]
pub struct Asked<'a> {
    /// What is wanted of each picture.
    pub want: Want,
    /// Each picture's difference from this one.
    pub against: Option<Against<'a>>,
    /// A gallery of them all at this size (at most the frame's), to measure between them later.
    pub gallery: Option<Frame>,
    /// Memory that its pictures may take.
    pub budget: Budget,
}

/// The finished pictures, and the gallery of them where one was wanted.
pub type Measured = (Vec<Finished>, Option<Gallery>);

/// What finished pictures are compared with.
#[derive(Debug, Clone, Copy)]
pub enum Against<'a> {
    /// The picture that an order of the same chain gives; of no effect at all where it is empty.
    Order(&'a [usize]),
    /// A picture of the same frame.
    Picture(&'a Picture),
}

impl Renderer {
    /// Renders every class of a tree, each distinct partial chain once; gives one entry a class.
    ///
    /// `progress` is told how far the work has come, in classes: as they share
    /// what their orders begin with, this is the share of the work done.
    ///
    /// # Errors
    /// [`GpuError`] where the frame is too large, the budget too small, or the GPU fails; a reference picture of
    /// another size is refused.
    pub fn explore(
        &mut self,
        path: &Path,
        tree: &Tree,
        asked: &Asked<'_>,
        progress: impl FnMut(usize),
    ) -> Result<Measured, GpuError> {
        let frames: Vec<&Path> = path.frames().collect();
        let mut found = self.explore_frames(&frames, &[frames.len() - 1], tree, asked, progress)?;
        found.pop().ok_or(GpuError::Defect("the last frame is missing"))
    }

    /// Finished pictures of orders, or of parts of the chain, at the path's own frame: `take` is given each in turn, as
    /// [`picture`](Self::picture) gives it, and `what` says what is being done. What lies under the chain, and what they begin with alike, is rendered once.
    ///
    /// # Errors
    /// As [`explore`](Self::explore).
    pub fn pictures(
        &mut self,
        path: &Path,
        orders: &[Vec<usize>],
        what: &str,
        mut take: impl FnMut(usize, Picture),
    ) -> Result<(), GpuError> {
        let size = path.moment.frame;
        let most = (TOGETHER_BYTES / (size.texels() * 4)).max(1) as usize;
        let rendering = doing_counted(what, "pictures", orders.len());
        let asked = Asked { want: Want::Tiles { size, most: usize::MAX }, ..Asked::default() };
        for (nth, some) in orders.chunks(most).enumerate() {
            let begun = nth * most;
            let mut each: Vec<&Vec<usize>> = some.iter().collect();
            each.sort_unstable();
            each.dedup();
            let classes: Vec<Class> = each.iter().map(|&order| Class { order: order.clone() }).collect();
            let tree = Tree::of(&classes, |_| false);
            let (finished, _) = self.explore(path, &tree, &asked, |done| rendering.done(begun + done))?;
            for (at, order) in some.iter().enumerate() {
                let place = each.binary_search(&order).unwrap_or_default();
                let picture = finished.get(place).and_then(|finished| finished.picture.clone());
                take(
                    begun + at,
                    picture.ok_or(GpuError::Defect("a picture that was rendered did not come back"))?,
                );
            }
        }
        Ok(())
    }

    /// The same at frames that follow each other; gives one entry for each of those in `sampled`.
    ///
    /// # Errors
    /// As [`explore`](Self::explore).
    pub fn explore_frames(
        &mut self,
        frames: &[&Path],
        sampled: &[usize],
        tree: &Tree,
        asked: &Asked<'_>,
        mut progress: impl FnMut(usize),
    ) -> Result<Vec<Measured>, GpuError> {
        let key = self.key_of_exploration(frames, sampled, tree, asked);
        let Some(key) = key else { return self.explore_anew(frames, sampled, tree, asked, progress) };
        if let Some(known) = self.explored_before(&key)? {
            progress(tree.leaves.len());
            return Ok(known);
        }
        let began = self.begins();
        let explored = self.explore_anew(frames, sampled, tree, asked, progress)?;
        if self.is_worth_keeping(began) {
            self.keep_exploration(&key, &explored)?;
        }
        Ok(explored)
    }

    /// The same, whether or not it is known.
    fn explore_anew(
        &mut self,
        frames: &[&Path],
        sampled: &[usize],
        tree: &Tree,
        asked: &Asked<'_>,
        mut progress: impl FnMut(usize),
    ) -> Result<Vec<Measured>, GpuError> {
        let Some(first) = frames.first() else { return Ok(Vec::new()) };
        let frame = first.moment.frame;
        let classes = tree.leaves.len();
        let (mut found, mut recording) = self.founds(frames, sampled, classes, asked)?;
        match (frames, &mut found[..]) {
            ([path], [found]) => {
                let (outcome, words) =
                    self.begin_at_once((path, recording), tree, asked, found, &mut progress)?;
                found.take(outcome, self.finish_figures(words, classes, frame)?.into_iter().enumerate());
                progress(classes);
            }
            _ => {
                self.send(&mut recording)?;
                self.explore_in_turn((frames, sampled), tree, asked, &mut found, progress)?;
            }
        }
        found.into_iter().map(Found::measured).collect()
    }

    /// Where what is found of some frames is put, and what is still to be sent of what it is compared with.
    pub(super) fn founds(
        &mut self,
        frames: &[&Path],
        sampled: &[usize],
        classes: usize,
        asked: &Asked<'_>,
    ) -> Result<(Vec<Found>, Recording), GpuError> {
        let Moment { frame, pixels, .. } = frames.first().ok_or(NO_FRAME)?.moment;
        self.gpu.check_frame(frame)?;
        self.pool.let_wait(asked.budget.mib << 20);
        let (references, recording) = match asked.against {
            Some(Against::Order(order)) => self.recorded(frames, order, sampled)?,
            Some(Against::Picture(picture)) => {
                same_frame(picture.frame, frame)?;
                let picture = self.taken_in(picture)?;
                (sampled.iter().map(|_| Rc::clone(&picture)).collect(), Recording::new(pixels))
            }
            None => (Vec::new(), Recording::new(pixels)),
        };
        let mut references = references.into_iter();
        let mut found: Vec<Found> = Vec::with_capacity(sampled.len());
        for _ in sampled {
            found.push(Found {
                reference: references.next(),
                gallery: asked.gallery.map(|size| self.empty_gallery(size, classes)),
                pictures: vec![None; classes],
                figures: vec![None; classes],
            });
        }
        Ok((found, recording))
    }

    /// A tree at one moment, at which nothing is remembered: depth by depth, in as few dispatches as the budget allows, behind
    /// what is recorded. Gives where its figures will be, and those on their way.
    pub(super) fn begin_at_once(
        &mut self,
        (path, mut recording): (&Path, Recording),
        tree: &Tree,
        asked: &Asked<'_>,
        found: &mut Found,
        mut progress: impl FnMut(usize),
    ) -> Result<(Outcome, WordsUnderway), GpuError> {
        let moment = &path.moment;
        let calls: Vec<EffectCall> = path.chain.iter().map(|used| used.call(moment)).collect();
        let only_fingerprints = path.after.is_empty()
            && asked.want == Want::Figures
            && found.reference.is_none()
            && found.gallery.is_none();
        let (fused, passing) = self.shared(path, tree, only_fingerprints);
        let tree = fused.as_deref().unwrap_or(tree);
        let capacity = self.capacity(path, tree, asked.budget)?;
        let (mut schedule, programs) = self.scheduled(path, &calls, tree, capacity, passing)?;
        if let Some(texels) = self.brief_texels {
            schedule = schedule.in_parts((texels / moment.frame.texels()) as usize);
        }
        let format = held_format(moment.pixels);
        // The processor writes footage before any dispatch of a recording runs, and may get an array that one before uses.
        if path.before.iter().any(|step| matches!(step, Step::TakeIn { .. })) {
            self.send(&mut recording)?;
        }
        let fixed = self.record_before(&mut recording, path, None)?;
        let mut depths = vec![fixed.kept(path.input)?];
        for &layers in &schedule.layers {
            depths.push(self.array(moment.frame, layers as u32, format));
        }
        let classes = tree.leaves.len();
        let outcome = self.outcome(found, classes);
        let form = Form::finished(path);

        let after = path.after.len();
        let work: u64 = schedule.rounds.iter().map(|round| pictures_of(round, after)).sum();
        let texels = self.brief_texels.unwrap_or(texels_per_submission(self.gpu.adapter()));
        let most = texels / moment.frame.texels();
        // Pictures made so far, and those of them and dispatches that wait to be sent.
        let (mut made, mut waiting, mut dispatches) = (0, 0, 0);
        let share = |made: u64| (classes as u64 * made / work.max(1)) as usize;
        let mut rounds = &schedule.rounds[..];
        while let Some(first) = rounds.first() {
            let together = if self.mixes() { beside(rounds, after, most) } else { 1 };
            let (now, later) = rounds.split_at(together);
            rounds = later;
            let pictures: u64 = now.iter().map(|round| pictures_of(round, after)).sum();
            made += pictures;
            waiting += pictures;
            match first {
                Round::Apply { depth, .. } => {
                    let (read, into) = (Rc::clone(&depths[*depth]), Rc::clone(&depths[depth + 1]));
                    let into = Into::Array(&into);
                    dispatches += self.record_runs(&mut recording, &programs, now, &calls, &read, &into);
                }
                Round::Finish { depth, run, .. } if !run.is_empty() => {
                    let (read, into) =
                        (Rc::clone(&depths[*depth]), Into::Fingerprints(&outcome.fingerprints));
                    dispatches += self.record_runs(&mut recording, &programs, now, &calls, &read, &into);
                }
                Round::Finish { depth, leaves, .. } => {
                    let layers: Vec<u32> = leaves.iter().map(|&(layer, _)| layer).collect();
                    let last = Rc::clone(&depths[*depth]);
                    let now = self.record_after(&mut recording, path, &fixed, last, &layers, None)?;
                    let leaves: Vec<Leaf> =
                        leaves.iter().map(|&(layer, class)| Leaf { layer, class, entry: class }).collect();
                    self.record_measures(&mut recording, &now, &leaves, &outcome, form);
                    dispatches += after + 4;
                    if self.take_tiles(&mut recording, &now, &leaves, (asked.want, form), found)? {
                        (waiting, dispatches) = (0, 0);
                        progress(share(made));
                    }
                }
            }
            if dispatches >= DISPATCHES_PER_SUBMISSION || waiting > most {
                self.is_stopped()?;
                self.send(&mut recording)?;
                self.wait()?;
                (waiting, dispatches) = (0, 0);
                progress(share(made));
            }
        }
        let words = self.begin_figures(&mut recording, &outcome, classes)?;
        Ok((outcome, words))
    }

    /// Where this many finished pictures leave their figures.
    pub(super) fn outcome(&mut self, found: &mut Found, count: usize) -> Outcome {
        let entries = count as u64;
        Outcome {
            fingerprints: self.figures(entries * 16),
            differences: found
                .reference
                .as_ref()
                .map(|reference| (Rc::clone(reference), self.figures(entries * ENTRY_BYTES))),
            gallery: found.gallery.take(),
        }
    }

    /// What is counted of this many pictures, once a recording is sent.
    pub(super) fn read_figures(
        &mut self,
        recording: &mut Recording,
        outcome: &Outcome,
        count: usize,
        frame: Frame,
    ) -> Result<Vec<Counted>, GpuError> {
        let words = self.begin_figures(recording, outcome, count)?;
        self.finish_figures(words, count, frame)
    }

    /// Sends a recording, and begins to read back what is counted of this many pictures.
    fn begin_figures(
        &mut self,
        recording: &mut Recording,
        outcome: &Outcome,
        count: usize,
    ) -> Result<WordsUnderway, GpuError> {
        let mut wanted = vec![(&outcome.fingerprints, count * 4)];
        wanted.extend(outcome.differences.iter().map(|(_, figures)| (figures, count * ENTRY_WORDS)));
        self.begin_words(recording, &wanted)
    }

    pub(super) fn finish_figures(
        &mut self,
        words: WordsUnderway,
        count: usize,
        frame: Frame,
    ) -> Result<Vec<Counted>, GpuError> {
        let read = self.finish_words(words)?;
        let mut differences = vec![None; count];
        for (difference, entry) in
            differences.iter_mut().zip(read[1..].iter().flat_map(|counted| counted.chunks_exact(ENTRY_WORDS)))
        {
            *difference = Some(counted_of(entry, frame).difference());
        }
        let fingerprint = |w: &[u32]| Fingerprint([w[0], w[1], w[2], w[3]]);
        Ok(read[0].chunks_exact(4).map(fingerprint).zip(differences).collect())
    }

    /// The rounds of a tree, with their programs; chains are finished in `passing` where their effects bear it.
    fn scheduled(
        &mut self,
        path: &Path,
        calls: &[EffectCall],
        tree: &Tree,
        capacity: usize,
        passing: bool,
    ) -> Result<(Schedule, Programs), GpuError> {
        if passing {
            let schedule = Schedule::in_passing(tree, capacity);
            if let Some(programs) = self.programs(path, calls, &schedule.rounds) {
                return Ok((schedule, programs));
            }
        }
        let schedule = Schedule::of(tree, capacity);
        let programs = self.programs(path, calls, &schedule.rounds);
        Ok((schedule, programs.ok_or(GpuError::Defect("an effect has no program"))?))
    }

    /// Layers that a depth may have, within the budget and the adapter's limits.
    fn capacity(&self, path: &Path, tree: &Tree, budget: Budget) -> Result<usize, GpuError> {
        let layer_bytes = path.moment.frame.texels() * path.moment.pixels.bytes_per_texel();
        let layers = (budget.mib << 20) / layer_bytes;
        let last_weight = last_weight(path.after.len());
        let needed = least_of_orders(tree.depth(), path.after.len(), path.moment.frame, path.moment.pixels);
        let Some(room) = layers.checked_sub(needed / layer_bytes) else {
            return Err(GpuError::BudgetTooSmall {
                frame: path.moment.frame,
                needed_mib: needed.div_ceil(1 << 20),
                budget_mib: budget.mib,
                fits: fitting(path.moment.frame, needed, budget.mib << 20),
            });
        };
        let room = room as usize;
        let mut capacity = Schedule::capacity_within(tree, room.max(1), last_weight);
        let cached = CACHED_BYTES / (layer_bytes * tree.depth().max(1) as u64);
        if self.gpu.is_software() {
            capacity = capacity.min(if cached > 0 { cached } else { TOO_LARGE_AT_ONCE } as usize);
        }
        Ok(capacity.min(self.gpu.limits.max_texture_array_layers as usize - 2))
    }

    /// All that is counted of finished pictures.
    pub(super) fn record_measures(
        &mut self,
        recording: &mut Recording,
        now: &Rc<TextureArray>,
        leaves: &[Leaf],
        outcome: &Outcome,
        form: Form,
    ) {
        let job = |leaf: &Leaf| Fingerprinted { layer: leaf.layer, entry: leaf.entry as u32 };
        let jobs: Vec<Fingerprinted> = leaves.iter().map(job).collect();
        let (read, into) = (vec![Rc::clone(now)], &outcome.fingerprints);
        let dispatch = Dispatch::into_figures(Program::Fingerprint(form), read, into, now.frame);
        self.record(recording, dispatch.for_jobs(&jobs));
        if let Some((reference, figures)) = &outcome.differences {
            let job = |leaf: &Leaf| Compared {
                layer: leaf.layer,
                reference: 0,
                entry: leaf.entry as u32,
                unused: 0,
            };
            let jobs: Vec<Compared> = leaves.iter().map(job).collect();
            let read = vec![Rc::clone(now), Rc::clone(reference)];
            let program = Program::Difference(form);
            let dispatch = Dispatch::into_figures(program, read, figures, now.frame);
            self.record(recording, dispatch.for_jobs(&jobs));
        }
        if let Some(gallery) = &outcome.gallery {
            for (nth, array) in gallery.arrays.iter().enumerate() {
                let here = leaves.iter().filter(|leaf| gallery.places[leaf.class].0 == nth);
                let job =
                    |leaf: &Leaf| Job { from_layer: leaf.layer, into_layer: gallery.places[leaf.class].1 };
                let jobs: Vec<Job> = here.map(job).collect();
                self.record_shrink(recording, now, array, &jobs, form);
            }
        }
    }

    /// Sends what is recorded and reads finished pictures back, where they are wanted; says whether any was.
    pub(super) fn take_tiles(
        &mut self,
        recording: &mut Recording,
        now: &Rc<TextureArray>,
        leaves: &[Leaf],
        (want, form): (Want, Form),
        found: &mut Found,
    ) -> Result<bool, GpuError> {
        let Want::Tiles { size, most } = want else { return Ok(false) };
        let shown: Vec<&Leaf> = leaves.iter().filter(|leaf| leaf.class < most).collect();
        if shown.is_empty() {
            return Ok(false);
        }
        let array = self.array(size, shown.len() as u32, BYTES);
        let job = |(leaf, into_layer): (&&Leaf, u32)| Job { from_layer: leaf.layer, into_layer };
        let jobs: Vec<Job> = shown.iter().zip(0..).map(job).collect();
        self.record_shrink(recording, now, &array, &jobs, form);
        self.send(recording)?;
        let pictures = self.read_back(&array, shown.len() as u32)?;
        for (leaf, picture) in shown.into_iter().zip(pictures) {
            found.pictures[leaf.class] = Some(picture);
        }
        Ok(true)
    }
}

/// Pictures that a round makes, those inside a run too; each class is fingerprinted too and may be shrunk.
fn pictures_of(round: &Round, after: usize) -> u64 {
    match round {
        Round::Apply { run, jobs, .. } => (jobs.len() * run.len()) as u64,
        Round::Finish { run, leaves, .. } => (leaves.len() * (run.len() + after + 2)) as u64,
    }
}

/// How many of some rounds go together: those that lie beside the first, as long as they make at most so many pictures.
fn beside(rounds: &[Round], after: usize, most: u64) -> usize {
    let mut pictures = 0;
    let goes = |round: &&Round| {
        pictures += pictures_of(round, after);
        pictures <= most && are_beside(&rounds[0], round)
    };
    rounds.iter().take_while(goes).count().max(1)
}

/// A finished picture: its layer, its class, and where its figures go.
#[derive(Debug, Clone, Copy)]
pub(super) struct Leaf {
    pub(super) layer: u32,
    pub(super) class: usize,
    pub(super) entry: usize,
}

/// Where the finished pictures of an exploration leave what is wanted of them.
#[derive(Debug)]
pub(super) struct Outcome {
    pub(super) fingerprints: wgpu::Buffer,
    /// The reference and the counts of each class.
    pub(super) differences: Option<(Rc<TextureArray>, wgpu::Buffer)>,
    pub(super) gallery: Option<Gallery>,
}

/// What was counted of one picture.
pub(super) type Counted = (Fingerprint, Option<Difference>);

/// What is known so far of the finished pictures at one moment, class by class.
#[derive(Debug)]
pub(super) struct Found {
    /// What they are compared with.
    reference: Option<Rc<TextureArray>>,
    gallery: Option<Gallery>,
    pictures: Vec<Option<Picture>>,
    figures: Vec<Option<Counted>>,
}

impl Found {
    /// Takes what was counted of some classes, and the gallery back.
    pub(super) fn take(&mut self, outcome: Outcome, counted: impl IntoIterator<Item = (usize, Counted)>) {
        self.gallery = outcome.gallery;
        for (class, counted) in counted {
            self.figures[class] = Some(counted);
        }
    }

    pub(super) fn measured(self) -> Result<Measured, GpuError> {
        let mut finished = Vec::with_capacity(self.figures.len());
        for (counted, picture) in self.figures.into_iter().zip(self.pictures) {
            let (fingerprint, difference) = counted.ok_or(GpuError::Defect("an order was not rendered"))?;
            finished.push(Finished { fingerprint, difference, picture });
        }
        Ok((finished, self.gallery))
    }
}

/// Bytes of pictures that a processor reads again soon after it made them, so that they are in its caches still: an
/// exploration of 320x180 takes a seventh less time than one that makes a whole depth before the next.
const CACHED_BYTES: u64 = 3 << 20;

/// Pictures of a depth that are made at once where not even one of each stays there: of many each would be the first to write
/// to memory that the system has to give and clear.
const TOO_LARGE_AT_ONCE: u64 = 6;

/// Dispatches of one submission, as each holds on to what it reads and writes.
const DISPATCHES_PER_SUBMISSION: usize = 256;
