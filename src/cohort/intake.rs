//! Rows into lanes: plain numbers and known words quickly, everything else as `row.rs` reads it.
//!
//! `row.rs` says what a row means. What is quick here must come to the same; tests hold it to
//! that.

use std::collections::HashMap;
use std::ops::Range;

use super::apply::WIDTH;
use super::binding::{Binding, BoundColumn, Part};
use super::checks::{Finding, Why};
use super::plain_number::plain_number;
use super::rewritten::Rewritten;
use super::row::{
    RowReadings, Wrong, add_to_key, lane_of, read_row, reading, says_nothing, trimmed,
};
use super::rows::Rows;
use super::stood::{RowFields, Stood};
use crate::formula::{Facet, Lane, Lanes, Status};
use crate::quantity::{Content, Origin, Reading};
use crate::sheet::{Gate, Program, Sheet};

/// Distinct texts of a cell's columns that are kept in mind; a column with more is no column of
/// words.
const REMEMBERED: usize = 1024;

/// How the rows of a table supply the inputs of a program.
pub(super) struct Intake {
    cells: Vec<CellIntake>,
}

/// How the columns of one cell supply what a program asks of it.
struct CellIntake {
    /// The column of values.
    bound: BoundColumn,
    /// The columns that say more of the value.
    more: Vec<usize>,
    /// Inputs of the program, by number, and what each asks.
    inputs: Vec<(usize, Facet)>,
    /// Where numbers come in; none for words.
    gate: Option<Gate>,
    /// The inputs where a field says nothing.
    silent: Vec<Lane>,
}

/// What was learned while rows were read, and the numbers of the rows at hand.
#[derive(Default)]
pub(super) struct Memory {
    numbers: Vec<NumberColumn>,
    known: Vec<HashMap<String, Option<Vec<Lane>>>>,
    key: String,
    /// The numbers that leave in another form than they came.
    rewritten: Rewritten,
}

/// A column of values, as numbers.
#[derive(Default)]
struct NumberColumn {
    /// As they stand in the fields; not a number where a field holds none.
    values: Vec<f64>,
    looks: Vec<Look>,
}

impl Memory {
    /// The numbers that leave in another form than they came; they are not there afterwards.
    pub(super) fn take_rewritten(&mut self) -> Rewritten {
        std::mem::take(&mut self.rewritten)
    }
}

/// What a field of values looks like.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Look {
    Number,
    Blank,
    Other,
}

/// A stretch of rows to compute at once.
pub(super) struct Stretch<'r> {
    pub(super) rows: &'r Rows,
    pub(super) stood: &'r Stood,
    pub(super) start: usize,
    pub(super) len: usize,
}

impl Stretch<'_> {
    /// Reads the row in a lane with care; what was found beside the readings belongs in its remarks.
    ///
    /// # Errors
    /// As [`read_row`].
    pub(super) fn read_row(
        &self,
        sheet: &Sheet,
        binding: &Binding,
        lane: usize,
    ) -> Result<(RowReadings, Vec<Finding>), Vec<Wrong>> {
        let row = self.start + lane;
        let fields = self.rows.fields(row, binding.headings.len());
        let fields: Vec<&str> = fields.iter().map(AsRef::as_ref).collect();
        let stood = self.stood.fields(self.rows.number(row), fields.len());
        read_row(sheet, binding, RowFields::anew(&fields, stood.as_deref()))
    }
}

impl Intake {
    pub(super) fn new(sheet: &Sheet, binding: &Binding, program: &Program) -> Intake {
        let values = binding.columns.iter().filter(|c| c.part == Part::Value);
        let cells = values.map(|bound| {
            let asked = program.inputs().iter().enumerate();
            let inputs: Vec<(usize, Facet)> = asked
                .filter(|(_, input)| input.cell == bound.cell)
                .map(|(at, input)| (at, input.facet))
                .collect();
            let more = binding.columns.iter();
            CellIntake {
                more: more
                    .filter(|c| c.cell == bound.cell && c.part != Part::Value)
                    .map(|c| c.column)
                    .collect(),
                silent: lanes_of(sheet, bound, &Reading::unknown(), &inputs),
                inputs,
                gate: gate(sheet, bound),
                bound: bound.clone(),
            }
        });
        Intake {
            cells: cells.collect(),
        }
    }

    /// Reads the columns of numbers of all rows.
    pub(super) fn read_numbers(&self, rows: &Rows, memory: &mut Memory) {
        memory.known.resize_with(self.cells.len(), HashMap::new);
        memory
            .numbers
            .resize_with(self.cells.len(), NumberColumn::default);
        for (cell, column) in self.cells.iter().zip(&mut memory.numbers) {
            column.values.clear();
            column.looks.clear();
            if cell.gate.is_some() {
                column.read(rows, &cell.bound);
            }
        }
    }

    /// The numbers that were read, by column of the table; they are not there afterwards.
    pub(super) fn take_numbers(&self, memory: &mut Memory) -> HashMap<usize, Vec<f64>> {
        let columns = self.cells.iter().zip(&mut memory.numbers);
        columns
            .filter(|(cell, _)| cell.gate.is_some())
            .map(|(cell, column)| (cell.bound.column, std::mem::take(&mut column.values)))
            .collect()
    }

    /// Fills the inputs of a program from a stretch of rows. A row that cannot be read comes back
    /// with the reason, and its inputs are missing; one of which more must be said, with that.
    pub(super) fn fill(
        &self,
        sheet: &Sheet,
        binding: &Binding,
        stretch: &Stretch<'_>,
        memory: &mut Memory,
        inputs: &mut [Lanes<WIDTH>],
    ) -> Vec<(usize, Result<Vec<Finding>, Wrong>)> {
        let mut is_odd = [false; WIDTH];
        for (at, cell) in self.cells.iter().enumerate() {
            if let Some(plain) = cell.plain() {
                let here = stretch.start..stretch.start + stretch.len;
                plain.read(
                    &memory.numbers[at],
                    here,
                    &mut inputs[plain.input],
                    &mut is_odd,
                );
                continue;
            }
            for (lane, is_odd) in is_odd.iter_mut().enumerate().take(stretch.len) {
                let row = stretch.start + lane;
                let Memory {
                    numbers,
                    known,
                    key,
                    ..
                } = memory;
                let reader = FieldReader {
                    cell,
                    sheet,
                    binding,
                    rows: stretch.rows,
                    known: &mut known[at],
                    key,
                };
                *is_odd |= !reader.read(&numbers[at], row, lane, inputs);
            }
        }
        let odd = (0..stretch.len).filter(|lane| is_odd[*lane]);
        odd.map(|lane| {
            let read = self.read_with_care(sheet, binding, stretch, lane, memory, inputs);
            (lane, read)
        })
        .collect()
    }

    /// Reads a row as `row.rs` does.
    fn read_with_care(
        &self,
        sheet: &Sheet,
        binding: &Binding,
        stretch: &Stretch<'_>,
        lane: usize,
        memory: &mut Memory,
        inputs: &mut [Lanes<WIDTH>],
    ) -> Result<Vec<Finding>, Wrong> {
        let row = stretch.start + lane;
        let read = stretch.read_row(sheet, binding, lane);
        for (cell, numbers) in self.cells.iter().zip(&mut memory.numbers) {
            let column = cell.bound.column;
            if let Ok((readings, _)) = &read
                && let Some(number) = number_of(readings, &cell.bound)
                && let field = stretch.rows.field(row, column)
                && let Some(leaves) = memory.rewritten.note(&cell.bound, row, &field, number)
                && let Some(value) = numbers.values.get_mut(row)
            {
                *value = leaves;
            }
            for (input, facet) in &cell.inputs {
                let found = match &read {
                    Ok((readings, _)) => readings.lane(sheet, cell.bound.cell, *facet),
                    Err(_) => Lane::MISSING,
                };
                inputs[*input].set(lane, found);
            }
        }
        read.map(|(_, found)| found).map_err(|wrong| {
            let texts: Vec<&str> = wrong.iter().map(|w| w.text.as_str()).collect();
            let text = texts.join("; ");
            let why = wrong.first().map_or(Why::Field, |w| w.why);
            Wrong { why, text }
        })
    }
}

/// A cell that rows supply by one column of numbers, and of which only the value is asked.
struct Plain<'a> {
    input: usize,
    gate: &'a Gate,
    known: Status,
    silent: Lane,
}

impl CellIntake {
    fn plain(&self) -> Option<Plain<'_>> {
        match (&self.gate, &self.inputs[..], &self.more[..]) {
            (Some(gate), [(input, Facet::Value)], []) => Some(Plain {
                input: *input,
                gate,
                known: Status::known(self.bound.origin.unwrap_or(Origin::Measured)),
                silent: self.silent[0],
            }),
            _ => None,
        }
    }
}

impl Plain<'_> {
    /// Reads rows into the lanes of the input; `is_odd` tells those that take more care.
    fn read(
        &self,
        numbers: &NumberColumn,
        rows: Range<usize>,
        into: &mut Lanes<WIDTH>,
        is_odd: &mut [bool; WIDTH],
    ) {
        let fields = numbers.values[rows.clone()]
            .iter()
            .zip(&numbers.looks[rows]);
        for (lane, (number, look)) in fields.enumerate() {
            let read = match look {
                Look::Number => self.gate.admit(*number).map(|value| Lane {
                    value,
                    status: self.known,
                }),
                Look::Blank => Some(self.silent),
                Look::Other => None,
            };
            match read {
                Some(read) => into.set(lane, read),
                None => is_odd[lane] = true,
            }
        }
    }
}

/// The number that a row has for a column of values, in the column's unit.
fn number_of(readings: &RowReadings, bound: &BoundColumn) -> Option<f64> {
    let mut all = readings.readings().iter();
    let (_, reading) = all.find(|(cell, _)| *cell == bound.cell)?;
    match reading.content() {
        Content::Magnitude { value, unit } => unit.convert(*value, bound.unit),
        _ => None,
    }
}

/// Where plain numbers of a column come in without a second look.
fn gate(sheet: &Sheet, bound: &BoundColumn) -> Option<Gate> {
    let gate = sheet.gate(bound.cell, bound.unit)?;
    Some(match &bound.factor_ten {
        Some(check) => check.narrowed(gate),
        None => gate,
    })
}

/// What a reading answers to what a program asks.
fn lanes_of(
    sheet: &Sheet,
    bound: &BoundColumn,
    reading: &Reading,
    inputs: &[(usize, Facet)],
) -> Vec<Lane> {
    inputs
        .iter()
        .map(|(_, facet)| lane_of(sheet, bound.cell, reading, *facet))
        .collect()
}

/// Reads the fields of one cell.
struct FieldReader<'a> {
    cell: &'a CellIntake,
    sheet: &'a Sheet,
    binding: &'a Binding,
    rows: &'a Rows,
    known: &'a mut HashMap<String, Option<Vec<Lane>>>,
    key: &'a mut String,
}

impl<'a> FieldReader<'a> {
    /// Reads a row into a lane of the inputs; false where it takes more care.
    #[inline]
    fn read(
        self,
        numbers: &NumberColumn,
        row: usize,
        lane: usize,
        inputs: &mut [Lanes<WIDTH>],
    ) -> bool {
        let cell = self.cell;
        let Some(gate) = &cell.gate else {
            return self.read_words(row, lane, inputs);
        };
        match numbers.looks[row] {
            Look::Other => false,
            Look::Blank => {
                put(&cell.inputs, &cell.silent, lane, inputs);
                true
            }
            Look::Number => match gate.admit(numbers.values[row]) {
                None => false,
                Some(value) => self.read_number(value, row, lane, inputs),
            },
        }
    }

    #[inline]
    fn read_number(
        mut self,
        value: f64,
        row: usize,
        lane: usize,
        inputs: &mut [Lanes<WIDTH>],
    ) -> bool {
        let cell = self.cell;
        // What is said of a number beside it does not depend on the number.
        self.note_key(row, false);
        let Some(said) = self.remembered(row) else {
            return false;
        };
        for ((input, facet), said) in cell.inputs.iter().zip(said) {
            let lane_value = match facet {
                Facet::Value => Lane {
                    value,
                    status: said.status,
                },
                _ => *said,
            };
            inputs[*input].set(lane, lane_value);
        }
        true
    }

    fn read_words(mut self, row: usize, lane: usize, inputs: &mut [Lanes<WIDTH>]) -> bool {
        self.note_key(row, true);
        let asked = &self.cell.inputs;
        match self.remembered(row) {
            Some(lanes) => {
                put(asked, lanes, lane, inputs);
                true
            }
            None => false,
        }
    }

    /// Notes the texts that settle what the cell's columns say in this row.
    fn note_key(&mut self, row: usize, with_value: bool) {
        self.key.clear();
        let value = with_value.then_some(self.cell.bound.column);
        for column in value.iter().chain(&self.cell.more) {
            add_to_key(self.key, &self.rows.field(row, *column));
        }
    }

    /// What these texts came to when they were met before, or come to now; `None` where they
    /// make no reading, or there are too many to remember.
    fn remembered(self, row: usize) -> Option<&'a [Lane]> {
        let FieldReader {
            cell,
            sheet,
            binding,
            rows,
            known,
            key,
        } = self;
        if !known.contains_key(key.as_str()) {
            if known.len() == REMEMBERED {
                return None;
            }
            let fields = rows.fields(row, binding.headings.len());
            let fields: Vec<&str> = fields.iter().map(AsRef::as_ref).collect();
            let read = reading(sheet, binding, &cell.bound, RowFields::plain(&fields));
            let lanes =
                read.map(|(reading, _)| lanes_of(sheet, &cell.bound, &reading, &cell.inputs));
            known.insert(key.clone(), lanes.ok());
        }
        known.get(key.as_str())?.as_deref()
    }
}

impl NumberColumn {
    fn read(&mut self, rows: &Rows, bound: &BoundColumn) {
        if let Rows::Frame(frame) = rows
            && let Some(numbers) = frame.numbers(bound.column)
        {
            // What stands for nothing is a text in a binding file, and a number here.
            let missing: Vec<f64> = bound
                .missing
                .iter()
                .filter_map(|t| plain_number(t.trim()))
                .collect();
            let look = |number: f64| match missing.contains(&number) {
                true => Look::Blank,
                false => Look::Number,
            };
            for chunk in numbers.downcast_iter() {
                let all = chunk.values().iter();
                match chunk.validity() {
                    None => all.for_each(|number| self.push(*number, look(*number))),
                    Some(there) => all
                        .zip(there)
                        .for_each(|(number, is_there)| match is_there {
                            true => self.push(*number, look(*number)),
                            false => self.push(f64::NAN, Look::Blank),
                        }),
                }
            }
            return;
        }
        match rows {
            Rows::Text(rows) => {
                let fields = (0..rows.len()).map(|row| rows.field(row, bound.column));
                fields.for_each(|text| self.push_text(trimmed(text), bound));
            }
            Rows::Frame(_) => (0..rows.len())
                .for_each(|row| self.push_text(trimmed(&rows.field(row, bound.column)), bound)),
        }
    }

    fn push_text(&mut self, text: &str, bound: &BoundColumn) {
        let is_named = !bound.missing.is_empty() && says_nothing(bound, text);
        match plain_number(text) {
            Some(number) if is_named => self.push(number, Look::Blank),
            Some(number) => self.push(number, Look::Number),
            None if is_named || says_nothing(bound, text) => self.push(f64::NAN, Look::Blank),
            None => self.push(f64::NAN, Look::Other),
        }
    }

    fn push(&mut self, value: f64, look: Look) {
        self.values.push(value);
        self.looks.push(look);
    }
}

fn put(asked: &[(usize, Facet)], lanes: &[Lane], lane: usize, inputs: &mut [Lanes<WIDTH>]) {
    for ((input, _), value) in asked.iter().zip(lanes) {
        inputs[*input].set(lane, *value);
    }
}
