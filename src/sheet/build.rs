//! Making cells: inputs, formulas, and the steps that cells of one shape share.

use std::sync::Arc;

use super::cell::{
    About, Form, GUARDED, HAS_FORMULA, Hot, Made, MadeTape, NONE, Plan, REMOVED, SharedFormula,
    SharedTape,
};
use super::error::EditError;
use super::sheet::{Asked, Sheet};
use super::users::Users;
#[cfg(feature = "cohort")]
use crate::formula::Tape;
use crate::formula::{
    CellId, Facet, Formula, Misfit, OperandFacts, Resolved, Status, Target, resolve,
};
use crate::quantity::{Kind, Unit};

impl Sheet {
    /// Adds an input without a name.
    pub fn add_input(&mut self, unit: Unit, kind: Kind) -> CellId {
        let index = self.push_cell(unit, kind);
        self.compute_now(index as usize);
        self.id_of(index)
    }

    /// Adds an input with a name.
    ///
    /// # Errors
    /// [`EditError::NameTaken`], [`EditError::BadName`].
    pub fn add_named_input(
        &mut self,
        about: About,
        unit: Unit,
        kind: Kind,
    ) -> Result<CellId, EditError> {
        self.check_new_name(&about.name)?;
        let cell = self.add_input(unit, kind);
        self.about[cell.index()] = Some(Box::new(about));
        self.enter_name(cell.index);
        Ok(cell)
    }

    /// Adds a derived cell without a name and computes it. `unit` is the unit it is shown in;
    /// where it is left open, the unit of a like operand or a coherent one.
    ///
    /// # Errors
    /// [`EditError::Misfits`] where the formula makes no sense in units,
    /// [`EditError::ForeignHandle`] for an operand of another sheet,
    /// [`EditError::OperandCount`].
    pub fn add_formula(
        &mut self,
        formula: Formula,
        operands: &[CellId],
        unit: Option<Unit>,
    ) -> Result<CellId, EditError> {
        let target = Target {
            unit,
            ..Target::default()
        };
        check_count(&formula, operands.len())?;
        let mut positions = std::mem::take(&mut self.positions);
        positions.clear();
        for (cell, facet) in operands.iter().zip(formula.operands()) {
            let index = self.index_of(*cell)? as u32;
            positions.push(self.facet_cell(index, *facet));
        }
        self.refuse_finding(None, &formula, &positions)?;
        let number = self.formula_number(formula);
        let tape = self.tape_of(number, &positions, target)?;
        let index = self.push_cell(tape.unit, tape.kind);
        self.attach(index, number, tape.number, &positions);
        self.positions = positions;
        self.compute_now(index as usize);
        Ok(self.id_of(index))
    }

    /// Adds a cell without a name that holds a quantity within another cell's formula, as steps over
    /// the operands of that formula, and over one operand more where those ask for it, which has no
    /// reading.
    #[cfg(feature = "cohort")]
    pub(crate) fn add_part(&mut self, of: CellId, part: Tape) -> CellId {
        let mut operands = self.operands_of(of.index()).to_vec();
        while operands.len() < part.operands() {
            operands.push(self.add_input(Unit::ONE, Kind::Plain).index);
        }
        let number = self.tapes.len() as u32;
        self.tapes.push(SharedTape::new(part));
        let index = self.push_cell(Unit::ONE, Kind::Plain);
        self.attach(index, NONE, number, &operands);
        self.compute_now(index as usize);
        self.id_of(index)
    }

    /// Adds a derived cell with a name. An operand may ask about the new cell's own reading.
    ///
    /// # Errors
    /// As [`Sheet::add_formula`], and [`EditError::NameTaken`], [`EditError::BadName`],
    /// [`EditError::Cycle`] where the formula names its own cell.
    pub fn add_named_formula(
        &mut self,
        about: About,
        formula: Formula,
        operands: &[Asked],
        target: Target,
    ) -> Result<CellId, EditError> {
        self.check_new_name(&about.name)?;
        check_count(&formula, operands.len())?;
        let number = self.formula_number(formula);
        // The cell comes first, so that a formula can ask about its own reading; it goes again
        // if the formula does not fit.
        let index = self.push_cell(target.unit.unwrap_or(Unit::ONE), target.kind);
        self.about[index as usize] = Some(Box::new(about));
        match self.fit(index, number, operands, target) {
            Ok((tape, positions)) => {
                let form = &mut self.forms[index as usize];
                (form.unit, form.kind) = (tape.unit, tape.kind);
                self.enter_name(index);
                self.put_last(index);
                self.attach(index, number, tape.number, &positions);
                self.compute_now(index as usize);
                Ok(self.id_of(index))
            }
            Err(error) => {
                self.about[index as usize] = None;
                self.hot[index as usize].flags |= REMOVED;
                Err(error)
            }
        }
    }

    pub(super) fn fit(
        &mut self,
        index: u32,
        number: u32,
        operands: &[Asked],
        target: Target,
    ) -> Result<(MadeTape, Vec<u32>), EditError> {
        let mut positions = Vec::with_capacity(operands.len());
        for asked in operands {
            let cell = match asked.cell {
                Some(cell) => self.index_of(cell)? as u32,
                None => index,
            };
            if cell == index && asked.facet == Facet::Value {
                let name = self.display_name(index).to_owned();
                return Err(EditError::Cycle {
                    path: vec![name.clone(), name],
                });
            }
            positions.push(self.facet_cell(cell, asked.facet));
        }
        let formula = self.formulas[number as usize].clone();
        self.refuse_finding(Some(index), &formula, &positions)?;
        let tape = self.tape_of(number, &positions, target)?;
        Ok((tape, positions))
    }

    /// A finding can be passed on to a finding with the same words only: as a quantity it would
    /// be the number of its word.
    fn refuse_finding(
        &self,
        own: Option<u32>,
        formula: &Formula,
        operands: &[u32],
    ) -> Result<(), EditError> {
        let Some(passed) = formula.passes_on().map(|k| operands[k as usize]) else {
            return Ok(());
        };
        let words = self.facts(passed).words;
        let own = own.map_or_else(no_words, |own| self.facts(own).words);
        if words.is_empty() || words == own {
            return Ok(());
        }
        let name = self.display_name(passed);
        Err(EditError::Misfits {
            misfits: vec![Misfit {
                op: formula.root(),
                message: format!("`{name}` is a finding, not a quantity"),
                hint: Some(format!("ask `{name} is {}`", words[0])),
            }],
        })
    }

    pub(super) fn push_cell(&mut self, unit: Unit, kind: Kind) -> u32 {
        let index = self.hot.len() as u32;
        self.hot.push(Hot {
            value: 1.0,
            reason: 0,
            status: Status::MISSING,
            flags: 0,
        });
        self.plans.push(Plan {
            tape: NONE,
            operands: 0,
            count: 0,
        });
        self.forms.push(Form {
            unit,
            formula: NONE,
            kind,
        });
        self.dependents.push(Users::default());
        self.readings.push(None);
        self.about.push(None);
        self.order.push(index);
        if index.is_multiple_of(64) {
            self.dirty.reserve(self.hot.len() + 63);
        }
        index
    }

    pub(super) fn check_new_name(&self, name: &str) -> Result<(), EditError> {
        if !crate::formula::notation::is_name(name) {
            return Err(EditError::BadName { name: name.into() });
        }
        if self.names.contains_key(name) {
            return Err(EditError::NameTaken { name: name.into() });
        }
        Ok(())
    }

    fn enter_name(&mut self, index: u32) {
        if let Some(about) = &self.about[index as usize] {
            self.names.insert(about.name.clone(), index);
            self.listing.push(index);
        }
    }

    /// Moves a cell that nothing uses yet behind all others in the order of evaluation: hidden
    /// cells that it asks may have been made after it.
    fn put_last(&mut self, index: u32) {
        self.order.move_last(index, self.hot.len());
    }

    pub(super) fn formula_number(&mut self, formula: Formula) -> u32 {
        if let Some(last) = self.formulas.get(self.last_formula as usize)
            && **last == formula
        {
            return self.last_formula;
        }
        self.last_formula = match self.formula_numbers.get(&formula) {
            Some(number) => *number,
            None => self.add_shared_formula(Arc::new(formula)),
        };
        self.last_formula
    }

    fn add_shared_formula(&mut self, formula: SharedFormula) -> u32 {
        let number = self.formulas.len() as u32;
        self.formulas.push(formula.clone());
        self.made.push(Vec::new());
        self.formula_numbers.insert(formula, number);
        number
    }

    /// The formula of a number that [`Sheet::intern`] gave.
    pub(super) fn intern(&mut self, formula: Formula) -> u32 {
        self.formula_number(formula)
    }

    fn facts(&self, index: u32) -> OperandFacts {
        let form = self.forms[index as usize];
        let words = match &self.about[index as usize] {
            Some(about) if !about.words.is_empty() => about.words.clone(),
            _ => no_words(),
        };
        OperandFacts {
            unit: form.unit,
            kind: form.kind,
            words,
        }
    }

    /// Whether a cell is as described.
    fn has_facts(&self, index: u32, facts: &OperandFacts) -> bool {
        let form = &self.forms[index as usize];
        let words = self.about[index as usize]
            .as_ref()
            .map_or(&[][..], |about| &about.words);
        form.unit == facts.unit && form.kind == facts.kind && *words == *facts.words
    }

    /// The steps of a formula over these operands, made once for all cells that share both.
    pub(super) fn tape_of(
        &mut self,
        formula: u32,
        operands: &[u32],
        target: Target,
    ) -> Result<MadeTape, EditError> {
        // One formula meets few combinations of units, so a list is searched faster than a table.
        let fits = |made: &&Made| {
            let mut both = made.operands.iter().zip(operands);
            made.target == target
                && made.operands.len() == operands.len()
                && both.all(|(facts, operand)| self.has_facts(*operand, facts))
        };
        match self.made[formula as usize].iter().rev().find(fits) {
            Some(made) => Ok(made.tape),
            None => self.make_tape(formula, operands, target),
        }
    }

    fn make_tape(
        &mut self,
        formula: u32,
        operands: &[u32],
        target: Target,
    ) -> Result<MadeTape, EditError> {
        let facts: Vec<OperandFacts> = operands.iter().map(|o| self.facts(*o)).collect();
        let names: Vec<&str> = operands.iter().map(|o| self.display_name(*o)).collect();
        let shared = &self.formulas[formula as usize];
        let Resolved { tape, unit, kind } = resolve(shared, &facts, &names, target)
            .map_err(|misfits| EditError::Misfits { misfits })?;
        let number = self.tapes.len() as u32;
        let made = MadeTape { number, unit, kind };
        self.tapes.push(SharedTape::new(tape));
        self.made[formula as usize].push(Made {
            operands: facts,
            target,
            tape: made,
        });
        Ok(made)
    }

    /// Puts a formula under a cell.
    pub(super) fn attach(&mut self, index: u32, formula: u32, tape: u32, operands: &[u32]) {
        let start = self.operands.len() as u32;
        self.operands.extend_from_slice(operands);
        self.plans[index as usize] = Plan {
            tape,
            operands: start,
            count: operands.len() as u32,
        };
        self.forms[index as usize].formula = formula;
        let guarded = self.tapes[tape as usize].tape.uses_reading();
        let flags = &mut self.hot[index as usize].flags;
        *flags = (*flags | HAS_FORMULA) & !GUARDED | if guarded { GUARDED } else { 0 };
        for operand in operands {
            let users = &mut self.dependents[*operand as usize];
            if users.last() != Some(&index) {
                users.push(index);
            }
        }
    }

    pub(super) fn detach(&mut self, index: u32) {
        let plan = self.plans[index as usize];
        let start = plan.operands as usize;
        for at in start..start + plan.count as usize {
            let operand = self.operands[at];
            self.dependents[operand as usize].remove(index);
        }
        self.plans[index as usize] = Plan {
            tape: NONE,
            operands: 0,
            count: 0,
        };
        self.forms[index as usize].formula = NONE;
        self.hot[index as usize].flags &= !(HAS_FORMULA | GUARDED);
    }
}

/// Whether a formula is given as many operands as it asks for.
pub(super) fn check_count(formula: &Formula, given: usize) -> Result<(), EditError> {
    match formula.operands().len() {
        wanted if wanted == given => Ok(()),
        wanted => Err(EditError::OperandCount { wanted, given }),
    }
}

fn no_words() -> Arc<[Arc<str>]> {
    static NONE: std::sync::OnceLock<Arc<[Arc<str>]>> = std::sync::OnceLock::new();
    NONE.get_or_init(|| Arc::from([])).clone()
}
