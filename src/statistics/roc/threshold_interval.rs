//! Bootstrap interval of a chosen threshold.

use super::sample::RocSample;
use super::threshold::{Choice, ChosenThreshold, ThresholdRule, check_rule, choose, threshold};
use crate::statistics::cluster::Clusters;
use crate::statistics::error::{Result, check_pairs};
use crate::statistics::proportion::{Proportion, proportion};
use crate::statistics::resample::{Bootstrap, BootstrapInterval, Draws};
use crate::statistics::warning::Warning;

/// A threshold with its bootstrap interval.
#[derive(Debug, Clone, PartialEq)]
pub struct ThresholdInterval {
    /// The threshold on the data as they are.
    pub chosen: ChosenThreshold,
    /// Percentile interval of the threshold.
    pub bootstrap: BootstrapInterval,
    /// Observations whose score lies in that interval, ends included: the share that this threshold leaves in doubt.
    pub inside: Proportion,
    /// Cautions.
    pub warnings: Vec<Warning>,
}

/// Chooses a threshold by `rule` in each resample and takes percentiles.
///
/// Resamples: positives and negatives separately, with replacement, so that each keeps its number; or whole patients when
/// `patients` is given. Percentile method: Efron & Tibshirani 1993, An Introduction to the Bootstrap, chapter 13 (memory).
/// The sample is sorted once; a resample counts how often each distinct score was drawn.
///
/// # Errors
/// As [`threshold`]; [`StatisticsError::UnusableResamples`](crate::statistics::StatisticsError::UnusableResamples)
/// when the rule fails in over a tenth of the resamples; a level not between 0 and 1; fewer than 100 resamples.
pub fn threshold_interval(
    sample: &RocSample,
    rule: ThresholdRule,
    patients: Option<&Clusters>,
    level: f64,
    bootstrap: &Bootstrap,
) -> Result<ThresholdInterval> {
    let chosen = threshold(sample, rule)?;
    let choices = choose_in_resamples(sample, rule, patients, bootstrap)?;
    let levels = sample.levels();
    let score_of = |choice: &Option<Resampled>| match choice {
        Some(resampled) => levels.scores[resampled.choice.level],
        None => f64::NAN,
    };
    let scores = choices.iter().map(score_of).collect();
    let bootstrap = BootstrapInterval::percentile(scores, level, bootstrap)?;
    let mut warnings = chosen.warnings.clone();
    if rule == ThresholdRule::MaximalYouden {
        warnings.push(Warning::IrregularBootstrap);
    }
    bootstrap.warn(&mut warnings);
    warn_repeated(&mut warnings, patients);
    Ok(ThresholdInterval {
        chosen,
        inside: count_inside(sample, &bootstrap, level)?,
        bootstrap,
        warnings,
    })
}

fn count_inside(sample: &RocSample, found: &BootstrapInterval, level: f64) -> Result<Proportion> {
    let inside: u32 = sample
        .each_level()
        .filter(|here| found.interval.contains(here.key.score(sample.direction())))
        .map(|here| here.positives + here.negatives)
        .sum();
    proportion(
        inside as usize,
        sample.positives() + sample.negatives(),
        level,
    )
}

/// Says that observations repeat within patients, when they do.
pub(super) fn warn_repeated(warnings: &mut Vec<Warning>, patients: Option<&Clusters>) {
    if let Some(clusters) = patients
        && clusters.repeat()
    {
        warnings.push(Warning::Repeated {
            observations: clusters.observations(),
            patients: clusters.count(),
        });
    }
}

/// What a resample chose, and its numbers of positives and negatives.
#[derive(Debug, Clone, Copy)]
pub(super) struct Resampled {
    pub(super) choice: Choice,
    pub(super) positives: u32,
    pub(super) negatives: u32,
}

/// The rule's choice in each resample; `None` where it has none.
pub(super) fn choose_in_resamples(
    sample: &RocSample,
    rule: ThresholdRule,
    patients: Option<&Clusters>,
    bootstrap: &Bootstrap,
) -> Result<Vec<Option<Resampled>>> {
    check_rule(rule)?;
    in_resamples(sample, patients, bootstrap, |positives_at, negatives_at| {
        choose(positives_at, negatives_at, rule).map(|choice| Resampled {
            choice,
            positives: positives_at.iter().sum(),
            negatives: negatives_at.iter().sum(),
        })
    })
}

/// What `one` makes of the positives and negatives drawn at each level, in each resample.
pub(super) fn in_resamples<T: Send>(
    sample: &RocSample,
    patients: Option<&Clusters>,
    bootstrap: &Bootstrap,
    one: impl Fn(&[u32], &[u32]) -> T + Sync,
) -> Result<Vec<T>> {
    let (classes, level_of) = (sample.classes(), sample.level_of_each());
    let levels = sample.each_level().count();
    if let Some(clusters) = patients {
        check_pairs(
            "scores",
            classes.len(),
            "patient identifiers",
            clusters.observations(),
        )?;
    }
    let of_class = |wanted: bool| -> Vec<u32> {
        let pairs = classes.iter().zip(&level_of);
        pairs
            .filter(|(class, _)| **class == wanted)
            .map(|(_, level)| *level)
            .collect()
    };
    let (positive_levels, negative_levels) = (of_class(true), of_class(false));
    bootstrap.run(
        || Counts::new(levels),
        |counts, draws| {
            counts.clear();
            match patients {
                None => {
                    draw_into(&mut counts.positives_at, &positive_levels, draws);
                    draw_into(&mut counts.negatives_at, &negative_levels, draws);
                }
                Some(clusters) => counts.draw_patients(clusters, classes, &level_of, draws),
            }
            one(&counts.positives_at, &counts.negatives_at)
        },
    )
}

/// Buffers of one thread: positives and negatives drawn at each level.
struct Counts {
    positives_at: Vec<u32>,
    negatives_at: Vec<u32>,
}

impl Counts {
    fn new(levels: usize) -> Self {
        Self {
            positives_at: vec![0; levels],
            negatives_at: vec![0; levels],
        }
    }

    fn clear(&mut self) {
        self.positives_at.fill(0);
        self.negatives_at.fill(0);
    }

    fn draw_patients(
        &mut self,
        clusters: &Clusters,
        classes: &[bool],
        level_of: &[u32],
        draws: &mut Draws,
    ) {
        for _ in 0..clusters.count() {
            for member in clusters.members(draws.below(clusters.count())) {
                let observation = *member as usize;
                let level = level_of[observation] as usize;
                if classes[observation] {
                    self.positives_at[level] += 1;
                } else {
                    self.negatives_at[level] += 1;
                }
            }
        }
    }
}

fn draw_into(counts: &mut [u32], levels: &[u32], draws: &mut Draws) {
    for _ in 0..levels.len() {
        counts[levels[draws.below(levels.len())] as usize] += 1;
    }
}

#[cfg(test)]
mod tests {
    use super::super::fixtures::{classes, first_score, patients};
    use super::super::sample::Direction;
    use super::*;
    use crate::statistics::oracle::{close, numbers};
    use std::num::NonZeroUsize;

    fn sample() -> RocSample {
        RocSample::new(&first_score(), &classes(), Direction::HigherIsPositive).unwrap()
    }

    fn interval(threads: usize, patients: Option<&Clusters>) -> ThresholdInterval {
        let bootstrap = Bootstrap {
            resamples: 4000,
            seed: 11,
            threads: NonZeroUsize::new(threads),
        };
        threshold_interval(
            &sample(),
            ThresholdRule::MaximalYouden,
            patients,
            0.9,
            &bootstrap,
        )
        .unwrap()
    }

    #[test]
    fn agrees_with_another_bootstrap() {
        // statistics_judges.py: 20000 stratified resamples with numpy, Youden by scikit-learn's roc_curve, quantiles 0.05 and 0.95;
        // the scores of the fixture are 0.5 apart, and both bootstraps jump by whole scores.
        let judge = numbers("roc.youden_bootstrap_90");
        let found = interval(2, None).bootstrap.interval;
        close(found.lower, judge[0], 0.05);
        close(found.upper, judge[1], 0.05);
    }

    #[test]
    fn threads_do_not_change_the_result() {
        let clusters = Clusters::new(&patients()).unwrap();
        assert_eq!(interval(1, None), interval(3, None));
        assert_eq!(interval(1, Some(&clusters)), interval(3, Some(&clusters)));
    }

    #[test]
    fn repeated_patients_are_said() {
        let clusters = Clusters::new(&patients()).unwrap();
        let found = interval(1, Some(&clusters));
        assert!(
            found
                .warnings
                .iter()
                .any(|w| matches!(w, Warning::Repeated { .. }))
        );
        assert!(found.warnings.contains(&Warning::IrregularBootstrap));
        assert!(found.bootstrap.interval.contains(found.chosen.threshold));
    }

    #[test]
    fn observations_in_doubt_are_counted() {
        let found = interval(1, None);
        let within = first_score()
            .into_iter()
            .filter(|s| found.bootstrap.interval.contains(*s));
        assert_eq!(found.inside.count, within.count());
        assert_eq!(found.inside.of, first_score().len());
    }

    #[test]
    fn other_patients_are_refused() {
        let clusters = Clusters::new(&[1, 2]).unwrap();
        let bootstrap = Bootstrap::seeded(1);
        let rule = ThresholdRule::MaximalYouden;
        assert!(threshold_interval(&sample(), rule, Some(&clusters), 0.9, &bootstrap).is_err());
    }
}
