//! A cohort beside hand-written Polars: in memory, and from file to file. `cargo bench --features
//! peer --bench cohort`.
//!
//! `cohort memory 5 10000000` runs 5 rounds over that many rows in memory, `cohort files 3 4000000`
//! from Parquet and from comma-separated values to Parquet, `cohort checks 5 2000000` tells what checking
//! the rows of a clean table costs. Whoever reads and writes files does so
//! in a process of its own, so that its peak of memory is its own.

#![allow(missing_docs, reason = "a program, not a library")]
#![allow(clippy::print_stdout, reason = "its figures are its output")]
#![allow(clippy::unwrap_used, reason = "nothing here is a user's input")]

#[path = "cohort/checks.rs"]
mod checks;
#[path = "cohort/columns.rs"]
mod columns;
mod exam_columns;
mod exam_lines;
#[path = "cohort/files.rs"]
mod files;
#[allow(dead_code, reason = "shared with another benchmark")]
mod fused;
#[path = "cohort/memory.rs"]
mod memory;
#[path = "cohort/peer.rs"]
mod peer;
#[allow(dead_code, reason = "shared with another benchmark")]
mod spread;

/// Columns of numbers.
pub type Columns = Vec<Vec<f64>>;

fn main() {
    // Cargo adds `--bench`.
    let arguments: Vec<String> = std::env::args()
        .skip(1)
        .filter(|argument| !argument.starts_with("--"))
        .collect();
    let number = |at: usize, usual: usize| {
        let given = arguments.get(at).and_then(|a| a.parse().ok());
        given.unwrap_or(usual)
    };
    println!("instructions: {}", fused::instructions());
    match arguments.first().map(String::as_str) {
        Some("memory") => memory::race(number(1, 5), number(2, 10_000_000)),
        Some("files") => files::race(number(1, 3), number(2, 4_000_000)),
        Some("checks") => checks::race(number(1, 5), number(2, 2_000_000)),
        // A process of its own, started by `files`.
        Some("one") => files::one(&arguments[1..]),
        _ => {
            memory::race(5, 10_000_000);
            files::race(3, 4_000_000);
            checks::race(5, 2_000_000);
        }
    }
}
