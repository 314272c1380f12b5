//! A measured quantity with its dimension in the type: what a Rust cell computes with.

use std::fmt;
use std::marker::PhantomData;
use std::ops::{Add, Div, Mul, Neg, Sub};

use crate::formula::typed::{Dimensioned, LiteralError, Per, SameDimension, Times, unit_of};
use crate::quantity::Unit;
use crate::sheet::figure;

/// A number with a unit, whose dimension the compiler knows.
///
/// Quantities of one dimension add; any two multiply and divide. Kept in the coherent unit of the
/// dimension (meter, kilogram, second), so the last digit of a number can differ from what was
/// read.
pub struct Quantity<D> {
    coherent: f64,
    dimension: PhantomData<fn() -> D>,
}

impl<D> Clone for Quantity<D> {
    fn clone(&self) -> Self {
        *self
    }
}
impl<D> Copy for Quantity<D> {}

fn coherent<D>(coherent: f64) -> Quantity<D> {
    Quantity {
        coherent,
        dimension: PhantomData,
    }
}

impl<D: Dimensioned> Quantity<D> {
    /// So much of a unit.
    ///
    /// # Errors
    /// The text is no unit or one of another dimension; the number is not finite.
    pub fn of(value: f64, unit: &str) -> Result<Self, LiteralError> {
        Self::new(value, unit_of::<D>(unit)?)
    }

    pub(super) fn new(value: f64, unit: Unit) -> Result<Self, LiteralError> {
        match unit.convert(value, Self::own_unit()?) {
            Some(value) if value.is_finite() => Ok(coherent(value)),
            _ => Err(LiteralError::NotFinite { value }),
        }
    }

    fn own_unit() -> Result<Unit, LiteralError> {
        unit_of::<D>(&D::DIMENSION.coherent_unit())
    }

    /// The number in a unit.
    ///
    /// # Errors
    /// The text is no unit or one of another dimension; the number is not finite.
    pub fn in_unit(self, unit: &str) -> Result<f64, LiteralError> {
        let value = self.coherent;
        match Self::own_unit()?.convert(value, unit_of::<D>(unit)?) {
            Some(value) if value.is_finite() => Ok(value),
            _ => Err(LiteralError::NotFinite { value }),
        }
    }

    /// The quantity for a person, in a unit, to three significant digits.
    ///
    /// # Errors
    /// As [`Quantity::in_unit`].
    pub fn shown(self, unit: &str) -> Result<String, LiteralError> {
        let value = self.in_unit(unit)?;
        let unit = unit_of::<D>(unit)?;
        Ok(crate::sheet::join_unit(&figure(value), unit))
    }
}

impl<D: Dimensioned> fmt::Display for Quantity<D> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} {}", self.coherent, D::DIMENSION.coherent_unit())
    }
}

impl<D: Dimensioned> fmt::Debug for Quantity<D> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        fmt::Display::fmt(self, f)
    }
}

impl<D> PartialEq for Quantity<D> {
    fn eq(&self, other: &Self) -> bool {
        self.coherent == other.coherent
    }
}

impl<D> PartialOrd for Quantity<D> {
    fn partial_cmp(&self, other: &Self) -> Option<std::cmp::Ordering> {
        self.coherent.partial_cmp(&other.coherent)
    }
}

impl<D: SameDimension<E>, E> Add<Quantity<E>> for Quantity<D> {
    type Output = Quantity<D>;
    fn add(self, other: Quantity<E>) -> Quantity<D> {
        coherent(self.coherent + other.coherent)
    }
}

impl<D: SameDimension<E>, E> Sub<Quantity<E>> for Quantity<D> {
    type Output = Quantity<D>;
    fn sub(self, other: Quantity<E>) -> Quantity<D> {
        coherent(self.coherent - other.coherent)
    }
}

impl<D: Times<E>, E> Mul<Quantity<E>> for Quantity<D> {
    type Output = Quantity<D::Output>;
    fn mul(self, other: Quantity<E>) -> Self::Output {
        coherent(self.coherent * other.coherent)
    }
}

impl<D: Per<E>, E> Div<Quantity<E>> for Quantity<D> {
    type Output = Quantity<D::Output>;
    fn div(self, other: Quantity<E>) -> Self::Output {
        coherent(self.coherent / other.coherent)
    }
}

impl<D> Mul<f64> for Quantity<D> {
    type Output = Quantity<D>;
    fn mul(self, factor: f64) -> Quantity<D> {
        coherent(self.coherent * factor)
    }
}

impl<D> Mul<Quantity<D>> for f64 {
    type Output = Quantity<D>;
    fn mul(self, quantity: Quantity<D>) -> Quantity<D> {
        quantity * self
    }
}

impl<D> Div<f64> for Quantity<D> {
    type Output = Quantity<D>;
    fn div(self, divisor: f64) -> Quantity<D> {
        coherent(self.coherent / divisor)
    }
}

impl<D> Neg for Quantity<D> {
    type Output = Quantity<D>;
    fn neg(self) -> Quantity<D> {
        coherent(-self.coherent)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::formula::typed::{Area, Length, Volume};

    /// SI Brochure, 9th edition, table 8: 1 L = 1 dm3, so 1 cm3 = 1 mL.
    #[test]
    fn quantities_multiply_and_are_read_in_other_units() {
        let area = Quantity::<Area>::of(3.0, "cm2").unwrap();
        let distance = Quantity::<Length>::of(200.0, "mm").unwrap();
        let volume: Quantity<Volume> = area * distance;
        assert!((volume.in_unit("mL").unwrap() - 60.0).abs() < 1e-9);
        assert_eq!(volume.shown("mL").unwrap(), "60.0 mL");
        assert!((volume / area).in_unit("cm").is_ok());
    }

    #[test]
    fn a_unit_of_another_dimension_is_refused_with_words() {
        let error = Quantity::<Area>::of(3.0, "cm").unwrap_err();
        assert!(error.to_string().contains("cm does not measure"), "{error}");
        let error = Quantity::<Area>::of(f64::INFINITY, "cm2").unwrap_err();
        assert!(error.to_string().contains("finite"), "{error}");
    }
}
