//! Footage: where the pictures under all effects come from.
//!
//! Stills and animations (PNG, JPEG, WebP, GIF), numbered sequences, and
//! sources that a shader generates. A file is known by its content, not by its
//! ending; its values are taken as sRGB-encoded.

mod animation;
mod error;
mod fitting;
mod picture_file;
mod sequence;
mod shelf;

use std::path::Path;
use std::sync::Arc;

pub use error::FootageError;
pub use picture_file::MAX_SIDE;
pub use sequence::SEQUENCE_RATE;
pub use shelf::Shelf;

use crate::chain::EffectCall;
use crate::frame::Frame;
use crate::show::FootageName;

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
}

impl FootageName {
    /// What a command line or a file names: `generated:NAME`, else a path relative to `folder`.
    pub fn parsed(written: &str, folder: &Path) -> Self {
        match written.strip_prefix("generated:") {
            Some(name) => Self::Generated(name.to_owned()),
            None => Self::File { written: written.to_owned(), path: folder.join(written) },
        }
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
