//! What rows say, so that one that says the same as another is recognized.

use std::ops::Range;

use super::digest::Digest;
use super::settings::Checks;
use crate::cohort::binding::Binding;
use crate::cohort::row::trimmed;
use crate::cohort::rows::Rows;
use crate::cohort::text_rows::{Neighbors, TextRows};

/// The columns in which one row says the same as another: patient, times, identifiers and bound ones.
pub(super) struct Said {
    /// Columns that stand side by side.
    runs: Vec<Range<usize>>,
}

/// Room for the fields of a row, used again from row to row.
#[derive(Default)]
pub(super) struct Room {
    text: String,
    ends: Vec<usize>,
}

impl Said {
    pub(super) fn of(checks: &Checks, binding: &Binding) -> Said {
        let bound = binding.columns.iter().map(|bound| bound.column);
        let all = bound
            .chain(binding.identifiers.iter().copied())
            .chain(checks.patient)
            .chain(checks.times.iter().copied());
        Said::in_columns(all.collect())
    }

    fn in_columns(mut columns: Vec<usize>) -> Said {
        columns.sort_unstable();
        columns.dedup();
        let runs = columns.chunk_by(|before, next| before + 1 == *next);
        Said {
            runs: runs.map(|run| run[0]..run[0] + run.len()).collect(),
        }
    }

    /// A digest of the fields of a row without the blanks around them, the same however the row came.
    pub(super) fn digest(&self, rows: &Rows, row: usize, room: &mut Room) -> u64 {
        let as_it_stands = match rows {
            Rows::Text(rows) => self.as_it_stands(rows, row),
            Rows::Frame(_) => None,
        };
        as_it_stands.unwrap_or_else(|| self.put_together(rows, row, room))
    }

    /// The digest of a row without blanks around fields, as most are; `None` where there may be any.
    fn as_it_stands(&self, rows: &TextRows, row: usize) -> Option<u64> {
        let mut digest = Digest::new();
        for run in &self.runs {
            let fields = rows.neighbors(row, run.clone());
            if !fields.are_surely_trimmed() {
                return None;
            }
            digest.neighbors(&fields);
        }
        Some(digest.finish())
    }

    fn put_together(&self, rows: &Rows, row: usize, room: &mut Room) -> u64 {
        let mut digest = Digest::new();
        for run in &self.runs {
            room.text.clear();
            room.ends.clear();
            for column in run.clone() {
                room.text.push_str(trimmed(&rows.field(row, column)));
                room.ends.push(room.text.len());
            }
            digest.neighbors(&Neighbors {
                text: &room.text,
                start: 0,
                ends: &room.ends,
            });
        }
        digest.finish()
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn digest(said: &Said, fields: &[String]) -> u64 {
        let mut rows = TextRows::of_width(fields.len());
        // A row before, so that fields do not stand at the start of the text.
        for _ in fields {
            rows.push_field("é", false);
        }
        rows.end_row(0);
        for field in fields {
            rows.push_field(field, false);
        }
        rows.end_row(1);
        said.digest(&Rows::Text(rows), 1, &mut Room::default())
    }

    /// The slow obvious judge: field by field.
    fn says(columns: &[usize], fields: &[String]) -> Vec<String> {
        let mut columns = columns.to_vec();
        columns.sort_unstable();
        columns.dedup();
        let fields = columns.iter().map(|column| fields[*column].trim());
        fields.map(str::to_owned).collect()
    }

    const FIELD: &str = "[ \t\u{a0}]{0,1}[ab1é\u{3000}]{0,2}[ ]{0,1}";

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
        let said = Said::in_columns((0..10).collect());
        // Ends that do not fit in 16 bits are taken down in another way.
        let long = "x".repeat(70_000);
        let row = |lengths: [usize; 10]| -> Vec<String> {
            lengths.iter().map(|n| long[..*n].to_owned()).collect()
        };
        let rows = [
            [0, 1, 2, 3, 4, 5, 6, 7, 8, 9],
            [1, 0, 2, 3, 4, 5, 6, 7, 8, 9],
            [0, 1, 2, 3, 4, 5, 6, 7, 9, 8],
            [0, 1, 2, 3, 4, 5, 6, 8, 7, 9],
            [255, 256, 0, 0, 0, 0, 0, 0, 255, 0],
            [256, 255, 0, 0, 0, 0, 0, 0, 255, 0],
            [255, 255, 0, 0, 0, 0, 0, 0, 256, 0],
            [255, 254, 1, 0, 0, 0, 0, 1, 255, 0],
            [65_534, 1, 0, 0, 0, 0, 0, 0, 0, 0],
            [65_535, 0, 0, 0, 0, 0, 0, 0, 0, 0],
            [65_534, 2, 0, 0, 0, 0, 0, 0, 0, 0],
            [65_535, 1, 0, 0, 0, 0, 0, 0, 0, 0],
            [65_535, 0, 1, 0, 0, 0, 0, 0, 0, 0],
            [65_535, 70_000, 1, 0, 0, 0, 0, 0, 0, 0],
            [70_000, 65_535, 1, 0, 0, 0, 0, 0, 0, 0],
        ];
        let mut digests: Vec<u64> = rows.iter().map(|r| digest(&said, &row(*r))).collect();
        digests.sort_unstable();
        digests.dedup();
        assert_eq!(digests.len(), rows.len());
    }
}
