//! Programs as text, and the pictures that every order has in common: what is needed to run a chain elsewhere, as a page
//! in a browser does.

use std::rc::Rc;

use super::GpuError;
use super::jobs::Mixing;
use super::lent::Returned;
use super::past::Past;
use super::pipelines::{BYTES, Binding, Program, held_format};
use super::recording::{Dispatch, Recording};
use super::renderer::Renderer;
use super::texture_array::TextureArray;
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
    /// The two halves of a picture in floats into that picture.
    Joined,
}

/// A picture that every order has in common, as it travels.
#[derive(Debug, Clone, PartialEq)]
pub enum Kept {
    /// In 8 bits as it is held, premultiplied; in floats as it would leave the program, for [`Portable::TakeIn`].
    Whole(Picture),
    /// Of each channel's 16-bit float the higher byte and the lower, for [`Portable::Joined`]: where bytes that leave the
    /// program would not bring it back.
    Halves([Picture; 2]),
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
            Self::Joined => Program::Joined,
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
            code: program.shader(pixels, Workgroup::LEAN),
            entry_point: program.entry_point(),
            bindings: list.into_iter().map(named).collect(),
            format: if is_float { "rgba16float" } else { "rgba8unorm" },
            texels: program.texels(Workgroup::LEAN),
        }
    }
}

/// The bytes that [`Portable::Lay`] reads.
pub fn mix_bytes(mix: Mix) -> Vec<u8> {
    bytemuck::bytes_of(&Mixing::from(mix)).to_vec()
}

impl Renderer {
    /// For each frame of a path: the picture under the chain, then those that are laid together with what comes of it
    /// ([`Path::slots_kept`]), each so that nothing of it is lost.
    ///
    /// # Errors
    /// [`GpuError`] where the frame is too large or the GPU fails.
    pub fn kept_pictures(&mut self, path: &Path) -> Result<Vec<Vec<Kept>>, GpuError> {
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
                match moment.pixels {
                    PixelMode::Encoded8Bit => arrays.push(held),
                    PixelMode::LinearFloat => arrays.extend(self.record_travelling(&mut recording, held)),
                }
            }
            past.next_frame();
            let underway = self.begin_reading(recording, arrays)?;
            let mut pictures = self.finish(underway)?.into_iter().map(Returned::picture);
            let mut kept = Vec::new();
            while let Some(first) = pictures.next() {
                kept.push(match moment.pixels {
                    PixelMode::Encoded8Bit => Kept::Whole(first),
                    PixelMode::LinearFloat => {
                        let [high, low, high_again, low_again] = std::array::from_fn(|_| pictures.next());
                        let (Some(high), Some(low)) = (high, low) else {
                            return Err(GpuError::Defect("half a picture came back"));
                        };
                        let comes_back =
                            high_again.as_ref() == Some(&high) && low_again.as_ref() == Some(&low);
                        if comes_back { Kept::Whole(first) } else { Kept::Halves([high, low]) }
                    }
                });
            }
            frames.push(kept);
        }
        Ok(frames)
    }

    /// A picture in floats as bytes that leave the program, its two halves, and those of what the bytes give when they are
    /// taken in again.
    fn record_travelling(
        &mut self,
        recording: &mut Recording,
        held: Rc<TextureArray>,
    ) -> Vec<Rc<TextureArray>> {
        let (frame, format) = (held.frame, held_format(PixelMode::LinearFloat));
        let bytes = self.array(frame, 1, BYTES);
        self.record_given_out(recording, Rc::clone(&held), &bytes);
        let again = self.array(frame, 1, format);
        self.record(recording, Dispatch::into_array(Program::TakeIn, vec![Rc::clone(&bytes)], &again));
        let mut travelling = vec![bytes];
        for picture in [held, again] {
            for below in [8, 0] {
                let (half, settings) = (self.array(frame, 1, BYTES), [below, 0, 0, 0_u32]);
                let dispatch = Dispatch::into_array(Program::Halved, vec![Rc::clone(&picture)], &half);
                self.record(recording, dispatch.with_settings(&settings));
                travelling.push(half);
            }
        }
        travelling
    }
}
