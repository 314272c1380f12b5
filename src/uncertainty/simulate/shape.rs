//! The distributions that readings are drawn from.

use crate::quantity::{Between, Reading, SpreadForm};
use crate::sheet::Sheet;
use crate::uncertainty::draws::{Part, Shape};
use crate::uncertainty::source::{Cause, Source};

/// The distribution that what was stated of a cause stands for.
pub(super) fn shape(sheet: &Sheet, source: &Source) -> Shape {
    let Cause::Reading(cell) = source.cause else {
        return Shape::Normal;
    };
    match sheet.reading(cell) {
        Some(reading) => joined(reading).unwrap_or_else(|| shape_alone(reading)),
        None => Shape::Normal,
    }
}

/// The distribution of a reading with what acquisitions scatter. Certain bounds around one
/// acquisition are taken as normal there: beside what they are joined with, their shape is lost.
fn joined(reading: &Reading) -> Option<Shape> {
    let unit = reading.unit()?;
    let between = reading.between_acquisitions(unit)?;
    let within = reading.within_acquisition(unit)?;
    let whole = within.hypot(between);
    let scatter = match reading.spread() {
        Some(_) => None,
        None => reading.beats().scatter(),
    };
    let part = |u: f64, freedom| Part {
        share: u / whole,
        freedom,
    };
    (whole > 0.0).then(|| {
        Shape::Joined(
            part(within, scatter.map(|(_, freedom)| freedom)),
            part(between, reading.between().and_then(Between::freedom)),
        )
    })
}

fn shape_alone(reading: &Reading) -> Shape {
    match (
        reading.spread().map(|s| s.form()),
        reading.beats().scatter(),
    ) {
        (Some(SpreadForm::Within), _) => Shape::Rectangular,
        (Some(SpreadForm::Triangular), _) => Shape::Triangular,
        (None, Some((_, freedom))) => Shape::Student { freedom },
        (Some(SpreadForm::Standard | SpreadForm::Expanded { .. }), _) | (None, None) => {
            Shape::Normal
        }
    }
}
