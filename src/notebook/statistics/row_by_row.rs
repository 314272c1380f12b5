//! The sheet of one row after another, as far as one cell rests on readings that rows supply.

use crate::cohort::{Cohort, CohortReadings};
use crate::formula::CellId;
use crate::notebook::rests_on::rests_on;
use crate::sheet::{Lack, Sheet};

/// A cell in the sheet of one row after another: what it lacks there.
pub(super) struct RowByRow<'r> {
    sheet: &'r Sheet,
    cell: CellId,
    readings: CohortReadings<'r>,
    rests_on: Vec<CellId>,
    /// The cells among them that columns of the table supply, in their order, so that the cell itself comes first where it is one of them.
    supplied: Vec<CellId>,
    of_row: Sheet,
}

impl<'r> RowByRow<'r> {
    /// Nothing where the rows were computed with another sheet.
    pub(super) fn of(sheet: &'r Sheet, cohort: &'r Cohort, cell: CellId) -> Option<RowByRow<'r>> {
        let readings = cohort.readings(sheet).ok()?;
        let rests_on = rests_on(sheet, cell, |_| false);
        let bound = readings.cells();
        let supplied = rests_on.iter().copied().filter(|c| bound.contains(c));
        let supplied = supplied.collect();
        Some(RowByRow {
            sheet,
            cell,
            readings,
            rests_on,
            supplied,
            of_row: sheet.clone(),
        })
    }

    /// The sheet before any row.
    pub(super) fn sheet(&self) -> &'r Sheet {
        self.sheet
    }

    /// The cell whose column would say a reading: its own, or that of an exam, which passes on what all exams share.
    pub(super) fn column_of(&self, input: CellId) -> Option<CellId> {
        let mut supplied = self.supplied.iter().copied();
        supplied.find(|cell| *cell == input || self.sheet.inputs(*cell).contains(&input))
    }

    /// What a row says of all that the cell rests on: rows that say the same lack the same.
    pub(super) fn said(&self, row: usize) -> String {
        self.readings.said(row, &self.rests_on)
    }

    /// What the cell lacks in a row, and the sheet of that row; nothing where the row cannot be read.
    pub(super) fn lacks(&mut self, row: usize) -> Option<(Vec<Lack>, &Sheet)> {
        let read = self.readings.row(row).ok()?;
        let own = read.readings().iter();
        let own = own.filter(|(input, _)| self.rests_on.contains(input));
        self.of_row.set_all(own.cloned().collect::<Vec<_>>()).ok()?;
        Some((self.of_row.lacks(self.cell), &self.of_row))
    }
}
