//! Area under the curve with its large-sample interval.

use super::sample::RocSample;
use crate::statistics::descriptive::compensated_sum;
use crate::statistics::distribution::normal_quantile;
use crate::statistics::error::{Result, StatisticsError};
use crate::statistics::interval::{Interval, upper_tail};
use crate::statistics::warning::{Warning, warn_few_of_each};

/// An area under the curve with its uncertainty.
#[derive(Debug, Clone, PartialEq)]
pub struct Area {
    /// The area, 0 to 1.
    pub value: f64,
    /// Its standard error.
    pub standard_error: f64,
    /// `value ± z se`, cut to 0 to 1; `None` when the variance is zero and says nothing.
    pub interval: Option<Interval>,
    /// The same on the logit scale, which stays inside 0 to 1 and keeps its level better near the ends; `None` as above.
    pub logit_interval: Option<Interval>,
    /// Observations with the condition.
    pub positives: usize,
    /// Observations without it.
    pub negatives: usize,
    /// Cautions.
    pub warnings: Vec<Warning>,
}

/// Area under the curve with the variance of DeLong, for independent observations.
///
/// Placement of a positive: share of the negatives it beats (ties one half); of a negative: share of the positives
/// that beat it. `var = S10 / m + S01 / n`, the sample variances of the placements over the number of positives and negatives
/// (DeLong, DeLong & Clarke-Pearson 1988 Biometrics 44:837-45). Placements come from cumulated counts in one pass over
/// the sorted sample (the idea of Sun & Xu 2014 IEEE Signal Process Lett 21:1389-93). Logit interval:
/// `logit A ± z se / (A (1 - A))`.
///
/// # Errors
/// [`StatisticsError::TooFew`] with fewer than two observations in a class; a level not between 0 and 1.
pub fn area(sample: &RocSample, level: f64) -> Result<Area> {
    check_two_of_each(sample)?;
    let mut warnings = Vec::new();
    let classes = [
        ("positives", sample.positives()),
        ("negatives", sample.negatives()),
    ];
    warn_few_of_each(&mut warnings, classes);
    let WithVariance { area, variance } = with_variance(sample);
    finish(area, variance, sample, level, warnings)
}

struct WithVariance {
    area: f64,
    variance: f64,
}

/// The area and DeLong's variance from the counts at each level. Twice the placements are whole numbers of observations, so that the sums are
/// exact: at most `4 (m n)^2`, which 128 bits hold for as many observations as a sample may have.
fn with_variance(sample: &RocSample) -> WithVariance {
    let (m, n) = (sample.positives() as u64, sample.negatives() as u64);
    let (mut hits, mut negatives_left) = (0_u64, n);
    let (mut of_positives, mut of_negatives) = (Sums::default(), Sums::default());
    for here in sample.each_level() {
        let (positives, negatives) = (u64::from(here.positives), u64::from(here.negatives));
        negatives_left -= negatives;
        of_positives.add(positives, 2 * negatives_left + negatives);
        of_negatives.add(negatives, 2 * hits + positives);
        hits += positives;
    }
    WithVariance {
        area: of_positives.sum as f64 / (2.0 * m as f64 * n as f64),
        variance: of_positives.variance_of_mean(m, 2 * n) + of_negatives.variance_of_mean(n, 2 * m),
    }
}

/// Sums of whole numbers and of their squares.
#[derive(Default)]
struct Sums {
    sum: u128,
    squares: u128,
}

impl Sums {
    fn add(&mut self, count: u64, value: u64) {
        let of_value = u128::from(count) * u128::from(value);
        self.sum += of_value;
        self.squares += of_value * u128::from(value);
    }

    /// Variance of the mean of `count` values, each a share of `whole`.
    fn variance_of_mean(&self, count: u64, whole: u64) -> f64 {
        let about_mean = u128::from(count) * self.squares - self.sum * self.sum;
        let (count, whole) = (count as f64, whole as f64);
        about_mean as f64 / count / (count - 1.0) / count / whole / whole
    }
}

fn check_two_of_each(sample: &RocSample) -> Result<()> {
    check_two_each([
        ("positives", sample.positives()),
        ("negatives", sample.negatives()),
    ])
}

/// Refuses fewer than two of either, which have no variance.
pub(super) fn check_two_each(counts: [(&'static str, usize); 2]) -> Result<()> {
    for (what, found) in counts {
        if found < 2 {
            return Err(StatisticsError::TooFew {
                what,
                found,
                needed: 2,
            });
        }
    }
    Ok(())
}

/// Puts an area and its variance into words and intervals.
pub(super) fn finish(
    value: f64,
    variance: f64,
    sample: &RocSample,
    level: f64,
    mut warnings: Vec<Warning>,
) -> Result<Area> {
    let z = normal_quantile(upper_tail(level)?)?;
    let standard_error = variance.max(0.0).sqrt();
    let informative = standard_error > 0.0;
    if value == 0.0 || value == 1.0 {
        warnings.push(Warning::PerfectSeparation);
    } else if !informative {
        warnings.push(Warning::WeakApproximation {
            what: "the large-sample variance is zero here and gives no interval",
        });
    }
    let inside = value > 0.0 && value < 1.0;
    Ok(Area {
        value,
        standard_error,
        interval: informative
            .then(|| Interval::around(value, z * standard_error, level).clipped(0.0, 1.0)),
        logit_interval: (informative && inside)
            .then(|| logit_interval(value, z * standard_error, level)),
        positives: sample.positives(),
        negatives: sample.negatives(),
        warnings,
    })
}

fn logit_interval(value: f64, half: f64, level: f64) -> Interval {
    let center = libm::log(value / (1.0 - value));
    let half = half / (value * (1.0 - value));
    let back = |logit: f64| 1.0 / (1.0 + libm::exp(-logit));
    Interval {
        lower: back(center - half),
        upper: back(center + half),
        level,
    }
}

/// Placement of each observation among the other class, in the order given.
pub(super) struct Placements {
    pub(super) area: f64,
    pub(super) of_positives: Vec<f64>,
    pub(super) of_negatives: Vec<f64>,
}

impl Placements {
    pub(super) fn new(sample: &RocSample) -> Result<Self> {
        check_two_of_each(sample)?;
        let (positive_place, negative_place) = places_by_level(sample);
        let mut of_positives = Vec::with_capacity(sample.positives());
        let mut of_negatives = Vec::with_capacity(sample.negatives());
        for (positive, level) in sample.classes().iter().zip(sample.level_of_each()) {
            if *positive {
                of_positives.push(positive_place[level as usize]);
            } else {
                of_negatives.push(negative_place[level as usize]);
            }
        }
        Ok(Self {
            area: sample.area_value(),
            of_positives,
            of_negatives,
        })
    }

    /// Covariance of two areas over the same observations; the variance when both are one.
    pub(super) fn covariance(&self, other: &Self) -> f64 {
        let part = |a: &[f64], b: &[f64]| {
            let products = a
                .iter()
                .zip(b)
                .map(|(x, y)| (x - self.area) * (y - other.area));
            compensated_sum(products) / (a.len() as f64 - 1.0) / a.len() as f64
        };
        part(&self.of_positives, &other.of_positives)
            + part(&self.of_negatives, &other.of_negatives)
    }
}

/// For each level, the placement of a positive and of a negative there.
fn places_by_level(sample: &RocSample) -> (Vec<f64>, Vec<f64>) {
    let (positives, negatives) = (sample.positives() as f64, sample.negatives() as f64);
    let (mut hits, mut alarms) = (0.0, 0.0);
    let (mut positive_place, mut negative_place) = (Vec::new(), Vec::new());
    for here in sample.each_level() {
        let (here_positive, here_negative) = (f64::from(here.positives), f64::from(here.negatives));
        positive_place.push((negatives - alarms - 0.5 * here_negative) / negatives);
        negative_place.push((hits + 0.5 * here_positive) / positives);
        hits += here_positive;
        alarms += here_negative;
    }
    (positive_place, negative_place)
}

#[cfg(test)]
mod tests {
    use super::super::fixtures::{classes, first_score};
    use super::super::sample::Direction;
    use super::*;
    use crate::statistics::oracle::{close, number, numbers};

    const HIGHER: Direction = Direction::HigherIsPositive;

    #[test]
    fn variance_and_interval_agree_with_proc() {
        // R, pROC: r <- roc(positive, first, direction = "<"); var(r, method = "delong"); ci.auc(r, method = "delong")
        let sample = RocSample::new(&first_score(), &classes(), HIGHER).unwrap();
        let found = area(&sample, 0.95).unwrap();
        close(found.value, number("r_proc_auc"), 1e-13);
        close(found.standard_error.powi(2), number("r_proc_var"), 1e-12);
        let interval = found.interval.unwrap();
        let judge = numbers("r_proc_ci");
        close(interval.lower, judge[0], 1e-12);
        close(interval.upper, judge[1], 1e-12);
        let logit = found.logit_interval.unwrap();
        assert!(logit.lower > 0.0 && logit.upper < 1.0 && logit.contains(found.value));
    }

    #[test]
    fn counts_and_placements_give_one_variance() {
        let scores: Vec<f64> = first_score().iter().map(|s| s.round()).collect();
        for direction in [HIGHER, Direction::LowerIsPositive] {
            let sample = RocSample::new(&scores, &classes(), direction).unwrap();
            let placements = Placements::new(&sample).unwrap();
            let found = with_variance(&sample);
            close(found.variance, placements.covariance(&placements), 1e-12);
            assert_eq!(found.area, sample.area_value());
        }
    }

    #[test]
    fn six_events_are_said_to_be_few() {
        let scores: Vec<f64> = (0..26).map(f64::from).collect();
        let positive: Vec<bool> = (0..26).map(|i| i % 4 == 3).collect();
        let sample = RocSample::new(&scores, &positive, HIGHER).unwrap();
        let found = area(&sample, 0.95).unwrap();
        assert_eq!(
            found.warnings,
            [Warning::FewOfClass {
                what: "positives",
                share: "sensitivity",
                found: 6,
                advised: 20
            }]
        );
    }

    #[test]
    fn perfect_separation_has_no_interval() {
        let scores = [1.0, 2.0, 3.0, 4.0];
        let positive = [false, false, true, true];
        let sample = RocSample::new(&scores, &positive, HIGHER).unwrap();
        let found = area(&sample, 0.95).unwrap();
        assert_eq!(
            (found.value, found.interval, found.logit_interval),
            (1.0, None, None)
        );
        assert!(found.warnings.contains(&Warning::PerfectSeparation));
    }

    #[test]
    fn one_event_has_an_area_but_no_variance() {
        let sample = RocSample::new(&[1.0, 2.0, 3.0], &[false, true, false], HIGHER).unwrap();
        assert_eq!(sample.area_value(), 0.5);
        assert!(matches!(
            area(&sample, 0.95),
            Err(StatisticsError::TooFew {
                found: 1,
                needed: 2,
                ..
            })
        ));
    }
}
