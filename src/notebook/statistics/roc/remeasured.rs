//! What moves were the response measured once more, and which rows lie so near its line that error alone would class them otherwise.

use super::Judged;
use crate::formula::notation::{Analysis, Diagnostic, Test};
use crate::notebook::render::Rendering;
use crate::notebook::statistics::noise::Noise;
use crate::notebook::statistics::outcome::Classes;
use crate::notebook::statistics::page::{
    Answer, Table, counted, level_words, percent, refused, share_span, span,
};
use crate::notebook::statistics::rows::Column;
use crate::notebook::statistics::{bootstrap, level};
use crate::sheet::{figure, figure_as_given};
use crate::statistics::Interval;
use crate::statistics::roc::{DOUBT, MeasuredResponse, remeasured};

/// Chances at which the distribution over the rows is cut; above the second are the rows in doubt.
const CUTS: [f64; 3] = [0.01, DOUBT, 0.2];

/// Most rows that are told one by one.
const MOST_TOLD: usize = 1000;

/// What moves were the response measured once more, where the statement says with which error.
pub(super) fn under_error(
    rendering: &Rendering<'_>,
    analysis: &Analysis,
    classes: &Classes<'_>,
    judged: &[Judged<'_>],
    answer: &mut Answer,
) -> Result<(), Vec<Diagnostic>> {
    let (Some(outcome), true) = (&analysis.against, analysis.error.is_some()) else {
        return match analysis.row_by_row {
            true => Err(vec![
                Diagnostic::error(
                    "`row by row` tells how likely error alone would class each row otherwise, and no error is said",
                    rendering.place,
                )
                .hint("such as `error of 11 %`"),
            ]),
            false => Ok(()),
        };
    };
    let rows = &classes.rows;
    let refuse = |words: &str| vec![Diagnostic::error(words, outcome.name.place)];
    let Test::Above(above) = &outcome.test else {
        return Err(refuse(
            "the error of a response needs one that is more than a number, such as `change.stroke_volume > 10 %`",
        ));
    };
    let column = rows.numbers(&outcome.name)?;
    let above = rows.in_unit(&column, &outcome.name, above)?;
    let Some(noise) = Noise::of(rows, analysis, &outcome.name, &column)? else {
        return Ok(());
    };
    let changes = rows.values_of(&column);
    let level = level(rendering);
    let heading = format!("{} of the draws", level_words(level));
    let mut table = Table::new(
        "Were the response measured once more, with the same error",
        &["What", "Here", "Mean of the draws", &heading],
    );
    let mut lost = false;
    let mut chances = Vec::new();
    for one in judged {
        let chosen = &one.chosen.chosen;
        let response = MeasuredResponse {
            changes: &changes,
            above,
            error: &noise.error,
        };
        let scores = classes.scores(one.index);
        let found = remeasured(
            &scores,
            one.index.direction,
            chosen.threshold,
            response,
            level,
            &bootstrap(),
        )
        .map_err(refused(rendering))?;
        let label = &one.index.column.label;
        let shares = |name: &str, here: f64, interval: &Interval| {
            [
                format!("{label}: {name}"),
                percent(here),
                String::new(),
                share_span(interval),
            ]
        };
        let area = span(&found.area.interval);
        table.row([
            format!("{label}: area"),
            figure(one.area.value),
            figure(found.mean_area),
            area,
        ]);
        let beyond = one.index.beyond(&figure_as_given(chosen.threshold));
        table.row(shares(
            &format!("sensitivity at {beyond}"),
            chosen.sensitivity,
            &found.sensitivity.interval,
        ));
        table.row(shares(
            &format!("specificity at {beyond}"),
            chosen.specificity,
            &found.specificity.interval,
        ));
        table.row([
            format!("{label}: responders"),
            one.area.positives.to_string(),
            String::new(),
            span(&found.positives.interval),
        ]);
        lost |= found.mean_area < one.area.value;
        answer.warn(&found.warnings);
        answer.note(format!(
            "{} of {} rows lie so near the line that error alone would class them otherwise more than once in twenty.",
            found.in_doubt, found.count
        ));
        chances = found.chances;
    }
    answer.tables.push(table);
    answer.tables.push(distribution(classes, &chances));
    match analysis.row_by_row {
        true => told(classes, &column, &chances, answer),
        false => answer.note(
            "Which rows these are, each with its chance, is told by the clause `row by row`.",
        ),
    }
    noise.caution(answer);
    let assumption = format!("; {}.", noise.assumption(&column));
    answer.define(noise.definition("Error of the response: ", &assumption));
    answer.note(match lost {
        true => "The response carries this error once already: what an area loses in the draws is about what it has lost before.",
        false => "The response carries this error once already. No area is smaller in the draws: in these rows error takes nothing away that can be seen.",
    });
    Ok(())
}

/// How the chances lie, with and without a response.
fn distribution(classes: &Classes<'_>, chances: &[f64]) -> Table {
    let mut table = Table::new(
        "Chance that error alone, once more, would class a row otherwise",
        &["Chance", "Rows with response", "Rows without"],
    );
    let of_class = |class: bool| {
        let all = chances.iter().zip(&classes.positive);
        all.filter(move |(_, positive)| **positive == class)
            .map(|(chance, _)| *chance)
    };
    let [low, middle, high] = CUTS;
    for (words, from, to) in [
        (
            format!("up to {}", level_words(low)),
            f64::NEG_INFINITY,
            low,
        ),
        (
            format!("more than {} to {}", level_words(low), level_words(middle)),
            low,
            middle,
        ),
        (
            format!("more than {} to {}", level_words(middle), level_words(high)),
            middle,
            high,
        ),
        (
            format!("more than {} to 50 %", level_words(high)),
            high,
            f64::INFINITY,
        ),
    ] {
        let count = |class: bool| of_class(class).filter(|c| *c > from && *c <= to).count();
        table.row([words, count(true).to_string(), count(false).to_string()]);
    }
    let expected = |class: bool| format!("{:.1}", of_class(class).sum::<f64>());
    table.row([
        "classed otherwise, on average".to_owned(),
        expected(true),
        expected(false),
    ]);
    table
}

/// Row by row, the likeliest to be classed otherwise first.
fn told(classes: &Classes<'_>, column: &Column, chances: &[f64], answer: &mut Answer) {
    let mut order: Vec<usize> = (0..chances.len()).collect();
    order.sort_by(|a, b| chances[*b].total_cmp(&chances[*a]).then(a.cmp(b)));
    let mut table = Table::new(
        "Row by row, the likeliest to be classed otherwise first",
        &[
            "Row",
            &column.label,
            "Response",
            "Chance of the other class",
        ],
    );
    for at in order.iter().copied().take(MOST_TOLD) {
        let row = classes.rows.kept[at];
        table.row([
            classes.rows.cohort.rows()[row].to_string(),
            column
                .value(row)
                .map_or(String::new(), |value| column.with_unit(&figure(value))),
            match classes.positive[at] {
                true => "yes",
                false => "no",
            }
            .to_owned(),
            percent(chances[at]),
        ]);
    }
    answer.tables.push(table);
    if order.len() > MOST_TOLD {
        answer.note(format!(
            "The {} that are the likeliest to be classed otherwise are told; ask fewer by `where`.",
            counted(MOST_TOLD, "row", "rows")
        ));
    }
}
