//! `show roc`: how well an index tells responders apart, and which threshold.

use crate::charts::{BandPoint, CurveArea, Mark, Point, Roc, RocCurve};
use crate::formula::notation::{Analysis, Diagnostic, Test};
use crate::notebook::render::{Rendered, Rendering};
use crate::sheet::{figure, figure_as_given};
use crate::statistics::roc::{
    Area, CorrectedAccuracy, MeasuredResponse, RocSample, ThresholdInterval, ThresholdRule, area,
    area_clustered, band, compare, compare_clustered, corrected_accuracy, remeasured, threshold,
    threshold_interval,
};
use crate::statistics::{Accuracy, Interval, LikelihoodRatio, Proportion, Warning, accuracy};

use super::beside::tell_coupling;
use super::noise::Noise;
use super::outcome::{Classes, Index, accounting};
use super::page::{
    Answer, Drawing, Table, level_words, p_value, percent, refused, share, share_span, size, span,
    undrawn, with_interval,
};
use super::{RESAMPLES, SEED, bootstrap, level};

/// Places along a curve at which its band is computed.
const BAND_STEPS: usize = 50;
/// The demand on sensitivity and on specificity of the two thresholds beside the chosen one (common practice).
const DEMAND: f64 = 0.9;

/// All that is computed for one index.
struct Judged<'c> {
    index: &'c Index,
    sample: RocSample,
    area: Area,
    chosen: ThresholdInterval,
    corrected: CorrectedAccuracy,
    accuracy: Accuracy,
}

pub(super) fn answer(rendering: &Rendering<'_>, analysis: &Analysis) -> Rendered {
    let classes = Classes::of(rendering, analysis)?;
    let level = level(rendering);
    let judged = classes
        .indexes
        .iter()
        .map(|index| judge(rendering, &classes, index, level));
    let judged = judged.collect::<Result<Vec<_>, _>>()?;
    let mut answer = Answer::default();
    answer.define(classes.definition.clone());
    answer.define(accounting(&classes.rows, &classes.left_out));
    answer.tables.push(areas(&classes, &judged, level));
    answer.tables.push(thresholds(rendering, &judged, level)?);
    for one in &judged {
        answer.tables.push(accuracies(one, level));
    }
    compared(rendering, &classes, &judged, level, &mut answer)?;
    under_error(rendering, analysis, &classes, &judged, &mut answer)?;
    cautions(&classes, &judged, &mut answer);
    tell_coupling(analysis, &classes, &mut answer);
    answer.drawing = Some(draw(rendering, analysis, &classes, &judged, level)?);
    answer.output(rendering, analysis)
}

fn judge<'c>(
    rendering: &Rendering<'_>,
    classes: &Classes<'_>,
    index: &'c Index,
    level: f64,
) -> Result<Judged<'c>, Vec<Diagnostic>> {
    let sample = classes.sample(index)?;
    let refused = refused(rendering);
    let patients = classes.patients.as_ref();
    let rule = ThresholdRule::MaximalYouden;
    let area = match patients {
        Some(patients) => area_clustered(&sample, patients, level),
        None => area(&sample, level),
    };
    let chosen =
        threshold_interval(&sample, rule, patients, level, &bootstrap()).map_err(&refused)?;
    Ok(Judged {
        index,
        area: area.map_err(&refused)?,
        corrected: corrected_accuracy(&sample, rule, patients, &bootstrap()).map_err(&refused)?,
        accuracy: accuracy(chosen.chosen.table, level).map_err(&refused)?,
        chosen,
        sample,
    })
}

fn areas(classes: &Classes<'_>, judged: &[Judged<'_>], level: f64) -> Table {
    let method = match classes.patients {
        Some(_) => "variance for repeated patients, Obuchowski 1997",
        None => "variance of DeLong 1988",
    };
    let interval = format!("{} interval", level_words(level));
    let label = format!("Area under the curve ({method})");
    let mut table = Table::new(
        label,
        &[
            "Index",
            "Area",
            &interval,
            "Speaks for a response",
            "With response",
            "Without",
        ],
    );
    for one in judged {
        let side = match one.index.direction {
            crate::statistics::roc::Direction::HigherIsPositive => "high values",
            crate::statistics::roc::Direction::LowerIsPositive => "low values",
        };
        let interval = one.area.interval.as_ref().map_or("none".to_owned(), span);
        table.row([
            one.index.column.label.clone(),
            figure(one.area.value),
            interval,
            side.to_owned(),
            one.area.positives.to_string(),
            one.area.negatives.to_string(),
        ]);
    }
    table
}

fn thresholds(
    rendering: &Rendering<'_>,
    judged: &[Judged<'_>],
    level: f64,
) -> Result<Table, Vec<Diagnostic>> {
    let interval = format!("{} bootstrap interval", level_words(level));
    let headings = [
        "Threshold",
        "At or beyond",
        &interval,
        "Rows inside it",
        "Sensitivity",
        "Specificity",
    ];
    let mut table = Table::new("Thresholds", &headings);
    for one in judged {
        let name = |rule: &str| match judged.len() {
            1 => rule.to_owned(),
            _ => format!("{}: {rule}", one.index.column.label),
        };
        let chosen = &one.chosen.chosen;
        table.row([
            name("maximal Youden index"),
            one.index.beyond(&figure_as_given(chosen.threshold)),
            one.index
                .column
                .with_unit(&span(&one.chosen.bootstrap.interval)),
            share(&one.chosen.inside),
            percent(chosen.sensitivity),
            percent(chosen.specificity),
        ]);
        for (words, rule) in [
            (
                "sensitivity at least 90 %",
                ThresholdRule::SensitivityAtLeast(DEMAND),
            ),
            (
                "specificity at least 90 %",
                ThresholdRule::SpecificityAtLeast(DEMAND),
            ),
        ] {
            // A demand that no threshold meets is an answer too.
            match threshold(&one.sample, rule) {
                Ok(found) => table.row([
                    name(words),
                    one.index.beyond(&figure_as_given(found.threshold)),
                    String::new(),
                    String::new(),
                    percent(found.sensitivity),
                    percent(found.specificity),
                ]),
                Err(crate::statistics::StatisticsError::Unreachable { .. }) => {
                    table.row([name(words), "no threshold reaches it".to_owned()])
                }
                Err(error) => return Err(refused(rendering)(error)),
            }
        }
    }
    Ok(table)
}

fn accuracies(one: &Judged<'_>, level: f64) -> Table {
    let at = one
        .index
        .beyond(&figure_as_given(one.chosen.chosen.threshold));
    let label = format!("Accuracy of {} {at}", one.index.column.said());
    let level = level_words(level);
    let headings = [
        "Measure",
        "Here",
        &format!("{level} interval, exact"),
        &format!("{level} interval, Wilson"),
        "Corrected for optimism",
    ];
    let mut table = Table::new(label, &headings);
    let found = &one.accuracy;
    let mut row = |name: &str, p: &Proportion, corrected: Option<f64>| {
        table.row([
            name.to_owned(),
            share(p),
            share_span(&p.exact),
            share_span(&p.wilson),
            corrected.map_or(String::new(), percent),
        ]);
    };
    row(
        "Sensitivity",
        &found.sensitivity,
        Some(one.corrected.sensitivity.corrected),
    );
    row(
        "Specificity",
        &found.specificity,
        Some(one.corrected.specificity.corrected),
    );
    if let Some(p) = &found.positive_predictive_value {
        row("Positive predictive value", p, None);
    }
    if let Some(p) = &found.negative_predictive_value {
        row("Negative predictive value", p, None);
    }
    row(
        "Correct answers",
        &found.correct,
        Some(one.corrected.correct.corrected),
    );
    for (name, ratio) in [
        ("Positive likelihood ratio", found.positive_likelihood_ratio),
        ("Negative likelihood ratio", found.negative_likelihood_ratio),
    ] {
        let (value, interval) = match ratio {
            LikelihoodRatio::Estimated { value, interval } => {
                (figure(value), format!("{} (log method)", span(&interval)))
            }
            LikelihoodRatio::Zero => ("0".to_owned(), "none".to_owned()),
            LikelihoodRatio::Unbounded => ("without bound".to_owned(), "none".to_owned()),
            LikelihoodRatio::Undefined => ("not defined".to_owned(), "none".to_owned()),
        };
        table.row([name.to_owned(), value, interval]);
    }
    table
}

/// The first index against each of the others, on the same rows.
fn compared(
    rendering: &Rendering<'_>,
    classes: &Classes<'_>,
    judged: &[Judged<'_>],
    level: f64,
    answer: &mut Answer,
) -> Result<(), Vec<Diagnostic>> {
    let Some((first, others)) = judged
        .split_first()
        .filter(|(_, others)| !others.is_empty())
    else {
        return Ok(());
    };
    let mut table = Table::new(
        "Difference of the areas, on the same rows",
        &["Indexes", "Difference", "Were there none"],
    );
    for other in others {
        let found = match &classes.patients {
            Some(patients) => compare_clustered(&first.sample, &other.sample, patients, level),
            None => compare(&first.sample, &other.sample, level),
        };
        let found = found.map_err(refused(rendering))?;
        table.row([
            format!(
                "{} less {}",
                first.index.column.label,
                other.index.column.said()
            ),
            with_interval(found.difference, &found.interval),
            p_value(found.p_value),
        ]);
        answer.warn(&found.warnings);
    }
    answer.tables.push(table);
    if let Some(warning) = Warning::many_looks(others.len(), 1.0 - level) {
        answer.warn(&[warning]);
    }
    Ok(())
}

/// What moves were the response measured once more, where the statement says with which error.
fn under_error(
    rendering: &Rendering<'_>,
    analysis: &Analysis,
    classes: &Classes<'_>,
    judged: &[Judged<'_>],
    answer: &mut Answer,
) -> Result<(), Vec<Diagnostic>> {
    let (Some(outcome), true) = (&analysis.against, analysis.error.is_some()) else {
        return Ok(());
    };
    let rows = &classes.rows;
    let refuse = |words: &str| vec![Diagnostic::error(words, outcome.name.place)];
    let Test::Above(above) = &outcome.test else {
        return Err(refuse(
            "the error of a response needs one that is more than a number, such as `change.stroke_volume > 10 %`",
        ));
    };
    let column = rows.numbers(&outcome.name)?;
    let above = rows.in_unit(&column, &outcome.name, above)?;
    let Some(noise) = Noise::of(rows, analysis, &outcome.name)? else {
        return Ok(());
    };
    let changes = rows.values_of(&column);
    let level = level(rendering);
    let heading = format!("{} of the draws", level_words(level));
    let mut table = Table::new(
        "Were the response measured once more, with the same error",
        &["What", "Here", "Mean of the draws", &heading],
    );
    let mut lost = false;
    for one in judged {
        let chosen = &one.chosen.chosen;
        let response = MeasuredResponse {
            changes: &changes,
            above,
            error: &noise.error,
        };
        let scores = classes.scores(one.index);
        let found = remeasured(
            &scores,
            one.index.direction,
            chosen.threshold,
            response,
            level,
            &bootstrap(),
        )
        .map_err(refused(rendering))?;
        let label = &one.index.column.label;
        let shares = |name: &str, here: f64, interval: &Interval| {
            [
                format!("{label}: {name}"),
                percent(here),
                String::new(),
                share_span(interval),
            ]
        };
        let area = span(&found.area.interval);
        table.row([
            format!("{label}: area"),
            figure(one.area.value),
            figure(found.mean_area),
            area,
        ]);
        let beyond = one.index.beyond(&figure_as_given(chosen.threshold));
        table.row(shares(
            &format!("sensitivity at {beyond}"),
            chosen.sensitivity,
            &found.sensitivity.interval,
        ));
        table.row(shares(
            &format!("specificity at {beyond}"),
            chosen.specificity,
            &found.specificity.interval,
        ));
        table.row([
            format!("{label}: responders"),
            one.area.positives.to_string(),
            String::new(),
            span(&found.positives.interval),
        ]);
        lost |= found.mean_area < one.area.value;
        answer.warn(&found.warnings);
        answer.note(format!(
            "{} of {} rows lie so near the line that error alone would class them otherwise more than once in twenty.",
            found.in_doubt, found.count
        ));
    }
    answer.tables.push(table);
    answer.warn(&noise.error.warnings);
    answer.define(format!(
        "Error of the response: {}; {}.",
        noise.source,
        noise.assumption(&column)
    ));
    answer.note(match lost {
        true => "The response carries this error once already: what an area loses in the draws is about what it has lost before.",
        false => "The response carries this error once already. No area is smaller in the draws: in these rows error takes nothing away that can be seen.",
    });
    Ok(())
}

fn cautions(classes: &Classes<'_>, judged: &[Judged<'_>], answer: &mut Answer) {
    if classes.patients.is_none() {
        answer.caution(
            "Every row counts as a patient of its own. Where patients repeat, intervals are too narrow: say who is who, such as `by patient`.",
        );
    }
    for one in judged {
        answer.warn(&one.area.warnings);
        answer.warn(&one.chosen.warnings);
        answer.warn(&one.corrected.warnings);
        answer.warn(&one.accuracy.warnings);
        if one.index.column.unreadable > 0 {
            answer.caution(format!(
                "{} entries of {} are no numbers and count as missing.",
                one.index.column.unreadable,
                one.index.column.said()
            ));
        }
    }
    if classes.patients.is_some() {
        answer.caution("Intervals of shares and likelihood ratios take rows as independent, although patients repeat.");
    }
    answer.note(format!(
        "Bootstrap: {RESAMPLES} resamples, seed {SEED}, {}.",
        match classes.patients {
            Some(_) => "whole patients drawn",
            None => "each class drawn by itself",
        }
    ));
    answer.note("A response does not mean that the patient needed fluid.");
}

fn draw(
    rendering: &Rendering<'_>,
    analysis: &Analysis,
    classes: &Classes<'_>,
    judged: &[Judged<'_>],
    level: f64,
) -> Result<Drawing, Vec<Diagnostic>> {
    let mut curves = Vec::new();
    for one in judged {
        let curve = one.sample.curve();
        let points = curve.iter().map(|p| Point {
            x: 1.0 - p.specificity,
            y: p.sensitivity,
        });
        // Several bands would hide each other.
        let band = match judged.len() {
            1 => {
                let patients = classes.patients.as_ref();
                band(&one.sample, patients, BAND_STEPS, level, &bootstrap())
                    .map_err(refused(rendering))?
            }
            _ => Vec::new(),
        };
        let chosen = &one.chosen.chosen;
        curves.push(RocCurve {
            name: one.index.column.label.clone(),
            points: points.collect(),
            band: band
                .iter()
                .map(|at| BandPoint {
                    x: at.false_positive_rate,
                    low: at.lower,
                    high: at.upper,
                })
                .collect(),
            area: one.area.interval.map(|interval| CurveArea {
                value: one.area.value,
                low: interval.lower,
                high: interval.upper,
            }),
            marks: vec![Mark {
                x: 1.0 - chosen.specificity,
                y: chosen.sensitivity,
                label: one.index.beyond(&figure_as_given(chosen.threshold)),
            }],
        });
    }
    let chart = Roc {
        title: match &analysis.title {
            Some(title) => title.clone(),
            None => format!("Predicting {}", classes.response),
        },
        key: rendering.id.clone(),
        curves,
        band_name: format!("{} band at each specificity", level_words(level)),
    };
    Ok(Drawing {
        svg: chart
            .svg(size(rendering, 640, 520)?)
            .map_err(undrawn(rendering))?,
        description: chart.description(),
    })
}
