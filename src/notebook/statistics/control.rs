//! `show individuals`, `show ewma`, `show cusum`: single values in order of time.

use std::collections::HashSet;

use crate::charts::{Axis, ControlChart, ControlKind, ControlPoint, ControlScale};
use crate::formula::notation::{Analysis, Diagnostic, Name, Question};
use crate::notebook::render::{Rendered, Rendering};
use crate::notebook::words::sentence;
use crate::quantity::{Content, Unit};
use crate::sheet::{figure, figure_as_given};
use crate::statistics::quality::{
    Individuals, RunRule, RunSignal, cusum, ewma, individuals, run_rules,
};
use crate::statistics::{StatisticsError, Warning};

use super::outcome::accounting;
use super::page::{Answer, Drawing, Table, counted, refused, size, undrawn};
use super::rows::{Column, Rows, spaced};
use super::settings::Setting;
use super::time::Time;

/// The rules looked for beside three standard deviations; each adds false alarms.
const RULES: [RunRule; 4] = [
    RunRule::OneBeyondThree,
    RunRule::NineOnOneSide,
    RunRule::SixRisingOrFalling,
    RunRule::TwoOfThreeBeyondTwo,
];
/// Usual choices (NIST/SEMATECH e-Handbook, sections 6.3.2.3 and 6.3.2.4); the ranges are as wide as charts make sense (common practice, no
/// source).
const WEIGHT: Setting = Setting {
    clause: "weight",
    usual: 0.2,
    allowed: 0.0..=1.0,
    is_above_zero: true,
    words: "the weight of the newest value is a number above 0 and at most 1, such as `weight 0.1`",
};
const WIDTH: Setting = Setting {
    clause: "width",
    usual: 3.0,
    allowed: 1.0..=6.0,
    is_above_zero: true,
    words: "the limits are from 1 to 6 standard deviations of the average wide, such as `width 2.7`",
};
const SLACK: Setting = Setting {
    clause: "slack",
    usual: 0.5,
    allowed: 0.0..=3.0,
    is_above_zero: false,
    words: "the slack is from 0 to 3 standard deviations, such as `slack 0.5`",
};
const DECISION: Setting = Setting {
    clause: "decision",
    usual: 5.0,
    allowed: 1.0..=20.0,
    is_above_zero: true,
    words: "the decision interval is from 1 to 20 standard deviations, such as `decision 4`",
};
/// Most signals told one by one.
const MOST_TOLD: usize = 12;

/// Values in order of time.
struct InTime<'r> {
    rows: Rows<'r>,
    column: Column,
    values: Vec<f64>,
    times: Vec<f64>,
    time: Time,
    baseline: Option<usize>,
    who: Who,
}

/// What `by` says of the values.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Who {
    /// Nothing: whose they are is not known.
    Unsaid,
    /// One value a patient, the first in time.
    Patients,
    /// Operators, each with a baseline of their own.
    Operators,
}

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
    let own = own.filter(|w| !matches!(w, Warning::ManyLooks { .. }));
    answer.warn(&own.cloned().collect::<Vec<_>>());
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
            let set = Average {
                weight: WEIGHT.of(rendering, analysis)?,
                width: WIDTH.of(rendering, analysis)?,
            };
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
        answer.note(
            "Each operator is compared with the own baseline, the first values of that operator.",
        );
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

impl<'r> InTime<'r> {
    fn of(
        rendering: &'r Rendering<'r>,
        analysis: &'r Analysis,
    ) -> Result<InTime<'r>, Vec<Diagnostic>> {
        let ([subject], Some(along)) = (&analysis.of[..], &analysis.along) else {
            return Err(
                rendering.error("one quantity is charted along one time: ask for each by itself")
            );
        };
        let mut rows = Rows::of(rendering, analysis)?;
        let column = rows.numbers(&subject.name)?;
        let time = rows.time(along)?;
        rows.keep_read(&column)?;
        rows.keep_known(&time.column);
        let at = |row: &usize| time.value(*row).unwrap_or(f64::INFINITY);
        rows.kept.sort_by(|a, b| at(a).total_cmp(&at(b)));
        let baseline = baseline(rendering, analysis)?;
        let who = who(&rows, analysis, baseline)?;
        if let (Some(by), Who::Patients) = (&analysis.by, who) {
            rows.keep_said(by)?;
            keep_first_of_each(&mut rows, by)?;
        }
        Ok(InTime {
            values: rows.values_of(&column),
            times: rows.values_of(&time.column),
            baseline,
            who,
            rows,
            column,
            time,
        })
    }

    /// A chart that cannot be made; of patients with how many values they have left.
    fn refused(&self, analysis: &Analysis, error: StatisticsError) -> Vec<Diagnostic> {
        let found = refused(self.rows.rendering)(error);
        let (Some(by), Who::Patients) = (&analysis.by, self.who) else {
            return found;
        };
        let hint = format!(
            "the first row of each {} makes {}",
            spaced(&by.text),
            counted(self.values.len(), "value", "values")
        );
        found.into_iter().map(|f| f.hint(hint.clone())).collect()
    }

    fn when(&self, at: usize) -> String {
        self.time.words(self.times[at])
    }
}

/// Cumulative sums tell operators apart, where one of them has as many values as a baseline of their own needs; all others are patients.
fn who(
    rows: &Rows<'_>,
    analysis: &Analysis,
    baseline: Option<usize>,
) -> Result<Who, Vec<Diagnostic>> {
    let Some(by) = &analysis.by else {
        return Ok(Who::Unsaid);
    };
    let has_baseline = |(_, members): &(String, Vec<usize>)| {
        baseline.is_some_and(|baseline| members.len() >= baseline)
    };
    match analysis.question == Question::Cusum && rows.grouped(by)?.iter().any(has_baseline) {
        true => Ok(Who::Operators),
        false => Ok(Who::Patients),
    }
}

/// Keeps the first row of each patient, in the order in which the rows stand.
fn keep_first_of_each(rows: &mut Rows<'_>, by: &Name) -> Result<(), Vec<Diagnostic>> {
    let texts = rows.texts(by)?;
    let mut seen = HashSet::new();
    let is_first = |row: &&usize| seen.insert(texts[**row].clone());
    let first: HashSet<usize> = rows.kept.iter().filter(is_first).copied().collect();
    let why = format!("later rows of a {}", spaced(&by.text));
    rows.keep_if(why, |row| first.contains(&row));
    Ok(())
}

/// A whole number after `baseline`.
pub(super) fn baseline(
    rendering: &Rendering<'_>,
    analysis: &Analysis,
) -> Result<Option<usize>, Vec<Diagnostic>> {
    let Some(reading) = analysis.amount("baseline") else {
        return Ok(None);
    };
    let count = match *reading.content() {
        Content::Magnitude { value, unit } => unit.convert(value, Unit::ONE),
        _ => None,
    };
    match count {
        Some(count) if count >= 1.0 && count.fract() == 0.0 && count < 1e9 => {
            Ok(Some(count as usize))
        }
        _ => Err(rendering.error("a baseline is a whole number of values, such as `baseline 40`")),
    }
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

/// How a moving average is made.
struct Average {
    weight: f64,
    width: f64,
}

fn moving_average(
    rendering: &Rendering<'_>,
    in_time: &InTime<'_>,
    found: &Individuals,
    set: &Average,
    table: &mut Table,
    answer: &mut Answer,
) -> Result<Charted, Vec<Diagnostic>> {
    let center = found.limits.center;
    let chart = ewma(&in_time.values, center, found.sigma, set.weight, set.width)
        .map_err(refused(rendering))?;
    let steady = chart.steady_limits;
    table.row([
        "Limits of the average, in the end".to_owned(),
        format!(
            "{} to {}",
            figure(steady.lower),
            in_time.column.with_unit(&figure(steady.upper))
        ),
        format!(
            "weight {}, width {}",
            figure_as_given(set.weight),
            figure_as_given(set.width)
        ),
    ]);
    answer.warn(&chart.warnings);
    let why = "the moving average is beyond its limits";
    let points: Vec<ControlPoint> = chart
        .points
        .iter()
        .enumerate()
        .map(|(at, point)| ControlPoint {
            x: at as f64 + 1.0,
            value: point.average,
            lower: point.limits.lower,
            upper: point.limits.upper,
            signal: point.is_beyond.then(|| why.to_owned()),
            ..ControlPoint::default()
        })
        .collect();
    Ok(Charted {
        kind: ControlKind::MovingAverage,
        center,
        signals: begins(&points),
        points,
    })
}

/// How cumulative sums are made, in standard deviations.
struct Sums {
    slack: f64,
    decision: f64,
}

impl Sums {
    fn of(rendering: &Rendering<'_>, analysis: &Analysis) -> Result<Sums, Vec<Diagnostic>> {
        Ok(Sums {
            slack: SLACK.of(rendering, analysis)?,
            decision: DECISION.of(rendering, analysis)?,
        })
    }
}

fn sums(
    rendering: &Rendering<'_>,
    in_time: &InTime<'_>,
    found: &Individuals,
    set: &Sums,
    table: &mut Table,
) -> Result<Charted, Vec<Diagnostic>> {
    let (slack, decision) = (set.slack * found.sigma, set.decision * found.sigma);
    let chart =
        cusum(&in_time.values, found.limits.center, slack, decision).map_err(refused(rendering))?;
    let with = |value: f64| in_time.column.with_unit(&figure(value));
    table.row(["Slack".to_owned(), with(slack), deviations(set.slack)]);
    table.row([
        "Decision interval".to_owned(),
        with(decision),
        deviations(set.decision),
    ]);
    if let (Some(first), Some(began)) = (chart.first_signal, chart.change_began) {
        table.row([
            "First signal".to_owned(),
            in_time.when(first),
            format!("the run that led to it began at {}", in_time.when(began)),
        ]);
    }
    let why = "a sum is beyond the decision interval";
    let points: Vec<ControlPoint> = chart
        .points
        .iter()
        .enumerate()
        .map(|(at, point)| ControlPoint {
            x: at as f64 + 1.0,
            value: point.high,
            below: Some(-point.low),
            lower: -decision,
            upper: decision,
            signal: point.is_beyond.then(|| why.to_owned()),
        })
        .collect();
    Ok(Charted {
        kind: ControlKind::CumulativeSums,
        center: 0.0,
        signals: begins(&points),
        points,
    })
}

/// `half a standard deviation`, `5 standard deviations`.
fn deviations(count: f64) -> String {
    match count {
        0.5 => "half a standard deviation".to_owned(),
        1.0 => "one standard deviation".to_owned(),
        _ => format!("{} standard deviations", figure_as_given(count)),
    }
}

/// Cumulative sums of each operator, from the own baseline: who moved, and when.
fn each(in_time: &InTime<'_>, by: &Name, set: &Sums) -> Result<Table, Vec<Diagnostic>> {
    let mut table = Table::new(
        "Each by the own baseline",
        &["Who", "Values", "Center", "First signal", "The run began"],
    );
    // In order of time, as the rows are kept.
    for (name, members) in in_time.rows.grouped_with_blank(by)? {
        let values: Vec<f64> = members
            .iter()
            .filter_map(|row| in_time.column.value(*row))
            .collect();
        let found = match individuals(&values, in_time.baseline) {
            Ok(found) => found,
            Err(error) => {
                table.row([name, values.len().to_string(), sentence(&error.to_string())]);
                continue;
            }
        };
        let (slack, decision) = (set.slack * found.sigma, set.decision * found.sigma);
        let chart = cusum(&values, found.limits.center, slack, decision)
            .map_err(refused(in_time.rows.rendering))?;
        let when = |at: Option<usize>| {
            let time = at.and_then(|at| in_time.time.value(members[at]));
            time.map(|time| in_time.time.words(time))
        };
        table.row([
            name,
            values.len().to_string(),
            in_time.column.with_unit(&figure(found.limits.center)),
            when(chart.first_signal).unwrap_or_else(|| "none".to_owned()),
            when(chart.change_began).unwrap_or_default(),
        ]);
    }
    Ok(table)
}

/// Where a run of points that stand out begins.
fn begins(points: &[ControlPoint]) -> Vec<Signal> {
    let is_out = |at: usize| points[at].signal.is_some();
    let first = |at: &usize| is_out(*at) && (*at == 0 || !is_out(*at - 1));
    let starts = (0..points.len()).filter(first);
    let signal = |at: usize| Signal {
        at,
        why: points[at].signal.clone().unwrap_or_default(),
    };
    starts.map(signal).collect()
}

fn told(in_time: &InTime<'_>, charted: &Charted) -> Option<Table> {
    if charted.signals.is_empty() {
        return None;
    }
    let shown = charted.signals.len().min(MOST_TOLD);
    let label = match shown == charted.signals.len() {
        true => format!("What stands out, {}", charted.signals.len()),
        false => format!(
            "What stands out, the first {shown} of {}",
            charted.signals.len()
        ),
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
            None => ControlScale::Number(Axis::new(
                format!("Position in order of {}", in_time.time.said()),
                "",
            )),
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
