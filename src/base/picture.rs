//! A finished picture beside the GPU.

use std::borrow::Cow;
use std::fmt;

use super::content::Content;
use super::frame::Frame;

/// A picture of the frame's size, ready to upload.
#[derive(Clone, PartialEq, Eq)]
pub struct Picture {
    /// Its size.
    pub frame: Frame,
    /// Row by row from the top left, four bytes a texel: sRGB-encoded colour, straight alpha.
    pub rgba: Vec<u8>,
    /// Whether every alpha is 255.
    pub opaque: bool,
}

impl fmt::Debug for Picture {
    /// Its bytes by what stands for them: they are millions.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "Picture {} {} {}", self.frame, self.opaque, Content::of(&self.rgba))
    }
}

/// The texels of a picture wherever they lie, as [`Picture::rgba`] has them.
pub trait Texels: fmt::Debug + Send + Sync {
    /// The picture's size.
    fn frame(&self) -> Frame;

    /// A row, counted from the top.
    fn row(&self, y: usize) -> &[u8];

    /// All rows, one after another.
    fn rgba(&self) -> Cow<'_, [u8]>;
}

impl Texels for Picture {
    fn frame(&self) -> Frame {
        self.frame
    }

    fn row(&self, y: usize) -> &[u8] {
        let bytes = self.frame.width as usize * 4;
        &self.rgba[y * bytes..][..bytes]
    }

    fn rgba(&self) -> Cow<'_, [u8]> {
        Cow::Borrowed(&self.rgba)
    }
}

/// Whether every alpha of such bytes is 255.
pub fn is_opaque(rgba: &[u8]) -> bool {
    // Two texels at a time: every frame of a film is looked through.
    const ALPHAS: u64 = 0xff00_0000_ff00_0000;
    let (pairs, last) = rgba.as_chunks::<8>();
    let all = pairs.iter().fold(u64::MAX, |all, &pair| all & u64::from_le_bytes(pair));
    all & ALPHAS == ALPHAS && last.get(3).is_none_or(|&alpha| alpha == 255)
}
