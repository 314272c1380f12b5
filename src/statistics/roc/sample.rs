//! The validated, sorted sample that every ROC statistic reads.

use crate::statistics::accuracy::TwoByTwo;
use crate::statistics::error::{Result, StatisticsError, check_pairs, check_values};

/// Which scores speak for the condition.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Direction {
    /// The test is positive when `score >= threshold`.
    HigherIsPositive,
    /// The test is positive when `score <= threshold`.
    LowerIsPositive,
}

/// One point of the curve.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RocPoint {
    /// The threshold; `None` at the end of the curve where nobody tests positive.
    pub threshold: Option<f64>,
    /// Share of the positives at the threshold or beyond.
    pub sensitivity: f64,
    /// Share of the negatives short of the threshold.
    pub specificity: f64,
}

/// Scores with their classes, sorted once.
///
/// Levels are the distinct scores, from the one that speaks most for the condition to the one that speaks least.
#[derive(Debug, Clone, PartialEq)]
pub struct RocSample {
    direction: Direction,
    positive: Vec<bool>,
    level_of: Vec<u32>,
    scores: Vec<f64>,
    positives_at: Vec<u32>,
    negatives_at: Vec<u32>,
    positives: usize,
    negatives: usize,
}

impl RocSample {
    /// Checks and sorts scores with their classes (`true`: the condition is present), in O(n log n).
    ///
    /// # Errors
    /// [`StatisticsError`]: no scores, a score that is not finite, slices of unequal length, or one class only.
    pub fn new(scores: &[f64], positive: &[bool], direction: Direction) -> Result<Self> {
        check_values("scores", scores, 1)?;
        check_pairs("scores", scores.len(), "classes", positive.len())?;
        let positives = positive.iter().filter(|p| **p).count();
        let negatives = positive.len() - positives;
        if positives == 0 || negatives == 0 {
            return Err(StatisticsError::OneClass {
                positives,
                negatives,
            });
        }
        if u32::try_from(scores.len()).is_err() {
            return Err(StatisticsError::OutOfRange {
                what: "number of scores",
                value: scores.len() as f64,
                allowed: "at most 4294967295",
            });
        }
        let mut sample = Self {
            direction,
            positive: positive.to_vec(),
            level_of: vec![0; scores.len()],
            scores: Vec::new(),
            positives_at: Vec::new(),
            negatives_at: Vec::new(),
            positives,
            negatives,
        };
        sample.fill_levels(scores);
        Ok(sample)
    }

    fn fill_levels(&mut self, scores: &[f64]) {
        // Keys beside their numbers sort several times as fast as numbers that look their scores up.
        let is_descending = self.direction == Direction::HigherIsPositive;
        let key = |score: &f64| match is_descending {
            true => !rising_key(*score),
            false => rising_key(*score),
        };
        let mut order: Vec<(u64, u32)> = scores.iter().map(key).zip(0..).collect();
        order.sort_unstable();
        for (_, index) in order {
            let value = scores[index as usize];
            if self.scores.last() != Some(&value) {
                self.scores.push(value);
                self.positives_at.push(0);
                self.negatives_at.push(0);
            }
            let level = self.scores.len() - 1;
            self.level_of[index as usize] = level as u32;
            if self.positive[index as usize] {
                self.positives_at[level] += 1;
            } else {
                self.negatives_at[level] += 1;
            }
        }
    }

    /// Observations with the condition.
    pub fn positives(&self) -> usize {
        self.positives
    }

    /// Observations without the condition.
    pub fn negatives(&self) -> usize {
        self.negatives
    }

    /// The direction the sample was built with.
    pub fn direction(&self) -> Direction {
        self.direction
    }

    /// Share of pairs of a positive and a negative in which the positive's score speaks more for the condition,
    /// ties counting one half: the area under the curve, without an interval.
    pub fn area_value(&self) -> f64 {
        let mut twice_wins = 0_u128;
        let mut negatives_left = self.negatives as u128;
        for (positives, negatives) in self.positives_at.iter().zip(&self.negatives_at) {
            let (positives, negatives) = (u128::from(*positives), u128::from(*negatives));
            negatives_left -= negatives;
            twice_wins += positives * (2 * negatives_left + negatives);
        }
        twice_wins as f64 / (2.0 * self.positives as f64 * self.negatives as f64)
    }

    /// The curve from "nobody positive" to "everybody positive", one point for each distinct score.
    pub fn curve(&self) -> Vec<RocPoint> {
        let mut points = vec![RocPoint {
            threshold: None,
            sensitivity: 0.0,
            specificity: 1.0,
        }];
        let (mut hits, mut alarms) = (0_u64, 0_u64);
        for level in 0..self.levels() {
            hits += u64::from(self.positives_at[level]);
            alarms += u64::from(self.negatives_at[level]);
            points.push(RocPoint {
                threshold: Some(self.scores[level]),
                sensitivity: hits as f64 / self.positives as f64,
                specificity: (self.negatives as u64 - alarms) as f64 / self.negatives as f64,
            });
        }
        points
    }

    /// The table of the test that is positive at `threshold` or beyond it.
    ///
    /// # Errors
    /// [`StatisticsError::OutOfRange`] when the threshold is not finite.
    pub fn table_at(&self, threshold: f64) -> Result<TwoByTwo> {
        crate::statistics::error::check_finite("threshold", threshold)?;
        let within = self
            .scores
            .partition_point(|score| super::is_beyond(*score, threshold, self.direction));
        let sum = |counts: &[u32]| counts[..within].iter().map(|c| *c as usize).sum::<usize>();
        let (hits, alarms) = (sum(&self.positives_at), sum(&self.negatives_at));
        Ok(self.table(hits, alarms))
    }

    /// The table from its two counts of positive tests.
    pub(in crate::statistics) fn table(&self, hits: usize, alarms: usize) -> TwoByTwo {
        TwoByTwo {
            true_positive: hits,
            false_positive: alarms,
            false_negative: self.positives - hits,
            true_negative: self.negatives - alarms,
        }
    }

    /// How many distinct scores there are.
    pub(super) fn levels(&self) -> usize {
        self.scores.len()
    }

    /// The score of a level.
    pub(super) fn score_of(&self, level: usize) -> f64 {
        self.scores[level]
    }

    /// Positives and negatives at each level.
    pub(super) fn counts(&self) -> (&[u32], &[u32]) {
        (&self.positives_at, &self.negatives_at)
    }

    /// Classes, in the order given.
    pub(super) fn classes(&self) -> &[bool] {
        &self.positive
    }

    /// Level of each observation, in the order given.
    pub(super) fn level_of(&self) -> &[u32] {
        &self.level_of
    }
}

/// A whole number that rises as the score does, in the order of `total_cmp`.
fn rising_key(score: f64) -> u64 {
    let bits = score.to_bits();
    match score.is_sign_negative() {
        true => !bits,
        false => bits | (1 << 63),
    }
}

#[cfg(test)]
mod tests {
    use super::super::fixtures::{classes, first_score};
    use super::*;
    use crate::statistics::oracle::{all_close, close, number, numbers};

    fn sample(direction: Direction) -> RocSample {
        RocSample::new(&first_score(), &classes(), direction).unwrap()
    }

    #[test]
    fn area_agrees_with_scikit_learn() {
        // sklearn.metrics.roc_auc_score(positive, first) and (positive, -first)
        close(
            sample(Direction::HigherIsPositive).area_value(),
            number("roc.sklearn_auc_first"),
            1e-15,
        );
        close(
            sample(Direction::LowerIsPositive).area_value(),
            number("roc.sklearn_auc_minus_first"),
            1e-15,
        );
    }

    #[test]
    fn curve_agrees_with_scikit_learn() {
        // fpr, tpr, t = sklearn.metrics.roc_curve(positive, first, drop_intermediate=False)
        let points = sample(Direction::HigherIsPositive).curve();
        let sensitivity: Vec<f64> = points.iter().map(|p| p.sensitivity).collect();
        let alarms: Vec<f64> = points.iter().map(|p| 1.0 - p.specificity).collect();
        let thresholds: Vec<f64> = points.iter().filter_map(|p| p.threshold).collect();
        all_close(&sensitivity, &numbers("roc.sklearn_tpr"), 1e-14);
        all_close(&alarms, &numbers("roc.sklearn_fpr"), 1e-14);
        all_close(
            &thresholds,
            &numbers("roc.sklearn_thresholds_after_first"),
            0.0,
        );
    }

    #[test]
    fn area_is_the_share_of_won_pairs() {
        // The slow obvious judge: every pair.
        let (scores, positive) = (first_score(), classes());
        let mut won = 0.0;
        for (a, _) in scores.iter().zip(&positive).filter(|(_, p)| **p) {
            for (b, _) in scores.iter().zip(&positive).filter(|(_, p)| !**p) {
                won += if a > b {
                    1.0
                } else if a == b {
                    0.5
                } else {
                    0.0
                };
            }
        }
        let s = sample(Direction::HigherIsPositive);
        close(
            s.area_value(),
            won / (s.positives() * s.negatives()) as f64,
            1e-15,
        );
    }

    #[test]
    fn swapped_classes_mirror_and_monotone_maps_change_nothing() {
        let (scores, positive) = (first_score(), classes());
        let swapped: Vec<bool> = positive.iter().map(|p| !p).collect();
        let higher = Direction::HigherIsPositive;
        let original = RocSample::new(&scores, &positive, higher)
            .unwrap()
            .area_value();
        let mirrored = RocSample::new(&scores, &swapped, higher)
            .unwrap()
            .area_value();
        close(mirrored, 1.0 - original, 1e-15);
        let mapped: Vec<f64> = scores.iter().map(|s| libm::exp(s / 20.0) - 3.0).collect();
        assert_eq!(
            RocSample::new(&mapped, &positive, higher)
                .unwrap()
                .area_value(),
            original
        );
        let negated: Vec<f64> = scores.iter().map(|s| -s).collect();
        let lower = RocSample::new(&negated, &positive, Direction::LowerIsPositive).unwrap();
        assert_eq!(lower.area_value(), original);
    }

    #[test]
    fn a_threshold_between_scores_counts_what_is_beyond() {
        let positive = [false, true, true];
        let s = RocSample::new(&[1.0, 2.0, 3.0], &positive, Direction::HigherIsPositive).unwrap();
        assert_eq!(s.table_at(1.5).unwrap().true_positive, 2);
        assert_eq!(s.table_at(2.0).unwrap().true_positive, 2);
        assert_eq!(s.table_at(9.0).unwrap().true_positive, 0);
        let s = RocSample::new(&[1.0, 2.0, 3.0], &positive, Direction::LowerIsPositive).unwrap();
        assert_eq!(s.table_at(2.0).unwrap().false_positive, 1);
    }

    #[test]
    fn keys_rise_as_scores_do() {
        let scores = [-1e30, -2.5, -1e-30, -0.0, 0.0, 1e-30, 1.0, 2.5, 1e30];
        let keys = scores.map(rising_key);
        assert!(keys.windows(2).all(|pair| pair[0] < pair[1]), "{keys:?}");
    }

    #[test]
    fn bad_input_is_named() {
        let higher = Direction::HigherIsPositive;
        assert!(matches!(
            RocSample::new(&[], &[], higher),
            Err(StatisticsError::TooFew { .. })
        ));
        assert!(matches!(
            RocSample::new(&[1.0, f64::NAN], &[true, false], higher),
            Err(StatisticsError::NotFinite { index: 1, .. })
        ));
        assert!(matches!(
            RocSample::new(&[1.0, 2.0], &[true, true], higher),
            Err(StatisticsError::OneClass { negatives: 0, .. })
        ));
        assert!(matches!(
            RocSample::new(&[1.0, 2.0], &[true], higher),
            Err(StatisticsError::UnequalLengths { .. })
        ));
        assert_eq!(
            RocSample::new(&[0.0, -0.0], &[true, false], higher)
                .unwrap()
                .area_value(),
            0.5
        );
    }
}
