//! Logarithms and exponentials are of bare numbers.
use semilunar::formula::typed::{Length, NumberExt, TermExt};
use semilunar::sheet::Sheet;

pub fn logarithm(sheet: &mut Sheet) {
    let vti = sheet.input::<Length>("cm").unwrap();
    let _ = (vti / vti).ln();
    let _ = vti.abs().ln();
}
