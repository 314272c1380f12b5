//! Binding files: what columns supply, where a heading does not say it.
//!
//! ```toml
//! identifiers = ["patient"]          # leave as pseudonyms
//! required = ["stroke_volume"]       # a row without is set aside
//! missing = ["-99"]                  # stand for nothing, in every column
//! uncertainty = ["stroke_volume"]    # results that get a column of standard uncertainties
//!
//! [file]                             # how the file is written (see [`FileEntry`])
//! delimiter = ";"
//! decimal = ","
//!
//! [pair]                             # one exam a row becomes two (see [`PairEntry`])
//! of = "patient"
//! time = "exam time"
//! intervention = "fluid start"
//!
//! [shift]                            # dates leave shifted, each patient's by other days
//! dates = ["exam date"]              # ISO 8601: 2031-05-17, a time of day may follow
//! of = "patient"                     # whose dates they are
//! within_days = 365                  # by 1 to 365 days, forward or back
//!
//! [headings]                         # of columns that supply nothing: how they leave and are asked for
//! "Unters." = "operator"
//!
//! [columns."VTI pre"]
//! cell = "before.lvot_vti"
//! unit = "mm"                        # the cell's own where absent
//! part = "value"                     # value, beats, uncertainty, origin
//! origin = "estimated"               # of every reading in the column
//! uncertainty = "u = 5 %"            # of every reading in the column, as the notation states it
//! missing = ["not seen"]
//! decimal = "."                      # and thousands: where this column has others than the file
//! words = { AF = "irregular" }       # a finding's words in this table
//! factor_ten = "convert"             # of lengths: set_aside (so where absent), convert or mark
//!
//! [checks]                           # of rows against each other: see `ChecksEntry`
//! patient = "patient"
//! times = ["before at", "after at"]
//! ```
//!
//! [`super::BINDING_PAGE`] says it to people. Columns that the file does not name are bound by their headings. Only a file binds a derived
//! cell.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use serde::Deserialize;

use super::checks::ChecksEntry;
use super::error::CohortError;
use super::file_entry::FileEntry;
use super::marks::Marks;
use super::pair_entry::PairEntry;
use super::whole::file_error;

/// A binding file as written.
#[derive(Clone, Debug, Default, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct BindingFile {
    #[serde(skip)]
    pub(super) path: PathBuf,
    /// Headings of the columns that leave as pseudonyms.
    #[serde(default)]
    pub identifiers: Vec<String>,
    /// Cells without which a row is set aside.
    #[serde(default)]
    pub required: Vec<String>,
    /// Texts that stand for nothing in every bound column.
    #[serde(default)]
    pub missing: Vec<String>,
    /// Results that get a column of standard uncertainties.
    #[serde(default)]
    pub uncertainty: Vec<String>,
    /// How the table's file is written.
    #[serde(default)]
    pub file: FileEntry,
    /// How exams are paired, in a table with one exam a row.
    pub pair: Option<PairEntry>,
    /// Which dates leave shifted.
    pub shift: Option<ShiftEntry>,
    /// How rows are checked.
    pub checks: Option<ChecksEntry>,
    /// Other headings for columns that supply nothing, by the heading in the table.
    #[serde(default)]
    pub headings: BTreeMap<String, String>,
    /// By heading.
    #[serde(default)]
    pub columns: BTreeMap<String, ColumnEntry>,
}

/// Which dates leave shifted, and by how much.
#[derive(Clone, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ShiftEntry {
    /// Headings of the columns of dates.
    pub dates: Vec<String>,
    /// Heading of the column that says whose dates they are.
    pub of: String,
    /// Most days by which they are shifted, from 1 to [`super::WIDEST_SHIFT`].
    pub within_days: u32,
}

/// What the file says of one column.
#[derive(Clone, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ColumnEntry {
    /// Name of the cell.
    pub cell: String,
    /// value, beats, uncertainty or origin; value where absent.
    pub part: Option<String>,
    /// Unit of the numbers.
    pub unit: Option<String>,
    /// Origin of every reading in the column.
    pub origin: Option<String>,
    /// Uncertainty of every reading in the column, as the notation states it: `u = 5 %`.
    pub uncertainty: Option<String>,
    /// Texts that stand for nothing in this column.
    #[serde(default)]
    pub missing: Vec<String>,
    /// The decimal mark of this column: `.` or `,`.
    pub decimal: Option<String>,
    /// The mark between thousands of this column.
    pub thousands: Option<String>,
    /// The table's words for a finding's.
    #[serde(default)]
    pub words: BTreeMap<String, String>,
    /// What is done with a length in it that is wrong by a factor of ten: set_aside, convert or
    /// mark.
    pub factor_ten: Option<String>,
}

impl BindingFile {
    /// Reads a binding file.
    ///
    /// # Errors
    /// A file that cannot be read, or is no binding: with the line and the key.
    pub fn read(path: &Path) -> Result<BindingFile, CohortError> {
        let text = std::fs::read_to_string(path).map_err(|e| file_error(path, e))?;
        BindingFile::parse(path, &text)
    }

    /// Reads a binding from text; `path` is the name that messages show.
    ///
    /// # Errors
    /// As [`BindingFile::read`].
    pub fn parse(path: &Path, text: &str) -> Result<BindingFile, CohortError> {
        let mut file: BindingFile = toml::from_str(text).map_err(|e| CohortError::Binding {
            path: path.to_owned(),
            message: not_read(&e, text),
        })?;
        file.path = path.to_owned();
        file.file.check(path)?;
        Ok(file)
    }

    /// Whether it names identifiers, or dates that leave shifted.
    pub(super) fn names_somebody(&self) -> bool {
        !self.identifiers.is_empty() || self.shift.is_some()
    }

    /// How the numbers of a column are written, where it is stated.
    pub(super) fn marks_of(&self, heading: &str) -> Result<Option<Marks>, CohortError> {
        let entries = self.columns.iter();
        let mut entries = entries.filter(|(name, _)| name.trim() == heading.trim());
        let of_file = (self.file.decimal.as_deref(), self.file.thousands.as_deref());
        let stated = match entries.next().map(|(_, entry)| entry) {
            Some(entry) if entry.decimal.is_some() || entry.thousands.is_some() => {
                (entry.decimal.as_deref(), entry.thousands.as_deref())
            }
            _ => of_file,
        };
        Marks::stated(stated).map_err(|m| self.wrong(format!("columns.\"{heading}\": {m}")))
    }

    pub(super) fn wrong(&self, message: String) -> CohortError {
        CohortError::Binding {
            path: self.path.clone(),
            message,
        }
    }
}

/// What is wrong with a text that is no binding, on one line, with the line that it is in.
fn not_read(error: &toml::de::Error, text: &str) -> String {
    let message = error.message().trim().replace('\n', "; ");
    let start = error.span().map(|span| span.start.min(text.len()));
    let Some(before) = start.and_then(|start| text.get(..start)) else {
        return message;
    };
    let line = before.matches('\n').count();
    let stands = text.lines().nth(line).unwrap_or_default().trim();
    format!("line {} (`{stands}`): {message}", line + 1)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_no_binding_is_said_with_its_line() {
        let refused = |text: &str| {
            let error = BindingFile::parse("b.toml".as_ref(), text).unwrap_err();
            error.to_string()
        };
        let said = refused("required = [\"stroke_volume\"]\nidentifier = [\"mrn\"]\n");
        let words = "b.toml: line 2 (`identifier = [\"mrn\"]`): unknown field `identifier`, expected one of `identifiers`";
        assert!(said.starts_with(words), "{said}");
        // A mark that is not closed, at the very end, and a table within a table.
        let said = refused("required = [\"stroke_volume");
        assert!(said.starts_with("b.toml: line 1 (`required"), "{said}");
        let said = refused("[columns.\"VTI\"]\ncell = 3\n");
        assert!(said.contains("line 2 (`cell = 3`)"), "{said}");
        for said in [refused("="), refused("[file"), refused("x = \"\n")] {
            assert!(!said.contains('\n'), "{said}");
        }
    }
}
