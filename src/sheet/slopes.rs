//! How a cell leans on its operands at its present value; for the propagation of uncertainty.

use std::collections::{BTreeMap, BTreeSet};

use super::sheet::Sheet;
use crate::formula::notation::write_op;
use crate::formula::{At, CellId, Facet, Lane, Tape, leans, sized_slopes, used_inputs};

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

/// A cell, and what its formula can lean on, whether that or a reading decides its value.
#[derive(Clone, Debug)]
pub(crate) struct Leaning {
    pub(crate) cell: CellId,
    /// Whether it has a formula.
    pub(crate) has_formula: bool,
    /// Whether that looks at the cell's own reading.
    pub(crate) uses_reading: bool,
    /// Those that it can have a slope in, by their places in the list, each once and in order.
    pub(crate) on: Vec<usize>,
}

/// A cell's formula, where that decides its value.
pub(crate) struct Running<'s> {
    pub(crate) tape: &'s Tape,
    pub(crate) operands: Vec<CellId>,
    /// States of the operands, then of the cell's own reading where the formula uses it.
    pub(crate) inputs: Vec<Lane>,
}

impl Sheet {
    /// The formula of a cell, unless its reading takes precedence.
    pub(crate) fn running(&self, cell: CellId) -> Option<Running<'_>> {
        let index = cell.index();
        let tape = self.deciding_tape(index)?;
        let operands = self.operands_of(index).iter();
        Some(Running {
            tape,
            operands: operands.map(|operand| self.id_of(*operand)).collect(),
            inputs: self.input_lanes(index),
        })
    }

    /// The cells that the present value of a cell comes from, itself among them, whose formulas
    /// are such as `is_wanted` says; in order of evaluation.
    pub(crate) fn formulas_behind(
        &self,
        cell: CellId,
        is_wanted: impl Fn(&Tape) -> bool,
    ) -> Vec<CellId> {
        // A straight formula uses all of its operands.
        let behind = self.walk_back(cell, |at, tape| match tape.is_straight() {
            true => Vec::new(),
            false => used_inputs(tape, &self.input_lanes(at)),
        });
        let has_wanted = |cell: &CellId| self.deciding_tape(cell.index()).is_some_and(&is_wanted);
        let mut found: Vec<CellId> = behind.into_iter().filter(has_wanted).collect();
        found.sort_by_key(|cell| self.rank_of(cell.index));
        found
    }

    /// A cell and all that it can come from while no reading comes or goes, in order.
    pub(crate) fn all_behind(&self, cell: CellId) -> Vec<CellId> {
        self.walk_back(cell, |_, _| Vec::new())
    }

    /// Those of [`Sheet::all_behind`] that its value may come from while the values of readings move:
    /// on both sides of a comparison, and on both sides of an `else` whose first side may then be
    /// withheld.
    pub(crate) fn may_come_from(&self, cell: CellId) -> Vec<CellId> {
        let lapsing = self.may_be_withheld(cell);
        let is_lapsing = |operand: &u32| lapsing.contains(operand);
        self.walk_back(cell, |at, tape| {
            let is_open = tape.may_turn() || self.operands_of(at).iter().any(is_lapsing);
            match is_open || tape.is_straight() {
                true => Vec::new(),
                false => used_inputs(tape, &self.input_lanes(at)),
            }
        })
    }

    /// The cells behind a cell that may be withheld while the values of readings move.
    fn may_be_withheld(&self, cell: CellId) -> BTreeSet<u32> {
        let mut behind = self.all_behind(cell);
        behind.sort_by_key(|cell| self.rank_of(cell.index));
        let mut found = BTreeSet::new();
        for cell in behind {
            let Some(tape) = self.deciding_tape(cell.index()) else {
                continue;
            };
            let mut operands = self.operands_of(cell.index()).iter();
            let is_own = tape.may_turn() && tape.may_withhold();
            if is_own || operands.any(|operand| found.contains(operand)) {
                found.insert(cell.index);
            }
        }
        found
    }

    /// A cell and those behind it, each once, in order; `used` says which operands of a formula count,
    /// all where it says nothing of them.
    fn walk_back(&self, cell: CellId, used: impl Fn(usize, &Tape) -> Vec<bool>) -> Vec<CellId> {
        let mut met = BTreeSet::from([cell.index]);
        let mut waiting = vec![cell.index];
        while let Some(index) = waiting.pop() {
            let at = index as usize;
            let Some(tape) = self.deciding_tape(at) else {
                continue;
            };
            let used = used(at, tape);
            for (k, operand) in self.operands_of(at).iter().enumerate() {
                if used.get(k).copied().unwrap_or(true) && met.insert(*operand) {
                    waiting.push(*operand);
                }
            }
        }
        met.into_iter().map(|index| self.id_of(index)).collect()
    }

    /// The formula of a cell, unless its reading takes precedence.
    fn deciding_tape(&self, index: usize) -> Option<&Tape> {
        let tape = self.tape(index)?;
        (tape.uses_reading() || !self.is_given(index)).then_some(tape)
    }

    /// The steps of a cell's formula, whether its reading takes precedence or not.
    #[cfg(feature = "cohort")]
    pub(crate) fn tape_under(&self, cell: CellId) -> Option<&Tape> {
        self.tape(cell.index()).map(|tape| &**tape)
    }

    /// The cells that some others can come from, themselves among them, whose formulas are such as
    /// `is_wanted` says, whatever the readings are; in order of evaluation.
    #[cfg(feature = "cohort")]
    pub(crate) fn formulas_under(
        &self,
        wanted: &[CellId],
        is_wanted: impl Fn(&Tape) -> bool,
    ) -> Vec<CellId> {
        let has_wanted = |index: &u32| self.tape(*index as usize).is_some_and(|t| is_wanted(t));
        let under = self.all_under(wanted).into_iter().filter(has_wanted);
        let mut found: Vec<CellId> = under.map(|index| self.id_of(index)).collect();
        found.sort_by_key(|cell| self.rank_of(cell.index));
        found
    }

    /// The part of a cell's formula that ends at an operation, in the notation.
    pub(crate) fn operation_text(&self, cell: CellId, op: At) -> String {
        let index = cell.index();
        let formula = self.formula_at(index);
        formula.map_or_else(String::new, |formula| {
            write_op(formula, op, &self.operand_names(index))
        })
    }

    /// Whether a cell's value is a reading as it stands.
    pub(crate) fn is_read(&self, cell: CellId) -> bool {
        self.deciding_tape(cell.index()).is_none()
    }

    /// Whether a cell's reading, where it has one, has a part in its value.
    pub(crate) fn takes_reading(&self, cell: CellId) -> bool {
        let tape = self.deciding_tape(cell.index());
        tape.is_none_or(|tape| tape.uses_reading())
    }

    /// What a known cell's value comes from, one step back.
    pub(crate) fn local(&self, cell: CellId) -> Local {
        let index = cell.index();
        let Some(tape) = self.deciding_tape(index) else {
            return Local::Reading;
        };
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
        let readings = self.all_under(wanted).into_iter().filter_map(|index| {
            let at = index as usize;
            let takes = self.tape(at).is_none_or(|tape| tape.uses_reading());
            match self.speaks_of.get(&index) {
                Some(speaker) => Some(*speaker),
                None => (takes || self.is_given(at)).then_some(index),
            }
        });
        let readings: BTreeSet<u32> = readings.collect();
        readings
            .into_iter()
            .map(|index| self.id_of(index))
            .collect()
    }

    /// Cells and all that they can come from, whatever the readings are, in order. Cells that are
    /// none of the sheet's are left out.
    fn all_under(&self, wanted: &[CellId]) -> BTreeSet<u32> {
        let mut met = BTreeSet::new();
        let mut waiting: Vec<u32> = wanted.iter().map(|cell| cell.index).collect();
        while let Some(index) = waiting.pop() {
            let at = index as usize;
            if at < self.hot.len() && met.insert(index) {
                waiting.extend(self.operands_of(at));
            }
        }
        met
    }

    /// The cells that some others can lean on, themselves among them; operands first, each place
    /// in the order of evaluation once. What only answers a question about a reading is left out.
    pub(crate) fn leanings(&self, wanted: &[CellId]) -> Vec<Leaning> {
        let mut found: BTreeMap<(u32, u32), Vec<u32>> = BTreeMap::new();
        let mut waiting: Vec<u32> = wanted.iter().map(|cell| cell.index).collect();
        while let Some(index) = waiting.pop() {
            let at = index as usize;
            let key = (self.rank_of(index), index);
            if found.contains_key(&key) {
                continue;
            }
            let leans = self.tape(at).map_or_else(Vec::new, |tape| leans(tape));
            let operands = self.operands_of(at).iter().zip(leans);
            let on: Vec<u32> = operands
                .filter(|(operand, leans)| *leans && !self.speaks_of.contains_key(*operand))
                .map(|(operand, _)| *operand)
                .collect();
            waiting.extend(&on);
            found.insert(key, on);
        }
        let places: BTreeMap<u32, usize> = found.keys().map(|(_, index)| *index).zip(0..).collect();
        let leanings = found.iter().map(|((_, index), on)| {
            let mut on: Vec<usize> = on.iter().map(|operand| places[operand]).collect();
            on.sort_unstable();
            on.dedup();
            let tape = self.tape(*index as usize);
            Leaning {
                cell: self.id_of(*index),
                has_formula: tape.is_some(),
                uses_reading: tape.is_some_and(|tape| tape.uses_reading()),
                on,
            }
        });
        leanings.collect()
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
