//! Random draws by counter: the same on every machine and any number of threads.
//!
//! Philox4x32-10 (Salmon, Moraes, Dror & Shaw, "Parallel random numbers: as easy as 1, 2, 3",
//! SC11). The counter names the block, the cause and the lane, so each block can be made alone.
//! Not for cryptography.

use crate::formula::math;
use crate::formula::simd::Job;

const ROUNDS: usize = 10;
const MULTIPLIERS: [u32; 2] = [0xD251_1F53, 0xCD9E_8D57];
const KEY_STEPS: [u32; 2] = [0x9E37_79B9, 0xBB67_AE85];

/// The words of one counter under one key.
#[cfg(any(feature = "cohort", test))]
#[inline]
pub(crate) fn philox(counter: [u32; 4], key: [u32; 2]) -> [u32; 4] {
    let mut words = counter;
    let mut key = key;
    for _ in 0..ROUNDS {
        let first = u64::from(MULTIPLIERS[0]) * u64::from(words[0]);
        let second = u64::from(MULTIPLIERS[1]) * u64::from(words[2]);
        words = [
            (second >> 32) as u32 ^ words[1] ^ key[0],
            second as u32,
            (first >> 32) as u32 ^ words[3] ^ key[1],
            first as u32,
        ];
        key = [
            key[0].wrapping_add(KEY_STEPS[0]),
            key[1].wrapping_add(KEY_STEPS[1]),
        ];
    }
    words
}

/// Draws in a block.
pub(super) const WIDTH: usize = 256;
/// Counters in a block: each gives two numbers.
const HALF: usize = WIDTH / 2;

/// What the draws of one cause in one block are made from.
#[derive(Clone, Copy)]
pub(super) struct Stream {
    pub(super) seed: u64,
    pub(super) block: u32,
    pub(super) cause: u32,
}

/// Uniforms strictly between 0 and 1: the middles of 2^52 equal steps. Each counter gives two, one
/// for each half of the block.
#[inline(always)]
fn fill_uniform(out: &mut [f64; WIDTH], stream: Stream, round: u32) {
    let key = [stream.seed as u32, (stream.seed >> 32) as u32];
    for i in 0..HALF {
        let counter = [i as u32, round, stream.block, stream.cause];
        let [a, b, c, d] = words(counter, key);
        out[i] = middle(a << 32 | b);
        out[HALF + i] = middle(c << 32 | d);
    }
}

/// Standard normals (Box and Muller).
#[inline(always)]
fn fill_normal(out: &mut [f64; WIDTH], stream: Stream, round: u32) {
    fill_uniform(out, stream, round);
    for i in 0..HALF {
        let radius = (-2.0 * math::ln(out[i])).sqrt();
        let Direction { cos, sin } = direction(out[HALF + i]);
        out[i] = radius * cos;
        out[HALF + i] = radius * sin;
    }
}

/// The words of one counter under one key, each in 64 bits of which the upper half is zero, without branches.
#[inline(always)]
fn words(counter: [u32; 4], key: [u32; 2]) -> [u64; 4] {
    const LOW: u64 = 0xffff_ffff;
    let mut words = counter.map(u64::from);
    let mut key = key.map(u64::from);
    for _ in 0..ROUNDS {
        let first = u64::from(MULTIPLIERS[0]) * (words[0] & LOW);
        let second = u64::from(MULTIPLIERS[1]) * (words[2] & LOW);
        words = [
            (second >> 32) ^ words[1] ^ key[0],
            second & LOW,
            (first >> 32) ^ words[3] ^ key[1],
            first & LOW,
        ];
        key = [
            (key[0] + u64::from(KEY_STEPS[0])) & LOW,
            (key[1] + u64::from(KEY_STEPS[1])) & LOW,
        ];
    }
    words
}

/// The middle of one of 2^52 equal steps between 0 and 1, by the upper 52 bits.
#[inline(always)]
fn middle(bits: u64) -> f64 {
    const STEP: f64 = 1.0 / TWO_52;
    // A whole number below 2^52 put into the fraction of 2^52 needs no conversion.
    let whole = f64::from_bits((bits >> 12) | TWO_52.to_bits()) - TWO_52;
    (whole + 0.5) * STEP
}

const TWO_52: f64 = 4_503_599_627_370_496.0;

/// Cosine and sine of an angle.
struct Direction {
    cos: f64,
    sin: f64,
}

/// Cosine and sine of a share of a full turn, 0 to 1, each within 2e-16; without branches, so that
/// it becomes vector code. The series are those of FreeBSD's msun (see `formula/math.rs`).
#[inline(always)]
fn direction(turn: f64) -> Direction {
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
    // A quarter of a turn is exact, and so is what is left of it.
    let quarters = 4.0 * turn + ROUNDER;
    let quadrant = quarters.to_bits();
    let x = (4.0 * turn - (quarters - ROUNDER)) * std::f64::consts::FRAC_PI_2;
    let z = x * x;
    let sin = x + x * z * (S[0] + z * (S[1] + z * (S[2] + z * (S[3] + z * (S[4] + z * S[5])))));
    let tail = z * z * (C[0] + z * (C[1] + z * (C[2] + z * (C[3] + z * (C[4] + z * C[5])))));
    let cos = 1.0 - (0.5 * z - tail);
    let swapped = quadrant & 1 == 1;
    let (c, s) = if swapped { (sin, cos) } else { (cos, sin) };
    // The cosine is negative in the second and third quarter, the sine in the third and fourth.
    let sign = |bits: u64| (bits & 2) << 62;
    Direction {
        cos: f64::from_bits(c.to_bits() ^ sign(quadrant + 1)),
        sin: f64::from_bits(s.to_bits() ^ sign(quadrant)),
    }
}

/// The draws of one cause in one block, of unit scale.
pub(super) struct Draw<'a> {
    pub(super) stream: Stream,
    pub(super) shape: Shape,
    pub(super) out: &'a mut [f64; WIDTH],
}

impl Job for Draw<'_> {
    #[inline(always)]
    fn run(self) {
        let Draw { stream, shape, out } = self;
        match shape {
            Shape::Normal => fill_normal(out, stream, 0),
            Shape::Rectangular => {
                fill_uniform(out, stream, 0);
                let sd = 3f64.sqrt();
                for value in out {
                    *value = sd * (2.0 * *value - 1.0);
                }
            }
            Shape::Triangular => {
                let mut others = [0.0; WIDTH];
                fill_uniform(out, stream, 0);
                fill_uniform(&mut others, stream, 1);
                let sd = 6f64.sqrt();
                for i in 0..HALF {
                    out[i] = sd * (out[i] + out[HALF + i] - 1.0);
                    out[HALF + i] = sd * (others[i] + others[HALF + i] - 1.0);
                }
            }
            Shape::Student { freedom } => students(out, stream, 0, freedom),
            Shape::Joined(one, other) => {
                let rounds = one.freedom.map_or(1, |freedom| freedom + 1);
                let mut others = [0.0; WIDTH];
                part(out, stream, 0, one);
                part(&mut others, stream, rounds, other);
                for (value, other) in out.iter_mut().zip(others) {
                    *value += other;
                }
            }
        }
    }
}

/// One part of a sum, from the rounds of the generator that start there.
#[inline(always)]
fn part(out: &mut [f64; WIDTH], stream: Stream, start: u32, part: Part) {
    match part.freedom {
        Some(freedom) => students(out, stream, start, freedom),
        None => fill_normal(out, stream, start),
    }
    for value in out {
        *value *= part.share;
    }
}

/// Normals over the root of a mean of `freedom` squared normals.
#[inline(always)]
fn students(out: &mut [f64; WIDTH], stream: Stream, start: u32, freedom: u32) {
    let mut squares = [0.0; WIDTH];
    for round in 1..=freedom {
        fill_normal(out, stream, start + round);
        for (square, value) in squares.iter_mut().zip(&*out) {
            *square += value * value;
        }
    }
    fill_normal(out, stream, start);
    let freedom = f64::from(freedom);
    for (value, square) in out.iter_mut().zip(squares) {
        *value /= (square / freedom).sqrt();
    }
}

/// The distribution that what was stated stands for (JCGM 101:2008 clause 6.4), by unit scale.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Shape {
    /// A standard or expanded uncertainty.
    Normal,
    /// Certain bounds.
    Rectangular,
    /// Certain bounds, the middle likelier.
    Triangular,
    /// The scatter of beats: scaled and shifted t.
    Student {
        /// Degrees of freedom.
        freedom: u32,
    },
    /// A sum of two, each with its part of the uncertainty.
    Joined(Part, Part),
}

/// A part of a sum.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Part {
    /// What it is multiplied by.
    pub(super) share: f64,
    /// Degrees of freedom of its t; a normal where `None`.
    pub(super) freedom: Option<u32>,
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::formula::simd::widest;

    #[test]
    fn words_are_those_of_the_generator() {
        let mut counter = [1u32, 2, 3, 4];
        for at in 0..1000u32 {
            counter = counter.map(|c| c.wrapping_mul(0x9E37_79B9).wrapping_add(at));
            let key = [counter[1] ^ 7, counter[2]];
            assert_eq!(words(counter, key), philox(counter, key).map(u64::from));
        }
    }

    #[test]
    fn directions_are_cosines_and_sines() {
        for at in 0..=100_000 {
            let turn = f64::from(at) / 100_000.0;
            let Direction { cos, sin } = direction(turn);
            // The angle itself is rounded once, by at most 4.4e-16.
            let angle = std::f64::consts::TAU * turn;
            assert!((cos - math::cos(angle)).abs() < 8e-16, "{turn}");
            assert!((sin - math::sin(angle)).abs() < 8e-16, "{turn}");
        }
    }

    fn joined(one: Option<u32>, other: Option<u32>) -> Shape {
        let [one, other] =
            [(0.6, one), (0.8, other)].map(|(share, freedom)| Part { share, freedom });
        Shape::Joined(one, other)
    }

    /// Moments of the unit shapes: mean 0, variance 1 (of t with 5 degrees of freedom: 5/3), and
    /// their fourth moments, each within five standard errors.
    #[test]
    fn shapes_have_their_moments() {
        let shapes = [
            (Shape::Normal, 1.0, 3.0),
            (Shape::Rectangular, 1.0, 1.8),
            (Shape::Triangular, 1.0, 2.4),
            (Shape::Student { freedom: 5 }, 5.0 / 3.0, 25.0),
            // 0.36 · 5/3 + 0.64 · 5/3; fourth: 0.6⁴ · 25 + 0.8⁴ · 25 + 6 · 0.36 · 0.64 · (5/3)².
            (joined(Some(5), Some(5)), 5.0 / 3.0, 17.32),
            // 0.36 · 5/3 + 0.64; fourth: 0.6⁴ · 25 + 0.8⁴ · 3 + 6 · 0.36 · 0.64 · 5/3.
            (joined(Some(5), None), 1.24, 6.7728),
        ];
        for (shape, variance, fourth) in shapes {
            let blocks = 400;
            let (mut sum, mut squares) = (0.0, 0.0);
            for block in 0..blocks {
                let mut out = [0.0; WIDTH];
                let stream = Stream {
                    seed: 11,
                    block,
                    cause: 0,
                };
                widest(Draw {
                    stream,
                    shape,
                    out: &mut out,
                });
                sum += out.iter().sum::<f64>();
                squares += out.iter().map(|x| x * x).sum::<f64>();
            }
            let n = f64::from(blocks) * WIDTH as f64;
            let error = (variance / n).sqrt();
            assert!((sum / n).abs() < 5.0 * error, "{shape:?}");
            let error = ((fourth - variance * variance) / n).sqrt();
            assert!((squares / n - variance).abs() < 5.0 * error, "{shape:?}");
        }
    }
}
