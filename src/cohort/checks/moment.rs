//! Times of exams, as far as telling which is earlier takes.

use std::cmp::Ordering;

use chrono::{DateTime, NaiveDate, NaiveDateTime};

use crate::cohort::plain_number::plain_number;

/// A time as a field gives it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Moment {
    /// A number, such as a day of a study.
    Number(f64),
    /// A date without a time of day.
    Day(NaiveDate),
    /// A date with a time of day of the place.
    Local(NaiveDateTime),
    /// The same with its distance from universal time, as universal time.
    Universal(NaiveDateTime),
}

impl Moment {
    /// Reads a date of ISO 8601, a time of day may follow, or a number.
    pub(super) fn read(field: &str) -> Option<Moment> {
        let field = field.trim();
        if let Some(number) = plain_number(field) {
            return Some(Moment::Number(number));
        }
        if let Ok(day) = NaiveDate::parse_from_str(field, "%Y-%m-%d") {
            return Some(Moment::Day(day));
        }
        if let Ok(time) = DateTime::parse_from_rfc3339(field) {
            return Some(Moment::Universal(time.naive_utc()));
        }
        let forms = [
            "%Y-%m-%dT%H:%M:%S%.f",
            "%Y-%m-%d %H:%M:%S%.f",
            "%Y-%m-%dT%H:%M",
            "%Y-%m-%d %H:%M",
        ];
        let mut read = forms
            .iter()
            .filter_map(|form| NaiveDateTime::parse_from_str(field, form).ok());
        read.next().map(Moment::Local)
    }

    /// Which is earlier; a day and a time within it are not told apart. `None` where the two
    /// cannot be compared.
    pub(super) fn order(self, other: Moment) -> Option<Ordering> {
        match (self, other) {
            (Moment::Number(a), Moment::Number(b)) => a.partial_cmp(&b),
            (Moment::Day(a), Moment::Day(b)) => Some(a.cmp(&b)),
            (Moment::Day(a), Moment::Local(b)) => Some(a.cmp(&b.date())),
            (Moment::Local(a), Moment::Day(b)) => Some(a.date().cmp(&b)),
            (Moment::Local(a), Moment::Local(b)) => Some(a.cmp(&b)),
            (Moment::Universal(a), Moment::Universal(b)) => Some(a.cmp(&b)),
            _ => None,
        }
    }

    /// The same text for the same time, however it was written.
    pub(super) fn key(self) -> String {
        format!("{self:?}")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn order(a: &str, b: &str) -> Option<Ordering> {
        Moment::read(a)?.order(Moment::read(b)?)
    }

    /// Forms of ISO 8601-1:2019, section 5 (from memory), and of RFC 3339, section 5.8.
    #[test]
    fn times_are_told_apart_as_far_as_they_are_given() {
        use Ordering::{Equal, Greater, Less};
        for (a, b, expected) in [
            ("2031-05-17", "2031-05-18", Some(Less)),
            ("2031-05-17 07:30", "2031-05-17", Some(Equal)),
            ("2031-05-17T07:30", "2031-05-17 07:29:59.5", Some(Greater)),
            (
                "2031-05-17 07:30:00.000000",
                "2031-05-17T07:30",
                Some(Equal),
            ),
            (
                "1985-04-12T23:20:50.52Z",
                "1985-04-13T00:20:50.52+01:00",
                Some(Equal),
            ),
            (
                "1996-12-19T16:39:57-08:00",
                "1996-12-20T00:39:57Z",
                Some(Equal),
            ),
            ("4", "11.5", Some(Less)),
            ("4", "2031-05-17", None),
            ("2031-05-17T07:30", "2031-05-17T07:30Z", None),
            ("17.5.2031", "2031-05-17", None),
            ("soon", "later", None),
        ] {
            assert_eq!(order(a, b), expected, "{a} {b}");
        }
    }
}
