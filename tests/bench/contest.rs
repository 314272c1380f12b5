//! Timing several implementations of one task beside each other.

use std::hint::black_box;
use std::time::Instant;

use crate::spread::Spread;

/// One implementation of a task. `edits` performs that many edits, reads after each, and gives
/// the sum of what it read; it goes on where the last call stopped.
pub struct Runner {
    pub name: &'static str,
    pub edits: Box<dyn FnMut(usize) -> f64>,
}

impl Runner {
    pub fn new(name: &'static str, edits: impl FnMut(usize) -> f64 + 'static) -> Runner {
        Runner {
            name,
            edits: Box::new(edits),
        }
    }
}

/// A task with its implementations. The first is ours, the others are compared with it.
pub struct Case {
    pub name: &'static str,
    pub runners: Vec<Runner>,
    /// How far the sums may differ, relative: 0 where all do the same arithmetic.
    pub tolerance: f64,
}

/// Seconds that one implementation runs before the next has its turn.
const TURN: f64 = 0.02;

/// Edits that the sums are compared over.
const COMPARED: usize = 200;

/// Runs all implementations in turns and prints nanoseconds an edit.
pub fn race(mut case: Case, rounds: usize) {
    compare_sums(&mut case);
    let counts: Vec<usize> = case.runners.iter_mut().map(edits_in_a_turn).collect();
    let mut times: Vec<Vec<f64>> = vec![Vec::new(); case.runners.len()];
    for _ in 0..rounds {
        for ((runner, count), times) in case.runners.iter_mut().zip(&counts).zip(&mut times) {
            times.push(seconds(runner, *count) / *count as f64 * 1e9);
        }
    }
    let spreads: Vec<Spread> = times.into_iter().map(Spread::of).collect();
    println!("{}", case.name);
    for (runner, spread) in case.runners.iter().zip(&spreads) {
        println!(
            "  {:<28} {:>12.1} ns [{:.1} .. {:.1}]   ours takes {:.2} of it",
            runner.name,
            spread.median,
            spread.least,
            spread.greatest,
            spreads[0].median / spread.median,
        );
    }
}

fn compare_sums(case: &mut Case) {
    let expected = (case.runners[0].edits)(COMPARED);
    for runner in &mut case.runners[1..] {
        let sum = (runner.edits)(COMPARED);
        assert!(
            (sum - expected).abs() <= case.tolerance * expected.abs(),
            "{}: {} read {sum}, ours read {expected}",
            case.name,
            runner.name
        );
    }
}

fn edits_in_a_turn(runner: &mut Runner) -> usize {
    let mut count = 16;
    loop {
        let spent = seconds(runner, count);
        if spent > TURN / 2.0 {
            return ((count as f64 * TURN / spent) as usize).max(1);
        }
        count *= 2;
    }
}

fn seconds(runner: &mut Runner, count: usize) -> f64 {
    let start = Instant::now();
    black_box((runner.edits)(count));
    start.elapsed().as_secs_f64()
}
