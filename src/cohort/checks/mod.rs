//! Rows are checked, not trusted: what a row or its neighbors make doubtful is set aside or said
//! in its remarks, and counted.
//!
//! One check needs no asking, because it looks only at numbers that are hardly possible: a length
//! that is wrong by a factor of ten ([`Check::FactorTen`]). The others compare a row with other
//! columns or with rows before it, so a binding file asks for them in `[checks]`
//! ([`super::ChecksEntry`]). Each thread looks at the rows of its own pieces: it reads their times,
//! and takes digests of what other rows know them by. Rows are then compared by these digests in the
//! order in which they stand in the table, piece by piece, each in its turn (`turns.rs`), so that
//! what is found does not depend on the number of threads. What is kept of rows before are a few
//! dozen bytes a row and some hundred a patient.
//!
//! What is impossible is refused by a cell's own bounds, and what is rare is told by its advice;
//! neither is repeated here.

mod across;
mod digest;
mod factor_ten;
mod feed;
mod history;
mod long;
mod moment;
mod said;
mod seen;
mod settings;
#[cfg(test)]
mod tests;
mod turns;
mod verdict;

use std::fmt;

use super::apply::counted;

pub(super) use factor_ten::FactorTen;
pub(super) use feed::{Fed, Feed};
pub(super) use settings::OnFactorTen;
pub use settings::{Checks, ChecksEntry};
pub(super) use verdict::Verdict;

/// What a row was found to have.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Check {
    /// A length ten times too large or too small for what is usual.
    FactorTen,
    /// An exam dated before the one that it should follow.
    Order,
    /// A time that cannot be read, so that its order is not known.
    UnreadableTime,
    /// The same row as one before it.
    SameRow,
    /// The same patient at the same time as in a row before it.
    SameTime,
    /// A velocity-time integral or heart rate that is the same number as in the exam before.
    Copied,
    /// A diameter that is the same number as in the exam before: right practice.
    Carried,
    /// Nobody's row, which cannot be compared with others.
    NoPatient,
}

/// All checks, in the order in which they are told.
pub(super) const ALL: [Check; 8] = [
    Check::FactorTen,
    Check::Order,
    Check::UnreadableTime,
    Check::SameRow,
    Check::SameTime,
    Check::Copied,
    Check::Carried,
    Check::NoPatient,
];

impl Check {
    /// What it found, in words.
    pub fn words(self) -> &'static str {
        match self {
            Check::FactorTen => "a length wrong by a factor of ten",
            Check::Order => "an exam dated before the one that it should follow",
            Check::UnreadableTime => "a time that cannot be read, so that the order is not checked",
            Check::SameRow => "the same row as one before it",
            Check::SameTime => "the same patient and time as in a row before it",
            Check::Copied => {
                "a velocity-time integral or heart rate the same as in the exam before, by copying or by chance"
            }
            Check::Carried => "a diameter carried forward, as is right",
            Check::NoPatient => "no patient, so not compared with other rows",
        }
    }
}

/// In how many rows a check found something.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Checked {
    /// What was found.
    pub check: Check,
    /// Rows set aside for it.
    pub set_aside: usize,
    /// Rows used, with a remark.
    pub marked: usize,
}

impl fmt::Display for Checked {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let part = |count: usize, what: &str| {
            (count > 0).then(|| format!("{} {what}", counted(count, "row", "rows")))
        };
        let parts = [
            part(self.set_aside, "set aside"),
            part(self.marked, "marked"),
        ];
        let parts: Vec<String> = parts.into_iter().flatten().collect();
        write!(f, "{}: {}", parts.join(", "), self.check.words())
    }
}

/// Rows by check, while they are counted.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(super) struct Tally([(usize, usize); ALL.len()]);

impl Tally {
    pub(super) fn set_aside(&mut self, check: Check) {
        self.0[check as usize].0 += 1;
    }

    pub(super) fn mark(&mut self, check: Check) {
        self.0[check as usize].1 += 1;
    }

    pub(super) fn add(&mut self, more: &Tally) {
        for (all, more) in self.0.iter_mut().zip(&more.0) {
            all.0 += more.0;
            all.1 += more.1;
        }
    }

    /// The checks that found anything.
    pub(super) fn found(&self) -> Vec<Checked> {
        let all = ALL.into_iter().zip(&self.0);
        all.filter(|(_, (set_aside, marked))| set_aside + marked > 0)
            .map(|(check, (set_aside, marked))| Checked {
                check,
                set_aside: *set_aside,
                marked: *marked,
            })
            .collect()
    }
}

/// What is done with a row in which a check found something.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Action {
    SetAside,
    Mark,
    Off,
}

/// Something found in a row, in words for its remarks or for the reason why it is set aside.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Finding {
    pub(super) check: Check,
    pub(super) text: String,
}

impl Finding {
    pub(super) fn new(check: Check, text: String) -> Finding {
        Finding { check, text }
    }
}

/// Why a row was set aside.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Why {
    /// It does not have a field for each heading, or is no text.
    Shape,
    /// A field cannot be read, or holds what is not possible.
    Field,
    /// An exam that is in no pair, where exams are paired.
    Unpaired,
    /// A check of rows.
    Check(Check),
    /// A cell that is required is not known.
    Required,
    /// Nothing can be derived from it.
    NothingDerived,
}

impl Why {
    /// The reason in words, for rows counted together.
    pub fn words(self) -> &'static str {
        match self {
            Why::Shape => "not as many fields as headings, or no text",
            Why::Field => "a field that cannot be read, or is not possible",
            Why::Unpaired => "an exam in no pair",
            Why::Check(check) => check.words(),
            Why::Required => "without what is required",
            Why::NothingDerived => "nothing can be derived",
        }
    }
}
