//! What checking the rows of a clean table adds, beside a bare Polars scan that materializes the same columns.

use std::fs::File;
use std::io::{BufWriter, Write};
use std::path::Path;

use polars::prelude::{Engine, LazyCsvReader, LazyFileListReader, PlRefPath};
use semilunar::cohort::{BindingFile, Options, apply_to_file_with};
use semilunar::sheet::Sheet;

use crate::columns::invented;
use crate::exam_columns::INPUTS;
use crate::exam_lines::{READINGS, TEN_FORMULAS};
use crate::memory::timed;
use crate::spread::Spread;

/// A patient, when an exam began and ended, and lengths that may be wrong by a factor of ten.
const CHECKS: &str = "
[checks]
patient = \"patient\"
times = [\"began\", \"ended\"]
factor_ten = \"set_aside\"
same_time = \"set_aside\"
";

/// Exams of one patient; they follow each other in the table.
const EXAMS: usize = 4;

pub fn race(rounds: usize, rows: usize) {
    let folder = tempfile::tempdir().unwrap();
    let (table, out) = (
        folder.path().join("t.csv"),
        folder.path().join("out.parquet"),
    );
    write_clean(&table, rows);
    println!("checks of a clean CSV, {rows} rows");
    let (mut without, mut with, mut scans) = (Vec::new(), Vec::new(), Vec::new());
    for _ in 0..rounds {
        without.push(timed(|| apply("", &table, &out, rows)));
        with.push(timed(|| apply(CHECKS, &table, &out, rows)));
        scans.push(timed(|| scan(&table, rows)));
    }
    let added = with
        .iter()
        .zip(&without)
        .map(|(with, without)| with - without);
    let added = Spread::of(added.collect());
    let (without, with, scan) = (Spread::of(without), Spread::of(with), Spread::of(scans));
    for (what, spread) in [
        ("file to Parquet without checks", &without),
        ("file to Parquet with checks", &with),
        ("the checks add", &added),
        ("bare Polars scan, streaming", &scan),
    ] {
        println!(
            "  {what:32} {:6.3} s ({:.3} to {:.3})",
            spread.median, spread.least, spread.greatest
        );
    }
    println!(
        "  the checks add {:.2} of a scan",
        added.median / scan.median
    );
}

fn apply(checks: &str, table: &Path, out: &Path, rows: usize) {
    let sheet = Sheet::read(&format!("{READINGS}{TEN_FORMULAS}"))
        .unwrap()
        .sheet;
    let options = Options {
        binding: Some(BindingFile::parse("checks.toml".as_ref(), checks).unwrap()),
        ..Options::default()
    };
    let summary = apply_to_file_with(&sheet, table, out, &options, &mut |_| {}).unwrap();
    assert_eq!(summary.counts.used, rows);
    assert_eq!(summary.checks, []);
}

fn scan(table: &Path, rows: usize) {
    let path = PlRefPath::new(table.to_str().unwrap());
    let frame = LazyCsvReader::new(path).finish().unwrap();
    let frame = frame.collect_with_engine(Engine::Streaming).unwrap();
    assert_eq!(frame.unwrap_single().height(), rows);
}

/// Rows in which nothing is found: no exam says the same number as the one before it.
fn write_clean(path: &Path, rows: usize) {
    let mut given = invented(rows);
    // Steps of diameter, velocity-time integral and heart rate as a ward writes them: exam `k` of a patient has a multiple of four and `k` more.
    for (column, steps) in given.numbers.iter_mut().zip([100.0, 10.0, 1.0]) {
        for (row, number) in column.iter_mut().enumerate() {
            let quarter = (*number * steps / EXAMS as f64).round();
            *number = (quarter * EXAMS as f64 + (row % EXAMS) as f64) / steps;
        }
    }
    let mut file = BufWriter::new(File::create(path).unwrap());
    writeln!(file, "patient,began,ended,{}", INPUTS.join(",")).unwrap();
    for row in 0..rows {
        let (day, minute) = (1 + row / 60 % 28, row % 30);
        write!(
            file,
            "p{:07},2031-{:02}-{day:02} {:02}:{minute:02},2031-{:02}-{day:02} {:02}:{:02}",
            row / EXAMS,
            1 + row / 1680 % 12,
            8 + row % EXAMS,
            1 + row / 1680 % 12,
            8 + row % EXAMS,
            minute + 20
        )
        .unwrap();
        for column in &given.numbers {
            write!(file, ",{}", column[row]).unwrap();
        }
        writeln!(file).unwrap();
    }
}
