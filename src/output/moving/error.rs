//! Why a moving picture was not written.

use std::io;

use thiserror::Error;

use crate::base::ffmpeg::FfmpegError;
use crate::files::WriteError;

/// Why a moving picture was not written.
#[derive(Debug, Error)]
pub enum MovingError {
    /// The file could not be written.
    #[error(transparent)]
    File(#[from] WriteError),
    /// ffmpeg is not there, or ended with an error.
    #[error("cannot write `{path}`: {source}")]
    Ffmpeg {
        /// The film.
        path: String,
        /// What was wrong.
        source: FfmpegError,
    },
    /// The system refused what was written on the way.
    #[error("cannot write `{path}`: {source}; it was not kept")]
    Refused {
        /// The path as given.
        path: String,
        /// What the system said.
        source: io::Error,
    },
    /// Whoever read standard output is gone.
    #[error("what read standard output went away after {frames} frames")]
    ReaderGone {
        /// Frames written until then.
        frames: u64,
    },
    /// PNG cannot hold it.
    #[error("cannot write `{path}` as PNG: {why}")]
    Png {
        /// The path as given.
        path: String,
        /// What the encoder said.
        why: String,
    },
    /// A frame of it cannot be a PNG.
    #[error("a frame cannot be encoded as PNG: {0}")]
    Unencoded(String),
    /// A defect of ours.
    #[error(
        "a frame could not be made ready to be written; this is a defect of the program: please report it with the file at hand"
    )]
    Unmade,
    /// More frames than the form counts, or a rate that it cannot say.
    #[error("`{path}` cannot hold {what}; {remedy}")]
    TooMuch {
        /// The path as given.
        path: String,
        /// What is too much.
        what: String,
        /// What would do.
        remedy: &'static str,
    },
    /// Numbered pictures of something else are there.
    #[error(
        "`{first}` is there already, and is not of this render{why}; choose another name, or add --replace to write over it"
    )]
    OthersThere {
        /// The first such file.
        first: String,
        /// How it is known.
        why: String,
    },
    /// The person, or the system, asked to stop.
    #[error("interrupted after {done} of {count} frames; {remedy}")]
    Interrupted {
        /// Frames that were whole.
        done: u64,
        /// Frames in all.
        count: u64,
        /// What becomes of them.
        remedy: &'static str,
    },
}
