//! A cohort held in memory, for tables and charts.

use std::collections::HashMap;
use std::path::Path;

use super::apply::{Counts, Runner, Sink, UsedRow};
use super::binding::Binding;
use super::error::CohortError;
use super::remarks::HeldAdvice;
use super::table::{RawRow, TableReader};
use crate::formula::CellId;
use crate::quantity::Origin;
use crate::sheet::{Advisory, Sheet};

/// A row that was set aside.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SetAside {
    /// Number of the row, from 1, headings not counted.
    pub row: usize,
    /// Why.
    pub reason: String,
}

/// One value of a cohort's column.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct RowValue {
    /// The value in the cell's unit.
    pub value: f64,
    /// Where it came from.
    pub origin: Origin,
}

/// The rows of a table that a sheet could use, with all their known values.
#[derive(Clone, Debug, Default)]
pub struct Cohort {
    /// How many rows went where.
    pub counts: Counts,
    /// The rows set aside, in order.
    pub set_aside: Vec<SetAside>,
    /// Advice that held, with the number of rows in which it did.
    pub advisories: Vec<(Advisory, usize)>,
    /// By the name of the cell, which outlives the sheet that it was computed with.
    columns: HashMap<String, Vec<Option<RowValue>>>,
    rows: Vec<usize>,
}

impl Cohort {
    /// Applies a sheet to the table in a file and keeps the results.
    ///
    /// # Errors
    /// [`CohortError`].
    pub fn read(sheet: &Sheet, table: &Path) -> Result<Cohort, CohortError> {
        Cohort::from_reader(sheet, TableReader::open(table)?)
    }

    /// Applies a sheet to a table and keeps the results.
    ///
    /// # Errors
    /// [`CohortError`].
    pub fn from_reader(sheet: &Sheet, mut reader: TableReader) -> Result<Cohort, CohortError> {
        let binding = Binding::by_headings(sheet, reader.headings())?;
        let bound = binding.cells();
        let derived = sheet.reachable(&bound);
        let kept: Vec<CellId> = derived.iter().chain(&bound).copied().collect();
        let mut sink = MemorySink {
            cohort: Cohort::default(),
            kept: kept.iter().map(|c| (*c, sheet.name(*c))).collect(),
            held: HeldAdvice::new(&sheet.rule_texts()),
        };
        let mut runner = Runner::new(sheet, &binding, derived, &kept);
        while let Some(row) = reader.next_row()? {
            match row {
                RawRow::Fields(fields) => runner.row(fields, &mut sink),
                RawRow::NotText(fields) => {
                    runner.refused(&fields, "a field is not UTF-8 text", &mut sink)
                }
            }
            .unwrap_or_else(|never| match never {});
        }
        let counts = runner
            .finish(&mut sink)
            .unwrap_or_else(|never| match never {});
        Ok(sink.into_cohort(counts))
    }

    /// The values of a cell over the rows used; `None` for a cell that no row could make known.
    pub fn column(&self, name: &str) -> Option<&[Option<RowValue>]> {
        self.columns.get(name).map(Vec::as_slice)
    }

    /// The names of the cells that have a column, sorted.
    pub fn names(&self) -> Vec<&str> {
        let mut names: Vec<&str> = self.columns.keys().map(String::as_str).collect();
        names.sort_unstable();
        names
    }

    /// Number of each used row in the table, from 1.
    pub fn rows(&self) -> &[usize] {
        &self.rows
    }

    /// The rows in which both cells are known: number of the used row, and the two values.
    pub fn pairs(&self, x: &str, y: &str) -> Vec<(usize, RowValue, RowValue)> {
        let (Some(x), Some(y)) = (self.column(x), self.column(y)) else {
            return Vec::new();
        };
        x.iter()
            .zip(y)
            .enumerate()
            .filter_map(|(row, (x, y))| Some((row, (*x)?, (*y)?)))
            .collect()
    }
}

struct MemorySink {
    cohort: Cohort,
    kept: Vec<(CellId, String)>,
    held: HeldAdvice,
}

impl MemorySink {
    fn into_cohort(self, counts: Counts) -> Cohort {
        let mut cohort = self.cohort;
        cohort.counts = counts;
        cohort.advisories = self.held.into_counts();
        cohort
    }
}

impl Sink for MemorySink {
    type Error = std::convert::Infallible;

    fn used(&mut self, row: &UsedRow<'_>) -> Result<(), Self::Error> {
        for (cell, name) in &self.kept {
            let value = row.lane(*cell).filter(|lane| lane.status.is_known());
            let value = value.map(|lane| RowValue {
                value: lane.value,
                origin: lane.status.origin(),
            });
            let columns = &mut self.cohort.columns;
            match columns.get_mut(name) {
                Some(column) => column.push(value),
                None => {
                    columns.insert(name.clone(), vec![value]);
                }
            }
        }
        self.held.count(row);
        self.cohort.rows.push(row.number);
        Ok(())
    }

    fn set_aside(&mut self, row: usize, _: &[String], reason: &str) -> Result<(), Self::Error> {
        self.cohort.set_aside.push(SetAside {
            row,
            reason: reason.to_owned(),
        });
        Ok(())
    }
}
