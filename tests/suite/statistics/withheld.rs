//! Rows that are left out because something is not known: a blank field is counted apart from a value that is there and withheld.

use super::line;

const READ: usize = 44;

/// Twenty rows with all that is asked for, and others that lack something.
fn table() -> String {
    let mut text = "x,lvot_diameter [cm],lvot_vti [cm],lvot_vti (n),signal,rhythm\n".to_owned();
    let mut row = |x: &str, vti: &str, beats: &str, signal: &str, rhythm: &str| {
        text += &format!("{x},2.0,{vti},{beats},{signal},{rhythm}\n");
    };
    for at in 0..20 {
        let x = (at * 7 % 11).to_string();
        row(&x, &(14 + at % 9).to_string(), "3", "good", "regular");
    }
    for _ in 0..15 {
        row("3", "18", "3", "poor", "regular");
    }
    for _ in 0..3 {
        row("3", "18", "2", "good", "irregular");
    }
    for _ in 0..2 {
        row("3", "", "", "good", "regular");
    }
    row("3", "unobtainable", "", "good", "regular");
    row("", "18", "3", "good", "regular");
    row("see note", "18", "3", "good", "regular");
    row("3", "wide", "3", "good", "regular");
    text
}

fn ask(statement: &str) -> String {
    let (_folder, session) = super::session(&table(), statement);
    let outputs = session.outputs("q");
    let text: Vec<&str> = outputs.iter().map(|o| o.text.as_str()).collect();
    text.join("\n").replace('\u{a0}', " ")
}

/// Each reason by itself, the most frequent first, and all of them together with the rows analyzed are the rows read.
#[test]
fn blank_fields_are_counted_apart_from_values_that_are_withheld() {
    let text = ask("show roc of x against stroke_volume > 56 mL over rows");
    let counts = [
        ("set aside", 1),
        ("stroke volume withheld: the signal is poor", 15),
        ("withheld: irregular rhythm needs at least 3 beats", 3),
        ("not known because a field it needs is blank", 2),
        ("not known because a reading could not be obtained", 1),
        ("X not known because the field is blank", 1),
        ("cannot be read", 1),
    ];
    let words: Vec<String> = counts.iter().map(|(why, n)| format!("{why} {n}")).collect();
    let said = format!(
        "20 analyzed of {READ} rows read; left out: {}.",
        words.join(", ")
    );
    assert!(text.contains(&said), "{said}\n{text}");
    let left: usize = counts.iter().map(|(_, n)| n).sum();
    assert_eq!(20 + left, READ);
}

/// What is read is told from what is computed: its own field is blank, its own value is withheld.
#[test]
fn a_reading_lacks_its_own_field() {
    let text = ask("show digits of lvot_vti to 1 cm over rows where x is known");
    assert!(
        text.contains(
            "24 analyzed of 44 rows read; left out: set aside 1, X not known because the field is blank 1, LVOT velocity-time integral \
             withheld: the signal is poor 15, not known because the field is blank 2, not known because it could not be obtained 1."
        ),
        "{text}"
    );
}

/// Rows that stay, because another response may be known in them, are counted all the same.
#[test]
fn responders_say_what_was_left_out_of_the_counts() {
    let text = ask("show responders of stroke_volume at 56 mL over rows");
    assert!(
        text.contains("43 analyzed of 44 rows read; left out: set aside 1."),
        "{text}"
    );
    assert!(
        text.contains(
            "Left out of the counts: stroke volume withheld: the signal is poor 15, withheld: irregular rhythm needs at least 3 beats 3, \
             not known because a field it needs is blank 2, not known because a reading could not be obtained 1."
        ),
        "{text}"
    );
    assert!(
        line(&text, "Stroke volume above 56 mL").contains("Rows with it known: 22"),
        "{text}"
    );
}

/// The flow of rows names the same reasons.
#[test]
fn the_flow_of_rows_names_each_reason() {
    let text = ask("show row_flow of stroke_volume over rows");
    for words in [
        "Stroke volume withheld: the signal is poor: 15",
        "Stroke volume not known because a field it needs is blank: 2",
        "Analyzed: 22",
    ] {
        assert!(text.contains(words), "{words}\n{text}");
    }
}

/// Of two exams either may lack something, and the reasons of one row are told together.
#[test]
fn reasons_of_two_exams_are_told_together() {
    let text = "before.lvot_vti [cm],after.lvot_vti [cm],before.signal,lvot_diameter [cm]\n\
                18,20,good,2\n18,20,poor,2\n18,,poor,2\n18,,good,2\n18,21,good,2\n18,19,good,2\n17,20,good,2\n";
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("rows.csv"), text).unwrap();
    let mut session = semilunar::notebook::Session::new(folder.path());
    session.submit_all(&[
        (
            "sheet",
            "use hemodynamics as before\nuse hemodynamics as after\nuse hemodynamics\ncompare before, after",
        ),
        ("rows", "cohort rows from \"rows.csv\""),
        ("q", "show change of before.stroke_volume, after.stroke_volume over rows where change.stroke_volume is known"),
    ]);
    let text = &session.outputs("q")[0].text.replace('\u{a0}', " ");
    assert!(
        text.contains(
            "4 analyzed of 7 rows read; left out: change in stroke volume withheld: the signal is poor 1, withheld: the signal is poor, and \
             a field it needs is blank 1, not known because a field it needs is blank 1."
        ),
        "{text}"
    );
}
