//! Pictures as light on a coarser grid: the mean of the linear light that each square of it covers.

use std::sync::Arc;

use super::over_black;
use crate::base::colour::linear_from_srgb;
use crate::base::frame::Frame;
use crate::base::picture::Picture;

/// The mean linear light of each square, row by row: red, green and blue, 0..1.
#[derive(Debug, Clone, PartialEq)]
pub struct Light {
    texels: Vec<[f32; 3]>,
}

impl Light {
    /// One for each square.
    pub fn texels(&self) -> &[[f32; 3]] {
        &self.texels
    }
}

/// What a square covers of the texels along one side of a picture: the first and the last perhaps in part.
#[derive(Debug, Clone, Copy)]
struct Span {
    first: usize,
    last: usize,
    /// Shares of the square's side: of the first texel, of those between, of the last one.
    shares: [f32; 3],
}

impl Span {
    fn all(texels: u32, squares: u32) -> Vec<Self> {
        let (texels, squares) = (u64::from(texels), u64::from(squares));
        // Edges in units of 1/squares of a texel, so that they are whole numbers.
        let span = |at: u64| {
            let (low, high) = (at * texels, (at + 1) * texels);
            let (first, last) = (low / squares, (high - 1) / squares);
            let share = |covered: u64| (covered as f64 / texels as f64) as f32;
            let in_first = ((first + 1) * squares).min(high) - low;
            let in_last = if last > first { high - last * squares } else { 0 };
            let shares = [in_first, squares, in_last].map(share);
            Self { first: first as usize, last: last as usize, shares }
        };
        (0..squares).map(span).collect()
    }

    /// Each place that it covers, with the share that it has of the mean.
    fn parts(self) -> impl Iterator<Item = (usize, f32)> {
        let [first, between, last] = self.shares;
        let inside = (self.first + 1..self.last).map(move |at| (at, between));
        let end = (self.last > self.first).then_some((self.last, last));
        [(self.first, first)].into_iter().chain(inside).chain(end)
    }
}

/// Makes the light of pictures of one size; what is as it was in the picture before is not looked at again.
#[derive(Debug)]
pub(super) struct Reducer {
    from: Frame,
    into: Frame,
    light: Box<[f32; 256]>,
    columns: Vec<Span>,
    rows: Vec<Span>,
    /// The bytes of the picture before.
    before: Vec<u8>,
    /// Its rows, each by the columns of the grid.
    across: Vec<[f32; 3]>,
    made: Option<Arc<Light>>,
}

impl Reducer {
    pub(super) fn new(from: Frame, into: Frame) -> Self {
        let mut light = Box::new([0.0; 256]);
        for (byte, light) in light.iter_mut().enumerate() {
            *light = linear_from_srgb(byte as f64 / 255.0) as f32;
        }
        Self {
            from,
            into,
            light,
            columns: Span::all(from.width, into.width),
            rows: Span::all(from.height, into.height),
            before: Vec::new(),
            across: Vec::new(),
            made: None,
        }
    }

    /// None of a picture of another size; of one with the bytes of the one before, that one's light itself.
    pub(super) fn light_of(&mut self, picture: &Picture) -> Option<Arc<Light>> {
        if picture.frame != self.from {
            return None;
        }
        if let Some(made) = self.made.as_ref().filter(|_| self.before == picture.rgba) {
            return Some(Arc::clone(made));
        }
        let light = |texel: &[u8]| {
            over_black([texel[0], texel[1], texel[2], texel[3]]).map(|byte| self.light[usize::from(byte)])
        };
        let texels = if self.from == self.into {
            picture.rgba.chunks_exact(4).map(light).collect()
        } else {
            let (row_bytes, wide) = (self.from.width as usize * 4, self.into.width as usize);
            let is_first = self.before.is_empty();
            self.across.resize(self.from.height as usize * wide, [0.0; 3]);
            let mut linear = Vec::with_capacity(self.from.width as usize);
            let mut changed = Vec::with_capacity(self.from.height as usize);
            for (y, row) in picture.rgba.chunks_exact(row_bytes).enumerate() {
                let is_changed = is_first || self.before[y * row_bytes..][..row_bytes] != *row;
                changed.push(is_changed);
                if is_changed {
                    linear.clear();
                    linear.extend(row.chunks_exact(4).map(light));
                    for (span, into) in self.columns.iter().zip(&mut self.across[y * wide..][..wide]) {
                        let [mut r, mut g, mut b] = [0.0; 3];
                        for (at, share) in span.parts() {
                            let texel: [f32; 3] = linear[at];
                            r += texel[0] * share;
                            g += texel[1] * share;
                            b += texel[2] * share;
                        }
                        *into = [r, g, b];
                    }
                }
            }
            let mut texels = match &self.made {
                Some(made) => made.texels.clone(),
                None => vec![[0.0; 3]; self.into.texels() as usize],
            };
            for (rows, into) in self.rows.iter().zip(texels.chunks_exact_mut(wide)) {
                if changed[rows.first..=rows.last].contains(&true) {
                    into.fill([0.0; 3]);
                    let into = into.as_flattened_mut();
                    for (y, share) in rows.parts() {
                        let row = self.across[y * wide..][..wide].as_flattened();
                        for (into, light) in into.iter_mut().zip(row) {
                            *into += light * share;
                        }
                    }
                }
            }
            texels
        };
        self.before.clone_from(&picture.rgba);
        let made = Arc::new(Light { texels });
        self.made = Some(Arc::clone(&made));
        Some(made)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn picture(frame: Frame, rgba: Vec<u8>) -> Picture {
        Picture { frame, rgba, opaque: true }
    }

    #[test]
    fn a_square_has_the_mean_light_of_what_it_covers_and_not_the_light_of_the_mean() {
        // Half black, half white: 0.5 of the light, though the mean byte, 128, has 0.2159 (IEC 61966-2-1).
        let [from, into] = [(4, 2), (2, 1)].map(|(width, height)| Frame { width, height });
        let row = [[0, 0, 0, 255], [255, 255, 255, 255]].repeat(4).concat();
        let light = Reducer::new(from, into).light_of(&picture(from, row)).unwrap();
        assert_eq!(light.texels(), [[0.5; 3]; 2]);
    }

    #[test]
    fn texels_that_two_squares_share_count_by_area_in_each() {
        // Five texels on three squares: each covers 5/3 texels.
        let [from, into] = [(5, 1), (3, 1)].map(|(width, height)| Frame { width, height });
        let white = [false, true, false, false, true];
        let row = white.map(|lit| if lit { [255; 4] } else { [0, 0, 0, 255] }).concat();
        let light = Reducer::new(from, into).light_of(&picture(from, row)).unwrap();
        // The second texel reaches from 3/5 to 6/5 of a square, the fifth from 12/5 to 3.
        for (square, wanted) in light.texels().iter().zip([0.4, 0.2, 0.6]) {
            assert!((square[0] - wanted).abs() < 1e-6, "{:?}", light.texels());
        }
    }

    #[test]
    fn what_stays_from_picture_to_picture_is_as_if_it_were_made_anew() {
        let [from, into] = [(7, 5), (3, 2)].map(|(width, height)| Frame { width, height });
        let mut rgba: Vec<u8> = (0..from.texels() as usize * 4).map(|at| (at * 37 % 256) as u8).collect();
        let mut kept = Reducer::new(from, into);
        let first = kept.light_of(&picture(from, rgba.clone())).unwrap();
        assert!(Arc::ptr_eq(&first, &kept.light_of(&picture(from, rgba.clone())).unwrap()));
        for at in [0, 4 * 7 * 2 + 9, 4 * 7 * 4 + 27] {
            rgba[at] ^= 0x55;
            let light = kept.light_of(&picture(from, rgba.clone())).unwrap();
            assert_eq!(light, Reducer::new(from, into).light_of(&picture(from, rgba.clone())).unwrap());
        }
    }
}
