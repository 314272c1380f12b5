//! An error in one cell: what it says, what goes with it, and what does not.

use super::{EXAM, has_error, session, shown};

#[test]
fn an_error_leaves_the_rest_right_and_marks_what_rests_on_the_cell() {
    let mut session = session(&[
        ("use", "use hemodynamics\nlvot_diameter = 2 cm"),
        ("vti", "lvot_vti = 20 kg"),
        ("area", "show lvot_area"),
        ("flow", "show stroke_volume"),
        ("own", "double [mL] = 2 * stroke_volume"),
    ]);
    assert!(has_error(&session, "vti"));
    assert!(shown(&session, "vti").contains("cell 2:1:12"));
    assert!(shown(&session, "area").starts_with("lvot_area: 3.14 cm²"));
    let flow = shown(&session, "flow");
    assert!(has_error(&session, "flow"));
    let words = "`stroke_volume` rests on `lvot_vti`: cell 2 defines it, but has an error";
    assert!(flow.contains(words), "{flow}");
    let update = session.submit("vti", "lvot_vti = 20 cm");
    assert_eq!(update.changed, ["vti", "flow"]);
    assert!(shown(&session, "flow").starts_with("stroke_volume: 62.8 mL"));
    assert!(!session.has_errors());
}

/// The catalogue's formula must not stand in for a line that cannot be read.
#[test]
fn a_formula_lost_to_an_error_is_not_replaced_by_the_catalogues() {
    for line in [
        "stroke_volume [mL] = 0.9 * lvot_area *",
        "stroke_volume [mL] = lvot_area + lvot_vti",
        "stroke_volume = 60 mL\nstroke_volume = 61 mL",
    ] {
        let session = session(&[
            ("exam", EXAM),
            ("mine", line),
            ("flow", "show cardiac_output"),
        ]);
        assert!(has_error(&session, "mine"), "{line}");
        let flow = shown(&session, "flow");
        assert!(has_error(&session, "flow"), "{line}: {flow}");
        assert!(
            flow.contains("rests on `stroke_volume`: cell 2 defines it"),
            "{flow}"
        );
    }
}

#[test]
fn show_alone_does_not_show_cells_whose_definition_is_lost() {
    let session = session(&[
        ("exam", EXAM),
        ("mine", "lvot_vti = 3 kg\n"),
        ("all", "show"),
    ]);
    assert!(has_error(&session, "all"));
}

#[test]
fn a_name_defined_in_two_cells_is_an_error_that_names_both() {
    let mut session = session(&[
        ("use", "use hemodynamics\nlvot_diameter = 2 cm"),
        ("one", "lvot_vti = 20 cm"),
        ("two", "# again\nlvot_vti = 21 cm"),
        ("v", "show stroke_volume"),
    ]);
    for key in ["one", "two"] {
        let text = shown(&session, key);
        assert!(text.contains("`lvot_vti` is given twice"), "{text}");
        assert!(
            text.contains("cell 2:1:1") && text.contains("cell 3:2:1"),
            "{text}"
        );
    }
    assert!(
        has_error(&session, "v"),
        "neither of the two has a better claim"
    );
    assert_eq!(session.forget("two").changed, ["one", "v"]);
    assert!(shown(&session, "v").starts_with("stroke_volume: 62.8 mL"));
}

#[test]
fn a_catalogue_used_in_two_cells_is_used_once() {
    let session = session(&[
        ("a", "use hemodynamics\nlvot_diameter = 2 cm"),
        ("b", "use hemodynamics\nlvot_vti = 20 cm"),
        ("v", "show stroke_volume"),
    ]);
    assert!(!session.has_errors());
    assert!(shown(&session, "v").starts_with("stroke_volume: 62.8 mL"));
}

#[test]
fn two_comparisons_and_two_cohorts_of_one_name_are_errors_in_both_cells() {
    let exams = "use hemodynamics as before\nuse hemodynamics as after";
    let session = session(&[
        ("use", exams),
        ("a", "compare before, after"),
        ("b", "compare after, before"),
        ("c", "cohort rows from \"one.csv\""),
        ("d", "cohort rows from \"two.csv\""),
    ]);
    for (key, other, words) in [
        ("a", "cell 3:1:1", "two comparisons need two names"),
        ("b", "cell 2:1:1", "two comparisons need two names"),
        ("c", "cell 5:1:8", "two cohorts are named `rows`"),
        ("d", "cell 4:1:8", "two cohorts are named `rows`"),
    ] {
        let text = shown(&session, key);
        assert!(text.contains(words) && text.contains(other), "{text}");
    }
}

#[test]
fn two_cohorts_of_one_name_in_one_cell_are_an_error() {
    let twice = "cohort rows from \"one.csv\"\ncohort rows from \"two.csv\"";
    let session = session(&[("a", twice)]);
    let text = shown(&session, "a");
    assert!(
        text.contains("cell 1:2:8") && text.contains("two cohorts"),
        "{text}"
    );
}

#[test]
fn names_brought_in_by_a_cell_with_an_error_say_so() {
    let session = session(&[
        ("use", "use hemodynamics\nweight = 7O kg"),
        ("v", "show stroke_volume"),
        ("own", "double [mL] = 2 * stroke_volume"),
    ]);
    for key in ["v", "own"] {
        let text = shown(&session, key);
        assert!(
            text.contains("cell 1 defines it, but has an error"),
            "{text}"
        );
    }
}

#[test]
fn a_circle_through_two_cells_is_an_error_and_ends() {
    let session = session(&[
        ("a", "one = two + 1"),
        ("b", "two = one + 1"),
        ("c", "three = 3"),
        ("v", "show three"),
    ]);
    assert!(has_error(&session, "a") && has_error(&session, "b"));
    assert_eq!(shown(&session, "v"), "three: 3 (no uncertainty stated)");
}

#[test]
fn cells_are_named_by_their_place_after_one_is_forgotten() {
    let mut session = session(&[("a", "one = 1"), ("b", "show nothing")]);
    assert!(shown(&session, "b").contains("cell 2:1:6"));
    assert_eq!(session.forget("a").changed, ["b"]);
    assert!(shown(&session, "b").contains("cell 1:1:6"));
}

#[test]
fn statements_that_cannot_show_say_why() {
    for (statement, words) in [
        ("show stroke_volum", "did you mean `stroke_volume`?"),
        ("show nothing, nowhere", "`nowhere` is not a cell"),
        ("explain nothing", "`nothing` is not a cell"),
        ("show stroke_volume over rows", "there is no cohort `rows`"),
        (
            "draw stroke_volume against lvot_vti over rows",
            "bring one in",
        ),
        (
            "draw stroke_volume against lvot_vti from 10 kg to 20 kg",
            "is in cm, not in kg",
        ),
        (
            "draw stroke_volume against lvot_vti from 20 cm to 10 cm",
            "the range is empty",
        ),
        (
            "draw stroke_volume against lvot_vti from 20 cm to 20 cm",
            "the range is empty",
        ),
        (
            "draw stroke_volume against lvot_vti from 0 cm to 20 cm",
            "possible are",
        ),
        (
            "draw stroke_volume, heart_rate against lvot_vti from 1 cm to 2 cm",
            "different units",
        ),
        (
            "draw cardiac_index against height from 150 cm to 190 cm",
            "nothing is known along",
        ),
        (
            "draw cardiac_index when lvot_vti is off by 1 cm",
            "`cardiac_index` is not known",
        ),
        (
            "draw stroke_volume when weight is off by 1 kg",
            "`weight` is not known",
        ),
        (
            "draw stroke_volume when lvot_vti is off by 1 kg",
            "is in cm, not in kg",
        ),
        (
            "draw stroke_volume when lvot_vti is off by -1 cm",
            "above zero",
        ),
        (
            "draw stroke_volume when lvot_vti is off by 0 cm",
            "above zero",
        ),
        (
            "draw stroke_volume when lvot_vti is off by 50 cm",
            "cannot be -30 cm",
        ),
    ] {
        let session = session(&[("exam", EXAM), ("v", statement)]);
        let text = shown(&session, "v");
        assert!(has_error(&session, "v"), "{statement}: {text}");
        assert!(text.contains(words), "{statement}: {text}");
        assert!(text.contains("cell 2:1:"), "{statement}: {text}");
        assert!(!has_error(&session, "exam"));
    }
}

/// What is asked of how far to trust a cell, and of readings that are off: the reason is the right
/// one, and the way out is said.
#[test]
fn questions_of_uncertainty_that_have_no_answer_say_why_and_what_would_do() {
    let exam = "use hemodynamics\nlvot_diameter = 2.0 cm (u = 1 mm)\nlvot_vti = 20 cm (u = 1 cm)\n\
                rhythm = regular\nzero = 0 cm (u = 1 mm)\nsum = zero + 2 cm\n\
                nothing = lvot_vti - lvot_vti";
    for (asked, words) in [
        (
            "show probability of rhythm > 1",
            ["`rhythm` is a finding", "regular, irregular"],
        ),
        (
            "show budget of rhythm",
            ["`rhythm` is a finding", "regular, irregular"],
        ),
        (
            "simulate rhythm",
            ["`rhythm` is a finding", "regular, irregular"],
        ),
        (
            "show coupling of rhythm, lvot_vti",
            ["`rhythm` is a finding", "regular, irregular"],
        ),
        (
            "show probability of stroke_volume > 57",
            ["is in mL, not a bare number", "such as `57 mL`"],
        ),
        (
            "draw sum when zero is off by 10 %",
            [
                "`zero` is zero, and 10 % of zero is no error",
                "`off by 1 cm`",
            ],
        ),
        (
            "draw stroke_volume when lvot_vti is off by 10",
            [
                "is in cm, not a bare number",
                "`off by 10 cm`, or `off by 10 %`",
            ],
        ),
        (
            "show budget of nothing",
            ["`nothing` has no uncertainty", "cancels or is a constant"],
        ),
        (
            "show probability of nothing > 1 cm",
            ["`nothing` has no uncertainty", "cancels or is a constant"],
        ),
        (
            "simulate nothing",
            ["`nothing` has no uncertainty", "cancels or is a constant"],
        ),
    ] {
        let session = session(&[("exam", exam), ("asked", asked)]);
        let said = shown(&session, "asked");
        assert!(has_error(&session, "asked"), "{asked}: {said}");
        for words in words {
            assert!(said.contains(words), "{asked}: {said}");
        }
    }
}

/// By hand: 10 % of an ejection fraction of 40 % are 4 points, and 0.1 are 10 points.
#[test]
fn off_by_per_cent_is_a_share_of_what_is_in_per_cent_too() {
    let exam = "ejection_fraction = 40 % (u = 5 %)\nvolume = 120 mL\n\
                out [mL] = ejection_fraction * volume";
    let asked = "draw out when ejection_fraction is off by 10 %, volume is off by 10 %";
    let points = "draw out when ejection_fraction is off by 0.1";
    let session = session(&[("exam", exam), ("share", asked), ("points", points)]);
    let said = shown(&session, "share");
    assert_eq!(said.matches("43.2 mL to 52.8 mL").count(), 2, "{said}");
    let said = shown(&session, "points");
    assert!(said.contains("36.0 mL to 60.0 mL"), "{said}");
}
