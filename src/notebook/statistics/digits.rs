//! `show digits`: were readings measured, or rounded to a favorite?

use crate::charts::DigitColumns;
use crate::formula::notation::{Analysis, Diagnostic};
use crate::notebook::render::{Rendered, Rendering};
use crate::sheet::figure_as_given;
use crate::statistics::Warning;
use crate::statistics::quality::{TerminalDigits, terminal_digits};

use super::level;
use super::outcome::accounting;
use super::page::{
    Answer, Drawing, Table, counted, p_value, refused, share, share_span, size, undrawn,
    wilson_heading,
};
use super::rows::{Column, Rows};

pub(super) fn answer(rendering: &Rendering<'_>, analysis: &Analysis) -> Rendered {
    let [subject] = &analysis.of[..] else {
        return Err(rendering.error("digits are those of one reading: ask for each by itself"));
    };
    let mut rows = Rows::of(rendering, analysis)?;
    let column = rows.numbers(&subject.name)?;
    let Some(resolution) = analysis.amount("to") else {
        return Err(rendering.error("`to` and the step of the last digit belong here"));
    };
    let resolution = rows.in_unit(&column, &subject.name, resolution)?;
    if resolution <= 0.0 {
        return Err(rendering.error("the step of the last digit is more than zero"));
    }
    rows.keep_read(&column)?;
    let step = column.with_unit(&figure_as_given(resolution));
    rows.keep_if(format!("finer than {step}"), |row| {
        column
            .value(row)
            .is_some_and(|value| is_step(value, resolution))
    });
    if rows.kept.is_empty() {
        let message = format!(
            "no reading of {} is a whole number of steps of {step}",
            column.said()
        );
        let place = analysis.amount_place("to").unwrap_or(rendering.place);
        let error = Diagnostic::error(message, place);
        return Err(vec![error.hint(format!(
            "`to` the step that readings are recorded in; left out: {}",
            rows.left_out_words()
        ))]);
    }
    let level = level(rendering);
    let of = |members: &[usize]| {
        let values: Vec<f64> = members
            .iter()
            .filter_map(|row| column.value(*row))
            .collect();
        terminal_digits(&values, resolution, level)
    };
    let all = of(&rows.kept).map_err(refused(rendering))?;
    let mut answer = Answer::default();
    answer.define(format!(
        "Last digit of {} to {step}, {}{}. Were no digit preferred, 20 % would end in 0 or 5.",
        column.said(),
        counted(rows.kept.len(), "reading", "readings"),
        rows.all_in_words(" where ", &analysis.conditions)
    ));
    answer.define(accounting(&rows, &[]));
    answer.warn(&all.warnings);
    let interval = wilson_heading(level);
    let mut table = Table::new(
        "Preference",
        &[
            "Who",
            "Ends in 0 or 5",
            &interval,
            "Were no digit preferred",
        ],
    );
    table.row(line("all", &all));
    let mut looks = 1;
    if let Some(by) = &analysis.by {
        for (name, members) in rows.grouped_with_blank(by)? {
            let found = of(&members).map_err(refused(rendering))?;
            table.row(line(&name, &found));
            looks += 1;
        }
        answer.note("Few readings of one operator make chi-square rough; the share that ends in 0 or 5 says more.");
    }
    answer.caution("A reading that was carried forward counts again in every row, which makes digits look uneven.");
    answer.tables.push(table);
    answer.warn(&Warning::many_looks(looks, 1.0 - level));
    answer.drawing = Some(draw(rendering, analysis, &column, &step, &all)?);
    answer.output(rendering, analysis)
}

fn is_step(value: f64, resolution: f64) -> bool {
    let steps = value / resolution;
    (steps - steps.round()).abs() < 1e-6
}

fn line(name: &str, found: &TerminalDigits) -> Vec<String> {
    vec![
        name.to_owned(),
        share(&found.zero_or_five),
        share_span(&found.zero_or_five.wilson),
        format!(
            "chi-square {:.1}, {}",
            found.chi_square,
            p_value(found.p_value)
        ),
    ]
}

fn draw(
    rendering: &Rendering<'_>,
    analysis: &Analysis,
    column: &Column,
    step: &str,
    found: &TerminalDigits,
) -> Result<Drawing, Vec<Diagnostic>> {
    let chart = DigitColumns {
        title: analysis
            .title
            .clone()
            .unwrap_or_else(|| format!("Last digit of {}", column.said())),
        key: rendering.id.clone(),
        digit: format!("Last digit, {step}"),
        counted: "Readings".to_owned(),
        counts: found.counts,
    };
    Ok(Drawing {
        svg: chart
            .svg(size(rendering, 640, 360)?)
            .map_err(undrawn(rendering))?,
        description: chart.description(),
    })
}
