//! Statements that say how far to trust a cell: budgets and couplings.

use maud::{PreEscaped, html};

use super::charts_of::{Figure, output, size};
use super::output::Output;
use super::render::{Rendered, Rendering};
use super::tables::figures_table;
use crate::charts::{Share, ShareBars};
use crate::formula::CellId;
use crate::formula::notation::{Diagnostic, Name};
use crate::quantity::Unit;
use crate::sheet::{Sheet, figure, figure_with_unit, in_sentence, join_unit};
use crate::uncertainty::{
    Coupling, Line, Propagated, Settings, UncertaintyError, coupling as coupling_of,
    interval_words, limit_words, limits_of, lower_bound_sentence, measure_first_sentence, names_of,
    propagate, published_sentence, to_place_of, value_and_uncertainty,
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
        let table = figures_table("Uncertainty budget", &BUDGET_HEADINGS, &self.rows);
        let html = html! { (table) (PreEscaped(&drawn.html)) };
        let lines: Vec<String> = self.rows.iter().map(|row| row.join("; ")).collect();
        let text = format!("{}\n{}", lines.join("\n"), drawn.text);
        Output {
            html: html.into_string(),
            text,
            ..drawn
        }
    }
}

pub(super) fn propagated(
    rendering: &Rendering<'_>,
    cell: CellId,
    name: &Name,
) -> Result<Propagated, Vec<Diagnostic>> {
    let sheet = rendering.sheet;
    let found = propagate(sheet, cell, &Settings::of(sheet)).map_err(|e| at(name, &e))?;
    if !found.says_something() {
        if let Some(words) = limit_words(sheet, cell) {
            return Err(vec![Diagnostic::error(words, name.place)]);
        }
        if found.unstated.is_empty() {
            let cell = name.text.clone();
            return Err(at(name, &UncertaintyError::Exact { cell }));
        }
        let message = format!("nothing is known of the uncertainty of `{}`", name.text);
        let error = Diagnostic::error(message, name.place);
        let names = names_of(sheet, &found.unstated);
        let hint = format!("state one for a reading, such as `(u = 1 mm)`: {names}");
        return Err(vec![error.hint(hint)]);
    }
    Ok(found)
}

pub(super) fn at(name: &Name, error: &UncertaintyError) -> Vec<Diagnostic> {
    vec![Diagnostic::error(error.to_string(), name.place)]
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
        "{}: {}, standard uncertainty {}; {}.",
        sheet.label(cell),
        join_unit(&value, unit),
        join_unit(&u, unit),
        interval_words(sheet, cell, found).unwrap_or_default(),
    );
    words.push_str(&measure_first_sentence(sheet, cell, found));
    words.push_str(&published_sentence(sheet, &found.budget));
    words.push_str(&lower_bound_sentence(sheet, &found.unstated));
    words.push_str(&but(limits_of(sheet, cell, found)));
    words
}

/// Where the linear figures of a cell do not hold, as a sentence behind others.
pub(super) fn limit_sentence(sheet: &Sheet, cell: CellId) -> String {
    but(limit_words(sheet, cell))
}

/// Limits as a sentence behind others.
pub(super) fn but(words: Option<String>) -> String {
    words.map_or_else(String::new, |words| format!(" But {words}."))
}

/// `show coupling of NAME, NAME`.
pub(super) fn coupling(rendering: &Rendering<'_>, first: &Name, second: &Name) -> Rendered {
    let sheet = rendering.sheet;
    let (a, b) = (
        rendering.number_cell(first)?,
        rendering.number_cell(second)?,
    );
    let found = coupling_of(sheet, a, b, &Settings::of(sheet)).map_err(|e| at(first, &e))?;
    let shared = found.shared_names(sheet);
    let limits = [a, b].map(|cell| limit_sentence(sheet, cell)).concat();
    let mut words = format!(
        "{} and {} share {}. {}",
        sheet.label(a),
        in_sentence(&sheet.label(b)),
        shared_words(&shared),
        correlation_words(sheet, &found, &shared, limits.is_empty()),
    );
    if found.correlation.is_some() && !found.is_open() {
        let lines = [a, b].map(|cell| budget_lines(sheet, cell));
        words.push_str(&published_sentence(sheet, lines.iter().flatten()));
    }
    words.push_str(&limits);
    Ok(paragraph(rendering, words))
}

/// What two cells share, behind `share`.
pub(super) fn shared_words(names: &[String]) -> String {
    match names.is_empty() {
        true => "no reading".to_owned(),
        false => names.join(", "),
    }
}

/// Whether nothing correlates the errors of two cells that share these.
pub(super) fn are_uncorrelated(sheet: &Sheet, shared: &[String]) -> bool {
    // Readings that are not shared may still be said to be correlated.
    shared.is_empty() && Settings::of(sheet).correlations.is_empty()
}

/// The correlation by error alone, and which readings count for nothing in it.
fn correlation_words(
    sheet: &Sheet,
    found: &Coupling,
    shared: &[String],
    is_linear: bool,
) -> String {
    let none = names_of(sheet, &found.unstated);
    let Some(r) = found.correlation.filter(|_| !found.is_open()) else {
        return match found.unstated.is_empty() {
            _ if !is_linear => "Slopes show no correlation.".to_owned(),
            _ if are_uncorrelated(sheet, shared) => {
                "Error alone does not correlate them.".to_owned()
            }
            true => "No uncertainty is stated that would correlate them.".to_owned(),
            false => format!(
                "What error alone would correlate them by is not known: no uncertainty is stated for {none}."
            ),
        };
    };
    let mut words = format!("Error alone would correlate them by {}.", hundredths(r));
    if (r != 0.0 || !shared.is_empty()) && !none.is_empty() {
        words.push_str(&format!(
            " The uncertainty of {none} is not stated and not counted."
        ));
    }
    words
}

/// A correlation in hundredths, as though it were uncertain by a tenth.
pub(super) fn hundredths(r: f64) -> String {
    let [said] = to_place_of(0.1, [r]);
    said
}

/// The budget of a cell; nothing where there is none.
pub(super) fn budget_lines(sheet: &Sheet, cell: CellId) -> Vec<Line> {
    let found = propagate(sheet, cell, &Settings::of(sheet));
    found.map_or_else(|_| Vec::new(), |found| found.budget)
}

pub(super) fn paragraph(rendering: &Rendering<'_>, words: String) -> Output {
    let html = html! { p { (words) } };
    Output::new(&rendering.id, words, html.into_string())
}
