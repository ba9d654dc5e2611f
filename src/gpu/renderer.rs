//! The renderer: paths and schedules in, pictures and figures out.

use std::cell::RefCell;
use std::collections::VecDeque;
use std::fmt;
use std::rc::Rc;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc;
use std::time::Duration;

use super::clock::Clock;
use super::made::Unchanged;
use super::past::Past;
use super::pipelines::{BYTES, Form, Pipelines, Program, held_format};
use super::recording::{Into, Recording};
use super::sheet::{Pool, Sheet};
use super::{AdapterSummary, Gpu, GpuError};
use crate::base::clock::{Since, pause};
use crate::base::frame::{Frame, PixelMode};
use crate::base::picture::Picture;
use crate::beat::Moment;
use crate::catalogue::{Effect, Reach, run_uniform};
use crate::measure::{BINS, Counted, Difference, DifferenceScale};
use crate::order::{IndexMap, Job, Round, Schedule, Tree};
use crate::plan::memory::fitting;
use crate::plan::{After, Path, Slot, Step};
use crate::show::chain::{EffectCall, EffectUse};
use crate::show::{BlendMode, Mix};

/// Memory that pictures of one exploration may take on the GPU.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Budget {
    /// In MiB.
    pub mib: u64,
}

impl Default for Budget {
    fn default() -> Self {
        Self { mib: 1024 }
    }
}

/// 128 bits that stand for a finished picture's bytes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
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

/// What is wanted of each finished picture, beside its fingerprint.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Want {
    /// Nothing more.
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

/// What is measured of the finished pictures, beside what is [wanted](Want) of each.
#[derive(Debug, Clone, Copy, Default)]
pub struct Measure<'a> {
    /// Each picture's difference from this one.
    pub against: Option<Against<'a>>,
    /// A gallery of them all at this size (at most the frame's), to measure between them later.
    pub gallery: Option<Frame>,
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

/// The pictures of an exploration, kept on the GPU to be measured against each other.
#[derive(Debug)]
pub struct Gallery {
    frame: Frame,
    sheets: Vec<Rc<Sheet>>,
    /// For each class, its sheet and its layer there.
    places: Vec<(usize, u32)>,
}

impl Gallery {
    /// The size that pictures are measured at.
    pub fn frame(&self) -> Frame {
        self.frame
    }
}

/// A GPU with its pipelines and textures.
#[derive(Debug)]
pub struct Renderer {
    pub(super) gpu: Gpu,
    pub(super) pipelines: Pipelines,
    pub(super) pool: Pool,
    fuse_from_texels: u64,
    /// Set from another thread to end an exploration early.
    stop: Option<Arc<AtomicBool>>,
    /// Texels that one submission makes at most, where others wait for the GPU too.
    brief_texels: Option<u64>,
}

/// Explorations of fewer texels, all passes together, run each effect in a pass of its own: the
/// programs of runs would take longer to compile than they save (measured on a software adapter).
const FUSE_FROM_TEXELS: u64 = 1 << 27;

/// Dispatches of one submission, as each holds on to what it reads and writes.
const DISPATCHES_PER_SUBMISSION: usize = 256;

/// Texels that one submission makes: enough to keep the adapter busy, few
/// enough that a display's watchdog does not step in (on Windows it waits 2 s;
/// Microsoft, "Timeout detection and recovery") and that a person sees the work go on.
pub(super) fn texels_per_submission(adapter: &AdapterSummary) -> u64 {
    if adapter.kind == "software" { 8 << 20 } else { 1 << 30 }
}

/// How often a renderer that gives way looks whether it may go on.
const POLL: Duration = Duration::from_millis(1);
/// The longest that it lets an answer pass.
const LONGEST_WAY: Duration = Duration::from_millis(250);

/// Rows of a picture on their way back from the GPU.
struct Band {
    /// Which of the pictures.
    nth: usize,
    top: u32,
    rows: u32,
    /// Bytes from one row to the next.
    padded: usize,
    /// Where it begins among the bytes read together.
    at: usize,
}

impl Renderer {
    /// A renderer on this GPU.
    pub fn new(gpu: Gpu) -> Self {
        Self {
            gpu,
            pipelines: Pipelines::default(),
            pool: Pool::default(),
            fuse_from_texels: FUSE_FROM_TEXELS,
            stop: None,
            brief_texels: None,
        }
    }

    /// Ends explorations from now on with [`GpuError::Stopped`] once the flag is set.
    pub fn stop_when(&mut self, stop: Arc<AtomicBool>) {
        self.stop = Some(stop);
    }

    /// Sends explorations in small parts, so that a window on the same GPU is not kept waiting.
    pub fn give_way(&mut self) {
        let texels = if self.gpu.is_software() { 1 << 17 } else { 128 << 20 };
        self.brief_texels = Some(texels);
    }

    pub(super) fn is_stopped(&self) -> Result<(), GpuError> {
        match &self.stop {
            Some(stop) if stop.load(Ordering::Relaxed) => Err(GpuError::Stopped),
            _ => Ok(()),
        }
    }

    /// Runs effects in one pass in explorations of at least this many texels, all passes together:
    /// 0 for what is explored again and again, `u64::MAX` for never. The bytes stay the same.
    pub fn fuse_from(&mut self, texels: u64) {
        self.fuse_from_texels = texels;
    }

    /// The GPU in use.
    pub fn gpu(&self) -> &Gpu {
        &self.gpu
    }

    /// Renders one order of a path.
    ///
    /// # Errors
    /// [`GpuError`] where the frame is too large or the GPU fails.
    pub fn picture(&mut self, path: &Path, order: &[usize]) -> Result<Picture, GpuError> {
        let bytes = self.given_out(path, order)?;
        let mut pictures = self.read_back(&bytes, 1)?;
        pictures.pop().ok_or(GpuError::Defect("no picture came back"))
    }

    /// One order of a path, finished, on the GPU.
    fn given_out(&mut self, path: &Path, order: &[usize]) -> Result<Rc<Sheet>, GpuError> {
        self.gpu.check_frame(path.moment.frame)?;
        let frames: Vec<&Path> = path.frames().collect();
        let mut given_out = self.played(&frames, order, &[frames.len() - 1])?;
        given_out.pop().ok_or(GpuError::Defect("no picture came of the last frame"))
    }

    /// Where each move of a chain takes its texels from, at this moment's size; `None` for other effects.
    ///
    /// # Errors
    /// [`GpuError`] where the frame is too large or the GPU fails.
    pub fn index_maps(
        &mut self,
        chain: &[EffectUse],
        moment: &Moment,
    ) -> Result<Vec<Option<Arc<IndexMap>>>, GpuError> {
        self.index_maps_knowing(chain, moment, [], |_| true)
    }

    /// Like [`index_maps`](Self::index_maps), where those of some effects at the same frame are known, and
    /// of those only that are `asked` for, by their places.
    ///
    /// # Errors
    /// As `index_maps`.
    pub fn index_maps_knowing<'a>(
        &mut self,
        chain: &[EffectUse],
        moment: &Moment,
        known: impl IntoIterator<Item = (&'a EffectCall, Option<&'a Arc<IndexMap>>)>,
        asked: impl Fn(usize) -> bool,
    ) -> Result<Vec<Option<Arc<IndexMap>>>, GpuError> {
        self.is_stopped()?;
        self.gpu.check_frame(moment.frame)?;
        let mut maps: Vec<(EffectCall, Arc<IndexMap>)> =
            known.into_iter().filter_map(|(call, map)| Some((call.clone(), Arc::clone(map?)))).collect();
        let mut found = Vec::with_capacity(chain.len());
        for (place, used) in chain.iter().enumerate() {
            if used.effect.reach != Reach::Move || !asked(place) {
                found.push(None);
                continue;
            }
            let call = used.call(moment);
            let map = match maps.iter().find(|(known, _)| known == &call) {
                Some((_, map)) => Arc::clone(map),
                None => Arc::new(self.index_map(&call, moment)?),
            };
            maps.push((call, Arc::clone(&map)));
            found.push(Some(map));
        }
        Ok(found)
    }

    fn index_map(&mut self, call: &EffectCall, moment: &Moment) -> Result<IndexMap, GpuError> {
        self.is_stopped()?;
        let texels = moment.frame.texels();
        let size = texels * 3 * 4;
        if size > self.gpu.limits.max_storage_buffer_binding_size {
            return Err(GpuError::OutOfMemory(format!(
                "the index map of {} at {} takes {} MiB",
                call.effect.name,
                moment.frame,
                size >> 20
            )));
        }
        let figures = self.figures(size);
        let mut recording = Recording::new(moment.pixels);
        let sheet = self.sheet(moment.frame, 1, held_format(moment.pixels));
        recording.dispatch(
            &self.gpu,
            &mut self.pipelines,
            Program::IndexMap(&call.effect),
            vec![sheet],
            Into::Figures(figures.clone()),
            moment.frame,
            &call.uniform,
            &[0, 0],
            1,
        );
        recording.submit(&self.gpu, &mut self.pipelines)?;
        let words = self.read_words(&figures, (size / 4) as usize)?;
        let mut channels = words.chunks_exact(texels as usize).map(<[u32]>::to_vec);
        let mut next = || channels.next().unwrap_or_default();
        Ok(IndexMap { frame: moment.frame, channels: [next(), next(), next()] })
    }

    /// Renders every class of a tree, each distinct partial chain once; gives one entry a class.
    ///
    /// `progress` is told how far the work has come, in classes: as they share
    /// what their orders begin with, this is the share of the work done.
    ///
    /// # Errors
    /// [`GpuError`] where the frame is too large, the budget too small, or the GPU fails.
    pub fn explore(
        &mut self,
        path: &Path,
        tree: &Tree,
        want: Want,
        budget: Budget,
        progress: impl FnMut(usize),
    ) -> Result<Vec<Finished>, GpuError> {
        self.explore_and_measure(path, tree, want, Measure::default(), budget, progress)
            .map(|(finished, _)| finished)
    }

    /// Like [`explore`](Self::explore), and measures the finished pictures without reading them back.
    ///
    /// # Errors
    /// As `explore`; a reference picture of another size is refused.
    pub fn explore_and_measure(
        &mut self,
        path: &Path,
        tree: &Tree,
        want: Want,
        measure: Measure<'_>,
        budget: Budget,
        mut progress: impl FnMut(usize),
    ) -> Result<Measured, GpuError> {
        if !path.past.is_empty() {
            let frames: Vec<&Path> = path.frames().collect();
            let last = [frames.len() - 1];
            let mut found = self.explore_frames(&frames, &last, tree, want, measure, budget, progress)?;
            return found.pop().ok_or(GpuError::Defect("the last frame is missing"));
        }
        let moment = &path.moment;
        self.gpu.check_frame(moment.frame)?;
        self.pool.let_wait(budget.mib << 20);
        let reference = match measure.against {
            Some(Against::Order(order)) => Some(self.given_out(path, order)?),
            Some(Against::Picture(picture)) => {
                same_frame(picture.frame, moment.frame)?;
                Some(self.taken_in(picture)?)
            }
            None => None,
        };
        let fused = self.fused(path, tree);
        let tree = fused.as_ref().unwrap_or(tree);
        let mut schedule = Schedule::of(tree, self.capacity(path, tree, budget)?);
        if let Some(texels) = self.brief_texels {
            schedule = schedule.in_parts((texels / moment.frame.texels()) as usize);
        }
        let format = held_format(moment.pixels);
        let mut recording = Recording::new(moment.pixels);

        let fixed =
            self.record_steps(&mut recording, &path.before, None, moment, &path.slots_kept(), None)?;
        let mut depths = vec![fixed.kept(path.input)?];
        for &layers in &schedule.layers {
            depths.push(self.sheet(moment.frame, layers as u32, format));
        }
        let calls: Vec<EffectCall> = path.chain.iter().map(|used| used.call(moment)).collect();
        let outcome = Outcome {
            fingerprints: self.figures(tree.leaves.len() as u64 * 16),
            differences: reference
                .map(|reference| (reference, self.figures(tree.leaves.len() as u64 * ENTRY_BYTES))),
            gallery: measure.gallery.map(|frame| self.empty_gallery(frame, tree.leaves.len())),
        };
        let mut tiles = Tiles::of(tree.leaves.len());

        let after = path.after.len();
        let work: u64 = schedule.rounds.iter().map(|round| pictures_of(round, after)).sum();
        let texels = self.brief_texels.unwrap_or(texels_per_submission(self.gpu.adapter()));
        let most = texels / moment.frame.texels();
        // Pictures made so far, and those of them and dispatches that wait to be sent.
        let (mut made, mut waiting, mut dispatches) = (0, 0, 0);
        let share = |made: u64| (tree.leaves.len() as u64 * made / work.max(1)) as usize;
        for round in &schedule.rounds {
            made += pictures_of(round, after);
            waiting += pictures_of(round, after);
            match round {
                Round::Apply { depth, run, jobs } => {
                    let (read, into) = (Rc::clone(&depths[*depth]), Rc::clone(&depths[depth + 1]));
                    let effects: Vec<_> = run.iter().map(|&at| Arc::clone(&calls[at].effect)).collect();
                    let uniform = run_uniform(run.iter().map(|&at| &calls[at].uniform[..]));
                    let program = match &effects[..] {
                        [effect] => Program::Effect(effect),
                        effects => Program::Run(effects),
                    };
                    let (words, count) = (job_words(jobs), jobs.len());
                    self.record(&mut recording, program, vec![read], &into, &uniform, &words, count);
                    dispatches += 1;
                }
                Round::Finish { depth, leaves } => {
                    let layers: Vec<u32> = leaves.iter().map(|&(layer, _)| layer).collect();
                    let last = Rc::clone(&depths[*depth]);
                    let now = self.record_after(&mut recording, path, &fixed, last, &layers, None)?;
                    let leaves: Vec<Leaf> =
                        leaves.iter().map(|&(layer, class)| Leaf { layer, class, entry: class }).collect();
                    let read_back = self.record_measures(&mut recording, &now, &leaves, want, &outcome);
                    dispatches += after + 4;
                    if let Some((sheet, classes)) = read_back {
                        self.send(&mut recording)?;
                        (waiting, dispatches) = (0, 0);
                        let pictures = self.read_back(&sheet, classes.len() as u32)?;
                        tiles.take(classes, pictures);
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
        self.send(&mut recording)?;
        let figures = self.read_figures(&outcome, tree.leaves.len(), moment.frame)?;
        progress(tree.leaves.len());
        let finished = figures
            .into_iter()
            .zip(tiles.pictures)
            .map(|((fingerprint, difference), picture)| Finished { fingerprint, difference, picture })
            .collect();
        Ok((finished, outcome.gallery))
    }

    /// What was counted of this many pictures.
    pub(super) fn read_figures(
        &mut self,
        outcome: &Outcome,
        count: usize,
        frame: Frame,
    ) -> Result<Vec<(Fingerprint, Option<Difference>)>, GpuError> {
        let words = self.read_words(&outcome.fingerprints, count * 4)?;
        let mut differences = vec![None; count];
        if let Some((_, figures)) = &outcome.differences {
            let counted = self.read_words(figures, count * ENTRY_WORDS)?;
            for (difference, entry) in differences.iter_mut().zip(counted.chunks_exact(ENTRY_WORDS)) {
                *difference = Some(counted_of(entry, frame).difference());
            }
        }
        let fingerprint = |w: &[u32]| Fingerprint([w[0], w[1], w[2], w[3]]);
        Ok(words.chunks_exact(4).map(fingerprint).zip(differences).collect())
    }

    /// How far some pictures of a gallery are from one of them, at the gallery's size.
    ///
    /// # Errors
    /// [`GpuError`] where the GPU fails.
    pub fn apart(
        &mut self,
        gallery: &Gallery,
        reference: usize,
        others: &[usize],
    ) -> Result<Vec<Difference>, GpuError> {
        self.is_stopped()?;
        let figures = self.figures(others.len() as u64 * ENTRY_BYTES);
        let mut recording = Recording::new(PixelMode::Encoded8Bit);
        let (reference_sheet, reference_layer) = gallery.places[reference];
        for (nth, sheet) in gallery.sheets.iter().enumerate() {
            let words: Vec<u32> = others
                .iter()
                .zip(0..)
                .filter(|&(&class, _)| gallery.places[class].0 == nth)
                .flat_map(|(&class, entry)| [gallery.places[class].1, reference_layer, entry, 0])
                .collect();
            if words.is_empty() {
                continue;
            }
            recording.dispatch(
                &self.gpu,
                &mut self.pipelines,
                Program::Difference(Form::GivenOut),
                vec![Rc::clone(sheet), Rc::clone(&gallery.sheets[reference_sheet])],
                Into::Figures(figures.clone()),
                gallery.frame,
                &[0; 16],
                &words,
                words.len() / 4,
            );
        }
        recording.submit(&self.gpu, &mut self.pipelines)?;
        let counted = self.read_words(&figures, others.len() * ENTRY_WORDS)?;
        Ok(counted.chunks_exact(ENTRY_WORDS).map(|e| counted_of(e, gallery.frame).difference()).collect())
    }

    /// The pictures of some classes in a gallery.
    ///
    /// # Errors
    /// [`GpuError`] where the GPU fails.
    pub fn hung(
        &mut self,
        gallery: &Gallery,
        classes: impl IntoIterator<Item = usize>,
    ) -> Result<Vec<Picture>, GpuError> {
        let place = |class: usize| {
            let (sheet, layer) = gallery.places[class];
            (&*gallery.sheets[sheet], layer)
        };
        self.read_back_all(&classes.into_iter().map(place).collect::<Vec<_>>())
    }

    /// How far two pictures of one frame are apart.
    ///
    /// # Errors
    /// [`GpuError`] for pictures of different frames, or where the GPU fails.
    pub fn difference(&mut self, a: &Picture, b: &Picture) -> Result<Difference, GpuError> {
        same_frame(a.frame, b.frame)?;
        self.gpu.check_frame(a.frame)?;
        let sheets = vec![self.taken_in(b)?, self.taken_in(a)?];
        let figures = self.figures(ENTRY_BYTES);
        let mut recording = Recording::new(PixelMode::Encoded8Bit);
        let program = Program::Difference(Form::GivenOut);
        let into = Into::Figures(figures.clone());
        let (gpu, pipelines) = (&self.gpu, &mut self.pipelines);
        recording.dispatch(gpu, pipelines, program, sheets, into, a.frame, &[0; 16], &[0; 4], 1);
        recording.submit(&self.gpu, &mut self.pipelines)?;
        let entry = self.read_words(&figures, ENTRY_WORDS)?;
        Ok(counted_of(&entry, a.frame).difference())
    }

    /// Where two pictures of one frame differ, in the colours of a scale.
    ///
    /// # Errors
    /// As [`difference`](Self::difference).
    pub fn difference_picture(
        &mut self,
        a: &Picture,
        b: &Picture,
        scale: DifferenceScale,
    ) -> Result<Picture, GpuError> {
        same_frame(a.frame, b.frame)?;
        self.gpu.check_frame(a.frame)?;
        let sheets = vec![self.taken_in(b)?, self.taken_in(a)?];
        let result = self.sheet(a.frame, 1, BYTES);
        let mut recording = Recording::new(PixelMode::Encoded8Bit);
        let mut uniform = [0; 16];
        uniform[..4].copy_from_slice(&(scale.most as f32).to_le_bytes());
        self.record(&mut recording, Program::DifferencePicture, sheets, &result, &uniform, &[0; 4], 1);
        recording.submit(&self.gpu, &mut self.pipelines)?;
        let mut pictures = self.read_back(&result, 1)?;
        pictures.pop().ok_or(GpuError::Defect("no picture came back"))
    }

    /// CIEDE2000 of pairs of colours in L*a*b*, as the GPU works it out: for checks.
    ///
    /// # Errors
    /// [`GpuError`] where the GPU fails.
    pub fn ciede2000(&mut self, pairs: &[[[f32; 3]; 2]]) -> Result<Vec<f32>, GpuError> {
        let words: Vec<u32> =
            pairs.iter().flatten().flat_map(|&[l, a, b]| [l, a, b, 0.0].map(f32::to_bits)).collect();
        let figures = self.figures(pairs.len() as u64 * 4);
        let mut recording = Recording::new(PixelMode::Encoded8Bit);
        let unused = self.unused();
        let (into, frame) = (Into::Figures(figures.clone()), unused.frame);
        let (gpu, pipelines) = (&self.gpu, &mut self.pipelines);
        let count = pairs.len();
        recording.dispatch(
            gpu,
            pipelines,
            Program::LabPairs,
            vec![unused],
            into,
            frame,
            &[0; 16],
            &words,
            count,
        );
        recording.submit(&self.gpu, &mut self.pipelines)?;
        Ok(self.read_words(&figures, pairs.len())?.into_iter().map(f32::from_bits).collect())
    }

    pub(super) fn empty_gallery(&mut self, frame: Frame, classes: usize) -> Gallery {
        let most = self.gpu.limits.max_texture_array_layers as usize - 2;
        let sheets = (0..classes.div_ceil(most))
            .map(|nth| self.sheet(frame, (classes - nth * most).min(most) as u32, BYTES))
            .collect();
        Gallery { frame, sheets, places: (0..classes).map(|at| (at / most, (at % most) as u32)).collect() }
    }

    /// The tree with runs of effects in one pass, where that is worth its compiling.
    fn fused(&mut self, path: &Path, tree: &Tree) -> Option<Tree> {
        let moment = &path.moment;
        let texels = moment.frame.texels() * tree.passes() as u64;
        if moment.pixels != PixelMode::Encoded8Bit || texels < self.fuse_from_texels {
            return None;
        }
        let effect = |&at: &usize| Arc::clone(&path.chain[at].effect);
        let (gpu, pipelines) = (&self.gpu, RefCell::new(&mut self.pipelines));
        Some(tree.fused(|run, next| {
            let run: Vec<_> = run.iter().chain(next).map(effect).collect();
            pipelines.borrow_mut().may_run(gpu, &run)
        }))
    }

    /// Layers that a depth may have, within the budget and the adapter's limits.
    fn capacity(&self, path: &Path, tree: &Tree, budget: Budget) -> Result<usize, GpuError> {
        let layer_bytes = path.moment.frame.texels() * path.moment.pixels.bytes_per_texel();
        let layers = (budget.mib << 20) / layer_bytes;
        // The last depth stands for the steps behind the chain too: two sheets
        // that they alternate between.
        let last_weight = if path.after.is_empty() { 1 } else { 3 };
        // Two spare layers a depth, since GL cannot have a sheet of one.
        let least = (2 * (tree.depth() + last_weight)) as u64;
        if layers < least {
            return Err(GpuError::BudgetTooSmall {
                frame: path.moment.frame,
                needed_mib: (least * layer_bytes).div_ceil(1 << 20),
                budget_mib: budget.mib,
                fits: fitting(path.moment.frame, least * layer_bytes, budget.mib << 20),
            });
        }
        let room = (layers - least) as usize;
        let capacity = Schedule::capacity_within(tree, room.max(1), last_weight);
        Ok(capacity.min(self.gpu.limits.max_texture_array_layers as usize - 2))
    }

    /// From the last effect of each leaf, which stand in these layers of `last`, to the output.
    pub(super) fn record_after(
        &mut self,
        recording: &mut Recording,
        path: &Path,
        fixed: &Slots,
        last: Rc<Sheet>,
        layers: &[u32],
        mut past: Option<&mut Past>,
    ) -> Result<Rc<Sheet>, GpuError> {
        let moment = &path.moment;
        let count = layers.len();
        let top = layers.iter().max().map_or(1, |&layer| layer + 1);
        let mut now = last;
        for after in &path.after {
            let into = self.sheet(moment.frame, top, held_format(moment.pixels));
            match after {
                After::Apply(call) => {
                    let words: Vec<u32> = layers.iter().flat_map(|&layer| [layer, layer]).collect();
                    let last = match (&mut past, call.past) {
                        (Some(past), Some(id)) => past.replaced(id, &into),
                        _ => None,
                    };
                    let program = effect_program(&call.effect, last.is_some());
                    let read = [now].into_iter().chain(last).collect();
                    self.record(recording, program, read, &into, &call.uniform, &words, count);
                }
                After::LayOver { backdrop, mix } => {
                    let words: Vec<u32> = layers.iter().flat_map(|&layer| [0, layer, layer, 0]).collect();
                    let read = vec![fixed.kept(*backdrop)?, now];
                    self.record(recording, Program::Lay, read, &into, &mix_uniform(*mix), &words, count);
                }
                After::LayUnder { source, mix } => {
                    let words: Vec<u32> = layers.iter().flat_map(|&layer| [layer, 0, layer, 0]).collect();
                    let read = vec![now, fixed.kept(*source)?];
                    self.record(recording, Program::Lay, read, &into, &mix_uniform(*mix), &words, count);
                }
            }
            now = into;
        }
        Ok(now)
    }

    /// All that is wanted of finished pictures.
    pub(super) fn record_measures(
        &mut self,
        recording: &mut Recording,
        now: &Rc<Sheet>,
        leaves: &[Leaf],
        want: Want,
        outcome: &Outcome,
    ) -> Option<TileSheet> {
        let count = leaves.len();
        let words: Vec<u32> = leaves.iter().flat_map(|leaf| [leaf.layer, leaf.entry as u32]).collect();
        recording.dispatch(
            &self.gpu,
            &mut self.pipelines,
            Program::Fingerprint,
            vec![Rc::clone(now)],
            Into::Figures(outcome.fingerprints.clone()),
            now.frame,
            &[0; 16],
            &words,
            count,
        );
        if let Some((reference, figures)) = &outcome.differences {
            let words: Vec<u32> =
                leaves.iter().flat_map(|leaf| [leaf.layer, 0, leaf.entry as u32, 0]).collect();
            recording.dispatch(
                &self.gpu,
                &mut self.pipelines,
                Program::Difference(Form::Held),
                vec![Rc::clone(now), Rc::clone(reference)],
                Into::Figures(figures.clone()),
                now.frame,
                &[0; 16],
                &words,
                count,
            );
        }
        if let Some(gallery) = &outcome.gallery {
            for (nth, sheet) in gallery.sheets.iter().enumerate() {
                let here = leaves.iter().filter(|leaf| gallery.places[leaf.class].0 == nth);
                let words: Vec<u32> =
                    here.flat_map(|leaf| [leaf.layer, gallery.places[leaf.class].1]).collect();
                self.record_shrink(recording, now, sheet, gallery.frame, &words);
            }
        }
        let Want::Tiles { size, most } = want else { return None };
        let shown: Vec<&Leaf> = leaves.iter().filter(|leaf| leaf.class < most).collect();
        if shown.is_empty() {
            return None;
        }
        let sheet = self.sheet(size, shown.len() as u32, BYTES);
        let words: Vec<u32> = shown.iter().zip(0..).flat_map(|(leaf, at)| [leaf.layer, at]).collect();
        self.record_shrink(recording, now, &sheet, size, &words);
        Some((sheet, shown.into_iter().map(|leaf| leaf.class).collect()))
    }

    /// Brings layers of held pictures to a size, as bytes; `words` holds where from and where to.
    fn record_shrink(
        &mut self,
        recording: &mut Recording,
        from: &Rc<Sheet>,
        into: &Rc<Sheet>,
        size: Frame,
        words: &[u32],
    ) {
        if words.is_empty() {
            return;
        }
        let uniform: Vec<u8> =
            [size.width, size.height, 0, 0].iter().flat_map(|side| side.to_le_bytes()).collect();
        recording.dispatch(
            &self.gpu,
            &mut self.pipelines,
            Program::Shrink,
            vec![Rc::clone(from)],
            Into::Sheet(Rc::clone(into)),
            size,
            &uniform,
            words,
            words.len() / 2,
        );
    }

    /// Records steps; keeps the slots named in `keep`, lets go of others after their last use.
    ///
    /// Where `needed` is given, only those steps are recorded. Effects that remember read and renew
    /// what `past` keeps for them; without it they begin at this frame.
    pub(super) fn record_steps(
        &mut self,
        recording: &mut Recording,
        steps: &[Step],
        needed: Option<&[bool]>,
        moment: &Moment,
        keep: &[Slot],
        mut past: Option<&mut Past>,
    ) -> Result<Slots, GpuError> {
        let mut slots = Slots(vec![None; steps.len()]);
        // Taken out for as long as the past is lent on.
        let mut unchanged = past.as_mut().and_then(|past| past.unchanged.take());
        let made = unchanged.as_ref().map(|_| Unchanged::made(steps, moment));
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
        // The processor writes before any dispatch runs, so it gets its sheets before any is recorded:
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
            let result = self.sheet(moment.frame, 1, held_format(moment.pixels));
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
        read: Vec<Rc<Sheet>>,
        result: &Rc<Sheet>,
    ) -> Result<(), GpuError> {
        match step {
            Step::TakeIn { picture, .. } => {
                let read = if read.is_empty() { vec![self.uploaded(recording, picture)?] } else { read };
                self.record(recording, Program::TakeIn, read, result, &[0; 16], &[0, 0], 1);
            }
            Step::Generate { call, .. } => {
                let unused = self.unused();
                let program = Program::Effect(&call.effect);
                self.record(recording, program, vec![unused], result, &call.uniform, &[0, 0], 1);
            }
            Step::Fill { alpha, .. } => {
                let mut uniform = [0; 16];
                uniform[..4].copy_from_slice(&alpha.to_le_bytes());
                let unused = self.unused();
                self.record(recording, Program::Fill, vec![unused], result, &uniform, &[0, 0], 1);
            }
            Step::Apply { call, .. } => {
                let program = effect_program(&call.effect, read.len() == 2);
                self.record(recording, program, read, result, &call.uniform, &[0, 0], 1);
            }
            Step::Lay { mix, .. } => {
                let uniform = mix_uniform(*mix);
                self.record(recording, Program::Lay, read, result, &uniform, &[0, 0, 0, 0], 1);
            }
        }
        Ok(())
    }

    #[expect(clippy::too_many_arguments, reason = "a dispatch is made of just these")]
    pub(super) fn record(
        &mut self,
        recording: &mut Recording,
        program: Program<'_>,
        read: Vec<Rc<Sheet>>,
        into: &Rc<Sheet>,
        uniform: &[u8],
        jobs: &[u32],
        count: usize,
    ) {
        let (gpu, pipelines) = (&self.gpu, &mut self.pipelines);
        let frame = into.frame;
        recording.dispatch(
            gpu,
            pipelines,
            program,
            read,
            Into::Sheet(Rc::clone(into)),
            frame,
            uniform,
            jobs,
            count,
        );
    }

    pub(super) fn sheet(&mut self, frame: Frame, layers: u32, format: wgpu::TextureFormat) -> Rc<Sheet> {
        self.pool.sheet(&self.gpu, frame, layers, format)
    }

    /// A picture for programs that read none.
    fn unused(&mut self) -> Rc<Sheet> {
        self.sheet(Frame { width: 1, height: 1 }, 1, BYTES)
    }

    pub(super) fn figures(&self, size: u64) -> wgpu::Buffer {
        self.gpu.device.create_buffer(&wgpu::BufferDescriptor {
            label: Some("figures"),
            size: size.max(16),
            usage: wgpu::BufferUsages::STORAGE | wgpu::BufferUsages::COPY_SRC,
            mapped_at_creation: false,
        })
    }

    pub(super) fn send(&mut self, recording: &mut Recording) -> Result<(), GpuError> {
        if recording.is_empty() {
            return Ok(());
        }
        if self.brief_texels.is_some() {
            self.let_pass();
        }
        let fresh = recording.emptied();
        std::mem::replace(recording, fresh).submit(&self.gpu, &mut self.pipelines)
    }

    /// Waits while the person waits for an answer, though not for good: a window may be hidden.
    fn let_pass(&self) {
        let began = Since::now();
        while self.gpu.is_awaited() && began.elapsed() < LONGEST_WAY {
            pause(POLL);
        }
    }

    pub(super) fn wait(&self) -> Result<(), GpuError> {
        if self.brief_texels.is_some() {
            // Waiting in the driver would hold what the window needs to send its own work.
            let is_done = Arc::new(AtomicBool::new(false));
            let done = Arc::clone(&is_done);
            self.gpu.queue.on_submitted_work_done(move || done.store(true, Ordering::Release));
            while !is_done.load(Ordering::Acquire) {
                self.gpu.check()?;
                let polled = self.gpu.device.poll(wgpu::PollType::Poll);
                polled.map_err(|error| GpuError::Lost(error.to_string()))?;
                pause(POLL);
            }
            return self.gpu.check();
        }
        let waited = self.gpu.device.poll(wgpu::PollType::wait_indefinitely());
        self.gpu.check()?;
        waited.map(|_| ()).map_err(|error| GpuError::Lost(error.to_string()))
    }

    pub(super) fn taken_in(&mut self, picture: &Picture) -> Result<Rc<Sheet>, GpuError> {
        let sheet = self.sheet(picture.frame, 1, BYTES);
        let row = picture.frame.width as usize * 4;
        let band_rows = (BAND_BYTES / row).max(1);
        for (nth, band) in picture.rgba.chunks(band_rows * row).enumerate() {
            self.gpu.queue.write_texture(
                wgpu::TexelCopyTextureInfo {
                    texture: &sheet.texture,
                    mip_level: 0,
                    origin: wgpu::Origin3d { x: 0, y: (nth * band_rows) as u32, z: 0 },
                    aspect: wgpu::TextureAspect::All,
                },
                band,
                wgpu::TexelCopyBufferLayout {
                    offset: 0,
                    bytes_per_row: Some(row as u32),
                    rows_per_image: None,
                },
                wgpu::Extent3d {
                    width: picture.frame.width,
                    height: (band.len() / row) as u32,
                    depth_or_array_layers: 1,
                },
            );
        }
        self.gpu.check()?;
        Ok(sheet)
    }

    /// The first `count` layers of a sheet of bytes.
    pub(super) fn read_back(&mut self, sheet: &Sheet, count: u32) -> Result<Vec<Picture>, GpuError> {
        let layers: Vec<(&Sheet, u32)> = (0..count).map(|layer| (sheet, layer)).collect();
        self.read_back_all(&layers)
    }

    /// Reads layers of sheets of bytes: small ones together, large ones in bands of rows.
    pub(super) fn read_back_all(&mut self, layers: &[(&Sheet, u32)]) -> Result<Vec<Picture>, GpuError> {
        let mut pictures: Vec<Picture> = layers
            .iter()
            .map(|(sheet, _)| Picture {
                frame: sheet.frame,
                rgba: Vec::with_capacity(sheet.frame.texels() as usize * 4),
                opaque: false,
            })
            .collect();
        let mut bands: Vec<Band> = Vec::new();
        let mut bytes = 0;
        for (nth, (sheet, _)) in layers.iter().enumerate() {
            let Frame { width, height } = sheet.frame;
            let padded = (width as usize * 4).next_multiple_of(wgpu::COPY_BYTES_PER_ROW_ALIGNMENT as usize);
            let most = (BAND_BYTES / padded).clamp(1, height as usize);
            for top in (0..height).step_by(most) {
                let rows = (height - top).min(most as u32);
                if bytes > 0 && bytes + padded * rows as usize > BAND_BYTES {
                    self.read_bands(layers, &std::mem::take(&mut bands), bytes, &mut pictures)?;
                    bytes = 0;
                }
                bands.push(Band { nth, top, rows, padded, at: bytes });
                bytes += padded * rows as usize;
            }
        }
        self.read_bands(layers, &bands, bytes, &mut pictures)?;
        for picture in &mut pictures {
            picture.opaque = picture.rgba.chunks_exact(4).all(|texel| texel[3] == 255);
        }
        Ok(pictures)
    }

    fn read_bands(
        &mut self,
        layers: &[(&Sheet, u32)],
        bands: &[Band],
        bytes: usize,
        pictures: &mut [Picture],
    ) -> Result<(), GpuError> {
        if bands.is_empty() {
            return Ok(());
        }
        let buffer = self.gpu.device.create_buffer(&wgpu::BufferDescriptor {
            label: Some("readback"),
            size: bytes as u64,
            usage: wgpu::BufferUsages::MAP_READ | wgpu::BufferUsages::COPY_DST,
            mapped_at_creation: false,
        });
        let mut encoder = self.gpu.device.create_command_encoder(&wgpu::CommandEncoderDescriptor::default());
        for band in bands {
            let (sheet, layer) = layers[band.nth];
            encoder.copy_texture_to_buffer(
                wgpu::TexelCopyTextureInfo {
                    texture: &sheet.texture,
                    mip_level: 0,
                    origin: wgpu::Origin3d { x: 0, y: band.top, z: layer },
                    aspect: wgpu::TextureAspect::All,
                },
                wgpu::TexelCopyBufferInfo {
                    buffer: &buffer,
                    layout: wgpu::TexelCopyBufferLayout {
                        offset: band.at as u64,
                        bytes_per_row: Some(band.padded as u32),
                        rows_per_image: None,
                    },
                },
                wgpu::Extent3d { width: sheet.frame.width, height: band.rows, depth_or_array_layers: 1 },
            );
        }
        self.gpu.queue.submit([encoder.finish()]);
        self.mapped(&buffer, |bytes| {
            for band in bands {
                let row = layers[band.nth].0.frame.width as usize * 4;
                for line in bytes[band.at..].chunks_exact(band.padded).take(band.rows as usize) {
                    pictures[band.nth].rgba.extend_from_slice(&line[..row]);
                }
            }
        })
    }

    fn read_buffer(&self, from: &wgpu::Buffer, size: u64) -> Result<Vec<u8>, GpuError> {
        let buffer = self.gpu.device.create_buffer(&wgpu::BufferDescriptor {
            label: Some("readback"),
            size,
            usage: wgpu::BufferUsages::MAP_READ | wgpu::BufferUsages::COPY_DST,
            mapped_at_creation: false,
        });
        let mut encoder = self.gpu.device.create_command_encoder(&wgpu::CommandEncoderDescriptor::default());
        encoder.copy_buffer_to_buffer(from, 0, &buffer, 0, size);
        self.gpu.queue.submit([encoder.finish()]);
        let mut all = Vec::new();
        self.mapped(&buffer, |bytes| all.extend_from_slice(bytes))?;
        Ok(all)
    }

    /// A picture's bytes on the GPU, held until the recording is sent.
    pub(super) fn uploaded(
        &mut self,
        recording: &mut Recording,
        picture: &Picture,
    ) -> Result<Rc<Sheet>, GpuError> {
        let bytes = self.taken_in(picture)?;
        recording.hold_upload(&bytes);
        Ok(bytes)
    }

    fn read_words(&self, from: &wgpu::Buffer, count: usize) -> Result<Vec<u32>, GpuError> {
        let bytes = self.read_buffer(from, count as u64 * 4)?;
        Ok(bytes.chunks_exact(4).map(|w| u32::from_le_bytes([w[0], w[1], w[2], w[3]])).collect())
    }

    fn mapped(&self, buffer: &wgpu::Buffer, take: impl FnOnce(&[u8])) -> Result<(), GpuError> {
        self.gpu.note_readback();
        let (tell, told) = mpsc::channel();
        buffer.map_async(wgpu::MapMode::Read, .., move |result| {
            // The receiver waits below; were it gone, there would be nobody to tell.
            let _ = tell.send(result);
        });
        self.wait()?;
        let lost = |error: &dyn fmt::Display| GpuError::Lost(format!("reading back failed: {error}"));
        told.recv().map_err(|e| lost(&e))?.map_err(|e| lost(&e))?;
        let view = buffer.get_mapped_range(..).map_err(|e| lost(&e))?;
        take(&view);
        drop(view);
        buffer.unmap();
        self.gpu.check()
    }

    /// Begins to measure GPU time; `false` where the adapter has no timestamps.
    pub fn start_clock(&mut self) -> bool {
        let clock = Clock::of(&self.gpu.device, &self.gpu.queue);
        let can = clock.is_some();
        *self.gpu.clock.borrow_mut() = clock;
        can
    }

    /// GPU time of the dispatches since the clock was started or last read; `None` without a clock.
    ///
    /// # Errors
    /// [`GpuError`] where the GPU fails.
    pub fn read_clock(&mut self) -> Result<Option<Duration>, GpuError> {
        let Some(mut clock) = self.gpu.clock.take() else { return Ok(None) };
        let mut encoder = self.gpu.device.create_command_encoder(&wgpu::CommandEncoderDescriptor::default());
        let resolved = clock.resolve(&mut encoder);
        self.gpu.queue.submit([encoder.finish()]);
        let bytes = match resolved {
            Some((buffer, size)) => self.read_buffer(&buffer, size)?,
            None => Vec::new(),
        };
        let time = clock.sum(&bytes);
        *self.gpu.clock.borrow_mut() = Some(clock);
        Ok(Some(time))
    }

    /// Lets go of textures that wait for their next use.
    pub fn let_go(&mut self) {
        self.pool.clear();
    }
}

/// Pictures that a round makes, those inside a run too; each class is fingerprinted too and may be shrunk.
fn pictures_of(round: &Round, after: usize) -> u64 {
    match round {
        Round::Apply { run, jobs, .. } => (jobs.len() * run.len()) as u64,
        Round::Finish { leaves, .. } => (leaves.len() * (after + 2)) as u64,
    }
}

/// Bytes that one transfer between processor and GPU takes at most.
const BAND_BYTES: usize = 64 << 20;

/// The pictures made by steps, by slot; those let go are gone.
pub(super) struct Slots(Vec<Option<Rc<Sheet>>>);

impl Slots {
    pub(super) fn kept(&self, slot: Slot) -> Result<Rc<Sheet>, GpuError> {
        let sheet = self.0.get(slot).and_then(Option::as_ref);
        sheet.map(Rc::clone).ok_or(GpuError::Defect("a picture of the plan is missing"))
    }

    pub(super) fn remove(&mut self, slot: Slot) -> Option<Rc<Sheet>> {
        self.0.get_mut(slot).and_then(Option::take)
    }
}

/// Tiles still on the GPU, and the class of each layer.
pub(super) type TileSheet = (Rc<Sheet>, Vec<usize>);

/// Words of one entry of `difference.wgsl`: changed, largest, sum (two words), bins.
const ENTRY_WORDS: usize = 4 + BINS;
pub(super) const ENTRY_BYTES: u64 = ENTRY_WORDS as u64 * 4;

fn counted_of(entry: &[u32], frame: Frame) -> Counted {
    let mut counted = Counted::of_texels(frame.texels());
    counted.changed = u64::from(entry[0]);
    counted.largest = entry[1];
    counted.sum = u64::from(entry[3]) << 32 | u64::from(entry[2]);
    counted.bins.copy_from_slice(&entry[4..]);
    counted
}

pub(super) fn same_frame(found: Frame, wanted: Frame) -> Result<(), GpuError> {
    if found == wanted {
        return Ok(());
    }
    Err(GpuError::UnlikeFrames { found, wanted })
}

/// A finished picture: its layer, its class, and where its figures go.
#[derive(Debug, Clone, Copy)]
pub(super) struct Leaf {
    pub(super) layer: u32,
    pub(super) class: usize,
    pub(super) entry: usize,
}

/// Where the finished pictures of an exploration leave what is wanted of them.
pub(super) struct Outcome {
    pub(super) fingerprints: wgpu::Buffer,
    /// The reference and the counts of each class.
    pub(super) differences: Option<(Rc<Sheet>, wgpu::Buffer)>,
    pub(super) gallery: Option<Gallery>,
}

/// Tiles read back so far.
pub(super) struct Tiles {
    pub(super) pictures: Vec<Option<Picture>>,
}

impl Tiles {
    pub(super) fn of(classes: usize) -> Self {
        Self { pictures: (0..classes).map(|_| None).collect() }
    }

    pub(super) fn take(&mut self, classes: Vec<usize>, pictures: Vec<Picture>) {
        for (class, picture) in classes.into_iter().zip(pictures) {
            self.pictures[class] = Some(picture);
        }
    }
}

/// The program of an effect, over its own last output where there is one.
pub(super) fn effect_program(effect: &Effect, has_last: bool) -> Program<'_> {
    if has_last { Program::Past(effect) } else { Program::Effect(effect) }
}

pub(super) fn job_words(jobs: &[Job]) -> Vec<u32> {
    jobs.iter().flat_map(|job| [job.from_layer, job.into_layer]).collect()
}

fn mix_uniform(mix: Mix) -> [u8; 16] {
    let mode = BlendMode::ALL.iter().position(|&mode| mode == mix.blend).unwrap_or(0) as u32;
    let mut uniform = [0; 16];
    uniform[..4].copy_from_slice(&mode.to_le_bytes());
    uniform[4..8].copy_from_slice(&(mix.opacity as f32).to_le_bytes());
    uniform
}
