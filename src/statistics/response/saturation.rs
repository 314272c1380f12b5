//! A response that rises with the dose and levels off.

use super::line::{Coefficient, coefficient};
use super::normal_equations::NormalEquations;
use crate::statistics::distribution::t_quantile;
use crate::statistics::error::{Result, StatisticsError, check_finite, check_pairs, check_values};
use crate::statistics::interval::{Interval, upper_tail};
use crate::statistics::warning::{Warning, warn_few};

/// Whether the response without a dose is fitted or known to be zero.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Baseline {
    /// The response at dose 0 is fitted.
    Fitted,
    /// The response at dose 0 is zero, as for a change.
    Zero,
}

/// `y = baseline + rise x / (half_dose + x)`.
#[derive(Debug, Clone, PartialEq)]
pub struct Saturation {
    /// Response at dose 0; `None` when it was taken as zero.
    pub baseline: Option<Coefficient>,
    /// Largest rise above the baseline, which may be negative for a fall.
    pub rise: Coefficient,
    /// Dose that reaches half of it; its interval is that of its logarithm, since no dose is under zero.
    pub half_dose: Coefficient,
    /// `sqrt(residual sum of squares / (n - parameters))`.
    pub residual_standard_deviation: f64,
    /// Pairs fitted.
    pub count: usize,
    /// Cautions.
    pub warnings: Vec<Warning>,
}

impl Saturation {
    /// The curve at a dose of zero or more.
    ///
    /// # Errors
    /// [`StatisticsError::OutOfRange`] for a dose that is negative or not finite.
    pub fn at(&self, dose: f64) -> Result<f64> {
        check_finite("dose", dose)?;
        if dose < 0.0 {
            return Err(StatisticsError::OutOfRange {
                what: "dose",
                value: dose,
                allowed: "zero or more",
            });
        }
        let baseline = self.baseline.map_or(0.0, |b| b.value);
        Ok(baseline + self.rise.value * dose / (self.half_dose.value + dose))
    }
}

/// Fits a saturating curve by least squares.
///
/// For each half dose the other parameters follow from linear least squares, so the search runs over the half dose
/// alone (Golub & Pereyra 1973 SIAM J Numer Anal 10:413-32): a grid from a thousandth of the smallest to a thousand times the largest
/// dose, then Gauss-Newton steps on all parameters. Errors: `s^2 (J'J)^-1`, with Student's t (Bates & Watts 1988, Nonlinear
/// Regression Analysis, chapter 2, memory). The half dose is above zero: its interval is `half exp(± t error / half)`, by the error of its
/// logarithm, which the same equations give.
///
/// # Errors
/// [`StatisticsError`] for too few pairs, unequal lengths, a value that is not finite, a negative dose; [`StatisticsError::NoVariation`]
/// with fewer distinct doses than parameters; [`StatisticsError::NotConverged`] when the data show no bend.
pub fn fit_saturation(
    dose: &[f64],
    response: &[f64],
    baseline: Baseline,
    level: f64,
) -> Result<Saturation> {
    let parameters = parameters_of(baseline);
    check_values("dose", dose, parameters + 1)?;
    check_values("response", response, parameters + 1)?;
    check_pairs("dose", dose.len(), "response", response.len())?;
    check_doses(dose, parameters)?;
    let start = search(dose, response, baseline)?;
    let fit = refine(dose, response, baseline, start)?;
    report(dose, &fit, baseline, level)
}

fn parameters_of(baseline: Baseline) -> usize {
    match baseline {
        Baseline::Fitted => 3,
        Baseline::Zero => 2,
    }
}

fn check_doses(dose: &[f64], parameters: usize) -> Result<()> {
    if let Some(index) = dose.iter().position(|d| *d < 0.0) {
        return Err(StatisticsError::OutOfDomain {
            what: "dose",
            index,
            value: dose[index],
            allowed: "zero or more",
        });
    }
    let mut distinct = dose.to_vec();
    distinct.sort_unstable_by(f64::total_cmp);
    distinct.dedup();
    if distinct.iter().filter(|d| **d > 0.0).count() < 2 || distinct.len() < parameters {
        return Err(StatisticsError::NoVariation {
            what: "the number of distinct doses",
            hint: "a saturating curve needs as many distinct doses as parameters; compare groups instead",
        });
    }
    Ok(())
}

/// Parameters in the order baseline, rise, half dose, with their sum of squares.
#[derive(Debug, Clone, Copy)]
pub(super) struct Point {
    pub(super) baseline: f64,
    pub(super) rise: f64,
    pub(super) half: f64,
    squares: f64,
}

/// Best linear parameters at a half dose.
fn profile(dose: &[f64], response: &[f64], baseline: Baseline, half: f64) -> Point {
    let shares = || dose.iter().map(|d| d / (half + d));
    let count = dose.len() as f64;
    let (center_share, center_response) = match baseline {
        Baseline::Fitted => (
            shares().sum::<f64>() / count,
            response.iter().sum::<f64>() / count,
        ),
        Baseline::Zero => (0.0, 0.0),
    };
    let (mut crossed, mut spread) = (0.0, 0.0);
    for (share, y) in shares().zip(response) {
        crossed += (share - center_share) * (y - center_response);
        spread += (share - center_share) * (share - center_share);
    }
    let rise = if spread > 0.0 { crossed / spread } else { 0.0 };
    let mut point = Point {
        baseline: center_response - rise * center_share,
        rise,
        half,
        squares: 0.0,
    };
    point.squares = squares(dose, response, &point);
    point
}

fn squares(dose: &[f64], response: &[f64], point: &Point) -> f64 {
    let residual = |(d, y): (&f64, &f64)| y - point.baseline - point.rise * d / (point.half + d);
    dose.iter().zip(response).map(residual).map(|r| r * r).sum()
}

/// Half doses tried for each decade.
const GRID_PER_DECADE: usize = 20;

fn search(dose: &[f64], response: &[f64], baseline: Baseline) -> Result<Point> {
    let positive = || dose.iter().copied().filter(|d| *d > 0.0);
    let low = positive().fold(f64::INFINITY, f64::min) / 1000.0;
    let high = positive().fold(0.0, f64::max) * 1000.0;
    let steps = (libm::log10(high / low) * GRID_PER_DECADE as f64)
        .ceil()
        .min(5000.0) as usize;
    let ratio = libm::log(high / low) / steps as f64;
    let best = (0..=steps)
        .map(|i| {
            (
                i,
                profile(dose, response, baseline, low * libm::exp(ratio * i as f64)),
            )
        })
        .min_by(|(_, a), (_, b)| a.squares.total_cmp(&b.squares));
    match best {
        Some((i, point)) if i > 0 && i < steps && point.squares.is_finite() => Ok(point),
        _ => Err(StatisticsError::NotConverged {
            what: "the search for a half dose",
            hint: "the responses show no bend within the doses given: fit a line, or add smaller and larger doses",
        }),
    }
}

const ROUNDS: usize = 200;

fn refine(dose: &[f64], response: &[f64], baseline: Baseline, start: Point) -> Result<Fit> {
    let mut point = start;
    for _ in 0..ROUNDS {
        let normal = NormalEquations::new(dose, response, baseline, &point);
        let Some(step) = normal.step() else { break };
        let Some(next) = damped(dose, response, &point, step) else {
            break;
        };
        let moved = (next.half - point.half).abs() > 1e-14 * point.half;
        point = next;
        if !moved {
            break;
        }
    }
    let covariance = NormalEquations::new(dose, response, baseline, &point)
        .inverse_diagonal()
        .ok_or(StatisticsError::NotConverged {
            what: "the curve",
            hint: "its parameters cannot be told apart: take the baseline as zero or add doses",
        })?;
    Ok(Fit { point, covariance })
}

/// The longest of the halved steps that does not raise the sum of squares.
fn damped(dose: &[f64], response: &[f64], point: &Point, step: [f64; 3]) -> Option<Point> {
    let mut share = 1.0;
    for _ in 0..30 {
        let mut next = Point {
            baseline: point.baseline + share * step[0],
            rise: point.rise + share * step[1],
            half: point.half + share * step[2],
            squares: 0.0,
        };
        if next.half > 0.0 {
            next.squares = squares(dose, response, &next);
            if next.squares <= point.squares {
                return Some(next);
            }
        }
        share /= 2.0;
    }
    None
}

struct Fit {
    point: Point,
    covariance: [f64; 3],
}

fn report(dose: &[f64], fit: &Fit, baseline: Baseline, level: f64) -> Result<Saturation> {
    let freedom = (dose.len() - parameters_of(baseline)) as f64;
    let deviation = (fit.point.squares / freedom).sqrt();
    let t = t_quantile(upper_tail(level)?, freedom)?;
    let term = |value: f64, place: usize| {
        coefficient(
            value,
            deviation * fit.covariance[place].sqrt(),
            t,
            level,
            freedom,
        )
    };
    let mut half_dose = term(fit.point.half, 2)?;
    half_dose.interval = on_the_log_scale(&half_dose, t, level);
    let largest = dose.iter().copied().fold(0.0, f64::max);
    let mut warnings = Vec::new();
    warn_few(&mut warnings, "pairs", dose.len(), 10);
    if fit.point.half > largest {
        warnings.push(Warning::BeyondData {
            what: "half dose",
            value: fit.point.half,
            largest,
        });
    }
    Ok(Saturation {
        baseline: match baseline {
            Baseline::Fitted => Some(term(fit.point.baseline, 0)?),
            Baseline::Zero => None,
        },
        rise: term(fit.point.rise, 1)?,
        half_dose,
        residual_standard_deviation: deviation,
        count: dose.len(),
        warnings,
    })
}

/// The interval of a number above zero by the error of its logarithm; an end too large to hold is the largest number.
fn on_the_log_scale(found: &Coefficient, t: f64, level: f64) -> Interval {
    let reach = t * found.standard_error / found.value;
    Interval {
        lower: found.value * libm::exp(-reach),
        upper: (found.value * libm::exp(reach)).min(f64::MAX),
        level,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::statistics::oracle::{close, number, numbers};

    /// R's dataset Puromycin, treated cells (Bates & Watts 1988, table A1.3).
    const CONCENTRATION: [f64; 12] = [
        0.02, 0.02, 0.06, 0.06, 0.11, 0.11, 0.22, 0.22, 0.56, 0.56, 1.10, 1.10,
    ];
    const RATE: [f64; 12] = [
        76.0, 47.0, 97.0, 107.0, 123.0, 139.0, 159.0, 152.0, 191.0, 201.0, 207.0, 200.0,
    ];

    #[test]
    fn agrees_with_r_on_a_published_curve() {
        // R: summary(nls(rate ~ Vm * conc / (K + conc), Puromycin, subset = state == "treated", start = list(Vm = 200, K = 0.05),
        //   control = nls.control(tol = 1e-8))): coefficients, their errors, sigma
        // Printed in ?Puromycin and Bates & Watts: Vm 212.7 (6.947), K 0.06412 (0.00828), residual 10.93.
        let fit = fit_saturation(&CONCENTRATION, &RATE, Baseline::Zero, 0.95).unwrap();
        let judge = numbers("r_puromycin");
        close(fit.rise.value, judge[0], 1e-6);
        close(fit.half_dose.value, judge[1], 1e-6);
        close(fit.rise.standard_error, judge[2], 1e-5);
        close(fit.half_dose.standard_error, judge[3], 1e-5);
        close(fit.residual_standard_deviation, judge[4], 1e-8);
        assert_eq!(
            format!("{:.1} {:.5}", fit.rise.value, fit.half_dose.value),
            "212.7 0.06412"
        );
        assert!(fit.baseline.is_none() && fit.warnings.is_empty());
    }

    #[test]
    fn the_interval_of_the_half_dose_is_that_of_its_logarithm() {
        // R: s <- summary(nls(rate ~ Vm * conc / (exp(l) + conc), ..., start = list(Vm = 200, l = log(0.05))))$coefficients["l", ];
        //   exp(s[1] + c(-1, 1) * qt(0.975, 10) * s[2])
        let fit = fit_saturation(&CONCENTRATION, &RATE, Baseline::Zero, 0.95).unwrap();
        let judge = numbers("r_puromycin_log_half");
        close(fit.half_dose.interval.lower, judge[0], 1e-5);
        close(fit.half_dose.interval.upper, judge[1], 1e-5);
        // A bend that can hardly be seen: a symmetric interval would reach under zero.
        let dose = [1.0, 1.0, 2.0, 2.0, 4.0, 4.0];
        let response = [1.0, 3.0, 2.0, 5.0, 6.0, 4.5];
        let fit = fit_saturation(&dose, &response, Baseline::Zero, 0.95).unwrap();
        let half = fit.half_dose;
        assert!(half.value - 2.0 * half.standard_error < 0.0);
        assert!(half.interval.lower > 0.0 && half.interval.upper.is_finite());
        let ends = half.interval.lower * half.interval.upper;
        close(ends.sqrt(), half.value, 1e-12);
    }

    #[test]
    fn agrees_with_scipy_with_a_baseline() {
        // p, c = scipy.optimize.curve_fit(lambda x, b, r, h: b + r * x / (h + x), dose, response, p0=[60, 30, 150]); sqrt(diag(c))
        let (dose, response) = (numbers("saturation.dose"), numbers("saturation.response"));
        let fit = fit_saturation(&dose, &response, Baseline::Fitted, 0.95).unwrap();
        let (judge, errors) = (
            numbers("saturation.parameters"),
            numbers("saturation.errors"),
        );
        let found = [fit.baseline.unwrap(), fit.rise, fit.half_dose];
        for i in 0..3 {
            close(found[i].value, judge[i], 1e-6);
            close(found[i].standard_error, errors[i], 1e-4);
        }
        // The sum of squares can only be as low as the judge's, or lower.
        assert!(fit.residual_standard_deviation <= number("saturation.deviation") * (1.0 + 1e-9));
        close(fit.at(0.0).unwrap(), judge[0], 1e-6);
    }

    #[test]
    fn units_of_the_dose_only_scale_the_half_dose() {
        let fit = fit_saturation(&CONCENTRATION, &RATE, Baseline::Zero, 0.95).unwrap();
        let scaled: Vec<f64> = CONCENTRATION.iter().map(|c| c * 1e6).collect();
        let moved = fit_saturation(&scaled, &RATE, Baseline::Zero, 0.95).unwrap();
        close(moved.half_dose.value / 1e6, fit.half_dose.value, 1e-9);
        close(moved.rise.value, fit.rise.value, 1e-9);
    }

    #[test]
    fn data_without_a_bend_are_refused() {
        let dose = [1.0, 2.0, 3.0, 4.0, 5.0, 6.0];
        let accelerating: Vec<f64> = dose.iter().map(|d| d * d).collect();
        assert!(matches!(
            fit_saturation(&dose, &accelerating, Baseline::Zero, 0.95),
            Err(StatisticsError::NotConverged { .. })
        ));
        assert!(matches!(
            fit_saturation(
                &[1.0, 1.0, 2.0, 2.0],
                &[1.0, 2.0, 3.0, 4.0],
                Baseline::Fitted,
                0.95
            ),
            Err(StatisticsError::NoVariation { .. })
        ));
        assert!(fit_saturation(&[-1.0, 1.0, 2.0], &[1.0, 2.0, 3.0], Baseline::Zero, 0.95).is_err());
    }
}
