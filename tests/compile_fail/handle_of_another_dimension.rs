//! A handle is of the dimension it was made for.
use semilunar::formula::typed::{Area, Flow, Handle, Length, Rate, Volume};
use semilunar::sheet::Sheet;

pub fn flow(volume: Handle<Volume>, rate: Handle<Rate>, sheet: &mut Sheet) -> Handle<Flow> {
    sheet.define::<Flow>(volume * rate, "L/min").unwrap()
}

pub fn mistaken(sheet: &mut Sheet) {
    let area = sheet.input::<Area>("cm2").unwrap();
    let rate = sheet.input::<Rate>("/min").unwrap();
    let _ = flow(area, rate, sheet);
}

pub fn forgotten_factor(sheet: &mut Sheet, area: Handle<Area>) -> Handle<Length> {
    sheet.define::<Length>(area * 2.0, "cm").unwrap()
}
