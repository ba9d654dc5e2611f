//! What decides: a few facts "A before B" that tell the looks of a chain's orders apart.

use fixedbitset::FixedBitSet;

/// That one effect is applied before another: two places in the chain.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Fact {
    /// The effect applied first: under.
    pub before: usize,
    /// The effect applied later: over.
    pub after: usize,
}

impl Fact {
    /// The same two effects the other way round.
    pub fn turned(self) -> Self {
        Self { before: self.after, after: self.before }
    }

    /// Whether it holds for an order.
    pub fn holds(self, order: &[usize]) -> bool {
        order.iter().find(|&&place| place == self.before || place == self.after) == Some(&self.before)
    }
}

/// One line of a decision list.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Rule {
    /// All of these must hold, and no earlier rule; nothing in the last rule.
    pub when: Vec<Fact>,
    /// The look that follows.
    pub look: usize,
    /// Classes that this rule is the first to hold for.
    pub classes: usize,
}

/// A decision list over the orders of a chain.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Rules {
    /// The first rule that holds decides.
    pub list: Vec<Rule>,
    /// Classes whose look the list does not give.
    pub misses: usize,
    /// For each look, facts that hold for it and together for no other; empty where one look is all
    /// there is, or where the list misses some of it.
    pub names: Vec<Vec<Fact>>,
}

/// Past this many rules the rest is guessed, and counted as misses where the guess is wrong.
pub const MOST_RULES: usize = 64;

struct Facts {
    /// Each fact with the classes it holds for; a fact and its opposite are neighbours.
    columns: Vec<(Fact, FixedBitSet)>,
    looks: Vec<FixedBitSet>,
}

/// A leaf of the decision tree: facts (by column) and the classes that they leave.
struct Leaf {
    when: Vec<usize>,
    classes: FixedBitSet,
    look: usize,
}

impl Rules {
    /// The rules for these orders and their looks; `pairs` are those whose order may matter.
    ///
    /// A decision tree by information gain, read off as a list whose rules are then stripped of every
    /// fact that they can spare. Ties are settled by the pairs' order, so equal input gives equal rules.
    pub fn of(orders: &[&[usize]], look_of: &[usize], pairs: &[(usize, usize)]) -> Self {
        let classes = orders.len();
        let looks = look_of.iter().max().map_or(0, |&most| most + 1);
        let mut facts =
            Facts { columns: Vec::new(), looks: vec![FixedBitSet::with_capacity(classes); looks] };
        for (class, &look) in look_of.iter().enumerate() {
            facts.looks[look].insert(class);
        }
        let places: Vec<Vec<usize>> = orders
            .iter()
            .map(|order| {
                let mut place = vec![0; order.len()];
                order.iter().enumerate().for_each(|(at, &effect)| place[effect] = at);
                place
            })
            .collect();
        for &(a, b) in pairs {
            for (before, after) in [(a, b), (b, a)] {
                let mut set = FixedBitSet::with_capacity(classes);
                (0..classes).filter(|&c| places[c][before] < places[c][after]).for_each(|c| set.insert(c));
                facts.columns.push((Fact { before, after }, set));
            }
        }
        let leaves = facts.leaves(all(classes));
        let names = facts.names(&leaves);
        let (list, misses) = facts.list(leaves, classes);
        Self { list, misses, names }
    }

    /// The look that the list gives to an order.
    pub fn look_of(&self, order: &[usize]) -> Option<usize> {
        let place = |effect: usize| order.iter().position(|&other| other == effect);
        let holds = |fact: &Fact| place(fact.before) < place(fact.after);
        self.list.iter().find(|rule| rule.when.iter().all(holds)).map(|rule| rule.look)
    }

    /// Every fact that some rule asks for, in the order in which the rules ask.
    pub fn facts(&self) -> Vec<Fact> {
        let mut facts = Vec::new();
        for fact in self.list.iter().flat_map(|rule| &rule.when) {
            if !facts.contains(fact) && !facts.contains(&fact.turned()) {
                facts.push(*fact);
            }
        }
        facts
    }
}

impl Facts {
    /// Bits needed to name a class's look, were the looks of `classes` drawn at random.
    fn entropy(&self, classes: &FixedBitSet) -> f64 {
        let total = classes.count_ones(..) as f64;
        self.looks
            .iter()
            .map(|look| look.intersection_count(classes) as f64)
            .filter(|&count| count > 0.0)
            .map(|count| -count * (count / total).log2())
            .sum()
    }

    fn commonest(&self, classes: &FixedBitSet) -> usize {
        let count = |&look: &usize| (self.looks[look].intersection_count(classes), std::cmp::Reverse(look));
        (0..self.looks.len()).max_by_key(count).unwrap_or(0)
    }

    /// The tree, best split first, until every leaf is of one look or there are too many.
    fn leaves(&self, all: FixedBitSet) -> Vec<Leaf> {
        let leaf = |when: Vec<usize>, classes: FixedBitSet| {
            let look = self.commonest(&classes);
            Leaf { when, classes, look }
        };
        let mut leaves = vec![leaf(Vec::new(), all)];
        while leaves.len() < MOST_RULES {
            // The leaf with the most to gain.
            let mut worst: Option<(usize, f64)> = None;
            for (at, open) in leaves.iter().enumerate() {
                let bits = self.entropy(&open.classes);
                if bits > 1e-9 && worst.is_none_or(|(_, most)| bits > most) {
                    worst = Some((at, bits));
                }
            }
            let Some((at, bits)) = worst else { break };
            let open = &leaves[at];
            let mut best: Option<(usize, f64)> = None;
            for column in (0..self.columns.len()).step_by(2) {
                let with = &open.classes & &self.columns[column].1;
                let without = without(&open.classes, &self.columns[column].1);
                if with.is_clear() || without.is_clear() {
                    continue;
                }
                let left = self.entropy(&with) + self.entropy(&without);
                if left <= bits + 1e-9 && best.is_none_or(|(_, least)| left < least - 1e-9) {
                    best = Some((column, left));
                }
            }
            // Where no fact tells the classes apart, they are the same order to the facts.
            let Some((column, _)) = best else { break };
            let open = leaves.swap_remove(at);
            for column in [column, column + 1] {
                let mut when = open.when.clone();
                when.push(column);
                leaves.push(leaf(when, &open.classes & &self.columns[column].1));
            }
        }
        leaves
    }

    fn holding(&self, when: &[usize], among: &FixedBitSet) -> FixedBitSet {
        when.iter().fold(among.clone(), |set, &column| &set & &self.columns[column].1)
    }

    /// `when` without the facts that it can spare: what it holds for among `among` stays within `allowed`.
    fn stripped(&self, when: &[usize], among: &FixedBitSet, allowed: &FixedBitSet) -> Vec<usize> {
        let mut kept = when.to_vec();
        // The last facts of a branch are the finest: the first ones are tried first.
        let mut at = 0;
        while at < kept.len() {
            let mut fewer = kept.clone();
            fewer.remove(at);
            if self.holding(&fewer, among).is_subset(allowed) {
                kept = fewer;
            } else {
                at += 1;
            }
        }
        kept
    }

    /// The leaves as a list: at each step the leaf that can do with the fewest facts.
    fn list(&self, mut leaves: Vec<Leaf>, classes: usize) -> (Vec<Rule>, usize) {
        let mut open = all(classes);
        let mut list = Vec::new();
        let mut misses = 0;
        loop {
            leaves.retain(|leaf| leaf.classes.intersection_count(&open) > 0);
            let mut best: Option<(usize, Vec<usize>, FixedBitSet)> = None;
            for (at, leaf) in leaves.iter().enumerate() {
                // Its own strays are the leaf's misses; no others may come in.
                let allowed = &self.looks[leaf.look] | &leaf.classes;
                let when = self.stripped(&leaf.when, &open, &allowed);
                let holds = self.holding(&when, &open);
                let better = best.as_ref().is_none_or(|(_, least, most)| {
                    (when.len(), std::cmp::Reverse(holds.count_ones(..)))
                        < (least.len(), std::cmp::Reverse(most.count_ones(..)))
                });
                if better {
                    best = Some((at, when, holds));
                }
            }
            let Some((at, when, holds)) = best else { break };
            let look = leaves[at].look;
            misses += holds.difference_count(&self.looks[look]);
            list.push(Rule {
                when: when.iter().map(|&column| self.columns[column].0).collect(),
                look,
                classes: holds.count_ones(..),
            });
            open.difference_with(&holds);
        }
        (list, misses)
    }

    /// For each look the fewest facts of its largest leaf that no class of another look has.
    fn names(&self, leaves: &[Leaf]) -> Vec<Vec<Fact>> {
        (0..self.looks.len())
            .map(|look| {
                let own = leaves
                    .iter()
                    .filter(|leaf| leaf.look == look && leaf.classes.is_subset(&self.looks[look]));
                let largest =
                    own.max_by_key(|leaf| (leaf.classes.count_ones(..), std::cmp::Reverse(leaf.when.len())));
                let Some(leaf) = largest else { return Vec::new() };
                let when = self.stripped(&leaf.when, &self.known(), &self.looks[look]);
                when.iter().map(|&column| self.columns[column].0).collect()
            })
            .collect()
    }

    /// Every class there is.
    fn known(&self) -> FixedBitSet {
        let mut looks = self.looks.iter();
        let first = looks.next().cloned().unwrap_or_default();
        looks.fold(first, |known, look| &known | look)
    }
}

/// All of so many classes.
fn all(classes: usize) -> FixedBitSet {
    let mut set = FixedBitSet::with_capacity(classes);
    set.insert_range(..);
    set
}

/// Those of a set that are not in another.
fn without(set: &FixedBitSet, other: &FixedBitSet) -> FixedBitSet {
    let mut set = set.clone();
    set.difference_with(other);
    set
}

#[cfg(test)]
mod tests {
    use super::super::Classes;
    use super::*;

    fn all_orders(n: usize) -> Vec<Vec<usize>> {
        Classes::new((0..n).collect(), |_, _| false).all().into_iter().map(|class| class.order).collect()
    }

    fn all_pairs(n: usize) -> Vec<(usize, usize)> {
        (0..n).flat_map(|a| (a + 1..n).map(move |b| (a, b))).collect()
    }

    fn decided(orders: &[Vec<usize>], look: impl Fn(&[usize]) -> usize, n: usize) -> (Rules, Vec<usize>) {
        let orders: Vec<&[usize]> = orders.iter().map(Vec::as_slice).collect();
        let looks: Vec<usize> = orders.iter().map(|order| look(order)).collect();
        (Rules::of(&orders, &looks, &all_pairs(n)), looks)
    }

    fn at(order: &[usize], effect: usize) -> usize {
        order.iter().position(|&other| other == effect).unwrap()
    }

    #[test]
    fn one_fact_that_decides_is_found_alone() {
        let orders = all_orders(5);
        let (rules, looks) = decided(&orders, |order| usize::from(at(order, 3) > at(order, 1)), 5);
        assert_eq!(rules.list.len(), 2);
        assert_eq!(rules.facts(), [Fact { before: 1, after: 3 }]);
        assert!(rules.list[1].when.is_empty());
        assert_eq!(rules.misses, 0);
        assert_eq!(rules.names, [vec![Fact { before: 3, after: 1 }], vec![Fact { before: 1, after: 3 }]]);
        assert!(orders.iter().zip(&looks).all(|(order, &look)| rules.look_of(order) == Some(look)));
    }

    #[test]
    fn the_list_gives_every_order_its_look() {
        let orders = all_orders(5);
        // Looks that depend on three pairs at once.
        let look = |order: &[usize]| {
            let bit = |a, b| usize::from(at(order, a) < at(order, b));
            if bit(0, 1) == 1 { bit(2, 3) } else { 2 + bit(1, 4) * bit(0, 2) }
        };
        let (rules, looks) = decided(&orders, look, 5);
        assert_eq!(rules.misses, 0);
        assert!(orders.iter().zip(&looks).all(|(order, &look)| rules.look_of(order) == Some(look)));
        assert!(rules.list.len() <= 8, "{} rules", rules.list.len());
        let total: usize = rules.list.iter().map(|rule| rule.classes).sum();
        assert_eq!(total, 120);
        for (look, name) in rules.names.iter().enumerate() {
            let holds =
                |order: &[usize]| name.iter().all(|fact| at(order, fact.before) < at(order, fact.after));
            assert!(orders.iter().zip(&looks).all(|(order, &other)| !holds(order) || other == look));
        }
    }

    #[test]
    fn one_look_needs_no_rule_but_the_last() {
        let (rules, _) = decided(&all_orders(3), |_| 0, 3);
        assert_eq!(rules.list, [Rule { when: Vec::new(), look: 0, classes: 6 }]);
        assert_eq!(rules.names, [Vec::new()]);
    }

    #[test]
    fn misses_are_counted_as_the_list_makes_them() {
        // As many looks as orders: more than there may be rules.
        let orders = all_orders(5);
        let slices: Vec<&[usize]> = orders.iter().map(Vec::as_slice).collect();
        let looks: Vec<usize> = (0..120).collect();
        let rules = Rules::of(&slices, &looks, &all_pairs(5));
        let wrong =
            slices.iter().zip(&looks).filter(|&(order, &look)| rules.look_of(order) != Some(look)).count();
        assert!(rules.list.len() <= MOST_RULES);
        assert_eq!(rules.misses, wrong);
        assert!(wrong >= 120 - MOST_RULES);
    }
}
