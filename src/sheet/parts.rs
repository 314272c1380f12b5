//! Results in columns, handed out to threads stretch by stretch, and from there block by block.

use std::num::NonZeroUsize;
use std::ops::Range;

use super::columns::Computed;
use crate::formula::{Status, ViewMut};

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
    work: impl Fn(Range<usize>, Vec<Part<'_>>) + Sync,
) {
    let mut rest: Vec<Part<'_>> = results
        .iter_mut()
        .map(|result| {
            result.numbers.resize(rows, 0.0);
            result.states.resize(rows, Status::MISSING.0);
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
            let stretch = start..rows.min(start + share);
            let parts: Vec<Part<'_>> = rest
                .iter_mut()
                .map(|part| part.take(stretch.len()))
                .collect();
            if stretch.end == rows {
                work(stretch, parts);
            } else {
                scope.spawn(move || work(stretch, parts));
            }
        }
    });
}
