//! Which numbers count as plain.

/// Between which numbers one counts as plain; both are finite.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct PlainBounds {
    pub(super) low: f64,
    pub(super) high: f64,
}

impl PlainBounds {
    /// All numbers from `low` to `high` that are finite.
    pub(crate) fn between(low: f64, high: f64) -> PlainBounds {
        PlainBounds {
            low: low.max(-f64::MAX),
            high: high.min(f64::MAX),
        }
    }

    /// Whether a number is plain.
    #[inline(always)]
    pub(crate) fn hold(self, number: f64) -> bool {
        // Both are asked, without a branch.
        (self.low <= number) & (number <= self.high)
    }
}
