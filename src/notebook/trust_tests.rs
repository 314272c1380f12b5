//! What statements say of uncertainties, read as a stranger reads them.

use super::said::said;

fn holds(said: &str, words: &str) {
    assert!(said.contains(words), "{words}\nis not in\n{said}");
}

const ESTIMATED: &str = "use hemodynamics as first\nuse hemodynamics as second\ncompare first, second\n\
    height = 170 cm\nweight = 70 kg\nfirst.lvot_diameter = unobtainable\nsecond.lvot_diameter = unobtainable\n\
    first.lvot_vti = 18 cm (u = 5 %)\nsecond.lvot_vti = 21 cm (u = 5 %)";

const PUBLISHED: &str = "use hemodynamics\nrepeatability robson_1988\nlvot_diameter = 2.2 cm\n\
    lvot_vti = 14.3 cm\nheart_rate = 80 /min (u = 2 /min)";

/// Shared formula of the estimate, 0.2 cm of 1.8, doubled in the area: 2 · 0.2 / 1.8138 = 22 % beside
/// 5 %, so r = 22.05² / (22.05² + 5²) = 0.951.
#[test]
fn a_coupling_names_the_formula_that_both_share_and_what_it_does_not_count() {
    let said = said(&format!(
        "{ESTIMATED}\nshow coupling of first.stroke_volume, second.stroke_volume"
    ));
    holds(
        &said,
        "share height, weight, the formula of lvot_diameter_from_body_size. Error alone would \
         correlate them by 0.95. The uncertainty of height, weight is not stated and not counted.",
    );
}

#[test]
fn a_coupling_through_what_states_nothing_is_open_and_not_zero() {
    let readings = "a = 3 cm\nb = 4 cm (u = 1 mm)\nc = 5 cm (u = 2 mm)\ns = a + b\nt = a + c";
    let said = said(&format!("{readings}\nshow coupling of s, t"));
    assert_eq!(
        said,
        "s and t share a. What error alone would correlate them by is not known: no uncertainty is \
         stated for a."
    );
}

#[test]
fn cells_that_share_nothing_are_not_coupled() {
    let readings = "a = 3 cm\nb = 4 cm (u = 1 mm)";
    let said = said(&format!("{readings}\nshow coupling of a, b"));
    assert_eq!(
        said,
        "a and b share no reading. Error alone does not correlate them."
    );
}

#[test]
fn where_an_estimate_brings_the_most_the_advice_is_to_measure_what_it_stands_in_for() {
    let said = said(&format!("{ESTIMATED}\nshow budget of first.stroke_volume"));
    holds(
        &said,
        "(factor 1.96, degrees of freedom not limited). Measure first, instead of estimating it: \
         LVOT diameter (first). The uncertainty is a lower bound: none is stated for height, weight.",
    );
    assert!(!said.contains("Measure again first"), "{said}");
}

/// u = 18.1 cm beats: s/√3 = 0.1732 cm; t at 2 degrees is 4.303 (JCGM 100:2008, table G.2).
#[test]
fn a_budget_says_degrees_of_freedom_and_rounds_its_interval_as_its_uncertainty() {
    let said = said("vti = beats(17.8, 18.4, 18.1) cm\nshow budget of vti");
    holds(
        &said,
        "95 % coverage interval 17.35 to 18.85 cm (factor 4.30, 2.0 effective degrees of freedom).",
    );
}

#[test]
fn every_statement_names_the_publication_that_its_uncertainties_come_from() {
    let words = "lvot_diameter, lvot_vti are taken from Robson 1988 Br Heart J 59:680-4";
    for statement in [
        "show budget of stroke_volume",
        "show probability of stroke_volume > 50 mL",
        "simulate stroke_volume",
        "show coupling of stroke_volume, cardiac_output",
    ] {
        holds(&said(&format!("{PUBLISHED}\n{statement}")), words);
    }
}

/// JCGM 100:2008, H.1: 50 000 838 nm with u = 32 nm has an interval of some 60 nm either way.
#[test]
fn figures_of_draws_are_rounded_as_their_standard_deviation() {
    let said = said("l = 50000838 nm (u = 32 nm)\nsimulate l");
    let interval = said.split("Shortest 95 % interval ").nth(1).unwrap();
    let low = interval.split(" to ").next().unwrap();
    let low: f64 = low.parse().unwrap();
    assert!((low - 50_000_775.0).abs() < 3.0, "{said}");
    holds(&said, "Reference lines: 50000");
}

#[test]
fn a_table_has_intervals_and_says_once_what_is_not_stated() {
    let readings = "a = 2 cm\nb = 3 cm (u = 1 mm)\nc = 2 * a\nd = 3 * a\ne = 2 * b";
    let said = said(&format!("{readings}\nshow c, d, e"));
    assert_eq!(
        said,
        "c: 4.00 cm (no uncertainty stated)\n\
         d: 6.00 cm (no uncertainty stated)\n\
         e: 6.00 cm (6.00 cm with standard uncertainty 0.20 cm, 95 % coverage 5.61 to 6.39 cm)\n\
         note: No uncertainty is stated for a: how far to trust what rests on no other reading is \
         not known."
    );
}

#[test]
fn an_explanation_names_the_readings_that_state_nothing() {
    let readings = "a = 3 cm\nb = 4 cm\nm = a * b";
    holds(
        &said(&format!("{readings}\nexplain m")),
        "not known: no reading that it rests on states an uncertainty (a, b)",
    );
    holds(
        &said(&format!("{readings}\nexplain a")),
        "not known: it states no uncertainty",
    );
    let bounded = said("speed = 0.83 m/s (within 0.05 m/s)\nexplain speed");
    holds(
        &bounded,
        "95 % coverage interval 0.782 to 0.877 m/s (factor 1.65, of a rectangular distribution, \
         within its bounds)",
    );
}
