//! Pairs that are one reading, such as a diameter that both exams share: compared with itself it agrees perfectly, which
//! says nothing of how well it can be measured.

use crate::cohort::CohortReadings;
use crate::formula::CellId;
use crate::formula::notation::{Diagnostic, Name};
use crate::notebook::rests_on::rests_on;
use crate::quantity::{Content, Reading};
use crate::sheet::Sheet;

use super::rows::{Column, Rows};

impl Rows<'_> {
    /// Leaves out the rows in which two of the columns are one reading; `names` are those of `columns`.
    ///
    /// # Errors
    /// Where no row is left.
    pub(super) fn keep_apart(
        &mut self,
        names: &[&Name],
        columns: &[&Column],
    ) -> Result<(), Vec<Diagnostic>> {
        let before = self.kept.len();
        let is_one = self.are_one_reading(names, columns);
        self.keep_if("one reading serves both", |row| !is_one[row]);
        if self.kept.is_empty() && before > 0 {
            let message = "one reading serves both in all of these rows: compared with itself it says nothing of measurement";
            let error = Diagnostic::error(message, self.rendering.place);
            return Err(vec![error.hint(
                "a reading that was taken twice has a column for each, such as before.lvot_diameter and after.lvot_diameter",
            )]);
        }
        Ok(())
    }

    /// Whether two of the columns are one reading, in each row used.
    fn are_one_reading(&self, names: &[&Name], columns: &[&Column]) -> Vec<bool> {
        let mut is_one = vec![false; self.cohort.counts.used];
        let sheet = self.rendering.sheet;
        // A row used can be read: a cohort is computed again when the sheet is another.
        let readings = self.cohort.readings(sheet).ok();
        for (at, (first, one)) in names.iter().zip(columns).enumerate() {
            for (second, other) in names.iter().zip(columns).skip(at + 1) {
                let cells = sheet.cell(&first.text).zip(sheet.cell(&second.text));
                for row in &self.kept {
                    is_one[*row] |= match (first.text == second.text, cells, &readings) {
                        (true, ..) => true,
                        // Only what is equal can be one; the rest need not be asked.
                        (false, Some((a, b)), Some(readings)) => {
                            one.value(*row) == other.value(*row)
                                && share_their_readings(readings, sheet, *row, a, b)
                        }
                        _ => false,
                    };
                }
            }
        }
        is_one
    }
}

/// Whether two cells of one value rest on the same readings in a row. Of two that are read it is enough that one rests on
/// nothing else: the other may name readings that it would need only if that one were missing.
fn share_their_readings(
    readings: &CohortReadings<'_>,
    sheet: &Sheet,
    row: usize,
    a: CellId,
    b: CellId,
) -> bool {
    let Ok(of_row) = readings.row(row) else {
        return false;
    };
    let bound = readings.cells();
    let says =
        |reading: &Reading| !matches!(reading.content(), Content::Unknown | Content::Unobtainable);
    let is_read = |cell: CellId| match bound.contains(&cell) {
        true => {
            let mut all = of_row.readings().iter();
            all.any(|(c, reading)| *c == cell && says(reading))
        }
        false => sheet.reading(cell).is_some_and(says),
    };
    let (of_a, of_b) = (
        readings_of(sheet, a, is_read),
        readings_of(sheet, b, is_read),
    );
    let holds = |all: &[CellId], some: &[CellId]| {
        !some.is_empty() && some.iter().all(|cell| all.contains(cell))
    };
    let (a_in_b, b_in_a) = (holds(&of_b, &of_a), holds(&of_a, &of_b));
    match sheet.is_derived(a) || sheet.is_derived(b) {
        // Two formulas may come to one value by different ways.
        true => a_in_b && b_in_a,
        false => a_in_b || b_in_a,
    }
}

/// The readings that a cell can rest on, each once.
fn readings_of(sheet: &Sheet, cell: CellId, is_read: impl Fn(CellId) -> bool) -> Vec<CellId> {
    let mut found = rests_on(sheet, cell, &is_read);
    found.retain(|cell| is_read(*cell));
    found
}
