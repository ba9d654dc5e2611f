//! What shaders are told: the settings of a dispatch and its jobs, one a layer, as each shader declares them.

use bytemuck::{Pod, Zeroable};

use crate::base::frame::Frame;
use crate::show::{BlendMode, Mix};

/// One picture laid over another.
#[derive(Debug, Clone, Copy, Pod, Zeroable)]
#[repr(C)]
pub(super) struct Laid {
    pub(super) backdrop: u32,
    pub(super) source: u32,
    pub(super) into: u32,
    pub(super) unused: u32,
}

/// One picture that one of several runs makes.
#[derive(Debug, Clone, Copy, Pod, Zeroable)]
#[repr(C)]
pub(super) struct Taken {
    pub(super) layer: u32,
    /// The layer that it goes into, or the entry where its figures go.
    pub(super) into: u32,
    /// The place of the run in its program.
    pub(super) run: u32,
    pub(super) unused: u32,
}

/// One picture fingerprinted, or looked at for how light it is.
#[derive(Debug, Clone, Copy, Pod, Zeroable)]
#[repr(C)]
pub(super) struct Fingerprinted {
    pub(super) layer: u32,
    /// Where the figures go, in entries.
    pub(super) entry: u32,
}

/// One picture compared with another.
#[derive(Debug, Clone, Copy, Pod, Zeroable)]
#[repr(C)]
pub(super) struct Compared {
    pub(super) layer: u32,
    pub(super) reference: u32,
    /// Where the figures go, in entries.
    pub(super) entry: u32,
    pub(super) unused: u32,
}

/// Settings of `fill.wgsl`.
#[derive(Debug, Clone, Copy, Default, Pod, Zeroable)]
#[repr(C, align(16))]
pub(super) struct Filling {
    pub(super) alpha: f32,
    pub(super) unused: [u32; 3],
}

/// Settings of `blend.wgsl`.
#[derive(Debug, Clone, Copy, Pod, Zeroable)]
#[repr(C, align(16))]
pub(super) struct Mixing {
    /// The place of the blend mode in [`BlendMode::ALL`].
    mode: u32,
    opacity: f32,
    unused: [u32; 2],
}

impl Mixing {
    pub(super) fn mode(self) -> u32 {
        self.mode
    }

    pub(super) fn opacity(self) -> f32 {
        self.opacity
    }
}

impl From<Mix> for Mixing {
    fn from(mix: Mix) -> Self {
        let mode = BlendMode::ALL.iter().position(|&mode| mode == mix.blend).unwrap_or(0) as u32;
        Self { mode, opacity: mix.opacity as f32, unused: [0; 2] }
    }
}

/// Settings of `shrink.wgsl`, and of `lightness.wgsl`, whose texels are blocks.
#[derive(Debug, Clone, Copy, Pod, Zeroable)]
#[repr(C, align(16))]
pub(super) struct Shrinking {
    width: u32,
    height: u32,
    unused: [u32; 2],
}

impl From<Frame> for Shrinking {
    fn from(size: Frame) -> Self {
        Self { width: size.width, height: size.height, unused: [0; 2] }
    }
}

/// Settings of `difference.wgsl`: the rows of a picture that are counted, every `step`-th from the `first` on; all
/// where both are 0.
#[derive(Debug, Clone, Copy, Default, Pod, Zeroable)]
#[repr(C, align(16))]
pub(super) struct Rows {
    first: u32,
    step: u32,
    unused: [u32; 2],
}

impl Rows {
    /// All rows.
    pub(super) const ALL: Self = Self { first: 0, step: 0, unused: [0; 2] };

    /// All rows, in shares that each lie all over the picture: mostly the first shows that two are far apart.
    pub(super) const SHARES: [Self; 5] =
        [Self::every(16, 0), Self::every(16, 8), Self::every(8, 4), Self::every(4, 2), Self::every(2, 1)];

    const fn every(step: u32, first: u32) -> Self {
        Self { first, step, unused: [0; 2] }
    }

    /// As much of a frame as they are.
    pub(super) fn of(self, frame: Frame) -> Frame {
        Frame { height: frame.height.saturating_sub(self.first).div_ceil(self.step.max(1)), ..frame }
    }
}

/// Settings of `difference_picture.wgsl`.
#[derive(Debug, Clone, Copy, Default, Pod, Zeroable)]
#[repr(C, align(16))]
pub(super) struct Scaling {
    /// Where the scale ends, in CIEDE2000.
    pub(super) most: f32,
    pub(super) unused: [u32; 3],
}
