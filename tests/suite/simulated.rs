//! What a simulation draws, and what it says of its draws.

use semilunar::formula::CellId;
use semilunar::sheet::Sheet;
use semilunar::uncertainty::{
    Finite, Settings, Simulated, Simulation, explained_text, propagate, simulate, trust_words,
};

fn read(text: &str) -> Sheet {
    Sheet::read(text).unwrap().sheet
}

fn cell(sheet: &Sheet, name: &str) -> CellId {
    sheet.cell(name).unwrap()
}

fn drawn(text: &str, name: &str) -> Simulated {
    seeded(text, name, 1)
}

fn seeded(text: &str, name: &str, seed: u64) -> Simulated {
    let sheet = read(text);
    let how = Simulation {
        seed,
        most_draws: 300_000,
        ..Simulation::default()
    };
    simulate(&sheet, cell(&sheet, name), &Settings::of(&sheet), how).unwrap()
}

/// Within five standard errors of a mean.
fn has_mean(found: &Simulated, mean: f64) {
    let known = (found.draws - found.without_value) as f64;
    let error = found.standard / known.sqrt();
    assert!(
        (found.mean - mean).abs() < 5.0 * error,
        "{} {mean}",
        found.mean
    );
}

fn near(a: f64, b: f64, relative: f64) {
    assert!((a - b).abs() <= relative * b.abs(), "{a} is not {b}");
}

const FLAT: &str = "
    p = 3 (u = 0.9)
    t = 5 (triangular 2)
    q = 2 (within 1.2)
    angle = 0 deg (u = 6 deg)
    aligned = cos(angle)
    square = (p - 3)^2
    low = min(p, t)
    high = max(p, q, t)
    flow_class = if p < 2.2 then 1 else 2
    none = p - p";

/// The characteristic function of a normal distribution gives the moments of the cosine of a normal
/// angle: exp(−σ²/2), and (1 + exp(−2σ²))/2 of the square. The square of a normal deviation is σ²
/// times a chi-squared one of one degree of freedom: mean σ², standard deviation σ²√2.
#[test]
fn readings_without_a_slope_are_drawn() {
    let s = 6_f64.to_radians();
    let aligned = drawn(FLAT, "aligned");
    has_mean(&aligned, (-s * s / 2.0).exp());
    let square = 0.5 * (1.0 + (-2.0 * s * s).exp());
    near(aligned.standard, (square - (-s * s).exp()).sqrt(), 0.02);
    assert_eq!(aligned.linear_agrees, Some(false));
    let square = drawn(FLAT, "square");
    has_mean(&square, 0.81);
    near(square.standard, 0.81 * 2_f64.sqrt(), 0.03);
}

/// By scipy 1.17.1: `stats.norm(3, .9)`, `stats.triang(.5, 3, 4)` and `stats.uniform(.8, 2.4)`, and
/// `integrate.quad` over the distribution of the lesser, 1 − sf(p)·sf(t), and of the greatest,
/// cdf(p)·cdf(t)·cdf(q); the shortest interval of the lesser by `optimize.minimize_scalar`.
#[test]
fn both_sides_of_a_bend_and_of_a_branch_are_drawn() {
    let low = drawn(FLAT, "low");
    has_mean(&low, 2.9759244178854805);
    near(low.standard, 0.8653293231576926, 0.01);
    let exact = [1.2702847147575587, 4.640254831709099];
    for (found, exact) in low.shortest.iter().zip(exact) {
        assert!(
            (found - exact).abs() < low.shortest_within(),
            "{found} {exact}"
        );
    }
    let high = drawn(FLAT, "high");
    has_mean(&high, 5.024079374358392);
    near(high.standard, 0.7939744111445389, 0.01);
    // P(p < 2.2) = norm.cdf(-0.8 / 0.9).
    let below = drawn(FLAT, "flow_class").probability_below(1.5);
    let error = below.standard_error();
    assert!((below.probability() - 0.18703139874544128).abs() < 4.0 * error);
}

/// `integrate.quad` of scipy 1.17.1 over the angle: norm.pdf(a, 0, 15°) · norm.sf(105 cos a, 100, 2).
#[test]
fn an_angle_of_zero_makes_a_speed_uncertain() {
    let text = "speed = 100 cm/s (u = 2 cm/s)\nangle = 0 deg (u = 15 deg)\ntilt = 0 deg\n\
                true_speed = speed / cos(angle)\nother_speed = speed / cos(tilt)";
    let sheet = read(text);
    let true_speed = cell(&sheet, "true_speed");
    let linear = propagate(&sheet, true_speed, &Settings::of(&sheet)).unwrap();
    assert_eq!(linear.standard, 2.0, "by the speed alone");
    assert_eq!(linear.unseen, [cell(&sheet, "angle")]);
    let found = drawn(text, "true_speed");
    assert_eq!(found.linear_agrees, Some(false));
    let above = found.probability_above(105.0);
    let error = above.standard_error();
    assert!((above.probability() - 0.2644242679838445).abs() < 4.0 * error);
    let words = trust_words(&sheet, true_speed).unwrap();
    let left_out = "the slope in angle is zero where it stands, so that linear figures leave its \
                    uncertainty out: `simulate true_speed` gives those that hold it";
    assert!(words.ends_with(left_out), "{words}");
    assert!(
        explained_text(&sheet, true_speed)
            .unwrap()
            .contains(left_out)
    );
    // An angle of zero that states nothing is no angle without an error.
    let other = cell(&sheet, "other_speed");
    let linear = propagate(&sheet, other, &Settings::of(&sheet)).unwrap();
    assert_eq!(linear.unstated, [cell(&sheet, "tilt")]);
    assert_eq!(drawn(text, "other_speed").unstated.len(), 1);
}

#[test]
fn linear_figures_that_see_nothing_say_so() {
    let sheet = read(FLAT);
    let words = trust_words(&sheet, cell(&sheet, "aligned")).unwrap();
    assert!(words.starts_with("the slope in angle is zero"), "{words}");
    let json = sheet.to_json();
    let left_out = &json["cells"]["aligned"]["without_slope"];
    assert_eq!(left_out, &serde_json::json!(["angle"]));
    // What cancels is seen well enough: there is nothing to say of it.
    assert_eq!(trust_words(&sheet, cell(&sheet, "none")), None);
    assert_eq!(drawn(FLAT, "none").standard, 0.0);
}

/// A diameter of two beats has no mean to draw; that it cancels leaves the change one.
#[test]
fn what_cancels_takes_no_moments_away() {
    let text = "use hemodynamics\nuse hemodynamics as before\nuse hemodynamics as after\n\
                compare before, after\nlvot_diameter = beats(1.9, 2.1) cm\n\
                before.lvot_vti = 18 cm (u = 1 cm)\nafter.lvot_vti = 20 cm (u = 1 cm)";
    assert_eq!(drawn(text, "change.stroke_volume").finite, Finite::Both);
    let difference = drawn(text, "difference.stroke_volume");
    assert_eq!(difference.finite, Finite::Neither);
}

/// The distance of the farthest draw from the middle.
fn reach(found: &Simulated, middle: f64) -> f64 {
    let values = found.values();
    (values[0] - middle)
        .abs()
        .max((values[values.len() - 1] - middle).abs())
}

#[test]
fn correlated_readings_keep_their_own_distributions() {
    let text = |line: &str| {
        format!(
            "a = 10 (within 1)\nb = 10 (within 1)\nother = 3 (u = 1)\nless = a - b\nmore = a + b\n\
             {line}"
        )
    };
    // The partner plays no part in it.
    let alone = drawn(&text("correlate a, other by 0.4"), "a");
    assert_eq!(alone, drawn(&text(""), "a"));
    assert!(reach(&alone, 10.0) <= 1.0);
    // A normal copula: the correlation of two rectangular errors is (6/π) asin(r/2)
    // (Kruskal 1958 J Am Stat Assoc 53:814-61, from memory; 0.48254 for 0.5 by numpy too).
    for r in [0.5, -0.7] {
        let found = drawn(&text(&format!("correlate a, b by {r}")), "less");
        let own = 6.0 / std::f64::consts::PI * (r / 2.0_f64).asin();
        near(found.standard, (2.0 * (1.0 - own) / 3.0).sqrt(), 0.01);
        assert!(reach(&found, 0.0) <= 2.0);
    }
    // Errors that are one cancel, and so do those that are opposite.
    assert!(reach(&drawn(&text("correlate a, b by 1"), "less"), 0.0) < 1e-12);
    assert!(reach(&drawn(&text("correlate a, b by -1"), "more"), 20.0) < 1e-12);
}

/// By numpy 2.4.6, 4 million draws, seed 1: Student's quantiles (two degrees of freedom) of the
/// distribution function of normals correlated by 0.5; the 97.5 % quantile of the difference.
#[test]
fn correlated_beats_keep_their_tails() {
    let text = "b1 = beats(10, 11, 12) V\nb2 = beats(10, 11, 12) V\nd = b2 - b1\n\
                correlate b1, b2 by 0.5";
    let found = drawn(text, "d");
    assert_eq!(found.finite, Finite::Mean);
    let half = 0.5 * (found.symmetric[1] - found.symmetric[0]);
    near(half, 2.76, 0.02);
    // Acquisitions that scatter beyond their beats keep that sum.
    let joined = text.replace("12) V", "12) V (between 1 V)");
    let found = drawn(&format!("{joined}\ne = 2 * b1"), "d");
    let lone = drawn(&joined.replace("by 0.5", "by 0"), "d");
    assert_eq!(found.finite, Finite::Mean);
    assert!(found.symmetric[1] < 0.8 * lone.symmetric[1]);
}

/// Mean pressure is diastolic and a third of the pulse pressure: normal, 40.67 ± 3.727 mmHg, and 8.67
/// above a central venous pressure of 32 ± 6. P(Z < −8.667/7.063) = 0.10990831435441828 by scipy 1.17.1.
#[test]
fn draws_without_a_value_are_counted() {
    let text = "use hemodynamics\nlvot_diameter = 2.0 cm (u = 1 mm)\nlvot_vti = 20 cm (u = 1 cm)\n\
                heart_rate = 80 /min (u = 4 /min)\nsystolic_pressure = 62 mm[Hg] (u = 5 mm[Hg])\n\
                diastolic_pressure = 30 mm[Hg] (u = 5 mm[Hg])\n\
                central_venous_pressure = 32 mm[Hg] (u = 6 mm[Hg])\nrhythm = regular";
    let found = drawn(text, "systemic_vascular_resistance");
    let share = found.without_value as f64 / found.draws as f64;
    assert!((share - 0.10990831435441828).abs() < 0.003, "{share}");
    let all = found.probability_above(0.0);
    assert_eq!(all.of, found.draws - found.without_value);
}

/// The ends of the shortest interval of a normal distribution, ±1.959964, over many seeds: both within
/// what is said of them about as often as two standard errors promise.
#[test]
fn ends_of_the_shortest_interval_are_as_settled_as_is_said() {
    let held = |seed: u64| {
        let found = seeded("x = 0 (u = 1)\ny = x", "y", seed);
        let far = |end: f64, exact: f64| (end - exact).abs() > found.shortest_within();
        assert!(found.shortest_within() < 0.2);
        !far(found.shortest[0], -1.959964) && !far(found.shortest[1], 1.959964)
    };
    let held = (1..=30).filter(|seed| held(*seed)).count();
    assert!(held >= 25, "{held}");
}

#[test]
fn a_probability_that_no_draw_shows_is_bounded() {
    let found = drawn("x = 0 (u = 1)\ny = x", "y");
    let share = found.probability_above(40.0);
    assert_eq!((share.counted, share.probability()), (0, 0.0));
    assert!(share.bound_of_none() > 0.0 && share.bound_of_none() < 1e-3);
}
