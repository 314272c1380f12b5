//! The gray zone: scores between two thresholds, where a test neither rules in nor rules out.
//!
//! Both published ways of drawing it: demanded sensitivity and specificity, or demanded post-test probabilities
//! by way of likelihood ratios (Coste & Pouchot 2003 Int J Epidemiol 32:304-13; the formulas are Bayes' rule).
//! The bootstrap interval of the Youden threshold, which some papers also call a gray zone, is
//! [`threshold_interval`](super::roc::threshold_interval()).

use super::error::{Result, StatisticsError, check_fraction};
use super::proportion::{Proportion, proportion};
use super::roc::{Direction, RocPoint, RocSample, ThresholdRule, threshold};
use super::warning::{Warning, warn_few_of_each};

/// What the two ends of the gray zone must achieve.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum GrayZoneDemand {
    /// Rule out with at least this sensitivity, rule in with at least this specificity; often 0.9 and 0.9 (common practice).
    Accuracy {
        /// Sensitivity of the ruling-out threshold.
        sensitivity: f64,
        /// Specificity of the ruling-in threshold.
        specificity: f64,
    },
    /// From a pre-test probability, rule out to at most and rule in to at least these post-test probabilities.
    PostTest {
        /// Probability of the condition before the test.
        before: f64,
        /// Largest acceptable probability after a negative test at the ruling-out threshold.
        ruled_out: f64,
        /// Smallest acceptable probability after a positive test at the ruling-in threshold.
        ruled_in: f64,
    },
}

/// A gray zone.
#[derive(Debug, Clone, PartialEq)]
pub struct GrayZone {
    /// Scores short of this are ruled out.
    pub ruling_out: f64,
    /// Scores at this or beyond are ruled in.
    pub ruling_in: f64,
    /// Which side is beyond.
    pub direction: Direction,
    /// The likelihood ratios demanded, when post-test probabilities were.
    pub ratios: Option<DemandedRatios>,
    /// Observations in the zone: neither ruled out nor ruled in. Zero when the two thresholds leave no gap.
    pub inside: Proportion,
    /// Cautions.
    pub warnings: Vec<Warning>,
}

impl GrayZone {
    /// Whether a score is neither ruled out nor ruled in. At `ruling_out` itself a score is not ruled out.
    pub fn contains(&self, score: f64) -> bool {
        use super::roc::is_beyond;
        is_beyond(score, self.ruling_out, self.direction)
            && !is_beyond(score, self.ruling_in, self.direction)
    }
}

/// Draws the gray zone of a sample.
///
/// A test at a threshold is positive at it or beyond. Ruling out uses the most extreme threshold whose negative answer meets the
/// demand, ruling in the least extreme whose positive answer does. Post-test demands become
/// `LR = [after / (1 - after)] / [before / (1 - before)]`.
///
/// # Errors
/// [`StatisticsError::OutOfRange`] for a demand not strictly between 0 and 1, or a ruled-out probability that is not below
/// the pre-test probability, or a ruled-in one that is not above it; [`StatisticsError::Unreachable`] when no observed
/// threshold meets a demand; a level not between 0 and 1.
pub fn gray_zone(sample: &RocSample, demand: GrayZoneDemand, level: f64) -> Result<GrayZone> {
    let mut warnings = vec![Warning::ChosenOnSameData];
    let classes = [
        ("positives", sample.positives()),
        ("negatives", sample.negatives()),
    ];
    warn_few_of_each(&mut warnings, classes);
    let ends = match demand {
        GrayZoneDemand::Accuracy {
            sensitivity,
            specificity,
        } => by_accuracy(sample, sensitivity, specificity)?,
        GrayZoneDemand::PostTest {
            before,
            ruled_out,
            ruled_in,
        } => by_post_test(sample, before, ruled_out, ruled_in, &mut warnings)?,
    };
    Ok(GrayZone {
        ruling_out: ends.ruling_out,
        ruling_in: ends.ruling_in,
        direction: sample.direction(),
        ratios: ends.ratios,
        inside: count_inside(sample, &ends, level)?,
        warnings,
    })
}

struct Ends {
    ruling_out: f64,
    ruling_in: f64,
    ratios: Option<DemandedRatios>,
}

fn by_accuracy(sample: &RocSample, sensitivity: f64, specificity: f64) -> Result<Ends> {
    Ok(Ends {
        ruling_out: threshold(sample, ThresholdRule::SensitivityAtLeast(sensitivity))?.threshold,
        ruling_in: threshold(sample, ThresholdRule::SpecificityAtLeast(specificity))?.threshold,
        ratios: None,
    })
}

fn by_post_test(
    sample: &RocSample,
    before: f64,
    ruled_out: f64,
    ruled_in: f64,
    warnings: &mut Vec<Warning>,
) -> Result<Ends> {
    let ratios = DemandedRatios::new(before, ruled_out, ruled_in)?;
    let curve = sample.curve();
    Ok(Ends {
        ruling_out: ruling_out(&curve, ratios.negative_at_most, warnings)?,
        ruling_in: ruling_in(&curve, ratios.positive_at_least, warnings)?,
        ratios: Some(ratios),
    })
}

/// Likelihood ratios that carry a pre-test probability to the demanded post-test probabilities.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DemandedRatios {
    /// Largest negative likelihood ratio that rules out.
    pub negative_at_most: f64,
    /// Smallest positive likelihood ratio that rules in.
    pub positive_at_least: f64,
}

impl DemandedRatios {
    /// `[after / (1 - after)] / [before / (1 - before)]` for both ends.
    ///
    /// # Errors
    /// [`StatisticsError::OutOfRange`] unless `0 < ruled_out < before < ruled_in < 1`.
    pub fn new(before: f64, ruled_out: f64, ruled_in: f64) -> Result<Self> {
        check_fraction("pre-test probability", before)?;
        check_fraction("ruled-out probability", ruled_out)?;
        check_fraction("ruled-in probability", ruled_in)?;
        if ruled_out >= before {
            return Err(StatisticsError::OutOfRange {
                what: "ruled-out probability",
                value: ruled_out,
                allowed: "below the pre-test probability",
            });
        }
        if ruled_in <= before {
            return Err(StatisticsError::OutOfRange {
                what: "ruled-in probability",
                value: ruled_in,
                allowed: "above the pre-test probability",
            });
        }
        let odds = |p: f64| p / (1.0 - p);
        Ok(Self {
            negative_at_most: odds(ruled_out) / odds(before),
            positive_at_least: odds(ruled_in) / odds(before),
        })
    }
}

/// Room for the rounding of a ratio of shares.
const ROUNDING: f64 = 1e-12;

/// The most extreme threshold with `1 - sens <= allowed spec`, among those whose negative answer is ever given.
fn ruling_out(curve: &[RocPoint], allowed: f64, warnings: &mut Vec<Warning>) -> Result<f64> {
    let meets = |p: &RocPoint| {
        p.specificity > 0.0 && 1.0 - p.sensitivity <= allowed * p.specificity + ROUNDING
    };
    let points = &curve[1..];
    let first = points.iter().position(meets).ok_or_else(|| {
        let ratios = points.iter().filter(|p| p.specificity > 0.0);
        StatisticsError::Unreachable {
            what: "a negative likelihood ratio of at most",
            demanded: allowed,
            best: ratios
                .map(|p| (1.0 - p.sensitivity) / p.specificity)
                .fold(1.0, f64::min),
        }
    })?;
    if points[first..]
        .iter()
        .any(|p| p.specificity > 0.0 && !meets(p))
    {
        warnings.push(Warning::NotMonotone {
            what: "the negative likelihood ratio",
        });
    }
    threshold_of(&points[first])
}

/// The least extreme threshold with `sens >= demanded (1 - spec)`, among those whose positive answer hits someone.
fn ruling_in(curve: &[RocPoint], demanded: f64, warnings: &mut Vec<Warning>) -> Result<f64> {
    let meets = |p: &RocPoint| {
        p.sensitivity > 0.0 && p.sensitivity + ROUNDING >= demanded * (1.0 - p.specificity)
    };
    let points = &curve[1..];
    let last = points.iter().rposition(meets).ok_or_else(|| {
        let ratios = points.iter().filter(|p| p.specificity < 1.0);
        StatisticsError::Unreachable {
            what: "a positive likelihood ratio of at least",
            demanded,
            best: ratios
                .map(|p| p.sensitivity / (1.0 - p.specificity))
                .fold(0.0, f64::max),
        }
    })?;
    if points[..last].iter().any(|p| !meets(p)) {
        warnings.push(Warning::NotMonotone {
            what: "the positive likelihood ratio",
        });
    }
    threshold_of(&points[last])
}

fn threshold_of(point: &RocPoint) -> Result<f64> {
    point.threshold.ok_or(StatisticsError::NotConverged {
        what: "the search for a threshold",
        hint: "the curve holds no observed score",
    })
}

/// Patients at or beyond the ruling-out threshold but short of the ruling-in one.
fn count_inside(sample: &RocSample, ends: &Ends, level: f64) -> Result<Proportion> {
    let tested_positive = |at: f64| -> Result<usize> {
        let table = sample.table_at(at)?;
        Ok(table.true_positive + table.false_positive)
    };
    let not_ruled_out = tested_positive(ends.ruling_out)?;
    let ruled_in = tested_positive(ends.ruling_in)?;
    proportion(
        not_ruled_out.saturating_sub(ruled_in),
        sample.positives() + sample.negatives(),
        level,
    )
}

#[cfg(test)]
mod tests {
    use super::super::oracle::{close, numbers};
    use super::super::roc::fixtures::{classes, first_score};
    use super::*;

    fn sample() -> RocSample {
        RocSample::new(&first_score(), &classes(), Direction::HigherIsPositive).unwrap()
    }

    #[test]
    fn demanded_accuracy_agrees_with_scikit_learn() {
        // t[argmax(tpr >= 0.9)], t[last index with 1 - fpr >= 0.9], mean((first >= out) & (first < into))
        let judge = numbers("roc.gray_accuracy");
        let demand = GrayZoneDemand::Accuracy {
            sensitivity: 0.9,
            specificity: 0.9,
        };
        let zone = gray_zone(&sample(), demand, 0.95).unwrap();
        assert_eq!((zone.ruling_out, zone.ruling_in), (judge[0], judge[1]));
        close(zone.inside.value, judge[2], 1e-15);
        let inside = first_score().iter().filter(|s| zone.contains(**s)).count();
        assert_eq!(inside, zone.inside.count);
    }

    #[test]
    fn demanded_post_test_probabilities_agree_with_scikit_learn() {
        // the same over (1 - tpr) / (1 - fpr) <= odds(.15) / odds(.45) and tpr / fpr >= odds(.8) / odds(.45)
        let judge = numbers("roc.gray_post_test");
        let demand = GrayZoneDemand::PostTest {
            before: 0.45,
            ruled_out: 0.15,
            ruled_in: 0.8,
        };
        let zone = gray_zone(&sample(), demand, 0.95).unwrap();
        assert_eq!((zone.ruling_out, zone.ruling_in), (judge[0], judge[1]));
        close(zone.inside.value, judge[2], 1e-15);
        close(
            zone.ratios.unwrap().positive_at_least,
            4.0 / (0.45 / 0.55),
            1e-13,
        );
    }

    #[test]
    fn a_clear_test_has_no_gray_zone() {
        let scores: Vec<f64> = (0..40).map(f64::from).collect();
        let positive: Vec<bool> = (0..40).map(|i| i >= 20).collect();
        let clear = RocSample::new(&scores, &positive, Direction::HigherIsPositive).unwrap();
        let demand = GrayZoneDemand::Accuracy {
            sensitivity: 0.95,
            specificity: 0.95,
        };
        assert_eq!(gray_zone(&clear, demand, 0.95).unwrap().inside.count, 0);
    }

    #[test]
    fn stricter_demands_never_shrink_the_zone() {
        let share = |demand: f64| {
            let demand = GrayZoneDemand::Accuracy {
                sensitivity: demand,
                specificity: demand,
            };
            gray_zone(&sample(), demand, 0.95).unwrap().inside.count
        };
        let counts: Vec<usize> = [0.7, 0.8, 0.85, 0.9].into_iter().map(share).collect();
        assert!(
            counts.windows(2).all(|pair| pair[0] <= pair[1]),
            "{counts:?}"
        );
    }

    #[test]
    fn impossible_demands_are_named() {
        let demand = |ruled_out, ruled_in| GrayZoneDemand::PostTest {
            before: 0.5,
            ruled_out,
            ruled_in,
        };
        assert!(matches!(
            gray_zone(&sample(), demand(0.6, 0.9), 0.95),
            Err(StatisticsError::OutOfRange { .. })
        ));
        // The classes alternate, so no threshold has a high ratio.
        let scores = [1.0, 2.0, 3.0, 4.0, 5.0, 6.0];
        let positive = [false, true, false, true, true, false];
        let weak = RocSample::new(&scores, &positive, Direction::HigherIsPositive).unwrap();
        assert!(matches!(
            gray_zone(&weak, demand(0.4, 0.99), 0.95),
            Err(StatisticsError::Unreachable { .. })
        ));
    }
}
