//! The step between two units of one dimension, kept exact where the units are decimal.
//!
//! ```
//! use semilunar::quantity::Scale;
//!
//! // One millimeter is a tenth of a centimeter: dividing by ten is exact, times 0.1 is not.
//! assert_eq!(Scale::between(1e-3, 1e-2), Scale::Over(10.0));
//! assert_eq!(Scale::Over(10.0).apply(20.5), 2.05);
//! ```

/// What to do to a magnitude in one unit to get the magnitude in another.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Scale {
    /// Nothing: the units are of one size.
    Same,
    /// Multiply by this number.
    Times(f64),
    /// Divide by this number, which has the shorter decimal form.
    Over(f64),
}

/// Factors of composite units are products of a dozen roundings at most; two factors that agree
/// this closely are of one size.
const NOISE: f64 = 2e-15;

impl Scale {
    /// From a unit of `from` coherent units to one of `to` coherent units.
    pub fn between(from: f64, to: f64) -> Scale {
        let (up, down) = (from / to, to / from);
        match (clean(up), clean(down)) {
            (Some(1.0), _) => Scale::Same,
            (Some(times), _) if times >= 1.0 => Scale::Times(times),
            (_, Some(over)) if over >= 1.0 => Scale::Over(over),
            (Some(times), _) => Scale::Times(times),
            (_, Some(over)) => Scale::Over(over),
            (None, None) => Scale::Times(up),
        }
    }

    /// The magnitude in the other unit.
    #[inline]
    pub fn apply(self, magnitude: f64) -> f64 {
        match self {
            Scale::Same => magnitude,
            Scale::Times(factor) => magnitude * factor,
            Scale::Over(divisor) => magnitude / divisor,
        }
    }

    /// The magnitude in the first unit, from one in the other.
    pub fn undo(self, magnitude: f64) -> f64 {
        match self {
            Scale::Same => magnitude,
            Scale::Times(factor) => magnitude / factor,
            Scale::Over(divisor) => magnitude * divisor,
        }
    }
}

/// A number to 15 digits, without the rounding of a conversion: 0.21, where 2.1 mm come to
/// 0.21000000000000002 cm.
pub(crate) fn without_rounding(value: f64) -> f64 {
    format!("{value:.14e}").parse().unwrap_or(value)
}

/// The decimal of at most twelve digits that `x` is but for rounding noise.
fn clean(x: f64) -> Option<f64> {
    let rounded: f64 = format!("{x:.11e}").parse().ok()?;
    ((rounded - x).abs() <= NOISE * x.abs()).then_some(rounded)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sixty_is_found_in_its_reciprocal() {
        assert_eq!(Scale::between(1.0, 1.0 / 60.0), Scale::Times(60.0));
        assert_eq!(Scale::between(1.0 / 60.0, 1.0), Scale::Over(60.0));
    }

    #[test]
    fn a_factor_that_is_no_short_decimal_is_left_alone() {
        let turn = std::f64::consts::TAU;
        assert_eq!(Scale::between(turn, 1.0), Scale::Times(turn));
    }

    #[test]
    fn conversions_do_not_show_their_rounding() {
        assert_eq!(without_rounding(2.0500000000000003), 2.05);
        assert_eq!(without_rounding(-0.1 - 0.2), -0.3);
        assert_eq!(without_rounding(0.0), 0.0);
    }

    #[test]
    fn undo_is_the_way_back() {
        for scale in [Scale::Same, Scale::Times(60.0), Scale::Over(10.0)] {
            assert_eq!(scale.undo(scale.apply(7.25)), 7.25);
        }
    }
}
