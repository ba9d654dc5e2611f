//! The GPU runtime: the only module, beside the window, that knows wgpu.
//!
//! A [`Renderer`] takes paths and schedules, which are data, and gives pictures and figures back.

mod adapter;
mod candidates;
mod clock;
mod difference;
mod due;
mod elsewhere;
mod explore;
mod exploring;
mod jobs;
mod kept;
mod lent;
mod made;
mod past;
mod pipelines;
mod readback;
mod recording;
mod renderer;
mod returning;
mod screen;
mod sharing;
mod spread;
mod steps;
mod texture_array;
mod woven;

use thiserror::Error;

pub use adapter::{ADAPTER_VARIABLE, AdapterSummary, Gpu, adapter_named, adapters};
pub use candidates::Ground;
pub use difference::Gallery;
pub use elsewhere::{Kept, Portable, WrittenProgram, mix_bytes};
pub use explore::{Against, Asked, Budget, Fingerprint, Finished, Measured, Want};
pub use exploring::Exploring;
pub use lent::Returned;
pub use past::{Player, Unmoved};
pub use readback::Underway;
pub use renderer::Renderer;
pub use returning::Returning;
pub use screen::{OnScreen, Recipe, Screen, ScreenKey, Wanted};
pub use spread::{GalleryPieces, GalleryPoints, POINT_TEXELS, point_frame};

use crate::base::frame::Frame;
use crate::footage::FootageError;

/// Why nothing was rendered.
#[derive(Debug, Error)]
pub enum RenderError {
    /// The footage cannot be shown.
    #[error(transparent)]
    Footage(#[from] FootageError),
    /// The GPU fails.
    #[error(transparent)]
    Gpu(#[from] GpuError),
}

/// Why the GPU could not do the work.
#[derive(Debug, Clone, Error)]
pub enum GpuError {
    /// Nothing to render on.
    #[error(
        "no GPU adapter was found, not even a software one; on Debian or Ubuntu `apt-get install mesa-vulkan-drivers libegl1` brings a software one, on other systems install your GPU's driver"
    )]
    NoAdapter,
    /// Two pictures that should be compared are not of one size.
    #[error("a picture of {found} cannot be compared with one of {wanted}; give both the same frame")]
    UnlikeFrames {
        /// The size found.
        found: Frame,
        /// The size wanted.
        wanted: Frame,
    },
    /// None of that name.
    #[error("no GPU adapter is called `{wanted}`; this machine has {known}")]
    NoSuchAdapter {
        /// The part of a name asked for.
        wanted: String,
        /// Every adapter seen.
        known: String,
    },
    /// Too old for compute shaders.
    #[error("{adapter} lacks {lacking}; choose another with --adapter (`underover adapters` lists them)")]
    NotCapable {
        adapter: String,
        /// What it lacks.
        lacking: String,
    },
    /// The frame does not fit in a texture.
    #[error(
        "a frame of {frame} is larger than {adapter} can hold ({limit} texels a side); choose a smaller --frame"
    )]
    FrameTooLarge {
        /// The frame asked for.
        frame: Frame,
        /// Texels a side.
        limit: u32,
        adapter: String,
    },
    /// The memory budget does not hold one picture of each depth.
    #[error(
        "exploring this chain at {frame} takes at least {needed_mib} MiB of pictures, and the budget is {budget_mib} MiB; give --memory {needed_mib}, or a --frame of {fits} or smaller"
    )]
    BudgetTooSmall {
        frame: Frame,
        /// The least that works.
        needed_mib: u64,
        budget_mib: u64,
        /// The largest frame of the same shape that keeps to it.
        fits: Frame,
    },
    /// An allocation failed.
    #[error(
        "the GPU is out of memory ({0}); choose a smaller --frame or a smaller --memory budget, or close other programs that use the GPU"
    )]
    OutOfMemory(String),
    /// The device went away.
    #[error(
        "the GPU stopped answering ({0}); run the command again, and if it happens again choose another adapter with --adapter"
    )]
    Lost(String),
    /// Asked to stop while it was at work.
    #[error("stopped before it was done")]
    Stopped,
    /// A defect of a driver, or work that it should not have been given.
    #[error("the GPU refused the work: {0}")]
    Refused(String),
    /// A defect of ours: the GPU did as it was told.
    #[error(
        "Underover lost count of its own work ({0}); this is a defect of the program, not of the GPU: please report it with the file at hand"
    )]
    Defect(&'static str),
}
