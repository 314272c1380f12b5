//! Decimal marks and marks between thousands.
//!
//! Numbers are written with a point or a comma as the decimal mark, and with blanks, points,
//! commas or apostrophes between groups of three digits (Unicode CLDR, elements `decimal` and
//! `group`). A text is read in one way only, the one that is stated or that the first records of
//! the table show; a number written in another way is refused, not guessed.

use std::fmt;

/// How numbers are written.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Marks {
    pub(super) decimal: Decimal,
    pub(super) thousands: Thousands,
}

/// The decimal mark.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Decimal {
    Point,
    Comma,
}

/// What stands between groups of three digits.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Thousands {
    None,
    Point,
    Comma,
    /// A blank, also one that does not break or is narrow.
    Blank,
    Apostrophe,
}

/// Why a text that starts as a number is not read.
#[derive(Debug, PartialEq, Eq)]
pub(super) struct NotSo;

impl Marks {
    /// As plain numbers are written.
    pub(super) const PLAIN: Marks = Marks {
        decimal: Decimal::Point,
        thousands: Thousands::None,
    };

    /// Every way in which numbers are written.
    pub(super) fn all() -> impl Iterator<Item = Marks> {
        use Thousands::{Apostrophe, Blank, Comma, None, Point};
        let pairs = [Decimal::Point, Decimal::Comma].into_iter();
        pairs.flat_map(|decimal| {
            let own = match decimal {
                Decimal::Point => Comma,
                Decimal::Comma => Point,
            };
            [None, own, Blank, Apostrophe].map(|thousands| Marks { decimal, thousands })
        })
    }

    /// The marks that are stated, as (decimal, thousands); `None` where nothing is.
    ///
    /// # Errors
    /// Marks that are not known, or one mark for both.
    pub(super) fn stated(
        (decimal, thousands): (Option<&str>, Option<&str>),
    ) -> Result<Option<Marks>, String> {
        let thousands = match thousands {
            None | Some("none") => Thousands::None,
            Some(".") => Thousands::Point,
            Some(",") => Thousands::Comma,
            Some("'" | "\u{2019}") => Thousands::Apostrophe,
            Some(" " | "\u{a0}" | "\u{2009}" | "\u{202f}") => Thousands::Blank,
            Some(other) => {
                return Err(format!(
                    "thousands is \".\", \",\", \" \", \"'\" or \"none\", not `{other}`"
                ));
            }
        };
        let decimal = match (decimal, thousands) {
            (None, Thousands::None) => return Ok(None),
            (None, _) => {
                return Err("thousands without decimal: say which mark is the decimal one".into());
            }
            (Some("."), Thousands::Point) | (Some(","), Thousands::Comma) => {
                return Err("decimal and thousands are the same mark".into());
            }
            (Some("."), _) => Decimal::Point,
            (Some(","), _) => Decimal::Comma,
            (Some(other), _) => {
                return Err(format!("decimal is \".\" or \",\", not `{other}`"));
            }
        };
        Ok(Some(Marks { decimal, thousands }))
    }

    /// The words of a binding file for these marks, as (decimal, thousands).
    pub(super) fn words(self) -> (&'static str, &'static str) {
        let decimal = match self.decimal {
            Decimal::Point => ".",
            Decimal::Comma => ",",
        };
        let thousands = match self.thousands {
            Thousands::None => "none",
            Thousands::Point => ".",
            Thousands::Comma => ",",
            Thousands::Blank => " ",
            Thousands::Apostrophe => "'",
        };
        (decimal, thousands)
    }

    /// The number at the start of a text, with a point and without marks between thousands, and
    /// what follows it; `None` for a text that does not start as a number does.
    ///
    /// # Errors
    /// A text that starts as a number, and is written in another way.
    pub(super) fn plain(self, text: &str) -> Result<Option<PlainNumber<'_>>, NotSo> {
        let mut plain = String::with_capacity(text.len());
        let mut rest = text;
        if let Some(after) = rest.strip_prefix(['+', '-', '\u{2212}']) {
            if !rest.starts_with('+') {
                plain.push('-');
            }
            rest = after;
        }
        let starts = rest.trim_start_matches(['.', ',']);
        if !starts.starts_with(|c: char| c.is_ascii_digit()) {
            return Ok(None);
        }
        rest = self.whole_part(rest, &mut plain)?;
        if let Some(after) = rest.strip_prefix(self.decimal.mark()) {
            plain.push('.');
            rest = take_digits(after, &mut plain);
        }
        rest = take_exponent(rest, &mut plain);
        let is_more = |c: char| c.is_ascii_digit() || matches!(c, '.' | ',' | '\'' | '\u{2019}');
        if rest.trim_start().starts_with(is_more) {
            return Err(NotSo);
        }
        Ok(Some(PlainNumber { plain, rest }))
    }

    /// Takes the digits before the decimal mark.
    fn whole_part<'t>(self, text: &'t str, plain: &mut String) -> Result<&'t str, NotSo> {
        let before = plain.len();
        let mut rest = take_digits(text, plain);
        let first = plain.len() - before;
        let mut is_grouped = false;
        while let Some(mark) = rest.chars().next().filter(|c| self.thousands.holds(*c)) {
            let group = &rest[mark.len_utf8()..];
            let digits = group.bytes().take_while(u8::is_ascii_digit).count();
            if digits == 0 {
                break;
            }
            if digits != 3 || !(1..=3).contains(&first) {
                return Err(NotSo);
            }
            is_grouped = true;
            rest = take_digits(group, plain);
        }
        // 0,123 and 012,345 are no thousands.
        match is_grouped && plain[before..].starts_with('0') {
            true => Err(NotSo),
            false => Ok(rest),
        }
    }
}

impl PlainNumber<'_> {
    /// The number as plain numbers are written, with what follows it.
    pub(super) fn text(&self) -> String {
        format!("{}{}", self.plain, self.rest)
    }
}

/// A number at the start of a text.
#[derive(Debug, PartialEq, Eq)]
pub(super) struct PlainNumber<'t> {
    /// As plain numbers are written.
    pub(super) plain: String,
    /// What follows: nothing, or a unit.
    pub(super) rest: &'t str,
}

impl Decimal {
    fn mark(self) -> char {
        match self {
            Decimal::Point => '.',
            Decimal::Comma => ',',
        }
    }
}

impl Thousands {
    fn holds(self, c: char) -> bool {
        match self {
            Thousands::None => false,
            Thousands::Point => c == '.',
            Thousands::Comma => c == ',',
            Thousands::Blank => matches!(c, ' ' | '\u{a0}' | '\u{2009}' | '\u{202f}'),
            Thousands::Apostrophe => matches!(c, '\'' | '\u{2019}'),
        }
    }
}

impl fmt::Display for Marks {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self.decimal {
            Decimal::Point => "a decimal point",
            Decimal::Comma => "a decimal comma",
        })?;
        f.write_str(match self.thousands {
            Thousands::None => "",
            Thousands::Point => " and points between thousands",
            Thousands::Comma => " and commas between thousands",
            Thousands::Blank => " and blanks between thousands",
            Thousands::Apostrophe => " and apostrophes between thousands",
        })
    }
}

fn take_digits<'t>(text: &'t str, plain: &mut String) -> &'t str {
    let digits = text.bytes().take_while(u8::is_ascii_digit).count();
    plain.push_str(&text[..digits]);
    &text[digits..]
}

/// Takes an exponent, if one follows.
fn take_exponent<'t>(text: &'t str, plain: &mut String) -> &'t str {
    let Some(after) = text.strip_prefix(['e', 'E']) else {
        return text;
    };
    let digits = after.strip_prefix(['+', '-']).unwrap_or(after);
    let count = digits.bytes().take_while(u8::is_ascii_digit).count();
    if count == 0 {
        return text;
    }
    let end = text.len() - digits.len() + count;
    plain.push_str(&text[..end]);
    &text[end..]
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn marks(decimal: &str, thousands: &str) -> Marks {
        Marks::stated((Some(decimal), Some(thousands)))
            .unwrap()
            .unwrap()
    }

    fn plain(marks: Marks, text: &str) -> Option<(String, &str)> {
        let found = marks.plain(text).ok()??;
        Some((found.plain, found.rest))
    }

    /// One million and some as Unicode CLDR writes it: `format_decimal(1234567.5, locale=…)` of
    /// Babel 2.18 from PyPI, which carries its tables.
    #[test]
    fn numbers_are_read_as_the_common_locale_data_writes_them() {
        for (locale, decimal, thousands, text) in [
            ("en", ".", ",", "1,234,567.5"),
            ("de", ",", ".", "1.234.567,5"),
            ("fr", ",", " ", "1\u{202f}234\u{202f}567,5"),
            ("sv", ",", " ", "1\u{a0}234\u{a0}567,5"),
            ("de-CH", ".", "'", "1\u{2019}234\u{2019}567.5"),
            ("es", ",", ".", "1.234.567,5"),
        ] {
            let found = plain(marks(decimal, thousands), text);
            assert_eq!(found, Some(("1234567.5".into(), "")), "{locale}");
        }
    }

    #[test]
    fn what_follows_a_number_is_kept_and_what_is_written_otherwise_is_refused() {
        let comma = marks(",", "none");
        assert_eq!(plain(comma, "2,05 cm"), Some(("2.05".into(), " cm")));
        assert_eq!(plain(comma, "-2,05e-1cm"), Some(("-2.05e-1".into(), "cm")));
        assert_eq!(plain(comma, "\u{2212}3"), Some(("-3".into(), "")));
        assert_eq!(comma.plain("unobtainable"), Ok(None));
        assert_eq!(comma.plain(",x"), Ok(None));
        for text in ["2.05", "1.234,5", "1 234", "27.2.2031", "2,05,1"] {
            assert_eq!(comma.plain(text), Err(NotSo), "{text}");
        }
        let grouped = marks(",", ".");
        for text in ["1.23", "1234.567", "0.123", "1.2345", "1.234.5", "1,234,5"] {
            assert_eq!(grouped.plain(text), Err(NotSo), "{text}");
        }
        assert_eq!(plain(grouped, "1.234 mL"), Some(("1234".into(), " mL")));
        let blank = marks(",", " ");
        assert_eq!(plain(blank, "1 234 mL"), Some(("1234".into(), " mL")));
        assert_eq!(plain(blank, "5 mL"), Some(("5".into(), " mL")));
        assert_eq!(blank.plain("120 80"), Err(NotSo));
    }

    #[test]
    fn marks_that_make_no_sense_are_refused() {
        for (marks, words) in [
            ((Some(","), Some(",")), "the same mark"),
            ((Some(";"), None), "not `;`"),
            ((None, Some(".")), "without decimal"),
            ((Some("."), Some("_")), "not `_`"),
        ] {
            assert!(Marks::stated(marks).unwrap_err().contains(words));
        }
    }

    /// A number written with the marks.
    fn written(marks: Marks, number: f64) -> String {
        let text = format!("{number}");
        let (sign, text) = match text.strip_prefix('-') {
            Some(text) => ("-", text),
            None => ("", &*text),
        };
        let (whole, fraction) = text.split_once('.').unwrap_or((text, ""));
        let (decimal, thousands) = marks.words();
        let mut grouped = String::new();
        for (at, digit) in whole.chars().enumerate() {
            if at > 0 && (whole.len() - at).is_multiple_of(3) && thousands != "none" {
                grouped.push_str(thousands);
            }
            grouped.push(digit);
        }
        match fraction {
            "" => format!("{sign}{grouped}"),
            _ => format!("{sign}{grouped}{decimal}{fraction}"),
        }
    }

    proptest! {
        /// What is written with some marks reads back bit for bit with them, a unit aside.
        #[test]
        fn numbers_come_back_from_every_way_of_writing_them(
            number in prop_oneof![-1e12..1e12_f64, -100.0..100.0_f64, (-1_000_000..1_000_000_i64).prop_map(|n| n as f64 / 1000.0)],
            unit in prop_oneof![Just(""), Just(" cm"), Just(" mm[Hg]"), Just("/min")],
        ) {
            for marks in Marks::all() {
                let text = format!("{}{unit}", written(marks, number));
                let found = marks.plain(&text).unwrap().unwrap();
                prop_assert_eq!(found.plain.parse::<f64>().unwrap().to_bits(), number.to_bits(), "{}", text);
                prop_assert_eq!(found.rest, unit);
            }
        }

        /// Two ways never give two numbers to a text, but where it holds one mark and three digits.
        #[test]
        fn only_a_single_mark_before_three_digits_is_read_in_two_ways(text in "[0-9]{1,4}([.,' ][0-9]{1,4}){0,3}") {
            let mut found: Vec<f64> = Marks::all()
                .filter_map(|m| m.plain(&text).ok()??.plain.parse().ok())
                .collect();
            found.sort_by(f64::total_cmp);
            found.dedup();
            if found.len() > 1 {
                let marks: Vec<char> = text.chars().filter(|c| !c.is_ascii_digit()).collect();
                prop_assert!(marks.len() == 1 && matches!(marks[0], '.' | ','), "{} {:?}", text, found);
            }
        }
    }
}
