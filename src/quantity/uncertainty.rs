//! How uncertain a reading was said to be, in the form it was said.
//!
//! ```
//! use semilunar::quantity::{Spread, SpreadForm, Unit};
//!
//! let mm = Unit::parse("mm").unwrap();
//! let cm = Unit::parse("cm").unwrap();
//! let spread = Spread::new(SpreadForm::Standard, 1.0, mm).unwrap();
//! assert_eq!(spread.standard(2.05, cm), Some(0.1));
//! ```

use super::unit::Unit;

/// The form in which an uncertainty was stated.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum SpreadForm {
    /// A standard uncertainty.
    Standard,
    /// Half the width of a rectangular distribution: certainly within, nothing else known.
    Within,
    /// Half the width of a triangular distribution.
    Triangular,
    /// An expanded uncertainty with its coverage factor.
    Expanded {
        /// The coverage factor k.
        factor: f64,
    },
}

impl SpreadForm {
    /// What the stated amount is divided by to give a standard uncertainty (JCGM 100:2008,
    /// 4.3.7, 4.3.9 and 4.3.3).
    pub fn divisor(self) -> f64 {
        match self {
            SpreadForm::Standard => 1.0,
            SpreadForm::Within => 3f64.sqrt(),
            SpreadForm::Triangular => 6f64.sqrt(),
            SpreadForm::Expanded { factor } => factor,
        }
    }
}

/// A stated uncertainty: an amount with a unit, in one of the accepted forms.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Spread {
    form: SpreadForm,
    amount: f64,
    unit: Unit,
}

impl Spread {
    /// An uncertainty of `amount` in `unit`; `None` for a negative or non-finite amount, or a
    /// coverage factor that is not positive.
    pub fn new(form: SpreadForm, amount: f64, unit: Unit) -> Option<Spread> {
        let divisor = form.divisor();
        let sound = amount.is_finite() && amount >= 0.0 && divisor.is_finite() && divisor > 0.0;
        sound.then_some(Spread { form, amount, unit })
    }

    /// The form it was stated in.
    pub fn form(self) -> SpreadForm {
        self.form
    }

    /// The amount as stated, in [`Spread::unit`].
    pub fn amount(self) -> f64 {
        self.amount
    }

    /// The unit of the amount; `%` on a quantity that has a dimension means per cent of the value.
    pub fn unit(self) -> Unit {
        self.unit
    }

    /// The standard uncertainty in `unit` of a reading of `value` in `unit`; `None` where the
    /// dimensions differ.
    pub fn standard(self, value: f64, unit: Unit) -> Option<f64> {
        let amount = if self.is_relative_to(unit) {
            self.unit.convert(self.amount, Unit::ONE)? * value.abs()
        } else {
            self.unit.convert(self.amount, unit)?
        };
        Some(amount / self.form.divisor())
    }

    /// Whether the amount is a share of a value in `unit`.
    pub fn is_relative_to(self, unit: Unit) -> bool {
        self.unit.dimension().is_none() && !unit.dimension().is_none()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn forms_become_standard_uncertainties() {
        let cm = Unit::parse("cm").unwrap();
        let percent = Unit::parse("%").unwrap();
        let u = |form, amount, unit| {
            Spread::new(form, amount, unit)
                .unwrap()
                .standard(2.0, cm)
                .unwrap()
        };
        assert_eq!(u(SpreadForm::Standard, 0.1, cm), 0.1);
        assert_eq!(u(SpreadForm::Within, 0.3, cm), 0.3 / 3f64.sqrt());
        assert_eq!(u(SpreadForm::Triangular, 0.3, cm), 0.3 / 6f64.sqrt());
        assert_eq!(u(SpreadForm::Expanded { factor: 2.0 }, 0.2, cm), 0.1);
        assert_eq!(u(SpreadForm::Standard, 5.0, percent), 0.1);
    }

    #[test]
    fn nonsense_is_refused() {
        let cm = Unit::parse("cm").unwrap();
        assert!(Spread::new(SpreadForm::Standard, -0.1, cm).is_none());
        assert!(Spread::new(SpreadForm::Expanded { factor: 0.0 }, 1.0, cm).is_none());
        assert!(Spread::new(SpreadForm::Within, f64::INFINITY, cm).is_none());
    }
}
