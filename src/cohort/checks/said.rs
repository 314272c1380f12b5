//! What rows say, so that one that says the same as another is recognized.

use std::num::NonZeroU64;

use super::digest::{Digest, of_field};
use super::settings::Checks;
use crate::cohort::binding::{Binding, BoundColumn};
use crate::cohort::row::{says_nothing, trimmed};
use crate::cohort::rows::Rows;
use crate::cohort::short_text::ShortText;
use crate::cohort::text_rows::TextRow;

/// The columns in which one row says the same as another of the same patient and times: bound ones
/// and identifiers.
pub(super) struct Said {
    columns: Vec<usize>,
}

impl Said {
    pub(super) fn of(checks: &Checks, binding: &Binding) -> Said {
        let bound = binding.columns.iter().map(|bound| bound.column);
        let others = binding.identifiers.iter().copied();
        let others = others.filter(|column| checks.patient != Some(*column));
        Said::in_columns(bound.chain(others).collect())
    }

    fn in_columns(mut columns: Vec<usize>) -> Said {
        columns.sort_unstable();
        columns.dedup();
        Said { columns }
    }

    /// Adds the fields of a row without the blanks around them, the same however the row came.
    #[inline]
    pub(super) fn add_to(&self, digest: &mut Digest, rows: &Rows, row: usize) {
        match rows {
            Rows::Text(rows) => {
                let row = rows.row(row);
                for column in &self.columns {
                    digest.field(text_known_by(row, *column));
                }
            }
            Rows::Frame(_) => {
                for column in &self.columns {
                    digest.field(known_by(rows, row, *column));
                }
            }
        }
    }
}

/// What a field is known by without blanks around it.
pub(super) fn known_by(rows: &Rows, row: usize, column: usize) -> NonZeroU64 {
    of_field(trimmed(&rows.field(row, column)))
}

#[inline]
fn text_known_by(row: TextRow<'_>, column: usize) -> NonZeroU64 {
    match trimmed_short(row, column) {
        Some(short) => short.bits(),
        None => of_field(trimmed(row.field(column))),
    }
}

/// What a reading is known by, unless it says nothing.
#[inline]
pub(super) fn reading_known_by(bound: &BoundColumn, rows: &Rows, row: usize) -> Option<NonZeroU64> {
    // What begins with a digit says something, unless the binding says otherwise.
    if let Rows::Text(rows) = rows
        && let Some(short) = trimmed_short(rows.row(row), bound.column)
        && short.first().is_ascii_digit()
        && bound.missing.is_empty()
    {
        return Some(short.bits());
    }
    let field = rows.field(row, bound.column);
    let text = trimmed(&field);
    (!says_nothing(bound, text)).then(|| of_field(text))
}

/// A field that is short and has surely no blanks around it, as most have none.
#[inline]
fn trimmed_short(row: TextRow<'_>, column: usize) -> Option<ShortText> {
    let short = row.short(column)?;
    short.is_surely_trimmed().then_some(short)
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;
    use crate::cohort::text_rows::TextRows;

    fn digest(said: &Said, fields: &[String]) -> u64 {
        let mut rows = TextRows::of_width(fields.len());
        // A row before, so that fields do not stand at the start of the text, and one behind.
        for row in 0..3 {
            for field in fields {
                rows.push_field(if row == 1 { field } else { "é" }, false);
            }
            rows.end_row(row);
        }
        let mut digest = Digest::new();
        said.add_to(&mut digest, &Rows::Text(rows), 1);
        digest.finish()
    }

    /// The slow obvious judge: field by field.
    fn says(columns: &[usize], fields: &[String]) -> Vec<String> {
        let mut columns = columns.to_vec();
        columns.sort_unstable();
        columns.dedup();
        let fields = columns.iter().map(|column| fields[*column].trim());
        fields.map(str::to_owned).collect()
    }

    const FIELD: &str = "[ \t\u{a0}]{0,1}[ab1é\u{3000}]{0,9}[ ]{0,1}";

    proptest! {
        /// Rows have the same digest just where each field of some columns says the same without blanks around it.
        #[test]
        fn rows_are_the_same_where_their_fields_are(
            fields in proptest::collection::vec(FIELD, 12),
            others in proptest::collection::vec(FIELD, 12),
            swapped in proptest::collection::vec(any::<bool>(), 12),
            columns in proptest::collection::vec(0..12_usize, 0..16),
        ) {
            let other: Vec<String> = (0..12)
                .map(|at| if swapped[at] { others[at].clone() } else { format!(" {}", fields[at]) })
                .collect();
            let said = Said::in_columns(columns.clone());
            let is_same = digest(&said, &fields) == digest(&said, &other);
            prop_assert_eq!(is_same, says(&columns, &fields) == says(&columns, &other));
        }
    }

    #[test]
    fn a_bound_between_fields_that_moves_is_another_row() {
        let said = Said::in_columns((0..3).collect());
        let rows = [
            ["1", "23", "4"],
            ["12", "3", "4"],
            ["1", "2", "34"],
            ["", "123", "4"],
        ];
        let rows = rows.map(|row| digest(&said, &row.map(str::to_owned)));
        for (at, row) in rows.iter().enumerate() {
            assert!(!rows[..at].contains(row));
        }
    }
}
