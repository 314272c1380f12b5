//! Statements that show tables and explanations.

use std::sync::Arc;

use maud::{Markup, html};

use super::cohort_trust::Uncertainties;
use super::mathml::{MathLayout, to_html};
use super::output::Output;
use super::render::{Rendered, Rendering, words_of_finding};
use crate::cohort::{Cohort, counted};
use crate::formula::CellId;
use crate::formula::notation::{Diagnostic, Name};
use crate::notebook::words::capitalized;
use crate::quantity::Origin;
use crate::sheet::{Advisory, Explanation, Sheet, State, figure, word_of};
use crate::statistics;
use crate::uncertainty::{explanation_text, trust_in_full, trust_lines, unstated_note};

/// `show …`: a row for each cell, then what is to know.
pub(super) fn cells(rendering: &Rendering<'_>, names: &[Name]) -> Rendered {
    let sheet = rendering.sheet;
    let cells = match names.is_empty() {
        true => all_cells(rendering)?,
        false => rendering.cells(names)?,
    };
    let advisories = advisories_of(sheet, &cells);
    let rows: Vec<Row> = cells.iter().map(|cell| Row::of(sheet, *cell)).collect();
    let unstated = unstated_note(sheet, &cells);
    let html = html! {
        div.scroll tabindex="0" role="region" aria-label="Cells" {
            table.cells {
                thead {
                    tr {
                        th scope="col" { "Name" }
                        th scope="col" { "Value" }
                        th scope="col" { "Unit" }
                        th scope="col" { "How known" }
                        th scope="col" { "Remarks" }
                    }
                }
                tbody { @for row in &rows { (row.html(sheet)) } }
            }
        }
        @if let Some(note) = &unstated { p.unstated { (note) } }
        (advisory_list(&advisories))
    };
    let text = text_lines(sheet, &rows, &advisories, unstated);
    Ok(Output::new(&rendering.id, text, html.into_string()))
}

/// All cells worth showing, or an error if one of them is lost.
fn all_cells(rendering: &Rendering<'_>) -> Result<Vec<CellId>, Vec<Diagnostic>> {
    match rendering.lost.names.first_key_value() {
        None => Ok(rendering.sheet.cells_worth_showing()),
        Some((name, why)) => {
            let message = format!("not every cell can be shown: `{name}`: {why}");
            Err(rendering.error(message))
        }
    }
}

/// A cell with its remarks, which take a propagation of uncertainty: made once for all forms.
struct Row {
    cell: CellId,
    remarks: Vec<String>,
}

impl Row {
    fn of(sheet: &Sheet, cell: CellId) -> Row {
        let remarks = remarks(sheet, cell);
        Row { cell, remarks }
    }

    fn html(&self, sheet: &Sheet) -> Markup {
        let cell = self.cell;
        let state = sheet.state(cell).unwrap_or(State::Missing);
        let unit = sheet.unit(cell).map_or("", |u| u.pretty());
        let (value, unit) = match (sheet.word(cell), sheet.value(cell)) {
            (Some(word), _) => (word.replace('_', " "), ""),
            (None, Some(value)) => (sheet.figure_of(cell, value), unit),
            (None, None) => (String::new(), unit),
        };
        html! {
            tr {
                th scope="row" { (sheet.label(cell)) " " code { (sheet.name(cell)) } }
                td.number { @if state == State::Known { (value) } }
                td { (unit) }
                td { (how_known(sheet, cell, state)) }
                td { (self.remarks.join("; ")) }
            }
        }
    }

    fn text(&self, sheet: &Sheet) -> String {
        let cell = self.cell;
        let origin = sheet.origin(cell).filter(|o| *o != Origin::Measured);
        let said: Vec<&str> = origin
            .iter()
            .map(|origin| origin.word())
            .chain(self.remarks.iter().map(String::as_str))
            .collect();
        let said = match said.is_empty() {
            true => String::new(),
            false => format!(" ({})", said.join("; ")),
        };
        format!("{}: {}{said}", sheet.name(cell), sheet.shown(cell))
    }
}

fn how_known(sheet: &Sheet, cell: CellId, state: State) -> Markup {
    let given = sheet.reading(cell).is_some() && state == State::Known;
    let way = if given { "reading" } else { "computed" };
    html! {
        @match (state, sheet.origin(cell)) {
            (State::Known, Some(Origin::Measured)) => { span.state.known { (way) } },
            (State::Known, Some(origin)) => {
                span.state.known { (way) } " "
                span class={ "origin " (origin.word()) } { (origin.word()) }
            },
            (state, _) => { span class={ "state " (state.word()) } { (state.word()) } },
        }
    }
}

fn remarks(sheet: &Sheet, cell: CellId) -> Vec<String> {
    let mut said = Vec::new();
    said.extend(sheet.beat_words(cell));
    said.extend(trust_in_full(sheet, cell));
    said.extend(sheet.because(cell));
    said
}

fn advisories_of(sheet: &Sheet, cells: &[CellId]) -> Vec<Advisory> {
    let mut found: Vec<Advisory> = Vec::new();
    for cell in cells {
        for advisory in sheet.advisories(*cell) {
            if !found.iter().any(|a| a.text == advisory.text) {
                found.push(advisory);
            }
        }
    }
    found.sort_by_key(|a| std::cmp::Reverse(a.weight));
    found
}

fn advisory_list(advisories: &[Advisory]) -> Markup {
    html! {
        @if !advisories.is_empty() {
            ul.advisories {
                @for advisory in advisories {
                    @let word = word_of(advisory.weight);
                    li class=(word) {
                        b { (capitalized(word)) } " " (advisory.text) " "
                        small { "(" (advisory.source) ")" }
                    }
                }
            }
        }
    }
}

fn text_lines(
    sheet: &Sheet,
    rows: &[Row],
    advisories: &[Advisory],
    unstated: Option<String>,
) -> String {
    let mut lines: Vec<String> = rows.iter().map(|row| row.text(sheet)).collect();
    lines.extend(
        advisories
            .iter()
            .map(|a| format!("{}: {}", word_of(a.weight), a.text)),
    );
    lines.extend(unstated.map(|note| format!("note: {note}")));
    lines.join("\n")
}

/// `explain NAME`.
pub(super) fn explanation(rendering: &Rendering<'_>, name: &Name) -> Rendered {
    let cell = rendering.cell(name)?;
    let explained = rendering
        .sheet
        .explain(cell)
        .map_err(|e| rendering.error(e.to_string()))?;
    let formulas: Vec<&String> = explained
        .with_symbols
        .iter()
        .chain(&explained.with_numbers)
        .collect();
    let latex = formulas
        .iter()
        .map(|f| format!("$${f}$$"))
        .collect::<Vec<_>>()
        .join("\n");
    let trust = trust_lines(rendering.sheet, cell);
    let html = explanation_html(&explained, &trust).into_string();
    let text = explanation_text(&explained, &trust);
    let output = Output::new(&rendering.id, text, html);
    Ok(match latex.is_empty() {
        true => output,
        false => output.with_latex(latex),
    })
}

fn explanation_html(explained: &Explanation, trust: &[String]) -> Markup {
    let math = |latex: &String| maud::PreEscaped(to_html(latex, MathLayout::Block));
    html! {
        dl.explain {
            dt { (explained.label) }
            dd {
                strong { (explained.value) }
                @if let Some(origin) = explained.origin.filter(|o| *o != "measured") {
                    " " span class={ "origin " (origin) } { (origin) }
                }
                @for because in &explained.because { br; (because) }
            }
            @if let Some(symbols) = &explained.with_symbols {
                dt { "Formula" }
                dd { div.formula { (math(symbols)) } }
            }
            @if let Some(numbers) = &explained.with_numbers {
                dt { "With numbers" }
                dd { div.formula { (math(numbers)) } }
            }
            @if !explained.inputs.is_empty() {
                dt { "From" }
                dd {
                    @for (at, input) in explained.inputs.iter().enumerate() {
                        @if at > 0 { "; " }
                        (input.label) " " span.value { (input.value) }
                        @if let Some(origin) = input.origin.filter(|o| *o != "measured") {
                            " " span class={ "origin " (origin) } { (origin) }
                        }
                    }
                }
            }
            (list("How far to trust it", trust))
            (list("Usual", &explained.usual))
            (list("Takes for granted", &explained.assumptions))
            @if let Some(model) = &explained.model_uncertainty {
                dt { "Uncertainty of the formula itself" }
                dd { (model) }
            }
            @if !explained.source.is_empty() {
                dt { "Source" }
                dd { (explained.source) }
            }
        }
        (advisory_list(&explained.advisories))
    }
}

/// A table of figures; the first field of a row names it.
pub(super) fn figures_table(
    label: &str,
    headings: &[&str],
    rows: &[impl AsRef<[String]>],
) -> Markup {
    html! {
        div.scroll tabindex="0" role="region" aria-label=(label) {
            table {
                thead { tr { @for heading in headings { th scope="col" { (heading) } } } }
                tbody {
                    @for row in rows {
                        tr {
                            @for (at, field) in row.as_ref().iter().enumerate() {
                                @if at == 0 { th scope="row" { (field) } } @else { td.number { (field) } }
                            }
                        }
                    }
                }
            }
        }
    }
}

fn list(heading: &str, lines: &[String]) -> Markup {
    html! {
        @if !lines.is_empty() {
            dt { (heading) }
            dd { @for (at, line) in lines.iter().enumerate() { @if at > 0 { br; } (line) } }
        }
    }
}

/// `cohort NAME from "FILE"`: the counts, and why rows were set aside.
pub(super) fn cohort(rendering: &Rendering<'_>, name: &Name, file: &Name) -> Rendered {
    // An error of the table belongs at the file, which is what cannot be read.
    let cohort = rendering.cohort_at(name, file.place)?;
    let counts = cohort.counts;
    let all = cohort.names();
    let trust = Uncertainties::of(rendering.sheet, cohort, &all);
    let mut line = format!(
        "{}: {} read, {} used, {} set aside",
        name.text,
        counted(counts.read, "row", "rows"),
        counts.used,
        counts.set_aside
    );
    if let Some(exams) = cohort.exams {
        line.push_str(&format!(
            "; {} exams in {} pairs, {} unpaired and set aside",
            exams.read, exams.pairs, exams.unpaired
        ));
    }
    let html = html! {
        div.counts { (line) }
        @for note in &cohort.notes { p { "The table: " (note) } }
        (checked(cohort))
        (set_aside(cohort))
        (held(cohort))
        (trust.markup())
    };
    let mut text = line.clone();
    for note in &cohort.notes {
        text.push_str(&format!("\n  the table: {note}"));
    }
    for found in &cohort.checks {
        text.push_str(&format!("\n  check: {found}"));
    }
    for aside in &cohort.set_aside {
        text.push_str(&format!("\n  row {}: {}", aside.row, aside.reason));
    }
    text.push_str(&trust.text());
    Ok(Output::new(&rendering.id, text, html.into_string()))
}

/// Most rows listed one by one.
const MOST_LISTED: usize = 50;

/// What checks of rows found, which nobody should have to open.
fn checked(cohort: &Cohort) -> Markup {
    html! {
        @if !cohort.checks.is_empty() {
            ul.advisories {
                @for found in &cohort.checks { li { "Checks: " (found) } }
            }
        }
    }
}

fn set_aside(cohort: &Cohort) -> Markup {
    html! {
        @if !cohort.set_aside.is_empty() {
            details {
                summary { (counted(cohort.set_aside.len(), "row", "rows")) " set aside, with the reason" }
                div.scroll tabindex="0" role="region" aria-label="Rows set aside" {
                    table {
                        thead { tr { th scope="col" { "Row" } th scope="col" { "Reason" } } }
                        tbody {
                            @for aside in cohort.set_aside.iter().take(MOST_LISTED) {
                                tr { th scope="row" { (aside.row) } td { (aside.reason) } }
                            }
                        }
                    }
                }
                @if cohort.set_aside.len() > MOST_LISTED {
                    p { "and " (cohort.set_aside.len() - MOST_LISTED) " more" }
                }
            }
        }
    }
}

fn held(cohort: &Cohort) -> Markup {
    html! {
        @if !cohort.advisories.is_empty() {
            details {
                summary { "What to know of these rows" }
                ul.advisories {
                    @for (advisory, rows) in &cohort.advisories {
                        @let word = word_of(advisory.weight);
                        li class=(word) {
                            b { (capitalized(word)) } " in " (rows) " rows: " (advisory.text) " "
                            small { "(" (advisory.source) ")" }
                        }
                    }
                }
            }
        }
    }
}

/// `show NAMES over COHORT`: how each cell is spread over the rows.
pub(super) fn summary(rendering: &Rendering<'_>, names: &[Name], over: &Name) -> Rendered {
    let cohort = rendering.cohort(over)?;
    let names: Vec<&str> = match names.is_empty() {
        true => cohort.names(),
        false => {
            rendering.cells(names)?;
            names.iter().map(|name| name.text.as_str()).collect()
        }
    };
    let rows: Vec<SummaryRow> = names
        .iter()
        .map(|name| SummaryRow::of(rendering.sheet, cohort, name))
        .collect();
    let trust = Uncertainties::of(rendering.sheet, cohort, &names);
    let html = html! {
        div.scroll tabindex="0" role="region" aria-label={ "Summary over " (over.text) } {
            table {
                thead {
                    tr {
                        th scope="col" { "Name" }
                        @for heading in SummaryRow::HEADINGS { th scope="col" { (heading) } }
                    }
                }
                tbody {
                    @for row in &rows {
                        tr {
                            th scope="row" { (row.name) }
                            @for figure in &row.figures { td.number { (figure) } }
                        }
                    }
                }
            }
        }
        (trust.markup())
        p { "Over " (cohort.counts.used) " rows used of " (cohort.counts.read) " read." }
    };
    let text: Vec<String> = rows.iter().map(SummaryRow::text).collect();
    Ok(Output::new(
        &rendering.id,
        text.join("\n") + &trust.text(),
        html.into_string(),
    ))
}

struct SummaryRow {
    name: String,
    figures: [String; 7],
}

impl SummaryRow {
    const HEADINGS: [&str; 7] = [
        "Known",
        "Missing",
        "Median",
        "Lower quartile",
        "Upper quartile",
        "Least",
        "Greatest",
    ];

    fn of(sheet: &Sheet, cohort: &Cohort, name: &str) -> SummaryRow {
        let column = cohort.column(name).unwrap_or(&[]);
        let words = sheet
            .cell(name)
            .map_or(&[][..], |cell| words_of_finding(sheet, cell));
        if !words.is_empty() {
            return SummaryRow::of_words(name, words, cohort);
        }
        let values: Vec<f64> = column.iter().flatten().map(|v| v.value).collect();
        let missing = cohort.counts.used - values.len();
        let at = statistics::quantiles(&values, &[0.5, 0.25, 0.75, 0.0, 1.0]);
        let figure_at = |i: usize| at.as_ref().map_or_else(|_| String::new(), |q| figure(q[i]));
        let unit = sheet.cell(name).and_then(|cell| sheet.unit(cell));
        let name = match unit.map_or("", |u| u.pretty()) {
            "" => name.to_owned(),
            unit => format!("{name} ({unit})"),
        };
        SummaryRow {
            name,
            figures: [
                values.len().to_string(),
                missing.to_string(),
                figure_at(0),
                figure_at(1),
                figure_at(2),
                figure_at(3),
                figure_at(4),
            ],
        }
    }

    /// A finding has no median: its words are counted.
    fn of_words(name: &str, words: &[Arc<str>], cohort: &Cohort) -> SummaryRow {
        let column = cohort.column(name).unwrap_or(&[]);
        let known: Vec<f64> = column.iter().flatten().map(|v| v.value).collect();
        let counts: Vec<String> = words
            .iter()
            .enumerate()
            .map(|(code, word)| {
                let rows = known.iter().filter(|v| **v == code as f64).count();
                format!("{} {rows}", word.replace('_', " "))
            })
            .collect();
        let mut figures: [String; 7] = Default::default();
        figures[0] = known.len().to_string();
        figures[1] = (cohort.counts.used - known.len()).to_string();
        SummaryRow {
            name: format!("{name} ({})", counts.join(", ")),
            figures,
        }
    }

    fn text(&self) -> String {
        let said: Vec<String> = Self::HEADINGS
            .iter()
            .zip(&self.figures)
            .filter(|(_, figure)| !figure.is_empty())
            .map(|(heading, figure)| format!("{} {figure}", heading.to_lowercase()))
            .collect();
        format!("{}: {}", self.name, said.join(", "))
    }
}
