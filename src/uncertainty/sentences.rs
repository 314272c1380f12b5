//! Sentences that stand behind the figures of statements: on readings without an uncertainty of their
//! own, on those that two cells share, and on the one to measure first.

use super::linear::{Coupling, Line, Propagated};
use super::words::{Taken, names_of, taken};
use crate::formula::CellId;
use crate::quantity::{Content, Reading};
use crate::sheet::{Sheet, in_sentence};

/// Which uncertainties of one or more budgets were taken from a publication, and from which; nothing
/// where there are none.
pub(crate) fn published_sentence<'l>(
    sheet: &Sheet,
    lines: impl IntoIterator<Item = &'l Line>,
) -> String {
    let words = |taken: Taken| {
        let which = if taken.cells.len() == 1 {
            "that"
        } else {
            "those"
        };
        let verb = if taken.cells.len() == 1 { "is" } else { "are" };
        let names = names_of(sheet, &taken.cells);
        format!("{which} of {names} {verb} taken from {}", taken.source)
    };
    let all: Vec<String> = taken(lines).into_iter().map(words).collect();
    match all.is_empty() {
        true => String::new(),
        false => format!(" Of the uncertainties, {}.", all.join(", ")),
    }
}

/// What an uncertainty is while some reading states none, as a sentence behind others.
pub(crate) fn lower_bound_sentence(sheet: &Sheet, unstated: &[CellId]) -> String {
    match unstated.is_empty() {
        true => String::new(),
        false => format!(
            " The uncertainty is a lower bound: none is stated for {}.",
            names_of(sheet, unstated)
        ),
    }
}

/// What to measure first, as a sentence behind others: the reading that brings the most, or the one
/// that an estimate stands in for.
pub(crate) fn measure_first_sentence(sheet: &Sheet, cell: CellId, found: &Propagated) -> String {
    let Some(line) = found.measure_first() else {
        return String::new();
    };
    let label = |cell| in_sentence(&sheet.label(cell));
    if !line.is_model {
        return format!(" Measure again first: {}.", label(line.cell));
    }
    let stands_in = |at: &CellId| {
        let reading = sheet.reading(*at).map(Reading::content);
        reading == Some(&Content::Unobtainable) && sheet.inputs(*at).contains(&line.cell)
    };
    match sheet.leans_on(cell).into_iter().filter(stands_in).min() {
        Some(reading) => format!(
            " Measure first, instead of estimating it: {}.",
            label(reading)
        ),
        None => format!(
            " Most of it comes from the formula of {}.",
            label(line.cell)
        ),
    }
}

impl Coupling {
    /// What both cells share, each in words.
    pub(crate) fn shared_names(&self, sheet: &Sheet) -> Vec<String> {
        let readings = self.shared.iter().map(|cell| sheet.name(*cell));
        let formulas = self.shared_formulas.iter();
        let formulas = formulas.map(|cell| format!("the formula of {}", sheet.name(*cell)));
        readings.chain(formulas).collect()
    }
}
