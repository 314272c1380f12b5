//! The time of a message, as ISO 8601 writes it.

use std::time::{SystemTime, UNIX_EPOCH};

/// A time in UTC with microseconds: `2026-11-25T12:00:00.000000Z`. Times before 1970 are given as
/// its beginning.
pub(super) fn utc(time: SystemTime) -> String {
    let since = time.duration_since(UNIX_EPOCH).unwrap_or_default();
    let (day, second) = (since.as_secs() / 86_400, since.as_secs() % 86_400);
    let (year, month, day) = date(day);
    let (hour, minute, second) = (second / 3600, second / 60 % 60, second % 60);
    let micro = since.subsec_micros();
    format!("{year:04}-{month:02}-{day:02}T{hour:02}:{minute:02}:{second:02}.{micro:06}Z")
}

/// Year, month and day of a number of days since 1970-01-01.
fn date(mut days: u64) -> (u64, u64, u64) {
    let mut year = 1970;
    loop {
        let length = 365 + u64::from(is_leap(year));
        if days < length {
            break;
        }
        days -= length;
        year += 1;
    }
    let mut month = 1;
    loop {
        let length = match month {
            2 => 28 + u64::from(is_leap(year)),
            4 | 6 | 9 | 11 => 30,
            _ => 31,
        };
        if days < length {
            return (year, month, days + 1);
        }
        days -= length;
        month += 1;
    }
}

fn is_leap(year: u64) -> bool {
    year.is_multiple_of(4) && (!year.is_multiple_of(100) || year.is_multiple_of(400))
}

#[cfg(test)]
mod tests {
    use std::time::Duration;

    use super::*;

    /// Seconds as GNU `date --utc --date=… +%s` gives them.
    #[test]
    fn dates_are_those_of_the_calendar() {
        let at = |seconds| utc(UNIX_EPOCH + Duration::from_secs(seconds));
        assert_eq!(at(0), "1970-01-01T00:00:00.000000Z");
        assert_eq!(at(951_782_400), "2000-02-29T00:00:00.000000Z");
        assert_eq!(at(1_767_225_599), "2025-12-31T23:59:59.000000Z");
        assert_eq!(at(4_107_542_400), "2100-03-01T00:00:00.000000Z");
    }
}
