//! `show proportions`: a share over periods of time.

use crate::charts::{Axis, ControlChart, ControlKind, ControlPoint, ControlScale};
use crate::cohort::date_of_days;
use crate::formula::notation::{Analysis, Diagnostic};
use crate::notebook::render::{Rendered, Rendering};
use crate::notebook::words::capitalized;
use crate::sheet::{figure_as_given, name_in_words};
use crate::statistics::quality::{PChart, p_chart};

use super::control::{Series, baseline};
use super::outcome::accounting;
use super::page::{Answer, Drawing, Table, counted, percent, refused, share_span, size, undrawn};
use super::rows::{Rows, spaced};
use super::time::Time;
use crate::statistics::Interval;

/// Most periods; more are no chart.
const MOST: f64 = 400.0;

/// One period with rows in it.
struct Period {
    /// When it begins.
    start: String,
    count: usize,
    size: usize,
}

pub(super) fn answer(rendering: &Rendering<'_>, analysis: &Analysis) -> Rendered {
    let ([subject], Some(along)) = (&analysis.of[..], &analysis.along) else {
        return Err(rendering.error("one share is charted along one time: ask for each by itself"));
    };
    let Some(word) = &subject.word else {
        let message = format!("a share is that of a word: `{} is yes`", subject.name.text);
        return Err(vec![Diagnostic::error(message, subject.name.place)]);
    };
    let mut rows = Rows::of(rendering, analysis)?;
    let says = rows.says(&subject.name, word)?;
    let time = rows.time(along)?;
    let Some(per) = analysis.amount("per") else {
        return Err(rendering.error("`per` and the length of a period belong here"));
    };
    let per = rows.period(&time, along, per)?;
    if per <= 0.0 {
        return Err(rendering.error("a period is longer than zero"));
    }
    let what = name_in_words(&subject.name.text);
    rows.keep_if(format!("{what} not said"), |row| says[row].is_some());
    rows.keep_not_rough(&subject.name, &what);
    rows.keep_known(&time.column);
    let at: Vec<(f64, bool)> = rows
        .kept
        .iter()
        .filter_map(|row| Some((time.value(*row)?, says[*row]?)))
        .collect();
    let periods = periods(rendering, &time, &at, per)?;
    let counts: Vec<usize> = periods.iter().map(|p| p.count).collect();
    let sizes: Vec<usize> = periods.iter().map(|p| p.size).collect();
    let baseline = baseline(rendering, analysis)?;
    let there = Series {
        found: periods.len(),
        of: ["period", "periods"],
        makes: "there are".to_owned(),
        needed: 1,
    };
    there.check_baseline(rendering, analysis, baseline)?;
    let in_baseline = || periods.iter().take(baseline.unwrap_or(periods.len()));
    let said = format!("{what} is {}", spaced(&word.text));
    rows.check_share_varies(
        &said,
        in_baseline().map(|p| p.count).sum(),
        in_baseline().map(|p| p.size).sum(),
    )?;
    let chart = p_chart(&counts, &sizes, baseline).map_err(refused(rendering))?;
    let mut answer = Answer::default();
    answer.define(format!(
        "Share of rows in which {what} is {}, over {}, each {} of {}{}.",
        word.text.replace('_', " "),
        counted(periods.len(), "period", "periods"),
        match time.is_date {
            true => format!("{} days", figure_as_given(per)),
            false => figure_as_given(per),
        },
        time.said(),
        rows.all_in_words(" where ", &analysis.conditions)
    ));
    answer.define(accounting(&rows, &[]));
    answer.warn(&chart.warnings);
    answer
        .tables
        .push(table(&periods, &chart, &time.column.label));
    answer.drawing = Some(draw(
        rendering,
        analysis,
        (&what, &time.column.label),
        &periods,
        &chart,
    )?);
    if let Some(words) = time.unreadable() {
        answer.note(words);
    }
    answer.note("Limits of three standard deviations depend on the rows of each period; a period without rows is left out.");
    answer.output(rendering, analysis)
}

/// Counts by period from the earliest; periods without rows are left out.
fn periods(
    rendering: &Rendering<'_>,
    time: &Time,
    at: &[(f64, bool)],
    per: f64,
) -> Result<Vec<Period>, Vec<Diagnostic>> {
    let first = at
        .iter()
        .map(|(time, _)| *time)
        .fold(f64::INFINITY, f64::min);
    // Periods of dates begin at midnight.
    let first = if time.is_date { first.floor() } else { first };
    let last = at
        .iter()
        .map(|(time, _)| *time)
        .fold(f64::NEG_INFINITY, f64::max);
    if (last - first) / per > MOST {
        return Err(rendering.error(format!(
            "this makes more than {MOST} periods: take longer ones"
        )));
    }
    let mut found: std::collections::BTreeMap<u32, (usize, usize)> =
        std::collections::BTreeMap::new();
    for (time, is_so) in at {
        let (count, size) = found
            .entry(((time - first) / per).floor() as u32)
            .or_default();
        *count += usize::from(*is_so);
        *size += 1;
    }
    let start = |index: u32| {
        let start = first + f64::from(index) * per;
        match time.is_date {
            true => date_of_days(start),
            false => figure_as_given(start),
        }
    };
    Ok(found
        .into_iter()
        .map(|(index, (count, size))| Period {
            start: start(index),
            count,
            size,
        })
        .collect())
}

fn table(periods: &[Period], chart: &PChart, time: &str) -> Table {
    let mut table = Table::new("Shares by period", &[time, "Share", "Limits", ""]);
    for (period, point) in periods.iter().zip(&chart.points) {
        let limits = Interval {
            lower: point.limits.lower,
            upper: point.limits.upper,
            level: 0.9973,
        };
        table.row([
            format!("from {}", period.start),
            format!(
                "{} ({} of {})",
                percent(point.proportion),
                period.count,
                period.size
            ),
            share_span(&limits),
            if point.is_beyond {
                "beyond its limits".to_owned()
            } else {
                String::new()
            },
        ]);
    }
    table.row(["all of the baseline".to_owned(), percent(chart.center)]);
    table
}

fn draw(
    rendering: &Rendering<'_>,
    analysis: &Analysis,
    (what, time): (&str, &str),
    periods: &[Period],
    chart: &PChart,
) -> Result<Drawing, Vec<Diagnostic>> {
    let points = chart
        .points
        .iter()
        .enumerate()
        .map(|(at, point)| ControlPoint {
            x: at as f64,
            value: 100.0 * point.proportion,
            lower: 100.0 * point.limits.lower,
            upper: 100.0 * point.limits.upper,
            signal: point.is_beyond.then(|| "beyond its limits".to_owned()),
            ..ControlPoint::default()
        });
    let drawn = ControlChart {
        title: match &analysis.title {
            Some(title) => title.clone(),
            None => format!("{} over time", capitalized(what)),
        },
        key: rendering.id.clone(),
        kind: ControlKind::Proportions,
        x: ControlScale::Periods {
            label: format!("{time}, start of each period"),
            names: periods.iter().map(|p| p.start.clone()).collect(),
        },
        y: Axis::new("Share", "%"),
        center: 100.0 * chart.center,
        points: points.collect(),
        baseline_end: None,
    };
    Ok(Drawing {
        svg: drawn
            .svg(size(rendering, 720, 400)?)
            .map_err(undrawn(rendering))?,
        description: drawn.description(),
    })
}
