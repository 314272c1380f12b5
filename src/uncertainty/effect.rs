//! Finite changes: the exact effect of a reading being off.

#[cfg(feature = "notebook")]
use std::collections::BTreeMap;

use super::error::UncertaintyError;
#[cfg(feature = "notebook")]
use super::source::swept;
use crate::formula::CellId;
use crate::quantity::{Content, Deviation, Reading, Unit};
use crate::sheet::Sheet;

/// How far a reading is off.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Off {
    /// The amount; negative for too low.
    pub amount: f64,
    /// Its unit: the reading's dimension, or `%` for a share of the reading, whatever that measures.
    pub unit: Unit,
}

impl Off {
    /// Why this is no amount of a reading in `unit`.
    pub(crate) fn does_not_measure(self, unit: Unit) -> String {
        let Off { amount, unit: own } = self;
        match own {
            Unit::ONE => format!(
                "{amount} has no unit, but it is in {unit}: write `{amount} {unit}`, or `{amount} %`"
            ),
            _ if unit == Unit::ONE => {
                format!("{own} does not measure it: give a bare number, or % of it")
            }
            _ => format!("{own} does not measure it: give an amount in {unit}, or in %"),
        }
    }
}

/// What a reading's being off does to a cell.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Effect {
    /// The cell as it stands, in its unit.
    pub value: f64,
    /// The cell with the other reading, in its unit; `None` where it then has no value.
    pub with: Option<f64>,
}

impl Effect {
    /// The change, in the cell's unit.
    pub fn change(&self) -> Option<f64> {
        self.with.map(|with| with - self.value)
    }

    /// The change as a share of the value.
    pub fn share(&self) -> Option<f64> {
        self.change()
            .map(|change| change / self.value.abs())
            .filter(|s| s.is_finite())
    }

    /// Whether the cell does not move (within 1e-12 of its value), as a percentage change of two
    /// exams that share the reading; their absolute values then still do.
    pub fn is_none(&self) -> bool {
        self.change()
            .is_some_and(|c| c.abs() <= 1e-12 * self.value.abs())
    }
}

/// The exact effect on each of `cells` of a reading being off; nothing is linearized.
///
/// # Errors
/// [`UncertaintyError::Off`] where there is no such reading, the unit does not fit, or the other
/// reading is impossible; [`UncertaintyError::NotKnown`] for a cell without a value.
pub fn effect(
    sheet: &Sheet,
    cells: &[CellId],
    reading: CellId,
    off: Off,
) -> Result<Vec<Effect>, UncertaintyError> {
    let refuse = |why: String| UncertaintyError::Off {
        cell: sheet.name(reading),
        why,
    };
    let content = sheet.reading(reading).map(Reading::content);
    let Some(Content::Magnitude { value, unit }) = content else {
        return Err(refuse("it has no number to be off from".into()));
    };
    let moved = match Deviation::of(off.amount, off.unit, *unit) {
        Some(Deviation::Share(share)) => value * (1.0 + share),
        Some(Deviation::Amount(amount)) => value + amount,
        None => return Err(refuse(off.does_not_measure(*unit))),
    };
    let other = Reading::of(moved, *unit).map_err(|e| refuse(e.to_string()))?;
    let mut changed = sheet.clone();
    // The clone keeps the number of the sheet, so handles serve both.
    changed
        .set(reading, other)
        .map_err(|e| refuse(e.to_string()))?;
    cells
        .iter()
        .map(|cell| {
            let value = sheet
                .value(*cell)
                .ok_or_else(|| UncertaintyError::NotKnown {
                    cell: sheet.name(*cell),
                })?;
            Ok(Effect {
                value,
                with: changed.value(*cell),
            })
        })
        .collect()
}

/// Readings whose several ways to a cell with a value cancel, as those that both sides of a
/// comparison share, and for each the sum of its slopes' sizes.
#[cfg(feature = "notebook")]
pub(crate) fn cancelled(sheet: &Sheet, cell: CellId) -> BTreeMap<CellId, f64> {
    swept(sheet, cell).cancelled
}
