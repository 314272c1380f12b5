//! Zones behind times of day.
//!
//! Names are told by lists, not by their look: the letters in `07:30 JD` may be somebody's.

/// Abbreviations in capitals: those that the time zone database has in use (2024, from memory), the German ones, and usual ones of
/// places for which it has numbers only.
const ABBREVIATIONS: [&str; 54] = [
    "ACDT", "ACST", "ADT", "AEDT", "AEST", "AKDT", "AKST", "AST", "AWST", "BRT", "BST", "CAT",
    "CDT", "CEST", "CET", "CST", "EAT", "EDT", "EEST", "EET", "EST", "GMT", "GST", "HDT", "HKT",
    "HST", "ICT", "IDT", "IST", "JST", "KST", "MDT", "MESZ", "MEZ", "MSK", "MST", "MYT", "NDT",
    "NST", "NZDT", "NZST", "PDT", "PKT", "PST", "SAST", "SGT", "SST", "TRT", "UTC", "WAT", "WEST",
    "WET", "WIB", "WITA",
];

/// What names of the time zone database begin with, as `Europe/Berlin`.
const AREAS: [&str; 11] = [
    "Africa",
    "America",
    "Antarctica",
    "Arctic",
    "Asia",
    "Atlantic",
    "Australia",
    "Etc",
    "Europe",
    "Indian",
    "Pacific",
];

/// Most hours that a place's clocks are from universal time.
const FARTHEST: u32 = 14;

/// Whether a text is a zone: a distance from universal time, a name, or both, as `+02:00[Europe/Berlin]`.
pub(super) fn is_zone(text: &str) -> bool {
    match behind_distance(text) {
        Some("") => true,
        Some(name) => is_name(out_of_brackets(name.trim_start())),
        None => is_name(out_of_brackets(text)),
    }
}

/// What follows the distance that a text begins with: `Z`, `+02`, `+0200` or `+02:00`.
fn behind_distance(text: &str) -> Option<&str> {
    if let Some(rest) = text.strip_prefix(['Z', 'z']) {
        return Some(rest);
    }
    let digits = text.strip_prefix(['+', '-'])?;
    let is_of_distance = |c: char| c.is_ascii_digit() || c == ':';
    let end = digits.find(|c| !is_of_distance(c)).unwrap_or(digits.len());
    let (distance, rest) = digits.split_at(end);
    let (hours, minutes) = match distance.split_once(':') {
        Some(both) => both,
        None if distance.len() == 4 => distance.split_at(2),
        None => (distance, "00"),
    };
    let number = |two: &str| two.parse::<u32>().ok().filter(|_| two.len() == 2);
    let is_one = number(hours)? <= FARTHEST && number(minutes)? < 60;
    is_one.then_some(rest)
}

/// A text without the brackets that it may stand in.
fn out_of_brackets(text: &str) -> &str {
    let inside = |open: char, close: char| text.strip_prefix(open)?.strip_suffix(close);
    let inner = inside('[', ']').or_else(|| inside('(', ')'));
    inner.unwrap_or(text)
}

/// Whether a text is the name of a zone: an abbreviation, or an area and a place in it.
fn is_name(text: &str) -> bool {
    let Some((area, place)) = text.split_once('/') else {
        return ABBREVIATIONS.contains(&text);
    };
    let is_of_place = |c: char| c.is_ascii_alphanumeric() || matches!(c, '_' | '-' | '+' | '/');
    AREAS.contains(&area)
        && place.starts_with(|c: char| c.is_ascii_uppercase())
        && place.chars().all(is_of_place)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Distances of ISO 8601-1:2019, 4.3.13 (from memory), names of the time zone database, suffixes of RFC 9557, section 4.
    #[test]
    fn zones_are_told_from_what_else_follows_a_time() {
        for text in [
            "Z",
            "z",
            "+02",
            "+0200",
            "+02:00",
            "-09:30",
            "+14:00",
            "UTC",
            "CEST",
            "MESZ",
            "(CET)",
            "[UTC]",
            "Europe/Berlin",
            "[Europe/Berlin]",
            "America/Argentina/Buenos_Aires",
            "America/Port-au-Prince",
            "Etc/GMT+2",
            "+02:00[Europe/Berlin]",
            "Z[Etc/UTC]",
            "+0200 CEST",
        ] {
            assert!(is_zone(text), "{text}");
        }
        for text in [
            "",
            "JD",
            "MARY",
            "utc",
            "by Mary",
            "Mary/Major",
            "[Mary]",
            "[]",
            "[UTC",
            "Europe/",
            "Europe/berlin, Mary",
            "Europe/Berlin Mary",
            "+2",
            "+200",
            "-1931",
            "+02:0",
            "+02:60",
            "+02:00:00",
            "+02:00 Mary",
            "+02:00+02:00",
            "ZZ",
            "Z1234567",
            "UTC+2",
            "UTC 1234567",
            "+\u{664}\u{664}",
        ] {
            assert!(!is_zone(text), "{text}");
        }
    }
}
