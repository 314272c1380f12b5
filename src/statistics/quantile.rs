//! Quantiles by the definition that Hyndman and Fan number 7.
//!
//! With values sorted `x[0] <= ... <= x[n-1]` and `h = (n - 1) p`: `x[floor h] + (h - floor h) (x[floor h + 1] - x[floor h])`.
//! Source: Hyndman & Fan 1996 Am Stat 50:361-5, definition 7; the default of R's `quantile` and of `numpy.quantile`.

use super::error::{Result, StatisticsError, check_values};

/// The quantiles of `values` at the cumulative fractions `at`, each from 0 to 1.
///
/// # Errors
/// [`StatisticsError::TooFew`] without values, [`StatisticsError::NotFinite`], and
/// [`StatisticsError::OutOfDomain`] for a fraction outside 0 to 1.
pub fn quantiles(values: &[f64], at: &[f64]) -> Result<Vec<f64>> {
    check_values("values", values, 1)?;
    if let Some(index) = at.iter().position(|p| !(0.0..=1.0).contains(p)) {
        return Err(StatisticsError::OutOfDomain {
            what: "cumulative fraction",
            index,
            value: at[index],
            allowed: "from 0 to 1",
        });
    }
    let mut sorted = values.to_vec();
    sorted.sort_unstable_by(f64::total_cmp);
    Ok(at.iter().map(|p| quantile_of_sorted(&sorted, *p)).collect())
}

/// One quantile of `values`; see [`quantiles`].
///
/// # Errors
/// As [`quantiles`].
pub fn quantile(values: &[f64], at: f64) -> Result<f64> {
    Ok(quantiles(values, &[at])?[0])
}

/// The median: the type 7 quantile at 0.5.
///
/// # Errors
/// As [`quantiles`].
pub fn median(values: &[f64]) -> Result<f64> {
    quantile(values, 0.5)
}

/// The quantile of values already sorted, not empty, at `p` from 0 to 1.
pub(super) fn quantile_of_sorted(sorted: &[f64], p: f64) -> f64 {
    let last = sorted.len() - 1;
    let h = last as f64 * p;
    let below = (h.floor() as usize).min(last);
    let above = (below + 1).min(last);
    sorted[below] + (h - below as f64) * (sorted[above] - sorted[below])
}

#[cfg(test)]
mod tests {
    use super::super::oracle::{all_close, numbers};
    use super::*;

    #[test]
    fn agrees_with_r() {
        // R: quantile(c(7.1, 3.2, 9.9, 4.4, 4.4, 8.0, 1.5), c(0, .1, .25, .5, .75, .9, 1), type = 7)
        let values = [7.1, 3.2, 9.9, 4.4, 4.4, 8.0, 1.5];
        let found = quantiles(&values, &[0.0, 0.1, 0.25, 0.5, 0.75, 0.9, 1.0]).unwrap();
        all_close(&found, &numbers("r_quantile_type7"), 1e-14);
    }

    #[test]
    fn the_median_of_an_even_count_is_the_middle_of_two() {
        assert_eq!(median(&[4.0, 1.0, 3.0, 2.0]).unwrap(), 2.5);
    }

    #[test]
    fn a_fraction_above_one_is_refused() {
        assert!(matches!(
            quantile(&[1.0], 50.0),
            Err(StatisticsError::OutOfDomain { index: 0, .. })
        ));
    }
}
