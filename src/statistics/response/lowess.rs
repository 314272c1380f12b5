//! Locally weighted regression: a smooth without a formula.

use crate::statistics::error::{Result, StatisticsError, check_pairs, check_values};
use crate::statistics::quantile::quantile_of_sorted;

/// LOWESS: the smoothed y at each x, in the order given.
///
/// At each x a weighted line through the nearest `fraction` of the points, tricube weights `(1 - (d/h)^3)^3`; then `robust_rounds`
/// times again with bisquare weights `(1 - (r / 6m)^2)^2`, m the median absolute residual (Cleveland 1979
/// J Am Stat Assoc 74:829-36). Usual: fraction 2/3, 3 robust rounds. O(n^2 fraction).
///
/// # Errors
/// [`StatisticsError`] for fewer than three pairs, unequal lengths, a value that is not finite, or a fraction outside 0 (excluded) to 1.
pub fn lowess(x: &[f64], y: &[f64], fraction: f64, robust_rounds: usize) -> Result<Vec<f64>> {
    check_values("x", x, 3)?;
    check_values("y", y, 3)?;
    check_pairs("x", x.len(), "y", y.len())?;
    if !(fraction > 0.0 && fraction <= 1.0) {
        return Err(StatisticsError::OutOfRange {
            what: "fraction",
            value: fraction,
            allowed: "above 0 and at most 1",
        });
    }
    let mut order: Vec<usize> = (0..x.len()).collect();
    order.sort_by(|a, b| x[*a].total_cmp(&x[*b]));
    let sorted_x: Vec<f64> = order.iter().map(|i| x[*i]).collect();
    let sorted_y: Vec<f64> = order.iter().map(|i| y[*i]).collect();
    let smoothed = smooth_sorted(&sorted_x, &sorted_y, fraction, robust_rounds);
    let mut in_order = vec![0.0; x.len()];
    for (place, index) in order.into_iter().enumerate() {
        in_order[index] = smoothed[place];
    }
    Ok(in_order)
}

/// A hair of room so that a fraction such as 0.3 of 10 counts 3 points.
const ROUNDING: f64 = 1e-7;

fn smooth_sorted(x: &[f64], y: &[f64], fraction: f64, robust_rounds: usize) -> Vec<f64> {
    let count = x.len();
    let neighbors = ((fraction * count as f64 + ROUNDING) as usize).clamp(2, count);
    let mut robustness = vec![1.0; count];
    let mut weights = vec![0.0; count];
    let mut fitted = vec![0.0; count];
    for round in 0..=robust_rounds {
        let mut left = 0;
        for i in 0..count {
            if i > 0 && x[i] == x[i - 1] {
                fitted[i] = fitted[i - 1];
                continue;
            }
            while left + neighbors < count && x[i] - x[left] > x[left + neighbors] - x[i] {
                left += 1;
            }
            let reach = (x[i] - x[left]).max(x[left + neighbors - 1] - x[i]);
            fitted[i] = local_value(x, y, i, left, reach, &robustness, &mut weights);
        }
        if round == robust_rounds || !update_robustness(y, &fitted, &mut robustness) {
            break;
        }
    }
    fitted
}

/// Value at `x[i]` of the weighted line through the points within `reach`; `y[i]` when every weight is zero.
fn local_value(
    x: &[f64],
    y: &[f64],
    i: usize,
    left: usize,
    reach: f64,
    robustness: &[f64],
    weights: &mut [f64],
) -> f64 {
    let mut end = left;
    let mut total = 0.0;
    while end < x.len() {
        let distance = (x[end] - x[i]).abs();
        if distance <= 0.999 * reach {
            let tricube = if distance > 0.001 * reach {
                cube(1.0 - cube(distance / reach))
            } else {
                1.0
            };
            weights[end] = tricube * robustness[end];
            total += weights[end];
        } else {
            weights[end] = 0.0;
            if x[end] > x[i] {
                break;
            }
        }
        end += 1;
    }
    if total <= 0.0 {
        return y[i];
    }
    let weights = &mut weights[left..end];
    weights.iter_mut().for_each(|w| *w /= total);
    let (x_near, y_near) = (&x[left..end], &y[left..end]);
    let sum = |f: &dyn Fn(usize) -> f64| (0..weights.len()).map(|j| weights[j] * f(j)).sum::<f64>();
    let center_x = sum(&|j| x_near[j]);
    let center_y = sum(&|j| y_near[j]);
    let spread = sum(&|j| (x_near[j] - center_x) * (x_near[j] - center_x));
    // Points too close together carry no slope: their weighted mean stands.
    if spread.sqrt() <= 0.001 * (x[x.len() - 1] - x[0]) {
        return center_y;
    }
    let slope = sum(&|j| (x_near[j] - center_x) * (y_near[j] - center_y)) / spread;
    center_y + slope * (x[i] - center_x)
}

/// New bisquare weights; `false` when the residuals are too small to go on.
fn update_robustness(y: &[f64], fitted: &[f64], robustness: &mut [f64]) -> bool {
    let residuals: Vec<f64> = y.iter().zip(fitted).map(|(y, f)| (y - f).abs()).collect();
    let mut sorted = residuals.clone();
    sorted.sort_unstable_by(f64::total_cmp);
    let mean = residuals.iter().sum::<f64>() / residuals.len() as f64;
    let reach = 6.0 * quantile_of_sorted(&sorted, 0.5);
    if reach < ROUNDING * mean || reach == 0.0 {
        return false;
    }
    for (weight, residual) in robustness.iter_mut().zip(residuals) {
        *weight = if residual <= 0.001 * reach {
            1.0
        } else if residual <= 0.999 * reach {
            let share = residual / reach;
            let kept = 1.0 - share * share;
            kept * kept
        } else {
            0.0
        };
    }
    true
}

fn cube(value: f64) -> f64 {
    value * value * value
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::statistics::oracle::{all_close, numbers};

    #[test]
    fn agrees_with_r() {
        // R: lowess(x, y, f = 2/3, iter = 3, delta = 0)$y and lowess(x, y, f = 0.3, iter = 0, delta = 0)$y
        let (x, y) = (numbers("lowess.x"), numbers("lowess.y"));
        all_close(
            &lowess(&x, &y, 2.0 / 3.0, 3).unwrap(),
            &numbers("r_lowess_robust"),
            1e-11,
        );
        all_close(
            &lowess(&x, &y, 0.3, 0).unwrap(),
            &numbers("r_lowess_plain"),
            1e-11,
        );
    }

    #[test]
    fn agrees_with_statsmodels() {
        // statsmodels.nonparametric.smoothers_lowess.lowess(y, x, frac=0.5, it=0, delta=0, return_sorted=False)
        // To 1e-3 only: it weights the farthest neighbors by the tricube to the end, where Cleveland cuts at 0.999 h.
        let (x, y) = (numbers("lowess.x"), numbers("lowess.y"));
        all_close(
            &lowess(&x, &y, 0.5, 0).unwrap(),
            &numbers("lowess.statsmodels_plain"),
            1e-3,
        );
    }

    #[test]
    fn a_line_stays_a_line_whatever_the_order() {
        let x = [5.0, 1.0, 4.0, 2.0, 3.0, 6.0];
        let y: Vec<f64> = x.iter().map(|x| 3.0 - 2.0 * x).collect();
        all_close(&lowess(&x, &y, 0.7, 3).unwrap(), &y, 1e-12);
    }

    #[test]
    fn repeated_x_share_one_value() {
        let smoothed = lowess(
            &[1.0, 2.0, 2.0, 2.0, 3.0],
            &[1.0, 5.0, 2.0, 4.0, 3.0],
            0.6,
            2,
        )
        .unwrap();
        assert_eq!(smoothed[1], smoothed[2]);
        assert!(smoothed.iter().all(|v| v.is_finite()));
        assert!(
            lowess(&[1.0; 4], &[1.0, 2.0, 3.0, 4.0], 0.5, 1)
                .unwrap()
                .iter()
                .all(|v| v.is_finite())
        );
    }

    #[test]
    fn a_fraction_of_zero_is_refused() {
        assert!(lowess(&[1.0, 2.0, 3.0], &[1.0, 2.0, 3.0], 0.0, 0).is_err());
    }
}
