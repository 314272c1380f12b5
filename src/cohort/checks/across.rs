//! Rows against their own times and against rows before them, in the order of the table.

use std::cmp::Ordering;

use super::digest::Digest;
use super::history::{History, Row};
use super::moment::Moment;
use super::settings::{Checks, Watched};
use super::{Action, Check, Finding};
use crate::cohort::binding::Binding;
use crate::cohort::dates::way_out;
use crate::cohort::error::CohortError;
use crate::cohort::forms::Forms;
use crate::cohort::row::{says_nothing, trimmed};
use crate::cohort::rows::{Rows, Taken};
use crate::cohort::table::{Piece, Table};

/// What was found in one row of a piece.
#[derive(Debug)]
pub(in crate::cohort) struct Verdict {
    /// Number of the row among those of the piece that could be taken apart.
    pub(in crate::cohort) row: usize,
    /// Why it is set aside, if it is.
    pub(in crate::cohort) aside: Option<Finding>,
    /// What its remarks say.
    pub(in crate::cohort) marks: Vec<Finding>,
}

/// The pieces of a table, with what was found in their rows where a binding asks for it.
pub(in crate::cohort) struct Feed<'t> {
    table: &'t mut Table,
    forms: &'t Forms,
    width: usize,
    across: Option<Across<'t>>,
}

/// A piece of a table for a thread to work on.
pub(in crate::cohort) enum Fed {
    /// As it came.
    Piece(Piece),
    /// Taken apart, with what was found in its rows.
    Looked(Taken, Vec<Verdict>),
}

impl<'t> Feed<'t> {
    pub(in crate::cohort) fn new(
        table: &'t mut Table,
        binding: &'t Binding,
        forms: &'t Forms,
    ) -> Feed<'t> {
        Feed {
            table,
            forms,
            width: binding.headings.len(),
            across: binding.checks.as_ref().map(|checks| Across {
                checks,
                binding,
                said: said(checks, binding),
                rows_before: 0,
                history: History::default(),
                moments: Vec::new(),
                last: Vec::new(),
            }),
        }
    }

    /// The next piece, if there is any.
    ///
    /// # Errors
    /// A file that cannot be read on, or taken apart.
    pub(in crate::cohort) fn next(&mut self) -> Result<Option<Fed>, CohortError> {
        let Some(piece) = self.table.next_piece()? else {
            return Ok(None);
        };
        Ok(Some(match &mut self.across {
            None => Fed::Piece(piece),
            Some(across) => {
                let taken = piece.take_apart(self.width, self.forms)?;
                let verdicts = across.look(&taken);
                Fed::Looked(taken, verdicts)
            }
        }))
    }
}

impl Fed {
    /// The rows, with what was found in them.
    ///
    /// # Errors
    /// A column that cannot be shown as text.
    pub(in crate::cohort) fn open(
        self,
        width: usize,
        forms: &Forms,
    ) -> Result<(Taken, Vec<Verdict>), CohortError> {
        match self {
            Fed::Piece(piece) => Ok((piece.take_apart(width, forms)?, Vec::new())),
            Fed::Looked(taken, verdicts) => Ok((taken, verdicts)),
        }
    }
}

/// What rows before are remembered by.
struct Across<'t> {
    checks: &'t Checks,
    binding: &'t Binding,
    /// The columns in which one row says the same as another: patient, times and bound ones.
    said: Vec<usize>,
    rows_before: usize,
    history: History,
    /// The times of the row at hand.
    moments: Vec<Option<Moment>>,
    /// The last numbers of the watched quantities, patient by patient.
    last: Vec<Option<Last>>,
}

/// The last number of a quantity.
#[derive(Clone)]
struct Last {
    said: u64,
    row: usize,
}

impl Across<'_> {
    fn look(&mut self, taken: &Taken) -> Vec<Verdict> {
        let rows = 0..taken.rows.len();
        let verdicts = rows.map(|row| self.look_at(&taken.rows, row));
        let found = verdicts.filter(|v| v.aside.is_some() || !v.marks.is_empty());
        let found = found.collect();
        self.rows_before += taken.count;
        found
    }

    fn look_at(&mut self, rows: &Rows, row: usize) -> Verdict {
        let mut verdict = Verdict {
            row,
            aside: None,
            marks: Vec::new(),
        };
        self.read_moments(rows, row, &mut verdict);
        self.order(&mut verdict);
        let Some(column) = self.checks.patient else {
            return verdict;
        };
        let patient = rows.field(row, column);
        let patient = trimmed(&patient);
        if patient.is_empty() {
            let text = "no patient: not compared with other rows".to_owned();
            verdict.marks.push(Finding::new(Check::NoPatient, text));
            return verdict;
        }
        let patient = self.history.patient(patient);
        let number = self.rows_before + rows.number(row) + 1;
        self.compare_rows(patient, (rows, row, number), &mut verdict);
        // What is set aside is no exam that others are compared with.
        if self.checks.copied != Action::Off && verdict.aside.is_none() {
            self.compare_exams(patient, (rows, row, number), &mut verdict);
        }
        verdict
    }

    /// Reads the times of a row; those that cannot be read are told.
    fn read_moments(&mut self, rows: &Rows, row: usize, verdict: &mut Verdict) {
        self.moments.clear();
        for column in &self.checks.times {
            let field = rows.field(row, *column);
            let moment = Moment::read(&field);
            if moment.is_none() && !crate::cohort::is_nothing(&field) {
                // The field itself is not repeated: it may be a date that must not leave.
                let text = format!(
                    "`{}` is no time such as 2031-05-17 07:30: its order is not checked{}",
                    self.binding.headings[*column],
                    way_out(&field, self.checks.form)
                );
                let finding = Finding::new(Check::UnreadableTime, text);
                verdict.marks.push(finding);
            }
            self.moments.push(moment);
        }
    }

    fn order(&self, verdict: &mut Verdict) {
        let mut last: Option<(usize, Moment)> = None;
        for (at, moment) in self.moments.iter().enumerate() {
            let Some(moment) = *moment else {
                continue;
            };
            if let Some((before, earlier)) = last
                && moment.order(earlier) == Some(Ordering::Less)
            {
                let heading = |at: usize| &self.binding.headings[self.checks.times[at]];
                let text = format!("`{}` is before `{}`", heading(at), heading(before));
                verdict.find(Finding::new(Check::Order, text), self.checks.order);
            }
            last = Some((at, moment));
        }
    }

    /// Whether a row before said the same, or told of the same patient and times. Rows that say the same share patient and times.
    fn compare_rows(
        &mut self,
        patient: usize,
        (rows, row, number): (&Rows, usize, usize),
        verdict: &mut Verdict,
    ) {
        let (same_row, same_time) = (self.checks.same_row, self.checks.same_time);
        if same_row == Action::Off && same_time == Action::Off {
            return;
        }
        let (mut times, mut said) = (Digest::new(), Digest::new());
        self.moments.iter().for_each(|m| times.moment(*m));
        for column in &self.said {
            said.text(trimmed(&rows.field(row, *column)));
        }
        let before = self.history.meet(
            patient,
            Row {
                times: times.finish(),
                said: said.finish(),
                number,
            },
        );
        if let Some(again) = before.same.filter(|_| same_row != Action::Off) {
            let text = format!("the same as row {again} in patient, times and all bound columns");
            verdict.find(Finding::new(Check::SameRow, text), same_row);
            return;
        }
        if let Some(first) = before.at_the_same_times
            && same_time != Action::Off
            && self.moments.iter().any(Option::is_some)
        {
            let text = format!("the same patient and time as row {first}");
            verdict.find(Finding::new(Check::SameTime, text), same_time);
        }
    }

    fn compare_exams(
        &mut self,
        patient: usize,
        place: (&Rows, usize, usize),
        verdict: &mut Verdict,
    ) {
        let watched = &self.checks.watched;
        let from = patient * watched.len();
        if self.last.len() < from + watched.len() {
            self.last.resize(from + watched.len(), None);
        }
        for (watched, last) in watched.iter().zip(&mut self.last[from..]) {
            compare(self.binding, watched, place, last, verdict);
        }
    }
}

/// Compares a quantity from exam to exam, in the row and with the patient's row before.
fn compare(
    binding: &Binding,
    watched: &Watched,
    (rows, row, number): (&Rows, usize, usize),
    last: &mut Option<Last>,
    verdict: &mut Verdict,
) {
    let mut before: Option<&str> = None;
    for at in &watched.columns {
        let bound = &binding.columns[*at];
        let field = rows.field(row, bound.column);
        let text = trimmed(&field);
        if says_nothing(bound, text) {
            continue;
        }
        let heading = binding.headings[bound.column].as_str();
        let mut digest = Digest::new();
        digest.text(text);
        let said = digest.finish();
        if let Some(last) = last.as_ref().filter(|last| last.said == said) {
            let whose = match before {
                Some(other) => format!("in `{other}`"),
                None => format!("in row {}, the patient's exam before", last.row),
            };
            verdict.marks.push(match watched.is_carried {
                true => Finding::new(
                    Check::Carried,
                    format!("`{heading}` is carried forward: the same as {whose}"),
                ),
                false => Finding::new(
                    Check::Copied,
                    format!("`{heading}` is the same number as {whose}: copied, or by chance"),
                ),
            });
        }
        before = Some(heading);
        *last = Some(Last { said, row: number });
    }
}

impl Verdict {
    fn find(&mut self, finding: Finding, action: Action) {
        match action {
            Action::SetAside if self.aside.is_none() => self.aside = Some(finding),
            Action::SetAside | Action::Mark => self.marks.push(finding),
            Action::Off => {}
        }
    }
}

fn said(checks: &Checks, binding: &Binding) -> Vec<usize> {
    let bound = binding.columns.iter().map(|bound| bound.column);
    let all = bound
        .chain(binding.identifiers.iter().copied())
        .chain(checks.patient)
        .chain(checks.times.iter().copied());
    let mut columns: Vec<usize> = all.collect();
    columns.sort_unstable();
    columns.dedup();
    columns
}
