//! The set of cells still to recompute, by rank: insert in any order, take the least.
//!
//! A tree of bits, 64 to a word: taking the least of a million costs four words.

/// A set of small numbers that gives them back in ascending order.
#[derive(Clone, Debug, Default)]
pub(super) struct Dirty {
    /// `levels[0]` has a bit for each number, each further level one for each word below.
    levels: Vec<Vec<u64>>,
}

impl Dirty {
    /// Makes room for the numbers below `count`.
    pub(super) fn reserve(&mut self, count: usize) {
        let mut words = count.div_ceil(64).max(1);
        let mut level = 0;
        loop {
            if self.levels.len() == level {
                self.levels.push(Vec::new());
                self.rebuild_top(level);
            }
            if self.levels[level].len() < words {
                let room = words.next_power_of_two();
                self.levels[level].resize(room, 0);
            }
            if self.levels[level].len() == 1 {
                return;
            }
            words = self.levels[level].len().div_ceil(64);
            level += 1;
        }
    }

    /// A new top level must know of what the level below holds already.
    fn rebuild_top(&mut self, level: usize) {
        if level == 0 {
            return;
        }
        let below = &self.levels[level - 1];
        let mut bits = vec![0u64; below.len().div_ceil(64).max(1)];
        for (i, word) in below.iter().enumerate() {
            if *word != 0 {
                bits[i / 64] |= 1 << (i % 64);
            }
        }
        self.levels[level] = bits;
    }

    /// Adds a number below the count that room was made for.
    #[inline]
    pub(super) fn insert(&mut self, number: u32) {
        let mut at = number as usize;
        for level in &mut self.levels {
            let word = &mut level[at / 64];
            let was_empty = *word == 0;
            *word |= 1 << (at % 64);
            if !was_empty {
                return;
            }
            at /= 64;
        }
    }

    /// Takes the least number.
    #[inline]
    pub(super) fn take_least(&mut self) -> Option<u32> {
        let mut at = 0usize;
        for level in self.levels.iter().rev() {
            let word = level[at];
            if word == 0 {
                return None;
            }
            at = at * 64 + word.trailing_zeros() as usize;
        }
        let least = at as u32;
        for level in &mut self.levels {
            let word = &mut level[at / 64];
            *word &= *word - 1;
            if *word != 0 {
                break;
            }
            at /= 64;
        }
        Some(least)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;
    use std::collections::BTreeSet;

    proptest! {
        #[test]
        fn numbers_come_back_in_order_once_each(
            numbers in prop::collection::vec(0u32..300_000, 0..200),
            more in prop::collection::vec(0u32..300_000, 0..50),
        ) {
            let mut dirty = Dirty::default();
            dirty.reserve(300_000);
            let mut judge = BTreeSet::new();
            for n in numbers {
                dirty.insert(n);
                judge.insert(n);
            }
            for n in more {
                prop_assert_eq!(dirty.take_least(), judge.pop_first());
                dirty.insert(n);
                judge.insert(n);
            }
            while let Some(least) = judge.pop_first() {
                prop_assert_eq!(dirty.take_least(), Some(least));
            }
            prop_assert_eq!(dirty.take_least(), None);
        }
    }

    #[test]
    fn growing_keeps_what_is_in() {
        let mut dirty = Dirty::default();
        dirty.reserve(10);
        dirty.insert(7);
        dirty.reserve(100_000);
        dirty.insert(99_999);
        assert_eq!(dirty.take_least(), Some(7));
        assert_eq!(dirty.take_least(), Some(99_999));
        assert_eq!(dirty.take_least(), None);
    }
}
