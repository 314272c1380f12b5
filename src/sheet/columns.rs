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
//! assert!(results[0].states[1].is_missing());
//! // No diameter is negative.
//! assert!(results[0].states[2].is_faulty());
//! ```

use std::num::NonZeroUsize;

use super::gate::Gate;
use super::program::{Block, Program};
use super::sheet::Sheet;
use crate::formula::{CellId, Facet, Lane, Lanes, Status};

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
    pub numbers: Vec<f64>,
    /// Known, missing or faulty, and the origin.
    pub states: Vec<Status>,
}

impl Computed {
    /// The value in a row; `None` where it is not known.
    pub fn value(&self, row: usize) -> Option<f64> {
        self.states[row].is_known().then(|| self.numbers[row])
    }
}

/// Formulas of a sheet made ready to run over columns.
pub struct Calculation {
    program: Program,
    /// For each input of the program, the column that supplies it.
    inputs: Vec<Input>,
    /// Where the outputs stand in a block.
    outputs: Vec<usize>,
}

/// What a column supplies.
struct Input {
    column: usize,
    gate: Gate,
    /// What is said of a number that is there, and of one that is not.
    facet: Option<(Lane, Lane)>,
}

impl Calculation {
    /// Makes ready to compute `outputs` from columns of readings of `inputs`; whatever else the
    /// formulas use keeps the sheet's own readings. `None` where an input takes words, not
    /// numbers, or a cell is of another sheet.
    pub fn new(sheet: &Sheet, inputs: &[CellId], outputs: &[CellId]) -> Option<Calculation> {
        let gates: Vec<Gate> = inputs
            .iter()
            .map(|cell| sheet.gate(*cell, sheet.unit(*cell)?))
            .collect::<Option<_>>()?;
        let program = Program::new(sheet, outputs, inputs);
        let asked = program.inputs().iter().map(|asked| {
            let column = inputs.iter().position(|cell| *cell == asked.cell)?;
            let facet = match asked.facet {
                Facet::Value => None,
                facet => Some(sheet.facet_lanes(asked.cell, facet)?),
            };
            Some(Input {
                column,
                gate: gates[column],
                facet,
            })
        });
        Some(Calculation {
            inputs: asked.collect::<Option<_>>()?,
            outputs: outputs
                .iter()
                .map(|cell| program.slot(*cell))
                .collect::<Option<_>>()?,
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
        let bits = |column: &Column<'_>| column.known.is_none_or(|k| k.len() * 8 >= rows);
        assert!(columns.iter().all(|c| c.numbers.len() == rows && bits(c)));
        assert_eq!(results.len(), self.outputs.len());
        for result in results.iter_mut() {
            result.numbers.resize(rows, 0.0);
            result.states.resize(rows, Status::MISSING);
        }
        let share = rows
            .div_ceil(threads.get())
            .next_multiple_of(WIDTH)
            .max(WIDTH);
        let mut rest: Vec<Part<'_>> = results
            .iter_mut()
            .map(|result| Part {
                numbers: &mut result.numbers,
                states: &mut result.states,
            })
            .collect();
        std::thread::scope(|scope| {
            for start in (0..rows).step_by(share) {
                let len = share.min(rows - start);
                let parts: Vec<Part<'_>> = rest.iter_mut().map(|part| part.take(len)).collect();
                if start + len == rows {
                    self.run_part(columns, start, len, parts);
                } else {
                    scope.spawn(move || self.run_part(columns, start, len, parts));
                }
            }
        });
    }

    fn run_part(&self, columns: &[Column<'_>], start: usize, len: usize, mut parts: Vec<Part<'_>>) {
        let mut block: Block<WIDTH> = self.program.block();
        let mut lanes = vec![Lanes::<WIDTH>::MISSING; self.inputs.len()];
        for at in (0..len).step_by(WIDTH) {
            let width = WIDTH.min(len - at);
            for (lanes, input) in lanes.iter_mut().zip(&self.inputs) {
                input.fill(&columns[input.column], start + at, width, lanes);
            }
            let borrowed: Vec<&Lanes<WIDTH>> = lanes.iter().collect();
            self.program.run(&borrowed, &mut block);
            for (part, slot) in parts.iter_mut().zip(&self.outputs) {
                part.put(at, width, block.lanes(*slot));
            }
        }
    }
}

/// The results of a stretch of rows.
struct Part<'r> {
    numbers: &'r mut [f64],
    states: &'r mut [Status],
}

impl<'r> Part<'r> {
    /// Takes rows off the start.
    fn take(&mut self, len: usize) -> Part<'r> {
        let (numbers, rest) = std::mem::take(&mut self.numbers).split_at_mut(len);
        self.numbers = rest;
        let (states, rest) = std::mem::take(&mut self.states).split_at_mut(len);
        self.states = rest;
        Part { numbers, states }
    }

    fn put(&mut self, at: usize, width: usize, lanes: &Lanes<WIDTH>) {
        self.numbers[at..at + width].copy_from_slice(&lanes.values[..width]);
        let states = self.states[at..at + width].iter_mut();
        for (state, lane) in states.zip(&lanes.states) {
            *state = Status(*lane);
        }
    }
}

impl Input {
    fn fill(&self, column: &Column<'_>, start: usize, width: usize, lanes: &mut Lanes<WIDTH>) {
        let numbers = &column.numbers[start..start + width];
        match self.facet {
            None => self.fill_numbers(numbers, lanes),
            Some((known, _)) => {
                lanes.values = [known.value; WIDTH];
                lanes.states = [known.status.0; WIDTH];
            }
        }
        let Some(known) = column.known else {
            return;
        };
        let absent = self.facet.map_or(Lane::MISSING, |(_, absent)| absent);
        for (byte, lane) in (start / 8..).zip((0..width).step_by(8)) {
            // Most readings are there.
            if known[byte] == u8::MAX {
                continue;
            }
            for bit in (0..8).filter(|bit| known[byte] & (1 << bit) == 0 && lane + bit < width) {
                lanes.set(lane + bit, absent);
            }
        }
    }

    fn fill_numbers(&self, numbers: &[f64], lanes: &mut Lanes<WIDTH>) {
        let lanes = lanes.values.iter_mut().zip(&mut lanes.states);
        for (number, (value, state)) in numbers.iter().zip(lanes) {
            let admitted = self.gate.admit(*number);
            *value = admitted.unwrap_or(1.0);
            *state = match admitted {
                Some(_) => Status::MEASURED.0,
                None => Status::FAULTY.0,
            };
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
