//! Dimensions: what a magnitude is a magnitude of, as exponents of base quantities.

use std::fmt;

/// Symbols of the base units, in the order of the exponents (the order UCUM uses).
const BASE: [&str; 7] = ["m", "s", "g", "rad", "K", "C", "cd"];

/// Exponents of length, time, mass, plane angle, temperature, electric charge and luminous
/// intensity. Plane angle is a base quantity, as in UCUM: an angle is not a bare number.
///
/// ```
/// use semilunar::quantity::Dimension;
///
/// let area = Dimension::LENGTH.times(Dimension::LENGTH).unwrap();
/// assert_eq!(area, Dimension::LENGTH.power(2).unwrap());
/// assert_eq!(area.root(), Some(Dimension::LENGTH));
/// assert_eq!(area.to_string(), "m2");
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, Default)]
pub struct Dimension([i8; 7]);

impl Dimension {
    /// A bare number.
    pub const NONE: Self = Self([0; 7]);
    /// Length.
    pub const LENGTH: Self = Self([1, 0, 0, 0, 0, 0, 0]);
    /// Time.
    pub const TIME: Self = Self([0, 1, 0, 0, 0, 0, 0]);
    /// Mass.
    pub const MASS: Self = Self([0, 0, 1, 0, 0, 0, 0]);
    /// Plane angle.
    pub const ANGLE: Self = Self([0, 0, 0, 1, 0, 0, 0]);

    /// A dimension from its exponents, in the order of the type's description.
    pub const fn from_exponents(exponents: [i8; 7]) -> Self {
        Self(exponents)
    }

    /// The exponents, in the order of the type's description.
    pub const fn exponents(self) -> [i8; 7] {
        self.0
    }

    /// Whether this is a bare number.
    pub fn is_none(self) -> bool {
        self == Self::NONE
    }

    /// The dimension of a product; `None` where an exponent leaves −128 to 127.
    pub fn times(self, other: Self) -> Option<Self> {
        self.zip(other, i8::checked_add)
    }

    /// The dimension of a quotient; `None` where an exponent leaves −128 to 127.
    pub fn over(self, other: Self) -> Option<Self> {
        self.zip(other, i8::checked_sub)
    }

    /// The dimension of a whole power; `None` where an exponent leaves −128 to 127.
    pub fn power(self, exponent: i32) -> Option<Self> {
        let mut out = [0; 7];
        for (o, e) in out.iter_mut().zip(self.0) {
            *o = i8::try_from(i32::from(e).checked_mul(exponent)?).ok()?;
        }
        Some(Self(out))
    }

    /// The dimension of a square root; `None` where an exponent is odd.
    pub fn root(self) -> Option<Self> {
        if self.0.iter().any(|e| e % 2 != 0) {
            return None;
        }
        Some(Self(self.0.map(|e| e / 2)))
    }

    fn zip(self, other: Self, f: fn(i8, i8) -> Option<i8>) -> Option<Self> {
        let mut out = [0; 7];
        for (o, (a, b)) in out.iter_mut().zip(self.0.into_iter().zip(other.0)) {
            *o = f(a, b)?;
        }
        Some(Self(out))
    }

    /// UCUM text of a coherent unit of this dimension, with the kilogram for mass.
    pub fn coherent_unit(self) -> String {
        let part = |negative: bool| {
            BASE.iter()
                .zip(self.0)
                .filter(|(_, e)| *e != 0 && (*e < 0) == negative)
                .map(|(symbol, e)| {
                    let symbol = if *symbol == "g" { "kg" } else { symbol };
                    match e.unsigned_abs() {
                        1 => symbol.to_owned(),
                        n => format!("{symbol}{n}"),
                    }
                })
                .collect::<Vec<_>>()
        };
        let (over, under) = (part(false), part(true));
        let mut text = match over.is_empty() {
            true => "1".to_owned(),
            false => over.join("."),
        };
        for unit in under {
            text.push('/');
            text.push_str(&unit);
        }
        text
    }
}

impl fmt::Display for Dimension {
    /// The product of base units that has this dimension, `1` for a bare number.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let parts: Vec<String> = BASE
            .iter()
            .zip(self.0)
            .filter(|(_, e)| *e != 0)
            .map(|(symbol, e)| match e {
                1 => (*symbol).to_owned(),
                e => format!("{symbol}{e}"),
            })
            .collect();
        if parts.is_empty() {
            f.write_str("1")
        } else {
            f.write_str(&parts.join("."))
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn small() -> impl Strategy<Value = Dimension> {
        prop::array::uniform7(-6i8..=6).prop_map(Dimension)
    }

    proptest! {
        #[test]
        fn products_form_a_commutative_group(a in small(), b in small(), c in small()) {
            let t = |x: Dimension, y| x.times(y).unwrap();
            prop_assert_eq!(t(a, b), t(b, a));
            prop_assert_eq!(t(t(a, b), c), t(a, t(b, c)));
            prop_assert_eq!(t(a, Dimension::NONE), a);
            prop_assert_eq!(a.over(a).unwrap(), Dimension::NONE);
            prop_assert_eq!(t(a.over(b).unwrap(), b), a);
        }

        #[test]
        fn powers_are_repeated_products(a in small(), n in 0i32..6) {
            let repeated = (0..n).try_fold(Dimension::NONE, |acc, _| acc.times(a)).unwrap();
            prop_assert_eq!(a.power(n).unwrap(), repeated);
            prop_assert_eq!(a.power(-n).unwrap(), Dimension::NONE.over(repeated).unwrap());
        }

        #[test]
        fn a_root_is_undone_by_a_square(a in small()) {
            prop_assert_eq!(a.power(2).unwrap().root(), Some(a));
        }

        #[test]
        fn the_coherent_unit_has_the_dimension(a in small()) {
            let unit = crate::quantity::Unit::parse(&a.coherent_unit()).unwrap();
            prop_assert_eq!(unit.dimension(), a);
        }
    }

    #[test]
    fn exponents_out_of_range_are_reported_not_wrapped() {
        let high = Dimension::LENGTH.power(127).unwrap();
        assert_eq!(high.times(Dimension::LENGTH), None);
        assert_eq!(Dimension::LENGTH.power(1000), None);
        assert_eq!(Dimension::LENGTH.power(3).unwrap().root(), None);
    }
}
