//! Bias and limits of agreement of two methods, one pair for each patient.

use crate::statistics::descriptive::{mean, standard_deviation};
use crate::statistics::distribution::{normal_quantile, t_quantile};
use crate::statistics::error::{Result, check_pairs, check_positive, check_values};
use crate::statistics::interval::{Interval, upper_tail};
use crate::statistics::response::{Line, fit_line};
use crate::statistics::warning::{Warning, warn_few};

/// How the limits are drawn and judged.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct AgreementOptions {
    /// Standard deviations from the bias to a limit: 1.96, or 2 as in the paper of 1986.
    pub factor: f64,
    /// Level of the intervals of bias and limits.
    pub level: f64,
    /// Standard error of a limit.
    pub limit_error: LimitError,
    /// What the percentage error divides by.
    pub reference: Reference,
}

impl Default for AgreementOptions {
    /// Factor 1.96, level 0.95, the limit's error of 1999, the mean of both methods.
    fn default() -> Self {
        Self {
            factor: 1.96,
            level: 0.95,
            limit_error: LimitError::FromVariance,
            reference: Reference::MeanOfBoth,
        }
    }
}

/// Standard error of a limit of agreement.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum LimitError {
    /// `s sqrt(3 / n)`, the round figure of Bland & Altman 1986 Lancet 327:307-10.
    ThreeOverN,
    /// `s sqrt(1/n + factor^2 / (2 (n - 1)))`, Bland & Altman 1999 Stat Methods Med Res 8:135-60.
    FromVariance,
}

/// The magnitude a percentage error refers to.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Reference {
    /// Mean of all values of both methods.
    MeanOfBoth,
    /// Mean of the second method's values.
    MeanOfSecond,
}

/// A limit of agreement.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Limit {
    /// `bias ± factor sd`.
    pub value: f64,
    /// Its interval.
    pub interval: Interval,
}

/// `100 factor sd / mean`, per cent.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PercentageError {
    /// The percentage error.
    pub value: f64,
    /// Its interval.
    pub interval: Interval,
    /// The mean it divides by.
    pub mean: f64,
}

/// Agreement of two methods; differences are first less second.
#[derive(Debug, Clone, PartialEq)]
pub struct Agreement {
    /// Pairs.
    pub count: usize,
    /// Mean difference.
    pub bias: f64,
    /// Its interval, by Student's t.
    pub bias_interval: Interval,
    /// Standard deviation of the differences.
    pub standard_deviation: f64,
    /// Lower limit of agreement.
    pub lower: Limit,
    /// Upper limit of agreement.
    pub upper: Limit,
    /// Percentage error; `None` when the mean is not above zero, as with changes.
    pub percentage_error: Option<PercentageError>,
    /// Difference against the mean of the two methods; `None` when the means do not vary.
    pub proportional: Option<Line>,
    /// Cautions.
    pub warnings: Vec<Warning>,
}

/// Bias, limits of agreement, percentage error and proportional bias.
///
/// `bias = mean(first - second)`, limits `bias ± factor s`, intervals with Student's t on n - 1 degrees of freedom (Bland & Altman
/// 1986 and 1999, see [`LimitError`]). Percentage error `100 factor s / mean` (criterion 30 %: Critchley & Critchley 1999
/// J Clin Monit Comput 15:85-91, memory), interval by the delta method on its log, `1/(2 (n - 1)) + (se / mean)^2` with the standard error of the mean
/// (common practice, no source). Proportional bias: line of difference on mean; a slope whose p value is under 0.05 is warned of.
///
/// # Errors
/// [`StatisticsError`](crate::statistics::StatisticsError) for fewer than three pairs, unequal lengths, a value that is not finite, a factor not above
/// zero, or a level not between 0 and 1.
pub fn agreement(first: &[f64], second: &[f64], options: &AgreementOptions) -> Result<Agreement> {
    check_values("first method", first, 3)?;
    check_values("second method", second, 3)?;
    check_pairs("first method", first.len(), "second method", second.len())?;
    check_positive("factor", options.factor)?;
    let count = first.len() as f64;
    let differences: Vec<f64> = first.iter().zip(second).map(|(a, b)| a - b).collect();
    let means: Vec<f64> = first
        .iter()
        .zip(second)
        .map(|(a, b)| 0.5 * (a + b))
        .collect();
    let bias = mean(&differences);
    let deviation = standard_deviation(&differences, bias);
    let t = t_quantile(upper_tail(options.level)?, count - 1.0)?;
    let limit = |value: f64| Limit {
        value,
        interval: Interval::around(
            value,
            t * deviation * limit_error(options, count),
            options.level,
        ),
    };
    let mut warnings = Vec::new();
    // 100 pairs: Bland's advice for a useful interval of the limits (memory).
    warn_few(&mut warnings, "pairs", first.len(), 100);
    let proportional = fit_line(&means, &differences, options.level).ok();
    warnings.extend(proportional.as_ref().and_then(Warning::proportional_bias));
    let references = match options.reference {
        Reference::MeanOfBoth => &means[..],
        Reference::MeanOfSecond => second,
    };
    Ok(Agreement {
        count: first.len(),
        bias,
        bias_interval: Interval::around(bias, t * deviation / count.sqrt(), options.level),
        standard_deviation: deviation,
        lower: limit(bias - options.factor * deviation),
        upper: limit(bias + options.factor * deviation),
        percentage_error: percentage_error(deviation, references, count - 1.0, options)?,
        proportional,
        warnings,
    })
}

fn limit_error(options: &AgreementOptions, count: f64) -> f64 {
    options.limit_error.of_count(options.factor, count)
}

impl LimitError {
    /// Standard error of a limit of `count` pairs whose differences have a standard deviation of 1.
    pub(in crate::statistics) fn of_count(self, factor: f64, count: f64) -> f64 {
        match self {
            LimitError::ThreeOverN => (3.0 / count).sqrt(),
            LimitError::FromVariance => {
                (1.0 / count + factor * factor / (2.0 * (count - 1.0))).sqrt()
            }
        }
    }
}

/// Percentage error of a standard deviation with `freedom` degrees of freedom over the mean of `references`.
pub(super) fn percentage_error(
    deviation: f64,
    references: &[f64],
    freedom: f64,
    options: &AgreementOptions,
) -> Result<Option<PercentageError>> {
    let center = mean(references);
    if center <= 0.0 {
        return Ok(None);
    }
    let value = 100.0 * options.factor * deviation / center;
    let of_mean = standard_deviation(references, center) / center;
    let variance = 0.5 / freedom + of_mean * of_mean / references.len() as f64;
    let spread = libm::exp(normal_quantile(upper_tail(options.level)?)? * variance.sqrt());
    Ok(Some(PercentageError {
        value,
        interval: Interval {
            lower: value / spread,
            upper: value * spread,
            level: options.level,
        },
        mean: center,
    }))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::statistics::oracle::{close, numbers};

    /// Bland & Altman 1986 Lancet 327:307-10, table: first readings of 17 subjects, L/min.
    const LARGE_METER: [f64; 17] = [
        494.0, 395.0, 516.0, 434.0, 476.0, 557.0, 413.0, 442.0, 650.0, 433.0, 417.0, 656.0, 267.0,
        478.0, 178.0, 423.0, 427.0,
    ];
    const MINI_METER: [f64; 17] = [
        512.0, 430.0, 520.0, 428.0, 500.0, 600.0, 364.0, 380.0, 658.0, 445.0, 432.0, 626.0, 260.0,
        477.0, 259.0, 350.0, 451.0,
    ];

    fn with_factor_two(limit_error: LimitError) -> Agreement {
        let options = AgreementOptions {
            factor: 2.0,
            limit_error,
            ..AgreementOptions::default()
        };
        agreement(&LARGE_METER, &MINI_METER, &options).unwrap()
    }

    #[test]
    fn the_peak_flows_of_1986() {
        // Printed: mean difference -2.1, SD 38.8; more digits computed from the same readings, limits with factor 2.
        let found = with_factor_two(LimitError::FromVariance);
        close(found.bias, -2.1176470588, 1e-10);
        close(found.standard_deviation, 38.7651298736, 1e-10);
        close(found.lower.value, -79.6479, 1e-6);
        close(found.upper.value, 75.4126, 1e-6);
        close(found.bias_interval.lower, -22.0488, 1e-5);
        close(found.bias_interval.upper, 17.8135, 1e-5);
        assert_eq!(found.count, 17);
        assert!(matches!(
            found.warnings[..],
            [Warning::FewObservations { found: 17, .. }]
        ));
    }

    #[test]
    fn the_limits_intervals_printed_in_1986() {
        // Printed (memory): lower limit -114.3 to -45.1, upper 40.9 to 110.1, from limits and errors rounded to 0.1: tolerance 0.3.
        let found = with_factor_two(LimitError::ThreeOverN);
        for (limit, lower, upper) in [(found.lower, -114.3, -45.1), (found.upper, 40.9, 110.1)] {
            assert!((limit.interval.lower - lower).abs() < 0.3, "{limit:?}");
            assert!((limit.interval.upper - upper).abs() < 0.3, "{limit:?}");
        }
    }

    #[test]
    fn intervals_and_slope_agree_with_scipy() {
        // d = first - second; s = std(d, ddof=1); half = t.ppf(.975, n-1) * s * sqrt(1/n + 1.96**2 / (2 * (n-1)))
        // [mean(d) - 1.96 * s - half, mean(d) - 1.96 * s + half, 196 * s / mean((first + second) / 2)];
        // r = scipy.stats.linregress((first + second) / 2, d): [r.slope, r.pvalue]
        let (first, second) = (numbers("agreement.first"), numbers("agreement.second"));
        let judge = numbers("agreement.limits");
        let found = agreement(&first, &second, &AgreementOptions::default()).unwrap();
        close(found.lower.interval.lower, judge[0], 1e-12);
        close(found.lower.interval.upper, judge[1], 1e-12);
        close(found.percentage_error.unwrap().value, judge[2], 1e-12);
        let line = found.proportional.unwrap();
        close(line.slope.value, judge[3], 1e-12);
        close(line.slope.p_value.unwrap(), judge[4], 1e-10);
        assert!(
            found
                .warnings
                .iter()
                .any(|w| matches!(w, Warning::ProportionalBias { .. }))
        );
    }

    #[test]
    fn swapped_methods_mirror() {
        let options = AgreementOptions::default();
        let one = agreement(&LARGE_METER, &MINI_METER, &options).unwrap();
        let other = agreement(&MINI_METER, &LARGE_METER, &options).unwrap();
        close(one.bias, -other.bias, 1e-14);
        close(one.lower.value, -other.upper.value, 1e-13);
    }

    #[test]
    fn changes_around_zero_have_no_percentage_error() {
        let found = agreement(
            &[-1.0, 2.0, -3.0, 1.0],
            &[1.0, -2.0, 1.0, -1.0],
            &AgreementOptions::default(),
        )
        .unwrap();
        assert_eq!(found.percentage_error, None);
    }

    #[test]
    fn bad_options_are_refused() {
        let options = AgreementOptions {
            factor: 0.0,
            ..AgreementOptions::default()
        };
        assert!(agreement(&LARGE_METER, &MINI_METER, &options).is_err());
        assert!(
            agreement(
                &LARGE_METER[..2],
                &MINI_METER[..2],
                &AgreementOptions::default()
            )
            .is_err()
        );
        assert!(agreement(&LARGE_METER, &MINI_METER[..5], &AgreementOptions::default()).is_err());
    }
}
