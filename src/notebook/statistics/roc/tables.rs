//! Tables of areas, thresholds and accuracy.

use super::{Judged, Use};
use crate::formula::notation::{Analysis, Diagnostic};
use crate::notebook::render::Rendering;
use crate::notebook::statistics::bootstrap;
use crate::notebook::statistics::outcome::Classes;
use crate::notebook::statistics::page::{
    Answer, OF_ONE_PATIENT, Table, level_words, percent, refused, share, share_span, span,
    wilson_heading,
};
use crate::notebook::statistics::settings::bare_number;
use crate::sheet::{figure, figure_as_given};
use crate::statistics::roc::{
    Direction, ThresholdInterval, ThresholdRule, threshold, threshold_interval,
};
use crate::statistics::{
    ClusteredAccuracy, ClusteredProportion, Interval, LikelihoodRatio, Proportion, StatisticsError,
    Warning,
};

/// The demand on sensitivity and on specificity of the two thresholds beside the chosen one, where none is stated (common practice).
const DEMAND: f64 = 0.9;

pub(super) fn areas(classes: &Classes<'_>, judged: &[Judged<'_>], level: f64) -> Table {
    let method = match classes.patients.as_ref().filter(|p| p.repeat()) {
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
            Direction::HigherIsPositive => "high values",
            Direction::LowerIsPositive => "low values",
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

/// The thresholds of every index, by Youden's rule and by what is demanded.
pub(super) fn thresholds(
    (rendering, analysis): (&Rendering<'_>, &Analysis),
    classes: &Classes<'_>,
    judged: &[Judged<'_>],
    level: f64,
    answer: &mut Answer,
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
    let demand = demand(analysis)?;
    let mut table = Table::new("Thresholds", &headings);
    for one in judged {
        let name = |rule: &str| match judged.len() {
            1 => rule.to_owned(),
            _ => format!("{}: {rule}", one.index.column.label),
        };
        let youden = match one.used() {
            Use::Shown => "maximal Youden index".to_owned(),
            Use::NotShown => "maximal Youden index, of no use that these rows show".to_owned(),
            Use::Reversed => "maximal Youden index, of no use this way round".to_owned(),
        };
        table.row(row(one, name(&youden), &one.chosen));
        for (what, rule) in [
            ("sensitivity", ThresholdRule::SensitivityAtLeast(demand)),
            ("specificity", ThresholdRule::SpecificityAtLeast(demand)),
        ] {
            let words = name(&format!("{what} at least {}", level_words(demand)));
            let patients = classes.patients.as_ref();
            // A demand that no threshold meets is an answer too.
            match threshold_interval(&one.sample, rule, patients, level, &bootstrap()) {
                Ok(found) => {
                    unusable(&words, &found, answer);
                    table.row(row(one, words, &found));
                }
                Err(StatisticsError::Unreachable { .. }) => {
                    table.row([words, "no threshold reaches it".to_owned()])
                }
                Err(StatisticsError::UnusableResamples { .. }) => {
                    let found = threshold(&one.sample, rule).map_err(refused(rendering))?;
                    table.row([
                        words,
                        one.index.beyond(&figure_as_given(found.threshold)),
                        "none: no threshold reaches it in more than a tenth of the resamples"
                            .to_owned(),
                        String::new(),
                        percent(found.sensitivity),
                        percent(found.specificity),
                    ]);
                }
                Err(error) => return Err(refused(rendering)(error)),
            }
        }
    }
    Ok(table)
}

fn demand(analysis: &Analysis) -> Result<f64, Vec<Diagnostic>> {
    let (Some(reading), Some(place)) = (
        analysis.amount("demanding"),
        analysis.amount_place("demanding"),
    ) else {
        return Ok(DEMAND);
    };
    bare_number(reading)
        .filter(|share| *share > 0.0 && *share < 1.0)
        .ok_or_else(|| {
            let message = "a sensitivity or specificity that is demanded lies between 0 and 100 %";
            vec![Diagnostic::error(message, place).hint("such as `demanding 95 %`")]
        })
}

fn row(one: &Judged<'_>, name: String, found: &ThresholdInterval) -> Vec<String> {
    let chosen = &found.chosen;
    let interval = span(&found.bootstrap.interval);
    vec![
        name,
        one.index.beyond(&figure_as_given(chosen.threshold)),
        one.index.column.with_unit(&interval),
        share(&found.inside),
        percent(chosen.sensitivity),
        percent(chosen.specificity),
    ]
}

/// Resamples in which no threshold met a demand.
fn unusable(words: &str, found: &ThresholdInterval, answer: &mut Answer) {
    let of_demand = found.warnings.iter();
    let of_demand = of_demand.filter(|w| matches!(w, Warning::UnusableResamples { .. }));
    answer.warn_of(words, of_demand);
}

/// Accuracy at the chosen threshold; where patients repeat, with intervals that are widened for it.
pub(super) fn accuracies(one: &Judged<'_>, level: f64) -> Table {
    let at = one
        .index
        .beyond(&figure_as_given(one.chosen.chosen.threshold));
    let label = format!("Accuracy of {} {at}", one.index.column.said());
    match &one.clustered {
        None => alone(one, label, level),
        Some(found) => widened(one, found, label, level),
    }
}

fn alone(one: &Judged<'_>, label: String, level: f64) -> Table {
    let headings = [
        "Measure",
        "Here",
        &format!("{} interval, exact", level_words(level)),
        &wilson_heading(level),
        "Corrected for optimism",
    ];
    let mut table = Table::new(label, &headings);
    let found = &one.accuracy;
    for measure in measures(one) {
        if let Some(p) = measure.found {
            table.row([
                measure.name.to_owned(),
                share(p),
                share_span(&p.exact),
                share_span(&p.wilson),
                measure.corrected.map_or(String::new(), percent),
            ]);
        }
    }
    let log = |interval: &Interval| format!("{} (log method)", span(interval));
    table.row(ratio(POSITIVE, found.positive_likelihood_ratio, log));
    table.row(ratio(NEGATIVE, found.negative_likelihood_ratio, log));
    table
}

fn widened(one: &Judged<'_>, found: &ClusteredAccuracy, label: String, level: f64) -> Table {
    let interval = format!(
        "{} interval, widened for patients who repeat (shares: Wilson)",
        level_words(level)
    );
    let headings = ["Measure", "Here", &interval, "Corrected for optimism"];
    let mut table = Table::new(label, &headings);
    let clustered = [
        &found.sensitivity,
        &found.specificity,
        &found.positive_predictive_value,
        &found.negative_predictive_value,
        &found.correct,
    ];
    for (measure, clustered) in measures(one).into_iter().zip(clustered) {
        if let Some(p) = measure.found {
            let of_one = || OF_ONE_PATIENT.to_owned();
            let span = |c: &ClusteredProportion| share_span(&c.interval);
            table.row([
                measure.name.to_owned(),
                share(p),
                clustered.as_ref().map_or_else(of_one, span),
                measure.corrected.map_or(String::new(), percent),
            ]);
        }
    }
    let log = |interval: &Interval| format!("{} (log method, cluster-robust)", span(interval));
    table.row(ratio(POSITIVE, found.positive_likelihood_ratio, log));
    table.row(ratio(NEGATIVE, found.negative_likelihood_ratio, log));
    table
}

const POSITIVE: &str = "Positive likelihood ratio";
const NEGATIVE: &str = "Negative likelihood ratio";

/// One share of the two-by-two table.
struct Measure<'j> {
    name: &'static str,
    /// Nothing where it is a share of nobody.
    found: Option<&'j Proportion>,
    corrected: Option<f64>,
}

fn measures<'j>(one: &'j Judged<'_>) -> [Measure<'j>; 5] {
    let (found, corrected) = (&one.accuracy, &one.corrected);
    let measure = |name, found, corrected| Measure {
        name,
        found,
        corrected,
    };
    [
        measure(
            "Sensitivity",
            Some(&found.sensitivity),
            Some(corrected.sensitivity.corrected),
        ),
        measure(
            "Specificity",
            Some(&found.specificity),
            Some(corrected.specificity.corrected),
        ),
        measure(
            "Positive predictive value",
            found.positive_predictive_value.as_ref(),
            None,
        ),
        measure(
            "Negative predictive value",
            found.negative_predictive_value.as_ref(),
            None,
        ),
        measure(
            "Correct answers",
            Some(&found.correct),
            Some(corrected.correct.corrected),
        ),
    ]
}

fn ratio(
    name: &str,
    ratio: LikelihoodRatio,
    interval_words: impl Fn(&Interval) -> String,
) -> [String; 3] {
    let (value, interval) = match ratio {
        LikelihoodRatio::Estimated { value, interval } => {
            (figure(value), interval_words(&interval))
        }
        LikelihoodRatio::Zero => ("0".to_owned(), "none".to_owned()),
        LikelihoodRatio::Unbounded => ("without bound".to_owned(), "none".to_owned()),
        LikelihoodRatio::Undefined => ("not defined".to_owned(), "none".to_owned()),
    };
    [name.to_owned(), value, interval]
}
