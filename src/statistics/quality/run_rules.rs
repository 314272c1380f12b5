//! Patterns that a steady process rarely shows.

use crate::statistics::error::{
    Result, StatisticsError, check_finite, check_positive, check_values,
};
use crate::statistics::warning::Warning;

/// A pattern, in the numbers of Nelson 1984 J Qual Technol 16:237-9.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum RunRule {
    /// One point beyond three standard deviations.
    OneBeyondThree,
    /// Nine in a row on one side of the center.
    NineOnOneSide,
    /// Six in a row steadily rising or falling.
    SixRisingOrFalling,
    /// Fourteen in a row alternating up and down.
    FourteenAlternating,
    /// Two of three beyond two standard deviations on one side.
    TwoOfThreeBeyondTwo,
    /// Four of five beyond one standard deviation on one side.
    FourOfFiveBeyondOne,
    /// Fifteen in a row within one standard deviation.
    FifteenWithinOne,
    /// Eight in a row beyond one standard deviation, on either side.
    EightBeyondOne,
}

impl RunRule {
    /// All rules, in order. Every rule added adds false alarms.
    pub const ALL: [Self; 8] = [
        Self::OneBeyondThree,
        Self::NineOnOneSide,
        Self::SixRisingOrFalling,
        Self::FourteenAlternating,
        Self::TwoOfThreeBeyondTwo,
        Self::FourOfFiveBeyondOne,
        Self::FifteenWithinOne,
        Self::EightBeyondOne,
    ];

    /// Points the pattern spans.
    pub fn span(self) -> usize {
        match self {
            Self::OneBeyondThree => 1,
            Self::NineOnOneSide => 9,
            Self::SixRisingOrFalling => 6,
            Self::FourteenAlternating => 14,
            Self::TwoOfThreeBeyondTwo => 3,
            Self::FourOfFiveBeyondOne => 5,
            Self::FifteenWithinOne => 15,
            Self::EightBeyondOne => 8,
        }
    }

    /// Chance that `span` points of a steady, normal process show the pattern: exact for the normal distribution.
    fn chance(self) -> f64 {
        // Shares of a normal distribution beyond 1 and 2 standard deviations on one side, and beyond 3 on both.
        const ONE: f64 = 0.158_655_253_931_457_05;
        const TWO: f64 = 0.022_750_131_948_179_21;
        match self {
            Self::OneBeyondThree => super::BEYOND_THREE,
            Self::NineOnOneSide => 2.0 * 0.5_f64.powi(9),
            // Two of the 6! orders.
            Self::SixRisingOrFalling => 2.0 / 720.0,
            // Twice the number of alternating orders of 14, 199360981, over 14!.
            Self::FourteenAlternating => 2.0 * 199_360_981.0 / 87_178_291_200.0,
            Self::TwoOfThreeBeyondTwo => 2.0 * (3.0 * TWO * TWO * (1.0 - TWO) + TWO * TWO * TWO),
            Self::FourOfFiveBeyondOne => 2.0 * (5.0 * ONE.powi(4) * (1.0 - ONE) + ONE.powi(5)),
            Self::FifteenWithinOne => (1.0 - 2.0 * ONE).powi(15),
            Self::EightBeyondOne => (2.0 * ONE).powi(8),
        }
    }

    /// Whether the last `span` standardized points show the pattern.
    fn is_shown(self, z: &[f64]) -> bool {
        let on_one_side = |needed: usize, beyond: f64| {
            let above = z.iter().filter(|z| **z > beyond).count();
            let below = z.iter().filter(|z| **z < -beyond).count();
            above >= needed || below >= needed
        };
        let last_beyond = |beyond: f64| z.last().is_some_and(|z| z.abs() > beyond);
        let steps = || z.windows(2).map(|pair| pair[1] - pair[0]);
        match self {
            Self::OneBeyondThree => on_one_side(1, 3.0),
            Self::NineOnOneSide => on_one_side(9, 0.0),
            Self::SixRisingOrFalling => steps().all(|s| s > 0.0) || steps().all(|s| s < 0.0),
            Self::FourteenAlternating => z.windows(3).all(|t| (t[1] - t[0]) * (t[2] - t[1]) < 0.0),
            Self::TwoOfThreeBeyondTwo => on_one_side(2, 2.0) && last_beyond(2.0),
            Self::FourOfFiveBeyondOne => on_one_side(4, 1.0) && last_beyond(1.0),
            Self::FifteenWithinOne => z.iter().all(|z| z.abs() < 1.0),
            Self::EightBeyondOne => z.iter().all(|z| z.abs() > 1.0),
        }
    }
}

/// A pattern found.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct RunSignal {
    /// Which.
    pub rule: RunRule,
    /// Index of its first point.
    pub first: usize,
    /// Index of the point that completes it.
    pub last: usize,
}

/// The patterns of a series.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct RunSignals {
    /// In the order in which they were completed, then in the order of the rules.
    pub signals: Vec<RunSignal>,
    /// Cautions.
    pub warnings: Vec<Warning>,
}

/// Looks for patterns in values around `center` with standard deviation `sigma`, both from a baseline.
///
/// A pattern is reported at every point that completes it. The warning takes all looks as independent, which overstates the chance of a
/// false alarm for patterns that overlap.
///
/// # Errors
/// [`StatisticsError`] for no values, a value that is not finite, sigma not above zero, or no rules.
pub fn run_rules(values: &[f64], center: f64, sigma: f64, rules: &[RunRule]) -> Result<RunSignals> {
    check_values("values", values, 1)?;
    check_finite("center", center)?;
    check_positive("sigma", sigma)?;
    if rules.is_empty() {
        return Err(StatisticsError::TooFew {
            what: "rules",
            found: 0,
            needed: 1,
        });
    }
    let mut rules = rules.to_vec();
    rules.sort_unstable();
    rules.dedup();
    let z: Vec<f64> = values.iter().map(|v| (v - center) / sigma).collect();
    let mut signals = Vec::new();
    for last in 0..z.len() {
        for rule in &rules {
            if let Some(first) = (last + 1).checked_sub(rule.span())
                && rule.is_shown(&z[first..=last])
            {
                signals.push(RunSignal {
                    rule: *rule,
                    first,
                    last,
                });
            }
        }
    }
    Ok(RunSignals {
        signals,
        warnings: many_looks(z.len(), &rules).into_iter().collect(),
    })
}

fn many_looks(points: usize, rules: &[RunRule]) -> Option<Warning> {
    let looks_of = |rule: &RunRule| (points + 1).saturating_sub(rule.span());
    let quiet: f64 = rules
        .iter()
        .map(|rule| looks_of(rule) as f64 * libm::log1p(-rule.chance()))
        .sum();
    let looks = rules.iter().map(looks_of).sum();
    (looks > 1).then(|| Warning::ManyLooks {
        looks,
        false_alarm: -libm::expm1(quiet),
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::statistics::resample::Bootstrap;

    fn found(z: &[f64], rule: RunRule) -> Vec<(usize, usize)> {
        let signals = run_rules(z, 0.0, 1.0, &[rule]).unwrap().signals;
        signals.iter().map(|s| (s.first, s.last)).collect()
    }

    #[test]
    fn each_rule_needs_its_last_point() {
        let rising = [0.1, 0.2, 0.3, 0.4, 0.5, 0.6];
        assert_eq!(found(&rising, RunRule::SixRisingOrFalling), [(0, 5)]);
        assert_eq!(found(&rising[..5], RunRule::SixRisingOrFalling), []);
        assert_eq!(found(&[0.5; 9], RunRule::NineOnOneSide), [(0, 8)]);
        assert_eq!(found(&[0.5; 8], RunRule::NineOnOneSide), []);
        assert_eq!(
            found(&[2.5, 0.0, 2.1], RunRule::TwoOfThreeBeyondTwo),
            [(0, 2)]
        );
        assert_eq!(found(&[2.5, 0.0, -2.1], RunRule::TwoOfThreeBeyondTwo), []);
        assert_eq!(
            found(&[1.5, 1.5, 0.0, 1.5, 1.5], RunRule::FourOfFiveBeyondOne),
            [(0, 4)]
        );
        assert_eq!(found(&[0.5; 15], RunRule::FifteenWithinOne), [(0, 14)]);
        let wild: Vec<f64> = (0..8)
            .map(|i| if i % 2 == 0 { 1.5 } else { -1.5 })
            .collect();
        assert_eq!(found(&wild, RunRule::EightBeyondOne), [(0, 7)]);
        let saw: Vec<f64> = (0..14).map(|i| f64::from(i % 2)).collect();
        assert_eq!(found(&saw, RunRule::FourteenAlternating), [(0, 13)]);
        assert_eq!(
            found(&[0.0, 3.1, -3.1], RunRule::OneBeyondThree),
            [(1, 1), (2, 2)]
        );
    }

    #[test]
    fn chances_agree_with_a_simulation() {
        // Law: uniform draws turned to normal, 20 000 stretches of each rule's span.
        for rule in RunRule::ALL {
            let bootstrap = Bootstrap::seeded(29).with_resamples(20_000);
            let shown = bootstrap
                .run(
                    || vec![0.0; rule.span()],
                    |z, draws| {
                        for value in z.iter_mut() {
                            let share = (draws.below(1 << 30) as f64 + 0.5) / f64::from(1 << 30);
                            *value =
                                crate::statistics::distribution::normal_quantile(share).unwrap();
                        }
                        if matches!(
                            rule,
                            RunRule::TwoOfThreeBeyondTwo | RunRule::FourOfFiveBeyondOne
                        ) {
                            // The chance counts the pattern wherever it ends in the stretch.
                            let (needed, beyond) =
                                if rule.span() == 3 { (2, 2.0) } else { (4, 1.0) };
                            z.iter().filter(|z| **z > beyond).count() >= needed
                                || z.iter().filter(|z| **z < -beyond).count() >= needed
                        } else {
                            rule.is_shown(z)
                        }
                    },
                )
                .unwrap();
            let share = shown.iter().filter(|s| **s).count() as f64 / shown.len() as f64;
            let error = (rule.chance() / shown.len() as f64).sqrt();
            assert!(
                (share - rule.chance()).abs() < 5.0 * error,
                "{rule:?} {share} {}",
                rule.chance()
            );
        }
    }

    #[test]
    fn more_rules_cry_wolf_more_often() {
        let values: Vec<f64> = (0..30).map(|i| f64::from(i % 3) - 1.0).collect();
        let alarm =
            |rules: &[RunRule]| match run_rules(&values, 0.0, 1.0, rules).unwrap().warnings[..] {
                [Warning::ManyLooks { false_alarm, .. }] => false_alarm,
                _ => 0.0,
            };
        assert!(alarm(&RunRule::ALL) > alarm(&[RunRule::OneBeyondThree]));
        // 1 - (1 - 0.0027)^30 = 0.0779
        assert!((alarm(&[RunRule::OneBeyondThree]) - 0.0779).abs() < 1e-4);
    }

    #[test]
    fn no_rules_are_refused() {
        assert!(run_rules(&[1.0], 0.0, 1.0, &[]).is_err());
        assert!(run_rules(&[1.0], 0.0, 0.0, &RunRule::ALL).is_err());
    }
}
