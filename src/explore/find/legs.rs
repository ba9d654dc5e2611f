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
    /// Steps down the slope, as coarse squares show it, then as texels do; then generations of climbers.
    pub(super) coarse: usize,
    pub(super) fine: usize,
    pub(super) generations: usize,
}

const fn leg(before_last: usize, kinds: [usize; 3], steps: [usize; 3]) -> Leg {
    let ([kinds, of_each, scanned], [coarse, fine, generations]) = (kinds, steps);
    Leg { before_last, kinds, of_each, scanned, coarse, fine, generations }
}

/// Where no picture says where every texel should go, there is no slope.
pub(super) const LEGS: [Leg; 5] = [
    leg(2, [48, 1, 24], [0, 0, 4]),
    leg(2, [24, 1, 0], [0, 0, 6]),
    leg(2, [12, 1, 6], [0, 0, 10]),
    leg(1, [6, 1, 0], [0, 0, 10]),
    leg(0, [3, 1, 0], [0, 0, 10]),
];
pub(super) const LEGS_TO_A_PICTURE: [Leg; 6] = [
    leg(2, [96, 1, 0], [1, 0, 0]),
    leg(2, [32, 3, 32], [2, 0, 0]),
    leg(2, [16, 3, 8], [3, 1, 0]),
    leg(2, [8, 1, 0], [6, 2, 0]),
    leg(1, [6, 2, 6], [5, 3, 0]),
    leg(0, [4, 1, 0], [2, 1, 0]),
];
