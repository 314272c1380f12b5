//! Bootstrap interval of an area under the curve.

use super::sample::RocSample;
use super::threshold_interval::in_resamples;
use crate::statistics::cluster::Clusters;
use crate::statistics::error::Result;
use crate::statistics::resample::{Bootstrap, BootstrapInterval};

/// Percentile interval of the area: positives and negatives drawn separately with replacement, or whole patients where they are given, as in
/// [`threshold_interval`](super::threshold_interval()). A resample without both classes has no area and is left out.
///
/// # Errors
/// [`StatisticsError`](crate::statistics::StatisticsError) for another number of identifiers than scores, a level not between 0 and 1, fewer than 100
/// resamples, or over a tenth of them without an area.
pub fn area_bootstrap(
    sample: &RocSample,
    patients: Option<&Clusters>,
    level: f64,
    bootstrap: &Bootstrap,
) -> Result<BootstrapInterval> {
    let areas = in_resamples(sample, patients, bootstrap, area_of_counts)?;
    BootstrapInterval::percentile(areas, level, bootstrap)
}

/// The area from positives and negatives at each level, those that speak most for the condition first; not a number without both classes.
fn area_of_counts(positives_at: &[u32], negatives_at: &[u32]) -> f64 {
    let (mut hits, mut alarms, mut twice_lost) = (0_u64, 0_u64, 0_u128);
    for (positives, negatives) in positives_at.iter().zip(negatives_at) {
        let (positives, negatives) = (u64::from(*positives), u64::from(*negatives));
        // A positive loses to every negative above it, and half to one beside it.
        twice_lost += u128::from(positives) * u128::from(2 * alarms + negatives);
        hits += positives;
        alarms += negatives;
    }
    1.0 - twice_lost as f64 / (2.0 * hits as f64 * alarms as f64)
}

#[cfg(test)]
mod tests {
    use super::super::area::area;
    use super::super::fixtures::{classes, first_score, patients};
    use super::super::sample::Direction;
    use super::*;
    use crate::statistics::oracle::{close, numbers};
    use std::num::NonZeroUsize;

    fn sample() -> RocSample {
        RocSample::new(&first_score(), &classes(), Direction::HigherIsPositive).unwrap()
    }

    #[test]
    fn the_area_of_all_counts_is_the_area() {
        let sample = sample();
        let levels = sample.levels();
        close(
            area_of_counts(&levels.positives_at, &levels.negatives_at),
            sample.area_value(),
            1e-14,
        );
        assert!(area_of_counts(&[0, 0], &[1, 2]).is_nan());
    }

    #[test]
    fn the_interval_is_near_that_of_proc_and_of_any_number_of_threads() {
        // R, pROC: ci.auc(r, method = "delong"), a large-sample interval: the bootstrap's ends lie near.
        let judge = numbers("r_proc_ci");
        let with = |threads| {
            let bootstrap = Bootstrap {
                threads: NonZeroUsize::new(threads),
                ..Bootstrap::seeded(3)
            };
            area_bootstrap(&sample(), None, 0.95, &bootstrap).unwrap()
        };
        let found = with(1);
        assert_eq!(found, with(3));
        assert!((found.interval.lower - judge[0]).abs() < 0.03, "{found:?}");
        assert!((found.interval.upper - judge[1]).abs() < 0.03, "{found:?}");
        let clusters = Clusters::new(&patients()).unwrap();
        let by_patient = area_bootstrap(&sample(), Some(&clusters), 0.95, &Bootstrap::seeded(3));
        assert!(
            by_patient
                .unwrap()
                .interval
                .contains(area(&sample(), 0.95).unwrap().value)
        );
        let others = Clusters::new(&[1, 2]).unwrap();
        assert!(area_bootstrap(&sample(), Some(&others), 0.95, &Bootstrap::seeded(3)).is_err());
    }
}
