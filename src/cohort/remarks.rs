//! Remarks: what a row's results need said about them, in one field.

use super::apply::ComputedRow;
use crate::formula::CellId;
use crate::quantity::Origin;
use crate::sheet::Sheet;

/// The heading of the column of remarks.
pub(super) const REMARKS: &str = "remarks";

/// Between one remark and the next.
const BETWEEN: &str = " | ";

/// Adds a remark to those that there are.
pub(super) fn remark(remarks: &mut String, text: &str) {
    if !remarks.is_empty() {
        remarks.push_str(BETWEEN);
    }
    remarks.push_str(text);
}

/// Every null among `derived` with its reason, origins other than measured, and cautions.
///
/// Notes are not repeated in every row: a summary counts the rows in which each holds.
pub(super) fn remarks<'t>(
    sheet: &Sheet,
    row: &ComputedRow<'_>,
    derived: &[CellId],
    cautions: impl Iterator<Item = &'t str>,
) -> String {
    let mut parts = nulls(sheet, row, derived);
    parts.extend(origins(sheet, row, derived));
    parts.extend(cautions.map(|text| format!("caution: {text}")));
    parts.join(BETWEEN)
}

/// "lvot_vti has no reading: no stroke_volume, cardiac_output".
fn nulls(sheet: &Sheet, row: &ComputedRow<'_>, derived: &[CellId]) -> Vec<String> {
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
fn origins(sheet: &Sheet, row: &ComputedRow<'_>, derived: &[CellId]) -> Vec<String> {
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
