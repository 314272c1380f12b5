//! Statements that say how far to trust a cell: budgets, couplings, probabilities.

use maud::{Markup, PreEscaped, html};

use super::charts_of::{Figure, in_unit_of, output, size};
use super::output::Output;
use super::render::{Rendered, Rendering};
use crate::charts::{Share, ShareBars};
use crate::formula::CellId;
use crate::formula::notation::{Diagnostic, Name, number};
use crate::quantity::{Reading, Unit};
use crate::sheet::{Sheet, figure, figure_with_unit, in_sentence, join_unit};
use crate::uncertainty::{
    FREEDOM_UNDEFINED, Propagated, Settings, UncertaintyError, coupling as coupling_of, decide,
    limit_words, propagate, value_and_uncertainty,
};

/// `show budget of NAME`: what each reading adds to the uncertainty, as table and chart.
pub(super) fn budget(rendering: &Rendering<'_>, name: &Name) -> Rendered {
    let budget = budget_of(rendering, name)?;
    let svg = budget
        .chart
        .svg(size(rendering)?)
        .map_err(|e| rendering.error(e.to_string()))?;
    Ok(budget.output(rendering, svg))
}

/// A budget before it is drawn.
pub(super) struct BudgetOf {
    pub cell: CellId,
    pub chart: ShareBars,
    caption: String,
    rows: Vec<[String; 5]>,
}

/// What `show budget of NAME` is to show.
pub(super) fn budget_of(
    rendering: &Rendering<'_>,
    name: &Name,
) -> Result<BudgetOf, Vec<Diagnostic>> {
    let sheet = rendering.sheet;
    let cell = rendering.number_cell(name)?;
    let found = propagated(rendering, cell, name)?;
    Ok(BudgetOf {
        cell,
        chart: share_bars(rendering, cell, &found),
        caption: budget_words(sheet, cell, &found),
        rows: budget_rows(sheet, cell, &found),
    })
}

impl BudgetOf {
    /// Table, drawing and words.
    pub(super) fn output(self, rendering: &Rendering<'_>, svg: String) -> Output {
        let drawn = output(
            rendering,
            Figure {
                description: self.chart.description(),
                caption: self.caption,
                svg,
            },
        );
        let html = html! { (budget_table(&self.rows)) (PreEscaped(&drawn.html)) };
        let lines: Vec<String> = self.rows.iter().map(|row| row.join("; ")).collect();
        let text = format!("{}\n{}", lines.join("\n"), drawn.text);
        Output {
            html: html.into_string(),
            text,
            ..drawn
        }
    }
}

fn propagated(
    rendering: &Rendering<'_>,
    cell: CellId,
    name: &Name,
) -> Result<Propagated, Vec<Diagnostic>> {
    let sheet = rendering.sheet;
    let found = propagate(sheet, cell, &Settings::of(sheet)).map_err(|e| at(name, &e))?;
    if found.budget.is_empty() {
        if let Some(words) = limit_words(sheet, cell) {
            return Err(vec![Diagnostic::error(words, name.place)]);
        }
        if found.unstated.is_empty() {
            let cell = name.text.clone();
            return Err(at(name, &UncertaintyError::Exact { cell }));
        }
        let names = names_of(sheet, &found.unstated);
        let message = format!("nothing is known of the uncertainty of `{}`", name.text);
        let error = Diagnostic::error(message, name.place);
        let hint = format!("state one for a reading, such as `(u = 1 mm)`: {names}");
        return Err(vec![error.hint(hint)]);
    }
    Ok(found)
}

pub(super) fn at(name: &Name, error: &UncertaintyError) -> Vec<Diagnostic> {
    vec![Diagnostic::error(error.to_string(), name.place)]
}

pub(super) fn names_of(sheet: &Sheet, cells: &[CellId]) -> String {
    let names: Vec<String> = cells.iter().map(|c| sheet.name(*c)).collect();
    names.join(", ")
}

pub(super) fn unit_of(sheet: &Sheet, cell: CellId) -> Unit {
    sheet.unit(cell).unwrap_or(Unit::ONE)
}

/// A cause's words: a reading, or the formula of a cell itself.
fn cause(sheet: &Sheet, cell: CellId, is_model: bool) -> String {
    match is_model {
        true => format!("the formula of {}", in_sentence(&sheet.label(cell))),
        false => sheet.label(cell),
    }
}

const BUDGET_HEADINGS: [&str; 5] = [
    "Cause",
    "Standard uncertainty",
    "Sensitivity coefficient",
    "Contribution",
    "Share of the variance",
];

fn budget_rows(sheet: &Sheet, cell: CellId, found: &Propagated) -> Vec<[String; 5]> {
    let unit = unit_of(sheet, cell);
    let mut rows: Vec<[String; 5]> = found
        .budget
        .iter()
        .map(|line| {
            let own = unit_of(sheet, line.cell);
            let per = match (unit.pretty(), own.pretty()) {
                (a, "") => a.to_owned(),
                (a, b) => format!("{a} per {b}"),
            };
            [
                cause(sheet, line.cell, line.is_model),
                figure_with_unit(line.standard, own),
                format!("{} {per}", figure(line.sensitivity)),
                figure_with_unit(line.contribution.abs(), unit),
                percent(line.share),
            ]
        })
        .collect();
    if found.correlated_share != 0.0 {
        let empty = String::new;
        rows.push([
            "correlations".into(),
            empty(),
            empty(),
            empty(),
            percent(found.correlated_share),
        ]);
    }
    rows
}

pub(super) fn percent(share: f64) -> String {
    format!("{} %", figure(share * 100.0))
}

fn budget_table(rows: &[[String; 5]]) -> Markup {
    html! {
        div.scroll tabindex="0" role="region" aria-label="Uncertainty budget" {
            table {
                thead { tr { @for heading in BUDGET_HEADINGS { th scope="col" { (heading) } } } }
                tbody {
                    @for row in rows {
                        tr {
                            th scope="row" { (row[0]) }
                            @for field in &row[1..] { td.number { (field) } }
                        }
                    }
                }
            }
        }
    }
}

fn share_bars(rendering: &Rendering<'_>, cell: CellId, found: &Propagated) -> ShareBars {
    let sheet = rendering.sheet;
    let mut shares: Vec<Share> = found
        .budget
        .iter()
        .map(|line| Share::new(cause(sheet, line.cell, line.is_model), line.share * 100.0))
        .collect();
    if found.correlated_share != 0.0 {
        shares.push(Share::new("correlations", found.correlated_share * 100.0));
    }
    let of = in_sentence(&sheet.label(cell));
    ShareBars {
        title: format!("Where the uncertainty of the {of} comes from"),
        key: rendering.id.clone(),
        label: "Share of the variance".into(),
        shares,
    }
}

fn budget_words(sheet: &Sheet, cell: CellId, found: &Propagated) -> String {
    let unit = unit_of(sheet, cell);
    let [value, u] = value_and_uncertainty(found.value, found.standard);
    let mut words = format!(
        "{}: {}, standard uncertainty {}; {} coverage interval {} to {}.",
        sheet.label(cell),
        join_unit(&value, unit),
        join_unit(&u, unit),
        level_words(found.coverage.level),
        figure(found.coverage.low),
        figure_with_unit(found.coverage.high, unit),
    );
    if found.freedom_undefined {
        let (first, rest) = FREEDOM_UNDEFINED.split_at(1);
        words.push_str(&format!(" {}{rest}.", first.to_uppercase()));
    }
    if let Some(first) = found.measure_again_first() {
        words.push_str(&format!(
            " Measure again first: {}.",
            in_sentence(&sheet.label(first))
        ));
    }
    words.push_str(&lower_bound_words(sheet, &found.unstated));
    words.push_str(&limit_sentence(sheet, cell));
    words
}

/// Where the linear figures of a cell do not hold, as a sentence behind others.
fn limit_sentence(sheet: &Sheet, cell: CellId) -> String {
    let words = limit_words(sheet, cell);
    words.map_or_else(String::new, |words| format!(" But {words}."))
}

/// A level of coverage in per cent.
pub(super) fn level_words(level: f64) -> String {
    format!("{} %", number(level * 100.0))
}

pub(super) fn lower_bound_words(sheet: &Sheet, unstated: &[CellId]) -> String {
    match unstated.is_empty() {
        true => String::new(),
        false => format!(
            " A lower bound: no uncertainty is stated for {}.",
            names_of(sheet, unstated)
        ),
    }
}

/// `show coupling of NAME, NAME`.
pub(super) fn coupling(rendering: &Rendering<'_>, first: &Name, second: &Name) -> Rendered {
    let sheet = rendering.sheet;
    let (a, b) = (
        rendering.number_cell(first)?,
        rendering.number_cell(second)?,
    );
    let found = coupling_of(sheet, a, b, &Settings::of(sheet)).map_err(|e| at(first, &e))?;
    let shared = match found.shared.is_empty() {
        true => "share no reading".to_owned(),
        false => format!("share {}", names_of(sheet, &found.shared)),
    };
    let limits = [a, b].map(|cell| limit_sentence(sheet, cell)).concat();
    let correlation = match found.correlation {
        Some(r) => format!(
            "Error alone would correlate them by {}.",
            format!("{r:.2}").replace('-', "−")
        ),
        None if limits.is_empty() => {
            "No uncertainty is stated that would correlate them.".to_owned()
        }
        None => "Slopes show no correlation.".to_owned(),
    };
    let mut words = format!(
        "{} and {} {shared}. {correlation}",
        sheet.label(a),
        in_sentence(&sheet.label(b))
    );
    words.push_str(&limits);
    Ok(paragraph(rendering, words))
}

pub(super) fn paragraph(rendering: &Rendering<'_>, words: String) -> Output {
    let html = html! { p { (words) } };
    Output::new(&rendering.id, words, html.into_string())
}

/// `show probability of NAME > 15 %`.
pub(super) fn probability(
    rendering: &Rendering<'_>,
    name: &Name,
    above: bool,
    threshold: &Reading,
) -> Rendered {
    let sheet = rendering.sheet;
    let cell = rendering.number_cell(name)?;
    let (limit, limit_text) = in_unit_of(rendering, (name, cell), threshold)?;
    let found = propagated(rendering, cell, name).map_err(|errors| {
        let limits = limit_words(sheet, cell);
        let hint =
            limits.map(|_| "with `by simulation` behind it the statement counts draws".into());
        errors
            .into_iter()
            .map(|e| e.hint_if(hint.clone()))
            .collect::<Vec<_>>()
    })?;
    let Some(over) = decide::probability_above(&found, limit) else {
        return Err(rendering.error("no uncertainty is stated, so there is no probability"));
    };
    let (share, side) = match above {
        true => (over, "above"),
        false => (1.0 - over, "below"),
    };
    let by_draws = match limit_words(sheet, cell) {
        Some(_) => " With `by simulation` behind it the statement counts draws instead.",
        None => "",
    };
    let words = format!(
        "{}: {}; the probability that the true value is {side} {limit_text} is {}, from the stated uncertainty alone.{}{}",
        sheet.label(cell),
        sheet.shown(cell),
        percent(share),
        lower_bound_words(sheet, &found.unstated),
        limit_sentence(sheet, cell) + by_draws,
    );
    Ok(paragraph(rendering, words))
}
