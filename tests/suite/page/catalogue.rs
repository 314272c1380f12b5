//! The whole catalogue on a page: values, states, reasons, partials and uncertainties.

use semilunar::formula::{Lane, gradient, used_inputs};
use semilunar::sheet::{Outline, Sheet};
use semilunar::uncertainty::{Propagated, Settings, propagate};
use serde_json::{Value, json};

use super::{AGREEMENT, ask, browser, close, number, page};

/// Agreement with the oracle, which computes in 50 digits from the published formulas.
const ORACLE: f64 = 1e-11;

/// The lines of a sheet for an exam of the oracle, and of its readings by their uncertainties.
fn exam_lines(exam: &Value) -> (String, Vec<&str>) {
    let mut lines = String::from("use hemodynamics\n");
    let mut plain = Vec::new();
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
                            Value::Null => {
                                plain.push(name.as_str());
                                String::new()
                            }
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
    (lines, plain)
}

/// The same exam with uncertainties of each kind; every fifth reading states none.
fn with_uncertainties(lines: &str, plain: &[&str]) -> String {
    let mut kinds = [
        " (u = 3 %)",
        " (within 5 %)",
        " (triangular 2 %)",
        "(9)",
        "",
    ]
    .into_iter()
    .cycle();
    let mut text = String::new();
    for line in lines.lines() {
        let is_plain = plain
            .iter()
            .any(|name| line.starts_with(&format!("{name} = ")));
        match (is_plain, is_plain.then(|| kinds.next()).flatten()) {
            (true, Some("(9)")) => {
                let (number, unit) = line.rsplit_once(' ').unwrap();
                text.push_str(&format!("{number}(9) {unit}\n"));
            }
            (true, Some(kind)) => text.push_str(&format!("{line}{kind}\n")),
            _ => text.push_str(&format!("{line}\n")),
        }
    }
    if let [first, .., last] = plain {
        text.push_str(&format!("correlate {first}, {last} by 0.4\n"));
    }
    text
}

/// Expected values: `tests/oracles/catalogue.py`, 50-digit arithmetic from the published formulas.
#[test]
fn the_whole_catalogue_agrees_in_a_browser() {
    let Some(browser) = browser() else { return };
    let text = include_str!("../../oracles/catalogue.json");
    let exams: Vec<Value> = serde_json::from_str(text).unwrap();
    assert!(exams.len() > 10);
    let (mut compared, mut budgets) = (0, 0);
    for (exam, lines) in exams.iter().flat_map(|exam| {
        let (lines, plain) = exam_lines(exam);
        let uncertain = with_uncertainties(&lines, &plain);
        let borrowed = format!("{lines}repeatability robson_1988\ncoverage 99 %\n");
        [(exam, borrowed), (exam, uncertain)]
    }) {
        let sheet = Sheet::read(&lines).unwrap().sheet;
        let names: Vec<String> = sheet.cells().map(|c| sheet.name(c)).collect();
        let show = format!("show {}", names.join(", "));
        // Any reading makes the page recompute.
        let adjust = "adjust heart_rate from 10 /min to 350 /min by 1 /min";
        let page = page(&[&lines, &show, adjust], &[]);
        let answer = ask(&browser, &page, &[]);
        compared += agrees_with_the_sheet(&sheet, &names, &answer, exam);
        budgets += trusted(&answer);
        // What the library wrote is what the page computes.
        assert_eq!(answer["written"], answer["before"], "{}", exam["exam"]);
    }
    assert!(compared > 1600 && budgets > 300, "{compared} {budgets}");
}

/// Changes between exams that share a diameter, so that its error cancels or counts once.
#[test]
fn changes_between_exams_agree_in_a_browser() {
    let Some(browser) = browser() else { return };
    let lines = "use hemodynamics
use hemodynamics as before
use hemodynamics as after
compare before, after
rhythm = regular
lvot_diameter = 2.0 cm (u = 1 mm)
height = 170 cm (u = 2 cm)
weight = 70 kg
before.lvot_vti = beats(18, 18.6, 17.7) cm (between 0.7 cm freedom 11)
after.lvot_vti = beats(22, 21.4, 21.9) cm (between 4 % freedom 7)
correlate before.lvot_vti, after.lvot_vti by 0.5
before.heart_rate = 90 /min (u = 2 /min)
after.heart_rate = 84 /min (within 3 %)
before.mean_pressure = 62 mm[Hg] (u = 3 mm[Hg])
after.mean_pressure = 70 mm[Hg] (u = 3 mm[Hg])
central_venous_pressure = 8 mm[Hg] (u = 2 mm[Hg]) assumed";
    let sheet = Sheet::read(lines).unwrap().sheet;
    let names: Vec<String> = sheet.cells().map(|c| sheet.name(c)).collect();
    let show = format!("show {}", names.join(", "));
    let adjust = "adjust lvot_diameter from 1.5 cm to 2.5 cm by 0.5 mm";
    let answer = ask(&browser, &page(&[lines, &show, adjust], &[]), &[]);
    let exam = json!({ "exam": "two exams", "expected": {}, "missing": [] });
    agrees_with_the_sheet(&sheet, &names, &answer, &exam);
    assert!(trusted(&answer) > 40, "{}", trusted(&answer));
}

/// How many cells have a budget.
fn trusted(answer: &Value) -> usize {
    let cells = answer["cells"].as_array().unwrap().iter();
    let lines = cells.filter_map(|cell| cell["trust"]["lines"].as_array());
    lines.filter(|lines| !lines.is_empty()).count()
}

/// Values, states, reasons, uncertainties, partials and used operands of all cells; gives how many were compared.
pub fn agrees_with_the_sheet(
    sheet: &Sheet,
    names: &[String],
    answer: &Value,
    exam: &Value,
) -> usize {
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
        if !there["trust"].is_null() {
            let found = propagate(sheet, here.cell, &Settings::of(sheet));
            match found {
                Ok(found) => is_trusted_alike(&outline, &there["trust"], &found, &said),
                Err(error) => {
                    assert_eq!(there["trust"]["error"], json!(error.to_string()), "{said}");
                }
            }
        }
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
        // Nothing is propagated through a cell that is not known.
        if !here.now.status.is_known() {
            continue;
        }
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

/// Uncertainty, freedom, coverage factor and budget of a cell.
fn is_trusted_alike(outline: &Outline, there: &Value, here: &Propagated, said: &str) {
    let of = |value: &Value| value.as_f64().unwrap_or_else(|| number(value));
    let alike = |value: &Value, here: f64, what: &str| {
        let there = of(value);
        assert!(
            close(there, here, AGREEMENT),
            "{said}: {what} {there}, not {here}"
        );
    };
    alike(&there["u"], here.standard, "uncertainty");
    alike(&there["freedom"], here.freedom, "freedom");
    alike(&there["factor"], here.coverage.factor, "factor");
    let share = of(&there["correlated"]);
    assert!((share - here.correlated_share).abs() < AGREEMENT, "{said}");
    let unstated: Vec<_> = here.unstated.iter().map(|c| outline.place(*c)).collect();
    assert_eq!(there["unstated"], json!(unstated), "{said}");
    let lines = there["lines"].as_array().unwrap();
    assert_eq!(lines.len(), here.budget.len(), "{said}");
    for line in &here.budget {
        // Equal shares may change places by their last bits.
        let place = json!(outline.place(line.cell));
        let there = lines
            .iter()
            .find(|l| l[0] == place && l[1] == json!(line.is_model));
        let there = there.unwrap_or_else(|| panic!("{said}: no line for {place}"));
        alike(&there[2], line.standard, "standard");
        alike(&there[3], line.sensitivity, "sensitivity");
        alike(&there[4], line.contribution, "contribution");
        alike(&there[5], line.share, "share");
    }
}
