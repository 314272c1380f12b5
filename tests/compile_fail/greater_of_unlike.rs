//! The greater of a mass and a length, and one in place of the other.
use semilunar::formula::typed::{Length, Mass, TermExt};
use semilunar::sheet::Sheet;

pub fn greater(sheet: &mut Sheet) {
    let height = sheet.input::<Length>("cm").unwrap();
    let weight = sheet.input::<Mass>("kg").unwrap();
    let _ = height.max(weight);
    let _ = height.or_else(weight);
}
