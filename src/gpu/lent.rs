//! Memory that the GPU writes pictures into and the processor reads them from: it serves again and again.

use std::borrow::Cow;
use std::sync::Arc;
use std::sync::mpsc::{self, Receiver, Sender};

use super::Gpu;
use crate::base::frame::Frame;
use crate::base::picture::{Picture, Texels, is_opaque};

/// Buffers that wait for their next use.
#[derive(Debug)]
pub(super) struct Memory {
    waiting: Vec<wgpu::Buffer>,
    back: Receiver<wgpu::Buffer>,
    give_back: Sender<wgpu::Buffer>,
    made: u64,
}

impl Default for Memory {
    fn default() -> Self {
        let (give_back, back) = mpsc::channel();
        Self { waiting: Vec::new(), back, give_back, made: 0 }
    }
}

impl Memory {
    /// A buffer of at least so many bytes.
    pub(super) fn buffer(&mut self, gpu: &Gpu, size: u64) -> wgpu::Buffer {
        self.waiting.extend(self.back.try_iter());
        let fitting = self.waiting.iter().position(|buffer| (size..=size * 2).contains(&buffer.size()));
        if let Some(at) = fitting {
            return self.waiting.swap_remove(at);
        }
        // Those that wait are of other pictures.
        self.waiting.clear();
        self.made += 1;
        gpu.device.create_buffer(&wgpu::BufferDescriptor {
            label: Some("pictures read back"),
            size,
            usage: wgpu::BufferUsages::MAP_READ | wgpu::BufferUsages::COPY_DST,
            mapped_at_creation: false,
        })
    }

    /// How many were made until now.
    pub(super) fn made(&self) -> u64 {
        self.made
    }

    /// What the GPU wrote into a buffer that is mapped.
    pub(super) fn lend(&self, buffer: wgpu::Buffer) -> Result<Arc<Lent>, wgpu::MapRangeError> {
        let bytes = buffer.get_mapped_range(..)?;
        Ok(Arc::new(Lent { bytes: Some(bytes), buffer, give_back: self.give_back.clone() }))
    }
}

/// What the GPU wrote into a buffer; dropped, the buffer serves again.
#[derive(Debug)]
pub(super) struct Lent {
    /// There until it is dropped.
    bytes: Option<wgpu::BufferView>,
    buffer: wgpu::Buffer,
    give_back: Sender<wgpu::Buffer>,
}

impl Drop for Lent {
    fn drop(&mut self) {
        self.bytes = None;
        self.buffer.unmap();
        // Where the renderer is gone, the buffer goes too.
        let _ = self.give_back.send(self.buffer.clone());
    }
}

/// A picture that came back from the GPU, in the memory that it came in: any thread may read it there.
#[derive(Debug)]
pub struct Returned {
    frame: Frame,
    lies: Lies,
}

#[derive(Debug)]
enum Lies {
    /// From a byte on, with so many bytes from one row to the next.
    Lent { memory: Arc<Lent>, at: usize, padded: usize },
    /// Too large to come back in one piece.
    Gathered(Picture),
}

impl Returned {
    pub(super) fn lent(frame: Frame, memory: &Arc<Lent>, at: usize, padded: usize) -> Self {
        Self { frame, lies: Lies::Lent { memory: Arc::clone(memory), at, padded } }
    }

    pub(super) fn gathered(picture: Picture) -> Self {
        Self { frame: picture.frame, lies: Lies::Gathered(picture) }
    }

    /// The picture in memory of its own.
    pub fn picture(self) -> Picture {
        match self.lies {
            Lies::Gathered(picture) => picture,
            Lies::Lent { .. } => {
                let rgba = self.rgba().into_owned();
                Picture { frame: self.frame, opaque: is_opaque(&rgba), rgba }
            }
        }
    }
}

impl Texels for Returned {
    fn frame(&self) -> Frame {
        self.frame
    }

    fn row(&self, y: usize) -> &[u8] {
        match &self.lies {
            Lies::Gathered(picture) => picture.row(y),
            Lies::Lent { memory, at, padded } => &memory.bytes.as_deref().unwrap_or_default()
                [at + y * padded..][..self.frame.width as usize * 4],
        }
    }

    fn rgba(&self) -> Cow<'_, [u8]> {
        let Frame { width, height } = self.frame;
        let row = width as usize * 4;
        match &self.lies {
            Lies::Gathered(picture) => picture.rgba(),
            Lies::Lent { memory, at, padded } => {
                let bytes = &memory.bytes.as_deref().unwrap_or_default()[*at..];
                if *padded == row {
                    return Cow::Borrowed(&bytes[..row * height as usize]);
                }
                let mut rgba = Vec::with_capacity(row * height as usize);
                bytes
                    .chunks(*padded)
                    .take(height as usize)
                    .for_each(|line| rgba.extend_from_slice(&line[..row]));
                Cow::Owned(rgba)
            }
        }
    }
}
