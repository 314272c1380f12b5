//! Small numbers, shifts and zero doses are said; what cannot be asked says what is missing and the way out.

use super::{Columns, answer, line, refusal};

fn few(rows: u32, patients: u32) -> Columns {
    let all = 0..rows;
    Columns::new()
        .with(
            "patient",
            &all.clone()
                .map(|i| format!("P{}", i % patients))
                .collect::<Vec<_>>(),
        )
        .with(
            "who",
            &all.clone()
                .map(|i| ["A", "B"][i as usize % 2])
                .collect::<Vec<_>>(),
        )
        .with("day", &all.clone().map(|i| i + 1).collect::<Vec<_>>())
        .with(
            "start [mL]",
            &all.clone().map(|i| 40 + i * 3 % 11).collect::<Vec<_>>(),
        )
        .with(
            "end [mL]",
            &all.clone().map(|i| 44 + i * 5 % 13).collect::<Vec<_>>(),
        )
        .with(
            "change [%]",
            &all.clone().map(|i| 12 + i * 7 % 10).collect::<Vec<_>>(),
        )
        .with("same [mL]", &all.clone().map(|_| 500).collect::<Vec<_>>())
        .with("kept", &all.map(|_| "yes").collect::<Vec<_>>())
}

#[test]
fn shares_of_few_rows_or_patients_are_cautioned() {
    let text = answer(
        &few(6, 6),
        "show responders of change at 10 % over rows by patient",
    );
    assert!(
        text.contains("a share of fewer than 20") && text.contains("Change (6 rows)"),
        "{text}"
    );
    let text = answer(
        &few(24, 3),
        "show responders of change at 20 % over rows by patient",
    );
    assert!(text.contains("Change (24 rows of 3 patients)"), "{text}");
    assert!(
        text.contains("24 rows come from 3 patients, whose rows are alike"),
        "{text}"
    );
    assert!(text.contains("fewer than 5 rows on one side"), "{text}");
    let text = answer(
        &few(6, 6),
        "show completeness of kept is yes over rows by who",
    );
    assert!(
        text.contains("all (6 rows); A (3 rows); B (3 rows)"),
        "{text}"
    );
    let text = answer(&few(40, 40), "show completeness of kept is yes over rows");
    assert!(!text.contains("Small numbers"), "{text}");
    let text = answer(&few(15, 15), "show change of start, end over rows");
    assert!(text.contains("Only 15 pairs: fewer than 30"), "{text}");
}

/// Repeats 10 % higher than their firsts, scattered by 2 to 3 %.
#[test]
fn a_shift_of_the_repeats_is_told_and_stays_error() {
    let rows = 0..40_u32;
    let table = Columns::new()
        .with(
            "change [%]",
            &rows
                .clone()
                .map(|i| f64::from(10 + i * 7 % 9) - 4.0)
                .collect::<Vec<_>>(),
        )
        .with(
            "what",
            &rows
                .map(|i| if i < 30 { "repeat" } else { "fluid" })
                .collect::<Vec<_>>(),
        );
    let text = answer(
        &table,
        "show responders of change at 15 % over rows where what is fluid error from what is repeat",
    );
    // numpy and scipy over log1p of the thirty repeats: mean, its t interval and 1.96 times the deviation about it.
    assert!(
        text.contains(
            "the repeats lie 9.97 % from their firsts on average (95 % interval 8.98 to 11.0 %)"
        ),
        "{text}"
    );
    assert!(text.contains("on average they lie 9.97 % higher than their firsts. About their own mean the least significant change is 4.75 %"), "{text}");
    let steady = answer(
        &few(40, 40),
        "show responders of change at 15 % over rows error of 11 %",
    );
    assert!(!steady.contains("shift"), "{steady}");
}

#[test]
fn a_dose_of_zero_stands_by_itself() {
    let rows = 0..60_u32;
    let dose = |i: u32| match i {
        0..20 => 0,
        20..26 => 50,
        _ => 100 + i * 37,
    };
    let table = Columns::new()
        .with("dose [mL]", &rows.clone().map(dose).collect::<Vec<_>>())
        .with(
            "change [%]",
            &rows.map(|i| 5 + i * 7 % 10).collect::<Vec<_>>(),
        );
    let text = answer(
        &table,
        "show dose_response of change against dose over rows",
    );
    assert!(line(&text, "0 mL —").contains("Rows: 20;"), "{text}");
    // Forty doses above zero in five groups: six times 50 mL, then from 100 + 26 · 37 mL on.
    assert!(text.contains("Medians of groups of doses"), "{text}");
    assert!(
        line(&text, "50 to 1099 mL —").contains("Rows: 8;"),
        "{text}"
    );
    let words = "Fewer than 10 values at a dose, so that the interval of its median is a rough guide: 50 to 1099 mL (8)";
    assert!(text.contains(words), "{text}");
    let refused = refusal(
        &few(30, 30),
        "show dose_response of change against same over rows",
    );
    assert!(
        refused.contains("same is 500 mL in all 30 rows"),
        "{refused}"
    );
}

#[test]
fn what_is_missing_is_named_with_the_way_out() {
    let ask = |what: &str| refusal(&few(8, 8), &format!("show {what}"));
    let refused = ask("ewma of start over rows along day baseline 40");
    assert!(
        refused.contains("a baseline of the first 40 values needs as many, and there are 8 values"),
        "{refused}"
    );
    assert!(refused.contains("from 3 to 8"), "{refused}");
    let refused = ask("proportions of kept is yes over rows along day per 2 baseline 9");
    assert!(
        refused.contains("the first 9 periods needs as many, and there are 4 periods"),
        "{refused}"
    );
    let refused = ask("funnel of kept is yes over rows by who");
    assert!(
        refused.contains("kept is yes in every one of 8 rows") && !refused.contains("target"),
        "{refused}"
    );
    let refused = ask("digits of start to 0.3 mL over rows where start < 41 mL and start > 40 mL");
    assert!(refused.contains("meets the conditions"), "{refused}");
    let refused = ask("digits of start to 90 mL over rows");
    assert!(
        refused.contains("whole number of steps of 90 mL"),
        "{refused}"
    );
    let refused = ask("roc of start against change > 15 over rows");
    assert!(
        refused.contains("a bare 15 would be 1500 %") && refused.contains("`15 %`"),
        "{refused}"
    );
    let refused = ask("jumps of start, end beyond 15 over rows");
    assert!(
        refused.contains("a bare 15 would be 1500 % of the first reading"),
        "{refused}"
    );
    // `fluid_per_weight` asks a finding that nobody states.
    let refused = ask("dose_response of change against fluid_per_weight over rows");
    assert!(
        refused.contains("`fluid_weight_basis`")
            && refused.contains("the weight basis is not stated"),
        "{refused}"
    );
    let refused = ask("responders of cardiac_output at 5 L/min over rows");
    assert!(refused.contains("gives `heart_rate`"), "{refused}");
    let said = answer(
        &few(8, 8),
        "show digits of cardiac_output to 0.1 L/min over rows if recorded",
    );
    assert!(
        said.contains("no column for heart_rate, which cardiac_output rests on"),
        "{said}"
    );
}

#[test]
fn repeatability_has_the_intervals_that_its_heading_promises() {
    let text = answer(&few(30, 30), "show repeatability of start, end over rows");
    for measure in ["Coefficient of variation —", "Least significant change —"] {
        let found = line(&text, measure);
        assert!(found.contains(" (") && found.contains(" to "), "{text}");
    }
    let changes = Columns::new()
        .with("difference.a [mL]", &[-3, 2, 5, -1, 4, 1, -2, 3])
        .with("difference.b [mL]", &[-2, 1, 6, -2, 3, 2, -3, 5]);
    let text = answer(
        &changes,
        "show agreement of \"difference.a\", \"difference.b\" over rows",
    );
    assert!(
        text.contains("No percentage error") && !text.contains("usual criterion"),
        "{text}"
    );
}
