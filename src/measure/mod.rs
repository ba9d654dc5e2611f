//! How different two pictures look, and what in a sequence flashes.
//!
//! A difference is CIEDE2000 (CIE 142-2001) of output bytes, as laid over
//! opaque black. The GPU works it out for whole walls; [`Difference::of`] is
//! the same on the processor in 64 bits, for checks.

mod ciede2000;
mod flashes;
mod scale;
mod traits;

pub use ciede2000::{ciede2000, lab_from_srgb};
pub use flashes::{
    FIELD_HEIGHT, Finding, FlashCounter, FlashReport, Limit, MOST_CHANGES, PEAK_CD_M2, Place, Viewing,
};
pub use scale::{DifferenceScale, LOWEST_SCALE};
pub use traits::Traits;

use crate::footage::Picture;

/// The colour differences of one picture from another, in CIEDE2000.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Difference {
    /// Over all texels.
    pub mean: f64,
    /// 95 of 100 texels differ by at most this much: the upper end of the histogram bin that holds
    /// the texel of that rank, so at most a bin's width too high (see [`bin_of`]).
    pub p95: f64,
    /// Of the texel that differs most.
    pub max: f64,
    /// Texels whose bytes differ, of all: 0 to 1.
    pub changed_share: f64,
}

/// Steps of a texel's difference in one unit of CIEDE2000: differences are summed as whole numbers,
/// so that the sum does not depend on who adds first.
pub const STEPS: u32 = 1024;

/// Bins of the histogram that the 95th percentile is read from.
pub const BINS: usize = 256;

/// The bin of a difference in [`STEPS`]: 1/16 wide below 8, 1/4 wide below 32, and 4 wide from there on.
pub fn bin_of(steps: u32) -> usize {
    let bin = match steps / STEPS {
        0..8 => steps / (STEPS / 16),
        8..32 => 128 + (steps - 8 * STEPS) / (STEPS / 4),
        _ => 224 + (steps - 32 * STEPS) / (STEPS * 4),
    };
    (bin as usize).min(BINS - 1)
}

/// Where a bin ends, in CIEDE2000.
fn end_of(bin: usize) -> f64 {
    match bin {
        0..128 => (bin + 1) as f64 / 16.0,
        128..224 => 8.0 + (bin - 127) as f64 / 4.0,
        _ => 32.0 + (bin - 223) as f64 * 4.0,
    }
}

/// What is counted of a pair of pictures; the GPU fills the same figures.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Counted {
    /// Texels of the frame.
    pub texels: u64,
    /// Texels whose bytes differ.
    pub changed: u64,
    /// The largest difference, in [`STEPS`].
    pub largest: u32,
    /// The sum of all differences, in [`STEPS`].
    pub sum: u64,
    /// Changed texels by [`bin_of`].
    pub bins: [u32; BINS],
}

impl Counted {
    /// Nothing counted yet.
    pub fn of_texels(texels: u64) -> Self {
        Self { texels, changed: 0, largest: 0, sum: 0, bins: [0; BINS] }
    }

    /// The difference in figures.
    pub fn difference(&self) -> Difference {
        let texels = self.texels.max(1) as f64;
        // Nearest rank: the smallest value that at least 95 of 100 texels do not exceed.
        let rank = (self.texels * 95).div_ceil(100);
        let mut seen = self.texels - self.changed;
        let mut p95 = 0.0;
        if seen < rank {
            for (bin, &count) in self.bins.iter().enumerate() {
                seen += u64::from(count);
                if seen >= rank {
                    p95 = end_of(bin).min(f64::from(self.largest) / f64::from(STEPS));
                    break;
                }
            }
        }
        Difference {
            mean: self.sum as f64 / f64::from(STEPS) / texels,
            p95,
            max: f64::from(self.largest) / f64::from(STEPS),
            changed_share: self.changed as f64 / texels,
        }
    }
}

impl Difference {
    /// The larger figures of both.
    #[must_use]
    pub fn furthest(&self, other: &Self) -> Self {
        Self {
            mean: self.mean.max(other.mean),
            p95: self.p95.max(other.p95),
            max: self.max.max(other.max),
            changed_share: self.changed_share.max(other.changed_share),
        }
    }

    /// The difference of two pictures of one frame, worked out on the processor.
    pub fn of(a: &Picture, b: &Picture) -> Self {
        let mut counted = Counted::of_texels(a.frame.texels());
        for (a, b) in a.rgba.chunks_exact(4).zip(b.rgba.chunks_exact(4)) {
            if a == b {
                continue;
            }
            counted.changed += 1;
            let lab = |texel: &[u8]| lab_from_srgb(over_black([texel[0], texel[1], texel[2], texel[3]]));
            let steps = (ciede2000(lab(a), lab(b)) * f64::from(STEPS) + 0.5) as u32;
            counted.largest = counted.largest.max(steps);
            counted.sum += u64::from(steps);
            counted.bins[bin_of(steps)] += 1;
        }
        counted.difference()
    }
}

/// What a screen shows of a texel with straight alpha where nothing is under it.
fn over_black([r, g, b, a]: [u8; 4]) -> [u8; 3] {
    [r, g, b].map(|c| ((u32::from(c) * u32::from(a) * 2 + 255) / 510) as u8)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn bins_cover_every_difference_in_turn() {
        assert_eq!((bin_of(0), bin_of(63), bin_of(64)), (0, 0, 1));
        assert_eq!((bin_of(8 * STEPS - 1), bin_of(8 * STEPS), bin_of(9 * STEPS)), (127, 128, 132));
        assert_eq!((bin_of(32 * STEPS - 1), bin_of(32 * STEPS), bin_of(36 * STEPS)), (223, 224, 225));
        assert_eq!(
            (end_of(0), end_of(127), end_of(128), end_of(223), end_of(224)),
            (0.0625, 8.0, 8.25, 32.0, 36.0)
        );
        for steps in 0..150 * STEPS {
            let bin = bin_of(steps);
            assert!(f64::from(steps) < end_of(bin) * f64::from(STEPS), "{steps}");
            assert!(bin == 0 || f64::from(steps) >= end_of(bin - 1) * f64::from(STEPS), "{steps}");
        }
        assert_eq!(bin_of(u32::MAX), BINS - 1);
    }

    #[test]
    fn the_95th_percentile_is_of_the_nearest_rank() {
        // 100 texels: 94 the same, 5 at 2.0, 1 at 20.0. Rank 95 is a texel at 2.0.
        let mut counted = Counted::of_texels(100);
        counted.changed = 6;
        counted.largest = 20 * STEPS;
        counted.sum = u64::from(5 * 2 * STEPS + 20 * STEPS);
        counted.bins[bin_of(2 * STEPS)] = 5;
        counted.bins[bin_of(20 * STEPS)] = 1;
        let difference = counted.difference();
        assert_eq!((difference.mean, difference.p95, difference.max), (0.3, 2.0625, 20.0));
        assert_eq!(difference.changed_share, 0.06);
    }
}
