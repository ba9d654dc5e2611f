//! How climbing goes: first a few steps of everyone, at last the best alone at the frame itself.

/// A stretch of climbing: at which level (counted from the last, the frame itself), of how many of the best kinds, and
/// what is done there.
#[derive(Debug, Clone, Copy)]
pub(super) struct Leg {
    pub(super) before_last: usize,
    pub(super) kinds: usize,
    /// So many of each kind go on from places apart.
    pub(super) of_each: usize,
    /// The best of each of so many kinds try each number all along its range.
    pub(super) scanned: usize,
    /// Steps down the slope, then generations of climbers.
    pub(super) slopes: usize,
    pub(super) generations: usize,
}

const fn leg(before_last: usize, kinds: [usize; 3], steps: [usize; 2]) -> Leg {
    let ([kinds, of_each, scanned], [slopes, generations]) = (kinds, steps);
    Leg { before_last, kinds, of_each, scanned, slopes, generations }
}

/// Where no picture says where every texel should go, there is no slope.
pub(super) const LEGS: [Leg; 5] = [
    leg(2, [48, 1, 24], [0, 4]),
    leg(2, [24, 1, 0], [0, 6]),
    leg(2, [12, 1, 6], [0, 10]),
    leg(1, [6, 1, 0], [0, 10]),
    leg(0, [3, 1, 0], [0, 10]),
];
pub(super) const LEGS_TO_A_PICTURE: [Leg; 7] = [
    leg(2, [96, 1, 0], [1, 0]),
    leg(2, [48, 3, 48], [2, 0]),
    leg(2, [24, 3, 16], [3, 0]),
    leg(2, [10, 3, 10], [6, 0]),
    leg(1, [10, 1, 0], [3, 0]),
    leg(1, [5, 2, 5], [6, 0]),
    leg(0, [4, 1, 0], [3, 0]),
];
