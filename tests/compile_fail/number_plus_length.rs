//! A bare number and a length do not add, in either order, nor do formulas of them subtract.
use semilunar::formula::typed::Length;
use semilunar::sheet::Sheet;

pub fn sum(sheet: &mut Sheet) {
    let vti = sheet.input::<Length>("cm").unwrap();
    let _ = vti + 1.0;
    let _ = 1.0 - vti * 2.0;
}
