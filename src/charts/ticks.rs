//! Round numbers along an axis, as many as fit.

use super::number;
use super::range::Range;

/// A labeled place on an axis.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Tick {
    pub value: f64,
    pub label: String,
}

/// A step of 1, 2 or 5 times a power of ten.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Step {
    mantissa: u8,
    exponent: i32,
}

impl Step {
    /// The smallest step that is not below `width`.
    pub fn at_least(width: f64) -> Step {
        let exponent = width.log10().floor() as i32;
        let mut step = Step {
            mantissa: 1,
            exponent,
        };
        while step.width() < width * (1.0 - 1e-9) {
            step = step.next();
        }
        step
    }

    fn next(self) -> Step {
        match self.mantissa {
            1 => Step {
                mantissa: 2,
                ..self
            },
            2 => Step {
                mantissa: 5,
                ..self
            },
            _ => Step {
                mantissa: 1,
                exponent: self.exponent + 1,
            },
        }
    }

    pub fn width(self) -> f64 {
        self.times(1.0)
    }

    /// A multiple of the step; negative powers divide, so that 3 × 0.1 is 0.3 exactly.
    pub fn times(self, count: f64) -> f64 {
        let whole = count * f64::from(self.mantissa);
        if self.exponent < 0 {
            whole / 10f64.powi(-self.exponent)
        } else {
            whole * 10f64.powi(self.exponent)
        }
    }

    /// Which multiple of the step lies at or just below a value, so that the multiples themselves count as at.
    pub fn position(self, value: f64) -> f64 {
        let guess = (value / self.width()).floor();
        if value >= self.times(guess + 1.0) {
            guess + 1.0
        } else if value < self.times(guess) {
            guess - 1.0
        } else {
            guess
        }
    }

    fn ticks(self, range: Range) -> Vec<Tick> {
        let first = (range.low / self.width() - 1e-9).ceil();
        let last = (range.high / self.width() + 1e-9).floor();
        let count = (last - first).max(-1.0) as i64 + 1;
        let values: Vec<f64> = (0..count).map(|i| self.times(first + i as f64)).collect();
        let label = self.labeler(&values);
        values
            .iter()
            .map(|&value| Tick {
                value,
                label: label(value),
            })
            .collect()
    }

    /// All labels of an axis have one form.
    fn labeler(self, values: &[f64]) -> impl Fn(f64) -> String {
        let largest = values.iter().fold(0.0_f64, |m, v| m.max(v.abs()));
        let top = if largest > 0.0 {
            largest.log10().floor() as i32
        } else {
            0
        };
        let powers = largest > 0.0 && !(-4..7).contains(&top);
        let decimals = (-self.exponent).max(0) as usize;
        let mantissa_decimals = (top - self.exponent).max(0) as usize;
        move |value| {
            if !powers {
                number::fixed(value, decimals)
            } else if value == 0.0 {
                "0".into()
            } else {
                // Divided twice where one power of ten would leave the range of a double.
                let half = top / 2;
                let mantissa = value / 10f64.powi(half) / 10f64.powi(top - half);
                number::power(&number::fixed(mantissa, mantissa_decimals), top)
            }
        }
    }
}

/// How ticks are chosen.
#[derive(Debug, Clone, Copy)]
pub(super) struct TickRule {
    /// At most so many.
    pub most: usize,
    /// Whole numbers only, for counts.
    pub whole: bool,
}

/// The finest round ticks inside the range that are not too many and fit. Where none of these has two ticks, the
/// coarsest that fit at all; one tick always does.
pub(super) fn ticks(range: Range, rule: TickRule, fits: impl Fn(&[Tick]) -> bool) -> Vec<Tick> {
    let mut step = Step::at_least(range.span() / (rule.most.max(2) + 1) as f64);
    if rule.whole && step.exponent < 0 {
        step = Step {
            mantissa: 1,
            exponent: 0,
        };
    }
    let mut best: Option<Vec<Tick>> = None;
    loop {
        let ticks = step.ticks(range);
        if ticks.len() < 2 {
            return best.unwrap_or(ticks);
        }
        if fits(&ticks) {
            if ticks.len() <= rule.most {
                return ticks;
            }
            best = Some(ticks);
        }
        step = step.next();
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const ANY: TickRule = TickRule {
        most: 6,
        whole: false,
    };

    fn labels(low: f64, high: f64) -> Vec<String> {
        ticks(Range { low, high }, ANY, |_| true)
            .into_iter()
            .map(|t| t.label)
            .collect()
    }

    #[test]
    fn ticks_are_round_and_share_one_form() {
        assert_eq!(labels(0.0, 1.0), ["0.0", "0.2", "0.4", "0.6", "0.8", "1.0"]);
        assert_eq!(labels(-12.0, 31.0), ["−10", "0", "10", "20", "30"]);
        assert_eq!(
            labels(0.0, 52_000.0),
            [
                "0",
                "10\u{202f}000",
                "20\u{202f}000",
                "30\u{202f}000",
                "40\u{202f}000",
                "50\u{202f}000"
            ]
        );
        assert_eq!(
            labels(0.0, 2.1e8),
            ["0", "0.5×10⁸", "1.0×10⁸", "1.5×10⁸", "2.0×10⁸"]
        );
        assert_eq!(labels(0.0, 3.1e-7), ["0", "1×10⁻⁷", "2×10⁻⁷", "3×10⁻⁷"]);
    }

    #[test]
    fn a_tick_is_the_decimal_it_shows() {
        let values: Vec<f64> = ticks(
            Range {
                low: 0.05,
                high: 0.42,
            },
            ANY,
            |_| true,
        )
        .into_iter()
        .map(|t| t.value)
        .collect();
        assert_eq!(values, [0.1, 0.2, 0.3, 0.4]);
    }

    #[test]
    fn labels_that_do_not_fit_give_way_to_a_coarser_step() {
        let found = ticks(
            Range {
                low: 0.0,
                high: 100.0,
            },
            ANY,
            |ticks| ticks.len() <= 3,
        );
        assert_eq!(
            found.iter().map(|t| t.value).collect::<Vec<_>>(),
            [0.0, 50.0, 100.0]
        );
        assert_eq!(
            ticks(
                Range {
                    low: 0.0,
                    high: 100.0
                },
                ANY,
                |ticks| ticks.len() <= 1
            )
            .len(),
            1
        );
    }

    #[test]
    fn counts_have_whole_ticks() {
        let rule = TickRule {
            most: 8,
            whole: true,
        };
        let found = ticks(
            Range {
                low: 0.0,
                high: 2.2,
            },
            rule,
            |_| true,
        );
        assert_eq!(
            found.iter().map(|t| t.label.as_str()).collect::<Vec<_>>(),
            ["0", "1", "2"]
        );
    }

    #[test]
    fn extreme_ranges_end_and_stay_finite() {
        for (low, high) in [
            (-1e150, 1e150),
            (1e-150, 3e-150),
            (1e15, 1e15 + 1e5),
            (-5e-324, 1.0),
        ] {
            let range = Range { low, high }.padded(0.04);
            let found = ticks(range, ANY, |_| true);
            assert!((1..=7).contains(&found.len()), "{found:?}");
            assert!(
                found
                    .iter()
                    .all(|t| t.value.is_finite() && !t.label.contains("NaN"))
            );
        }
    }
}
