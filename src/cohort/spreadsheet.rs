//! Office Open XML spreadsheets (.xlsx, ECMA-376), held whole in memory.
//!
//! Numbers come as numbers, dates as ISO 8601, a number shown in per cent with its `%`; of formulas
//! the values that were kept with them. Title rows above the headings are passed over, merged
//! headings in two rows are joined: `pre` over `VTI` is `pre VTI`. A number that only its display
//! gives leading zeros has none here.

use std::collections::VecDeque;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::Path;

use calamine::{Data, Dimensions, Range, Reader, SheetVisible, Xlsx, XlsxError, open_workbook};

use super::apply::counted;
use super::error::CohortError;
use super::file_entry::FileEntry;
use super::sheet_layout::{Layout, headings};
use super::spreadsheet_size::{Gathered, MOST_BYTES, check_unpacked};
use super::text_rows::{Split, TextRows};
use super::whole::file_error;
use crate::formula::notation::number;

/// Rows of a piece.
const PIECE: usize = 4096;

/// Rows that are looked at to see how numbers are written.
const HEAD: usize = 1000;

/// The rows of one sheet of a spreadsheet.
pub(super) struct Spreadsheet {
    pub(super) headings: Vec<String>,
    /// What was taken that nothing states.
    pub(super) notes: Vec<String>,
    rows: VecDeque<Vec<SheetField>>,
}

/// A field as text.
#[derive(Clone, Debug, Default, PartialEq)]
pub(super) struct SheetField {
    pub(super) text: String,
    /// Whether the spreadsheet holds a number.
    pub(super) is_number: bool,
}

/// A sheet, its fields by their places.
pub(super) struct Grid {
    /// Row and column of the first field, from 0.
    pub(super) start: (usize, usize),
    pub(super) rows: Vec<Vec<SheetField>>,
    pub(super) merged: Vec<Merged>,
}

/// Fields that are merged: the rows and the columns of the first and the last, from 0.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Merged {
    pub(super) top: usize,
    pub(super) left: usize,
    pub(super) bottom: usize,
    pub(super) right: usize,
}

/// A sheet that could be the table.
#[derive(Debug)]
pub(super) struct Candidate {
    pub(super) name: String,
    pub(super) fields: usize,
}

impl Spreadsheet {
    /// Reads the sheet that is stated, or the only one with anything in it.
    ///
    /// # Errors
    /// A file that is no spreadsheet, several sheets to choose from, or no headings.
    pub(super) fn open(path: &Path, entry: &FileEntry) -> Result<Spreadsheet, CohortError> {
        let mut book = Book::open(path)?;
        let mut notes = Vec::new();
        let name = match &entry.sheet {
            Some(name) => book.named(name)?,
            None => {
                let name = book.only_sheet()?;
                notes.push(format!("read from its sheet `{name}`"));
                name
            }
        };
        let grid = book.grid(&name)?;
        let layout = Layout::of(&grid, entry).ok_or_else(|| CohortError::NoHeading {
            path: path.to_owned(),
        })?;
        if entry.header_row.is_none() || layout.rows > 1 && entry.header_rows.is_none() {
            notes.push(format!("its headings are taken from {}", layout.said()));
        }
        let headings = headings(&grid, &layout);
        let width = headings.len();
        let below = layout.first + layout.rows;
        let bare = grid.without_value(&book.formulas(&name)?, below);
        if let Some((row, column)) = bare.first() {
            let heading = column
                .checked_sub(grid.start.1)
                .and_then(|c| headings.get(c));
            notes.push(format!(
                "{} without the value computed, the first in row {} under `{}`, and read as blank: open the file in a program that \
                 computes it, and save it there",
                counted(bare.len(), "field holds a formula", "fields hold formulas"),
                row + 1,
                heading.map_or("", |heading| heading.trim())
            ));
        }
        let is_filled =
            |row: &Vec<SheetField>| row.iter().any(|field| !field.text.trim().is_empty());
        let rows = grid.rows.into_iter().skip(below - grid.start.0);
        let rows = rows.filter(is_filled).map(|mut row| {
            row.resize(width, SheetField::default());
            row
        });
        Ok(Spreadsheet {
            headings,
            notes,
            rows: rows.collect(),
        })
    }

    /// The next rows, if there are any.
    pub(super) fn next(&mut self) -> Option<Split> {
        let count = self.rows.len().min(PIECE);
        let rows: Vec<Vec<SheetField>> = self.rows.drain(..count).collect();
        (count > 0).then(|| Split {
            rows: self.text_rows(&rows),
            refused: Vec::new(),
            count,
        })
    }

    /// The first rows, without taking them.
    pub(super) fn head(&self) -> TextRows {
        let rows: Vec<Vec<SheetField>> = self.rows.iter().take(HEAD).cloned().collect();
        self.text_rows(&rows)
    }

    fn text_rows(&self, rows: &[Vec<SheetField>]) -> TextRows {
        let mut text = TextRows::of_width(self.headings.len());
        for (at, row) in rows.iter().enumerate() {
            for field in row {
                text.push_field(&field.text, field.is_number);
            }
            text.end_row(at);
        }
        text
    }
}

/// An open spreadsheet.
pub(super) struct Book<'p> {
    path: &'p Path,
    book: Xlsx<std::io::BufReader<std::fs::File>>,
}

impl<'p> Book<'p> {
    /// Opens a spreadsheet.
    ///
    /// # Errors
    /// A file that cannot be read, or is none.
    pub(super) fn open(path: &'p Path) -> Result<Book<'p>, CohortError> {
        check_unpacked(path, MOST_BYTES)?;
        let book = guarded(path, || open_workbook(path))?;
        Ok(Book { path, book })
    }

    /// The fields of a sheet that are filled.
    fn gathered(&mut self, name: &str) -> Result<Gathered, CohortError> {
        let gathered = guarded(self.path, || {
            let mut gathered = Gathered::default();
            let mut cells = match self.book.worksheet_cells_reader(name) {
                // A chart on a sheet of its own.
                Err(XlsxError::NotAWorksheet(_)) => return Ok(gathered),
                cells => cells?,
            };
            while let Some(cell) = cells.next_cell()? {
                gathered.push(cell);
            }
            Ok(gathered)
        })?;
        gathered.check(self.path, name)?;
        Ok(gathered)
    }

    /// The visible sheets with anything in them.
    ///
    /// # Errors
    /// A damaged file.
    pub(super) fn candidates(&mut self) -> Result<Vec<Candidate>, CohortError> {
        let sheets = self.book.sheets_metadata().to_vec();
        let mut found = Vec::new();
        for sheet in sheets.iter().filter(|s| s.visible == SheetVisible::Visible) {
            let fields = self.gathered(&sheet.name)?.cells.len();
            if fields > 0 {
                found.push(Candidate {
                    name: sheet.name.clone(),
                    fields,
                });
            }
        }
        Ok(found)
    }

    fn named(&self, name: &str) -> Result<String, CohortError> {
        let names = self.book.sheet_names();
        let found = names.iter().find(|n| n.trim() == name.trim());
        found.cloned().ok_or_else(|| CohortError::Unclear {
            path: self.path.to_owned(),
            message: format!(
                "it has no sheet `{name}`; its sheets are {}",
                names.join(", ")
            ),
        })
    }

    fn only_sheet(&mut self) -> Result<String, CohortError> {
        let candidates = self.candidates()?;
        match &candidates[..] {
            [] => Err(CohortError::NoHeading {
                path: self.path.to_owned(),
            }),
            [only] => Ok(only.name.clone()),
            several => {
                let names: Vec<&str> = several.iter().map(|c| &*c.name).collect();
                Err(CohortError::Unclear {
                    path: self.path.to_owned(),
                    message: format!(
                        "it has several sheets, {}: say which in a binding file, as `[file] sheet`",
                        names.join(", ")
                    ),
                })
            }
        }
    }

    /// The places of a sheet's formulas, row and column from 0, by row.
    ///
    /// # Errors
    /// A damaged file.
    fn formulas(&mut self, name: &str) -> Result<Vec<(usize, usize)>, CohortError> {
        let formulas = guarded(self.path, || self.book.worksheet_formula(name))?;
        let (top, left) = formulas.start().unwrap_or_default();
        let cells = formulas.used_cells();
        let held = cells.filter(|(_, _, formula)| !formula.is_empty());
        let places = held.map(|(row, column, _)| (top as usize + row, left as usize + column));
        Ok(places.collect())
    }

    /// The fields of a sheet.
    ///
    /// # Errors
    /// A damaged file.
    pub(super) fn grid(&mut self, name: &str) -> Result<Grid, CohortError> {
        let range = Range::from_sparse(self.gathered(name)?.cells);
        let styles = guarded(self.path, || self.book.worksheet_style(name))?;
        let merged = guarded(self.path, || self.book.merge_cells_by_sheet_name(name))?;
        let start = range.start().unwrap_or_default();
        let is_per_cent = |row: usize, column: usize| {
            let place = (start.0 + row as u32, start.1 + column as u32);
            let format = styles.get(place).and_then(|s| s.number_format.as_ref());
            format.is_some_and(|format| format.format_code.contains('%'))
        };
        Ok(Grid {
            start: (start.0 as usize, start.1 as usize),
            rows: fields(&range, is_per_cent),
            merged: merged.iter().map(Merged::from).collect(),
        })
    }
}

impl Grid {
    /// Those of some places, from a row on, where nothing stands.
    fn without_value(&self, places: &[(usize, usize)], from: usize) -> Vec<(usize, usize)> {
        let is_blank = |(row, column): &(usize, usize)| {
            let place = row
                .checked_sub(self.start.0)
                .zip(column.checked_sub(self.start.1));
            let field = place.and_then(|(row, column)| self.rows.get(row)?.get(column));
            field.is_none_or(|field| field.text.trim().is_empty())
        };
        let places = places.iter().filter(|place| place.0 >= from);
        places.filter(|place| is_blank(place)).copied().collect()
    }
}

impl From<&Dimensions> for Merged {
    fn from(merged: &Dimensions) -> Merged {
        Merged {
            top: merged.start.0 as usize,
            left: merged.start.1 as usize,
            bottom: merged.end.0 as usize,
            right: merged.end.1 as usize,
        }
    }
}

fn fields(range: &Range<Data>, is_per_cent: impl Fn(usize, usize) -> bool) -> Vec<Vec<SheetField>> {
    let rows = range.rows().enumerate();
    rows.map(|(row, cells)| {
        let cells = cells.iter().enumerate();
        cells
            .map(|(column, cell)| field(cell, is_per_cent(row, column)))
            .collect()
    })
    .collect()
}

/// A field as text, as a person would write it down.
fn field(cell: &Data, is_per_cent: bool) -> SheetField {
    let text = match cell {
        Data::Float(value) => return of_number(*value, is_per_cent),
        Data::Int(value) => return of_number(*value as f64, is_per_cent),
        Data::Empty => String::new(),
        Data::String(text) | Data::DateTimeIso(text) | Data::DurationIso(text) => text.clone(),
        Data::Bool(value) => value.to_string(),
        Data::Error(error) => error.to_string(),
        Data::DateTime(value) if value.is_duration() => {
            let minutes = value.as_f64() * 24.0 * 60.0;
            format!("{} min", number((minutes * 1000.0).round() / 1000.0))
        }
        Data::DateTime(value) => match value.as_datetime() {
            Some(moment) if value.as_f64() < 1.0 => moment.format("%H:%M:%S").to_string(),
            Some(moment) if moment.time() == chrono::NaiveTime::MIN => {
                moment.format("%Y-%m-%d").to_string()
            }
            Some(moment) => moment.format("%Y-%m-%d %H:%M:%S").to_string(),
            None => return of_number(value.as_f64(), false),
        },
    };
    SheetField {
        text,
        is_number: false,
    }
}

fn of_number(value: f64, is_per_cent: bool) -> SheetField {
    // 0.07 times 100 is not 7: the point is moved in the text.
    let text = match is_per_cent {
        true => format!("{} %", number(hundredfold(value))),
        false => number(value),
    };
    SheetField {
        text,
        is_number: true,
    }
}

/// A hundred times a number, by its decimal digits.
fn hundredfold(value: f64) -> f64 {
    format!("{value:e}")
        .split_once('e')
        .and_then(|(digits, exponent)| {
            let exponent: i32 = exponent.parse().ok()?;
            format!("{digits}e{}", exponent + 2).parse().ok()
        })
        .unwrap_or(value * 100.0)
}

/// What the reader of spreadsheets does, its panics included: a damaged file is no reason to end.
fn guarded<T>(path: &Path, read: impl FnOnce() -> Result<T, XlsxError>) -> Result<T, CohortError> {
    let damaged = |message: String| CohortError::Table {
        path: path.to_owned(),
        message: format!(
            "it cannot be read as a spreadsheet (.xlsx): {message}: it may be another kind of file, or not copied whole; copy it again, \
             or open it in a spreadsheet program and save it as .xlsx or .csv"
        ),
    };
    match catch_unwind(AssertUnwindSafe(read)) {
        Ok(Ok(value)) => Ok(value),
        Ok(Err(XlsxError::Io(source))) => Err(file_error(path, source)),
        Ok(Err(error)) => Err(damaged(error.to_string())),
        Err(_) => Err(damaged("it is damaged".into())),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_in_per_cent_keep_their_digits() {
        for (value, text) in [
            (0.07, "7 %"),
            (0.145, "14.5 %"),
            (-0.29, "-29 %"),
            (1.1, "110 %"),
        ] {
            assert_eq!(of_number(value, true).text, text);
        }
        assert_eq!(of_number(20.5, false).text, "20.5");
    }

    #[test]
    fn what_is_no_spreadsheet_is_refused() {
        let folder = tempfile::tempdir().unwrap();
        for (name, bytes) in [
            ("a.xlsx", &b"no zip"[..]),
            ("b.xlsx", b"PK\x05\x06"),
            ("c.xlsx", b""),
        ] {
            let path = folder.path().join(name);
            std::fs::write(&path, bytes).unwrap();
            let refused = Spreadsheet::open(&path, &FileEntry::default())
                .err()
                .unwrap();
            assert!(refused.to_string().contains(name), "{refused}");
            assert!(
                refused.to_string().contains("save it as .xlsx or .csv"),
                "{refused}"
            );
        }
        let none = Spreadsheet::open(&folder.path().join("none.xlsx"), &FileEntry::default());
        assert!(matches!(none.err(), Some(CohortError::File { .. })));
    }
}
