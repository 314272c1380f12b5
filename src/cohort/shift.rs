//! Dates leave shifted by whole days, by the same number for all dates of one patient.
//!
//! The days between two dates of a patient stay what they were; the calendar does not leave. The
//! number of days follows from the key and the patient's identifier, so that it is the same over
//! files, and cannot be told without the key.

use chrono::{Days, NaiveDate};

use super::dates::is_time_in_zone;
use super::pseudonym::Key;

/// Most days by which dates may be shifted.
pub const WIDEST_SHIFT: u32 = 3650;

/// A date (ISO 8601, `2031-05-17`, a time of day may follow, and its zone) moved by the days of its patient:
/// from 1 to `within_days` of them, forward or back. `None` where the text is no such date, or
/// nobody's: what else stands behind a day, such as a second date or a name, would leave as it is.
pub(super) fn shifted(key: &Key, whose: &str, field: &str, within_days: u32) -> Option<String> {
    let field = field.trim();
    if field.is_empty() {
        return Some(String::new());
    }
    let (day, time) = match field.char_indices().nth(10) {
        Some((at, _)) => field.split_at(at),
        None => (field, ""),
    };
    let is_dated = day.len() == 10 && is_time_in_zone(time);
    if !is_dated || whose.trim().is_empty() {
        return None;
    }
    let date = NaiveDate::parse_from_str(day, "%Y-%m-%d").ok()?;
    let moved = match key.days(whose, within_days) {
        back @ ..0 => date.checked_sub_days(Days::new(back.unsigned_abs())),
        on => date.checked_add_days(Days::new(on.unsigned_abs())),
    };
    Some(format!("{}{time}", moved?.format("%Y-%m-%d")))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn key() -> Key {
        Key::from_bytes(b"0123456789abcdef")
    }

    fn day(text: &str) -> NaiveDate {
        NaiveDate::parse_from_str(text, "%Y-%m-%d").unwrap()
    }

    #[test]
    fn days_between_the_dates_of_a_patient_stay() {
        for patient in ["P1", "P2", "P3", "P4"] {
            let move_one = |text| shifted(&key(), patient, text, 365).unwrap();
            let (a, b) = (move_one("2031-02-27"), move_one("2031-03-02 07:30"));
            assert!(b.ends_with(" 07:30"), "{b}");
            let days = (day(&b[..10]) - day(&a)).num_days();
            assert_eq!(days, 3);
            let moved = (day(&a) - day("2031-02-27")).num_days();
            assert!(moved != 0 && moved.abs() <= 365, "{moved}");
        }
        // Blanks around an identifier are no part of it.
        let of = |whose| shifted(&key(), whose, "2031-02-27", 365).unwrap();
        assert_eq!(of("P1"), of(" P1 "));
        assert_ne!(of("P1"), of("P2"));
    }

    #[test]
    fn what_is_no_date_is_not_shifted() {
        for text in ["27.2.2031", "2031-02-30", "soon", "2031-02-27x", "2031-2-7"] {
            assert_eq!(shifted(&key(), "P1", text, 365), None, "{text}");
        }
        assert_eq!(shifted(&key(), " ", "2031-02-27", 365), None);
        assert_eq!(shifted(&key(), "P1", " ", 365).as_deref(), Some(""));
    }

    #[test]
    fn a_time_and_its_zone_leave_with_the_day() {
        for tail in [
            "T07:30",
            " 7:30",
            " 07:30:15",
            " 07:30:15.123456789",
            " 7:30 PM",
            " 7:30:15 p.m.",
            " 7:30\u{202f}am",
            " 7:30 PM CEST",
            "T07:30Z",
            "T07:30:00.000+02:00",
            " 07:30:00 +0200",
            "T07:30+02:00[Europe/Berlin]",
            " 07:30:00 Europe/Berlin",
            " 07:30 UTC",
            " 07:30 (CET)",
        ] {
            let whole = shifted(&key(), "P1", &format!("2031-02-27{tail}"), 365);
            let day = shifted(&key(), "P1", "2031-02-27", 365).unwrap();
            assert_eq!(whole, Some(format!("{day}{tail}")), "{tail}");
        }
    }

    #[test]
    fn what_else_stands_behind_a_day_does_not_leave_with_it() {
        for tail in [
            " or 2031-05-18",
            " - 2031-05-18",
            " 2031-05-18",
            " seen by Mary",
            "Tuesday",
            "T",
            " T",
            " JD",
            " 07:30 JD",
            " 07:30 MARY",
            " 07:30 by Mary",
            " 07:30, 2031-05-18",
            " 07:30 2031-05-18",
            " 07:30-1931",
            " 07:30 [Mary]",
            " 07:30 Mary/Major",
            " 07:30 PMary",
            " 07:30 PM Mary",
            " 07:30Z Mary",
            " 07:30:15.1234567890",
            " 1234567",
            " 25:30",
            " 13:30 PM",
            ", 07:30",
            "\u{a0}07:30",
        ] {
            let field = format!("2031-02-27{tail}");
            assert_eq!(shifted(&key(), "P1", &field, 365), None, "{field}");
        }
    }
}
