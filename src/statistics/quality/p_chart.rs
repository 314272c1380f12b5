//! Chart of a proportion over periods of unequal size.

use super::BEYOND_THREE;
use super::individuals::{ControlLimits, checked_baseline};
use crate::statistics::error::{Result, StatisticsError, check_pairs};
use crate::statistics::warning::{Warning, warn_few};

/// One period.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PPoint {
    /// `count / size`.
    pub proportion: f64,
    /// Its limits, which depend on its size.
    pub limits: ControlLimits,
    /// Whether it lies outside them.
    pub is_beyond: bool,
}

/// A p-chart.
#[derive(Debug, Clone, PartialEq)]
pub struct PChart {
    /// Proportion over the baseline.
    pub center: f64,
    /// The periods, in order.
    pub points: Vec<PPoint>,
    /// Cautions.
    pub warnings: Vec<Warning>,
}

/// p-chart: `center = sum of counts / sum of sizes` over the first `baseline` periods (all when `None`), limits
/// `center ± 3 sqrt(center (1 - center) / size)`, cut to 0 to 1 (NIST/SEMATECH e-Handbook, section 6.3.3.2).
///
/// # Errors
/// [`StatisticsError`] for no periods, unequal lengths, a size of zero, a count above its size, a bad baseline, or a center of 0 or 1.
pub fn p_chart(counts: &[usize], sizes: &[usize], baseline: Option<usize>) -> Result<PChart> {
    check_counts(counts, sizes)?;
    let baseline = checked_baseline(baseline, counts.len(), 1)?;
    let center = pooled(&counts[..baseline], &sizes[..baseline])?;
    let points: Vec<PPoint> = counts
        .iter()
        .zip(sizes)
        .map(|(count, size)| {
            let proportion = *count as f64 / *size as f64;
            let half = 3.0 * (center * (1.0 - center) / *size as f64).sqrt();
            let limits = ControlLimits {
                lower: (center - half).max(0.0),
                center,
                upper: (center + half).min(1.0),
            };
            PPoint {
                proportion,
                limits,
                is_beyond: limits.is_beyond(proportion),
            }
        })
        .collect();
    let mut warnings = Vec::new();
    warn_few(&mut warnings, "periods in the baseline", baseline, 20);
    let rarer = center.min(1.0 - center);
    if sizes.iter().any(|size| *size as f64 * rarer < 5.0) {
        warnings.push(Warning::WeakApproximation {
            what: "a period expects fewer than 5 events, so its normal limits are rough: group periods",
        });
    }
    warnings.extend(Warning::many_looks(points.len(), BEYOND_THREE));
    Ok(PChart {
        center,
        points,
        warnings,
    })
}

/// Refuses counts and sizes that are not a series of proportions.
pub(super) fn check_counts(counts: &[usize], sizes: &[usize]) -> Result<()> {
    check_pairs("counts", counts.len(), "sizes", sizes.len())?;
    if counts.is_empty() {
        return Err(StatisticsError::TooFew {
            what: "counts",
            found: 0,
            needed: 1,
        });
    }
    if let Some(index) = sizes.iter().position(|size| *size == 0) {
        return Err(StatisticsError::OutOfDomain {
            what: "sizes",
            index,
            value: 0.0,
            allowed: "above zero: leave empty periods out",
        });
    }
    match counts
        .iter()
        .zip(sizes)
        .position(|(count, size)| count > size)
    {
        Some(index) => Err(StatisticsError::OutOfDomain {
            what: "counts",
            index,
            value: counts[index] as f64,
            allowed: "at most its size",
        }),
        None => Ok(()),
    }
}

/// The proportion over all, strictly between 0 and 1.
pub(super) fn pooled(counts: &[usize], sizes: &[usize]) -> Result<f64> {
    let (events, of): (usize, usize) = (counts.iter().sum(), sizes.iter().sum());
    if events == 0 || events == of {
        return Err(StatisticsError::NoVariation {
            what: "the proportion",
            hint: "none or all have the event, so limits have no width: give a target or a longer baseline",
        });
    }
    Ok(events as f64 / of as f64)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_handbooks_wafers() {
        // NIST/SEMATECH e-Handbook 6.3.3.2: 30 wafers of 50 chips (counts from memory; their mean, as printed, is .2313).
        // Printed limits .4102 and .0524, from rounded figures: tolerance 1e-4.
        let counts = [
            12, 15, 8, 10, 4, 7, 16, 9, 14, 10, 5, 6, 17, 12, 22, 8, 10, 5, 13, 11, 20, 18, 24, 15,
            9, 12, 7, 13, 9, 6,
        ];
        let chart = p_chart(&counts, &[50; 30], None).unwrap();
        assert!((chart.center - 0.2313).abs() < 5e-5);
        assert!((chart.points[0].limits.upper - 0.4102).abs() < 1e-4);
        assert!((chart.points[0].limits.lower - 0.0524).abs() < 1e-4);
        let beyond: Vec<usize> = (0..30).filter(|i| chart.points[*i].is_beyond).collect();
        assert_eq!(beyond, [14, 22]);
    }

    #[test]
    fn small_periods_get_wider_limits_and_a_warning() {
        let chart = p_chart(&[3, 30], &[10, 100], None).unwrap();
        assert!(chart.points[0].limits.upper > chart.points[1].limits.upper);
        assert!(
            chart
                .warnings
                .iter()
                .any(|w| matches!(w, Warning::WeakApproximation { .. }))
        );
    }

    #[test]
    fn impossible_counts_are_named() {
        assert!(matches!(
            p_chart(&[1, 5], &[4, 4], None),
            Err(StatisticsError::OutOfDomain {
                what: "counts",
                index: 1,
                ..
            })
        ));
        assert!(matches!(
            p_chart(&[1, 0], &[4, 0], None),
            Err(StatisticsError::OutOfDomain {
                what: "sizes",
                index: 1,
                ..
            })
        ));
        assert!(p_chart(&[0, 0], &[4, 4], None).is_err());
        assert!(p_chart(&[], &[], None).is_err());
    }
}
