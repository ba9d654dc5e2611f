//! Pairs of effects: the two orders in which a pair stands side by side, all else being as it is.

/// Two effects of a chain, and the orders that tell whether changing places matters.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Pair {
    /// The effect that the chain applies first: a place in the chain.
    pub lower: usize,
    /// The effect that the chain applies later.
    pub upper: usize,
    /// The chain's order with the upper effect brought down to stand directly over the lower one.
    /// For neighbours this is the chain's own order.
    pub as_is: Vec<usize>,
    /// The same order with the two exchanged.
    pub swapped: Vec<usize>,
}

/// Every pair of a chain of `effects`, by lower and then by upper effect.
///
/// The upper effect is brought down next to the lower one, so that what stands
/// between them in the chain does not blur the answer.
pub fn pairs(effects: usize) -> Vec<Pair> {
    let pair = |lower: usize, upper: usize| {
        let mut as_is: Vec<usize> = (0..effects).filter(|&place| place != upper).collect();
        as_is.insert(lower + 1, upper);
        let mut swapped = as_is.clone();
        swapped.swap(lower, lower + 1);
        Pair { lower, upper, as_is, swapped }
    };
    (0..effects).flat_map(|lower| (lower + 1..effects).map(move |upper| pair(lower, upper))).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_pair_differs_by_one_exchange_of_neighbours() {
        let all = pairs(5);
        assert_eq!(all.len(), 10);
        for pair in &all {
            assert_eq!(pair.as_is[pair.lower..pair.lower + 2], [pair.lower, pair.upper]);
            assert_eq!(pair.swapped[pair.lower..pair.lower + 2], [pair.upper, pair.lower]);
            let mut sorted = pair.swapped.clone();
            sorted.sort_unstable();
            assert_eq!(sorted, [0, 1, 2, 3, 4]);
        }
        assert_eq!(all[0].as_is, [0, 1, 2, 3, 4]);
        assert_eq!(all[3].as_is, [0, 4, 1, 2, 3]);
    }
}
