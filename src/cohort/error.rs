//! What can be wrong with a table as a whole.

use std::path::PathBuf;

/// Why a sheet cannot be applied to a table. Nothing was written.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum CohortError {
    /// A file cannot be read or written.
    #[error("{path}: {source}", path = path.display())]
    File {
        /// The file.
        path: PathBuf,
        /// What the system says.
        source: std::io::Error,
    },
    /// A table that cannot be read at all, or results that cannot be made.
    #[error("{path}: {message}", path = path.display())]
    Table {
        /// The file.
        path: PathBuf,
        /// What is wrong, with the line where there is one.
        message: String,
    },
    /// A quotation mark that opens a field and is not closed where a field would be, so that rows would be lost in it.
    #[error("{path}: {}", super::quotes::not_closed(*line, *closed_in), path = path.display())]
    OpenQuote {
        /// The file.
        path: PathBuf,
        /// The line of the mark, from 1.
        line: usize,
        /// The line of the next mark, where that stands in the midst of text; nothing where there is none.
        closed_in: Option<usize>,
    },
    /// What the file says can be read in more than one way.
    #[error("{path}: {message}", path = path.display())]
    Unclear {
        /// The file.
        path: PathBuf,
        /// The ways, and how to say which.
        message: String,
    },
    /// The file is of a kind that is not read or written here.
    #[error("{path}: tables are read from .csv, .tsv, .txt, .xlsx and .parquet, and results written as .csv or .parquet", path = path.display())]
    Kind {
        /// The file.
        path: PathBuf,
    },
    /// A column holds what is no field of a table.
    #[error("column `{heading}`: {message}: leave it out of the table")]
    ColumnType {
        /// The heading.
        heading: String,
        /// What is wrong.
        message: String,
    },
    /// Somebody stopped the work.
    #[error("stopped after {}; nothing was written", super::apply::counted(*rows, "row", "rows"))]
    Stopped {
        /// Rows read so far.
        rows: usize,
    },
    /// There is no heading.
    #[error("{path} has no heading line", path = path.display())]
    NoHeading {
        /// The file.
        path: PathBuf,
    },
    /// Two columns have the same heading.
    #[error("columns {first} and {second} are both headed `{heading}`: give each its own heading")]
    SameHeading {
        /// The heading.
        heading: String,
        /// Number of the first column, from 1.
        first: usize,
        /// Number of the second column, from 1.
        second: usize,
    },
    /// Two columns supply the same cell.
    #[error("columns `{first}` and `{second}` both supply {what}: keep one of them")]
    SameCell {
        /// Heading of the first column.
        first: String,
        /// Heading of the second column.
        second: String,
        /// What they supply.
        what: String,
    },
    /// The unit in a heading does not fit the cell.
    #[error("column `{heading}`: {message}")]
    Heading {
        /// The heading.
        heading: String,
        /// What is wrong and the way out.
        message: String,
    },
    /// A column of results would have the heading of a column that is there.
    #[error(
        "the table has a column `{heading}` already, which a result would be headed by: give that column another heading, in a binding file as `[headings]` with `\"{heading}\" = \"another\"`"
    )]
    Collision {
        /// The heading.
        heading: String,
    },
    /// No column supplies a cell of the sheet.
    #[error(
        "no column supplies a cell of the sheet: a heading is a cell's name with an optional unit, such as `lvot_vti [cm]`; the columns are {headings}; headings in other lines or other words are said in a binding file, which `semilunar bind` drafts"
    )]
    NothingBound {
        /// The headings.
        headings: String,
    },
    /// The results would overwrite the table.
    #[error("{path} is the table itself: give the results another name", path = path.display())]
    SameFile {
        /// The file.
        path: PathBuf,
    },
    /// A binding file that does not make sense.
    #[error("{path}: {message}", path = path.display())]
    Binding {
        /// The binding file.
        path: PathBuf,
        /// Where, what and the way out.
        message: String,
    },
    /// An uncertainty that was asked for and cannot be given.
    #[error("there is no uncertainty of `{name}`: {message}")]
    Uncertainty {
        /// The cell, or the cells.
        name: String,
        /// Why, and the way out.
        message: String,
    },
    /// A key that could be guessed.
    #[error("{path}: a key of {bytes} bytes can be guessed; write at least {} random bytes, as `semilunar binding` shows", super::SHORTEST_KEY, path = path.display())]
    ShortKey {
        /// The key's file.
        path: PathBuf,
        /// Its bytes.
        bytes: usize,
    },
    /// Identifiers, or dates to shift, without a key.
    #[error(
        "the binding names identifiers or dates to shift ({headings}) and there is no key: give a key file (`semilunar binding` shows how one is made), or say that identifiers are kept"
    )]
    NoKey {
        /// The headings.
        headings: String,
    },
}
