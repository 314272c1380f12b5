//! Times of exams, as far as telling which is earlier takes.

use std::cmp::Ordering;

use chrono::{DateTime, Datelike, NaiveDate, NaiveDateTime, NaiveTime};

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

    /// The same numbers for the same time, however it was written; the first is never 0.
    pub(super) fn parts(self) -> [u64; 3] {
        match self {
            Moment::Number(number) => [1, number.to_bits(), 0],
            Moment::Day(day) => [2, day.num_days_from_ce() as u64, 0],
            Moment::Local(time) => [3, seconds(time), nanoseconds(time)],
            Moment::Universal(time) => [4, seconds(time), nanoseconds(time)],
        }
    }
}

fn seconds(time: NaiveDateTime) -> u64 {
    time.and_utc().timestamp() as u64
}

fn nanoseconds(time: NaiveDateTime) -> u64 {
    u64::from(time.and_utc().timestamp_subsec_nanos())
}

/// The forms that most tables have, read quickly: `2031-05-17`, `2031-05-17 07:30` and the same with a `T` or with seconds.
fn usual(field: &str) -> Option<Moment> {
    let bytes = field.as_bytes();
    let digits = |from: usize, to: usize| {
        bytes.get(from..to)?.iter().try_fold(0_u32, |number, byte| {
            let is_digit = byte.is_ascii_digit();
            is_digit.then(|| 10 * number + u32::from(byte - b'0'))
        })
    };
    let is_mark = |at: usize, marks: &[u8]| bytes.get(at).is_some_and(|b| marks.contains(b));
    if !(is_mark(4, b"-") && is_mark(7, b"-")) {
        return None;
    }
    let day = NaiveDate::from_ymd_opt(digits(0, 4)? as i32, digits(5, 7)?, digits(8, 10)?)?;
    if bytes.len() == 10 {
        return Some(Moment::Day(day));
    }
    if !(is_mark(10, b"T ") && is_mark(13, b":")) {
        return None;
    }
    let seconds = match bytes.len() {
        16 => 0,
        19 if is_mark(16, b":") => digits(17, 19)?,
        _ => return None,
    };
    let time = NaiveTime::from_hms_opt(digits(11, 13)?, digits(14, 16)?, seconds)?;
    Some(Moment::Local(day.and_time(time)))
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
