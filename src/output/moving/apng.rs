//! Animated PNG.

use std::fs::File;
use std::io::BufWriter;
use std::path::Path;

use png::{FrameControl, chunk};

use super::packed::png_of;
use super::{MovingError, Outline, Still};
use crate::files::{Growing, Permit};

/// An animated PNG on its way.
pub struct Apng {
    growing: Growing,
    writer: png::Writer<BufWriter<File>>,
    /// What the next frame is said to be.
    frame: FrameControl,
    is_first: bool,
}

impl Apng {
    pub(super) fn begin(path: &Path, outline: &Outline, permit: Permit) -> Result<Self, MovingError> {
        let shown = || path.display().to_string();
        let broken = |error: png::EncodingError| MovingError::Png { path: shown(), why: error.to_string() };
        let too_much = |what: String, remedy| MovingError::TooMuch { path: shown(), what, remedy };
        let count = u32::try_from(outline.count)
            .map_err(|_| too_much(format!("{} frames", outline.count), "write numbered pictures"))?;
        // A frame lasts a fraction of two numbers below 65,536 (W3C PNG, third edition, 11.3.6.2).
        let [frames, seconds] = outline.rate.fraction().map(u16::try_from);
        let (Ok(numerator), Ok(denominator)) = (seconds, frames) else {
            let what = format!("a frame rate of {} exactly", outline.rate);
            return Err(too_much(what, "choose a rate such as 30 or 29.97, or another form, such as .y4m"));
        };
        let mut growing = Growing::permitted(path, permit)?;
        let file =
            growing.file().try_clone().map_err(|source| MovingError::Refused { path: shown(), source })?;
        let mut encoder = png::Encoder::new(BufWriter::new(file), outline.frame.width, outline.frame.height);
        encoder.set_color(png::ColorType::Rgba);
        encoder.set_depth(png::BitDepth::Eight);
        // 0 plays: without end.
        encoder.set_animated(count, 0).map_err(broken)?;
        encoder.set_frame_delay(numerator, denominator).map_err(broken)?;
        let writer = encoder.write_header().map_err(broken)?;
        let frame = FrameControl {
            width: outline.frame.width,
            height: outline.frame.height,
            delay_num: numerator,
            delay_den: denominator,
            ..FrameControl::default()
        };
        Ok(Self { growing, writer, frame, is_first: true })
    }

    pub(super) fn put(&mut self, scanlines: &[u8]) -> Result<(), MovingError> {
        let written = self.frame_written(scanlines);
        self.is_first = false;
        written.map_err(|error| self.broken(&error))
    }

    /// A frame's chunks (W3C PNG, third edition, 11.3.6): what it is, and its lines; the first frame's are those of the
    /// picture that is shown where nothing moves.
    fn frame_written(&mut self, scanlines: &[u8]) -> Result<(), png::EncodingError> {
        let frame = &mut self.frame;
        let mut said = Vec::with_capacity(26);
        for number in [frame.sequence_number, frame.width, frame.height, frame.x_offset, frame.y_offset] {
            said.extend(number.to_be_bytes());
        }
        said.extend([frame.delay_num, frame.delay_den].map(u16::to_be_bytes).as_flattened());
        said.extend([frame.dispose_op as u8, frame.blend_op as u8]);
        self.writer.write_chunk(chunk::fcTL, &said)?;
        frame.inc_seq_num(1);
        if self.is_first {
            return self.writer.write_chunk(chunk::IDAT, scanlines);
        }
        let mut numbered = frame.sequence_number.to_be_bytes().to_vec();
        numbered.extend(scanlines);
        frame.inc_seq_num(1);
        self.writer.write_chunk(chunk::fdAT, &numbered)
    }

    pub(super) fn finish(self) -> Result<(), MovingError> {
        let Self { growing, writer, .. } = self;
        let path = growing.path().display().to_string();
        writer.finish().map_err(|error| MovingError::Png { path, why: error.to_string() })?;
        Ok(growing.finish()?)
    }

    fn broken(&self, error: &png::EncodingError) -> MovingError {
        MovingError::Png { path: self.growing.path().display().to_string(), why: error.to_string() }
    }
}

/// The compressed lines of a picture: what a PNG of its own holds of them.
pub(super) fn scanlines(picture: Still<'_>) -> Result<Vec<u8>, png::EncodingError> {
    let whole = png_of(picture)?;
    let mut lines = Vec::with_capacity(whole.len());
    // Behind the signature: length, name, content and checksum of each chunk (W3C PNG, third edition, 5.3).
    let mut rest = &whole[8..];
    while let Some((length, behind)) = rest.split_first_chunk::<4>() {
        let (name, behind) = behind.split_at(4);
        let (content, behind) = behind.split_at(u32::from_be_bytes(*length) as usize);
        if name == chunk::IDAT.0 {
            lines.extend_from_slice(content);
        }
        rest = &behind[4..];
    }
    Ok(lines)
}
