//! What is said of readings without an uncertainty of their own.

use super::flat::flat;
use super::linear::{Line, Propagated, swept_checked, unstated};
use crate::formula::CellId;
use crate::sheet::Sheet;

/// What is said in short of a cell of which no reading states an uncertainty.
pub(crate) const NONE_STATED: &str = "no uncertainty stated";

/// The readings that a cell with a number rests on, where none of them states an uncertainty and
/// nothing else brings one; empty for every other cell.
///
/// ```
/// use semilunar::sheet::Sheet;
/// use semilunar::uncertainty::nothing_stated;
///
/// let sheet = Sheet::read("a = 2 cm\nb = 3 cm (u = 1 mm)\nc = 2 * a\nd = a + b").unwrap().sheet;
/// let [a, c, d] = ["a", "c", "d"].map(|name| sheet.cell(name).unwrap());
/// assert_eq!(nothing_stated(&sheet, c), [a]);
/// assert_eq!(nothing_stated(&sheet, d), []);
/// ```
pub fn nothing_stated(sheet: &Sheet, cell: CellId) -> Vec<CellId> {
    if sheet.value(cell).is_none() || !sheet.words(cell).is_empty() {
        return Vec::new();
    }
    let Ok(swept) = swept_checked(sheet, cell) else {
        return Vec::new();
    };
    if swept.sources.iter().any(|s| s.standard.is_some()) {
        return Vec::new();
    }
    let without_slope = flat(sheet, cell, &swept, 0.0).unstated;
    let of_slopes = swept.sources.iter().filter_map(unstated);
    let mut all: Vec<CellId> = of_slopes.chain(without_slope).collect();
    all.sort_unstable();
    all
}

/// What there is to know of those of the cells that rest on other readings of which none states an
/// uncertainty, once for all of them; `None` where there are none.
pub fn unstated_note(sheet: &Sheet, cells: &[CellId]) -> Option<String> {
    let mut readings: Vec<CellId> = Vec::new();
    for cell in cells {
        // A reading itself says enough in short.
        let behind = nothing_stated(sheet, *cell);
        for reading in behind.into_iter().filter(|reading| reading != cell) {
            if !readings.contains(&reading) {
                readings.push(reading);
            }
        }
    }
    (!readings.is_empty()).then(|| unstated_note_about(&names_of(sheet, &readings)))
}

/// The note on readings of these names.
pub(crate) fn unstated_note_about(names: &str) -> String {
    format!(
        "No uncertainty is stated for {names}: how far to trust what rests on no other reading is \
         not known."
    )
}

/// What there is to know of one cell that rests on readings of which none states an uncertainty, with
/// all their names; `None` where some uncertainty is stated, or nothing that it rests on could have
/// one.
pub(super) fn silent_words(sheet: &Sheet, cell: CellId, found: &Propagated) -> Option<String> {
    if found.says_something() || found.unstated.is_empty() {
        return None;
    }
    Some(match found.unstated[..] == [cell] {
        true => "not known: it states no uncertainty".to_owned(),
        false => format!(
            "not known: no reading that it rests on states an uncertainty ({})",
            names_of(sheet, &found.unstated)
        ),
    })
}

/// Names of cells in a list.
pub(crate) fn names_of(sheet: &Sheet, cells: &[CellId]) -> String {
    let names: Vec<String> = cells.iter().map(|cell| sheet.name(*cell)).collect();
    names.join(", ")
}

/// Uncertainties of readings that were taken from one publication.
pub(super) struct Taken {
    pub(super) source: &'static str,
    pub(super) cells: Vec<CellId>,
}

impl Taken {
    /// Which ones they are: "that of lvot_vti", "those of lvot_vti, heart_rate".
    pub(super) fn which(&self, sheet: &Sheet) -> String {
        let which = if self.cells.len() == 1 {
            "that"
        } else {
            "those"
        };
        format!("{which} of {}", names_of(sheet, &self.cells))
    }
}

/// The uncertainties of a budget that were taken from publications, by publication.
pub(super) fn taken<'l>(lines: impl IntoIterator<Item = &'l Line>) -> Vec<Taken> {
    let mut all: Vec<Taken> = Vec::new();
    for line in lines {
        let Some(source) = line.published else {
            continue;
        };
        match all.iter_mut().find(|taken| taken.source == source) {
            Some(taken) if taken.cells.contains(&line.cell) => {}
            Some(taken) => taken.cells.push(line.cell),
            None => all.push(Taken {
                source,
                cells: vec![line.cell],
            }),
        }
    }
    all
}

/// Which uncertainties of a budget were taken from a publication, and from which: "that of
/// lvot_vti taken from …".
pub(super) fn published_words(sheet: &Sheet, lines: &[Line]) -> Option<String> {
    let words = |taken: Taken| format!("{} taken from {}", taken.which(sheet), taken.source);
    let all: Vec<String> = taken(lines).into_iter().map(words).collect();
    (!all.is_empty()).then(|| all.join(", "))
}
