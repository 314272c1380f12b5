//! An area and a length do not add.
use semilunar::formula::typed::{Area, Length};
use semilunar::sheet::Sheet;

pub fn sum(sheet: &mut Sheet) {
    let area = sheet.input::<Area>("cm2").unwrap();
    let vti = sheet.input::<Length>("cm").unwrap();
    let _ = area + vti;
}
