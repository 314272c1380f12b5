//! Law: an interval covers the truth as often as its level says. Seeded simulations, so the shares are always the same.
//!
//! With 1000 rounds the standard error of a coverage of 0.95 is 0.007; bounds leave about three of them and the known
//! small-sample shortfall of the large-sample formulas.

use super::agreement::{
    AgreementOptions, IccForm, agreement, agreement_repeated, icc, repeatability,
};
use super::distribution::{binomial_cumulative, normal_quantile};
use super::resample::{Bootstrap, Draws};
use super::response::{
    Baseline, changes, changes_clustered, fit_line, fit_saturation, median_interval,
};
use super::roc::{Direction, RocSample, area, area_clustered, compare};
use super::{Clusters, proportion, proportion_clustered};
use std::num::NonZeroUsize;

pub(super) fn normal(draws: &mut Draws) -> f64 {
    let share = (draws.below(1 << 30) as f64 + 0.5) / f64::from(1 << 30);
    normal_quantile(share).unwrap()
}

/// Share of the rounds in which `holds` is true.
fn share(rounds: usize, seed: u64, holds: impl Fn(&mut Draws) -> bool + Sync) -> f64 {
    let bootstrap = Bootstrap::seeded(seed).with_resamples(rounds);
    let held = bootstrap.run(|| (), |(), draws| holds(draws)).unwrap();
    held.iter().filter(|held| **held).count() as f64 / rounds as f64
}

#[track_caller]
fn between(found: f64, low: f64, high: f64) {
    assert!(
        (low..=high).contains(&found),
        "share {found}, expected {low} to {high}"
    );
}

#[test]
fn exact_intervals_never_cover_less_and_wilson_covers_on_average() {
    // No simulation: the coverage at each chance is a sum over the binomial distribution.
    const SIZE: usize = 17;
    let found: Vec<_> = (0..=SIZE)
        .map(|k| proportion(k, SIZE, 0.95).unwrap())
        .collect();
    let (mut exact_least, mut wilson_sum) = (1.0_f64, 0.0);
    for step in 1..200 {
        let truth = f64::from(step) / 200.0;
        let chance = |k: usize| {
            let below = if k == 0 {
                0.0
            } else {
                binomial_cumulative(k - 1, SIZE, truth)
            };
            binomial_cumulative(k, SIZE, truth) - below
        };
        let covered = |contains: &dyn Fn(usize) -> bool| -> f64 {
            (0..=SIZE).filter(|k| contains(*k)).map(chance).sum()
        };
        exact_least = exact_least.min(covered(&|k| found[k].exact.contains(truth)));
        wilson_sum += covered(&|k| found[k].wilson.contains(truth));
    }
    assert!(exact_least >= 0.95, "{exact_least}");
    between(wilson_sum / 199.0, 0.94, 0.965);
}

/// Scores of a normal model: positives one standard deviation above negatives, patients share a shift.
fn scores(
    draws: &mut Draws,
    patients: usize,
    each: usize,
    shared: f64,
) -> (Vec<f64>, Vec<bool>, Vec<usize>) {
    let (mut scores, mut positive, mut owner) = (Vec::new(), Vec::new(), Vec::new());
    let own = (1.0 - shared * shared).sqrt();
    for patient in 0..patients {
        let shift = shared * normal(draws);
        let is_positive = patient % 2 == 0;
        for _ in 0..each {
            scores.push(shift + own * normal(draws) + f64::from(u8::from(is_positive)));
            positive.push(is_positive);
            owner.push(patient);
        }
    }
    (scores, positive, owner)
}

/// Phi(1 / sqrt 2): the area between two unit normals one apart.
const TRUE_AREA: f64 = 0.760_249_938_906_523_3;

#[test]
fn delong_covers() {
    let covered = |logit: bool| {
        share(1000, 1, |draws| {
            let (scores, positive, _) = scores(draws, 80, 1, 0.0);
            let sample = RocSample::new(&scores, &positive, Direction::HigherIsPositive).unwrap();
            let found = area(&sample, 0.95).unwrap();
            let interval = if logit {
                found.logit_interval
            } else {
                found.interval
            };
            interval.unwrap().contains(TRUE_AREA)
        })
    };
    between(covered(false), 0.925, 0.97);
    between(covered(true), 0.93, 0.97);
}

#[test]
fn repeating_patients_need_the_clustered_variance() {
    let covered = |clustered: bool| {
        share(600, 2, |draws| {
            let (scores, positive, owner) = scores(draws, 60, 4, 0.8);
            let sample = RocSample::new(&scores, &positive, Direction::HigherIsPositive).unwrap();
            let found = if clustered {
                area_clustered(&sample, &Clusters::new(&owner).unwrap(), 0.95).unwrap()
            } else {
                area(&sample, 0.95).unwrap()
            };
            found.logit_interval.unwrap().contains(TRUE_AREA)
        })
    };
    between(covered(true), 0.925, 0.975);
    between(covered(false), 0.5, 0.88);
}

#[test]
fn equal_scores_differ_at_the_level_of_the_test() {
    let rejected = share(1000, 3, |draws| {
        let (first, positive, _) = scores(draws, 80, 1, 0.0);
        let second: Vec<f64> = first
            .iter()
            .zip(&positive)
            .map(|(a, p)| {
                let center = f64::from(u8::from(*p));
                center + 0.6 * (a - center) + 0.8 * normal(draws)
            })
            .collect();
        let sample = |s: &[f64]| RocSample::new(s, &positive, Direction::HigherIsPositive).unwrap();
        compare(&sample(&first), &sample(&second), 0.95)
            .unwrap()
            .p_value
            < 0.05
    });
    between(rejected, 0.03, 0.072);
}

#[test]
fn limits_of_agreement_cover() {
    let options = AgreementOptions::default();
    let covered = share(1000, 4, |draws| {
        let truth: Vec<f64> = (0..30).map(|_| 5.0 + normal(draws)).collect();
        let other: Vec<f64> = truth
            .iter()
            .map(|t| t - 0.5 + 0.7 * normal(draws))
            .collect();
        let found = agreement(&truth, &other, &options).unwrap();
        found.upper.interval.contains(0.5 + 1.96 * 0.7)
    });
    between(covered, 0.93, 0.975);
}

#[test]
fn limits_over_repeated_pairs_cover() {
    let options = AgreementOptions::default();
    let (between_sd, within_sd) = (0.6_f64, 0.4_f64);
    let limit = 0.5 + 1.96 * between_sd.hypot(within_sd);
    let covered = share(600, 5, |draws| {
        let (mut first, mut owner) = (Vec::new(), Vec::new());
        for patient in 0..25 {
            let shift = 0.5 + between_sd * normal(draws);
            for _ in 0..2 + patient % 3 {
                first.push(6.0 + shift + within_sd * normal(draws));
                owner.push(patient);
            }
        }
        let second = vec![6.0; first.len()];
        let clusters = Clusters::new(&owner).unwrap();
        let found = agreement_repeated(&first, &second, &clusters, &options).unwrap();
        found.upper.interval.contains(limit)
    });
    between(covered, 0.92, 0.98);
}

#[test]
fn intraclass_correlations_cover() {
    // Variances 1 between subjects, 0.3 between raters (for agreement), 0.5 residual.
    let covered = |form: IccForm, truth: f64| {
        share(500, 6, |draws| {
            let subjects: Vec<f64> = (0..25).map(|_| normal(draws)).collect();
            let readings: Vec<Vec<f64>> = (0..6)
                .map(|_| {
                    let bias = 0.3_f64.sqrt() * normal(draws);
                    subjects
                        .iter()
                        .map(|s| s + bias + 0.5_f64.sqrt() * normal(draws))
                        .collect()
                })
                .collect();
            let raters: Vec<&[f64]> = readings.iter().map(|r| &r[..]).collect();
            icc(&raters, form, 0.95).unwrap().interval.contains(truth)
        })
    };
    between(covered(IccForm::AbsoluteAgreement, 1.0 / 1.8), 0.91, 0.98);
    between(covered(IccForm::Consistency, 1.0 / 1.5), 0.92, 0.975);
}

#[test]
fn repeatability_covers() {
    let covered = share(1000, 7, |draws| {
        let readings: Vec<f64> = (0..30)
            .map(|i| f64::from(i / 2) + 2.0 * normal(draws))
            .collect();
        let subjects: Vec<usize> = (0..30).map(|i| i / 2).collect();
        let found =
            repeatability(&readings, &Clusters::new(&subjects).unwrap(), 1.96, 0.95).unwrap();
        found.within_interval.contains(2.0)
    });
    between(covered, 0.93, 0.97);
}

#[test]
fn a_new_value_falls_in_the_prediction_band() {
    let covered = share(1000, 8, |draws| {
        let x: Vec<f64> = (0..12).map(f64::from).collect();
        let y: Vec<f64> = x.iter().map(|x| 1.0 + 0.5 * x + normal(draws)).collect();
        let band = fit_line(&x, &y, 0.9).unwrap().at(9.5).unwrap();
        band.prediction_interval
            .contains(1.0 + 0.5 * 9.5 + normal(draws))
    });
    between(covered, 0.87, 0.93);
}

#[test]
fn the_half_dose_is_covered() {
    let covered = share(300, 9, |draws| {
        let dose: Vec<f64> = (0..40).map(|i| f64::from(i % 8) * 100.0).collect();
        let response: Vec<f64> = dose
            .iter()
            .map(|d| 60.0 + 25.0 * d / (150.0 + d) + normal(draws))
            .collect();
        let fit = fit_saturation(&dose, &response, Baseline::Fitted, 0.95).unwrap();
        fit.half_dose.interval.contains(150.0)
    });
    between(covered, 0.9, 0.98);
}

#[test]
fn medians_over_patients_cover() {
    // Percentile intervals of 25 patients fall short: the same design in numpy, 2000 rounds, covered 0.93 (60 patients: 0.95).
    let covered = share(600, 10, |draws| {
        let (mut values, mut owner) = (Vec::new(), Vec::new());
        for patient in 0..25 {
            let shift = normal(draws);
            for _ in 0..3 {
                values.push(shift + 0.5 * normal(draws));
                owner.push(patient);
            }
        }
        let bootstrap = Bootstrap {
            resamples: 300,
            seed: draws.below(1 << 30) as u64,
            threads: NonZeroUsize::new(1),
        };
        let clusters = Clusters::new(&owner).unwrap();
        let found = median_interval(&values, Some(&clusters), 0.95, &bootstrap).unwrap();
        found.bootstrap.interval.contains(0.0)
    });
    between(covered, 0.9, 0.96);
}

#[test]
fn all_three_per_cents_cover_their_own_truth() {
    // Lognormal ratio, independent of the value before: mean per cent and per cent of means are both 100 (E ratio - 1).
    let (center, spread) = (0.1_f64, 0.2_f64);
    let mean_ratio = 100.0 * libm::expm1(center + spread * spread / 2.0);
    let covered = |which: usize| {
        share(800, 11, |draws| {
            let before: Vec<f64> = (0..40)
                .map(|_| libm::exp(1.5 + 0.3 * normal(draws)))
                .collect();
            let after: Vec<f64> = before
                .iter()
                .map(|b| b * libm::exp(center + spread * normal(draws)))
                .collect();
            let found = changes(&before, &after, 0.95).unwrap();
            match which {
                0 => found.mean_of_per_cents.interval.contains(mean_ratio),
                1 => found.per_cent_of_means.interval.contains(mean_ratio),
                _ => found
                    .geometric
                    .interval
                    .contains(100.0 * libm::expm1(center)),
            }
        })
    };
    for which in 0..3 {
        between(covered(which), 0.92, 0.975);
    }
}

#[test]
fn intervals_over_repeating_patients_cover_where_those_over_rows_do_not() {
    // 25 patients with 1 to 6 rows; half of the variance is a patient's own. A change responds above 10 %.
    const PATIENTS: usize = 25;
    let names: Vec<usize> = (0..PATIENTS).flat_map(|p| vec![p; 1 + p % 6]).collect();
    let clusters = Clusters::new(&names).unwrap();
    let draw = |draws: &mut Draws| -> Vec<f64> {
        let own: Vec<f64> = (0..PATIENTS).map(|_| 8.0 * normal(draws)).collect();
        names
            .iter()
            .map(|p| 10.0 + own[*p] + 8.0 * normal(draws))
            .collect()
    };
    let covered = |clustered: bool| {
        share(1000, 29, |draws| {
            let change = draw(draws);
            let responds: Vec<bool> = change.iter().map(|c| *c > 10.0).collect();
            match clustered {
                true => proportion_clustered(&responds, &clusters, 0.95)
                    .unwrap()
                    .interval
                    .contains(0.5),
                false => {
                    let count = responds.iter().filter(|r| **r).count();
                    proportion(count, responds.len(), 0.95)
                        .unwrap()
                        .wilson
                        .contains(0.5)
                }
            }
        })
    };
    between(covered(true), 0.93, 0.985);
    between(covered(false), 0.70, 0.91);
    let covered = |clustered: bool| {
        share(1000, 31, |draws| {
            let before = vec![50.0; names.len()];
            let after: Vec<f64> = draw(draws).iter().map(|c| 50.0 + c / 2.0).collect();
            let found = match clustered {
                true => changes_clustered(&before, &after, &clusters, 0.95),
                false => changes(&before, &after, 0.95),
            };
            found.unwrap().mean_of_per_cents.interval.contains(10.0)
        })
    };
    between(covered(true), 0.915, 0.97);
    between(covered(false), 0.70, 0.90);
}
