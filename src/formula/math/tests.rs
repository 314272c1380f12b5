//! Checks of the functions against exact values, the C standard and themselves.

use super::*;
use std::hint::black_box;

/// Largest distance from the exact result that the module promises, in ulp.
const PROMISED: f64 = 1.0;
const INF: f64 = f64::INFINITY;
const BLOCK: usize = 256;

/// Steele, Lea and Flood's SplitMix64, seeded: arguments that are the same in every run.
struct Arguments(u64);

impl Arguments {
    fn bits(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mixed = (self.0 ^ (self.0 >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        let mixed = (mixed ^ (mixed >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        mixed ^ (mixed >> 31)
    }

    fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * ((self.bits() >> 11) as f64 / (TWO_52 * 2.0))
    }

    /// Every kind of number: all bit patterns, the special ones, everyday ones, integers.
    fn any(&mut self) -> f64 {
        const SPECIAL: [f64; 8] = [0.0, -0.0, 1.0, -1.0, INF, -INF, f64::NAN, 5e-324];
        match self.bits() % 5 {
            0 => f64::from_bits(self.bits()),
            1 => SPECIAL[(self.bits() % 8) as usize],
            2 => self.between(-300.0, 700.0),
            3 => self.between(-20.0, 20.0).round(),
            _ => self.between(0.999, 1.001),
        }
    }

    fn block(&mut self) -> [f64; BLOCK] {
        std::array::from_fn(|_| self.any())
    }
}

/// `function` over whole blocks, which an optimized build turns into vector instructions.
fn over(function: impl Fn(f64, f64) -> f64, x: &[f64; BLOCK], y: &[f64; BLOCK]) -> [f64; BLOCK] {
    let mut out = [0.0; BLOCK];
    for i in 0..BLOCK {
        out[i] = function(x[i], y[i]);
    }
    out
}

/// Distance of `got` from the exact result, which lies `rest` ulp above `nearest`.
fn distance(got: f64, nearest: f64, rest: f64) -> f64 {
    let size = nearest.abs();
    let ulp = size.next_up() - size;
    ((got - nearest) / ulp - rest).abs()
}

/// Largest distance over the lines of one function in the oracle's file.
fn largest_distance(name: &str, function: impl Fn(f64, f64) -> f64) -> f64 {
    let number = |hex: &str| f64::from_bits(u64::from_str_radix(hex, 16).unwrap());
    let mut lines = 0;
    let mut largest: f64 = 0.0;
    for line in include_str!("../../../tests/oracles/elementary.txt").lines() {
        let fields: Vec<&str> = line.split(' ').collect();
        let (x, y, nearest, rest) = match fields[..] {
            [of, x, nearest, rest] if of == name => (x, x, nearest, rest),
            [of, x, y, nearest, rest] if of == name => (x, y, nearest, rest),
            _ => continue,
        };
        let got = function(number(x), number(y));
        let off = distance(got, number(nearest), rest.parse().unwrap());
        assert!(
            off < PROMISED,
            "{name}: {got:e} is {off} ulp off in: {line}"
        );
        largest = largest.max(off);
        lines += 1;
    }
    assert!(lines > 390, "{name} has only {lines} lines");
    largest
}

// Exact values: mpmath with 50 digits, by tests/oracles/elementary.py.
#[test]
fn all_are_within_the_promised_distance_of_fifty_digit_values() {
    // None is always correctly rounded, so a largest distance below 0.5 would mean a broken check.
    assert!(largest_distance("ln", |x, _| ln(x)) > 0.5);
    assert!(largest_distance("exp", |x, _| exp(x)) > 0.5);
    assert!(largest_distance("pow", pow) > 0.5);
    assert!(largest_distance("cos", |x, _| cos(x)) > 0.5);
    assert!(largest_distance("sin", |x, _| sin(x)) > 0.5);
}

fn assert_same(got: f64, expected: f64, call: &str) {
    let same = got.to_bits() == expected.to_bits();
    assert!(same, "{call} is {got:e}, expected {expected:e}");
}

// C standard, annex F (IEC 60559), the log, exp, cos and sin functions (from memory).
#[test]
fn functions_of_one_argument_have_the_special_values_of_the_c_standard() {
    let nan = f64::NAN;
    for (x, expected) in [(0.0, -INF), (-0.0, -INF), (1.0, 0.0), (INF, INF)] {
        assert_same(ln(x), expected, &format!("ln({x})"));
    }
    for x in [-5e-324, -1.0, f64::MIN, -INF, nan, -nan] {
        assert_same(ln(x), nan, &format!("ln({x})"));
    }
    for (x, expected) in [
        (0.0, 1.0),
        (-0.0, 1.0),
        (-INF, 0.0),
        (INF, INF),
        (-nan, nan),
    ] {
        assert_same(exp(x), expected, &format!("exp({x})"));
    }
    for (x, expected) in [(710.0, INF), (1e300, INF), (-746.0, 0.0), (-1e300, 0.0)] {
        assert_same(exp(x), expected, &format!("exp({x})"));
    }
    for x in [INF, -INF, nan, -nan] {
        assert_same(cos(x), nan, &format!("cos({x})"));
        assert_same(sin(x), nan, &format!("sin({x})"));
    }
    assert_same(cos(-0.0), 1.0, "cos(-0)");
    assert_same(sin(-0.0), -0.0, "sin(-0)");
}

// C standard, annex F (IEC 60559), "the pow functions" (from memory); IEEE 754-2008, 9.2.1.
#[test]
fn pow_has_the_special_values_of_the_c_standard() {
    let nan = f64::NAN;
    let expected = [
        (0.0, 0.425, 0.0),
        (0.0, 3.0, 0.0),
        (0.0, INF, 0.0),
        (0.0, -0.425, INF),
        (0.0, -3.0, INF),
        (0.0, -INF, INF),
        (-0.0, 3.0, -0.0),
        (-0.0, 2.0, 0.0),
        (-0.0, 0.5, 0.0),
        (-0.0, -3.0, -INF),
        (-0.0, -2.0, INF),
        (-0.0, -0.5, INF),
        (0.0, 0.0, 1.0),
        (-0.0, -0.0, 1.0),
        (nan, 0.0, 1.0),
        (INF, 0.0, 1.0),
        (1.0, nan, 1.0),
        (1.0, INF, 1.0),
        (1.0, -7.5, 1.0),
        (-1.0, INF, 1.0),
        (-1.0, -INF, 1.0),
        (-1.0, 3.0, -1.0),
        (-1.0, 4.0, 1.0),
        (-2.0, 3.0, -8.0),
        (-2.0, -2.0, 0.25),
        (-2.0, 0.5, nan),
        (-1.0, 1e-300, nan),
        (nan, 1.0, nan),
        (2.0, nan, nan),
        (-nan, -nan, nan),
        (0.5, INF, 0.0),
        (0.5, -INF, INF),
        (2.0, INF, INF),
        (2.0, -INF, 0.0),
        (-2.0, INF, INF),
        (-0.5, INF, 0.0),
        (INF, 0.425, INF),
        (INF, -0.425, 0.0),
        (-INF, 3.0, -INF),
        (-INF, 2.0, INF),
        (-INF, 0.5, INF),
        (-INF, -3.0, -0.0),
        (-INF, -2.0, 0.0),
        (INF, INF, INF),
        (INF, -INF, 0.0),
        (2.0, 1024.0, INF),
        (-2.0, 1025.0, -INF),
        (2.0, 1023.0, 2f64.powi(1023)),
        (2.0, -1074.0, 5e-324),
        (2.0, -1076.0, 0.0),
        (-2.0, -1077.0, -0.0),
        (1.0 + f64::EPSILON, f64::MAX, INF),
        (1.0 - f64::EPSILON, f64::MAX, 0.0),
        (1e300, f64::MAX, INF),
        (1e300, f64::MIN, 0.0),
        (1e-300, f64::MIN, INF),
        (-1.0, 9_007_199_254_740_991.0, -1.0),
        (-1.0, 9_007_199_254_740_992.0, 1.0),
        (-1.0, 4_503_599_627_370_495.5, nan),
    ];
    for (x, y, power) in expected {
        assert_same(pow(x, y), power, &format!("pow({x}, {y})"));
    }
}

#[test]
fn pow_is_exact_where_the_result_is_a_number() {
    for base in 1..=30_i64 {
        for exponent in (0..=10).take_while(|&e| base.pow(e) < 1 << 53) {
            let call = format!("pow({base}, {exponent})");
            let exact = base.pow(exponent) as f64;
            assert_same(pow(base as f64, f64::from(exponent)), exact, &call);
        }
    }
    let mut arguments = Arguments(1);
    for x in (0..5000).map(|_| arguments.any()).filter(|x| !x.is_nan()) {
        assert_same(pow(x, 1.0), x, &format!("pow({x:e}, 1)"));
    }
}

// IEEE 754 demands that the hardware's product, quotient and square root are correctly rounded.
#[test]
fn pow_is_next_to_what_the_hardware_rounds_correctly() {
    let mut arguments = Arguments(2);
    for _ in 0..5000 {
        let x = exp(arguments.between(-300.0, 300.0));
        for (y, rounded) in [(2.0, x * x), (-1.0, 1.0 / x), (0.5, x.sqrt())] {
            let power = pow(x, y);
            let near = rounded.next_down() <= power && power <= rounded.next_up();
            assert!(near, "pow({x:e}, {y}) is {power:e}, not {rounded:e}");
        }
    }
}

#[test]
fn exp_undoes_ln() {
    let mut arguments = Arguments(3);
    for _ in 0..5000 {
        let x = f64::from_bits(arguments.bits() >> 2).max(f64::MIN_POSITIVE);
        let logarithm = ln(x);
        // An ulp of the logarithm moves the power by as much, relatively; then an ulp of exp.
        let bound = f64::EPSILON * (logarithm.abs() + 1.0);
        let back = exp(logarithm);
        assert!(
            (back / x - 1.0).abs() <= bound,
            "exp(ln({x:e})) is {back:e}"
        );
    }
}

#[test]
fn sine_and_cosine_lie_on_the_unit_circle() {
    let mut arguments = Arguments(4);
    for _ in 0..5000 {
        let angle = arguments.between(-1e6, 1e6);
        let square = cos(angle) * cos(angle) + sin(angle) * sin(angle);
        assert!((square - 1.0).abs() < 4.0 * f64::EPSILON, "at {angle:e}");
    }
}

/// A function, its name and the checksum of its results.
type Case = (&'static str, fn(f64, f64) -> f64, u64);

/// The checksums are those of an optimized build whose loops ran on AVX-512, eight lanes at a
/// time; SSE2, AVX2 and unoptimized builds gave the same. A change here changes results that
/// users have stored. `cos` and `sin` can change with the `libm` crate.
const CASES: [Case; 5] = [
    ("ln", |x, _| ln(x), 0x698c_8c32_8f63_dd87),
    ("exp", |x, _| exp(x), 0xddd8_add5_de2d_9656),
    ("pow", pow, 0xb279_3ba8_0f0c_0406),
    ("cos", |x, _| cos(x), 0xc4c3_27dd_9402_78ba),
    ("sin", |x, _| sin(x), 0xb76d_bda8_22a0_d5d1),
];

#[test]
fn bits_are_those_of_other_widths_and_builds() {
    for (name, function, expected) in CASES {
        let mut arguments = Arguments(5);
        let mut sum = 0_u64;
        for _ in 0..100 {
            let (x, y) = (arguments.block(), arguments.block());
            for value in over(function, &x, &y) {
                sum = (sum.rotate_left(5) ^ value.to_bits()).wrapping_mul(0x9e37_79b9_7f4a_7c15);
            }
        }
        assert_eq!(sum, expected, "{name}: {sum:#018x}");
    }
}

#[test]
fn many_lanes_give_the_bits_of_one() {
    let mut arguments = Arguments(6);
    for _ in 0..50 {
        let (x, y) = (arguments.block(), arguments.block());
        let lanes = [
            over(|x, _| ln(x), &x, &y),
            over(|x, _| exp(x), &x, &y),
            over(pow, &x, &y),
            over(|x, _| cos(x), &x, &y),
            over(|x, _| sin(x), &x, &y),
        ];
        for ((name, function, _), lanes) in CASES.into_iter().zip(lanes) {
            for i in 0..BLOCK {
                let one = black_box(function)(black_box(x[i]), black_box(y[i]));
                assert_same(lanes[i], one, &format!("{name}({:e}, {:e})", x[i], y[i]));
            }
        }
    }
}

#[test]
fn ordinary_powers_have_the_bits_of_all_powers() {
    let mut arguments = Arguments(17);
    for round in 0..200_000 {
        let exponent = arguments.between(-100.0, 100.0);
        let x = [exponent.exp2(), arguments.between(0.5, 250.0)][round % 2];
        let y = [arguments.between(-9.0, 9.0), 0.425, 0.0, -0.0, 9.0][round % 5];
        assert!(is_ordinary_base(x) && is_ordinary_exponent(y));
        let ordinary = ordinary_pow_by_log(log_for_ordinary_pow(x), y);
        assert_eq!(ordinary.to_bits(), pow(x, y).to_bits(), "{x} to the {y}");
    }
    for x in [
        2.0_f64.powi(-100),
        2.0_f64.powi(100),
        1.0,
        1.0_f64.next_up(),
    ] {
        for y in [-9.0, 9.0, 1.0, -1.0, 0.5] {
            let ordinary = ordinary_pow_by_log(log_for_ordinary_pow(x), y);
            assert_eq!(ordinary.to_bits(), pow(x, y).to_bits(), "{x} to the {y}");
        }
    }
    for x in [0.0, -1.0, INF, f64::NAN, 5e-324, 1e31] {
        assert!(!is_ordinary_base(x), "{x}");
    }
    assert!(!is_ordinary_exponent(f64::NAN) && !is_ordinary_exponent(INF));
}
