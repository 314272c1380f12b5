//! What Rust cells say to the notebook and what they keep.

use std::process::Command;

use super::{folder, notebook, process};
use crate::project::root;
use semilunar::notebook::Session;

#[test]
fn a_formula_is_added_with_its_dimension_and_the_outputs_that_rest_on_it_follow() {
    let mut notebook = notebook();
    notebook.submit("v", "show annular_volume, half");
    let text = notebook.rust(
        "r",
        "let diameter = cell::<Length>(\"lvot_diameter\")?;\n\
         let distance = cell::<Length>(\"lvot_vti\")?;\n\
         add_formula(\"annular_volume\", PI / 4.0 * diameter * diameter * distance, \"mL\")?;\n\
         set(\"half\", quantity::<Length>(\"lvot_vti\")? / 2.0, \"cm\")?;",
    );
    assert_eq!(text, "");
    let shown = notebook.shown("v");
    assert!(shown.starts_with("annular_volume: 62.8 mL (") && shown.contains("\nhalf: 10 cm ("));
    // The formula follows its cells by itself; the reading was read once and says so.
    notebook.submit(
        "exam",
        &super::EXAM.replace("lvot_vti = 20", "lvot_vti = 10"),
    );
    let shown = notebook.shown("v");
    assert!(shown.starts_with("annular_volume: 31.4 mL (") && shown.contains("\nhalf: 10 cm ("));
    let text = notebook.shown("r");
    assert!(
        text.contains("`lvot_vti` was 20 cm when it ran and is 10 cm now"),
        "{text}"
    );
}

#[test]
fn tables_text_html_and_drawings_are_shown_and_the_last_expression_too() {
    let mut notebook = notebook();
    notebook.rust(
        "r",
        "println!(\"printed\");\n\
         show(Table::new([\"what\", \"value\"]).row([\"a\", \"1\"]));\n\
         show(Html(\"<b>bold</b>\".into()));\n\
         show(Svg { svg: \"<svg></svg>\".into(), description: \"nothing\".into() });\n\
         show(Quantity::<Length>::of(20.0, \"cm\")?);\n\
         (1, 2)",
    );
    let outputs = notebook.session.outputs("r");
    let texts: Vec<&str> = outputs.iter().map(|o| o.text.as_str()).collect();
    assert_eq!(
        texts,
        [
            "printed",
            "what\tvalue\na\t1",
            "bold",
            "nothing",
            "0.2 m",
            "(1, 2)"
        ]
    );
    assert!(outputs[1].html.contains("<td>a</td>"));
    assert_eq!(outputs[2].html, "<b>bold</b>");
    assert_eq!(outputs[3].svg.as_deref(), Some("<svg></svg>"));
}

#[test]
fn functions_and_variables_with_a_written_type_outlive_their_cell() {
    let mut notebook = notebook();
    notebook.rust(
        "a",
        "fn triple(x: f64) -> f64 { x * 3.0 }\nlet two = 2.0;\nlet mut kept_six: f64 = triple(two);",
    );
    assert_eq!(notebook.rust("b", "kept_six += 1.0;\nkept_six"), "7");
    assert_eq!(notebook.rust("c", "triple(kept_six)"), "21");
    let text = notebook.rust("d", "two");
    assert!(
        text.contains("cannot find value `two`") && text.contains("cell 5:2:1"),
        "{text}"
    );
}

#[test]
fn the_whole_sheet_can_be_explored_without_touching_it() {
    let mut notebook = notebook();
    let text = notebook.rust(
        "r",
        "let mut copy = sheet()?;\n\
         let _ = copy.set_text(\"lvot_vti\", \"10 cm\");\n\
         let volume = copy.cell(\"stroke_volume\").map(|cell| copy.shown(cell));\n\
         volume.unwrap_or_default()",
    );
    assert_eq!(text, "31.4 mL");
    let text = notebook.submit("v", "show stroke_volume");
    assert!(text.starts_with("stroke_volume: 62.8 mL"), "{text}");
}

#[test]
fn two_processes_share_the_kept_folder() {
    let mut notebook = notebook();
    assert_eq!(notebook.rust("r", "1 + 1"), "2");
    let mut other = Session::new(".");
    other.run_rust_with(Box::new(process()));
    other.submit("r", "in Rust\n20 + 1");
    assert_eq!(other.outputs("r")[0].text, "21");
    assert_eq!(notebook.rust("r", "2 + 1"), "3");
}

/// The committed notebook holds the compiler's words, which belong to the version of Rust that
/// this project names.
#[test]
fn the_companion_notebook_runs_when_it_is_allowed_to_and_is_current() {
    let check = |options: &[&str]| {
        let output = Command::new(env!("CARGO_BIN_EXE_semilunar"))
            .current_dir(root().join("notebooks"))
            .env("SEMILUNAR_RUST_FOLDER", folder())
            // Cargo names folders of libraries to tests that users' programs are not told of.
            .env_remove("LD_LIBRARY_PATH")
            .args(["run", "own_formula.ipynb", "--check"])
            .args(options)
            .output()
            .unwrap();
        let words = format!(
            "{}{}",
            String::from_utf8_lossy(&output.stdout),
            String::from_utf8_lossy(&output.stderr)
        );
        (output.status.code(), words)
    };
    let (code, words) = check(&["--rust"]);
    assert_eq!(code, Some(0), "{words}");
    assert!(words.contains("the outputs are current"), "{words}");
    let (code, words) = check(&[]);
    assert_eq!(code, Some(5), "{words}");
    assert!(
        words.contains("not checked") && words.contains("--rust"),
        "{words}"
    );
}
