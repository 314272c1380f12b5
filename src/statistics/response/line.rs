//! A straight line by least squares, with its interval and prediction band.

use crate::statistics::cluster::Clusters;
use crate::statistics::descriptive::{compensated_sum, mean, squares_about};
use crate::statistics::distribution::{t_quantile, t_two_sided};
use crate::statistics::error::{Result, StatisticsError, check_finite, check_pairs, check_values};
use crate::statistics::interval::{Interval, upper_tail};
use crate::statistics::warning::{Warning, warn_few};

/// A fitted coefficient.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Coefficient {
    /// The estimate.
    pub value: f64,
    /// Its standard error.
    pub standard_error: f64,
    /// Interval by Student's t.
    pub interval: Interval,
    /// Two-sided p value of zero; `None` when the standard error is zero.
    pub p_value: Option<f64>,
}

/// A fitted line.
#[derive(Debug, Clone, PartialEq)]
pub struct Line {
    /// Value at x = 0, in the unit of y.
    pub intercept: Coefficient,
    /// Rise of y for one unit of x.
    pub slope: Coefficient,
    /// `sqrt(residual sum of squares / (n - 2))`, in the unit of y.
    pub residual_standard_deviation: f64,
    /// Share of the variance of y that the line takes up; `None` when y does not vary.
    pub r_squared: Option<f64>,
    /// Pairs fitted.
    pub count: usize,
    /// Smallest x.
    pub smallest_x: f64,
    /// Largest x.
    pub largest_x: f64,
    /// Cautions.
    pub warnings: Vec<Warning>,
    mean_x: f64,
    mean_y: f64,
    errors: Errors,
    t: f64,
    level: f64,
}

/// Variances of the value at the mean of x and of the slope, and their covariance.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Errors {
    middle: f64,
    slope: f64,
    both: f64,
}

impl Errors {
    /// Variance of the line's value, `off` from the mean of x.
    fn at(&self, off: f64) -> f64 {
        (self.middle + 2.0 * off * self.both + off * off * self.slope).max(0.0)
    }
}

/// The line at one x.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LinePrediction {
    /// Where.
    pub x: f64,
    /// The line's value.
    pub value: f64,
    /// Interval of the mean of y at x.
    pub mean_interval: Interval,
    /// Interval of one new y at x.
    pub prediction_interval: Interval,
    /// Whether x lies outside the observed range, where nothing supports the line.
    pub extrapolated: bool,
}

/// Fits `y = intercept + slope x` by least squares.
///
/// `slope = Sxy / Sxx`, `intercept = mean y - slope mean x`, errors from the residual standard deviation with n - 2
/// degrees of freedom (any textbook; Draper & Smith 1998, Applied Regression Analysis, chapter 1, memory). x is taken as free of error.
///
/// # Errors
/// [`StatisticsError`] for fewer than three pairs, unequal lengths, a value that is not finite, x that does not vary, or a level not between 0 and 1.
pub fn fit_line(x: &[f64], y: &[f64], level: f64) -> Result<Line> {
    fit(x, y, None, level)
}

/// The same line where pairs of one patient may be alike: cluster-robust errors, multiplied by `G / (G - 1) (n - 1) / (n - 2)` over G
/// patients, with Student's t on G - 1 degrees of freedom (Liang & Zeger 1986 Biometrika 73:13-22, memory).
///
/// # Errors
/// As [`fit_line`]; fewer than two patients, or another number of identifiers than pairs.
pub fn fit_line_clustered(x: &[f64], y: &[f64], patients: &Clusters, level: f64) -> Result<Line> {
    fit(x, y, Some(patients), level)
}

fn fit(x: &[f64], y: &[f64], patients: Option<&Clusters>, level: f64) -> Result<Line> {
    check_values("x", x, 3)?;
    check_values("y", y, 3)?;
    check_pairs("x", x.len(), "y", y.len())?;
    let count = x.len() as f64;
    let (mean_x, mean_y) = (mean(x), mean(y));
    let squares_x = squares_about(x, mean_x);
    if squares_x <= 0.0 {
        return Err(StatisticsError::NoVariation {
            what: "x",
            hint: "give at least two different values of x",
        });
    }
    let crossed = compensated_sum(x.iter().zip(y).map(|(x, y)| (x - mean_x) * (y - mean_y)));
    let slope = crossed / squares_x;
    let residuals: Vec<f64> = x
        .iter()
        .zip(y)
        .map(|(x, y)| (y - mean_y) - slope * (x - mean_x))
        .collect();
    let residual_squares = compensated_sum(residuals.iter().map(|r| r * r));
    let residual_standard_deviation = (residual_squares / (count - 2.0)).sqrt();
    let squares_y = squares_about(y, mean_y);
    let mut warnings = Vec::new();
    let (errors, freedom) = match patients {
        None => {
            warn_few(&mut warnings, "pairs", x.len(), 10);
            let variance = residual_standard_deviation * residual_standard_deviation;
            let errors = Errors {
                middle: variance / count,
                slope: variance / squares_x,
                both: 0.0,
            };
            (errors, count - 2.0)
        }
        Some(patients) => {
            warn_few(&mut warnings, "patients", patients.count(), 10);
            let off: Vec<f64> = x.iter().map(|x| x - mean_x).collect();
            let errors = robust_errors(&off, &residuals, squares_x, patients)?;
            (errors, patients.count() as f64 - 1.0)
        }
    };
    let t = t_quantile(upper_tail(level)?, freedom)?;
    let coefficient =
        |value: f64, variance: f64| coefficient(value, variance.sqrt(), t, level, freedom);
    Ok(Line {
        intercept: coefficient(mean_y - slope * mean_x, errors.at(-mean_x))?,
        slope: coefficient(slope, errors.slope)?,
        residual_standard_deviation,
        r_squared: (squares_y > 0.0).then(|| 1.0 - residual_squares / squares_y),
        count: x.len(),
        smallest_x: x.iter().copied().fold(f64::INFINITY, f64::min),
        largest_x: x.iter().copied().fold(f64::NEG_INFINITY, f64::max),
        warnings,
        mean_x,
        mean_y,
        errors,
        t,
        level,
    })
}

/// Errors from the sums of each patient's residuals, `off` from the mean of x.
fn robust_errors(
    off: &[f64],
    residuals: &[f64],
    squares_x: f64,
    patients: &Clusters,
) -> Result<Errors> {
    check_pairs(
        "x",
        off.len(),
        "patient identifiers",
        patients.observations(),
    )?;
    patients.check_two()?;
    let sums: Vec<(f64, f64)> = (0..patients.count())
        .map(|group| {
            let members = || patients.members(group).iter().map(|m| *m as usize);
            let level = compensated_sum(members().map(|m| residuals[m]));
            let tilt = compensated_sum(members().map(|m| off[m] * residuals[m]));
            (level, tilt)
        })
        .collect();
    let of = |part: fn(&(f64, f64)) -> f64| compensated_sum(sums.iter().map(part));
    let (n, groups) = (off.len() as f64, patients.count() as f64);
    let inflated = groups / (groups - 1.0) * (n - 1.0) / (n - 2.0);
    Ok(Errors {
        middle: inflated * of(|(level, _)| level * level) / (n * n),
        slope: inflated * of(|(_, tilt)| tilt * tilt) / (squares_x * squares_x),
        both: inflated * of(|(level, tilt)| level * tilt) / (n * squares_x),
    })
}

/// A coefficient from its error and the t quantile.
pub(super) fn coefficient(
    value: f64,
    standard_error: f64,
    t: f64,
    level: f64,
    freedom: f64,
) -> Result<Coefficient> {
    let p_value = if standard_error > 0.0 {
        Some(t_two_sided(value / standard_error, freedom)?)
    } else {
        None
    };
    Ok(Coefficient {
        value,
        standard_error,
        interval: Interval::around(value, t * standard_error, level),
        p_value,
    })
}

impl Line {
    /// The line at `x`: interval of the mean `t s sqrt(1/n + (x - mean x)^2 / Sxx)`; of one new value, with `1 +` under the root.
    ///
    /// # Errors
    /// [`StatisticsError::OutOfRange`] when x is not finite.
    pub fn at(&self, x: f64) -> Result<LinePrediction> {
        check_finite("x", x)?;
        let off = x - self.mean_x;
        let value = self.mean_y + self.slope.value * off;
        let variance = self.errors.at(off);
        let of_one = self.residual_standard_deviation * self.residual_standard_deviation;
        let half = |variance: f64| self.t * variance.sqrt();
        Ok(LinePrediction {
            x,
            value,
            mean_interval: Interval::around(value, half(variance), self.level),
            prediction_interval: Interval::around(value, half(of_one + variance), self.level),
            extrapolated: x < self.smallest_x || x > self.largest_x,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::statistics::oracle::{close, counts, numbers};

    #[test]
    fn nist_strd_norris() {
        // NIST StRD Norris, certified: intercept -0.262323073774029 (0.232818234301152),
        // slope 1.00211681802045 (0.429796848199937E-03), residual sd 0.884796396144373, R-squared 0.999993745883712
        let line = fit_line(&numbers("line.norris_x"), &numbers("line.norris_y"), 0.95).unwrap();
        close(line.intercept.value, -0.262323073774029, 1e-11);
        close(line.intercept.standard_error, 0.232818234301152, 1e-12);
        close(line.slope.value, 1.00211681802045, 1e-13);
        close(line.slope.standard_error, 0.429796848199937E-03, 1e-14);
        close(line.residual_standard_deviation, 0.884796396144373, 1e-12);
        close(line.r_squared.unwrap(), 0.999993745883712, 1e-13);
    }

    #[test]
    fn bands_agree_with_r() {
        // R: f <- lm(y ~ x); predict(f, data.frame(x = 12), interval = "confidence"), the same with "prediction"; confint(f)["x", ];
        // summary(f)$coefficients["x", 4]
        let line = fit_line(&numbers("line.x"), &numbers("line.y"), 0.95).unwrap();
        let at = line.at(12.0).unwrap();
        let judge = numbers("r_line");
        close(at.value, judge[0], 1e-12);
        close(at.mean_interval.lower, judge[1], 1e-12);
        close(at.mean_interval.upper, judge[2], 1e-12);
        close(at.prediction_interval.lower, judge[3], 1e-12);
        close(at.prediction_interval.upper, judge[4], 1e-12);
        close(line.slope.interval.lower, judge[5], 1e-12);
        close(line.slope.interval.upper, judge[6], 1e-12);
        close(line.slope.p_value.unwrap(), judge[7], 1e-10);
        assert!(!at.extrapolated && line.at(1e6).unwrap().extrapolated);
    }

    #[test]
    fn repeating_patients_agree_with_statsmodels() {
        // f = statsmodels OLS(after - before, [1, before]).fit(cov_type="cluster", cov_kwds={"groups": patient}, use_t=True);
        // [slope, its lower, its upper, intercept's lower, its upper] of f.params and f.conf_int(); then the mean's interval at before = 4.5
        // by f.t_test([1, 4.5]).conf_int()
        let (x, after) = (numbers("clustered.before"), numbers("clustered.after"));
        let y: Vec<f64> = x.iter().zip(&after).map(|(b, a)| a - b).collect();
        let patients = Clusters::new(&counts("clustered.patient")).unwrap();
        let line = fit_line_clustered(&x, &y, &patients, 0.95).unwrap();
        let at = line.at(4.5).unwrap();
        let found = [
            line.slope.value,
            line.slope.interval.lower,
            line.slope.interval.upper,
            line.intercept.interval.lower,
            line.intercept.interval.upper,
            at.mean_interval.lower,
            at.mean_interval.upper,
        ];
        for (found, expected) in found.into_iter().zip(numbers("clustered.line")) {
            close(found, expected, 1e-10);
        }
        assert!(at.prediction_interval.width() > at.mean_interval.width());
        let one = Clusters::new(&vec![1; x.len()]).unwrap();
        assert!(fit_line_clustered(&x, &y, &one, 0.95).is_err());
    }

    #[test]
    fn a_perfect_line_has_no_p_value() {
        let line = fit_line(&[1.0, 2.0, 3.0], &[2.0, 4.0, 6.0], 0.95).unwrap();
        assert_eq!((line.slope.value, line.slope.p_value), (2.0, None));
    }

    #[test]
    fn constant_x_is_refused() {
        assert!(matches!(
            fit_line(&[1.0; 4], &[1.0, 2.0, 3.0, 4.0], 0.95),
            Err(StatisticsError::NoVariation { what: "x", .. })
        ));
        assert!(fit_line(&[1.0, 2.0], &[1.0, 2.0], 0.95).is_err());
    }
}
