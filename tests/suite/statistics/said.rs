//! What an answer says beside its numbers: groups without a name, what error took away, intervals that a heading promises.

use super::{Columns, answer, line};

/// Forty rows of twenty patients; every fifth row names nobody.
fn table() -> Columns {
    let rows = 0..40_u32;
    let who = rows
        .clone()
        .map(|i| ["A", "B", "A", "B", ""][i as usize % 5]);
    let start = rows.clone().map(|i| f64::from(40 + i % 7));
    let end = rows
        .clone()
        .map(|i| f64::from(40 + i % 7) * (1.0 + f64::from(i % 9) / 20.0));
    Columns::new()
        .with(
            "patient",
            &rows
                .clone()
                .map(|i| format!("P{}", i / 2))
                .collect::<Vec<_>>(),
        )
        .with("who", &who.collect::<Vec<_>>())
        .with("day", &rows.clone().map(|i| i + 1).collect::<Vec<_>>())
        .with("start [mL]", &start.collect::<Vec<_>>())
        .with("end [mL]", &end.collect::<Vec<_>>())
        .with(
            "change [%]",
            &rows.clone().map(|i| 5 * (i % 9)).collect::<Vec<_>>(),
        )
        .with(
            "index",
            &rows.map(|i| 9 - i % 9 + i % 2).collect::<Vec<_>>(),
        )
}

/// Groups and those in none add up to all.
#[test]
fn rows_in_no_group_have_a_line_or_a_count() {
    let text = answer(&table(), "show completeness of start over rows by who");
    for (group, rows) in [("A —", 16), ("B —", 16), ("not said —", 8), ("all —", 40)] {
        assert!(
            line(&text, group).contains(&format!("Rows: {rows};")),
            "{text}"
        );
    }
    let text = answer(&table(), "show digits of start to 1 mL over rows by who");
    assert!(line(&text, "not said —").contains("of 8)"), "{text}");
    let text = answer(
        &table(),
        "show cusum of start over rows along day baseline 5 by who",
    );
    assert!(line(&text, "not said —").contains("Values: 8"), "{text}");
    let text = answer(&table(), "show funnel of start over rows by who");
    assert!(
        text.contains("32 rows") && text.contains("left out: who not said 8"),
        "{text}"
    );
    assert_eq!(
        line(&text, "not said —").trim(),
        "not said — Rows: 8; Where: not compared"
    );
    let text = answer(
        &table(),
        "show drift of start beyond 2 mL over rows by who along day",
    );
    assert!(text.contains("left out: who not said 8"), "{text}");
}

/// An area that grows in the draws has lost nothing to error.
#[test]
fn what_error_takes_from_an_area_is_said_only_where_it_takes() {
    let ask = |index: &str| {
        answer(
            &table(),
            &format!("show roc of {index} against change > 20 % over rows error of 20 %"),
        )
    };
    let (with, against) = (ask("low index"), ask("index"));
    let (lost, kept) = (
        "what an area loses in the draws",
        "No area is smaller in the draws",
    );
    assert!(with.contains(lost) && !with.contains(kept), "{with}");
    assert!(
        against.contains(kept) && !against.contains(lost),
        "{against}"
    );
}

/// The heading promises intervals of all forms.
#[test]
fn the_median_of_the_per_cents_has_an_interval() {
    let text = answer(&table(), "show change of start, end over rows by patient");
    // Changes of 0 to 15 % five times each and of 20 to 40 % four times each: the middle two of forty are 15 and 20 %.
    assert!(
        line(&text, "Median of the per cents").contains("17.5 ("),
        "{text}"
    );
    assert!(
        text.contains(
            "The median's interval is a bootstrap's: 2000 resamples, seed 1, whole patients drawn."
        ),
        "{text}"
    );
    let text = answer(&table(), "show change of start, end over rows");
    assert!(text.contains("2000 resamples, seed 1."), "{text}");
}

/// What takes rows as independent says so.
#[test]
fn rows_that_are_taken_as_independent_are_named() {
    let text = answer(&table(), "show repeatability of start, end over rows");
    assert!(
        text.contains("where patients repeat, the intervals are too narrow"),
        "{text}"
    );
    for statement in [
        "show individuals of start over rows along day",
        "show ewma of start over rows along day baseline 20",
        "show cusum of start over rows along day baseline 20",
    ] {
        let text = answer(&table(), statement);
        assert!(
            text.contains("where those are exams of one patient it is too small"),
            "{text}"
        );
    }
}
