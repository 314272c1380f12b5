//! A number with its unit in one field, such as `2.05 cm`.

use super::plain_number::plain_number;
use super::trade_units::trade_unit;
use crate::quantity::Unit;

/// A number and the unit written behind it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct WithUnit {
    pub(super) number: f64,
    pub(super) unit: Unit,
}

/// The number and the unit of a field; `None` for a text that is not a number with a unit.
pub(super) fn with_unit(field: &str) -> Option<WithUnit> {
    let is_start =
        |c: char| c.is_alphabetic() || matches!(c, '/' | '%' | '[' | '"' | '\u{b0}' | '\u{b5}');
    // `e` may belong to the number: the longest number is the number.
    let starts = field.char_indices().filter(|(_, c)| is_start(*c));
    for (at, _) in starts.take(2) {
        let (number, unit) = field.split_at(at);
        let Some(number) = plain_number(number.trim_end()) else {
            continue;
        };
        if let Some(unit) = trade_unit(unit) {
            return Some(WithUnit { number, unit });
        }
    }
    None
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_unit_may_follow_with_or_without_a_blank() {
        for (field, number, unit) in [
            ("2.05 cm", 2.05, "cm"),
            ("2.05cm", 2.05, "cm"),
            ("18 mmHg", 18.0, "mm[Hg]"),
            ("96/min", 96.0, "/min"),
            ("96 bpm", 96.0, "/min"),
            ("1e3 mL", 1000.0, "mL"),
            ("14 %", 14.0, "%"),
            ("-3 \u{b0}", -3.0, "deg"),
            ("70 in", 70.0, "[in_i]"),
            ("154 lbs.", 154.0, "[lb_av]"),
            ("70\"", 70.0, "[in_i]"),
            ("18 mm Hg", 18.0, "mm[Hg]"),
        ] {
            let found = with_unit(field).unwrap();
            assert_eq!((found.number, found.unit.code()), (number, unit), "{field}");
        }
        for field in [
            "",
            "cm",
            "2.05",
            "400 then 250",
            "0x14",
            "1e999 m",
            "18 furlong",
            "20 5",
        ] {
            assert_eq!(with_unit(field), None, "{field}");
        }
    }
}
