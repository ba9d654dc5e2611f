//! A recording: dispatches with their data, put down first and sent to the GPU as one submission.

use std::collections::HashMap;
use std::rc::Rc;
use std::sync::Arc;

use bytemuck::NoUninit;

use super::clock::Clock;
use super::pipelines::{Bindings, Compiled, Pipelines, Program};
use super::texture_array::TextureArray;
use super::{Gpu, GpuError};
use crate::base::doing::doing_untold;
use crate::base::frame::{Frame, PixelMode};

/// Where a dispatch writes.
#[derive(Debug, Clone)]
pub(super) enum Target {
    Array(Rc<TextureArray>),
    Figures(wgpu::Buffer),
}

/// One program over all texels of a frame, once for each job.
#[derive(Debug)]
pub(super) struct Dispatch<'a> {
    program: Program<'a>,
    read: Vec<Rc<TextureArray>>,
    into: Target,
    frame: Frame,
    uniform: &'a [u8],
    /// The jobs, as the program's shader declares them.
    jobs: &'a [u8],
    count: u32,
}

impl<'a> Dispatch<'a> {
    /// Fills layers of an array; without further words the first, from the first of what is read.
    pub(super) fn into_array(
        program: Program<'a>,
        read: Vec<Rc<TextureArray>>,
        into: &Rc<TextureArray>,
    ) -> Self {
        Self::of(program, read, Target::Array(Rc::clone(into)), into.frame)
    }

    /// Counts over a frame into a buffer.
    pub(super) fn into_figures(
        program: Program<'a>,
        read: Vec<Rc<TextureArray>>,
        into: &wgpu::Buffer,
        frame: Frame,
    ) -> Self {
        Self::of(program, read, Target::Figures(into.clone()), frame)
    }

    /// Fills a part of an array, of this size.
    pub(super) fn into_part(
        program: Program<'a>,
        read: Vec<Rc<TextureArray>>,
        into: &Rc<TextureArray>,
        size: Frame,
    ) -> Self {
        Self::of(program, read, Target::Array(Rc::clone(into)), size)
    }

    fn of(program: Program<'a>, read: Vec<Rc<TextureArray>>, into: Target, frame: Frame) -> Self {
        Self { program, read, into, frame, uniform: &[0; 16], jobs: &[0; 16], count: 1 }
    }

    /// With these settings in place of zeros.
    pub(super) fn with(self, uniform: &'a [u8]) -> Self {
        Self { uniform, ..self }
    }

    /// As [`with`](Self::with), of a program that is none of an effect.
    pub(super) fn with_settings<S: NoUninit>(self, settings: &'a S) -> Self {
        self.with(bytemuck::bytes_of(settings))
    }

    /// Once for each of these jobs, in place of once for a job of zeros.
    pub(super) fn for_jobs<J: NoUninit>(self, jobs: &'a [J]) -> Self {
        Self { jobs: bytemuck::cast_slice(jobs), count: jobs.len() as u32, ..self }
    }

    /// Once for each of `count` jobs with settings of their own, put down by [`job_with_settings`](crate::catalogue::job_with_settings).
    pub(super) fn for_jobs_with_settings(self, jobs: &'a [u8], count: usize) -> Self {
        Self { jobs, count: count as u32, ..self }
    }

    /// Once for all of these jobs together, whose number the settings say.
    pub(super) fn over_jobs<J: NoUninit>(self, jobs: &'a [J]) -> Self {
        Self { jobs: bytemuck::cast_slice(jobs), ..self }
    }
}

#[derive(Debug)]
enum Bound {
    View(u64, wgpu::TextureView),
    Figures(wgpu::Buffer),
}

/// A dispatch as it is sent.
#[derive(Debug)]
struct Recorded {
    program: Arc<Compiled>,
    bindings: Bindings,
    /// Views, not arrays: an array whose last dispatch is recorded goes back to the
    /// pool and serves again, since dispatches run in the order recorded.
    read: Vec<(u64, wgpu::TextureView)>,
    into: Bound,
    uniform_at: u32,
    jobs_at: u32,
    groups: [u32; 3],
}

/// Dispatches in the order of execution.
#[derive(Debug)]
pub(super) struct Recording {
    pixels: PixelMode,
    dispatches: Vec<Recorded>,
    /// Arrays written by the processor: that happens before any dispatch runs, so
    /// none of them may serve again in this recording.
    uploads: Vec<Rc<TextureArray>>,
    uniforms: Vec<u8>,
    jobs: Vec<u8>,
    largest_uniform: usize,
    largest_jobs: usize,
}

/// Offsets of bound parts of a buffer are multiples of this on every adapter (WebGPU's default limit).
const ALIGNMENT: usize = 256;

impl Recording {
    pub(super) fn new(pixels: PixelMode) -> Self {
        Self {
            pixels,
            dispatches: Vec::new(),
            uploads: Vec::new(),
            uniforms: Vec::new(),
            jobs: Vec::new(),
            largest_uniform: 0,
            largest_jobs: 0,
        }
    }

    /// Holds on to an array that the processor has written, until the recording is sent.
    pub(super) fn hold_upload(&mut self, array: &Rc<TextureArray>) {
        self.uploads.push(Rc::clone(array));
    }

    /// A recording of the same kind with nothing in it.
    pub(super) fn emptied(&self) -> Self {
        Self::new(self.pixels)
    }

    pub(super) fn is_empty(&self) -> bool {
        self.dispatches.is_empty()
    }

    /// Adds one dispatch.
    pub(super) fn dispatch(&mut self, gpu: &Gpu, pipelines: &mut Pipelines, dispatch: Dispatch<'_>) {
        let Dispatch { program, read, into, frame, uniform, jobs, count } = dispatch;
        let compiled = pipelines.recorded(gpu, program, self.pixels);
        let [width, height] = program.texels(gpu.workgroup);
        let groups = [frame.width.div_ceil(width), frame.height.div_ceil(height), count];
        self.largest_uniform = self.largest_uniform.max(uniform.len());
        self.largest_jobs = self.largest_jobs.max(jobs.len());
        self.dispatches.push(Recorded {
            program: compiled,
            bindings: program.bindings(self.pixels),
            read: read.iter().map(|array| (array.id, array.view.clone())).collect(),
            into: match into {
                Target::Array(array) => Bound::View(array.id, array.view.clone()),
                Target::Figures(buffer) => Bound::Figures(buffer),
            },
            uniform_at: put(&mut self.uniforms, uniform),
            jobs_at: put(&mut self.jobs, jobs),
            groups,
        });
    }

    /// Sends everything to the GPU; what is read back must wait for it.
    pub(super) fn submit(self, gpu: &Gpu, pipelines: &mut Pipelines) -> Result<(), GpuError> {
        if self.dispatches.is_empty() {
            return gpu.check();
        }
        self.submit_then(gpu, pipelines, |_| ()).map(|_| ())
    }

    /// Sends it together with what is done after it: some drivers take no second submission before the first
    /// is done, and whoever sends it would wait.
    pub(super) fn submit_then(
        self,
        gpu: &Gpu,
        pipelines: &mut Pipelines,
        then: impl FnOnce(&mut wgpu::CommandEncoder),
    ) -> Result<wgpu::SubmissionIndex, GpuError> {
        pipelines.compile(gpu);
        let _sending = doing_untold("sending work to the GPU");
        let uniform_window = self.largest_uniform.next_multiple_of(ALIGNMENT).max(ALIGNMENT);
        let jobs_window = self.largest_jobs.next_multiple_of(ALIGNMENT).max(ALIGNMENT);
        let uniforms = uploaded(gpu, &self.uniforms, uniform_window, wgpu::BufferUsages::UNIFORM);
        let jobs = uploaded(gpu, &self.jobs, jobs_window, wgpu::BufferUsages::STORAGE);
        let mut groups: HashMap<Vec<u64>, wgpu::BindGroup> = HashMap::new();
        let mut encoder = gpu.device.create_command_encoder(&wgpu::CommandEncoderDescriptor::default());
        {
            let mut clock = gpu.clock.borrow_mut();
            let mut pass = encoder.begin_compute_pass(&wgpu::ComputePassDescriptor {
                label: None,
                timestamp_writes: clock.as_mut().and_then(Clock::next),
            });
            for (nth, dispatch) in self.dispatches.iter().enumerate() {
                let key = dispatch.key(nth);
                let group = groups.entry(key).or_insert_with(|| {
                    bind_group(gpu, pipelines, dispatch, (&uniforms, uniform_window), (&jobs, jobs_window))
                });
                let compiled = dispatch.program.pipeline();
                pass.set_pipeline(compiled.ok_or(GpuError::Defect("a program was not compiled"))?);
                pass.set_bind_group(0, &*group, &[dispatch.uniform_at, dispatch.jobs_at]);
                let [x, y, z] = dispatch.groups;
                pass.dispatch_workgroups(x, y, z);
            }
        }
        then(&mut encoder);
        let sent = gpu.queue.submit([encoder.finish()]);
        gpu.check().map(|()| sent)
    }
}

impl Recorded {
    /// Equal for dispatches that can share a bind group.
    fn key(&self, nth: usize) -> Vec<u64> {
        let kind = match self.bindings {
            Bindings::Picture(format) => 2 + u64::from(format == wgpu::TextureFormat::Rgba16Float),
            Bindings::TwoPictures(_) => 1,
            Bindings::Figures => 0,
            Bindings::FiguresOfTwo => 4,
            Bindings::PictureAndPast(_) => 5,
            Bindings::Woven(_) => 6,
        };
        let into = match &self.into {
            Bound::View(id, _) => *id,
            // Buffers have no number; such a dispatch shares with no other.
            Bound::Figures(_) => u64::MAX - nth as u64,
        };
        [kind, into].into_iter().chain(self.read.iter().map(|(id, _)| *id)).collect()
    }
}

fn put(data: &mut Vec<u8>, bytes: &[u8]) -> u32 {
    let at = data.len();
    data.extend_from_slice(bytes);
    data.resize(data.len().next_multiple_of(ALIGNMENT).max(at + ALIGNMENT), 0);
    at as u32
}

/// A buffer of `data`, long enough for a window at every offset.
fn uploaded(gpu: &Gpu, data: &[u8], window: usize, usage: wgpu::BufferUsages) -> wgpu::Buffer {
    let buffer = gpu.device.create_buffer(&wgpu::BufferDescriptor {
        label: Some("recording"),
        size: (data.len() + window) as u64,
        usage: usage | wgpu::BufferUsages::COPY_DST,
        mapped_at_creation: false,
    });
    gpu.queue.write_buffer(&buffer, 0, data);
    buffer
}

fn bind_group(
    gpu: &Gpu,
    pipelines: &mut Pipelines,
    dispatch: &Recorded,
    uniforms: (&wgpu::Buffer, usize),
    jobs: (&wgpu::Buffer, usize),
) -> wgpu::BindGroup {
    fn window<'a>((buffer, size): (&'a wgpu::Buffer, usize)) -> wgpu::BindingResource<'a> {
        wgpu::BindingResource::Buffer(wgpu::BufferBinding {
            buffer,
            offset: 0,
            size: std::num::NonZeroU64::new(size as u64),
        })
    }
    let mut pictures = dispatch.read.iter().map(|(_, view)| wgpu::BindingResource::TextureView(view));
    // A last output is bound behind everything else.
    let first = if matches!(dispatch.bindings, Bindings::PictureAndPast(_)) { 1 } else { pictures.len() };
    let mut resources: Vec<wgpu::BindingResource<'_>> = pictures.by_ref().take(first).collect();
    resources.push(window(uniforms));
    resources.push(match &dispatch.into {
        Bound::View(_, view) => wgpu::BindingResource::TextureView(view),
        Bound::Figures(buffer) => buffer.as_entire_binding(),
    });
    resources.push(window(jobs));
    resources.extend(pictures);
    let entries: Vec<_> = resources
        .into_iter()
        .zip(0..)
        .map(|(resource, binding)| wgpu::BindGroupEntry { binding, resource })
        .collect();
    let layout = pipelines.layout(gpu, dispatch.bindings);
    gpu.device.create_bind_group(&wgpu::BindGroupDescriptor {
        label: None,
        layout: &layout,
        entries: &entries,
    })
}
