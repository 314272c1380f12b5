//! Pages that recompute, against the library, in headless Chromium. See `tests/browser/README.md`.

use std::path::{Path, PathBuf};
use std::process::Command;

use base64::Engine;
use semilunar::formula::math;
use semilunar::formula::{Lane, Step, gradient, used_inputs};
use semilunar::notebook::run;
use semilunar::sheet::{Sheet, figure, figure_as_given};
use semilunar::uncertainty::{student_quantile, value_and_uncertainty};
use serde_json::{Value, json};

/// Agreement of values and partials: the browser's exponential, logarithm, cosine and power differ
/// from the library's in the last bits.
const AGREEMENT: f64 = 1e-12;

/// Agreement with the oracle, which computes in 50 digits from the published formulas.
const ORACLE: f64 = 1e-11;

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

/// The lines of a sheet for an exam of the oracle.
fn exam_lines(exam: &Value) -> String {
    let mut lines = String::from("use hemodynamics\n");
    for (name, input) in exam["inputs"].as_object().unwrap() {
        let text = match input {
            Value::String(word) => word.clone(),
            input => {
                let unit = input["unit"].as_str().unwrap();
                let list = |v: &Value| {
                    let all = v.as_array().unwrap().iter().map(Value::to_string);
                    all.collect::<Vec<_>>().join(", ")
                };
                match (&input["beats"], &input["largest"]) {
                    (Value::Null, Value::Null) => {
                        let count = &input["count"];
                        let count = match count {
                            Value::Null => String::new(),
                            count => format!(" (n = {count})"),
                        };
                        format!("{} {unit}{count}", input["value"])
                    }
                    (Value::Null, beats) => format!("largest({}) {unit}", list(beats)),
                    (beats, _) => format!("beats({}) {unit}", list(beats)),
                }
            }
        };
        lines.push_str(&format!("{name} = {text}\n"));
    }
    for (name, word) in exam["findings"].as_object().unwrap() {
        lines.push_str(&format!("{name} = {}\n", word.as_str().unwrap()));
    }
    lines
}

/// Expected values: `tests/oracles/catalogue.py`, 50-digit arithmetic from the published formulas.
#[test]
fn the_whole_catalogue_agrees_in_a_browser() {
    let Some(browser) = browser() else { return };
    let text = include_str!("../oracles/catalogue.json");
    let exams: Vec<Value> = serde_json::from_str(text).unwrap();
    assert!(exams.len() > 10);
    let mut compared = 0;
    for exam in &exams {
        let lines = exam_lines(exam);
        let sheet = Sheet::read(&lines).unwrap().sheet;
        let names: Vec<String> = sheet.cells().map(|c| sheet.name(c)).collect();
        let show = format!("show {}", names.join(", "));
        // Any reading makes the page recompute.
        let adjust = "adjust heart_rate from 10 /min to 350 /min by 1 /min";
        let page = page(&[&lines, &show, adjust], &[]);
        let answer = ask(&browser, &page, &[]);
        compared += agrees_with_the_sheet(&sheet, &names, &answer, exam);
        // What the library wrote is what the page computes.
        assert_eq!(answer["written"], answer["before"], "{}", exam["exam"]);
    }
    assert!(compared > 800, "{compared}");
}

/// Values, states, reasons, partials and used operands of all cells; gives how many were compared.
fn agrees_with_the_sheet(sheet: &Sheet, names: &[String], answer: &Value, exam: &Value) -> usize {
    let shown: Vec<_> = names.iter().filter_map(|name| sheet.cell(name)).collect();
    let outline = sheet.outline(&shown);
    let cells = answer["cells"].as_array().unwrap();
    assert_eq!(cells.len(), outline.cells.len());
    for (there, here) in cells.iter().zip(&outline.cells) {
        let name = sheet.name(here.cell);
        let said = format!("{}: {name}", exam["exam"]);
        assert_eq!(there["name"], json!(name), "{said}");
        assert_eq!(there["state"], json!(here.now.status.bits()), "{said}");
        if here.now.status.is_known() {
            let value = there["value"].as_f64().unwrap();
            assert!(close(value, here.now.value, AGREEMENT), "{said}: {value}");
        }
        assert_eq!(there["because"], json!(sheet.because(here.cell)), "{said}");
        let Some(formula) = &here.formula else {
            continue;
        };
        if there["partials"].is_null() {
            continue;
        }
        let mut inputs: Vec<Lane> = formula
            .operands
            .iter()
            .map(|o| outline.cells[*o].now)
            .collect();
        if formula.tape.uses_reading() {
            inputs.push(here.reading.unwrap_or(Lane::MISSING));
        }
        assert_eq!(
            there["used"],
            json!(used_inputs(&formula.tape, &inputs)),
            "{said}"
        );
        let partials = gradient(&formula.tape, &inputs).partials;
        for (a, b) in there["partials"].as_array().unwrap().iter().zip(partials) {
            let a = a.as_f64().unwrap_or_else(|| number(a));
            assert!(close(a, b, AGREEMENT), "{said}: slope {a}, not {b}");
        }
    }
    for (name, expected) in exam["expected"].as_object().unwrap() {
        let cell = cells
            .iter()
            .find(|c| c["name"] == json!(name) && c["hidden"] == json!(false))
            .unwrap();
        let (a, b) = (cell["value"].as_f64().unwrap(), expected.as_f64().unwrap());
        assert!(
            close(a, b, ORACLE),
            "{}: {name}: {a}, not {b}",
            exam["exam"]
        );
    }
    for name in exam["missing"].as_array().unwrap() {
        let cell = cells.iter().find(|c| c["name"] == *name).unwrap();
        assert_eq!(cell["state"], json!(4), "{}: {name}", exam["exam"]);
    }
    cells.len()
}

/// Ties go to the even digit in Rust and to the larger number in ECMAScript (ECMA-262,
/// Number.prototype.toFixed), so ties are among the numbers.
#[test]
fn figures_are_the_same_digit_for_digit() {
    let Some(browser) = browser() else { return };
    let mut numbers: Vec<f64> = vec![
        0.0,
        1.0,
        2.5,
        12.25,
        12.35,
        99.95,
        100.05,
        199.95,
        200.5,
        201.5,
        0.125,
        0.0625,
        0.00125,
        1e7,
        12_350_000.0,
        12_250_000.0,
        1e-4,
        9.9e-5,
        0.001,
        0.01,
        0.1,
        9.995,
        9.985,
        1.005,
        1e300,
        5e-324,
        9_999_999.5,
        1e21,
        0.00099999999,
        123456.5,
        123457.5,
    ];
    // A fixed sequence of numbers over all sizes (linear congruence of Knuth, MMIX).
    let mut seed: u64 = 7;
    for _ in 0..4000 {
        seed = seed
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        let share = (seed >> 11) as f64 / (1u64 << 53) as f64;
        let power = ((seed >> 3) % 15) as i32 - 6;
        numbers.push(share * 10f64.powi(power));
        // Quarters and eighths, which make ties.
        numbers.push((share * 4000.0).round() / 8.0);
    }
    let negative: Vec<f64> = numbers.iter().map(|v| -v).collect();
    numbers.extend(negative);
    let figures: Vec<Value> = numbers.iter().map(|v| json!([v, figure(*v)])).collect();
    let page = page(
        &["a = 1 cm\nb = a * 2\nshow b\nadjust a from 0 cm to 2 cm by 1 cm"],
        &[],
    );
    // Figures of charts, by the rule of `charts/number.rs`: three significant digits, a minus sign,
    // no zeros at the end, gaps from five digits on (ISO 80000-1, 7.3.1, from memory).
    let signed = vec![
        json!([0.0, "0"]),
        json!([-9.75, "−9.75"]),
        json!([10.25, "+10.2"]),
        json!([10.35, "+10.3"]),
        json!([-0.5, "−0.5"]),
        json!([100.0, "+100"]),
        json!([1234.0, "+1230"]),
        json!([-12345.0, "−12\u{202f}300"]),
        json!([0.00012, "+0.00012"]),
        json!([25_000_000.0, "+2.5×10⁷"]),
        json!([-3.0e-5, "−3×10⁻⁵"]),
    ];
    let given = numbers.iter().map(|v| json!([v, figure_as_given(*v)]));
    // Numbers that a script writes without an exponent, and with no more than 100 decimals.
    let pairs = numbers.iter().zip(numbers.iter().skip(2));
    let pairs = pairs.filter(|(v, u)| v.abs() < 1e21 && (**u <= 0.0 || (1e-60..1e21).contains(*u)));
    let rounded = pairs.map(|(v, u)| json!([v, u, value_and_uncertainty(*v, *u).join(" ")]));
    let judged = Judged {
        figures,
        given: given.collect(),
        rounded: rounded.collect(),
        signed,
        ..Judged::default()
    };
    let answer = ask_and_judge(&browser, &page, &[], &judged);
    assert_eq!(answer["figures"], json!([]));
    assert_eq!(answer["given"], json!([]));
    assert_eq!(answer["rounded"], json!([]));
    assert_eq!(answer["signed"], json!([]));
}

/// The functions that the standard leaves to the browser, over more than any reading spans. ECMA-262,
/// 21.3.2 asks for no accuracy; our own are within 2 ulp (`formula/math.rs`).
#[test]
fn the_functions_of_the_browser_are_close_to_ours() {
    let Some(browser) = browser() else { return };
    let mut functions = Vec::new();
    for i in 0..4000 {
        let x = f64::from(i).mul_add(0.013, 1e-3);
        functions.push(json!(["exp", x - 26.0, 0.0, math::exp(x - 26.0)]));
        functions.push(json!(["log", x * x, 0.0, math::ln(x * x)]));
        functions.push(json!(["cos", x, 0.0, math::cos(x)]));
        let y = f64::from(i % 80) * 0.0725 - 2.9;
        functions.push(json!(["pow", x, y, math::pow(x, y)]));
    }
    let judged = Judged {
        functions,
        ..Judged::default()
    };
    let page = page(
        &["a = 1 cm\nb = a * 2\nshow b\nadjust a from 0 cm to 2 cm by 1 cm"],
        &[],
    );
    let answer = ask_and_judge(&browser, &page, &[], &judged);
    let off = answer["off"].as_f64().unwrap();
    assert!(off < AGREEMENT / 1000.0, "{off}");
}

/// The coverage factors: by finite sums and an expansion in the page, by the incomplete beta
/// function in the library.
#[test]
fn coverage_factors_agree() {
    let Some(browser) = browser() else { return };
    let wholes = [
        1.0, 2.0, 3.0, 4.0, 7.0, 30.0, 99.0, 999.0, 1000.0, 1001.0, 2500.0, 1e5,
    ];
    let mut factors: Vec<Value> = wholes
        .iter()
        .map(|n| json!([n, student_quantile(0.975, *n)]))
        .collect();
    factors.push(json!(["Infinity", student_quantile(0.975, f64::INFINITY)]));
    let judged = Judged {
        factors,
        ..Judged::default()
    };
    let page = page(
        &["a = 1 cm\nb = a * 2\nshow b\nadjust a from 0 cm to 2 cm by 1 cm"],
        &[],
    );
    let answer = ask_and_judge(&browser, &page, &[], &judged);
    // The logarithms of gamma functions cost the library's own quantile digits at large freedoms.
    let off = answer["factors"].as_f64().unwrap();
    assert!(off < 1e-10, "{off}");
}

const READINGS: &str = "use hemodynamics
lvot_diameter = 2.0 cm (u = 1 mm)
lvot_vti = 20 cm (u = 5 %)
heart_rate = 70 /min
rhythm = regular
height = 170 cm
weight = 70 kg
systolic_pressure = 120 mm[Hg] (u = 3 mm[Hg])
diastolic_pressure = 80 mm[Hg] (u = 3 mm[Hg])
central_venous_pressure = 5 mm[Hg] assumed
doppler_angle = 10 deg";
const MOVED: &str = "adjust lvot_diameter from 1.6 cm to 2.6 cm by 0.5 mm
adjust lvot_vti from 8 cm to 30 cm by 0.5 cm
adjust central_venous_pressure from 0 mm[Hg] to 60 mm[Hg] by 1 mm[Hg]
adjust doppler_angle from 0 deg to 60 deg by 5 deg";
const SHOWN: &str = "show lvot_diameter, stroke_volume, cardiac_output, cardiac_index, systemic_vascular_resistance, systemic_vascular_resistance_index
describe exam
draw stroke_volume against lvot_diameter from 1.6 cm to 2.6 cm
draw cardiac_output when lvot_diameter is off by 1 mm, lvot_vti is off by 10 %
explain stroke_volume
show budget of cardiac_output
show budget of systemic_vascular_resistance";

/// A page whose readings were moved shows what the library writes for the same readings.
#[test]
fn a_moved_page_is_the_page_of_the_moved_readings() {
    let Some(browser) = browser() else { return };
    let page_now = page(&[READINGS, MOVED, SHOWN], &[]);
    let moves = [(0, 13), (1, 5), (2, 12), (3, 5)];
    let moved = ask(&browser, &page_now, &moves);
    let instead = [
        ("lvot_diameter", "2.25 cm (u = 1 mm)"),
        ("lvot_vti", "10.5 cm (u = 5 %)"),
        ("central_venous_pressure", "12 mm[Hg] assumed"),
        ("doppler_angle", "25 deg"),
    ];
    let written = page(&[READINGS, MOVED, SHOWN], &instead);
    let expected = ask(&browser, &written, &[]);
    assert_eq!(moved["written"], moved["before"]);
    assert_eq!(expected["written"], expected["before"]);
    for part in ["shown", "told", "words", "lines", "captions"] {
        assert_eq!(moved["after"][part], expected["written"][part], "{part}");
        assert_ne!(moved["after"][part], moved["before"][part], "{part}");
    }
    assert_eq!(moved["before"]["fixed"], json!([false]));
    assert_eq!(moved["after"]["fixed"], json!([true]));
    assert_eq!(
        moved["spoken"],
        json!(["2.25 cm", "10.5 cm", "12 mmHg", "25°"])
    );
    assert_eq!(moved["paths"], expected["paths"]);
    assert_eq!(moved["rings"], expected["rings"]);
    assert_eq!(moved["bars"][0], expected["bars"][0]);
    // Where the library drew the mark before any script ran.
    let ring = written.find("class=\"ring s1\"").unwrap();
    let d = &written[ring..][written[ring..].find("d=\"M").unwrap() + 4..];
    let (x, y) = d[..d.find('a').unwrap()].split_once(',').unwrap();
    let at = [x.parse::<f64>().unwrap() + 4.5, y.parse::<f64>().unwrap()];
    for (k, drawn) in at.iter().enumerate() {
        let there = moved["rings"][0][k].as_f64().unwrap();
        assert!((there - drawn).abs() < 0.21, "{there} {drawn}");
    }
}

/// Serial exams: the change, and what it is held against, follow what is moved.
#[test]
fn serial_exams_follow() {
    let Some(browser) = browser() else { return };
    let readings = "use hemodynamics
use hemodynamics as first
use hemodynamics as second
lvot_diameter = 2.0 cm (u = 1 mm)
rhythm = regular
first.lvot_vti = 20 cm (u = 4 %)
second.lvot_vti = 21 cm (u = 4 %)
first.heart_rate = 70 /min
second.heart_rate = 80 /min";
    let shown = "adjust second.lvot_vti from 10 cm to 30 cm by 0.5 cm
adjust lvot_diameter from 1.6 cm to 2.4 cm by 0.5 mm
draw stroke_distance over exams first, second
draw stroke_volume over exams first, second
draw minute_distance over exams first, second
describe second";
    let moved = ask(&browser, &page(&[readings, shown], &[]), &[(0, 36), (1, 2)]);
    let there = [
        ("second.lvot_vti", "28 cm (u = 4 %)"),
        ("lvot_diameter", "1.7 cm (u = 1 mm)"),
    ];
    let expected = ask(&browser, &page(&[readings, shown], &there), &[]);
    assert_eq!(moved["written"], moved["before"]);
    assert_eq!(moved["after"]["captions"], expected["written"]["captions"]);
    assert_eq!(moved["after"]["words"], expected["written"]["words"]);
    assert_eq!(moved["paths"], expected["paths"]);
    let caption = moved["after"]["captions"][0].as_str().unwrap();
    let verdict = "second: +40.0 %, exceeds measurement error (";
    assert!(caption.contains(verdict), "{caption}");
    assert!(caption.contains("); cause not implied"), "{caption}");
}

/// Beats move together; what acquisitions scatter stays an amount or a share, as it was stated,
/// and both join anew, with their degrees of freedom.
#[test]
fn what_acquisitions_scatter_is_moved_too() {
    let Some(browser) = browser() else { return };
    let shown = "adjust lvot_vti from 10 cm to 30 cm by 0.1 cm
show stroke_volume, cardiac_output
show budget of stroke_volume";
    for (stated, there) in [
        (
            "beats(17.8, 18.4, 18.1) cm (between 4 % freedom 11)",
            "beats(23.7, 24.3, 24.0) cm (between 4 % freedom 11)",
        ),
        (
            "beats(17.8, 18.4, 18.1) cm (between 0.7 cm)",
            "beats(23.7, 24.3, 24.0) cm (between 0.7 cm)",
        ),
        (
            "18.1 cm (u = 0.3 cm, between 4 % freedom 5)",
            "24 cm (u = 0.3 cm, between 4 % freedom 5)",
        ),
        (
            "18.1 cm (u = 2 %, between 7 mm freedom 5)",
            "24 cm (u = 2 %, between 7 mm freedom 5)",
        ),
    ] {
        let readings = format!(
            "use hemodynamics\nlvot_diameter = 2.0 cm (u = 1 mm)\nrhythm = regular\n\
             heart_rate = 70 /min (u = 2 /min)\nlvot_vti = {stated}"
        );
        let moved = ask(&browser, &page(&[&readings, shown], &[]), &[(0, 140)]);
        let written = page(&[&readings, shown], &[("lvot_vti", there)]);
        let expected = ask(&browser, &written, &[]);
        assert_eq!(moved["written"], moved["before"], "{stated}");
        for part in ["shown", "words", "captions"] {
            assert_eq!(
                moved["after"][part], expected["written"][part],
                "{stated}: {part}"
            );
        }
        assert_eq!(moved["spoken"], json!(["24.0 cm"]), "{stated}");
    }
}

/// Moving one reading can withhold a result; the page then says why, as the library does.
#[test]
fn a_moved_page_says_why_a_result_is_withheld() {
    let Some(browser) = browser() else { return };
    let cells = [
        READINGS,
        MOVED,
        "show systemic_vascular_resistance, systemic_vascular_resistance_index\ndescribe exam",
    ];
    // 60 mm[Hg] is not below a mean pressure; the mean is 93 by the rule of one third.
    let low = [
        ("systolic_pressure", "62 mm[Hg]"),
        ("diastolic_pressure", "50 mm[Hg]"),
    ];
    let moved = ask(&browser, &page(&cells, &low), &[(2, 58)]);
    let there = [
        low[0],
        low[1],
        ("central_venous_pressure", "58 mm[Hg] assumed"),
    ];
    let expected = ask(&browser, &page(&cells, &there), &[]);
    for part in ["shown", "told", "words"] {
        assert_eq!(moved["after"][part], expected["written"][part], "{part}");
    }
    let row = moved["after"]["shown"][0][0].as_str().unwrap();
    assert!(
        row.contains("missing") && row.contains("is withheld: central venous is not below"),
        "{row}"
    );
}

/// One formula for each operation, over readings that make some of them fail.
const OPERATIONS: &str = "use hemodynamics
use hemodynamics as first
rhythm = regular
first.rhythm = irregular
signal = ?
lvot_vti = beats(20, 21, 19) cm
x = 2 cm (u = 1 mm)
y [cm] = ? cm
z = 3 cm estimated
by_zero = 1 / (x - 1 cm)
root = sqrt(x / 1 cm - 1.5)
logarithm = if x < 1.5 cm then 1 else ln(x / 1 cm - 1)
instead = by_zero else 3 /cm
instead_of_missing = y else x
of_two_missing = y else y + x
negative = -x + z
size = abs(x - 3 cm)
waves = cos(x * 10 deg / 1 cm)
growth = exp(3 * x / 1 cm)
power = (x / 1 cm)^0.725
towered = (x / 1 cm)^(x / 2 cm)
cube = x^3
inverse = x^-2
least = min(x, z, 2.5 cm)
most = max(x, 1 cm / (x / 1 cm - 1))
average = mean(x, z)
held = clamp(x, 1 cm, 3 cm)
crossed = clamp(z, x, 2 cm)
both = if x < 3 cm and z > 1 cm then x else z
either = if y > 1 cm or x > 1 cm then x else z
decided = if x > 1 cm and y > 1 cm then x else z
neither = if not (x >= 2 cm) then x else z
worded = if rhythm is regular then x else z
unworded = if signal is good then x else z
different = if differs(rhythm, first.rhythm) then x else z
counted = beat_count(lvot_vti) * x
states = if y is missing and z is estimated and x is measured and x is known then x else z
withheld_above [cm] = if x > 2.5 cm then withheld \"too large\" else x
marked = assumed(x) + estimated(z)
shifted = x / 1 cm + 1.5
near_two = if x <= 20.00000000001 mm then 1 else 0";

/// Every operation agrees, with its fault where it fails.
#[test]
fn a_moved_page_says_what_went_wrong() {
    let sheet = Sheet::read(OPERATIONS).unwrap().sheet;
    let names: Vec<String> = OPERATIONS
        .lines()
        .filter_map(|line| line.split_once(" = ").map(|(name, _)| name))
        .filter_map(|name| name.split(' ').next())
        .map(str::to_owned)
        .collect();
    let all: Vec<_> = sheet.cells().collect();
    let mut met: Vec<&str> = Vec::new();
    for cell in &sheet.outline(&all).cells {
        let steps = cell.formula.iter().flat_map(|f| f.tape.steps());
        met.extend(steps.map(step_name));
    }
    met.sort_unstable();
    met.dedup();
    assert_eq!(met.len(), STEPS, "{met:?}");
    let Some(browser) = browser() else { return };
    let show = format!("show {}", names.join(", "));
    let adjust = "adjust x from -1 cm to 4 cm by 0.5 cm";
    let cells = [OPERATIONS, adjust, show.as_str()];
    let now = page(&cells, &[]);
    for place in 0..11u32 {
        let there = format!("{} cm (u = 1 mm)", -1.0 + 0.5 * f64::from(place));
        let moved = ask(&browser, &now, &[(0, place)]);
        let lines = OPERATIONS.replace("2 cm (u = 1 mm)", &there);
        let written = page(&[lines.as_str(), adjust, show.as_str()], &[]);
        let expected = ask(&browser, &written, &[]);
        let (a, b) = (
            &moved["after"]["shown"][0],
            &expected["written"]["shown"][0],
        );
        for (k, name) in names.iter().enumerate() {
            assert_eq!(a[k], b[k], "{name} at {there}");
        }
        let sheet = Sheet::read(&lines).unwrap().sheet;
        agrees_with_the_sheet(
            &sheet,
            &names,
            &expected,
            &json!({ "exam": there, "expected": {}, "missing": [] }),
        );
    }
}

/// How many kinds of steps there are.
const STEPS: usize = 30;

/// The kind of a step; a new one does not compile until it is named here.
fn step_name(step: &Step) -> &'static str {
    match step {
        Step::Constant(_) => "constant",
        Step::Negate(_) => "negate",
        Step::Sqrt(_) => "root",
        Step::Exp(_) => "exponential",
        Step::Ln(_) => "logarithm",
        Step::Cos(_) => "cosine",
        Step::Abs(_) => "size",
        Step::Add(..) => "add",
        Step::AddNumber(..) => "add a number",
        Step::Subtract(..) => "subtract",
        Step::Multiply(..) => "multiply",
        Step::Times(..) => "times a number",
        Step::Divide(..) => "divide",
        Step::Over(..) => "over a number",
        Step::Power(..) => "power",
        Step::WholePower(..) => "whole power",
        Step::Min(..) => "min",
        Step::Max(..) => "max",
        Step::Clamp(..) => "clamp",
        Step::Select(..) => "select",
        Step::Else(..) => "else",
        Step::Compare(..) => "compare",
        Step::And(..) => "and",
        Step::Or(..) => "or",
        Step::Not(_) => "not",
        Step::IsWord(..) => "is a word",
        Step::IsState(..) => "is a state",
        Step::Differs(..) => "differs",
        Step::Withheld => "withheld",
        Step::Marked(..) => "marked",
    }
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
    let still = page(&[READINGS, "show stroke_volume"], &[]);
    assert!(still.contains("script-src 'none'") && !still.contains("<script"));
    let adjust = "adjust lvot_vti from 10 cm to 30 cm by 1 cm";
    let moving = page(&[READINGS, "show stroke_volume", adjust], &[]);
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
