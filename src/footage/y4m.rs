//! Y4M: uncompressed films (YUV4MPEG2), from files and from pipes.
//!
//! Read are 8 bits a sample, in 4:2:0, 4:2:2, 4:4:4 and grey. Unless the header says
//! `XCOLORRANGE=FULL`, the range is the limited one; the matrix goes by the lines
//! ([`Matrix::of_lines`]), as the header has no word for it. Colour differences are
//! interpolated between their places.

use std::fs::File;
use std::io::{self, BufRead, BufReader, Read, Seek, SeekFrom};
use std::path::{Path, PathBuf};

use image::RgbaImage;
use y4m::{Colorspace, Decoder};

use super::error::FootageError;
use super::picture_file::check_size;
use super::source::FrameSource;
use crate::base::ycbcr::{Matrix, Range, rgb};

/// What a file opens with.
const SIGNATURE: &[u8] = b"YUV4MPEG2 ";
/// What a frame opens with.
const FRAME: &[u8] = b"FRAME";
/// Longest line of a header; a usual one takes 60 bytes.
const LONGEST_LINE: u64 = 1024;

/// Whether the file's content is Y4M.
pub(super) fn is_named_by(path: &Path) -> bool {
    let mut start = [0; SIGNATURE.len()];
    path.is_file()
        && File::open(path).is_ok_and(|mut file| file.read_exact(&mut start).is_ok() && start == SIGNATURE)
}

/// Opens a file.
pub(super) fn file(path: &Path) -> Result<BufReader<File>, FootageError> {
    File::open(path).map(BufReader::new).map_err(|e| FootageError::of_opening(path, e))
}

/// How colour differences lie among the texels.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct Sampling {
    /// Texels across and down for one colour difference: 1 or 2; none in grey pictures.
    step: Option<[u32; 2]>,
    /// Whether a colour difference lies on the first texel of its step, not in the middle: across and down.
    on_first: [bool; 2],
}

impl Sampling {
    fn of(space: Colorspace) -> Option<Self> {
        let (step, on_first) = match space {
            Colorspace::Cmono => (None, [false; 2]),
            Colorspace::C420 | Colorspace::C420jpeg => (Some([2, 2]), [false, false]),
            Colorspace::C420mpeg2 => (Some([2, 2]), [true, false]),
            Colorspace::C420paldv => (Some([2, 2]), [true, true]),
            Colorspace::C422 => (Some([2, 1]), [true, false]),
            Colorspace::C444 => (Some([1, 1]), [false; 2]),
            _ => return None,
        };
        Some(Self { step, on_first })
    }

    /// Width and height of a plane of colour differences.
    fn plane(self, [width, height]: [u32; 2]) -> [usize; 2] {
        self.step.map_or([0; 2], |[across, down]| {
            [width.div_ceil(across) as usize, height.div_ceil(down) as usize]
        })
    }
}

/// The film's header.
#[derive(Debug, Clone)]
struct Header {
    path: PathBuf,
    size: [u32; 2],
    rate: f64,
    sampling: Sampling,
    range: Range,
}

impl Header {
    fn frame_bytes(&self) -> usize {
        let [width, height] = self.sampling.plane(self.size);
        self.luma_bytes() + 2 * width * height
    }

    fn luma_bytes(&self) -> usize {
        self.size[0] as usize * self.size[1] as usize
    }

    fn damaged(&self, why: impl Into<String>) -> FootageError {
        FootageError::Damaged { path: self.path.clone(), why: why.into() }
    }

    fn broken(&self, source: io::Error, number: u64) -> FootageError {
        match source.kind() {
            io::ErrorKind::UnexpectedEof => self.damaged(format!("frame {} ends too early", number + 1)),
            _ => FootageError::unreadable(&self.path, source),
        }
    }
}

/// A film, frame by frame.
pub(super) struct Stream<R> {
    header: Header,
    reader: R,
    /// The frame that comes next, from 0.
    next: u64,
}

impl<R: BufRead> Stream<R> {
    /// Reads the header.
    pub fn open(path: &Path, mut reader: R) -> Result<Self, FootageError> {
        let damaged = |why: &str| FootageError::Damaged { path: path.to_owned(), why: why.to_owned() };
        let line = line(&mut reader).map_err(|source| FootageError::unreadable(path, source))?;
        if line.is_empty() {
            return Err(FootageError::EmptyPipe { path: path.to_owned() });
        }
        if !line.starts_with(SIGNATURE) {
            return Err(FootageError::NotY4m { path: path.to_owned() });
        }
        if !line.ends_with(b"\n") {
            return Err(damaged("its header breaks off"));
        }
        let words = || line[..line.len() - 1].split(|&b| b == b' ').filter(|word| !word.is_empty());
        let side = |name: u8| {
            let word = words().skip(1).filter(|word| word[0] == name).last()?;
            str::from_utf8(&word[1..]).ok()?.parse::<u32>().ok()
        };
        // Looked at first: the reader of headers multiplies them unchecked.
        let (Some(width), Some(height)) = (side(b'W'), side(b'H')) else {
            return Err(damaged("its header gives no size"));
        };
        check_size(path, width, height)?;
        let unread = |found: String| FootageError::SamplesNotRead { path: path.to_owned(), found };
        let found = |name: u8| {
            let word = words().skip(1).filter(|word| word[0] == name).last().unwrap_or_default();
            String::from_utf8_lossy(word).into_owned()
        };
        let decoder = Decoder::new(line.as_slice()).map_err(|error| match error {
            y4m::Error::UnknownColorspace => unread(found(b'C')),
            _ => damaged("its header cannot be read"),
        })?;
        let sampling = Sampling::of(decoder.get_colorspace()).ok_or_else(|| unread(found(b'C')))?;
        let rate = decoder.get_framerate();
        if rate.num == 0 || rate.den == 0 {
            return Err(damaged("its header gives no frame rate"));
        }
        let is_full = words().any(|word| word == b"XCOLORRANGE=FULL");
        let header = Header {
            path: path.to_owned(),
            size: [width, height],
            rate: rate.num as f64 / rate.den as f64,
            sampling,
            range: if is_full { Range::Full } else { Range::Limited },
        };
        Ok(Self { header, reader, next: 0 })
    }

    /// Frames a second.
    pub fn rate(&self) -> f64 {
        self.header.rate
    }

    /// Reads a frame's line; false at the end of the film.
    fn frame_line(&mut self) -> Result<bool, FootageError> {
        let line = line(&mut self.reader).map_err(|e| self.header.broken(e, self.next))?;
        match line.strip_prefix(FRAME) {
            _ if line.is_empty() => Ok(false),
            Some([b'\n'] | [b' ', .., b'\n']) => Ok(true),
            _ => Err(self
                .header
                .damaged(format!("there is no frame {} where one should begin", self.next + 1))),
        }
    }
}

impl Stream<BufReader<File>> {
    /// Where each frame's samples begin, in bytes.
    ///
    /// # Errors
    /// Where the file breaks off within a frame, or holds none.
    pub fn places(&mut self) -> Result<Vec<u64>, FootageError> {
        let bytes = self.header.frame_bytes() as u64;
        let mut places = Vec::new();
        let length = self.reader.get_ref().metadata().map_err(|e| self.header.broken(e, 0))?.len();
        while self.frame_line()? {
            let place = self.reader.stream_position().map_err(|e| self.header.broken(e, self.next))?;
            if place + bytes > length {
                return Err(self.header.broken(io::ErrorKind::UnexpectedEof.into(), self.next));
            }
            // Within the buffer where it can be.
            self.reader.seek_relative(bytes as i64).map_err(|e| self.header.broken(e, self.next))?;
            places.push(place);
            self.next += 1;
        }
        if places.is_empty() { Err(self.header.damaged("it has no frame")) } else { Ok(places) }
    }

    /// The frames from the one whose samples begin at `place`; none without a place.
    pub fn at(&self, mut reader: BufReader<File>, place: Option<u64>) -> Result<Samples, FootageError> {
        reader
            .seek(place.map_or(SeekFrom::End(0), SeekFrom::Start))
            .map_err(|source| FootageError::unreadable(&self.header.path, source))?;
        let stream = Self { header: self.header.clone(), reader, next: 0 };
        Ok(Samples { stream, at_samples: place.is_some() })
    }
}

/// The rest of a film.
pub(super) struct Samples {
    stream: Stream<BufReader<File>>,
    /// Whether the next frame's line has been passed already.
    at_samples: bool,
}

impl FrameSource for Samples {
    fn next(&mut self) -> Result<Option<RgbaImage>, FootageError> {
        if !std::mem::take(&mut self.at_samples) && !self.stream.frame_line()? {
            return Ok(None);
        }
        self.stream.samples().map(Some)
    }
}

impl<R: BufRead> FrameSource for Stream<R> {
    fn next(&mut self) -> Result<Option<RgbaImage>, FootageError> {
        if self.frame_line()? { self.samples().map(Some) } else { Ok(None) }
    }
}

impl<R: BufRead> Stream<R> {
    /// Reads one frame's samples.
    fn samples(&mut self) -> Result<RgbaImage, FootageError> {
        let mut samples = vec![0; self.header.frame_bytes()];
        self.reader.read_exact(&mut samples).map_err(|e| self.header.broken(e, self.next))?;
        self.next += 1;
        Ok(picture(&self.header, &samples))
    }
}

/// One line with its end, or what there is of it.
fn line(reader: &mut impl BufRead) -> io::Result<Vec<u8>> {
    let mut line = Vec::new();
    reader.take(LONGEST_LINE).read_until(b'\n', &mut line)?;
    Ok(line)
}

fn picture(header: &Header, samples: &[u8]) -> RgbaImage {
    let [width, height] = header.size;
    let matrix = Matrix::of_lines(height);
    let (luma, differences) = samples.split_at(header.luma_bytes());
    let (cb, cr) = differences.split_at(differences.len() / 2);
    let plane = header.sampling.plane(header.size);
    let across = weights(width, plane[0], header.sampling, 0);
    let down = weights(height, plane[1], header.sampling, 1);
    let mut texels = Vec::with_capacity(luma.len() * 4);
    // One row of both differences, as wide as their planes, between two of their rows.
    let mut row = [vec![128.0; plane[0]], vec![128.0; plane[0]]];
    for y in 0..height as usize {
        if let Some(&(first, second, share)) = down.get(y) {
            for (row, plane_of) in row.iter_mut().zip([cb, cr]) {
                let above = &plane_of[first * plane[0]..];
                let below = &plane_of[second * plane[0]..];
                for (value, (&a, &b)) in row.iter_mut().zip(above.iter().zip(below)) {
                    *value = between(f32::from(a), f32::from(b), share);
                }
            }
        }
        for x in 0..width as usize {
            let at = |row: &[f32]| {
                across.get(x).map_or(128.0, |&(first, second, share)| between(row[first], row[second], share))
            };
            let y = f32::from(luma[y * width as usize + x]);
            let [r, g, b] = rgb(y, at(&row[0]), at(&row[1]), matrix, header.range);
            texels.extend([r, g, b, u8::MAX]);
        }
    }
    // Four bytes a texel were pushed; an empty picture could only stand for a wrong count.
    RgbaImage::from_raw(width, height, texels).unwrap_or_default()
}

fn between(a: f32, b: f32, share: f32) -> f32 {
    a + (b - a) * share
}

/// For each texel along a side: the two colour differences that it lies between, and the share of the second.
fn weights(side: u32, count: usize, sampling: Sampling, axis: usize) -> Vec<(usize, usize, f32)> {
    let Some(step) = sampling.step else { return Vec::new() };
    let last = count - 1;
    (0..side)
        .map(|at| {
            let middle = if sampling.on_first[axis] { 0.0 } else { (step[axis] as f32 - 1.0) / 2.0 };
            let place = ((at as f32 - middle) / step[axis] as f32).max(0.0);
            let first = (place.floor() as usize).min(last);
            (first, (first + 1).min(last), place.fract())
        })
        .collect()
}
