//! Limits of agreement when each method repeats its reading on an unchanged patient.

use super::limits::{AgreementOptions, Limit};
use super::repeated::{OneWay, Reach};
use crate::statistics::cluster::Clusters;
use crate::statistics::descriptive::{mean, standard_deviation};
use crate::statistics::distribution::t_quantile;
use crate::statistics::error::{
    Result, StatisticsError, check_pairs, check_positive, check_values,
};
use crate::statistics::interval::{Interval, upper_tail};
use crate::statistics::warning::{Warning, warn_few};

/// Agreement of single readings, learned from replicates; differences are first less second.
#[derive(Debug, Clone, PartialEq)]
pub struct ReplicateAgreement {
    /// Patients read by both methods.
    pub patients: usize,
    /// Mean of the patients' differences of means.
    pub bias: f64,
    /// Its interval.
    pub bias_interval: Interval,
    /// Variance of the first method's readings within a patient.
    pub first_within_variance: f64,
    /// Variance of the second method's readings within a patient.
    pub second_within_variance: f64,
    /// Variance of the differences of means.
    pub variance_of_means: f64,
    /// Standard deviation of the difference of single readings.
    pub standard_deviation: f64,
    /// Lower limit of agreement for single readings.
    pub lower: Limit,
    /// Upper limit of agreement for single readings.
    pub upper: Limit,
    /// Cautions.
    pub warnings: Vec<Warning>,
}

/// Limits of agreement from replicates of an unchanged true value; the methods may repeat unequally often.
///
/// With the patients' means of each method: `variance = var(mean difference) + (1 - mean(1/m)) within_first + (1 - mean(1/l))
/// within_second`, m and l the numbers of replicates of each patient; limits `bias ± factor sqrt(variance)` (Bland & Altman 1999 Stat Methods Med Res
/// 8:135-60, section 5.1-5.2, memory). Interval of a limit as in [`agreement_repeated`](super::agreement_repeated).
///
/// # Errors
/// [`StatisticsError`] for readings and identifiers of unequal length, a value that is not finite, fewer than three patients, a patient read
/// by one method only, a method that never repeats, or bad options.
pub fn agreement_of_replicates<T: Ord>(
    first: &[f64],
    first_patients: &[T],
    second: &[f64],
    second_patients: &[T],
    options: &AgreementOptions,
) -> Result<ReplicateAgreement> {
    check_positive("factor", options.factor)?;
    let a = Method::new("first method", first, first_patients)?;
    let b = Method::new("second method", second, second_patients)?;
    check_same_patients(&a, first_patients, &b, second_patients)?;
    let differences: Vec<f64> = a.means.iter().zip(&b.means).map(|(a, b)| a - b).collect();
    let patients = differences.len();
    let bias = mean(&differences);
    let of_means = standard_deviation(&differences, bias).powi(2);
    let (from_a, from_b) = (a.share_of_single * a.within, b.share_of_single * b.within);
    let total = of_means + from_a + from_b;
    let components = [
        (of_means, patients as f64 - 1.0),
        (from_a, a.freedom),
        (from_b, b.freedom),
    ];
    let bias_variance = of_means / patients as f64;
    let reach = Reach::from_components(&components, total, bias_variance, options)?;
    let t = t_quantile(upper_tail(options.level)?, patients as f64 - 1.0)?;
    let mut warnings = Vec::new();
    warn_few(&mut warnings, "patients", patients, 30);
    Ok(ReplicateAgreement {
        patients,
        bias,
        bias_interval: Interval::around(bias, t * bias_variance.sqrt(), options.level),
        first_within_variance: a.within,
        second_within_variance: b.within,
        variance_of_means: of_means,
        standard_deviation: total.sqrt(),
        lower: reach.lower(bias - options.factor * total.sqrt()),
        upper: reach.upper(bias + options.factor * total.sqrt()),
        warnings,
    })
}

/// One method's readings by patient, patients in the order of their identifiers.
struct Method {
    means: Vec<f64>,
    representatives: Vec<usize>,
    within: f64,
    freedom: f64,
    /// `1 - mean(1 / m)`: what a single reading varies beyond a mean.
    share_of_single: f64,
}

impl Method {
    fn new<T: Ord>(what: &'static str, values: &[f64], patients: &[T]) -> Result<Self> {
        check_values(what, values, 3)?;
        check_pairs(
            what,
            values.len(),
            "its patient identifiers",
            patients.len(),
        )?;
        let clusters = Clusters::new(patients)?;
        if clusters.count() < 3 {
            return Err(StatisticsError::TooFew {
                what: "patients",
                found: clusters.count(),
                needed: 3,
            });
        }
        let parts = OneWay::new(values, &clusters)?;
        let mut groups: Vec<usize> = (0..clusters.count()).collect();
        let representative = |group: usize| clusters.members(group)[0] as usize;
        groups.sort_by(|a, b| patients[representative(*a)].cmp(&patients[representative(*b)]));
        let own = |group: usize| -> Vec<f64> {
            clusters
                .members(group)
                .iter()
                .map(|i| values[*i as usize])
                .collect()
        };
        let inverse_sizes: f64 = groups
            .iter()
            .map(|g| 1.0 / clusters.members(*g).len() as f64)
            .sum();
        Ok(Self {
            means: groups.iter().map(|g| mean(&own(*g))).collect(),
            representatives: groups.iter().map(|g| representative(*g)).collect(),
            within: parts.within_square,
            freedom: parts.count - parts.groups,
            share_of_single: 1.0 - inverse_sizes / parts.groups,
        })
    }
}

fn check_same_patients<T: Ord>(a: &Method, a_names: &[T], b: &Method, b_names: &[T]) -> Result<()> {
    check_pairs(
        "patients of the first method",
        a.means.len(),
        "patients of the second method",
        b.means.len(),
    )?;
    let unlike = |(i, j): (&usize, &usize)| a_names[*i] != b_names[*j];
    match a
        .representatives
        .iter()
        .zip(&b.representatives)
        .position(unlike)
    {
        Some(place) => Err(StatisticsError::OutOfDomain {
            what: "patient identifiers of the second method",
            index: b.representatives[place],
            value: place as f64,
            allowed: "those of the first method: each patient needs readings of both",
        }),
        None => Ok(()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::statistics::oracle::{close, counts, numbers};

    #[test]
    fn agrees_with_pandas() {
        // statistics_judges.py, "replicates": group means and variances by pandas, then the formula above:
        // [bias, within first, within second, sd]
        let found = agreement_of_replicates(
            &numbers("replicates.first"),
            &counts("replicates.first_patient"),
            &numbers("replicates.second"),
            &counts("replicates.second_patient"),
            &AgreementOptions::default(),
        )
        .unwrap();
        let judge = numbers("replicates.components");
        close(found.bias, judge[0], 1e-12);
        close(found.first_within_variance, judge[1], 1e-12);
        close(found.second_within_variance, judge[2], 1e-12);
        close(found.standard_deviation, judge[3], 1e-12);
        assert!(found.upper.interval.contains(found.upper.value));
    }

    #[test]
    fn the_order_of_rows_does_not_matter() {
        let (values, names) = (
            [1.0, 2.0, 5.0, 6.0, 9.0, 9.5],
            ["a", "a", "b", "b", "c", "c"],
        );
        let mut turned_values = values;
        let mut turned_names = names;
        turned_values.reverse();
        turned_names.reverse();
        let options = AgreementOptions::default();
        let one = agreement_of_replicates(
            &values,
            &names,
            &[1.0, 1.5, 5.0, 7.0, 8.0, 9.0],
            &names,
            &options,
        )
        .unwrap();
        let other = agreement_of_replicates(
            &turned_values,
            &turned_names,
            &[1.0, 1.5, 5.0, 7.0, 8.0, 9.0],
            &names,
            &options,
        )
        .unwrap();
        close(one.standard_deviation, other.standard_deviation, 1e-14);
        close(one.bias, other.bias, 1e-14);
    }

    #[test]
    fn a_patient_read_by_one_method_only_is_named() {
        let values = [1.0, 2.0, 5.0, 6.0, 9.0, 9.5];
        let found = agreement_of_replicates(
            &values,
            &["a", "a", "b", "b", "c", "c"],
            &values,
            &["a", "a", "b", "b", "d", "d"],
            &AgreementOptions::default(),
        );
        assert!(matches!(
            found,
            Err(StatisticsError::OutOfDomain { index: 4, .. })
        ));
    }
}
