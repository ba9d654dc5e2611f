//! What gives frames.

use image::RgbaImage;

use super::error::FootageError;

/// Frames one after the other.
pub(super) trait FrameSource {
    /// The next frame, or nothing after the last.
    fn next(&mut self) -> Result<Option<RgbaImage>, FootageError>;
}
