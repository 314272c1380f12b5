//! What a cell rests on.

use crate::formula::CellId;
use crate::sheet::Sheet;

/// The cells that a cell's formulas come back to, itself among them, each once; nothing is asked behind one that `is_enough`.
pub(super) fn rests_on(
    sheet: &Sheet,
    cell: CellId,
    is_enough: impl Fn(CellId) -> bool,
) -> Vec<CellId> {
    let mut found = vec![cell];
    let mut next = 0;
    while let Some(cell) = found.get(next).copied() {
        next += 1;
        if is_enough(cell) {
            continue;
        }
        for input in sheet.inputs(cell) {
            if !found.contains(&input) {
                found.push(input);
            }
        }
    }
    found
}
