//! Why footage cannot be shown.

use std::io;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use thiserror::Error;

use super::limits::{MAX_JPEG_BYTES, MAX_SIDE};
use crate::base::absent::{Absent, Obstacle};
use crate::base::ffmpeg::FfmpegError;
use crate::base::frame::Frame;
use crate::catalogue::CatalogueError;

/// Why footage cannot be shown; every message names the file and what would help.
#[derive(Debug, Clone, Error)]
pub enum FootageError {
    /// No generated source has this name.
    #[error(transparent)]
    Source(Arc<CatalogueError>),
    /// The card of a stand-in could not be drawn.
    #[error("stand-in:{label}: its card could not be drawn: {why}")]
    StandIn {
        label: String,
        /// What is in the way.
        why: String,
    },
    /// The path leads to no file.
    #[error("{absent}{}", what_helps(.absent))]
    Absent { absent: Absent },
    /// A folder where a file should be.
    #[error(
        "{} is a folder; name a picture in it, or a numbered sequence such as {}",
        path.display(), path.join("sea-####.png").display()
    )]
    Folder {
        /// The folder.
        path: PathBuf,
    },
    /// The system would not give the file.
    #[error("cannot read {}: {source}; check that the file may be read", path.display())]
    Unreadable {
        /// The file.
        path: PathBuf,
        /// What the system said.
        source: Arc<io::Error>,
    },
    /// The content is of another kind.
    #[error("{} is {found}; pictures are read as PNG, JPEG, WebP or GIF, films as Y4M or through ffmpeg: save it as one of these", path.display())]
    NotAPicture {
        /// The file.
        path: PathBuf,
        /// What it is, as the end of "it is ...".
        found: String,
    },
    /// It holds no film, but names others.
    #[error("{} is {found}: it holds no film and plays others; name the film itself", path.display())]
    NamesOthers {
        /// The file.
        path: PathBuf,
        /// What it is, as the end of "it is ...".
        found: &'static str,
    },
    /// A film whose alpha this ffmpeg cannot read: without it, it would hide what lies below.
    #[error(
        "{} has alpha, which the ffmpeg of this machine cannot read: it has no decoder `{decoder}`; install an ffmpeg with libvpx, or convert the film to ProRes 4444 (.mov)",
        path.display()
    )]
    AlphaNotRead {
        /// The film.
        path: PathBuf,
        /// What is missing.
        decoder: &'static str,
    },
    /// The content opens as a picture and then breaks off or contradicts itself.
    #[error("{} is damaged or cut short ({why}); copy or export it again", path.display())]
    Damaged {
        /// The file.
        path: PathBuf,
        /// What the decoder said.
        why: String,
    },
    /// More texels than are worth decoding; refused from the header alone.
    #[error(
        "{} is {width}x{height} texels; pictures are read up to {MAX_SIDE}x{MAX_SIDE}: make it smaller first",
        path.display()
    )]
    TooLarge {
        /// The file.
        path: PathBuf,
        /// Texels across, as the header says.
        width: u32,
        /// Texels down, as the header says.
        height: u32,
    },
    /// More bytes than a picture needs; refused before it is read.
    #[error(
        "{} takes {} MiB; a JPEG is read up to {} MiB: save it smaller first",
        path.display(), bytes >> 20, MAX_JPEG_BYTES >> 20
    )]
    TooManyBytes {
        /// The file.
        path: PathBuf,
        /// Its size.
        bytes: u64,
    },
    /// No file has a name that the sequence asks for.
    #[error("no file is named like {}{hint}; each # stands for a digit, as in sea-0001.png for sea-####.png", pattern.display())]
    EmptySequence {
        /// The sequence asked for.
        pattern: PathBuf,
        /// "; did you mean ...?" or nothing.
        hint: String,
    },
    /// A number between the first and the last has no file.
    #[error(
        "{} has a gap: it runs from {first} to {last}, but there is no {missing}; add that file or number the frames anew",
        pattern.display()
    )]
    Gap {
        /// The sequence asked for.
        pattern: PathBuf,
        /// Name of the first missing file.
        missing: String,
        /// First number found.
        first: u64,
        /// Last number found.
        last: u64,
    },
    /// A pipe that carries something else.
    #[error("{} carries no Y4M; only that is read from a pipe, as `ffmpeg -i FILM -f yuv4mpegpipe -` writes it", path.display())]
    NotY4m {
        /// The pipe.
        path: PathBuf,
    },
    /// A pipe that gave nothing.
    #[error("{} is a pipe and gave nothing; a pipe can be read once only: save what it gives as a .y4m file, and name that", path.display())]
    EmptyPipe {
        /// The pipe.
        path: PathBuf,
    },
    /// Samples of another kind than are read.
    #[error(
        "{} holds samples of the kind `{found}`; Y4M is read with 8 bits a sample as C420jpeg, C420mpeg2, C420paldv, C422, C444 or Cmono",
        path.display()
    )]
    SamplesNotRead {
        /// The film.
        path: PathBuf,
        /// The header's word.
        found: String,
    },
    /// An earlier frame of a pipe is asked for.
    #[error(
        "{} is a pipe and can be read once only, forwards; to show an earlier frame again, or to use it twice, save it as a .y4m file",
        path.display()
    )]
    NotWoundBack {
        /// The pipe.
        path: PathBuf,
    },
    /// A pipe is to be stretched, whose length nobody knows.
    #[error("{} is a pipe, and its length is not known; give the clip `out_secs` or `speed` in place of `loop_beats`", path.display())]
    Unmeasured {
        /// The pipe.
        path: PathBuf,
    },
    /// Whoever waited for it waits no more.
    #[error("{} is not needed any more", path.display())]
    GivenUp {
        /// The footage.
        path: PathBuf,
    },
    /// A clip begins past the end of its footage.
    #[error("{} lasts {length_secs:.3} s, and its clip begins at {in_secs} s; give an `in_secs` below that", path.display())]
    PastEnd {
        /// The footage.
        path: PathBuf,
        /// How long it is.
        length_secs: f64,
        /// Where the clip begins.
        in_secs: f64,
    },
    /// A film of another kind, which ffmpeg could not give.
    #[error("{}: {source}", path.display())]
    ThroughFfmpeg {
        /// The film.
        path: PathBuf,
        /// What it said, or that it is not there.
        source: FfmpegError,
    },
    /// The picture could not be brought to the frame's size.
    #[error("{} cannot be fitted into a frame of {frame}: {why}; choose another frame size or fit", path.display())]
    Unfitted {
        /// The file.
        path: PathBuf,
        frame: Frame,
        /// What the resizer said.
        why: String,
    },
}

fn what_helps(absent: &Absent) -> &'static str {
    match absent.obstacle {
        None => "; name a picture, or a numbered sequence such as sea-####.png",
        Some(Obstacle::Missing(_)) => {
            "; a relative path starts from the folder of the show file, or from where the command runs"
        }
        Some(Obstacle::File(_)) => "",
    }
}

impl From<CatalogueError> for FootageError {
    fn from(error: CatalogueError) -> Self {
        Self::Source(Arc::new(error))
    }
}

impl FootageError {
    /// What the system's refusal to give `path` comes down to.
    pub(super) fn of_opening(path: &Path, source: io::Error) -> Self {
        match source.kind() {
            io::ErrorKind::NotFound | io::ErrorKind::NotADirectory => Self::absent(path),
            _ => Self::unreadable(path, source),
        }
    }

    /// What is missing where `path` leads nowhere.
    pub(super) fn absent(path: &Path) -> Self {
        Self::Absent { absent: Absent::of(path) }
    }

    /// The system's refusal to give more of `path`.
    pub(super) fn unreadable(path: &Path, source: io::Error) -> Self {
        Self::Unreadable { path: path.to_owned(), source: Arc::new(source) }
    }
}
