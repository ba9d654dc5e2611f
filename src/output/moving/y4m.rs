//! Y4M in 4:4:4, 8 bits, limited range; the matrix goes by the lines ([`Matrix::of_lines`]).

use std::io::{self, Write};
use std::path::Path;

use y4m::{Colorspace, Encoder, EncoderBuilder, Error, Frame, Ratio, VendorExtensionString};

use super::{MovingError, Outline, STANDARD_OUTPUT};
use crate::base::ycbcr::{Matrix, Range, planes_of};
use crate::files::{Growing, Permit};

/// A film in Y4M on its way.
pub struct Y4m {
    /// None on standard output.
    growing: Option<Growing>,
    path: String,
    /// Frames are large: what it writes to has no buffer of its own, save standard output.
    encoder: Encoder<Box<dyn Write + Send>>,
    matrix: Matrix,
    frames: u64,
}

impl Y4m {
    pub(super) fn begin(path: &Path, outline: &Outline, permit: Permit) -> Result<Self, MovingError> {
        let shown = path.display().to_string();
        let mut growing = None;
        let into: Box<dyn Write + Send> = if path == Path::new(STANDARD_OUTPUT) {
            Box::new(io::stdout())
        } else {
            let file = growing.insert(Growing::permitted(path, permit)?).file().try_clone();
            Box::new(file.map_err(|source| MovingError::Refused { path: shown.clone(), source })?)
        };
        let [frames, seconds] = outline.rate.fraction().map(|number| number as usize);
        let [width, height] = [outline.frame.width, outline.frame.height].map(|side| side as usize);
        let builder =
            EncoderBuilder::new(width, height, Ratio::new(frames, seconds)).with_colorspace(Colorspace::C444);
        let encoder = VendorExtensionString::new(b"COLORRANGE=LIMITED".to_vec())
            .map(|range| builder.append_vendor_extension(range))
            .and_then(|builder| builder.write_header(into))
            .map_err(|error| broken(&shown, 0, error))?;
        let matrix = Matrix::of_lines(outline.frame.height);
        Ok(Self { growing, path: shown, encoder, matrix, frames: 0 })
    }

    pub(super) fn matrix(&self) -> Matrix {
        self.matrix
    }

    pub(super) fn put(&mut self, planes: &[u8]) -> Result<(), MovingError> {
        let (y, differences) = planes.split_at(planes.len() / 3);
        let (cb, cr) = differences.split_at(y.len());
        self.encoder
            .write_frame(&Frame::new([y, cb, cr], None))
            .map_err(|error| broken(&self.path, self.frames, error))?;
        self.frames += 1;
        Ok(())
    }

    pub(super) fn finish(self) -> Result<(), MovingError> {
        match self.growing {
            Some(growing) => Ok(growing.finish()?),
            None => io::stdout().flush().map_err(|error| broken(&self.path, self.frames, error.into())),
        }
    }
}

/// Opaque texels as luma and colour differences, one plane after another.
pub(super) fn planes(texels: &[[u8; 4]], matrix: Matrix) -> Vec<u8> {
    let mut planes = vec![0; texels.len() * 3];
    let (y, differences) = planes.split_at_mut(texels.len());
    let (cb, cr) = differences.split_at_mut(texels.len());
    planes_of(texels, matrix, Range::Limited, [y, cb, cr]);
    planes
}

fn broken(path: &str, frames: u64, error: Error) -> MovingError {
    let source = match error {
        Error::IoError(error) => error,
        other => io::Error::other(other),
    };
    if source.kind() == io::ErrorKind::BrokenPipe && path == STANDARD_OUTPUT {
        return MovingError::ReaderGone { frames };
    }
    MovingError::Refused { path: path.to_owned(), source }
}
