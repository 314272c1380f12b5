//! The sheet: cells, their graph, and recomputation.

use std::collections::HashMap;
use std::sync::Arc;
use std::sync::atomic::{AtomicU32, Ordering};

use super::advice::Rule;
use super::cell::{
    About, Form, GUARDED, HAS_FACETS, HAS_FORMULA, HAS_READING, Hot, NONE, Plan, REMOVED,
    SharedFormula,
};
use super::dirty::Dirty;
use super::error::EditError;
use super::reasons::{Cause, Reasons};
use crate::formula::{
    Because, CellId, Facet, Formula, Given, Lane, OperandFacts, Resolved, Single, Status, Tape,
    Target, Trouble, Verdict, judge_parts, kind_refuses, resolve,
};
use crate::quantity::{Content, Kind, Reading, Unit};

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
    fn clear(&mut self) {
        self.recomputed.clear();
        self.changed.clear();
        self.restated.clear();
    }
}

/// How an operand of a formula is found: a cell, and what is asked of it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Asked {
    /// The cell; the formula's own cell where `None`.
    pub cell: Option<CellId>,
    /// What is asked.
    pub facet: Facet,
}

/// Key of a resolved formula: the same formula over operands of the same units and kinds.
type Signature = (u32, Vec<OperandFacts>, Target);

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
    pub(super) dependents: Vec<Vec<u32>>,
    pub(super) readings: Vec<Option<Box<Reading>>>,
    pub(super) about: Vec<Option<Box<About>>>,
    /// Order of evaluation, and the place of each cell in it.
    pub(super) order: Vec<u32>,
    pub(super) rank: Vec<u32>,
    dirty: Dirty,
    pub(super) names: HashMap<String, u32>,
    formulas: Vec<SharedFormula>,
    formula_numbers: HashMap<SharedFormula, u32>,
    tapes: Vec<Arc<Tape>>,
    tape_numbers: HashMap<Signature, (u32, Unit, Kind)>,
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
    edit: Edit,
    straight: Box<Single<false>>,
    tracked: Box<Single<true>>,
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
            order: Vec::new(),
            rank: Vec::new(),
            dirty: Dirty::default(),
            names: HashMap::new(),
            formulas: Vec::new(),
            formula_numbers: HashMap::new(),
            tapes: Vec::new(),
            tape_numbers: HashMap::new(),
            reasons: Reasons::default(),
            companions: HashMap::new(),
            speaks_of: HashMap::new(),
            shared: HashMap::new(),
            rules: HashMap::new(),
            required: Vec::new(),
            listing: Vec::new(),
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

    // ---- making cells ------------------------------------------------------------------

    /// Adds an input without a name.
    pub fn add_input(&mut self, unit: Unit, kind: Kind) -> CellId {
        let index = self.push_cell(unit, kind);
        self.fill_input(index as usize);
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
        self.give_name(cell.index, about);
        Ok(cell)
    }

    /// Adds a derived cell without a name and computes it. `unit` is the unit it is shown in;
    /// where it is left open, the unit of a like operand or a coherent one.
    ///
    /// # Errors
    /// [`EditError::Misfits`] where the formula makes no sense in units,
    /// [`EditError::ForeignHandle`] for an operand of another sheet.
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
        let mut positions = Vec::with_capacity(operands.len());
        for (cell, facet) in operands.iter().zip(formula.operands()) {
            let index = self.index_of(*cell)? as u32;
            positions.push(self.facet_cell(index, *facet));
        }
        let number = self.formula_number(formula);
        let (tape, unit, kind) = self.tape_of(number, &positions, target)?;
        let index = self.push_cell(unit, kind);
        self.attach(index, number, tape, &positions);
        self.compute_now(index as usize);
        Ok(self.id_of(index))
    }

    /// Adds a derived cell with a name. An operand may ask about the new cell's own reading.
    ///
    /// # Errors
    /// As [`Sheet::add_formula`], and [`EditError::NameTaken`], [`EditError::BadName`].
    pub fn add_named_formula(
        &mut self,
        about: About,
        formula: Formula,
        operands: &[Asked],
        target: Target,
    ) -> Result<CellId, EditError> {
        self.check_new_name(&about.name)?;
        let number = self.formula_number(formula);
        // The cell comes first, so that a formula can ask about its own reading; it goes again
        // if the formula does not fit.
        let index = self.push_cell(target.unit.unwrap_or(Unit::ONE), target.kind);
        match self.fit(index, number, operands, target) {
            Ok((tape, unit, kind, positions)) => {
                let form = &mut self.forms[index as usize];
                (form.unit, form.kind) = (unit, kind);
                self.give_name(index, about);
                self.attach(index, number, tape, &positions);
                self.compute_now(index as usize);
                Ok(self.id_of(index))
            }
            Err(error) => {
                self.hot[index as usize].flags |= REMOVED;
                Err(error)
            }
        }
    }

    #[allow(clippy::type_complexity)]
    fn fit(
        &mut self,
        index: u32,
        number: u32,
        operands: &[Asked],
        target: Target,
    ) -> Result<(u32, Unit, Kind, Vec<u32>), EditError> {
        let mut positions = Vec::with_capacity(operands.len());
        for asked in operands {
            let cell = match asked.cell {
                Some(cell) => self.index_of(cell)? as u32,
                None => index,
            };
            positions.push(self.facet_cell(cell, asked.facet));
        }
        let (tape, unit, kind) = self.tape_of(number, &positions, target)?;
        Ok((tape, unit, kind, positions))
    }

    fn push_cell(&mut self, unit: Unit, kind: Kind) -> u32 {
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
        self.dependents.push(Vec::new());
        self.readings.push(None);
        self.about.push(None);
        self.order.push(index);
        self.rank.push(index);
        if index.is_multiple_of(64) {
            self.dirty.reserve(self.hot.len() + 63);
        }
        index
    }

    fn check_new_name(&self, name: &str) -> Result<(), EditError> {
        if !crate::formula::notation::is_name(name) {
            return Err(EditError::BadName { name: name.into() });
        }
        if self.names.contains_key(name) {
            return Err(EditError::NameTaken { name: name.into() });
        }
        Ok(())
    }

    fn give_name(&mut self, index: u32, about: About) {
        self.names.insert(about.name.clone(), index);
        self.about[index as usize] = Some(Box::new(about));
        self.listing.push(index);
    }

    fn formula_number(&mut self, formula: Formula) -> u32 {
        if let Some(number) = self.formula_numbers.get(&formula) {
            return *number;
        }
        let formula = Arc::new(formula);
        let number = self.formulas.len() as u32;
        self.formulas.push(formula.clone());
        self.formula_numbers.insert(formula, number);
        number
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

    /// The steps of a formula over these operands, made once for all cells that share both.
    pub(super) fn tape_of(
        &mut self,
        formula: u32,
        operands: &[u32],
        target: Target,
    ) -> Result<(u32, Unit, Kind), EditError> {
        let facts: Vec<OperandFacts> = operands.iter().map(|o| self.facts(*o)).collect();
        let signature = (formula, facts, target);
        if let Some(known) = self.tape_numbers.get(&signature) {
            return Ok(*known);
        }
        let names: Vec<&str> = operands.iter().map(|o| self.display_name(*o)).collect();
        let shared = self.formulas[formula as usize].clone();
        let Resolved { tape, unit, kind } = resolve(&shared, &signature.1, &names, target)
            .map_err(|misfits| EditError::Misfits { misfits })?;
        let number = self.tapes.len() as u32;
        self.tapes.push(Arc::new(tape));
        self.tape_numbers.insert(signature, (number, unit, kind));
        Ok((number, unit, kind))
    }

    /// Puts a formula under a cell.
    fn attach(&mut self, index: u32, formula: u32, tape: u32, operands: &[u32]) {
        let start = self.operands.len() as u32;
        self.operands.extend_from_slice(operands);
        self.plans[index as usize] = Plan {
            tape,
            operands: start,
            count: operands.len() as u32,
        };
        self.forms[index as usize].formula = formula;
        let guarded = self.tapes[tape as usize].uses_reading();
        let flags = &mut self.hot[index as usize].flags;
        *flags = (*flags | HAS_FORMULA) & !GUARDED | if guarded { GUARDED } else { 0 };
        for operand in operands {
            let users = &mut self.dependents[*operand as usize];
            if users.last() != Some(&index) {
                users.push(index);
            }
        }
    }

    fn detach(&mut self, index: u32) {
        let plan = self.plans[index as usize];
        let start = plan.operands as usize;
        for at in start..start + plan.count as usize {
            let operand = self.operands[at];
            self.dependents[operand as usize].retain(|user| *user != index);
        }
        self.plans[index as usize] = Plan {
            tape: NONE,
            operands: 0,
            count: 0,
        };
        self.forms[index as usize].formula = NONE;
        self.hot[index as usize].flags &= !(HAS_FORMULA | GUARDED);
    }

    /// The hidden cell that answers what is asked of a reading, or the cell itself.
    pub(super) fn facet_cell(&mut self, index: u32, facet: Facet) -> u32 {
        if facet == Facet::Value {
            return index;
        }
        if let Some(companion) = self.companions.get(&(index, facet)) {
            return *companion;
        }
        let shared = match facet {
            // Whether this very reading is given is no question to another cell.
            Facet::Given => None,
            _ => self.shared.get(&index).copied(),
        };
        let upstream = shared.map(|shared| self.facet_cell(shared, facet));
        let companion = self.push_cell(Unit::ONE, Kind::Plain);
        self.companions.insert((index, facet), companion);
        self.speaks_of.insert(companion, index);
        self.hot[index as usize].flags |= HAS_FACETS;
        if let Some(upstream) = upstream {
            let mut passes_on = Formula::default();
            let operand = passes_on.add_operand(Facet::Value);
            passes_on.push(crate::formula::Op::Cell(operand));
            let number = self.formula_number(passes_on);
            if let Ok((tape, ..)) = self.tape_of(number, &[upstream], Target::default()) {
                self.attach(companion, number, tape, &[upstream]);
            }
        }
        self.readings[companion as usize] = self.facet_reading(index, facet);
        self.refresh_reading(companion as usize);
        self.compute_now(companion as usize);
        companion
    }

    fn facet_reading(&self, index: u32, facet: Facet) -> Option<Box<Reading>> {
        let reading = self.readings[index as usize].as_deref();
        let number = self.facet_from(index, reading, facet);
        number
            .and_then(|n| Reading::of(n, Unit::ONE).ok())
            .map(Box::new)
    }

    /// What a reading, or its absence, answers to a question; `None` where it says nothing.
    pub(super) fn facet_from(
        &self,
        index: u32,
        reading: Option<&Reading>,
        facet: Facet,
    ) -> Option<f64> {
        let flag = |yes: bool| Some(f64::from(u8::from(yes)));
        let content = reading.map(Reading::content);
        let given = matches!(content, Some(Content::Magnitude { .. } | Content::Word(_)));
        let silent = !given && content != Some(&Content::Unobtainable);
        match facet {
            Facet::Value => None,
            Facet::Given => flag(given),
            // Silence passes the question on to the shared cell, where there is one.
            _ if silent && self.shared.contains_key(&index) => None,
            Facet::Beats => reading
                .filter(|_| given)
                .map(|r| f64::from(r.beats().count())),
            Facet::Largest => flag(reading.is_some_and(|r| r.beats().is_largest())),
            Facet::Unobtainable => flag(content == Some(&Content::Unobtainable)),
        }
    }

    // ---- evaluation --------------------------------------------------------------------

    /// The state that a reading alone gives a cell; `None` where the formula decides.
    pub(super) fn reading_lane(&self, index: usize) -> Option<Lane> {
        self.lane_from(index, self.readings[index].as_deref()?)
    }

    /// The state that a reading would give a cell; `None` where it says nothing.
    pub(super) fn lane_from(&self, index: usize, reading: &Reading) -> Option<Lane> {
        let value = match reading.content() {
            Content::Magnitude { value, unit } => unit.convert(*value, self.forms[index].unit)?,
            Content::Word(word) => {
                let words = &self.about[index].as_ref()?.words;
                words.iter().position(|w| **w == **word)? as f64
            }
            Content::Unknown | Content::Unobtainable => return None,
        };
        Some(Lane {
            value,
            status: Status::known(reading.origin()),
        })
    }

    fn refresh_reading(&mut self, index: usize) {
        let has = self.reading_lane(index).is_some();
        let flags = &mut self.hot[index].flags;
        *flags = *flags & !HAS_READING | if has { HAS_READING } else { 0 };
    }

    /// Sets a cell without a formula to its reading.
    fn fill_input(&mut self, index: usize) {
        let next = self.evaluate(index);
        self.hot[index] = next;
    }

    fn compute_now(&mut self, index: usize) {
        let next = self.evaluate(index);
        self.hot[index] = next;
    }

    #[inline]
    fn evaluate(&mut self, index: usize) -> Hot {
        let hot = self.hot[index];
        let lane =
            if hot.flags & HAS_FORMULA != 0 && hot.flags & (HAS_READING | GUARDED) != HAS_READING {
                self.run(index)
            } else {
                self.reading_lane(index).unwrap_or(Lane::MISSING)
            };
        let reason = if lane.status.is_known() {
            0
        } else {
            self.find_reason(index, lane.status)
        };
        Hot {
            value: lane.value,
            reason,
            status: lane.status,
            flags: hot.flags,
        }
    }

    #[inline]
    fn run(&mut self, index: usize) -> Lane {
        let plan = self.plans[index];
        let tape = &self.tapes[plan.tape as usize];
        if !Single::<true>::fits(tape.registers()) {
            return self.run_large(index);
        }
        let start = plan.operands as usize;
        let operands = &self.operands[start..start + plan.count as usize];
        if tape.is_straight() && hot_is_plain(self.hot[index].flags) {
            let registers = &mut *self.straight;
            let mut joined = 0;
            for (register, operand) in registers.values.iter_mut().zip(operands) {
                let hot = &self.hot[*operand as usize];
                *register = hot.value;
                joined |= hot.status.0;
            }
            return registers.finish(tape, joined);
        }
        let own = match tape.uses_reading() {
            true => Some(self.reading_lane(index).unwrap_or(Lane::MISSING)),
            false => None,
        };
        let registers = &mut *self.tracked;
        for (i, operand) in operands.iter().enumerate() {
            let hot = &self.hot[*operand as usize];
            registers.values[i] = hot.value;
            registers.states[i] = hot.status.0;
        }
        if let Some(own) = own {
            registers.values[operands.len()] = own.value;
            registers.states[operands.len()] = own.status.0;
        }
        registers.finish(tape, 0)
    }

    fn run_large(&self, index: usize) -> Lane {
        let tape = &self.tapes[self.plans[index].tape as usize];
        crate::formula::evaluate_one(tape, &self.input_lanes(index))
    }

    /// The inputs of a cell's formula, in the order of its registers.
    pub(super) fn input_lanes(&self, index: usize) -> Vec<Lane> {
        let plan = self.plans[index];
        if plan.tape == NONE {
            return Vec::new();
        }
        let mut lanes: Vec<Lane> = self
            .operands_of(index)
            .iter()
            .map(|o| self.lane(*o as usize))
            .collect();
        if self.tapes[plan.tape as usize].uses_reading() {
            lanes.push(self.reading_lane(index).unwrap_or(Lane::MISSING));
        }
        lanes
    }

    pub(super) fn lane(&self, index: usize) -> Lane {
        let hot = &self.hot[index];
        Lane {
            value: hot.value,
            status: hot.status,
        }
    }

    pub(super) fn operands_of(&self, index: usize) -> &[u32] {
        let plan = self.plans[index];
        let start = plan.operands as usize;
        &self.operands[start..start + plan.count as usize]
    }

    pub(super) fn tape(&self, index: usize) -> Option<&Arc<Tape>> {
        match self.plans[index].tape {
            NONE => None,
            tape => Some(&self.tapes[tape as usize]),
        }
    }

    pub(super) fn numbered_tape(&self, number: u32) -> &Arc<Tape> {
        &self.tapes[number as usize]
    }

    pub(super) fn formula_at(&self, index: usize) -> Option<&SharedFormula> {
        match self.forms[index].formula {
            NONE => None,
            formula => Some(&self.formulas[formula as usize]),
        }
    }

    /// The formula of a number that [`Sheet::intern`] gave.
    pub(super) fn intern(&mut self, formula: Formula) -> u32 {
        self.formula_number(formula)
    }

    /// Why a cell is not known, from the judge; off the fast path.
    #[cold]
    fn find_reason(&mut self, index: usize, status: Status) -> u32 {
        let own = self.speaks_of.get(&(index as u32)).copied();
        let speaker = own.unwrap_or(index as u32);
        let causes = match self.formula_at(index).cloned() {
            None => vec![self.no_reading(speaker)],
            Some(formula) => {
                let verdict = self.judged(index, &formula);
                self.causes(index, speaker, &formula, verdict, status)
            }
        };
        self.reasons.number(causes)
    }

    fn no_reading(&self, index: u32) -> Cause {
        match self.readings[index as usize]
            .as_deref()
            .map(Reading::content)
        {
            Some(Content::Unobtainable) => Cause::Unobtainable(index),
            _ => Cause::NoReading(index),
        }
    }

    /// The judge's verdict on a cell's formula, in coherent units.
    pub(super) fn judged(&self, index: usize, formula: &Formula) -> Verdict {
        let mut verdicts = self.verdicts(index, formula);
        verdicts.pop().unwrap_or(Verdict::Missing(Vec::new()))
    }

    /// The judge's verdict on each operation of a cell's formula.
    pub(super) fn verdicts(&self, index: usize, formula: &Formula) -> Vec<Verdict> {
        let given = |lane: Lane, unit: Unit| {
            if lane.status.is_faulty() {
                Given::Faulty
            } else if lane.status.is_missing() {
                Given::Missing
            } else {
                Given::Known {
                    value: lane.value * unit.factor(),
                    origin: lane.status.origin(),
                }
            }
        };
        let operands = self.operands_of(index);
        let inputs: Vec<Given> = operands
            .iter()
            .map(|o| given(self.lane(*o as usize), self.forms[*o as usize].unit))
            .collect();
        let own = given(
            self.reading_lane(index).unwrap_or(Lane::MISSING),
            self.forms[index].unit,
        );
        let word_of = |k: u32, word: &str| {
            let about = self.about[operands[k as usize] as usize].as_ref()?;
            about
                .words
                .iter()
                .position(|w| **w == *word)
                .map(|n| n as u16)
        };
        judge_parts(formula, &inputs, &own, &word_of)
    }

    fn causes(
        &self,
        index: usize,
        speaker: u32,
        formula: &Formula,
        verdict: Verdict,
        status: Status,
    ) -> Vec<Cause> {
        let because = match verdict {
            Verdict::Missing(because) if status.is_missing() => because,
            Verdict::Faulty(because) => vec![because],
            // The judge computes in other units; only a number at the edge of what can be held
            // makes the two disagree.
            _ => return vec![Cause::Fault(speaker, formula.root(), Trouble::TooLarge)],
        };
        let operands = self.operands_of(index);
        let mut causes = Vec::new();
        for because in because {
            match because {
                Because::Operand(k) => {
                    let reason = self.hot[operands[k as usize] as usize].reason;
                    causes.extend_from_slice(self.reasons.causes(reason));
                }
                Because::OwnReading => causes.push(self.no_reading(speaker)),
                Because::Withheld(text) => {
                    causes.push(Cause::Withheld(speaker, formula.text(text).clone()));
                }
                Because::Fault(op, trouble) => causes.push(Cause::Fault(speaker, op, trouble)),
            }
        }
        causes
    }

    // ---- edits -------------------------------------------------------------------------

    /// Sets readings, all or none, and recomputes what depends on them: each affected cell
    /// once, in order, stopping where nothing changed.
    ///
    /// # Errors
    /// The first reading that does not fit its cell; the sheet is then as it was.
    pub fn set_all<'r>(
        &mut self,
        readings: impl IntoIterator<Item = (CellId, Reading)> + 'r,
    ) -> Result<&Edit, EditError> {
        let readings: Vec<(CellId, Reading)> = readings.into_iter().collect();
        for (cell, reading) in &readings {
            let index = self.index_of(*cell)?;
            self.check_reading(index, reading)?;
        }
        self.edit.clear();
        for (cell, reading) in readings {
            self.put_reading(cell.index(), reading);
        }
        self.settle();
        Ok(&self.edit)
    }

    /// Sets one reading and recomputes what depends on it.
    ///
    /// # Errors
    /// As [`Sheet::set_all`].
    pub fn set(&mut self, cell: CellId, reading: Reading) -> Result<&Edit, EditError> {
        let index = self.index_of(cell)?;
        self.check_reading(index, &reading)?;
        self.edit.clear();
        self.put_reading(index, reading);
        self.settle();
        Ok(&self.edit)
    }

    /// What the last edit did.
    pub fn last_edit(&self) -> &Edit {
        &self.edit
    }

    /// Whether a reading fits a cell.
    pub(super) fn check_reading(&self, index: usize, reading: &Reading) -> Result<(), EditError> {
        let form = self.forms[index];
        let about = self.about[index].as_deref();
        let words = about.map_or(&[][..], |a| &a.words);
        let cell = || self.display_name(index as u32).to_owned();
        match reading.content() {
            Content::Unknown | Content::Unobtainable => Ok(()),
            Content::Word(word) if words.is_empty() => Err(EditError::WordForQuantity {
                cell: cell(),
                unit: form.unit,
                word: word.clone(),
            }),
            Content::Word(word) => match words.iter().any(|w| **w == **word) {
                true => Ok(()),
                false => Err(EditError::NotAWord {
                    cell: cell(),
                    word: word.clone(),
                    words: words.join(", "),
                }),
            },
            Content::Magnitude { .. } if !words.is_empty() => Err(EditError::NumberForFinding {
                cell: cell(),
                words: words.join(", "),
            }),
            Content::Magnitude { value, unit } => {
                let value =
                    unit.convert(*value, form.unit)
                        .ok_or_else(|| EditError::UnitMismatch {
                            cell: cell(),
                            unit: form.unit,
                            given: *unit,
                        })?;
                if *unit != form.unit
                    && let Some(message) = kind_refuses(form.kind, *unit)
                {
                    return Err(EditError::KindMismatch {
                        cell: cell(),
                        message,
                    });
                }
                self.check_domain(index, value)
            }
        }
    }

    fn check_domain(&self, index: usize, value: f64) -> Result<(), EditError> {
        let Some(about) = self.about[index].as_deref() else {
            return Ok(());
        };
        let Some(domain) = about.domain else {
            return Ok(());
        };
        let stated = self.forms[index].unit.convert(value, about.stated_in);
        match stated {
            Some(value) if !(domain.low <= value && value <= domain.high) => {
                Err(EditError::OutsideDomain {
                    cell: about.name.clone(),
                    value,
                    low: domain.low,
                    high: domain.high,
                    unit: about.stated_in,
                })
            }
            _ => Ok(()),
        }
    }

    /// Stores a reading that fits and marks what it touches.
    fn put_reading(&mut self, index: usize, reading: Reading) {
        self.edit.restated.push(self.id_of(index as u32));
        match &mut self.readings[index] {
            Some(slot) => **slot = reading,
            slot => *slot = Some(Box::new(reading)),
        }
        self.refresh_reading(index);
        let flags = self.hot[index].flags;
        if flags & HAS_FACETS != 0 {
            self.put_facets(index as u32);
        }
        if flags & HAS_FORMULA != 0 {
            self.mark(index as u32);
        } else {
            let next = self.evaluate(index);
            self.settle_cell(index, next);
        }
    }

    fn put_facets(&mut self, index: u32) {
        for facet in [
            Facet::Beats,
            Facet::Largest,
            Facet::Unobtainable,
            Facet::Given,
        ] {
            let Some(companion) = self.companions.get(&(index, facet)).copied() else {
                continue;
            };
            self.readings[companion as usize] = self.facet_reading(index, facet);
            self.refresh_reading(companion as usize);
            self.mark(companion);
        }
    }

    #[inline]
    fn mark(&mut self, index: u32) {
        self.dirty.insert(self.rank[index as usize]);
    }

    /// Stores a cell's new state; where it is another, marks what depends on it.
    #[inline]
    fn settle_cell(&mut self, index: usize, next: Hot) {
        if self.hot[index].same(&next) {
            return;
        }
        self.hot[index] = next;
        self.edit.changed.push(CellId {
            sheet: self.id,
            index: index as u32,
        });
        for user in &self.dependents[index] {
            self.dirty.insert(self.rank[*user as usize]);
        }
    }

    fn settle(&mut self) {
        while let Some(rank) = self.dirty.take_least() {
            let index = self.order[rank as usize] as usize;
            let next = self.evaluate(index);
            self.edit.recomputed.push(CellId {
                sheet: self.id,
                index: index as u32,
            });
            self.settle_cell(index, next);
        }
        if !self.speaks_of.is_empty() {
            let hidden = &self.speaks_of;
            let seen = |cell: &CellId| !hidden.contains_key(&cell.index);
            self.edit.recomputed.retain(seen);
            self.edit.changed.retain(seen);
        }
    }

    // ---- redefining, removing, renaming --------------------------------------------------

    /// Gives a cell another formula, and recomputes.
    ///
    /// # Errors
    /// [`EditError::Cycle`] with its path, [`EditError::Misfits`]; the sheet is then as it was.
    /// The result must have the cell's unit and kind.
    pub fn redefine(
        &mut self,
        cell: CellId,
        formula: Formula,
        operands: &[Asked],
    ) -> Result<&Edit, EditError> {
        let index = self.index_of(cell)?;
        for asked in operands {
            if let Some(operand) = asked.cell
                && asked.facet == Facet::Value
                && let Some(path) = self.path(self.index_of(operand)?, index)
            {
                let mut path: Vec<String> = path
                    .iter()
                    .map(|i| self.display_name(*i).to_owned())
                    .collect();
                path.insert(0, self.display_name(index as u32).to_owned());
                return Err(EditError::Cycle { path });
            }
        }
        let form = self.forms[index];
        let target = Target {
            unit: Some(form.unit),
            kind: form.kind,
            condition: false,
        };
        let number = self.formula_number(formula);
        let (tape, _, _, positions) = self.fit(index as u32, number, operands, target)?;
        self.detach(index as u32);
        self.attach(index as u32, number, tape, &positions);
        self.reorder();
        self.edit.clear();
        self.refresh_reading(index);
        self.mark(index as u32);
        self.settle();
        Ok(&self.edit)
    }

    /// Removes a cell that no other uses.
    ///
    /// # Errors
    /// [`EditError::InUse`] with the cells that use it.
    pub fn remove(&mut self, cell: CellId) -> Result<(), EditError> {
        let index = self.index_of(cell)?;
        let mut users: Vec<u32> = self.dependents[index].clone();
        for facet in [
            Facet::Beats,
            Facet::Largest,
            Facet::Unobtainable,
            Facet::Given,
        ] {
            if let Some(companion) = self.companions.get(&(index as u32, facet)) {
                users.extend(&self.dependents[*companion as usize]);
            }
        }
        users.retain(|user| *user != index as u32);
        users.extend(self.rules_that_ask(index as u32));
        if !users.is_empty() {
            users.sort_unstable();
            users.dedup();
            let name = self.display_name(index as u32).to_owned();
            let dependents = users
                .iter()
                .map(|u| self.display_name(*u).to_owned())
                .collect();
            return Err(EditError::InUse { name, dependents });
        }
        self.detach(index as u32);
        self.hot[index].flags |= REMOVED;
        self.readings[index] = None;
        self.rules.remove(&(index as u32));
        self.required.retain(|r| *r != index as u32);
        if let Some(about) = self.about[index].take() {
            self.names.remove(&about.name);
            self.listing.retain(|shown| *shown != index as u32);
        }
        Ok(())
    }

    /// Gives a cell another name; formulas that use it say the new name.
    ///
    /// # Errors
    /// [`EditError::NameTaken`], [`EditError::BadName`].
    pub fn rename(&mut self, cell: CellId, name: &str) -> Result<(), EditError> {
        let index = self.index_of(cell)?;
        self.check_new_name(name)?;
        let mut about = match self.about[index].take() {
            Some(about) => about,
            None => Box::new(About::named(name)),
        };
        self.names.remove(&about.name);
        about.name = name.to_owned();
        if self.names.insert(name.to_owned(), index as u32).is_none()
            && !self.listing.contains(&(index as u32))
        {
            self.listing.push(index as u32);
        }
        self.about[index] = Some(about);
        Ok(())
    }

    /// The cells on a way from `from` down to its operands that ends at `to`, if there is one.
    fn path(&self, from: usize, to: usize) -> Option<Vec<u32>> {
        let mut came_from: HashMap<u32, u32> = HashMap::new();
        let mut stack = vec![from as u32];
        came_from.insert(from as u32, NONE);
        while let Some(at) = stack.pop() {
            if at as usize == to {
                let mut path = vec![at];
                let mut step = came_from[&at];
                while step != NONE {
                    path.push(step);
                    step = came_from[&step];
                }
                path.reverse();
                return Some(path);
            }
            for operand in self.operands_of(at as usize) {
                if !came_from.contains_key(operand) {
                    came_from.insert(*operand, at);
                    stack.push(*operand);
                }
            }
        }
        None
    }

    /// Puts the cells into an order in which operands come first. There is no cycle.
    fn reorder(&mut self) {
        let count = self.hot.len();
        let mut waiting: Vec<u32> = (0..count)
            .map(|i| self.operands_of(i).len() as u32)
            .collect();
        // Operands that are named twice are listed twice among the operands, once as user.
        for i in 0..count {
            let operands = self.operands_of(i);
            let mut distinct = operands.to_vec();
            distinct.sort_unstable();
            distinct.dedup();
            waiting[i] = distinct.len() as u32;
        }
        let mut ready: std::collections::BinaryHeap<std::cmp::Reverse<u32>> = (0..count as u32)
            .filter(|i| waiting[*i as usize] == 0)
            .map(std::cmp::Reverse)
            .collect();
        self.order.clear();
        while let Some(std::cmp::Reverse(index)) = ready.pop() {
            self.rank[index as usize] = self.order.len() as u32;
            self.order.push(index);
            let mut users = self.dependents[index as usize].clone();
            users.sort_unstable();
            users.dedup();
            for user in users {
                waiting[user as usize] -= 1;
                if waiting[user as usize] == 0 {
                    ready.push(std::cmp::Reverse(user));
                }
            }
        }
    }
}

/// A reading plays no part in how the formula runs.
#[inline]
fn hot_is_plain(flags: u8) -> bool {
    flags & GUARDED == 0
}

fn no_words() -> Arc<[Arc<str>]> {
    static NONE: std::sync::OnceLock<Arc<[Arc<str>]>> = std::sync::OnceLock::new();
    NONE.get_or_init(|| Arc::from([])).clone()
}
