//! What keeps a cell from being known, one by one, for whoever counts the reasons over many rows.

use std::sync::Arc;

use super::reasons::Cause;
use super::sheet::Sheet;
use crate::formula::CellId;

/// One thing that keeps a cell from being known.
///
/// ```
/// use semilunar::sheet::{Lack, Sheet};
///
/// let text = "use hemodynamics\nlvot_diameter = 2 cm\nlvot_vti = 18 cm\nsignal = poor";
/// let sheet = Sheet::read(text).unwrap().sheet;
/// let stroke_volume = sheet.cell("stroke_volume").unwrap();
/// let [Lack::Withheld(cell, reason)] = &sheet.lacks(stroke_volume)[..] else { panic!() };
/// assert_eq!((&sheet.name(*cell)[..], reason.starts_with("the signal is poor")), ("lvot_vti", true));
/// ```
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Lack {
    /// This cell has no reading.
    Reading(CellId),
    /// This cell's reading could not be obtained.
    Obtained(CellId),
    /// The formula of this cell withholds its value, for the stated reason.
    Withheld(CellId, Arc<str>),
    /// The formula of this cell has no value.
    Value(CellId),
}

impl Sheet {
    /// What keeps a cell from being known, in the order of [`Sheet::because`]; empty for a known one, or none of this sheet.
    pub fn lacks(&self, cell: CellId) -> Vec<Lack> {
        let Ok(index) = self.index_of(cell) else {
            return Vec::new();
        };
        let causes = self.reasons.causes(self.hot[index].reason).iter();
        let lack = |cause: &Cause| match cause {
            Cause::NoReading(input) => Lack::Reading(self.id_of(*input)),
            Cause::Unobtainable(input) => Lack::Obtained(self.id_of(*input)),
            Cause::Withheld(cell, reason) => Lack::Withheld(self.id_of(*cell), reason.clone()),
            Cause::Fault(cell, ..) => Lack::Value(self.id_of(*cell)),
        };
        causes.map(lack).collect()
    }
}
