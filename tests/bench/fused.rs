//! The ten formulas in one loop, as a programmer writes them for speed: units settled by hand,
//! no states, the widest vector instructions at hand.

use std::f64::consts::FRAC_PI_4;

use semilunar::formula::math::{exp, ln, pow};

use crate::Columns;

/// Rows taken at a time, so that a block stays in the cache.
const ROWS: usize = 2048;

/// How the surface of the body is computed.
#[derive(Clone, Copy)]
pub enum Powers {
    /// Two powers, as the formula is written.
    Two,
    /// e to a sum of two logarithms: fewer operations, another rounding.
    ThroughLogarithms,
}

/// The vector instructions that are used.
pub fn instructions() -> &'static str {
    #[cfg(target_arch = "x86_64")]
    {
        if has_avx512() {
            return "AVX-512";
        }
        if std::is_x86_feature_detected!("avx2") {
            return "AVX2";
        }
    }
    "those of the target"
}

/// Computes the ten outputs of all rows.
pub fn run(powers: Powers, inputs: &Columns, mut outputs: [&mut [f64]; 10]) {
    for start in (0..inputs[0].len()).step_by(ROWS) {
        let end = (start + ROWS).min(inputs[0].len());
        let taken: [&[f64]; 8] = std::array::from_fn(|i| &inputs[i][start..end]);
        let mut rest = outputs.iter_mut();
        let made: [&mut [f64]; 10] = std::array::from_fn(|_| &mut rest.next().unwrap()[start..end]);
        widest(powers, taken, made);
    }
}

#[cfg(target_arch = "x86_64")]
fn has_avx512() -> bool {
    std::is_x86_feature_detected!("avx512f")
        && std::is_x86_feature_detected!("avx512dq")
        && std::is_x86_feature_detected!("avx512bw")
        && std::is_x86_feature_detected!("avx512vl")
}

#[cfg(target_arch = "x86_64")]
fn widest(powers: Powers, inputs: [&[f64]; 8], outputs: [&mut [f64]; 10]) {
    if has_avx512() {
        // SAFETY: the features were found on this processor in the line above.
        unsafe { avx512(powers, inputs, outputs) }
    } else if std::is_x86_feature_detected!("avx2") {
        // SAFETY: the feature was found on this processor in the line above.
        unsafe { avx2(powers, inputs, outputs) }
    } else {
        rows(powers, inputs, outputs);
    }
}

#[cfg(not(target_arch = "x86_64"))]
fn widest(powers: Powers, inputs: [&[f64]; 8], outputs: [&mut [f64]; 10]) {
    rows(powers, inputs, outputs);
}

#[cfg(target_arch = "x86_64")]
#[target_feature(enable = "avx512f,avx512dq,avx512bw,avx512vl")]
fn avx512(powers: Powers, inputs: [&[f64]; 8], outputs: [&mut [f64]; 10]) {
    rows(powers, inputs, outputs);
}

#[cfg(target_arch = "x86_64")]
#[target_feature(enable = "avx2")]
fn avx2(powers: Powers, inputs: [&[f64]; 8], outputs: [&mut [f64]; 10]) {
    rows(powers, inputs, outputs);
}

#[inline(always)]
fn rows(powers: Powers, inputs: [&[f64]; 8], outputs: [&mut [f64]; 10]) {
    let [d, vti, hr, h, w, s, dia, cvp] = inputs.map(|column| &column[..inputs[0].len()]);
    let [area, sv, bsa, svi, co, ci, map, svr, svri, cpo] =
        outputs.map(|column| &mut column[..inputs[0].len()]);
    match powers {
        Powers::Two => {
            for i in 0..d.len() {
                bsa[i] = 0.007184 * pow(w[i], 0.425) * pow(h[i], 0.725);
            }
        }
        Powers::ThroughLogarithms => {
            for i in 0..d.len() {
                bsa[i] = 0.007184 * exp(0.425 * ln(w[i]) + 0.725 * ln(h[i]));
            }
        }
    }
    for i in 0..d.len() {
        area[i] = FRAC_PI_4 * (d[i] * d[i]);
        sv[i] = area[i] * vti[i];
        svi[i] = sv[i] / bsa[i];
        co[i] = sv[i] * hr[i] / 1000.0;
        ci[i] = co[i] / bsa[i];
        map[i] = dia[i] + (s[i] - dia[i]) / 3.0;
        svr[i] = 79.9932 * ((map[i] - cvp[i]) / co[i]);
        svri[i] = svr[i] * bsa[i];
        cpo[i] = map[i] * co[i] * (0.133322 / 60.0);
    }
}
