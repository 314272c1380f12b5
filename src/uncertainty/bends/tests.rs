//! Which bends and branches are found, and which are none.

use super::*;

/// What is found of the cell `y`, with the distance where it lies off the place.
fn found(text: &str) -> Vec<String> {
    let sheet = Sheet::read(text).unwrap().sheet;
    let y = sheet.cell("y").unwrap();
    let found = bends(&sheet, y, &Settings::of(&sheet)).unwrap();
    let words = found.iter().map(|bend| {
        let kind = if bend.is_branch { "branch" } else { "bend" };
        let name = sheet.name(bend.cell);
        format!("{kind} {name}: {} at {:.3}", bend.text, bend.standards)
    });
    words.collect()
}

#[test]
fn what_lies_within_expanded_uncertainty_is_found_and_what_lies_beyond_is_not() {
    // 1.96 standard uncertainties at 95 %: 21.9 cm lies within them, 22 cm does not.
    for (vti, expected) in [
        ("20", vec!["bend y: abs(v - 20 cm) at 0.000"]),
        ("21.9", vec!["bend y: abs(v - 20 cm) at 1.900"]),
        ("18.1", vec!["bend y: abs(v - 20 cm) at 1.900"]),
        ("22", vec![]),
    ] {
        let text = format!("v = {vti} cm (u = 1 cm)\ny = abs(v - 20 cm)");
        assert_eq!(found(&text), expected, "{vti}");
    }
    let text = "coverage 99 %\nv = 22 cm (u = 1 cm)\ny = abs(v - 20 cm)";
    assert_eq!(found(text), ["bend y: abs(v - 20 cm) at 2.000"]);
}

#[test]
fn every_operation_that_can_bend_is_known() {
    for (formula, expected) in [
        ("min(v, 20 cm)", "bend y: min(v, 20 cm) at 0.000"),
        ("max(20 cm, v)", "bend y: max(20 cm, v) at 0.000"),
        (
            "clamp(v, 20 cm, 30 cm)",
            "bend y: clamp(v, 20 cm, 30 cm) at 0.000",
        ),
        (
            "clamp(v, 1 cm, 20 cm)",
            "bend y: clamp(v, 1 cm, 20 cm) at 0.000",
        ),
        ("if v < 20 cm then 1 else 2", "branch y: v < 20 cm at 0.000"),
        (
            "if not (v >= 20 cm) then 1 else 2",
            "branch y: v >= 20 cm at 0.000",
        ),
        (
            "if v < 20 cm then v else 20 cm",
            "branch y: v < 20 cm at 0.000",
        ),
        (
            "if v > 20 cm then withheld \"too far\" else v",
            "branch y: v > 20 cm at 0.000",
        ),
    ] {
        let text = format!("v = 20 cm (u = 1 cm)\ny = {formula}");
        assert_eq!(found(&text), [expected], "{formula}");
    }
}

#[test]
fn a_place_that_changes_nothing_is_none() {
    let none: Vec<String> = Vec::new();
    for formula in [
        // Both sides are the same.
        "if v < 20 cm then 1 else 1",
        "if v < 20 cm then v * 2 else v + v",
        // The bend cancels.
        "abs(v - 20 cm) - abs(v - 20 cm) + v",
        "abs(v - 20 cm) + (if 2 * v > 40 cm then 20 cm - v else v - 20 cm)",
        // The branch with the bend is not taken, and no uncertainty reaches the other.
        "if v < 40 cm then v else abs(v - 20 cm)",
        // The other comparison decides, and is far.
        "if v < 20 cm and v > 40 cm then 1 else 2",
        // Both arguments are one cause, and are equal for every reading of it.
        "min(v, v + 0 cm)",
        // What decides states no uncertainty.
        "min(w, 20 cm) + v",
    ] {
        let text = format!("v = 20 cm (u = 1 cm)\nw = 20 cm\ny = {formula}");
        assert_eq!(found(&text), none, "{formula}");
    }
}

#[test]
fn a_cause_of_both_sides_counts_once_in_their_difference() {
    // b − a is 0.3 cm with u 0.1 cm, not with the 1.4 cm that a and b seem to have.
    let text = "a = 20 cm (u = 1 cm)\nd = 0.3 cm (u = 0.1 cm)\nb = a + d\ny = min(a, b)";
    assert!(found(text).is_empty());
    let text = "a = 20 cm (u = 1 cm)\nd = 0.1 cm (u = 0.1 cm)\nb = a + d\ny = min(a, b)";
    assert_eq!(found(text), ["bend y: min(a, b) at 1.000"]);
    // And a stated correlation counts too: u(b − a)² = 2 − 2 · 0.99, so 0.5 is 3.5 of them.
    let text = "a = 20 cm (u = 1 cm)\nb = 20.5 cm (u = 1 cm)\ny = min(a, b)";
    assert_eq!(found(text), ["bend y: min(a, b) at 0.354"]);
    assert!(found(&format!("{text}\ncorrelate a, b by 0.99")).is_empty());
}

#[test]
fn places_further_back_count_where_the_result_moves_with_them() {
    let text = "v = 20 cm (u = 1 cm)\nd = abs(v - 20 cm)\ny = 2 * d + v";
    assert_eq!(found(text), ["bend d: abs(v - 20 cm) at 0.000"]);
    let text = "v = 20 cm (u = 1 cm)\nd = abs(v - 20 cm)\ny = d - d + v";
    assert!(found(text).is_empty());
    // A class moves nothing by a slope, but the other class would give another result.
    let text = "v = 20 cm (u = 1 cm)\nc = if v < 20 cm then 1 else 2\n\
                y = if c > 1.5 then 7 else 8";
    assert_eq!(found(text), ["branch c: v < 20 cm at 0.000"]);
    let text = "v = 20 cm (u = 1 cm)\nc = if v < 20 cm then 1 else 2\n\
                y = if c > 0.5 then 7 else 8";
    assert!(found(text).is_empty());
    // A reading in the place of the formula ends the way.
    let text = "use hemodynamics\nweight = 69 kg (u = 1 kg)\nheight = 170 cm\n\
                lvot_diameter = unobtainable\nlvot_vti = 20 cm\ny = stroke_volume";
    let place = "branch lvot_diameter_from_body_size: body_surface_area < 1.8 m2";
    assert!(found(text)[0].starts_with(place), "{:?}", found(text));
    let text = "use hemodynamics\nweight = 62 kg (u = 1 kg)\nheight = 170 cm\n\
                lvot_diameter_from_body_size = 1.9 cm\nlvot_diameter = unobtainable\n\
                lvot_vti = 20 cm\ny = stroke_volume";
    assert!(found(text).is_empty());
}

#[test]
fn comparisons_that_only_together_change_the_result_are_found_together() {
    let text = "a = 0.9 cm (u = 1 cm)\nb = 0.8 cm (u = 1 cm)\n\
                y = if a > 1 cm and b > 1 cm then 1 else 2";
    assert_eq!(
        found(text),
        ["branch y: a > 1 cm at 0.100", "branch y: b > 1 cm at 0.200"]
    );
}
