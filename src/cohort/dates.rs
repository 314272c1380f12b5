//! Dates in the order that a binding states, into ISO 8601.

use chrono::{NaiveDate, NaiveDateTime, NaiveTime};

/// The order of day, month and year.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum DateOrder {
    DayMonthYear,
    MonthDayYear,
    YearMonthDay,
}

impl DateOrder {
    /// The order that a binding file names.
    ///
    /// # Errors
    /// Another word.
    pub(super) fn from_word(word: &str) -> Result<DateOrder, String> {
        match word {
            "dmy" => Ok(DateOrder::DayMonthYear),
            "mdy" => Ok(DateOrder::MonthDayYear),
            "ymd" => Ok(DateOrder::YearMonthDay),
            other => Err(format!(
                "date_order is \"dmy\", \"mdy\" or \"ymd\", not `{other}`"
            )),
        }
    }

    /// The word of a binding file.
    pub(super) fn word(self) -> &'static str {
        match self {
            DateOrder::DayMonthYear => "dmy",
            DateOrder::MonthDayYear => "mdy",
            DateOrder::YearMonthDay => "ymd",
        }
    }
}

/// A date taken apart: the day, and the text of the time that follows it.
#[derive(Debug, PartialEq, Eq)]
pub(super) struct Dated<'t> {
    pub(super) day: NaiveDate,
    pub(super) time: &'t str,
}

/// The date at the start of a text: ISO 8601 always, or in the order with points, slashes or
/// hyphens between. A year has four digits: of which century 31 would be is not guessed.
pub(super) fn dated(text: &str, order: DateOrder) -> Option<Dated<'_>> {
    let text = text.trim();
    let end = text
        .find(|c: char| !c.is_ascii_digit() && !matches!(c, '.' | '/' | '-'))
        .unwrap_or(text.len());
    let (day, time) = text.split_at(end);
    let mark = day.chars().find(|c| !c.is_ascii_digit())?;
    let parts: Vec<&str> = day.split(mark).collect();
    let [a, b, c] = parts[..] else {
        return None;
    };
    let (year, month, day) = match (a.len(), order) {
        (4, _) => (a, b, c),
        (_, DateOrder::DayMonthYear) => (c, b, a),
        (_, DateOrder::MonthDayYear) => (c, a, b),
        (_, DateOrder::YearMonthDay) => return None,
    };
    if year.len() != 4 || !(1..=2).contains(&month.len()) || !(1..=2).contains(&day.len()) {
        return None;
    }
    let day = NaiveDate::from_ymd_opt(year.parse().ok()?, month.parse().ok()?, day.parse().ok()?)?;
    let time = time.trim_start_matches(',');
    (time.is_empty() || time.starts_with([' ', 'T'])).then_some(Dated { day, time })
}

/// The date in ISO 8601 with the time of day as it stands; `None` where the text is no date in the
/// order.
pub(super) fn iso(text: &str, order: DateOrder) -> Option<String> {
    let Dated { day, time } = dated(text, order)?;
    Some(format!("{}{time}", day.format("%Y-%m-%d")))
}

/// A date with its time of day; midnight where no time follows.
pub(super) fn moment(text: &str, order: DateOrder) -> Option<NaiveDateTime> {
    let Dated { day, time } = dated(text, order)?;
    let time = time.trim_start_matches(['T', ' ']).trim();
    if time.is_empty() {
        return Some(day.and_time(NaiveTime::MIN));
    }
    let forms = ["%H:%M", "%H:%M:%S%.f", "%I:%M %p", "%I:%M:%S %p"];
    let time = forms
        .iter()
        .find_map(|form| NaiveTime::parse_from_str(time, form).ok())?;
    Some(day.and_time(time))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// 27 February 2031, as ISO 8601 and in the orders that Unicode CLDR 45 gives for de (dmy, from
    /// memory), en-US (mdy) and sv (ymd).
    #[test]
    fn dates_of_several_orders_come_to_one() {
        use DateOrder::{DayMonthYear, MonthDayYear, YearMonthDay};
        for (text, order) in [
            ("27.02.2031", DayMonthYear),
            ("27.2.2031", DayMonthYear),
            ("27/02/2031", DayMonthYear),
            ("2/27/2031", MonthDayYear),
            ("02-27-2031", MonthDayYear),
            ("2031/02/27", YearMonthDay),
            ("2031-02-27", MonthDayYear),
        ] {
            assert_eq!(iso(text, order).as_deref(), Some("2031-02-27"), "{text}");
        }
        assert_eq!(
            iso("27.02.2031 07:30", DayMonthYear).as_deref(),
            Some("2031-02-27 07:30")
        );
    }

    #[test]
    fn what_is_no_date_in_the_order_is_none() {
        use DateOrder::{DayMonthYear, MonthDayYear, YearMonthDay};
        for (text, order) in [
            ("27.02.31", DayMonthYear),
            ("27/02/2031", MonthDayYear),
            ("30.02.2031", DayMonthYear),
            ("27.02.2031", YearMonthDay),
            ("27.02-2031", DayMonthYear),
            ("27. Februar 2031", DayMonthYear),
            ("27.02.2031x", DayMonthYear),
            ("", DayMonthYear),
            ("2031", DayMonthYear),
        ] {
            assert_eq!(iso(text, order), None, "{text}");
        }
    }

    #[test]
    fn a_time_of_day_follows_in_either_clock() {
        let at = |text: &str| {
            let found = moment(text, DateOrder::MonthDayYear)?;
            Some(found.format("%Y-%m-%dT%H:%M:%S").to_string())
        };
        assert_eq!(at("2/27/2031").as_deref(), Some("2031-02-27T00:00:00"));
        assert_eq!(
            at("2/27/2031 7:30 PM").as_deref(),
            Some("2031-02-27T19:30:00")
        );
        assert_eq!(
            at("2031-02-27T07:30:15").as_deref(),
            Some("2031-02-27T07:30:15")
        );
        assert_eq!(
            at("2/27/2031, 07:30").as_deref(),
            Some("2031-02-27T07:30:00")
        );
        assert_eq!(at("2/27/2031 25:30"), None);
    }
}
