//! Which adapter does the work.

use std::cell::RefCell;
use std::fmt;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::sync::{Arc, Mutex, PoisonError};

use super::GpuError;
use super::clock::Clock;
use crate::base::cache::Caches;
use crate::base::frame::Frame;
use crate::base::quiet::quietly;
use crate::catalogue::Workgroup;

/// The environment variable that names an adapter, as `--adapter` does.
pub const ADAPTER_VARIABLE: &str = "UNDEROVER_ADAPTER";

/// One adapter, for people.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct AdapterSummary {
    /// The driver's name for it.
    pub name: String,
    /// "vulkan", "metal", "dx12" or "gl".
    pub backend: String,
    /// "discrete GPU", "integrated GPU", "virtual GPU", "software" or "other".
    pub kind: String,
    /// Largest frame side, in texels.
    pub largest_side: u32,
    /// The driver and its version, in its own words.
    pub driver: String,
}

impl AdapterSummary {
    fn of(adapter: &wgpu::Adapter) -> Self {
        let info = adapter.get_info();
        Self {
            driver: format!("{} {}", info.driver, info.driver_info),
            name: info.name,
            backend: info.backend.to_str().to_owned(),
            kind: match info.device_type {
                wgpu::DeviceType::DiscreteGpu => "discrete GPU",
                wgpu::DeviceType::IntegratedGpu => "integrated GPU",
                wgpu::DeviceType::VirtualGpu => "virtual GPU",
                wgpu::DeviceType::Cpu => "software",
                wgpu::DeviceType::Other => "other",
            }
            .to_owned(),
            largest_side: adapter.limits().max_texture_dimension_2d,
        }
    }

    /// Whether every word of `part` stands in the summary, letter case aside.
    fn is_called(&self, part: &str) -> bool {
        let own = self.to_string().to_lowercase();
        part.to_lowercase().split_whitespace().all(|word| own.contains(word))
    }
}

impl fmt::Display for AdapterSummary {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} ({}, {})", self.name, self.backend, self.kind)
    }
}

/// A device with its queue, and what went wrong on it.
#[derive(Debug)]
pub struct Gpu {
    pub(super) device: wgpu::Device,
    pub(super) queue: wgpu::Queue,
    pub(super) limits: wgpu::Limits,
    pub(super) workgroup: Workgroup,
    /// There while GPU time is measured.
    pub(super) clock: RefCell<Option<Clock>>,
    summary: AdapterSummary,
    failure: Arc<Mutex<Option<GpuError>>>,
    /// Where siblings get a device of their own, what they get it from.
    adapter: Option<wgpu::Adapter>,
    /// The device on which the person is answered.
    answering: wgpu::Device,
    /// Set while an answer to the person waits for the GPU.
    is_awaited: Arc<AtomicBool>,
    readbacks: AtomicU64,
    /// Where what is worked out on it is kept from run to run.
    kept: Option<Arc<Caches>>,
}

/// Every adapter of this machine, best first.
pub fn adapters() -> Vec<AdapterSummary> {
    found(wgpu::Backends::all()).iter().map(AdapterSummary::of).collect()
}

/// The adapter that [`Gpu::open`] would open.
///
/// # Errors
/// As [`Gpu::open`].
pub fn adapter_named(wanted: Option<&str>) -> Result<AdapterSummary, GpuError> {
    chosen(wanted).map(|adapter| AdapterSummary::of(&adapter))
}

fn found(backends: wgpu::Backends) -> Vec<wgpu::Adapter> {
    let mut descriptor = wgpu::InstanceDescriptor::new_without_display_handle();
    descriptor.backends = backends;
    descriptor.flags = wgpu::InstanceFlags::empty();
    quietly(|| ranked(&wgpu::Instance::new(descriptor), backends))
}

/// The adapters of an instance, best first.
fn ranked(instance: &wgpu::Instance, backends: wgpu::Backends) -> Vec<wgpu::Adapter> {
    let mut adapters = pollster::block_on(instance.enumerate_adapters(backends));
    adapters.sort_by_key(|adapter| {
        let info = adapter.get_info();
        let kind = match info.device_type {
            wgpu::DeviceType::DiscreteGpu => 0,
            wgpu::DeviceType::IntegratedGpu => 1,
            wgpu::DeviceType::VirtualGpu => 2,
            wgpu::DeviceType::Other => 3,
            wgpu::DeviceType::Cpu => 4,
        };
        (kind, info.backend == wgpu::Backend::Gl)
    });
    adapters
}

fn chosen(wanted: Option<&str>) -> Result<wgpu::Adapter, GpuError> {
    if wanted.is_some() {
        return chosen_among(found(wgpu::Backends::all()), wanted);
    }
    // GL comes into play only where nothing newer answers: asking for it
    // can make display libraries write to the terminal.
    let newer = found(wgpu::Backends::all() - wgpu::Backends::GL).into_iter().next();
    newer.or_else(|| found(wgpu::Backends::GL).into_iter().next()).ok_or(GpuError::NoAdapter)
}

/// Of adapters, best first, the one that `wanted` names, or the first.
fn chosen_among(adapters: Vec<wgpu::Adapter>, wanted: Option<&str>) -> Result<wgpu::Adapter, GpuError> {
    let summaries: Vec<_> = adapters.iter().map(AdapterSummary::of).collect();
    let place = match wanted {
        Some(wanted) if !adapters.is_empty() => summaries
            .iter()
            .position(|summary| summary.is_called(wanted))
            .ok_or_else(|| GpuError::NoSuchAdapter {
                wanted: wanted.to_owned(),
                known: summaries.iter().map(ToString::to_string).collect::<Vec<_>>().join("; "),
            })?,
        _ => 0,
    };
    adapters.into_iter().nth(place).ok_or(GpuError::NoAdapter)
}

impl Gpu {
    /// Opens the best adapter, or the best whose summary has every word of
    /// `wanted` ("gl", "vulkan llvmpipe").
    ///
    /// # Errors
    /// [`GpuError`] where there is none, or none of that name, or it is not able.
    pub fn open(wanted: Option<&str>) -> Result<Self, GpuError> {
        Self::on(&chosen(wanted)?)
    }

    /// Opens every adapter of the kind that [`Self::open`] opens unnamed, through the same interface: each GPU once.
    ///
    /// # Errors
    /// As [`Self::open`].
    pub fn open_all() -> Result<Vec<Self>, GpuError> {
        let best = chosen(None)?.get_info();
        let alike = |adapter: &wgpu::Adapter| adapter.get_info().device_type == best.device_type;
        let mut adapters = found(best.backend.into());
        adapters.retain(alike);
        adapters.iter().map(Self::on).collect()
    }

    /// Opens the best adapter that can paint on a window's surface, or the one that `wanted` names.
    ///
    /// # Errors
    /// As [`Self::open`].
    pub fn for_surface(
        instance: &wgpu::Instance,
        surface: &wgpu::Surface<'_>,
        wanted: Option<&str>,
    ) -> Result<(Self, wgpu::Adapter), GpuError> {
        let able = |backends| {
            let mut adapters = ranked(instance, backends);
            adapters.retain(|adapter| adapter.is_surface_supported(surface));
            adapters
        };
        // As in `open`: GL only where it is asked for, or nothing newer answers.
        let mut adapters = match wanted {
            Some(_) => able(wgpu::Backends::all()),
            None => able(wgpu::Backends::all() - wgpu::Backends::GL),
        };
        if adapters.is_empty() {
            adapters = able(wgpu::Backends::GL);
        }
        let adapter = chosen_among(adapters, wanted)?;
        Ok((Self::on(&adapter)?, adapter))
    }

    fn on(adapter: &wgpu::Adapter) -> Result<Self, GpuError> {
        let summary = AdapterSummary::of(adapter);
        let able = adapter.get_downlevel_capabilities();
        if !able.flags.contains(wgpu::DownlevelFlags::COMPUTE_SHADERS) {
            let lacking = "compute shaders".to_owned();
            return Err(GpuError::NotCapable { adapter: summary.to_string(), lacking });
        }
        let limits = adapter.limits();
        let descriptor = wgpu::DeviceDescriptor {
            label: Some("underover"),
            required_features: adapter.features() & wgpu::Features::TIMESTAMP_QUERY,
            required_limits: limits.clone(),
            ..Default::default()
        };
        let (device, queue) = pollster::block_on(adapter.request_device(&descriptor)).map_err(|error| {
            GpuError::NotCapable {
                adapter: summary.to_string(),
                lacking: format!("a usable device ({error})"),
            }
        })?;
        let failure = Arc::new(Mutex::new(None));
        let note = |failure: &Arc<Mutex<Option<GpuError>>>, error: GpuError| {
            // The first failure is the cause of those that follow.
            failure.lock().unwrap_or_else(PoisonError::into_inner).get_or_insert(error);
        };
        let (on_error, on_loss) = (Arc::clone(&failure), Arc::clone(&failure));
        device.on_uncaptured_error(Arc::new(move |error: wgpu::Error| {
            let error = match error {
                wgpu::Error::OutOfMemory { source } => GpuError::OutOfMemory(source.to_string()),
                wgpu::Error::Validation { description, .. } | wgpu::Error::Internal { description, .. } => {
                    GpuError::Refused(description)
                }
            };
            note(&on_error, error);
        }));
        device.set_device_lost_callback(move |reason, message| {
            if reason != wgpu::DeviceLostReason::Destroyed {
                note(&on_loss, GpuError::Lost(message));
            }
        });
        let software = summary.kind == "software";
        let workgroup = if software { Workgroup::WIDE } else { Workgroup::SQUARE };
        let clock = RefCell::new(None);
        let readbacks = AtomicU64::new(0);
        let is_awaited = Arc::default();
        // Devices of one GL adapter share one context, and gain nothing.
        let is_apart = software && adapter.get_info().backend == wgpu::Backend::Vulkan;
        let (own, answering) = (is_apart.then(|| adapter.clone()), device.clone());
        Ok(Self {
            device,
            queue,
            limits,
            workgroup,
            clock,
            summary,
            failure,
            adapter: own,
            answering,
            is_awaited,
            readbacks,
            kept: None,
        })
    }

    /// The same, keeping what is worked out on it from run to run.
    #[must_use]
    pub fn keeping(self, kept: Option<Caches>) -> Self {
        Self { kept: kept.map(Arc::new), ..self }
    }

    /// Leaves the device to the system when the program ends: whoever takes it down thing by thing has the person wait.
    pub fn left_to_the_system(self) -> Self {
        std::mem::forget(self.device.clone());
        self
    }

    /// Where what is worked out on it is kept, if anywhere.
    pub fn kept(&self) -> Option<&Caches> {
        self.kept.as_deref()
    }

    /// The same GPU for work on another thread, with its own count of readbacks.
    ///
    /// Where a processor does the work, it is a device of its own: a driver there holds back whatever one
    /// thread sends until what another sent is done, compiling included.
    pub fn sibling(&self) -> Self {
        self.on_own_device().unwrap_or_else(|| Self {
            device: self.device.clone(),
            queue: self.queue.clone(),
            limits: self.limits.clone(),
            workgroup: self.workgroup,
            clock: RefCell::new(None),
            summary: self.summary.clone(),
            failure: Arc::clone(&self.failure),
            adapter: None,
            answering: self.answering.clone(),
            is_awaited: Arc::clone(&self.is_awaited),
            readbacks: AtomicU64::new(0),
            kept: self.kept.clone(),
        })
    }

    /// The same adapter with a device of its own, where that is of use.
    pub(super) fn on_own_device(&self) -> Option<Self> {
        let own = Self::on(self.adapter.as_ref()?).ok()?;
        let answering = self.answering.clone();
        let kept = self.kept.clone();
        Some(Self { answering, is_awaited: Arc::clone(&self.is_awaited), kept, ..own })
    }

    /// The person waits for an answer: renderers that give way send nothing until it is given.
    pub fn await_answer(&self) {
        self.is_awaited.store(true, Ordering::Release);
    }

    /// What has been sent by now is the answer: once the GPU is done with it, nobody waits any more.
    pub fn answer_is_sent(&self) {
        let is_awaited = Arc::clone(&self.is_awaited);
        self.queue.on_submitted_work_done(move || is_awaited.store(false, Ordering::Release));
    }

    /// Whether the person waits for an answer.
    pub(super) fn is_awaited(&self) -> bool {
        // Only looks what is done there.
        let _ = self.answering.poll(wgpu::PollType::Poll);
        self.is_awaited.load(Ordering::Acquire)
    }

    /// The device, which the window shares.
    pub fn device(&self) -> &wgpu::Device {
        &self.device
    }

    /// The device's queue.
    pub fn queue(&self) -> &wgpu::Queue {
        &self.queue
    }

    /// Whether the processor does the work of a GPU.
    pub fn is_software(&self) -> bool {
        self.summary.kind == "software"
    }

    /// How often something was read back from the GPU: never, on the way to a screen.
    pub fn readbacks(&self) -> u64 {
        self.readbacks.load(Ordering::Relaxed)
    }

    pub(super) fn note_readback(&self) {
        self.readbacks.fetch_add(1, Ordering::Relaxed);
    }

    /// The adapter in use.
    pub fn adapter(&self) -> &AdapterSummary {
        &self.summary
    }

    /// Refuses a frame that no texture of this adapter holds, before any work.
    ///
    /// # Errors
    /// [`GpuError::FrameTooLarge`].
    pub fn check_frame(&self, frame: Frame) -> Result<(), GpuError> {
        let limit = self.limits.max_texture_dimension_2d;
        if frame.width.max(frame.height) > limit {
            return Err(GpuError::FrameTooLarge { frame, limit, adapter: self.summary.to_string() });
        }
        Ok(())
    }

    /// What went wrong since the last call, if anything.
    pub(super) fn check(&self) -> Result<(), GpuError> {
        match self.failure.lock().unwrap_or_else(PoisonError::into_inner).take() {
            Some(error) => Err(error),
            None => Ok(()),
        }
    }
}
