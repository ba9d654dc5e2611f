//! How a picture is looked at, and the squares that its flashes are counted by.

use std::ops::Range;

use serde::{Deserialize, Serialize};

use crate::base::frame::Frame;

/// What a luminance of 1 is taken for, in cd/m2: with it, the 20 and 160 cd/m2 of ITU-R BT.1702 are
/// the 10 % and 0.80 of WCAG 2.2.
pub const PEAK_CD_M2: f64 = 200.0;
/// Height of the 10 degree field, in picture heights: 256 of 768 texels (WCAG 2.2, Understanding 2.3.1).
pub const FIELD_HEIGHT: f64 = 256.0 / 768.0;
/// Width of that field over its height: 341 to 256 texels (the same).
const FIELD_SHAPE: f64 = 341.0 / 256.0;
/// Squares that pictures are counted by, along the height of that field: 0.1 of 10 degrees.
const SQUARES: f64 = 100.0;
/// Fewest rows that a larger picture is counted on: those of WCAG's screen, from however far it is seen.
const FEWEST_ROWS: f64 = 300.0;
/// How near the side of a square may come to a whole number of texels from below, as a share of it.
const NEAR_WHOLE: f64 = 0.96;

/// How the picture is looked at.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Viewing {
    /// Height of the 10 degree field of view, in picture heights.
    pub field_height: f64,
    /// Luminance of white, in cd/m2.
    pub peak_cd_m2: f64,
}

impl Default for Viewing {
    /// WCAG's screen: 10 degrees are a third of the picture's height.
    fn default() -> Self {
        Self { field_height: FIELD_HEIGHT, peak_cd_m2: PEAK_CD_M2 }
    }
}

impl Viewing {
    /// The field seen from a distance, in picture heights: 10 degrees are 2 tan(5 degrees) of it.
    #[must_use]
    pub fn from_distance(self, heights: f64) -> Self {
        Self { field_height: 2.0 * heights * 5.0_f64.to_radians().tan(), ..self }
    }

    /// The distance from which it is looked at, in picture heights.
    pub fn distance(self) -> f64 {
        self.field_height / (2.0 * 5.0_f64.to_radians().tan())
    }

    /// The squares that a picture of this size is counted by: of 0.1 degree or less, 300 rows or more; the
    /// texels themselves where they are no smaller.
    ///
    /// A side is never just a whole number of texels: a pattern of stripes as wide could lie on every square
    /// by halves, and would not be seen at all.
    pub fn squares(self, frame: Frame) -> Frame {
        let height = f64::from(frame.height);
        let mut rows = (SQUARES / self.field_height - 1e-9).ceil().max(FEWEST_ROWS);
        while rows < height && height / rows > NEAR_WHOLE * (height / rows - 1e-9).ceil() {
            rows += 1.0;
        }
        if rows >= height {
            return frame;
        }
        let width = (f64::from(frame.width) * rows / height).round().max(1.0);
        Frame { width: width as u32, height: rows as u32 }
    }

    /// The 10 degree field on a picture of this size, in whole texels.
    pub(super) fn field(self, frame: Frame) -> Frame {
        let height = self.field_height * f64::from(frame.height);
        let side = |length: f64, most: u32| (length.round() as u32).clamp(1, most);
        Frame { width: side(height * FIELD_SHAPE, frame.width), height: side(height, frame.height) }
    }
}

/// How pictures are counted: their size, frames to the second, and how they are looked at.
#[derive(Debug, Clone, Copy)]
pub struct Counting {
    /// The size of the pictures.
    pub frame: Frame,
    /// The number of frames of which the first and the last are less than a second apart: 60 at 60 frames a second, 30 at
    /// 30000/1001. At least 1 and at most 240.
    pub second: usize,
    /// How they are looked at.
    pub viewing: Viewing,
}

impl Counting {
    /// Rows of squares in parts of about the same height, at least one of them.
    pub fn parts(&self, wanted: usize) -> Vec<Range<usize>> {
        let tall = self.viewing.squares(self.frame).height as usize;
        let part = tall.div_ceil(wanted.max(1)).max(1);
        (0..tall).step_by(part).map(|top| top..(top + part).min(tall)).collect()
    }
}
