//! Pictures as a page's script reads them, to the byte: a browser that decodes pictures may change what it shows.

use std::io::Write as _;

use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;
use flate2::Compression;
use flate2::write::ZlibEncoder;

use crate::base::frame::Frame;
use crate::base::picture::Picture;

/// Rows that are tried together, and how many such bands there are for each that is tried.
const ROWS: usize = 16;
const ONE_OF: usize = 8;

/// A picture of four bytes a texel, deflated.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Packed {
    pub(super) frame: Frame,
    /// Each byte stands for what is added to the one so many before it; those without one stand for themselves.
    pub(super) by: usize,
    /// The stream of zlib (RFC 1950), in base 64.
    pub(super) text: String,
}

impl Packed {
    pub(super) fn of(picture: &Picture) -> Self {
        let (frame, rgba) = (picture.frame, &picture.rgba);
        // Soft pictures by the texel at the left, drawn ones as they are, whichever is the smaller of some rows.
        let band = frame.width as usize * 4 * ROWS;
        let tried: Vec<u8> = rgba.chunks(band.max(1)).step_by(ONE_OF).flatten().copied().collect();
        let by = [4, rgba.len()].into_iter().min_by_key(|&by| deflated(&apart(&tried, by)).len());
        let by = by.unwrap_or(rgba.len());
        Self { frame, by, text: STANDARD.encode(deflated(&apart(rgba, by))) }
    }
}

fn apart(bytes: &[u8], by: usize) -> Vec<u8> {
    let mut apart = bytes.to_vec();
    for (apart, before) in apart.iter_mut().skip(by).zip(bytes) {
        *apart = apart.wrapping_sub(*before);
    }
    apart
}

fn deflated(bytes: &[u8]) -> Vec<u8> {
    let mut encoder = ZlibEncoder::new(Vec::new(), Compression::default());
    // Nothing is written but into memory.
    let _ = encoder.write_all(bytes);
    encoder.finish().unwrap_or_default()
}

#[cfg(test)]
mod tests {
    use std::io::Read as _;

    use flate2::read::ZlibDecoder;

    use super::*;

    /// As the script does it.
    fn unpacked(packed: &Packed) -> Vec<u8> {
        let mut bytes = Vec::new();
        let deflated = STANDARD.decode(&packed.text).unwrap();
        ZlibDecoder::new(&deflated[..]).read_to_end(&mut bytes).unwrap();
        for at in packed.by..bytes.len() {
            bytes[at] = bytes[at].wrapping_add(bytes[at - packed.by]);
        }
        bytes
    }

    fn picture(width: u32, height: u32, texel: impl Fn(u32, u32) -> [u8; 4]) -> Picture {
        let rgba = (0..height).flat_map(|y| (0..width).map(move |x| (x, y))).flat_map(|(x, y)| texel(x, y));
        Picture { frame: Frame { width, height }, rgba: rgba.collect(), opaque: false }
    }

    #[test]
    fn every_byte_comes_back_also_under_no_alpha() {
        let bytes =
            |x: u32, y: u32| [x * 8, y * 30, x * y, (x % 3) * 127].map(|channel| (channel % 256) as u8);
        for (width, height) in [(31, 7), (1, 1), (3, 200), (257, 33)] {
            let picture = picture(width, height, bytes);
            assert_eq!(unpacked(&Packed::of(&picture)), picture.rgba, "{width}x{height}");
        }
    }

    #[test]
    fn soft_pictures_are_told_by_what_changes_and_drawn_ones_as_they_are() {
        let soft = picture(320, 180, |x, y| {
            let light = (f64::from(x) / 40.0).sin() * 100.0 + f64::from(y) / 4.0 + 110.0;
            [light as u8, (light / 2.0) as u8, (x / 2) as u8, 255]
        });
        // Four inks, scattered.
        let drawn = picture(320, 180, |x, y| {
            let ink = (x.wrapping_mul(73_856_093) ^ y.wrapping_mul(19_349_663)) >> 9 & 3;
            [[10, 200, 60, 255], [250, 30, 90, 255], [90, 90, 255, 255], [0, 0, 0, 255]][ink as usize]
        });
        for (picture, by) in [(soft, 4), (drawn.clone(), drawn.rgba.len())] {
            let packed = Packed::of(&picture);
            assert_eq!(packed.by, by);
            assert_eq!(unpacked(&packed), picture.rgba);
        }
    }
}
