//! The ten formulas of an exam over many rows in memory, beside a loop written by hand: `cargo
//! bench --no-default-features --bench lanes`. One thread.
//!
//! `lanes 5 1000000` runs 5 rounds over that many rows.

#![allow(missing_docs, reason = "a program, not a library")]
#![allow(clippy::print_stdout, reason = "its figures are its output")]
#![allow(clippy::unwrap_used, reason = "nothing here is a user's input")]

mod exam_columns;
mod exam_lines;
mod fused;
mod spread;

use std::num::NonZeroUsize;
use std::time::Instant;

use exam_columns::{INPUTS, OUTPUTS};
use exam_lines::{READINGS, TEN_FORMULAS};
use fused::Powers;
use semilunar::formula::CellId;
use semilunar::sheet::{Calculation, Column, Computed, Sheet};
use spread::Spread;

/// Columns of numbers; every row is measured and known.
pub type Columns = Vec<Vec<f64>>;

/// A way to compute the outputs from the inputs.
type Way = (&'static str, Box<dyn Fn(&Columns, &mut [Computed])>);

fn main() {
    // Cargo adds `--bench`.
    let numbers: Vec<usize> = std::env::args()
        .skip(1)
        .filter_map(|argument| argument.parse().ok())
        .collect();
    let rounds = numbers.first().copied().unwrap_or(7);
    println!("instructions: {}", fused::instructions());
    match numbers.get(1) {
        Some(rows) => race(*rows, rounds),
        None => [1_000_000, 10_000_000]
            .into_iter()
            .for_each(|rows| race(rows, rounds)),
    }
}

fn race(rows: usize, rounds: usize) {
    let inputs = invented_rows(rows);
    let mut outputs = vec![Computed::default(); OUTPUTS.len()];
    for output in &mut outputs {
        output.numbers.make_room(rows);
    }
    let ways: [Way; 4] = [
        ("sheet, ten formulas", Box::new(over_columns(TEN_FORMULAS))),
        (
            "by hand, the same powers",
            Box::new(|i, o| fused::run(Powers::Two, i, numbers(o))),
        ),
        (
            "by hand, one logarithm each",
            Box::new(|i, o| fused::run(Powers::ThroughLogarithms, i, numbers(o))),
        ),
        (
            "sheet, the catalogue's ten",
            Box::new(over_columns("use hemodynamics")),
        ),
    ];
    let mut times = vec![Vec::new(); ways.len()];
    let mut sums = vec![0.0; ways.len()];
    for _ in 0..rounds {
        for (i, (_, compute)) in ways.iter().enumerate() {
            let start = Instant::now();
            compute(&inputs, &mut outputs);
            times[i].push(start.elapsed().as_secs_f64() / rows as f64 * 1e9);
            sums[i] = outputs.iter().flat_map(|o| &o.numbers).sum();
        }
    }
    // The last is the catalogue, whose formulas also ask about findings and bounds, and so leave
    // some of these rows out.
    let compared = &sums[..3];
    assert!(
        compared
            .iter()
            .all(|sum: &f64| (sum / sums[0] - 1.0).abs() < 1e-12),
        "sums: {compared:?}"
    );
    println!("ten formulas over {rows} rows");
    let spreads: Vec<Spread> = times.into_iter().map(Spread::of).collect();
    for ((name, _), spread) in ways.iter().zip(&spreads) {
        println!(
            "  {name:<28} {:>7.2} ns a row [{:.2} .. {:.2}]   ours takes {:.2} of it",
            spread.median,
            spread.least,
            spread.greatest,
            spreads[0].median / spread.median,
        );
    }
}

/// Numbers of a plausible size, no two rows near each other alike.
fn invented_rows(rows: usize) -> Columns {
    let ranges = [
        (1.6, 2.6),
        (10.0, 30.0),
        (45.0, 140.0),
        (145.0, 200.0),
        (40.0, 140.0),
        (85.0, 190.0),
        (40.0, 84.0),
        (0.0, 20.0),
    ];
    let column = |(at, (low, high)): (usize, (f64, f64))| {
        let step = 0.618_033_988_749_894_9 * (at + 1) as f64;
        (0..rows)
            .map(|row| low + (high - low) * (row as f64 * step).fract())
            .collect()
    };
    ranges.into_iter().enumerate().map(column).collect()
}

/// The sheet over columns.
fn over_columns(formulas: &str) -> impl Fn(&Columns, &mut [Computed]) + use<> {
    let sheet = Sheet::read(&format!("{formulas}\n{READINGS}"))
        .unwrap()
        .sheet;
    let cells = |names: &[&str]| -> Vec<CellId> {
        names.iter().map(|name| sheet.cell(name).unwrap()).collect()
    };
    let calculation = Calculation::new(&sheet, &cells(&INPUTS), &cells(&OUTPUTS)).unwrap();
    move |inputs, outputs| {
        let columns: Vec<Column<'_>> = inputs.iter().map(|numbers| Column::of(numbers)).collect();
        calculation.run(&columns, outputs, NonZeroUsize::MIN);
    }
}

/// Where a loop by hand puts its numbers.
fn numbers(outputs: &mut [Computed]) -> [&mut [f64]; OUTPUTS.len()] {
    let mut outputs = outputs.iter_mut();
    std::array::from_fn(|_| &mut *outputs.next().unwrap().numbers)
}
