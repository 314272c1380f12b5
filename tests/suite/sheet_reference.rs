//! Sheets against numbers from outside the project.
//!
//! "Computed" numbers were computed from the published definition in 25-digit arithmetic and
//! are given to as many digits as written here: their last digit is their tolerance.

use crate::sheet_support::{ORDER_OF_OPERATIONS, agree, cell, sheet, value};
use semilunar::sheet::{Sheet, State};

/// D 2.0 cm, VTI 20 cm, HR 70, 170 cm / 70 kg, 120/80 mmHg, CVP 5.
const ONE_EXAM: &str = "
    use hemodynamics
    height = 170 cm
    weight = 70 kg
    lvot_diameter = 2.0 cm
    lvot_vti = 20 cm
    heart_rate = 70 /min
    systolic_pressure = 120 mm[Hg]
    diastolic_pressure = 80 mm[Hg]
    central_venous_pressure = 5 mm[Hg]
";

/// A number written to a limited number of digits: right to half a unit of its last one.
fn written(text: &str) -> (f64, f64) {
    let decimals = text.split_once('.').map_or(0, |(_, after)| after.len());
    let half_digit = 0.500001 * 10f64.powi(-(decimals as i32));
    (text.parse().unwrap(), half_digit)
}

#[track_caller]
fn is_written(value: f64, text: &str) {
    let (expected, half_digit) = written(text);
    let rounding = ORDER_OF_OPERATIONS * expected.abs();
    assert!(
        (value - expected).abs() <= half_digit + rounding,
        "{value} is not {text}"
    );
}

// ---- one exam --------------------------------------------------------------------------

#[test]
fn one_exam_gives_the_numbers_of_the_definitions() {
    let sheet = sheet(ONE_EXAM);
    // Baumgartner 2009 J Am Soc Echocardiogr 22:1-23: circular area from the diameter.
    assert!(agree(
        value(&sheet, "lvot_area"),
        std::f64::consts::PI,
        ORDER_OF_OPERATIONS
    ));
    // Area times VTI; that times heart rate (Quiñones 2002 J Am Soc Echocardiogr 15:167-84).
    is_written(value(&sheet, "stroke_volume"), "62.831853071796");
    is_written(value(&sheet, "cardiac_output"), "4.3982297150257");
    // Per body surface area by Du Bois.
    is_written(value(&sheet, "stroke_volume_index"), "34.7193359121");
    is_written(value(&sheet, "cardiac_index"), "2.43035351385");
    // MAP = DBP + (SBP − DBP) / 3 (Chemla 2002 Clin Sci 103:7-13).
    is_written(value(&sheet, "mean_pressure"), "93.3333333333");
    // Chemla 1998 Am J Physiol 274:H500-5.
    is_written(
        value(&sheet, "stroke_volume_per_pulse_pressure"),
        "1.57079632679",
    );
    // 0.9 · SBP / SV (Kelly 1992 Circulation 86:513-21; the factor from memory).
    is_written(value(&sheet, "arterial_elastance"), "1.71887338539");
}

/// The two definitions of a millimeter of mercury: UCUM's, 133.3220 kPa to the meter, and the
/// conventional one of 133.322387415 Pa.
const UCUM_FACTOR: f64 = 0.6 * 133.3220;
const CONVENTIONAL_FACTOR: f64 = 79.993432449;
const CUSTOMARY_FACTOR: f64 = 80.0;

#[test]
fn resistance_is_exact_where_custom_multiplies_by_80() {
    let sheet = sheet(ONE_EXAM);
    let resistance = value(&sheet, "systemic_vascular_resistance");
    // (MAP − CVP) / CO, in mmHg·min/L: what the factors multiply.
    let bare = (93.0 + 1.0 / 3.0 - 5.0) / 4.398_229_715_025_7;
    is_written(bare * CUSTOMARY_FACTOR, "1606.70704455");
    is_written(bare * CONVENTIONAL_FACTOR, "1606.57514292");
    assert!(agree(UCUM_FACTOR, 79.9932, 1e-15));
    assert!(agree(resistance, bare * UCUM_FACTOR, ORDER_OF_OPERATIONS));

    // The stated difference: the customary factor reads 0.009 % high against UCUM's millimeter
    // of mercury, 0.0082 % against the conventional one.
    let high = |factor: f64| 100.0 * (CUSTOMARY_FACTOR / factor - 1.0);
    assert_eq!(format!("{:.3}", high(UCUM_FACTOR)), "0.009");
    assert_eq!(format!("{:.4}", high(CONVENTIONAL_FACTOR)), "0.0082");

    // The customary result is at hand for whoever needs it, written as custom writes it.
    let customary = crate::sheet_support::sheet(&format!(
        "{ONE_EXAM}customary [dyn.s/cm5] = 80 dyn.s/cm5 * \
         ((mean_pressure - central_venous_pressure) / 1 mm[Hg]) / (cardiac_output / 1 L/min)"
    ));
    is_written(value(&customary, "customary"), "1606.70704455");
}

#[test]
fn the_index_of_resistance_multiplies_by_area() {
    let sheet = sheet(ONE_EXAM);
    let index = value(&sheet, "systemic_vascular_resistance_index");
    let customary = index * CUSTOMARY_FACTOR / UCUM_FACTOR;
    is_written(customary, "2907.67027365");
    let resistance = value(&sheet, "systemic_vascular_resistance");
    let area = value(&sheet, "body_surface_area");
    assert!(agree(index, resistance * area, ORDER_OF_OPERATIONS));
    let unit = sheet.unit(cell(&sheet, "systemic_vascular_resistance_index"));
    assert_eq!(unit.unwrap().code(), "dyn.s.m2/cm5");
}

#[test]
fn power_is_exact_where_custom_divides_by_451() {
    // Fincke 2004 J Am Coll Cardiol 44:340-8 divides by 451.
    let sheet = sheet(ONE_EXAM);
    let power = value(&sheet, "cardiac_power_output");
    let bare = (93.0 + 1.0 / 3.0) * 4.398_229_715_025_7;
    is_written(bare / 451.0, "0.910202749599");
    // 1 W is 1 Pa·m³/s: the divisor is 60 000 over the pascals of a millimeter of mercury.
    let exact = 60_000.0 / 133.3220;
    assert_eq!(format!("{exact:.2}"), "450.04");
    assert!(agree(power, bare / exact, ORDER_OF_OPERATIONS));
    let low = 100.0 * (1.0 - exact / 451.0);
    assert_eq!(format!("{low:.2}"), "0.21");
}

#[test]
fn more_exams_give_the_numbers_of_the_definitions() {
    for (diameter, vti, rate, stroke_volume, cardiac_output) in [
        ("2.1", "18", "80", "62.344906210489", "4.9875924968392"),
        ("1.8", "22", "60", "55.98318108697", "3.3589908652182"),
        ("2.2", "15.5", "95", "58.920570218077", "5.5974541707173"),
    ] {
        let sheet = sheet(&format!(
            "use hemodynamics\nlvot_diameter = {diameter} cm\nlvot_vti = {vti} cm\nheart_rate = {rate} /min"
        ));
        is_written(value(&sheet, "stroke_volume"), stroke_volume);
        is_written(value(&sheet, "cardiac_output"), cardiac_output);
    }
}

#[test]
fn one_millimeter_of_diameter_is_a_tenth_of_the_flow() {
    // Arithmetic: (2.1 / 2)² = 1.1025 and (1.9 / 2)² = 0.9025.
    let mut sheet = sheet(ONE_EXAM);
    let before = value(&sheet, "stroke_volume");
    for (diameter, factor) in [("2.1 cm", 1.1025), ("1.9 cm", 0.9025)] {
        sheet.set_text("lvot_diameter", diameter).unwrap();
        let after = value(&sheet, "stroke_volume");
        assert!(agree(after / before, factor, ORDER_OF_OPERATIONS));
    }
}

#[test]
fn the_doppler_angle_hides_velocity_by_its_cosine() {
    // Doppler equation: the velocity read is the velocity times the cosine; computed.
    for (angle, percent) in [(10, "1.5192247"), (20, "6.0307379"), (30, "13.39746")] {
        let sheet = sheet(&format!("use hemodynamics\ndoppler_angle = {angle} deg"));
        is_written(value(&sheet, "velocity_underestimate"), percent);
    }
}

// ---- body surface area -----------------------------------------------------------------

#[test]
fn five_formulas_of_body_surface_area_agree_with_their_publications() {
    // Du Bois 1916 Arch Intern Med 17:863-71; Mosteller 1987 N Engl J Med 317:1098; Haycock 1978
    // J Pediatr 93:62-6; Gehan & George 1970 Cancer Chemother Rep 54:225-35; Boyd 1935. The
    // coefficients but Mosteller's are from memory; computed from them.
    const FORMULAS: [&str; 5] = ["", "_mosteller", "_haycock", "_gehan_george", "_boyd"];
    for (height, weight, areas) in [
        (
            170,
            70,
            [
                "1.80970780175",
                "1.81811868577",
                "1.82567712478",
                "1.83128931342",
                "1.83467028983",
            ],
        ),
        (
            180,
            80,
            [
                "1.99642102228",
                "2.00000000000",
                "2.00655982062",
                "2.00948268547",
                "2.00735548151",
            ],
        ),
        (
            160,
            60,
            [
                "1.62206253144",
                "1.63299316186",
                "1.64052630789",
                "1.64886803006",
                "1.65577159694",
            ],
        ),
    ] {
        let sheet = sheet(&format!(
            "use hemodynamics\nheight = {height} cm\nweight = {weight} kg"
        ));
        for (formula, area) in FORMULAS.iter().zip(areas) {
            let name = format!("body_surface_area{formula}");
            is_written(value(&sheet, &name), area);
        }
    }
}

#[test]
fn du_bois_in_meters_has_another_coefficient() {
    // 0.007184 · 100^0.725 = 0.2024726298 (computed), often printed as 0.20247.
    let sheet = sheet(
        "use hemodynamics\nheight = 1.7 m\nweight = 70 kg\n\
         in_meters [m2] = 0.2024726298 m2 * (weight / 1 kg)^0.425 * (height / 1 m)^0.725",
    );
    let (in_meters, usual) = (
        value(&sheet, "in_meters"),
        value(&sheet, "body_surface_area"),
    );
    // The coefficient has ten digits.
    assert!(agree(in_meters, usual, 1e-9));
}

// ---- the catalogue's oracle ------------------------------------------------------------

/// The reading of one of the oracle's inputs.
fn reading(input: &serde_json::Value) -> String {
    let list = |values: &serde_json::Value| {
        let values: Vec<String> = values
            .as_array()
            .unwrap()
            .iter()
            .map(ToString::to_string)
            .collect();
        values.join(", ")
    };
    match input {
        serde_json::Value::String(word) => word.clone(),
        _ => {
            let unit = input["unit"].as_str().unwrap();
            let number = if !input["beats"].is_null() {
                format!("beats({})", list(&input["beats"]))
            } else if !input["largest"].is_null() {
                format!("largest({})", list(&input["largest"]))
            } else {
                input["value"].to_string()
            };
            format!("{number} {unit}")
        }
    }
}

fn lines_of(exam: &serde_json::Value) -> Vec<(String, String)> {
    let inputs = exam["inputs"].as_object().unwrap();
    let findings = exam["findings"].as_object().unwrap();
    let inputs = inputs.iter().map(|(n, input)| (n.clone(), reading(input)));
    let findings = findings
        .iter()
        .map(|(n, word)| (n.clone(), word.as_str().unwrap().to_owned()));
    inputs.chain(findings).collect()
}

fn oracle() -> Vec<serde_json::Value> {
    let text = include_str!("../oracles/catalogue.json");
    let exams: Vec<serde_json::Value> = serde_json::from_str(text).unwrap();
    assert!(exams.len() >= 17, "the oracle lost exams");
    exams
}

#[track_caller]
fn agrees_with_oracle(sheet: &Sheet, exam: &serde_json::Value, prefix: &str) {
    let title = exam["exam"].as_str().unwrap();
    let expected = exam["expected"].as_object().unwrap();
    for (name, number) in expected {
        let found = value(sheet, &format!("{prefix}{name}"));
        let number = number.as_f64().unwrap();
        assert!(
            agree(found, number, ORDER_OF_OPERATIONS),
            "{title}: {prefix}{name} is {found}, the oracle says {number}"
        );
    }
    let missing = exam["missing"].as_array().unwrap();
    for name in missing {
        let name = format!("{prefix}{}", name.as_str().unwrap());
        let cell = cell(sheet, &name);
        assert_eq!(sheet.state(cell), Some(State::Missing), "{title}: {name}");
        assert!(!sheet.because(cell).is_empty(), "{title}: {name}");
    }
    // The oracle speaks of every derived cell.
    for cell in sheet.cells().filter(|cell| sheet.is_derived(*cell)) {
        let name = sheet.name(cell);
        let Some(name) = name.strip_prefix(prefix) else {
            continue;
        };
        let is_told = expected.contains_key(name) || missing.iter().any(|m| m == name);
        assert!(is_told || name.contains('.'), "{title}: {name} is untold");
    }
}

#[test]
fn every_derived_cell_agrees_with_the_oracle() {
    // tests/oracles/catalogue.py: the published formulas in plain floats, with their sources.
    for exam in oracle() {
        let lines: Vec<String> = lines_of(&exam)
            .iter()
            .map(|(name, reading)| format!("{name} = {reading}"))
            .collect();
        let sheet = sheet(&format!("use hemodynamics\n{}", lines.join("\n")));
        agrees_with_oracle(&sheet, &exam, "");
    }
}

#[test]
fn two_exams_of_one_sheet_agree_with_the_oracle_each() {
    let exams = oracle();
    for pair in exams.windows(2) {
        let mut text = String::from("use hemodynamics as before\nuse hemodynamics as after\n");
        for (exam, prefix) in pair.iter().zip(["before", "after"]) {
            for (name, reading) in lines_of(exam) {
                text += &format!("{prefix}.{name} = {reading}\n");
            }
        }
        let sheet = sheet(&text);
        agrees_with_oracle(&sheet, &pair[0], "before.");
        agrees_with_oracle(&sheet, &pair[1], "after.");
    }
}

#[test]
fn readings_that_come_one_by_one_end_where_the_oracle_is() {
    for exam in oracle() {
        let mut sheet = sheet("use hemodynamics");
        for (name, reading) in lines_of(&exam) {
            sheet.set_text(&name, &reading).unwrap();
        }
        agrees_with_oracle(&sheet, &exam, "");
    }
}

#[test]
fn every_word_of_every_finding_can_be_given_and_asked_for() {
    use semilunar::hemodynamics::{What, entries};
    for entry in entries() {
        let What::Finding(words) = entry.what else {
            continue;
        };
        for word in words {
            let name = entry.name;
            let sheet = sheet(&format!(
                "use hemodynamics\n{name} = {word}\nasked = if {name} is {word} then 1 else 0"
            ));
            let given = sheet.word(cell(&sheet, name)).unwrap();
            assert_eq!(&**given, *word);
            assert_eq!(value(&sheet, "asked"), 1.0, "{name} is {word}");
            for other in words.iter().filter(|other| *other != word) {
                let sheet = sheet_that_asks(name, word, other);
                assert_eq!(value(&sheet, "asked"), 0.0, "{name} is {other}");
            }
        }
    }
}

fn sheet_that_asks(name: &str, word: &str, other: &str) -> Sheet {
    sheet(&format!(
        "use hemodynamics\n{name} = {word}\nasked = if {name} is {other} then 1 else 0"
    ))
}
