//! Programs as text, and the pictures that every order has in common: what is needed to run a chain elsewhere, as a page
//! in a browser does.

use super::GpuError;
use super::jobs::Mixing;
use super::lent::Returned;
use super::past::Past;
use super::pipelines::{BYTES, Binding, Program};
use super::recording::Recording;
use super::renderer::Renderer;
use crate::base::frame::PixelMode;
use crate::base::picture::Picture;
use crate::catalogue::{Effect, Workgroup};
use crate::plan::Path;
use crate::show::Mix;

/// What runs elsewhere.
#[derive(Debug, Clone, Copy)]
pub enum Portable<'a> {
    /// An effect over what stands before it; of one that remembers, its first frame.
    Effect(&'a Effect),
    /// An effect that remembers, over its own last output.
    Past(&'a Effect),
    /// One picture over another.
    Lay,
    /// Bytes of a file into a picture.
    TakeIn,
    /// A picture into bytes.
    GiveOut,
}

/// A program as whoever runs it elsewhere needs it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct WrittenProgram {
    /// The shader, in WGSL.
    pub code: String,
    pub entry_point: &'static str,
    /// What is bound, in order: `picture`, `settings`, `result` or `jobs`, of which there is one, all zeros.
    pub bindings: Vec<&'static str>,
    /// The texture format of its result, as WebGPU names it.
    pub format: &'static str,
    /// Columns and rows that one workgroup takes.
    pub texels: [u32; 2],
}

impl Portable<'_> {
    /// It for GPUs of any make.
    pub fn written(self, pixels: PixelMode) -> WrittenProgram {
        let program = match self {
            Self::Effect(effect) => Program::Effect(effect),
            Self::Past(effect) => Program::Past(effect),
            Self::Lay => Program::Lay,
            Self::TakeIn => Program::TakeIn,
            Self::GiveOut => Program::GiveOut,
        };
        let list = program.bindings(pixels).list();
        let is_float = list.contains(&Binding::Result(wgpu::TextureFormat::Rgba16Float));
        let named = |binding| match binding {
            Binding::Picture => "picture",
            Binding::Settings => "settings",
            Binding::Result(_) => "result",
            Binding::Figures => "figures",
            Binding::Jobs => "jobs",
        };
        WrittenProgram {
            code: program.shader(pixels, Workgroup::SQUARE),
            entry_point: program.entry_point(),
            bindings: list.into_iter().map(named).collect(),
            format: if is_float { "rgba16float" } else { "rgba8unorm" },
            texels: program.texels(Workgroup::SQUARE),
        }
    }
}

/// The bytes that [`Portable::Lay`] reads.
pub fn mix_bytes(mix: Mix) -> Vec<u8> {
    bytemuck::bytes_of(&Mixing::from(mix)).to_vec()
}

impl Renderer {
    /// For each frame of a path: the picture under the chain, then those that are laid together with what comes of it
    /// ([`Path::slots_kept`]). In 8 bits they are as they are held, premultiplied; in floats as they would leave the
    /// program, for [`Portable::TakeIn`].
    ///
    /// # Errors
    /// [`GpuError`] where the frame is too large or the GPU fails.
    pub fn kept_pictures(&mut self, path: &Path) -> Result<Vec<Vec<Picture>>, GpuError> {
        self.gpu.check_frame(path.moment.frame)?;
        let mut past = Past::default();
        let mut frames = Vec::new();
        for frame in path.frames() {
            let moment = &frame.moment;
            let mut recording = Recording::new(moment.pixels);
            let slots = self.record_before(&mut recording, frame, Some(&mut past))?;
            let mut arrays = Vec::new();
            for slot in frame.slots_kept() {
                let held = slots.kept(slot)?;
                arrays.push(match moment.pixels {
                    PixelMode::Encoded8Bit => held,
                    PixelMode::LinearFloat => {
                        let bytes = self.array(moment.frame, 1, BYTES);
                        self.record_given_out(&mut recording, held, &bytes);
                        bytes
                    }
                });
            }
            past.next_frame();
            let underway = self.begin_reading(recording, arrays)?;
            frames.push(self.finish(underway)?.into_iter().map(Returned::picture).collect());
        }
        Ok(frames)
    }
}
