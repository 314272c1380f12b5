//! What a reader must know beside a result: small numbers, many looks, shaky assumptions.

use std::fmt;

/// A caution that travels with a result. It never changes a number.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub enum Warning {
    /// Fewer observations than a large-sample formula wants.
    FewObservations {
        /// What was counted.
        what: &'static str,
        /// How many there are.
        found: usize,
        /// How many are advised (common practice, no source, unless the function says otherwise).
        advised: usize,
    },
    /// Several looks at one level: at least one false alarm becomes likely.
    ManyLooks {
        /// How many looks (tests, groups, points times rules).
        looks: usize,
        /// Chance of at least one false alarm if nothing is there and the looks are independent.
        false_alarm: f64,
    },
    /// A threshold was chosen and judged on the same observations.
    ChosenOnSameData,
    /// The classes do not overlap; the large-sample variance is zero and says nothing.
    PerfectSeparation,
    /// Several thresholds share the best value.
    TiedThresholds {
        /// How many.
        count: usize,
    },
    /// Some resamples had no value and were left out.
    UnusableResamples {
        /// Resamples without a value.
        unusable: usize,
        /// Resamples drawn.
        resamples: usize,
    },
    /// The bootstrap distribution of a threshold chosen at a maximum converges slowly; its interval is a guide.
    IrregularBootstrap,
    /// The demanded property is met here but fails again at a more extreme threshold.
    NotMonotone {
        /// The property.
        what: &'static str,
    },
    /// A cell of a two-by-two table is zero, so a ratio has no interval.
    ZeroCell {
        /// The ratio.
        what: &'static str,
    },
    /// Predictive values hold only where the condition is as frequent as here.
    PrevalenceOfSample {
        /// Share of positives in the sample.
        prevalence: f64,
    },
    /// A fitted parameter lies outside the observed range.
    BeyondData {
        /// The parameter.
        what: &'static str,
        /// Its value.
        value: f64,
        /// The largest observed value.
        largest: f64,
    },
    /// Differences depend on the magnitude: limits that ignore it mislead.
    ProportionalBias {
        /// Slope of difference on mean.
        slope: f64,
        /// Its p value.
        p_value: f64,
    },
    /// A variance component came out negative and was set to zero.
    NegativeComponent {
        /// The component.
        what: &'static str,
    },
    /// An approximation that holds badly here.
    WeakApproximation {
        /// Which, and why.
        what: &'static str,
    },
    /// A share of the observations was excluded.
    Excluded {
        /// Left out.
        excluded: usize,
        /// Of how many.
        of: usize,
    },
    /// Observations of one patient were treated as independent or are so few patients that clusters matter.
    Repeated {
        /// Observations.
        observations: usize,
        /// Distinct patients.
        patients: usize,
    },
}

impl fmt::Display for Warning {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::FewObservations {
                what,
                found,
                advised,
            } => {
                write!(
                    f,
                    "only {found} {what}: fewer than {advised}, so the interval is a rough guide"
                )
            }
            Self::ManyLooks { looks, false_alarm } => write!(
                f,
                "{looks} looks: the chance of at least one false alarm is about {:.0} %",
                100.0 * false_alarm
            ),
            Self::ChosenOnSameData => {
                write!(
                    f,
                    "the threshold was chosen on the same data, which flatters its accuracy"
                )
            }
            Self::PerfectSeparation => write!(
                f,
                "the classes do not overlap here, so the large-sample variance is zero and gives no interval"
            ),
            Self::TiedThresholds { count } => write!(f, "{count} thresholds share the best value"),
            Self::UnusableResamples {
                unusable,
                resamples,
            } => {
                write!(
                    f,
                    "{unusable} of {resamples} resamples had no value and were left out"
                )
            }
            Self::IrregularBootstrap => write!(
                f,
                "a threshold at a maximum converges slowly: its bootstrap interval is a guide"
            ),
            Self::NotMonotone { what } => {
                write!(
                    f,
                    "{what} is met at this threshold but fails again further out"
                )
            }
            Self::ZeroCell { what } => {
                write!(f, "{what} has no interval: a cell of the table is zero")
            }
            Self::PrevalenceOfSample { prevalence } => write!(
                f,
                "predictive values hold where {:.0} % are positive, as in this sample",
                100.0 * prevalence
            ),
            Self::BeyondData {
                what,
                value,
                largest,
            } => write!(
                f,
                "{what} {value} lies beyond the largest observation {largest}: it is extrapolated"
            ),
            Self::ProportionalBias { slope, p_value } => write!(
                f,
                "differences change with magnitude (slope {slope}, p = {p_value:.3}): constant limits mislead"
            ),
            Self::NegativeComponent { what } => write!(
                f,
                "the {what} variance came out negative and was set to zero"
            ),
            Self::WeakApproximation { what } => write!(f, "{what}"),
            Self::Excluded { excluded, of } => write!(f, "{excluded} of {of} were excluded"),
            Self::Repeated {
                observations,
                patients,
            } => write!(
                f,
                "{observations} observations come from {patients} patients and are not independent"
            ),
        }
    }
}

impl Warning {
    /// Chance of at least one false alarm among `looks` independent looks of false-alarm rate `rate`, `1 - (1 - rate)^looks`; `None`
    /// for a single look.
    pub fn many_looks(looks: usize, rate: f64) -> Option<Self> {
        (looks > 1).then(|| Self::ManyLooks {
            looks,
            false_alarm: -libm::expm1(looks as f64 * libm::log1p(-rate)),
        })
    }
}

/// Adds a [`Warning::FewObservations`] when `found` is under `advised`.
pub(super) fn warn_few(
    warnings: &mut Vec<Warning>,
    what: &'static str,
    found: usize,
    advised: usize,
) {
    if found < advised {
        warnings.push(Warning::FewObservations {
            what,
            found,
            advised,
        });
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn small_numbers_are_said_in_words() {
        let mut warnings = Vec::new();
        warn_few(&mut warnings, "positives", 6, 10);
        assert_eq!(
            warnings[0].to_string(),
            "only 6 positives: fewer than 10, so the interval is a rough guide"
        );
        warn_few(&mut warnings, "positives", 10, 10);
        assert_eq!(warnings.len(), 1);
    }

    #[test]
    fn twenty_looks_at_five_per_cent_are_said_to_be_64() {
        // 1 - 0.95^20 = 0.6415
        let warning = Warning::many_looks(20, 0.05).unwrap();
        assert_eq!(
            warning.to_string(),
            "20 looks: the chance of at least one false alarm is about 64 %"
        );
        assert_eq!(Warning::many_looks(1, 0.05), None);
    }
}
