//! In memory: eight columns with gaps to ten, on as many threads as Polars takes.

use std::num::NonZeroUsize;
use std::time::Instant;

use polars::prelude::{
    Column as PolarsColumn, DataFrame, Engine, Float64Chunked, IntoColumn, IntoLazy,
    NewChunkedArray, col,
};
use semilunar::sheet::{Buffer, Calculation, Column, Computed, Sheet};

use crate::columns::{Rows, invented};
use crate::exam_columns::{INPUTS, OUTPUTS};
use crate::exam_lines::{READINGS, TEN_FORMULAS};
use crate::fused::{self, Powers};
use crate::peer;
use crate::spread::Spread;

pub fn race(rounds: usize, rows: usize) {
    let given = invented(rows);
    let threads = std::thread::available_parallelism().unwrap_or(NonZeroUsize::MIN);
    println!("in memory, {rows} rows, {threads} threads; nulls in all columns");
    let ours = Ours::new();
    let readings: Vec<Buffer<f64>> = given.numbers.iter().map(|n| buffer(n)).collect();
    let frame = frame(&given);
    let mut buffers = vec![Computed::default(); OUTPUTS.len()];
    let mut by_hand = vec![vec![0.0; rows]; OUTPUTS.len()];
    let (mut of_ours, mut of_one, mut of_polars, mut of_hand) = (vec![], vec![], vec![], vec![]);
    for _ in 0..rounds {
        of_ours.push(timed(|| {
            ours.run(&readings, &given.known, &mut buffers, threads)
        }));
        let (streaming, in_memory) = (
            timed(|| drop(polars(&frame, Engine::Streaming))),
            timed(|| drop(polars(&frame, Engine::InMemory))),
        );
        of_polars.push((streaming, in_memory));
        of_hand.push(timed(|| {
            let mut columns = by_hand.iter_mut();
            let outputs = std::array::from_fn(|_| &mut columns.next().unwrap()[..]);
            fused::run(Powers::Two, &given.numbers, outputs)
        }));
        of_one.push(timed(|| {
            ours.run(&readings, &given.known, &mut buffers, NonZeroUsize::MIN)
        }));
    }
    agree(&buffers, &polars(&frame, Engine::Streaming));
    let per_row = |times: Vec<f64>| Spread::of(times).median / rows as f64 * 1e9;
    let streaming = per_row(of_polars.iter().map(|t| t.0).collect());
    let in_memory = per_row(of_polars.iter().map(|t| t.1).collect());
    let (ours, one, hand) = (per_row(of_ours), per_row(of_one), per_row(of_hand));
    println!("  ours                                {ours:6.1} ns a row");
    println!("  ours, one thread                    {one:6.1}");
    println!("  Polars, streaming                   {streaming:6.1}");
    println!("  Polars, in memory                   {in_memory:6.1}");
    println!("  by hand, no nulls, one thread       {hand:6.1}");
    let best = streaming.min(in_memory);
    println!("  best Polars / ours                  {:6.2}", best / ours);
}

pub fn timed(work: impl FnOnce()) -> f64 {
    let start = Instant::now();
    work();
    start.elapsed().as_secs_f64()
}

struct Ours {
    calculation: Calculation,
}

impl Ours {
    fn new() -> Ours {
        let sheet = Sheet::read(&format!("{READINGS}{TEN_FORMULAS}"))
            .unwrap()
            .sheet;
        let cells = |names: &[&str]| -> Vec<_> {
            names.iter().map(|name| sheet.cell(name).unwrap()).collect()
        };
        let calculation = Calculation::new(&sheet, &cells(&INPUTS), &cells(&OUTPUTS)).unwrap();
        Ours { calculation }
    }

    fn run(
        &self,
        readings: &[Buffer<f64>],
        known: &[Vec<u8>],
        results: &mut [Computed],
        threads: NonZeroUsize,
    ) {
        let columns: Vec<Column<'_>> = readings
            .iter()
            .zip(known)
            .map(|(numbers, known)| Column {
                numbers,
                known: Some(known),
            })
            .collect();
        self.calculation.run(&columns, results, threads);
    }
}

/// Numbers in the library's own memory, as Polars has them in its own.
fn buffer(numbers: &[f64]) -> Buffer<f64> {
    let mut buffer = Buffer::default();
    buffer.make_room(numbers.len());
    buffer.copy_from_slice(numbers);
    buffer
}

/// The same rows for Polars.
pub fn frame(rows: &Rows) -> DataFrame {
    let columns: Vec<PolarsColumn> = INPUTS
        .iter()
        .enumerate()
        .map(|(at, name)| {
            let numbers = rows.numbers[at].iter().enumerate();
            let known = numbers.map(|(row, n)| rows.is_known(at, row).then_some(*n));
            Float64Chunked::from_iter_options((*name).into(), known).into_column()
        })
        .collect();
    DataFrame::new_infer_height(columns).unwrap()
}

fn polars(frame: &DataFrame, engine: Engine) -> DataFrame {
    let outputs = OUTPUTS.map(col);
    let query = peer::with_outputs(frame.clone().lazy()).select(outputs);
    query.collect_with_engine(engine).unwrap().unwrap_single()
}

/// Both computed the same, to what two roundings of a power may differ by.
fn agree(ours: &[Computed], theirs: &DataFrame) {
    for (computed, name) in ours.iter().zip(OUTPUTS) {
        let column = theirs.column(name).unwrap().f64().unwrap();
        for (row, theirs) in column.iter().enumerate() {
            let ours = computed.value(row);
            assert_eq!(ours.is_some(), theirs.is_some(), "{name}, row {row}");
            if let (Some(a), Some(b)) = (ours, theirs) {
                assert!(
                    (a - b).abs() <= 1e-12 * b.abs(),
                    "{name}, row {row}: {a} {b}"
                );
            }
        }
    }
}
