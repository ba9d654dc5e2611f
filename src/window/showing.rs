//! What the window can show: tabs, what stands in the large picture, what the wall has pictures of.

use std::sync::Arc;

use crate::base::place::capital;
use crate::base::words::words;
use crate::edit::{Edit, Spot};
use crate::order::{marks, write_marks};
use crate::show::chain::EffectUse;
use crate::show::{Scope, Show};

/// What the large picture shows.
#[derive(Debug, Clone, PartialEq)]
pub enum Shown {
    /// The output, as the work stands.
    Output,
    /// The scope's picture directly after an effect.
    After(Spot),
    /// The output with a chain in another order.
    Order {
        /// Whose chain.
        scope: Scope,
        /// Its current places, first applied first.
        order: Vec<usize>,
    },
    /// Two pictures compared.
    Pair(Pair),
    /// The output with what was found in place of a chain.
    Found(FoundRow),
}

/// What is seen of the work as it would be: in the large picture alone.
#[derive(Debug, Clone, PartialEq)]
pub enum Tried {
    /// The work with a change.
    Edit(Edit),
    /// A show in its place.
    Show(Arc<Show>),
}

/// What would be if what is pointed at were taken.
#[derive(Debug, Clone, PartialEq)]
pub struct Preview {
    pub tried: Tried,
    /// In words, behind "Preview:".
    pub said: String,
}

/// Two pictures, side by side or one over the other.
#[derive(Debug, Clone, PartialEq)]
pub struct Pair {
    /// The one on the left, which is shown first.
    pub left: Side,
    /// The other.
    pub right: Side,
    /// How they are compared.
    pub way: Comparing,
}

impl Pair {
    /// Two orders of a chain.
    pub fn of(scope: Scope, left: Vec<usize>, right: Vec<usize>, way: Comparing) -> Self {
        let [left, right] = [left, right].map(|order| Side::Order { scope, order });
        Self { left, right, way }
    }

    pub fn sides(&self) -> [&Side; 2] {
        [&self.left, &self.right]
    }
}

/// One of two pictures that are compared.
#[derive(Debug, Clone, PartialEq)]
pub enum Side {
    /// The output with a chain in an order.
    Order {
        /// Whose chain.
        scope: Scope,
        /// Its current places, first applied first.
        order: Vec<usize>,
    },
    /// The output with a chain that is kept apart, with its settings: a pin, or what was found.
    Kept {
        row: FoundRow,
        /// What it is called.
        name: String,
    },
}

impl Side {
    /// A scope's chain as it stands.
    pub fn current(show: &Show, scope: Scope) -> Self {
        Self::Order { scope, order: (0..show.chain(scope).len()).collect() }
    }

    pub fn scope(&self) -> Scope {
        match self {
            Self::Order { scope, .. } => *scope,
            Self::Kept { row, .. } => row.scope,
        }
    }

    /// Whether it is the chain as it stands.
    pub fn is_current(&self) -> bool {
        matches!(self, Self::Order { order, .. } if order.is_sorted())
    }

    /// Its effects.
    pub fn row(&self, show: &Show) -> Row {
        match self {
            Self::Order { scope, order } => Row::of(show.chain(*scope), *scope, order),
            Self::Kept { row, .. } => Row { scope: row.scope, effects: row.effects.clone() },
        }
    }
}

words! {
    /// How two pictures are compared.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    pub enum Comparing {
        /// One beside the other, or under it where that shows them larger.
        Beside = "both",
        /// One over the other, parted by a line that the person moves.
        Wipe = "wipe",
        /// One after the other, each for half a second, once the person asks for it.
        Blink = "blink",
        /// How far they are apart, four times as bright.
        Difference = "difference",
    }
}

words! {
    /// What stands beside the picture.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    pub enum Tab {
        /// The wall of orders.
        Orders = "orders",
        /// The swap table.
        Swaps = "swaps",
        /// Orders kept in view.
        Pins = "pins",
        /// The show's controls.
        Hands = "hands",
        /// Lessons.
        Lessons = "lessons",
        /// Chains and starters kept from show to show.
        Library = "library",
        /// What comes near a wish.
        Find = "find",
    }
}

impl Tab {
    /// The word on its control.
    pub fn label(self) -> String {
        capital(self.name())
    }
}

/// What the wall shows a picture of.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum WallBy {
    /// Every family: orders that share the few facts which decide most of what order does.
    Families,
    /// Every look of the family of this order.
    Family(Vec<usize>),
    /// Every look: orders that a viewer cannot tell apart stand behind one picture.
    Looks,
    /// Every order that looks like this one.
    Look {
        /// An order of it.
        order: Vec<usize>,
        /// Whether only those of its family are shown, in which it was opened.
        in_family: bool,
    },
    /// Every order that can differ.
    Orders,
}

impl WallBy {
    /// What is on the wall once what is open there is closed; nothing where nothing is open.
    pub fn closed(&self) -> Option<Self> {
        match self {
            Self::Family(_) => Some(Self::Families),
            Self::Look { order, in_family: true } => Some(Self::Family(order.clone())),
            Self::Look { in_family: false, .. } => Some(Self::Looks),
            Self::Families | Self::Looks | Self::Orders => None,
        }
    }

    /// The same, of what another order is of.
    pub fn of(self, order: Vec<usize>) -> Self {
        match self {
            Self::Family(_) => Self::Family(order),
            Self::Look { in_family, .. } => Self::Look { order, in_family },
            whole => whole,
        }
    }

    /// What is on the wall once nothing is open there.
    pub fn whole(self) -> Self {
        let mut by = self;
        while let Some(closed) = by.closed() {
            by = closed;
        }
        by
    }

    /// An order of what is open.
    pub fn open(&self) -> Option<&[usize]> {
        match self {
            Self::Family(order) | Self::Look { order, .. } => Some(order),
            Self::Families | Self::Looks | Self::Orders => None,
        }
    }
}

/// An order by the effects themselves, the first applied first: it means the same whatever list it was read
/// from, and however the chain stands by now.
#[derive(Debug, Clone, PartialEq)]
pub struct Row {
    /// Whose chain.
    pub scope: Scope,
    /// Its effects in that order.
    pub effects: Vec<EffectUse>,
}

/// A chain that was found.
#[derive(Debug, Clone, PartialEq)]
pub struct FoundRow {
    /// Whose chain it was, and which it is taken from.
    pub of: Scope,
    /// Where it sits: over what stands there, where that is another scope.
    pub scope: Scope,
    /// Its effects in their order.
    pub effects: Vec<EffectUse>,
}

impl FoundRow {
    /// A chain in place of what stands on its own scope.
    pub fn on(scope: Scope, effects: Vec<EffectUse>) -> Self {
        Self { of: scope, scope, effects }
    }

    /// What puts it into the show; `name` is what it is called there.
    pub fn put_in_place(&self, name: &str) -> Edit {
        let Self { of, scope, effects } = self;
        let (chain, name) = (effects.clone(), name.to_owned());
        match of == scope {
            true => Edit::Chain { scope: *scope, chain, name },
            false => Edit::Settle { from: *of, onto: *scope, chain, name },
        }
    }
}

impl Row {
    /// A chain's effects in this order of their places.
    pub fn of(chain: &[EffectUse], scope: Scope, order: &[usize]) -> Self {
        let mut chain = chain.to_vec();
        write_marks(&mut chain);
        Self { scope, effects: order.iter().filter_map(|&place| chain.get(place).cloned()).collect() }
    }

    /// Its effects' marks, in that order.
    pub fn marks(&self) -> impl Iterator<Item = u32> {
        self.effects.iter().filter_map(|used| used.mark)
    }

    /// The places of its effects in a chain of just these effects; nothing where the chain has others.
    pub fn in_chain(&self, chain: &[EffectUse]) -> Option<Vec<usize>> {
        if self.effects.len() != chain.len() {
            return None;
        }
        let marks = marks(chain);
        let mut left: Vec<usize> = (0..chain.len()).collect();
        let mut take = |used: &EffectUse| {
            let alike = |&place: &usize| chain[place].is_alike(used);
            let is_it = |place: &usize| used.mark == Some(marks.of(*place)) && alike(place);
            let at = left.iter().position(is_it).or_else(|| left.iter().position(alike))?;
            Some(left.remove(at))
        };
        self.effects.iter().map(&mut take).collect()
    }
}
