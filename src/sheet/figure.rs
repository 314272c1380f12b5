//! Figures for people: as many digits as the number bears, and pretty units.

use crate::formula::notation::number;
use crate::quantity::Unit;

/// A number for a person: three significant digits, whole units from 100 up, and a real minus
/// sign. The last digit stays even if it is a zero, so that a sum can be checked by hand.
///
/// ```
/// use semilunar::sheet::figure;
///
/// assert_eq!(figure(62.83185307), "62.8");
/// assert_eq!(figure(4.39822971), "4.40");
/// assert_eq!(figure(1606.575), "1607");
/// assert_eq!(figure(-0.0421), "−0.0421");
/// ```
pub fn figure(value: f64) -> String {
    let size = value.abs();
    let text = if size == 0.0 {
        "0".to_owned()
    } else if !(1e-4..1e7).contains(&size) {
        format!("{value:.2e}")
    } else {
        // The power of ten after rounding: 99.96 is 100.
        let rounded = format!("{size:.2e}");
        let power = rounded
            .split_once('e')
            .and_then(|(_, p)| p.parse::<i32>().ok());
        let decimals = usize::try_from(2 - power.unwrap_or(0)).unwrap_or(0);
        format!("{value:.decimals$}")
    };
    text.replace('-', "−")
}

/// A number that somebody put in, as it was put in: no digit more, none less, unless it was
/// converted and would take more than six.
///
/// ```
/// use semilunar::sheet::figure_as_given;
///
/// assert_eq!(figure_as_given(2.05), "2.05");
/// assert_eq!(figure_as_given(96.0), "96");
/// assert_eq!(figure_as_given(20.0 / 3.0), "6.67");
/// assert_eq!(figure_as_given(-0.0), "0");
/// ```
pub fn figure_as_given(value: f64) -> String {
    // Nothing is a zero below zero.
    let text = number(if value == 0.0 { 0.0 } else { value });
    let digits = text.chars().filter(char::is_ascii_digit).count();
    match digits {
        0..=6 => text.replace('-', "−"),
        _ => figure(value),
    }
}

/// A level of coverage for a person, in per cent, without what the share lost as a binary number.
pub(crate) fn level_words(level: f64) -> String {
    let per_cent = (level * 1e11).round() / 1e9;
    format!("{} %", number(per_cent))
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

/// A label inside a sentence: without its capital, unless it starts with an abbreviation.
///
/// ```
/// use semilunar::sheet::in_sentence;
///
/// assert_eq!(in_sentence("Stroke volume"), "stroke volume");
/// assert_eq!(in_sentence("LVOT diameter"), "LVOT diameter");
/// ```
pub fn in_sentence(label: &str) -> String {
    let mut chars = label.chars();
    match (chars.next(), chars.clone().next()) {
        (Some(first), Some(second)) if !second.is_uppercase() => {
            first.to_lowercase().chain(chars).collect()
        }
        _ => label.to_owned(),
    }
}

/// Words of names that are said as letters.
const ABBREVIATIONS: [&str; 13] = [
    "av", "bmi", "bsa", "co", "cvp", "hr", "lvot", "map", "sv", "svi", "svr", "svri", "vti",
];

/// A name of the notation as a person writes it: `before.lvot_vti` is before LVOT VTI.
pub fn name_in_words(name: &str) -> String {
    let words = name
        .split(['_', '.'])
        .map(|word| match ABBREVIATIONS.contains(&word) {
            true => word.to_uppercase(),
            false => word.to_owned(),
        });
    words.collect::<Vec<String>>().join(" ")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn abbreviations_keep_their_capitals() {
        assert_eq!(name_in_words("lvot_diameter"), "LVOT diameter");
        assert_eq!(name_in_words("before.lvot_vti"), "before LVOT VTI");
        assert_eq!(name_in_words("av_vti"), "AV VTI");
        assert_eq!(name_in_words("mapped_comet"), "mapped comet");
        assert_eq!(name_in_words("Patient no"), "Patient no");
    }

    #[test]
    fn digits_follow_the_size() {
        for (value, text) in [
            (0.0, "0"),
            (4.3982297, "4.40"),
            (2.43035, "2.43"),
            (62.831853, "62.8"),
            (99.96, "100"),
            (104.26, "104"),
            (1606.575, "1607"),
            (0.9107, "0.911"),
            (1.5725, "1.57"),
            (0.00123456, "0.00123"),
            (1.5e8, "1.50e8"),
        ] {
            assert_eq!(figure(value), text);
        }
    }
}
