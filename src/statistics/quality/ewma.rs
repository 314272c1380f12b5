//! Exponentially weighted moving average: small lasting shifts show early.

use super::individuals::ControlLimits;
use crate::statistics::distribution::normal_two_sided;
use crate::statistics::error::{
    Result, StatisticsError, check_finite, check_positive, check_values,
};
use crate::statistics::warning::Warning;

/// One point of the chart.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct EwmaPoint {
    /// The average up to here.
    pub average: f64,
    /// Limits, which widen over the first points.
    pub limits: ControlLimits,
    /// Whether the average lies outside them.
    pub is_beyond: bool,
}

/// An EWMA chart.
#[derive(Debug, Clone, PartialEq)]
pub struct Ewma {
    /// The points, in order.
    pub points: Vec<EwmaPoint>,
    /// Limits that the points' limits approach.
    pub steady_limits: ControlLimits,
    /// Cautions.
    pub warnings: Vec<Warning>,
}

/// EWMA chart: `z = weight x + (1 - weight) z_before`, starting at `target`; limits
/// `target ± width sigma sqrt(weight / (2 - weight) (1 - (1 - weight)^(2 i)))` at point i = 1, 2, ... Usual: weight 0.2 to 0.3, width 3
/// (NIST/SEMATECH e-Handbook, section 6.3.2.4; Lucas & Saccucci 1990 Technometrics 32:1-12). `target` and `sigma` should come from a
/// baseline, not from the values charted.
///
/// # Errors
/// [`StatisticsError`] for no values, a value that is not finite, a weight outside 0 (excluded) to 1, or sigma or width not above zero.
pub fn ewma(values: &[f64], target: f64, sigma: f64, weight: f64, width: f64) -> Result<Ewma> {
    check_values("values", values, 1)?;
    check_finite("target", target)?;
    check_positive("sigma", sigma)?;
    check_positive("width", width)?;
    if !(weight > 0.0 && weight <= 1.0) {
        return Err(StatisticsError::OutOfRange {
            what: "weight",
            value: weight,
            allowed: "above 0 and at most 1",
        });
    }
    let steady_half = width * sigma * (weight / (2.0 - weight)).sqrt();
    let limits = |half: f64| ControlLimits {
        lower: target - half,
        center: target,
        upper: target + half,
    };
    let mut average = target;
    let mut forgotten = 1.0;
    let mut points = Vec::with_capacity(values.len());
    for value in values {
        average = weight * value + (1.0 - weight) * average;
        forgotten *= (1.0 - weight) * (1.0 - weight);
        let limits = limits(steady_half * (1.0 - forgotten).sqrt());
        points.push(EwmaPoint {
            average,
            limits,
            is_beyond: limits.is_beyond(average),
        });
    }
    Ok(Ewma {
        points,
        steady_limits: limits(steady_half),
        warnings: Warning::many_looks(values.len(), normal_two_sided(width))
            .into_iter()
            .collect(),
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::statistics::oracle::{all_close, close, numbers};

    #[test]
    fn the_handbooks_example() {
        // NIST/SEMATECH e-Handbook 6.3.2.4: target 50, weight 0.3, sigma 2.0539; data and averages from memory, two decimals printed.
        let values = [
            52.0, 47.0, 53.0, 49.3, 50.1, 47.0, 51.0, 50.1, 51.2, 50.5, 49.6, 47.6, 49.9, 51.3,
            47.8, 51.2, 52.6, 52.4, 53.6, 52.1,
        ];
        let printed = [
            50.60, 49.52, 50.56, 50.18, 50.16, 49.21, 49.75, 49.85, 50.26, 50.33, 50.11, 49.36,
            49.52, 50.05, 49.38, 49.92, 50.73, 51.23, 51.94, 51.99,
        ];
        let chart = ewma(&values, 50.0, 2.0539, 0.3, 3.0).unwrap();
        for (point, printed) in chart.points.iter().zip(printed) {
            assert!(
                (point.average - printed).abs() < 0.006,
                "{point:?} {printed}"
            );
        }
        // Printed: limits 52.5884 and 47.4115.
        assert!((chart.steady_limits.upper - 52.5884).abs() < 2e-4);
        assert!((chart.steady_limits.lower - 47.4115).abs() < 2e-4);
    }

    #[test]
    fn agrees_with_pandas() {
        // pandas.Series([50, *x]).ewm(alpha=0.2, adjust=False).mean()[1:]
        let chart = ewma(&numbers("quality.values"), 50.0, 2.0, 0.2, 3.0).unwrap();
        let averages: Vec<f64> = chart.points.iter().map(|p| p.average).collect();
        all_close(&averages, &numbers("quality.ewma"), 1e-13);
    }

    #[test]
    fn a_weight_of_one_is_the_plain_chart() {
        let chart = ewma(&[57.0, 49.0], 50.0, 2.0, 1.0, 3.0).unwrap();
        close(chart.points[0].limits.upper, 56.0, 1e-15);
        assert!(chart.points[0].is_beyond && !chart.points[1].is_beyond);
        assert!(ewma(&[1.0], 0.0, 1.0, 1.5, 3.0).is_err());
        assert!(ewma(&[1.0], 0.0, 0.0, 0.5, 3.0).is_err());
    }
}
