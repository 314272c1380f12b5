//! Readings that a cell moves with though its slope in them is zero where they stand.
//!
//! The cosine of an angle of 0° is the plainest: whichever way the angle is off, the cosine is less,
//! and its slope there is zero. Linear propagation sees nothing of such a reading (JCGM 100:2008, 5.1.2,
//! note, has terms of higher order for it), and a reading that cancels, such as the diameter in a
//! percentage change, has a slope of zero too. They are told apart by moving them.

use std::collections::BTreeSet;

use super::source::{Cause, Source, Swept, model, reading};
use crate::formula::{CellId, Lane};
use crate::quantity::{Content, Reading};
use crate::sheet::Sheet;

/// What slopes do not show of a cell.
#[derive(Clone, Debug, Default, PartialEq)]
pub(super) struct Flat {
    /// Readings that state an uncertainty.
    pub(super) stated: Vec<CellId>,
    /// Readings that state none.
    pub(super) unstated: Vec<CellId>,
}

/// How much of what slopes show is nothing beside it: half of the second digit of an uncertainty is
/// never less.
const NOTHING: f64 = 0.005;

/// The same of the size of terms that cancel, for rounding.
const ROUNDING: f64 = 1e-9;

/// How far a reading that states no uncertainty is moved, as a share of its value; one of zero is
/// moved by one of its unit.
const SHARE: f64 = 0.1;

/// The readings that a known cell moves with and whose slope is zero, where `standard` is what slopes
/// give. Those that state an uncertainty are moved by one and two standard uncertainties, others by a
/// tenth of their value; each alone, and with all that state an uncertainty a little off.
pub(super) fn flat(sheet: &Sheet, cell: CellId, swept: &Swept, standard: f64) -> Flat {
    let mut found = Flat::default();
    let behind = sheet.may_come_from(cell);
    let without_slope = without_slope(sheet, &behind, swept);
    let readings = without_slope
        .iter()
        .filter(|s| matches!(s.cause, Cause::Reading(_)));
    let readings: Vec<&Source> = readings.collect();
    if readings.is_empty() {
        return found;
    }
    let all = swept.sources.iter().chain(&without_slope);
    let moving = Moving {
        sheet,
        cell,
        behind: behind.iter().copied().collect(),
        standard,
        around: [Vec::new(), a_little_off(sheet, all)],
    };
    for source in readings {
        let at = source.cause.cell();
        let size = swept.cancelled.get(&at).copied().unwrap_or(0.0);
        let steps = steps(sheet, source);
        if moving.moves(at, &steps, size) {
            let list = match source.standard {
                Some(_) => &mut found.stated,
                None => &mut found.unstated,
            };
            list.push(at);
        }
    }
    found
}

/// The causes that a known cell, `behind` which these cells stand, may come from and has no slope in, in order: also those that only a
/// branch not taken now, or a comparison, looks at.
pub(super) fn without_slope(sheet: &Sheet, behind: &[CellId], swept: &Swept) -> Vec<Source> {
    let has_slope = |cause: Cause| swept.sources.iter().any(|s| s.cause == cause);
    let mut found = Vec::new();
    for at in behind.iter().copied() {
        let (as_reading, as_model) = (Cause::Reading(at), Cause::Model(at));
        let formula = sheet.running(at);
        let takes_reading = formula.as_ref().is_none_or(|f| f.tape.uses_reading());
        let is_number = |r: &Reading| matches!(r.content(), Content::Magnitude { .. });
        let has_number = sheet.value(at).is_some() && sheet.reading(at).is_some_and(is_number);
        if takes_reading && has_number && !has_slope(as_reading) {
            found.extend(reading(sheet, at, 0.0));
        }
        if formula.is_some() && !has_slope(as_model) {
            found.extend(model(sheet, at, 0.0));
        }
    }
    found.sort_by_key(|source| source.cause);
    found
}

/// How far to move a reading.
fn steps(sheet: &Sheet, source: &Source) -> Vec<f64> {
    let value = sheet.value(source.cause.cell()).unwrap_or(0.0);
    match source.standard {
        Some(u) => [-2.0, -1.0, 1.0, 2.0].map(|k| k * u).to_vec(),
        None if value == 0.0 => vec![-1.0, 1.0],
        None => vec![-SHARE * value, SHARE * value],
    }
}

/// Readings that state an uncertainty, neighbors off by different parts of it, so that two that
/// cancel do not go together.
fn a_little_off<'s>(sheet: &Sheet, all: impl Iterator<Item = &'s Source>) -> Vec<(CellId, Lane)> {
    let mut off = Vec::new();
    for source in all {
        let (Cause::Reading(at), Some(u)) = (source.cause, source.standard) else {
            continue;
        };
        let side = if at.index().is_multiple_of(2) {
            1.0
        } else {
            -1.0
        };
        let part = side * (1.0 - 0.1 * (at.index() % 7) as f64);
        if let Some(value) = sheet.value(at) {
            off.push((at, Lane::measured(value + part * u)));
        }
    }
    off
}

struct Moving<'s> {
    sheet: &'s Sheet,
    cell: CellId,
    /// The cells that it may come from.
    behind: BTreeSet<CellId>,
    standard: f64,
    /// What stands elsewhere when a reading is moved: nothing, or other readings.
    around: [Vec<(CellId, Lane)>; 2],
}

impl Moving<'_> {
    fn moves(&self, at: CellId, steps: &[f64], size: f64) -> bool {
        self.around.iter().any(|others| {
            let mut others: Vec<(CellId, Lane)> = others
                .iter()
                .filter(|(cell, _)| *cell != at)
                .copied()
                .collect();
            let mut with = |by: f64| {
                let value = self.sheet.value(at).unwrap_or(0.0) + by;
                others.push((at, Lane::measured(value)));
                let is_behind = |cell| self.behind.contains(&cell);
                let lane = self.sheet.if_others(self.cell, &others, is_behind);
                others.pop();
                lane
            };
            let here = with(0.0);
            let mut steps = steps.iter();
            steps.any(|step| self.are_apart(here, with(*step), (size * step).abs()))
        })
    }

    fn are_apart(&self, here: Lane, there: Lane, size: f64) -> bool {
        if !(here.status.is_known() && there.status.is_known()) {
            return here.status.is_known() != there.status.is_known();
        }
        let rounding = ROUNDING * here.value.abs().max(there.value.abs()).max(size);
        (here.value - there.value).abs() > rounding.max(NOTHING * self.standard)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::uncertainty::source::swept;

    /// Names of the readings without a slope that move a cell: stated, then unstated.
    fn found(text: &str, name: &str) -> [String; 2] {
        let sheet = Sheet::read(text).unwrap().sheet;
        let cell = sheet.cell(name).unwrap();
        let flat = flat(&sheet, cell, &swept(&sheet, cell), 0.0);
        [flat.stated, flat.unstated].map(|cells| {
            let names: Vec<String> = cells.iter().map(|c| sheet.name(*c)).collect();
            names.join(" ")
        })
    }

    #[test]
    fn what_is_flat_is_told_from_what_cancels() {
        for (formula, stated, unstated) in [
            ("cos(angle)", "angle", ""),
            ("cos(tilt)", "", "tilt"),
            ("(p - 3)^2", "p", ""),
            ("(q - 2)^2 + p", "", "q"),
            // Each alone does nothing while the other is zero.
            ("x * y", "x y", ""),
            // No slope in the factor while the difference is zero.
            ("p * (x - y)", "p", ""),
            ("p - p", "", ""),
            ("q * p / (q * (p + 1))", "", ""),
            ("(p + x) - p - x", "", ""),
            ("p * 0", "", ""),
            ("if p < 3.5 then 1 else 2", "p", ""),
            ("if p < 9 then 1 else q", "", ""),
            ("min(p, 4.5)", "", ""),
            ("p is known", "", ""),
        ] {
            let cell = match formula.ends_with("known") {
                true => format!("y1 = if {formula} then 1 else 2"),
                false => format!("y1 = {formula}"),
            };
            let text = format!(
                "p = 3 (u = 0.9)\nq = 2\nx = 0 (u = 1)\ny = 0 (u = 1)\nangle = 0 deg (u = 6 deg)\n\
                 tilt = 0 deg\n{cell}"
            );
            assert_eq!(found(&text, "y1"), [stated, unstated], "{formula}");
        }
    }
}
