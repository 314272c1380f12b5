//! How a cell leans on its operands at its present value; for the propagation of uncertainty.

use super::sheet::Sheet;
use crate::formula::{CellId, sized_slopes};

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
