//! `[pair]` of a binding file: a table with one exam a row becomes one with two exams a row.
//!
//! ```toml
//! [pair]
//! of = "patient"                  # whose exams they are
//! time = "exam time"              # when each exam was
//! intervention = "fluid start"    # when the intervention was; or, in its place:
//! # phase = "phase"               # the column that says of each exam whether it was before
//! # before = ["pre"]              # its words for before
//! # after = ["post", "10 min"]    # and for after
//! episode = "challenge"           # which intervention, where a person has several
//! within_hours = 6                # most hours from the first exam to the second
//! shared = ["height", "weight"]   # columns of the person, the same in both exams
//! ```
//!
//! The last exam before is paired with the first after. Every other column `X` becomes `before.X`
//! and `after.X`, and what the binding says of `X` holds for both.

use std::collections::BTreeMap;

use serde::Deserialize;

use super::binding_file::{BindingFile, ColumnEntry};

/// How exams are paired.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PairEntry {
    /// Heading of the column that says whose exams they are.
    pub of: String,
    /// Heading of the column that says when an exam was.
    pub time: Option<String>,
    /// Heading of the column that says when the intervention was.
    pub intervention: Option<String>,
    /// Heading of the column that says whether an exam was before or after.
    pub phase: Option<String>,
    /// Words of the phase for before.
    #[serde(default = "words_for_before")]
    pub before: Vec<String>,
    /// Words of the phase for after.
    #[serde(default = "words_for_after")]
    pub after: Vec<String>,
    /// Heading of the column that says which intervention it was.
    pub episode: Option<String>,
    /// Most hours from the first exam to the second.
    pub within_hours: Option<f64>,
    /// Headings of the columns that are the same in both exams.
    #[serde(default)]
    pub shared: Vec<String>,
}

fn words_for_before() -> Vec<String> {
    vec!["before".into(), "pre".into()]
}

fn words_for_after() -> Vec<String> {
    vec!["after".into(), "post".into()]
}

impl PairEntry {
    /// The headings of the columns that both exams share.
    pub(super) fn kept(&self) -> impl Iterator<Item = &str> {
        let own = [
            Some(&self.of),
            self.episode.as_ref(),
            self.intervention.as_ref(),
        ];
        own.into_iter()
            .flatten()
            .chain(&self.shared)
            .map(|h| h.trim())
    }

    fn is_kept(&self, heading: &str) -> bool {
        self.kept().any(|kept| kept == heading.trim())
    }

    /// What a heading becomes.
    fn headings(&self, heading: &str) -> Vec<String> {
        match self.is_kept(heading) {
            true => vec![heading.to_owned()],
            false => vec![before(heading), after(heading)],
        }
    }

    /// What a binding says of a table with one exam a row, said of the one with two.
    pub(super) fn widened(&self, file: &BindingFile) -> BindingFile {
        let mut wide = file.clone();
        let widen = |headings: &[String]| headings.iter().flat_map(|h| self.headings(h)).collect();
        wide.identifiers = widen(&file.identifiers);
        if let Some(shift) = &mut wide.shift {
            shift.dates = widen(&shift.dates);
            shift.of = self.headings(&shift.of).swap_remove(0);
        }
        if let Some(checks) = &mut wide.checks {
            // Those of pairs stand there already as `before.X` and `after.X`.
            let is_of_pairs = |heading: &String| {
                let heading = heading.trim();
                heading.starts_with(BEFORE) || heading.starts_with(AFTER)
            };
            let times = checks
                .times
                .iter()
                .flat_map(|heading| match is_of_pairs(heading) {
                    true => vec![heading.clone()],
                    false => self.headings(heading),
                });
            checks.times = times.collect();
        }
        wide.headings = BTreeMap::new();
        for (heading, other) in &file.headings {
            match self.is_kept(heading) {
                true => wide.headings.extend([(heading.clone(), other.clone())]),
                false => wide
                    .headings
                    .extend([before, after].map(|exam| (exam(heading), exam(other)))),
            }
        }
        let mut columns: BTreeMap<String, ColumnEntry> = BTreeMap::new();
        for (heading, entry) in &file.columns {
            if self.is_kept(heading) {
                columns.insert(heading.clone(), entry.clone());
                continue;
            }
            for exam in [before, after] {
                let mut entry = entry.clone();
                entry.cell = exam(&entry.cell);
                columns.insert(exam(heading), entry);
            }
        }
        wide.columns = columns;
        wide
    }
}

pub(super) fn before(name: &str) -> String {
    format!("{BEFORE}{}", name.trim())
}

pub(super) fn after(name: &str) -> String {
    format!("{AFTER}{}", name.trim())
}

/// The start of the headings of the exam that a row of a table of pairs lacks, as one that is in no pair does.
pub(super) fn absent_side(headings: &[String], fields: &[String]) -> Option<&'static str> {
    let is_blank = |side: &&str| {
        let all = headings.iter().zip(fields);
        let mut own = all.filter(|(heading, _)| heading.starts_with(*side));
        own.all(|(_, field)| field.is_empty())
    };
    [BEFORE, AFTER].into_iter().find(is_blank)
}

const BEFORE: &str = "before.";
const AFTER: &str = "after.";
