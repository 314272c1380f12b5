//! Quantiles of Student's t, for coverage factors.
//!
//! Pages that recompute have the same steps as a script (`notebook/page/live.js`): whoever changes
//! one changes the other.

use std::f64::consts::{PI, SQRT_2};

/// From more degrees of freedom on, an expansion about the normal quantile is good to 1e-13.
const FEW: f64 = 1000.0;

/// The quantile of Student's t at `probability` (inside 0 to 1) for `freedom` degrees of freedom
/// (positive; infinite for the normal distribution), to 1e-13 relative for one and more.
///
/// By Newton's steps on series of the incomplete beta function with positive terms alone; from a
/// thousand degrees of freedom on by Fisher's expansion (Abramowitz and Stegun 26.7.5).
///
/// ```
/// use semilunar::uncertainty::student_quantile;
///
/// // JCGM 100:2008 table G.2: t95(10) = 2.23.
/// assert!((student_quantile(0.975, 10.0) - 2.2281388520).abs() < 1e-9);
/// ```
pub fn student_quantile(probability: f64, freedom: f64) -> f64 {
    match probability < 0.5 {
        true => -student_quantile(1.0 - probability, freedom),
        // Both are exact: nothing is lost on the way to a share within.
        false => coverage_factor(2.0 * probability - 1.0, freedom),
    }
}

/// The coverage factor of a level (a share inside 0 to 1): so much of Student's t with `freedom`
/// degrees of freedom lies within it on both sides. As good as [`student_quantile`].
///
/// ```
/// use semilunar::uncertainty::coverage_factor;
///
/// // JCGM 100:2008 table G.2: 1.96 for 95 % without limit of freedom.
/// assert!((coverage_factor(0.95, f64::INFINITY) - 1.96).abs() < 0.005);
/// ```
pub fn coverage_factor(level: f64, freedom: f64) -> f64 {
    match freedom > FEW {
        true => expanded(normal_factor(level), freedom),
        false => {
            let density = Density::of(freedom);
            solve(|t| density.outside(t, level), |t| 2.0 * density.at(t))
        }
    }
}

/// The probability that Student's t with `freedom` degrees of freedom (positive; infinite for the
/// normal distribution) exceeds `t`: to 1e-13 up to a thousand degrees of freedom, beyond to 1e-7
/// (absolute) by way of the normal distribution (Abramowitz and Stegun 26.7.8).
///
/// ```
/// use semilunar::uncertainty::student_above;
///
/// // scipy.stats.t.sf(3 * 3 ** 0.5, 2), and the 2.5 % beyond 2.23 of JCGM 100:2008 table G.2.
/// assert!((student_above(27f64.sqrt(), 2.0) - 0.017_549_359_3).abs() < 1e-10);
/// assert!((student_above(2.2281388520, 10.0) - 0.025).abs() < 1e-10);
/// ```
pub fn student_above(t: f64, freedom: f64) -> f64 {
    if t < 0.0 {
        return 1.0 - student_above(-t, freedom);
    }
    if freedom <= FEW {
        // With nothing left outside by the level, it is all that lies outside, on both sides.
        return 0.5 * Density::of(freedom).outside(t, 1.0);
    }
    let normal = t * (1.0 - 0.25 / freedom) / (1.0 + 0.5 * t * t / freedom).sqrt();
    0.5 * libm::erfc(normal / SQRT_2)
}

fn normal_factor(level: f64) -> f64 {
    let outside = |t: f64| match t < 0.5 {
        true => level - libm::erf(t / SQRT_2),
        false => libm::erfc(t / SQRT_2) - (1.0 - level),
    };
    solve(outside, |t| (2.0 / PI).sqrt() * libm::exp(-0.5 * t * t))
}

/// Where what lies outside, less what shall lie there, is none. It falls with `t`, ever slower, by
/// `slope`.
fn solve(outside: impl Fn(f64) -> f64, slope: impl Fn(f64) -> f64) -> f64 {
    let (mut low, mut high) = (0.0, 1.0);
    while outside(high) > 0.0 && high < 1e300 {
        low = high;
        high *= 2.0;
    }
    for _ in 0..12 {
        let middle = 0.5 * (low + high);
        match outside(middle) > 0.0 {
            true => low = middle,
            false => high = middle,
        }
    }
    let mut t = low;
    for _ in 0..6 {
        let step = outside(t) / slope(t);
        // Far out, where nothing is left, there is no slope either.
        if !step.is_finite() {
            break;
        }
        t += step;
    }
    t
}

/// Fisher's expansion of the factor about the normal one.
fn expanded(z: f64, n: f64) -> f64 {
    let w = z * z;
    let terms = [
        (w + 1.0) / 4.0,
        ((5.0 * w + 16.0) * w + 3.0) / 96.0,
        (((3.0 * w + 19.0) * w + 17.0) * w - 15.0) / 384.0,
        ((((79.0 * w + 776.0) * w + 1482.0) * w - 1920.0) * w - 945.0) / 92160.0,
        (((((27.0 * w + 339.0) * w + 930.0) * w - 1782.0) * w - 765.0) * w + 17955.0) / 368640.0,
    ];
    z + z * terms.iter().rev().fold(0.0, |sum, term| (sum + term) / n)
}

/// The density of Student's t for a few degrees of freedom.
struct Density {
    freedom: f64,
    top: f64,
}

impl Density {
    fn of(freedom: f64) -> Density {
        let top = gamma_ratio(0.5 * freedom) / (freedom * PI).sqrt();
        Density { freedom, top }
    }

    fn at(&self, t: f64) -> f64 {
        let n = self.freedom;
        self.top * libm::exp(-0.5 * (n + 1.0) * libm::log1p(t * t / n))
    }

    /// The share outside `t` on both sides, less what a level leaves outside.
    fn outside(&self, t: f64, level: f64) -> f64 {
        let n = self.freedom;
        let whole = n + t * t;
        // From the end that loses no digits and needs no endless series.
        match t > 3.0 || t * t > n {
            true => {
                let sum = series(0.5 * (n + 1.0), 0.5 * n + 1.0, n / whole);
                2.0 * t * self.at(t) / n * sum - (1.0 - level)
            }
            false => {
                let sum = series(0.5 * (n + 1.0), 1.5, t * t / whole);
                level - 2.0 * t * self.at(t) * sum
            }
        }
    }
}

/// The hypergeometric series of `a`, 1; `c` at `x` (DLMF 8.17.8).
fn series(a: f64, c: f64, x: f64) -> f64 {
    let (mut term, mut sum) = (1.0, 1.0);
    let mut k = 0.0;
    while term > 1e-17 * sum && k < 1e6 {
        term *= (a + k) / (c + k) * x;
        sum += term;
        k += 1.0;
    }
    sum
}

/// Γ(a + ½) / Γ(a): an expansion in 1/(a − ¼)² (DLMF 5.11.14), brought down to `a`.
fn gamma_ratio(a: f64) -> f64 {
    let (mut a, mut down) = (a, 1.0);
    while a < 20.0 {
        down *= a / (a + 0.5);
        a += 1.0;
    }
    let w = a - 0.25;
    let s = 1.0 / (w * w);
    let sum = s * (631.0 / 524_288.0 - s * (174_317.0 / 134_217_728.0));
    down * w.sqrt() * (1.0 + s * (1.0 / 64.0 + s * (sum - 19.0 / 8192.0)))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn quantiles_are_those_of_the_gum_table() {
        // JCGM 100:2008 table G.2, as printed with two decimals (from memory).
        for (freedom, t95, t99) in [
            (1.0, 12.71, 63.66),
            (2.0, 4.30, 9.92),
            (5.0, 2.57, 4.03),
            (16.0, 2.12, 2.92),
            (50.0, 2.01, 2.68),
            (f64::INFINITY, 1.96, 2.576),
        ] {
            assert!((student_quantile(0.975, freedom) - t95).abs() < 0.0051);
            assert!((student_quantile(0.995, freedom) - t99).abs() < 0.0051);
        }
    }

    /// `tests/oracles/student.py`: mpmath in 50 digits, with SciPy beside it.
    #[test]
    fn quantiles_are_those_of_fifty_digits() {
        let text = include_str!("../../tests/oracles/student.json");
        let cases: Vec<serde_json::Value> = serde_json::from_str(text).unwrap();
        assert!(cases.len() > 200);

        for case in &cases {
            let of = |name: &str| case[name].as_f64().unwrap();
            let found = student_quantile(of("probability"), of("freedom"));
            let off = (found / of("quantile") - 1.0).abs();
            assert!(off < 1e-13, "{case}: {found}");

            let below = student_quantile(1.0 - of("probability"), of("freedom"));
            assert!((below + found).abs() < 1e-9 * found, "{case}: {below}");
        }
    }

    /// How exact a tail is, as a share of itself.
    fn within(freedom: f64) -> f64 {
        match freedom <= FEW || freedom.is_infinite() {
            true => 1e-13,
            false => 5e-6,
        }
    }

    /// `scipy.stats.t.sf(t, n)` of SciPy 1.17.1.
    #[test]
    fn tails_are_those_of_scipy() {
        for (t, freedom, expected) in [
            (0.0, 2.0, 0.5),
            (0.7, 1.0, 0.305_599_887_785_785_23),
            (5.196_152_422_706_632, 2.0, 0.017_549_359_322_992_324),
            (1.5, 4.0, 0.104),
            (2.5, 4.0, 0.033_383_272_405_994_07),
            (8.0, 7.0, 4.557_460_585_437_679e-5),
            (3.2, 40.0, 0.001_345_326_204_602_779_8),
            (1.0, 1000.0, 0.158_776_209_042_336_27),
            (2.0, 1500.0, 0.022_840_145_318_783_152),
            (4.0, 20000.0, 3.178_514_275_634_056_4e-5),
            (2.0, f64::INFINITY, 0.022_750_131_948_179_22),
        ] {
            let found = student_above(t, freedom);
            assert!(
                (found - expected).abs() < within(freedom) * expected,
                "{t} {freedom}: {found}"
            );
            assert!((student_above(-t, freedom) + found - 1.0).abs() < 1e-15);
        }
    }

    /// What a coverage factor leaves outside is what its level leaves.
    #[test]
    fn tails_and_factors_are_of_one_distribution() {
        for freedom in [1.0, 2.0, 3.0, 7.0, 40.0, 999.0, 2000.0, f64::INFINITY] {
            for level in [0.5, 0.9, 0.95, 0.997] {
                let outside = 2.0 * student_above(coverage_factor(level, freedom), freedom);
                assert!(
                    (outside - (1.0 - level)).abs() < 2.0 * within(freedom),
                    "{freedom} {level}: {outside}"
                );
            }
        }
    }

    #[test]
    fn the_middle_is_zero_and_the_ends_are_no_panic() {
        assert_eq!(student_quantile(0.5, 3.0), 0.0);
        assert_eq!(student_quantile(0.5, f64::INFINITY), 0.0);
        assert!(student_quantile(1.0, 1.0) > 1e15);
        assert!(student_quantile(1.0, f64::INFINITY) > 30.0);
    }
}
