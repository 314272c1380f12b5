//! Numbers of a method that a statement may set, such as the weight of a moving average: what is customary, unless it is said.

use std::ops::RangeInclusive;

use crate::formula::notation::{Analysis, Diagnostic};
use crate::notebook::render::Rendering;
use crate::quantity::{Content, Reading, Unit};

/// The number that is said, without a unit or as a share such as 10 %; `None` of all else.
pub(super) fn bare_number(reading: &Reading) -> Option<f64> {
    match *reading.content() {
        Content::Magnitude { value, unit } => unit.convert(value, Unit::ONE),
        _ => None,
    }
}

/// A number of a method that a clause sets.
pub(super) struct Setting {
    /// The word of the clause.
    pub(super) clause: &'static str,
    /// What is customary.
    pub(super) usual: f64,
    /// What it can be.
    pub(super) allowed: RangeInclusive<f64>,
    /// The same in words, with an example.
    pub(super) words: &'static str,
}

impl Setting {
    /// What the statement says, or what is customary.
    ///
    /// # Errors
    /// A number with a unit, or one that is out of range, at its place.
    pub(super) fn of(
        &self,
        rendering: &Rendering<'_>,
        analysis: &Analysis,
    ) -> Result<f64, Vec<Diagnostic>> {
        let Some(reading) = analysis.amount(self.clause) else {
            return Ok(self.usual);
        };
        let is_allowed = |value: &f64| self.allowed.contains(value);
        bare_number(reading).filter(is_allowed).ok_or_else(|| {
            let place = analysis.amount_place(self.clause);
            let place = place.unwrap_or(rendering.place);
            vec![Diagnostic::error(self.words, place)]
        })
    }
}
