//! Three ways of putting a change in per cent.

use crate::statistics::cluster::Clusters;
use crate::statistics::descriptive::{compensated_sum, mean, squares_about, standard_deviation};
use crate::statistics::distribution::t_quantile;
use crate::statistics::error::{Result, check_all_positive, check_pairs, check_values};
use crate::statistics::interval::{Interval, upper_tail};
use crate::statistics::quantile::median;
use crate::statistics::warning::{Warning, warn_few};

/// An estimate with its interval.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Estimate {
    /// The estimate.
    pub value: f64,
    /// Its interval.
    pub interval: Interval,
}

/// Changes from before to after, in per cent of before. The three means answer three questions and differ.
#[derive(Debug, Clone, PartialEq)]
pub struct Changes {
    /// Pairs.
    pub count: usize,
    /// Mean of each patient's per cent: what a typical patient changed. Large when a small value before rises.
    pub mean_of_per_cents: Estimate,
    /// Change of the mean in per cent of the mean before: what the group's flow changed.
    pub per_cent_of_means: Estimate,
    /// From the mean log ratio: up and down weigh alike (a doubling and a halving cancel).
    pub geometric: Estimate,
    /// Median of each patient's per cent.
    pub median_of_per_cents: f64,
    /// Mean of `ln(after / before)`.
    pub mean_log_ratio: Estimate,
    /// Cautions.
    pub warnings: Vec<Warning>,
}

/// Changes of positive quantities, paired before and after.
///
/// `mean(100 (a - b) / b)` with t interval; `100 (mean a - mean b) / mean b` with `R = mean a / mean b` and
/// `se = sqrt(sum((a - R b)^2) / (n (n - 1))) / mean b` (Cochran 1977, Sampling Techniques, section 6.4, memory);
/// `100 (exp(mean ln(a / b)) - 1)` with the t interval of the mean log ratio put through the same function.
///
/// # Errors
/// [`StatisticsError`](crate::statistics::StatisticsError) for fewer than two pairs, unequal lengths, a value that is not finite and above zero, or a level
/// not between 0 and 1.
pub fn changes(before: &[f64], after: &[f64], level: f64) -> Result<Changes> {
    of_pairs(before, after, None, level)
}

/// The same changes where pairs of one patient may be alike: intervals from cluster-robust errors,
/// `sqrt(G / (G - 1) sum_g (sum of deviations in g)^2) / n` over G patients, with Student's t on G - 1 degrees of freedom (Liang & Zeger 1986
/// Biometrika 73:13-22, memory). With one pair for each patient they are those of [`changes`].
///
/// # Errors
/// As [`changes`]; fewer than two patients, or another number of identifiers than pairs.
pub fn changes_clustered(
    before: &[f64],
    after: &[f64],
    patients: &Clusters,
    level: f64,
) -> Result<Changes> {
    of_pairs(before, after, Some(patients), level)
}

fn of_pairs(
    before: &[f64],
    after: &[f64],
    patients: Option<&Clusters>,
    level: f64,
) -> Result<Changes> {
    check_values("before", before, 2)?;
    check_values("after", after, 2)?;
    check_pairs("before", before.len(), "after", after.len())?;
    check_all_positive("before", before)?;
    check_all_positive("after", after)?;
    let count = before.len();
    let units = patients.map_or(count, Clusters::count);
    if let Some(patients) = patients {
        patients.check_two()?;
    }
    let errors = Errors {
        patients,
        t: t_quantile(upper_tail(level)?, units as f64 - 1.0)?,
        level,
    };
    let pairs = || before.iter().zip(after);
    let per_cents: Vec<f64> = pairs().map(|(b, a)| 100.0 * (a - b) / b).collect();
    let log_ratios: Vec<f64> = pairs().map(|(b, a)| libm::log(a / b)).collect();
    let mean_log_ratio = errors.mean(&log_ratios)?;
    let back = |log: f64| 100.0 * libm::expm1(log);
    let mut warnings = Vec::new();
    let what = if patients.is_some() {
        "patients"
    } else {
        "pairs"
    };
    // As many as repeats, or as patients of a median.
    warn_few(&mut warnings, what, units, 30);
    Ok(Changes {
        count,
        mean_of_per_cents: errors.mean(&per_cents)?,
        per_cent_of_means: errors.per_cent_of_means(before, after)?,
        geometric: Estimate {
            value: back(mean_log_ratio.value),
            interval: Interval {
                lower: back(mean_log_ratio.interval.lower),
                upper: back(mean_log_ratio.interval.upper),
                level,
            },
        },
        median_of_per_cents: median(&per_cents)?,
        mean_log_ratio,
        warnings,
    })
}

/// How errors are made of deviations.
struct Errors<'p> {
    patients: Option<&'p Clusters>,
    t: f64,
    level: f64,
}

impl Errors<'_> {
    fn mean(&self, values: &[f64]) -> Result<Estimate> {
        let mean = mean(values);
        let error = match self.patients {
            Some(patients) => patients.error_of_mean(values, mean)?,
            None => standard_deviation(values, mean) / (values.len() as f64).sqrt(),
        };
        Ok(self.around(mean, error))
    }

    fn per_cent_of_means(&self, before: &[f64], after: &[f64]) -> Result<Estimate> {
        let n = before.len() as f64;
        let mean_before = mean(before);
        let ratio =
            compensated_sum(after.iter().copied()) / compensated_sum(before.iter().copied());
        let off: Vec<f64> = before
            .iter()
            .zip(after)
            .map(|(b, a)| a - ratio * b)
            .collect();
        let error = match self.patients {
            Some(patients) => patients.error_of_mean(&off, 0.0)?,
            None => (squares_about(&off, 0.0) / (n * (n - 1.0))).sqrt(),
        };
        Ok(self.around(100.0 * (ratio - 1.0), 100.0 * error / mean_before))
    }

    fn around(&self, value: f64, error: f64) -> Estimate {
        Estimate {
            value,
            interval: Interval::around(value, self.t * error, self.level),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::statistics::StatisticsError;
    use crate::statistics::oracle::{close, counts, numbers};

    #[test]
    fn agrees_with_scipy() {
        let (before, after) = (numbers("change.before"), numbers("change.after"));
        let found = changes(&before, &after, 0.95).unwrap();
        // p = 100 * (after - before) / before; [mean(p), *scipy.stats.ttest_1samp(p, 0).confidence_interval(0.95)]
        let judge = numbers("change.mean_of_per_cents");
        close(found.mean_of_per_cents.value, judge[0], 1e-12);
        close(found.mean_of_per_cents.interval.lower, judge[1], 1e-11);
        close(found.mean_of_per_cents.interval.upper, judge[2], 1e-11);
        // g = log(after / before), the same, then 100 * expm1
        let judge = numbers("change.geometric");
        close(found.geometric.value, judge[0], 1e-12);
        close(found.geometric.interval.lower, judge[1], 1e-11);
        close(found.geometric.interval.upper, judge[2], 1e-11);
        // statsmodels.api.WLS(after, before, weights=1 / before).fit() has this ratio as its slope; the error is the delta
        // method's, from numpy.cov: sqrt((var a - 2 R cov + R^2 var b) / n) / mean b with t of scipy
        let judge = numbers("change.per_cent_of_means");
        close(found.per_cent_of_means.value, judge[0], 1e-12);
        close(found.per_cent_of_means.interval.lower, judge[1], 1e-11);
        close(found.per_cent_of_means.interval.upper, judge[2], 1e-11);
    }

    #[test]
    fn doubling_and_halving_cancel_on_the_log_scale_only() {
        let found = changes(&[4.0, 4.0], &[8.0, 2.0], 0.95).unwrap();
        close(found.geometric.value, 0.0, 1e-12);
        assert_eq!(found.mean_of_per_cents.value, 25.0);
    }

    #[test]
    fn repeating_patients_agree_with_statsmodels() {
        // statsmodels: OLS(v, 1).fit(cov_type="cluster", cov_kwds={"groups": patient}, use_t=True) of the per cents and of the log
        // ratios; WLS(after, before, weights=1 / before) the same way for the ratio of means: [value, lower, upper]
        let (before, after) = (numbers("clustered.before"), numbers("clustered.after"));
        let patients = Clusters::new(&counts("clustered.patient")).unwrap();
        let found = changes_clustered(&before, &after, &patients, 0.95).unwrap();
        for (estimate, path) in [
            (found.mean_of_per_cents, "clustered.mean_of_per_cents"),
            (found.mean_log_ratio, "clustered.mean_log_ratio"),
            (found.per_cent_of_means, "clustered.per_cent_of_means"),
        ] {
            let judge = numbers(path);
            close(estimate.value, judge[0], 1e-11);
            close(estimate.interval.lower, judge[1], 1e-10);
            close(estimate.interval.upper, judge[2], 1e-10);
        }
        let plain = changes(&before, &after, 0.95).unwrap();
        assert!(
            found.mean_of_per_cents.interval.width() > plain.mean_of_per_cents.interval.width()
        );
    }

    #[test]
    fn one_pair_for_each_patient_changes_nothing() {
        let (before, after) = (numbers("change.before"), numbers("change.after"));
        let singles = Clusters::new(&(0..before.len()).collect::<Vec<_>>()).unwrap();
        let (one, other) = (
            changes_clustered(&before, &after, &singles, 0.9).unwrap(),
            changes(&before, &after, 0.9).unwrap(),
        );
        close(
            one.geometric.interval.lower,
            other.geometric.interval.lower,
            1e-12,
        );
        close(
            one.per_cent_of_means.interval.upper,
            other.per_cent_of_means.interval.upper,
            1e-12,
        );
        let one = Clusters::new(&vec![1; before.len()]).unwrap();
        assert!(changes_clustered(&before, &after, &one, 0.9).is_err());
        let short = Clusters::new(&[1, 2]).unwrap();
        assert!(changes_clustered(&before, &after, &short, 0.9).is_err());
    }

    #[test]
    fn a_zero_before_is_refused() {
        assert!(matches!(
            changes(&[4.0, 0.0], &[8.0, 2.0], 0.95),
            Err(StatisticsError::OutOfDomain {
                what: "before",
                index: 1,
                ..
            })
        ));
    }
}
