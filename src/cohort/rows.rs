//! Rows of a table, whichever way they came.

use std::borrow::Cow;

use super::error::CohortError;
use super::forms::Forms;
use super::frame_rows::FrameRows;
use super::stood::Stood;
use super::table::Piece;
use super::text_rows::{Refused, Split, TextRows, split};

/// Rows that have a field for each heading.
#[derive(Debug)]
pub(super) enum Rows {
    Text(TextRows),
    Frame(FrameRows),
}

/// A piece of a table, taken apart.
pub(super) struct Taken {
    pub(super) rows: Rows,
    /// The same rows as they stood in the table, where they are written anew.
    pub(super) stood: Stood,
    pub(super) refused: Vec<Refused>,
    /// All rows of the piece.
    pub(super) count: usize,
}

/// The number by which people are told a row, from 1 below the headings, of a row's number in a piece behind so many rows.
pub(super) fn row_told(rows_before: usize, number: usize) -> usize {
    rows_before + number + 1
}

impl Piece {
    /// Takes a piece of a table with `width` headings apart, and reads its fields in the forms
    /// that they are written in.
    ///
    /// # Errors
    /// A column that cannot be shown as text.
    pub(super) fn take_apart(self, width: usize, forms: &Forms) -> Result<Taken, CohortError> {
        Ok(match self {
            Piece::Text { bytes, dialect } => forms.read(split(&bytes, dialect, width)),
            Piece::Split(split) => forms.read(split),
            Piece::Frame(frame) => {
                let mut rows = FrameRows::new(frame)?;
                forms.read_frame(&mut rows);
                Taken {
                    count: rows.len(),
                    rows: Rows::Frame(rows),
                    stood: Stood::default(),
                    refused: Vec::new(),
                }
            }
        })
    }
}

impl From<Split> for Taken {
    fn from(split: Split) -> Taken {
        Taken {
            rows: Rows::Text(split.rows),
            stood: Stood::default(),
            refused: split.refused,
            count: split.count,
        }
    }
}

impl Rows {
    pub(super) fn len(&self) -> usize {
        match self {
            Rows::Text(rows) => rows.len(),
            Rows::Frame(rows) => rows.len(),
        }
    }

    /// Number of a row in its piece, from 0.
    pub(super) fn number(&self, row: usize) -> usize {
        match self {
            Rows::Text(rows) => rows.number(row),
            Rows::Frame(_) => row,
        }
    }

    /// Whether the table holds a field as a number, not as a text.
    pub(super) fn is_number(&self, row: usize, column: usize) -> bool {
        match self {
            Rows::Text(rows) => rows.is_number(row, column),
            Rows::Frame(rows) => rows.numbers(column).is_some(),
        }
    }

    /// A field as text.
    #[inline]
    pub(super) fn field(&self, row: usize, column: usize) -> Cow<'_, str> {
        match self {
            Rows::Text(rows) => rows.field(row, column).into(),
            Rows::Frame(rows) => rows.field(row, column),
        }
    }

    /// The fields of a row as text.
    pub(super) fn fields(&self, row: usize, width: usize) -> Vec<Cow<'_, str>> {
        (0..width).map(|column| self.field(row, column)).collect()
    }

    /// The same, to keep.
    pub(super) fn owned_fields(&self, row: usize, width: usize) -> Vec<String> {
        let fields = (0..width).map(|column| self.field(row, column));
        fields.map(Cow::into_owned).collect()
    }
}
