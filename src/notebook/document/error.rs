//! What can be wrong with a notebook document, and the way out.

use std::error::Error;
use std::fmt;

use thiserror::Error;

/// Why a notebook could not be read or changed: what is wrong, where, and the way out.
///
/// The message names the document, the cell (its number from 1 and its identifier), the offending
/// value, and what to do.
#[derive(Debug)]
pub struct DocumentError {
    details: Box<Details>,
}

#[derive(Debug)]
struct Details {
    name: String,
    cell: Option<CellPlace>,
    problem: Problem,
}

/// The kinds of [`DocumentError`].
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[non_exhaustive]
pub enum DocumentErrorKind {
    /// The text is larger than the limit.
    TooLarge,
    /// The text is not JSON.
    NotJson,
    /// The JSON is nested too deeply.
    TooDeep,
    /// The JSON is no notebook: it has no version.
    NotANotebook,
    /// A version of the format other than 4.
    UnsupportedVersion,
    /// A required field is not there.
    MissingField,
    /// A field holds another type of value than the format asks for.
    WrongType,
    /// The kind of a cell is none of `markdown`, `code` and `raw`.
    UnknownCellKind,
    /// A cell's identifier is not 1 to 64 ASCII letters, digits, `-` and `_`.
    InvalidId,
    /// Two cells have the same identifier.
    DuplicateId,
    /// The document has no cell at the index asked for.
    NoSuchCell,
    /// Outputs were to be put into a cell that is not code.
    NotCode,
}

/// Where a cell stands.
#[derive(Clone, Debug)]
pub(super) struct CellPlace {
    number: usize,
    id: Option<String>,
}

impl CellPlace {
    /// The cell at `index` (from 0), with its identifier where it has one.
    pub(super) fn new(index: usize, id: Option<&str>) -> Self {
        Self {
            number: index.saturating_add(1),
            id: id.map(str::to_owned),
        }
    }
}

/// The problem itself; each variant has a sentence in `Display` and a way out in `way_out`.
#[derive(Debug, Error)]
pub(super) enum Problem {
    #[error("the file has {bytes} bytes; at most {limit} are read")]
    TooLarge { bytes: usize, limit: usize },
    #[error("not JSON at line {line}, column {column}: {message}")]
    NotJson {
        line: usize,
        column: usize,
        message: String,
        conflict: bool,
        source: serde_json::Error,
    },
    #[error("lists and objects are nested more than 127 deep at line {line}, column {column}")]
    TooDeep {
        line: usize,
        column: usize,
        source: serde_json::Error,
    },
    #[error("not a notebook: {0}")]
    NotANotebook(&'static str),
    #[error("the notebook has format version {version}; versions 4.0 and later 4.x are read")]
    UnsupportedVersion { version: String, newer: bool },
    #[error("the field `{0}` is missing")]
    MissingField(&'static str),
    #[error("the field `{field}` should be {expected} and is {found}")]
    WrongType {
        field: &'static str,
        expected: &'static str,
        found: String,
    },
    #[error("the cell type is `{0}`; it can be `markdown`, `code` or `raw`")]
    UnknownCellKind(String),
    #[error("the identifier `{0}` is not 1 to 64 ASCII letters, digits, `-` and `_`")]
    InvalidId(String),
    #[error("the identifier is already that of cell {first}")]
    DuplicateId { first: usize },
    #[error("there is no cell {number}; the notebook has {count}")]
    NoSuchCell { number: usize, count: usize },
    #[error("only code cells have outputs")]
    NotCode,
}

impl DocumentError {
    pub(super) fn new(name: &str, cell: Option<CellPlace>, problem: Problem) -> Self {
        Self {
            details: Box::new(Details {
                name: name.to_owned(),
                cell,
                problem,
            }),
        }
    }

    /// What kind of problem it is.
    #[must_use]
    pub fn kind(&self) -> DocumentErrorKind {
        match self.details.problem {
            Problem::TooLarge { .. } => DocumentErrorKind::TooLarge,
            Problem::NotJson { .. } => DocumentErrorKind::NotJson,
            Problem::TooDeep { .. } => DocumentErrorKind::TooDeep,
            Problem::NotANotebook(_) => DocumentErrorKind::NotANotebook,
            Problem::UnsupportedVersion { .. } => DocumentErrorKind::UnsupportedVersion,
            Problem::MissingField(_) => DocumentErrorKind::MissingField,
            Problem::WrongType { .. } => DocumentErrorKind::WrongType,
            Problem::UnknownCellKind(_) => DocumentErrorKind::UnknownCellKind,
            Problem::InvalidId(_) => DocumentErrorKind::InvalidId,
            Problem::DuplicateId { .. } => DocumentErrorKind::DuplicateId,
            Problem::NoSuchCell { .. } => DocumentErrorKind::NoSuchCell,
            Problem::NotCode => DocumentErrorKind::NotCode,
        }
    }

    /// The document's name, as it was given.
    #[must_use]
    pub fn document(&self) -> &str {
        &self.details.name
    }

    /// The number of the cell concerned, from 1.
    #[must_use]
    pub fn cell_number(&self) -> Option<usize> {
        self.details.cell.as_ref().map(|cell| cell.number)
    }

    /// The identifier of the cell concerned, where it has one.
    #[must_use]
    pub fn cell_id(&self) -> Option<&str> {
        self.details.cell.as_ref()?.id.as_deref()
    }

    /// Line and column of the place in the text, both from 1 (columns in characters), where the text is not
    /// JSON or is nested too deeply.
    #[must_use]
    pub fn position(&self) -> Option<Position> {
        match self.details.problem {
            Problem::NotJson { line, column, .. } | Problem::TooDeep { line, column, .. } => {
                Some(Position { line, column })
            }
            _ => None,
        }
    }

    /// What to do about it: one sentence.
    #[must_use]
    pub fn way_out(&self) -> &'static str {
        match &self.details.problem {
            Problem::TooLarge { .. } => {
                "Clear the outputs of the notebook, or keep large data in files beside it."
            }
            Problem::NotJson { conflict: true, .. } => {
                "The text holds the marks of an unfinished merge (<<<<<<<): finish the merge first."
            }
            Problem::NotJson { .. } => {
                "Take a copy from before the damage, or repair the text at that place."
            }
            Problem::TooDeep { .. } => {
                "Clear the outputs of the notebook; no notebook needs such nesting."
            }
            Problem::NotANotebook(_) => {
                "Give a Jupyter notebook: a JSON object with `nbformat`, `nbformat_minor`, `metadata` and `cells`."
            }
            Problem::UnsupportedVersion { newer: true, .. } => {
                "Save it as version 4 in the program that made it."
            }
            Problem::UnsupportedVersion { .. } => {
                "Open it in a current Jupyter and save it: that makes version 4."
            }
            Problem::MissingField("id") => {
                "Add one, unique in the notebook; or set `nbformat_minor` to 4, and identifiers are given while reading."
            }
            Problem::MissingField(_) | Problem::WrongType { .. } => {
                "Open the notebook in Jupyter and save it, or repair the field by hand."
            }
            Problem::UnknownCellKind(_) => "Change the cell's `cell_type` to one of the three.",
            Problem::InvalidId(_) | Problem::DuplicateId { .. } => {
                "Give the cell another identifier, unique in the notebook."
            }
            Problem::NoSuchCell { .. } => "Count the cells from `Document::cells`.",
            Problem::NotCode => "Put the outputs into a code cell, or change the cell's type.",
        }
    }
}

/// A place in the text of a document, from 1.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Position {
    /// The line.
    pub line: usize,
    /// The column, in characters.
    pub column: usize,
}

impl fmt::Display for DocumentError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.details.name)?;
        if let Some(cell) = &self.details.cell {
            write!(f, ", cell {}", cell.number)?;
            if let Some(id) = &cell.id {
                write!(f, " (id `{id}`)")?;
            }
        }
        write!(f, ": {}. {}", self.details.problem, self.way_out())
    }
}

impl Error for DocumentError {
    fn source(&self) -> Option<&(dyn Error + 'static)> {
        self.details.problem.source()
    }
}
