//! Dates in a table's columns as numbers, for what is asked along time.

use chrono::{DateTime, NaiveDate, NaiveDateTime, TimeDelta};

use super::dates::{DateForm, dated, is_dated_in_any_order, moment};
use super::memory::Cohort;

const SECONDS_A_DAY: f64 = 86_400.0;

impl Cohort {
    /// Days from 1970-01-01 to the date that a field holds, the time of day as a fraction: a date
    /// of ISO 8601, or one in the order that the table's binding states. A time with its distance
    /// from universal time is taken as universal time, any other as it stands.
    pub fn days(&self, field: &str) -> Option<f64> {
        days(field, self.date_form())
    }
}

fn days(field: &str, form: DateForm) -> Option<f64> {
    let at = match DateTime::parse_from_rfc3339(field.trim()) {
        Ok(time) => time.naive_utc(),
        Err(_) => moment(field, form)?,
    };
    let since = at.signed_duration_since(epoch());
    Some(since.num_milliseconds() as f64 / 1000.0 / SECONDS_A_DAY)
}

/// Whether a field holds a date, but one whose day, month and year only an order tells apart.
pub fn needs_date_order(field: &str) -> bool {
    dated(field, DateForm::CLEAR).is_none() && is_dated_in_any_order(field, None)
}

/// The date of a number of days from 1970-01-01, as ISO 8601.
///
/// ```
/// assert_eq!(semilunar::cohort::date_of_days(22_332.0), "2031-02-22");
/// ```
pub fn date_of_days(days: f64) -> String {
    at(days).map_or_else(String::new, |at| at.format("%Y-%m-%d").to_string())
}

/// As [`date_of_days`], with the time of day where it is not midnight.
pub fn moment_of_days(days: f64) -> String {
    let form = match (days * SECONDS_A_DAY).round() % SECONDS_A_DAY == 0.0 {
        true => "%Y-%m-%d",
        false => "%Y-%m-%d %H:%M",
    };
    at(days).map_or_else(String::new, |at| at.format(form).to_string())
}

/// Nothing for what lies beyond the years that a calendar has.
fn at(days: f64) -> Option<NaiveDateTime> {
    let since = TimeDelta::try_seconds((days * SECONDS_A_DAY).round() as i64)?;
    epoch().checked_add_signed(since)
}

fn epoch() -> NaiveDateTime {
    NaiveDate::default().into()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::cohort::dates::DateOrder::{DayMonthYear, MonthDayYear, YearMonthDay};

    /// Days by the day numbers of RFC 3339's epoch: 2000-01-01 is day 10957 (POSIX.1-2017, 4.16,
    /// 946684800 s / 86400 s).
    #[test]
    fn dates_are_days_in_every_order_that_is_stated() {
        for (field, order, expected) in [
            ("1970-01-01", YearMonthDay, Some(0.0)),
            ("2000-01-01", YearMonthDay, Some(10_957.0)),
            ("01/02/2000", DayMonthYear, Some(10_988.0)),
            ("01/02/2000", MonthDayYear, Some(10_958.0)),
            ("01.02.2000 18:00", DayMonthYear, Some(10_988.75)),
            ("2000-01-01T12:00:00Z", YearMonthDay, Some(10_957.5)),
            ("2000-01-01T12:00:00+06:00", YearMonthDay, Some(10_957.25)),
            ("01/02/2000", YearMonthDay, None),
            ("soon", DayMonthYear, None),
            ("", YearMonthDay, None),
        ] {
            let form = DateForm {
                order,
                ..DateForm::CLEAR
            };
            assert_eq!(days(field, form), expected, "{field}");
        }
    }

    #[test]
    fn days_come_back_as_the_dates_they_were() {
        for text in ["2031-02-27", "2031-02-27 07:30", "1969-12-31", "2000-02-29"] {
            let found = days(text, DateForm::CLEAR).unwrap();
            assert_eq!(moment_of_days(found), text);
            assert_eq!(date_of_days(found), text[..10]);
        }
        assert_eq!(date_of_days(1e300), "");
    }

    #[test]
    fn what_only_an_order_tells_apart_is_known() {
        assert!(needs_date_order("05/01/2031"));
        assert!(!needs_date_order("2031-01-05"));
        assert!(!needs_date_order("soon"));
    }
}
