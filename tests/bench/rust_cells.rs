//! How long Rust cells take: the first one ever, which waits for the library to be built for them,
//! the first after a restart, and later ones.
//! `cargo bench --profile release --features rust-cells --bench rust_cells`; `rust_cells 20` runs
//! twenty later cells. The folder that is kept is a new one, so that the build is measured too.

#![allow(missing_docs, reason = "a program, not a library")]
#![allow(clippy::print_stdout, reason = "its figures are its output")]
#![allow(clippy::unwrap_used, reason = "nothing here is a user's input")]

use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

use semilunar::kernel::rust::{RustProcess, hook};
use semilunar::notebook::{RustCells, RustTask};

const EXAM: &str = "use hemodynamics\nlvot_diameter = 2 cm\nlvot_vti = 20 cm";

/// What people write in cells; each is another text each time, so that nothing is compiled before.
const CELLS: [(&str, &str); 4] = [
    ("a number", "40 + N"),
    (
        "a value read and set",
        "set(\"half\", quantity::<Length>(\"lvot_vti\")? / (2.0 + N as f64), \"cm\")?;",
    ),
    (
        "a formula added",
        "let diameter = cell::<Length>(\"lvot_diameter\")?;\n\
         let distance = cell::<Length>(\"lvot_vti\")?;\n\
         add_formula(\"volume\", (1.0 + N as f64) * diameter * diameter * distance, \"mL\")?;",
    ),
    (
        "a chart",
        "use semilunar::charts::{Axis, Scatter, Series, Size};\n\
         let chart = Scatter {\n\
             title: \"N\".into(), x: Axis::new(\"x\", \"cm\"), y: Axis::new(\"y\", \"mL\"),\n\
             groups: vec![Series::new(\"exams\", [(1.0, 2.0), (2.0, 3.0)])], ..Scatter::default()\n\
         };\n\
         show(Svg { svg: chart.svg(Size::new(640, 400)?)?, description: chart.description() });",
    ),
];

fn process(folder: &Path) -> RustProcess {
    let program = std::env::current_exe().unwrap();
    RustProcess::with(program, Some(PathBuf::from(folder)), |words| {
        println!("    {words}");
    })
}

/// Runs a cell and gives its time.
fn time(process: &mut RustProcess, code: &str) -> Duration {
    let start = Instant::now();
    let outcome = process.run(&RustTask {
        code,
        sheet: EXAM,
        absent: &[],
        base: &std::env::temp_dir(),
    });
    let time = start.elapsed();
    assert!(
        outcome.problems.is_empty(),
        "{code}: {:?}",
        outcome.problems
    );
    time
}

fn main() {
    // The processes of Rust cells are this program, started again.
    hook();
    // Cargo adds `--bench`.
    let count = std::env::args().find_map(|a| a.parse::<usize>().ok());
    let kept = tempfile::tempdir().unwrap();
    let first = time(&mut process(kept.path()), "1 + 1");
    println!("the first Rust cell ever: {first:.1?} (at most 2 minutes are aimed at)");
    let mut process = process(kept.path());
    let again = time(&mut process, "1 + 2");
    println!("the first after a restart: {again:.1?} (at most 30 s)");
    for (what, code) in CELLS {
        let texts = (0..count.unwrap_or(5)).map(|n| code.replace('N', &n.to_string()));
        let mut times: Vec<Duration> = texts.map(|code| time(&mut process, &code)).collect();
        times.sort();
        println!(
            "later, {what}: median {:.2?}, longest {:.2?}, {} times (under 3 s)",
            times[times.len() / 2],
            times[times.len() - 1],
            times.len()
        );
    }
}
