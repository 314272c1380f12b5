//! Two scores on the same observations: which tells the classes apart better?

use super::area::Placements;
use super::sample::RocSample;
use crate::statistics::distribution::{normal_quantile, normal_two_sided};
use crate::statistics::error::{Result, StatisticsError, check_pairs};
use crate::statistics::interval::{Interval, upper_tail};
use crate::statistics::warning::{Warning, warn_few_of_each};

/// Two areas, their difference and its uncertainty.
#[derive(Debug, Clone, PartialEq)]
pub struct AreaComparison {
    /// Area of the first score.
    pub first: f64,
    /// Area of the second score.
    pub second: f64,
    /// `first - second`.
    pub difference: f64,
    /// Standard error of the difference, which knows that both scores share the observations.
    pub standard_error: f64,
    /// Interval of the difference.
    pub interval: Interval,
    /// `difference / standard_error`.
    pub z: f64,
    /// Two-sided p value of no difference.
    pub p_value: f64,
    /// Cautions.
    pub warnings: Vec<Warning>,
}

/// Compares two scores on the same independent observations, given in the same order.
///
/// `var(A1 - A2) = var A1 + var A2 - 2 cov(A1, A2)` with DeLong's covariance of placements
/// (DeLong, DeLong & Clarke-Pearson 1988 Biometrics 44:837-45). The two scores may have different directions.
///
/// # Errors
/// [`StatisticsError::UnequalLengths`] or [`StatisticsError::OutOfDomain`] when the two samples are not of the same
/// observations; [`StatisticsError::NoVariation`] when both order the observations alike; as [`area`](super::area).
pub fn compare(first: &RocSample, second: &RocSample, level: f64) -> Result<AreaComparison> {
    check_same_observations(first, second)?;
    let (a, b) = (Placements::new(first)?, Placements::new(second)?);
    let variance = a.covariance(&a) + b.covariance(&b) - 2.0 * a.covariance(&b);
    let mut warnings = Vec::new();
    let classes = [
        ("positives", first.positives()),
        ("negatives", first.negatives()),
    ];
    warn_few_of_each(&mut warnings, classes);
    finish(a.area, b.area, variance, level, warnings)
}

pub(super) fn finish(
    first: f64,
    second: f64,
    variance: f64,
    level: f64,
    warnings: Vec<Warning>,
) -> Result<AreaComparison> {
    // Below this the variance is the rounding of a difference that is exactly zero.
    const ROUNDING: f64 = 1e-15;
    if variance <= ROUNDING {
        return Err(StatisticsError::NoVariation {
            what: "the difference of the two scores' placements",
            hint: "both order these observations alike, so there is nothing to compare",
        });
    }
    let standard_error = variance.sqrt();
    let difference = first - second;
    let z = difference / standard_error;
    let half = normal_quantile(upper_tail(level)?)? * standard_error;
    Ok(AreaComparison {
        first,
        second,
        difference,
        standard_error,
        interval: Interval::around(difference, half, level),
        z,
        p_value: normal_two_sided(z),
        warnings,
    })
}

pub(super) fn check_same_observations(first: &RocSample, second: &RocSample) -> Result<()> {
    let (a, b) = (first.classes(), second.classes());
    check_pairs("first scores", a.len(), "second scores", b.len())?;
    match a.iter().zip(b).position(|(a, b)| a != b) {
        Some(index) => Err(StatisticsError::OutOfDomain {
            what: "classes of the second score",
            index,
            value: f64::from(u8::from(b[index])),
            allowed: "the class that the first score gives for this observation",
        }),
        None => Ok(()),
    }
}

#[cfg(test)]
mod tests {
    use super::super::fixtures::{classes, first_score, second_score};
    use super::super::sample::Direction;
    use super::*;
    use crate::statistics::oracle::{close, numbers};

    const HIGHER: Direction = Direction::HigherIsPositive;

    #[test]
    fn agrees_with_proc() {
        // R, pROC: t <- roc.test(roc(positive, first, direction = "<"), roc(positive, second, direction = "<"),
        //   method = "delong", paired = TRUE); c(t$statistic, t$p.value, t$conf.int)
        let first = RocSample::new(&first_score(), &classes(), HIGHER).unwrap();
        let second = RocSample::new(&second_score(), &classes(), HIGHER).unwrap();
        let found = compare(&first, &second, 0.95).unwrap();
        let judge = numbers("r_proc_compare");
        close(found.z, judge[0], 1e-11);
        close(found.p_value, judge[1], 1e-11);
        close(found.interval.lower, judge[2], 1e-11);
        close(found.interval.upper, judge[3], 1e-11);
    }

    #[test]
    fn exchanged_scores_change_the_sign_only() {
        let first = RocSample::new(&first_score(), &classes(), HIGHER).unwrap();
        let second = RocSample::new(&second_score(), &classes(), HIGHER).unwrap();
        let (one, other) = (
            compare(&first, &second, 0.9).unwrap(),
            compare(&second, &first, 0.9).unwrap(),
        );
        close(one.difference, -other.difference, 1e-15);
        close(one.p_value, other.p_value, 1e-12);
    }

    #[test]
    fn a_score_against_itself_is_refused() {
        let sample = RocSample::new(&first_score(), &classes(), HIGHER).unwrap();
        assert!(matches!(
            compare(&sample, &sample, 0.95),
            Err(StatisticsError::NoVariation { .. })
        ));
    }

    #[test]
    fn other_observations_are_refused() {
        let sample = RocSample::new(&first_score(), &classes(), HIGHER).unwrap();
        let swapped: Vec<bool> = classes().iter().map(|p| !p).collect();
        let other = RocSample::new(&first_score(), &swapped, HIGHER).unwrap();
        assert!(matches!(
            compare(&sample, &other, 0.95),
            Err(StatisticsError::OutOfDomain { index: 0, .. })
        ));
    }
}
