//! Footage: where the pictures under all effects come from.
//!
//! Stills and animations (PNG, JPEG, WebP, GIF), numbered sequences, films (Y4M,
//! others through ffmpeg), and sources that a shader generates. A file is known
//! by its content, not by its ending; its values are taken as sRGB-encoded.
//!
//! Every file is opened, decoded and fitted by a thread of its own ([`decoder`]);
//! the [`Shelf`] waits for it, or shows what is nearest.

mod card;
mod contents;
mod decoder;
mod error;
mod fitting;
mod found;
mod kept;
mod limits;
mod picture_file;
mod play;
mod reel;
mod sequence;
mod shelf;
mod source;
mod timing;
mod video;
mod y4m;

use std::path::Path;
use std::sync::Arc;
use std::time::UNIX_EPOCH;

pub use card::card;
pub use contents::Contents;
pub use error::FootageError;
pub use found::{MOST_PIECES, PICTURE_ENDINGS, Pieces, PiecesError, piece_names};
pub use limits::MAX_SIDE;
pub use sequence::{Pattern, SEQUENCE_RATE};
pub use shelf::{KEPT_BYTES, Shelf};
pub use video::FILM_ENDINGS;

use crate::base::picture::Picture;
use crate::show::chain::EffectCall;

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
