//! What makes a statistic impossible, with the place, the value and the way out.

/// Input that a statistic refuses.
///
/// Indices count from 0 in the slice named by `what`.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum StatisticsError {
    /// Fewer values than the formula needs.
    #[error(
        "{what}: {found} given, at least {needed} needed; add observations or leave this statistic out"
    )]
    TooFew {
        /// What was counted.
        what: &'static str,
        /// How many there are.
        found: usize,
        /// How many the formula needs.
        needed: usize,
    },
    /// A value that is not a finite number.
    #[error("{what}[{index}] is {value}; set the row aside or give a finite number")]
    NotFinite {
        /// The slice.
        what: &'static str,
        /// The place in it.
        index: usize,
        /// The value found.
        value: f64,
    },
    /// A value outside its domain, at a place in a slice.
    #[error("{what}[{index}] is {value}, but must be {allowed}")]
    OutOfDomain {
        /// The slice.
        what: &'static str,
        /// The place in it.
        index: usize,
        /// The value found.
        value: f64,
        /// The domain in words.
        allowed: &'static str,
    },
    /// A parameter outside its range.
    #[error("{what} is {value}, but must be {allowed}")]
    OutOfRange {
        /// The parameter.
        what: &'static str,
        /// The value found.
        value: f64,
        /// The range in words.
        allowed: &'static str,
    },
    /// Two slices that must pair off do not.
    #[error(
        "{left} has {left_length} values and {right} has {right_length}; they must pair off one to one"
    )]
    UnequalLengths {
        /// The first slice.
        left: &'static str,
        /// Its length.
        left_length: usize,
        /// The second slice.
        right: &'static str,
        /// Its length.
        right_length: usize,
    },
    /// A two-class statistic over one class.
    #[error("{positives} positive and {negatives} negative observations; both classes are needed")]
    OneClass {
        /// Observations with the condition.
        positives: usize,
        /// Observations without it.
        negatives: usize,
    },
    /// All values equal where the formula divides by their spread.
    #[error("{what} does not vary; {hint}")]
    NoVariation {
        /// What does not vary.
        what: &'static str,
        /// What to do instead.
        hint: &'static str,
    },
    /// No observed threshold meets the demand.
    #[error(
        "no observed threshold reaches {what} {demanded}; the best is {best}: lower the demand or add observations"
    )]
    Unreachable {
        /// The demanded property.
        what: &'static str,
        /// The demanded value.
        demanded: f64,
        /// The best value of any threshold.
        best: f64,
    },
    /// Too many resamples could not be evaluated for an interval to mean anything.
    #[error(
        "{unusable} of {resamples} resamples could not be evaluated ({what}); add observations"
    )]
    UnusableResamples {
        /// Why a resample is unusable.
        what: &'static str,
        /// Resamples without a value.
        unusable: usize,
        /// Resamples drawn.
        resamples: usize,
    },
    /// A numerical search ended without an answer.
    #[error("{what} did not converge; {hint}")]
    NotConverged {
        /// The search.
        what: &'static str,
        /// What to do instead.
        hint: &'static str,
    },
}

/// Short name used in every signature of this module.
pub type Result<T> = std::result::Result<T, StatisticsError>;

/// Magnitudes within which squares, their ratios and the squares of those stay finite and above zero. No unit of bedside measurement comes near.
const LARGEST: f64 = 1e30;
/// See [`LARGEST`]; zero itself is fine.
pub(super) const SMALLEST: f64 = 1e-30;

fn is_extreme(value: f64) -> bool {
    let magnitude = value.abs();
    magnitude > LARGEST || (magnitude < SMALLEST && magnitude > 0.0)
}

/// Refuses a slice that is too short, holds a value that is not finite or extreme.
pub(super) fn check_values(what: &'static str, values: &[f64], needed: usize) -> Result<()> {
    if values.len() < needed {
        return Err(StatisticsError::TooFew {
            what,
            found: values.len(),
            needed,
        });
    }
    match values.iter().position(|v| !v.is_finite()) {
        Some(index) => Err(StatisticsError::NotFinite {
            what,
            index,
            value: values[index],
        }),
        None => check_magnitudes(what, values),
    }
}

fn check_magnitudes(what: &'static str, values: &[f64]) -> Result<()> {
    match values.iter().position(|v| is_extreme(*v)) {
        Some(index) => Err(StatisticsError::OutOfDomain {
            what,
            index,
            value: values[index],
            allowed: "zero or from 1e-30 to 1e30 in magnitude: choose a unit nearer to the values",
        }),
        None => Ok(()),
    }
}

/// Refuses a value that is not finite and above zero.
pub(super) fn check_all_positive(what: &'static str, values: &[f64]) -> Result<()> {
    match values.iter().position(|v| *v <= 0.0) {
        Some(index) => Err(StatisticsError::OutOfDomain {
            what,
            index,
            value: values[index],
            allowed: "above zero",
        }),
        None => Ok(()),
    }
}

/// Refuses two slices of different length.
pub(super) fn check_pairs(
    left: &'static str,
    left_length: usize,
    right: &'static str,
    right_length: usize,
) -> Result<()> {
    if left_length == right_length {
        Ok(())
    } else {
        Err(StatisticsError::UnequalLengths {
            left,
            left_length,
            right,
            right_length,
        })
    }
}

/// Refuses a fraction that is not strictly between 0 and 1.
pub(super) fn check_fraction(what: &'static str, value: f64) -> Result<()> {
    if value > 0.0 && value < 1.0 {
        Ok(())
    } else {
        Err(StatisticsError::OutOfRange {
            what,
            value,
            allowed: "strictly between 0 and 1",
        })
    }
}

/// Refuses a parameter that is not a finite number above zero.
pub(super) fn check_positive(what: &'static str, value: f64) -> Result<()> {
    if value > 0.0 && !is_extreme(value) {
        Ok(())
    } else {
        Err(StatisticsError::OutOfRange {
            what,
            value,
            allowed: "from 1e-30 to 1e30",
        })
    }
}

/// Refuses a parameter that is not a finite number.
pub(super) fn check_finite(what: &'static str, value: f64) -> Result<()> {
    if value.is_finite() && !is_extreme(value) {
        Ok(())
    } else {
        Err(StatisticsError::OutOfRange {
            what,
            value,
            allowed: "zero or from 1e-30 to 1e30 in magnitude",
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_value_that_is_not_finite_is_named_with_its_place() {
        let error = check_values("scores", &[1.0, f64::NAN], 1).unwrap_err();
        assert_eq!(
            error.to_string(),
            "scores[1] is NaN; set the row aside or give a finite number"
        );
    }

    #[test]
    fn an_empty_slice_says_how_many_are_needed() {
        assert_eq!(
            check_values("scores", &[], 2),
            Err(StatisticsError::TooFew {
                what: "scores",
                found: 0,
                needed: 2
            })
        );
    }

    #[test]
    fn an_extreme_value_is_refused() {
        let error = check_values("scores", &[1e-200], 1).unwrap_err();
        assert!(matches!(
            error,
            StatisticsError::OutOfDomain { index: 0, .. }
        ));
    }

    #[test]
    fn a_level_of_95_is_refused_as_a_fraction() {
        assert!(check_fraction("level", 95.0).is_err());
        assert!(check_fraction("level", f64::NAN).is_err());
        assert!(check_fraction("level", 0.95).is_ok());
    }
}
