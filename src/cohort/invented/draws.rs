//! Random draws that are the same on every machine.
//!
//! Philox4x32-10, a counter-based generator (Salmon, Moraes, Dror & Shaw, "Parallel random numbers: as easy as 1, 2, 3", SC11): whole numbers only, so
//! no CPU can round it differently. The key is the seed; the counter names whose draws these are (topic and subject) and how many came before. Each
//! patient therefore has draws of its own: one patient more, or one draw more in another patient, changes nothing here. Not for cryptography.

use crate::uncertainty::philox;
use libm::{cos, exp, log};

/// What a stream of draws is for; part of the counter, so the numbers are part of the file format of the bundled cohorts.
#[derive(Clone, Copy)]
pub(super) enum Topic {
    Body = 1,
    Course = 2,
    Operator = 3,
    Faults = 4,
}

/// One stream of draws: a seed, a topic and a subject.
pub(super) struct Draws {
    key: [u32; 2],
    topic: u32,
    subject: u32,
    next_block: u64,
    block: [u32; 4],
    unread: usize,
}

impl Draws {
    pub(super) fn new(seed: u64, topic: Topic, subject: u32) -> Self {
        Self {
            key: [low_half(seed), high_half(seed)],
            topic: topic as u32,
            subject,
            next_block: 0,
            block: [0; 4],
            unread: 0,
        }
    }

    fn word(&mut self) -> u32 {
        if self.unread == 0 {
            self.block = philox(
                [
                    low_half(self.next_block),
                    high_half(self.next_block),
                    self.subject,
                    self.topic,
                ],
                self.key,
            );
            self.next_block += 1;
            self.unread = 4;
        }
        let word = self.block[4 - self.unread];
        self.unread -= 1;
        word
    }

    /// Uniform between 0 and 1, neither of them included: the middles of 2^52 equal steps, all exact in an `f64`.
    pub(super) fn uniform(&mut self) -> f64 {
        const STEPS: f64 = 4_503_599_627_370_496.0; // 2^52
        let bits = (u64::from(self.word()) << 32) | u64::from(self.word());
        ((bits >> 12) as f64 + 0.5) / STEPS
    }

    pub(super) fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.uniform()
    }

    /// Standard normal, by Box and Muller's cosine; the sine is not used, so that each draw costs the same number of words.
    pub(super) fn normal(&mut self) -> f64 {
        let radius = (-2.0 * log(self.uniform())).sqrt();
        radius * cos(2.0 * std::f64::consts::PI * self.uniform())
    }

    /// A factor whose logarithm is normal around zero: noise that cannot turn a length negative.
    pub(super) fn factor(&mut self, spread: f64) -> f64 {
        exp(spread * self.normal())
    }

    pub(super) fn chance(&mut self, probability: f64) -> bool {
        self.uniform() < probability
    }

    /// A whole number below `count`; zero when there is nothing to choose from.
    pub(super) fn below(&mut self, count: usize) -> usize {
        ((self.uniform() * count as f64) as usize).min(count.saturating_sub(1))
    }
}

fn low_half(number: u64) -> u32 {
    number as u32
}

fn high_half(number: u64) -> u32 {
    (number >> 32) as u32
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Known answers of philox4x32-10 for three counters and keys (zeros, ones, digits of pi), published with the generator's paper; the Python package
    /// randomgen 2.5.1, `Philox(counter, key, number=4, width=32).random_raw(4)`, gives the same words.
    #[test]
    fn philox_gives_the_published_words() {
        assert_eq!(
            philox([0; 4], [0; 2]),
            [0x6627_e8d5, 0xe169_c58d, 0xbc57_ac4c, 0x9b00_dbd8]
        );
        assert_eq!(
            philox([u32::MAX; 4], [u32::MAX; 2]),
            [0x408f_276d, 0x41c8_3b0e, 0xa20b_c7c6, 0x6d54_51fd]
        );
        assert_eq!(
            philox(
                [0x243f_6a88, 0x85a3_08d3, 0x1319_8a2e, 0x0370_7344],
                [0xa409_3822, 0x299f_31d0]
            ),
            [0xd16c_fe09, 0x94fd_cceb, 0x5001_e420, 0x2412_6ea1]
        );
    }

    #[test]
    fn uniform_stays_inside_and_normal_has_the_moments_of_a_normal() {
        let mut draws = Draws::new(7, Topic::Body, 0);
        let count = 20_000;
        let (mut sum, mut squares, mut beyond) = (0.0, 0.0, 0);
        for _ in 0..count {
            let flat = draws.uniform();
            assert!(flat > 0.0 && flat < 1.0);
            let normal = draws.normal();
            sum += normal;
            squares += normal * normal;
            beyond += usize::from(normal.abs() > 1.96);
        }
        let count = f64::from(count);
        assert!((sum / count).abs() < 4.0 / count.sqrt());
        assert!((squares / count - 1.0).abs() < 4.0 * (2.0 / count).sqrt());
        // 5.0 % of a normal lie beyond 1.96 standard deviations; four standard errors of that share.
        assert!((beyond as f64 / count - 0.05).abs() < 4.0 * (0.05 * 0.95 / count).sqrt());
    }

    #[test]
    fn streams_of_another_subject_topic_or_seed_differ() {
        let first = |mut draws: Draws| draws.word();
        let base = first(Draws::new(7, Topic::Body, 0));
        assert_ne!(base, first(Draws::new(7, Topic::Body, 1)));
        assert_ne!(base, first(Draws::new(7, Topic::Course, 0)));
        assert_ne!(base, first(Draws::new(8, Topic::Body, 0)));
        assert_eq!(base, first(Draws::new(7, Topic::Body, 0)));
    }
}
