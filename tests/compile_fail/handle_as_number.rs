//! A handle holds no number: the sheet does.
use semilunar::formula::typed::Length;
use semilunar::sheet::Sheet;

pub fn number(sheet: &mut Sheet) -> f64 {
    let vti = sheet.input::<Length>("cm").unwrap();
    let doubled: f64 = 2.0 * vti;
    doubled
}
