//! Counts of what the uncertainties of a result rest on, over all rows used.

use super::{Bent, Standards};
use crate::cohort::apply::{Values, counted};
use crate::formula::CellId;
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
    /// Rows with a value in which a bend or branch lies within reach of the uncertainties, so that
    /// linear figures do not hold.
    pub not_linear: usize,
    /// Those bends and branches in words, each with the number of rows.
    pub bends: Vec<(String, usize)>,
    /// The readings that bring most of the uncertainties that those lie within reach of, each with
    /// the number of rows.
    pub mostly_by: Vec<(String, usize)>,
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
            write!(f, "; none is stated for {}", each_in_rows(&self.unstated))?;
        }
        if self.not_linear > 0 {
            write!(
                f,
                "; linear figures do not hold in {}: {} within reach of the readings' uncertainties",
                counted(self.not_linear, "row", "rows"),
                each_in_rows(&self.bends)
            )?;
        }
        if !self.mostly_by.is_empty() {
            write!(f, ", mostly that of {}", each_in_rows(&self.mostly_by))?;
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

/// `a in 1 row, b in 3 rows`.
fn each_in_rows(counts: &[(String, usize)]) -> String {
    let each =
        |(name, count): &(String, usize)| format!("{name} in {}", counted(*count, "row", "rows"));
    let all: Vec<String> = counts.iter().map(each).collect();
    all.join(", ")
}

/// Adds rows to those of a name.
fn add_to(counts: &mut Vec<(String, usize)>, name: &str, rows: usize) {
    match counts.iter_mut().find(|(known, _)| known == name) {
        Some((_, all)) => *all += rows,
        None => counts.push((name.to_owned(), rows)),
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
            all.not_linear += more.not_linear;
            for (all, more) in [
                (&mut all.unstated, more.unstated),
                (&mut all.bends, more.bends),
                (&mut all.mostly_by, more.mostly_by),
            ] {
                for (name, rows) in more {
                    add_to(all, &name, rows);
                }
            }
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
                add_to(&mut self.unstated, &sheet.name(*cell), 1);
            }
            self.count_bends(sheet, &more.bends[at]);
        }
    }

    /// Adds the bends of one row.
    fn count_bends(&mut self, sheet: &Sheet, bends: &[Bent]) {
        self.not_linear += usize::from(!bends.is_empty());
        for bent in bends {
            add_to(&mut self.bends, &bent.place, 1);
        }
        let mut readings: Vec<CellId> = bends.iter().filter_map(|bent| bent.mostly_by).collect();
        readings.sort_unstable();
        readings.dedup();
        for cell in readings {
            add_to(&mut self.mostly_by, &sheet.name(cell), 1);
        }
    }
}
