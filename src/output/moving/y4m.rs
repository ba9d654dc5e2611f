//! Y4M in 4:4:4, 8 bits, limited range; the matrix goes by the lines ([`Matrix::of_lines`]).

use std::fs::File;
use std::io::{self, Seek, Write};
use std::path::Path;
use std::sync::Arc;

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
    /// Where frames lie in a file; none where they are written in turn.
    places: Option<Arc<Places>>,
}

/// The places of frames in a file, all of one size: they are written side by side, as one processor alone is kept waiting by
/// the system for the memory of so many bytes.
#[derive(Debug)]
pub(super) struct Places {
    file: File,
    path: String,
    /// Where the first frame begins.
    first: u64,
    matrix: Matrix,
}

/// What stands before the planes of a frame.
const HEAD: &[u8] = b"FRAME\n";

impl Places {
    /// Writes a frame at its place, from 0.
    pub(super) fn put(&self, number: u64, texels: &[[u8; 4]]) -> Result<(), MovingError> {
        let planes = planes(texels, self.matrix);
        let at = self.first + number * (HEAD.len() + planes.len()) as u64;
        let written = write_at(&self.file, HEAD, at)
            .and_then(|()| write_at(&self.file, &planes, at + HEAD.len() as u64));
        written.map_err(|source| MovingError::Refused { path: self.path.clone(), source })
    }
}

#[cfg(unix)]
fn write_at(file: &File, bytes: &[u8], at: u64) -> io::Result<()> {
    std::os::unix::fs::FileExt::write_all_at(file, bytes, at)
}

#[cfg(windows)]
fn write_at(file: &File, mut bytes: &[u8], mut at: u64) -> io::Result<()> {
    while !bytes.is_empty() {
        match std::os::windows::fs::FileExt::seek_write(file, bytes, at)? {
            0 => return Err(io::ErrorKind::WriteZero.into()),
            written => (bytes, at) = (&bytes[written..], at + written as u64),
        }
    }
    Ok(())
}

impl Y4m {
    pub(super) fn begin(path: &Path, outline: &Outline, permit: Permit) -> Result<Self, MovingError> {
        let shown = path.display().to_string();
        let mut growing = None;
        let refused = |source| MovingError::Refused { path: shown.clone(), source };
        let into: Box<dyn Write + Send> = if path == Path::new(STANDARD_OUTPUT) {
            Box::new(io::stdout())
        } else {
            let file = growing.insert(Growing::permitted(path, permit)?).file().try_clone();
            Box::new(file.map_err(refused)?)
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
        let mut places = None;
        if let Some(growing) = &mut growing {
            let mut file = growing.file().try_clone().map_err(refused)?;
            // A pipe takes what comes next.
            if file.metadata().is_ok_and(|data| data.is_file()) {
                let first = file.stream_position().map_err(refused)?;
                places = Some(Arc::new(Places { file, path: shown.clone(), first, matrix }));
            }
        }
        Ok(Self { growing, path: shown, encoder, matrix, frames: 0, places })
    }

    pub(super) fn matrix(&self) -> Matrix {
        self.matrix
    }

    /// Where frames lie, where they need not be written in turn.
    pub(super) fn places(&self) -> Option<&Arc<Places>> {
        self.places.as_ref()
    }

    /// Writes the next frame, where it is not at its place already.
    pub(super) fn put(&mut self, planes: &[u8]) -> Result<(), MovingError> {
        if self.places.is_some() {
            self.frames += 1;
            return Ok(());
        }
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
