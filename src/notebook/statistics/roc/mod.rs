//! `show roc`: how well an index tells responders apart, and which threshold.

mod remeasured;
mod tables;

use crate::charts::{BandPoint, CurveArea, Mark, Point, Roc, RocCurve};
use crate::formula::notation::{Analysis, Diagnostic, is_name};
use crate::notebook::render::{Rendered, Rendering};
use crate::sheet::figure_as_given;
use crate::statistics::roc::{
    Area, CorrectedAccuracy, Direction, RocSample, ThresholdInterval, ThresholdRule, area,
    area_clustered, band, compare, compare_clustered, corrected_accuracy, is_beyond,
    threshold_interval,
};
use crate::statistics::{Accuracy, ClusteredAccuracy, Warning, accuracy, accuracy_clustered};

use super::beside::tell_coupling;
use super::outcome::{Classes, Index, WIDENED, accounting, rows_come_from};
use super::page::{
    Answer, Drawing, Table, level_words, p_value, refused, size, undrawn, with_interval,
};
use super::{RESAMPLES, SEED, bootstrap, level};

/// Places along a curve at which its band is computed.
const BAND_STEPS: usize = 50;

/// All that is computed for one index.
struct Judged<'c> {
    index: &'c Index,
    sample: RocSample,
    area: Area,
    chosen: ThresholdInterval,
    corrected: CorrectedAccuracy,
    accuracy: Accuracy,
    /// With intervals that are widened for it, where patients repeat.
    clustered: Option<ClusteredAccuracy>,
}

/// What these rows show of an index.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Use {
    /// The interval of its area lies above 0.5.
    Shown,
    /// It holds 0.5.
    NotShown,
    /// It lies below 0.5.
    Reversed,
}

impl Judged<'_> {
    fn used(&self) -> Use {
        let (lower, upper) = match self.area.interval {
            Some(interval) => (interval.lower, interval.upper),
            None => (self.area.value, self.area.value),
        };
        if upper < 0.5 {
            Use::Reversed
        } else if lower > 0.5 {
            Use::Shown
        } else {
            Use::NotShown
        }
    }

    /// What to say of an index that does not tell responders apart, or does so the other way round.
    fn of_no_use(&self) -> Option<String> {
        let label = &self.index.column.label;
        let name = &self.index.column.name;
        let name = match is_name(name) {
            true => name.clone(),
            false => format!("\"{name}\""),
        };
        match self.used() {
            Use::Shown => None,
            Use::NotShown => Some(format!(
                "{label}: the interval of the area holds 0.5, so these rows do not show that it tells responders apart, and its threshold has no \
                 use that they show."
            )),
            Use::Reversed => {
                let (speak, ask) = match self.index.direction {
                    Direction::HigherIsPositive => ("low", format!("low {name}")),
                    Direction::LowerIsPositive => ("high", name),
                };
                Some(format!(
                    "{label}: the area and its interval lie below 0.5: in these rows {speak} values speak for a response, and the threshold has no use \
                     this way round. Where that was to be expected, ask of `{ask}`; a direction chosen by looking at the rows flatters."
                ))
            }
        }
    }
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
    answer
        .cautions
        .extend(judged.iter().filter_map(Judged::of_no_use));
    answer.tables.push(tables::areas(&classes, &judged, level));
    let asked = (rendering, analysis);
    let thresholds = tables::thresholds(asked, &classes, &judged, level, &mut answer)?;
    answer.tables.push(thresholds);
    for one in &judged {
        answer.tables.push(tables::accuracies(one, level));
    }
    compared(rendering, &classes, &judged, level, &mut answer)?;
    remeasured::under_error(rendering, analysis, &classes, &judged, &mut answer)?;
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
    let clustered = match patients.filter(|patients| patients.repeat()) {
        Some(patients) => {
            let at = chosen.chosen.threshold;
            let scores = classes.scores(index);
            let test = scores
                .iter()
                .map(|score| is_beyond(*score, at, index.direction));
            let test: Vec<bool> = test.collect();
            let found = accuracy_clustered(&test, &classes.positive, patients, level);
            Some(found.map_err(&refused)?)
        }
        None => None,
    };
    Ok(Judged {
        index,
        clustered,
        area: area.map_err(&refused)?,
        corrected: corrected_accuracy(&sample, rule, patients, &bootstrap()).map_err(&refused)?,
        accuracy: accuracy(chosen.chosen.table, level).map_err(&refused)?,
        chosen,
        sample,
    })
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
    answer.warn(&Warning::many_looks(others.len(), 1.0 - level));
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
    if let Some(patients) = classes.patients.as_ref().filter(|p| p.repeat()) {
        answer.note(format!(
            "{}, whose rows are alike: each interval of a share is {WIDENED}; those of likelihood ratios are widened too.",
            rows_come_from(patients)
        ));
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
