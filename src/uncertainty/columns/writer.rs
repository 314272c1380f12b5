//! Sweeps back over formulas, written down as operations.

use std::collections::BTreeMap;

use super::Place;
use super::ground::{Cut, Ground, What};
use crate::formula::{CellId, Code, Slope, Tape};
use crate::sheet::Course;

/// Operations in the making.
pub(super) struct Writer<'g, 'a> {
    pub(super) ground: &'g mut Ground<'a>,
    pub(super) code: Code,
    /// Slopes of the formula of each slot, once they were needed.
    locals: Vec<Option<Vec<Option<Slope>>>>,
}

impl<'g, 'a> Writer<'g, 'a> {
    pub(super) fn new(ground: &'g mut Ground<'a>) -> Writer<'g, 'a> {
        Writer {
            locals: vec![None; ground.program.slots()],
            ground,
            code: Code::default(),
        }
    }

    /// How the cell of a slot comes to its lanes.
    pub(super) fn course(&self, slot: usize) -> Course<'a> {
        self.ground.program.course(slot, self.ground.sheet)
    }

    /// One sweep from a cell back to its causes, each cell once, and no further than to the cells
    /// at which it `stops`.
    pub(super) fn sweep(&mut self, from: usize, stops: impl Fn(CellId) -> bool) -> Vec<Cut> {
        self.sweep_over(from, stops, false)
    }

    /// The same within the formula of a cell, also where a row supplies the cell.
    pub(super) fn sweep_within(&mut self, from: usize, stops: impl Fn(CellId) -> bool) -> Vec<Cut> {
        self.sweep_over(from, stops, true)
    }

    fn sweep_over(
        &mut self,
        from: usize,
        stops: impl Fn(CellId) -> bool,
        is_within: bool,
    ) -> Vec<Cut> {
        let mut waiting = BTreeMap::from([(from, Slope::ONE)]);
        let mut cuts = Vec::new();
        while let Some((slot, slope)) = waiting.pop_last() {
            let course = self.course(slot);
            if course.is_companion {
                continue;
            }
            if slot != from && stops(course.cell) {
                cuts.push(Cut {
                    what: What::Slot(course.cell, slot),
                    slope,
                    value: Place::Slot(slot),
                });
                continue;
            }
            let Some((tape, operands)) = course.formula else {
                cuts.extend(self.ground.reading(course.cell, slope, Place::Slot(slot)));
                continue;
            };
            let is_whole = slot == from && is_within;
            let row = course.row.filter(|_| !tape.uses_reading() && !is_whole);
            let slope = match row {
                None => Some(slope),
                Some(row) => {
                    let read = self.branch(slope, row, true);
                    let read =
                        read.and_then(|s| self.ground.reading(course.cell, s, Place::Row(row)));
                    cuts.extend(read);
                    self.branch(slope, row, false)
                }
            };
            let Some(slope) = slope else {
                continue;
            };
            cuts.extend(self.ground.model(course.cell, slope, slot));
            let local = self.local(slot, tape, operands, course.row);
            for (at, step) in local.into_iter().enumerate() {
                let Some(more) = step.and_then(|step| self.code.carry(slope, step, true)) else {
                    continue;
                };
                match operands.get(at) {
                    Some(operand) => {
                        let before = waiting.get(operand).copied();
                        waiting.insert(*operand, self.code.sum(before, more));
                    }
                    None => {
                        let place = self.ground.own_place(slot, course.row);
                        cuts.extend(self.ground.reading(course.cell, more, place));
                    }
                }
            }
        }
        cuts
    }

    /// A slope where a row supplies the cell, or where it does not.
    fn branch(&mut self, slope: Slope, row: usize, is_read: bool) -> Option<Slope> {
        let given = self.ground.given(Place::Row(row));
        let step = Slope {
            slope: self.code.where_known(given, is_read),
            size: None,
        };
        self.code.carry(slope, step, true)
    }

    fn local(
        &mut self,
        slot: usize,
        tape: &Tape,
        operands: &[usize],
        row: Option<usize>,
    ) -> Vec<Option<Slope>> {
        if let Some(known) = &self.locals[slot] {
            return known.clone();
        }
        let own = tape
            .uses_reading()
            .then(|| self.ground.own_place(slot, row));
        let numbers: Vec<u32> = (0..tape.registers())
            .map(|reg| {
                let step = Place::Step(slot, reg.saturating_sub(tape.inputs()));
                let own = own.filter(|_| reg < tape.inputs()).unwrap_or(step);
                let operand = operands.get(reg).map(|o| Place::Slot(*o));
                self.ground.given(operand.unwrap_or(own))
            })
            .collect();
        let local = self.code.slopes(tape, |reg| numbers[usize::from(reg)]);
        self.locals[slot] = Some(local.clone());
        local
    }
}
