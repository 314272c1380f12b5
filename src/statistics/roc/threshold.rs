//! Choosing a threshold by a stated rule.

use super::sample::{Direction, Levels, RocSample};
use crate::statistics::accuracy::TwoByTwo;
use crate::statistics::error::{Result, StatisticsError, check_fraction};
use crate::statistics::warning::{Warning, warn_few_of_each};

/// How to choose a threshold among the observed scores.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum ThresholdRule {
    /// The largest `sensitivity + specificity - 1` (Youden 1950 Cancer 3:32-5). Of tied thresholds the one whose
    /// sensitivity and specificity are closest, then the one with the higher sensitivity.
    MaximalYouden,
    /// The highest specificity among thresholds with at least this sensitivity, 0 to 1 exclusive.
    SensitivityAtLeast(f64),
    /// The highest sensitivity among thresholds with at least this specificity, 0 to 1 exclusive.
    SpecificityAtLeast(f64),
}

/// A chosen threshold with its counts on the data it was chosen on.
#[derive(Debug, Clone, PartialEq)]
pub struct ChosenThreshold {
    /// The threshold, an observed score: at it or beyond it the test is positive.
    pub threshold: f64,
    /// Which side is beyond.
    pub direction: Direction,
    /// Counts on the same data.
    pub table: TwoByTwo,
    /// Sensitivity on the same data.
    pub sensitivity: f64,
    /// Specificity on the same data.
    pub specificity: f64,
    /// `sensitivity + specificity - 1`.
    pub youden: f64,
    /// All thresholds that share the best Youden index, from the most extreme; only the chosen one for the other rules.
    pub tied: Vec<f64>,
    /// Cautions.
    pub warnings: Vec<Warning>,
}

/// Chooses a threshold by `rule`. Its accuracy on the same data flatters: see
/// [`corrected_accuracy`](super::corrected_accuracy).
///
/// # Errors
/// [`StatisticsError::OutOfRange`] for a demand not between 0 and 1; [`StatisticsError::Unreachable`] when no threshold
/// has the demanded specificity.
pub fn threshold(sample: &RocSample, rule: ThresholdRule) -> Result<ChosenThreshold> {
    check_rule(rule)?;
    let levels = sample.levels();
    let choice = choose(&levels.positives_at, &levels.negatives_at, rule)
        .ok_or_else(|| unreachable(sample, &levels, rule))?;
    let table = sample.table(choice.hits as usize, choice.alarms as usize);
    let sensitivity = table.true_positive as f64 / table.positives() as f64;
    let specificity = table.true_negative as f64 / table.negatives() as f64;
    let tied = match rule {
        ThresholdRule::MaximalYouden => tied_levels(sample, &levels, choice.youden)
            .map(|level| levels.scores[level])
            .collect(),
        _ => vec![levels.scores[choice.level]],
    };
    let mut warnings = vec![Warning::ChosenOnSameData];
    let classes = [
        ("positives", sample.positives()),
        ("negatives", sample.negatives()),
    ];
    warn_few_of_each(&mut warnings, classes);
    if tied.len() > 1 {
        warnings.push(Warning::TiedThresholds { count: tied.len() });
    }
    Ok(ChosenThreshold {
        threshold: levels.scores[choice.level],
        direction: sample.direction(),
        table,
        sensitivity,
        specificity,
        youden: sensitivity + specificity - 1.0,
        tied,
        warnings,
    })
}

/// Whether a score is at the threshold or beyond it.
pub(crate) fn is_beyond(score: f64, threshold: f64, direction: Direction) -> bool {
    match direction {
        Direction::HigherIsPositive => score >= threshold,
        Direction::LowerIsPositive => score <= threshold,
    }
}

pub(super) fn check_rule(rule: ThresholdRule) -> Result<()> {
    match rule {
        ThresholdRule::MaximalYouden => Ok(()),
        ThresholdRule::SensitivityAtLeast(demand) => check_fraction("demanded sensitivity", demand),
        ThresholdRule::SpecificityAtLeast(demand) => check_fraction("demanded specificity", demand),
    }
}

/// A chosen level, with the positives and negatives at it or beyond.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Choice {
    pub(super) level: usize,
    pub(super) hits: u32,
    pub(super) alarms: u32,
    /// The Youden index times positives times negatives, whole so that ties are exact.
    youden: i128,
}

/// Room for the rounding of a demand such as 0.9 times 10.
const ROUNDING: f64 = 1e-9;

/// Chooses a level from counts at each level; `None` when no level meets the demand or a class is empty.
/// Levels without observations (as resamples have) are never chosen. Allocates nothing.
pub(super) fn choose(
    positives_at: &[u32],
    negatives_at: &[u32],
    rule: ThresholdRule,
) -> Option<Choice> {
    let positives: u32 = positives_at.iter().sum();
    let negatives: u32 = negatives_at.iter().sum();
    if positives == 0 || negatives == 0 {
        return None;
    }
    let (p, n) = (i128::from(positives), i128::from(negatives));
    let (mut hits, mut alarms) = (0_u32, 0_u32);
    let mut best: Option<Choice> = None;
    for (level, (here_positive, here_negative)) in positives_at.iter().zip(negatives_at).enumerate()
    {
        if here_positive + here_negative == 0 {
            continue;
        }
        hits += here_positive;
        alarms += here_negative;
        let (h, a) = (i128::from(hits), i128::from(alarms));
        let candidate = Choice {
            level,
            hits,
            alarms,
            youden: h * n - a * p,
        };
        match rule {
            ThresholdRule::MaximalYouden => {
                let imbalance =
                    |c: &Choice| (i128::from(c.hits) * n + i128::from(c.alarms) * p - p * n).abs();
                let better = best.is_none_or(|b| {
                    candidate.youden > b.youden
                        || (candidate.youden == b.youden && imbalance(&candidate) <= imbalance(&b))
                });
                if better {
                    best = Some(candidate);
                }
            }
            ThresholdRule::SensitivityAtLeast(demand) => {
                if f64::from(hits) + ROUNDING >= demand * f64::from(positives) {
                    return Some(candidate);
                }
            }
            ThresholdRule::SpecificityAtLeast(demand) => {
                if f64::from(negatives - alarms) + ROUNDING < demand * f64::from(negatives) {
                    break;
                }
                best = Some(candidate);
            }
        }
    }
    best
}

fn tied_levels(sample: &RocSample, levels: &Levels, best: i128) -> impl Iterator<Item = usize> {
    let (p, n) = (sample.positives() as i128, sample.negatives() as i128);
    let (mut hits, mut alarms) = (0_i128, 0_i128);
    let counts = levels.positives_at.iter().zip(&levels.negatives_at);
    counts
        .enumerate()
        .filter_map(move |(level, (positives, negatives))| {
            hits += i128::from(*positives);
            alarms += i128::from(*negatives);
            (hits * n - alarms * p == best).then_some(level)
        })
}

/// Only a demanded specificity can be out of reach: everybody positive has sensitivity 1.
fn unreachable(sample: &RocSample, levels: &Levels, rule: ThresholdRule) -> StatisticsError {
    let demanded = match rule {
        ThresholdRule::SpecificityAtLeast(demand) | ThresholdRule::SensitivityAtLeast(demand) => {
            demand
        }
        ThresholdRule::MaximalYouden => 1.0,
    };
    let extreme = f64::from(levels.negatives_at[0]);
    StatisticsError::Unreachable {
        what: "a specificity of at least",
        demanded,
        best: 1.0 - extreme / sample.negatives() as f64,
    }
}

#[cfg(test)]
mod tests {
    use super::super::fixtures::{classes, first_score};
    use super::*;
    use crate::statistics::oracle::numbers;

    fn sample() -> RocSample {
        RocSample::new(&first_score(), &classes(), Direction::HigherIsPositive).unwrap()
    }

    #[test]
    fn youden_agrees_with_scikit_learn() {
        // fpr, tpr, t = roc_curve(positive, first, drop_intermediate=False); j = argmax(tpr - fpr)
        // [t[j], tpr[j], 1 - fpr[j]]
        let judge = numbers("roc.youden_first");
        let found = threshold(&sample(), ThresholdRule::MaximalYouden).unwrap();
        assert_eq!(found.threshold, judge[0]);
        assert!((found.sensitivity - judge[1]).abs() < 1e-14);
        assert!((found.specificity - judge[2]).abs() < 1e-14);
        assert_eq!(found.warnings[0], Warning::ChosenOnSameData);
    }

    #[test]
    fn fixed_sensitivity_and_specificity_agree_with_scikit_learn() {
        // t[argmax(tpr >= 0.9)] and t[last index with 1 - fpr >= 0.9]
        let judge = numbers("roc.fixed_first");
        let by = |rule| threshold(&sample(), rule).unwrap();
        let sensitive = by(ThresholdRule::SensitivityAtLeast(0.9));
        let specific = by(ThresholdRule::SpecificityAtLeast(0.9));
        assert_eq!(
            (sensitive.threshold, specific.threshold),
            (judge[0], judge[1])
        );
        assert!(sensitive.sensitivity >= 0.9 && specific.specificity >= 0.9);
    }

    #[test]
    fn tied_thresholds_are_listed_and_the_balanced_one_is_taken() {
        // From the top: + + - - : J is 0.5, 1.0 reached once; then a sample with two equal maxima.
        let scores = [6.0, 5.0, 4.0, 3.0, 2.0, 1.0];
        let positive = [true, false, true, false, true, false];
        let found = threshold(
            &RocSample::new(&scores, &positive, Direction::HigherIsPositive).unwrap(),
            ThresholdRule::MaximalYouden,
        )
        .unwrap();
        assert_eq!(found.tied, [6.0, 4.0, 2.0]);
        assert_eq!(found.threshold, 4.0);
        assert!(
            found
                .warnings
                .contains(&Warning::TiedThresholds { count: 3 })
        );
    }

    #[test]
    fn a_specificity_out_of_reach_says_the_best() {
        let scores = [3.0, 3.0, 2.0, 1.0];
        let positive = [true, false, true, false];
        let sample = RocSample::new(&scores, &positive, Direction::HigherIsPositive).unwrap();
        assert_eq!(
            threshold(&sample, ThresholdRule::SpecificityAtLeast(0.9)),
            Err(StatisticsError::Unreachable {
                what: "a specificity of at least",
                demanded: 0.9,
                best: 0.5
            })
        );
        assert!(threshold(&sample, ThresholdRule::SensitivityAtLeast(90.0)).is_err());
    }

    #[test]
    fn lower_is_positive_mirrors() {
        let negated: Vec<f64> = first_score().iter().map(|s| -s).collect();
        let mirrored = RocSample::new(&negated, &classes(), Direction::LowerIsPositive).unwrap();
        let (a, b) = (
            threshold(&sample(), ThresholdRule::MaximalYouden).unwrap(),
            threshold(&mirrored, ThresholdRule::MaximalYouden).unwrap(),
        );
        assert_eq!((a.threshold, a.table), (-b.threshold, b.table));
    }
}
