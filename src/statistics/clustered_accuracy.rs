//! Accuracy of a yes-or-no test where observations of one patient are alike.

use super::accuracy::{LikelihoodRatio, TwoByTwo, accuracy};
use super::cluster::Clusters;
use super::clustered_proportion::{ClusteredProportion, proportion_clustered};
use super::descriptive::compensated_sum;
use super::distribution::t_quantile;
use super::error::{Result, StatisticsError, check_pairs};
use super::interval::{Interval, upper_tail};

/// Accuracy with intervals that allow for observations of one patient being alike.
///
/// A share has no interval, and is `None`, where it is nobody's or a single patient's.
#[derive(Debug, Clone, PartialEq)]
pub struct ClusteredAccuracy {
    /// The counts.
    pub table: TwoByTwo,
    /// Share of the positives that test positive.
    pub sensitivity: Option<ClusteredProportion>,
    /// Share of the negatives that test negative.
    pub specificity: Option<ClusteredProportion>,
    /// Share of those who test positive that are positive.
    pub positive_predictive_value: Option<ClusteredProportion>,
    /// Share of those who test negative that are negative.
    pub negative_predictive_value: Option<ClusteredProportion>,
    /// Share of correct answers.
    pub correct: Option<ClusteredProportion>,
    /// `sensitivity / (1 - specificity)`.
    pub positive_likelihood_ratio: LikelihoodRatio,
    /// `(1 - sensitivity) / specificity`.
    pub negative_likelihood_ratio: LikelihoodRatio,
}

/// Accuracy of `test` against `condition`, of which several observations may be one patient's.
///
/// Shares: [`proportion_clustered`] of the observations that each is a share of. Likelihood ratios: the log method with the cluster-robust
/// variance `G / (G - 1) sum_g u_g^2` of the logarithm over G patients, where `u_g` sums `(y - a / n1) / a` over a patient's positives less
/// the same over the negatives, and Student's t on G - 1 degrees of freedom (linearization as for any ratio: Cochran 1977, Sampling
/// Techniques, section 6.4, memory); the variance is never less than that of independent observations.
///
/// ```
/// use semilunar::statistics::{Clusters, accuracy_clustered};
///
/// let test = [true, true, false, true, false, false, true, false];
/// let condition = [true, true, true, true, false, false, false, false];
/// let patients = Clusters::new(&["a", "a", "b", "b", "c", "c", "d", "d"])?;
/// let found = accuracy_clustered(&test, &condition, &patients, 0.95)?;
/// assert_eq!(found.sensitivity.map(|s| (s.count, s.of, s.patients)), Some((3, 4, 2)));
/// # Ok::<(), semilunar::statistics::StatisticsError>(())
/// ```
///
/// # Errors
/// [`StatisticsError`] for unequal lengths, no observations, one class only, fewer than two patients, or a level not between 0 and 1.
pub fn accuracy_clustered(
    test: &[bool],
    condition: &[bool],
    patients: &Clusters,
    level: f64,
) -> Result<ClusteredAccuracy> {
    let table = TwoByTwo::count(test, condition)?;
    let observations = patients.observations();
    check_pairs("test", test.len(), "patient identifiers", observations)?;
    patients.check_two()?;
    let plain = accuracy(table, level)?;
    let among = Among {
        patients,
        level,
        observations: test.iter().copied().zip(condition.iter().copied()),
    };
    let ratio = |of: LikelihoodRatio, is_hit: bool| match of {
        LikelihoodRatio::Estimated { value, .. } => among.ratio(value, is_hit),
        other => Ok(other),
    };
    Ok(ClusteredAccuracy {
        table,
        sensitivity: among.share(|(_, c)| c, |(t, _)| t)?,
        specificity: among.share(|(_, c)| !c, |(t, _)| !t)?,
        positive_predictive_value: among.share(|(t, _)| t, |(_, c)| c)?,
        negative_predictive_value: among.share(|(t, _)| !t, |(_, c)| !c)?,
        correct: among.share(|_| true, |(t, c)| t == c)?,
        positive_likelihood_ratio: ratio(plain.positive_likelihood_ratio, true)?,
        negative_likelihood_ratio: ratio(plain.negative_likelihood_ratio, false)?,
    })
}

/// Answers of test and condition, with whose they are.
struct Among<'p, I> {
    patients: &'p Clusters,
    level: f64,
    observations: I,
}

impl<I: Iterator<Item = (bool, bool)> + Clone> Among<'_, I> {
    /// The share of some observations that have something.
    fn share(
        &self,
        is_counted: impl Fn((bool, bool)) -> bool,
        has_it: impl Fn((bool, bool)) -> bool,
    ) -> Result<Option<ClusteredProportion>> {
        let counted = || {
            let all = self.observations.clone().enumerate();
            all.filter(|(_, one)| is_counted(*one))
        };
        let of: Vec<usize> = counted().map(|(i, _)| self.patients.group_of(i)).collect();
        if of.is_empty() {
            return Ok(None);
        }
        let patients = Clusters::new(&of)?;
        let has_it: Vec<bool> = counted().map(|(_, one)| has_it(one)).collect();
        match proportion_clustered(&has_it, &patients, self.level) {
            Ok(found) => Ok(Some(found)),
            // A single patient tells nothing of others.
            Err(StatisticsError::TooFew { .. }) => Ok(None),
            Err(error) => Err(error),
        }
    }

    /// The ratio of the share of positives whose test is `answer` to that of the negatives; both shares are above zero.
    fn ratio(&self, value: f64, answer: bool) -> Result<LikelihoodRatio> {
        let count = |class: bool| {
            let own = self.observations.clone().filter(|(_, c)| *c == class);
            let (hits, of) = own.fold((0.0, 0.0), |(hits, of), (test, _)| {
                (hits + f64::from(u8::from(test == answer)), of + 1.0)
            });
            Side { hits, of }
        };
        let (positives, negatives) = (count(true), count(false));
        let mut of_patient = vec![0.0; self.patients.count()];
        for (index, (test, class)) in self.observations.clone().enumerate() {
            let hit = f64::from(u8::from(test == answer));
            of_patient[self.patients.group_of(index)] += match class {
                true => positives.influence(hit),
                false => -negatives.influence(hit),
            };
        }
        let groups = of_patient.len() as f64;
        let together = groups / (groups - 1.0) * compensated_sum(of_patient.iter().map(|u| u * u));
        let variance = together.max(positives.variance() + negatives.variance());
        let t = t_quantile(upper_tail(self.level)?, groups - 1.0)?;
        let spread = libm::exp(t * variance.sqrt());
        Ok(LikelihoodRatio::Estimated {
            value,
            interval: Interval {
                lower: value / spread,
                upper: value * spread,
                level: self.level,
            },
        })
    }
}

/// How many of one class the test answers in a given way.
struct Side {
    hits: f64,
    of: f64,
}

impl Side {
    /// What an observation adds to the logarithm of the share.
    fn influence(&self, hit: f64) -> f64 {
        (hit - self.hits / self.of) / self.hits
    }

    /// Of the logarithm of the share, observations taken as independent.
    fn variance(&self) -> f64 {
        1.0 / self.hits - 1.0 / self.of
    }
}

#[cfg(test)]
mod tests {
    use super::super::oracle::close;
    use super::*;

    /// Ten patients with ten rows each; rows of a patient are alike but for one of the last patients.
    fn rows() -> (Vec<bool>, Vec<bool>, Vec<usize>) {
        let rows = 0..100_usize;
        let condition = rows.clone().map(|i| i / 10 < 4);
        let test = rows.clone().map(|i| match i / 10 {
            3 => i % 10 < 7,
            8 => i % 10 < 4,
            patient => patient < 3,
        });
        (
            test.collect(),
            condition.collect(),
            rows.map(|i| i / 10).collect(),
        )
    }

    #[test]
    fn agrees_with_sums_over_patients_in_numpy() {
        let (test, condition, patients) = rows();
        let patients = Clusters::new(&patients).unwrap();
        let found = accuracy_clustered(&test, &condition, &patients, 0.95).unwrap();
        // Sums over patients as above the functions, written in numpy with scipy.stats.t.ppf(0.975, patients - 1).
        let ends = |of: &Option<ClusteredProportion>| {
            let of = of.as_ref().unwrap();
            (of.value, of.interval)
        };
        for ((value, interval), expected) in [
            (
                ends(&found.sensitivity),
                [0.925, 0.4725849408747754, 0.9941438037262339],
            ),
            (
                ends(&found.specificity),
                [0.9333333333333333, 0.5962494614595322, 0.9925217693673407],
            ),
            (
                ends(&found.positive_predictive_value),
                [0.9024390243902439, 0.3974912904653754, 0.9923485269691252],
            ),
            (
                ends(&found.correct),
                [0.93, 0.748116374763755, 0.9834517352915667],
            ),
        ] {
            close(value, expected[0], 1e-14);
            close(interval.lower, expected[1], 1e-11);
            close(interval.upper, expected[2], 1e-11);
        }
        for (ratio, expected) in [
            (
                found.positive_likelihood_ratio,
                [13.875, 1.5634528786354382, 123.13490712174529],
            ),
            (
                found.negative_likelihood_ratio,
                [0.08035714285714285, 0.01013078095299662, 0.6373911782440864],
            ),
        ] {
            let LikelihoodRatio::Estimated { value, interval } = ratio else {
                panic!("{ratio:?}");
            };
            close(value, expected[0], 1e-13);
            close(interval.lower, expected[1], 1e-11);
            close(interval.upper, expected[2], 1e-10);
        }
    }

    #[test]
    fn single_observations_give_the_plain_ratio_but_for_the_number_of_patients() {
        let test: Vec<bool> = (0..40).map(|i| i % 3 == 0 || i > 30).collect();
        let condition: Vec<bool> = (0..40).map(|i| i > 18).collect();
        let singles: Vec<usize> = (0..40).collect();
        let singles = Clusters::new(&singles).unwrap();
        let found = accuracy_clustered(&test, &condition, &singles, 0.95).unwrap();
        let plain = accuracy(found.table, 0.95).unwrap();
        let (
            LikelihoodRatio::Estimated { value, interval },
            LikelihoodRatio::Estimated {
                value: expected,
                interval: alone,
            },
        ) = (
            found.positive_likelihood_ratio,
            plain.positive_likelihood_ratio,
        )
        else {
            panic!("both have a value");
        };
        close(value, expected, 1e-15);
        let width = |i: &Interval| libm::log(i.upper / i.lower);
        let stretch =
            (40.0_f64 / 39.0).sqrt() * t_quantile(0.975, 39.0).unwrap() / 1.959963984540054;
        close(width(&interval) / width(&alone), stretch, 1e-12);
    }

    #[test]
    fn a_single_patient_has_no_interval_and_none_is_refused() {
        let patients = Clusters::new(&[1, 1, 2, 3]).unwrap();
        let (test, condition) = ([true, true, false, false], [true, true, false, false]);
        let found = accuracy_clustered(&test, &condition, &patients, 0.95).unwrap();
        assert!(found.sensitivity.is_none() && found.specificity.is_some());
        assert!(accuracy_clustered(&test, &[true; 4], &patients, 0.95).is_err());
        let one = Clusters::new(&[1, 1, 1, 1]).unwrap();
        assert!(accuracy_clustered(&test, &condition, &one, 0.95).is_err());
    }
}
