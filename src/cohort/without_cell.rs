//! Columns that are named like a reading of the sheet's exams, and belong to none of them.

use std::fmt;

use crate::formula::CellId;
use crate::quantity::Unit;
use crate::sheet::{Sheet, is_way};

/// A column that found no cell, because in the sheet its name belongs to exams.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct WithoutCell {
    /// The heading.
    pub heading: String,
    /// The name in it.
    pub name: String,
    /// The cells of exams that have this name.
    pub cells: Vec<String>,
    /// The line that gives all exams one cell of this name.
    pub line: String,
}

impl WithoutCell {
    /// What is said of a heading with this name, if the sheet's exams have readings of it.
    pub(super) fn of(sheet: &Sheet, heading: &str, name: &str) -> Option<WithoutCell> {
        let of_exam = |cell: &CellId| {
            let whole = sheet.name(*cell);
            let exam = whole.strip_suffix(name)?.strip_suffix('.')?;
            // `change.X` tells how exams differ, and is of none.
            let is_exam = !exam.contains('.') && !is_way(exam);
            let about = sheet.about(*cell)?;
            let is_read = !sheet.is_derived(*cell) || about.domain.is_some();
            (is_exam && is_read).then_some(whole)
        };
        let found = sheet
            .cells()
            .filter_map(|cell| Some((cell, of_exam(&cell)?)));
        let (found, cells): (Vec<CellId>, Vec<String>) = found.unzip();
        let first = *found.first()?;
        let unit = match sheet.unit(first).filter(|_| sheet.words(first).is_empty()) {
            Some(unit) if unit != Unit::ONE => format!(" {unit}"),
            _ => String::new(),
        };
        Some(WithoutCell {
            heading: heading.trim().to_owned(),
            name: name.to_owned(),
            cells,
            line: format!("{name} = ?{unit}"),
        })
    }
}

impl fmt::Display for WithoutCell {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let cells: Vec<String> = self.cells.iter().map(|cell| format!("`{cell}`")).collect();
        write!(
            f,
            "column `{}` found no cell: the sheet has {}; the line `{}` in the sheet gives all exams \
             one cell of that name",
            self.heading,
            cells.join(" and "),
            self.line
        )
    }
}
