//! How sure a curve is: the interval of sensitivity at each specificity.

use super::sample::RocSample;
use super::threshold_interval::in_resamples;
use crate::statistics::cluster::Clusters;
use crate::statistics::error::{Result, StatisticsError};
use crate::statistics::resample::{Bootstrap, BootstrapInterval};

/// The interval at one place of the curve.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BandAt {
    /// One minus specificity, 0 to 1.
    pub false_positive_rate: f64,
    /// Lower end of the interval of sensitivity.
    pub lower: f64,
    /// Upper end.
    pub upper: f64,
}

/// Pointwise bootstrap band of a curve at evenly spaced specificities, `steps + 1` of them.
///
/// In each resample, drawn as for [`threshold_interval`](super::threshold_interval()), the sensitivity is read where the false
/// positive rate first reaches each place, interpolated along the curve; the band joins the percentiles at each place
/// (Macskassy & Provost 2004, ROC Analysis in AI workshop, "vertical averaging", memory). It holds its level at each place,
/// not over the whole curve.
///
/// # Errors
/// [`StatisticsError::OutOfRange`] without steps; as [`threshold_interval`](super::threshold_interval()).
pub fn band(
    sample: &RocSample,
    patients: Option<&Clusters>,
    steps: usize,
    level: f64,
    bootstrap: &Bootstrap,
) -> Result<Vec<BandAt>> {
    if !(1..=1000).contains(&steps) {
        return Err(StatisticsError::OutOfRange {
            what: "number of steps",
            value: steps as f64,
            allowed: "1 to 1000",
        });
    }
    let drawn = in_resamples(sample, patients, bootstrap, |positives, negatives| {
        sensitivities(positives, negatives, steps)
    })?;
    let at = |step: usize| {
        let values = drawn
            .iter()
            .map(|curve| curve.as_ref().map_or(f64::NAN, |c| c[step]))
            .collect();
        let found = BootstrapInterval::percentile(values, level, bootstrap)?;
        Ok(BandAt {
            false_positive_rate: step as f64 / steps as f64,
            lower: found.interval.lower,
            upper: found.interval.upper,
        })
    };
    (0..=steps).map(at).collect()
}

/// Sensitivity at each place, the highest where the curve rises straight up there; `None` where a class is empty.
fn sensitivities(positives_at: &[u32], negatives_at: &[u32], steps: usize) -> Option<Vec<f64>> {
    let total = |counts: &[u32]| counts.iter().map(|c| u64::from(*c)).sum::<u64>() as f64;
    let (positives, negatives) = (total(positives_at), total(negatives_at));
    if positives == 0.0 || negatives == 0.0 {
        return None;
    }
    let mut found = Vec::with_capacity(steps + 1);
    let (mut hits, mut alarms) = (0.0, 0.0);
    for (here_positive, here_negative) in positives_at.iter().zip(negatives_at) {
        let (new_hits, new_alarms) = (
            hits + f64::from(*here_positive),
            alarms + f64::from(*here_negative),
        );
        // Places that this step passes; one at its end waits for what rises there.
        while found.len() <= steps {
            let place = found.len() as f64 / steps as f64 * negatives;
            if place >= new_alarms {
                break;
            }
            let share = (place - alarms) / (new_alarms - alarms);
            found.push((hits + share * (new_hits - hits)) / positives);
        }
        (hits, alarms) = (new_hits, new_alarms);
    }
    found.resize(steps + 1, 1.0);
    Some(found)
}

#[cfg(test)]
mod tests {
    use super::super::sample::Direction;
    use super::*;

    #[test]
    fn sensitivity_is_read_along_the_curve() {
        // From the most extreme score: 2 of 4 positives, 1 of 2 negatives, 2 positives, 1 negative.
        let found = sensitivities(&[2, 0, 2, 0], &[0, 1, 0, 1], 4).unwrap();
        assert_eq!(found, [0.5, 0.5, 1.0, 1.0, 1.0]);
        // Ties rise along a slope.
        assert_eq!(
            sensitivities(&[2], &[2], 4).unwrap(),
            [0.0, 0.25, 0.5, 0.75, 1.0]
        );
        assert_eq!(sensitivities(&[0], &[2], 4), None);
    }

    /// All negatives lie below all scores of 1, so the sensitivity at a false positive rate of zero is the share of
    /// positives drawn from those at 1: binomial with 20 draws of 14/20. Quantiles of the binomial at 2.5 and 97.5 %:
    /// 10 and 18 (cumulated from its definition), so 0.5 and 0.9.
    #[test]
    fn at_zero_false_positives_the_band_is_that_of_a_binomial() {
        let mut scores = vec![1.0; 14];
        scores.extend([0.0; 6]);
        scores.extend([0.0; 15]);
        let classes: Vec<bool> = (0..35).map(|i| i < 20).collect();
        let sample = RocSample::new(&scores, &classes, Direction::HigherIsPositive).unwrap();
        let bootstrap = Bootstrap::seeded(7).with_resamples(20_000);
        let band = band(&sample, None, 10, 0.95, &bootstrap).unwrap();
        assert_eq!((band[0].lower, band[0].upper), (0.5, 0.9));
        assert_eq!((band[10].lower, band[10].upper), (1.0, 1.0));
    }

    #[test]
    fn no_steps_are_refused() {
        let sample =
            RocSample::new(&[1.0, 2.0], &[false, true], Direction::HigherIsPositive).unwrap();
        assert!(band(&sample, None, 0, 0.95, &Bootstrap::seeded(1)).is_err());
    }
}
