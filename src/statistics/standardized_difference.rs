//! How far two groups lie apart, in standard deviations: what a test of significance does not say, and free of the unit.

use super::descriptive::{mean, squares_about};
use super::distribution::normal_quantile;
use super::error::{Result, StatisticsError, check_values};
use super::interval::{Interval, upper_tail};
use super::proportion::check_counts;
use super::warning::{Warning, warn_few};

/// A difference of two groups in standard deviations.
#[derive(Debug, Clone, PartialEq)]
pub struct StandardizedDifference {
    /// The second group less the first, over the root of the mean of their variances.
    pub value: f64,
    /// Its large-sample interval.
    pub interval: Interval,
    /// Cautions.
    pub warnings: Vec<Warning>,
}

/// The standardized difference of the means of two groups, second less first.
///
/// `d = (mean b - mean a) / sqrt((s_a^2 + s_b^2) / 2)`, variances with divisor n - 1 (Austin 2009 Stat Med 28:3083-107, memory);
/// `se^2 = (n_a + n_b) / (n_a n_b) + d^2 / (2 (n_a + n_b))` (Hedges & Olkin 1985, Statistical Methods for Meta-Analysis, memory).
///
/// ```
/// use semilunar::statistics::standardized_difference;
///
/// let found = standardized_difference(&[1.0, 2.0, 3.0], &[2.0, 3.0, 4.0], 0.95)?;
/// assert_eq!(found.value, 1.0);
/// # Ok::<(), semilunar::statistics::StatisticsError>(())
/// ```
///
/// # Errors
/// [`StatisticsError`] for fewer than two values in a group, a value that is not finite, groups that do not vary, or a level outside 0
/// to 1.
pub fn standardized_difference(
    first: &[f64],
    second: &[f64],
    level: f64,
) -> Result<StandardizedDifference> {
    check_values("values of the first group", first, 2)?;
    check_values("values of the second group", second, 2)?;
    let spread = |values: &[f64]| {
        let mean = mean(values);
        (
            mean,
            squares_about(values, mean) / (values.len() as f64 - 1.0),
        )
    };
    let ((mean_first, first_variance), (mean_second, second_variance)) =
        (spread(first), spread(second));
    of_moments(
        mean_second - mean_first,
        0.5 * (first_variance + second_variance),
        (first.len(), second.len()),
        level,
    )
}

/// The standardized difference of two shares, second less first: as above, with variances `p (1 - p)`.
///
/// # Errors
/// [`StatisticsError`] for a group of none, a count above its total, two shares of 0 or of 1, or a level outside 0 to 1.
pub fn standardized_difference_of_shares(
    (first, of_first): (usize, usize),
    (second, of_second): (usize, usize),
    level: f64,
) -> Result<StandardizedDifference> {
    for (count, of) in [(first, of_first), (second, of_second)] {
        check_counts(
            count,
            of,
            ["numerator of a share", "denominator of a share"],
        )?;
    }
    let (p, q) = (
        first as f64 / of_first as f64,
        second as f64 / of_second as f64,
    );
    of_moments(
        q - p,
        0.5 * (p * (1.0 - p) + q * (1.0 - q)),
        (of_first, of_second),
        level,
    )
}

fn of_moments(
    difference: f64,
    variance: f64,
    (first, second): (usize, usize),
    level: f64,
) -> Result<StandardizedDifference> {
    let z = normal_quantile(upper_tail(level)?)?;
    if variance <= 0.0 {
        return Err(StatisticsError::NoVariation {
            what: "each of the two groups",
            hint: "compare the values themselves",
        });
    }
    let value = difference / variance.sqrt();
    let (a, b) = (first as f64, second as f64);
    let error = ((a + b) / (a * b) + value * value / (2.0 * (a + b))).sqrt();
    let mut warnings = Vec::new();
    warn_few(&mut warnings, "values in the first group", first, 10);
    warn_few(&mut warnings, "values in the second group", second, 10);
    Ok(StandardizedDifference {
        value,
        interval: Interval::around(value, z * error, level),
        warnings,
    })
}

#[cfg(test)]
mod tests {
    use super::super::oracle::{close, numbers};
    use super::*;

    #[test]
    fn agrees_with_tableone() {
        // tableone.TableOne._cont_smd and _cat_smd of the data below (unbiased=False): difference and standard error
        let judge = numbers("standardized_difference.means");
        let first = [
            14.5, 14.2, 18.8, 20.1, 16.0, 17.3, 12.9, 15.5, 19.0, 14.8, 16.6,
        ];
        let second = [12.1, 10.4, 15.9, 9.8, 13.3, 18.2];
        let found = standardized_difference(&first, &second, 0.95).unwrap();
        close(found.value, judge[0], 1e-12);
        let z = normal_quantile(0.975).unwrap();
        close(found.interval.width() / (2.0 * z), judge[1], 1e-12);
        assert!(matches!(
            found.warnings[..],
            [Warning::FewObservations { found: 6, .. }]
        ));
        let judge = numbers("standardized_difference.shares");
        let found = standardized_difference_of_shares((8, 40), (11, 25), 0.95).unwrap();
        close(found.value, judge[0], 1e-12);
        close(found.interval.width() / (2.0 * z), judge[1], 1e-12);
    }

    #[test]
    fn swapped_groups_mirror_the_difference() {
        let (a, b) = ([1.0, 4.0, 2.0, 8.0], [3.0, 3.5, 9.0]);
        let one = standardized_difference(&a, &b, 0.9).unwrap();
        let other = standardized_difference(&b, &a, 0.9).unwrap();
        close(one.value, -other.value, 1e-15);
        close(one.interval.lower, -other.interval.upper, 1e-15);
    }

    #[test]
    fn what_has_no_answer_is_refused() {
        assert!(standardized_difference(&[1.0], &[1.0, 2.0], 0.95).is_err());
        assert!(standardized_difference(&[1.0, 1.0], &[2.0, 2.0], 0.95).is_err());
        assert!(standardized_difference(&[1.0, f64::NAN], &[2.0, 3.0], 0.95).is_err());
        assert!(standardized_difference_of_shares((0, 4), (0, 5), 0.95).is_err());
        assert!(standardized_difference_of_shares((5, 4), (0, 5), 0.95).is_err());
        assert!(standardized_difference_of_shares((0, 0), (0, 5), 0.95).is_err());
        assert!(standardized_difference_of_shares((1, 4), (2, 5), 1.0).is_err());
    }
}
