//! What is known of a chain's orders.

use std::collections::hash_map::Entry;
use std::collections::{HashMap, HashSet};
use std::sync::Arc;

use super::on_pieces::OnPieces;
use crate::base::frame::Frame;
use crate::measure::Difference;
use crate::order::{Class, Condition, Fact, Families, Proofs, Tally, Verdict};
use crate::plan::Path;
use crate::window::showing::WallBy;

/// What is known of the orders of a chain.
#[derive(Debug, Clone)]
pub struct Known {
    /// The path that was asked about.
    pub path: Arc<Path>,
    /// What is proved.
    pub proofs: Proofs,
    /// The orders that can differ, the current one first.
    pub classes: Vec<Class>,
    /// How many orders each stands for: of all, or of some drawn at random.
    pub tally: Tally,
    /// In which sequence they are looked at: the current one, then the most unlike it first.
    pub sequence: Vec<usize>,
    /// For each pair that is not proved, how much it differs on this footage at this moment, if it does; those
    /// found so far.
    pub pairs: Vec<(usize, usize, Option<Difference>)>,
    /// The classes gathered into looks, once they are.
    pub looks: Option<Arc<Gathered>>,
    /// What is known of single pieces, where orders were judged on several, not on the clip of the path alone.
    pub on_pieces: Option<Arc<OnPieces>>,
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
    /// Every look: that of the current order, then each time the one furthest from all before it.
    pub looks: Vec<Look>,
    /// Whether they were told apart as the chain is now, not before its last change.
    pub is_of_now: bool,
    /// Whether this is what a first sample tells: families, and no look yet.
    pub is_first: bool,
    /// Whether every order belongs to its look within the limits: false where there are too many looks.
    pub is_complete: bool,
    /// The size at which they were told apart.
    pub looked_at: Frame,
    /// The size of the pictures that were brought to it.
    pub rendered_at: Frame,
    /// What matters; nothing where not every order was looked at, or where no order is another.
    pub matters: Option<Matters>,
    /// For each class, the mean CIEDE2000 of its picture from that of the current order, where that was measured of
    /// the chain as it is now.
    pub means: Vec<Option<f64>>,
}

/// What matters, found together with looks.
#[derive(Debug, Clone, PartialEq)]
pub struct Matters {
    /// "Two questions decide 88 % of what order does here."
    pub opening: String,
    /// The families, where they tell anything.
    pub families: Option<Families>,
    /// For each class, its family by its place in the list.
    pub of: Vec<usize>,
    /// Whether shares and opening are of the chain as it is now: they are of all its orders, whichever is the current one.
    pub is_of_now: bool,
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
    pub stands_for: StandsFor,
    /// Whether the current order is among what it stands for, and is another.
    pub holds_current: bool,
}

/// What an order on the wall stands for.
#[derive(Debug, Clone, PartialEq)]
pub enum StandsFor {
    /// Itself.
    Order,
    /// A look, with the number of its classes that are left.
    Look(Look, usize),
    Family(FamilyLeft),
}

/// What is left of a family where conditions are to be met.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct FamilyLeft {
    /// Its place in the list of families.
    pub nth: usize,
    pub looks: usize,
    pub classes: usize,
    /// Orders, those that are proved to give the same picture counted one by one.
    pub orders: u64,
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
        let class = self.class_of(order)?;
        self.looks.as_ref().filter(|gathered| !gathered.is_first).map(|gathered| gathered.of[class])
    }

    /// The families, where they tell anything.
    pub fn families(&self) -> Option<&Families> {
        self.looks.as_ref()?.matters.as_ref()?.families.as_ref()
    }

    /// The family that an order belongs to, by its place in the list, where families are known.
    pub fn family_of(&self, order: &[usize]) -> Option<usize> {
        self.families()?;
        self.looks.as_ref()?.matters.as_ref()?.of.get(self.class_of(order)?).copied()
    }

    fn class_of(&self, order: &[usize]) -> Option<usize> {
        let normal = self.proofs.classes.normal_form(order);
        self.classes.iter().position(|class| class.order == normal)
    }

    /// The orders for the wall that meet the conditions; as long as families are not known, one for each look, and as
    /// long as looks are not known, one for each class. The current order's comes first where it meets them, then the
    /// most unlike; of a family that is open, the one that it is shown by.
    pub fn candidates(&self, by: &WallBy, conditions: &[Condition]) -> Vec<Candidate> {
        let meeting = |class: usize| self.proofs.classes.order_with(&self.classes[class], conditions);
        let all = self.sequence.iter().filter_map(|&class| Some((class, meeting(class)?)));
        let Some(gathered) = &self.looks else { return all.map(plain).collect() };
        let family = match by {
            WallBy::Family(order) | WallBy::Look { order, in_family: true } => self.family_of(order),
            _ => None,
        };
        let look = match by {
            WallBy::Look { order, .. } => self.look_of(order),
            _ => None,
        };
        let of = gathered.matters.as_ref().map_or(&[][..], |matters| &matters.of);
        let is_in = |class: usize| {
            family.is_none_or(|family| of.get(class) == Some(&family))
                && look.is_none_or(|look| gathered.of[class] == look)
        };
        let left: Vec<(usize, Vec<usize>)> = all.filter(|(class, _)| is_in(*class)).collect();
        match (by, self.families()) {
            (WallBy::Look { .. } | WallBy::Orders, _) => left.into_iter().map(plain).collect(),
            (WallBy::Families, Some(families)) => {
                // Without conditions they are counted already.
                let counts = !conditions.is_empty();
                let count = |class: usize| {
                    self.tally.orders_with(&self.proofs.classes, &self.classes, class, conditions)
                };
                by_family(gathered, (families, of), left, counts.then_some(&count))
            }
            (WallBy::Family(_), Some(families)) if family.is_some() => {
                let shown = family.map(|family| families.list[family].shown);
                let looks = by_look(gathered, left.clone(), shown);
                // What is one look opens to its orders.
                if looks.len() > 1 { looks } else { left.into_iter().map(plain).collect() }
            }
            // A first sample tells no looks.
            _ if gathered.is_first => left.into_iter().map(plain).collect(),
            _ => by_look(gathered, left, None),
        }
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

/// An order that stands for itself.
fn plain((class, order): (usize, Vec<usize>)) -> Candidate {
    Candidate { class, order, stands_for: StandsFor::Order, holds_current: false }
}

/// Orders of which one stands for all.
struct Group {
    class: usize,
    order: Vec<usize>,
    rank: usize,
    classes: usize,
    has_own: bool,
}

impl Group {
    fn into_candidate(self, stands_for: StandsFor) -> Candidate {
        let holds_current = self.has_own && !self.order.is_sorted();
        Candidate { class: self.class, order: self.order, stands_for, holds_current }
    }
}

/// Gathers orders into groups; that of the highest rank stands for its group, the first of several.
fn grouped(
    left: Vec<(usize, Vec<usize>)>,
    group: impl Fn(usize) -> usize,
    rank: impl Fn(usize) -> usize,
) -> HashMap<usize, Group> {
    let mut groups: HashMap<usize, Group> = HashMap::new();
    for (class, order) in left {
        let rank = rank(class);
        match groups.entry(group(class)) {
            Entry::Vacant(vacant) => {
                vacant.insert(Group { class, order, rank, classes: 1, has_own: class == 0 });
            }
            Entry::Occupied(mut known) => {
                let known = known.get_mut();
                known.classes += 1;
                known.has_own |= class == 0;
                if rank > known.rank {
                    (known.class, known.order, known.rank) = (class, order, rank);
                }
            }
        }
    }
    groups
}

/// For each look, the order that stands for it; first the look of `shown`, which stands for it itself.
fn by_look(gathered: &Gathered, left: Vec<(usize, Vec<usize>)>, shown: Option<usize>) -> Vec<Candidate> {
    let representatives: HashSet<usize> = gathered.looks.iter().map(|look| look.class).collect();
    let rank = |class: usize| {
        if Some(class) == shown {
            3
        } else if class == 0 {
            2
        } else {
            usize::from(representatives.contains(&class))
        }
    };
    let mut groups = grouped(left, |class| gathered.of[class], rank);
    let mut looks: Vec<&Look> = gathered.looks.iter().collect();
    let first = shown.map(|class| gathered.of[class]);
    looks.sort_by_key(|look| first.is_some_and(|first| look.number != first));
    let looks = looks.into_iter().filter_map(|look| {
        let group = groups.remove(&look.number)?;
        let classes = group.classes;
        Some(group.into_candidate(StandsFor::Look(look.clone(), classes)))
    });
    looks.collect()
}

/// For each family, the order that it is shown by; where that does not meet the conditions, one of its commonest look.
fn by_family(
    gathered: &Gathered,
    (families, of): (&Families, &[usize]),
    left: Vec<(usize, Vec<usize>)>,
    count: Option<&dyn Fn(usize) -> u64>,
) -> Vec<Candidate> {
    let mut alike: HashMap<(usize, usize), usize> = HashMap::new();
    let mut orders: Vec<u64> = families.list.iter().map(|family| family.orders).collect();
    if let Some(count) = count {
        orders.fill(0);
        left.iter().for_each(|(class, _)| orders[of[*class]] += count(*class));
    }
    for (class, _) in &left {
        *alike.entry((of[*class], gathered.of[*class])).or_default() += 1;
    }
    let mut looks = vec![0; families.list.len()];
    alike.keys().for_each(|&(family, _)| looks[family] += 1);
    let rank = |class: usize| match families.list[of[class]].shown == class {
        true => usize::MAX,
        false => alike[&(of[class], gathered.of[class])],
    };
    let mut groups = grouped(left, |class| of[class], rank);
    let candidate = |nth: usize| {
        let group = groups.remove(&nth)?;
        let left = FamilyLeft { nth, looks: looks[nth], classes: group.classes, orders: orders[nth] };
        Some(group.into_candidate(StandsFor::Family(left)))
    };
    (0..families.list.len()).filter_map(candidate).collect()
}

/// Whether it matters which of two effects comes first.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum PairMark {
    /// Proved: the picture is the same.
    Always,
    /// Not proved, but the same picture here.
    Here,
    /// Another picture, this far from the current one.
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
