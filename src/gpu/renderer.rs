//! The renderer: paths and schedules in, pictures and figures out.

use std::rc::Rc;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::Duration;

use super::clock::Clock;
use super::jobs::Shrinking;
use super::lent::Memory;
use super::pipelines::{Form, Pipelines, Program, held_format};
use super::recording::{Dispatch, Recording};
use super::texture_array::{Pool, TextureArray};
use super::{AdapterSummary, Gpu, GpuError};
use crate::base::clock::{Since, pause};
use crate::base::doing::doing_untold;
use crate::base::frame::Frame;
use crate::base::picture::Picture;
use crate::beat::Moment;
use crate::catalogue::Reach;
use crate::order::{IndexMap, Job};
use crate::plan::Path;
use crate::plan::sharing::Sharing;
use crate::show::chain::{EffectCall, EffectUse};

/// A GPU with its pipelines and textures.
#[derive(Debug)]
pub struct Renderer {
    pub(super) gpu: Gpu,
    pub(super) pipelines: Pipelines,
    pub(super) pool: Pool,
    pub(super) memory: Memory,
    pub(super) sharing: Sharing,
    pub(super) mixing: bool,
    pub(super) weave_from_texels: u64,
    /// Set from another thread to end an exploration early.
    stop: Option<Arc<AtomicBool>>,
    /// Texels that one submission makes at most, where others wait for the GPU too.
    pub(super) brief_texels: Option<u64>,
}

/// Frames of fewer texels that follow each other are rendered in plain passes: sooner than programs of their own are compiled.
const WEAVE_FROM_TEXELS: u64 = 1 << 16;

/// Texels that one submission makes: enough to keep the adapter busy, few
/// enough that a display's watchdog does not step in (on Windows it waits 2 s;
/// Microsoft, "Timeout detection and recovery") and that a person sees the work go on.
pub(super) fn texels_per_submission(adapter: &AdapterSummary) -> u64 {
    if adapter.kind == "software" { 8 << 20 } else { 1 << 30 }
}

/// Texels that one of a tile covers, where these are so many whole ones each way, and few.
fn covered(from: Frame, into: Frame) -> Option<[u32; 2]> {
    let covers = [from.width / into.width, from.height / into.height];
    let is_whole = covers[0] * into.width == from.width && covers[1] * into.height == from.height;
    (is_whole && covers[0] * covers[1] <= MOST_COVERED).then_some(covers)
}

/// Texels whose loops are still unrolled.
const MOST_COVERED: u32 = 36;

/// How often a renderer that gives way looks whether it may go on.
const POLL: Duration = Duration::from_millis(1);
/// The longest that it lets an answer pass.
const LONGEST_WAY: Duration = Duration::from_millis(250);

impl Renderer {
    /// A renderer on this GPU.
    pub fn new(gpu: Gpu) -> Self {
        // A GPU has bandwidth for plain passes, whose programs are shared by all frames.
        let weave_from_texels = if gpu.is_software() { WEAVE_FROM_TEXELS } else { u64::MAX };
        let mixing = !gpu.is_software();
        Self {
            gpu,
            pipelines: Pipelines::default(),
            pool: Pool::default(),
            memory: Memory::default(),
            sharing: Sharing::default(),
            mixing,
            weave_from_texels,
            stop: None,
            brief_texels: None,
        }
    }

    /// Ends explorations from now on with [`GpuError::Stopped`] once the flag is set.
    pub fn stop_when(&mut self, stop: Arc<AtomicBool>) {
        self.stop = Some(stop);
    }

    /// One that gives way from the start.
    pub fn giving_way(gpu: Gpu) -> Self {
        let mut renderer = Self::new(gpu);
        renderer.give_way();
        renderer
    }

    /// Sends explorations in small parts, so that a window on the same GPU is not kept waiting.
    pub fn give_way(&mut self) {
        let texels = if self.gpu.is_software() { 1 << 17 } else { 128 << 20 };
        self.brief_texels = Some(texels);
    }

    /// Goes on whatever was asked.
    pub fn stop_no_more(&mut self) {
        self.stop = None;
    }

    /// Texels that are made and looked at in about a second, as a rough guess.
    pub fn texels_a_second(&self) -> u64 {
        // Eight effects at 160x90 took 65 s on two cores, at 320x180 about 1 s on an H200.
        texels_per_submission(self.gpu.adapter())
    }

    pub(super) fn is_stopped(&self) -> Result<(), GpuError> {
        match &self.stop {
            Some(stop) if stop.load(Ordering::Relaxed) => Err(GpuError::Stopped),
            _ => Ok(()),
        }
    }

    /// When explorations put several effects into one pass and store no picture that nobody reads. The bytes stay the same.
    pub fn share(&mut self, sharing: Sharing) {
        self.sharing = sharing;
    }

    /// Whether one dispatch of an exploration takes pictures of several effects: by itself on GPUs, which lose more
    /// between dispatches than by a choice that is the same all over a picture; a processor would work out all of them.
    pub fn mix(&mut self, mixing: bool) {
        self.mixing = mixing;
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
    pub(super) fn given_out(&mut self, path: &Path, order: &[usize]) -> Result<Rc<TextureArray>, GpuError> {
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

    pub(super) fn index_map(&mut self, call: &EffectCall, moment: &Moment) -> Result<IndexMap, GpuError> {
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
        let array = self.array(moment.frame, 1, held_format(moment.pixels));
        let dispatch =
            Dispatch::into_figures(Program::IndexMap(&call.effect), vec![array], &figures, moment.frame);
        self.record(&mut recording, dispatch.with(&call.uniform));
        recording.submit(&self.gpu, &mut self.pipelines)?;
        let words = self.read_words(&figures, (size / 4) as usize)?;
        let mut channels = words.chunks_exact(texels as usize).map(<[u32]>::to_vec);
        let mut next = || channels.next().unwrap_or_default();
        Ok(IndexMap { frame: moment.frame, channels: [next(), next(), next()] })
    }

    pub(super) fn record(&mut self, recording: &mut Recording, dispatch: Dispatch<'_>) {
        recording.dispatch(&self.gpu, &mut self.pipelines, dispatch);
    }

    /// One finished picture as bytes, at its own size.
    pub(super) fn record_given_out(
        &mut self,
        recording: &mut Recording,
        finished: Rc<TextureArray>,
        into: &Rc<TextureArray>,
    ) {
        self.record(recording, Dispatch::into_array(Program::GiveOut, vec![finished], into));
    }

    /// Finished pictures as bytes, at the size of the array that they come into.
    pub(super) fn record_shrink(
        &mut self,
        recording: &mut Recording,
        from: &Rc<TextureArray>,
        into: &Rc<TextureArray>,
        jobs: &[Job],
        form: Form,
    ) {
        if jobs.is_empty() {
            return;
        }
        let settings = Shrinking::from(into.frame);
        let program = Program::Shrink(form, covered(from.frame, into.frame));
        let dispatch = Dispatch::into_array(program, vec![Rc::clone(from)], into);
        self.record(recording, dispatch.with_settings(&settings).for_jobs(jobs));
    }

    pub(super) fn array(
        &mut self,
        frame: Frame,
        layers: u32,
        format: wgpu::TextureFormat,
    ) -> Rc<TextureArray> {
        self.pool.array(&self.gpu, frame, layers, format)
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
        if self.gives_way() {
            self.let_pass();
        }
        let fresh = recording.emptied();
        std::mem::replace(recording, fresh).submit(&self.gpu, &mut self.pipelines)
    }

    /// Sends a recording, if anything is recorded, together with what is done after it.
    pub(super) fn send_then(
        &mut self,
        recording: &mut Recording,
        then: impl FnOnce(&mut wgpu::CommandEncoder),
    ) -> Result<wgpu::SubmissionIndex, GpuError> {
        if recording.is_empty() {
            let mut encoder =
                self.gpu.device.create_command_encoder(&wgpu::CommandEncoderDescriptor::default());
            then(&mut encoder);
            return Ok(self.gpu.queue.submit([encoder.finish()]));
        }
        if self.gives_way() {
            self.let_pass();
        }
        let fresh = recording.emptied();
        std::mem::replace(recording, fresh).submit_then(&self.gpu, &mut self.pipelines, then)
    }

    /// Whether it lets a person's window go first.
    pub(super) fn gives_way(&self) -> bool {
        self.brief_texels.is_some()
    }

    /// Waits while the person waits for an answer, though not for good: a window may be hidden.
    pub(super) fn let_pass(&self) {
        let began = Since::now();
        while self.gpu.is_awaited() && began.elapsed() < LONGEST_WAY {
            pause(POLL);
        }
    }

    pub(super) fn wait(&self) -> Result<(), GpuError> {
        if self.gives_way() {
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
        let _waiting = doing_untold("waiting for the GPU");
        let waited = self.gpu.device.poll(wgpu::PollType::wait_indefinitely());
        self.gpu.check()?;
        waited.map(|_| ()).map_err(|error| GpuError::Lost(error.to_string()))
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

    /// How many texture arrays were made until now.
    pub fn arrays_made(&self) -> u64 {
        self.pool.made()
    }

    /// Lets go of textures that wait for their next use.
    pub fn let_go(&mut self) {
        self.pool.clear();
    }
}
