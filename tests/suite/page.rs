//! Pages that recompute, against the library, in headless Chromium. See `tests/browser/README.md`.

mod catalogue;
mod moved;
mod numbers;
mod operations;

use std::path::{Path, PathBuf};
use std::process::Command;

use base64::Engine;
use semilunar::notebook::run;
use serde_json::{Value, json};

/// Agreement of values and partials: the browser's exponential, logarithm, cosine and power differ
/// from the library's in the last bits.
const AGREEMENT: f64 = 1e-12;

/// The browser, where the environment asks for it.
fn browser() -> Option<PathBuf> {
    let asked = std::env::var("SEMILUNAR_BROWSER").ok()?;
    if Path::new(&asked).is_absolute() {
        return Some(asked.into());
    }
    let names = ["chromium", "chromium-browser", "google-chrome"];
    let paths = std::env::var_os("PATH").unwrap_or_default();
    let found = std::env::split_paths(&paths)
        .flat_map(|folder| names.map(|name| folder.join(name)))
        .find(|path| path.is_file());
    Some(found.expect("SEMILUNAR_BROWSER asks for a browser, but none was found"))
}

fn notebook(cells: &[&str]) -> String {
    let cell = |(i, source): (usize, &&str)| {
        json!({
            "cell_type": "code", "execution_count": null, "id": format!("c{i}"), "metadata": {},
            "outputs": [], "source": source,
        })
    };
    let cells: Vec<Value> = cells.iter().enumerate().map(cell).collect();
    json!({ "cells": cells, "metadata": {}, "nbformat": 4, "nbformat_minor": 5 }).to_string()
}

fn page(cells: &[&str], instead: &[(&str, &str)]) -> String {
    let instead: Vec<(String, String)> = instead
        .iter()
        .map(|(name, reading)| ((*name).to_owned(), (*reading).to_owned()))
        .collect();
    let made = run(&notebook(cells), "test", Path::new("."), &instead).unwrap();
    let body = made.page.split("</style>").last().unwrap_or_default();
    assert!(!made.has_errors, "{body}");
    made.page
}

/// Pairs and triples for the page to compare with its own.
#[derive(Default)]
struct Judged {
    figures: Vec<Value>,
    given: Vec<Value>,
    rounded: Vec<Value>,
    factors: Vec<Value>,
    signed: Vec<Value>,
    functions: Vec<Value>,
}

/// What the page answers after its readings were moved to these places.
fn ask(browser: &Path, page: &str, moves: &[(usize, u32)]) -> Value {
    ask_and_judge(browser, page, moves, &Judged::default())
}

/// Opens a file and gives what the browser writes.
fn open(browser: &Path, folder: &Path, file: &Path, action: &str) -> String {
    let run = Command::new(browser)
        .args(["--headless", "--no-sandbox", "--disable-gpu"])
        .args(["--disable-dev-shm-usage", "--no-pdf-header-footer"])
        .arg(format!(
            "--user-data-dir={}",
            folder.join("profile").display()
        ))
        .args([action, &format!("file://{}", file.display())])
        .output()
        .unwrap();
    String::from_utf8_lossy(&run.stdout).into_owned()
}

fn ask_and_judge(browser: &Path, page: &str, moves: &[(usize, u32)], judged: &Judged) -> Value {
    const READ: &str = include_str!("../browser/read.js");
    const PROBE: &str = include_str!("../browser/probe.js");
    let start = "P.adjust.forEach(control);";
    let end = "}\n})();\n</script>";
    assert!(page.contains(start) && page.contains(end));
    let constants = format!(
        "const MOVES = {}, FIGURES = {}, GIVEN = {}, ROUNDED = {}, FACTORS = {}, SIGNED = {}, FUNCTIONS = {};\n",
        json!(moves),
        json!(judged.figures),
        json!(judged.given),
        json!(judged.rounded),
        json!(judged.factors),
        json!(judged.signed),
        json!(judged.functions)
    );
    let policy = page.find("<meta http-equiv").unwrap();
    let policy_end = policy + page[policy..].find('>').unwrap() + 1;
    // The probe is not the script that the policy allows.
    let probed = format!("{}{}", &page[..policy], &page[policy_end..])
        .replace(start, &format!("{constants}{READ}{start}"))
        .replace(end, &format!("{PROBE}{end}"));
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("page.html");
    std::fs::write(&file, probed).unwrap();
    let dom = open(browser, folder.path(), &file, "--dump-dom");
    let from = dom
        .find("<pre id=\"answer\">")
        .expect("the page gave no answer");
    let code = &dom[from + "<pre id=\"answer\">".len()..];
    let code = &code[..code.find('<').unwrap()];
    let bytes = base64::engine::general_purpose::STANDARD
        .decode(code)
        .unwrap();
    let answer: Value = serde_json::from_slice(&bytes).unwrap();
    assert_eq!(answer["problems"], json!([]), "the page's script failed");
    answer
}

/// JSON has no infinite numbers: the probe writes them as words.
fn number(word: &Value) -> f64 {
    match word.as_str() {
        Some("Infinity") => f64::INFINITY,
        Some("-Infinity") => f64::NEG_INFINITY,
        Some("NaN") => f64::NAN,
        _ => panic!("{word} is no number"),
    }
}

fn close(a: f64, b: f64, share: f64) -> bool {
    a == b
        || a.is_nan() && b.is_nan()
        || (a - b).abs() <= share * a.abs().max(b.abs())
        || (a - b).abs() < 1e-300
}

/// The exam page as it is handed out, opened from a file: its script runs under its own policy, and
/// it prints on one page, as recorded.
#[test]
fn the_exam_page_runs_under_its_policy_and_prints_on_one_page() {
    let Some(browser) = browser() else { return };
    let text = std::fs::read_to_string("notebooks/one_exam.ipynb").unwrap();
    let made = run(&text, "one exam", Path::new("notebooks"), &[]).unwrap();
    let folder = tempfile::tempdir().unwrap();
    let (file, paper) = (
        folder.path().join("page.html"),
        folder.path().join("page.pdf"),
    );
    std::fs::write(&file, made.page).unwrap();
    let dom = open(&browser, folder.path(), &file, "--dump-dom");
    assert!(
        dom.contains("class=\"adjust movable\""),
        "the script did not run"
    );
    open(
        &browser,
        folder.path(),
        &file,
        &format!("--print-to-pdf={}", paper.display()),
    );
    let printed = std::fs::read(&paper).unwrap();
    let printed = String::from_utf8_lossy(&printed);
    // ISO 32000-1, 7.7.3: one dictionary of type Page for each page, one of type Pages above them.
    let pages = printed.matches("/Type /Page").count() - printed.matches("/Type /Pages").count();
    assert_eq!(pages, 1);
}

/// Runs without a browser: a page gets a script only for readings that can be moved, and only the
/// cells that it shows.
#[test]
fn a_page_holds_the_cells_that_it_shows_and_no_others() {
    let still = page(&[moved::READINGS, "show stroke_volume"], &[]);
    assert!(still.contains("script-src 'none'") && !still.contains("<script"));
    let adjust = "adjust lvot_vti from 10 cm to 30 cm by 1 cm";
    let moving = page(&[moved::READINGS, "show stroke_volume", adjust], &[]);
    let script = &moving[moving.find("<script>").unwrap()..];
    assert!(script.contains("\"stroke_volume\"") && script.contains("\"lvot_area\""));
    assert!(!script.contains("vascular_resistance") && !script.contains("cardiac_output"));
}

/// Runs without a browser: text of a notebook cannot end the script or start another (WHATWG HTML,
/// 4.12.1.3, restrictions on the contents of script elements).
#[test]
fn text_of_a_notebook_stays_text() {
    let lines = "a = 1 cm\nb [cm] = if a < 2 cm then withheld \"</script><script>alert(1)</script><!--\" else a\nshow b\nadjust a from 1 cm to 3 cm by 1 cm";
    let page = page(&[lines], &[]);
    assert_eq!(page.matches("<script").count(), 1);
    assert_eq!(page.matches("</script").count(), 1);
    assert!(!page.contains("<!--"));
}

/// Runs without a browser: the page is small, asks for nothing, and allows its own script only.
#[test]
fn the_exam_page_is_small_and_asks_for_nothing() {
    let text = std::fs::read_to_string("notebooks/one_exam.ipynb").unwrap();
    let made = run(&text, "one exam", Path::new("notebooks"), &[]).unwrap();
    assert!(!made.has_errors);
    assert!(made.page.len() < 300_000, "{}", made.page.len());
    assert!(made.page.contains(
        "default-src 'none'; style-src 'unsafe-inline'; img-src data:; script-src 'sha256-"
    ));
    for asks in [
        "fetch(",
        "XMLHttpRequest",
        "import(",
        "<link",
        "src=",
        "eval(",
    ] {
        assert!(!made.page.contains(asks), "{asks}");
    }
}
