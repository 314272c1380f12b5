//! Uncertainty of one exam, of columns and by simulation, each beside what a programmer writes by
//! hand: `cargo bench --no-default-features --bench uncertainty`. One thread, but where it says two.
//!
//! `uncertainty 5` runs 5 rounds, `uncertainty 5 columns` only that part; `uncertainty 500 16384
//! columns` over so many rows, which stay in the caches.

#![allow(missing_docs, reason = "a program, not a library")]
#![allow(clippy::print_stdout, reason = "its figures are its output")]
#![allow(clippy::unwrap_used, reason = "nothing here is a user's input")]

mod contest;
mod dual;
#[expect(dead_code, reason = "its readings state no uncertainty")]
mod exam_lines;
mod fused_columns;
mod fused_draws;
mod spread;
mod widest;

use std::time::Instant;

use contest::{Case, Runner, race};
use exam_lines::TEN_FORMULAS;
use fused_columns::Rows;
use semilunar::formula::{CellId, Lane, Lanes};
use semilunar::sheet::{Column, Computed, Sheet};
use semilunar::uncertainty::{
    Columns, Exam, Propagation, Settings, Simulation, Stated, propagate, simulate,
};
use spread::Spread;

/// Rows in a block.
const WIDTH: usize = 64;

/// One exam; each reading with its standard uncertainty.
const READINGS: &str = "
    lvot_diameter = 2.0 cm (u = 0.1 cm)
    lvot_vti = 20 cm (u = 1 cm)
    heart_rate = 70 /min (u = 2 /min)
    height = 170 cm (u = 1 cm)
    weight = 70 kg (u = 1 kg)
    systolic_pressure = 120 mm[Hg] (u = 4 mm[Hg])
    diastolic_pressure = 80 mm[Hg] (u = 3 mm[Hg])
    central_venous_pressure = 5 mm[Hg] (u = 2 mm[Hg])
";

const TEN: [&str; 10] = [
    "lvot_area",
    "stroke_volume",
    "body_surface_area",
    "stroke_volume_index",
    "cardiac_output",
    "cardiac_index",
    "mean_pressure",
    "systemic_vascular_resistance",
    "systemic_vascular_resistance_index",
    "cardiac_power_output",
];

const THREE: [&str; 3] = [
    "stroke_volume",
    "cardiac_output",
    "systemic_vascular_resistance",
];

const PARTS: [&str; 4] = ["exam", "columns", "catalogue", "draws"];

/// What the three of them need.
const THREE_FORMULAS: &str = "
    lvot_area [cm2] = pi/4 * lvot_diameter^2
    stroke_volume [mL] = lvot_area * lvot_vti
    cardiac_output [L/min] = stroke_volume * heart_rate
    systemic_vascular_resistance [dyn.s/cm5] = (mean_pressure - central_venous_pressure) / cardiac_output
    mean_pressure = 90 mm[Hg]
";

fn main() {
    // Cargo adds `--bench`.
    let rounds = std::env::args()
        .skip(1)
        .find_map(|argument| argument.parse().ok())
        .unwrap_or(9);
    let mut numbers = std::env::args().filter_map(|argument| argument.parse().ok());
    let rows = numbers.nth(1).unwrap_or(1_000_000);
    println!("instructions: {}", widest::instructions());
    if part("exam") {
        race(one_exam(), rounds);
    }
    for stated in [Rows::Constant, Rows::Columns]
        .into_iter()
        .filter(|_| part("columns"))
    {
        columns(rows, stated, rounds);
    }
    if part("draws") {
        draws(rounds);
    }
}

/// Diameters that follow each other.
fn diameters() -> impl FnMut() -> f64 {
    let mut at = 0u32;
    move || {
        at = (at + 1) % 8;
        1.8 + 0.05 * f64::from(at)
    }
}

/// Draws of the cardiac output of the exam, with all figures of a simulation.
fn draws(rounds: usize) {
    let sheet = sheet_of(THREE_FORMULAS);
    let output = sheet.cell("cardiac_output").unwrap();
    let settings = Settings::of(&sheet);
    let by_threads = |threads: usize| {
        // Two digits of this cell are stable after some ten batches; the peers draw as many.
        let how = Simulation {
            threads,
            ..Simulation::default()
        };
        simulate(&sheet, output, &settings, how).unwrap()
    };
    let found = by_threads(1);
    assert_eq!(found, by_threads(2));
    let mut times = [(); 4].map(|()| Vec::new());
    for _ in 0..rounds {
        let mut time = |at: usize, f: &mut dyn FnMut() -> [f64; 2]| {
            let start = Instant::now();
            let [mean, standard] = f();
            times[at].push(start.elapsed().as_secs_f64() / found.draws as f64 * 1e9);
            assert!((mean / found.mean - 1.0).abs() < 1e-12);
            assert!((standard / found.standard - 1.0).abs() < 1e-10);
        };
        let of = |s: semilunar::uncertainty::Simulated| [s.mean, s.standard];
        time(0, &mut || of(by_threads(1)));
        time(1, &mut || of(by_threads(2)));
        time(2, &mut || fused_draws::moments(found.draws));
        time(3, &mut || fused_draws::moments_and_intervals(found.draws));
    }
    println!("{} draws of the cardiac output", found.draws);
    let names = [
        "simulated, one thread",
        "simulated, two threads",
        "by hand, mean and deviation",
        "by hand, intervals by sorting",
    ];
    let spreads: Vec<Spread> = times.into_iter().map(Spread::of).collect();
    for (name, spread) in names.iter().zip(&spreads) {
        println!(
            "  {name:<30} {:>7.2} ns a draw [{:.2} .. {:.2}]   the first takes {:.2} of it",
            spread.median,
            spread.least,
            spread.greatest,
            spreads[0].median / spread.median,
        );
    }
}

/// Whether this part is asked for.
fn part(name: &str) -> bool {
    let mut words = std::env::args().skip(1);
    let is_part = |word: &String| PARTS.contains(&word.as_str());
    words.find(is_part).is_none_or(|word| word == name)
}

fn sheet_of(formulas: &str) -> Sheet {
    Sheet::read(&format!("{formulas}\n{READINGS}"))
        .unwrap()
        .sheet
}

fn cells(sheet: &Sheet, names: &[&str]) -> Vec<CellId> {
    names.iter().map(|name| sheet.cell(name).unwrap()).collect()
}

/// A diameter is set, then the standard uncertainties of ten derived values are read.
fn one_exam() -> Case {
    Case {
        name: "one exam: a diameter is set, ten derived values and their uncertainties are read",
        tolerance: 1e-12,
        runners: vec![
            Runner::new("sheet and its exam", exam(TEN_FORMULAS)),
            Runner::new("by hand, slopes carried along", by_hand()),
            Runner::new("the sheet, ten times `propagate`", anew(TEN_FORMULAS)),
        ],
    }
}

fn exam(formulas: &str) -> impl FnMut(usize) -> f64 + use<> {
    let mut sheet = sheet_of(formulas);
    let wanted = cells(&sheet, &TEN);
    let mut exam = Exam::new(&sheet, &wanted, Settings::of(&sheet)).unwrap();
    let diameter = sheet.cell("lvot_diameter").unwrap();
    let reading = sheet.reading(diameter).unwrap().clone();
    let (unit, spread) = (reading.unit().unwrap(), reading.spread().unwrap());
    let mut next = diameters();
    move |edits| {
        let mut sum = 0.0;
        for _ in 0..edits {
            let reading = semilunar::quantity::Reading::of(next(), unit)
                .and_then(|r| r.with_spread(spread))
                .unwrap();
            sheet.set(diameter, reading).unwrap();
            exam.update(&sheet).unwrap();
            for (at, cell) in wanted.iter().enumerate() {
                sum += sheet.value(*cell).unwrap() + exam.standard(at).unwrap();
            }
        }
        sum
    }
}

fn anew(formulas: &str) -> impl FnMut(usize) -> f64 + use<> {
    let mut sheet = sheet_of(formulas);
    let wanted = cells(&sheet, &TEN);
    let settings = Settings::of(&sheet);
    let diameter = sheet.cell("lvot_diameter").unwrap();
    let reading = sheet.reading(diameter).unwrap().clone();
    let (unit, spread) = (reading.unit().unwrap(), reading.spread().unwrap());
    let mut next = diameters();
    move |edits| {
        let mut sum = 0.0;
        for _ in 0..edits {
            let reading = semilunar::quantity::Reading::of(next(), unit)
                .and_then(|r| r.with_spread(spread))
                .unwrap();
            sheet.set(diameter, reading).unwrap();
            for cell in &wanted {
                let found = propagate(&sheet, *cell, &settings).unwrap();
                sum += found.value + found.standard;
            }
        }
        sum
    }
}

fn by_hand() -> impl FnMut(usize) -> f64 {
    let mut next = diameters();
    move |edits| (0..edits).map(|_| dual::exam(next())).sum()
}

/// A way to compute the uncertainties of three columns.
type Way = (&'static str, Box<dyn Fn(&[Vec<f64>], &mut [Computed])>);

fn columns(rows: usize, stated: Rows, rounds: usize) {
    let inputs = fused_columns::invented_rows(rows);
    let mut outputs = vec![Computed::default(); THREE.len()];
    for output in &mut outputs {
        output.numbers.make_room(rows);
    }
    let mut ways: Vec<Way> = vec![
        (
            "whole columns, own formulas",
            Box::new(whole(THREE_FORMULAS, stated)),
        ),
        (
            "by hand, one loop",
            Box::new(move |i, o| fused_columns::run(stated, i, o)),
        ),
        (
            "block by block",
            Box::new(in_blocks(THREE_FORMULAS, stated)),
        ),
    ];
    if part("catalogue") {
        ways.push((
            "whole, the catalogue's",
            Box::new(whole("use hemodynamics", stated)),
        ));
        ways.push((
            "block by block",
            Box::new(in_blocks("use hemodynamics", stated)),
        ));
    }
    let mut times = vec![Vec::new(); ways.len()];
    let mut sums: Vec<f64> = vec![0.0; ways.len()];
    for _ in 0..rounds {
        for (i, (_, compute)) in ways.iter().enumerate() {
            let start = Instant::now();
            compute(&inputs, &mut outputs);
            times[i].push(start.elapsed().as_secs_f64() / rows as f64 * 1e9);
            sums[i] = outputs.iter().flat_map(|o| &o.numbers).sum();
        }
    }
    // The others are the catalogue's, whose formulas also ask about findings and bounds, and so
    // leave some of these rows out.
    let compared = &sums[..3];
    assert!(
        compared
            .iter()
            .all(|sum| (sum / compared[0] - 1.0).abs() < 1e-12),
        "sums: {compared:?}"
    );
    println!(
        "uncertainties of stroke volume, output and resistance over {rows} rows, those of the \
         readings {}",
        match stated {
            Rows::Constant => "the same in each row",
            Rows::Columns => "columns as well",
        }
    );
    let spreads: Vec<Spread> = times.into_iter().map(Spread::of).collect();
    for ((name, _), spread) in ways.iter().zip(&spreads) {
        println!(
            "  {name:<28} {:>7.2} ns a row [{:.2} .. {:.2}]   the first takes {:.2} of it",
            spread.median,
            spread.least,
            spread.greatest,
            spreads[0].median / spread.median,
        );
    }
}

/// What rows state of the readings that they supply.
fn bound(cells: &[CellId], stated: Rows) -> Vec<(CellId, Stated)> {
    let pairs = cells.iter().zip(fused_columns::STATED);
    let bound = pairs.map(|(cell, u)| match stated {
        Rows::Constant => (*cell, Stated::Constant(u)),
        Rows::Columns => (*cell, Stated::Column),
    });
    bound.collect()
}

/// The uncertainties by the sheet, from columns where they stand.
fn whole(formulas: &str, stated: Rows) -> impl Fn(&[Vec<f64>], &mut [Computed]) + use<> {
    let sheet = sheet_of(formulas);
    let bound = bound(&cells(&sheet, &fused_columns::INPUTS), stated);
    let wanted = cells(&sheet, &THREE);
    let made = Propagation::new(&sheet, &wanted, &bound, &Settings::default()).unwrap();
    move |inputs, outputs| {
        let columns: Vec<Column<'_>> = inputs.iter().map(|c| Column::of(c)).collect();
        let (readings, standards) = columns.split_at(bound.len());
        let standards = match stated {
            Rows::Constant => &[],
            Rows::Columns => standards,
        };
        made.run(readings, standards, outputs, std::num::NonZeroUsize::MIN);
    }
}

/// The uncertainties by the sheet, filled from columns and emptied into columns block by block.
fn in_blocks(formulas: &str, stated: Rows) -> impl Fn(&[Vec<f64>], &mut [Computed]) + use<> {
    let sheet = sheet_of(formulas);
    let bound_cells = cells(&sheet, &fused_columns::INPUTS);
    let bound = bound(&bound_cells, stated);
    let wanted = cells(&sheet, &THREE);
    let columns = Columns::new(&sheet, &wanted, &bound, &Settings::default()).unwrap();
    let column_of = |cell: &CellId| bound_cells.iter().position(|c| c == cell).unwrap();
    // A question beside the value, such as whether there is a reading, is answered with yes.
    let values: Vec<usize> = columns
        .inputs()
        .iter()
        .map(|i| column_of(&i.cell))
        .collect();
    let is_value: Vec<bool> = columns
        .inputs()
        .iter()
        .map(|input| input.facet == semilunar::formula::Facet::Value)
        .collect();
    let uncertain: Vec<usize> = columns.uncertainty_inputs().iter().map(column_of).collect();
    move |inputs, outputs| {
        let mut room = columns.room::<WIDTH>();
        for at in 0..values.len() {
            *columns.row(&mut room, at) = Lanes::all(Lane::measured(1.0));
        }
        for at in 0..uncertain.len() {
            *columns.uncertainty(&mut room, at) = Lanes::all(Lane::measured(1.0));
        }
        for start in (0..inputs[0].len()).step_by(WIDTH) {
            let end = (start + WIDTH).min(inputs[0].len());
            let fill = |lanes: &mut Lanes<WIDTH>, column: &[f64]| {
                lanes.values[..end - start].copy_from_slice(&column[start..end]);
            };
            for (at, column) in values.iter().enumerate().filter(|(at, _)| is_value[*at]) {
                fill(columns.row(&mut room, at), &inputs[*column]);
            }
            for (at, column) in uncertain.iter().enumerate() {
                let column = &inputs[fused_columns::INPUTS.len() + column];
                fill(columns.uncertainty(&mut room, at), column);
            }
            columns.run(&mut room);
            for (at, output) in outputs.iter_mut().enumerate() {
                let standard = columns.standard(&room, at);
                output.numbers[start..end].copy_from_slice(&standard.values[..end - start]);
            }
        }
    }
}
