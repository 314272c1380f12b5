//! The distributions that readings are drawn from.

use crate::quantity::{Between, Reading, Spread, SpreadForm};
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
    let part = |u: f64, freedom| Part {
        share: u / whole,
        freedom,
    };
    (whole > 0.0).then(|| {
        Shape::Joined(
            part(within, freedom_of_draws(reading)),
            part(between, reading.between().and_then(Between::freedom)),
        )
    })
}

/// A reading by itself. What is stated with its degrees of freedom is drawn as Student's (JCGM
/// 101:2008, 6.4.9.7, from memory), but for certain bounds, whose degrees of freedom say how well the bounds
/// are known: their shape stays.
fn shape_alone(reading: &Reading) -> Shape {
    match reading.spread().map(Spread::form) {
        Some(SpreadForm::Within) => Shape::Rectangular,
        Some(SpreadForm::Triangular) => Shape::Triangular,
        Some(SpreadForm::Standard | SpreadForm::Expanded { .. }) | None => {
            let freedom = freedom_of_draws(reading);
            freedom.map_or(Shape::Normal, |freedom| Shape::Student { freedom })
        }
    }
}

/// The degrees of freedom that what one acquisition shows is drawn with: of what was stated, or of
/// the beats; `None` where they are not limited, and for certain bounds.
fn freedom_of_draws(reading: &Reading) -> Option<u32> {
    let Some(spread) = reading.spread() else {
        return reading.beats().scatter().map(|(_, freedom)| freedom);
    };
    let is_bound = matches!(spread.form(), SpreadForm::Within | SpreadForm::Triangular);
    let freedom = spread.freedom().filter(|_| !is_bound);
    freedom.filter(|freedom| *freedom <= MOST_FREEDOM)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::quantity::Unit;

    /// JCGM 101:2008, 6.4.9 (from memory): Student's where degrees of freedom are stated.
    #[test]
    fn stated_degrees_of_freedom_are_drawn_as_students_but_for_certain_bounds() {
        let unit = Unit::parse("cm").unwrap();
        let shape = |form, freedom| {
            let spread = Spread::new(form, 0.1, unit).unwrap();
            let spread = spread.with_freedom(freedom).unwrap();
            let reading = Reading::of(2.0, unit).unwrap();
            shape_alone(&reading.with_spread(spread).unwrap())
        };
        let student = |shape| matches!(shape, Shape::Student { freedom: 3 });
        assert!(student(shape(SpreadForm::Standard, 3)));
        assert!(student(shape(SpreadForm::Expanded { factor: 2.0 }, 3)));
        assert!(matches!(shape(SpreadForm::Within, 3), Shape::Rectangular));
        assert!(matches!(
            shape(SpreadForm::Triangular, 3),
            Shape::Triangular
        ));
        assert!(matches!(shape(SpreadForm::Standard, 1001), Shape::Normal));
    }
}
