//! A sheet made ready to run over many rows: the cells that are needed, in order, over blocks
//! of lanes.
//!
//! The sheet itself is one row. A [`Program`] takes the same formulas, resolved for the same
//! units, and runs them over `W` rows at once; a row gives the same bits as the sheet would.

#[cfg(feature = "cohort")]
mod behind;

use std::collections::HashMap;
use std::sync::Arc;

#[cfg(feature = "cohort")]
pub(crate) use behind::Behind;

use super::causes::given;
use super::error::EditError;
use super::reasons::Cause;
use super::sheet::Sheet;
use crate::formula::simd::{Job, widest};
use crate::formula::{
    Because, CellId, Facet, Formula, Given, Lane, Lanes, Scratch, Status, Tape, Trouble, Verdict,
    View, ViewMut, evaluate, judge,
};
use crate::quantity::{Content, Reading};

/// What a row supplies: a cell's value, or something said about its reading.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct RowInput {
    /// The cell.
    pub cell: CellId,
    /// What is supplied of it.
    pub facet: Facet,
}

/// A cell of the program.
#[derive(Clone, Debug)]
struct Slot {
    cell: u32,
    /// Number of the row input that supplies it.
    row: Option<usize>,
    computed: Option<Computed>,
    /// What it is where neither a row nor a formula says.
    constant: Lane,
}

/// Where the lanes of a row input stand in a block.
#[derive(Clone, Copy, Debug)]
enum Place {
    Slot(usize),
    Beside(usize),
}

#[derive(Clone, Debug)]
struct Computed {
    tape: Arc<Tape>,
    operands: Vec<usize>,
}

/// Formulas of a sheet over blocks of rows.
#[derive(Clone)]
pub struct Program {
    slots: Vec<Slot>,
    /// Where the lanes of each row input stand in a block.
    places: Vec<Place>,
    /// How many of them stand beside the slots.
    beside: usize,
    inputs: Vec<RowInput>,
    by_cell: HashMap<u32, usize>,
}

/// The values of all cells of a program over one block of rows.
pub struct Block<const W: usize> {
    lanes: Vec<Lanes<W>>,
    /// What rows supply of cells that have formulas too.
    beside: Vec<Lanes<W>>,
    scratch: Scratch<W>,
    /// Registers of each cell's formula, where they are kept.
    kept: Vec<Scratch<W>>,
}

/// How a cell of a program comes to its lanes.
pub(crate) struct Course<'p> {
    /// The cell, or for a hidden cell the one that it speaks of.
    pub(crate) cell: CellId,
    /// Whether it holds something asked of a reading beyond its value.
    pub(crate) is_companion: bool,
    /// Number of the row input that supplies it.
    pub(crate) row: Option<usize>,
    /// Its formula and the slots of the operands.
    pub(crate) formula: Option<(&'p Tape, &'p [usize])>,
}

impl Program {
    /// Makes a program that computes `wanted` from rows that supply `bound` cells; what rows do
    /// not supply keeps the sheet's own readings.
    pub fn new(sheet: &Sheet, wanted: &[CellId], bound: &[CellId]) -> Program {
        let mut maker = Maker {
            sheet,
            bound,
            program: Program {
                slots: Vec::new(),
                places: Vec::new(),
                beside: 0,
                inputs: Vec::new(),
                by_cell: HashMap::new(),
            },
        };
        for index in maker.needed(wanted) {
            maker.add(index);
        }
        maker.program
    }

    /// What each row must supply, in order.
    pub fn inputs(&self) -> &[RowInput] {
        &self.inputs
    }

    /// Where a cell's lanes stand in a block; `None` for a cell that is not computed.
    pub fn slot(&self, cell: CellId) -> Option<usize> {
        self.by_cell.get(&cell.index).copied()
    }

    /// A block for this program.
    pub fn block<const W: usize>(&self) -> Block<W> {
        let lanes = self
            .slots
            .iter()
            .map(|slot| Lanes::all(slot.constant))
            .collect();
        Block {
            lanes,
            beside: vec![Lanes::MISSING; self.beside],
            scratch: Scratch::new(),
            kept: Vec::new(),
        }
    }

    /// A block that keeps what formulas compute on the way.
    pub(crate) fn keeping_block<const W: usize>(&self) -> Block<W> {
        let mut block = self.block();
        block.kept = self.slots.iter().map(|_| Scratch::keeping()).collect();
        block
    }

    /// How the cell of a slot comes to its lanes.
    pub(crate) fn course(&self, slot: usize, sheet: &Sheet) -> Course<'_> {
        let slot = &self.slots[slot];
        let speaker = sheet.speaks_of.get(&slot.cell).copied();
        Course {
            cell: sheet.id_of(speaker.unwrap_or(slot.cell)),
            is_companion: speaker.is_some(),
            row: slot.row,
            formula: slot
                .computed
                .as_ref()
                .map(|c| (&*c.tape, c.operands.as_slice())),
        }
    }

    /// What a slot holds where neither a row nor a formula says; also where a formula looks at the
    /// reading of its own cell.
    pub(crate) fn constant(&self, slot: usize) -> Lane {
        self.slots[slot].constant
    }

    /// The number of slots.
    pub(crate) fn slots(&self) -> usize {
        self.slots.len()
    }

    /// Whether the sheet still says what was taken over from it: the same formulas, and the same
    /// readings where rows do not supply them.
    pub(crate) fn still_fits(&self, sheet: &Sheet) -> bool {
        self.slots.iter().all(|slot| {
            let index = slot.cell as usize;
            let is_same = match (&slot.computed, sheet.tape(index)) {
                (Some(computed), Some(tape)) => Arc::ptr_eq(&computed.tape, tape),
                (computed, _) => computed.is_none(),
            };
            // A reading of its own would stand in for the formula.
            let is_due = slot
                .computed
                .as_ref()
                .is_some_and(|c| !c.tape.uses_reading());
            let reading = match slot.row {
                Some(_) => true,
                None if is_due => !sheet.is_given(index),
                None => sheet.own_lane(index) == slot.constant,
            };
            is_same && reading
        })
    }

    /// Computes a block from what its rows supply, in the order of [`Program::inputs`].
    pub fn run<const W: usize>(&self, rows: &[&Lanes<W>], block: &mut Block<W>) {
        for (input, row) in rows.iter().enumerate() {
            *self.input(block, input) = **row;
        }
        self.run_filled(block);
    }

    /// Where a block takes what its rows supply, by its number in [`Program::inputs`].
    pub(crate) fn input<'b, const W: usize>(
        &self,
        block: &'b mut Block<W>,
        input: usize,
    ) -> &'b mut Lanes<W> {
        match self.places[input] {
            Place::Slot(slot) => &mut block.lanes[slot],
            Place::Beside(at) => &mut block.beside[at],
        }
    }

    /// What a row input holds.
    #[inline]
    pub(crate) fn supplied<'b, const W: usize>(
        &self,
        block: &'b Block<W>,
        input: usize,
    ) -> &'b Lanes<W> {
        match self.places[input] {
            Place::Slot(slot) => &block.lanes[slot],
            Place::Beside(at) => &block.beside[at],
        }
    }

    /// Computes a block whose row inputs are filled.
    pub(crate) fn run_filled<const W: usize>(&self, block: &mut Block<W>) {
        self.run_between(block, || ());
    }

    /// The same, and does something between the cells.
    pub(crate) fn run_between<const W: usize>(&self, block: &mut Block<W>, between: impl FnMut()) {
        let Block {
            lanes,
            beside,
            scratch,
            kept,
        } = block;
        self.run_over(lanes, beside, &mut Rooms { scratch, kept }, between);
    }

    /// The same, where the computed lanes of some slots go elsewhere.
    pub(crate) fn run_into<'o, const W: usize>(
        &self,
        block: &'o mut Block<W>,
        elsewhere: impl Iterator<Item = (usize, ViewMut<'o, W>)>,
        between: impl FnMut(),
    ) {
        let mut lanes: Vec<ViewMut<'_, W>> = block.lanes.iter_mut().map(Lanes::view_mut).collect();
        for (slot, view) in elsewhere {
            lanes[slot] = view;
        }
        let mut rooms = Rooms {
            scratch: &mut block.scratch,
            kept: &mut block.kept,
        };
        self.run_over(&mut lanes, &block.beside, &mut rooms, between);
    }

    /// The slots of which the states of a row alone tell why a value is missing: what they are
    /// computed by, all the way down, neither asks for states nor prefers one operand to another.
    #[cfg(feature = "cohort")]
    pub(crate) fn told_by_states(&self) -> Vec<bool> {
        let mut told: Vec<bool> = Vec::with_capacity(self.slots.len());
        for slot in &self.slots {
            let is_told = match &slot.computed {
                None => true,
                Some(Computed { tape, operands }) => {
                    slot.row.is_none() && tape.is_straight() && operands.iter().all(|o| told[*o])
                }
            };
            told.push(is_told);
        }
        told
    }

    /// How many cells are computed.
    pub(crate) fn computed(&self) -> usize {
        self.slots.iter().filter(|s| s.computed.is_some()).count()
    }

    /// Whether the lanes of a slot are computed, and not only supplied.
    pub(crate) fn is_computed(&self, slot: usize) -> bool {
        self.slots[slot].computed.is_some()
    }

    fn run_over<const W: usize>(
        &self,
        lanes: &mut [impl Stand<W>],
        beside: &[Lanes<W>],
        rooms: &mut Rooms<'_, W>,
        mut between: impl FnMut(),
    ) {
        for (at, slot) in self.slots.iter().enumerate() {
            let Some(computed) = &slot.computed else {
                continue;
            };
            between();
            let (before, rest) = lanes.split_at_mut(at);
            let out = &mut rest[0];
            let row = match slot.row.map(|row| self.places[row]) {
                Some(Place::Beside(at)) => Some(beside[at].view()),
                Some(Place::Slot(_)) | None => None,
            };
            let constant;
            let own = match (computed.tape.uses_reading(), row) {
                (false, _) => None,
                (true, Some(row)) => Some(row),
                (true, None) => {
                    constant = Lanes::all(slot.constant);
                    Some(constant.view())
                }
            };
            let operands = computed.operands.iter().map(|o| before[*o].view());
            with_inputs(operands.chain(own), |inputs| {
                evaluate(&computed.tape, inputs, out.view_mut(), rooms.of(at));
            });
            if let Some(row) = row
                && !computed.tape.uses_reading()
            {
                widest(Overlay {
                    row,
                    out: out.view_mut(),
                });
            }
        }
    }
}

/// Room for the registers of formulas.
struct Rooms<'b, const W: usize> {
    scratch: &'b mut Scratch<W>,
    kept: &'b mut [Scratch<W>],
}

impl<const W: usize> Rooms<'_, W> {
    /// That of a slot's own, where what it makes is kept.
    fn of(&mut self, slot: usize) -> &mut Scratch<W> {
        self.kept.get_mut(slot).unwrap_or(self.scratch)
    }
}

/// Where the lanes of a slot stand.
trait Stand<const W: usize> {
    fn view(&self) -> View<'_, W>;
    fn view_mut(&mut self) -> ViewMut<'_, W>;
}

impl<const W: usize> Stand<W> for Lanes<W> {
    fn view(&self) -> View<'_, W> {
        self.view()
    }
    fn view_mut(&mut self) -> ViewMut<'_, W> {
        self.view_mut()
    }
}

impl<const W: usize> Stand<W> for ViewMut<'_, W> {
    fn view(&self) -> View<'_, W> {
        self.view()
    }
    fn view_mut(&mut self) -> ViewMut<'_, W> {
        self.reborrow()
    }
}

/// Calls `f` with views in a row; few of them take no memory of their own.
fn with_inputs<'a, const W: usize>(
    mut inputs: impl Iterator<Item = View<'a, W>>,
    f: impl FnOnce(&[View<'a, W>]),
) {
    const FEW: usize = 8;
    let Some(first) = inputs.next() else {
        return f(&[]);
    };
    let mut few = [first; FEW];
    let mut count = 1;
    while count < FEW {
        let Some(input) = inputs.next() else {
            return f(&few[..count]);
        };
        few[count] = input;
        count += 1;
    }
    match inputs.next() {
        None => f(&few),
        Some(more) => f(&few
            .into_iter()
            .chain([more])
            .chain(inputs)
            .collect::<Vec<_>>()),
    }
}

/// A reading takes the place of a computed value, and so does the word that there is none to be
/// had.
struct Overlay<'a, const W: usize> {
    row: View<'a, W>,
    out: ViewMut<'a, W>,
}

impl<const W: usize> Job for Overlay<'_, W> {
    #[inline(always)]
    fn run(self) {
        let Overlay { row, out } = self;
        let takes = |states: u8| Status(states).is_known() | Status(states).is_unobtainable();
        for i in 0..W {
            let (value, other) = (row.values[i], out.values[i]);
            out.values[i] = if takes(row.states[i]) { value } else { other };
        }
        for i in 0..W {
            let (state, other) = (row.states[i], out.states[i]);
            out.states[i] = if takes(row.states[i]) { state } else { other };
        }
    }
}

impl<const W: usize> Block<W> {
    /// The lanes of a slot.
    pub fn lanes(&self, slot: usize) -> &Lanes<W> {
        &self.lanes[slot]
    }

    /// What the formula of a slot made in one of its steps, in a block that keeps that.
    #[inline]
    pub(crate) fn step(&self, slot: usize, step: usize) -> &Lanes<W> {
        self.kept[slot].made(step)
    }
}

struct Maker<'a> {
    sheet: &'a Sheet,
    bound: &'a [CellId],
    program: Program,
}

impl Maker<'_> {
    /// The cells that the wanted ones need, operands first.
    fn needed(&self, wanted: &[CellId]) -> Vec<u32> {
        let mut needed = Vec::new();
        let mut met = std::collections::HashSet::new();
        let mut stack: Vec<u32> = wanted.iter().map(|cell| cell.index).collect();
        while let Some(index) = stack.pop() {
            if met.insert(index) {
                needed.push(index);
                stack.extend(self.sheet.operands_of(index as usize));
            }
        }
        needed.sort_by_key(|index| self.sheet.rank_of(*index));
        needed
    }

    fn add(&mut self, index: u32) {
        let speaker = self.sheet.speaks_of.get(&index).copied();
        let cell = self.sheet.id_of(speaker.unwrap_or(index));
        let row = self.bound.contains(&cell).then(|| {
            let facet = self.sheet.facet_of(index);
            self.program.inputs.push(RowInput { cell, facet });
            self.program.inputs.len() - 1
        });
        let computed = self.sheet.tape(index as usize).map(|tape| Computed {
            tape: tape.clone(),
            operands: self
                .sheet
                .operands_of(index as usize)
                .iter()
                .map(|operand| self.program.by_cell[operand])
                .collect(),
        });
        let slot = Slot {
            cell: index,
            row,
            constant: match row {
                Some(_) => Lane::MISSING,
                None => self.sheet.own_lane(index as usize),
            },
            computed: computed.filter(|c| {
                // A reading of the sheet's own stands in for a formula in every row.
                row.is_some() || c.tape.uses_reading() || !self.sheet.is_given(index as usize)
            }),
        };
        if slot.row.is_some() {
            let place = match slot.computed {
                None => Place::Slot(self.program.slots.len()),
                Some(_) => Place::Beside(self.program.beside),
            };
            self.program.beside += usize::from(matches!(place, Place::Beside(_)));
            self.program.places.push(place);
        }
        self.program.by_cell.insert(index, self.program.slots.len());
        self.program.slots.push(slot);
    }
}

impl Sheet {
    /// Whether a reading fits a cell, without putting it there.
    ///
    /// # Errors
    /// As [`Sheet::set`].
    pub fn fits(&self, cell: CellId, reading: &Reading) -> Result<(), EditError> {
        let index = self.index_of(cell)?;
        self.check_reading(index, reading)
    }

    /// The lane that a reading would give a cell.
    pub fn lane_of_reading(&self, cell: CellId, reading: &Reading) -> Lane {
        let nothing = match reading.content() {
            Content::Unobtainable => Lane::UNOBTAINABLE,
            _ => Lane::MISSING,
        };
        self.lane_from(cell.index(), reading).unwrap_or(nothing)
    }

    /// What a reading would answer to a question beyond its value; `None` where it says nothing.
    pub fn facet_of_reading(&self, cell: CellId, reading: &Reading, facet: Facet) -> Option<f64> {
        self.facet_from(cell.index, Some(reading), facet)
    }

    /// What a plain number and the lack of one answer to a question beyond their value.
    pub(super) fn facet_lanes(&self, cell: CellId, facet: Facet) -> Option<(Lane, Lane)> {
        let number = Reading::of(1.0, self.unit(cell)?).ok()?;
        let lane = |reading: &Reading| {
            let value = self.facet_of_reading(cell, reading, facet);
            value.map_or(Lane::MISSING, Lane::measured)
        };
        Some((lane(&number), lane(&Reading::unknown())))
    }

    /// The reading's own lane, missing where there is none.
    fn own_lane(&self, index: usize) -> Lane {
        self.reading_lane(index).unwrap_or(Lane::MISSING)
    }

    fn facet_of(&self, index: u32) -> Facet {
        let Some(speaker) = self.speaks_of.get(&index).copied() else {
            return Facet::Value;
        };
        let of_companion = |facet: &Facet| self.companions.get(&(speaker, *facet)) == Some(&index);
        [
            Facet::Beats,
            Facet::Largest,
            Facet::Unobtainable,
            Facet::Given,
        ]
        .into_iter()
        .find(of_companion)
        .unwrap_or(Facet::Value)
    }

    /// Why a cell is not known in one row of a block, in words.
    pub fn because_in_row<const W: usize>(
        &self,
        program: &Program,
        block: &Block<W>,
        row: usize,
        cell: CellId,
    ) -> Vec<String> {
        let Some(slot) = program.slot(cell) else {
            return Vec::new();
        };
        let mut causes = Vec::new();
        let mut met = std::collections::HashSet::new();
        self.trace(program, block, row, slot, &mut met, &mut causes);
        causes.sort();
        causes.dedup();
        causes.iter().map(|cause| self.cause_words(cause)).collect()
    }

    /// Follows what is missing or faulty back to its causes.
    fn trace<const W: usize>(
        &self,
        program: &Program,
        block: &Block<W>,
        row: usize,
        start: usize,
        met: &mut std::collections::HashSet<usize>,
        causes: &mut Vec<Cause>,
    ) {
        let mut waiting = vec![start];
        while let Some(slot) = waiting.pop() {
            if !met.insert(slot) {
                continue;
            }
            let cell = program.slots[slot].cell;
            let speaker = self.speaks_of.get(&cell).copied().unwrap_or(cell);
            let status = block.lanes[slot].lane(row).status;
            if status.is_unobtainable() {
                causes.push(Cause::Unobtainable(speaker));
                continue;
            }
            let (Some(computed), Some(formula)) = (
                &program.slots[slot].computed,
                self.formula_at(cell as usize),
            ) else {
                causes.push(Cause::NoReading(speaker));
                continue;
            };
            let verdict = self.row_verdict(program, block, row, slot, computed, formula);
            for because in reasons_for(verdict, status) {
                match because {
                    Some(Because::Operand(k)) => match computed.operands[k as usize] {
                        // Rows say this cell, and nobody says the one that it falls back on.
                        shared if self.is_only_own(program, slot, shared) => {
                            causes.push(Cause::NoReading(speaker));
                        }
                        operand => waiting.push(operand),
                    },
                    Some(Because::OwnReading) => causes.push(Cause::NoReading(speaker)),
                    Some(Because::Withheld(text)) => {
                        causes.push(Cause::Withheld(speaker, formula.text(text).clone()));
                    }
                    Some(Because::Fault(op, trouble)) => {
                        causes.push(Cause::Fault(speaker, op, trouble));
                    }
                    None => causes.push(Cause::Fault(speaker, formula.root(), Trouble::TooLarge)),
                }
            }
        }
    }

    /// Whether rows supply a cell of an exam, and nothing supplies the cell shared by all exams.
    fn is_only_own(&self, program: &Program, slot: usize, shared: usize) -> bool {
        let (own, shared) = (&program.slots[slot], &program.slots[shared]);
        self.shared.get(&own.cell) == Some(&shared.cell)
            && own.row.is_some()
            && shared.row.is_none()
            && self.readings[shared.cell as usize].is_none()
    }

    fn row_verdict<const W: usize>(
        &self,
        program: &Program,
        block: &Block<W>,
        row: usize,
        slot: usize,
        computed: &Computed,
        formula: &Formula,
    ) -> Verdict {
        let given = |slot: usize| {
            let lane = block.lanes[slot].lane(row);
            let factor = self.forms[program.slots[slot].cell as usize].unit.factor();
            given(lane, factor)
        };
        let operands: Vec<Given> = computed.operands.iter().map(|o| given(*o)).collect();
        // The own reading of a guarded cell: where it was there, the guard let it through or
        // withheld it; either way the judge need not see it to say why.
        let own = self.guard_reading(program, block, row, slot);
        let word_of = |k: u32, word: &str| {
            let cell = program.slots[computed.operands[k as usize]].cell;
            let about = self.about[cell as usize].as_ref()?;
            let at = about.words.iter().position(|w| **w == *word)?;
            Some(at as u16)
        };
        judge(formula, &operands, &own, &word_of)
    }

    /// Whether a guarded cell had a reading in this row, as its companion says; without a
    /// companion a missing result means a missing reading unless something was withheld.
    fn guard_reading<const W: usize>(
        &self,
        program: &Program,
        block: &Block<W>,
        row: usize,
        slot: usize,
    ) -> Given {
        let cell = program.slots[slot].cell;
        let companion = self.companions.get(&(cell, Facet::Given));
        let is_given = companion
            .and_then(|c| program.by_cell.get(c))
            .is_some_and(|c| block.lanes[*c].lane(row).value != 0.0);
        if is_given {
            given(Lane::measured(1.0), 1.0)
        } else {
            Given::Missing
        }
    }
}

/// The judge's reasons where it agrees that the value is not known; else one unknown reason.
fn reasons_for(verdict: Verdict, status: Status) -> Vec<Option<Because>> {
    match verdict {
        Verdict::Missing(because) if status.is_missing() => because.into_iter().map(Some).collect(),
        Verdict::Faulty(because) if status.is_faulty() => vec![Some(because)],
        _ => vec![None],
    }
}
