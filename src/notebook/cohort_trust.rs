//! How far to trust the results of a cohort's rows: what `with uncertainty of` brings.

use maud::{Markup, html};

use crate::cohort::{Cohort, UncertaintyCounts};
use crate::notebook::words::sentence;
use crate::quantity::Unit;
use crate::sheet::{Sheet, figure, figure_with_unit};
use crate::statistics;

/// The standard uncertainties of one result over the rows used.
struct Row {
    name: String,
    figures: [String; 7],
}

const HEADINGS: [&str; 7] = [
    "Rows with one",
    "Median",
    "Lower quartile",
    "Upper quartile",
    "Median share of the value",
    "Rows in which it is a lower bound",
    "Rows in which linear figures do not hold",
];

/// A table of the standard uncertainties that a cohort was asked for, of `names` alone or of all.
pub(super) struct Uncertainties {
    rows: Vec<Row>,
    notes: Vec<String>,
}

impl Uncertainties {
    pub(super) fn of(sheet: &Sheet, cohort: &Cohort, names: &[&str]) -> Uncertainties {
        let asked = cohort.uncertainties.iter();
        let asked = asked.filter(|counts| names.contains(&&*counts.name));
        let mut found = Uncertainties {
            rows: Vec::new(),
            notes: Vec::new(),
        };
        for counts in asked {
            found.rows.push(Row::of(sheet, cohort, counts));
            let said_of = counts.lower_bound + counts.without + counts.not_linear;
            let is_plain = said_of == 0 && counts.published.is_empty();
            if !is_plain {
                found.notes.push(sentence(&counts.to_string()));
            }
        }
        found
    }

    pub(super) fn markup(&self) -> Markup {
        html! {
            @if !self.rows.is_empty() {
                div.scroll tabindex="0" role="region" aria-label="Standard uncertainties" {
                    table {
                        caption { "Standard uncertainties" }
                        thead { tr {
                            th scope="col" { "Name" }
                            @for heading in HEADINGS { th scope="col" { (heading) } }
                        } }
                        tbody {
                            @for row in &self.rows {
                                tr {
                                    th scope="row" { (row.name) }
                                    @for figure in &row.figures { td.number { (figure) } }
                                }
                            }
                        }
                    }
                }
                @if !self.notes.is_empty() {
                    ul.advisories { @for note in &self.notes { li.note { b { "Note" } " " (note) } } }
                }
            }
        }
    }

    /// Lines for a terminal, each after a line break.
    pub(super) fn text(&self) -> String {
        let mut text = String::new();
        for row in &self.rows {
            let figures = HEADINGS.iter().zip(&row.figures);
            let figures = figures.filter(|(_, figure)| !figure.is_empty());
            let figures: Vec<String> = figures.map(|(h, f)| format!("{h} {f}")).collect();
            text.push_str(&format!("\n{} (u): {}", row.name, figures.join("; ")));
        }
        for note in &self.notes {
            text.push_str(&format!("\nnote: {note}"));
        }
        text
    }
}

impl Row {
    fn of(sheet: &Sheet, cohort: &Cohort, counts: &UncertaintyCounts) -> Row {
        let name = &counts.name;
        let unit = sheet.cell(name).and_then(|cell| sheet.unit(cell));
        let unit = unit.unwrap_or(Unit::ONE);
        let uncertainties = cohort.uncertainty(name).unwrap_or(&[]);
        let values = cohort.column(name).unwrap_or(&[]);
        let (mut standards, mut shares) = (Vec::new(), Vec::new());
        for (uncertainty, value) in uncertainties.iter().zip(values) {
            let (Some(standard), Some(value)) =
                (uncertainty.as_ref().and_then(|u| u.standard), value)
            else {
                continue;
            };
            standards.push(standard);
            if value.value != 0.0 {
                shares.push(100.0 * standard / value.value.abs());
            }
        }
        let at = statistics::quantiles(&standards, &[0.5, 0.25, 0.75]).unwrap_or_default();
        let shown = |i: usize| {
            at.get(i)
                .map_or_else(String::new, |u| figure_with_unit(*u, unit))
        };
        let share = statistics::quantiles(&shares, &[0.5]).unwrap_or_default();
        // A share of a per cent would be read as its square.
        let share = share.first().filter(|_| !unit.dimension().is_none());
        Row {
            name: name.clone(),
            figures: [
                standards.len().to_string(),
                shown(0),
                shown(1),
                shown(2),
                share.map_or_else(String::new, |share| format!("{} %", figure(*share))),
                counts.lower_bound.to_string(),
                counts.not_linear.to_string(),
            ],
        }
    }
}
