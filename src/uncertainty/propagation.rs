//! Standard uncertainties over columns in memory: numbers in, uncertainties and states out, on
//! several threads.
//!
//! ```
//! use std::num::NonZeroUsize;
//! use semilunar::sheet::{Column, Computed, Sheet};
//! use semilunar::uncertainty::{Propagation, Settings, Stated};
//!
//! let sheet = Sheet::read("use hemodynamics").unwrap().sheet;
//! let cell = |name: &str| sheet.cell(name).unwrap();
//! let bound = [
//!     (cell("lvot_diameter"), Stated::Constant(0.1)), // in cm, as the cell
//!     (cell("lvot_vti"), Stated::Column),
//! ];
//! let wanted = [cell("stroke_volume")];
//! let propagation = Propagation::new(&sheet, &wanted, &bound, &Settings::of(&sheet)).unwrap();
//!
//! let readings = [Column::of(&[2.0, 2.2]), Column::of(&[20.0, 18.0])];
//! let standards = [Column::of(&[1.0, 0.5])];
//! let mut results = vec![Computed::default()];
//! propagation.run(&readings, &standards, &mut results, NonZeroUsize::MIN);
//! assert!((results[0].value(0).unwrap() - 7.0248).abs() < 1e-4);
//! ```

use std::num::NonZeroUsize;
use std::ops::Range;

use super::columns::{Columns, PlainRows, Room, Stated};
use super::error::UncertaintyError;
use super::settings::Settings;
use crate::formula::simd::past_caches;
use crate::formula::{CellId, Facet, FusedRoom, Lanes, PlainBounds, ViewMut};
use crate::sheet::{Column, Computed, Feed, Part, Sheet, Stretch, in_stretches};

/// Rows computed at once.
const WIDTH: usize = 256;

/// A sheet made ready to give standard uncertainties over columns: those of [`Columns`], which
/// answers row by row also what is not stated. Blocks in which all is known and possible take a
/// shorter way to the same bits, where the formulas are plain arithmetic.
pub struct Propagation {
    columns: Columns,
    plain: Option<PlainRows>,
    /// For each row input of `columns`, the column that supplies it, and how.
    inputs: Vec<(usize, Feed)>,
    /// For each column of uncertainties that `columns` takes, its number among those given.
    standards: Vec<usize>,
    readings: usize,
    stated: usize,
}

/// What a thread needs.
struct Work<'a> {
    room: Room<WIDTH>,
    plain: Option<FusedRoom>,
    /// What the rows of a block supply, where it stands.
    supplied: Vec<&'a [f64; WIDTH]>,
}

/// What is given.
#[derive(Clone, Copy)]
struct Given<'a> {
    readings: &'a [Column<'a>],
    standards: &'a [Column<'a>],
}

impl Propagation {
    /// Makes ready to propagate to `wanted` from columns of `bound` readings, as
    /// [`Columns::new`].
    ///
    /// # Errors
    /// As [`Columns::new`], and where a bound cell takes words, not numbers.
    pub fn new(
        sheet: &Sheet,
        wanted: &[CellId],
        bound: &[(CellId, Stated)],
        settings: &Settings,
    ) -> Result<Propagation, UncertaintyError> {
        let columns = Columns::new(sheet, wanted, bound, settings)?;
        let not_numbers = |cell: CellId| UncertaintyError::NotKnown {
            cell: sheet.name(cell),
        };
        for (cell, _) in bound {
            Feed::of(sheet, *cell, Facet::Value).ok_or_else(|| not_numbers(*cell))?;
        }
        let inputs = columns.inputs().iter().map(|input| {
            let column = bound.iter().position(|(cell, _)| *cell == input.cell);
            column
                .zip(Feed::of(sheet, input.cell, input.facet))
                .ok_or_else(|| not_numbers(input.cell))
        });
        let stating: Vec<CellId> = bound
            .iter()
            .filter(|(_, stated)| *stated == Stated::Column)
            .map(|(cell, _)| *cell)
            .collect();
        let standards = columns.uncertainty_inputs().iter();
        let standards = standards.filter_map(|cell| stating.iter().position(|c| c == cell));
        let inputs: Vec<(usize, Feed)> = inputs.collect::<Result<_, _>>()?;
        let bounds = inputs.iter().map(|(_, feed)| feed.plain_bounds());
        let of_standards = columns.uncertainty_inputs().iter();
        let of_standards = of_standards.map(|_| Some(PlainBounds::between(0.0, f64::INFINITY)));
        let bounds: Option<Vec<PlainBounds>> = bounds.chain(of_standards).collect();
        Ok(Propagation {
            plain: bounds.and_then(|bounds| columns.plain(sheet, &bounds)),
            inputs,
            standards: standards.collect(),
            columns,
            readings: bound.len(),
            stated: stating.len(),
        })
    }

    /// The standard uncertainties of the wanted cells in all rows, in order. `readings` are columns
    /// of all bound cells in the cells' units, in the order in which they were bound; `standards`
    /// those of the ones bound with [`Stated::Column`], in the same order and units. What comes of
    /// it does not depend on `threads`.
    ///
    /// A result is missing where the cell is not known, or where nothing that it depends on states
    /// an uncertainty; faulty where a reading is impossible, the cell has no finite slope or an
    /// uncertainty is negative.
    ///
    /// # Panics
    /// Where the columns are not those that were bound in number and of one length, or the results
    /// not those of the wanted cells in number.
    pub fn run(
        &self,
        readings: &[Column<'_>],
        standards: &[Column<'_>],
        results: &mut [Computed],
        threads: NonZeroUsize,
    ) {
        let rows = readings.first().map_or(0, |column| column.numbers.len());
        let mut all = readings.iter().chain(standards);
        assert!(all.all(|column| column.has_rows(rows)));
        assert_eq!(readings.len(), self.readings);
        assert_eq!(standards.len(), self.stated);
        assert_eq!(results.len(), self.columns.count());
        let given = Given {
            readings,
            standards,
        };
        in_stretches(results, rows, WIDTH, threads, |stretch| {
            self.stretch(given, stretch);
        });
    }

    fn stretch(&self, given: Given<'_>, stretch: Stretch<'_>) {
        let Stretch {
            rows,
            mut parts,
            is_large,
        } = stretch;
        let mut work = Work {
            room: self.columns.room(),
            plain: self.plain.as_ref().map(|plain| plain.fused.room()),
            supplied: Vec::with_capacity(self.inputs.len() + self.standards.len()),
        };
        let whole = rows.start + rows.len() / WIDTH * WIDTH;
        let mut made = vec![Lanes::<WIDTH>::MISSING; parts.len()];
        past_caches(|caches| {
            for start in (rows.start..whole).step_by(WIDTH) {
                let block = start..start + WIDTH;
                if is_large {
                    let to = made.iter_mut().map(Lanes::view_mut).collect();
                    self.block(given, block, &mut work, to);
                    for (part, made) in parts.iter_mut().zip(&made) {
                        part.put_past(caches, made.view());
                    }
                } else {
                    let to = parts.iter_mut().filter_map(Part::take_block).collect();
                    self.block(given, block, &mut work, to);
                }
            }
        });
        if whole < rows.end {
            let width = rows.end - whole;
            self.any_block(given, whole..rows.end, &mut work.room);
            for (at, part) in parts.iter_mut().enumerate() {
                let standard = self.columns.standard(&work.room, at);
                part.put(&standard.values[..width], &standard.states[..width]);
            }
        }
    }

    /// Computes a whole block.
    fn block<'a>(
        &self,
        given: Given<'a>,
        rows: Range<usize>,
        work: &mut Work<'a>,
        mut to: Vec<ViewMut<'_, WIDTH>>,
    ) {
        if self.plain_block(given, &rows, work, &mut to) {
            return;
        }
        self.any_block(given, rows, &mut work.room);
        for (at, to) in to.iter_mut().enumerate() {
            let standard = self.columns.standard(&work.room, at);
            *to.values = *standard.values;
            *to.states = *standard.states;
        }
    }

    /// Computes a block whose rows are all plain; whether they were.
    fn plain_block<'a>(
        &self,
        given: Given<'a>,
        rows: &Range<usize>,
        work: &mut Work<'a>,
        blocks: &mut [ViewMut<'_, WIDTH>],
    ) -> bool {
        let (Some(plain), Some(room)) = (&self.plain, &mut work.plain) else {
            return false;
        };
        let readings = self.inputs.iter().map(|(at, _)| &given.readings[*at]);
        let standards = self.standards.iter().map(|at| &given.standards[*at]);
        work.supplied.clear();
        for column in readings.chain(standards) {
            if !column.is_whole(rows) {
                return false;
            }
            let numbers = &column.numbers[rows.clone()];
            work.supplied.extend(numbers.first_chunk::<WIDTH>());
        }
        let fused = &plain.fused;
        let is_plain = fused.run(&work.supplied, room, blocks);
        if is_plain {
            for (block, state) in blocks.iter_mut().zip(&plain.states) {
                *block.states = [state.bits(); WIDTH];
            }
        }
        is_plain
    }

    /// Computes a block whatever its rows are, and leaves the results in its room.
    fn any_block(&self, given: Given<'_>, rows: Range<usize>, room: &mut Room<WIDTH>) {
        let (start, width) = (rows.start, rows.len());
        for (at, (column, feed)) in self.inputs.iter().enumerate() {
            let lanes = self.columns.row(room, at);
            feed.fill(&given.readings[*column], start, width, lanes);
        }
        for (at, column) in self.standards.iter().enumerate() {
            let column = &given.standards[*column];
            let lanes = self.columns.uncertainty(room, at);
            lanes.states = column.absent(start, width);
            lanes.values[..width].copy_from_slice(&column.numbers[rows.clone()]);
        }
        self.columns.run(room);
    }
}

#[cfg(test)]
mod tests;
