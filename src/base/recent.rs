//! What was used lately, within a budget of bytes.

use std::collections::HashMap;
use std::hash::Hash;

/// Values by key, of which those unused for longest go first.
///
/// Time is counted in turns, which whoever keeps the values begins.
#[derive(Debug)]
pub struct Recent<K, V> {
    values: HashMap<K, Remembered<V>>,
    bytes: u64,
    turn: u64,
}

#[derive(Debug)]
struct Remembered<V> {
    value: V,
    bytes: u64,
    last_use: u64,
}

impl<K, V> Default for Recent<K, V> {
    fn default() -> Self {
        Self { values: HashMap::new(), bytes: 0, turn: 0 }
    }
}

impl<K: Clone + Eq + Hash, V> Recent<K, V> {
    /// Bytes of all values together.
    pub fn bytes(&self) -> u64 {
        self.bytes
    }

    /// Begins the next turn.
    pub fn next_turn(&mut self) {
        self.turn += 1;
    }

    /// A value, used in this turn.
    pub fn get(&mut self, key: &K) -> Option<&mut V> {
        let kept = self.values.get_mut(key)?;
        kept.last_use = self.turn;
        Some(&mut kept.value)
    }

    /// A value, looked at without being used.
    pub fn peek(&self, key: &K) -> Option<&V> {
        self.values.get(key).map(|kept| &kept.value)
    }

    /// Whether there is one for this key.
    pub fn has(&self, key: &K) -> bool {
        self.values.contains_key(key)
    }

    /// The keys, in no order.
    pub fn keys(&self) -> impl Iterator<Item = &K> {
        self.values.keys()
    }

    /// Keeps a value that takes so many bytes, used in this turn, in place of what the key had.
    pub fn insert(&mut self, key: K, value: V, bytes: u64) {
        let kept = Remembered { value, bytes, last_use: self.turn };
        self.bytes += bytes;
        if let Some(old) = self.values.insert(key, kept) {
            self.bytes -= old.bytes;
        }
    }

    /// Lets go of those unused for longest until the rest takes no more bytes than these, or was used in the last
    /// `turns` turns, this one among them; gives the keys of what is gone.
    pub fn let_go(&mut self, most_bytes: u64, turns: u64) -> Vec<K> {
        let mut all_gone = Vec::new();
        if self.bytes <= most_bytes {
            return all_gone;
        }
        let mut by_age: Vec<(u64, K)> =
            self.values.iter().map(|(key, kept)| (kept.last_use, key.clone())).collect();
        by_age.sort_unstable_by_key(|&(last_use, _)| last_use);
        for (last_use, key) in by_age {
            if self.bytes <= most_bytes || last_use + turns > self.turn {
                break;
            }
            if let Some(gone) = self.values.remove(&key) {
                self.bytes -= gone.bytes;
                all_gone.push(key);
            }
        }
        all_gone
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Turns 1 to 4 keep `a` to `d` of 10 bytes each; then `a` is used.
    fn four() -> Recent<char, u8> {
        let mut recent = Recent::default();
        for key in 'a'..='d' {
            recent.next_turn();
            recent.insert(key, key as u8, 10);
        }
        recent.next_turn();
        assert_eq!(recent.get(&'a'), Some(&mut b'a'));
        recent
    }

    fn left(recent: &Recent<char, u8>) -> String {
        let mut keys: Vec<char> = recent.keys().copied().collect();
        keys.sort_unstable();
        keys.into_iter().collect()
    }

    #[test]
    fn what_was_unused_for_longest_goes_first_and_no_more_than_must() {
        let mut recent = four();
        assert!(recent.let_go(40, 1).is_empty());
        assert_eq!((left(&recent).as_str(), recent.bytes()), ("abcd", 40));
        assert_eq!(recent.let_go(39, 1), ['b']);
        assert_eq!((left(&recent).as_str(), recent.bytes()), ("acd", 30));
        assert_eq!(recent.let_go(15, 1), ['c', 'd']);
        assert_eq!((left(&recent).as_str(), recent.bytes()), ("a", 10));
    }

    #[test]
    fn what_was_used_in_the_last_turns_stays_however_large() {
        let mut recent = four();
        assert_eq!(recent.let_go(0, 1), ['b', 'c', 'd']);
        assert_eq!(left(&recent), "a");
        let mut recent = four();
        assert_eq!(recent.let_go(0, 2), ['b', 'c']);
        assert_eq!(left(&recent), "ad");
    }

    #[test]
    fn bytes_are_those_of_what_is_there() {
        let mut recent = four();
        recent.insert('a', 1, 3);
        assert_eq!((recent.bytes(), recent.peek(&'a')), (33, Some(&1)));
    }
}
