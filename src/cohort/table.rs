//! Tables: headings, and rows in pieces that fit in memory however large the table is.
//!
//! ```
//! use semilunar::cohort::Table;
//!
//! let table = Table::from_csv(Box::new("a,b\n1,2\n".as_bytes()), "t.csv".as_ref()).unwrap();
//! assert_eq!(table.headings(), ["a", "b"]);
//! ```

use std::fs::File;
use std::io::Read;
use std::path::{Path, PathBuf};

use polars::prelude::{DataFrame, Schema};

use super::csv_pieces::CsvPieces;
use super::dates::DateForm;
use super::dialect::{Dialect, delimiter_by_ending};
use super::error::CohortError;
use super::file_entry::FileEntry;
use super::pair::{Exams, Paired};
use super::pair_entry::PairEntry;
use super::parquet_pieces::ParquetPieces;
use super::spreadsheet::Spreadsheet;
use super::text_rows::{Split, TextRows, split};
use super::whole::file_error;

/// The kinds of files that tables stand in, told apart by the ending of the name.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Kind {
    /// Delimited text, such as comma-separated values (RFC 4180).
    Csv,
    /// Apache Parquet.
    Parquet,
    /// An Office Open XML spreadsheet, which is read and not written.
    Spreadsheet,
}

/// Endings of tables that are not read or written here.
const OTHER_KINDS: [&str; 4] = ["xls", "ods", "feather", "arrow"];

impl Kind {
    /// The kind of the file with this name.
    ///
    /// # Errors
    /// An ending that tells of another kind: read as text it would be one strange heading.
    pub(super) fn of(path: &Path) -> Result<Kind, CohortError> {
        let ending = path.extension().map(|e| e.to_string_lossy().to_lowercase());
        match ending.as_deref() {
            Some("parquet") => Ok(Kind::Parquet),
            Some("xlsx") => Ok(Kind::Spreadsheet),
            Some(other) if OTHER_KINDS.contains(&other) => Err(CohortError::Kind {
                path: path.to_owned(),
            }),
            _ => Ok(Kind::Csv),
        }
    }

    /// The kind of a file of results with this name.
    ///
    /// # Errors
    /// An ending that tells of another kind than results have.
    pub(super) fn of_results(path: &Path) -> Result<Kind, CohortError> {
        // They would be taken for what they are not when they are read again.
        match Kind::of(path)? {
            kind @ (Kind::Csv | Kind::Parquet) if delimiter_by_ending(path).is_none() => Ok(kind),
            _ => Err(CohortError::Kind {
                path: path.to_owned(),
            }),
        }
    }

    /// Checks that what a binding says of the file can be said of this kind.
    fn check(self, entry: &FileEntry, path: &Path) -> Result<(), CohortError> {
        entry.check(path)?;
        let is_misplaced = match self {
            Kind::Csv => entry.is_about_sheets(),
            // Its columns of text may hold dates in any order.
            Kind::Parquet => entry.without_dates() != FileEntry::default(),
            Kind::Spreadsheet => entry.is_about_text(),
        };
        match is_misplaced {
            false => Ok(()),
            true => Err(CohortError::Unclear {
                path: path.to_owned(),
                message: "`[file]` of the binding says of it what a file of this kind does not have: `sheet` is a spreadsheet's, `delimiter`, `quotes` and `encoding` a text's, and Parquet has none of them".into(),
            }),
        }
    }
}

/// A table being read.
pub struct Table {
    path: PathBuf,
    headings: Vec<String>,
    pieces: Pieces,
    entry: FileEntry,
    /// What was taken before exams were paired.
    notes_before: Vec<String>,
}

enum Pieces {
    Csv(CsvPieces),
    Parquet(ParquetPieces),
    Spreadsheet(Spreadsheet),
    Paired(Paired),
}

/// Some rows as they came from the file, not looked at yet.
pub(super) enum Piece {
    /// Whole records of delimited text.
    Text { bytes: Vec<u8>, dialect: Dialect },
    /// Rows taken apart already.
    Split(Split),
    /// Columns.
    Frame(DataFrame),
}

impl Table {
    /// Opens a table, by the ending of its name, and reads its headings.
    ///
    /// # Errors
    /// A file that cannot be read, has no headings, or holds columns that cannot be readings.
    pub fn open(path: &Path) -> Result<Table, CohortError> {
        Table::open_as(path, &FileEntry::default())
    }

    /// Opens a table whose file is written as a binding says.
    ///
    /// # Errors
    /// As [`Table::open`], and what does not fit the kind of file.
    pub fn open_as(path: &Path, entry: &FileEntry) -> Result<Table, CohortError> {
        let kind = Kind::of(path)?;
        kind.check(entry, path)?;
        let file = || File::open(path).map_err(|source| file_error(path, source));
        let (headings, pieces) = match kind {
            Kind::Csv => return Table::from_text(Box::new(file()?), path, entry),
            Kind::Parquet => {
                let pieces = ParquetPieces::new(file()?, path)?;
                (pieces.headings(), Pieces::Parquet(pieces))
            }
            Kind::Spreadsheet => {
                let sheet = Spreadsheet::open(path, entry)?;
                (sheet.headings.clone(), Pieces::Spreadsheet(sheet))
            }
        };
        Ok(Table {
            path: path.to_owned(),
            headings,
            pieces,
            entry: entry.clone(),
            notes_before: Vec::new(),
        })
    }

    /// Reads delimited text from wherever it comes; `name` is what messages show.
    ///
    /// # Errors
    /// As [`Table::open`].
    pub fn from_csv(source: Box<dyn Read>, name: &Path) -> Result<Table, CohortError> {
        Table::from_text(source, name, &FileEntry::default())
    }

    /// As [`Table::from_csv`], of a text that is written as a binding says.
    ///
    /// # Errors
    /// As [`Table::open_as`].
    pub fn from_text(
        source: Box<dyn Read>,
        name: &Path,
        entry: &FileEntry,
    ) -> Result<Table, CohortError> {
        entry.check(name)?;
        let (pieces, headings) = CsvPieces::new(source, name, entry)?;
        Ok(Table {
            path: name.to_owned(),
            headings,
            pieces: Pieces::Csv(pieces),
            entry: entry.clone(),
            notes_before: Vec::new(),
        })
    }

    /// The table with two exams a row that this one has with one a row; all rows are read. `withholds` as in [`Paired::of`].
    ///
    /// # Errors
    /// What does not fit the table, and a table that cannot be read on.
    pub(super) fn paired(
        self,
        entry: &PairEntry,
        form: DateForm,
        withholds: bool,
    ) -> Result<Table, CohortError> {
        let (path, of_file, notes) = (self.path.clone(), self.entry.clone(), self.notes());
        let paired = Paired::of(self, entry, form, withholds)?;
        Ok(Table {
            path,
            headings: paired.headings.clone(),
            pieces: Pieces::Paired(paired),
            entry: of_file,
            notes_before: notes,
        })
    }

    /// How many exams went where, if exams were paired.
    pub(super) fn exams(&self) -> Option<Exams> {
        match &self.pieces {
            Pieces::Paired(paired) => Some(paired.exams),
            _ => None,
        }
    }

    /// How the file was said to be written when it was opened.
    pub(super) fn entry(&self) -> &FileEntry {
        &self.entry
    }

    /// What was taken of the way the file is written that nothing states.
    pub(super) fn notes(&self) -> Vec<String> {
        match &self.pieces {
            Pieces::Csv(pieces) => pieces.notes().to_vec(),
            Pieces::Parquet(_) => Vec::new(),
            Pieces::Spreadsheet(sheet) => sheet.notes.clone(),
            Pieces::Paired(_) => self.notes_before.clone(),
        }
    }

    /// Whether the table holds columns with types.
    pub(super) fn holds_columns(&self) -> bool {
        matches!(self.pieces, Pieces::Parquet(_))
    }

    /// The first rows, where they may be written in a way that they have to show: a plain
    /// comma-separated table has decimal points, and columns have types.
    ///
    /// # Errors
    /// A file that cannot be read on.
    pub(super) fn head(&mut self) -> Result<Option<TextRows>, CohortError> {
        match &mut self.pieces {
            Pieces::Csv(pieces) if pieces.dialect().delimiter != b',' => {
                let (head, dialect) = (pieces.head()?, pieces.dialect());
                Ok(Some(split(&head, dialect, self.headings.len()).rows))
            }
            Pieces::Spreadsheet(sheet) => Ok(Some(sheet.head())),
            Pieces::Paired(paired) if paired.is_open => {
                Ok(paired.rows.as_ref().map(|split| split.rows.clone()))
            }
            Pieces::Paired(_) => Ok(None),
            Pieces::Csv(_) | Pieces::Parquet(_) => Ok(None),
        }
    }

    /// The headings as they stand.
    pub fn headings(&self) -> &[String] {
        &self.headings
    }

    /// The name that messages show.
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// The types of the columns, where the file has any.
    pub(super) fn schema(&self) -> Option<Schema> {
        match &self.pieces {
            Pieces::Csv(_) | Pieces::Spreadsheet(_) | Pieces::Paired(_) => None,
            Pieces::Parquet(pieces) => Some(pieces.schema()),
        }
    }

    /// The next rows, if there are any.
    ///
    /// # Errors
    /// A file that cannot be read on.
    pub(super) fn next_piece(&mut self) -> Result<Option<Piece>, CohortError> {
        match &mut self.pieces {
            Pieces::Csv(pieces) => {
                let dialect = pieces.dialect();
                let bytes = pieces.next()?;
                Ok(bytes.map(|bytes| Piece::Text { bytes, dialect }))
            }
            Pieces::Parquet(pieces) => Ok(pieces.next()?.map(Piece::Frame)),
            Pieces::Spreadsheet(sheet) => Ok(sheet.next().map(Piece::Split)),
            Pieces::Paired(paired) => Ok(paired.rows.take().map(Piece::Split)),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn files_of_other_kinds_are_refused_by_their_ending() {
        for name in ["a.ods", "b.XLS"] {
            let path = Path::new(name);
            assert!(matches!(Table::open(path), Err(CohortError::Kind { .. })));
        }
        assert_eq!(Kind::of(Path::new("b.XLSX")).unwrap(), Kind::Spreadsheet);
        for name in ["r.xlsx", "r.tsv", "r.ods"] {
            assert!(Kind::of_results(Path::new(name)).is_err());
        }
        assert_eq!(Kind::of(Path::new("c.PARQUET")).unwrap(), Kind::Parquet);
        assert_eq!(Kind::of(Path::new("d.txt")).unwrap(), Kind::Csv);
        assert_eq!(Kind::of(Path::new("e")).unwrap(), Kind::Csv);
    }
}
