//! What rows show each by itself: times against each other, and the digests that other rows know it by.

use std::borrow::Cow;
use std::cmp::Ordering;
use std::num::NonZeroU64;
use std::sync::{Mutex, MutexGuard, PoisonError};

use super::digest::{Digest, TextDigest};
use super::moment::{Calendar, Moment};
use super::said::{Said, known_by, reading_known_by};
use super::settings::Checks;
use super::verdict::Verdict;
use super::{Action, Check, Finding};
use crate::cohort::binding::Binding;
use crate::cohort::dates::way_out;
use crate::cohort::is_nothing;
use crate::cohort::row::trimmed;
use crate::cohort::rows::Rows;

/// How rows are looked at, by any number of threads.
pub(super) struct Lens<'t> {
    pub(super) checks: &'t Checks,
    pub(super) binding: &'t Binding,
    said: Said,
    /// Positions in [`Binding::columns`] of what is watched, quantity by quantity.
    watched: Vec<usize>,
    /// Room of pieces that are done with.
    spare: Mutex<Vec<Looked>>,
}

/// The rows of a piece, as far as they can be told without the rows before.
#[derive(Default)]
pub(super) struct Looked {
    /// Whose rows they are: rows of a patient that follow each other have one entry.
    pub(super) patients: Vec<TextDigest>,
    /// Those that have a patient.
    pub(super) rows: Vec<Seen>,
    /// Digests of their watched fields, row by row; none of a field that says nothing.
    watched: Vec<Option<NonZeroU64>>,
    /// Watched fields of a row.
    width: usize,
    /// What they show by themselves.
    pub(super) verdicts: Vec<Verdict>,
}

/// A row of a patient, as other rows see it.
pub(super) struct Seen {
    /// Number of the row among those of the piece that could be taken apart.
    pub(super) row: usize,
    /// Where its patient stands among those of the piece.
    pub(super) patient: usize,
    /// Its times, if it has any.
    pub(super) times: Option<NonZeroU64>,
    /// What it says besides.
    pub(super) said: u64,
}

impl Looked {
    /// The digests of the watched fields of a row, by its place in `rows`.
    pub(super) fn watched_of(&self, at: usize) -> &[Option<NonZeroU64>] {
        &self.watched[at * self.width..(at + 1) * self.width]
    }
}

impl<'t> Lens<'t> {
    pub(super) fn new(checks: &'t Checks, binding: &'t Binding) -> Lens<'t> {
        let watched = checks
            .watched
            .iter()
            .filter(|_| checks.copied != Action::Off);
        Lens {
            checks,
            binding,
            said: Said::of(checks, binding),
            watched: watched.flat_map(|w| w.columns.iter().copied()).collect(),
            spare: Mutex::default(),
        }
    }

    /// Looks at the rows of a piece, one by one.
    pub(super) fn look(&self, rows: &Rows) -> Looked {
        let mut looked = self.spare().pop().unwrap_or_default();
        looked.width = self.watched.len();
        if self.checks.patient.is_some() {
            looked.rows.reserve(rows.len());
            looked.watched.reserve(rows.len() * looked.width);
        }
        let mut look = Look {
            lens: self,
            rows,
            calendar: Calendar::default(),
            moments: Vec::with_capacity(self.checks.times.len()),
            recent: None,
            looked,
        };
        (0..rows.len()).for_each(|row| look.at(row));
        look.looked
    }

    /// Takes what rows show by themselves; the room that the others took is used again.
    pub(super) fn take_verdicts(&self, mut looked: Looked) -> Vec<Verdict> {
        let verdicts = std::mem::take(&mut looked.verdicts);
        looked.patients.clear();
        looked.rows.clear();
        looked.watched.clear();
        self.spare().push(looked);
        verdicts
    }

    fn spare(&self) -> MutexGuard<'_, Vec<Looked>> {
        self.spare.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

/// A look at the rows of a piece.
struct Look<'l, 't> {
    lens: &'l Lens<'t>,
    rows: &'l Rows,
    calendar: Calendar,
    /// The times of the row at hand.
    moments: Vec<Option<Moment>>,
    /// The field of the newest entry of the patients: rows of a patient often follow each other.
    recent: Option<Cow<'l, str>>,
    looked: Looked,
}

impl Look<'_, '_> {
    fn at(&mut self, row: usize) {
        let mut verdict = Verdict::of(row);
        self.read_moments(row, &mut verdict);
        self.order(&mut verdict);
        if let Some(column) = self.lens.checks.patient {
            match self.note_patient(row, column) {
                true => self.see(row),
                false => {
                    let text = "no patient: not compared with other rows".to_owned();
                    verdict.marks.push(Finding::new(Check::NoPatient, text));
                }
            }
        }
        if !verdict.is_empty() {
            self.looked.verdicts.push(verdict);
        }
    }

    /// Reads the times of a row; those that cannot be read are told.
    fn read_moments(&mut self, row: usize, verdict: &mut Verdict) {
        self.moments.clear();
        let Lens {
            checks, binding, ..
        } = self.lens;
        for column in &checks.times {
            let field = self.rows.field(row, *column);
            let moment = self.calendar.moment(&field);
            if moment.is_none() && !is_nothing(&field) {
                // The field itself is not repeated: it may be a date that must not leave.
                let text = format!(
                    "`{}` is no time such as 2031-05-17 07:30: its order is not checked{}",
                    binding.headings[*column],
                    way_out(&field, checks.form)
                );
                let finding = Finding::new(Check::UnreadableTime, text);
                verdict.marks.push(finding);
            }
            self.moments.push(moment);
        }
    }

    fn order(&self, verdict: &mut Verdict) {
        let Lens {
            checks, binding, ..
        } = self.lens;
        let mut last: Option<(usize, Moment)> = None;
        for (at, moment) in self.moments.iter().enumerate() {
            let Some(moment) = *moment else {
                continue;
            };
            if let Some((before, earlier)) = last
                && moment.order(earlier) == Some(Ordering::Less)
            {
                let heading = |at: usize| &binding.headings[checks.times[at]];
                let text = format!("`{}` is before `{}`", heading(at), heading(before));
                verdict.find(Finding::new(Check::Order, text), checks.order);
            }
            last = Some((at, moment));
        }
    }

    /// Notes whose row it is; whether it is anybody's.
    fn note_patient(&mut self, row: usize, column: usize) -> bool {
        let field = self.rows.field(row, column);
        let text = trimmed(&field);
        if text.is_empty() {
            return false;
        }
        let is_again = |recent: &Cow<'_, str>| trimmed(recent) == text;
        if !self.recent.as_ref().is_some_and(is_again) {
            self.looked.patients.push(TextDigest::of(text));
            self.recent = Some(field);
        }
        true
    }

    /// Takes down what other rows know a row by.
    fn see(&mut self, row: usize) {
        let (lens, rows) = (self.lens, self.rows);
        let (mut times, mut said) = (None, 0);
        if lens.checks.compares_rows() {
            if self.moments.iter().any(Option::is_some) {
                let mut digest = Digest::new();
                self.moments.iter().for_each(|m| digest.moment(*m));
                times = Some(digest.finish_not_none());
            }
            said = self.said(row);
        }
        self.looked.rows.push(Seen {
            row,
            patient: self.looked.patients.len() - 1,
            times,
            said,
        });
        let watched = lens.watched.iter();
        let watched = watched.map(|at| reading_known_by(&lens.binding.columns[*at], rows, row));
        self.looked.watched.extend(watched);
    }

    /// A digest of what a row says beside its patient and its times; of times that cannot be read,
    /// how they are written.
    fn said(&self, row: usize) -> u64 {
        let mut digest = Digest::new();
        for (moment, column) in self.moments.iter().zip(&self.lens.checks.times) {
            if moment.is_none() {
                digest.field(known_by(self.rows, row, *column));
            }
        }
        self.lens.said.add_to(&mut digest, self.rows, row);
        digest.finish()
    }
}
