//! Y'CbCr in 8 bits, as films hold their pictures, to and from R'G'B' in 8 bits.
//!
//! Weights: ITU-R BT.601-7, 2.5.1, and BT.709-6, item 3.2. Levels of the limited range: BT.601-7, 2.5.3, and
//! BT.709-6, item 4.6. Values stay encoded; no transfer function is undone.

/// Which weights the three colours have in the luma.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Matrix {
    /// ITU-R BT.601: standard definition.
    Bt601,
    /// ITU-R BT.709: high definition.
    Bt709,
}

impl Matrix {
    /// The matrix of a film that names none: BT.601 up to 576 lines, BT.709 above
    /// (common practice, no source).
    pub fn of_lines(lines: u32) -> Self {
        if lines <= 576 { Self::Bt601 } else { Self::Bt709 }
    }

    /// Weights of red and of blue; green has the rest.
    fn weights(self) -> [f32; 2] {
        match self {
            Self::Bt601 => [0.299, 0.114],
            Self::Bt709 => [0.2126, 0.0722],
        }
    }
}

/// Which bytes stand for black and white.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Range {
    /// Luma 16 to 235, colour differences 16 to 240.
    Limited,
    /// 0 to 255.
    Full,
}

impl Range {
    /// The byte of black, and the steps of luma and of a colour difference of 1.
    fn levels(self) -> [f32; 3] {
        match self {
            Self::Limited => [16.0, 219.0, 224.0],
            Self::Full => [0.0, 255.0, 255.0],
        }
    }
}

/// R'G'B' of a texel; the colour differences may lie between two bytes. Values past the range are clamped.
pub fn rgb(y: f32, cb: f32, cr: f32, matrix: Matrix, range: Range) -> [u8; 3] {
    let ([kr, kb], [black, luma, difference]) = (matrix.weights(), range.levels());
    let y = (y - black) / luma;
    let (cb, cr) = ((cb - 128.0) / difference, (cr - 128.0) / difference);
    let red = y + 2.0 * (1.0 - kr) * cr;
    let blue = y + 2.0 * (1.0 - kb) * cb;
    let green = (y - kr * red - kb * blue) / (1.0 - kr - kb);
    // A float past a byte's range gives its nearest byte.
    [red, green, blue].map(|channel| (channel * 255.0).round() as u8)
}

/// Y'CbCr of a texel.
pub fn from_rgb(rgb: [u8; 3], matrix: Matrix, range: Range) -> [u8; 3] {
    samples(rgb, matrix.weights(), range.levels())
}

/// Y'CbCr of many texels of four bytes, the last of which is not looked at; each of the three in a plane of its own.
pub fn planes_of(texels: &[[u8; 4]], matrix: Matrix, range: Range, [y, cb, cr]: [&mut [u8]; 3]) {
    let (weights, levels) = (matrix.weights(), range.levels());
    for (((&[red, green, blue, _], y), cb), cr) in texels.iter().zip(y).zip(cb).zip(cr) {
        [*y, *cb, *cr] = samples([red, green, blue], weights, levels);
    }
}

#[inline]
fn samples(rgb: [u8; 3], [kr, kb]: [f32; 2], [black, luma, difference]: [f32; 3]) -> [u8; 3] {
    let [red, green, blue] = rgb.map(|channel| f32::from(channel) / 255.0);
    let y = kr * red + (1.0 - kr - kb) * green + kb * blue;
    let cb = (blue - y) / (2.0 * (1.0 - kb));
    let cr = (red - y) / (2.0 * (1.0 - kr));
    // None is below 0, so that cutting off rounds; a processor does it for many at once, as it does not `round`.
    [black + luma * y, 128.0 + difference * cb, 128.0 + difference * cr]
        .map(|value| (value + 0.5) as i32 as u8)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn cutting_off_half_a_byte_later_rounds() {
        let rounded = |value: f32| value.round() as u8;
        for matrix in [Matrix::Bt601, Matrix::Bt709] {
            let ([kr, kb], [black, luma, difference]) = (matrix.weights(), Range::Limited.levels());
            for colour in (0..1_u32 << 24).step_by(5) {
                let [_, r, g, b] = colour.to_be_bytes();
                let [red, green, blue] = [r, g, b].map(|channel| f32::from(channel) / 255.0);
                let y = kr * red + (1.0 - kr - kb) * green + kb * blue;
                let (cb, cr) = ((blue - y) / (2.0 * (1.0 - kb)), (red - y) / (2.0 * (1.0 - kr)));
                let bytes = [black + luma * y, 128.0 + difference * cb, 128.0 + difference * cr].map(rounded);
                assert_eq!(from_rgb([r, g, b], matrix, Range::Limited), bytes, "{r} {g} {b}");
            }
        }
    }

    #[test]
    fn the_corners_of_the_colour_cube_have_the_bytes_of_the_bars() {
        // 100 % colour bars, BT.601 limited: SMPTE RP 219 and EBU Tech 3259 give the same bytes (from memory).
        let bars = [
            ([255, 255, 255], [235, 128, 128]),
            ([255, 255, 0], [210, 16, 146]),
            ([0, 255, 255], [170, 166, 16]),
            ([0, 255, 0], [145, 54, 34]),
            ([255, 0, 255], [106, 202, 222]),
            ([255, 0, 0], [81, 90, 240]),
            ([0, 0, 255], [41, 240, 110]),
            ([0, 0, 0], [16, 128, 128]),
        ];
        for (colour, bytes) in bars {
            assert_eq!(from_rgb(colour, Matrix::Bt601, Range::Limited), bytes, "{colour:?}");
        }
    }

    #[test]
    fn every_grey_comes_back_in_full_range_and_to_one_byte_in_limited() {
        for matrix in [Matrix::Bt601, Matrix::Bt709] {
            for grey in 0..=255_u8 {
                let back = |range| {
                    let [y, cb, cr] = from_rgb([grey; 3], matrix, range).map(f32::from);
                    rgb(y, cb, cr, matrix, range)
                };
                assert_eq!(back(Range::Full), [grey; 3]);
                for channel in back(Range::Limited) {
                    assert!(channel.abs_diff(grey) <= 1, "{grey} {channel}");
                }
            }
        }
    }
}
