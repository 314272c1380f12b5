//! Responders that measurement error alone would make.

use crate::statistics::descriptive::squares_about;
use crate::statistics::distribution::{chi_square_quantile, normal_upper};
use crate::statistics::error::{
    Result, StatisticsError, check_all_positive, check_finite, check_pairs, check_positive,
    check_values,
};
use crate::statistics::interval::{Interval, upper_tail};
use crate::statistics::warning::{Warning, warn_few};

/// How far two measurements differ where nothing changed.
#[derive(Debug, Clone, PartialEq)]
pub struct ChangeError {
    /// Standard deviation of `ln(after / before)` about zero.
    pub standard_deviation: f64,
    /// Its interval; `None` when it was stated and not estimated.
    pub interval: Option<Interval>,
    /// Pairs it comes from; zero when it was stated.
    pub pairs: usize,
    /// Cautions.
    pub warnings: Vec<Warning>,
}

/// Standard deviations of a change within which 95 of 100 lie.
const FACTOR: f64 = 1.96;

impl ChangeError {
    /// From a least significant change in per cent, `1.96 s` of the per cent change: `s = least / 100 / 1.96`.
    ///
    /// # Errors
    /// [`StatisticsError::OutOfRange`] unless it lies above 0 and below 100 %.
    pub fn of_least_significant_change(per_cent: f64) -> Result<Self> {
        check_positive("least significant change", per_cent)?;
        if per_cent >= 100.0 {
            return Err(StatisticsError::OutOfRange {
                what: "least significant change",
                value: per_cent,
                allowed: "below 100 %",
            });
        }
        Ok(Self {
            standard_deviation: per_cent / 100.0 / FACTOR,
            interval: None,
            pairs: 0,
            warnings: Vec::new(),
        })
    }

    /// From pairs measured without any effect between them: `s^2 = mean(ln(after / before)^2)`, about zero and not
    /// about their mean, since a shift between exams is error too; interval `s sqrt(n / chi2)` with n degrees of freedom.
    ///
    /// # Errors
    /// [`StatisticsError`] for fewer than two pairs, unequal lengths, a value that is not finite and above zero, pairs that
    /// are all equal, or a level not between 0 and 1.
    pub fn of_repeats(before: &[f64], after: &[f64], level: f64) -> Result<Self> {
        check_values("before", before, 2)?;
        check_values("after", after, 2)?;
        check_pairs("before", before.len(), "after", after.len())?;
        check_all_positive("before", before)?;
        check_all_positive("after", after)?;
        let logs: Vec<f64> = before
            .iter()
            .zip(after)
            .map(|(b, a)| libm::log(a / b))
            .collect();
        Self::of_log_ratios(&logs, level)
    }

    /// As [`ChangeError::of_repeats`], from per cent changes, each above -100 %.
    ///
    /// # Errors
    /// As there.
    pub fn of_per_cent_changes(per_cent: &[f64], level: f64) -> Result<Self> {
        check_values("changes", per_cent, 2)?;
        if let Some(index) = per_cent.iter().position(|c| *c <= -100.0) {
            return Err(StatisticsError::OutOfDomain {
                what: "changes",
                index,
                value: per_cent[index],
                allowed: "above -100 %",
            });
        }
        let logs: Vec<f64> = per_cent.iter().map(|c| libm::log1p(c / 100.0)).collect();
        Self::of_log_ratios(&logs, level)
    }

    fn of_log_ratios(logs: &[f64], level: f64) -> Result<Self> {
        let tail = upper_tail(level)?;
        let count = logs.len() as f64;
        let squares = squares_about(logs, 0.0);
        if squares <= 0.0 {
            return Err(StatisticsError::NoVariation {
                what: "the change between repeats",
                hint: "repeats that agree to the last digit were copied, not measured",
            });
        }
        let mut warnings = Vec::new();
        warn_few(&mut warnings, "repeats", logs.len(), 30);
        Ok(Self {
            standard_deviation: (squares / count).sqrt(),
            interval: Some(Interval {
                lower: (squares / chi_square_quantile(tail, count)?).sqrt(),
                upper: (squares / chi_square_quantile(1.0 - tail, count)?).sqrt(),
                level,
            }),
            pairs: logs.len(),
            warnings,
        })
    }

    /// Least significant change in per cent, `1.96 s`.
    pub fn least_significant_change(&self) -> f64 {
        100.0 * FACTOR * self.standard_deviation
    }

    /// Share of pairs that error alone carries beyond a change of `per_cent`: above it for zero or more, below it for less.
    ///
    /// `ln(after / before)` is normal about zero: `1 - Phi(ln(1 + per_cent / 100) / s)`.
    ///
    /// # Errors
    /// [`StatisticsError::OutOfRange`] for a change that is not finite or not above -100 %.
    pub fn share_beyond(&self, per_cent: f64) -> Result<f64> {
        check_finite("change", per_cent)?;
        if per_cent <= -100.0 {
            return Err(StatisticsError::OutOfRange {
                what: "change",
                value: per_cent,
                allowed: "above -100 %",
            });
        }
        Ok(normal_upper(
            libm::log1p(per_cent / 100.0).abs() / self.standard_deviation,
        ))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A least significant change of 11 % is a standard deviation of 5.612 %. ln 1.1 / 0.05612 = 1.6983, and the normal
    /// tail beyond 1.6983 is 0.04473 (tables of the normal distribution: 0.0446 at 1.70, 0.0455 at 1.69).
    #[test]
    fn a_tenth_is_exceeded_by_error_alone_once_in_22() {
        let error = ChangeError::of_least_significant_change(11.0).unwrap();
        let share = error.share_beyond(10.0).unwrap();
        assert!((share - 0.0447).abs() < 1e-4, "{share}");
        assert!((error.least_significant_change() - 11.0).abs() < 1e-12);
        assert_eq!(error.share_beyond(0.0).unwrap(), 0.5);
    }

    /// Up by 25 % and down by 20 % are one ratio.
    #[test]
    fn a_rise_and_the_fall_that_undoes_it_are_alike() {
        let error = ChangeError::of_repeats(&[100.0, 125.0], &[125.0, 100.0], 0.95).unwrap();
        assert!((error.standard_deviation - 1.25_f64.ln()).abs() < 1e-15);
        let (up, down) = (
            error.share_beyond(25.0).unwrap(),
            error.share_beyond(-20.0).unwrap(),
        );
        assert!((up - down).abs() < 1e-15);
        let changes = ChangeError::of_per_cent_changes(&[25.0, -20.0], 0.95).unwrap();
        assert!((changes.standard_deviation - error.standard_deviation).abs() < 1e-15);
    }

    /// Ten log ratios of ± 0.05: s = 0.05. Chi-square with 10 degrees of freedom: 3.247 and 20.483 at 2.5 and 97.5 %
    /// (handbook tables), so 0.05 sqrt(10 / 20.483) = 0.03494 and 0.05 sqrt(10 / 3.247) = 0.08775.
    #[test]
    fn the_interval_is_that_of_chi_square() {
        let changes: Vec<f64> = (0..10)
            .map(|i| 100.0 * libm::expm1(if i % 2 == 0 { 0.05 } else { -0.05 }))
            .collect();
        let error = ChangeError::of_per_cent_changes(&changes, 0.95).unwrap();
        let interval = error.interval.unwrap();
        assert!((interval.lower - 0.03494).abs() < 1e-5, "{interval:?}");
        assert!((interval.upper - 0.08775).abs() < 1e-5, "{interval:?}");
        assert_eq!(error.warnings.len(), 1);
    }

    #[test]
    fn what_has_no_answer_is_refused() {
        assert!(ChangeError::of_repeats(&[1.0, 2.0], &[1.0, 2.0], 0.95).is_err());
        assert!(ChangeError::of_repeats(&[1.0, -2.0], &[1.0, 2.0], 0.95).is_err());
        assert!(ChangeError::of_per_cent_changes(&[-100.0, 2.0], 0.95).is_err());
        assert!(ChangeError::of_least_significant_change(0.0).is_err());
        assert!(ChangeError::of_least_significant_change(100.0).is_err());
        let error = ChangeError::of_least_significant_change(11.0).unwrap();
        assert!(error.share_beyond(-100.0).is_err());
        assert!(error.share_beyond(f64::NAN).is_err());
    }
}
