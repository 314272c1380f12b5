//! Handles are places, not values: they are not compared.
use semilunar::formula::typed::Length;
use semilunar::sheet::Sheet;

pub fn larger(sheet: &mut Sheet) -> bool {
    let before = sheet.input::<Length>("cm").unwrap();
    let after = sheet.input::<Length>("cm").unwrap();
    before < after
}
