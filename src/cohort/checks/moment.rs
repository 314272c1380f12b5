//! Times of exams, as far as telling which is earlier takes.

use std::cmp::Ordering;

use chrono::{DateTime, Datelike, NaiveDate, NaiveDateTime, NaiveTime, Timelike};

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
        if let Some(moment) = usual(field) {
            return Some(moment);
        }
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

    /// The same numbers for the same time, however it was written; the first is never 0, and its last three bits are the kind.
    pub(super) fn parts(self) -> [u64; 2] {
        match self {
            Moment::Number(number) => [1, number.to_bits()],
            Moment::Day(day) => [day_of_year(day) | 2, 0],
            Moment::Local(time) => [day_of_year(time.date()) | 3, within_day(time)],
            Moment::Universal(time) => [day_of_year(time.date()) | 4, within_day(time)],
        }
    }
}

/// A day by its year and its number in it, with room for the kind of a time.
fn day_of_year(day: NaiveDate) -> u64 {
    (i64::from(day.year()) << 16) as u64 | u64::from(day.ordinal()) << 3
}

/// Seconds, and nanoseconds, which are fewer than 2^32 in a leap second too.
fn within_day(time: NaiveDateTime) -> u64 {
    u64::from(time.num_seconds_from_midnight()) << 32 | u64::from(time.nanosecond())
}

/// The forms that most tables have, read quickly: `2031-05-17`, `2031-05-17 07:30` and the same with a `T` or with seconds.
fn usual(field: &str) -> Option<Moment> {
    let (day, time) = field.as_bytes().split_first_chunk::<10>()?;
    let [c, y, a, r, b'-', m, n, b'-', d, e] = *day else {
        return None;
    };
    let year = 100 * two_digits(c, y)? + two_digits(a, r)?;
    let day = NaiveDate::from_ymd_opt(year as i32, two_digits(m, n)?, two_digits(d, e)?)?;
    let (hour, minute, second) = match *time {
        [] => return Some(Moment::Day(day)),
        [b'T' | b' ', h, i, b':', m, n] => (two_digits(h, i)?, two_digits(m, n)?, 0),
        [b'T' | b' ', h, i, b':', m, n, b':', s, t] => {
            (two_digits(h, i)?, two_digits(m, n)?, two_digits(s, t)?)
        }
        _ => return None,
    };
    let time = NaiveTime::from_hms_opt(hour, minute, second)?;
    Some(Moment::Local(day.and_time(time)))
}

#[inline]
fn two_digits(tens: u8, ones: u8) -> Option<u32> {
    let (tens, ones) = (tens.wrapping_sub(b'0'), ones.wrapping_sub(b'0'));
    (tens.max(ones) < 10).then(|| 10 * u32::from(tens) + u32::from(ones))
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
            ("2031-05-17 07:30:15", "2031-05-17T07:30:15.0", Some(Equal)),
            ("2031-02-29", "2031-03-01", None),
            ("2031-05-17 24:30", "2031-05-18", None),
        ] {
            assert_eq!(order(a, b), expected, "{a} {b}");
        }
    }
}
