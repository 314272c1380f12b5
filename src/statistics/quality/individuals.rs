//! Chart of single values with their moving range.

use super::BEYOND_THREE;
use crate::statistics::descriptive::mean;
use crate::statistics::error::{Result, StatisticsError, check_values};
use crate::statistics::warning::{Warning, warn_few};

/// Center and limits of a chart.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ControlLimits {
    /// Lower limit.
    pub lower: f64,
    /// Center line.
    pub center: f64,
    /// Upper limit.
    pub upper: f64,
}

impl ControlLimits {
    /// Whether a value lies outside the limits; a value at a limit does not.
    pub fn is_beyond(&self, value: f64) -> bool {
        value < self.lower || value > self.upper
    }
}

/// Chart of individuals and moving ranges.
#[derive(Debug, Clone, PartialEq)]
pub struct Individuals {
    /// Limits of the single values.
    pub limits: ControlLimits,
    /// Standard deviation from the moving range.
    pub sigma: f64,
    /// Mean moving range of the baseline.
    pub mean_moving_range: f64,
    /// Upper limit of the moving range; the lower is zero.
    pub range_upper_limit: f64,
    /// Moving range of each value and the one before; one fewer than values.
    pub ranges: Vec<f64>,
    /// Indices of values beyond their limits.
    pub beyond: Vec<usize>,
    /// Indices of values whose moving range is beyond its limit.
    pub range_beyond: Vec<usize>,
    /// Cautions.
    pub warnings: Vec<Warning>,
}

/// Expected range of two normal values, in standard deviations: 2 / sqrt(pi) to the three decimals of the handbooks.
const D2_OF_TWO: f64 = 1.128;
/// Upper limit of a range of two, in mean ranges (handbooks' table).
const D4_OF_TWO: f64 = 3.267;

/// Individuals chart: center and limits from the first `baseline` values (all when `None`).
///
/// `sigma = mean |x[i] - x[i-1]| / 1.128`, limits `mean ± 3 sigma`, limit of the moving range `3.267 mean range`
/// (NIST/SEMATECH e-Handbook of Statistical Methods, section 6.3.2.2).
///
/// # Errors
/// [`StatisticsError`] for fewer than three values, a baseline of fewer than three or more than there are, a value that is not finite, or a
/// baseline whose moving range is zero.
pub fn individuals(values: &[f64], baseline: Option<usize>) -> Result<Individuals> {
    check_values("values", values, 3)?;
    let baseline = checked_baseline(baseline, values.len(), 3)?;
    let ranges: Vec<f64> = values
        .windows(2)
        .map(|pair| (pair[1] - pair[0]).abs())
        .collect();
    let mean_moving_range = mean(&ranges[..baseline - 1]);
    if mean_moving_range <= 0.0 {
        return Err(StatisticsError::NoVariation {
            what: "the baseline",
            hint: "record with a finer resolution or choose another baseline",
        });
    }
    let center = mean(&values[..baseline]);
    let sigma = mean_moving_range / D2_OF_TWO;
    let limits = ControlLimits {
        lower: center - 3.0 * sigma,
        center,
        upper: center + 3.0 * sigma,
    };
    let range_upper_limit = D4_OF_TWO * mean_moving_range;
    let mut warnings = Vec::new();
    warn_few(&mut warnings, "values in the baseline", baseline, 20);
    warnings.extend(Warning::many_looks(values.len(), BEYOND_THREE));
    Ok(Individuals {
        beyond: (0..values.len())
            .filter(|i| limits.is_beyond(values[*i]))
            .collect(),
        range_beyond: (1..values.len())
            .filter(|i| ranges[i - 1] > range_upper_limit)
            .collect(),
        limits,
        sigma,
        mean_moving_range,
        range_upper_limit,
        ranges,
        warnings,
    })
}

/// The length of the baseline, checked against the data.
pub(super) fn checked_baseline(
    baseline: Option<usize>,
    length: usize,
    needed: usize,
) -> Result<usize> {
    let found = baseline.unwrap_or(length);
    if found > length {
        return Err(StatisticsError::OutOfRange {
            what: "baseline",
            value: found as f64,
            allowed: "at most the number of points",
        });
    }
    if found < needed {
        return Err(StatisticsError::TooFew {
            what: "points in the baseline",
            found,
            needed,
        });
    }
    Ok(found)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::statistics::oracle::close;

    /// NIST/SEMATECH e-Handbook 6.3.2.2: flow rates of ten batches.
    const FLOW: [f64; 10] = [49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1];

    #[test]
    fn the_handbooks_batches() {
        // Printed: mean 50.81, mean moving range 1.8778, limits 55.8041 and 45.8159; tolerance: four decimals printed.
        let found = individuals(&FLOW, None).unwrap();
        close(found.limits.center, 50.81, 1e-14);
        assert!((found.mean_moving_range - 1.8778).abs() < 5e-5);
        assert!((found.limits.upper - 55.8041).abs() < 1e-4);
        assert!((found.limits.lower - 45.8159).abs() < 1e-4);
        assert!(found.beyond.is_empty() && found.range_beyond.is_empty());
    }

    #[test]
    fn a_baseline_judges_what_comes_after() {
        let mut values = FLOW.to_vec();
        values.push(60.0);
        let found = individuals(&values, Some(10)).unwrap();
        assert_eq!((found.beyond, found.range_beyond), (vec![10], vec![10]));
        assert_eq!(found.limits, individuals(&FLOW, None).unwrap().limits);
    }

    #[test]
    fn few_values_and_many_looks_are_said() {
        let found = individuals(&FLOW, None).unwrap();
        assert!(matches!(
            found.warnings[..],
            [
                Warning::FewObservations { found: 10, .. },
                Warning::ManyLooks { looks: 10, .. }
            ]
        ));
    }

    #[test]
    fn a_flat_baseline_is_refused() {
        assert!(matches!(
            individuals(&[2.0, 2.0, 2.0, 3.0], Some(3)),
            Err(StatisticsError::NoVariation { .. })
        ));
        assert!(individuals(&FLOW, Some(11)).is_err());
        assert!(individuals(&FLOW, Some(2)).is_err());
    }
}
