//! Where linear propagation does not hold, and what is said then.

use semilunar::sheet::Sheet;
use semilunar::uncertainty::{
    Settings, Simulation, bends, explained_text, propagate, simulate, trust_words,
};

fn read(text: &str) -> Sheet {
    Sheet::read(text).unwrap().sheet
}

/// Words on a cell at a terminal: `show` and `explain`.
fn said(sheet: &Sheet, name: &str) -> [String; 2] {
    let text = sheet.to_text();
    let is_own = |line: &&str| line.split_whitespace().next() == Some(name);
    let shown = text.lines().find(is_own).unwrap().to_owned();
    [
        shown,
        explained_text(sheet, sheet.cell(name).unwrap()).unwrap(),
    ]
}

/// The half-normal distribution: |x| of a normal x about 0 has the standard deviation
/// σ √(1 − 2/π) (Leone, Nelson, Nottingham 1961 Technometrics 3:543-50, from memory), which is 0.6028 σ,
/// where linear propagation gives σ.
#[test]
fn at_a_bend_the_linear_answer_is_wrong_and_says_so_and_the_simulation_is_right() {
    let text = "vti = 20 cm (u = 1 cm)\nmissed = abs(vti - 20 cm)";
    let sheet = read(text);
    let cell = sheet.cell("missed").unwrap();
    let settings = Settings::of(&sheet);
    let linear = propagate(&sheet, cell, &settings).unwrap();
    let drawn = simulate(&sheet, cell, &settings, Simulation::default()).unwrap();
    assert_eq!(linear.standard, 1.0);
    let exact = (1.0 - 2.0 / std::f64::consts::PI).sqrt();
    assert!((drawn.standard - exact).abs() < 0.005, "{}", drawn.standard);
    const WORDS: &str = "`abs(vti - 20 cm)` bends within reach of the readings' uncertainties, so \
                         that linear figures do not hold: `simulate missed` gives those that do";
    for words in said(&sheet, "missed") {
        assert!(words.contains(WORDS), "{words}");
    }

    // Eight standard uncertainties away the two agree, and nothing is said.
    let sheet = read(&text.replace("= 20 cm", "= 28 cm"));
    let cell = sheet.cell("missed").unwrap();
    let drawn = simulate(&sheet, cell, &settings, Simulation::default()).unwrap();
    assert!((drawn.standard - 1.0).abs() < 0.01, "{}", drawn.standard);
    assert!(bends(&sheet, cell, &settings).unwrap().is_empty());
    assert!(!said(&sheet, "missed")[0].contains("bends"));
}

#[test]
fn a_branch_that_may_turn_is_said_though_no_slope_leads_to_it() {
    let sheet = read("vti = 20 cm (u = 1 cm)\nclass [1] = if vti < 20 cm then 1 else 2");
    let words = trust_words(&sheet, sheet.cell("class").unwrap()).unwrap();
    assert!(words.starts_with("`vti < 20 cm` may turn"), "{words}");
    let json = sheet.to_json();
    let class = &json["cells"]["class"];
    assert!(class["standard_uncertainty"].is_null());
    let found = class["bends_within_reach"].as_array().unwrap();
    assert_eq!(found.len(), 1);
    assert_eq!(found[0]["cell"], "class");
    assert_eq!(found[0]["at"], "vti < 20 cm");
    assert_eq!(found[0]["kind"], "branch");
    assert_eq!(found[0]["standard_uncertainties_away"], 0.0);
    assert_eq!(
        json["cells"]["vti"]["bends_within_reach"],
        serde_json::json!([])
    );
}

/// The formula of the catalogue for a diameter from body size changes at 1.8 m².
#[test]
fn a_branch_in_a_formula_of_the_catalogue_is_named_with_its_cell() {
    let exam = "use hemodynamics\nlvot_diameter = unobtainable\nlvot_vti = 20 cm (u = 1 cm)\n\
                height = 170 cm (u = 1 cm)\nweight = ";
    let place = "`body_surface_area < 1.8 m2` in lvot_diameter_from_body_size may turn";
    let near = read(&format!("{exam}69 kg (u = 1 kg)"));
    let far = read(&format!("{exam}60 kg (u = 1 kg)"));
    assert!(said(&near, "stroke_volume")[0].contains(place));
    assert!(!said(&far, "stroke_volume")[0].contains("may turn"));
    // What does not use the estimate says nothing of it.
    assert!(!said(&near, "body_surface_area")[0].contains("may turn"));
}

/// JCGM 100:2008, G.4.1, note 1: the formula of Welch and Satterthwaite is for independent
/// estimates.
#[test]
fn degrees_of_freedom_left_undefined_by_a_correlation_say_so() {
    const WHY: &str = "effective degrees of freedom are not defined for correlated readings; the \
                       coverage factor is that of a normal distribution";
    let text = "use hemodynamics as before\nuse hemodynamics as after\ncompare before, after\n\
                lvot_diameter = 2 cm (u = 1 mm)\nbefore.lvot_vti = beats(20, 21, 19) cm\n\
                after.lvot_vti = beats(24, 25, 23) cm\n\
                correlate before.lvot_vti, after.lvot_vti by 0.5";
    let sheet = read(text);
    for words in said(&sheet, "change.stroke_volume") {
        assert!(words.contains(WHY), "{words}");
    }
    let json = sheet.to_json();
    let change = &json["cells"]["change.stroke_volume"];
    assert!(change["degrees_of_freedom"].is_null());
    assert_eq!(change["degrees_of_freedom_because"], WHY);
    let factor = change["coverage"]["factor"].as_f64().unwrap();
    assert!((factor - 1.96).abs() < 1e-4, "{factor}");

    // One exam alone has nothing that is correlated: its beats limit the degrees of freedom, and
    // by the formula (G.2b), with relative parts 0.1 and √(1/3)/20.
    let before = &json["cells"]["before.stroke_volume"];
    let (diameter, beats) = (0.1_f64.powi(2), (1.0 / 3.0) / 400.0);
    let freedom = (diameter + beats).powi(2) / (beats.powi(2) / 2.0);
    let found = before["degrees_of_freedom"].as_f64().unwrap();
    assert!(
        (found - freedom).abs() < 1e-6 * freedom,
        "{found} {freedom}"
    );
    assert!(before["degrees_of_freedom_because"].is_null());

    // Where no degrees of freedom are limited, there is nothing to explain.
    let stated = text.replace("beats(20, 21, 19) cm", "20 cm (u = 1 cm)");
    let stated = stated.replace("beats(24, 25, 23) cm", "24 cm (u = 1 cm)");
    let [shown, explained] = said(&read(&stated), "change.stroke_volume");
    assert!(!shown.contains("not defined"), "{shown}");
    assert!(
        explained.contains("degrees of freedom not limited"),
        "{explained}"
    );
}
