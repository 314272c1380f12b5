//! `show crossings`: which rows change side of a threshold when a reading is off.
//!
//! An error that all rows share and errors that each row has for itself are told apart: the first
//! moves all rows one way and does not average out, the others move those near the threshold
//! both ways.

mod tables;

use super::SEED;
use super::estimates::{ALTHOUGH_IT_CANCELS, is_change};
use super::outcome::accounting;
use super::page::{Answer, Drawing, counted, size, undrawn};
use super::rows::Rows;
use crate::charts::{Axis, Effect, EffectBars};
use crate::cohort::{CohortReadings, RowReadings};
use crate::formula::notation::{Analysis, Diagnostic, Name};
use crate::formula::{CellId, Facet, Lane};
use crate::notebook::charts_of::as_written;
use crate::notebook::render::{Rendered, Rendering};
use crate::quantity::{Content, Reading};
use crate::sheet::{Program, in_sentence};
use crate::uncertainty::{
    Chances, Column, Crossings, Off, Question, UncertaintyError, chances, crossings,
};

/// Draws for each row; a chance is then known within 2 % of the rows (common practice, no source).
const DRAWS: usize = 1024;

/// Size of the drawing, px; each row of bars adds to the height.
const WIDTH: u32 = 640;
const HEIGHT: u32 = 220;
const BAR: u32 = 40;

pub(super) fn answer(rendering: &Rendering<'_>, analysis: &Analysis) -> Rendered {
    let [subject] = &analysis.of[..] else {
        return Err(rendering.error("one cell is asked at a time: ask for each by itself"));
    };
    if subject.is_low || subject.word.is_some() {
        return Err(rendering.error("crossings are asked of a cell with numbers"));
    }
    let mut rows = Rows::of(rendering, analysis)?;
    let cell = rendering.number_cell(&subject.name)?;
    let column = rows.numbers(&subject.name)?;
    let cancels = rows.rough(&column) > 0 && is_change(&subject.name);
    rows.keep_recorded(&column)?;
    let columns = columns(rendering, &rows, cell)?;
    let mut found = Vec::new();
    for at in &analysis.at {
        let threshold = rows.in_unit(&column, &subject.name, at)?;
        for (name, by) in &analysis.off {
            let reading = reading_of(rendering, (cell, &subject.name), name)?;
            found.push(Found {
                threshold: amount_words(at),
                label: rendering.sheet.label(reading),
                reading: name.text.clone(),
                by: amount_words(by),
                crossed: crossed(rendering, &columns, (cell, threshold), (name, reading, by))?,
            });
        }
    }
    let mut answer = Answer::default();
    answer.define(format!(
        "{}: which rows change side of a threshold when a reading is off{}. Every row is computed again \
         from its own readings; nothing is linearized.",
        column.label,
        rows.all_in_words(", where ", &analysis.conditions)
    ));
    answer.define(accounting(&rows, &[]));
    if cancels {
        answer.define(ALTHOUGH_IT_CANCELS);
    }
    answer.define(
        "A shared error (a habit, a device) moves all rows the same way and does not average out over \
         them. Errors of their own move rows near the threshold both ways: some for others.",
    );
    answer.tables = vec![tables::shared(&found), tables::own(&found)];
    // For a meeting the counts are enough.
    if !analysis.briefly {
        answer.tables.extend(tables::which(&rows, &found));
    }
    say(rendering, cell, &subject.name, &found, &mut answer);
    answer.drawing = drawing(rendering, analysis, &column.said(), &found)?;
    answer.output(rendering, analysis)
}

/// One reading off by one amount, looked at from one threshold.
struct Found {
    threshold: String,
    label: String,
    reading: String,
    by: String,
    crossed: Crossed,
}

struct Crossed {
    too_low: Crossings,
    too_high: Crossings,
    own: Chances,
}

impl Crossed {
    fn is_moved(&self) -> bool {
        self.too_low.moved + self.too_high.moved > 0
    }
}

impl Found {
    /// Rows that are not compared, and why; nothing where all are.
    fn left_out(&self) -> Option<String> {
        let ways = [&self.crossed.too_low, &self.crossed.too_high];
        let most = |count: fn(&Crossings) -> usize| ways.map(count).into_iter().max().unwrap_or(0);
        let without = most(|c| c.without.len());
        let unknown = most(|c| c.not_known.len());
        let label = in_sentence(&self.label);
        let mut why = Vec::new();
        if without > 0 {
            let rows = counted(without, "row has", "rows have");
            why.push(format!(
                "{rows} a result without that reading, so that nothing can be off"
            ));
        }
        if unknown > 0 {
            let rows = counted(unknown, "row has", "rows have");
            why.push(format!(
                "{rows} no result as read, or none with the other reading"
            ));
        }
        let said = || {
            format!(
                "Not compared with {label} off by {}: {}.",
                self.by,
                why.join("; ")
            )
        };
        (!why.is_empty()).then(said)
    }
}

/// What rows supply of all cells, with what formulas ask of them.
fn columns(
    rendering: &Rendering<'_>,
    rows: &Rows<'_>,
    cell: CellId,
) -> Result<Vec<Column>, Vec<Diagnostic>> {
    let sheet = rendering.sheet;
    let readings: CohortReadings<'_> = rows
        .cohort
        .readings(sheet)
        .map_err(|e| rendering.error(e.to_string()))?;
    let cells = readings.cells();
    let program = Program::new(sheet, &[cell], &cells);
    let mut columns: Vec<Column> = cells
        .iter()
        .map(|cell| Column {
            cell: *cell,
            lanes: Vec::with_capacity(rows.kept.len()),
            said: (program.inputs().iter())
                .filter(|i| i.cell == *cell && i.facet != Facet::Value)
                .map(|i| (i.facet, Vec::with_capacity(rows.kept.len())))
                .collect(),
        })
        .collect();
    for row in &rows.kept {
        let row: RowReadings = readings
            .row(*row)
            .map_err(|wrong| rendering.error(wrong.join("; ")))?;
        for column in &mut columns {
            let lane = |facet: Facet| -> Lane { row.lane(sheet, column.cell, facet) };
            column.lanes.push(lane(Facet::Value));
            for (facet, said) in &mut column.said {
                said.push(lane(*facet));
            }
        }
    }
    Ok(columns)
}

/// The reading that is off, which the cell must rest on.
fn reading_of(
    rendering: &Rendering<'_>,
    (cell, cell_name): (CellId, &Name),
    name: &Name,
) -> Result<CellId, Vec<Diagnostic>> {
    let reading = rendering.number_cell(name)?;
    if rendering.sheet.leans_on(cell).contains(&reading) {
        return Ok(reading);
    }
    let message = format!("`{}` does not rest on `{}`", cell_name.text, name.text);
    Err(vec![Diagnostic::error(message, name.place)])
}

fn amount_words(by: &Reading) -> String {
    match *by.content() {
        Content::Magnitude { value, unit } => as_written(value, unit),
        _ => String::new(),
    }
}

fn crossed(
    rendering: &Rendering<'_>,
    columns: &[Column],
    (cell, threshold): (CellId, f64),
    (name, reading, by): (&Name, CellId, &Reading),
) -> Result<Crossed, Vec<Diagnostic>> {
    let refused = |message: String| vec![Diagnostic::error(message, name.place)];
    let Content::Magnitude { value, unit } = *by.content() else {
        return Err(refused("the amount is not a number".into()));
    };
    if value <= 0.0 {
        return Err(refused("the amount must be above zero".into()));
    }
    let question = |amount: f64| Question {
        cell,
        threshold,
        reading,
        off: Off { amount, unit },
    };
    let sheet = rendering.sheet;
    let said = |e: UncertaintyError| refused(e.to_string());
    Ok(Crossed {
        too_low: crossings(sheet, columns, question(-value)).map_err(said)?,
        too_high: crossings(sheet, columns, question(value)).map_err(said)?,
        own: chances(sheet, columns, question(value), DRAWS, SEED).map_err(said)?,
    })
}

/// What to know beside the figures.
fn say(rendering: &Rendering<'_>, cell: CellId, name: &Name, found: &[Found], answer: &mut Answer) {
    for one in found {
        answer.notes.extend(one.left_out());
        if !one.crossed.is_moved() {
            answer.caution(unmoved(rendering, cell, name, one));
        }
    }
    answer.note(format!(
        "Errors of their own: normal, {DRAWS} draws for each row, seed {SEED}; a draw that gives no value \
         counts as not changing side."
    ));
}

/// Says of a cell that stands still what to ask instead.
fn unmoved(rendering: &Rendering<'_>, cell: CellId, name: &Name, one: &Found) -> String {
    let sheet = rendering.sheet;
    let reading = sheet.cell(&one.reading);
    let rests = |input: &CellId| reading.is_some_and(|r| sheet.leans_on(*input).contains(&r));
    let shared = sheet
        .inputs(cell)
        .iter()
        .filter(|input| rests(input))
        .count();
    let still = format!(
        "`{}` does not move in any row when `{}` is off",
        name.text, one.reading
    );
    match shared {
        0 | 1 => format!("{still}."),
        _ => format!(
            "{still}: what it is computed from shares that reading, and its error cancels. The absolute \
             values do move: ask those, {}.",
            absolute(rendering, cell)
        ),
    }
}

/// The absolute values behind a change, their indices where there are such.
fn absolute(rendering: &Rendering<'_>, cell: CellId) -> String {
    let sheet = rendering.sheet;
    let mut names: Vec<String> = Vec::new();
    for input in sheet.inputs(cell) {
        let name = sheet.name(input);
        let index = format!("{name}_index");
        let name = sheet.cell(&index).map_or(name, |_| index);
        if !names.contains(&name) {
            names.push(name);
        }
    }
    let names: Vec<String> = names.iter().map(|name| format!("`{name}`")).collect();
    format!("such as {}", names.join(" and "))
}

/// Bars of the net share of rows that come above, or fall below, when all are off alike.
fn drawing(
    rendering: &Rendering<'_>,
    analysis: &Analysis,
    said: &str,
    found: &[Found],
) -> Result<Option<Drawing>, Vec<Diagnostic>> {
    let net = |crossings: &Crossings| {
        let (up, down) = (crossings.upward.len(), crossings.downward.len());
        100.0 * (up as f64 - down as f64) / crossings.compared.max(1) as f64
    };
    let effects: Vec<Effect> = found
        .iter()
        .map(|one| {
            let crossed = &one.crossed;
            let name = format!("{} ± {}, at {}", one.label, one.by, one.threshold);
            Effect::new(name, net(&crossed.too_low), net(&crossed.too_high))
        })
        .collect();
    if effects.iter().all(|e| e.minus == 0.0 && e.plus == 0.0) {
        return Ok(None);
    }
    let default_title = format!("What a shared error does to the share of rows above, {said}");
    let chart = EffectBars {
        title: analysis.title.clone().unwrap_or(default_title),
        key: rendering.id.clone(),
        axis: Axis::new("Change of the share of rows above", "%"),
        minus_name: "reading too low in all rows".into(),
        plus_name: "reading too high in all rows".into(),
        effects,
    };
    let height = HEIGHT + BAR * u32::try_from(found.len()).unwrap_or(1).min(20);
    let svg = chart
        .svg(size(rendering, WIDTH, height)?)
        .map_err(undrawn(rendering))?;
    Ok(Some(Drawing {
        svg,
        description: chart.description(),
    }))
}
