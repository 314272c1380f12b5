//! Draws of a cardiac output in one loop, blocked by hand, the widest vector instructions at hand:
//! the same generator and the same numbers as the library's, all else left out.

use std::f64::consts::{FRAC_PI_2, FRAC_PI_4};

use semilunar::formula::math::ln;

use crate::widest::{Loop, widest};

/// Draws in a block.
const WIDTH: usize = 256;
const HALF: usize = WIDTH / 2;
const TWO_52: f64 = 4_503_599_627_370_496.0;

/// Mean and standard deviation of that many draws.
pub fn moments(draws: usize) -> [f64; 2] {
    let (mut sum, mut squares) = (0.0, 0.0);
    // About a number near the mean, so that nothing is lost.
    let near = 4.4;
    for block in 0..draws / WIDTH {
        let mut values = [0.0; WIDTH];
        widest(Draws {
            block: block as u64,
            values: &mut values,
        });
        sum += values.iter().map(|v| v - near).sum::<f64>();
        squares += values.iter().map(|v| (v - near) * (v - near)).sum::<f64>();
    }
    figures(sum, squares, near, draws)
}

/// The same, with both intervals from sorted values.
pub fn moments_and_intervals(draws: usize) -> [f64; 2] {
    let mut all = vec![0.0; draws];
    let near = 4.4;
    let (mut sum, mut squares) = (0.0, 0.0);
    for (block, values) in all.chunks_exact_mut(WIDTH).enumerate() {
        let values: &mut [f64; WIDTH] = values.try_into().unwrap();
        widest(Draws {
            block: block as u64,
            values,
        });
        sum += values.iter().map(|v| v - near).sum::<f64>();
        squares += values.iter().map(|v| (v - near) * (v - near)).sum::<f64>();
    }
    all.sort_unstable_by(f64::total_cmp);
    let inside = draws * 95 / 100;
    let widths = all.iter().zip(&all[inside..]).map(|(low, high)| high - low);
    std::hint::black_box(widths.fold(f64::INFINITY, f64::min));
    figures(sum, squares, near, draws)
}

fn figures(sum: f64, squares: f64, near: f64, draws: usize) -> [f64; 2] {
    let n = draws as f64;
    let variance = (squares - sum * sum / n) / (n - 1.0);
    [near + sum / n, variance.sqrt()]
}

struct Draws<'a> {
    block: u64,
    values: &'a mut [f64; WIDTH],
}

impl Loop for Draws<'_> {
    #[inline(always)]
    fn run(self) {
        let mut errors = [[0.0; WIDTH]; 3];
        for (cause, out) in errors.iter_mut().enumerate() {
            for i in 0..HALF {
                let [u, v] = uniforms([i as u64, 0, self.block, cause as u64]);
                let radius = (-2.0 * ln(u)).sqrt();
                let [cos, sin] = direction(v);
                out[i] = radius * cos;
                out[HALF + i] = radius * sin;
            }
        }
        let [diameter, integral, rate] = &errors;
        for (i, value) in self.values.iter_mut().enumerate() {
            let d = 2.0 + 0.1 * diameter[i];
            let area = FRAC_PI_4 * (d * d);
            let volume = area * (20.0 + integral[i]);
            *value = volume * (70.0 + 2.0 * rate[i]) / 1000.0;
        }
    }
}

/// Philox4x32-10 under the key of seed 1.
#[inline(always)]
fn uniforms(mut words: [u64; 4]) -> [f64; 2] {
    const LOW: u64 = 0xffff_ffff;
    let mut key = [1u64, 0];
    for _ in 0..10 {
        let first = 0xD251_1F53 * (words[0] & LOW);
        let second = 0xCD9E_8D57 * (words[2] & LOW);
        words = [
            (second >> 32) ^ words[1] ^ key[0],
            second & LOW,
            (first >> 32) ^ words[3] ^ key[1],
            first & LOW,
        ];
        key = [(key[0] + 0x9E37_79B9) & LOW, (key[1] + 0xBB67_AE85) & LOW];
    }
    let unit = |bits: u64| {
        let whole = f64::from_bits((bits >> 12) | TWO_52.to_bits()) - TWO_52;
        (whole + 0.5) * (1.0 / TWO_52)
    };
    let [a, b, c, d] = words;
    [unit(a << 32 | b), unit(c << 32 | d)]
}

/// Cosine and sine of a share of a turn.
#[inline(always)]
fn direction(turn: f64) -> [f64; 2] {
    const ROUNDER: f64 = 1.5 * TWO_52;
    const S: [f64; 6] = [
        -1.666_666_666_666_663_2e-1,
        8.333_333_333_322_49e-3,
        -1.984_126_982_985_795e-4,
        2.755_731_370_707_006_8e-6,
        -2.505_076_025_340_686_3e-8,
        1.589_690_995_211_55e-10,
    ];
    const C: [f64; 6] = [
        4.166_666_666_666_66e-2,
        -1.388_888_888_887_411e-3,
        2.480_158_728_947_673e-5,
        -2.755_731_435_139_066_3e-7,
        2.087_572_321_298_175e-9,
        -1.135_964_755_778_819_5e-11,
    ];
    let quarters = 4.0 * turn + ROUNDER;
    let quadrant = quarters.to_bits();
    let x = (4.0 * turn - (quarters - ROUNDER)) * FRAC_PI_2;
    let z = x * x;
    let sin = x + x * z * (S[0] + z * (S[1] + z * (S[2] + z * (S[3] + z * (S[4] + z * S[5])))));
    let tail = z * z * (C[0] + z * (C[1] + z * (C[2] + z * (C[3] + z * (C[4] + z * C[5])))));
    let cos = 1.0 - (0.5 * z - tail);
    let (c, s) = if quadrant & 1 == 1 {
        (sin, cos)
    } else {
        (cos, sin)
    };
    let sign = |bits: u64| (bits & 2) << 62;
    [
        f64::from_bits(c.to_bits() ^ sign(quadrant + 1)),
        f64::from_bits(s.to_bits() ^ sign(quadrant)),
    ]
}
