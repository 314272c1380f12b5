//! One formula for each operation, also where it fails.

use semilunar::formula::Step;
use semilunar::sheet::Sheet;
use serde_json::json;

use super::catalogue::agrees_with_the_sheet;
use super::{ask, browser, page};

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
