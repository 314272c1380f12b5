//! A million cells of two operands over 1,000 inputs, in ten layers: built and evaluated, with
//! the memory they take. Each run is a process of its own, so that memory is counted cleanly.

use std::process::Command;
use std::time::Instant;

use incremental::{Incr, IncrState};
use semilunar::formula::typed::{Handle, Number};
use semilunar::sheet::Sheet;

use super::{formula, inputs};
use crate::peers::arena::Arena;
use crate::spread::Spread;

const CELLS: usize = 1_000_000;
const LAYER: usize = 100_000;
const INPUTS: usize = 1_000;

/// The argument that makes this program one run of one builder.
pub const ALONE: &str = "million";

/// What builds a million cells, by name. It gives the sum of all values.
type Builder = (&'static str, fn(&Meter) -> f64);

const BUILDERS: [Builder; 4] = [
    ("sheet, add_formula", with_formulas),
    ("sheet, typed face", with_types),
    ("arena by hand", with_arena),
    ("incremental", with_incremental),
];

/// Stops the clock and weighs the memory while all cells are still there.
struct Meter {
    start: Instant,
    before: f64,
}

impl Meter {
    fn new() -> Meter {
        Meter {
            before: resident_bytes(),
            start: Instant::now(),
        }
    }

    fn done(&self) {
        let seconds = self.start.elapsed().as_secs_f64();
        let bytes = (resident_bytes() - self.before) / CELLS as f64;
        println!("{seconds} {bytes}");
    }
}

/// Resident memory of this process: pages of 4 KiB, as Linux counts them on x86-64.
fn resident_bytes() -> f64 {
    let pages = std::fs::read_to_string("/proc/self/statm").unwrap_or_default();
    let resident = pages.split_whitespace().nth(1).map(str::parse::<f64>);
    resident.and_then(Result::ok).unwrap_or(f64::NAN) * 4096.0
}

/// One builder, alone in its process: prints seconds, bytes a cell, sum.
pub fn alone(name: &str) {
    let (_, build) = BUILDERS.iter().find(|(n, _)| *n == name).unwrap();
    println!("{}", build(&Meter::new()));
}

/// All builders, in turns.
pub fn race(rounds: usize) {
    let program = std::env::current_exe().unwrap();
    let mut seconds = vec![Vec::new(); BUILDERS.len()];
    let mut bytes = vec![0.0; BUILDERS.len()];
    let mut sums = vec![0.0; BUILDERS.len()];
    for _ in 0..rounds {
        for (i, (name, _)) in BUILDERS.iter().enumerate() {
            let output = Command::new(&program).args([ALONE, name]).output().unwrap();
            let text = String::from_utf8(output.stdout).unwrap();
            let numbers: Vec<f64> = text
                .split_whitespace()
                .map(|number| number.parse().unwrap())
                .collect();
            seconds[i].push(numbers[0]);
            bytes[i] = numbers[1];
            sums[i] = numbers[2];
        }
    }
    assert!(sums.iter().all(|sum| *sum == sums[0]), "sums: {sums:?}");
    println!("a million cells built and evaluated");
    for (((name, _), seconds), bytes) in BUILDERS.iter().zip(seconds).zip(bytes) {
        let spread = Spread::of(seconds);
        println!(
            "  {name:<28} {:>8.3} s [{:.3} .. {:.3}]   {bytes:.0} bytes a cell",
            spread.median, spread.least, spread.greatest
        );
    }
}

/// The two operands of cell `i`: the cell one layer below, or an input; and an input.
fn operands<C: Copy>(inputs: &[C], cells: &[C], i: usize) -> [C; 2] {
    let below = match i.checked_sub(LAYER) {
        Some(below) => cells[below],
        None => inputs[i % INPUTS],
    };
    [below, inputs[(i * 7) % INPUTS]]
}

fn numbers() -> impl Iterator<Item = f64> {
    (0..INPUTS).map(|i| i as f64)
}

fn with_formulas(meter: &Meter) -> f64 {
    let mut sheet = Sheet::new();
    let sum = formula("a + b");
    let inputs = inputs(&mut sheet, numbers());
    let mut cells = Vec::with_capacity(CELLS);
    for i in 0..CELLS {
        let operands = operands(&inputs, &cells, i);
        cells.push(sheet.add_formula(sum.clone(), &operands, None).unwrap());
    }
    meter.done();
    cells.iter().map(|cell| sheet.value(*cell).unwrap()).sum()
}

fn with_types(meter: &Meter) -> f64 {
    let mut sheet = Sheet::new();
    let mut inputs: Vec<Handle<Number>> = Vec::new();
    for value in numbers() {
        let input = sheet.input("1").unwrap();
        sheet.put(input, value, "1").unwrap();
        inputs.push(input);
    }
    let mut cells: Vec<Handle<Number>> = Vec::with_capacity(CELLS);
    for i in 0..CELLS {
        let [a, b] = operands(&inputs, &cells, i);
        cells.push(sheet.define(a + b, "1").unwrap());
    }
    meter.done();
    cells
        .iter()
        .map(|cell| sheet.value(cell.id()).unwrap())
        .sum()
}

fn with_arena(meter: &Meter) -> f64 {
    let mut graph = Arena::default();
    let inputs: Vec<u32> = numbers().map(|value| graph.input(value)).collect();
    let mut cells = Vec::with_capacity(CELLS);
    for i in 0..CELLS {
        let operands = operands(&inputs, &cells, i);
        cells.push(graph.cell(|a| a[0] + a[1], &operands));
    }
    meter.done();
    cells.iter().map(|cell| graph.value(*cell)).sum()
}

fn with_incremental(meter: &Meter) -> f64 {
    let state = IncrState::new();
    let inputs: Vec<_> = numbers().map(|value| state.var(value)).collect();
    let watched: Vec<Incr<f64>> = inputs.iter().map(|input| input.watch()).collect();
    let mut cells: Vec<Incr<f64>> = Vec::with_capacity(CELLS);
    for i in 0..CELLS {
        let borrowed: [&Incr<f64>; 2] = [
            i.checked_sub(LAYER)
                .map_or(&watched[i % INPUTS], |below| &cells[below]),
            &watched[(i * 7) % INPUTS],
        ];
        let cell = borrowed[0].map2(borrowed[1], |a, b| a + b);
        cells.push(cell);
    }
    // The last layer reaches every cell; only what is observed is computed.
    let observed: Vec<_> = cells[CELLS - LAYER..].iter().map(Incr::observe).collect();
    state.stabilise();
    meter.done();
    drop(observed);
    let all: Vec<_> = cells.iter().map(Incr::observe).collect();
    state.stabilise();
    all.iter().map(|cell| cell.value()).sum()
}
