//! `show dose_response`: a change against the dose that clinicians chose.

use crate::charts::{Axis, BandPoint, DoseResponse, Fit, GroupMedian, Reference, Series};
use crate::formula::notation::{Analysis, Diagnostic};
use crate::notebook::coupled::Drawn;
use crate::notebook::render::{Rendered, Rendering};
use crate::notebook::words::sentence;
use crate::sheet::{figure, figure_as_given, join_unit};
use crate::statistics::response::{
    Baseline, DoseMedians, Line, Saturation, fit_line, fit_line_clustered, fit_saturation, lowess,
    medians_by_dose,
};
use crate::statistics::{Clusters, StatisticsError, Warning};

use super::beside::two_things;
use super::estimates::{ALTHOUGH_IT_CANCELS, is_change};
use super::outcome::{accounting, cluster_names, clusters};
use super::page::{
    Answer, Drawing, Table, counted, level_words, p_value, refused, size, span, undrawn,
    with_interval,
};
use super::rows::{Column, Rows};
use super::{RESAMPLES, SEED, bootstrap, level};

/// Most distinct doses whose medians are told one by one; more make groups of about equal size.
const MOST_DOSES: usize = 8;
/// Groups where doses are too many.
const GROUPS: usize = 5;
/// Fraction and rounds of LOWESS (Cleveland 1979, usual choices).
const FRACTION: f64 = 2.0 / 3.0;
const ROUNDS: usize = 3;
/// An interval of a dose whose ends are so many times apart says nothing of it.
const UNDETERMINED: f64 = 1000.0;
/// Points along a drawn course.
const STEPS: usize = 60;

/// Doses with their responses.
struct Doses<'r> {
    rows: Rows<'r>,
    dose: Column,
    response: Column,
    x: Vec<f64>,
    y: Vec<f64>,
    /// Whether changes were left out in which an estimate may cancel.
    cancels: bool,
}

pub(super) fn answer(rendering: &Rendering<'_>, analysis: &Analysis) -> Rendered {
    let doses = Doses::of(rendering, analysis)?;
    let level = level(rendering);
    let refused = refused(rendering);
    let mut answer = Answer::default();
    answer.define(format!(
        "{} against {}, {}{}.",
        doses.response.label,
        doses.dose.said(),
        counted(doses.x.len(), "row", "rows"),
        doses.rows.all_in_words(" where ", &analysis.conditions)
    ));
    answer.define(accounting(&doses.rows, &[]));
    if doses.cancels {
        answer.define(ALTHOUGH_IT_CANCELS);
    }
    let patients = clusters(&doses.rows, analysis)?;
    let repeating = patients.as_ref().filter(|p| p.repeat());
    let line = match repeating {
        Some(patients) => fit_line_clustered(&doses.x, &doses.y, patients, level),
        None => fit_line(&doses.x, &doses.y, level),
    };
    let line = line.map_err(&refused)?;
    let smooth = lowess(&doses.x, &doses.y, FRACTION, ROUNDS).map_err(&refused)?;
    let saturation = saturation(rendering, &doses, level, &mut answer)?;
    let medians = medians(rendering, analysis, &doses, level, &mut answer)?;
    answer
        .tables
        .insert(0, courses(&doses, &line, saturation.as_ref(), level));
    answer.warn(&line.warnings);
    cautions(analysis, repeating, &mut answer);
    answer.cautions.extend(rough_doses(&doses));
    if let ([subject], Some(dose)) = (&analysis.of[..], &analysis.dose) {
        let names = [&subject.name, dose];
        let coupling = doses.rows.coupling(names, Drawn::against, &doses.dose);
        answer.notes.extend(coupling.map(|told| told.text));
    }
    answer.drawing = Some(draw(
        rendering,
        analysis,
        &doses,
        Courses {
            line,
            smooth,
            saturation,
            medians,
        },
    )?);
    answer.output(rendering, analysis)
}

/// What is drawn over the points.
struct Courses {
    line: Line,
    smooth: Vec<f64>,
    saturation: Option<Saturation>,
    medians: Option<DoseMedians>,
}

impl<'r> Doses<'r> {
    fn of(
        rendering: &'r Rendering<'r>,
        analysis: &'r Analysis,
    ) -> Result<Doses<'r>, Vec<Diagnostic>> {
        let ([subject], Some(dose)) = (&analysis.of[..], &analysis.dose) else {
            return Err(
                rendering.error("one change is drawn against one dose: ask for each by itself")
            );
        };
        two_things(&subject.name, dose, "the dose and the response")?;
        let mut rows = Rows::of(rendering, analysis)?;
        let response = rows.numbers(&subject.name)?;
        let dose = rows.numbers(dose)?;
        let cancels = rows.rough(&response) > 0 && is_change(&subject.name);
        rows.keep_read(&response)?;
        rows.keep_known(&dose);
        Ok(Doses {
            cancels,
            x: rows.values_of(&dose),
            y: rows.values_of(&response),
            rows,
            dose,
            response,
        })
    }
}

/// The saturating curve, or why there is none.
fn saturation(
    rendering: &Rendering<'_>,
    doses: &Doses<'_>,
    level: f64,
    answer: &mut Answer,
) -> Result<Option<Saturation>, Vec<Diagnostic>> {
    match fit_saturation(&doses.x, &doses.y, Baseline::Zero, level) {
        Ok(found) => {
            answer.warn(&found.warnings);
            Ok(Some(found))
        }
        Err(
            error @ (StatisticsError::NotConverged { .. }
            | StatisticsError::NoVariation { .. }
            | StatisticsError::OutOfDomain { .. }),
        ) => {
            answer.note(format!(
                "No saturating curve: {}",
                sentence(&error.to_string())
            ));
            Ok(None)
        }
        Err(error) => Err(refused(rendering)(error)),
    }
}

fn courses(doses: &Doses<'_>, line: &Line, saturation: Option<&Saturation>, level: f64) -> Table {
    let interval = format!("With {} interval", level_words(level));
    let mut table = Table::new(
        "Association with the dose",
        &["Course", "What", &interval, ""],
    );
    let per = match doses.dose.unit.pretty() {
        "" => "step of one".to_owned(),
        unit => unit.to_owned(),
    };
    // A slope for one mL would be a row of zeros.
    let step = step(line.largest_x - line.smallest_x);
    let slope = &line.slope;
    table.row([
        "straight line".to_owned(),
        format!(
            "{} for each {} {per}",
            doses.response.with_unit(""),
            figure_as_given(step)
        )
        .trim()
        .to_owned(),
        format!(
            "{} ({} to {})",
            figure(slope.value * step),
            figure(slope.interval.lower * step),
            figure(slope.interval.upper * step)
        ),
        slope.p_value.map_or(String::new(), p_value),
    ]);
    if let Some(found) = saturation {
        let rise = &found.rise;
        table.row([
            "saturating curve".to_owned(),
            "largest rise".to_owned(),
            doses
                .response
                .with_unit(&with_interval(rise.value, &rise.interval)),
            String::new(),
        ]);
        let half = &found.half_dose;
        let interval = &half.interval;
        let (value, says) = match interval.upper > UNDETERMINED * interval.lower {
            true => (
                "not determined".to_owned(),
                format!("these rows allow {}", doses.dose.with_unit(&span(interval))),
            ),
            false => (
                doses.dose.with_unit(&with_interval(half.value, interval)),
                String::new(),
            ),
        };
        table.row([
            "saturating curve".to_owned(),
            "dose of half the rise".to_owned(),
            value,
            says,
        ]);
    }
    table
}

/// The power of ten that a range holds several of.
fn step(range: f64) -> f64 {
    libm::pow(10.0, (range / 2.0).log10().floor())
}

fn medians(
    rendering: &Rendering<'_>,
    analysis: &Analysis,
    doses: &Doses<'_>,
    level: f64,
    answer: &mut Answer,
) -> Result<Option<DoseMedians>, Vec<Diagnostic>> {
    let grouped = in_groups(&doses.x);
    let patients = match &analysis.by {
        Some(by) => Some(cluster_names(&doses.rows, by)?),
        None => None,
    };
    let found = medians_by_dose(&grouped, &doses.y, patients.as_deref(), level, &bootstrap());
    let found = match found {
        Ok(found) => found,
        Err(error @ StatisticsError::TooFew { .. }) => {
            answer.note(format!(
                "No medians by dose: {}",
                sentence(&error.to_string())
            ));
            return Ok(None);
        }
        Err(error) => return Err(refused(rendering)(error)),
    };
    let interval = format!("{} bootstrap interval", level_words(level));
    let label = match grouped == doses.x {
        true => "Medians at each dose",
        false => "Medians of groups of doses, each at its median dose",
    };
    let mut table = Table::new(label, &["Dose", "Rows", "Median", &interval]);
    for one in &found.doses {
        table.row([
            doses.dose.with_unit(&figure_as_given(one.dose)),
            one.response.count.to_string(),
            doses.response.with_unit(&figure(one.response.median)),
            doses
                .response
                .with_unit(&span(&one.response.bootstrap.interval)),
        ]);
        // That patients repeat is said once for all doses.
        let own = one.response.warnings.iter();
        let own = own.filter(|w| !matches!(w, Warning::Repeated { .. }));
        answer.warn(&own.cloned().collect::<Vec<_>>());
    }
    answer.tables.push(table);
    answer.note(format!("Bootstrap: {RESAMPLES} resamples, seed {SEED}."));
    Ok(Some(found))
}

/// The doses themselves, or the median of the group that each belongs to.
fn in_groups(x: &[f64]) -> Vec<f64> {
    let mut sorted = x.to_vec();
    sorted.sort_unstable_by(f64::total_cmp);
    let mut distinct = sorted.clone();
    distinct.dedup();
    let alone = distinct
        .iter()
        .any(|d| x.iter().filter(|v| *v == d).count() < 2);
    if distinct.len() <= MOST_DOSES && !alone {
        return x.to_vec();
    }
    let end = |group: usize| sorted[(group * sorted.len() / GROUPS).min(sorted.len() - 1)];
    let ends: Vec<f64> = (1..GROUPS).map(end).collect();
    let group_of = |value: f64| ends.iter().filter(|end| value >= **end).count();
    let middle = |group: usize| {
        let inside: Vec<f64> = sorted
            .iter()
            .copied()
            .filter(|v| group_of(*v) == group)
            .collect();
        inside.get(inside.len() / 2).copied().unwrap_or_default()
    };
    let middles: Vec<f64> = (0..GROUPS).map(middle).collect();
    x.iter().map(|value| middles[group_of(*value)]).collect()
}

/// Doses for each kg may rest on a weight that nobody measured; the response decides which rows are left out.
fn rough_doses(doses: &Doses<'_>) -> Option<String> {
    let rows = doses.rows.kept.iter();
    let rough = rows.filter(|row| doses.dose.is_rough(**row)).count();
    (rough > 0).then(|| {
        format!(
            "{} on an estimated or assumed reading.",
            counted(rough, "of the doses rests", "of the doses rest")
        )
    })
}

fn cautions(analysis: &Analysis, repeating: Option<&Clusters>, answer: &mut Answer) {
    answer.caution("This is an association and not an effect of the dose: clinicians choose the volume, and whoever responded is given more.");
    match (&analysis.by, repeating) {
        (None, _) => answer.caution(
            "Every row counts as a patient of its own; say who is who, such as `by patient`.",
        ),
        (_, Some(patients)) => answer.caution(format!(
            "{} rows come from {} patients: the line's intervals are widened for it by cluster-robust errors, those of medians draw whole patients; \
             those of the curve take rows as independent and are too narrow.",
            patients.observations(),
            patients.count()
        )),
        (Some(_), None) => {}
    }
}

fn draw(
    rendering: &Rendering<'_>,
    analysis: &Analysis,
    doses: &Doses<'_>,
    courses: Courses,
) -> Result<Drawing, Vec<Diagnostic>> {
    let Courses {
        line,
        smooth,
        saturation,
        medians,
    } = courses;
    let at =
        |i: usize| line.smallest_x + i as f64 / STEPS as f64 * (line.largest_x - line.smallest_x);
    let found: Vec<_> = (0..=STEPS).filter_map(|i| line.at(at(i)).ok()).collect();
    let level = level_words(level(rendering));
    let mut smooth: Vec<(f64, f64)> = doses.x.iter().copied().zip(smooth).collect();
    smooth.sort_by(|a, b| a.0.total_cmp(&b.0));
    smooth.dedup_by(|a, b| a.0 == b.0);
    let saturating = saturation.map(|curve| {
        let points = (0..=STEPS).filter_map(|i| Some((at(i), curve.at(at(i)).ok()?)));
        Series::new("saturating curve", points.collect::<Vec<_>>())
    });
    let mut references = Vec::new();
    for mark in &analysis.at {
        if let [subject] = &analysis.of[..] {
            let value = doses.rows.in_unit(&doses.response, &subject.name, mark)?;
            references.push(Reference::horizontal(
                value,
                join_unit(&figure_as_given(value), doses.response.unit),
            ));
        }
    }
    let median = |one: &crate::statistics::response::DoseMedian| GroupMedian {
        x: one.dose,
        value: one.response.median,
        low: one.response.bootstrap.interval.lower,
        high: one.response.bootstrap.interval.upper,
    };
    let chart = DoseResponse {
        title: match &analysis.title {
            Some(title) => title.clone(),
            None => format!("{} against {}", doses.response.label, doses.dose.said()),
        },
        key: rendering.id.clone(),
        x: Axis::new(doses.dose.label.clone(), doses.dose.unit.pretty()),
        y: Axis::new(doses.response.label.clone(), doses.response.unit.pretty()),
        points: Series::new(
            "one row",
            doses.x.iter().copied().zip(doses.y.iter().copied()),
        ),
        line: Some(Fit {
            line: Series::new("straight line", found.iter().map(|p| (p.x, p.value))),
            band_name: format!("{level} interval of the mean"),
            band: found
                .iter()
                .map(|p| BandPoint {
                    x: p.x,
                    low: p.mean_interval.lower,
                    high: p.mean_interval.upper,
                })
                .collect(),
        }),
        smooth: Some(Series::new("LOWESS", smooth)),
        saturating,
        medians: medians.map_or_else(Vec::new, |m| m.doses.iter().map(median).collect()),
        medians_name: format!("median with {level} interval"),
        references,
    };
    Ok(Drawing {
        svg: chart
            .svg(size(rendering, 720, 460)?)
            .map_err(undrawn(rendering))?,
        description: chart.description(),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn few_doses_stay_and_many_make_groups_with_their_median() {
        let few = [250.0, 250.0, 500.0, 500.0];
        assert_eq!(in_groups(&few), few);
        let many: Vec<f64> = (0..50).map(f64::from).collect();
        let grouped = in_groups(&many);
        assert_eq!((grouped[0], grouped[9], grouped[10]), (5.0, 5.0, 15.0));
        let mut distinct = grouped.clone();
        distinct.dedup();
        assert_eq!(distinct.len(), 5);
    }

    #[test]
    fn slopes_are_told_for_a_step_within_the_range() {
        assert_eq!((step(900.0), step(15.8), step(0.4)), (100.0, 1.0, 0.1));
    }
}
