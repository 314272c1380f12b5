//! Lengths wrong by a factor of ten: millimeters under a heading of centimeters, or the reverse.
//!
//! A number is named so where it lies outside what is plausible, and a tenth of it, or ten times
//! it, lies within. Plausible is from a third of the lowest usual value of the catalogue to one
//! and a half times the highest (common practice, no source; the figures are ours): 0.6 to 3.3 cm
//! for a diameter, 6 to 33 cm for a velocity-time integral. Usual ranges are those of adults, so
//! nothing is said of a row that says it is a child's. A field with a unit of its own is looked at in that unit.

use super::settings::OnFactorTen;
use crate::cohort::field_unit::WithUnit;
use crate::formula::CellId;
use crate::formula::notation::number;
use crate::quantity::{Dimension, Scale, Unit};
use crate::sheet::{Gate, Sheet};

/// Part of the lowest usual value that is still plausible, and how many times the highest.
const PLAUSIBLE: (f64, f64) = (1.0 / 3.0, 1.5);

/// Numbers closer than this to an end are looked at with care.
const NEAR: f64 = 1e-9;

/// The check of one column.
#[derive(Clone, Debug, PartialEq)]
pub(in crate::cohort) struct FactorTen {
    /// From the column's unit to that of the bounds.
    into_stated: Scale,
    /// What is plausible.
    low: f64,
    high: f64,
    /// The unit of the numbers, for messages.
    unit: Unit,
    /// The unit of the bounds.
    stated: Unit,
    pub(in crate::cohort) on_found: OnFactorTen,
}

/// A number that is wrong by a factor of ten.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(in crate::cohort) struct Tenfold {
    /// As it should be, in the unit that was looked at.
    corrected: f64,
    is_large: bool,
}

impl FactorTen {
    /// The check of a column of lengths whose usual range is known; `None` for all others.
    pub(in crate::cohort) fn of(
        sheet: &Sheet,
        cell: CellId,
        unit: Unit,
        on_found: OnFactorTen,
    ) -> Option<FactorTen> {
        let kind = sheet.kind(cell)?;
        if unit.dimension() != Dimension::LENGTH || kind.is_per_area() {
            return None;
        }
        let about = sheet.about(cell)?;
        let ends = |end: fn(f64, f64) -> f64, values: Vec<f64>| values.into_iter().reduce(end);
        let lows = about.usual.iter().filter_map(|range| range.low).collect();
        let highs = about.usual.iter().filter_map(|range| range.high).collect();
        Some(FactorTen {
            into_stated: unit.scale_to(about.stated_in)?,
            low: PLAUSIBLE.0 * ends(f64::min, lows)?,
            high: PLAUSIBLE.1 * ends(f64::max, highs)?,
            unit,
            stated: about.stated_in,
            on_found,
        })
    }

    /// The same for numbers in another unit, as a field with a unit of its own holds; `None` for one of no length.
    pub(in crate::cohort) fn of_unit(&self, unit: Unit) -> Option<FactorTen> {
        Some(FactorTen {
            into_stated: unit.scale_to(self.stated)?,
            unit,
            ..self.clone()
        })
    }

    /// The gate narrowed to numbers that no factor of ten makes plausible.
    pub(in crate::cohort) fn narrowed(&self, gate: Gate) -> Gate {
        gate.within(
            self.high / 10.0 * (1.0 + NEAR),
            self.low * 10.0 * (1.0 - NEAR),
        )
    }

    /// Whether a number of the column is wrong by a factor of ten.
    pub(in crate::cohort) fn look(&self, number: f64) -> Option<Tenfold> {
        let is_plausible = |number: f64| {
            let stated = self.into_stated.apply(number);
            self.low <= stated && stated <= self.high
        };
        if is_plausible(number) {
            return None;
        }
        let as_it_should_be = [(shifted(number, -1)?, true), (shifted(number, 1)?, false)];
        let found = as_it_should_be.into_iter().find(|(n, _)| is_plausible(*n));
        found.map(|(corrected, is_large)| Tenfold {
            corrected,
            is_large,
        })
    }

    /// The number as it should be, with its unit.
    pub(in crate::cohort) fn corrected(&self, found: &Tenfold) -> WithUnit {
        WithUnit {
            number: found.corrected,
            unit: self.unit,
        }
    }

    /// What a field says that is no more than a number.
    pub(in crate::cohort) fn amount(&self, field: &str) -> String {
        format!("{field} {}", self.unit.pretty())
    }

    /// "21 cm is ten times too large: 2.1 cm would be plausible".
    pub(in crate::cohort) fn words(&self, amount: &str, found: &Tenfold) -> String {
        let size = if found.is_large { "large" } else { "small" };
        let corrected = self.amount(&number(found.corrected));
        format!("{amount} is ten times too {size}: {corrected} would be plausible")
    }

    /// "21 cm is ten times too large: taken as 2.1 cm".
    pub(in crate::cohort) fn converted_words(&self, amount: &str, found: &Tenfold) -> String {
        let size = if found.is_large { "large" } else { "small" };
        let corrected = self.amount(&number(found.corrected));
        format!("{amount} is ten times too {size}: taken as {corrected}")
    }
}

/// A number with its decimal point moved, so that a tenth of 20.3 is 2.03.
fn shifted(number: f64, places: i32) -> Option<f64> {
    format!("{number}e{places}").parse().ok()
}
