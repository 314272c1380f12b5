//! `show repeatability`: does one measurement agree with itself?

use crate::formula::notation::Analysis;
use crate::notebook::render::{Rendered, Rendering};
use crate::sheet::figure;
use crate::statistics::agreement::{IccForm, icc, repeatability, repeatability_clustered};
use crate::statistics::{Clusters, Interval};

use super::outcome::{accounting, clusters};
use super::page::{Answer, Table, counted, level_words, refused, with_interval};
use super::readings::Readings;
use super::{RESAMPLES, SEED, bootstrap, level};

/// Standard deviations within which 95 of 100 lie.
const FACTOR: f64 = 1.96;

/// `show repeatability`: readings of one thing with nothing between them.
pub(super) fn answer(rendering: &Rendering<'_>, analysis: &Analysis) -> Rendered {
    let readings = Readings::of(rendering, analysis)?;
    if readings.values.len() < 2 {
        return Err(rendering.error("repeatability needs two readings or more of one thing, such as `show repeatability of before.lvot_vti, after.lvot_vti over challenges`"));
    }
    let level = level(rendering);
    let refused = refused(rendering);
    let subjects = readings.rows.kept.len();
    let flat: Vec<f64> = (0..subjects)
        .flat_map(|i| readings.values.iter().map(move |v| v[i]))
        .collect();
    let of: Vec<usize> = (0..subjects)
        .flat_map(|i| readings.values.iter().map(move |_| i))
        .collect();
    let of_rows = Clusters::new(&of).map_err(&refused)?;
    let patients = clusters(&readings.rows, analysis)?;
    let repeating = patients.as_ref().filter(|patients| patients.repeat());
    let found = match repeating {
        Some(patients) => {
            repeatability_clustered(&flat, &of_rows, patients, FACTOR, level, &bootstrap())
        }
        None => repeatability(&flat, &of_rows, FACTOR, level),
    };
    let found = found.map_err(&refused)?;
    let mut answer = Answer::default();
    answer.define(format!(
        "Readings of one thing: {}, {}{}.",
        readings
            .columns
            .iter()
            .map(|c| c.said())
            .collect::<Vec<_>>()
            .join(", "),
        counted(subjects, "row", "rows"),
        readings.rows.all_in_words(" where ", &analysis.conditions)
    ));
    answer.define(accounting(&readings.rows, &[]));
    answer.note(format!(
        "Component: all that differs between the readings of one row — the beats, the acquisition, and the \
         operator where it is another one — not told apart. Source: these {}; no publication.",
        counted(subjects, "row", "rows")
    ));
    let interval = format!("With {} interval", level_words(level));
    let mut table = Table::new("Repeatability", &["Measure", &interval, "What it says"]);
    let with =
        |value: f64, interval: &Interval| readings.with_unit(&with_interval(value, interval));
    // For a meeting the coefficient that follows from it is enough.
    if !analysis.briefly {
        table.row([
            "Standard deviation within".to_owned(),
            with(found.within_standard_deviation, &found.within_interval),
            "of readings of one thing".to_owned(),
        ]);
    }
    table.row([
        "Repeatability coefficient".to_owned(),
        with(
            found.repeatability_coefficient,
            &found.repeatability_interval,
        ),
        "two readings differ by less in 95 of 100 pairs; less is no change".to_owned(),
    ]);
    if let Some(cv) = found.coefficient_of_variation {
        let stretch = FACTOR * std::f64::consts::SQRT_2;
        let in_per_cent = |times: f64| match &found.coefficient_interval {
            Some(interval) => {
                let interval = Interval {
                    lower: times * interval.lower,
                    upper: times * interval.upper,
                    ..*interval
                };
                format!("{} %", with_interval(times * cv, &interval))
            }
            None => format!("{} %", figure(times * cv)),
        };
        table.row([
            "Coefficient of variation".to_owned(),
            in_per_cent(1.0),
            "of readings of one thing, in per cent of their mean".to_owned(),
        ]);
        table.row([
            "Least significant change".to_owned(),
            in_per_cent(stretch),
            "two readings differ by less in 95 of 100 pairs; less is no change".to_owned(),
        ]);
    }
    let slices: Vec<&[f64]> = readings.values.iter().map(Vec::as_slice).collect();
    let forms = [
        (IccForm::AbsoluteAgreement, "ICC(2,1)", "absolute agreement"),
        (
            IccForm::Consistency,
            "ICC(3,1)",
            "consistency: a constant shift does not count",
        ),
    ];
    for (form, name, says) in forms.into_iter().filter(|_| !analysis.briefly) {
        let found = icc(&slices, form, level).map_err(&refused)?;
        table.row([
            name.to_owned(),
            with_interval(found.value, &found.interval),
            says.to_owned(),
        ]);
        answer.warn(&found.warnings);
    }
    answer.warn(&found.warnings);
    answer.tables.push(table);
    match (&patients, repeating) {
        (None, _) => answer.caution(
            "Every row counts as a patient of its own: where patients repeat, the intervals are too narrow. Say who is who, such as `by patient`.",
        ),
        (_, Some(_)) => {
            answer.note(format!(
                "Intervals of the standard deviation and the coefficient: bootstrap, {RESAMPLES} resamples, seed {SEED}, whole patients drawn."
            ));
            answer.caution("The intervals of the ICC take rows as independent, although patients repeat.");
        }
        (Some(_), None) => {}
    }
    answer.note(
        "An ICC depends on how much the patients differ; the repeatability coefficient does not.",
    );
    answer.output(rendering, analysis)
}
