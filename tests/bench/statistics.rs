//! Areas under a curve and their resampling beside loops written by hand: `cargo bench --no-default-features --features statistics --bench statistics`.
//! One thread.
//!
//! `statistics 7` runs 7 rounds. What both ways find is compared.

#![allow(missing_docs, reason = "a program, not a library")]
#![allow(clippy::print_stdout, reason = "its figures are its output")]
#![allow(clippy::unwrap_used, reason = "nothing here is a user's input")]

mod spread;

use std::hint::black_box;
use std::num::NonZeroUsize;
use std::time::Instant;

use semilunar::statistics::Bootstrap;
use semilunar::statistics::roc::{Direction, RocSample, area, area_bootstrap};
use spread::Spread;

/// A result in two numbers, which both ways must agree on.
type Pair = (f64, f64);

fn main() {
    // Cargo adds `--bench`.
    let mut numbers = std::env::args().skip(1).filter_map(|a| a.parse().ok());
    let rounds: usize = numbers.next().unwrap_or(9);
    let (scores, positive) = invented(1_000_000);
    race(
        "area with DeLong, 10^6 scores",
        rounds,
        1e-9,
        || {
            let sample = RocSample::new(&scores, &positive, Direction::HigherIsPositive).unwrap();
            let found = area(&sample, 0.95).unwrap();
            (found.value, found.standard_error)
        },
        || by_hand(&scores, &positive),
    );
    let (scores, positive) = invented(10_000);
    let bootstrap = Bootstrap {
        threads: NonZeroUsize::new(1),
        ..Bootstrap::seeded(1)
    };
    race(
        "2,000 resamples of the area of 10,000 scores",
        rounds,
        // Other draws: the ends of the intervals agree as far as 2,000 resamples settle them.
        2e-3,
        || {
            let sample = RocSample::new(&scores, &positive, Direction::HigherIsPositive).unwrap();
            let found = area_bootstrap(&sample, None, 0.95, &bootstrap).unwrap();
            (found.interval.lower, found.interval.upper)
        },
        || resampled_by_hand(&scores, &positive, 2000),
    );
}

fn race(
    what: &str,
    rounds: usize,
    within: f64,
    ours: impl Fn() -> Pair,
    by_hand: impl Fn() -> Pair,
) {
    let ((a, b), (c, d)) = (ours(), by_hand());
    let is_near = |a: f64, b: f64| (a / b - 1.0).abs() < within;
    assert!(
        is_near(a, c) && is_near(b, d),
        "{what}: {a} {b}, by hand {c} {d}"
    );
    let (mut of_ours, mut of_hand) = (Vec::new(), Vec::new());
    for _ in 0..rounds {
        of_ours.push(timed(&ours));
        of_hand.push(timed(&by_hand));
    }
    for (name, times) in [("ours", of_ours), ("by hand", of_hand)] {
        let spread = Spread::of(times);
        println!(
            "{what}, {name}: {:.1} ms ({:.1} to {:.1})",
            spread.median, spread.least, spread.greatest
        );
    }
}

fn timed<T>(work: impl Fn() -> T) -> f64 {
    let start = Instant::now();
    black_box(work());
    1000.0 * start.elapsed().as_secs_f64()
}

/// Whole numbers that look random, by the generator of Steele, Lea & Flood 2014 (SplitMix64).
struct Draws(u64);

impl Draws {
    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        z ^ (z >> 31)
    }

    fn share(&mut self) -> f64 {
        self.next() as f64 / u64::MAX as f64
    }
}

/// Invented scores, higher where the class is positive.
fn invented(count: usize) -> (Vec<f64>, Vec<bool>) {
    let mut draws = Draws(1);
    let positive: Vec<bool> = (0..count).map(|_| draws.share() < 0.5).collect();
    let scores = positive
        .iter()
        .map(|p| draws.share() + draws.share() + if *p { 0.4 } else { 0.0 })
        .collect();
    (scores, positive)
}

/// The 2.5 and 97.5 % points of resampled areas: places among all scores, how often each is drawn, one walk. Scores that are all different.
fn resampled_by_hand(scores: &[f64], positive: &[bool], resamples: usize) -> Pair {
    let mut order: Vec<u32> = (0..scores.len() as u32).collect();
    order.sort_unstable_by(|a, b| scores[*a as usize].total_cmp(&scores[*b as usize]));
    let places = |wanted: bool| -> Vec<u32> {
        let all = order.iter().enumerate();
        let own = all.filter(|(_, index)| positive[**index as usize] == wanted);
        own.map(|(place, _)| place as u32).collect()
    };
    let (cases, controls) = (places(true), places(false));
    let (mut of_cases, mut of_controls) = (vec![0_u32; scores.len()], vec![0_u32; scores.len()]);
    let mut draws = Draws(7);
    let mut draw = |counts: &mut [u32], places: &[u32]| {
        counts.fill(0);
        for _ in 0..places.len() {
            let at = ((draws.next() >> 32) * places.len() as u64) >> 32;
            counts[places[at as usize] as usize] += 1;
        }
    };
    let mut areas: Vec<f64> = (0..resamples)
        .map(|_| {
            draw(&mut of_cases, &cases);
            draw(&mut of_controls, &controls);
            let (mut below, mut wins) = (0_u64, 0_u64);
            for (case, control) in of_cases.iter().zip(&of_controls) {
                wins += u64::from(*case) * below;
                below += u64::from(*control);
            }
            wins as f64 / (cases.len() * controls.len()) as f64
        })
        .collect();
    areas.sort_unstable_by(f64::total_cmp);
    let at = |share: f64| areas[(share * (resamples - 1) as f64) as usize];
    (at(0.025), at(0.975))
}

/// Area and standard error: the class in the lowest bit of the score, one sort, one walk. No checks, scores above zero.
fn by_hand(scores: &[f64], positive: &[bool]) -> Pair {
    // Bits of numbers above zero rise as the numbers do, and their sign's bit is free.
    let pairs = scores.iter().zip(positive);
    let mut keys: Vec<u64> = pairs
        .map(|(score, is_case)| score.to_bits() << 1 | u64::from(*is_case))
        .collect();
    keys.sort_unstable();
    let m = positive.iter().filter(|p| **p).count() as f64;
    let n = keys.len() as f64 - m;
    let (mut cases, mut controls) = (Sums::default(), Sums::default());
    let (mut cases_below, mut controls_below, mut at) = (0_usize, 0_usize, 0);
    while at < keys.len() {
        let (mut cases_here, mut controls_here) = (0_usize, 0_usize);
        let score = keys[at] >> 1;
        while at < keys.len() && keys[at] >> 1 == score {
            cases_here += (keys[at] & 1) as usize;
            controls_here += (!keys[at] & 1) as usize;
            at += 1;
        }
        cases.add(
            cases_here,
            controls_below as f64 + 0.5 * controls_here as f64,
        );
        controls.add(controls_here, cases_below as f64 + 0.5 * cases_here as f64);
        cases_below += cases_here;
        controls_below += controls_here;
    }
    let variance = cases.variance_of_mean(m, n) + controls.variance_of_mean(n, m);
    (cases.sum / (m * n), variance.sqrt())
}

/// How many of the others each observation of a class beats, ties one half.
#[derive(Default)]
struct Sums {
    sum: f64,
    squares: f64,
}

impl Sums {
    fn add(&mut self, count: usize, beaten: f64) {
        self.sum += count as f64 * beaten;
        self.squares += count as f64 * beaten * beaten;
    }

    fn variance_of_mean(&self, own: f64, others: f64) -> f64 {
        let mean = self.sum / (own * others);
        (self.squares / (others * others) - own * mean * mean) / (own - 1.0) / own
    }
}
