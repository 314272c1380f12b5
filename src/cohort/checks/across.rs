//! Rows against rows before them, in the order of the table.

use std::num::NonZeroU64;

use super::Action;
use super::history::{History, Row};
use super::long::Long;
use super::seen::{Looked, Seen};
use super::settings::Checks;
use super::verdict::{Like, Likeness, Whose};
use crate::cohort::binding::Binding;
use crate::cohort::rows::{Taken, row_told};

/// What rows before are remembered by.
#[derive(Default)]
pub(super) struct Across {
    rows_before: usize,
    history: History,
    /// The last numbers of the watched quantities, patient by patient.
    last: Long<Last>,
}

/// The last number of a quantity; none before there is any.
#[derive(Clone, Copy, Default)]
struct Last {
    said: Option<NonZeroU64>,
    row: usize,
}

/// What rows are compared for.
#[derive(Clone, Copy)]
pub(super) struct Comparison<'t> {
    pub(super) checks: &'t Checks,
    pub(super) binding: &'t Binding,
}

/// An exam that others are compared with.
struct Exam<'l> {
    patient: usize,
    /// Number of the row in the table, from 1.
    number: usize,
    /// Digests of the watched fields.
    watched: &'l [Option<NonZeroU64>],
}

impl Across {
    /// Compares the rows of the next piece with those before. Only what must be in order is done here.
    pub(super) fn compare(
        &mut self,
        for_what: Comparison<'_>,
        taken: &Taken,
        looked: &Looked,
    ) -> Vec<Likeness> {
        let mut alike = Vec::new();
        let aside = looked.verdicts.iter().filter(|v| v.aside.is_some());
        let mut aside = aside.map(|verdict| verdict.row).peekable();
        let patients = self.history.patients(&looked.patients);
        for (at, seen) in looked.rows.iter().enumerate() {
            let row = seen.row;
            let patient = patients[seen.patient];
            let number = row_told(self.rows_before, taken.rows.number(row));
            let like = self.like(for_what.checks, patient, seen, number);
            alike.extend(like.map(|what| Likeness { row, what }));
            let is_left_out =
                like.is_some_and(|like| like.action(for_what.checks) == Action::SetAside);
            while aside.next_if(|aside| *aside < row).is_some() {}
            // What is set aside is no exam that others are compared with.
            if for_what.checks.copied != Action::Off && !is_left_out && aside.peek() != Some(&row) {
                let exam = Exam {
                    patient,
                    number,
                    watched: looked.watched_of(at),
                };
                self.compare_exam(for_what, &exam, |what| alike.push(Likeness { row, what }));
            }
        }
        self.rows_before += taken.count;
        alike
    }

    /// Whether a row before said the same, or told of the same patient and times. Rows that say the same share patient and times.
    fn like(
        &mut self,
        checks: &Checks,
        patient: usize,
        seen: &Seen,
        number: usize,
    ) -> Option<Like> {
        if !checks.compares_rows() {
            return None;
        }
        let before = self.history.meet(
            patient,
            Row {
                times: seen.times.map_or(0, NonZeroU64::get),
                said: seen.said,
                number,
            },
        );
        let same = before.same.filter(|_| checks.same_row != Action::Off);
        let at_once = before
            .at_the_same_times
            .filter(|_| checks.same_time != Action::Off && seen.times.is_some());
        same.map(Like::Row).or(at_once.map(Like::Times))
    }

    /// Compares quantities from exam to exam, in the row and with the patient's row before.
    fn compare_exam(
        &mut self,
        for_what: Comparison<'_>,
        exam: &Exam<'_>,
        mut found: impl FnMut(Like),
    ) {
        let quantities = &for_what.checks.watched;
        let from = exam.patient * quantities.len();
        while self.last.len() < from + quantities.len() {
            self.last.push(Last::default());
        }
        let mut digests = exam.watched.iter();
        for (quantity, watched) in quantities.iter().enumerate() {
            let last = &mut self.last[from + quantity];
            let mut before = None;
            for (at, said) in watched.columns.iter().zip(digests.by_ref()) {
                if said.is_none() {
                    continue;
                }
                if last.said == *said {
                    found(Like::Number {
                        is_carried: watched.is_carried,
                        column: for_what.binding.columns[*at].column,
                        whose: before.map_or(Whose::Row(last.row), |other: usize| {
                            Whose::Column(for_what.binding.columns[other].column)
                        }),
                    });
                }
                before = Some(*at);
                *last = Last {
                    said: *said,
                    row: exam.number,
                };
            }
        }
    }
}
