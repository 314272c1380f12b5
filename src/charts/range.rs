//! What an axis spans.

/// What an axis spans; low below high.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Range {
    pub low: f64,
    pub high: f64,
}

impl Range {
    /// The span of finite values, or `None` without any.
    pub fn of(values: impl IntoIterator<Item = f64>) -> Option<Range> {
        values
            .into_iter()
            .filter(|v| v.is_finite())
            .fold(None, |range: Option<Range>, v| {
                Some(range.map_or(Range { low: v, high: v }, |r| r.including(v)))
            })
    }

    pub fn including(self, value: f64) -> Range {
        Range {
            low: self.low.min(value),
            high: self.high.max(value),
        }
    }

    /// The value itself, or the end it lies beyond.
    pub fn nearest(self, value: f64) -> f64 {
        value.max(self.low).min(self.high)
    }

    pub fn span(self) -> f64 {
        self.high - self.low
    }

    /// No wider than rounding errors: nothing to scale by.
    fn is_flat(self) -> bool {
        let size = self.low.abs().max(self.high.abs());
        self.span() <= size * 1e-11 || self.span() < 1e-150
    }

    /// Room on both sides as a share of the span; a flat range is opened around its value.
    pub fn padded(self, share: f64) -> Range {
        if self.is_flat() {
            let half = if self.low.abs() < 1e-150 {
                1.0
            } else {
                self.low.abs() * 0.1
            };
            return Range {
                low: self.low - half,
                high: self.high + half,
            };
        }
        let room = self.span() * share;
        Range {
            low: self.low - room,
            high: self.high + room,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_flat_range_is_opened_around_its_value() {
        assert_eq!(
            Range {
                low: 0.0,
                high: 0.0
            }
            .padded(0.05),
            Range {
                low: -1.0,
                high: 1.0
            }
        );
        let range = Range {
            low: 50.0,
            high: 50.0,
        }
        .padded(0.05);
        assert_eq!(
            range,
            Range {
                low: 45.0,
                high: 55.0
            }
        );
        assert!(
            Range {
                low: 1e9,
                high: 1e9 + 1e-6
            }
            .padded(0.05)
            .span()
                > 1e8
        );
    }
}
