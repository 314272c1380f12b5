//! The first rows of a table that a binding is drafted from.
//!
//! A quotation mark that opens a field and is not closed is a slip, or a sign that whoever wrote the table uses no marks to quote,
//! as for inches. A draft takes it for the second where every row then has a field for each heading, and says so.

use std::path::{Path, PathBuf};

use super::error::CohortError;
use super::file_entry::FileEntry;
use super::forms::Forms;
use super::quotes::what_it_does;
use super::sniffed::Sniffed;
use super::table::Table;

/// Rows that are looked at.
const ROWS: usize = 5000;

/// Headings and first rows.
#[derive(Debug)]
pub(super) struct Sample {
    pub(super) headings: Vec<String>,
    pub(super) rows: Vec<Vec<String>>,
    /// Rows without a field for each heading, in what was read.
    uneven: usize,
}

impl Sample {
    /// Reads the first rows of a table that is written in this way.
    ///
    /// # Errors
    /// A table that cannot be read.
    pub(super) fn of(table: &Path, entry: &FileEntry) -> Result<Sample, CohortError> {
        let mut table = Table::open_as(table, entry)?;
        let headings = table.headings().to_vec();
        let width = headings.len();
        let (mut rows, mut uneven) = (Vec::new(), 0);
        while let Some(piece) = table.next_piece()? {
            let taken = piece.take_apart(width, &Forms::default())?;
            uneven += taken.refused.len();
            for row in 0..taken.rows.len().min(ROWS - rows.len()) {
                rows.push(taken.rows.owned_fields(row, width));
            }
            if rows.len() == ROWS {
                break;
            }
        }
        Ok(Sample {
            headings,
            rows,
            uneven,
        })
    }

    /// Whether what stands in it would be told apart without quotation marks.
    fn is_even(&self) -> bool {
        let is_marked = |heading: &String| heading.trim_start().starts_with('"');
        self.uneven == 0 && !self.rows.is_empty() && !self.headings.iter().any(is_marked)
    }

    /// Fields that stand between quotation marks.
    fn marked(&self) -> usize {
        let is_marked = |field: &&String| {
            let field = field.trim();
            field.len() > 1 && field.starts_with('"') && field.ends_with('"')
        };
        self.rows.iter().flatten().filter(is_marked).count()
    }
}

/// The first rows where quotation marks are ordinary characters, because one of them is not closed.
///
/// # Errors
/// The mark, where rows would not be told apart so either.
pub(super) fn unquoted(
    found: &mut Sniffed,
    (path, line, closed_in): (PathBuf, usize, Option<usize>),
) -> Result<Sample, CohortError> {
    let entry = FileEntry {
        quotes: Some("none".into()),
        ..found.entry.clone()
    };
    let sample = Sample::of(&path, &entry).ok().filter(Sample::is_even);
    let sample = sample.ok_or(CohortError::OpenQuote {
        path,
        line,
        closed_in,
    })?;
    found.entry = entry;
    let marked = match sample.marked() {
        0 => String::new(),
        1 => "; 1 field that stands between marks keeps them".to_owned(),
        many => format!("; {many} fields that stand between marks keep them"),
    };
    found.doubts.push(format!(
        "quotes: line {line}: {}; so all marks are taken as ordinary characters, such as inches{marked}; if that mark is a slip, mend it in \
         the table and draft anew",
        what_it_does(closed_in)
    ));
    Ok(sample)
}

#[cfg(test)]
mod tests {
    use super::super::draft_binding;
    use super::*;
    use crate::sheet::Sheet;

    fn drafted(table: &str) -> Result<String, CohortError> {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("t.csv");
        std::fs::write(&path, table).unwrap();
        let sheet = Sheet::read("use hemodynamics").unwrap().sheet;
        draft_binding(&sheet, &path).map(|draft| draft.text)
    }

    #[test]
    fn a_mark_that_is_not_closed_is_taken_as_ordinary_and_that_is_unsure() {
        let text = drafted("tube;lvot_vti [cm]\n\"see;20\n5\" pipe;21\n\"9\";22\n").unwrap();
        assert!(
            text.contains("delimiter = \";\"\nquotes = \"none\"\n"),
            "{text}"
        );
        let unsure = "# unsure of quotes: line 2: a quotation mark opens a field there, and the next one, in line 3, stands in the midst of text";
        assert!(text.contains(unsure), "{text}");
        assert!(
            text.contains("1 field that stands between marks keeps them"),
            "{text}"
        );
        let text = drafted("note,lvot_vti [cm]\nfine,20\n\"see,21\nfine,22\n").unwrap();
        let unsure = "[file]\nquotes = \"none\"\n# unsure of quotes: line 3: a quotation mark opens a field there and is not closed";
        assert!(text.contains(unsure), "{text}");
    }

    #[test]
    fn where_marks_part_fields_too_the_table_is_refused_with_the_line() {
        // Without marks the second row has three fields.
        let refused = drafted("note,lvot_vti [cm]\n\"a, b\",20\n\"see,21\n").unwrap_err();
        let said = refused.to_string();
        assert!(
            said.contains("t.csv: line 3: a quotation mark opens"),
            "{said}"
        );
        assert!(said.contains("`quotes = \"none\"`"), "{said}");
        let refused = drafted("\"note\",\"lvot_vti [cm]\"\n\"a,20\n").unwrap_err();
        assert!(matches!(
            refused,
            CohortError::OpenQuote {
                line: 2,
                closed_in: None,
                ..
            }
        ));
    }
}
