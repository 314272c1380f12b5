//! `show` and `explain`.

use serde_json::Value;

use super::Desk;

#[test]
fn show_prints_readings_results_and_what_is_missing_with_the_reason() {
    let given = Desk::new().run(&["show", "exam.sheet"]);
    assert_eq!(given.code, 0, "{}", given.err);
    for part in [
        "Readings\n",
        "Results\n",
        "Not known\n",
        "height has no reading",
        "62.8 mL",
    ] {
        assert!(given.out.contains(part), "{part}: {}", given.out);
    }
}

/// pi/4 · (2 cm)² · 20 cm = 20 pi mL, by hand; the format is a promise to programs.
#[test]
fn json_holds_the_format_and_all_cells_at_full_precision() {
    let given = Desk::new().run(&["show", "exam.sheet", "--json"]);
    assert_eq!(given.code, 0);
    let json: Value = serde_json::from_str(&given.out).unwrap();
    let keys: Vec<&String> = json.as_object().unwrap().keys().collect();
    assert_eq!(keys, ["format", "cells"]);
    assert_eq!(json["format"], 1);
    let volume = json["cells"]["stroke_volume"].as_object().unwrap();
    let fields = [
        "value",
        "unit",
        "standard_uncertainty",
        "state",
        "because",
        "origin",
        "derived",
        "advisories",
    ];
    for field in fields {
        assert!(volume.contains_key(field), "{field}");
    }
    let value = volume["value"].as_f64().unwrap();
    assert!((value - 20.0 * std::f64::consts::PI).abs() < 1e-12);
    assert_eq!(volume["unit"], "mL");
    assert_eq!(
        (&volume["state"], &volume["derived"]),
        (&"known".into(), &true.into())
    );
    let index = &json["cells"]["cardiac_index"];
    assert_eq!(
        (&index["state"], &index["value"]),
        (&"missing".into(), &Value::Null)
    );
    assert!(!index["because"].as_array().unwrap().is_empty());
}

#[test]
fn readings_put_in_take_the_place_of_the_sheets() {
    let desk = Desk::new();
    let given = desk.run(&["show", "exam.sheet", "lvot_vti=10 cm", "height = 178 cm"]);
    assert_eq!(given.code, 0, "{}", given.err);
    assert!(
        given.out.contains("31.4 mL") && given.out.contains("178"),
        "{}",
        given.out
    );
    // A reading on a derived cell takes precedence over its formula.
    let given = desk.run(&["show", "exam.sheet", "stroke_volume=50 mL"]);
    assert!(given.out.contains("3.50 L/min"), "{}", given.out);
    assert_eq!(desk.text("exam.sheet"), super::EXAM);
}

#[test]
fn readings_that_do_not_fit_stop_with_a_reason() {
    let desk = Desk::new();
    for (reading, words) in [
        ("lvot_vit=10 cm", "did you mean `lvot_vti`?"),
        (
            "nothing_like_it=10 cm",
            "no cell is named `nothing_like_it`",
        ),
        ("lvot_vti=10 kg", "kg does not fit"),
        ("lvot_vti=-5 cm", "possible are"),
        ("lvot_vti=10", "lvot_vti=10:1:"),
        ("lvot_vti=10 furlong", "furlong"),
        ("lvot_vti=", "nothing stands after"),
        ("lvot_vti 10 cm", "write NAME=READING"),
        (
            "lvot_vti=10 cm\nuse hemodynamics as x",
            "write NAME=READING",
        ),
        ("=10 cm", "no cell is named"),
    ] {
        let given = desk.run(&["show", "exam.sheet", reading]);
        assert_eq!(given.code, 2, "{reading}: {}", given.out);
        assert!(
            given.out.is_empty() && given.err.contains(words),
            "{reading}: {}",
            given.err
        );
    }
}

#[test]
fn all_that_is_wrong_with_a_sheet_is_said_with_its_place() {
    let desk = Desk::new();
    desk.put(
        "bad.sheet",
        "use hemodynamics\nlvot_vti = 20 kg\nx = lvot_area + lvot_vti\ny = )\n",
    );
    let given = desk.run(&["show", "bad.sheet"]);
    assert_eq!(given.code, 2);
    for place in ["bad.sheet:2:12", "bad.sheet:4:5"] {
        assert!(given.err.contains(place), "{}", given.err);
    }
}

#[test]
fn warnings_go_beside_the_results() {
    let desk = Desk::new();
    desk.put("slip.sheet", "use hemodynamics\nlvot_diamter = 2 cm\n");
    let given = desk.run(&["show", "slip.sheet"]);
    assert_eq!(given.code, 0);
    assert!(given.err.starts_with("warning") && !given.out.contains("warning"));
}

#[test]
fn explain_says_formula_numbers_inputs_and_source() {
    let desk = Desk::new();
    let given = desk.run(&["explain", "exam.sheet", "stroke_volume"]);
    assert_eq!(given.code, 0);
    for part in ["62.8 mL", "lvot_area", "Source"] {
        assert!(given.out.contains(part), "{part}: {}", given.out);
    }
    let given = desk.run(&["explain", "exam.sheet", "stroke_volum"]);
    assert_eq!(given.code, 2);
    assert!(
        given.err.contains("did you mean `stroke_volume`?"),
        "{}",
        given.err
    );
    let given = desk.run(&["explain", "exam.sheet", "stroke_volume", "lvot_vti=10 cm"]);
    assert!(given.out.contains("31.4 mL"), "{}", given.out);
}

#[test]
fn files_that_cannot_be_read_are_code_3_and_text_that_is_none_is_code_2() {
    let desk = Desk::new();
    desk.put("bytes.sheet", [b'a', 0xff]);
    for (file, code, words) in [
        ("nowhere.sheet", 3, "nowhere.sheet"),
        (".", 3, "."),
        ("bytes.sheet", 2, "byte 1 is not UTF-8"),
    ] {
        let given = desk.run(&["show", file]);
        assert_eq!(given.code, code, "{file}: {}", given.err);
        assert!(given.err.contains(words), "{}", given.err);
    }
}

/// What linear propagation cannot tell is said where its figures stand.
#[test]
fn a_bend_within_reach_and_undefined_degrees_of_freedom_are_said() {
    let desk = Desk::new();
    desk.put(
        "bent.sheet",
        "first = beats(20, 21, 19) cm\nsecond = beats(24, 25, 23) cm\n\
         apart = second - first\ncorrelate first, second by 0.5\n\
         least = min(first, 20 cm)\nside [1] = if first < 20 cm then 1 else 2\n",
    );
    const BENDS: &str = "`min(first, 20 cm)` bends within reach of the readings' uncertainties, \
                         so that linear figures do not hold: `simulate least` gives those that do";
    let shown = desk.run(&["show", "bent.sheet"]).out;
    let explained = desk.run(&["explain", "bent.sheet", "least"]).out;
    for text in [&shown, &explained] {
        assert!(text.contains(BENDS), "{text}");
    }
    assert!(shown.contains("`first < 20 cm` may turn"), "{shown}");
    let explained = desk.run(&["explain", "bent.sheet", "apart"]).out;
    for text in [&shown, &explained] {
        let why = "effective degrees of freedom are not defined for correlated readings";
        assert!(text.contains(why), "{text}");
    }
}
