//! Terminal-digit preference: were values measured or rounded to a favorite?

use crate::statistics::distribution::chi_square_upper;
use crate::statistics::error::{Result, StatisticsError, check_positive, check_values};
use crate::statistics::proportion::{Proportion, proportion};
use crate::statistics::warning::Warning;

/// Terminal digits and the test that all are equally frequent.
#[derive(Debug, Clone, PartialEq)]
pub struct TerminalDigits {
    /// How often each digit 0 to 9 is last.
    pub counts: [usize; 10],
    /// `sum((count - n/10)^2 / (n/10))`.
    pub chi_square: f64,
    /// Upper tail of chi-square with 9 degrees of freedom.
    pub p_value: f64,
    /// Values that end in 0 or 5; 20 % when there is no preference.
    pub zero_or_five: Proportion,
    /// Cautions.
    pub warnings: Vec<Warning>,
}

/// Counts the last digit of values recorded to a resolution (0.1 for tenths) and tests by chi-square that all ten are equally frequent
/// (Pearson 1900 Philos Mag 50:157-75). All are equally frequent in a measurement only when it varies over many steps of its
/// resolution.
///
/// # Errors
/// [`StatisticsError`] for no values, a value that is not finite or not a multiple of the resolution, a resolution not above zero, or a level not
/// between 0 and 1.
pub fn terminal_digits(values: &[f64], resolution: f64, level: f64) -> Result<TerminalDigits> {
    check_values("values", values, 1)?;
    check_positive("resolution", resolution)?;
    let mut counts = [0_usize; 10];
    for (index, value) in values.iter().enumerate() {
        counts[digit(index, *value, resolution)?] += 1;
    }
    let expected = values.len() as f64 / 10.0;
    let chi_square = counts
        .iter()
        .map(|count| {
            let off = *count as f64 - expected;
            off * off / expected
        })
        .sum();
    let mut warnings = Vec::new();
    if expected < 5.0 {
        warnings.push(Warning::WeakApproximation {
            what: "fewer than 5 values are expected for each digit, so the p value of chi-square is rough",
        });
    }
    if spans_few_steps(values, resolution) {
        warnings.push(Warning::WeakApproximation {
            what: "the values span fewer than 20 steps of the resolution, so all digits alike cannot be expected",
        });
    }
    Ok(TerminalDigits {
        chi_square,
        p_value: chi_square_upper(chi_square, 9.0)?,
        zero_or_five: proportion(counts[0] + counts[5], values.len(), level)?,
        counts,
        warnings,
    })
}

/// Relative room for the binary rounding of a decimal value.
const ROUNDING: f64 = 1e-6;
/// Beyond this a double cannot hold each whole number.
const LARGEST_STEPS: f64 = 9.0e15;

fn digit(index: usize, value: f64, resolution: f64) -> Result<usize> {
    let steps = (value / resolution).abs();
    let whole = steps.round();
    if !(steps < LARGEST_STEPS && (steps - whole).abs() <= ROUNDING * whole.clamp(1.0, 1e5)) {
        return Err(StatisticsError::OutOfDomain {
            what: "values",
            index,
            value,
            allowed: "a multiple of the resolution: give the resolution values were recorded to, and no averages",
        });
    }
    Ok((whole % 10.0) as usize)
}

fn spans_few_steps(values: &[f64], resolution: f64) -> bool {
    let smallest = values.iter().copied().fold(f64::INFINITY, f64::min);
    let largest = values.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    largest - smallest < 20.0 * resolution
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::statistics::oracle::{close, counts, number, numbers};

    #[test]
    fn agrees_with_scipy() {
        // scipy.stats.chisquare(counts of the last digits): statistic, pvalue
        let found = terminal_digits(&numbers("quality.digits_values"), 0.1, 0.95).unwrap();
        let digits: Vec<u64> = found.counts.iter().map(|c| *c as u64).collect();
        assert_eq!(digits, counts("quality.digits_counts"));
        close(found.chi_square, number("quality.digits_chi_square"), 1e-12);
        close(found.p_value, number("quality.digits_p"), 1e-11);
        assert!(found.zero_or_five.value > 0.3);
    }

    #[test]
    fn even_digits_are_not_suspected() {
        let values: Vec<f64> = (0..200).map(|i| f64::from(i) / 10.0).collect();
        let found = terminal_digits(&values, 0.1, 0.95).unwrap();
        assert_eq!((found.counts, found.chi_square), ([20; 10], 0.0));
        assert!(found.p_value > 0.999_999 && found.warnings.is_empty());
    }

    #[test]
    fn averages_are_refused() {
        assert!(matches!(
            terminal_digits(&[1.9, 2.0333333], 0.1, 0.95),
            Err(StatisticsError::OutOfDomain { index: 1, .. })
        ));
        assert!(terminal_digits(&[1e300], 0.1, 0.95).is_err());
        assert!(terminal_digits(&[1.0], 0.0, 0.95).is_err());
    }

    #[test]
    fn a_narrow_range_is_said() {
        let found = terminal_digits(&[2.0, 2.0, 2.1, 2.0], 0.1, 0.95).unwrap();
        assert_eq!(found.warnings.len(), 2);
        assert_eq!(found.zero_or_five.count, 3);
    }
}
