//! What was found in a row, and the words for it.

use super::settings::Checks;
use super::{Action, Check, Finding};
use crate::cohort::binding::Binding;

/// What was found in one row of a piece.
#[derive(Debug, PartialEq)]
pub(in crate::cohort) struct Verdict {
    /// Number of the row among those of the piece that could be taken apart.
    pub(in crate::cohort) row: usize,
    /// Why it is set aside, if it is.
    pub(in crate::cohort) aside: Option<Finding>,
    /// What its remarks say.
    pub(in crate::cohort) marks: Vec<Finding>,
}

/// A row that is like another in something, without words. Rows of the table are numbered from 1.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Likeness {
    /// Number of the row among those of the piece that could be taken apart.
    pub(super) row: usize,
    pub(super) what: Like,
}

/// What a row is like another in.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Like {
    /// It says the same as a row before.
    Row(usize),
    /// It is of the same patient at the same times as a row before.
    Times(usize),
    /// A watched quantity has the same number as in an exam before.
    Number {
        is_carried: bool,
        column: usize,
        whose: Whose,
    },
}

/// The exam before; columns are numbered as those of the table.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Whose {
    /// It stands in another column of the row.
    Column(usize),
    /// It is the patient's row before.
    Row(usize),
}

impl Like {
    /// What is done about it.
    pub(super) fn action(self, checks: &Checks) -> Action {
        match self {
            Like::Row(_) => checks.same_row,
            Like::Times(_) => checks.same_time,
            Like::Number { .. } => Action::Mark,
        }
    }

    fn finding(self, binding: &Binding) -> Finding {
        let heading = |column: usize| binding.headings[column].as_str();
        match self {
            Like::Row(again) => Finding::new(
                Check::SameRow,
                format!("the same as row {again} in patient, times and all bound columns"),
            ),
            Like::Times(first) => Finding::new(
                Check::SameTime,
                format!("the same patient and time as row {first}"),
            ),
            Like::Number {
                is_carried,
                column,
                whose,
            } => {
                let heading_here = heading(column);
                let whose = match whose {
                    Whose::Column(other) => format!("in `{}`", heading(other)),
                    Whose::Row(last) => format!("in row {last}, the patient's exam before"),
                };
                match is_carried {
                    true => Finding::new(
                        Check::Carried,
                        format!("`{heading_here}` is carried forward: the same as {whose}"),
                    ),
                    false => Finding::new(
                        Check::Copied,
                        format!(
                            "`{heading_here}` is the same number as {whose}: copied, or by chance"
                        ),
                    ),
                }
            }
        }
    }
}

impl Verdict {
    /// Nothing found so far.
    pub(super) fn of(row: usize) -> Verdict {
        Verdict {
            row,
            aside: None,
            marks: Vec::new(),
        }
    }

    pub(super) fn is_empty(&self) -> bool {
        self.aside.is_none() && self.marks.is_empty()
    }

    pub(super) fn find(&mut self, finding: Finding, action: Action) {
        match action {
            Action::SetAside if self.aside.is_none() => self.aside = Some(finding),
            Action::SetAside | Action::Mark => self.marks.push(finding),
            Action::Off => {}
        }
    }
}

/// What rows show by themselves, and behind it what they are like others in; both are in the order of the rows.
pub(super) fn joined(
    checks: &Checks,
    binding: &Binding,
    alone: Vec<Verdict>,
    alike: &[Likeness],
) -> Vec<Verdict> {
    if alike.is_empty() {
        return alone;
    }
    let mut all: Vec<Verdict> = Vec::with_capacity(alone.len());
    let mut alone = alone.into_iter().peekable();
    for Likeness { row, what } in alike {
        all.extend(std::iter::from_fn(|| {
            alone.next_if(|verdict| verdict.row <= *row)
        }));
        let (finding, action) = (what.finding(binding), what.action(checks));
        match all.last_mut().filter(|verdict| verdict.row == *row) {
            Some(verdict) => verdict.find(finding, action),
            None => {
                let mut verdict = Verdict::of(*row);
                verdict.find(finding, action);
                all.push(verdict);
            }
        }
    }
    all.extend(alone);
    all
}
