//! Pictures as light on a coarser grid: the mean of the linear light that each square of it covers.

use std::ops::Range;
use std::sync::Arc;

use super::over_black;
use crate::base::colour::linear_from_srgb;
use crate::base::frame::Frame;
use crate::base::picture::Texels;

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

/// Makes the light of rows of squares, of pictures of one size; what is as it was in the picture before is not looked at
/// again.
#[derive(Debug)]
pub(super) struct Reducer {
    from: Frame,
    grid: Grid,
    /// The rows of squares.
    squares: Range<usize>,
    /// The rows of the picture that they cover, each by the columns of the grid.
    across: Vec<[f32; 3]>,
    /// The picture before, and its light.
    before: Option<(Arc<dyn Texels>, Arc<Light>)>,
}

/// What each square covers, and the light of a byte.
#[derive(Debug)]
struct Grid {
    light: Box<[f32; 256]>,
    columns: Vec<Span>,
    rows: Vec<Span>,
    row_bytes: usize,
}

impl Reducer {
    /// Of these rows of the squares of `into`.
    pub(super) fn new(from: Frame, into: Frame, squares: Range<usize>) -> Self {
        let mut light = Box::new([0.0; 256]);
        for (byte, light) in light.iter_mut().enumerate() {
            *light = linear_from_srgb(byte as f64 / 255.0) as f32;
        }
        let grid = Grid {
            light,
            columns: Span::all(from.width, into.width),
            rows: Span::all(from.height, into.height),
            row_bytes: from.width as usize * 4,
        };
        Self { from, grid, squares, across: Vec::new(), before: None }
    }

    /// None of a picture of another size; of one with the bytes of the one before, that one's light itself.
    pub(super) fn light_of(&mut self, picture: Arc<dyn Texels>) -> Option<Arc<Light>> {
        if picture.frame() != self.from {
            return None;
        }
        let light = match self.before.take() {
            Some((before, light)) => match self.taken(&*picture, Some((&*before, &light))) {
                Some(texels) => Arc::new(Light { texels }),
                None => light,
            },
            None => Arc::new(Light { texels: self.taken(&*picture, None)? }),
        };
        self.before = Some((picture, Arc::clone(&light)));
        Some(light)
    }

    /// The light of its squares, made where rows of the picture are not those of the one before; none where all are.
    fn taken(
        &mut self,
        picture: &dyn Texels,
        before: Option<(&dyn Texels, &Light)>,
    ) -> Option<Vec<[f32; 3]>> {
        let Self { grid, squares, across, .. } = self;
        let wide = grid.columns.len();
        let rows = &grid.rows[squares.clone()];
        let (top, bottom) = (rows.first()?.first, rows.last()?.last + 1);
        across.resize((bottom - top) * wide, [0.0; 3]);
        let mut linear = vec![[0.0; 4]; grid.row_bytes / 4];
        let mut changed = Vec::with_capacity(bottom - top);
        for (y, across) in (top..bottom).zip(across.chunks_exact_mut(wide)) {
            let row = picture.row(y);
            let is_changed = before.is_none_or(|(before, _)| before.row(y) != row);
            changed.push(is_changed);
            if is_changed {
                grid.reduce(row, &mut linear, across);
            }
        }
        if !changed.contains(&true) {
            return None;
        }
        let mut texels = match before {
            Some((_, light)) => light.texels.clone(),
            None => vec![[0.0; 3]; wide * rows.len()],
        };
        for (rows, into) in rows.iter().zip(texels.chunks_exact_mut(wide)) {
            if changed[rows.first - top..=rows.last - top].contains(&true) {
                into.fill([0.0; 3]);
                let into = into.as_flattened_mut();
                for (y, share) in rows.parts() {
                    let row = across[(y - top) * wide..][..wide].as_flattened();
                    for (into, light) in into.iter_mut().zip(row) {
                        *into += light * share;
                    }
                }
            }
        }
        Some(texels)
    }
}

impl Grid {
    /// One row of a picture by the columns of the grid; `linear` is room for its light, four numbers to the texel, as
    /// processors add four at once.
    fn reduce(&self, row: &[u8], linear: &mut [[f32; 4]], across: &mut [[f32; 3]]) {
        for (texel, linear) in row.as_chunks::<4>().0.iter().zip(&mut *linear) {
            let [r, g, b] = if texel[3] == 255 { [texel[0], texel[1], texel[2]] } else { over_black(*texel) };
            *linear =
                [self.light[usize::from(r)], self.light[usize::from(g)], self.light[usize::from(b)], 0.0];
        }
        // Written out: this is most of what counting takes.
        let shared = |[r, g, b, a]: [f32; 4], share: f32| [r * share, g * share, b * share, a * share];
        let added =
            |[r, g, b, a]: [f32; 4], more: [f32; 4]| [r + more[0], g + more[1], b + more[2], a + more[3]];
        for (span, into) in self.columns.iter().zip(across) {
            let [first, between, last] = span.shares;
            let mut sum = shared(linear[span.first], first);
            if span.last > span.first {
                for texel in &linear[span.first + 1..span.last] {
                    sum = added(sum, shared(*texel, between));
                }
                sum = added(sum, shared(linear[span.last], last));
            }
            let [r, g, b, _] = sum;
            *into = [r, g, b];
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::picture::Picture;

    fn picture(frame: Frame, rgba: Vec<u8>) -> Arc<dyn Texels> {
        Arc::new(Picture { frame, rgba, opaque: true })
    }

    fn whole(from: Frame, into: Frame) -> Reducer {
        Reducer::new(from, into, 0..into.height as usize)
    }

    #[test]
    fn a_square_has_the_mean_light_of_what_it_covers_and_not_the_light_of_the_mean() {
        // Half black, half white: 0.5 of the light, though the mean byte, 128, has 0.2159 (IEC 61966-2-1).
        let [from, into] = [(4, 2), (2, 1)].map(|(width, height)| Frame { width, height });
        let row = [[0, 0, 0, 255], [255, 255, 255, 255]].repeat(4).concat();
        let light = whole(from, into).light_of(picture(from, row)).unwrap();
        assert_eq!(light.texels(), [[0.5; 3]; 2]);
    }

    #[test]
    fn texels_that_two_squares_share_count_by_area_in_each() {
        // Five texels on three squares: each covers 5/3 texels.
        let [from, into] = [(5, 1), (3, 1)].map(|(width, height)| Frame { width, height });
        let white = [false, true, false, false, true];
        let row = white.map(|lit| if lit { [255; 4] } else { [0, 0, 0, 255] }).concat();
        let light = whole(from, into).light_of(picture(from, row)).unwrap();
        // The second texel reaches from 3/5 to 6/5 of a square, the fifth from 12/5 to 3.
        for (square, wanted) in light.texels().iter().zip([0.4, 0.2, 0.6]) {
            assert!((square[0] - wanted).abs() < 1e-6, "{:?}", light.texels());
        }
    }

    #[test]
    fn what_stays_from_picture_to_picture_is_as_if_it_were_made_anew() {
        let [from, into] = [(7, 5), (3, 2)].map(|(width, height)| Frame { width, height });
        let mut rgba: Vec<u8> = (0..from.texels() as usize * 4).map(|at| (at * 37 % 256) as u8).collect();
        let mut kept = whole(from, into);
        let first = kept.light_of(picture(from, rgba.clone())).unwrap();
        assert!(Arc::ptr_eq(&first, &kept.light_of(picture(from, rgba.clone())).unwrap()));
        for at in [0, 4 * 7 * 2 + 9, 4 * 7 * 4 + 27] {
            rgba[at] ^= 0x55;
            let light = kept.light_of(picture(from, rgba.clone())).unwrap();
            assert_eq!(light, whole(from, into).light_of(picture(from, rgba.clone())).unwrap());
        }
    }
}
