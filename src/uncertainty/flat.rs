//! Readings that a cell moves with though its slope in them is zero where they stand.
//!
//! The cosine of an angle of 0° is the plainest: whichever way the angle is off, the cosine is less,
//! and its slope there is zero. Linear propagation sees nothing of such a reading (JCGM 100:2008, 5.1.2,
//! note, has terms of higher order for it), and a reading that cancels, such as the diameter in a
//! percentage change, has a slope of zero too. They are told apart by moving them.

use super::source::{Cause, Source, Swept, model, reading};
use crate::formula::{CellId, Lane};
use crate::quantity::{Content, Reading};
use crate::sheet::{Sheet, WhatIf};

/// What slopes do not show of a cell.
#[derive(Clone, Debug, Default)]
pub(super) struct Flat {
    /// Readings that state an uncertainty.
    pub(super) stated: Vec<CellId>,
    /// Readings that state none.
    pub(super) unstated: Vec<CellId>,
    /// The causes without a slope that the cell may come from, in order: also those that it does not
    /// move with, and those that only a branch not taken now, or a comparison, looks at.
    pub(super) without_slope: Vec<Source>,
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
    // As with most cells.
    if swept.is_whole {
        return found;
    }
    let behind = sheet.may_come_from(cell);
    found.without_slope = without_slope(sheet, &behind, swept);
    let all = swept.sources.iter().chain(&found.without_slope);
    let mut moving = None;
    for source in &found.without_slope {
        let Cause::Reading(at) = source.cause else {
            continue;
        };
        let moving = moving.get_or_insert_with(|| Moving {
            what_if: sheet.what_if(cell, &behind),
            standard,
            around: [Vec::new(), a_little_off(sheet, all.clone())],
        });
        let size = swept.cancelled.get(&at).copied().unwrap_or(0.0);
        let value = sheet.value(at).unwrap_or(0.0);
        if moving.moves(at, value, &steps(value, source), size) {
            let list = match source.standard {
                Some(_) => &mut found.stated,
                None => &mut found.unstated,
            };
            list.push(at);
        }
    }
    found
}

/// The causes among the cells `behind` a known one that it has no slope in.
fn without_slope(sheet: &Sheet, behind: &[CellId], swept: &Swept) -> Vec<Source> {
    // They are in order.
    let sources = &swept.sources;
    let has_slope = |cause: Cause| sources.binary_search_by_key(&cause, |s| s.cause).is_ok();
    let mut found = Vec::new();
    for at in behind.iter().copied() {
        let (as_reading, as_model) = (Cause::Reading(at), Cause::Model(at));
        let is_number = |r: &Reading| matches!(r.content(), Content::Magnitude { .. });
        let has_number = sheet.value(at).is_some() && sheet.reading(at).is_some_and(is_number);
        if sheet.takes_reading(at) && has_number && !has_slope(as_reading) {
            found.extend(reading(sheet, at, 0.0));
        }
        if !sheet.is_read(at) && !has_slope(as_model) {
            found.extend(model(sheet, at, 0.0));
        }
    }
    found.sort_by_key(|source| source.cause);
    found
}

/// How far to move a reading of this value.
fn steps(value: f64, source: &Source) -> Vec<f64> {
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
    what_if: WhatIf<'s>,
    standard: f64,
    /// What stands elsewhere when a reading is moved: nothing, or other readings.
    around: [Vec<(CellId, Lane)>; 2],
}

impl Moving<'_> {
    /// Whether the cell moves with a reading of this value, and with terms of this size that cancel.
    fn moves(&mut self, at: CellId, value: f64, steps: &[f64], size: f64) -> bool {
        let Moving {
            what_if,
            standard,
            around,
        } = self;
        around.iter().any(|others| {
            let others = others.iter().filter(|(cell, _)| *cell != at);
            let mut others: Vec<(CellId, Lane)> = others.copied().collect();
            let mut with = |by: f64| {
                others.push((at, Lane::measured(value + by)));
                let lane = what_if.lane(&others);
                others.pop();
                lane
            };
            let here = with(0.0);
            let mut steps = steps.iter();
            steps.any(|step| are_apart(here, with(*step), (size * step).abs(), *standard))
        })
    }
}

/// Whether a cell is not the same here and there, beside what slopes show and what rounding makes
/// of terms of this size.
fn are_apart(here: Lane, there: Lane, size: f64, standard: f64) -> bool {
    if !(here.status.is_known() && there.status.is_known()) {
        return here.status.is_known() != there.status.is_known();
    }
    let rounding = ROUNDING * here.value.abs().max(there.value.abs()).max(size);
    (here.value - there.value).abs() > rounding.max(NOTHING * standard)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::uncertainty::source::swept;

    /// Names of the readings without a slope that move a cell: stated, then unstated.
    fn found(text: &str, name: &str) -> [String; 2] {
        let sheet = Sheet::read(text).unwrap().sheet;
        let cell = sheet.cell(name).unwrap();
        let mut swept = swept(&sheet, cell);
        let by_slopes = flat(&sheet, cell, &swept, 0.0);
        // Where there is a slope in all, nothing else would be found.
        swept.is_whole = false;
        let flat = flat(&sheet, cell, &swept, 0.0);
        let causes = |found: &Flat| -> Vec<Cause> {
            let without = found.without_slope.iter();
            without.map(|source| source.cause).collect()
        };
        assert_eq!(causes(&by_slopes), causes(&flat));
        assert_eq!(by_slopes.stated, flat.stated);
        assert_eq!(by_slopes.unstated, flat.unstated);
        [flat.stated, flat.unstated].map(|cells| {
            let names: Vec<String> = cells.iter().map(|c| sheet.name(*c)).collect();
            names.join(" ")
        })
    }

    #[test]
    fn what_is_flat_is_told_from_what_cancels() {
        for (formula, stated, unstated) in [
            // A slope in all there is.
            ("p * q + sqrt(p)", "", ""),
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
