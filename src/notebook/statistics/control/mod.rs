//! `show individuals`, `show ewma`, `show cusum`: single values in order of time.

mod cusum;
mod ewma;
mod in_time;
mod whose;

use std::cmp::Ordering;

use crate::charts::{Axis, ControlChart, ControlKind, ControlPoint, ControlScale};
use crate::formula::notation::{Analysis, Diagnostic, Question};
use crate::notebook::render::{Rendered, Rendering};
use crate::sheet::{figure, figure_as_given};
use crate::statistics::Warning;
use crate::statistics::quality::{Individuals, RunRule, RunSignal, individuals, run_rules};

use super::outcome::accounting;
use super::page::{Answer, Drawing, Table, counted, refused, size, undrawn};
use super::rows::spaced;
use cusum::{Sums, each, sums};
use ewma::{Average, moving_average};
use in_time::InTime;
use whose::Who;

pub(super) use in_time::{Series, baseline};

/// The rules looked for beside three standard deviations; each adds false alarms.
const RULES: [RunRule; 4] = [
    RunRule::OneBeyondThree,
    RunRule::NineOnOneSide,
    RunRule::SixRisingOrFalling,
    RunRule::TwoOfThreeBeyondTwo,
];
/// Most signals told one by one.
const MOST_TOLD: usize = 12;

/// A point that stands out: where, and why.
struct Signal {
    at: usize,
    why: String,
}

pub(super) fn answer(rendering: &Rendering<'_>, analysis: &Analysis) -> Rendered {
    let in_time = InTime::of(rendering, analysis)?;
    let found = individuals(&in_time.values, in_time.baseline)
        .map_err(|error| in_time.refused(analysis, error))?;
    let mut answer = Answer::default();
    answer.define(format!(
        "{} in order of {}, {}{}{}; center and spread from {}.",
        in_time.column.label,
        in_time.time.said(),
        counted(in_time.values.len(), "value", "values"),
        match (in_time.who, &analysis.by) {
            (Who::Patients, Some(by)) => format!(", the first of each {}", spaced(&by.text)),
            _ => String::new(),
        },
        in_time.rows.all_in_words(" where ", &analysis.conditions),
        match in_time.baseline {
            Some(count) => format!("the first {count}"),
            None => "all of them".to_owned(),
        }
    ));
    answer.define(accounting(&in_time.rows, &[]));
    // Run rules look more often, and say so themselves.
    let own = found.warnings.iter();
    answer.warn(own.filter(|w| !matches!(w, Warning::ManyLooks { .. })));
    let mut table = Table::new("Center and limits", &["Measure", "Value", ""]);
    let with = |value: f64| in_time.column.with_unit(&figure(value));
    table.row(["Center".to_owned(), with(found.limits.center)]);
    table.row([
        "Standard deviation".to_owned(),
        with(found.sigma),
        "mean moving range / 1.128".to_owned(),
    ]);
    let charted = match analysis.question {
        Question::Ewma => {
            let set = Average::of(rendering, analysis)?;
            moving_average(rendering, &in_time, &found, &set, &mut table, &mut answer)?
        }
        Question::Cusum => {
            let set = Sums::of(rendering, analysis)?;
            sums(rendering, &in_time, &found, &set, &mut table)?
        }
        _ => single(rendering, &in_time, &found, &mut table, &mut answer)?,
    };
    answer.tables.push(table);
    if let Some(told) = told(&in_time, &charted) {
        answer.tables.push(told);
    }
    if let (Some(by), Who::Operators) = (&analysis.by, in_time.who) {
        let set = Sums::of(rendering, analysis)?;
        answer.tables.push(each(&in_time, by, &set)?);
    }
    if let Some(words) = &in_time.whose_words {
        answer.note(words.clone());
    }
    if in_time.baseline.is_none() {
        answer.note("Limits from all values hide a lasting change within them; a stretch known to be steady makes better ones: `baseline 40`.");
    }
    if let Some(words) = in_time.time.unreadable() {
        answer.note(words);
    }
    match in_time.who {
        Who::Patients => answer.note(
            "One value a patient, the first in time: values of one patient are alike, and the standard deviation from each value and the next would be too small. A mean of several values scatters less than one value, and the limits are those of single ones.",
        ),
        Who::Unsaid | Who::Operators => answer.caution("The standard deviation comes from each value and the next in time: where those are exams of one patient it is too small for what differs between patients, and signals come too often. Chart the first row of each, `by patient`, or what a second reading differs from the first."),
    }
    answer.note("A signal is a reason to look, not proof of a fault; patients change too.");
    answer.drawing = Some(draw(rendering, analysis, &in_time, charted)?);
    answer.output(rendering, analysis)
}

/// What a chart of one kind shows.
struct Charted {
    kind: ControlKind,
    center: f64,
    points: Vec<ControlPoint>,
    signals: Vec<Signal>,
}

fn single(
    rendering: &Rendering<'_>,
    in_time: &InTime<'_>,
    found: &Individuals,
    table: &mut Table,
    answer: &mut Answer,
) -> Result<Charted, Vec<Diagnostic>> {
    let limits = found.limits;
    let with = |value: f64| in_time.column.with_unit(&figure(value));
    table.row([
        "Limits".to_owned(),
        format!("{} to {}", figure(limits.lower), with(limits.upper)),
        "three standard deviations".to_owned(),
    ]);
    table.row([
        "Limit of the moving range".to_owned(),
        with(found.range_upper_limit),
        format!("{} beyond", found.range_beyond.len()),
    ]);
    let runs = run_rules(&in_time.values, limits.center, found.sigma, &RULES)
        .map_err(refused(rendering))?;
    answer.warn(&runs.warnings);
    let signals: Vec<Signal> = runs.signals.iter().map(signal).collect();
    let points = in_time
        .values
        .iter()
        .enumerate()
        .map(|(at, value)| ControlPoint {
            x: at as f64 + 1.0,
            value: *value,
            lower: limits.lower,
            upper: limits.upper,
            signal: signals.iter().find(|s| s.at == at).map(|s| s.why.clone()),
            ..ControlPoint::default()
        });
    Ok(Charted {
        kind: ControlKind::Individuals,
        center: limits.center,
        points: points.collect(),
        signals,
    })
}

fn signal(found: &RunSignal) -> Signal {
    let why = match found.rule {
        RunRule::OneBeyondThree => "beyond three standard deviations",
        RunRule::NineOnOneSide => "nine in a row on one side",
        RunRule::SixRisingOrFalling => "six in a row rising or falling",
        RunRule::TwoOfThreeBeyondTwo => "two of three beyond two standard deviations",
        RunRule::FourteenAlternating => "fourteen in a row alternating",
        RunRule::FourOfFiveBeyondOne => "four of five beyond one standard deviation",
        RunRule::FifteenWithinOne => "fifteen in a row within one standard deviation",
        RunRule::EightBeyondOne => "eight in a row beyond one standard deviation",
    };
    Signal {
        at: found.last,
        why: why.to_owned(),
    }
}

/// Where a run of points that stand out begins.
fn begins(points: &[ControlPoint]) -> Vec<Signal> {
    let is_out = |at: usize| points[at].signal.is_some();
    let first = |at: &usize| is_out(*at) && (*at == 0 || !is_out(*at - 1));
    let starts = (0..points.len()).filter(first);
    let signal = |at: usize| {
        let why = points[at].signal.clone().unwrap_or_default();
        let lasts = (at..points.len()).take_while(|at| is_out(*at)).count();
        Signal {
            at,
            why: match lasts {
                1 => why,
                lasts => format!("{why}, for {lasts} points in a row"),
            },
        }
    };
    starts.map(signal).collect()
}

fn told(in_time: &InTime<'_>, charted: &Charted) -> Option<Table> {
    if charted.signals.is_empty() {
        return None;
    }
    let shown = charted.signals.len().min(MOST_TOLD);
    let signals = charted.signals.len();
    let points = charted.points.iter();
    let points = points.filter(|point| point.signal.is_some()).count();
    let points_words = counted(points, "point", "points");
    let all = match signals.cmp(&points) {
        Ordering::Equal => points_words,
        Ordering::Less => format!("{} of {points_words}", counted(signals, "run", "runs")),
        Ordering::Greater => format!("{signals} signals at {points_words}"),
    };
    let label = match shown == signals {
        true => format!("What stands out, {all}"),
        false => format!("What stands out, the first {shown} of {all}"),
    };
    let heading = in_time.time.column.label.clone();
    let mut table = Table::new(label, &["Position", &heading, "Row", "Value", "Why"]);
    for signal in charted.signals.iter().take(MOST_TOLD) {
        let row = in_time.rows.kept[signal.at];
        table.row([
            (signal.at + 1).to_string(),
            in_time.when(signal.at),
            in_time.rows.cohort.rows()[row].to_string(),
            in_time
                .column
                .with_unit(&figure_as_given(in_time.values[signal.at])),
            signal.why.clone(),
        ]);
    }
    Some(table)
}

fn draw(
    rendering: &Rendering<'_>,
    analysis: &Analysis,
    in_time: &InTime<'_>,
    charted: Charted,
) -> Result<Drawing, Vec<Diagnostic>> {
    let title = match charted.kind {
        ControlKind::MovingAverage => format!("Moving average of {}", in_time.column.said()),
        ControlKind::CumulativeSums => format!("Cumulative sums of {}", in_time.column.said()),
        _ => format!(
            "{} in order of {}",
            in_time.column.label,
            in_time.time.said()
        ),
    };
    let y = match charted.kind {
        ControlKind::CumulativeSums => "Sum of deviations".to_owned(),
        _ => in_time.column.label.clone(),
    };
    let chart = ControlChart {
        title: analysis.title.clone().unwrap_or(title),
        key: rendering.id.clone(),
        kind: charted.kind,
        x: match in_time.time.days(&in_time.times) {
            Some(names) => ControlScale::Places {
                axis: Axis::new(
                    format!("{}, one place for each value", in_time.time.column.label),
                    "",
                ),
                names,
            },
            None => ControlScale::Positions {
                order: in_time.time.said(),
            },
        },
        y: Axis::new(y, in_time.column.unit.pretty()),
        center: charted.center,
        points: charted.points,
        baseline_end: in_time.baseline.map(|count| count as f64 + 0.5),
    };
    Ok(Drawing {
        svg: chart
            .svg(size(rendering, 720, 420)?)
            .map_err(undrawn(rendering))?,
        description: chart.description(),
    })
}
