//! Statistical questions from the command.

use super::Desk;

const SHEET: &str = "use hemodynamics\nlvot_diameter = 2 cm\n";

fn desk() -> Desk {
    let desk = Desk::new();
    desk.put("unit.sheet", SHEET);
    let mut table = String::from("who,saved,lvot_vti [cm]\n");
    for row in 0..40 {
        let (who, saved) = (["A", "B"][row % 2], if row % 5 == 0 { "no" } else { "yes" });
        table += &format!("{who},{saved},{}\n", 15 + row % 7);
    }
    desk.put("unit.csv", table);
    desk
}

/// 8 of 40 rows are divisible by five: 32 saved, 80 %.
#[test]
fn a_question_is_answered_in_words_and_drawn_on_demand() {
    let desk = desk();
    let given = desk.run(&[
        "ask",
        "unit.sheet",
        "unit.csv",
        "completeness of saved is yes",
    ]);
    assert_eq!((given.code, given.err.as_str()), (0, ""));
    assert!(
        given.out.contains("saved — Kept: 80.0 % (32 of 40)"),
        "{}",
        given.out
    );
    let funnel = [
        "ask",
        "unit.sheet",
        "unit.csv",
        "funnel of saved is yes by who",
        "--drawing",
        "funnel.svg",
    ];
    let given = desk.run(&funnel);
    assert_eq!(given.code, 0, "{}", given.err);
    assert!(desk.text("funnel.svg").starts_with("<svg"));
}

#[test]
fn what_cannot_be_answered_says_why_and_writes_nothing() {
    let desk = desk();
    let before = desk.files();
    for (arguments, code, words) in [
        (
            vec![
                "unit.sheet",
                "unit.csv",
                "funnel of saved is yes by operator",
            ],
            2,
            "`operator` is neither a cell",
        ),
        (
            vec!["unit.sheet", "unit.csv", "funnel of saved is yes"],
            2,
            "`funnel` needs `by`",
        ),
        (
            vec!["unit.sheet", "unit.csv", "roc of who\nshow saved"],
            2,
            "one question is one line",
        ),
        (vec!["unit.sheet", "unit.csv", ""], 0, ""),
        (
            vec!["unit.sheet", "none.csv", "completeness of saved is yes"],
            2,
            "none.csv",
        ),
        (
            vec!["none.sheet", "unit.csv", "completeness of saved is yes"],
            3,
            "none.sheet",
        ),
        (
            vec!["unit.csv", "unit.csv", "completeness of saved is yes"],
            2,
            "the sheet cannot be used",
        ),
        (
            vec![
                "unit.sheet",
                "unit.csv",
                "drift of lvot_vti beyond 2 cm by who along lvot_vti",
                "--drawing",
                "d.svg",
            ],
            2,
            "this question has no drawing",
        ),
        (
            vec![
                "unit.sheet",
                "unit.csv",
                "completeness of saved is yes",
                "--drawing",
                "unit.csv",
            ],
            2,
            "unit.csv is read here",
        ),
    ] {
        let arguments: Vec<&str> = std::iter::once("ask").chain(arguments).collect();
        let given = desk.run(&arguments);
        assert_eq!(
            given.code, code,
            "{arguments:?}: {}{}",
            given.out, given.err
        );
        assert!(given.err.contains(words), "{arguments:?}: {}", given.err);
        assert_eq!(desk.files(), before);
    }
}

/// What is wrong stands under the question as it was typed, or in the file that says it.
#[test]
fn what_is_wrong_is_shown_where_it_was_typed() {
    let desk = desk();
    desk.put("other.sheet", "lvot_diameter = 2 furlong\n");
    desk.put("unit.toml", "identifier = [\"who\"]\n");
    let ask = |sheet: &str, table: &str, question: &str, more: &[&str]| {
        let arguments = [&["ask", sheet, table, question], more].concat();
        let given = desk.run(&arguments);
        assert_eq!(given.code, 2, "{}", given.out);
        given.err
    };
    for (typed, shown) in [
        (
            "funnel of saved is yes by operator",
            "error: `operator` is neither a cell of the sheet nor a column of `table`\n \
             --> the question:1:27\n  |\n1 | funnel of saved is yes by operator\n  |                           ^^^^^^^^\n",
        ),
        // What is lacking is lacking at the end of what was typed.
        (
            "funnel of saved is yes",
            "error: `funnel` needs `by`\n --> the question:1:23\n  |\n1 | funnel of saved is yes\n  |                       ^\n  |\n  \
             = help: such as `by patient`\n",
        ),
        (
            "show completeness of saved is yes over rows",
            "1 | show completeness of saved is yes over rows\n  |                                            ^\n  \
             = help: leave out `over` and the name after it: the question is asked of the table\n",
        ),
    ] {
        let said = ask("unit.sheet", "unit.csv", typed, &[]);
        assert!(said.contains(shown), "{said}");
        assert!(!said.contains("cell 3"), "{said}");
    }
    let said = ask(
        "other.sheet",
        "unit.csv",
        "completeness of saved is yes",
        &[],
    );
    assert!(said.contains("--> other.sheet:1:19"), "{said}");
    let whole = ["--binding", "unit.toml"];
    let said = ask(
        "unit.sheet",
        "unit.csv",
        "completeness of saved is yes",
        &whole,
    );
    let words = "error: unit.toml: line 1 (`identifier = [\"who\"]`): unknown field";
    assert!(
        said.contains(words) && !said.contains("cohort table"),
        "{said}"
    );
    // Whoever copies it from a notebook brings `show` along.
    let copied = [
        "ask",
        "unit.sheet",
        "unit.csv",
        "show completeness of saved is yes",
    ];
    assert_eq!(desk.run(&copied).code, 0);
}
