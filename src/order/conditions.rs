//! Conditions that a person sets on orders, and the order of a class that meets them.

use super::classes::{Class, Classes, ways_up};

/// A condition on an order; effects are places in the chain.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Condition {
    /// One effect is applied before another.
    Before {
        /// Applied first: under.
        under: usize,
        /// Applied later: over.
        over: usize,
    },
    /// An effect is under all others.
    First(usize),
    /// An effect is over all others.
    Last(usize),
}

impl Condition {
    /// Whether an order meets it.
    pub fn holds(self, order: &[usize]) -> bool {
        let at = |effect: usize| order.iter().position(|&known| known == effect);
        match self {
            Self::Before { under, over } => at(under).zip(at(over)).is_some_and(|(under, over)| under < over),
            Self::First(effect) => order.first() == Some(&effect),
            Self::Last(effect) => order.last() == Some(&effect),
        }
    }
}

impl Classes {
    /// An order of this class that meets every condition, as near to its normal form as that allows;
    /// `None` if the class has none. Conditions on effects that the chain does not have are not met.
    pub fn order_with(&self, class: &Class, conditions: &[Condition]) -> Option<Vec<usize>> {
        let (order, after) = (&class.order, self.after_with(class, conditions)?);
        let n = order.len();
        let mut taken = 0_u64;
        let mut found = Vec::with_capacity(n);
        while found.len() < n {
            let next = (0..n).find(|&at| taken >> at & 1 == 0 && after[at] & !taken == 0)?;
            taken |= 1 << next;
            found.push(order[next]);
        }
        Some(found)
    }

    /// How many orders of this class meet every condition. Only for chains explored in full.
    pub fn orders_with(&self, class: &Class, conditions: &[Condition]) -> u64 {
        let Some(after) = self.after_with(class, conditions) else { return 0 };
        let needs: Vec<usize> = after.into_iter().map(|set| set as usize).collect();
        ways_up(&needs)[(1 << needs.len()) - 1]
    }

    /// For each position in the normal form, the positions that have to come first.
    fn after_with(&self, class: &Class, conditions: &[Condition]) -> Option<Vec<u64>> {
        let order = &class.order;
        let n = order.len();
        let place = |effect: usize| order.iter().position(|&known| known == effect);
        let mut after: Vec<u64> = (0..n)
            .map(|at| {
                let earlier = (0..at).filter(|&before| !self.commute(order[before], order[at]));
                earlier.fold(0, |mask, before| mask | 1 << before)
            })
            .collect();
        for condition in conditions {
            match *condition {
                Condition::Before { under, over } => {
                    let (under, over) = (place(under)?, place(over)?);
                    after[over] |= 1 << under;
                }
                Condition::First(effect) => {
                    let first = place(effect)?;
                    (0..n).filter(|&at| at != first).for_each(|at| after[at] |= 1 << first);
                }
                Condition::Last(effect) => {
                    let last = place(effect)?;
                    (0..n).filter(|&at| at != last).for_each(|at| after[last] |= 1 << at);
                }
            }
        }
        Some(after)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn all_orders(n: usize) -> Vec<Vec<usize>> {
        let mut orders = vec![vec![]];
        for _ in 0..n {
            orders = orders
                .into_iter()
                .flat_map(|order: Vec<usize>| {
                    (0..n)
                        .filter(|next| !order.contains(next))
                        .map(|next| [&order[..], &[next]].concat())
                        .collect::<Vec<_>>()
                })
                .collect();
        }
        orders
    }

    fn meets(order: &[usize], condition: Condition) -> bool {
        let at = |effect| order.iter().position(|&known| known == effect);
        let meets = match condition {
            Condition::Before { under, over } => at(under) < at(over),
            Condition::First(effect) => order.first() == Some(&effect),
            Condition::Last(effect) => order.last() == Some(&effect),
        };
        assert_eq!(condition.holds(order), meets);
        meets
    }

    #[test]
    fn a_class_meets_conditions_just_where_one_of_its_orders_does() {
        // Every order of four effects, by brute force, with pairs 0-2, 1-3 and 0-3 commuting.
        let commutes = |a, b| matches!((a, b), (0, 2) | (1, 3) | (0, 3));
        let classes = Classes::new((0..4).collect(), commutes);
        let mut conditions: Vec<Condition> =
            (0..4).flat_map(|at| [Condition::First(at), Condition::Last(at)]).collect();
        conditions.extend((0..4).flat_map(|under| {
            (0..4).filter(move |&over| over != under).map(move |over| Condition::Before { under, over })
        }));
        for class in classes.all() {
            let own: Vec<_> =
                all_orders(4).into_iter().filter(|order| classes.normal_form(order) == class.order).collect();
            for &one in &conditions {
                for &other in &conditions {
                    let wanted = own.iter().filter(|order| meets(order, one) && meets(order, other)).count();
                    let found = classes.order_with(&class, &[one, other]);
                    assert_eq!(found.is_some(), wanted > 0, "{class:?} {one:?} {other:?}");
                    assert_eq!(classes.orders_with(&class, &[one, other]), wanted as u64);
                    if let Some(order) = found {
                        assert!(own.contains(&order) && meets(&order, one) && meets(&order, other));
                    }
                }
            }
            assert_eq!(classes.order_with(&class, &[]), Some(class.order.clone()));
            assert_eq!(classes.order_with(&class, &[Condition::First(7)]), None);
        }
    }
}
