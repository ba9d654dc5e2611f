//! How much is tried, at which sizes, and for which picture.

use crate::base::frame::Frame;
use crate::base::picture::Picture;
use crate::beat::Moment;
use crate::footage::{Shelf, Shown};
use crate::gpu::{RenderError, Renderer};
use crate::plan::Path;
use crate::show::clip::{Fit, FootageName, Play};

/// Candidates of the stream where nothing is said.
pub const TRIES: u64 = 8_000;
/// The largest frame at which the stream is tried where nothing is said, and the one at which it is looked at next.
const SMALL: Frame = Frame { width: 96, height: 54 };
const MIDDLE: Frame = Frame { width: 256, height: 144 };

/// The sizes at which candidates are tried, the frame itself last; `small` is the first where it is said.
pub fn sizes(frame: Frame, small: Option<Frame>) -> Vec<Frame> {
    let small = small.unwrap_or_else(|| frame.within(SMALL));
    let middle = frame.within(MIDDLE);
    let mut frames = vec![small];
    // A size that is not much larger than the one before tells nothing new.
    if middle.texels() > 2 * small.texels() && frame.texels() > 2 * middle.texels() {
        frames.push(middle);
    }
    if frame != small {
        frames.push(frame);
    }
    frames
}

/// Footage alone, fitted to the frame: the picture to come near.
///
/// # Errors
/// [`RenderError`] where it cannot be shown or the GPU fails.
pub fn shown_alone(
    renderer: &mut Renderer,
    shelf: &mut Shelf,
    footage: &FootageName,
    moment: Moment,
) -> Result<Picture, RenderError> {
    match shelf.shown(footage, Fit::Whole, &Play::default(), &moment)? {
        Shown::Pixels(picture) => Ok(Picture::clone(&picture)),
        Shown::Generated { .. } | Shown::Nothing => {
            let path = Path::of_chain(&[], footage, Fit::Whole, moment, shelf)?;
            Ok(renderer.picture(&path, &[])?)
        }
    }
}
