//! The renderer: paths and schedules in, pictures and figures out.

use std::fmt;
use std::rc::Rc;
use std::sync::Arc;
use std::sync::mpsc;

use super::pipelines::{BYTES, Pipelines, Program, held_format};
use super::recording::{Into, Recording};
use super::sheet::{Pool, Sheet};
use super::{Gpu, GpuError};
use crate::catalogue::Reach;
use crate::chain::{EffectCall, EffectUse};
use crate::footage::Picture;
use crate::frame::{Frame, Moment};
use crate::order::{IndexMap, Job, Round, Schedule, Tree};
use crate::plan::{After, Path, Slot, Step};
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
    /// The picture itself where it was wanted, sRGB-encoded with straight alpha.
    pub picture: Option<Picture>,
}

/// A GPU with its pipelines and textures.
#[derive(Debug)]
pub struct Renderer {
    pub(super) gpu: Gpu,
    pub(super) pipelines: Pipelines,
    pool: Pool,
}

/// Dispatches of one submission: enough to keep a GPU busy, few enough that a
/// display's watchdog does not step in.
const DISPATCHES_PER_SUBMISSION: usize = 256;

impl Renderer {
    /// A renderer on this GPU.
    pub fn new(gpu: Gpu) -> Self {
        Self { gpu, pipelines: Pipelines::default(), pool: Pool::default() }
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
        self.gpu.check_frame(path.moment.frame)?;
        let (steps, output) = path.in_order(order);
        let mut recording = Recording::new(path.moment.pixels);
        let mut slots = self.record_steps(&mut recording, &steps, &path.moment, &[output])?;
        let finished = slots.remove(output);
        drop(slots);
        let bytes = self.sheet(path.moment.frame, 1, BYTES);
        if let Some(finished) = finished {
            let whole = [0, 0];
            self.record(&mut recording, Program::GiveOut, vec![finished], &bytes, &[0; 16], &whole, 1);
        }
        recording.submit(&self.gpu, &mut self.pipelines)?;
        let mut pictures = self.read_back(&bytes, 1)?;
        pictures.pop().ok_or_else(|| GpuError::Refused("no picture came back".to_owned()))
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
        self.gpu.check_frame(moment.frame)?;
        let mut maps: Vec<(Vec<u8>, String, Arc<IndexMap>)> = Vec::new();
        let mut found = Vec::with_capacity(chain.len());
        for used in chain {
            if used.effect.reach != Reach::Move {
                found.push(None);
                continue;
            }
            let call = used.call(moment);
            let known =
                maps.iter().find(|(uniform, name, _)| uniform == &call.uniform && name == &call.effect.name);
            let map = match known {
                Some((_, _, map)) => Arc::clone(map),
                None => Arc::new(self.index_map(&call, moment)?),
            };
            maps.push((call.uniform, call.effect.name.clone(), Arc::clone(&map)));
            found.push(Some(map));
        }
        Ok(found)
    }

    fn index_map(&mut self, call: &EffectCall, moment: &Moment) -> Result<IndexMap, GpuError> {
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
        let bytes = self.read_buffer(&figures, size)?;
        let words: Vec<u32> = bytes
            .chunks_exact(4)
            .map(|word| u32::from_le_bytes([word[0], word[1], word[2], word[3]]))
            .collect();
        let mut channels = words.chunks_exact(texels as usize).map(<[u32]>::to_vec);
        let mut next = || channels.next().unwrap_or_default();
        Ok(IndexMap { frame: moment.frame, channels: [next(), next(), next()] })
    }

    /// Renders every class of a tree, each distinct partial chain once; gives one entry a class.
    ///
    /// `progress` is told how many classes are finished.
    ///
    /// # Errors
    /// [`GpuError`] where the frame is too large, the budget too small, or the GPU fails.
    pub fn explore(
        &mut self,
        path: &Path,
        tree: &Tree,
        want: Want,
        budget: Budget,
        mut progress: impl FnMut(usize),
    ) -> Result<Vec<Finished>, GpuError> {
        let moment = &path.moment;
        self.gpu.check_frame(moment.frame)?;
        let schedule = Schedule::of(tree, self.capacity(path, tree, budget)?);
        let format = held_format(moment.pixels);
        let mut recording = Recording::new(moment.pixels);

        let mut keep: Vec<Slot> = vec![path.input];
        keep.extend(path.after.iter().filter_map(|after| match after {
            After::LayOver { backdrop: slot, .. } | After::LayUnder { source: slot, .. } => Some(*slot),
            After::Apply(_) => None,
        }));
        let fixed = self.record_steps(&mut recording, &path.before, moment, &keep)?;
        let mut depths = vec![fixed.kept(path.input)?];
        for &layers in &schedule.layers {
            depths.push(self.sheet(moment.frame, layers as u32, format));
        }
        let calls: Vec<EffectCall> = path.chain.iter().map(|used| used.call(moment)).collect();
        let figures = self.figures(tree.leaves.len() as u64 * 16);
        let mut tiles = Tiles::new(want, tree.leaves.len());

        let mut finished = 0;
        let mut dispatches = 0;
        for round in &schedule.rounds {
            match round {
                Round::Apply { depth, effect, jobs } => {
                    let call = &calls[*effect];
                    let (read, into) = (Rc::clone(&depths[*depth]), Rc::clone(&depths[depth + 1]));
                    let program = Program::Effect(&call.effect);
                    let words = job_words(jobs);
                    self.record(
                        &mut recording,
                        program,
                        vec![read],
                        &into,
                        &call.uniform,
                        &words,
                        jobs.len(),
                    );
                    dispatches += 1;
                }
                Round::Finish { leaves } => {
                    let last = Rc::clone(depths.last().unwrap_or(&depths[0]));
                    let read_back =
                        self.record_finish(&mut recording, path, &fixed, last, leaves, &figures, &tiles)?;
                    finished += leaves.len();
                    dispatches += path.after.len() + 2;
                    if let Some((sheet, classes)) = read_back {
                        self.send(&mut recording)?;
                        dispatches = 0;
                        let pictures = self.read_back(&sheet, classes.len() as u32)?;
                        tiles.take(classes, pictures);
                        progress(finished);
                    }
                }
            }
            if dispatches >= DISPATCHES_PER_SUBMISSION {
                self.send(&mut recording)?;
                self.wait()?;
                dispatches = 0;
                progress(finished);
            }
        }
        self.send(&mut recording)?;
        let bytes = self.read_buffer(&figures, tree.leaves.len() as u64 * 16)?;
        progress(finished);
        let words = bytes.chunks_exact(4).map(|w| u32::from_le_bytes([w[0], w[1], w[2], w[3]]));
        let words: Vec<u32> = words.collect();
        Ok(words
            .chunks_exact(4)
            .zip(tiles.pictures)
            .map(|(w, picture)| Finished { fingerprint: Fingerprint([w[0], w[1], w[2], w[3]]), picture })
            .collect())
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
            });
        }
        let room = (layers - least) as usize;
        let capacity = Schedule::capacity_within(tree, room.max(1), last_weight);
        Ok(capacity.min(self.gpu.limits.max_texture_array_layers as usize - 2))
    }

    /// From the last effect of each leaf to its fingerprint and its tile.
    #[expect(clippy::too_many_arguments, reason = "these are the parts of one exploration")]
    fn record_finish(
        &mut self,
        recording: &mut Recording,
        path: &Path,
        fixed: &Slots,
        last: Rc<Sheet>,
        leaves: &[(u32, usize)],
        figures: &wgpu::Buffer,
        tiles: &Tiles,
    ) -> Result<Option<(Rc<Sheet>, Vec<usize>)>, GpuError> {
        let moment = &path.moment;
        let count = leaves.len();
        let layers: Vec<u32> = leaves.iter().map(|&(layer, _)| layer).collect();
        let top = layers.iter().max().map_or(1, |&layer| layer + 1);
        let mut now = last;
        for after in &path.after {
            let into = self.sheet(moment.frame, top, held_format(moment.pixels));
            match after {
                After::Apply(call) => {
                    let words: Vec<u32> = layers.iter().flat_map(|&layer| [layer, layer]).collect();
                    let program = Program::Effect(&call.effect);
                    self.record(recording, program, vec![now], &into, &call.uniform, &words, count);
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
        let words: Vec<u32> = leaves.iter().flat_map(|&(layer, class)| [layer, class as u32]).collect();
        recording.dispatch(
            &self.gpu,
            &mut self.pipelines,
            Program::Fingerprint,
            vec![Rc::clone(&now)],
            Into::Figures(figures.clone()),
            moment.frame,
            &[0; 16],
            &words,
            count,
        );
        let Want::Tiles { size, most } = tiles.want else { return Ok(None) };
        let shown: Vec<(u32, usize)> = leaves.iter().copied().filter(|&(_, class)| class < most).collect();
        if shown.is_empty() {
            return Ok(None);
        }
        let sheet = self.sheet(size, shown.len() as u32, BYTES);
        let words: Vec<u32> = shown.iter().zip(0..).flat_map(|(&(layer, _), at)| [layer, at]).collect();
        let uniform: Vec<u8> =
            [size.width, size.height, 0, 0].iter().flat_map(|side| side.to_le_bytes()).collect();
        recording.dispatch(
            &self.gpu,
            &mut self.pipelines,
            Program::Shrink,
            vec![now],
            Into::Sheet(Rc::clone(&sheet)),
            size,
            &uniform,
            &words,
            shown.len(),
        );
        Ok(Some((sheet, shown.into_iter().map(|(_, class)| class).collect())))
    }

    /// Records steps; keeps the slots named in `keep`, lets go of others after their last use.
    fn record_steps(
        &mut self,
        recording: &mut Recording,
        steps: &[Step],
        moment: &Moment,
        keep: &[Slot],
    ) -> Result<Slots, GpuError> {
        let mut slots = Slots(vec![None; steps.len()]);
        let last_use = |slot: Slot| {
            steps
                .iter()
                .rposition(|step| match step {
                    Step::Apply { from, .. } => *from == slot,
                    Step::Lay { backdrop, source, .. } => *backdrop == slot || *source == slot,
                    Step::TakeIn { .. } | Step::Generate { .. } | Step::Fill { .. } => false,
                })
                .unwrap_or(0)
        };
        for (at, step) in steps.iter().enumerate() {
            let result = self.sheet(moment.frame, 1, held_format(moment.pixels));
            let read = match step {
                Step::TakeIn { .. } | Step::Generate { .. } | Step::Fill { .. } => Vec::new(),
                Step::Apply { from, .. } => vec![slots.kept(*from)?],
                Step::Lay { backdrop, source, .. } => vec![slots.kept(*backdrop)?, slots.kept(*source)?],
            };
            self.record_step(recording, step, read, &result)?;
            slots.0[at] = Some(result);
            for slot in 0..at {
                if !keep.contains(&slot) && last_use(slot) <= at {
                    slots.0[slot] = None;
                }
            }
        }
        Ok(slots)
    }

    /// Records one step, which reads the pictures of `read`.
    pub(super) fn record_step(
        &mut self,
        recording: &mut Recording,
        step: &Step,
        read: Vec<Rc<Sheet>>,
        result: &Rc<Sheet>,
    ) -> Result<(), GpuError> {
        match step {
            Step::TakeIn { picture, .. } => {
                let bytes = self.taken_in(picture)?;
                recording.hold_upload(&bytes);
                self.record(recording, Program::TakeIn, vec![bytes], result, &[0; 16], &[0, 0], 1);
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
                let program = Program::Effect(&call.effect);
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

    fn figures(&self, size: u64) -> wgpu::Buffer {
        self.gpu.device.create_buffer(&wgpu::BufferDescriptor {
            label: Some("figures"),
            size: size.max(16),
            usage: wgpu::BufferUsages::STORAGE | wgpu::BufferUsages::COPY_SRC,
            mapped_at_creation: false,
        })
    }

    fn send(&mut self, recording: &mut Recording) -> Result<(), GpuError> {
        if recording.is_empty() {
            return Ok(());
        }
        let fresh = recording.emptied();
        std::mem::replace(recording, fresh).submit(&self.gpu, &mut self.pipelines)
    }

    fn wait(&self) -> Result<(), GpuError> {
        let waited = self.gpu.device.poll(wgpu::PollType::wait_indefinitely());
        self.gpu.check()?;
        waited.map(|_| ()).map_err(|error| GpuError::Lost(error.to_string()))
    }

    fn taken_in(&mut self, picture: &Picture) -> Result<Rc<Sheet>, GpuError> {
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
        let Frame { width, height } = sheet.frame;
        let row = width as usize * 4;
        let padded = row.next_multiple_of(wgpu::COPY_BYTES_PER_ROW_ALIGNMENT as usize);
        let band_rows = (BAND_BYTES / padded).clamp(1, height as usize) as u32;
        let buffer = self.gpu.device.create_buffer(&wgpu::BufferDescriptor {
            label: Some("readback"),
            size: (padded * band_rows as usize) as u64,
            usage: wgpu::BufferUsages::MAP_READ | wgpu::BufferUsages::COPY_DST,
            mapped_at_creation: false,
        });
        let mut pictures = Vec::with_capacity(count as usize);
        for layer in 0..count {
            let mut rgba = Vec::with_capacity(row * height as usize);
            for top in (0..height).step_by(band_rows as usize) {
                let rows = band_rows.min(height - top);
                let mut encoder =
                    self.gpu.device.create_command_encoder(&wgpu::CommandEncoderDescriptor::default());
                encoder.copy_texture_to_buffer(
                    wgpu::TexelCopyTextureInfo {
                        texture: &sheet.texture,
                        mip_level: 0,
                        origin: wgpu::Origin3d { x: 0, y: top, z: layer },
                        aspect: wgpu::TextureAspect::All,
                    },
                    wgpu::TexelCopyBufferInfo {
                        buffer: &buffer,
                        layout: wgpu::TexelCopyBufferLayout {
                            offset: 0,
                            bytes_per_row: Some(padded as u32),
                            rows_per_image: None,
                        },
                    },
                    wgpu::Extent3d { width, height: rows, depth_or_array_layers: 1 },
                );
                self.gpu.queue.submit([encoder.finish()]);
                self.mapped(&buffer, |bytes| {
                    for line in bytes.chunks_exact(padded).take(rows as usize) {
                        rgba.extend_from_slice(&line[..row]);
                    }
                })?;
            }
            let opaque = rgba.chunks_exact(4).all(|texel| texel[3] == 255);
            pictures.push(Picture { frame: sheet.frame, rgba, opaque });
        }
        Ok(pictures)
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

    /// Lets go of textures that wait for their next use.
    pub fn let_go(&mut self) {
        self.pool.clear();
    }
}

/// Bytes that one transfer between processor and GPU takes at most.
const BAND_BYTES: usize = 64 << 20;

/// The pictures made by steps, by slot; those let go are gone.
struct Slots(Vec<Option<Rc<Sheet>>>);

impl Slots {
    fn kept(&self, slot: Slot) -> Result<Rc<Sheet>, GpuError> {
        let sheet = self.0.get(slot).and_then(Option::as_ref);
        sheet
            .map(Rc::clone)
            .ok_or_else(|| GpuError::Refused(format!("picture {slot} of the plan is missing")))
    }

    fn remove(&mut self, slot: Slot) -> Option<Rc<Sheet>> {
        self.0.get_mut(slot).and_then(Option::take)
    }
}

/// Tiles read back so far.
struct Tiles {
    want: Want,
    pictures: Vec<Option<Picture>>,
}

impl Tiles {
    fn new(want: Want, classes: usize) -> Self {
        Self { want, pictures: (0..classes).map(|_| None).collect() }
    }

    fn take(&mut self, classes: Vec<usize>, pictures: Vec<Picture>) {
        for (class, picture) in classes.into_iter().zip(pictures) {
            self.pictures[class] = Some(picture);
        }
    }
}

fn job_words(jobs: &[Job]) -> Vec<u32> {
    jobs.iter().flat_map(|job| [job.from_layer, job.into_layer]).collect()
}

fn mix_uniform(mix: Mix) -> [u8; 16] {
    let mode = BlendMode::ALL.iter().position(|&mode| mode == mix.blend).unwrap_or(0) as u32;
    let mut uniform = [0; 16];
    uniform[..4].copy_from_slice(&mode.to_le_bytes());
    uniform[4..8].copy_from_slice(&(mix.opacity as f32).to_le_bytes());
    uniform
}
