//! Figures, functions and coverage factors of a page, each by itself.

use semilunar::formula::math;
use semilunar::sheet::{figure, figure_as_given};
use semilunar::uncertainty::{coverage_factor, value_and_uncertainty};
use serde_json::{Value, json};

use super::{AGREEMENT, Judged, ask_and_judge, browser, page};

/// Ties go to the even digit in Rust and to the larger number in ECMAScript (ECMA-262,
/// Number.prototype.toFixed), so ties are among the numbers.
#[test]
fn figures_are_the_same_digit_for_digit() {
    let Some(browser) = browser() else { return };
    let mut numbers: Vec<f64> = vec![
        0.0,
        1.0,
        2.5,
        12.25,
        12.35,
        99.95,
        100.05,
        199.95,
        200.5,
        201.5,
        0.125,
        0.0625,
        0.00125,
        1e7,
        12_350_000.0,
        12_250_000.0,
        1e-4,
        9.9e-5,
        0.001,
        0.01,
        0.1,
        9.995,
        9.985,
        1.005,
        1e300,
        5e-324,
        9_999_999.5,
        1e21,
        0.00099999999,
        123456.5,
        123457.5,
    ];
    // A fixed sequence of numbers over all sizes (linear congruence of Knuth, MMIX).
    let mut seed: u64 = 7;
    for _ in 0..4000 {
        seed = seed
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        let share = (seed >> 11) as f64 / (1u64 << 53) as f64;
        let power = ((seed >> 3) % 15) as i32 - 6;
        numbers.push(share * 10f64.powi(power));
        // Quarters and eighths, which make ties.
        numbers.push((share * 4000.0).round() / 8.0);
    }
    let negative: Vec<f64> = numbers.iter().map(|v| -v).collect();
    numbers.extend(negative);
    let figures: Vec<Value> = numbers.iter().map(|v| json!([v, figure(*v)])).collect();
    let page = page(
        &["a = 1 cm\nb = a * 2\nshow b\nadjust a from 0 cm to 2 cm by 1 cm"],
        &[],
    );
    // Figures of charts, by the rule of `charts/number.rs`: three significant digits, a minus sign,
    // no zeros at the end, gaps from five digits on (ISO 80000-1, 7.3.1, from memory).
    let signed = vec![
        json!([0.0, "0"]),
        json!([-9.75, "−9.75"]),
        json!([10.25, "+10.2"]),
        json!([10.35, "+10.3"]),
        json!([-0.5, "−0.5"]),
        json!([100.0, "+100"]),
        json!([1234.0, "+1230"]),
        json!([-12345.0, "−12\u{202f}300"]),
        json!([0.00012, "+0.00012"]),
        json!([25_000_000.0, "+2.5×10⁷"]),
        json!([-3.0e-5, "−3×10⁻⁵"]),
    ];
    let given = numbers.iter().map(|v| json!([v, figure_as_given(*v)]));
    // Numbers that a script writes without an exponent, and with no more than 100 decimals.
    let pairs = numbers.iter().zip(numbers.iter().skip(2));
    let pairs = pairs.filter(|(v, u)| v.abs() < 1e21 && (**u <= 0.0 || (1e-60..1e21).contains(*u)));
    let rounded = pairs.map(|(v, u)| json!([v, u, value_and_uncertainty(*v, *u).join(" ")]));
    let judged = Judged {
        figures,
        given: given.collect(),
        rounded: rounded.collect(),
        signed,
        ..Judged::default()
    };
    let answer = ask_and_judge(&browser, &page, &[], &judged);
    assert_eq!(answer["figures"], json!([]));
    assert_eq!(answer["given"], json!([]));
    assert_eq!(answer["rounded"], json!([]));
    assert_eq!(answer["signed"], json!([]));
}

/// The functions that the standard leaves to the browser, over more than any reading spans. ECMA-262,
/// 21.3.2 asks for no accuracy; our own are within 2 ulp (`formula/math.rs`).
#[test]
fn the_functions_of_the_browser_are_close_to_ours() {
    let Some(browser) = browser() else { return };
    let mut functions = Vec::new();
    for i in 0..4000 {
        let x = f64::from(i).mul_add(0.013, 1e-3);
        functions.push(json!(["exp", x - 26.0, 0.0, math::exp(x - 26.0)]));
        functions.push(json!(["log", x * x, 0.0, math::ln(x * x)]));
        functions.push(json!(["cos", x, 0.0, math::cos(x)]));
        let y = f64::from(i % 80) * 0.0725 - 2.9;
        functions.push(json!(["pow", x, y, math::pow(x, y)]));
    }
    let judged = Judged {
        functions,
        ..Judged::default()
    };
    let page = page(
        &["a = 1 cm\nb = a * 2\nshow b\nadjust a from 0 cm to 2 cm by 1 cm"],
        &[],
    );
    let answer = ask_and_judge(&browser, &page, &[], &judged);
    let off = answer["off"].as_f64().unwrap();
    assert!(off < AGREEMENT / 1000.0, "{off}");
}

/// The coverage factors, which page and library find in the same steps.
#[test]
fn coverage_factors_agree() {
    let Some(browser) = browser() else { return };
    for (words, level) in [("68.27 %", 0.6827), ("95 %", 0.95), ("99.9 %", 0.999)] {
        let whole = (1..=60).chain([99, 250, 999, 1000, 1001, 2500, 100_000, 20_000_000]);
        let mut factors: Vec<Value> = whole
            .map(|n| json!([n, coverage_factor(level, f64::from(n))]))
            .collect();
        factors.push(json!(["Infinity", coverage_factor(level, f64::INFINITY)]));
        let judged = Judged {
            factors,
            ..Judged::default()
        };
        let coverage = format!("coverage {words}");
        let page = page(
            &[
                &coverage,
                "a = 1 cm\nb = a * 2\nshow b\nadjust a from 0 cm to 2 cm by 1 cm",
            ],
            &[],
        );
        let answer = ask_and_judge(&browser, &page, &[], &judged);
        let off = answer["factors"].as_f64().unwrap();
        assert!(off < AGREEMENT, "{words}: {off}");
    }
}
