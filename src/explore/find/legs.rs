//! How climbing goes: first many small steps of many, at last a few of the best at the frame itself.

/// A stretch of climbing: at which level (counted from the last, the frame itself), by the climbers of how many of the
/// best kinds, for how many steps down the slope and generations.
pub(super) struct Leg {
    pub(super) before_last: usize,
    pub(super) climbers: usize,
    pub(super) slopes: usize,
    pub(super) generations: usize,
}

const fn leg(before_last: usize, climbers: usize, slopes: usize, generations: usize) -> Leg {
    Leg { before_last, climbers, slopes, generations }
}

/// Few steps of many climbers tell which kinds are worth more. Where no picture says where every texel should go,
/// there is no slope.
pub(super) const LEGS: [Leg; 5] =
    [leg(2, 48, 0, 4), leg(2, 24, 0, 6), leg(2, 12, 0, 10), leg(1, 6, 0, 10), leg(0, 3, 0, 10)];
pub(super) const LEGS_TO_A_PICTURE: [Leg; 5] =
    [leg(2, 96, 2, 0), leg(2, 40, 3, 0), leg(1, 12, 3, 0), leg(0, 8, 3, 0), leg(0, 3, 3, 3)];
