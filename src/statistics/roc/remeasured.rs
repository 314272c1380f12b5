//! How much of an index's accuracy hangs on the error of the response that it is judged by.

use super::sample::{Direction, RocSample};
use crate::statistics::distribution::normal_quantile;
use crate::statistics::error::{Result, check_finite, check_pairs, check_values};
use crate::statistics::resample::{Bootstrap, BootstrapInterval, Draws};
use crate::statistics::response::ChangeError;
use crate::statistics::warning::Warning;

/// A row is in doubt when error alone, once more, would change its class more often than this.
pub(crate) const DOUBT: f64 = 0.05;

/// What a response says, on the scale of its error, and from where on it counts as one.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MeasuredResponse<'a> {
    /// Changes in per cent, each above -100 %, or differences in the unit of their error.
    pub changes: &'a [f64],
    /// A change above this is a response.
    pub above: f64,
    /// How far two measurements differ where nothing changed.
    pub error: &'a ChangeError,
}

/// Results over draws in which every response was measured once more.
#[derive(Debug, Clone, PartialEq)]
pub struct Remeasured {
    /// Mean area over the draws.
    pub mean_area: f64,
    /// Percentiles of the area.
    pub area: BootstrapInterval,
    /// Percentiles of the sensitivity at the threshold.
    pub sensitivity: BootstrapInterval,
    /// Percentiles of the specificity at the threshold.
    pub specificity: BootstrapInterval,
    /// Percentiles of the number of responders.
    pub positives: BootstrapInterval,
    /// Of each row the chance that error alone, once more, would class it otherwise, see [`ChangeError::chance_across`].
    pub chances: Vec<f64>,
    /// Rows in which that is more than one in twenty.
    pub in_doubt: usize,
    /// Rows.
    pub count: usize,
    /// Cautions.
    pub warnings: Vec<Warning>,
}

/// Moves each response by one more error, `ln(1 + change / 100) + s z`, or `difference + s z`, with standard normal z, classes it
/// anew and judges the same scores at the same threshold.
///
/// The responses carry one error already, so the draws lie further from the truth than the data: what the area loses here
/// is about what it lost before (the idea of simulation extrapolation, Cook & Stefanski 1994 J Am Stat Assoc
/// 89:1314-28, memory). Rows are taken as independent in their errors.
///
/// # Errors
/// [`StatisticsError`](crate::statistics::StatisticsError): no scores, slices of unequal length, a value that is not finite, a change or threshold of the response
/// not above -100 %, one class only in more than a tenth of the draws, a bad level, or fewer than 100 draws.
pub fn remeasured(
    scores: &[f64],
    direction: Direction,
    threshold: f64,
    response: MeasuredResponse<'_>,
    level: f64,
    draws: &Bootstrap,
) -> Result<Remeasured> {
    check_values("scores", scores, 2)?;
    check_values("changes", response.changes, 2)?;
    check_pairs("scores", scores.len(), "changes", response.changes.len())?;
    check_finite("threshold", threshold)?;
    let spread = response.error.standard_deviation;
    let scale = response.error.scale;
    let limit = scale.on_scale(0, response.above)?;
    let measured: Vec<f64> = response
        .changes
        .iter()
        .enumerate()
        .map(|(index, change)| scale.on_scale(index, *change))
        .collect::<Result<_>>()?;
    let one = |classes: &mut Vec<bool>, draws: &mut Draws| -> Option<Judged> {
        classes.clear();
        for value in &measured {
            classes.push(value + spread * normal(draws)? > limit);
        }
        let sample = RocSample::new(scores, classes, direction).ok()?;
        let table = sample.table_at(threshold).ok()?;
        Some(Judged {
            area: sample.area_value(),
            sensitivity: table.true_positive as f64 / table.positives() as f64,
            specificity: table.true_negative as f64 / table.negatives() as f64,
            positives: table.positives() as f64,
        })
    };
    let judged = draws.run(Vec::new, one)?;
    let percentiles = |f: fn(&Judged) -> f64| {
        let values = judged.iter().map(|j| j.as_ref().map_or(f64::NAN, f));
        BootstrapInterval::percentile(values.collect(), level, draws)
    };
    let usable: Vec<f64> = judged.iter().flatten().map(|j| j.area).collect();
    let area = percentiles(|j| j.area)?;
    let mut warnings = Vec::new();
    area.warn(&mut warnings);
    let chances: Vec<f64> = response
        .changes
        .iter()
        .map(|change| response.error.chance_across(*change, response.above))
        .collect::<Result<_>>()?;
    Ok(Remeasured {
        mean_area: usable.iter().sum::<f64>() / usable.len() as f64,
        area,
        sensitivity: percentiles(|j| j.sensitivity)?,
        specificity: percentiles(|j| j.specificity)?,
        positives: percentiles(|j| j.positives)?,
        in_doubt: chances.iter().filter(|chance| **chance > DOUBT).count(),
        chances,
        count: measured.len(),
        warnings,
    })
}

/// One draw.
struct Judged {
    area: f64,
    sensitivity: f64,
    specificity: f64,
    positives: f64,
}

/// A standard normal number, by the quantile of an even one between 0 and 1.
fn normal(draws: &mut Draws) -> Option<f64> {
    const STEPS: usize = 1 << 30;
    let share = (draws.below(STEPS) as f64 + 0.5) / STEPS as f64;
    normal_quantile(share).ok()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn error(least_significant_change: f64) -> ChangeError {
        ChangeError::of_least_significant_change(least_significant_change).unwrap()
    }

    fn judge(scores: &[f64], changes: &[f64], error: &ChangeError) -> Remeasured {
        let response = MeasuredResponse {
            changes,
            above: 10.0,
            error,
        };
        let draws = Bootstrap::seeded(5).with_resamples(4000);
        remeasured(
            scores,
            Direction::HigherIsPositive,
            0.5,
            response,
            0.95,
            &draws,
        )
        .unwrap()
    }

    /// Ten clear responders, ten clear others, and twenty that lie on the line: each draw makes a responder of a twentieth
    /// part by the toss of a coin. Quantiles of the binomial with 20 tosses at 2.5 and 97.5 %: 6 and 14 (tables), so 16 to 24.
    #[test]
    fn rows_on_the_line_are_tossed() {
        let mut changes = vec![60.0; 10];
        changes.extend([-40.0; 10]);
        changes.extend([10.0; 20]);
        let scores: Vec<f64> = (0..40).map(|i| f64::from(i % 2)).collect();
        let found = judge(&scores, &changes, &error(11.0));
        let span = found.positives.interval;
        assert_eq!((span.lower, span.upper), (16.0, 24.0));
        assert_eq!((found.in_doubt, found.count), (20, 40));
        assert!(found.chances[..20].iter().all(|chance| *chance < 1e-6));
        assert_eq!(found.chances[20..], [0.5; 20]);
    }

    #[test]
    fn without_much_error_nothing_moves_and_with_much_nothing_is_left() {
        let changes: Vec<f64> = (0..60).map(|i| f64::from(i) - 20.5).collect();
        let scores: Vec<f64> = changes
            .iter()
            .map(|c| f64::from(u8::from(*c > 10.0)))
            .collect();
        let still = judge(&scores, &changes, &error(0.01));
        assert_eq!((still.mean_area, still.in_doubt), (1.0, 0));
        assert_eq!(
            (
                still.sensitivity.interval.lower,
                still.specificity.interval.lower
            ),
            (1.0, 1.0)
        );
        let noisy = judge(&scores, &changes, &error(25.0));
        assert!(
            noisy.mean_area < 0.95 && noisy.mean_area > 0.5,
            "{}",
            noisy.mean_area
        );
        let lost = judge(&scores, &changes, &error(99.0));
        assert!(lost.mean_area < noisy.mean_area);
    }

    /// The same draws move the logarithms of ratios and differences that are equal to them alike.
    #[test]
    fn differences_move_as_the_logarithms_of_ratios_do() {
        let logs: Vec<f64> = (0..40).map(|i| f64::from(i) / 50.0 - 0.3).collect();
        let per_cents: Vec<f64> = logs.iter().map(|l| 100.0 * libm::expm1(*l)).collect();
        let scores: Vec<f64> = (0..40).map(|i| f64::from(i % 9 + i / 4)).collect();
        let limit = libm::log1p(0.10);
        let error = error(11.0);
        let in_logs = ChangeError::of_least_significant_difference(0.11).unwrap();
        let ask = |changes: &[f64], above: f64, error: &ChangeError| {
            let response = MeasuredResponse {
                changes,
                above,
                error,
            };
            let draws = Bootstrap::seeded(3).with_resamples(500);
            remeasured(
                &scores,
                Direction::HigherIsPositive,
                6.0,
                response,
                0.95,
                &draws,
            )
            .unwrap()
        };
        let (one, other) = (ask(&per_cents, 10.0, &error), ask(&logs, limit, &in_logs));
        assert!((one.mean_area - other.mean_area).abs() < 1e-12);
        assert_eq!(one.positives, other.positives);
        assert_eq!(one.in_doubt, other.in_doubt);
        assert!(one.in_doubt > 5 && one.in_doubt < 30, "{}", one.in_doubt);
    }

    #[test]
    fn what_has_no_answer_is_refused() {
        let error = error(11.0);
        let draws = Bootstrap::seeded(1);
        let ask = |changes: &[f64], above: f64| {
            let response = MeasuredResponse {
                changes,
                above,
                error: &error,
            };
            remeasured(
                &[1.0, 2.0, 3.0],
                Direction::HigherIsPositive,
                2.0,
                response,
                0.95,
                &draws,
            )
        };
        assert!(ask(&[1.0, 2.0], 10.0).is_err());
        assert!(ask(&[1.0, -100.0, 20.0], 10.0).is_err());
        assert!(ask(&[1.0, 2.0, 20.0], -100.0).is_err());
        assert!(ask(&[90.0, 90.0, 90.0], 10.0).is_err());
    }
}
