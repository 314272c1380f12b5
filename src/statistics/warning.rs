//! What a reader must know beside a result: small numbers, many looks, shaky assumptions.

use super::interval::Interval;
use super::response::Line;
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
    /// So few of a class that each one is much of the sensitivity, or of the specificity.
    FewOfClass {
        /// What was counted.
        what: &'static str,
        /// The share that they make up.
        share: &'static str,
        /// How many there are.
        found: usize,
        /// How many are advised: 20, of which each is 5 % of the share (common practice, no source).
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
        /// Its interval.
        interval: Interval,
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
                    "only {}: fewer than {advised}, so the result is a rough guide",
                    counted(*found, what)
                )
            }
            Self::FewOfClass {
                what,
                share,
                found,
                advised,
            } => write!(
                f,
                "only {}: fewer than {advised}, and each one is {:.0} % of the {share}, so the interval is a rough guide",
                counted(*found, what),
                100.0 / *found as f64
            ),
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
                "{what} {} lies beyond the largest observation {}: it is extrapolated",
                in_three_digits(*value),
                in_three_digits(*largest)
            ),
            Self::ProportionalBias {
                slope,
                interval,
                p_value,
            } => {
                let digits = decimals(interval.width() / 4.0, 2);
                let rounded = |value: f64| as_written(format!("{value:.digits$}"));
                write!(
                    f,
                    "differences change with magnitude (slope {}, {:.0} % interval {} to {}, {}): constant limits mislead",
                    rounded(*slope),
                    100.0 * interval.level,
                    rounded(interval.lower),
                    rounded(interval.upper),
                    match *p_value < 0.001 {
                        true => "p < 0.001".to_owned(),
                        false => format!("p = {p_value:.3}"),
                    }
                )
            }
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
    /// That differences depend on the magnitude, where the p value of a line's slope is under 0.05.
    pub fn proportional_bias(line: &Line) -> Option<Self> {
        let p_value = line.slope.p_value.filter(|p| *p < 0.05)?;
        Some(Self::ProportionalBias {
            slope: line.slope.value,
            interval: line.slope.interval,
            p_value,
        })
    }

    /// Chance of at least one false alarm among `looks` independent looks of false-alarm rate `rate`, `1 - (1 - rate)^looks`; `None`
    /// for a single look.
    pub fn many_looks(looks: usize, rate: f64) -> Option<Self> {
        (looks > 1).then(|| Self::ManyLooks {
            looks,
            false_alarm: -libm::expm1(looks as f64 * libm::log1p(-rate)),
        })
    }
}

/// `1 patient with a positive`, `2 patients with a positive`: the first word of what is counted stands in the plural.
fn counted(found: usize, what: &str) -> String {
    let first = what.split(' ').next().unwrap_or(what);
    match (found, first.strip_suffix('s')) {
        (1, Some(one)) => format!("1 {one}{}", &what[first.len()..]),
        _ => format!("{found} {what}"),
    }
}

/// Decimals that show so many digits of a number above zero.
fn decimals(size: f64, digits: i32) -> usize {
    let first = size.abs().log10().floor();
    match first.is_finite() {
        true => (f64::from(digits) - 1.0 - first).clamp(0.0, 12.0) as usize,
        false => 0,
    }
}

fn in_three_digits(value: f64) -> String {
    let digits = decimals(value, 3);
    as_written(format!("{value:.digits$}"))
}

/// With the sign that stands before numbers elsewhere.
fn as_written(figure: String) -> String {
    figure.replace('-', "−")
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

/// Fewest of a class that are not warned of.
const ADVISED_OF_CLASS: usize = 20;

/// Adds a [`Warning::FewOfClass`] for positives, and for negatives, that are under 20.
pub(super) fn warn_few_of_each(
    warnings: &mut Vec<Warning>,
    [(of_positives, positives), (of_negatives, negatives)]: [(&'static str, usize); 2],
) {
    let classes = [
        (of_positives, "sensitivity", positives),
        (of_negatives, "specificity", negatives),
    ];
    for (what, share, found) in classes {
        if found < ADVISED_OF_CLASS {
            warnings.push(Warning::FewOfClass {
                what,
                share,
                found,
                advised: ADVISED_OF_CLASS,
            });
        }
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
            "only 6 positives: fewer than 10, so the result is a rough guide"
        );
        warn_few(&mut warnings, "positives", 10, 10);
        assert_eq!(warnings.len(), 1);
        warn_few(
            &mut warnings,
            "exams of the operator with the fewest",
            1,
            10,
        );
        assert!(
            warnings[1]
                .to_string()
                .starts_with("only 1 exam of the operator with the fewest: ")
        );
    }

    #[test]
    fn few_of_a_class_are_said_with_what_each_one_moves() {
        let mut warnings = Vec::new();
        warn_few_of_each(&mut warnings, [("positives", 12), ("negatives", 20)]);
        assert_eq!(warnings.len(), 1);
        assert_eq!(
            warnings[0].to_string(),
            "only 12 positives: fewer than 20, and each one is 8 % of the sensitivity, so the interval is a rough guide"
        );
    }

    #[test]
    fn numbers_in_cautions_have_no_more_digits_than_they_bear() {
        let interval = Interval {
            lower: 0.006_12,
            upper: 0.130_64,
            level: 0.95,
        };
        let bias = Warning::ProportionalBias {
            slope: 0.068_382_123_219_308_59,
            interval,
            p_value: 0.0324,
        };
        assert_eq!(
            bias.to_string(),
            "differences change with magnitude (slope 0.068, 95 % interval 0.006 to 0.131, p = 0.032): constant limits mislead"
        );
        let beyond = Warning::BeyondData {
            what: "half dose",
            value: 1234.567,
            largest: 0.054_321,
        };
        assert_eq!(
            beyond.to_string(),
            "half dose 1235 lies beyond the largest observation 0.0543: it is extrapolated"
        );
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
