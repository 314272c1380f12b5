//! Results in columns, handed out to threads stretch by stretch, and from there block by block.

use std::num::NonZeroUsize;
use std::ops::Range;
use std::sync::{Mutex, PoisonError};

use super::cache_size::largest_cache;
use super::columns::Computed;
use crate::formula::simd::PastCaches;
use crate::formula::{View, ViewMut};

/// Bytes of results from which on they are taken not to stay in caches until somebody looks at them:
/// half of the largest cache, since there is more than results. Tests of few rows go both ways.
fn large() -> usize {
    match cfg!(test) {
        true => 20_000,
        false => largest_cache() / 2,
    }
}

/// Most rows of a stretch: so many that it is no matter what a stretch costs beside them, and so few
/// that threads end at about the same time.
const MOST: usize = 1 << 17;

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

/// What was not handed out yet.
struct Rest<'r> {
    rows: Range<usize>,
    parts: Vec<Part<'r>>,
    is_large: bool,
    /// Rows of a stretch.
    share: usize,
}

impl<'r> Iterator for Rest<'r> {
    type Item = Stretch<'r>;

    fn next(&mut self) -> Option<Stretch<'r>> {
        let rows = self.rows.start..self.rows.end.min(self.rows.start + self.share);
        self.rows.start = rows.end;
        (!rows.is_empty()).then(|| Stretch {
            parts: self.parts.iter_mut().map(|p| p.take(rows.len())).collect(),
            rows,
            is_large: self.is_large,
        })
    }
}

/// Makes room for `rows` in the results, and lets `work` compute stretches of them, of whole blocks
/// of `width` rows but at the end. Threads take the next stretch whenever they have done one, so
/// that none waits long for another that is held up.
pub(crate) fn in_stretches(
    results: &mut [Computed],
    rows: usize,
    width: usize,
    threads: NonZeroUsize,
    work: impl Fn(Stretch<'_>) + Sync,
) {
    let of_row = size_of::<f64>() + size_of::<u8>();
    let is_large = rows.saturating_mul(results.len() * of_row) >= large();
    let parts = results.iter_mut().map(|result| {
        result.numbers.make_room(rows);
        result.states.make_room(rows);
        Part {
            numbers: &mut result.numbers,
            states: &mut result.states,
        }
    });
    let share = rows.div_ceil(threads.get()).clamp(1, MOST);
    let share = share.next_multiple_of(width);
    let rest = Mutex::new(Rest {
        rows: 0..rows,
        parts: parts.collect(),
        is_large,
        share,
    });
    // Nobody panics while he takes a stretch.
    let take = || rest.lock().unwrap_or_else(PoisonError::into_inner).next();
    let work_off = || {
        while let Some(stretch) = take() {
            work(stretch);
        }
    };
    std::thread::scope(|scope| {
        for _ in 1..threads.get().min(rows.div_ceil(share)) {
            scope.spawn(work_off);
        }
        work_off();
    });
}
