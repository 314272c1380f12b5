//! Figures for people: as many digits as the number bears, and pretty units.

use crate::quantity::Unit;

/// A number for a person: three significant digits or whole units, two below one, at most one
/// trailing zero, and a real minus sign. The reading may have had fewer digits or more.
///
/// ```
/// use semilunar::sheet::figure;
///
/// assert_eq!(figure(62.83185307), "62.8");
/// assert_eq!(figure(1606.575), "1607");
/// assert_eq!(figure(-0.0421), "−0.042");
/// assert_eq!(figure(2.0), "2.0");
/// ```
pub fn figure(value: f64) -> String {
    let size = value.abs();
    let text = if size == 0.0 {
        "0".to_owned()
    } else if !(1e-4..1e7).contains(&size) {
        format!("{value:.2e}")
    } else {
        let decimals = match size {
            s if s >= 200.0 => 0,
            s if s >= 1.0 => 2usize.saturating_sub(s.log10().floor() as usize).max(1),
            s => 2 + (-s.log10().floor()) as usize - 1,
        };
        let decimals = if (1.0..10.0).contains(&size) {
            2
        } else {
            decimals
        };
        let fixed = format!("{value:.decimals$}");
        trimmed(&fixed)
    };
    text.replace('-', "−")
}

/// At most one trailing zero after the point says that the digit was looked at.
fn trimmed(fixed: &str) -> String {
    match fixed.strip_suffix('0') {
        Some(shorter) if fixed.contains('.') && !shorter.ends_with('.') => shorter.to_owned(),
        _ => fixed.to_owned(),
    }
}

/// A number with its unit for a person.
pub fn figure_with_unit(value: f64, unit: Unit) -> String {
    join_unit(&figure(value), unit)
}

/// A figure and its unit, spaced as the unit wants it.
pub fn join_unit(figure: &str, unit: Unit) -> String {
    match unit.pretty() {
        "" => figure.to_owned(),
        "°" => format!("{figure}°"),
        pretty => format!("{figure} {pretty}"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn digits_follow_the_size() {
        for (value, text) in [
            (0.0, "0"),
            (4.3982297, "4.4"),
            (2.43035, "2.43"),
            (62.831853, "62.8"),
            (104.26, "104.3"),
            (1606.575, "1607"),
            (0.9107, "0.91"),
            (1.5725, "1.57"),
            (170.0, "170.0"),
            (96.0, "96.0"),
        ] {
            assert_eq!(figure(value), text);
        }
    }
}
