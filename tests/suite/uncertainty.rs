//! Uncertainty, against published examples and general-purpose libraries.

use semilunar::formula::CellId;
use semilunar::quantity::Unit;
use semilunar::sheet::Sheet;
use semilunar::uncertainty::decide::{
    EXCEEDS, FACTOR_ROUNDED, WITHIN, least_significant_change, precision, probability_above,
    verdict,
};
use semilunar::uncertainty::{
    Correlation, Finite, Off, Propagated, Settings, Simulation, UncertaintyError, coupling, effect,
    propagate, simulate,
};

const EXAM: &str = "
use hemodynamics
lvot_diameter = 2.0 cm (u = 0.1 cm)
lvot_vti = 20 cm (u = 1 cm)
heart_rate = 70 /min (u = 2 /min)
";

const TWO_EXAMS: &str = "
use hemodynamics
use hemodynamics as before
use hemodynamics as after
compare before, after
lvot_diameter = 2.0 cm (u = 1 mm)
before.lvot_vti = 18 cm (u = 0.5 cm)
after.lvot_vti = 21 cm (u = 0.5 cm)
";

fn read(text: &str) -> Sheet {
    Sheet::read(text).unwrap().sheet
}

fn cell(sheet: &Sheet, name: &str) -> CellId {
    sheet.cell(name).unwrap()
}

fn linear(sheet: &Sheet, name: &str) -> Propagated {
    propagate(sheet, cell(sheet, name), &Settings::default()).unwrap()
}

fn near(a: f64, b: f64, relative: f64) {
    assert!((a - b).abs() <= relative * b.abs(), "{a} is not {b}");
}

/// uncertainties 3.2.3 and GTC 1.5.1 agree on these (check-values page).
#[test]
fn one_exam_is_as_two_libraries_say() {
    let sheet = read(EXAM);
    near(
        linear(&sheet, "stroke_volume").standard,
        7.024814731040727,
        1e-12,
    );
    near(
        linear(&sheet, "cardiac_output").standard,
        0.5075398258939219,
        1e-12,
    );
}

#[test]
fn a_budget_sums_to_the_variance_and_names_what_to_repeat() {
    let sheet = read(EXAM);
    let found = linear(&sheet, "cardiac_output");
    let shares: f64 = found.budget.iter().map(|line| line.share).sum();
    near(shares + found.correlated_share, 1.0, 1e-12);
    let first = found.measure_first().map(|line| line.cell);
    assert_eq!(first, sheet.cell("lvot_diameter"));
    // Slope of the volume in the diameter: 2 · SV / D.
    let volume = linear(&sheet, "stroke_volume");
    near(volume.budget[0].sensitivity, 62.83185307179586, 1e-12);
}

#[test]
fn an_unstated_uncertainty_is_not_zero() {
    let text = EXAM.replace(" (u = 1 cm)", "");
    let sheet = read(&text);
    let found = linear(&sheet, "stroke_volume");
    assert!(found.is_lower_bound());
    assert_eq!(found.unstated, [cell(&sheet, "lvot_vti")]);
    assert!(!linear(&sheet, "lvot_area").is_lower_bound());
}

#[test]
fn a_shared_diameter_cancels_in_a_percentage_change() {
    let sheet = read(TWO_EXAMS);
    let change = linear(&sheet, "change.stroke_volume");
    let diameter = cell(&sheet, "lvot_diameter");
    assert!(change.budget.iter().all(|line| line.cell != diameter));
    // By hand: relative errors of the two integrals, in per cent of before.
    let ratio = 21.0f64 / 18.0;
    let by_hand = 100.0 * ratio * ((0.5f64 / 18.0).powi(2) + (0.5f64 / 21.0).powi(2)).sqrt();
    near(change.standard, by_hand, 1e-12);
    let without = read(&TWO_EXAMS.replace(" (u = 1 mm)", ""));
    assert!(!linear(&without, "change.stroke_volume").is_lower_bound());
    assert!(linear(&without, "difference.stroke_volume").is_lower_bound());
}

#[test]
fn two_exams_are_coupled_by_their_diameter() {
    let sheet = read(TWO_EXAMS);
    let [before, after] =
        ["before.stroke_volume", "after.stroke_volume"].map(|name| cell(&sheet, name));
    let found = coupling(&sheet, before, after, &Settings::default()).unwrap();
    assert_eq!(found.shared, [cell(&sheet, "lvot_diameter")]);
    // By hand, in relative errors: 0.1² over the roots of 0.1² + (0.5/18)² and 0.1² + (0.5/21)².
    let size = |vti: f64| (0.01 + (0.5 / vti).powi(2)).sqrt();
    near(
        found.correlation.unwrap(),
        0.01 / (size(18.0) * size(21.0)),
        1e-12,
    );
}

/// One patient has one estimate: how far it is off cancels in a per cent change, as the error of a
/// measured diameter that both exams share does.
#[test]
fn an_estimated_diameter_is_one_cause_for_both_exams() {
    let shared = "height = 170 cm (u = 1 cm)\nweight = 70 kg (u = 1 kg)\n";
    let exams = TWO_EXAMS.replace("after.lvot_vti = 21", "after.lvot_vti = 20");
    let of_both = exams.replace(
        "lvot_diameter = 2.0 cm (u = 1 mm)",
        "lvot_diameter = unobtainable",
    );
    let of_each = exams.replace(
        "lvot_diameter = 2.0 cm (u = 1 mm)",
        "before.lvot_diameter = unobtainable\nafter.lvot_diameter = unobtainable",
    );
    for text in [of_both, of_each] {
        let sheet = read(&format!("{text}{shared}"));
        let found = linear(&sheet, "change.stroke_volume");
        // By hand, in per cent: 100 * 20/18 * root of (0.5/18)² + (0.5/20)².
        near(found.value, 100.0 * (20.0 / 18.0 - 1.0), 1e-9);
        let ratio = (0.5_f64 / 18.0).hypot(0.5 / 20.0);
        near(found.standard, 100.0 * 20.0 / 18.0 * ratio, 1e-9);
    }
}

/// The same where every exam has a name: body size that both share gives one estimate.
#[test]
fn an_estimate_from_shared_body_size_is_one_cause_where_every_exam_has_a_name() {
    let exams = "use hemodynamics as before\nuse hemodynamics as after\ncompare before, after\n\
                 before.lvot_vti = 18 cm (u = 0.5 cm)\nafter.lvot_vti = 20 cm (u = 0.5 cm)\n";
    let shared = "height = 170 cm (u = 1 cm)\nweight = 70 kg (u = 1 kg)\n";
    // By hand, in per cent: 100 * 20/18 * root of (0.5/18)² + (0.5/20)².
    let alone = 100.0 * 20.0 / 18.0 * (0.5_f64 / 18.0).hypot(0.5 / 20.0);
    for diameters in [
        "lvot_diameter = unobtainable",
        "before.lvot_diameter = unobtainable\nafter.lvot_diameter = unobtainable",
    ] {
        for bare in ["", "use hemodynamics\n"] {
            let sheet = read(&format!("{bare}{exams}{diameters}\n{shared}"));
            let found = linear(&sheet, "change.stroke_volume");
            near(found.standard, alone, 1e-12);
            let drawn = simulate(
                &sheet,
                cell(&sheet, "change.stroke_volume"),
                &Settings::default(),
                Simulation::default(),
            );
            near(drawn.unwrap().standard, alone, 0.02);
            // The absolute difference does lean on it.
            let difference = linear(&sheet, "difference.stroke_volume");
            assert!(difference.budget.iter().any(|line| line.is_model));
        }
    }
    // Body size of an exam's own, or an age group, gives an estimate of its own.
    for own in ["after.weight = 71 kg", "before.age_group = adult"] {
        let text = format!("{exams}lvot_diameter = unobtainable\n{shared}{own}");
        let found = linear(&read(&text), "change.stroke_volume");
        let models = found.budget.iter().filter(|line| line.is_model).count();
        assert_eq!(models, 2, "{own}");
    }
    // An estimate that somebody gives for all exams is used by all of them.
    let text = format!("{exams}lvot_diameter = unobtainable\nlvot_diameter_from_body_size = 2 cm");
    let loaded = Sheet::read(&text).unwrap();
    assert!(loaded.warnings.is_empty());
    let before = cell(&loaded.sheet, "before.lvot_diameter");
    assert_eq!(loaded.sheet.value(before), Some(2.0));
}

/// JCGM 100:2008 H.1.6 and H.1.7: 50 000 838 nm, standard uncertainty 32 nm, 16 effective degrees
/// of freedom, t99(16) = 2.92, expanded uncertainty 93 nm (of the rounded 32 nm). By arithmetic in
/// Python and scipy's `t.ppf(0.995, 16)` from these inputs: 31.669405431, 16.761093582 and
/// 2.920781622.
#[test]
fn the_end_gauge_of_the_gum() {
    let sheet = read(include_str!("../cases/uncertainty/gum_h1.sheet"));
    let settings = Settings::of(&sheet);
    let found = propagate(&sheet, cell(&sheet, "length"), &settings).unwrap();
    assert!((found.value - 50_000_838.0).abs() < 0.5);
    assert!((found.standard - 32.0).abs() < 0.5);
    near(found.standard, 31.669_405_431, 1e-9);
    near(found.freedom, 16.761_093_582, 1e-9);
    assert_eq!(found.freedom.floor(), 16.0);
    near(found.coverage.factor, 2.920_781_622, 1e-9);
    let expanded = found.coverage.high - found.value;
    assert!((expanded - 93.0).abs() < 0.6, "{expanded}");
}

/// JCGM 100:2008 H.2, tables H.3 and H.4; the printed inputs are rounded, which moves the last
/// digit of the uncertainties by one.
#[test]
fn the_correlated_observations_of_the_gum() {
    let sheet = read(include_str!("../cases/uncertainty/gum_h2.sheet"));
    let settings = Settings::of(&sheet);
    assert_eq!(settings.correlations.len(), 3);
    let printed = [
        ("resistance", 127.732, 0.071),
        ("reactance", 219.847, 0.295),
        ("impedance", 254.260, 0.236),
    ];
    for (name, value, u) in printed {
        let found = propagate(&sheet, cell(&sheet, name), &settings).unwrap();
        assert!(
            (found.value - value).abs() < 0.002,
            "{name} {}",
            found.value
        );
        near(found.standard, u, 0.02);
        let sum: f64 = found.budget.iter().map(|l| l.share).sum();
        near(sum + found.correlated_share, 1.0, 1e-12);
    }
    let r = |a, b| {
        let (a, b) = (cell(&sheet, a), cell(&sheet, b));
        coupling(&sheet, a, b, &settings)
            .unwrap()
            .correlation
            .unwrap()
    };
    assert!((r("resistance", "reactance") + 0.588).abs() < 0.02);
    assert!((r("resistance", "impedance") + 0.485).abs() < 0.02);
    assert!((r("reactance", "impedance") - 0.993).abs() < 0.002);
}

/// Exact with normal inputs (check-values page): mean 62.98893270447535, sd 7.038863484153624.
#[test]
fn the_simulation_has_the_exact_mean_and_deviation_on_any_number_of_threads() {
    let sheet = read(EXAM);
    let volume = cell(&sheet, "stroke_volume");
    let run = |threads| {
        let simulation = Simulation {
            most_draws: 200_000,
            threads,
            ..Simulation::default()
        };
        simulate(&sheet, volume, &Settings::default(), simulation).unwrap()
    };
    let (one, three) = (run(1), run(3));
    assert_eq!(one, three);
    let error = 7.04 / (one.draws as f64).sqrt();
    assert!((one.mean - 62.98893270447535).abs() < 4.0 * error);
    assert!((one.standard - 7.038863484153624).abs() < 4.0 * error);
    assert_eq!(one.linear_agrees, Some(false));
    assert!(one.words().contains("not good enough"));
}

/// JCGM 101:2008 9.2.3: the sum of four rectangular errors of unit deviation has u = 2.00 and a
/// shortest 95 % interval of ±3.88 (exact 3.8794067413).
#[test]
fn four_rectangular_errors() {
    let half = 3f64.sqrt();
    let lines: Vec<String> = ["a", "b", "c", "d"]
        .map(|n| format!("{n} = 0 cm (within {half} cm)"))
        .to_vec();
    let sheet = read(&format!("{}\nsum = a + b + c + d", lines.join("\n")));
    let sum = cell(&sheet, "sum");
    let found = simulate(&sheet, sum, &Settings::default(), Simulation::default()).unwrap();
    assert!((found.standard - 2.0).abs() < 0.01, "{}", found.standard);
    let half_width = 0.5 * (found.shortest[1] - found.shortest[0]);
    assert!((half_width - 3.8794067413).abs() < 0.03, "{half_width}");
    assert_eq!(linear(&sheet, "sum").standard, 2.0);
}

#[test]
fn simulated_readings_are_correlated_as_declared() {
    let sheet = read("a = 1 cm (u = 1 cm)\nb = 1 cm (u = 1 cm)\nd [cm] = a - b");
    let [a, b, d] = ["a", "b", "d"].map(|name| cell(&sheet, name));
    let settings = Settings {
        correlations: vec![Correlation {
            first: a,
            second: b,
            value: 0.5,
        }],
        ..Settings::default()
    };
    // u² = 1 + 1 − 2 · 0.5.
    near(
        propagate(&sheet, d, &settings).unwrap().standard,
        1.0,
        1e-12,
    );
    let found = simulate(&sheet, d, &settings, Simulation::default()).unwrap();
    near(found.standard, 1.0, 0.02);
    assert_eq!(found.linear_agrees, Some(true));
}

#[test]
fn the_simulated_share_inside_the_linear_interval_is_the_stated_coverage() {
    let sheet = read("a = 10 cm (u = 1 cm)\nb = 5 cm (u = 2 cm)\ns [cm] = a + b");
    let s = cell(&sheet, "s");
    let interval = linear(&sheet, "s").coverage;
    let found = simulate(&sheet, s, &Settings::default(), Simulation::default()).unwrap();
    let above = |threshold| found.probability_above(threshold).probability();
    let inside = above(interval.low) - above(interval.high);
    assert!((inside - 0.95).abs() < 4.0 * (0.05 * 0.95 / found.draws as f64).sqrt());
}

#[test]
fn beats_bring_their_degrees_of_freedom() {
    let sheet = read("v = beats(17.8, 18.4, 18.1) cm\nw [cm] = v + 1 cm");
    let found = linear(&sheet, "w");
    near(found.freedom, 2.0, 1e-12);
    // JCGM 100:2008 table G.2: t95(2) = 4.30.
    assert!((found.coverage.factor - 4.30).abs() < 0.005);
}

/// By hand: s = 0.3 cm over three beats, u(within) = 0.3/√3; between 0.7 cm with 11 degrees of
/// freedom; Welch–Satterthwaite (JCGM 100:2008 G.4.1) over both.
#[test]
fn acquisitions_join_their_scatter_to_that_of_the_beats() {
    let text = "v = beats(17.8, 18.4, 18.1) cm (between 0.7 cm freedom 11)\nw [cm] = v + 1 cm";
    let sheet = read(text);
    let found = linear(&sheet, "w");
    let (within, between) = (0.03, 0.49);
    near(found.standard, f64::sqrt(within + between), 1e-12);
    let freedom = (within + between).powi(2) / (within.powi(2) / 2.0 + between.powi(2) / 11.0);
    near(found.freedom, freedom, 1e-12);
    let w = cell(&sheet, "w");
    let drawn = simulate(&sheet, w, &Settings::default(), Simulation::default()).unwrap();
    // The exact 97.5 % quantile of 0.3/√3 t(2) + 0.7 t(11), by scipy 1.17.1: brentq over
    // quad(t.pdf(z, 11) * t.cdf((x - 0.7 * z) / sqrt(0.03), 2)) - 0.975.
    let half = 0.5 * (drawn.symmetric[1] - drawn.symmetric[0]);
    near(half, 1.7370268784887823, 0.01);
    // Which Welch and Satterthwaite approximate too narrowly, and the simulation says so.
    assert_eq!(drawn.linear_agrees, Some(false));
    // Without the line the beats alone look better than they are.
    let alone = linear_of("v = beats(17.8, 18.4, 18.1) cm\nw [cm] = v + 1 cm");
    near(alone.standard, within.sqrt(), 1e-12);
}

fn linear_of(text: &str) -> Propagated {
    linear(&read(text), "w")
}

#[test]
fn a_formula_can_be_the_cause() {
    let text = "use hemodynamics\nlvot_diameter = unobtainable\nlvot_vti = 20 cm (u = 1 cm)\n\
                height = 160 cm\nweight = 60 kg";
    let sheet = read(text);
    let found = linear(&sheet, "stroke_volume");
    let model = found.budget.iter().find(|line| line.is_model).unwrap();
    assert_eq!(model.cell, cell(&sheet, "lvot_diameter_from_body_size"));
    // On the plateau body size plays no part, and is not blamed.
    assert!(!found.is_lower_bound());
    let simulation = Simulation {
        most_draws: 50_000,
        ..Simulation::default()
    };
    let drawn = simulate(
        &sheet,
        cell(&sheet, "stroke_volume"),
        &Settings::default(),
        simulation,
    );
    near(drawn.unwrap().standard, found.standard, 0.05);
}

#[test]
fn one_millimeter_off_is_exact_and_a_shared_diameter_does_not_move_the_change() {
    let sheet = read(TWO_EXAMS);
    let cells = ["before.stroke_volume", "change.stroke_volume"].map(|n| cell(&sheet, n));
    let off = Off {
        amount: 1.0,
        unit: Unit::parse("mm").unwrap(),
    };
    let found = effect(&sheet, &cells, cell(&sheet, "lvot_diameter"), off).unwrap();
    // Check-values page: SV × 1.1025.
    near(found[0].share().unwrap(), 0.1025, 1e-12);
    assert!(found[1].is_none());
}

/// Monnet 2011 Crit Care 15:R204: CV 7 %, least significant change 14.0 % (n = 2), 11.4 % (n = 3).
#[test]
fn least_significant_changes_as_published() {
    let least = |n| least_significant_change(7.0, n, FACTOR_ROUNDED).unwrap();
    assert!((least(2) - 14.0).abs() < 0.05 && (least(3) - 11.4).abs() < 0.05);
    near(
        least(3),
        std::f64::consts::SQRT_2 * precision(7.0, 3).unwrap(),
        1e-12,
    );
    assert_eq!(verdict(15.0, least(2)), EXCEEDS);
    assert_eq!(verdict(-12.0, least(2)), WITHIN);
    assert!(least_significant_change(-1.0, 2, FACTOR_ROUNDED).is_err());
    assert!(least_significant_change(7.0, 0, FACTOR_ROUNDED).is_err());
}

#[test]
fn a_value_on_the_threshold_is_beyond_it_half_of_the_time() {
    let sheet = read(EXAM);
    let found = linear(&sheet, "stroke_volume");
    near(probability_above(&found, found.value).unwrap(), 0.5, 1e-12);
    let beyond = probability_above(&found, found.value + 1.6448536269514722 * found.standard);
    near(beyond.unwrap(), 0.05, 1e-9);
}

#[test]
fn impossible_questions_are_refused() {
    let sheet = read(
        "a = 1 cm (u = 1 cm)\nb = 1 cm (u = 1 cm)\nc = 1 cm (u = 1 cm)\ne = 1 cm\ns [cm] = a + b + c + e\nr = sqrt((a - b) / 1 cm)",
    );
    let [a, b, c, s, r] = ["a", "b", "c", "s", "r"].map(|name| cell(&sheet, name));
    let ask = |coverage, correlations: &[(CellId, CellId, f64)]| {
        let correlations = correlations
            .iter()
            .map(|(first, second, value)| Correlation {
                first: *first,
                second: *second,
                value: *value,
            })
            .collect();
        propagate(
            &sheet,
            s,
            &Settings {
                coverage,
                correlations,
            },
        )
        .unwrap_err()
    };
    assert!(matches!(ask(0.0, &[]), UncertaintyError::Coverage { .. }));
    assert!(matches!(ask(1.0, &[]), UncertaintyError::Coverage { .. }));
    assert!(matches!(
        ask(0.95, &[(a, b, 1.5)]),
        UncertaintyError::Correlation { .. }
    ));
    assert!(matches!(
        ask(0.95, &[(a, s, 0.5)]),
        UncertaintyError::NotReading { .. }
    ));
    let circle = [(a, b, 0.9), (b, c, 0.9), (a, c, -0.9)];
    assert!(matches!(
        ask(0.95, &circle),
        UncertaintyError::Contradiction { .. }
    ));
    let slope = propagate(&sheet, r, &Settings::default()).unwrap_err();
    assert!(matches!(slope, UncertaintyError::NoSlope { .. }));
}

/// A correlation that cannot be is refused at its line, and one of a reading that states no
/// uncertainty takes nothing from other cells.
#[test]
fn correlations_are_refused_where_they_stand() {
    let head =
        "a = 1 cm (u = 1 mm)\nb = 2 cm (u = 1 mm)\nc = 3 cm (u = 1 mm)\nd [cm] = a + b\ne = 5 cm\n";
    let refused = |lines: &str| {
        let error = Sheet::read(&format!("{head}{lines}")).err().unwrap();
        error.diagnostics[0].message().to_owned()
    };
    assert_eq!(
        refused("correlate a, d by 0.5"),
        "`d` is computed: correlations are between readings"
    );
    assert_eq!(
        refused("correlate a, b by 0.9\ncorrelate b, c by 0.9\ncorrelate a, c by -0.9"),
        "the correlations of `c` with the readings before it contradict each other: \
         no readings can have them all at once"
    );
    let words = format!("{head}use hemodynamics\nrhythm = regular\ncorrelate a, rhythm by 0.5");
    let error = Sheet::read(&words).err().unwrap();
    assert_eq!(
        error.diagnostics[0].message(),
        "`rhythm` holds a word, which has no error to correlate"
    );
    let sheet = read(&format!("{head}correlate a, e by 0.5"));
    near(linear(&sheet, "d").standard, 0.1 * 2_f64.sqrt(), 1e-12);
}

/// JCGM 101:2008, 6.4.9.4: Student's distribution has no standard deviation up to two degrees of
/// freedom, and no mean at one. Its quartiles at one degree are one scale from the middle.
#[test]
fn a_mean_of_few_beats_leaves_no_moments_but_an_interval() {
    let half = Settings {
        coverage: 0.5,
        ..Settings::default()
    };
    for (text, finite) in [
        ("v = beats(15, 22) cm", Finite::Neither),
        ("v = beats(15, 22, 19) cm", Finite::Mean),
        ("v = beats(15, 22, 19, 17) cm", Finite::Both),
    ] {
        let sheet = read(&format!("{text}\nw = 2 * v"));
        let w = cell(&sheet, "w");
        let found = simulate(&sheet, w, &half, Simulation::default()).unwrap();
        assert_eq!(found.finite, finite);
        // A deviation of three degrees of freedom settles slowly, ends of an interval soon.
        assert!(found.is_stable || finite == Finite::Both, "{text}");
        assert!((found.median() - sheet.value(w).unwrap()).abs() < 0.1);
        if finite == Finite::Neither {
            // The scale: half of the difference of the two beats, and twice that for `w`.
            near(found.symmetric[1] - found.median(), 7.0, 0.02);
        }
    }
}

#[test]
fn nothing_is_simulated_of_readings_that_state_nothing() {
    let sheet = read("d = 2 cm\na [cm2] = d * d");
    let found = simulate(
        &sheet,
        cell(&sheet, "a"),
        &Settings::default(),
        Simulation::default(),
    );
    let error = found.unwrap_err().to_string();
    assert!(
        error.starts_with("nothing is known of the uncertainty of `a`"),
        "{error}"
    );
}

#[test]
fn lines_of_the_sheet_set_correlation_and_coverage_and_reach_the_json() {
    let text = "a = 1 cm (u = 1 cm)\nb = 1 cm (u = 1 cm)\ne = 1 cm\nd [cm] = a - b\nf [cm] = d + e\n\
                correlate a, b by 0.5\ncoverage 99 %";
    let json = read(text).to_json();
    let cells = &json["cells"];
    near(
        cells["d"]["standard_uncertainty"].as_f64().unwrap(),
        1.0,
        1e-12,
    );
    // JCGM 100:2008 table G.2: k = 2.576 at 99 %.
    assert!((cells["d"]["coverage"]["factor"].as_f64().unwrap() - 2.576).abs() < 0.0005);
    assert_eq!(cells["d"]["lower_bound"], false);
    assert_eq!(cells["f"]["unstated"][0], "e");
    assert_eq!(cells["f"]["lower_bound"], true);
    assert!(cells["e"]["standard_uncertainty"].is_null());
    let shown = read(text).to_text();
    assert!(
        shown.contains("1.0 cm, 99 % coverage −1.6 to 3.6 cm, a lower bound: none is stated for e"),
        "{shown}"
    );
    for bad in [
        "coverage 100 %",
        "coverage 0 %",
        "correlate a, b by 1.5",
        "correlate a, a by 0.5",
        "correlate a, x by 0.5",
    ] {
        let lines = format!("a = 1 cm (u = 1 cm)\nb = 1 cm (u = 1 cm)\n{bad}");
        assert!(Sheet::read(&lines).is_err(), "{bad}");
    }
}

/// tests/oracles/uncertainty.py: uncertainties 3.2.3 and GTC 1.5.1 agree on each of these.
#[test]
fn random_formulas_have_the_uncertainty_that_two_libraries_give() {
    let cases: serde_json::Value =
        serde_json::from_str(include_str!("../oracles/uncertainty.json")).unwrap();
    let cases = cases.as_array().unwrap();
    assert!(cases.len() >= 100);
    for case in cases {
        let number = |key: &str, i: usize| case[key][i].as_f64().unwrap();
        let readings: Vec<String> = ["a", "b", "c", "d"]
            .iter()
            .enumerate()
            .map(|(i, name)| {
                format!(
                    "{name} = {} (u = {})",
                    number("values", i),
                    number("uncertainties", i)
                )
            })
            .collect();
        let formula = case["formula"].as_str().unwrap();
        let sheet = read(&format!("{}\nresult = {formula}", readings.join("\n")));
        let found = linear(&sheet, "result");
        near(found.value, case["value"].as_f64().unwrap(), 1e-12);
        near(found.standard, case["standard"].as_f64().unwrap(), 1e-11);
    }
}

#[test]
fn linear_and_exact_meet_as_uncertainties_shrink() {
    let gap = |u: f64| {
        let text = EXAM.replace("u = 0.1 cm", &format!("u = {} cm", 0.1 * u));
        let text = text.replace("u = 1 cm", &format!("u = {u} cm"));
        // Exact for independent normal readings: E[D⁴] = D⁴ + 6 D² u² + 3 u⁴.
        let (d, v) = (0.1 * u, u);
        let (square, fourth) = (4.0 + d * d, 16.0 + 24.0 * d * d + 3.0 * d.powi(4));
        let variance = fourth * (400.0 + v * v) - square * square * 400.0;
        let exact = std::f64::consts::FRAC_PI_4 * variance.sqrt();
        (linear(&read(&text), "stroke_volume").standard / exact - 1.0).abs()
    };
    assert!(gap(1.0) < 3e-3 && gap(0.1) < 3e-5 && gap(0.01) < 3e-7);
    assert!(gap(1.0) > 1e-3);
}

/// Robson 1988 (check-values page): 4.1, 6.4, 5.0 %, which add in quadrature to 11.5 % for CO.
#[test]
fn published_repeatability_comes_in_by_a_line_and_says_so() {
    let plain = EXAM.replace(" (u = 0.1 cm)", "");
    let plain = plain
        .replace(" (u = 1 cm)", "")
        .replace(" (u = 2 /min)", "");
    let silent = linear(&read(&plain), "cardiac_output");
    assert!(silent.budget.is_empty() && silent.unstated.len() == 3);
    let sheet = read(&format!("{plain}repeatability robson_1988\n"));
    let found = linear(&sheet, "cardiac_output");
    assert!((found.standard / found.value - 0.115).abs() < 0.0005);
    assert!(found.budget.iter().all(|line| line.published.is_some()));
    let cited = "taken from Robson 1988 Br Heart J 59:680-4 (repeated measurements; within and between \
                 acquisitions not told apart)";
    assert!(sheet.to_text().contains(cited), "{}", sheet.to_text());
    let json = sheet.to_json()["cells"]["cardiac_output"].to_string();
    assert!(json.contains("Robson 1988"), "{json}");
    for set in semilunar::hemodynamics::REPEATABILITIES {
        assert!(
            semilunar::formula::notation::PAGE.contains(set.name),
            "{}",
            set.name
        );
    }
    let stated = read(&format!("{EXAM}repeatability robson_1988\n"));
    near(
        linear(&stated, "stroke_volume").standard,
        7.024814731040727,
        1e-12,
    );
    assert!(Sheet::read("repeatability nobody_1900").is_err());
    // Jozwiak 2019 (check-values page): a change of the integral between exams counts beyond 11 %.
    let text = "use hemodynamics\nuse hemodynamics as before\nuse hemodynamics as after\n\
                compare before, after\nlvot_diameter = 2 cm (u = 1 mm)\nbefore.lvot_vti = 18 cm\n\
                after.lvot_vti = 18 cm\nrepeatability jozwiak_2019_one_operator";
    let change = linear(&read(text), "change.stroke_volume");
    near(2.0 * change.standard, 11.0, 1e-12);
}
