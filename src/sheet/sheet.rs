//! The sheet: cells, their graph, and recomputation.

use std::collections::HashMap;
use std::sync::Arc;
use std::sync::atomic::{AtomicU32, Ordering};

use super::advice::Rule;
use super::cell::{About, Form, Hot, Made, NONE, Plan, REMOVED, SharedFormula, SharedTape};
use super::dirty::Dirty;
use super::error::EditError;
use super::order::Order;
use super::reasons::Reasons;
use super::users::Users;
use crate::formula::{CellId, Facet, Lane, Single, Tape};
use crate::quantity::Reading;

/// What an edit did. Cells of the sheet's own bookkeeping are not listed.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Edit {
    /// Cells that were evaluated, in the order of evaluation.
    pub recomputed: Vec<CellId>,
    /// Cells whose value, state, reason or origin is now another.
    pub changed: Vec<CellId>,
    /// Cells whose reading was replaced, even if by the same value.
    pub restated: Vec<CellId>,
}

impl Edit {
    pub(super) fn clear(&mut self) {
        self.recomputed.clear();
        self.changed.clear();
        self.restated.clear();
    }
}

/// What is said of the readings together: coverage and correlations.
#[derive(Clone, Debug, Default, PartialEq)]
pub(crate) struct SaidTogether {
    /// Coverage of intervals, as a share.
    pub(crate) coverage: Option<f64>,
    /// Two readings and the correlation of their errors.
    pub(crate) correlations: Vec<(CellId, CellId, f64)>,
    /// Stands in for readings that state no uncertainty.
    pub(crate) repeatability: Option<&'static crate::hemodynamics::Repeatability>,
}

/// How an operand of a formula is found: a cell, and what is asked of it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Asked {
    /// The cell; the formula's own cell where `None`.
    pub cell: Option<CellId>,
    /// What is asked.
    pub facet: Facet,
}

/// Cells and their graph. The only thing of the library that has a state.
///
/// ```
/// use semilunar::sheet::Sheet;
///
/// let mut sheet = Sheet::read("use hemodynamics\nlvot_diameter = 2 cm\nlvot_vti = 20 cm").unwrap().sheet;
/// let stroke_volume = sheet.cell("stroke_volume").unwrap();
/// assert!((sheet.value(stroke_volume).unwrap() - 62.831853).abs() < 1e-6);
///
/// let edit = sheet.set_text("lvot_vti", "18 cm").unwrap();
/// assert!(edit.changed.contains(&stroke_volume));
/// ```
#[derive(Clone)]
pub struct Sheet {
    pub(super) id: u32,
    pub(super) hot: Vec<Hot>,
    pub(super) plans: Vec<Plan>,
    pub(super) forms: Vec<Form>,
    pub(super) operands: Vec<u32>,
    pub(super) dependents: Vec<Users>,
    pub(super) readings: Vec<Option<Box<Reading>>>,
    pub(super) about: Vec<Option<Box<About>>>,
    pub(super) order: Order,
    pub(super) dirty: Dirty,
    pub(super) names: HashMap<String, u32>,
    pub(super) formulas: Vec<SharedFormula>,
    pub(super) formula_numbers: foldhash::HashMap<SharedFormula, u32>,
    /// The formula asked for last: cells that are alike are often made in a row.
    pub(super) last_formula: u32,
    pub(super) tapes: Vec<SharedTape>,
    /// For each formula the tapes made of it.
    pub(super) made: Vec<Vec<Made>>,
    /// Operands of the cell that is being made; kept for its memory.
    pub(super) positions: Vec<u32>,
    pub(super) reasons: Reasons,
    /// Hidden cells that hold what is asked of a reading beyond its value.
    pub(super) companions: HashMap<(u32, Facet), u32>,
    /// The cell that a hidden cell speaks of.
    pub(super) speaks_of: HashMap<u32, u32>,
    /// Inputs of an exam that fall back on a cell shared by all exams.
    pub(super) shared: HashMap<u32, u32>,
    pub(super) rules: HashMap<u32, Vec<Rule>>,
    pub(super) required: Vec<u32>,
    /// Named cells in the order in which people are shown them.
    pub(super) listing: Vec<u32>,
    /// What is said of the readings together.
    pub(super) said: SaidTogether,
    pub(super) edit: Edit,
    pub(super) straight: Box<Single<false>>,
    pub(super) tracked: Box<Single<true>>,
}

static NEXT_SHEET: AtomicU32 = AtomicU32::new(1);

impl Default for Sheet {
    fn default() -> Self {
        Sheet {
            id: NEXT_SHEET.fetch_add(1, Ordering::Relaxed),
            hot: Vec::new(),
            plans: Vec::new(),
            forms: Vec::new(),
            operands: Vec::new(),
            dependents: Vec::new(),
            readings: Vec::new(),
            about: Vec::new(),
            order: Order::default(),
            dirty: Dirty::default(),
            names: HashMap::new(),
            formulas: Vec::new(),
            formula_numbers: foldhash::HashMap::default(),
            last_formula: NONE,
            tapes: Vec::new(),
            made: Vec::new(),
            positions: Vec::new(),
            reasons: Reasons::default(),
            companions: HashMap::new(),
            speaks_of: HashMap::new(),
            shared: HashMap::new(),
            rules: HashMap::new(),
            required: Vec::new(),
            listing: Vec::new(),
            said: SaidTogether::default(),
            edit: Edit::default(),
            straight: Box::new(Single::new()),
            tracked: Box::new(Single::new()),
        }
    }
}

impl Sheet {
    /// A sheet without cells.
    pub fn new() -> Sheet {
        Sheet::default()
    }

    /// What is said of the readings together.
    pub(crate) fn said_together(&self) -> &SaidTogether {
        &self.said
    }

    /// The handle of a cell's position.
    pub(super) fn id_of(&self, index: u32) -> CellId {
        CellId {
            sheet: self.id,
            index,
        }
    }

    /// The position of a handle's cell.
    pub(super) fn index_of(&self, cell: CellId) -> Result<usize, EditError> {
        let index = cell.index as usize;
        let alive = cell.sheet == self.id
            && self
                .hot
                .get(index)
                .is_some_and(|hot| hot.flags & REMOVED == 0);
        if alive {
            Ok(index)
        } else {
            Err(EditError::ForeignHandle)
        }
    }

    pub(super) fn lane(&self, index: usize) -> Lane {
        self.hot[index].lane()
    }

    pub(super) fn operands_of(&self, index: usize) -> &[u32] {
        let plan = self.plans[index];
        let start = plan.operands as usize;
        &self.operands[start..start + plan.count as usize]
    }

    pub(super) fn tape(&self, index: usize) -> Option<&Arc<Tape>> {
        match self.plans[index].tape {
            NONE => None,
            tape => Some(&self.tapes[tape as usize].tape),
        }
    }

    pub(super) fn numbered_tape(&self, number: u32) -> &Arc<Tape> {
        &self.tapes[number as usize].tape
    }

    pub(super) fn formula_at(&self, index: usize) -> Option<&SharedFormula> {
        match self.forms[index].formula {
            NONE => None,
            formula => Some(&self.formulas[formula as usize]),
        }
    }
}
