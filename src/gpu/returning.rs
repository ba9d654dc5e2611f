//! A finished picture of the screen on its way back to the processor: nothing is waited for.

use std::sync::mpsc;

use super::screen::OnScreen;
use super::{Gpu, GpuError};
use crate::base::frame::Frame;
use crate::base::picture::Picture;

/// Bytes of a texel.
const TEXEL: u32 = 4;

/// A picture that is being read back.
#[derive(Debug)]
pub struct Returning {
    size: Frame,
    /// Bytes from one row to the next.
    row: u32,
    buffer: wgpu::Buffer,
    told: mpsc::Receiver<Result<(), wgpu::BufferAsyncError>>,
}

impl Returning {
    /// Has a finished picture copied, behind all that the GPU was given before.
    pub fn begin(gpu: &Gpu, shown: &OnScreen) -> Self {
        let wgpu::Extent3d { width, height, .. } = shown.texture.size();
        let row = (width * TEXEL).next_multiple_of(wgpu::COPY_BYTES_PER_ROW_ALIGNMENT);
        let buffer = gpu.device().create_buffer(&wgpu::BufferDescriptor {
            label: Some("picture read back"),
            size: u64::from(row) * u64::from(height),
            usage: wgpu::BufferUsages::COPY_DST | wgpu::BufferUsages::MAP_READ,
            mapped_at_creation: false,
        });
        let mut encoder = gpu.device().create_command_encoder(&wgpu::CommandEncoderDescriptor::default());
        encoder.copy_texture_to_buffer(
            shown.texture.as_image_copy(),
            wgpu::TexelCopyBufferInfo {
                buffer: &buffer,
                layout: wgpu::TexelCopyBufferLayout {
                    offset: 0,
                    bytes_per_row: Some(row),
                    rows_per_image: None,
                },
            },
            shown.texture.size(),
        );
        gpu.queue().submit([encoder.finish()]);
        let (tell, told) = mpsc::channel();
        buffer.map_async(wgpu::MapMode::Read, .., move |done| {
            // Nobody listens any more once the picture is no longer asked for.
            let _ = tell.send(done);
        });
        Self { size: Frame { width, height }, row, buffer, told }
    }

    /// The picture, once it is there.
    ///
    /// # Errors
    /// [`GpuError`] where the GPU gave it up.
    pub fn taken(&self, gpu: &Gpu) -> Option<Result<Picture, GpuError>> {
        // Only tells what is done; a failure shows in what is told.
        let _ = gpu.device().poll(wgpu::PollType::Poll);
        let told = self.told.try_recv().ok()?;
        Some(told.map_err(|error| GpuError::Lost(error.to_string())).and_then(|()| self.picture()))
    }

    fn picture(&self) -> Result<Picture, GpuError> {
        let bytes = self.buffer.get_mapped_range(..).map_err(|error| GpuError::Lost(error.to_string()))?;
        let wide = (self.size.width * TEXEL) as usize;
        let rgba: Vec<u8> =
            bytes.chunks_exact(self.row as usize).flat_map(|row| &row[..wide]).copied().collect();
        let opaque = rgba.chunks_exact(TEXEL as usize).all(|texel| texel[3] == u8::MAX);
        Ok(Picture { frame: self.size, rgba, opaque })
    }
}
