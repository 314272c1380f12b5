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
//!
//! One rule tells shares from amounts, wherever it is said how far a reading may be off: `%` is a
//! share of the value, whatever the value measures; every other unit is an amount.
//!
//! ```
//! use semilunar::quantity::{Deviation, Unit};
//!
//! let percent = Unit::parse("%").unwrap();
//! // 5 % of an ejection fraction of 40 % are 2 points; a bare number tells points: 0.05 are 5.
//! assert_eq!(Deviation::of(5.0, percent, percent), Some(Deviation::Share(0.05)));
//! assert_eq!(Deviation::of(0.05, Unit::ONE, percent), Some(Deviation::Amount(5.0)));
//! // A bare number is no length.
//! assert_eq!(Deviation::of(0.1, Unit::ONE, Unit::parse("cm").unwrap()), None);
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

/// How far a reading may be off: a share of its value, or an amount.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Deviation {
    /// A share of the value, 0.05 for 5 %.
    Share(f64),
    /// An amount in the unit of the value.
    Amount(f64),
}

impl Deviation {
    /// What `size` in `unit` is to a value in `of`: in a unit of shares ([`Unit::is_share`]) a
    /// share of the value, whatever that measures; in any other an amount, which is `None` where
    /// it does not measure the value.
    pub fn of(size: f64, unit: Unit, of: Unit) -> Option<Deviation> {
        match unit.is_share() {
            true => unit.convert(size, Unit::ONE).map(Deviation::Share),
            false => unit.convert(size, of).map(Deviation::Amount),
        }
    }

    /// The amount beside a value, both in the unit of the value.
    pub fn beside(self, value: f64) -> f64 {
        match self {
            Deviation::Share(share) => share * value.abs(),
            Deviation::Amount(amount) => amount,
        }
    }
}

/// A stated uncertainty: an amount with a unit, in one of the accepted forms.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Spread {
    form: SpreadForm,
    amount: f64,
    unit: Unit,
    is_share: bool,
    freedom: Option<u32>,
}

impl Spread {
    /// An uncertainty of `amount` in `unit`; `None` for a negative or non-finite amount, or a
    /// coverage factor that is not positive.
    pub fn new(form: SpreadForm, amount: f64, unit: Unit) -> Option<Spread> {
        let divisor = form.divisor();
        let sound = amount.is_finite() && amount >= 0.0 && divisor.is_finite() && divisor > 0.0;
        sound.then_some(Spread {
            form,
            amount,
            unit,
            is_share: unit.is_share(),
            freedom: None,
        })
    }

    /// The same uncertainty, known from so many degrees of freedom; `None` for none of them.
    pub fn with_freedom(self, freedom: u32) -> Option<Spread> {
        (freedom > 0).then_some(Spread {
            freedom: Some(freedom),
            ..self
        })
    }

    /// Stated degrees of freedom; `None` where they are not limited.
    pub fn freedom(self) -> Option<u32> {
        self.freedom
    }

    /// The form it was stated in.
    pub fn form(self) -> SpreadForm {
        self.form
    }

    /// The amount as stated, in [`Spread::unit`].
    pub fn amount(self) -> f64 {
        self.amount
    }

    /// The unit of the amount; a unit of shares, such as `%`, means a share of the value.
    pub fn unit(self) -> Unit {
        self.unit
    }

    /// The standard uncertainty in `unit` of a reading of `value` in `unit`; `None` where the
    /// dimensions differ, and for a share of a value of zero, which says nothing of it.
    pub fn standard(self, value: f64, unit: Unit) -> Option<f64> {
        let amount = match self.is_share {
            true if value == 0.0 => return None,
            true => self.unit.convert(self.amount, Unit::ONE)? * value.abs(),
            false => self.unit.convert(self.amount, unit)?,
        };
        Some(amount / self.form.divisor())
    }

    /// Whether the amount is a share of the value.
    pub fn is_share(self) -> bool {
        self.is_share
    }

    /// Whether it can be said of a reading in `unit`.
    pub(crate) fn fits(self, unit: Unit) -> bool {
        self.is_share || self.unit.dimension() == unit.dimension()
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
    fn per_cent_is_a_share_of_whatever_is_measured_and_a_bare_number_an_amount() {
        let unit = |text| Unit::parse(text).unwrap();
        let u = |amount, of, value, shown| {
            let spread = Spread::new(SpreadForm::Standard, amount, of).unwrap();
            spread.standard(value, shown)
        };
        let percent = unit("%");
        // By hand: 5 % of 0.40 are 0.02, which are 2 points of 40 %.
        assert_eq!(u(5.0, percent, 0.4, Unit::ONE), Some(0.05 * 0.4));
        assert_eq!(u(5.0, percent, 40.0, percent), Some(2.0));
        assert_eq!(u(0.02, Unit::ONE, 40.0, percent), Some(2.0));
        assert_eq!(u(50.0, unit("[ppth]"), 40.0, percent), Some(2.0));
        assert_eq!(u(0.1, Unit::ONE, 2.0, unit("cm")), None);
        assert_eq!(u(0.1, unit("g/kg"), 2.0, unit("cm")), None);
        // A share of zero is not zero: it says nothing.
        assert_eq!(u(5.0, percent, 0.0, unit("cm")), None);
        assert_eq!(u(1.0, unit("mm"), 0.0, unit("cm")), Some(0.1));
    }

    #[test]
    fn nonsense_is_refused() {
        let cm = Unit::parse("cm").unwrap();
        assert!(Spread::new(SpreadForm::Standard, -0.1, cm).is_none());
        assert!(Spread::new(SpreadForm::Expanded { factor: 0.0 }, 1.0, cm).is_none());
        assert!(Spread::new(SpreadForm::Within, f64::INFINITY, cm).is_none());
    }
}
