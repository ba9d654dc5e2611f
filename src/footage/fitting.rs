//! Bringing a picture to the frame's size.
//!
//! Resizing runs on the sRGB-encoded values, as the default pixel mode does
//! with everything, and on premultiplied ones, so that the colour under a
//! transparent texel never bleeds into an edge. The kernel is Catmull-Rom both
//! ways: sharper than a triangle, and with less ringing than Lanczos, which an
//! edge finder would draw as outlines. A picture that has the frame's size
//! already keeps its bytes.

use fast_image_resize::images::{Image, ImageRef};
use fast_image_resize::{FilterType, PixelType, ResizeAlg, ResizeOptions, Resizer};
use image::RgbaImage;

use crate::base::frame::Frame;
use crate::base::picture::Picture;
use crate::show::clip::Fit;

const TEXEL_BYTES: usize = 4;

/// The picture as it lies in the frame; an error is the resizer's own words.
pub(super) fn fitted(picture: RgbaImage, fit: Fit, frame: Frame) -> Result<Picture, String> {
    let size = Frame { width: picture.width(), height: picture.height() };
    let texels = picture.into_raw();
    let rgba = if size == frame {
        texels
    } else {
        match fit {
            Fit::Whole => resized(&texels, size, frame, Crop::ToProportions)?,
            Fit::Stretched => resized(&texels, size, frame, Crop::Nothing)?,
            Fit::Contained => {
                let inner = contained(size, frame);
                centred(&resized(&texels, size, inner, Crop::Nothing)?, inner, frame)
            }
            Fit::Centred => centred(&texels, size, frame),
        }
    };
    let opaque = is_opaque(&rgba);
    Ok(Picture { frame, rgba, opaque })
}

fn is_opaque(rgba: &[u8]) -> bool {
    rgba.chunks_exact(TEXEL_BYTES).all(|texel| texel[3] == u8::MAX)
}

#[derive(PartialEq)]
enum Crop {
    Nothing,
    /// The middle part that has the proportions of the result.
    ToProportions,
}

fn resized(texels: &[u8], from: Frame, into: Frame, crop: Crop) -> Result<Vec<u8>, String> {
    if from == into {
        return Ok(texels.to_vec());
    }
    let source =
        ImageRef::new(from.width, from.height, texels, PixelType::U8x4).map_err(|e| e.to_string())?;
    let mut result = Image::new(into.width, into.height, PixelType::U8x4);
    let mut options = ResizeOptions::new()
        .resize_alg(ResizeAlg::Convolution(FilterType::CatmullRom))
        .use_alpha(!is_opaque(texels));
    if crop == Crop::ToProportions {
        options = options.fit_into_destination(Some((0.5, 0.5)));
    }
    Resizer::new().resize(&source, &mut result, &options).map_err(|e| e.to_string())?;
    Ok(result.into_vec())
}

/// The largest size with the picture's proportions that the frame holds, in whole texels.
fn contained(size: Frame, frame: Frame) -> Frame {
    let [w, h] = [size.width, size.height].map(u64::from);
    let [fw, fh] = [frame.width, frame.height].map(u64::from);
    // Rounded to the nearest texel; never past the frame's own side, which fits 32 bits.
    let scaled =
        |side: u64, to: u64, of: u64, most: u64| ((2 * side * to + of) / (2 * of)).clamp(1, most) as u32;
    if fw * h <= fh * w {
        Frame { width: frame.width, height: scaled(h, fw, w, fh) }
    } else {
        Frame { width: scaled(w, fh, h, fw), height: frame.height }
    }
}

/// Texel for texel in the middle of a transparent frame, cut off at its sides; where
/// the room is odd, the texel too many is at the right or at the bottom.
fn centred(texels: &[u8], size: Frame, frame: Frame) -> Vec<u8> {
    let mut rgba = vec![0; frame.texels() as usize * TEXEL_BYTES];
    let (into_x, from_x, width) = overlap(size.width, frame.width);
    let (into_y, from_y, height) = overlap(size.height, frame.height);
    let start = |x: usize, y: usize, row: u32| (y * row as usize + x) * TEXEL_BYTES;
    for y in 0..height {
        let from = start(from_x, from_y + y, size.width);
        let into = start(into_x, into_y + y, frame.width);
        let bytes = width * TEXEL_BYTES;
        rgba[into..into + bytes].copy_from_slice(&texels[from..from + bytes]);
    }
    rgba
}

/// Along one side: where the picture starts in the frame, where in itself, and how much of it shows.
fn overlap(size: u32, frame: u32) -> (usize, usize, usize) {
    let left = (i64::from(frame) - i64::from(size)).div_euclid(2);
    (left.max(0) as usize, (-left).max(0) as usize, size.min(frame) as usize)
}
