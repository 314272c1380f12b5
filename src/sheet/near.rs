//! Memory brought near before it is computed on.

use super::columns::Column;
use super::parts::Part;

/// Rows brought near at a time: enough that the processor sees where memory is read on, and not so
/// many that they leave its second cache before they are used.
pub(crate) const NEAR: usize = 4096;

/// Reads one number of each line of memory that the next rows stand in, and their results will:
/// those of `columns` from a row on, and those at the start of `results`. Computing and waiting
/// for memory would take turns otherwise: blocks are too short for the processor to look ahead.
pub(crate) fn bring_near<'a>(
    columns: impl Iterator<Item = &'a Column<'a>>,
    start: usize,
    results: &[Part<'_>],
) {
    const LINE: usize = 64;
    let numbers = |numbers: &[f64]| {
        let some = numbers.iter().step_by(LINE / size_of::<f64>());
        some.fold(0, |sum: u64, number| sum.wrapping_add(number.to_bits()))
    };
    let mut sum = 0_u64;
    for column in columns {
        let end = (start + NEAR).min(column.numbers.len());
        sum = sum.wrapping_add(numbers(&column.numbers[start..end]));
    }
    for part in results {
        let len = NEAR.min(part.numbers.len());
        sum = sum.wrapping_add(numbers(&part.numbers[..len]));
        let states = part.states[..len].iter().step_by(LINE);
        sum = states.fold(sum, |sum, state| sum.wrapping_add((*state).into()));
    }
    std::hint::black_box(sum);
}
