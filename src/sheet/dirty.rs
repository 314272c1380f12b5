//! The set of cells still to recompute, by rank: insert in any order, take the least.
//!
//! Up to 64 cells are one word. More are a tree of bits, 64 to a word, with two short cuts for
//! what recomputation mostly does: a number that comes into an empty set, as along a chain, waits
//! outside the tree; and the least word that may hold anything is remembered, so that neighbors,
//! as in a fan, are taken without a way down from the root.

/// No number.
const NONE: u32 = u32::MAX;

/// A set of small numbers that gives them back in ascending order.
#[derive(Clone, Debug)]
pub(super) struct Dirty {
    /// A bit for each number where there is room for 64 at most, else for each word of the
    /// highest level.
    root: u64,
    /// Less than all in the tree, or `NONE`.
    front: u32,
    /// No word of the lowest level before this one holds anything.
    first: usize,
    /// From the lowest: a bit for each number, then a bit for each word of the level below.
    levels: Vec<Vec<u64>>,
    /// Numbers below this have room.
    room: usize,
}

impl Default for Dirty {
    fn default() -> Self {
        Dirty {
            root: 0,
            front: NONE,
            first: 0,
            levels: Vec::new(),
            room: 64,
        }
    }
}

impl Dirty {
    /// Makes room for the numbers below `count`.
    #[inline]
    pub(super) fn reserve(&mut self, count: usize) {
        if count > self.room {
            self.grow(count);
        }
    }

    #[cold]
    fn grow(&mut self, count: usize) {
        let held: Vec<u32> = std::iter::from_fn(|| self.take_least()).collect();
        self.room = count.next_power_of_two();
        self.first = 0;
        self.levels.clear();
        let mut words = self.room.div_ceil(64);
        while words > 1 {
            self.levels.push(vec![0; words]);
            words = words.div_ceil(64);
        }
        for number in held {
            self.insert(number);
        }
    }

    /// Adds a number below the count that room was made for.
    #[inline(always)]
    pub(super) fn insert(&mut self, number: u32) {
        if self.levels.is_empty() {
            self.root |= 1 << (number % 64);
        } else if self.front == NONE && self.root == 0 {
            self.front = number;
        } else if number < self.front && self.front != NONE {
            let behind = std::mem::replace(&mut self.front, number);
            self.plant(behind);
        } else if number != self.front {
            self.plant(number);
        }
    }

    /// Takes the least number.
    #[inline(always)]
    pub(super) fn take_least(&mut self) -> Option<u32> {
        if self.front != NONE {
            Some(std::mem::replace(&mut self.front, NONE))
        } else if self.root == 0 {
            None
        } else if self.levels.is_empty() {
            let least = self.root.trailing_zeros();
            self.root &= self.root - 1;
            Some(least)
        } else {
            Some(self.pick())
        }
    }

    /// Puts a number into the tree.
    fn plant(&mut self, number: u32) {
        let mut at = number as usize;
        self.first = self.first.min(at / 64);
        for level in &mut self.levels {
            let word = &mut level[at / 64];
            let was_empty = *word == 0;
            *word |= 1 << (at % 64);
            if !was_empty {
                return;
            }
            at /= 64;
        }
        self.root |= 1 << at;
    }

    /// Takes the least number out of a tree that holds some.
    fn pick(&mut self) -> u32 {
        if self.levels[0][self.first] == 0 {
            self.first = self.least_word();
        }
        let word = &mut self.levels[0][self.first];
        let least = self.first * 64 + word.trailing_zeros() as usize;
        *word &= *word - 1;
        if *word == 0 {
            self.clear_above(self.first);
        }
        least as u32
    }

    /// The least word of the lowest level that holds something.
    fn least_word(&self) -> usize {
        let mut at = self.root.trailing_zeros() as usize;
        for level in self.levels[1..].iter().rev() {
            at = at * 64 + level[at].trailing_zeros() as usize;
        }
        at
    }

    /// Tells the levels above that a word of the lowest has become empty.
    fn clear_above(&mut self, mut at: usize) {
        for level in &mut self.levels[1..] {
            let word = &mut level[at / 64];
            *word &= !(1 << (at % 64));
            if *word != 0 {
                return;
            }
            at /= 64;
        }
        self.root &= !(1 << at);
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
            room in prop::sample::select(vec![64u32, 128, 5_000, 300_000]),
            numbers in prop::collection::vec(0u32..300_000, 0..200),
            more in prop::collection::vec(0u32..300_000, 0..50),
        ) {
            let mut dirty = Dirty::default();
            dirty.reserve(room as usize);
            let mut judge = BTreeSet::new();
            for n in numbers.into_iter().map(|n| n % room) {
                dirty.insert(n);
                judge.insert(n);
            }
            for n in more.into_iter().map(|n| n % room) {
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
