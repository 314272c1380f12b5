//! Limits of agreement when patients contribute several pairs and their true value moves.

use super::limits::{AgreementOptions, Limit, PercentageError, percentage_error};
use crate::statistics::cluster::Clusters;
use crate::statistics::descriptive::{compensated_sum, mean};
use crate::statistics::distribution::{chi_square_quantile, normal_quantile, t_quantile};
use crate::statistics::error::{
    Result, StatisticsError, check_pairs, check_positive, check_values,
};
use crate::statistics::interval::{Interval, upper_tail};
use crate::statistics::warning::{Warning, warn_few};

/// Agreement over repeated pairs; differences are first less second.
#[derive(Debug, Clone, PartialEq)]
pub struct RepeatedAgreement {
    /// Pairs.
    pub count: usize,
    /// Patients.
    pub patients: usize,
    /// Mean of all differences.
    pub bias: f64,
    /// Its interval, which knows of the patients.
    pub bias_interval: Interval,
    /// Variance of the differences within a patient.
    pub within_variance: f64,
    /// Variance between patients of their true mean difference; zero when the estimate was negative.
    pub between_variance: f64,
    /// `sqrt(within + between)`.
    pub standard_deviation: f64,
    /// Lower limit of agreement.
    pub lower: Limit,
    /// Upper limit of agreement.
    pub upper: Limit,
    /// Percentage error; `None` when the mean is not above zero. Its interval takes the patients as the degrees of freedom.
    pub percentage_error: Option<PercentageError>,
    /// Cautions.
    pub warnings: Vec<Warning>,
}

/// One-way analysis of variance by patient.
pub(super) struct OneWay {
    pub(super) groups: f64,
    pub(super) count: f64,
    pub(super) mean: f64,
    pub(super) between_square: f64,
    pub(super) within_square: f64,
    /// `((sum m)^2 - sum m^2) / ((k - 1) sum m)`: the group size that the between-group mean square stands for.
    pub(super) typical_size: f64,
    squared_sizes: f64,
}

impl OneWay {
    /// # Errors
    /// Fewer than two groups, or no group with two values.
    pub(super) fn new(values: &[f64], clusters: &Clusters) -> Result<Self> {
        let groups = clusters.count();
        if groups < 2 {
            return Err(StatisticsError::TooFew {
                what: "patients",
                found: groups,
                needed: 2,
            });
        }
        if groups == values.len() {
            return Err(StatisticsError::TooFew {
                what: "values of any one patient",
                found: 1,
                needed: 2,
            });
        }
        let count = values.len() as f64;
        let grand = mean(values);
        let (mut between, mut within, mut squared_sizes) = (Vec::new(), Vec::new(), 0.0);
        for group in 0..groups {
            let members = clusters.members(group);
            let own: Vec<f64> = members.iter().map(|i| values[*i as usize]).collect();
            let center = mean(&own);
            let size = own.len() as f64;
            between.push(size * (center - grand) * (center - grand));
            within.extend(own.iter().map(|v| (v - center) * (v - center)));
            squared_sizes += size * size;
        }
        let groups = groups as f64;
        Ok(Self {
            groups,
            count,
            mean: grand,
            between_square: compensated_sum(between) / (groups - 1.0),
            within_square: compensated_sum(within) / (count - groups),
            typical_size: (count - squared_sizes / count) / (groups - 1.0),
            squared_sizes,
        })
    }
}

/// Limits of agreement for repeated pairs whose true value varies.
///
/// One-way analysis of variance of the differences by patient: `within = MSW`, `between = (MSB - MSW) / m0` with
/// `m0 = ((sum m)^2 - sum m^2) / ((k - 1) sum m)`, limits `bias ± factor sqrt(within + between)` (Bland & Altman 2007 J Biopharm Stat
/// 17:571-82). Interval of a limit: recovery of variance estimates (Zou 2013 Stat Methods Med Res 22:630-42, memory), from
/// chi-square bounds of MSB and MSW and the variance of the bias, `between sum m^2 / N^2 + within / N`; approximate when the patients contribute
/// unequally.
///
/// # Errors
/// [`StatisticsError`] for fewer than three pairs, unequal lengths, a value that is not finite, fewer than two patients,
/// no patient with two pairs, or bad options.
pub fn agreement_repeated(
    first: &[f64],
    second: &[f64],
    patients: &Clusters,
    options: &AgreementOptions,
) -> Result<RepeatedAgreement> {
    check_values("first method", first, 3)?;
    check_values("second method", second, 3)?;
    check_pairs("first method", first.len(), "second method", second.len())?;
    check_pairs(
        "pairs",
        first.len(),
        "patient identifiers",
        patients.observations(),
    )?;
    check_positive("factor", options.factor)?;
    let differences: Vec<f64> = first.iter().zip(second).map(|(a, b)| a - b).collect();
    let parts = OneWay::new(&differences, patients)?;
    let raw_between = (parts.between_square - parts.within_square) / parts.typical_size;
    let between_variance = raw_between.max(0.0);
    let total = parts.within_square + between_variance;
    let deviation = total.sqrt();
    let bias_variance = between_variance * parts.squared_sizes / (parts.count * parts.count)
        + parts.within_square / parts.count;
    let reach = Reach::new(&parts, total, bias_variance, options)?;
    let mut warnings = Vec::new();
    warn_few(&mut warnings, "patients", patients.count(), 30);
    warnings.push(Warning::Repeated {
        observations: first.len(),
        patients: patients.count(),
    });
    if raw_between < 0.0 {
        warnings.push(Warning::NegativeComponent {
            what: "between-patient",
        });
    }
    let t = t_quantile(upper_tail(options.level)?, parts.groups - 1.0)?;
    let references: Vec<f64> = match options.reference {
        super::Reference::MeanOfBoth => first
            .iter()
            .zip(second)
            .map(|(a, b)| 0.5 * (a + b))
            .collect(),
        super::Reference::MeanOfSecond => second.to_vec(),
    };
    Ok(RepeatedAgreement {
        count: first.len(),
        patients: patients.count(),
        bias: parts.mean,
        bias_interval: Interval::around(parts.mean, t * bias_variance.sqrt(), options.level),
        within_variance: parts.within_square,
        between_variance,
        standard_deviation: deviation,
        lower: reach.lower(parts.mean - options.factor * deviation),
        upper: reach.upper(parts.mean + options.factor * deviation),
        percentage_error: percentage_error(deviation, &references, parts.groups - 1.0, options)?,
        warnings,
    })
}

/// How far the interval of a limit reaches toward the bias and away from it.
pub(super) struct Reach {
    inward: f64,
    outward: f64,
    level: f64,
}

impl Reach {
    fn new(
        parts: &OneWay,
        total: f64,
        bias_variance: f64,
        options: &AgreementOptions,
    ) -> Result<Self> {
        let components = [
            (
                parts.between_square / parts.typical_size,
                parts.groups - 1.0,
            ),
            (
                parts.within_square * (1.0 - 1.0 / parts.typical_size),
                parts.count - parts.groups,
            ),
        ];
        Self::from_components(&components, total, bias_variance, options)
    }

    /// From independent variance components, each with its degrees of freedom, that sum to the total.
    pub(super) fn from_components(
        components: &[(f64, f64)],
        total: f64,
        bias_variance: f64,
        options: &AgreementOptions,
    ) -> Result<Self> {
        let tail = upper_tail(options.level)?;
        let (mut down, mut up) = (0.0, 0.0);
        for (variance, freedom) in components {
            let low = variance * (1.0 - freedom / chi_square_quantile(tail, *freedom)?);
            let high = variance * (freedom / chi_square_quantile(1.0 - tail, *freedom)? - 1.0);
            down += low * low;
            up += high * high;
        }
        let z = normal_quantile(tail)?;
        let of_bias = z * z * bias_variance;
        let deviation = total.sqrt();
        let smallest = (total - down.sqrt()).max(0.0).sqrt();
        let largest = (total + up.sqrt()).sqrt();
        let reach =
            |change: f64| (of_bias + (options.factor * change) * (options.factor * change)).sqrt();
        Ok(Self {
            inward: reach(deviation - smallest),
            outward: reach(largest - deviation),
            level: options.level,
        })
    }

    pub(super) fn upper(&self, value: f64) -> Limit {
        Limit {
            value,
            interval: Interval {
                lower: value - self.inward,
                upper: value + self.outward,
                level: self.level,
            },
        }
    }

    pub(super) fn lower(&self, value: f64) -> Limit {
        Limit {
            value,
            interval: Interval {
                lower: value - self.outward,
                upper: value + self.inward,
                level: self.level,
            },
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::statistics::agreement::agreement;
    use crate::statistics::oracle::{close, counts, numbers};

    #[test]
    fn components_agree_with_statsmodels() {
        // a = statsmodels.stats.anova.anova_lm(ols("d ~ C(patient)", frame).fit()): a.mean_sq, then by the formulas above:
        // [mean(d), within, between, sd, lower limit, upper limit]
        let clusters = Clusters::new(&counts("repeated.patient")).unwrap();
        let found = agreement_repeated(
            &numbers("repeated.first"),
            &numbers("repeated.second"),
            &clusters,
            &AgreementOptions::default(),
        )
        .unwrap();
        let judge = numbers("repeated.components");
        close(found.bias, judge[0], 1e-12);
        close(found.within_variance, judge[1], 1e-12);
        close(found.between_variance, judge[2], 1e-12);
        close(found.standard_deviation, judge[3], 1e-12);
        close(found.lower.value, judge[4], 1e-12);
        close(found.upper.value, judge[5], 1e-12);
        assert!(
            found
                .warnings
                .iter()
                .any(|w| matches!(w, Warning::Repeated { .. }))
        );
    }

    #[test]
    fn limits_are_wider_than_those_that_ignore_patients() {
        let (first, second) = (numbers("repeated.first"), numbers("repeated.second"));
        let clusters = Clusters::new(&counts("repeated.patient")).unwrap();
        let options = AgreementOptions::default();
        let right = agreement_repeated(&first, &second, &clusters, &options).unwrap();
        let naive = agreement(&first, &second, &options).unwrap();
        assert!(right.standard_deviation > naive.standard_deviation);
        assert!(right.bias_interval.width() > naive.bias_interval.width());
        assert!(right.upper.interval.contains(right.upper.value));
    }

    #[test]
    fn one_pair_for_each_patient_is_refused() {
        let clusters = Clusters::new(&[1, 2, 3]).unwrap();
        let found = agreement_repeated(
            &[1.0, 2.0, 4.0],
            &[1.0; 3],
            &clusters,
            &AgreementOptions::default(),
        );
        assert!(matches!(found, Err(StatisticsError::TooFew { .. })));
    }

    #[test]
    fn patients_that_differ_less_than_chance_are_said() {
        let first = [1.0, 3.0, 3.0, 1.0, 1.0, 3.0];
        let clusters = Clusters::new(&[1, 1, 2, 2, 3, 3]).unwrap();
        let found =
            agreement_repeated(&first, &[0.0; 6], &clusters, &AgreementOptions::default()).unwrap();
        assert_eq!(found.between_variance, 0.0);
        assert!(found.warnings.contains(&Warning::NegativeComponent {
            what: "between-patient"
        }));
    }
}
