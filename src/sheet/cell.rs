//! What is known of one cell.

use std::sync::Arc;

use super::figure::name_in_words;
use crate::formula::{Formula, Lane, OperandFacts, Single, Status, Step, Tape, Target, lone_step};
use crate::hemodynamics::{Domain, ModelUncertainty, UsualRange};
use crate::quantity::{Kind, Unit};

/// The hot part: what changes on an edit, small enough that four cells share a cache line.
#[derive(Clone, Copy, Debug)]
pub(super) struct Hot {
    pub(super) value: f64,
    pub(super) reason: u32,
    pub(super) status: Status,
    pub(super) flags: u8,
}

pub(super) const HAS_READING: u8 = 1;
pub(super) const HAS_FORMULA: u8 = 2;
/// The formula uses the reading, so that a reading does not simply take its place.
pub(super) const GUARDED: u8 = 4;
/// Formulas ask more of the reading than its value.
pub(super) const HAS_FACETS: u8 = 8;
pub(super) const REMOVED: u8 = 16;
/// Of the sheet's own bookkeeping; edits do not list it.
pub(super) const HIDDEN: u8 = 32;

impl Hot {
    /// Value and state.
    #[inline]
    pub(super) fn lane(&self) -> Lane {
        Lane {
            value: self.value,
            status: self.status,
        }
    }

    /// Whether nothing that anyone could see is different.
    pub(super) fn same(&self, other: &Hot) -> bool {
        self.status == other.status
            && self.reason == other.reason
            && (!self.status.is_known() || self.value.to_bits() == other.value.to_bits())
    }
}

/// How a cell is computed.
#[derive(Clone, Copy, Debug)]
pub(super) struct Plan {
    pub(super) tape: u32,
    pub(super) operands: u32,
    pub(super) count: u32,
}

/// The cold part that every cell has.
#[derive(Clone, Copy, Debug)]
pub(super) struct Form {
    pub(super) unit: Unit,
    pub(super) formula: u32,
    pub(super) kind: Kind,
}

/// The source of what no catalogue has.
pub(super) const THIS_SHEET: &str = "this sheet";

pub(super) const NONE: u32 = u32::MAX;

/// What a person is told of a cell: name, words, symbol, source.
#[derive(Clone, Debug, PartialEq)]
pub struct About {
    /// The name.
    pub name: String,
    /// The words for it.
    pub label: String,
    /// LaTeX of its symbol.
    pub symbol: String,
    /// The words of a finding, in order; empty for a quantity.
    pub words: Arc<[Arc<str>]>,
    /// The unit in which `domain`, `usual` and `model_uncertainty` are stated, which may differ
    /// from the unit the cell is shown in.
    pub stated_in: Unit,
    /// What is possible.
    pub domain: Option<Domain>,
    /// What is usual, by source.
    pub usual: &'static [UsualRange],
    /// What the formula takes for granted.
    pub assumptions: Vec<String>,
    /// Who published it.
    pub source: String,
    /// Uncertainty of the formula itself.
    pub model_uncertainty: Option<ModelUncertainty>,
    /// LOINC code of the quantity.
    pub loinc: Option<&'static str>,
}

impl About {
    /// A cell of the user's own.
    pub fn named(name: impl Into<String>) -> About {
        let name = name.into();
        About {
            label: name_in_words(&name),
            symbol: format!(r"\mathrm{{{}}}", name.replace('_', r"\_")),
            name,
            words: Arc::from([]),
            stated_in: Unit::ONE,
            domain: None,
            usual: &[],
            assumptions: Vec::new(),
            source: String::new(),
            model_uncertainty: None,
            loinc: None,
        }
    }
}

/// A formula kept once for all cells that share it.
pub(super) type SharedFormula = Arc<Formula>;

/// Steps kept once for all cells that share a formula and the units of its operands.
#[derive(Clone, Debug)]
pub(super) struct SharedTape {
    pub(super) tape: Arc<Tape>,
    pub(super) way: Way,
}

/// A tape made of a formula, for operands of these units, kinds and words.
#[derive(Clone, Debug)]
pub(super) struct Made {
    pub(super) operands: Vec<OperandFacts>,
    pub(super) target: Target,
    pub(super) tape: MadeTape,
}

/// The number of a tape, with the unit and kind of what it gives.
#[derive(Clone, Copy, Debug)]
pub(super) struct MadeTape {
    pub(super) number: u32,
    pub(super) unit: Unit,
    pub(super) kind: Kind,
}

/// How steps are run for one exam; the results are the same bits either way.
#[derive(Clone, Copy, Debug)]
pub(super) enum Way {
    /// One step, from its operands where they stand.
    Alone(Step),
    /// No step looks at a state.
    Straight,
    /// Some do, or ask for the cell's own reading.
    Tracked,
    /// More registers than are kept ready.
    Large,
}

impl SharedTape {
    pub(super) fn new(tape: Tape) -> SharedTape {
        let way = match lone_step(&tape) {
            Some(step) => Way::Alone(step),
            None if !Single::<true>::fits(tape.registers()) => Way::Large,
            None if tape.is_straight() && !tape.uses_reading() => Way::Straight,
            None => Way::Tracked,
        };
        SharedTape {
            tape: Arc::new(tape),
            way,
        }
    }
}
