//! Order classes and their normal forms.

/// Chains up to this long are explored in full: 8 effects have 40,320 orders.
pub const LONGEST_IN_FULL: usize = 8;

/// The longest chain at all.
pub const MOST_EFFECTS: usize = 64;

/// Which of the effects of a chain commute, and which are twins (same effect, same settings).
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Classes {
    /// Bit `b` of entry `a`: a and b commute. Symmetric, no effect with itself.
    commutes: Vec<u64>,
    /// For each place, the first place with an equal effect: itself, unless it is a twin.
    letter: Vec<usize>,
}

/// One order class: orders proved to give the same picture.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Class {
    /// The normal form: places in the chain, first applied first. It is the
    /// smallest order of its class, so the class of the chain's own order has
    /// that order.
    pub order: Vec<usize>,
}

impl Classes {
    /// Classes of a chain of `letter.len()` effects; `commutes(a, b)` is asked once for each pair a < b.
    ///
    /// # Panics
    /// If the chain is longer than [`MOST_EFFECTS`]; files refuse such a chain before.
    pub fn new(letter: Vec<usize>, commutes: impl Fn(usize, usize) -> bool) -> Self {
        let n = letter.len();
        assert!(n <= MOST_EFFECTS, "a chain of {n} effects; at most {MOST_EFFECTS} are read from files");
        let mut masks = vec![0_u64; n];
        for a in 0..n {
            for b in a + 1..n {
                if letter[a] != letter[b] && commutes(a, b) {
                    masks[a] |= 1 << b;
                    masks[b] |= 1 << a;
                }
            }
        }
        Self { commutes: masks, letter }
    }

    /// Effects in the chain.
    pub fn effects(&self) -> usize {
        self.letter.len()
    }

    /// For each place, the first place with an equal effect.
    pub(super) fn letters(&self) -> &[usize] {
        &self.letter
    }

    /// Whether the effects at two places commute.
    pub fn commute(&self, a: usize, b: usize) -> bool {
        self.commutes[a] >> b & 1 == 1
    }

    /// Orders in all, twins counted as one: n! / (the factorial of each set of
    /// twins). `None` past what 128 bits hold.
    pub fn orders_total(&self) -> Option<u128> {
        words(self.letter.iter().copied())
    }

    /// Every class that can differ, the class of the chain's own order first. Only for chains of at most
    /// [`LONGEST_IN_FULL`] effects; [`Self::looked_at`] is for any.
    pub fn all(&self) -> Vec<Class> {
        debug_assert!(self.effects() <= LONGEST_IN_FULL);
        let mut found = Vec::new();
        let mut word = Vec::with_capacity(self.effects());
        self.extend(&mut word, 0, &mut found);
        // With twins the chain's own order may have a normal form that is not the smallest by place.
        let own = self.normal_form(&(0..self.effects()).collect::<Vec<_>>());
        if let Some(at) = found.iter().position(|class| class.order == own) {
            found[..=at].rotate_right(1);
        }
        found
    }

    /// Grows `word` in every way that keeps it a normal form: an effect may not
    /// follow a run that it commutes with and of which some effect has a larger
    /// place, since then it would stand earlier in a smaller word of the class.
    fn extend(&self, word: &mut Vec<usize>, used: u64, found: &mut Vec<Class>) {
        if word.len() == self.effects() {
            found.push(Class { order: word.clone() });
            return;
        }
        for next in 0..self.effects() {
            if used >> next & 1 == 1 || self.waits_for_twin(next, used) || !self.stays_normal(word, next) {
                continue;
            }
            word.push(next);
            self.extend(word, used | 1 << next, found);
            word.pop();
        }
    }

    /// Twins are taken in the order of the chain, so that no order counts twice.
    fn waits_for_twin(&self, next: usize, used: u64) -> bool {
        (self.letter[next]..next).any(|p| self.letter[p] == self.letter[next] && used >> p & 1 == 0)
    }

    fn stays_normal(&self, word: &[usize], next: usize) -> bool {
        word.iter()
            .rev()
            .take_while(|&&before| self.commute(before, next))
            .all(|&before| self.letter[before] < self.letter[next])
    }

    /// The normal form of any order: the smallest order of its class.
    pub fn normal_form(&self, order: &[usize]) -> Vec<usize> {
        let order = self.twins_in_turn(order);
        let mut left = order;
        let mut normal = Vec::with_capacity(left.len());
        while !left.is_empty() {
            let free = (0..left.len())
                .filter(|&at| left[..at].iter().all(|&before| self.commute(before, left[at])))
                .min_by_key(|&at| (self.letter[left[at]], left[at]));
            // The first of what is left is always free.
            normal.push(left.remove(free.unwrap_or(0)));
        }
        normal
    }

    fn twins_in_turn(&self, order: &[usize]) -> Vec<usize> {
        let mut next = self.letter.clone();
        order
            .iter()
            .map(|&place| {
                let letter = self.letter[place];
                let taken = next[letter];
                next[letter] = (taken + 1..self.effects())
                    .find(|&later| self.letter[later] == letter)
                    .unwrap_or(self.effects());
                taken
            })
            .collect()
    }

    /// What orders of one class have in common and no order of another: for each effect, those of which it matters that they
    /// come before it.
    pub(super) fn key(&self, order: &[usize]) -> Vec<u64> {
        let mut key = vec![0; self.effects()];
        let mut before = 0_u64;
        for place in self.twins_in_turn(order) {
            key[place] = before & !self.commutes[place];
            before |= 1 << place;
        }
        key
    }

    /// How many orders a class holds: the linear extensions of its normal form's
    /// dependences. Only for chains explored in full.
    pub fn orders_in(&self, class: &Class) -> u64 {
        let needs = self.needs(class);
        ways_up(&needs)[(1 << needs.len()) - 1]
    }

    /// How many orders of a class have one effect before another: entry `[a][b]`, by their places in the chain.
    /// Only for chains explored in full.
    pub fn orders_before(&self, class: &Class) -> Vec<Vec<u64>> {
        let n = self.effects();
        let needs = self.needs(class);
        let up = ways_up(&needs);
        let full = (1_usize << n) - 1;
        // Ways to go on from each set of effects that are applied already.
        let mut on = vec![0_u64; 1 << n];
        on[full] = 1;
        let mut before = vec![vec![0; n]; n];
        for done in (0..full).rev().filter(|&done| up[done] > 0) {
            for at in (0..n).filter(|&at| done >> at & 1 == 0 && needs[at] & !done == 0) {
                let next = done | 1 << at;
                on[done] += on[next];
                // In these orders `at` comes now, before all that is still to come.
                for later in (0..n).filter(|&later| next >> later & 1 == 0) {
                    before[class.order[at]][class.order[later]] += up[done] * on[next];
                }
            }
        }
        before
    }

    /// For each effect of a class, by its place in the normal form, the set of those that must come before it.
    fn needs(&self, class: &Class) -> Vec<usize> {
        debug_assert!(self.effects() <= LONGEST_IN_FULL);
        let mut needs = vec![0_usize; self.effects()];
        for (at, &place) in class.order.iter().enumerate() {
            for (before, &earlier) in class.order[..at].iter().enumerate() {
                if !self.commute(earlier, place) {
                    needs[at] |= 1 << before;
                }
            }
        }
        needs
    }
}

/// How many different rows these letters have: below [`MOST_EFFECTS`] each. Nothing past what 128 bits hold.
pub(super) fn words(letters: impl Iterator<Item = usize>) -> Option<u128> {
    let mut seen = [0_u128; MOST_EFFECTS];
    let mut total = 1_u128;
    for (nth, letter) in letters.enumerate() {
        seen[letter] += 1;
        // Exact at every step: it is the number of rows of the letters so far.
        total = total.checked_mul(nth as u128 + 1)? / seen[letter];
    }
    Some(total)
}

/// For each set of effects, the ways to apply just these first.
pub(super) fn ways_up(needs: &[usize]) -> Vec<u64> {
    let n = needs.len();
    let mut ways = vec![0_u64; 1 << n];
    ways[0] = 1;
    for done in 0..1_usize << n {
        if ways[done] == 0 {
            continue;
        }
        for (at, need) in needs.iter().enumerate() {
            if done >> at & 1 == 0 && need & !done == 0 {
                ways[done | 1 << at] += ways[done];
            }
        }
    }
    ways
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn twins_never_count_twice() {
        let twins = Classes::new(vec![0, 1, 0], |_, _| false);
        assert_eq!(twins.orders_total(), Some(3));
        let orders: Vec<_> = twins.all().into_iter().map(|class| class.order).collect();
        assert_eq!(orders, [vec![0, 1, 2], vec![0, 2, 1], vec![1, 0, 2]]);
        assert_eq!(twins.normal_form(&[2, 1, 0]), [0, 1, 2]);
    }
}
