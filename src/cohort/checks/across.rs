//! Rows against rows before them, in the order of the table.

use std::num::NonZeroU64;

use super::Action;
use super::history::{History, Row};
use super::seen::{Looked, Seen};
use super::settings::Checks;
use super::verdict::{Like, Likeness, Whose};
use crate::cohort::binding::Binding;

/// What rows before are remembered by.
#[derive(Default)]
pub(super) struct Across {
    rows_before: usize,
    history: History,
    /// The last numbers of the watched quantities, patient by patient.
    last: Vec<Last>,
}

/// The last number of a quantity; none before there is any.
#[derive(Clone, Copy, Default)]
struct Last {
    said: Option<NonZeroU64>,
    row: usize,
}

/// What rows are compared for.
pub(super) struct Comparison<'t> {
    pub(super) checks: &'t Checks,
    pub(super) binding: &'t Binding,
}

impl Across {
    /// Compares the rows of the next piece, which has `count` rows, with those before. Only what must be in order is done here.
    pub(super) fn compare(
        &mut self,
        for_what: &Comparison<'_>,
        looked: &Looked,
        count: usize,
    ) -> Vec<Likeness> {
        let mut alike = Vec::new();
        for (at, seen) in looked.rows.iter().enumerate() {
            let patient = self.history.patient(seen.patient);
            let number = self.rows_before + seen.number + 1;
            let like = self.like(for_what.checks, patient, seen, number);
            let is_aside = seen.is_aside
                || like.is_some_and(|like| like.action(for_what.checks) == Action::SetAside);
            let row = seen.row;
            alike.extend(like.map(|what| Likeness { row, what }));
            // What is set aside is no exam that others are compared with.
            if for_what.checks.copied != Action::Off && !is_aside {
                let found = |what| alike.push(Likeness { row, what });
                self.compare_exams(for_what, patient, looked.watched_of(at), number, found);
            }
        }
        self.rows_before += count;
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
                times: seen.times,
                said: seen.said,
                number,
            },
        );
        let same = before.same.filter(|_| checks.same_row != Action::Off);
        let at_once = before
            .at_the_same_times
            .filter(|_| checks.same_time != Action::Off && seen.has_time);
        same.map(Like::Row).or(at_once.map(Like::Times))
    }

    /// Compares quantities from exam to exam, in the row and with the patient's row before.
    fn compare_exams(
        &mut self,
        for_what: &Comparison<'_>,
        patient: usize,
        said: &[Option<NonZeroU64>],
        number: usize,
        mut found: impl FnMut(Like),
    ) {
        let quantities = &for_what.checks.watched;
        let from = patient * quantities.len();
        if self.last.len() < from + quantities.len() {
            let all = from + quantities.len();
            self.last.resize(all, Last::default());
        }
        let mut said = said.iter();
        for (watched, last) in quantities.iter().zip(&mut self.last[from..]) {
            let mut before = None;
            for (at, said) in watched.columns.iter().zip(said.by_ref()) {
                if said.is_none() {
                    continue;
                }
                let column = for_what.binding.columns[*at].column;
                if last.said == *said {
                    found(Like::Number {
                        is_carried: watched.is_carried,
                        column,
                        whose: before.map_or(Whose::Row(last.row), Whose::Column),
                    });
                }
                before = Some(column);
                *last = Last {
                    said: *said,
                    row: number,
                };
            }
        }
    }
}
