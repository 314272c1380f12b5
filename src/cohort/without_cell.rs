//! Columns that are named like a reading of the sheet's exams, and belong to none of them.

use std::fmt;

use crate::sheet::Sheet;

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
        let of_exam = |cell: &crate::formula::CellId| {
            let whole = sheet.name(*cell);
            let exam = whole.strip_suffix(name)?.strip_suffix('.')?;
            let is_exam = !exam.contains('.') && !is_way(exam);
            let about = sheet.about(*cell)?;
            let is_read = !sheet.is_derived(*cell) || about.domain.is_some();
            (is_exam && is_read).then_some(whole)
        };
        let cells: Vec<_> = sheet
            .cells()
            .filter(|cell| of_exam(cell).is_some())
            .collect();
        let first = cells.first()?;
        let unit = match sheet
            .unit(*first)
            .filter(|_| sheet.words(*first).is_empty())
        {
            Some(unit) if unit != crate::quantity::Unit::ONE => format!(" {unit}"),
            _ => String::new(),
        };
        Some(WithoutCell {
            heading: heading.trim().to_owned(),
            name: name.to_owned(),
            cells: cells.iter().map(|cell| sheet.name(*cell)).collect(),
            line: format!("{name} = ?{unit}"),
        })
    }
}

/// Whether this is how exams are compared, and the name of none.
fn is_way(exam: &str) -> bool {
    ["change", "difference"].contains(&exam)
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
