//! `show change`: the forms of a per cent change, and how much of it is regression to the mean.

use crate::charts::{Axis, BandPoint, DoseResponse, Fit, Series};
use crate::formula::notation::{Analysis, Diagnostic, ErrorOf};
use crate::notebook::coupled::Drawn;
use crate::notebook::render::{Rendered, Rendering};
use crate::sheet::figure;
use crate::statistics::response::{
    ChangeScale, Line, changes, changes_clustered, fit_line, fit_line_clustered, median_interval,
};
use crate::statistics::{Clusters, StatisticsError, describe, quantiles};

use super::estimates::ALTHOUGH_IT_CANCELS;
use super::noise::{Changing, Noise, not_asked};
use super::outcome::{WHO_IS_WHO, accounting, clusters, rows_come_from};
use super::page::{
    Answer, Drawing, Table, counted, estimate, level_words, refused, size, undrawn, with_interval,
};
use super::rows::{Column, Rows};
use super::settings::bare_number;
use super::{RESAMPLES, SEED, bootstrap, level};

/// The pairs that are looked at.
struct Pairs<'r> {
    rows: Rows<'r>,
    first: Column,
    second: Column,
    before: Vec<f64>,
    after: Vec<f64>,
    patients: Option<Clusters>,
    /// Whether pairs were left out in whose change an estimate may cancel.
    cancels: bool,
}

pub(super) fn answer(rendering: &Rendering<'_>, analysis: &Analysis) -> Rendered {
    let pairs = Pairs::of(rendering, analysis)?;
    let level = level(rendering);
    let mut answer = Answer::default();
    answer.define(format!(
        "From {} to {}, {}{}.",
        pairs.first.said(),
        pairs.second.said(),
        counted(pairs.before.len(), "pair", "pairs"),
        pairs.rows.all_in_words(" where ", &analysis.conditions)
    ));
    answer.define(accounting(&pairs.rows, &[]));
    if pairs.cancels {
        answer.define(ALTHOUGH_IT_CANCELS);
    }
    forms(rendering, &pairs, level, &mut answer)?;
    let noise = pairs.noise(analysis)?;
    regression(
        rendering,
        analysis,
        &pairs,
        noise.as_ref(),
        level,
        &mut answer,
    )?;
    if let [before, after] = &analysis.of[..] {
        let names = [&before.name, &after.name];
        let drawn = Drawn::change_against_start;
        answer.notes.extend(
            pairs
                .rows
                .coupling(names, drawn, &pairs.first)
                .map(|told| told.text),
        );
    }
    match (&pairs.patients, pairs.repeating()) {
        (None, _) => answer.caution(WHO_IS_WHO),
        (_, Some(patients)) => answer.note(format!(
            "{}: intervals are widened for it, by cluster-robust errors and Student's t over the patients.",
            rows_come_from(patients)
        )),
        (Some(_), None) => {}
    }
    answer.output(rendering, analysis)
}

impl<'r> Pairs<'r> {
    fn of(
        rendering: &'r Rendering<'r>,
        analysis: &'r Analysis,
    ) -> Result<Pairs<'r>, Vec<Diagnostic>> {
        let [first, second] = &analysis.of[..] else {
            let message = "a change has two: before and after, such as `show change of before.stroke_volume, after.stroke_volume over challenges`";
            return Err(rendering.error(message));
        };
        let mut rows = Rows::of(rendering, analysis)?;
        let (first, second) = (rows.numbers(&first.name)?, rows.numbers(&second.name)?);
        if first.unit != second.unit {
            return Err(rendering.error("before and after are in different units"));
        }
        let cancels = rows.rough(&first) > 0 && rows.rough(&second) > 0;
        rows.keep_read(&first)?;
        rows.keep_read(&second)?;
        rows.check_varies(&first)?;
        Ok(Pairs {
            cancels,
            before: rows.values_of(&first),
            after: rows.values_of(&second),
            patients: clusters_or_none(&rows, analysis)?,
            rows,
            first,
            second,
        })
    }
}

fn in_per_cent(before: f64, after: f64) -> f64 {
    100.0 * (after / before - 1.0)
}

impl Pairs<'_> {
    /// What before and after make together, pair by pair.
    fn with_each(&self, make: impl Fn(f64, f64) -> f64) -> Vec<f64> {
        let pairs = self.before.iter().zip(&self.after);
        pairs.map(|(before, after)| make(*before, *after)).collect()
    }

    /// The patients, where one of them has more than one pair.
    fn repeating(&self) -> Option<&Clusters> {
        let patients = self.patients.as_ref()?;
        patients.repeat().then_some(patients)
    }

    /// The error of the changes: of per cents, or of differences where it is stated in the unit of the readings.
    fn noise(&self, analysis: &Analysis) -> Result<Option<Noise>, Vec<Diagnostic>> {
        let Some(subject) = analysis.of.first() else {
            return Ok(None);
        };
        let changing = Changing {
            scale: match &analysis.error {
                Some(ErrorOf::LeastSignificantChange(reading))
                    if bare_number(reading).is_none() =>
                {
                    ChangeScale::Difference
                }
                _ => ChangeScale::PerCent,
            },
            column: &self.first,
            name: &subject.name,
        };
        Noise::from_changes(&self.rows, analysis, &changing, |rows| {
            let per_cent = |row: &usize| {
                let (before, after) = (self.first.value(*row)?, self.second.value(*row)?);
                (before > 0.0).then(|| in_per_cent(before, after))
            };
            for column in [&self.first, &self.second] {
                rows.keep_known(column);
                rows.keep_measured(column);
            }
            rows.kept.iter().filter_map(per_cent).collect()
        })
    }

    /// A line over the pairs, with errors that allow for patients who repeat.
    fn line(&self, x: &[f64], y: &[f64], level: f64) -> Result<Line, StatisticsError> {
        match self.repeating() {
            Some(patients) => fit_line_clustered(x, y, patients, level),
            None => fit_line(x, y, level),
        }
    }
}

fn clusters_or_none(
    rows: &Rows<'_>,
    analysis: &Analysis,
) -> Result<Option<Clusters>, Vec<Diagnostic>> {
    match rows.kept.is_empty() {
        true => Ok(None),
        false => clusters(rows, analysis),
    }
}

fn forms(
    rendering: &Rendering<'_>,
    pairs: &Pairs<'_>,
    level: f64,
    answer: &mut Answer,
) -> Result<(), Vec<Diagnostic>> {
    let found = match pairs.repeating() {
        Some(patients) => changes_clustered(&pairs.before, &pairs.after, patients, level),
        None => changes(&pairs.before, &pairs.after, level),
    };
    let found = found.map_err(refused(rendering))?;
    let per_cents = pairs.with_each(in_per_cent);
    let median = match median_interval(&per_cents, pairs.repeating(), level, &bootstrap()) {
        Ok(of) => {
            answer.note(format!(
                "The median's interval is a bootstrap's: {RESAMPLES} resamples, seed {SEED}{}.",
                match pairs.repeating() {
                    Some(_) => ", whole patients drawn",
                    None => "",
                }
            ));
            with_interval(found.median_of_per_cents, &of.bootstrap.interval)
        }
        // Too few pairs for an interval still have a median.
        Err(StatisticsError::TooFew { .. }) => figure(found.median_of_per_cents),
        Err(error) => return Err(refused(rendering)(error)),
    };
    let interval = format!("%, with {} interval", level_words(level));
    let mut table = Table::new(
        "Forms of the change, which answer different questions",
        &["Form", &interval, "What it says"],
    );
    let mut row = |name: &str, value: String, says: &str| {
        table.row([name.to_owned(), value, says.to_owned()])
    };
    row(
        "Mean of the per cents",
        estimate(&found.mean_of_per_cents),
        "what a typical pair changed; a low start weighs much",
    );
    row(
        "Per cent of the means",
        estimate(&found.per_cent_of_means),
        "what the whole group's flow changed",
    );
    row(
        "From the mean log ratio",
        estimate(&found.geometric),
        "up and down weigh alike",
    );
    row("Median of the per cents", median, "half changed more");
    answer.tables.push(table);
    answer.warn(&found.warnings);
    Ok(())
}

/// Slopes of the change on where it started, and what error alone would give.
fn regression(
    rendering: &Rendering<'_>,
    analysis: &Analysis,
    pairs: &Pairs<'_>,
    noise: Option<&Noise>,
    level: f64,
    answer: &mut Answer,
) -> Result<(), Vec<Diagnostic>> {
    let differences = pairs.with_each(|before, after| after - before);
    let means = pairs.with_each(|before, after| (after + before) / 2.0);
    let line = |x: &[f64]| pairs.line(x, &differences, level);
    let on_before = line(&pairs.before).map_err(refused(rendering))?;
    let on_mean = line(&means).map_err(refused(rendering))?;
    let spread = describe(&pairs.before, level).map_err(refused(rendering))?;
    // Error within a patient, from the standard deviation of a change that is one of two errors.
    let within = noise.map(|noise| {
        let size = match noise.error.scale {
            ChangeScale::PerCent => spread.mean,
            ChangeScale::Difference => 1.0,
        };
        noise.error.standard_deviation * size / std::f64::consts::SQRT_2
    });
    let expected =
        within.map(|w| -(w * w) / (spread.standard_deviation * spread.standard_deviation));
    let mut table = Table::new(
        "Change against the start",
        &["Slope", "With interval", "What it says"],
    );
    let slope = |line: &Line| with_interval(line.slope.value, &line.slope.interval);
    table.row([
        "Change on the value before".to_owned(),
        slope(&on_before),
        "coupled: the value before stands on both sides, and its error alone makes the slope negative".to_owned(),
    ]);
    if let Some(expected) = expected {
        table.row([
            "The same from error alone".to_owned(),
            figure(expected.max(-1.0)),
            "regression to the mean without any effect".to_owned(),
        ]);
    }
    table.row([
        "Change on the mean of both".to_owned(),
        slope(&on_mean),
        "free of that coupling, if the error is alike before and after".to_owned(),
    ]);
    answer.tables.push(table);
    if let Some(expected) = expected {
        answer
            .tables
            .push(thirds(rendering, pairs, expected.max(-1.0), spread.mean)?);
    }
    match noise {
        Some(noise) => {
            noise.caution(answer);
            answer.note(format!("Error of the change: {}.", noise.source()));
        }
        None => answer.note(not_asked("What error alone would give")),
    }
    answer.note("Whoever starts low tends to rise and whoever starts high to fall, without any fluid (Barnett 2005 Int J Epidemiol 34:215-20). A change without a control group cannot tell the two apart.");
    answer.drawing = Some(draw(
        rendering,
        analysis,
        pairs,
        (&differences, &on_before),
        expected,
    )?);
    Ok(())
}

/// Mean change in each third by the value before, beside what error alone would give.
fn thirds(
    rendering: &Rendering<'_>,
    pairs: &Pairs<'_>,
    slope: f64,
    mean: f64,
) -> Result<Table, Vec<Diagnostic>> {
    let ends = quantiles(&pairs.before, &[1.0 / 3.0, 2.0 / 3.0]).map_err(refused(rendering))?;
    let mut table = Table::new(
        "Mean change by where it started",
        &["Value before", "Pairs", "Mean change", "From error alone"],
    );
    let third = |value: f64| usize::from(value > ends[0]) + usize::from(value > ends[1]);
    for (index, name) in ["lowest third", "middle third", "highest third"]
        .into_iter()
        .enumerate()
    {
        let inside: Vec<(f64, f64)> = pairs
            .before
            .iter()
            .zip(&pairs.after)
            .filter(|(before, _)| third(**before) == index)
            .map(|(before, after)| (*before, *after))
            .collect();
        let count = inside.len() as f64;
        if inside.is_empty() {
            continue;
        }
        let start = inside.iter().map(|(before, _)| before).sum::<f64>() / count;
        let change = inside
            .iter()
            .map(|(before, after)| after - before)
            .sum::<f64>()
            / count;
        table.row([
            name.to_owned(),
            inside.len().to_string(),
            pairs.first.with_unit(&figure(change)),
            pairs.first.with_unit(&figure(slope * (start - mean))),
        ]);
    }
    Ok(table)
}

fn draw(
    rendering: &Rendering<'_>,
    analysis: &Analysis,
    pairs: &Pairs<'_>,
    (differences, line): (&[f64], &Line),
    expected: Option<f64>,
) -> Result<Drawing, Vec<Diagnostic>> {
    const STEPS: usize = 40;
    let at =
        |i: usize| line.smallest_x + i as f64 / STEPS as f64 * (line.largest_x - line.smallest_x);
    let found: Vec<_> = (0..=STEPS).filter_map(|i| line.at(at(i)).ok()).collect();
    let unit = pairs.first.unit.pretty();
    let mean_before = pairs.before.iter().sum::<f64>() / pairs.before.len() as f64;
    let by_error = |slope: f64| {
        let ends =
            [line.smallest_x, line.largest_x].map(|x| (x, slope.max(-1.0) * (x - mean_before)));
        Series::new("from error alone", ends)
    };
    let chart = DoseResponse {
        title: match &analysis.title {
            Some(title) => title.clone(),
            None => "Change against where it started".to_owned(),
        },
        key: rendering.id.clone(),
        x: Axis::new(pairs.first.label.clone(), unit),
        y: Axis::new("Change", unit),
        points: Series::new(
            "one pair",
            pairs
                .before
                .iter()
                .copied()
                .zip(differences.iter().copied()),
        ),
        line: Some(Fit {
            line: Series::new(
                "line of least squares",
                found.iter().map(|p| (p.x, p.value)),
            ),
            band_name: format!("{} interval of the mean", level_words(level(rendering))),
            band: found
                .iter()
                .map(|p| BandPoint {
                    x: p.x,
                    low: p.mean_interval.lower,
                    high: p.mean_interval.upper,
                })
                .collect(),
        }),
        smooth: expected.map(by_error),
        ..DoseResponse::default()
    };
    Ok(Drawing {
        svg: chart
            .svg(size(rendering, 720, 440)?)
            .map_err(undrawn(rendering))?,
        description: chart.description(),
    })
}
