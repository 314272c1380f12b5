//! Rows against their own times and against rows before them, in the order of the table.

use std::cmp::Ordering;
use std::collections::HashMap;

use sha2::{Digest, Sha256};

use super::moment::Moment;
use super::settings::{Checks, Watched};
use super::{Action, Check, Finding};
use crate::cohort::binding::Binding;
use crate::cohort::error::CohortError;
use crate::cohort::forms::Forms;
use crate::cohort::row::says_nothing;
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
                rows: HashMap::new(),
                times: HashMap::new(),
                exams: HashMap::new(),
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

/// Half of a SHA-256 digest: two texts have the same one only if they are the same.
type Key = [u8; 16];

/// What rows before are remembered by.
struct Across<'t> {
    checks: &'t Checks,
    binding: &'t Binding,
    /// The columns in which one row says the same as another: patient, times and bound ones.
    said: Vec<usize>,
    rows_before: usize,
    /// Number of the first row that said the same in patient, times and bound columns.
    rows: HashMap<Key, usize>,
    /// Number of the first row of this patient at these times.
    times: HashMap<Key, usize>,
    /// The last number of each quantity, by patient.
    exams: HashMap<Key, Vec<Option<Last>>>,
}

/// The last number of a quantity.
#[derive(Clone)]
struct Last {
    text: Box<str>,
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
        let moments = self.moments(rows, row, &mut verdict);
        self.order(&moments, &mut verdict);
        let Some(column) = self.checks.patient else {
            return verdict;
        };
        let patient = rows.field(row, column);
        let patient = patient.trim();
        if patient.is_empty() {
            let text = "no patient: not compared with other rows".to_owned();
            verdict.marks.push(Finding::new(Check::NoPatient, text));
            return verdict;
        }
        let number = self.rows_before + rows.number(row) + 1;
        if !self.is_again(rows, row, number, &mut verdict) {
            self.is_at_the_same_time(patient, &moments, number, &mut verdict);
        }
        // What is set aside is no exam that others are compared with.
        if self.checks.copied != Action::Off && verdict.aside.is_none() {
            self.compare_exams(patient, rows, row, number, &mut verdict);
        }
        verdict
    }

    /// The times of a row; those that cannot be read are told.
    fn moments(&self, rows: &Rows, row: usize, verdict: &mut Verdict) -> Vec<Option<Moment>> {
        let columns = self.checks.times.iter();
        columns
            .map(|column| {
                let field = rows.field(row, *column);
                let moment = Moment::read(&field);
                if moment.is_none() && !crate::cohort::is_nothing(&field) {
                    // The field itself is not repeated: it may be a date that must not leave.
                    let text = format!(
                        "`{}` is no time such as 2031-05-17 07:30: its order is not checked",
                        self.binding.headings[*column]
                    );
                    let finding = Finding::new(Check::UnreadableTime, text);
                    verdict.marks.push(finding);
                }
                moment
            })
            .collect()
    }

    fn order(&self, moments: &[Option<Moment>], verdict: &mut Verdict) {
        let mut last: Option<(usize, Moment)> = None;
        for (at, moment) in moments.iter().enumerate() {
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

    /// Whether a row before said the same.
    fn is_again(&mut self, rows: &Rows, row: usize, number: usize, verdict: &mut Verdict) -> bool {
        if self.checks.same_row == Action::Off {
            return false;
        }
        let fields = self.said.iter().map(|column| rows.field(row, *column));
        match self.rows.entry(key(fields)) {
            std::collections::hash_map::Entry::Vacant(free) => {
                free.insert(number);
                false
            }
            std::collections::hash_map::Entry::Occupied(first) => {
                let text = format!(
                    "the same as row {} in patient, times and all bound columns",
                    first.get()
                );
                verdict.find(Finding::new(Check::SameRow, text), self.checks.same_row);
                true
            }
        }
    }

    fn is_at_the_same_time(
        &mut self,
        patient: &str,
        moments: &[Option<Moment>],
        number: usize,
        verdict: &mut Verdict,
    ) {
        if self.checks.same_time == Action::Off || moments.iter().all(Option::is_none) {
            return;
        }
        let texts = moments.iter().map(|m| m.map_or(String::new(), Moment::key));
        let said = std::iter::once(patient.to_owned()).chain(texts);
        let first = *self.times.entry(key(said)).or_insert(number);
        if first != number {
            let text = format!("the same patient and time as row {first}");
            verdict.find(Finding::new(Check::SameTime, text), self.checks.same_time);
        }
    }

    fn compare_exams(
        &mut self,
        patient: &str,
        rows: &Rows,
        row: usize,
        number: usize,
        verdict: &mut Verdict,
    ) {
        let watched = &self.checks.watched;
        let exams = self.exams.entry(key([patient]));
        let last = exams.or_insert_with(|| vec![None; watched.len()]);
        for (watched, last) in watched.iter().zip(last) {
            compare(self.binding, watched, (rows, row, number), last, verdict);
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
        let text = field.trim();
        if says_nothing(bound, text) {
            continue;
        }
        let heading = binding.headings[bound.column].as_str();
        if let Some(last) = last.as_ref().filter(|last| *last.text == *text) {
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
        *last = Some(Last {
            text: text.into(),
            row: number,
        });
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

/// The digest of some texts; lengths keep neighbors apart.
fn key<T: AsRef<str>>(texts: impl IntoIterator<Item = T>) -> Key {
    let mut digest = Sha256::new();
    for text in texts {
        let text = text.as_ref().trim();
        digest.update((text.len() as u64).to_le_bytes());
        digest.update(text);
    }
    let whole = digest.finalize();
    let mut half = Key::default();
    let size = half.len();
    half.copy_from_slice(&whole[..size]);
    half
}
