//! Where the time of `semilunar run` goes for the companion notebooks: `cargo bench --bench notebooks`.
//!
//! Each notebook is run whole, and with less and less in it: without the questions over its
//! cohort, without the cohort, without any statement. Each part costs what taking it away saves.
//! `notebooks 20` runs each twenty times.

#![allow(missing_docs, reason = "a program, not a library")]
#![allow(clippy::print_stdout, reason = "its figures are its output")]
#![allow(clippy::unwrap_used, reason = "nothing here is a user's input")]

use std::path::{Path, PathBuf};
use std::time::Instant;

use semilunar::notebook::run;
use serde_json::Value;

/// What a notebook is run with, least first.
#[derive(Clone, Copy, PartialEq, PartialOrd)]
enum With {
    /// Its cells are empty: the document, its text and the page.
    Nothing,
    /// Readings, formulas and outputs of one exam.
    Exam,
    /// The tables of its cohorts, with the sheet over every row.
    Cohort,
    /// Questions over the rows, with their drawings: the notebook as it stands.
    All,
}

const LEVELS: [With; 4] = [With::Nothing, With::Exam, With::Cohort, With::All];

/// The notebooks of the project, except those with Rust cells, which compile.
fn notebooks() -> Vec<PathBuf> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("notebooks");
    let mut found: Vec<PathBuf> = std::fs::read_dir(folder)
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .filter(|path| path.extension().is_some_and(|e| e == "ipynb"))
        .filter(|path| !std::fs::read_to_string(path).unwrap().contains("\"in Rust"))
        .collect();
    found.sort();
    found
}

/// The level from which on a line is part of the notebook.
fn level(line: &str, cohorts: &[String]) -> With {
    if line.starts_with("cohort ") {
        return With::Cohort;
    }
    let asks = |cohort: &String| {
        let words: Vec<&str> = line.split_whitespace().collect();
        words
            .windows(2)
            .any(|pair| pair == ["over", cohort.as_str()])
    };
    match cohorts.iter().any(asks) {
        true => With::All,
        false => With::Exam,
    }
}

fn source(cell: &Value) -> String {
    let lines = cell["source"].as_array().unwrap().iter();
    lines.map(|line| line.as_str().unwrap()).collect()
}

/// The notebook with the statements up to a level.
fn up_to(notebook: &Value, with: With) -> String {
    let is_code = |cell: &&Value| cell["cell_type"] == "code";
    let cells = notebook["cells"].as_array().unwrap();
    let text: String = cells
        .iter()
        .filter(is_code)
        .map(|c| source(c) + "\n")
        .collect();
    let named = text.lines().filter_map(|line| line.strip_prefix("cohort "));
    let cohorts: Vec<String> = named
        .filter_map(|rest| rest.split_whitespace().next())
        .map(str::to_owned)
        .collect();
    let mut less = notebook.clone();
    for cell in less["cells"].as_array_mut().unwrap() {
        if cell["cell_type"] == "code" {
            let own = source(cell);
            let lines = own.lines().filter(|line| level(line, &cohorts) <= with);
            let kept: Vec<String> = lines.map(|line| format!("{line}\n")).collect();
            cell["source"] = kept.into();
        }
    }
    less.to_string()
}

/// The median of the times of several runs, in milliseconds.
fn milliseconds(text: &str, file: &Path, rounds: usize) -> f64 {
    let mut times: Vec<f64> = (0..rounds)
        .map(|_| {
            let start = Instant::now();
            let made = run(text, "measured", file.parent().unwrap(), &[]).unwrap();
            let time = start.elapsed().as_secs_f64() * 1e3;
            assert!(!made.has_errors, "{}", file.display());
            time
        })
        .collect();
    times.sort_by(f64::total_cmp);
    times[times.len() / 2]
}

fn main() {
    // Cargo adds `--bench`.
    let count = std::env::args().find_map(|a| a.parse::<usize>().ok());
    let rounds = count.unwrap_or(9).max(1);
    println!("milliseconds, median of {rounds} runs");
    println!("notebook                   whole  page  exam  table  questions  cohort's share");
    for file in notebooks() {
        let notebook = std::fs::read_to_string(&file).unwrap();
        let notebook: Value = serde_json::from_str(&notebook).unwrap();
        let times = LEVELS.map(|with| milliseconds(&up_to(&notebook, with), &file, rounds));
        let [page, exam, table, whole] = times;
        let name = file.file_stem().unwrap().to_string_lossy().into_owned();
        print!("{name:24} {whole:7.1} {page:5.1} {:5.1}", exam - page);
        match up_to(&notebook, With::Exam) == up_to(&notebook, With::All) {
            true => println!("  no cohort"),
            false => println!(
                " {:6.1} {:10.1} {:13.0} %",
                table - exam,
                whole - table,
                (whole - exam) / whole * 100.0
            ),
        }
    }
}
