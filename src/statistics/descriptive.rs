//! Mean, spread and center of one sample, in numerically stable form.

use super::distribution::t_quantile;
use super::error::{Result, check_values};
use super::interval::{Interval, upper_tail};
use super::quantile::quantile_of_sorted;
use super::warning::{Warning, warn_few};

/// The sample in a few numbers, in the unit of the values.
#[derive(Debug, Clone, PartialEq)]
pub struct Summary {
    /// How many values.
    pub count: usize,
    /// Arithmetic mean.
    pub mean: f64,
    /// Standard deviation, divisor n - 1.
    pub standard_deviation: f64,
    /// `standard_deviation / sqrt(n)`.
    pub standard_error: f64,
    /// Interval of the mean by Student's t.
    pub mean_interval: Interval,
    /// Smallest value.
    pub smallest: f64,
    /// Quantile at 0.25, type 7.
    pub lower_quartile: f64,
    /// Quantile at 0.5, type 7.
    pub median: f64,
    /// Quantile at 0.75, type 7.
    pub upper_quartile: f64,
    /// Largest value.
    pub largest: f64,
    /// Cautions.
    pub warnings: Vec<Warning>,
}

/// Describes a sample of at least two values.
///
/// Mean: compensated sum over n. Standard deviation: `sqrt(sum((x - mean)^2) / (n - 1))`, in a second pass
/// with the correction for the rounding of the mean (Chan, Golub & LeVeque 1983 Am Stat 37:242-7).
///
/// # Errors
/// [`StatisticsError`](super::StatisticsError) for fewer than two values, a value that is not finite, or a level outside 0 to 1.
pub fn describe(values: &[f64], level: f64) -> Result<Summary> {
    check_values("values", values, 2)?;
    let tail = upper_tail(level)?;
    let count = values.len();
    let mean = mean(values);
    let standard_deviation = standard_deviation(values, mean);
    let standard_error = standard_deviation / (count as f64).sqrt();
    let mut sorted = values.to_vec();
    sorted.sort_unstable_by(f64::total_cmp);
    let mut warnings = Vec::new();
    warn_few(&mut warnings, "values", count, 10);
    Ok(Summary {
        count,
        mean,
        standard_deviation,
        standard_error,
        mean_interval: Interval::around(
            mean,
            t_quantile(tail, count as f64 - 1.0)? * standard_error,
            level,
        ),
        smallest: sorted[0],
        lower_quartile: quantile_of_sorted(&sorted, 0.25),
        median: quantile_of_sorted(&sorted, 0.5),
        upper_quartile: quantile_of_sorted(&sorted, 0.75),
        largest: sorted[count - 1],
        warnings,
    })
}

/// Sum with the lost low digits carried along (Neumaier 1974 Z Angew Math Mech 54:39-51).
pub(super) fn compensated_sum(values: impl IntoIterator<Item = f64>) -> f64 {
    let (mut sum, mut lost) = (0.0_f64, 0.0_f64);
    for value in values {
        let total = sum + value;
        lost += if sum.abs() >= value.abs() {
            (sum - total) + value
        } else {
            (value - total) + sum
        };
        sum = total;
    }
    sum + lost
}

/// Arithmetic mean of values that are not empty.
pub(super) fn mean(values: &[f64]) -> f64 {
    compensated_sum(values.iter().copied()) / values.len() as f64
}

/// Sum of squares about the mean, with what rounding of the mean adds taken off: about nothing but the mean.
pub(super) fn squares_about(values: &[f64], mean: f64) -> f64 {
    let squares = compensated_sum(values.iter().map(|v| (v - mean) * (v - mean)));
    let rounding = compensated_sum(values.iter().map(|v| v - mean));
    squares - rounding * rounding / values.len() as f64
}

/// Standard deviation, divisor n - 1, of at least two values.
pub(super) fn standard_deviation(values: &[f64], mean: f64) -> f64 {
    (squares_about(values, mean) / (values.len() as f64 - 1.0)).sqrt()
}

#[cfg(test)]
mod tests {
    use super::super::oracle::{close, numbers};
    use super::*;

    /// NIST StRD NumAcc2-4: one value at the mean, then 500 pairs 0.1 below and 0.1 above it.
    fn num_acc(middle: f64, below: f64, above: f64) -> Vec<f64> {
        let mut values = vec![middle];
        for _ in 0..500 {
            values.extend([below, above]);
        }
        values
    }

    #[test]
    fn nist_strd_num_acc_two_to_four() {
        // NIST StRD NumAcc2, 3, 4: certified means 1.2, 1000000.2, 10000000.2; standard deviation 0.1. The inputs of
        // the last two are rounded to 53 bits, which alone moves the deviation by up to 1e-9 and 1e-8.
        let cases = [
            (num_acc(1.2, 1.1, 1.3), 1.2, 1e-14),
            (num_acc(1000000.2, 1000000.1, 1000000.3), 1000000.2, 1e-9),
            (
                num_acc(10000000.2, 10000000.1, 10000000.3),
                10000000.2,
                1e-8,
            ),
        ];
        for (values, certified, tolerance) in cases {
            let summary = describe(&values, 0.95).unwrap();
            close(summary.mean, certified, 1e-15);
            close(summary.standard_deviation, 0.1, tolerance);
        }
    }

    #[test]
    fn interval_of_the_mean_agrees_with_scipy() {
        // x = [7.1, 3.2, 9.9, 4.4, 4.4, 8.0, 1.5]; m, s = numpy.mean(x), numpy.std(x, ddof=1)
        // [m, s, *scipy.stats.t.interval(0.95, 6, m, s / 7**0.5), *numpy.quantile(x, [.25, .5, .75])]
        let judge = numbers("descriptive.summary");
        let summary = describe(&[7.1, 3.2, 9.9, 4.4, 4.4, 8.0, 1.5], 0.95).unwrap();
        close(summary.mean, judge[0], 1e-14);
        close(summary.standard_deviation, judge[1], 1e-14);
        close(summary.mean_interval.lower, judge[2], 1e-12);
        close(summary.mean_interval.upper, judge[3], 1e-12);
        close(summary.lower_quartile, judge[4], 1e-14);
        close(summary.median, judge[5], 1e-14);
        close(summary.upper_quartile, judge[6], 1e-14);
        assert!(matches!(
            summary.warnings[..],
            [Warning::FewObservations { found: 7, .. }]
        ));
    }

    #[test]
    fn a_constant_sample_has_no_spread() {
        assert_eq!(describe(&[3.3; 20], 0.95).unwrap().standard_deviation, 0.0);
    }

    #[test]
    fn one_value_is_too_few() {
        assert!(describe(&[1.0], 0.95).is_err());
        assert!(describe(&[1.0, f64::INFINITY], 0.95).is_err());
    }
}
