//! Pictures and figures on their way to the GPU and back.

use std::fmt;
use std::rc::Rc;
use std::sync::mpsc;

use super::GpuError;
use super::difference::Gallery;
use super::lent::Returned;
use super::pipelines::BYTES;
use super::recording::Recording;
use super::renderer::Renderer;
use super::texture_array::TextureArray;
use crate::base::doing::doing_untold;
use crate::base::frame::{Frame, PixelMode};
use crate::base::picture::{Picture, is_opaque};

/// How a buffer tells that the processor may read it.
type Told = mpsc::Receiver<Result<(), wgpu::BufferAsyncError>>;

/// Pictures that are being rendered, or are on their way back from the GPU.
#[derive(Debug)]
pub struct Underway {
    arrays: Vec<Rc<TextureArray>>,
    /// None where they are too large to be read together.
    reading: Option<Reading>,
}

#[derive(Debug)]
struct Reading {
    buffer: wgpu::Buffer,
    bands: Vec<Band>,
    sent: wgpu::SubmissionIndex,
    told: Told,
}

/// Figures on their way back from the GPU: the first words of several buffers.
#[derive(Debug)]
pub(super) struct WordsUnderway {
    buffer: wgpu::Buffer,
    counts: Vec<usize>,
    sent: wgpu::SubmissionIndex,
    told: Told,
}

/// Rows of a picture on their way back from the GPU.
#[derive(Debug)]
struct Band {
    /// Which of the pictures.
    nth: usize,
    top: u32,
    rows: u32,
    /// Bytes from one row to the next.
    padded: usize,
    /// Where it begins among the bytes read together.
    at: usize,
}

impl Underway {
    /// Readings that are worth having under way beside the one that is waited for: while one is on its way, the next is
    /// rendered, and what comes after that is recorded.
    pub const AHEAD: usize = 2;
}

/// Bytes that one transfer between processor and GPU takes at most.
const BAND_BYTES: usize = 64 << 20;

impl Renderer {
    pub(super) fn taken_in(&mut self, picture: &Picture) -> Result<Rc<TextureArray>, GpuError> {
        let array = self.array(picture.frame, 1, BYTES);
        self.take_into(&array, 0, picture);
        self.gpu.check()?;
        Ok(array)
    }

    /// Writes a picture's bytes into a layer, before anything that is sent after.
    fn take_into(&self, array: &TextureArray, layer: u32, picture: &Picture) {
        let row = picture.frame.width as usize * 4;
        let band_rows = (BAND_BYTES / row).max(1);
        for (nth, band) in picture.rgba.chunks(band_rows * row).enumerate() {
            self.gpu.queue.write_texture(
                wgpu::TexelCopyTextureInfo {
                    texture: &array.texture,
                    mip_level: 0,
                    origin: wgpu::Origin3d { x: 0, y: (nth * band_rows) as u32, z: layer },
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
    }

    /// A gallery of pictures that were read back from one before.
    pub(super) fn hung_again(&mut self, frame: Frame, pictures: &[Picture]) -> Result<Gallery, GpuError> {
        let gallery = self.empty_gallery(frame, pictures.len());
        for (picture, &(array, layer)) in pictures.iter().zip(&gallery.places) {
            self.take_into(&gallery.arrays[array], layer, picture);
        }
        self.gpu.check()?;
        Ok(gallery)
    }

    /// A picture's bytes on the GPU, held until the recording is sent.
    pub(super) fn uploaded(
        &mut self,
        recording: &mut Recording,
        picture: &Picture,
    ) -> Result<Rc<TextureArray>, GpuError> {
        let bytes = self.taken_in(picture)?;
        recording.hold_upload(&bytes);
        Ok(bytes)
    }

    /// Sends a recording, and begins to read back what it leaves in arrays of bytes, one picture in each.
    pub(super) fn begin_reading(
        &mut self,
        mut recording: Recording,
        arrays: Vec<Rc<TextureArray>>,
    ) -> Result<Underway, GpuError> {
        let layers: Vec<(&TextureArray, u32)> = arrays.iter().map(|array| (&**array, 0)).collect();
        let mut turns = turns_of(&layers);
        let Some((bands, bytes)) = turns.pop().filter(|_| turns.is_empty()) else {
            self.send(&mut recording)?;
            return Ok(Underway { arrays, reading: None });
        };
        let buffer = self.memory.buffer(&self.gpu, bytes as u64);
        let sent = self.send_then(&mut recording, |encoder| copy_bands(encoder, &layers, &bands, &buffer))?;
        let told = self.map(&buffer);
        Ok(Underway { arrays, reading: Some(Reading { buffer, bands, sent, told }) })
    }

    /// Waits for pictures that are being read back; what was sent behind them goes on. The memory of those that are
    /// dropped serves for others.
    ///
    /// # Errors
    /// [`GpuError`] where the GPU fails.
    pub fn finish(&mut self, underway: Underway) -> Result<Vec<Returned>, GpuError> {
        let Underway { arrays, reading } = underway;
        let layers: Vec<(&TextureArray, u32)> = arrays.iter().map(|array| (&**array, 0)).collect();
        let Some(Reading { buffer, bands, sent, told }) = reading else {
            return Ok(self.read_back_all(&layers)?.into_iter().map(Returned::gathered).collect());
        };
        self.wait_for(sent)?;
        is_mapped(&told)?;
        let memory = self.memory.lend(buffer).map_err(|error| unread_because(&error))?;
        self.gpu.check()?;
        // What is read together is read whole: each picture is one band.
        let returned = |band: &Band| Returned::lent(layers[band.nth].0.frame, &memory, band.at, band.padded);
        Ok(bands.iter().map(returned).collect())
    }

    /// How many buffers pictures came back in until now.
    pub fn readback_buffers(&self) -> u64 {
        self.memory.made()
    }

    fn readback(&self, size: u64) -> wgpu::Buffer {
        self.gpu.device.create_buffer(&wgpu::BufferDescriptor {
            label: Some("readback"),
            size,
            usage: wgpu::BufferUsages::MAP_READ | wgpu::BufferUsages::COPY_DST,
            mapped_at_creation: false,
        })
    }

    /// The first `count` layers of an array of bytes.
    pub(super) fn read_back(&mut self, array: &TextureArray, count: u32) -> Result<Vec<Picture>, GpuError> {
        let layers: Vec<(&TextureArray, u32)> = (0..count).map(|layer| (array, layer)).collect();
        self.read_back_all(&layers)
    }

    /// Reads layers of arrays of bytes: small ones together, large ones in bands of rows.
    pub(super) fn read_back_all(
        &mut self,
        layers: &[(&TextureArray, u32)],
    ) -> Result<Vec<Picture>, GpuError> {
        let mut pictures = unread(layers);
        for (bands, bytes) in turns_of(layers) {
            let buffer = self.readback(bytes as u64);
            let mut encoder =
                self.gpu.device.create_command_encoder(&wgpu::CommandEncoderDescriptor::default());
            copy_bands(&mut encoder, layers, &bands, &buffer);
            self.gpu.queue.submit([encoder.finish()]);
            self.mapped(&buffer, |bytes| take_bands(bytes, layers, &bands, &mut pictures))?;
        }
        pictures.iter_mut().for_each(|picture| picture.opaque = is_opaque(&picture.rgba));
        Ok(pictures)
    }

    pub(super) fn read_buffer(&self, from: &wgpu::Buffer, size: u64) -> Result<Vec<u8>, GpuError> {
        let buffer = self.readback(size);
        let mut encoder = self.gpu.device.create_command_encoder(&wgpu::CommandEncoderDescriptor::default());
        encoder.copy_buffer_to_buffer(from, 0, &buffer, 0, size);
        self.gpu.queue.submit([encoder.finish()]);
        let mut all = Vec::new();
        self.mapped(&buffer, |bytes| all.extend_from_slice(bytes))?;
        Ok(all)
    }

    pub(super) fn read_words(&self, from: &wgpu::Buffer, count: usize) -> Result<Vec<u32>, GpuError> {
        let bytes = self.read_buffer(from, count as u64 * 4)?;
        Ok(bytes.chunks_exact(4).map(|w| u32::from_le_bytes([w[0], w[1], w[2], w[3]])).collect())
    }

    /// The first words of several buffers, for one wait.
    pub(super) fn read_words_of(
        &mut self,
        from: &[(&wgpu::Buffer, usize)],
    ) -> Result<Vec<Vec<u32>>, GpuError> {
        self.read_words_made(&mut Recording::new(PixelMode::Encoded8Bit), from)
    }

    /// The same, of what a recording leaves there: it is sent together with the copies.
    pub(super) fn read_words_made(
        &mut self,
        recording: &mut Recording,
        from: &[(&wgpu::Buffer, usize)],
    ) -> Result<Vec<Vec<u32>>, GpuError> {
        let underway = self.begin_words(recording, from)?;
        self.finish_words(underway)
    }

    /// Sends a recording, and begins to read back what it leaves in buffers.
    pub(super) fn begin_words(
        &mut self,
        recording: &mut Recording,
        from: &[(&wgpu::Buffer, usize)],
    ) -> Result<WordsUnderway, GpuError> {
        let words = from.iter().map(|&(_, count)| count as u64).sum::<u64>();
        let buffer = self.readback(words * 4);
        let copied = |encoder: &mut wgpu::CommandEncoder| {
            let mut at = 0;
            for &(from, count) in from {
                let size = count as u64 * 4;
                encoder.copy_buffer_to_buffer(from, 0, &buffer, at, size);
                at += size;
            }
        };
        let sent = self.send_then(recording, copied)?;
        let told = self.map(&buffer);
        Ok(WordsUnderway { buffer, counts: from.iter().map(|&(_, count)| count).collect(), sent, told })
    }

    /// Waits for figures that are being read back; what was sent behind them goes on.
    pub(super) fn finish_words(&mut self, underway: WordsUnderway) -> Result<Vec<Vec<u32>>, GpuError> {
        let WordsUnderway { buffer, counts, sent, told } = underway;
        self.wait_for(sent)?;
        let mut all = Vec::with_capacity(counts.len());
        self.take_mapped(&buffer, &told, |bytes| {
            let mut words = bytes.chunks_exact(4).map(|w| u32::from_le_bytes([w[0], w[1], w[2], w[3]]));
            all.extend(counts.iter().map(|&count| words.by_ref().take(count).collect::<Vec<u32>>()));
        })?;
        Ok(all)
    }

    /// Waits until what was sent is done.
    fn wait_for(&self, sent: wgpu::SubmissionIndex) -> Result<(), GpuError> {
        if self.gives_way() {
            return self.wait();
        }
        let _waiting = doing_untold("waiting for the GPU");
        let until = wgpu::PollType::Wait { submission_index: Some(sent), timeout: None };
        let waited = self.gpu.device.poll(until);
        self.gpu.check()?;
        waited.map(|_| ()).map_err(|error| GpuError::Lost(error.to_string()))
    }

    pub(super) fn mapped(&self, buffer: &wgpu::Buffer, take: impl FnOnce(&[u8])) -> Result<(), GpuError> {
        let told = self.map(buffer);
        self.wait()?;
        self.take_mapped(buffer, &told, take)
    }

    fn map(&self, buffer: &wgpu::Buffer) -> Told {
        self.gpu.note_readback();
        let (tell, told) = mpsc::channel();
        buffer.map_async(wgpu::MapMode::Read, .., move |result| {
            // Where nobody waits for it any more, there is nobody to tell.
            let _ = tell.send(result);
        });
        told
    }

    fn take_mapped(
        &self,
        buffer: &wgpu::Buffer,
        told: &Told,
        take: impl FnOnce(&[u8]),
    ) -> Result<(), GpuError> {
        is_mapped(told)?;
        let _reading = doing_untold("reading back from the GPU");
        let view = buffer.get_mapped_range(..).map_err(|error| unread_because(&error))?;
        take(&view);
        drop(view);
        buffer.unmap();
        self.gpu.check()
    }
}

/// Pictures without their bytes.
fn unread(layers: &[(&TextureArray, u32)]) -> Vec<Picture> {
    let picture = |(array, _): &(&TextureArray, u32)| Picture {
        frame: array.frame,
        rgba: Vec::with_capacity(array.frame.texels() as usize * 4),
        opaque: false,
    };
    layers.iter().map(picture).collect()
}

fn unread_because(error: &dyn fmt::Display) -> GpuError {
    GpuError::Lost(format!("reading back failed: {error}"))
}

fn is_mapped(told: &Told) -> Result<(), GpuError> {
    told.recv().map_err(|error| unread_because(&error))?.map_err(|error| unread_because(&error))
}

/// What is read together, and its bytes: small pictures, or bands of large ones.
fn turns_of(layers: &[(&TextureArray, u32)]) -> Vec<(Vec<Band>, usize)> {
    let mut turns: Vec<(Vec<Band>, usize)> = Vec::new();
    for (nth, (array, _)) in layers.iter().enumerate() {
        let Frame { width, height } = array.frame;
        let padded = (width as usize * 4).next_multiple_of(wgpu::COPY_BYTES_PER_ROW_ALIGNMENT as usize);
        let most = (BAND_BYTES / padded).clamp(1, height as usize);
        for top in (0..height).step_by(most) {
            let rows = (height - top).min(most as u32);
            let size = padded * rows as usize;
            match turns.last_mut().filter(|(_, bytes)| *bytes + size <= BAND_BYTES) {
                Some((bands, bytes)) => {
                    bands.push(Band { nth, top, rows, padded, at: *bytes });
                    *bytes += size;
                }
                None => turns.push((vec![Band { nth, top, rows, padded, at: 0 }], size)),
            }
        }
    }
    turns
}

fn copy_bands(
    encoder: &mut wgpu::CommandEncoder,
    layers: &[(&TextureArray, u32)],
    bands: &[Band],
    buffer: &wgpu::Buffer,
) {
    for band in bands {
        let (array, layer) = layers[band.nth];
        encoder.copy_texture_to_buffer(
            wgpu::TexelCopyTextureInfo {
                texture: &array.texture,
                mip_level: 0,
                origin: wgpu::Origin3d { x: 0, y: band.top, z: layer },
                aspect: wgpu::TextureAspect::All,
            },
            wgpu::TexelCopyBufferInfo {
                buffer,
                layout: wgpu::TexelCopyBufferLayout {
                    offset: band.at as u64,
                    bytes_per_row: Some(band.padded as u32),
                    rows_per_image: None,
                },
            },
            wgpu::Extent3d { width: array.frame.width, height: band.rows, depth_or_array_layers: 1 },
        );
    }
}

fn take_bands(bytes: &[u8], layers: &[(&TextureArray, u32)], bands: &[Band], pictures: &mut [Picture]) {
    for band in bands {
        let row = layers[band.nth].0.frame.width as usize * 4;
        for line in bytes[band.at..].chunks_exact(band.padded).take(band.rows as usize) {
            pictures[band.nth].rgba.extend_from_slice(&line[..row]);
        }
    }
}
