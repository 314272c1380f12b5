//! The validated, sorted sample that every ROC statistic reads.

use super::key::Key;
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
#[derive(Debug, Clone, PartialEq)]
pub struct RocSample {
    direction: Direction,
    scores: Vec<f64>,
    positive: Vec<bool>,
    sorted: Vec<Key>,
    positives: usize,
    negatives: usize,
}

/// The distinct scores, from the one that speaks most for the condition to the one that speaks least, with the observations at each.
pub(super) struct Levels {
    pub(super) scores: Vec<f64>,
    pub(super) positives_at: Vec<u32>,
    pub(super) negatives_at: Vec<u32>,
}

/// Positives and negatives with one score.
#[derive(Debug, Clone, Copy)]
pub(super) struct AtLevel {
    pub(super) key: Key,
    pub(super) positives: u32,
    pub(super) negatives: u32,
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
        let mut sorted: Vec<Key> = scores
            .iter()
            .zip(positive)
            .map(|(score, is_positive)| Key::new(*score, *is_positive, direction))
            .collect();
        sorted.sort_unstable();
        Ok(Self {
            direction,
            scores: scores.to_vec(),
            positive: positive.to_vec(),
            sorted,
            positives,
            negatives,
        })
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
        for here in self.each_level() {
            let (positives, negatives) = (u128::from(here.positives), u128::from(here.negatives));
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
        for here in self.each_level() {
            hits += u64::from(here.positives);
            alarms += u64::from(here.negatives);
            points.push(RocPoint {
                threshold: Some(here.key.score(self.direction)),
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
        let within = self.sorted.partition_point(|key| {
            super::is_beyond(key.score(self.direction), threshold, self.direction)
        });
        let hits = self.sorted[..within]
            .iter()
            .filter(|key| key.is_positive())
            .count();
        Ok(self.table(hits, within - hits))
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

    /// What stands at each level, in one walk.
    pub(super) fn each_level(&self) -> impl Iterator<Item = AtLevel> {
        let levels = self.sorted.chunk_by(|a, b| a.is_level_with(*b));
        levels.map(|level| {
            let positives = level.iter().map(|key| u32::from(key.is_positive())).sum();
            AtLevel {
                key: level[0],
                positives,
                negatives: level.len() as u32 - positives,
            }
        })
    }

    /// The levels as columns, for who must find them by number.
    pub(super) fn levels(&self) -> Levels {
        let mut levels = Levels {
            scores: Vec::new(),
            positives_at: Vec::new(),
            negatives_at: Vec::new(),
        };
        for here in self.each_level() {
            levels.scores.push(here.key.score(self.direction));
            levels.positives_at.push(here.positives);
            levels.negatives_at.push(here.negatives);
        }
        levels
    }

    /// Classes, in the order given.
    pub(super) fn classes(&self) -> &[bool] {
        &self.positive
    }

    /// The number of the level of each observation, in the order given. Sorts anew: what needs it is rarer than what does not.
    pub(super) fn level_of_each(&self) -> Vec<u32> {
        // One class for all, so that only scores are told apart. Keys beside their numbers sort several times as fast as numbers that look
        // their scores up.
        let keys = self.scores.iter();
        let keys = keys.map(|score| Key::new(*score, false, self.direction));
        let mut order: Vec<(Key, u32)> = keys.zip(0..).collect();
        order.sort_unstable();
        let mut level_of = vec![0; order.len()];
        let levels = order.chunk_by(|a, b| a.0 == b.0);
        for (level, observations) in (0_u32..).zip(levels) {
            for (_, observation) in observations {
                level_of[*observation as usize] = level;
            }
        }
        level_of
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
    fn levels_of_observations_are_those_of_the_walk() {
        let scores: Vec<f64> = first_score().iter().map(|s| s.round()).collect();
        for direction in [Direction::HigherIsPositive, Direction::LowerIsPositive] {
            let sample = RocSample::new(&scores, &classes(), direction).unwrap();
            let levels = sample.levels();
            let mut counted = vec![(0, 0); levels.scores.len()];
            for ((level, score), positive) in
                sample.level_of_each().iter().zip(&scores).zip(classes())
            {
                assert_eq!(levels.scores[*level as usize], *score);
                let (positives, negatives) = &mut counted[*level as usize];
                *if positive { positives } else { negatives } += 1;
            }
            let walked = levels.positives_at.into_iter().zip(levels.negatives_at);
            assert_eq!(counted, walked.collect::<Vec<_>>());
            assert!(levels.scores.len() < scores.len());
        }
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
