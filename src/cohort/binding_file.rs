//! Binding files: what columns supply, where a heading does not say it.
//!
//! ```toml
//! identifiers = ["patient"]          # leave as pseudonyms
//! required = ["stroke_volume"]       # a row without is set aside
//! missing = ["-99"]                  # stand for nothing, in every column
//!
//! [shift]                            # dates leave shifted, each patient's by other days
//! dates = ["exam date"]              # ISO 8601: 2031-05-17, a time of day may follow
//! of = "patient"                     # whose dates they are
//! within_days = 365                  # by 1 to 365 days, forward or back
//!
//! [columns."VTI pre"]
//! cell = "before.lvot_vti"
//! unit = "mm"                        # the cell's own where absent
//! part = "value"                     # value, beats, uncertainty, origin
//! origin = "estimated"               # of every reading in the column
//! missing = ["not seen"]
//! words = { AF = "irregular" }       # a finding's words in this table
//! factor_ten = "convert"             # of lengths: set_aside (so where absent), convert or mark
//!
//! [checks]                           # of rows against each other: see `ChecksEntry`
//! patient = "patient"
//! times = ["before at", "after at"]
//! ```
//!
//! Columns that the file does not name are bound by their headings. Only a file binds a derived
//! cell.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use serde::Deserialize;

use super::checks::ChecksEntry;
use super::error::CohortError;

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
    /// Which dates leave shifted.
    pub shift: Option<ShiftEntry>,
    /// How rows are checked.
    pub checks: Option<ChecksEntry>,
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
    /// Texts that stand for nothing in this column.
    #[serde(default)]
    pub missing: Vec<String>,
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
        let text = std::fs::read_to_string(path).map_err(|source| CohortError::File {
            path: path.to_owned(),
            source,
        })?;
        BindingFile::parse(path, &text)
    }

    /// Reads a binding from text; `path` is the name that messages show.
    ///
    /// # Errors
    /// As [`BindingFile::read`].
    pub fn parse(path: &Path, text: &str) -> Result<BindingFile, CohortError> {
        let mut file: BindingFile = toml::from_str(text).map_err(|e| CohortError::Binding {
            path: path.to_owned(),
            message: e.to_string(),
        })?;
        file.path = path.to_owned();
        Ok(file)
    }

    pub(super) fn wrong(&self, message: String) -> CohortError {
        CohortError::Binding {
            path: self.path.clone(),
            message,
        }
    }
}
