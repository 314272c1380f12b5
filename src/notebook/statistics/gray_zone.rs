//! `show gray_zone`: where an index neither rules a response in nor out.

use crate::charts::Axis;
use crate::charts::{GrayZonePlot, Point, Zone};
use crate::formula::notation::{Analysis, Diagnostic};
use crate::notebook::render::{Rendered, Rendering};
use crate::quantity::{Content, Unit};
use crate::sheet::{figure, figure_as_given};
use crate::statistics::roc::{Direction, RocSample, ThresholdRule, threshold_interval};
use crate::statistics::{GrayZone, GrayZoneDemand, StatisticsError, gray_zone};

use super::beside::tell_coupling;
use super::outcome::{Classes, Index, accounting};
use super::page::{Answer, Drawing, Table, level_words, percent, refused, share, size, undrawn};
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
    ];
    let mut table = Table::new(format!("Gray zone of {}", index.column.said()), &headings);
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
    by_bootstrap(rendering, &classes, &sample, index, &mut table, &mut answer)?;
    answer.tables.push(table);
    answer.note("The two published approaches are those of Coste & Pouchot 2003 Int J Epidemiol 32:304-13; some papers call the bootstrap interval of the threshold a gray zone too.");
    answer.note(format!(
        "Bootstrap: {RESAMPLES} resamples, seed {SEED}, intervals of {}.",
        level_words(level)
    ));
    tell_coupling(analysis, &classes, &mut answer);
    answer.drawing = Some(draw(rendering, analysis, index, &sample, demand, zone)?);
    answer.output(rendering, analysis)
}

fn demand(rendering: &Rendering<'_>, analysis: &Analysis) -> Result<f64, Vec<Diagnostic>> {
    let Some(reading) = analysis.amount("demanding") else {
        return Ok(USUAL);
    };
    let share = match *reading.content() {
        Content::Magnitude { value, unit } => unit.convert(value, Unit::ONE),
        _ => None,
    };
    share
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
    classes: &Classes<'_>,
    sample: &RocSample,
    index: &Index,
    table: &mut Table,
    answer: &mut Answer,
) -> Result<(), Vec<Diagnostic>> {
    let level = level(rendering);
    let patients = classes.patients.as_ref();
    let rule = ThresholdRule::MaximalYouden;
    let found = threshold_interval(sample, rule, patients, level, &bootstrap())
        .map_err(refused(rendering))?;
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
    ]);
    answer.warn(&found.warnings);
    Ok(())
}

fn draw(
    rendering: &Rendering<'_>,
    analysis: &Analysis,
    index: &Index,
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
    let zone = zone.map(|zone| {
        (
            zone.ruling_out.min(zone.ruling_in),
            zone.ruling_out.max(zone.ruling_in),
            zone,
        )
    });
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
        zone: zone
            .filter(|(.., zone)| zone.inside.count > 0)
            .map(|(low, high, zone)| Zone {
                low,
                high,
                inside: zone.inside.value,
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
