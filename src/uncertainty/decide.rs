//! Decisions: probabilities beyond a threshold, and least significant changes.

use super::error::UncertaintyError;
use super::linear::{Propagated, whole};
use super::student::student_above;

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

/// The probability that the true value lies above a threshold in the cell's unit: by the
/// distribution that the coverage interval is of, so that half of what the interval leaves out
/// lies beyond each end of it. That is the one of a reading with bounds where it is all that is
/// uncertain, else Student's with the whole effective degrees of freedom, without limit the normal
/// one. `None` where nothing was stated. While some reading states no uncertainty, it is too far
/// from one half.
///
/// ```
/// use semilunar::sheet::Sheet;
/// use semilunar::uncertainty::{Settings, decide::probability_above, propagate};
///
/// // Three beats leave two degrees of freedom: scipy.stats.t.sf(-3 * 3 ** 0.5, 2) = 0.98245.
/// let sheet = Sheet::read("vti = beats(17.8, 18.4, 18.1) cm").unwrap().sheet;
/// let found = propagate(&sheet, sheet.cell("vti").unwrap(), &Settings::of(&sheet)).unwrap();
/// assert!((probability_above(&found, 17.2).unwrap() - 0.98245).abs() < 5e-6);
/// ```
pub fn probability_above(found: &Propagated, threshold: f64) -> Option<f64> {
    if !found.says_something() || found.standard <= 0.0 {
        return None;
    }
    let scaled = (threshold - found.value) / found.standard;
    Some(match found.bounded {
        Some(bounded) => bounded.above(scaled),
        None => student_above(scaled, whole(found.freedom)),
    })
}

/// Which distribution [`probability_above`] is of, in words.
#[cfg(feature = "notebook")]
pub(crate) fn distribution_words(found: &Propagated) -> String {
    match found.bounded {
        Some(bounded) => format!("by a {} distribution", bounded.word()),
        None if found.freedom.is_finite() => {
            let freedom = whole(found.freedom);
            let degrees = if freedom == 1.0 { "degree" } else { "degrees" };
            format!("by Student's t with {freedom} {degrees} of freedom")
        }
        None if found.freedom_undefined => {
            "by a normal distribution, as effective degrees of freedom are not defined for \
             correlated readings"
                .to_owned()
        }
        None => "by a normal distribution".to_owned(),
    }
}
