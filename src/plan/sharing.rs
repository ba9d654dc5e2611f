//! When it is worth programs of their own that explorations store fewer pictures.

/// Whether explorations put several effects into one pass, and finish whole chains without storing them; the bytes stay
/// the same.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Sharing {
    /// Where that saves more, once, than its programs take to compile.
    #[default]
    WherePays,
    /// Wherever it can be done: for what is explored again and again.
    Always,
    /// Each effect in a pass of its own, and every picture stored.
    Never,
}

/// What an adapter takes, as measured (`benches/README.md`).
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Pace {
    /// To compile an effect as a part of a program, in nanoseconds.
    pub compiling: u64,
    /// To store a texel and to read it again, in thousandths of a nanosecond.
    pub storing: u64,
}

impl Pace {
    /// Of two cores.
    pub const SOFTWARE: Self = Self { compiling: 15_000_000, storing: 6_500 };
    /// Of a card for data centres; smaller ones store more slowly, and compile as long.
    pub const GPU: Self = Self { compiling: 40_000_000, storing: 4 };
}

/// A way to carry out an exploration.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Way {
    /// Texels that are not stored, of those that are where each effect has a pass of its own.
    pub spared: u64,
    /// Effects in programs that it takes beside those, each as often as it stands in one.
    pub compiled: u64,
}

impl Way {
    /// Each effect in a pass of its own.
    pub const PLAIN: Self = Self { spared: 0, compiled: 0 };

    /// Nanoseconds that it saves.
    fn saves(self, pace: Pace) -> i128 {
        i128::from(self.spared) * i128::from(pace.storing) / 1000
            - i128::from(self.compiled) * i128::from(pace.compiling)
    }
}

impl Sharing {
    /// The place of the best of several ways, the first of those that are as good.
    pub fn best(self, ways: &[Way], pace: Pace) -> usize {
        let saves = |way: &Way| match self {
            Self::WherePays => way.saves(pace),
            Self::Always => i128::from(way.spared),
            Self::Never => -i128::from(way.compiled) - i128::from(way.spared),
        };
        let best = ways.iter().enumerate().rev().max_by_key(|(_, way)| saves(way));
        best.map_or(0, |(place, _)| place)
    }

    /// Whether sparing so many texels at the most can be worth any program.
    pub fn can_pay(self, spared: u64, pace: Pace) -> bool {
        match self {
            Self::WherePays => Way { spared, compiled: 1 }.saves(pace) > 0,
            Self::Always => true,
            Self::Never => false,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The 54 orders of five effects: 112 pictures on the way, 54 at the end; with runs fused, 45 fewer on the way, in 16
    /// programs of two effects.
    fn ways(texels: u64) -> [Way; 4] {
        [
            Way::PLAIN,
            Way { spared: 45 * texels, compiled: 32 },
            Way { spared: 54 * texels, compiled: 5 },
            Way { spared: 99 * texels, compiled: 37 },
        ]
    }

    #[test]
    fn no_way_is_taken_that_takes_longer_than_another() {
        for pace in [Pace::SOFTWARE, Pace::GPU] {
            for texels in (6..34).map(|power| 1_u64 << power) {
                let ways = ways(texels);
                let taken = ways[Sharing::WherePays.best(&ways, pace)];
                // Time for all, counted the long way: what is compiled, and what is stored of 166 pictures.
                let time = |way: Way| {
                    u128::from(way.compiled) * u128::from(pace.compiling) * 1000
                        + u128::from(166 * texels - way.spared) * u128::from(pace.storing)
                };
                assert!(ways.iter().all(|&way| time(taken) <= time(way)), "{texels} texels: {taken:?}");
                assert!(taken == Way::PLAIN || Sharing::WherePays.can_pay(99 * texels, pace));
            }
        }
    }

    #[test]
    fn one_wall_is_worth_programs_on_a_processor_where_it_is_large_and_on_a_card_nowhere() {
        let best = |width: u64, height: u64, pace| Sharing::WherePays.best(&ways(width * height), pace);
        assert_eq!(best(96, 54, Pace::SOFTWARE), 0);
        assert_eq!(best(320, 180, Pace::SOFTWARE), 0);
        assert_eq!(best(640, 360, Pace::SOFTWARE), 2);
        assert_eq!(best(3840, 2160, Pace::SOFTWARE), 3);
        assert_eq!(best(320, 180, Pace::GPU), 0);
        assert_eq!(best(3840, 2160, Pace::GPU), 0);
    }

    #[test]
    fn who_asks_for_all_of_it_or_for_none_gets_that() {
        for pace in [Pace::SOFTWARE, Pace::GPU] {
            assert_eq!(Sharing::Always.best(&ways(64), pace), 3);
            assert_eq!(Sharing::Never.best(&ways(1 << 40), pace), 0);
            assert!(Sharing::Always.can_pay(1, pace) && !Sharing::Never.can_pay(1 << 40, pace));
        }
    }
}
