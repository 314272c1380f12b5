//! Several tests at once: p values that allow for how many there are.

use super::error::{Result, StatisticsError};

/// Adjusted p values by Holm's method, in the order given: sorted ascending, the i-th of m (from 0) is multiplied by `m - i`, made not to
/// decrease, and cut to 1 (Holm 1979 Scand J Stat 6:65-70). It holds whatever the dependence of the tests.
///
/// # Errors
/// [`StatisticsError::TooFew`] without values, [`StatisticsError::OutOfDomain`] for a p value outside 0 to 1.
pub fn holm(p_values: &[f64]) -> Result<Vec<f64>> {
    if p_values.is_empty() {
        return Err(StatisticsError::TooFew {
            what: "p values",
            found: 0,
            needed: 1,
        });
    }
    if let Some(index) = p_values.iter().position(|p| !(0.0..=1.0).contains(p)) {
        return Err(StatisticsError::OutOfDomain {
            what: "p values",
            index,
            value: p_values[index],
            allowed: "from 0 to 1",
        });
    }
    let mut order: Vec<usize> = (0..p_values.len()).collect();
    order.sort_by(|a, b| p_values[*a].total_cmp(&p_values[*b]));
    let mut adjusted = vec![0.0; p_values.len()];
    let mut largest = 0.0_f64;
    for (place, index) in order.into_iter().enumerate() {
        let left = (p_values.len() - place) as f64;
        largest = largest.max((left * p_values[index]).min(1.0));
        adjusted[index] = largest;
    }
    Ok(adjusted)
}

#[cfg(test)]
mod tests {
    use super::super::oracle::{all_close, numbers};
    use super::*;

    #[test]
    fn agrees_with_statsmodels() {
        // statsmodels.stats.multitest.multipletests([0.01, 0.04, 0.03, 0.005, 0.6], method="holm")[1]
        let found = holm(&[0.01, 0.04, 0.03, 0.005, 0.6]).unwrap();
        all_close(&found, &numbers("many_looks.holm"), 1e-14);
    }

    #[test]
    fn a_p_value_in_per_cent_is_refused() {
        assert!(matches!(
            holm(&[0.1, 5.0]),
            Err(StatisticsError::OutOfDomain { index: 1, .. })
        ));
        assert!(holm(&[f64::NAN]).is_err());
        assert!(holm(&[]).is_err());
    }
}
