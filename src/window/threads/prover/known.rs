//! What is known of a chain's orders.

use std::collections::HashMap;
use std::sync::Arc;

use crate::base::frame::Frame;
use crate::measure::Difference;
use crate::order::{Class, Condition, Fact, Proofs, Verdict};
use crate::plan::Path;

/// What is known of the orders of a chain.
#[derive(Debug, Clone)]
pub struct Known {
    /// The path that was asked about.
    pub path: Arc<Path>,
    /// What is proved.
    pub proofs: Proofs,
    /// The orders that can differ, the present one first.
    pub classes: Vec<Class>,
    /// In which sequence they are looked at: the present one, then the most unlike it first.
    pub sequence: Vec<usize>,
    /// For each pair that is not proved, how much it differs on this footage at this moment, if it does; those
    /// found so far.
    pub pairs: Vec<(usize, usize, Option<Difference>)>,
    /// The classes gathered into looks, once they are.
    pub looks: Option<Arc<Gathered>>,
    /// Another number whenever classes or looks are others.
    pub revision: u64,
}

/// Order classes gathered into looks: classes that a viewer cannot tell apart.
#[derive(Debug, Clone, PartialEq)]
pub struct Gathered {
    /// Whether the output was looked at, not the picture as it leaves the chain.
    pub of_output: bool,
    /// For each class, its look.
    pub of: Vec<usize>,
    /// Every look: that of the present order, then each time the one furthest from all before it.
    pub looks: Vec<Look>,
    /// Whether they were told apart as the chain is now, not before its last change.
    pub is_of_now: bool,
    /// Whether every order belongs to its look within the limits: false where there are too many looks.
    pub is_complete: bool,
    /// The size at which they were told apart.
    pub looked_at: Frame,
    /// The size of the pictures that were brought to it.
    pub rendered_at: Frame,
}

/// One look.
#[derive(Debug, Clone, PartialEq)]
pub struct Look {
    /// Its number, as [`Gathered::of`] has it.
    pub number: usize,
    /// The class that stands for it.
    pub class: usize,
    /// How many classes look like this.
    pub classes: usize,
    /// The mean CIEDE2000 of its picture from that of the present order, where that was measured of the chain as
    /// it is now.
    pub mean: Option<f64>,
    /// What decides: these facts hold together for this look alone. Empty where no few facts do.
    pub facts: Vec<Fact>,
}

/// What is to be gathered into looks.
#[derive(Debug, Clone)]
pub struct LookQuestion {
    /// The chain's path at the size to look at, ending where it is looked at.
    pub path: Arc<Path>,
    /// Whether it ends at the output.
    pub of_output: bool,
}

/// An order on the wall.
#[derive(Debug, Clone, PartialEq)]
pub struct Candidate {
    pub class: usize,
    /// Its places.
    pub order: Vec<usize>,
    /// The look that it stands for, with the number of its classes that are left.
    pub look: Option<(Look, usize)>,
}

impl Known {
    /// Whether it is about the same chain over the same footage at the same moment.
    pub fn is_about(&self, path: &Path) -> bool {
        self.path.gives_the_same(path)
    }

    /// Whether it is about the same effects in the same order, perhaps with other settings or at another moment.
    pub fn is_like(&self, path: &Path) -> bool {
        let own = &self.path.chain;
        own.len() == path.chain.len()
            && own.iter().zip(&path.chain).all(|(a, b)| a.effect.name == b.effect.name)
    }

    /// Whether putting the chain into this order never changes the picture.
    pub fn is_same(&self, order: &[usize]) -> bool {
        let own: Vec<usize> = (0..order.len()).collect();
        self.proofs.classes.normal_form(order) == self.proofs.classes.normal_form(&own)
    }

    /// The look that an order belongs to, where looks are known.
    pub fn look_of(&self, order: &[usize]) -> Option<usize> {
        let normal = self.proofs.classes.normal_form(order);
        let class = self.classes.iter().position(|class| class.order == normal)?;
        self.looks.as_ref().map(|gathered| gathered.of[class])
    }

    /// The orders for the wall that meet the conditions: one for each look where `by_look` and looks are
    /// known, of one look where `of_look`, otherwise one for each class. The present order's comes first
    /// where it meets them, then the most unlike.
    pub fn candidates(
        &self,
        by_look: bool,
        of_look: Option<usize>,
        conditions: &[Condition],
    ) -> Vec<Candidate> {
        let meeting = |class: usize| self.proofs.classes.order_with(&self.classes[class], conditions);
        let all = self.sequence.iter().filter_map(|&class| Some((class, meeting(class)?)));
        let plain = |(class, order)| Candidate { class, order, look: None };
        let Some(gathered) = &self.looks else { return all.map(plain).collect() };
        if let Some(look) = of_look {
            return all.filter(|&(class, _)| gathered.of[class] == look).map(plain).collect();
        }
        if !by_look {
            return all.map(plain).collect();
        }
        // For each look, the order that stands for it, or the first other that meets the conditions.
        let mut standing: HashMap<usize, (Candidate, usize)> = HashMap::new();
        let representatives: HashMap<usize, &Look> =
            gathered.looks.iter().map(|look| (look.number, look)).collect();
        for (class, order) in all {
            let number = gathered.of[class];
            let is_first_choice = representatives.get(&number).is_some_and(|look| look.class == class);
            let one = Candidate { class, order, look: None };
            match standing.get_mut(&number) {
                Some((known, count)) => {
                    *count += 1;
                    if is_first_choice {
                        *known = one;
                    }
                }
                None => drop(standing.insert(number, (one, 1))),
            }
        }
        let looks = gathered.looks.iter().filter_map(|look| {
            let (one, left) = standing.remove(&look.number)?;
            Some(Candidate { look: Some((look.clone(), left)), ..one })
        });
        looks.collect()
    }

    /// Whether it is known already whether a pair that is not proved differs.
    pub(super) fn has_looked_at(&self, a: usize, b: usize) -> bool {
        self.pairs.iter().any(|&(x, y, _)| (x, y) == (a, b))
    }

    /// Pairs that are not proved and not looked at yet, and all that are not proved.
    pub fn pairs_left(&self) -> (usize, usize) {
        let open = open_pairs(self).len();
        (open - self.pairs.len().min(open), open)
    }

    /// What is known of a pair.
    pub fn pair(&self, a: usize, b: usize) -> PairMark {
        match self.proofs.verdict(a, b) {
            Verdict::Always(_) => PairMark::Always,
            Verdict::Open(_) => match self.pairs.iter().find(|&&(x, y, _)| (x, y) == (a, b)) {
                Some((.., Some(difference))) => PairMark::Differs(*difference),
                Some((.., None)) => PairMark::Here,
                None => PairMark::Unknown,
            },
        }
    }
}

/// Whether it matters which of two effects comes first.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum PairMark {
    /// Proved: the picture is the same.
    Always,
    /// Not proved, but the same picture here.
    Here,
    /// Another picture, this far from the present one.
    Differs(Difference),
    /// Not looked at yet.
    Unknown,
}

/// An order with two of its places exchanged.
pub fn swapped(order: &[usize], a: usize, b: usize) -> Vec<usize> {
    let mut order = order.to_vec();
    order.swap(a, b);
    order
}

pub(super) fn open_pairs(known: &Known) -> Vec<(usize, usize)> {
    let effects = known.path.chain.len();
    let pairs = (0..effects).flat_map(|a| (a + 1..effects).map(move |b| (a, b)));
    pairs.filter(|&(a, b)| matches!(known.proofs.verdict(a, b), Verdict::Open(_))).collect()
}
