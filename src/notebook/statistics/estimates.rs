//! Values that rest on an estimated or assumed reading, such as a diameter computed from body size: nobody recorded
//! or measured them, so they are left out, counted and said, unless a statement says `with estimated`.

use crate::formula::notation::{Diagnostic, Name};
use crate::quantity::Origin;

use super::rows::{Column, Rows};

/// Where a value can come from other than a measurement.
const ROUGH: [Origin; 2] = [Origin::Estimated, Origin::Assumed];

/// Said where changes in per cent were left out that rest on an estimate: its error may cancel in them.
pub(super) const ALTHOUGH_IT_CANCELS: &str = "Rows whose change rests on an estimate are left out even where both exams share it, so that its error \
     cancels in the per cent change: nobody measured it. `with estimated` keeps them.";

/// Whether a name is that of a per cent change between two exams.
pub(super) fn is_change(name: &Name) -> bool {
    name.text.starts_with("change.") || name.text.contains(".change.")
}

/// Whether a name is that of any change between two exams, in per cent or in its unit.
pub(super) fn is_difference(name: &Name) -> bool {
    is_change(name) || name.text.starts_with("difference.") || name.text.contains(".difference.")
}

impl Rows<'_> {
    /// Keeps the rows in which a column is known by measurement.
    ///
    /// # Errors
    /// Where no row is left: what was left out, and how to have it counted.
    pub(super) fn keep_read(&mut self, column: &Column) -> Result<(), Vec<Diagnostic>> {
        self.keep_known(column);
        self.keep_recorded(column)
    }

    /// As [`Rows::keep_measured`].
    ///
    /// # Errors
    /// Where no row is left, as for [`Rows::keep_read`].
    pub(super) fn keep_recorded(&mut self, column: &Column) -> Result<(), Vec<Diagnostic>> {
        let known = self.kept.len();
        self.keep_measured(column);
        match self.kept.is_empty() && known > 0 {
            true => Err(self.all_estimated(column)),
            false => Ok(()),
        }
    }

    /// Leaves out the rows in which a column rests on an estimate or an assumption; those in which it is not known stay.
    pub(super) fn keep_measured(&mut self, column: &Column) {
        if self.with_estimated {
            return;
        }
        for origin in ROUGH {
            let why = format!("{} {}", column.said(), origin.word());
            self.keep_if(why, |row| column.origin(row) != Some(origin));
        }
    }

    /// How many of the rows kept [`Rows::keep_measured`] would leave out.
    pub(super) fn rough(&self, column: &Column) -> usize {
        let kept = self.kept.iter();
        kept.filter(|row| !self.counts(column, **row)).count()
    }

    fn all_estimated(&self, column: &Column) -> Vec<Diagnostic> {
        let message = format!("{} is measured in none of these rows", column.said());
        let hint = format!(
            "left out: {}; `with estimated` keeps what rests on an estimated or assumed reading",
            self.left_out_words()
        );
        vec![Diagnostic::error(message, self.rendering.place).hint(hint)]
    }

    /// Whether the value of a column counts in a row, as far as its origin is concerned.
    pub(super) fn counts(&self, column: &Column, row: usize) -> bool {
        self.with_estimated || !column.is_rough(row)
    }

    /// Leaves out the rows in which a name is a cell that rests on an estimate or an assumption; `said` tells it in the reason.
    pub(super) fn keep_not_rough(&mut self, name: &Name, said: &str) {
        let is_rough = self.is_left_out_as_rough(name);
        self.keep_if(format!("{said} estimated or assumed"), |row| !is_rough[row]);
    }

    /// Whether a cell rests on an estimated or assumed reading, in each row used, where such values are to be left out.
    pub(super) fn is_left_out_as_rough(&self, name: &Name) -> Vec<bool> {
        let rows = 0..self.cohort.counts.used;
        let is_cell = self.rendering.sheet.cell(&name.text).is_some();
        let column = match is_cell && !self.with_estimated {
            true => self.cohort.column(&name.text),
            false => None,
        };
        let is_rough = |row: usize| {
            let value = column.and_then(|column| column.get(row).copied().flatten());
            value.is_some_and(|value| value.origin != Origin::Measured)
        };
        rows.map(is_rough).collect()
    }
}
