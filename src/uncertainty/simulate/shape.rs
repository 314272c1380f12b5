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

/// Which moments what is drawn has: Student's distribution has a mean from two degrees of freedom
/// on, and a standard deviation from three on (JCGM 101:2008, 6.4.9.4).
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Finite {
    /// Mean and standard deviation.
    Both,
    /// A mean only: a reading was made of three beats.
    Mean,
    /// Neither: a reading was made of two beats.
    Neither,
}

impl Finite {
    /// Of all that is drawn from these distributions together.
    pub(super) fn of<'s>(shapes: impl Iterator<Item = &'s Shape>) -> Finite {
        let least = shapes
            .filter_map(least_freedom)
            .fold(f64::INFINITY, f64::min);
        if least > 2.0 {
            Finite::Both
        } else if least > 1.0 {
            Finite::Mean
        } else {
            Finite::Neither
        }
    }
}

/// Beyond so many degrees of freedom Student's distribution is drawn as the normal: its standard
/// deviation is larger by a thousandth, and each degree costs a draw.
const MOST_FREEDOM: u32 = 1000;

fn least_freedom(shape: &Shape) -> Option<f64> {
    match shape {
        Shape::Student { freedom } => Some(f64::from(*freedom)),
        Shape::Joined(one, other) => {
            let freedoms = [one.freedom, other.freedom].into_iter().flatten();
            freedoms.map(f64::from).reduce(f64::min)
        }
        Shape::Normal | Shape::Rectangular | Shape::Triangular => None,
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
        Some(spread) => spread.freedom().map(|freedom| (within, freedom)),
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

/// A reading by itself. What is stated with its degrees of freedom is drawn as Student's (JCGM
/// 101:2008, 6.4.9.7), but for certain bounds, whose degrees of freedom say how well the bounds
/// are known: their shape stays.
fn shape_alone(reading: &Reading) -> Shape {
    let scatter = || reading.beats().scatter().map(|(_, freedom)| freedom);
    let freedom = match reading.spread() {
        Some(spread) => match spread.form() {
            SpreadForm::Within => return Shape::Rectangular,
            SpreadForm::Triangular => return Shape::Triangular,
            SpreadForm::Standard | SpreadForm::Expanded { .. } => spread.freedom(),
        },
        None => scatter(),
    };
    match freedom {
        Some(freedom) if freedom <= MOST_FREEDOM => Shape::Student { freedom },
        _ => Shape::Normal,
    }
}
