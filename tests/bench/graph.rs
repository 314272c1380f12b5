//! The sheet beside a graph written by hand and beside a general crate: `cargo bench
//! --no-default-features --bench graph`. Measures nothing but time and memory; that all give the
//! same numbers is checked on the way.
//!
//! `graph 31` runs 31 rounds, `graph 31 exam` only the cases whose name holds the word.

#![allow(missing_docs, reason = "a program, not a library")]
#![allow(clippy::print_stdout, reason = "its figures are its output")]
#![allow(clippy::unwrap_used, reason = "nothing here is a user's input")]

mod cases;
mod contest;
mod exam_lines;
mod peers;
mod spread;

use cases::{chain, cutoff, exam, fan, million};
use contest::race;

fn main() {
    // Cargo adds `--bench`.
    let arguments: Vec<String> = std::env::args()
        .skip(1)
        .filter(|argument| !argument.starts_with("--"))
        .collect();
    match arguments.first().map(String::as_str) {
        Some(million::ALONE) => million::alone(&arguments[1]),
        rounds => {
            let rounds = rounds.and_then(|text| text.parse().ok()).unwrap_or(15);
            let word = arguments.get(1).map_or("", String::as_str);
            // Long chains are dropped by recursion in one of the peers.
            let all = std::thread::Builder::new().stack_size(1 << 30);
            let word = word.to_owned();
            all.spawn(move || run(rounds, &word))
                .unwrap()
                .join()
                .unwrap();
        }
    }
}

fn run(rounds: usize, word: &str) {
    for case in [
        exam::case,
        chain::case,
        fan::case,
        cutoff::stopped,
        cutoff::passed,
    ] {
        let case = case();
        if case.name.contains(word) {
            race(case, rounds);
        }
    }
    if "a million cells".contains(word) {
        million::race(rounds.min(7));
    }
}
