//! The columns by which exams are paired.

use super::error::CohortError;
use super::pair_entry::PairEntry;
use super::table::Table;

/// The columns that pairing asks, by number from 0.
pub(super) struct Columns {
    pub(super) of: usize,
    pub(super) time: Option<usize>,
    pub(super) intervention: Option<usize>,
    pub(super) phase: Option<usize>,
    pub(super) episode: Option<usize>,
    pub(super) kept: Vec<usize>,
    pub(super) others: Vec<usize>,
}

impl Columns {
    /// Finds the columns of a table.
    ///
    /// # Errors
    /// Columns that the table does not have, and a rule that is not one.
    pub(super) fn of(table: &Table, entry: &PairEntry) -> Result<Columns, CohortError> {
        let headings = table.headings();
        let wrong = |message: String| CohortError::Unclear {
            path: table.path().to_owned(),
            message,
        };
        let find = |name: &str, heading: &str| {
            let found = headings.iter().position(|h| h.trim() == heading.trim());
            found.ok_or_else(|| {
                wrong(format!(
                    "pair.{name}: it has no column `{heading}`; its columns are {}",
                    headings.join(", ")
                ))
            })
        };
        let find_if = |name: &str, heading: &Option<String>| {
            heading.as_deref().map(|h| find(name, h)).transpose()
        };
        let is_by_time = entry.intervention.is_some() && entry.time.is_some();
        if entry.phase.is_some() == entry.intervention.is_some()
            || (entry.phase.is_none() && !is_by_time)
        {
            return Err(wrong(
                "pair: exams are told apart by `phase`, or by `intervention` and `time`: say one of them".into(),
            ));
        }
        if entry
            .within_hours
            .is_some_and(|hours| hours.is_nan() || hours <= 0.0)
            || (entry.within_hours.is_some() && entry.time.is_none())
        {
            return Err(wrong(
                "pair.within_hours is more than 0, and needs `time`".into(),
            ));
        }
        for heading in entry.kept() {
            find("shared", heading)?;
        }
        let is_kept = |column: &usize| entry.kept().any(|kept| kept == headings[*column].trim());
        let (kept, others) = (0..headings.len()).partition(is_kept);
        Ok(Columns {
            of: find("of", &entry.of)?,
            time: find_if("time", &entry.time)?,
            intervention: find_if("intervention", &entry.intervention)?,
            phase: find_if("phase", &entry.phase)?,
            episode: find_if("episode", &entry.episode)?,
            kept,
            others,
        })
    }
}
