//! What a cell would be if others were not as they are.

use std::collections::BTreeMap;

use super::sheet::Sheet;
use crate::formula::{CellId, Lane, Tape, evaluate_one};

/// A cell, ready to be asked again and again what it would be if others were as given.
pub(crate) struct WhatIf<'s> {
    /// The cells that it may come from and itself, numbered in order of evaluation.
    numbers: BTreeMap<CellId, usize>,
    /// What they are.
    lanes: Vec<Lane>,
    /// The formulas that decide their values.
    formulas: Vec<Deciding<'s>>,
    /// The number of the cell itself.
    cell: usize,
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
            lanes: cells.iter().map(|cell| self.lane(cell.index())).collect(),
            cell: numbers[&cell],
            numbers,
        }
    }
}

impl WhatIf<'_> {
    /// What the cell would be; others that it does not come from are of no account.
    pub(crate) fn lane(&self, others: &[(CellId, Lane)]) -> Lane {
        let mut lanes = self.lanes.clone();
        let mut is_given = vec![false; lanes.len()];
        let known = others.iter().filter_map(|(cell, lane)| {
            let number = self.numbers.get(cell)?;
            Some((*number, *lane))
        });
        for (number, lane) in known {
            lanes[number] = lane;
            is_given[number] = true;
        }
        let mut is_other = is_given.clone();
        for formula in &self.formulas {
            let mut operands = formula.operands.iter().flatten();
            if is_given[formula.cell] || !operands.any(|operand| is_other[*operand]) {
                continue;
            }
            let mut inputs = formula.inputs.clone();
            for (input, operand) in inputs.iter_mut().zip(&formula.operands) {
                if let Some(operand) = operand {
                    *input = lanes[*operand];
                }
            }
            lanes[formula.cell] = evaluate_one(formula.tape, &inputs);
            is_other[formula.cell] = true;
        }
        lanes[self.cell]
    }
}
