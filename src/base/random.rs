//! Random shares that are the same on every machine.

/// The share, 0 to below 1, at a place of the sequence of `seed`: it depends on nothing else.
///
/// Whole-number arithmetic of 64 bits, wrapping: the place times `0x9e3779b97f4a7c15` (the golden ratio's share of
/// 2^64, odd), plus the seed times `0xd1342543de82ef95`; then three times: exclusive-or with itself shifted right by
/// 29, times `0xaf251af3b0f025b5`; exclusive-or with itself shifted right by 32; the upper 53 bits over 2^53.
pub(crate) fn share(seed: u64, place: u64) -> f64 {
    let mut mixed =
        place.wrapping_mul(0x9e37_79b9_7f4a_7c15).wrapping_add(seed.wrapping_mul(0xd134_2543_de82_ef95));
    for _ in 0..3 {
        mixed = (mixed ^ (mixed >> 29)).wrapping_mul(0xaf25_1af3_b0f0_25b5);
    }
    mixed ^= mixed >> 32;
    (mixed >> 11) as f64 / (1_u64 << 53) as f64
}

/// Random shares in turn: those at the places from `first` on.
#[derive(Debug, Clone)]
pub(crate) struct Draws {
    seed: u64,
    next: u64,
}

impl Draws {
    pub(crate) fn from(seed: u64, first: u64) -> Self {
        Self { seed, next: first }
    }

    /// 0 to below 1.
    pub(crate) fn share(&mut self) -> f64 {
        let share = share(self.seed, self.next);
        self.next = self.next.wrapping_add(1);
        share
    }

    /// A whole number below `count`.
    pub(crate) fn below(&mut self, count: usize) -> usize {
        ((self.share() * count as f64) as usize).min(count.saturating_sub(1))
    }

    /// Normally distributed with mean 0 and variance 1 (Box and Muller 1958).
    pub(crate) fn normal(&mut self) -> f64 {
        // From above 0 to 1, so that the logarithm is finite.
        let radius = (-2.0 * (1.0 - self.share()).ln()).sqrt();
        radius * (std::f64::consts::TAU * self.share()).cos()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn draws_are_spread_evenly_and_normal_ones_have_their_mean_and_variance() {
        let mut draws = Draws::from(7, 0);
        let mut bins = [0; 10];
        (0..10_000).for_each(|_| bins[draws.below(10)] += 1);
        // Chi-squared with 9 degrees of freedom is above 27.9 once in a thousand (tables, from memory).
        let apart: f64 = bins.iter().map(|&count| (f64::from(count) - 1000.0).powi(2) / 1000.0).sum();
        assert!(apart < 27.9, "{bins:?}");
        let normal: Vec<f64> = (0..10_000).map(|_| draws.normal()).collect();
        let mean = normal.iter().sum::<f64>() / 1e4;
        let variance = normal.iter().map(|x| (x - mean).powi(2)).sum::<f64>() / 1e4;
        assert!(mean.abs() < 0.04 && (variance - 1.0).abs() < 0.06, "{mean} {variance}");
    }
}
