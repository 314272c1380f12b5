//! `run`: a notebook into a page and a copy with outputs.

use super::{Desk, EXAM, notebook};

fn desk(cells: &[&str]) -> Desk {
    let desk = Desk::new();
    desk.put("lesson.ipynb", notebook(cells));
    desk
}

const GOOD: [&str; 2] = [EXAM, "show stroke_volume"];

#[test]
fn a_page_and_a_copy_with_outputs_are_written_and_the_notebook_stays() {
    let desk = desk(&GOOD);
    let given = desk.run(&["run", "lesson.ipynb"]);
    assert_eq!(given.code, 0, "{}", given.err);
    assert_eq!(
        desk.files(),
        [
            "exam.sheet",
            "lesson.html",
            "lesson.ipynb",
            "lesson.with_outputs.ipynb"
        ]
    );
    assert_eq!(desk.text("lesson.ipynb"), notebook(&GOOD));
    assert!(desk.text("lesson.html").contains("62.8"));
    assert!(desk.text("lesson.with_outputs.ipynb").contains("62.8 mL"));
    for name in ["lesson.html", "lesson.with_outputs.ipynb"] {
        assert!(
            given.out.contains(&format!("wrote {name}")),
            "{}",
            given.out
        );
    }
}

#[test]
fn out_names_the_page_and_no_other_notebook_is_written_over() {
    let desk = desk(&GOOD);
    desk.put("page.ipynb", "somebody's own");
    let given = desk.run(&["run", "lesson.ipynb", "--out", "page.html"]);
    assert_eq!(given.code, 0, "{}", given.err);
    assert_eq!(desk.text("page.ipynb"), "somebody's own");
    assert!(desk.text("page.html").contains("62.8"));
    assert!(desk.path("page.with_outputs.ipynb").exists());
}

#[test]
fn in_place_writes_outputs_into_the_notebook_and_again_the_same() {
    let desk = desk(&GOOD);
    assert_eq!(desk.run(&["run", "lesson.ipynb", "--in-place"]).code, 0);
    let first = desk.text("lesson.ipynb");
    assert!(first.contains("62.8 mL"));
    assert_eq!(desk.run(&["run", "lesson.ipynb", "--in-place"]).code, 0);
    assert_eq!(desk.text("lesson.ipynb"), first);
    assert!(!desk.path("lesson.with_outputs.ipynb").exists());
}

#[test]
fn an_error_in_a_cell_is_code_1_and_everything_is_written() {
    let desk = desk(&[EXAM, "show nothing", "show stroke_volume"]);
    let given = desk.run(&["run", "lesson.ipynb"]);
    assert_eq!(given.code, 1);
    assert!(
        given.err.contains("some cells show an error"),
        "{}",
        given.err
    );
    let page = desk.text("lesson.html");
    assert!(page.contains("`nothing` is not a cell") && page.contains("62.8"));
}

/// The page shows the source with the notebook's own reading, so it must say what was put in.
#[test]
fn readings_put_in_are_said_on_the_page_and_in_the_copy_and_stay_out_of_the_notebook() {
    let desk = desk(&GOOD);
    let given = desk.run(&["run", "lesson.ipynb", "lvot_vti=10 cm"]);
    assert_eq!(given.code, 0, "{}", given.err);
    let page = desk.text("lesson.html");
    assert!(page.contains("31.4"));
    assert!(page.contains("Readings put in the place of the notebook's"));
    assert!(page.contains("lvot_vti = 10 cm"));
    let copy = desk.text("lesson.with_outputs.ipynb");
    assert!(copy.contains("31.4") && copy.contains(r#""lvot_vti": "10 cm""#));
    let given = desk.run(&["run", "lesson.ipynb", "--in-place", "lvot_vti=10 cm"]);
    assert_eq!(given.code, 2);
    assert_eq!(desk.text("lesson.ipynb"), notebook(&GOOD));
}

#[test]
fn what_cannot_be_used_writes_nothing() {
    let desk = desk(&GOOD);
    desk.put("text.ipynb", "no notebook");
    desk.put(
        "old.ipynb",
        r#"{"cells": [], "metadata": {}, "nbformat": 3, "nbformat_minor": 0}"#,
    );
    desk.put("page.html", notebook(&GOOD));
    let before = desk.files();
    for (arguments, code, words) in [
        (&["text.ipynb"][..], 2, "not JSON at line 1"),
        (&["old.ipynb"], 2, "version 3"),
        (&["nowhere.ipynb"], 3, "nowhere.ipynb"),
        (
            &["lesson.ipynb", "lvot_vit=10 cm"],
            2,
            "did you mean `lvot_vti`?",
        ),
        (&["lesson.ipynb", "lvot_vti=10 kg"], 2, "kg does not fit"),
        (&["lesson.ipynb", "lvot_vti"], 2, "write NAME=READING"),
        (
            &["lesson.ipynb", "--out", "lesson.ipynb"],
            2,
            "another name",
        ),
        (&["page.html"], 2, "another name"),
        (
            &["lesson.ipynb", "--out", "nowhere/page.html"],
            3,
            "nowhere",
        ),
    ] {
        let given = desk.run(&[&["run"], arguments].concat());
        assert_eq!(given.code, code, "{arguments:?}: {}", given.err);
        assert!(
            given.out.is_empty() && given.err.contains(words),
            "{}",
            given.err
        );
        assert_eq!(desk.files(), before);
    }
    assert_eq!(desk.text("lesson.ipynb"), notebook(&GOOD));
    assert_eq!(desk.text("page.html"), notebook(&GOOD));
}

/// Files of cohorts are looked for beside the notebook, wherever the command is run.
#[test]
fn tables_are_found_from_the_notebooks_folder() {
    let desk = Desk::new();
    std::fs::create_dir(desk.path("sub")).unwrap();
    desk.put("sub/rows.csv", "lvot_vti [cm]\n20\n");
    let cells = [
        "use hemodynamics\nlvot_diameter = 2 cm",
        "cohort rows from \"rows.csv\"",
    ];
    desk.put("sub/lesson.ipynb", notebook(&cells));
    let given = desk.run(&["run", "sub/lesson.ipynb"]);
    assert_eq!(given.code, 0, "{}", given.err);
    assert!(
        desk.text("sub/lesson.html")
            .contains("1 row read, 1 used, 0 set aside")
    );
}

const ROWS: [&str; 3] = [
    "use hemodynamics\nlvot_diameter = 2 cm",
    "cohort rows from \"rows.csv\"",
    "show stroke_volume over rows",
];

/// One notebook serves new data: the table is named from where the command is run.
#[test]
fn a_table_takes_the_place_of_the_notebooks_and_is_said() {
    let desk = Desk::new();
    std::fs::create_dir(desk.path("sub")).unwrap();
    desk.put("sub/rows.csv", "lvot_vti [cm]\n20\n");
    desk.put("new.csv", "lvot_vti [cm]\n10\n12\n");
    desk.put("sub/lesson.ipynb", notebook(&ROWS));
    let given = desk.run(&["run", "sub/lesson.ipynb", "--table", "rows=new.csv"]);
    assert_eq!(given.code, 0, "{}", given.err);
    let page = desk.text("sub/lesson.html");
    assert!(page.contains("2 rows read, 2 used, 0 set aside"));
    assert!(
        page.contains("Tables put in the place of the notebook's")
            && page.contains("rows from new.csv")
    );
    assert!(
        desk.text("sub/lesson.with_outputs.ipynb")
            .contains(r#""rows": "new.csv""#)
    );
    for (table, words) in [
        (
            "row=new.csv",
            "no cohort is named `row`; the notebook has rows",
        ),
        ("new.csv", "write NAME=FILE"),
    ] {
        let given = desk.run(&["run", "sub/lesson.ipynb", "--table", table]);
        assert_eq!(given.code, 2);
        assert!(given.err.contains(words), "{}", given.err);
    }
    let given = desk.run(&["run", "sub/lesson.ipynb", "--table", "rows=nowhere.csv"]);
    assert_eq!(given.code, 1, "{}", given.err);
}

#[test]
fn several_notebooks_run_at_once_and_the_greatest_code_counts() {
    let desk = desk(&GOOD);
    desk.put("other.ipynb", notebook(&[EXAM, "show cardiac_output"]));
    desk.put("wrong.ipynb", notebook(&["show nothing"]));
    std::fs::create_dir(desk.path("pages")).unwrap();
    let given = desk.run(&[
        "run",
        "lesson.ipynb",
        "other.ipynb",
        "lvot_vti=10 cm",
        "--out",
        "pages",
    ]);
    assert_eq!(given.code, 0, "{}", given.err);
    assert!(desk.text("pages/lesson.html").contains("31.4"));
    assert!(desk.text("pages/other.html").contains("2.20"));
    let given = desk.run(&["run", "nowhere.ipynb", "wrong.ipynb", "lesson.ipynb"]);
    assert_eq!(given.code, 3);
    assert!(
        given.err.contains("wrong.ipynb: some cells show an error"),
        "{}",
        given.err
    );
    assert!(desk.text("lesson.html").contains("62.8"));
    std::fs::create_dir(desk.path("sub")).unwrap();
    desk.put("sub/lesson.ipynb", notebook(&GOOD));
    for (arguments, words) in [
        (
            ["lesson.ipynb", "other.ipynb", "--out", "one.html"],
            "is no folder",
        ),
        (
            ["lesson.ipynb", "sub/lesson.ipynb", "--out", "pages"],
            "two notebooks would both make",
        ),
    ] {
        let given = desk.run(&[&["run"], &arguments[..]].concat());
        assert_eq!(given.code, 2);
        assert!(given.err.contains(words), "{}", given.err);
    }
    assert_eq!(desk.run(&["run", "lvot_vti=10 cm"]).code, 2);
}

#[test]
fn check_tells_current_outputs_from_others_and_writes_nothing() {
    let desk = desk(&GOOD);
    let given = desk.run(&["run", "lesson.ipynb", "--check"]);
    assert_eq!(given.code, 4);
    assert!(
        given.err.contains("from cell 1 (`c0`), line"),
        "{}",
        given.err
    );
    assert_eq!(desk.files(), ["exam.sheet", "lesson.ipynb"]);
    assert_eq!(desk.run(&["run", "lesson.ipynb", "--in-place"]).code, 0);
    let given = desk.run(&["run", "lesson.ipynb", "--check"]);
    assert_eq!(given.code, 0, "{}", given.err);
    assert_eq!(given.out, "lesson.ipynb: the outputs are current\n");
    // Saved by another program: on one line, cells as one text, with the mark of an encoding.
    let mut value: serde_json::Value = serde_json::from_str(&desk.text("lesson.ipynb")).unwrap();
    for cell in value["cells"].as_array_mut().unwrap() {
        let lines = cell["source"].as_array().unwrap().iter();
        let text: String = lines.map(|line| line.as_str().unwrap()).collect();
        cell["source"] = text.into();
    }
    desk.put("other.ipynb", format!("\u{feff}{value}"));
    let given = desk.run(&["run", "other.ipynb", "--check"]);
    assert_eq!(given.code, 0, "{}", given.err);
    let other = desk.text("lesson.ipynb").replace("62.8 mL", "62.9 mL");
    desk.put("lesson.ipynb", &other);
    let given = desk.run(&["run", "lesson.ipynb", "--check"]);
    assert_eq!(given.code, 4);
    assert!(given.err.contains("cell 2 (`c1`)"), "{}", given.err);
    assert_eq!(desk.text("lesson.ipynb"), other);
    let given = desk.run(&["run", "lesson.ipynb", "--check", "lvot_vti=10 cm"]);
    assert_eq!(given.code, 2);
    desk.put("lesson.ipynb", notebook(&["show nothing"]));
    assert_eq!(desk.run(&["run", "lesson.ipynb", "--in-place"]).code, 1);
    assert_eq!(desk.run(&["run", "lesson.ipynb", "--check"]).code, 1);
}

/// Not run is not out of date: the outputs of Rust cells, and what rests on them, are left alone.
#[test]
fn a_notebook_whose_rust_cells_were_not_run_is_neither_checked_nor_written() {
    let desk = desk(&GOOD);
    let rust = notebook(&["in Rust\n1 + 1", "show stroke_volume"]);
    desk.put("rust.ipynb", &rust);
    let way = match cfg!(feature = "rust-cells") {
        true => "`semilunar run --rust NOTEBOOK`",
        false => "`cargo install --path . --features rust-cells`",
    };
    for (option, left) in [("--check", "not checked"), ("--in-place", "not written")] {
        let given = desk.run(&["run", "rust.ipynb", option]);
        assert_eq!(given.code, 5, "{}", given.err);
        assert!(given.out.is_empty(), "{}", given.out);
        for words in [left, "its Rust cells were not run", way] {
            assert!(given.err.contains(words), "{}", given.err);
        }
    }
    assert_eq!(desk.text("rust.ipynb"), rust);
    // Another notebook's code goes before.
    let given = desk.run(&["run", "rust.ipynb", "lesson.ipynb", "--check"]);
    assert_eq!(given.code, 4, "{}", given.err);
    assert!(
        given.err.contains("rust.ipynb: not checked") && given.err.contains("not current"),
        "{}",
        given.err
    );
    assert_eq!(desk.run(&["run", "lesson.ipynb", "--in-place"]).code, 0);
    let given = desk.run(&["run", "lesson.ipynb", "rust.ipynb", "--check"]);
    assert_eq!(given.code, 5, "{}", given.err);
    assert_eq!(given.out, "lesson.ipynb: the outputs are current\n");
    // A page is made, and says where and why.
    let given = desk.run(&["run", "rust.ipynb"]);
    assert_eq!(given.code, 1);
    assert!(
        desk.text("rust.html").contains("rust-cells") || desk.text("rust.html").contains("--rust")
    );
}
