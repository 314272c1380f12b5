use proptest::prelude::*;

use crate::formula::CellId;
use crate::sheet::Sheet;
use crate::uncertainty::apart::Apart;
use crate::uncertainty::{Exam, Propagated, Settings, propagate};

fn read(text: &str) -> Sheet {
    Sheet::read(text).unwrap().sheet
}

fn cell(sheet: &Sheet, name: &str) -> CellId {
    sheet.cell(name).unwrap()
}

/// What one sheet says of a cell; an exam must say the same to the bit.
fn of(text: &str, name: &str) -> Propagated {
    let sheet = read(text);
    let settings = Settings::of(&sheet);
    let wanted = cell(&sheet, name);
    let found = propagate(&sheet, wanted, &settings).unwrap();
    let exam = Exam::new(&sheet, &[wanted], settings).unwrap();
    assert_eq!(
        exam.standard(0).map(f64::to_bits),
        Some(found.standard.to_bits()),
        "{name} of\n{text}"
    );
    found
}

fn is_near(found: f64, expected: f64) -> bool {
    (found / expected - 1.0).abs() < 1e-14
}

/// The causes of both products are the same where these meet: u² = ((k + m) u(v))² + (v u(k))² +
/// (v u(m))² with u(v)² = (b u(a))² + (a u(b))² (JCGM 100:2008, equation 10).
#[test]
fn causes_that_meet_again_count_once() {
    let text = "a = 3 (u = 0.02)\nb = 3 (u = 0.02)\nk = 2 (u = 0.1)\nm = 5 (u = 0.2)\n\
                v = a * b\np = v * k\nq = v * m\nsum = p + q\ntwice = sum / v";
    let variance =
        2.0 * (7.0 * 3.0 * 0.02_f64).powi(2) + (9.0 * 0.1_f64).powi(2) + (9.0 * 0.2_f64).powi(2);
    assert!(is_near(of(text, "sum").standard, variance.sqrt()));
    // k + m is left, whatever a and b are.
    let left = 0.1_f64.hypot(0.2);
    let twice = of(text, "twice");
    assert!(is_near(twice.standard, left));
    assert_eq!(twice.budget.len(), 2);
}

/// u² = c₁² u₁² + c₂² u₂² + 2 r c₁ u₁ c₂ u₂ (JCGM 100:2008, equation 16).
#[test]
fn readings_behind_two_cells_are_correlated() {
    let text = "a = 3 (u = 0.5)\nb = 4 (u = 0.25)\nc = 1 (u = 0.125)\nx = 2 * a + c\ny = 3 * b\n\
                z = x + y\ncorrelate a, b by 0.5";
    let variance = 1.0_f64 + 0.75 * 0.75 + 0.125 * 0.125 + 2.0 * 0.5 * 0.75;
    assert!(is_near(of(text, "z").standard, variance.sqrt()));
    // One that is correlated with another behind the same cell.
    let text = format!("{text}\nw = a * z");
    let from_a = 3.0 * 2.0 + (2.0 * 3.0 + 1.0 + 12.0);
    let parts: [f64; 3] = [from_a * 0.5, 3.0 * 3.0 * 0.25, 3.0 * 0.125];
    let own: f64 = parts.iter().map(|p| p * p).sum();
    let variance = own + 2.0 * 0.5 * parts[0] * parts[1];
    assert!(is_near(of(&text, "w").standard, variance.sqrt()));
}

#[test]
fn what_cancels_leaves_nothing() {
    let text = "a = 3 (u = 0.5)\nb = 4 (u = 0.25)\nx = a * b\ny = b * a\nnone = x - y\none = x / y\n\
                c = 1 (u = 0.125)\nleft = none + c";
    for name in ["none", "one"] {
        let sheet = read(text);
        let found = propagate(&sheet, cell(&sheet, name), &Settings::default()).unwrap();
        assert_eq!(found.standard, 0.0);
        assert!(!found.says_something());
    }
    assert_eq!(of(text, "left").standard, 0.125);
}

/// Squares of what stands between are no numbers, though the result is one.
#[test]
fn squares_too_small_or_too_large_on_the_way_lose_nothing() {
    for power in [-170, 170] {
        let text = format!(
            "a = 1 (u = 0.5)\nb = 1 (u = 0.25)\nc = 2 (u = 0.125)\nfar = (a + b) * 1e{power}\n\
             near = far * 1e{} + c",
            -power
        );
        let expected = (0.25_f64 + 0.0625 + 0.015_625).sqrt();
        assert!(is_near(of(&text, "near").standard, expected), "{power}");
    }
    let text = "a = 1 (u = 0.5)\nb = 1 (u = 0.25)\nc = 2 (u = 0.125)\nfar = exp(-400 * (a + b) / 2)\n\
                near = ln(far) + c";
    let expected = (1e4_f64 + 2.5e3 + 0.015_625).sqrt();
    assert!((of(text, "near").standard / expected - 1.0).abs() < 1e-12);
}

#[test]
fn a_stated_zero_on_the_way_is_zero() {
    let text = "a = 1 (u = 0)\nb = 2 (u = 0)\nc = 2 (u = 0.125)\nd = 1\nx = a * b\ny = d * a\n\
                z = x * c + y";
    let found = of(text, "z");
    assert_eq!(found.standard, 0.25);
    assert!(found.is_lower_bound());
}

#[test]
fn a_sweep_stops_where_nothing_is_shared() {
    let sheet = read(
        "a = 1\nb = 2\nc = 3\nx = a * b\ny = b + c\nz = x * c\nw = x * y\nv = z + w\n\
         choice = if a > 1 then c else 2 * c\nt = choice * a",
    );
    let names = |of: &str, settings: &Settings| -> Vec<String> {
        let apart = Apart::under(&sheet, &[cell(&sheet, "v"), cell(&sheet, "t")], settings);
        let from = cell(&sheet, of);
        let stops = apart.ways(from).stops(from);
        stops.into_iter().map(|cell| sheet.name(cell)).collect()
    };
    let none = Settings::default();
    assert_eq!(names("z", &none), ["x"]);
    // Both come from b.
    assert_eq!(names("w", &none), [""; 0]);
    assert_eq!(names("v", &none), [""; 0]);
    // What only decides is no cause.
    assert_eq!(names("t", &none), ["choice"]);
    let tied = Settings {
        correlations: vec![crate::uncertainty::Correlation {
            first: cell(&sheet, "a"),
            second: cell(&sheet, "c"),
            value: 0.5,
        }],
        ..Settings::default()
    };
    assert_eq!(names("z", &tied), [""; 0]);
}

/// A sheet of cells that each lean on two before them.
fn sheet_text() -> impl Strategy<Value = String> {
    let number = |from: f64, to: f64| from..to;
    let reading = (number(0.5, 2.0), number(0.01, 0.2));
    let cell = (0..64_usize, 0..64_usize, 0..6_u32, number(0.5, 2.0));
    (
        proptest::collection::vec(reading, 6),
        proptest::collection::vec(cell, 8),
    )
        .prop_map(|(readings, cells)| {
            let mut text = String::new();
            for (at, (value, u)) in readings.iter().enumerate() {
                text += &format!("c{at} = {value} (u = {u})\n");
            }
            for (at, (a, b, kind, k)) in cells.iter().enumerate() {
                let before = readings.len() + at;
                let (a, b) = (format!("c{}", a % before), format!("c{}", b % before));
                text += &match kind {
                    0 => format!("c{before} = {a} + {k} * {b}\n"),
                    1 | 2 => format!("c{before} = {a} * {b}\n"),
                    3 => format!("c{before} = sqrt({a}) * {b} ^ 2 + {k}\n"),
                    4 => format!("c{before} = {a} / {k}\n"),
                    _ => format!("c{before} = ({a} + {b}) / sqrt({k} + {b}) * ({b} + 1)\n"),
                };
            }
            text
        })
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(60))]

    /// Against the sum over all causes, which a budget lists. No slopes cancel here.
    #[test]
    fn carried_variances_are_the_sums_over_all_causes(text in sheet_text()) {
        for at in 6..14 {
            let found = of(&text, &format!("c{at}"));
            let sum: f64 = found.budget.iter().map(|line| line.contribution.powi(2)).sum();
            let difference = (found.standard / sum.sqrt() - 1.0).abs();
            prop_assert!(difference < 1e-13, "c{} in\n{}: {}", at, text, difference);
        }
    }
}
