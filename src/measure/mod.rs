//! How different two pictures look, and what in a sequence flashes.
//!
//! A difference is CIEDE2000 (CIE 142-2001) of output bytes, as laid over
//! opaque black. The GPU works it out for whole walls; [`Difference::of`] is
//! the same on the processor in 64 bits, for checks.

mod ciede2000;
mod findings;
mod flashes;
mod judging;
mod light;
mod scale;
mod traits;
mod viewing;
mod words;

pub use ciede2000::{ciede2000, lab_from_srgb, lightness};
pub use findings::{Finding, FlashReport, Limit, MOST_CHANGES, Region};
pub use flashes::{Changed, FlashCounter, FlashPart, LightPart};
pub use judging::FlashJudge;
pub use light::Light;
pub use scale::{DifferenceScale, LOWEST_SCALE, Scale};
pub use traits::{Trait, Traits};
pub use viewing::{Counting, FIELD_HEIGHT, PEAK_CD_M2, Viewing};
pub use words::{HARDLY, HARDLY_SHOWS, figure_said};

use serde::{Deserialize, Serialize};

use crate::base::picture::Picture;

/// The colour differences of one picture from another, in CIEDE2000.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, Deserialize)]
pub struct Difference {
    /// Over all texels.
    pub mean: f64,
    /// 95 of 100 texels differ by at most this much: the percentile between the two nearest ranks (type 7
    /// of Hyndman and Fan 1996, as numpy and R have it), from bins, so that it is at most half the
    /// width of one off (see [`bin_of`]): 0.08.
    pub p95: f64,
    /// Of the texel that differs most.
    pub max: f64,
    /// Texels whose bytes differ, of all: 0 to 1.
    pub changed_share: f64,
}

/// Steps of a texel's difference in one unit of CIEDE2000: differences are summed as whole numbers,
/// so that the sum does not depend on who adds first.
pub const STEPS: u32 = 1024;

/// Bins of the histogram that the 95th percentile is read from: as many as reach past 119, which no two
/// colours of sRGB exceed, and as few as let a wall of 40,320 orders be counted in 128 MiB, which is all
/// that software adapters bind.
pub const BINS: usize = 808;

/// Bins below [`FINE_END`], and how wide they and those above are, in [`STEPS`].
const FINE_BINS: u32 = 64;
const FINE_WIDTH: u32 = STEPS / 16;
const FINE_END: u32 = FINE_BINS * FINE_WIDTH;
const WIDTH: u32 = STEPS * 5 / 32;

/// The bin of a difference in [`STEPS`]: 1/16 of a CIEDE2000 wide below 4, and 5/32 from there on.
pub fn bin_of(steps: u32) -> usize {
    let bin = if steps < FINE_END { steps / FINE_WIDTH } else { FINE_BINS + (steps - FINE_END) / WIDTH };
    (bin as usize).min(BINS - 1)
}

/// The first difference of a bin, in [`STEPS`].
fn start_of(bin: usize) -> u32 {
    let bin = bin as u32;
    if bin < FINE_BINS { bin * FINE_WIDTH } else { FINE_END + (bin - FINE_BINS) * WIDTH }
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

    /// Adds what was counted of other texels of the same frame.
    pub fn add(&mut self, other: &Self) {
        self.changed += other.changed;
        self.largest = self.largest.max(other.largest);
        self.sum += other.sum;
        self.bins.iter_mut().zip(&other.bins).for_each(|(bin, more)| *bin += more);
    }

    /// The mean of all differences; of some of the texels, what they alone bring it to.
    pub fn mean(&self) -> f64 {
        self.sum as f64 / f64::from(STEPS) / self.texels.max(1) as f64
    }

    /// The difference in figures.
    pub fn difference(&self) -> Difference {
        let texels = self.texels.max(1) as f64;
        // Between the texels of these two ranks, counted from 0, by hundredths.
        let rank = (self.texels.max(1) - 1) * 95;
        let [low, high] = self.at_ranks([rank / 100, rank.div_ceil(100)]);
        Difference {
            mean: self.mean(),
            p95: low + (high - low) * (rank % 100) as f64 / 100.0,
            max: f64::from(self.largest) / f64::from(STEPS),
            changed_share: self.changed as f64 / texels,
        }
    }
}

impl Counted {
    /// The differences of the texels of two ranks, the second at or above the first, as the bins know them.
    fn at_ranks(&self, ranks: [u64; 2]) -> [f64; 2] {
        let mut found = [0.0; 2];
        let mut seen = self.texels - self.changed;
        let mut open = ranks.iter().position(|&rank| rank >= seen).unwrap_or(2);
        for (bin, &count) in self.bins.iter().enumerate() {
            seen += u64::from(count);
            while open < 2 && ranks[open] < seen {
                found[open] = self.within(bin);
                open += 1;
            }
            if open == 2 {
                break;
            }
        }
        found
    }

    /// The middle of what a bin holds.
    fn within(&self, bin: usize) -> f64 {
        let steps = f64::from(STEPS);
        // Texels that all differ alike need no guess.
        if self.sum == self.changed * u64::from(self.largest) {
            return f64::from(self.largest) / steps;
        }
        let last = if bin + 1 < BINS { (start_of(bin + 1) - 1).min(self.largest) } else { self.largest };
        (f64::from(start_of(bin)) + f64::from(last)) / 2.0 / steps
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
        assert_eq!((bin_of(4 * STEPS - 1), bin_of(4 * STEPS), bin_of(4 * STEPS + 160)), (63, 64, 65));
        for steps in 0..120 * STEPS {
            let bin = bin_of(steps);
            assert!(start_of(bin) <= steps && steps < start_of(bin + 1), "{steps}");
            assert!(bin < BINS - 1 && start_of(bin + 1) - start_of(bin) <= WIDTH, "{steps}");
        }
        assert_eq!(bin_of(u32::MAX), BINS - 1);
    }

    /// Counts whole differences: (CIEDE2000 in hundredths, texels).
    fn counted(texels: u64, differences: &[(u32, u32)]) -> Counted {
        let mut counted = Counted::of_texels(texels);
        for &(hundredths, count) in differences {
            let steps = hundredths * STEPS / 100;
            counted.changed += u64::from(count);
            counted.largest = counted.largest.max(steps);
            counted.sum += u64::from(steps) * u64::from(count);
            counted.bins[bin_of(steps)] += count;
        }
        counted
    }

    #[test]
    fn the_95th_percentile_lies_between_the_nearest_ranks() {
        // Computed with numpy 2.4.6, `numpy.percentile(differences, 95)`, unchanged texels being 0.
        for (texels, differences, wanted) in [
            (100, &[(200, 5), (2000, 1)][..], 2.0),
            (101, &[(200, 5), (2000, 1)], 2.0),
            (20, &[(1000, 1)], 0.5),
            (20, &[(1000, 20)], 10.0),
            (10_000, &[(10_000, 500)], 5.0),
            (10_000, &[(10_000, 501)], 100.0),
            (4, &[(100, 1), (300, 1), (1190, 1)], 10.565),
            (1, &[(4711, 1)], 47.11),
            (7, &[(11_900, 3), (3333, 4)], 119.0),
        ] {
            let found = counted(texels, differences).difference();
            assert!((found.p95 - wanted).abs() <= 0.081, "{texels} {differences:?}: {}", found.p95);
            assert!(found.p95 <= found.max);
        }
        let all = counted(100, &[(200, 5), (2000, 1)]).difference();
        assert_eq!((all.mean, all.max, all.changed_share), (0.3, 20.0, 0.06));
    }
}
