//! `show cusum`: cumulative sums of values in order of time, over all and of each operator.

use super::in_time::InTime;
use super::{Charted, begins};
use crate::charts::{ControlKind, ControlPoint};
use crate::formula::notation::{Analysis, Diagnostic, Name};
use crate::notebook::render::Rendering;
use crate::notebook::statistics::page::{Table, refused};
use crate::notebook::statistics::settings::Setting;
use crate::notebook::words::sentence;
use crate::sheet::{figure, figure_as_given};
use crate::statistics::StatisticsError;
use crate::statistics::quality::{Cusum, Individuals, cusum, individuals};

/// Usual choices (NIST/SEMATECH e-Handbook, section 6.3.2.3); the ranges are as wide as charts make sense (common practice, no source).
const SLACK: Setting = Setting {
    clause: "slack",
    usual: 0.5,
    allowed: 0.0..=3.0,
    words: "the slack is from 0 to 3 standard deviations, such as `slack 0.5`",
};

const DECISION: Setting = Setting {
    clause: "decision",
    usual: 5.0,
    allowed: 1.0..=20.0,
    words: "the decision interval is from 1 to 20 standard deviations, such as `decision 4`",
};

/// How cumulative sums are made, in standard deviations.
pub(super) struct Sums {
    slack: f64,
    decision: f64,
}

impl Sums {
    pub(super) fn of(
        rendering: &Rendering<'_>,
        analysis: &Analysis,
    ) -> Result<Sums, Vec<Diagnostic>> {
        Ok(Sums {
            slack: SLACK.of(rendering, analysis)?,
            decision: DECISION.of(rendering, analysis)?,
        })
    }

    /// Of values, with center and spread as they were found.
    fn chart(&self, values: &[f64], found: &Individuals) -> Result<Cusum, StatisticsError> {
        let (slack, decision) = (self.slack * found.sigma, self.decision * found.sigma);
        cusum(values, found.limits.center, slack, decision)
    }
}

pub(super) fn sums(
    rendering: &Rendering<'_>,
    in_time: &InTime<'_>,
    found: &Individuals,
    set: &Sums,
    table: &mut Table,
) -> Result<Charted, Vec<Diagnostic>> {
    let (slack, decision) = (set.slack * found.sigma, set.decision * found.sigma);
    let chart = set
        .chart(&in_time.values, found)
        .map_err(refused(rendering))?;
    let with = |value: f64| in_time.column.with_unit(&figure(value));
    table.row(["Slack".to_owned(), with(slack), deviations(set.slack)]);
    table.row([
        "Decision interval".to_owned(),
        with(decision),
        deviations(set.decision),
    ]);
    if let (Some(first), Some(began)) = (chart.first_signal, chart.change_began) {
        table.row([
            "First signal".to_owned(),
            in_time.when(first),
            format!("the run that led to it began at {}", in_time.when(began)),
        ]);
    }
    let why = "a sum is beyond the decision interval";
    let points: Vec<ControlPoint> = chart
        .points
        .iter()
        .enumerate()
        .map(|(at, point)| ControlPoint {
            x: at as f64 + 1.0,
            value: point.high,
            below: Some(-point.low),
            lower: -decision,
            upper: decision,
            signal: point.is_beyond.then(|| why.to_owned()),
        })
        .collect();
    Ok(Charted {
        kind: ControlKind::CumulativeSums,
        center: 0.0,
        signals: begins(&points),
        points,
    })
}

/// `half a standard deviation`, `5 standard deviations`.
fn deviations(count: f64) -> String {
    match count {
        0.5 => "half a standard deviation".to_owned(),
        1.0 => "one standard deviation".to_owned(),
        _ => format!("{} standard deviations", figure_as_given(count)),
    }
}

/// Cumulative sums of each operator, from the own baseline: who moved, and when.
pub(super) fn each(in_time: &InTime<'_>, by: &Name, set: &Sums) -> Result<Table, Vec<Diagnostic>> {
    let mut table = Table::new(
        "Each by the own baseline",
        &["Who", "Values", "Center", "First signal", "The run began"],
    );
    // In order of time, as the rows are kept.
    for (name, members) in in_time.rows.grouped_with_blank(by)? {
        let values: Vec<f64> = members
            .iter()
            .filter_map(|row| in_time.column.value(*row))
            .collect();
        if let Some(baseline) = in_time.baseline.filter(|b| *b > values.len()) {
            let why = format!("fewer than the {baseline} of the baseline");
            table.row([name, values.len().to_string(), why]);
            continue;
        }
        let found = match individuals(&values, in_time.baseline) {
            Ok(found) => found,
            Err(error) => {
                table.row([name, values.len().to_string(), sentence(&error.to_string())]);
                continue;
            }
        };
        let chart = set
            .chart(&values, &found)
            .map_err(refused(in_time.rows.rendering))?;
        let when = |at: Option<usize>| {
            let time = at.and_then(|at| in_time.time.value(members[at]));
            time.map(|time| in_time.time.words(time))
        };
        table.row([
            name,
            values.len().to_string(),
            in_time.column.with_unit(&figure(found.limits.center)),
            when(chart.first_signal).unwrap_or_else(|| "none".to_owned()),
            when(chart.change_began).unwrap_or_default(),
        ]);
    }
    Ok(table)
}
