//! Rounding: numbers to the place that their uncertainty gives them.

use super::linear::Propagated;
use crate::sheet::figure;

/// A value and its standard uncertainty, rounded together: two significant digits of the
/// uncertainty, and the value to the same place.
///
/// ```
/// use semilunar::uncertainty::value_and_uncertainty;
///
/// assert_eq!(value_and_uncertainty(62.83185, 7.0248), ["62.8", "7.0"]);
/// assert_eq!(value_and_uncertainty(1606.575, 182.3), ["1610", "180"]);
/// assert_eq!(value_and_uncertainty(3.4e38, 1.28e37), ["3.40e38", "1.3e37"]);
/// assert_eq!(value_and_uncertainty(2.5e-9, 1.2e-10), ["2.50e−9", "1.2e−10"]);
/// assert_eq!(value_and_uncertainty(-0.001, 0.58), ["0.00", "0.58"]);
/// ```
pub fn value_and_uncertainty(value: f64, standard: f64) -> [String; 2] {
    match has_place(standard) {
        true => to_place_of(standard, [value, standard]),
        false => [figure(value), "0".into()],
    }
}

/// Numbers of one result, such as the ends of its coverage interval, to the place that its
/// standard uncertainty is rounded to (JCGM 100:2008, 7.2.6); to three significant digits where it
/// is zero or not finite.
///
/// ```
/// use semilunar::uncertainty::to_place_of;
///
/// // JCGM 100:2008, H.1: 50 000 838 nm with u = 32 nm.
/// assert_eq!(to_place_of(32.0, [50_000_745.1, 50_000_930.9]), ["50000745", "50000931"]);
/// assert_eq!(to_place_of(7.6, [0.0653, 29.9]), ["0.1", "29.9"]);
/// ```
pub fn to_place_of<const N: usize>(standard: f64, numbers: [f64; N]) -> [String; N] {
    if !has_place(standard) {
        return numbers.map(figure);
    }
    let exponent = power_of_ten(&format!("{standard:.1e}"));
    let is_far = |x: &f64| x.abs() >= 10f64.powi(FARTHEST);
    if !(-FARTHEST..FARTHEST).contains(&exponent) || numbers.iter().any(is_far) {
        return numbers.map(|x| far(x, exponent - 1));
    }
    let decimals = 1 - exponent;
    let rounded = |x: f64| match usize::try_from(decimals) {
        Ok(decimals) => format!("{x:.decimals$}"),
        Err(_) => {
            let step = 10f64.powi(-decimals);
            format!("{:.0}", (x / step).round() * step)
        }
    };
    let is_small = exponent < SMALLEST;
    numbers.map(|x| match is_small && x.abs() < 10f64.powi(SMALLEST) {
        true => far(x, exponent - 1),
        false => unsigned_zero(rounded(x)).replace('-', "−"),
    })
}

/// The ends of a coverage interval.
pub(crate) fn interval_figures(found: &Propagated) -> [String; 2] {
    to_place_of(found.standard, [found.coverage.low, found.coverage.high])
}

fn has_place(standard: f64) -> bool {
    standard > 0.0 && standard.is_finite()
}

/// Rounded to nothing, a number has no sign.
fn unsigned_zero(text: String) -> String {
    match text.strip_prefix('-') {
        Some(zero) if zero.chars().all(|c| matches!(c, '0' | '.')) => zero.to_owned(),
        _ => text,
    }
}

/// The power of ten of a number written with one.
pub(super) fn power_of_ten(scientific: &str) -> i32 {
    let power = scientific.split_once('e').map(|(_, power)| power);
    power.and_then(|power| power.parse().ok()).unwrap_or(0)
}

/// Powers of ten from here on are written as such.
const FARTHEST: i32 = 15;

/// Where the uncertainty is below this power of ten, so are numbers below it.
const SMALLEST: i32 = -6;

/// A number to a place, as a power of ten.
fn far(x: f64, place: i32) -> String {
    let digits = power_of_ten(&format!("{x:e}")) - place;
    let text = match usize::try_from(digits) {
        // A double has no more digits.
        Ok(digits) if x != 0.0 => format!("{x:.*e}", digits.min(16)),
        // Nothing, or smaller than half of the place.
        _ => "0".to_owned(),
    };
    let (mantissa, exponent) = text.split_once('e').unwrap_or((&text, ""));
    let text = match exponent {
        "" | "0" => mantissa.to_owned(),
        exponent => format!("{mantissa}e{exponent}"),
    };
    text.replace('-', "−")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_far_from_one_are_powers_of_ten() {
        for (value, standard, expected) in [
            (0.0, 1.2e37, ["0", "1.2e37"]),
            (-6.7e36, 1.2e37, ["−7e36", "1.2e37"]),
            (1e35, 1.2e37, ["0", "1.2e37"]),
            (2.5e16, 3.0e14, ["2.500e16", "3.0e14"]),
            (4.4, 2.7e-17, ["4.4000000000000004", "2.7e−17"]),
            (4.4, 0.27, ["4.40", "0.27"]),
            (0.0, 1.2e-9, ["0", "1.2e−9"]),
            (2.5e-9, 1.2e-9, ["2.5e−9", "1.2e−9"]),
            (4.4, 1.2e-8, ["4.400000000", "1.2e−8"]),
            (2.5e-6, 1.2e-6, ["0.0000025", "0.0000012"]),
            (2.5e-9, 0.27, ["0.00", "0.27"]),
        ] {
            assert_eq!(value_and_uncertainty(value, standard), expected);
        }
    }
}
