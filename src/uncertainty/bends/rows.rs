//! Bends over many rows: in which of them to look closely.
//!
//! [`bends`](super::bends) looks at one sheet. Over rows, the quantities that decide are computed
//! in blocks like any result, with their standard uncertainties. Where none lies within its
//! expanded uncertainty of zero, `bends` would find nothing; the other rows are for it to look at.

use crate::formula::{CellId, decisions, may_decide};
use crate::sheet::{Behind, Sheet};
use crate::uncertainty::columns::{Columns, Room, Stated};
use crate::uncertainty::error::UncertaintyError;
use crate::uncertainty::linear::factor_of;
use crate::uncertainty::settings::Settings;

/// Wanted cells over rows, with the quantities that decide where what they come from bends or
/// branches.
pub(crate) struct Watched {
    /// The wanted cells, and after them the quantities.
    columns: Columns,
    deciding: Vec<Deciding>,
    /// For each wanted cell those of them that it can come from, by number.
    under: Vec<Vec<usize>>,
    /// The greatest coverage factor that a quantity can have.
    factor: f64,
}

/// A formula with something that decides in it.
struct Deciding {
    /// The quantity, by number among the wanted of the columns; none for one that columns do not
    /// compute, since it takes the own reading of its cell.
    quantity: Option<usize>,
    /// The cell of the formula, where columns compute it.
    within: Option<Behind>,
}

/// A quantity that decides somewhere in a cell's formula.
struct Quantity {
    within: CellId,
    /// The cell that holds it; none where it takes the own reading of the cell that it is within.
    cell: Option<CellId>,
}

impl Watched {
    /// As [`Columns::new`].
    ///
    /// # Errors
    /// As [`Columns::new`].
    pub(crate) fn new(
        sheet: &Sheet,
        wanted: &[CellId],
        bound: &[(CellId, Stated)],
        settings: &Settings,
    ) -> Result<Watched, UncertaintyError> {
        let mut sheet = sheet.clone();
        let mut quantities = quantities(&mut sheet, wanted);
        let columns_of = |quantities: &[Quantity]| {
            let cells = quantities.iter().filter_map(|quantity| quantity.cell);
            let cells: Vec<CellId> = wanted.iter().copied().chain(cells).collect();
            Columns::new(&sheet, &cells, bound, settings)
        };
        let mut columns = columns_of(&quantities)?;
        // What no uncertainty can reach decides alike in all rows that look alike.
        let (count, mut next) = (quantities.len(), wanted.len()..);
        quantities.retain(|quantity| {
            let at = quantity.cell.and_then(|_| next.next());
            at.is_none_or(|at| columns.may_say(at))
        });
        if quantities.len() < count {
            columns = columns_of(&quantities)?;
        }
        Ok(Watched {
            deciding: deciding(&columns, wanted.len(), &quantities),
            under: wanted
                .iter()
                .map(|cell| under(&sheet, *cell, &quantities))
                .collect(),
            factor: factor_of(least_freedom(&sheet), settings.coverage),
            columns,
        })
    }

    /// The columns of the wanted cells, and of more behind them.
    pub(crate) fn columns(&self) -> &Columns {
        &self.columns
    }

    /// Whether [`bends`](super::bends) may find something for a wanted cell that is known in a row
    /// of the block that ran last.
    pub(crate) fn is_doubtful<const W: usize>(
        &self,
        room: &Room<W>,
        wanted: usize,
        row: usize,
    ) -> bool {
        let columns = &self.columns;
        let mut under = self.under[wanted].iter().map(|at| &self.deciding[*at]);
        under.any(|deciding| {
            let is_near = |quantity| self.is_near(room, quantity, row);
            let is_behind = |within| columns.is_behind(room, wanted, row, within);
            deciding.quantity.is_none_or(is_near) && deciding.within.as_ref().is_none_or(is_behind)
        })
    }

    fn is_near<const W: usize>(&self, room: &Room<W>, quantity: usize, row: usize) -> bool {
        let value = self.columns.value_of(room, quantity).lane(row);
        let standard = self.columns.standard(room, quantity).lane(row);
        let is_stated = !standard.status.is_missing();
        let reach = self.factor * standard.value * (1.0 + ROUNDING);
        // No number is no comfort.
        let is_beyond = standard.status.is_known() && value.value.abs() > reach;
        value.status.is_known() && is_stated && !is_beyond
    }
}

/// More than rounding can make of an expanded uncertainty.
const ROUNDING: f64 = 1e-9;

/// Adds the quantities that decide in what the wanted cells can come from as cells of their own.
fn quantities(sheet: &mut Sheet, wanted: &[CellId]) -> Vec<Quantity> {
    let mut all = Vec::new();
    for within in sheet.formulas_under(wanted, may_decide) {
        let Some(found) = sheet.tape_under(within).and_then(decisions) else {
            continue;
        };
        for decision in &found.list {
            let is_plain = !decision.takes_reading();
            let cell = is_plain.then(|| sheet.add_part(within, decision.of_another_cell()));
            all.push(Quantity { within, cell });
        }
    }
    all
}

/// What decides, where the first quantity comes behind `before` other columns.
fn deciding(columns: &Columns, before: usize, all: &[Quantity]) -> Vec<Deciding> {
    let mut next = before..;
    let of = |quantity: &Quantity| Deciding {
        quantity: quantity.cell.and_then(|_| next.next()),
        within: columns.behind(quantity.within),
    };
    all.iter().map(of).collect()
}

/// The numbers of those that a wanted cell can come from.
fn under(sheet: &Sheet, wanted: CellId, all: &[Quantity]) -> Vec<usize> {
    let under = sheet.formulas_under(&[wanted], may_decide);
    let numbers = 0..all.len();
    numbers
        .filter(|at| under.contains(&all[*at].within))
        .collect()
}

/// The least degrees of freedom of any reading of the sheet: what rows supply has no limit, and
/// effective ones are no fewer than the least that enters.
fn least_freedom(sheet: &Sheet) -> f64 {
    let readings = sheet.cells().filter_map(|cell| sheet.reading(cell));
    let freedoms = readings.map(|reading| reading.degrees_of_freedom());
    freedoms.fold(f64::INFINITY, f64::min)
}
