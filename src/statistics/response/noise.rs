//! Responders that measurement error alone would make.

use crate::statistics::descriptive::{compensated_sum, mean, standard_deviation};
use crate::statistics::distribution::{chi_square_quantile, normal_upper, t_quantile};
use crate::statistics::error::{
    Result, StatisticsError, check_all_positive, check_finite, check_pairs, check_positive,
    check_values,
};
use crate::statistics::interval::{Interval, upper_tail};
use crate::statistics::warning::{Warning, warn_few};

/// How a change is put, and so what its error is normal in.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ChangeScale {
    /// In per cent of before, each change above -100 %: `ln(after / before)` is normal.
    PerCent,
    /// As `after - before`, in the unit of both: the difference itself is normal.
    Difference,
}

impl ChangeScale {
    /// A change on the scale on which its error is normal.
    ///
    /// # Errors
    /// [`StatisticsError::OutOfDomain`], with `index`, for a change that is not finite or, in per cent, not above -100 %.
    pub(crate) fn on_scale(self, index: usize, change: f64) -> Result<f64> {
        let allowed = match self {
            Self::PerCent if change.is_finite() && change > -100.0 => {
                return Ok(libm::log1p(change / 100.0));
            }
            Self::Difference if change.is_finite() => return Ok(change),
            Self::PerCent => "finite and above -100 %",
            Self::Difference => "finite",
        };
        Err(StatisticsError::OutOfDomain {
            what: "changes",
            index,
            value: change,
            allowed,
        })
    }
}

/// How far two measurements differ where nothing changed.
#[derive(Debug, Clone, PartialEq)]
pub struct ChangeError {
    /// What the error is normal in.
    pub scale: ChangeScale,
    /// Standard deviation about zero of `ln(after / before)`, or of the difference in its unit.
    pub standard_deviation: f64,
    /// Its interval; `None` when it was stated and not estimated.
    pub interval: Option<Interval>,
    /// Pairs it comes from; zero when it was stated.
    pub pairs: usize,
    /// How far the repeats lie from their firsts on average; `None` when the error was stated.
    pub shift: Option<Shift>,
    /// Cautions.
    pub warnings: Vec<Warning>,
}

/// What repeats have in common, on the scale of their error: a habit, a device, a patient who was not at rest.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Shift {
    /// Mean of `ln(after / before)`, or of the difference in its unit.
    pub mean: f64,
    /// Its interval, by Student's t.
    pub interval: Interval,
    /// Standard deviation about that mean, with n - 1 degrees of freedom: what is left to chance alone.
    pub scatter: f64,
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
        Ok(Self::stated(
            ChangeScale::PerCent,
            per_cent / 100.0 / FACTOR,
        ))
    }

    /// From a least significant difference, `1.96 s` of `after - before` in its unit: `s = least / 1.96`.
    ///
    /// # Errors
    /// [`StatisticsError::OutOfRange`] unless it is finite and above zero.
    pub fn of_least_significant_difference(difference: f64) -> Result<Self> {
        check_positive("least significant change", difference)?;
        Ok(Self::stated(ChangeScale::Difference, difference / FACTOR))
    }

    fn stated(scale: ChangeScale, standard_deviation: f64) -> Self {
        Self {
            scale,
            standard_deviation,
            interval: None,
            pairs: 0,
            shift: None,
            warnings: Vec::new(),
        }
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
        Self::of_zero_effect(ChangeScale::PerCent, &logs, level)
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
        Self::of_zero_effect(ChangeScale::PerCent, &logs, level)
    }

    /// From differences of pairs measured without any effect between them: `s^2 = mean(difference^2)`, about zero as in
    /// [`ChangeError::of_repeats`]; s is in the unit of the differences.
    ///
    /// # Errors
    /// [`StatisticsError`] for fewer than two differences, one that is not finite, differences that are all zero, or a level
    /// not between 0 and 1.
    pub fn of_differences(differences: &[f64], level: f64) -> Result<Self> {
        check_values("changes", differences, 2)?;
        Self::of_zero_effect(ChangeScale::Difference, differences, level)
    }

    fn of_zero_effect(scale: ChangeScale, values: &[f64], level: f64) -> Result<Self> {
        let tail = upper_tail(level)?;
        let count = values.len() as f64;
        let squares = compensated_sum(values.iter().map(|value| value * value));
        if squares <= 0.0 {
            return Err(StatisticsError::NoVariation {
                what: "the change between repeats",
                hint: "repeats that agree to the last digit were copied, not measured",
            });
        }
        let mut warnings = Vec::new();
        warn_few(&mut warnings, "repeats", values.len(), 30);
        let mean = mean(values);
        let scatter = standard_deviation(values, mean);
        let t = t_quantile(tail, count - 1.0)?;
        Ok(Self {
            scale,
            standard_deviation: (squares / count).sqrt(),
            interval: Some(Interval {
                lower: (squares / chi_square_quantile(tail, count)?).sqrt(),
                upper: (squares / chi_square_quantile(1.0 - tail, count)?).sqrt(),
                level,
            }),
            pairs: values.len(),
            shift: Some(Shift {
                mean,
                interval: Interval::around(mean, t * scatter / count.sqrt(), level),
                scatter,
            }),
            warnings,
        })
    }

    /// The shift of the repeats where it lies beyond its interval and makes up most of the error, that is of the mean square about zero.
    ///
    /// The shift is part of the error all the same: who measures once more may meet it again.
    pub fn mostly_shift(&self) -> Option<&Shift> {
        let shift = self.shift.as_ref()?;
        let is_most =
            shift.mean * shift.mean > 0.5 * self.standard_deviation * self.standard_deviation;
        (is_most && !shift.interval.contains(0.0)).then_some(shift)
    }

    /// A point on the scale of the error as a change: `exp(x) - 1` in per cent, or the difference itself.
    pub fn point_as_change(&self, point: f64) -> f64 {
        match self.scale {
            ChangeScale::PerCent => 100.0 * libm::expm1(point),
            ChangeScale::Difference => point,
        }
    }

    /// Least significant change, `1.96 s`: in per cent, or in the unit of the differences.
    pub fn least_significant_change(&self) -> f64 {
        self.as_change(FACTOR * self.standard_deviation)
    }

    /// The standard deviation, or a multiple of it, as a person reads it: in per cent, or in the unit of the differences.
    pub fn as_change(&self, deviation: f64) -> f64 {
        match self.scale {
            ChangeScale::PerCent => 100.0 * deviation,
            ChangeScale::Difference => deviation,
        }
    }

    /// Share of pairs that error alone carries beyond a change: above it for zero or more, below it for less.
    ///
    /// In per cent `ln(after / before)` is normal about zero: `1 - Phi(|ln(1 + change / 100)| / s)`; a difference is normal
    /// itself: `1 - Phi(|change| / s)`.
    ///
    /// # Errors
    /// [`StatisticsError::OutOfRange`] for a change that is not finite or, in per cent, not above -100 %.
    pub fn share_beyond(&self, change: f64) -> Result<f64> {
        check_finite("change", change)?;
        if self.scale == ChangeScale::PerCent && change <= -100.0 {
            return Err(StatisticsError::OutOfRange {
                what: "change",
                value: change,
                allowed: "above -100 %",
            });
        }
        let away = self.scale.on_scale(0, change)?.abs();
        Ok(normal_upper(away / self.standard_deviation))
    }

    /// Chance that error alone, once more, carries a change to the other side of a line, or off a line that it lies on:
    /// `1 - Phi(|x - l| / s)` on the scale of the error, 0.5 at the line. It is how likely the class of a change is noise.
    ///
    /// ```
    /// use semilunar::statistics::response::ChangeError;
    ///
    /// let error = ChangeError::of_least_significant_change(11.0)?;
    /// assert_eq!(error.chance_across(10.0, 10.0)?, 0.5);
    /// assert!(error.chance_across(30.0, 10.0)? < 0.01);
    /// # Ok::<(), semilunar::statistics::StatisticsError>(())
    /// ```
    ///
    /// # Errors
    /// [`StatisticsError::OutOfDomain`] for a change or a line that is not finite or, in per cent, not above -100 %.
    pub fn chance_across(&self, change: f64, line: f64) -> Result<f64> {
        let away = self.scale.on_scale(0, change)? - self.scale.on_scale(0, line)?;
        Ok(normal_upper(away.abs() / self.standard_deviation))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::statistics::oracle::{close, numbers};

    #[test]
    fn a_shift_between_repeats_is_told_and_stays_in_the_error() {
        // Repeats 8 to 12 % higher. By hand with numpy and scipy, x = log1p([.08, .09, .10, .11, .12]):
        // mean(x), std(x, ddof=1), t.interval(0.95, 4, mean, sem), sqrt(mean(x ** 2))
        let found = ChangeError::of_per_cent_changes(&[8.0, 9.0, 10.0, 11.0, 12.0], 0.95).unwrap();
        let shift = found.mostly_shift().unwrap();
        close(shift.mean, 0.09522752356255029, 1e-12);
        close(shift.scatter, 0.014375543895051792, 1e-11);
        close(shift.interval.lower, 0.07737792825346657, 1e-11);
        close(found.standard_deviation, 0.09609165548412058, 1e-12);
        close(found.point_as_change(shift.mean), 9.99090818915743, 1e-12);
        // As large a shift that chance explains is none, and a small one beyond chance is not most of the error.
        let chance = ChangeError::of_per_cent_changes(&[1.0, 30.0], 0.95).unwrap();
        assert!(chance.mostly_shift().is_none() && chance.shift.is_some());
        let small: Vec<f64> = (0..100).map(|i| 1.5 + f64::from(i % 11) - 5.0).collect();
        let small = ChangeError::of_differences(&small, 0.95).unwrap();
        assert!(small.mostly_shift().is_none());
        assert!(!small.shift.unwrap().interval.contains(0.0));
        assert!(
            ChangeError::of_least_significant_change(11.0)
                .unwrap()
                .shift
                .is_none()
        );
    }

    #[test]
    fn the_chance_of_the_other_class_is_a_tail_of_the_normal_distribution() {
        // scipy.stats.norm.sf(abs(log1p(.15) - log1p(.10)) / (.11 / 1.96)), the same for -3 % and for 8 mL beside 10 mL of error 6 mL
        let error = ChangeError::of_least_significant_change(11.0).unwrap();
        close(
            error.chance_across(15.0, 10.0).unwrap(),
            0.21416588151517635,
            1e-12,
        );
        close(
            error.chance_across(-3.0, 10.0).unwrap(),
            0.012513626650856943,
            1e-12,
        );
        let error = ChangeError::of_least_significant_difference(6.0).unwrap();
        close(
            error.chance_across(8.0, 10.0).unwrap(),
            0.2567707037112674,
            1e-12,
        );
        assert!(error.chance_across(f64::NAN, 10.0).is_err());
    }

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

    /// Exams that all read a tenth more the second time differ, although by the same: s is ln 1.1, and not nothing.
    #[test]
    fn a_shift_between_exams_is_error_too() {
        let error = ChangeError::of_per_cent_changes(&[10.0, 10.0, 10.0], 0.95).unwrap();
        assert!((error.standard_deviation - 1.1_f64.ln()).abs() < 1e-15);
        let error = ChangeError::of_differences(&[3.0, 4.0], 0.95).unwrap();
        assert!((error.standard_deviation - 12.5_f64.sqrt()).abs() < 1e-15);
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

    /// A least significant difference of 8 mL is a standard deviation of 8 / 1.96 mL. Shares beyond, and the standard deviation of
    /// twelve differences about zero with its interval: statistics_judges.py, scipy's `norm.sf` and `chi2.ppf`.
    #[test]
    fn differences_are_normal_in_their_own_unit() {
        let judge = numbers("change_error.difference");
        let stated = ChangeError::of_least_significant_difference(8.0).unwrap();
        close(stated.least_significant_change(), 8.0, 1e-14);
        close(stated.share_beyond(10.0).unwrap(), judge[0], 1e-12);
        close(stated.share_beyond(-4.0).unwrap(), judge[1], 1e-12);
        assert_eq!(stated.share_beyond(0.0).unwrap(), 0.5);
        let repeats = numbers("change_error.repeats");
        let found = ChangeError::of_differences(&repeats, 0.95).unwrap();
        let interval = found.interval.unwrap();
        close(found.standard_deviation, judge[2], 1e-13);
        close(interval.lower, judge[3], 1e-12);
        close(interval.upper, judge[4], 1e-12);
        close(found.share_beyond(6.0).unwrap(), judge[5], 1e-12);
        assert_eq!((found.pairs, found.warnings.len()), (repeats.len(), 1));
    }

    #[test]
    fn what_has_no_answer_is_refused() {
        assert!(ChangeError::of_least_significant_difference(0.0).is_err());
        assert!(ChangeError::of_least_significant_difference(f64::INFINITY).is_err());
        assert!(ChangeError::of_differences(&[1.0], 0.95).is_err());
        assert!(ChangeError::of_differences(&[0.0, 0.0], 0.95).is_err());
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
