//! What is searched: the orders, switches, settings and scopes that may be tried, and one candidate of them.

use crate::base::colour::Colour;
use crate::base::random::Draws;
use crate::beat::Moment;
use crate::catalogue::{Input, Kind, Memory, Value};
use crate::show::chain::{Chain, EffectUse};

/// What of a chain is tried.
#[derive(Debug, Clone)]
pub struct Space {
    /// The chain as it stands.
    chain: Chain,
    /// Whether its effects are tried in every order.
    pub order: bool,
    /// The places of effects that are tried on and off.
    pub switches: Vec<usize>,
    /// The settings that are tried.
    pub settings: Vec<Varied>,
    /// How many scopes the chain is tried on.
    pub scopes: usize,
    /// The one that it stands on.
    pub home: usize,
}

/// A setting that is tried.
#[derive(Debug, Clone, PartialEq)]
pub struct Varied {
    /// Its effect's place in the chain.
    pub place: usize,
    /// Its place among the effect's settings.
    pub setting: usize,
    /// Within what.
    pub range: Range,
}

/// What a setting is tried at.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Range {
    /// Numbers from one to another.
    Number { low: f64, high: f64 },
    /// Whole numbers from one to another.
    Whole { low: i64, high: i64 },
    /// Every colour.
    Colour,
    /// Each of so many words.
    Choice(usize),
}

impl Range {
    /// All that a kind of setting allows.
    pub fn whole(kind: &Kind) -> Self {
        match kind {
            Kind::Number { range: [low, high], .. } => Self::Number { low: *low, high: *high },
            Kind::Whole { range: [low, high], .. } => Self::Whole { low: *low, high: *high },
            Kind::Colour => Self::Colour,
            Kind::Choice(words) => Self::Choice(words.len()),
        }
    }

    /// How many shares say where in it a value lies.
    fn dimensions(self) -> usize {
        match self {
            Self::Number { .. } | Self::Whole { .. } => 1,
            Self::Colour => 3,
            Self::Choice(_) => 0,
        }
    }

    /// The value that these shares say, 0 to 1 each.
    fn value(self, shares: &[f64]) -> Value {
        match self {
            Self::Number { low, high } => {
                // To a ten-thousandth of the range or finer, as one writes it: what is kept is what was tried.
                let digits = (4.0 - (high - low).max(1e-9).log10().floor()).clamp(0.0, 9.0);
                let parts = 10_f64.powf(digits);
                let value = low + shares[0] * (high - low);
                Value::Number(((value * parts).round() / parts).clamp(low, high))
            }
            Self::Whole { low, high } => {
                let count = (high - low + 1) as f64;
                Value::Whole((low + (shares[0] * count) as i64).min(high))
            }
            Self::Colour => {
                let byte = |share: f64| (share * 255.0).round() as u8;
                Value::Colour(Colour([byte(shares[0]), byte(shares[1]), byte(shares[2])]))
            }
            Self::Choice(_) => Value::Choice(0),
        }
    }

    /// The shares that say a value, as near as they may.
    fn shares(self, value: &Value, into: &mut Vec<f64>) {
        match (self, value) {
            (Self::Number { low, high }, Value::Number(number)) => {
                into.push(((number - low) / (high - low)).clamp(0.0, 1.0));
            }
            (Self::Whole { low, high }, Value::Whole(number)) => {
                into.push((((number - low) as f64 + 0.5) / (high - low + 1) as f64).clamp(0.0, 1.0));
            }
            (Self::Colour, Value::Colour(colour)) => into.extend(colour.encoded()),
            _ => into.extend(std::iter::repeat_n(0.5, self.dimensions())),
        }
    }
}

/// One of all that may be tried.
#[derive(Debug, Clone, PartialEq)]
pub struct Candidate {
    /// The scope that the chain sits on, by its number.
    pub scope: usize,
    /// The places of the effects, first applied first.
    pub order: Vec<usize>,
    /// For each place, whether its effect is on.
    pub on: Vec<bool>,
    /// The choices that are tried, by their places, in the order of [`Space::settings`].
    pub choices: Vec<usize>,
    /// Where numbers and colours stand in their ranges, 0 to 1 each, in the order of [`Space::settings`].
    pub point: Vec<f64>,
}

/// The most candidates that are gone through one by one where there are only so many.
const MOST_COUNTED: u64 = 1 << 20;

/// Random shares that one candidate may take.
const DRAWS_BITS: u32 = 10;

impl Space {
    /// Nothing of a chain is tried yet.
    pub fn of(chain: &[EffectUse]) -> Self {
        Self {
            chain: chain.to_vec(),
            order: false,
            switches: Vec::new(),
            settings: Vec::new(),
            scopes: 1,
            home: 0,
        }
    }

    /// The chain as it stands.
    pub fn chain(&self) -> &[EffectUse] {
        &self.chain
    }

    /// The chain as frames are planned for all candidates: every effect on that may be, and each fade as long as it may be.
    pub fn planned(&self) -> Chain {
        let mut chain = self.chain.clone();
        for &place in &self.switches {
            chain[place].on = true;
        }
        for Varied { place, setting, range } in &self.settings {
            let fades = matches!(chain[*place].effect.memory, Some(Memory::Fades(_)));
            if let (true, Range::Number { high, .. }) = (fades, range) {
                // It was allowed as the end of the range.
                let _ = chain[*place].set_number(*setting, *high);
            }
        }
        chain
    }

    /// Shares that say where a candidate's numbers and colours stand.
    pub fn dimensions(&self) -> usize {
        self.settings.iter().map(|varied| varied.range.dimensions()).sum()
    }

    /// For each of these shares, how far it has to move for the value to be another.
    pub(super) fn least_moves(&self) -> Vec<f64> {
        let of = |varied: &Varied| match varied.range {
            Range::Number { .. } => vec![1e-4],
            // A hair more than one, so that rounding never leaves it where it is.
            Range::Whole { low, high } => vec![1.001 / (high - low + 1) as f64],
            Range::Colour => vec![1.0 / 255.0; 3],
            Range::Choice(_) => Vec::new(),
        };
        self.settings.iter().flat_map(of).collect()
    }

    /// Whether there is but one candidate.
    pub fn is_single(&self) -> bool {
        self.dimensions() == 0 && self.counted() == Some(1)
    }

    /// How many candidates there are, where they can be gone through one by one.
    pub fn counted(&self) -> Option<u64> {
        if self.dimensions() > 0 {
            return None;
        }
        let orders = if self.order { self.chain.len() } else { 1 };
        let choices = self.settings.iter().map(|varied| match varied.range {
            Range::Choice(words) => words as u64,
            _ => 1,
        });
        let switches = self.switches.iter().map(|_| 2);
        (1..=orders as u64)
            .chain(switches)
            .chain(choices)
            .chain([self.scopes as u64])
            .try_fold(1_u64, |all, some| all.checked_mul(some).filter(|&all| all <= MOST_COUNTED))
    }

    /// The chain as it stands, as a candidate.
    fn own(&self, moment: &Moment) -> Candidate {
        let mut point = Vec::new();
        let mut choices = Vec::new();
        for Varied { place, setting, range } in &self.settings {
            match (range, &self.chain[*place].values_at(moment)[*setting]) {
                (Range::Choice(_), Value::Choice(choice)) => choices.push(*choice),
                (range, value) => range.shares(value, &mut point),
            }
        }
        Candidate {
            scope: self.home,
            order: (0..self.chain.len()).collect(),
            on: self.chain.iter().map(|used| used.on).collect(),
            choices,
            point,
        }
    }

    /// Candidate `number` of the stream of a seed; it depends on these two alone. The first is the chain as it stands;
    /// where all can be gone through, each comes once.
    pub fn candidate(&self, seed: u64, number: u64, moment: &Moment) -> Candidate {
        if let Some(count) = self.counted() {
            return self.nth(spread(number % count, count));
        }
        if number == 0 {
            return self.own(moment);
        }
        let mut draws = Draws::from(seed, number << DRAWS_BITS);
        let mut order: Vec<usize> = (0..self.chain.len()).collect();
        if self.order {
            // Fisher and Yates, as Durstenfeld has it.
            for last in (1..order.len()).rev() {
                order.swap(last, draws.below(last + 1));
            }
        }
        let mut on: Vec<bool> = self.chain.iter().map(|used| used.on).collect();
        for &place in &self.switches {
            on[place] = draws.share() < 0.5;
        }
        let scope = if self.scopes > 1 { draws.below(self.scopes) } else { self.home };
        let mut choices = Vec::new();
        for varied in &self.settings {
            if let Range::Choice(words) = varied.range {
                choices.push(draws.below(words));
            }
        }
        let point = (0..self.dimensions()).map(|_| draws.share()).collect();
        Candidate { scope, order, on, choices, point }
    }

    /// One of all candidates, where nothing but orders, switches, choices and scopes is tried.
    fn nth(&self, mut number: u64) -> Candidate {
        let mut digit = |base: usize| {
            let digit = (number % base.max(1) as u64) as usize;
            number /= base.max(1) as u64;
            digit
        };
        let mut left: Vec<usize> = (0..self.chain.len()).collect();
        let order = if self.order {
            (0..self.chain.len()).map(|_| left.remove(digit(left.len()))).collect()
        } else {
            left
        };
        let mut on: Vec<bool> = self.chain.iter().map(|used| used.on).collect();
        for &place in &self.switches {
            on[place] = digit(2) == 0;
        }
        let mut choices = Vec::new();
        for varied in &self.settings {
            if let Range::Choice(words) = varied.range {
                choices.push(digit(words));
            }
        }
        let scope = if self.scopes > 1 { digit(self.scopes) } else { self.home };
        Candidate { scope, order, on, choices, point: Vec::new() }
    }

    /// Candidates that differ from one in one thing, at the same numbers and colours: an effect elsewhere in the order,
    /// one on or off, another choice, another scope.
    pub(super) fn one_change_away(&self, from: &Candidate) -> Vec<Candidate> {
        let mut changed = Vec::new();
        let effects = self.chain.len();
        for at in (0..effects).filter(|_| self.order) {
            for to in (0..effects).filter(|&to| to != at) {
                let mut order = from.order.clone();
                let moved = order.remove(at);
                order.insert(to, moved);
                changed.push(Candidate { order, ..from.clone() });
            }
        }
        for &place in &self.switches {
            let mut on = from.on.clone();
            on[place] = !on[place];
            changed.push(Candidate { on, ..from.clone() });
        }
        let words = self.settings.iter().filter_map(|varied| match varied.range {
            Range::Choice(words) => Some(words),
            _ => None,
        });
        for (nth, words) in words.enumerate() {
            for choice in (0..words).filter(|&choice| choice != from.choices[nth]) {
                let mut choices = from.choices.clone();
                choices[nth] = choice;
                changed.push(Candidate { choices, ..from.clone() });
            }
        }
        if self.scopes > 1 {
            let others = (0..self.scopes).filter(|&scope| scope != from.scope);
            changed.extend(others.map(|scope| Candidate { scope, ..from.clone() }));
        }
        changed
    }

    /// The chain with a candidate's switches and settings, its effects where they stand in the file.
    pub fn settled(&self, candidate: &Candidate) -> Chain {
        let mut chain = self.chain.clone();
        for (used, &on) in chain.iter_mut().zip(&candidate.on) {
            used.on = on;
        }
        let mut shares = &candidate.point[..];
        let mut choices = candidate.choices.iter();
        for Varied { place, setting, range } in &self.settings {
            let value = match range {
                Range::Choice(_) => Value::Choice(choices.next().copied().unwrap_or(0)),
                range => {
                    let (own, rest) = shares.split_at(range.dimensions());
                    shares = rest;
                    range.value(own)
                }
            };
            chain[*place].fix(*setting, value);
        }
        chain
    }

    /// The same in the candidate's order.
    pub fn arranged(&self, candidate: &Candidate) -> Chain {
        let mut settled: Vec<Option<EffectUse>> = self.settled(candidate).into_iter().map(Some).collect();
        candidate.order.iter().filter_map(|&place| settled[place].take()).collect()
    }
}

/// Numbers below `count`, each once, far apart where their numbers follow each other: some of all candidates are then
/// of every kind.
fn spread(number: u64, count: u64) -> u64 {
    // Near the golden section, and without a common factor.
    let golden = (count as f64 * 0.618_033_988_749) as u64;
    let stride = (golden.max(1)..).find(|&stride| num_integer::gcd(stride, count) == 1).unwrap_or(1);
    // Both are at most `MOST_COUNTED`.
    number * stride % count
}

/// A point beyond its ranges, folded back into them, 0 to 1 each.
pub(super) fn folded(point: &[f64]) -> Vec<f64> {
    let fold = |share: &f64| {
        let turn = share.rem_euclid(2.0);
        if turn > 1.0 { 2.0 - turn } else { turn }
    };
    point.iter().map(fold).collect()
}

/// The setting that decides which frames an effect takes its pictures from; such frames are planned once for all
/// candidates, so that it stays as it is.
pub fn decides_frames(used: &EffectUse, setting: &str) -> bool {
    let Some(memory @ (Memory::Held(_) | Memory::Renewed(_))) = &used.effect.memory else { return false };
    let derived = used.effect.derived.iter().find(|derived| derived.name == memory.member());
    let is_it = |input: &&Input| matches!(input, Input::Setting(name) if name == setting);
    derived.is_some_and(|derived| derived.kind.inputs().iter().any(is_it))
}

/// Whether a setting is tried unless it is named by itself: one that moves or decides frames stays as it is.
pub fn may_be_tried(used: &EffectUse, setting: usize) -> bool {
    let declared = &used.effect.settings[setting];
    used.automation(setting).is_none() && !decides_frames(used, &declared.name)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_that_are_spread_come_once_each() {
        for count in [1, 2, 3, 24, 120, 720, 5040] {
            let mut seen: Vec<u64> = (0..count).map(|number| spread(number, count)).collect();
            seen.sort_unstable();
            assert_eq!(seen, (0..count).collect::<Vec<_>>());
        }
    }

    #[test]
    fn a_point_beyond_its_ranges_comes_back_the_way_that_it_went() {
        let folded = folded(&[0.25, 1.25, -0.25, 2.25, 1.0, -1.0]);
        assert_eq!(folded, [0.25, 0.75, 0.25, 0.25, 1.0, 1.0]);
    }

    #[test]
    fn a_value_is_written_as_it_is_tried_and_keeps_to_its_range() {
        let number = Range::Number { low: 0.0, high: 8.0 };
        assert_eq!(number.value(&[1.0 / 3.0]), Value::Number(2.6667));
        assert_eq!(Range::Number { low: -360.0, high: 360.0 }.value(&[0.123_456]), Value::Number(-271.11));
        let whole = Range::Whole { low: 2, high: 4 };
        assert_eq!([0.0, 0.34, 1.0].map(|share| whole.value(&[share])), [2, 3, 4].map(Value::Whole));
        let mut shares = Vec::new();
        whole.shares(&Value::Whole(3), &mut shares);
        Range::Colour.shares(&Value::Colour(Colour([255, 0, 51])), &mut shares);
        assert_eq!(shares, [0.5, 1.0, 0.0, 0.2]);
        assert_eq!(Range::Colour.value(&shares[1..]), Value::Colour(Colour([255, 0, 51])));
    }
}
