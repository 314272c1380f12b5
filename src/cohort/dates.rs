//! Dates in the order that a binding states, into ISO 8601.

use chrono::{NaiveDate, NaiveDateTime, NaiveTime};

use super::zones::is_zone;

/// The order of day, month and year.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum DateOrder {
    DayMonthYear,
    MonthDayYear,
    YearMonthDay,
}

impl DateOrder {
    /// Each of them.
    pub(super) const ALL: [DateOrder; 3] = [
        DateOrder::YearMonthDay,
        DateOrder::DayMonthYear,
        DateOrder::MonthDayYear,
    ];

    /// The order that a binding file names.
    ///
    /// # Errors
    /// Another word.
    pub(super) fn from_word(word: &str) -> Result<DateOrder, String> {
        let found = DateOrder::ALL
            .into_iter()
            .find(|order| order.word() == word);
        found.ok_or_else(|| format!("date_order is \"dmy\", \"mdy\" or \"ymd\", not `{word}`"))
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

/// How dates are written, as far as a binding says it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct DateForm {
    pub(super) order: DateOrder,
    /// The first of the hundred years that two digits stand for; years of two digits are refused without it.
    pub(super) years_from: Option<u16>,
}

impl DateForm {
    /// Dates that can be read in one way only.
    pub(super) const CLEAR: DateForm = DateForm {
        order: DateOrder::YearMonthDay,
        years_from: None,
    };

    /// Dates in each order, with two digits for the hundred years from this one on.
    pub(super) fn in_each_order(years_from: Option<u16>) -> [DateForm; 3] {
        DateOrder::ALL.map(|order| DateForm { order, years_from })
    }

    /// The year that digits stand for.
    fn year(self, digits: &str) -> Option<i32> {
        let number: i32 = digits.parse().ok()?;
        match (digits.len(), self.years_from) {
            (4, _) => Some(number),
            (2, Some(from)) => {
                let from = i32::from(from);
                Some(from + (number - from).rem_euclid(100))
            }
            _ => None,
        }
    }
}

/// A date taken apart: the day, and the text of the time that follows it.
#[derive(Debug, PartialEq, Eq)]
pub(super) struct Dated<'t> {
    pub(super) day: NaiveDate,
    pub(super) time: &'t str,
}

/// The date at the start of a text: ISO 8601 always, with an English name of the month in any order (`3 Mar 2031`, `03-MAR-2031`,
/// `March 3, 2031`), or in the form's order with points, slashes or hyphens between. Of which century 31 would be is not guessed.
pub(super) fn dated(text: &str, form: DateForm) -> Option<Dated<'_>> {
    let text = text.trim();
    let (pieces, time) = pieces(text)?;
    let day = pieces.day(form)?;
    let time = time.trim_start_matches(',');
    (time.is_empty() || time.starts_with([' ', 'T'])).then_some(Dated { day, time })
}

/// The three pieces of a date, as they stand.
struct Pieces<'t>([&'t str; 3]);

/// Takes three pieces of digits or letters off a text; what is left may be a time.
fn pieces(text: &str) -> Option<(Pieces<'_>, &str)> {
    let mut found = [""; 3];
    let mut marks = [""; 2];
    let mut rest = text;
    for at in 0..3 {
        if at > 0 {
            let end = rest.find(|c: char| c.is_ascii_alphanumeric())?;
            (marks[at - 1], rest) = rest.split_at(end);
        }
        let is_digit = rest.starts_with(|c: char| c.is_ascii_digit());
        let is_other = |c: char| match is_digit {
            true => !c.is_ascii_digit(),
            false => !c.is_ascii_alphabetic(),
        };
        let end = rest.find(is_other).unwrap_or(rest.len());
        (found[at], rest) = rest.split_at(end);
    }
    let has_name = found.iter().any(|piece| month_named(piece).is_some());
    let is_mark = |mark: &str| match has_name {
        true => ["", " ", "-", "/", ".", ". ", ", ", ","].contains(&mark),
        false => ["-", "/", "."].contains(&mark) && mark == marks[0],
    };
    let is_apart = found.iter().all(|piece| !piece.is_empty()) && marks.iter().all(|m| is_mark(m));
    is_apart.then_some((Pieces(found), rest))
}

impl Pieces<'_> {
    fn day(&self, form: DateForm) -> Option<NaiveDate> {
        let [a, b, c] = self.0;
        let (year, month, day) = match (month_named(a), month_named(b)) {
            (Some(month), None) => (c, month, b),
            (None, Some(month)) if a.len() == 4 => (a, month, c),
            (None, Some(month)) => (c, month, a),
            (Some(_), Some(_)) => return None,
            (None, None) => {
                let (year, month, day) = match (a.len(), form.order) {
                    (4, _) | (_, DateOrder::YearMonthDay) => (a, b, c),
                    (_, DateOrder::DayMonthYear) => (c, b, a),
                    (_, DateOrder::MonthDayYear) => (c, a, b),
                };
                (year, short_number(month)?, day)
            }
        };
        NaiveDate::from_ymd_opt(form.year(year)?, month, short_number(day)?)
    }
}

/// A number of one or two digits.
fn short_number(digits: &str) -> Option<u32> {
    let is_short = matches!(digits.len(), 1 | 2) && digits.bytes().all(|b| b.is_ascii_digit());
    digits.parse().ok().filter(|_| is_short)
}

/// Months in English.
const MONTHS: [&str; 12] = [
    "january",
    "february",
    "march",
    "april",
    "may",
    "june",
    "july",
    "august",
    "september",
    "october",
    "november",
    "december",
];

/// The month that an English name, or its first three letters (`sept` too), stands for.
fn month_named(text: &str) -> Option<u32> {
    let is_said = |name: &str| {
        let short = [name, &name[..3]].map(|said| text.eq_ignore_ascii_case(said));
        short.contains(&true) || (name == "september" && text.eq_ignore_ascii_case("sept"))
    };
    let at = MONTHS.iter().position(|name| is_said(name))?;
    u32::try_from(at + 1).ok()
}

/// Whether a text starts with a date in one order or another.
pub(super) fn is_dated_in_any_order(text: &str, years_from: Option<u16>) -> bool {
    let mut forms = DateForm::in_each_order(years_from).into_iter();
    forms.any(|form| dated(text, form).is_some())
}

/// What a person can do about a text that was not read as a date with its time of day, to put behind the words that refuse it.
pub(super) fn way_out(text: &str, form: DateForm) -> &'static str {
    if dated(text, form).is_some() {
        return "; its day is read, its time of day is not: that is written as 07:30, 07:30:15 or 7:30 PM";
    }
    let is_read = |years_from| is_dated_in_any_order(text, years_from);
    if form.years_from.is_none() && !is_read(None) && is_read(Some(2000)) {
        return "; its year has two digits: say which hundred years they stand for, such as `[file]` with `two_digit_years_from = 1970` for 1970 to 2069";
    }
    match is_read(form.years_from) {
        true => "; other orders of day, month and year are said as `[file]` with `date_order`",
        false => "",
    }
}

/// The date in ISO 8601, with its time of day in the same where that can be read and as it stands where it cannot; `None` where the
/// text is no date in the form.
pub(super) fn iso(text: &str, form: DateForm) -> Option<String> {
    let Dated { day, time } = dated(text, form)?;
    let day = day.format("%Y-%m-%d");
    Some(match time_of_day(time) {
        Some(found) if !is_iso_time(time.as_bytes()) => {
            let mark = if time.starts_with('T') { 'T' } else { ' ' };
            format!("{day}{mark}{}", found.written)
        }
        _ => format!("{day}{time}"),
    })
}

/// A date with its time of day; midnight where no time follows.
pub(super) fn moment(text: &str, form: DateForm) -> Option<NaiveDateTime> {
    let Dated { day, time } = dated(text, form)?;
    match time.trim_start_matches('T').trim() {
        "" => Some(day.and_time(NaiveTime::MIN)),
        // What is so far from universal time is not compared with what says nothing of it.
        _ => time_of_day(time)
            .filter(|found| !found.is_universal)
            .map(|found| day.and_time(found.time)),
    }
}

/// Whether a text has the form of a date of ISO 8601, with or without a time of day, which [`iso`] would leave as it stands.
pub(super) fn is_in_iso_form(text: &str) -> bool {
    match text.as_bytes() {
        [c, y, a, r, b'-', m, n, b'-', d, e, time @ ..] => {
            are_digits([c, y, a, r, m, n, d, e]) && is_iso_time(time)
        }
        _ => false,
    }
}

/// Whether a text behind a date has the form of a time of day of ISO 8601, or is nothing.
fn is_iso_time(text: &[u8]) -> bool {
    match text {
        [] => true,
        [b'T' | b' ', h, i, b':', m, n] => are_digits([h, i, m, n]),
        [b'T' | b' ', h, i, b':', m, n, b':', s, t] => are_digits([h, i, m, n, s, t]),
        [b'T' | b' ', h, i, b':', m, n, b':', s, t, b'.', _, ..] => {
            are_digits([h, i, m, n, s, t]) && text[10..].iter().all(u8::is_ascii_digit)
        }
        _ => false,
    }
}

/// All at once, without a branch for each: most tables hold many dates.
fn are_digits<const N: usize>(bytes: [&u8; N]) -> bool {
    let digits = bytes.map(|byte| byte.wrapping_sub(b'0'));
    digits.into_iter().fold(0, u8::max) < 10
}

/// A time of day, and how ISO 8601 writes it.
struct TimeOfDay {
    time: NaiveTime,
    written: String,
    /// Whether its distance from universal time stands behind it.
    is_universal: bool,
}

/// The time of day in a text behind a date, by either clock: `07:30`, `7:30:15`, `7:30 PM`, `7:30 p.m.`; a distance from universal time
/// may follow one of twenty-four hours.
fn time_of_day(text: &str) -> Option<TimeOfDay> {
    let text = text.trim_start_matches(['T', ' ']).trim();
    let (clock, distance) = match text.find(['Z', 'z', '+', '-']) {
        Some(at) => text.split_at(at),
        None => (text, ""),
    };
    let half = HALVES.iter().find_map(|(ending, half)| {
        let start = clock.len().checked_sub(ending.len())?;
        let (rest, end) = clock.split_at_checked(start)?;
        end.eq_ignore_ascii_case(ending)
            .then_some((rest.trim_end(), *half))
    });
    let time = match half {
        Some((clock, half)) => {
            let clock = format!("{clock} {half}");
            ["%I:%M %p", "%I:%M:%S%.f %p"]
                .iter()
                .find_map(|form| NaiveTime::parse_from_str(&clock, form).ok())?
        }
        None => ["%H:%M", "%H:%M:%S%.f"]
            .iter()
            .find_map(|form| NaiveTime::parse_from_str(clock.trim_end(), form).ok())?,
    };
    let is_universal = !distance.is_empty();
    if is_universal && (half.is_some() || !is_distance(distance)) {
        return None;
    }
    // A time with its distance has seconds (RFC 3339).
    let form = match clock.matches(':').count() {
        1 if !is_universal => "%H:%M",
        _ => "%H:%M:%S%.f",
    };
    Some(TimeOfDay {
        written: format!("{}{}", time.format(form), distance.to_ascii_uppercase()),
        time,
        is_universal,
    })
}

/// Whether a text behind a day is nothing, or a time of that day by either clock, whose zone may follow.
pub(super) fn is_time_in_zone(text: &str) -> bool {
    let Some(text) = text.strip_prefix(['T', ' ']) else {
        return text.is_empty();
    };
    let text = text.trim();
    let is_of_clock = |c: char| c.is_ascii_digit() || c.is_whitespace() || matches!(c, ':' | '.');
    let end = text.find(|c| !is_of_clock(c)).unwrap_or(text.len());
    let (clock, zone) = text.split_at(end + half_length(&text[end..]));
    // Of a fraction no digit behind the ninth is read.
    let mut digits = clock.split(|c: char| !c.is_ascii_digit());
    digits.all(|digits| digits.len() <= 9)
        && time_of_day(clock).is_some()
        && (zone.is_empty() || is_zone(zone.trim_start()))
}

/// The length of the half of the day that a text starts with; 0 where it starts with none.
fn half_length(text: &str) -> usize {
    let is_first = |ending: &&str| {
        let parts = text.split_at_checked(ending.len());
        parts.is_some_and(|(half, rest)| {
            half.eq_ignore_ascii_case(ending) && !rest.starts_with(char::is_alphanumeric)
        })
    };
    let mut endings = HALVES.iter().map(|(ending, _)| *ending);
    endings.find(is_first).map_or(0, str::len)
}

/// How the halves of the day are told.
const HALVES: [(&str, &str); 4] = [("p.m.", "PM"), ("a.m.", "AM"), ("pm", "PM"), ("am", "AM")];

/// Whether a text is a distance from universal time, as `Z` and `+02:00`.
fn is_distance(text: &str) -> bool {
    match text.as_bytes() {
        [b'Z' | b'z'] => true,
        [b'+' | b'-', h, i, b':', m, n] => [h, i, m, n].iter().all(|byte| byte.is_ascii_digit()),
        _ => false,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn form(order: DateOrder) -> DateForm {
        DateForm {
            order,
            years_from: None,
        }
    }

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
            assert_eq!(
                iso(text, form(order)).as_deref(),
                Some("2031-02-27"),
                "{text}"
            );
        }
        assert_eq!(
            iso("27.02.2031 07:30", form(DayMonthYear)).as_deref(),
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
            assert_eq!(iso(text, form(order)), None, "{text}");
        }
    }

    #[test]
    fn a_time_of_day_follows_in_either_clock() {
        let at = |text: &str| {
            let found = moment(text, form(DateOrder::MonthDayYear))?;
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
        // What is compared as a time of the place says nothing of universal time.
        assert_eq!(at("2031-02-27T07:30:00Z"), None);
    }

    /// Times of day by either clock become those of ISO 8601; noon is 12 PM, midnight 12 AM (common practice, no source).
    #[test]
    fn times_of_day_become_those_of_iso_8601() {
        for (text, expected) in [
            ("2/27/2031 1:35 PM", "2031-02-27 13:35"),
            ("2/27/2031 9:35 AM", "2031-02-27 09:35"),
            ("2/27/2031 12:00 PM", "2031-02-27 12:00"),
            ("2/27/2031 12:10am", "2031-02-27 00:10"),
            ("2/27/2031, 1:35:20 p.m.", "2031-02-27 13:35:20"),
            ("2/27/2031 8:47", "2031-02-27 08:47"),
            ("2031-02-27T8:47:05", "2031-02-27T08:47:05"),
            ("2031-02-27 07:30", "2031-02-27 07:30"),
            ("2031-02-27 07:30:15.5", "2031-02-27 07:30:15.5"),
            ("2031-02-27T07:30+02:00", "2031-02-27T07:30:00+02:00"),
            ("2031-02-27T07:30Z", "2031-02-27T07:30:00Z"),
            ("2031-02-27T07:30:15-08:00", "2031-02-27T07:30:15-08:00"),
            ("2/27/2031", "2031-02-27"),
            // What is no time of day stays as it stands.
            ("2/27/2031 25:00", "2031-02-27 25:00"),
            ("2/27/2031 13:35 PM", "2031-02-27 13:35 PM"),
            ("2/27/2031 soon", "2031-02-27 soon"),
        ] {
            let found = iso(text, form(DateOrder::MonthDayYear));
            assert_eq!(found.as_deref(), Some(expected), "{text}");
        }
    }

    /// What is not written anew because of its form alone is what would come of it.
    #[test]
    fn what_has_the_form_of_iso_8601_is_left_as_it_stands() {
        for text in [
            "2031-02-27",
            "2031-02-30",
            "2031-02-27 07:30",
            "2031-02-27T07:30:15",
            "2031-02-27 07:30:15.5",
            "2031-02-27 25:61",
        ] {
            assert!(is_in_iso_form(text), "{text}");
            for form in DateForm::in_each_order(Some(1970)) {
                let written = iso(text, form);
                assert!(written.is_none_or(|written| written == text), "{text}");
            }
        }
        for text in [
            "",
            "2031-2-27",
            " 2031-02-27",
            "2031-02-27 ",
            "2031-02-27 7:30",
            "2031-02-27 07:30:15.",
            "2031-02-27 07:30:15.x",
            "2031-02-27T07:30Z",
            "2031-02-27x07:30",
            "2031/02/27",
        ] {
            assert!(!is_in_iso_form(text), "{text}");
        }
    }

    /// Forms of dates with names of months as hospital exports have them (common practice, no source).
    #[test]
    fn months_may_have_their_english_names() {
        for text in [
            "3 Mar 2031",
            "03-MAR-2031",
            "3 March 2031",
            "Mar 3, 2031",
            "march 3 2031",
            "03/mar/2031",
            "3. Mar 2031",
            "03MAR2031",
            "2031-Mar-03",
        ] {
            for order in [DateOrder::DayMonthYear, DateOrder::YearMonthDay] {
                assert_eq!(
                    iso(text, form(order)).as_deref(),
                    Some("2031-03-03"),
                    "{text}"
                );
            }
        }
        assert_eq!(
            iso("14 Sept 2031", DateForm::CLEAR).as_deref(),
            Some("2031-09-14")
        );
        assert_eq!(
            iso("03-MAR-2031 07:30", DateForm::CLEAR).as_deref(),
            Some("2031-03-03 07:30")
        );
        for text in [
            "3 Mär 2031",
            "3 Marc 2031",
            "30 Feb 2031",
            "Mar May 2031",
            "3 2031 Mar",
            "3 Mar",
            "Mar 2031",
            "3 - Mar 2031",
            "May",
        ] {
            assert_eq!(iso(text, DateForm::CLEAR), None, "{text}");
        }
    }

    #[test]
    fn years_of_two_digits_take_a_stated_hundred_years() {
        let from = |order, years_from| DateForm {
            order,
            years_from: Some(years_from),
        };
        let of_1970 = from(DateOrder::DayMonthYear, 1970);
        for (text, form, expected) in [
            ("27.02.31", of_1970, "2031-02-27"),
            ("27.02.69", of_1970, "2069-02-27"),
            ("27.02.70", of_1970, "1970-02-27"),
            ("27-Feb-99", of_1970, "1999-02-27"),
            ("27.02.2131", of_1970, "2131-02-27"),
            ("2/27/00", from(DateOrder::MonthDayYear, 2000), "2000-02-27"),
            (
                "31/02/27",
                from(DateOrder::YearMonthDay, 2000),
                "2031-02-27",
            ),
        ] {
            assert_eq!(iso(text, form).as_deref(), Some(expected), "{text}");
        }
        assert_eq!(iso("27.02.131", of_1970), None);
    }

    #[test]
    fn what_can_be_done_about_a_date_is_said() {
        let clear = |text| way_out(text, DateForm::CLEAR);
        assert!(clear("27.02.31").contains("two_digit_years_from"));
        assert!(clear("27-Feb-31").contains("two_digit_years_from"));
        assert!(clear("27.02.2031").contains("date_order"));
        assert_eq!(clear("yesterday"), "");
        assert_eq!(clear("30.02.2031"), "");
        for text in ["2031-02-27 25:00", "2031-02-27 13:35 PM"] {
            let said = clear(text);
            assert!(said.contains("its time of day is not"), "{said}");
            assert!(!said.contains("date_order"), "{said}");
        }
        let stated = DateForm {
            years_from: Some(1970),
            ..DateForm::CLEAR
        };
        assert!(way_out("27.02.31", stated).contains("date_order"));
    }
}
