//! Counts of what the uncertainties of a result rest on, over all rows used.

use super::Standards;
use crate::cohort::apply::{Values, counted};
use crate::sheet::Sheet;

/// How far the uncertainties of a result can be trusted over all rows used.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct UncertaintyCounts {
    /// The name of the result.
    pub name: String,
    /// Rows with a standard uncertainty.
    pub known: usize,
    /// Those of them in which it is a lower bound, since some reading stated none.
    pub lower_bound: usize,
    /// Rows with a value and without an uncertainty: nothing was stated, or there is no finite
    /// slope.
    pub without: usize,
    /// Readings that stated none, each with the number of rows.
    pub unstated: Vec<(String, usize)>,
    /// Readings whose uncertainty was taken from a publication where they stated none.
    pub published: Vec<(String, &'static str)>,
}

impl std::fmt::Display for UncertaintyCounts {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(
            f,
            "standard uncertainty of {} in {}",
            self.name,
            counted(self.known, "row", "rows")
        )?;
        if self.lower_bound > 0 {
            write!(f, ", in {} of them a lower bound", self.lower_bound)?;
        }
        if self.without > 0 {
            write!(
                f,
                "; {} with the value and no uncertainty",
                counted(self.without, "row", "rows")
            )?;
        }
        if !self.unstated.is_empty() {
            let each = |(name, count): &(String, usize)| {
                format!("{name} in {}", counted(*count, "row", "rows"))
            };
            let all: Vec<String> = self.unstated.iter().map(each).collect();
            write!(f, "; none is stated for {}", all.join(", "))?;
        }
        for (name, source) in &self.published {
            write!(
                f,
                "; that of {name}, where it states none, is taken from {source}"
            )?;
        }
        Ok(())
    }
}

impl UncertaintyCounts {
    /// Joins the counts of a piece to those of the pieces before it.
    pub(in crate::cohort) fn join(all: &mut Vec<UncertaintyCounts>, more: Vec<UncertaintyCounts>) {
        if all.is_empty() {
            *all = more;
            return;
        }
        for (all, more) in all.iter_mut().zip(more) {
            all.known += more.known;
            all.lower_bound += more.lower_bound;
            all.without += more.without;
            for (name, rows) in more.unstated {
                all.count_unstated(name, rows);
            }
        }
    }

    fn count_unstated(&mut self, name: String, rows: usize) {
        match self.unstated.iter_mut().find(|(known, _)| *known == name) {
            Some((_, all)) => *all += rows,
            None => self.unstated.push((name, rows)),
        }
    }

    /// Adds the rows of a piece.
    pub(in crate::cohort) fn add(&mut self, sheet: &Sheet, more: &Standards, values: &Values) {
        for (at, status) in more.values.states.iter().enumerate() {
            if !values.states[at].is_known() {
                continue;
            }
            let unstated = &more.unstated[at];
            match status.is_known() {
                true => self.known += 1,
                false => self.without += 1,
            }
            self.lower_bound += usize::from(status.is_known() && !unstated.is_empty());
            for cell in unstated.iter() {
                self.count_unstated(sheet.name(*cell), 1);
            }
        }
    }
}
