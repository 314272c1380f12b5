//! How a cell leans on its operands at its present value; for the propagation of uncertainty.

use super::sheet::Sheet;
use crate::formula::{CellId, Facet, sized_slopes};

/// What a cell's present value comes from, one step back.
pub(crate) enum Local {
    /// Its reading as it stands.
    Reading,
    /// Its formula.
    Formula {
        /// Operand, slope, and size of what the slope was added up from.
        operands: Vec<(CellId, f64, f64)>,
        /// Slope and size with respect to its own reading, where the formula uses that.
        own: Option<(f64, f64)>,
    },
}

impl Sheet {
    /// What a known cell's value comes from, one step back.
    pub(crate) fn local(&self, cell: CellId) -> Local {
        let index = cell.index();
        let Some(tape) = self.tape(index) else {
            return Local::Reading;
        };
        if self.is_given(index) && !tape.uses_reading() {
            return Local::Reading;
        }
        let found = sized_slopes(tape, &self.input_lanes(index));
        let mut pairs = found.slopes.into_iter().zip(found.sizes);
        let operands = self
            .operands_of(index)
            .iter()
            .zip(pairs.by_ref())
            .map(|(operand, (slope, size))| (self.id_of(*operand), slope, size))
            .collect();
        Local::Formula {
            operands,
            own: pairs.next(),
        }
    }

    /// The cells under some others that have a reading or take one, in order.
    pub(crate) fn readings_under(&self, wanted: &[CellId]) -> Vec<CellId> {
        let mut met = std::collections::BTreeSet::new();
        let mut found = std::collections::BTreeSet::new();
        let mut waiting: Vec<u32> = wanted.iter().map(|cell| cell.index).collect();
        while let Some(index) = waiting.pop() {
            let at = index as usize;
            if at >= self.hot.len() || !met.insert(index) {
                continue;
            }
            waiting.extend(self.operands_of(at));
            let takes = self.tape(at).is_none_or(|tape| tape.uses_reading());
            match self.speaks_of.get(&index) {
                Some(speaker) => {
                    found.insert(*speaker);
                }
                None if takes || self.is_given(at) => {
                    found.insert(index);
                }
                None => {}
            }
        }
        found.into_iter().map(|index| self.id_of(index)).collect()
    }

    /// What the reading of a cell, or its absence, answers to a question beyond its value.
    pub(crate) fn said_of(&self, cell: CellId, facet: Facet) -> Option<f64> {
        self.facet_from(cell.index, self.reading(cell), facet)
    }

    /// Whether a cell only answers what is asked of another's reading, such as how many beats there
    /// were; such an answer carries no uncertainty.
    pub(crate) fn is_answer(&self, cell: CellId) -> bool {
        self.speaks_of.contains_key(&cell.index)
    }

    /// Place of a cell in the order of evaluation.
    pub(crate) fn place_in_order(&self, cell: CellId) -> u32 {
        self.rank_of(cell.index)
    }
}
