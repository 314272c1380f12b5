//! Dates as the order of time, and columns whose headings are no names of the notation.

use semilunar::notebook::ask;

use super::{Columns, SHEET, answer, line, refusal};

/// Twenty-four exams, one a day, and what each gave, latest first: by its date, and by its number.
fn table(heading: &str, date: impl Fn(usize) -> String) -> Columns {
    let days: Vec<usize> = (1..=24).rev().collect();
    let value = |day: &usize| 10 + day * 7 % 5 + if *day > 20 { 40 } else { 0 };
    Columns::new()
        .with(heading, &days.iter().map(|d| date(*d)).collect::<Vec<_>>())
        .with("day", &days)
        .with("Peak flow", &days.iter().map(value).collect::<Vec<_>>())
        .with("Case no.", &days.iter().map(|d| d % 6).collect::<Vec<_>>())
        .with(
            "kept",
            &days
                .iter()
                .map(|d| if d % 4 == 0 { "no" } else { "yes" })
                .collect::<Vec<_>>(),
        )
}

fn iso(day: usize) -> String {
    format!("2031-03-{day:02}")
}

/// Dates say the order that numbers say: the same answer, under their own names.
#[test]
fn dates_are_an_order_of_time_for_every_question_along_it() {
    for question in [
        "individuals of \"Peak flow\" baseline 16",
        "ewma of \"Peak flow\" baseline 16",
        "cusum of \"Peak flow\" baseline 4 by \"Case no.\"",
        "individuals of \"Peak flow\" baseline 5 by \"Case no.\"",
        "drift of \"Peak flow\" beyond 2 by \"Case no.\"",
        "proportions of kept is yes per 6",
    ] {
        let table = table("exam at", iso);
        let ask = |along: &str| answer(&table, &format!("show {question} over rows along {along}"));
        let (by_date, by_day) = (ask("\"exam at\""), ask("day"));
        assert_eq!(by_date.lines().count(), by_day.lines().count(), "{by_date}");
        // Numbers that are no times are the same.
        let others = |text: &str, words: [&str; 2]| -> Vec<String> {
            let lines = text
                .lines()
                .filter(|l| !words.iter().any(|w| l.contains(w)));
            lines.map(str::to_owned).collect()
        };
        let other = others(&by_date, ["2031", "xam at"]);
        assert!(!other.is_empty());
        for line in other {
            assert!(by_day.contains(&line), "{line}\n{by_day}");
        }
        let is_order_alone = question.starts_with("drift");
        assert_eq!(by_date.contains("2031-03-"), !is_order_alone, "{by_date}");
    }
}

#[test]
fn a_chart_along_dates_has_them_below_and_periods_begin_at_midnight() {
    let table = table("exam at", |day| format!("2031-03-{day:02}T07:{day:02}"));
    let text = answer(
        &table,
        "show individuals of \"Peak flow\" over rows along \"exam at\" baseline 16",
    );
    assert!(
        text.contains("The limits come from the first 16 points, up to 2031-03-16."),
        "{text}"
    );
    let shares = answer(
        &table,
        "show proportions of kept is yes over rows along \"exam at\" per 6",
    );
    assert!(shares.contains("each 6 days of exam at"), "{shares}");
    for (period, kept) in [
        ("from 2031-03-01", "(5 of 6)"),
        ("from 2031-03-07", "(4 of 6)"),
        ("from 2031-03-19", "(4 of 6)"),
    ] {
        assert!(line(&shares, period).contains(kept), "{shares}");
    }
}

/// 5 March and 3 May: the order decides which is first, and is never guessed.
#[test]
fn other_orders_of_dates_are_those_of_the_binding() {
    let table = table("exam at", |day| format!("{day:02}/03/2031"));
    let question = "individuals of \"Peak flow\" along \"exam at\" baseline 16";
    let refused = refusal(&table, &format!("show {question} over rows"));
    assert!(
        refused.contains("not which of day and month comes first"),
        "{refused}"
    );
    assert!(refused.contains("date_order = \"dmy\""), "{refused}");
    let folder = tempfile::tempdir().unwrap();
    let (rows, binding) = (
        folder.path().join("rows.csv"),
        folder.path().join("rows.toml"),
    );
    std::fs::write(&rows, table.text()).unwrap();
    std::fs::write(&binding, "[file]\ndate_order = \"dmy\"\n").unwrap();
    let found = ask(SHEET, &rows, Some(&binding), question).unwrap();
    assert!(found.text.contains("2031-03-24"), "{}", found.text);
}

#[test]
fn what_is_no_time_says_what_one_is() {
    let table = table("exam at", |day| format!("day {day}"));
    let refused = refusal(
        &table,
        "show individuals of \"Peak flow\" over rows along \"exam at\"",
    );
    for words in ["has no numbers and no dates", "2031-02-27", "date_order"] {
        assert!(refused.contains(words), "{refused}");
    }
    let refused = refusal(&table, "show individuals of peak_flow over rows along day");
    assert!(
        refused.contains("did you mean `\"Peak flow\"`"),
        "{refused}"
    );
    let refused = refusal(&table, "show individuals of day over rows along exam at");
    assert!(refused.contains("stands in quotation marks"), "{refused}");
}

/// A date that cannot be read is counted, and in no chart.
#[test]
fn entries_that_are_no_dates_are_counted() {
    let table = table("exam at", |day| match day {
        3 => "unknown".to_owned(),
        day => iso(day),
    });
    let text = answer(
        &table,
        "show ewma of \"Peak flow\" over rows along \"exam at\" baseline 16",
    );
    assert!(text.contains("1 entry of exam at is no date."), "{text}");
    assert!(
        text.contains("23 analyzed of 24 rows read; left out: exam at cannot be read 1."),
        "{text}"
    );
}
