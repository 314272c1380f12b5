//! Results whose whole uncertainty is that of one reading with certain bounds.
//!
//! Where several causes add up, their sum is close to normal, whatever each of them is (JCGM
//! 100:2008, G.2). Where one reading with bounds is all there is, the result has its distribution:
//! an interval from the normal one would reach beyond bounds that are certain (JCGM 101:2008,
//! 6.4.2 and 6.4.5).

use super::linear::part;
use super::source::{Cause, Source};
use crate::quantity::SpreadForm;
use crate::sheet::Sheet;

/// A distribution with bounds.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Bounded {
    /// Anything within the bounds is as likely.
    Rectangular,
    /// The middle is the most likely.
    Triangular,
}

impl Bounded {
    /// The distribution of something with these causes, if one reading with bounds is all that it
    /// owes its uncertainty to.
    pub(super) fn of(sheet: &Sheet, stated: &[&Source]) -> Option<Bounded> {
        let mut moving = stated.iter().filter(|source| part(source) != 0.0);
        match (moving.next()?.cause, moving.next()) {
            (Cause::Reading(cell), None) => Bounded::of_reading(sheet, cell),
            _ => None,
        }
    }

    /// The distribution that a reading states, if it has bounds and nothing is joined with it.
    pub(crate) fn of_reading(sheet: &Sheet, cell: crate::formula::CellId) -> Option<Bounded> {
        let reading = sheet.reading(cell).filter(|r| r.between().is_none())?;
        match reading.spread()?.form() {
            SpreadForm::Within => Some(Bounded::Rectangular),
            SpreadForm::Triangular => Some(Bounded::Triangular),
            SpreadForm::Standard | SpreadForm::Expanded { .. } => None,
        }
    }

    /// Half the width between the bounds, in standard uncertainties.
    fn half_width(self) -> f64 {
        match self {
            Bounded::Rectangular => SpreadForm::Within.divisor(),
            Bounded::Triangular => SpreadForm::Triangular.divisor(),
        }
    }

    /// The coverage factor of a level: below the half width for every level below 1.
    pub(crate) fn factor(self, level: f64) -> f64 {
        let share = match self {
            Bounded::Rectangular => level,
            Bounded::Triangular => 1.0 - (1.0 - level).sqrt(),
        };
        share * self.half_width()
    }

    /// The probability of lying more than so many standard uncertainties above the middle.
    pub(super) fn above(self, standards: f64) -> f64 {
        // From −1 at the lower bound to 1 at the upper.
        let at = (standards / self.half_width()).clamp(-1.0, 1.0);
        match self {
            Bounded::Rectangular => 0.5 * (1.0 - at),
            Bounded::Triangular if at < 0.0 => 1.0 - 0.5 * (1.0 + at).powi(2),
            Bounded::Triangular => 0.5 * (1.0 - at).powi(2),
        }
    }

    /// Its name in a sentence.
    pub(crate) fn word(self) -> &'static str {
        match self {
            Bounded::Rectangular => "rectangular",
            Bounded::Triangular => "triangular",
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::uncertainty::{Settings, decide::probability_above, propagate};

    fn linear(text: &str, name: &str) -> crate::uncertainty::Propagated {
        let sheet = Sheet::read(text).unwrap().sheet;
        let cell = sheet.cell(name).unwrap();
        propagate(&sheet, cell, &Settings::of(&sheet)).unwrap()
    }

    fn near(a: f64, b: f64) {
        assert!((a - b).abs() < 1e-12, "{a} {b}");
    }

    /// A rectangular distribution holds 95 % within 0.95 of its half width: 0.83 ± 0.0475.
    #[test]
    fn an_interval_of_one_reading_stays_within_its_bounds() {
        let found = linear("speed = 0.83 m/s (within 0.05 m/s)", "speed");
        assert_eq!(found.bounded, Some(Bounded::Rectangular));
        near(found.coverage.low, 0.7825);
        near(found.coverage.high, 0.8775);
        // A triangular one leaves 5 % beyond 1 − √0.05 of its half width: 0.776393.
        let found = linear("p = 58 (triangular 8)\ntwice = 2 * p", "twice");
        assert!((found.coverage.high - (116.0 + 16.0 * 0.776_393_202_25)).abs() < 1e-9);
    }

    #[test]
    fn beside_another_cause_it_is_normal_again() {
        let text = "a = 2 cm (within 1 mm)\nb = 3 cm (u = 1 mm)\nc = a + b\nd = a + b - b";
        assert_eq!(linear(text, "c").bounded, None);
        assert_eq!(linear(text, "d").bounded, Some(Bounded::Rectangular));
        assert_eq!(
            linear("a = 2 cm (within 1 mm, between 5 %)", "a").bounded,
            None
        );
    }

    /// `scipy.stats.uniform(4, 2).sf([3.5, 4.5, 5.6, 6.1])` and `triang(0.5, 4, 2).sf(…)` of SciPy.
    #[test]
    fn probabilities_end_at_the_bounds() {
        let rectangular = linear("q = 5 (within 1)", "q");
        let triangular = linear("q = 5 (triangular 1)", "q");
        for (threshold, flat, peaked) in [
            (3.5, 1.0, 1.0),
            (4.5, 0.75, 0.875),
            (5.6, 0.2, 0.08),
            (6.1, 0.0, 0.0),
        ] {
            near(probability_above(&rectangular, threshold).unwrap(), flat);
            near(probability_above(&triangular, threshold).unwrap(), peaked);
        }
    }
}
