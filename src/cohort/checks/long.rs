//! A list that grows without being moved: memory is asked for, and filled, once.

use std::ops::{Index, IndexMut};

/// Entries that stand together.
const PART: usize = if cfg!(test) { 1 << 3 } else { 1 << 14 };

pub(super) struct Long<T> {
    parts: Vec<Vec<T>>,
    len: usize,
}

impl<T> Default for Long<T> {
    fn default() -> Long<T> {
        Long {
            parts: Vec::new(),
            len: 0,
        }
    }
}

impl<T> Long<T> {
    pub(super) fn len(&self) -> usize {
        self.len
    }

    pub(super) fn push(&mut self, entry: T) {
        match self.parts.last_mut().filter(|part| part.len() < PART) {
            Some(part) => part.push(entry),
            None => {
                let mut part = Vec::with_capacity(PART);
                part.push(entry);
                self.parts.push(part);
            }
        }
        self.len += 1;
    }
}

impl<T> Index<usize> for Long<T> {
    type Output = T;

    fn index(&self, at: usize) -> &T {
        &self.parts[at / PART][at % PART]
    }
}

impl<T> IndexMut<usize> for Long<T> {
    fn index_mut(&mut self, at: usize) -> &mut T {
        &mut self.parts[at / PART][at % PART]
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn entries_stay_where_they_are() {
        let mut list = Long::default();
        for n in 0..100 {
            assert_eq!(list.len(), n);
            list.push(n);
            list[n / 2] += 1000;
        }
        for n in 0..100 {
            let times = [2 * n, 2 * n + 1].iter().filter(|n| **n < 100).count();
            assert_eq!(list[n], n + 1000 * times);
        }
    }
}
