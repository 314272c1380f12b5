//! Values in order of time, and whose they are.

use std::collections::HashSet;

use super::whose::{Taken, Who};
use crate::formula::notation::{Analysis, Diagnostic, Name, Question};
use crate::notebook::render::Rendering;
use crate::notebook::statistics::page::{counted, refused};
use crate::notebook::statistics::rows::{Column, Rows, spaced};
use crate::notebook::statistics::settings::bare_number;
use crate::notebook::statistics::time::Time;
use crate::sheet::figure_as_given;
use crate::statistics::StatisticsError;

/// Values in order of time.
pub(super) struct InTime<'r> {
    pub(super) rows: Rows<'r>,
    pub(super) column: Column,
    pub(super) values: Vec<f64>,
    pub(super) times: Vec<f64>,
    pub(super) time: Time,
    pub(super) baseline: Option<usize>,
    pub(super) who: Who,
    /// What was taken of that, and how to say the other.
    pub(super) whose_words: Option<String>,
}

impl<'r> InTime<'r> {
    pub(super) fn of(
        rendering: &'r Rendering<'r>,
        analysis: &'r Analysis,
    ) -> Result<InTime<'r>, Vec<Diagnostic>> {
        let ([subject], Some(along)) = (&analysis.of[..], &analysis.along) else {
            return Err(
                rendering.error("one quantity is charted along one time: ask for each by itself")
            );
        };
        let mut rows = Rows::of(rendering, analysis)?;
        let column = rows.numbers(&subject.name)?;
        let time = rows.time(along)?;
        rows.keep_read(&column)?;
        rows.keep_known(&time.column);
        let at = |row: &usize| time.value(*row).unwrap_or(f64::INFINITY);
        rows.kept.sort_by(|a, b| at(a).total_cmp(&at(b)));
        let baseline = baseline(rendering, analysis)?;
        let Taken { who, words } = Taken::of(&rows, analysis, baseline)?;
        let mut makes = None;
        if let (Some(by), Who::Patients) = (&analysis.by, who) {
            rows.keep_said(by)?;
            keep_first_of_each(&mut rows, by)?;
            makes = Some(format!("the first row of each {} makes", spaced(&by.text)));
        }
        let there = Series {
            found: rows.values_of(&column).len(),
            of: ["value", "values"],
            makes: makes.unwrap_or_else(|| "there are".to_owned()),
            needed: 3,
        };
        let checked = there.check_baseline(rendering, analysis, baseline);
        checked.map_err(|found| match (&analysis.by, who) {
            (Some(by), Who::Patients) => {
                let or_operators = or_operators(analysis, by);
                let more = |f: Diagnostic| {
                    let hint = f.hint_text().unwrap_or_default();
                    let hint = format!("{hint}{or_operators}");
                    f.hint(hint)
                };
                found.into_iter().map(more).collect()
            }
            _ => found,
        })?;
        Ok(InTime {
            values: rows.values_of(&column),
            times: rows.values_of(&time.column),
            baseline,
            who,
            whose_words: words,
            rows,
            column,
            time,
        })
    }

    /// A chart that cannot be made; of patients with how many values they have left.
    pub(super) fn refused(&self, analysis: &Analysis, error: StatisticsError) -> Vec<Diagnostic> {
        if let StatisticsError::NoVariation { hint, .. } = error {
            return vec![self.does_not_vary(hint)];
        }
        let found = refused(self.rows.rendering)(error);
        let (Some(by), Who::Patients) = (&analysis.by, self.who) else {
            return found;
        };
        let or_operators = or_operators(analysis, by);
        let hint = format!(
            "the first row of each {} makes {}{or_operators}",
            spaced(&by.text),
            counted(self.values.len(), "value", "values")
        );
        found.into_iter().map(|f| f.hint(hint.clone())).collect()
    }

    /// A baseline of one value, about which limits would have no width.
    fn does_not_vary(&self, hint: &str) -> Diagnostic {
        let count = self.baseline.unwrap_or(self.values.len());
        let value = self.values.first().copied().unwrap_or_default();
        let message = format!(
            "{} is {} throughout the {} of the baseline: limits would have no width",
            self.column.said(),
            self.column.with_unit(&figure_as_given(value)),
            counted(count, "value", "values")
        );
        Diagnostic::error(message, self.rows.rendering.place).hint(hint)
    }

    pub(super) fn when(&self, at: usize) -> String {
        self.time.words(self.times[at])
    }
}

/// Keeps the first row of each patient, in the order in which the rows stand.
fn keep_first_of_each(rows: &mut Rows<'_>, by: &Name) -> Result<(), Vec<Diagnostic>> {
    let texts = rows.texts(by)?;
    let mut seen = HashSet::new();
    let is_first = |row: &&usize| seen.insert(texts[**row].clone());
    let first: HashSet<usize> = rows.kept.iter().filter(is_first).copied().collect();
    let why = format!("later rows of a {}", spaced(&by.text));
    rows.keep_if(why, |row| first.contains(&row));
    Ok(())
}

/// What a chart is made of, for whoever asks for a longer baseline.
pub(in crate::notebook::statistics) struct Series {
    pub(in crate::notebook::statistics) found: usize,
    /// What it is a series of: one, several.
    pub(in crate::notebook::statistics) of: [&'static str; 2],
    /// `there are`, or what makes so few.
    pub(in crate::notebook::statistics) makes: String,
    /// Least that a baseline needs.
    pub(in crate::notebook::statistics) needed: usize,
}

impl Series {
    /// Refuses a baseline that is longer than the series, with how long it is and what to do.
    pub(in crate::notebook::statistics) fn check_baseline(
        &self,
        rendering: &Rendering<'_>,
        analysis: &Analysis,
        baseline: Option<usize>,
    ) -> Result<(), Vec<Diagnostic>> {
        let Some(baseline) = baseline.filter(|baseline| *baseline > self.found) else {
            return Ok(());
        };
        let [one, several] = self.of;
        let message = format!(
            "a baseline of the first {} needs as many, and {} {}",
            counted(baseline, one, several),
            self.makes,
            counted(self.found, one, several)
        );
        let hint = match self.found < self.needed {
            true => format!("a chart needs {} {several} at least", self.needed),
            false => format!(
                "take a shorter one, from {} to {}; from 20 {several} on limits can be relied on",
                self.needed, self.found
            ),
        };
        let place = analysis.amount_place("baseline");
        let place = place.unwrap_or(rendering.place);
        Err(vec![Diagnostic::error(message, place).hint(hint)])
    }
}

/// What to say where names were taken for patients and may be operators.
fn or_operators(analysis: &Analysis, by: &Name) -> String {
    match (analysis.question, analysis.whose) {
        (Question::Cusum, None) => format!(
            "; if these are operators, say `by {} as operators`, with a baseline no longer than their values",
            by.text
        ),
        _ => String::new(),
    }
}

/// A whole number after `baseline`.
pub(in crate::notebook::statistics) fn baseline(
    rendering: &Rendering<'_>,
    analysis: &Analysis,
) -> Result<Option<usize>, Vec<Diagnostic>> {
    let Some(reading) = analysis.amount("baseline") else {
        return Ok(None);
    };
    match bare_number(reading) {
        Some(count) if count >= 1.0 && count.fract() == 0.0 && count < 1e9 => {
            Ok(Some(count as usize))
        }
        _ => Err(rendering.error("a baseline is a whole number of values, such as `baseline 40`")),
    }
}
