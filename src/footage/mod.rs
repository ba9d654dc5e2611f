//! Footage: where the pictures under all effects come from.
//!
//! Stills and animations (PNG, JPEG, WebP, GIF), numbered sequences, films (Y4M,
//! others through ffmpeg), and sources that a shader generates. A file is known
//! by its content, not by its ending; its values are taken as sRGB-encoded.
//!
//! Every file is opened, decoded and fitted by a thread of its own ([`decoder`]);
//! the [`Shelf`] waits for it, or shows what is nearest.

mod decoder;
mod error;
mod fitting;
mod kept;
mod picture_file;
mod play;
mod reel;
mod sequence;
mod shelf;
mod timing;
mod video;
mod y4m;

use std::path::Path;
use std::sync::Arc;
use std::time::UNIX_EPOCH;

pub use error::FootageError;
pub use picture_file::MAX_SIDE;
pub use play::{AtEnd, Pace, Play};
pub use sequence::{Pattern, SEQUENCE_RATE};
pub use shelf::{KEPT_BYTES, Shelf};
pub use video::FILM_ENDINGS;

use crate::chain::EffectCall;
use crate::frame::Frame;
use crate::show::{FootageName, StandIn};

/// A picture of the frame's size, ready to upload.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Picture {
    /// Its size.
    pub frame: Frame,
    /// Row by row from the top left, four bytes a texel: sRGB-encoded colour, straight alpha.
    pub rgba: Vec<u8>,
    /// Whether every alpha is 255.
    pub opaque: bool,
}

/// What a clip shows at a moment.
#[derive(Debug, Clone, PartialEq)]
pub enum Shown {
    /// A picture from a file.
    Pixels(Arc<Picture>),
    /// A picture that the GPU makes.
    Generated {
        /// The source, ready to render.
        call: EffectCall,
        /// Whether it covers the whole frame.
        opaque: bool,
    },
    /// Nothing: a clip that plays once, before or after, or a file of which no picture is there yet.
    Nothing,
}

/// Standard input, as a path: a film in Y4M.
pub const STANDARD_INPUT: &str = "-";

impl FootageName {
    /// What a command line or a file names: `generated:NAME`, `stand-in:LABEL`, `-`, else a path relative to `folder`.
    pub fn parsed(written: &str, folder: &Path) -> Self {
        if let Some((kind, label)) = written.split_once(':')
            && let Some(kind) = StandIn::named(kind)
        {
            return Self::StandIn(kind, label.to_owned());
        }
        match written.strip_prefix("generated:") {
            Some(name) => Self::Generated(name.to_owned()),
            None if written == STANDARD_INPUT => {
                Self::File { written: written.to_owned(), path: written.into() }
            }
            None => Self::File { written: written.to_owned(), path: folder.join(written) },
        }
    }
}

/// Size and time of the last change of a file, or of the files of a sequence, in words that change with either.
pub fn age_of(path: &Path) -> String {
    let of_one = |path: &Path| {
        let Ok(found) = path.metadata() else { return "none".to_owned() };
        let since = found.modified().ok().and_then(|time| time.duration_since(UNIX_EPOCH).ok());
        format!("{} {}", found.len(), since.unwrap_or_default().as_nanos())
    };
    match Pattern::of(path).filter(|_| !path.exists()) {
        Some(pattern) => {
            let files = pattern.numbers().into_iter().map(|number| of_one(&pattern.file(number)));
            files.collect::<Vec<_>>().join(" ")
        }
        None => of_one(path),
    }
}

/// How footage of another size is placed in the frame.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum Fit {
    /// As large as covers the frame, the rest cut off.
    #[default]
    Fill,
    /// As large as fits in the frame, the rest transparent.
    Fit,
    /// Both sides to the frame's, proportions lost.
    Stretch,
    /// Texel for texel in the middle.
    Centre,
}

impl Fit {
    /// Every way, the default first.
    pub const ALL: [Self; 4] = [Self::Fill, Self::Fit, Self::Stretch, Self::Centre];

    /// The word used in files and on the command line.
    pub fn name(self) -> &'static str {
        match self {
            Self::Fill => "fill",
            Self::Fit => "fit",
            Self::Stretch => "stretch",
            Self::Centre => "centre",
        }
    }

    /// The way with this name.
    pub fn named(name: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|fit| fit.name() == name)
    }
}
