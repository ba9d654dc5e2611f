//! A finished picture beside the GPU.

use super::frame::Frame;

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
