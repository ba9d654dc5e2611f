//! One piece of footage, opened: when its frames show, and how they are reached.

use std::fs::{self, File};
use std::io::{BufRead, BufReader};
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicBool, Ordering};

use image::{Frames, RgbaImage};

use super::STANDARD_INPUT;
use super::error::FootageError;
use super::picture_file::{PictureFile, damaged};
use super::sequence::{SEQUENCE_RATE, Sequence};
use super::timing::Timing;
use super::video::Video;
use super::y4m::{self, Stream};

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

/// Frames one after the other.
pub(super) trait Source {
    /// The next frame, or nothing after the last.
    fn next(&mut self) -> Result<Option<RgbaImage>, FootageError>;
}

impl Reel {
    /// Opens footage and finds out when its frames show.
    pub fn open(path: &Path) -> Result<(Self, Timing), FootageError> {
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
            let (video, timing) = Video::open(path)?;
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
            Video::open(path).map(drop)
        } else {
            PictureFile::open(path).map(drop)
        }
    }

    /// Frames from `number` or from before it, with the number of the first that comes.
    pub fn frames_from(&mut self, path: &Path, number: u64) -> Result<(u64, Box<dyn Source>), FootageError> {
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

fn pipe(path: &Path) -> Result<Box<dyn BufRead>, FootageError> {
    /// What has been read of it cannot be read again.
    static STANDARD_INPUT_TAKEN: AtomicBool = AtomicBool::new(false);
    if path == Path::new(STANDARD_INPUT) {
        if STANDARD_INPUT_TAKEN.swap(true, Ordering::Relaxed) {
            return Err(FootageError::NotWoundBack { path: path.to_owned() });
        }
        return Ok(Box::new(BufReader::new(std::io::stdin())));
    }
    let file = File::open(path).map_err(|e| FootageError::of_opening(path, e))?;
    Ok(Box::new(BufReader::new(file)))
}

struct One(Option<RgbaImage>);

impl Source for One {
    fn next(&mut self) -> Result<Option<RgbaImage>, FootageError> {
        Ok(self.0.take())
    }
}

struct Animation {
    path: PathBuf,
    frames: Frames<'static>,
}

impl Source for Animation {
    fn next(&mut self) -> Result<Option<RgbaImage>, FootageError> {
        let frame = self.frames.next().transpose().map_err(|e| damaged(&self.path, e))?;
        Ok(frame.map(image::Frame::into_buffer))
    }
}

struct Numbered {
    sequence: Sequence,
    number: u64,
}

impl Source for Numbered {
    fn next(&mut self) -> Result<Option<RgbaImage>, FootageError> {
        if self.number >= self.sequence.count() {
            return Ok(None);
        }
        let file = self.sequence.file(self.number);
        self.number += 1;
        PictureFile::open(&file)?.still().map(Some)
    }
}
