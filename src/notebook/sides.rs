//! On which side of a line a value lies, by one rule for conditions, counts, groups and sentences: a value that differs from the line only by
//! rounding lies on it, and what lies on it is neither above nor below.

use crate::formula::COMPARISON_TOLERANCE;

pub(super) fn is_above(value: f64, line: f64) -> bool {
    value > line && !is_near(value, line)
}

pub(super) fn is_below(value: f64, line: f64) -> bool {
    value < line && !is_near(value, line)
}

/// Whether a change goes beyond a line: above it for zero or more, below it for less.
pub(super) fn is_beyond(change: f64, line: f64) -> bool {
    match line < 0.0 {
        true => is_below(change, line),
        false => is_above(change, line),
    }
}

/// Equal within 1e-9 of the greater, as in the notation.
fn is_near(a: f64, b: f64) -> bool {
    (a - b).abs() <= COMPARISON_TOLERANCE * a.abs().max(b.abs())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_differs_by_rounding_lies_on_the_line() {
        // 15 % of a VTI of 10 cm, as 64 bits compute it: above and below 15 by rounding alone.
        for rounded in [15.000000000000002, 14.999999999999991] {
            assert!(!is_above(rounded, 15.0) && !is_below(rounded, 15.0));
            assert!(!is_beyond(-rounded, -15.0));
        }
        assert!(is_beyond(15.001, 15.0) && is_beyond(-15.001, -15.0));
        assert!(!is_beyond(-15.001, 15.0) && is_beyond(0.1, 0.0) && !is_beyond(0.0, 0.0));
    }
}
