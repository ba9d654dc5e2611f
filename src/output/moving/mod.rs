//! Moving pictures as output: numbered pictures, APNG, Y4M, and films through ffmpeg.
//!
//! A file takes its name only when it is whole. Numbered pictures are whole one by one; beside them lies
//! a note of what they are of, for as long as some are missing, by which the work is taken up again.

mod apng;
mod error;
mod film;
mod interruption;
mod line;
mod numbered;
mod packed;
mod span;
mod y4m;

use std::borrow::Cow;
use std::path::{Path, PathBuf};
use std::sync::Arc;

pub use error::MovingError;
pub use interruption::Interruption;
pub use line::{Ended, Halted, Line};
pub use span::{Span, SpanError, check_count};

use crate::base::frame::Frame;
use crate::base::picture::{Texels, is_opaque};
use crate::base::ycbcr::Matrix;
use crate::beat::FrameRate;
use crate::files::{FileKind, Permit};
use crate::footage::Pattern;
use film::Container;

/// Standard output, as a path.
pub const STANDARD_OUTPUT: &str = "-";

/// What a moving picture is written as; its name says so.
#[derive(Debug, Clone)]
pub enum Form {
    /// `frame-####.png`: a PNG for every frame, numbered from 1.
    Numbered(Pattern),
    /// `.apng`, or `.png` where several frames are wanted.
    Apng,
    /// `.y4m`, or standard output: uncompressed, 4:4:4, 8 bits, limited range.
    Y4m,
    /// `.mp4`, `.mov`, `.mkv` or `.webm`, through ffmpeg.
    Film(Container),
}

impl Form {
    /// The form that a name asks for; a plain `.png` is a single picture and none.
    pub fn of(path: &Path) -> Option<Self> {
        if path == Path::new(STANDARD_OUTPUT) {
            return Some(Self::Y4m);
        }
        let ending = path.extension()?.to_string_lossy().to_lowercase();
        match ending.as_str() {
            "png" => Pattern::of(path).map(Self::Numbered),
            "apng" => Some(Self::Apng),
            "y4m" => Some(Self::Y4m),
            ending => Container::of_ending(ending).map(Self::Film),
        }
    }

    /// Whether it keeps alpha; where not, a picture lies over black.
    pub fn keeps_alpha(&self) -> bool {
        match self {
            Self::Numbered(_) | Self::Apng => true,
            Self::Y4m => false,
            Self::Film(container) => container.keeps_alpha(),
        }
    }
}

/// How frames come to lie in a file.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Written {
    /// Their size on file.
    pub frame: Frame,
    /// Whether what is transparent stays so.
    pub keeps_alpha: bool,
    /// How they are compressed, in a film.
    pub codec: Option<&'static str>,
}

impl Form {
    /// The file that is written first.
    pub fn first_file(&self, path: &Path) -> PathBuf {
        match self {
            Self::Numbered(pattern) => pattern.file(numbered::FIRST),
            _ => path.to_owned(),
        }
    }
}

/// What is known of a moving picture before its first frame.
#[derive(Debug, Clone)]
pub struct Outline {
    /// Size of every frame.
    pub frame: Frame,
    /// Frames a second.
    pub rate: FrameRate,
    /// How many frames it will have, at least one.
    pub count: u64,
    /// Whether any frame may be transparent anywhere: films without alpha are smaller, and play in more places.
    pub may_be_transparent: bool,
    /// Everything that its frames depend on, as text: numbered pictures are taken up again only where
    /// this is the same.
    pub subject: String,
}

/// A moving picture on its way to a file.
pub enum Writer {
    /// Numbered pictures.
    Numbered(Arc<numbered::Numbered>),
    /// An animated PNG.
    Apng(apng::Apng),
    /// Y4M.
    Y4m(y4m::Y4m),
    /// Through ffmpeg.
    Film(film::Film),
}

impl Writer {
    /// Begins a moving picture; `replaces` lets it take the place of what stays otherwise: of numbered pictures of
    /// something else, or of a file that Underover keeps.
    ///
    /// # Errors
    /// [`MovingError`]; nothing is written then.
    pub fn begin(form: Form, path: &Path, outline: &Outline, replaces: bool) -> Result<Self, MovingError> {
        let permit = Permit::new(FileKind::Again, replaces);
        Ok(match form {
            Form::Numbered(pattern) => {
                Self::Numbered(Arc::new(numbered::Numbered::begin(pattern, path, outline, permit)?))
            }
            Form::Apng => Self::Apng(apng::Apng::begin(path, outline, permit)?),
            Form::Y4m => Self::Y4m(y4m::Y4m::begin(path, outline, permit)?),
            Form::Film(container) => Self::Film(film::Film::begin(container, path, outline, permit)?),
        })
    }

    /// How frames of a moving picture come to lie in the file.
    pub fn written(&self, outline: &Outline) -> Written {
        match self {
            Self::Numbered(_) | Self::Apng(_) => {
                Written { frame: outline.frame, keeps_alpha: true, codec: None }
            }
            Self::Y4m(_) => Written { frame: outline.frame, keeps_alpha: false, codec: None },
            Self::Film(film) => film.written(),
        }
    }

    /// Whether frame `number`, from 0, is there already, whole.
    pub fn has(&self, number: u64) -> bool {
        match self {
            Self::Numbered(numbered) => numbered.has(number),
            _ => false,
        }
    }

    /// How its frames are made ready, each on its own.
    fn making(&self) -> Making {
        match self {
            Self::Numbered(numbered) => Making::File(Arc::clone(numbered)),
            Self::Apng(_) => Making::Scanlines,
            Self::Y4m(y4m) => Making::Planes(y4m.matrix()),
            Self::Film(film) => Making::Texels(film.written()),
        }
    }

    /// Writes a frame made ready; all that are not there already, in order.
    fn put(&mut self, bytes: Vec<u8>) -> Result<(), MovingError> {
        match self {
            // Each is a file of its own, and whole.
            Self::Numbered(_) => Ok(()),
            Self::Apng(apng) => apng.put(&bytes),
            Self::Y4m(y4m) => y4m.put(&bytes),
            Self::Film(film) => film.put(bytes),
        }
    }

    /// Gives the moving picture its name, now that it is whole.
    ///
    /// # Errors
    /// [`MovingError`].
    pub fn finish(self) -> Result<(), MovingError> {
        match self {
            Self::Numbered(numbered) => numbered.finish(),
            Self::Apng(apng) => apng.finish(),
            Self::Y4m(y4m) => y4m.finish(),
            Self::Film(film) => film.finish(),
        }
    }
}

/// How a frame is made ready for a file, whichever frames are before it.
#[derive(Clone)]
enum Making {
    /// A PNG in a file of its own: the system is waited for beside the other frames, too.
    File(Arc<numbered::Numbered>),
    /// The compressed lines of a PNG.
    Scanlines,
    /// Luma and colour differences, one plane after another.
    Planes(Matrix),
    /// Plain texels, with alpha or over black, of the size on file.
    Texels(Written),
}

impl Making {
    fn made(&self, number: u64, picture: &impl Texels) -> Result<Made, MovingError> {
        let encoded = |encoded: Result<Vec<u8>, png::EncodingError>| {
            encoded.map_err(|error| MovingError::Unencoded(error.to_string()))
        };
        let frame = Still { frame: picture.frame(), rgba: &picture.rgba() };
        let is_opaque = is_opaque(frame.rgba);
        let bytes = match self {
            Self::File(numbered) => {
                numbered.put(number, &encoded(packed::png_of(frame))?)?;
                Vec::new()
            }
            Self::Scanlines => encoded(apng::scanlines(frame))?,
            Self::Planes(matrix) => y4m::planes(&frame.over_black(is_opaque), *matrix),
            Self::Texels(written) => film::texels(frame, is_opaque, *written),
        };
        Ok(Made { bytes, is_opaque })
    }
}

/// A frame as its file takes it.
struct Made {
    bytes: Vec<u8>,
    /// Whether it is opaque everywhere.
    is_opaque: bool,
}

/// A frame to be made ready: its size, and its texels row by row.
#[derive(Debug, Clone, Copy)]
struct Still<'a> {
    frame: Frame,
    rgba: &'a [u8],
}

impl<'a> Still<'a> {
    fn texels(self) -> &'a [[u8; 4]] {
        self.rgba.as_chunks::<4>().0
    }

    /// The picture over black: what has no alpha shows a stage without light below.
    fn over_black(self, is_opaque: bool) -> Cow<'a, [[u8; 4]]> {
        if is_opaque {
            return Cow::Borrowed(self.texels());
        }
        let shown = |channel: u8, alpha: u8| ((u32::from(channel) * u32::from(alpha) * 2 + 255) / 510) as u8;
        let over = |&[red, green, blue, alpha]: &[u8; 4]| {
            let [red, green, blue] = [red, green, blue].map(|channel| shown(channel, alpha));
            [red, green, blue, u8::MAX]
        };
        Cow::Owned(self.texels().iter().map(over).collect())
    }
}
