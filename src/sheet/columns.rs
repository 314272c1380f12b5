//! A sheet over columns in memory: numbers in, numbers and states out, on several threads.
//!
//! ```
//! use std::num::NonZeroUsize;
//! use semilunar::sheet::{Calculation, Column, Computed, Sheet};
//!
//! let sheet = Sheet::read("use hemodynamics").unwrap().sheet;
//! let cells = |names: &[&str]| names.iter().map(|n| sheet.cell(n).unwrap()).collect::<Vec<_>>();
//! let calculation = Calculation::new(
//!     &sheet,
//!     &cells(&["lvot_diameter", "lvot_vti"]),
//!     &cells(&["stroke_volume"]),
//! )
//! .unwrap();
//! let (diameters, integrals) = ([2.0, 2.0, -2.0], [20.0, 0.0, 20.0]);
//! let columns = [
//!     Column::of(&diameters),
//!     // The second is not there.
//!     Column { numbers: &integrals, known: Some(&[0b101]) },
//! ];
//! let mut results = vec![Computed::default()];
//! calculation.run(&columns, &mut results, NonZeroUsize::MIN);
//! assert_eq!(results[0].value(0), Some(std::f64::consts::PI * 20.0));
//! assert!(results[0].state(1).is_missing());
//! // No diameter is negative.
//! assert!(results[0].state(2).is_faulty());
//! ```

use std::num::NonZeroUsize;
use std::ops::Range;

use super::buffer::Buffer;
use super::gate::Gate;
use super::near::{Ahead, NEAR, bring_near};
use super::parts::{Part, Stretch, in_stretches};
use super::program::{Block, Program};
use super::sheet::Sheet;
use crate::formula::simd::{Job, PastCaches, past_caches, widest};
use crate::formula::{CellId, Facet, Lane, Lanes, PlainBounds, Status};

/// Rows computed at once.
const WIDTH: usize = 256;

/// A column of readings of one cell, in the cell's unit.
#[derive(Clone, Copy, Debug)]
pub struct Column<'c> {
    /// The numbers; where a number is not known, any.
    pub numbers: &'c [f64],
    /// Which numbers are known: bit `k % 8` of byte `k / 8` for row `k`, as Arrow has it. All of
    /// them where this is `None`.
    pub known: Option<&'c [u8]>,
}

impl<'c> Column<'c> {
    /// A column of numbers that are all known.
    pub fn of(numbers: &'c [f64]) -> Column<'c> {
        Column {
            numbers,
            known: None,
        }
    }
}

/// What was computed for one cell; its memory is used again by the next run.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Computed {
    /// In the cell's unit; of no meaning where the state is not known.
    pub numbers: Buffer<f64>,
    /// Known, missing or faulty, and the origin, as [`Status::bits`].
    pub states: Buffer<u8>,
}

impl Computed {
    /// The value in a row; `None` where it is not known.
    pub fn value(&self, row: usize) -> Option<f64> {
        self.state(row).is_known().then(|| self.numbers[row])
    }

    /// The state in a row.
    pub fn state(&self, row: usize) -> Status {
        Status(self.states[row])
    }
}

/// Formulas of a sheet made ready to run over columns.
pub struct Calculation {
    program: Program,
    /// For each input of the program, the column that supplies it.
    inputs: Vec<Input>,
    outputs: Vec<Output>,
}

/// Where an output comes from.
#[derive(Clone, Copy)]
struct Output {
    slot: usize,
    /// Whether it is computed where the results stand, and not copied there.
    is_direct: bool,
}

/// What a column supplies.
struct Input {
    column: usize,
    feed: Feed,
}

/// How the numbers of a column become lanes of a cell, or of what is asked of its readings.
pub(crate) struct Feed {
    gate: Gate,
    /// What is said of a number that is there, and of one that is not.
    facet: Option<(Lane, Lane)>,
}

impl Calculation {
    /// Makes ready to compute `outputs` from columns of readings of `inputs`; whatever else the
    /// formulas use keeps the sheet's own readings. `None` where an input takes words, not
    /// numbers, or a cell is of another sheet.
    pub fn new(sheet: &Sheet, inputs: &[CellId], outputs: &[CellId]) -> Option<Calculation> {
        // A column of words is refused whether a formula asks for it or not.
        for cell in inputs {
            Feed::of(sheet, *cell, Facet::Value)?;
        }
        let program = Program::new(sheet, outputs, inputs);
        let asked = program.inputs().iter().map(|asked| {
            Some(Input {
                column: inputs.iter().position(|cell| *cell == asked.cell)?,
                feed: Feed::of(sheet, asked.cell, asked.facet)?,
            })
        });
        let slots: Vec<usize> = outputs
            .iter()
            .map(|cell| program.slot(*cell))
            .collect::<Option<_>>()?;
        let output = |slot: &usize| Output {
            slot: *slot,
            // Where a cell is asked for twice, its lanes have no one place to go to.
            is_direct: program.is_computed(*slot)
                && slots.iter().filter(|other| *other == slot).count() == 1,
        };
        Some(Calculation {
            inputs: asked.collect::<Option<_>>()?,
            outputs: slots.iter().map(output).collect(),
            program,
        })
    }

    /// Computes all rows; what comes of it does not depend on `threads`.
    ///
    /// # Panics
    /// Where the columns are not those of the inputs in number and of one length, or the results
    /// not those of the outputs in number.
    pub fn run(&self, columns: &[Column<'_>], results: &mut [Computed], threads: NonZeroUsize) {
        let rows = columns.first().map_or(0, |column| column.numbers.len());
        assert!(columns.iter().all(|column| column.has_rows(rows)));
        assert_eq!(results.len(), self.outputs.len());
        in_stretches(results, rows, WIDTH, threads, |stretch| {
            self.stretch(columns, stretch);
        });
    }

    fn stretch(&self, columns: &[Column<'_>], stretch: Stretch<'_>) {
        let Stretch {
            rows,
            mut parts,
            is_large,
        } = stretch;
        let mut block: Block<WIDTH> = self.program.block();
        let whole = rows.start + rows.len() / WIDTH * WIDTH;
        let shares = NEAR / WIDTH * (self.inputs.len() + self.program.computed());
        let mut ahead = Ahead::new(columns, &rows, shares);
        past_caches(|caches| {
            for at in (rows.start..whole).step_by(WIDTH) {
                if (at - rows.start).is_multiple_of(NEAR) {
                    ahead.turn();
                    if !is_large {
                        bring_near(&parts);
                    }
                }
                self.fill(columns, at..at + WIDTH, &mut block, &mut ahead);
                match is_large {
                    true => self.run_past(&mut block, &mut ahead, &mut parts, caches),
                    false => self.run_block(&mut block, &mut ahead, &mut parts),
                }
            }
        });
        if whole < rows.end {
            let width = rows.end - whole;
            self.fill(columns, whole..rows.end, &mut block, &mut ahead);
            self.program.run_filled(&mut block);
            for (part, output) in parts.iter_mut().zip(&self.outputs) {
                let lanes = block.lanes(output.slot);
                part.put(&lanes.values[..width], &lanes.states[..width]);
            }
        }
    }

    fn fill(
        &self,
        columns: &[Column<'_>],
        rows: Range<usize>,
        block: &mut Block<WIDTH>,
        ahead: &mut Ahead<'_>,
    ) {
        for (number, input) in self.inputs.iter().enumerate() {
            ahead.ask();
            let lanes = self.program.input(block, number);
            let column = &columns[input.column];
            input.feed.fill(column, rows.start, rows.len(), lanes);
        }
    }

    /// Computes a whole block, and from there the next rows of the parts past the caches.
    fn run_past<'r>(
        &self,
        block: &mut Block<WIDTH>,
        ahead: &mut Ahead<'_>,
        parts: &mut [Part<'r>],
        caches: &PastCaches<'r>,
    ) {
        self.program.run_between(block, || ahead.ask());
        for (part, output) in parts.iter_mut().zip(&self.outputs) {
            part.put_past(caches, block.lanes(output.slot).view());
        }
    }

    /// Computes a whole block into the next rows of the parts.
    fn run_block(&self, block: &mut Block<WIDTH>, ahead: &mut Ahead<'_>, parts: &mut [Part<'_>]) {
        let places = parts.iter_mut().zip(&self.outputs);
        let direct = places
            .filter(|(_, output)| output.is_direct)
            .filter_map(|(part, output)| Some((output.slot, part.take_block()?)));
        self.program.run_into(block, direct, || ahead.ask());
        for (part, output) in parts.iter_mut().zip(&self.outputs) {
            if !output.is_direct {
                let lanes = block.lanes(output.slot);
                part.put(&lanes.values, &lanes.states);
            }
        }
    }
}

impl Feed {
    /// For readings of a cell, as columns have them; `None` where it takes words, not numbers.
    pub(crate) fn of(sheet: &Sheet, cell: CellId, facet: Facet) -> Option<Feed> {
        Some(Feed {
            gate: sheet.gate(cell, sheet.unit(cell)?)?,
            facet: match facet {
                Facet::Value => None,
                facet => Some(sheet.facet_lanes(cell, facet)?),
            },
        })
    }

    /// Fills lanes with `width` rows from one whose number is a multiple of 8.
    pub(crate) fn fill<const W: usize>(
        &self,
        column: &Column<'_>,
        start: usize,
        width: usize,
        lanes: &mut Lanes<W>,
    ) {
        match self.facet {
            None => {
                let numbers = &column.numbers[start..start + width];
                let known = column.known(start, width);
                self.gate.admit_all(numbers, known, lanes);
            }
            Some((known, unknown)) => {
                let absent: [u8; W] = column.absent(start, width);
                for (lane, absent) in absent.into_iter().enumerate() {
                    lanes.set(lane, if absent == 0 { known } else { unknown });
                }
            }
        }
    }

    /// Bounds within which numbers come through as they are; `None` where none do.
    pub(crate) fn plain_bounds(&self) -> Option<PlainBounds> {
        match self.facet {
            None => self.gate.plain_bounds(),
            Some(_) => None,
        }
    }
}

impl Column<'_> {
    /// Whether the column has so many rows, and says of each whether it is known.
    pub(crate) fn has_rows(&self, rows: usize) -> bool {
        self.numbers.len() == rows && self.known.is_none_or(|known| known.len() * 8 >= rows)
    }

    /// The states of numbers that are there, or missing, as their bits say. Blocks start at a whole
    /// byte.
    pub(crate) fn absent<const W: usize>(&self, start: usize, width: usize) -> [u8; W] {
        let mut states = [Status::MEASURED.0; W];
        if let Some(known) = self.known(start, width) {
            let states = &mut states;
            widest(Absent { known, states });
        }
        states
    }

    /// The bytes that say which rows are there.
    fn known(&self, start: usize, width: usize) -> Option<&[u8]> {
        self.known
            .map(|known| &known[start / 8..(start + width).div_ceil(8)])
    }

    /// Whether all rows are there; they start and end at a whole byte.
    pub(crate) fn is_whole(&self, rows: &Range<usize>) -> bool {
        let bytes = |known: &[u8]| {
            let mut bytes = known[rows.start / 8..rows.end / 8].iter();
            bytes.all(|byte| *byte == u8::MAX)
        };
        self.known.is_none_or(bytes)
    }
}

/// States of numbers as bits say which are there.
pub(super) struct Absent<'a, const W: usize> {
    pub(super) known: &'a [u8],
    pub(super) states: &'a mut [u8; W],
}

impl<const W: usize> Job for Absent<'_, W> {
    #[inline(always)]
    fn run(self) {
        /// One bit of each byte, the first byte's lowest.
        const ONE_EACH: u64 = 0x8040_2010_0804_0201;
        const EVERY: u64 = 0x0101_0101_0101_0101;
        for (byte, states) in self.known.iter().zip(self.states.as_chunks_mut::<8>().0) {
            let lacking = (u64::from(!byte) * EVERY) & ONE_EACH;
            // Any bit of a byte, moved to the place that says missing.
            let any = ((lacking + (EVERY * 0x7f)) >> 7) & EVERY;
            *states = (any * u64::from(Status::MISSING_BIT)).to_le_bytes();
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const INPUTS: [&str; 4] = ["lvot_diameter", "lvot_vti", "heart_rate", "rhythm_free"];

    /// Any number of threads, any number of rows, the same bits as the sheet.
    #[test]
    fn columns_are_the_sheet_row_by_row() {
        let text = "use hemodynamics\nrhythm_free = 1\n\
            own [mL] = if beat_count(lvot_vti) < 2 then stroke_volume * rhythm_free else stroke_volume";
        let sheet = Sheet::read(text).unwrap().sheet;
        let inputs = INPUTS.map(|name| sheet.cell(name).unwrap());
        let outputs = ["stroke_volume", "cardiac_output", "own"].map(|n| sheet.cell(n).unwrap());
        let calculation = Calculation::new(&sheet, &inputs, &outputs).unwrap();
        for rows in [0_usize, 1, 255, 256, 257, 1500] {
            let column = |low: f64, step: f64| -> Vec<f64> {
                (0..rows)
                    .map(|row| low + step * (row % 97) as f64)
                    .collect()
            };
            let numbers = [
                column(1.5, 0.01),
                column(-1.0, 0.5),
                column(40.0, 1.5),
                column(1.0, 0.0),
            ];
            let known: Vec<u8> = (0..rows.div_ceil(8)).map(|b| (b * 37 + 11) as u8).collect();
            let columns: Vec<Column<'_>> = numbers
                .iter()
                .enumerate()
                .map(|(at, numbers)| Column {
                    numbers,
                    known: (at < 2).then_some(&known[..]),
                })
                .collect();
            let run = |threads: usize| {
                let mut results = vec![Computed::default(); outputs.len()];
                calculation.run(&columns, &mut results, NonZeroUsize::new(threads).unwrap());
                results
            };
            let results = run(1);
            assert_eq!(run(2), results);
            assert_eq!(run(3), results);
            for row in 0..rows {
                let mut one = sheet.clone();
                let is_known = known[row / 8] & (1 << (row % 8)) != 0;
                let mut is_possible = true;
                for (at, cell) in inputs.iter().enumerate() {
                    if at < 2 && !is_known {
                        continue;
                    }
                    is_possible &= one
                        .measure(*cell, numbers[at][row], sheet.unit(*cell).unwrap())
                        .is_ok();
                }
                for (cell, computed) in outputs.iter().zip(&results) {
                    let value = one.value(*cell).filter(|_| is_possible);
                    let place = format!("row {row} of {rows}, {}", sheet.name(*cell));
                    assert_eq!(
                        computed.value(row).map(f64::to_bits),
                        value.map(f64::to_bits),
                        "{place}"
                    );
                }
            }
        }
    }

    #[test]
    fn words_are_no_columns_of_numbers() {
        let sheet = Sheet::read("use hemodynamics").unwrap().sheet;
        let cell = |name| sheet.cell(name).unwrap();
        let made = Calculation::new(&sheet, &[cell("rhythm")], &[cell("stroke_volume")]);
        assert!(made.is_none());
    }
}
