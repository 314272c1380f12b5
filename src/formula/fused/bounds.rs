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

/// The same bounds for the bits of numbers, of which one comparison tells whether they are within
/// both: how far they are above the lower bound, going round below it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct BitBounds {
    low: u64,
    /// The least distance that is out of bounds.
    end: u64,
    /// Whether there are numbers below zero within the bounds, whose bits grow the other way.
    pub(super) has_negative: bool,
}

impl BitBounds {
    pub(super) fn of(bounds: PlainBounds) -> BitBounds {
        // A bound of minus zero is one of zero.
        let (low, high) = (bounds.low + 0.0, bounds.high + 0.0);
        BitBounds {
            low: order(low),
            end: order(high).wrapping_sub(order(low)).wrapping_add(1),
            has_negative: low < 0.0,
        }
    }

    /// How far a number is above the lower bound where none below zero is within bounds; of such a
    /// one, and of minus zero, farther than the upper bound.
    #[inline(always)]
    pub(super) fn above(self, number: f64) -> u64 {
        number.to_bits().wrapping_sub(self.low)
    }

    /// How far any number is above the lower bound.
    #[inline(always)]
    pub(super) fn above_signed(self, number: f64) -> u64 {
        order(number).wrapping_sub(self.low)
    }

    /// Whether such a distance, or the greatest of several, is within the bounds.
    pub(super) fn hold(self, above: u64) -> bool {
        above < self.end
    }
}

/// Bits that, read as a number with a sign, grow with the number.
#[inline(always)]
fn order(number: f64) -> u64 {
    let bits = number.to_bits();
    let is_negative = (bits.cast_signed() >> 63).cast_unsigned();
    bits ^ (is_negative >> 1)
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn holds(bounds: BitBounds, number: f64) -> bool {
        bounds.hold(match bounds.has_negative {
            true => bounds.above_signed(number),
            false => bounds.above(number),
        })
    }

    #[test]
    fn what_is_no_finite_number_is_out_of_bounds() {
        for (low, high) in [
            (0.0, f64::INFINITY),
            (-0.0, 1.0),
            (2.0, 3.0),
            (f64::NEG_INFINITY, f64::INFINITY),
            (-3.0, -2.0),
            (-3.0, 0.0),
        ] {
            let bounds = BitBounds::of(PlainBounds::between(low, high));
            for number in [f64::INFINITY, f64::NEG_INFINITY, f64::NAN, -f64::NAN] {
                assert!(!holds(bounds, number), "{number} from {low} to {high}");
            }
        }
    }

    #[test]
    fn both_bounds_are_within_and_their_neighbors_are_not() {
        for (low, high) in [
            (0.0, 4.0),
            (1.5, 2.8),
            (-2.0, 3.0),
            (-3.0, -1.0),
            (-1.0, 0.0),
        ] {
            let bounds = BitBounds::of(PlainBounds::between(low, high));
            assert!(holds(bounds, low) && holds(bounds, high));
            assert!(!holds(bounds, low.next_down()) && !holds(bounds, high.next_up()));
        }
    }

    proptest! {
        #[test]
        fn bits_tell_the_same_as_numbers(
            a in proptest::num::f64::NORMAL | proptest::num::f64::SUBNORMAL | proptest::num::f64::ZERO,
            b in -100.0..100.0,
            c in proptest::num::f64::ANY,
        ) {
            for (x, y, z) in [(a, b, c), (b, c, a), (c, a, b), (a, b, b), (a, b, a)] {
                if x <= y {
                    let plain = PlainBounds::between(x, y);
                    let is_within = z.is_finite() && plain.low <= z && z <= plain.high;
                    let is_minus_zero = z == 0.0 && z.is_sign_negative();
                    let bounds = BitBounds::of(plain);
                    if !is_minus_zero || bounds.has_negative {
                        prop_assert_eq!(holds(bounds, z), is_within, "{} from {} to {}", z, x, y);
                    }
                }
            }
        }
    }
}
