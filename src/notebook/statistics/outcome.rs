//! Responses and those who had them: the classes that an index is judged by.

use crate::formula::notation::{Analysis, Condition, Diagnostic, Name, Subject, Test};
use crate::notebook::render::Rendering;
use crate::statistics::Clusters;
use crate::statistics::roc::{Direction, RocSample};

use super::beside::two_things;
use super::definition::Definition;
use super::estimates::{ALTHOUGH_IT_CANCELS, is_change};
use super::page::{counted, refused};
use super::rows::{Column, LeftOut, Rows};

/// How the interval of a share is widened where patients repeat.
pub(super) const WIDENED: &str = "Wilson's of the smaller number of rows that would tell as much were each of another patient, with Student's t \
     over the patients";

/// Said where a question does not tell who is who, and nothing else is to be said of it.
pub(super) const WHO_IS_WHO: &str =
    "Every row counts as a patient of its own; say who is who, such as `by patient`.";

/// An index, read over the rows.
pub(super) struct Index {
    pub(super) column: Column,
    pub(super) direction: Direction,
}

impl Index {
    pub(super) fn of(rows: &Rows<'_>, subject: &Subject) -> Result<Index, Vec<Diagnostic>> {
        if let Some(word) = &subject.word {
            let message = "an index is a number; a word makes no curve";
            return Err(vec![Diagnostic::error(message, word.place)]);
        }
        Ok(Index {
            column: rows.numbers(&subject.name)?,
            direction: match subject.is_low {
                true => Direction::LowerIsPositive,
                false => Direction::HigherIsPositive,
            },
        })
    }

    /// `≥ 12 %`: at the threshold or beyond is positive.
    pub(super) fn beyond(&self, threshold: &str) -> String {
        let sign = match self.direction {
            Direction::HigherIsPositive => "≥",
            Direction::LowerIsPositive => "≤",
        };
        format!("{sign} {}", self.column.with_unit(threshold))
    }
}

/// Rows with indexes and classes known.
pub(super) struct Classes<'r> {
    pub(super) rows: Rows<'r>,
    pub(super) indexes: Vec<Index>,
    /// Of the kept rows.
    pub(super) positive: Vec<bool>,
    pub(super) patients: Option<Clusters>,
    /// How the response is defined, over which rows.
    pub(super) definition: String,
    /// The response in a few words.
    pub(super) response: String,
    /// What the analysis itself left out.
    pub(super) left_out: Vec<LeftOut>,
}

impl<'r> Classes<'r> {
    /// Reads what `show roc` and its kin look at.
    pub(super) fn of(
        rendering: &'r Rendering<'r>,
        analysis: &'r Analysis,
    ) -> Result<Classes<'r>, Vec<Diagnostic>> {
        let Some(outcome) = &analysis.against else {
            return Err(rendering.error("a response belongs here"));
        };
        for subject in &analysis.of {
            two_things(&subject.name, &outcome.name, "the index and the response")?;
        }
        let mut rows = Rows::of(rendering, analysis)?;
        let conditions_left = rows.left_out.len();
        let met = rows.meets(outcome)?;
        two_words(&rows, outcome)?;
        let said = rows.said(&outcome.name);
        rows.keep_where_known(&outcome.name.text, &said, |row| met[row].is_some());
        let rough = leave_out_estimates(&mut rows, analysis, outcome)?;
        let mut indexes = Vec::new();
        for subject in &analysis.of {
            let index = Index::of(&rows, subject)?;
            rows.keep_known(&index.column);
            indexes.push(index);
        }
        if rows.kept.is_empty() {
            let message = "no row has all that is asked for";
            let why = format!("left out: {}", rows.left_out_words());
            return Err(vec![Diagnostic::error(message, rendering.place).hint(why)]);
        }
        let positive: Vec<bool> = rows
            .kept
            .iter()
            .map(|row| met[*row] == Some(true))
            .collect();
        let patients = clusters(&rows, analysis)?;
        let response = rows.in_words(outcome);
        let mut definition = definition(&rows, analysis, outcome, &positive);
        if rough > 0 && is_change(&outcome.name) {
            definition.push_str(&format!(" {ALTHOUGH_IT_CANCELS}"));
        }
        Ok(Classes {
            left_out: rows.left_out.split_off(conditions_left),
            rows,
            indexes,
            positive,
            patients,
            definition,
            response,
        })
    }

    /// The scores of an index with the classes.
    pub(super) fn sample(&self, index: &Index) -> Result<RocSample, Vec<Diagnostic>> {
        let rendering = self.rows.rendering;
        let scores: Vec<f64> = self.scores(index);
        if let Some(first) = scores.first()
            && scores.iter().all(|s| s == first)
        {
            let value = index
                .column
                .with_unit(&crate::sheet::figure_as_given(*first));
            let message = format!(
                "{} is {value} in every row: it tells nobody apart",
                index.column.said()
            );
            return Err(vec![Diagnostic::error(message, rendering.place)]);
        }
        RocSample::new(&scores, &self.positive, index.direction).map_err(|error| {
            vec![
                Diagnostic::error(error.to_string(), rendering.place)
                    .hint(format!("the response is {}", self.response)),
            ]
        })
    }

    pub(super) fn scores(&self, index: &Index) -> Vec<f64> {
        self.rows.values_of(&index.column)
    }
}

/// A response in words has two of them in the rows asked for.
fn two_words(rows: &Rows<'_>, outcome: &Condition) -> Result<(), Vec<Diagnostic>> {
    if !matches!(outcome.test, Test::Is(_) | Test::IsNot(_)) {
        return Ok(());
    }
    let words: Vec<String> = rows
        .grouped(&outcome.name)?
        .into_iter()
        .map(|(word, _)| word)
        .collect();
    if words.len() <= 2 {
        return Ok(());
    }
    let message = format!(
        "`{}` has {} words in these rows; a response has two",
        outcome.name.text,
        words.len()
    );
    let shown: Vec<&str> = words.iter().take(6).map(String::as_str).collect();
    let hint = format!(
        "leave the others out by `where`: it says {}",
        shown.join(", ")
    );
    Err(vec![
        Diagnostic::error(message, outcome.name.place).hint(hint),
    ])
}

/// Responses that rest on an estimated or assumed reading make no threshold, unless asked for; how
/// many were left out.
fn leave_out_estimates(
    rows: &mut Rows<'_>,
    analysis: &Analysis,
    outcome: &Condition,
) -> Result<usize, Vec<Diagnostic>> {
    let is_number = !matches!(outcome.test, Test::Is(_) | Test::IsNot(_));
    if analysis.with_estimated || !is_number {
        return Ok(0);
    }
    let column = rows.numbers(&outcome.name)?;
    let rough = rows.rough(&column);
    rows.keep_if("the response rests on an estimate", |row| {
        !column.is_rough(row)
    });
    Ok(rough)
}

/// `180 rows come from 96 patients`.
pub(super) fn rows_come_from(patients: &Clusters) -> String {
    format!(
        "{} rows come from {}",
        patients.observations(),
        counted(patients.count(), "patient", "patients")
    )
}

/// The patients of the kept rows, where the statement says how to tell them.
pub(super) fn clusters(
    rows: &Rows<'_>,
    analysis: &Analysis,
) -> Result<Option<Clusters>, Vec<Diagnostic>> {
    let Some(by) = &analysis.by else {
        return Ok(None);
    };
    let names = cluster_names(rows, by)?;
    Clusters::new(&names)
        .map(Some)
        .map_err(refused(rows.rendering))
}

/// The patients of some of the kept rows, by their positions among them.
pub(super) fn clusters_among(
    rendering: &Rendering<'_>,
    patients: &Clusters,
    positions: &[usize],
) -> Result<Clusters, Vec<Diagnostic>> {
    let own = positions.iter().map(|at| patients.group_of(*at));
    Clusters::new(&own.collect::<Vec<_>>()).map_err(refused(rendering))
}

/// What names the patient of each kept row; a row without a name is nobody's and an error.
fn cluster_names<'r>(
    rows: &Rows<'r>,
    by: &Name,
) -> Result<Vec<std::borrow::Cow<'r, str>>, Vec<Diagnostic>> {
    let texts = rows.texts(by)?;
    let mut names = Vec::with_capacity(rows.kept.len());
    for row in &rows.kept {
        match &texts[*row] {
            Some(text) => names.push(text.clone()),
            None => {
                let number = rows.cohort.rows()[*row];
                let message = format!("`{}` is blank in row {number}", by.text);
                let error = Diagnostic::error(message, by.place);
                return Err(vec![error.hint(format!(
                    "leave such rows out: `where {} is known`",
                    by.text
                ))]);
            }
        }
    }
    Ok(names)
}

fn definition(
    rows: &Rows<'_>,
    analysis: &Analysis,
    outcome: &Condition,
    positive: &[bool],
) -> String {
    let responders = positive.iter().filter(|p| **p).count();
    let formula = rows.formula(&outcome.name);
    let formula = formula.map_or(String::new(), |f| format!(" {f}"));
    format!(
        "Response: {}. {responders} of {} rows{} had it.{formula}",
        rows.in_words(outcome),
        positive.len(),
        rows.all_in_words(" where ", &analysis.conditions),
    )
}

/// `180 rows analyzed of 966 read; left out: …`.
pub(super) fn accounting(rows: &Rows<'_>, also: &[LeftOut]) -> Definition {
    let counts = rows.cohort.counts;
    let set_aside = LeftOut::because("set aside", counts.set_aside);
    let left = std::iter::once(&set_aside)
        .chain(&rows.left_out)
        .chain(also);
    let left: Vec<LeftOut> = left.filter(|l| l.count > 0).cloned().collect();
    let (kept, read) = (rows.kept.len(), counted(counts.read, "row", "rows"));
    if left.is_empty() {
        return format!("{kept} analyzed of {read} read.").into();
    }
    let all: usize = left.iter().map(|l| l.count).sum();
    Definition::with_reasons(
        format!(
            "{kept} analyzed of {read} read; left out: {}.",
            LeftOut::all_in_words(&left).join(", ")
        ),
        format!("{kept} analyzed of {read} read; {all} left out:"),
        left,
    )
}
