//! `show agreement`: do two readings of one thing agree?

use crate::charts::{Axis, BlandAltman, Level, Series};
use crate::formula::notation::{Analysis, Diagnostic};
use crate::notebook::coupled::Drawn;
use crate::notebook::render::{Rendered, Rendering};
use crate::sheet::{figure, figure_as_given};
use crate::statistics::agreement::{
    Agreement, AgreementOptions, Exclusion, Limit, PercentageError, agreement, agreement_repeated,
    concordance,
};
use crate::statistics::response::{Line, fit_line_clustered};
use crate::statistics::{Clusters, Interval, Warning};

use super::estimates::is_difference;
use super::level;
use super::outcome::{WHO_IS_WHO, accounting, clusters};
use super::page::{
    Answer, Drawing, Table, counted, level_words, p_value, refused, share, share_span, size,
    undrawn, with_interval,
};
use super::readings::Readings;
use super::settings::Setting;

/// Half width of the zone left out of the concordance of changes (Critchley 2010 Anesth Analg 111:1180-92, memory).
const EXCLUSION: Setting = Setting {
    clause: "exclusion",
    usual: 0.15,
    allowed: 0.0..=0.99,
    words: "the zone left out of the concordance of changes is from 0 to 99 %, such as `exclusion 10 %`",
};
/// A percentage error of at most this is usually called acceptable, per cent (criterion as seen in Anesthesiology
/// 2010;113:1220-35).
const ACCEPTABLE: f64 = 30.0;

/// What both ways of computing the limits give.
struct Found {
    bias: f64,
    bias_interval: Interval,
    standard_deviation: f64,
    lower: Limit,
    upper: Limit,
    percentage_error: Option<PercentageError>,
}

pub(super) fn answer(rendering: &Rendering<'_>, analysis: &Analysis) -> Rendered {
    let readings = Readings::of(rendering, analysis)?;
    let (first, second) = readings.two()?;
    let level = level(rendering);
    let refused = refused(rendering);
    let options = AgreementOptions {
        level,
        ..AgreementOptions::default()
    };
    let mut answer = Answer::default();
    let [a, b] = &readings.columns[..] else {
        return Err(rendering.error("agreement is that of two readings"));
    };
    answer.define(format!(
        "{} less {}, {}{}.",
        a.label,
        b.said(),
        counted(first.len(), "pair", "pairs"),
        readings.rows.all_in_words(" where ", &analysis.conditions)
    ));
    answer.define(accounting(&readings.rows, &[]));
    let plain = agreement(first, second, &options).map_err(&refused)?;
    let is_amount = !analysis
        .of
        .iter()
        .any(|subject| is_difference(&subject.name))
        && readings.values.iter().flatten().all(|value| *value > 0.0);
    let patients = clusters(&readings.rows, analysis)?;
    let repeating = patients.as_ref().filter(|patients| patients.repeat());
    let slope = slope(&plain, (first, second), repeating, level, &mut answer);
    let found = match repeating {
        Some(patients) => {
            let found = agreement_repeated(first, second, patients, &options).map_err(&refused)?;
            answer.warn(&found.warnings);
            answer.note(format!(
                "{} pairs of {}: limits for repeated measurements (Bland & Altman 2007 J Biopharm Stat 17:571-82).",
                found.count,
                counted(found.patients, "patient", "patients")
            ));
            Found {
                bias: found.bias,
                bias_interval: found.bias_interval,
                standard_deviation: found.standard_deviation,
                lower: found.lower,
                upper: found.upper,
                percentage_error: found.percentage_error,
            }
        }
        _ => {
            if patients.is_none() {
                answer.caution(WHO_IS_WHO);
            }
            Found {
                bias: plain.bias,
                bias_interval: plain.bias_interval,
                standard_deviation: plain.standard_deviation,
                lower: plain.lower,
                upper: plain.upper,
                percentage_error: plain.percentage_error,
            }
        }
    };
    answer
        .tables
        .push(limits(&readings, &found, slope.as_ref(), level, is_amount));
    if !is_amount {
        answer.note("No percentage error: it is a share of the mean, and changes, or readings on both sides of zero, have a mean that may be near zero.");
    }
    changes_agree(&readings, analysis, level, &mut answer)?;
    answer.drawing = Some(draw(
        rendering,
        analysis,
        &readings,
        &found,
        slope.as_ref(),
    )?);
    if let [first, second] = &analysis.of[..] {
        let names = [&first.name, &second.name];
        let drawn = Drawn::difference_against_mean;
        let coupling = readings.rows.coupling(names, drawn, a);
        answer.notes.extend(coupling.map(|told| told.text));
    }
    answer.output(rendering, analysis)
}

/// The line of the difference on the mean; where patients repeat, its errors allow for it.
fn slope(
    plain: &Agreement,
    (first, second): (&[f64], &[f64]),
    repeating: Option<&Clusters>,
    level: f64,
    answer: &mut Answer,
) -> Option<Line> {
    let Some(patients) = repeating else {
        answer.warn(&plain.warnings);
        return plain.proportional.clone();
    };
    let own = plain.warnings.iter();
    answer.warn(own.filter(|w| !matches!(w, Warning::ProportionalBias { .. })));
    let pairs = || first.iter().zip(second);
    let means: Vec<f64> = pairs().map(|(a, b)| (a + b) / 2.0).collect();
    let differences: Vec<f64> = pairs().map(|(a, b)| a - b).collect();
    // Means that are all one have no line, as without patients.
    let line = fit_line_clustered(&means, &differences, patients, level).ok()?;
    answer.warn(&Warning::proportional_bias(&line));
    answer.note("The slope of the difference on the mean has cluster-robust errors, with Student's t over the patients.");
    Some(line)
}

fn limits(
    readings: &Readings<'_>,
    found: &Found,
    slope: Option<&Line>,
    level: f64,
    is_amount: bool,
) -> Table {
    let interval = format!("With {} interval", level_words(level));
    let mut table = Table::new("Agreement (Bland & Altman)", &["Measure", &interval, ""]);
    let with =
        |value: f64, interval: &Interval| readings.with_unit(&with_interval(value, interval));
    table.row([
        "Mean difference".to_owned(),
        with(found.bias, &found.bias_interval),
    ]);
    table.row([
        "Standard deviation of differences".to_owned(),
        readings.with_unit(&figure(found.standard_deviation)),
    ]);
    table.row([
        "Lower limit of agreement".to_owned(),
        with(found.lower.value, &found.lower.interval),
    ]);
    table.row([
        "Upper limit of agreement".to_owned(),
        with(found.upper.value, &found.upper.interval),
    ]);
    if let Some(error) = found.percentage_error.as_ref().filter(|_| is_amount) {
        let side = match error.value <= ACCEPTABLE {
            true => "at most",
            false => "above",
        };
        table.row([
            "Percentage error, 1.96 SD / mean".to_owned(),
            format!("{} %", with_interval(error.value, &error.interval)),
            format!(
                "{side} {} %, the usual criterion",
                figure_as_given(ACCEPTABLE)
            ),
        ]);
    }
    if let Some(line) = slope {
        table.row([
            "Slope of the difference on the mean".to_owned(),
            with_interval(line.slope.value, &line.slope.interval),
            line.slope.p_value.map_or(String::new(), p_value),
        ]);
    }
    table
}

/// Changes in per cent also agree, or not, in their direction.
fn changes_agree(
    readings: &Readings<'_>,
    analysis: &Analysis,
    level: f64,
    answer: &mut Answer,
) -> Result<(), Vec<Diagnostic>> {
    let zone = 100.0 * EXCLUSION.of(readings.rows.rendering, analysis)?;
    let is_change = readings.columns.iter().all(|c| c.unit.pretty() == "%");
    if !is_change {
        return match analysis.amount_place(EXCLUSION.clause) {
            None => Ok(()),
            Some(place) => Err(vec![Diagnostic::error(
                "a zone of exclusion is that of changes in per cent, and these are none",
                place,
            )]),
        };
    }
    let (first, second) = readings.two()?;
    match concordance(first, second, zone, Exclusion::BothSmall, level) {
        Ok(found) => {
            let mut table = Table::new(
                "Concordance of changes",
                &[
                    "Same direction",
                    "Interval, Wilson",
                    &format!("Left out, both under {} %", figure_as_given(zone)),
                ],
            );
            table.row([
                share(&found.agreeing),
                share_span(&found.agreeing.wilson),
                found.excluded.to_string(),
            ]);
            answer.tables.push(table);
            answer.warn(&found.warnings);
        }
        Err(error) => answer.note(format!("No concordance of changes: {}.", error)),
    }
    Ok(())
}

fn draw(
    rendering: &Rendering<'_>,
    analysis: &Analysis,
    readings: &Readings<'_>,
    found: &Found,
    slope: Option<&Line>,
) -> Result<Drawing, Vec<Diagnostic>> {
    let (first, second) = readings.two()?;
    let points = first
        .iter()
        .zip(second)
        .map(|(a, b)| ((a + b) / 2.0, a - b));
    let points: Vec<(f64, f64)> = points.collect();
    let unit = readings.columns.first().map_or("", |c| c.unit.pretty());
    let bias = Level {
        value: found.bias,
        low: found.bias_interval.lower,
        high: found.bias_interval.upper,
    };
    let limit = |limit: &Limit| Level {
        value: limit.value,
        low: limit.interval.lower,
        high: limit.interval.upper,
    };
    // The line is drawn only where it says something.
    let trend = slope.filter(|line| line.slope.p_value.is_some_and(|p| p < 0.05));
    let chart = BlandAltman {
        title: match &analysis.title {
            Some(title) => title.clone(),
            None => "Difference against mean".to_owned(),
        },
        key: rendering.id.clone(),
        x: Axis::new("Mean of the two", unit),
        y: Axis::new("First less second", unit),
        groups: vec![Series::new("pairs", points)],
        bias: Some(bias),
        upper: Some(limit(&found.upper)),
        lower: Some(limit(&found.lower)),
        interval_name: format!("{} interval", level_words(level(rendering))),
        trend: trend.map(|line| {
            let at = |x: f64| (x, line.intercept.value + line.slope.value * x);
            Series::new(
                "line through the differences",
                [at(line.smallest_x), at(line.largest_x)],
            )
        }),
    };
    Ok(Drawing {
        svg: chart
            .svg(size(rendering, 720, 440)?)
            .map_err(undrawn(rendering))?,
        description: chart.description(),
    })
}
