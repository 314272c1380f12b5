//! The JSON of a sheet: its keys and their types are a format that programs rely on.

use serde_json::Value;

use crate::sheet_support::sheet;

fn keys(value: &Value) -> Vec<&str> {
    let keys = value.as_object().unwrap().keys();
    keys.map(String::as_str).collect()
}

/// Cells in every state, with and without uncertainty and advice.
const SHEET: &str = "
    use hemodynamics
    lvot_diameter = 2.9 cm (u = 1 mm)
    lvot_vti = beats(17.8, 18.4, 18.1) cm
    rhythm = regular
    mean_pressure = 68 mm[Hg] assumed
    weight = unobtainable
    zero = 0
    ratio [mL] = stroke_volume / zero
";

#[test]
fn the_keys_are_those_of_format_1_in_order() {
    let json = sheet(SHEET).to_json();
    assert_eq!(keys(&json), ["format", "cells"]);
    assert_eq!(json["format"], 1);
    let mut advised = 0;
    for (name, cell) in json["cells"].as_object().unwrap() {
        let expected = [
            "value",
            "unit",
            "standard_uncertainty",
            "state",
            "because",
            "origin",
            "derived",
            "advisories",
            "lower_bound",
            "unstated",
            "coverage",
            "degrees_of_freedom",
            "uncertainty_because",
            "published",
            "degrees_of_freedom_because",
            "bends_within_reach",
            "without_slope",
        ];
        assert_eq!(keys(cell), expected, "{name}");
        for advisory in cell["advisories"].as_array().unwrap() {
            assert_eq!(keys(advisory), ["text", "weight", "source"], "{name}");
            assert!(advisory["weight"] == "note" || advisory["weight"] == "caution");
            advised += 1;
        }
    }
    assert!(advised > 3);
}

#[test]
fn the_value_is_null_unless_known_and_then_there_is_a_reason() {
    let json = sheet(SHEET).to_json();
    let mut met = std::collections::BTreeSet::new();
    for (name, cell) in json["cells"].as_object().unwrap() {
        let state = cell["state"].as_str().unwrap();
        met.insert(state);
        let is_known = state == "known";
        assert_eq!(!cell["value"].is_null(), is_known, "{name}");
        assert_eq!(!cell["origin"].is_null(), is_known, "{name}");
        assert_eq!(cell["because"].as_array().unwrap().is_empty(), is_known);
        assert!(cell["unit"].is_string() && cell["derived"].is_boolean());
        let uncertainty = &cell["standard_uncertainty"];
        assert!(
            uncertainty.is_null() || (is_known && uncertainty.is_f64()),
            "{name}"
        );
    }
    assert_eq!(Vec::from_iter(met), ["faulty", "known", "missing"]);
}

#[test]
fn all_named_cells_are_in_it_in_the_order_people_see() {
    let sheet = sheet(SHEET);
    let json = sheet.to_json();
    let shown: Vec<String> = sheet.cells().map(|cell| sheet.name(cell)).collect();
    assert_eq!(keys(&json["cells"]), shown);
    assert_eq!(shown.len(), sheet.len());
}

#[test]
fn numbers_survive_the_text_bit_for_bit() {
    let sheet = sheet(SHEET);
    let text = serde_json::to_string(&sheet.to_json()).unwrap();
    let back: Value = serde_json::from_str(&text).unwrap();
    for cell in sheet.cells() {
        let read = &back["cells"][sheet.name(cell)]["value"];
        match sheet.word(cell) {
            Some(word) => assert_eq!(read.as_str(), Some(&**word)),
            None => assert_eq!(
                read.as_f64().map(f64::to_bits),
                sheet.value(cell).map(f64::to_bits)
            ),
        }
    }
}
