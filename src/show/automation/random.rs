//! Random shares that are the same on every machine.

/// The share, 0 to below 1, of a period in the sequence of `seed`.
///
/// Whole-number arithmetic of 64 bits, wrapping: the number of the period times
/// `0x9e3779b97f4a7c15` (the golden ratio's share of 2^64, odd), plus the seed times `0xd1342543de82ef95`;
/// then three times: exclusive-or with itself shifted right by 29, times `0xaf251af3b0f025b5`; exclusive-or
/// with itself shifted right by 32; the upper 53 bits over 2^53.
pub(super) fn share(seed: u32, period: i64) -> f64 {
    let mut mixed = period
        .cast_unsigned()
        .wrapping_mul(0x9e37_79b9_7f4a_7c15)
        .wrapping_add(u64::from(seed).wrapping_mul(0xd134_2543_de82_ef95));
    for _ in 0..3 {
        mixed = (mixed ^ (mixed >> 29)).wrapping_mul(0xaf25_1af3_b0f0_25b5);
    }
    mixed ^= mixed >> 32;
    (mixed >> 11) as f64 / (1_u64 << 53) as f64
}
