//! Accuracy of a yes-or-no test against a reference standard: the two-by-two table.

use super::distribution::normal_quantile;
use super::error::{Result, StatisticsError, check_fraction, check_pairs};
use super::interval::{Interval, upper_tail};
use super::proportion::{Proportion, proportion};
use super::warning::{Warning, warn_few_of_each};

/// Counts of test against condition.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct TwoByTwo {
    /// Test positive, condition present.
    pub true_positive: usize,
    /// Test positive, condition absent.
    pub false_positive: usize,
    /// Test negative, condition present.
    pub false_negative: usize,
    /// Test negative, condition absent.
    pub true_negative: usize,
}

impl TwoByTwo {
    /// Counts the table from paired answers.
    ///
    /// # Errors
    /// [`StatisticsError::UnequalLengths`] or, without observations, [`StatisticsError::TooFew`].
    pub fn count(test: &[bool], condition: &[bool]) -> Result<Self> {
        check_pairs("test", test.len(), "condition", condition.len())?;
        if test.is_empty() {
            return Err(StatisticsError::TooFew {
                what: "test",
                found: 0,
                needed: 1,
            });
        }
        let cell = |t: bool, c: bool| {
            test.iter()
                .zip(condition)
                .filter(|pair| pair == &(&t, &c))
                .count()
        };
        Ok(Self {
            true_positive: cell(true, true),
            false_positive: cell(true, false),
            false_negative: cell(false, true),
            true_negative: cell(false, false),
        })
    }

    /// Observations with the condition.
    pub fn positives(&self) -> usize {
        self.true_positive + self.false_negative
    }

    /// Observations without the condition.
    pub fn negatives(&self) -> usize {
        self.false_positive + self.true_negative
    }

    /// All observations.
    pub fn total(&self) -> usize {
        self.positives() + self.negatives()
    }
}

/// A ratio of two shares, which may have no finite value.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum LikelihoodRatio {
    /// A value with its interval.
    Estimated {
        /// The ratio.
        value: f64,
        /// Its interval, by the log method.
        interval: Interval,
    },
    /// The numerator is zero: the ratio is 0 and the log method has no interval.
    Zero,
    /// The denominator is zero: the ratio grows without bound.
    Unbounded,
    /// Both are zero.
    Undefined,
}

/// Accuracy with intervals.
#[derive(Debug, Clone, PartialEq)]
pub struct Accuracy {
    /// The counts.
    pub table: TwoByTwo,
    /// Share of the positives that test positive.
    pub sensitivity: Proportion,
    /// Share of the negatives that test negative.
    pub specificity: Proportion,
    /// Share of those who test positive that are positive; `None` when nobody tests positive.
    pub positive_predictive_value: Option<Proportion>,
    /// Share of those who test negative that are negative; `None` when nobody tests negative.
    pub negative_predictive_value: Option<Proportion>,
    /// Share of correct answers.
    pub correct: Proportion,
    /// `sensitivity / (1 - specificity)`.
    pub positive_likelihood_ratio: LikelihoodRatio,
    /// `(1 - sensitivity) / specificity`.
    pub negative_likelihood_ratio: LikelihoodRatio,
    /// `sensitivity + specificity - 1`.
    pub youden: f64,
    /// Cautions.
    pub warnings: Vec<Warning>,
}

/// Accuracy of a table that holds both classes.
///
/// Proportions: exact and Wilson intervals, see [`proportion`]. Likelihood ratios: `LR+ = sens / (1 - spec)`,
/// `LR- = (1 - sens) / spec`, interval `exp(ln LR ± z sqrt(1/a - 1/n1 + 1/b - 1/n2))` with `a` of `n1` and `b` of `n2` the
/// two counts (Simel, Samsa & Matchar 1991 J Clin Epidemiol 44:763-70).
///
/// # Errors
/// [`StatisticsError::OneClass`], or a level that is not between 0 and 1.
pub fn accuracy(table: TwoByTwo, level: f64) -> Result<Accuracy> {
    let (positives, negatives) = (table.positives(), table.negatives());
    if positives == 0 || negatives == 0 {
        return Err(StatisticsError::OneClass {
            positives,
            negatives,
        });
    }
    let sensitivity = proportion(table.true_positive, positives, level)?;
    let specificity = proportion(table.true_negative, negatives, level)?;
    let tested_positive = table.true_positive + table.false_positive;
    let tested_negative = table.total() - tested_positive;
    let positive_likelihood_ratio = ratio(
        table.true_positive,
        positives,
        table.false_positive,
        negatives,
        level,
    )?;
    let negative_likelihood_ratio = ratio(
        table.false_negative,
        positives,
        table.true_negative,
        negatives,
        level,
    )?;
    let mut warnings = vec![Warning::PrevalenceOfSample {
        prevalence: positives as f64 / table.total() as f64,
    }];
    warn_few_of_each(
        &mut warnings,
        [("positives", positives), ("negatives", negatives)],
    );
    for (what, found) in [
        ("positive likelihood ratio", positive_likelihood_ratio),
        ("negative likelihood ratio", negative_likelihood_ratio),
    ] {
        if !matches!(found, LikelihoodRatio::Estimated { .. }) {
            warnings.push(Warning::ZeroCell { what });
        }
    }
    Ok(Accuracy {
        table,
        sensitivity,
        specificity,
        positive_predictive_value: share(table.true_positive, tested_positive, level)?,
        negative_predictive_value: share(table.true_negative, tested_negative, level)?,
        correct: proportion(
            table.true_positive + table.true_negative,
            table.total(),
            level,
        )?,
        positive_likelihood_ratio,
        negative_likelihood_ratio,
        youden: sensitivity.value + specificity.value - 1.0,
        warnings,
    })
}

/// Predictive values at another prevalence.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PredictiveValues {
    /// Probability of the condition after a positive test.
    pub positive: f64,
    /// Probability of its absence after a negative test.
    pub negative: f64,
}

/// Predictive values where a share `prevalence` has the condition, by Bayes' rule.
///
/// `PPV = sens p / (sens p + (1 - spec)(1 - p))`, `NPV = spec (1 - p) / (spec (1 - p) + (1 - sens) p)`.
///
/// # Errors
/// [`StatisticsError::OutOfRange`] for a value that is not strictly between 0 and 1: at 0 or 1 one of the two has no value.
pub fn predictive_values(
    sensitivity: f64,
    specificity: f64,
    prevalence: f64,
) -> Result<PredictiveValues> {
    check_fraction("sensitivity", sensitivity)?;
    check_fraction("specificity", specificity)?;
    check_fraction("prevalence", prevalence)?;
    let absent = 1.0 - prevalence;
    let (hit, alarm) = (sensitivity * prevalence, (1.0 - specificity) * absent);
    let (cleared, missed) = (specificity * absent, (1.0 - sensitivity) * prevalence);
    Ok(PredictiveValues {
        positive: hit / (hit + alarm),
        negative: cleared / (cleared + missed),
    })
}

fn share(count: usize, of: usize, level: f64) -> Result<Option<Proportion>> {
    if of == 0 {
        Ok(None)
    } else {
        proportion(count, of, level).map(Some)
    }
}

fn ratio(
    top: usize,
    top_of: usize,
    bottom: usize,
    bottom_of: usize,
    level: f64,
) -> Result<LikelihoodRatio> {
    let z = normal_quantile(upper_tail(level)?)?;
    Ok(match (top, bottom) {
        (0, 0) => LikelihoodRatio::Undefined,
        (0, _) => LikelihoodRatio::Zero,
        (_, 0) => LikelihoodRatio::Unbounded,
        _ => {
            let (a, n1, b, n2) = (top as f64, top_of as f64, bottom as f64, bottom_of as f64);
            let value = (a / n1) / (b / n2);
            let spread = libm::exp(z * (1.0 / a - 1.0 / n1 + 1.0 / b - 1.0 / n2).sqrt());
            LikelihoodRatio::Estimated {
                value,
                interval: Interval {
                    lower: value / spread,
                    upper: value * spread,
                    level,
                },
            }
        }
    })
}

#[cfg(test)]
mod tests {
    use super::super::oracle::{close, number};
    use super::*;

    const MINI_FLUID: TwoByTwo = TwoByTwo {
        true_positive: 20,
        false_positive: 4,
        false_negative: 1,
        true_negative: 14,
    };

    #[test]
    fn a_published_table() {
        // Muller 2011 Anesthesiology 115:541-7: 39 patients, 21 responders, sensitivity 95 %, specificity 78 %.
        let found = accuracy(MINI_FLUID, 0.95).unwrap();
        assert_eq!((100.0 * found.sensitivity.value).round(), 95.0);
        assert_eq!((100.0 * found.specificity.value).round(), 78.0);
        close(found.youden, 20.0 / 21.0 + 14.0 / 18.0 - 1.0, 1e-15);
        assert_eq!(found.positive_predictive_value.unwrap().of, 24);
        assert_eq!(found.negative_predictive_value.unwrap().value, 14.0 / 15.0);
    }

    #[test]
    fn likelihood_ratios_agree_with_the_risk_ratio_of_scipy() {
        // scipy.stats.contingency.relative_risk(20, 21, 4, 18).confidence_interval(0.95): LR+ is a ratio of two risks
        let LikelihoodRatio::Estimated { value, interval } = accuracy(MINI_FLUID, 0.95)
            .unwrap()
            .positive_likelihood_ratio
        else {
            panic!("a ratio with four filled cells has a value");
        };
        close(value, number("accuracy.lr_positive.value"), 1e-13);
        close(interval.lower, number("accuracy.lr_positive.lower"), 1e-12);
        close(interval.upper, number("accuracy.lr_positive.upper"), 1e-12);
    }

    #[test]
    fn zero_cells_are_said_and_never_infinite() {
        let perfect = TwoByTwo {
            true_positive: 8,
            false_positive: 0,
            false_negative: 0,
            true_negative: 9,
        };
        let found = accuracy(perfect, 0.95).unwrap();
        assert_eq!(found.positive_likelihood_ratio, LikelihoodRatio::Unbounded);
        assert_eq!(found.negative_likelihood_ratio, LikelihoodRatio::Zero);
        let zeros = found
            .warnings
            .iter()
            .filter(|w| matches!(w, Warning::ZeroCell { .. }));
        assert_eq!(zeros.count(), 2);
    }

    #[test]
    fn one_class_is_refused() {
        let table = TwoByTwo::count(&[true, false], &[true, true]).unwrap();
        assert_eq!(
            accuracy(table, 0.95),
            Err(StatisticsError::OneClass {
                positives: 2,
                negatives: 0
            })
        );
        assert!(TwoByTwo::count(&[true], &[]).is_err());
    }

    #[test]
    fn predictive_values_at_the_prevalence_of_the_sample_are_those_of_the_table() {
        let found = accuracy(MINI_FLUID, 0.95).unwrap();
        let moved = predictive_values(
            found.sensitivity.value,
            found.specificity.value,
            21.0 / 39.0,
        )
        .unwrap();
        close(moved.positive, 20.0 / 24.0, 1e-14);
        close(moved.negative, 14.0 / 15.0, 1e-14);
        assert!(predictive_values(0.9, 0.9, 1.0).is_err());
    }
}
