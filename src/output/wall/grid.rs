//! How large the pictures of a wall are and how many stand side by side.

use fast_image_resize::images::{TypedImage, TypedImageRef};
use fast_image_resize::pixels::F32x4;
use fast_image_resize::{FilterType, ResizeAlg, ResizeOptions, Resizer};
use image::{Rgba, RgbaImage};

use super::WallError;
use crate::base::colour::{linear_from_srgb, srgb_from_linear};
use crate::base::frame::Frame;

/// From the edge of the sheet to whatever is nearest to it, in texels.
pub(super) const MARGIN: u32 = 64;
/// Between neighbours in a row, in texels.
pub(super) const GUTTER: u32 = 32;
/// From the captions of one row to the pictures of the next, in texels.
pub(super) const ROW_GAP: u32 = 44;
/// The narrowest column that still holds a caption well, in texels.
pub(super) const NARROWEST_CELL: u32 = 240;

/// What a caption and a header take, roughly: good enough to choose columns by.
const CAPTION_GUESS: u32 = 110;
const HEADER_GUESS: u32 = 400;

/// The size of the pictures of a wall, and how many stand in one row.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct TileGrid {
    /// Texels across one picture.
    pub width: u32,
    /// Texels down one picture.
    pub height: u32,
    /// Pictures in one full row.
    pub columns: usize,
    /// Texels of the sheet to a side of one texel of the frame: 1 where the frame is shown as it is
    /// or smaller, more where a small frame is magnified.
    pub magnified: u32,
}

/// The grid that suits this many pictures of this frame.
///
/// The frame's proportions are kept to the texel. A picture is never larger than its frame, except
/// that a very small frame is magnified by a whole factor, so that each of its texels can be seen.
pub fn tile_size(frame: Frame, tiles: usize) -> TileGrid {
    let width_16_9: u64 = match tiles {
        0..=1 => 1280,
        2 => 960,
        3..=4 => 800,
        5..=9 => 640,
        10..=16 => 480,
        17..=72 => 384,
        73..=144 => 320,
        _ => 256,
    };
    let size = sized(frame, width_16_9);
    TileGrid { columns: columns(size.width, size.height, tiles), ..size }
}

/// One picture of the frame that weighs as much on the sheet as one of 16:9 and this width, in texels.
pub fn sized(frame: Frame, width_16_9: u64) -> TileGrid {
    let area = (width_16_9 * width_16_9 * 9 / 16) as f64;
    let small_area = area.min((640 * 360) as f64);
    // A strip of film is long, but not longer than its neighbours are large.
    let longest = (4 * width_16_9) as f64;
    let scale = (area / frame.texels() as f64).sqrt().min(longest / f64::from(frame.width.max(frame.height)));
    let magnified = (small_area / frame.texels() as f64).sqrt().min(scale).floor().max(1.0) as u32;
    let (width, height) = if scale >= 1.0 {
        (frame.width * magnified, frame.height * magnified)
    } else {
        let side = |texels: u32| ((f64::from(texels) * scale).round() as u32).max(1);
        (side(frame.width), side(frame.height))
    };
    TileGrid { width, height, columns: 1, magnified }
}

impl TileGrid {
    /// A picture of the frame at the size of this grid.
    ///
    /// A picture of that size is returned byte for byte; one that is magnified repeats its texels;
    /// any other is filtered in linear light with alpha taken into account (Lanczos, 3 lobes).
    ///
    /// # Errors
    /// [`WallError::EmptyPicture`] for a picture without texels.
    pub fn tile(&self, picture: &RgbaImage) -> Result<RgbaImage, WallError> {
        let (width, height) = picture.dimensions();
        if width == 0 || height == 0 {
            return Err(WallError::EmptyPicture { tile: None });
        }
        if (width, height) == (self.width, self.height) {
            return Ok(picture.clone());
        }
        let factor = self.magnified.max(1);
        if (self.width, self.height) == (width.saturating_mul(factor), height.saturating_mul(factor)) {
            return Ok(RgbaImage::from_fn(self.width, self.height, |x, y| {
                *picture.get_pixel(x / factor, y / factor)
            }));
        }
        shrunk(picture, self.width, self.height)
    }
}

fn shrunk(picture: &RgbaImage, width: u32, height: u32) -> Result<RgbaImage, WallError> {
    let linear: [f32; 256] = std::array::from_fn(|byte| linear_from_srgb(byte as f64 / 255.0) as f32);
    let premultiplied: Vec<F32x4> = picture
        .pixels()
        .map(|&Rgba([r, g, b, a])| {
            let alpha = f32::from(a) / 255.0;
            let [r, g, b] = [r, g, b].map(|byte| linear[usize::from(byte)] * alpha);
            F32x4::new([r, g, b, alpha])
        })
        .collect();
    let failed = |reason: String| WallError::Shrink { reason };
    let from = TypedImageRef::new(picture.width(), picture.height(), &premultiplied)
        .map_err(|error| failed(error.to_string()))?;
    let mut to = TypedImage::<F32x4>::new(width, height);
    let options =
        ResizeOptions::new().resize_alg(ResizeAlg::Convolution(FilterType::Lanczos3)).use_alpha(false);
    Resizer::new().resize_typed(&from, &mut to, &options).map_err(|error| failed(error.to_string()))?;
    let byte = |share: f32| (share.clamp(0.0, 1.0) * 255.0).round() as u8;
    let mut texels = to.pixels().iter();
    Ok(RgbaImage::from_fn(width, height, |_, _| {
        let [r, g, b, alpha] = texels.next().map_or([0.0; 4], |texel| texel.0);
        let straight = |light: f32| if alpha > 0.0 { light / alpha } else { 0.0 };
        let encoded = |light: f32| byte(srgb_from_linear(f64::from(straight(light).clamp(0.0, 1.0))) as f32);
        Rgba([encoded(r), encoded(g), encoded(b), byte(alpha)])
    }))
}

/// How many pictures of this size stand side by side on a sheet of pleasant proportions.
///
/// A few pictures make a sheet that suits a screen (4:3), many one that suits paper (3:4);
/// a last row that is not full costs.
pub(super) fn columns(width: u32, height: u32, tiles: usize) -> usize {
    let tiles = tiles.max(1);
    let wanted: f64 = if tiles <= 24 { 4.0 / 3.0 } else { 3.0 / 4.0 };
    let side = |count: usize, cell: u32, gap: u32| count as f64 * f64::from(cell + gap);
    let cost = |columns: usize| {
        let rows = tiles.div_ceil(columns);
        let across = side(columns, width.max(NARROWEST_CELL), GUTTER) + f64::from(2 * MARGIN);
        let down = side(rows, height + CAPTION_GUESS, ROW_GAP) + f64::from(2 * MARGIN + HEADER_GUESS);
        let empty = (columns * rows - tiles) as f64 / (columns * rows) as f64;
        (across / down / wanted).ln().abs() + 2.0 * empty
    };
    (1..=tiles.min(256)).min_by(|&a, &b| cost(a).total_cmp(&cost(b))).unwrap_or(1)
}
