//! A frame as a PNG: packed quickly where that makes it hardly larger, and thoroughly otherwise.
//!
//! Packing is most of what a PNG takes. Of what is rendered, quick packing makes about as small a file as often as not, ten
//! times sooner; drawn surfaces and letters, which come again, take half as much again with it. So both are tried on some
//! of the rows.

use png::DeflateCompression;

use super::Still;
use crate::base::frame::Frame;

const QUICK: DeflateCompression = DeflateCompression::FdeflateUltraFast;
/// The level that zlib takes where none is named.
const THOROUGH: DeflateCompression = DeflateCompression::Level(6);

/// Rows that are tried together: packing sees what comes again within 32 KiB (RFC 1951, 2), four rows of a wide picture.
const ROWS: usize = 16;
/// How many such bands are tried, spread over the picture; of a low one all.
const BANDS: usize = 6;

/// A picture as the bytes of a PNG.
pub(super) fn png_of(picture: Still<'_>) -> Result<Vec<u8>, png::EncodingError> {
    let Still { frame: Frame { width, .. }, rgba } = picture;
    let bands: Vec<&[u8]> = rgba.chunks(width as usize * 4 * ROWS).collect();
    if bands.len() <= BANDS {
        let [quick, thorough] = [packed(picture, QUICK)?, packed(picture, THOROUGH)?];
        return Ok(if is_hardly_larger(quick.len(), thorough.len()) { quick } else { thorough });
    }
    let (mut quick, mut thorough) = (0, 0);
    for nth in 0..BANDS {
        let rgba = bands[(2 * nth + 1) * bands.len() / (2 * BANDS)];
        let frame = Frame { width, height: (rgba.len() / (width as usize * 4)) as u32 };
        quick += packed(Still { frame, rgba }, QUICK)?.len();
        thorough += packed(Still { frame, rgba }, THOROUGH)?.len();
    }
    packed(picture, if is_hardly_larger(quick, thorough) { QUICK } else { THOROUGH })
}

/// By a thirtieth at most.
fn is_hardly_larger(bytes: usize, other: usize) -> bool {
    bytes <= other + other / 30
}

fn packed(picture: Still<'_>, how: DeflateCompression) -> Result<Vec<u8>, png::EncodingError> {
    let mut bytes = Vec::new();
    let mut encoder = png::Encoder::new(&mut bytes, picture.frame.width, picture.frame.height);
    encoder.set_color(png::ColorType::Rgba);
    encoder.set_depth(png::BitDepth::Eight);
    encoder.set_deflate_compression(how);
    // Each row by the filter that suits it; the quick way would take one for all.
    encoder.set_filter(png::Filter::Adaptive);
    let mut writer = encoder.write_header()?;
    writer.write_image_data(picture.rgba)?;
    writer.finish()?;
    Ok(bytes)
}

#[cfg(test)]
mod tests {
    use super::*;

    const FRAME: Frame = Frame { width: 320, height: 400 };

    /// Pictures of all kinds: soft light with the noise of a camera, noise alone, edges that come again as those of letters
    /// do, and half soft light, half edges.
    fn pictures() -> [Vec<u8>; 4] {
        let made = |texel: &mut dyn FnMut(u32, u32) -> [u8; 3]| -> Vec<u8> {
            let places = (0..FRAME.height).flat_map(|y| (0..FRAME.width).map(move |x| (x, y)));
            places
                .flat_map(|(x, y)| {
                    let [r, g, b] = texel(x, y);
                    [r, g, b, 255]
                })
                .collect()
        };
        let mut random = 1_u32;
        let mut noise = || {
            random = random.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            random >> 24
        };
        let soft = |x: u32, y: u32| {
            [(0.021, 0.017, 0.3), (0.013, 0.029, 1.1), (0.031, 0.011, 2.2)].map(|(across, down, from)| {
                let wave = (x as f32 * across + from).sin() * (y as f32 * down + from).cos();
                (127.0 + 100.0 * wave) as i32
            })
        };
        let edges =
            |x: u32, y: u32| if ((x * 7 / 5) ^ (y * 3)) % 24 < 9 { [240, 120, 40] } else { [8, 16, 32] };
        [
            made(&mut |x, y| {
                soft(x, y).map(|light| {
                    // Mostly small, as noise is.
                    let off = noise() as i32 - 127;
                    (light + off * off * off / 120_000) as u8
                })
            }),
            made(&mut |_, _| [noise(), noise(), noise()].map(|channel| channel as u8)),
            made(&mut |x, y| edges(x, y)),
            made(&mut |x, y| if y < 200 { soft(x, y).map(|light| light as u8) } else { edges(x, y) }),
        ]
    }

    #[test]
    fn a_packed_frame_has_the_texels_that_it_was_made_of_and_is_hardly_larger_than_packed_thoroughly() {
        let (mut quick, mut thorough) = (0, 0);
        for (nth, rgba) in pictures().iter().enumerate() {
            let still = Still { frame: FRAME, rgba };
            let png = png_of(still).unwrap();
            // Decoded by the `image` crate.
            let read = image::load_from_memory(&png).unwrap().into_rgba8();
            assert_eq!((read.width(), read.height(), read.as_raw()), (FRAME.width, FRAME.height, rgba));
            let whole = [QUICK, THOROUGH].map(|how| packed(still, how).unwrap().len());
            // What some of the rows say may be a little wrong of the whole.
            assert!(png.len() as f64 <= whole[1] as f64 * 1.05, "picture {nth}: {} of {whole:?}", png.len());
            quick += usize::from(png.len() == whole[0]);
            thorough += usize::from(png.len() == whole[1]);
        }
        assert!(quick > 0 && thorough > 0, "{quick} {thorough}: one of the ways is never taken");
    }
}
