//! Which numbers count as plain.

/// Between which numbers one counts as plain; both are finite.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct PlainBounds {
    pub(crate) low: f64,
    pub(crate) high: f64,
}

impl PlainBounds {
    /// All numbers from `low` to `high` that are finite.
    pub(crate) fn between(low: f64, high: f64) -> PlainBounds {
        PlainBounds {
            low: low.max(-f64::MAX),
            high: high.min(f64::MAX),
        }
    }
}
