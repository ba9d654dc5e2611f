//! Which orders of a chain are looked at, and how many of them each class stands for.

use std::collections::HashMap;

use super::classes::{Class, Classes, LONGEST_IN_FULL, MOST_EFFECTS, words};
use super::code::Marks;
use super::conditions::Condition;
use crate::base::random::Draws;

/// Which orders of a chain are to be looked at.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Extent {
    /// Effects that stay at their places of the chain, by these; all others take the places left in every order.
    pub pinned: Vec<usize>,
    /// Orders drawn at random. Without it every order, where at most [`LONGEST_IN_FULL`] effects vary, and otherwise
    /// [`Sample::default`].
    pub sample: Option<Sample>,
    /// All places in the order in which they are drawn from; by place, if empty.
    pub turn: Vec<usize>,
}

impl Extent {
    /// The same, drawn from by mark: whichever the chain's own order is, the same orders are drawn.
    #[must_use]
    pub fn by_mark(mut self, marks: &Marks) -> Self {
        let mut turn: Vec<usize> = (0..marks.count()).collect();
        turn.sort_by_key(|&place| marks.of(place));
        self.turn = turn;
        self
    }
}

/// Orders drawn at random, each time any order as likely as any other: one may be drawn twice.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Sample {
    /// How many.
    pub orders: usize,
    /// Which random numbers. Of one seed a small sample is the beginning of a larger one.
    pub seed: u64,
}

impl Default for Sample {
    fn default() -> Self {
        Self { orders: 1000, seed: 0 }
    }
}

/// How much of a chain's orders was looked at.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Explored {
    /// Every order, or every one that keeps what is pinned in its place.
    InFull,
    /// Orders drawn at random.
    Sampled(Sample),
}

/// How many orders each class stands for: of all orders, or of those drawn.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Tally {
    explored: Explored,
    pinned: Vec<usize>,
    total: Option<u128>,
    /// The orders themselves, where they are not simply all.
    looked_at: Option<LookedAt>,
}

/// Orders, those of a class after each other.
#[derive(Debug, Clone, PartialEq, Eq)]
struct LookedAt {
    effects: usize,
    /// For each order its places, first applied first.
    places: Vec<u8>,
    /// For each class, how many orders stand before its own; then all.
    begins: Vec<usize>,
}

impl Classes {
    /// The classes of the orders that are looked at, that of the chain's own order first, and what each stands for: the
    /// chain's own is among them even where no order of it is drawn.
    ///
    /// Where nothing is pinned a class is given by its normal form, otherwise by the smallest of its orders that are looked
    /// at. Of a sample that is no smaller than all there is to draw from, everything is looked at.
    pub fn looked_at(&self, extent: &Extent) -> (Vec<Class>, Tally) {
        let free: Vec<usize> = (0..self.effects()).filter(|place| !extent.pinned.contains(place)).collect();
        let total = words(free.iter().map(|&place| self.letters()[place]));
        let is_short = free.len() <= LONGEST_IN_FULL;
        let is_small = |sample: &Sample| !is_short || total.is_none_or(|total| total > sample.orders as u128);
        let sample = extent.sample.filter(is_small);
        let sample = sample.or((!is_short).then(Sample::default));
        let mut pinned = extent.pinned.clone();
        pinned.sort_unstable();
        pinned.dedup();
        let explored = sample.map_or(Explored::InFull, Explored::Sampled);
        let mut tally = Tally { explored, pinned, total, looked_at: None };
        if tally.pinned.is_empty() && sample.is_none() {
            return (self.all(), tally);
        }

        let mut gathering = Gathering::begun(self, !tally.pinned.is_empty());
        match sample {
            Some(sample) => {
                let mut turn = free.clone();
                turn.sort_by_key(|place| extent.turn.iter().position(|known| known == place));
                (0..sample.orders).for_each(|nth| gathering.add(&self.drawn((&free, &turn), sample, nth)));
            }
            None => self.each_order(&free, &mut |order| gathering.add(order)),
        }
        let (list, looked_at) = gathering.gathered();
        tally.looked_at = Some(looked_at);
        (list, tally)
    }

    /// The nth order of a sample: the free effects, taken in turn, in an order of their own, by Durstenfeld's shuffle (1964; Knuth, The Art of
    /// Computer Programming 2, 3.4.2, algorithm P).
    fn drawn(&self, (free, turn): (&[usize], &[usize]), sample: Sample, nth: usize) -> Vec<usize> {
        let mut draws = Draws::from(sample.seed, nth as u64 * MOST_EFFECTS as u64);
        let mut shuffled = turn.to_vec();
        for left in (2..=shuffled.len()).rev() {
            shuffled.swap(left - 1, draws.below(left));
        }
        self.around(free, &shuffled)
    }

    /// Every order in which the free places are taken by free effects, the smallest first.
    fn each_order(&self, free: &[usize], tell: &mut impl FnMut(&[usize])) {
        fn grow(classes: &Classes, free: &[usize], row: &mut Vec<usize>, tell: &mut impl FnMut(&[usize])) {
            if row.len() == free.len() {
                tell(&classes.around(free, row));
                return;
            }
            for &next in free {
                let is_twin = |&&twin: &&usize| classes.letters()[twin] == classes.letters()[next];
                // Twins come in the order of the chain, so that no order counts twice.
                let waits = || free.iter().filter(is_twin).any(|twin| *twin < next && !row.contains(twin));
                if row.contains(&next) || waits() {
                    continue;
                }
                row.push(next);
                grow(classes, free, row, tell);
                row.pop();
            }
        }
        grow(self, free, &mut Vec::with_capacity(free.len()), tell);
    }

    /// The order in which the free effects come in this row, twins among them in the order of the chain, and all others stay.
    fn around(&self, free: &[usize], row: &[usize]) -> Vec<usize> {
        let mut order: Vec<usize> = (0..self.effects()).collect();
        let mut taken = 0_u64;
        for (&into, &effect) in free.iter().zip(row) {
            let is_next =
                |&&twin: &&usize| self.letters()[twin] == self.letters()[effect] && taken >> twin & 1 == 0;
            let first = free.iter().find(is_next).copied().unwrap_or(effect);
            taken |= 1 << first;
            order[into] = first;
        }
        order
    }
}

/// Orders as they are put with their classes.
struct Gathering<'a> {
    classes: &'a Classes,
    is_pinned: bool,
    known: HashMap<Vec<u64>, usize>,
    list: Vec<Class>,
    places: Vec<u8>,
    of: Vec<usize>,
}

impl<'a> Gathering<'a> {
    /// Begins with the class of the chain's own order.
    fn begun(classes: &'a Classes, is_pinned: bool) -> Self {
        let own: Vec<usize> = (0..classes.effects()).collect();
        let known = HashMap::from([(classes.key(&own), 0)]);
        let list = vec![Class { order: if is_pinned { own } else { classes.normal_form(&own) } }];
        Self { classes, is_pinned, known, list, places: Vec::new(), of: Vec::new() }
    }

    fn add(&mut self, order: &[usize]) {
        let Self { classes, is_pinned, known, list, places, of } = self;
        let class = *known.entry(classes.key(order)).or_insert_with(|| {
            let order = if *is_pinned { order.to_vec() } else { classes.normal_form(order) };
            list.push(Class { order });
            list.len() - 1
        });
        if *is_pinned && order < &list[class].order[..] {
            list[class].order = order.to_vec();
        }
        of.push(class);
        places.extend(order.iter().map(|&place| place as u8));
    }

    fn gathered(self) -> (Vec<Class>, LookedAt) {
        let effects = self.classes.effects();
        let mut by_class: Vec<usize> = (0..self.of.len()).collect();
        by_class.sort_by_key(|&at| self.of[at]);
        let places =
            by_class.iter().flat_map(|&at| &self.places[at * effects..][..effects]).copied().collect();
        let mut begins = vec![0; self.list.len() + 1];
        self.of.iter().for_each(|&class| begins[class + 1] += 1);
        for class in 0..self.list.len() {
            begins[class + 1] += begins[class];
        }
        (self.list, LookedAt { effects, places, begins })
    }
}

impl LookedAt {
    /// The orders of a class.
    fn of(&self, class: usize) -> impl Iterator<Item = &[u8]> {
        let (from, to) = (self.begins[class], self.begins[class + 1]);
        (from..to).map(|at| &self.places[at * self.effects..][..self.effects])
    }
}

impl Tally {
    /// How much was looked at.
    pub fn explored(&self) -> Explored {
        self.explored
    }

    /// The sample, where orders were drawn.
    pub fn sample(&self) -> Option<Sample> {
        match self.explored {
            Explored::Sampled(sample) => Some(sample),
            Explored::InFull => None,
        }
    }

    /// Places of the chain whose effects stay there.
    pub fn pinned(&self) -> &[usize] {
        &self.pinned
    }

    /// Orders that there are, twins counted as one: those that keep what is pinned in its place. Nothing past what 128 bits
    /// hold.
    pub fn orders_total(&self) -> Option<u128> {
        self.total
    }

    /// How many of the orders looked at are of a class: of all, or of those drawn.
    pub fn orders_in(&self, classes: &Classes, list: &[Class], class: usize) -> u64 {
        match &self.looked_at {
            Some(looked_at) => looked_at.of(class).count() as u64,
            None => classes.orders_in(&list[class]),
        }
    }

    /// How many of them have one effect before another: entry `[a][b]`, by their places in the chain.
    pub fn orders_before(&self, classes: &Classes, list: &[Class], class: usize) -> Vec<Vec<u64>> {
        let Some(looked_at) = &self.looked_at else { return classes.orders_before(&list[class]) };
        let mut before = vec![vec![0; looked_at.effects]; looked_at.effects];
        for order in looked_at.of(class) {
            for (at, &earlier) in order.iter().enumerate() {
                for &later in &order[at + 1..] {
                    before[usize::from(earlier)][usize::from(later)] += 1;
                }
            }
        }
        before
    }

    /// How many of them meet every condition.
    pub fn orders_with(
        &self,
        classes: &Classes,
        list: &[Class],
        class: usize,
        conditions: &[Condition],
    ) -> u64 {
        let Some(looked_at) = &self.looked_at else { return classes.orders_with(&list[class], conditions) };
        let meets = |order: &&[u8]| {
            let order: Vec<usize> = order.iter().map(|&place| usize::from(place)).collect();
            conditions.iter().all(|condition| condition.holds(&order))
        };
        looked_at.of(class).filter(meets).count() as u64
    }
}
