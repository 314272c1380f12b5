//! Lines that rows lie on, thresholds for what is demanded, and how likely error alone puts a row on the other side.

use std::fmt::Write as _;

use semilunar::notebook::Session;

use super::{Columns, answer, line, refusal};

/// Changes of exactly 10, 15 and 20 %, sixteen of each, as two exams of one diameter make them.
fn exact_changes(statement: &str) -> String {
    let mut table = "lvot_diameter [cm],before.lvot_vti [cm],after.lvot_vti [cm]\n".to_owned();
    for row in 0..48 {
        let start = f64::from(10 + row / 3);
        let end = start * [1.1, 1.15, 1.2][row as usize % 3];
        writeln!(table, "2.0,{start},{end:.3}").unwrap();
    }
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("rows.csv"), table).unwrap();
    let mut session = Session::new(folder.path());
    session.submit_all(&[
        (
            "sheet",
            "use hemodynamics\nuse hemodynamics as before\nuse hemodynamics as after\ncompare before, after",
        ),
        ("rows", "cohort rows from \"rows.csv\""),
        ("q", statement),
    ]);
    let text = session.outputs("q")[0].text.clone();
    text.replace('\u{a0}', " ")
}

#[test]
fn a_change_on_the_line_is_no_response_in_any_question() {
    let text = exact_changes(
        "show responders of change.stroke_volume, change.lvot_vti at 10 %, 15 %, 20 % over rows",
    );
    for subject in ["stroke volume", "LVOT velocity-time integral"] {
        for (at, count) in [(10, 32), (15, 16), (20, 0)] {
            let found = line(&text, &format!("Change in {subject} above {at} %"));
            assert!(found.contains(&format!("({count} of 48)")), "{text}");
        }
    }
    assert!(text.contains("exactly at a line"), "{text}");
    let below = exact_changes("show responders of change.stroke_volume at -10 % over rows");
    assert!(below.contains("(0 of 48)"), "{below}");
    let flow = exact_changes(
        "show row_flow of lvot_diameter against change.stroke_volume > 15 % over rows",
    );
    assert!(flow.contains("> 15 %: 16; Without it: 32"), "{flow}");
    let groups = exact_changes(
        "show responders of change.lvot_vti at 5 % over rows split change.stroke_volume at 15 %",
    );
    assert!(
        line(
            &groups,
            "Change in LVOT velocity-time integral above 5 %, change in stroke volume under 15 %"
        )
        .contains("of 16)"),
        "{groups}"
    );
}

/// Ten patients with ten rows that are alike: 4 of the patients have the response, and the index tells all but one of each class apart.
fn alike() -> Columns {
    let rows = 0..100_u32;
    let index = rows.clone().map(|i| match i / 10 {
        3 => 5.0 + f64::from(i % 10 < 7) * 10.0,
        8 => 5.0 + f64::from(i % 10 < 4) * 10.0,
        patient => 4.0 + f64::from(patient < 3) * 12.0,
    });
    let change = rows.clone().map(|i| {
        if i / 10 < 4 {
            30.0
        } else {
            2.0 + f64::from(i / 10)
        }
    });
    Columns::new()
        .with(
            "patient",
            &rows.map(|i| format!("P{}", i / 10)).collect::<Vec<_>>(),
        )
        .with("index", &index.collect::<Vec<_>>())
        .with("change [%]", &change.collect::<Vec<_>>())
}

#[test]
fn accuracy_of_patients_who_repeat_has_widened_intervals() {
    // numpy and scipy, as in the unit test of `accuracy_clustered`: 47.3 to 99.4 % and 59.6 to 99.3 %
    let text = answer(
        &alike(),
        "show roc of index against change > 20 % over rows by patient",
    );
    let sensitivity = line(&text, "Sensitivity —");
    assert!(
        sensitivity.contains("92.5 % (37 of 40)") && sensitivity.contains("47.3 to 99.4 %"),
        "{text}"
    );
    assert!(
        line(&text, "Specificity —").contains("59.6 to 99.3 %"),
        "{text}"
    );
    assert!(
        line(&text, "Positive likelihood ratio").contains("1.56 to 123"),
        "{text}"
    );
    assert!(!text.contains("exact"), "{text}");
    // Rows of patients of their own have both usual intervals.
    let text = answer(
        &alike(),
        "show roc of index against change > 20 % over rows",
    );
    assert!(
        line(&text, "Sensitivity —").contains("exact: 79.6 to 98.4 %"),
        "{text}"
    );
}

#[test]
fn any_sensitivity_and_specificity_can_be_demanded_and_has_an_interval() {
    let ask = |more: &str| {
        answer(
            &alike(),
            &format!("show roc of index against change > 20 % over rows{more}"),
        )
    };
    for (more, demand) in [
        ("", "90 %"),
        (" demanding 80 %", "80 %"),
        (" demanding 99 %", "99 %"),
    ] {
        let text = ask(more);
        for side in ["sensitivity", "specificity"] {
            let found = line(&text, &format!("{side} at least {demand} —"));
            assert!(found.contains("95 % bootstrap interval:"), "{text}");
        }
    }
    // Of 40 rows with a response 30 reach 16 and 37 reach 15; of 60 without 4 reach 15 and 10 reach 5.
    let text = ask(" demanding 80 %");
    assert!(
        line(&text, "sensitivity at least 80 %").contains("≥ 15;"),
        "{text}"
    );
    assert!(
        line(&text, "specificity at least 80 %").contains("≥ 5;"),
        "{text}"
    );
    assert!(line(&ask(" demanding 99 %"), "specificity at least 99 %").contains("≥ 16;"));
    let refused = refusal(
        &alike(),
        "show roc of index against change > 20 % over rows demanding 95",
    );
    assert!(refused.contains("`demanding 95 %`"), "{refused}");
}

#[test]
fn an_index_that_points_the_other_way_says_so() {
    let text = answer(
        &alike(),
        "show roc of low index against change > 20 % over rows",
    );
    assert!(text.contains("ask of `index`"), "{text}");
    assert!(
        line(&text, "maximal Youden index").contains("of no use this way round"),
        "{text}"
    );
    let text = answer(
        &alike(),
        "show roc of index against change > 20 % over rows",
    );
    assert!(!text.contains("of no use"), "{text}");
}

/// scipy: norm.sf(abs(log1p(c / 100) - log1p(.1)) / (.11 / 1.96)) for c = 30 and 6 to 11: 0.00146, 0.255, 0.311, 0.372, 0.435, 0.5, 0.436.
#[test]
fn each_row_has_its_chance_of_the_other_class() {
    let ask = |more: &str| {
        answer(
            &alike(),
            &format!("show roc of index against change > 10 % over rows error of 11 %{more}"),
        )
    };
    let text = ask("");
    let least = line(&text, "up to 1 % —");
    assert!(
        least.contains("Rows with response: 40; Rows without: 0"),
        "{text}"
    );
    let most = line(&text, "more than 20 % to 50 % —");
    assert!(
        most.contains("Rows with response: 10; Rows without: 50"),
        "{text}"
    );
    let on_average = line(&text, "classed otherwise, on average —");
    assert!(
        on_average.contains("Rows with response: 4.4; Rows without: 18.7"),
        "{text}"
    );
    assert!(
        text.contains("is told by the clause `row by row`."),
        "{text}"
    );
    let told = ask(" row by row");
    assert!(!told.contains("is told by the clause"), "{told}");
    let first = line(&told, "81 — Change");
    assert!(
        first.contains("10.0 %; Response: no; Chance of the other class: 50.0 %"),
        "{first}"
    );
    let last = line(&told, "40 — Change");
    assert!(
        last.contains("30.0 %; Response: yes; Chance of the other class: 0.1 %"),
        "{last}"
    );
    let refused = refusal(
        &alike(),
        "show roc of index against change > 10 % over rows row by row",
    );
    assert!(refused.contains("error of 11 %"), "{refused}");
}
