//! One piece of footage, opened: when its frames show, and how they are reached.

use std::fs::{self, File};
use std::io::{BufRead, BufReader, Read};
#[cfg(unix)]
use std::os::unix::fs::MetadataExt;
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Mutex, PoisonError};

use image::{Frames, RgbaImage};

use super::error::FootageError;
use super::picture_file::{PictureFile, damaged};
use super::sequence::{SEQUENCE_RATE, Sequence};
use super::source::FrameSource;
use super::timing::Timing;
use super::video::Video;
use super::y4m;
use super::y4m::Stream;
use crate::base::ffmpeg::Leash;
use crate::show::clip::STANDARD_INPUT;

/// Footage, known by its content.
pub(super) enum Reel {
    Still,
    Animation,
    Sequence(Sequence),
    /// A file in which every frame's place is known.
    Y4m(Stream<BufReader<File>>, Vec<u64>),
    /// A pipe; it is given away to whoever reads it first.
    Pipe(Option<Stream<Box<dyn BufRead>>>),
    Video(Video),
}

impl Reel {
    /// Opens footage and finds out when its frames show; other programs at work for it hang on `leash`.
    pub fn open(path: &Path, leash: &Leash) -> Result<(Self, Timing), FootageError> {
        if is_pipe(path) {
            let stream = Stream::open(path, pipe(path)?)?;
            let timing = Timing::Steady { rate: stream.rate(), count: None, winds_back: false };
            return Ok((Self::Pipe(Some(stream)), timing));
        }
        if Sequence::is_named_by(path) {
            let sequence = Sequence::read(path)?;
            let timing = Timing::steady(SEQUENCE_RATE, sequence.count());
            return Ok((Self::Sequence(sequence), timing));
        }
        if y4m::is_named_by(path) {
            let mut stream = Stream::open(path, y4m::file(path)?)?;
            let places = stream.places()?;
            let timing = Timing::steady(stream.rate(), places.len() as u64);
            return Ok((Self::Y4m(stream, places), timing));
        }
        if Video::is_named_by(path) {
            let (video, timing) = Video::open(path, leash)?;
            return Ok((Self::Video(video), timing));
        }
        let file = PictureFile::open(path)?;
        if !file.is_animated() {
            return Ok((Self::Still, Timing::Still));
        }
        let timing = Timing::of_animation(path, file)?;
        Ok((if timing.is_still() { Self::Still } else { Self::Animation }, timing))
    }

    /// Checks that footage can be opened, by its name and its header; a pipe is not touched.
    pub fn check(path: &Path) -> Result<(), FootageError> {
        if is_pipe(path) {
            Ok(())
        } else if Sequence::is_named_by(path) {
            PictureFile::open(&Sequence::read(path)?.file(0)).map(drop)
        } else if y4m::is_named_by(path) {
            Stream::open(path, y4m::file(path)?).map(drop)
        } else if Video::is_named_by(path) {
            Video::check(path)
        } else {
            PictureFile::open(path).map(drop)
        }
    }

    /// Whether another program opens it.
    pub fn takes_long_to_open(path: &Path) -> bool {
        !is_pipe(path) && !Sequence::is_named_by(path) && !y4m::is_named_by(path) && Video::is_named_by(path)
    }

    /// Whether frames of footage that moves may be transparent: a film by its kind of samples, a sequence by the
    /// headers of its pictures, an animation by its frames; of a still, the picture tells.
    pub fn may_be_transparent(path: &Path) -> Result<bool, FootageError> {
        if is_pipe(path) || y4m::is_named_by(path) {
            return Ok(false);
        }
        if Sequence::is_named_by(path) {
            let sequence = Sequence::read(path)?;
            for frame in 0..sequence.count() {
                if PictureFile::open(&sequence.file(frame))?.carries_alpha() {
                    return Ok(true);
                }
            }
            return Ok(false);
        }
        if Video::is_named_by(path) {
            return Video::carries_alpha(path);
        }
        let file = PictureFile::open(path)?;
        if !file.is_animated() {
            return Ok(false);
        }
        for frame in file.frames()? {
            let frame = frame.map_err(|e| damaged(path, e))?;
            if frame.buffer().pixels().any(|texel| texel.0[3] < u8::MAX) {
                return Ok(true);
            }
        }
        Ok(false)
    }

    /// Frames from `number` or from before it, with the number of the first that comes.
    pub fn frames_from(
        &mut self,
        path: &Path,
        number: u64,
    ) -> Result<(u64, Box<dyn FrameSource>), FootageError> {
        let path = path.to_owned();
        Ok(match self {
            Self::Still => (0, Box::new(One(Some(PictureFile::open(&path)?.still()?)))),
            Self::Animation => {
                let frames = PictureFile::open(&path)?.frames()?;
                (0, Box::new(Animation { path, frames }))
            }
            Self::Sequence(sequence) => (number, Box::new(Numbered { sequence: sequence.clone(), number })),
            Self::Y4m(stream, places) => {
                let place = places.get(number as usize).copied();
                (number, Box::new(stream.at(y4m::file(&path)?, place)?))
            }
            Self::Pipe(stream) => match stream.take() {
                Some(stream) => (0, Box::new(stream)),
                None => return Err(FootageError::NotWoundBack { path }),
            },
            Self::Video(video) => video.frames_from(number)?,
        })
    }

    /// Whether it cannot be opened again.
    pub fn is_used_up(&self) -> bool {
        matches!(self, Self::Pipe(None))
    }

    /// How many frames ahead it pays to open the footage anew rather than to run there.
    pub fn far(&self) -> u64 {
        match self {
            Self::Sequence(_) | Self::Y4m(..) => 0,
            Self::Video(video) => video.far(),
            Self::Still | Self::Animation | Self::Pipe(_) => u64::MAX,
        }
    }
}

/// Whether the path is standard input or a named pipe, which is read as it comes.
pub(super) fn is_pipe(path: &Path) -> bool {
    #[cfg(unix)]
    let is_fifo =
        fs::metadata(path).is_ok_and(|found| std::os::unix::fs::FileTypeExt::is_fifo(&found.file_type()));
    #[cfg(not(unix))]
    let is_fifo = false;
    is_fifo || path == Path::new(STANDARD_INPUT)
}

/// Opens a pipe, unless another reader has it: two would each get a part of it.
fn pipe(path: &Path) -> Result<Box<dyn BufRead>, FootageError> {
    if path == Path::new(STANDARD_INPUT) {
        /// What has been read of it cannot be read again.
        static IS_TAKEN: AtomicBool = AtomicBool::new(false);
        if IS_TAKEN.swap(true, Ordering::Relaxed) {
            return Err(FootageError::NotWoundBack { path: path.to_owned() });
        }
        return Ok(Box::new(BufReader::new(std::io::stdin())));
    }
    let Some(taken) = PipeClaim::of(path) else {
        return Err(FootageError::NotWoundBack { path: path.to_owned() });
    };
    let file = File::open(path).map_err(|e| FootageError::of_opening(path, e))?;
    Ok(Box::new(BufReader::new(Piped { file, _taken: taken })))
}

/// A named pipe that is being read.
struct Piped {
    file: File,
    _taken: PipeClaim,
}

impl Read for Piped {
    fn read(&mut self, bytes: &mut [u8]) -> std::io::Result<usize> {
        self.file.read(bytes)
    }
}

/// Which named pipe is taken, by device and number, whatever its path; dropped, it is free again.
struct PipeClaim(u64, u64);

/// The pipes that are being read now.
static TAKEN: Mutex<Vec<(u64, u64)>> = Mutex::new(Vec::new());

impl PipeClaim {
    fn of(path: &Path) -> Option<Self> {
        #[cfg(unix)]
        let (device, number) =
            fs::metadata(path).map_or((0, 0), |found| (MetadataExt::dev(&found), MetadataExt::ino(&found)));
        // Elsewhere no path is known as a pipe.
        #[cfg(not(unix))]
        let (device, number) = (0, 0);
        let mut taken = TAKEN.lock().unwrap_or_else(PoisonError::into_inner);
        if taken.contains(&(device, number)) {
            return None;
        }
        taken.push((device, number));
        Some(Self(device, number))
    }
}

impl Drop for PipeClaim {
    fn drop(&mut self) {
        let own = (self.0, self.1);
        TAKEN.lock().unwrap_or_else(PoisonError::into_inner).retain(|taken| *taken != own);
    }
}

struct One(Option<RgbaImage>);

impl FrameSource for One {
    fn next(&mut self) -> Result<Option<RgbaImage>, FootageError> {
        Ok(self.0.take())
    }
}

struct Animation {
    path: PathBuf,
    frames: Frames<'static>,
}

impl FrameSource for Animation {
    fn next(&mut self) -> Result<Option<RgbaImage>, FootageError> {
        let frame = self.frames.next().transpose().map_err(|e| damaged(&self.path, e))?;
        Ok(frame.map(image::Frame::into_buffer))
    }
}

struct Numbered {
    sequence: Sequence,
    number: u64,
}

impl FrameSource for Numbered {
    fn next(&mut self) -> Result<Option<RgbaImage>, FootageError> {
        if self.number >= self.sequence.count() {
            return Ok(None);
        }
        let file = self.sequence.file(self.number);
        self.number += 1;
        PictureFile::open(&file)?.still().map(Some)
    }
}
