//! What a cell would be if others were not as they are.

use std::collections::BTreeMap;

use super::sheet::Sheet;
use crate::formula::{CellId, Lane, Single, Tape, evaluate_one};

/// A cell, ready to be asked again and again what it would be if others were as given.
pub(crate) struct WhatIf<'s> {
    /// The cells that it may come from and itself, numbered in order of evaluation.
    numbers: BTreeMap<CellId, usize>,
    /// The formulas that decide their values.
    formulas: Vec<Deciding<'s>>,
    /// The number of the cell itself.
    cell: usize,
    /// What it is.
    lane: Lane,
    /// What the cells would be; none for one that is as it is.
    others: Vec<Option<Lane>>,
    registers: Box<Single<true>>,
}

/// A formula that decides the value of a cell.
struct Deciding<'s> {
    cell: usize,
    tape: &'s Tape,
    /// What it runs on as things are.
    inputs: Vec<Lane>,
    /// The numbers of its operands; none for one that the asked cell does not come from.
    operands: Vec<Option<usize>>,
}

impl Sheet {
    /// A cell, ready to be asked; `behind` are the cells that it may come from, itself among them.
    pub(crate) fn what_if(&self, cell: CellId, behind: &[CellId]) -> WhatIf<'_> {
        let mut cells = behind.to_vec();
        cells.sort_by_key(|cell| self.place_in_order(*cell));
        let numbers: BTreeMap<CellId, usize> = cells.iter().copied().zip(0..).collect();
        let formulas = cells.iter().enumerate().filter_map(|(number, at)| {
            let running = self.running(*at)?;
            let operands = running.operands.iter();
            Some(Deciding {
                cell: number,
                tape: running.tape,
                inputs: running.inputs,
                operands: operands.map(|o| numbers.get(o).copied()).collect(),
            })
        });
        WhatIf {
            formulas: formulas.collect(),
            cell: numbers[&cell],
            numbers,
            lane: self.lane(cell.index()),
            others: vec![None; cells.len()],
            registers: Box::new(Single::new()),
        }
    }
}

impl WhatIf<'_> {
    /// What the cell would be; others that it does not come from are of no account.
    pub(crate) fn lane(&mut self, others: &[(CellId, Lane)]) -> Lane {
        self.others.fill(None);
        for (cell, lane) in others {
            if let Some(number) = self.numbers.get(cell) {
                self.others[*number] = Some(*lane);
            }
        }
        for formula in &self.formulas {
            let others = &self.others;
            let mut operands = formula.operands.iter().flatten();
            // What is given stays, whatever its formula says.
            let is_given = others[formula.cell].is_some();
            if !is_given && operands.any(|operand| others[*operand].is_some()) {
                let made = formula.run(others, &mut self.registers);
                self.others[formula.cell] = Some(made);
            }
        }
        self.others[self.cell].unwrap_or(self.lane)
    }
}

impl Deciding<'_> {
    fn run(&self, others: &[Option<Lane>], registers: &mut Single<true>) -> Lane {
        let operands = self.operands.iter().map(|operand| others[(*operand)?]);
        // The cell's own reading stands behind them.
        let operands = operands.chain([None]);
        let inputs = self.inputs.iter().zip(operands);
        let inputs = inputs.map(|(input, other)| other.unwrap_or(*input));
        if !Single::<true>::fits(self.tape.registers()) {
            return evaluate_one(self.tape, &inputs.collect::<Vec<_>>());
        }
        for (at, lane) in inputs.enumerate() {
            registers.values[at] = lane.value;
            registers.states[at] = lane.status.0;
        }
        registers.finish(self.tape, 0)
    }
}
