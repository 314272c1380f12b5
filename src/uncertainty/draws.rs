//! Random draws by counter: the same on every machine and any number of threads.
//!
//! Philox4x32-10 (Salmon, Moraes, Dror & Shaw, "Parallel random numbers: as easy as 1, 2, 3",
//! SC11). The counter names the block, the cause and the lane, so each draw can be made alone.
//! Not for cryptography.

use crate::formula::math;

const ROUNDS: usize = 10;
const MULTIPLIERS: [u32; 2] = [0xD251_1F53, 0xCD9E_8D57];
const KEY_STEPS: [u32; 2] = [0x9E37_79B9, 0xBB67_AE85];

/// The words of one counter under one key.
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

/// What the draws of one cause in one block are made from.
#[derive(Clone, Copy)]
pub(super) struct Stream {
    pub(super) seed: u64,
    pub(super) block: u32,
    pub(super) cause: u32,
}

impl Stream {
    /// Two uniforms strictly between 0 and 1: the middles of 2^52 equal steps.
    #[inline]
    fn pair(self, draw: u32, round: u32) -> (f64, f64) {
        const STEP: f64 = 1.0 / 4_503_599_627_370_496.0;
        let key = [self.seed as u32, (self.seed >> 32) as u32];
        let [a, b, c, d] = philox([draw, round, self.block, self.cause], key);
        let unit = |high: u32, low: u32| {
            let bits = (u64::from(high) << 32 | u64::from(low)) >> 12;
            (bits as f64 + 0.5) * STEP
        };
        (unit(a, b), unit(c, d))
    }

    /// Standard normals for even and odd draws in turn (Box and Muller).
    #[inline]
    fn normals(self, draw: u32, round: u32) -> (f64, f64) {
        let (u, v) = self.pair(draw, round);
        let radius = (-2.0 * math::ln(u)).sqrt();
        let angle = std::f64::consts::TAU * v;
        (radius * math::cos(angle), radius * math::sin(angle))
    }

    /// Fills `out` with draws of unit scale.
    pub(super) fn fill(self, shape: Shape, out: &mut [f64]) {
        for (pair, slots) in out.chunks_mut(2).enumerate() {
            let draw = pair as u32;
            let (a, b) = match shape {
                Shape::Normal => self.normals(draw, 0),
                Shape::Rectangular => {
                    let (u, v) = self.pair(draw, 0);
                    let sd = 3f64.sqrt();
                    (sd * (2.0 * u - 1.0), sd * (2.0 * v - 1.0))
                }
                Shape::Triangular => {
                    let ((u, v), (x, y)) = (self.pair(draw, 0), self.pair(draw, 1));
                    let sd = 6f64.sqrt();
                    (sd * (u + v - 1.0), sd * (x + y - 1.0))
                }
                Shape::Student { freedom } => self.students(draw, freedom),
            };
            for (slot, value) in slots.iter_mut().zip([a, b]) {
                *slot = value;
            }
        }
    }

    /// A normal over the root of a mean of `freedom` squared normals.
    fn students(self, draw: u32, freedom: u32) -> (f64, f64) {
        let (a, b) = self.normals(draw, 0);
        let (mut x, mut y) = (0.0, 0.0);
        for round in 1..=freedom {
            let (p, q) = self.normals(draw, round);
            x += p * p;
            y += q * q;
        }
        let freedom = f64::from(freedom);
        (a / (x / freedom).sqrt(), b / (y / freedom).sqrt())
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
}
