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
use super::error::CohortError;
use super::parquet_pieces::ParquetPieces;
use super::whole::file_error;

/// The kinds of files that tables stand in, told apart by the ending of the name.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Kind {
    /// Comma-separated values (RFC 4180, UTF-8).
    Csv,
    /// Apache Parquet.
    Parquet,
}

/// Endings of tables that are not read or written here.
const OTHER_KINDS: [&str; 5] = ["xlsx", "xls", "ods", "feather", "arrow"];

impl Kind {
    /// The kind of the file with this name.
    ///
    /// # Errors
    /// An ending that tells of another kind: read as text it would be one strange heading.
    pub(super) fn of(path: &Path) -> Result<Kind, CohortError> {
        let ending = path.extension().map(|e| e.to_string_lossy().to_lowercase());
        match ending.as_deref() {
            Some("parquet") => Ok(Kind::Parquet),
            Some(other) if OTHER_KINDS.contains(&other) => Err(CohortError::Kind {
                path: path.to_owned(),
            }),
            _ => Ok(Kind::Csv),
        }
    }
}

/// A table being read.
pub struct Table {
    path: PathBuf,
    headings: Vec<String>,
    pieces: Pieces,
}

enum Pieces {
    Csv(CsvPieces),
    Parquet(ParquetPieces),
}

/// Some rows as they came from the file, not looked at yet.
pub(super) enum Piece {
    /// Whole records of comma-separated values.
    Text(Vec<u8>),
    /// Columns.
    Frame(DataFrame),
}

impl Table {
    /// Opens a table, by the ending of its name, and reads its headings.
    ///
    /// # Errors
    /// A file that cannot be read, has no headings, or holds columns that cannot be readings.
    pub fn open(path: &Path) -> Result<Table, CohortError> {
        let kind = Kind::of(path)?;
        let file = File::open(path).map_err(|source| file_error(path, source))?;
        match kind {
            Kind::Csv => Table::from_csv(Box::new(file), path),
            Kind::Parquet => {
                let pieces = ParquetPieces::new(file, path)?;
                Ok(Table {
                    path: path.to_owned(),
                    headings: pieces.headings(),
                    pieces: Pieces::Parquet(pieces),
                })
            }
        }
    }

    /// Reads comma-separated values from wherever they come; `name` is what messages show.
    ///
    /// # Errors
    /// As [`Table::open`].
    pub fn from_csv(source: Box<dyn Read>, name: &Path) -> Result<Table, CohortError> {
        let (pieces, headings) = CsvPieces::new(source, name)?;
        Ok(Table {
            path: name.to_owned(),
            headings,
            pieces: Pieces::Csv(pieces),
        })
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
            Pieces::Csv(_) => None,
            Pieces::Parquet(pieces) => Some(pieces.schema()),
        }
    }

    /// The next rows, if there are any.
    ///
    /// # Errors
    /// A file that cannot be read on.
    pub(super) fn next_piece(&mut self) -> Result<Option<Piece>, CohortError> {
        match &mut self.pieces {
            Pieces::Csv(pieces) => Ok(pieces.next()?.map(Piece::Text)),
            Pieces::Parquet(pieces) => Ok(pieces.next()?.map(Piece::Frame)),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn files_of_other_kinds_are_refused_by_their_ending() {
        for name in ["a.ods", "b.XLSX"] {
            let path = Path::new(name);
            assert!(matches!(Table::open(path), Err(CohortError::Kind { .. })));
        }
        assert_eq!(Kind::of(Path::new("c.PARQUET")).unwrap(), Kind::Parquet);
        assert_eq!(Kind::of(Path::new("d.txt")).unwrap(), Kind::Csv);
        assert_eq!(Kind::of(Path::new("e")).unwrap(), Kind::Csv);
    }
}
