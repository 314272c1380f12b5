//! `show dose_response`: a change against the dose that clinicians chose.

mod groups;

use crate::charts::{Axis, BandPoint, DoseResponse, Fit, GroupMedian, Reference, Series};
use crate::formula::notation::{Analysis, Diagnostic};
use crate::notebook::coupled::Drawn;
use crate::notebook::render::{Rendered, Rendering};
use crate::notebook::words::sentence;
use crate::sheet::{figure, figure_as_given, join_unit};
use crate::statistics::response::{
    Baseline, Line, MedianInterval, Saturation, fit_line, fit_line_clustered, fit_saturation,
    lowess, median_interval,
};
use crate::statistics::{Clusters, Interval, StatisticsError, Warning, quantiles};

use self::groups::DoseGroup;
use super::beside::two_things;
use super::estimates::{ALTHOUGH_IT_CANCELS, is_change};
use super::outcome::{WHO_IS_WHO, accounting, clusters, clusters_among, rows_come_from};
use super::page::{
    Answer, Drawing, OF_ONE_PATIENT, Table, counted, level_words, p_value, refused, size, span,
    undrawn, with_interval,
};
use super::rows::{Column, Rows};
use super::{RESAMPLES, SEED, bootstrap, level};

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
    let medians = medians(rendering, &doses, patients.as_ref(), level, &mut answer)?;
    answer
        .tables
        .insert(0, courses(&doses, &line, saturation.as_ref(), level));
    answer.warn_of("straight line", &line.warnings);
    cautions(analysis, repeating, saturation.is_some(), &mut answer);
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
    medians: Vec<GroupOfDoses>,
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
        rows.check_varies(&dose)?;
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
            answer.warn_of("saturating curve", &found.warnings);
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

/// The median response of a group of doses.
struct GroupOfDoses {
    group: DoseGroup,
    median: f64,
    /// Nothing for a single row, or rows of a single patient.
    interval: Option<Interval>,
}

fn medians(
    rendering: &Rendering<'_>,
    doses: &Doses<'_>,
    patients: Option<&Clusters>,
    level: f64,
    answer: &mut Answer,
) -> Result<Vec<GroupOfDoses>, Vec<Diagnostic>> {
    let groups = groups::groups(&doses.x);
    let interval = format!("{} bootstrap interval", level_words(level));
    let label = match groups.iter().all(DoseGroup::is_one) {
        true => "Medians at each dose",
        false => "Medians of groups of doses",
    };
    let mut table = Table::new(label, &["Dose", "Rows", "Median", &interval]);
    let mut found = Vec::new();
    let mut few = Vec::new();
    for group in groups {
        let values: Vec<f64> = group.members.iter().map(|at| doses.y[*at]).collect();
        let patients = patients.map(|all| clusters_among(rendering, all, &group.members));
        let patients = patients.transpose()?;
        let units = patients.as_ref().map_or(values.len(), Clusters::count);
        let words = group.words(&doses.dose);
        let (median, interval) = match units > 1 {
            true => {
                let one = median_interval(&values, patients.as_ref(), level, &bootstrap())
                    .map_err(refused(rendering))?;
                few.extend(few_of(&one, &words));
                (one.median, Some(one.bootstrap.interval))
            }
            false => {
                let median = quantiles(&values, &[0.5]).map_err(refused(rendering))?;
                let Some(median) = median.first() else {
                    continue;
                };
                (*median, None)
            }
        };
        table.row([
            words,
            values.len().to_string(),
            doses.response.with_unit(&figure(median)),
            match &interval {
                Some(interval) => doses.response.with_unit(&span(interval)),
                None if values.len() > 1 => OF_ONE_PATIENT.to_owned(),
                None => "one row: none".to_owned(),
            },
        ]);
        found.push(GroupOfDoses {
            group,
            median,
            interval,
        });
    }
    answer.tables.push(table);
    if let Some((what, _)) = few.first() {
        let at: Vec<&str> = few.iter().map(|(_, at)| at.as_str()).collect();
        answer.caution(format!(
            "Fewer than {what} at a dose, so that the interval of its median is a rough guide: {}.",
            at.join(", ")
        ));
    }
    answer.note(format!("Bootstrap: {RESAMPLES} resamples, seed {SEED}."));
    Ok(found)
}

/// `30 patients`, and `500 mL (17)` with fewer; that patients repeat is said once for all doses.
fn few_of(median: &MedianInterval, words: &str) -> Option<(String, String)> {
    median.warnings.iter().find_map(|warning| match warning {
        Warning::FewObservations {
            what,
            found,
            advised,
        } => Some((format!("{advised} {what}"), format!("{words} ({found})"))),
        _ => None,
    })
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

fn cautions(
    analysis: &Analysis,
    repeating: Option<&Clusters>,
    is_curved: bool,
    answer: &mut Answer,
) {
    answer.caution("This is an association and not an effect of the dose: clinicians choose the volume, and whoever responded is given more.");
    match (&analysis.by, repeating) {
        (None, _) => answer.caution(WHO_IS_WHO),
        (_, Some(patients)) => answer.caution(format!(
            "{}: the line's intervals are widened for it by cluster-robust errors, those of medians draw whole patients{}.",
            rows_come_from(patients),
            match is_curved {
                true => "; those of the curve take rows as independent and are too narrow",
                false => "",
            }
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
    let median = |one: &GroupOfDoses| {
        let interval = one.interval?;
        Some(GroupMedian {
            x: one.group.dose,
            value: one.median,
            low: interval.lower,
            high: interval.upper,
        })
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
        medians: medians.iter().filter_map(median).collect(),
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
    fn slopes_are_told_for_a_step_within_the_range() {
        assert_eq!((step(900.0), step(15.8), step(0.4)), (100.0, 1.0, 0.1));
    }
}
