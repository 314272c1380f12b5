//! `show gray_zone`: where an index neither rules a response in nor out.

use crate::charts::{Axis, GrayZonePlot, Point, Zone};
use crate::formula::notation::{Analysis, Diagnostic};
use crate::notebook::render::{Rendered, Rendering};
use crate::sheet::{figure, figure_as_given};
use crate::statistics::roc::{Direction, RocSample, ThresholdRule, threshold_interval};
use crate::statistics::{Clusters, GrayZone, GrayZoneDemand, StatisticsError, gray_zone};

use super::beside::tell_coupling;
use super::outcome::{Classes, Index, accounting};
use super::page::{
    Answer, Drawing, Table, counted, level_words, percent, refused, share, size, undrawn,
};
use super::settings::bare_number;
use super::{RESAMPLES, SEED, bootstrap, level};

/// What both ends have to reach where the statement does not say (common practice).
const USUAL: f64 = 0.9;

pub(super) fn answer(rendering: &Rendering<'_>, analysis: &Analysis) -> Rendered {
    let classes = Classes::of(rendering, analysis)?;
    let [index] = &classes.indexes[..] else {
        return Err(rendering.error("a gray zone is that of one index: ask for each by itself"));
    };
    let level = level(rendering);
    let demand = demand(rendering, analysis)?;
    let sample = classes.sample(index)?;
    let mut answer = Answer::default();
    answer.define(classes.definition.clone());
    answer.define(accounting(&classes.rows, &classes.left_out));
    let headings = [
        "Approach",
        "Ruled out",
        "Ruled in",
        "Neither: rows in the zone",
        "Patients with a row in it",
    ];
    let patients = Patients::of(&classes, index);
    let headings = &headings[..if patients.repeating().is_some() { 5 } else { 4 }];
    let mut table = Table::new(format!("Gray zone of {}", index.column.said()), headings);
    let by_accuracy = GrayZoneDemand::Accuracy {
        sensitivity: demand,
        specificity: demand,
    };
    let words = format!("sensitivity and specificity of {}", percent(demand));
    let zone = approach(
        rendering,
        &sample,
        index,
        (&words, by_accuracy),
        &patients,
        &mut table,
        &mut answer,
    )?;
    let before = sample.positives() as f64 / (sample.positives() + sample.negatives()) as f64;
    let (low, high) = (1.0 - demand, demand);
    if low < before && before < high {
        let demand = GrayZoneDemand::PostTest {
            before,
            ruled_out: low,
            ruled_in: high,
        };
        let words = format!(
            "probability from {} before the test to {} or {}",
            percent(before),
            percent(low),
            percent(high)
        );
        approach(
            rendering,
            &sample,
            index,
            (&words, demand),
            &patients,
            &mut table,
            &mut answer,
        )?;
    } else {
        let why = format!(
            "the probability before the test, {}, already meets the demand",
            percent(before)
        );
        table.row(["probability after the test".to_owned(), why]);
    }
    by_bootstrap(
        rendering,
        (&classes, &patients),
        &sample,
        index,
        &mut table,
        &mut answer,
    )?;
    answer.tables.push(table);
    answer.note("The two published approaches are those of Coste & Pouchot 2003 Int J Epidemiol 32:304-13; some papers call the bootstrap interval of the threshold a gray zone too.");
    answer.note(format!(
        "Bootstrap: {RESAMPLES} resamples, seed {SEED}, intervals of {}.",
        level_words(level)
    ));
    tell_coupling(analysis, &classes, &mut answer);
    answer.drawing = Some(draw(
        rendering,
        analysis,
        (index, &patients),
        &sample,
        demand,
        zone,
    )?);
    answer.output(rendering, analysis)
}

/// Whose the rows are, with the index in each.
struct Patients<'c> {
    /// Nothing where the statement does not say who is who.
    of: Option<&'c Clusters>,
    scores: Vec<f64>,
}

impl<'c> Patients<'c> {
    fn of(classes: &'c Classes<'_>, index: &Index) -> Patients<'c> {
        Patients {
            of: classes.patients.as_ref(),
            scores: classes.scores(index),
        }
    }

    fn repeating(&self) -> Option<&'c Clusters> {
        self.of.filter(|patients| patients.repeat())
    }

    /// What a share of the rows is a share of.
    fn counted(&self) -> &'static str {
        match self.of.is_some() && self.repeating().is_none() {
            true => "patients",
            false => "rows",
        }
    }

    /// How many have a row with a score in a zone, where they repeat.
    fn with_a_row(&self, is_inside: impl Fn(f64) -> bool) -> String {
        let Some(patients) = self.repeating() else {
            return String::new();
        };
        let has_one = |patient: &usize| {
            let mut rows = patients.members(*patient).iter();
            rows.any(|row| is_inside(self.scores[*row as usize]))
        };
        let count = patients.count();
        let inside = (0..count).filter(has_one).count();
        let share = percent(inside as f64 / count as f64);
        format!(
            "{share} ({inside} of {})",
            counted(count, "patient", "patients")
        )
    }
}

fn demand(rendering: &Rendering<'_>, analysis: &Analysis) -> Result<f64, Vec<Diagnostic>> {
    let Some(reading) = analysis.amount("demanding") else {
        return Ok(USUAL);
    };
    bare_number(reading)
        .filter(|share| *share > 0.5 && *share < 1.0)
        .ok_or_else(|| {
            rendering.error("what is demanded lies between 50 and 100 %, such as `demanding 90 %`")
        })
}

/// A zone by one of the published ways; a demand that cannot be met is said in the table.
fn approach(
    rendering: &Rendering<'_>,
    sample: &RocSample,
    index: &Index,
    (words, demand): (&str, GrayZoneDemand),
    patients: &Patients<'_>,
    table: &mut Table,
    answer: &mut Answer,
) -> Result<Option<GrayZone>, Vec<Diagnostic>> {
    match gray_zone(sample, demand, level(rendering)) {
        Ok(zone) => {
            table.row([
                words.to_owned(),
                short_of(index, zone.ruling_out),
                index.beyond(&figure_as_given(zone.ruling_in)),
                share(&zone.inside),
                patients.with_a_row(|score| zone.contains(score)),
            ]);
            answer.warn(&zone.warnings);
            Ok(Some(zone))
        }
        Err(StatisticsError::Unreachable {
            what,
            demanded,
            best,
        }) => {
            table.row([words.to_owned(), "not reached".to_owned()]);
            answer.caution(format!(
                "No threshold reaches {what} {}; the best is {}: demand less, or there is no zone by this approach.",
                figure(demanded),
                figure(best)
            ));
            Ok(None)
        }
        Err(error) => Err(refused(rendering)(error)),
    }
}

fn short_of(index: &Index, threshold: f64) -> String {
    let sign = match index.direction {
        Direction::HigherIsPositive => "<",
        Direction::LowerIsPositive => ">",
    };
    format!(
        "{sign} {}",
        index.column.with_unit(&figure_as_given(threshold))
    )
}

fn by_bootstrap(
    rendering: &Rendering<'_>,
    (classes, patients): (&Classes<'_>, &Patients<'_>),
    sample: &RocSample,
    index: &Index,
    table: &mut Table,
    answer: &mut Answer,
) -> Result<(), Vec<Diagnostic>> {
    let level = level(rendering);
    let rule = ThresholdRule::MaximalYouden;
    let of = classes.patients.as_ref();
    let found =
        threshold_interval(sample, rule, of, level, &bootstrap()).map_err(refused(rendering))?;
    let interval = &found.bootstrap.interval;
    let (out, within) = match index.direction {
        Direction::HigherIsPositive => (interval.lower, interval.upper),
        Direction::LowerIsPositive => (interval.upper, interval.lower),
    };
    table.row([
        format!(
            "bootstrap interval of the threshold {}",
            index.beyond(&figure_as_given(found.chosen.threshold))
        ),
        short_of(index, out),
        index
            .beyond(&figure_as_given(within))
            .replace('≥', ">")
            .replace('≤', "<"),
        share(&found.inside),
        patients.with_a_row(|score| score >= interval.lower && score <= interval.upper),
    ]);
    answer.warn(&found.warnings);
    Ok(())
}

fn draw(
    rendering: &Rendering<'_>,
    analysis: &Analysis,
    (index, patients): (&Index, &Patients<'_>),
    sample: &RocSample,
    demand: f64,
    zone: Option<GrayZone>,
) -> Result<Drawing, Vec<Diagnostic>> {
    let curve = sample.curve();
    let over = |f: fn(&crate::statistics::roc::RocPoint) -> f64| -> Vec<Point> {
        let points = curve.iter().filter_map(|p| {
            Some(Point {
                x: p.threshold?,
                y: f(p),
            })
        });
        let mut points: Vec<Point> = points.collect();
        points.sort_by(|a, b| a.x.total_cmp(&b.x));
        points
    };
    let chart = GrayZonePlot {
        title: match &analysis.title {
            Some(title) => title.clone(),
            None => format!("Where {} does not decide", index.column.said()),
        },
        key: rendering.id.clone(),
        x: Axis::new(index.column.label.clone(), index.column.unit.pretty()),
        sensitivity: over(|p| p.sensitivity),
        specificity: over(|p| p.specificity),
        demand: Some(demand),
        zone: zone.filter(|zone| zone.inside.count > 0).map(|zone| Zone {
            low: zone.ruling_out.min(zone.ruling_in),
            high: zone.ruling_out.max(zone.ruling_in),
            inside: zone.inside.value,
            of: patients.counted(),
        }),
        threshold: None,
    };
    Ok(Drawing {
        svg: chart
            .svg(size(rendering, 720, 440)?)
            .map_err(undrawn(rendering))?,
        description: chart.description(),
    })
}
