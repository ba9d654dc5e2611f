//! Animated PNG.

use std::fs::File;
use std::io::BufWriter;
use std::path::Path;

use super::{MovingError, Outline};
use crate::base::picture::Picture;
use crate::files::{Growing, Permit};

/// An animated PNG on its way.
pub struct Apng {
    growing: Growing,
    writer: png::Writer<BufWriter<File>>,
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
        Ok(Self { growing, writer })
    }

    pub(super) fn add(&mut self, picture: &Picture) -> Result<(), MovingError> {
        self.writer.write_image_data(&picture.rgba).map_err(|error| self.broken(&error))
    }

    pub(super) fn finish(self) -> Result<(), MovingError> {
        let Self { growing, writer } = self;
        let path = growing.path().display().to_string();
        writer.finish().map_err(|error| MovingError::Png { path, why: error.to_string() })?;
        Ok(growing.finish()?)
    }

    fn broken(&self, error: &png::EncodingError) -> MovingError {
        MovingError::Png { path: self.growing.path().display().to_string(), why: error.to_string() }
    }
}
