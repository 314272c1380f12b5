//! Finite changes over many rows: which rows change side of a threshold when a reading is off.
//!
//! An error that all rows share (everyone's diameter 1 mm too low: a habit, a device) and errors
//! that each row has for itself (1 mm, now too low, now too high) do different things to a cohort,
//! and are kept apart: [`crossings`] and [`chances`].
//!
//! ```
//! use semilunar::quantity::Unit;
//! use semilunar::sheet::Sheet;
//! use semilunar::uncertainty::{Column, Off, Question, crossings};
//!
//! let sheet = Sheet::read("use hemodynamics").unwrap().sheet;
//! let cell = |name: &str| sheet.cell(name).unwrap();
//! let columns = [
//!     Column::of_numbers(cell("lvot_diameter"), &[Some(2.0), Some(2.2), None]),
//!     Column::of_numbers(cell("lvot_vti"), &[Some(18.0), Some(20.0), Some(20.0)]),
//! ];
//! let question = Question {
//!     cell: cell("stroke_volume"),
//!     threshold: 60.0, // in mL, the unit of the cell
//!     reading: cell("lvot_diameter"),
//!     off: Off { amount: 1.0, unit: Unit::parse("mm").unwrap() },
//! };
//! let found = crossings(&sheet, &columns, question).unwrap();
//! // 56.5 mL becomes 62.3 mL; the second row is above already, the third is not known.
//! assert_eq!(found.upward, [0]);
//! assert_eq!((found.compared, found.not_known), (2, [2].to_vec()));
//! ```

mod asked;
mod chances;
#[cfg(test)]
mod tests;

pub use chances::{Chances, chances};

use super::draws::WIDTH;
use super::effect::Off;
use super::error::UncertaintyError;
use crate::formula::{CellId, Facet, Lane};
use crate::sheet::Sheet;
use asked::Asked;

/// What rows supply of one cell.
#[derive(Clone, Debug, PartialEq)]
pub struct Column {
    /// The cell.
    pub cell: CellId,
    /// Value and state of each row, in the unit of the cell.
    pub lanes: Vec<Lane>,
    /// What rows answer to what formulas ask beyond the value, such as the number of beats; what
    /// stands here for no question is what a plain number answers.
    pub said: Vec<(Facet, Vec<Lane>)>,
}

impl Column {
    /// Plain numbers in the unit of the cell; `None` where a row has none.
    pub fn of_numbers(cell: CellId, values: &[Option<f64>]) -> Column {
        let known = values.iter().map(|v| v.filter(|v| v.is_finite()));
        Column {
            cell,
            lanes: known
                .map(|v| v.map_or(Lane::MISSING, Lane::measured))
                .collect(),
            said: Vec::new(),
        }
    }
}

/// What is asked of each row.
#[derive(Clone, Copy, Debug)]
pub struct Question {
    /// The cell that is compared.
    pub cell: CellId,
    /// With what, in the unit of the cell. A value counts as above beyond 1e-9 of the threshold.
    pub threshold: f64,
    /// The reading that is off; one of the columns.
    pub reading: CellId,
    /// By how much: in every row in [`crossings`], as a standard deviation in [`chances`].
    pub off: Off,
}

/// Rows that change side when all rows are off by the same.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Crossings {
    /// Rows that were not above the threshold, and then are.
    pub upward: Vec<usize>,
    /// Rows that were above it, and then are not.
    pub downward: Vec<usize>,
    /// Rows that have a value both ways.
    pub compared: usize,
    /// Those of them above the threshold as they were read.
    pub above: usize,
    /// Those of them in which the value moves at all, by more than 1e-12 of itself: none where two
    /// exams share the reading and the error cancels in their per cent change.
    pub moved: usize,
    /// Rows that have none, or none with the other reading.
    pub not_known: Vec<usize>,
    /// Rows that have a value without this reading, so that there is nothing to be off.
    pub without: Vec<usize>,
}

/// Which rows change side of a threshold when a reading is off by the same in all of them; nothing
/// is linearized. A row whose other reading is impossible is listed as not known.
///
/// # Errors
/// [`UncertaintyError::Off`] where the reading is none of the columns, the amount does not measure
/// it, or columns differ in length; [`UncertaintyError::NotKnown`] for a cell that is none of the
/// sheet's; [`UncertaintyError::Number`] for a threshold that is no finite number.
pub fn crossings(
    sheet: &Sheet,
    columns: &[Column],
    question: Question,
) -> Result<Crossings, UncertaintyError> {
    let asked = Asked::of(sheet, columns, question)?;
    let mut block = asked.program.block::<WIDTH>();
    let mut found = Crossings::default();
    let rows = columns[asked.at].lanes.len();
    for start in (0..rows).step_by(WIDTH) {
        let count = WIDTH.min(rows - start);
        asked.fill(&mut block, count, |i| start + i);
        let as_read = asked.result(&mut block);
        asked.put_off(&mut block, count, |i| (start + i, 1.0));
        let other = asked.result(&mut block);
        for i in 0..count {
            asked.sort(start + i, as_read[i], other[i], &mut found);
        }
    }
    Ok(found)
}
