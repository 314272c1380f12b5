//! Questions of columns that a table need not have: what it lacks is said, what it has is answered.

use std::path::Path;

use semilunar::notebook::Session;

use super::{Columns, answer, refusal};

fn table() -> Columns {
    let count = 24;
    Columns::new()
        .with("change [%]", &(0..count).map(|i| i + 1).collect::<Vec<_>>())
        .with("index", &(0..count).map(|i| i * 7 % 13).collect::<Vec<_>>())
        .with(
            "kept",
            &(0..count)
                .map(|i| if i % 3 == 0 { "no" } else { "yes" })
                .collect::<Vec<_>>(),
        )
        .with("given", &vec!["fluid"; count])
        .with("day", &(1..=count).collect::<Vec<_>>())
}

/// Each question, and what stands above its answer.
#[test]
fn what_a_table_lacks_is_left_out_and_the_rest_is_answered() {
    for (question, said, answered) in [
        (
            "completeness of kept is yes, clip is yes over rows by operator if recorded",
            "Left out: the table has no column for clip.",
            "kept — Kept: 66.7 % (16 of 24)",
        ),
        (
            "completeness of kept is yes over rows by operator if recorded",
            "Not told apart by operator: the table has no column for operator.",
            "kept — Kept: 66.7 % (16 of 24)",
        ),
        (
            "responders of change at 10 % over rows error from given is nothing if recorded",
            "Nothing is said of error alone: no row used of rows says nothing in given; it says fluid.",
            "change above 10 %",
        ),
        (
            "roc of index, other against change > 10 % over rows if recorded",
            "Left out: the table has no column for other.",
            "Area under the curve",
        ),
        (
            "responders of change at 10 % over rows error of 11 % if recorded",
            "Responders over 24 rows.",
            "least significant change of 11 %",
        ),
    ] {
        let text = answer(&table(), &format!("show {question}"));
        assert!(text.starts_with(said), "{text}");
        assert!(
            text.to_lowercase().contains(&answered.to_lowercase()),
            "{text}"
        );
    }
}

/// Nothing of these can be asked; without the clause each is an error.
#[test]
fn a_question_whose_columns_are_missing_says_so_and_is_no_error() {
    for (question, why) in [
        (
            "completeness of clip is yes over rows",
            "the table has no column for clip",
        ),
        (
            "individuals of index over rows along hour baseline 9",
            "the table has no column for hour",
        ),
        (
            "drift of index over rows by patient along day beyond 2",
            "the table has no column for patient",
        ),
        (
            "change of index, later over rows",
            "the table has no column for later",
        ),
        (
            "roc of index against died is yes over rows",
            "the table has no column for died",
        ),
        (
            "roc of index against change > 10 % over rows where ward is icu",
            "the table has no column for ward",
        ),
        (
            "responders of change at 10 % over rows split dose at 3",
            "the table has no column for dose",
        ),
        (
            "roc of index against change > 90 % over rows",
            "both classes are needed",
        ),
        (
            "roc of index against change > 10 % over rows where given is blood",
            "no row used of rows says blood",
        ),
    ] {
        let text = answer(&table(), &format!("show {question} if recorded"));
        assert!(
            text.contains("not answered over this table, because"),
            "{text}"
        );
        assert!(text.contains(why), "{text}");
        assert!(refusal(&table(), &format!("show {question}")).contains("error"));
    }
}

/// What a statement itself gets wrong is an error still.
#[test]
fn a_cohort_that_is_not_there_stays_an_error() {
    let refused = refusal(&table(), "show change of a, b over nowhere if recorded");
    assert!(
        refused.contains("there is no cohort `nowhere`"),
        "{refused}"
    );
}

/// A table of one exam a row, with columns of its own, through the notebooks for tables of one's own.
#[test]
fn notebooks_for_ones_own_tables_run_on_other_exports() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let folder = tempfile::tempdir().unwrap();
    let one_exam = folder.path().join("export.csv");
    let mut text =
        String::from("patient,exam at,lvot_diameter [cm],lvot_vti [cm],heart_rate,operator\n");
    for row in 0..30 {
        let (day, vti) = (row % 28 + 1, 16.0 + f64::from(row % 7) / 2.0);
        text += &format!(
            "A{},2031-01-{day:02},2.{:02},{vti},{},X\n",
            row / 2,
            row % 9,
            70 + row
        );
    }
    std::fs::write(&one_exam, text).unwrap();
    let bundled = root.join("data/first_cohort.csv");
    for (notebook, cohort) in [
        ("measurement_audit", "measurements"),
        ("fluid_response", "challenges"),
    ] {
        let file = root.join("notebooks").join(format!("{notebook}.ipynb"));
        let cells: serde_json::Value =
            serde_json::from_str(&std::fs::read_to_string(&file).unwrap()).unwrap();
        for table in [&one_exam, &bundled] {
            let mut session = Session::new(root.join("notebooks"));
            session.put_tables_instead(&[(cohort.to_owned(), table.clone())], &[]);
            let cells = cells["cells"].as_array().unwrap().iter();
            let cells = cells.filter(|cell| cell["cell_type"] == "code");
            let cells: Vec<(String, String)> = cells
                .map(|cell| {
                    let lines = cell["source"].as_array().unwrap().iter();
                    let text = lines.map(|line| line.as_str().unwrap()).collect();
                    (cell["id"].as_str().unwrap().to_owned(), text)
                })
                .collect();
            let keyed: Vec<(&str, &str)> = cells.iter().map(|(k, t)| (&k[..], &t[..])).collect();
            session.submit_all(&keyed);
            let outputs: Vec<_> = keyed
                .iter()
                .flat_map(|(key, _)| session.outputs(key))
                .collect();
            for output in &outputs {
                assert!(!output.is_error(), "{notebook}: {}", output.text);
            }
            let is_unanswered = |text: &str| text.contains("not answered over this table");
            let unanswered = outputs.iter().filter(|o| is_unanswered(&o.text)).count();
            assert!(unanswered + 2 <= outputs.len(), "{notebook}: {unanswered}");
            assert!(unanswered > 0 || table != &one_exam, "{notebook}");
        }
    }
}
