//! Areas under a curve beside loops written by hand: `cargo bench --no-default-features --features statistics --bench statistics`.
//! One thread.
//!
//! `statistics 7` runs 7 rounds. The checksums of both ways are compared.

#![allow(missing_docs, reason = "a program, not a library")]
#![allow(clippy::print_stdout, reason = "its figures are its output")]
#![allow(clippy::unwrap_used, reason = "nothing here is a user's input")]

mod spread;

use std::hint::black_box;
use std::time::Instant;

use semilunar::statistics::roc::{Direction, RocSample, area};
use spread::Spread;

fn main() {
    // Cargo adds `--bench`.
    let mut numbers = std::env::args().skip(1).filter_map(|a| a.parse().ok());
    let rounds: usize = numbers.next().unwrap_or(9);
    let (scores, positive) = invented(1_000_000);
    let ours = || {
        let sample = RocSample::new(&scores, &positive, Direction::HigherIsPositive).unwrap();
        let found = area(&sample, 0.95).unwrap();
        (found.value, found.standard_error)
    };
    let by_hand = || by_hand(&scores, &positive);
    let ((a, b), (c, d)) = (ours(), by_hand());
    assert!(
        (a - c).abs() < 1e-12 && (b / d - 1.0).abs() < 1e-9,
        "{a} {b} {c} {d}"
    );
    let (mut of_ours, mut of_hand) = (Vec::new(), Vec::new());
    for _ in 0..rounds {
        of_ours.push(timed(ours));
        of_hand.push(timed(by_hand));
    }
    for (name, times) in [("ours", of_ours), ("by hand", of_hand)] {
        let spread = Spread::of(times);
        println!(
            "area with DeLong, 10^6 scores, {name}: {:.1} ms ({:.1} to {:.1})",
            spread.median, spread.least, spread.greatest
        );
    }
}

fn timed<T>(work: impl Fn() -> T) -> f64 {
    let start = Instant::now();
    black_box(work());
    1000.0 * start.elapsed().as_secs_f64()
}

/// Invented scores, higher where the class is positive, by a generator of Steele, Lea & Flood 2014 (SplitMix64).
fn invented(count: usize) -> (Vec<f64>, Vec<bool>) {
    let mut state = 1_u64;
    let mut share = || {
        state = state.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = state;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        (z ^ (z >> 31)) as f64 / u64::MAX as f64
    };
    let positive: Vec<bool> = (0..count).map(|_| share() < 0.5).collect();
    let scores = positive
        .iter()
        .map(|p| share() + share() + if *p { 0.4 } else { 0.0 })
        .collect();
    (scores, positive)
}

/// Area and standard error: both classes sorted, then one walk through them together. No checks, scores above zero.
fn by_hand(scores: &[f64], positive: &[bool]) -> (f64, f64) {
    let of_class = |wanted: bool| {
        let pairs = scores.iter().zip(positive).filter(|(_, p)| **p == wanted);
        // Bits of numbers above zero rise as the numbers do.
        let mut keys: Vec<u64> = pairs.map(|(score, _)| score.to_bits()).collect();
        keys.sort_unstable();
        keys
    };
    let (cases, controls) = (of_class(true), of_class(false));
    let (m, n) = (cases.len() as f64, controls.len() as f64);
    let (wins, win_squares) = placements(&cases, &controls);
    let (losses, loss_squares) = placements(&controls, &cases);
    let area = wins / (m * n);
    let of_cases = (win_squares / (n * n) - m * area * area) / (m - 1.0) / m;
    let beaten = losses / (m * n);
    let of_controls = (loss_squares / (m * m) - n * beaten * beaten) / (n - 1.0) / n;
    (area, (of_cases + of_controls).sqrt())
}

/// How many of the others each beats, ties one half: the sum, and the sum of squares.
fn placements(own: &[u64], others: &[u64]) -> (f64, f64) {
    let (mut below, mut equal) = (0, 0);
    let (mut sum, mut squares) = (0.0, 0.0);
    for key in own {
        while below < others.len() && others[below] < *key {
            below += 1;
        }
        equal = equal.max(below);
        while equal < others.len() && others[equal] == *key {
            equal += 1;
        }
        let beaten = 0.5 * (below + equal) as f64;
        sum += beaten;
        squares += beaten * beaten;
    }
    (sum, squares)
}
