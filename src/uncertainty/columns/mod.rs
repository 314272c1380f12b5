//! Standard uncertainties over many rows, in blocks.
//!
//! The causes of a cell and its slopes are those of [`propagate`](super::propagate), which answers
//! for one sheet at a time; here they are written down once, as operations over blocks of rows,
//! and then carried out block by block. A row gives the bits that `propagate` gives for a sheet
//! with the readings of that row. Nothing is allocated once the room is made.
//!
//! They are written down twice: variances carried on from cell to cell, which is all that a row
//! needs as a rule, and slopes per cause, for what is asked of causes, and for rows with numbers
//! that are too small or too large for their squares, or with nothing stated.

mod carry;
mod causes;
mod ground;
mod plain;
mod plan;
mod run;
#[cfg(test)]
mod tests;
mod writer;

pub(super) use plain::PlainRows;

use super::error::UncertaintyError;
use super::settings::Settings;
use crate::formula::{CellId, Code, Lane, Lanes, Numbers, Source, Status, Supply, Term};
#[cfg(feature = "cohort")]
use crate::sheet::Behind;
use crate::sheet::{Block, Program, RowInput, Sheet};

/// What rows state about the uncertainty of a reading that they supply.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Stated {
    /// Nothing: the reading is listed as unstated, unless the sheet asks for a published
    /// repeatability that covers it.
    Unstated,
    /// The same standard uncertainty in every row, in the unit of the cell.
    Constant(f64),
    /// A relative standard uncertainty: a share of each row's value, 0.05 for 5 %.
    Share(f64),
    /// A column of standard uncertainties in the unit of the cell. Where it is missing the row
    /// states nothing.
    Column,
}

/// A sheet made ready to give standard uncertainties over many rows.
///
/// Rows supply values in blocks as for [`Program`], and beside them a block for each reading whose
/// uncertainty is a column. Shared causes are one cause, declared correlations count, a formula's
/// own uncertainty is a cause. The result is in the unit of its cell.
///
/// ```
/// use semilunar::formula::{Facet, Lane, Lanes};
/// use semilunar::sheet::Sheet;
/// use semilunar::uncertainty::{Columns, Settings, Stated};
///
/// let sheet = Sheet::read("use hemodynamics").unwrap().sheet;
/// let cell = |name: &str| sheet.cell(name).unwrap();
/// let bound = [
///     (cell("lvot_diameter"), Stated::Constant(0.1)), // in cm, as the cell
///     (cell("lvot_vti"), Stated::Column),
/// ];
/// let wanted = [cell("stroke_volume")];
/// let columns = Columns::new(&sheet, &wanted, &bound, &Settings::of(&sheet)).unwrap();
///
/// // Two rows in a block of two; a table is taken in blocks of 64 or so.
/// let mut room = columns.room::<2>();
/// for (at, input) in columns.inputs().iter().enumerate() {
///     let values = match input.facet {
///         Facet::Value if input.cell == cell("lvot_vti") => [20.0, 18.0],
///         Facet::Value => [2.0, 2.2],
///         // What formulas ask beyond the value: there is a reading, and nothing is said of it.
///         Facet::Given => [1.0; 2],
///         _ => [0.0; 2],
///     };
///     *columns.row(&mut room, at) = Lanes { values, ..Lanes::all(Lane::measured(0.0)) };
/// }
/// columns.uncertainty(&mut room, 0).values = [1.0, 0.5];
/// columns.uncertainty(&mut room, 0).states = [0; 2]; // 0: measured, and known
/// columns.run(&mut room);
/// assert!((columns.standard(&room, 0).values[0] - 7.0248).abs() < 1e-4);
/// assert!(columns.unstated(&mut room, 0, 0).is_empty());
/// ```
#[derive(Clone)]
pub struct Columns {
    program: Program,
    /// Variances carried on from cell to cell.
    carried: Code,
    /// The operations of it that make the standard uncertainties of the wanted cells.
    standards: Vec<usize>,
    /// Slopes per cause.
    by_cause: Code,
    places: Vec<Place>,
    constants: Vec<Lane>,
    columns: Vec<CellId>,
    wanted: Vec<Wanted>,
    lent: Vec<(CellId, &'static str)>,
}

/// Where given lanes stand.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
enum Place {
    /// The value of a cell.
    Slot(usize),
    /// What a step of a cell's formula made.
    Step(usize, usize),
    /// What rows supply.
    Row(usize),
    /// A column of uncertainties.
    Column(usize),
    /// The sheet's own reading of a cell whose formula uses it.
    Constant(usize),
}

/// A wanted cell.
#[derive(Clone, Debug)]
struct Wanted {
    slot: usize,
    /// The operation that makes its standard uncertainty from its causes.
    standard: usize,
    causes: Vec<Found>,
}

/// A cause of a wanted cell, readings before formulas.
#[derive(Clone, Copy, Debug)]
struct Found {
    cell: CellId,
    slope: Term,
    stated: Where,
}

/// In which rows a cause has a standard uncertainty.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Where {
    Always,
    Never,
    /// Where that column has a number.
    Column(usize),
}

/// Room for one block of rows, and its results.
pub struct Room<const W: usize> {
    block: Block<W>,
    /// What the operations of variances carried on made.
    carried: Vec<Numbers<W>>,
    /// What those of slopes per cause made, if they ran for this block.
    by_cause: Vec<Numbers<W>>,
    has_causes: bool,
    columns: Vec<Lanes<W>>,
    constants: Vec<Lanes<W>>,
    states: Vec<[u8; W]>,
}

/// Standard uncertainties of a block.
#[derive(Clone, Copy, Debug)]
pub struct Standards<'r, const W: usize> {
    /// The numbers, in the unit of the cell; one means something only where its state is known.
    pub values: &'r [f64; W],
    /// The states, as those of [`Lanes`].
    pub states: &'r [u8; W],
}

impl<const W: usize> Standards<'_, W> {
    /// One row: value and state.
    pub fn lane(&self, row: usize) -> Lane {
        Lane {
            value: self.values[row],
            status: Status(self.states[row]),
        }
    }
}

impl Columns {
    /// Makes a sheet ready to give the standard uncertainties of `wanted` over rows that supply
    /// `bound` readings. What rows do not supply keeps the sheet's readings and what they state.
    /// Of `settings` only the correlations count here; those of readings in `bound` too.
    ///
    /// # Errors
    /// [`UncertaintyError`]: a wanted cell is none of the sheet's or holds a word, a constant
    /// uncertainty is negative, or the settings are impossible.
    pub fn new(
        sheet: &Sheet,
        wanted: &[CellId],
        bound: &[(CellId, Stated)],
        settings: &Settings,
    ) -> Result<Columns, UncertaintyError> {
        plan::columns(sheet, wanted, bound, settings)
    }

    /// What each block must supply, in order, as [`Program::inputs`]: values, and what formulas ask
    /// of a reading beyond its value, for which [`Sheet::facet_of_reading`] has the answers.
    pub fn inputs(&self) -> &[RowInput] {
        self.program.inputs()
    }

    /// The readings whose standard uncertainties each block must supply, in order: those bound
    /// with [`Stated::Column`] that a wanted cell depends on.
    pub fn uncertainty_inputs(&self) -> &[CellId] {
        &self.columns
    }

    /// Readings whose uncertainty may be taken from a publication, as the sheet asks, each with
    /// the publication.
    pub fn lent(&self) -> &[(CellId, &'static str)] {
        &self.lent
    }

    /// Room for blocks of `W` rows. 64 rows are fast.
    pub fn room<const W: usize>(&self) -> Room<W> {
        Room {
            block: self.program.keeping_block(),
            carried: self.carried.room(),
            by_cause: self.by_cause.room(),
            has_causes: false,
            columns: vec![Lanes::MISSING; self.columns.len()],
            constants: self
                .constants
                .iter()
                .map(|lane| Lanes::all(*lane))
                .collect(),
            states: vec![[Lane::MISSING.status.0; W]; self.wanted.len()],
        }
    }

    /// Where a room takes the values of the rows of a block, by the number in
    /// [`Columns::inputs`]. They stay until they are written over.
    pub fn row<'r, const W: usize>(&self, room: &'r mut Room<W>, input: usize) -> &'r mut Lanes<W> {
        self.program.input(&mut room.block, input)
    }

    /// Where a room takes a column of standard uncertainties, by the number in
    /// [`Columns::uncertainty_inputs`]. A negative or infinite one makes the row's result faulty.
    pub fn uncertainty<'r, const W: usize>(
        &self,
        room: &'r mut Room<W>,
        input: usize,
    ) -> &'r mut Lanes<W> {
        &mut room.columns[input]
    }

    fn is_stated<const W: usize>(&self, cause: &Found, room: &Room<W>, row: usize) -> bool {
        match cause.stated {
            Where::Always => true,
            Where::Never => false,
            Where::Column(column) => room.columns[column].lane(row).status.is_known(),
        }
    }

    /// The readings that a wanted cell depends on in a row of the block that ran last, and that
    /// stated no uncertainty: the standard uncertainty is a lower bound while there are any.
    pub fn unstated<const W: usize>(
        &self,
        room: &mut Room<W>,
        wanted: usize,
        row: usize,
    ) -> Vec<CellId> {
        self.causes(room);
        let wanted = &self.wanted[wanted];
        if !room.block.lanes(wanted.slot).lane(row).status.is_known() {
            return Vec::new();
        }
        let lacking = wanted.causes.iter().filter(|cause| {
            !self.is_stated(cause, room, row) && self.value(cause.slope, room, row) != 0.0
        });
        lacking.map(|cause| cause.cell).collect()
    }

    /// Whether any row of any block can leave a reading of this wanted cell unstated; where not,
    /// there is no need to ask row by row.
    pub fn may_lack(&self, wanted: usize) -> bool {
        let causes = &self.wanted[wanted].causes;
        causes.iter().any(|cause| cause.stated != Where::Always)
    }

    /// Whether any row of any block can state an uncertainty of what this wanted cell depends on.
    #[cfg(feature = "cohort")]
    pub(super) fn may_say(&self, wanted: usize) -> bool {
        let causes = &self.wanted[wanted].causes;
        causes.iter().any(|cause| cause.stated != Where::Never)
    }

    /// A cell that wanted ones may come from, to be asked of row by row.
    #[cfg(feature = "cohort")]
    pub(super) fn behind(&self, cell: CellId) -> Option<Behind> {
        self.program.behind(cell)
    }

    /// Whether a wanted cell comes from the formula of a cell in a row of the block that ran last.
    #[cfg(feature = "cohort")]
    pub(super) fn is_behind<const W: usize>(
        &self,
        room: &Room<W>,
        wanted: usize,
        row: usize,
        behind: &Behind,
    ) -> bool {
        let from = self.wanted[wanted].slot;
        self.program.is_behind(&room.block, row, from, behind)
    }

    /// How many cells are wanted.
    pub(super) fn count(&self) -> usize {
        self.wanted.len()
    }

    pub(super) fn still_fits(&self, sheet: &Sheet) -> bool {
        self.program.still_fits(sheet)
    }

    fn value<const W: usize>(&self, term: Term, room: &Room<W>, row: usize) -> f64 {
        match term {
            Term::Number(k) => k,
            Term::Lanes(Source::Made(at)) => room.by_cause[at as usize].0[row],
            Term::Lanes(Source::Given(at)) => self.given(room).at(at).values[row],
        }
    }

    fn given<'r, const W: usize>(&'r self, room: &'r Room<W>) -> Given<'r, W> {
        Given {
            columns: self,
            block: &room.block,
            uncertainties: &room.columns,
            constants: &room.constants,
        }
    }

    /// The values of a wanted cell, by its number in the order in which they were wanted.
    pub fn value_of<'r, const W: usize>(&self, room: &'r Room<W>, wanted: usize) -> &'r Lanes<W> {
        room.block.lanes(self.wanted[wanted].slot)
    }

    /// The standard uncertainties of a wanted cell, in its unit. Missing where the cell is not
    /// known, or where nothing that it depends on states an uncertainty; faulty where it has no
    /// finite slope, or an uncertainty was negative. Elsewhere the state is that of the value.
    pub fn standard<'r, const W: usize>(
        &self,
        room: &'r Room<W>,
        wanted: usize,
    ) -> Standards<'r, W> {
        Standards {
            values: &room.carried[self.standards[wanted]].0,
            states: &room.states[wanted],
        }
    }
}

/// The given lanes of a block.
struct Given<'a, const W: usize> {
    columns: &'a Columns,
    block: &'a Block<W>,
    uncertainties: &'a [Lanes<W>],
    constants: &'a [Lanes<W>],
}

impl<'a, const W: usize> Given<'a, W> {
    #[inline(always)]
    fn at(&self, number: u32) -> &'a Lanes<W> {
        match self.columns.places[number as usize] {
            Place::Slot(slot) => self.block.lanes(slot),
            Place::Step(slot, step) => self.block.step(slot, step),
            Place::Row(row) => self.columns.program.supplied(self.block, row),
            Place::Column(column) => &self.uncertainties[column],
            Place::Constant(at) => &self.constants[at],
        }
    }
}

impl<const W: usize> Supply<W> for Given<'_, W> {
    #[inline(always)]
    fn given(&self, number: u32) -> &Lanes<W> {
        self.at(number)
    }
}
