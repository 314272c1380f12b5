//! `show drift` and `show jumps`: readings of one patient that differ more than the patient can.

use crate::formula::notation::{Analysis, Diagnostic};
use crate::notebook::render::{Rendered, Rendering};
use crate::quantity::{Content, Unit};
use crate::sheet::{figure, figure_as_given};
use crate::statistics::proportion;

use super::level;
use super::outcome::accounting;
use super::page::{Answer, Table, counted, refused, share, share_span, wilson_heading};
use super::rows::{Column, Rows};
use super::small::Small;
use crate::notebook::sides::is_above;

/// Most pairs listed one by one.
const MOST_LISTED: usize = 15;

/// Two readings of one patient.
struct Pair {
    /// Numbers of the rows in the table.
    rows: (usize, usize),
    first: f64,
    second: f64,
}

/// `show drift`: from each exam of a patient to the next.
pub(super) fn drift(rendering: &Rendering<'_>, analysis: &Analysis) -> Rendered {
    let ([subject], Some(by), Some(along)) = (&analysis.of[..], &analysis.by, &analysis.along)
    else {
        return Err(rendering.error("drift is that of one reading: ask for each by itself"));
    };
    let mut rows = Rows::of(rendering, analysis)?;
    let column = rows.numbers(&subject.name)?;
    let time = rows.time(along)?;
    rows.keep_read(&column)?;
    rows.keep_known(&time.column);
    rows.keep_said(by)?;
    let mut pairs = Vec::new();
    for (_, mut members) in rows.grouped(by)? {
        let at = |row: &usize| time.value(*row).unwrap_or(f64::INFINITY);
        members.sort_by(|a, b| at(a).total_cmp(&at(b)));
        for two in members.windows(2) {
            if let (Some(first), Some(second)) = (column.value(two[0]), column.value(two[1])) {
                pairs.push(Pair {
                    rows: (rows.cohort.rows()[two[0]], rows.cohort.rows()[two[1]]),
                    first,
                    second,
                });
            }
        }
    }
    let mut answer = Answer::default();
    answer.define(format!(
        "{} from one exam of a patient to the next, {}{}.",
        column.label,
        counted(pairs.len(), "pair", "pairs"),
        rows.all_in_words(" where ", &analysis.conditions)
    ));
    answer.define(accounting(&rows, &[]));
    judge(&rows, analysis, &column, &pairs, &mut answer)?;
    if let Some(words) = time.unreadable() {
        answer.note(words);
    }
    answer.note("The same value again is often a reading carried forward, which is right practice for a diameter and hides how well it can be measured.");
    answer.output(rendering, analysis)
}

/// `show jumps`: from one reading of a row to another.
pub(super) fn jumps(rendering: &Rendering<'_>, analysis: &Analysis) -> Rendered {
    let [first, second] = &analysis.of[..] else {
        return Err(rendering.error("a jump is between two readings, such as `show jumps of before.lvot_vti, after.lvot_vti beyond 15 % over challenges`"));
    };
    let mut rows = Rows::of(rendering, analysis)?;
    let (from, to) = (rows.numbers(&first.name)?, rows.numbers(&second.name)?);
    if from.unit != to.unit {
        return Err(rendering.error("the two readings are in different units"));
    }
    rows.keep_read(&from)?;
    rows.keep_read(&to)?;
    rows.keep_apart(&[&first.name, &second.name], &[&from, &to])?;
    let pair = |row: &usize| {
        let number = rows.cohort.rows()[*row];
        Some(Pair {
            rows: (number, number),
            first: from.value(*row)?,
            second: to.value(*row)?,
        })
    };
    let pairs: Vec<Pair> = rows.kept.iter().filter_map(pair).collect();
    let mut answer = Answer::default();
    answer.define(format!(
        "From {} to {}, {}{}.",
        from.said(),
        to.said(),
        counted(pairs.len(), "row", "rows"),
        rows.all_in_words(" where ", &analysis.conditions)
    ));
    answer.define(accounting(&rows, &[]));
    judge(&rows, analysis, &from, &pairs, &mut answer)?;
    answer.note("Jumps say something of measurement only where nothing was given and the patient was stable: say so by `where`.");
    answer.output(rendering, analysis)
}

/// A bare number in the place of a share or of an amount with its unit.
fn not_bare(rows: &Rows<'_>, analysis: &Analysis, value: f64) -> Vec<Diagnostic> {
    let (figure, percent) = (figure_as_given(value), figure_as_given(100.0 * value));
    let message = format!("a bare {figure} would be {percent} % of the first reading");
    let meant = if value < 1.0 { percent } else { figure };
    let place = analysis.amount_place("beyond");
    let error = Diagnostic::error(message, place.unwrap_or(rows.rendering.place));
    vec![error.hint(format!(
        "such as `beyond {meant} %`, or with the unit of the reading"
    ))]
}

/// How far two readings may differ.
enum Allowed {
    /// In the unit of the reading.
    Amount(f64),
    /// As a share of the first.
    Share(f64),
}

impl Allowed {
    fn of(
        rows: &Rows<'_>,
        analysis: &Analysis,
        column: &Column,
    ) -> Result<Allowed, Vec<Diagnostic>> {
        let Some(reading) = analysis.amount("beyond") else {
            return Err(rows.rendering.error("`beyond` and an amount belong here"));
        };
        let Some(subject) = analysis.of.first() else {
            return Err(rows.rendering.error("a reading belongs here"));
        };
        let allowed = match *reading.content() {
            Content::Magnitude { value, unit }
                if unit.dimension().is_none() && !column.unit.dimension().is_none() =>
            {
                if !unit.is_share() {
                    return Err(not_bare(rows, analysis, value));
                }
                unit.convert(value, Unit::ONE).map(Allowed::Share)
            }
            _ => None,
        };
        let allowed = match allowed {
            Some(share) => share,
            None => Allowed::Amount(rows.in_unit(column, &subject.name, reading)?),
        };
        match allowed {
            Allowed::Amount(limit) | Allowed::Share(limit) if limit <= 0.0 => Err(rows
                .rendering
                .error("`beyond` an amount that is more than zero")),
            allowed => Ok(allowed),
        }
    }

    fn words(&self, column: &Column) -> String {
        match self {
            Allowed::Amount(amount) => column.with_unit(&figure_as_given(*amount)),
            Allowed::Share(share) => format!("{} %", figure_as_given((1e9 * share).round() / 1e7)),
        }
    }

    /// Whether two readings differ by more, rounding aside.
    fn is_exceeded(&self, pair: &Pair) -> bool {
        let difference = (pair.second - pair.first).abs();
        let limit = match self {
            Allowed::Amount(amount) => *amount,
            Allowed::Share(share) => share * pair.first.abs(),
        };
        is_above(difference, limit)
    }
}

fn judge(
    rows: &Rows<'_>,
    analysis: &Analysis,
    column: &Column,
    pairs: &[Pair],
    answer: &mut Answer,
) -> Result<(), Vec<Diagnostic>> {
    let rendering = rows.rendering;
    let allowed = Allowed::of(rows, analysis, column)?;
    let beyond: Vec<&Pair> = pairs
        .iter()
        .filter(|pair| allowed.is_exceeded(pair))
        .collect();
    if pairs.is_empty() {
        return Err(rendering.error("no patient has two readings to compare"));
    }
    let level = level(rendering);
    let interval = wilson_heading(level);
    let mut table = Table::new("Differences", &["What", "Share of the pairs", &interval]);
    let same = pairs
        .iter()
        .filter(|pair| pair.first == pair.second)
        .count();
    for (name, count) in [
        (format!("beyond {}", allowed.words(column)), beyond.len()),
        ("the same to the last digit".to_owned(), same),
    ] {
        let found = proportion(count, pairs.len(), level).map_err(refused(rendering))?;
        table.row([name, share(&found), share_span(&found.wilson)]);
    }
    answer.tables.push(table);
    let mut small = Small::default();
    small.look_few(counted(pairs.len(), "pair", "pairs"), pairs.len());
    small.caution(answer);
    if !beyond.is_empty() && !analysis.briefly {
        answer.tables.push(listed(column, &beyond));
    }
    Ok(())
}

/// The widest first.
fn listed(column: &Column, beyond: &[&Pair]) -> Table {
    let mut widest: Vec<&&Pair> = beyond.iter().collect();
    let apart = |pair: &Pair| (pair.second - pair.first).abs();
    widest.sort_by(|a, b| apart(b).total_cmp(&apart(a)).then(a.rows.cmp(&b.rows)));
    let label = match widest.len() > MOST_LISTED {
        true => format!("The widest {MOST_LISTED} of {}", widest.len()),
        false => "Where, the widest first".to_owned(),
    };
    let mut table = Table::new(label, &["Row", "From", "To", "Difference"]);
    for pair in widest.into_iter().take(MOST_LISTED) {
        let name = match pair.rows.0 == pair.rows.1 {
            true => pair.rows.0.to_string(),
            false => format!("{} and {}", pair.rows.0, pair.rows.1),
        };
        table.row([
            name,
            column.with_unit(&figure_as_given(pair.first)),
            column.with_unit(&figure_as_given(pair.second)),
            column.with_unit(&figure(pair.second - pair.first)),
        ]);
    }
    table
}
