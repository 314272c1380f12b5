//! What an answer is made of: definitions, tables, a drawing, words and cautions, as HTML and as plain text.

use maud::{Markup, PreEscaped, html};

use super::definition::Definition;
use crate::charts::{ChartError, Size};
use crate::formula::notation::{Analysis, Diagnostic};
use crate::notebook::output::Output;
use crate::notebook::render::{Rendered, Rendering};
use crate::notebook::words::sentence;
use crate::sheet::figure;
pub(super) use crate::sheet::level_words;
use crate::statistics::response::Estimate;
use crate::statistics::{Interval, Proportion, StatisticsError, Warning};

pub(super) use crate::cohort::counted;

/// Keeps together what is read together.
const NO_BREAK: &str = "\u{a0}";

/// A table; the first field of a row names it.
#[derive(Debug, Default)]
pub(super) struct Table {
    pub(super) label: String,
    pub(super) headings: Vec<String>,
    pub(super) rows: Vec<Vec<String>>,
}

impl Table {
    pub(super) fn new(label: impl Into<String>, headings: &[&str]) -> Table {
        Table {
            label: label.into(),
            headings: headings.iter().map(|h| (*h).to_owned()).collect(),
            rows: Vec::new(),
        }
    }

    /// A row; fields that it does not have are blank.
    pub(super) fn row(&mut self, fields: impl IntoIterator<Item = String>) {
        let mut row: Vec<String> = fields.into_iter().collect();
        row.resize(self.headings.len().max(row.len()), String::new());
        self.rows.push(row);
    }

    fn markup(&self) -> Markup {
        html! {
            div.scroll tabindex="0" role="region" aria-label=(self.label) {
                table {
                    caption { (self.label) }
                    thead { tr { @for heading in &self.headings { th scope="col" { (heading) } } } }
                    tbody {
                        @for row in &self.rows {
                            tr {
                                @for (at, field) in row.iter().enumerate() {
                                    @if at == 0 { th scope="row" { (field) } } @else { td { (field) } }
                                }
                            }
                        }
                    }
                }
            }
        }
    }

    fn text(&self) -> String {
        let mut lines = vec![format!("{}:", self.label)];
        for row in &self.rows {
            let named = self.headings.iter().zip(row).skip(1);
            let fields: Vec<String> = named
                .filter(|(_, field)| !field.is_empty())
                .map(|(heading, field)| match heading.is_empty() {
                    true => field.clone(),
                    false => format!("{heading}: {field}"),
                })
                .collect();
            let first = row.first().map_or("", String::as_str);
            lines.push(format!("  {first} — {}", fields.join("; ")));
        }
        lines.join("\n").replace(NO_BREAK, " ")
    }
}

/// A drawing with its words.
pub(super) struct Drawing {
    pub(super) svg: String,
    pub(super) description: String,
}

/// An answer being put together.
#[derive(Default)]
pub(super) struct Answer {
    /// What is counted and over which rows; stands above everything.
    pub(super) definitions: Vec<Definition>,
    pub(super) tables: Vec<Table>,
    pub(super) drawing: Option<Drawing>,
    /// Beside the results.
    pub(super) notes: Vec<String>,
    pub(super) cautions: Vec<String>,
}

impl Answer {
    pub(super) fn warn<'w>(&mut self, warnings: impl IntoIterator<Item = &'w Warning>) {
        let said = warnings.into_iter().map(|w| sentence(&w.to_string()));
        self.cautions.extend(said);
    }

    /// Warnings of one thing among several in an answer, which is named before each.
    pub(super) fn warn_of<'w>(
        &mut self,
        what: &str,
        warnings: impl IntoIterator<Item = &'w Warning>,
    ) {
        for warning in warnings {
            self.cautions.push(sentence(&format!("{what}: {warning}")));
        }
    }

    pub(super) fn caution(&mut self, words: impl Into<String>) {
        self.cautions.push(words.into());
    }

    pub(super) fn note(&mut self, words: impl Into<String>) {
        self.notes.push(words.into());
    }

    pub(super) fn define(&mut self, definition: impl Into<Definition>) {
        self.definitions.push(definition.into());
    }

    /// What stays where an answer is asked for briefly: definitions in one paragraph, tables, cautions in one line.
    fn shorten(&mut self) {
        self.drawing = None;
        self.notes.clear();
        let words: Vec<&str> = self.definitions.iter().map(Definition::words).collect();
        self.definitions = vec![words.join(" ").into()];
        if !self.cautions.is_empty() {
            self.cautions = vec![self.cautions.join(" ")];
        }
    }

    fn markup(&self) -> Markup {
        html! {
            @for definition in &self.definitions { (definition.markup()) }
            @for table in &self.tables { (table.markup()) }
            @if let Some(drawing) = &self.drawing {
                figure.chart tabindex="0" { (PreEscaped(&drawing.svg)) }
            }
            @if !self.cautions.is_empty() || !self.notes.is_empty() {
                ul.advisories {
                    @for caution in &self.cautions { li.caution { b { "Caution" } " " (with_code(caution)) } }
                    @for note in &self.notes { li.note { b { "Note" } " " (with_code(note)) } }
                }
            }
        }
    }

    /// The answer as an output.
    pub(super) fn output(mut self, rendering: &Rendering<'_>, analysis: &Analysis) -> Rendered {
        once_each(&mut self.cautions);
        once_each(&mut self.notes);
        if analysis.briefly {
            self.shorten();
        }
        let html = match analysis.briefly {
            true => html! { div.brief { (self.markup()) } },
            false => self.markup(),
        };
        let words = self.definitions.iter().map(|d| d.words().to_owned());
        let mut lines: Vec<String> = words.collect();
        lines.extend(self.tables.iter().map(Table::text));
        lines.extend(self.drawing.iter().map(|d| d.description.clone()));
        lines.extend(self.cautions.iter().map(|c| format!("caution: {c}")));
        lines.extend(self.notes.iter().map(|n| format!("note: {n}")));
        let output = Output::new(&rendering.id, lines.join("\n"), html.into_string());
        Ok(match self.drawing {
            Some(drawing) => output.with_svg(drawing.svg),
            None => output,
        })
    }
}

/// What stands between backticks is notation.
pub(super) fn with_code(words: &str) -> Markup {
    html! {
        @for (at, part) in words.split('`').enumerate() {
            @if at % 2 == 1 { code { (part) } } @else { (part) }
        }
    }
}

fn once_each(lines: &mut Vec<String>) {
    let mut seen: Vec<String> = Vec::new();
    lines.retain(|line| {
        let is_new = !seen.contains(line);
        if is_new {
            seen.push(line.clone());
        }
        is_new
    });
}

/// Width and height of a chart here, px.
pub(super) fn size(
    rendering: &Rendering<'_>,
    width: u32,
    height: u32,
) -> Result<Size, Vec<Diagnostic>> {
    Size::new(width, height).map_err(|e| rendering.error(e.to_string()))
}

/// A statistic that has no answer, at the statement.
pub(super) fn refused(rendering: &Rendering<'_>) -> impl Fn(StatisticsError) -> Vec<Diagnostic> {
    let place = rendering.place;
    move |error| vec![Diagnostic::error(error.to_string(), place)]
}

/// A drawing that failed, at the statement.
pub(super) fn undrawn(rendering: &Rendering<'_>) -> impl Fn(ChartError) -> Vec<Diagnostic> {
    let place = rendering.place;
    move |error| vec![Diagnostic::error(error.to_string(), place)]
}

/// In the place of an interval: the rows of a single patient tell nothing of others.
pub(super) const OF_ONE_PATIENT: &str = "one patient: none";

/// `0.767 (0.703 to 0.831)`.
pub(super) fn with_interval(value: f64, interval: &Interval) -> String {
    format!("{} ({})", figure(value), span(interval))
        .replace(' ', NO_BREAK)
        .replacen(NO_BREAK, " ", 1)
}

/// `0.703 to 0.831`.
pub(super) fn span(interval: &Interval) -> String {
    format!("{} to {}", figure(interval.lower), figure(interval.upper))
}

pub(super) fn estimate(estimate: &Estimate) -> String {
    with_interval(estimate.value, &estimate.interval)
}

/// `74.1 %`, or `0 %`.
pub(super) fn percent(share: f64) -> String {
    format!("{} %", per_cent_figure(share))
}

/// One decimal is as much as a share of some hundreds bears.
fn per_cent_figure(share: f64) -> String {
    let text = format!("{:.1}", 100.0 * share);
    let text = if text == "-0.0" {
        "0.0".to_owned()
    } else {
        text
    };
    text.replace('-', "−")
}

/// `74.1 % (20 of 27)`.
pub(super) fn share(found: &Proportion) -> String {
    let counts = format!("({} of {})", found.count, found.of);
    let share = percent(found.value);
    format!(
        "{} {}",
        share.replace(' ', NO_BREAK),
        counts.replace(' ', NO_BREAK)
    )
}

/// `55.3 to 86.8 %`.
pub(super) fn share_span(interval: &Interval) -> String {
    format!(
        "{} to {} %",
        per_cent_figure(interval.lower),
        per_cent_figure(interval.upper)
    )
}

/// Above intervals of shares.
pub(super) fn wilson_heading(level: f64) -> String {
    format!("{} interval, Wilson", level_words(level))
}

/// A p value as it is printed.
pub(super) fn p_value(p: f64) -> String {
    if p < 0.001 {
        "p < 0.001".to_owned()
    } else {
        format!("p = {p:.3}")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn shares_and_levels_are_said_plainly() {
        assert_eq!(percent(0.0), "0.0 %");
        assert_eq!(percent(20.0 / 27.0), "74.1 %");
        assert_eq!(level_words(0.95), "95 %");
        assert_eq!(level_words(0.998), "99.8 %");
        assert_eq!(level_words(0.58), "58 %");
        assert_eq!(level_words(0.9999994), "99.99994 %");
        assert_eq!(p_value(0.0004), "p < 0.001");
        assert_eq!(p_value(0.0421), "p = 0.042");
        assert_eq!(sentence("only 6 positives"), "Only 6 positives.");
    }

    #[test]
    fn a_caution_is_said_once() {
        let mut lines = vec!["a".to_owned(), "b".to_owned(), "a".to_owned()];
        once_each(&mut lines);
        assert_eq!(lines, ["a", "b"]);
    }
}
