//! Decisions: probabilities beyond a threshold, and least significant changes.

use super::error::UncertaintyError;
use super::linear::Propagated;

/// The factor of 95 % for a difference of two measurements, 1.96 · √2.
pub const FACTOR_95: f64 = 1.96 * std::f64::consts::SQRT_2;
/// The rounded factor that many papers use, 2 · √2.
pub const FACTOR_ROUNDED: f64 = 2.0 * std::f64::consts::SQRT_2;

/// What is said of a change that exceeds the least significant change.
pub const EXCEEDS: &str = "exceeds measurement error; cause not implied";
/// What is said of a change that does not.
pub const WITHIN: &str = "within measurement error";

/// Precision of the mean of `n` measurements of coefficient of variation `cv` (a share or per
/// cent): 2 · CV / √n (Monnet 2011 Crit Care 15:R204).
///
/// # Errors
/// [`UncertaintyError::Number`] for a negative `cv` or no measurement.
pub fn precision(cv: f64, n: u32) -> Result<f64, UncertaintyError> {
    Ok(2.0 * mean_cv(cv, n)?)
}

/// Least significant change between two means of `n` measurements each: `factor` · CV / √n, with
/// [`FACTOR_95`] or [`FACTOR_ROUNDED`].
///
/// ```
/// use semilunar::uncertainty::decide::{FACTOR_ROUNDED, least_significant_change};
///
/// // CV 7 %, two measurements: 14.0 % (Monnet 2011).
/// let least = least_significant_change(7.0, 2, FACTOR_ROUNDED).unwrap();
/// assert!((least - 14.0).abs() < 1e-12);
/// ```
///
/// # Errors
/// [`UncertaintyError::Number`] for a negative `cv`, no measurement, or a factor that is not
/// positive.
pub fn least_significant_change(cv: f64, n: u32, factor: f64) -> Result<f64, UncertaintyError> {
    if !(factor > 0.0 && factor.is_finite()) {
        return Err(UncertaintyError::Number {
            what: "the factor of a least significant change",
            value: factor,
            way_out: "use 1.96 * sqrt(2) or 2 * sqrt(2)",
        });
    }
    Ok(factor * mean_cv(cv, n)?)
}

fn mean_cv(cv: f64, n: u32) -> Result<f64, UncertaintyError> {
    if !(cv >= 0.0 && cv.is_finite()) {
        return Err(UncertaintyError::Number {
            what: "a coefficient of variation",
            value: cv,
            way_out: "it is zero or more",
        });
    }
    if n == 0 {
        return Err(UncertaintyError::Number {
            what: "the number of measurements",
            value: 0.0,
            way_out: "at least one is averaged",
        });
    }
    Ok(cv / f64::from(n).sqrt())
}

/// Whether a change exceeds measurement error, in words. `change` and `least` in one unit.
pub fn verdict(change: f64, least: f64) -> &'static str {
    match change.abs() > least {
        true => EXCEEDS,
        false => WITHIN,
    }
}

/// The probability that the true value lies above a threshold in the cell's unit, for a normal
/// error; `None` where nothing was stated. A lower bound on the uncertainty makes it too sure.
pub fn probability_above(found: &Propagated, threshold: f64) -> Option<f64> {
    let scaled = (threshold - found.value) / found.standard;
    let probability = 0.5 * libm::erfc(scaled / std::f64::consts::SQRT_2);
    (found.says_something() && found.standard > 0.0).then_some(probability)
}
