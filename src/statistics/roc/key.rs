//! A score and its class as one whole number, which sorts without looking anything up.

use super::sample::Direction;
use crate::statistics::error::SMALLEST;

/// A score with its class. Keys rise from the score that speaks most for the condition to the one that speaks least; of equal scores,
/// negatives come first.
///
/// Scores are zero or from 1e-30 to 1e30 in magnitude, some 200 powers of two, so that counting them from the least magnitude leaves bits free
/// for the sign and the class. Zero and minus zero are one score.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Key(u64);

/// Where zero stands among the scores.
const ZERO: u64 = 1 << 60;

/// The bits of a magnitude rise with it; those below the least magnitude stand for no score.
const BELOW_LEAST: u64 = SMALLEST.to_bits() - 1;

impl Key {
    /// The key of a score that was checked to be finite and within the magnitudes above.
    #[inline]
    pub(super) fn new(score: f64, is_positive: bool, direction: Direction) -> Self {
        let rising = match direction {
            Direction::HigherIsPositive => -score,
            Direction::LowerIsPositive => score,
        };
        let magnitude = rising.abs().to_bits().saturating_sub(BELOW_LEAST);
        let place = match rising < 0.0 {
            true => ZERO - magnitude,
            false => ZERO + magnitude,
        };
        Self(place << 1 | u64::from(is_positive))
    }

    /// The score that was given, zero without a sign.
    pub(super) fn score(self, direction: Direction) -> f64 {
        let place = self.0 >> 1;
        if place == ZERO {
            return 0.0;
        }
        let magnitude = f64::from_bits(place.abs_diff(ZERO) + BELOW_LEAST);
        match (place < ZERO, direction) {
            (true, Direction::LowerIsPositive) | (false, Direction::HigherIsPositive) => -magnitude,
            (true, Direction::HigherIsPositive) | (false, Direction::LowerIsPositive) => magnitude,
        }
    }

    #[inline]
    pub(super) fn is_positive(self) -> bool {
        self.0 & 1 == 1
    }

    #[inline]
    pub(super) fn is_level_with(self, other: Self) -> bool {
        self.0 >> 1 == other.0 >> 1
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const SCORES: [f64; 10] = [
        -1e30,
        -2.5,
        -2.4999999999999996,
        -1e-30,
        0.0,
        1e-30,
        1.0,
        2.5,
        2.5000000000000004,
        1e30,
    ];

    #[test]
    fn keys_rise_towards_what_speaks_least_for_the_condition() {
        let lower = SCORES.map(|score| Key::new(score, true, Direction::LowerIsPositive));
        assert!(lower.is_sorted_by(|a, b| a < b), "{lower:?}");
        let higher = SCORES.map(|score| Key::new(score, false, Direction::HigherIsPositive));
        assert!(higher.is_sorted_by(|a, b| a > b), "{higher:?}");
    }

    #[test]
    fn a_key_gives_its_score_and_class_back() {
        for direction in [Direction::HigherIsPositive, Direction::LowerIsPositive] {
            for score in SCORES {
                let (with, without) = (
                    Key::new(score, true, direction),
                    Key::new(score, false, direction),
                );
                assert_eq!(with.score(direction).to_bits(), score.to_bits());
                assert!(with.is_positive() && !without.is_positive());
                assert!(with.is_level_with(without) && without < with);
            }
            let (zero, minus) = (
                Key::new(0.0, true, direction),
                Key::new(-0.0, true, direction),
            );
            assert_eq!(zero, minus);
        }
    }
}
