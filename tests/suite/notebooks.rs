//! The committed notebooks are what running them makes, their pages need nothing from outside,
//! and documents of any kind are met without harm.

use std::path::PathBuf;

use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use semilunar::notebook::{Run, run};
use sha2::{Digest, Sha256};

use crate::project::{files, root};

/// The committed notebooks, sorted, except the one with Rust cells: `rust_cells` looks after it.
fn notebooks() -> Vec<PathBuf> {
    let mut notebooks = files("notebooks");
    notebooks.retain(|file| file.extension().is_some_and(|e| e == "ipynb"));
    notebooks.retain(|file| !file.ends_with("own_formula.ipynb"));
    notebooks
}

fn run_file(file: &PathBuf) -> Run {
    let text = std::fs::read_to_string(file).unwrap();
    let name = file.file_name().unwrap().to_str().unwrap();
    run(&text, name, file.parent().unwrap(), &[]).unwrap()
}

/// With `SEMILUNAR_BLESS=1` they are written again, to be read as a difference.
#[test]
fn the_committed_notebooks_are_current() {
    assert!(notebooks().len() >= 2);
    for file in notebooks() {
        let made = run_file(&file);
        assert!(!made.has_errors, "{}", file.display());
        let made = made.document.write();
        if std::env::var_os("SEMILUNAR_BLESS").is_some() {
            std::fs::write(&file, &made).unwrap();
        }
        let committed = std::fs::read_to_string(&file).unwrap();
        let first = committed
            .lines()
            .zip(made.lines())
            .position(|(a, b)| a != b);
        let name = file.display();
        assert!(
            committed == made,
            "{name}: run it again; line {first:?} differs"
        );
    }
}

#[test]
fn running_twice_gives_the_same_bytes() {
    for file in notebooks() {
        let (first, second) = (run_file(&file), run_file(&file));
        assert_eq!(first.document.write(), second.document.write());
        assert_eq!(first.page, second.page);
    }
}

/// The script of a page that recomputes, as its policy must know it.
fn own_script(page: &str) -> Option<&str> {
    let (_, after) = page.split_once("<script>")?;
    after.split_once("</script>").map(|(script, _)| script)
}

/// A page is read offline, and must not tell anybody that it is read. Links that a reader
/// follows by hand are meant; the name of the SVG format (W3C) looks like an address and is none.
#[test]
fn pages_load_nothing_and_run_nothing() {
    for file in notebooks() {
        let page = run_file(&file).page;
        let scripts = match own_script(&page) {
            // A page that recomputes may run its own script and no other.
            Some(script) => {
                let sum = Sha256::digest(script.as_bytes());
                format!("'sha256-{}'", STANDARD.encode(sum))
            }
            None => "'none'".to_owned(),
        };
        let policy = format!(
            "<meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; \
             style-src 'unsafe-inline'; img-src data:; script-src {scripts}; \
             base-uri 'none'; form-action 'none'\">"
        );
        assert_eq!(page.matches(&*policy).count(), 1, "{}", file.display());
        let most = usize::from(own_script(&page).is_some());
        assert_eq!(page.matches("<script").count(), most, "{}", file.display());
        for loading in [
            " src=\"http",
            " src=http",
            "src=\"//",
            "url(",
            "@import",
            "<link",
            "<iframe",
            "<object",
            "<embed",
            "<base",
            "xlink:href=\"http",
            "srcset",
            " onload",
            " onclick",
        ] {
            assert!(!page.contains(loading), "{}: {loading}", file.display());
        }
        assert!(page.contains("Not a medical device"));
        let home = root().to_str().unwrap();
        assert!(!page.contains(home), "a path of this machine");
    }
}

/// Cases as files: a document, and on the first line of its partner the words of the error, or
/// what the page must hold.
#[test]
fn hostile_documents_are_met_with_words() {
    let mut met = 0;
    for file in files("tests/cases/notebook") {
        if file.extension().is_none_or(|e| e != "ipynb") {
            continue;
        }
        met += 1;
        let text = std::fs::read_to_string(&file).unwrap();
        let expected = std::fs::read_to_string(file.with_extension("txt")).unwrap();
        let name = file.file_name().unwrap().to_str().unwrap();
        let found = match run(&text, name, file.parent().unwrap(), &[]) {
            Err(error) => format!("error: {error}"),
            Ok(run) => {
                for bad in ["<script", "<img", "href=\"javascript"] {
                    assert!(!run.page.contains(bad), "{name}: {bad}");
                }
                run.page
            }
        };
        for line in expected.lines() {
            assert!(found.contains(line), "{name}: {line}\n{found}");
        }
    }
    assert!(met >= 6);
}

/// One cell of 10 MB, as comment and as text that cannot be read: the answer comes, and is not
/// ten times as large.
#[test]
fn a_cell_of_ten_megabytes_is_met() {
    let document = |source: String| {
        serde_json::json!({
            "cells": [{"cell_type": "code", "execution_count": null, "id": "a", "metadata": {},
                       "outputs": [], "source": source}],
            "metadata": {}, "nbformat": 4, "nbformat_minor": 5
        })
        .to_string()
    };
    let comment = run(
        &document(format!("#{}", "x".repeat(10_000_000))),
        "n",
        root(),
        &[],
    )
    .unwrap();
    assert!(!comment.has_errors);
    let wrong = run(&document("(".repeat(10_000_000)), "n", root(), &[]).unwrap();
    assert!(wrong.has_errors);
    assert!(wrong.page.len() < 40_000_000, "{}", wrong.page.len());
}

/// The notebooks serve a new export as they stand: another invented unit, another year.
#[test]
fn notebooks_over_a_cohort_run_on_a_new_export() {
    use semilunar::cohort::invented::{Plan, generate};
    use semilunar::notebook::{Inputs, run_with};

    let folder = tempfile::tempdir().unwrap();
    let export = folder.path().join("export.csv");
    let plan = Plan {
        seed: 99,
        ..Plan::fluid_challenges()
    };
    let mut table = Vec::new();
    generate(&plan).unwrap().write_csv(&mut table).unwrap();
    std::fs::write(&export, table).unwrap();
    for (name, cohort) in [
        ("fluid_response.ipynb", "challenges"),
        ("measurement_audit.ipynb", "measurements"),
    ] {
        let file = root().join("notebooks").join(name);
        let text = std::fs::read_to_string(&file).unwrap();
        let inputs = Inputs {
            tables: vec![(cohort.to_owned(), export.clone())],
            ..Inputs::default()
        };
        let run = run_with(&text, name, file.parent().unwrap(), &inputs).unwrap();
        let failed = run.page.matches("output failed").count();
        assert!(!run.has_errors, "{name}: {failed} failed");
    }
}

/// The table in the lesson on the diameter is what the library's exact effect gives, to the digit.
#[test]
fn the_table_of_one_millimeter_is_what_the_formula_gives() {
    use semilunar::quantity::Unit;
    use semilunar::sheet::Sheet;
    use semilunar::uncertainty::{Off, effect};

    let text = std::fs::read_to_string(root().join("notebooks/diameter_error.ipynb")).unwrap();
    let mut met = 0;
    for line in text.lines().filter(|line| line.contains(" cm | +")) {
        let fields: Vec<&str> = line.split('|').map(str::trim).collect();
        let diameter = fields[1];
        let exam = format!("use hemodynamics\nlvot_vti = 20 cm\nlvot_diameter = {diameter}");
        let sheet = Sheet::read(&exam).unwrap().sheet;
        let cell = |name: &str| sheet.cell(name).unwrap();
        for (amount, said) in [(1.0, fields[2]), (-1.0, fields[3])] {
            let off = Off {
                amount,
                unit: Unit::parse("mm").unwrap(),
            };
            let found = effect(&sheet, &[cell("stroke_volume")], cell("lvot_diameter"), off);
            let share = 100.0 * found.unwrap()[0].share().unwrap();
            let number = said.trim_end_matches(" %").replace('−', "-");
            let written: f64 = number.parse().unwrap();
            assert!(
                (written - share).abs() <= 0.05 + 1e-9,
                "{diameter}: {said} {share}"
            );
        }
        met += 1;
    }
    assert_eq!(met, 6);
}
