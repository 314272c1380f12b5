//! Times of exams, as far as telling which is earlier takes.

use std::cmp::Ordering;
use std::num::NonZeroU64;

use chrono::{DateTime, Datelike, NaiveDate, NaiveDateTime, Timelike};

use crate::cohort::plain_number::plain_number;

/// A time as a field gives it, in two numbers that are the same for the same time, however it was written.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Moment {
    /// The day, as a whole number with a sign, above the three bits of the kind.
    day: NonZeroU64,
    /// Seconds of the day in the upper half, nanoseconds in the lower; the bits of a number.
    rest: u64,
}

/// A number, such as a day of a study.
const NUMBER: u64 = 1;
/// A date without a time of day.
const DAY: u64 = 2;
/// A date with a time of day of the place.
const LOCAL: u64 = 3;
/// The same with its distance from universal time, as universal time.
const UNIVERSAL: u64 = 4;

const KINDS: u32 = 3;

impl Moment {
    /// Reads what has none of the usual forms.
    fn unusual(field: &str) -> Option<Moment> {
        let field = field.trim();
        if let Some(number) = plain_number(field) {
            return Some(Moment::new(NUMBER, 0, number.to_bits()));
        }
        if let Ok(day) = NaiveDate::parse_from_str(field, "%Y-%m-%d") {
            return Some(Moment::new(DAY, number_of(day), 0));
        }
        if let Ok(time) = DateTime::parse_from_rfc3339(field) {
            return Some(Moment::at(UNIVERSAL, time.naive_utc()));
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
        read.next().map(|time| Moment::at(LOCAL, time))
    }

    fn new(kind: u64, day: i64, rest: u64) -> Moment {
        let day = NonZeroU64::new((day << KINDS) as u64 | kind);
        Moment {
            // A kind is not 0.
            day: day.unwrap_or(NonZeroU64::MIN),
            rest,
        }
    }

    fn at(kind: u64, time: NaiveDateTime) -> Moment {
        // Nanoseconds are fewer than 2^32 in a leap second too.
        let seconds = u64::from(time.num_seconds_from_midnight());
        let rest = seconds << 32 | u64::from(time.nanosecond());
        Moment::new(kind, number_of(time.date()), rest)
    }

    fn kind(self) -> u64 {
        self.day.get() & ((1 << KINDS) - 1)
    }

    fn day(self) -> i64 {
        self.day.get() as i64 >> KINDS
    }

    /// Which is earlier; a day and a time within it are not told apart. `None` where the two
    /// cannot be compared.
    pub(super) fn order(self, other: Moment) -> Option<Ordering> {
        let days = self.day().cmp(&other.day());
        match (self.kind(), other.kind()) {
            (NUMBER, NUMBER) => f64::from_bits(self.rest).partial_cmp(&f64::from_bits(other.rest)),
            (DAY, DAY | LOCAL) | (LOCAL, DAY) => Some(days),
            (LOCAL, LOCAL) | (UNIVERSAL, UNIVERSAL) => {
                Some(days.then_with(|| self.rest.cmp(&other.rest)))
            }
            _ => None,
        }
    }

    /// Numbers that are the same for the same time; the first is never 0.
    pub(super) fn parts(self) -> [u64; 2] {
        [self.day.get(), self.rest]
    }
}

/// A number for a day, greater for later days.
fn number_of(day: NaiveDate) -> i64 {
    numbered(day.year(), day.month(), day.day())
}

fn numbered(year: i32, month: u32, day: u32) -> i64 {
    i64::from(year) << 9 | i64::from(month << 5 | day)
}

/// Reads times, and remembers the day of the last: the next is often the same.
#[derive(Default)]
pub(super) struct Calendar {
    last: Option<(Day, i64)>,
}

/// A day as most tables write it, such as `2031-05-17`.
type Day = [u8; 10];

impl Calendar {
    /// Reads a date of ISO 8601, a time of day may follow, or a number.
    #[inline]
    pub(super) fn moment(&mut self, field: &str) -> Option<Moment> {
        self.usual(field.as_bytes())
            .or_else(|| Moment::unusual(field))
    }

    /// The forms that most tables have, read quickly: `2031-05-17`, `2031-05-17 07:30` and the same with a `T` or with seconds.
    #[inline]
    fn usual(&mut self, field: &[u8]) -> Option<Moment> {
        let (day, time) = field.split_first_chunk()?;
        within(self.day(day)?, time)
    }

    #[inline]
    fn day(&mut self, text: &Day) -> Option<i64> {
        match self.last {
            Some((last, day)) if last == *text => Some(day),
            _ => {
                let day = day(text)?;
                self.last = Some((*text, day));
                Some(day)
            }
        }
    }
}

fn day(text: &Day) -> Option<i64> {
    let [c, y, a, r, b'-', m, n, b'-', d, e] = *text else {
        return None;
    };
    let year = 100 * two_digits(c, y)? + two_digits(a, r)?;
    let (month, day) = (two_digits(m, n)?, two_digits(d, e)?);
    let is_day = day > 0 && day <= days_of(year, month);
    is_day.then(|| numbered(year as i32, month, day))
}

/// A day, or a time of it.
#[inline]
fn within(day: i64, time: &[u8]) -> Option<Moment> {
    let (hour, minute, second) = match *time {
        [] => return Some(Moment::new(DAY, day, 0)),
        [b'T' | b' ', h, i, b':', m, n] => (two_digits(h, i)?, two_digits(m, n)?, 0),
        [b'T' | b' ', h, i, b':', m, n, b':', s, t] => {
            (two_digits(h, i)?, two_digits(m, n)?, two_digits(s, t)?)
        }
        _ => return None,
    };
    if hour > 23 || minute > 59 || second > 59 {
        return None;
    }
    let seconds = u64::from(60 * (60 * hour + minute) + second);
    Some(Moment::new(LOCAL, day, seconds << 32))
}

/// Days of a month of the Gregorian calendar; 0 of what is no month.
fn days_of(year: u32, month: u32) -> u32 {
    match month {
        2 if year.is_multiple_of(4) && (!year.is_multiple_of(100) || year.is_multiple_of(400)) => {
            29
        }
        2 => 28,
        4 | 6 | 9 | 11 => 30,
        1..=12 => 31,
        _ => 0,
    }
}

#[inline]
fn two_digits(tens: u8, ones: u8) -> Option<u32> {
    let (tens, ones) = (tens.wrapping_sub(b'0'), ones.wrapping_sub(b'0'));
    (tens.max(ones) < 10).then(|| 10 * u32::from(tens) + u32::from(ones))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(field: &str) -> Option<Moment> {
        Calendar::default().moment(field)
    }

    fn order(a: &str, b: &str) -> Option<Ordering> {
        read(a)?.order(read(b)?)
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
            ("2031-12-31", "2032-01-01", Some(Less)),
            ("-0044-03-15", "0001-01-01", Some(Less)),
            ("2031-05-31T23:59:59.9", "2031-06-01 00:00", Some(Less)),
            ("2031-05-18", "2031-05-17 23:59", Some(Greater)),
            ("-2.5", "-2", Some(Less)),
        ] {
            assert_eq!(order(a, b), expected, "{a} {b}");
        }
    }

    /// Times are written anew before they come here; they are then those that exams are paired by.
    #[test]
    fn times_written_anew_are_those_that_pairs_are_told_by() {
        use crate::cohort::dates::{DateForm, DateOrder, iso, moment};
        let form = DateForm {
            order: DateOrder::DayMonthYear,
            years_from: Some(1970),
        };
        for text in [
            "27.2.2031",
            "27.02.31 7:30 PM",
            "27/02/2031, 07:30",
            "27 Feb 2031 07:30:15.5",
            "Feb 27, 2031 12:10 a.m.",
            "2031-02-27T07:30",
            "2031-02-27",
            "2031-02-27T07:30Z",
            "27.2.2031 07:30+02:00",
            "27.2.2031 25:00",
            "27.2.2031 soon",
            "30.2.2031",
            "soon",
        ] {
            let written = iso(text, form).unwrap_or_else(|| text.to_owned());
            let (found, told) = (read(&written), moment(text, form));
            match (found, told) {
                // Exams are paired by what clocks of the place say.
                (Some(found), None) => assert_eq!(found.kind(), UNIVERSAL, "{text}"),
                (Some(found), Some(told)) => {
                    let told = Moment::at(LOCAL, told);
                    assert_eq!(found.order(told), Some(Ordering::Equal), "{text}");
                }
                (None, told) => assert_eq!(told, None, "{text}"),
            }
        }
    }

    /// What is read quickly is what chrono reads, for days of many years, and for what is no day.
    #[test]
    fn usual_forms_are_read_as_chrono_reads_them() {
        let mut calendar = Calendar::default();
        for year in (0..=9999).filter(|year| year % 25 == 0 || (1999..2040).contains(year)) {
            for (month, day) in (0..=13).flat_map(|m| (0..=32).map(move |d| (m, d))) {
                let text = format!("{year:04}-{month:02}-{day:02}");
                let known = NaiveDate::from_ymd_opt(year, month, day);
                let known = known.map(|day| Moment::new(DAY, number_of(day), 0));
                assert_eq!(calendar.usual(text.as_bytes()), known, "{text}");
            }
        }
        let day = NaiveDate::from_ymd_opt(2031, 5, 17).unwrap();
        for (hour, minute, second) in
            (0..=25).flat_map(|h| [0, 7, 59, 60].map(|m| (h, m, m / 2 + h)))
        {
            let known = day.and_hms_opt(hour, minute, second);
            let known = known.map(|time| Moment::at(LOCAL, time));
            let text = format!("2031-05-17T{hour:02}:{minute:02}:{second:02}");
            assert_eq!(calendar.usual(text.as_bytes()), known, "{text}");
            if let (Some(time), 0) = (known, second) {
                assert_eq!(calendar.usual(&text.as_bytes()[..16]), Some(time));
            }
        }
        for odd in [
            "2031-05-17 7:30",
            "2031-05-17 07:30Z",
            "2031-05-17 07:30:5",
            "2031-05-1/",
            "2031-05-17x07:30",
            "",
            "2031-05-17 ",
        ] {
            assert_eq!(calendar.usual(odd.as_bytes()), None, "{odd}");
        }
    }
}
