//! Quantiles and tails of the reference distributions, in one place.
//!
//! Chi-square comes from `statrs` with Newton steps on top; t, F, beta and binomial from our incomplete beta function; the normal
//! distribution from `libm::erfc`, because the error function of `statrs` 0.19 keeps only eleven digits.

use super::error::{Result, StatisticsError};
use super::incomplete_beta::{self, Split};
use statrs::distribution::{ChiSquared, Continuous, ContinuousCDF};

/// Quantile of the standard normal distribution, `0 < p < 1`.
///
/// The start comes from `statrs`, the Newton steps from `libm::erfc`, which keeps all digits.
pub(super) fn normal_quantile(p: f64) -> Result<f64> {
    check_probability(p)?;
    let tail = p.min(1.0 - p);
    let mut z = std::f64::consts::SQRT_2 * statrs::function::erf::erfc_inv(2.0 * tail);
    for _ in 0..3 {
        let density = libm::exp(-0.5 * z * z) / (2.0 * std::f64::consts::PI).sqrt();
        let step = (tail - normal_upper(z)) / density;
        if step.is_finite() {
            z -= step;
        }
    }
    Ok(if p < 0.5 { -z } else { z })
}

/// Two-sided p value of a standard normal statistic.
pub(super) fn normal_two_sided(z: f64) -> f64 {
    2.0 * normal_upper(z.abs())
}

pub(super) fn normal_upper(z: f64) -> f64 {
    0.5 * libm::erfc(z * std::f64::consts::FRAC_1_SQRT_2)
}

/// Quantile of Student's t with `freedom` degrees of freedom.
pub(super) fn t_quantile(p: f64, freedom: f64) -> Result<f64> {
    check_probability(p)?;
    check_shape(freedom)?;
    if p == 0.5 {
        return Ok(0.0);
    }
    // With x = freedom / (freedom + t^2), the two tails of t together are the lower tail of beta(freedom / 2, 1 / 2).
    let at = incomplete_beta::quantile(2.0 * p.min(1.0 - p), freedom / 2.0, 0.5)?;
    let t = (freedom * at.rest / at.x).sqrt();
    found(if p < 0.5 { -t } else { t }, freedom)
}

/// Two-sided p value of a t statistic.
pub(super) fn t_two_sided(statistic: f64, freedom: f64) -> Result<f64> {
    check_shape(freedom)?;
    let square = statistic * statistic;
    let at = Split {
        x: freedom / (freedom + square),
        rest: square / (freedom + square),
    };
    found(incomplete_beta::lower_tail(freedom / 2.0, 0.5, at), freedom)
}

/// Quantile of Fisher's F.
pub(super) fn f_quantile(p: f64, numerator: f64, denominator: f64) -> Result<f64> {
    check_probability(p)?;
    check_shape(numerator)?;
    check_shape(denominator)?;
    // With x = d1 F / (d1 F + d2), x follows beta(d1 / 2, d2 / 2).
    let at = incomplete_beta::quantile(p, numerator / 2.0, denominator / 2.0)?;
    found(
        denominator * at.x / (numerator * at.rest),
        numerator.min(denominator),
    )
}

/// Quantile of the beta distribution.
pub(super) fn beta_quantile(p: f64, a: f64, b: f64) -> Result<f64> {
    check_probability(p)?;
    check_shape(a)?;
    check_shape(b)?;
    Ok(incomplete_beta::quantile(p, a, b)?.x)
}

/// Quantile of chi-square.
pub(super) fn chi_square_quantile(p: f64, freedom: f64) -> Result<f64> {
    check_probability(p)?;
    let chi = ChiSquared::new(freedom).map_err(|_| parameter("degrees of freedom", freedom))?;
    found(polish(&chi, p, chi.inverse_cdf(p)), freedom)
}

/// Upper tail of chi-square.
pub(super) fn chi_square_upper(statistic: f64, freedom: f64) -> Result<f64> {
    let chi = ChiSquared::new(freedom).map_err(|_| parameter("degrees of freedom", freedom))?;
    Ok(chi.sf(statistic))
}

/// Chance of at most `count` events in `size` trials of chance `p` each, `0 < p < 1`: `I(1 - p; size - count, count + 1)`.
pub(super) fn binomial_cumulative(count: usize, size: usize, p: f64) -> f64 {
    if count >= size {
        return 1.0;
    }
    let at = Split {
        x: 1.0 - p,
        rest: p,
    };
    incomplete_beta::lower_tail((size - count) as f64, count as f64 + 1.0, at)
}

/// A quantile, unless it left the range of numbers, as with next to no degrees of freedom.
fn found(quantile: f64, shape: f64) -> Result<f64> {
    if quantile.is_finite() {
        Ok(quantile)
    } else {
        Err(StatisticsError::OutOfRange {
            what: "degrees of freedom",
            value: shape,
            allowed: "large enough for a quantile: add observations",
        })
    }
}

fn check_probability(p: f64) -> Result<()> {
    if p > 0.0 && p < 1.0 {
        Ok(())
    } else {
        Err(StatisticsError::OutOfRange {
            what: "probability",
            value: p,
            allowed: "strictly between 0 and 1",
        })
    }
}

fn check_shape(value: f64) -> Result<()> {
    if value > 0.0 && value.is_finite() {
        Ok(())
    } else {
        Err(parameter("degrees of freedom", value))
    }
}

fn parameter(what: &'static str, value: f64) -> StatisticsError {
    StatisticsError::OutOfRange {
        what,
        value,
        allowed: "finite and above zero",
    }
}

/// At most four Newton steps from `start`, in the tail that keeps its digits; a step that leads nowhere is not taken.
fn polish(chi: &ChiSquared, p: f64, start: f64) -> f64 {
    let mut x = start;
    for _ in 0..4 {
        let miss = if p > 0.5 {
            (1.0 - p) - chi.sf(x)
        } else {
            chi.cdf(x) - p
        };
        let step = miss / chi.pdf(x);
        let next = x - step;
        if !step.is_finite() || next <= 0.0 || next == x {
            break;
        }
        x = next;
    }
    x
}

#[cfg(test)]
mod tests {
    use super::super::oracle::{close, numbers};
    use super::*;

    #[test]
    fn quantiles_agree_with_scipy() {
        // scipy.stats.norm.ppf([0.975, 0.995, 0.6, 1e-6])
        let judge = numbers("distribution.norm_ppf");
        for (p, expected) in [0.975, 0.995, 0.6, 1e-6].iter().zip(&judge) {
            close(normal_quantile(*p).unwrap(), *expected, 1e-12);
        }
        // scipy.stats.t.ppf(0.975, [1, 2, 5, 16, 100])
        for (df, expected) in [1.0, 2.0, 5.0, 16.0, 100.0]
            .iter()
            .zip(&numbers("distribution.t_ppf"))
        {
            close(t_quantile(0.975, *df).unwrap(), *expected, 1e-11);
        }
        // scipy.stats.f.ppf(0.975, [5, 15, 3], [15, 5, 200])
        for ((a, b), expected) in [(5.0, 15.0), (15.0, 5.0), (3.0, 200.0)]
            .iter()
            .zip(&numbers("distribution.f_ppf"))
        {
            close(f_quantile(0.975, *a, *b).unwrap(), *expected, 1e-11);
        }
        // scipy.stats.chi2.ppf([0.025, 0.975, 0.025, 0.975], [1, 1, 40, 40])
        let asked = [(0.025, 1.0), (0.975, 1.0), (0.025, 40.0), (0.975, 40.0)];
        for ((p, df), expected) in asked.iter().zip(&numbers("distribution.chi2_ppf")) {
            close(chi_square_quantile(*p, *df).unwrap(), *expected, 1e-11);
        }
        // scipy.stats.beta.ppf([0.025, 0.975, 0.025], [20, 21, 1], [2, 1, 300])
        let asked = [(0.025, 20.0, 2.0), (0.975, 21.0, 1.0), (0.025, 1.0, 300.0)];
        for ((p, a, b), expected) in asked.iter().zip(&numbers("distribution.beta_ppf")) {
            close(beta_quantile(*p, *a, *b).unwrap(), *expected, 1e-11);
        }
    }

    #[test]
    fn large_and_odd_parameters_agree_with_scipy() {
        // scipy.stats: t.ppf(0.975, 1e6), t.ppf(0.9995, 3), t.ppf(0.975, 0.5), f.ppf(0.975, 1.3, 40.7), f.ppf(0.025, 200, 1.7),
        // chi2.ppf(0.025, 1e5), norm.ppf(1 - 1e-12)
        let found = [
            t_quantile(0.975, 1e6),
            t_quantile(0.9995, 3.0),
            t_quantile(0.975, 0.5),
            f_quantile(0.975, 1.3, 40.7),
            f_quantile(0.025, 200.0, 1.7),
            chi_square_quantile(0.025, 1e5),
            normal_quantile(1.0 - 1e-12),
        ];
        for (found, expected) in found.into_iter().zip(numbers("distribution.large")) {
            close(found.unwrap(), expected, 1e-9);
        }
    }

    #[test]
    fn tails_agree_with_scipy() {
        // scipy.stats.chi2.sf([3.0, 30.0], 9), 2 * scipy.stats.t.sf(2.5, 14), 2 * scipy.stats.norm.sf(1.7)
        let judge = numbers("distribution.tails");
        close(chi_square_upper(3.0, 9.0).unwrap(), judge[0], 1e-11);
        close(chi_square_upper(30.0, 9.0).unwrap(), judge[1], 1e-11);
        close(t_two_sided(2.5, 14.0).unwrap(), judge[2], 1e-11);
        close(normal_two_sided(-1.7), judge[3], 1e-11);
        // scipy.stats.binom.cdf([0, 7, 12], 12, 0.37)
        let judge = numbers("distribution.binomial");
        for (count, expected) in [0, 7, 12].into_iter().zip(&judge) {
            close(binomial_cumulative(count, 12, 0.37), *expected, 1e-12);
        }
    }

    #[test]
    fn a_probability_outside_its_range_is_refused() {
        assert!(normal_quantile(1.0).is_err());
        assert!(t_quantile(0.975, 0.0).is_err());
        assert!(beta_quantile(f64::NAN, 1.0, 1.0).is_err());
    }
}
