//! Results in columns, handed out to threads stretch by stretch, and from there block by block.

use std::num::NonZeroUsize;
use std::ops::Range;

use super::columns::Computed;
use crate::formula::simd::PastCaches;
use crate::formula::{View, ViewMut};

/// Bytes of results that are taken not to stay in caches until somebody looks at them. Tests of few
/// rows go both ways.
const LARGE: usize = if cfg!(test) { 20_000 } else { 16 << 20 };

/// A stretch of rows, and where their results go.
pub(crate) struct Stretch<'r> {
    pub(crate) rows: Range<usize>,
    pub(crate) parts: Vec<Part<'r>>,
    /// Whether the results of all stretches are so large that caches are of no use to them.
    pub(crate) is_large: bool,
}

/// The results of a stretch of rows.
pub(crate) struct Part<'r> {
    pub(crate) numbers: &'r mut [f64],
    pub(crate) states: &'r mut [u8],
}

impl<'r> Part<'r> {
    /// Takes rows off the start.
    fn take(&mut self, len: usize) -> Part<'r> {
        let (numbers, rest) = std::mem::take(&mut self.numbers).split_at_mut(len);
        self.numbers = rest;
        let (states, rest) = std::mem::take(&mut self.states).split_at_mut(len);
        self.states = rest;
        Part { numbers, states }
    }

    /// Takes a whole block off the start; `None` where less is left.
    pub(crate) fn take_block<const W: usize>(&mut self) -> Option<ViewMut<'r, W>> {
        if self.numbers.len() < W {
            return None;
        }
        let Part { numbers, states } = self.take(W);
        Some(ViewMut {
            values: numbers.try_into().ok()?,
            states: states.try_into().ok()?,
        })
    }

    /// Puts a whole block into the rows at the start past the caches, and takes these off.
    pub(crate) fn put_past<const W: usize>(&mut self, caches: &PastCaches<'r>, block: View<'_, W>) {
        let part = self.take(W);
        caches.put(part.numbers, block.values);
        caches.put(part.states, block.states);
    }

    /// Puts numbers and states into the rows at the start, and takes these off.
    pub(crate) fn put(&mut self, numbers: &[f64], states: &[u8]) {
        let part = self.take(numbers.len());
        part.numbers.copy_from_slice(numbers);
        part.states.copy_from_slice(states);
    }
}

/// Makes room for `rows` in the results, and lets `work` compute stretches of them, of whole blocks
/// of `width` rows but at the end. Each thread has one stretch.
pub(crate) fn in_stretches(
    results: &mut [Computed],
    rows: usize,
    width: usize,
    threads: NonZeroUsize,
    work: impl Fn(Stretch<'_>) + Sync,
) {
    let of_row = size_of::<f64>() + size_of::<u8>();
    let is_large = rows.saturating_mul(results.len() * of_row) >= LARGE;
    let mut rest: Vec<Part<'_>> = results
        .iter_mut()
        .map(|result| {
            result.numbers.make_room(rows);
            result.states.make_room(rows);
            Part {
                numbers: &mut result.numbers,
                states: &mut result.states,
            }
        })
        .collect();
    let share = rows
        .div_ceil(threads.get())
        .next_multiple_of(width)
        .max(width);
    let work = &work;
    std::thread::scope(|scope| {
        for start in (0..rows).step_by(share) {
            let end = rows.min(start + share);
            let stretch = Stretch {
                rows: start..end,
                parts: rest.iter_mut().map(|part| part.take(end - start)).collect(),
                is_large,
            };
            if end == rows {
                work(stretch);
            } else {
                scope.spawn(move || work(stretch));
            }
        }
    });
}
