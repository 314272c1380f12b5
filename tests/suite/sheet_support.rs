//! Small helpers for the tests of sheets.

use semilunar::formula::CellId;
use semilunar::sheet::Sheet;

/// Relative difference allowed between two ways of computing one formula: the order of
/// operations and the constants of unit conversion differ.
pub const ORDER_OF_OPERATIONS: f64 = 1e-12;

/// The sheet of a text that must load without a warning.
pub fn sheet(text: &str) -> Sheet {
    match Sheet::read(text) {
        Ok(loaded) => {
            let warnings = loaded.sources.render(&loaded.warnings);
            assert!(loaded.warnings.is_empty(), "{warnings}\nin\n{text}");
            loaded.sheet
        }
        Err(error) => panic!("{error}\nin\n{text}"),
    }
}

/// The cell of a name that must be there.
pub fn cell(sheet: &Sheet, name: &str) -> CellId {
    sheet
        .cell(name)
        .unwrap_or_else(|| panic!("there is no cell {name}"))
}

/// The value of a cell that must be known, in its unit.
pub fn value(sheet: &Sheet, name: &str) -> f64 {
    let cell = cell(sheet, name);
    sheet
        .value(cell)
        .unwrap_or_else(|| panic!("{name} is not known: {:?}", sheet.because(cell)))
}

/// Names of cells, in order.
pub fn names(sheet: &Sheet, cells: &[CellId]) -> Vec<String> {
    cells.iter().map(|cell| sheet.name(*cell)).collect()
}

/// Whether two numbers agree but for a relative difference.
pub fn agree(a: f64, b: f64, relative: f64) -> bool {
    (a - b).abs() <= relative * a.abs().max(b.abs())
}
