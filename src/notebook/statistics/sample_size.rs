//! `show sample_size`: how many rows would make an interval as narrow as asked for, with these rows as the pilot.

use crate::formula::notation::{Analysis, Diagnostic, Name};
use crate::notebook::render::{Rendered, Rendering};
use crate::quantity::Reading;
use crate::sheet::{figure, figure_as_given};
use crate::statistics::agreement::LimitError;
use crate::statistics::roc::{RocSample, ThresholdRule, area, threshold};
use crate::statistics::sample_size::{
    AreaVariance, SampleSize, ShareInterval, for_area, for_limit, for_mean, for_share, to_enroll,
};
use crate::statistics::{StatisticsError, describe, proportion};

use super::level;
use super::outcome::{Classes, Index, accounting};
use super::page::{Answer, Table, counted, level_words, percent, refused};
use super::rows::Rows;
use super::settings::bare_number;

/// Standard deviations from the bias to a limit of agreement.
const LIMIT: f64 = 1.96;

/// Rows below which a pilot says little of what to expect (common practice, no source).
const SMALL_PILOT: usize = 30;

pub(super) fn answer(rendering: &Rendering<'_>, analysis: &Analysis) -> Rendered {
    let Some(width) = analysis.amount("width") else {
        return Err(rendering.error("a width belongs here, such as `width 10 %`"));
    };
    match &analysis.against {
        Some(_) => of_index(rendering, analysis, width),
        None => of_change(rendering, analysis, width),
    }
}

/// The answer's table, of one shape for all.
fn table(level: f64, rows: &str) -> Table {
    let headings = [
        "What",
        "In these rows",
        &format!("Width of its {} interval now", level_words(level)),
        "Needed",
        rows,
    ];
    Table::new("Needed for the width", &headings)
}

fn of_index(rendering: &Rendering<'_>, analysis: &Analysis, width: &Reading) -> Rendered {
    let width = share_of(rendering, width)?;
    let classes = Classes::of(rendering, analysis)?;
    let level = level(rendering);
    let mut answer = Answer::default();
    answer.define(classes.definition.clone());
    answer.define(accounting(&classes.rows, &classes.left_out));
    answer.define(format!(
        "How many rows would make {} intervals {} wide from end to end, if new rows were like these.",
        level_words(level),
        percent(width)
    ));
    let mut table = table(level, "Rows, at this share of responses");
    for index in &classes.indexes {
        let plan = Plan {
            rendering,
            classes: &classes,
            index,
            sample: classes.sample(index)?,
            width,
            level,
        };
        plan.areas(&mut table)?;
        plan.shares(&mut table)?;
    }
    answer.tables.push(table);
    answer.caution("The thresholds were chosen on the same rows, which flatters sensitivity and specificity: plan with lower ones too.");
    answer.note(
        "Areas: variance of Hanley and McNeil 1982, and of Obuchowski 1994 for normal scores; their interval is not cut to 0 to 100 %.",
    );
    finish(classes.rows.kept.len(), answer).output(rendering, analysis)
}

/// What is planned for one index.
struct Plan<'p> {
    rendering: &'p Rendering<'p>,
    classes: &'p Classes<'p>,
    index: &'p Index,
    sample: RocSample,
    width: f64,
    level: f64,
}

impl Plan<'_> {
    fn name(&self, what: &str) -> String {
        match self.classes.indexes.len() {
            1 => what.to_owned(),
            _ => format!("{}: {what}", self.index.column.label),
        }
    }

    fn areas(&self, table: &mut Table) -> Result<(), Vec<Diagnostic>> {
        let found = area(&self.sample, self.level).map_err(refused(self.rendering))?;
        let ratio = found.negatives as f64 / found.positives as f64;
        let now = found
            .interval
            .map_or("none".to_owned(), |i| percent(i.width()));
        for (variance, name) in [
            (AreaVariance::HanleyMcNeil, "Hanley and McNeil"),
            (AreaVariance::Binormal, "normal scores"),
        ] {
            let size = for_area(found.value, self.width, ratio, variance, self.level);
            let [needed, rows] = match size {
                Ok(size) => [
                    format!(
                        "{} with the response, {} without",
                        size.positives, size.negatives
                    ),
                    (size.positives + size.negatives).to_string(),
                ],
                Err(error) => no_answer(&error),
            };
            let what = self.name(&format!("area under the curve, {name}"));
            table.row([what, figure(found.value), now.clone(), needed, rows]);
        }
        Ok(())
    }

    fn shares(&self, table: &mut Table) -> Result<(), Vec<Diagnostic>> {
        let refused = refused(self.rendering);
        let chosen = threshold(&self.sample, ThresholdRule::MaximalYouden).map_err(&refused)?;
        let at = self.index.beyond(&figure_as_given(chosen.threshold));
        let counts = &chosen.table;
        let positives = counts.true_positive + counts.false_negative;
        let negatives = counts.true_negative + counts.false_positive;
        let all = (positives + negatives) as f64;
        for (name, hits, of, whom) in [
            (
                "sensitivity",
                counts.true_positive,
                positives,
                "with the response",
            ),
            ("specificity", counts.true_negative, negatives, "without it"),
        ] {
            let found = proportion(hits, of, self.level).map_err(&refused)?;
            for (interval, way, now) in [
                (ShareInterval::Wilson, "Wilson", found.wilson.width()),
                (ShareInterval::Exact, "exact", found.exact.width()),
            ] {
                let size = for_share(found.value, self.width, interval, self.level);
                let rows = size.and_then(|size| {
                    let rows = to_enroll(size.needed, of as f64 / all)?;
                    Ok([format!("{} {whom}", size.needed), rows.to_string()])
                });
                let [needed, rows] = rows.unwrap_or_else(|error| no_answer(&error));
                let what = self.name(&format!("{name} of {at}, {way}"));
                table.row([what, percent(found.value), percent(now), needed, rows]);
            }
        }
        Ok(())
    }
}

/// Where a number has no answer the reason stands in its place.
fn no_answer(error: &StatisticsError) -> [String; 2] {
    [format!("no answer: {error}"), String::new()]
}

fn of_change(rendering: &Rendering<'_>, analysis: &Analysis, width: &Reading) -> Rendered {
    let mut rows = Rows::of(rendering, analysis)?;
    let level = level(rendering);
    let (first, second) = match &analysis.of[..] {
        [first] => (&first.name, None),
        [first, second] => (&first.name, Some(&second.name)),
        _ => {
            let message = "a mean takes one column, a mean difference two, such as `show sample_size of before.stroke_volume, after.stroke_volume over challenges width 5 mL`";
            return Err(rendering.error(message));
        }
    };
    let columns = |name: &Name| rows.numbers(name);
    let (one, other) = (columns(first)?, second.map(columns).transpose()?);
    if other.as_ref().is_some_and(|other| other.unit != one.unit) {
        return Err(rendering.error("the two columns are in different units"));
    }
    let width = rows.in_unit(&one, first, width)?;
    rows.keep_known(&one);
    if let Some(other) = &other {
        rows.keep_known(other);
    }
    let values: Vec<f64> = rows
        .kept
        .iter()
        .filter_map(|row| {
            let value = one.value(*row)?;
            match &other {
                Some(other) => Some(other.value(*row)? - value),
                None => Some(value),
            }
        })
        .collect();
    let spread = describe(&values, level).map_err(refused(rendering))?;
    let deviation = spread.standard_deviation;
    let mut answer = Answer::default();
    let of = match &other {
        Some(other) => format!("{} less {}", other.label, one.said()),
        None => one.label.clone(),
    };
    answer.define(format!(
        "{of}, {}{}; standard deviation {}.",
        counted(values.len(), "row", "rows"),
        rows.all_in_words(" where ", &analysis.conditions),
        one.with_unit(&figure(deviation))
    ));
    answer.define(accounting(&rows, &[]));
    answer.define(format!(
        "How many rows would make {} intervals {} wide from end to end, if new rows were like these.",
        level_words(level),
        one.with_unit(&figure_as_given(width))
    ));
    let mut table = table(level, "");
    let needed = |size: Result<SampleSize, StatisticsError>| match size {
        Ok(size) => counted(size.needed, "row", "rows"),
        Err(error) => format!("no answer: {error}"),
    };
    let mean = match &other {
        Some(_) => "mean difference",
        None => "mean",
    };
    table.row([
        mean.to_owned(),
        one.with_unit(&figure(spread.mean)),
        one.with_unit(&figure(spread.mean_interval.width())),
        needed(for_mean(deviation, width, level)),
    ]);
    if other.is_some() {
        let error = LimitError::FromVariance;
        let limits = [-1.0, 1.0].map(|side| figure(spread.mean + side * LIMIT * deviation));
        table.row([
            "each limit of agreement".to_owned(),
            one.with_unit(&limits.join(" and ")),
            String::new(),
            needed(for_limit(deviation, width, LIMIT, error, level)),
        ]);
        answer.note("Limits of agreement: mean difference ± 1.96 standard deviations, their error by Bland and Altman 1999 Stat Methods Med Res 8:135-60.");
    }
    answer.tables.push(table);
    finish(values.len(), answer).output(rendering, analysis)
}

fn finish(rows: usize, mut answer: Answer) -> Answer {
    if rows < SMALL_PILOT {
        answer.caution(format!(
            "Only {}: a pilot this small hardly says what to expect; plan with the least favorable value of its interval.",
            counted(rows, "row", "rows")
        ));
    }
    answer.caution(
        "Every row counts as a patient of its own; where patients repeat, more rows are needed.",
    );
    answer.note(
        "A width is planned, not the power of a test. Allow for rows that will be set aside.",
    );
    answer
}

/// A width as a fraction.
fn share_of(rendering: &Rendering<'_>, width: &Reading) -> Result<f64, Vec<Diagnostic>> {
    bare_number(width)
        .filter(|share| *share > 0.0 && *share < 1.0)
        .ok_or_else(|| {
            rendering.error("the width of the interval of a share lies between 0 and 100 %, such as `width 10 %`")
        })
}
