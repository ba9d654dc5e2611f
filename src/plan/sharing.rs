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
    /// Between two dispatches, of which the second waits for the first, in nanoseconds.
    pub between: u64,
}

impl Pace {
    /// Of two cores.
    pub const SOFTWARE: Self = Self { compiling: 15_000_000, storing: 6_500, between: 0 };
    /// Of a card for data centres; smaller ones store more slowly, and compile as long.
    pub const GPU: Self = Self { compiling: 40_000_000, storing: 3, between: 6_000 };
}

/// A way to carry out an exploration.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Way {
    /// Texels that are not stored, of those that are where each effect has a pass of its own.
    pub spared: u64,
    /// Effects in programs that it takes beside those, each as often as it stands in one.
    pub compiled: u64,
    /// Its dispatches.
    pub dispatches: u64,
}

impl Way {
    /// Nanoseconds that it saves each time.
    fn saves(self, pace: Pace) -> i128 {
        i128::from(self.spared) * i128::from(pace.storing) / 1000
            - i128::from(self.dispatches) * i128::from(pace.between)
    }

    /// Those that it saves the first time, when its programs are compiled.
    fn saves_at_first(self, pace: Pace) -> i128 {
        self.saves(pace) - i128::from(self.compiled) * i128::from(pace.compiling)
    }
}

impl Sharing {
    /// The place of the best of several ways, the first of those that are as good; the plain one comes first.
    pub fn best(self, ways: &[Way], pace: Pace) -> usize {
        let saves = |way: &Way| match self {
            Self::WherePays => way.saves_at_first(pace),
            Self::Always => way.saves(pace),
            Self::Never => 0,
        };
        let best = ways.iter().enumerate().rev().max_by_key(|(_, way)| saves(way));
        best.map_or(0, |(place, _)| place)
    }

    /// Whether sparing so many texels at the most can be worth any program.
    pub fn can_pay(self, spared: u64, pace: Pace) -> bool {
        match self {
            Self::WherePays => Way { spared, compiled: 1, dispatches: 0 }.saves_at_first(pace) > 0,
            Self::Always => true,
            Self::Never => false,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The 54 orders of five effects, as one works them out by hand: 112 pictures on the way and 54 at the end; with runs
    /// fused, 51 on the way, in programs of 50 effects. Dispatches as a GPU takes them.
    fn ways(texels: u64) -> [Way; 4] {
        [
            Way { spared: 0, compiled: 0, dispatches: 6 },
            Way { spared: 61 * texels, compiled: 50, dispatches: 6 },
            Way { spared: 54 * texels, compiled: 5, dispatches: 5 },
            Way { spared: 115 * texels, compiled: 56, dispatches: 8 },
        ]
    }

    #[test]
    fn no_way_is_taken_that_takes_longer_than_another() {
        for pace in [Pace::SOFTWARE, Pace::GPU] {
            for texels in (6..34).map(|power| 1_u64 << power) {
                let ways = ways(texels);
                // Time for all, counted the long way: what is stored of 166 pictures, what lies between dispatches, and what
                // is compiled the first time.
                let again = |way: Way| {
                    u128::from(166 * texels - way.spared) * u128::from(pace.storing)
                        + u128::from(way.dispatches) * u128::from(pace.between) * 1000
                };
                let first = |way: Way| again(way) + u128::from(way.compiled * pace.compiling) * 1000;
                // Thousandths of a nanosecond are dropped.
                let once = ways[Sharing::WherePays.best(&ways, pace)];
                assert!(ways.iter().all(|&way| first(once) < first(way) + 1000), "{texels} texels: {once:?}");
                let always = ways[Sharing::Always.best(&ways, pace)];
                assert!(ways.iter().all(|&way| again(always) < again(way) + 1000), "{texels}: {always:?}");
                assert!(once == ways[0] || Sharing::WherePays.can_pay(115 * texels, pace));
                assert_eq!(Sharing::Never.best(&ways, pace), 0);
            }
        }
    }

    /// Measured on an H100: the wall of 54 again and again takes 0.12 ms of 320x180 in plain passes and 0.21 ms fused, of
    /// 1920x1080 2.05 and 1.48 ms.
    #[test]
    fn what_was_measured_to_be_faster_is_taken() {
        let best =
            |sharing: Sharing, width: u64, height: u64, pace| sharing.best(&ways(width * height), pace);
        assert_eq!(best(Sharing::Always, 320, 180, Pace::GPU), 2);
        assert_eq!(best(Sharing::Always, 1920, 1080, Pace::GPU), 3);
        assert_eq!(best(Sharing::WherePays, 1920, 1080, Pace::GPU), 0);
        assert_eq!(best(Sharing::Always, 320, 180, Pace::SOFTWARE), 3);
        assert_eq!(best(Sharing::WherePays, 320, 180, Pace::SOFTWARE), 0);
        assert_eq!(best(Sharing::WherePays, 640, 360, Pace::SOFTWARE), 2);
        assert_eq!(best(Sharing::WherePays, 3840, 2160, Pace::SOFTWARE), 3);
    }
}
