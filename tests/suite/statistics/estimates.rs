//! Values that nobody measured, and pairs that are one reading: what is counted, and what is said to be left out.

use std::fmt::Write as _;

use semilunar::notebook::Session;

use super::line;

/// What two exams of a row share, and what the two were compared by.
const SHEET: &str = "use hemodynamics as before\nuse hemodynamics as after\nuse hemodynamics\ncompare before, after";

/// Forty exams pairs: the diameter is measured in 30, in 6 not obtainable and so estimated from height and weight, and
/// blank in 4. The second operator is not always named.
fn table() -> String {
    let mut text =
        "patient,who,day,height [cm],weight [kg],lvot_diameter [cm],before.lvot_diameter [cm],after.lvot_diameter [cm],\
                    before.lvot_vti [cm],after.lvot_vti [cm]\n"
            .to_owned();
    for row in 0..40 {
        let diameter = match row {
            0..30 => format!("{:.2}", 1.9 + 0.01 * f64::from(row % 10)),
            30..36 => "unobtainable".to_owned(),
            _ => String::new(),
        };
        // Measured once more at each exam in five of the rows.
        let more = |start: f64| match row {
            0..5 => format!("{:.2}", start + 0.02 * f64::from(row)),
            _ => String::new(),
        };
        let (again, third) = (more(1.93), more(1.96));
        let who = ["A", "B", "A", "B", ""][row as usize % 5];
        let vti = 16.0 + 0.5 * f64::from(row % 7);
        let after = vti * (1.02 + 0.03 * f64::from(row % 6));
        writeln!(
            text,
            "P{},{who},{},{},{},{diameter},{again},{third},{vti},{after:.1}",
            row / 2,
            row + 1,
            160 + row % 9,
            60 + row % 11
        )
        .unwrap();
    }
    // One that is set aside.
    text.push_str("P20,A,41,170,70,unobtainable,,,unread,20.0\n");
    text
}

fn outputs(statement: &str) -> (bool, String) {
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("rows.csv"), table()).unwrap();
    let mut session = Session::new(folder.path());
    session.submit_all(&[
        ("sheet", SHEET),
        ("rows", "cohort rows from \"rows.csv\""),
        ("q", statement),
    ]);
    let outputs = session.outputs("q");
    let is_error = outputs.iter().any(|o| o.is_error());
    let text: Vec<&str> = outputs.iter().map(|o| o.text.as_str()).collect();
    (is_error, text.join("\n").replace('\u{a0}', " "))
}

fn answer(statement: &str) -> String {
    let (is_error, text) = outputs(statement);
    assert!(!is_error, "{text}");
    text
}

/// A diameter computed from body size is no diameter that somebody recorded.
#[test]
fn an_estimated_diameter_is_counted_apart() {
    let text = answer("show completeness of lvot_diameter over rows");
    assert!(
        line(&text, "LVOT diameter").contains("75.0 % (30 of 40)"),
        "{text}"
    );
    assert!(
        text.contains("Estimated or assumed, and not counted as kept: LVOT diameter 6."),
        "{text}"
    );
    let text = answer("show completeness of lvot_diameter over rows with estimated");
    assert!(
        line(&text, "LVOT diameter").contains("90.0 % (36 of 40)"),
        "{text}"
    );
    for (statement, counted) in [
        (
            "show digits of lvot_diameter to 0.01 cm over rows",
            "30 readings",
        ),
        ("show funnel of lvot_diameter over rows by who", "24 rows"),
        (
            "show drift of lvot_diameter beyond 2 mm over rows by patient along day",
            "15 pairs",
        ),
        (
            "show individuals of lvot_diameter over rows along day",
            "30 values",
        ),
        (
            "show ewma of lvot_diameter over rows along day baseline 20",
            "30 values",
        ),
        (
            "show cusum of lvot_diameter over rows along day baseline 20",
            "30 values",
        ),
    ] {
        let text = answer(statement);
        assert!(text.contains(counted), "{statement}\n{text}");
        // One of the six has no operator, and is left out for that.
        let estimated = match statement.contains("by who") {
            true => "LVOT diameter estimated 5",
            false => "LVOT diameter estimated 6",
        };
        assert!(text.contains(estimated), "{statement}\n{text}");
        let all = answer(&format!("{statement} with estimated"));
        assert!(!all.contains("LVOT diameter estimated"), "{all}");
    }
}

/// Where nothing is left, what was left out and the way to keep it are said.
#[test]
fn where_all_is_estimated_the_way_out_is_said() {
    let (is_error, text) =
        outputs("show digits of lvot_diameter to 0.01 cm over rows where day > 30 and day < 37");
    assert!(is_error, "{text}");
    for words in [
        "LVOT diameter is measured in none of these rows",
        "LVOT diameter estimated: 6",
        "`with estimated` keeps",
    ] {
        assert!(text.contains(words), "{words}\n{text}");
    }
}

/// Entries of a column of numbers that are none are neither known nor blank, and are a line of their own.
#[test]
fn entries_that_are_no_number_are_counted_where_fields_are_compared() {
    let text = answer("show set_aside of lvot_diameter over rows");
    let found = line(&text, "LVOT diameter: an entry that is no number");
    assert!(found.contains("Used: 15.0 % (6)"), "{found}");
    assert!(found.contains("Set aside: 100.0 % (1)"), "{found}");
}

/// A diameter that both exams share agrees with itself perfectly: only the five that were measured twice are pairs.
#[test]
fn one_reading_is_no_pair() {
    for (statement, counted) in [
        (
            "show agreement of before.lvot_diameter, after.lvot_diameter over rows",
            "5 pairs",
        ),
        (
            "show agreement of lvot_diameter, before.lvot_diameter over rows",
            "5 pairs",
        ),
        (
            "show repeatability of lvot_diameter, before.lvot_diameter over rows",
            "5 rows",
        ),
        (
            "show jumps of lvot_diameter, before.lvot_diameter beyond 2 mm over rows",
            "5 rows",
        ),
    ] {
        let text = answer(statement);
        assert!(text.contains(counted), "{statement}\n{text}");
        assert!(
            text.contains("one reading serves both 25"),
            "{statement}\n{text}"
        );
    }
    // With the estimate it is one reading all the same.
    let text = answer(
        "show jumps of lvot_diameter, before.lvot_diameter beyond 2 mm over rows with estimated",
    );
    assert!(text.contains("one reading serves both 31"), "{text}");
    // Stroke volumes share a diameter and are two readings.
    let text = answer("show agreement of before.stroke_volume, after.stroke_volume over rows");
    assert!(!text.contains("one reading"), "{text}");
    let (is_error, text) =
        outputs("show jumps of before.lvot_vti, before.lvot_vti beyond 15 % over rows");
    assert!(
        is_error && text.contains("one reading serves both in all of these rows"),
        "{text}"
    );
}

/// A response that rests on an estimate counts in no analysis of responses, by one rule, unless it is asked for.
#[test]
fn responses_that_rest_on_an_estimate_are_left_out_by_one_rule() {
    for (statement, counted, with_all) in [
        (
            "show responders of change.stroke_volume at 10 % over rows",
            "of 30)",
            "of 36)",
        ),
        (
            "show change of before.stroke_volume, after.stroke_volume over rows",
            "30 pairs",
            "36 pairs",
        ),
        (
            "show dose_response of change.stroke_volume against day over rows",
            "30 rows",
            "36 rows",
        ),
        (
            "show roc of before.lvot_vti against change.stroke_volume > 10 % over rows",
            "of 30 rows had it",
            "of 36 rows had it",
        ),
        (
            "show gray_zone of before.lvot_vti against change.stroke_volume > 10 % over rows",
            "of 30 rows had it",
            "of 36 rows had it",
        ),
    ] {
        let text = answer(statement);
        assert!(text.contains(counted), "{statement}\n{text}");
        assert!(text.contains("estimate"), "{statement}\n{text}");
        // All six share one estimate, which cancels in the per cent change: why they are left out is said.
        let although = "are left out even where both exams share it, so that its error cancels in the per cent change: \
                        nobody measured it. `with estimated` keeps them.";
        assert!(text.contains(although), "{statement}\n{text}");
        let text = answer(&format!("{statement} with estimated"));
        assert!(text.contains(with_all), "{statement}\n{text}");
        assert!(!text.contains(although), "{statement}\n{text}");
    }
    let text =
        answer("show responders of change.stroke_volume, change.stroke_distance at 10 % over rows");
    let said = "Left out of the counts, because they rest on an estimated or assumed reading: change in stroke volume 6.";
    assert!(text.contains(said), "{text}");
    // The change of the integral needs no diameter.
    assert!(
        line(&text, "Change in stroke distance").contains("of 40)"),
        "{text}"
    );
    // In an absolute value nothing cancels.
    let text = answer("show roc of before.lvot_vti against after.stroke_volume > 60 mL over rows");
    assert!(
        text.contains("the response rests on an estimate 6"),
        "{text}"
    );
    assert!(!text.contains("cancels"), "{text}");
    // The rows that say how large the error is are chosen by the same rule.
    let text =
        answer("show responders of change.stroke_volume at 10 % over rows error from day > 20");
    let said = "10 rows where day > 20 (left out: change in stroke volume not known because a field it needs is blank 4, change in stroke volume estimated 6)";
    assert!(text.contains(said), "{text}");
}

/// The share in the gray zone is one of rows where patients repeat, and is called so; of patients where each has one.
#[test]
fn the_share_in_a_gray_zone_is_called_what_it_is() {
    let asked = "show gray_zone of day against change.stroke_volume > 10 % over rows";
    let text = answer(&format!("{asked} by patient"));
    assert!(
        text.contains("of the rows.") && text.contains("of 15 patients)"),
        "{text}"
    );
    let text = answer(&format!("{asked} by day"));
    assert!(text.contains("of the patients."), "{text}");
    assert!(!text.contains("Patients with a row in it"), "{text}");
    let text = answer(asked);
    assert!(text.contains("of the rows."), "{text}");
}
