//! How much two acquisitions of the same thing scatter, beyond the beats of one.
//!
//! The beats of one acquisition share its window, its gate and the hand that held the probe; the
//! next acquisition has others. Their scatter alone makes a mean look better known than it is.
//!
//! ```
//! use semilunar::quantity::{Beats, Between, Reading, Unit};
//!
//! let cm = Unit::parse("cm").unwrap();
//! let reading = Reading::of_beats(Beats::Mean(vec![17.8, 18.4, 18.1]), cm).unwrap();
//! let between = Between::new(0.7, cm, Some(11)).unwrap();
//! let reading = reading.with_between(between).unwrap();
//! // √(0.3²/3 + 0.7²)
//! assert!((reading.standard_uncertainty(cm).unwrap() - 0.52f64.sqrt()).abs() < 1e-12);
//! ```

use super::uncertainty::{Spread, SpreadForm};
use super::unit::Unit;

/// The standard deviation of one acquisition among acquisitions, the scatter of its own beats
/// left aside.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Between {
    spread: Spread,
}

impl Between {
    /// A standard deviation of `amount` in `unit`, or in `%` of the value, from so many degrees of
    /// freedom; `None` for those says that they are not limited. `None` for a negative or
    /// non-finite amount, or no degree of freedom.
    pub fn new(amount: f64, unit: Unit, freedom: Option<u32>) -> Option<Between> {
        let spread = Spread::new(SpreadForm::Standard, amount, unit)?;
        Some(Between::of(match freedom {
            Some(freedom) => spread.with_freedom(freedom)?,
            None => spread,
        }))
    }

    /// What was stated in the form of a standard uncertainty.
    pub(crate) fn of(spread: Spread) -> Between {
        Between { spread }
    }

    /// The amount and its unit, with the degrees of freedom.
    pub fn spread(self) -> Spread {
        self.spread
    }

    /// Stated degrees of freedom; `None` where they are not limited.
    pub fn freedom(self) -> Option<u32> {
        self.spread.freedom()
    }
}
