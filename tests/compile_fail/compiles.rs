//! What does compile, so that a case cannot fail for want of the library.
use semilunar::formula::typed::exponents::P2;
use semilunar::formula::typed::{Area, Flow, Length, Number, NumberExt, PI, Rate, TermExt, literal};
use semilunar::sheet::Sheet;
use semilunar::sheet::typed::DefineError;

pub fn cardiac_output(sheet: &mut Sheet) -> Result<Option<f64>, DefineError> {
    let diameter = sheet.input::<Length>("cm")?;
    let vti = sheet.input::<Length>("cm")?;
    let rate = sheet.input::<Rate>("/min")?;
    let area = sheet.define::<Area>(PI * (diameter / 2.0).powi::<P2>(), "cm2")?;
    let longest = vti.max(diameter).or_else(literal::<Length>(18.0, "cm")?);
    let ratio = sheet.define::<Number>((vti / diameter).ln().powf(0.5), "1")?;
    sheet.put(vti, 20.0, "cm")?;
    let _ = sheet.value(ratio.id());
    let output = sheet.define::<Flow>(area * longest * rate, "L/min")?;
    sheet.put(diameter, 20.0, "mm")?;
    sheet.value_in(output, "mL/min")
}
