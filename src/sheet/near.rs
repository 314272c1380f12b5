//! Memory brought near before it is computed on.

use std::ops::Range;

use super::columns::Column;
use super::parts::Part;
use crate::formula::simd::{LINE, ask_for};

/// Rows brought near at a time: enough that the processor sees where memory is read on, and not so
/// many that they leave its second cache before they are used.
pub(crate) const NEAR: usize = 4096;

/// Reads one number of each line of memory in which the next results will stand, at the start of
/// `results`. Computing and waiting for memory would take turns otherwise: blocks are too short for
/// the processor to look ahead.
pub(crate) fn bring_near(results: &[Part<'_>]) {
    let numbers = |numbers: &[f64]| {
        let some = numbers.iter().step_by(LINE / size_of::<f64>());
        some.fold(0, |sum: u64, number| sum.wrapping_add(number.to_bits()))
    };
    let mut sum = 0_u64;
    for part in results {
        let len = NEAR.min(part.numbers.len());
        sum = sum.wrapping_add(numbers(&part.numbers[..len]));
        let states = part.states[..len].iter().step_by(LINE);
        sum = states.fold(sum, |sum, state| sum.wrapping_add((*state).into()));
    }
    std::hint::black_box(sum);
}

/// Brings the rows that come next near while others are computed, a share at a time: the processor
/// can wait for a few lines of memory only, and has none to spare for those of many rows at once.
pub(crate) struct Ahead<'a> {
    columns: &'a [Column<'a>],
    /// The rows that come next.
    next: Range<usize>,
    /// Where their rest starts: in this column,
    column: usize,
    /// at this row.
    row: usize,
    end: usize,
    /// Rows of one column that are asked for at a time.
    share: usize,
}

impl<'a> Ahead<'a> {
    /// For a stretch of rows, and so many shares to each [`NEAR`] of them.
    pub(crate) fn new(columns: &'a [Column<'a>], rows: &Range<usize>, shares: usize) -> Ahead<'a> {
        let share = (columns.len() * NEAR).div_ceil(shares.max(1));
        let mut ahead = Ahead {
            columns,
            next: rows.start..rows.start,
            column: 0,
            row: rows.start,
            end: rows.end,
            // Whole lines.
            share: share.next_multiple_of(LINE / size_of::<f64>()),
        };
        ahead.turn();
        while ahead.column < columns.len() {
            ahead.ask();
        }
        ahead
    }

    /// Goes on to the next [`NEAR`] rows.
    pub(crate) fn turn(&mut self) {
        let start = self.next.end;
        self.next = start..self.end.min(start + NEAR);
        self.column = 0;
        self.row = start;
    }

    /// Asks for the next share of rows.
    pub(crate) fn ask(&mut self) {
        let mut left = self.share;
        while left > 0 && self.column < self.columns.len() {
            let until = self.next.end.min(self.row + left);
            ask_for(&self.columns[self.column].numbers[self.row..until]);
            left -= until - self.row;
            self.row = until;
            if self.row == self.next.end {
                self.column += 1;
                self.row = self.next.start;
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// In as many shares as there are, all that comes next has been asked for, and no more.
    #[test]
    fn shares_reach_the_end_of_what_comes_next() {
        let numbers = vec![1.0; 2 * NEAR + 100];
        let columns = [Column::of(&numbers); 3];
        for shares in [1, 7, 160] {
            let mut ahead = Ahead::new(&columns, &(8..numbers.len()), shares);
            for next in [8 + NEAR..8 + 2 * NEAR, 8 + 2 * NEAR..numbers.len()] {
                ahead.turn();
                assert_eq!(ahead.next, next);
                assert_eq!((ahead.column, ahead.row), (0, next.start));
                for _ in 0..shares {
                    ahead.ask();
                }
                assert_eq!((ahead.column, ahead.row), (3, next.start));
            }
            // Nothing comes after the end.
            ahead.turn();
            ahead.ask();
            assert!(ahead.next.is_empty());
        }
    }
}
