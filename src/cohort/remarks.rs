//! Remarks: what a row's results need said about them, in one field.

use super::apply::UsedRow;
use crate::formula::CellId;
use crate::hemodynamics::Weight;
use crate::quantity::Origin;
use crate::sheet::{Advisory, Sheet};

/// Between one remark and the next.
const BETWEEN: &str = " | ";

/// Every null among `derived` with its reason, origins other than measured, and cautions.
///
/// Notes are not repeated in every row: a summary counts the rows in which each holds.
pub fn remarks(sheet: &Sheet, row: &UsedRow<'_>, derived: &[CellId], texts: &[Advisory]) -> String {
    let mut parts = nulls(sheet, row, derived);
    parts.extend(origins(sheet, row, derived));
    let mut cautions: Vec<String> = Vec::new();
    for at in row.advisories() {
        if texts[at].weight == Weight::Caution {
            let caution = format!("caution: {}", texts[at].text);
            if !cautions.contains(&caution) {
                cautions.push(caution);
            }
        }
    }
    parts.extend(cautions);
    parts.join(BETWEEN)
}

/// How often each piece of advice held.
pub(super) struct HeldAdvice {
    /// Each text once, though several cells may have it.
    distinct: Vec<Advisory>,
    /// Which of them each rule would show.
    of_rule: Vec<usize>,
    rows: Vec<usize>,
}

impl HeldAdvice {
    pub(super) fn new(texts: &[Advisory]) -> HeldAdvice {
        let mut distinct: Vec<Advisory> = Vec::new();
        let of_rule = texts
            .iter()
            .map(|advisory| {
                let known = distinct.iter().position(|a| a.text == advisory.text);
                known.unwrap_or_else(|| {
                    distinct.push(advisory.clone());
                    distinct.len() - 1
                })
            })
            .collect();
        HeldAdvice {
            rows: vec![0; distinct.len()],
            distinct,
            of_rule,
        }
    }

    /// Counts a row: once for each text, on however many cells it holds.
    pub(super) fn count(&mut self, row: &UsedRow<'_>) {
        let mut held: Vec<usize> = row
            .advisories()
            .into_iter()
            .map(|r| self.of_rule[r])
            .collect();
        held.sort_unstable();
        held.dedup();
        for at in held {
            self.rows[at] += 1;
        }
    }

    /// The advice that held at all with its rows, cautions first, then by how often.
    pub(super) fn into_counts(self) -> Vec<(Advisory, usize)> {
        let mut counts: Vec<(Advisory, usize)> = self
            .distinct
            .into_iter()
            .zip(self.rows)
            .filter(|(_, rows)| *rows > 0)
            .collect();
        counts.sort_by_key(|(advisory, rows)| std::cmp::Reverse((advisory.weight, *rows)));
        counts
    }
}

/// "lvot_vti has no reading: no stroke_volume, cardiac_output".
fn nulls(sheet: &Sheet, row: &UsedRow<'_>, derived: &[CellId]) -> Vec<String> {
    let mut by_reason: Vec<(String, Vec<String>)> = Vec::new();
    for cell in derived {
        if row.lane(*cell).is_some_and(|lane| lane.status.is_known()) {
            continue;
        }
        let reason = row.because(*cell).join("; ");
        match by_reason.iter_mut().find(|(r, _)| *r == reason) {
            Some((_, names)) => names.push(sheet.name(*cell)),
            None => by_reason.push((reason, vec![sheet.name(*cell)])),
        }
    }
    by_reason
        .into_iter()
        .map(|(reason, names)| format!("{reason}: no {}", names.join(", ")))
        .collect()
}

/// "estimated: stroke_volume, cardiac_output".
fn origins(sheet: &Sheet, row: &UsedRow<'_>, derived: &[CellId]) -> Vec<String> {
    [Origin::Estimated, Origin::Assumed]
        .into_iter()
        .filter_map(|origin| {
            let names: Vec<String> = derived
                .iter()
                .filter(|cell| {
                    row.lane(**cell).is_some_and(|lane| {
                        lane.status.is_known() && lane.status.origin() == origin
                    })
                })
                .map(|cell| sheet.name(*cell))
                .collect();
            (!names.is_empty()).then(|| format!("{}: {}", origin.word(), names.join(", ")))
        })
        .collect()
}
