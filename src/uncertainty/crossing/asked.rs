//! A question made ready for many rows.

use super::{Column, Crossings, Question};
use crate::formula::{COMPARISON_TOLERANCE, CellId, Facet, Lane, Lanes};
use crate::quantity::{Deviation, Reading, Unit};
use crate::sheet::{Block, Gate, Program, RowInput, Sheet};
use crate::uncertainty::draws::WIDTH;
use crate::uncertainty::error::UncertaintyError;

/// A value that moves by less of itself stands still.
const STANDING: f64 = 1e-12;

/// A question made ready.
pub(super) struct Asked<'a> {
    sheet: &'a Sheet,
    columns: &'a [Column],
    pub(super) program: Program,
    slot: usize,
    /// The column that is off.
    pub(super) at: usize,
    gate: Gate,
    off_by: Deviation,
    threshold: f64,
}

impl<'a> Asked<'a> {
    pub(super) fn of(
        sheet: &'a Sheet,
        columns: &'a [Column],
        question: Question,
    ) -> Result<Asked<'a>, UncertaintyError> {
        let refuse = |why: String| UncertaintyError::Off {
            cell: sheet.name(question.reading),
            why,
        };
        let not_known = |cell: CellId| UncertaintyError::NotKnown {
            cell: sheet.name(cell),
        };
        if !question.threshold.is_finite() {
            return Err(UncertaintyError::Number {
                what: "a threshold",
                value: question.threshold,
                way_out: "it is a finite number in the unit of the cell",
            });
        }
        let uneven = columns
            .iter()
            .find(|c| c.said.iter().any(|(_, said)| said.len() != c.lanes.len()));
        if let Some(column) = uneven {
            let name = sheet.name(column.cell);
            return Err(refuse(format!(
                "`{name}` has more or fewer answers than rows"
            )));
        }
        for cell in columns.iter().map(|c| c.cell).chain([question.cell]) {
            sheet.unit(cell).ok_or_else(|| not_known(cell))?;
        }
        let at = columns.iter().position(|c| c.cell == question.reading);
        let at = at.ok_or_else(|| refuse("it is none of the columns".into()))?;
        let rows = columns[at].lanes.len();
        if let Some(other) = columns.iter().find(|c| c.lanes.len() != rows) {
            return Err(refuse(format!(
                "it has {rows} rows, but `{}` has {}",
                sheet.name(other.cell),
                other.lanes.len()
            )));
        }
        let unit = sheet.unit(question.reading);
        let unit = unit.ok_or_else(|| not_known(question.reading))?;
        let off = question.off;
        let Some(off_by) = Deviation::of(off.amount, off.unit, unit) else {
            return Err(refuse(off.does_not_measure(unit)));
        };
        if !off_by.beside(1.0).is_finite() {
            return Err(refuse("the amount is no finite number".into()));
        }
        let cells: Vec<CellId> = columns.iter().map(|c| c.cell).collect();
        let program = Program::new(sheet, &[question.cell], &cells);
        let slot = program.slot(question.cell);
        let gate = sheet.gate(question.reading, unit);
        Ok(Asked {
            slot: slot.ok_or_else(|| not_known(question.cell))?,
            sheet,
            columns,
            program,
            at,
            gate: gate.ok_or_else(|| not_known(question.reading))?,
            off_by,
            threshold: question.threshold,
        })
    }

    /// Fills a block with rows as they were read, a row for each lane.
    pub(super) fn fill(
        &self,
        block: &mut Block<WIDTH>,
        count: usize,
        row: impl Fn(usize) -> usize,
    ) {
        for (input, supplied) in self.program.inputs().iter().enumerate() {
            let column = self.columns.iter().find(|c| c.cell == supplied.cell);
            let lanes = self.program.input(block, input);
            *lanes = Lanes::MISSING;
            for i in 0..count {
                let lane = column.map(|c| self.said(c, supplied.facet, row(i)));
                lanes.set(i, lane.unwrap_or(Lane::MISSING));
            }
        }
    }

    /// Puts the reading off in a block that holds the rows: for each lane its row, and how many
    /// times it is off.
    pub(super) fn put_off(
        &self,
        block: &mut Block<WIDTH>,
        count: usize,
        lane: impl Fn(usize) -> (usize, f64),
    ) {
        let column = &self.columns[self.at];
        let is_it = |input: &RowInput| input.cell == column.cell && input.facet == Facet::Value;
        let Some(input) = self.program.inputs().iter().position(is_it) else {
            return;
        };
        let lanes = self.program.input(block, input);
        for i in 0..count {
            let (row, times) = lane(i);
            lanes.set(i, self.moved(column.lanes[row], times));
        }
    }

    /// The other reading; missing where it is impossible.
    fn moved(&self, lane: Lane, times: f64) -> Lane {
        if !lane.status.is_known() || times == 0.0 {
            return lane;
        }
        let value = match self.off_by {
            Deviation::Share(share) => lane.value * (1.0 + times * share),
            Deviation::Amount(amount) => lane.value + times * amount,
        };
        let admitted = self.gate.admit(value);
        admitted.map_or(Lane::MISSING, |value| Lane { value, ..lane })
    }

    /// What a row answers to what is asked of a cell.
    fn said(&self, column: &Column, facet: Facet, row: usize) -> Lane {
        let lane = column.lanes[row];
        if facet == Facet::Value {
            return lane;
        }
        if let Some((_, said)) = column.said.iter().find(|(f, _)| *f == facet) {
            return said[row];
        }
        let unit = self.sheet.unit(column.cell).unwrap_or(Unit::ONE);
        let known = lane.status.is_known().then_some(lane.value);
        let reading = known.and_then(|v| Reading::of(v, unit).ok());
        let reading = reading.unwrap_or_else(Reading::unknown);
        let said = self.sheet.facet_of_reading(column.cell, &reading, facet);
        said.map_or(Lane::MISSING, Lane::measured)
    }

    /// Whether a row has the reading that is off.
    pub(super) fn has_reading(&self, row: usize) -> bool {
        self.columns[self.at].lanes[row].status.is_known()
    }

    /// Puts a row where it belongs.
    pub(super) fn sort(
        &self,
        row: usize,
        as_read: Option<f64>,
        other: Option<f64>,
        found: &mut Crossings,
    ) {
        let (Some(before), Some(after)) = (as_read, other) else {
            found.not_known.push(row);
            return;
        };
        if !self.has_reading(row) {
            found.without.push(row);
            return;
        }
        found.compared += 1;
        found.moved += usize::from((after - before).abs() > STANDING * before.abs());
        let (was_above, is_above) = (self.is_above(before), self.is_above(after));
        found.above += usize::from(was_above);
        match (was_above, is_above) {
            (false, true) => found.upward.push(row),
            (true, false) => found.downward.push(row),
            _ => {}
        }
    }

    pub(super) fn result(&self, block: &mut Block<WIDTH>) -> [Option<f64>; WIDTH] {
        self.program.run_filled(block);
        let lanes = block.lanes(self.slot);
        std::array::from_fn(|i| {
            let lane = lanes.lane(i);
            lane.status.is_known().then_some(lane.value)
        })
    }

    pub(super) fn is_above(&self, value: f64) -> bool {
        let near = COMPARISON_TOLERANCE * value.abs().max(self.threshold.abs());
        value - self.threshold > near
    }
}
