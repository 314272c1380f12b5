//! The tasks: what is edited, and what is read after each edit.

pub mod chain;
pub mod cutoff;
pub mod exam;
pub mod fan;
pub mod million;

use semilunar::formula::{CellId, Formula, notation};
use semilunar::quantity::{Kind, Reading, Unit};
use semilunar::sheet::Sheet;

/// A formula in the notation; its operands are in the order in which they are first named.
pub fn formula(text: &str) -> Formula {
    notation::formula(text, 0).unwrap().formula
}

/// A bare number as a reading.
#[inline]
pub fn bare(value: f64) -> Reading {
    Reading::of(value, Unit::ONE).unwrap()
}

/// Inputs without a name, set to these bare numbers.
pub fn inputs(sheet: &mut Sheet, values: impl IntoIterator<Item = f64>) -> Vec<CellId> {
    let readings: Vec<(CellId, Reading)> = values
        .into_iter()
        .map(|value| (sheet.add_input(Unit::ONE, Kind::Plain), bare(value)))
        .collect();
    let cells = readings.iter().map(|(cell, _)| *cell).collect();
    sheet.set_all(readings).unwrap();
    cells
}
